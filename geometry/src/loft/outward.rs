//! What was read inside the skin, moved out to its outside, which the lines are of.
//!
//! In: the offsets, with the depth at which each was read, and the loft of them as they stand. Out: how far each is moved
//! out in the coordinates that were read. It is done once: the normal of a skin's inside is that of its outside.

use std::sync::Arc;

use std::borrow::Cow;
use std::collections::BTreeMap;

use super::{Evidence, Loft, LoftError, section_normal};
use crate::document::{Body, Fixes, Offset, On, PointId};
use crate::num;

/// Least part of the section's normal in the direction that was read, no unit: where the skin runs within 3° of that
/// direction, a reading of its inside says nothing of its outside.
const LEAST_ACROSS: f64 = 0.05;

/// How far recorded values are moved out.
#[derive(Debug)]
pub(super) struct Outward {
    /// What it was worked out from, as it was read.
    evidence: Evidence,
    /// In half-breadth, or along the diagonal, and in height, mm.
    moves: BTreeMap<PointId, [f64; 2]>,
}

impl Outward {
    /// The moves of a document's offsets; none where all lie on the outside.
    pub(super) fn of(body: &Arc<Body>, offsets: &[Vec<Offset>]) -> Result<Option<Self>, LoftError> {
        if offsets.iter().flatten().all(|offset| !lies_deep(offset)) {
            return Ok(None);
        }
        let evidence = Evidence::of(body, offsets);
        let inside = Loft::fitted(body, &evidence.offsets)?;
        let mut places = inside.points.iter();
        let mut moves = BTreeMap::new();
        let tips = body.tip_stations(&evidence.offsets);
        for (station, offsets) in evidence.offsets.iter().enumerate() {
            for offset in offsets {
                let Some(place) = places.next() else { break };
                // A tip has no section of its own.
                if !lies_deep(offset) || tips.contains(&Some(station)) {
                    continue;
                }
                let mut normal = section_normal(&inside.surface.jet(place.u, place.v));
                match offset.on {
                    On::Crown => normal[1] = normal[1].abs(),
                    On::Keel => normal[1] = -normal[1].abs(),
                    On::Plane(_) | On::PlaneUpper(_) | On::RunLine(_) | On::Free => {}
                }
                let moved = moved(offset.fixes, normal).ok_or_else(|| LoftError::AlongTheSkin {
                    point: body.named_point(offset.point),
                })?;
                let by = [0, 1].map(|k| moved[k] * offset.depth[k]);
                moves.insert(offset.point, by);
            }
        }
        Ok(Some(Self { evidence, moves }))
    }

    /// Whether a document has the evidence that this was worked out from.
    pub(super) fn holds(&self, evidence: &Evidence) -> bool {
        self.evidence == *evidence
    }

    /// How far a point's recorded values are moved out, mm.
    pub(super) fn of_point(&self, id: PointId) -> [f64; 2] {
        self.moves.get(&id).copied().unwrap_or_default()
    }
}

fn lies_deep(offset: &Offset) -> bool {
    offset.depth.iter().any(|depth| *depth > 0.0)
}

/// How far a point goes in each coordinate that was read while the skin is moved by 1 along its normal; none where it
/// runs along the direction that was read.
fn moved(fixes: Fixes, normal: [f64; 2]) -> Option<[f64; 2]> {
    let along = |across: f64| (across.abs() >= LEAST_ACROSS).then(|| 1.0 / across);
    Some(match fixes {
        Fixes::HalfBreadth => [along(normal[0])?, 0.0],
        Fixes::Height => [0.0, along(normal[1])?],
        Fixes::Both => normal,
        Fixes::Along { angle } => {
            let across = normal[0] * num::cos(angle) - normal[1] * num::sin(angle);
            [along(across)?, 0.0]
        }
    })
}

/// The offsets as they lie on the outside of the skin; what was moved by hand lies there already.
pub(super) fn on_the_outside<'a>(
    offsets: &'a [Vec<Offset>],
    outward: Option<&Outward>,
) -> Cow<'a, [Vec<Offset>]> {
    let Some(outward) = outward else {
        return Cow::Borrowed(offsets);
    };
    let mut offsets = offsets.to_vec();
    for offset in offsets.iter_mut().flatten() {
        let [first, height] = outward.of_point(offset.point);
        let by = match offset.fixes {
            Fixes::Along { angle } => [first * num::cos(angle), -first * num::sin(angle)],
            Fixes::HalfBreadth | Fixes::Height | Fixes::Both => [first, height],
        };
        for k in [0, 1] {
            offset.recorded[k] += by[k];
            if !offset.moved[k] {
                offset.accepted[k] += by[k];
            }
        }
    }
    Cow::Owned(offsets)
}

#[cfg(test)]
mod tests {
    use super::super::tests::document;
    use super::*;
    use crate::document::Lines;
    use crate::document::{BodyEdit, Moved, Peak, SkinSide};

    const RADIUS: f64 = 400.0;
    const SKIN: f64 = 1.2;

    /// A round body whose points are free, or lie on planes, read at this radius.
    fn round(radius: f64, side: SkinSide) -> Lines {
        let section = |x: f64| {
            let points = (0..=8).map(|i| {
                let t = core::f64::consts::PI * f64::from(i) / 8.0;
                [radius * num::sin(t), 600.0 + radius * num::cos(t)]
            });
            (x, points.collect())
        };
        let stations: Vec<_> = (0..5).map(|i| section(500.0 * f64::from(i))).collect();
        let lines = document(&stations, 0.5, Peak::Smooth);
        let mut source = lines.body.sources[0].clone();
        source.surface = side;
        lines.apply(BodyEdit::SetSource(source)).unwrap()
    }

    #[test]
    fn a_round_body_read_inside_is_as_large_as_one_read_outside() {
        // A circle's normals meet in its middle, so a skin of thickness t read at R - t has the radius R: closed form.
        let inside = SkinSide::Inside { thickness: SKIN };
        let loft = Loft::build(&round(RADIUS - SKIN, inside).body).unwrap();
        let truth = Loft::build(&round(RADIUS, SkinSide::Outside).body).unwrap();
        for (a, b) in loft.points().iter().zip(truth.points()) {
            let off = num::hypot(a.target[0], a.target[1] - 600.0) - RADIUS;
            assert!(off.abs() < 2e-5, "{off} mm at {:?}", b.target);
        }
        let bare = Loft::build(&round(RADIUS - SKIN, SkinSide::Outside).body).unwrap();
        let middle = |loft: &Loft| loft.surface().jet(0.5, 0.5).s.y;
        assert!((middle(&truth) - middle(&loft)).abs() < 2e-3);
        assert!((middle(&truth) - middle(&bare) - SKIN).abs() < 2e-3);
    }

    #[test]
    fn what_is_read_in_one_coordinate_moves_so_that_the_skin_does_by_its_thickness() {
        // Under a normal at 60° from the direction read, cos 60° = 1/2: twice the thickness.
        let normal = [0.5, -0.75_f64.sqrt()];
        let near = |found: Option<[f64; 2]>, wanted: [f64; 2]| {
            let found = found.unwrap();
            assert!((found[0] - wanted[0]).abs() < 1e-12 && (found[1] - wanted[1]).abs() < 1e-12);
        };
        near(moved(Fixes::HalfBreadth, normal), [2.0, 0.0]);
        near(moved(Fixes::Height, normal), [0.0, -2.0 / 3.0_f64.sqrt()]);
        near(moved(Fixes::Both, normal), normal);
        // A diagonal that falls by 60° runs along the normal.
        let angle = core::f64::consts::FRAC_PI_3;
        near(moved(Fixes::Along { angle }, normal), [1.0, 0.0]);
        assert_eq!(moved(Fixes::HalfBreadth, [0.04, 1.0]), None);
    }

    #[test]
    fn a_point_moved_by_hand_lies_where_it_was_put_and_costs_one_solve() {
        let lines = round(RADIUS - SKIN, SkinSide::Inside { thickness: SKIN });
        let loft = Loft::build(&lines.body).unwrap();
        let point = loft.points()[13];
        let [y, _] = point.target;
        let put = lines
            .apply(BodyEdit::Move(Moved {
                point: point.point,
                half_breadth: Some(y + 2.0),
                height: None,
            }))
            .unwrap();
        let again = loft.again(&put.body).unwrap();
        assert!(again.shares_factor(&loft));
        let found = again.points()[13].target;
        assert!((found[0] - y - 2.0).abs() < 0.006, "{} mm", found[0] - y);
        assert!((found[1] - point.target[1]).abs() < 1e-9);
        // Another thickness is other evidence.
        let thick = round(RADIUS - SKIN, SkinSide::Inside { thickness: 2.0 });
        assert!(!loft.again(&thick.body).unwrap().shares_factor(&loft));
    }
}
