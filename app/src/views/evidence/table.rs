//! The evidence as a table: a row for each station, a column for each line, and what was read where they meet.
//!
//! In: the document. Out: a [`Table`] to show, and the edits that typed cells mean.

use geometry::document::Body;
use std::collections::BTreeMap;

use geometry::document::{
    BodyEdit, Counted, Edit, Lines, On, Place, Point, Reading, Recorded, SourceId, StationId,
};
use geometry::issue::lines_plan::reads;
use geometry::lines::node_at;
use geometry::loft::Loft;
use geometry::units::{LengthUnit, Message, format_length, format_length_with_unit, parse_length};

use crate::state::axis::FAR_OFF;

/// What is typed for a cell that is torn or cannot be read, as it stands in a table on paper.
pub const TORN: &str = "?";

/// A cell by its place in the document.
pub type CellId = (StationId, On);

/// A column: one line.
#[derive(Clone, Debug, PartialEq)]
pub struct LineColumn {
    /// The line.
    pub on: On,
    /// Its name.
    pub name: String,
    /// What is read on it.
    pub reads: &'static str,
    /// Whether the column before it reads something else.
    pub first: bool,
}

/// What a cell holds; said by a sign beside its text, and in words.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum CellState {
    /// One reading, which is used.
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
pub struct TableCell {
    /// As it was typed.
    pub text: String,
    /// What it holds.
    pub state: CellState,
}

/// A row: one station.
#[derive(Clone, Debug, PartialEq)]
pub struct StationRow {
    /// The station.
    pub station: StationId,
    /// Its label.
    pub label: String,
    /// The unit of its bare numbers.
    pub unit: LengthUnit,
    /// Its cells, column by column.
    pub cells: Vec<TableCell>,
}

/// The table.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Table {
    /// From the crown to the keel.
    pub columns: Vec<LineColumn>,
    /// From fore to aft.
    pub rows: Vec<StationRow>,
    /// Points that lie on no line, which have no cell.
    pub others: usize,
}

/// What a reading says, value by value as `one` says them, the half-breadth of a run line before its height.
fn said(
    lines: &Lines,
    on: On,
    reading: &Reading,
    one: impl Fn(&Recorded, Counted) -> String,
) -> String {
    let [out, up] = lines.body.counted(on, reading.source);
    let out = reading.half_breadth.as_ref().map(|value| one(value, out));
    let up = reading.height.as_ref().map(|value| one(value, up));
    if reads(lines, on) == (true, true) {
        format!("{}/{}", out.unwrap_or_default(), up.unwrap_or_default())
    } else {
        out.or(up).unwrap_or_default()
    }
}

/// What a value was put right to, counted as its source counts; else as it was typed.
fn meant(recorded: &Recorded, by: Counted, unit: LengthUnit) -> String {
    match recorded.put_right {
        Some(mm) => format_length(by.of_the_source(mm), unit),
        None => recorded.typed.clone(),
    }
}

/// As it was typed; what it was put right to follows an arrow.
fn typed(recorded: &Recorded, by: Counted, unit: LengthUnit) -> String {
    match recorded.put_right {
        Some(_) => format!("{} → {}", recorded.typed, meant(recorded, by, unit)),
        None => recorded.typed.clone(),
    }
}

/// The reading that stands for a point in its cell, and the state of the cell.
fn shown(point: &Point) -> (Option<&Reading>, CellState) {
    let used: Vec<&Reading> = point.used().collect();
    match (used.first(), point.readings.first()) {
        (Some(one), _) if used.len() > 1 => (Some(*one), CellState::Several(used.len())),
        (Some(one), _) if point.readings.len() > 1 => (Some(*one), CellState::WithAside),
        (Some(one), _) => (Some(*one), CellState::Plain),
        (None, Some(one)) => (Some(one), CellState::Aside),
        (None, None) => (None, CellState::Torn),
    }
}

fn cell(point: Option<&Point>, lines: &Lines) -> TableCell {
    let Some(point) = point else {
        return TableCell {
            text: String::new(),
            state: CellState::Empty,
        };
    };
    let (reading, state) = shown(point);
    TableCell {
        text: reading.map_or_else(String::new, |reading| {
            said(lines, point.on, reading, |value, by| {
                typed(value, by, lines.about.unit)
            })
        }),
        state,
    }
}

/// What is typed on in a cell: what it was put right to, else as it was typed.
pub fn text_of(lines: &Lines, (station, on): CellId) -> String {
    let Some(point) = lines.body.point_on(station, on) else {
        return String::new();
    };
    match shown(point).0 {
        Some(reading) => said(lines, on, reading, |value, by| {
            meant(value, by, lines.about.unit)
        }),
        None => TORN.to_owned(),
    }
}

impl Table {
    /// The table of a document.
    pub fn of(lines: &Lines) -> Self {
        let columns = columns(lines);
        let mut points = BTreeMap::new();
        for point in &lines.body.points {
            points.entry((point.station, point.on)).or_insert(point);
        }
        let rows = lines.body.stations.iter().map(|station| StationRow {
            station: station.id,
            label: station.label.clone(),
            unit: unit_at(lines, station.id),
            cells: columns
                .iter()
                .map(|column| cell(points.get(&(station.id, column.on)).copied(), lines))
                .collect(),
        });
        Self {
            rows: rows.collect(),
            others: lines
                .body
                .points
                .iter()
                .filter(|p| p.on == On::Free)
                .count(),
            columns,
        }
    }
}

fn columns(lines: &Lines) -> Vec<LineColumn> {
    let planes = lines.body.planes_by_level();
    let of = |fits: fn(Place) -> bool| {
        planes
            .iter()
            .filter(move |plane| fits(plane.place))
            .map(|plane| plane.id)
    };
    let mut ons = vec![On::Crown];
    ons.extend(of(|place| matches!(place, Place::Waterline(_))).map(On::Plane));
    ons.extend(of(|place| matches!(place, Place::Diagonal { .. })).map(On::Plane));
    ons.extend(lines.body.run_lines.iter().map(|line| On::RunLine(line.id)));
    let buttocks = || of(|place| matches!(place, Place::Buttock(_)));
    let upper = |on: &On| lines.body.points.iter().any(|point| point.on == *on);
    ons.extend(buttocks().map(On::PlaneUpper).filter(upper));
    ons.extend(buttocks().map(On::Plane));
    ons.push(On::Keel);
    let mut columns: Vec<LineColumn> = Vec::with_capacity(ons.len());
    for on in ons {
        let reads = match reads(lines, on) {
            (true, true) => "half-breadth/height",
            (true, false) => "height",
            (false, _) => "half-breadth",
        };
        columns.push(LineColumn {
            on,
            name: lines.body.line_name(on).unwrap_or_default(),
            reads,
            first: columns.last().is_none_or(|before| before.reads != reads),
        });
    }
    columns
}

/// What a typed cell means: a reading corrected, or a new one; none where it says what stands there.
///
/// # Errors
/// What is wrong with it and what to type, in a sentence.
pub fn edit_of(
    lines: &Lines,
    place: CellId,
    text: &str,
    source: SourceId,
) -> Result<Option<Edit>, String> {
    let (text, (station, on)) = (text.trim(), place);
    let point = lines.body.point_on(station, on);
    let name = format!(
        "{}, {}",
        lines.body.station_name(station),
        lines.body.line_name(on).unwrap_or_default()
    );
    // To the letter, since a value that is shown may be rounded.
    if text == text_of(lines, place) {
        return Ok(None);
    }
    match (text, point) {
        ("", None) => return Ok(None),
        (TORN, None) => return Ok(Some(BodyEdit::AddTorn { station, on }.into())),
        ("", Some(point)) if point.readings.is_empty() => {
            return Ok(Some(BodyEdit::RemoveTorn(point.id).into()));
        }
        (TORN, Some(point)) if point.used().next().is_none() => {
            return Err(format!(
                "{name}: all its readings are set aside, so its neighbours carry it as they would a torn cell."
            ));
        }
        ("" | TORN, Some(_)) => {
            return Err(format!(
                "{name}: a reading is not wiped out. Press Delete, or «Set aside» beside the table, and say why."
            ));
        }
        _ => {}
    }
    let number = point.and_then(|p| p.readings.iter().position(|r| r.set_aside.is_none()));
    let old = point
        .zip(number)
        .map(|(point, number)| &point.readings[number]);
    let source = old.map_or(source, |old| old.source);
    let own = lines.body.source(source).and_then(|source| source.unit);
    let row = own.unwrap_or_else(|| unit_at(lines, station));
    let counted = lines.body.counted(on, source);
    let one = |part: &str, old: Option<&Recorded>, by: Counted| {
        if part.trim().is_empty() {
            return Ok(None);
        }
        let unit = old.map_or(row, |old| unit_of(old, by, row));
        let mm =
            parse_length(part, unit).map_err(|error| format!("{name}: {}", error.message(unit)))?;
        Ok::<_, String>(Some(Recorded {
            typed: part.trim().to_owned(),
            mm: by.on_the_lines(mm),
            put_right: None,
        }))
    };
    let breadth = |part: &str| {
        let old = old.and_then(|old| old.half_breadth.as_ref());
        one(part, old, counted[0])
    };
    let height = |part: &str| {
        let old = old.and_then(|old| old.height.as_ref());
        one(part, old, counted[1])
    };
    let (half_breadth, height) = match (reads(lines, on), both(text)) {
        ((true, true), Some((out, up))) => (breadth(out)?, height(up)?),
        ((true, true), None) => {
            return Err(format!(
                "{name}: a run line's cell holds half-breadth/height, as 1-2-3/2-0-0; what was not read is left out, as \
                 /2-0-0."
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
        let edit = BodyEdit::PutRight {
            point: point.id,
            reading,
            half_breadth,
            height,
        };
        return Ok((half_breadth.is_some() || height.is_some()).then_some(edit.into()));
    }
    let reading = Reading {
        source,
        half_breadth,
        height,
        tolerance: usual_tolerance(lines, source),
        set_aside: None,
        kept: false,
        note: String::new(),
    };
    Ok(Some(match point {
        Some(point) => BodyEdit::AddReading {
            point: point.id,
            reading,
        }
        .into(),
        None => BodyEdit::AddPoint {
            station,
            on,
            reading,
        }
        .into(),
    }))
}

/// The two sides of a run line's cell, of which one may be empty: parted where both can be read, since a fraction has a
/// stroke of its own.
fn both(text: &str) -> Option<(&str, &str)> {
    let reads = |part: &str| {
        part.trim().is_empty() || parse_length(part, LengthUnit::FeetInchesEighths).is_ok()
    };
    let mut parted = text
        .match_indices('/')
        .map(|(at, _)| (&text[..at], &text[at + 1..]))
        .filter(|(out, up)| !(out.trim().is_empty() && up.trim().is_empty()));
    let first = parted.clone().next();
    parted.find(|(out, up)| reads(out) && reads(up)).or(first)
}

/// The unit of bare numbers at a station: that of most readings there, else the shown one.
fn unit_at(lines: &Lines, station: StationId) -> LengthUnit {
    let points = lines.body.points.iter().filter(|p| p.station == station);
    let recorded = points.flat_map(|point| {
        point.readings.iter().flat_map(|reading| {
            let [out, up] = lines.body.counted(point.on, reading.source);
            let both = [(&reading.half_breadth, out), (&reading.height, up)];
            both.into_iter()
                .filter_map(|(one, by)| Some((one.as_ref()?, by)))
        })
    });
    let units: Vec<LengthUnit> = recorded
        .map(|(one, by)| unit_of(one, by, lines.about.unit))
        .collect();
    let count = |unit: LengthUnit| units.iter().filter(|other| **other == unit).count();
    let most = units.iter().copied().max_by_key(|unit| count(*unit));
    most.unwrap_or(lines.about.unit)
}

/// How far new readings lie from where their lines run now, where that is many times their tolerance.
pub fn far_off(loft: &Loft, unit: LengthUnit, edit: &Edit) -> Option<String> {
    let body = loft.body();
    if let Edit::Many { edits, .. } = edit {
        let mut far = edits.iter().filter_map(|edit| far_off(loft, unit, edit));
        let first = far.next()?;
        return Some(match far.count() {
            0 => first,
            1 => format!("{first} One more cell lies far off as well."),
            more => format!("{first} {more} more cells lie far off as well."),
        });
    }
    let Edit::Body(edit) = edit else { return None };
    let (station, on, values, tolerance) = match edit {
        BodyEdit::MoveStation { station, x } => return passes_another(body, unit, *station, *x),
        BodyEdit::PutRight {
            point,
            reading,
            half_breadth,
            height,
        } => {
            let point = body.point(*point)?;
            let tolerance = point.readings.get(*reading)?.tolerance;
            (point.station, point.on, [*half_breadth, *height], tolerance)
        }
        BodyEdit::AddPoint {
            station,
            on,
            reading,
        } => {
            let values = [reading.half_breadth_value(), reading.height_value()];
            (*station, *on, values, reading.tolerance)
        }
        BodyEdit::AddReading { point, reading } => {
            let point = body.point(*point)?;
            let values = [reading.half_breadth_value(), reading.height_value()];
            (point.station, point.on, values, reading.tolerance)
        }
        _ => return None,
    };
    let there = node_at(loft, on, body.station(station)?.x)?.point;
    // On a diagonal it is the distance along it that was read.
    let along = body
        .place_of(on)
        .and_then(|place| place.distance_along(there.y, there.z));
    let off = [
        values[0].map(|y| y - along.unwrap_or(there.y)),
        values[1].map(|z| z - there.z),
    ];
    let far = off.into_iter().flatten().map(f64::abs).fold(0.0, f64::max);
    let name = body.line_name(on).unwrap_or_default();
    (far > FAR_OFF * tolerance).then(|| {
        format!(
            "{}, {name}: {} is {} from where the line runs now, {:.0} times its tolerance.",
            body.station_name(station),
            said_as(edit),
            format_length_with_unit(far, LengthUnit::Millimetres),
            far / tolerance
        )
    })
}

/// What was typed of an edit's reading.
fn said_as(edit: &BodyEdit) -> String {
    let both = |values: [Option<String>; 2]| {
        let said: Vec<String> = values.into_iter().flatten().collect();
        said.join("/")
    };
    match edit {
        BodyEdit::AddPoint { reading, .. } | BodyEdit::AddReading { reading, .. } => both(
            [&reading.half_breadth, &reading.height]
                .map(|one| one.as_ref().map(|recorded| recorded.typed.clone())),
        ),
        BodyEdit::PutRight {
            half_breadth,
            height,
            ..
        } => both(
            [*half_breadth, *height]
                .map(|mm| mm.map(|mm| format_length_with_unit(mm, LengthUnit::Millimetres))),
        ),
        _ => "that".to_owned(),
    }
}

/// Which station another one would pass if it were moved there.
fn passes_another(body: &Body, unit: LengthUnit, station: StationId, x: f64) -> Option<String> {
    let now = body.station(station)?.x;
    let [low, high] = [now.min(x), now.max(x)];
    let between = |other: &&geometry::document::Station| {
        other.id != station && (low..=high).contains(&other.x)
    };
    let passed = body.stations.iter().find(between)?;
    Some(format!(
        "{} would stand at x {}, on the other side of {}.",
        body.station_name(station),
        format_length_with_unit(x, unit.along()),
        body.station_name(passed.id)
    ))
}

/// The unit in which a bare number was typed: the shown one, unless what it says is so in another.
fn unit_of(recorded: &Recorded, by: Counted, shown: LengthUnit) -> LengthUnit {
    let said = by.of_the_source(recorded.mm);
    let all = [
        shown,
        LengthUnit::Millimetres,
        LengthUnit::Inches,
        LengthUnit::FeetInchesEighths,
    ];
    let says = |unit: &LengthUnit| {
        parse_length(&recorded.typed, *unit).is_ok_and(|mm| (mm - said).abs() < 0.006)
    };
    all.into_iter().find(says).unwrap_or(shown)
}

/// A tolerance for a new reading of a source, mm: what its values were rounded to, else what most of its readings have,
/// else a millimetre or a sixteenth of an inch.
pub fn usual_tolerance(lines: &Lines, source: SourceId) -> f64 {
    if let Some(rounding) = lines.body.source(source).and_then(|source| source.rounding) {
        return rounding;
    }
    let own = || {
        let readings = lines.body.points.iter().flat_map(|point| &point.readings);
        readings.filter(|r| r.source == source).map(|r| r.tolerance)
    };
    let count = |tolerance: f64| own().filter(|t| geometry::num::same(*t, tolerance)).count();
    own()
        .max_by_key(|tolerance| count(*tolerance))
        .unwrap_or(match lines.about.unit {
            LengthUnit::Millimetres => 1.0,
            LengthUnit::Inches | LengthUnit::FeetInchesEighths => 25.4 / 16.0,
        })
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
