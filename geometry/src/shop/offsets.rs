//! Offsets tables: what the faired lines measure, at the stations or at any other spacing.
//!
//! In: the document (which planes and run lines) and its loft. Out: a [`Table`] laid out as the trade lays it out, one
//! station a row, which the table door reads back.

use super::revision_words;
use crate::document::Place;
use crate::lines::{Spot, pick_up};
use crate::loft::{Loft, Lofted};
use crate::num;
use crate::paper::{Cell, Table};
use crate::units::LengthUnit;

/// Where an offsets table is taken.
#[derive(Clone, Debug, PartialEq)]
pub enum Stations {
    /// At the document's stations.
    Own,
    /// From end to end at this spacing, mm, the last place included.
    Every(f64),
}

/// What an offsets table holds.
#[derive(Clone, Debug, PartialEq)]
pub struct OffsetsOptions {
    /// Where it is taken.
    pub stations: Stations,
    /// In which unit.
    pub unit: LengthUnit,
}

/// Most rows of a table.
const MOST_ROWS: usize = 5_000;

/// Least spacing, mm.
const LEAST_SPACING: f64 = 1.0;

/// The least spacing at which a loft's offsets are tabulated, mm: 1, or what gives 5,000 rows.
#[must_use]
pub fn least_spacing(loft: &Loft) -> f64 {
    let [from, to] = loft.extent();
    LEAST_SPACING.max((to - from) / MOST_ROWS as f64)
}

/// Tabulates the offsets of a loft, one station a row.
///
/// Heights of crown, keel and buttocks, half-breadths on waterlines, both on run lines (`half-breadth/height`), distances
/// along diagonals, and the girth from crown to keel (or edge to edge).
///
/// A line that misses the section has an empty cell.
///
/// # Units
/// Lengths in mm inside the table; a spacing below [`least_spacing`] is taken as that.
///
/// # Accuracy
/// The surface's own; the table rounds to 0.01 mm, 0.0001 in or a sixteenth.
///
/// # Source
/// The layout is common practice.
#[must_use]
pub fn tabulate_offsets(lofted: &Lofted, options: &OffsetsOptions) -> Table {
    let (lines, loft) = (lofted.lines(), lofted.loft());
    let unit = options.unit.short();
    let lengths = match options.unit {
        LengthUnit::Millimetres => "Lengths in millimetres.",
        LengthUnit::Inches => "Lengths in inches.",
        LengthUnit::FeetInchesEighths => {
            "Lengths in feet-inches-eighths, + for a sixteenth over; x in millimetres."
        }
    };
    let x_unit = options.unit.along();
    let columns = columns(loft);
    let mut heads = vec!["STA".to_owned(), format!("x ({})", x_unit.short())];
    heads.extend(columns.iter().map(|(name, _)| format!("{name} ({unit})")));
    let mut table = Table {
        title: format!("{}: offsets", lines.about.title),
        unit: options.unit,
        heads,
        rows: Vec::new(),
        notes: vec![
            format!("Revision {}.", revision_words(lofted)),
            "To the outside of the skin (OML), starboard; heights from the base line, half-breadths from the centre plane."
                .to_owned(),
            lengths.to_owned(),
            "Computed values are aids: check a template against the mating part before cutting.".to_owned(),
        ],
    };
    for (label, x) in places(loft, &options.stations, x_unit) {
        let decimals = if x_unit == LengthUnit::Inches { 3 } else { 2 };
        let x_cell = Cell::Number(x / x_unit.of_a_bare_number(), decimals);
        let mut row = vec![Cell::Text(label), x_cell];
        row.extend(columns.iter().map(|(_, column)| cell(loft, x, *column)));
        table.rows.push(row);
    }
    table
}

/// Labels and x: between the document's own stations the label is the place among their numbers, where they are numbers;
/// else x in the unit of its column.
fn places(loft: &Loft, stations: &Stations, x_unit: LengthUnit) -> Vec<(String, f64)> {
    let body = loft.body();
    let [from, to] = loft.extent();
    match stations {
        Stations::Own => body
            .stations
            .iter()
            .filter(|s| s.x >= from - num::FIT && s.x <= to + num::FIT)
            .map(|s| (s.label.clone(), s.x))
            .collect(),
        Stations::Every(spacing) => {
            let spacing = spacing.max(least_spacing(loft));
            let decimals = if x_unit == LengthUnit::Inches { 2 } else { 1 };
            let whole = num::count_of((to - from) / spacing + 1e-9);
            let mut x: Vec<f64> = (0..=whole).map(|i| from + spacing * i as f64).collect();
            if x.last().is_some_and(|last| to - last > num::FIT) {
                x.push(to);
            }
            x.into_iter()
                .map(|x| {
                    let number = body.station_number(x).map(|n| crate::units::fixed(n, 2));
                    let place = || crate::units::fixed(x / x_unit.of_a_bare_number(), decimals);
                    (number.unwrap_or_else(place), x)
                })
                .collect()
        }
    }
}

/// What a column holds.
#[derive(Clone, Copy, Debug)]
enum Column {
    Height(Spot),
    HalfBreadth(Spot),
    Both(Spot),
    Along(Spot, f64),
    Girth,
}

fn columns(loft: &Loft) -> Vec<(String, Column)> {
    let body = loft.body();
    let mut columns = Vec::new();
    if loft.crown() {
        columns.push(("crown".to_owned(), Column::Height(Spot::Crown)));
    }
    let planes = body.planes_by_level();
    for plane in &planes {
        let name = plane.name.clone();
        match plane.place {
            Place::Waterline(z) => columns.push((name, Column::HalfBreadth(Spot::Waterline(z)))),
            Place::Diagonal { height, angle } => {
                columns.push((name, Column::Along(Spot::Diagonal(height, angle), angle)));
            }
            Place::Buttock(_) => {}
        }
    }
    for (id, v) in loft.run_lines() {
        let name = body
            .run_line(*id)
            .map_or_else(String::new, |line| line.name.clone());
        columns.push((name, Column::Both(Spot::Girth(*v))));
    }
    let buttocks = || {
        planes.iter().filter_map(|plane| match plane.place {
            Place::Buttock(y) => Some((plane.name.clone(), y)),
            Place::Waterline(_) | Place::Diagonal { .. } => None,
        })
    };
    columns.extend(
        buttocks().map(|(name, y)| (format!("{name} U"), Column::Height(Spot::ButtockUpper(y)))),
    );
    columns.extend(buttocks().map(|(name, y)| (name, Column::Height(Spot::Buttock(y)))));
    if loft.keel() {
        columns.push(("keel".to_owned(), Column::Height(Spot::Keel)));
    }
    columns.push(("girth".to_owned(), Column::Girth));
    columns
}

fn cell(loft: &Loft, x: f64, column: Column) -> Cell {
    let lift = |spot: Spot| pick_up(loft.surface(), x, spot).ok();
    let cell = match column {
        Column::Height(spot) => lift(spot).map(|at| Cell::Length(at.position.z)),
        Column::HalfBreadth(spot) => lift(spot).map(|at| Cell::Length(at.position.y)),
        Column::Both(spot) => lift(spot).map(|at| Cell::Pair(at.position.y, at.position.z)),
        Column::Along(spot, angle) => {
            lift(spot).map(|at| Cell::Length(at.position.y / num::cos(angle)))
        }
        Column::Girth => lift(Spot::Girth(1.0)).map(|at| Cell::Length(at.girth)),
    };
    cell.unwrap_or(Cell::Empty)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::document::paste::Finding;
    use crate::document::{TableOptions, read_table};
    use crate::write::write_csv;
    use std::sync::Arc;

    fn demo() -> Lofted {
        let path = format!(
            "{}/../tests/data/demo_offsets.csv",
            env!("CARGO_MANIFEST_DIR")
        );
        let table = read_table(&std::fs::read(path).unwrap(), &TableOptions::default());
        Lofted::build(Arc::new(table.unwrap().lines())).unwrap()
    }

    #[test]
    fn a_table_read_back_gives_the_same_body() {
        let lofted = demo();
        let loft = lofted.loft();
        // The demo's lines are called by inches, so a table of millimetres does not say where `WL 32` lies.
        for unit in [LengthUnit::Inches, LengthUnit::FeetInchesEighths] {
            let table = tabulate_offsets(
                &lofted,
                &OffsetsOptions {
                    stations: Stations::Own,
                    unit,
                },
            );
            assert_eq!(table.rows.len(), 16);
            let csv = write_csv(&table);
            let back = read_table(&csv, &TableOptions::default()).unwrap();
            assert_eq!(
                (back.stations, back.refused_count),
                (16, 0),
                "{unit:?}: {:?}",
                back.refused
            );
            let again = back.lines();
            if let Err(error) = Loft::build(&again.body) {
                panic!("{unit:?}: {error}");
            }
            let unknown = |f: &&Finding| matches!(f, Finding::UnknownColumn(_));
            assert_eq!(back.findings.iter().find(unknown), None);
            let step = if unit == LengthUnit::FeetInchesEighths {
                0.8
            } else {
                0.013
            };
            for at in again.body.offsets().iter().flatten() {
                let point = again.body.point(at.point).unwrap();
                let x = again.body.station(point.station).unwrap().x;
                let u = loft.u_at(x);
                let nearest = (0..=20_000)
                    .map(|i| loft.surface().position(u, f64::from(i) / 20_000.0))
                    .map(|s| num::hypot(s.y - at.recorded[0], s.z - at.recorded[1]))
                    .fold(f64::INFINITY, f64::min);
                assert!(
                    nearest < step + 0.05,
                    "{unit:?} {}: {nearest}",
                    again.body.point_name(at.point)
                );
            }
        }
    }

    #[test]
    fn another_spacing_ends_at_the_end() {
        let lofted = demo();
        let options = OffsetsOptions {
            stations: Stations::Every(500.0),
            unit: LengthUnit::Millimetres,
        };
        let table = tabulate_offsets(&lofted, &options);
        assert_eq!(table.rows.len(), 10);
        assert_eq!(table.rows[9][1], Cell::Number(lofted.loft().extent()[1], 2));
    }
}
