//! The door for tables: pasted text becomes a preview, and only that becomes a document.
//!
//! In: bytes or text of a long table or a paper table, trusted in nothing. Out: a [`Preview`] that says what was read,
//! what was guessed, what was refused and why, and holds a fresh document; or a [`PasteError`]. Reading order: this
//! file, `cell`, `table`, `paper`, `long`, `layout`, `understood`, `build`, `centreline`.

use core::fmt;

pub(super) mod build;
mod cell;
mod centreline;
mod layout;
mod long;
mod paper;
mod table;
pub mod understood;

pub use cell::{CellFault, INCH_TOLERANCE, LEAST_TOLERANCE};
use understood::{Understood, column_letters};

use super::Side;
use super::body::find::station_words;
use super::file::{Guise, NoText, text_of, utf16_text_of};
use super::rules::Fault;
use super::{Lines, Peak};
use crate::units::{DecimalMark, LengthError, LengthUnit, Message, fixed, format_length_with_unit};

/// Largest table that is read, in bytes: 8 MiB.
pub const LARGEST_TABLE: usize = 8 << 20;
/// Most rows.
pub const MOST_ROWS: usize = 20_000;
/// Most columns.
pub const MOST_COLUMNS: usize = 401;
/// Most cells.
pub const MOST_CELLS: usize = 1_000_000;
/// Most refused cells and findings that are kept, each; the rest is counted.
pub const MOST_TOLD: usize = 1_000;

/// What parts the columns.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Separator {
    /// `,`
    Comma,
    /// `;`
    Semicolon,
    /// A tab, as spreadsheets paste.
    Tab,
}

impl Separator {
    fn byte(self) -> u8 {
        match self {
            Self::Comma => b',',
            Self::Semicolon => b';',
            Self::Tab => b'\t',
        }
    }

    /// As a person calls it.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Comma => "comma",
            Self::Semicolon => "semicolon",
            Self::Tab => "tab",
        }
    }
}

/// How a table is laid out.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum TableLayout {
    /// One reading a row.
    Long,
    /// A paper table, one station a row.
    StationsDown,
    /// A paper table, one station a column.
    StationsAcross,
}

/// What is known of a table beforehand; all else is guessed and told.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct TableOptions {
    /// What parts the columns.
    pub separator: Option<Separator>,
    /// Which mark parts whole from fraction.
    pub decimal_mark: Option<DecimalMark>,
    /// The unit of bare numbers.
    pub unit: Option<LengthUnit>,
    /// How far a reading may be out where the table does not say, mm.
    pub tolerance: Option<f64>,
    /// Title of the document; absent: «Pasted offsets».
    pub title: Option<String>,
    /// Title of the source where the table names none; absent: «Pasted table».
    pub source: Option<String>,
}

/// A cell that is torn or cannot be read: its place is known, its value is not.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct TornCell {
    /// Label of the station.
    pub station: String,
    /// Name of the line, as `WL 28`.
    pub line: String,
}

impl fmt::Display for TornCell {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}, {}", station_words(&self.station), self.line)
    }
}

/// A cell that was not taken, and why.
#[derive(Clone, Debug, PartialEq)]
pub struct RefusedCell {
    /// Row, from 1.
    pub row: usize,
    /// Column, from 1.
    pub column: usize,
    /// What heads it, as `WL 36`.
    pub head: String,
    /// Its text.
    pub text: String,
    /// Why.
    pub fault: CellFault,
}

impl RefusedCell {
    /// The cell as a spreadsheet calls it, as `C4`, counted from the first cell of the table's text.
    #[must_use]
    pub fn address(&self) -> String {
        format!("{}{}", column_letters(self.column), self.row)
    }
}

impl Message for RefusedCell {
    fn message(&self, unit: LengthUnit) -> String {
        let place = if self.head.is_empty() {
            format!("column {}", self.column)
        } else {
            self.head.clone()
        };
        let (row, address) = (self.row, self.address());
        let says = self.fault.message(unit);
        if self.text.is_empty() || says.contains(&format!("`{}`", self.text)) {
            format!("Row {row}, {place} ({address}): {says}")
        } else {
            format!("Row {row}, {place} ({address}): `{}`. {says}", self.text)
        }
    }
}

/// What a person should know of a table that was read.
#[derive(Clone, Debug, PartialEq)]
pub enum Finding {
    /// The readings do not say their unit.
    UnitGuessed {
        /// The one taken.
        unit: LengthUnit,
        /// The head of the only column that says its own, which is not one of readings.
        only: Option<String>,
    },
    /// Readings without a tolerance of their own were given one, mm; how many of them, and that many mm.
    ToleranceGiven {
        /// How many readings.
        readings: usize,
        /// The smallest, mm.
        least: f64,
        /// The largest, mm.
        most: f64,
    },
    /// Rows that begin with `#` were passed over.
    Comments {
        /// How many.
        rows: usize,
        /// The first one, from 1.
        row: usize,
        /// What it says, behind its `#`.
        text: String,
    },
    /// A row before the head was passed over.
    TitleRow {
        /// From 1.
        row: usize,
        /// Its text.
        text: String,
    },
    /// A column that is not known; its cells went into the notes.
    UnknownColumn(String),
    /// Lines' numbers were read in another unit than the table's, since the given coordinates say so.
    NumbersIn(LengthUnit),
    /// A given coordinate is not that of the line's own plane, mm.
    OffPlane {
        /// Row, from 1.
        row: usize,
        /// The point, as «STA 48, WL 32».
        point: String,
        /// As given.
        given: f64,
        /// The plane's.
        plane: f64,
    },
    /// A waterline or buttock line outside all that was read of the body, mm.
    OutsideBody {
        /// Its name.
        line: String,
        /// Where it lies.
        at: f64,
        /// The nearest part of the body.
        body: f64,
    },
    /// More than one line is called a joint; the first is taken.
    SecondJoint(String),
    /// Points on no line were taken as the crown and the keel, since no line of the table is called so.
    Outermost {
        /// At so many stations the topmost one as the crown.
        crown: usize,
        /// At so many stations the lowest one as the keel.
        keel: usize,
        /// Labels of the stations where one of them was not there to be taken.
        without: Vec<String>,
    },
    /// How the sections seem to cross the centre plane.
    Crossing {
        /// Above or below.
        side: Side,
        /// The form taken.
        form: Peak,
        /// Slope at the centre over slope of the first chord, the middle one of all stations: 0 smooth, 1 peaked.
        ratio: f64,
    },
    /// Refused cells or findings beyond [`MOST_TOLD`].
    More(usize),
}

impl Message for Finding {
    fn message(&self, unit: LengthUnit) -> String {
        let length = |mm: f64| format_length_with_unit(mm, unit);
        match self {
            Self::UnitGuessed { unit, only: None } => format!(
                "The table does not say its unit: taken as {}. Change it if that is wrong.",
                unit.name()
            ),
            Self::UnitGuessed {
                unit,
                only: Some(head),
            } => format!(
                "The columns of readings do not say their unit: taken as {}, as «{head}» is. Change it if that is wrong.",
                unit.name()
            ),
            Self::ToleranceGiven {
                readings,
                least,
                most,
            } if crate::num::same(*least, *most) => format!(
                "{readings} readings have no tolerance of their own and were given {} mm. Change it if they are better \
                 or worse.",
                fixed(*most, 2)
            ),
            Self::ToleranceGiven {
                readings,
                least,
                most,
            } => format!(
                "{readings} readings have no tolerance of their own and were given {} to {} mm by their form. Change \
                 it if they are better or worse.",
                fixed(*least, 2),
                fixed(*most, 2)
            ),
            Self::Comments { rows: 1, row, text } => {
                format!("Row {row} begins with # and was passed over as a comment: {text}")
            }
            Self::Comments { rows, row, text } => format!(
                "{rows} rows begin with # and were passed over as comments; the first is row {row}: {text}"
            ),
            Self::TitleRow { row, text } => format!("Row {row} was passed over as a title: {text}"),
            Self::UnknownColumn(name) => {
                format!("The column «{name}» is not known; what it says was kept in the notes.")
            }
            Self::NumbersIn(unit) => format!(
                "Lines' numbers are in {}: so the given heights and half-breadths say.",
                unit.name()
            ),
            Self::OffPlane {
                row,
                point,
                given,
                plane,
            } => format!(
                "Row {row}, {point}: gives {} where its line lies at {}. The line's own place was taken.",
                length(*given),
                length(*plane)
            ),
            Self::OutsideBody { line, at, body } => format!(
                "{line} lies at {}, outside the body, which ends at {}. Is the unit of its number right?",
                length(*at),
                length(*body)
            ),
            Self::SecondJoint(name) => {
                format!("{name} is a second joint; it was taken as a run line only.")
            }
            Self::Outermost {
                crown,
                keel,
                without,
            } => outermost_says(*crown, *keel, without),
            Self::Crossing {
                side,
                form: Peak::Peaked,
                ..
            } => format!(
                "At the {} the two sides seem to meet in a corner: taken as peaked.",
                side.name()
            ),
            Self::Crossing {
                side,
                form: Peak::Smooth,
                ..
            } => format!(
                "At the {} the two sides seem to run level into each other, without a corner: taken as smooth.",
                side.name()
            ),
            Self::More(count) => format!("{count} more of this kind are not listed."),
        }
    }
}

/// What is said of the crown and the keel that were taken at so many stations, and of those where one was not there.
fn outermost_says(crown: usize, keel: usize, without: &[String]) -> String {
    let stations = |n: usize| {
        if n == 1 {
            "1 station".to_owned()
        } else {
            format!("{n} stations")
        }
    };
    let mut says = match (crown, keel) {
        (0, keel) => format!(
            "No line of the table is called keel: the lowest point at half-breadth 0 is taken as the keel at {}.",
            stations(keel)
        ),
        (crown, 0) => format!(
            "No line of the table is called crown: the topmost point at half-breadth 0 is taken as the crown at {}.",
            stations(crown)
        ),
        (crown, keel) if crown == keel => format!(
            "No line of the table is called crown or keel: the topmost and the lowest point at half-breadth 0 are \
                         taken as crown and keel at {}.",
            stations(crown)
        ),
        (crown, keel) => format!(
            "No line of the table is called crown or keel: the topmost point at half-breadth 0 is taken as the \
                         crown at {}, and the lowest as the keel at {}.",
            stations(crown),
            stations(keel)
        ),
    };
    if let Some(first) = without.first() {
        let more = match without.len() - 1 {
            0 => String::new(),
            more => format!(" and {} more", stations(more)),
        };
        says += &format!(
            " Not at {}{more}, where it lies off the centre plane or below another point: name it in the column \
                         line, if it is there.",
            station_words(first)
        );
    }
    says
}

/// Why a table was not read; the work is as it was.
#[derive(Clone, Debug, PartialEq)]
pub enum PasteError {
    /// Nothing is in it.
    Empty,
    /// It is larger than [`LARGEST_TABLE`]; its size in bytes.
    TooLarge(usize),
    /// It is no text.
    NoText(NoText),
    /// It is something else.
    SomethingElse(Guise),
    /// More than [`MOST_ROWS`], or [`MOST_CELLS`].
    TooManyRows,
    /// More than [`MOST_COLUMNS`], in this row.
    TooManyColumns(usize),
    /// A quotation mark that is never closed; the row where it stands.
    OpenQuote(usize),
    /// No row looks like the head of an offsets table.
    NoHead,
    /// Half-breadths and heights stand under each other's heads: in so many rows, of so many that tell.
    ChangedAbout {
        /// The head over the heights.
        half_breadth: String,
        /// The head over the half-breadths.
        height: String,
        /// In so many rows.
        rows: usize,
        /// Of so many.
        of: usize,
    },
    /// No cell could be read; what was wrong with the first ones, and the table's unit.
    NothingRead(Vec<RefusedCell>, LengthUnit),
    /// The tolerance asked for is not over zero, mm.
    Tolerance(f64),
    /// What was read breaks a rule.
    Unsound(Fault),
}

impl Message for PasteError {
    fn message(&self, unit: LengthUnit) -> String {
        match self {
            Self::Empty => "This table is empty. Paste an offsets table, or choose another file.".to_owned(),
            Self::TooLarge(size) => format!(
                "This table has {} MiB; at most {} are read. Choose another.",
                size >> 20,
                LARGEST_TABLE >> 20
            ),
            Self::NoText(what) => what.to_string(),
            Self::SomethingElse(Guise::Json) => {
                "This is a JSON text, not a table. If Scrieve Board saved it, open it as a file.".to_owned()
            }
            Self::SomethingElse(guise @ Guise::Archive) => {
                format!("This is {}, not a text. Save the sheet as CSV and take that in.", guise.name())
            }
            Self::SomethingElse(guise) => {
                format!("This is {}, not a table. Paste an offsets table, or choose another file.", guise.name())
            }
            Self::TooManyRows => format!(
                "This table has more than {MOST_ROWS} rows or {MOST_CELLS} cells. Leave some out."
            ),
            Self::TooManyColumns(row) => {
                format!("Row {row} has more than {MOST_COLUMNS} columns. Leave some out.")
            }
            Self::OpenQuote(row) => format!(
                "Row {row}: a quotation mark is opened and not closed. Close it, or write inches as in."
            ),
            Self::NoHead => "No row looks like the head of an offsets table. A paper table starts with STA, crown, WL \
                             44, BL 12, keel; a long one with station, line, half_breadth, height. Is the separator \
                             right?"
                .to_owned(),
            Self::ChangedAbout { half_breadth, height, rows, of } => format!(
                "The columns «{half_breadth}» and «{height}» are changed about: in {rows} of {of} rows whose line tells, each \
                 has what belongs in the other. Change the two heads about and take the table in again."
            ),
            Self::NothingRead(refused, own) => match refused.first() {
                Some(cell) => {
                    let more = match refused.len() - 1 {
                        0 => String::new(),
                        1 => " One more cell was refused.".to_owned(),
                        more => format!(" {more} more cells were refused."),
                    };
                    format!("No reading could be taken. {}{more}", cell.message(*own))
                }
                None => "No reading stands under the head of this table. Paste the rows as well.".to_owned(),
            },
            Self::Tolerance(value) => format!("The tolerance {} is not over zero.", format_length_with_unit(*value, unit)),
            Self::Unsound(fault) => format!("This table makes no sound lines. {}", fault.message(unit)),
        }
    }
}

impl fmt::Display for PasteError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.message(LengthUnit::Millimetres))
    }
}

impl core::error::Error for PasteError {}

/// What would be taken in, and what a person should know before it is.
#[derive(Clone, Debug, PartialEq)]
pub struct Preview {
    /// How the table is laid out.
    pub form: TableLayout,
    /// What parts its columns, given or guessed.
    pub separator: Separator,
    /// Which mark parts whole from fraction, given or guessed.
    pub decimal_mark: DecimalMark,
    /// The unit of bare numbers, given or guessed.
    pub unit: LengthUnit,
    /// Rows read, without the head.
    pub rows: usize,
    /// Stations read.
    pub stations: usize,
    /// Readings taken; a run line's half-breadth and height are one.
    pub values: usize,
    /// Cells marked as torn.
    pub torn: Vec<TornCell>,
    /// Cells that were not taken, and why; at most [`MOST_TOLD`].
    pub refused: Vec<RefusedCell>,
    /// All of them.
    pub refused_count: usize,
    /// What else a person should know.
    pub findings: Vec<Finding>,
    /// What its columns and cells were taken for.
    pub understood: Understood,
    lines: Lines,
}

impl Preview {
    /// The fresh document that taking in would make.
    #[must_use]
    pub fn lines(&self) -> Lines {
        self.lines.clone()
    }
}

/// The cells of a table, row by row, with each row's number in the text.
pub(super) struct Grid {
    pub(super) rows: Vec<(usize, Vec<String>)>,
    /// Rows that were taken as comments: how many, and the first one.
    comments: Option<Comments>,
}

impl Grid {
    /// What is said of the rows that were taken as comments.
    fn comments(&self) -> Option<Finding> {
        let Comments { rows, first } = self.comments.clone()?;
        let (row, text) = first;
        Some(Finding::Comments { rows, row, text })
    }
}

#[derive(Clone, Debug)]
struct Comments {
    rows: usize,
    first: (usize, String),
}

impl Comments {
    /// Counts the comments in what is skipped of a text, which begins in that row.
    fn count(seen: &mut Option<Self>, skipped: &str, row: usize) {
        for (line, at) in skipped.split('\n').zip(row..) {
            if let Some(words) = line.trim_start_matches('\r').strip_prefix('#') {
                let words = || words.trim().chars().take(80).collect();
                let seen = seen.get_or_insert_with(|| Self {
                    rows: 0,
                    first: (at, words()),
                });
                seen.rows += 1;
            }
        }
    }
}

/// Reads a table, from the bytes of a file or of a paste.
///
/// # Errors
/// [`PasteError`]: what is wrong, where, and what to do. A cell that cannot be read is no error: it is listed as
/// refused, and its point has no reading.
///
/// # Example
/// ```
/// use geometry::document::paste::{TableOptions, read_table};
/// let table = "STA (in),crown,WL 8,keel\n0,1-0-0,0-6-1+,0-4-0\n48,0-11-4,0-6-0,0-4-1\n";
/// let preview = read_table(table.as_bytes(), &TableOptions::default())?;
/// assert_eq!((preview.stations, preview.values), (2, 6));
/// # Ok::<(), geometry::document::paste::PasteError>(())
/// ```
pub fn read_table(bytes: &[u8], options: &TableOptions) -> Result<Preview, PasteError> {
    if bytes.len() > LARGEST_TABLE {
        return Err(PasteError::TooLarge(bytes.len()));
    }
    if bytes.trim_ascii().is_empty() {
        return Err(PasteError::Empty);
    }
    if let Some(tolerance) = options
        .tolerance
        .filter(|tolerance| !(*tolerance > 0.0 && tolerance.is_finite()))
    {
        return Err(PasteError::Tolerance(tolerance));
    }
    let decoded = utf16_text_of(bytes).map_err(PasteError::NoText)?;
    let bytes = decoded.as_ref().map_or(bytes, |text| text.as_bytes());
    if bytes.trim_ascii().is_empty() {
        return Err(PasteError::Empty);
    }
    if let Some(guise) = Guise::of(bytes) {
        return Err(PasteError::SomethingElse(guise));
    }
    let text = text_of(bytes).map_err(PasteError::NoText)?;
    let separator = options.separator.unwrap_or_else(|| likely_separator(text));
    let grid = cells(text, separator)?;
    let decimal_mark = options.decimal_mark.unwrap_or_else(|| likely_mark(&grid));
    let read = layout::read(&grid, options, decimal_mark)?;
    build::preview(read, options, separator, decimal_mark)
}

/// The separator that most often stands in the first rows that have any.
fn likely_separator(text: &str) -> Separator {
    let rows = || {
        text.lines()
            .filter(|row| !row.trim().is_empty() && !row.starts_with('#'))
            .take(5)
    };
    let count = |separator: Separator| {
        let mark = char::from(separator.byte());
        rows()
            .map(|row| {
                let (mut quoted, mut count) = (false, 0_usize);
                for c in row.chars() {
                    if c == '"' {
                        quoted = !quoted;
                    } else if c == mark && !quoted {
                        count += 1;
                    }
                }
                count
            })
            .max()
            .unwrap_or(0)
    };
    if count(Separator::Tab) > 0 {
        Separator::Tab
    } else if count(Separator::Semicolon) > 0 {
        Separator::Semicolon
    } else {
        Separator::Comma
    }
}

/// The decimal mark that stands in more cells of digits.
fn likely_mark(grid: &Grid) -> DecimalMark {
    let has = |cell: &str, mark: char| {
        cell.split_once(mark).is_some_and(|(whole, rest)| {
            whole.ends_with(|c: char| c.is_ascii_digit())
                && rest.starts_with(|c: char| c.is_ascii_digit())
        })
    };
    let count = |mark| {
        grid.rows
            .iter()
            .flat_map(|(_, row)| row)
            .filter(|cell| has(cell, mark))
            .count()
    };
    if count(',') > count('.') {
        DecimalMark::Comma
    } else {
        DecimalMark::Point
    }
}

fn cells(text: &str, separator: Separator) -> Result<Grid, PasteError> {
    let guarded = without_comment(text);
    let as_it_came = |cell: &str| match &guarded {
        std::borrow::Cow::Borrowed(_) => cell.to_owned(),
        std::borrow::Cow::Owned(_) => cell.replace(NO_COMMENT, "#"),
    };
    let text = guarded.as_ref();
    let mut reader = csv::ReaderBuilder::new()
        .delimiter(separator.byte())
        .has_headers(false)
        .flexible(true)
        .comment(Some(b'#'))
        .from_reader(text.as_bytes());
    let mut rows = Vec::new();
    let mut record = csv::StringRecord::new();
    let (mut counted_to, mut line, mut cell_count) = (0, 1, 0_usize);
    let mut comments = None;
    // The text is checked already, so that no other complaint than the end is left.
    loop {
        let more = reader.read_record(&mut record).is_ok_and(|more| more);
        let from = record
            .position()
            .and_then(|position| usize::try_from(position.byte()).ok())
            .unwrap_or(counted_to);
        let start = past_what_is_skipped(text, from);
        let lines = |from, to| {
            let part: &str = text.get(from..to).unwrap_or_default();
            part.matches('\n').count()
        };
        line += lines(counted_to, from);
        Comments::count(
            &mut comments,
            text.get(from..start).unwrap_or_default(),
            line,
        );
        if !more {
            break;
        }
        line += lines(from, start);
        (counted_to, cell_count) = (start, cell_count + record.len());
        let row = line;
        if record.len() > MOST_COLUMNS {
            return Err(PasteError::TooManyColumns(row));
        }
        if record.iter().any(|cell| cell.contains('\n')) {
            return Err(PasteError::OpenQuote(row));
        }
        if record.iter().all(|cell| cell.trim().is_empty()) {
            continue;
        }
        if rows.len() > MOST_ROWS || cell_count > MOST_CELLS {
            return Err(PasteError::TooManyRows);
        }
        rows.push((
            row,
            record
                .iter()
                .map(|cell| as_it_came(unguarded(cell.trim())))
                .collect(),
        ));
    }
    Ok(Grid { rows, comments })
}

/// Stands for the mark of a comment where a row begins with a spreadsheet's error.
const NO_COMMENT: char = '\u{fdd0}';

/// The text with [`NO_COMMENT`] before rows that begin with a spreadsheet's error, as `#REF!`: they are no comments. A row of
/// nothing but `#` is one.
fn without_comment(text: &str) -> std::borrow::Cow<'_, str> {
    let is_error = |row: &str| {
        let word: &str = row.split([',', ';', '\t']).next().unwrap_or_default();
        let is_a_rule = row.trim_end().chars().all(|c| c == '#');
        row.starts_with('#') && !is_a_rule && LengthError::of_a_spreadsheet(word).is_some()
    };
    // Where it stands in the text already, it could not be told from ours.
    if text.contains(NO_COMMENT) || !text.lines().any(is_error) {
        return text.into();
    }
    let row = |row: &str| match row.strip_prefix('#').filter(|_| is_error(row)) {
        Some(rest) => format!("{NO_COMMENT}{rest}"),
        None => row.to_owned(),
    };
    text.split('\n')
        .map(row)
        .collect::<Vec<_>>()
        .join("\n")
        .into()
}

/// A cell without the apostrophe that says it is text, as a spreadsheet has it and our own tables before what would be taken for
/// a formula.
fn unguarded(cell: &str) -> &str {
    const FORMULA: [char; 11] = [
        '=', '+', '-', '@', '\t', '\r', '\n', '\u{ff1d}', '\u{ff0b}', '\u{ff0d}', '\u{ff20}',
    ];
    let formula = cell.trim_start_matches('\'').starts_with(FORMULA);
    cell.strip_prefix('\'').filter(|_| formula).unwrap_or(cell)
}

/// Where the next record starts: behind empty lines and lines of comment.
fn past_what_is_skipped(text: &str, mut at: usize) -> usize {
    while let Some(rest) = text.get(at..) {
        at += match rest.as_bytes() {
            [b'\n' | b'\r', ..] => 1,
            [b'#', ..] => rest.find('\n').unwrap_or(rest.len()),
            _ => break,
        };
    }
    at
}
