//! How what no reading fixes at the ends of a body is settled, by each method of the loft.
//!
//! In: the body's method, and what of the girth the stations at its ends show. Out: what knots and energy are to do there.

use super::girth::Girth;
use super::{BodyEnds, LoftError};
use crate::document::{Body, Offset};
use crate::spline::DEGREE;

/// The ways from readings to a surface that this version knows; see [`crate::document::LOFT_METHOD`].
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
            2 => Ok(Self::Second),
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

    /// As the method of a body has them: the stations that are used, the offsets of all, and where those lie round the girth.
    pub(super) fn of(
        method: Method,
        body_ends: &BodyEnds,
        (used, offsets): (&[usize], &[Vec<Offset>]),
        girth: &Girth,
    ) -> Self {
        match method {
            Method::First => Self::Slack,
            Method::Second => {
                let shown = |station: &usize| {
                    let tip = body_ends.tip_stations.contains(&Some(*station));
                    (!tip).then(|| shown_at(&offsets[*station], girth.v[*station].as_deref()))
                };
                let all = |stations: &mut dyn Iterator<Item = &usize>| {
                    let whole = stations.filter_map(shown).take(4);
                    whole.fold([0.0_f64, 1.0_f64], |[from, to], [first, last]| {
                        [from.max(first), to.min(last)]
                    })
                };
                Self::Straight([all(&mut used.iter()), all(&mut used.iter().rev())])
            }
        }
    }
}

/// A section narrower than this part of its height is as good as flat.
const FLAT: f64 = 1e-3;

/// The stretch of the girth that a station shows; backwards, and so none, where it shows none, or is flat as a sharp stem is:
/// places round the girth run together towards it, and what runs at one of them does not go on straight.
fn shown_at(offsets: &[Offset], v: Option<&[f64]>) -> [f64; 2] {
    let Some([from, .., to]) = v else {
        return [1.0, 0.0];
    };
    let spread = |k: usize| {
        let places = offsets.iter().map(|offset| offset.accepted[k]);
        let [least, most] = places.fold([f64::INFINITY, f64::NEG_INFINITY], |[a, b], place| {
            [a.min(place), b.max(place)]
        });
        most - least
    };
    if spread(0) <= FLAT * spread(1) {
        return [1.0, 0.0];
    }
    [*from, *to]
}
