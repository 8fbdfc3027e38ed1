//! One asked point of the surface: lifted off as a builder needs it.
//!
//! In: a station and a line, or a place. Out: a [`PickUp`], or what is missed and by how much.

use glam::DVec3;

use crate::num::scalar::{roots, to_bernstein};
use crate::spline::{GAUSS_5, Row, Surface};
use crate::units::{LengthUnit, Message, format_length_with_unit};

/// Where on a section a point is asked for.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Spot {
    /// On the crown, or the upper edge.
    Crown,
    /// On the keel, or the lower edge.
    Keel,
    /// At a height, mm; the outermost place there.
    Waterline(f64),
    /// At a half-breadth, mm, on the keel side.
    Buttock(f64),
    /// At a half-breadth, mm, on the crown side.
    ButtockUpper(f64),
    /// On a diagonal: height at the centre plane, mm, and angle from the level downward, rad.
    Diagonal(f64, f64),
    /// At this parameter round the girth.
    Girth(f64),
}

/// Everything a builder lifts at one point.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PickUp {
    /// Parameter along the body.
    pub u: f64,
    /// Parameter round the girth.
    pub v: f64,
    /// Place, mm; y is the half-breadth and z the height.
    pub position: DVec3,
    /// Outward unit normal.
    pub normal: DVec3,
    /// Principal curvatures, 1/mm, the smaller first; convex negative.
    pub principal: [f64; 2],
    /// Curvature of the normal section along the body, square to the station's section, 1/mm.
    pub along: f64,
    /// Curvature of the normal section across, along the station's section, 1/mm.
    pub across: f64,
    /// Angle by which the skin leans from square to the station's plane, rad: `asin n_x`, positive where it faces aft.
    pub bevel: f64,
    /// Distance from crown (or upper edge) along the section, mm.
    pub girth: f64,
}

impl PickUp {
    /// Radius of a curvature as a builder says it, mm: positive convex, none where flat.
    #[must_use]
    pub fn radius(curvature: f64) -> Option<f64> {
        const FLAT: f64 = 1e-9; // a radius of a thousand kilometres
        (curvature.abs() > FLAT).then(|| -1.0 / curvature)
    }
}

/// Why nothing could be lifted.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum PickUpError {
    /// The body does not reach this station; from and to, mm.
    OffTheEnds {
        /// Asked for.
        x: f64,
        /// Where the body begins and ends.
        body: [f64; 2],
    },
    /// The body comes to a point there, which has no tangent plane to lift.
    AtTip {
        /// Asked for.
        x: f64,
    },
    /// The line misses the section; asked for, and what the section spans, mm.
    Missed {
        /// Distance aft of the datum.
        x: f64,
        /// The line.
        spot: Spot,
        /// Least and most height or half-breadth of the section.
        spans: [f64; 2],
    },
}

impl Message for PickUpError {
    fn message(&self, unit: LengthUnit) -> String {
        let length = |mm: f64| format_length_with_unit(mm, unit);
        match self {
            Self::OffTheEnds { x, body } => format!(
                "x {} lies off the body, which runs from {} to {}.",
                length(*x),
                length(body[0]),
                length(body[1])
            ),
            Self::AtTip { x } => format!(
                "At x {} the body comes to a point: measure a little inside it.",
                length(*x)
            ),
            Self::Missed { x, spot, spans } => {
                let line = match spot {
                    Spot::Waterline(z) => format!("WL {}", length(*z)),
                    Spot::Buttock(y) | Spot::ButtockUpper(y) => format!("BL {}", length(*y)),
                    Spot::Diagonal(z, _) => format!("the diagonal from {}", length(*z)),
                    Spot::Crown | Spot::Keel | Spot::Girth(_) => "the line".to_owned(),
                };
                format!(
                    "{line} misses the section at x {}, which spans {} to {}.",
                    length(*x),
                    length(spans[0]),
                    length(spans[1])
                )
            }
        }
    }
}

impl core::fmt::Display for PickUpError {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        f.write_str(&self.message(LengthUnit::Millimetres))
    }
}

impl core::error::Error for PickUpError {}

/// All `v` at which `a y + b z = c` on a row, from crown to keel.
pub(crate) fn cuts(row: &Row<'_>, [a, b, c]: [f64; 3]) -> Vec<f64> {
    let knots = row.v_knots();
    let mut out = Vec::new();
    let mut found = Vec::new();
    for span in 0..knots.span_count() {
        let [y, z] = row.powers(span);
        let mut powers: [f64; 4] = core::array::from_fn(|k| a * y[k] + b * z[k]);
        powers[0] -= c;
        found.clear();
        roots(&to_bernstein(&powers), &mut found);
        let (from, to) = knots.span(span);
        out.extend(found.iter().map(|t| from + (to - from) * t));
    }
    out
}

/// Lifts a point of the surface at a distance aft of the datum.
///
/// # Units
/// `x`: mm.
///
/// # Errors
/// [`PickUpError`] where the body does not reach so far.
///
/// # Accuracy
/// Position to 1e-9 mm of the surface's; curvatures to the accuracy of its jets; girth to 1e-6 mm.
///
/// # Source
/// do Carmo, *Differential Geometry of Curves and Surfaces*, ch. 3.
pub fn pick_up(surface: &Surface, x: f64, spot: Spot) -> Result<PickUp, PickUpError> {
    place_at(surface, x, spot).map(|place| lift(surface, place))
}

/// Where that point lies, `u` and `v`, without what is lifted there.
///
/// # Errors
/// As [`pick_up`].
pub(crate) fn place_at(surface: &Surface, x: f64, spot: Spot) -> Result<(f64, f64), PickUpError> {
    let net = surface.x_net();
    let body = [net[0], net[net.len() - 1]];
    if !(x >= body[0] - crate::num::FIT && x <= body[1] + crate::num::FIT) {
        return Err(PickUpError::OffTheEnds { x, body });
    }
    let u = surface.u_at(x);
    let row = surface.row(u);
    if is_a_point(&row) {
        return Err(PickUpError::AtTip { x });
    }
    let v = place(&row, spot).ok_or_else(|| missed(&row, x, spot))?;
    Ok((u, v))
}

/// Whether a section is so short that it is a point: by what its polynomials can come to at most.
fn is_a_point(row: &Row<'_>) -> bool {
    let most = (0..row.v_knots().span_count()).map(|span| {
        let all = row.powers(span);
        let all = all
            .iter()
            .flat_map(|powers| powers[1..].iter().zip([1.0, 2.0, 3.0]));
        all.map(|(power, by)| by * power.abs()).sum::<f64>()
    });
    most.sum::<f64>() < crate::num::SAME_POINT
}

/// Lifts a place of the surface.
///
/// # Accuracy
/// That of [`pick_up`]; where the surface comes to a tip, only the position is a number.
#[must_use]
pub fn lift(surface: &Surface, (u, v): (f64, f64)) -> PickUp {
    let row = surface.row(u);
    let jet = surface.jet(u, v);
    let normal = jet.normal();
    PickUp {
        u,
        v,
        position: jet.s,
        normal,
        principal: jet.principal().curvature,
        along: jet.along(),
        across: jet.across(),
        bevel: crate::num::asin(normal.x.clamp(-1.0, 1.0)),
        girth: girth(&row, 0.0, v),
    }
}

fn place(row: &Row<'_>, spot: Spot) -> Option<f64> {
    let outermost = |cuts: Vec<f64>| {
        cuts.into_iter()
            .max_by(|a, b| row.jet(*a).s.y.total_cmp(&row.jet(*b).s.y))
    };
    match spot {
        Spot::Crown => Some(0.0),
        Spot::Keel => Some(1.0),
        Spot::Girth(v) => (0.0..=1.0).contains(&v).then_some(v),
        Spot::Waterline(z) => outermost(cuts(row, [0.0, 1.0, z])),
        Spot::Buttock(y) => cuts(row, [1.0, 0.0, y]).into_iter().next_back(),
        Spot::ButtockUpper(y) => {
            let cuts = cuts(row, [1.0, 0.0, y]);
            (cuts.len() > 1).then(|| cuts[0])
        }
        Spot::Diagonal(height, angle) => {
            let (sin, cos) = (crate::num::sin(angle), crate::num::cos(angle));
            outermost(cuts(row, [sin, cos, height * cos]))
        }
    }
}

fn missed(row: &Row<'_>, x: f64, spot: Spot) -> PickUpError {
    let upright = matches!(spot, Spot::Waterline(_) | Spot::Diagonal(..));
    let spans = (0..=200).fold([f64::INFINITY, f64::NEG_INFINITY], |[low, high], i| {
        let s = row.jet(f64::from(i) / 200.0).s;
        let value = if upright { s.z } else { s.y };
        [low.min(value), high.max(value)]
    });
    PickUpError::Missed { x, spot, spans }
}

/// Length of a section between two places round the girth, mm.
///
/// # Accuracy
/// Five-point Gauss on each quarter of a span: 1e-6 mm on fuselage sections.
#[must_use]
pub fn girth(row: &Row<'_>, from: f64, to: f64) -> f64 {
    const PARTS: u32 = 4;
    let knots = row.v_knots();
    let mut sum = 0.0;
    for span in 0..knots.span_count() {
        let (a, b) = knots.span(span);
        let (a, b) = (a.max(from), b.min(to));
        if a >= b {
            continue;
        }
        for part in 0..PARTS {
            let at = |i: u32| a + (b - a) * f64::from(i) / f64::from(PARTS);
            let (a, b) = (at(part), at(part + 1));
            for (node, weight) in GAUSS_5 {
                let jet = row.jet(f64::midpoint(a, b) + (b - a) / 2.0 * node);
                sum += weight * (b - a) / 2.0 * jet.v.length();
            }
        }
    }
    sum
}
