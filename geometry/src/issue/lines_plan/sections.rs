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

/// How far a place is from a stroke, px, and at which share of its length it is nearest.
#[must_use]
pub fn nearest_on(at: ScreenPoint, [a, b]: [ScreenPoint; 2]) -> (f64, f64) {
    let (dx, dy) = (b.0 - a.0, b.1 - a.1);
    let length2 = dx * dx + dy * dy;
    let share = if length2 > 0.0 {
        (((at.0 - a.0) * dx + (at.1 - a.1) * dy) / length2).clamp(0.0, 1.0)
    } else {
        0.0
    };
    let far = num::hypot(at.0 - a.0 - share * dx, at.1 - a.1 - share * dy);
    (far, share)
}

/// How far a place is from a polyline, px.
pub(super) fn distance_to(at: ScreenPoint, line: &[ScreenPoint]) -> f64 {
    let each = line
        .windows(2)
        .map(|pair| nearest_on(at, [pair[0], pair[1]]).0);
    each.fold(f64::INFINITY, f64::min)
}

/// Whether all of a polyline lies within so much of another one, px.
fn lies_within(apart: f64, line: &[ScreenPoint], other: &[ScreenPoint]) -> bool {
    let pieces = other.len().saturating_sub(1);
    // The piece that a place lies near is beside the one that the place before it lay near.
    let mut last = 0_usize;
    line.iter().all(|at| {
        let near = |piece: &usize| {
            let ends = &other[*piece..=*piece + 1];
            let beside = |of: fn(&ScreenPoint) -> f64| {
                let (a, b, at) = (of(&ends[0]), of(&ends[1]), of(at));
                a.min(b) - apart <= at && at <= a.max(b) + apart
            };
            beside(|p| p.0) && beside(|p| p.1) && distance_to(*at, ends) <= apart
        };
        let outward = (0..pieces).flat_map(|by| [last.checked_sub(by), Some(last + by)]);
        let found = outward.flatten().filter(|piece| *piece < pieces).find(near);
        last = found.unwrap_or(last);
        found.is_some()
    })
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
            if last.is_none_or(|last| !lies_within(APART, line, last)) {
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_lies_within_is_found_as_by_all_distances() {
        // Half of a section, and the same drawn in or out by more and more, with other places on it.
        let arc = |count: u32, by: f64| -> Vec<ScreenPoint> {
            let each = (0..=count).map(|n| 3.0 * f64::from(n) / f64::from(count));
            each.map(|a| {
                let r = 150.0 + by * num::sin(2.0 * a);
                (r * num::sin(a), r * num::cos(a))
            })
            .collect()
        };
        let other = arc(40, 0.0);
        let mut within = 0;
        for step in -16..=16 {
            let by = f64::from(step) * 0.25;
            for count in [1, 7, 40, 173] {
                for line in [arc(count, by), arc(count, by).into_iter().rev().collect()] {
                    let all = line.iter().all(|at| distance_to(*at, &other) <= APART);
                    assert_eq!(lies_within(APART, &line, &other), all, "{count} {by}");
                    within += u32::from(all);
                }
            }
        }
        assert!((20..250).contains(&within), "{within}");
        assert!(lies_within(APART, &[], &other) && !lies_within(APART, &other, &[]));
    }
}
