//! Names of the lines: at their ends, on the line, in columns with leaders; thinned where there is no room, spread where
//! they are near.

use super::drawing::{Drawing, Strokes, label, toned};
use super::ruled::{every, widest};
use super::sections::{handed, told_apart};
use super::{Cut, Frame, RunTraced, Scene, ScreenPoint, bare, comb_key};
use crate::document::{On, Place, Plane};
use crate::lines::{Branch, Node};
use crate::num::count_of;
use crate::paper::{Text, Tone, overlap};

/// Spreads places so that neighbours are `gap` apart, with least push and their order kept.
pub fn spread(places: &mut [f64], gap: f64, low: f64, high: f64) {
    let mut order: Vec<usize> = (0..places.len()).collect();
    crate::num::put_in_order(&mut order, |a, b| places[*a].total_cmp(&places[*b]));
    for _ in 0..200 {
        let mut moved = false;
        for pair in order.windows(2) {
            let short = gap - (places[pair[1]] - places[pair[0]]);
            if short > 0.01 {
                places[pair[0]] -= short / 2.0;
                places[pair[1]] += short / 2.0;
                moved = true;
            }
        }
        for (i, k) in order.iter().enumerate() {
            let rest = (order.len() - 1 - i) as f64;
            places[*k] = places[*k].max(low + gap * i as f64).min(high - gap * rest);
        }
        if !moved {
            break;
        }
    }
}

/// The tone of a line's name: the accent where it is picked.
fn tone_of(scene: &Scene<'_>, on: On, else_: Tone) -> Tone {
    if comb_key(scene.pick.on) == comb_key(on) {
        Tone::Picked
    } else {
        else_
    }
}

pub(super) fn run_names(scene: &Scene<'_>, out: &mut Drawing) {
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
        .filter_map(|run| Some((run.on, end(&run.profile)?)))
        .filter(|(_, y)| (frame.area[1]..=frame.area[3]).contains(y))
        .unzip();
    spread(&mut places, 13.0, frame.area[1], frame.area[3]);
    for (on, y) in names.into_iter().zip(places) {
        let Some(name) = scene.lines.body.line_name(on) else {
            continue;
        };
        let y = if at_edge { y - 7.0 } else { y + 4.0 };
        let mut name = toned(label((x, y), name), tone_of(scene, on, Tone::Ink));
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

pub(super) fn waterline_names(scene: &Scene<'_>, out: &mut Drawing, leaders: &mut Strokes) {
    let Some(frame) = scene.layout.half_breadth else {
        return;
    };
    let left = scene.layout.plan_ends[0];
    let mut starts: Vec<(On, String, f64)> = Vec::new();
    let mut taken = Vec::new();
    let seen = |branches: &[Branch]| -> Option<ScreenPoint> {
        if scene.layout.alone {
            // The place where the line comes into sight.
            let nodes = branches.iter().flat_map(|b| &b.nodes);
            let inside = nodes.filter(|n| frame.x(n.point.x) >= left);
            let node = inside.min_by(|a, b| a.point.x.total_cmp(&b.point.x))?;
            return Some(frame.at(node.point.x, node.point.y));
        }
        first_of(branches).map(|n| frame.at(n.point.x, n.point.y))
    };
    for Cut {
        plane, branches, ..
    } in scene
        .shown
        .planes
        .iter()
        .filter(|cut| !is_buttock(&cut.plane))
    {
        let Some(at) = seen(branches) else { continue };
        let on = On::Plane(plane.id);
        if at.0 > left + 40.0 {
            // A line that begins further aft is named there, where no other name stands.
            let name = label((at.0 - 4.0, at.1 + 4.0), bare(&plane.name)).end();
            let name = toned(name.patched(), tone_of(scene, on, Tone::Thin));
            if takes(&mut taken, &name) {
                out.label(name);
            }
        } else {
            starts.push((on, bare(&plane.name).to_owned(), at.1));
        }
    }
    for RunTraced { on, plan, .. } in &scene.shown.runs {
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
    crate::num::put_in_order(&mut starts, |a, b| a.2.total_cmp(&b.2));
    // Where they do not all find room, those go that stand closest between others.
    let room = count_of((foot - top) / GAP) + 1;
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
        let place = (left - 15.0 - wide - 10.0, places[first] + 4.0);
        if place.0 > 16.0 {
            out.label(label(place, "WL").end());
        }
    }
    for ((on, name, from), y) in starts.into_iter().zip(places) {
        leaders.stroke((left - 2.0, from), (left - 12.0, y));
        let plain = if matches!(on, On::RunLine(_)) {
            Tone::Ink
        } else {
            Tone::Thin
        };
        let name = label((left - 15.0, y + 4.0), name).end();
        let mut name = toned(name, tone_of(scene, on, plain));
        name.ground = scene.layout.ground();
        out.label(name);
    }
}

/// Takes the place of a name, unless another stands there.
fn takes(taken: &mut Vec<[f64; 4]>, name: &Text) -> bool {
    let place = name.patch();
    let free = !taken.iter().any(|other| overlap(*other, place));
    if free {
        taken.push(place);
    }
    free
}

fn is_buttock(plane: &Plane) -> bool {
    matches!(plane.place, Place::Buttock(_))
}

/// Buttock lines are named on the line, stepping aft and down like a staircase, and again where they close.
pub(super) fn buttock_names(scene: &Scene<'_>, out: &mut Drawing) {
    let Some(frame) = scene.layout.profile else {
        return;
    };
    let [left, right] = scene.layout.ends;
    let mut buttocks: Vec<(f64, &Plane, &[Branch])> = scene
        .shown
        .planes
        .iter()
        .filter_map(
            |Cut {
                 plane, branches, ..
             }| match plane.place {
                Place::Buttock(y) => Some((y, plane, branches.as_slice())),
                Place::Waterline(_) | Place::Diagonal { .. } => None,
            },
        )
        .collect();
    crate::num::put_in_order(&mut buttocks, |a, b| a.0.total_cmp(&b.0));
    // The picked one is named first, so that it has its place; of many every second, fifth … has one.
    const STEP: f64 = 50.0; // px
    let picked = |plane: &Plane| comb_key(scene.pick.on) == On::Plane(plane.id);
    let thinned = every(buttocks.len(), STEP, (right - left) * 0.8 - 42.0);
    let mut number = 0;
    buttocks.retain(|(_, plane, _)| {
        number += 1;
        (number - 1) % thinned == 0 || picked(plane)
    });
    let mut buttocks: Vec<_> = buttocks.into_iter().enumerate().collect();
    crate::num::put_in_order(&mut buttocks, |(_, a), (_, b)| {
        picked(b.1).cmp(&picked(a.1))
    });
    let mut taken = Vec::new();
    for (step, (_, plane, branches)) in buttocks {
        let tone = tone_of(scene, On::Plane(plane.id), Tone::Thin);
        let wish = left + (42.0 + STEP * step as f64).min((right - left) * 0.8);
        let nodes = || branches.iter().flat_map(|b| &b.nodes);
        let x = frame.origin.0;
        let upper = crossing(branches, (wish - x) / frame.scale.0);
        if let Some(z) = upper {
            let name = label((wish, frame.y(z) + 4.0), plane.name.clone());
            let name = toned(name.middle().patched(), tone);
            if takes(&mut taken, &name) {
                out.label(name);
            }
        }
        let Some(close) = nodes().max_by(|a, b| a.point.x.total_cmp(&b.point.x)) else {
            continue;
        };
        let at = frame.at(close.point.x, close.point.z);
        if at.0 < right - 4.0 && at.0 > wish + 60.0 {
            let name = label((at.0 - 10.0, at.1 - 8.0), plane.name.clone());
            let name = toned(name.end().patched(), tone);
            if takes(&mut taken, &name) {
                out.label(name);
            }
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
pub(super) fn section_names(
    scene: &Scene<'_>,
    out: &mut Drawing,
    (leaders, dots): (&mut Strokes, &mut Strokes),
) {
    let Some(frame) = scene.layout.body else {
        return;
    };
    let z = scene.layout.extent.z;
    let (top, foot) = (frame.y(z[1]), frame.y(z[0]));
    let picked = |index: usize| scene.picked(scene.lines.body.stations[index].id);
    let named = |at: ScreenPoint, index: usize| {
        let tone = if picked(index) {
            Tone::Picked
        } else {
            Tone::Thin
        };
        let name = label(at, scene.lines.body.stations[index].label.clone());
        toned(name.patched(), tone)
    };
    // What is drawn lightly is not named.
    let told = told_apart(scene);
    let named_here = |index: usize| told.contains(&index) || picked(index);
    let (forward, mut aft): (Vec<_>, Vec<_>) = handed(scene)
        .filter(|(_, index, _)| named_here(*index))
        .partition(|(hand, ..)| *hand < 0.0);

    let (high, low) = (top + 30.0, foot - 4.0);
    let thinned = every(aft.len(), 12.5, low - high);
    let mut number = 0;
    aft.retain(|(_, index, _)| {
        number += 1;
        picked(*index) || (number - 1) % thinned == 0
    });
    let mut places: Vec<f64> = aft.iter().map(|(_, _, b)| keel(b, &frame)).collect();
    spread(&mut places, 12.5, high, low);
    for ((_, index, branch), y) in aft.iter().zip(places) {
        leaders.stroke(
            (frame.origin.0 - 1.0, keel(branch, &frame)),
            (frame.origin.0 - 9.0, y),
        );
        out.label(named((frame.origin.0 - 12.0, y + 4.0), *index).end());
    }

    const HIGH: f64 = 9.0; // px, of a name
    let room = (foot - top) * 0.6;
    let gap = (room / forward.len().max(1) as f64).min(13.0);
    let thinned = every(forward.len(), HIGH, room);
    let wide = widest(scene.lines.body.stations.iter().map(|s| s.label.as_str()));
    let half = scene.layout.extent.y * frame.scale.0;
    // Where both columns find no room inside a narrow body, this one stands beside it.
    let inside = (0.62 * half).max(46.0).max(2.0 * wide + 10.0);
    let outside = inside > 0.9 * half;
    let column = frame.origin.0 - if outside { half + 16.0 } else { inside };
    let middle = top + (foot - top) * 0.47;
    let held = forward.iter().position(|(_, index, _)| picked(*index));
    for (i, (hand, index, branch)) in forward.iter().enumerate() {
        let beside = held.is_some_and(|at| at != i && at.abs_diff(i) as f64 * gap < HIGH);
        if (i % thinned != 0 || beside) && held != Some(i) {
            continue;
        }
        let y = middle + (i as f64 - (forward.len() - 1) as f64 / 2.0) * gap;
        let nearest = branch.nodes.iter().min_by(|a, b| {
            let off = |n: &Node| (frame.y(n.point.z) - y).abs();
            off(a).total_cmp(&off(b))
        });
        let Some(node) = nearest else { continue };
        let to = frame.at(hand * node.point.y, node.point.z);
        let name = named((column, y + 4.0), *index);
        let from = if outside { column + 3.0 } else { column - 3.0 };
        leaders.stroke((from, y), to);
        dots.circle(to, 1.3);
        out.label(if outside { name.end() } else { name });
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
