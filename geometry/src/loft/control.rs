//! Lines of one variable: a control line drawn through its points lengthwise, and least squares with some coefficients known.
//!
//! In: knots, places and values. Out: splines. The energy and the weights are those of the loft's own fit (`fit`), so that a
//! control line lies as a run line would.

use core::ops::Range;

use super::LoftError;
use super::ends::Method;
use super::fit::{STIFF_U, STRAIGHT};
use crate::num;
use crate::num::linear::{BandFactor, BandMatrix};
use crate::spline::{DEGREE, Knots};

/// A control line lengthwise: one coordinate of it, or how full a quadrant is.
#[derive(Clone, Debug)]
pub(super) struct Control {
    knots: Knots,
    coefficients: Vec<f64>,
    factor: BandFactor,
    /// The median of its variance at its own points, and the largest.
    known: [f64; 2],
}

/// The four basis functions at a place, and the first coefficient they belong to.
fn basis_at(knots: &Knots, at: f64) -> (usize, [f64; 4]) {
    let span = knots.span_at(at);
    (knots.first_coefficient(span), knots.basis(span, at)[0])
}

impl Control {
    /// The smoothest line through `[place, value, weight]`, as near as the stiffness lets it.
    ///
    /// Least squares with the energy `λ h⁶ / L ∫ f‴²`: two points give the straight line through them, three the parabola.
    /// By the second method f‴ goes on straight into an end bay to whose end the points reach.
    pub(super) fn fit(
        knots: &Knots,
        targets: &[[f64; 3]],
        (method, stiffness): (Method, f64),
    ) -> Result<Self, LoftError> {
        let mut targets = targets.to_vec();
        if let [a, b] = targets[..] {
            let middle = |k: usize| f64::midpoint(a[k], b[k]);
            targets.push([middle(0), middle(1), a[2].min(b[2])]);
        }
        let (first, last) = knots.domain();
        let length = last - first;
        let h = STIFF_U * length;
        let scale = stiffness * h * h * h * h * h * h / length;
        let bays = match method {
            Method::First => Vec::new(),
            Method::Second => knots.end_bays(),
        };
        let reach = bays.iter().map(|bay| bay.factors.len() - 1);
        let mut band = BandMatrix::zeros(knots.count(), reach.fold(DEGREE, usize::max));
        for (i, row) in knots.gram(3).iter().enumerate() {
            for (back, value) in row.iter().take(DEGREE + 1).rev().enumerate().take(i + 1) {
                band.add(i, i - back, scale * value);
            }
        }
        for (bay, end) in bays.iter().zip([first, last]) {
            if !targets.iter().any(|target| num::same(target[0], end)) {
                continue;
            }
            for (i, p) in bay.factors.iter().enumerate() {
                for (j, q) in bay.factors.iter().enumerate().take(i + 1) {
                    let value = STRAIGHT * scale * bay.width * p * q;
                    band.add(bay.first + i, bay.first + j, value);
                }
            }
        }
        let mut coefficients = vec![0.0; knots.count()];
        for [at, value, weight] in &targets {
            let (first, basis) = basis_at(knots, *at);
            for i in 0..4 {
                coefficients[first + i] += weight * value * basis[i];
                for j in 0..=i {
                    band.add(first + i, first + j, weight * basis[i] * basis[j]);
                }
            }
        }
        let factor = band.factor().map_err(|_not_positive| LoftError::NotFixed)?;
        factor.solve(&mut coefficients);
        let mut line = Self {
            knots: knots.clone(),
            coefficients,
            factor,
            known: [1.0; 2],
        };
        let mut at_points: Vec<f64> = targets
            .iter()
            .map(|target| line.variance(target[0]))
            .collect();
        num::put_in_order(&mut at_points, f64::total_cmp);
        let known = [at_points.get(at_points.len() / 2), at_points.last()];
        line.known = known.map(|variance| variance.copied().unwrap_or(1.0));
        Ok(line)
    }

    /// Its value at a place along the body.
    pub(super) fn at(&self, u: f64) -> f64 {
        let (first, basis) = basis_at(&self.knots, u);
        (0..4)
            .map(|i| basis[i] * self.coefficients[first + i])
            .sum()
    }

    /// Its prediction variance at a place, `a H⁻¹ aᵀ`.
    fn variance(&self, u: f64) -> f64 {
        let (first, basis) = basis_at(&self.knots, u);
        let mut side = vec![0.0; self.knots.count()];
        side[first..first + 4].copy_from_slice(&basis);
        self.factor.half_solve(&mut side);
        side.iter().map(|s| s * s).sum()
    }

    /// Whether it is less certain at a place than anywhere at its own points, and than so many times their median: variances.
    pub(super) fn carried(&self, u: f64, times: f64) -> bool {
        let [median, largest] = self.known;
        self.variance(u) > largest.max(times * median)
    }
}

/// Least squares of a spline with known coefficients at its ends.
#[derive(Clone, Debug)]
pub(super) struct Fixed {
    rows: Vec<(usize, [f64; 4])>,
    free: Range<usize>,
    factor: BandFactor,
}

impl Fixed {
    /// Of a spline on these knots, by its values at these places; coefficients outside `free` are known.
    pub(super) fn new(
        knots: &Knots,
        places: &[f64],
        free: Range<usize>,
    ) -> Result<Self, LoftError> {
        let rows: Vec<_> = places.iter().map(|at| basis_at(knots, *at)).collect();
        let mut band = BandMatrix::zeros(free.len(), DEGREE);
        for (first, basis) in &rows {
            for i in 0..4 {
                for j in 0..=i {
                    if free.contains(&(first + i)) && free.contains(&(first + j)) {
                        let (a, b) = (first + i - free.start, first + j - free.start);
                        band.add(a, b, basis[i] * basis[j]);
                    }
                }
            }
        }
        let factor = band.factor().map_err(|_not_positive| LoftError::NotFixed)?;
        Ok(Self { rows, free, factor })
    }

    /// Fills in the free coefficients, so that the spline comes nearest to the values at the places.
    pub(super) fn solve(&self, coefficients: &mut [f64], value: impl Fn(usize) -> f64) {
        coefficients[self.free.clone()].fill(0.0);
        let mut right = vec![0.0; self.free.len()];
        for (n, (first, basis)) in self.rows.iter().enumerate() {
            let known: f64 = (0..4).map(|i| basis[i] * coefficients[first + i]).sum();
            let rest = value(n) - known;
            for (i, b) in basis.iter().enumerate() {
                if self.free.contains(&(first + i)) {
                    right[first + i - self.free.start] += b * rest;
                }
            }
        }
        self.factor.solve(&mut right);
        coefficients[self.free.clone()].copy_from_slice(&right);
    }
}
