//! What is kept on this device, in IndexedDB; no other file names it.
//!
//! In: the bytes of a lines file and what belongs beside them. Out: what was found at the start, and whether a write was
//! done or why not. One record holds the work; a small one beside it says which write that was, so that a write never
//! takes the place of one it does not know. Each step that can be undone or done again is a record of its own, written once;
//! the work says which belong to it. What can't be read is put aside under a key of its own, and so is the work that was
//! open before, the last three of it.

use std::cell::{Cell, RefCell};
use std::rc::Rc;
use std::sync::Arc;

use geometry::document::history::{UndoStep, write_step};
use js_sys::{Array, Object, Promise, Reflect, Uint8Array};
use leptos::prelude::window;
use wasm_bindgen::prelude::Closure;
use wasm_bindgen::{JsCast, JsValue};
use wasm_bindgen_futures::JsFuture;
use web_sys::{IdbDatabase, IdbObjectStore, IdbRequest, IdbTransaction, IdbTransactionMode};

use crate::exchange::within;

/// The only store.
const STORE: &str = "kept";
/// The key of the work.
const WORK: &str = "work";
/// The key of which write it was.
const WHICH_WRITE: &str = "mark";
/// How the keys of what was put aside begin; the time follows.
const ASIDE: &str = "aside ";

/// How the keys of earlier work begin; the time follows.
const FORMER: &str = "former ";

/// How the keys of steps begin.
const STEP: &str = "step ";

/// So much earlier work is kept.
const MOST_FORMER: usize = 3;

/// How long the storage may take to answer, ms.
const PATIENCE: i32 = 12_000;

/// The work as it is kept.
#[derive(Clone, Debug, PartialEq)]
pub struct KeptWork {
    /// The lines file.
    pub bytes: Vec<u8>,
    /// When it was kept, ms of the calendar.
    pub when: f64,
    /// Whether it is the example still, with changes or without.
    pub example: bool,
    /// Edits since a file was saved or opened.
    pub edits: u32,
    /// Whether the browser was asked to keep it for good.
    pub asked: bool,
    /// Which steps belong to it.
    pub steps: WithSteps,
}

/// What is said of steps beside the work.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum WithSteps {
    /// Nothing: it was kept without any.
    Nothing,
    /// These belong to it.
    These(KeptSteps),
    /// Something that can't be read.
    Strange,
}

/// Which steps belong to the work, by their keys, the nearest first.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct KeptSteps {
    /// Those that can be undone.
    pub back: Vec<String>,
    /// Those that can be done again.
    pub on: Vec<String>,
    /// Which of them a file holds: so many steps after the first, and so many edits away from it.
    pub on_file: (u32, u32),
}

impl KeptSteps {
    fn keys(&self) -> impl Iterator<Item = &String> {
        self.back.iter().chain(&self.on)
    }
}

/// A step under the key that it has on this device.
#[derive(Debug)]
pub struct StepRecord {
    /// Its key; under one key stands one step, for ever.
    pub key: String,
    /// The step.
    pub step: Arc<UndoStep>,
    /// How many bytes it has.
    pub size: usize,
    /// Its bytes, until they are handed to the browser.
    bytes: RefCell<Option<Vec<u8>>>,
}

impl StepRecord {
    /// A step that is not on this device yet, under a key that no other step had: not in this session, which began at this
    /// time, nor in another.
    pub fn new(begun: f64, number: u32, step: &Arc<UndoStep>) -> Self {
        let bytes = write_step(step);
        Self {
            key: format!("{STEP}{begun} {number}"),
            step: Arc::clone(step),
            size: bytes.len(),
            bytes: RefCell::new(Some(bytes)),
        }
    }

    /// A step that was found under this key.
    pub fn found(key: String, step: &Arc<UndoStep>, size: usize) -> Self {
        Self {
            key,
            step: Arc::clone(step),
            size,
            bytes: RefCell::new(None),
        }
    }

    /// Its bytes, written once more where the browser has put away what it was given.
    fn bytes(&self) -> Vec<u8> {
        let bytes = self.bytes.take();
        bytes.unwrap_or_else(|| write_step(&self.step))
    }
}

/// Which write a record is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct WriteId {
    count: f64,
    when: f64,
}

/// What a write expects to find, and may take the place of.
#[derive(Clone, Debug, PartialEq)]
pub enum Expected {
    /// Nothing.
    Nothing,
    /// This write.
    Write(WriteId),
    /// Work that can't be read: these bytes, put aside under this key.
    Unread(Rc<Aside>),
}

/// What was found where the work is kept.
#[derive(Clone, Debug, PartialEq)]
pub enum Found {
    /// Nothing.
    Nothing,
    /// The work.
    Work(KeptWork, WriteId),
    /// Something else; its bytes, where it has some.
    Strange(Vec<u8>),
}

/// Work that could not be read, and was put aside.
#[derive(Clone, Debug, PartialEq)]
pub struct Aside {
    /// Its key.
    pub key: String,
    /// Its bytes.
    pub bytes: Vec<u8>,
}

impl Aside {
    /// What is to be put aside, found at this time.
    pub fn new(bytes: Vec<u8>, when: f64) -> Self {
        let key = format!("{ASIDE}{when}");
        Self { key, bytes }
    }
}

/// Work that was open before other work took its place.
#[derive(Clone, Debug, PartialEq)]
pub struct Former {
    /// The lines file.
    pub bytes: Vec<u8>,
    /// When its place was taken, ms of the calendar.
    pub when: f64,
}

/// Why a write or a reading was not done.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Refusal {
    /// There is no room.
    Full,
    /// Another tab has written since.
    Moved,
    /// The browser refuses, in its words.
    Refused(String),
}

impl From<JsValue> for Refusal {
    fn from(error: JsValue) -> Self {
        let error = error.dyn_ref::<js_sys::Error>();
        match error {
            Some(error) if error.name() == "QuotaExceededError" => Self::Full,
            Some(error) => Self::Refused(error.message().into()),
            None => Self::Refused("it does not say why".to_owned()),
        }
    }
}

/// The storage of one place of the app; opened when it is first used, and again when the browser has closed it.
#[derive(Debug)]
pub struct Storage {
    name: String,
    open: RefCell<Option<IdbDatabase>>,
    /// The last write that was begun: one whose answer came too late may stand there.
    begun: Cell<Option<WriteId>>,
}

impl Storage {
    /// The storage under this name.
    pub fn new(name: String) -> Self {
        Self {
            name,
            open: RefCell::new(None),
            begun: Cell::new(None),
        }
    }

    async fn open(&self) -> Result<IdbDatabase, JsValue> {
        if let Some(open) = self.open.borrow().as_ref() {
            return Ok(open.clone());
        }
        let Some(factory) = window().indexed_db()? else {
            return Err(js_sys::Error::new("this browser has none").into());
        };
        let request = factory.open_with_u32(&self.name, 1)?;
        let asked = request.clone();
        let make = Closure::once_into_js(move |_event: JsValue| {
            let database = asked.result().map(JsCast::unchecked_into::<IdbDatabase>);
            if database
                .and_then(|it| it.create_object_store(STORE))
                .is_err()
            {
                leptos::logging::warn!("there is nothing to keep work in");
            }
        });
        request.set_onupgradeneeded(Some(make.unchecked_ref()));
        let open: IdbDatabase = answer(&request).await?.unchecked_into();
        self.open.replace(Some(open.clone()));
        Ok(open)
    }

    /// Begins to read or to write, on a fresh connection where the browser has closed the last.
    async fn begin(&self, mode: IdbTransactionMode) -> Result<IdbTransaction, JsValue> {
        let begun = self
            .open()
            .await?
            .transaction_with_str_and_mode(STORE, mode);
        if begun.is_ok() {
            return begun;
        }
        self.open.replace(None);
        self.open()
            .await?
            .transaction_with_str_and_mode(STORE, mode)
    }

    /// Waits for an answer, but not for ever; the next try begins afresh.
    async fn answered<T>(
        &self,
        act: impl Future<Output = Result<T, Refusal>>,
    ) -> Result<T, Refusal> {
        match within(PATIENCE, act).await {
            Some(answer) => answer,
            None => {
                self.open.replace(None);
                Err(Refusal::Refused("it does not answer".to_owned()))
            }
        }
    }

    /// What is kept.
    pub async fn read(&self) -> Result<Found, Refusal> {
        let act = async {
            let transaction = self.begin(IdbTransactionMode::Readonly).await?;
            found_in(&transaction.object_store(STORE)?).await
        };
        self.answered(act).await
    }

    /// What is kept, and the bytes of the steps that belong to it, in the order of [`KeptSteps`]: back, then on; those that
    /// are missing have none.
    pub async fn read_with_steps(&self) -> Result<(Found, Vec<Vec<u8>>), Refusal> {
        let act = async {
            let transaction = self.begin(IdbTransactionMode::Readonly).await?;
            let store = transaction.object_store(STORE)?;
            let found = found_in(&store).await?;
            let mut steps = Vec::new();
            if let Found::Work(kept, _) = &found
                && let WithSteps::These(kept) = &kept.steps
            {
                let asked: Result<Vec<_>, JsValue> = kept
                    .keys()
                    .map(|key| Ok(promised(&store.get(&key.as_str().into())?)))
                    .collect();
                for request in asked? {
                    steps.push(bytes_of(&request.await?));
                }
            }
            Ok((found, steps))
        };
        self.answered(act).await
    }

    /// Keeps the work, and at once with it what it took the place of, where what is there is as expected.
    pub async fn write(
        &self,
        kept: &KeptWork,
        steps: &[Rc<StepRecord>],
        former: &[Former],
        expected: &Expected,
    ) -> Result<WriteId, Refusal> {
        self.answered(self.write_now(kept, steps, former, expected))
            .await
    }

    async fn write_now(
        &self,
        kept: &KeptWork,
        steps: &[Rc<StepRecord>],
        former: &[Former],
        expected: &Expected,
    ) -> Result<WriteId, Refusal> {
        let transaction = self.begin(IdbTransactionMode::Readwrite).await?;
        let store = transaction.object_store(STORE)?;
        let there = answer(&store.get(&WHICH_WRITE.into())?).await?;
        let standing = write_id_of(&there);
        let own = standing.is_some() && standing == self.begun.get();
        // It may be gone: the browser puts away what it likes.
        let free = there.is_undefined();
        let count = match expected {
            // A write of one's own that came late has put it aside already.
            Expected::Unread(_) if own => standing.map_or(1.0, |write| write.count + 1.0),
            Expected::Unread(aside) => {
                let unread = answer(&store.get(&WORK.into())?).await?;
                // It may be gone, as other work may; something else is not touched.
                if !unread.is_undefined() {
                    if bytes_of(&unread) != aside.bytes {
                        return Err(Refusal::Moved);
                    }
                    store.put_with_key(&unread, &aside.key.as_str().into())?;
                }
                1.0
            }
            Expected::Nothing if free || own => standing.map_or(1.0, |write| write.count + 1.0),
            Expected::Write(known) if free || own || standing == Some(*known) => {
                standing.unwrap_or(*known).count + 1.0
            }
            Expected::Nothing | Expected::Write(_) => return Err(Refusal::Moved),
        };
        let write = WriteId {
            count,
            when: kept.when,
        };
        let said = object(&[("count", write.count.into()), ("when", write.when.into())]);
        put_former(&store, former).await?;
        put_steps(&store, steps).await?;
        self.begun.set(Some(write));
        store.put_with_key(&record_of(kept), &WORK.into())?;
        store.put_with_key(&said, &WHICH_WRITE.into())?;
        done(&transaction).await?;
        Ok(write)
    }

    /// What was put aside.
    pub async fn aside(&self) -> Result<Vec<Aside>, Refusal> {
        self.answered(self.aside_now()).await
    }

    async fn aside_now(&self) -> Result<Vec<Aside>, Refusal> {
        let transaction = self.begin(IdbTransactionMode::Readonly).await?;
        let all = all_under(&transaction.object_store(STORE)?, ASIDE).await?;
        let aside = all.into_iter().map(|(key, record)| Aside {
            key,
            bytes: bytes_of(&record),
        });
        Ok(aside.collect())
    }

    /// What was open before, the newest first.
    pub async fn former(&self) -> Result<Vec<Former>, Refusal> {
        let act = async {
            let transaction = self.begin(IdbTransactionMode::Readonly).await?;
            let all = all_under(&transaction.object_store(STORE)?, FORMER).await?;
            let former = all.iter().rev().map(|(_, record)| Former {
                bytes: bytes_of(record),
                when: number(record, "when").unwrap_or_default(),
            });
            Ok(former.collect())
        };
        self.answered(act).await
    }

    /// Forgets what was put aside under a key.
    pub async fn forget(&self, key: &str) -> Result<(), Refusal> {
        let act = async {
            let transaction = self.begin(IdbTransactionMode::Readwrite).await?;
            transaction.object_store(STORE)?.delete(&key.into())?;
            Ok(done(&transaction).await?)
        };
        self.answered(act).await
    }

    /// Forgets what stands where the work is kept, where it is these bytes still.
    pub async fn forget_standing(&self, bytes: &[u8]) -> Result<(), Refusal> {
        self.answered(self.forget_standing_now(bytes)).await
    }

    async fn forget_standing_now(&self, bytes: &[u8]) -> Result<(), Refusal> {
        let transaction = self.begin(IdbTransactionMode::Readwrite).await?;
        let store = transaction.object_store(STORE)?;
        let standing = answer(&store.get(&WORK.into())?).await?;
        if bytes_of(&standing) != bytes {
            return Err(Refusal::Moved);
        }
        store.delete(&WORK.into())?;
        store.delete(&WHICH_WRITE.into())?;
        Ok(done(&transaction).await?)
    }
}

/// What stands where the work is kept.
async fn found_in(store: &IdbObjectStore) -> Result<Found, Refusal> {
    let write = answer(&store.get(&WHICH_WRITE.into())?).await?;
    let work = answer(&store.get(&WORK.into())?).await?;
    if work.is_undefined() {
        return Ok(Found::Nothing);
    }
    Ok(match (kept_of(&work), write_id_of(&write)) {
        (Some(kept), Some(write)) => Found::Work(kept, write),
        _ => Found::Strange(bytes_of(&work)),
    })
}

/// All records whose keys begin so, in the order of their keys.
async fn all_under(store: &IdbObjectStore, begin: &str) -> Result<Vec<(String, JsValue)>, JsValue> {
    let keys = answer(&store.get_all_keys()?).await?;
    let mut all = Vec::new();
    for key in keys.unchecked_into::<Array>().iter() {
        if let Some(name) = key.as_string().filter(|name| name.starts_with(begin)) {
            all.push((name, answer(&store.get(&key)?).await?));
        }
    }
    Ok(all)
}

/// Adds to the earlier work, each once, and forgets the oldest of too much.
async fn put_former(store: &IdbObjectStore, former: &[Former]) -> Result<(), JsValue> {
    if former.is_empty() {
        return Ok(());
    }
    let mut all = all_under(store, FORMER).await?;
    for one in former {
        let key = format!("{FORMER}{}", one.when);
        let record = object(&[
            ("bytes", Uint8Array::from(one.bytes.as_slice()).into()),
            ("when", one.when.into()),
        ]);
        let (same, mut rest): (Vec<_>, Vec<_>) = all
            .into_iter()
            .partition(|(_, other)| bytes_of(other) == one.bytes);
        for (old, _) in same {
            store.delete(&old.into())?;
        }
        store.put_with_key(&record, &JsValue::from(&key))?;
        rest.push((key, record));
        all = rest;
    }
    let over = all.len().saturating_sub(MOST_FORMER);
    for (old, _) in all.into_iter().take(over) {
        store.delete(&old.into())?;
    }
    Ok(())
}

/// Writes the steps that are not there yet, and forgets those that belong to the work no more.
async fn put_steps(store: &IdbObjectStore, steps: &[Rc<StepRecord>]) -> Result<(), JsValue> {
    let mut there = Vec::new();
    let keys = answer(&store.get_all_keys()?).await?;
    for key in keys.unchecked_into::<Array>().iter() {
        let Some(name) = key.as_string().filter(|name| name.starts_with(STEP)) else {
            continue;
        };
        if steps.iter().any(|record| record.key == name) {
            there.push(name);
        } else {
            store.delete(&key)?;
        }
    }
    for record in steps.iter().filter(|one| !there.contains(&one.key)) {
        let bytes = Uint8Array::from(record.bytes().as_slice());
        let value = object(&[("bytes", bytes.into())]);
        store.put_with_key(&value, &record.key.as_str().into())?;
    }
    Ok(())
}

/// What a request is answered with.
async fn answer(request: &IdbRequest) -> Result<JsValue, JsValue> {
    promised(request).await
}

/// The same, heard from now on: several may be asked before the first is waited for. The promise's own two ends hear the
/// events.
fn promised(request: &IdbRequest) -> impl Future<Output = Result<JsValue, JsValue>> + use<> {
    let heard = Promise::new(&mut |yes, no| {
        request.set_onsuccess(Some(&yes));
        request.set_onerror(Some(&no));
    });
    let request = request.clone();
    async move {
        match JsFuture::from(heard).await {
            Ok(_event) => request.result(),
            Err(_event) => Err(request.error()?.into()),
        }
    }
}

/// Waits until a transaction is done.
async fn done(transaction: &IdbTransaction) -> Result<(), JsValue> {
    let heard = Promise::new(&mut |yes, no| {
        transaction.set_oncomplete(Some(&yes));
        transaction.set_onabort(Some(&no));
    });
    match JsFuture::from(heard).await {
        Ok(_event) => Ok(()),
        Err(_event) => Err(transaction.error().into()),
    }
}

fn object(fields: &[(&str, JsValue)]) -> JsValue {
    let object = Object::new();
    for (name, value) in fields {
        let set = Reflect::set(&object, &JsValue::from(*name), value);
        debug_assert!(set.is_ok(), "a plain object takes any field");
    }
    object.into()
}

fn field(record: &JsValue, name: &str) -> Option<JsValue> {
    Reflect::get(record, &JsValue::from(name)).ok()
}

fn number(record: &JsValue, name: &str) -> Option<f64> {
    field(record, name)?.as_f64()
}

/// The bytes of a record; none where it has none.
fn bytes_of(record: &JsValue) -> Vec<u8> {
    let bytes = field(record, "bytes").and_then(|bytes| bytes.dyn_into::<Uint8Array>().ok());
    bytes.map_or_else(Vec::new, |bytes| bytes.to_vec())
}

fn write_id_of(record: &JsValue) -> Option<WriteId> {
    Some(WriteId {
        count: number(record, "count")?,
        when: number(record, "when")?,
    })
}

fn record_of(kept: &KeptWork) -> JsValue {
    let KeptWork {
        bytes,
        when,
        example,
        edits,
        asked,
        steps,
    } = kept;
    let steps = match steps {
        WithSteps::Nothing => JsValue::UNDEFINED,
        WithSteps::Strange => JsValue::NULL,
        WithSteps::These(KeptSteps { back, on, on_file }) => object(&[
            ("back", names(back)),
            ("on", names(on)),
            ("depth", on_file.0.into()),
            ("beyond", on_file.1.into()),
        ]),
    };
    object(&[
        ("bytes", Uint8Array::from(bytes.as_slice()).into()),
        ("when", (*when).into()),
        ("example", (*example).into()),
        ("edits", (*edits).into()),
        ("asked", (*asked).into()),
        ("steps", steps),
    ])
}

fn names(all: &[String]) -> JsValue {
    all.iter()
        .map(|name| JsValue::from(name.as_str()))
        .collect::<Array>()
        .into()
}

fn names_of(record: &JsValue, name: &str) -> Option<Vec<String>> {
    let all = field(record, name)?.dyn_into::<Array>().ok()?;
    all.iter().map(|name| name.as_string()).collect()
}

/// A whole number of edits.
fn count(record: &JsValue, name: &str) -> Option<u32> {
    let number = number(record, name).filter(|n| (0.0..=f64::from(u32::MAX)).contains(n))?;
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "it was just seen to fit"
    )]
    let number = number as u32;
    Some(number)
}

fn steps_of(record: &JsValue) -> WithSteps {
    let steps = field(record, "steps").unwrap_or_default();
    if steps.is_undefined() {
        return WithSteps::Nothing;
    }
    let read = || {
        Some(KeptSteps {
            back: names_of(&steps, "back")?,
            on: names_of(&steps, "on")?,
            on_file: (count(&steps, "depth")?, count(&steps, "beyond")?),
        })
    };
    read().map_or(WithSteps::Strange, WithSteps::These)
}

fn kept_of(record: &JsValue) -> Option<KeptWork> {
    Some(KeptWork {
        bytes: bytes_of(record),
        when: number(record, "when")?,
        example: field(record, "example")?.as_bool()?,
        edits: count(record, "edits")?,
        asked: field(record, "asked")?.as_bool()?,
        steps: steps_of(record),
    })
}
