//! A cubic spline through given values, with its arc length.
//!
//! In: rising parameters and the two coordinates of points. Out: an [`Interpolant`], which is what a thin batten
//! through the points would draw. No fit: every point is met.

use super::GAUSS_5;
use crate::num;

/// What holds at an end of an interpolating spline.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum EndCondition {
    /// The first derivative has this value.
    Slope(f64),
    /// The second derivative is zero.
    Straight,
    /// The two spans at the end are one cubic.
    NotAKnot,
}

/// A plane curve (y(t), z(t)) through points, C² in its parameter.
#[derive(Clone, Debug)]
pub struct Interpolant {
    t: Vec<f64>,
    points: Vec<[f64; 2]>,
    /// Second derivatives at the points.
    moments: Vec<[f64; 2]>,
}

/// Second derivatives of the cubic spline through `(t, f)`.
fn moments(t: &[f64], f: &[f64], start: EndCondition, end: EndCondition) -> Vec<f64> {
    let n = t.len();
    let h = |i: usize| t[i + 1] - t[i];
    let slope = |i: usize| (f[i + 1] - f[i]) / h(i);
    if n == 2 {
        // Two points: the cubic that the two conditions ask for.
        let (h, s) = (h(0), slope(0));
        return match (start, end) {
            (EndCondition::Slope(a), EndCondition::Slope(b)) => {
                vec![
                    (6.0 * s - 4.0 * a - 2.0 * b) / h,
                    (4.0 * b + 2.0 * a - 6.0 * s) / h,
                ]
            }
            (EndCondition::Slope(a), EndCondition::Straight) => vec![3.0 * (s - a) / h, 0.0],
            (EndCondition::Straight, EndCondition::Slope(b)) => vec![0.0, 3.0 * (b - s) / h],
            (EndCondition::Slope(a), EndCondition::NotAKnot) => vec![2.0 * (s - a) / h; 2],
            (EndCondition::NotAKnot, EndCondition::Slope(b)) => vec![2.0 * (b - s) / h; 2],
            _ => vec![0.0; 2],
        };
    }
    let not_a_knot = (
        start == EndCondition::NotAKnot,
        end == EndCondition::NotAKnot,
    );
    if n == 3 && not_a_knot == (true, true) {
        return vec![2.0 * (slope(1) - slope(0)) / (t[2] - t[0]); 3]; // one parabola
    }
    // Tridiagonal rows: below, diagonal, above, right side.
    let mut rows = vec![[0.0; 4]; n];
    for i in 1..n - 1 {
        rows[i] = [
            h(i - 1) / 6.0,
            (h(i - 1) + h(i)) / 3.0,
            h(i) / 6.0,
            slope(i) - slope(i - 1),
        ];
    }
    match start {
        EndCondition::Slope(a) => rows[0] = [0.0, h(0) / 3.0, h(0) / 6.0, slope(0) - a],
        EndCondition::Straight => rows[0] = [0.0, 1.0, 0.0, 0.0],
        EndCondition::NotAKnot => {
            // m0 = m1 (1 + r) − m2 r with r = h0 / h1, put into row 1.
            let r = h(0) / h(1);
            rows[1][1] += rows[1][0] * (1.0 + r);
            rows[1][2] -= rows[1][0] * r;
            rows[1][0] = 0.0;
            rows[0] = [0.0, 1.0, 0.0, 0.0];
        }
    }
    match end {
        EndCondition::Slope(b) => {
            rows[n - 1] = [h(n - 2) / 6.0, h(n - 2) / 3.0, 0.0, b - slope(n - 2)];
        }
        EndCondition::Straight => rows[n - 1] = [0.0, 1.0, 0.0, 0.0],
        EndCondition::NotAKnot => {
            let r = h(n - 2) / h(n - 3);
            rows[n - 2][1] += rows[n - 2][2] * (1.0 + r);
            rows[n - 2][0] -= rows[n - 2][2] * r;
            rows[n - 2][2] = 0.0;
            rows[n - 1] = [0.0, 1.0, 0.0, 0.0];
        }
    }
    for i in 1..n {
        let factor = rows[i][0] / rows[i - 1][1];
        rows[i][1] -= factor * rows[i - 1][2];
        rows[i][3] -= factor * rows[i - 1][3];
    }
    let mut m = vec![0.0; n];
    m[n - 1] = rows[n - 1][3] / rows[n - 1][1];
    for i in (0..n - 1).rev() {
        m[i] = (rows[i][3] - rows[i][2] * m[i + 1]) / rows[i][1];
    }
    if not_a_knot.0 {
        m[0] = m[1] + (m[1] - m[2]) * h(0) / h(1);
    }
    if not_a_knot.1 {
        m[n - 1] = m[n - 2] + (m[n - 2] - m[n - 3]) * h(n - 2) / h(n - 3);
    }
    m
}

impl Interpolant {
    /// The spline through `points` at the parameters `t`, with conditions `[start, end]` for y and for z.
    ///
    /// # Accuracy
    /// Points are met to a few units in the last place; a cubic is reproduced where the conditions are true of it.
    ///
    /// # Panics
    /// Where there are fewer than two points, or not as many parameters; parameters must rise.
    #[must_use]
    pub fn through(
        t: Vec<f64>,
        points: Vec<[f64; 2]>,
        y: [EndCondition; 2],
        z: [EndCondition; 2],
    ) -> Self {
        assert!(
            points.len() >= 2 && t.len() == points.len(),
            "two points and a parameter for each"
        );
        let part = |k: usize| points.iter().map(|p| p[k]).collect::<Vec<f64>>();
        let my = moments(&t, &part(0), y[0], y[1]);
        let mz = moments(&t, &part(1), z[0], z[1]);
        let moments = my.into_iter().zip(mz).map(|(y, z)| [y, z]).collect();
        Self { t, points, moments }
    }

    /// Its parameters at the points.
    #[must_use]
    pub fn parameters(&self) -> &[f64] {
        &self.t
    }

    /// Value, first and second derivative at `t`; outside, the last cubic goes on.
    #[must_use]
    pub fn at(&self, t: f64) -> [[f64; 2]; 3] {
        let i = self.t[1..self.t.len() - 1].partition_point(|k| *k <= t);
        self.on_span(i, t)
    }

    fn on_span(&self, i: usize, t: f64) -> [[f64; 2]; 3] {
        let h = self.t[i + 1] - self.t[i];
        let (a, b) = (self.t[i + 1] - t, t - self.t[i]);
        let mut out = [[0.0; 2]; 3];
        for k in 0..2 {
            let (p, q) = (self.points[i][k], self.points[i + 1][k]);
            let (m, n) = (self.moments[i][k], self.moments[i + 1][k]);
            out[0][k] = m * a * a * a / (6.0 * h)
                + n * b * b * b / (6.0 * h)
                + (p / h - m * h / 6.0) * a
                + (q / h - n * h / 6.0) * b;
            out[1][k] =
                -m * a * a / (2.0 * h) + n * b * b / (2.0 * h) + (q - p) / h - (n - m) * h / 6.0;
            out[2][k] = (m * a + n * b) / h;
        }
        out
    }

    /// Arc length from the first point to each point, mm where the points are mm.
    ///
    /// # Accuracy
    /// Five-point Gauss on each span: relative 1e-6 for an eighth of a circle a span, far better for less.
    #[must_use]
    pub fn lengths(&self) -> Vec<f64> {
        let mut sum = 0.0;
        let mut lengths = vec![0.0];
        for i in 0..self.t.len() - 1 {
            let (a, b) = (self.t[i], self.t[i + 1]);
            for (node, weight) in GAUSS_5 {
                let d = self.on_span(i, (a + b) / 2.0 + (b - a) / 2.0 * node)[1];
                sum += weight * (b - a) / 2.0 * num::hypot(d[0], d[1]);
            }
            lengths.push(sum);
        }
        lengths
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use EndCondition::{NotAKnot, Slope, Straight};

    #[test]
    fn a_cubic_is_reproduced_by_not_a_knot() {
        // p = 2 − 3t + 0.5t² + 0.25t³ at knots 0, 0.7, 1.9, 2.4, 3.6, 5: a not-a-knot spline is the cubic itself
        // (de Boor, A Practical Guide to Splines, ch. IV).
        let f = |t: f64| 2.0 - 3.0 * t + 0.5 * t * t + 0.25 * t * t * t;
        let t = vec![0.0, 0.7, 1.9, 2.4, 3.6, 5.0];
        let p: Vec<[f64; 2]> = t.iter().map(|t| [f(*t), *t]).collect();
        let s = Interpolant::through(t, p, [NotAKnot; 2], [NotAKnot; 2]);
        for i in 0..=50 {
            let x = f64::from(i) / 10.0;
            assert!((s.at(x)[0][0] - f(x)).abs() < 1e-13);
            assert!((s.at(x)[0][1] - x).abs() < 1e-13);
        }
    }

    #[test]
    fn a_natural_spline_has_the_moments_of_the_worked_example() {
        // (0,0)(1,1)(2,0)(3,1)(4,0): M = (0, −30/7, 36/7, −30/7, 0), from the tridiagonal system solved by hand.
        let t: Vec<f64> = (0..5).map(f64::from).collect();
        let p = vec![[0.0, 0.0], [1.0, 1.0], [0.0, 2.0], [1.0, 3.0], [0.0, 4.0]];
        let s = Interpolant::through(t, p, [Straight; 2], [Straight; 2]);
        for (i, m) in [0.0, -30.0 / 7.0, 36.0 / 7.0, -30.0 / 7.0, 0.0]
            .into_iter()
            .enumerate()
        {
            assert!((s.at(i as f64)[2][0] - m).abs() < 1e-13);
        }
    }

    #[test]
    fn a_complete_spline_of_the_sine_errs_by_the_published_order() {
        // Hall and Meyer (1976): error ≤ 5/384 h⁴ max|f''''|; the measured errors fall by 16 at each halving.
        for (n, error) in [(8, 6.324e-5), (16, 3.889e-6), (32, 2.422e-7)] {
            let h = core::f64::consts::PI / f64::from(n);
            let t: Vec<f64> = (0..=n).map(|i| f64::from(i) * h).collect();
            let p = t.iter().map(|t| [num::sin(*t), *t]).collect();
            let s = Interpolant::through(t, p, [Slope(1.0), Slope(-1.0)], [NotAKnot; 2]);
            let worst = (0..=1000)
                .map(|i| f64::from(i) * core::f64::consts::PI / 1000.0)
                .map(|x| (s.at(x)[0][0] - num::sin(x)).abs())
                .fold(0.0, f64::max);
            assert!((worst / error - 1.0).abs() < 0.01, "{n}: {worst}");
            assert!(worst <= 5.0 / 384.0 * h * h * h * h * 1.000_001);
        }
    }

    #[test]
    fn a_circle_has_its_length() {
        let n = 24_u32;
        let t: Vec<f64> = (0..=n)
            .map(|i| f64::from(i) * core::f64::consts::PI / f64::from(n))
            .collect();
        let p = t
            .iter()
            .map(|t| [500.0 * num::sin(*t), 500.0 * num::cos(*t)])
            .collect();
        let s = Interpolant::through(
            t,
            p,
            [Slope(500.0), Slope(-500.0)],
            [Slope(0.0), Slope(0.0)],
        );
        let length = s.lengths()[24];
        assert!(
            (length - 500.0 * core::f64::consts::PI).abs() < 0.005,
            "{length}"
        );
    }

    #[test]
    fn two_points_obey_the_two_conditions() {
        for (y, second) in [
            ([Slope(2.0), Slope(-1.0)], None),
            ([Slope(2.0), Straight], Some(0.0)),
        ] {
            let s = Interpolant::through(
                vec![0.0, 2.0],
                vec![[1.0, 0.0], [4.0, 1.0]],
                y,
                [NotAKnot; 2],
            );
            assert!((s.at(0.0)[1][0] - 2.0).abs() < 1e-14);
            assert!((s.at(2.0)[0][0] - 4.0).abs() < 1e-14);
            match second {
                None => assert!((s.at(2.0)[1][0] + 1.0).abs() < 1e-14),
                Some(m) => assert!((s.at(2.0)[2][0] - m).abs() < 1e-14),
            }
        }
    }
}
