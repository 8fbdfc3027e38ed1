//! Slips of the pen: what may have been meant where a value was written that does not fit.
//!
//! In: the text as typed, how its source counts, and the value that would fit with its standard deviation. Out: the slips
//! that explain the text, the likeliest first, each with the text as it should have been typed.

use crate::document::Counted;
use crate::num;
use crate::units::{INCH, LengthUnit, fixed, format_length, parse_length};

/// The value that would fit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Expected {
    /// As the reading counts on the lines, mm.
    pub mm: f64,
    /// Its standard deviation, mm.
    pub sd: f64,
}

/// A value that does not fit, and what would.
#[derive(Clone, Copy, Debug)]
pub struct Misfit<'a> {
    /// The text as typed.
    pub typed: &'a str,
    /// The unit of a bare number in it.
    pub unit: LengthUnit,
    /// How its source counts.
    pub counted: Counted,
    /// The value that would fit, on the lines, mm.
    pub expected: f64,
    /// Its standard deviation, mm, over zero.
    pub sd: f64,
    /// Cells of the same source that the text may have been exchanged with, or copied from.
    pub cells: &'a [NeighbourCell],
}

/// A cell beside the one that does not fit.
#[derive(Clone, Debug, PartialEq)]
pub struct NeighbourCell {
    /// Its place, as `STA 58` or `WL 36`.
    pub name: String,
    /// Its text as typed.
    pub typed: String,
    /// What it says, on the lines, mm.
    pub mm: f64,
    /// What would fit there, as far as it is known.
    pub expected: Option<Expected>,
}

impl NeighbourCell {
    /// Whether a value fits there.
    fn takes(&self, mm: f64) -> bool {
        self.expected
            .is_some_and(|expected| (mm - expected.mm).abs() <= FURTHEST * expected.sd)
    }
}

/// What went wrong.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum SlipKind {
    /// `1-2-3` for `1-3-2`.
    InchesAndEighths,
    /// `1-2-3` for `2-1-3`.
    FeetAndInches,
    /// Two neighbouring digits of one figure.
    Digits,
    /// One digit for another.
    Digit {
        /// As it was written.
        written: char,
        /// As it was meant.
        meant: char,
    },
    /// The other sign.
    Sign,
    /// The `+` or `-` for a sixteenth over or under.
    Mark {
        /// As it was written; none where there is no mark.
        written: Option<char>,
        /// As it was meant.
        meant: Option<char>,
    },
    /// So much too little, or too much.
    Amount {
        /// In words, as «an inch».
        amount: &'static str,
        /// Whether what was written is too small.
        too_little: bool,
    },
    /// Written for that of another cell, and that one for it.
    Cell {
        /// Its place.
        of: String,
    },
    /// Another cell's text, written once more.
    Copy {
        /// Its place.
        of: String,
    },
    /// The point's half-breadth written for its height, and its height for its half-breadth.
    Coordinates,
}

/// One way in which a value may have come to be written for another.
#[derive(Clone, Debug, PartialEq)]
pub struct Slip {
    /// What went wrong.
    pub kind: SlipKind,
    /// The text as it should have been typed, in the notation of the one that was: half-breadth / height, where both were
    /// exchanged.
    pub typed: String,
    /// What that says, on the lines, mm.
    pub mm: f64,
    /// What the point's height says then, where both were exchanged, on the lines, mm.
    pub height_too: Option<f64>,
    /// How unlikely such a slip is beforehand, as the logarithm of a rate: 0 for exchanged digits.
    pub cost: f64,
    /// How unlikely it is altogether: the less, the likelier.
    pub score: f64,
}

/// Pairs of digits that are taken for each other in a bad copy.
const LOOK_ALIKE: [(char, char); 6] = [
    ('1', '7'),
    ('3', '8'),
    ('6', '0'),
    ('5', '6'),
    ('4', '9'),
    ('3', '5'),
];

/// Costs beforehand, by kind: measured ones for figures (exchanged 0, look-alike 1.5, any digit 2.5, sign and amount 2);
/// the fields of feet-inches-eighths are held against these. Inches and eighths are two short figures side by side and
/// exchanged as digits are; feet stand apart. A mark for a sixteenth is as easily lost as a digit is misread.
const EXCHANGED: f64 = 0.0;
const FEET_EXCHANGED: f64 = 1.0;
const MISREAD: f64 = 1.5;
const ANY_DIGIT: f64 = 2.5;
const OTHER_SIGN: f64 = 2.0;
const LOST_MARK: f64 = 1.5;
const TURNED_MARK: f64 = 2.0;
const AMOUNT: f64 = 2.0;
const OTHER_CELL: f64 = 2.0;
const OTHER_COORDINATE: f64 = 2.0;

/// Furthest from the wanted value, in standard deviations.
const FURTHEST: f64 = 3.0;

/// Amounts by which a value is written too small or too large, mm.
const AMOUNTS: [(&str, f64); 9] = [
    ("a sixteenth", INCH / 16.0),
    ("an eighth", INCH / 8.0),
    ("a quarter of an inch", INCH / 4.0),
    ("half an inch", INCH / 2.0),
    ("an inch", INCH),
    ("a foot", 12.0 * INCH),
    ("a millimetre", 1.0),
    ("ten millimetres", 10.0),
    ("a hundred millimetres", 100.0),
];

impl Slip {
    /// In a person's words, as «inches and eighths changed places».
    #[must_use]
    pub fn words(&self) -> String {
        match &self.kind {
            SlipKind::InchesAndEighths => "inches and eighths changed places".to_owned(),
            SlipKind::FeetAndInches => "feet and inches changed places".to_owned(),
            SlipKind::Digits => "two digits changed places".to_owned(),
            SlipKind::Digit { written, meant } => format!("{written} written for {meant}"),
            SlipKind::Sign => "the wrong sign".to_owned(),
            SlipKind::Mark { written, meant } => match (written, meant) {
                (None, Some(meant)) => format!("{meant} for a sixteenth missed"),
                (Some(written), None) => format!("{written} for a sixteenth too much"),
                _ => "the wrong mark for a sixteenth".to_owned(),
            },
            SlipKind::Amount { amount, too_little } => {
                format!(
                    "{amount} too {}",
                    if *too_little { "little" } else { "much" }
                )
            }
            SlipKind::Cell { of } => format!("changed places with {of}"),
            SlipKind::Copy { of } => format!("copied from {of}"),
            SlipKind::Coordinates => "half-breadth and height changed places".to_owned(),
        }
    }
}

/// The slips that explain a value, the likeliest first; none where nothing simple comes within three standard deviations
/// of what would fit.
///
/// # Units
/// mm.
///
/// # Accuracy
/// A score is `½ ((value − wanted) / sd)² + cost + ln sd`: the logarithm of a normal density and a rate.
///
/// # Source
/// Bayes' rule with the rates above, which were measured on made tables of digits.
#[must_use]
pub fn slips(misfit: &Misfit<'_>) -> Vec<Slip> {
    let Ok(written) = parse_length(misfit.typed, misfit.unit) else {
        return Vec::new();
    };
    let text = misfit.typed.trim();
    let candidates = match Dashed::read(text) {
        Some(dashed) => dashed.candidates(),
        None => Plain::of(text, misfit.unit, written).candidates(),
    };
    let read = candidates.into_iter().filter_map(|candidate| {
        let value = parse_length(&candidate.text, misfit.unit).ok()?;
        let mm = misfit.counted.on_the_lines(value);
        Some((candidate.kind, candidate.text, mm, candidate.cost))
    });
    let here = misfit.counted.on_the_lines(written);
    let cells = { misfit.cells.iter() }.filter_map(|cell| of_a_cell(misfit, (text, here), cell));
    let mut found: Vec<Slip> = Vec::new();
    for (kind, typed, mm, cost) in read.chain(cells) {
        let off = (mm - misfit.expected) / misfit.sd;
        if num::same(mm, here) || off.abs() > FURTHEST {
            continue;
        }
        let score = 0.5 * off * off + cost + num::ln(misfit.sd);
        let slip = Slip {
            kind,
            typed,
            mm,
            height_too: None,
            cost,
            score,
        };
        // Several slips may lead to one value: the likeliest of them tells it.
        match found.iter_mut().find(|other| num::same(other.mm, mm)) {
            Some(other) if cost < other.cost => *other = slip,
            Some(_) => {}
            None => found.push(slip),
        }
    }
    found.sort_by(|a, b| a.score.total_cmp(&b.score));
    found
}

/// What a cell tells of a text that says `here`: each stands in the other's place, or the text is the cell's once more. Then
/// what it should be is what fits.
fn of_a_cell(
    misfit: &Misfit<'_>,
    (text, here): (&str, f64),
    cell: &NeighbourCell,
) -> Option<(SlipKind, String, f64, f64)> {
    let of = cell.name.clone();
    if num::same(cell.mm, here) {
        let copied = cell.typed.trim() == text && cell.takes(cell.mm);
        let typed = copied.then(|| said(misfit, text))?;
        let value = parse_length(&typed, misfit.unit).ok()?;
        let mm = misfit.counted.on_the_lines(value);
        return Some((SlipKind::Copy { of }, typed, mm, OTHER_CELL));
    }
    let exchanged = cell.takes(here) && !cell.takes(cell.mm);
    exchanged.then(|| {
        let typed = cell.typed.clone();
        (SlipKind::Cell { of }, typed, cell.mm, OTHER_CELL)
    })
}

/// The value that would fit, in the notation of a text.
fn said(misfit: &Misfit<'_>, text: &str) -> String {
    let value = misfit.counted.of_the_source(misfit.expected);
    let sixteenths = num::count_of((value.abs() / INCH * 16.0).round());
    if let (Some(dashed), Ok(sixteenths)) = (Dashed::read(text), u32::try_from(sixteenths)) {
        let negative = value < 0.0 && sixteenths > 0;
        return Dashed { negative, ..dashed }.of_sixteenths(sixteenths);
    }
    let says = parse_length(text, misfit.unit).unwrap_or_default();
    Plain::of(text, misfit.unit, says)
        .changed(value - says)
        .unwrap_or_else(|| format_length(value, misfit.unit))
}

/// The slip by which a point's half-breadth stands for its height, by what the two say once they are back, as typed and on the
/// lines, and by how far that is off what would fit, with its standard deviation, mm. None where it is too far off.
pub(super) fn coordinates_exchanged(
    [first, second]: [&str; 2],
    [half_breadth, height]: [f64; 2],
    (off, sd): (f64, f64),
) -> Option<Slip> {
    let off = off / sd;
    (off.abs() <= FURTHEST).then(|| Slip {
        kind: SlipKind::Coordinates,
        typed: format!("{first} / {second}"),
        mm: half_breadth,
        height_too: Some(height),
        cost: OTHER_COORDINATE,
        score: 0.5 * off * off + OTHER_COORDINATE + num::ln(sd),
    })
}

/// A text that may have been meant.
struct Candidate {
    kind: SlipKind,
    text: String,
    cost: f64,
}

fn exchanged(digits: &str) -> Vec<String> {
    let chars: Vec<char> = digits.chars().collect();
    let at: Vec<usize> = (0..chars.len())
        .filter(|i| chars[*i].is_ascii_digit())
        .collect();
    at.windows(2)
        .filter(|pair| pair[1] - pair[0] <= 2 && chars[pair[0]] != chars[pair[1]])
        // A single mark may stand between, no space or line.
        .filter(|pair| pair[1] - pair[0] == 1 || matches!(chars[pair[0] + 1], '.' | ','))
        .map(|pair| {
            let mut other = chars.clone();
            other.swap(pair[0], pair[1]);
            other.into_iter().collect()
        })
        .collect()
}

/// The text with one digit another, with both digits and the cost.
fn replaced(text: &str, may: impl Fn(usize) -> bool) -> Vec<(String, [char; 2], f64)> {
    let chars: Vec<char> = text.chars().collect();
    let mut out = Vec::new();
    for (i, written) in chars.iter().enumerate() {
        if !written.is_ascii_digit() || !may(i) {
            continue;
        }
        for meant in '0'..='9' {
            if meant == *written {
                continue;
            }
            let alike = LOOK_ALIKE
                .iter()
                .any(|(a, b)| [(*a, *b), (*b, *a)].contains(&(*written, meant)));
            let mut other = chars.clone();
            other[i] = meant;
            let cost = if alike { MISREAD } else { ANY_DIGIT };
            out.push((other.into_iter().collect(), [*written, meant], cost));
        }
    }
    out
}

/// Whether a figure of several digits begins with a zero, as none is written.
fn has_leading_zero(text: &str) -> bool {
    let chars: Vec<char> = text.chars().collect();
    (0..chars.len()).any(|i| {
        let begins =
            i == 0 || !(chars[i - 1].is_ascii_digit() || matches!(chars[i - 1], '.' | ','));
        begins && chars[i] == '0' && chars.get(i + 1).is_some_and(char::is_ascii_digit)
    })
}

/// Feet, inches and eighths, `1-2-3+`.
struct Dashed {
    negative: bool,
    fields: [u32; 3],
    mark: Option<char>,
}

impl Dashed {
    fn read(text: &str) -> Option<Self> {
        let plain: String = text
            .chars()
            .filter(|c| !c.is_whitespace())
            .map(|c| match c {
                '\u{2212}' | '\u{2010}' | '\u{2011}' | '\u{2013}' => '-',
                c => c,
            })
            .collect();
        let (negative, body) = match plain.strip_prefix('-') {
            Some(rest) => (true, rest),
            None => (false, plain.as_str()),
        };
        let mark = body.chars().last().filter(|c| matches!(c, '+' | '-'));
        let figures = mark.map_or(body, |mark| body.trim_end_matches(mark));
        let fields: Vec<u32> = figures
            .split('-')
            .map(|field| field.parse().ok().filter(|n| *n < 1_000_000))
            .collect::<Option<_>>()?;
        Some(Self {
            negative,
            fields: fields.try_into().ok()?,
            mark,
        })
    }

    fn text(&self, fields: [u32; 3], mark: Option<char>) -> String {
        let sign = if self.negative { "-" } else { "" };
        let [feet, inches, eighths] = fields;
        let mark = mark.map_or(String::new(), String::from);
        format!("{sign}{feet}-{inches}-{eighths}{mark}")
    }

    /// The text of so many sixteenths, a mark written as this one is.
    fn of_sixteenths(&self, sixteenths: u32) -> String {
        let odd = sixteenths % 2 == 1;
        // `1-7-4-` is a sixteenth under: its eighths are the next ones up.
        let under = odd && self.mark == Some('-');
        let even = if under {
            sixteenths + 1
        } else {
            sixteenths - sixteenths % 2
        };
        let mark = odd.then_some(if under { '-' } else { '+' });
        self.text([even / 192, even / 16 % 12, even / 2 % 8], mark)
    }

    fn candidates(&self) -> Vec<Candidate> {
        let mut out = Vec::new();
        let [feet, inches, eighths] = self.fields;
        let mut push = |kind: SlipKind, text: String, cost: f64| {
            out.push(Candidate { kind, text, cost });
        };
        if inches < 8 {
            let text = self.text([feet, eighths, inches], self.mark);
            push(SlipKind::InchesAndEighths, text, EXCHANGED);
        }
        if feet < 12 {
            let text = self.text([inches, feet, eighths], self.mark);
            push(SlipKind::FeetAndInches, text, FEET_EXCHANGED);
        }
        for place in 0..3 {
            let put = |digits: &str| {
                let mut fields = self.fields;
                fields[place] = digits.parse().ok()?;
                let within = fields[1] < 12 && fields[2] < 8 && !has_leading_zero(digits);
                within.then(|| self.text(fields, self.mark))
            };
            let digits = self.fields[place].to_string();
            for other in exchanged(&digits) {
                if let Some(text) = put(&other) {
                    push(SlipKind::Digits, text, EXCHANGED);
                }
            }
            for (other, [written, meant], cost) in replaced(&digits, |_| true) {
                if let Some(text) = put(&other) {
                    push(SlipKind::Digit { written, meant }, text, cost);
                }
            }
        }
        for meant in [None, Some('+'), Some('-')] {
            if meant == self.mark || (meant == Some('-') && eighths == 0) {
                continue;
            }
            let both = meant.is_some() && self.mark.is_some();
            let cost = if both { TURNED_MARK } else { LOST_MARK };
            let kind = SlipKind::Mark {
                written: self.mark,
                meant,
            };
            push(kind, self.text(self.fields, meant), cost);
        }
        let mark = match self.mark {
            Some('+') => 1,
            Some(_) => -1,
            None => 0,
        };
        let sixteenths =
            i64::from(feet) * 192 + i64::from(inches) * 16 + i64::from(eighths) * 2 + mark;
        for (amount, by) in [
            ("an eighth", 2),
            ("a quarter of an inch", 4),
            ("half an inch", 8),
            ("an inch", 16),
            ("a foot", 192),
        ] {
            for (too_little, by) in [(true, by), (false, -by)] {
                if let Ok(other) = u32::try_from(sixteenths + by) {
                    let too_little = too_little != self.negative;
                    let kind = SlipKind::Amount { amount, too_little };
                    push(kind, self.of_sixteenths(other), AMOUNT);
                }
            }
        }
        let other = Self {
            negative: !self.negative,
            ..*self
        };
        push(
            SlipKind::Sign,
            other.text(self.fields, self.mark),
            OTHER_SIGN,
        );
        out
    }
}

/// Any other text: `14.375"`, `365.1`, `12,5 mm`, `1 ft 2 3/8`.
struct Plain<'a> {
    text: &'a str,
    unit: LengthUnit,
    /// What it says, mm.
    says: f64,
}

impl<'a> Plain<'a> {
    fn of(text: &'a str, unit: LengthUnit, says: f64) -> Self {
        Self { text, unit, says }
    }

    fn candidates(&self) -> Vec<Candidate> {
        let mut out = Vec::new();
        let mut push = |kind: SlipKind, text: String, cost: f64| {
            if !has_leading_zero(&text) {
                out.push(Candidate { kind, text, cost });
            }
        };
        for other in exchanged(self.text) {
            push(SlipKind::Digits, other, EXCHANGED);
        }
        // What stands under a fraction line is no figure that was measured.
        let under: Vec<bool> = self
            .text
            .chars()
            .scan(false, |under, c| {
                *under = matches!(c, '/' | '\u{2044}') || (*under && c.is_ascii_digit());
                Some(*under)
            })
            .collect();
        for (other, [written, meant], cost) in replaced(self.text, |i| !under[i]) {
            push(SlipKind::Digit { written, meant }, other, cost);
        }
        for (amount, by) in AMOUNTS {
            for (too_little, by) in [(true, by), (false, -by)] {
                if let Some(other) = self.changed(by) {
                    push(SlipKind::Amount { amount, too_little }, other, AMOUNT);
                }
            }
        }
        let other = match self.text.strip_prefix(['-', '\u{2212}']) {
            Some(rest) => rest.trim_start().to_owned(),
            None => format!("-{}", self.text.trim_start_matches('+')),
        };
        push(SlipKind::Sign, other, OTHER_SIGN);
        out
    }

    /// The text of a value so much more, in the same notation; none where that can't say it.
    fn changed(&self, by: f64) -> Option<String> {
        let figures: Vec<(usize, usize)> = figures(self.text);
        let says = |text: &str| parse_length(text, self.unit).ok();
        let expected = self.says + by;
        if let [(from, to)] = figures[..] {
            let figure = &self.text[from..to];
            let decimals = figure
                .find(['.', ','])
                .map_or(0, |mark| figure.len() - mark - 1);
            let unit = self.says / figure.replace(',', ".").parse::<f64>().ok()?;
            // A zero has no unit to be told by.
            let unit = if unit.is_finite() { unit } else { return None };
            let expected_figure = expected / unit;
            if expected_figure < 0.0 {
                return None;
            }
            let mut written = fixed(expected_figure, decimals);
            if figure.contains(',') {
                written = written.replace('.', ",");
            }
            let text = format!("{}{written}{}", &self.text[..from], &self.text[to..]);
            // An eighth of an inch among whole millimetres is a rounded one.
            let rounding = unit.abs() * [0.5, 0.05, 0.005, 0.0005, 0.0][decimals.min(4)] + 1e-6;
            return (says(&text)? - expected)
                .abs()
                .le(&rounding)
                .then_some(text);
        }
        // Feet, inches, a fraction: one of them one more or less.
        figures.iter().find_map(|(from, to)| {
            let figure: u32 = self.text[*from..*to].parse().ok()?;
            [figure.checked_add(1), figure.checked_sub(1)]
                .into_iter()
                .flatten()
                .map(|other| format!("{}{other}{}", &self.text[..*from], &self.text[*to..]))
                .find(|text| says(text).is_some_and(|mm| (mm - expected).abs() < 1e-6))
        })
    }
}

/// Where the figures of a text stand, in bytes: digits with a mark among them.
fn figures(text: &str) -> Vec<(usize, usize)> {
    let part = |c: char| c.is_ascii_digit() || matches!(c, '.' | ',');
    let mut out = Vec::new();
    let mut from = None;
    for (i, c) in text.char_indices().chain([(text.len(), ' ')]) {
        match (from, part(c)) {
            (None, true) => from = Some(i),
            (Some(begins), false) => {
                // The point of `in.` is no figure.
                if text[begins..i].contains(|c: char| c.is_ascii_digit()) {
                    out.push((begins, i));
                }
                from = None;
            }
            _ => {}
        }
    }
    out
}

#[cfg(test)]
#[path = "slips_tests.rs"]
mod tests;
