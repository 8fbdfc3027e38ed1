//! Lengths as a person writes and reads them.
//!
//! In: text and millimetres. Out: millimetres and text. A refusal is a value that says what is wrong and what to type.

use serde::{Deserialize, Serialize};

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

/// What a refusal says to the person.
pub trait Message {
    /// A sentence in trade words, lengths in `unit`: where, what, and what would help.
    fn message(&self, unit: LengthUnit) -> String;
}
