//! Readings that disagree with their neighbours: misprints one by one, and dents, where the shape itself goes in or out.
//!
//! In: [`Body`], their recorded values. Out: [`Suspects`]. Each reading is held against the surface of all the others,
//! along the body and round the girth at once. Nothing is changed: what to do with a suspect a person decides.

use std::sync::Arc;

use crate::document::{Body, Offset, PointId, stations_shown};
use crate::loft::{Bench, BenchFit, Loft, LoftError, firmness};
use crate::num;
use crate::units::LengthUnit;

use super::dents::{DentSearch, Dents, Suspect, look};
use super::prediction::{Only, Prediction, Readings, Residual, STIFFNESSES};
use super::search_end::{NO_SAY, without};
use super::slips::{Expected, Slip};

pub use super::search_end::SuspectsError;

/// What disagrees with its neighbours.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Suspects {
    /// Single readings, in the order of their points.
    pub misprints: Vec<Misprint>,
    /// Hollows and bulges, and where none can be told.
    pub dents: Dents,
    /// Standard deviation of a reading of middling tolerance about the surface of the others, mm.
    pub sigma: f64,
    /// How well all other readings foretell each point, likely misprints without a say.
    pub foretold: Vec<Foretold>,
}

/// A point as all other readings foretell it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Foretold {
    /// The point.
    pub point: PointId,
    /// How far its reading lies off along the section's normal, mm, over zero outside.
    pub off: f64,
    /// The standard deviation of that, or where the surfaces that were tried lie further apart that of theirs, mm.
    pub sd: f64,
    /// Whether it is of a first or last station, to which the others only carry on.
    pub at_end: bool,
}

/// A skin is known where it is foretold to so many times the spread of readings, or to this share of what a reading lies off.
const KNOWN: (f64, f64) = (4.0, 0.25);

impl Suspects {
    /// Whether a point is among the readings in doubt.
    #[must_use]
    pub fn has(&self, point: PointId) -> bool {
        let mut dents = self.dents.found.iter();
        self.misprints
            .iter()
            .any(|misprint| misprint.point == point)
            || dents.any(|dent| dent.points.contains(&point))
    }

    /// Whether all others say how the skin runs at a point, so that a distance there hangs on no extrapolation.
    #[must_use]
    pub fn is_known(&self, point: PointId) -> bool {
        let of = self.foretold.iter().find(|of| of.point == point);
        let (by_spread, by_off) = KNOWN;
        of.is_some_and(|of| {
            let least = (by_spread * self.sigma).max(by_off * of.off.abs());
            !of.at_end && of.sd <= least
        })
    }
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
    pub expected: Option<Expected>,
    /// Distance from the surface of the others along the section's normal, by its own standard deviation.
    pub t: f64,
    /// The slips of the pen that explain it, the likeliest first; none: nothing simple does.
    pub slips: Vec<Slip>,
}

impl Misprint {
    /// Half-breadth (or the distance along a diagonal) and height that its reading is to say where a slip explains it; none
    /// where that stays.
    #[must_use]
    pub fn put_right(&self, slip: &Slip) -> [Option<f64>; 2] {
        if self.height {
            [None, Some(slip.mm)]
        } else {
            [Some(slip.mm), slip.height_too]
        }
    }
}

/// Stiffness of lines as drawn where readings are good to 1 mm; less stiff where they are better, down to this by what the
/// chosen stiffness is of the stiffest: a surface that meets every reading foretells none.
pub(super) const AS_DRAWN: f64 = 1.0;

/// A reading is suspect from so many of its standard deviations on.
const SUSPECT: f64 = 4.0;

/// Least standard deviation of a reading, by its tolerance: a figure rounded to a tolerance either way is out by 0.58 of it
/// at most on average, and who states a tolerance has rarely used up half of that.
const LEAST_SIGMA: f64 = 0.25;

/// No misprint is less than this along the section's normal, mm: so far beyond what the loft is good to hardly a place of it lies
/// off by itself.
pub(super) const LEAST_MISPRINT: f64 = 2.5 * num::LOFT_ERROR;

/// Most points that are left out for a body to have a loft.
const LEFT_OUT: usize = 8;

/// Longest search, in rounds: each flags a reading at least.
pub(super) const ROUNDS: usize = 40;

/// Finds the readings that disagree with their neighbours.
///
/// `unit` is what figures without one were typed in, for the slips that would explain them; `stop` is asked between rounds.
///
/// # Errors
/// [`SuspectsError`]: the lines have no loft, or `stop` said so.
///
/// # Accuracy
/// In 899 made bodies with shoulders and narrow tails, read to 0.4 to 0.9 mm, of three ranges of seeds that nothing was
/// tuned on: of 9 mm 97 to 99 % were found over all places, all but one between the end stations and four fifths at a first
/// or last one; of an eighth of an inch 64 to 73 %, that is 70 to 82 % between the end stations and 20 to 37 % at
/// them; with half a false suspect in twenty bodies. On exact tables of hulls 9 mm was found everywhere but at a first
/// station, a tight bilge, and a sharp skeg at the last stations. What the section of the others puts within the reading's own
/// tolerance is no misprint. Of four stations or fewer the others foretell little, and only what is off by far more than they
/// are uncertain is one. A hollow that reaches the first or last station is not judged.
///
/// # Source
/// Studentised leave-one-out residuals: Belsley, Kuh and Welsch, *Regression Diagnostics*, 1980; bisquare weights: Beaton
/// and Tukey, *Technometrics* 16 (1974).
pub fn find(
    body: &Arc<Body>,
    unit: LengthUnit,
    stop: &dyn Fn() -> bool,
) -> Result<Suspects, SuspectsError> {
    search(body, unit, true, stop)
}

/// Finds the readings that disagree with their neighbours one by one, and looks for no dents, which takes most of the time.
/// What turns out to lie in a dent is among them.
///
/// # Errors
/// As [`find`].
pub fn find_misprints(
    body: &Arc<Body>,
    unit: LengthUnit,
    stop: &dyn Fn() -> bool,
) -> Result<Suspects, SuspectsError> {
    search(body, unit, false, stop)
}

fn search(
    body: &Arc<Body>,
    unit: LengthUnit,
    for_dents: bool,
    stop: &dyn Fn() -> bool,
) -> Result<Suspects, SuspectsError> {
    let (loft, apart) = loft_without(body)?;
    match search_lofted((body, unit), (&loft, &apart), for_dents, stop) {
        // There is a loft, but so few readings that those beside one do not fix a surface: they foretell nothing.
        Err(SuspectsError::Loft(LoftError::NotFixed)) => Ok(Suspects::default()),
        found => found,
    }
}

/// The search, once there is a loft.
fn search_lofted(
    (body, unit): (&Arc<Body>, LengthUnit),
    (loft, apart): (&Loft, &[PointId]),
    for_dents: bool,
    stop: &dyn Fn() -> bool,
) -> Result<Suspects, SuspectsError> {
    let offsets = loft.offsets_of(body); // those apart among them
    let mut search = Search::of((body, unit), (loft, apart), &offsets, stop)?;
    let sure = search.misprinted()?;
    let foretold = search.foretold();
    let suspected: Vec<Suspect> = { sure.iter() }
        .map(|i| Suspect {
            reading: *i,
            side: search.prediction.off[*i].signum(),
        })
        .collect();
    let foretell = |out: &[bool]| {
        let mut weights = search.weights.clone();
        for (weight, out) in weights.iter_mut().zip(out) {
            *weight *= if *out { NO_SAY } else { 1.0 };
        }
        search.foretell_by(&weights)
    };
    let ground = DentSearch::of(body, &offsets, &search.apart, &foretell, stop);
    let mut dents = if for_dents {
        look(&ground, &suspected)?
    } else {
        Dents::default()
    };
    let within = |i: &usize| {
        let point = search.offset(*i).point;
        dents.found.iter().any(|dent| dent.points.contains(&point))
    };
    let sure: Vec<usize> = sure.into_iter().filter(|i| !within(i)).collect();
    search.choose_stiffness()?;
    search.flag()?;
    let mut misprints = search.misprints(&sure)?;
    // What a person keeps as true is in doubt no longer, nor is a dent that the lines overrule.
    misprints.retain(|misprint| !is_kept(body, misprint.point, misprint.reading));
    let overruled = |id: &PointId| {
        let mut of = offsets.iter().flatten().filter(|o| o.point == *id);
        of.any(|offset| offset.past().is_some())
    };
    dents.found.retain(|dent| {
        !dent
            .points
            .iter()
            .all(|id| body.keeps(*id) || overruled(id))
    });
    Ok(Suspects {
        misprints,
        dents,
        sigma: search.prediction.sigma,
        foretold,
    })
}

/// The points of some stations that disagree with all others of a body, none of them left out: what a change may bring anew.
///
/// `sigma`: the spread of its readings, as [`Suspects`] has it of the body before the change, mm.
///
/// # Errors
/// As [`find`].
///
/// # Accuracy
/// As [`find`], but one that hides another keeps it hidden.
pub fn standing_out(
    body: &Arc<Body>,
    unit: LengthUnit,
    (stations, sigma): (&[usize], f64),
    stop: &dyn Fn() -> bool,
) -> Result<Vec<PointId>, SuspectsError> {
    let (loft, apart) = loft_without(body)?;
    let offsets = loft.offsets_of(body);
    let mut search = Search::of((body, unit), (&loft, &apart), &offsets, stop)?;
    let asked = search.at.iter().map(|at| stations.contains(&at.station));
    search.only = Some(Only {
        asked: asked.collect(),
        sigma,
    });
    search.prediction = search.foretell()?;
    let stands_out = |i: &usize| {
        let far = search.offset(*i).tolerance.max(LEAST_MISPRINT);
        search.prediction.t[*i].abs() > SUSPECT && search.prediction.off[*i].abs() > far
    };
    let found = (0..search.at.len()).filter(stands_out);
    let found = found.map(|i| search.offset(i).point);
    Ok(found.chain(apart.iter().copied()).collect())
}

fn is_kept(body: &Body, point: PointId, reading: usize) -> bool {
    let point = body.point(point);
    let reading = point.and_then(|point| point.readings.get(reading));
    reading.is_some_and(|reading| reading.kept)
}

/// The loft, and the points that had to be left out for there to be one: a misprint may be so gross that its section turns
/// back, or that it falls on its neighbour.
fn loft_without(body: &Arc<Body>) -> Result<(Loft, Vec<PointId>), LoftError> {
    let mut rest = Arc::clone(body);
    let mut apart = Vec::new();
    let mut built = Loft::build(&rest);
    for _ in 0..LEFT_OUT {
        let fault = match built {
            Ok(loft) => return Ok((loft, apart)),
            Err(fault @ (LoftError::TurnsBack { .. } | LoftError::EqualPoints { .. })) => fault,
            Err(fault) => return Err(fault),
        };
        let Some(point) = fault.point() else {
            return Err(fault);
        };
        // The one that is named, or a neighbour round the girth, stands in the way: the one without which the body gets
        // furthest, and is lofted at best.
        let mut next = None;
        for id in about_the_girth(&rest, point) {
            let without = without(&rest, &[id]);
            let trial = Loft::build(&without);
            let here = trial.as_ref().err().and_then(LoftError::point);
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

/// A point, then the ones beside it round the girth.
fn about_the_girth(body: &Body, id: PointId) -> Vec<PointId> {
    let offsets = body.offsets();
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

/// One reading's place: its station and its place in the round of it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct OffsetIndex {
    pub(super) station: usize,
    pub(super) place: usize,
}

/// How a bench is laid of offsets, with those that have no say in the girth.
type Lay = fn(&Body, &[Vec<Offset>], &[PointId]) -> Result<Bench, LoftError>;

/// The search for what disagrees, with what is known of it so far.
pub(super) struct Search<'a> {
    pub(super) body: &'a Body,
    pub(super) unit: LengthUnit,
    pub(super) loft: &'a Loft,
    pub(super) offsets: &'a [Vec<Offset>],
    pub(super) stop: &'a dyn Fn() -> bool,
    pub(super) at: Vec<OffsetIndex>,
    /// 1/tolerance², 1 on average.
    pub(super) weights: Vec<f64>,
    /// No less than this is the spread of readings.
    pub(super) least_sigma: f64,
    /// Stiffness of the loft against these weights, at most [`AS_DRAWN`].
    pub(super) lofted: f64,
    /// The same, but not so slack that it foretells nothing.
    pub(super) as_drawn: f64,
    pub(super) stiffness: f64,
    pub(super) flagged: Vec<bool>,
    /// Those without which alone there is a loft: they never have a say in the girth.
    pub(super) apart: Vec<bool>,
    pub(super) study: Study,
    pub(super) prediction: Prediction,
    /// The readings that are foretold, where it is not all.
    only: Option<Only>,
}

/// All readings against one robust fit.
#[derive(Clone, Debug, Default)]
pub(super) struct Study {
    /// Where each lies, `u` and `v`.
    pub(super) places: Vec<[f64; 2]>,
    /// Distances from the surface of the others, by their standard deviations.
    pub(super) t: Vec<f64>,
    pub(super) sigma: f64,
    /// Weights with which it ended.
    pub(super) weights: Vec<f64>,
}

impl<'a> Search<'a> {
    fn of(
        (body, unit): (&'a Body, LengthUnit),
        (loft, apart): (&'a Loft, &[PointId]),
        offsets: &'a [Vec<Offset>],
        stop: &'a dyn Fn() -> bool,
    ) -> Result<Self, SuspectsError> {
        let at: Vec<OffsetIndex> = offsets
            .iter()
            .enumerate()
            .flat_map(|(station, round)| {
                (0..round.len()).map(move |place| OffsetIndex { station, place })
            })
            .collect();
        let mut weights: Vec<f64> = offsets
            .iter()
            .flatten()
            .map(|offset| firmness(offset.tolerance))
            .collect();
        let mean = weights.iter().sum::<f64>() / weights.len().max(1) as f64;
        for weight in &mut weights {
            *weight /= mean;
        }
        let points = offsets.iter().flatten().map(|offset| offset.point);
        let apart: Vec<bool> = points.map(|point| apart.contains(&point)).collect();
        Ok(Self {
            body,
            unit,
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
            prediction: Prediction::default(),
            only: None,
        })
    }

    pub(super) fn asked_to_stop(&self) -> Result<(), SuspectsError> {
        if (self.stop)() {
            Err(SuspectsError::Stopped)
        } else {
            Ok(())
        }
    }

    pub(super) fn offset(&self, i: usize) -> &Offset {
        &self.offsets[self.at[i].station][self.at[i].place]
    }

    pub(super) fn bench(&self) -> Result<Bench, LoftError> {
        self.laid(Bench::lay)
    }

    /// A bench on which what is flagged has no say in the girth. Where the rest is no section of its own, only that is left
    /// out without which there is a loft.
    fn laid(&self, lay: Lay) -> Result<Bench, LoftError> {
        let without = |is_out: &dyn Fn(usize) -> bool| {
            let out = (0..self.at.len()).filter(|i| is_out(*i));
            let out: Vec<PointId> = out.map(|i| self.offset(i).point).collect();
            lay(self.body, self.offsets, &out)
        };
        match without(&|i| self.flagged[i] || self.apart[i]) {
            Err(_) => without(&|i| self.apart[i]),
            laid => laid,
        }
    }

    /// How far each reading lies off a fit.
    pub(super) fn residuals(&self, fit: &BenchFit, places: &[[f64; 2]]) -> Vec<Residual> {
        let offsets = self.offsets.iter().flatten();
        offsets
            .zip(places)
            .map(|(offset, at)| Residual::of(offset, fit, *at))
            .collect()
    }

    /// The readings as they are held against each other.
    pub(super) fn readings(&self) -> Readings<'a> {
        let used = stations_shown(self.offsets);
        let rank = |at: &OffsetIndex| used.partition_point(|station| *station < at.station);
        Readings {
            offsets: self.offsets.iter().flatten().collect(),
            ranks: self.at.iter().map(rank).collect(),
            nominal: self.weights.clone(),
            least_sigma: self.least_sigma,
            only: self.only.clone(),
        }
    }

    /// The weights, those that are flagged without a say.
    pub(super) fn without_flagged(&self) -> Vec<f64> {
        let flagged = self.weights.iter().zip(&self.flagged);
        flagged
            .map(|(weight, flagged)| if *flagged { weight * NO_SAY } else { *weight })
            .collect()
    }

    /// What the others foretell of each reading while those that are flagged have no say.
    fn foretell(&self) -> Result<Prediction, SuspectsError> {
        let weights = self.without_flagged();
        self.foretell_by(&weights)
    }

    /// The same at these weights.
    pub(super) fn foretell_by(&self, weights: &[f64]) -> Result<Prediction, SuspectsError> {
        let mut bench = self.laid(Bench::lay_evened)?;
        let found = self.readings().prediction(&mut bench, weights, self.stop)?;
        found.ok_or(SuspectsError::Stopped)
    }

    /// Each point as the others foretell it.
    fn foretold(&self) -> Vec<Foretold> {
        let ranks = self.readings().ranks;
        let last = ranks.iter().copied().max().unwrap_or(0);
        let of = &self.prediction;
        let one = |i: usize| Foretold {
            point: self.offset(i).point,
            off: of.off[i],
            sd: of.sd[i].max(of.apart[i]),
            at_end: ranks[i] == 0 || ranks[i] == last,
        };
        (0..self.at.len()).map(one).collect()
    }

    /// The readings not flagged that stand out, by more than all those about them.
    fn worst(&self) -> Vec<usize> {
        let t = |i: usize| self.prediction.t[i].abs();
        let stands_out = |i: &usize| {
            let mut about = self.prediction.about[*i].iter();
            let most = about.all(|(j, _)| self.flagged[*j] || t(*j) <= t(*i));
            !self.flagged[*i] && t(*i) > SUSPECT && most
        };
        (0..self.at.len()).filter(stands_out).collect()
    }

    /// The single readings that stand out, the worst about each place first: with it left out, its neighbours may fit.
    ///
    /// What was left out for the body to have a loft begins so, and comes back in where it fits.
    fn misprinted(&mut self) -> Result<Vec<usize>, SuspectsError> {
        for _ in 0..ROUNDS {
            self.prediction = self.foretell()?;
            let worst = self.worst();
            if worst.is_empty() {
                break;
            }
            for i in worst {
                self.flagged[i] = true;
            }
        }
        let sure = |i: &usize| {
            let offset = self.offset(*i);
            let far = self.prediction.off[*i].abs() > offset.tolerance.max(LEAST_MISPRINT);
            self.flagged[*i] && far && self.prediction.t[*i].abs() > SUSPECT
        };
        Ok((0..self.at.len()).filter(sure).collect())
    }
}
