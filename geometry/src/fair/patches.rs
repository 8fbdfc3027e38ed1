//! Patches: readings side by side that lie off on one side, hollows and humps.
//!
//! In: a search whose misprints are found. Out: its [`Patch`]es. They are held against one stiff surface, robustly fitted,
//! and then against the surface that is left where a whole group has no say.

use crate::document::{On, stations_shown};
use crate::loft::{Bench, LoftError};

use super::prediction::{MOST_OWN, STIFFNESSES, median};
use super::suspects::{
    AS_DRAWN, LEAST_MISPRINT, NO_SAY, Patch, ROUNDS, Search, Study, SuspectsError,
};

/// How much worse a stiffer surface may foretell the readings than the best one does.
const AS_GOOD: f64 = 1.15;

/// A reading may belong to a patch from so many of its standard deviations on.
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

/// Fewest points of a patch.
const PATCH: usize = 3;

/// How far the points of a patch stay off on average, by their standard deviations, where it is left out.
const STAYS: f64 = 1.0;

/// And the worst of them: neighbours err together, so that more is asked of them than of one reading.
const PATCH_SUSPECT: f64 = 7.0;

/// The worst of them lies off by so much more than the surfaces tried are apart there. Of the demo's hollow it is 9.3; of
/// shoulders and tails that are as they should be, in 320 made bodies, at most 4.2 but for one.
const PATCH_TOLD: f64 = 5.0;

/// A surface suits the readings about a patch where they lie about it by no more than so many times the usual.
const SUITS: f64 = 1.75;

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
            let mut off: Vec<f64> = self
                .residuals(&fit, &places)
                .iter()
                .zip(&places)
                .zip(&weights)
                .map(|((residual, [u, v]), weight)| {
                    let (off, _) = residual.left_out(*weight, fit.variance(*u, *v));
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
        for (i, residual) in residuals.iter().enumerate() {
            let [u, v] = places[i];
            let variance = fit.variance(u, v);
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
            off,
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

    /// Where the point of another station stands that continues this one's line; on no line, the nearest round the girth.
    fn beside(&self, i: usize, station: usize) -> Option<usize> {
        let here = self.offset(i);
        let mut there = (0..self.at.len()).filter(|j| self.at[*j].station == station);
        if here.on != On::Free {
            return there.find(|j| self.offset(*j).on == here.on);
        }
        let v = |i: usize| self.study.places[i][1];
        there.min_by(|a, b| (v(*a) - v(i)).abs().total_cmp(&(v(*b) - v(i)).abs()))
    }

    /// The flagged readings, those that adjoin on one side of the surface together.
    fn groups(&self) -> Vec<Vec<usize>> {
        let flagged: Vec<usize> = (0..self.at.len()).filter(|i| self.flagged[*i]).collect();
        let used = stations_shown(self.offsets);
        let next = |i: usize| {
            let station = self.at[i].station;
            used.iter().copied().find(|other| *other > station)
        };
        let adjoin = |i: usize, j: usize| {
            let (a, b) = (self.at[i], self.at[j]);
            let one_side = self.study.off[i].signum() == self.study.off[j].signum();
            let round = a.station == b.station && a.place.abs_diff(b.place) == 1;
            let along = (next(i) == Some(b.station) || next(j) == Some(a.station))
                && (self.beside(i, b.station) == Some(j) || self.beside(j, a.station) == Some(i));
            one_side && (round || along)
        };
        let mut groups: Vec<Vec<usize>> = Vec::new();
        for i in flagged {
            let (touched, mut rest): (Vec<_>, Vec<_>) = groups
                .into_iter()
                .partition(|group: &Vec<usize>| group.iter().any(|j| adjoin(i, *j)));
            let mut group: Vec<usize> = touched.into_iter().flatten().collect();
            group.push(i);
            group.sort_unstable();
            rest.push(group);
            groups = rest;
        }
        groups.sort();
        groups
    }

    /// The groups that stay off where they are all left out, while the surface of the others suits those about them.
    ///
    /// At a shoulder a stiff surface lies off too, but of the readings about it as well: it says nothing there. One that
    /// reaches an end of the body is none: nothing beyond it says how the lines should run.
    pub(super) fn patches(&self, misprints: &[usize]) -> Result<Vec<Patch>, SuspectsError> {
        let ends = [0, self.at.len() - 1].map(|i| self.at[i].station);
        let inside = |group: &[usize]| group.iter().all(|i| !ends.contains(&self.at[*i].station));
        let mut groups = self.groups();
        for group in &mut groups {
            // One or two that stand out by themselves are no part of what their neighbours do.
            let alone = group.iter().filter(|i| misprints.contains(i)).count();
            group.retain(|i| alone >= PATCH || !misprints.contains(i));
        }
        groups.retain(|group| group.len() >= PATCH && inside(group));
        let mut out = Vec::new();
        if groups.is_empty() {
            return Ok(out);
        }
        let mut bench = self.bench()?;
        let places: Vec<[f64; 2]> = bench.places().collect();
        for group in groups {
            self.asked_to_stop()?;
            let mut weights = self.weights.clone();
            for i in group.iter().chain(misprints) {
                weights[*i] = NO_SAY * self.weights[*i];
            }
            let fit = bench.fit(&weights, self.stiffness)?;
            let residuals = self.residuals(&fit, &places);
            let scaled = |i: usize| {
                let [u, v] = places[i];
                let (off, left) = residuals[i].left_out(weights[i], fit.variance(u, v));
                off / (1.0 / self.weights[i] + left).sqrt()
            };
            let others = self.beside_stations(&group).into_iter();
            let others: Vec<f64> = others
                .filter(|j| !group.contains(j) && !misprints.contains(j))
                .map(|j| scaled(j) * scaled(j))
                .collect();
            let square = others.iter().sum::<f64>() / others.len().max(1) as f64;
            let usual = square.sqrt().max(self.prediction.sigma);
            let side = self.study.off[group[0]].signum();
            let t: Vec<f64> = group.iter().map(|i| side * scaled(*i) / usual).collect();
            let most = t.iter().copied().fold(0.0, f64::max);
            let mean = t.iter().sum::<f64>() / t.len() as f64;
            let patch = self.patch(&group);
            let suits = usual <= SUITS * self.prediction.sigma;
            let here = self.at[group[0]].station;
            let one_station = group.iter().all(|i| self.at[*i].station == here);
            // Some of one station alone is how it bends, which no other has to share; most of it is a station out of place.
            let wide = !one_station || 2 * group.len() > self.offsets[here].len();
            if wide
                && suits
                && most > PATCH_SUSPECT
                && mean > STAYS
                && patch.largest > LEAST_MISPRINT
                && self.lies_off(&group, side, &weights)?
            {
                out.push(patch);
            }
        }
        Ok(out)
    }

    /// Whether all surfaces tried, too, hold the readings of a group to lie off on its side while it has no say: by more
    /// than they lie apart there themselves.
    ///
    /// What one stiff surface can't follow, as a narrow tail, is thus no patch.
    fn lies_off(&self, group: &[usize], side: f64, weights: &[f64]) -> Result<bool, SuspectsError> {
        let told = self.foretell_by(weights)?;
        let t = group
            .iter()
            .map(|i| side * told.off[*i] / crate::num::hypot(told.sd[*i], told.apart[*i]));
        let most = t.clone().fold(0.0, f64::max);
        let mean = t.sum::<f64>() / group.len() as f64;
        Ok(most > PATCH_TOLD && mean > STAYS)
    }

    fn patch(&self, group: &[usize]) -> Patch {
        let off = |i: usize| self.study.off[i];
        let worst = group
            .iter()
            .copied()
            .max_by(|a, b| off(*a).abs().total_cmp(&off(*b).abs()))
            .unwrap_or(group[0]);
        let station = |i: usize| &self.body.stations[self.at[i].station];
        let (first, last) = (station(group[0]), station(group[group.len() - 1]));
        Patch {
            hollow: off(worst) < 0.0,
            points: group.iter().map(|i| self.offset(*i).point).collect(),
            stations: [first.id, last.id],
            from_x: first.x,
            to_x: last.x,
            worst: self.offset(worst).point,
            largest: off(worst).abs(),
        }
    }

    /// All readings of the stations of a group and of those beside them.
    fn beside_stations(&self, group: &[usize]) -> Vec<usize> {
        let ranks = self.readings().ranks;
        let near = |j: &usize| group.iter().any(|i| ranks[*i].abs_diff(ranks[*j]) <= 1);
        (0..self.at.len()).filter(near).collect()
    }
}
