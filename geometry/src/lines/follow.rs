//! Nodes along the arcs of a plane cut, along sections and along lines of constant `v`.
//!
//! In: arcs between brackets, or a line of the net. Out: branches, their nodes as near together as the asked accuracy needs,
//! and how far the polyline of them is from the line.

use glam::DVec3;

use super::arcs::{Arc, Chain, turned};
use super::{Branch, Derivatives, Node, Plane, View, node};
use crate::num;
use crate::num::scalar::{bracketed, to_bernstein};
use crate::spline::{Jet, Surface};

/// Most halvings of one piece.
const HALVINGS: u32 = 16;

/// Part of a span by which a place without a tangent plane is left to learn the limits there.
const INWARD: f64 = 1e-3;

/// A place with its patch.
#[derive(Clone, Copy, Debug)]
struct Place {
    patch: (usize, usize),
    u: f64,
    v: f64,
}

fn jet(surface: &Surface, at: Place) -> Jet {
    surface.jet_on(at.patch.0, at.patch.1, at.u, at.v)
}

/// A vector to the outside of the skin; at a tip, where all lines of constant `v` meet, that of a place just inside.
fn outside(surface: &Surface, at: Place, here: &Jet) -> DVec3 {
    let (v0, v1) = surface.v_knots().span(at.patch.1);
    if here.v.length() * (v1 - v0) > num::SAME_POINT {
        return here.u.cross(here.v);
    }
    let (u0, u1) = surface.u_knots().span(at.patch.0);
    let u = at.u + (f64::midpoint(u0, u1) - at.u) * INWARD;
    let inside = jet(surface, Place { u, ..at });
    inside.u.cross(inside.v)
}

/// Puts parameters between those of the first and last place, until the polyline is near enough.
///
/// Returns the largest distance met.
fn sample(places: &mut Vec<f64>, at: &dyn Fn(f64) -> DVec3, accuracy: f64) -> f64 {
    let [first, last] = places[..] else {
        return 0.0;
    };
    places.pop();
    let mut worst = 0.0;
    let ends = [(first, at(first)), (last, at(last))];
    halve(
        ends,
        at,
        (accuracy * accuracy, HALVINGS),
        &mut worst,
        places,
    );
    places.push(last);
    worst.sqrt()
}

fn halve(
    [from, to]: [(f64, DVec3); 2],
    at: &dyn Fn(f64) -> DVec3,
    (limit, left): (f64, u32),
    worst: &mut f64,
    out: &mut Vec<f64>,
) {
    let chord = to.1 - from.1;
    let length2 = chord.length_squared();
    let off = |p: DVec3| {
        let d = p - from.1;
        let share = if length2 > 0.0 {
            (d.dot(chord) / length2).clamp(0.0, 1.0)
        } else {
            0.0
        };
        (d - chord * share).length_squared()
    };
    let place = |share: f64| from.0 + (to.0 - from.0) * share;
    let middle = (place(0.5), at(place(0.5)));
    let mut far = off(middle.1);
    if far <= limit || left == 0 {
        far = far.max(off(at(place(0.25)))).max(off(at(place(0.75))));
    }
    if far > limit && left > 0 {
        halve([from, middle], at, (limit, left - 1), worst, out);
        out.push(middle.0);
        halve([middle, to], at, (limit, left - 1), worst, out);
    } else {
        *worst = worst.max(far);
    }
}

/// Adds a node, but not the same one twice.
fn push(branch: &mut Branch, next: Node) {
    let again = branch.nodes.last().is_some_and(|last| {
        last.point.distance(next.point) < num::FIT / 100.0
            && last.tangent.cross(next.tangent).length() < 1e-6
            && (last.curvature - next.curvature).abs() <= 1e-6 * last.curvature.abs() + 1e-12
    });
    if !again {
        branch.nodes.push(next);
    }
}

/// The line of constant `u`, from crown to keel, and its deviation.
pub(super) fn section(surface: &Surface, u: f64, accuracy: f64) -> (Branch, f64) {
    let su = surface.u_knots().span_at(u);
    let knots = surface.v_knots();
    let mut branch = Branch::default();
    let mut worst = 0.0_f64;
    for sv in 0..knots.span_count() {
        let (from, to) = knots.span(sv);
        let mut places = vec![from, to];
        let at = |v: f64| surface.position_on(su, sv, u, v);
        worst = worst.max(sample(&mut places, &at, accuracy));
        for v in places {
            let at = Place {
                patch: (su, sv),
                u,
                v,
            };
            let here = jet(surface, at);
            let lines = [here.v, here.vv, here.vvv];
            let out = outside(surface, at, &here);
            push(&mut branch, node((u, v), here.s, &lines, DVec3::X, out));
        }
    }
    (branch, worst)
}

/// A line of constant `v` (a run line, the crown, the keel) with its curvature as it shows in a view.
///
/// For the crown and the keel, which lie in the centre plane, the profile's curvature is the line's own.
///
/// # Units
/// `accuracy`: mm; how far the polyline of the nodes may be from the line.
///
/// # Accuracy
/// The polyline is within `accuracy`, tested at the quarters of each piece.
#[must_use]
pub fn run(surface: &Surface, v: f64, view: View, accuracy: f64) -> Branch {
    let plane = view.normal();
    let flat = |p: DVec3| p - plane * plane.dot(p);
    let sv = surface.v_knots().span_at(v);
    let knots = surface.u_knots();
    let mut branch = Branch::default();
    for su in 0..knots.span_count() {
        let (from, to) = knots.span(su);
        let mut places = vec![from, to];
        sample(
            &mut places,
            &|u: f64| surface.position_on(su, sv, u, v),
            accuracy,
        );
        for u in places {
            if branch.nodes.last().is_some_and(|last| last.u >= u) {
                continue;
            }
            let at = Place {
                patch: (su, sv),
                u,
                v,
            };
            let here = jet(surface, at);
            let lines = [flat(here.u), flat(here.uu), flat(here.uuu)];
            let mut next = node((u, v), here.s, &lines, plane, outside(surface, at, &here));
            next.tangent = here.u.normalize_or_zero();
            branch.nodes.push(next);
        }
    }
    branch
}

/// The branch of a chain of arcs, running aft where it is open, and its deviation.
pub(super) fn follow(
    surface: &Surface,
    plane: &Plane,
    arcs: &[Arc],
    chain: &Chain,
    accuracy: f64,
) -> (Branch, f64) {
    let mut chain = chain.clone();
    if !chain.closed && chain.end(arcs, false)[0] > chain.end(arcs, true)[0] {
        chain.reverse();
    }
    let mut branch = Branch {
        nodes: Vec::new(),
        closed: chain.closed,
    };
    let mut worst = 0.0_f64;
    for (arc, back) in &chain.arcs {
        let (mut nodes, deviation) = walk(surface, plane, &arcs[*arc], accuracy);
        worst = worst.max(deviation);
        if *back {
            nodes.reverse();
        }
        // Tangents follow the way the branch runs.
        let way = |i: usize, nodes: &[Node]| {
            let (before, after) = (i.saturating_sub(1), (i + 1).min(nodes.len() - 1));
            nodes[after].point - nodes[before].point
        };
        for i in 0..nodes.len() {
            if way(i, &nodes).dot(nodes[i].tangent) < 0.0 {
                nodes[i].tangent = -nodes[i].tangent;
                nodes[i].curvature_slope = -nodes[i].curvature_slope;
            }
        }
        for next in nodes {
            push(&mut branch, next);
        }
    }
    (branch, worst)
}

/// Nodes of one arc in the direction of its parameter, and their deviation.
fn walk(surface: &Surface, plane: &Plane, arc: &Arc, accuracy: f64) -> (Vec<Node>, f64) {
    let (su, sv) = arc.patch;
    let powers = surface.plane_powers(su, sv, plane.normal, plane.offset);
    let powers = if arc.turned { turned(&powers) } else { powers };
    let across = |t: f64| -> f64 {
        // F at this parameter is a cubic of the other one; its root lies in the bracket.
        let cubic: [f64; 4] = core::array::from_fn(|l| {
            ((powers[3][l] * t + powers[2][l]) * t + powers[1][l]) * t + powers[0][l]
        });
        let b = within(&to_bernstein(&cubic), arc.across);
        let share = if (b[0] >= 0.0) == (b[3] >= 0.0) {
            // Rounding at an end of the arc: the nearer side.
            if b[0].abs() < b[3].abs() { 0.0 } else { 1.0 }
        } else {
            bracketed(&b)
        };
        arc.across[0] + (arc.across[1] - arc.across[0]) * share
    };
    let ((u0, u1), (v0, v1)) = (surface.u_knots().span(su), surface.v_knots().span(sv));
    let place = |t: f64| {
        let s = if num::same(t, arc.along[0]) {
            arc.ends[0]
        } else if num::same(t, arc.along[1]) {
            arc.ends[1]
        } else if arc.level {
            arc.ends[0]
        } else {
            across(t)
        };
        let (u, v) = if arc.turned { (s, t) } else { (t, s) };
        Place {
            patch: arc.patch,
            u: u0 + (u1 - u0) * u,
            v: v0 + (v1 - v0) * v,
        }
    };
    let at = |t: f64| {
        let p = place(t);
        surface.position_on(su, sv, p.u, p.v)
    };
    let made = |t: f64| {
        let p = place(t);
        let here = jet(surface, p);
        let lines = match (arc.level, arc.turned) {
            (true, false) => [here.u, here.uu, here.uuu],
            (true, true) => [here.v, here.vv, here.vvv],
            (false, _) => cut_lines(&here, plane.normal),
        };
        let out = outside(surface, p, &here);
        node((p.u, p.v), here.s, &lines, plane.normal, out)
    };
    // Where the plane is tangent or the surface comes to a tip, the line's direction is known only as a limit.
    let regular = |t: f64| {
        let here = jet(surface, place(t));
        let [a, b] = [here.u * (u1 - u0), here.v * (v1 - v0)].map(|d| plane.normal.dot(d));
        arc.level || num::hypot(a, b) > num::SAME_POINT
    };
    let mut places = arc.along.to_vec();
    let deviation = sample(&mut places, &at, accuracy);
    let nodes = places
        .iter()
        .map(|t| {
            if regular(*t) {
                return made(*t);
            }
            let step = (f64::midpoint(arc.along[0], arc.along[1]) - t) * INWARD;
            let (near, far) = (made(t + step), made(t + 2.0 * step));
            let p = place(*t);
            Node {
                u: p.u,
                v: p.v,
                point: at(*t),
                tangent: (near.tangent * 2.0 - far.tangent).normalize_or_zero(),
                outward: (near.outward * 2.0 - far.outward).normalize_or_zero(),
                curvature: 2.0 * near.curvature - far.curvature,
                curvature_slope: near.curvature_slope,
            }
        })
        .collect();
    (nodes, deviation)
}

/// Bernstein coefficients on a part of 0 to 1.
fn within(b: &[f64; 4], [low, high]: [f64; 2]) -> [f64; 4] {
    if low <= 0.0 && high >= 1.0 {
        return *b;
    }
    let blossom = |p: f64, q: f64, r: f64| {
        let mix = |a: f64, b: f64, t: f64| a * (1.0 - t) + b * t;
        let first = [mix(b[0], b[1], p), mix(b[1], b[2], p), mix(b[2], b[3], p)];
        let second = [mix(first[0], first[1], q), mix(first[1], first[2], q)];
        mix(second[0], second[1], r)
    };
    [
        blossom(low, low, low),
        blossom(low, low, high),
        blossom(low, high, high),
        blossom(high, high, high),
    ]
}

/// Derivatives of a plane cut, followed by `u̇ = −F_v, v̇ = F_u`, which holds at turning points too.
fn cut_lines(j: &Jet, n: DVec3) -> Derivatives {
    let f = |d: DVec3| n.dot(d);
    let (u1, v1) = (-f(j.v), f(j.u));
    let u2 = -(f(j.uv) * u1 + f(j.vv) * v1);
    let v2 = f(j.uu) * u1 + f(j.uv) * v1;
    let u3 = -(f(j.uuv) * u1 * u1
        + 2.0 * f(j.uvv) * u1 * v1
        + f(j.vvv) * v1 * v1
        + f(j.uv) * u2
        + f(j.vv) * v2);
    let v3 = f(j.uuu) * u1 * u1
        + 2.0 * f(j.uuv) * u1 * v1
        + f(j.uvv) * v1 * v1
        + f(j.uu) * u2
        + f(j.uv) * v2;
    let c1 = j.u * u1 + j.v * v1;
    let c2 = j.uu * (u1 * u1) + j.uv * (2.0 * u1 * v1) + j.vv * (v1 * v1) + j.u * u2 + j.v * v2;
    let c3 = j.uuu * (u1 * u1 * u1)
        + j.uuv * (3.0 * u1 * u1 * v1)
        + j.uvv * (3.0 * u1 * v1 * v1)
        + j.vvv * (v1 * v1 * v1)
        + (j.uu * (u1 * u2) + j.uv * (u1 * v2 + u2 * v1) + j.vv * (v1 * v2)) * 3.0
        + j.u * u3
        + j.v * v3;
    [c1, c2, c3]
}
