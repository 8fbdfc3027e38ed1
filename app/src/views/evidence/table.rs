//! The evidence as two tables: a row for each station and a column for each line, with what was read where they meet; and
//! the points that lie on no line, station by station.
//!
//! In: the document. Out: a [`Table`] to show; what is typed in it is read by `typing`.

use std::collections::BTreeMap;

use geometry::document::{Counted, Lines, On, Place, Point, PointId, Reading, Recorded, StationId};
use geometry::issue::lines_plan::reads;
use geometry::units::{LengthUnit, format_length, parse_length};

use crate::state::axis::Axis;

/// What is typed for a cell that is torn or cannot be read, as it stands in a table on paper.
pub const TORN: &str = "?";

/// A cell by its place in the document.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum CellId {
    /// Of a line at a station.
    OnLine(StationId, On),
    /// One value of a point that lies on no line.
    OfPoint(PointId, Axis),
}

/// Which of the two tables.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Sheet {
    /// That of the lines.
    Lines,
    /// That of the points on no line.
    Points,
}

/// What is read of a point that lies on no line, column by column.
const VALUES: [Axis; 2] = [Axis::HalfBreadth, Axis::Height];

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
    /// Nothing could be read there: the skin is drawn from its neighbours.
    Torn,
    /// Nothing is read there: not yet, or the line does not come there.
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
    /// The point there, if there is one.
    pub point: Option<PointId>,
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

/// A row of the other table: a point that lies on no line.
#[derive(Clone, Debug, PartialEq)]
pub struct PointRow {
    /// The point.
    pub point: PointId,
    /// Its name at its station, as «point 3».
    pub name: String,
    /// Half-breadth and height.
    pub values: [TableCell; 2],
    /// The source of the reading that stands in its cells.
    pub source: String,
    /// Whether it is used, and why not.
    pub says: String,
}

/// The points of one station that lie on no line, from crown to keel.
#[derive(Clone, Debug, PartialEq)]
pub struct StationPoints {
    /// The station.
    pub station: StationId,
    /// As a person says it.
    pub name: String,
    /// The unit of its bare numbers.
    pub unit: LengthUnit,
    /// Its points.
    pub points: Vec<PointRow>,
}

/// Both tables.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Table {
    /// From the crown to the keel.
    pub columns: Vec<LineColumn>,
    /// From fore to aft.
    pub rows: Vec<StationRow>,
    /// Points that lie on no line, from fore to aft.
    pub points: Vec<StationPoints>,
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
            point: None,
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
        point: Some(point.id),
    }
}

/// One value of a reading, and how its source counts it.
fn value_of<'a>(
    lines: &Lines,
    reading: &'a Reading,
    axis: Axis,
) -> (Option<&'a Recorded>, Counted) {
    let [out, up] = lines.body.counted(On::Free, reading.source);
    match axis {
        Axis::HalfBreadth => (reading.half_breadth.as_ref(), out),
        Axis::Height => (reading.height.as_ref(), up),
    }
}

/// The row of a point that lies on no line.
fn point_row(lines: &Lines, point: &Point, name: &str) -> PointRow {
    let (reading, state) = shown(point);
    let one = |axis: Axis| TableCell {
        text: reading.map_or_else(String::new, |reading| {
            let (value, by) = value_of(lines, reading, axis);
            value.map_or_else(String::new, |value| typed(value, by, lines.about.unit))
        }),
        state,
        point: Some(point.id),
    };
    let source = reading.and_then(|reading| lines.body.source(reading.source));
    let aside = reading.and_then(|reading| reading.set_aside.as_deref());
    let says = match (state, aside) {
        (CellState::Several(count), _) => format!("mean of {count} readings"),
        (CellState::WithAside, _) => "used, another set aside".to_owned(),
        (CellState::Torn, _) => "torn".to_owned(),
        (_, Some("")) => "set aside".to_owned(),
        (_, Some(why)) => format!("set aside: {why}"),
        (CellState::Plain | CellState::Empty | CellState::Aside, None) => "used".to_owned(),
    };
    PointRow {
        point: point.id,
        // Its station stands over it.
        name: name.rsplit(", ").next().unwrap_or(name).to_owned(),
        values: VALUES.map(one),
        source: source.map_or_else(String::new, |source| source.title.clone()),
        says,
    }
}

/// The points that lie on no line, station by station.
fn unnamed(lines: &Lines) -> Vec<StationPoints> {
    let body = &lines.body;
    let unnamed = body.unnamed();
    if unnamed.is_empty() {
        return Vec::new();
    }
    let (names, mut points) = (body.point_names(), BTreeMap::new());
    for point in &body.points {
        points.insert(point.id, point);
    }
    let row = |id: PointId| {
        let (point, name) = (points.get(&id)?, names.get(&id)?);
        Some(point_row(lines, point, name))
    };
    let one = |(station, ids): (StationId, Vec<PointId>)| StationPoints {
        station,
        name: body.station_name(station),
        unit: unit_at(lines, station),
        points: ids.into_iter().filter_map(row).collect(),
    };
    unnamed.into_iter().map(one).collect()
}

/// What a point's reading says as it stands in a cell: what it was put right to, else as it was typed.
pub fn text_of_point(lines: &Lines, point: &Point) -> String {
    let unit = lines.about.unit;
    match shown(point).0 {
        Some(reading) => said(lines, point.on, reading, |value, by| meant(value, by, unit)),
        None => TORN.to_owned(),
    }
}

/// What is typed on in a cell.
pub fn text_of(lines: &Lines, cell: CellId) -> String {
    let unit = lines.about.unit;
    match cell {
        CellId::OnLine(station, on) => {
            let point = lines.body.point_on(station, on);
            point.map_or_else(String::new, |point| text_of_point(lines, point))
        }
        CellId::OfPoint(point, axis) => {
            let reading = lines.body.point(point).and_then(|point| shown(point).0);
            let value = reading.map(|reading| value_of(lines, reading, axis));
            match value {
                Some((Some(value), by)) => meant(value, by, unit),
                Some((None, _)) | None => String::new(),
            }
        }
    }
}

impl Table {
    /// How many rows and columns a table has.
    pub fn size(&self, sheet: Sheet) -> (usize, usize) {
        match sheet {
            Sheet::Lines => (self.rows.len(), self.columns.len()),
            Sheet::Points => (self.point_rows().count(), VALUES.len()),
        }
    }

    /// The points that lie on no line, row by row.
    pub fn point_rows(&self) -> impl Iterator<Item = &PointRow> {
        self.points.iter().flat_map(|station| &station.points)
    }

    /// The cell in a row and column of a table.
    pub fn cell_at(&self, sheet: Sheet, (row, column): (usize, usize)) -> Option<CellId> {
        Some(match sheet {
            Sheet::Lines => {
                CellId::OnLine(self.rows.get(row)?.station, self.columns.get(column)?.on)
            }
            Sheet::Points => {
                CellId::OfPoint(self.point_rows().nth(row)?.point, *VALUES.get(column)?)
            }
        })
    }

    /// Row and column of a cell in a table; where it has none, of the first one at the picked station.
    pub fn place_of(&self, sheet: Sheet, station: StationId, cell: CellId) -> (usize, usize) {
        let (row, column) = match (sheet, cell) {
            (Sheet::Lines, CellId::OnLine(station, on)) => (
                self.rows.iter().position(|row| row.station == station),
                self.columns.iter().position(|column| column.on == on),
            ),
            (Sheet::Lines, CellId::OfPoint(..)) => (
                self.rows.iter().position(|row| row.station == station),
                None,
            ),
            (Sheet::Points, CellId::OfPoint(point, axis)) => (
                self.point_rows().position(|row| row.point == point),
                VALUES.iter().position(|value| *value == axis),
            ),
            (Sheet::Points, CellId::OnLine(..)) => {
                let before = self.points.iter().take_while(|at| at.station != station);
                let before = before.map(|at| at.points.len()).sum();
                (Some(before).filter(|row| *row < self.size(sheet).0), None)
            }
        };
        (row.unwrap_or(0), column.unwrap_or(0))
    }

    /// The row of a point that lies on no line.
    pub fn point_row(&self, point: PointId) -> Option<&PointRow> {
        self.point_rows().find(|row| row.point == point)
    }

    /// What a cell holds.
    pub fn cell(&self, cell: CellId) -> Option<&TableCell> {
        match cell {
            CellId::OnLine(station, on) => {
                let column = self.columns.iter().position(|column| column.on == on)?;
                let row = self.rows.iter().find(|row| row.station == station)?;
                row.cells.get(column)
            }
            CellId::OfPoint(point, axis) => {
                let row = self.point_row(point)?;
                let column = VALUES.iter().position(|value| *value == axis)?;
                row.values.get(column)
            }
        }
    }

    /// Both tables of a document.
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
            points: unnamed(lines),
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

/// The unit of bare numbers at a station: that of most readings there, else the shown one.
pub fn unit_at(lines: &Lines, station: StationId) -> LengthUnit {
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

/// The unit in which a bare number was typed: the shown one, unless what it says is so in another.
pub fn unit_of(recorded: &Recorded, by: Counted, shown: LengthUnit) -> LengthUnit {
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
