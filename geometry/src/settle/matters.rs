//! What is to be settled: misprints, hollow sections, contradictions, and values against the texts that they were typed as; each
//! with the ways out of it.
//!
//! Each way that changes a reading was tried: see [`Trials`].

use super::trials::{LATER, Trials, WOULD_TELL, refused_words};
use super::{Does, Matter, Subject, WayOut, mm, used_of};
use crate::document::{Contradiction, Lines, Misread, Reading, TypedLength};
use crate::fair::section::SectionVerdict;
use crate::fair::suspects::{Misprint, Suspects};
use crate::fair::trial::{BETTER, ChangeTrial};
use crate::fair::verdict::Fairness;
use crate::units::{format_length_with_unit, headed};

/// On the button that keeps what was read.
pub(super) const KEEP: &str = "Keep, it is true";

/// Likely misprints.
///
/// # Errors
/// A sentence.
pub(super) fn misprints(
    lines: &Lines,
    suspects: &Suspects,
    trials: &Trials<'_>,
) -> Result<Vec<Matter>, String> {
    let misprints = suspects.misprints.iter();
    misprints
        .filter_map(|misprint| misprint_matter(lines, misprint, trials).transpose())
        .collect()
}

/// A likely misprint, with the value that would fit; where a slip explains it, that comes first, else setting it aside.
fn misprint_matter(
    lines: &Lines,
    misprint: &Misprint,
    trials: &Trials<'_>,
) -> Result<Option<Matter>, String> {
    let Some(point) = lines.body.point(misprint.point) else {
        return Ok(None);
    };
    let reading = point.readings.get(misprint.reading);
    let Some(recorded) = reading.and_then(|reading| reading.recorded(misprint.height)) else {
        return Ok(None);
    };
    let put = |place: [Option<f64>; 2], shown: &str| {
        let does = Does::PutRight(misprint.point, misprint.reading, place);
        (format!("Put {shown}"), does)
    };
    // Whether it is one of many that lie off together, the readings cannot tell.
    let untold = trials.is_untold(misprint.point);
    let aside = Does::SetAside(vec![(misprint.point, misprint.reading)]);
    let aside = ("Set aside".to_owned(), aside);
    let mut would: Vec<(String, Does)> = { misprint.slips.iter().take(2) }
        .map(|slip| put(misprint.put_right(slip), &slip.typed))
        .collect();
    would.extend((!untold).then_some(aside));
    let mut says = vec![match (misprint.slips.first(), misprint.expected) {
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
            would.extend((!untold).then(|| put(place, &shown)));
            format!("Neighbours want about {shown}. No simple slip explains it.")
        }
        (None, None) => "It lies far off its neighbours.".to_owned(),
    }];
    let (mut ways, mut refused) = (Vec::new(), Vec::new());
    if untold {
        says.push(ONE_OF_MANY.to_owned());
    }
    let asked = !would.is_empty();
    if asked && trials.next() {
        for (name, does) in would {
            match trials.tried(misprint.point, name, does)? {
                Ok(way) => ways.push(way),
                Err(why) => refused.push(why),
            }
        }
        says.extend(
            ways.is_empty()
                .then(|| refused_words(&lines.body, &refused)),
        );
    } else if asked {
        says.push(LATER.to_owned());
    }
    let keep = Does::Keep(vec![(misprint.point, misprint.reading)], Vec::new());
    ways.push(WayOut::plain(KEEP, keep));
    Ok(Some(Matter {
        title: format!(
            "{} reads {}",
            lines.body.point_name(misprint.point),
            recorded.typed
        ),
        says: says.join(" "),
        subject: Subject::Point(misprint.point),
        misprint: true,
        ways,
    }))
}

/// Sections that are hollow, but for those that a suspected reading makes so, or one that is kept.
///
/// # Errors
/// A sentence.
pub(super) fn sections(
    lines: &Lines,
    sections: &[SectionVerdict],
    suspects: &Suspects,
    trials: &Trials<'_>,
) -> Result<Vec<Matter>, String> {
    let mut matters = Vec::new();
    let unfair = sections.iter();
    for verdict in unfair.filter(|verdict| verdict.fairness == Fairness::Unfair) {
        let Some(found) = &verdict.found else {
            continue;
        };
        let Some(stretch) = found.stretch else {
            continue;
        };
        let point = stretch.point;
        if suspects.has(point) || lines.body.keeps(point) {
            continue;
        }
        let kind = if stretch.hollow { "hollow" } else { "full" };
        let reading = used_of(&lines.body, |of| of.id == point);
        let mut says = vec![format!(
            "It is too {kind} at {}: readings round it must move {} mm in or out, {:.1} times their tolerance.",
            lines.body.point_name(point),
            mm(found.needed),
            found.needed / found.allowed
        )];
        let mut ways = Vec::new();
        if trials.is_untold(point) {
            says.push(ONE_OF_MANY.to_owned());
        } else if !trials.is_known(point) {
            // It would come out as it is carried on.
            says.push(NOTHING_ELSE.to_owned());
        } else if trials.next() {
            let aside = Does::SetAside(reading.clone());
            let name = "Set aside".to_owned();
            match trials.tried_where(point, name, aside, &is_section_better)? {
                Ok(way) => ways.push(way),
                Err(why) => says.push(refused_words(&lines.body, &[why])),
            }
        } else {
            says.push(LATER.to_owned());
        }
        ways.push(WayOut::plain(KEEP, Does::Keep(reading, Vec::new())));
        matters.push(Matter {
            title: format!("Section at {}", lines.body.station_name(verdict.station)),
            says: says.join(" "),
            subject: Subject::Point(point),
            misprint: false,
            ways,
        });
    }
    Ok(matters)
}

/// Whether the changed point's section comes out fair, or a fifth nearer to it at least.
fn is_section_better(trial: &ChangeTrial) -> bool {
    trial.sections.iter().all(|[was, is]| {
        is.fairness.is_fair()
            || is.fairness == Fairness::Unfair && is.ratio() <= BETTER * was.ratio()
    })
}

/// Points of which two readings contradict each other.
///
/// # Errors
/// A sentence.
pub(super) fn contradictions(lines: &Lines, trials: &Trials<'_>) -> Result<Vec<Matter>, String> {
    let found = lines.body.contradictions().into_iter();
    found
        .filter_map(|found| contradiction(lines, &found, trials).transpose())
        .collect()
}

/// Two readings that contradict each other; none where a person settled which of them counts, or keeps both. The one that all
/// other readings speak against can be set aside, where they speak for the other one.
fn contradiction(
    lines: &Lines,
    found: &Contradiction,
    trials: &Trials<'_>,
) -> Result<Option<Matter>, String> {
    let Some(point) = lines.body.point(found.point) else {
        return Ok(None);
    };
    let title = |reading: &Reading| {
        let source = lines.body.source(reading.source);
        source.map(|source| source.title.clone())
    };
    let one = |number: usize| {
        let reading = point.readings.get(number)?;
        Some((number, reading, title(reading)?))
    };
    let [Some(first), Some(second)] = found.readings.map(one) else {
        return Ok(None);
    };
    let both = [first, second];
    let used = || { both.iter() }.filter(|(_, reading, _)| reading.set_aside.is_none());
    if used().all(|(_, reading, _)| reading.kept) {
        return Ok(None);
    }
    let mut says = vec![format!(
        "{} disagrees with {} by {} mm; their tolerances allow {} mm.",
        both[1].2,
        both[0].2,
        mm(found.apart),
        mm(found.allowed)
    )];
    let keep = Does::Keep(
        used().map(|(number, ..)| (found.point, *number)).collect(),
        Vec::new(),
    );
    let aside = both.iter().find(|(_, r, _)| r.set_aside.is_some());
    let mut ways = Vec::new();
    if let Some((.., title)) = aside {
        says.push(format!("{title} is set aside."));
        ways.push(WayOut::plain("Keep it so", keep));
        ways.push(WayOut::plain("Show both", Does::Show));
    } else {
        let numbers = [both[0].0, both[1].0];
        let asked = if !trials.lofted() {
            Err(
                "Once there is a loft the other readings can be asked which of the two is right."
                    .to_owned(),
            )
        } else if trials.next() {
            let off = trials.readings_off(found.point, &numbers);
            off.ok_or_else(|| NOTHING_ELSE.to_owned())
        } else {
            Err(LATER.to_owned())
        };
        let off = asked.as_ref().ok();
        let fits = |k: usize| {
            off.and_then(|off| off.get(k))
                .map(|off| off.abs() <= both[k].1.tolerance)
        };
        let wrong = match [fits(0), fits(1)] {
            [Some(true), Some(false)] => Some(1),
            [Some(false), Some(true)] => Some(0),
            _ => None,
        };
        if let (Some(k), Some(off)) = (wrong, off) {
            let does = Does::SetAside(vec![(found.point, both[k].0)]);
            let name = format!("Set {} aside", both[k].2);
            let tried = trials.tried(found.point, name, does)?;
            says.push(format!(
                "The skin that all others draw lies {} mm from {} and {} mm from {}.",
                mm(off[0].abs()),
                both[0].2,
                mm(off[1].abs()),
                both[1].2
            ));
            match tried {
                Ok(way) => ways.push(way),
                Err(why) => says.push(refused_words(&lines.body, &[why])),
            }
        } else {
            says.push(asked.err().unwrap_or_else(|| {
                format!("The other readings don't say which of the two is right: {WOULD_TELL}")
            }));
        }
        // Where nothing says which is wrong, a person looks first.
        ways.push(WayOut::plain("Show both", Does::Show));
        ways.push(WayOut::plain("Keep both", keep));
    }
    Ok(Some(Matter {
        title: lines.body.point_name(found.point),
        says: says.join(" "),
        subject: Subject::Point(found.point),
        misprint: false,
        ways,
    }))
}

/// Used readings that count as another value than their text says, but for those that a person keeps so.
///
/// # Errors
/// A sentence.
pub(super) fn misread(lines: &Lines, trials: &Trials<'_>) -> Result<Vec<Matter>, String> {
    let found = lines.body.misread().into_iter();
    found
        .filter_map(|found| misread_matter(lines, &found, trials).transpose())
        .collect()
}

/// A value that its text does not say. Which of the two is right nothing in the file tells: a person looks first.
fn misread_matter(
    lines: &Lines,
    found: &Misread,
    trials: &Trials<'_>,
) -> Result<Option<Matter>, String> {
    let point = lines.body.point(found.point);
    let reading = point.and_then(|point| point.readings.get(found.reading));
    let Some(reading) = reading.filter(|reading| !reading.kept) else {
        return Ok(None);
    };
    let Some(recorded) = reading.recorded(found.height) else {
        return Ok(None);
    };
    let shown = |mm: f64| format_length_with_unit(mm, lines.about.unit);
    let typed = if recorded.typed.trim().is_empty() {
        "no text stands beside it".to_owned()
    } else if found.says.is_some() {
        format!("was typed “{}”, which says that in no unit", recorded.typed)
    } else {
        format!("was typed “{}”, which is no length", recorded.typed)
    };
    let mut says = vec![format!(
        "It counts as {}, but {typed}: the file was changed by another program, or is damaged.",
        shown(recorded.mm)
    )];
    let mut ways = vec![WayOut::plain("Show it", Does::Show)];
    if let Some(TypedLength { mm, by }) = found.says {
        if trials.next() {
            let place = if found.height {
                [None, Some(mm)]
            } else {
                [Some(mm), None]
            };
            let does = Does::PutRight(found.point, found.reading, place);
            let mut name = format!("Count {}", shown(mm));
            if let Some(by) = by.filter(|by| *by != lines.about.unit) {
                name += &format!(", as read in {}", by.name());
            }
            match trials.tried(found.point, name, does)? {
                Ok(way) => ways.push(way),
                Err(why) => says.push(refused_words(&lines.body, &[why])),
            }
        } else {
            says.push(LATER.to_owned());
        }
    }
    let keep = Does::Keep(vec![(found.point, found.reading)], Vec::new());
    ways.push(WayOut::plain("Keep what it counts as", keep));
    Ok(Some(Matter {
        title: format!("{}, typed otherwise", lines.body.point_name(found.point)),
        says: says.join(" "),
        subject: Subject::Point(found.point),
        misprint: false,
        ways,
    }))
}

/// What a row says of a reading that lies off as those beside it do, of which nothing can be told.
const ONE_OF_MANY: &str = "Readings beside it lie off on its side, and of these nothing can be told: by itself it is neither put to what its \
     neighbours want nor set aside.";

/// What a row says where its readings alone say how the skin runs, so that to try without them would be a guess.
const NOTHING_ELSE: &str = "Nothing else says how the skin runs there, so doing without was not tried: another source would tell, or that \
     place measured on a part that is left.";
