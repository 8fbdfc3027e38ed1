//! Lengths as a person writes and reads them.
//!
//! In: text and millimetres. Out: millimetres and text. A refusal is a value that says what is wrong and what to type.

use core::fmt;

mod radius;

pub use radius::{FLAT, RadiusUnit, radius_words, round_part};
use serde::{Deserialize, Serialize};

/// Millimetres in an inch, exactly.
pub const INCH: f64 = 25.4;

/// No length of the document is longer than this, mm: a hundred metres.
pub const LONGEST: f64 = 100_000.0;

/// Longest text that is read as a length, in characters.
pub const LONGEST_TEXT: usize = 64;

/// The unit a person reads lengths in.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum LengthUnit {
    /// Millimetres.
    #[default]
    Millimetres,
    /// Decimal inches of 25.4 mm.
    Inches,
    /// Feet, inches and eighths, with `+` or `-` for a sixteenth over or under: `1-2-3+`.
    FeetInchesEighths,
}

impl LengthUnit {
    /// Millimetres that a bare number stands for: 1, or an inch.
    #[must_use]
    pub fn of_a_bare_number(self) -> f64 {
        match self {
            Self::Millimetres => 1.0,
            Self::Inches | Self::FeetInchesEighths => INCH,
        }
    }

    /// As a person calls it.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Millimetres => "millimetres",
            Self::Inches => "inches",
            Self::FeetInchesEighths => "feet-inches-eighths",
        }
    }

    /// The unit for distances along the body: feet-inches-eighths would lose up to a millimetre.
    #[must_use]
    pub fn along(self) -> Self {
        match self {
            Self::Inches => Self::Inches,
            Self::Millimetres | Self::FeetInchesEighths => Self::Millimetres,
        }
    }

    /// As the heads of a table have it, and the lists of a page.
    #[must_use]
    pub fn short(self) -> &'static str {
        match self {
            Self::Millimetres => "mm",
            Self::Inches => "in",
            Self::FeetInchesEighths => "ft-in-8",
        }
    }
}

/// What a refusal says to the person.
pub trait Message {
    /// A sentence in trade words, lengths in `unit`: where, what, and what would help.
    fn message(&self, unit: LengthUnit) -> String;
}

/// A text as a sentence begins with it: with a capital letter.
#[must_use]
pub fn headed(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| {
        first.to_uppercase().chain(letters).collect()
    })
}

/// Which mark parts the whole from the fraction.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum DecimalMark {
    /// `12.5`.
    Point,
    /// `12,5`.
    Comma,
}

/// How exactly a length is written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Digits {
    /// For reading: 0.1 mm, 0.001 in, a sixteenth.
    Plain,
    /// For checking: 0.01 mm, 0.0001 in, a sixteenth.
    Fine,
}

/// Why a text is no length.
#[derive(Clone, Debug, PartialEq)]
pub enum LengthError {
    /// Nothing was typed.
    Empty,
    /// More than [`LONGEST_TEXT`] characters.
    LongText,
    /// The text has no form that is known.
    NoLength {
        /// As typed.
        typed: String,
    },
    /// More than seven eighths, and not the eight that carry.
    TooManyEighths {
        /// As typed.
        typed: String,
        /// The eighths in it.
        eighths: u32,
    },
    /// Twelve inches or more beside feet.
    TooManyInches {
        /// As typed.
        typed: String,
        /// The inches in it.
        inches: f64,
    },
    /// A comma or point that may be a decimal mark, or stand between thousands.
    WhichMark {
        /// As typed.
        typed: String,
    },
    /// Both a comma and a point, or one of them twice.
    TwoMarks {
        /// As typed.
        typed: String,
    },
    /// A fraction without a unit where millimetres are read.
    FractionOfWhat {
        /// As typed.
        typed: String,
    },
    /// A fraction with nothing under the line.
    ZeroUnderTheLine {
        /// As typed.
        typed: String,
    },
    /// Two figures with a dash: feet or inches are missing.
    TwoFigures {
        /// As typed.
        typed: String,
    },
    /// Longer than [`LONGEST`].
    TooLong {
        /// As typed.
        typed: String,
    },
    /// A formula of a spreadsheet, not what it comes to.
    Formula {
        /// As typed.
        typed: String,
    },
    /// What a spreadsheet writes where a formula comes to nothing.
    SheetError {
        /// As typed.
        typed: String,
    },
}

impl LengthError {
    /// What a spreadsheet left in a cell in place of a value: a formula, or its own error.
    ///
    /// An error is known by its form, whatever its language calls it: `#REF!`, `#NAME?`, `#DIV/0!`, `#¡VALOR!`, `#N/A`,
    /// `Err:502`, and `####` where a column is too narrow. `#12` is none: it may be a station's label.
    #[must_use]
    pub fn of_a_spreadsheet(text: &str) -> Option<Self> {
        let typed = text.trim();
        if typed.starts_with(['=', '@']) {
            let typed = typed.to_owned();
            return Some(Self::Formula { typed });
        }
        is_error_of_a_sheet(typed).then(|| Self::SheetError {
            typed: typed.to_owned(),
        })
    }
}

fn is_error_of_a_sheet(typed: &str) -> bool {
    /// What «not available» is called where no mark ends it.
    const NOT_AVAILABLE: [&str; 7] = ["N/A", "N/B", "N/D", "I/T", "Н/Д", "NV", "YOK"];
    let numbered = typed
        .split_once(':')
        .is_some_and(|(err, number)| err.eq_ignore_ascii_case("err") && is_digits(number));
    let Some(name) = typed.strip_prefix('#') else {
        return numbered;
    };
    let too_narrow = !name.is_empty() && name.chars().all(|c| c == '#');
    let marked = name.strip_suffix(['!', '?']).is_some_and(|name| {
        name.contains(char::is_alphabetic)
            && name
                .chars()
                .all(|c| c.is_alphanumeric() || matches!(c, '/' | '_' | '¡' | '¿'))
    });
    let not_available = NOT_AVAILABLE
        .iter()
        .any(|word| name.eq_ignore_ascii_case(word));
    too_narrow || marked || not_available
}

impl Message for LengthError {
    fn message(&self, unit: LengthUnit) -> String {
        let example = match unit {
            LengthUnit::Millimetres => "365.1 mm",
            LengthUnit::Inches => "14.375 in",
            LengthUnit::FeetInchesEighths => "1-2-3+",
        };
        match self {
            Self::Empty => format!("Nothing is typed here. Type a length, as {example}."),
            Self::LongText => format!("This is too long for one length. Type it as {example}."),
            Self::NoLength { typed } => {
                format!("`{typed}` is not a length. Type it as {example}.")
            }
            Self::TooManyEighths { typed, eighths } => format!(
                "`{typed}` has no {}. Type 0 to 7, then + if a sixteenth over{}.",
                ordinal_eighth(*eighths),
                match unit {
                    LengthUnit::Millimetres => "; or a number of millimetres, as 365.1",
                    LengthUnit::Inches => "; or a number of inches, as 14.375",
                    LengthUnit::FeetInchesEighths => "",
                }
            ),
            Self::TooManyInches { typed, inches } => format!(
                "`{typed}` has {inches} inches beside its feet: 12 inches are a foot. Type 0 to 11 inches, or inches \
                 alone, as 14 3/8 in."
            ),
            Self::WhichMark { typed } => format!(
                "`{typed}`: does the mark part whole from fraction, or thousands? Type it without a thousands mark, and \
                 with a point, as 1234.0 or 1.2340."
            ),
            Self::TwoMarks { typed } => format!(
                "`{typed}`: which mark parts whole from fraction? Type it without a thousands mark, as 1234.5."
            ),
            Self::FractionOfWhat { typed } => {
                format!("`{typed}` has no unit. Type `{typed} in` if inches are meant.")
            }
            Self::ZeroUnderTheLine { typed } => {
                format!("`{typed}` has nothing under its fraction line. Type it as 5/8 in.")
            }
            Self::TwoFigures { typed } => format!(
                "`{typed}` has two figures. Type feet, inches and eighths, as 0-2-3, or inches, as 2 3/8 in."
            ),
            Self::Formula { typed } => format!(
                "`{typed}` is a formula of a spreadsheet. Paste values: let the sheet show what its formulas come to and copy \
                 it again, or type the value."
            ),
            Self::SheetError { typed } => format!(
                "`{typed}` is an error of a spreadsheet, not a value. Put the sheet right and paste values, or type what was \
                 read, or ? where it can't be read."
            ),
            Self::TooLong { typed } => format!(
                "`{typed}` is longer than {}, the longest length taken here. Is the unit right?",
                format_length_with_unit(LONGEST, unit)
            ),
        }
    }
}

impl fmt::Display for LengthError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.message(LengthUnit::Millimetres))
    }
}

impl core::error::Error for LengthError {}

fn ordinal_eighth(eighths: u32) -> String {
    match eighths {
        9 => "ninth eighth".to_owned(),
        10 => "tenth eighth".to_owned(),
        n => format!("place for {n} eighths"),
    }
}

/// Reads a length in any form a person writes it.
///
/// Taken are `1-2-3+`, `-0-1-2`, `14.375"`, `1 ft 2 3/8`, `1' 2 3/8"`, `5/8 in`, `365.1`, `12,5 mm`, `1.2 m`, `3 cm`.
/// A bare number has the unit `default`, inches where that is feet-inches-eighths. A comma is a decimal mark where it
/// can only be that. Eight eighths carry (`7-11-8` is `8-0-0`).
///
/// # Units
/// Returns mm, within [`LONGEST`] either way.
///
/// # Errors
/// [`LengthError`], which quotes the text and says what to type.
///
/// # Accuracy
/// Inches in sixteenths are exact to the last bits of their millimetres; decimals are read correctly rounded.
///
/// # Source
/// Feet-inches-eighths with a sign for a sixteenth: common practice of the loft. An inch is 25.4 mm exactly.
///
/// # Example
/// ```
/// use geometry::units::{LengthUnit, parse_length};
/// assert_eq!(parse_length("1-2-3", LengthUnit::Millimetres), Ok(365.125));
/// ```
pub fn parse_length(text: &str, default: LengthUnit) -> Result<f64, LengthError> {
    read(text, default, None)
}

/// Reads a length where the decimal mark is known, as in a table: the other mark is refused.
///
/// # Units
/// Returns mm.
///
/// # Errors
/// As [`parse_length`].
///
/// # Accuracy
/// As [`parse_length`].
///
/// # Source
/// As [`parse_length`].
pub fn parse_length_marked(
    text: &str,
    default: LengthUnit,
    mark: DecimalMark,
) -> Result<f64, LengthError> {
    read(text, default, Some(mark))
}

fn read(text: &str, default: LengthUnit, mark: Option<DecimalMark>) -> Result<f64, LengthError> {
    if text.chars().count() > LONGEST_TEXT {
        return Err(LengthError::LongText);
    }
    let typed = text.trim();
    if let Some(error) = LengthError::of_a_spreadsheet(typed) {
        return Err(error);
    }
    let plain = plain_signs(typed);
    if plain.is_empty() {
        return Err(LengthError::Empty);
    }
    let (sign, body) = match plain.strip_prefix('-') {
        Some(rest) => (-1.0, rest.trim_start()),
        None => (
            1.0,
            plain
                .strip_prefix('+')
                .map_or(plain.as_str(), str::trim_start),
        ),
    };
    let reader = Reader {
        typed,
        default,
        mark,
    };
    let mm = match reader.dashed(body)? {
        Some(mm) => mm,
        None => match reader.feet_and_inches(body)? {
            Some(mm) => mm,
            None => reader.one_unit(body)?,
        },
    };
    if mm > LONGEST {
        return Err(LengthError::TooLong {
            typed: typed.to_owned(),
        });
    }
    Ok(sign * mm + 0.0)
}

/// Typographic signs as their plain ones, in lower case.
fn plain_signs(text: &str) -> String {
    let mut plain = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '\u{2212}' | '\u{2010}' | '\u{2011}' | '\u{2013}' => plain.push('-'),
            '\u{2032}' | '\u{2019}' => plain.push('\''),
            '\u{2033}' | '\u{201d}' => plain.push('"'),
            '\u{a0}' | '\u{2009}' | '\u{202f}' | '\t' => plain.push(' '),
            '\u{215b}' => plain.push_str(" 1/8"),
            '\u{bc}' => plain.push_str(" 1/4"),
            '\u{215c}' => plain.push_str(" 3/8"),
            '\u{bd}' => plain.push_str(" 1/2"),
            '\u{215d}' => plain.push_str(" 5/8"),
            '\u{be}' => plain.push_str(" 3/4"),
            '\u{215e}' => plain.push_str(" 7/8"),
            '\u{2044}' => plain.push('/'),
            c => plain.push(c.to_ascii_lowercase()), // no unit has other letters
        }
    }
    plain.replace("''", "\"").trim().to_owned()
}

/// A number of digits and at most one point, as the standard library reads it, to the last bit; none without a digit. The
/// reader of files does it, for that of the standard library brings a table of 10 kB with it.
fn figure(text: &str) -> Option<f64> {
    let (whole, fraction) = text.split_once('.').unwrap_or((text, ""));
    if whole.is_empty() && fraction.is_empty() {
        return None;
    }
    let digits = |text: &str| {
        if text.is_empty() {
            "0".to_owned()
        } else {
            text.to_owned()
        }
    };
    let (whole, fraction) = (digits(whole.trim_start_matches('0')), digits(fraction));
    serde_json::from_str(&format!("{whole}.{fraction}")).ok()
}

fn is_digits(text: &str) -> bool {
    !text.is_empty() && text.bytes().all(|b| b.is_ascii_digit())
}

struct Reader<'a> {
    typed: &'a str,
    default: LengthUnit,
    mark: Option<DecimalMark>,
}

impl Reader<'_> {
    fn no_length(&self) -> LengthError {
        LengthError::NoLength {
            typed: self.typed.to_owned(),
        }
    }

    fn whole(&self, digits: &str) -> Result<f64, LengthError> {
        if digits.len() > 9 {
            return Err(LengthError::TooLong {
                typed: self.typed.to_owned(),
            });
        }
        if !is_digits(digits) {
            return Err(self.no_length());
        }
        let whole: Result<u32, _> = digits.parse();
        whole.map_or_else(|_not_a_number| Err(self.no_length()), |n| Ok(f64::from(n)))
    }

    /// `1-2-3+`; none where the text has another form.
    fn dashed(&self, body: &str) -> Result<Option<f64>, LengthError> {
        let (figures, sixteenth) = if let Some(rest) = body.strip_suffix('+') {
            (rest, 1.0)
        } else if let Some(rest) = body.strip_suffix('-') {
            (rest, -1.0)
        } else {
            (body, 0.0)
        };
        let parts: Vec<&str> = figures.split('-').map(str::trim).collect();
        if !parts.iter().all(|part| is_digits(part)) || parts.len() < 2 {
            return Ok(None);
        }
        let &[feet, inches, eighths] = parts.as_slice() else {
            return Err(if parts.len() == 2 {
                LengthError::TwoFigures {
                    typed: self.typed.to_owned(),
                }
            } else {
                self.no_length()
            });
        };
        let (feet, inches, count) = (self.whole(feet)?, self.whole(inches)?, self.whole(eighths)?);
        if count > 8.0 {
            let eighths = eighths.parse().map_err(|_too_large| self.no_length())?;
            return Err(LengthError::TooManyEighths {
                typed: self.typed.to_owned(),
                eighths,
            });
        }
        self.check_inches(inches)?;
        let sixteenths = feet * 192.0 + inches * 16.0 + count * 2.0 + sixteenth;
        Ok(Some(sixteenths * INCH / 16.0))
    }

    fn check_inches(&self, inches: f64) -> Result<(), LengthError> {
        if inches < 12.0 {
            Ok(())
        } else {
            Err(LengthError::TooManyInches {
                typed: self.typed.to_owned(),
                inches,
            })
        }
    }

    /// `1 ft 2 3/8`, `1' 2 3/8"`, `2 ft`; none without feet.
    fn feet_and_inches(&self, body: &str) -> Result<Option<f64>, LengthError> {
        let Some((feet, rest)) = ["feet", "foot", "ft.", "ft", "'"]
            .iter()
            .find_map(|mark| body.split_once(mark))
        else {
            return Ok(None);
        };
        let feet = self.amount(feet.trim())?;
        let rest = rest.trim().trim_start_matches('-').trim();
        if rest.is_empty() {
            return Ok(Some(feet.value * 12.0 * INCH));
        }
        let inches = ["inches", "inch", "in.", "in", "\""]
            .iter()
            .find_map(|mark| rest.strip_suffix(mark))
            .unwrap_or(rest);
        let inches = self.amount(inches.trim())?;
        self.check_inches(inches.value)?;
        if !crate::num::same(feet.value, libm::floor(feet.value)) {
            return Err(self.no_length());
        }
        Ok(Some((feet.value * 12.0 + inches.value) * INCH))
    }

    /// A number, whole, decimal or with a fraction, and perhaps one unit.
    fn one_unit(&self, body: &str) -> Result<f64, LengthError> {
        const UNITS: [(&str, f64); 17] = [
            ("millimetres", 1.0),
            ("millimeters", 1.0),
            ("millimetre", 1.0),
            ("millimeter", 1.0),
            ("centimetres", 10.0),
            ("centimeters", 10.0),
            ("metres", 1000.0),
            ("meters", 1000.0),
            ("inches", INCH),
            ("inch", INCH),
            ("mm", 1.0),
            ("cm", 10.0),
            ("in.", INCH),
            ("in", INCH),
            ("m", 1000.0),
            ("\"", INCH),
            ("mm.", 1.0),
        ];
        let unit = UNITS
            .iter()
            .find_map(|&(name, mm)| Some((body.strip_suffix(name)?, mm)));
        let (number, mm) = unit.unwrap_or((body, self.default.of_a_bare_number()));
        let amount = self.amount(number.trim())?;
        if amount.has_fraction && unit.is_none() && self.default == LengthUnit::Millimetres {
            return Err(LengthError::FractionOfWhat {
                typed: self.typed.to_owned(),
            });
        }
        Ok(amount.value * mm)
    }

    /// `14`, `14.375`, `14 3/8`, `14-3/8`, `3/8`.
    fn amount(&self, text: &str) -> Result<Amount, LengthError> {
        let Some((before, under)) = text.split_once('/') else {
            return Ok(Amount {
                value: self.decimal(text)?,
                has_fraction: false,
            });
        };
        let (before, under) = (before.trim(), self.whole(under.trim())?);
        if under < 1.0 {
            return Err(LengthError::ZeroUnderTheLine {
                typed: self.typed.to_owned(),
            });
        }
        let (whole, over) = match before.rsplit_once([' ', '-']) {
            Some((whole, over)) => (self.whole(whole.trim())?, self.whole(over.trim())?),
            None => (0.0, self.whole(before)?),
        };
        Ok(Amount {
            value: whole + over / under,
            has_fraction: true,
        })
    }

    fn decimal(&self, text: &str) -> Result<f64, LengthError> {
        let marks = text.chars().filter(|c| matches!(c, '.' | ',')).count();
        if !text
            .chars()
            .all(|c| c.is_ascii_digit() || matches!(c, '.' | ','))
            || !text.chars().any(|c| c.is_ascii_digit())
        {
            return Err(self.no_length());
        }
        let typed = || self.typed.to_owned();
        if marks > 1 {
            return Err(LengthError::TwoMarks { typed: typed() });
        }
        if let Some((whole, fraction)) = text.split_once(',') {
            let may_be_thousands =
                fraction.len() == 3 && (1..=3).contains(&whole.len()) && !whole.starts_with('0');
            match self.mark {
                Some(DecimalMark::Point) => return Err(LengthError::WhichMark { typed: typed() }),
                None if may_be_thousands => return Err(LengthError::WhichMark { typed: typed() }),
                None | Some(DecimalMark::Comma) => {}
            }
        } else if marks == 1 && self.mark == Some(DecimalMark::Comma) {
            return Err(LengthError::WhichMark { typed: typed() });
        }
        figure(&text.replace(',', ".")).ok_or_else(|| self.no_length())
    }
}

struct Amount {
    value: f64,
    has_fraction: bool,
}

/// Writes a length for reading, without its unit: 0.1 mm, 0.001 in, or the nearest sixteenth as `1-2-3+`.
///
/// # Units
/// `mm`: mm.
///
/// # Accuracy
/// Half of the last place; a sixteenth is met within 1/32 in = 0.794 mm. Never `-0`; a length that is no number is `–`.
///
/// # Source
/// Common practice of the loft.
///
/// # Example
/// ```
/// use geometry::units::{LengthUnit, format_length};
/// assert_eq!(format_length(304.7, LengthUnit::FeetInchesEighths), "1-0-0");
/// ```
#[must_use]
pub fn format_length(mm: f64, unit: LengthUnit) -> String {
    format_length_to(mm, unit, Digits::Plain)
}

/// Writes a length as [`format_length`] does, as exactly as asked.
///
/// # Units
/// `mm`: mm.
///
/// # Accuracy
/// Half of the last place.
///
/// # Source
/// Common practice of the loft.
#[must_use]
pub fn format_length_to(mm: f64, unit: LengthUnit, digits: Digits) -> String {
    if !mm.is_finite() {
        return "–".to_owned();
    }
    match (unit, digits) {
        (LengthUnit::Millimetres, Digits::Plain) => fixed(mm, 1),
        (LengthUnit::Millimetres, Digits::Fine) => fixed(mm, 2),
        (LengthUnit::Inches, Digits::Plain) => fixed(mm / INCH, 3),
        (LengthUnit::Inches, Digits::Fine) => fixed(mm / INCH, 4),
        (LengthUnit::FeetInchesEighths, _) => feet_inches_eighths(mm),
    }
}

/// Writes a length with its unit; feet-inches-eighths need none, their form says it.
///
/// # Units
/// `mm`: mm.
///
/// # Accuracy
/// As [`format_length`].
///
/// # Source
/// Common practice.
#[must_use]
pub fn format_length_with_unit(mm: f64, unit: LengthUnit) -> String {
    let figure = format_length(mm, unit);
    match unit {
        LengthUnit::Millimetres => figure + " mm",
        LengthUnit::Inches => figure + " in",
        LengthUnit::FeetInchesEighths => figure,
    }
}

/// Writes a number with fixed decimals, never `-0`.
#[must_use]
pub fn fixed(value: f64, decimals: usize) -> String {
    let text = format!("{value:.decimals$}");
    match text.strip_prefix('-') {
        Some(rest) if rest.bytes().all(|b| matches!(b, b'0' | b'.')) => rest.to_owned(),
        _ => text,
    }
}

fn feet_inches_eighths(mm: f64) -> String {
    let sixteenths = libm::round(mm.abs() * 16.0 / INCH);
    let sign = if mm < 0.0 && sixteenths > 0.0 {
        "-"
    } else {
        ""
    };
    let feet = libm::floor(sixteenths / 192.0);
    let inches = libm::floor((sixteenths - feet * 192.0) / 16.0);
    let left = sixteenths - feet * 192.0 - inches * 16.0;
    let eighths = libm::floor(left / 2.0);
    let over = if left - eighths * 2.0 > 0.5 { "+" } else { "" };
    format!("{sign}{feet:.0}-{inches:.0}-{eighths:.0}{over}")
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    const MM: LengthUnit = LengthUnit::Millimetres;
    const IN: LengthUnit = LengthUnit::Inches;
    const FT: LengthUnit = LengthUnit::FeetInchesEighths;

    #[track_caller]
    fn check(text: &str, unit: LengthUnit, inches: f64) {
        let mm = parse_length(text, unit).unwrap_or_else(|e| panic!("{e}"));
        assert!(
            (mm - inches * 25.4).abs() < 1e-9,
            "{text}: {mm} mm = {} in",
            mm / 25.4
        );
    }

    #[track_caller]
    fn refuse(text: &str, unit: LengthUnit, words: &str) {
        let message = parse_length(text, unit).expect_err(text).message(unit);
        assert!(message.contains(words), "{text}: {message}");
    }

    // The values are published worked examples of the notation: 3-8-4 and 2-3-4 from ship and boat modelling forums,
    // the sixteenth signs from a boat builder's lofting notes. The inch of 25.4 mm is the international one.
    #[test]
    fn inches_are_written_as_lofts_write_them() {
        for (inches, text) in [
            (40.5, "3-4-4"),
            (19.4375, "1-7-3+"),
            (27.5, "2-3-4"),
            (122.28, "10-2-2"),
            (95.968, "7-11-7+"),
            (11.97, "1-0-0"),
            (35.99, "3-0-0"),
            (143.99, "12-0-0"),
            (0.0, "0-0-0"),
            (-0.01, "0-0-0"),
            (-1.25, "-0-1-2"),
        ] {
            assert_eq!(format_length(inches * 25.4, FT), text, "{inches}");
        }
    }

    #[test]
    fn one_box_takes_every_form() {
        check("3-8-4", MM, 44.5);
        check("2-3-4", MM, 27.5);
        check("7-11-8", FT, 96.0);
        check("1-7-4-", FT, 19.4375);
        check("1-7-4−", FT, 19.4375);
        check("1-7-3+", FT, 19.4375);
        check("-0-1-2", MM, -1.25);
        check(" 1 - 2 - 3 + ", MM, 14.4375);
        check("14.375\"", MM, 14.375);
        check("14.375", IN, 14.375);
        check("14 3/8\"", MM, 14.375);
        check("14-3/8 in", MM, 14.375);
        check("14⅜″", MM, 14.375);
        check("1 ft 2 3/8", MM, 14.375);
        check("1' 2 3/8\"", MM, 14.375);
        check("1' 2 3/8''", MM, 14.375);
        check("1 FT 2.375 IN", MM, 14.375);
        check("2 ft", MM, 24.0);
        check("5/8 in", MM, 0.625);
        check("5/8", FT, 0.625);
        check("365.1", MM, 365.1 / 25.4);
        check("12,5 mm", IN, 12.5 / 25.4);
        check("0,125", MM, 0.125 / 25.4);
        check("1234,567", MM, 1234.567 / 25.4);
        check("1.2 m", MM, 1200.0 / 25.4);
        check("3 cm", MM, 30.0 / 25.4);
        check("48", FT, 48.0);
        check(".5", IN, 0.5);
    }

    #[test]
    fn what_is_no_length_is_refused_with_what_to_type() {
        refuse(
            "1-8-9",
            FT,
            "has no ninth eighth. Type 0 to 7, then + if a sixteenth over",
        );
        refuse("0-14-3", FT, "14 inches");
        refuse("1 ft 14", MM, "14 inches");
        refuse("1.234,5", MM, "which mark");
        refuse("1,234.5", MM, "which mark");
        refuse("1,234", MM, "thousands");
        refuse("5/8", MM, "5/8 in");
        refuse("5/0 in", MM, "fraction line");
        refuse("2-3", FT, "two figures");
        refuse("", FT, "Nothing");
        refuse("  ", IN, "Nothing");
        refuse("NaN", MM, "not a length");
        refuse("inf", MM, "not a length");
        refuse("1e3", MM, "not a length");
        refuse("1-2-3-4", FT, "not a length");
        refuse("--5", MM, "not a length");
        refuse("101 m", MM, "100000.0 mm");
        refuse("99999999999-0-0", FT, "longer than");
        refuse(&"9".repeat(65), MM, "too long");
        refuse("1.5 ft 2", MM, "not a length");
    }

    #[test]
    fn what_a_spreadsheet_left_is_known_by_its_form() {
        for text in ["=B2+3", "@SUM(A1)", " =1", "@"] {
            let typed = text.trim().to_owned();
            let formula = Some(LengthError::Formula { typed });
            assert_eq!(LengthError::of_a_spreadsheet(text), formula, "{text}");
        }
        let errors = "#REF! #NAME? #DIV/0! #N/A #n/a #NV #N/D #Н/Д #¡VALOR! #¿NOMBRE? #GET_DATA! ## ##### Err:502 err:508";
        for text in errors.split(' ') {
            let typed = text.to_owned();
            let error = Some(LengthError::SheetError { typed });
            assert_eq!(LengthError::of_a_spreadsheet(text), error, "{text}");
            assert!(parse_length(text, LengthUnit::Inches).is_err(), "{text}");
        }
        for text in [
            "",
            "#",
            "#1",
            "#12",
            "#12A",
            "#12?",
            "#!",
            "# REF!",
            "#REF",
            "##1",
            "REF!",
            "N/A",
            "Err:",
            "Err: low",
            "Err:5a",
            "Error:502",
            "Err502",
            "12=",
            "a@b",
        ] {
            assert_eq!(LengthError::of_a_spreadsheet(text), None, "{text}");
        }
    }

    #[test]
    fn a_known_mark_refuses_the_other() {
        assert_eq!(
            parse_length_marked("1,234", MM, DecimalMark::Comma),
            Ok(1.234)
        );
        assert_eq!(
            parse_length_marked("1.234", MM, DecimalMark::Point),
            Ok(1.234)
        );
        assert!(parse_length_marked("12,5", MM, DecimalMark::Point).is_err());
        assert!(parse_length_marked("12.5", MM, DecimalMark::Comma).is_err());
    }

    #[test]
    fn millimetres_and_inches_have_fixed_places() {
        assert_eq!(format_length(-0.04, MM), "0.0");
        assert_eq!(format_length_to(365.125, MM, Digits::Fine), "365.12");
        assert_eq!(format_length(365.125, IN), "14.375");
        assert_eq!(format_length_with_unit(365.1, MM), "365.1 mm");
        assert_eq!(format_length(f64::NAN, FT), "–");
    }

    proptest! {
        #[test]
        fn a_figure_is_read_to_the_last_bit(whole in "0{0,3}[0-9]{0,20}", fraction in "[0-9]{0,25}", point in any::<bool>()) {
            let point = if point || !fraction.is_empty() { "." } else { "" };
            let text = format!("{whole}{point}{fraction}");
            let theirs = text.parse::<f64>().ok().map(f64::to_bits);
            prop_assert_eq!(figure(&text).map(f64::to_bits), theirs);
        }

        #[test]
        fn every_sixteenth_reads_back_exactly(n in -20_000_i32..20_000) {
            let mm = f64::from(n) * 25.4 / 16.0;
            let text = format_length(mm, FT);
            prop_assert_eq!(parse_length(&text, FT), Ok(mm + 0.0));
        }

        #[test]
        fn every_length_reads_back_within_half_its_last_place(mm in -9.0e4..9.0e4_f64) {
            for (unit, digits, half) in [
                (MM, Digits::Plain, 0.05), (MM, Digits::Fine, 0.005), (IN, Digits::Plain, 0.0127),
                (IN, Digits::Fine, 0.00127), (FT, Digits::Plain, 25.4 / 32.0),
            ] {
                let back = parse_length(&format_length_to(mm, unit, digits), unit).unwrap();
                prop_assert!((back - mm).abs() <= half + 1e-9, "{} {:?}", mm, unit);
            }
        }

        #[test]
        fn no_text_panics(text in ".{0,70}") {
            if let Ok(mm) = parse_length(&text, FT) {
                prop_assert!(mm.is_finite() && mm.abs() <= LONGEST);
            }
        }
    }
}
