//! Every point as a button, named aloud; and what is held of one.

use std::collections::BTreeMap;

use geometry::document::PointId;
use geometry::num::put_together;
use geometry::units::headed;
use leptos::prelude::*;

use crate::state::Shown;
use crate::state::axis::{Axis, axes};
use crate::state::derived::Derived;
use crate::views::drawing::{Point, px};
use crate::views::first::{Part, from};
use crate::views::picking::{Target, key_of};
use crate::views::words::spoken;

/// What holds a point.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum HeldBy {
    /// The pointer: where it was last, and while a finger has not moved yet, px.
    Pointer {
        /// Where it was last.
        last: Point,
        /// Whether it may only mean to tap.
        taps: bool,
    },
    /// The keys.
    Keys,
}

/// A point that is held.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Held {
    pub(super) target: Target,
    pub(super) axis: Axis,
    pub(super) by: HeldBy,
    /// The coordinate when it was taken hold of, and now, mm.
    pub(super) start: f64,
    pub(super) now: f64,
    pub(super) recorded: f64,
    pub(super) tolerance: f64,
    /// Whether the pointer pressed it when it was the picked one already.
    pub(super) again: bool,
}

/// Every point as a button, in the views that show it; an edit keeps each button, and so the focus.
#[component]
pub(super) fn Targets(targets: Memo<Vec<Target>>, held: RwSignal<Option<Held>>) -> impl IntoView {
    let derived = expect_context::<Derived>();
    let placed = Memo::new(move |_| {
        let lines = derived.standing.get();
        let all = targets.get().into_iter();
        let named = all.map(|t| {
            (
                (t.view, t.point),
                (t.at, name_aloud(&lines, derived, t.point)),
            )
        });
        put_together::<_, BTreeMap<_, _>>(named)
    });
    let lifted = Memo::new(move |_| held.get().map(|held| (held.target.view, held.target.point)));
    let button = move |view: Shown, point: PointId| {
        let look = move |read: fn(&(Point, String)) -> String| {
            move || placed.with(|placed| placed.get(&(view, point)).map(read))
        };
        view! {
            <circle
                class="target"
                role="button"
                tabindex="-1"
                aria-label=look(|(_, name)| name.clone())
                aria-pressed=move || (lifted.get() == Some((view, point))).to_string()
                data-point=point.0.to_string()
                data-view=key_of(view)
                cx=look(|(at, _)| px(at.0))
                cy=look(|(at, _)| px(at.1))
                r="6"
            />
        }
    };
    let group = move |view: Shown| {
        let points = move || {
            let seen = |t: &Target| (t.view == view).then_some(t.point);
            targets.with(|all| all.iter().filter_map(seen).collect::<Vec<_>>())
        };
        view! {
            <g role="group" aria-label=name_of(view)>
                <For each=points key=|point| point.0 children=move |point| button(view, point)/>
            </g>
        }
    };
    view! {
        {group(Shown::Profile)}
        {from(Part::HalfBreadth, move || group(Shown::HalfBreadth))}
        {from(Part::BodyPlan, move || group(Shown::BodyPlan))}
    }
}

/// A point's name, value and tolerance, to be read aloud.
fn name_aloud(lines: &geometry::document::Lines, derived: Derived, id: PointId) -> String {
    let Some(point) = lines.body.point(id) else {
        return String::new();
    };
    let station = lines
        .body
        .station(point.station)
        .map_or("", |s| s.label.as_str());
    let line = lines
        .body
        .line_name(point.on)
        .unwrap_or_else(|| lines.body.name_of(point));
    let mut name = format!("{}, station {station}", headed(&line));
    for axis in axes(point) {
        if let Some(mm) = axis.accepted(point, derived.moved_out(id)) {
            name = format!("{name}, {} {}", axis.name(), spoken(mm, lines.about.unit));
        }
    }
    let tolerance = point.merged().tolerance;
    format!("{name}, tolerance {tolerance} millimetres")
}

fn name_of(view: Shown) -> &'static str {
    match view {
        Shown::Profile => "Profile",
        Shown::HalfBreadth => "Half-breadth",
        Shown::BodyPlan => "Body plan",
    }
}
