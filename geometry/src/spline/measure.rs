//! Areas and volumes of a surface by quadrature over its patches.
//!
//! In: a surface, the starboard half of a body. Out: both sides together.

use super::{GAUSS_4, GAUSS_5, Row, Surface};

/// What a body measures, both sides together.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Measure {
    /// Area of the skin, without end faces, mm².
    pub area: f64,
    /// Volume between the planes of its ends and, where the girth is open, the centre plane, mm³.
    pub volume: f64,
    /// Distance of the volume's centroid aft of the datum, mm.
    pub centroid_x: f64,
}

/// Pieces of a patch in each direction: the area's integrand is a root, so that a patch is cut once more.
const PARTS: u32 = 3;

/// Measures a body.
///
/// `A = 2 ∬ |S_u × S_v| du dv`, `V = −2 ∬ y z_v x_u du dv`.
///
/// # Accuracy
/// The volume is exact but for rounding (five Gauss points, degree 8); the area is good to 1e-9 of itself on a cone with its
/// point and on a torus (measured against finer parts).
///
/// # Source
/// The divergence theorem.
#[must_use]
pub fn measure(surface: &Surface) -> Measure {
    by_parts(surface, PARTS)
}

fn by_parts(surface: &Surface, parts: u32) -> Measure {
    let (mut area, mut volume, mut moment) = (0.0, 0.0, 0.0);
    let pieces = |(a, b): (f64, f64)| {
        let at = move |i: u32| a + (b - a) * f64::from(i) / f64::from(parts);
        (0..parts).map(move |i| (at(i), at(i + 1)))
    };
    let (u, v) = (surface.u_knots(), surface.v_knots());
    for (u0, u1) in (0..u.span_count()).flat_map(|s| pieces(u.span(s))) {
        for (node_u, weight_u) in GAUSS_5 {
            let row = surface.row(f64::midpoint(u0, u1) + (u1 - u0) / 2.0 * node_u);
            for (v0, v1) in (0..v.span_count()).flat_map(|s| pieces(v.span(s))) {
                for (node_v, weight_v) in GAUSS_5 {
                    let jet = row.jet(f64::midpoint(v0, v1) + (v1 - v0) / 2.0 * node_v);
                    let weight = weight_u * weight_v * (u1 - u0) * (v1 - v0) / 4.0;
                    area += weight * jet.u.cross(jet.v).length();
                    let slice = -weight * jet.s.y * jet.v.z * jet.u.x;
                    volume += slice;
                    moment += slice * jet.s.x;
                }
            }
        }
    }
    Measure {
        area: 2.0 * area,
        volume: 2.0 * volume,
        centroid_x: moment / volume,
    }
}

/// Area of the section on this row, both sides together: inside the curve and, where the girth is open, the centre plane.
///
/// `A = −2 ∫ y z_v dv`.
///
/// # Units
/// mm².
///
/// # Accuracy
/// Exact but for rounding: four Gauss points a span integrate degree 7, the integrand has degree 5.
///
/// # Source
/// Green's theorem.
#[must_use]
pub fn section_area(row: &Row<'_>) -> f64 {
    let knots = row.v_knots();
    let mut sum = 0.0;
    for (a, b) in (0..knots.span_count()).map(|s| knots.span(s)) {
        for (node, weight) in GAUSS_4 {
            let jet = row.jet(f64::midpoint(a, b) + (b - a) / 2.0 * node);
            sum -= weight * (b - a) * jet.s.y * jet.v.z;
        }
    }
    sum
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::lines::tests::{interpolate, torus};
    use crate::num;
    use crate::spline::Knots;
    use core::f64::consts::PI;

    fn cone(spans: u32) -> Surface {
        let even = |from: f64, to: f64, n: u32| {
            let at = |i: u32| from + (to - from) * f64::from(i) / f64::from(n);
            Knots::clamped(&(0..=n).map(at).collect::<Vec<_>>()).unwrap()
        };
        interpolate(even(0.0, 1000.0, 3), even(0.0, 1.0, spans), &|x, v| {
            [x / 4.0 * num::sin(PI * v), x / 4.0 * num::cos(PI * v)]
        })
    }

    #[test]
    fn finer_parts_change_nothing_that_counts() {
        for (surface, bound) in [(cone(16), 1e-9), (torus(20), 1e-9)] {
            let (coarse, fine) = (measure(&surface), by_parts(&surface, 12));
            let off = coarse.area / fine.area - 1.0;
            assert!(off.abs() < bound, "{off:e}");
            assert!((coarse.volume / fine.volume - 1.0).abs() < 1e-11);
            assert!((coarse.centroid_x - fine.centroid_x).abs() < 1e-6);
        }
    }

    #[test]
    fn a_cone_has_its_area_volume_and_centroid() {
        // V = π r² h / 3, A = π r √(r² + h²), centroid at 3/4 of h, sectional area π r²; the error of the fitted circle
        // (32 spans) is 1e-6 of it.
        let (r, h) = (250.0, 1000.0);
        let m = measure(&cone(32));
        assert!((m.volume / (PI * r * r * h / 3.0) - 1.0).abs() < 1e-6);
        assert!((m.area / (PI * r * num::hypot(r, h)) - 1.0).abs() < 1e-6);
        assert!((m.centroid_x - 750.0).abs() < 1e-6);
        let surface = cone(32);
        let area = section_area(&surface.row(500.0));
        assert!((area / (PI * r * r / 4.0) - 1.0).abs() < 1e-6);
    }
}
