//! Plane cuts: every branch, loop and touch of a plane with the surface.
//!
//! In: a surface and a plane. Out: a [`Trace`]. The plane's function is one scalar bicubic net; `arcs` finds where it
//! changes sign, `follow` lays nodes along that. Lines and patches of the net that lie in the plane, as crown and keel lie
//! in the centre plane, are found first.

use std::collections::BTreeSet;

use glam::DVec3;

use super::arcs::{Arc, Chain, Patch, Piece, Search, Spot, bezier, link, near, turned};
use super::follow::{follow, section};
use super::{Branch, Plane};
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
    /// How many Bézier pieces were looked at.
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

/// A line of the net whose coefficients are all nearer to the plane than this, mm, lies in it.
const IN_PLANE: f64 = 1e-8;

/// What a line in the plane counts for, of its neighbour: enough to settle on which side of it the surface lies.
const TINY: f64 = 1.0 / 1_099_511_627_776.0;

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
pub fn trace(surface: &Surface, plane: &Plane, accuracy: f64) -> Trace {
    if num::same(plane.normal.y, 0.0) && num::same(plane.normal.z, 0.0) {
        return station(surface, plane.offset / plane.normal.x, accuracy);
    }
    let (nu, nv) = (
        surface.u_knots().span_count(),
        surface.v_knots().span_count(),
    );
    let mut net: Vec<Patch> = (0..nu)
        .flat_map(|su| (0..nv).map(move |sv| (su, sv)))
        .map(|(su, sv)| bezier(&surface.plane_powers(su, sv, plane.normal, plane.offset)))
        .collect();
    let mut search = Search {
        arcs: level_lines(surface, &net),
        ..Search::default()
    };
    let mut trace = Trace::default();
    for (i, patch) in net.iter_mut().enumerate() {
        if patch.iter().all(in_plane) {
            trace.flats += 1;
            continue;
        }
        lift_edges(patch);
        let whole = Piece {
            u: [0.0, 1.0],
            v: [0.0, 1.0],
            b: *patch,
        };
        search.look((i / nv, i % nv), &whole, 0);
    }
    trace.boxes = search.boxes;
    let mut chains = link(&search.arcs);
    for group in groups(&search.left) {
        let reaches = |end: Spot| group.iter().any(|spot| near(end, *spot, REACH));
        let ends: Vec<End> = chains
            .iter()
            .enumerate()
            .filter(|(_, chain)| !chain.closed)
            .flat_map(|(i, _)| {
                [
                    End {
                        chain: i,
                        last: false,
                    },
                    End {
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
            join(&search.arcs, &mut chains, &ends, centre);
        }
    }
    for chain in &chains {
        let (branch, deviation) = follow(surface, plane, &search.arcs, chain, accuracy);
        trace.branches.push(branch);
        trace.deviation = trace.deviation.max(deviation);
    }
    trace
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
fn level_lines(surface: &Surface, net: &[Patch]) -> Vec<Arc> {
    let (u, v) = (surface.u_knots(), surface.v_knots());
    let (nu, nv) = (u.span_count(), v.span_count());
    let flat = |su: usize, sv: usize| net[su * nv + sv].iter().all(in_plane);
    let mut arcs = Vec::new();
    let mut add = |turned: bool, before: Option<(usize, usize)>, after: Option<(usize, usize)>| {
        let Some((patch, side)) = after.map(|p| (p, 0)).or(before.map(|p| (p, 1))) else {
            return;
        };
        let lies = |(su, sv): (usize, usize), last: usize| {
            let b = net[su * nv + sv];
            let lines = if turned { b } else { super::arcs::turned(&b) };
            in_plane(&lines[3 * last])
        };
        let within =
            before.is_none_or(|(su, sv)| flat(su, sv)) && after.is_none_or(|(su, sv)| flat(su, sv));
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
fn lift_edges(patch: &mut Patch) {
    let lift = |lines: &mut Patch| {
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

/// Unresolved pieces that lie together.
fn groups(left: &[Spot]) -> Vec<Vec<Spot>> {
    let cell = |spot: &Spot| spot.map(|s| num::count_of(s / REACH));
    let mut cells: BTreeSet<[usize; 2]> = left.iter().map(cell).collect();
    let mut groups = Vec::new();
    while let Some(first) = cells.pop_first() {
        let mut open = vec![first];
        let mut group = Vec::new();
        while let Some([i, j]) = open.pop() {
            group.push([(i as f64 + 0.5) * REACH, (j as f64 + 0.5) * REACH]);
            for a in i.saturating_sub(1)..=i + 1 {
                for b in j.saturating_sub(1)..=j + 1 {
                    if cells.remove(&[a, b]) {
                        open.push([a, b]);
                    }
                }
            }
        }
        groups.push(group);
    }
    groups
}

/// The place near a spot where the plane's function is stationary.
fn touch(surface: &Surface, plane: &Plane, spot: Spot) -> Touch {
    let part = |knots: &Knots, s: f64| {
        let span = num::count_of(s).min(knots.span_count() - 1);
        let (a, b) = knots.span(span);
        (a + (b - a) * (s - span as f64), b - a)
    };
    let ((mut u, du), (mut v, dv)) = (
        part(surface.u_knots(), spot[0]),
        part(surface.v_knots(), spot[1]),
    );
    let (from_u, from_v) = (u, v);
    let ends = |knots: &Knots, x: f64| x.clamp(knots.domain().0, knots.domain().1);
    for _ in 0..20 {
        let jet = surface.jet(u, v);
        let [fu, fv, fuu, fuv, fvv] =
            [jet.u, jet.v, jet.uu, jet.uv, jet.vv].map(|d| plane.normal.dot(d));
        let det = fuu * fvv - fuv * fuv;
        let (step_u, step_v) = ((fuv * fv - fvv * fu) / det, (fuv * fu - fuu * fv) / det);
        // A place at the edge of the surface need not be stationary; there the search stays.
        if !(step_u.abs() < REACH * du && step_v.abs() < REACH * dv) {
            break;
        }
        u = ends(surface.u_knots(), u + step_u)
            .clamp(from_u - 3.0 * REACH * du, from_u + 3.0 * REACH * du);
        v = ends(surface.v_knots(), v + step_v)
            .clamp(from_v - 3.0 * REACH * dv, from_v + 3.0 * REACH * dv);
    }
    Touch {
        u,
        v,
        point: surface.position(u, v),
    }
}

/// One end of a chain.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct End {
    chain: usize,
    last: bool,
}

/// Joins the chains that end at an unresolved place, each with the one most nearly opposite.
fn join(arcs: &[Arc], chains: &mut Vec<Chain>, ends: &[End], centre: Spot) {
    let directions: Vec<Spot> = ends
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
    pairs.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut ends: Vec<Option<End>> = ends.iter().copied().map(Some).collect();
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
                *end = End {
                    chain: first.chain,
                    last: true,
                };
            }
        }
    }
    gone.sort_unstable();
    for chain in gone.into_iter().rev() {
        chains.remove(chain);
    }
}
