//! The document's lines on its loft: which plane cuts a line, or at which `v` it runs, and what it does at a station.

use super::pickup::place_at;
use super::{CuttingPlane, Node, Spot, View, cut_at, run_at};
use crate::document::{On, Place};
use crate::loft::Loft;
use crate::num;

/// The cutting plane of a place.
#[must_use]
pub fn plane_of(place: Place) -> CuttingPlane {
    match place {
        Place::Waterline(z) => CuttingPlane::waterline(z),
        Place::Buttock(y) => CuttingPlane::buttock(y),
        Place::Diagonal { height, angle } => CuttingPlane::diagonal(height, angle),
    }
}

/// Where a line of constant `v` runs; none for plane cuts, and for what the loft does not have.
#[must_use]
pub fn girth_of(loft: &Loft, on: On) -> Option<f64> {
    match on {
        On::Crown => loft.crown().then_some(0.0),
        On::Keel => loft.keel().then_some(1.0),
        On::RunLine(id) => loft.run_line_v(id),
        On::Plane(_) | On::PlaneUpper(_) | On::Free => None,
    }
}

/// What a line does where it passes a distance aft of the datum; none where it does not reach it, or has no tangent there.
///
/// Of a waterline or diagonal the outermost place is meant, of a buttock line the keel side's or the crown side's.
///
/// # Units
/// `x`: mm.
///
/// # Accuracy
/// Place to 1e-9 mm of the surface's; tangent and curvature to the accuracy of its jets.
#[must_use]
pub fn node_at(loft: &Loft, on: On, x: f64) -> Option<Node> {
    let body = loft.body();
    let surface = loft.surface();
    if let Some(v) = girth_of(loft, on) {
        let [from, to] = loft.extent();
        let there = x >= from - num::FIT && x <= to + num::FIT;
        return there.then(|| run_at(surface, (surface.u_at(x), v), View::Profile));
    }
    let place = body.place_of(on)?;
    let spot = match place {
        Place::Waterline(z) => Spot::Waterline(z),
        Place::Buttock(y) if matches!(on, On::PlaneUpper(_)) => Spot::ButtockUpper(y),
        Place::Buttock(y) => Spot::Buttock(y),
        Place::Diagonal { height, angle } => Spot::Diagonal(height, angle),
    };
    let at = place_at(surface, x, spot).ok()?;
    cut_at(surface, at, plane_of(place).normal)
}
