//! A group of readings left out exactly: how far it lies from the skin of the others, and how these then agree.
//!
//! In: a [`Field`], a stiffness, and a group. Out: [`LeftOut`]. Nothing is fitted anew: all follows from `A`.

use crate::num;
use crate::num::linear::{BandFactor, BandMatrix};

use super::field::{Field, Precision};

/// Stations to either side of a group whose readings say how stiff the skin is there, and how far readings spread.
pub(super) const REACH: usize = 4;

/// Share of the rest that is dropped as worst before its spread is taken.
const DROPPED: f64 = 0.1;

/// What the mean square of the nearer nine tenths is of the variance of a normal distribution.
const OF_VARIANCE: f64 = 0.6228;

/// Least precision, by a reading's own: one that nothing else holds foretells nothing.
const LEAST_PRECISION: f64 = 1e-12;

/// A group left out at one stiffness.
#[derive(Clone, Debug)]
pub(super) struct LeftOut {
    /// Distance of each of the group from the skin of the others along its normal, mm, over zero outside.
    pub(super) off: Vec<f64>,
    /// The same by its standard deviation.
    pub(super) t: Vec<f64>,
    /// Worst standard deviation of that skin across the group, mm.
    pub(super) sd: f64,
    /// Spread of a reading of weight 1 about the group, mm.
    pub(super) sigma: f64,
    /// What leaving out gains: the square of `off` by its covariance.
    pub(super) gain: f64,
    /// −2 log of the likelihood of the rest about the group, each foretold by all others.
    pub(super) misfit: f64,
    /// The rest about the group.
    pub(super) rest: Vec<usize>,
    /// How far each of these lies from the skin of the others, it and the group left out, mm.
    pub(super) rest_off: Vec<f64>,
    /// The same by its standard deviation.
    pub(super) rest_t: Vec<f64>,
}

/// The stations about a group, the first and the last.
pub(super) fn about(field: &Field, [first, last]: [usize; 2]) -> [usize; 2] {
    let last = (last + REACH).min(field.stations.saturating_sub(1));
    [first.saturating_sub(REACH), last]
}

/// Root mean square without the largest tenth, as of a normal distribution; `squares` are put in order.
pub(super) fn robust(squares: &mut [f64]) -> f64 {
    if squares.is_empty() {
        return 0.0;
    }
    squares.sort_by(f64::total_cmp);
    let kept = num::count_of((squares.len() as f64 * (1.0 - DROPPED)).round()).max(1);
    let mean = squares[..kept].iter().sum::<f64>() / kept as f64;
    (mean / OF_VARIANCE).sqrt()
}

/// Leaves a group out at one stiffness; none where the rest does not hold the skin there.
///
/// `e = A_GG⁻¹ q_G`, its covariance `σ² A_GG⁻¹`, the gain `q_Gᵀ A_GG⁻¹ q_G / σ²`; of the rest about it `q' = q_C − A_CG e` and
/// `a' = diag(A_CC − A_CG A_GG⁻¹ A_GC)`, the distances `q' / a'`; `σ` is the robust root mean square of `q' / √a'`.
///
/// # Units
/// mm; `group` in rising order, its stations and those about it within [`super::field::BAND`].
///
/// # Accuracy
/// Of the linear fit with the field's normals it is exact: shifted by `−e` along them, the group lies on the skin to 1e-9 mm
/// (see the tests).
///
/// # Source
/// Deletion of groups: Cook and Weisberg, *Residuals and Influence in Regression*, 1982. The likelihood of left-out
/// readings: Geisser and Eddy, *Journal of the American Statistical Association* 74 (1979).
pub(super) fn leave_out(
    field: &Field,
    stiffness: usize,
    group: &[usize],
    [first, last]: [usize; 2],
) -> Option<LeftOut> {
    let of = &field.at[stiffness];
    let factor = precision(of, group)?;
    let n = group.len();
    let mut half: Vec<f64> = group.iter().map(|i| of.pull[*i]).collect();
    factor.half_solve(&mut half);
    let square: f64 = half.iter().map(|x| x * x).sum();
    let mut off: Vec<f64> = group.iter().map(|i| of.pull[*i]).collect();
    factor.solve(&mut off);
    let variances: Vec<f64> = (0..n)
        .map(|k| {
            let mut unit = vec![0.0; n];
            unit[k] = 1.0;
            factor.half_solve(&mut unit);
            unit.iter().map(|x| x * x).sum()
        })
        .collect();
    let mut left = LeftOut {
        t: Vec::with_capacity(n),
        sd: 0.0,
        sigma: 0.0,
        gain: 0.0,
        misfit: 0.0,
        rest: Vec::new(),
        rest_off: Vec::new(),
        rest_t: Vec::new(),
        off,
    };
    let from = field.readings.partition_point(|r| r.station < first);
    let to = field.readings.partition_point(|r| r.station <= last);
    let mut squares = Vec::with_capacity(to - from);
    let mut precisions = 0.0;
    let mut column = vec![0.0; n];
    for j in from..to {
        if !field.readings[j].counts || group.binary_search(&j).is_ok() {
            continue;
        }
        let mut pull = of.pull[j];
        for ((value, i), off) in column.iter_mut().zip(group).zip(&left.off) {
            *value = of.entry(j, *i);
            pull -= *value * off;
        }
        factor.half_solve(&mut column);
        let taken: f64 = column.iter().map(|x| x * x).sum();
        let own = (of.entry(j, j) - taken).max(LEAST_PRECISION);
        squares.push(pull * pull / own);
        precisions += num::ln(own);
        left.rest.push(j);
        left.rest_off.push(pull / own);
        left.rest_t.push(pull / own.sqrt());
    }
    let sigma = robust(&mut squares).max(field.least_sigma);
    left.misfit = 2.0 * left.rest.len() as f64 * num::ln(sigma) - precisions;
    left.sigma = sigma;
    left.gain = square / (sigma * sigma);
    for t in &mut left.rest_t {
        *t /= sigma;
    }
    let mut most = 0.0_f64;
    for ((i, variance), off) in group.iter().zip(&variances).zip(&left.off) {
        left.t.push(off / (variance.sqrt() * sigma));
        most = most.max(variance - 1.0 / field.readings[*i].weight);
    }
    left.sd = sigma * most.sqrt();
    Some(left)
}

/// `A_GG`, factored; none where the others do not hold the skin across the group.
fn precision(of: &Precision, group: &[usize]) -> Option<BandFactor> {
    let n = group.len();
    let mut matrix = BandMatrix::zeros(n, n.saturating_sub(1));
    for (k, i) in group.iter().enumerate() {
        for (l, j) in group[..=k].iter().enumerate() {
            matrix.add(k, l, of.entry(*i, *j));
        }
    }
    matrix.factor().ok()
}
