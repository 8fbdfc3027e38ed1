//! How long a plane cut is, and what area it bounds.
//!
//! In: the branches of a cut through the starboard half. Out: length and area of the cut through the whole body.

use glam::DVec3;

use super::{Branch, CuttingPlane, between, between_rate};

/// What is measured of a plane cut through the whole body.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CutMeasure {
    /// Length of all its lines, mm; of an upright fore-and-aft plane on the side it lies on, else on both.
    pub length: f64,
    /// What it bounds, mm², closed straight across open ends; none where the girth is open, so that it bounds nothing.
    pub area: Option<f64>,
}

/// Places and shares of Gauss's rule on three places, from 0 to 1.
const GAUSS: [(f64, f64); 3] = [
    (0.112_701_665_379_258_3, 5.0 / 18.0),
    (0.5, 8.0 / 18.0),
    (0.887_298_334_620_741_7, 5.0 / 18.0),
];

/// Measures a cut at a station, a waterline or a buttock line, or any plane whose normal is along an axis.
///
/// The area is `∮ a n_a ds` round the cut, where `a` is half-breadth, or height for a buttock plane, and `n_a` that part of
/// the outward normal: neither the centre plane nor a straight end square to `x` adds to it.
///
/// # Units
/// mm and mm². `closed`: whether the sections close round the body, see [`crate::loft::Loft::closed`].
///
/// # Accuracy
/// Of sixth order in the distance of the nodes; 1e-6 of a circle and of an ellipse traced to 0.01 mm (tested).
///
/// # Source
/// The divergence theorem in the plane; Gauss's rule: Abramowitz and Stegun 25.4.30.
#[must_use]
pub fn measure_cut(branches: &[Branch], plane: &CuttingPlane, closed: bool) -> CutMeasure {
    let upright = plane.normal.y.abs() > 0.5;
    let by = if upright { DVec3::Z } else { DVec3::Y };
    let (mut length, mut area) = (0.0, 0.0);
    for branch in branches {
        let pairs = branch.nodes.windows(2).map(|pair| (&pair[0], &pair[1]));
        let ends = branch.nodes.last().zip(branch.nodes.first());
        for (a, b) in pairs.chain(ends.filter(|_| branch.closed)) {
            for (t, share) in GAUSS {
                let (at, rate) = (between(a, b, t), between_rate(a, b, t));
                length += share * rate.length();
                // Square to the line in the plane, as long as the line is there, and outward.
                let across = rate.cross(plane.normal);
                let across = if across.dot(at.outward) < 0.0 {
                    -across
                } else {
                    across
                };
                area += share * at.point.dot(by) * across.dot(by);
            }
        }
    }
    let sides = if upright { 1.0 } else { 2.0 };
    CutMeasure {
        length: sides * length,
        area: closed.then_some(sides * area),
    }
}

#[cfg(test)]
mod tests {
    use core::f64::consts::PI;

    use super::super::tests::interpolate;
    use super::super::trace;
    use super::*;
    use crate::num;
    use crate::spline::{Knots, Surface};

    const RADIUS: f64 = 500.0;
    const LONG: f64 = 1800.0;

    /// A round body of constant radius, its middle 700 up.
    fn round() -> Surface {
        let breaks = |from: f64, to: f64, count: u32| {
            let at = |i: u32| from + (to - from) * f64::from(i) / f64::from(count);
            Knots::clamped(&(0..=count).map(at).collect::<Vec<_>>()).unwrap()
        };
        interpolate(breaks(0.0, LONG, 6), breaks(0.0, 1.0, 40), &|_, v| {
            let a = PI * v;
            [RADIUS * num::sin(a), 700.0 + RADIUS * num::cos(a)]
        })
    }

    #[track_caller]
    fn measures(plane: &CuttingPlane, length: f64, area: f64) {
        let branches = trace(&round(), plane, 0.01).branches;
        let found = measure_cut(&branches, plane, true);
        assert!((found.length / length - 1.0).abs() < 1e-6, "{found:?}");
        assert!((found.area.unwrap() / area - 1.0).abs() < 1e-6, "{found:?}");
        assert_eq!(measure_cut(&branches, plane, false).area, None);
    }

    #[test]
    fn cuts_of_a_round_body_have_their_lengths_and_areas() {
        // A circle, and rectangles of the chord's breadth: Euclid.
        measures(
            &CuttingPlane::station(600.0),
            2.0 * PI * RADIUS,
            PI * RADIUS * RADIUS,
        );
        let chord = 2.0 * (RADIUS * RADIUS - 200.0 * 200.0).sqrt();
        measures(&CuttingPlane::waterline(900.0), 2.0 * LONG, chord * LONG);
        measures(&CuttingPlane::buttock(200.0), 2.0 * LONG, chord * LONG);
    }
}
