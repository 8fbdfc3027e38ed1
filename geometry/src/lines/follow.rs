//! Nodes along the arcs of a plane cut, along sections and along lines of constant `v`.
//!
//! In: arcs between brackets, or a line of the net. Out: branches, their nodes as near together as the asked accuracy needs,
//! and how far the polyline of them is from the line.

use glam::DVec3;

use super::arcs::{Arc, Chain, turned};
use super::{Branch, CuttingPlane, Derivatives, Node, View, node};
use crate::num;
use crate::spline::{Jet, Surface};

/// Most halvings of one piece.
const HALVINGS: u32 = 16;

/// Part of a span by which a place without a tangent plane is left to learn the limits there.
const INWARD: f64 = 1e-3;

/// A plane is tangent to the skin where the sine of the angle between them is less.
const TANGENT: f64 = 1e-6;

/// A place with its patch.
#[derive(Clone, Copy, Debug)]
struct PatchPlace {
    patch: (usize, usize),
    u: f64,
    v: f64,
}

fn jet(surface: &Surface, at: PatchPlace) -> Jet {
    surface.jet_on(at.patch.0, at.patch.1, at.u, at.v)
}

/// A vector to the outside of the skin; at a tip, where all lines of constant `v` meet, that of a place just inside.
fn outside(surface: &Surface, at: PatchPlace, here: &Jet) -> DVec3 {
    let (v0, v1) = surface.v_knots().span(at.patch.1);
    if here.v.length() * (v1 - v0) > num::SAME_POINT {
        return here.u.cross(here.v);
    }
    let (u0, u1) = surface.u_knots().span(at.patch.0);
    let u = at.u + (f64::midpoint(u0, u1) - at.u) * INWARD;
    let inside = jet(surface, PatchPlace { u, ..at });
    inside.u.cross(inside.v)
}

/// A place along a piece: its parameter, the other one that goes with it, and the point, mm.
#[derive(Clone, Copy, Debug)]
struct Stop {
    t: f64,
    s: f64,
    point: DVec3,
}

/// Places along a piece from its first to its last, as near together as the polyline needs, and its largest distance met.
///
/// `at` is given a parameter and a guess of the one that goes with it.
fn sample(ends: [(f64, f64); 2], at: &dyn Fn(f64, f64) -> Stop, accuracy: f64) -> (Vec<Stop>, f64) {
    let [from, to] = ends.map(|(t, s)| at(t, s));
    let mut walk = Halving {
        at,
        limit: accuracy * accuracy,
        worst: 0.0,
        stops: vec![from],
    };
    walk.halve(from, to, HALVINGS);
    walk.stops.push(to);
    (walk.stops, walk.worst.sqrt())
}

struct Halving<'a> {
    at: &'a dyn Fn(f64, f64) -> Stop,
    /// Squares of distances, mm².
    limit: f64,
    worst: f64,
    stops: Vec<Stop>,
}

impl Halving<'_> {
    fn halve(&mut self, from: Stop, to: Stop, left: u32) {
        let chord = to.point - from.point;
        let length2 = chord.length_squared();
        let off = |p: DVec3| {
            let d = p - from.point;
            let share = if length2 > 0.0 {
                (d.dot(chord) / length2).clamp(0.0, 1.0)
            } else {
                0.0
            };
            (d - chord * share).length_squared()
        };
        let at = |share: f64| {
            let mix = |a: f64, b: f64| a + (b - a) * share;
            (self.at)(mix(from.t, to.t), mix(from.s, to.s))
        };
        let middle = at(0.5);
        let mut far = off(middle.point);
        // The middle alone would pass an S.
        for quarter in [0.25, 0.75] {
            if far <= self.limit || left == 0 {
                far = far.max(off(at(quarter).point));
            }
        }
        if far > self.limit && left > 0 {
            self.halve(from, middle, left - 1);
            self.stops.push(middle);
            self.halve(middle, to, left - 1);
        } else {
            self.worst = self.worst.max(far);
        }
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
        let at = |v: f64, _: f64| Stop {
            t: v,
            s: u,
            point: surface.position_on(su, sv, u, v),
        };
        let (stops, deviation) = sample([(from, u), (to, u)], &at, accuracy);
        worst = worst.max(deviation);
        for v in stops.iter().map(|stop| stop.t) {
            let at = PatchPlace {
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
/// For the crown and the keel, which lie in the centre plane, the profile's curvature is the line's own. Which side is the
/// outer one, by which a hollow is told from a bulge, is the same all along.
///
/// # Units
/// `accuracy`: mm; how far the polyline of the nodes may be from the line.
///
/// # Accuracy
/// The polyline is within `accuracy`, tested at the quarters of each piece.
#[must_use]
pub fn run(surface: &Surface, v: f64, view: View, accuracy: f64) -> Branch {
    let sv = surface.v_knots().span_at(v);
    let knots = surface.u_knots();
    let side = outer_side(surface, v, view);
    let mut branch = Branch::default();
    for su in 0..knots.span_count() {
        let (from, to) = knots.span(su);
        let at = |u: f64, _: f64| Stop {
            t: u,
            s: v,
            point: surface.position_on(su, sv, u, v),
        };
        let (stops, _) = sample([(from, v), (to, v)], &at, accuracy);
        for u in stops.iter().map(|stop| stop.t) {
            if branch.nodes.last().is_some_and(|last| last.u >= u) {
                continue;
            }
            let patch = (su, sv);
            branch
                .nodes
                .push(on_run(surface, PatchPlace { patch, u, v }, (view, side)));
        }
    }
    branch
}

/// What a line of constant `v` does at one place, running aft, with its curvature as it shows in a view.
///
/// # Units
/// Place in mm, curvature in 1/mm, as of any [`Node`].
///
/// # Accuracy
/// That of the surface's jet; at a knot the side that lies aft, towards the keel.
#[must_use]
pub fn run_at(surface: &Surface, (u, v): (f64, f64), view: View) -> Node {
    let patch = patch_at(surface, (u, v));
    let side = outer_side(surface, v, view);
    on_run(surface, PatchPlace { patch, u, v }, (view, side))
}

fn patch_at(surface: &Surface, (u, v): (f64, f64)) -> (usize, usize) {
    (surface.u_knots().span_at(u), surface.v_knots().span_at(v))
}

/// Which side of a line of constant `v`, running aft, is the outer one in a view: 1 for its left, −1 for its right.
///
/// By the skin's normals in the middles of its pieces together. Where the skin stands square to the view, as about the largest
/// half-breadth in profile, its own normal there would tell by next to nothing, and the curvature would change its sign midway.
fn outer_side(surface: &Surface, v: f64, view: View) -> f64 {
    let (knots, sv) = (surface.u_knots(), surface.v_knots().span_at(v));
    let left_out = |su: usize| {
        let (from, to) = knots.span(su);
        let u = f64::midpoint(from, to);
        let patch = (su, sv);
        let here = jet(surface, PatchPlace { patch, u, v });
        let out = outside(surface, PatchPlace { patch, u, v }, &here);
        view.normal().cross(here.u).dot(out.normalize_or_zero()) * (to - from)
    };
    let left: f64 = (0..knots.span_count()).map(left_out).sum();
    if left < 0.0 { -1.0 } else { 1.0 }
}

fn on_run(surface: &Surface, at: PatchPlace, (view, side): (View, f64)) -> Node {
    let plane = view.normal();
    let flat = |p: DVec3| p - plane * plane.dot(p);
    let here = jet(surface, at);
    let lines = [flat(here.u), flat(here.uu), flat(here.uuu)];
    let out = plane.cross(lines[0]) * side;
    let mut node = node((at.u, at.v), here.s, &lines, plane, out);
    node.tangent = here.u.normalize_or_zero();
    node
}

/// What the line does that is cut at one place by a plane through it with this unit normal, running aft; none where the
/// plane is tangent to the surface.
///
/// # Units
/// Place in mm, curvature in 1/mm, as of any [`Node`].
///
/// # Accuracy
/// That of the surface's jet; at a knot the side that lies aft, towards the keel.
#[must_use]
pub fn cut_at(surface: &Surface, (u, v): (f64, f64), normal: DVec3) -> Option<Node> {
    let patch = patch_at(surface, (u, v));
    let at = PatchPlace { patch, u, v };
    let here = jet(surface, at);
    let sine = here.normal().cross(normal).length();
    if sine.is_nan() || sine < TANGENT {
        return None;
    }
    let lines = cut_lines(&here, normal);
    let out = outside(surface, at, &here);
    let mut node = node((u, v), here.s, &lines, normal, out);
    if node.tangent.x < 0.0 {
        node.tangent = -node.tangent;
        node.curvature_slope = -node.curvature_slope;
    }
    Some(node)
}

/// The place on a plane's cut near another place of the surface, down the slope of the distance from the plane.
///
/// # Units
/// Places as `(u, v)`.
///
/// # Accuracy
/// On the plane to 1e-9 mm from places within a millimetre of it, where the plane is not tangent to the surface.
#[must_use]
pub fn onto(surface: &Surface, plane: &CuttingPlane, (mut u, mut v): (f64, f64)) -> (f64, f64) {
    let [along, round] = [surface.u_knots().domain(), surface.v_knots().domain()];
    for _ in 0..6 {
        let here = surface.jet(u, v);
        let off = plane.normal.dot(here.s) - plane.offset;
        let [a, b] = [here.u, here.v].map(|d| plane.normal.dot(d));
        let square = a * a + b * b;
        if off.abs() < 1e-10 || square < num::SAME_POINT * num::SAME_POINT {
            break;
        }
        u = (u - off * a / square).clamp(along.0, along.1);
        v = (v - off * b / square).clamp(round.0, round.1);
    }
    (u, v)
}

/// The branch of a chain of arcs, running aft where it is open, and its deviation.
pub(super) fn follow(
    surface: &Surface,
    plane: &CuttingPlane,
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
fn walk(surface: &Surface, plane: &CuttingPlane, arc: &Arc, accuracy: f64) -> (Vec<Node>, f64) {
    let (su, sv) = arc.patch;
    let powers = surface.plane_powers(su, sv, plane.normal, plane.offset);
    let powers = if arc.turned { turned(&powers) } else { powers };
    let ((u0, u1), (v0, v1)) = (surface.u_knots().span(su), surface.v_knots().span(sv));
    let place = |t: f64, s: f64| {
        let (u, v) = if arc.turned { (s, t) } else { (t, s) };
        PatchPlace {
            patch: arc.patch,
            u: u0 + (u1 - u0) * u,
            v: v0 + (v1 - v0) * v,
        }
    };
    let at = |t: f64, guess: f64| {
        let s = if arc.level || num::same(t, arc.along[0]) {
            arc.ends[0]
        } else if num::same(t, arc.along[1]) {
            arc.ends[1]
        } else {
            // F at this parameter is a cubic of the other one; its root lies in the bracket.
            let cubic = core::array::from_fn(|l| {
                ((powers[3][l] * t + powers[2][l]) * t + powers[1][l]) * t + powers[0][l]
            });
            root(&cubic, arc.across, guess)
        };
        let p = place(t, s);
        let point = surface.position_on(su, sv, p.u, p.v);
        Stop { t, s, point }
    };
    let made = |stop: &Stop| {
        let p = place(stop.t, stop.s);
        let here = jet(surface, p);
        let lines = match (arc.level, arc.turned) {
            (true, false) => [here.u, here.uu, here.uuu],
            (true, true) => [here.v, here.vv, here.vvv],
            (false, _) => cut_lines(&here, plane.normal),
        };
        let [a, b] = [here.u * (u1 - u0), here.v * (v1 - v0)].map(|d| plane.normal.dot(d));
        let regular = arc.level || num::hypot(a, b) > num::SAME_POINT;
        let out = outside(surface, p, &here);
        (node((p.u, p.v), here.s, &lines, plane.normal, out), regular)
    };
    let ends = [0, 1].map(|k| (arc.along[k], arc.ends[k]));
    let (stops, deviation) = sample(ends, &at, accuracy);
    let nodes = stops
        .iter()
        .map(|stop| {
            let (here, regular) = made(stop);
            if regular {
                return here;
            }
            // Where the plane is tangent or the surface comes to a tip, the line's direction is known only as a limit.
            let step = (f64::midpoint(arc.along[0], arc.along[1]) - stop.t) * INWARD;
            let [near, far] = [1.0, 2.0].map(|k| made(&at(stop.t + k * step, stop.s)).0);
            Node {
                u: here.u,
                v: here.v,
                point: here.point,
                tangent: (near.tangent * 2.0 - far.tangent).normalize_or_zero(),
                outward: (near.outward * 2.0 - far.outward).normalize_or_zero(),
                curvature: 2.0 * near.curvature - far.curvature,
                curvature_slope: near.curvature_slope,
            }
        })
        .collect();
    (nodes, deviation)
}

/// The root of a cubic, by its powers, between two places at which it differs in sign: Newton's method from a guess, kept
/// between the brackets. Where rounding leaves no difference of sign, the end nearer to zero.
fn root(powers: &[f64; 4], [from, to]: [f64; 2], guess: f64) -> f64 {
    let value = |s: f64| ((powers[3] * s + powers[2]) * s + powers[1]) * s + powers[0];
    let slope = |s: f64| (3.0 * powers[3] * s + 2.0 * powers[2]) * s + powers[1];
    let (mut low, mut high) = (from, to);
    let (at_low, at_high) = (value(low), value(high));
    if (at_low >= 0.0) == (at_high >= 0.0) {
        return if at_low.abs() < at_high.abs() {
            low
        } else {
            high
        };
    }
    let rising = at_high >= 0.0;
    let mut s = if guess > low && guess < high {
        guess
    } else {
        f64::midpoint(low, high)
    };
    for _ in 0..64 {
        let here = value(s);
        if (here >= 0.0) == rising {
            high = s;
        } else {
            low = s;
        }
        let newton = s - here / slope(s);
        let next = if newton > low && newton < high {
            newton
        } else {
            f64::midpoint(low, high)
        };
        let step = (next - s).abs();
        s = next;
        if step <= 2.0 * f64::EPSILON {
            break;
        }
    }
    s
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
