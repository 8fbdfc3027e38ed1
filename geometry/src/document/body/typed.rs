//! Values against the texts that they were typed as.
//!
//! In: [`Body`]. Out: each value that its text does not say. Edits and tables read the one from the other, but what comes in by a
//! file or a link holds both; which of the two is right a person says.

use super::{Body, Counted, PointId, Recorded};
use crate::units::{DecimalMark, LengthUnit, format_length, parse_length, parse_length_marked};

/// A value that its text does not say.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Misread {
    /// The point.
    pub point: PointId,
    /// Which of its readings, from 0.
    pub reading: usize,
    /// Whether it is the height; else the half-breadth, or the distance along a diagonal.
    pub height: bool,
    /// What the text says, by the unit that comes nearest to the value, as all lengths here are counted, mm; none where it is no
    /// length in any.
    pub says: Option<f64>,
}

/// How far a value may lie from what its text says, mm: it is kept to 1e-7 mm where its source's datum was changed, and no
/// reading was ever taken to a hundredth.
const TYPED_APART: f64 = 0.01;

const UNITS: [LengthUnit; 3] = [
    LengthUnit::Millimetres,
    LengthUnit::Inches,
    LengthUnit::FeetInchesEighths,
];

/// All that a text can say, in each unit and with either decimal mark, mm.
fn all_said(typed: &str) -> impl Iterator<Item = f64> {
    UNITS.into_iter().flat_map(|unit| {
        let plain = parse_length(typed, unit);
        let marked = [DecimalMark::Point, DecimalMark::Comma]
            .map(|mark| parse_length_marked(typed, unit, mark));
        core::iter::once(plain).chain(marked).flatten()
    })
}

/// What the text of a value says instead of it; none where it says the value, or is how that is shown in some unit: a sixteenth
/// is as near as feet-inches-eighths come.
fn says_instead(recorded: &Recorded, counted: Counted) -> Option<Option<f64>> {
    let mut nearest = None::<f64>;
    let apart = |said: f64| (said - recorded.mm).abs();
    for said in all_said(&recorded.typed).map(|mm| counted.on_the_lines(mm)) {
        if apart(said) <= TYPED_APART {
            return None;
        }
        if nearest.is_none_or(|nearest| apart(said) < apart(nearest)) {
            nearest = Some(said);
        }
    }
    let read = counted.of_the_source(recorded.mm);
    let shown = UNITS
        .iter()
        .any(|unit| format_length(read, *unit) == recorded.typed);
    (!shown).then_some(nearest)
}

impl Body {
    /// The values of used readings that their texts do not say, point by point; not those that were put right, for which a
    /// person said what counts.
    #[must_use]
    pub fn misread(&self) -> Vec<Misread> {
        let mut found = Vec::new();
        for point in &self.points {
            for (reading, read) in point.readings.iter().enumerate() {
                if read.set_aside.is_some() {
                    continue;
                }
                let counted = self.counted(point.on, read.source);
                for (height, counted) in [false, true].into_iter().zip(counted) {
                    let recorded = read.recorded(height);
                    let recorded = recorded.filter(|recorded| recorded.put_right.is_none());
                    let Some(says) = recorded.and_then(|r| says_instead(r, counted)) else {
                        continue;
                    };
                    found.push(Misread {
                        point: point.id,
                        reading,
                        height,
                        says,
                    });
                }
            }
        }
        found
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::document::body::Sense;

    #[track_caller]
    fn says(typed: &str, mm: f64, instead: Option<Option<f64>>) {
        let recorded = Recorded {
            typed: typed.to_owned(),
            mm,
            put_right: None,
        };
        assert_eq!(
            says_instead(&recorded, Counted::default()),
            instead,
            "{typed}"
        );
    }

    #[test]
    fn a_text_says_its_value_in_any_unit_or_as_that_is_shown() {
        says("365.1", 365.1, None);
        says("365,1", 365.1, None);
        says("14.375", 365.125, None);
        says("1-2-3", 365.125, None);
        says("1.234", 1.234, None); // alone, its mark could stand between thousands
        says("1 ft 2 3/8", 365.125, None);
        // As it is shown, rounded.
        says("365.1", 365.14, None);
        says("1-2-3", 365.8, None);
        says("1-2-3+", 366.6, None);
        // Off by more than that.
        says("365.1", 365.2, Some(Some(365.1)));
        says("1-2-3", 366.0, Some(Some(365.125)));
        says("388", 390.0, Some(Some(388.0)));
        says("15", 390.0, Some(Some(381.0))); // inches come nearer
        says("", 390.0, Some(None));
        says("smudged", 390.0, Some(None));
    }

    #[test]
    fn a_text_is_counted_as_its_source_is() {
        let recorded = Recorded {
            typed: "100".to_owned(),
            mm: 900.0,
            put_right: None,
        };
        let down = Counted {
            from: 1000.0,
            sense: Sense::Against,
        };
        assert_eq!(says_instead(&recorded, down), None);
        let up = Counted {
            sense: Sense::With,
            ..down
        };
        assert_eq!(says_instead(&recorded, up), Some(Some(1100.0)));
    }
}
