//! What curvature the tolerances of the readings permit: the band that lies behind a comb.
//!
//! In: lines, their loft and the verdicts on them. Out: along each line that was judged, the curvature of the fair line and
//! how far errors as large as the tolerances bend the loft away from it. A comb within the band is no evidence of anything.

use super::graph::Graph;
use super::verdict::{Judged, Line, Sensitivity, Stopped, Verdict};
use crate::document::{Fixes, Offset, On};
use crate::loft::{Loft, LoftPoint, normal_of};

/// The band at one place.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Permitted {
    /// Distance aft, mm.
    pub x: f64,
    /// Curvature of the fair line, as that of the skin's lines: convex negative, 1/mm.
    pub fair: f64,
    /// Either way, 1/mm.
    pub spread: f64,
}

/// Of more points none is worked out: each costs a loft of its own.
const MOST: usize = 2000;

/// The band of each line that was judged, at the breaks of its graph; none for a body given by law, which is not linear in its
/// points, and none for one of more than 2000 points.
///
/// # Errors
/// [`Stopped`], where `stop` says so; it is asked for each reading.
///
/// # Accuracy
/// The loft is linear in its readings, so that the spread is exact for errors that are independent and have the tolerances
/// as their standard deviations; a tolerance is seldom exceeded, so that about nineteen of twenty combs of fair lines lie
/// within it.
///
/// # Source
/// Propagation of independent errors through a linear smoother: root of the sum of squares.
pub fn permitted(
    loft: &Loft,
    verdicts: &[Verdict],
    stop: &dyn Fn() -> bool,
) -> Result<Vec<(On, Vec<Permitted>)>, Stopped> {
    let body = loft.body();
    if body.law.is_some() || loft.points().len() > MOST {
        return Ok(Vec::new());
    }
    let judged = verdicts.iter().filter_map(|verdict| {
        let judged = verdict.judged.as_ref()?;
        let line = Line::of(loft, verdict.on, judged.seen);
        Some((verdict.on, Spread::new(line, judged)))
    });
    let mut judged: Vec<(On, Spread<'_>)> = judged.collect();
    let offsets = loft.offsets();
    for (station, round) in offsets.iter().enumerate() {
        for (place, offset) in round.iter().enumerate() {
            if stop() {
                return Err(Stopped);
            }
            let mut points = loft.points().iter();
            let Some(at) = points.find(|at| at.point == offset.point) else {
                continue;
            };
            let mut other = offsets.clone();
            push(&mut other[station][place], at, loft);
            let Ok(other) = loft.through(body, &other) else {
                continue;
            };
            for (_, spread) in &mut judged {
                spread.add(loft, &other);
            }
        }
    }
    let bands = judged.into_iter();
    Ok(bands.map(|(on, spread)| (on, spread.band())).collect())
}

/// How far a judged line is bent by the errors of its readings.
struct Spread<'a> {
    line: Line<'a>,
    judged: &'a Judged,
    breaks: Vec<f64>,
    sensitivities: Vec<Sensitivity>,
    /// Of the second derivative by x at each break, the sum of the squares, 1/mm².
    squares: Vec<f64>,
}

impl<'a> Spread<'a> {
    fn new(line: Line<'a>, judged: &'a Judged) -> Self {
        let breaks = judged.graph.breaks();
        Self {
            sensitivities: line.sensitivities(&breaks),
            squares: vec![0.0; breaks.len()],
            line,
            judged,
            breaks,
        }
    }

    /// Adds what one error does to it, by the loft that it makes.
    fn add(&mut self, loft: &Loft, other: &Loft) {
        let moves = self
            .sensitivities
            .iter()
            .map(|way| (way.x, way.moved(loft, other)));
        let Some(bent) = Graph::fitted(&self.breaks, &moves.collect::<Vec<_>>()) else {
            return;
        };
        for (x, square) in self.breaks.iter().zip(&mut self.squares) {
            let bend = bent.at(*x)[2];
            *square += bend * bend;
        }
    }

    fn band(&self) -> Vec<Permitted> {
        let breaks = self.breaks.iter().zip(&self.squares);
        let band = breaks.filter_map(|(&x, square)| {
            let out = self.line.at(x)?[2];
            let metric = |slope: f64| {
                let one = 1.0 + slope * slope;
                1.0 / (one * one.sqrt())
            };
            let [_, slope, bend, _] = self.judged.fair.at(x);
            Some(Permitted {
                x,
                fair: out * bend * metric(slope),
                spread: square.sqrt() * metric(self.judged.graph.at(x)[1]),
            })
        });
        band.collect()
    }
}

/// Moves what is accepted of a point by its tolerance: the way it was read, or square to its section.
fn push(offset: &mut Offset, at: &LoftPoint, loft: &Loft) {
    let way = match offset.fixes {
        Fixes::HalfBreadth => [1.0, 0.0],
        Fixes::Height => [0.0, 1.0],
        Fixes::Along { angle } => [crate::num::cos(angle), -crate::num::sin(angle)],
        Fixes::Both => normal_of(at.on, &loft.surface().jet(at.u, at.v)),
    };
    for (value, way) in offset.accepted.iter_mut().zip(way) {
        *value += way * offset.tolerance;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::document::{BodyEdit, Moved};
    use crate::fair::tests::demo;
    use crate::fair::verdict::judge;

    fn bands_of(loft: &Loft, on: On) -> Vec<Permitted> {
        let verdict = judge(loft, on, None, &|| false).unwrap();
        let mut bands = permitted(loft, &[verdict], &|| false).unwrap();
        bands.pop().unwrap().1
    }

    /// Against draws: the curvature of the keel line, cut from lofts of readings with errors as large as their tolerances
    /// (a linear congruential generator, twelve numbers summed for each), spreads as the band says.
    #[test]
    fn the_spread_is_that_of_draws() {
        const DRAWS: usize = 300;
        let lines = demo();
        let loft = Loft::build(&lines.body).unwrap();
        let band = bands_of(&loft, On::Keel);
        let mut state = 7_u64;
        let mut error = || {
            let mut sum = -6.0;
            for _ in 0..12 {
                state = state
                    .wrapping_mul(6_364_136_223_846_793_005)
                    .wrapping_add(1_442_695_040_888_963_407);
                sum += (state >> 11) as f64 / (1_u64 << 53) as f64;
            }
            sum
        };
        let line = |loft: &Loft| {
            let at = |x: f64| crate::lines::node_at(loft, On::Keel, x).unwrap().curvature;
            band.iter().map(|at_x| at(at_x.x)).collect::<Vec<f64>>()
        };
        let still = line(&loft);
        let mut squares = vec![0.0; band.len()];
        for _ in 0..DRAWS {
            let moves = loft.offsets().into_iter().flatten().map(|offset| {
                let by = error() * offset.tolerance;
                let both = offset.fixes == Fixes::Both;
                let breadth = matches!(offset.fixes, Fixes::HalfBreadth) || both;
                let height = matches!(offset.fixes, Fixes::Height) || both;
                Moved {
                    point: offset.point,
                    half_breadth: breadth.then(|| (offset.recorded[0] + by).max(0.0)),
                    height: height.then(|| offset.recorded[1] + by),
                }
            });
            let moved = lines.apply(BodyEdit::MoveAll(moves.collect())).unwrap();
            let drawn = line(&loft.again(&moved.body).unwrap());
            for ((square, drawn), still) in squares.iter_mut().zip(drawn).zip(&still) {
                *square += (drawn - still) * (drawn - still) / DRAWS as f64;
            }
        }
        // The graph's spline and the ends of the line smooth a little differently: the middle is held.
        for (at, square) in band.iter().zip(&squares).skip(3).rev().skip(3) {
            let ratio = at.spread / square.sqrt();
            assert!((0.7..1.4).contains(&ratio), "{}: {ratio}", at.x);
        }
    }

    #[test]
    fn the_dent_of_the_demo_leaves_the_band_and_little_else_does() {
        let lines = demo();
        let loft = Loft::build(&lines.body).unwrap();
        let band = bands_of(&loft, On::Keel);
        let out = band.iter().filter(|at| {
            let node = crate::lines::node_at(&loft, On::Keel, at.x).unwrap();
            (node.curvature - at.fair).abs() > at.spread
        });
        let out: Vec<f64> = out
            .map(|at| lines.body.station_number(at.x).unwrap())
            .collect();
        assert!(out.iter().any(|sta| (sta - 101.0).abs() < 3.0), "{out:?}");
        // The dent is 9 mm deep at STA 101; the line swings beside it.
        assert!(out.iter().all(|sta| (79.0..130.0).contains(sta)), "{out:?}");
        assert!(
            permitted(
                &loft,
                &[judge(&loft, On::Keel, None, &|| false).unwrap()],
                &|| true
            )
            .is_err()
        );
    }
}
