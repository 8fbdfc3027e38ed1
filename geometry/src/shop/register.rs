//! What was decided of the evidence: by which reading, and why.
//!
//! In: lines. Out: tables that are kept with the part: of the readings, and of each line's verdict.

use crate::document::{Body, Point, Reading, Recorded};
use crate::loft::Lofted;
use crate::paper::{Cell, Table};
use crate::units::{Digits, LengthUnit, format_length_to};

use super::revision_words;

/// Tabulates every reading of which a person decided something, and every proposal that was taken.
///
/// A row has the place, what was read and from where, what was decided, and why: readings set aside, misprints put right,
/// doubtful ones kept as true, places where several sources disagree in what stands, accepted values that differ from what was
/// read, and whether a duck holds them.
///
/// # Units
/// Values as they were typed; what was put in their place in the document's unit.
#[must_use]
pub fn tabulate_decisions(lofted: &Lofted) -> Table {
    let lines = lofted.lines();
    let unit = lines.about.unit;
    let mut rows = Vec::new();
    for point in &lines.body.points {
        point_rows(&lines.body, point, unit, &mut rows);
    }
    for taken in &lines.body.taken {
        let moved: Vec<&str> = taken
            .moves
            .iter()
            .map(|moved| moved.point.as_str())
            .collect();
        rows.push(row([
            taken.title.clone(),
            String::new(),
            String::new(),
            format!("taken; moved {}", counted(&moved)),
            taken.reason.clone(),
        ]));
    }
    Table {
        title: format!("{}: evidence", lines.about.title),
        unit,
        heads: ["Place", "Read", "Source", "Decided", "Why"]
            .map(str::to_owned)
            .into(),
        rows,
        notes: vec![
            format!("Revision {}.", revision_words(lofted)),
            "Readings that are not named here stand as they were read.".to_owned(),
        ],
    }
}

fn row(cells: [String; 5]) -> Vec<Cell> {
    let cell = |text: String| {
        if text.is_empty() {
            Cell::Empty
        } else {
            Cell::Text(text)
        }
    };
    cells.into_iter().map(cell).collect()
}

/// The first few of some names, and how many more there are.
fn counted(names: &[&str]) -> String {
    const SAID: usize = 4;
    let said = names
        .iter()
        .take(SAID)
        .copied()
        .collect::<Vec<_>>()
        .join("; ");
    match names.len().saturating_sub(SAID) {
        0 => said,
        more => format!("{said} and {more} more"),
    }
}

fn point_rows(body: &Body, point: &Point, unit: LengthUnit, rows: &mut Vec<Vec<Cell>>) {
    let name = body.name_of(point);
    let source = |reading: &Reading| {
        let source = body.source(reading.source);
        source.map_or_else(String::new, |source| source.title.clone())
    };
    for reading in &point.readings {
        let decided = match (&reading.set_aside, put_right(reading, unit), reading.kept) {
            (Some(_), _, _) => "set aside".to_owned(),
            (None, Some(to), _) => format!("put right: {to}"),
            (None, None, true) => "kept as true".to_owned(),
            (None, None, false) => continue,
        };
        let why = match &reading.set_aside {
            Some(reason) if !reason.is_empty() => reason,
            _ => &reading.note,
        };
        rows.push(row([
            name.clone(),
            typed(reading),
            source(reading),
            decided,
            why.clone(),
        ]));
    }
    let accepted: Vec<String> = [
        ("half-breadth", point.accepted_half_breadth),
        ("height", point.accepted_height),
    ]
    .into_iter()
    .filter_map(|(what, value)| {
        let value = format_length_to(value?, unit, Digits::Fine);
        Some(format!("{what} {value} {}", unit.short()))
    })
    .collect();
    if !accepted.is_empty() {
        let duck = if point.duck { ", under a duck" } else { "" };
        rows.push(row([
            name,
            String::new(),
            String::new(),
            format!("moved to {}{duck}", accepted.join(", ")),
            String::new(),
        ]));
    }
}

fn typed(reading: &Reading) -> String {
    let both = [&reading.half_breadth, &reading.height]
        .into_iter()
        .flatten();
    both.map(|recorded| recorded.typed.as_str())
        .collect::<Vec<_>>()
        .join(" / ")
}

/// What a misprint was put right to.
fn put_right(reading: &Reading, unit: LengthUnit) -> Option<String> {
    let to = |recorded: &Recorded| {
        let value = recorded.put_right?;
        Some(format!(
            "{} {}",
            format_length_to(value, unit, Digits::Fine),
            unit.short()
        ))
    };
    let both: Vec<String> = [&reading.half_breadth, &reading.height]
        .into_iter()
        .flatten()
        .filter_map(to)
        .collect();
    (!both.is_empty()).then(|| both.join(" / "))
}
