//! The lines themselves, family by family, with their names.

use std::collections::BTreeMap;

use geometry::compare::Move;
use geometry::document::{Offset, On, Place, Plane, PointId};
use geometry::lines::{Branch, Node};

use super::super::drawing::{Drawing, Frame, Path, Point, every, label, spread};
use super::curvature::{Scales, comb_beside};
use super::paper::widest;
use super::{Scene, above, bare, in_plan, reads, side};
use crate::state::comb_key;
use crate::state::derived::Cut;

/// The two coordinates of a node that a view shows.
type Axes = fn(&Node) -> (f64, f64);

/// The lines of a scene, family by family.
#[derive(Default)]
struct Families {
    sections: Path,
    waterlines: Path,
    buttocks: Path,
    diagonals: Path,
    runs: Path,
}

/// Draws sections, waterlines, buttock lines, diagonals and run lines, and the picked one over them.
pub fn draw_lines(scene: &Scene<'_>) -> Drawing {
    let mut out = Drawing::default();
    let drawn = Families::of(scene);
    out.path("section", drawn.sections);
    out.path("waterline", drawn.waterlines);
    out.path("buttock", drawn.buttocks);
    out.path("diagonal", drawn.diagonals);
    out.path("run", drawn.runs);
    out.path("picked-section", picked_section(scene));
    out.path("picked-line", picked_line(scene));
    let mut leaders = Path::default();
    let mut dots = Path::default();
    run_names(scene, &mut out);
    waterline_names(scene, &mut out, &mut leaders);
    buttock_names(scene, &mut out);
    section_names(scene, &mut out, (&mut leaders, &mut dots));
    out.path("leader", leaders);
    out.path("dot", dots);
    out
}

/// How many times as long as a move its stem is.
pub const STEMS: f64 = 10.0;

/// Draws another state's lines, all with one pen, their combs at the scale of those that stand, and a stem on each point that
/// lies elsewhere there.
///
/// `now` are the offsets that stand, station by station; `moved` says how far the skin has moved since at points that are used
/// in that state only.
pub fn draw_beside(
    scene: &Scene<'_>,
    now: &[Vec<Offset>],
    moved: &[(PointId, Move)],
    scales: &Scales,
) -> Drawing {
    let mut out = Drawing::default();
    let drawn = Families::of(scene);
    for path in [
        drawn.sections,
        drawn.waterlines,
        drawn.buttocks,
        drawn.diagonals,
        drawn.runs,
    ] {
        out.path("other-state", path);
    }
    out.path("other-comb", comb_beside(scene, scales));
    let mut stems = stems(scene, now);
    for (id, by) in moved {
        skin_stem(scene, *id, by, &mut stems);
    }
    out.path("move-stem", stems);
    out
}

/// From where the skin was at a point that is used no longer, to where it went.
fn skin_stem(scene: &Scene<'_>, id: PointId, by: &Move, path: &mut Path) {
    let Some(point) = scene
        .lines
        .body
        .point(id)
        .filter(|p| scene.hidden.draws(p.on))
    else {
        return;
    };
    let (from, to) = (by.at, by.at + by.outward * (STEMS * by.by));
    let (height, breadth) = reads(scene.lines, point.on);
    if let (Some(frame), true) = (scene.layout.profile, height) {
        path.stroke(frame.at(from.x, from.z), frame.at(to.x, to.z));
    }
    if let (Some(frame), true) = (scene.layout.half_breadth, breadth) {
        path.stroke(frame.at(from.x, from.y), frame.at(to.x, to.y));
    }
    if let Some((frame, index)) =
        { scene.layout.body }.zip(scene.lines.body.station_index(point.station))
    {
        let hand = scene.layout.hand(index);
        path.stroke(frame.at(hand * from.y, from.z), frame.at(hand * to.y, to.z));
    }
}

fn stems(scene: &Scene<'_>, now: &[Vec<Offset>]) -> Path {
    const SLIGHT: f64 = 0.02; // mm
    let mut path = Path::default();
    let now: BTreeMap<PointId, [f64; 2]> = { now.iter().flatten() }
        .map(|offset| (offset.point, offset.accepted))
        .collect();
    for (index, (station, there)) in scene
        .lines
        .body
        .stations
        .iter()
        .zip(scene.offsets)
        .enumerate()
    {
        for other in there.iter().filter(|o| scene.hidden.draws(o.on)) {
            let Some(&[y, z]) = now.get(&other.point) else {
                continue;
            };
            let by = [other.accepted[0] - y, other.accepted[1] - z];
            if by[0].abs().max(by[1].abs()) < SLIGHT {
                continue;
            }
            let to = [y + STEMS * by[0], z + STEMS * by[1]];
            let (height, breadth) = reads(scene.lines, other.on);
            let x = station.x;
            if let (Some(frame), true) = (scene.layout.profile, height) {
                path.stroke(frame.at(x, z), frame.at(x, to[1]));
            }
            if let (Some(frame), true) = (scene.layout.half_breadth, breadth) {
                path.stroke(frame.at(x, y), frame.at(x, to[0]));
            }
            if let Some(frame) = scene.layout.body {
                let hand = scene.layout.hand(index);
                path.stroke(frame.at(hand * y, z), frame.at(hand * to[0], to[1]));
            }
        }
    }
    path
}

impl Families {
    fn of(scene: &Scene<'_>) -> Self {
        let mut drawn = Self::default();
        for Cut { id, branches, .. } in &scene.shown.planes {
            let Some(plane) = scene.lines.body.plane(*id) else {
                continue;
            };
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
        for (on, profile, plan) in &scene.shown.runs {
            if let Some(frame) = scene.layout.profile {
                drawn.runs.branch(profile, &frame, side);
            }
            if let (Some(frame), On::RunLine(_)) = (scene.layout.half_breadth, on) {
                drawn.runs.branch(plan, &frame, above);
            }
        }
        body_sections(scene, &mut drawn.sections, &mut drawn.runs);
        drawn
    }
}

fn body_sections(scene: &Scene<'_>, sections: &mut Path, runs: &mut Path) {
    let Some(frame) = scene.layout.body else {
        return;
    };
    for (hand, _, branch) in handed(scene) {
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
    for (on, profile, _) in &scene.shown.runs {
        if !matches!(on, On::RunLine(_)) {
            continue;
        }
        let part = |hand: f64, keep: &dyn Fn(f64) -> bool| -> Vec<Point> {
            let nodes = profile.nodes.iter().filter(|n| keep(n.point.x));
            nodes
                .map(|n| frame.at(hand * n.point.y, n.point.z))
                .collect()
        };
        let near = geometry::num::FIT;
        runs.line(part(-1.0, &|x| {
            last_forward.is_some_and(|to| x <= to + near)
        }));
        runs.line(part(1.0, &|x| {
            first_aft.is_some_and(|from| x >= from - near)
        }));
    }
}

/// The sections with the hand they are drawn on and their station's number.
fn handed<'a>(scene: &'a Scene<'_>) -> impl Iterator<Item = (f64, usize, &'a Branch)> {
    scene.shown.sections.iter().filter_map(|(id, branch)| {
        let index = scene.lines.body.station_index(*id)?;
        Some((scene.layout.hand(index), index, branch))
    })
}

fn picked_section(scene: &Scene<'_>) -> Path {
    let mut path = Path::default();
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

fn picked_line(scene: &Scene<'_>) -> Path {
    let mut path = Path::default();
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

/// The class of a line's name: the accent where it is picked.
fn pen_of(scene: &Scene<'_>, on: On, else_: &'static str) -> &'static str {
    if comb_key(scene.pick.on) == comb_key(on) {
        "picked"
    } else {
        else_
    }
}

fn run_names(scene: &Scene<'_>, out: &mut Drawing) {
    let Some(frame) = scene.layout.profile else {
        return;
    };
    let right = scene.layout.ends[1];
    // Where the view is cut off, a name stands on its line at the edge.
    let (x, at_edge) = if right + 44.0 > scene.layout.size.0 {
        (scene.layout.size.0 - 8.0, true)
    } else {
        (right + 10.0, false)
    };
    let end = |branch: &Branch| {
        let seen = |n: &&Node| frame.x(n.point.x) <= scene.layout.size.0 - 24.0;
        let last = branch.nodes.iter().rev().find(seen)?;
        Some(frame.y(last.point.z))
    };
    let (names, mut places): (Vec<On>, Vec<f64>) = scene
        .shown
        .runs
        .iter()
        .filter_map(|(on, profile, _)| Some((*on, end(profile)?)))
        .filter(|(_, y)| (frame.area[1]..=frame.area[3]).contains(y))
        .unzip();
    spread(&mut places, 13.0, frame.area[1], frame.area[3]);
    for (on, y) in names.into_iter().zip(places) {
        let Some(name) = scene.lines.body.line_name(on) else {
            continue;
        };
        let y = if at_edge { y - 7.0 } else { y + 4.0 };
        let mut name = label((x, y), name).pen(pen_of(scene, on, "ink"));
        if at_edge {
            name = name.end().patched();
        }
        out.label(name);
    }
}

fn first_of(branches: &[Branch]) -> Option<&Node> {
    branches
        .iter()
        .flat_map(|b| b.nodes.first().into_iter().chain(b.nodes.last()))
        .min_by(|a, b| a.point.x.total_cmp(&b.point.x))
}

/// Names in a column stand so far apart, px.
const GAP: f64 = 11.5;

fn waterline_names(scene: &Scene<'_>, out: &mut Drawing, leaders: &mut Path) {
    let Some(frame) = scene.layout.half_breadth else {
        return;
    };
    let left = scene.layout.ends[0];
    let mut starts: Vec<(On, String, f64)> = Vec::new();
    let seen = |branches: &[Branch]| -> Option<Point> {
        if scene.layout.alone {
            // The place where the line comes into sight.
            let nodes = branches.iter().flat_map(|b| &b.nodes);
            let inside = nodes.filter(|n| frame.x(n.point.x) >= left);
            let node = inside.min_by(|a, b| a.point.x.total_cmp(&b.point.x))?;
            return Some(frame.at(node.point.x, node.point.y));
        }
        first_of(branches).map(|n| frame.at(n.point.x, n.point.y))
    };
    for Cut { id, branches, .. } in &scene.shown.planes {
        let Some(plane) = scene.lines.body.plane(*id).filter(|p| !is_buttock(p)) else {
            continue;
        };
        let Some(at) = seen(branches) else { continue };
        let on = On::Plane(*id);
        if at.0 > left + 40.0 {
            // A line that begins further aft is named there.
            let name = label((at.0 - 4.0, at.1 + 4.0), bare(&plane.name)).end();
            out.label(name.patched().pen(pen_of(scene, on, "")));
        } else {
            starts.push((on, bare(&plane.name).to_owned(), at.1));
        }
    }
    for (on, _, plan) in &scene.shown.runs {
        if let (On::RunLine(_), Some(at)) = (on, seen(core::slice::from_ref(plan))) {
            let name = scene.lines.body.line_name(*on).unwrap_or_default();
            starts.push((*on, name, at.1));
        }
    }
    let (top, foot) = (
        (frame.y(scene.layout.extent.y) - 8.0).max(frame.area[1] + 36.0),
        (frame.origin.1 - 8.0).min(frame.area[3] - 8.0),
    );
    starts.retain(|start| (frame.area[1]..=frame.area[3]).contains(&start.2));
    geometry::num::put_in_order(&mut starts, |a, b| a.2.total_cmp(&b.2));
    // Where they do not all find room, those go that stand closest between others.
    let room = geometry::num::count_of((foot - top) / GAP) + 1;
    while starts.len() > room {
        let must = |on: On| matches!(on, On::RunLine(_)) || scene.pick.on == on;
        let apart = |i: &usize| starts[i + 1].2 - starts[i - 1].2;
        let inner = (1..starts.len() - 1).filter(|i| !must(starts[*i].0));
        let closest = inner.min_by(|a, b| apart(a).total_cmp(&apart(b)));
        let Some(closest) = closest else { break };
        starts.remove(closest);
    }
    let mut places: Vec<f64> = starts.iter().map(|s| s.2).collect();
    spread(&mut places, GAP, top, foot);
    let level = |(on, ..): &(On, String, f64)| matches!(on, On::Plane(_));
    if let (Some(first), false) = (starts.iter().position(level), scene.layout.alone) {
        let wide = widest(starts.iter().skip(first).map(|start| start.1.as_str()));
        let place = (left - 15.0 - wide - 7.0, places[first] + 4.0);
        if place.0 > 16.0 {
            out.label(label(place, "WL").end());
        }
    }
    for ((on, name, from), y) in starts.into_iter().zip(places) {
        leaders.stroke((left - 2.0, from), (left - 12.0, y));
        let plain = if matches!(on, On::RunLine(_)) {
            "ink"
        } else {
            ""
        };
        let mut name = label((left - 15.0, y + 4.0), name)
            .end()
            .pen(pen_of(scene, on, plain));
        name.patch = scene.layout.alone;
        out.label(name);
    }
}

fn is_buttock(plane: &Plane) -> bool {
    matches!(plane.place, Place::Buttock(_))
}

/// Buttock lines are named on the line, stepping aft and down like a staircase, and again where they close.
fn buttock_names(scene: &Scene<'_>, out: &mut Drawing) {
    let Some(frame) = scene.layout.profile else {
        return;
    };
    let [left, right] = scene.layout.ends;
    let mut buttocks: Vec<(f64, &Plane, &[Branch])> = scene
        .shown
        .planes
        .iter()
        .filter_map(|Cut { id, branches, .. }| {
            let plane = scene.lines.body.plane(*id)?;
            match plane.place {
                Place::Buttock(y) => Some((y, plane, branches.as_slice())),
                Place::Waterline(_) | Place::Diagonal { .. } => None,
            }
        })
        .collect();
    geometry::num::put_in_order(&mut buttocks, |a, b| a.0.total_cmp(&b.0));
    for (step, (_, plane, branches)) in buttocks.into_iter().enumerate() {
        let pen = pen_of(scene, On::Plane(plane.id), "");
        let wish = left + (42.0 + 50.0 * step as f64).min((right - left) * 0.8);
        let nodes = || branches.iter().flat_map(|b| &b.nodes);
        let x = frame.origin.0;
        let upper = crossing(branches, (wish - x) / frame.scale.0);
        if let Some(z) = upper {
            let name = label((wish, frame.y(z) + 4.0), plane.name.clone());
            out.label(name.middle().patched().pen(pen));
        }
        let Some(close) = nodes().max_by(|a, b| a.point.x.total_cmp(&b.point.x)) else {
            continue;
        };
        let at = frame.at(close.point.x, close.point.z);
        if at.0 < right - 4.0 && at.0 > wish + 60.0 {
            let name = label((at.0 - 10.0, at.1 - 8.0), plane.name.clone());
            out.label(name.end().patched().pen(pen));
        }
    }
}

/// The greatest height of branches at x, mm.
fn crossing(branches: &[Branch], x: f64) -> Option<f64> {
    let pieces = branches.iter().flat_map(|b| b.nodes.windows(2));
    pieces
        .filter_map(|pair| {
            let (a, b) = (pair[0].point, pair[1].point);
            let inside = (a.x - x) * (b.x - x) <= 0.0 && (b.x - a.x).abs() > 1e-9;
            inside.then(|| a.z + (b.z - a.z) * (x - a.x) / (b.x - a.x))
        })
        .max_by(f64::total_cmp)
}

/// Forward sections in a column inside their own empty half, each with a leader to its line; aft ones beside the centre
/// plane at the heights of their keels.
fn section_names(scene: &Scene<'_>, out: &mut Drawing, (leaders, dots): (&mut Path, &mut Path)) {
    let Some(frame) = scene.layout.body else {
        return;
    };
    let z = scene.layout.extent.z;
    let (top, foot) = (frame.y(z[1]), frame.y(z[0]));
    let class = |index: usize| {
        if scene.picked(scene.lines.body.stations[index].id) {
            "picked"
        } else {
            ""
        }
    };
    let (forward, mut aft): (Vec<_>, Vec<_>) = handed(scene).partition(|(hand, ..)| *hand < 0.0);

    let (high, low) = (top + 30.0, foot - 4.0);
    let thinned = every(aft.len(), 12.5, low - high);
    let mut number = 0;
    aft.retain(|(_, index, _)| {
        number += 1;
        !class(*index).is_empty() || (number - 1) % thinned == 0
    });
    let mut places: Vec<f64> = aft.iter().map(|(_, _, b)| keel(b, &frame)).collect();
    spread(&mut places, 12.5, high, low);
    for ((_, index, branch), y) in aft.iter().zip(places) {
        leaders.stroke(
            (frame.origin.0 - 1.0, keel(branch, &frame)),
            (frame.origin.0 - 9.0, y),
        );
        let name = label(
            (frame.origin.0 - 12.0, y + 4.0),
            scene.lines.body.stations[*index].label.clone(),
        );
        out.label(name.end().patched().pen(class(*index)));
    }

    let room = (foot - top) * 0.6;
    let gap = (room / forward.len().max(1) as f64).min(13.0);
    let thinned = every(forward.len(), 9.0, room);
    let wide = widest(scene.lines.body.stations.iter().map(|s| s.label.as_str()));
    let column = frame.origin.0
        - (scene.layout.extent.y * frame.scale.0 * 0.62)
            .max(46.0)
            .max(2.0 * wide + 10.0);
    let middle = top + (foot - top) * 0.47;
    for (i, (hand, index, branch)) in forward.iter().enumerate() {
        let picked = !class(*index).is_empty();
        if i % thinned != 0 && !picked {
            continue;
        }
        let y = middle + (i as f64 - (forward.len() - 1) as f64 / 2.0) * gap;
        let nearest = branch.nodes.iter().min_by(|a, b| {
            let off = |n: &Node| (frame.y(n.point.z) - y).abs();
            off(a).total_cmp(&off(b))
        });
        let Some(node) = nearest else { continue };
        let to = frame.at(hand * node.point.y, node.point.z);
        leaders.stroke((column - 3.0, y), to);
        dots.circle(to, 1.3);
        let name = label(
            (column, y + 4.0),
            scene.lines.body.stations[*index].label.clone(),
        );
        out.label(name.patched().pen(class(*index)));
    }
}

fn keel(branch: &Branch, frame: &Frame) -> f64 {
    let lowest = branch
        .nodes
        .iter()
        .map(|n| n.point.z)
        .fold(f64::INFINITY, f64::min);
    frame.y(lowest)
}
