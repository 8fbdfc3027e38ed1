//! What one cell or one head of a pasted table says.
//!
//! In: text. Out: values, names of lines, units; or why not.

use core::fmt;

use crate::document::Recorded;
use crate::units::{
    DecimalMark, LengthError, LengthUnit, Message, format_length_with_unit, parse_length_marked,
};

/// Where a typed and a converted value may differ, mm.
pub(super) const AGREE: f64 = 0.02;
/// Where a given coordinate may differ from that of its own plane, mm.
pub(super) const ON_PLANE: f64 = 0.05;

/// Why a cell was refused.
#[derive(Clone, Debug, PartialEq)]
pub enum CellFault {
    /// It is no length.
    Length(LengthError),
    /// It is a date, as a spreadsheet makes of `1-2-3`.
    Date,
    /// A bare number in a table of feet-inches-eighths.
    BareNumber,
    /// A run line needs half-breadth and height.
    NeedsBoth,
    /// Two values where the line needs one.
    OneValue,
    /// Two columns of one row give different lengths, mm.
    Disagree(f64, f64),
    /// A half-breadth below zero, mm.
    BelowZero(f64),
    /// A question mark beside a value.
    Doubtful,
    /// A line that is neither known nor has both coordinates.
    UnknownLine,
    /// A station whose label is no length, and no x is given.
    NoPlace,
    /// A row or column of this station or line was read already.
    Again,
    /// The same station lies elsewhere in another row, mm.
    OtherPlace(f64),
    /// A tolerance that is zero or below.
    Tolerance,
    /// Neither yes nor no.
    YesOrNo,
    /// No reading where the form needs one.
    Lacks(&'static str),
}

impl Message for CellFault {
    fn message(&self, unit: LengthUnit) -> String {
        let length = |mm: f64| format_length_with_unit(mm, unit);
        match self {
            Self::Length(error) => error.message(unit),
            Self::Date => "A spreadsheet made a date of this. Format the column as text there and type the reading \
                           again, as 1-2-3."
                .to_owned(),
            Self::BareNumber => "A bare number in a table of feet-inches-eighths: type its unit, as 85.5 mm or 14.375 \
                                 in."
                .to_owned(),
            Self::NeedsBoth => {
                "A run line needs half-breadth and height in one cell, as 1-6-1+/2-0-0.".to_owned()
            }
            Self::OneValue => "This line takes one value, and here are two. Leave one.".to_owned(),
            Self::Disagree(typed, other) => format!(
                "Two columns of this row say {} and {}. Leave the right one.",
                length(*typed),
                length(*other)
            ),
            Self::BelowZero(value) => {
                format!("The half-breadth {} is below zero; it is measured outward.", length(*value))
            }
            Self::Doubtful => "A value with a question mark: type it without, and give it a wide tolerance, or leave \
                               the question mark alone for a torn cell."
                .to_owned(),
            Self::UnknownLine => "No line is known by this name. Lines are crown, keel, WL 44, BL 12; any other name \
                                  is a run line, and needs half-breadth and height."
                .to_owned(),
            Self::NoPlace => "This station's label is no length. Add a column x with its place.".to_owned(),
            Self::Again => "This was read already further up or to the left. Leave one of the two.".to_owned(),
            Self::OtherPlace(x) => format!("Further up, this station lies at {}. Leave one of the two.", length(*x)),
            Self::Tolerance => "A tolerance is over zero. Type how far the reading may be out.".to_owned(),
            Self::YesOrNo => "Type yes or no. The reading was taken as used.".to_owned(),
            Self::Lacks(what) => format!("This line needs a {what}, and this row has none."),
        }
    }
}

impl fmt::Display for CellFault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.message(LengthUnit::Millimetres))
    }
}

/// What a cell holds, before its value is read.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum CellText<'a> {
    Empty,
    Torn,
    Text(&'a str),
}

impl<'a> CellText<'a> {
    pub(super) fn of(text: &'a str) -> Self {
        match text.trim() {
            "" | "-" | "–" | "—" => Self::Empty,
            "?" | "??" | "???" => Self::Torn,
            text if text.eq_ignore_ascii_case("torn") => Self::Torn,
            text => Self::Text(text),
        }
    }
}

/// How the values of one column are read.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Manner {
    pub(super) unit: LengthUnit,
    pub(super) mark: DecimalMark,
}

impl Manner {
    /// The value of a cell, with the tolerance that its form suggests, mm.
    pub(super) fn value(self, text: &str) -> Result<(Recorded, f64), CellFault> {
        let text = text.trim();
        if let Some(error) = LengthError::of_a_spreadsheet(text) {
            return Err(CellFault::Length(error));
        }
        if is_date(text) {
            return Err(CellFault::Date);
        }
        if text.contains('?') {
            return Err(CellFault::Doubtful);
        }
        let mm = parse_length_marked(text, self.unit, self.mark).map_err(CellFault::Length)?;
        let bare = text
            .chars()
            .all(|c| c.is_ascii_digit() || matches!(c, '.' | ',' | '-' | '+'));
        let dashed = text
            .trim_start_matches(['-', '+'])
            .trim_end_matches(['-', '+'])
            .contains('-');
        if self.unit == LengthUnit::FeetInchesEighths && bare && !dashed && mm.abs() > 0.0 {
            return Err(CellFault::BareNumber);
        }
        Ok((
            Recorded {
                typed: text.to_owned(),
                mm,
                put_right: None,
            },
            self.suggested_tolerance(text),
        ))
    }

    /// 1/16 in for anything in feet and inches; else half of the last printed digit, at least 0.5 mm.
    fn suggested_tolerance(self, text: &str) -> f64 {
        let lower = text.to_lowercase();
        let step = if lower.ends_with("mm") {
            1.0
        } else if lower.ends_with("cm") {
            10.0
        } else if lower.ends_with('m') {
            1000.0
        } else if self.unit == LengthUnit::Millimetres
            && lower
                .chars()
                .all(|c| c.is_ascii_digit() || matches!(c, '.' | ',' | '-' | '+'))
            && !lower.trim_start_matches(['-', '+']).contains('-')
        {
            1.0
        } else {
            return INCH_TOLERANCE;
        };
        let number = lower.trim_end_matches(|c: char| !c.is_ascii_digit());
        let decimals = number
            .split_once(['.', ','])
            .map_or(0, |(_, decimals)| decimals.len());
        let digit: f64 = (0..decimals).fold(step, |digit, _| digit / 10.0);
        (digit / 2.0).max(LEAST_TOLERANCE)
    }
}

/// Tolerance of a reading in feet and inches, mm: a sixteenth.
pub const INCH_TOLERANCE: f64 = 1.6;
/// Least tolerance that is suggested, mm.
pub const LEAST_TOLERANCE: f64 = 0.5;

/// Whether a text is a date as spreadsheets write them.
pub(super) fn is_date(text: &str) -> bool {
    let day = text.split([' ', 'T']).next().unwrap_or_default();
    let lower = text.to_ascii_lowercase();
    const MONTHS: [&str; 12] = [
        "jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec",
    ];
    let words: Vec<&str> = lower
        .split(|c: char| !c.is_ascii_alphanumeric())
        .filter(|w| !w.is_empty())
        .collect();
    let is_month = |word: &str| MONTHS.iter().any(|month| word.starts_with(month));
    let is_number = |word: &str| word.bytes().all(|b| b.is_ascii_digit());
    if (2..=3).contains(&words.len())
        && words.iter().filter(|word| is_month(word)).count() == 1
        && words.iter().all(|word| is_month(word) || is_number(word))
    {
        return true;
    }
    let Some(mark) = day.chars().find(|c| !c.is_ascii_digit()) else {
        return false;
    };
    let parts: Vec<&str> = day.split(mark).collect();
    if !parts.iter().all(|part| !part.is_empty() && is_number(part)) {
        return false;
    }
    let [a, b, c] = parts.as_slice() else {
        return false;
    };
    let small = |part: &str| part.parse::<u32>().is_ok_and(|n| (1..=31).contains(&n));
    let year_first = a.len() == 4 && small(b) && small(c);
    let year_last = small(a) && small(b) && (c.len() == 4 || c.len() == 2);
    match mark {
        '/' | '.' => year_first || year_last || (small(a) && small(b)),
        // Two digits each, with leading zeros, is no way to write feet, inches and eighths.
        '-' => {
            year_first
                || (year_last
                    && (c.len() == 4 || (a.len() == 2 && b.len() == 2 && c.starts_with('0'))))
        }
        _ => false,
    }
}

/// A cell of a run line, parted at its middle stroke: `1-6-1+/2-0-0`.
pub(super) fn halves(text: &str) -> Option<(&str, &str)> {
    if let Some((half_breadth, height)) = text.split_once(" / ") {
        return Some((half_breadth.trim(), height.trim()));
    }
    let strokes: Vec<usize> = text.match_indices('/').map(|(at, _)| at).collect();
    let middle = *strokes
        .get(strokes.len() / 2)
        .filter(|_| strokes.len() % 2 == 1)?;
    let (half_breadth, height) = (text.get(..middle)?, text.get(middle + 1..)?);
    Some((half_breadth.trim(), height.trim()))
}

/// A head without its unit, and the unit.
pub(super) fn head_and_unit(head: &str) -> (&str, Option<LengthUnit>) {
    const UNITS: [(&str, LengthUnit); 10] = [
        ("ft_in_8", LengthUnit::FeetInchesEighths),
        ("ft-in-8", LengthUnit::FeetInchesEighths),
        ("ft in 8", LengthUnit::FeetInchesEighths),
        ("feet-inches-eighths", LengthUnit::FeetInchesEighths),
        ("millimetres", LengthUnit::Millimetres),
        ("millimeters", LengthUnit::Millimetres),
        ("inches", LengthUnit::Inches),
        ("inch", LengthUnit::Inches),
        ("mm", LengthUnit::Millimetres),
        ("in", LengthUnit::Inches),
    ];
    let head = head.trim();
    let open = head.trim_end_matches([')', ']']);
    let bracketed = open.len() < head.len();
    for (name, unit) in UNITS {
        let at = open.len().checked_sub(name.len());
        let Some((before, end)) = at.and_then(|at| open.split_at_checked(at)) else {
            continue;
        };
        if end.eq_ignore_ascii_case(name) {
            let parted = if bracketed {
                before.trim_end().ends_with(['(', '['])
            } else {
                before.ends_with(['_', ' '])
            };
            if parted {
                return (
                    before.trim_end_matches(['(', '[', '_', ' ', ',']),
                    Some(unit),
                );
            }
        }
    }
    (head, None)
}

/// What a line is called in a table.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum LineName {
    Crown,
    Keel,
    /// The figure as typed.
    Waterline(String),
    /// The figure as typed.
    Buttock(String),
    /// The crown-side cut.
    ButtockUpper(String),
    /// Any other.
    Named(String),
    Free,
}

impl LineName {
    pub(super) fn of(text: &str) -> Self {
        let text = text.trim();
        let lower = text.to_lowercase().replace('\u{a0}', " ");
        match lower.as_str() {
            "crown" => return Self::Crown,
            "keel" => return Self::Keel,
            "" | "free" | "point" | "none" => return Self::Free,
            _ => {}
        }
        let after = |names: &[&str]| {
            names.iter().find_map(|name| {
                let figure = lower
                    .strip_prefix(name)?
                    .trim_start_matches(['.', ':', '=', '_'])
                    .trim();
                let starts = figure
                    .trim_start_matches(['-', '−', '+', '.'])
                    .starts_with(|c: char| c.is_ascii_digit());
                starts.then(|| figure.to_owned())
            })
        };
        if let Some(figure) = after(&["waterline", "w.l.", "wl", "z =", "z="]) {
            return Self::Waterline(figure);
        }
        if let Some(figure) = after(&["buttock line", "buttock", "b.l.", "bl", "y =", "y="]) {
            return match figure
                .strip_suffix(" u")
                .or_else(|| figure.strip_suffix(" upper"))
            {
                Some(figure) => Self::ButtockUpper(figure.trim().to_owned()),
                None => Self::Buttock(figure),
            };
        }
        Self::Named(text.to_owned())
    }

    /// Where its plane lies, mm; none where it has none.
    pub(super) fn plane(
        &self,
        unit: LengthUnit,
        mark: DecimalMark,
    ) -> Result<Option<f64>, LengthError> {
        match self {
            Self::Waterline(figure) | Self::Buttock(figure) | Self::ButtockUpper(figure) => {
                parse_length_marked(figure, unit, mark).map(Some)
            }
            Self::Crown | Self::Keel | Self::Named(_) | Self::Free => Ok(None),
        }
    }

    /// Whether the name by itself says that this is a line.
    pub(super) fn is_known(&self) -> bool {
        match self {
            Self::Crown
            | Self::Keel
            | Self::Waterline(_)
            | Self::Buttock(_)
            | Self::ButtockUpper(_) => true,
            Self::Named(name) => name.to_lowercase().contains("joint"),
            Self::Free => false,
        }
    }

    /// As the document calls it.
    pub(super) fn shown(&self) -> String {
        match self {
            Self::Crown => "crown".to_owned(),
            Self::Keel => "keel".to_owned(),
            Self::Waterline(figure) => format!("WL {figure}"),
            Self::Buttock(figure) => format!("BL {figure}"),
            Self::ButtockUpper(figure) => format!("BL {figure} U"),
            Self::Named(name) => name.clone(),
            Self::Free => "point".to_owned(),
        }
    }
}
