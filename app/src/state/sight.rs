//! What is seen of the lines, and how: views, combs, what is lifted, what is drawn beside.

use std::collections::BTreeSet;
use std::sync::Arc;

use geometry::document::{Lines, On, Point, StationId};
use leptos::prelude::*;

use super::{Glass, Pick, Session, Shown, comb_key};

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

/// Windows narrower than this show one view at a time, px; `views.css` has the same.
pub const NARROW: f64 = 1200.0;

/// What a view that stands alone is first looked at with: the picked station in its middle.
pub(super) fn first_glass(lines: &Lines, pick: Pick) -> Glass {
    let x = lines.body.station(pick.station).map_or(0.0, |s| s.x);
    Glass {
        middle: [x, 0.0, 0.0],
        zoom: 1.0,
    }
}

/// What of the session concerns what is seen.
impl Session {
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
        !self.prints.get() && (self.narrow() || self.alone.get())
    }

    /// The browser begins to print, or has done so: a printed page has all views, whatever of them the window has room for.
    pub fn print(&self, begins: bool) {
        self.prints.set(begins);
    }

    /// Shows all views again, or all of the one there is room for.
    pub fn show_whole(&self) {
        self.alone.set(false);
        self.glass.update(|glass| glass.zoom = 0.0);
    }

    /// The window has so much room, px.
    pub fn measure_window(&self, room: (f64, f64)) {
        self.room.set(room);
    }

    /// The drawing has so much room, px.
    pub fn measure_sheet(&self, room: (f64, f64)) {
        if self.sheet.get_untracked() != room {
            self.sheet.set(room);
        }
    }

    /// Shows a view, where one is shown at a time.
    pub fn show_view(&self, view: Shown) {
        self.shown.set(view);
    }

    /// Shows a view alone, enlarged.
    pub fn enlarge(&self, view: Shown, glass: Glass) {
        self.shown.set(view);
        self.glass.set(glass);
        self.alone.set(true);
    }

    /// Moves the paper under a view that stands alone, so that this place is in its middle, mm.
    pub fn move_paper(&self, middle: [f64; 3]) {
        self.glass.update(|glass| glass.middle = middle);
    }

    /// Draws these lines beside those that stand, as what stood before, until others stand.
    pub fn show_before(&self, name: String, lines: Arc<Lines>) {
        self.beside.set(Some(Beside {
            name,
            lines,
            before: Some(self.standing_now()),
        }));
    }

    /// Draws another state beside the lines that stand, until it is put away.
    pub fn draw_beside(&self, name: String, lines: Arc<Lines>) {
        self.beside.set(Some(Beside {
            name,
            lines,
            before: None,
        }));
    }

    /// Draws nothing beside them.
    pub fn draw_nothing_beside(&self) {
        self.beside.set(None);
    }

    /// What stood before a step is drawn no longer than what the step made stands.
    pub(super) fn part_from_before(&self) {
        let standing = self.standing_now();
        let gone = self.beside.with_untracked(|beside| {
            let before = beside.as_ref().and_then(|beside| beside.before.as_ref());
            before.is_some_and(|of| !Arc::ptr_eq(&of.body, &standing.body))
        });
        if gone {
            self.beside.set(None);
        }
    }

    /// Lifts a place off the skin, by the loft's parameters.
    pub fn lift(&self, place: (f64, f64)) {
        self.lifted.set(Some(place));
    }

    /// Lays a tape from what is lifted to what is lifted next.
    pub fn measure_from_here(&self) {
        self.tape_from.set(self.lifted.get_untracked());
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

    /// Whether that is what is shown.
    pub fn shows_upsweep(&self) -> bool {
        let keel = |on: &On| *on == On::Keel;
        self.pick.with(|pick| keel(&pick.on))
            && self
                .combs
                .with(|combs| combs.iter().all(keel) && !combs.is_empty())
            && self.hidden.with(|hidden| !hidden.lines.contains(&On::Keel))
            && (!self.one_view() || self.shown.get() == Shown::Profile)
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

    /// Doubles the teeth of the combs.
    pub fn double_teeth(&self) {
        self.tooth.update(|doublings| *doublings += 1);
    }

    /// Halves them.
    pub fn halve_teeth(&self) {
        self.tooth.update(|doublings| *doublings -= 1);
    }

    /// Draws lines.
    pub fn draw_lines(&self, lines: &[On]) {
        self.hidden
            .update(|hidden| hidden.lines.retain(|on| !lines.contains(on)));
    }

    /// Draws lines no longer.
    pub fn hide_lines(&self, lines: &[On]) {
        self.hidden
            .update(|hidden| hidden.lines.extend(lines.iter().copied()));
    }

    /// Draws a line, or no longer.
    pub fn toggle_line(&self, on: On) {
        self.hidden.update(|hidden| {
            let key = comb_key(on);
            if !hidden.lines.remove(&key) {
                hidden.lines.insert(key);
            }
        });
    }

    /// Draws all sections but these.
    pub fn hide_sections(&self, stations: BTreeSet<StationId>) {
        self.hidden.update(|hidden| hidden.stations = stations);
    }

    /// Draws a section, or no longer.
    pub fn toggle_section(&self, station: StationId) {
        self.hidden.update(|hidden| {
            if !hidden.stations.remove(&station) {
                hidden.stations.insert(station);
            }
        });
    }
}
