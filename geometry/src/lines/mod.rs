//! Curves on the mould surface, with exact curvature.
//!
//! In: a surface and a plane or a `v`. Out: branches of nodes, each with place, tangent and curvature from formulas, never
//! from differences of a polyline. Reading order: this file, `trace` (plane cuts) with `arcs` and `follow`, `pickup`
//! (asked points), `named` (the document's lines), `bends` (where a line turns), `measure` (what a cut measures),
//! `shortest` (a tape along the skin).
//!
//! ```
//! # use geometry::document::{TableOptions, read_table};
//! # use geometry::loft::Loft;
//! use geometry::lines::{CuttingPlane, Spot, pick_up, trace};
//!
//! # let table = "STA (mm),crown,WL 933,WL 750,WL 500,WL 250,WL 67,keel\n\
//! #              0,1000,250,433,500,433,250,0\n\
//! #              600,1000,250,433,500,433,250,0\n\
//! #              1200,1000,250,433,500,433,250,0\n\
//! #              1800,1000,250,433,500,433,250,0\n";
//! # let read = read_table(table.as_bytes(), &TableOptions::default())?;
//! # let loft = Loft::build(&read.lines().body)?;
//! // Of a drum of a metre across: a section is half a circle, its curvature −1/500 mm where it is cut.
//! let cut = trace(loft.surface(), &CuttingPlane::station(900.0), 0.01);
//! let section = &cut.branches[0];
//! assert!((section.length() - 500.0 * std::f64::consts::PI).abs() < 2.0);
//! assert!(section.nodes.iter().all(|node| node.curvature < -1.0 / 550.0));
//! // What a builder lifts off the skin at a height.
//! let lifted = pick_up(loft.surface(), 900.0, Spot::Waterline(500.0))?;
//! assert!((lifted.position.y - 500.0).abs() < 0.5 && lifted.bevel.abs() < 1e-3);
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

use glam::DVec3;

use crate::num;

mod arcs;
mod bends;
mod follow;
mod measure;
mod named;
mod pickup;
mod shortest;
mod trace;

pub use bends::{Hollow, Turn, TurnKind};
pub use follow::{cut_at, onto, run, run_at};
pub use measure::{CutMeasure, measure_cut};
pub use named::{girth_of, node_at, plane_of};
pub(crate) use pickup::cuts;
pub use pickup::{PickUp, PickUpError, Spot, girth, lift, pick_up};
pub use shortest::{Tape, shortest};
pub use trace::{Touch, Trace, same_cut, trace};

/// A cutting plane `normal · p = offset`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CuttingPlane {
    /// Unit normal.
    pub normal: DVec3,
    /// Distance from the origin along it, mm.
    pub offset: f64,
}

impl CuttingPlane {
    /// Level, at a height.
    #[must_use]
    pub fn waterline(z: f64) -> Self {
        Self {
            normal: DVec3::Z,
            offset: z,
        }
    }

    /// Upright and fore-and-aft, at a half-breadth.
    #[must_use]
    pub fn buttock(y: f64) -> Self {
        Self {
            normal: DVec3::Y,
            offset: y,
        }
    }

    /// Transverse, at a distance aft of the datum.
    #[must_use]
    pub fn station(x: f64) -> Self {
        Self {
            normal: DVec3::X,
            offset: x,
        }
    }

    /// Inclined, through the centre plane at a height, falling outboard by an angle in radians.
    #[must_use]
    pub fn diagonal(height: f64, angle: f64) -> Self {
        let (sin, cos) = (num::sin(angle), num::cos(angle));
        Self {
            normal: DVec3::new(0.0, sin, cos),
            offset: height * cos,
        }
    }
}

/// A point of a line, with what the line does there.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Node {
    /// Parameter along the body.
    pub u: f64,
    /// Parameter round the girth.
    pub v: f64,
    /// Place, mm.
    pub point: DVec3,
    /// Unit tangent in the direction the branch runs.
    pub tangent: DVec3,
    /// Unit direction in the line's plane towards the outside of the skin.
    pub outward: DVec3,
    /// Curvature in the line's plane, 1/mm: negative where the line is convex, as a skin is; positive in a hollow.
    pub curvature: f64,
    /// How curvature changes with arc length along the branch, 1/mm².
    pub curvature_slope: f64,
}

/// One unbroken piece of a line.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Branch {
    /// In order; at a knuckle two nodes share a place, one for each side.
    pub nodes: Vec<Node>,
    /// Whether the last node joins the first.
    pub closed: bool,
}

impl Branch {
    /// Length of the polyline of its nodes, mm.
    ///
    /// # Accuracy
    /// Short of the line's by about `8/3 · deviation² / spacing` a piece.
    #[must_use]
    pub fn length(&self) -> f64 {
        self.nodes
            .windows(2)
            .map(|pair| pair[0].point.distance(pair[1].point))
            .sum()
    }

    /// Nodes where the line passes a distance aft of the datum, in order along the branch.
    ///
    /// Between two nodes the line is the cubic with their places and tangents, and its curvature the one with their
    /// curvatures and slopes.
    ///
    /// # Units
    /// `x`: mm.
    ///
    /// # Accuracy
    /// Of fourth order in the distance of the nodes: a tenth of the accuracy they were traced to, or better (tested on a
    /// clothoid). [`pick_up`] gives the surface's own point.
    #[must_use]
    pub fn at_x(&self, x: f64) -> Vec<Node> {
        let mut found: Vec<Node> = Vec::new();
        for pair in self.nodes.windows(2) {
            let [a, b] = [&pair[0], &pair[1]];
            let [left, right] = [a, b].map(|node| {
                let off = node.point.x - x;
                if off.abs() < num::SAME_POINT {
                    0.0
                } else {
                    off
                }
            });
            if left * right > 0.0 || (num::same(left, 0.0) && num::same(right, 0.0)) {
                continue;
            }
            // Bisection on the cubic's x; the ends bracket it.
            let (mut low, mut high) = (0.0, 1.0);
            for _ in 0..60 {
                let middle = f64::midpoint(low, high);
                if (between(a, b, middle).point.x < x) == (left < right) {
                    low = middle;
                } else {
                    high = middle;
                }
            }
            let next = between(a, b, f64::midpoint(low, high));
            let again = |last: &Node| last.point.distance(next.point) < num::SAME_POINT;
            if !found.last().is_some_and(again) {
                found.push(next);
            }
        }
        found
    }
}

/// Curvature and torsion of a space curve from its first three derivatives by any parameter, 1/mm.
///
/// `κ = |C′ × C″| / |C′|³`, `τ = (C′ × C″)·C‴ / |C′ × C″|²`; torsion is 0 where the curve is straight.
///
/// # Units
/// 1/mm both; torsion positive where the curve winds as a right-handed screw.
///
/// # Accuracy
/// That of the derivatives.
///
/// # Source
/// do Carmo, *Differential Geometry of Curves and Surfaces*, 1-5.
#[must_use]
pub fn space_bend(c: &[DVec3; 3]) -> [f64; 2] {
    let cross = c[0].cross(c[1]);
    let square = cross.length_squared();
    let speed = c[0].length();
    let torsion = if square > 0.0 {
        cross.dot(c[2]) / square
    } else {
        0.0
    };
    [square.sqrt() / (speed * speed * speed), torsion]
}

/// First three derivatives of a curve by any parameter.
pub(crate) type Derivatives = [DVec3; 3];

/// A node from the derivatives of a curve in the plane with unit normal `plane`, running towards `d[0]`.
///
/// `κ = n·(Ċ × C̈)/|Ċ|³` and `dκ/ds = [n·(Ċ × C⃛)|Ċ|² − 3(Ċ·C̈) n·(Ċ × C̈)]/|Ċ|⁶`, turned so that a convex skin, whose outside
/// is towards `outside`, is negative.
pub(crate) fn node(
    place: (f64, f64),
    point: DVec3,
    d: &Derivatives,
    plane: DVec3,
    outside: DVec3,
) -> Node {
    let [c1, c2, c3] = *d;
    let speed2 = c1.length_squared();
    let speed = speed2.sqrt();
    let tangent = c1 / speed;
    let bend = plane.dot(c1.cross(c2));
    let curvature = bend / (speed2 * speed);
    let slope =
        (plane.dot(c1.cross(c3)) * speed2 - 3.0 * c1.dot(c2) * bend) / (speed2 * speed2 * speed2);
    // The left of the tangent in the plane; the skin's outside is on that side or the other.
    let left = plane.cross(tangent);
    let side = if left.dot(outside) < 0.0 { -1.0 } else { 1.0 };
    Node {
        u: place.0,
        v: place.1,
        point,
        tangent,
        outward: left * side,
        curvature: curvature * side,
        curvature_slope: slope * side,
    }
}

/// The view in which the curvature of a space line is shown.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum View {
    /// From the side: x and z.
    Profile,
    /// From above: x and y.
    HalfBreadth,
}

impl View {
    fn normal(self) -> DVec3 {
        match self {
            // So that x and the second axis turn the same way as in the drawing.
            Self::Profile => DVec3::NEG_Y,
            Self::HalfBreadth => DVec3::Z,
        }
    }
}

/// Teeth of a curvature comb.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Comb {
    /// Runs between knuckles.
    pub runs: Vec<Vec<Tooth>>,
}

/// One tooth: where it stands, where it points, and the curvature it shows.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Tooth {
    /// Parameters on the surface.
    pub uv: (f64, f64),
    /// Its root on the line, mm.
    pub root: DVec3,
    /// Towards the outside of the skin, in the line's plane.
    pub outward: DVec3,
    /// 1/mm, negative where convex.
    pub curvature: f64,
}

/// Largest turn of the tangent that is no knuckle, as a sine.
const KNUCKLE: f64 = 1e-4;

/// The comb of a branch, its teeth at its nodes and, between them, no further apart than `spacing`.
///
/// Between nodes curvature is taken from the cubic that has the nodes' values and slopes, so no further point of the
/// surface is asked for.
///
/// # Units
/// `spacing`: mm of the line.
///
/// # Accuracy
/// At nodes that of the node; between them of fourth order in their distance.
#[must_use]
pub fn comb(branch: &Branch, spacing: f64) -> Comb {
    let mut comb = Comb::default();
    let mut run: Vec<Tooth> = Vec::new();
    for (i, next) in branch.nodes.iter().enumerate() {
        if let Some(last) = i.checked_sub(1).map(|before| &branch.nodes[before]) {
            let length = last.point.distance(next.point);
            if length < num::FIT && last.outward.cross(next.outward).length() > KNUCKLE {
                comb.runs.push(core::mem::take(&mut run));
            } else {
                let parts = num::count_of((length / spacing).ceil()).clamp(1, 1000);
                for part in 1..parts {
                    let t = part as f64 / parts as f64;
                    run.push(Tooth::of(&between(last, next, t)));
                }
            }
        }
        run.push(Tooth::of(next));
    }
    comb.runs.push(run);
    comb
}

impl Tooth {
    /// The tooth that stands at a node.
    #[must_use]
    pub fn of(node: &Node) -> Self {
        Self {
            uv: (node.u, node.v),
            root: node.point,
            outward: node.outward,
            curvature: node.curvature,
        }
    }
}

/// How the place of [`between`] changes with `t`, mm.
fn between_rate(a: &Node, b: &Node, t: f64) -> DVec3 {
    let length = a.point.distance(b.point);
    let s = 1.0 - t;
    let (d00, d10, d11) = (6.0 * t * s, s * (1.0 - 3.0 * t), t * (3.0 * t - 2.0));
    (b.point - a.point) * d00 + a.tangent * (length * d10) + b.tangent * (length * d11)
}

/// A place between two nodes by Hermite's cubic, `t` from 0 to 1.
fn between(a: &Node, b: &Node, t: f64) -> Node {
    let length = a.point.distance(b.point);
    let s = 1.0 - t;
    let (h00, h10, h01, h11) = (
        (1.0 + 2.0 * t) * s * s,
        t * s * s,
        t * t * (3.0 - 2.0 * t),
        -t * t * s,
    );
    let (ta, tb) = (a.tangent * length, b.tangent * length);
    let (ka, kb) = (a.curvature_slope * length, b.curvature_slope * length);
    Node {
        u: a.u + (b.u - a.u) * t,
        v: a.v + (b.v - a.v) * t,
        point: a.point * h00 + ta * h10 + b.point * h01 + tb * h11,
        tangent: between_rate(a, b, t).normalize_or_zero(),
        outward: (a.outward * s + b.outward * t).normalize_or_zero(),
        curvature: a.curvature * h00 + ka * h10 + b.curvature * h01 + kb * h11,
        curvature_slope: a.curvature_slope * s + b.curvature_slope * t,
    }
}

#[cfg(test)]
pub(crate) mod tests;
