//! One quadrant of a section given by law: a conic in the corner of two tangents.
//!
//! In: the corner and ρ. Out: its places, its curvature and where equal shares of `∫√|κ| ds` lie. A [`Conic`] knows nothing
//! of the body.

use crate::document::body::law::barycentrics;
use crate::num;

/// A conic arc from `corner[0]` to `corner[2]`, tangent there to the two sides that meet in `corner[1]`.
///
/// `C(t) = ((1 − t)² P0 + 2 w t (1 − t) P1 + t² P2) / W(t)`, with `w = ρ / (1 − ρ)` and W the sum of the three factors. ρ is
/// how high the arc rises over its chord, by the height of the corner: the shoulder lies on the way from the middle of the
/// chord to the corner, at ρ of it. Under ½ it is an ellipse, at ½ a parabola, above a hyperbola.
///
/// # Source
/// R. A. Liming, *Practical Analytic Geometry with Applications to Aircraft*, 1944.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Conic {
    corner: [[f64; 2]; 3],
    weight: f64,
}

impl Conic {
    /// The conic with this ρ, between 0 and 1.
    pub(super) fn new(corner: [[f64; 2]; 3], rho: f64) -> Self {
        Self {
            corner,
            weight: rho / (1.0 - rho),
        }
    }

    fn side(&self, from: usize, to: usize) -> [f64; 2] {
        let [a, b] = [self.corner[from], self.corner[to]];
        [b[0] - a[0], b[1] - a[1]]
    }

    fn denominator(&self, t: f64) -> f64 {
        let r = 1.0 - t;
        r * r + 2.0 * self.weight * t * r + t * t
    }

    /// The place at `t`, from 0 to 1.
    pub(super) fn at(&self, t: f64) -> [f64; 2] {
        let r = 1.0 - t;
        let parts = [r * r, 2.0 * self.weight * t * r, t * t];
        let whole = self.denominator(t);
        [0, 1].map(|k| (0..3).map(|i| parts[i] * self.corner[i][k]).sum::<f64>() / whole)
    }

    /// `N(t)`, with which `C′ = 2 N / W²`: nothing cancels in it.
    fn along(&self, t: f64) -> [f64; 2] {
        let r = 1.0 - t;
        let [a, b, c] = [self.side(0, 1), self.side(1, 2), self.side(0, 2)];
        let w = self.weight;
        [0, 1].map(|k| w * r * r * a[k] + t * r * c[k] + w * t * t * b[k])
    }

    /// Area of the corner's triangle.
    fn area(&self) -> f64 {
        let [a, c] = [self.side(0, 1), self.side(0, 2)];
        (a[0] * c[1] - a[1] * c[0]).abs() / 2.0
    }

    /// Density of the shares, `√κ |C′| = 2 √(w A) / √(W |N|)`.
    fn density(&self, t: f64) -> f64 {
        let [y, z] = self.along(t);
        2.0 * (self.weight * self.area()).sqrt()
            / (self.denominator(t) * (y * y + z * z).sqrt()).sqrt()
    }

    /// Where a place lies on it: the `t` of the ray from the corner, for a place inside the triangle; outside it as near as that comes.
    ///
    /// On the arc `b2 / b0 = (t / (1 − t))²`, with b the barycentrics.
    pub(super) fn t_of(&self, at: [f64; 2]) -> f64 {
        let [b0, _, b2] = barycentrics(self.corner, at);
        let (from, to) = (b0.max(0.0).sqrt(), b2.max(0.0).sqrt());
        // Past the corner neither end is nearer.
        if from + to > 0.0 {
            to / (from + to)
        } else {
            0.5
        }
    }

    /// How far a place near the arc lies off it, to first order, and without a sign.
    ///
    /// The arc is `b1² = 4 w² b0 b2`; the distance is that equation's excess over the length of its gradient.
    pub(super) fn distance(&self, at: [f64; 2]) -> f64 {
        let [b0, b1, b2] = barycentrics(self.corner, at);
        let w4 = 4.0 * self.weight * self.weight;
        let excess = b1 * b1 - w4 * b0 * b2;
        let [a, c] = [self.side(0, 1), self.side(0, 2)];
        let twice = a[0] * c[1] - a[1] * c[0];
        // b1 = (d × c) / (a × c) and b2 = (a × d) / (a × c), with d from P0.
        let by_b1 = [c[1] / twice, -c[0] / twice];
        let by_b2 = [-a[1] / twice, a[0] / twice];
        let gradient =
            [0, 1].map(|k| 2.0 * b1 * by_b1[k] + w4 * (b2 * (by_b1[k] + by_b2[k]) - b0 * by_b2[k]));
        (excess / num::hypot(gradient[0], gradient[1])).abs()
    }
}

/// Cells of the table of shares.
const CELLS: usize = 64;

/// Where shares of `∫√κ ds` lie on a conic: cells of `t`, narrow at both ends.
#[derive(Clone, Debug)]
pub(super) struct Shares {
    /// `t` of each node, its share, and `dt` by share there.
    nodes: [[f64; 3]; CELLS + 1],
}

impl Shares {
    /// Of a conic.
    ///
    /// # Accuracy
    /// Simpson's rule in each cell, cubic between: to 1e-6 of the whole for ρ from 0.2 to 0.9 (tested); what it is off moves
    /// no place off the arc.
    pub(super) fn of(conic: &Conic) -> Self {
        let mut nodes = [[0.0; 3]; CELLS + 1];
        let (mut whole, mut before) = (0.0, [0.0; 2]);
        for (i, node) in nodes.iter_mut().enumerate() {
            let s = i as f64 / CELLS as f64;
            let t = s * s * (3.0 - 2.0 * s);
            let density = conic.density(t);
            if i > 0 {
                let [from, at_from] = before;
                let middle = conic.density(f64::midpoint(from, t));
                whole += (t - from) * (at_from + 4.0 * middle + density) / 6.0;
            }
            *node = [t, whole, density];
            before = [t, density];
        }
        for node in &mut nodes {
            node[1] /= whole;
            node[2] = whole / node[2];
        }
        Self { nodes }
    }

    /// The `t` of a share, from 0 to 1.
    pub(super) fn t_at(&self, share: f64) -> f64 {
        let i = self.nodes[1..CELLS].partition_point(|node| node[1] <= share);
        let ([t0, s0, d0], [t1, s1, d1]) = (self.nodes[i], self.nodes[i + 1]);
        let h = s1 - s0;
        let x = (share - s0) / h;
        let y = 1.0 - x;
        let hermite = t0 * y * y * (1.0 + 2.0 * x)
            + t1 * x * x * (1.0 + 2.0 * y)
            + h * x * y * (d0 * y - d1 * x);
        hermite.clamp(0.0, 1.0)
    }

    /// The share of a `t`.
    pub(super) fn share_at(&self, t: f64) -> f64 {
        let i = self.nodes[1..CELLS].partition_point(|node| node[0] <= t);
        let ([t0, s0, d0], [t1, s1, d1]) = (self.nodes[i], self.nodes[i + 1]);
        let h = t1 - t0;
        let x = (t - t0) / h;
        let y = 1.0 - x;
        s0 * y * y * (1.0 + 2.0 * x) + s1 * x * x * (1.0 + 2.0 * y) + h * x * y * (y / d0 - x / d1)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::document::body::law::rho_through;
    use crate::spline::GAUSS_5;

    impl Conic {
        /// `κ = w A W³ / |N|³`.
        fn curvature(&self, t: f64) -> f64 {
            let n = self.along(t);
            let (n, whole) = (num::hypot(n[0], n[1]), self.denominator(t));
            self.weight * self.area() * whole * whole * whole / (n * n * n)
        }

        fn length(&self) -> f64 {
            let parts = 200;
            let each = (0..parts).flat_map(|i| GAUSS_5.map(|(node, weight)| (i, node, weight)));
            each.map(|(i, node, weight)| {
                let t = (f64::from(i) + (1.0 + node) / 2.0) / f64::from(parts);
                let (n, whole) = (self.along(t), self.denominator(t));
                weight / f64::from(parts) * num::hypot(n[0], n[1]) / (whole * whole)
            })
            .sum()
        }
    }

    fn near(found: f64, wanted: f64) {
        let off = (found - wanted).abs() / wanted.abs().max(1e-300);
        assert!(off < 1e-9, "{found} for {wanted}: {off:e}");
    }

    /// Six arcs: shoulder, place at t = ¼, curvature at both ends and at the shoulder, length; computed from the defining
    /// formulas to thirty digits. The fifth is the worked example of *Exploring Analytic Geometry with Mathematica*, the first
    /// a quarter of an ellipse, the last a quarter of a circle.
    #[test]
    fn six_arcs_have_their_shoulders_curvatures_and_lengths() {
        let root = 2.0_f64.sqrt() - 1.0;
        let corner = [[0.0, 0.0], [0.0, 600.0], [900.0, 600.0]];
        let odd = [[-2.0, 1.0], [1.0, 2.0], [3.0, 0.0]];
        let unit = [[0.0, 0.0], [0.0, 1.0], [1.0, 1.0]];
        let arcs = [
            (
                corner,
                root,
                [263.603_896_932_107, 424.264_068_711_929],
                [63.190_529_043_8, 220.856_825_737],
                [0.0025, 0.000_740_740_740_741, 0.001_206_868_523_93],
                1_189.907_969_196_79,
            ),
            (
                corner,
                0.45,
                [247.5, 435.0],
                [60.365_853_658_5, 237.804_878_049],
                [
                    0.001_867_283_950_62,
                    0.000_553_269_318_701,
                    0.001_396_448_046_44,
                ],
                1_204.955_572_122_04,
            ),
            (
                corner,
                0.5,
                [225.0, 450.0],
                [56.25, 262.5],
                [0.00125, 0.000_370_370_370_370, 0.001_706_769_834_54],
                1_227.024_535_039_34,
            ),
            (
                corner,
                0.65,
                [157.5, 495.0],
                [42.567_567_567_6, 344.594_594_595],
                [
                    0.000_362_426_035_503,
                    0.000_107_385_492_001,
                    0.003_169_715_407_00,
                ],
                1_299.766_015_538_12,
            ),
            (
                odd,
                0.45,
                [0.725, 1.175],
                [-0.676_829_268_293, 1.262_195_121_95],
                [0.188_955_850_311, 0.264_073_828_776, 0.197_487_576_643],
                5.358_712_294_291_67,
            ),
            (
                unit,
                root,
                [0.292_893_218_813, core::f64::consts::FRAC_1_SQRT_2],
                [0.070_211_698_937_6, 0.368_094_709_562],
                [1.0, 1.0, 1.0],
                core::f64::consts::FRAC_PI_2,
            ),
        ];
        for (corner, rho, shoulder, quarter, curvatures, length) in arcs {
            let conic = Conic::new(corner, rho);
            for k in [0, 1] {
                near(conic.at(0.5)[k], shoulder[k]);
                near(conic.at(0.25)[k], quarter[k]);
            }
            for (t, wanted) in [0.0, 1.0, 0.5].into_iter().zip(curvatures) {
                near(conic.curvature(t), wanted);
            }
            near(conic.length(), length);
            near(conic.t_of(conic.at(0.25)), 0.25);
        }
    }

    /// The arc of a circle of sweep θ has `w = cos(θ/2)`; four sweeps with their ρ in print.
    #[test]
    fn arcs_of_circles_have_the_rho_of_their_sweep() {
        for (degrees, rho) in [
            (30.0_f64, 0.491_333_809_939_5),
            (60.0, 0.464_101_615_137_755),
            (90.0, 0.414_213_562_373_095),
            (120.0, 1.0 / 3.0),
        ] {
            let half = degrees.to_radians() / 2.0;
            let weight = num::cos(half);
            near(weight / (1.0 + weight), rho);
            let end = [num::sin(half), num::cos(half)];
            let corner = [[-end[0], end[1]], [0.0, 1.0 / num::cos(half)], end];
            let conic = Conic::new(corner, rho);
            for i in 0..=20 {
                let t = f64::from(i) / 20.0;
                let [y, z] = conic.at(t);
                near(num::hypot(y, z), 1.0);
                near(conic.curvature(t), 1.0);
                assert!(conic.distance([y, z]) < 1e-12);
                let off = conic.distance([1.001 * y, 1.001 * z]);
                assert!((off - 0.001).abs() < 1e-5, "{off} for 0.001 at {t}");
            }
            near(conic.length(), 2.0 * half);
        }
    }

    /// Through Q = (240, 450) in the corner of 900 × 600: b = (0.25, 0.48333…, 0.26666…), w = b1 / (2 √(b0 b2)).
    /// A misprint may lie past the corner, where no ray from it meets the arc.
    #[test]
    fn a_place_past_the_corner_has_a_place_on_the_arc_too() {
        let conic = Conic::new([[0.0, 0.0], [0.0, 600.0], [900.0, 600.0]], 0.45);
        for at in [[-10.0, 700.0], [0.0, 600.0], [-1e9, 1e9]] {
            assert!((0.0..=1.0).contains(&conic.t_of(at)), "{at:?}");
            assert!(conic.distance(at).is_finite(), "{at:?}");
        }
    }

    #[test]
    fn the_conic_through_a_point_passes_through_it() {
        let corner = [[0.0, 0.0], [0.0, 600.0], [900.0, 600.0]];
        let at = [240.0, 450.0];
        let rho = rho_through(corner, at).unwrap();
        near(rho, 0.483_463_330_421_182);
        let conic = Conic::new(corner, rho);
        near(conic.weight, 0.935_970_975_333_459);
        let [y, z] = conic.at(conic.t_of(at));
        near(y, at[0]);
        near(z, at[1]);
        assert!(conic.distance(at) < 1e-12);
        // On a side of the corner, and outside it, there is none.
        for outside in [[0.0, 300.0], [-5.0, 300.0], [500.0, 300.0], [600.0, 700.0]] {
            assert_eq!(rho_through(corner, outside), None, "{outside:?}");
        }
    }

    #[test]
    fn shares_are_those_of_the_root_of_the_curvature() {
        let corner = [[0.0, 0.0], [0.0, 600.0], [900.0, 600.0]];
        for rho in [0.2, 0.3, 0.414, 0.55, 0.7, 0.8, 0.9] {
            let conic = Conic::new(corner, rho);
            let shares = Shares::of(&conic);
            // ∫√κ |C′| dt by the midpoint rule on a fine grid, from curvature and speed.
            let parts = 100_000;
            let mut sums = vec![0.0];
            for i in 0..parts {
                let t = (f64::from(i) + 0.5) / f64::from(parts);
                let (n, whole) = (conic.along(t), conic.denominator(t));
                let speed = 2.0 * num::hypot(n[0], n[1]) / (whole * whole);
                sums.push(sums[sums.len() - 1] + conic.curvature(t).sqrt() * speed);
            }
            let whole = sums[sums.len() - 1];
            for i in [1, 500, 9_000, 31_000, 50_000, 77_000, 99_900] {
                let t = i as f64 / f64::from(parts);
                let share = sums[i] / whole;
                let off = shares.share_at(t) - share;
                assert!(off.abs() < 1e-6, "ρ {rho}, t {t}: {off:e}");
                let back = shares.share_at(shares.t_at(share)) - share;
                assert!(back.abs() < 1e-5, "ρ {rho}, share {share}: {back:e}");
            }
        }
    }
}
