//! Jobs that take longer than a frame: the page's hold on its worker.
//!
//! In: an order with its document. Out: a [`Stand`] to show, and a [`Made`] file, or several, each with more. One job runs
//! at a time, and a new order takes the place of the last. A worker can't hear while it computes, so that stopping ends it;
//! the next order starts a fresh one. `messages` is what the two say to each other.

pub mod messages;

use geometry::document::{Folder, Lines, write_folder};
use js_sys::{Array, Uint8Array};
use leptos::prelude::*;
use wasm_bindgen::prelude::Closure;
use wasm_bindgen::{JsCast, JsValue};
use web_sys::{MessageEvent, Worker, WorkerOptions, WorkerType};

use crate::exchange::file_name;
use messages::{Order, TableFile, Verdict, Word, Work};

/// How long a worker may take to say it is ready, ms.
const PATIENCE: u64 = 30_000;

/// After so long a job is shown, ms.
const SHOWN: u64 = 400;

/// After so long it can be stopped, ms.
const STOPPABLE: u64 = 2_000;

impl TableFile {
    fn ending(self) -> &'static str {
        match self {
            Self::Csv => "csv",
            Self::Xlsx => "xlsx",
        }
    }
}

impl Verdict {
    /// Its sign, which stands beside the word.
    pub fn sign(self) -> &'static str {
        match self {
            Self::Fair => "✓",
            Self::Within => "≈",
            Self::Unfair => "✕",
            Self::NotJudged => "–",
        }
    }

    /// The word.
    pub fn name(self) -> &'static str {
        match self {
            Self::Fair => "Fair",
            Self::Within => "Fair within readings",
            Self::Unfair => "Unfair",
            Self::NotJudged => "Not judged",
        }
    }
}

impl Work {
    /// What is made, in words that follow «Making».
    pub fn name(self) -> &'static str {
        match self {
            Self::Step => "the surface as STEP",
            Self::Glb => "the shell as glTF",
            Self::Judge => "the verdicts",
            Self::Propose(_) => "the proposed lines",
            Self::Offsets { form, .. } => match form {
                TableFile::Csv => "the offsets as CSV",
                TableFile::Xlsx => "the offsets as a spreadsheet",
            },
        }
    }

    /// Name of the file, of lines with this title.
    pub fn file_name(self, title: &str) -> String {
        match self {
            Self::Step => file_name(title, "step"),
            Self::Glb => file_name(title, "glb"),
            Self::Judge | Self::Propose(_) => file_name(title, "json"),
            Self::Offsets {
                form,
                spacing,
                unit,
            } => {
                let along = unit.along();
                let every = spacing.map_or_else(String::new, |mm| {
                    let figure = mm / along.of_a_bare_number();
                    let rounded = (figure * 1000.0).round() / 1000.0;
                    format!(" every {rounded} {}", along.short())
                });
                let name = format!("{title} offsets{every} in {}", unit.name());
                file_name(&name, form.ending())
            }
        }
    }

    /// Media type of the file.
    pub fn kind(self) -> &'static str {
        match self {
            Self::Step => "model/step",
            Self::Glb => "model/gltf-binary",
            Self::Judge | Self::Propose(_) => "application/json",
            Self::Offsets { form, .. } => match form {
                TableFile::Csv => "text/csv",
                TableFile::Xlsx => {
                    "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
                }
            },
        }
    }
}

/// How far a job must have come to be worth showing.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Age {
    /// Just begun.
    Fresh,
    /// Over 0.4 s: what it is at is shown.
    Shown,
    /// Over 2 s: it can be stopped.
    Stoppable,
}

/// What the jobs are at.
#[derive(Clone, Debug, PartialEq)]
pub enum Stand {
    /// Nothing runs.
    Idle,
    /// A job runs.
    Running {
        /// What it makes.
        work: Work,
        /// Which part it is at.
        part: String,
        /// Since when.
        age: Age,
    },
    /// The last job failed, for this reason.
    Failed(String),
}

/// A file that was made.
#[derive(Clone, Debug, PartialEq)]
pub struct Made {
    /// What it is.
    pub work: Work,
    /// Fingerprint of the document it was made from, in full.
    pub fingerprint: String,
    /// Its bytes.
    pub bytes: Vec<u8>,
}

/// A running worker with what it was told.
struct Hold {
    worker: Worker,
    ready: bool,
    /// The order that runs or waits for the worker to be ready.
    order: Option<Order>,
    _heard: Closure<dyn FnMut(MessageEvent)>,
    _broke: Closure<dyn FnMut(web_sys::Event)>,
}

impl Drop for Hold {
    fn drop(&mut self) {
        self.worker.set_onmessage(None);
        self.worker.set_onerror(None);
        self.worker.terminate();
    }
}

/// The page's hold on its worker.
#[derive(Clone, Copy)]
pub struct Jobs {
    /// What to show.
    pub stand: RwSignal<Stand>,
    made: Callback<Made>,
    serial: StoredValue<u32>,
    hold: StoredValue<Option<Hold>, LocalStorage>,
}

impl Jobs {
    /// No worker yet: the first order starts it. A file that is made goes to `made`, as do the parts of one that comes in
    /// parts.
    pub fn new(made: Callback<Made>) -> Self {
        Self {
            stand: RwSignal::new(Stand::Idle),
            made,
            serial: StoredValue::new(0),
            hold: StoredValue::new_local(None),
        }
    }

    /// Orders a file of a document; a job that still runs is stopped.
    pub fn order(self, work: Work, lines: &Lines) {
        if matches!(self.stand.get_untracked(), Stand::Running { .. }) {
            self.hold.set_value(None);
        }
        let folder = Folder {
            lines: lines.clone(),
            revisions: Vec::new(),
        };
        self.serial
            .update_value(|serial| *serial = serial.wrapping_add(1));
        let order = Order {
            serial: self.serial.get_value(),
            work,
            file: String::from_utf8_lossy(&write_folder(&folder)).into_owned(),
        };
        let serial = order.serial;
        self.stand.set(Stand::Running {
            work,
            part: "starting the worker".to_owned(),
            age: Age::Fresh,
        });
        for (delay, age) in [(SHOWN, Age::Shown), (STOPPABLE, Age::Stoppable)] {
            let grow = move || self.grow(serial, age);
            set_timeout(grow, core::time::Duration::from_millis(delay));
        }
        let started = self.hold.with_value(Option::is_some) || self.start();
        if started {
            self.hold.update_value(|hold| {
                if let Some(hold) = hold {
                    hold.order = Some(order);
                }
            });
            self.send();
            let look = move || self.look_for_life(serial);
            set_timeout(look, core::time::Duration::from_millis(PATIENCE));
        }
    }

    /// Ends the job that runs, and its worker with it.
    pub fn stop(self) {
        self.hold.set_value(None);
        self.stand.set(Stand::Idle);
    }

    /// Puts a failure away.
    pub fn dismiss(self) {
        if matches!(self.stand.get_untracked(), Stand::Failed(_)) {
            self.stand.set(Stand::Idle);
        }
    }

    /// Ends the worker and says why there is no file.
    fn fail(self, sentence: String) {
        self.hold.set_value(None);
        self.stand.set(Stand::Failed(sentence));
    }

    fn runs(self, serial: u32) -> bool {
        self.serial.get_value() == serial
            && matches!(self.stand.get_untracked(), Stand::Running { .. })
    }

    fn grow(self, serial: u32, to: Age) {
        if self.runs(serial) {
            self.stand.update(|stand| {
                if let Stand::Running { age, .. } = stand {
                    *age = to;
                }
            });
        }
    }

    fn look_for_life(self, serial: u32) {
        let ready = self
            .hold
            .with_value(|hold| hold.as_ref().is_some_and(|h| h.ready));
        if self.runs(serial) && !ready {
            self.fail("The worker did not start. Load the page again.".to_owned());
        }
    }

    /// Starts a worker; says so where there is none.
    fn start(self) -> bool {
        let options = WorkerOptions::new();
        options.set_type(WorkerType::Module);
        let address = document()
            .query_selector("meta[name=worker]")
            .ok()
            .flatten()
            .and_then(|meta| meta.get_attribute("content"));
        let worker = address.and_then(|at| Worker::new_with_options(&at, &options).ok());
        let Some(worker) = worker else {
            self.fail("This browser starts no worker for the page: use a newer one.".to_owned());
            return false;
        };
        let heard = Closure::<dyn FnMut(MessageEvent)>::new(move |event: MessageEvent| {
            self.hear(&event.data());
        });
        // Told later, since the closures must outlive the call they are in.
        let broke = Closure::<dyn FnMut(web_sys::Event)>::new(move |_| {
            let told = move || {
                self.fail("The worker broke. Your lines are as they were; ask again.".to_owned());
            };
            set_timeout(told, core::time::Duration::ZERO);
        });
        worker.set_onmessage(Some(heard.as_ref().unchecked_ref()));
        worker.set_onerror(Some(broke.as_ref().unchecked_ref()));
        self.hold.set_value(Some(Hold {
            worker,
            ready: false,
            order: None,
            _heard: heard,
            _broke: broke,
        }));
        true
    }

    /// Sends the order that waits, if the worker hears.
    fn send(self) {
        let sent = self.hold.with_value(|hold| {
            let hold = hold.as_ref()?;
            let order = hold.order.as_ref().filter(|_| hold.ready)?;
            let text = serde_json::to_string(order).ok()?;
            Some(hold.worker.post_message(&JsValue::from_str(&text)).is_ok())
        });
        if sent == Some(false) {
            self.fail("The worker took no order. Load the page again.".to_owned());
        }
    }

    fn hear(self, data: &JsValue) {
        let pair = Array::from(data);
        let word = pair
            .get(0)
            .as_string()
            .and_then(|text| serde_json::from_str::<Word>(&text).ok());
        match word {
            Some(Word::Ready) => {
                self.hold.update_value(|hold| {
                    if let Some(hold) = hold {
                        hold.ready = true;
                    }
                });
                self.send();
            }
            Some(Word::Part { serial, part: now }) if self.runs(serial) => {
                self.stand.update(|stand| {
                    if let Stand::Running { part, .. } = stand {
                        *part = now;
                    }
                });
            }
            Some(Word::Made {
                serial,
                whole,
                fingerprint,
            }) if self.runs(serial) => {
                let bytes = Uint8Array::new(&pair.get(1)).to_vec();
                if let Stand::Running { work, .. } = self.stand.get_untracked() {
                    if whole {
                        self.stand.set(Stand::Idle);
                    }
                    self.made.run(Made {
                        work,
                        fingerprint,
                        bytes,
                    });
                }
            }
            Some(Word::Failed { serial, sentence }) if self.runs(serial) => {
                self.stand.set(Stand::Failed(sentence));
            }
            // Of an order that no one waits for any more.
            Some(Word::Part { .. } | Word::Made { .. } | Word::Failed { .. }) => {}
            None => {
                leptos::logging::warn!("the worker said what no one understands");
            }
        }
    }
}
