//! The two forms of a table, long and paper, as a list of entries.
//!
//! In: the grid of cells. Out: one entry for each reading and each torn place, with what was refused and found. What
//! document they make is left to `build`; what each cell was taken for is noted as it is read, for `understood`.

use super::cell::{AGREE, CellFault, CellText, LineName, Manner, ON_PLANE, halves, head_and_unit};
use super::understood::{CellValue, ColumnAsRead, Recorder, TakenFor, column_letters};
use super::{
    Finding, Grid, MOST_TOLD, PasteError, RefusedCell, TableLayout, TableOptions, TornCell,
};
use crate::document::Recorded;
use crate::units::{DecimalMark, LengthError, LengthUnit, parse_length_marked};

/// One reading, or the place of one that is missing.
#[derive(Clone, Debug)]
pub(super) struct Entry {
    /// Row in the text, and column from 0, of what names its line.
    pub(super) place: (usize, usize),
    /// The row and the column that a person is shown it in, from 0.
    pub(super) shown: (usize, usize),
    pub(super) station: String,
    pub(super) x: f64,
    pub(super) line: LineName,
    /// The unit of the line's number, where its own head says it.
    pub(super) number_unit: Option<LengthUnit>,
    pub(super) half_breadth: Option<Recorded>,
    pub(super) height: Option<Recorded>,
    pub(super) tolerance: Option<f64>,
    /// What the form of the values suggests, mm.
    pub(super) suggested: f64,
    pub(super) source: String,
    pub(super) set_aside: Option<String>,
    pub(super) note: String,
}

/// What the text of a table says, before a document is made of it.
#[derive(Debug)]
pub(super) struct Read {
    pub(super) form: TableLayout,
    pub(super) unit: LengthUnit,
    pub(super) mark: DecimalMark,
    pub(super) rows: usize,
    pub(super) entries: Vec<Entry>,
    pub(super) torn: Vec<TornCell>,
    pub(super) refused: Vec<RefusedCell>,
    pub(super) refused_count: usize,
    pub(super) findings: Vec<Finding>,
    pub(super) notes: String,
    pub(super) recorder: Recorder,
    /// How many rows of a long table have half-breadth and height where their heads say, and how many the other way about,
    /// by the coordinate that their line gives.
    told: [usize; 2],
}

impl Read {
    /// Refuses a cell of the row that is read.
    fn refuse(&mut self, place: (usize, usize), head: &str, text: &str, fault: CellFault) {
        self.recorder.saw(place.1, CellValue::Refused);
        self.refuse_only(place, head, text, fault);
    }

    /// Refuses a cell, and leaves it to others to show it so.
    pub(super) fn refuse_only(
        &mut self,
        place: (usize, usize),
        head: &str,
        text: &str,
        fault: CellFault,
    ) {
        self.refused_count += 1;
        if self.refused.len() < MOST_TOLD {
            self.refused.push(RefusedCell {
                row: place.0,
                column: place.1 + 1,
                head: head.chars().take(80).collect(),
                text: text.chars().take(80).collect(),
                fault,
            });
        }
    }
}

/// What heads a column of a long table.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum LongHead {
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

fn long_head(name: &str) -> Option<LongHead> {
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

pub(super) fn read(
    grid: &Grid,
    options: &TableOptions,
    mark: DecimalMark,
) -> Result<Read, PasteError> {
    for (at, (_, head)) in grid.rows.iter().enumerate().take(20) {
        let names = || head.iter().map(|cell| long_head(head_and_unit(cell).0));
        let has = |wanted: LongHead| names().any(|name| name == Some(wanted));
        let is_long = has(LongHead::Line)
            && (has(LongHead::Station) || has(LongHead::X))
            && (has(LongHead::HalfBreadth) || has(LongHead::Height));
        let known = |text: &String| LineName::of(head_and_unit(text).0).is_known();
        let across = head.iter().skip(1).filter(|cell| known(cell)).count();
        let down = grid.rows[at + 1..]
            .iter()
            .filter_map(|(_, row)| row.first())
            .filter(|cell| known(cell))
            .count();
        let mut read = Read {
            form: TableLayout::Long,
            unit: LengthUnit::Millimetres,
            mark,
            rows: 0,
            entries: Vec::new(),
            torn: Vec::new(),
            refused: Vec::new(),
            refused_count: 0,
            findings: passed_over(grid, at),
            notes: String::new(),
            recorder: Recorder::default(),
            told: [0; 2],
        };
        if is_long {
            read.rows = grid.rows.len() - at - 1;
            long(grid, at, options, &mut read);
            return changed_about(read, head);
        }
        // A head of lines, or a first column of lines under a head of stations.
        if across > 0 && across >= down {
            read.form = TableLayout::StationsDown;
        } else if down > 0 && head.len() > 1 && head.iter().skip(1).any(|cell| !cell.is_empty()) {
            read.form = TableLayout::StationsAcross;
        } else {
            continue;
        }
        let sheet = PaperTable {
            grid,
            at,
            across: read.form == TableLayout::StationsAcross,
        };
        read.rows = grid.rows.len() - at - 1;
        sheet.read(options, &mut read);
        return Ok(read);
    }
    Err(PasteError::NoHead)
}

/// The comments, and the rows before the head.
fn passed_over(grid: &Grid, before: usize) -> Vec<Finding> {
    let title = |(row, cells): &(usize, Vec<String>)| Finding::TitleRow {
        row: *row,
        text: cells
            .iter()
            .filter(|cell| !cell.is_empty())
            .cloned()
            .collect::<Vec<_>>()
            .join(", "),
    };
    let titles = grid.rows[..before].iter().map(title);
    grid.comments().into_iter().chain(titles).collect()
}

/// A paper table, seen with its stations down, whichever way round it is.
struct PaperTable<'a> {
    grid: &'a Grid,
    at: usize,
    across: bool,
}

impl PaperTable<'_> {
    fn place(&self, station: usize, line: usize) -> (usize, usize) {
        if self.across {
            (self.at + line, station)
        } else {
            (self.at + station, line)
        }
    }

    /// Head cells are those with `station` or `line` 0.
    fn text(&self, station: usize, line: usize) -> &str {
        let (row, column) = self.place(station, line);
        self.grid
            .rows
            .get(row)
            .and_then(|(_, cells)| cells.get(column))
            .map_or("", String::as_str)
    }

    /// Row in the text, and column from 0.
    fn told(&self, station: usize, line: usize) -> (usize, usize) {
        let (row, column) = self.place(station, line);
        (self.grid.rows.get(row).map_or(0, |(row, _)| *row), column)
    }

    fn counts(&self) -> (usize, usize) {
        let down = self.grid.rows.len() - self.at;
        let wide = self.grid.rows[self.at..]
            .iter()
            .map(|(_, row)| row.len())
            .max()
            .unwrap_or(0);
        if self.across {
            (wide, down)
        } else {
            (down, wide)
        }
    }

    fn read(&self, options: &TableOptions, read: &mut Read) {
        let (stations, lines) = self.counts();
        let (_, station_unit) = head_and_unit(self.text(0, 0));
        let x_column = (1..lines).find(|&l| is_x_head(self.text(0, l)));
        let values = || (1..stations).flat_map(|s| (1..lines).map(move |l| self.text(s, l)));
        read.unit = options.unit.unwrap_or_else(|| {
            likely_unit(values()).or(station_unit).unwrap_or_else(|| {
                let x_head = x_column.map(|line| self.text(0, line));
                guessed(x_head, &mut read.findings)
            })
        });
        let read_unit = read.unit;
        let mut seen = Vec::new();
        let mut columns = Vec::new();
        let own = |unit: Option<LengthUnit>| Some(unit.unwrap_or(read_unit));
        let mut taken_for = vec![(
            TakenFor::Station(x_column.is_none()),
            x_column.is_none().then_some(own(station_unit)).flatten(),
        )];
        for line in 1..lines {
            if Some(line) == x_column {
                taken_for.push((TakenFor::X, own(head_and_unit(self.text(0, line)).1)));
                continue;
            }
            let (name, unit) = head_and_unit(self.text(0, line));
            let kind = LineName::of(name);
            let filled = (1..stations).any(|s| !self.text(s, line).is_empty());
            let paired = (1..stations).any(|s| halves(self.text(s, line)).is_some());
            taken_for.push(if kind == LineName::Free {
                if filled {
                    let text = self.text(0, line);
                    read.refuse_only(self.told(0, line), "head", text, CellFault::UnknownLine);
                }
                (TakenFor::Nothing, None)
            } else if name.eq_ignore_ascii_case("girth") {
                // Our own tables have it.
                (TakenFor::Girth, None)
            } else if !kind.is_known() && !paired {
                read.findings.push(Finding::UnknownColumn(name.to_owned()));
                self.note(line, name, &mut read.notes);
                (TakenFor::Unknown, None)
            } else if seen.contains(&kind) {
                read.refuse_only(self.told(0, line), "head", name, CellFault::Again);
                (TakenFor::Nothing, None)
            } else {
                seen.push(kind.clone());
                columns.push((line, kind.clone(), unit));
                (TakenFor::Readings(kind, None), own(unit))
            });
        }
        let column = |(line, (taken_for, unit)): (usize, (TakenFor, _))| ColumnAsRead {
            head: self.text(0, line).chars().take(80).collect(),
            unit,
            taken_for,
        };
        read.recorder.understood.columns = taken_for.into_iter().enumerate().map(column).collect();
        let mut labels = std::collections::BTreeSet::new();
        for station in 1..stations {
            if (0..lines).all(|line| self.text(station, line).is_empty()) {
                continue;
            }
            let frame = (x_column, station_unit);
            if let Some((label, x)) = self.station(station, frame, &mut labels, read) {
                for (line, kind, unit) in &columns {
                    self.cell((station, *line), (&label, x), (kind, *unit), read);
                }
            }
            let place = || match self.across {
                true => column_letters(station + 1),
                false => self.told(station, 0).0.to_string(),
            };
            let texts = (0..lines).map(|line| self.text(station, line));
            read.recorder.row_ends(place, texts);
        }
    }

    /// Label and place aft of a station; none where it can't be taken.
    fn station(
        &self,
        station: usize,
        (x_column, station_unit): (Option<usize>, Option<LengthUnit>),
        labels: &mut std::collections::BTreeSet<String>,
        read: &mut Read,
    ) -> Option<(String, f64)> {
        let text = self.text(station, 0);
        let label = station_label(text);
        let (line, placed, unit) = match x_column {
            Some(line) => {
                let unit = head_and_unit(self.text(0, line)).1;
                (line, self.text(station, line), unit)
            }
            None => (0, label.as_str(), station_unit),
        };
        let unit = unit.unwrap_or(read.unit);
        let (line, placed) = match LengthError::of_a_spreadsheet(&label) {
            Some(_) => (0, label.as_str()),
            None => (line, placed),
        };
        let fault = match parse_length_marked(placed, unit, read.mark) {
            Ok(x) if labels.insert(label.clone()) => {
                read.recorder.saw(line, CellValue::Length(x));
                return Some((label, x));
            }
            Ok(_) => CellFault::Again,
            Err(error @ (LengthError::Formula { .. } | LengthError::SheetError { .. })) => {
                CellFault::Length(error)
            }
            Err(_) => CellFault::NoPlace,
        };
        let line = if fault == CellFault::Again { 0 } else { line };
        read.recorder.saw(line, CellValue::Refused);
        let text = self.text(station, line);
        read.refuse_only(self.told(station, line), "station", text, fault);
        None
    }

    fn note(&self, line: usize, name: &str, notes: &mut String) {
        for station in 1..self.counts().0 {
            let text = self.text(station, line);
            if !text.is_empty() && notes.len() < 16_000 {
                notes.push_str(&format!("STA {}, {name}: {text}\n", self.text(station, 0)));
            }
        }
    }

    fn cell(
        &self,
        at: (usize, usize),
        station: (&str, f64),
        line: (&LineName, Option<LengthUnit>),
        read: &mut Read,
    ) {
        let manner = Manner {
            unit: line.1.unwrap_or(read.unit),
            mark: read.mark,
        };
        let mut entry = Entry {
            place: self.told(0, at.1),
            shown: (read.recorder.number, at.1),
            station: station.0.to_owned(),
            x: station.1,
            line: line.0.clone(),
            number_unit: line.1,
            half_breadth: None,
            height: None,
            tolerance: None,
            suggested: 0.0,
            source: String::new(),
            set_aside: None,
            note: String::new(),
        };
        let text = match CellText::of(self.text(at.0, at.1)) {
            CellText::Empty => return,
            CellText::Torn => {
                read.torn.push(TornCell {
                    station: station.0.to_owned(),
                    line: line.0.shown(),
                });
                read.recorder.saw(at.1, CellValue::Torn);
                read.entries.push(entry);
                return;
            }
            CellText::Text(text) => text,
        };
        match sheet_values(line.0, text, manner) {
            Ok((half_breadth, height, suggested)) => {
                let value = match (&half_breadth, &height) {
                    (Some(y), Some(z)) => CellValue::Both([y.mm, z.mm]),
                    (Some(one), None) | (None, Some(one)) => CellValue::Length(one.mm),
                    (None, None) => CellValue::Words,
                };
                read.recorder.saw(at.1, value);
                (entry.half_breadth, entry.height, entry.suggested) =
                    (half_breadth, height, suggested);
            }
            Err(fault) => {
                read.recorder.saw(at.1, CellValue::Refused);
                let place = self.told(at.0, at.1);
                read.refuse_only(place, &line.0.shown(), text, fault);
            }
        }
        read.entries.push(entry);
    }
}

type Values = (Option<Recorded>, Option<Recorded>, f64);

fn sheet_values(line: &LineName, text: &str, manner: Manner) -> Result<Values, CellFault> {
    let outward = |(recorded, tolerance): (Recorded, f64)| {
        if recorded.mm < 0.0 {
            Err(CellFault::BelowZero(recorded.mm))
        } else {
            Ok((recorded, tolerance))
        }
    };
    match line {
        LineName::Named(_) | LineName::Free => {
            if let Some(error) = LengthError::of_a_spreadsheet(text) {
                return Err(CellFault::Length(error));
            }
            if super::cell::is_date(text) {
                return Err(CellFault::Date);
            }
            let (half_breadth, height) = halves(text).ok_or(CellFault::NeedsBoth)?;
            let (half_breadth, first) = manner.value(half_breadth).and_then(outward)?;
            let (height, second) = manner.value(height)?;
            Ok((Some(half_breadth), Some(height), first.max(second)))
        }
        LineName::Waterline(_) => {
            let (half_breadth, tolerance) = one_value(text, manner).and_then(outward)?;
            Ok((Some(half_breadth), None, tolerance))
        }
        LineName::Crown | LineName::Keel | LineName::Buttock(_) | LineName::ButtockUpper(_) => {
            let (height, tolerance) = one_value(text, manner)?;
            Ok((None, Some(height), tolerance))
        }
    }
}

fn one_value(text: &str, manner: Manner) -> Result<(Recorded, f64), CellFault> {
    manner.value(text).map_err(|fault| {
        let two =
            halves(text).is_some_and(|(a, b)| manner.value(a).is_ok() && manner.value(b).is_ok());
        if two && matches!(fault, CellFault::Length(_)) {
            CellFault::OneValue
        } else {
            fault
        }
    })
}

fn is_x_head(text: &str) -> bool {
    let name = head_and_unit(text).0.to_lowercase();
    name == "x" || name.starts_with("x from") || name.starts_with("x_from")
}

/// A station's label without the word for it.
fn station_label(text: &str) -> String {
    let name = head_and_unit(text).0;
    let words = ["station", "sta.", "sta"];
    let plain = words.iter().find_map(|word| {
        let start = name.get(..word.len())?;
        start
            .eq_ignore_ascii_case(word)
            .then(|| name.get(word.len()..))
            .flatten()
    });
    plain
        .filter(|rest| !rest.trim().is_empty())
        .unwrap_or(name)
        .trim()
        .to_owned()
}

/// The unit that most cells show by their form; none where none does.
fn likely_unit<'a>(cells: impl Iterator<Item = &'a str>) -> Option<LengthUnit> {
    let (mut dashed, mut inches, mut bare) = (0_usize, 0_usize, 0_usize);
    for cell in cells {
        let first = halves(cell).map_or(cell, |(first, _)| first);
        let figures = first.trim_end_matches(['+', '-', '−']);
        if figures.split('-').count() == 3
            && figures
                .split('-')
                .all(|part| part.trim().parse::<u32>().is_ok())
        {
            dashed += 1;
        } else if first.ends_with(['"', '″'])
            || first.to_lowercase().ends_with("in")
            || first.contains(['\'', '′'])
        {
            inches += 1;
        } else if first.starts_with(|c: char| c.is_ascii_digit() || c == '-')
            && first.ends_with(|c: char| c.is_ascii_digit())
        {
            bare += 1;
        }
    }
    if dashed > 0 && dashed >= inches && dashed >= bare {
        Some(LengthUnit::FeetInchesEighths)
    } else if inches > 0 && inches >= bare {
        Some(LengthUnit::Inches)
    } else {
        None
    }
}

/// The unit of a table of which only x says its unit, or nothing does: that of x, else millimetres.
fn guessed(x_head: Option<&str>, findings: &mut Vec<Finding>) -> LengthUnit {
    let only = x_head.and_then(|head| Some((head, head_and_unit(head).1?)));
    let unit = only.map_or(LengthUnit::Millimetres, |(_, unit)| unit);
    findings.push(Finding::UnitGuessed {
        unit,
        only: only.map(|(head, _)| head.trim().to_owned()),
    });
    unit
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

    fn text<'r>(&self, row: &'r [String], head: LongHead) -> &'r str {
        let columns = self.of(head);
        columns
            .iter()
            .filter_map(|(at, _)| row.get(*at))
            .find(|text| !text.is_empty())
            .map_or("", String::as_str)
    }
}

fn long(grid: &Grid, at: usize, options: &TableOptions, read: &mut Read) {
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
    read.recorder.understood.columns = table.columns.iter().map(column).collect();
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
            read.refuse(
                (number, 0),
                "station",
                &label,
                CellFault::OtherPlace(before),
            );
            return;
        }
    } else {
        places.insert(label.clone(), x);
    }
    let line = LineName::of(table.text(row, LongHead::Line));
    let line_column = table.of(LongHead::Line).first().map_or(0, |(n, _)| *n);
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
        (entry.half_breadth, entry.height) = (None, None);
        if is_torn && !is_refused {
            read.torn.push(TornCell {
                station: label,
                line: entry.line.shown(),
            });
        }
        read.entries.push(entry);
    } else if let Some(fault) = lacking(&entry) {
        read.refuse((number, line_column), "line", &entry.line.shown(), fault);
    } else {
        read.entries.push(entry);
    }
}

/// Fewest rows that tell of columns changed about, and how many times as many as those that tell otherwise.
const CHANGED: [usize; 2] = [3, 9];

/// What was read, unless its half-breadths and heights stand under each other's heads: that is one cause, not one for each row.
fn changed_about(read: Read, heads: &[String]) -> Result<Read, PasteError> {
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
        let column = table.of(LongHead::Station).first().map_or(0, |(n, _)| *n);
        let fault = CellFault::Length(error);
        read.refuse((number, column), "station", &label, fault);
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
            if let (Some(mm), Some((column, _))) = (x, table.of(LongHead::Station).first()) {
                read.recorder.saw(*column, CellValue::Length(mm));
            }
            (x, true)
        }
    };
    let Some(x) = x else {
        let column = table
            .of(LongHead::Station)
            .first()
            .map_or(0, |(column, _)| *column);
        let fault = CellFault::NoPlace;
        read.refuse((number, column), "station", &label, fault);
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
            let column = table
                .of(LongHead::Tolerance)
                .first()
                .map_or(0, |(column, _)| *column);
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
            let column = table
                .of(LongHead::Use)
                .first()
                .map_or(0, |(column, _)| *column);
            read.refuse((number, column), "use", &used, CellFault::YesOrNo);
        }
    }
}
