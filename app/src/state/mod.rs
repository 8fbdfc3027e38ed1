//! The session: the only signals that outlive a view, and the only ways to change them.
//!
//! In: what a person does. Out: [`Session`], handed down by context. What can be derived from it is in `derived`.

pub mod derived;

use std::collections::BTreeSet;
use std::sync::Arc;

use geometry::document::{Edit, Folder, History, Lines, On, PointId, StationId, read_folder};
use geometry::units::{LengthUnit, Message};
use leptos::prelude::*;

/// The demo that the page opens on.
const DEMO: &[u8] = include_bytes!("../../../public/demo/marram.json");

/// What is picked, and so ringed in all views.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Pick {
    /// The line.
    pub on: On,
    /// The station.
    pub station: StationId,
}

/// What a note to the person is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum NoteKind {
    /// It was done.
    Done,
    /// It was not done, and why.
    Fault,
}

/// A sentence to the person, which stays until the next one.
#[derive(Clone, Debug, PartialEq)]
pub struct Note {
    /// Done or not.
    pub kind: NoteKind,
    /// The sentence.
    pub text: String,
}

/// Which of the three views a small screen shows.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Shown {
    /// From the side.
    Profile,
    /// From above.
    HalfBreadth,
    /// From the ends.
    BodyPlan,
}

/// Everything that outlives a view.
#[derive(Clone, Copy, Debug)]
pub struct Session {
    /// The documents of this session.
    pub history: RwSignal<History>,
    /// What a gesture that is not finished makes of the document.
    pub draft: RwSignal<Option<Arc<Lines>>>,
    /// Lines from a link, looked at beside one's own.
    pub looking: RwSignal<Option<Arc<Lines>>>,
    /// What is picked.
    pub pick: RwSignal<Pick>,
    /// Lines that show their comb.
    pub combs: RwSignal<BTreeSet<On>>,
    /// Doublings of the teeth, over what the drawing would choose.
    pub tooth: RwSignal<i32>,
    /// The last sentence to the person.
    pub note: RwSignal<Option<Note>>,
    /// The view of a small screen.
    pub shown: RwSignal<Shown>,
    /// Whether the demo is what is open.
    pub example: RwSignal<bool>,
}

/// The point that is first picked: the keel (or what there is) where the upsweep is.
fn first_pick(lines: &Lines) -> Pick {
    let at = lines.stations.len() * 2 / 3;
    let station = lines
        .stations
        .get(at)
        .or(lines.stations.last())
        .map_or(StationId(0), |s| s.id);
    let keel = lines.points.iter().any(|p| p.on == On::Keel);
    let on = if keel {
        On::Keel
    } else {
        lines.points.first().map_or(On::Keel, |p| p.on)
    };
    Pick { on, station }
}

impl Session {
    /// A session that opens on the demo.
    pub fn new() -> Self {
        let folder = read_folder(DEMO).unwrap_or_else(|error| Folder {
            lines: empty(&format!("The demo can't be opened: {error}")),
            revisions: Vec::new(),
        });
        let pick = first_pick(&folder.lines);
        Self {
            history: RwSignal::new(History::new(Arc::new(folder.lines))),
            draft: RwSignal::new(None),
            looking: RwSignal::new(None),
            pick: RwSignal::new(pick),
            combs: RwSignal::new(BTreeSet::from([pick.on])),
            tooth: RwSignal::new(0),
            note: RwSignal::new(None),
            shown: RwSignal::new(Shown::Profile),
            example: RwSignal::new(true),
        }
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
        self.standing().unit
    }

    /// Says something to the person.
    pub fn say(&self, kind: NoteKind, text: String) {
        self.note.set(Some(Note { kind, text }));
    }

    /// Whether the lines that are seen may be changed; says so where they may not.
    fn may_edit(&self) -> bool {
        let may = self.looking.with_untracked(Option::is_none);
        if !may {
            self.say(
                NoteKind::Fault,
                "These are shared lines, to look at. Take a copy to change them.".to_owned(),
            );
        }
        may
    }

    /// Does an edit as one step; where it is refused, says why and leaves all as it was.
    pub fn edit(&self, edit: &Edit) {
        if !self.may_edit() {
            return;
        }
        self.draft.set(None);
        let unit = untrack(|| self.unit());
        let mut done = Ok(());
        self.history.update(|history| done = history.edit(edit));
        match done {
            Ok(()) => self.note.set(None),
            Err(error) => self.say(NoteKind::Fault, error.message(unit)),
        }
    }

    /// Shows what an edit would make, while a gesture lasts.
    pub fn try_out(&self, edit: &Edit) {
        if !self.may_edit() {
            return;
        }
        let unit = untrack(|| self.unit());
        match self.history.with_untracked(|h| h.now().apply(edit)) {
            Ok(lines) => self.draft.set(Some(Arc::new(lines))),
            Err(error) => self.say(NoteKind::Fault, error.message(unit)),
        }
    }

    /// Ends a gesture: its draft becomes one step.
    pub fn keep(&self, name: String) {
        if let Some(lines) = self.draft.get_untracked() {
            let changed = self.history.with_untracked(|h| **h.now() != *lines);
            if changed {
                self.history.update(|h| h.push(name, lines));
            }
            self.draft.set(None);
        }
    }

    /// Drops a gesture.
    pub fn drop_draft(&self) {
        self.draft.set(None);
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
        if !self.may_edit() {
            return;
        }
        self.draft.set(None);
        let mut said = None;
        self.history.update(|history| said = act(history));
        if let Some(said) = said {
            self.say(NoteKind::Done, said);
        }
        self.mend_pick();
    }

    /// Puts a document in the place of the one that stands, as one step.
    pub fn take_in(&self, lines: Lines, name: &str) {
        self.looking.set(None);
        self.draft.set(None);
        let pick = first_pick(&lines);
        self.history
            .update(|h| h.push(name.to_owned(), Arc::new(lines)));
        self.example.set(false);
        self.pick.set(pick);
        self.combs.set(BTreeSet::from([pick.on]));
        self.say(
            NoteKind::Done,
            format!("{name}. Undo brings back what was open."),
        );
    }

    /// Keeps the pick on something that is there.
    fn mend_pick(&self) {
        let lines = self.standing_now();
        let pick = self.pick.get_untracked();
        let there =
            lines.station(pick.station).is_some() && lines.points.iter().any(|p| p.on == pick.on);
        if !there {
            let pick = first_pick(&lines);
            self.pick.set(pick);
            self.combs.set(BTreeSet::from([pick.on]));
        }
    }

    /// Looks at shared lines beside one's own.
    pub fn look(&self, lines: Lines) {
        let pick = first_pick(&lines);
        self.draft.set(None);
        self.looking.set(Some(Arc::new(lines)));
        self.pick.set(pick);
        self.combs.set(BTreeSet::from([pick.on]));
    }

    /// Goes back to one's own lines.
    pub fn look_no_more(&self) {
        self.looking.set(None);
        self.mend_pick();
    }

    /// Picks a point by its id.
    pub fn pick_point(&self, id: PointId) {
        let lines = self.standing_now();
        if let Some(point) = lines.point(id) {
            self.pick.set(Pick {
                on: point.on,
                station: point.station,
            });
        }
    }
}

/// A document with nothing in it.
pub fn empty(notes: &str) -> Lines {
    Lines {
        title: "New lines".to_owned(),
        notes: notes.to_owned(),
        revision: String::new(),
        unit: LengthUnit::Millimetres,
        method: geometry::document::LOFT_METHOD,
        sources: Vec::new(),
        stations: Vec::new(),
        ends: geometry::document::Ends::default(),
        planes: Vec::new(),
        run_lines: Vec::new(),
        points: Vec::new(),
        centreline: geometry::document::Centreline::default(),
        shop: geometry::document::Shop::default(),
    }
}
