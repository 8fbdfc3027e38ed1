//! Plane cuts: every branch, loop and touch of a plane with the surface.
//!
//! In: a surface and a plane. Out: a [`Trace`]. The plane's function is one scalar bicubic net; each patch of it is halved
//! as a Bézier patch until a piece has no sign change, or runs as a graph along one of its sides, so that nothing is
//! missed; then each arc is followed between brackets.

use glam::DVec3;

use super::{Branch, Node, Plane, node, sample};
use crate::num;
use crate::num::scalar::{bernstein, bracketed, halves, roots, to_bernstein};
use crate::spline::{Jet, Surface};

/// The lines in which a plane cuts a surface.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Trace {
    /// Running aft where they are not closed.
    pub branches: Vec<Branch>,
    /// Where the plane touches without cutting.
    pub touches: Vec<Touch>,
    /// How many Bézier pieces were looked at.
    pub boxes: usize,
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

/// Most halvings of a patch, both ways together.
const DEPTH: u32 = 20;

/// Two ends of arcs nearer than this, in spans, are one.
const LINK: f64 = 1e-6;

/// Ends left over within this, in spans, of a place that could not be resolved belong to it.
const REACH: f64 = 2e-3;

type Patch = [[f64; 4]; 4];

/// A piece of a patch: where it lies, in parameters from 0 to 1, and its Bézier coefficients `[u][v]`.
#[derive(Clone, Copy, Debug)]
struct Piece {
    u: [f64; 2],
    v: [f64; 2],
    b: Patch,
}

/// One arc: a graph over the first parameter (or the second, where `turned`).
#[derive(Clone, Copy, Debug)]
struct Arc {
    patch: (usize, usize),
    turned: bool,
    /// Range of the parameter along, and bracket of the other.
    along: [f64; 2],
    across: [f64; 2],
    /// The other parameter at both ends.
    ends: [f64; 2],
}

/// A place on the net in spans: number plus parameter from 0 to 1.
type Spot = [f64; 2];

impl Arc {
    fn spot(&self, end: usize) -> Spot {
        let (a, b) = (self.along[end], self.ends[end]);
        let (u, v) = if self.turned { (b, a) } else { (a, b) };
        [self.patch.0 as f64 + u, self.patch.1 as f64 + v]
    }
}

fn near(a: Spot, b: Spot, reach: f64) -> bool {
    (a[0] - b[0]).abs() <= reach && (a[1] - b[1]).abs() <= reach
}

/// Cuts a surface by a plane.
///
/// # Units
/// `accuracy`: mm; how far the polyline of the nodes may be from the line.
///
/// # Accuracy
/// Nodes lie on plane and surface within 1e-9 mm of one another; the polyline is within `accuracy`, tested at the quarters
/// of each piece. Loops are found down to a thousandth of the height of the bump they go round; smaller ones are a touch.
///
/// # Source
/// Recursive subdivision with the convex hull property: Lane and Riesenfeld, *IEEE Trans. PAMI* 2 (1980); curvature of
/// implicit curves: Goldman, *CAGD* 22 (2005).
#[must_use]
pub fn trace(surface: &Surface, plane: &Plane, accuracy: f64) -> Trace {
    if let Some(trace) = along_the_net(surface, plane, accuracy) {
        return trace;
    }
    let mut search = Search {
        arcs: Vec::new(),
        left: Vec::new(),
        boxes: 0,
    };
    for su in 0..surface.u_knots().span_count() {
        for sv in 0..surface.v_knots().span_count() {
            let powers = surface.plane_powers(su, sv, plane.normal, plane.offset);
            let piece = Piece {
                u: [0.0, 1.0],
                v: [0.0, 1.0],
                b: bezier(&powers),
            };
            search.look((su, sv), &piece, 0);
        }
    }
    let mut trace = Trace {
        boxes: search.boxes,
        ..Trace::default()
    };
    let mut chains = link(&search.arcs);
    settle(
        surface,
        &search.left,
        &search.arcs,
        &mut chains,
        &mut trace.touches,
    );
    for chain in &chains {
        trace
            .branches
            .push(follow(surface, plane, &search.arcs, chain, accuracy));
    }
    trace
}

/// Planes that hold lines of the net itself: a station is a line of constant `u`, the centre plane holds crown and keel.
fn along_the_net(surface: &Surface, plane: &Plane, accuracy: f64) -> Option<Trace> {
    let level = |a: f64| num::same(a, 0.0);
    if level(plane.normal.y) && level(plane.normal.z) {
        let x = plane.offset / plane.normal.x;
        let net = surface.x_net();
        let inside = x >= net[0] - num::SAME_POINT && x <= net[net.len() - 1] + num::SAME_POINT;
        let branches = if inside {
            vec![section(surface, surface.u_at(x), accuracy)]
        } else {
            Vec::new()
        };
        return Some(Trace {
            branches,
            ..Trace::default()
        });
    }
    if level(plane.normal.x) && level(plane.normal.z) && level(plane.offset) {
        let nv = surface.v_knots().count();
        let on_centre = |j: usize| {
            surface
                .y_net()
                .iter()
                .skip(j)
                .step_by(nv)
                .all(|y| level(*y))
        };
        let lines = [(0, 0.0), (nv - 1, 1.0)]
            .into_iter()
            .filter(|(j, _)| on_centre(*j));
        let branches: Vec<Branch> = lines
            .map(|(_, v)| super::run(surface, v, super::View::Profile, accuracy))
            .collect();
        return (!branches.is_empty()).then_some(Trace {
            branches,
            ..Trace::default()
        });
    }
    None
}

/// The line of constant `u`, from crown to keel.
fn section(surface: &Surface, u: f64, accuracy: f64) -> Branch {
    let su = surface.u_knots().span_at(u);
    let knots = surface.v_knots();
    let mut branch = Branch::default();
    for sv in 0..knots.span_count() {
        let (from, to) = knots.span(sv);
        let at = |v: f64| surface.jet_on(su, sv, u, v);
        let mut places = vec![from, to];
        sample(&mut places, &|v: f64| at(v).s, accuracy);
        for v in places {
            let jet = at(v);
            push(
                &mut branch,
                node((u, v), &jet, &[jet.v, jet.vv, jet.vvv], DVec3::X),
            );
        }
    }
    branch
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

fn bezier(powers: &Patch) -> Patch {
    let rows = powers.map(|row| to_bernstein(&row));
    let mut out = [[0.0; 4]; 4];
    for l in 0..4 {
        let column = to_bernstein(&[rows[0][l], rows[1][l], rows[2][l], rows[3][l]]);
        for k in 0..4 {
            out[k][l] = column[k];
        }
    }
    out
}

fn turned(b: &Patch) -> Patch {
    core::array::from_fn(|i| core::array::from_fn(|j| b[j][i]))
}

struct Search {
    arcs: Vec<Arc>,
    left: Vec<((usize, usize), Piece)>,
    boxes: usize,
}

fn one_sign(values: impl Iterator<Item = f64>) -> bool {
    let (mut low, mut high) = (f64::INFINITY, f64::NEG_INFINITY);
    for value in values {
        low = low.min(value);
        high = high.max(value);
    }
    low > 0.0 || high < 0.0
}

impl Search {
    fn look(&mut self, patch: (usize, usize), piece: &Piece, depth: u32) {
        self.boxes += 1;
        let b = &piece.b;
        let flat = || b.iter().flatten();
        if flat().all(|x| *x >= 0.0) || flat().all(|x| *x < 0.0) {
            return;
        }
        let over_v = one_sign(b.iter().flat_map(|row| row.windows(2).map(|w| w[1] - w[0])));
        if over_v {
            self.graph(patch, piece, false);
            return;
        }
        if one_sign((0..3).flat_map(|i| (0..4).map(move |j| b[i + 1][j] - b[i][j]))) {
            let over = Piece {
                u: piece.v,
                v: piece.u,
                b: turned(b),
            };
            self.graph(patch, &over, true);
            return;
        }
        if depth >= DEPTH {
            self.left.push((patch, *piece));
            return;
        }
        for half in 0..2 {
            let mut part = *piece;
            if depth.is_multiple_of(2) {
                let columns = turned(b).map(|column| halves(&column)[half]);
                part.b = turned(&columns);
                part.u[1 - half] = f64::midpoint(piece.u[0], piece.u[1]);
            } else {
                part.b = b.map(|row| halves(&row)[half]);
                part.v[1 - half] = f64::midpoint(piece.v[0], piece.v[1]);
            }
            self.look(patch, &part, depth + 1);
        }
    }

    /// Arcs of a piece on which F rises or falls all along its second parameter.
    fn graph(&mut self, patch: (usize, usize), piece: &Piece, turned: bool) {
        let edges = [0, 3].map(|j| [0, 1, 2, 3].map(|i| piece.b[i][j]));
        let mut cuts = vec![0.0];
        let mut found = Vec::new();
        // Which edge a cut lies on tells where the arc ends there.
        let mut on_edge: Vec<(f64, usize)> = Vec::new();
        for (e, edge) in edges.iter().enumerate() {
            found.clear();
            roots(edge, &mut found);
            on_edge.extend(found.iter().map(|t| (*t, e)));
        }
        on_edge.sort_by(|a, b| a.0.total_cmp(&b.0));
        cuts.extend(on_edge.iter().map(|(t, _)| *t));
        cuts.push(1.0);
        let place = |range: [f64; 2], t: f64| range[0] + (range[1] - range[0]) * t;
        for (k, pair) in cuts.windows(2).enumerate() {
            if pair[1] - pair[0] < 1e-14 {
                continue;
            }
            let middle = f64::midpoint(pair[0], pair[1]);
            let [low, high] = [bernstein(&edges[0], middle), bernstein(&edges[1], middle)];
            if (low >= 0.0) == (high >= 0.0) {
                continue;
            }
            let across = |t: f64, cut: Option<usize>| match cut {
                Some(edge) => edge as f64,
                None => {
                    let column =
                        [0, 1, 2, 3].map(|j| bernstein(&[0, 1, 2, 3].map(|i| piece.b[i][j]), t));
                    bracketed(&column)
                }
            };
            let from = across(pair[0], k.checked_sub(1).map(|i| on_edge[i].1));
            let to = across(pair[1], on_edge.get(k).map(|(_, e)| *e));
            self.arcs.push(Arc {
                patch,
                turned,
                along: [place(piece.u, pair[0]), place(piece.u, pair[1])],
                across: piece.v,
                ends: [place(piece.v, from), place(piece.v, to)],
            });
        }
    }
}

/// Arcs end to end: number and whether it is run backwards.
#[derive(Clone, Debug)]
struct Chain {
    arcs: Vec<(usize, bool)>,
    closed: bool,
}

impl Chain {
    fn end(&self, arcs: &[Arc], last: bool) -> Spot {
        let pick = if last { self.arcs.len() - 1 } else { 0 };
        let (arc, back) = self.arcs[pick];
        arcs[arc].spot(usize::from(last != back))
    }

    fn reverse(&mut self) {
        self.arcs.reverse();
        for (_, back) in &mut self.arcs {
            *back = !*back;
        }
    }
}

/// Joins arcs at their common ends.
fn link(arcs: &[Arc]) -> Vec<Chain> {
    let mut ends: Vec<(Spot, usize, usize)> = (0..arcs.len())
        .flat_map(|i| [0, 1].map(|e| (arcs[i].spot(e), i, e)))
        .collect();
    ends.sort_by(|a, b| a.0[0].total_cmp(&b.0[0]));
    let mut mate: Vec<[Option<(usize, usize)>; 2]> = vec![[None; 2]; arcs.len()];
    for (k, (spot, i, e)) in ends.iter().enumerate() {
        if mate[*i][*e].is_some() {
            continue;
        }
        let next = ends[k + 1..]
            .iter()
            .take_while(|other| other.0[0] - spot[0] <= LINK);
        let best = next
            .filter(|(other, j, f)| j != i && mate[*j][*f].is_none() && near(*spot, *other, LINK))
            .min_by(|a, b| {
                (a.0[1] - spot[1])
                    .abs()
                    .total_cmp(&(b.0[1] - spot[1]).abs())
            });
        if let Some((_, j, f)) = best {
            mate[*i][*e] = Some((*j, *f));
            mate[*j][*f] = Some((*i, *e));
        }
    }
    let mut used = vec![false; arcs.len()];
    let mut chains = Vec::new();
    let starts = (0..arcs.len())
        .flat_map(|i| [(i, 0), (i, 1)])
        .filter(|(i, e)| mate[*i][*e].is_none());
    let order: Vec<(usize, usize)> = starts.chain((0..arcs.len()).map(|i| (i, 0))).collect();
    for (start, end) in order {
        if used[start] {
            continue;
        }
        let mut chain = Chain {
            arcs: Vec::new(),
            closed: false,
        };
        let (mut arc, mut enter) = (start, end);
        loop {
            used[arc] = true;
            chain.arcs.push((arc, enter == 1));
            match mate[arc][1 - enter] {
                Some((next, at)) if !used[next] => (arc, enter) = (next, at),
                Some((next, _)) => {
                    chain.closed = next == start;
                    break;
                }
                None => break,
            }
        }
        chains.push(chain);
    }
    chains
}

/// Pieces that could not be resolved: places where the plane touches, or where two branches cross.
fn settle(
    surface: &Surface,
    left: &[((usize, usize), Piece)],
    arcs: &[Arc],
    chains: &mut Vec<Chain>,
    touches: &mut Vec<Touch>,
) {
    let middle = |((su, sv), piece): &((usize, usize), Piece)| {
        [
            *su as f64 + f64::midpoint(piece.u[0], piece.u[1]),
            *sv as f64 + f64::midpoint(piece.v[0], piece.v[1]),
        ]
    };
    let mut groups: Vec<Vec<Spot>> = Vec::new();
    for spot in left.iter().map(middle) {
        let (joined, others): (Vec<_>, Vec<_>) = groups
            .into_iter()
            .partition(|group| group.iter().any(|other| near(spot, *other, REACH)));
        groups = others;
        let mut group: Vec<Spot> = joined.into_iter().flatten().collect();
        group.push(spot);
        groups.push(group);
    }
    for group in groups {
        let reaches = |end: Spot| group.iter().any(|spot| near(end, *spot, REACH));
        let mut ends: Vec<(usize, bool)> = Vec::new();
        for (i, chain) in chains.iter().enumerate() {
            for last in [false, true] {
                if !chain.closed && reaches(chain.end(arcs, last)) {
                    ends.push((i, last));
                }
            }
        }
        let centre = [0, 1].map(|k| group.iter().map(|s| s[k]).sum::<f64>() / group.len() as f64);
        if ends.is_empty() {
            touches.push(touch(surface, centre));
        } else {
            join(arcs, chains, &ends, centre);
        }
    }
}

fn touch(surface: &Surface, spot: Spot) -> Touch {
    let part = |knots: &crate::spline::Knots, s: f64| {
        let span = num::count_of(s).min(knots.span_count() - 1);
        let (a, b) = knots.span(span);
        a + (b - a) * (s - span as f64)
    };
    let (u, v) = (
        part(surface.u_knots(), spot[0]),
        part(surface.v_knots(), spot[1]),
    );
    Touch {
        u,
        v,
        point: surface.position(u, v),
    }
}

/// Joins the chains that end at an unresolved place, each with the one most nearly opposite.
fn join(arcs: &[Arc], chains: &mut Vec<Chain>, ends: &[(usize, bool)], centre: Spot) {
    let direction = |(i, last): (usize, bool), chains: &[Chain]| {
        let end = chains[i].end(arcs, last);
        [end[0] - centre[0], end[1] - centre[1]]
    };
    let mut pairs: Vec<(f64, usize, usize)> = Vec::new();
    for a in 0..ends.len() {
        for b in a + 1..ends.len() {
            let (p, q) = (direction(ends[a], chains), direction(ends[b], chains));
            let scale = num::hypot(p[0], p[1]) * num::hypot(q[0], q[1]);
            pairs.push((
                (p[0] * q[0] + p[1] * q[1]) / scale.max(f64::MIN_POSITIVE),
                a,
                b,
            ));
        }
    }
    pairs.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut taken = vec![false; ends.len()];
    let mut joins = Vec::new();
    for (_, a, b) in pairs {
        if !taken[a] && !taken[b] {
            (taken[a], taken[b]) = (true, true);
            joins.push((ends[a], ends[b]));
        }
    }
    let mut gone: Vec<usize> = Vec::new();
    for ((i, i_last), (j, j_last)) in joins {
        if i == j {
            chains[i].closed = true;
            continue;
        }
        if gone.contains(&i) || gone.contains(&j) {
            continue; // a chain with both ends here keeps its second one free
        }
        let mut tail = chains[j].clone();
        if j_last {
            tail.reverse();
        }
        if !i_last {
            chains[i].reverse();
        }
        chains[i].arcs.extend(tail.arcs);
        gone.push(j);
    }
    gone.sort_unstable();
    for j in gone.into_iter().rev() {
        chains.remove(j);
    }
}

fn follow(surface: &Surface, plane: &Plane, arcs: &[Arc], chain: &Chain, accuracy: f64) -> Branch {
    let mut chain = chain.clone();
    if !chain.closed && chain.end(arcs, false)[0] > chain.end(arcs, true)[0] {
        chain.reverse();
    }
    let mut branch = Branch {
        nodes: Vec::new(),
        closed: chain.closed,
    };
    for (arc, back) in &chain.arcs {
        let mut nodes = walk(surface, plane, &arcs[*arc], accuracy);
        if *back {
            nodes.reverse();
        }
        for next in nodes {
            push(&mut branch, next);
        }
    }
    // Tangents follow the way the branch runs.
    for i in 0..branch.nodes.len() {
        let (before, after) = (i.saturating_sub(1), (i + 1).min(branch.nodes.len() - 1));
        let way = branch.nodes[after].point - branch.nodes[before].point;
        let node = &mut branch.nodes[i];
        if way.dot(node.tangent) < 0.0 {
            node.tangent = -node.tangent;
            node.curvature_slope = -node.curvature_slope;
        }
    }
    branch
}

/// Nodes of one arc in the direction of its parameter.
fn walk(surface: &Surface, plane: &Plane, arc: &Arc, accuracy: f64) -> Vec<Node> {
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
    let uv = |t: f64| {
        let s = if num::same(t, arc.along[0]) {
            arc.ends[0]
        } else if num::same(t, arc.along[1]) {
            arc.ends[1]
        } else {
            across(t)
        };
        let (u, v) = if arc.turned { (s, t) } else { (t, s) };
        let ((u0, u1), (v0, v1)) = (surface.u_knots().span(su), surface.v_knots().span(sv));
        (u0 + (u1 - u0) * u, v0 + (v1 - v0) * v)
    };
    let mut places = vec![arc.along[0], arc.along[1]];
    let at = |t: f64| {
        let (u, v) = uv(t);
        surface.jet_on(su, sv, u, v)
    };
    sample(&mut places, &|t: f64| at(t).s, accuracy);
    places
        .into_iter()
        .map(|t| cut_node(uv(t), &at(t), plane.normal))
        .collect()
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

/// A node of a plane cut: the line is followed by `u̇ = −F_v, v̇ = F_u`, which holds at turning points too.
fn cut_node(place: (f64, f64), j: &Jet, n: DVec3) -> Node {
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
    node(place, j, &[c1, c2, c3], n)
}
