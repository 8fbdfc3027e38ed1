//! A paper table, one station a row or a column, as a list of entries.
//!
//! In: the grid of cells and the row of its head. Out: the entries, and what was refused and found, in a [`Read`].

use super::cell::{CellFault, CellText, LineName, Manner, halves, head_and_unit, is_date};
use super::table::{Entry, Read, guessed, likely_unit, station_label};
use super::understood::{CellValue, ColumnAsRead, TakenFor, column_letters};
use super::{Finding, Grid, TableOptions, TornCell};
use crate::document::Recorded;
use crate::units::{LengthError, LengthUnit, parse_length_marked};

/// A paper table, seen with its stations down, whichever way round it is.
pub(super) struct PaperTable<'a> {
    pub(super) grid: &'a Grid,
    pub(super) at: usize,
    pub(super) across: bool,
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

    pub(super) fn read(&self, options: &TableOptions, read: &mut Read) {
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
                match kind.plane(unit.unwrap_or(read_unit), read.mark) {
                    Ok(place) => {
                        seen.push(kind.clone());
                        columns.push((line, kind.clone(), unit));
                        (TakenFor::Readings(kind, place), own(unit))
                    }
                    Err(error) => {
                        if filled {
                            let text = self.text(0, line);
                            let fault = CellFault::Length(error);
                            read.refuse_only(self.told(0, line), "head", text, fault);
                        }
                        (TakenFor::Nothing, None)
                    }
                }
            });
        }
        let column = |(line, (taken_for, unit)): (usize, (TakenFor, _))| ColumnAsRead {
            head: self.text(0, line).chars().take(80).collect(),
            unit,
            taken_for,
        };
        read.recorder
            .columns_are(taken_for.into_iter().enumerate().map(column));
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
            if is_date(text) {
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
