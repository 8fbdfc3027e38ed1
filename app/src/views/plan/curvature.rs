//! Curvature as it is seen: combs on their lines, hollows hatched and named, and the strip of radius along the picked
//! line.

use std::collections::BTreeSet;

use geometry::document::On;
use geometry::lines::{Branch, Hollow, Node, Tooth, comb};
use geometry::num::put_in_order;
use geometry::units::LengthUnit;

use super::super::drawing::{
    Drawing, Frame, Label, Path, Point, crisp, label, over_125, under_1235,
};
use super::super::words::{radius_words, round_part};
use super::{MM, Scene, headed, in_plan};
use crate::state::comb_key;

/// Teeth stand this far apart, px.
const TEETH: f64 = 4.5;

/// A hollow whose deepest tooth is shorter than this is not named, px.
const SLIGHT: f64 = 3.0;

/// Scales are chosen for a curvature of at least this, 1/mm: a radius of 200 m. What is flatter is flat to any template.
const FLATTEST: f64 = 5e-6;

/// The tooth that the largest 5 % may pass, mm on the screen.
const USUAL: f64 = 18.0;

/// No tooth is longer, mm on the screen, and none that points inward, where the other lines are.
const LONGEST: [f64; 2] = [26.0, 13.0];

/// Where a line runs along the body, its radius stands in the strip: the least x part of its tangent.
const ALONG: f64 = 0.7;

/// Scales that stay while a point is held, and afterwards as long as they fit.
#[derive(Clone, Debug, PartialEq)]
pub struct Scales {
    /// Radius of a tooth of 10 mm, mm.
    pub tooth: f64,
    /// Least and largest curvature in the strip, 1/mm, convex positive.
    pub strip: [f64; 2],
    /// The same as it was chosen, before the person halved or doubled it.
    chosen: f64,
    /// What they were chosen for: lines with combs, the picked one, the unit of the letters.
    chosen_for: (BTreeSet<On>, On, LengthUnit),
}

impl Scales {
    /// Chosen for the lines that are shown: the 95th-percentile tooth is up to 18 mm, no tooth goes far among the other
    /// lines; halved or doubled `doublings` times.
    pub fn of(
        fine: &[(On, Vec<Branch>)],
        combs: &BTreeSet<On>,
        picked: On,
        (doublings, unit): (i32, LengthUnit),
        before: Option<&Self>,
    ) -> Self {
        let chosen_for = (combs.clone(), picked, unit);
        let before = before.filter(|before| before.chosen_for == chosen_for);
        let combed = fine.iter().filter(|(on, _)| combs.contains(on));
        let combed: Vec<&Branch> = combed.flat_map(|(_, branches)| branches).collect();
        let large = passed(combed.iter().copied(), 0.95, |_| true);
        let bends = combed.iter().flat_map(|branch| &branch.nodes);
        let bends = bends.map(|node| node.curvature).filter(|k| k.is_finite());
        let (out, inward) = bends.fold((0.0_f64, 0.0_f64), |(out, inward), k| {
            (out.max(-k), inward.max(k))
        });
        let factor = (0..doublings.abs()).fold(1.0, |f, _| f * 2.0);
        let factor = if doublings < 0 { 1.0 / factor } else { factor };
        let part = round_part(unit);
        let at_most = |tooth: f64, k: f64| tooth / 10.0 / k.max(FLATTEST);
        let longest = at_most(LONGEST[0], out).min(at_most(LONGEST[1], inward));
        let wish = at_most(USUAL, large).min(longest);
        let chosen = match before {
            // A step on a threshold does not change all teeth.
            Some(before) if fits(before.chosen, wish) && before.chosen < 1.15 * longest => {
                before.chosen
            }
            _ => under_1235(wish / part) * part,
        };
        let (mut low, mut high) = (0.0_f64, FLATTEST);
        for node in along(fine, comb_key(picked)) {
            (low, high) = (low.min(-node.curvature), high.max(-node.curvature));
        }
        // Where a line turns sharply at its end, the strip shows the rest.
        let line = fine.iter().filter(|(on, _)| *on == comb_key(picked));
        let usual = passed(line.flat_map(|(_, branches)| branches), 0.9, runs_along).max(FLATTEST);
        let (low, high) = (low.max(-3.0 * usual), high.min(3.0 * usual));
        // A hollow is seen as such even where it is slight.
        let low = low.min(-0.12 * high);
        let strip = match before {
            Some(before)
                if before.strip[0] <= low
                    && before.strip[1] >= high
                    && fits(before.strip[1] - before.strip[0], 1.2 * (high - low)) =>
            {
                before.strip
            }
            _ => [low * 1.08, high * 1.08],
        };
        Self {
            tooth: chosen * factor,
            chosen,
            strip,
            chosen_for,
        }
    }

    /// px per (1/mm) of a tooth.
    fn px(&self) -> f64 {
        10.0 * MM * self.tooth
    }
}

/// Whether a scale is still within twice and half of what would be chosen.
fn fits(scale: f64, wish: f64) -> bool {
    (0.5..=2.0).contains(&(scale / wish))
}

/// The comb's legend.
#[derive(Clone, Debug, PartialEq)]
pub struct Legend {
    /// Where its block stands, px.
    pub at: Point,
    /// Names of the lines with combs.
    pub title: String,
    /// Radius of a tooth of 10 mm.
    pub radius: String,
    /// Whether a hollow is drawn that it must explain.
    pub hollow: bool,
    /// Whether a band is.
    pub band: bool,
}

/// Combs under the lines, and the strip.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Curved {
    /// What is drawn.
    pub drawing: Drawing,
    /// The comb's legend, where there is a comb.
    pub legend: Option<Legend>,
}

/// Draws combs and strip.
pub fn draw_curvature(scene: &Scene<'_>, combs: &BTreeSet<On>, scales: &Scales) -> Curved {
    let mut drawn = Combs::default();
    let mut strip = Drawing::default();
    let mut hollows = Vec::new();
    for (on, branches) in scene.fine.iter().filter(|(on, _)| combs.contains(on)) {
        let Some(seen) = Seen::of(scene, *on, scales) else {
            continue;
        };
        let frame = seen.frame;
        for branch in branches {
            // The nodes of a fine line are near enough for its curvature to run straight between them, which it does from
            // knot to knot, where its slope jumps.
            for run in &comb(branch, f64::INFINITY).runs {
                let run = in_sight(run, &seen, scene.layout.size.0);
                for (_, band) in scene.bands.iter().filter(|(line, _)| line == on) {
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
    draw_strip(scene, scales, &mut strip);
    let legend = drawn.legend(scene, combs, scales);
    let mut drawing = Drawing::default();
    drawing.path("band", drawn.band);
    drawing.path("hollow", drawn.hollow);
    drawing.path("tooth", drawn.teeth);
    drawing.path("envelope", drawn.envelope);
    drawing.path("leader", drawn.leaders);
    drawing.labels = drawn.names;
    drawing.paths.append(&mut strip.paths);
    drawing.labels.append(&mut strip.labels);
    Curved { drawing, legend }
}

/// The tips of another state's combs, at the scale of those that stand.
pub fn comb_beside(scene: &Scene<'_>, scales: &Scales) -> Path {
    let mut path = Path::default();
    for (on, branches) in scene.fine {
        let Some(seen) = Seen::of(scene, *on, scales) else {
            continue;
        };
        for run in branches.iter().flat_map(|b| comb(b, f64::INFINITY).runs) {
            let run = in_sight(&run, &seen, scene.layout.size.0);
            let run = denser(run, TEETH / seen.frame.scale.0);
            path.line(run.iter().map(|tooth| seen.tip(tooth)));
        }
    }
    path
}

/// The teeth of a run from the first to the last that stands in sight or beside it.
fn in_sight<'a>(run: &'a [Tooth], seen: &Seen, width: f64) -> &'a [Tooth] {
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
struct Seen {
    frame: Frame,
    /// From above; else from the side.
    plan: bool,
    /// px per (1/mm).
    scale: f64,
}

impl Seen {
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

    fn root(&self, tooth: &Tooth) -> Point {
        let across = if self.plan {
            tooth.root.y
        } else {
            tooth.root.z
        };
        self.frame.at(tooth.root.x, across)
    }

    /// Convex teeth point outward: their curvature is negative.
    fn tip(&self, tooth: &Tooth) -> Point {
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

#[derive(Default)]
struct Combs {
    band: Path,
    teeth: Path,
    envelope: Path,
    hollow: Path,
    leaders: Path,
    names: Vec<Label>,
    /// Boxes of these.
    named: Vec<[f64; 4]>,
    hollows: bool,
    /// Places that teeth stand on.
    taken: Vec<Point>,
}

impl Combs {
    fn add(&mut self, run: &[Tooth], seen: &Seen) {
        let roots: Vec<Point> = run.iter().map(|t| seen.root(t)).collect();
        let tips: Vec<Point> = run.iter().map(|t| seen.tip(t)).collect();
        let mut last: Option<Point> = None;
        for (root, tip) in roots.iter().zip(&tips) {
            let far = |l: Point| geometry::num::hypot(l.0 - root.0, l.1 - root.1);
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

    /// Behind the teeth: where their tips may lie while the readings are met within their tolerances.
    fn lay(&mut self, run: &[Tooth], band: &[[f64; 3]], seen: &Seen) {
        let mut edges = [Vec::new(), Vec::new()];
        for [x, low, high] in band {
            let span = run.windows(2).find(|pair| {
                const HAIR: f64 = 1e-3; // mm: the first and the last place are the line's own ends
                let [a, b] = [pair[0].root.x, pair[1].root.x];
                (a.min(b) - HAIR..=a.max(b) + HAIR).contains(x) && (b - a).abs() > 1e-9
            });
            let Some([a, b]) = span else { continue };
            let share = (x - a.root.x) / (b.root.x - a.root.x);
            for (edge, curvature) in edges.iter_mut().zip([low, high]) {
                edge.push(seen.tip(&Tooth {
                    root: a.root.lerp(b.root, share),
                    outward: a.outward.lerp(b.outward, share),
                    curvature: *curvature,
                    ..*a
                }));
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
    fn name(&mut self, scene: &Scene<'_>, hollow: &Hollow, seen: &Seen) {
        let deepest = Tooth::of(&hollow.deepest);
        self.hollows = true;
        let [from, to] = [hollow.from, hollow.to].map(|end| end.point.x);
        let words = format!("hollow, {}", scene.lines.body.stretch_name(from, to));
        let (root, tip) = (seen.root(&deepest), seen.tip(&deepest));
        // Away from the line, on the side where there is paper, and clear of the run lines.
        let up = if tip.1 <= root.1 { -1.0 } else { 1.0 };
        let right = tip.0 + 170.0 < scene.layout.size.0;
        let side = if right { 1.0 } else { -1.0 };
        let drop = if up < 0.0 { -2.0 } else { 8.0 };
        let at = |off: f64| (tip.0 + side * 22.0, tip.1 + up * off);
        let wide = 6.4 * words.chars().count() as f64;
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
        self.names.push(name.pen("ink").patched());
    }

    /// How much the legend would cover there: places of teeth, buttock lines, and run lines before all.
    fn covered(&self, scene: &Scene<'_>, frame: Frame, (x, y): Point) -> usize {
        const RUN: usize = 1000;
        const BUTTOCK: usize = 100;
        let (left, right, top, foot) = (x - 12.0, x + 172.0, y - 18.0, y + 120.0);
        let on = |at: &&Point| (left..right).contains(&at.0) && (top..foot).contains(&at.1);
        let place = [left, top, right, foot];
        let run = crossed(scene, frame, false, place);
        let planes = scene.shown.planes.iter();
        let buttocks = planes.filter(|cut| !in_plan(scene.lines, On::Plane(cut.id)));
        let at = |node: &Node| frame.at(node.point.x, node.point.z);
        let buttocks = buttocks.filter(|cut| cut.branches.iter().any(|b| crosses(b, &at, place)));
        let weight = |there: bool| if there { RUN } else { 0 };
        self.taken.iter().filter(on).count() + weight(run) + BUTTOCK * buttocks.count()
    }

    fn legend(&self, scene: &Scene<'_>, combs: &BTreeSet<On>, scales: &Scales) -> Option<Legend> {
        let names: Vec<String> = combs
            .iter()
            .filter(|on| scene.fine.iter().any(|(line, _)| line == *on))
            .filter_map(|on| {
                let name = scene.lines.body.line_name(*on)?;
                Some(match on {
                    On::Crown | On::Keel | On::RunLine(_) => format!("the {name}"),
                    On::Plane(_) | On::PlaneUpper(_) | On::Free => name,
                })
            })
            .collect();
        let frame = scene.layout.profile.or(scene.layout.half_breadth);
        // A view that stands alone may show no comb at all.
        let frame = frame.filter(|_| !names.is_empty() && !self.taken.is_empty())?;
        let at = if scene.layout.alone {
            (scene.layout.size.0 - 10.0, scene.layout.size.1 - 10.0)
        } else {
            const NAMES: f64 = 62.0; // px, for the names of lines after the body's end
            const WIDE: f64 = 186.0;
            const NOTES: f64 = 304.0; // the margin's, as in `views.css`
            let (foot, end) = (frame.y(scene.layout.extent.z[0]), scene.layout.ends[1]);
            let beside = end + NAMES;
            // Beside a short body there is room, or under its body plan; a long one leaves it under its tail.
            let body = scene.layout.body;
            let breadth = scene.layout.extent.y * scene.layout.scale;
            let before = body.filter(|body| body.origin.0 - breadth - beside > WIDE);
            let under = body.filter(|_| scene.layout.size.0 - NOTES - beside > WIDE);
            let short = [
                before.map(|_| (beside, foot - 94.0)),
                under.map(|body| (beside, body.area[3] + 28.0)),
            ];
            let ways = [0.0, 8.0, -16.0, -32.0, -48.0, -64.0].map(|off| (170.0, off));
            let further = [330.0, 490.0, 650.0].map(|back| (back, 0.0));
            let head = frame.y(scene.layout.extent.z[1]) - (foot - 94.0);
            let higher = (5..20).map(|step| (170.0, -16.0 * f64::from(step)));
            let higher = higher.filter(|(_, off)| *off > head);
            let long = ways.into_iter().chain(further).chain(higher);
            let long = long.map(|(back, off)| (end - back, foot - 94.0 + off));
            let all = short.into_iter().flatten().chain(long);
            let hit = |at: &Point| self.covered(scene, frame, *at);
            let free = all.clone().find(|at| hit(at) == 0);
            free.or_else(|| all.min_by_key(hit))?
        };
        Some(Legend {
            at,
            title: format!("Comb of {}", names.join(", ")),
            radius: radius_words(scales.tooth, scene.lines.about.unit),
            hollow: self.hollows,
            band: !self.band.0.is_empty(),
        })
    }
}

/// Whether two boxes overlap: left, top, right, foot.
fn overlap(a: [f64; 4], b: [f64; 4]) -> bool {
    a[0] < b[2] && b[0] < a[2] && a[1] < b[3] && b[1] < a[3]
}

/// Whether a run line passes through a box, as seen from above or from the side.
fn crossed(
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
    let mut seen = runs.map(|(_, side, above)| if plan { above } else { side });
    seen.any(|branch| crosses(branch, &at, [left, top, right, foot]))
}

/// Whether a line passes through a box, by the places of its nodes on the sheet.
fn crosses(
    branch: &Branch,
    at: &dyn Fn(&Node) -> Point,
    [left, top, right, foot]: [f64; 4],
) -> bool {
    branch.nodes.windows(2).any(|pair| {
        let (a, b) = (at(&pair[0]), at(&pair[1]));
        let parts = 1.0 + ((b.0 - a.0).abs() / 8.0).ceil();
        (0..=geometry::num::count_of(parts)).any(|part| {
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
            let parts = geometry::num::count_of((last.root.distance(next.root) / spacing).ceil());
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

/// The size of curvature that all but the rest of a length keeps under, 1/mm.
fn passed<'a>(
    branches: impl Iterator<Item = &'a Branch>,
    share: f64,
    counts: impl Fn(&Node) -> bool,
) -> f64 {
    let mut sizes: Vec<(f64, f64)> = branches
        .flat_map(|branch| branch.nodes.windows(2))
        .filter(|pair| pair.iter().all(|n| n.curvature.is_finite() && counts(n)))
        .map(|pair| {
            let bent = f64::midpoint(pair[0].curvature.abs(), pair[1].curvature.abs());
            (bent, pair[0].point.distance(pair[1].point))
        })
        .collect();
    put_in_order(&mut sizes, |a, b| a.0.total_cmp(&b.0));
    let mut left = share * sizes.iter().map(|(_, length)| length).sum::<f64>();
    let reached = sizes.iter().find(|(_, length)| {
        left -= length;
        left <= 0.0
    });
    reached.or(sizes.last()).map_or(0.0, |(bent, _)| *bent)
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

/// Nodes of a line where it runs along the body.
fn along(fine: &[(On, Vec<Branch>)], on: On) -> impl Iterator<Item = &Node> {
    fine.iter()
        .filter(move |(line, _)| *line == on)
        .flat_map(|(_, branches)| branches)
        .flat_map(|branch| &branch.nodes)
        .filter(|node| runs_along(node))
}

fn runs_along(node: &Node) -> bool {
    node.tangent.x.abs() > ALONG && node.curvature.is_finite()
}

/// Radius along the picked line, linear in curvature and lettered in radius.
fn draw_strip(scene: &Scene<'_>, scales: &Scales, out: &mut Drawing) {
    let (Some([top, bottom]), Some(frame)) = (scene.layout.strip, scene.layout.profile) else {
        return;
    };
    let on = comb_key(scene.pick.on);
    if scene.fine.is_empty() {
        return;
    }
    let [low, high] = scales.strip;
    let y = |k: f64| {
        let share = (k - low) / (high - low);
        (bottom - share * (bottom - top)).clamp(top - 6.0, bottom + 6.0)
    };
    let [left, right] = scene.layout.ends;
    let flat = crisp(y(0.0));
    let name = headed(&scene.lines.body.line_name(on).unwrap_or_default());
    let caption = if on == On::Keel {
        format!("{name}, radius along the upsweep")
    } else {
        format!("{name}, radius along")
    };
    out.label(label((left - 54.0, top - 14.0), caption).pen("caption"));
    let (mut rules, mut zero) = (Path::default(), Path::default());
    zero.stroke((left - 4.0, flat), (right + 4.0, flat));
    out.label(label((left - 8.0, flat + 4.0), "flat").end());
    letter(scene, [low, high], flat, &y, (&mut rules, out));

    let (mut curve, mut hollow) = (Path::default(), Path::default());
    for (_, branches) in scene.fine.iter().filter(|(line, _)| *line == on) {
        for branch in branches {
            for part in branch.nodes.split(|n| !runs_along(n)) {
                let at = |n: &Node| (frame.x(n.point.x), y(-n.curvature));
                // What is off the scale is left out; a level line there would be taken for a constant radius.
                let fits = |n: &Node| (low..=high).contains(&-n.curvature);
                for seen in part.split(|n| !fits(n)) {
                    curve.line(seen.iter().map(at));
                }
                for piece in part.split(|n| n.curvature <= 0.0).filter(|p| p.len() > 1) {
                    let ends = [&piece[piece.len() - 1], &piece[0]];
                    let feet = ends.map(|n| (frame.x(n.point.x), flat));
                    hollow.line(piece.iter().map(at).chain(feet));
                    hollow.close();
                }
            }
        }
    }
    let mut dots = Path::default();
    let on_scale = |peak: &Node| (low..=high).contains(&-peak.curvature);
    let mut peaks = peaks(scene, on, high.max(-low));
    peaks.retain(on_scale);
    put_in_order(&mut peaks, |a, b| {
        b.curvature.abs().total_cmp(&a.curvature.abs())
    });
    let mut named: Vec<[f64; 4]> = Vec::new();
    for peak in peaks {
        let at = (frame.x(peak.point.x), y(-peak.curvature));
        dots.circle(at, 2.0);
        let words = radius_words(1.0 / peak.curvature, scene.lines.about.unit);
        let hollow = peak.curvature > 0.0;
        let words = if hollow {
            format!("hollow {words}")
        } else {
            words
        };
        let wide = 7.0 * words.chars().count() as f64;
        let (left, foot) = if hollow {
            (at.0 + 8.0, at.1 + 4.0)
        } else {
            (at.0 - wide / 2.0, at.1 - 6.0)
        };
        // Of names that would lie on each other, that of the hardest bend.
        let place = [left, foot - 12.0, left + wide, foot + 4.0];
        if named.iter().any(|other| overlap(*other, place)) {
            continue;
        }
        named.push(place);
        let name = if hollow {
            label((left, foot), words)
        } else {
            label((at.0, foot), words).middle()
        };
        out.label(name.pen("ink bold").patched());
    }
    out.path("mark-rule", rules);
    out.path("leader", zero);
    out.path("hollow", hollow);
    out.path("envelope", curve);
    out.path("dot", dots);
}

/// Radii at round marks, above and below «flat».
fn letter(
    scene: &Scene<'_>,
    [low, high]: [f64; 2],
    flat: f64,
    y: &dyn Fn(f64) -> f64,
    (rules, out): (&mut Path, &mut Drawing),
) {
    let [left, right] = scene.layout.ends;
    let (unit, part) = (scene.lines.about.unit, round_part(scene.lines.about.unit));
    let near = over_125(1.0 / high.max(-low) / part) * part;
    let mut hollow = None;
    for sign in [1.0, -1.0] {
        let mut last = flat;
        for radius in [near, 2.0 * near] {
            let k = sign / radius;
            let at = crisp(y(k));
            // The larger radius lies between the smaller one and «flat».
            let room = (at - flat).abs() > 11.0
                && ((last - at).abs() > 11.0 || geometry::num::same(last, flat));
            if k > high || k < low || !room {
                continue;
            }
            last = at;
            rules.stroke((left, at), (right, at));
            out.label(label((left - 8.0, at + 4.0), radius_words(radius, unit)).end());
            if sign < 0.0 {
                hollow = Some(at);
            }
        }
    }
    if let Some(at) = hollow {
        out.label(label((right + 10.0, at + 4.0), "hollow"));
    }
}

/// Whether a bend eases by so much on either side before one as hard is met.
fn stands_out(bends: &[f64], at: usize, by: f64) -> bool {
    let (before, rest) = bends.split_at(at);
    let Some((here, after)) = rest.split_first() else {
        return false;
    };
    let eases = |side: &mut dyn Iterator<Item = &f64>| {
        let until = side.take_while(|bend| *bend <= here);
        until.fold(*here, |least, bend| least.min(*bend)) < here - by
    };
    eases(&mut before.iter().rev()) && eases(&mut after.iter())
}

/// Nodes at which a line bends hardest and stands out from its neighbours, and the deepest of each hollow.
fn peaks(scene: &Scene<'_>, on: On, largest: f64) -> Vec<Node> {
    const APART: f64 = 44.0; // px, for the figures beside them
    let least = 0.25 * largest;
    let nodes: Vec<&Node> = along(scene.fine, on).collect();
    let mut found: Vec<Node> = Vec::new();
    let bends: Vec<f64> = nodes.iter().map(|node| -node.curvature).collect();
    for (i, three) in nodes.windows(3).enumerate() {
        let [before, here, after] = [0, 1, 2].map(|i| three[i].curvature);
        if !(here <= before && here < after) || here > -least {
            continue;
        }
        if !stands_out(&bends, i + 1, 0.05 * largest) {
            continue;
        }
        match found.last_mut() {
            Some(last) if (last.point.x - three[1].point.x).abs() * scene.layout.scale < APART => {
                if here < last.curvature {
                    *last = *three[1];
                }
            }
            _ => found.push(*three[1]),
        }
    }
    let own = scene.fine.iter().filter(|(line, _)| *line == on);
    let hollows = own.flat_map(|(_, branches)| branches.iter().flat_map(|b| b.hollows(least)));
    let deepest = hollows.map(|hollow| hollow.deepest);
    found.extend(deepest.filter(runs_along));
    found
}
