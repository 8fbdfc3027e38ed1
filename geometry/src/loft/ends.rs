//! How what no reading fixes at the ends of a body is settled, by each method of the loft.
//!
//! In: the body's method, and what of the girth its end stations show. Out: what knots and energy are to do there.

use super::girth::Girth;
use super::{BodyEnds, LoftError};
use crate::document::{Body, LOFT_METHOD};
use crate::spline::DEGREE;

/// The ways from readings to a surface that this version knows; see [`LOFT_METHOD`].
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Method {
    /// The energy alone settles what no reading fixes.
    First,
    /// Knots stand at the stations alone, and the third derivative goes on straight into the first and the last bay.
    Second,
}

impl Method {
    pub(super) fn of(body: &Body) -> Result<Self, LoftError> {
        match body.method {
            1 => Ok(Self::First),
            LOFT_METHOD => Ok(Self::Second),
            method => Err(LoftError::Method { method }),
        }
    }

    /// Fewest spans along the body: between stations nothing is read, so that a knot there only adds to what is not fixed.
    pub(super) fn fewest_spans(self) -> usize {
        match self {
            Self::First => 12,
            Self::Second => 1,
        }
    }
}

/// How what no reading fixes in the first and the last bay is settled.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum EndBays {
    /// By the energy alone, which draws the third derivative there towards zero.
    Slack,
    /// The third derivative goes on straight from the two bays beside, on these stretches of the girth, fore and aft.
    Straight([[f64; 2]; 2]),
}

/// How many rows apart coefficients are coupled at most: those of three bays.
pub(super) const FAR: usize = DEGREE + 2;

impl EndBays {
    /// How many rows before it a row of the net is coupled with, of so many.
    pub(super) fn reach(self, row: usize, rows: usize) -> usize {
        match self {
            Self::Straight(_) if row <= FAR || row + FAR >= rows => FAR,
            Self::Slack | Self::Straight(_) => DEGREE,
        }
    }

    /// As the method of a body has them.
    pub(super) fn of(
        method: Method,
        body_ends: &BodyEnds,
        (used, girth): (&[usize], &Girth),
    ) -> Self {
        match method {
            Method::First => Self::Slack,
            Method::Second => Self::Straight(shown_at_ends(body_ends, used, girth)),
        }
    }
}

/// The stretch of the girth that the stations of the three bays at either end of the body show, each all of it; a tip shows
/// it all.
fn shown_at_ends(body_ends: &BodyEnds, used: &[usize], girth: &Girth) -> [[f64; 2]; 2] {
    let shown = |stations: &mut dyn Iterator<Item = &usize>| {
        let whole = stations.filter(|station| !body_ends.tip_stations.contains(&Some(**station)));
        let stretches = whole
            .take(4)
            .map(|station| match girth.v[*station].as_deref() {
                Some([from, .., to]) => [*from, *to],
                _ => [1.0, 0.0],
            });
        stretches.fold([0.0_f64, 1.0_f64], |[from, to], [first, last]| {
            [from.max(first), to.min(last)]
        })
    };
    [shown(&mut used.iter()), shown(&mut used.iter().rev())]
}
