//! What the page adds to the lines plan that `geometry` draws: where its points can be picked, the ring round the picked
//! one, and the focus on their buttons.

use geometry::document::{Lines, Offset, PointId};
use geometry::issue::lines_plan::{Frame, Hidden, Layout, Scene, Shown, reads};
use leptos::prelude::document;

use super::drawing::Point;
use crate::exchange;

/// A point as it can be picked in one view.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Target {
    /// The point.
    pub point: PointId,
    /// The view.
    pub view: Shown,
    /// Place on the screen, px.
    pub at: Point,
    /// Which way its reading grows on the screen: up where it has none here.
    pub grows: Point,
}

/// Every point in every view, in the order of stations, crown to keel.
pub fn targets(
    lines: &Lines,
    offsets: &[Vec<Offset>],
    layout: &Layout,
    hidden: &Hidden,
) -> Vec<Target> {
    let mut found = Vec::new();
    for (index, (station, offsets)) in lines.body.stations.iter().zip(offsets).enumerate() {
        let hand = layout.hand(index);
        let drawn = !hidden.stations.contains(&station.id);
        for offset in offsets.iter().filter(|o| hidden.draws(o.on)) {
            for (view, at) in places(lines, layout, offset, (station.x, hand)) {
                if view == Shown::BodyPlan && !drawn {
                    continue;
                }
                let (height, _) = reads(lines, offset.on);
                let grows = if view == Shown::BodyPlan && !height {
                    (hand, 0.0)
                } else {
                    (0.0, -1.0)
                };
                found.push(Target {
                    point: offset.point,
                    view,
                    at,
                    grows,
                });
            }
        }
    }
    found
}

/// Where a point is drawn.
fn places(
    lines: &Lines,
    layout: &Layout,
    offset: &Offset,
    (x, hand): (f64, f64),
) -> impl Iterator<Item = (Shown, Point)> + use<> {
    let [y, z] = offset.accepted;
    let (height, breadth) = reads(lines, offset.on);
    let at = |frame: Option<Frame>, a: f64, b: f64| frame.map(|frame| frame.at(a, b));
    let shown = [
        (Shown::Profile, at(layout.profile.filter(|_| height), x, z)),
        (
            Shown::HalfBreadth,
            at(layout.half_breadth.filter(|_| breadth), x, y),
        ),
        (Shown::BodyPlan, at(layout.body, hand * y, z)),
    ];
    shown.into_iter().filter_map(|(view, at)| Some((view, at?)))
}

/// Where the picked point is ringed, in every view.
pub fn rings(scene: &Scene<'_>) -> Vec<Point> {
    let numbered = scene.offsets.iter().enumerate();
    let found = numbered
        .flat_map(|(index, offsets)| offsets.iter().map(move |o| (index, o)))
        .find(|(_, offset)| Some(offset.point) == scene.pick.point);
    let Some((index, offset)) = found else {
        return Vec::new();
    };
    let Some(station) = scene.lines.body.stations.get(index) else {
        return Vec::new();
    };
    let [y, z] = offset.accepted;
    let hand = scene.layout.hand(index);
    let views = [
        (scene.layout.profile, station.x, z),
        (scene.layout.half_breadth, station.x, y),
        (scene.layout.body, hand * y, z),
    ];
    views
        .into_iter()
        .filter_map(|(frame, a, b)| Some(frame?.at(a, b)))
        .collect()
}

/// What a view is called in the attributes of its points.
pub fn key_of(view: Shown) -> &'static str {
    match view {
        Shown::Profile => "profile",
        Shown::HalfBreadth => "half-breadth",
        Shown::BodyPlan => "body",
    }
}

/// Gives the view's Tab stop to a point, else to its first one.
pub fn rove(view: Shown, point: Option<PointId>) {
    let view = key_of(view);
    let find = |rest: &str| {
        let found = document().query_selector(&format!(".target[data-view=\"{view}\"]{rest}"));
        found.ok().flatten()
    };
    let old = find("[tabindex=\"0\"]");
    let new = point
        .and_then(|id| find(&format!("[data-point=\"{}\"]", id.0)))
        .or_else(|| find(""));
    for (element, stop) in [(old, "-1"), (new, "0")] {
        if let Some(element) = element
            && element.set_attribute("tabindex", stop).is_err()
        {
            leptos::logging::warn!("a Tab stop was not moved");
        }
    }
}

/// Puts the focus on a point, in a view where it is there, else in the first one that has it.
pub fn focus_point(point: PointId, view: Option<Shown>) -> bool {
    let of = |view: &str| format!(".target{view}[data-point=\"{}\"]", point.0);
    let wished =
        view.and_then(|view| exchange::focus(&of(&format!("[data-view=\"{}\"]", key_of(view)))));
    wished.or_else(|| exchange::focus(&of(""))).is_some()
}
