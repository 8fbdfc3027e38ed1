//! How much of the sheet is taken, cell by cell, so that what has no place of its own finds clear paper.

use super::comb::Combs;
use super::sections::handed;
use super::{RunTraced, Scene, ScreenPoint, shows_in_plan};
use crate::document::On;
use crate::lines::Branch;
use crate::num::{count_of, hypot};

/// Side of a cell, px.
const CELL: f64 = 8.0;

/// How much it counts that something lies in a cell: a tooth, a line, a run line, a point or a name.
const TOOTH: u32 = 1;
const LINE: u32 = 20;
const RUN: u32 = 60;
const POINT: u32 = 100;
const NAME: u32 = 100;

/// What lies on the sheet.
pub(super) struct Occupied {
    columns: usize,
    rows: usize,
    /// What lies in all cells above and left of a corner.
    sums: Vec<u32>,
}

/// Cells as they are filled.
struct Cells {
    columns: usize,
    rows: usize,
    of: Vec<u32>,
}

impl Cells {
    fn mark(&mut self, (x, y): ScreenPoint, weight: u32) {
        if x < 0.0 || y < 0.0 || !x.is_finite() || !y.is_finite() {
            return;
        }
        let (column, row) = (count_of(x / CELL), count_of(y / CELL));
        if column < self.columns && row < self.rows {
            let cell = &mut self.of[row * self.columns + column];
            *cell = (*cell).max(weight);
        }
    }

    fn line(&mut self, points: impl Iterator<Item = ScreenPoint>, weight: u32) {
        let mut last: Option<ScreenPoint> = None;
        for to in points {
            let from = last.unwrap_or(to);
            let parts = (hypot(to.0 - from.0, to.1 - from.1) / (0.5 * CELL)).ceil();
            let parts = parts.clamp(1.0, 4000.0);
            for part in 0..=count_of(parts) {
                let share = part as f64 / parts;
                let at = (
                    from.0 + (to.0 - from.0) * share,
                    from.1 + (to.1 - from.1) * share,
                );
                self.mark(at, weight);
            }
            last = Some(to);
        }
    }

    fn fill(&mut self, [left, top, right, foot]: [f64; 4], weight: u32) {
        let steps = |from: f64, to: f64| {
            let count = count_of(((to - from) / CELL).clamp(0.0, 4000.0));
            (0..=count).map(move |i| (from + CELL * i as f64).min(to))
        };
        for y in steps(top, foot) {
            for x in steps(left, right) {
                self.mark((x, y), weight);
            }
        }
    }
}

impl Occupied {
    /// What lies on the sheet of all three views.
    pub(super) fn on(scene: &Scene<'_>, combs: &Combs) -> Self {
        let (width, height) = scene.layout.size;
        let cells = |long: f64| count_of((long / CELL).ceil()).max(1);
        let (columns, rows) = (cells(width), cells(height));
        let mut taken = Cells {
            columns,
            rows,
            of: vec![0; columns * rows],
        };
        lines(scene, &mut taken);
        points(scene, &mut taken);
        margins(scene, &mut taken);
        for at in &combs.taken {
            taken.mark(*at, TOOTH);
        }
        for name in &combs.named {
            taken.fill(*name, NAME);
        }
        let mut sums = vec![0; (columns + 1) * (rows + 1)];
        for row in 0..rows {
            let mut of_row = 0;
            for column in 0..columns {
                of_row += taken.of[row * columns + column];
                let above = sums[row * (columns + 1) + column + 1];
                sums[(row + 1) * (columns + 1) + column + 1] = above + of_row;
            }
        }
        Self {
            columns,
            rows,
            sums,
        }
    }

    /// How much lies in a box: left, top, right, foot; none where it is not all on the sheet.
    pub(super) fn within(&self, [left, top, right, foot]: [f64; 4]) -> Option<u32> {
        if left < 0.0 || top < 0.0 {
            return None;
        }
        let (from, to) = (count_of(left / CELL), count_of((right / CELL).ceil()));
        let (upper, lower) = (count_of(top / CELL), count_of((foot / CELL).ceil()));
        if to > self.columns || lower > self.rows {
            return None;
        }
        let sum = |row: usize, column: usize| self.sums[row * (self.columns + 1) + column];
        Some(sum(lower, to) + sum(upper, from) - sum(upper, to) - sum(lower, from))
    }
}

fn lines(scene: &Scene<'_>, taken: &mut Cells) {
    let layout = scene.layout;
    for cut in &scene.shown.planes {
        let plan = shows_in_plan(cut.plane.place);
        let frame = if plan {
            layout.half_breadth
        } else {
            layout.profile
        };
        let Some(frame) = frame else { continue };
        for branch in cut.branches.iter() {
            let across = |n: &crate::lines::Node| if plan { n.point.y } else { n.point.z };
            let nodes = branch.nodes.iter();
            taken.line(nodes.map(|n| frame.at(n.point.x, across(n))), LINE);
        }
    }
    for RunTraced { on, profile, plan } in &scene.shown.runs {
        if let Some(frame) = layout.profile {
            let nodes = profile.nodes.iter();
            taken.line(nodes.map(|n| frame.at(n.point.x, n.point.z)), RUN);
        }
        if let (Some(frame), On::RunLine(_)) = (layout.half_breadth, on) {
            let nodes = plan.nodes.iter();
            taken.line(nodes.map(|n| frame.at(n.point.x, n.point.y)), RUN);
        }
    }
    if let Some(frame) = layout.body {
        for (hand, _, Branch { nodes, .. }) in handed(scene) {
            let at = nodes.iter();
            taken.line(at.map(|n| frame.at(hand * n.point.y, n.point.z)), LINE);
        }
    }
}

fn points(scene: &Scene<'_>, taken: &mut Cells) {
    for (index, offsets) in scene.offsets.iter().enumerate() {
        for offset in offsets {
            for seen in scene.seen_at(index, offset.on) {
                taken.mark(seen.at(offset.accepted), POINT);
            }
        }
    }
}

/// Where names, numbers and captions stand about the views, and the strip.
fn margins(scene: &Scene<'_>, taken: &mut Cells) {
    const NAMES: f64 = 50.0; // px, after the body's end
    const NUMBERS: f64 = 78.0; // before it
    let (layout, extent) = (scene.layout, scene.layout.extent);
    let views = [
        (layout.profile, layout.ends, extent.z, [42.0, 0.0]),
        (
            layout.half_breadth,
            layout.plan_ends,
            [0.0, extent.y],
            [34.0, 20.0],
        ),
    ];
    for (frame, [left, right], [low, high], [over, under]) in views {
        let Some(frame) = frame else { continue };
        let (top, foot) = (frame.y(high), frame.y(low));
        let (first, last) = ((left - NUMBERS).max(0.0), right + NAMES);
        taken.fill([first, top - over, last, top], NAME);
        if under > 0.0 {
            taken.fill([first, foot, last, foot + under], NAME);
        }
        taken.fill([first, top, left, foot], NAME);
        taken.fill([right, top, last, foot], NAME);
    }
    if let Some(frame) = layout.body {
        const NUMBERED: f64 = 44.0; // px
        let half = extent.y * frame.scale.0 + NUMBERED;
        let (top, foot) = (frame.y(extent.z[1]), frame.y(extent.z[0]));
        let middle = frame.origin.0;
        taken.fill(
            [middle - half, top - 42.0, middle + half, foot + 24.0],
            NAME,
        );
    }
    if let Some([top, foot]) = layout.strip {
        let [left, right] = layout.ends;
        let place = [
            (left - NUMBERS).max(0.0),
            top - 28.0,
            right + NAMES,
            foot + 8.0,
        ];
        taken.fill(place, NAME);
    }
}
