//! Windows: groups of readings side by side, of which the likeliest dents are picked and judged.
//!
//! In: a [`Field`]. Out: a [`JudgedWindow`] for each, those that are dents first. Every run of stations by every stretch of
//! the girth is held by one sum against the skin, and the most telling of them are left out exactly.

use crate::fair::search_end::SuspectsError;

use super::field::{Field, STIFFNESSES};
use super::left_out::{LeftOut, about, leave_out};

/// Most stations of a window.
const MOST_STATIONS: usize = 6;

/// Windows begin and end between marks of the girth in so many parts, and at the run lines.
const PARTS: u32 = 14;

/// A mark stands so far before and behind a run line, so that a window may take it or leave it.
const BESIDE_A_RUN: f64 = 1e-6;

/// Fewest readings of a window.
pub(super) const FEWEST: usize = 3;

/// Windows judged at each stiffness.
const JUDGED: usize = 40;

/// A stiffness is plausible within this of the best −2 log likelihood; and so is one half-decade slacker than that.
const PLAUSIBLE: f64 = 6.0;

/// What each reading left out must gain.
const COST: f64 = 6.0;

/// What the whole must gain besides: of bodies without a dent none does.
pub(super) const THRESHOLD: f64 = 15.0;

/// Worst standard deviation of the skin across a window, by the spread of a reading: beyond, nothing says how it runs.
pub(super) const KNOWN: f64 = 4.0;

/// In a group that has grown, it may be this share of the furthest distance.
pub(super) const KNOWN_OF_FURTHEST: f64 = 0.25;

/// Share of a group that must lie on its side.
const ON_ONE_SIDE: f64 = 0.8;

/// And none on the other by more than so many standard deviations.
const ON_THE_OTHER: f64 = 3.0;

/// Why a window is no dent.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Refused {
    /// Nothing else says how the lines run there.
    NotKnown,
    /// It does not lie on one side.
    NotOneSided,
    /// It lies within its tolerance.
    WithinTolerance,
}

/// A group of readings, judged as a dent.
#[derive(Clone, Debug)]
pub(super) struct JudgedWindow {
    /// In rising order.
    pub(super) group: Vec<usize>,
    /// Its first station and its last.
    pub(super) stations: [usize; 2],
    /// 1 where it lies outside, −1 inside.
    pub(super) side: f64,
    /// None where it is a dent.
    pub(super) refused: Option<Refused>,
    /// Which stiffness suits the rest best.
    pub(super) stiffness: usize,
    /// The group left out at that.
    pub(super) left: LeftOut,
    /// Least gain at any plausible stiffness, less what it costs.
    pub(super) score: f64,
    /// Gain at the best stiffness, less what it costs.
    pub(super) raw: f64,
}

impl JudgedWindow {
    /// Whether it is a dent beyond doubt.
    pub(super) fn is_dent(&self) -> bool {
        self.refused.is_none() && self.score > THRESHOLD
    }

    /// Distance of its furthest reading, mm.
    pub(super) fn furthest(&self) -> f64 {
        self.left.off.iter().fold(0.0, |most, e| e.abs().max(most))
    }
}

/// How far the skin may be unknown across a group.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum KnownBy {
    /// By the spread of a reading: while a dent is looked for.
    BySpread,
    /// Or by the furthest distance: of one that has grown.
    OrByFurthest,
}

impl KnownBy {
    /// Whether it is known well enough.
    pub(super) fn holds(self, left: &LeftOut) -> bool {
        let furthest = match self {
            Self::BySpread => 0.0,
            Self::OrByFurthest => left.off.iter().fold(0.0_f64, |most, e| e.abs().max(most)),
        };
        left.sd <= (KNOWN * left.sigma).max(KNOWN_OF_FURTHEST * furthest)
    }
}

/// A window before it is judged.
#[derive(Clone, Debug)]
pub(super) struct Window {
    group: Vec<usize>,
    stations: [usize; 2],
}

/// Every group of three readings or more that a run of stations, neither the first nor the last of the body, has in a stretch
/// of the girth; each once.
pub(super) fn windows(field: &Field) -> Vec<Window> {
    let mut cuts: Vec<f64> = (1..PARTS)
        .map(|k| f64::from(k) / f64::from(PARTS))
        .collect();
    for v in &field.run_lines {
        cuts.extend([v - BESIDE_A_RUN, v + BESIDE_A_RUN]);
    }
    cuts.extend([-1.0, 2.0]);
    cuts.sort_by(f64::total_cmp);
    let readings = &field.readings;
    let inside = 1..field.stations.saturating_sub(1);
    let mut out = Vec::new();
    for first in inside.clone() {
        for last in first..(first + MOST_STATIONS).min(inside.end) {
            let from = readings.partition_point(|r| r.station < first);
            let to = readings.partition_point(|r| r.station <= last);
            let mut seen: Vec<Vec<usize>> = Vec::new();
            for (p, low) in cuts.iter().enumerate() {
                for high in &cuts[p + 1..] {
                    let within = |i: &usize| {
                        let reading = readings[*i];
                        reading.counts && *low < reading.v && reading.v < *high
                    };
                    let group: Vec<usize> = (from..to).filter(within).collect();
                    // A window ends with stations that it has readings of.
                    let ends = [group.first(), group.last()];
                    let ends = ends.map(|i| i.map(|i| readings[*i].station));
                    let tight = ends == [Some(first), Some(last)];
                    if group.len() >= FEWEST && tight && !seen.contains(&group) {
                        seen.push(group);
                    }
                }
            }
            out.extend(seen.into_iter().map(|group| Window {
                group,
                stations: [first, last],
            }));
        }
    }
    out
}

/// The windows that gain most by one common shift, at each stiffness so many: `(Σ q)² / (1ᵀ A 1)`. In rising order.
///
/// # Units
/// Gains in mm², which are only held against each other.
///
/// # Errors
/// [`SuspectsError::Stopped`].
///
/// # Source
/// The score test of one common shift: common practice.
pub(super) fn screened(
    field: &Field,
    windows: &[Window],
    stop: &dyn Fn() -> bool,
) -> Result<Vec<usize>, SuspectsError> {
    let mut picked = Vec::new();
    for of in &field.at {
        if stop() {
            return Err(SuspectsError::Stopped);
        }
        let mut gains: Vec<(f64, usize)> = windows
            .iter()
            .enumerate()
            .map(|(number, window)| {
                let group = &window.group;
                let pull: f64 = group.iter().map(|i| of.pull[*i]).sum();
                let mut precision = 0.0;
                for (k, i) in group.iter().enumerate() {
                    let off: f64 = group[..k].iter().map(|j| of.entry(*i, *j)).sum();
                    precision += 2.0 * off + of.entry(*i, *i);
                }
                (pull * pull / precision.max(f64::MIN_POSITIVE), number)
            })
            .collect();
        gains.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));
        picked.extend(gains.iter().take(JUDGED).map(|(_, number)| *number));
    }
    picked.sort_unstable();
    picked.dedup();
    Ok(picked)
}

/// Judges a group: at every stiffness that suits the rest about it, it must be known, on one side and past its tolerance. None
/// where the rest does not hold the skin.
///
/// Its score is the least gain at any plausible stiffness less 6 for each reading: a misfit that grows with the window is none.
///
/// # Units
/// `group` in rising order, `stations` its first and last; distances in mm.
///
/// # Accuracy
/// With the constants of this file, chosen on other made bodies: of 120 without a dent none was found to have one; of 80 with
/// one, of conic lines and tear-drops, 60 were found, 53 of them brought to half or less, none at a wrong place and none made
/// worse (the example `dents`, seeds 1000 to 1119 and 2000 to 2119). Of 40 bodies with shoulders and narrow tails 5 were
/// found: one stiffness does not suit them, and of 29 nothing could be told.
///
/// # Source
/// Ours; the threshold over all windows is that of bodies without a dent.
pub(super) fn judge(
    field: &Field,
    group: &[usize],
    stations: [usize; 2],
    known: KnownBy,
) -> Option<JudgedWindow> {
    let near = about(field, stations);
    let tried: Option<Vec<LeftOut>> = (0..STIFFNESSES.len())
        .map(|k| leave_out(field, k, group, near))
        .collect();
    let mut tried = tried?;
    let (mut best, mut least) = (0, f64::INFINITY);
    for (k, left) in tried.iter().enumerate() {
        if left.misfit < least {
            (best, least) = (k, left.misfit);
        }
    }
    let plausible = |k: &usize| {
        tried[*k].misfit <= least + PLAUSIBLE || *k == best || *k == best + 1 //
    };
    let side = middle(&tried[best].off).signum();
    let mut refused = None;
    let mut gain = f64::INFINITY;
    for left in (0..tried.len()).filter(plausible).map(|k| &tried[k]) {
        gain = gain.min(left.gain);
        let on_side = left.off.iter().filter(|e| side * **e > 0.0).count() as f64;
        let against = left
            .t
            .iter()
            .fold(f64::NEG_INFINITY, |m, t| m.max(-side * t));
        let one_sided = on_side >= ON_ONE_SIDE * group.len() as f64
            && against <= ON_THE_OTHER
            && side * middle(&left.off) > 0.0;
        if !known.holds(left) {
            refused = refused.or(Some(Refused::NotKnown));
        } else if !one_sided {
            refused = refused.or(Some(Refused::NotOneSided));
        }
    }
    let tolerances: Vec<f64> = { group.iter() }
        .map(|i| field.readings[*i].tolerance)
        .collect();
    if middle(&tried[best].off).abs() < middle(&tolerances) {
        refused = refused.or(Some(Refused::WithinTolerance));
    }
    let cost = COST * group.len() as f64;
    let left = tried.swap_remove(best);
    Some(JudgedWindow {
        group: group.to_vec(),
        stations,
        side,
        refused,
        stiffness: best,
        score: gain - cost,
        raw: left.gain - cost,
        left,
    })
}

/// The median: of an even count the mean of the middle two.
pub(super) fn middle(values: &[f64]) -> f64 {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    let n = sorted.len();
    if n == 0 {
        0.0
    } else if n % 2 == 1 {
        sorted[n / 2]
    } else {
        f64::midpoint(sorted[n / 2 - 1], sorted[n / 2])
    }
}

/// All windows, the most telling judged: dents first, by their score.
pub(super) fn scan(
    field: &Field,
    stop: &dyn Fn() -> bool,
) -> Result<Vec<JudgedWindow>, SuspectsError> {
    let windows = windows(field);
    let mut judged = Vec::new();
    for number in screened(field, &windows, stop)? {
        if stop() {
            return Err(SuspectsError::Stopped);
        }
        let window = &windows[number];
        judged.extend(judge(
            field,
            &window.group,
            window.stations,
            KnownBy::BySpread,
        ));
    }
    judged.sort_by(|a, b| {
        let refused = a.refused.is_some().cmp(&b.refused.is_some());
        refused.then(b.score.total_cmp(&a.score))
    });
    Ok(judged)
}
