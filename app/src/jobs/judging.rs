//! What is to be settled, in the person's words: each line's verdict, and the rows of the list.
//!
//! In: a document and its loft. Out: [`Findings`]. The worker does it; the page only shows what it says.

use std::sync::Arc;

use geometry::compare::moved_over_all;
use geometry::document::{Contradiction, Lines, On, Point, PointId, Reading, StationId, Turns};
use geometry::fair::batten::{BattenOptions, lay_batten};
use geometry::fair::outcome::worse;
use geometry::fair::permitted::{Permitted, permitted};
use geometry::fair::suspects::{Misprint, Patch, Suspects, SuspectsError, find};
use geometry::fair::verdict::{
    Judged, NotJudged, SectionVerdict, Seen, Verdict as Found, Word, judge, judge_sections,
    judged_lines,
};
use geometry::fair::whole::{NoProposal, PointMove, Proposal, fair_whole};
use geometry::loft::{Loft, Lofted};
use geometry::units::{Digits, LengthUnit, Message, format_length_to, format_length_with_unit};

use super::messages::{
    Does, Findings, LineFound, MoveFound, Proposed, Row, SectionSaid, Verdict, Way, Wish,
};

/// What is to be settled where there is no loft as yet: the readings in whose way it stands, and contradictions.
///
/// # Errors
/// A sentence.
pub fn judge_unlofted(lines: &Lines, at: &dyn Fn(&str)) -> Result<Findings, String> {
    at("the readings");
    // So few points a section as want a law foretell none of their own.
    let suspects = if lines.body.law.is_some() || lines.body.suits_a_law() {
        Suspects::default()
    } else {
        match find(&lines.body, lines.about.unit, &|| false) {
            Ok(suspects) => suspects,
            // What keeps it from a loft is no single reading, and stands over the screen.
            Err(SuspectsError::Loft(_)) => Suspects::default(),
            Err(error @ SuspectsError::Stopped) => return Err(error.message(lines.about.unit)),
        }
    };
    let mut rows = suspect_rows(lines, None, &[], &suspects);
    rows.extend(contradiction_rows(lines));
    Ok(Findings {
        whole: true,
        rows,
        searched: lines.body.law.is_none(),
        ..Findings::default()
    })
}

/// Misprints, patches and unfair lines.
fn suspect_rows(
    lines: &Lines,
    loft: Option<&Loft>,
    found: &[Found],
    suspects: &Suspects,
) -> Vec<Row> {
    let misprints = suspects.misprints.iter();
    let mut rows: Vec<Row> = misprints
        .filter_map(|misprint| misprint_row(lines, misprint))
        .collect();
    rows.extend(unfair_rows(lines, loft, found, suspects));
    rows
}

/// Judges every line, then all else; after each line `so_far` gets the verdicts that stand.
///
/// # Errors
/// A sentence.
pub fn judge_all(
    lofted: &Lofted,
    at: &dyn Fn(&str),
    so_far: &dyn Fn(&Findings) -> Result<(), String>,
) -> Result<Findings, String> {
    let (lines, loft) = (lofted.lines(), lofted.loft());
    let all = judged_lines(&lines.body);
    let mut findings = Findings {
        lofted: true,
        searched: lines.body.law.is_none(),
        count: all.len(),
        ..Findings::default()
    };
    let mut found = Vec::with_capacity(all.len());
    for on in all {
        let name = lines.body.line_name(on).unwrap_or_default();
        at(&name);
        let verdict = judge(loft, on, None, &|| false).map_err(|_stopped| "Stopped.")?;
        findings.lines.push(line_found(lines, &verdict));
        so_far(&findings)?;
        found.push(verdict);
    }
    found.sort_by(|a, b| b.ratio().total_cmp(&a.ratio()));
    at("the tolerances");
    let bands = permitted(loft, &found, &|| false).map_err(|_stopped| "Stopped.")?;
    at("the sections");
    let mut sections = judge_sections(loft, &|| false).map_err(|_stopped| "Stopped.")?;
    sections.sort_by(|a, b| b.ratio().total_cmp(&a.ratio()));
    at("the readings");
    let suspects = if lines.body.law.is_some() {
        Suspects::default() // the readings of a body given by law are not searched
    } else {
        find(&lines.body, lines.about.unit, &|| false)
            .map_err(|error| error.message(lines.about.unit))?
    };
    let mut rows = suspect_rows(lines, Some(loft), &found, &suspects);
    rows.extend(section_rows(lines, &sections, &suspects));
    rows.extend(contradiction_rows(lines));
    findings.lines = { found.iter() }
        .map(|verdict| LineFound {
            band: band_of(verdict, &bands),
            ..line_found(lines, verdict)
        })
        .collect();
    findings.sections = { sections.iter() }
        .map(|verdict| section_said(lines, verdict))
        .collect();
    findings.rows = rows;
    findings.whole = true;
    so_far(&findings)?;
    at("the whole surface");
    let proposal = fair_whole(loft, &|_| false);
    findings.fairing = proposal.ok().and_then(|p| stiffness_words(&p));
    Ok(findings)
}

/// The band behind a line's comb, where that shows what was judged: a run line's stands on its height.
fn band_of(verdict: &Found, bands: &[(On, Vec<Permitted>)]) -> Vec<[f64; 3]> {
    let sideways = matches!(verdict.on, On::RunLine(_))
        && verdict
            .judged
            .as_ref()
            .is_some_and(|judged| judged.seen == Seen::HalfBreadth);
    let own = bands.iter().find(|(on, _)| *on == verdict.on && !sideways);
    let Some((_, band)) = own else {
        return Vec::new();
    };
    // Between stations it is narrower than at them: an edge that does not saw takes the wider of what lies beside.
    let wide = |n: usize| {
        let near = band.iter().take(n + 2).skip(n.saturating_sub(1));
        near.map(|at| at.spread).fold(0.0, f64::max)
    };
    let edges = band.iter().enumerate();
    edges
        .map(|(n, at)| [at.x, at.fair - wide(n), at.fair + wide(n)])
        .collect()
}

/// A move or tolerance, in mm whatever the unit.
fn mm(value: f64) -> String {
    format_length_to(value, LengthUnit::Millimetres, Digits::Plain)
}

fn counted(count: usize, one: &str, many: &str) -> String {
    match count {
        0 => format!("no {many}"),
        1 => format!("one {one}"),
        2 => format!("two {many}"),
        3 => format!("three {many}"),
        more => format!("{more} {many}"),
    }
}

fn line_found(lines: &Lines, verdict: &Found) -> LineFound {
    let name = lines.body.line_name(verdict.on).unwrap_or_default();
    let (word, says) = match (verdict.word, &verdict.judged) {
        (Word::NotJudged(NotJudged::NotFound), _) => {
            (Verdict::NotJudged, "no fair line was found".to_owned())
        }
        (Word::NotJudged(NotJudged::TooFewReadings), _) | (_, None) => {
            (Verdict::NotJudged, "too few readings".to_owned())
        }
        (Word::Fair, Some(_)) => (Verdict::Fair, String::new()),
        (word, Some(judged)) => {
            let figures = format!(
                "needs {}, allowed {} mm",
                mm(judged.needed),
                mm(judged.allowed)
            );
            let word = if word == Word::Unfair {
                Verdict::Unfair
            } else {
                Verdict::Within
            };
            let says = judged.stretch.map_or_else(String::new, |stretch| {
                let kind = if stretch.hollow { "hollow" } else { "hump" };
                format!(
                    "; {kind}, {}",
                    lines.body.stretch_name(stretch.from, stretch.to)
                )
            });
            (word, figures + &says)
        }
    };
    LineFound {
        on: verdict.on,
        name,
        word,
        ratio: verdict.ratio().min(f64::MAX), // what is no number can't be sent
        says,
        more: verdict
            .judged
            .as_ref()
            .map_or_else(String::new, |judged| more(lines, judged)),
        band: Vec::new(),
        allowed: verdict.judged.as_ref().map(|judged| judged.allowed_turns),
    }
}

fn section_said(lines: &Lines, verdict: &SectionVerdict) -> SectionSaid {
    let says = verdict.found.as_ref().map_or_else(String::new, |found| {
        let least = if found.at_least { "at least " } else { "" };
        let figures = format!(
            "needs {least}{}, allowed {} mm",
            mm(found.needed),
            mm(found.allowed)
        );
        match found.stretch {
            Some(stretch) => format!("{figures}; {}", lines.body.point_name(stretch.point)),
            None => figures,
        }
    });
    let (word, says) = match verdict.word {
        Word::Fair => (Verdict::Fair, String::new()),
        Word::FairWithinReadings => (Verdict::Within, says),
        Word::Unfair => (Verdict::Unfair, says),
        Word::NotJudged(NotJudged::NotFound) => {
            (Verdict::NotJudged, "no fair section was found".to_owned())
        }
        Word::NotJudged(NotJudged::TooFewReadings) => {
            (Verdict::NotJudged, "too few readings".to_owned())
        }
    };
    SectionSaid {
        station: verdict.station,
        point: { verdict.found.as_ref() }
            .and_then(|found| found.stretch)
            .map(|stretch| stretch.point),
        name: lines.body.station_name(verdict.station),
        word,
        says,
    }
}

/// Sections that are hollow, but for those that a suspected reading makes so, or one that is kept.
fn section_rows(lines: &Lines, sections: &[SectionVerdict], suspects: &Suspects) -> Vec<Row> {
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
        .filter(|verdict| verdict.word == Word::Unfair);
    let row = |verdict: &SectionVerdict| {
        let found = verdict.found.as_ref()?;
        let stretch = found.stretch?;
        if suspected(stretch.point) || lines.body.keeps(stretch.point) {
            return None;
        }
        let kind = if stretch.hollow { "hollow" } else { "full" };
        let reading = used_of(lines, |point| point.id == stretch.point);
        Some(Row {
            title: format!("Section at {}", lines.body.station_name(verdict.station)),
            says: format!(
                "It is too {kind} at {}: readings must move {} mm along it, {:.1} times their tolerance.",
                lines.body.point_name(stretch.point),
                mm(found.needed),
                found.needed / found.allowed
            ),
            point: stretch.point,
            misprint: false,
            ways: vec![
                Way {
                    name: KEEP.to_owned(),
                    does: Does::Keep(reading.clone(), Vec::new()),
                },
                Way {
                    name: "Set aside".to_owned(),
                    does: Does::SetAside(reading),
                },
            ],
        })
    };
    unfair.filter_map(row).collect()
}

/// What it is judged by, in sentences.
fn more(lines: &Lines, judged: &Judged) -> String {
    let mut says = format!(
        "It has {} and {}",
        counted(judged.turns.peaks, "peak", "peaks"),
        counted(judged.turns.inflections, "inflection", "inflections")
    );
    if let Some(stretch) = judged.stretch {
        let lies = if stretch.hollow { "in" } else { "out" };
        says += &format!(
            "; by the fewest moves {} lies too far {lies}. To be no longer hollow it needs {}, to be sweet {} mm.",
            lines.body.stretch_name(stretch.at, stretch.at),
            mm(judged.without_hollows),
            mm(judged.needed)
        );
    } else {
        says += ".";
    }
    if judged.run_outs != [false; 2] {
        says += " Where it runs out it may bend harder and harder.";
    }
    says
}

/// On the button that keeps what was read.
const KEEP: &str = "Keep, it is true";

/// A likely misprint, with the value that would fit.
fn misprint_row(lines: &Lines, misprint: &Misprint) -> Option<Row> {
    let point = lines.body.point(misprint.point)?;
    let reading = point.readings.get(misprint.reading)?;
    let recorded = if misprint.height {
        reading.height.as_ref()?
    } else {
        reading.half_breadth.as_ref()?
    };
    let put = |place: [Option<f64>; 2], shown: &str| Way {
        name: format!("Put {shown}"),
        does: Does::PutRight(misprint.point, misprint.reading, place),
    };
    let mut ways: Vec<Way> = { misprint.slips.iter().take(2) }
        .map(|slip| put(misprint.put_right(slip), &slip.typed))
        .collect();
    let says = match (misprint.slips.first(), misprint.wanted) {
        (Some(slip), _) => {
            let slipped = headed(&slip.words());
            format!("Neighbours want about {}. {slipped}?", slip.typed)
        }
        (None, Some(wanted)) => {
            let shown = format_length_with_unit(wanted.mm, lines.about.unit);
            let place = if misprint.height {
                [None, Some(wanted.mm)]
            } else {
                [Some(wanted.mm), None]
            };
            ways.push(put(place, &shown));
            format!("Neighbours want about {shown}. No simple slip explains it.")
        }
        (None, None) => "It lies far off its neighbours.".to_owned(),
    };
    let reading = vec![(misprint.point, misprint.reading)];
    ways.push(Way {
        name: KEEP.to_owned(),
        does: Does::Keep(reading.clone(), Vec::new()),
    });
    ways.push(Way {
        name: "Set aside".to_owned(),
        does: Does::SetAside(reading),
    });
    Some(Row {
        title: format!(
            "{} reads {}",
            lines.body.point_name(misprint.point),
            recorded.typed
        ),
        says,
        point: misprint.point,
        misprint: true,
        ways,
    })
}

/// A place at which readings, or lines, lie too far in or out.
struct Place<'a> {
    from: f64,
    to: f64,
    hollow: bool,
    /// What is unfair there, the worst first.
    lines: Vec<&'a Found>,
    patch: Option<&'a Patch>,
}

impl Place<'_> {
    fn has(&self, at: f64, hollow: bool) -> bool {
        self.hollow == hollow && self.from - 1.0 < at && at < self.to + 1.0
    }
}

/// Patches of readings and unfair lines, those of one place in one row; a line that a misprint makes unfair is left to that.
fn unfair_rows(
    lines: &Lines,
    loft: Option<&Loft>,
    found: &[Found],
    suspects: &Suspects,
) -> Vec<Row> {
    let by_a_misprint = |verdict: &Found, at: f64| {
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
    let mut places: Vec<Place<'_>> = suspects
        .patches
        .iter()
        .map(|patch| Place {
            from: patch.from_x,
            to: patch.to_x,
            hollow: patch.hollow,
            lines: Vec::new(),
            patch: Some(patch),
        })
        .collect();
    for verdict in found.iter().filter(|verdict| verdict.word == Word::Unfair) {
        let Some(stretch) = verdict.judged.as_ref().and_then(|judged| judged.stretch) else {
            continue;
        };
        if by_a_misprint(verdict, stretch.at) {
            continue;
        }
        match places
            .iter_mut()
            .find(|place| place.has(stretch.at, stretch.hollow))
        {
            Some(place) => place.lines.push(verdict),
            None => places.push(Place {
                from: stretch.from,
                to: stretch.to,
                hollow: stretch.hollow,
                lines: vec![verdict],
                patch: None,
            }),
        }
    }
    // The most pressing first.
    let ratio = |place: &Place<'_>| place.lines.first().map_or(0.0, |line| line.ratio());
    places.sort_by(|a, b| ratio(b).total_cmp(&ratio(a)));
    places
        .iter()
        .filter_map(|place| place_row(lines, loft, place))
        .collect()
}

fn place_row(lines: &Lines, loft: Option<&Loft>, place: &Place<'_>) -> Option<Row> {
    let kind = if place.hollow { "Hollow" } else { "Hump" };
    let mut says = Vec::new();
    let mut point = place.patch.map(|patch| patch.worst);
    if let Some(worst) = place.lines.first() {
        let judged = worst.judged.as_ref()?;
        let names = place
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
        let shown = lines.body.point_on(station.id, worst.on);
        point = shown.map(|point| point.id).or(point);
    }
    let readings = match place.patch {
        Some(patch) => {
            says.push(format!(
                "{} readings there, side by side, lie up to {} mm {} the skin that the rest would draw.",
                patch.points.len(),
                mm(patch.largest),
                if place.hollow { "inside" } else { "outside" }
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
            used_of(lines, |point| about.contains(&point.id))
        }
        None => {
            let ons: Vec<On> = place.lines.iter().map(|verdict| verdict.on).collect();
            let within = |id| {
                let station = lines.body.station(id);
                station.is_some_and(|station| (place.from..=place.to).contains(&station.x))
            };
            used_of(lines, |point| {
                ons.contains(&point.on) && within(point.station)
            })
        }
    };
    let mut ways = Vec::new();
    if let Some(worst) = place.lines.first() {
        ways.push(Way {
            name: "Try a batten".to_owned(),
            does: Does::Propose(Wish::line(worst.on)),
        });
    }
    let own_turns = place.lines.iter().filter_map(|verdict| {
        let judged = verdict.judged.as_ref()?;
        let turns = Turns {
            inflections: judged.turns.inflections,
            peaks: judged.turns.peaks.max(judged.turns.inflections + 1),
        };
        Some((verdict.on, turns))
    });
    let about = place.patch.map_or(&[][..], |patch| &patch.points);
    let suspected = used_of(lines, |point| about.contains(&point.id));
    ways.push(Way {
        name: KEEP.to_owned(),
        does: Does::Keep(suspected, own_turns.collect()),
    });
    ways.push(Way {
        name: if readings.len() == 1 {
            "Set it aside"
        } else {
            "Set these aside"
        }
        .to_owned(),
        does: Does::SetAside(readings),
    });
    Some(Row {
        title: format!("{kind}, {}", lines.body.stretch_name(place.from, place.to)),
        says: says.join(" "),
        point: point?,
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
    let within = |at: &&geometry::loft::LoftPoint| {
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

/// The used readings of some points.
fn used_of(lines: &Lines, of: impl Fn(&Point) -> bool) -> Vec<(PointId, usize)> {
    let points = lines.body.points.iter().filter(|point| of(point));
    points
        .flat_map(|point| {
            let used = point
                .readings
                .iter()
                .enumerate()
                .filter(|(_, r)| r.set_aside.is_none());
            used.map(|(number, _)| (point.id, number))
        })
        .collect()
}

fn named(names: &[String]) -> String {
    match names {
        [] => String::new(),
        [one] => one.clone(),
        [all @ .., last] => format!("{} and {last}", all.join(", ")),
    }
}

/// With a capital letter.
fn headed(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| {
        first.to_uppercase().chain(letters).collect()
    })
}

fn contradiction_rows(lines: &Lines) -> Vec<Row> {
    let found = lines.body.contradictions().into_iter();
    found
        .filter_map(|found| contradiction_row(lines, &found))
        .collect()
}

/// Two readings that contradict each other; none where a person settled which of them counts, or keeps both.
fn contradiction_row(lines: &Lines, found: &Contradiction) -> Option<Row> {
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
            ways.push(Way {
                name: format!("Set {} aside", title(reading)?),
                does: Does::SetAside(vec![(found.point, *number)]),
            });
        }
    }
    ways.push(Way {
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
    ways.push(Way {
        name: "Show both".to_owned(),
        does: Does::Show,
    });
    Some(Row {
        title: lines.body.point_name(found.point),
        says: format!(
            "{} disagrees with {} by {} mm; their tolerances allow {} mm.{after}",
            title(both[1].1)?,
            title(both[0].1)?,
            mm(found.apart),
            mm(found.allowed)
        ),
        point: found.point,
        misprint: false,
        ways,
    })
}

/// Of a point that is moved past its tolerance: its only reading in use, and a tolerance in tenths that would let it.
fn let_through(lines: &Lines, moved: &PointMove) -> Option<(usize, f64)> {
    if !moved.is_past() {
        return None;
    }
    let used = used_of(lines, |point| point.id == moved.point);
    let [(point, reading)] = used[..] else {
        return None;
    };
    let now = lines.body.point(point)?.readings.get(reading)?.tolerance;
    // The section's normal sees a share of it. A reading that counts for less lets the skin go on from it: so half as much
    // again, by trial on the example.
    const LEEWAY: f64 = 1.5;
    let share = moved.tolerance / now;
    let lets = LEEWAY * moved.off.abs() / share;
    Some((reading, (lets * 10.0).ceil() / 10.0))
}

/// Which other lines a batten leaves needing more than they do.
fn left_worse(loft: &Loft, then: &Loft, besides: On) -> Result<Option<String>, String> {
    let needs = |verdict: &Found| {
        let judged = verdict.judged.as_ref();
        judged.map_or("–".to_owned(), |judged| mm(judged.needed))
    };
    let found = worse(loft, then, Some(besides), &|| false).map_err(|_stopped| "Stopped.")?;
    let each = found.iter().map(|worse| {
        let name = loft.body().line_name(worse.before.on).unwrap_or_default();
        let [then, now] = [&worse.after, &worse.before].map(needs);
        format!("{name} {then} mm ({now} now)")
    });
    let each: Vec<String> = each.collect();
    let says = |each: &[String]| {
        format!(
            "Taken whole, it leaves other lines needing more: {}.",
            each.join(", ")
        )
    };
    Ok((!each.is_empty()).then(|| says(&each)))
}

/// What is said of one move; `hardest`: the pull of the point that pulls hardest.
fn move_found(lines: &Lines, moved: &PointMove, hardest: f64) -> MoveFound {
    let by = |at: usize, name: &str| {
        moved.by[at].map(|by| {
            let sign = if by < 0.0 { "−" } else { "+" };
            format!("{name} {sign}{}", mm(by.abs()))
        })
    };
    let by: Vec<String> = [by(0, "y"), by(1, "z")].into_iter().flatten().collect();
    let stands = if moved.is_past() { "past" } else { "within" };
    // As the reading has it; square to the skin a share of the move stands against the same share of it.
    let tolerance = lines
        .body
        .point(moved.point)
        .map_or(moved.tolerance, |point| point.merged().tolerance);
    let mut says = format!("{} mm, {stands} ±{}", by.join(", "), mm(tolerance));
    let pull = moved.pull / hardest;
    if pull >= LEAST_PULL {
        says += &format!(", pull {pull:.2}");
    }
    MoveFound {
        point: moved.point,
        name: lines.body.point_name(moved.point),
        says,
        to: moved.to,
        by: moved.by,
        past: moved.is_past(),
        tolerance: let_through(lines, moved),
    }
}

/// Less of the hardest pull than this is none.
const LEAST_PULL: f64 = 0.01;

/// How stiff the whole surface is taken, and what that flattens.
fn stiffness_words(proposal: &Proposal) -> Option<String> {
    let (stiffness, bias) = (proposal.stiffness?, proposal.bias?);
    Some(format!(
        "The fairing's stiffness, {stiffness:.0}, is the one that best foretells readings left out; so stiff a fairing flattens full \
         places by up to about {} mm.",
        mm(bias)
    ))
}

/// The loft with a proposal taken but for some points.
fn taken(lofted: &Lofted, proposal: &Proposal, without: &[PointId]) -> Result<Loft, String> {
    let unit = lofted.lines().about.unit;
    let then = lofted.lines().body.apply(&proposal.edit(without));
    let then = then.map_err(|error| error.message(unit))?;
    let again = lofted.loft().again(&Arc::new(then));
    again.map_err(|error| error.message(unit))
}

/// A batten along a line, or the whole surface faired.
///
/// # Errors
/// A sentence.
pub fn propose(lofted: &Lofted, wish: Wish, at: &dyn Fn(&str)) -> Result<Proposed, String> {
    let (lines, loft) = (lofted.lines(), lofted.loft());
    let (title, says, proposal) = match wish {
        Wish::Whole => {
            let proposal = fair_whole(loft, &|part| {
                at(part);
                false
            });
            let proposal = proposal.map_err(|error| error.message(lines.about.unit))?;
            let says = whole_says(lofted, &proposal)?;
            ("The whole surface, faired".to_owned(), says, proposal)
        }
        Wish::Line { on, between, held } => {
            at("the batten");
            let name = lines.body.line_name(on).unwrap_or_default();
            let (says, proposal) = batten_says(lofted, (on, &name), between, held)?;
            (format!("A batten along {name}"), says, proposal)
        }
    };
    let mut moves: Vec<&PointMove> = proposal.moves.iter().collect();
    moves.sort_by(|a, b| {
        let pull = b.pull.total_cmp(&a.pull);
        pull.then(b.off.abs().total_cmp(&a.off.abs()))
    });
    let hardest = moves.first().map_or(0.0, |moved| moved.pull);
    let past = moves.iter().filter(|moved| moved.is_past()).count();
    let ticked = format!(
        "{past} of {} moves lie past their tolerance: each of them is taken only if you tick it.",
        moves.len()
    );
    let moves = moves.into_iter();
    Ok(Proposed {
        title,
        says: says
            .into_iter()
            .chain((past > 0).then_some(ticked))
            .collect(),
        moves: moves
            .map(|moved| move_found(lines, moved, hardest))
            .collect(),
    })
}

/// What is to be known of the whole surface, faired.
fn whole_says(lofted: &Lofted, proposal: &Proposal) -> Result<Vec<String>, String> {
    let moved = |without: &[PointId]| -> Result<[String; 2], String> {
        let again = taken(lofted, proposal, without)?;
        Ok(moved_over_all(lofted.loft(), &again).map(mm))
    };
    let [largest, mean] = moved(&[])?;
    let mut says =
        format!("Taken whole, it moves the skin by {largest} mm at most, {mean} mm on average");
    let past = past_their_tolerance(proposal);
    if !past.is_empty() {
        let [largest, mean] = moved(&past)?;
        says += &format!("; without what lies past its tolerance by {largest} and {mean} mm");
    }
    let pulls = proposal.moves.iter().any(|moved| moved.pull > 0.0);
    let pull = "Pull is how hard a reading keeps the surface from being fairer, beside the one that pulls hardest.";
    let all = [
        Some(says + "."),
        stiffness_words(proposal),
        pulls.then(|| pull.to_owned()),
    ];
    Ok(all.into_iter().flatten().collect())
}

fn past_their_tolerance(proposal: &Proposal) -> Vec<PointId> {
    let past = proposal.moves.iter().filter(|moved| moved.is_past());
    past.map(|moved| moved.point).collect()
}

/// A batten along a line, and what is to be known of it.
fn batten_says(
    lofted: &Lofted,
    (on, name): (On, &str),
    between: [Option<StationId>; 2],
    held: [bool; 2],
) -> Result<(Vec<String>, Proposal), String> {
    let (lines, loft) = (lofted.lines(), lofted.loft());
    let place = |id: Option<StationId>| id.and_then(|id| Some(lines.body.station(id)?.x));
    let stretch = between.map(place);
    let [fore, aft] = loft.extent();
    let options = BattenOptions {
        turns: None,
        stretch: (stretch != [None; 2])
            .then(|| [stretch[0].unwrap_or(fore), stretch[1].unwrap_or(aft)]),
        held_ends: held,
    };
    let batten = match lay_batten(loft, on, &options, &|| false) {
        Ok(batten) => batten,
        // What was proposed before goes with it.
        Err(error @ NoProposal::Held) => {
            return Ok((vec![error.message(lines.about.unit)], Proposal::default()));
        }
        Err(error) => return Err(error.message(lines.about.unit)),
    };
    let before = batten.before.judged.as_ref();
    let mut says: Vec<String> = before
        .map(|judged| more(lines, judged))
        .into_iter()
        .collect();
    if batten.proposal.moves.is_empty() {
        let why = match line_found(lines, &batten.before).word {
            Verdict::Fair => "it is fair",
            Verdict::Within | Verdict::Unfair => "no batten was found",
            Verdict::NotJudged => "too few readings",
        };
        says.push(format!("{}: {why}. Nothing is to be moved.", headed(name)));
        return Ok((says, batten.proposal));
    }
    says.push(
        "The batten spreads a dent over good readings beside it: where one is to blame, set that aside instead.".to_owned(),
    );
    let needed = |without: &[PointId]| -> Result<_, String> {
        let again = taken(lofted, &batten.proposal, without)?;
        let verdict = judge(&again, on, None, &|| false).map_err(|_stopped| "Stopped.")?;
        let needed = verdict.judged.map(|judged| judged.needed);
        Ok((needed, again))
    };
    let (all, after) = needed(&[])?;
    if let (Some(now), Some(all)) = (before.map(|judged| judged.needed), all) {
        let mut taken = format!(
            "To be fair the line must move {} mm as it stands; with all of this taken {} mm",
            mm(now),
            mm(all)
        );
        let past = past_their_tolerance(&batten.proposal);
        if !past.is_empty()
            && let (Some(less), _) = needed(&past)?
        {
            taken += &format!(", without what lies past its tolerance {} mm", mm(less));
        }
        says.push(taken + ".");
        if all > 0.9 * now {
            says.push(
                "Little is gained so: let it move over more stations, or free what is held."
                    .to_owned(),
            );
        }
    }
    says.extend(left_worse(loft, &after, on)?);
    Ok((says, batten.proposal))
}
