//! The plane in which a board stands, and how it is seen.
//!
//! In: a loft, and where a board is wanted ([`crate::document::BoardPlace`]). Out: a [`BoardPlane`].

use glam::DVec3;

use crate::document::{BoardLine, BoardPlace, On};
use crate::lines::{CuttingPlane, node_at, plane_of};
use crate::loft::Loft;
use crate::num;

use super::shells::{ShellPart, shells};

/// A direction to the right and one up in a plane, by which what lies in it is drawn.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BoardView {
    /// The place at the drawing's nought, mm.
    pub origin: DVec3,
    /// Unit direction to the right.
    pub right: DVec3,
    /// Unit direction up.
    pub up: DVec3,
}

impl BoardView {
    /// A place as it is drawn: to the right and up, mm.
    #[must_use]
    pub fn flat(&self, place: DVec3) -> (f64, f64) {
        let off = place - self.origin;
        (off.dot(self.right), off.dot(self.up))
    }

    /// A direction as it is drawn.
    #[must_use]
    pub fn direction(&self, of: DVec3) -> (f64, f64) {
        (of.dot(self.right), of.dot(self.up))
    }
}

/// What sort of plane it is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum PlaneKind {
    /// Transverse.
    Station,
    /// Athwartships, leaning from the transverse with its top aft, rad.
    Canted(f64),
    /// Along a line that lies in it as near as this, mm.
    Along(f64),
    /// Square to a line.
    Square,
}

/// The plane in which a board stands.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BoardPlane {
    /// What sort.
    pub kind: PlaneKind,
    /// The plane that cuts the skin.
    pub cutting: CuttingPlane,
    /// How it is seen: across the body from aft, starboard to the right; along it with the bow to the left.
    pub seen: BoardView,
    /// How far aft it stands, in its middle, mm.
    pub x: f64,
    /// A place on or near the skin by which the piece of the cut is known that is meant.
    pub near: Option<DVec3>,
}

/// A place of a line on the skin, with the skin's outward direction and the line's own.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct OnLine {
    pub(super) point: DVec3,
    pub(super) normal: DVec3,
    tangent: DVec3,
}

/// Half the step by which a girth line's direction is taken, mm.
///
/// A line of a loft turns by less than 1e-3 rad in it, so that the direction is good to 1e-7.
const ASIDE: f64 = 0.5;

impl BoardPlane {
    /// Transverse, at a distance aft of the datum, mm.
    #[must_use]
    pub fn station(x: f64) -> Self {
        Self {
            kind: PlaneKind::Station,
            cutting: CuttingPlane::station(x),
            seen: BoardView {
                origin: DVec3::new(x, 0.0, 0.0),
                right: DVec3::Y,
                up: DVec3::Z,
            },
            x,
            near: None,
        }
    }

    /// Where a person wants one; none where its line is not there, or does not reach so far.
    #[must_use]
    pub fn of(loft: &Loft, place: BoardPlace) -> Option<Self> {
        match place {
            BoardPlace::Canted { x, z, lean } => Some(Self::canted(x, z, lean)),
            BoardPlace::Along { line, from, to } => Self::along(loft, line, [from, to]),
            BoardPlace::Square { line, x } => Self::square(loft, line, x),
        }
    }

    fn canted(x: f64, z: f64, lean: f64) -> Self {
        let up = DVec3::new(num::sin(lean), 0.0, num::cos(lean));
        let normal = DVec3::new(num::cos(lean), 0.0, -num::sin(lean));
        let through = DVec3::new(x, 0.0, z);
        Self {
            kind: PlaneKind::Canted(lean),
            cutting: CuttingPlane {
                normal,
                offset: normal.dot(through),
            },
            // Heights along the board are counted from where it meets the base line's level.
            seen: BoardView {
                origin: through - up * (z / num::cos(lean)),
                right: DVec3::Y,
                up,
            },
            x,
            near: None,
        }
    }

    /// Along a line: in the line's own plane where it has one, else in the plane of its ends that holds the skin's outward
    /// direction in its middle.
    fn along(loft: &Loft, line: BoardLine, [from, to]: [f64; 2]) -> Option<Self> {
        const LOOKED_AT: u32 = 32;
        let own = match line {
            BoardLine::Named(On::Crown | On::Keel) => Some(CuttingPlane::buttock(0.0)),
            BoardLine::Named(on) => loft.body().place_of(on).map(plane_of),
            BoardLine::Girth { .. } => None,
        };
        let middle_x = f64::midpoint(from, to);
        let [first, middle, last] = [from, middle_x, to].map(|x| on_line(loft, line, x));
        let (first, middle, last) = (first?, middle?, last?);
        let right = (last.point - first.point).normalize_or_zero();
        let cutting = own.unwrap_or_else(|| {
            let normal = right.cross(middle.normal).normalize_or_zero();
            CuttingPlane {
                normal,
                offset: normal.dot(first.point),
            }
        });
        let flat =
            |way: DVec3| (way - cutting.normal * way.dot(cutting.normal)).normalize_or_zero();
        let right = flat(right);
        let up = cutting.normal.cross(right);
        // Heights stand upright; in a plane that is nearly level, the outside of the skin is above.
        let rises = if up.z.abs() > 0.5 {
            up.z
        } else {
            up.dot(middle.normal)
        };
        let seen = BoardView {
            origin: first.point,
            right,
            up: if rises < 0.0 { -up } else { up },
        };
        let off = |i: u32| {
            let x = from + (to - from) * f64::from(i) / f64::from(LOOKED_AT);
            let at = on_line(loft, line, x)?;
            Some((cutting.normal.dot(at.point) - cutting.offset).abs())
        };
        let off = (0..=LOOKED_AT).filter_map(off).fold(0.0, f64::max);
        (cutting.normal.length() > 0.5).then_some(Self {
            kind: PlaneKind::Along(off),
            cutting,
            seen,
            x: middle_x,
            near: Some(middle.point),
        })
    }

    fn square(loft: &Loft, line: BoardLine, x: f64) -> Option<Self> {
        let at = on_line(loft, line, x)?;
        let normal = if at.tangent.x < 0.0 {
            -at.tangent
        } else {
            at.tangent
        };
        let right = (DVec3::Y - normal * normal.y).normalize_or_zero();
        let up = normal.cross(right);
        Some(Self {
            kind: PlaneKind::Square,
            cutting: CuttingPlane {
                normal,
                offset: normal.dot(at.point),
            },
            seen: BoardView {
                origin: at.point,
                right,
                up,
            },
            x,
            near: Some(at.point),
        })
    }
}

/// A line at a distance aft; none where it does not reach it.
pub(super) fn on_line(loft: &Loft, line: BoardLine, x: f64) -> Option<OnLine> {
    match line {
        BoardLine::Named(on) => {
            let node = node_at(loft, on, x)?;
            let normal = loft.surface().jet(node.u, node.v).normal();
            Some(OnLine {
                point: node.point,
                normal,
                tangent: node.tangent,
            })
        }
        BoardLine::Girth { shell, share } => {
            let shell: ShellPart = shells(loft).into_iter().nth(shell)?;
            let [fore, aft] = loft.extent();
            let at = |x: f64| shell.at_share(loft, x, share);
            let (before, after) = ((x - ASIDE).max(fore), (x + ASIDE).min(aft));
            let place = at(x)?;
            Some(OnLine {
                point: place.point,
                normal: place.normal,
                tangent: (at(after)?.point - at(before)?.point).normalize_or_zero(),
            })
        }
    }
}
