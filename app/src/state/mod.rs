//! The session: the only signals that outlive a view, and the only ways to change them.
//!
//! In: what a person does. Out: [`Session`], handed down by context. What can be derived from it is in `derived`.

pub mod axis;
pub mod coming;
pub mod derived;
pub mod findings;
pub mod issuing;
pub mod keeping;
mod naming;
mod pick;
pub mod proposal;
mod readable;
pub mod revisions;
mod sight;
pub mod steps;

use std::collections::BTreeSet;
use std::sync::Arc;

use geometry::document::history::MOST_STEPS;
use geometry::document::{
    Edit, Folder, History, Lines, On, PointId, Revision, SourceId, read_folder, write_folder,
};
pub use geometry::issue::lines_plan::{Glass, Hidden, Pick, Shown, comb_key};
use geometry::units::{LengthUnit, Message};
use keeping::{Beginning, Elsewhere};
use leptos::prelude::*;
use naming::name_beside;
pub use pick::Typed;
use pick::first_pick;
use readable::Readable;
use revisions::Which;
use sight::first_glass;
pub use sight::{Beside, NARROW};
use steps::{KeptHistory, OnFile};

use crate::exchange;
use crate::storage::Former;

/// The demo that the page opens on.
const DEMO: &[u8] = include_bytes!("../../../public/demo/marram.json");

/// The screens there are.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Screen {
    /// The offsets table and its sources.
    Evidence,
    /// The lines plan.
    Lines,
    /// The skin in space.
    Shell,
    /// Sheets for the shop.
    Issue,
}

/// What is asked of the person, over the page.
#[derive(Clone, Debug, PartialEq)]
pub enum Question {
    /// What to open.
    Open,
    /// With what to start lines of one's own.
    Start,
    /// Whether to take a table in, which is shown as it was read.
    TakeIn(Arc<Incoming>),
    /// How to put the pasted text of such a table right.
    Again(Arc<str>),
    /// What to do about a link whose reader is not here yet.
    Link(String),
    /// What to do with a link of the lines.
    Share,
    /// Which offsets table to write.
    Offsets,
    /// Why readings are set aside: of which points, and which of their readings, from 0.
    SetAside(Vec<(PointId, usize)>),
    /// How far a reading may be out: of a point, which of its readings, and what would do, mm.
    Tolerance(PointId, usize, Option<f64>),
    /// What is to be known of a source.
    Source(SourceId),
    /// Which revisions there are, and whether to freeze one more.
    Revisions,
    /// How far one state lies from another.
    Compare(Which, Which),
    /// How the picked line bends.
    Radii,
    /// Which lines are drawn.
    Drawn,
    /// By which law the body is given.
    Law,
    /// How things are done.
    Help,
    /// What a small screen's header has no room for.
    More,
}

/// A table that came in and is not taken yet.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Incoming {
    /// Where it comes from, as a person calls it.
    pub name: String,
    /// As it came.
    pub came: Came,
}

/// How something came in.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Came {
    /// As a file of whatever bytes.
    File(Vec<u8>),
    /// As a pasted text, which can be changed here.
    Pasted(Arc<str>),
}

impl Came {
    /// Its bytes.
    pub fn bytes(&self) -> &[u8] {
        match self {
            Self::File(bytes) => bytes,
            Self::Pasted(text) => text.as_bytes(),
        }
    }

    /// Whether it was pasted.
    pub fn is_pasted(&self) -> bool {
        matches!(self, Self::Pasted(_))
    }
}

/// The look of the page.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Look {
    /// As the system prefers.
    System,
    /// «Film».
    Light,
    /// «Blueprint».
    Dark,
}

/// Frozen revisions that came with a file, and the step of the history that opened it.
#[derive(Clone, Debug)]
struct Opened {
    depth: usize,
    /// Whether it is the example.
    example: bool,
    revisions: Arc<Vec<Revision>>,
}

impl Opened {
    /// Of works opened one after the other, where that stands to which a step of the history belongs.
    fn here(opened: &[Self], depth: usize) -> Option<usize> {
        opened.iter().rposition(|o| o.depth <= depth)
    }
}

/// What a note to the person is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum NoteKind {
    /// It was done.
    Done,
    /// It was not done, and why.
    Fault,
}

/// A sentence to the person. What was done goes with the next click, a fault stays until the next sentence.
#[derive(Clone, Debug, PartialEq)]
pub struct Note {
    /// Done or not.
    pub kind: NoteKind,
    /// The sentence.
    pub text: String,
    /// Whether the last step can be taken back from beside it.
    pub undo: bool,
}

/// What holds a point.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Holder {
    /// The pointer.
    Pointer,
    /// The keys, so that its value is read aloud while it moves.
    Keys,
}

/// Everything that outlives a view. All may read it; only the session's verbs change it.
#[derive(Clone, Copy, Debug)]
pub struct Session {
    /// The documents of this session.
    history: RwSignal<History>,
    /// What a gesture that is not finished makes of the document.
    draft: RwSignal<Option<Arc<Lines>>>,
    /// What holds a point; no step is taken back or done again meanwhile.
    held: RwSignal<Option<Holder>>,
    /// Lines that are only looked at: from a link, beside one's own, or as another tab has them.
    looking: RwSignal<Option<Arc<Lines>>>,
    /// One's own work as another tab has it, while it may be changed there only.
    elsewhere: RwSignal<Option<Elsewhere>>,
    /// What is picked.
    pub pick: Readable<Pick>,
    /// Lines that show their comb.
    pub combs: Readable<BTreeSet<On>>,
    /// Doublings of the teeth, over what the drawing would choose.
    pub tooth: Readable<i32>,
    /// The last sentence to the person.
    pub note: Readable<Option<Note>>,
    /// The view of a small screen.
    pub shown: Readable<Shown>,
    /// The screen that is shown.
    pub screen: Readable<Screen>,
    /// What is asked of the person.
    pub question: Readable<Option<Question>>,
    /// The look of the page.
    pub look: Readable<Look>,
    /// Room in the window, px.
    pub room: Readable<(f64, f64)>,
    /// Room for the drawing, between the header and the card, px.
    pub sheet: Readable<(f64, f64)>,
    /// Whether one view stands alone though there is room for all.
    alone: RwSignal<bool>,
    /// Whether the browser prints the page.
    pub prints: Readable<bool>,
    /// How a view is looked at that stands alone.
    pub glass: Readable<Glass>,
    /// The place that is lifted off the skin, by the loft's parameters.
    lifted: RwSignal<Option<(f64, f64)>>,
    /// Where a tape to it begins.
    tape_from: RwSignal<Option<(f64, f64)>>,
    /// Another state that is drawn beside the lines, dashed.
    pub beside: Readable<Option<Beside>>,
    /// Lines that are not drawn, and stations whose sections are not.
    pub hidden: Readable<Hidden>,
    /// The view from which the keys went to a value's box.
    pub typed_from: Readable<Option<Shown>>,
    /// What was typed and is not taken.
    typed: RwSignal<Vec<Typed>>,
    /// Which step a file holds.
    on_file: RwSignal<OnFile>,
    /// What other work took the place of, and is not on this device yet as such.
    former: StoredValue<Vec<Former>>,
    opened: RwSignal<Vec<Opened>>,
}

/// What is said where shared lines would be changed.
const TO_LOOK_AT: &str = "These are shared lines, to look at. Take a copy to change them.";

/// The demo, with what was read as its first revision.
pub(in crate::state) fn demo() -> Folder {
    let read = read_folder(DEMO).unwrap_or_else(|error| Folder {
        lines: empty(&format!("The demo can't be opened: {error}")),
        revisions: Vec::new(),
    });
    let frozen = read.freeze("A", "2026-03-03", "As read, before anything was settled");
    frozen.unwrap_or(read)
}

impl Session {
    /// A session that opens on this.
    pub fn new(beginning: Beginning) -> Self {
        let Beginning {
            folder,
            example,
            edits,
            steps,
        } = beginning;
        let pick = first_pick(&folder.lines);
        let glass = first_glass(&folder.lines, pick);
        let first = Arc::new(folder.lines);
        let (history, on_file) = KeptHistory::begin(steps, &first, edits);
        Self {
            history: RwSignal::new(history),
            on_file: RwSignal::new(on_file),
            former: StoredValue::new(Vec::new()),
            elsewhere: RwSignal::new(None),
            draft: RwSignal::new(None),
            held: RwSignal::new(None),
            looking: RwSignal::new(None),
            pick: Readable::new(pick),
            combs: Readable::new(BTreeSet::from([pick.on])),
            tooth: Readable::new(0),
            note: Readable::new(None),
            shown: Readable::new(Shown::Profile),
            screen: Readable::new(Screen::Lines),
            question: Readable::new(None),
            look: Readable::new(Look::System),
            room: Readable::new((1440.0, 900.0)),
            sheet: Readable::new((1440.0, 704.0)),
            alone: RwSignal::new(false),
            prints: Readable::new(false),
            glass: Readable::new(glass),
            lifted: RwSignal::new(None),
            tape_from: RwSignal::new(None),
            beside: Readable::new(None),
            hidden: Readable::new(Hidden::default()),
            typed_from: Readable::new(None),
            typed: RwSignal::new(Vec::new()),
            opened: RwSignal::new(vec![Opened {
                depth: 0,
                example,
                revisions: Arc::new(folder.revisions),
            }]),
        }
    }

    /// Adds a step; what was opened at steps that are forgotten is forgotten too.
    fn push(&self, name: String, lines: Arc<Lines>) {
        let before = self.history.with_untracked(History::depth);
        self.history.update(|h| h.push(name, lines));
        self.part_from_before();
        self.on_file.update(|file| file.pushed(before));
        self.opened.update(|opened| {
            opened.retain(|o| o.depth <= before);
            if before == MOST_STEPS {
                for o in opened {
                    o.depth = o.depth.saturating_sub(1);
                }
            }
        });
    }

    /// The document that stands, without a gesture's draft.
    pub fn standing(&self) -> Arc<Lines> {
        self.looking
            .get()
            .unwrap_or_else(|| self.history.with(|h| Arc::clone(h.now())))
    }

    /// The same, not followed.
    pub fn standing_now(&self) -> Arc<Lines> {
        untrack(|| self.standing())
    }

    /// The unit lengths are shown in.
    pub fn unit(&self) -> LengthUnit {
        self.standing().about.unit
    }

    /// Puts away what was said of a thing done: the person has gone on.
    pub fn go_on(&self) {
        let done = |note: &Option<Note>| note.as_ref().is_some_and(|n| n.kind == NoteKind::Done);
        if self.note.with_untracked(done) {
            self.note.set(None);
        }
    }

    /// Puts away what was said.
    pub fn say_no_more(&self) {
        self.note.set(None);
    }

    /// Asks the person something, over the page.
    pub fn ask(&self, question: Question) {
        self.question.set(Some(question));
    }

    /// Asks nothing any more.
    pub fn ask_no_more(&self) {
        self.question.set(None);
    }

    /// Goes to a screen.
    pub fn go_to(&self, screen: Screen) {
        self.screen.set(screen);
    }

    /// Chooses the look of the page.
    pub fn choose_look(&self, look: Look) {
        self.look.set(look);
    }

    /// Whether the lines that are seen are only to look at.
    pub fn only_looks(&self) -> bool {
        self.looking.with(Option::is_some)
    }

    /// Says something to the person.
    pub fn say(&self, kind: NoteKind, text: String) {
        self.note.set(Some(Note {
            kind,
            text,
            undo: false,
        }));
    }

    /// Does an edit as one step, and says what was done and how it is taken back; else why it is refused. Tells whether it was
    /// done.
    pub fn edit_and_say(&self, edit: impl Into<Edit>) -> bool {
        let edit = edit.into();
        let name = edit.name(&self.standing_now());
        let done = self.try_edit(&edit);
        self.note.set(Some(match &done {
            Ok(()) => Note {
                kind: NoteKind::Done,
                text: format!("Done: {name}."),
                undo: true,
            },
            Err(why) => Note {
                kind: NoteKind::Fault,
                text: why.clone(),
                undo: false,
            },
        }));
        done.is_ok()
    }

    /// Whether the lines that are seen may be changed; says so where they may not.
    fn may_edit(&self) -> bool {
        let locked = self.locked();
        if let Some(why) = locked {
            self.say(NoteKind::Fault, why.to_owned());
        }
        locked.is_none()
    }

    /// Does an edit as one step; where it is refused, says why and leaves all as it was.
    pub fn edit(&self, edit: impl Into<Edit>) {
        if let Err(why) = self.try_edit(edit) {
            self.say(NoteKind::Fault, why);
        }
    }

    /// Does an edit as one step.
    ///
    /// # Errors
    /// Why it is refused, in the person's words; all is as it was.
    pub fn try_edit(&self, edit: impl Into<Edit>) -> Result<(), String> {
        self.try_one(&edit.into())
    }

    fn try_one(&self, edit: &Edit) -> Result<(), String> {
        if let Some(why) = self.locked() {
            return Err(why.to_owned());
        }
        self.draft.set(None);
        let unit = untrack(|| self.unit());
        let now = self.history.with_untracked(|h| Arc::clone(h.now()));
        let lines = now.apply(edit).map_err(|error| error.message(unit))?;
        if lines != *now {
            self.push(edit.name(&now), Arc::new(lines));
            self.renew_pick();
        }
        self.note.set(None);
        Ok(())
    }

    /// Shows what an edit would make, while a gesture lasts; says where it is refused, and whether it was not.
    pub fn try_out(&self, edit: impl Into<Edit>) -> bool {
        if !self.may_edit() {
            return false;
        }
        let unit = untrack(|| self.unit());
        match self.history.with_untracked(|h| h.now().apply(edit)) {
            Ok(lines) => {
                self.draft.set(Some(Arc::new(lines)));
                true
            }
            Err(error) => {
                self.say(NoteKind::Fault, error.message(unit));
                false
            }
        }
    }

    /// Takes hold of a point.
    pub fn take_hold(&self, by: Holder) {
        self.held.set(Some(by));
    }

    /// Whether a point is held.
    pub fn is_held(&self) -> bool {
        self.held.with(Option::is_some)
    }

    /// Whether the keys hold one.
    pub fn is_held_by_keys(&self) -> bool {
        self.held.get() == Some(Holder::Keys)
    }

    /// Whether a gesture tries lines out.
    pub fn tries_out(&self) -> bool {
        self.draft.with(Option::is_some)
    }

    /// Puts what is held down: the draft becomes one step.
    pub fn put_down(&self, name: String) {
        self.held.set(None);
        if let Some(lines) = self.draft.get_untracked() {
            let changed = self.history.with_untracked(|h| **h.now() != *lines);
            if changed {
                self.push(name, lines);
            }
            self.draft.set(None);
        }
    }

    /// Lets what is held go: it stands where it stood.
    pub fn let_go(&self) {
        self.held.set(None);
        if self.draft.with_untracked(Option::is_some) {
            self.draft.set(None);
        }
    }

    /// What would be taken back.
    pub fn undo_name(&self) -> Option<String> {
        self.history.with(|h| h.undo_name().map(str::to_owned))
    }

    /// What would be done again.
    pub fn redo_name(&self) -> Option<String> {
        self.history.with(|h| h.redo_name().map(str::to_owned))
    }

    /// Whether there is a step that can be taken back.
    pub fn has_steps(&self) -> bool {
        self.history.with(|h| h.depth() > 0)
    }

    /// Takes the last step back.
    pub fn undo(&self) {
        self.step(|history| history.undo().map(|name| format!("Undone: {name}")));
    }

    /// Does the last undone step again.
    pub fn redo(&self) {
        self.step(|history| history.redo().map(|name| format!("Done again: {name}")));
    }

    fn step(&self, act: impl Fn(&mut History) -> Option<String>) {
        if untrack(|| self.is_held()) || !self.may_edit() {
            return;
        }
        self.draft.set(None);
        let mut said = None;
        let before = self.history.with_untracked(|h| Arc::clone(h.now()));
        self.history.update(|history| said = act(history));
        self.part_from_before();
        if let Some(said) = said {
            self.say(NoteKind::Done, said);
        }
        self.mend_pick();
        // What was taken back is shown, where it is one point.
        let now = self.history.with_untracked(|h| Arc::clone(h.now()));
        if before.body.points.len() == now.body.points.len() {
            let pairs = before.body.points.iter().zip(&now.body.points);
            let mut changed = pairs.filter(|(a, b)| a != b).map(|(_, b)| b.id);
            if let (Some(point), None) = (changed.next(), changed.next()) {
                self.pick_point(point);
            }
        }
    }

    /// Puts what a file or table held in the place of what stands, as one step; says why where it may not, and whether it
    /// did.
    pub fn take_in(&self, folder: Folder, name: &str) -> bool {
        if let Some(why) = self.locked_elsewhere() {
            self.say(NoteKind::Fault, why.to_owned());
            return false;
        }
        self.looking.set(None);
        self.draft.set(None);
        self.beside.set(None);
        let pick = first_pick(&folder.lines);
        self.keep_former();
        self.open_as_step(folder, name, false);
        self.begin_at(pick);
        self.say(
            NoteKind::Done,
            format!("{name}. Undo brings back what was open."),
        );
        true
    }

    /// A name that the lines that stand do not have: the one that is wanted, else with a number behind it.
    pub fn with_name(&self, wanted: &str) -> String {
        name_beside(&self.standing_now().about.title, wanted)
    }

    /// Keeps what stands, for other work takes its place, and undo leads back over that no longer once the page has gone; the
    /// example only with changes.
    fn keep_former(&self) {
        let folder = self.own_folder();
        let example = untrack(|| self.own_is_example());
        if example && demo() == folder {
            return;
        }
        let former = Former {
            bytes: write_folder(&folder),
            when: exchange::calendar(),
        };
        self.former.update_value(|all| all.push(former));
    }

    /// Adds what a file or another tab held as one step.
    fn open_as_step(&self, folder: Folder, name: &str, example: bool) {
        self.push(name.to_owned(), Arc::new(folder.lines));
        let depth = self.history.with_untracked(History::depth);
        let revisions = Arc::new(folder.revisions);
        self.opened.update(|opened| {
            opened.push(Opened {
                depth,
                example,
                revisions,
            });
        });
    }

    /// Looks at shared lines beside one's own.
    pub fn look_at(&self, lines: Lines) {
        let pick = first_pick(&lines);
        self.draft.set(None);
        self.beside.set(None);
        self.looking.set(Some(Arc::new(lines)));
        self.begin_at(pick);
    }

    /// Goes back to one's own lines, where they may be looked at or changed.
    pub fn look_no_more(&self) {
        self.looking.set(self.elsewhere_lines());
        self.part_from_before();
        self.mend_pick();
    }
}

/// A document with nothing in it.
pub fn empty(notes: &str) -> Lines {
    let mut lines = Lines::empty("New lines", LengthUnit::Millimetres);
    notes.clone_into(&mut lines.about.notes);
    lines
}
