//! Where readings come from, and what is to be known of them all: where they are counted from, in which unit, how they
//! were rounded, and which side of the skin they were taken at.
//!
//! In: a [`Source`]. Out: its values as the lines count them. What lies inside the skin is moved out by `loft`.

use serde::{Deserialize, Serialize};

use super::SourceId;
use crate::num;
use crate::units::LengthUnit;

/// Where readings come from.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Source {
    /// Names it in points.
    pub id: SourceId,
    /// What it is, as «Sheet 7: offsets, 1/16 in».
    pub title: String,
    /// Where its values are counted from.
    #[serde(default, skip_serializing_if = "Datum::is_that_of_the_lines")]
    pub datum: Datum,
    /// The unit of its bare numbers; absent: that of the numbers beside them.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub unit: Option<LengthUnit>,
    /// What its values were rounded to, mm: the tolerance that a new reading of it has.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rounding: Option<f64>,
    /// Which side of the skin was measured.
    #[serde(default, skip_serializing_if = "SkinSide::is_outside")]
    pub surface: SkinSide,
}

/// Where the values of a source are counted from; planes and stations of the lines stay where they are.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Datum {
    /// Half-breadths; distances along a diagonal are counted from the centre plane always.
    pub half_breadth: Counted,
    /// Heights.
    pub height: Counted,
    /// How far aft of the stations of the lines its own lie, mm; below zero, forward. Its readings keep their values: what they
    /// say at the lines' stations is [`Body::at_station`](super::Body::at_station).
    #[serde(default, skip_serializing_if = "is_zero")]
    pub aft: f64,
}

fn is_zero(mm: &f64) -> bool {
    num::same(*mm, 0.0)
}

/// From where, and which way.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Counted {
    /// Where its zero lies, as the lines count, mm.
    pub from: f64,
    /// Which way its values grow.
    pub sense: Sense,
}

/// Which way values grow.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Sense {
    /// Outward or up, as those of the body.
    #[default]
    With,
    /// Inward or down.
    Against,
}

/// Which side of the skin was measured.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case", deny_unknown_fields)]
pub enum SkinSide {
    /// The outside, which the lines are of.
    #[default]
    Outside,
    /// The inside of a skin so thick, mm.
    Inside {
        /// Over zero.
        thickness: f64,
    },
}

impl Counted {
    /// What a value of the source is on the body, mm.
    #[must_use]
    pub fn on_the_lines(self, value: f64) -> f64 {
        match self.sense {
            Sense::With => self.from + value,
            Sense::Against => self.from - value,
        }
    }

    /// What the source says of a place on the body, mm.
    #[must_use]
    pub fn of_the_source(self, value: f64) -> f64 {
        match self.sense {
            Sense::With => value - self.from,
            Sense::Against => self.from - value,
        }
    }

    /// A value of this count, counted anew by another, mm, to 1e-7 mm.
    #[must_use]
    pub(super) fn recounted(self, by: Self, value: f64) -> f64 {
        const STEPS: f64 = 1e7;
        if self == by {
            return value;
        }
        libm::round(by.on_the_lines(self.of_the_source(value)) * STEPS) / STEPS + 0.0
    }

    fn is_that_of_the_lines(self) -> bool {
        num::same(self.from, 0.0) && self.sense == Sense::With
    }
}

impl Datum {
    fn is_that_of_the_lines(&self) -> bool {
        let Self {
            half_breadth,
            height,
            aft,
        } = self;
        half_breadth.is_that_of_the_lines() && height.is_that_of_the_lines() && is_zero(aft)
    }
}

impl SkinSide {
    /// How deep under the outside it lies, mm.
    #[must_use]
    pub fn depth(self) -> f64 {
        match self {
            Self::Outside => 0.0,
            Self::Inside { thickness } => thickness,
        }
    }

    fn is_outside(&self) -> bool {
        *self == Self::Outside
    }
}

impl Source {
    /// A source of values on the outside of the skin, counted as the lines are.
    #[must_use]
    pub fn new(id: SourceId, title: &str) -> Self {
        Self {
            id,
            title: title.trim().to_owned(),
            datum: Datum::default(),
            unit: None,
            rounding: None,
            surface: SkinSide::Outside,
        }
    }
}
