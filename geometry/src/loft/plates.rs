//! Plates: what lies between two breaks of the tangent, crown and keel among them, with nothing read inside it.
//!
//! In: a body with where its points lie round the girth. Out: the system of its net. Where readings leave a plate open it is
//! flat, and its skin keeps to the box of what was read.

use std::sync::Arc;

use super::ends::Method;
use super::fit::System;
use super::girth::{Girth, GirthBounds};
use super::{BodyEnds, LoftError, NetLayout, lay_out_by};
use crate::document::{Body, Offset, RunKind, stations_shown};
use crate::spline::{Knots, Surface};

/// How taut lengthwise a body with unread plates is drawn: as the energy has it, then the tauter, till its skin keeps to its
/// readings.
const TAUT: [f64; 4] = [0.0, 0.01, 1.0, 100.0];

/// Knots, conditions and targets of a net.
///
/// Third derivatives say nothing of how a plate bulges from one break of the tangent to the next: where nothing is read inside
/// it, at any station, only rounding would. So where the system does not hold as it stands, such plates are flat, and a section
/// runs straight across them, from a crown or keel too; and two stations, which the first method leaves as loose lengthwise,
/// are joined by straight lines as the second has it. What such a body lacks between its lines it often lacks along them: where
/// its skin would run out of [`ReadingsBox`] it is drawn tauter, its end bays slack.
///
/// A system that holds is left as it is, so that what was lofted well keeps its bits: that is asked of its pivots alone
/// (`num::linear`), and only of a body that might need it.
pub(super) fn lay_out(
    body: &Body,
    offsets: &[Vec<Offset>],
    bounds: &GirthBounds,
    body_ends: &BodyEnds,
    girth: &Girth,
) -> Result<(Arc<NetLayout>, System), LoftError> {
    let method = Method::of(body)?;
    let plates = unread_plates(body, offsets, girth);
    let two = stations_shown(offsets).len() == 2;
    let lay = |method: Method, loose: (&[[f64; 2]], f64)| {
        let of = (body_ends, girth);
        lay_out_by((body, offsets), bounds.clone(), of, (method, loose))
    };
    let laid = lay(method, (&[], 0.0))?;
    let may_be_loose = !plates.is_empty() || (two && method == Method::First);
    if !may_be_loose || laid.1.factor(1.0).is_ok() {
        return Ok(laid);
    }
    let method = if two { Method::Second } else { method };
    for taut in TAUT {
        let (layout, system) = lay(method, (&plates, taut))?;
        let Ok(fit) = system.factor(1.0) else {
            continue;
        };
        let extent = ReadingsBox::of(offsets, &layout.tips);
        if extent.holds(&fit.surface(&layout.targets(&layout.evidence.offsets))) {
            return Ok((layout, system));
        }
    }
    Err(LoftError::NotFixed)
}

/// How many times as large as the box of its readings the skin of a body of plates may be where it is looked at: between
/// such places it then keeps to twice that.
const MOST_LARGER: f64 = 1.75;

/// The box, half-breadths to both sides and heights, that holds the skin of a body of plates, by its readings.
pub(super) struct ReadingsBox([[f64; 2]; 2]);

impl ReadingsBox {
    pub(super) fn of(offsets: &[Vec<Offset>], tips: &[[f64; 2]]) -> Self {
        let read = offsets.iter().flatten().map(|offset| offset.recorded);
        let (mut breadth, mut low, mut high) = (0.0_f64, f64::INFINITY, f64::NEG_INFINITY);
        for [y, z] in read.chain(tips.iter().copied()) {
            breadth = breadth.max(y.abs());
            (low, high) = (low.min(z), high.max(z));
        }
        let more = (high - low) * (MOST_LARGER - 1.0) / 2.0;
        let breadth = MOST_LARGER * breadth;
        Self([[-breadth, breadth], [low - more, high + more]])
    }

    /// Whether a surface keeps within it: surely where its net does, else looked at four times a span.
    pub(super) fn holds(&self, surface: &Surface) -> bool {
        const LOOKED: u32 = 4;
        let keeps = |value: f64, [low, high]: [f64; 2]| low <= value && value <= high;
        let [breadths, heights] = self.0;
        let mut net = surface.y_net().iter().zip(surface.z_net());
        if net.all(|(y, z)| keeps(*y, breadths) && keeps(*z, heights)) {
            return true;
        }
        let places = |knots: &Knots| -> Vec<f64> {
            let spans = (0..knots.span_count()).map(|span| knots.span(span));
            let within = |(a, b): (f64, f64)| {
                (0..=LOOKED).map(move |i| a + (b - a) * f64::from(i) / f64::from(LOOKED))
            };
            spans.flat_map(within).collect()
        };
        let round = places(surface.v_knots());
        places(surface.u_knots()).into_iter().all(|u| {
            let row = surface.row(u);
            round.iter().all(|v| {
                let at = row.jet(*v).s;
                keeps(at.y, breadths) && keeps(at.z, heights)
            })
        })
    }
}

/// Stretches of the girth between two breaks of the tangent inside which no station has a reading.
fn unread_plates(body: &Body, offsets: &[Vec<Offset>], girth: &Girth) -> Vec<[f64; 2]> {
    let inner = girth.run_lines.iter().filter(|(id, v)| {
        let line = body.run_line(*id);
        line.is_some_and(|line| line.kind == RunKind::Knuckle) && *v > 0.0 && *v < 1.0
    });
    let mut breaks = vec![0.0];
    breaks.extend(inner.map(|(_, v)| *v));
    breaks.push(1.0);
    let read: Vec<f64> = { girth.v.iter().zip(offsets) }
        .filter_map(|(v, offsets)| v.as_ref().filter(|_| !offsets.is_empty()))
        .flatten()
        .copied()
        .collect();
    let stretches = breaks.windows(2).map(|pair| [pair[0], pair[1]]);
    let unread = |[from, to]: &[f64; 2]| !read.iter().any(|v| from < v && v < to);
    stretches.filter(unread).collect()
}
