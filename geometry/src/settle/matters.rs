//! What is to be settled: misprints, hollow sections and contradictions, each with the ways out of it.

use super::{Does, Matter, Subject, WayOut, mm, used_of};
use crate::document::{Contradiction, Lines, PointId, Reading};
use crate::fair::section::SectionVerdict;
use crate::fair::suspects::{Misprint, Suspects};
use crate::fair::verdict::Fairness;
use crate::units::{format_length_with_unit, headed};

/// On the button that keeps what was read.
pub(super) const KEEP: &str = "Keep, it is true";

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
                .dents
                .found
                .iter()
                .any(|dent| dent.points.contains(&id))
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
