//! Lettering as wide as it is drawn: B612, whose letters' widths stand in a table, so that nothing here reads a font.
//!
//! Letters stand side by side as wide as they are: no pair is drawn closer (kerning) and none is joined. Who shows what is
//! measured here says so to what draws it (`font-kerning: none`). Figures are all of one width.

mod widths;

use widths::{BOLD, EM, HEIGHTS, ITALIC, MISSING, REGULAR, RUNS};

/// A face of B612.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub enum Typeface {
    /// Upright, of plain weight.
    #[default]
    Regular,
    /// Upright and heavy.
    Bold,
    /// Leaning, of plain weight.
    Italic,
}

impl Typeface {
    fn widths(self) -> &'static [u16] {
        match self {
            Self::Regular => &REGULAR,
            Self::Bold => &BOLD,
            Self::Italic => &ITALIC,
        }
    }
}

/// Height of a capital, in parts of the letters' size.
pub const CAPITAL: f64 = HEIGHTS[0] as f64 / EM;

/// How far letters with accents rise over the foot line, in parts of the letters' size.
pub const ASCENT: f64 = HEIGHTS[2] as f64 / EM;

/// How far letters hang under the foot line, in parts of the letters' size.
pub const DESCENT: f64 = HEIGHTS[3] as f64 / EM;

/// Width of a letter which no face has, in parts of the letters' size: others draw it, and few are wider.
const UNKNOWN: f64 = 1.0;

/// How wide a text in one line is.
///
/// # Units
/// - `size`: of the letters (their em), in any unit of length
/// - returns: in the same unit; from where the first letter begins to where one more would
///
/// # Accuracy
/// Of letters which the faces have (Latin with its accents, figures, signs): exact as the font says, to 1/2000 of the size.
/// Any other letter counts as one size wide, whatever face will draw it; one that is drawn as no mark of its own (an accent
/// that joins the letter before it, a mark for the direction) counts as nothing.
#[must_use]
pub fn width_of(text: &str, face: Typeface, size: f64) -> f64 {
    text.chars().map(|letter| width(letter, face)).sum::<f64>() * size
}

/// Whether the faces have a letter.
#[must_use]
pub fn has(letter: char) -> bool {
    place(letter).is_some()
}

/// Width of one letter in parts of its size.
fn width(letter: char, face: Typeface) -> f64 {
    match place(letter) {
        Some(place) => f64::from(face.widths().get(place).copied().unwrap_or(MISSING)) / EM,
        None if draws_nothing(letter) => 0.0,
        None => UNKNOWN,
    }
}

/// Where a letter stands in the tables.
fn place(letter: char) -> Option<usize> {
    let code = u32::from(letter);
    let mut before = 0;
    for [first, last] in RUNS {
        if code < first {
            return None;
        }
        if code <= last {
            return usize::try_from(before + code - first).ok();
        }
        before += last + 1 - first;
    }
    None
}

/// Joining accents, marks of direction and width, controls.
pub(crate) fn draws_nothing(letter: char) -> bool {
    letter.is_control()
        || matches!(u32::from(letter), 0x300..=0x36f | 0x200b..=0x200f | 0x202a..=0x202e | 0x2060..=0x206f | 0xfe00..=0xfe0f | 0xfeff)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn measures(text: &str, face: Typeface, parts: f64) {
        let width = width_of(text, face, 2000.0);
        assert!((width - parts).abs() < 1e-9, "{text}: {width}");
    }

    #[test]
    fn figures_are_of_one_width_in_all_faces() {
        for face in [Typeface::Regular, Typeface::Bold, Typeface::Italic] {
            for figure in '0'..='9' {
                measures(&figure.to_string(), face, 1300.0);
            }
            measures("1450", face, 5200.0);
        }
    }

    #[test]
    fn what_the_faces_do_not_have_is_wide_or_nothing() {
        measures("", Typeface::Regular, 0.0);
        measures("\u{6f22}", Typeface::Regular, 2000.0);
        measures("\u{202e}0\u{301}", Typeface::Bold, 1300.0);
        assert!(has('−') && has('·') && has('°') && has('×') && !has('\u{6f22}'));
        // The tables are as long as the runs say.
        let letters: u32 = RUNS.iter().map(|[first, last]| last + 1 - first).sum();
        for face in [Typeface::Regular, Typeface::Bold, Typeface::Italic] {
            assert_eq!(face.widths().len(), usize::try_from(letters).unwrap());
            assert!(
                face.widths()
                    .iter()
                    .all(|width| *width == 0 || (200..=2200).contains(width))
            );
        }
    }
}
