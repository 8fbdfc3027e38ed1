//! A stiff surface, robustly fitted, by which misprints are put right: what stands out has no say in it.
//!
//! In: a search whose misprints are found. Out: its stiffness and its [`Study`], which `correction` goes by.

use crate::loft::{Bench, LoftError};

use super::prediction::{MOST_OWN, STIFFNESSES, median};
use super::search_end::NO_SAY;
use super::suspects::{AS_DRAWN, ROUNDS, Search, Study, SuspectsError};

/// How much worse a stiffer surface may foretell the readings than the best one does.
const AS_GOOD: f64 = 1.15;

/// A reading stands out from so many of its standard deviations on.
const SUSPECT: f64 = 4.25;

/// Rounds of the robust fit.
const ROBUST: usize = 7;

/// Bisquare weights end at this many standard deviations.
const BISQUARE: f64 = 4.0;

/// The robust fit has settled where no weight changes by more.
const SETTLED: f64 = 0.02;

/// Robust weights from which a reading tells of the spread.
const TELLS: f64 = 0.05;

/// From the median of absolute values to the standard deviation of a normal distribution.
const FROM_MEDIAN: f64 = 1.4826;

impl Search<'_> {
    /// The stiffest surface that foretells readings from the others about as well as the best does.
    pub(super) fn choose_stiffness(&mut self) -> Result<(), SuspectsError> {
        let mut bench = self.bench()?;
        let weights = self.without_flagged();
        let places: Vec<[f64; 2]> = bench.places().collect();
        let mut tried = Vec::new();
        let mut best = f64::INFINITY;
        for stiffness in STIFFNESSES {
            self.asked_to_stop()?;
            let fit = bench.fit(&weights, stiffness)?;
            let residuals = self.residuals(&fit, &places);
            let all = residuals.iter().zip(fit.variances()).zip(&weights);
            let mut off: Vec<f64> = all
                .map(|((residual, variance), weight)| {
                    let (off, _) = residual.left_out(*weight, variance);
                    off.abs() * weight.sqrt()
                })
                .collect();
            off.sort_by(f64::total_cmp);
            // A tenth may be misprints and hollows.
            off.truncate(off.len() - off.len() / 10);
            let spread = off.iter().map(|off| off * off).sum::<f64>() / off.len().max(1) as f64;
            let spread = spread.sqrt();
            best = best.min(spread);
            tried.push((stiffness, spread));
            if spread > AS_GOOD * best {
                break; // slacker ones are worse still
            }
        }
        self.stiffness = tried
            .iter()
            .find(|(_, spread)| *spread <= AS_GOOD * best)
            .map_or(STIFFNESSES[0], |(stiffness, _)| *stiffness);
        let least = AS_DRAWN * self.stiffness / STIFFNESSES[0];
        self.as_drawn = self.lofted.max(least);
        Ok(())
    }

    /// A robust fit, and each reading against the surface of the others.
    pub(super) fn study(&self, bench: &mut Bench, stiffness: f64) -> Result<Study, LoftError> {
        let places: Vec<[f64; 2]> = bench.places().collect();
        let mut robust: Vec<f64> = vec![1.0; self.at.len()];
        let total = |robust: &[f64]| -> Vec<f64> {
            self.weights
                .iter()
                .zip(robust)
                .map(|(w, r)| w * r)
                .collect()
        };
        let mut fit = bench.fit(&total(&robust), stiffness)?;
        let mut residuals = self.residuals(&fit, &places);
        for _ in 0..ROBUST {
            let scaled: Vec<f64> = residuals
                .iter()
                .zip(&self.weights)
                .map(|(residual, weight)| residual.along().abs() * weight.sqrt())
                .collect();
            let sigma = (FROM_MEDIAN * median(scaled.clone())).max(self.least_sigma);
            let mut change = 0.0_f64;
            for (i, scaled) in scaled.iter().enumerate() {
                let share = if sigma > 0.0 {
                    scaled / (BISQUARE * sigma)
                } else {
                    0.0
                };
                let kept = (1.0 - share * share).max(0.0);
                let next = kept * kept + NO_SAY;
                change = change.max((next - robust[i]).abs());
                robust[i] = next;
            }
            if change < SETTLED {
                break;
            }
            fit = bench.fit(&total(&robust), stiffness)?;
            residuals = self.residuals(&fit, &places);
        }
        let weights = total(&robust);
        let mut off = Vec::with_capacity(residuals.len());
        let mut spreads = Vec::with_capacity(residuals.len());
        let mut telling = Vec::new();
        let variances = fit.variances();
        for (i, (residual, variance)) in residuals.iter().zip(variances).enumerate() {
            let (e, left) = residual.left_out(weights[i], variance);
            off.push(e);
            spreads.push(1.0 / self.weights[i] + left);
            let h = residual.normal[0] * residual.normal[0] * variance[0]
                + residual.normal[1] * residual.normal[1] * variance[1];
            let own = (weights[i] * h).min(MOST_OWN);
            if robust[i] > TELLS {
                let scaled = residual.along().abs() * self.weights[i].sqrt();
                telling.push(scaled / (1.0 - own).sqrt());
            }
        }
        let sigma = (FROM_MEDIAN * median(telling)).max(self.least_sigma);
        let t = off
            .iter()
            .zip(&spreads)
            .map(|(off, spread)| {
                let sd = sigma * spread.sqrt();
                if sd > 0.0 { off / sd } else { 0.0 }
            })
            .collect();
        Ok(Study {
            places,
            t,
            sigma,
            weights,
        })
    }

    /// Flags the worst reading of each station till none is left that stands out.
    pub(super) fn flag(&mut self) -> Result<(), SuspectsError> {
        for _ in 0..ROUNDS {
            self.asked_to_stop()?;
            let mut bench = self.bench()?;
            self.study = self.study(&mut bench, self.stiffness)?;
            let mut found = false;
            for station in 0..self.offsets.len() {
                let worst = (0..self.at.len())
                    .filter(|i| self.at[*i].station == station && !self.flagged[*i])
                    .filter(|i| self.study.t[*i].abs() > SUSPECT)
                    .max_by(|a, b| self.study.t[*a].abs().total_cmp(&self.study.t[*b].abs()));
                if let Some(worst) = worst {
                    self.flagged[worst] = true;
                    found = true;
                }
            }
            if !found {
                break;
            }
        }
        // With their neighbours gone, some fit after all.
        for i in 0..self.at.len() {
            self.flagged[i] &= self.study.t[i].abs() > SUSPECT;
        }
        Ok(())
    }
}
