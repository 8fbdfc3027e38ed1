//! Triangles of a surface within a stated deviation.
//!
//! In: a surface, the starboard half of a body. Out: a [`Mesh`] of one side or both, with normals and curvatures at its
//! vertices. The triangles lie on one grid of lines of constant `u` and `v`, so that they meet without gaps; at a knuckle
//! the vertices are there twice, each with the normal of its own side.

use glam::DVec3;

use super::{DEGREE, Jet, Knots, Row, Surface};
use crate::num;
use crate::num::scalar::to_bernstein;

/// How fine a mesh is to be.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MeshOptions {
    /// How far a triangle may lie from the surface, mm.
    pub deviation: f64,
    /// Longest side of the grid's cells, mm; infinite where it does not matter.
    pub longest: f64,
}

impl MeshOptions {
    /// Fine enough to look at from near.
    pub const NEAR: Self = Self {
        deviation: 0.1,
        longest: 100.0,
    };
}

/// A vertex of a mesh.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Vertex {
    /// Place, mm.
    pub position: DVec3,
    /// Outward unit normal.
    pub normal: DVec3,
    /// Parameters on the surface.
    pub uv: [f64; 2],
    /// Curvature of the normal section square to the station's section, 1/mm, negative where convex.
    pub along: f64,
    /// Curvature of the normal section along the station's section, 1/mm, negative where convex.
    pub across: f64,
    /// Gauss's curvature, 1/mm²: zero where a flat sheet lies, negative where the skin is a saddle.
    pub gaussian: f64,
}

/// Triangles of a surface.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Mesh {
    /// Vertices, line of constant `u` by line.
    pub vertices: Vec<Vertex>,
    /// Numbers of three vertices, anticlockwise seen from outside.
    pub triangles: Vec<[u32; 3]>,
    /// Bound of the distance between a triangle and the surface, mm.
    pub deviation: f64,
}

impl Mesh {
    /// The same with its mirror image beside it: starboard first, then port.
    ///
    /// # Panics
    /// With over 2³² vertices.
    #[must_use]
    pub fn with_port(mut self) -> Self {
        #[expect(
            clippy::expect_used,
            reason = "a grid of 1024 lines in each direction has a million vertices"
        )]
        let count = u32::try_from(self.vertices.len()).expect("vertices are numbered in 32 bits");
        let flip = DVec3::new(1.0, -1.0, 1.0);
        for i in 0..self.vertices.len() {
            let vertex = self.vertices[i];
            self.vertices.push(Vertex {
                position: vertex.position * flip,
                normal: vertex.normal * flip,
                ..vertex
            });
        }
        for i in 0..self.triangles.len() {
            let [a, b, c] = self.triangles[i];
            self.triangles.push([a + count, c + count, b + count]);
        }
        self
    }
}

/// Most lines of the grid in each direction, so that a mesh has at most a million vertices.
const MOST_LINES: f64 = 1024.0;

/// How far inside its end a row is taken for normals where it is one point, in spans.
const INSIDE: f64 = 1e-4;

/// Lays triangles on the starboard side of a surface.
///
/// A span is cut into `n` and `m` equal parts such that `(M_uu/n² + 2 M_uv/(n m) + M_vv/m²)/8` keeps within the
/// deviation, with `M` the largest lengths of the second derivatives over its patches, in parameters from 0 to 1.
///
/// # Units
/// mm; see [`MeshOptions`].
///
/// # Accuracy
/// [`Mesh::deviation`] is a bound, not an estimate, and at most what was asked unless the grid would need over 1024 lines
/// in a direction.
/// Vertices lie on the surface to its own rounding. Where a row is one point (a tip), normals and curvatures are those
/// a ten-thousandth of a span inside it.
///
/// # Source
/// Filip, Magedson and Markot, *Computer Aided Geometric Design* 3 (1986), theorem 4 (from memory; tested by sampling).
#[must_use]
pub fn mesh(surface: &Surface, options: &MeshOptions) -> Mesh {
    let (u, v) = (surface.u_knots(), surface.v_knots());
    let bends: Vec<Vec<Bend>> = (0..u.span_count())
        .map(|i| {
            (0..v.span_count())
                .map(|j| Bend::of(surface, i, j))
                .collect()
        })
        .collect();
    let [along, round] = parts(&bends, options);
    let columns = columns(v, &round);
    let mut mesh = Mesh::default();
    for (i, bends) in bends.iter().enumerate() {
        for (j, bend) in bends.iter().enumerate() {
            mesh.deviation = mesh.deviation.max(bend.deviation([along[i], round[j]]));
        }
    }
    let lines = lines(u, &along);
    for line in &lines {
        row(surface, *line, &columns, &mut mesh.vertices);
    }
    let width = columns.len();
    let numbers: Vec<u32> = (0..).take(mesh.vertices.len()).collect();
    for line in 1..lines.len() {
        for column in 1..width {
            if columns[column].again {
                continue; // between the two sides of a knuckle
            }
            let [fore, aft] = [line - 1, line].map(|line| line * width + column);
            let (a, b, c, d) = (fore - 1, aft - 1, aft, fore);
            for corners in [[a, b, c], [a, c, d]] {
                let [p, q, r] = corners.map(|k| mesh.vertices[k].position);
                let apart = |a: DVec3, b: DVec3| a.distance(b) > num::SAME_POINT;
                if apart(p, q) && apart(q, r) && apart(r, p) {
                    mesh.triangles.push(corners.map(|k| numbers[k]));
                }
            }
        }
    }
    mesh
}

/// Bounds of the derivatives over a patch, mm, in parameters from 0 to 1.
#[derive(Clone, Copy, Debug)]
struct Bend {
    first: [f64; 2],
    uu: f64,
    uv: f64,
    vv: f64,
}

impl Bend {
    /// By the convex hull of the patch's Bézier points.
    fn of(surface: &Surface, i: usize, j: usize) -> Self {
        let component = |axis: DVec3| -> [[f64; 4]; 4] {
            let rows = surface
                .plane_powers(i, j, axis, 0.0)
                .map(|p| to_bernstein(&p));
            let columns: [[f64; 4]; 4] =
                core::array::from_fn(|l| to_bernstein(&rows.map(|row| row[l])));
            core::array::from_fn(|k| columns.map(|column| column[k]))
        };
        let [x, y, z] = DVec3::AXES.map(component);
        let b = |k: usize, l: usize| DVec3::new(x[k][l], y[k][l], z[k][l]);
        let largest = |k: usize, l: usize, at: &dyn Fn(usize, usize) -> DVec3| {
            (0..k)
                .flat_map(|k| (0..l).map(move |l| (k, l)))
                .map(|(k, l)| at(k, l).length())
                .fold(0.0, f64::max)
        };
        Self {
            first: [
                largest(3, 4, &|k, l| 3.0 * (b(k + 1, l) - b(k, l))),
                largest(4, 3, &|k, l| 3.0 * (b(k, l + 1) - b(k, l))),
            ],
            uu: largest(2, 4, &|k, l| {
                6.0 * (b(k + 2, l) - 2.0 * b(k + 1, l) + b(k, l))
            }),
            uv: largest(3, 3, &|k, l| {
                9.0 * (b(k + 1, l + 1) - b(k + 1, l) - b(k, l + 1) + b(k, l))
            }),
            vv: largest(4, 2, &|k, l| {
                6.0 * (b(k, l + 2) - 2.0 * b(k, l + 1) + b(k, l))
            }),
        }
    }

    fn deviation(&self, [n, m]: [f64; 2]) -> f64 {
        (self.uu / (n * n) + 2.0 * self.uv / (n * m) + self.vv / (m * m)) / 8.0
    }
}

/// Into how many parts each span is cut, along and round: a third of the deviation for each term.
fn parts(bends: &[Vec<Bend>], options: &MeshOptions) -> [Vec<f64>; 2] {
    let third = 8.0 * options.deviation / 3.0;
    let mut along = vec![1.0_f64; bends.len()];
    let mut round = vec![1.0_f64; bends.first().map_or(0, Vec::len)];
    let most = [&along, &round].map(|spans| (MOST_LINES / spans.len() as f64).floor().max(1.0));
    let enough = |bend: f64, first: f64| (bend / third).sqrt().max(first / options.longest);
    for (i, bends) in bends.iter().enumerate() {
        for (j, bend) in bends.iter().enumerate() {
            along[i] = along[i].max(enough(bend.uu, bend.first[0]).ceil());
            round[j] = round[j].max(enough(bend.vv, bend.first[1]).ceil());
        }
    }
    for (i, bends) in bends.iter().enumerate() {
        for (j, bend) in bends.iter().enumerate() {
            let short = (2.0 * bend.uv / third / (along[i] * round[j])).sqrt();
            if short > 1.0 {
                along[i] = (along[i] * short).ceil();
                round[j] = (round[j] * short).ceil();
            }
        }
    }
    for (spans, most) in [&mut along, &mut round].into_iter().zip(most) {
        for parts in spans {
            *parts = parts.min(most);
        }
    }
    [along, round]
}

/// A line of constant `v` on the patches of one span.
#[derive(Clone, Copy, Debug)]
struct MeshColumn {
    span: usize,
    v: f64,
    /// Whether it is the other side of the knuckle before it.
    again: bool,
}

fn cut((from, to): (f64, f64), parts: f64) -> impl Iterator<Item = f64> {
    let count = num::count_of(parts);
    (0..=count).map(move |k| from + (to - from) * (k as f64 / parts))
}

fn columns(v: &Knots, parts: &[f64]) -> Vec<MeshColumn> {
    let mut columns: Vec<MeshColumn> = Vec::new();
    for (span, parts) in parts.iter().enumerate() {
        let ends = v.span(span);
        let inner = v.knots().iter().filter(|k| num::same(**k, ends.0)).count();
        let knuckle = span > 0 && inner >= DEGREE;
        for (k, v) in cut(ends, *parts).enumerate() {
            let again = k == 0 && knuckle;
            if k > 0 || span == 0 || again {
                columns.push(MeshColumn { span, v, again });
            }
        }
    }
    columns
}

/// Lines of constant `u`, each with where its normals are taken if it is one point.
fn lines(u: &Knots, parts: &[f64]) -> Vec<[f64; 2]> {
    let mut lines = Vec::new();
    for (span, parts) in parts.iter().enumerate() {
        let (from, to) = u.span(span);
        let inside = (to - from) * INSIDE;
        for (k, at) in cut((from, to), *parts).enumerate() {
            if k > 0 || span == 0 {
                lines.push([at, (at + inside).min(to - inside)]);
            }
        }
    }
    lines
}

fn row(surface: &Surface, [u, inside]: [f64; 2], columns: &[MeshColumn], out: &mut Vec<Vertex>) {
    let row = surface.row(u);
    let mut within: Option<Row<'_>> = None;
    for column in columns {
        let jet = row.jet_on(column.span, column.v);
        // Where S_v is lost in rounding, the row is one point.
        let shape: Jet = if jet.v.length() > num::SAME_POINT {
            jet
        } else {
            within
                .get_or_insert_with(|| surface.row(inside))
                .jet_on(column.span, column.v)
        };
        out.push(Vertex {
            position: jet.s,
            normal: shape.normal(),
            uv: [u, column.v],
            along: shape.along(),
            across: shape.across(),
            gaussian: shape.gaussian(),
        });
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A body with a knuckle, a blunt nose (x = u² at first) and a pointed tail.
    fn body() -> Surface {
        let u = Knots::clamped(&[0.0, 10.0, 20.0, 30.0, 40.0]).unwrap();
        let v = Knots::with_multiplicities(&[(0.0, 1), (0.3, 1), (0.6, 3), (0.8, 1), (1.0, 1)])
            .unwrap();
        let k = u.knots().to_vec();
        let x: Vec<f64> = (0..u.count())
            .map(|i| (k[i + 1] * k[i + 2] + k[i + 2] * k[i + 3] + k[i + 1] * k[i + 3]) / 3.0)
            .collect();
        let (rows, around) = (u.greville(), v.greville());
        let net = |f: &dyn Fn(f64) -> f64| -> Vec<f64> {
            rows.iter()
                .flat_map(|u| {
                    let radius = 300.0 * num::sin(core::f64::consts::PI * u / 40.0).max(0.0);
                    let radius = if *u < 40.0 { radius } else { 0.0 };
                    around.iter().map(move |v| (radius, *v))
                })
                .map(|(radius, v)| radius * f(v))
                .collect()
        };
        let y = net(&|v| {
            if v > 0.0 && v < 1.0 {
                num::sin(core::f64::consts::PI * v)
            } else {
                0.0
            }
        });
        let z = net(&|v| {
            num::cos(core::f64::consts::PI * v) + if v < 0.6 { 0.2 * (0.6 - v) } else { 0.0 }
        });
        Surface::new(u, v, x, y, z)
    }

    fn options(deviation: f64) -> MeshOptions {
        MeshOptions {
            deviation,
            longest: f64::INFINITY,
        }
    }

    #[test]
    fn triangles_keep_within_the_deviation() {
        let surface = body();
        for deviation in [10.0, 1.0, 0.1] {
            let mesh = mesh(&surface, &options(deviation));
            assert!(mesh.deviation <= deviation, "{}", mesh.deviation);
            let mut largest = 0.0_f64;
            for corners in &mesh.triangles {
                let [a, b, c] = corners.map(|k| mesh.vertices[k as usize]);
                for (s, t) in [
                    (1.0 / 3.0, 1.0 / 3.0),
                    (0.5, 0.5),
                    (0.5, 0.0),
                    (0.0, 0.5),
                    (0.1, 0.3),
                ] {
                    let r = 1.0 - s - t;
                    let flat = a.position * r + b.position * s + c.position * t;
                    let [u, v] = [0, 1].map(|k| a.uv[k] * r + b.uv[k] * s + c.uv[k] * t);
                    largest = largest.max(flat.distance(surface.position(u, v)));
                }
            }
            assert!(
                largest <= mesh.deviation && largest > deviation / 20.0,
                "{largest} of {}",
                mesh.deviation
            );
        }
    }

    #[test]
    fn the_mesh_closes_the_body_and_faces_outward() {
        let surface = body();
        let exact = crate::spline::measure(&surface);
        let both = mesh(&surface, &options(0.05)).with_port();
        let (mut volume, mut area) = (0.0, 0.0);
        for corners in &both.triangles {
            let [a, b, c] = corners.map(|k| both.vertices[k as usize]);
            let (p, q, r) = (a.position, b.position, c.position);
            volume += p.dot(q.cross(r)) / 6.0;
            let normal = (q - p).cross(r - p);
            area += normal.length() / 2.0;
            for vertex in [a, b, c] {
                assert!((vertex.normal.length() - 1.0).abs() < 1e-12);
                assert!(
                    normal.dot(vertex.normal) > 0.0,
                    "{:?} {:?}",
                    vertex.position,
                    vertex.uv
                );
            }
        }
        assert!(
            (volume / exact.volume - 1.0).abs() < 1e-4,
            "{volume} for {}",
            exact.volume
        );
        assert!(
            (area / exact.area - 1.0).abs() < 1e-4,
            "{area} for {}",
            exact.area
        );
    }

    #[test]
    fn a_knuckle_has_the_normals_of_both_sides() {
        let surface = body();
        let mesh = mesh(&surface, &options(1.0));
        let middle: Vec<&Vertex> = mesh
            .vertices
            .iter()
            .filter(|vertex| {
                num::same(vertex.uv[1], 0.6) && vertex.uv[0] > 19.0 && vertex.uv[0] < 21.0
            })
            .collect();
        assert!(middle.len() >= 2 && middle.len().is_multiple_of(2));
        for pair in middle.chunks(2) {
            assert!(pair[0].position.distance(pair[1].position) < 1e-9);
            assert!(pair[0].normal.distance(pair[1].normal) > 0.05);
        }
    }

    #[test]
    fn cells_are_no_longer_than_asked() {
        let surface = body();
        let mesh = mesh(
            &surface,
            &MeshOptions {
                deviation: 100.0,
                longest: 80.0,
            },
        );
        for corners in &mesh.triangles {
            let [a, b, c] = corners.map(|k| mesh.vertices[k as usize].position);
            // Two of the three sides are the cell's.
            let mut sides = [a.distance(b), b.distance(c), c.distance(a)];
            sides.sort_by(f64::total_cmp);
            assert!(sides[1] <= 80.0 + 1e-9, "{sides:?}");
        }
    }
}
