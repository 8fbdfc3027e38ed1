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
    /// What the text says; none where it is no length in any unit.
    pub says: Option<TypedLength>,
}

/// What a text says, by the unit that comes nearest to the value beside it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TypedLength {
    /// As all lengths here are counted, mm.
    pub mm: f64,
    /// By which unit; none where it says its own.
    pub by: Option<LengthUnit>,
}

/// How far a value may lie from what its text says, mm: it is kept to 1e-7 mm where its source's datum was changed, and no
/// reading was ever taken to a hundredth.
const TYPED_APART: f64 = 0.01;

const UNITS: [LengthUnit; 3] = [
    LengthUnit::Millimetres,
    LengthUnit::Inches,
    LengthUnit::FeetInchesEighths,
];

/// All that a text can say, in each unit and with either decimal mark.
fn all_said(typed: &str) -> impl Iterator<Item = TypedLength> {
    let [one, other] =
        [LengthUnit::Millimetres, LengthUnit::Inches].map(|unit| parse_length(typed, unit).ok());
    let says_its_own = one.is_some() && one == other;
    UNITS.into_iter().flat_map(move |unit| {
        let plain = parse_length(typed, unit);
        let marked = [DecimalMark::Point, DecimalMark::Comma]
            .map(|mark| parse_length_marked(typed, unit, mark));
        let said = core::iter::once(plain).chain(marked).flatten();
        said.map(move |mm| TypedLength {
            mm,
            by: (!says_its_own).then_some(unit),
        })
    })
}

/// What the text of a value says instead of it; none where it says the value, or is how that is shown in some unit: a sixteenth
/// is as near as feet-inches-eighths come.
fn says_instead(recorded: &Recorded, counted: Counted) -> Option<Option<TypedLength>> {
    let mut nearest = None::<TypedLength>;
    let apart = |said: TypedLength| (said.mm - recorded.mm).abs();
    for mut said in all_said(&recorded.typed) {
        said.mm = counted.on_the_lines(said.mm);
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
    fn says(typed: &str, mm: f64, instead: Option<Option<(f64, Option<LengthUnit>)>>) {
        let recorded = Recorded {
            typed: typed.to_owned(),
            mm,
            put_right: None,
        };
        let says = says_instead(&recorded, Counted::default());
        let says = says.map(|says| says.map(|says| (says.mm, says.by)));
        assert_eq!(says, instead, "{typed}");
    }

    #[test]
    fn a_text_says_its_value_in_any_unit_or_as_that_is_shown() {
        use LengthUnit::{Inches, Millimetres};
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
        says("365.1", 365.2, Some(Some((365.1, Some(Millimetres)))));
        says("1-2-3", 366.0, Some(Some((365.125, None))));
        says("388", 390.0, Some(Some((388.0, Some(Millimetres)))));
        says("15", 390.0, Some(Some((381.0, Some(Inches))))); // inches come nearer
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
        let says = says_instead(&recorded, up).flatten();
        assert_eq!(says.map(|says| says.mm), Some(1100.0));
    }
}
