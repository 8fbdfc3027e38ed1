//! The evidence as a table: a row for each station, a column for each line, and what was read where they meet.
//!
//! In: the document. Out: a [`Table`] to show, and the edits that typed cells mean.

use geometry::document::{
    Edit, Lines, On, Place as PlanePlace, Point, Reading, Recorded, SourceId, StationId,
};
use geometry::lines::node_at;
use geometry::loft::Loft;
use geometry::units::{LengthUnit, Message, format_length, format_length_with_unit, parse_length};

use crate::state::axis::FAR_OFF;
use crate::views::plan::reads;

/// A cell by its place in the document.
pub type Place = (StationId, On);

/// A column: one line.
#[derive(Clone, Debug, PartialEq)]
pub struct Column {
    /// The line.
    pub on: On,
    /// Its name.
    pub name: String,
    /// What is read on it.
    pub reads: &'static str,
}

/// What stands beside a cell's text, as a sign and in words.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Mark {
    /// Nothing: one reading is used.
    Plain,
    /// One reading is used, and others are set aside.
    WithAside,
    /// Nothing could be read there: the neighbours carry it.
    Torn,
    /// No reading is called for.
    Empty,
    /// All its readings are set aside.
    Aside,
    /// So many readings are used.
    Several(usize),
}

/// A cell.
#[derive(Clone, Debug, PartialEq)]
pub struct Cell {
    /// As it was typed.
    pub text: String,
    /// What stands beside it.
    pub mark: Mark,
}

/// A row: one station.
#[derive(Clone, Debug, PartialEq)]
pub struct Row {
    /// The station.
    pub station: StationId,
    /// Its label.
    pub label: String,
    /// The unit of its bare numbers.
    pub unit: LengthUnit,
    /// Its cells, column by column.
    pub cells: Vec<Cell>,
}

/// The table.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Table {
    /// From the crown to the keel.
    pub columns: Vec<Column>,
    /// From fore to aft.
    pub rows: Vec<Row>,
    /// Points that lie on no line, which have no cell.
    pub others: usize,
}

/// What a reading says, as it was typed; a put right value follows its arrow.
fn typed(reading: &Reading, lines: &Lines) -> String {
    let one = |recorded: &Recorded| match recorded.put_right {
        Some(mm) => format!("{} → {}", recorded.typed, format_length(mm, lines.unit)),
        None => recorded.typed.clone(),
    };
    let both = [&reading.half_breadth, &reading.height];
    let said: Vec<String> = both.into_iter().flatten().map(one).collect();
    said.join("/")
}

fn cell(point: Option<&Point>, lines: &Lines) -> Cell {
    let Some(point) = point else {
        return Cell {
            text: String::new(),
            mark: Mark::Empty,
        };
    };
    let used: Vec<&Reading> = point.used().collect();
    let (reading, mark) = match (used.first(), point.readings.first()) {
        (Some(one), _) if used.len() > 1 => (Some(*one), Mark::Several(used.len())),
        (Some(one), _) if point.readings.len() > 1 => (Some(*one), Mark::WithAside),
        (Some(one), _) => (Some(*one), Mark::Plain),
        (None, Some(one)) => (Some(one), Mark::Aside),
        (None, None) => (None, Mark::Torn),
    };
    Cell {
        text: reading.map_or_else(String::new, |reading| typed(reading, lines)),
        mark,
    }
}

/// What is typed on in a cell: what it was put right to, else as it was typed.
pub fn text_of(lines: &Lines, (station, on): Place) -> String {
    let cell = cell(lines.point_on(station, on), lines);
    let text = cell.text.rsplit("→ ").next().unwrap_or_default();
    text.to_owned()
}

impl Table {
    /// The table of a document.
    pub fn of(lines: &Lines) -> Self {
        let columns = columns(lines);
        let rows = lines.stations.iter().map(|station| Row {
            station: station.id,
            label: station.label.clone(),
            unit: unit_at(lines, station.id),
            cells: columns
                .iter()
                .map(|column| cell(lines.point_on(station.id, column.on), lines))
                .collect(),
        });
        Self {
            rows: rows.collect(),
            others: lines.points.iter().filter(|p| p.on == On::Free).count(),
            columns,
        }
    }
}

fn columns(lines: &Lines) -> Vec<Column> {
    let mut planes: Vec<_> = lines.planes.iter().collect();
    planes.sort_by(|a, b| b.place.level().total_cmp(&a.place.level()));
    let of = |fits: fn(PlanePlace) -> bool| {
        planes
            .iter()
            .filter(move |plane| fits(plane.place))
            .map(|plane| plane.id)
    };
    let mut ons = vec![On::Crown];
    ons.extend(of(|place| matches!(place, PlanePlace::Waterline(_))).map(On::Plane));
    ons.extend(of(|place| matches!(place, PlanePlace::Diagonal { .. })).map(On::Plane));
    ons.extend(lines.run_lines.iter().map(|line| On::RunLine(line.id)));
    let buttocks = || of(|place| matches!(place, PlanePlace::Buttock(_)));
    let upper = |on: &On| lines.points.iter().any(|point| point.on == *on);
    ons.extend(buttocks().map(On::PlaneUpper).filter(upper));
    ons.extend(buttocks().map(On::Plane));
    ons.push(On::Keel);
    ons.into_iter()
        .map(|on| Column {
            on,
            name: lines.line_name(on).unwrap_or_default(),
            reads: match reads(lines, on) {
                (true, true) => "half-breadth/height",
                (true, false) => "height",
                (false, _) => "half-breadth",
            },
        })
        .collect()
}

/// What a typed cell means: a reading corrected, or a new one; none where it says what stands there.
///
/// # Errors
/// What is wrong with it and what to type, in a sentence.
pub fn edit_of(
    lines: &Lines,
    place: Place,
    text: &str,
    source: SourceId,
) -> Result<Option<Edit>, String> {
    let (text, (station, on)) = (text.trim(), place);
    let point = lines.point_on(station, on);
    let name = format!(
        "{}, {}",
        lines.station_name(station),
        lines.line_name(on).unwrap_or_default()
    );
    // To the letter, since a value that is shown may be rounded.
    if text == text_of(lines, place) {
        return Ok(None);
    }
    if text.is_empty() {
        return match point.map(|point| point.readings.len()) {
            None | Some(0) => Ok(None),
            Some(_) => Err(format!(
                "{name}: a reading is not wiped out. Set it aside, with the reason."
            )),
        };
    }
    let number = point.and_then(|p| p.readings.iter().position(|r| r.set_aside.is_none()));
    let old = point
        .zip(number)
        .map(|(point, number)| &point.readings[number]);
    let row = unit_at(lines, station);
    let one = |part: &str, old: Option<&Recorded>| -> Result<Option<Recorded>, String> {
        let unit = old.map_or(row, |old| unit_of(old, row));
        let mm =
            parse_length(part, unit).map_err(|error| format!("{name}: {}", error.message(unit)))?;
        Ok(Some(Recorded {
            typed: part.trim().to_owned(),
            mm,
            put_right: None,
        }))
    };
    let breadth = |part: &str| one(part, old.and_then(|old| old.half_breadth.as_ref()));
    let height = |part: &str| one(part, old.and_then(|old| old.height.as_ref()));
    let (half_breadth, height) = match (reads(lines, on), text.split_once('/')) {
        ((true, true), Some((out, up))) => (breadth(out)?, height(up)?),
        ((true, true), None) => {
            return Err(format!(
                "{name}: a run line's cell holds half-breadth/height, as 1-2-3/2-0-0."
            ));
        }
        ((true, false), _) => (None, height(text)?),
        ((false, _), _) => (breadth(text)?, None),
    };
    if let (Some(point), Some(reading)) = (point, number) {
        // What the sheet says stays in sight; what it must have meant stands beside it.
        let meant = |new: &Option<Recorded>, old: &Option<Recorded>| {
            let (new, old) = (new.as_ref()?, old.as_ref()?);
            (!geometry::num::same(new.mm, old.value())).then_some(new.mm)
        };
        let own = &point.readings[reading];
        let half_breadth = meant(&half_breadth, &own.half_breadth);
        let height = meant(&height, &own.height);
        let edit = Edit::PutRight {
            point: point.id,
            reading,
            half_breadth,
            height,
        };
        return Ok((half_breadth.is_some() || height.is_some()).then_some(edit));
    }
    let reading = Reading {
        source,
        half_breadth,
        height,
        tolerance: usual_tolerance(lines, source),
        set_aside: None,
        note: String::new(),
    };
    Ok(Some(match point {
        Some(point) => Edit::AddReading {
            point: point.id,
            reading,
        },
        None => Edit::AddPoint {
            station,
            on,
            reading,
        },
    }))
}

/// The unit of bare numbers at a station: that of most readings there, else the shown one.
fn unit_at(lines: &Lines, station: StationId) -> LengthUnit {
    let points = lines.points.iter().filter(|p| p.station == station);
    let readings = points.flat_map(|point| &point.readings);
    let recorded = readings.flat_map(|r| [&r.half_breadth, &r.height].into_iter().flatten());
    let units: Vec<LengthUnit> = recorded.map(|one| unit_of(one, lines.unit)).collect();
    let count = |unit: LengthUnit| units.iter().filter(|other| **other == unit).count();
    let most = units.iter().copied().max_by_key(|unit| count(*unit));
    most.unwrap_or(lines.unit)
}

/// How far a new reading lies from where its line runs now, where that is many times its tolerance.
pub fn far_off(lines: &Lines, loft: &Loft, edit: &Edit) -> Option<String> {
    let (station, on, values, tolerance) = match edit {
        Edit::PutRight {
            point,
            reading,
            half_breadth,
            height,
        } => {
            let point = lines.point(*point)?;
            let tolerance = point.readings.get(*reading)?.tolerance;
            (point.station, point.on, [*half_breadth, *height], tolerance)
        }
        Edit::AddPoint {
            station,
            on,
            reading,
        } => {
            let values = [reading.half_breadth_value(), reading.height_value()];
            (*station, *on, values, reading.tolerance)
        }
        Edit::AddReading { point, reading } => {
            let point = lines.point(*point)?;
            let values = [reading.half_breadth_value(), reading.height_value()];
            (point.station, point.on, values, reading.tolerance)
        }
        _ => return None,
    };
    let there = node_at(lines, loft, on, lines.station(station)?.x)?.point;
    // On a diagonal it is the distance along it that was read.
    let along = lines
        .place_of(on)
        .and_then(|place| place.distance_along(there.y, there.z));
    let off = [
        values[0].map(|y| y - along.unwrap_or(there.y)),
        values[1].map(|z| z - there.z),
    ];
    let far = off.into_iter().flatten().map(f64::abs).fold(0.0, f64::max);
    let name = lines.line_name(on).unwrap_or_default();
    (far > FAR_OFF * tolerance).then(|| {
        format!(
            "{}, {name}: that is {} from where the line runs now, {:.0} times its tolerance.",
            lines.station_name(station),
            format_length_with_unit(far, LengthUnit::Millimetres),
            far / tolerance
        )
    })
}

/// The unit in which a bare number was typed: the shown one, unless what it says is so in another.
fn unit_of(recorded: &Recorded, shown: LengthUnit) -> LengthUnit {
    let all = [
        shown,
        LengthUnit::Millimetres,
        LengthUnit::Inches,
        LengthUnit::FeetInchesEighths,
    ];
    let says = |unit: &LengthUnit| {
        parse_length(&recorded.typed, *unit).is_ok_and(|mm| (mm - recorded.mm).abs() < 0.006)
    };
    all.into_iter().find(says).unwrap_or(shown)
}

/// A tolerance for a new reading of a source, mm: what most of its readings have, else a sixteenth of an inch.
pub fn usual_tolerance(lines: &Lines, source: SourceId) -> f64 {
    let own = || {
        let readings = lines.points.iter().flat_map(|point| &point.readings);
        readings.filter(|r| r.source == source).map(|r| r.tolerance)
    };
    let count = |tolerance: f64| own().filter(|t| geometry::num::same(*t, tolerance)).count();
    own()
        .max_by_key(|tolerance| count(*tolerance))
        .unwrap_or(25.4 / 16.0)
}

/// The edits of a block that is pasted at a cell: rows by lines, columns by tabs.
///
/// # Errors
/// Which cell can't be taken and why; then none is.
pub fn edits_of_block(
    lines: &Lines,
    table: &Table,
    (row, column): (usize, usize),
    block: &str,
    source: SourceId,
) -> Result<Vec<Edit>, String> {
    let mut edits = Vec::new();
    let rows = block.trim_end_matches(['\r', '\n']).lines();
    for (down, text) in rows.enumerate() {
        for (right, cell) in text.split('\t').enumerate() {
            let cell = cell.trim().trim_matches('"');
            if cell.is_empty() {
                continue;
            }
            let (Some(row), Some(column)) = (
                table.rows.get(row + down),
                table.columns.get(column + right),
            ) else {
                return Err(format!(
                    "The block is larger than the table from here: `{cell}` in its row {}, column {} has no cell. Nothing was taken.",
                    down + 1,
                    right + 1
                ));
            };
            let edit = edit_of(lines, (row.station, column.on), cell, source);
            edits.extend(edit.map_err(|why| format!("{why} Nothing was taken."))?);
        }
    }
    Ok(edits)
}
