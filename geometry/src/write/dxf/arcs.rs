//! Curves as lines and arcs, for machines that cut nothing else.
//!
//! In: a run of cubic Bézier curves that hang together, and how far arcs may lie from them. Out: where each line or arc
//! ends, and its bulge. From each place the longest pair of arcs is taken that a bound allows: where it does not, the way
//! is halved until it does, then taken as long as it goes. What is checked is that bound on the whole stretch, not samples.

use glam::DVec2;

use crate::num::scalar::roots;
use crate::paper::PaperPoint;

/// A cubic Bézier curve: its ends and handles in order.
type Cubic = [DVec2; 4];

/// Least tolerance, mm: under it, rounding would be what is measured.
pub(super) const LEAST: f64 = 1e-4;

/// Curves that meet at less than this angle go on smoothly, rad.
const SMOOTH: f64 = 1e-6;

/// Two arcs whose tangents agree like this are one arc, rad.
const ONE_ARC: f64 = 1e-9;

/// Over so little of a curve, if it is no longer than the tolerance, a stroke is taken where no arc fits: at a cusp none does,
/// however short.
const CUSP: f64 = 1.0 / 1024.0;

/// So many curves are taken in a row: their parameter then tells places apart that are nearer than any tolerance.
const ROW: usize = 1000;

/// So often a bound is taken anew on both halves before it counts as missed.
const FINER: usize = 5;

/// So often the length of a stretch is halved between one that fits and one that does not.
const LONGER: usize = 6;

/// Where a line or an arc ends.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Bulged {
    /// Its end.
    pub(super) to: PaperPoint,
    /// The tangent of a quarter of its turn, clockwise on the paper; 0 is straight.
    pub(super) bulge: f64,
}

/// Lines and arcs for a run of curves, each of which begins where the one before it ends.
///
/// Where the curve has a tangent, so have the arcs, but for what printing rounds off; corners stay corners.
///
/// # Units
/// - `tolerance`: mm, no less than [`LEAST`]
///
/// # Accuracy
/// No place of the curve is further than `tolerance` from the arcs, and no place of the arcs from the curve. The bound for an
/// arc from A with tangent T, normal N and curvature κ: with q = P − A, g = q·N − κ q²/2 is a polynomial of degree 6 along a
/// cubic, and |g| = δ (1 ∓ κ δ / 2) at distance δ outside or inside; so δ ≤ τ wherever |g| ≤ τ (1 − κ τ / 2), which
/// the polynomial's Bernstein coefficients show. It covers the arc as P goes round its centre in one sense (q′ · (T + κ J q)
/// > 0, J a quarter turn) and crosses the normal at the joint of two arcs once.
///
/// # Source
/// Biarcs with equal legs: Bolton, *Computer-Aided Design* 7 (1975); the bound is worked out here, by the hull of
/// Bernstein coefficients.
pub(super) fn fit(curves: &[[PaperPoint; 4]], tolerance: f64) -> Vec<Bulged> {
    let curves: Vec<Cubic> = { curves.iter() }
        .map(|curve| curve.map(DVec2::from))
        .filter(|curve| reach(curve) > 0.0)
        .collect();
    let mut out = Vec::new();
    let smooth = |a: &Cubic, b: &Cubic| {
        let (a, b) = (leaving(&reversed(a)), leaving(b));
        // The one points back along the first curve.
        a.perp_dot(b).abs() < SMOOTH && a.dot(b) < 0.0
    };
    for run in curves.chunk_by(smooth) {
        for row in run.chunks(ROW) {
            fit_smooth(row, tolerance, &mut out);
        }
    }
    out
}

/// The same for curves without a corner between them.
fn fit_smooth(run: &[Cubic], tolerance: f64, out: &mut Vec<Bulged>) {
    let end = run.len() as f64;
    let (mut from, mut last) = (0.0, end);
    while from < end {
        let fits = |to: f64| biarc(&stretch(run, from, to), tolerance);
        let mut step = (2.0 * last).min(end - from);
        let mut whole = true;
        let (found, mut fitted) = loop {
            let to = if from + step >= end { end } else { from + step };
            if let Some(arcs) = fits(to) {
                break (to, arcs);
            }
            if step <= CUSP {
                let pieces = stretch(run, from, to);
                let near = pieces.iter().all(|p| reach(p) <= tolerance);
                if near && let Some(stroke) = stroke(&pieces, tolerance) {
                    break (to, vec![stroke]);
                }
            }
            whole = false;
            step /= 2.0;
        };
        let mut reached = found;
        // Longer is better only where each of its arcs is: a stroke stays one, half a circle an arc.
        let longer = |to: f64, reached: f64, fitted: &[Bulged]| {
            let arcs = fits(to)?;
            let more = (to - from) * fitted.len() as f64 > (reached - from) * arcs.len() as f64;
            more.then_some(arcs)
        };
        if whole {
            while reached < end {
                let to = (from + 2.0 * (reached - from)).min(end);
                let Some(arcs) = longer(to, reached, &fitted) else {
                    break;
                };
                (reached, fitted) = (to, arcs);
            }
        }
        // Between what fits and what does not.
        let mut missed = (from + 2.0 * (reached - from)).min(end);
        for _ in 0..LONGER {
            let to = f64::midpoint(reached, missed);
            if to <= reached {
                break;
            }
            match longer(to, reached, &fitted) {
                Some(arcs) => (reached, fitted) = (to, arcs),
                None => missed = to,
            }
        }
        out.extend(fitted);
        last = reached - from;
        from = reached;
    }
}

/// The curves of a run between two of its parameters, the whole numbers of which are its joints.
fn stretch(run: &[Cubic], from: f64, to: f64) -> Vec<Cubic> {
    let piece = |(i, curve): (usize, &Cubic)| {
        let (low, high) = (from - i as f64, to - i as f64);
        (low < 1.0 && high > 0.0).then(|| between(curve, low.max(0.0), high.min(1.0)))
    };
    run.iter().enumerate().filter_map(piece).collect()
}

/// Two arcs, one or a stroke for curves that hang together, if a bound shows that they are near enough.
fn biarc(pieces: &[Cubic], tolerance: f64) -> Option<Vec<Bulged>> {
    let (first, last) = (pieces.first()?, pieces.last()?);
    let (a, b) = (first[0], last[3]);
    let (leave, meet) = (leaving(first), -leaving(&reversed(last)));
    let chord = b - a;
    // Equal legs d along both tangents: 2 (1 − T₀·T₁) d² + 2 c·(T₀ + T₁) d = c² with the chord c, by the root that is stable.
    let along = chord.dot(leave + meet);
    let open = 2.0 * (1.0 - leave.dot(meet)).max(0.0);
    let leg =
        chord.length_squared() / (along + (along * along + open * chord.length_squared()).sqrt());
    if !(leg > 0.0 && leg.is_finite()) {
        return None;
    }
    let (out, back) = (a + leave * leg, b - meet * leg);
    let joint = (out + back) / 2.0;
    let tangent = (back - out).try_normalize()?;
    let arcs = [Sweep::new(a, leave, joint)?, Sweep::new(joint, tangent, b)?];
    // Where the curve crosses the normal at the joint.
    let ahead = |p: DVec2| (p - joint).dot(tangent);
    if ahead(a) >= 0.0 || ahead(b) <= 0.0 {
        return None;
    }
    let mut crossing = None;
    let mut found = Vec::new();
    for (i, piece) in pieces.iter().enumerate() {
        roots(&piece.map(ahead), &mut found);
        for t in found.drain(..) {
            if crossing.replace((i, t)).is_some() {
                return None;
            }
        }
    }
    let (at, t) = crossing?;
    let near = |arc: &Sweep, piece: &Cubic| arc.is_near(piece, tolerance, FINER);
    let [before, after] = [between(&pieces[at], 0.0, t), between(&pieces[at], t, 1.0)];
    let both = pieces[..at].iter().all(|p| near(&arcs[0], p))
        && near(&arcs[0], &before)
        && near(&arcs[1], &after)
        && pieces[at + 1..].iter().all(|p| near(&arcs[1], p));
    if !both {
        return None;
    }
    // Where one arc does it, or a stroke.
    let unit = chord.try_normalize()?;
    let mirrored = 2.0 * leave.dot(unit) * unit - leave;
    if mirrored.distance(meet) < ONE_ARC
        && let Some(one) = Sweep::new(a, leave, b)
    {
        return Some(vec![one.as_bulged()]);
    }
    Some(arcs.map(|arc| arc.as_bulged()).to_vec())
}

/// A stroke for curves that hang together, if all their handles are near it.
fn stroke(pieces: &[Cubic], tolerance: f64) -> Option<Bulged> {
    let (a, b) = (pieces.first()?[0], pieces.last()?[3]);
    let chord = b - a;
    let far = |p: &DVec2| {
        let length = chord.length_squared();
        let share = if length > 0.0 {
            ((*p - a).dot(chord) / length).clamp(0.0, 1.0)
        } else {
            0.0
        };
        p.distance(a + chord * share)
    };
    let near = pieces.iter().flatten().all(|p| far(p) <= tolerance);
    near.then_some(Bulged {
        to: b.into(),
        bulge: 0.0,
    })
}

/// An arc of no more than half a turn.
struct Sweep {
    from: DVec2,
    /// Its tangent there.
    tangent: DVec2,
    /// 1/mm, over zero as it turns clockwise on the paper.
    curvature: f64,
    to: DVec2,
    /// See [`Bulged`].
    bulge: f64,
}

impl Sweep {
    fn new(from: DVec2, tangent: DVec2, to: DVec2) -> Option<Self> {
        let chord = to - from;
        let (along, aside) = (tangent.dot(chord), tangent.perp_dot(chord));
        let length = chord.length();
        if length <= 0.0 || along < -SMOOTH * length {
            return None;
        }
        Some(Self {
            from,
            tangent,
            curvature: 2.0 * aside / (length * length),
            to,
            // The tangent of half the angle between tangent and chord, which is half of the turn.
            bulge: aside / (length + along),
        })
    }

    fn as_bulged(&self) -> Bulged {
        Bulged {
            to: self.to.into(),
            bulge: self.bulge,
        }
    }

    /// Whether a curve is no further than the tolerance from its circle, and goes round that in its sense; see [`fit`].
    fn is_near(&self, curve: &Cubic, tolerance: f64, finer: usize) -> bool {
        let bend = self.curvature.abs();
        let tolerance = if tolerance * bend > 0.5 {
            0.5 / bend
        } else {
            tolerance
        };
        let most = tolerance * (1.0 - tolerance * bend / 2.0);
        let normal = self.tangent.perp();
        let rel = curve.map(|p| p - self.from);
        let aside = rel.map(|q| q.dot(normal));
        let beside = |q: DVec2| (q.dot(normal) - self.curvature * q.length_squared() / 2.0).abs();
        let round = rel.map(|q| self.tangent + self.curvature * q.perp());
        let legs = [0, 1, 2].map(|i| rel[i + 1] - rel[i]);
        if beside(rel[0]).max(beside(rel[3])) > most
            || legs[0].dot(round[0]) < 0.0
            || legs[2].dot(round[3]) < 0.0
        {
            return false;
        }
        let shown = |k: usize| {
            let sum = |of: &dyn Fn(usize, usize) -> f64| -> f64 {
                (k.saturating_sub(3)..=k.min(3))
                    .map(|i| THREE[i] * THREE[k - i] * of(i, k - i))
                    .sum::<f64>()
                    / SIX[k]
            };
            sum(&|i, j| aside[i] - self.curvature / 2.0 * rel[i].dot(rel[j])).abs() <= most
        };
        let forward = |k: usize| {
            let sum: f64 = (k.saturating_sub(3)..=k.min(2))
                .map(|i| TWO[i] * THREE[k - i] * legs[i].dot(round[k - i]))
                .sum();
            sum >= 0.0
        };
        if (0..=6).all(shown) && (0..=5).all(forward) {
            return true;
        }
        finer > 0
            && halves(curve)
                .iter()
                .all(|half| self.is_near(half, tolerance, finer - 1))
    }
}

/// Binomial coefficients.
const TWO: [f64; 3] = [1.0, 2.0, 1.0];
const THREE: [f64; 4] = [1.0, 3.0, 3.0, 1.0];
const SIX: [f64; 7] = [1.0, 6.0, 15.0, 20.0, 15.0, 6.0, 1.0];

/// How far a curve's handles reach from where it begins, mm.
fn reach(curve: &Cubic) -> f64 {
    let far = curve.map(|p| p.distance(curve[0]));
    far.into_iter().fold(0.0, f64::max)
}

/// Which way a curve leaves its first end; it is no point.
fn leaving(curve: &Cubic) -> DVec2 {
    let far = reach(curve) * 1e-9;
    let handles = curve[1..].iter().map(|p| *p - curve[0]);
    { handles }
        .filter(|way| way.length() > far)
        .find_map(DVec2::try_normalize)
        .unwrap_or(DVec2::X)
}

fn reversed(curve: &Cubic) -> Cubic {
    let [a, b, c, d] = *curve;
    [d, c, b, a]
}

fn halves(curve: &Cubic) -> [Cubic; 2] {
    parted(curve, 0.5)
}

/// Both parts of a curve, by de Casteljau; they share the place between them to the bit.
fn parted(curve: &Cubic, t: f64) -> [Cubic; 2] {
    let mix = |a: DVec2, b: DVec2| a + (b - a) * t;
    let [a, b, c, d] = *curve;
    let (ab, bc, cd) = (mix(a, b), mix(b, c), mix(c, d));
    let (abc, bcd) = (mix(ab, bc), mix(bc, cd));
    let at = mix(abc, bcd);
    [[a, ab, abc, at], [at, bcd, cd, d]]
}

/// The part of a curve between two of its parameters.
fn between(curve: &Cubic, low: f64, high: f64) -> Cubic {
    let begun = if low > 0.0 {
        parted(curve, low)[1]
    } else {
        *curve
    };
    if high < 1.0 {
        parted(&begun, (high - low) / (1.0 - low))[0]
    } else {
        begun
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::num;

    const TOLERANCES: [f64; 6] = [2.0, 0.3, 0.02, 2e-3, 3e-4, LEAST];

    /// A line or an arc: where it begins, where it ends, and the tangent of a quarter of its turn.
    type Side = (DVec2, DVec2, f64);

    fn sides(start: PaperPoint, fitted: &[Bulged]) -> Vec<Side> {
        let mut from = DVec2::from(start);
        let one = |side: &Bulged| {
            let this = (from, DVec2::from(side.to), side.bulge);
            from = this.1;
            this
        };
        fitted.iter().map(one).collect()
    }

    /// A place on a side, by its share of the turn.
    fn on_side(&(a, b, bulge): &Side, share: f64) -> DVec2 {
        if bulge.abs() < 1e-12 {
            return a + (b - a) * share;
        }
        let (centre, turn) = circle(&(a, b, bulge));
        crate::paper::on_arc(a.into(), centre.into(), turn * share).into()
    }

    /// Centre and turn of an arc.
    fn circle(&(a, b, bulge): &Side) -> (DVec2, f64) {
        let turn = 4.0 * num::atan2(bulge, 1.0);
        let chord = b - a;
        // From the chord's middle to the centre: half the chord over the tangent of half the turn.
        let middle = (a + b) / 2.0;
        let over = (1.0 - bulge * bulge) / (4.0 * bulge);
        (middle + chord.perp() * over, turn)
    }

    /// How far a place is from a side.
    fn far_from_side(p: DVec2, side: &Side) -> f64 {
        let (a, b, bulge) = *side;
        let ends = p.distance(a).min(p.distance(b));
        if bulge.abs() < 1e-12 {
            let share = (p - a).dot(b - a) / (b - a).length_squared();
            return p.distance(a + (b - a) * share.clamp(0.0, 1.0));
        }
        let (centre, turn) = circle(side);
        let angle = (a - centre).angle_to(p - centre) * turn.signum();
        let angle = if angle < 0.0 {
            angle + core::f64::consts::TAU
        } else {
            angle
        };
        if angle <= turn.abs() {
            (p.distance(centre) - a.distance(centre)).abs()
        } else {
            ends
        }
    }

    /// The directions in which a side begins and ends.
    fn tangents(&(a, b, bulge): &Side) -> [DVec2; 2] {
        let half = 2.0 * num::atan2(bulge, 1.0);
        let way = (b - a).normalize();
        [-half, half].map(|angle| DVec2::new(num::cos(angle), num::sin(angle)).rotate(way))
    }

    fn at(curve: &[PaperPoint; 4], t: f64) -> DVec2 {
        let c = curve.map(DVec2::from);
        parted(&c, t)[0][3]
    }

    /// The largest distance of curves from arcs, and of arcs from whatever `off` measures a place's distance from.
    fn off_by(
        curves: &[[PaperPoint; 4]],
        fitted: &[Bulged],
        off: impl Fn(DVec2) -> f64,
    ) -> [f64; 2] {
        let sides = sides(curves[0][0], fitted);
        let mut most = [0.0_f64; 2];
        let share = |i: u32, of: u32| f64::from(i) / f64::from(of);
        for side in &sides {
            for i in 0..=24 {
                most[1] = most[1].max(off(on_side(side, share(i, 24))));
            }
        }
        for curve in curves {
            for i in 0..=400 {
                let p = at(curve, share(i, 400));
                let far = sides.iter().map(|side| far_from_side(p, side));
                most[0] = most[0].max(far.fold(f64::INFINITY, f64::min));
            }
        }
        most
    }

    /// Distance from the graph of a function, by its slope and its second derivative: Newton's method for the foot.
    fn far_from_graph(p: DVec2, y: impl Fn(f64) -> [f64; 3]) -> f64 {
        let mut x = p.x;
        for _ in 0..50 {
            let [value, slope, bend] = y(x);
            let along = (x - p.x) + (value - p.y) * slope;
            x -= along / (1.0 + slope * slope + (value - p.y) * bend);
        }
        p.distance(DVec2::new(x, y(x)[0]))
    }

    /// A graph of powers from −40 to 40 as a curve: its Bernstein coefficients are values of its polar form.
    fn graph(polar: impl Fn([f64; 3]) -> f64) -> [PaperPoint; 4] {
        let (l, k) = (40.0, 40.0 / 3.0);
        let heights = [[-l, -l, -l], [-l, -l, l], [-l, l, l], [l, l, l]].map(polar);
        [
            (-l, heights[0]),
            (-k, heights[1]),
            (k, heights[2]),
            (l, heights[3]),
        ]
    }

    #[track_caller]
    fn is_smooth(start: PaperPoint, fitted: &[Bulged]) {
        let sides = sides(start, fitted);
        for pair in sides.windows(2) {
            let ([_, end], [begin, _]) = (tangents(&pair[0]), tangents(&pair[1]));
            assert!(end.distance(begin) < 1e-7, "{pair:?}");
        }
    }

    #[test]
    fn a_parabola_and_a_curve_like_an_s_are_met_within_every_tolerance() {
        let parabola = graph(|[a, b, c]| (a * b + b * c + c * a) / 120.0);
        let s = graph(|[a, b, c]| a * b * c / 1600.0);
        let mut counts = Vec::new();
        for tolerance in TOLERANCES {
            let fitted = fit(&[parabola], tolerance);
            let far = |p| far_from_graph(p, |x| [x * x / 40.0, x / 20.0, 0.05]);
            is_near(&off_by(&[parabola], &fitted, far), tolerance);
            is_smooth(parabola[0], &fitted);
            let bent = fit(&[s], tolerance);
            let cubic = |x: f64| [x * x * x / 1600.0, x * x * 3.0 / 1600.0, x * 6.0 / 1600.0];
            is_near(
                &off_by(&[s], &bent, |p| far_from_graph(p, cubic)),
                tolerance,
            );
            is_smooth(s[0], &bent);
            counts.push(fitted.len().max(bent.len()));
        }
        // Their number grows as the root of third order.
        for (pair, steps) in counts.windows(2).zip(TOLERANCES.windows(2)) {
            let most = 1.25 * num::powf(steps[0] / steps[1], 1.0 / 3.0) * pair[0] as f64 + 2.0;
            assert!(pair[1] as f64 <= most, "{counts:?}");
        }
        assert!(counts[2] <= 18, "{counts:?}");
    }

    /// A circle by four curves, which lie up to 2.73e-4 of its radius outside of it.
    fn round(radius: f64) -> [[PaperPoint; 4]; 4] {
        let handle = radius * (2.0_f64.sqrt() - 1.0) * 4.0 / 3.0;
        let quarter = [
            DVec2::new(radius, 0.0),
            DVec2::new(radius, handle),
            DVec2::new(handle, radius),
            DVec2::new(0.0, radius),
        ];
        let turned = |p: DVec2, times: usize| (0..times).fold(p, |p, _| p.perp());
        core::array::from_fn(|i| quarter.map(|p| turned(p, i).into()))
    }

    #[test]
    fn a_circle_drawn_by_curves_is_two_arcs_while_the_tolerance_allows_it() {
        for radius in [0.4, 30.0, 4000.0] {
            let curves = round(radius);
            for tolerance in TOLERANCES {
                let fitted = fit(&curves, tolerance);
                // The curve lies between these two circles.
                let outside = |p: DVec2| {
                    let far = p.length();
                    (radius - far).max(far - radius * (1.0 + 2.73e-4)).max(0.0)
                };
                let [_, off] = off_by(&curves, &fitted, outside);
                assert!(off <= tolerance, "{off} for {tolerance} about {radius}");
                is_smooth(curves[0][0], &fitted);
                if tolerance > 2.8e-4 * radius {
                    assert_eq!(fitted.len(), 2, "{tolerance} about {radius}");
                }
            }
        }
    }

    #[test]
    fn straight_curves_are_strokes_and_corners_stay() {
        let straight = [(0.0, 0.0), (10.0, 5.0), (20.0, 10.0), (30.0, 15.0)];
        let up = [(30.0, 15.0), (30.0, 25.0), (40.0, 35.0), (50.0, 35.0)];
        let point = [(30.0, 15.0); 4];
        let fitted = fit(&[straight, point, up], 0.02);
        assert_eq!(
            fitted[0],
            Bulged {
                to: (30.0, 15.0),
                bulge: 0.0
            }
        );
        let [begin, _] = tangents(&(DVec2::new(30.0, 15.0), fitted[1].to.into(), fitted[1].bulge));
        assert!(begin.distance(DVec2::Y) < 1e-9, "{begin}");
        assert!(fit(&[point], 0.02).is_empty());
    }

    #[test]
    fn a_cusp_and_a_curve_that_comes_back_on_itself_come_to_an_end() {
        let cusp = [(0.0, 0.0), (100.0, 100.0), (0.0, 100.0), (100.0, 0.0)];
        let back = [(0.0, 0.0), (90.0, 0.0), (-60.0, 0.0), (30.0, 0.0)];
        // One that no halving meets, and handles that lie on an end.
        let [_, aside] = parted(&cusp.map(DVec2::from), 0.1);
        let held = [(0.0, 0.0), (30.0, 10.0), (50.0, 0.0), (50.0, 0.0)];
        for curve in [cusp, back, aside.map(PaperPoint::from), held] {
            for tolerance in TOLERANCES {
                let fitted = fit(&[curve], tolerance);
                let off = off_by(&[curve], &fitted, |p| far_from_curves(p, &[curve]));
                is_near(&off, tolerance);
            }
        }
    }

    /// Distance from curves: by golden sections about each sample that is nearer than its neighbours.
    fn far_from_curves(p: DVec2, curves: &[[PaperPoint; 4]]) -> f64 {
        const DENSE: f64 = 200.0;
        let mut least = f64::INFINITY;
        for curve in curves {
            let far = |t: f64| at(curve, t).distance(p);
            let samples: Vec<f64> = (0..=200).map(|i| far(f64::from(i) / DENSE)).collect();
            for (i, sample) in samples.iter().enumerate() {
                let beside = [i.saturating_sub(1), (i + 1).min(200)];
                if beside.iter().any(|beside| samples[*beside] < *sample) {
                    continue;
                }
                let [mut low, mut high] = beside.map(|i| i as f64 / DENSE);
                for _ in 0..40 {
                    let (a, b) = (low + (high - low) * 0.382, low + (high - low) * 0.618);
                    if far(a) < far(b) { high = b } else { low = a }
                }
                least = least.min(far(low)).min(*sample);
            }
        }
        least
    }

    #[track_caller]
    fn is_near(off: &[f64; 2], tolerance: f64) {
        // What the measuring itself rounds off.
        assert!(
            off.iter().all(|off| *off <= tolerance + 1e-9),
            "{off:?} for {tolerance}"
        );
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(40))]

        /// Loops, cusps, points on points: whatever handles are drawn.
        #[test]
        fn any_run_of_curves_is_met_both_ways(
            handles in prop::collection::vec((0..12_i32, 0..12_i32), 4..8),
            power in 0..3_usize,
        ) {
            let tolerance = [0.3, 0.02, 2e-3][power];
            let place = |i: usize| {
                let (x, y) = handles[i % handles.len()];
                (f64::from(x) * 3.0, f64::from(y) * 3.0)
            };
            let curves: Vec<[PaperPoint; 4]> = (0..handles.len() / 3)
                .map(|i| [place(3 * i), place(3 * i + 1), place(3 * i + 2), place(3 * i + 3)])
                .collect();
            let fitted = fit(&curves, tolerance);
            prop_assert!(fitted.len() < 2000, "{}", fitted.len());
            if fitted.is_empty() {
                return Ok(());
            }
            let off = off_by(&curves, &fitted, |p| far_from_curves(p, &curves));
            prop_assert!(off.iter().all(|off| *off <= tolerance + 1e-9), "{off:?} for {tolerance}");
        }
    }
}
