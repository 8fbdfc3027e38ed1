//! What is to be settled: misprints, dents, hollow sections and contradictions, each with the ways out of it.

use super::{Does, Matter, Subject, WayOut, Wish, mm, named, used_of};
use crate::document::{Contradiction, Lines, On, PointId, Reading, Turns};
use crate::fair::section::SectionVerdict;
use crate::fair::suspects::{Misprint, Patch, Suspects};
use crate::fair::verdict::{Fairness, Verdict};
use crate::loft::{Loft, LoftPoint};
use crate::units::{format_length_with_unit, headed};

/// On the button that keeps what was read.
const KEEP: &str = "Keep, it is true";

/// Likely misprints.
pub(super) fn misprints(lines: &Lines, suspects: &Suspects) -> Vec<Matter> {
    let misprints = suspects.misprints.iter();
    misprints
        .filter_map(|misprint| misprint_matter(lines, misprint))
        .collect()
}

/// A likely misprint, with the value that would fit.
fn misprint_matter(lines: &Lines, misprint: &Misprint) -> Option<Matter> {
    let point = lines.body.point(misprint.point)?;
    let reading = point.readings.get(misprint.reading)?;
    let recorded = if misprint.height {
        reading.height.as_ref()?
    } else {
        reading.half_breadth.as_ref()?
    };
    let put = |place: [Option<f64>; 2], shown: &str| WayOut {
        name: format!("Put {shown}"),
        does: Does::PutRight(misprint.point, misprint.reading, place),
    };
    let mut ways: Vec<WayOut> = { misprint.slips.iter().take(2) }
        .map(|slip| put(misprint.put_right(slip), &slip.typed))
        .collect();
    let says = match (misprint.slips.first(), misprint.expected) {
        (Some(slip), _) => {
            let slipped = headed(&slip.words());
            format!("Neighbours want about {}. {slipped}?", slip.typed)
        }
        (None, Some(expected)) => {
            let shown = format_length_with_unit(expected.mm, lines.about.unit);
            let place = if misprint.height {
                [None, Some(expected.mm)]
            } else {
                [Some(expected.mm), None]
            };
            ways.push(put(place, &shown));
            format!("Neighbours want about {shown}. No simple slip explains it.")
        }
        (None, None) => "It lies far off its neighbours.".to_owned(),
    };
    let reading = vec![(misprint.point, misprint.reading)];
    ways.push(WayOut {
        name: KEEP.to_owned(),
        does: Does::Keep(reading.clone(), Vec::new()),
    });
    ways.push(WayOut {
        name: "Set aside".to_owned(),
        does: Does::SetAside(reading),
    });
    Some(Matter {
        title: format!(
            "{} reads {}",
            lines.body.point_name(misprint.point),
            recorded.typed
        ),
        says,
        subject: Subject::Point(misprint.point),
        misprint: true,
        ways,
    })
}

/// A place at which readings, or lines, lie too far in or out.
struct Dent<'a> {
    from: f64,
    to: f64,
    hollow: bool,
    /// What is unfair there, the worst first.
    lines: Vec<&'a Verdict>,
    patch: Option<&'a Patch>,
}

impl Dent<'_> {
    fn has(&self, at: f64, hollow: bool) -> bool {
        self.hollow == hollow && self.from - 1.0 < at && at < self.to + 1.0
    }
}

/// Patches of readings and unfair lines, those of one place in one row; a line that a misprint makes unfair is left to that.
pub(super) fn dents(
    lines: &Lines,
    loft: Option<&Loft>,
    found: &[Verdict],
    suspects: &Suspects,
) -> Vec<Matter> {
    let by_a_misprint = |verdict: &Verdict, at: f64| {
        suspects.misprints.iter().any(|misprint| {
            let point = lines.body.point(misprint.point);
            point.is_some_and(|point| {
                let there = lines
                    .body
                    .station(point.station)
                    .is_some_and(|s| (s.x - at).abs() < 1.0);
                point.on == verdict.on && there
            })
        })
    };
    let mut dents_there: Vec<Dent<'_>> = suspects
        .patches
        .iter()
        .map(|patch| Dent {
            from: patch.from_x,
            to: patch.to_x,
            hollow: patch.hollow,
            lines: Vec::new(),
            patch: Some(patch),
        })
        .collect();
    for verdict in found
        .iter()
        .filter(|verdict| verdict.fairness == Fairness::Unfair)
    {
        let Some(stretch) = verdict.judged.as_ref().and_then(|judged| judged.stretch) else {
            continue;
        };
        if by_a_misprint(verdict, stretch.at) {
            continue;
        }
        match dents_there
            .iter_mut()
            .find(|dent| dent.has(stretch.at, stretch.hollow))
        {
            Some(dent) => dent.lines.push(verdict),
            None => dents_there.push(Dent {
                from: stretch.from,
                to: stretch.to,
                hollow: stretch.hollow,
                lines: vec![verdict],
                patch: None,
            }),
        }
    }
    // The most pressing first.
    let ratio = |dent: &Dent<'_>| dent.lines.first().map_or(0.0, |line| line.ratio());
    dents_there.sort_by(|a, b| ratio(b).total_cmp(&ratio(a)));
    dents_there
        .iter()
        .filter_map(|dent| dent_matter(lines, loft, dent))
        .collect()
}

fn dent_matter(lines: &Lines, loft: Option<&Loft>, dent: &Dent<'_>) -> Option<Matter> {
    let kind = if dent.hollow { "Hollow" } else { "Hump" };
    let mut says = Vec::new();
    let mut subject = dent.patch.map(|patch| Subject::Point(patch.worst));
    if let Some(worst) = dent.lines.first() {
        let judged = worst.judged.as_ref()?;
        let names = dent
            .lines
            .iter()
            .map(|v| lines.body.line_name(v.on).unwrap_or_default());
        let times = judged.needed / judged.allowed;
        says.push(format!(
            "{}: readings must move {} mm, {times:.1} times their tolerance.",
            headed(&named(&names.collect::<Vec<_>>())),
            mm(judged.needed)
        ));
        let at = judged.stretch?.at;
        let station = lines.body.nearest_station(at)?;
        subject = Some(Subject::at(&lines.body, worst.on, station.id));
    }
    let readings = match dent.patch {
        Some(patch) => {
            says.push(format!(
                "{} readings there, side by side, lie up to {} mm {} the skin that the rest would draw.",
                patch.points.len(),
                mm(patch.largest),
                if dent.hollow { "inside" } else { "outside" }
            ));
            let offsets = lines.body.offsets();
            let past = { offsets.iter().flatten() }
                .filter(|offset| patch.points.contains(&offset.point) && offset.past().is_some());
            match past.count() {
                0 => (),
                1 => says.push("One of them is overruled.".to_owned()),
                many => says.push(format!("{many} of them are overruled.")),
            }
            let about = loft.map_or_else(|| patch.points.clone(), |loft| about(loft, patch));
            used_of(&lines.body, |point| about.contains(&point.id))
        }
        None => {
            let ons: Vec<On> = dent.lines.iter().map(|verdict| verdict.on).collect();
            let within = |id| {
                let station = lines.body.station(id);
                station.is_some_and(|station| (dent.from..=dent.to).contains(&station.x))
            };
            used_of(&lines.body, |point| {
                ons.contains(&point.on) && within(point.station)
            })
        }
    };
    let mut ways = Vec::new();
    if let Some(worst) = dent.lines.first() {
        ways.push(WayOut {
            name: "Try a batten".to_owned(),
            does: Does::Propose(Wish::line(worst.on)),
        });
    }
    let own_turns = dent.lines.iter().filter_map(|verdict| {
        let judged = verdict.judged.as_ref()?;
        let turns = Turns {
            inflections: judged.turns.inflections,
            peaks: judged.turns.peaks.max(judged.turns.inflections + 1),
        };
        Some((verdict.on, turns))
    });
    let about = dent.patch.map_or(&[][..], |patch| &patch.points);
    let suspected = used_of(&lines.body, |point| about.contains(&point.id));
    ways.push(WayOut {
        name: KEEP.to_owned(),
        does: Does::Keep(suspected, own_turns.collect()),
    });
    ways.push(WayOut {
        name: if readings.len() == 1 {
            "Set it aside"
        } else {
            "Set these aside"
        }
        .to_owned(),
        does: Does::SetAside(readings),
    });
    Some(Matter {
        title: format!("{kind}, {}", lines.body.stretch_name(dent.from, dent.to)),
        says: says.join(" "),
        subject: subject?,
        misprint: false,
        ways,
    })
}

/// All points about a patch: of its stations, in the part of the girth between the run lines on either side of it. Those
/// that are not suspect themselves lie on its slope.
fn about(loft: &Loft, patch: &Patch) -> Vec<PointId> {
    let lines = loft.body();
    let all = || loft.points().iter();
    let Some(worst) = all().find(|at| at.point == patch.worst) else {
        return patch.points.clone();
    };
    let marks = loft.run_lines().iter().map(|(_, v)| *v);
    let from = { marks.clone() }
        .filter(|v| *v <= worst.v)
        .fold(0.0, f64::max);
    let to = marks.filter(|v| *v > worst.v).fold(1.0, f64::min);
    let within = |at: &&LoftPoint| {
        let there = |x: f64| (patch.from_x..=patch.to_x).contains(&x);
        // The run lines themselves belong to both parts and stay.
        let inside = at.v > from && (at.v < to || to >= 1.0) || from <= 0.0 && at.v <= 0.0;
        inside
            && lines
                .station(at.station)
                .is_some_and(|station| there(station.x))
    };
    all().filter(within).map(|at| at.point).collect()
}

/// Sections that are hollow, but for those that a suspected reading makes so, or one that is kept.
pub(super) fn sections(
    lines: &Lines,
    sections: &[SectionVerdict],
    suspects: &Suspects,
) -> Vec<Matter> {
    let suspected = |id: PointId| {
        let alone = suspects
            .misprints
            .iter()
            .any(|misprint| misprint.point == id);
        alone
            || suspects
                .patches
                .iter()
                .any(|patch| patch.points.contains(&id))
    };
    let unfair = sections
        .iter()
        .filter(|verdict| verdict.fairness == Fairness::Unfair);
    let row = |verdict: &SectionVerdict| {
        let found = verdict.found.as_ref()?;
        let stretch = found.stretch?;
        if suspected(stretch.point) || lines.body.keeps(stretch.point) {
            return None;
        }
        let kind = if stretch.hollow { "hollow" } else { "full" };
        let reading = used_of(&lines.body, |point| point.id == stretch.point);
        Some(Matter {
            title: format!("Section at {}", lines.body.station_name(verdict.station)),
            says: format!(
                "It is too {kind} at {}: readings must move {} mm along it, {:.1} times their tolerance.",
                lines.body.point_name(stretch.point),
                mm(found.needed),
                found.needed / found.allowed
            ),
            subject: Subject::Point(stretch.point),
            misprint: false,
            ways: vec![
                WayOut {
                    name: KEEP.to_owned(),
                    does: Does::Keep(reading.clone(), Vec::new()),
                },
                WayOut {
                    name: "Set aside".to_owned(),
                    does: Does::SetAside(reading),
                },
            ],
        })
    };
    unfair.filter_map(row).collect()
}

pub(super) fn contradictions(lines: &Lines) -> Vec<Matter> {
    let found = lines.body.contradictions().into_iter();
    found
        .filter_map(|found| contradiction(lines, &found))
        .collect()
}

/// Two readings that contradict each other; none where a person settled which of them counts, or keeps both.
fn contradiction(lines: &Lines, found: &Contradiction) -> Option<Matter> {
    let point = lines.body.point(found.point)?;
    let [first, second] = found.readings;
    let both = [first, second].map(|number| (number, point.readings.get(number)));
    let both = [(both[0].0, both[0].1?), (both[1].0, both[1].1?)];
    let used = || both.iter().filter(|(_, r)| r.set_aside.is_none());
    if used().all(|(_, reading)| reading.kept) {
        return None;
    }
    let title = |reading: &Reading| {
        let source = lines.body.source(reading.source);
        source.map(|source| source.title.clone())
    };
    let aside = both.iter().find(|(_, r)| r.set_aside.is_some());
    let after = match aside {
        Some((_, reading)) => format!(" {} is set aside.", title(reading)?),
        None => String::new(),
    };
    let mut ways = Vec::new();
    if aside.is_none() {
        for (number, reading) in &both {
            ways.push(WayOut {
                name: format!("Set {} aside", title(reading)?),
                does: Does::SetAside(vec![(found.point, *number)]),
            });
        }
    }
    ways.push(WayOut {
        name: if aside.is_some() {
            "Keep it so"
        } else {
            "Keep both"
        }
        .to_owned(),
        does: Does::Keep(
            used().map(|(number, _)| (found.point, *number)).collect(),
            Vec::new(),
        ),
    });
    ways.push(WayOut {
        name: "Show both".to_owned(),
        does: Does::Show,
    });
    Some(Matter {
        title: lines.body.point_name(found.point),
        says: format!(
            "{} disagrees with {} by {} mm; their tolerances allow {} mm.{after}",
            title(both[1].1)?,
            title(both[0].1)?,
            mm(found.apart),
            mm(found.allowed)
        ),
        subject: Subject::Point(found.point),
        misprint: false,
        ways,
    })
}
