//! A change of readings, tried to its end before it is offered: lofted anew and held against the lines as they stand.
//!
//! In: the lines as they stand with all verdicts, and their body with some readings put right or set aside. Out: what comes
//! of the lines through those points and of their sections, or what the change [`Spoils`].

use std::sync::Arc;

use super::needs::{Needs, TriedLines};
use super::section::{SectionVerdict, judge_section};
use super::side_effects::moves;
use super::suspects::{LEAST_MISPRINT, Suspects};
use super::verdict::{Fairness, NotJudged, Stopped, Verdict};
use crate::document::{Body, Offset, On, PointId, StationId};
use crate::loft::Loft;

/// A line that stays unfair comes out worse where it needs so much more than it did, mm.
const MORE: f64 = 0.1;

/// Stations to either side of a changed reading at which other readings are held against the skin.
const NEAR: usize = 2;

/// A section that stays unfair is better where it comes down to this share of what it needed.
pub const BETTER: f64 = 0.8;

/// Lines as they stand, for a change to be held against.
#[derive(Clone, Copy, Debug)]
pub struct StandingLines<'a> {
    /// Their loft.
    pub loft: &'a Loft,
    /// Of each line, the verdict on every value of it that is judged.
    pub lines: &'a [(On, Vec<Verdict>)],
    /// The verdict on each station's section.
    pub sections: &'a [SectionVerdict],
    /// Which readings are in doubt already.
    pub suspects: &'a Suspects,
}

/// What a change leaves worse than it is, or brings anew.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Spoils {
    /// The rest has no loft.
    NoLoft,
    /// A line is then unfair, or more so, or no longer judged.
    Line(On),
    /// A section is.
    Section(StationId),
    /// A reading beside it then lies past its tolerance.
    Reading(PointId),
}

/// What comes of a change that spoils nothing.
#[derive(Clone, Debug)]
pub struct ChangeTrial {
    /// The loft of it.
    pub then: Loft,
    /// The lines through the changed points, then the others that it makes fair: as they stand and as they come out.
    pub lines: Vec<[Needs; 2]>,
    /// The sections of the changed points, likewise.
    pub sections: Vec<[SectionVerdict; 2]>,
}

/// Tries a change of some points' readings; `then` is the body with it done, `tried` the lines that trials judged before.
///
/// A line or section that stays, or comes, within what its readings allow is not worse, whatever it needs.
///
/// # Errors
/// [`Stopped`], where `stop` says so.
///
/// # Accuracy
/// As [`TriedLines`]. A line of which nothing moves by 0.1 mm, and that no changed point lies on, is not judged.
pub fn try_change(
    standing: &StandingLines<'_>,
    (then, points): (&Arc<Body>, &[PointId]),
    tried: &TriedLines,
    stop: &dyn Fn() -> bool,
) -> Result<Result<ChangeTrial, Spoils>, Stopped> {
    let (loft, body) = (standing.loft, standing.loft.body());
    let Ok(after) = Loft::build(then) else {
        return Ok(Err(Spoils::NoLoft));
    };
    let changed = points.iter().filter_map(|id| body.point(*id));
    let changed: Vec<(On, StationId)> = changed.map(|p| (p.on, p.station)).collect();
    if let Some(reading) = newly_off(standing, &after, points, &changed) {
        return Ok(Err(Spoils::Reading(reading)));
    }
    let mut sections = Vec::new();
    for before in standing.sections {
        if !is_near(body, before.station, &changed, 1) {
            continue;
        }
        let is = judge_section(&after, before.station, stop)?;
        if is_section_worse(before, &is) {
            return Ok(Err(Spoils::Section(before.station)));
        }
        if changed
            .iter()
            .any(|(_, station)| *station == before.station)
        {
            sections.push([before.clone(), is]);
        }
    }
    let (mut through, mut freed) = (Vec::new(), Vec::new());
    for (on, before) in standing.lines {
        let own = changed.iter().any(|(changed, _)| changed == on);
        if !own && !moves(*on, loft, &after) {
            continue;
        }
        let before: Vec<Needs> = before.iter().map(Needs::from).collect();
        let ways = tried.needs(&after, *on, stop)?;
        if is_line_worse(&before, &ways) {
            return Ok(Err(Spoils::Line(*on)));
        }
        let both = [before, ways].map(|ways| Needs::worst(*on, &ways));
        let [was, is] = &both;
        if own {
            through.push(both);
        } else if was.fairness == Fairness::Unfair && is.fairness.is_fair() {
            freed.push(both);
        }
    }
    through.extend(freed);
    Ok(Ok(ChangeTrial {
        then: after,
        lines: through,
        sections,
    }))
}

/// Whether a station is, or lies within so many of, one of the changed points.
fn is_near(body: &Body, station: StationId, changed: &[(On, StationId)], within: usize) -> bool {
    let Some(here) = body.station_index(station) else {
        return false;
    };
    let near = |other: StationId| {
        let there = body.station_index(other);
        there.is_some_and(|there| there.abs_diff(here) <= within)
    };
    changed.iter().any(|(_, other)| near(*other))
}

/// A reading beside that lay within its tolerance and then lies past it; not one that is in doubt already.
fn newly_off(
    standing: &StandingLines<'_>,
    after: &Loft,
    points: &[PointId],
    changed: &[(On, StationId)],
) -> Option<PointId> {
    let body = standing.loft.body();
    let offsets = standing.loft.offsets();
    let stations = body.stations.iter().zip(&offsets);
    let near = stations.filter(|(station, _)| is_near(body, station.id, changed, NEAR));
    let mut all = near.flat_map(|(station, round)| round.iter().map(|o| (station.x, o)));
    let is_new = |(x, offset): &(f64, &Offset)| {
        let [was, is] = [standing.loft, after].map(|loft| loft.distance(*x, offset).abs());
        let past = was <= offset.tolerance && is > offset.tolerance;
        let doubted = points.contains(&offset.point) || standing.suspects.has(offset.point);
        past && is - was > LEAST_MISPRINT && !doubted
    };
    all.find(is_new).map(|(_, offset)| offset.point)
}

fn is_line_worse(before: &[Needs], after: &[Needs]) -> bool {
    before.iter().any(|was| {
        let Some((seen, needed)) = was.judged else {
            return false;
        };
        let alike = |is: &&Needs| is.judged.is_some_and(|(of, _)| of == seen);
        let Some(is) = after.iter().find(alike) else {
            // One that has too few readings left is not worse: it says nothing any more.
            let lost = Fairness::NotJudged(NotJudged::NotFound);
            return after.iter().any(|is| is.fairness == lost);
        };
        let needs = is.judged.map_or(0.0, |(_, needed)| needed);
        let more = needs > needed + MORE && is.ratio > was.ratio;
        is.fairness == Fairness::Unfair && (was.fairness != Fairness::Unfair || more)
    })
}

fn is_section_worse(was: &SectionVerdict, is: &SectionVerdict) -> bool {
    let Some(judged) = &was.found else {
        return is.fairness == Fairness::Unfair;
    };
    let needs = is.found.as_ref().map_or(0.0, |found| found.needed);
    let more = needs > judged.needed + MORE && is.ratio() > was.ratio();
    let lost = is.fairness == Fairness::NotJudged(NotJudged::NotFound);
    lost || is.fairness == Fairness::Unfair && (was.fairness != Fairness::Unfair || more)
}
