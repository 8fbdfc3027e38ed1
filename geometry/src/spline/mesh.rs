//! Triangles of a surface within a stated deviation, with what it measures at their corners.
//!
//! In: a surface and how near the triangles must be. Out: a [`Mesh`] for a view or a file. The grid follows the net: every
//! knot is a grid line, and at a knuckle the corners are there twice, once for each side's normal.

use glam::DVec3;

use super::{DEGREE, Jet, Knots, Surface};
use crate::num;

/// Which half of a body.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Sides {
    /// The surface as it is.
    Starboard,
    /// With its mirror image in the centre plane.
    Both,
}

/// How fine a mesh is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MeshOptions {
    /// How far the triangles may be from the surface, mm, over zero.
    pub accuracy: f64,
    /// Longest edge of the grid, mm, over zero; infinite where only the accuracy counts.
    pub longest_edge: f64,
    /// Which half.
    pub sides: Sides,
}

/// A corner of triangles.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Vertex {
    /// Place, mm.
    pub position: DVec3,
    /// Outward unit normal.
    pub normal: DVec3,
    /// Parameters on the surface; of its image for a port vertex.
    pub uv: [f64; 2],
    /// Curvature along the body, square to the section, 1/mm, negative where convex.
    pub along: f64,
    /// Curvature across, along the section, 1/mm.
    pub across: f64,
    /// Principal curvatures, the smaller first, 1/mm.
    pub principal: [f64; 2],
}

/// Triangles.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Mesh {
    /// Corners.
    pub vertices: Vec<Vertex>,
    /// Three corners each, anticlockwise seen from outside.
    pub triangles: Vec<[u32; 3]>,
    /// How far the triangles are from the surface, mm, at the middles of their edges and of their areas.
    pub deviation: f64,
    /// Lines of the grid along the body, and round the girth of one side.
    pub grid: [usize; 2],
}

/// Most vertices of a side; beyond them the mesh stays coarser than was asked, and `deviation` says by how much.
const MOST_VERTICES: usize = 2_000_000;

/// Most times the grid is made finer.
const ROUNDS: u32 = 8;

/// Part of a span by which a tip, which has no tangent plane, is left to learn the limits there.
const INWARD: f64 = 1e-3;

/// One line of the grid: parameter, and number of the span that speaks for it.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Line {
    at: f64,
    span: usize,
}

/// Lines of the grid round the girth, in groups between knuckles, by number.
type Groups = Vec<core::ops::Range<usize>>;

/// Covers a surface with triangles.
///
/// # Units
/// mm, 1/mm.
///
/// # Accuracy
/// Within `accuracy` of the surface, which is measured at the middles of edges and areas; `deviation` says what was
/// reached. Corners lie on the surface. At a tip normal and curvatures are those a thousandth of a span inside.
///
/// # Source
/// First grid by the bound `(h_u² |S_uu| + 2 h_u h_v |S_uv| + h_v² |S_vv|) / 8`: Filip, Magedson and Markot, *CAGD* 3
/// (1986); then made finer where the measure asks for it.
///
/// # Panics
/// Where there would be more than 2³² corners, which [`MeshOptions`] of a real length cannot ask for.
#[must_use]
pub fn mesh(surface: &Surface, options: &MeshOptions) -> Mesh {
    let (ku, kv) = (surface.u_knots(), surface.v_knots());
    let mut parts = first_parts(surface, options);
    let mut mesh;
    let mut round = 0;
    loop {
        let (u, v) = (lines(ku, &parts[0], false), lines(kv, &parts[1], true));
        mesh = cover(surface, &u.0, (&v.0, &v.1));
        let worst = deviations(surface, &mesh, &u.0, (&v.0, &v.1));
        mesh.deviation = worst.iter().flatten().copied().fold(0.0, f64::max);
        round += 1;
        let finer = refine(
            &mut parts,
            &worst,
            options.accuracy,
            [ku.span_count(), kv.span_count()],
        );
        let count = (parts[0].iter().sum::<usize>() + 1) * (parts[1].iter().sum::<usize>() + 1);
        if !finer || round == ROUNDS || count > MOST_VERTICES {
            break;
        }
    }
    if options.sides == Sides::Both {
        mirror(&mut mesh);
    }
    mesh
}

/// Covers a surface with a grid of about the given numbers of pieces, quickly and without measuring how near it is.
///
/// Every knot is a grid line, so that there may be a few more. For a picture that is redrawn while a point is dragged.
///
/// # Units
/// `pieces`: along the body, and round the girth of one side.
///
/// # Accuracy
/// Corners lie on the surface; `deviation` is NaN, since nothing was measured.
#[must_use]
pub fn quick_mesh(surface: &Surface, pieces: [usize; 2], sides: Sides) -> Mesh {
    let share = |knots: &Knots, pieces: usize| -> Vec<usize> {
        let (first, last) = knots.domain();
        (0..knots.span_count())
            .map(|s| {
                let (a, b) = knots.span(s);
                num::count_of(((b - a) / (last - first) * pieces as f64).round()).max(1)
            })
            .collect()
    };
    let (ku, kv) = (surface.u_knots(), surface.v_knots());
    let u = lines(ku, &share(ku, pieces[0]), false);
    let v = lines(kv, &share(kv, pieces[1]), true);
    let mut mesh = cover(surface, &u.0, (&v.0, &v.1));
    mesh.deviation = f64::NAN;
    if sides == Sides::Both {
        mirror(&mut mesh);
    }
    mesh
}

/// Pieces of each span, along and round, by the bound on second derivatives.
fn first_parts(surface: &Surface, options: &MeshOptions) -> [Vec<usize>; 2] {
    const LOOKS: u32 = 3;
    let (ku, kv) = (surface.u_knots(), surface.v_knots());
    // Largest bends and lengths over each span: [bend, length].
    let mut u = vec![[0.0_f64; 2]; ku.span_count()];
    let mut v = vec![[0.0_f64; 2]; kv.span_count()];
    let places = |(a, b): (f64, f64)| {
        (0..LOOKS).map(move |i| a + (b - a) * f64::from(i) / f64::from(LOOKS - 1))
    };
    for su in 0..ku.span_count() {
        let (a, b) = ku.span(su);
        for sv in 0..kv.span_count() {
            let (c, d) = kv.span(sv);
            for at_u in places((a, b)) {
                for at_v in places((c, d)) {
                    let jet = surface.jet_on(su, sv, at_u, at_v);
                    let (du, dv) = (b - a, d - c);
                    let twist = jet.uv.length() * du * dv;
                    u[su][0] = u[su][0].max(jet.uu.length() * du * du + twist);
                    v[sv][0] = v[sv][0].max(jet.vv.length() * dv * dv + twist);
                    u[su][1] = u[su][1].max(jet.u.length() * du);
                    v[sv][1] = v[sv][1].max(jet.v.length() * dv);
                }
            }
        }
    }
    // Each direction may use half the accuracy.
    let parts = |[bend, length]: [f64; 2]| {
        let by_bend = (bend / (4.0 * options.accuracy)).sqrt();
        let by_edge = length / options.longest_edge;
        // A little coarser than the bound: it is measured, and made finer, afterwards.
        num::count_of((0.6 * by_bend).max(by_edge).ceil()).clamp(1, 500)
    };
    [
        u.into_iter().map(parts).collect(),
        v.into_iter().map(parts).collect(),
    ]
}

/// Lines of a grid, and how they group between knuckles; at a knuckle there is one for each side.
fn lines(knots: &Knots, parts: &[usize], knuckles: bool) -> (Vec<Line>, Groups) {
    let mut lines = Vec::new();
    let mut groups = Vec::new();
    let mut from = 0;
    for (span, n) in parts.iter().enumerate() {
        let (a, b) = knots.span(span);
        for i in 0..*n {
            let at = a + (b - a) * i as f64 / *n as f64;
            lines.push(Line { at, span });
        }
        let last = span + 1 == parts.len();
        let triple =
            knuckles && knots.knots().iter().filter(|k| num::same(**k, b)).count() >= DEGREE;
        if last || triple {
            lines.push(Line { at: b, span });
            groups.push(from..lines.len());
            from = lines.len();
        }
    }
    (lines, groups)
}

/// The triangles of a grid.
fn cover(surface: &Surface, u: &[Line], (v, groups): (&[Line], &Groups)) -> Mesh {
    let mut mesh = Mesh {
        vertices: Vec::with_capacity(u.len() * v.len()),
        triangles: Vec::with_capacity(2 * u.len() * v.len()),
        deviation: 0.0,
        grid: [u.len(), v.len()],
    };
    for line in u {
        let row = surface.row_on(line.span, line.at);
        let collapsed = v.iter().map(|l| row.jet_on(l.span, l.at)).all(|j| {
            let (a, b) = surface.v_knots().span(v[0].span);
            j.v.length() * (b - a) < num::SAME_POINT
        });
        let (a, b) = surface.u_knots().span(line.span);
        let inside = collapsed.then(|| {
            surface.row_on(
                line.span,
                line.at + (f64::midpoint(a, b) - line.at) * INWARD,
            )
        });
        for l in v {
            let here = row.jet_on(l.span, l.at);
            let tangent = inside.as_ref().map_or(here, |row| row.jet_on(l.span, l.at));
            mesh.vertices.push(vertex(&here, &tangent, [line.at, l.at]));
        }
    }
    let index = |i: usize, j: usize| u32::try_from(i * v.len() + j).unwrap_or(u32::MAX);
    for i in 1..u.len() {
        for group in groups {
            for j in group.start + 1..group.end {
                let [a, b, c, d] = [
                    index(i - 1, j - 1),
                    index(i, j - 1),
                    index(i, j),
                    index(i - 1, j),
                ];
                for triangle in [[a, b, c], [a, c, d]] {
                    let p = triangle.map(|k| mesh.vertices[k as usize].position);
                    let point = p[0]
                        .distance(p[1])
                        .min(p[1].distance(p[2]))
                        .min(p[2].distance(p[0]));
                    // At a tip one of the two has no area.
                    if point > num::SAME_POINT {
                        mesh.triangles.push(triangle);
                    }
                }
            }
        }
    }
    mesh
}

fn vertex(here: &Jet, tangent: &Jet, uv: [f64; 2]) -> Vertex {
    let normal = tangent.u.cross(tangent.v).normalize_or_zero();
    let [_, f, g] = tangent.first_form();
    let (mean, gauss) = (tangent.mean(), tangent.gaussian());
    let half = (mean * mean - gauss).max(0.0).sqrt();
    Vertex {
        position: here.s,
        normal,
        uv,
        along: tangent.normal_curvature(1.0, -f / g),
        across: tangent.normal_curvature(0.0, 1.0),
        principal: [mean - half, mean + half],
    }
}

/// Largest distance of triangles from the surface, by span along and span round.
fn deviations(
    surface: &Surface,
    mesh: &Mesh,
    u: &[Line],
    (v, groups): (&[Line], &Groups),
) -> Vec<Vec<f64>> {
    let mut worst =
        vec![vec![0.0_f64; surface.v_knots().span_count()]; surface.u_knots().span_count()];
    for i in 1..u.len() {
        for group in groups {
            for j in group.start + 1..group.end {
                let corner = |i: usize, j: usize| mesh.vertices[i * v.len() + j].position;
                let [a, b, c, d] = [
                    corner(i - 1, j - 1),
                    corner(i, j - 1),
                    corner(i, j),
                    corner(i - 1, j),
                ];
                let (su, sv) = (u[i - 1].span, v[j - 1].span);
                let on = |s: f64, t: f64| {
                    let mix = |from: f64, to: f64, share: f64| from + (to - from) * share;
                    surface.position_on(
                        su,
                        sv,
                        mix(u[i - 1].at, u[i].at, s),
                        mix(v[j - 1].at, v[j].at, t),
                    )
                };
                // Corners a (0, 0), b (1, 0), c (1, 1), d (0, 1); triangles a b c and a c d.
                let looks = [
                    (on(0.5, 0.0), [a, b, c]),
                    (on(1.0, 0.5), [a, b, c]),
                    (on(0.5, 0.5), [a, b, c]),
                    (on(0.5, 0.5), [a, c, d]),
                    (on(0.5, 1.0), [a, c, d]),
                    (on(0.0, 0.5), [a, c, d]),
                    (on(2.0 / 3.0, 1.0 / 3.0), [a, b, c]),
                    (on(1.0 / 3.0, 2.0 / 3.0), [a, c, d]),
                ];
                for (point, triangle) in looks {
                    worst[su][sv] = worst[su][sv].max(off(point, triangle));
                }
            }
        }
    }
    worst
}

/// Distance of a point from the plane of a triangle; of one without area, from its longest edge.
fn off(p: DVec3, [a, b, c]: [DVec3; 3]) -> f64 {
    let normal = (b - a).cross(c - a);
    let size = normal.length();
    let longest = (b - a)
        .length_squared()
        .max((c - a).length_squared())
        .max((c - b).length_squared());
    if size > 1e-9 * longest {
        return ((p - a).dot(normal) / size).abs();
    }
    let end = if (b - a).length_squared() > (c - a).length_squared() {
        b
    } else {
        c
    };
    let edge = end - a;
    let share = ((p - a).dot(edge) / edge.length_squared().max(f64::MIN_POSITIVE)).clamp(0.0, 1.0);
    (p - a - edge * share).length()
}

/// Makes spans finer that are further off than was asked; whether any was.
fn refine(
    parts: &mut [Vec<usize>; 2],
    worst: &[Vec<f64>],
    accuracy: f64,
    [nu, nv]: [usize; 2],
) -> bool {
    let along: Vec<f64> = (0..nu)
        .map(|i| worst[i].iter().copied().fold(0.0, f64::max))
        .collect();
    let round: Vec<f64> = (0..nv)
        .map(|j| worst.iter().map(|row| row[j]).fold(0.0, f64::max))
        .collect();
    let mut finer = false;
    for (parts, worst) in parts.iter_mut().zip([along, round]) {
        for (n, off) in parts.iter_mut().zip(worst) {
            if off > accuracy {
                let factor = (off / accuracy).sqrt().clamp(1.1, 2.0);
                *n = num::count_of((*n as f64 * factor).ceil()).max(*n + 1);
                finer = true;
            }
        }
    }
    finer
}

/// Adds the port half: the same corners with y reversed, the triangles turned the other way.
fn mirror(mesh: &mut Mesh) {
    let flip = |p: DVec3| DVec3::new(p.x, -p.y, p.z);
    let count = u32::try_from(mesh.vertices.len()).unwrap_or(u32::MAX);
    let port: Vec<Vertex> = mesh
        .vertices
        .iter()
        .map(|vertex| Vertex {
            position: flip(vertex.position),
            normal: flip(vertex.normal),
            ..*vertex
        })
        .collect();
    mesh.vertices.extend(port);
    let turned: Vec<[u32; 3]> = mesh
        .triangles
        .iter()
        .map(|[a, b, c]| [a + count, c + count, b + count])
        .collect();
    mesh.triangles.extend(turned);
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::lines::tests::{interpolate, torus};
    use crate::spline::measure;
    use core::f64::consts::PI;
    use std::collections::BTreeMap;

    fn options(accuracy: f64, sides: Sides) -> MeshOptions {
        MeshOptions {
            accuracy,
            longest_edge: f64::INFINITY,
            sides,
        }
    }

    /// A cone with its point, radius a quarter of x, and its open end at 1000.
    fn cone() -> Surface {
        let v: Vec<f64> = (0..=24).map(|i| f64::from(i) / 24.0).collect();
        let (u, v) = (
            Knots::clamped(&[0.0, 400.0, 1000.0]).unwrap(),
            Knots::clamped(&v).unwrap(),
        );
        interpolate(u, v, &|x, v| {
            [x / 4.0 * num::sin(PI * v), x / 4.0 * num::cos(PI * v)]
        })
    }

    /// Every edge is met by two triangles that run through it opposite ways, but for those in the given planes of x.
    fn closed_but_for(mesh: &Mesh, ends: &[f64]) {
        let key = |p: DVec3| {
            p.to_array()
                .map(|c| (c * 1e6).round() + 0.0)
                .map(f64::to_bits)
        };
        let mut edges: BTreeMap<[[u64; 3]; 2], i32> = BTreeMap::new();
        for triangle in &mesh.triangles {
            for k in 0..3 {
                let [a, b] = [triangle[k], triangle[(k + 1) % 3]]
                    .map(|i| key(mesh.vertices[i as usize].position));
                let (edge, way) = if a < b { ([a, b], 1) } else { ([b, a], -1) };
                *edges.entry(edge).or_default() += way;
            }
        }
        for (edge, sum) in edges {
            let end = ends.iter().any(|x| {
                edge.iter()
                    .all(|p| (f64::from_bits(p[0]) - x * 1e6).abs() < 2.0)
            });
            assert!(sum == 0 || end, "{edge:?}");
        }
    }

    #[test]
    fn the_deviation_is_what_was_asked_through_two_decades() {
        for surface in [torus(20), cone()] {
            let mut last = 0;
            for accuracy in [1.0, 0.1, 0.01] {
                let m = mesh(&surface, &options(accuracy, Sides::Starboard));
                assert!(m.deviation <= accuracy, "{} for {accuracy}", m.deviation);
                assert!(m.triangles.len() > last);
                last = m.triangles.len();
                // Seen from places on the surface of no grid's choosing.
                for k in 0..100 {
                    let (s, t) = (
                        f64::from(k) * 0.618_034 % 1.0,
                        f64::from(k) * 0.754_877 % 1.0,
                    );
                    let (a, b) = surface.u_knots().domain();
                    let p = surface.position(a + (b - a) * s, t);
                    let near = m.triangles.iter().map(|t| {
                        let [a, b, c] = t.map(|i| m.vertices[i as usize].position);
                        let centre = (a + b + c) / 3.0;
                        let reach = a
                            .distance(centre)
                            .max(b.distance(centre))
                            .max(c.distance(centre));
                        if p.distance(centre) > reach {
                            f64::INFINITY
                        } else {
                            off(p, [a, b, c])
                        }
                    });
                    assert!(near.fold(f64::INFINITY, f64::min) <= 1.5 * accuracy);
                }
            }
        }
    }

    #[test]
    fn a_mesh_is_tight_and_looks_outward() {
        for (surface, ends) in [(torus(20), vec![-900.0, 900.0]), (cone(), vec![1000.0])] {
            let m = mesh(&surface, &options(0.05, Sides::Both));
            closed_but_for(&m, &ends);
            let (mut area, mut volume) = (0.0, 0.0);
            for triangle in &m.triangles {
                let [a, b, c] = triangle.map(|i| m.vertices[i as usize]);
                let n = (b.position - a.position).cross(c.position - a.position) / 2.0;
                assert!(
                    n.dot(a.normal + b.normal + c.normal) > 0.0,
                    "{a:?} {b:?} {c:?}"
                );
                area += n.length();
                volume += (a.position.y + b.position.y + c.position.y) / 3.0 * n.y;
            }
            // Area and volume of the triangles near those of the surface, by quadrature.
            let exact = measure(&surface);
            assert!((area / exact.area - 1.0).abs() < 5e-4, "{area} {exact:?}");
            assert!(
                (volume / exact.volume - 1.0).abs() < 5e-4,
                "{volume} {exact:?}"
            );
        }
    }

    #[test]
    fn corners_carry_the_curvatures_of_a_torus() {
        // Along 1/(R + r cos θ) · cos θ and across 1/r: do Carmo, 3-3; convex negative.
        let m = mesh(&torus(40), &options(0.1, Sides::Starboard));
        let middle = m
            .vertices
            .iter()
            .filter(|v| v.uv[0].abs() < 1e-6 && v.uv[1] > 0.1 && v.uv[1] < 0.9);
        let mut seen = 0;
        for vertex in middle {
            let cos = num::cos(PI * vertex.uv[1]);
            let (along, across) = (-cos / (3000.0 + 500.0 * cos), -1.0 / 500.0);
            assert!(
                (vertex.along - along).abs() < 1e-6 && (vertex.across - across).abs() < 2e-6,
                "{vertex:?}"
            );
            let [low, high] = vertex.principal;
            assert!(
                (low - along.min(across)).abs() < 2e-6 && (high - along.max(across)).abs() < 2e-6
            );
            seen += 1;
        }
        assert!(seen > 10);
    }

    #[test]
    fn a_tip_has_a_normal_for_each_line_and_a_knuckle_one_for_each_side() {
        let m = quick_mesh(&cone(), [20, 24], Sides::Starboard);
        for vertex in m.vertices.iter().filter(|v| v.uv[0] < 1e-9) {
            // The cone's normal leans forward by atan(1/4).
            assert!(
                (vertex.normal.x + 0.25 / 1.0625_f64.sqrt()).abs() < 1e-3,
                "{vertex:?}"
            );
            assert!(vertex.position.length() < 1e-9);
        }
        let v = Knots::with_multiplicities(&[(0.0, 1), (0.5, 3), (1.0, 1)]).unwrap();
        let u = Knots::clamped(&[0.0, 100.0]).unwrap();
        // Level to (90, 0), then upright to (90, −90).
        let (y, z) = (
            [0.0, 30.0, 60.0, 90.0, 90.0, 90.0, 90.0],
            [0.0, 0.0, 0.0, 0.0, -30.0, -60.0, -90.0],
        );
        let net = |row: [f64; 7]| (0..4).flat_map(|_| row).collect::<Vec<f64>>();
        let s = Surface::new(u.clone(), v, u.greville(), net(y), net(z));
        let m = mesh(&s, &options(0.01, Sides::Starboard));
        let at: Vec<DVec3> = m
            .vertices
            .iter()
            .filter(|v| num::same(v.uv[1], 0.5))
            .map(|v| v.normal)
            .collect();
        assert_eq!(at.len(), 2 * m.grid[0]);
        for pair in at.chunks(2) {
            assert!(
                (pair[0] - DVec3::Z).length() < 1e-12 && (pair[1] - DVec3::Y).length() < 1e-12,
                "{pair:?}"
            );
        }
    }

    #[test]
    fn no_edge_is_longer_than_was_asked() {
        let surface = torus(20);
        let m = mesh(
            &surface,
            &MeshOptions {
                accuracy: 5.0,
                longest_edge: 40.0,
                sides: Sides::Starboard,
            },
        );
        let [rows, columns] = m.grid;
        for i in 0..rows {
            for j in 1..columns {
                let (a, b) = (m.vertices[i * columns + j - 1], m.vertices[i * columns + j]);
                assert!(a.position.distance(b.position) <= 40.0 * 1.01);
            }
        }
        assert_eq!(
            m,
            mesh(
                &surface,
                &MeshOptions {
                    accuracy: 5.0,
                    longest_edge: 40.0,
                    sides: Sides::Starboard
                }
            )
        );
    }
}
