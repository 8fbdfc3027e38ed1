//! The surfaces parallel to the loft: outside of the skin, the middle of its thickness, inside.
//!
//! In: the loft's [`Surface`], and how far along its outward normal N one goes. Out: the jet to second order of
//! `X = S + d N` ([`SkinJet`]), exactly from the loft's own third derivatives, and the Darboux frame of a curve on it
//! ([`Darboux`]). What a plank, a stringer or a frame makes of them is left to the shop.
//!
//! ```
//! use geometry::loft::skin::{CurveJet, Face, Skin};
//! use geometry::spline::{Knots, Surface};
//!
//! // A quarter of a barrel, 500 mm in radius and 1000 long: one patch, crown at v = 0.
//! let net = |of: [f64; 4]| -> Vec<f64> { (0..4).flat_map(|_row| of).collect() };
//! let u = Knots::clamped(&[0.0, 1000.0])?;
//! let x = u.greville();
//! let y = net([0.0, 276.1424, 500.0, 500.0]);
//! let z = net([500.0, 500.0, 276.1424, 0.0]);
//! let barrel = Surface::new(u, Knots::clamped(&[0.0, 1.0])?, x, y, z);
//!
//! // The inside of a skin 1.2 mm thick, and a stringer along it.
//! let inside = Skin::at(&barrel, Face::Iml, 1.2);
//! let jet = inside.jet(300.0, 0.5)?;
//! assert!((geometry::num::hypot(jet.s.y, jet.s.z) - 498.8).abs() < 0.01);
//! let across = jet.normal_curvature(0.0, 1.0);
//! assert!((-1.0 / across - 498.8).abs() < 0.02 * 498.8, "convex is negative");
//!
//! let stringer = inside.frame(&CurveJet {
//!     at: [300.0, 0.5],
//!     first: [1.0, 0.0],
//!     second: [0.0, 0.0],
//! })?;
//! assert!(stringer.across.z < 0.0, "T aft and N outward: U points towards the keel");
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

use glam::DVec3;

pub use crate::document::Face;
use crate::num;
use crate::spline::{Jet, Principal, Surface};
use crate::units::{LengthUnit, Message, format_length_with_unit};

/// Least `1 − d k`: nearer to the centre of curvature the parallel surface folds, and its curvature grows tenfold.
const LEAST_SCALE: f64 = 0.1;

/// Least sine of the angle between two tangents that span a plane: below it the normal has lost half its digits.
const PARALLEL: f64 = 1e-8;

impl Face {
    /// How far it lies along the loft's outward normal in a skin of this thickness: 0, −t/2, −t.
    ///
    /// # Units
    /// `thickness`, result: mm.
    #[must_use]
    pub fn distance(self, thickness: f64) -> f64 {
        match self {
            Self::Oml => 0.0,
            Self::Neutral => -thickness / 2.0,
            Self::Iml => -thickness,
        }
    }
}

/// Which half of the body: starboard is stored, port is its mirror image.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Hand {
    /// Half-breadths over zero.
    Starboard,
    /// Half-breadths under zero.
    Port,
}

/// Why there is no parallel surface, or no frame of a curve on it, at a place.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum SkinError {
    /// The loft has no tangent plane there: a tip, or a pole where its two tangents are parallel.
    NoNormal {
        /// Parameters `u` and `v`.
        at: [f64; 2],
        /// The place on the loft, mm.
        place: DVec3,
    },
    /// The parallel surface lies too near to the centre of curvature, or beyond it.
    Folds {
        /// Parameters `u` and `v`.
        at: [f64; 2],
        /// The place on the loft, mm.
        place: DVec3,
        /// Radius of the loft there, mm, positive where it is convex.
        radius: f64,
        /// Distance asked for along the outward normal, mm.
        distance: f64,
    },
    /// A curve stands still there, so that it has no direction.
    NoDirection {
        /// Parameters `u` and `v`.
        at: [f64; 2],
        /// The place on the parallel surface, mm.
        place: DVec3,
    },
}

impl Message for SkinError {
    fn message(&self, unit: LengthUnit) -> String {
        let length = |mm: f64| format_length_with_unit(mm, unit);
        let (Self::NoNormal { place, .. }
        | Self::Folds { place, .. }
        | Self::NoDirection { place, .. }) = self;
        let place = format!(
            "{} aft of the datum, half-breadth {}, height {},",
            length(place.x),
            length(place.y.abs()),
            length(place.z)
        );
        match self {
            Self::NoNormal { .. } => format!(
                "At {place} the body comes to a point, where its skin has no direction of its own. End the part short of \
                 it."
            ),
            Self::Folds {
                radius, distance, ..
            } => format!(
                "At {place} the skin is {} to a radius of {}, and {} {} of it there is no surface. Take a thinner skin \
                 there, or end the part short of it.",
                if *radius > 0.0 { "bent" } else { "hollowed" },
                length(radius.abs()),
                length(distance.abs()),
                if *distance > 0.0 { "outside" } else { "inside" },
            ),
            Self::NoDirection { .. } => format!(
                "At {place} the line stands still, so that it has no direction. Draw it through two different places."
            ),
        }
    }
}

impl core::fmt::Display for SkinError {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        f.write_str(&self.message(LengthUnit::Millimetres))
    }
}

impl core::error::Error for SkinError {}

/// A surface parallel to the loft, on one hand of the body.
#[derive(Clone, Copy, Debug)]
pub struct Skin<'a> {
    surface: &'a Surface,
    distance: f64,
    hand: Hand,
}

/// A curve (u(t), v(t)) at one place, with its derivatives by its own parameter.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CurveJet {
    /// `u` and `v`.
    pub at: [f64; 2],
    /// u̇ and v̇.
    pub first: [f64; 2],
    /// ü and v̈.
    pub second: [f64; 2],
}

/// Position, derivatives to second order and curvatures of a surface parallel to the loft at one place.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SkinJet {
    /// Parameters `u` and `v`, those of the loft on the same normal.
    pub at: [f64; 2],
    /// Distance from the loft along the outward normal, mm.
    pub distance: f64,
    /// Position X, mm.
    pub s: DVec3,
    /// ∂X/∂u.
    pub u: DVec3,
    /// ∂X/∂v.
    pub v: DVec3,
    /// ∂²X/∂u².
    pub uu: DVec3,
    /// ∂²X/∂u∂v.
    pub uv: DVec3,
    /// ∂²X/∂v².
    pub vv: DVec3,
    /// Outward unit normal N, the loft's own.
    pub normal: DVec3,
    /// ∂N/∂u.
    pub normal_u: DVec3,
    /// ∂N/∂v.
    pub normal_v: DVec3,
    /// Principal curvatures `k / (1 − d k)`, 1/mm, the smaller first and negative where convex, along the loft's own
    /// directions.
    pub principal: Principal,
}

/// A curve's frame on a surface: along it, square to it in the skin, outward, and how the three turn.
///
/// By arc length `T' = κg U + κn N`, `U' = −κg T + τg N`, `N' = −κn T − τg U`. On starboard, with T aft, U points
/// towards the keel, and κg is positive where the line bends to the keel; τg is positive where the outward normal turns
/// up going aft. On port κg and τg have the other sign, κn has not.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Darboux {
    /// Unit tangent T.
    pub tangent: DVec3,
    /// `U = N × T`, in the skin and square to the curve.
    pub across: DVec3,
    /// Outward unit normal N.
    pub normal: DVec3,
    /// Arc length by the curve's parameter, mm.
    pub speed: f64,
    /// Normal curvature κn, 1/mm, negative where the skin is convex along the curve.
    pub normal_curvature: f64,
    /// Geodesic curvature κg, 1/mm: how the curve bends in the skin.
    pub geodesic_curvature: f64,
    /// Geodesic torsion τg, rad/mm: how the skin twists along the curve.
    pub geodesic_torsion: f64,
}

impl<'a> Skin<'a> {
    /// The surface at a signed distance along the outward normal, on starboard.
    ///
    /// # Units
    /// `distance`: mm, positive outward.
    #[must_use]
    pub fn new(surface: &'a Surface, distance: f64) -> Self {
        Self {
            surface,
            distance,
            hand: Hand::Starboard,
        }
    }

    /// A face of a skin whose outside the loft is, on starboard.
    ///
    /// # Units
    /// `thickness`: mm.
    #[must_use]
    pub fn at(surface: &'a Surface, face: Face, thickness: f64) -> Self {
        Self::new(surface, face.distance(thickness))
    }

    /// The same surface on the hand named.
    #[must_use]
    pub fn on(self, hand: Hand) -> Self {
        Self { hand, ..self }
    }

    /// Signed distance from the loft, mm.
    #[must_use]
    pub fn distance(&self) -> f64 {
        self.distance
    }

    /// Jet at (`u`, `v`); at a knot the second derivatives are those aft and keelward of it.
    ///
    /// # Units
    /// `u` in mm along the body, `v` from crown (0) to keel (1), as [`Surface::jet`] takes them.
    ///
    /// # Errors
    /// [`SkinError::NoNormal`], [`SkinError::Folds`].
    ///
    /// # Accuracy
    /// As [`SkinJet::parallel`].
    pub fn jet(&self, u: f64, v: f64) -> Result<SkinJet, SkinError> {
        self.over(&self.surface.jet(u, v), [u, v])
    }

    /// Jet over one of the loft's own: of a [`crate::spline::Row`], or one-sided at a knot.
    ///
    /// # Units
    /// `at`: the `u` and `v` that `loft` is of.
    ///
    /// # Errors
    /// As [`Skin::jet`].
    pub fn over(&self, loft: &Jet, at: [f64; 2]) -> Result<SkinJet, SkinError> {
        let jet = SkinJet::parallel(loft, at, self.distance)?;
        Ok(match self.hand {
            Hand::Starboard => jet,
            Hand::Port => jet.mirrored(),
        })
    }

    /// The frame of a curve on this surface.
    ///
    /// # Errors
    /// As [`Skin::jet`], and [`SkinError::NoDirection`] where the curve stands still.
    ///
    /// # Accuracy
    /// As [`SkinJet::frame`].
    pub fn frame(&self, curve: &CurveJet) -> Result<Darboux, SkinError> {
        let [u, v] = curve.at;
        self.jet(u, v)?.frame(curve.first, curve.second)
    }
}

/// The unit normal with its derivatives.
struct Normal {
    n: DVec3,
    u: DVec3,
    v: DVec3,
    uu: DVec3,
    uv: DVec3,
    vv: DVec3,
}

impl Normal {
    /// Differentiates `N = W / |W|` with `W = S_u × S_v`; none where the two tangents are parallel or one is nothing.
    fn of(j: &Jet) -> Option<Self> {
        let w = j.u.cross(j.v);
        let length = w.length();
        // Written so that what is no number is refused too.
        let spans =
            length > PARALLEL * j.u.length() * j.v.length() && j.v.length() > num::SAME_POINT;
        if !spans || !length.is_finite() {
            return None;
        }
        let n = w / length;
        let w_u = j.uu.cross(j.v) + j.u.cross(j.uv);
        let w_v = j.uv.cross(j.v) + j.u.cross(j.vv);
        let (length_u, length_v) = (n.dot(w_u), n.dot(w_v));
        let u = (w_u - n * length_u) / length;
        let v = (w_v - n * length_v) / length;
        let w_uu = j.uuu.cross(j.v) + 2.0 * j.uu.cross(j.uv) + j.u.cross(j.uuv);
        let w_uv = j.uuv.cross(j.v) + j.uu.cross(j.vv) + j.u.cross(j.uvv);
        let w_vv = j.uvv.cross(j.v) + 2.0 * j.uv.cross(j.vv) + j.u.cross(j.vvv);
        // W_ab = |W|_ab N + |W|_a N_b + |W|_b N_a + |W| N_ab, and |W|_ab = N_b · W_a + N · W_ab.
        let uu = w_uu - n * (u.dot(w_u) + n.dot(w_uu)) - 2.0 * length_u * u;
        let uv = w_uv - n * (v.dot(w_u) + n.dot(w_uv)) - length_u * v - length_v * u;
        let vv = w_vv - n * (v.dot(w_v) + n.dot(w_vv)) - 2.0 * length_v * v;
        Some(Self {
            n,
            u,
            v,
            uu: uu / length,
            uv: uv / length,
            vv: vv / length,
        })
    }
}

impl SkinJet {
    /// Jet of `X = S + d N` over a jet of the loft, on starboard: `X_a = S_a + d N_a`, `X_ab = S_ab + d N_ab`.
    ///
    /// # Units
    /// - `at`: the `u` and `v` that `loft` is of
    /// - `distance`: d, mm, positive outward
    ///
    /// # Errors
    /// - [`SkinError::NoNormal`] where `S_u` and `S_v` span no plane, or a millionth of a millimetre is the whole girth
    /// - [`SkinError::Folds`] where `1 − d k ≤ 0.1` for a principal curvature k of the loft
    ///
    /// # Accuracy
    /// Against spheres, cylinders, cones and tori in closed form 1e-11 of each derivative's size (tested). Near a tip the
    /// derivatives by `v` are short, and each order loses as many digits as they are.
    ///
    /// # Source
    /// do Carmo, *Differential Geometry of Curves and Surfaces*, 3-5, exercise 11 (parallel surfaces).
    pub fn parallel(loft: &Jet, at: [f64; 2], distance: f64) -> Result<Self, SkinError> {
        let place = loft.s;
        let n = Normal::of(loft).ok_or(SkinError::NoNormal { at, place })?;
        let mut principal = loft.principal();
        for k in &mut principal.curvature {
            let scale = 1.0 - distance * *k;
            // Written so that what is no number is refused too.
            if !(scale > LEAST_SCALE && scale.is_finite()) {
                return Err(SkinError::Folds {
                    at,
                    place,
                    radius: -1.0 / *k,
                    distance,
                });
            }
            *k /= scale;
        }
        Ok(Self {
            at,
            distance,
            s: loft.s + distance * n.n,
            u: loft.u + distance * n.u,
            v: loft.v + distance * n.v,
            uu: loft.uu + distance * n.uu,
            uv: loft.uv + distance * n.uv,
            vv: loft.vv + distance * n.vv,
            normal: n.n,
            normal_u: n.u,
            normal_v: n.v,
            principal,
        })
    }

    /// The same place on the other hand: half-breadths change sign, so that the normal is `−X_u × X_v / |X_u × X_v|`.
    #[must_use]
    pub fn mirrored(self) -> Self {
        let mirror = |a: DVec3| DVec3::new(a.x, -a.y, a.z);
        Self {
            s: mirror(self.s),
            u: mirror(self.u),
            v: mirror(self.v),
            uu: mirror(self.uu),
            uv: mirror(self.uv),
            vv: mirror(self.vv),
            normal: mirror(self.normal),
            normal_u: mirror(self.normal_u),
            normal_v: mirror(self.normal_v),
            principal: Principal {
                direction: self.principal.direction.map(mirror),
                ..self.principal
            },
            ..self
        }
    }

    /// First fundamental form E, F, G.
    #[must_use]
    pub fn first_form(&self) -> [f64; 3] {
        [self.u.dot(self.u), self.u.dot(self.v), self.v.dot(self.v)]
    }

    /// Second fundamental form L, M, N with the outward normal; a convex skin has it negative.
    #[must_use]
    pub fn second_form(&self) -> [f64; 3] {
        let n = self.normal;
        [self.uu.dot(n), self.uv.dot(n), self.vv.dot(n)]
    }

    /// Gaussian curvature, 1/mm².
    #[must_use]
    pub fn gaussian(&self) -> f64 {
        let [a, b] = self.principal.curvature;
        a * b
    }

    /// Mean curvature, 1/mm, negative where the skin is convex.
    #[must_use]
    pub fn mean(&self) -> f64 {
        let [a, b] = self.principal.curvature;
        f64::midpoint(a, b)
    }

    /// Curvature of the normal section whose tangent is `a X_u + b X_v`, 1/mm, negative where convex.
    #[must_use]
    pub fn normal_curvature(&self, a: f64, b: f64) -> f64 {
        let ([e, f, g], [l, m, n]) = (self.first_form(), self.second_form());
        (l * a * a + 2.0 * m * a * b + n * b * b) / (e * a * a + 2.0 * f * a * b + g * b * b)
    }

    /// The frame of a curve through this place: `Ċ = X_u u̇ + X_v v̇`, and C̈ by the chain rule.
    ///
    /// `κn = N·C̈ / |Ċ|²`, `κg = N·(Ċ × C̈) / |Ċ|³`, `τg = −Ṅ·U / |Ċ|`: the last is
    /// `[(EM − FL) u̇² + (EN − GL) u̇v̇ + (FN − GM) v̇²] / (√(EG − F²) |Ċ|²)` on starboard, and minus that on port.
    ///
    /// # Units
    /// `first`, `second`: `[u, v]`, derivatives by the curve's own parameter, whatever it is.
    ///
    /// # Errors
    /// [`SkinError::NoDirection`] where the curve stands still.
    ///
    /// # Accuracy
    /// Against the loft's own curvatures along the same `(u(t), v(t))`, moved by closed form: on an ellipsoid κn and τg 1e-12,
    /// κg 1e-10 of the skin's curvature; on rough nets next to a fold 1e-7 of it (tested).
    ///
    /// # Source
    /// Darboux frame: do Carmo, *Differential Geometry of Curves and Surfaces*, 4-4; geodesic torsion 3-2, exercise 19.
    pub fn frame(&self, first: [f64; 2], second: [f64; 2]) -> Result<Darboux, SkinError> {
        let [u, v] = first;
        let along = self.u * u + self.v * v;
        let bend = self.uu * (u * u)
            + self.uv * (2.0 * u * v)
            + self.vv * (v * v)
            + self.u * second[0]
            + self.v * second[1];
        let turn = self.normal_u * u + self.normal_v * v;
        let speed = along.length();
        let tangent = along / speed;
        let across = self.normal.cross(tangent);
        if !(tangent.is_finite() && bend.is_finite()) {
            return Err(SkinError::NoDirection {
                at: self.at,
                place: self.s,
            });
        }
        Ok(Darboux {
            tangent,
            across,
            normal: self.normal,
            speed,
            normal_curvature: self.normal.dot(bend) / speed / speed,
            geodesic_curvature: across.dot(bend) / speed / speed,
            geodesic_torsion: -turn.dot(across) / speed,
        })
    }
}

#[cfg(test)]
#[path = "skin_tests.rs"]
mod tests;
