//! Jobs that take longer than a frame: the page's hold on its worker.
//!
//! In: an order with its document. Out: a [`Stand`] to show, and what is [`Done`]. One job runs
//! at a time, and a new order takes the place of the last. A worker can't hear while it computes, so that stopping ends it;
//! the next order starts a fresh one. `messages` is what the two say to each other, `heard` reads what the worker says.

pub mod heard;
pub mod messages;

use geometry::document::{Folder, Frozen, Lines, write_folder};
use geometry::issue::sheets::Contents;
use geometry::issue::{OutlineForm, Output, PartForm, TableForm};
use geometry::settle::{Findings, MoveFound, Proposed, Weighed, Wish};
use js_sys::{Array, Uint8Array};
use leptos::prelude::*;
use wasm_bindgen::prelude::Closure;
use wasm_bindgen::{JsCast, JsValue};
use web_sys::{MessageEvent, Worker, WorkerOptions, WorkerType};

use crate::exchange::file_name;
use messages::{Order, Reply, Tried, WentOut, Work};

/// How long a worker may take to say it is ready, ms.
const PATIENCE: u64 = 30_000;

/// After so long a job is shown, ms.
const SHOWN: u64 = 400;

/// After so long it can be stopped, ms.
const STOPPABLE: u64 = 2_000;

/// What an order says besides its work and its document.
#[derive(Default)]
struct Beside {
    revision: Option<Frozen>,
    moves: Vec<MoveFound>,
    since: Option<WentOut>,
}

/// A document as a lines file.
pub fn file_of(lines: &Lines) -> String {
    let folder = Folder {
        lines: lines.clone(),
        revisions: Vec::new(),
    };
    String::from_utf8_lossy(&write_folder(&folder)).into_owned()
}

impl Work {
    /// What is made, in words that follow «Making».
    pub fn name(self) -> &'static str {
        match self {
            Self::Make(output) => name_of(output),
            Self::Judge | Self::Further => "the verdicts",
            Self::Propose(_) => "the proposed lines",
            Self::Weigh(_) => "what comes of the moves",
            Self::TryLoft => "the loft",
            Self::Lay | Self::Draw { .. } => "the sheets",
        }
    }
}

/// What is made, in words that follow «Making».
pub fn name_of(output: Output) -> &'static str {
    match output {
        Output::Step => "the surface as STEP",
        Output::Glb => "the shell as glTF",
        Output::Offsets { form, .. } => match form {
            TableForm::Csv => "the offsets as CSV",
            TableForm::Xlsx => "the offsets as a spreadsheet",
        },
        Output::Sheets { .. } => "the sheets",
        Output::Part { .. } => "the part",
        Output::Archive { .. } => "the archive",
    }
}

/// Name of a file, of lines with this title; `of` names the sheets that are on it.
pub fn file_name_of(output: Output, title: &str, of: &[String]) -> String {
    match output {
        Output::Step => file_name(title, "step"),
        Output::Glb => file_name(title, "glb"),
        Output::Offsets {
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
            let ending = match form {
                TableForm::Csv => "csv",
                TableForm::Xlsx => "xlsx",
            };
            file_name(&name, ending)
        }
        Output::Sheets { .. } => file_name(&format!("{title} sheets"), "pdf"),
        Output::Part { form, .. } => {
            let (kind, ending) = match form {
                PartForm::Pdf => ("", "pdf"),
                PartForm::Outline(OutlineForm::Svg) => ("", "svg"),
                PartForm::Outline(OutlineForm::DxfSplines) => ("", "dxf"),
                PartForm::Outline(OutlineForm::DxfArcs) => (" arcs", "dxf"),
            };
            file_name(&format!("{title} {}{kind}", of.join(" ")), ending)
        }
        Output::Archive { .. } => file_name(&format!("{title} sheets"), "zip"),
    }
}

/// Media type of a file.
pub fn kind_of(output: Output) -> &'static str {
    match output {
        Output::Step => "model/step",
        Output::Glb => "model/gltf-binary",
        Output::Offsets { form, .. } => match form {
            TableForm::Csv => "text/csv",
            TableForm::Xlsx => "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
        },
        Output::Sheets { .. }
        | Output::Part {
            form: PartForm::Pdf,
            ..
        } => "application/pdf",
        Output::Part {
            form: PartForm::Outline(OutlineForm::Svg),
            ..
        } => "image/svg+xml",
        Output::Part { .. } => "image/vnd.dxf",
        Output::Archive { .. } => "application/zip",
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

/// What was ordered, or a part of it that stands alone.
#[derive(Clone, Debug, PartialEq)]
pub enum Done {
    /// A file.
    Made(Made),
    /// What is to be settled, perhaps not yet all of it.
    Found(Findings),
    /// Lines that are proposed.
    Proposed(Proposed),
    /// What comes of one.
    Weighed(Weighed),
    /// Whether lines can be lofted.
    Tried(Tried),
    /// Which sheets there can be.
    Laid(Contents),
    /// A sheet, as the page shows it.
    Drawn(String),
}

/// A file that was made.
#[derive(Clone, Debug, PartialEq)]
pub struct Made {
    /// What it is.
    pub output: Output,
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
    done: Callback<Done>,
    serial: StoredValue<u32>,
    hold: StoredValue<Option<Hold>, LocalStorage>,
}

impl Jobs {
    /// No worker yet: the first order starts it. What is done goes to `done`.
    pub fn new(done: Callback<Done>) -> Self {
        Self {
            stand: RwSignal::new(Stand::Idle),
            done,
            serial: StoredValue::new(0),
            hold: StoredValue::new_local(None),
        }
    }

    /// Orders work on a document; a job that still runs is stopped.
    pub fn order(self, work: Work, lines: &Lines) {
        self.order_of(work, lines, Beside::default());
    }

    /// Orders a file of a document, which may be a frozen revision of this label.
    pub fn order_file(self, output: Output, lines: &Lines, revision: Option<Frozen>) {
        self.order_revision(Work::Make(output), lines, revision);
    }

    /// Orders work on a document that may be a frozen revision, which stands on what is made of it.
    pub fn order_revision(self, work: Work, lines: &Lines, revision: Option<Frozen>) {
        let beside = Beside {
            revision,
            ..Beside::default()
        };
        self.order_of(work, lines, beside);
    }

    /// Orders work on a document's sheets, which may be a frozen revision's, with what went to the shop last.
    pub fn order_sheets(
        self,
        work: Work,
        lines: &Lines,
        revision: Option<Frozen>,
        since: Option<WentOut>,
    ) {
        let beside = Beside {
            revision,
            since,
            ..Beside::default()
        };
        self.order_of(work, lines, beside);
    }

    /// Orders what comes of moves of a document.
    pub fn order_weighing(self, wish: Wish, lines: &Lines, moves: Vec<MoveFound>) {
        let beside = Beside {
            moves,
            ..Beside::default()
        };
        self.order_of(Work::Weigh(wish), lines, beside);
    }

    fn order_of(self, work: Work, lines: &Lines, beside: Beside) {
        if matches!(self.stand.get_untracked(), Stand::Running { .. }) {
            self.hold.set_value(None);
        }
        self.serial
            .update_value(|serial| *serial = serial.wrapping_add(1));
        let order = Order {
            serial: self.serial.get_value(),
            work,
            file: file_of(lines),
            revision: beside.revision,
            moves: beside.moves,
            since: beside.since,
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

    /// Starts the worker ahead of its first order; one that does not start is spoken of when something is ordered.
    pub fn prepare(self) {
        if self.hold.with_value(Option::is_none) && !self.start() {
            self.dismiss();
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

    /// Ends the worker and says why nothing came of it.
    fn fail(self, sentence: String) {
        self.hold.set_value(None);
        self.stand.set(Stand::Failed(sentence));
    }

    /// Whether what asked has gone, as a dialog does, while a timer or an answer was still on its way.
    fn is_gone(self) -> bool {
        self.stand.is_disposed()
    }

    fn runs(self, serial: u32) -> bool {
        self.serial.get_value() == serial
            && matches!(self.stand.get_untracked(), Stand::Running { .. })
    }

    fn grow(self, serial: u32, to: Age) {
        if !self.is_gone() && self.runs(serial) {
            self.stand.update(|stand| {
                if let Stand::Running { age, .. } = stand {
                    *age = to;
                }
            });
        }
    }

    fn look_for_life(self, serial: u32) {
        if self.is_gone() {
            return;
        }
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
                if !self.is_gone() {
                    self.fail(
                        "The worker broke. Your lines are as they were; ask again.".to_owned(),
                    );
                }
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
        let text = pair.get(0).as_string().unwrap_or_default();
        leptos::task::spawn_local(async move {
            match heard::reply(text).await {
                _ if self.is_gone() => {}
                Ok(reply) => self.take(reply, &pair),
                Err(_not_there) => self.fail(
                    "What reads the worker's answers could not be fetched. Your lines are as they were; ask again."
                        .to_owned(),
                ),
            }
        });
    }

    /// Takes what the worker said, and the bytes of a file beside it.
    fn take(self, reply: Option<Reply>, pair: &Array) {
        match reply {
            Some(Reply::Ready) => {
                self.hold.update_value(|hold| {
                    if let Some(hold) = hold {
                        hold.ready = true;
                    }
                });
                self.send();
            }
            Some(Reply::Part { serial, part: now }) if self.runs(serial) => {
                self.stand.update(|stand| {
                    if let Stand::Running { part, .. } = stand {
                        *part = now;
                    }
                });
            }
            Some(Reply::Made {
                serial,
                fingerprint,
            }) if self.runs(serial) => {
                let bytes = Uint8Array::new(&pair.get(1)).to_vec();
                if let Stand::Running {
                    work: Work::Make(output),
                    ..
                } = self.stand.get_untracked()
                {
                    self.stand.set(Stand::Idle);
                    self.done.run(Done::Made(Made {
                        output,
                        fingerprint,
                        bytes,
                    }));
                }
            }
            Some(Reply::Found {
                serial,
                findings,
                last,
            }) if self.runs(serial) => {
                if last {
                    self.stand.set(Stand::Idle);
                }
                self.done.run(Done::Found(findings));
            }
            Some(Reply::Proposed { serial, proposed }) if self.runs(serial) => {
                self.stand.set(Stand::Idle);
                self.done.run(Done::Proposed(proposed));
            }
            Some(Reply::Weighed { serial, weighed }) if self.runs(serial) => {
                self.stand.set(Stand::Idle);
                self.done.run(Done::Weighed(weighed));
            }
            Some(Reply::Laid { serial, contents }) if self.runs(serial) => {
                self.stand.set(Stand::Idle);
                self.done.run(Done::Laid(contents));
            }
            Some(Reply::Drawn { serial, svg }) if self.runs(serial) => {
                self.stand.set(Stand::Idle);
                self.done.run(Done::Drawn(svg));
            }
            Some(Reply::Tried { serial, tried }) if self.runs(serial) => {
                self.stand.set(Stand::Idle);
                self.done.run(Done::Tried(tried));
            }
            Some(Reply::Failed { serial, sentence }) if self.runs(serial) => {
                self.stand.set(Stand::Failed(sentence));
            }
            // Of an order that no one waits for any more.
            Some(
                Reply::Part { .. }
                | Reply::Made { .. }
                | Reply::Found { .. }
                | Reply::Proposed { .. }
                | Reply::Weighed { .. }
                | Reply::Tried { .. }
                | Reply::Laid { .. }
                | Reply::Drawn { .. }
                | Reply::Failed { .. },
            ) => {}
            None => {
                leptos::logging::warn!("the worker said what no one understands");
            }
        }
    }
}
