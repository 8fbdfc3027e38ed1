//! Symmetric positive definite systems in a band: factor once, solve often.
//!
//! In: a matrix whose entries lie within a half bandwidth of its diagonal. Out: its Cholesky factor and solutions.

/// Least that a pivot may be of its own diagonal: with less, what is left of it is rounding.
///
/// What eliminates an unknown takes from its diagonal all that the unknowns before it say of it; where that is all there is,
/// a singular system leaves not zero but rounding, either way. Measured: the systems of the published hulls, of the demo and
/// of all that the tests judge keep 1e-7 of their diagonals and more, those of 10,000 bodies that are singular for want of
/// readings 8e-10 at most, and most of them less than 1e-12.
const LEAST_PIVOT: f64 = 1e-9;

/// Some unknowns and their factors.
pub type Terms = Vec<(usize, f64)>;

/// Adds to the factor of an unknown.
pub fn add_term(terms: &mut Terms, at: usize, value: f64) {
    match terms.iter_mut().find(|term| term.0 == at) {
        Some(term) => term.1 += value,
        None => terms.push((at, value)),
    }
}

/// The same unknowns with so many times their factors.
#[must_use]
pub fn times(terms: &[(usize, f64)], by: f64) -> Terms {
    terms.iter().map(|&(at, value)| (at, by * value)).collect()
}

/// A symmetric matrix kept as the lower half of its band, row by row.
#[derive(Clone, Debug)]
pub struct BandMatrix {
    size: usize,
    half: usize,
    /// `[row][column − row + half]`, the diagonal last.
    rows: Vec<f64>,
    /// First column of each row that may hold anything.
    firsts: Vec<usize>,
}

/// The Cholesky factor `L` of a [`BandMatrix`], `A = L Lᵀ`, in the same form.
#[derive(Clone, Debug)]
pub struct BandFactor {
    band: BandMatrix,
    /// `1 / L[i][i]`.
    inverse: Vec<f64>,
}

/// A pivot was not over 10⁻⁹ of its diagonal: the matrix is not positive definite, or not to be told from one that is not.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct NotPositive {
    /// Row of the pivot.
    pub row: usize,
}

/// Dot product in eight interleaved sums, always added in the same order.
#[must_use]
#[inline]
pub fn dot(a: &[f64], b: &[f64]) -> f64 {
    let mut sums = [0.0; 8];
    let (a8, a1) = a.as_chunks::<8>();
    let (b8, b1) = b.as_chunks::<8>();
    for (a, b) in a8.iter().zip(b8) {
        for k in 0..8 {
            sums[k] += a[k] * b[k];
        }
    }
    let mut rest = 0.0;
    for (a, b) in a1.iter().zip(b1) {
        rest += a * b;
    }
    ((sums[0] + sums[4]) + (sums[1] + sums[5])) + ((sums[2] + sums[6]) + (sums[3] + sums[7])) + rest
}

impl BandMatrix {
    /// A matrix of zeros with `size` rows and `half` entries to the left of the diagonal.
    #[must_use]
    pub fn zeros(size: usize, half: usize) -> Self {
        Self {
            size,
            half,
            rows: vec![0.0; size * (half + 1)],
            firsts: (0..size).map(|row| row.saturating_sub(half)).collect(),
        }
    }

    /// A matrix of zeros that may hold something in each row from this column on: where a few rows reach far and most do not,
    /// its factor costs what those do.
    ///
    /// # Panics
    /// Where a row begins beyond its diagonal.
    #[must_use]
    pub fn from_firsts(firsts: Vec<usize>) -> Self {
        let reach = |(row, first): (usize, &usize)| {
            assert!(*first <= row, "a row holds its diagonal");
            row - first
        };
        let half = firsts.iter().enumerate().map(reach).max().unwrap_or(0);
        Self {
            size: firsts.len(),
            half,
            rows: vec![0.0; firsts.len() * (half + 1)],
            firsts,
        }
    }

    /// First column of a row that may hold anything.
    ///
    /// # Panics
    /// Where there is no such row.
    #[must_use]
    pub fn first(&self, row: usize) -> usize {
        self.firsts[row]
    }

    /// Number of rows.
    #[must_use]
    pub fn size(&self) -> usize {
        self.size
    }

    /// Adds to the entry at (`i`, `j`), either half.
    ///
    /// # Panics
    /// Where the entry lies outside the band.
    #[inline]
    pub fn add(&mut self, i: usize, j: usize, value: f64) {
        let (i, j) = if i < j { (j, i) } else { (i, j) };
        self.rows[i * (self.half + 1) + (self.half + j) - i] += value;
    }

    /// The entry at (`i`, `j`), zero outside the band.
    #[must_use]
    pub fn entry(&self, i: usize, j: usize) -> f64 {
        let (i, j) = if i < j { (j, i) } else { (i, j) };
        if i - j > self.half {
            0.0
        } else {
            self.rows[i * (self.half + 1) + (self.half + j) - i]
        }
    }

    /// Adds so many times the entries of a column to `sum`, which begins with the row `from`.
    ///
    /// # Panics
    /// Where `sum` reaches past the last row, or out of the band.
    pub fn add_column(&self, column: usize, by: f64, from: usize, sum: &mut [f64]) {
        let width = self.half + 1;
        let upper = (column + 1).saturating_sub(from).min(sum.len());
        let (upper, lower) = sum.split_at_mut(upper);
        // The column is the row as far as the diagonal.
        let begin = column * width + self.half + from - column;
        let row = &self.rows[begin..begin + upper.len()];
        for (sum, value) in upper.iter_mut().zip(row) {
            *sum += by * value;
        }
        let next = from.max(column + 1);
        for (k, sum) in lower.iter_mut().enumerate() {
            let i = next + k;
            *sum += by * self.rows[i * width + self.half + column - i];
        }
    }

    /// Cholesky factor.
    ///
    /// # Errors
    /// [`NotPositive`] where a pivot is not over 10⁻⁹ of its diagonal.
    ///
    /// # Accuracy
    /// Backward stable: the factor is exact for a matrix within a few units in the last place times the bandwidth.
    ///
    /// # Source
    /// Golub and Van Loan, *Matrix Computations*, banded Cholesky by rows (from memory).
    pub fn factor(self) -> Result<BandFactor, NotPositive> {
        self.factor_over(LEAST_PIVOT)
    }

    /// Cholesky factor of a matrix whose pivots may come down to this share of their diagonals.
    ///
    /// # Errors
    /// [`NotPositive`] where one is not over it.
    ///
    /// # Accuracy
    /// As [`Self::factor`]; a pivot of a small share has lost as many figures.
    pub fn factor_over(mut self, least: f64) -> Result<BandFactor, NotPositive> {
        let (n, half) = (self.size, self.half);
        let width = half + 1;
        let mut inverse = vec![0.0; n];
        for i in 0..n {
            let (done, here) = self.rows.split_at_mut(i * width);
            let first = self.firsts[i];
            let row = &mut here[..width];
            let mut j = first;
            while j < i {
                let above = &done[j * width..(j + 1) * width];
                let from = first.max(self.firsts[j]);
                let left = &row[half + from - i..half + j - i];
                let sum = dot(left, &above[half + from - j..half]);
                row[half + j - i] = (row[half + j - i] - sum) * inverse[j];
                j += 1;
            }
            let left = &row[half + first - i..half];
            let pivot = row[half] - dot(left, left);
            if pivot.is_nan() || pivot <= least * row[half] {
                return Err(NotPositive { row: i });
            }
            row[half] = pivot.sqrt();
            inverse[i] = 1.0 / row[half];
        }
        Ok(BandFactor {
            band: self,
            inverse,
        })
    }
}

impl BandFactor {
    /// Solves `L x = b` in place; `|x|²` is then `bᵀ A⁻¹ b`.
    ///
    /// # Panics
    /// Where `b` is not as long as the matrix.
    pub fn half_solve(&self, b: &mut [f64]) {
        let (n, half) = (self.band.size, self.band.half);
        assert_eq!(b.len(), n, "the right side is as long as the matrix");
        let width = half + 1;
        // Zeros at the head stay zeros.
        let head = b.iter().take_while(|value| **value == 0.0).count();
        for i in head..n {
            let row = &self.band.rows[i * width..(i + 1) * width];
            let first = self.band.firsts[i];
            let sum = dot(&row[half + first - i..half], &b[first..i]);
            b[i] = (b[i] - sum) * self.inverse[i];
        }
    }

    /// The entries of `A⁻¹` that lie within the band; it costs about as much as the factor did.
    ///
    /// # Accuracy
    /// As solutions of the system, one for each column.
    #[must_use]
    pub fn inverse(&self) -> BandMatrix {
        self.inverse_within(self.band.half)
    }

    /// The entries of `A⁻¹` that lie no further from the diagonal than this, or within the band where that is wider.
    ///
    /// # Accuracy
    /// As solutions of the system, one for each column.
    ///
    /// # Source
    /// Takahashi, Fagan and Chen, *Formation of a sparse bus impedance matrix* (1973), by `Lᵀ A⁻¹ = L⁻¹` from the last row
    /// up (from memory).
    #[must_use]
    pub fn inverse_within(&self, wide: usize) -> BandMatrix {
        let (n, half) = (self.band.size, self.band.half);
        let wide = wide.max(half).min(n.saturating_sub(1));
        let mut out = BandMatrix::zeros(n, wide);
        let mut below = vec![0.0; half];
        let mut sums = vec![0.0; wide];
        for i in (0..n).rev() {
            let count = wide.min(n - 1 - i);
            let inside = half.min(count);
            for (k, value) in below.iter_mut().enumerate().take(inside) {
                let row = i + 1 + k;
                *value = self.band.rows[row * (half + 1) + half + i - row];
            }
            // `Σ_k L[k][i] A⁻¹[k][j]` for the rows j below i, of which the lower halves are known.
            sums[..count].fill(0.0);
            for k in 0..count {
                let row = i + 1 + k;
                let from = row * (wide + 1) + wide - k;
                if k < inside {
                    let known = &out.rows[from..from + k];
                    let (l, others) = (below[k], &below[..k]);
                    for (sum, value) in sums[..k].iter_mut().zip(known) {
                        *sum += l * value;
                    }
                    sums[k] += dot(known, others) + l * out.rows[row * (wide + 1) + wide];
                } else {
                    sums[k] = dot(&out.rows[from..from + inside], &below[..inside]);
                }
            }
            let by = self.inverse[i];
            for (k, sum) in sums[..count].iter().enumerate() {
                let row = i + 1 + k;
                out.rows[row * (wide + 1) + wide + i - row] = -sum * by;
            }
            let column = below[..inside].iter().zip(&sums[..inside]);
            let sum: f64 = column.map(|(l, sum)| -l * sum * by).sum();
            out.rows[i * (wide + 1) + wide] = (by - sum) * by;
        }
        out
    }

    /// Solves `A x = b` in place.
    ///
    /// # Panics
    /// Where `b` is not as long as the matrix.
    pub fn solve(&self, b: &mut [f64]) {
        let (n, half) = (self.band.size, self.band.half);
        let width = half + 1;
        self.half_solve(b);
        for i in (0..n).rev() {
            let row = &self.band.rows[i * width..(i + 1) * width];
            let first = self.band.firsts[i];
            let x = b[i] * self.inverse[i];
            b[i] = x;
            for (b, l) in b[first..i].iter_mut().zip(&row[half + first - i..half]) {
                *b -= l * x;
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rows_of_unlike_reach_solve_as_a_full_band_does() {
        // One row in the middle and the last reach far back, all others to their neighbour.
        let firsts: Vec<usize> = (0..30)
            .map(|i: usize| match i {
                14 => 3,
                29 => 20,
                _ => i.saturating_sub(1),
            })
            .collect();
        let mut narrow = BandMatrix::from_firsts(firsts.clone());
        let mut full = BandMatrix::zeros(30, 29);
        for (i, first) in firsts.iter().enumerate() {
            for j in *first..=i {
                let value = if i == j { 4.0 } else { -1.0 / (i - j) as f64 };
                narrow.add(i, j, value);
                full.add(i, j, value);
            }
        }
        assert_eq!((narrow.first(14), narrow.first(15)), (3, 14));
        let factors = [narrow.factor().unwrap(), full.factor().unwrap()];
        let [a, b] = factors.each_ref().map(|factor| {
            let mut x: Vec<f64> = (0..30).map(|i| f64::from(i % 7) - 2.0).collect();
            factor.solve(&mut x);
            x
        });
        for (a, b) in a.iter().zip(&b) {
            assert!((a - b).abs() < 1e-13, "{a} {b}");
        }
        let [a, b] = factors.each_ref().map(BandFactor::inverse);
        for (i, j) in [(0, 0), (14, 3), (14, 14), (29, 20), (15, 14)] {
            assert!((a.entry(i, j) - b.entry(i, j)).abs() < 1e-13, "{i} {j}");
        }
    }

    #[test]
    fn a_factor_solves_the_system_it_came_from() {
        // The 1-D Poisson matrix: with b = 1 the solution is i(n+1−i)/2, in closed form.
        let n = 40;
        let mut a = BandMatrix::zeros(n, 11);
        for i in 0..n {
            a.add(i, i, 2.0);
            if i > 0 {
                a.add(i - 1, i, -1.0);
            }
        }
        let mut b = vec![1.0; n];
        a.factor().unwrap().solve(&mut b);
        for (i, x) in b.iter().enumerate() {
            let k = (i + 1) as f64;
            assert!((x - k * (41.0 - k) / 2.0).abs() < 1e-10, "{i}: {x}");
        }
    }

    #[test]
    fn a_full_band_is_reproduced() {
        let (n, half) = (50, 17);
        let mut a = BandMatrix::zeros(n, half);
        for i in 0..n {
            for j in i.saturating_sub(half)..=i {
                a.add(
                    i,
                    j,
                    if i == j {
                        40.0
                    } else {
                        crate::num::sin((i * 7 + j * 3) as f64)
                    },
                );
            }
        }
        let x: Vec<f64> = (0..n).map(|i| crate::num::cos(i as f64)).collect();
        let mut b: Vec<f64> = (0..n)
            .map(|i| (0..n).map(|j| a.entry(i, j) * x[j]).sum())
            .collect();
        a.factor().unwrap().solve(&mut b);
        for (x, b) in x.iter().zip(&b) {
            assert!((x - b).abs() < 1e-13);
        }
    }

    #[test]
    fn the_inverse_within_the_band_is_that_of_its_columns() {
        let (n, half) = (40, 9);
        let mut a = BandMatrix::zeros(n, half);
        for i in 0..n {
            for j in i.saturating_sub(half)..=i {
                let off = crate::num::sin((i * 5 + j * 3) as f64);
                a.add(i, j, if i == j { 12.0 } else { off });
            }
        }
        let factor = a.factor().unwrap();
        let inverse = factor.inverse();
        for j in 0..n {
            let mut column = vec![0.0; n];
            column[j] = 1.0;
            factor.solve(&mut column);
            for i in j.saturating_sub(half)..n.min(j + half + 1) {
                let miss = (inverse.entry(i, j) - column[i]).abs();
                assert!(miss < 1e-15, "{i}, {j}: {miss:e}");
            }
        }
        // Further from the diagonal than the band, too.
        let wide = factor.inverse_within(15);
        for j in 0..n {
            let mut column = vec![0.0; n];
            column[j] = 1.0;
            factor.solve(&mut column);
            let from = j.saturating_sub(15);
            let mut added = vec![1.0; n.min(j + 16) - from];
            wide.add_column(j, 2.0, from, &mut added);
            for (i, added) in (from..).zip(added) {
                assert!((added - 1.0 - 2.0 * column[i]).abs() < 1e-14, "{i}, {j}");
            }
        }
        assert_eq!(factor.inverse_within(3).half, 9);
        assert_eq!(factor.inverse_within(99).half, n - 1);
        // The Poisson matrix again: min(i, j) (n + 1 − max(i, j)) / (n + 1), counted from 1.
        let mut a = BandMatrix::zeros(n, 1);
        for i in 0..n {
            a.add(i, i, 2.0);
            if i > 0 {
                a.add(i - 1, i, -1.0);
            }
        }
        let inverse = a.factor().unwrap().inverse();
        for i in 1..n {
            let exact = (i * (n - i)) as f64 / (n + 1) as f64;
            assert!((inverse.entry(i - 1, i) - exact).abs() < 1e-12);
        }
    }

    #[test]
    fn a_matrix_that_is_not_positive_says_where() {
        let mut a = BandMatrix::zeros(3, 1);
        a.add(0, 0, 1.0);
        a.add(1, 1, 1.0);
        a.add(0, 1, 1.0);
        a.add(2, 2, 1.0);
        assert_eq!(a.factor().unwrap_err(), NotPositive { row: 1 });
    }
}
