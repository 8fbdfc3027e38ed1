//! The shortest way along the skin between two of its places: what a tape reads that is laid on it.
//!
//! In: a surface and two places. Out: a [`Tape`]: its length and where it lies.

use glam::DVec3;

use crate::num::linear::{BandMatrix, NotPositive};
use crate::spline::{Jet, Surface};

/// A tape laid on the skin.
#[derive(Clone, Debug, PartialEq)]
pub struct Tape {
    /// Its length, mm.
    pub length: f64,
    /// Where it lies, from one end to the other, mm.
    pub points: Vec<DVec3>,
}

/// Pieces of the coarser of the two polylines.
const PIECES: usize = 48;

/// Most rounds of the descent; a dozen are usual.
const ROUNDS: usize = 60;

/// The shortest way on the surface from one place to another, near the straight one in parameters.
///
/// The energy `½ Σ |S(q_{i+1}) − S(q_i)|²` of a polyline is least where the polyline is a geodesic, evenly divided; it is
/// made least by Gauss and Newton's method, with `v` kept between crown and keel (or edge and edge). A body that is
/// alike on both sides has a shortest way on this side between places on this side.
///
/// # Units
/// Places as `(u, v)`; lengths in mm.
///
/// # Accuracy
/// Of fourth order in the pieces, by extrapolation from 48 and 96 of them: 1e-6 of the length on cylinder and torus
/// (tested), less over knuckles (not tested). Of several ways that are each shorter than their neighbours, the one near the
/// straight line in parameters.
///
/// # Source
/// do Carmo, *Riemannian Geometry*, ch. 9: curves of least energy are geodesics of even speed.
#[must_use]
pub fn shortest(surface: &Surface, from: (f64, f64), to: (f64, f64)) -> Tape {
    let coarse = settle(surface, even(from, to, PIECES));
    let fine = settle(surface, between(&coarse));
    let [short, long] = [&coarse, &fine].map(|way| length(&places(surface, way)));
    Tape {
        length: long + (long - short) / 3.0,
        points: places(surface, &fine),
    }
}

type Way = Vec<[f64; 2]>;

fn even(from: (f64, f64), to: (f64, f64), pieces: usize) -> Way {
    let at = |i: usize| {
        let t = i as f64 / pieces as f64;
        [from.0 + (to.0 - from.0) * t, from.1 + (to.1 - from.1) * t]
    };
    (0..=pieces).map(at).collect()
}

/// The same way with a place in the middle of each piece.
fn between(way: &Way) -> Way {
    let mut out = vec![way[0]];
    for pair in way.windows(2) {
        out.push([0, 1].map(|k| f64::midpoint(pair[0][k], pair[1][k])));
        out.push(pair[1]);
    }
    out
}

fn places(surface: &Surface, way: &Way) -> Vec<DVec3> {
    way.iter().map(|q| surface.position(q[0], q[1])).collect()
}

fn length(points: &[DVec3]) -> f64 {
    points.windows(2).map(|p| p[0].distance(p[1])).sum()
}

fn energy(points: &[DVec3]) -> f64 {
    points
        .windows(2)
        .map(|p| p[0].distance_squared(p[1]) / 2.0)
        .sum()
}

/// The way of least energy between the ends of one.
fn settle(surface: &Surface, mut way: Way) -> Way {
    let limits = [surface.u_knots().domain(), surface.v_knots().domain()];
    let mut now = energy(&places(surface, &way));
    for _ in 0..ROUNDS {
        let Ok(step) = descent(surface, &way, limits) else {
            break;
        };
        // Half the step, and half again, until it leads down.
        let mut share = 1.0;
        let lower = loop {
            let mut next = way.clone();
            for (q, d) in next[1..].iter_mut().zip(&step) {
                for k in 0..2 {
                    q[k] = (q[k] + share * d[k]).clamp(limits[k].0, limits[k].1);
                }
            }
            let then = energy(&places(surface, &next));
            if then < now {
                break Some((next, then));
            }
            share /= 2.0;
            if share < 1e-6 {
                break None;
            }
        };
        let Some((next, then)) = lower else { break };
        let gained = now - then;
        (way, now) = (next, then);
        if gained <= 1e-15 * now {
            break;
        }
    }
    way
}

/// The step of Gauss and Newton for the places inside; one that leans on a limit stays there.
fn descent(
    surface: &Surface,
    way: &Way,
    limits: [(f64, f64); 2],
) -> Result<Vec<[f64; 2]>, NotPositive> {
    let jets: Vec<Jet> = way.iter().map(|q| surface.jet(q[0], q[1])).collect();
    let inside = way.len() - 2;
    let mut band = BandMatrix::zeros(2 * inside, 3);
    let mut right = vec![0.0; 2 * inside];
    let sides = |jet: &Jet| [jet.u, jet.v];
    for i in 0..inside {
        let (before, here, after) = (&jets[i], &jets[i + 1], &jets[i + 2]);
        // Minus the gradient.
        let pull = (after.s - here.s) - (here.s - before.s);
        for (k, side) in sides(here).into_iter().enumerate() {
            let row = 2 * i + k;
            right[row] = side.dot(pull);
            for (l, other) in sides(here).into_iter().enumerate().take(k + 1) {
                band.add(row, 2 * i + l, 2.0 * side.dot(other));
            }
            if i > 0 {
                for (l, other) in sides(before).into_iter().enumerate() {
                    band.add(row, 2 * (i - 1) + l, -side.dot(other));
                }
            }
            // Where a direction counts for nothing, as at a tip, it stays.
            let at = way[i + 1][k];
            let leans =
                (at <= limits[k].0 && right[row] < 0.0) || (at >= limits[k].1 && right[row] > 0.0);
            let weight = band.entry(row, row);
            band.add(
                row,
                row,
                if leans { 1e12 * weight } else { 1e-12 * weight } + f64::MIN_POSITIVE,
            );
        }
    }
    band.factor()?.solve(&mut right);
    Ok(right.as_chunks::<2>().0.to_vec())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::lines::tests::{interpolate, torus};
    use crate::num;
    use crate::spline::Knots;

    fn cylinder() -> Surface {
        let even = |from: f64, to: f64, n: u32| {
            let at = |i: u32| from + (to - from) * f64::from(i) / f64::from(n);
            Knots::clamped(&(0..=n).map(at).collect::<Vec<_>>()).unwrap()
        };
        let a = core::f64::consts::PI;
        interpolate(even(0.0, 2000.0, 10), even(0.0, 1.0, 40), &|_, v| {
            [500.0 * num::sin(a * v), 500.0 * num::cos(a * v)]
        })
    }

    /// A cylinder rolls out flat: its shortest ways are helices.
    #[test]
    fn on_a_cylinder_it_is_the_hypotenuse_of_the_sheet_rolled_out() {
        let surface = cylinder();
        for (from, to) in [
            ((100.0, 0.1), (1900.0, 0.8)),
            ((300.0, 0.0), (300.0, 1.0)),
            ((0.0, 0.5), (2000.0, 0.5)),
            ((900.0, 1.0), (1000.0, 0.2)),
        ] {
            let round = 500.0 * core::f64::consts::PI * (to.1 - from.1);
            let flat = num::hypot(to.0 - from.0, round);
            let tape = shortest(&surface, from, to);
            assert!(
                (tape.length / flat - 1.0).abs() < 1e-6,
                "{} {flat}",
                tape.length
            );
            assert!(tape.points[0].distance(surface.position(from.0, from.1)) < 1e-9);
        }
    }

    /// Clairaut: on a body of revolution the distance from the axis times the cosine of the angle to the parallels stays.
    /// do Carmo, *Differential Geometry of Curves and Surfaces*, 4-4.
    #[test]
    fn on_a_torus_it_keeps_clairauts_relation() {
        // The torus turns about the line x = 0, z = −R, parallel to y.
        let surface = torus(24);
        let tape = shortest(&surface, (-700.0, 0.3), (800.0, 0.62));
        let axis = |p: DVec3| DVec3::new(p.x, 0.0, p.z + 3000.0);
        let momenta: Vec<f64> = tape
            .points
            .windows(2)
            .map(|pair| {
                let way = (pair[1] - pair[0]).normalize();
                axis((pair[0] + pair[1]) / 2.0).cross(way).y
            })
            .collect();
        let (low, high) = momenta
            .iter()
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), m| {
                (a.min(*m), b.max(*m))
            });
        assert!(low > 0.0 && (high - low) / high < 1e-4, "{low} {high}");
        // No way nearby is shorter.
        let straight = length(&places(&surface, &even((-700.0, 0.3), (800.0, 0.62), 400)));
        assert!(tape.length < straight);
    }

    /// Over the crown the shortest way keeps to this side.
    #[test]
    fn along_the_crown_it_stays_on_the_crown() {
        let surface = torus(24);
        let tape = shortest(&surface, (-500.0, 0.0), (500.0, 0.0));
        let arc = 3500.0 * 2.0 * num::asin(500.0 / 3500.0);
        assert!(
            (tape.length / arc - 1.0).abs() < 1e-9,
            "{} {arc}",
            tape.length
        );
        assert!(tape.points.iter().all(|p| p.y > -1e-9));
    }
}
