//! A trial bench: the loft's own system with weights and a stiffness of one's own, for judging its readings.
//!
//! In: the recorded offsets, and which of them are to have no say in the girth. Out: fits of them, each with its surface
//! and its prediction variances. Nothing of it is kept in a [`super::Loft`].

use std::sync::Arc;

use super::fit::{Bending, Covariances, Fit, System};
use super::girth::{Girth, Measured, evened};
use super::{BodyEnds, GirthBounds, LoftError, NetLayout, lay_out, placed};
use crate::document::{Body, Offset, On, PointId, RunKind};
use crate::spline::Surface;

/// The system of a loft, ready to be fitted at any weights.
#[derive(Debug)]
pub(crate) struct Bench {
    layout: Arc<NetLayout>,
    system: System,
}

/// One fit of a [`Bench`].
#[derive(Debug)]
pub(crate) struct BenchFit {
    /// The surface of the recorded values at these weights.
    pub(crate) surface: Surface,
    fit: Fit,
}

/// Share of the chord between two neighbours that a point left out keeps from either.
const OFF_NEIGHBOURS: f64 = 0.02;

impl Bench {
    /// Lays out the recorded offsets; those of `apart` have no say in where the others of their station lie round the
    /// girth, and lie on the chord of their neighbours themselves.
    ///
    /// A crown or keel keeps its place and its say, and so does the open edge of a shell, a knuckle, and what else the
    /// girth can't do without. In the end bays the energy settles what is free, by whichever method the loft is: a surface
    /// whose third derivative goes on straight foretells a reading at an end worse when that is left out.
    pub(crate) fn lay(
        body: &Body,
        offsets: &[Vec<Offset>],
        apart: &[PointId],
    ) -> Result<Self, LoftError> {
        Self::laid(body, offsets, apart, Measured::AsRead)
    }

    /// The same, with like places of like sections at one `v`, however narrow some of them are.
    pub(crate) fn lay_evened(
        body: &Body,
        offsets: &[Vec<Offset>],
        apart: &[PointId],
    ) -> Result<Self, LoftError> {
        Self::laid(body, offsets, apart, Measured::Evened)
    }

    fn laid(
        body: &Body,
        offsets: &[Vec<Offset>],
        apart: &[PointId],
        measured: Measured,
    ) -> Result<Self, LoftError> {
        let kept = kept(body, offsets, apart)?;
        let dropped =
            kept.iter().map(Vec::len).sum::<usize>() < offsets.iter().map(Vec::len).sum::<usize>();
        let girth = if dropped {
            placed(body, &kept, measured).map(|(body_ends, bounds, mut girth)| {
                match measured {
                    Measured::AsRead => insert(offsets, &kept, &mut girth),
                    Measured::Evened => {
                        let [all, rest] = [offsets, &kept].map(|of| evened(of, &kept, &bounds));
                        insert(&all, &rest, &mut girth);
                    }
                }
                (body_ends, bounds, girth)
            })
        } else {
            placed(body, offsets, measured)
        };
        // Where the rest is no section of its own, the girth keeps what was to stand apart.
        let (body_ends, bounds, girth): (BodyEnds, GirthBounds, Girth) = match girth {
            Err(_) if dropped => placed(body, offsets, measured)?,
            other => other?,
        };
        let (layout, mut system) = lay_out(body, offsets, &bounds, &body_ends, &girth)?;
        system.slacken_ends();
        Ok(Self { layout, system })
    }

    /// Where each offset lies on the net, station by station: `u` and `v`.
    pub(crate) fn places(&self) -> impl Iterator<Item = [f64; 2]> {
        self.layout.places.iter().map(|place| [place.u, place.v])
    }

    /// Where the run lines lie round the girth that have points.
    pub(crate) fn run_lines(&self) -> impl Iterator<Item = f64> {
        self.layout.run_lines.iter().map(|(_, v)| *v)
    }

    /// Makes the surface another in how it resists being bent.
    pub(crate) fn set_bending(&mut self, bending: Bending) {
        self.system.set_bending(bending);
    }

    /// Fits the recorded values with a weight each, 1/mm², and a stiffness.
    pub(crate) fn fit(&mut self, weights: &[f64], stiffness: f64) -> Result<BenchFit, LoftError> {
        let recorded = self.layout.evidence.offsets.iter().flatten();
        let recorded: Vec<[f64; 2]> = recorded.map(|offset| offset.recorded).collect();
        self.fit_to(&recorded, weights, stiffness)
    }

    /// Fits other values than were recorded, half-breadth and height of each offset, where these lie round the girth.
    pub(crate) fn fit_to(
        &mut self,
        values: &[[f64; 2]],
        weights: &[f64],
        stiffness: f64,
    ) -> Result<BenchFit, LoftError> {
        self.system.set_weights(weights);
        let fit = self.system.factor(stiffness)?;
        let tips = self.layout.tips.iter();
        let targets: Vec<[f64; 2]> = values.iter().chain(tips).copied().collect();
        Ok(BenchFit {
            surface: fit.surface(&targets),
            fit,
        })
    }
}

impl BenchFit {
    /// Prediction variances of half-breadth and height at a place, for readings of variance 1/weight, mm².
    pub(crate) fn variance(&self, u: f64, v: f64) -> [f64; 2] {
        self.fit.variance(u, v)
    }

    /// How the unknowns answer a unit of force on the offset with this number, mm for each 1/mm.
    pub(crate) fn answers(&self, offset: usize) -> [Vec<f64>; 2] {
        self.fit.answers(offset)
    }

    /// What half-breadth and height at the offset with this number come to by these unknowns; by the answers to another
    /// offset it is their prediction covariances, mm².
    pub(crate) fn at_offset(&self, offset: usize, unknowns: [&[f64]; 2]) -> [f64; 2] {
        self.fit.at_target(offset, unknowns)
    }

    /// [`Self::variance`] at every offset, then at the tips: at once.
    pub(crate) fn variances(&self) -> Vec<[f64; 2]> {
        self.fit.variances()
    }

    /// Prediction covariances of the offsets, each with itself and with those beside it, given by their numbers.
    pub(crate) fn covariances(&self, beside: &[Vec<(usize, f64)>]) -> Covariances {
        self.fit.covariances(beside)
    }
}

/// The offsets without those that the girth can leave out.
fn kept(
    body: &Body,
    offsets: &[Vec<Offset>],
    apart: &[PointId],
) -> Result<Vec<Vec<Offset>>, LoftError> {
    let bounds = GirthBounds::of(body, offsets)?;
    let stands_apart = |offset: &Offset| apart.contains(&offset.point);
    let marked_elsewhere = |on: On| {
        let others = offsets.iter().flatten().filter(|o| o.on == on);
        others.filter(|o| !stands_apart(o)).count() > 0
    };
    let can_go = |offset: &Offset| match offset.on {
        On::Crown | On::Keel => false,
        On::Plane(_) | On::PlaneUpper(_) | On::Free => true,
        On::RunLine(id) => {
            let knuckle = body
                .run_line(id)
                .is_some_and(|line| line.kind == RunKind::Knuckle);
            let edge = offset.on == bounds.first() || offset.on == bounds.last();
            !knuckle && !edge && marked_elsewhere(offset.on)
        }
    };
    Ok(offsets
        .iter()
        .map(|station| {
            let rest: Vec<Offset> = station
                .iter()
                .filter(|offset| !stands_apart(offset) || !can_go(offset))
                .copied()
                .collect();
            if rest.len() < 3 {
                station.clone()
            } else {
                rest
            }
        })
        .collect())
}

/// Gives the points left out their place between their neighbours.
fn insert(offsets: &[Vec<Offset>], kept: &[Vec<Offset>], girth: &mut Girth) {
    for ((all, kept), v) in offsets.iter().zip(kept).zip(&mut girth.v) {
        let Some(known) = v else { continue };
        if all.len() == kept.len() {
            continue;
        }
        let mut places = Vec::with_capacity(all.len());
        let mut next = 0;
        for offset in all {
            if kept.get(next).is_some_and(|k| k.point == offset.point) {
                places.push(known[next]);
                next += 1;
                continue;
            }
            // The ends of a station may go only where it shows a part of the girth; they then lie with their neighbour.
            let before = next.saturating_sub(1);
            let after = next.min(kept.len() - 1);
            let (a, b) = (kept[before].recorded, kept[after].recorded);
            let chord = [b[0] - a[0], b[1] - a[1]];
            let square = chord[0] * chord[0] + chord[1] * chord[1];
            let along =
                (offset.recorded[0] - a[0]) * chord[0] + (offset.recorded[1] - a[1]) * chord[1];
            let share = if square > 0.0 { along / square } else { 0.5 };
            let share = share.clamp(OFF_NEIGHBOURS, 1.0 - OFF_NEIGHBOURS);
            places.push(known[before] + (known[after] - known[before]) * share);
        }
        *known = places;
    }
}
