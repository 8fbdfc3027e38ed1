//! The session: the only signals that outlive a view, and the only ways to change them.
//!
//! In: what a person does. Out: [`Session`], handed down by context. What can be derived from it is in `derived`.

pub mod axis;
pub mod derived;
pub mod findings;
pub mod keeping;
pub mod proposal;
pub mod revisions;

use std::collections::BTreeSet;
use std::sync::Arc;

use axis::Axis;
use geometry::document::history::MOST_STEPS;
use geometry::document::{
    Edit, Folder, History, Lines, On, Point, PointId, Revision, SourceId, StationId, read_folder,
    write_folder,
};
pub use geometry::issue::lines_plan::{Band, Glass, Hidden, Pick, Shown, comb_key};
use geometry::settle::Subject;
use geometry::units::{LengthUnit, Message};
use keeping::{Beginning, Elsewhere, OnFile};
use leptos::prelude::*;
use revisions::Which;

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
}

/// What is asked of the person, over the page.
#[derive(Clone, Debug, PartialEq)]
pub enum Question {
    /// What to open.
    Open,
    /// Whether to take a table in, which is shown as it was read.
    TakeIn(Arc<Incoming>),
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
    pub bytes: Vec<u8>,
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

/// What was typed for a point and is not taken: it stays in its box until it is put right, taken or left.
#[derive(Clone, Debug, PartialEq)]
pub struct Typed {
    /// The coordinate.
    pub axis: Axis,
    /// As it was typed.
    pub text: String,
    /// Why it is not taken, in a sentence.
    pub says: String,
    /// Its value where it can be read and is only far off, mm.
    pub mm: Option<f64>,
    point: PointId,
    /// The lines it was typed for; with others it is forgotten.
    lines: Arc<Lines>,
}

/// Another state that is drawn beside the lines, dashed.
#[derive(Clone, Debug)]
pub struct Beside {
    /// What it is called.
    pub name: String,
    /// Its lines.
    pub lines: Arc<Lines>,
    /// The lines for which alone it is drawn, where it is what stood before a step; it goes with them.
    pub before: Option<Arc<Lines>>,
}

/// Everything that outlives a view.
#[derive(Clone, Copy, Debug)]
pub struct Session {
    /// The documents of this session.
    pub history: RwSignal<History>,
    /// What a gesture that is not finished makes of the document.
    pub draft: RwSignal<Option<Arc<Lines>>>,
    /// Lines that are only looked at: from a link, beside one's own, or as another tab has them.
    pub looking: RwSignal<Option<Arc<Lines>>>,
    /// One's own work as another tab has it, while it may be changed there only.
    elsewhere: RwSignal<Option<Elsewhere>>,
    /// What is picked.
    pub pick: RwSignal<Pick>,
    /// Lines that show their comb.
    pub combs: RwSignal<BTreeSet<On>>,
    /// Doublings of the teeth, over what the drawing would choose.
    pub tooth: RwSignal<i32>,
    /// What curvature the tolerances permit some lines, as it was found last: distance aft, mm, and from where to where, 1/mm.
    pub bands: RwSignal<Arc<Vec<Band>>>,
    /// The last sentence to the person.
    pub note: RwSignal<Option<Note>>,
    /// The view of a small screen.
    pub shown: RwSignal<Shown>,
    /// The screen that is shown.
    pub screen: RwSignal<Screen>,
    /// What is asked of the person.
    pub question: RwSignal<Option<Question>>,
    /// The look of the page.
    pub look: RwSignal<Look>,
    /// Room in the window, px.
    pub room: RwSignal<(f64, f64)>,
    /// Room for the drawing, between the header and the card, px.
    pub sheet: RwSignal<(f64, f64)>,
    /// Whether a point is held; no step is taken back or done again meanwhile.
    pub held: RwSignal<bool>,
    /// Whether the keys hold it, so that its value is read aloud while it moves.
    pub keyed: RwSignal<bool>,
    /// Whether one view stands alone though there is room for all.
    pub alone: RwSignal<bool>,
    /// How a view is looked at that stands alone.
    pub glass: RwSignal<Glass>,
    /// The place that is lifted off the skin, by the loft's parameters.
    pub lifted: RwSignal<Option<(f64, f64)>>,
    /// Where a tape to it begins.
    pub tape_from: RwSignal<Option<(f64, f64)>>,
    /// Another state that is drawn beside the lines, dashed.
    pub beside: RwSignal<Option<Beside>>,
    /// Lines that are not drawn, and stations whose sections are not.
    pub hidden: RwSignal<Hidden>,
    /// The view from which the keys went to a value's box.
    pub typed_from: RwSignal<Option<Shown>>,
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

/// Windows narrower than this show one view at a time, px; `views.css` has the same.
pub const NARROW: f64 = 1200.0;

/// Narrow windows lower than this show the card beside the drawing, px; so do the next two.
pub const LOW: f64 = 500.0;

/// How wide the card is there.
pub const BESIDE: f64 = 320.0;

/// What header, switch and foot take there.
pub const FRAME: f64 = 149.0;

/// The demo, with what was read as its first revision.
fn demo() -> Folder {
    let read = read_folder(DEMO).unwrap_or_else(|error| Folder {
        lines: empty(&format!("The demo can't be opened: {error}")),
        revisions: Vec::new(),
    });
    let frozen = read.freeze("A", "2026-03-03", "As read, before anything was settled");
    frozen.unwrap_or(read)
}

/// The point that is first picked: the keel (or what there is) where the upsweep is.
fn first_pick(lines: &Lines) -> Pick {
    let at = lines.body.stations.len() * 2 / 3;
    let station = lines
        .body
        .stations
        .get(at)
        .or(lines.body.stations.last())
        .map_or(StationId(0), |s| s.id);
    let keel = lines.body.points.iter().any(|p| p.on == On::Keel);
    let on = if keel {
        On::Keel
    } else {
        lines.body.points.first().map_or(On::Keel, |p| p.on)
    };
    let point = lines.body.point_on(station, on).map(|point| point.id);
    Pick { on, station, point }
}

/// What a view that stands alone is first looked at with: the picked station in its middle.
fn first_glass(lines: &Lines, pick: Pick) -> Glass {
    let x = lines.body.station(pick.station).map_or(0.0, |s| s.x);
    Glass {
        middle: [x, 0.0, 0.0],
        zoom: 1.0,
    }
}

impl Session {
    /// A session that opens on what was kept, else on the demo.
    pub fn new(beginning: Option<Beginning>) -> Self {
        let Beginning {
            folder,
            example,
            edits,
        } = beginning.unwrap_or_else(|| Beginning {
            folder: demo(),
            example: true,
            edits: 0,
        });
        let pick = first_pick(&folder.lines);
        let glass = first_glass(&folder.lines, pick);
        let first = Arc::new(folder.lines);
        Self {
            history: RwSignal::new(History::new(first)),
            on_file: RwSignal::new(OnFile::at(0, edits)),
            former: StoredValue::new(Vec::new()),
            elsewhere: RwSignal::new(None),
            draft: RwSignal::new(None),
            looking: RwSignal::new(None),
            pick: RwSignal::new(pick),
            combs: RwSignal::new(BTreeSet::from([pick.on])),
            tooth: RwSignal::new(0),
            bands: RwSignal::default(),
            note: RwSignal::new(None),
            shown: RwSignal::new(Shown::Profile),
            screen: RwSignal::new(Screen::Lines),
            question: RwSignal::new(None),
            look: RwSignal::new(Look::System),
            room: RwSignal::new((1440.0, 900.0)),
            sheet: RwSignal::new((1440.0, 704.0)),
            held: RwSignal::new(false),
            keyed: RwSignal::new(false),
            alone: RwSignal::new(false),
            glass: RwSignal::new(glass),
            lifted: RwSignal::new(None),
            tape_from: RwSignal::new(None),
            beside: RwSignal::new(None),
            hidden: RwSignal::new(Hidden::default()),
            typed_from: RwSignal::new(None),
            typed: RwSignal::new(Vec::new()),
            opened: RwSignal::new(vec![Opened {
                depth: 0,
                example,
                revisions: Arc::new(folder.revisions),
            }]),
        }
    }

    /// Whether the window has room for one view only.
    pub fn narrow(&self) -> bool {
        self.room.get().0 < NARROW
    }

    /// The same, not followed.
    pub fn narrow_now(&self) -> bool {
        untrack(|| self.narrow())
    }

    /// Whether one view is shown at a time.
    pub fn one_view(&self) -> bool {
        self.narrow() || self.alone.get()
    }

    /// Shows all views again, or all of the one there is room for.
    pub fn show_whole(&self) {
        self.alone.set(false);
        self.glass.update(|glass| glass.zoom = 0.0);
    }

    /// Adds a step; what was opened at steps that are forgotten is forgotten too.
    fn push(&self, name: String, lines: Arc<Lines>) {
        let before = self.history.with_untracked(History::depth);
        self.history.update(|h| h.push(name, lines));
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

    /// Draws these lines beside those that stand, as what stood before, until others stand.
    pub fn show_before(&self, name: String, lines: Arc<Lines>) {
        self.beside.set(Some(Beside {
            name,
            lines,
            before: Some(self.standing_now()),
        }));
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

    /// Ends a gesture: its draft becomes one step.
    pub fn keep(&self, name: String) {
        if let Some(lines) = self.draft.get_untracked() {
            let changed = self.history.with_untracked(|h| **h.now() != *lines);
            if changed {
                self.push(name, lines);
            }
            self.draft.set(None);
        }
    }

    /// Drops a gesture.
    pub fn drop_draft(&self) {
        if self.draft.with_untracked(Option::is_some) {
            self.draft.set(None);
        }
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
        if self.held.get_untracked() || !self.may_edit() {
            return;
        }
        self.draft.set(None);
        let mut said = None;
        let before = self.history.with_untracked(|h| Arc::clone(h.now()));
        self.history.update(|history| said = act(history));
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

    /// Keeps what stands, for other work takes its place and undo ends with the page; the example only with changes.
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

    /// Picks a place of other lines, with the comb of its line.
    fn begin_at(&self, pick: Pick) {
        self.pick.set(pick);
        self.combs.set(BTreeSet::from([comb_key(pick.on)]));
        self.tooth.set(0);
        self.hidden.set(Hidden::default());
        self.lift_no_more();
        self.alone.set(false);
        self.glass.set(first_glass(&self.standing_now(), pick));
    }

    /// Keeps the pick on something that is there.
    fn mend_pick(&self) {
        let lines = self.standing_now();
        let pick = self.pick.get_untracked();
        let there = lines.body.station(pick.station).is_some()
            && lines.body.points.iter().any(|p| p.on == pick.on);
        if there {
            self.pick_at(pick.on, pick.station);
        } else {
            self.begin_at(first_pick(&lines));
        }
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
        self.mend_pick();
    }

    /// Picks a point by its id.
    pub fn pick_point(&self, id: PointId) {
        let lines = self.standing_now();
        if let Some(point) = lines.body.point(id) {
            self.set_pick(Pick {
                on: point.on,
                station: point.station,
                point: Some(id),
            });
        }
    }

    /// Picks what a verdict or a matter is of.
    pub fn pick_subject(&self, subject: Subject) {
        match subject {
            Subject::Point(id) => self.pick_point(id),
            Subject::Line { on, station } => self.pick_at(on, station),
            Subject::Section(station) => {
                let on = self.pick.get_untracked().on;
                self.pick_at(on, station);
            }
        }
    }

    /// Picks a line at a station, and the point there where there is one.
    pub fn pick_at(&self, on: On, station: StationId) {
        let lines = self.standing_now();
        let kept = self.pick.get_untracked();
        let point = match kept.point.and_then(|id| lines.body.point(id)) {
            Some(point) if point.on == on && point.station == station => Some(point.id),
            _ => lines.body.point_on(station, on).map(|point| point.id),
        };
        self.set_pick(Pick { on, station, point });
    }

    fn set_pick(&self, pick: Pick) {
        if self.pick.get_untracked() == pick {
            return;
        }
        let left = untrack(|| {
            let all = [Axis::Height, Axis::HalfBreadth];
            all.into_iter().find_map(|axis| self.typed(axis))
        });
        if let Some(left) = left {
            let name = self.standing_now().body.point_name(left.point);
            let text = format!("{name}: {} was not taken. {}", left.text, left.says);
            self.say(NoteKind::Fault, text);
        }
        self.pick.set(pick);
    }

    /// What was typed for a coordinate of the picked point and is not taken.
    pub fn typed(&self, axis: Axis) -> Option<Typed> {
        let (point, lines) = (self.pick.get().point?, self.standing());
        let here = |t: &&Typed| t.point == point && t.axis == axis && Arc::ptr_eq(&t.lines, &lines);
        self.typed.with(|all| all.iter().find(here).cloned())
    }

    /// Keeps what was typed for a coordinate of the picked point and is not taken.
    pub fn keep_typed(&self, axis: Axis, text: &str, says: String, mm: Option<f64>) {
        let lines = self.standing_now();
        let Some(point) = self.pick.get_untracked().point else {
            return;
        };
        self.typed.update(|all| {
            all.retain(|t| Arc::ptr_eq(&t.lines, &lines) && (t.point, t.axis) != (point, axis));
            all.push(Typed {
                axis,
                text: text.to_owned(),
                says,
                mm,
                point,
                lines,
            });
        });
    }

    /// Leaves what was typed for a coordinate of the picked point.
    pub fn leave_typed(&self, axis: Axis) {
        let point = self.pick.get_untracked().point;
        self.typed.update(|all| {
            all.retain(|t| Some(t.point) != point || t.axis != axis);
        });
    }

    /// Puts what is lifted away, and the tape with it.
    pub fn lift_no_more(&self) {
        self.lifted.set(None);
        self.tape_from.set(None);
    }

    /// Shows the keel line with its comb alone, and so the upsweep; the station stays.
    pub fn show_upsweep(&self) {
        let lines = self.standing_now();
        let station = self.pick.get_untracked().station;
        let at = |p: &Point| lines.body.station(p.station).map_or(f64::INFINITY, |s| s.x);
        let x = lines.body.station(station).map_or(0.0, |s| s.x);
        let keels = lines.body.points.iter().filter(|p| p.on == On::Keel);
        let nearest = keels.min_by(|a, b| (at(a) - x).abs().total_cmp(&(at(b) - x).abs()));
        self.combs.set(BTreeSet::from([On::Keel]));
        self.hidden.update(|hidden| {
            hidden.lines.remove(&On::Keel);
        });
        self.shown.set(Shown::Profile);
        match nearest {
            Some(point) => self.pick_point(point.id),
            None => self.pick_at(On::Keel, station),
        }
    }

    /// Draws the comb of a line, or no longer.
    pub fn toggle_comb(&self, on: On) {
        self.combs.update(|combs| {
            let key = comb_key(on);
            if !combs.remove(&key) {
                combs.insert(key);
            }
        });
    }
}

/// A document with nothing in it.
pub fn empty(notes: &str) -> Lines {
    let mut lines = Lines::empty("New lines", LengthUnit::Millimetres);
    notes.clone_into(&mut lines.about.notes);
    lines
}
