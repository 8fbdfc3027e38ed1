//! A bicubic surface whose transverse cuts are its lines of constant `u`: S(u, v) = (x(u), y(u, v), z(u, v)).
//!
//! In: knots and nets of coefficients. Out: jets to third order, the fundamental forms, curvatures and the normal.
//! Each patch is expanded once into a table of powers, so that a jet costs no basis functions.

use glam::DVec3;

use super::Knots;
use crate::num;

/// A bicubic B-spline surface with plane lines of constant `u`.
///
/// `u` runs aft and `v` round the girth, so that `S_u × S_v` points outward on the starboard side.
#[derive(Clone, Debug)]
pub struct Surface {
    u: Knots,
    v: Knots,
    x: Vec<f64>,
    y: Vec<f64>,
    z: Vec<f64>,
    /// Powers of x: `[span of u][power]`.
    x_powers: Vec<[f64; 4]>,
    /// Powers of y and z: `[span of u · spans of v + span of v]`.
    patches: Vec<PatchPowers>,
}

/// Powers of a patch, `[power of u][power of v]`, in parameters from 0 to 1.
#[derive(Clone, Copy, Debug)]
struct PatchPowers {
    y: [[f64; 4]; 4],
    z: [[f64; 4]; 4],
}

/// Nearer to an end than this, mm along the body, is the end.
const END: f64 = 1e-9;

/// Position and partial derivatives of a surface at one place, to third order.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Jet {
    /// Position, mm.
    pub s: DVec3,
    /// ∂S/∂u.
    pub u: DVec3,
    /// ∂S/∂v.
    pub v: DVec3,
    /// ∂²S/∂u².
    pub uu: DVec3,
    /// ∂²S/∂u∂v.
    pub uv: DVec3,
    /// ∂²S/∂v².
    pub vv: DVec3,
    /// ∂³S/∂u³.
    pub uuu: DVec3,
    /// ∂³S/∂u²∂v.
    pub uuv: DVec3,
    /// ∂³S/∂u∂v².
    pub uvv: DVec3,
    /// ∂³S/∂v³.
    pub vvv: DVec3,
}

/// The two principal curvatures at a place, and where they run.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Principal {
    /// Curvatures, 1/mm, the smaller first; a convex skin has them negative.
    pub curvature: [f64; 2],
    /// Unit tangents along which they hold.
    pub direction: [DVec3; 2],
}

impl Jet {
    /// Outward unit normal `S_u × S_v / |S_u × S_v|`; NaN where the two tangents are parallel (a tip, a peaked pole).
    #[must_use]
    pub fn normal(&self) -> DVec3 {
        let n = self.u.cross(self.v);
        n / n.length()
    }

    /// First fundamental form E, F, G.
    #[must_use]
    pub fn first_form(&self) -> [f64; 3] {
        [self.u.dot(self.u), self.u.dot(self.v), self.v.dot(self.v)]
    }

    /// Second fundamental form L, M, N with the outward normal; a convex skin has it negative.
    #[must_use]
    pub fn second_form(&self) -> [f64; 3] {
        let n = self.normal();
        [self.uu.dot(n), self.uv.dot(n), self.vv.dot(n)]
    }

    /// Gaussian curvature, 1/mm².
    ///
    /// # Source
    /// do Carmo, *Differential Geometry of Curves and Surfaces*, 3-3.
    #[must_use]
    pub fn gaussian(&self) -> f64 {
        let ([e, f, g], [l, m, n]) = (self.first_form(), self.second_form());
        (l * n - m * m) / (e * g - f * f)
    }

    /// Mean curvature, 1/mm, negative where the skin is convex.
    #[must_use]
    pub fn mean(&self) -> f64 {
        let ([e, f, g], [l, m, n]) = (self.first_form(), self.second_form());
        (e * n - 2.0 * f * m + g * l) / (2.0 * (e * g - f * f))
    }

    /// Curvature of the normal section whose tangent is `a S_u + b S_v`, 1/mm, negative where convex.
    #[must_use]
    pub fn normal_curvature(&self, a: f64, b: f64) -> f64 {
        let ([e, f, g], [l, m, n]) = (self.first_form(), self.second_form());
        (l * a * a + 2.0 * m * a * b + n * b * b) / (e * a * a + 2.0 * f * a * b + g * b * b)
    }

    /// Curvature of the normal section along the body, square to the line of constant `u`, 1/mm, negative where convex.
    ///
    /// # Source
    /// do Carmo, *Differential Geometry of Curves and Surfaces*, 3-2.
    #[must_use]
    pub fn along(&self) -> f64 {
        let [_, f, g] = self.first_form();
        // Square to S_v in the tangent plane: S_u − (F/G) S_v.
        self.normal_curvature(1.0, -f / g)
    }

    /// Curvature of the normal section across, along the line of constant `u`, 1/mm, negative where convex.
    ///
    /// # Source
    /// do Carmo, *Differential Geometry of Curves and Surfaces*, 3-2.
    #[must_use]
    pub fn across(&self) -> f64 {
        self.normal_curvature(0.0, 1.0)
    }

    /// Principal curvatures and directions.
    ///
    /// In an orthonormal frame (`S_u` unit, its normal in the tangent plane) the second form is a symmetric 2 × 2
    /// matrix; its eigenvalues come from mean and half difference, so that nothing cancels.
    #[must_use]
    pub fn principal(&self) -> Principal {
        let ([e, f, g], [l, m, n]) = (self.first_form(), self.second_form());
        let normal = self.normal();
        let e1 = self.u / e.sqrt();
        let e2 = normal.cross(e1);
        let w = (e * g - f * f).sqrt();
        // S_v = f/√e e1 + w/√e e2, so e2 = (√e S_v − f/√e S_u) / w.
        let a = l / e;
        let b = (e * m - f * l) / (e * w);
        let c = (e * e * n - 2.0 * e * f * m + f * f * l) / (e * w * w);
        let (middle, half) = ((a + c) / 2.0, num::hypot((a - c) / 2.0, b));
        let angle = num::atan2(2.0 * b, a - c) / 2.0; // of the larger one from e1
        let (sin, cos) = (num::sin(angle), num::cos(angle));
        let larger = e1 * cos + e2 * sin;
        Principal {
            curvature: [middle - half, middle + half],
            direction: [normal.cross(larger), larger],
        }
    }
}

/// A line of constant `u` with the lengthwise derivatives beside it: the quick way to many jets at one `u`.
#[derive(Clone, Debug)]
pub struct Row<'a> {
    v: &'a Knots,
    /// x and its three derivatives.
    x: [f64; 4],
    /// `[span of v][derivative in u][power of v]` of y and z.
    spans: Vec<[[[f64; 4]; 4]; 2]>,
}

/// Value and three derivatives at `t` of the cubic with these powers, in parameters from 0 to 1.
#[inline]
fn cubic(p: &[f64; 4], t: f64) -> [f64; 4] {
    [
        ((p[3] * t + p[2]) * t + p[1]) * t + p[0],
        (3.0 * p[3] * t + 2.0 * p[2]) * t + p[1],
        6.0 * p[3] * t + 2.0 * p[2],
        6.0 * p[3],
    ]
}

/// Derivatives `[a][b]` for a + b ≤ 3 of a patch at (t, s).
#[inline]
fn mixed(p: &[[f64; 4]; 4], t: f64, s: f64) -> [[f64; 4]; 4] {
    let inner = [
        cubic(&p[0], s),
        cubic(&p[1], s),
        cubic(&p[2], s),
        cubic(&p[3], s),
    ];
    let mut out = [[0.0; 4]; 4];
    for b in 0..4 {
        let c = cubic(&[inner[0][b], inner[1][b], inner[2][b], inner[3][b]], t);
        for (a, c) in c.iter().enumerate().take(4 - b) {
            out[a][b] = *c;
        }
    }
    out
}

impl Surface {
    /// A surface with coefficients `x[i]`, `y[i · n_v + j]`, `z[i · n_v + j]`.
    ///
    /// # Panics
    /// Where the numbers of coefficients do not fit the knots.
    #[must_use]
    pub fn new(u: Knots, v: Knots, x: Vec<f64>, y: Vec<f64>, z: Vec<f64>) -> Self {
        let (nu, nv) = (u.count(), v.count());
        assert!(
            x.len() == nu && y.len() == nu * nv && z.len() == nu * nv,
            "a coefficient for each basis function"
        );
        let rows_v: Vec<_> = (0..v.span_count()).map(|s| v.power_rows(s)).collect();
        let mut x_powers = Vec::with_capacity(u.span_count());
        let mut patches = Vec::with_capacity(u.span_count() * v.span_count());
        for su in 0..u.span_count() {
            let rows = u.power_rows(su);
            let first = u.first_coefficient(su);
            let mut powers = [0.0; 4];
            for (power, row) in powers.iter_mut().zip(&rows) {
                *power = (0..4).map(|i| row[i] * x[first + i]).sum();
            }
            x_powers.push(powers);
            // Collapse the four rows of the net once for all spans of v.
            let collapse = |net: &[f64]| -> [Vec<f64>; 4] {
                core::array::from_fn(|k| {
                    (0..nv)
                        .map(|j| (0..4).map(|i| rows[k][i] * net[(first + i) * nv + j]).sum())
                        .collect()
                })
            };
            let (cy, cz) = (collapse(&y), collapse(&z));
            for (sv, rows_v) in rows_v.iter().enumerate() {
                let first_v = v.first_coefficient(sv);
                let expand = |c: &[Vec<f64>; 4]| {
                    let mut p = [[0.0; 4]; 4];
                    for (p, c) in p.iter_mut().zip(c) {
                        for (p, row) in p.iter_mut().zip(rows_v) {
                            *p = (0..4).map(|j| row[j] * c[first_v + j]).sum();
                        }
                    }
                    p
                };
                patches.push(PatchPowers {
                    y: expand(&cy),
                    z: expand(&cz),
                });
            }
        }
        Self {
            u,
            v,
            x,
            y,
            z,
            x_powers,
            patches,
        }
    }

    /// Knots in `u`.
    #[must_use]
    pub fn u_knots(&self) -> &Knots {
        &self.u
    }

    /// Knots in `v`.
    #[must_use]
    pub fn v_knots(&self) -> &Knots {
        &self.v
    }

    /// Coefficients of x, `[i]`, mm.
    #[must_use]
    pub fn x_net(&self) -> &[f64] {
        &self.x
    }

    /// Coefficients of y, `[i · n_v + j]`, mm.
    #[must_use]
    pub fn y_net(&self) -> &[f64] {
        &self.y
    }

    /// Coefficients of z, `[i · n_v + j]`, mm.
    #[must_use]
    pub fn z_net(&self) -> &[f64] {
        &self.z
    }

    /// Jet at (`u`, `v`); at a knot the third derivatives are those aft and keelward of it. Outside the domain the last
    /// patch goes on.
    ///
    /// # Accuracy
    /// Position to a few units in the last place of the net's largest coefficient; each derivative costs about one
    /// decimal digit.
    #[must_use]
    pub fn jet(&self, u: f64, v: f64) -> Jet {
        self.jet_on(self.u.span_at(u), self.v.span_at(v), u, v)
    }

    /// Jet by the patch with these span numbers, for a one-sided derivative at a knot.
    ///
    /// # Panics
    /// Where there is no such patch.
    #[must_use]
    pub fn jet_on(&self, span_u: usize, span_v: usize, u: f64, v: f64) -> Jet {
        let (u0, u1) = self.u.span(span_u);
        let (v0, v1) = self.v.span(span_v);
        let (ru, rv) = (1.0 / (u1 - u0), 1.0 / (v1 - v0));
        let (t, s) = ((u - u0) * ru, (v - v0) * rv);
        let patch = &self.patches[span_u * self.v.span_count() + span_v];
        let x = cubic(&self.x_powers[span_u], t);
        let y = mixed(&patch.y, t, s);
        let z = mixed(&patch.z, t, s);
        let (ruu, ruv, rvv) = (ru * ru, ru * rv, rv * rv);
        let along =
            |a: usize, b: usize, scale: f64| DVec3::new(0.0, y[a][b] * scale, z[a][b] * scale);
        Jet {
            s: DVec3::new(x[0], y[0][0], z[0][0]),
            u: DVec3::new(x[1] * ru, y[1][0] * ru, z[1][0] * ru),
            v: along(0, 1, rv),
            uu: DVec3::new(x[2] * ruu, y[2][0] * ruu, z[2][0] * ruu),
            uv: along(1, 1, ruv),
            vv: along(0, 2, rvv),
            uuu: DVec3::new(x[3] * ruu * ru, y[3][0] * ruu * ru, z[3][0] * ruu * ru),
            uuv: along(2, 1, ruu * rv),
            uvv: along(1, 2, ru * rvv),
            vvv: along(0, 3, rvv * rv),
        }
    }

    /// Position alone.
    #[must_use]
    pub fn position(&self, u: f64, v: f64) -> DVec3 {
        self.position_on(self.u.span_at(u), self.v.span_at(v), u, v)
    }

    /// Position by the patch with these span numbers.
    ///
    /// # Panics
    /// Where there is no such patch.
    #[must_use]
    pub fn position_on(&self, span_u: usize, span_v: usize, u: f64, v: f64) -> DVec3 {
        let ((u0, u1), (v0, v1)) = (self.u.span(span_u), self.v.span(span_v));
        let (t, s) = ((u - u0) / (u1 - u0), (v - v0) / (v1 - v0));
        let patch = &self.patches[span_u * self.v.span_count() + span_v];
        let horner = |p: &[f64; 4], t: f64| ((p[3] * t + p[2]) * t + p[1]) * t + p[0];
        let both = |p: &[[f64; 4]; 4]| {
            horner(
                &[
                    horner(&p[0], s),
                    horner(&p[1], s),
                    horner(&p[2], s),
                    horner(&p[3], s),
                ],
                t,
            )
        };
        DVec3::new(
            horner(&self.x_powers[span_u], t),
            both(&patch.y),
            both(&patch.z),
        )
    }

    /// The line of constant `u`, collapsed for many jets.
    #[must_use]
    pub fn row(&self, u: f64) -> Row<'_> {
        self.row_on(self.u.span_at(u), u)
    }

    /// The line of constant `u` by the span with this number, for one-sided derivatives at a knot.
    ///
    /// # Panics
    /// Where there is no such span.
    #[must_use]
    pub fn row_on(&self, su: usize, u: f64) -> Row<'_> {
        let (u0, u1) = self.u.span(su);
        let r = 1.0 / (u1 - u0);
        let t = (u - u0) * r;
        let scale = [1.0, r, r * r, r * r * r];
        let mut x = cubic(&self.x_powers[su], t);
        for (x, scale) in x.iter_mut().zip(scale) {
            *x *= scale;
        }
        let n = self.v.span_count();
        let spans = self.patches[su * n..(su + 1) * n]
            .iter()
            .map(|patch| {
                [&patch.y, &patch.z].map(|p| {
                    let mut out = [[0.0; 4]; 4];
                    for l in 0..4 {
                        let c = cubic(&[p[0][l], p[1][l], p[2][l], p[3][l]], t);
                        for d in 0..4 {
                            out[d][l] = c[d] * scale[d];
                        }
                    }
                    out
                })
            })
            .collect();
        Row {
            v: &self.v,
            x,
            spans,
        }
    }

    /// Which patches lie on one side of a plane as a whole, further from it than `margin` mm, by their coefficients; in
    /// the order of `u`, then `v`.
    #[must_use]
    pub(crate) fn clear_patches(&self, normal: DVec3, offset: f64, margin: f64) -> Vec<bool> {
        let columns = self.v.count();
        // 1: above the plane, 2: below, 0: near it.
        let sides: Vec<u8> = (0..self.y.len())
            .map(|i| {
                let over =
                    normal.x * self.x[i / columns] + normal.y * self.y[i] + normal.z * self.z[i]
                        - offset;
                u8::from(over > margin) | (u8::from(over < -margin) << 1)
            })
            .collect();
        let mut clear = Vec::with_capacity(self.patches.len());
        for su in 0..self.u.span_count() {
            let row = self.u.first_coefficient(su) * columns;
            // All four of a column at once, then four columns.
            let down: Vec<u8> = (row..row + columns)
                .map(|i| (0..4).fold(3, |side, k| side & sides[i + k * columns]))
                .collect();
            clear.extend((0..self.v.span_count()).map(|sv| {
                let first = self.v.first_coefficient(sv);
                down[first..first + 4].iter().fold(3, |a, b| a & b) != 0
            }));
        }
        clear
    }

    /// Powers of `normal · S − offset` on a patch, `[power of u][power of v]`, in parameters from 0 to 1.
    #[must_use]
    pub(crate) fn plane_powers(
        &self,
        span_u: usize,
        span_v: usize,
        normal: DVec3,
        offset: f64,
    ) -> [[f64; 4]; 4] {
        let patch = &self.patches[span_u * self.v.span_count() + span_v];
        let mut out = [[0.0; 4]; 4];
        for (k, out) in out.iter_mut().enumerate() {
            for (l, out) in out.iter_mut().enumerate() {
                *out = normal.y * patch.y[k][l] + normal.z * patch.z[k][l];
            }
            out[0] += normal.x * self.x_powers[span_u][k];
        }
        out[0][0] -= offset;
        out
    }

    /// Parameter `u` at which x(u) has this value, clamped to the ends.
    ///
    /// # Accuracy
    /// |x(u) − x| ≤ 1e-9 mm where x lies within the surface.
    #[must_use]
    pub fn u_at(&self, x: f64) -> f64 {
        // At a blunt tip a rounding of x is far more of u, so the ends are met exactly.
        let (first, end) = (self.x[0], self.x[self.x.len() - 1]);
        if x <= first + END {
            return self.u.domain().0;
        }
        if x >= end - END {
            return self.u.domain().1;
        }
        let last = self.u.span_count() - 1;
        let end = |s: usize| self.x_powers[s].iter().sum::<f64>();
        let mut s = 0;
        while s < last && end(s) < x {
            s += 1;
        }
        let (u0, u1) = self.u.span(s);
        let p = &self.x_powers[s];
        let (mut low, mut high) = (0.0, 1.0);
        let mut t = 0.5;
        for _ in 0..60 {
            let [value, slope, ..] = cubic(p, t);
            let miss = value - x;
            if miss.abs() < 1e-11 {
                break;
            }
            if miss > 0.0 {
                high = t;
            } else {
                low = t;
            }
            let newton = t - miss / slope;
            t = if newton > low && newton < high {
                newton
            } else {
                (low + high) / 2.0
            };
            if high - low < 1e-15 {
                break;
            }
        }
        u0 + (u1 - u0) * t.clamp(0.0, 1.0)
    }
}

impl Row<'_> {
    /// Powers of half-breadth and height on a span of `v`, in parameters from 0 to 1.
    pub(crate) fn powers(&self, span: usize) -> [[f64; 4]; 2] {
        let [y, z] = &self.spans[span];
        [y[0], z[0]]
    }

    /// Knots in `v`.
    #[must_use]
    pub fn v_knots(&self) -> &Knots {
        self.v
    }

    /// Jet at `v`, as [`Surface::jet`] gives it but for the last digits.
    #[must_use]
    pub fn jet(&self, v: f64) -> Jet {
        self.jet_on(self.v.span_at(v), v)
    }

    /// Jet at `v` by the span with this number, for a one-sided derivative at a knuckle.
    ///
    /// # Panics
    /// Where there is no such span.
    #[must_use]
    pub fn jet_on(&self, span: usize, v: f64) -> Jet {
        let (v0, v1) = self.v.span(span);
        let r = 1.0 / (v1 - v0);
        let s = (v - v0) * r;
        let [py, pz] = &self.spans[span];
        let (rr, rrr) = (r * r, r * r * r);
        let (y0, z0) = (cubic(&py[0], s), cubic(&pz[0], s));
        let (y1, z1) = (cubic(&py[1], s), cubic(&pz[1], s));
        let (y2, z2) = (cubic(&py[2], s), cubic(&pz[2], s));
        let (y3, z3) = (cubic(&py[3], s), cubic(&pz[3], s));
        Jet {
            s: DVec3::new(self.x[0], y0[0], z0[0]),
            u: DVec3::new(self.x[1], y1[0], z1[0]),
            v: DVec3::new(0.0, y0[1] * r, z0[1] * r),
            uu: DVec3::new(self.x[2], y2[0], z2[0]),
            uv: DVec3::new(0.0, y1[1] * r, z1[1] * r),
            vv: DVec3::new(0.0, y0[2] * rr, z0[2] * rr),
            uuu: DVec3::new(self.x[3], y3[0], z3[0]),
            uuv: DVec3::new(0.0, y2[1] * r, z2[1] * r),
            uvv: DVec3::new(0.0, y1[2] * rr, z1[2] * rr),
            vvv: DVec3::new(0.0, y0[3] * rrr, z0[3] * rrr),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::spline::Interpolant;

    /// A wavy surface with a triple knot, whose net is in closed form nowhere but whose derivatives can be checked
    /// against its own basis functions.
    fn wavy() -> Surface {
        let u = Knots::clamped(&[0.0, 300.0, 700.0, 1500.0, 2600.0, 4000.0]).unwrap();
        let v = Knots::with_multiplicities(&[(0.0, 1), (0.3, 1), (0.45, 3), (0.8, 1), (1.0, 1)])
            .unwrap();
        let (nu, nv) = (u.count(), v.count());
        let net = |a: f64, b: f64| -> Vec<f64> {
            (0..nu * nv)
                .map(|k| a * num::sin(b * k as f64) + 300.0 * num::cos(k as f64 * 0.1))
                .collect()
        };
        let x = u.greville();
        Surface::new(u, v, x, net(80.0, 1.3), net(60.0, 0.7))
    }

    fn by_basis(s: &Surface, u: f64, v: f64, a: usize, b: usize) -> DVec3 {
        let (su, sv) = (s.u.span_at(u), s.v.span_at(v));
        let (bu, bv) = (s.u.basis(su, u), s.v.basis(sv, v));
        let (fu, fv) = (s.u.first_coefficient(su), s.v.first_coefficient(sv));
        let mut sum = DVec3::ZERO;
        for i in 0..4 {
            if b == 0 {
                sum.x += bu[a][i] * s.x[fu + i];
            }
            for j in 0..4 {
                let w = bu[a][i] * bv[b][j];
                let k = (fu + i) * s.v.count() + fv + j;
                sum += DVec3::new(0.0, w * s.y[k], w * s.z[k]);
            }
        }
        sum
    }

    #[test]
    fn a_jet_is_what_the_basis_functions_say() {
        let s = wavy();
        for (u, v) in [
            (0.0, 0.0),
            (10.0, 0.44),
            (300.0, 0.45),
            (1234.5, 0.6),
            (2599.0, 0.999),
            (4000.0, 1.0),
        ] {
            let j = s.jet(u, v);
            let r = s.row(u).jet(v);
            let all = |j: &Jet| [j.s, j.u, j.v, j.uu, j.uv, j.vv, j.uuu, j.uuv, j.uvv, j.vvv];
            let orders = [
                (0, 0),
                (1, 0),
                (0, 1),
                (2, 0),
                (1, 1),
                (0, 2),
                (3, 0),
                (2, 1),
                (1, 2),
                (0, 3),
            ];
            for (k, (a, b)) in orders.into_iter().enumerate() {
                let expect = by_basis(&s, u, v, a, b);
                let scale = expect.length().max(1e-9);
                assert!(
                    (all(&j)[k] - expect).length() < 1e-9 * scale,
                    "{u} {v} {a}{b}"
                );
                assert!(
                    (all(&r)[k] - expect).length() < 1e-9 * scale,
                    "row {u} {v} {a}{b}"
                );
            }
            assert!((s.position(u, v) - j.s).length() < 1e-10);
        }
    }

    #[test]
    fn principal_curvatures_agree_with_gauss_and_mean() {
        let s = wavy();
        for i in 0..200 {
            let (u, v) = (20.0 * f64::from(i) + 3.0, f64::from(i % 97) / 97.0);
            let j = s.jet(u, v);
            let p = j.principal();
            let [a, b] = p.curvature;
            assert!(
                (a * b - j.gaussian()).abs() < 1e-9 * (a * a + b * b),
                "gauss at {u} {v}"
            );
            assert!(
                (a + b - 2.0 * j.mean()).abs() < 1e-9 * (a.abs() + b.abs()),
                "mean at {u} {v}"
            );
            // Euler: the normal curvature along each direction is that principal curvature.
            for (k, d) in p.curvature.iter().zip(p.direction) {
                let [e, f, g] = j.first_form();
                let (du, dv) = (d.dot(j.u), d.dot(j.v));
                let (du, dv) = (
                    (g * du - f * dv) / (e * g - f * f),
                    (e * dv - f * du) / (e * g - f * f),
                );
                assert!((j.normal_curvature(du, dv) - k).abs() < 1e-8 * (a.abs() + b.abs()));
                assert!((d.length() - 1.0).abs() < 1e-12 && d.dot(j.normal()).abs() < 1e-12);
            }
        }
    }

    #[test]
    fn a_cylinder_is_convex_with_its_radius() {
        // Radius 500: κ = −1/500 across and 0 along, normal pointing outward.
        let n = 32;
        let t: Vec<f64> = (0..=n).map(|i| f64::from(i) / f64::from(n)).collect();
        let p: Vec<[f64; 2]> = t
            .iter()
            .map(|t| {
                let a = core::f64::consts::PI * t;
                [500.0 * num::sin(a), 500.0 * num::cos(a)]
            })
            .collect();
        let slope = 500.0 * core::f64::consts::PI;
        let section = Interpolant::through(
            t.clone(),
            p,
            [
                crate::spline::EndCondition::Slope(slope),
                crate::spline::EndCondition::Slope(-slope),
            ],
            [crate::spline::EndCondition::Slope(0.0); 2],
        );
        let v = Knots::clamped(&t).unwrap();
        // The interpolant is a spline on these knots: its coefficients are its blossom, from Taylor at a span's start.
        let coefficients = |k: usize| -> Vec<f64> {
            (0..v.count())
                .map(|i| {
                    let [a, b, c] = [v.knots()[i + 1], v.knots()[i + 2], v.knots()[i + 3]];
                    let middle = if b >= 1.0 { t[t.len() - 2] } else { b };
                    let at = |d: usize| section.at(middle)[d][k];
                    let h = 1.0 / f64::from(n);
                    let third = (section.at(middle + h)[2][k] - at(2)) / h;
                    let (a, b, c) = (a - middle, b - middle, c - middle);
                    at(0)
                        + at(1) * (a + b + c) / 3.0
                        + at(2) / 2.0 * (a * b + b * c + a * c) / 3.0
                        + third / 6.0 * a * b * c
                })
                .collect()
        };
        let u = Knots::clamped(&[0.0, 1000.0]).unwrap();
        let x = u.greville();
        let repeat = |c: Vec<f64>| (0..4).flat_map(|_| c.clone()).collect::<Vec<f64>>();
        let s = Surface::new(
            u,
            v.clone(),
            x,
            repeat(coefficients(0)),
            repeat(coefficients(1)),
        );
        for i in 1..50 {
            let j = s.jet(f64::from(i) * 20.0, f64::from(i) / 50.0);
            let [a, b] = j.principal().curvature;
            assert!((a * 500.0 + 1.0).abs() < 0.005 && b.abs() < 1e-9, "{a} {b}");
            assert!(j.normal().dot(DVec3::new(0.0, j.s.y, j.s.z)) > 0.0);
        }
    }

    #[test]
    fn x_is_found_again_on_a_blunt_nose() {
        // x = u² on the first span: the slope is zero at the tip.
        let u = Knots::clamped(&[0.0, 1.0, 2.0, 3.0]).unwrap();
        let k = u.knots().to_vec();
        let x: Vec<f64> = (0..u.count())
            .map(|i| (k[i + 1] * k[i + 2] + k[i + 2] * k[i + 3] + k[i + 1] * k[i + 3]) / 3.0)
            .collect();
        let v = Knots::clamped(&[0.0, 1.0]).unwrap();
        let zeros = vec![0.0; u.count() * 4];
        let s = Surface::new(u, v, x, zeros.clone(), zeros);
        for i in 0..=900 {
            let x = f64::from(i) / 100.0;
            let found = s.u_at(x);
            assert!((found * found - x).abs() < 1e-9, "{x}: {found}");
        }
    }
}
