//! What is kept on this device, in IndexedDB; no other file names it.
//!
//! In: the bytes of a lines file and what belongs beside them. Out: what was found at the start, and whether a write was
//! done or why not. One record holds the work; a small one beside it says which write that was, so that a write never
//! takes the place of one it does not know. What can't be read is put aside under a key of its own.

use std::cell::RefCell;
use std::rc::Rc;

use idb::{Database, DatabaseEvent, Factory, ObjectStoreParams, TransactionMode};
use js_sys::{Object, Reflect, Uint8Array};
use wasm_bindgen::{JsCast, JsValue};

/// The only store.
const STORE: &str = "kept";
/// The key of the work.
const WORK: &str = "work";
/// The key of which write it was.
const MARK: &str = "mark";
/// How the keys of what was put aside begin; the time follows.
const ASIDE: &str = "aside ";

/// The work as it is kept.
#[derive(Clone, Debug, PartialEq)]
pub struct Kept {
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
}

/// Which write a record is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Mark {
    count: f64,
    when: f64,
}

/// What a write expects to find, and may take the place of.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Expected {
    /// Nothing.
    Nothing,
    /// This write.
    Write(Mark),
    /// Work that can't be read: it is put aside.
    Unread,
}

/// What was found where the work is kept.
#[derive(Clone, Debug, PartialEq)]
pub enum Found {
    /// Nothing.
    Nothing,
    /// The work.
    Work(Kept, Mark),
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
    /// The key of what is put aside by the write of this time.
    pub fn key(when: f64) -> String {
        format!("{ASIDE}{when}")
    }
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

impl From<idb::Error> for Refusal {
    fn from(error: idb::Error) -> Self {
        // The browser's name for it stands in every one of the library's errors.
        let text = error.to_string();
        if text.contains("QuotaExceededError") {
            Self::Full
        } else {
            Self::Refused(text)
        }
    }
}

/// The storage of one place of the app; opened when it is first used, and again when the browser has closed it.
#[derive(Debug)]
pub struct Storage {
    name: String,
    open: RefCell<Option<Rc<Database>>>,
}

impl Storage {
    /// The storage under this name.
    pub fn new(name: String) -> Self {
        Self {
            name,
            open: RefCell::new(None),
        }
    }

    async fn database(&self) -> Result<Rc<Database>, idb::Error> {
        if let Some(open) = self.open.borrow().as_ref() {
            return Ok(Rc::clone(open));
        }
        let mut request = Factory::new()?.open(&self.name, Some(1))?;
        request.on_upgrade_needed(|event| {
            let made = event
                .database()
                .and_then(|database| database.create_object_store(STORE, ObjectStoreParams::new()));
            if let Err(error) = made {
                leptos::logging::warn!("nothing can be kept: {error}");
            }
        });
        let open = Rc::new(request.await?);
        *self.open.borrow_mut() = Some(Rc::clone(&open));
        Ok(open)
    }

    /// Tries something, and once more on a fresh connection: the browser may have closed this one.
    async fn twice<T>(
        &self,
        act: impl AsyncFn(&Database) -> Result<T, Refusal>,
    ) -> Result<T, Refusal> {
        let first = match self.database().await {
            Ok(database) => act(&database).await,
            Err(error) => Err(error.into()),
        };
        if !matches!(first, Err(Refusal::Refused(_))) {
            return first;
        }
        self.open.replace(None);
        act(&*self.database().await?).await
    }

    /// What is kept.
    pub async fn read(&self) -> Result<Found, Refusal> {
        self.twice(async |database| {
            let transaction = database.transaction(&[STORE], TransactionMode::ReadOnly)?;
            let store = transaction.object_store(STORE)?;
            let mark = store.get(JsValue::from(MARK))?.await?;
            let Some(work) = store.get(JsValue::from(WORK))?.await? else {
                return Ok(Found::Nothing);
            };
            let mark = mark.as_ref().and_then(mark_of);
            Ok(match (kept_of(&work), mark) {
                (Some(kept), Some(mark)) => Found::Work(kept, mark),
                _ => Found::Strange(bytes_of(&work).unwrap_or_default()),
            })
        })
        .await
    }

    /// Keeps the work, where what is there is as expected.
    pub async fn write(&self, kept: &Kept, expected: Expected) -> Result<Mark, Refusal> {
        let record = record_of(kept);
        self.twice(async |database| {
            let transaction = database.transaction(&[STORE], TransactionMode::ReadWrite)?;
            let store = transaction.object_store(STORE)?;
            let there = store.get(JsValue::from(MARK))?.await?;
            let count = match (&there, expected) {
                (_, Expected::Unread) => {
                    if let Some(unread) = store.get(JsValue::from(WORK))?.await? {
                        let key = JsValue::from(Aside::key(kept.when));
                        store.put(&unread, Some(&key))?.await?;
                    }
                    1.0
                }
                // It may be gone: the browser puts away what it likes.
                (None, Expected::Nothing) => 1.0,
                (None, Expected::Write(known)) => known.count + 1.0,
                (Some(there), Expected::Write(known)) if mark_of(there) == Some(known) => {
                    known.count + 1.0
                }
                (Some(_), _) => return Err(Refusal::Moved),
            };
            let mark = Mark {
                count,
                when: kept.when,
            };
            store.put(&record, Some(&JsValue::from(WORK)))?.await?;
            let said = object(&[("count", mark.count.into()), ("when", mark.when.into())]);
            store.put(&said, Some(&JsValue::from(MARK)))?.await?;
            let same = store.transaction();
            if transaction.await?.is_committed() {
                Ok(mark)
            } else {
                let error = same.error().map(idb::Error::DomException);
                Err(error.unwrap_or(idb::Error::DomExceptionNotFound).into())
            }
        })
        .await
    }

    /// What was put aside.
    pub async fn aside(&self) -> Result<Vec<Aside>, Refusal> {
        self.twice(async |database| {
            let transaction = database.transaction(&[STORE], TransactionMode::ReadOnly)?;
            let store = transaction.object_store(STORE)?;
            let mut aside = Vec::new();
            for key in store.get_all_keys(None, None)?.await? {
                let Some(name) = key.as_string().filter(|name| name.starts_with(ASIDE)) else {
                    continue;
                };
                let record = store.get(key)?.await?;
                aside.push(Aside {
                    key: name,
                    bytes: record.as_ref().and_then(bytes_of).unwrap_or_default(),
                });
            }
            Ok(aside)
        })
        .await
    }

    /// Forgets what was put aside under a key; without one, what stands where the work is kept.
    pub async fn forget(&self, key: Option<&str>) -> Result<(), Refusal> {
        self.twice(async |database| {
            let transaction = database.transaction(&[STORE], TransactionMode::ReadWrite)?;
            let store = transaction.object_store(STORE)?;
            for key in key.map_or(vec![WORK, MARK], |key| vec![key]) {
                store.delete(JsValue::from(key))?.await?;
            }
            if transaction.await?.is_committed() {
                Ok(())
            } else {
                Err(idb::Error::DomExceptionNotFound.into())
            }
        })
        .await
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

fn bytes_of(record: &JsValue) -> Option<Vec<u8>> {
    let bytes = field(record, "bytes")?.dyn_into::<Uint8Array>().ok()?;
    Some(bytes.to_vec())
}

fn mark_of(record: &JsValue) -> Option<Mark> {
    Some(Mark {
        count: number(record, "count")?,
        when: number(record, "when")?,
    })
}

fn record_of(kept: &Kept) -> JsValue {
    object(&[
        ("bytes", Uint8Array::from(kept.bytes.as_slice()).into()),
        ("when", kept.when.into()),
        ("example", kept.example.into()),
        ("edits", kept.edits.into()),
        ("asked", kept.asked.into()),
    ])
}

fn kept_of(record: &JsValue) -> Option<Kept> {
    let edits = number(record, "edits").filter(|n| (0.0..=f64::from(u32::MAX)).contains(n))?;
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "it was just seen to fit"
    )]
    let edits = edits as u32;
    Some(Kept {
        bytes: bytes_of(record)?,
        when: number(record, "when")?,
        example: field(record, "example")?.as_bool()?,
        edits,
        asked: field(record, "asked")?.as_bool()?,
    })
}
