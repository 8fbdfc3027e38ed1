//! Cubic B-splines; this module knows nothing of aircraft.
//!
//! In: knots and coefficients. Out: values and derivatives to third order. Reading order: this file (knots and basis),
//! `interpolate` (a curve through given values), `surface` (the tensor product and its curvatures), `measure`, `mesh`.
//!
//! ```
//! use geometry::spline::{EndCondition, Interpolant};
//!
//! // y = t³ and z = t, through five places of it: not-a-knot ends give the cubic itself.
//! let t: Vec<f64> = (0..5).map(f64::from).collect();
//! let places = t.iter().map(|t| [t * t * t, *t]).collect();
//! let ends = [EndCondition::NotAKnot; 2];
//! let curve = Interpolant::through(t, places, ends, ends);
//! let [place, first, second] = curve.at(1.5);
//! assert!((place[0] - 3.375).abs() < 1e-12 && (place[1] - 1.5).abs() < 1e-12);
//! assert!((first[0] - 6.75).abs() < 1e-12 && (second[0] - 9.0).abs() < 1e-12);
//! ```

mod interpolate;
mod measure;
mod mesh;
mod surface;

pub use interpolate::{EndCondition, Interpolant};
pub use measure::{Measure, measure, section_area};
pub use mesh::{Mesh, MeshOptions, Vertex, mesh};
pub use surface::{Jet, Principal, Row, Surface};

/// Degree of every spline here: with cubics the second derivative is piecewise linear.
pub const DEGREE: usize = 3;

/// Values and derivatives of the four basis functions that are not zero on a span: `[derivative][function]`.
pub type Basis = [[f64; 4]; 4];

/// A clamped knot vector of cubic splines: non-decreasing, its ends four-fold, no inner knot more than three-fold.
#[derive(Clone, Debug, PartialEq)]
pub struct Knots {
    knots: Vec<f64>,
    /// Index in `knots` of the left end of each span that is not empty.
    spans: Vec<usize>,
}

/// What the third derivative in an end span is off what those beside it foretell, as factors of coefficients.
#[derive(Clone, Debug)]
pub(crate) struct EndBay {
    /// The first of the coefficients.
    pub(crate) first: usize,
    /// Of them, in order; the knots of a net along a body are simple, so that each span brings one more.
    pub(crate) factors: Vec<f64>,
    /// Width of the end span.
    pub(crate) width: f64,
}

/// A list of numbers that is no knot vector.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum KnotError {
    /// There is no span: fewer than two different values.
    NoSpan,
    /// The break with this number (from 0) is not finite or not above the one before.
    NotRising(usize),
    /// The break with this number (from 0) asks for a multiplicity that is not 1, 2 or 3.
    Multiplicity(usize),
}

impl core::fmt::Display for KnotError {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        match self {
            Self::NoSpan => write!(f, "a spline needs two different knots"),
            Self::NotRising(i) => write!(f, "knot {i} does not lie above the one before it"),
            Self::Multiplicity(i) => write!(f, "knot {i} may be single, double or triple"),
        }
    }
}

impl core::error::Error for KnotError {}

/// Places along a line of spans: each break, and those that part what lies between it and the next into so many equal parts.
#[must_use]
pub fn parted(breaks: &[f64], parts: u32) -> Vec<f64> {
    let within = |pair: &[f64]| {
        let (from, long) = (pair[0], pair[1] - pair[0]);
        (0..parts).map(move |k| from + long * f64::from(k) / f64::from(parts))
    };
    let places = breaks.windows(2).flat_map(within);
    places.chain(breaks.last().copied()).collect()
}

impl Knots {
    /// Clamped knots with the given breaks; every inner break is single.
    ///
    /// # Errors
    /// [`KnotError`] where the breaks do not rise.
    pub fn clamped(breaks: &[f64]) -> Result<Self, KnotError> {
        let breaks: Vec<(f64, usize)> = breaks.iter().map(|b| (*b, 1)).collect();
        Self::with_multiplicities(&breaks)
    }

    /// Clamped knots with breaks of multiplicity 1 to 3 (the multiplicity of the first and last does not count).
    ///
    /// # Errors
    /// [`KnotError`] where the breaks do not rise or a multiplicity is out of range.
    pub fn with_multiplicities(breaks: &[(f64, usize)]) -> Result<Self, KnotError> {
        let [(first, _), .., (last, _)] = breaks else {
            return Err(KnotError::NoSpan);
        };
        let mut knots = vec![*first; DEGREE + 1];
        for (i, (b, multiplicity)) in breaks.iter().enumerate() {
            let rises = i == 0 || *b > breaks[i - 1].0;
            if !b.is_finite() || !rises {
                return Err(KnotError::NotRising(i));
            }
            if i > 0 && i + 1 < breaks.len() {
                if !(1..=DEGREE).contains(multiplicity) {
                    return Err(KnotError::Multiplicity(i));
                }
                knots.extend(core::iter::repeat_n(*b, *multiplicity));
            }
        }
        knots.extend([*last; DEGREE + 1]);
        let spans = (DEGREE..knots.len() - DEGREE - 1)
            .filter(|&i| knots[i] < knots[i + 1])
            .collect();
        Ok(Self { knots, spans })
    }

    /// Number of coefficients.
    #[must_use]
    pub fn count(&self) -> usize {
        self.knots.len() - DEGREE - 1
    }

    /// Number of spans that are not empty.
    #[must_use]
    pub fn span_count(&self) -> usize {
        self.spans.len()
    }

    /// All knots, repeated as often as they count.
    #[must_use]
    pub fn knots(&self) -> &[f64] {
        &self.knots
    }

    /// Ends of the span with this number.
    ///
    /// # Panics
    /// Where there is no such span.
    #[must_use]
    pub fn span(&self, span: usize) -> (f64, f64) {
        let i = self.spans[span];
        (self.knots[i], self.knots[i + 1])
    }

    /// Index of the first of the four coefficients that act on a span.
    ///
    /// # Panics
    /// Where there is no such span.
    #[must_use]
    pub fn first_coefficient(&self, span: usize) -> usize {
        self.spans[span] - DEGREE
    }

    /// Where the spline begins and ends.
    #[must_use]
    pub fn domain(&self) -> (f64, f64) {
        (self.knots[0], self.knots[self.knots.len() - 1])
    }

    /// The different knots, in order.
    #[must_use]
    pub fn breaks(&self) -> Vec<f64> {
        let mut breaks: Vec<f64> = (0..self.span_count()).map(|s| self.span(s).0).collect();
        breaks.push(self.domain().1);
        breaks
    }

    /// Number of the span that holds `x`: the right one at a knot, the last one at the end, the nearest outside.
    #[must_use]
    pub fn span_at(&self, x: f64) -> usize {
        self.spans
            .partition_point(|&i| self.knots[i] <= x)
            .saturating_sub(1)
    }

    /// Number of the span that ends at or holds `x`: the left one at a knot.
    #[must_use]
    pub fn span_before(&self, x: f64) -> usize {
        self.spans
            .partition_point(|&i| self.knots[i] < x)
            .saturating_sub(1)
    }

    /// Greville abscissae: with these as coefficients the spline is `x` itself.
    #[must_use]
    pub fn greville(&self) -> Vec<f64> {
        (0..self.count())
            .map(|i| (self.knots[i + 1] + self.knots[i + 2] + self.knots[i + 3]) / 3.0)
            .collect()
    }

    /// The four basis functions of a span at `x`, with three derivatives.
    ///
    /// # Units
    /// `[d][i]`: derivative `d` of the function of coefficient `first_coefficient(span) + i`, in 1/(unit of x)^d.
    ///
    /// # Accuracy
    /// A few units in the last place of the largest value of its row.
    ///
    /// # Source
    /// Piegl and Tiller, *The NURBS Book*, algorithm A2.3, written out for degree 3 (from memory; tested against
    /// closed forms).
    ///
    /// # Panics
    /// Where there is no such span.
    #[must_use]
    pub fn basis(&self, span: usize, x: f64) -> Basis {
        let k = self.spans[span];
        let t = &self.knots;
        // ndu[j][r]: value of basis function r of degree j on this span.
        let mut left = [0.0; 4];
        let mut right = [0.0; 4];
        let mut ndu = [[0.0; 4]; 4];
        ndu[0][0] = 1.0;
        for j in 1..=DEGREE {
            left[j] = x - t[k + 1 - j];
            right[j] = t[k + j] - x;
            let mut saved = 0.0;
            for r in 0..j {
                let ratio = ndu[j - 1][r] / (right[r + 1] + left[j - r]);
                ndu[j][r] = saved + right[r + 1] * ratio;
                saved = left[j - r] * ratio;
            }
            ndu[j][j] = saved;
        }
        let mut basis = [[0.0; 4]; 4];
        basis[0] = ndu[3];
        // Derivatives: coefficients of the lower-degree functions, by repeated differences.
        for (function, _) in ndu[3].iter().enumerate() {
            let mut c = [0.0; 4];
            c[function] = 1.0;
            for d in 1..=DEGREE {
                let degree = DEGREE + 1 - d;
                let mut next = [0.0; 4];
                for (i, next) in next.iter_mut().enumerate().take(degree) {
                    // Coefficient index of c[i] on this span: k − degree + i, of degree `degree`.
                    let a = k + 1 + i - degree;
                    let width = t[a + degree] - t[a];
                    *next = if width > 0.0 {
                        degree_factor(degree) * (c[i + 1] - c[i]) / width
                    } else {
                        0.0
                    };
                }
                c = next;
                basis[d][function] = (0..degree).map(|i| c[i] * ndu[degree - 1][i]).sum();
            }
        }
        basis
    }

    /// Gram matrix of a derivative: `∫ B_i^(d) B_j^(d) dx`.
    ///
    /// # Units
    /// `[i][3 + j − i]` for |i − j| ≤ 3; `derivative` 0 to 3; 1/(unit of x)^(2d − 1).
    ///
    /// # Accuracy
    /// Exact but for rounding: four Gauss points a span integrate degree 7, the integrand has at most degree 6.
    ///
    /// # Panics
    /// Where `derivative` is over 3.
    #[must_use]
    pub fn gram(&self, derivative: usize) -> Vec<[f64; 7]> {
        let (first, last) = self.domain();
        self.gram_between(derivative, [first, last])
    }

    /// [`Knots::gram`] over the spans alone whose middles lie between two places.
    pub(crate) fn gram_between(&self, derivative: usize, [from, to]: [f64; 2]) -> Vec<[f64; 7]> {
        let mut gram = vec![[0.0; 7]; self.count()];
        for span in 0..self.span_count() {
            let (a, b) = self.span(span);
            let middle = f64::midpoint(a, b);
            if middle < from || middle > to {
                continue;
            }
            let first = self.first_coefficient(span);
            for (node, weight) in GAUSS_4 {
                let x = (a + b) / 2.0 + (b - a) / 2.0 * node;
                let values = self.basis(span, x)[derivative];
                let w = weight * (b - a) / 2.0;
                for i in 0..4 {
                    for j in 0..4 {
                        gram[first + i][3 + j - i] += w * values[i] * values[j];
                    }
                }
            }
        }
        gram
    }

    /// By how much the third derivative in the first and in the last span is off the straight line through those in the
    /// two spans beside it, each taken at its middle.
    ///
    /// Of three spans or two, off the one beside it alone: that is not-a-knot. Of the only span it is a thousand times the
    /// second derivative at its middle by its width: two stations tell of nothing but a straight line, and what else bends a
    /// surface between them, as the energy of its sections, must not bend it.
    ///
    /// # Accuracy
    /// Zero, but for rounding, on a cubic, and on a spline whose third derivative is that of a quartic at the middles.
    ///
    /// # Source
    /// Not-a-knot: de Boor, *A Practical Guide to Splines*, ch. IV. That the third derivative goes on straight is its next
    /// order, ours.
    pub(crate) fn end_bays(&self) -> Vec<EndBay> {
        let spans = self.span_count();
        const STRAIGHT: f64 = 1000.0;
        let middle = |span: usize| {
            let (a, b) = self.span(span);
            f64::midpoint(a, b)
        };
        let bay = |beside: &[usize]| {
            let shares = match *beside {
                [end, next, then] => {
                    let on = (middle(end) - middle(next)) / (middle(next) - middle(then));
                    [1.0, -1.0 - on, on]
                }
                _ => [1.0, -1.0, 0.0],
            };
            let firsts = beside.iter().map(|span| self.first_coefficient(*span));
            let first = firsts.min().unwrap_or(0);
            let mut factors = vec![0.0; DEGREE + beside.len()];
            for (span, share) in beside.iter().zip(shares) {
                let from = self.first_coefficient(*span) - first;
                let third = self.basis(*span, middle(*span))[DEGREE];
                for (factor, value) in factors[from..].iter_mut().zip(third) {
                    *factor += share * value;
                }
            }
            let (a, b) = self.span(beside[0]);
            EndBay {
                first,
                factors,
                width: b - a,
            }
        };
        match spans {
            0 => Vec::new(),
            1 => {
                let (a, b) = self.span(0);
                let second = self.basis(0, middle(0))[2].map(|value| STRAIGHT * value / (b - a));
                vec![EndBay {
                    first: self.first_coefficient(0),
                    factors: second.to_vec(),
                    width: b - a,
                }]
            }
            2 | 3 => vec![bay(&[0, 1]), bay(&[spans - 1, spans - 2])],
            _ => vec![bay(&[0, 1, 2]), bay(&[spans - 1, spans - 2, spans - 3])],
        }
    }

    /// Taylor rows of a span at its left end, scaled to its width: `[power][function]`, so that with `t` from 0 to 1
    /// the basis function is `Σ rows[power] · t^power`.
    #[must_use]
    pub(crate) fn power_rows(&self, span: usize) -> [[f64; 4]; 4] {
        let (a, b) = self.span(span);
        let h = b - a;
        let mut rows = self.basis(span, a);
        let scale = [1.0, h, h * h / 2.0, h * h * h / 6.0];
        for (row, scale) in rows.iter_mut().zip(scale) {
            for value in row {
                *value *= scale;
            }
        }
        rows
    }
}

fn degree_factor(degree: usize) -> f64 {
    [0.0, 1.0, 2.0, 3.0][degree]
}

/// Nodes and weights of four-point Gauss quadrature on −1 to 1.
///
/// # Source
/// Abramowitz and Stegun, table 25.4.
pub const GAUSS_4: [(f64, f64); 4] = [
    (-0.861_136_311_594_052_6, 0.347_854_845_137_453_85),
    (-0.339_981_043_584_856_26, 0.652_145_154_862_546_2),
    (0.339_981_043_584_856_26, 0.652_145_154_862_546_2),
    (0.861_136_311_594_052_6, 0.347_854_845_137_453_85),
];

/// Nodes and weights of five-point Gauss quadrature on −1 to 1.
///
/// # Source
/// Abramowitz and Stegun, table 25.4.
pub const GAUSS_5: [(f64, f64); 5] = [
    (-0.906_179_845_938_664, 0.236_926_885_056_189_1),
    (-0.538_469_310_105_683_1, 0.478_628_670_499_366_47),
    (0.0, 0.568_888_888_888_888_9),
    (0.538_469_310_105_683_1, 0.478_628_670_499_366_47),
    (0.906_179_845_938_664, 0.236_926_885_056_189_1),
];

#[cfg(test)]
mod tests {
    use super::*;

    fn uneven() -> Knots {
        Knots::with_multiplicities(&[(0.0, 1), (1.0, 1), (2.2, 3), (3.0, 1), (4.5, 2), (6.0, 1)])
            .unwrap()
    }

    #[test]
    fn breaks_are_parted_evenly_and_stay_themselves() {
        assert_eq!(
            parted(&[0.0, 1.0, 5.0], 4),
            [0.0, 0.25, 0.5, 0.75, 1.0, 2.0, 3.0, 4.0, 5.0]
        );
        assert_eq!(parted(&[7.5], 4), [7.5]);
        assert_eq!(parted(&[], 4), Vec::<f64>::new());
    }

    #[test]
    fn the_basis_sums_to_one_and_its_derivatives_to_nothing() {
        let k = uneven();
        for i in 0..=600 {
            let x = f64::from(i) / 100.0;
            let b = k.basis(k.span_at(x), x);
            assert!((b[0].iter().sum::<f64>() - 1.0).abs() < 1e-14);
            for d in 1..4 {
                assert!(
                    b[d].iter().sum::<f64>().abs() < 1e-10,
                    "derivative {d} at {x}"
                );
            }
        }
    }

    #[test]
    fn a_cubic_is_reproduced_with_all_its_derivatives() {
        // f = x³ − 2x² + 4: its coefficients are the blossom (polar form) at the three inner knots of each function.
        let k = uneven();
        let c: Vec<f64> = (0..k.count())
            .map(|i| {
                let [a, b, d] = [k.knots()[i + 1], k.knots()[i + 2], k.knots()[i + 3]];
                a * b * d - 2.0 * (a * b + b * d + a * d) / 3.0 + 4.0
            })
            .collect();
        for i in 0..=60 {
            let x = f64::from(i) / 10.0;
            let s = k.span_at(x);
            let b = k.basis(s, x);
            let f = [
                x * x * x - 2.0 * x * x + 4.0,
                3.0 * x * x - 4.0 * x,
                6.0 * x - 4.0,
                6.0,
            ];
            for d in 0..4 {
                let got: f64 = (0..4)
                    .map(|j| b[d][j] * c[k.first_coefficient(s) + j])
                    .sum();
                assert!(
                    (got - f[d]).abs() < 1e-11,
                    "derivative {d} at {x}: {got} for {}",
                    f[d]
                );
            }
        }
    }

    #[test]
    fn gram_matrices_integrate_a_cubic_exactly() {
        // f = x³ has coefficients t1 t2 t3; ∫ f''² over 0 to 6 is ∫ 36 x² = 12 · 216, ∫ f'''² is 36 · 6.
        let k = uneven();
        let c: Vec<f64> = (0..k.count())
            .map(|i| k.knots()[i + 1] * k.knots()[i + 2] * k.knots()[i + 3])
            .collect();
        for (d, exact) in [(2, 12.0 * 216.0), (3, 216.0)] {
            let g = k.gram(d);
            let mut sum = 0.0;
            for i in 0..c.len() {
                for j in i.saturating_sub(3)..(i + 4).min(c.len()) {
                    sum += c[i] * c[j] * g[i][3 + j - i];
                }
            }
            assert!((sum / exact - 1.0).abs() < 1e-12, "{d}: {sum} for {exact}");
        }
    }

    /// Coefficients of a spline on simple knots whose third derivative has these values, one a span: it is a sum of truncated
    /// cubics `(x − t)³₊ / 6`, whose polar form at a function's three inner knots is their product where none lies before `t`.
    fn of_third_derivative(k: &Knots, thirds: &[f64]) -> Vec<f64> {
        let t = k.knots();
        let coefficient = |i: usize| {
            let mut sum = 0.0;
            let mut before = 0.0;
            for (span, third) in thirds.iter().enumerate() {
                let from = k.span(span).0;
                if t[i + 1] >= from {
                    let polar: f64 = (1..=3).map(|n| t[i + n] - from).product();
                    sum += (third - before) * polar / 6.0;
                }
                before = *third;
            }
            sum
        };
        (0..k.count()).map(coefficient).collect()
    }

    #[test]
    fn an_end_bay_tells_how_far_its_third_derivative_is_off_the_straight() {
        let k = Knots::clamped(&[0.0, 1.0, 2.5, 3.0, 5.0, 6.0]).unwrap();
        let off = |k: &Knots, thirds: &[f64]| -> Vec<f64> {
            let c = of_third_derivative(k, thirds);
            let bays = k.end_bays();
            let each = bays.iter().map(|bay| {
                let own = c[bay.first..].iter().zip(&bay.factors);
                own.map(|(c, factor)| c * factor).sum()
            });
            each.collect()
        };
        // Straight by the middles of the spans, which are those of a quartic; then each end off by so much.
        let straight: Vec<f64> = (0..5)
            .map(|span| 2.0 - 0.4 * f64::midpoint(k.span(span).0, k.span(span).1))
            .collect();
        for by in [[0.0, 0.0], [0.7, 0.0], [0.0, -0.3]] {
            let mut thirds = straight.clone();
            thirds[0] += by[0];
            thirds[4] += by[1];
            for (got, by) in off(&k, &thirds).into_iter().zip(by) {
                assert!((got - by).abs() < 1e-11, "{got} for {by}");
            }
        }
        // Of three spans it is the jump to the span beside.
        let k = Knots::clamped(&[0.0, 1.0, 2.5, 3.0]).unwrap();
        let jumps = off(&k, &[1.0, 3.0, 2.5]);
        assert!((jumps[0] + 2.0).abs() < 1e-11 && (jumps[1] + 0.5).abs() < 1e-11);
        // Of one span, x² / 2 has a second derivative of 1 all over.
        let k = Knots::clamped(&[0.0, 4.0]).unwrap();
        let bay = &k.end_bays()[0];
        let c = [0.0, 0.0, 16.0 / 6.0, 8.0];
        let bends: f64 = c.iter().zip(&bay.factors).map(|(c, f)| c * f).sum();
        assert!((bends - 1000.0 / 4.0).abs() < 1e-9, "{bends}");
    }

    #[test]
    fn knots_that_do_not_rise_are_named() {
        assert_eq!(
            Knots::clamped(&[0.0, 1.0, 1.0, 2.0]),
            Err(KnotError::NotRising(2))
        );
        assert_eq!(Knots::clamped(&[0.0]), Err(KnotError::NoSpan));
        assert_eq!(
            Knots::clamped(&[0.0, f64::NAN]),
            Err(KnotError::NotRising(1))
        );
        assert_eq!(
            Knots::with_multiplicities(&[(0.0, 1), (1.0, 4), (2.0, 1)]),
            Err(KnotError::Multiplicity(1))
        );
    }
}
