//! Which drawn lines are told apart: sections of the body plan that lie too near each other, of which some are drawn in full and
//! the others lightly; and of another state's lines what lies elsewhere.

use std::collections::BTreeSet;

use super::{Scene, ScreenPoint};
use crate::lines::Branch;
use crate::num;

/// A section that lies nowhere further than this from the last one drawn in full is drawn lightly, px.
const APART: f64 = 2.0;

/// The sections with the hand they are drawn on and their station's number.
pub(super) fn handed<'a>(scene: &'a Scene<'_>) -> impl Iterator<Item = (f64, usize, &'a Branch)> {
    scene.shown.sections.iter().filter_map(|(id, branch)| {
        let index = scene.lines.body.station_index(*id)?;
        Some((scene.layout.hand(index), index, branch))
    })
}

/// How far a place is from a polyline, px.
pub(super) fn distance_to(at: ScreenPoint, line: &[ScreenPoint]) -> f64 {
    let pairs = line.windows(2);
    let each = pairs.map(|pair| {
        let (a, b) = (pair[0], pair[1]);
        let (dx, dy) = (b.0 - a.0, b.1 - a.1);
        let length2 = dx * dx + dy * dy;
        let share = if length2 > 0.0 {
            (((at.0 - a.0) * dx + (at.1 - a.1) * dy) / length2).clamp(0.0, 1.0)
        } else {
            0.0
        };
        num::hypot(at.0 - a.0 - share * dx, at.1 - a.1 - share * dy)
    });
    each.fold(f64::INFINITY, f64::min)
}

/// The stations, by number, whose sections are drawn in full: the outermost of each half, and those that stand apart from the
/// last one before them.
pub(super) fn told_apart(scene: &Scene<'_>) -> BTreeSet<usize> {
    let Some(frame) = scene.layout.body else {
        return BTreeSet::new();
    };
    let mut told = BTreeSet::new();
    for half in [-1.0, 1.0] {
        let all: Vec<(usize, Vec<ScreenPoint>)> = handed(scene)
            .filter(|(hand, ..)| hand * half > 0.0)
            .map(|(hand, index, branch)| {
                let nodes = branch.nodes.iter();
                let at = nodes.map(|n| frame.at(hand * n.point.y, n.point.z));
                (index, at.collect())
            })
            .collect();
        let mut last: Option<&[ScreenPoint]> = None;
        for (index, line) in &all {
            let far = |at: &ScreenPoint| last.is_none_or(|last| distance_to(*at, last) > APART);
            if line.iter().any(far) {
                told.insert(*index);
                last = Some(line);
            }
        }
        told.extend(all.last().map(|(index, _)| *index));
    }
    told
}

/// What lies nearer than this to its line as it stands would be drawn upon it, px.
const ELSEWHERE: f64 = 0.5;

/// The stretches of a polyline that lie elsewhere than all of some others.
pub(super) fn elsewhere(
    line: &[ScreenPoint],
    others: &[Vec<ScreenPoint>],
) -> Vec<Vec<ScreenPoint>> {
    const STEP: f64 = 6.0; // px: what moved over less is not seen
    let mut dense: Vec<ScreenPoint> = Vec::new();
    for pair in line.windows(2) {
        let (a, b) = (pair[0], pair[1]);
        let parts = (num::hypot(b.0 - a.0, b.1 - a.1) / STEP)
            .ceil()
            .clamp(1.0, 1000.0);
        let count = num::count_of(parts);
        let part = |i: usize| {
            let share = i as f64 / parts;
            (a.0 + (b.0 - a.0) * share, a.1 + (b.1 - a.1) * share)
        };
        dense.extend((0..count).map(part));
    }
    dense.extend(line.last().copied());
    let off = |at: &ScreenPoint| {
        others
            .iter()
            .all(|other| distance_to(*at, other) > ELSEWHERE)
    };
    let moved: Vec<bool> = dense.iter().map(off).collect();
    // One place more at either end, so that it leaves its line where it does.
    let here = |i: usize| {
        let beside = |j: Option<usize>| j.and_then(|j| moved.get(j)).copied().unwrap_or(false);
        moved[i] || beside(i.checked_sub(1)) || beside(Some(i + 1))
    };
    let mut parts = Vec::new();
    let mut part = Vec::new();
    for (i, at) in dense.iter().enumerate() {
        if here(i) {
            part.push(*at);
        } else if !part.is_empty() {
            parts.push(core::mem::take(&mut part));
        }
    }
    if !part.is_empty() {
        parts.push(part);
    }
    parts
}
