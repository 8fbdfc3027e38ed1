//! Paths cut off at the edges of an upright box: curves stay curves, arcs stay arcs.
//!
//! For sheets laid in tiles, and for whatever is read by programs that know no clipping.

use core::f64::consts::TAU;

use super::path::{on_arc, on_curve};
use super::{PaperPoint, Path, Polyline, Step};
use crate::num;
use crate::num::scalar::{roots, to_bernstein};

/// An upright box: left, top, right, foot, mm.
pub type Area = [f64; 4];

/// Whether two boxes share anything but an edge.
#[must_use]
pub fn overlap(a: Area, b: Area) -> bool {
    a[0] < b[2] && b[0] < a[2] && a[1] < b[3] && b[1] < a[3]
}

/// Whether a box lies whole within another, at its edge at most.
#[must_use]
pub fn is_within([left, top, right, foot]: Area, whole: Area) -> bool {
    left >= whole[0] && top >= whole[1] && right <= whole[2] && foot <= whole[3]
}

impl Path {
    /// Its strokes within a box.
    ///
    /// # Accuracy
    /// Exact but for rounding; what lies on the edge is within.
    ///
    /// # Source
    /// Liang and Barsky, *ACM Transactions on Graphics* 3 (1984), for straight strokes; elsewhere the roots of each
    /// coordinate's polynomial.
    #[must_use]
    pub fn clipped(&self, area: Area) -> Self {
        let mut out = Self::default();
        let mut pen: Option<PaperPoint> = None;
        let mut start = (0.0, 0.0);
        self.walk(|from, step| {
            let mut add = |a: PaperPoint, piece: Step, b: PaperPoint| {
                if pen.is_none_or(|at| num::hypot(at.0 - a.0, at.1 - a.1) > num::SAME_POINT) {
                    out.steps.push(Step::Move(a));
                }
                out.steps.push(piece);
                pen = Some(b);
            };
            let mut straight = |to: PaperPoint| {
                if let Some([a, b]) = segment(from, to, area) {
                    add(a, Step::Line(b), b);
                }
            };
            match step {
                Step::Move(to) => {
                    start = to;
                    pen = None;
                }
                Step::Line(to) => straight(to),
                Step::Close => straight(start),
                Step::Curve(leave, meet, to) => {
                    let curve = [from, leave, meet, to];
                    let cuts = curve_cuts(&curve, area);
                    for [low, high] in inside(&cuts, area, |t| on_curve(&curve, t)) {
                        let [a, b, c, d] = between(&curve, low, high);
                        add(a, Step::Curve(b, c, d), d);
                    }
                }
                Step::Arc { centre, turn } => {
                    let cuts = arc_cuts(from, centre, turn, area);
                    let at = |t: f64| on_arc(from, centre, turn * t);
                    for [low, high] in inside(&cuts, area, at) {
                        let part = Step::Arc {
                            centre,
                            turn: turn * (high - low),
                        };
                        add(at(low), part, at(high));
                    }
                }
            }
        });
        out
    }

    /// The part within a box of the area that it bounds, its edges flattened.
    ///
    /// # Units
    /// - `accuracy`: mm: how near curved edges are met
    ///
    /// # Accuracy
    /// Exact for straight edges, but for rounding.
    ///
    /// # Source
    /// Sutherland and Hodgman, *Communications of the ACM* 17 (1974).
    #[must_use]
    pub fn clipped_area(&self, [left, top, right, foot]: Area, accuracy: f64) -> Self {
        let mut out = Self::default();
        for Polyline { mut points, .. } in self.flatten(accuracy) {
            let sides: [&dyn Fn(PaperPoint) -> f64; 4] =
                [&|p| p.0 - left, &|p| right - p.0, &|p| p.1 - top, &|p| {
                    foot - p.1
                }];
            for side in sides {
                points = half_plane(&points, side);
            }
            if points.len() > 2 {
                out.draw_line(points);
                out.close();
            }
        }
        out
    }
}

fn within((x, y): PaperPoint, [left, top, right, foot]: Area) -> bool {
    let near = num::SAME_POINT;
    (left - near..=right + near).contains(&x) && (top - near..=foot + near).contains(&y)
}

/// The part of a straight stroke within a box.
fn segment(
    from: PaperPoint,
    to: PaperPoint,
    [left, top, right, foot]: Area,
) -> Option<[PaperPoint; 2]> {
    let (dx, dy) = (to.0 - from.0, to.1 - from.1);
    let (mut low, mut high) = (0.0_f64, 1.0_f64);
    for (toward, room) in [
        (-dx, from.0 - left),
        (dx, right - from.0),
        (-dy, from.1 - top),
        (dy, foot - from.1),
    ] {
        if toward < 0.0 {
            low = low.max(room / toward);
        } else if toward > 0.0 {
            high = high.min(room / toward);
        } else if room < 0.0 {
            return None;
        }
    }
    let at = |t: f64| (from.0 + dx * t, from.1 + dy * t);
    // An end that is inside is not touched.
    let a = if low > 0.0 { at(low) } else { from };
    let b = if high < 1.0 { at(high) } else { to };
    (low < high).then_some([a, b])
}

/// Of a piece cut at these parameters, those parts that lie inside.
fn inside(cuts: &[f64], area: Area, at: impl Fn(f64) -> PaperPoint) -> Vec<[f64; 2]> {
    let mut ends: Vec<f64> = cuts.to_vec();
    ends.extend([0.0, 1.0]);
    num::put_in_order(&mut ends, f64::total_cmp);
    let mut parts: Vec<[f64; 2]> = Vec::new();
    for pair in ends.windows(2) {
        let [low, high] = [pair[0], pair[1]];
        if high - low > 1e-12 && within(at(f64::midpoint(low, high)), area) {
            match parts.last_mut() {
                // Nothing was cut away between.
                Some(last) if low - last[1] <= 1e-12 => last[1] = high,
                _ => parts.push([low, high]),
            }
        }
    }
    parts
}

/// Where a curve crosses the lines of a box's edges, from 0 to 1.
fn curve_cuts(curve: &[PaperPoint; 4], [left, top, right, foot]: Area) -> Vec<f64> {
    let mut cuts = Vec::new();
    for (edge, of) in [
        (left, (|p| p.0) as fn(&PaperPoint) -> f64),
        (right, |p| p.0),
        (top, |p| p.1),
        (foot, |p| p.1),
    ] {
        roots(&curve.each_ref().map(|p| of(p) - edge), &mut cuts);
    }
    cuts
}

/// The same of an arc, as parts of its turn.
fn arc_cuts(
    from: PaperPoint,
    centre: PaperPoint,
    turn: f64,
    [left, top, right, foot]: Area,
) -> Vec<f64> {
    let (right_of, below) = (from.0 - centre.0, from.1 - centre.1);
    let radius = num::hypot(right_of, below);
    let begin = num::atan2(below, right_of);
    let mut cuts = Vec::new();
    let mut add = |angle: f64| {
        // The first time it is met on the way; a turn of more than one goes round again.
        let way = if turn < 0.0 {
            begin - angle
        } else {
            angle - begin
        };
        let first = way - TAU * (way / TAU).floor();
        let rounds = num::count_of((turn.abs() / TAU).ceil());
        let all = (0..rounds).map(|round| (first + TAU * round as f64) / turn.abs());
        cuts.extend(all.filter(|t| (0.0..=1.0).contains(t)));
    };
    for edge in [left, right] {
        let cos = (edge - centre.0) / radius;
        if cos.abs() <= 1.0 {
            add(num::acos(cos));
            add(-num::acos(cos));
        }
    }
    for edge in [top, foot] {
        let sin = (edge - centre.1) / radius;
        if sin.abs() <= 1.0 {
            add(num::asin(sin));
            add(core::f64::consts::PI - num::asin(sin));
        }
    }
    cuts
}

/// The part of a curve between two of its parameters, as a curve.
fn between(curve: &[PaperPoint; 4], low: f64, high: f64) -> [PaperPoint; 4] {
    if low <= 0.0 && high >= 1.0 {
        return *curve;
    }
    let one = |of: fn(&PaperPoint) -> f64| {
        let [a, b, c, d] = curve.each_ref().map(of);
        // Its powers about `low`, in parts of the new length.
        let p = [
            a,
            3.0 * (b - a),
            3.0 * (a - 2.0 * b + c),
            d - a + 3.0 * (b - c),
        ];
        let h = high - low;
        to_bernstein(&[
            p[0] + low * (p[1] + low * (p[2] + low * p[3])),
            h * (p[1] + low * (2.0 * p[2] + 3.0 * low * p[3])),
            h * h * (p[2] + 3.0 * low * p[3]),
            h * h * h * p[3],
        ])
    };
    let (x, y) = (one(|p| p.0), one(|p| p.1));
    [0, 1, 2, 3].map(|i| (x[i], y[i]))
}

/// A polygon's part where a side says no less than 0.
fn half_plane(points: &[PaperPoint], side: &dyn Fn(PaperPoint) -> f64) -> Vec<PaperPoint> {
    let mut kept = Vec::with_capacity(points.len());
    let next = points.iter().skip(1).chain(points.first());
    for (a, b) in points.iter().zip(next) {
        let (there, then) = (side(*a), side(*b));
        if there >= 0.0 {
            kept.push(*a);
        }
        if (there >= 0.0) != (then >= 0.0) {
            let t = there / (there - then);
            kept.push((a.0 + (b.0 - a.0) * t, a.1 + (b.1 - a.1) * t));
        }
    }
    kept
}

#[cfg(test)]
mod tests {
    use core::f64::consts::PI;

    use proptest::prelude::*;

    use super::*;

    const BOX: Area = [0.0, 0.0, 40.0, 20.0];

    fn length(path: &Path) -> f64 {
        let parts = path.flatten(1e-7);
        let of = |points: &Vec<PaperPoint>, closed: bool| {
            let back = if closed { points.first() } else { None };
            let ends = points.iter().skip(1).chain(back);
            let each = points.iter().zip(ends);
            each.map(|(a, b)| num::hypot(b.0 - a.0, b.1 - a.1))
                .sum::<f64>()
        };
        parts.iter().map(|part| of(&part.points, part.closed)).sum()
    }

    fn area(path: &Path) -> f64 {
        let of = |points: &Vec<PaperPoint>| {
            let next = points.iter().skip(1).chain(points.first());
            let each = points.iter().zip(next);
            each.map(|(a, b)| a.0 * b.1 - b.0 * a.1).sum::<f64>() / 2.0
        };
        path.flatten(1e-6).iter().map(|part| of(&part.points)).sum()
    }

    #[test]
    fn a_circle_about_a_corner_keeps_its_quarter_as_an_arc() {
        let mut path = Path::default();
        path.draw_circle((0.0, 0.0), 15.0);
        let cut = path.clipped(BOX);
        assert!((length(&cut) - PI * 7.5).abs() < 1e-3, "{cut:?}");
        let arcs: Vec<f64> = { cut.steps.iter() }
            .filter_map(|step| match step {
                Step::Arc { turn, .. } => Some(*turn),
                _ => None,
            })
            .collect();
        assert_eq!(arcs.len(), 1);
        assert!((arcs[0] - PI / 2.0).abs() < 1e-12);
        let quarter = path.clipped_area(BOX, 1e-4);
        assert!((area(&quarter).abs() - PI * 225.0 / 4.0).abs() < 0.01);
    }

    #[test]
    fn a_parabola_is_cut_where_it_meets_the_edge_and_stays_a_curve() {
        // y = x²/40 from −40 to 40, down the paper, moved so that it meets the foot of the box at x = 20 ± √800.
        let at = |x: f64, y: f64| (x + 20.0, y);
        let curve = [
            at(-40.0, 40.0),
            at(-40.0 / 3.0, -40.0 / 3.0),
            at(40.0 / 3.0, -40.0 / 3.0),
            at(40.0, 40.0),
        ];
        let mut path = Path::default();
        path.draw_curve(curve);
        let cut = path.clipped([-100.0, 0.0, 100.0, 20.0]);
        let [Step::Move(a), Step::Curve(_, _, b)] = cut.steps[..] else {
            panic!("{cut:?}");
        };
        let root = 800.0_f64.sqrt();
        assert!((a.0 - (20.0 - root)).abs() < 1e-9 && (a.1 - 20.0).abs() < 1e-9);
        assert!((b.0 - (20.0 + root)).abs() < 1e-9 && (b.1 - 20.0).abs() < 1e-9);
        for Polyline { points, .. } in cut.flatten(1e-4) {
            for (x, y) in points {
                let x = x - 20.0;
                assert!((y - x * x / 40.0).abs() < 1e-9);
            }
        }
    }

    #[test]
    fn what_is_inside_is_not_touched() {
        let mut path = Path::default();
        path.draw_line([(1.0, 1.0), (39.0, 19.0), (3.0, 18.0)]);
        path.draw_curve([(1.0, 2.0), (3.0, 4.0), (5.0, 6.0), (7.0, 8.0)]);
        assert_eq!(path.clipped(BOX), path);
    }

    #[test]
    fn a_box_about_a_corner_keeps_its_share() {
        let mut path = Path::default();
        path.draw_box([30.0, 10.0, 60.0, 50.0]);
        assert!((area(&path.clipped_area(BOX, 0.1)).abs() - 100.0).abs() < 1e-9);
        assert!((length(&path.clipped(BOX)) - 20.0).abs() < 1e-9);
    }

    proptest! {
        /// A box cut in two keeps what a box keeps, whatever is drawn.
        #[test]
        fn two_halves_make_the_whole(
            points in prop::collection::vec((-20.0..60.0_f64, -20.0..40.0_f64), 4..9),
            split in 1.0..39.0_f64,
            turn in -7.0..7.0_f64,
        ) {
            let mut path = Path::default();
            path.draw_line(points.iter().copied());
            path.close();
            path.draw_curve([points[0], points[1], points[2], points[3]]);
            path.steps.push(Step::Move(points[1]));
            path.steps.push(Step::Arc { centre: points[2], turn });
            let whole = length(&path.clipped(BOX));
            let halves = length(&path.clipped([0.0, 0.0, split, 20.0]))
                + length(&path.clipped([split, 0.0, 40.0, 20.0]));
            prop_assert!((whole - halves).abs() < 1e-3, "{whole} {halves}");
            for Polyline { points, .. } in path.clipped(BOX).flatten(1e-3) {
                for p in points {
                    prop_assert!(p.0 > -2e-3 && p.0 < 40.002 && p.1 > -2e-3 && p.1 < 20.002, "{p:?}");
                }
            }
        }
    }
}
