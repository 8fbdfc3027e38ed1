//! A change of readings, tried to its end before it is offered: lofted anew and held against the lines as they stand.
//!
//! In: the lines as they stand with all verdicts, and their body with some readings put right or set aside. Out: what comes
//! of the lines through those points and of their sections, or what the change [`Spoils`].

use std::sync::Arc;

use super::needs::{Needs, TriedLines};
use super::section::{SectionVerdict, judge_section};
use super::side_effects::moves;
use super::suspects::{LEAST_MISPRINT, Suspects};
use super::verdict::{Fairness, NotJudged, Ordinate, Stopped, Verdict};
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
    /// A line is then unfair, or more so, or no fair one is found of it. One that has too few readings left is not: it says
    /// nothing any more.
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
/// A line or section that stays, or comes, within what its readings allow is not worse, whatever it needs. A line is held against
/// itself by the turns that it is allowed as it stands: a change that lets it turn once more makes it no fairer.
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
        if is_worse(Compared::of_section(before), Compared::of_section(&is)) {
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
        let allowed = |seen: Ordinate| {
            let mut judged = before.iter().filter_map(|way| way.judged.as_ref());
            let same = judged.find(|judged| judged.seen == seen);
            same.map(|judged| judged.allowed_turns)
        };
        let ways = tried.needs(&after, *on, &allowed, stop)?;
        let before: Vec<Needs> = before.iter().map(Needs::from).collect();
        let mut both = before.iter().zip(&ways);
        if both.any(|(was, is)| is_worse(was.into(), is.into())) {
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

/// A line or a section as it is held against itself.
#[derive(Clone, Copy, Debug)]
struct Compared {
    fairness: Fairness,
    /// What it needs, mm, and that by what its readings allow; none where it is not judged.
    judged: Option<[f64; 2]>,
}

impl Compared {
    fn of_section(verdict: &SectionVerdict) -> Self {
        let needed = verdict.found.as_ref().map(|found| found.needed);
        Self {
            fairness: verdict.fairness,
            judged: needed.map(|needed| [needed, verdict.ratio()]),
        }
    }
}

impl From<&Needs> for Compared {
    fn from(needs: &Needs) -> Self {
        let needed = needs.judged.map(|(_, needed)| needed);
        Self {
            fairness: needs.fairness,
            judged: needed.map(|needed| [needed, needs.ratio]),
        }
    }
}

/// Whether a line or a section comes out worse than it was: where it was judged, unfair though it was not, unfair by more, or so
/// that no fair one is found. What was not judged before does not come out worse by being judged.
fn is_worse(was: Compared, is: Compared) -> bool {
    let Some([needed, ratio]) = was.judged else {
        return false;
    };
    match is.fairness {
        Fairness::Unfair => {
            let by_more = is
                .judged
                .is_none_or(|[needs, more]| needs > needed + MORE && more > ratio);
            was.fairness != Fairness::Unfair || by_more
        }
        Fairness::NotJudged(NotJudged::NotFound) => true,
        Fairness::Fair
        | Fairness::FairWithinReadings
        | Fairness::NotJudged(NotJudged::TooFewReadings) => false,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::document::Lines;
    use crate::fair::verdict::{judge, judge_ways};
    use crate::made::{Table, made, recorded};

    #[test]
    fn what_was_not_judged_does_not_come_out_worse() {
        let of = |fairness, judged| Compared { fairness, judged };
        let fair = of(Fairness::Fair, Some([0.0, 0.0]));
        let unfair = |needs: f64| of(Fairness::Unfair, Some([needs, needs / 1.6]));
        let [lost, few] = [NotJudged::NotFound, NotJudged::TooFewReadings]
            .map(|why| of(Fairness::NotJudged(why), None));
        for (was, is, worse) in [
            (fair, unfair(2.0), true),
            (fair, lost, true),
            (fair, few, false),
            (unfair(2.0), unfair(2.0 + 2.0 * MORE), true),
            (unfair(2.0), unfair(2.0 + 0.5 * MORE), false),
            (unfair(2.0), fair, false),
            (unfair(2.0), lost, true),
            (lost, unfair(2.0), false),
            (few, unfair(2.0), false),
            (lost, lost, false),
        ] {
            assert_eq!(is_worse(was, is), worse, "{was:?} {is:?}");
        }
    }

    /// Ten stations of round sections whose keel rises by what this makes of the share of the length.
    fn with_keel(keel: fn(f64) -> f64) -> Lines {
        let table: Table = (0..10)
            .map(|station| {
                let q = f64::from(station) / 9.0;
                let low = keel(q);
                let round = |t: f64| {
                    let angle = core::f64::consts::PI * t;
                    let half = (900.0 - low) / 2.0;
                    let up = low + half + half * crate::num::cos(angle);
                    [300.0 * crate::num::sin(angle), up]
                };
                let free = (1..8).map(|k| (On::Free, round(f64::from(k) / 8.0)));
                let mut points = vec![(On::Crown, round(0.0))];
                points.extend(free);
                points.push((On::Keel, [0.0, low]));
                (400.0 * f64::from(station), points)
            })
            .collect();
        made(&table, 1.0)
    }

    /// An upsweep that is made to run out level has a cubic with an inflection: by its own turns it would be fair.
    #[test]
    fn a_change_that_lets_a_line_turn_once_more_leaves_it_worse() {
        let lines = with_keel(|q| 100.0 * q * q);
        let loft = Loft::build(&lines.body).unwrap();
        let keel = judge_ways(&loft, On::Keel, None, &|| false).unwrap();
        assert!(keel[0].fairness.is_fair());
        let mut then = lines.clone();
        let other = with_keel(|q| 100.0 * q * q * (3.0 - 2.0 * q));
        for (point, other) in { then.body_mut().points.iter_mut() }.zip(&other.body.points) {
            point.readings.clone_from(&other.readings);
        }
        let after = Loft::build(&then.body).unwrap();
        let by_its_own = judge(&after, On::Keel, None, &|| false).unwrap();
        assert!(by_its_own.fairness.is_fair(), "{:?}", by_its_own.fairness);
        let suspects = Suspects::default();
        let ways = [(On::Keel, keel)];
        let standing = StandingLines {
            loft: &loft,
            lines: &ways,
            sections: &[],
            suspects: &suspects,
        };
        let all: Vec<PointId> = lines.body.points.iter().map(|point| point.id).collect();
        let tried = TriedLines::default();
        let comes = try_change(&standing, (&then.body, &all), &tried, &|| false).unwrap();
        assert_eq!(comes.err(), Some(Spoils::Line(On::Keel)));
        // A keel that keeps its turns is not worse, however far it moves.
        let mut steeper = lines.clone();
        for point in { steeper.body_mut().points.iter_mut() }.filter(|p| p.on == On::Keel) {
            let height = &mut point.readings[0].height;
            *height = height.as_ref().map(|read| recorded(1.02 * read.mm));
        }
        let comes = try_change(&standing, (&steeper.body, &all), &tried, &|| false).unwrap();
        assert_eq!(comes.err(), None);
    }
}
