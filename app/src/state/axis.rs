//! The coordinates of a point that were read, one by one: what a person steps, types and drags.
//!
//! In: a point. Out: what is recorded and accepted of one coordinate, and the move to another value.

use geometry::document::{Moved, Point, PointId};

/// A typed value that is further off than so many tolerances is asked about.
pub const FAR_OFF: f64 = 10.0;

/// How far what was read of a point is moved to where the lines count it, along to its station and out to the outside of the
/// skin, in half-breadth and height, mm; see [`Body::at_station`](geometry::document::Body::at_station) and
/// [`Loft::moved_out`](geometry::loft::Loft::moved_out).
pub type Out = [f64; 2];

/// One coordinate of a point that was read, and so can be moved.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Axis {
    /// Half-breadth, or the distance along a diagonal.
    HalfBreadth,
    /// Height.
    Height,
}

impl Axis {
    /// As a person calls it.
    pub fn name(self) -> &'static str {
        match self {
            Self::HalfBreadth => "half-breadth",
            Self::Height => "height",
        }
    }

    /// What is recorded of a point, mm: the tolerance-weighted mean of its used readings, at its station and on the outside of
    /// the skin; `out` is how far it is moved there.
    pub fn recorded(self, point: &Point, out: Out) -> Option<f64> {
        let merged = point.merged();
        match self {
            Self::HalfBreadth => merged.half_breadth.map(|mm| mm + out[0]),
            Self::Height => merged.height.map(|mm| mm + out[1]),
        }
    }

    /// What is accepted of a point, mm.
    pub fn accepted(self, point: &Point, out: Out) -> Option<f64> {
        let accepted = match self {
            Self::HalfBreadth => point.accepted_half_breadth,
            Self::Height => point.accepted_height,
        };
        self.recorded(point, out).map(|mm| accepted.unwrap_or(mm))
    }

    /// The move of a point to this value, mm.
    pub fn moved(self, point: PointId, mm: f64) -> Moved {
        Moved {
            point,
            half_breadth: (self == Self::HalfBreadth).then_some(mm),
            height: (self == Self::Height).then_some(mm),
        }
    }
}

/// What was read of a point: the height first, as the trade writes a profile.
pub fn axes(point: &Point) -> Vec<Axis> {
    [Axis::Height, Axis::HalfBreadth]
        .into_iter()
        .filter(|axis| axis.accepted(point, [0.0; 2]).is_some())
        .collect()
}
