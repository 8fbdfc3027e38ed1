//! A table as it was understood: what each of its columns was taken for, and its first rows with their values.
//!
//! In: what `paper` or `long` comes to, cell by cell. Out: [`Understood`], for a person who looks at it before anything is taken in.

use std::collections::BTreeSet;

use super::cell::{CellText, LineName};
use crate::units::{LengthUnit, Message, format_length_with_unit};

/// So many rows are shown from the first on.
const FIRST: usize = 12;
/// Most rows that are shown: behind the first ones, those with a torn or a refused cell.
const MOST_SHOWN: usize = 60;
/// Most columns that are shown, from the first on.
const MOST_COLUMNS_SHOWN: usize = 60;

/// What the cells of a table were taken for.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Understood {
    /// From the left, the first ones; of a sheet that has one station a column, from its top.
    pub columns: Vec<ColumnAsRead>,
    /// Columns that are not shown.
    pub columns_not_shown: usize,
    /// The first ones, and those further down that have a torn or a refused cell.
    pub rows: Vec<RowAsRead>,
    /// Rows that are not shown.
    pub not_shown: usize,
    /// So many of these have a torn or a refused cell.
    pub not_shown_lost: usize,
}

/// A column, or a row of a sheet that has one station a column.
#[derive(Clone, Debug, PartialEq)]
pub struct ColumnAsRead {
    /// What heads it.
    pub head: String,
    /// The unit of its bare numbers; none where it holds no lengths.
    pub unit: Option<LengthUnit>,
    pub(super) taken_for: TakenFor,
}

/// What a column was taken for.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum TakenFor {
    /// The station's label, and whether that is its place aft too.
    Station(bool),
    /// The place aft.
    X,
    /// Which line a row is of.
    Line,
    HalfBreadth,
    Height,
    Tolerance,
    Source,
    Use,
    Note,
    /// Readings of one line, and where its plane lies, mm.
    Readings(LineName, Option<f64>),
    /// It follows from the rest.
    Girth,
    /// What it says was kept in the notes.
    Unknown,
    /// It heads nothing that could be taken.
    Nothing,
}

impl TakenFor {
    fn is_half_of_a_reading(&self) -> bool {
        matches!(self, Self::HalfBreadth | Self::Height)
    }
}

impl Message for ColumnAsRead {
    fn message(&self, unit: LengthUnit) -> String {
        let at = |at: &Option<f64>, way: &str| {
            at.map_or_else(String::new, |mm| {
                format!(", {} {way}", format_length_with_unit(mm, unit))
            })
        };
        match &self.taken_for {
            TakenFor::Station(true) => "station, and its place aft".to_owned(),
            TakenFor::Station(false) => "station".to_owned(),
            TakenFor::X => "place aft, x".to_owned(),
            TakenFor::Line => "line".to_owned(),
            TakenFor::HalfBreadth => "half-breadth".to_owned(),
            TakenFor::Height => "height".to_owned(),
            TakenFor::Tolerance => "tolerance".to_owned(),
            TakenFor::Source => "source".to_owned(),
            TakenFor::Use => "whether it is used".to_owned(),
            TakenFor::Note => "note".to_owned(),
            TakenFor::Readings(line @ (LineName::Crown | LineName::Keel), _) => {
                format!("height of the {}", line.shown())
            }
            TakenFor::Readings(line @ LineName::Waterline(_), place) => {
                format!("half-breadth on {}{}", line.shown(), at(place, "up"))
            }
            TakenFor::Readings(line @ LineName::Buttock(_), place) => {
                format!("height on {}{}", line.shown(), at(place, "out"))
            }
            TakenFor::Readings(LineName::ButtockUpper(figure), place) => {
                format!("height on BL {figure}, its upper cut{}", at(place, "out"))
            }
            TakenFor::Readings(line @ (LineName::Named(_) | LineName::Free), _) => {
                format!("half-breadth/height of the run line {}", line.shown())
            }
            TakenFor::Girth => "not taken: it follows from the rest".to_owned(),
            TakenFor::Unknown => "not known: kept in the notes".to_owned(),
            TakenFor::Nothing => "not taken".to_owned(),
        }
    }
}

/// A row, or a column of a sheet that has one station a column.
#[derive(Clone, Debug, PartialEq)]
pub struct RowAsRead {
    /// Its number in the sheet from 1, or the letters of its column.
    pub place: String,
    /// One for each of the columns.
    pub cells: Vec<CellAsRead>,
    number: usize,
}

/// A cell.
#[derive(Clone, Debug, PartialEq)]
pub struct CellAsRead {
    /// As it stands in the sheet.
    pub text: String,
    /// What it was taken for.
    pub value: CellValue,
}

/// What a cell was taken for.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum CellValue {
    /// What it says, or nothing.
    Words,
    /// Torn: the place is known, its value is not.
    Torn,
    /// A length, mm.
    Length(f64),
    /// Half-breadth and height, mm.
    Both([f64; 2]),
    /// Not taken; the list of refused cells says why.
    Refused,
    /// Not taken, since another cell of its row is torn or was refused.
    NotTaken,
}

/// Notes what comes of cells while a table is read, row by row.
#[derive(Clone, Debug, Default)]
pub(super) struct Recorder {
    pub(super) understood: Understood,
    /// The number of the row that is read, from 0.
    pub(super) number: usize,
    now: Vec<(usize, CellValue)>,
    /// Rows that are not shown and have a torn or a refused cell.
    lost: BTreeSet<usize>,
}

impl Recorder {
    /// The columns, from the first on.
    pub(super) fn columns_are(&mut self, mut columns: impl Iterator<Item = ColumnAsRead>) {
        let shown = columns.by_ref().take(MOST_COLUMNS_SHOWN);
        self.understood.columns = shown.collect();
        self.understood.columns_not_shown = columns.count();
    }

    /// Notes what a cell of the row that is read was taken for.
    pub(super) fn saw(&mut self, column: usize, value: CellValue) {
        self.now.push((column, value));
    }

    /// The readings of the row that is read are not taken, though they can be read; nor is its place, if so.
    pub(super) fn not_taken(&mut self, with_place: bool) {
        for (column, value) in &mut self.now {
            let of = self.understood.columns.get(*column);
            let is_it = of.is_some_and(|of| {
                of.taken_for.is_half_of_a_reading() || with_place && of.taken_for == TakenFor::X
            });
            if is_it && matches!(value, CellValue::Length(_)) {
                *value = CellValue::NotTaken;
            }
        }
    }

    /// The row that was read stands there, and has these texts.
    pub(super) fn row_ends<'t>(
        &mut self,
        place: impl FnOnce() -> String,
        texts: impl Iterator<Item = &'t str>,
    ) {
        let seen = core::mem::take(&mut self.now);
        let number = self.number;
        self.number += 1;
        let is_lost = seen
            .iter()
            .any(|(_, value)| matches!(value, CellValue::Torn | CellValue::Refused));
        let table = &mut self.understood;
        let is_shown = number < FIRST || is_lost && table.rows.len() < MOST_SHOWN;
        if !is_shown {
            table.not_shown += 1;
            if is_lost {
                self.not_shown_lost(number);
            }
            return;
        }
        let cell = |(column, text): (&ColumnAsRead, &str)| {
            let is_empty = CellText::of(text) == CellText::Empty;
            CellAsRead {
                text: text.chars().take(80).collect(),
                // A length that nobody looked at.
                value: match column.unit {
                    Some(_) if !is_empty => CellValue::NotTaken,
                    _ => CellValue::Words,
                },
            }
        };
        let mut cells: Vec<CellAsRead> = table.columns.iter().zip(texts).map(cell).collect();
        for (column, value) in seen {
            if let Some(cell) = cells.get_mut(column) {
                cell.value = value;
            }
        }
        table.rows.push(RowAsRead {
            place: place(),
            cells,
            number,
        });
    }

    fn not_shown_lost(&mut self, number: usize) {
        self.lost.insert(number);
        self.understood.not_shown_lost = self.lost.len();
    }

    /// What was taken for something at first could not be taken after all, nor could the readings of its row.
    pub(super) fn refused_after_all(&mut self, (number, column): (usize, usize)) {
        let table = &mut self.understood;
        let Some(row) = table.rows.iter_mut().find(|row| row.number == number) else {
            self.not_shown_lost(number);
            return;
        };
        for (of, cell) in table.columns.iter().zip(&mut row.cells) {
            if of.taken_for.is_half_of_a_reading() && matches!(cell.value, CellValue::Length(_)) {
                cell.value = CellValue::NotTaken;
            }
        }
        if let Some(cell) = row.cells.get_mut(column) {
            cell.value = CellValue::Refused;
        }
    }
}

/// A column's letters in a spreadsheet, from its number from 1: A to Z, AA …
#[must_use]
pub fn column_letters(column: usize) -> String {
    let mut letters = Vec::new();
    let mut rest = column;
    while rest > 0 {
        let letter = u8::try_from((rest - 1) % 26).unwrap_or_default();
        letters.push(char::from(b'A' + letter));
        rest = (rest - 1) / 26;
    }
    letters.iter().rev().collect()
}

#[cfg(test)]
mod tests {
    use super::super::{Preview, TableOptions, read_table};
    use super::*;
    use crate::units::format_length;

    fn read(text: &str) -> Preview {
        read_table(text.as_bytes(), &TableOptions::default()).unwrap()
    }

    /// What each column was taken for, and each row's cells in its columns' units.
    fn shown_of(preview: &Preview) -> (Vec<String>, Vec<String>) {
        let table = &preview.understood;
        let columns = table.columns.iter().map(|column| {
            let unit = column.unit.map_or("", LengthUnit::short);
            format!("{}: {} {unit}", column.head, column.message(preview.unit))
        });
        let cell = |(column, cell): (&ColumnAsRead, &CellAsRead)| {
            let unit = column.unit.unwrap_or_default();
            match cell.value {
                CellValue::Words => cell.text.clone(),
                CellValue::Torn => "torn".to_owned(),
                CellValue::Length(mm) => format_length(mm, unit),
                CellValue::Both([y, z]) => {
                    format!("{}/{}", format_length(y, unit), format_length(z, unit))
                }
                CellValue::Refused => format!("refused {}", cell.text),
                CellValue::NotTaken => format!("not taken {}", cell.text),
            }
        };
        let rows = table.rows.iter().map(|row| {
            let cells = table.columns.iter().zip(&row.cells).map(cell);
            let cells: Vec<String> = cells.collect();
            format!("{}| {}", row.place, cells.join(" | "))
        });
        (columns.collect(), rows.collect())
    }

    #[test]
    fn a_paper_table_is_shown_as_it_was_understood() {
        let text = "STA,x mm,Crown,WL 2,BL 1 U,joint,girth,weather\n0,0,1-0-0,0-6-1+,?,0-6-0/0-8-0,9,fine\n\
                    1,300,1-0-4,=B2+3,0-9-0,-,9,\n";
        let (columns, rows) = shown_of(&read(text));
        assert_eq!(
            columns,
            [
                "STA: station ",
                "x mm: place aft, x mm",
                "Crown: height of the crown ft-in-8",
                "WL 2: half-breadth on WL 2, 0-2-0 up ft-in-8",
                "BL 1 U: height on BL 1, its upper cut, 0-1-0 out ft-in-8",
                "joint: half-breadth/height of the run line joint ft-in-8",
                "girth: not taken: it follows from the rest ",
                "weather: not known: kept in the notes ",
            ]
        );
        assert_eq!(
            rows,
            [
                "2| 0 | 0.0 | 1-0-0 | 0-6-1+ | torn | 0-6-0/0-8-0 | 9 | fine",
                "3| 1 | 300.0 | 1-0-4 | refused =B2+3 | 0-9-0 | - | 9 | ",
            ]
        );
    }

    #[test]
    fn a_sheet_with_a_station_a_column_is_shown_a_station_a_row() {
        let text = "line (mm)\tSTA 0\tSTA 500\ncrown\t100\t110\nWL 40\t32.5\t#REF!\nkeel\t5\t6\n";
        let preview = read(text);
        let (columns, rows) = shown_of(&preview);
        assert_eq!(columns[2], "WL 40: half-breadth on WL 40, 40.0 mm up mm");
        assert_eq!(
            rows,
            [
                "B| 0.0 | 100.0 | 32.5 | 5.0",
                "C| 500.0 | 110.0 | refused #REF! | 6.0"
            ]
        );
        assert_eq!(preview.refused[0].address(), "C3");
        let says = preview.refused[0].message(preview.unit);
        assert!(
            says.starts_with("Row 3, WL 40 (C3): `#REF!` is an error of a spreadsheet"),
            "{says}"
        );
    }

    #[test]
    fn a_long_table_is_shown_with_every_row_that_lost_a_cell() {
        let mut text = "station,x_mm,line,half_breadth,height,note\n".to_owned();
        for n in 0..40 {
            let height = match n {
                25 => "#N/A".to_owned(),
                31 => "?".to_owned(),
                n => (100 + n).to_string(),
            };
            text += &format!("{n},{},crown,,{height},as painted\n", 10 * n);
        }
        text += "#REF!,0,keel,,12,\n";
        let preview = read(&text);
        let (columns, rows) = shown_of(&preview);
        assert_eq!(columns[1], "x_mm: place aft, x mm");
        assert_eq!(rows.len(), 15);
        assert_eq!(rows[0], "2| 0 | 0.0 | crown |  | 100.0 | as painted");
        assert_eq!(
            rows[12],
            "27| 25 | 250.0 | crown |  | refused #N/A | as painted"
        );
        assert_eq!(rows[13], "33| 31 | 310.0 | crown |  | torn | as painted");
        assert_eq!(preview.understood.not_shown, 26);
        // A row that begins with a spreadsheet's error is no comment.
        assert!(rows[14].starts_with("42| "), "{}", rows[14]);
        let said: Vec<String> = { preview.findings.iter() }
            .map(|finding| finding.message(preview.unit))
            .collect();
        let unit =
            "The columns of readings do not say their unit: taken as millimetres, as «x_mm» is.";
        assert!(said.iter().any(|says| says.starts_with(unit)), "{said:?}");
    }

    /// A long table under a head that is not known is taken for a sheet with a station a column, of as many lines as it has rows.
    #[test]
    fn of_20_000_columns_the_first_are_shown() {
        let mut text = "line,pos,500,1000\n".to_owned();
        for n in 1..20_000 {
            // What was read already is refused, and shown with the others.
            text += &format!("WL {},0,12.5,100\n", n.min(100));
        }
        let preview = read(&text);
        let table = &preview.understood;
        assert_eq!((table.columns.len(), table.columns_not_shown), (60, 19_940));
        let mut shown = table.rows.iter();
        assert!(shown.all(|row| row.cells.len() == 60));
        let (columns, rows) = shown_of(&preview);
        assert_eq!(columns[59], "WL 59: half-breadth on WL 59, 59.0 mm up mm");
        assert!(
            rows[0].starts_with("B| refused pos | not taken 0 | "),
            "{}",
            rows[0]
        );
    }

    #[test]
    fn rows_not_shown_that_lost_a_cell_are_counted_once() {
        let mut text = "station,x_mm,line,half_breadth_mm,height_mm\n".to_owned();
        for n in 0..200 {
            let (line, height) = match n {
                // Read row by row, and refused when the planes are placed; some have a torn cell as well.
                20..40 | 180..190 => ("WL 24 aft", "?"),
                40..50 => ("WL 24 aft", "24"),
                100..180 => ("crown", "#N/A"),
                _ => ("keel", "12"),
            };
            text += &format!("{n},{},{line},0,{height}\n", 10 * n);
        }
        let table = read(&text).understood;
        // Shown: twelve, twenty that are torn, 28 of those refused.
        assert_eq!((table.rows.len(), table.not_shown), (60, 140));
        assert_eq!(table.not_shown_lost, 10 + (80 - 28) + 10);
    }

    #[test]
    fn what_is_not_taken_is_not_shown_as_if_it_was() {
        let text = "station,x_mm,line,half_breadth_mm,half_breadth_in,height_mm,note\n\
                    1,0,WL 8,3,?,#N/A,seen\n\
                    2,10,WL 8,-3,1,?,seen\n\
                    3,#REF!,WL 8,3,,8,seen\n\
                    4,20,WL 8,,,8,seen\n\
                    5,30,WL 8 aft,3,,8,seen\n\
                    1,40,WL 8,3,-,8,seen\n\
                    6,50,WL 8,3,,8,seen\n\
                    7,60,WL 8,3,2,8,seen\n";
        let (_, rows) = shown_of(&read(text));
        let expected = [
            "2| 1 | 0.0 | WL 8 | not taken 3 | torn | refused #N/A | seen",
            "3| 2 | 10.0 | WL 8 | refused -3 | not taken 1 | torn | seen",
            "4| 3 | refused #REF! | WL 8 | not taken 3 |  | not taken 8 | seen",
            "5| 4 | 20.0 | refused WL 8 |  |  | not taken 8 | seen",
            "6| 5 | 30.0 | refused WL 8 aft | not taken 3 |  | not taken 8 | seen",
            "7| refused 1 | not taken 40 | WL 8 | not taken 3 | - | not taken 8 | seen",
            "8| 6 | 50.0 | WL 8 | 3.0 |  | 8.0 | seen",
            "9| 7 | 60.0 | WL 8 | refused 3 | not taken 2 | not taken 8 | seen",
        ];
        for (row, expected) in rows.iter().zip(expected) {
            assert_eq!(row, expected);
        }
    }

    /// A row without an x has its station's label for its place; that column's unit is not said, since it is not of lengths.
    #[test]
    fn a_station_beside_a_column_of_places_is_a_label() {
        let text = "station,x_mm,line,height_mm\n10,,keel,12\n20,20,keel,13\n";
        let (columns, rows) = shown_of(&read(text));
        assert_eq!(columns[0], "station: station ");
        assert_eq!(
            rows,
            ["2| 10 |  | keel | 12.0", "3| 20 | 20.0 | keel | 13.0"]
        );
    }

    #[test]
    fn columns_have_the_letters_of_a_spreadsheet() {
        let letters = [1, 26, 27, 52, 53, 401].map(column_letters);
        assert_eq!(letters, ["A", "Z", "AA", "AZ", "BA", "OK"]);
    }
}
