//! Plane cuts: every branch, loop and touch of a plane with the surface.
//!
//! In: a surface and a plane. Out: a [`Trace`]. The plane's function is one scalar bicubic net; `arcs` finds where it
//! changes sign, `follow` lays nodes along that. Lines and patches of the net that lie in the plane, as crown and keel lie
//! in the centre plane, are found first.

use std::collections::BTreeMap;

use glam::DVec3;

use super::arcs::{
    Arc, ArcSearch, BezierPatch, Chain, SpanPlace, SubPatch, bezier, link, near, turned,
};
use super::follow::{follow, section};
use super::{Branch, CuttingPlane};
use crate::num;
use crate::spline::{Knots, Surface};

/// The lines in which a plane cuts a surface.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Trace {
    /// Running aft where they are not closed. A line of the net that lies in the plane is one too, whether the plane cuts
    /// there or only touches.
    pub branches: Vec<Branch>,
    /// Where the plane touches without cutting.
    pub touches: Vec<Touch>,
    /// How many patches lie in the plane as a whole, such as those of a flat bottom; no branch runs inside them.
    pub flats: usize,
    /// How many Bézier pieces were looked at; patches that lie clear of the plane are not.
    pub boxes: usize,
    /// How far the polylines of the nodes are from their lines, mm, at the places looked at: quarters of each piece.
    pub deviation: f64,
}

/// A place where the plane touches the surface, or a loop too small to be followed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Touch {
    /// Parameter along the body.
    pub u: f64,
    /// Parameter round the girth.
    pub v: f64,
    /// Place, mm.
    pub point: DVec3,
}

/// Ends left over within this, in spans, of a place that could not be resolved belong to it.
const REACH: f64 = 2e-3;

/// A patch whose coefficients are all further from the plane than this, mm, on one side, is clear of it.
const CLEAR: f64 = 1e-6;

/// A line of the net whose coefficients are all nearer to the plane than this, mm, lies in it.
const IN_PLANE: f64 = 1e-8;

/// What a line in the plane counts for, of its neighbour: enough to settle on which side of it the surface lies.
const TINY: f64 = 1.0 / 1_099_511_627_776.0;

/// The patches that a plane may meet, as Bézier coefficients of its function; most lie on one side of it as a whole, as
/// their coefficients do.
struct PlanePatches {
    patches: Vec<((usize, usize), BezierPatch)>,
    /// Where each patch of the surface stands in `patches`, from 1; 0 for one that lies clear of the plane.
    places: Vec<usize>,
    columns: usize,
}

impl PlanePatches {
    fn of(surface: &Surface, plane: &CuttingPlane) -> Self {
        let columns = surface.v_knots().span_count();
        let mut patches = Vec::new();
        let clear = surface.clear_patches(plane.normal, plane.offset, CLEAR);
        let places = clear.iter().enumerate().map(|(i, clear)| {
            if *clear {
                return 0;
            }
            let (su, sv) = (i / columns, i % columns);
            let powers = surface.plane_powers(su, sv, plane.normal, plane.offset);
            patches.push(((su, sv), bezier(&powers)));
            patches.len()
        });
        Self {
            places: places.collect(),
            patches,
            columns,
        }
    }

    fn patch(&self, (su, sv): (usize, usize)) -> Option<&BezierPatch> {
        let place = self.places[su * self.columns + sv].checked_sub(1)?;
        Some(&self.patches[place].1)
    }
}

/// Cuts a surface by a plane.
///
/// # Units
/// `accuracy`: mm; how far the polyline of the nodes may be from the line.
///
/// # Accuracy
/// Nodes lie on the plane within 1e-9 mm (1e-8 mm on lines of the net that lie in it) and on the surface exactly; the
/// polyline is within `accuracy`, tested at the quarters of each piece, and `deviation` says what was reached. Loops are
/// found down to a thousandth of a span; smaller ones are a touch.
///
/// # Source
/// Recursive subdivision with the convex hull property: Lane and Riesenfeld, *IEEE Trans. PAMI* 2 (1980); curvature of
/// implicit curves: Goldman, *CAGD* 22 (2005).
#[must_use]
pub fn trace(surface: &Surface, plane: &CuttingPlane, accuracy: f64) -> Trace {
    if num::same(plane.normal.y, 0.0) && num::same(plane.normal.z, 0.0) {
        return station(surface, plane.offset / plane.normal.x, accuracy);
    }
    let mut net = PlanePatches::of(surface, plane);
    let mut search = ArcSearch {
        arcs: level_lines(surface, &net),
        ..ArcSearch::default()
    };
    let mut trace = Trace::default();
    for (place, patch) in &mut net.patches {
        if patch.iter().all(in_plane) {
            trace.flats += 1;
            continue;
        }
        lift_edges(patch);
        let whole = SubPatch {
            u: [0.0, 1.0],
            v: [0.0, 1.0],
            b: *patch,
        };
        search.look(*place, &whole, 0);
    }
    trace.boxes = search.boxes;
    let mut chains = link(&search.arcs);
    for group in groups(&search.left) {
        let reaches = |end: SpanPlace| group.iter().any(|spot| near(end, *spot, REACH));
        let ends: Vec<ChainEnd> = chains
            .iter()
            .enumerate()
            .filter(|(_, chain)| !chain.closed)
            .flat_map(|(i, _)| {
                [
                    ChainEnd {
                        chain: i,
                        last: false,
                    },
                    ChainEnd {
                        chain: i,
                        last: true,
                    },
                ]
            })
            .filter(|end| reaches(chains[end.chain].end(&search.arcs, end.last)))
            .collect();
        let centre = [0, 1].map(|k| group.iter().map(|s| s[k]).sum::<f64>() / group.len() as f64);
        if ends.is_empty() {
            trace.touches.push(touch(surface, plane, centre));
        } else {
            join(
                &search.arcs,
                &mut chains,
                &ends,
                stationary(surface, plane, centre),
            );
        }
    }
    for chain in &chains {
        let (branch, deviation) = follow(surface, plane, &search.arcs, chain, accuracy);
        trace.branches.push(branch);
        trace.deviation = trace.deviation.max(deviation);
    }
    trace
}

/// Whether what a plane cuts out of one surface may stand for what it cuts out of another.
///
/// It may where the same patches come near the plane, and there no coefficient is moved by more than `within` mm. To ask is
/// far quicker than to cut.
///
/// # Units
/// `within`: mm.
///
/// # Accuracy
/// The surfaces then lie within `within` of each other there, by the convex hull property; their cuts do within that over
/// the sine of the angle between plane and surface.
#[must_use]
pub fn same_cut(a: &Surface, b: &Surface, plane: &CuttingPlane, within: f64) -> bool {
    if a.u_knots() != b.u_knots() || a.v_knots() != b.v_knots() || a.x_net() != b.x_net() {
        return false;
    }
    let [near, other] = [a, b].map(|s| s.clear_patches(plane.normal, plane.offset, CLEAR));
    let (rows, columns) = (a.u_knots(), a.v_knots());
    let wide = columns.count();
    let still = |at: usize| {
        let moved = |a: &[f64], b: &[f64]| (a[at] - b[at]).abs();
        moved(a.y_net(), b.y_net()).max(moved(a.z_net(), b.z_net())) <= within
    };
    near == other
        && (0..near.len()).filter(|i| !near[*i]).all(|i| {
            let (su, sv) = (i / columns.span_count(), i % columns.span_count());
            let (row, column) = (rows.first_coefficient(su), columns.first_coefficient(sv));
            (0..16).all(|k| still((row + k / 4) * wide + column + k % 4))
        })
}

/// A station: a line of constant `u`, or a touch where that is a tip.
fn station(surface: &Surface, x: f64, accuracy: f64) -> Trace {
    let mut trace = Trace::default();
    let net = surface.x_net();
    if !(x >= net[0] - num::SAME_POINT && x <= net[net.len() - 1] + num::SAME_POINT) {
        return trace;
    }
    let u = surface.u_at(x);
    let (branch, deviation) = section(surface, u, accuracy);
    if branch.length() < num::SAME_POINT {
        trace.touches.push(Touch {
            u,
            v: 0.0,
            point: surface.position(u, 0.0),
        });
    } else {
        trace.branches.push(branch);
        trace.deviation = deviation;
    }
    trace
}

fn in_plane(line: &[f64; 4]) -> bool {
    line.iter().all(|b| b.abs() < IN_PLANE)
}

/// Arcs along the lines between patches that lie in the plane, but for those that are one point, as at a tip.
fn level_lines(surface: &Surface, net: &PlanePatches) -> Vec<Arc> {
    let (u, v) = (surface.u_knots(), surface.v_knots());
    let (nu, nv) = (u.span_count(), v.span_count());
    let flat = |place| net.patch(place).is_some_and(|b| b.iter().all(in_plane));
    let mut arcs = Vec::new();
    let mut add = |turned: bool, before: Option<(usize, usize)>, after: Option<(usize, usize)>| {
        let near = |place: Option<(usize, usize)>| place.is_some_and(|p| net.patch(p).is_some());
        if !near(before) && !near(after) {
            return;
        }
        let Some((patch, side)) = after.map(|p| (p, 0)).or(before.map(|p| (p, 1))) else {
            return;
        };
        let lies = |place, last: usize| {
            net.patch(place).is_some_and(|b| {
                let lines = if turned { *b } else { super::arcs::turned(b) };
                in_plane(&lines[3 * last])
            })
        };
        let within = before.is_none_or(flat) && after.is_none_or(flat);
        if within || !(after.is_some_and(|p| lies(p, 0)) || before.is_some_and(|p| lies(p, 1))) {
            return;
        }
        let (su, sv) = patch;
        let at = |along: f64| {
            let share = |(a, b): (f64, f64), t: f64| a + (b - a) * t;
            let (s, t) = if turned {
                (side as f64, along)
            } else {
                (along, side as f64)
            };
            surface
                .jet_on(su, sv, share(u.span(su), s), share(v.span(sv), t))
                .s
        };
        if at(0.0).distance(at(0.5)) + at(0.5).distance(at(1.0)) < num::SAME_POINT {
            return;
        }
        arcs.push(Arc {
            patch,
            turned,
            along: [0.0, 1.0],
            across: [side as f64; 2],
            ends: [side as f64; 2],
            level: true,
        });
    };
    for su in 0..nu {
        for line in 0..=nv {
            let before = line.checked_sub(1).map(|sv| (su, sv));
            add(false, before, (line < nv).then_some((su, line)));
        }
    }
    for sv in 0..nv {
        for line in 0..=nu {
            let before = line.checked_sub(1).map(|su| (su, sv));
            add(true, before, (line < nu).then_some((line, sv)));
        }
    }
    arcs
}

/// Gives edges that lie in the plane the signs of what is beside them, so that no arc is found along them, and those that
/// run into them (as a waterline runs into a tip) end where the plane cuts in the limit.
fn lift_edges(patch: &mut BezierPatch) {
    let lift = |lines: &mut BezierPatch| {
        for order in [[0, 1, 2, 3], [3, 2, 1, 0]] {
            let Some(k) = order.iter().position(|j| !in_plane(&lines[*j])) else {
                return;
            };
            let beside = lines[order[k]];
            for j in &order[..k] {
                lines[*j] = beside.map(|b| b * TINY);
            }
        }
    };
    let mut lines = turned(patch);
    lift(&mut lines);
    *patch = turned(&lines);
    lift(patch);
}

/// Unresolved pieces that lie together, by their middles.
fn groups(left: &[SpanPlace]) -> Vec<Vec<SpanPlace>> {
    let mut cells: BTreeMap<[usize; 2], Vec<SpanPlace>> = BTreeMap::new();
    for spot in left {
        let cell = spot.map(|s| num::count_of(s / REACH));
        cells.entry(cell).or_default().push(*spot);
    }
    let mut groups = Vec::new();
    while let Some((first, spots)) = cells.pop_first() {
        let mut open = vec![first];
        let mut group = spots;
        while let Some([i, j]) = open.pop() {
            for a in i.saturating_sub(1)..=i + 1 {
                for b in j.saturating_sub(1)..=j + 1 {
                    if let Some(spots) = cells.remove(&[a, b]) {
                        group.extend(spots);
                        open.push([a, b]);
                    }
                }
            }
        }
        groups.push(group);
    }
    groups
}

/// The spot near another where the plane's function is stationary, so that the plane touches or the cut crosses itself;
/// at the edge of the surface the spot itself.
fn stationary(surface: &Surface, plane: &CuttingPlane, from: SpanPlace) -> SpanPlace {
    let mut spot = from;
    for _ in 0..20 {
        let ([u, v], [du, dv]) = parameters(surface, spot);
        let jet = surface.jet(u, v);
        let [fu, fv] = [jet.u * du, jet.v * dv].map(|d| plane.normal.dot(d));
        let [fuu, fuv, fvv] = [jet.uu * (du * du), jet.uv * (du * dv), jet.vv * (dv * dv)]
            .map(|d| plane.normal.dot(d));
        let det = fuu * fvv - fuv * fuv;
        let next = [
            spot[0] + (fuv * fv - fvv * fu) / det,
            spot[1] + (fuv * fu - fuu * fv) / det,
        ];
        let inside = next[0] >= 0.0 && next[1] >= 0.0 && near(next, from, 2.0 * REACH);
        if !inside {
            return from;
        }
        spot = next;
    }
    spot
}

/// Parameters of a spot, and the widths of its spans.
fn parameters(surface: &Surface, spot: SpanPlace) -> ([f64; 2], [f64; 2]) {
    let part = |knots: &Knots, s: f64| {
        let span = num::count_of(s).min(knots.span_count() - 1);
        let (a, b) = knots.span(span);
        (
            (a + (b - a) * (s - span as f64)).min(knots.domain().1),
            b - a,
        )
    };
    let (u, v) = (
        part(surface.u_knots(), spot[0]),
        part(surface.v_knots(), spot[1]),
    );
    ([u.0, v.0], [u.1, v.1])
}

fn touch(surface: &Surface, plane: &CuttingPlane, spot: SpanPlace) -> Touch {
    let ([u, v], _) = parameters(surface, stationary(surface, plane, spot));
    Touch {
        u,
        v,
        point: surface.position(u, v),
    }
}

/// One end of a chain.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct ChainEnd {
    chain: usize,
    last: bool,
}

/// Joins the chains that end at an unresolved place, each with the one most nearly opposite.
fn join(arcs: &[Arc], chains: &mut Vec<Chain>, ends: &[ChainEnd], centre: SpanPlace) {
    let directions: Vec<SpanPlace> = ends
        .iter()
        .map(|end| {
            let at = chains[end.chain].end(arcs, end.last);
            let (a, b) = (at[0] - centre[0], at[1] - centre[1]);
            let length = num::hypot(a, b).max(f64::MIN_POSITIVE);
            [a / length, b / length]
        })
        .collect();
    let mut pairs: Vec<(f64, usize, usize)> = Vec::new();
    for (a, p) in directions.iter().enumerate() {
        for (b, q) in directions.iter().enumerate().skip(a + 1) {
            pairs.push((p[0] * q[0] + p[1] * q[1], a, b));
        }
    }
    num::put_in_order(&mut pairs, |a, b| a.0.total_cmp(&b.0));
    let mut ends: Vec<Option<ChainEnd>> = ends.iter().copied().map(Some).collect();
    let mut gone: Vec<usize> = Vec::new();
    for (_, a, b) in pairs {
        let (Some(first), Some(second)) = (ends[a], ends[b]) else {
            continue;
        };
        (ends[a], ends[b]) = (None, None);
        if first.chain == second.chain {
            chains[first.chain].closed = true;
            continue;
        }
        let mut tail = chains[second.chain].clone();
        if second.last {
            tail.reverse();
        }
        let head = &mut chains[first.chain];
        if !first.last {
            head.reverse();
        }
        head.arcs.extend(tail.arcs);
        gone.push(second.chain);
        // What is left of both is now the beginning and the end of the first.
        for end in ends.iter_mut().flatten() {
            if end.chain == first.chain {
                end.last = false;
            } else if end.chain == second.chain {
                *end = ChainEnd {
                    chain: first.chain,
                    last: true,
                };
            }
        }
    }
    num::put_in_order(&mut gone, usize::cmp);
    for chain in gone.into_iter().rev() {
        chains.remove(chain);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::lines::tests::{interpolate, torus, wavy};
    use core::f64::consts::PI;

    fn even(from: f64, to: f64, spans: u32) -> Knots {
        let at = |i: u32| from + (to - from) * f64::from(i) / f64::from(spans);
        Knots::clamped(&(0..=spans).map(at).collect::<Vec<_>>()).unwrap()
    }

    #[test]
    fn a_cut_stands_for_another_where_nothing_near_it_moved() {
        let surface = wavy();
        let (rows, columns) = (surface.u_knots().count(), surface.v_knots().count());
        let moved = |row: usize, column: usize, by: f64| {
            let mut z = surface.z_net().to_vec();
            z[row * columns + column] += by;
            Surface::new(
                surface.u_knots().clone(),
                surface.v_knots().clone(),
                surface.x_net().to_vec(),
                surface.y_net().to_vec(),
                z,
            )
        };
        let mut kept = 0;
        for row in 0..rows {
            for by in [-40.0, 40.0] {
                let other = moved(row, columns / 2, by);
                let equal = |p: &CuttingPlane| {
                    let [a, b] = [&surface, &other].map(|s| trace(s, p, 0.01));
                    a.branches == b.branches
                };
                for plane in [CuttingPlane::waterline(0.0), CuttingPlane::waterline(60.0)] {
                    let same = same_cut(&surface, &other, &plane, 0.005);
                    kept += usize::from(same);
                    assert!(!same || equal(&plane), "row {row} by {by}");
                }
                assert!(same_cut(
                    &surface,
                    &moved(row, 3, 0.004),
                    &CuttingPlane::waterline(0.0),
                    0.005
                ));
            }
        }
        assert!(kept > 0, "never told");
    }

    /// A body of revolution about z = 0 with x(u), r(u), by its net; x and r at most quadratic, so that they are exact.
    fn round(x: [f64; 3], r: [f64; 3]) -> Surface {
        let u = even(0.0, 30.0, 6);
        let f = |c: [f64; 3], u: f64| (c[2] * u + c[1]) * u + c[0];
        let s = interpolate(u.clone(), even(0.0, 1.0, 24), &|u, v| {
            let a = PI * v;
            [f(r, u) * num::sin(a), f(r, u) * num::cos(a)]
        });
        // The polar form of x at three knots is its coefficient.
        let k = u.knots();
        let polar = |i: usize| {
            let [a, b, d] = [k[i + 1], k[i + 2], k[i + 3]];
            x[0] + x[1] * (a + b + d) / 3.0 + x[2] * (a * b + b * d + a * d) / 3.0
        };
        let x = (0..u.count()).map(polar).collect();
        Surface::new(
            u,
            s.v_knots().clone(),
            x,
            s.y_net().to_vec(),
            s.z_net().to_vec(),
        )
    }

    /// A graph z(x, y) over −1.5 to 1.5 both ways, at most cubic, so that it is exact; no knot lies at zero.
    fn graph(z: &dyn Fn(f64, f64) -> f64) -> Surface {
        let knots = Knots::clamped(&[-1.5, -0.4, 0.7, 1.5]).unwrap();
        interpolate(knots.clone(), knots, &|u, v| [v, z(u, v)])
    }

    /// Every open branch ends on the border, every node lies on the plane, and the polyline is as near as was asked.
    #[track_caller]
    fn sound(surface: &Surface, plane: &CuttingPlane, accuracy: f64) -> Trace {
        let trace = trace(surface, plane, accuracy);
        let border = |knots: &Knots, x: f64| {
            let (a, b) = knots.domain();
            (x - a).min(b - x) < 1e-5 * (b - a)
        };
        for branch in &trace.branches {
            let (Some(first), Some(last)) = (branch.nodes.first(), branch.nodes.last()) else {
                panic!("a branch has nodes");
            };
            if branch.closed {
                // A loop through a crossing closes over the unresolved place.
                assert!(
                    first.point.distance(last.point) < 5e-3,
                    "{first:?} {last:?}"
                );
            } else {
                for end in [first, last] {
                    assert!(
                        border(surface.u_knots(), end.u) || border(surface.v_knots(), end.v),
                        "an end inside: {end:?}"
                    );
                }
            }
            for node in &branch.nodes {
                assert!(
                    (plane.normal.dot(node.point) - plane.offset).abs() < 1e-9,
                    "{node:?}"
                );
                assert!(
                    node.curvature.is_finite() && node.tangent.is_finite(),
                    "{node:?}"
                );
                assert!(
                    (node.tangent.length() - 1.0).abs() < 1e-6 && node.outward.is_finite(),
                    "{node:?}"
                );
            }
        }
        assert!(trace.deviation <= accuracy, "{}", trace.deviation);
        trace
    }

    #[test]
    fn a_waterline_runs_into_the_point_of_a_cone() {
        // r = x / 4: WL 0 is the straight line y = x / 4, and WL 50 the hyperbola 16 (y² + 50²) = x².
        let cone = round([0.0, 40.0, 0.0], [0.0, 10.0, 0.0]);
        let cut = sound(&cone, &CuttingPlane::waterline(0.0), 0.01);
        assert_eq!((cut.branches.len(), cut.touches.len()), (1, 0));
        let nodes = &cut.branches[0].nodes;
        assert!(nodes[0].point.length() < 1e-9, "it begins at the point");
        for node in nodes {
            assert!((node.point.y - node.point.x / 4.0).abs() < 1e-3, "{node:?}");
            assert!(node.curvature.abs() < 1e-8, "{node:?}");
            assert!(node.outward.y > 0.9);
        }
        let cut = sound(&cone, &CuttingPlane::waterline(50.0), 0.01);
        assert_eq!(cut.branches.len(), 1);
        for node in &cut.branches[0].nodes {
            let r = num::hypot(node.point.y, node.point.z);
            assert!((r - node.point.x / 4.0).abs() < 1e-3, "{node:?}");
        }
    }

    #[test]
    fn a_waterline_keeps_its_curvature_at_a_blunt_nose() {
        // x = u², r = 20 u: a paraboloid x = r² / 400, whose curvature at its apex is 2 / 400 whatever the plane through it.
        let nose = round([0.0, 0.0, 1.0], [0.0, 20.0, 0.0]);
        for plane in [
            CuttingPlane::waterline(0.0),
            CuttingPlane::buttock(0.0),
            CuttingPlane::diagonal(0.0, 0.7),
        ] {
            let cut = sound(&nose, &plane, 0.001);
            assert!(!cut.branches.is_empty());
            for branch in &cut.branches {
                let tip = branch.nodes[0];
                assert!(tip.point.length() < 1e-9);
                for node in &branch.nodes {
                    // κ = (2/400) / (1 + 4 r²/400²)^1.5
                    let r = num::hypot(node.point.y, node.point.z);
                    let exact = -0.005 / num::powf(1.0 + r * r / 40_000.0, 1.5);
                    assert!(
                        (node.curvature / exact - 1.0).abs() < 2e-3,
                        "{node:?} for {exact}"
                    );
                }
            }
        }
        let tip = trace(&nose, &CuttingPlane::station(0.0), 0.01);
        assert_eq!((tip.branches.len(), tip.touches.len()), (0, 1));
    }

    #[test]
    fn the_centre_plane_holds_crown_and_keel() {
        for surface in [torus(20), round([0.0, 0.0, 1.0], [0.0, 20.0, 0.0])] {
            let cut = sound(&surface, &CuttingPlane::buttock(0.0), 0.01);
            assert_eq!(cut.branches.len(), 2);
            for (branch, v) in cut.branches.iter().zip([0.0, 1.0]) {
                assert!(branch.nodes.iter().all(|n| num::same(n.v, v)));
                assert!(
                    branch
                        .nodes
                        .windows(2)
                        .all(|w| w[0].point.x <= w[1].point.x),
                    "it runs aft"
                );
                assert!(
                    branch
                        .nodes
                        .iter()
                        .filter(|n| n.point.x.abs() > 1e-6)
                        .all(|n| n.outward.z * (0.5 - v) > 0.0)
                );
            }
        }
    }

    #[test]
    fn a_plane_that_only_touches_a_cylinder_finds_the_line() {
        // r = 500: WL ±500 touch along crown and keel, WL 499 cuts at y = √(500² − 499²), WL 500.01 misses.
        let round = round([0.0, 60.0, 0.0], [500.0, 0.0, 0.0]);
        let (nv, mut z) = (round.v_knots().count(), round.z_net().to_vec());
        for row in z.chunks_mut(nv) {
            // Level at crown and keel, as the loft makes it.
            (row[1], row[nv - 2]) = (row[0], row[nv - 1]);
        }
        let knots = (round.u_knots().clone(), round.v_knots().clone());
        let cylinder = Surface::new(
            knots.0,
            knots.1,
            round.x_net().to_vec(),
            round.y_net().to_vec(),
            z,
        );
        for (z, y) in [(500.0, 0.0), (-500.0, 0.0), (499.0, 999.0_f64.sqrt())] {
            let cut = sound(&cylinder, &CuttingPlane::waterline(z), 0.01);
            assert_eq!((cut.branches.len(), cut.touches.len()), (1, 0), "{z}");
            for node in &cut.branches[0].nodes {
                assert!(
                    (node.point.y - y).abs() < 0.01 && node.curvature.abs() < 1e-9,
                    "{node:?}"
                );
            }
            assert!((cut.branches[0].length() - 1800.0).abs() < 1e-6);
        }
        assert_eq!(
            trace(&cylinder, &CuttingPlane::waterline(500.01), 0.01).branches,
            Vec::new()
        );
        // Nearly tangent, with as many pieces as it takes, still ends.
        for z in [500.0 - 1e-7, 500.0 + 1e-7, 500.0 - 1e-5] {
            let cut = trace(&cylinder, &CuttingPlane::waterline(z), 0.01);
            assert!(cut.boxes < 2_000_000, "{z}: {} boxes", cut.boxes);
        }
    }

    #[test]
    fn a_box_has_a_flat_bottom_and_its_knuckles() {
        // Crown (0, 300) to (200, 300), side to (200, 0), bottom to (0, 0); a knuckle at a third and two thirds.
        let v = Knots::with_multiplicities(&[(0.0, 1), (1.0 / 3.0, 3), (2.0 / 3.0, 3), (1.0, 1)])
            .unwrap();
        let u = even(0.0, 1000.0, 4);
        let corners = [[0.0, 300.0], [200.0, 300.0], [200.0, 0.0], [0.0, 0.0]];
        let row: Vec<[f64; 2]> = (0..10)
            .map(|j| {
                let (a, b) = (corners[j / 3], corners[(j / 3 + 1).min(3)]);
                let t = (j % 3) as f64 / 3.0;
                [a[0] + (b[0] - a[0]) * t, a[1] + (b[1] - a[1]) * t]
            })
            .collect();
        let net = |k: usize| {
            (0..u.count())
                .flat_map(|_| row.iter().map(move |p| p[k]))
                .collect::<Vec<f64>>()
        };
        let s = Surface::new(u.clone(), v, u.greville(), net(0), net(1));
        let bottom = sound(&s, &CuttingPlane::waterline(0.0), 0.01);
        assert_eq!(
            (bottom.flats, bottom.branches.len()),
            (4, 1),
            "flat, and bounded by the knuckle"
        );
        assert!(
            bottom.branches[0]
                .nodes
                .iter()
                .all(|n| (n.point.y - 200.0).abs() < 1e-9)
        );
        let side = sound(&s, &CuttingPlane::waterline(150.0), 0.01);
        assert_eq!((side.flats, side.branches.len()), (0, 1));
        assert!(side.branches[0].nodes.iter().all(|n| n.outward.y > 0.999));
        assert_eq!(
            sound(&s, &CuttingPlane::buttock(100.0), 0.01)
                .branches
                .len(),
            2
        );
        let section = trace(&s, &CuttingPlane::station(123.0), 0.01);
        let corners = section.branches[0]
            .nodes
            .windows(2)
            .filter(|w| w[0].point.distance(w[1].point) < 1e-9);
        assert_eq!(corners.count(), 2, "both tangents at a knuckle");
        let comb = crate::lines::comb(&section.branches[0], 20.0);
        assert_eq!(comb.runs.len(), 3, "the comb breaks there");
    }

    #[test]
    fn touches_and_crossings_are_told_apart() {
        // z = x² + y²: WL 0 touches at the origin, WL 0.01 is a circle of radius 0.1.
        let bowl = graph(&|x, y| x * x + y * y);
        let cut = sound(&bowl, &CuttingPlane::waterline(0.0), 1e-5);
        assert_eq!((cut.branches.len(), cut.touches.len()), (0, 1));
        assert!(cut.touches[0].point.length() < 1e-9, "{:?}", cut.touches);
        let cut = sound(&bowl, &CuttingPlane::waterline(0.01), 1e-5);
        assert!(cut.branches.len() == 1 && cut.branches[0].closed && cut.touches.is_empty());
        assert!(
            cut.branches[0]
                .nodes
                .iter()
                .all(|n| (n.curvature.abs() - 10.0).abs() < 1e-6)
        );
        // z = x y: WL 0 is both axes, each run through the crossing.
        let saddle = graph(&|x, y| x * y);
        let cut = sound(&saddle, &CuttingPlane::waterline(0.0), 1e-5);
        assert_eq!((cut.branches.len(), cut.touches.len()), (2, 0));
        assert!(
            cut.branches.iter().all(|b| (b.length() - 3.0).abs() < 1e-9),
            "{:?}",
            cut.branches
        );
        // z = y² − x² − x³, Newton's nodal cubic: WL 0 crosses itself once, in one run.
        let node = graph(&|x, y| y * y - x * x - x * x * x);
        let cut = sound(&node, &CuttingPlane::waterline(0.0), 1e-5);
        assert_eq!(
            (cut.branches.len(), cut.touches.len()),
            (1, 0),
            "{:?}",
            cut.branches
                .iter()
                .map(|b| (b.closed, b.length()))
                .collect::<Vec<_>>()
        );
        assert!(!cut.branches[0].closed);
    }

    #[test]
    fn planes_through_the_saddles_of_a_wavy_surface_leave_no_loose_ends() {
        let surface = wavy();
        let mut found = 0;
        for i in 0..19 {
            for j in 0..11 {
                // Newton for a stationary height from the middle of each patch.
                let (mut u, mut v) = (f64::from(i) + 0.5, f64::from(j) + 0.5);
                for _ in 0..40 {
                    let jet = surface.jet(u, v);
                    let det = jet.uu.z * jet.vv.z - jet.uv.z * jet.uv.z;
                    let du = (jet.uv.z * jet.v.z - jet.vv.z * jet.u.z) / det;
                    let dv = (jet.uv.z * jet.u.z - jet.uu.z * jet.v.z) / det;
                    (u, v) = (
                        (u + du.clamp(-0.2, 0.2)).clamp(0.0, 20.0),
                        (v + dv.clamp(-0.2, 0.2)).clamp(0.0, 12.0),
                    );
                }
                let jet = surface.jet(u, v);
                if num::hypot(jet.u.z, jet.v.z) > 1e-10
                    || !(0.1..=19.9).contains(&u)
                    || !(0.1..=11.9).contains(&v)
                {
                    continue;
                }
                found += 1;
                let extreme = jet.uu.z * jet.vv.z > jet.uv.z * jet.uv.z;
                let cut = sound(&surface, &CuttingPlane::waterline(jet.s.z), 0.001);
                let here = cut
                    .touches
                    .iter()
                    .filter(|t| t.point.distance(jet.s) < 1e-6)
                    .count();
                assert_eq!(here, usize::from(extreme), "at {u} {v}: {:?}", cut.touches);
            }
        }
        assert!(found > 50, "{found}");
    }

    #[test]
    fn any_plane_leaves_no_loose_ends() {
        let body = round([0.0, 0.0, 1.0], [0.0, 20.0, 0.0]);
        let mut seed: u64 = 7;
        let mut random = || {
            seed = seed
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1_442_695_040_888_963_407);
            f64::from(u32::try_from(seed >> 32).unwrap()) / f64::from(u32::MAX) * 2.0 - 1.0
        };
        for surface in [&body, &torus(12), &wavy()] {
            for _ in 0..60 {
                let normal = DVec3::new(random(), random(), random()).normalize();
                let (nu, nv) = (
                    surface.u_knots().domain().1 - surface.u_knots().domain().0,
                    0.5 * (random() + 1.0),
                );
                let through = surface.position(
                    surface.u_knots().domain().0 + nu * 0.5 * (random() + 1.0),
                    nv * surface.v_knots().domain().1,
                );
                sound(
                    surface,
                    &CuttingPlane {
                        normal,
                        offset: normal.dot(through),
                    },
                    0.01,
                );
            }
        }
    }
}
