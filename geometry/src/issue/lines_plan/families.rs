//! The lines themselves, family by family.

use std::collections::BTreeMap;

use crate::compare::Move;
use crate::document::{Offset, On, Place, PointId, StationId};
use crate::lines::{Branch, Node};
use crate::num;

use super::comb::combs_beside;
use super::drawing::{Drawing, Kind, Strokes};
use super::names::{buttock_names, run_names, section_names, waterline_names};
use super::sections::{elsewhere, handed, told_apart};
use super::{
    Cut, Frame, RunTraced, Scales, Scene, ScreenPoint, Shown, Traced, above, comb_key, in_plan,
    shows_in_plan, side,
};

/// The two coordinates of a node that a view shows.
type Axes = fn(&Node) -> (f64, f64);

/// The lines of a scene, family by family.
#[derive(Default)]
struct Families {
    sections: Strokes,
    light_sections: Strokes,
    waterlines: Strokes,
    buttocks: Strokes,
    diagonals: Strokes,
    runs: Strokes,
}

/// Draws sections, waterlines, buttock lines, diagonals and run lines, and the picked one over them.
pub fn draw_lines(scene: &Scene<'_>) -> Drawing {
    let mut out = Drawing::default();
    let drawn = Families::of(scene);
    out.draw(Kind::LightSection, drawn.light_sections);
    out.draw(Kind::Section, drawn.sections);
    out.draw(Kind::Waterline, drawn.waterlines);
    out.draw(Kind::Buttock, drawn.buttocks);
    out.draw(Kind::Diagonal, drawn.diagonals);
    out.draw(Kind::Run, drawn.runs);
    out.draw(Kind::PickedSection, picked_section(scene));
    out.draw(Kind::PickedLine, picked_line(scene));
    let mut leaders = Strokes::default();
    let mut dots = Strokes::default();
    run_names(scene, &mut out);
    waterline_names(scene, &mut out, &mut leaders);
    buttock_names(scene, &mut out);
    section_names(scene, &mut out, (&mut leaders, &mut dots));
    out.draw(Kind::Leader, leaders);
    out.draw(Kind::Dot, dots);
    out
}

/// How many times as long as a move its stem is.
pub const STEMS: f64 = 10.0;

/// What stands now, to hold another state against.
#[derive(Clone, Copy, Debug)]
pub struct Standing<'a> {
    /// The offsets, station by station.
    pub offsets: &'a [Vec<Offset>],
    /// The lines.
    pub shown: &'a Traced,
    /// Lines whose curvature is shown.
    pub fine: &'a [(On, Vec<Branch>)],
}

/// Draws of another state's lines what lies elsewhere now, all with one pen, of their combs the same at the scale of those that
/// stand, and a stem on each point that lies elsewhere there.
///
/// `moved` says how far the skin has moved since at points that are used in that state only.
pub fn draw_beside(
    scene: &Scene<'_>,
    now: &Standing<'_>,
    moved: &[(PointId, Move)],
    scales: &Scales,
) -> Drawing {
    let mut out = Drawing::default();
    let standing = Scene {
        offsets: now.offsets,
        shown: now.shown,
        fine: now.fine,
        ..*scene
    };
    out.draw(Kind::OtherState, moved_lines(scene, &standing));
    let (there, here) = (combs_beside(scene, scales), combs_beside(&standing, scales));
    let mut tips = Strokes::default();
    for (on, lines) in &there {
        let own = here.iter().filter(|(line, _)| line == on);
        let own: Vec<_> = own.flat_map(|(_, lines)| lines.iter().cloned()).collect();
        for line in lines {
            tips_elsewhere(line, &own, &mut tips);
        }
    }
    out.draw(Kind::OtherComb, tips);
    let mut stems = stems(scene, now.offsets);
    for (id, by) in moved {
        skin_stem(scene, *id, by, &mut stems);
    }
    out.draw(Kind::MoveStem, stems);
    out
}

fn tips_elsewhere(line: &[ScreenPoint], own: &[Vec<ScreenPoint>], path: &mut Strokes) {
    for part in elsewhere(line, own) {
        path.line(part);
    }
}

/// The stretches of all lines that lie elsewhere in the standing state.
fn moved_lines(there: &Scene<'_>, now: &Scene<'_>) -> Strokes {
    let (before, after) = (drawn_lines(there), drawn_lines(now));
    let mut path = Strokes::default();
    for (what, line) in &before {
        let own = after.iter().filter(|(other, _)| other == what);
        let own: Vec<_> = own.map(|(_, line)| line.clone()).collect();
        for part in elsewhere(line, &own) {
            path.line(part);
        }
    }
    path
}

/// What a drawn line is, and in which view.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Seen {
    Section(StationId),
    Line(On, Shown),
}

/// Every line of a scene as it is drawn, each branch by itself.
fn drawn_lines(scene: &Scene<'_>) -> Vec<(Seen, Vec<ScreenPoint>)> {
    let layout = scene.layout;
    let mut all = Vec::new();
    let mut add = |what: Seen, branch: &Branch, frame: Option<Frame>, axes: Axes| {
        let Some(frame) = frame else { return };
        let mut line: Vec<ScreenPoint> = { branch.nodes.iter().map(axes) }
            .map(|(a, b)| frame.at(a, b))
            .collect();
        if branch.closed {
            line.extend(line.first().copied());
        }
        all.push((what, line));
    };
    for Cut {
        plane, branches, ..
    } in &scene.shown.planes
    {
        let on = On::Plane(plane.id);
        for branch in branches.iter() {
            if shows_in_plan(plane.place) {
                add(
                    Seen::Line(on, Shown::HalfBreadth),
                    branch,
                    layout.half_breadth,
                    above,
                );
            } else {
                add(Seen::Line(on, Shown::Profile), branch, layout.profile, side);
            }
        }
    }
    for RunTraced { on, profile, plan } in &scene.shown.runs {
        add(
            Seen::Line(*on, Shown::Profile),
            profile,
            layout.profile,
            side,
        );
        if matches!(on, On::RunLine(_)) {
            add(
                Seen::Line(*on, Shown::HalfBreadth),
                plan,
                layout.half_breadth,
                above,
            );
        }
    }
    for (hand, index, branch) in handed(scene) {
        let station = scene.lines.body.stations[index].id;
        let axes: Axes = if hand < 0.0 {
            |n| (-n.point.y, n.point.z)
        } else {
            |n| (n.point.y, n.point.z)
        };
        add(Seen::Section(station), branch, layout.body, axes);
    }
    all
}

/// From where the skin was at a point that is used no longer, to where it went.
fn skin_stem(scene: &Scene<'_>, id: PointId, by: &Move, path: &mut Strokes) {
    let body = &scene.lines.body;
    let station = |point: &crate::document::Point| body.station_index(point.station);
    let Some((on, index)) = body.point(id).and_then(|p| Some((p.on, station(p)?))) else {
        return;
    };
    let (from, to) = (by.at, by.at + by.outward * (STEMS * by.by));
    for seen in scene.seen_at(index, on) {
        path.stroke(seen.at([from.y, from.z]), seen.at([to.y, to.z]));
    }
}

fn stems(scene: &Scene<'_>, now: &[Vec<Offset>]) -> Strokes {
    const SLIGHT: f64 = 0.02; // mm
    let mut path = Strokes::default();
    let now = now.iter().flatten();
    let now: BTreeMap<PointId, [f64; 2]> =
        num::put_together(now.map(|offset| (offset.point, offset.accepted)));
    for (index, there) in scene.offsets.iter().enumerate() {
        for other in there {
            let Some(&[y, z]) = now.get(&other.point) else {
                continue;
            };
            let by = [other.accepted[0] - y, other.accepted[1] - z];
            if by[0].abs().max(by[1].abs()) < SLIGHT {
                continue;
            }
            for seen in scene.seen_at(index, other.on) {
                let to = [y + STEMS * by[0], z + STEMS * by[1]];
                path.stroke(seen.at([y, z]), seen.at(to));
            }
        }
    }
    path
}

impl Families {
    fn of(scene: &Scene<'_>) -> Self {
        let mut drawn = Self::default();
        for Cut {
            plane, branches, ..
        } in &scene.shown.planes
        {
            let (frame, path, axes): (_, _, Axes) = match plane.place {
                Place::Waterline(_) => (scene.layout.half_breadth, &mut drawn.waterlines, above),
                Place::Diagonal { .. } => (scene.layout.half_breadth, &mut drawn.diagonals, above),
                Place::Buttock(_) => (scene.layout.profile, &mut drawn.buttocks, side),
            };
            if let Some(frame) = frame {
                for branch in branches.iter() {
                    path.branch(branch, &frame, axes);
                }
            }
        }
        for RunTraced { on, profile, plan } in &scene.shown.runs {
            if let Some(frame) = scene.layout.profile {
                drawn.runs.branch(profile, &frame, side);
            }
            if let (Some(frame), On::RunLine(_)) = (scene.layout.half_breadth, on) {
                drawn.runs.branch(plan, &frame, above);
            }
        }
        body_sections(scene, &mut drawn);
        drawn
    }
}

fn body_sections(scene: &Scene<'_>, drawn: &mut Families) {
    let Some(frame) = scene.layout.body else {
        return;
    };
    let told = told_apart(scene);
    for (hand, index, branch) in handed(scene) {
        let sections = if told.contains(&index) {
            &mut drawn.sections
        } else {
            &mut drawn.light_sections
        };
        sections.line(
            branch
                .nodes
                .iter()
                .map(|n| frame.at(hand * n.point.y, n.point.z)),
        );
    }
    // Run lines across the sections: as dense as the run itself, each side on its own.
    let cut = scene.layout.extent.forward;
    let boundary = |index: usize| scene.lines.body.stations.get(index).map(|s| s.x);
    let last_forward = cut.checked_sub(1).and_then(boundary);
    let first_aft = boundary(cut);
    for RunTraced { on, profile, .. } in &scene.shown.runs {
        if !matches!(on, On::RunLine(_)) {
            continue;
        }
        let part = |hand: f64, keep: &dyn Fn(f64) -> bool| -> Vec<ScreenPoint> {
            let nodes = profile.nodes.iter().filter(|n| keep(n.point.x));
            nodes
                .map(|n| frame.at(hand * n.point.y, n.point.z))
                .collect()
        };
        let near = num::FIT;
        drawn.runs.line(part(-1.0, &|x| {
            last_forward.is_some_and(|to| x <= to + near)
        }));
        drawn.runs.line(part(1.0, &|x| {
            first_aft.is_some_and(|from| x >= from - near)
        }));
    }
}

fn picked_section(scene: &Scene<'_>) -> Strokes {
    let mut path = Strokes::default();
    if let Some(frame) = scene.layout.body {
        for (hand, index, branch) in handed(scene) {
            if scene.picked(scene.lines.body.stations[index].id) {
                path.line(
                    branch
                        .nodes
                        .iter()
                        .map(|n| frame.at(hand * n.point.y, n.point.z)),
                );
            }
        }
    }
    path
}

fn picked_line(scene: &Scene<'_>) -> Strokes {
    let mut path = Strokes::default();
    let on = comb_key(scene.pick.on);
    let plan = in_plan(scene.lines, on);
    for (_, branches) in scene.fine.iter().filter(|(line, _)| *line == on) {
        for branch in branches.iter() {
            if let (Some(frame), false) = (scene.layout.profile, plan) {
                path.branch(branch, &frame, side);
            }
            if let (Some(frame), true) = (
                scene.layout.half_breadth,
                plan || matches!(on, On::RunLine(_)),
            ) {
                path.branch(branch, &frame, above);
            }
        }
    }
    path
}
