//! What is picked, and what was typed for it.

use std::collections::BTreeSet;
use std::sync::Arc;

use geometry::document::{Lines, On, PointId, StationId};
use geometry::settle::Subject;
use leptos::prelude::*;

use super::axis::Axis;
use super::sight::first_glass;
use super::{Hidden, NoteKind, Pick, Session, Shown, comb_key};

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

/// The point that is first picked: the keel (or what there is) where the upsweep is.
pub(super) fn first_pick(lines: &Lines) -> Pick {
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

/// What of the session concerns what is picked.
impl Session {
    /// Picks a place of other lines, with the comb of its line.
    pub(super) fn begin_at(&self, pick: Pick) {
        self.pick.set(pick);
        self.combs.set(BTreeSet::from([comb_key(pick.on)]));
        self.tooth.set(0);
        self.hidden.set(Hidden::default());
        self.lift_no_more();
        self.alone.set(false);
        self.glass.set(first_glass(&self.standing_now(), pick));
    }

    /// Keeps the pick on something that is there.
    pub(super) fn mend_pick(&self) {
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

    /// Picks the point that now stands where is picked, after an edit put one there or took it away.
    pub(super) fn renew_pick(&self) {
        let (lines, pick) = (self.standing_now(), self.pick.get_untracked());
        let stands = pick.point.is_some_and(|id| lines.body.point(id).is_some());
        if !stands {
            self.pick_at(pick.on, pick.station);
        }
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

    /// The keys go from a point in a view to its value's box.
    pub fn type_from(&self, view: Shown) {
        self.typed_from.set(Some(view));
    }
}
