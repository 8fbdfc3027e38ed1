//! What a person decided otherwise in one of two states: the loft's method, the law, where sources' stations lie, tolerances, what is set aside or put right, ducks, turns.
//!
//! In: two documents. Out: a sentence for each, in the words of the trade. How far the skin moved by it is told beside them.

use crate::document::{Body, Law, Point, Quadrant, Reading, Shoulder};
use crate::num;
use crate::units::{Digits, LengthUnit, format_length_to, format_length_with_unit};

/// What was decided between two states, each in a row: method, law and sources, then by points as the later state has them, then by lines.
///
/// Points and lines are the same where they have the same name, readings where the same was read from the same source.
///
/// # Units
/// Tolerances are said in mm, places in `unit`.
#[must_use]
pub fn decisions(before: &Body, after: &Body, unit: LengthUnit) -> Vec<String> {
    let mut rows: Vec<String> = method_row(before, after).into_iter().collect();
    rows.extend(law_row(before, after));
    rows.extend(source_rows(before, after, unit));
    let names: Vec<String> = before.points.iter().map(|p| before.name_of(p)).collect();
    for point in &after.points {
        let name = after.name_of(point);
        let was = names.iter().position(|other| *other == name);
        if let Some(was) = was.and_then(|at| before.points.get(at)) {
            for says in point_rows((before, was), (after, point), unit) {
                rows.push(format!("{name}: {says}."));
            }
        }
    }
    rows.extend(turns_rows(before, after));
    rows
}

/// The law in words; a line that is no longer there has no name.
fn law_words(body: &Body, law: Law) -> String {
    let line = |id| {
        let name = body.run_line(id).map(|line| line.name.as_str());
        name.unwrap_or("no line")
    };
    let full = |quadrant| match law.shoulder(quadrant) {
        Shoulder::Rho(rho) => format!("fullness {rho}"),
        Shoulder::Line(id) => format!("through {}", line(id)),
    };
    format!(
        "breadth {}, {} above it, {} below it",
        line(law.breadth),
        full(Quadrant::Upper),
        full(Quadrant::Lower)
    )
}

fn method_row(before: &Body, after: &Body) -> Option<String> {
    let (was, is) = (before.method, after.method);
    (was != is).then(|| format!("Lofted by method {is}, before by method {was}."))
}

fn law_row(before: &Body, after: &Body) -> Option<String> {
    let [was, is] = [before, after].map(|body| body.law.map(|law| law_words(body, law)));
    if was == is {
        return None;
    }
    Some(match (was, is) {
        (None, Some(is)) => format!("Conic law set: {is}."),
        (Some(was), None) => format!("Conic law taken off; it was {was}."),
        (was, is) => format!(
            "Conic law: {}; before {}.",
            is.unwrap_or_default(),
            was.unwrap_or_default()
        ),
    })
}

/// Which sources' stations lie elsewhere than they did; sources are the same where they have the same title.
fn source_rows(before: &Body, after: &Body, unit: LengthUnit) -> Vec<String> {
    let at = |aft: f64| {
        let by = format_length_with_unit(aft.abs(), unit.along());
        match aft {
            _ if num::same(aft, 0.0) => "at those of the lines".to_owned(),
            _ if aft > 0.0 => format!("{by} aft"),
            _ => format!("{by} forward"),
        }
    };
    let moved = after.sources.iter().filter_map(|source| {
        let was = before.sources.iter().find(|s| s.title == source.title)?;
        let [was, is] = [was, source].map(|source| source.datum.aft);
        (!num::same(was, is)).then(|| {
            let title = &source.title;
            format!("{title}: its stations lie {}, before {}.", at(is), at(was))
        })
    });
    moved.collect()
}

/// How far off a reading may be, mm.
fn small(tolerance: f64) -> String {
    let mm = format_length_to(tolerance, LengthUnit::Millimetres, Digits::Plain);
    format!("±{mm} mm")
}

/// What of a reading was put right, in the later state's unit.
fn put_right(reading: &Reading, unit: LengthUnit) -> String {
    let values = [&reading.half_breadth, &reading.height];
    let said = values.into_iter().flatten().filter_map(|recorded| {
        let mm = recorded.put_right?;
        let mended = format_length_with_unit(mm, unit);
        Some(format!("{} put right to {mended}", recorded.typed))
    });
    said.collect::<Vec<_>>().join(", ")
}

fn point_rows(
    (old, was): (&Body, &Point),
    (new, is): (&Body, &Point),
    unit: LengthUnit,
) -> Vec<String> {
    let mut rows = Vec::new();
    match (was.duck, is.duck) {
        (false, true) => rows.push("a duck put down".to_owned()),
        (true, false) => rows.push("its duck lifted".to_owned()),
        _ => {}
    }
    let title = |body: &Body, reading: &Reading| {
        let source = body.source(reading.source);
        source.map(|source| source.title.clone())
    };
    let typed = |reading: &Reading| {
        [&reading.half_breadth, &reading.height].map(|r| r.as_ref().map(|r| r.typed.clone()))
    };
    let mut left: Vec<&Reading> = was.readings.iter().collect();
    for reading in &is.readings {
        let same = |other: &&Reading| {
            typed(other) == typed(reading) && title(old, other) == title(new, reading)
        };
        let Some(at) = left.iter().position(same) else {
            continue;
        };
        let before = left.remove(at);
        if !num::same(before.tolerance, reading.tolerance) {
            rows.push(format!(
                "tolerance {}, before {}",
                small(reading.tolerance),
                small(before.tolerance)
            ));
        }
        match (&before.set_aside, &reading.set_aside) {
            (None, Some(why)) if why.is_empty() => rows.push("a reading set aside".to_owned()),
            (None, Some(why)) => rows.push(format!("a reading set aside: {why}")),
            (Some(_), None) => rows.push("a reading used again".to_owned()),
            _ => {}
        }
        let [mended, was_mended] = [reading, before].map(|reading| put_right(reading, unit));
        if mended != was_mended {
            rows.push(if mended.is_empty() {
                "as its source has it again".to_owned()
            } else {
                mended
            });
        }
    }
    rows
}

fn turns_rows(before: &Body, after: &Body) -> Vec<String> {
    let named = |body: &Body| -> Vec<(String, String)> {
        let each = body.allowed_turns.iter();
        each.filter_map(|allowed| Some((body.line_name(allowed.on)?, allowed.turns.words())))
            .collect()
    };
    let [was, is] = [before, after].map(named);
    let of = |all: &[(String, String)], name: &str| {
        let found = all.iter().find(|(line, _)| line == name);
        found.map_or_else(|| "the usual turns".to_owned(), |(_, turns)| turns.clone())
    };
    let lifted = was
        .iter()
        .filter(|(line, _)| is.iter().all(|(other, _)| other != line));
    let all = is.iter().chain(lifted).map(|(name, _)| name);
    all.map(|name| (name, of(&is, name), of(&was, name)))
        .filter(|(_, is, was)| is != was)
        .map(|(name, is, was)| format!("Turns allowed to {name}: {is}, before {was}."))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::document::Lines;
    use crate::document::{BodyEdit, Edit, On, Side, TableOptions, Turns, read_table};

    fn demo() -> Lines {
        let table = include_bytes!("../../../tests/data/demo_offsets.csv");
        read_table(table, &TableOptions::default()).unwrap().lines()
    }

    /// The rows that some edits make, there and back.
    #[track_caller]
    fn check(edits: &[Edit], there: &[&str], back: &[&str]) {
        let before = demo();
        let after = edits
            .iter()
            .fold(before.clone(), |lines, edit| lines.apply(edit).unwrap());
        assert_eq!(
            decisions(&before.body, &after.body, before.about.unit),
            there
        );
        assert_eq!(
            decisions(&after.body, &before.body, before.about.unit),
            back
        );
    }

    #[test]
    fn nothing_decided_is_no_row() {
        check(&[], &[], &[]);
    }

    #[test]
    fn another_method_of_the_loft_is_told() {
        check(
            &[BodyEdit::SetMethod(1).into()],
            &["Lofted by method 1, before by method 2."],
            &["Lofted by method 2, before by method 1."],
        );
    }

    #[test]
    fn stations_of_a_source_that_lie_elsewhere_are_told() {
        let mut source = demo().body.sources[0].clone();
        source.datum.aft = 12.0;
        let title = source.title.clone();
        check(
            &[BodyEdit::SetSource(source).into()],
            &[&format!(
                "{title}: its stations lie 12.0 mm aft, before at those of the lines."
            )],
            &[&format!(
                "{title}: its stations lie at those of the lines, before 12.0 mm aft."
            )],
        );
    }

    #[test]
    fn a_law_is_told_with_its_lines() {
        let level = |side| BodyEdit::SetCrossing {
            side,
            runs: Vec::new(),
        };
        let law = Law {
            breadth: demo().body.run_lines[0].id,
            upper: Shoulder::Rho(0.45),
            lower: Shoulder::Rho(0.5),
        };
        let set = BodyEdit::SetLaw(Some(law));
        let words = "breadth joint, fullness 0.45 above it, fullness 0.5 below it";
        check(
            &[
                level(Side::Crown).into(),
                level(Side::Keel).into(),
                set.clone().into(),
            ],
            &[&format!("Conic law set: {words}.")],
            &[&format!("Conic law taken off; it was {words}.")],
        );
        let lines = [level(Side::Crown), level(Side::Keel), set]
            .iter()
            .fold(demo(), |lines, edit| lines.apply(edit).unwrap());
        let fuller = BodyEdit::SetLaw(Some(Law {
            upper: Shoulder::Rho(0.48),
            ..law
        }));
        let fuller = lines.apply(&fuller).unwrap();
        assert_eq!(
            decisions(&lines.body, &fuller.body, lines.about.unit),
            [format!(
                "Conic law: breadth joint, fullness 0.48 above it, fullness 0.5 below it; before {words}."
            )]
        );
    }

    #[test]
    fn tolerances_ducks_and_what_is_set_aside_are_told_by_their_point() {
        let lines = demo();
        let at = |label: &str, on| {
            let station = lines.body.station_by_label(label).unwrap().id;
            lines.body.point_on(station, on).unwrap().id
        };
        let keel = at("101", On::Keel);
        let plane = lines.body.plane_by_name("WL 32").unwrap().id;
        check(
            &[
                BodyEdit::SetTolerance {
                    point: keel,
                    reading: 0,
                    tolerance: 3.2,
                }
                .into(),
                BodyEdit::PutDuck(keel).into(),
                BodyEdit::PutRight {
                    point: at("48", On::Plane(plane)),
                    reading: 0,
                    half_breadth: Some(387.35),
                    height: None,
                }
                .into(),
                BodyEdit::SetAside {
                    point: at("90", On::Keel),
                    reading: 0,
                    reason: "a dent".to_owned(),
                }
                .into(),
            ],
            &[
                "STA 48, WL 32: 1-2-3 put right to 1-3-2.",
                "STA 90, keel: a reading set aside: a dent.",
                "STA 101, keel: a duck put down.",
                "STA 101, keel: tolerance ±3.2 mm, before ±1.6 mm.",
            ],
            &[
                "STA 48, WL 32: as its source has it again.",
                "STA 90, keel: a reading used again.",
                "STA 101, keel: its duck lifted.",
                "STA 101, keel: tolerance ±1.6 mm, before ±3.2 mm.",
            ],
        );
    }

    #[test]
    fn turns_are_told_by_their_line() {
        let turns = Turns {
            inflections: 1,
            peaks: 2,
        };
        check(
            &[BodyEdit::AllowTurns {
                on: On::Keel,
                turns: Some(turns),
            }
            .into()],
            &["Turns allowed to keel: 2 peaks, 1 inflection, before the usual turns."],
            &["Turns allowed to keel: the usual turns, before 2 peaks, 1 inflection."],
        );
    }
}
