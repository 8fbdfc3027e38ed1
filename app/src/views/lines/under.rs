//! What lies under a place of the drawing, and so what a press there means: a point, a line or section, the paper.

use geometry::document::{On, Place, PointId, StationId};
use geometry::issue::lines_plan::{Cut, RunTraced, is_own, nearest_on};
use geometry::lines::{Branch, Node};
use leptos::prelude::*;

use super::Sheet;
use crate::state::derived::Derived;
use crate::views::drawing::Point;
use crate::views::picking::Target;

/// How near the pointer takes hold of a point, and of a line, px.
const REACH: f64 = 20.0;
const NEAR_LINE: f64 = 7.0;

/// How much nearer what is picked counts than it is, px.
const FAVOUR: f64 = 4.0;

/// What a press may mean.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Meant {
    Point(Target),
    Line(Met),
    Paper,
}

/// What is drawn under a place, and where on the skin that is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Met {
    pub(super) of: Of,
    pub(super) uv: (f64, f64),
}

/// What a drawn line is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Of {
    Line(On),
    /// A line of the drawing alone.
    Own(Place),
    Section(StationId),
}

/// What is meant by a place: a point where it is within a line's reach, else the line under it, else a point further
/// away. What is picked keeps the hand where points lie close.
pub(super) fn meant(sheet: Sheet, derived: Derived, at: Point, picked: Option<PointId>) -> Meant {
    let nearest = sheet.targets.with_untracked(|targets| {
        let far = |t: &Target| {
            let favour = if Some(t.point) == picked { FAVOUR } else { 0.0 };
            geometry::num::hypot(t.at.0 - at.0, t.at.1 - at.1) - favour
        };
        let near = targets.iter().map(|t| (far(t), *t));
        near.filter(|(far, _)| *far < REACH)
            .min_by(|a, b| a.0.total_cmp(&b.0))
    });
    match (nearest, line_under(sheet, derived, at)) {
        (Some((far, target)), line) if far < NEAR_LINE || line.is_none() => Meant::Point(target),
        (_, Some(met)) => Meant::Line(met),
        _ => Meant::Paper,
    }
}

/// What is drawn under a place: a line, or a section of the body plan, and where on the skin that is.
fn line_under(sheet: Sheet, derived: Derived, at: Point) -> Option<Met> {
    let layout = sheet.layout.get_untracked();
    let shown = derived.shown.get_untracked()?;
    let lines = derived.standing.get_untracked();
    let mut best: Option<(f64, Met)> = None;
    let mut look = |of: Of, branch: &Branch, place: &dyn Fn(&Node) -> Point| {
        for pair in branch.nodes.windows(2) {
            let (far, share) = nearest_on(at, [place(&pair[0]), place(&pair[1])]);
            if far < NEAR_LINE && best.as_ref().is_none_or(|(least, _)| far < *least) {
                let mix = |a: f64, b: f64| a + (b - a) * share;
                let uv = (mix(pair[0].u, pair[1].u), mix(pair[0].v, pair[1].v));
                best = Some((far, Met { of, uv }));
            }
        }
    };
    if let Some(frame) = layout.profile {
        for RunTraced { on, profile, .. } in &shown.runs {
            look(Of::Line(*on), profile, &|n| frame.at(n.point.x, n.point.z));
        }
    }
    if let Some(frame) = layout.half_breadth {
        for RunTraced { on, plan, .. } in &shown.runs {
            if matches!(on, On::RunLine(_)) {
                look(Of::Line(*on), plan, &|n| frame.at(n.point.x, n.point.y));
            }
        }
    }
    for Cut {
        plane, branches, ..
    } in &shown.planes
    {
        let of = if is_own(&lines.body, plane.id) {
            Of::Own(plane.place)
        } else {
            Of::Line(On::Plane(plane.id))
        };
        let height = matches!(plane.place, Place::Buttock(_));
        for branch in branches.iter() {
            match (height, layout.profile, layout.half_breadth) {
                (true, Some(frame), _) => {
                    look(of, branch, &|n| frame.at(n.point.x, n.point.z));
                }
                (false, _, Some(frame)) => {
                    look(of, branch, &|n| frame.at(n.point.x, n.point.y));
                }
                _ => {}
            }
        }
    }
    if let Some(frame) = layout.body {
        for (station, branch) in &shown.sections {
            let hand = lines
                .body
                .station_index(*station)
                .map_or(1.0, |i| layout.hand(i));
            look(Of::Section(*station), branch, &|n| {
                frame.at(hand * n.point.y, n.point.z)
            });
        }
    }
    best.map(|(_, met)| met)
}
