//! Each reading as all others foretell it, and how well readings about it are foretold.
//!
//! In: a bench, and the weight of each reading. Out: [`Prediction`], the distance of each reading from the surface of the
//! others and the standard deviation of that. Sections of a body are alike, but for their size: so the surfaces tried let
//! sections bend as they like and only want them to change steadily, and each station is measured round as broad as it is
//! high. Thus the readings of a first or last station foretell one another, too. No one stiffness suits a whole body: so
//! several are tried, and each counts at a place by how well it foretells the readings about it while the one in question
//! is left out.

use crate::document::Offset;
use crate::loft::{Bench, BenchFit, Bending, Covariances, LoftError, normal_of};

/// Surfaces tried: how each resists being bent, and its stiffnesses against readings of weight 1 on average. The slack ones
/// that bend as the loft does are for what no other station shows, as a sharp bilge or a skeg.
const TRIED: [(Bending, &[f64]); 7] = [
    (Bending::Even(0.7), &[0.5, 0.05]),
    (Bending::Even(1.0), &[0.5, 0.05]),
    (Bending::Steady([0.6, 2.0]), &[50.0, 3.0]),
    (Bending::Steady([0.6, 3.0]), &[3.0, 0.2]),
    (Bending::Steady([0.4, 3.0]), &[3.0, 0.2]),
    (Bending::Steady([1.0, 2.0]), &[50.0, 3.0, 0.2]),
    (Bending::Steady([1.0, 3.0]), &[50.0, 3.0, 0.2]),
];

/// Stiffnesses of surfaces as the loft bends them, against readings of weight 1 on average.
pub(super) const STIFFNESSES: [f64; 6] = [150.0, 50.0, 15.0, 3.0, 0.5, 0.05];

/// Exponent in the weights of the surfaces, `(spread · local)^-COUNTS`: the likelihood of so many Gaussian readings as a
/// function of their standard deviation, which is about how many stand about one.
const COUNTS: i32 = 16;

/// Readings about one stand no more than so many stations away.
const STATIONS: usize = 2;

/// And no further round the girth.
const GIRTH: f64 = 0.3;

/// About a reading of a first or last station stand those of its own station above all, from further round the girth: they
/// too are foretold from one side only.
const END_GIRTH: f64 = 0.5;

/// Factor on the weights of readings of other stations there.
const FROM_INSIDE: f64 = 0.3;

/// Factors on the standard deviation at a first or last station, which the others extrapolate to, and at the one beside it.
const ONE_SIDED: [f64; 2] = [1.2, 1.1];

/// A reading of less than this of its own weight tells nothing of how well others are foretold.
const SILENT: f64 = 1e-3;

/// Upper bound on the leverage of a reading: with 1 its leave-one-out residual would be 0/0.
pub(super) const MOST_OWN: f64 = 1.0 - 1e-9;

/// The readings of a body.
pub(super) struct Readings<'a> {
    pub(super) offsets: Vec<&'a Offset>,
    /// The station of each, counted over those that have readings.
    pub(super) ranks: Vec<usize>,
    /// 1/tolerance², 1 on average.
    pub(super) nominal: Vec<f64>,
    /// No less than this is the spread of readings.
    pub(super) least_sigma: f64,
    /// Those that are asked about, where it is not all.
    pub(super) only: Option<Only>,
}

/// Some readings of a body whose spread is known.
#[derive(Clone, Debug)]
pub(super) struct Only {
    pub(super) asked: Vec<bool>,
    /// Standard deviation of a reading of middling tolerance about the surface of the others, over the body, mm.
    pub(super) sigma: f64,
}

/// What the others foretell of each reading; of those that are not asked about nothing, and they stand at zero.
#[derive(Clone, Debug, Default)]
pub(super) struct Prediction {
    /// Distance from the surface of the others along the section's normal, mm.
    pub(super) off: Vec<f64>,
    /// The standard deviation of that, mm.
    pub(super) sd: Vec<f64>,
    /// `off` by it.
    pub(super) t: Vec<f64>,
    /// Standard deviation of a reading of middling tolerance about the surface of the others, over the body, mm.
    pub(super) sigma: f64,
    /// Standard deviation of `off` over the surfaces tried, all with the same weight, mm.
    pub(super) apart: Vec<f64>,
    /// The readings about each, with their weights as evidence of how well a surface foretells there.
    pub(super) about: Vec<Vec<(usize, f64)>>,
}

/// How far a reading lies off a fit.
pub(super) struct Residual {
    pub(super) normal: [f64; 2],
    /// Of half-breadth and of height, mm.
    pub(super) components: [f64; 2],
}

impl Residual {
    pub(super) fn of(offset: &Offset, fit: &BenchFit, [u, v]: [f64; 2]) -> Self {
        let jet = fit.surface.jet(u, v);
        Self {
            normal: normal_of(offset.on, &jet),
            components: [offset.recorded[0] - jet.s.y, offset.recorded[1] - jet.s.z],
        }
    }

    pub(super) fn along(&self) -> f64 {
        self.normal[0] * self.components[0] + self.normal[1] * self.components[1]
    }

    /// Distance of a reading from the surface of all others along the section's normal, and that surface's prediction
    /// variance there, for readings of variance 1/weight: exact, coordinate by coordinate.
    pub(super) fn left_out(&self, weight: f64, variance: [f64; 2]) -> (f64, f64) {
        left_out(self.normal, self.components, weight, variance)
    }
}

fn left_out(normal: [f64; 2], residual: [f64; 2], weight: f64, variance: [f64; 2]) -> (f64, f64) {
    let mut off = 0.0;
    let mut left = 0.0;
    for k in [0, 1] {
        let others = 1.0 - (weight * variance[k]).min(MOST_OWN);
        off += normal[k] * residual[k] / others;
        left += normal[k] * normal[k] * variance[k] / others;
    }
    (off, left)
}

/// One surface, and what it foretells.
struct Tried {
    off: Vec<f64>,
    /// Spread of each about the surface of the others, for readings of standard deviation 1.
    spread: Vec<f64>,
    /// Standard deviation of the readings about each, that one left out.
    local: Vec<f64>,
}

/// Middling one of some values; 0 where there are none.
pub(super) fn median(mut values: Vec<f64>) -> f64 {
    if values.is_empty() {
        return 0.0;
    }
    values.sort_by(f64::total_cmp);
    values[values.len() / 2]
}

impl Readings<'_> {
    /// Holds each reading against the surfaces of the others.
    ///
    /// `off` and its variance are means over the surfaces tried, weighted by `(spread · local)^-16`, with `local` the standard
    /// deviation of the leave-one-out residuals of the readings about the one in question, in a fit without that one. `local²`
    /// is averaged with its median over the body where it is below that. The weighted variance of `off` between the surfaces
    /// is added.
    ///
    /// # Accuracy
    /// Surfaces, shares and one-sided factors were chosen on the made bodies of the tests, seeds 1000 to 1200.
    ///
    /// # Source
    /// Exact leave-one-out and leave-two-out residuals by rank-one changes: Belsley, Kuh and Welsch, *Regression
    /// Diagnostics*, 1980. Weights by likelihood of left-out readings: common practice of averaging models.
    pub(super) fn prediction(
        &self,
        bench: &mut Bench,
        weights: &[f64],
        asked_to_stop: &dyn Fn() -> bool,
    ) -> Result<Option<Prediction>, LoftError> {
        let places: Vec<[f64; 2]> = bench.places().collect();
        let about = self.about(&places);
        let mut tried = Vec::new();
        for (bending, stiffnesses) in TRIED {
            bench.set_bending(bending);
            for stiffness in stiffnesses {
                if asked_to_stop() {
                    return Ok(None);
                }
                let fit = bench.fit(weights, *stiffness)?;
                tried.push(self.tried(&fit, &places, weights, &about));
            }
        }
        let last = self.ranks.iter().copied().max().unwrap_or(0);
        let n = self.offsets.len();
        let mut out = Prediction {
            about,
            ..Prediction::default()
        };
        let mut sigmas = Vec::with_capacity(n);
        let mut spreads = Vec::with_capacity(n);
        let mut between = Vec::with_capacity(n);
        for i in 0..n {
            if !self.asks(i) {
                for values in [
                    &mut out.off,
                    &mut out.apart,
                    &mut sigmas,
                    &mut spreads,
                    &mut between,
                ] {
                    values.push(0.0);
                }
                continue;
            }
            let expected = |t: &Tried| t.spread[i] * t.local[i];
            let best = tried.iter().map(expected).fold(f64::INFINITY, f64::min);
            let count = |t: &Tried| {
                let share = best / expected(t);
                (0..COUNTS).fold(1.0, |power, _| power * share)
            };
            let total: f64 = tried.iter().map(count).sum();
            let mean = |value: &dyn Fn(&Tried) -> f64| {
                let sum: f64 = tried.iter().map(|t| count(t) * value(t)).sum();
                sum / total
            };
            out.off.push(mean(&|t| t.off[i]));
            let off = out.off[i];
            let square = |t: &Tried| (t.off[i] - off) * (t.off[i] - off);
            between.push(mean(&square));
            let alike = tried.iter().map(square).sum::<f64>() / tried.len() as f64;
            out.apart.push(alike.sqrt());
            let variance = mean(&|t| t.local[i] * t.local[i]);
            sigmas.push(variance.sqrt());
            spreads.push((mean(&|t| expected(t) * expected(t)) / variance).sqrt());
        }
        out.sigma = match &self.only {
            Some(only) => only.sigma,
            None => median(sigmas.clone()),
        };
        out.sd = (0..n)
            .map(|i| {
                let usual = sigmas[i].max(out.sigma);
                let sigma = f64::midpoint(sigmas[i] * sigmas[i], usual * usual).sqrt();
                let from_end = self.ranks[i].min(last - self.ranks[i]);
                let sides = ONE_SIDED.get(from_end).unwrap_or(&1.0);
                let own = sigma * spreads[i];
                (own * own + between[i]).sqrt() * sides
            })
            .collect();
        out.t = { out.off.iter().zip(&out.sd) }
            .map(|(off, sd)| if *sd > 0.0 { off / sd } else { 0.0 })
            .collect();
        Ok(Some(out))
    }

    fn asks(&self, i: usize) -> bool {
        self.only.as_ref().is_none_or(|only| only.asked[i])
    }

    fn about(&self, places: &[[f64; 2]]) -> Vec<Vec<(usize, f64)>> {
        let last = self.ranks.iter().copied().max().unwrap_or(0);
        let say = |i: usize, j: usize| {
            let at_end = self.ranks[i] == 0 || self.ranks[i] == last;
            let stations = self.ranks[i].abs_diff(self.ranks[j]);
            let girth = (places[i][1] - places[j][1]).abs();
            let far = if at_end { END_GIRTH } else { GIRTH };
            let along = 1.0 - stations as f64 / (STATIONS + 1) as f64;
            let inside = if at_end && stations > 0 {
                FROM_INSIDE
            } else {
                1.0
            };
            (j != i && stations <= STATIONS && girth < far)
                .then(|| (j, along * inside * (1.0 - girth / far)))
        };
        let all = |i: usize| (0..places.len()).filter_map(|j| say(i, j)).collect();
        (0..places.len())
            .map(|i| if self.asks(i) { all(i) } else { Vec::new() })
            .collect()
    }

    fn tried(
        &self,
        fit: &BenchFit,
        places: &[[f64; 2]],
        weights: &[f64],
        about: &[Vec<(usize, f64)>],
    ) -> Tried {
        let Covariances { own, shared } = fit.covariances(about);
        let offsets = self.offsets.iter().zip(places);
        let residuals: Vec<Residual> = offsets.map(|(o, at)| Residual::of(o, fit, *at)).collect();
        let n = places.len();
        let mut tried = Tried {
            off: Vec::with_capacity(n),
            spread: Vec::with_capacity(n),
            local: Vec::with_capacity(n),
        };
        for i in 0..n {
            let (off, left) = residuals[i].left_out(weights[i], own[i]);
            tried.off.push(off);
            tried.spread.push((1.0 / self.nominal[i] + left).sqrt());
            let (mut sum, mut says) = (0.0, 0.0);
            for ((j, say), shared) in about[i].iter().zip(&shared[i]) {
                if weights[*j] < SILENT * self.nominal[*j] {
                    continue;
                }
                // Without the one in question.
                let mut residual = residuals[*j].components;
                let mut variance = own[*j];
                for k in [0, 1] {
                    let pull = weights[i] / (1.0 - (weights[i] * own[i][k]).min(MOST_OWN));
                    residual[k] += shared[k] * pull * residuals[i].components[k];
                    variance[k] += shared[k] * shared[k] * pull;
                }
                let (off, left) = left_out(residuals[*j].normal, residual, weights[*j], variance);
                sum += say * off * off / (1.0 / self.nominal[*j] + left);
                says += say;
            }
            let local = if says > 0.0 {
                (sum / says).sqrt()
            } else {
                f64::NAN
            };
            tried.local.push(local);
        }
        // Where nothing about a reading tells, it is taken to be foretold as is usual.
        let known = tried
            .local
            .iter()
            .copied()
            .filter(|l| l.is_finite())
            .collect();
        let usual = median(known);
        for local in &mut tried.local {
            let here = if local.is_finite() { *local } else { usual };
            *local = here.max(self.least_sigma);
        }
        tried
    }
}
