//! Dents as they are to be settled: hollows and bulges that were tried, and unfair lines of which nothing can be told.
//!
//! In: the verdicts on all lines, and what was found of the readings. Out: a [`Matter`] for each place. Readings are offered
//! to be set aside only where that was tried; no distance is said that hangs on an extrapolation.

use super::matters::KEEP;
use super::{Does, Matter, Subject, WayOut, Wish, mm, named, used_of};
use crate::document::{Body, Lines, Turns};
use crate::fair::dents::{CantTell, DentKind, Failed, Found, Reason};
use crate::fair::suspects::Suspects;
use crate::fair::verdict::{Fairness, Stretch, Verdict};
use crate::loft::Loft;
use crate::num;
use crate::units::headed;

/// A place at which readings, or lines, lie too far in or out.
struct DentPlace<'a> {
    from: f64,
    to: f64,
    hollow: bool,
    /// What is unfair there, the worst first.
    lines: Vec<&'a Verdict>,
    found: Option<&'a Found>,
}

impl DentPlace<'_> {
    fn has(&self, stretch: Stretch) -> bool {
        // A stretch lies where a reading is, and a dent ends at stations: to the last bit.
        self.hollow == stretch.hollow && (self.from..=self.to).contains(&stretch.at)
    }
}

/// Whether dents were looked for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Dented {
    NotSought,
    Sought,
}

/// Dents and unfair lines, those of one place in one row; a line that a misprint makes unfair is left to that.
pub(super) fn dents(
    lines: &Lines,
    loft: Option<&Loft>,
    (verdicts, dented): (&[Verdict], Dented),
    suspects: &Suspects,
) -> Vec<Matter> {
    let by_a_misprint = |verdict: &Verdict, at: f64| {
        suspects.misprints.iter().any(|misprint| {
            let point = lines.body.point(misprint.point);
            point.is_some_and(|point| {
                let station = lines.body.station(point.station);
                point.on == verdict.on && station.is_some_and(|s| num::same(s.x, at))
            })
        })
    };
    let mut places: Vec<DentPlace<'_>> = { suspects.dents.found.iter() }
        .map(|found| DentPlace {
            from: found.from_x,
            to: found.to_x,
            hollow: found.kind == DentKind::Hollow,
            lines: Vec::new(),
            found: Some(found),
        })
        .collect();
    let unfair = verdicts.iter().filter(|v| v.fairness == Fairness::Unfair);
    for verdict in unfair {
        let Some(stretch) = verdict.judged.as_ref().and_then(|judged| judged.stretch) else {
            continue;
        };
        if by_a_misprint(verdict, stretch.at) {
            continue;
        }
        match places.iter_mut().find(|place| place.has(stretch)) {
            Some(place) => place.lines.push(verdict),
            None => places.push(DentPlace {
                from: stretch.from,
                to: stretch.to,
                hollow: stretch.hollow,
                lines: vec![verdict],
                found: None,
            }),
        }
    }
    // The most pressing first.
    let ratio = |place: &DentPlace<'_>| place.lines.first().map_or(0.0, |line| line.ratio());
    places.sort_by(|a, b| ratio(b).total_cmp(&ratio(a)));
    let cant_tell = (dented == Dented::Sought).then_some(suspects.dents.cant_tell.as_slice());
    let matter = |place: &DentPlace<'_>| matter(lines, loft, place, cant_tell);
    places.iter().filter_map(matter).collect()
}

fn matter(
    lines: &Lines,
    loft: Option<&Loft>,
    place: &DentPlace<'_>,
    cant_tell: Option<&[CantTell]>,
) -> Option<Matter> {
    let body = &lines.body;
    let mut title = format!(
        "{}, {}",
        if place.hollow { "Hollow" } else { "Bulge" },
        body.stretch_name(place.from, place.to)
    );
    let mut says = Vec::new();
    let mut subject = place.found.map(|found| Subject::Point(found.worst));
    let mut ways = Vec::new();
    if let Some(worst) = place.lines.first() {
        let judged = worst.judged.as_ref()?;
        let names = { place.lines.iter() }.map(|v| body.line_name(v.on).unwrap_or_default());
        says.push(format!(
            "{}: readings must move {} mm, {:.1} times their tolerance.",
            headed(&named(&names.collect::<Vec<_>>())),
            mm(judged.needed),
            judged.needed / judged.allowed
        ));
        let station = body.nearest_station(judged.stretch?.at)?;
        subject = Some(Subject::at(body, worst.on, station.id));
        let batten = Does::Propose(Wish::line(worst.on));
        ways.push(WayOut::plain("Try a batten", batten));
    }
    if let Some(found) = place.found {
        if let Some(part) = loft.and_then(|loft| part_of_the_girth(loft, found)) {
            title = format!("{title}, {part}");
        }
        says.extend(found_words(body, found));
    } else {
        says.push(cant_tell.map_or_else(
            || "Whether readings side by side lie off there is looked for.".to_owned(),
            |cant_tell| reason_words(body, place, cant_tell),
        ));
    }
    let own_turns = place.lines.iter().filter_map(|verdict| {
        let judged = verdict.judged.as_ref()?;
        let turns = Turns {
            inflections: judged.turns.inflections,
            peaks: judged.turns.peaks.max(judged.turns.inflections + 1),
        };
        Some((verdict.on, turns))
    });
    let points = place.found.map_or(&[][..], |found| &found.points);
    let readings = used_of(body, |point| points.contains(&point.id));
    let keep = Does::Keep(readings.clone(), own_turns.collect());
    ways.push(WayOut::plain(KEEP, keep));
    // What was tried is the advice, and comes first.
    if !readings.is_empty() {
        let aside = WayOut {
            name: format!("Set these {} aside", readings.len()),
            does: Does::SetAside(readings),
            comes: place
                .found
                .map_or_else(String::new, |found| comes_out(body, found)),
        };
        ways.insert(0, aside);
    }
    Some(Matter {
        title,
        says: says.join(" "),
        subject: subject?,
        misprint: false,
        ways,
    })
}

/// How its readings lie.
fn found_words(body: &Body, found: &Found) -> Vec<String> {
    let mut says = vec![format!(
        "{} readings side by side lie up to {} mm {} the skin that all others draw.",
        found.points.len(),
        mm(found.largest),
        match found.kind {
            DentKind::Hollow => "inside",
            DentKind::Bulge => "outside",
        }
    )];
    let offsets = body.offsets();
    let past = { offsets.iter().flatten() }
        .filter(|offset| found.points.contains(&offset.point) && offset.past().is_some());
    match past.count() {
        0 => (),
        1 => says.push("One of them is overruled.".to_owned()),
        many => says.push(format!("{many} of them are overruled.")),
    }
    says
}

/// What came of setting a dent's readings aside on trial.
fn comes_out(body: &Body, found: &Found) -> String {
    let helped = found
        .lines
        .iter()
        .filter(|line| line.before > 1.0 && line.after <= 1.0);
    let helped: Vec<String> = helped.filter_map(|line| body.line_name(line.on)).collect();
    let known = format!(
        "the skin there is known to ± {} mm, two standard deviations",
        mm(2.0 * found.sd)
    );
    if helped.is_empty() {
        return format!("without them {known}");
    }
    let runs = if helped.len() == 1 { "runs" } else { "run" };
    let names = named(&helped);
    format!("{names} then {runs} fair as far as readings allow; {known}")
}

/// Why nothing can be told of an unfair line.
fn reason_words(body: &Body, place: &DentPlace<'_>, cant_tell: &[CantTell]) -> String {
    let there = |c: &&CantTell| c.from_x <= place.to && place.from <= c.to_x;
    let kind = if place.hollow {
        DentKind::Hollow
    } else {
        DentKind::Bulge
    };
    match cant_tell.iter().find(there) {
        None if body.law.is_some() => "The readings of a body given by law are not searched for what lies off side by side: a batten, or keep them.".to_owned(),
        None => "No readings side by side stand out there, so that none are to be set aside: a batten, or keep them.".to_owned(),
        Some(untold) => untold_words(body, untold.reason, Some(kind)),
    }
}

/// Why nothing can be told of a place at which readings lie off side by side, in sentences; by which way they lie, where that is
/// known.
#[must_use]
pub fn untold_words(body: &Body, reason: Reason, kind: Option<DentKind>) -> String {
    let [these, those] = match kind {
        Some(DentKind::Hollow) => ["inside", "outside"],
        Some(DentKind::Bulge) => ["outside", "inside"],
        None => ["off on one side", "off on the other"],
    };
    match reason {
        Reason::NotKnown => {
            "Without the readings there nothing else says how the lines run, so no advice: a second source, a batten, or keep \
             them."
                .to_owned()
        }
        Reason::TooMany => "There are more readings than are searched for dents.".to_owned(),
        Reason::BluntEnd => {
            "The body runs out blunt there, and between stations so far apart no line follows such an end: what lies off says \
             nothing of the metal, so no advice. Readings at stations nearer together would tell."
                .to_owned()
        }
        Reason::OneOrTheOther => format!(
            "Either these lie {these} or those beside them lie {those}: the readings can't say which."
        ),
        Reason::OneStation => {
            "They lie off at one station alone: the skin may be dented there, as sharp as that, or the station read wrong; the \
             readings can't say which. A second source, a batten, or keep them."
                .to_owned()
        }
        Reason::Tried(failed) => {
            let leaves = match failed {
                Failed::StaysUnfair(on) => {
                    let name = body.line_name(on).unwrap_or_default();
                    format!("leaves {name} unfair")
                }
                Failed::OtherSide => "leaves some of them on the other side".to_owned(),
                Failed::WithinTolerance => "leaves most of them where they are".to_owned(),
                Failed::NotSettled => "leaves the skin there to how stiff a sheet it is drawn as".to_owned(),
                Failed::NoLoft => "leaves no body".to_owned(),
            };
            format!("Setting readings there aside was tried and {leaves}; nothing is offered.")
        }
    }
}

/// Between which run lines all of a dent lies, in words; none where there are none, or it lies across.
fn part_of_the_girth(loft: &Loft, found: &Found) -> Option<String> {
    let places = || {
        let points = loft.points().iter();
        points
            .filter(|at| found.points.contains(&at.point))
            .map(|at| at.v)
    };
    let least = places().fold(f64::INFINITY, f64::min);
    let most = places().fold(0.0, f64::max);
    let name = |id| loft.body().run_line(id).map(|line| line.name.clone());
    let lines = loft.run_lines();
    let above = lines.iter().rev().find(|(_, v)| *v > 0.0 && *v < least);
    let below = lines.iter().find(|(_, v)| *v > most && *v < 1.0);
    if lines
        .iter()
        .any(|(_, v)| *v > 0.0 && *v < 1.0 && (least..=most).contains(v))
    {
        return None;
    }
    match (above, below) {
        (Some((id, _)), None) => Some(format!("below the {}", name(*id)?)),
        (None, Some((id, _))) => Some(format!("above the {}", name(*id)?)),
        (Some((a, _)), Some((b, _))) => Some(format!("between {} and {}", name(*a)?, name(*b)?)),
        (None, None) => None,
    }
}
