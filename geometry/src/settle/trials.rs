//! Each way out tried before it is offered, with what comes of it in words.
//!
//! In: the lines with all verdicts, and what a way would do. Out: a sentence; or none where it leaves something worse, brings
//! something anew, or where that is not known: then it is not offered. No distance is said that hangs on an extrapolation.

use std::cell::Cell;
use std::sync::Arc;

use super::{Does, Subject, WayOut, mm, named};
use crate::compare::moved_at;
use crate::document::{Body, Lines, On, PointId};
use crate::fair::needs::{Needs, TriedLines};
use crate::fair::section::SectionVerdict;
use crate::fair::suspects::{Misprint, Suspects, SuspectsError, standing_out};
use crate::fair::trial::{ChangeTrial, Spoils, StandingLines, try_change};
use crate::fair::verdict::Fairness;
use crate::loft::Loft;
use crate::num;
use crate::units::Message;

/// Rows of which the ways are tried; what is listed after them waits until these are settled.
const TRIED: usize = 12;

/// Lines that are named of what comes out.
const NAMED: usize = 3;

/// A move of the skin that is worth saying, mm.
const SAID: f64 = 0.05;

/// Stations beside a reading that is put right, and round the girth, at which another may then stand out because of it.
const BESIDE: usize = 2;

/// What would tell, where no way out can be offered.
pub(super) const WOULD_TELL: &str =
    "another source would tell, or that place measured on a part that is left.";

/// What a row says whose turn to be tried has not come.
pub(super) const LATER: &str = "What would mend it is tried once the rows above are settled.";

/// Why setting aside is done on trial.
const ON_TRIAL: &str = "on trial";

/// Why a way out is not offered.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum NotOffered {
    /// It leaves something worse than it is.
    Spoils(Spoils),
    /// Other readings would newly stand out because of it.
    Anew,
    /// What it is to mend stays as it is.
    NoBetter,
}

impl NotOffered {
    /// In words that go on from the name of its way.
    fn words(self, body: &Body) -> String {
        let line = |on: On| body.line_name(on).unwrap_or_else(|| "a line".to_owned());
        match self {
            Self::Spoils(Spoils::NoLoft) => "leaves no loft".to_owned(),
            Self::Spoils(Spoils::Line(on)) => format!("leaves {} worse", line(on)),
            Self::Spoils(Spoils::Section(station)) => {
                format!("leaves the section at {} worse", body.station_name(station))
            }
            Self::Spoils(Spoils::Reading(point)) => {
                format!("leaves {} past its tolerance", body.point_name(point))
            }
            Self::Anew => "makes readings beside it stand out".to_owned(),
            Self::NoBetter => "leaves it no better".to_owned(),
        }
    }
}

/// What a row says of whose ways each was tried and refused.
pub(super) fn refused_words(body: &Body, refused: &[(String, NotOffered)]) -> String {
    let each = refused.iter();
    let each = each.map(|(name, why)| format!("“{name}” {}", why.words(body)));
    let tried = each.collect::<Vec<_>>().join("; ");
    format!("Tried: {tried}. So the readings alone can't tell: {WOULD_TELL}")
}

/// Ways that are tried.
pub(super) struct Trials<'a> {
    lines: &'a Lines,
    suspects: &'a Suspects,
    /// None where there is no loft as yet.
    standing: Option<StandingLines<'a>>,
    /// The lines that were judged on trial.
    tried: TriedLines,
    /// Where readings would newly stand out if each misprint were put right by its likeliest slip, by their stations.
    anew: Vec<usize>,
    /// How many rows may still be tried.
    left: Cell<usize>,
}

impl<'a> Trials<'a> {
    /// Against lines as they stand; of the lines that trials judged of the body before, those that run as they did are not
    /// judged anew.
    ///
    /// # Errors
    /// A sentence.
    pub(super) fn of(
        lines: &'a Lines,
        suspects: &'a Suspects,
        standing: Option<StandingLines<'a>>,
        before: &TriedLines,
    ) -> Result<Self, String> {
        let anew = match standing {
            Some(_) => newly_standing_out(lines, suspects)?,
            None => Vec::new(),
        };
        Ok(Self {
            lines,
            suspects,
            standing,
            tried: before.next_round(),
            anew,
            left: Cell::new(TRIED),
        })
    }

    /// The lines that were judged on trial.
    pub(super) fn into_tried(self) -> TriedLines {
        self.tried
    }

    /// Whether one more row may be tried.
    pub(super) fn next(&self) -> bool {
        let left = self.left.get();
        self.left.set(left.saturating_sub(1));
        left > 0
    }

    /// Whether there is a loft to hold a change against.
    pub(super) fn lofted(&self) -> bool {
        self.standing.is_some()
    }

    /// Whether all others say how the skin runs at a point.
    pub(super) fn is_known(&self, point: PointId) -> bool {
        self.suspects.is_known(point)
    }

    /// Whether a point is one of those side by side of which nothing can be told.
    pub(super) fn is_untold(&self, point: PointId) -> bool {
        self.suspects.dents.is_untold(point)
    }

    /// A way out of a point's, where that was tried and spoils nothing; else why it is not offered.
    ///
    /// # Errors
    /// A sentence.
    pub(super) fn tried(
        &self,
        point: PointId,
        name: String,
        does: Does,
    ) -> Result<Result<WayOut, (String, NotOffered)>, String> {
        self.tried_where(point, name, does, &|_| true)
    }

    /// The same, where what comes of it is as it should be, as far as there is a loft to tell.
    ///
    /// # Errors
    /// A sentence.
    pub(super) fn tried_where(
        &self,
        point: PointId,
        name: String,
        does: Does,
        helps: &dyn Fn(&ChangeTrial) -> bool,
    ) -> Result<Result<WayOut, (String, NotOffered)>, String> {
        let comes = match self.standing {
            Some(_) if matches!(does, Does::PutRight(..)) && self.brings_anew(point) => {
                Err(NotOffered::Anew)
            }
            Some(standing) => match self.change(&standing, &does, point)? {
                Ok(trial) if helps(&trial) => Ok(self.words(&trial, &does, point)),
                Ok(_) => Err(NotOffered::NoBetter),
                Err(spoils) => Err(NotOffered::Spoils(spoils)),
            },
            None => self
                .gives_a_loft(&does, point)
                .ok_or(NotOffered::Spoils(Spoils::NoLoft)),
        };
        Ok(match comes {
            Ok(comes) => Ok(WayOut { name, does, comes }),
            Err(why) => Err((name, why)),
        })
    }

    /// The body with a way taken; none where that is refused.
    fn body_with(&self, does: &Does, point: PointId) -> Option<Arc<Body>> {
        let edit = does.edit(self.lines, Subject::Point(point), ON_TRIAL)?;
        let lines = self.lines.apply(edit).ok()?;
        Some(lines.body)
    }

    /// What comes of a way, or what it spoils.
    fn change(
        &self,
        standing: &StandingLines<'_>,
        does: &Does,
        point: PointId,
    ) -> Result<Result<ChangeTrial, Spoils>, String> {
        let Some(body) = self.body_with(does, point) else {
            return Ok(Err(Spoils::NoLoft));
        };
        let tried = try_change(standing, (&body, &[point]), &self.tried, &|| false);
        tried.map_err(|_stopped| "Stopped.".to_owned())
    }

    /// Whether the body then has a loft, all else that is in doubt set aside; in words.
    fn gives_a_loft(&self, does: &Does, point: PointId) -> Option<String> {
        let body = self.body_with(does, point)?;
        if Loft::build(&body).is_ok() {
            return Some("then there is a loft".to_owned());
        }
        let mut body = Arc::unwrap_or_clone(body);
        let others = |id: &PointId| *id != point && self.suspects.has(*id);
        set_all_aside(&mut body, &others);
        let lofts = Loft::build(&Arc::new(body)).is_ok();
        let says = "then, with the other readings in doubt settled, there is a loft";
        lofts.then(|| says.to_owned())
    }

    fn brings_anew(&self, point: PointId) -> bool {
        let body = &self.lines.body;
        let Some(here) = station_of(body, point) else {
            return false;
        };
        { self.anew.iter() }.any(|there| there.abs_diff(here) <= BESIDE)
    }

    /// What comes of a change, in words that go on from the name of its way.
    fn words(&self, trial: &ChangeTrial, does: &Does, point: PointId) -> String {
        let body = &self.lines.body;
        let lines = trial.lines.iter().filter_map(|both| line_words(body, both));
        let sections = trial.sections.iter().filter_map(section_words);
        let mut says: Vec<String> = lines.chain(sections).collect();
        says.truncate(NAMED);
        let mut comes = if says.is_empty() {
            "then no line or section comes out worse".to_owned()
        } else {
            format!("then {}", named(&says))
        };
        // Where the reading goes and nothing else says how the skin runs, how far it moves is a guess.
        let told = matches!(does, Does::PutRight(..)) || self.is_known(point);
        if let Some(by) = self
            .moved(trial, point)
            .filter(|by| told && by.abs() >= SAID)
        {
            let way = if by < 0.0 { "in" } else { "out" };
            comes += &format!("; the skin there lies {} mm further {way}", mm(by.abs()));
        }
        comes
    }

    fn moved(&self, trial: &ChangeTrial, point: PointId) -> Option<f64> {
        moved_at(self.standing?.loft, &trial.then, point)
    }

    /// How far each of a point's readings lies off the skin that all others draw, mm; none where that is not known.
    pub(super) fn readings_off(&self, point: PointId, readings: &[usize]) -> Option<Vec<f64>> {
        if !self.is_known(point) {
            return None;
        }
        let body = &self.lines.body;
        let x = body.station(body.point(point)?.station)?.x;
        let mut without = Body::clone(body);
        set_all_aside(&mut without, &|id| *id == point);
        let rest = Loft::build(&Arc::new(without)).ok()?;
        let one = |reading: &usize| {
            let mut alone = Body::clone(body);
            let at = alone.points.iter_mut().find(|p| p.id == point)?;
            for (n, other) in at.readings.iter_mut().enumerate() {
                other.set_aside = (n != *reading).then(|| ON_TRIAL.to_owned());
            }
            let offsets = rest.offsets_of(&alone);
            let offset = offsets.iter().flatten().find(|o| o.point == point)?;
            Some(rest.distance(x, offset))
        };
        readings.iter().map(one).collect()
    }
}

/// Sets all readings of some points aside.
fn set_all_aside(body: &mut Body, which: &dyn Fn(&PointId) -> bool) {
    for point in body.points.iter_mut().filter(|point| which(&point.id)) {
        for reading in &mut point.readings {
            reading.set_aside = Some(ON_TRIAL.to_owned());
        }
    }
}

/// The stations beside misprints at which readings stand out that did not, once each misprint says what its likeliest slip makes of it, and what
/// else is in doubt has no say: each taken by itself is held by what its re-loft leaves, all together by this one search.
fn newly_standing_out(lines: &Lines, suspects: &Suspects) -> Result<Vec<usize>, String> {
    let slips = |misprint: &&Misprint| !misprint.slips.is_empty();
    if !suspects.misprints.iter().any(|misprint| slips(&misprint)) {
        return Ok(Vec::new());
    }
    let mut body = Body::clone(&lines.body);
    let stays = |id: &PointId| {
        let mut righted = suspects.misprints.iter().filter(slips);
        righted.any(|misprint| misprint.point == *id)
    };
    set_all_aside(&mut body, &|id| suspects.has(*id) && !stays(id));
    for misprint in suspects.misprints.iter().filter(slips) {
        let Some(slip) = misprint.slips.first() else {
            continue;
        };
        let point = misprint.point;
        let [half_breadth, height] = misprint.put_right(slip);
        let right = Does::PutRight(point, misprint.reading, [half_breadth, height]);
        let edit = right.edit(lines, Subject::Point(point), "");
        let then = edit.and_then(|edit| lines.apply(edit).ok());
        let righted = then.and_then(|then| then.body.point(point).cloned());
        let at = body.points.iter_mut().find(|p| p.id == point);
        if let (Some(at), Some(righted)) = (at, righted) {
            *at = righted;
        }
    }
    let righted = suspects.misprints.iter().filter(slips);
    let at = righted.filter_map(|misprint| station_of(&lines.body, misprint.point));
    let beside = at.flat_map(|at| at.saturating_sub(BESIDE)..=at + BESIDE);
    let beside: Vec<usize> = beside.collect();
    let asked = (beside.as_slice(), suspects.sigma);
    let found = match standing_out(&Arc::new(body), lines.about.unit, asked, &|| false) {
        Ok(found) => found,
        // Together they leave no loft: each is held by itself.
        Err(SuspectsError::Loft(_)) => return Ok(Vec::new()),
        Err(error @ SuspectsError::Stopped) => return Err(error.message(lines.about.unit)),
    };
    let body = &lines.body;
    let new = found.into_iter().filter(|id| !body.keeps(*id));
    Ok(new.filter_map(|id| station_of(body, id)).collect())
}

/// Which of a body's stations a point is of, from 0.
fn station_of(body: &Body, point: PointId) -> Option<usize> {
    body.station_index(body.point(point)?.station)
}

/// How a line comes out; none where it was not judged and is not.
fn line_words(body: &Body, [was, is]: &[Needs; 2]) -> Option<String> {
    let name = body.line_name(is.on).filter(|_| is.on != On::Free)?;
    match is.fairness {
        Fairness::Fair => Some(format!("{name} is fair")),
        Fairness::FairWithinReadings => Some(format!("{name} is fair within readings")),
        Fairness::Unfair => {
            let ((_, was), (_, is)) = (was.judged?, is.judged?);
            Some(if num::same(was, is) {
                format!("{name} still needs {} mm", mm(is))
            } else {
                format!("{name} needs {} mm instead of {}", mm(is), mm(was))
            })
        }
        Fairness::NotJudged(_) => {
            let lost = was.fairness == Fairness::Unfair;
            lost.then(|| format!("{name} has too few readings left to be judged"))
        }
    }
}

/// How a section comes out that was unfair.
fn section_words([was, is]: &[SectionVerdict; 2]) -> Option<String> {
    if was.fairness != Fairness::Unfair {
        return None;
    }
    let needs = |verdict: &SectionVerdict| verdict.found.as_ref().map(|found| found.needed);
    match is.fairness {
        fairness if fairness.is_fair() => Some("the section is fair".to_owned()),
        Fairness::Unfair => {
            let (was, is) = (needs(was)?, needs(is)?);
            Some(format!(
                "the section needs {} mm instead of {}",
                mm(is),
                mm(was)
            ))
        }
        _ => None,
    }
}
