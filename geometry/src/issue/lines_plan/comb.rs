//! Combs: teeth on their lines, hollows hatched and named, the band of what tolerances permit.

use std::collections::BTreeSet;

use super::drawing::{Strokes, label, wide};
use super::scales::Scales;
use super::{Band, BandPlace, Frame, Scene, ScreenPoint, in_plan};
use crate::document::On;
use crate::lines::{Branch, Hollow, Node, Tooth, comb};
use crate::num::put_in_order;
use crate::paper::{Text, Tone, overlap};

/// Teeth stand this far apart, px.
const TEETH: f64 = 4.5;

/// A hollow whose deepest tooth is shorter than this is not named, px.
const SLIGHT: f64 = 3.0;

/// The tips of a state's combs, line by line.
pub(super) fn combs_beside(scene: &Scene<'_>, scales: &Scales) -> Vec<(On, Vec<Vec<ScreenPoint>>)> {
    let mut all = Vec::new();
    for (on, branches) in scene.fine {
        let Some(seen) = CombView::of(scene, *on, scales) else {
            continue;
        };
        let runs = branches.iter().flat_map(|b| comb(b, f64::INFINITY).runs);
        let tips = runs.map(|run| {
            let run = in_sight(&run, &seen, scene.layout.size.0);
            let run = denser(run, TEETH / seen.frame.scale.0);
            run.iter().map(|tooth| seen.tip(tooth)).collect()
        });
        all.push((*on, tips.collect()));
    }
    all
}

/// The teeth of a run from the first to the last that stands in sight or beside it.
fn in_sight<'a>(run: &'a [Tooth], seen: &CombView, width: f64) -> &'a [Tooth] {
    const BESIDE: f64 = 100.0; // px
    let there = |tooth: &Tooth| (-BESIDE..=width + BESIDE).contains(&seen.root(tooth).0);
    let first = run.iter().position(there);
    let last = run.iter().rposition(there);
    match (first, last) {
        // One more at either end, since the line comes into sight between them.
        (Some(first), Some(last)) => &run[first.saturating_sub(1)..(last + 2).min(run.len())],
        _ => &[],
    }
}

/// How a comb is seen.
#[derive(Clone, Copy)]
struct CombView {
    frame: Frame,
    /// From above; else from the side.
    plan: bool,
    /// px per (1/mm).
    scale: f64,
}

impl CombView {
    /// How the comb of a line is seen, where its view is drawn.
    fn of(scene: &Scene<'_>, on: On, scales: &Scales) -> Option<Self> {
        let plan = in_plan(scene.lines, on);
        let frame = if plan {
            scene.layout.half_breadth
        } else {
            scene.layout.profile
        };
        Some(Self {
            frame: frame?,
            plan,
            scale: scales.px(),
        })
    }

    fn root(&self, tooth: &Tooth) -> ScreenPoint {
        let across = if self.plan {
            tooth.root.y
        } else {
            tooth.root.z
        };
        self.frame.at(tooth.root.x, across)
    }

    /// Convex teeth point outward: their curvature is negative.
    fn tip(&self, tooth: &Tooth) -> ScreenPoint {
        let across = if self.plan {
            tooth.outward.y
        } else {
            tooth.outward.z
        };
        let root = self.root(tooth);
        let length = -tooth.curvature * self.scale;
        (root.0 + tooth.outward.x * length, root.1 - across * length)
    }
}

/// All combs of a scene.
#[derive(Default)]
pub(super) struct Combs {
    pub(super) band: Strokes,
    pub(super) teeth: Strokes,
    pub(super) envelope: Strokes,
    pub(super) hollow: Strokes,
    pub(super) leaders: Strokes,
    pub(super) names: Vec<Text>,
    /// Boxes of these.
    pub(super) named: Vec<[f64; 4]>,
    /// Whether there is a hollow.
    pub(super) hollows: bool,
    /// Places that teeth stand on.
    pub(super) taken: Vec<ScreenPoint>,
}

impl Combs {
    /// Draws the combs of these lines.
    pub(super) fn of(scene: &Scene<'_>, combs: &BTreeSet<On>, scales: &Scales) -> Self {
        let mut drawn = Self::default();
        let mut hollows = Vec::new();
        for (on, branches) in scene.fine.iter().filter(|(on, _)| combs.contains(on)) {
            let Some(seen) = CombView::of(scene, *on, scales) else {
                continue;
            };
            let frame = seen.frame;
            for branch in branches {
                // The nodes of a fine line are near enough for its curvature to run straight between them, which it does from
                // knot to knot, where its slope jumps.
                for run in &comb(branch, f64::INFINITY).runs {
                    let run = in_sight(run, &seen, scene.layout.size.0);
                    for band in scene.bands.iter().filter(|band| band.on == *on) {
                        drawn.lay(run, band, &seen);
                    }
                    drawn.add(&denser(run, TEETH / frame.scale.0), &seen);
                }
                let of = branch.hollows(SLIGHT / seen.scale);
                hollows.extend(of.into_iter().map(|hollow| (hollow, seen)));
            }
        }
        put_in_order(&mut hollows, |(a, _), (b, _)| {
            b.deepest.curvature.total_cmp(&a.deepest.curvature)
        });
        for (hollow, seen) in &hollows {
            drawn.name(scene, hollow, seen);
        }
        drawn
    }

    fn add(&mut self, run: &[Tooth], seen: &CombView) {
        let roots: Vec<ScreenPoint> = run.iter().map(|t| seen.root(t)).collect();
        let tips: Vec<ScreenPoint> = run.iter().map(|t| seen.tip(t)).collect();
        let mut last: Option<ScreenPoint> = None;
        for (root, tip) in roots.iter().zip(&tips) {
            let far = |l: ScreenPoint| crate::num::hypot(l.0 - root.0, l.1 - root.1);
            if last.is_none_or(|l| far(l) >= TEETH * 0.8) {
                self.teeth.stroke(*root, *tip);
                last = Some(*root);
            }
        }
        self.envelope.line(tips.iter().copied());
        for (from, to) in hollows(run) {
            let back = (from..to).rev().map(|i| tips[i]);
            self.hollow.line((from..to).map(|i| roots[i]).chain(back));
            self.hollow.close();
        }
        self.taken
            .extend(roots.iter().zip(&tips).flat_map(|(a, b)| {
                let part = |share: f64| (a.0 + (b.0 - a.0) * share, a.1 + (b.1 - a.1) * share);
                [0.0, 0.25, 0.5, 0.75, 1.0].map(part)
            }));
    }

    /// Behind the teeth: where their tips may lie while the readings are met within their tolerances, as far as the view goes.
    fn lay(&mut self, run: &[Tooth], band: &Band, seen: &CombView) {
        let [_, top, _, foot] = seen.frame.area;
        let mut edges = [Vec::new(), Vec::new()];
        for BandPlace { x, low, high } in &band.places {
            let span = run.windows(2).find(|pair| {
                const HAIR: f64 = 1e-3; // mm: the first and the last place are the line's own ends
                let [a, b] = [pair[0].root.x, pair[1].root.x];
                (a.min(b) - HAIR..=a.max(b) + HAIR).contains(x) && (b - a).abs() > 1e-9
            });
            let Some([a, b]) = span else { continue };
            let share = (x - a.root.x) / (b.root.x - a.root.x);
            for (edge, curvature) in edges.iter_mut().zip([low, high]) {
                let (x, y) = seen.tip(&Tooth {
                    root: a.root.lerp(b.root, share),
                    outward: a.outward.lerp(b.outward, share),
                    curvature: *curvature,
                    ..*a
                });
                edge.push((x, y.clamp(top, foot)));
            }
        }
        let [low, high] = edges;
        if low.len() > 1 {
            self.band
                .line(low.into_iter().chain(high.into_iter().rev()));
            self.band.close();
        }
    }

    /// A hollow is named in clear paper beside its deepest tooth, with one leader; not where names of deeper ones stand.
    fn name(&mut self, scene: &Scene<'_>, hollow: &Hollow, seen: &CombView) {
        let deepest = Tooth::of(&hollow.deepest);
        self.hollows = true;
        let [from, to] = [hollow.from, hollow.to].map(|end| end.point.x);
        let words = format!("hollow, {}", scene.lines.body.stretch_name(from, to));
        let (root, tip) = (seen.root(&deepest), seen.tip(&deepest));
        // Away from the line, on the side where there is paper, and clear of the run lines.
        let up = if tip.1 <= root.1 { -1.0 } else { 1.0 };
        let wide = wide(&words);
        let right = tip.0 + 22.0 + 4.0 + wide + 3.0 < seen.frame.area[2];
        let side = if right { 1.0 } else { -1.0 };
        let drop = if up < 0.0 { -2.0 } else { 8.0 };
        let at = |off: f64| (tip.0 + side * 22.0, tip.1 + up * off);
        let place = |off: f64| {
            let (x, foot) = (at(off).0 + side * 4.0, at(off).1 + drop);
            let left = if right { x } else { x - wide };
            [left - 3.0, foot - 12.0, left + wide + 3.0, foot + 4.0]
        };
        let free = |off: &f64| !self.named.iter().any(|other| overlap(*other, place(*off)));
        let clear = |off: &f64| !crossed(scene, seen.frame, seen.plan, place(*off));
        let offs = || [24.0, 4.0, 44.0, 64.0].into_iter().filter(free);
        let Some(off) = offs().find(clear).or_else(|| offs().next()) else {
            return;
        };
        self.named.push(place(off));
        let end = at(off);
        self.leaders.stroke((tip.0, tip.1 + up * 2.0), end);
        let name = label((end.0 + side * 4.0, end.1 + drop), words);
        let name = if right { name } else { name.end() };
        self.names.push(name.tone(Tone::Ink).patched());
    }
}

/// Whether a run line passes through a box, as seen from above or from the side.
pub(super) fn crossed(
    scene: &Scene<'_>,
    frame: Frame,
    plan: bool,
    [left, top, right, foot]: [f64; 4],
) -> bool {
    let at = |node: &Node| {
        let across = if plan { node.point.y } else { node.point.z };
        frame.at(node.point.x, across)
    };
    let runs = scene.shown.runs.iter();
    let mut seen = runs.map(|run| if plan { &run.plan } else { &run.profile });
    seen.any(|branch| crosses(branch, &at, [left, top, right, foot]))
}

/// Whether a line passes through a box, by the places of its nodes on the sheet.
pub(super) fn crosses(
    branch: &Branch,
    at: &dyn Fn(&Node) -> ScreenPoint,
    [left, top, right, foot]: [f64; 4],
) -> bool {
    branch.nodes.windows(2).any(|pair| {
        let (a, b) = (at(&pair[0]), at(&pair[1]));
        let parts = 1.0 + ((b.0 - a.0).abs() / 8.0).ceil();
        (0..=crate::num::count_of(parts)).any(|part| {
            let share = (part as f64 / parts).min(1.0);
            let (x, y) = (a.0 + (b.0 - a.0) * share, a.1 + (b.1 - a.1) * share);
            (left..right).contains(&x) && (top..foot).contains(&y)
        })
    })
}

/// The same run with further teeth between, no further apart than `spacing`, mm.
fn denser(run: &[Tooth], spacing: f64) -> Vec<Tooth> {
    let mut teeth: Vec<Tooth> = Vec::with_capacity(run.len());
    for next in run {
        if let Some(last) = teeth.last().copied() {
            let parts = crate::num::count_of((last.root.distance(next.root) / spacing).ceil());
            for part in 1..parts.min(1000) {
                let t = part as f64 / parts as f64;
                teeth.push(Tooth {
                    uv: (
                        last.uv.0 + (next.uv.0 - last.uv.0) * t,
                        last.uv.1 + (next.uv.1 - last.uv.1) * t,
                    ),
                    root: last.root.lerp(next.root, t),
                    outward: last.outward.lerp(next.outward, t),
                    curvature: last.curvature + (next.curvature - last.curvature) * t,
                });
            }
        }
        teeth.push(*next);
    }
    teeth
}

/// The stretches of a run of teeth that point inward.
fn hollows(run: &[Tooth]) -> Vec<(usize, usize)> {
    let mut found = Vec::new();
    let mut from = None;
    for (i, tooth) in run.iter().enumerate() {
        match (tooth.curvature > 0.0, from) {
            (true, None) => from = Some(i),
            (false, Some(start)) => {
                found.push((start, i));
                from = None;
            }
            _ => {}
        }
    }
    found.extend(from.map(|start| (start, run.len())));
    found.retain(|(from, to)| to - from > 1);
    found
}
