//! What is to be settled, in the person's words: each line's verdict, and the rows of the list.
//!
//! In: a document and its loft. Out: [`Findings`]. The worker does it; the page only shows what it says.

use geometry::document::{Lines, On, PointId};
use geometry::fair::graph::Turns;
use geometry::fair::verdict::{Judged, NotJudged, Verdict as Found, Word, judge, judged_lines};
use geometry::loft::Loft;
use geometry::units::{Digits, LengthUnit, format_length_to};

use super::messages::{Allowed, Does, Findings, LineFound, Row, Verdict, Way};

/// Judges every line.
///
/// # Errors
/// A sentence.
pub fn judge_all(
    lines: &Lines,
    loft: &Loft,
    allowed: &[Allowed],
    at: &dyn Fn(&str),
) -> Result<Findings, String> {
    let mut found = Vec::new();
    for on in judged_lines(lines) {
        let name = lines.line_name(on).unwrap_or_default();
        at(&name);
        let turns = allowed
            .iter()
            .find(|allowed| allowed.on == on)
            .map(|allowed| Turns {
                inflections: allowed.inflections,
                peaks: allowed.peaks,
            });
        found.push(judge(lines, loft, on, turns, &|| false).map_err(|_stopped| "Stopped.")?);
    }
    found.sort_by(|a, b| b.ratio().total_cmp(&a.ratio()));
    let mut rows = unfair_rows(lines, &found);
    rows.extend(contradiction_rows(lines));
    Ok(Findings {
        lines: found
            .iter()
            .map(|verdict| line_found(lines, verdict))
            .collect(),
        rows,
    })
}

/// A move or tolerance, in mm whatever the unit.
fn mm(value: f64) -> String {
    format_length_to(value, LengthUnit::Millimetres, Digits::Plain)
}

/// The place of x in station numbers, where the labels are numbers; else mm aft.
fn station(lines: &Lines, x: f64) -> String {
    format!("{:.0}", lines.station_number(x).unwrap_or(x))
}

fn between(lines: &Lines, from: f64, to: f64) -> String {
    let [from, to] = [from, to].map(|x| station(lines, x));
    if from == to {
        format!("STA {from}")
    } else {
        format!("STA {from}–{to}")
    }
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
    let name = lines.line_name(verdict.on).unwrap_or_default();
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
            match (word, judged.stretch) {
                (Word::Unfair, Some(stretch)) => {
                    let place = between(lines, stretch.from, stretch.to);
                    (Verdict::Unfair, format!("{figures}; {place}"))
                }
                _ => (Verdict::Within, figures),
            }
        }
    };
    LineFound {
        on: verdict.on,
        name,
        word,
        says,
        more: verdict
            .judged
            .as_ref()
            .map_or_else(String::new, |judged| more(lines, judged)),
        allowed: verdict.judged.as_ref().map(|judged| Allowed {
            on: verdict.on,
            inflections: judged.allowed_turns.inflections,
            peaks: judged.allowed_turns.peaks,
        }),
    }
}

/// What it is judged by, in sentences.
fn more(lines: &Lines, judged: &Judged) -> String {
    let mut says = format!(
        "It has {} and {}.",
        counted(judged.turns.peaks, "peak", "peaks"),
        counted(judged.turns.inflections, "inflection", "inflections")
    );
    if let Some(stretch) = judged.stretch {
        let kind = if stretch.hollow { "hollow" } else { "hump" };
        says += &format!(
            " The least sum of moves names a {kind} at STA {}; to lose its hollows alone it needs {} mm.",
            station(lines, stretch.at),
            mm(judged.without_hollows)
        );
    }
    if judged.run_outs != [false; 2] {
        says += " Where it runs out it may bend harder and harder.";
    }
    says
}

/// Unfair lines, those that are so at one place in one row.
fn unfair_rows(lines: &Lines, found: &[Found]) -> Vec<Row> {
    struct Patch<'a> {
        worst: &'a Found,
        names: Vec<String>,
        from: f64,
        to: f64,
        hollow: bool,
        ons: Vec<On>,
    }
    let mut patches: Vec<Patch<'_>> = Vec::new();
    for verdict in found.iter().filter(|verdict| verdict.word == Word::Unfair) {
        let Some(stretch) = verdict.judged.as_ref().and_then(|judged| judged.stretch) else {
            continue;
        };
        let name = lines.line_name(verdict.on).unwrap_or_default();
        let same = patches.iter_mut().find(|patch| {
            patch.hollow == stretch.hollow && patch.from < stretch.at && stretch.at < patch.to
        });
        match same {
            Some(patch) => {
                patch.names.push(name);
                patch.ons.push(verdict.on);
            }
            None => patches.push(Patch {
                worst: verdict,
                names: vec![name],
                from: stretch.from,
                to: stretch.to,
                hollow: stretch.hollow,
                ons: vec![verdict.on],
            }),
        }
    }
    let row = |patch: Patch<'_>| {
        let judged = patch.worst.judged.as_ref()?;
        let at = judged.stretch?.at;
        let station = lines
            .stations
            .iter()
            .min_by(|a, b| (a.x - at).abs().total_cmp(&(b.x - at).abs()))?;
        let point = lines.point_on(station.id, patch.worst.on)?.id;
        let kind = if patch.hollow { "Hollow" } else { "Hump" };
        let times = judged.needed / judged.allowed;
        let times = if times < 10.0 {
            format!("{times:.1} times their tolerance")
        } else {
            format!("{times:.0} times their tolerance")
        };
        Some(Row {
            title: format!("{kind}, {}", between(lines, patch.from, patch.to)),
            says: format!(
                "{}: readings must move {} mm, {times}.",
                headed(&named(&patch.names)),
                mm(judged.needed)
            ),
            point,
            ways: vec![Way {
                name: "Set these aside".to_owned(),
                does: Does::SetAside(readings_between(lines, &patch.ons, patch.from, patch.to)),
            }],
        })
    };
    patches.into_iter().filter_map(row).collect()
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

/// The used readings of lines at the stations between two places.
fn readings_between(lines: &Lines, ons: &[On], from: f64, to: f64) -> Vec<(PointId, usize)> {
    let within = |id| {
        lines
            .station(id)
            .is_some_and(|station| (from..=to).contains(&station.x))
    };
    let points = lines.points.iter();
    let points = points.filter(|point| ons.contains(&point.on) && within(point.station));
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

fn contradiction_rows(lines: &Lines) -> Vec<Row> {
    let row = |found: geometry::document::Contradiction| {
        let point = lines.point(found.point)?;
        let title = |number: usize| {
            let reading = point.readings.get(number)?;
            let source = lines.source(reading.source)?;
            Some(source.title.clone())
        };
        let [first, second] = found.readings;
        let aside = |number: usize| {
            point
                .readings
                .get(number)
                .is_some_and(|r| r.set_aside.is_some())
        };
        let set_aside = [first, second].into_iter().find(|number| aside(*number));
        let after = match set_aside {
            Some(number) => format!(" {} is set aside.", title(number)?),
            None => String::new(),
        };
        Some(Row {
            title: lines.point_name(found.point),
            says: format!(
                "{} disagrees with {} by {} mm; their tolerances allow {} mm.{after}",
                title(second)?,
                title(first)?,
                mm(found.apart),
                mm(found.allowed)
            ),
            point: found.point,
            ways: vec![Way {
                name: "Show both".to_owned(),
                does: Does::Show,
            }],
        })
    };
    lines.contradictions().into_iter().filter_map(row).collect()
}
