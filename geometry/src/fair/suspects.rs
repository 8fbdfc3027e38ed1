//! Readings that disagree with their neighbours: misprints one by one, and patches where the shape itself goes in or out.
//!
//! In: [`Lines`], their recorded values. Out: [`Suspects`]. Each reading is held against the surface of all the others,
//! along the body and round the girth at once. Nothing is changed: what to do with a suspect a person decides.

use crate::document::{Fixes, Lines, Offset, On, Point, PointId, Reading, Recorded, StationId};
use crate::lines::cuts;
use crate::loft::{Bench, BenchFit, Loft, LoftError, section_normal};
use crate::num;
use crate::units::{LengthUnit, Message, parse_length};

use super::foretold::{Foretold, Held, Readings, STIFFNESSES, median};
use super::slips::{Asked, Cell, Slip, slips};

/// What disagrees with its neighbours.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Suspects {
    /// Single readings, in the order of their points.
    pub misprints: Vec<Misprint>,
    /// Hollows and humps, from fore to aft.
    pub patches: Vec<Patch>,
    /// Standard deviation of a reading of middling tolerance about the surface of the others, mm.
    pub sigma: f64,
}

/// A reading that cannot be right if its neighbours are.
#[derive(Clone, Debug, PartialEq)]
pub struct Misprint {
    /// Its point.
    pub point: PointId,
    /// Which of the point's readings, from 0.
    pub reading: usize,
    /// Which of its coordinates: the height, else the half-breadth (or the distance along a diagonal).
    pub height: bool,
    /// What it says, on the lines, mm.
    pub read: f64,
    /// What would fit; none where the section of the others does not come to the place that was read.
    pub wanted: Option<Wanted>,
    /// Distance from the surface of the others along the section's normal, by its own standard deviation.
    pub t: f64,
    /// The slips of the pen that explain it, the likeliest first; none: nothing simple does.
    pub slips: Vec<Slip>,
}

/// The value that would fit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Wanted {
    /// As the reading counts on the lines, mm.
    pub mm: f64,
    /// Its standard deviation, mm.
    pub sd: f64,
}

/// Readings side by side that lie off on one side: a hollow, a hump, or a station out of its place.
#[derive(Clone, Debug, PartialEq)]
pub struct Patch {
    /// Whether the readings lie inside the surface of the others; else outside.
    pub hollow: bool,
    /// Its points, station by station.
    pub points: Vec<PointId>,
    /// Its first station and its last.
    pub stations: [StationId; 2],
    /// Where these lie, mm aft of the datum.
    pub from_x: f64,
    /// See `from_x`.
    pub to_x: f64,
    /// The point that lies furthest off.
    pub worst: PointId,
    /// How far that is, along the section's normal, mm, over zero.
    pub largest: f64,
}

/// Why nothing was found out.
#[derive(Clone, Debug, PartialEq)]
pub enum SuspectsError {
    /// The lines have no loft.
    Loft(LoftError),
    /// It was asked to stop.
    Stopped,
}

impl From<LoftError> for SuspectsError {
    fn from(error: LoftError) -> Self {
        Self::Loft(error)
    }
}

impl Message for SuspectsError {
    fn message(&self, unit: LengthUnit) -> String {
        match self {
            Self::Loft(error) => error.message(unit),
            Self::Stopped => "The search for misprints was stopped.".to_owned(),
        }
    }
}

impl core::fmt::Display for SuspectsError {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        f.write_str(&self.message(LengthUnit::Millimetres))
    }
}

impl core::error::Error for SuspectsError {}

/// Stiffness of lines as drawn where readings are good to 1 mm; less stiff where they are better, down to this by what the
/// chosen stiffness is of the stiffest: a surface that meets every reading foretells none.
const AS_DRAWN: f64 = 1.0;

/// How much worse a stiffer surface may foretell the readings than the best one does.
const AS_GOOD: f64 = 1.15;

/// A reading is suspect from so many of its standard deviations on.
const SUSPECT: f64 = 4.25;

/// Rounds of the robust fit.
const ROBUST: usize = 7;

/// Bisquare weights end at this many standard deviations.
const BISQUARE: f64 = 4.0;

/// The robust fit has settled where no weight changes by more.
const SETTLED: f64 = 0.02;

/// Weight of a reading that has no say, of its own.
const NO_SAY: f64 = 1e-6;

/// Least standard deviation of a reading, by its tolerance: a figure rounded to a tolerance either way is out by 0.58 of it
/// at most on average, and who states a tolerance has rarely used up half of that.
const LEAST_SIGMA: f64 = 0.25;

/// Robust weights from which a reading tells of the spread.
const TELLS: f64 = 0.05;

/// Most that a reading may have of the surface at its own place: one that has it all is foretold by no other.
const MOST_OWN: f64 = 1.0 - 1e-9;

/// From the median of absolute values to the standard deviation of a normal distribution.
const FROM_MEDIAN: f64 = 1.4826;

/// Fewest points of a patch.
const PATCH: usize = 3;

/// How far the points of a patch stay off on average, by their standard deviations, where it is left out.
const STAYS: f64 = 1.0;

/// And the worst of them: neighbours err together, so that more is asked of them than of one reading.
const PATCH_SUSPECT: f64 = 7.0;

/// A surface suits the readings about a patch where they lie about it by no more than so many times the usual.
const SUITS: f64 = 1.75;

/// No misprint is less than this along the section's normal, mm: less is no more than the loft's own error between offsets.
const LEAST_MISPRINT: f64 = 0.5;

/// Most points that are left out for a body to have a loft.
const LEFT_OUT: usize = 8;

/// Longest search, in rounds: each flags a reading at least.
const ROUNDS: usize = 40;

/// Tolerances that count in the fit, mm, as in the loft.
const TOLERANCES: [f64; 2] = [0.05, 20.0];

/// Finds the readings that disagree with their neighbours.
///
/// `stop` is asked between rounds.
///
/// # Errors
/// [`SuspectsError`]: the lines have no loft, or `stop` said so.
///
/// # Accuracy
/// In 300 made bodies with shoulders and narrow tails, read to 0.4 to 0.9 mm, 95 % of 9 mm were found between the end
/// stations and 53 % of an eighth of an inch, with 0.9 false in twenty bodies; at a first or last station a quarter of 9 mm,
/// since a surface is only carried on to there. On exact tables of hulls 9 mm was found everywhere but at a sharp skeg and
/// the last stations. A hollow that reaches the first or last station is not judged.
///
/// # Source
/// Studentised leave-one-out residuals: Belsley, Kuh and Welsch, *Regression Diagnostics*, 1980; bisquare weights: Beaton
/// and Tukey, *Technometrics* 16 (1974).
pub fn find(lines: &Lines, stop: &dyn Fn() -> bool) -> Result<Suspects, SuspectsError> {
    let (loft, apart) = loft_without(lines)?;
    let offsets = loft.offsets(lines);
    let mut search = Search::of(lines, (&loft, &apart), &offsets, stop)?;
    let sure = search.misprinted()?;
    search.choose_stiffness()?;
    search.flag()?;
    let mut patches = search.patches(&sure)?;
    let within = |i: &usize| {
        let point = search.offset(*i).point;
        patches.iter().any(|patch| patch.points.contains(&point))
    };
    let sure: Vec<usize> = sure.into_iter().filter(|i| !within(i)).collect();
    let mut misprints = search.misprints(&sure)?;
    // What a person keeps as true is in doubt no longer.
    misprints.retain(|misprint| !is_kept(lines, misprint.point, misprint.reading));
    patches.retain(|patch| !patch.points.iter().all(|id| lines.keeps(*id)));
    Ok(Suspects {
        misprints,
        patches,
        sigma: search.foretold.sigma,
    })
}

fn is_kept(lines: &Lines, point: PointId, reading: usize) -> bool {
    let point = lines.point(point);
    let reading = point.and_then(|point| point.readings.get(reading));
    reading.is_some_and(|reading| reading.kept)
}

/// The loft, and the points that had to be left out for there to be one: a misprint may be so gross that its section turns
/// back, or that it falls on its neighbour.
fn loft_without(lines: &Lines) -> Result<(Loft, Vec<PointId>), LoftError> {
    let mut rest = lines.clone();
    let mut apart = Vec::new();
    let mut built = Loft::build(&rest);
    for _ in 0..LEFT_OUT {
        let fault = match built {
            Ok(loft) => return Ok((loft, apart)),
            Err(fault @ (LoftError::TurnsBack { .. } | LoftError::EqualPoints { .. })) => fault,
            Err(fault) => return Err(fault),
        };
        let Some(point) = named(&rest, &fault) else {
            return Err(fault);
        };
        // The one that is named, or a neighbour round the girth, stands in the way: the one without which the body gets
        // furthest, and is lofted at best.
        let mut next = None;
        for id in about_the_girth(&rest, point) {
            let without = without(&rest, id);
            let trial = Loft::build(&without);
            let here = trial.as_ref().err().and_then(|e| named(&without, e));
            let station = |id: PointId| without.point(id).map(|p| p.station);
            let past = here.is_some_and(|here| station(here) != station(point));
            if trial.is_ok() || (past && next.is_none()) {
                let done = trial.is_ok();
                next = Some((id, without, trial));
                if done {
                    break;
                }
            }
        }
        let Some((id, without, trial)) = next else {
            return Err(fault);
        };
        apart.push(id);
        rest = without;
        built = trial;
    }
    built.map(|loft| (loft, apart))
}

/// The point that a fault names.
fn named(lines: &Lines, fault: &LoftError) -> Option<PointId> {
    let name = fault.point()?;
    let mut points = lines.points.iter();
    points
        .find(|point| lines.point_name(point.id) == name)
        .map(|point| point.id)
}

/// A point, then the ones beside it round the girth.
fn about_the_girth(lines: &Lines, id: PointId) -> Vec<PointId> {
    let offsets = lines.offsets();
    let at = |round: &Vec<Offset>| round.iter().position(|o| o.point == id);
    let found = offsets.iter().find_map(|round| Some((round, at(round)?)));
    let Some((round, at)) = found else {
        return vec![id];
    };
    let beside = [Some(at), at.checked_add(1), at.checked_sub(1)];
    let beside = beside.into_iter().flatten();
    beside
        .filter_map(|k| round.get(k).map(|o| o.point))
        .collect()
}

/// The lines with all readings of a point set aside.
fn without(lines: &Lines, id: PointId) -> Lines {
    let mut lines = lines.clone();
    for point in lines.points.iter_mut().filter(|p| p.id == id) {
        for reading in &mut point.readings {
            reading.set_aside = Some(String::new());
        }
    }
    lines
}

/// One reading's place: its station and its place in the round of it.
#[derive(Clone, Copy, Debug, PartialEq)]
struct At {
    station: usize,
    place: usize,
}

struct Search<'a> {
    lines: &'a Lines,
    loft: &'a Loft,
    offsets: &'a [Vec<Offset>],
    stop: &'a dyn Fn() -> bool,
    at: Vec<At>,
    /// 1/tolerance², 1 on average.
    weights: Vec<f64>,
    /// No less than this is the spread of readings.
    least_sigma: f64,
    /// Stiffness of the loft against these weights, at most [`AS_DRAWN`].
    lofted: f64,
    /// The same, but not so slack that it foretells nothing.
    as_drawn: f64,
    stiffness: f64,
    flagged: Vec<bool>,
    /// Those without which alone there is a loft: they never have a say in the girth.
    apart: Vec<bool>,
    study: Study,
    foretold: Foretold,
}

/// All readings against one robust fit.
#[derive(Clone, Debug, Default)]
struct Study {
    /// Where each lies, `u` and `v`.
    places: Vec<[f64; 2]>,
    /// Distances from the surface of the others, mm.
    off: Vec<f64>,
    /// By their standard deviations.
    t: Vec<f64>,
    sigma: f64,
    /// Weights with which it ended.
    weights: Vec<f64>,
}

impl<'a> Search<'a> {
    fn of(
        lines: &'a Lines,
        (loft, apart): (&'a Loft, &[PointId]),
        offsets: &'a [Vec<Offset>],
        stop: &'a dyn Fn() -> bool,
    ) -> Result<Self, SuspectsError> {
        let at: Vec<At> = offsets
            .iter()
            .enumerate()
            .flat_map(|(station, round)| (0..round.len()).map(move |place| At { station, place }))
            .collect();
        let mut weights: Vec<f64> = offsets
            .iter()
            .flatten()
            .map(|offset| {
                let tolerance = offset.tolerance.clamp(TOLERANCES[0], TOLERANCES[1]);
                1.0 / (tolerance * tolerance)
            })
            .collect();
        let mean = weights.iter().sum::<f64>() / weights.len().max(1) as f64;
        for weight in &mut weights {
            *weight /= mean;
        }
        let points = offsets.iter().flatten().map(|offset| offset.point);
        let apart: Vec<bool> = points.map(|point| apart.contains(&point)).collect();
        Ok(Self {
            lines,
            loft,
            offsets,
            stop,
            at,
            weights,
            least_sigma: LEAST_SIGMA / mean.sqrt(),
            lofted: (loft.stiffness() / mean).min(AS_DRAWN),
            as_drawn: AS_DRAWN,
            stiffness: STIFFNESSES[0],
            flagged: apart.clone(),
            apart,
            study: Study::default(),
            foretold: Foretold::default(),
        })
    }

    fn asked_to_stop(&self) -> Result<(), SuspectsError> {
        if (self.stop)() {
            Err(SuspectsError::Stopped)
        } else {
            Ok(())
        }
    }

    fn offset(&self, i: usize) -> &Offset {
        &self.offsets[self.at[i].station][self.at[i].place]
    }

    fn bench(&self) -> Result<Bench, LoftError> {
        let apart: Vec<PointId> = (0..self.at.len())
            .filter(|i| self.flagged[*i] || self.apart[*i])
            .map(|i| self.offset(i).point)
            .collect();
        Bench::lay(self.lines, self.offsets, &apart)
    }

    /// The stiffest surface that foretells readings from the others about as well as the best does.
    fn choose_stiffness(&mut self) -> Result<(), SuspectsError> {
        let mut bench = self.bench()?;
        let weights = self.without_flagged();
        let places: Vec<[f64; 2]> = bench.places().collect();
        let mut tried = Vec::new();
        let mut best = f64::INFINITY;
        for stiffness in STIFFNESSES {
            self.asked_to_stop()?;
            let fit = bench.fit(&weights, stiffness)?;
            let mut off: Vec<f64> = self
                .held(&fit, &places)
                .iter()
                .zip(&places)
                .zip(&weights)
                .map(|((held, [u, v]), weight)| {
                    let (off, _) = held.left_out(*weight, fit.variance(*u, *v));
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

    /// Each reading against a fit.
    fn held(&self, fit: &BenchFit, places: &[[f64; 2]]) -> Vec<Held> {
        let offsets = self.offsets.iter().flatten();
        offsets
            .zip(places)
            .map(|(offset, at)| Held::of(offset, fit, *at))
            .collect()
    }

    /// A robust fit, and each reading against the surface of the others.
    fn study(&self, bench: &mut Bench, stiffness: f64) -> Result<Study, LoftError> {
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
        let mut held = self.held(&fit, &places);
        for _ in 0..ROBUST {
            let scaled: Vec<f64> = held
                .iter()
                .zip(&self.weights)
                .map(|(held, weight)| held.along().abs() * weight.sqrt())
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
            held = self.held(&fit, &places);
        }
        let weights = total(&robust);
        let mut off = Vec::with_capacity(held.len());
        let mut spreads = Vec::with_capacity(held.len());
        let mut telling = Vec::new();
        for (i, held) in held.iter().enumerate() {
            let [u, v] = places[i];
            let variance = fit.variance(u, v);
            let (e, left) = held.left_out(weights[i], variance);
            off.push(e);
            spreads.push(1.0 / self.weights[i] + left);
            let h = held.normal[0] * held.normal[0] * variance[0]
                + held.normal[1] * held.normal[1] * variance[1];
            let own = (weights[i] * h).min(MOST_OWN);
            if robust[i] > TELLS {
                let scaled = held.along().abs() * self.weights[i].sqrt();
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
    fn flag(&mut self) -> Result<(), SuspectsError> {
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
        let used: Vec<usize> = (0..self.offsets.len())
            .filter(|station| !self.offsets[*station].is_empty())
            .collect();
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

    /// The readings as they are held against each other.
    fn readings(&self) -> Readings<'a> {
        let used: Vec<usize> = (0..self.offsets.len())
            .filter(|station| !self.offsets[*station].is_empty())
            .collect();
        let rank = |at: &At| used.partition_point(|station| *station < at.station);
        Readings {
            offsets: self.offsets.iter().flatten().collect(),
            ranks: self.at.iter().map(rank).collect(),
            nominal: self.weights.clone(),
            least_sigma: self.least_sigma,
        }
    }

    /// The weights, those that are flagged without a say.
    fn without_flagged(&self) -> Vec<f64> {
        let flagged = self.weights.iter().zip(&self.flagged);
        flagged
            .map(|(weight, flagged)| if *flagged { weight * NO_SAY } else { *weight })
            .collect()
    }

    /// What the others foretell of each reading while those that are flagged have no say.
    fn foretell(&self) -> Result<Foretold, SuspectsError> {
        let weights = self.without_flagged();
        let found = self
            .readings()
            .foretold(&mut self.bench()?, &weights, self.stop)?;
        found.ok_or(SuspectsError::Stopped)
    }

    /// The single readings that stand out, the worst about each place first: with it left out, its neighbours may fit.
    ///
    /// What was left out for the body to have a loft begins so, and comes back in where it fits.
    fn misprinted(&mut self) -> Result<Vec<usize>, SuspectsError> {
        for _ in 0..ROUNDS {
            self.foretold = self.foretell()?;
            let t = |i: usize| self.foretold.t[i].abs();
            let worst: Vec<usize> = (0..self.at.len())
                .filter(|i| !self.flagged[*i] && t(*i) > SUSPECT)
                .filter(|i| {
                    let about = self.foretold.about[*i].iter();
                    about
                        .clone()
                        .all(|(j, _)| self.flagged[*j] || t(*j) <= t(*i))
                })
                .collect();
            if worst.is_empty() {
                break;
            }
            for i in worst {
                self.flagged[i] = true;
            }
        }
        let sure = |i: &usize| {
            let offset = self.offset(*i);
            let far = self.foretold.off[*i].abs() > offset.tolerance.max(LEAST_MISPRINT);
            self.flagged[*i] && far && self.foretold.t[*i].abs() > SUSPECT
        };
        Ok((0..self.at.len()).filter(sure).collect())
    }

    /// The groups that stay off where they are all left out, while the surface of the others suits those about them.
    ///
    /// At a shoulder a stiff surface lies off too, but of the readings about it as well: it says nothing there. One that
    /// reaches an end of the body is none: nothing beyond it says how the lines should run.
    fn patches(&self, misprints: &[usize]) -> Result<Vec<Patch>, SuspectsError> {
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
            let held = self.held(&fit, &places);
            let scaled = |i: usize| {
                let [u, v] = places[i];
                let (off, left) = held[i].left_out(weights[i], fit.variance(u, v));
                off / (1.0 / self.weights[i] + left).sqrt()
            };
            let others = self.beside_stations(&group).into_iter();
            let others: Vec<f64> = others
                .filter(|j| !group.contains(j) && !misprints.contains(j))
                .map(|j| scaled(j) * scaled(j))
                .collect();
            let square = others.iter().sum::<f64>() / others.len().max(1) as f64;
            let usual = square.sqrt().max(self.foretold.sigma);
            let side = self.study.off[group[0]].signum();
            let t: Vec<f64> = group.iter().map(|i| side * scaled(*i) / usual).collect();
            let most = t.iter().copied().fold(0.0, f64::max);
            let mean = t.iter().sum::<f64>() / t.len() as f64;
            let patch = self.patch(&group);
            let suits = usual <= SUITS * self.foretold.sigma;
            let here = self.at[group[0]].station;
            let one_station = group.iter().all(|i| self.at[*i].station == here);
            // Some of one station alone is how it bends, which no other has to share; most of it is a station out of place.
            let wide = !one_station || 2 * group.len() > self.offsets[here].len();
            if wide
                && suits
                && most > PATCH_SUSPECT
                && mean > STAYS
                && patch.largest > LEAST_MISPRINT
            {
                out.push(patch);
            }
        }
        Ok(out)
    }

    fn patch(&self, group: &[usize]) -> Patch {
        let off = |i: usize| self.study.off[i];
        let worst = group
            .iter()
            .copied()
            .max_by(|a, b| off(*a).abs().total_cmp(&off(*b).abs()))
            .unwrap_or(group[0]);
        let station = |i: usize| &self.lines.stations[self.at[i].station];
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

    /// What each would have to say, and how it may have come not to.
    fn misprints(&self, sure: &[usize]) -> Result<Vec<Misprint>, SuspectsError> {
        if sure.is_empty() {
            return Ok(Vec::new());
        }
        let mut bench = self.bench()?;
        let silent = |weights: &[f64]| -> Vec<f64> {
            let mut weights = weights.to_vec();
            for i in sure {
                weights[*i] = NO_SAY * self.weights[*i];
            }
            weights
        };
        let stiff = bench.fit(&silent(&self.study.weights), self.stiffness)?;
        let drawn = bench.fit(&silent(&self.weights), self.as_drawn)?;
        let mut out = Vec::with_capacity(sure.len());
        for &i in sure {
            self.asked_to_stop()?;
            out.extend(self.misprint(i, &stiff, &drawn));
        }
        Ok(out)
    }

    /// The likeliest of what may be wrong with a point.
    fn misprint(&self, i: usize, stiff: &BenchFit, drawn: &BenchFit) -> Option<Misprint> {
        let offset = self.offset(i);
        let point = self.lines.point(offset.point)?;
        let mut likeliest: Option<(f64, Misprint)> = None;
        for height in coordinates(offset.fixes) {
            let wanted = self.wanted(i, *height, stiff, drawn);
            let Some((reading, recorded)) = furthest(point, *height, wanted) else {
                continue;
            };
            let slips = wanted.map_or_else(Vec::new, |wanted| {
                self.slips(point, &point.readings[reading], recorded, *height, wanted)
            });
            // Where no slip explains it, the coordinate that the surface is square to is the likelier.
            let cost = match (slips.first(), wanted) {
                (Some(slip), _) => slip.score,
                (None, Some(wanted)) => UNEXPLAINED + num::ln(wanted.sd),
                (None, None) => f64::INFINITY,
            };
            if likeliest.as_ref().is_none_or(|(least, _)| cost < *least) {
                let misprint = Misprint {
                    point: point.id,
                    reading,
                    height: *height,
                    read: recorded.value(),
                    wanted,
                    t: self.foretold.t[i],
                    slips,
                };
                likeliest = Some((cost, misprint));
            }
        }
        likeliest.map(|(_, misprint)| misprint)
    }

    /// What one coordinate of a point would have to be, by the section of the others at its station.
    fn wanted(&self, i: usize, height: bool, stiff: &BenchFit, drawn: &BenchFit) -> Option<Wanted> {
        let (mm, v) = self.crossing(i, height, stiff)?;
        let u = self.study.places[i][0];
        let offset = self.offset(i);
        let normal = section_normal(&stiff.surface.jet(u, v));
        let across = match (offset.on, offset.fixes, height) {
            (On::Crown | On::Keel, ..) => 1.0,
            (_, Fixes::Along { angle }, _) => {
                normal[0] * num::cos(angle) - normal[1] * num::sin(angle)
            }
            (_, _, true) => normal[1],
            (_, _, false) => normal[0],
        };
        let across = across.abs().max(0.05);
        let [y, z] = stiff.variance(u, v);
        let fitted = normal[0] * normal[0] * y + normal[1] * normal[1] * z;
        // The stiff surface may be out where the lines bend most: by about what the drawn ones say otherwise.
        let apart = self
            .crossing(i, height, drawn)
            .map_or(0.0, |(other, _)| (other - mm) / 2.0);
        let own = self.study.sigma
            * self.study.sigma
            * (1.0 / self.weights[i] + fitted / (across * across));
        let sd = (own + apart * apart).sqrt();
        // It says so on the lines; what was read inside the skin lies deeper.
        let moved = self.loft.moved_out(offset.point)[usize::from(height)];
        let least = offset.tolerance / 2.0;
        Some(Wanted {
            mm: mm - moved,
            sd: sd.max(least),
        })
    }

    /// Where the section comes to what else is known of a point: the coordinate in question, and its `v`.
    fn crossing(&self, i: usize, height: bool, fit: &BenchFit) -> Option<(f64, f64)> {
        let offset = self.offset(i);
        let [u, near] = self.study.places[i];
        let row = fit.surface.row(u);
        if matches!(offset.on, On::Crown | On::Keel) {
            return Some((row.jet(near).s.z, near));
        }
        let [y, z] = offset.recorded;
        let plane = match offset.fixes {
            Fixes::Along { angle } => {
                let (sin, cos) = (num::sin(angle), num::cos(angle));
                [sin, cos, y * sin + z * cos]
            }
            _ if height => [1.0, 0.0, y],
            _ => [0.0, 1.0, z],
        };
        let v = cuts(&row, plane)
            .into_iter()
            .min_by(|a, b| (a - near).abs().total_cmp(&(b - near).abs()))?;
        let at = row.jet(v).s;
        let value = match offset.fixes {
            Fixes::Along { .. } => {
                let place = self.lines.place_of(offset.on)?;
                place.distance_along(at.y, at.z)?
            }
            _ if height => at.z,
            _ => at.y,
        };
        Some((value, v))
    }

    fn slips(
        &self,
        point: &Point,
        reading: &Reading,
        recorded: &Recorded,
        height: bool,
        wanted: Wanted,
    ) -> Vec<Slip> {
        let [half_breadths, heights] = self.lines.counted(point.on, reading.source);
        let counted = if height { heights } else { half_breadths };
        let source = self.lines.source(reading.source).and_then(|s| s.unit);
        let units = [
            source.unwrap_or(self.lines.unit),
            self.lines.unit,
            LengthUnit::Millimetres,
            LengthUnit::Inches,
        ];
        // The unit that the text was read in is the one in which it says what was recorded.
        let read_in = |unit: &LengthUnit| {
            parse_length(&recorded.typed, *unit)
                .is_ok_and(|mm| (counted.on_the_lines(mm) - recorded.mm).abs() < SAME_VALUE)
        };
        let Some(unit) = units.into_iter().find(read_in) else {
            return Vec::new();
        };
        let cells = self.cells(point, reading, height);
        slips(&Asked {
            typed: &recorded.typed,
            unit,
            counted,
            wanted: wanted.mm,
            sd: wanted.sd,
            cells: &cells,
        })
    }

    /// The cells of the same source beside a point: its line at the stations beside, and its station on the lines beside.
    fn cells(&self, point: &Point, reading: &Reading, height: bool) -> Vec<Cell> {
        let coordinate = |r: &Reading| {
            if height {
                r.height.clone()
            } else {
                r.half_breadth.clone()
            }
        };
        let cell = |other: &Point, name: String| {
            let beside = other.readings.iter().find(|r| r.source == reading.source)?;
            let recorded = coordinate(beside)?;
            Some(Cell {
                name,
                typed: recorded.typed.clone(),
                mm: recorded.mm,
            })
        };
        let mut out = Vec::new();
        let Some(here) = self.lines.station_index(point.station) else {
            return out;
        };
        let stations = &self.lines.stations;
        let beside = [here.checked_sub(1), Some(here + 1)];
        for station in beside.into_iter().flatten().filter_map(|n| stations.get(n)) {
            if point.on == On::Free {
                continue;
            }
            let other = self.lines.point_on(station.id, point.on);
            out.extend(other.and_then(|p| cell(p, self.lines.station_name(station.id))));
        }
        let round: Vec<&Point> = self
            .lines
            .points
            .iter()
            .filter(|p| p.station == point.station && coordinate_of(p, height))
            .collect();
        let Some(place) = round.iter().position(|p| p.id == point.id) else {
            return out;
        };
        let beside = [place.checked_sub(1), Some(place + 1)];
        for other in beside.into_iter().flatten().filter_map(|n| round.get(n)) {
            let name = self
                .lines
                .line_name(other.on)
                .unwrap_or_else(|| self.lines.name_of(other));
            out.extend(cell(other, name));
        }
        out
    }
}

/// Beyond three standard deviations of any slip, in the score's terms.
const UNEXPLAINED: f64 = 8.0;

/// Within how much a text says what was recorded, mm.
const SAME_VALUE: f64 = 1e-3;

fn coordinate_of(point: &Point, height: bool) -> bool {
    point.readings.iter().any(|r| {
        let recorded = if height { &r.height } else { &r.half_breadth };
        recorded.is_some()
    })
}

/// The coordinates that a reading of this kind gives: the height or not.
fn coordinates(fixes: Fixes) -> &'static [bool] {
    match fixes {
        Fixes::HalfBreadth | Fixes::Along { .. } => &[false],
        Fixes::Height => &[true],
        Fixes::Both => &[false, true],
    }
}

/// The used reading of a coordinate that lies furthest from what would fit, by its tolerance.
fn furthest(point: &Point, height: bool, wanted: Option<Wanted>) -> Option<(usize, &Recorded)> {
    let off = |reading: &Reading, recorded: &Recorded| {
        wanted.map_or(0.0, |w| (recorded.value() - w.mm).abs() / reading.tolerance)
    };
    point
        .readings
        .iter()
        .enumerate()
        .filter(|(_, reading)| reading.set_aside.is_none())
        .filter_map(|(n, reading)| {
            let recorded = if height {
                reading.height.as_ref()
            } else {
                reading.half_breadth.as_ref()
            };
            recorded.map(|recorded| (n, recorded, off(reading, recorded)))
        })
        .max_by(|a, b| a.2.total_cmp(&b.2))
        .map(|(n, recorded, _)| (n, recorded))
}
