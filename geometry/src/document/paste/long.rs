//! A long table, one reading a row, as a list of entries.
//!
//! In: the grid of cells and the row of its head. Out: the entries, and what was refused and found, in a [`Read`].

use super::cell::{AGREE, CellFault, CellText, LineName, Manner, ON_PLANE, head_and_unit};
use super::table::{Entry, Read, guessed, likely_unit, station_label};
use super::understood::{CellValue, ColumnAsRead, TakenFor};
use super::{Finding, Grid, PasteError, TableOptions, TornCell};
use crate::document::Recorded;
use crate::units::{LengthError, LengthUnit, parse_length_marked};

/// What heads a column of a long table.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum LongHead {
    Station,
    X,
    Line,
    HalfBreadth,
    Height,
    Tolerance,
    Source,
    Use,
    Note,
}

pub(super) fn long_head(name: &str) -> Option<LongHead> {
    let plain: String = name
        .to_lowercase()
        .chars()
        .filter(char::is_ascii_alphanumeric)
        .collect();
    Some(match plain.as_str() {
        "station" | "sta" => LongHead::Station,
        "x" => LongHead::X,
        "line" => LongHead::Line,
        "halfbreadth" | "hb" | "y" => LongHead::HalfBreadth,
        "height" | "ht" | "z" => LongHead::Height,
        "tolerance" | "tol" => LongHead::Tolerance,
        "source" => LongHead::Source,
        "use" | "used" => LongHead::Use,
        "note" | "notes" | "remark" | "remarks" => LongHead::Note,
        _ => return None,
    })
}

/// The columns of a long table.
struct Long<'a> {
    heads: &'a [String],
    /// What heads each column, and its unit.
    columns: Vec<(usize, Option<LongHead>, Option<LengthUnit>)>,
}

impl Long<'_> {
    /// Columns of one head: feet-inches-eighths first, then inches, then the rest: the order in which one counts as
    /// what was typed.
    fn of(&self, head: LongHead) -> Vec<(usize, Option<LengthUnit>)> {
        let mut found: Vec<_> = self
            .columns
            .iter()
            .filter(|column| column.1 == Some(head))
            .map(|&(at, _, unit)| (at, unit))
            .collect();
        found.sort_by_key(|(_, unit)| match unit {
            Some(LengthUnit::FeetInchesEighths) => 0,
            Some(LengthUnit::Inches) => 1,
            None => 2,
            Some(LengthUnit::Millimetres) => 3,
        });
        found
    }

    /// The first column of that head, if there is one.
    fn first(&self, head: LongHead) -> Option<usize> {
        self.of(head).first().map(|(column, _)| *column)
    }

    /// The column that a fault of a row's station or place is told of.
    fn place(&self) -> usize {
        let place = self.first(LongHead::Station);
        place.or_else(|| self.first(LongHead::X)).unwrap_or(0)
    }

    fn text<'r>(&self, row: &'r [String], head: LongHead) -> &'r str {
        let columns = self.of(head);
        columns
            .iter()
            .filter_map(|(at, _)| row.get(*at))
            .find(|text| !text.is_empty())
            .map_or("", String::as_str)
    }
}

pub(super) fn long(grid: &Grid, at: usize, options: &TableOptions, read: &mut Read) {
    let heads = &grid.rows[at].1;
    let columns = heads.iter().enumerate().map(|(n, head)| {
        let (name, unit) = head_and_unit(head);
        (n, long_head(name), unit)
    });
    let table = Long {
        heads,
        columns: columns.collect(),
    };
    let rows = &grid.rows[at + 1..];
    let readings: Vec<_> = table
        .of(LongHead::HalfBreadth)
        .into_iter()
        .chain(table.of(LongHead::Height))
        .collect();
    let filled = |column: usize| {
        rows.iter()
            .any(|(_, row)| row.get(column).is_some_and(|text| !text.is_empty()))
    };
    let stated = [
        LengthUnit::FeetInchesEighths,
        LengthUnit::Inches,
        LengthUnit::Millimetres,
    ]
    .into_iter()
    .find(|unit| {
        readings
            .iter()
            .any(|(column, of)| *of == Some(*unit) && filled(*column))
    });
    read.unit = options.unit.or(stated).unwrap_or_else(|| {
        let cells = rows
            .iter()
            .flat_map(|(_, row)| readings.iter().filter_map(|(n, _)| row.get(*n)));
        likely_unit(cells.map(String::as_str)).unwrap_or_else(|| {
            let placed = [LongHead::X, LongHead::Station];
            let mut placed = placed.into_iter().flat_map(|head| table.of(head));
            let says = placed.find(|(_, unit)| unit.is_some());
            guessed(says.map(|(n, _)| heads[n].as_str()), &mut read.findings)
        })
    });
    let has_x = !table.of(LongHead::X).is_empty();
    let column = |&(n, head, unit): &(usize, Option<LongHead>, Option<LengthUnit>)| {
        let (taken_for, has_lengths) = match head {
            Some(LongHead::Station) => (TakenFor::Station(!has_x), !has_x),
            Some(LongHead::X) => (TakenFor::X, true),
            Some(LongHead::Line) => (TakenFor::Line, false),
            Some(LongHead::HalfBreadth) => (TakenFor::HalfBreadth, true),
            Some(LongHead::Height) => (TakenFor::Height, true),
            Some(LongHead::Tolerance) => (TakenFor::Tolerance, true),
            Some(LongHead::Source) => (TakenFor::Source, false),
            Some(LongHead::Use) => (TakenFor::Use, false),
            Some(LongHead::Note) => (TakenFor::Note, false),
            None => (TakenFor::Unknown, false),
        };
        let unit = unit.unwrap_or(read.unit);
        let bare_x = head == Some(LongHead::X) && unit == LengthUnit::FeetInchesEighths;
        let unit = if bare_x { LengthUnit::Inches } else { unit };
        ColumnAsRead {
            head: heads[n].chars().take(80).collect(),
            unit: has_lengths.then_some(unit),
            taken_for,
        }
    };
    read.recorder.columns_are(table.columns.iter().map(column));
    for (n, head, _) in &table.columns {
        if head.is_none() && filled(*n) {
            read.findings
                .push(Finding::UnknownColumn(table.heads[*n].clone()));
        }
    }
    let mut places: std::collections::BTreeMap<String, f64> = std::collections::BTreeMap::new();
    for (number, row) in rows {
        long_row(&table, *number, row, &mut places, read);
        let texts = (0..heads.len()).map(|n| row.get(n).map_or("", String::as_str));
        read.recorder.row_ends(|| number.to_string(), texts);
    }
}

fn long_row(
    table: &Long<'_>,
    number: usize,
    row: &[String],
    places: &mut std::collections::BTreeMap<String, f64>,
    read: &mut Read,
) {
    let Some((label, x)) = long_station(table, number, row, read) else {
        return;
    };
    if let Some(before) = places.get(&label).copied() {
        if (before - x).abs() > AGREE {
            let fault = CellFault::OtherPlace(before);
            read.recorder.not_taken(true);
            read.refuse((number, table.place()), "station", &label, fault);
            return;
        }
    } else {
        places.insert(label.clone(), x);
    }
    let line = LineName::of(table.text(row, LongHead::Line));
    let line_column = table.first(LongHead::Line).unwrap_or(0);
    let mut entry = Entry {
        place: (number, line_column),
        shown: (read.recorder.number, line_column),
        station: label.clone(),
        x: places.get(&label).copied().unwrap_or(x),
        number_unit: table.of(LongHead::Line).first().and_then(|(_, unit)| *unit),
        half_breadth: None,
        height: None,
        tolerance: None,
        suggested: 0.0,
        source: table.text(row, LongHead::Source).to_owned(),
        set_aside: None,
        note: String::new(),
        line,
    };
    let mut is_torn = false;
    let mut is_refused = false;
    // What each column gives, and where two disagree what the later one does.
    let mut given = [None; 2];
    for (n, (head, name)) in [
        (LongHead::HalfBreadth, "half-breadth"),
        (LongHead::Height, "height"),
    ]
    .into_iter()
    .enumerate()
    {
        match long_value(table, row, head, read) {
            Ok(None) => {}
            Ok(Some(Value::Torn)) => is_torn = true,
            Ok(Some(Value::Read(recorded, suggested))) => {
                given[n] = Some(recorded.mm);
                entry.suggested = entry.suggested.max(suggested);
                *(if head == LongHead::HalfBreadth {
                    &mut entry.half_breadth
                } else {
                    &mut entry.height
                }) = Some(recorded);
            }
            Err((column, fault)) => {
                is_refused = true;
                if let CellFault::Disagree(_, other) = fault {
                    given[n] = Some(other);
                }
                let text = row.get(column).map_or("", String::as_str);
                let head = format!("{}, {name}", entry.line.shown());
                read.refuse((number, column), &head, text, fault);
            }
        }
    }
    if let Some(right) = stands_right(&entry, given, read) {
        read.told[usize::from(!right)] += 1;
    }
    long_extras(table, number, row, &mut entry, read);
    if is_torn || is_refused {
        read.recorder.not_taken(false);
        (entry.half_breadth, entry.height) = (None, None);
        if is_torn && !is_refused {
            read.torn.push(TornCell {
                station: label,
                line: entry.line.shown(),
            });
        }
        read.entries.push(entry);
    } else if let Some(fault) = lacking(&entry) {
        read.recorder.not_taken(false);
        read.refuse((number, line_column), "line", &entry.line.shown(), fault);
    } else {
        read.entries.push(entry);
    }
}

/// Fewest rows that tell of columns changed about, and how many times as many as those that tell otherwise.
const CHANGED: [usize; 2] = [3, 9];

/// What was read, unless its half-breadths and heights stand under each other's heads: that is one cause, not one for each row.
pub(super) fn changed_about(read: Read, heads: &[String]) -> Result<Read, PasteError> {
    let [right, changed] = read.told;
    if changed < CHANGED[0] || changed < CHANGED[1] * right {
        return Ok(read);
    }
    let named = |wanted: LongHead| {
        let is_it = |head: &&String| long_head(head_and_unit(head).0) == Some(wanted);
        heads.iter().find(is_it).cloned().unwrap_or_default()
    };
    Err(PasteError::ChangedAbout {
        half_breadth: named(LongHead::HalfBreadth),
        height: named(LongHead::Height),
        rows: changed,
        of: right + changed,
    })
}

/// Whether a row's coordinates stand as their heads say, or the other way about; none where its line does not tell.
fn stands_right(entry: &Entry, [y, z]: [Option<f64>; 2], read: &Read) -> Option<bool> {
    let on = |given: Option<f64>, place: f64| {
        given.is_some_and(|given| (given - place).abs() <= ON_PLANE)
    };
    let numbers = |figure: &str| {
        let units = [read.unit, LengthUnit::Inches, LengthUnit::Millimetres];
        let units = entry.number_unit.map_or(units, |unit| [unit; 3]);
        units.map(|unit| parse_length_marked(figure, unit, read.mark).unwrap_or(f64::NAN))
    };
    let (right, changed) = match &entry.line {
        LineName::Crown | LineName::Keel => match (y, z) {
            (None, Some(_)) => (true, false),
            (Some(_), None) => (false, true),
            _ => (on(y, 0.0), on(z, 0.0)),
        },
        LineName::Waterline(figure) => {
            let places = numbers(figure);
            let any = |given| places.iter().any(|place| on(given, *place));
            (any(z), any(y))
        }
        LineName::Buttock(figure) | LineName::ButtockUpper(figure) => {
            let places = numbers(figure);
            let any = |given| places.iter().any(|place| on(given, *place));
            (any(y), any(z))
        }
        LineName::Named(_) | LineName::Free => (false, false),
    };
    (right != changed).then_some(right)
}

fn lacking(entry: &Entry) -> Option<CellFault> {
    let (half_breadth, height) = (entry.half_breadth.is_some(), entry.height.is_some());
    match entry.line {
        LineName::Waterline(_) if !half_breadth => Some(CellFault::Lacks("half-breadth")),
        LineName::Crown | LineName::Keel | LineName::Buttock(_) | LineName::ButtockUpper(_)
            if !height =>
        {
            Some(CellFault::Lacks("height"))
        }
        LineName::Named(_) | LineName::Free if !(half_breadth && height) => {
            Some(CellFault::UnknownLine)
        }
        _ => None,
    }
}

fn long_station(
    table: &Long<'_>,
    number: usize,
    row: &[String],
    read: &mut Read,
) -> Option<(String, f64)> {
    let label = station_label(table.text(row, LongHead::Station));
    let station_unit = table
        .of(LongHead::Station)
        .first()
        .and_then(|(_, unit)| *unit);
    if let Some(error) = LengthError::of_a_spreadsheet(&label) {
        let fault = CellFault::Length(error);
        read.refuse((number, table.place()), "station", &label, fault);
        return None;
    }
    let x = long_value(table, row, LongHead::X, read);
    let (x, from_label) = match x {
        Ok(Some(Value::Read(recorded, _))) => (Some(recorded.mm), false),
        Err((column, fault)) => {
            let text = row.get(column).map_or("", String::as_str).to_owned();
            read.refuse((number, column), "x", &text, fault);
            return None;
        }
        Ok(_) => {
            let unit = station_unit.unwrap_or(read.unit);
            let x = parse_length_marked(&label, unit, read.mark).ok();
            // Beside a column of places, the station's is one of labels.
            let is_place = table.first(LongHead::X).is_none();
            if let (Some(mm), Some(column), true) = (x, table.first(LongHead::Station), is_place) {
                read.recorder.saw(column, CellValue::Length(mm));
            }
            (x, true)
        }
    };
    let Some(x) = x else {
        let fault = CellFault::NoPlace;
        read.refuse((number, table.place()), "station", &label, fault);
        return None;
    };
    let label = if label.is_empty() && !from_label {
        table.text(row, LongHead::X).to_owned()
    } else {
        label
    };
    Some((label, x))
}

enum Value {
    Torn,
    Read(Recorded, f64),
}

/// The value of one kind in a row: what was typed, checked against what else is given.
fn long_value(
    table: &Long<'_>,
    row: &[String],
    head: LongHead,
    read: &mut Read,
) -> Result<Option<Value>, (usize, CellFault)> {
    let mut first: Option<(Recorded, f64)> = None;
    let mut torn = false;
    for (column, unit) in table.of(head) {
        let text = match CellText::of(row.get(column).map_or("", String::as_str)) {
            CellText::Empty => continue,
            CellText::Torn => {
                read.recorder.saw(column, CellValue::Torn);
                torn = true;
                continue;
            }
            CellText::Text(text) => text,
        };
        let manner = Manner {
            unit: unit.unwrap_or(read.unit),
            mark: read.mark,
        };
        let bare_x = head == LongHead::X && manner.unit == LengthUnit::FeetInchesEighths;
        let manner = if bare_x {
            Manner {
                unit: LengthUnit::Inches,
                ..manner
            }
        } else {
            manner
        };
        let (recorded, suggested) = manner.value(text).map_err(|fault| (column, fault))?;
        if head == LongHead::HalfBreadth && recorded.mm < 0.0 {
            return Err((column, CellFault::BelowZero(recorded.mm)));
        }
        read.recorder.saw(column, CellValue::Length(recorded.mm));
        match &first {
            Some((typed, _)) if (typed.mm - recorded.mm).abs() > AGREE => {
                return Err((column, CellFault::Disagree(typed.mm, recorded.mm)));
            }
            Some(_) => {}
            None => first = Some((recorded, suggested)),
        }
    }
    Ok(match first {
        Some((recorded, suggested)) => Some(Value::Read(recorded, suggested)),
        None => torn.then_some(Value::Torn),
    })
}

/// Tolerance, use and notes of a row.
fn long_extras(
    table: &Long<'_>,
    number: usize,
    row: &[String],
    entry: &mut Entry,
    read: &mut Read,
) {
    match long_value(table, row, LongHead::Tolerance, read) {
        Ok(Some(Value::Read(recorded, _))) if recorded.mm > 0.0 => {
            entry.tolerance = Some(recorded.mm);
        }
        Ok(Some(Value::Read(recorded, _))) => {
            let column = table.first(LongHead::Tolerance).unwrap_or(0);
            read.refuse(
                (number, column),
                "tolerance",
                &recorded.typed,
                CellFault::Tolerance,
            );
        }
        Err((column, fault)) => {
            let text = row.get(column).map_or("", String::as_str);
            read.refuse((number, column), "tolerance", text, fault);
        }
        Ok(None | Some(Value::Torn)) => {}
    }
    let mut notes: Vec<String> = Vec::new();
    let note = table.text(row, LongHead::Note);
    if !note.is_empty() {
        notes.push(note.to_owned());
    }
    for (n, head, _) in &table.columns {
        if let (None, Some(text)) = (head, row.get(*n).filter(|text| !text.is_empty())) {
            notes.push(format!("{}: {text}", table.heads[*n]));
        }
    }
    entry.note = notes.join("; ");
    let used = table.text(row, LongHead::Use).to_lowercase();
    match used.as_str() {
        "" | "yes" | "y" | "true" | "1" | "used" => {}
        "no" | "n" | "false" | "0" | "set aside" => {
            let reason = if note.is_empty() {
                "not used in the table"
            } else {
                note
            };
            entry.set_aside = Some(reason.to_owned());
        }
        _ => {
            let column = table.first(LongHead::Use).unwrap_or(0);
            read.refuse((number, column), "use", &used, CellFault::YesOrNo);
        }
    }
}
