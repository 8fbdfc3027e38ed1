//! Arcs of a plane cut on the net, and how they join end to end.
//!
//! In: the plane's function on a patch, as Bézier coefficients. Out: arcs, each a graph between two brackets, and chains of
//! them. Halving goes on until a piece has no sign change or runs as a graph along one of its sides, so that nothing is
//! missed.

use crate::num;
use crate::num::scalar::{bernstein, bracketed, halves, roots, to_bernstein};

/// Most halvings of a patch, both ways together.
const DEPTH: u32 = 20;

/// Two ends of arcs nearer than this, in spans, are one.
const LINK: f64 = 1e-6;

pub(super) type BezierPatch = [[f64; 4]; 4];

/// A piece of a patch: where it lies, in parameters from 0 to 1, and its Bézier coefficients `[u][v]`.
#[derive(Clone, Copy, Debug)]
pub(super) struct SubPatch {
    pub(super) u: [f64; 2],
    pub(super) v: [f64; 2],
    pub(super) b: BezierPatch,
}

/// One arc: a graph over the first parameter (or the second, where `turned`).
#[derive(Clone, Copy, Debug)]
pub(super) struct Arc {
    pub(super) patch: (usize, usize),
    pub(super) turned: bool,
    /// Range of the parameter along, and bracket of the other.
    pub(super) along: [f64; 2],
    pub(super) across: [f64; 2],
    /// The other parameter at both ends.
    pub(super) ends: [f64; 2],
    /// Whether it is a line of the net that lies in the plane, so that the other parameter does not change.
    pub(super) level: bool,
}

/// A place on the net in spans: number plus parameter from 0 to 1.
pub(super) type SpanPlace = [f64; 2];

impl Arc {
    pub(super) fn spot(&self, end: usize) -> SpanPlace {
        let (a, b) = (self.along[end], self.ends[end]);
        let (u, v) = if self.turned { (b, a) } else { (a, b) };
        [self.patch.0 as f64 + u, self.patch.1 as f64 + v]
    }
}

pub(super) fn near(a: SpanPlace, b: SpanPlace, reach: f64) -> bool {
    (a[0] - b[0]).abs() <= reach && (a[1] - b[1]).abs() <= reach
}

/// Bézier coefficients of a patch with these powers.
pub(super) fn bezier(powers: &BezierPatch) -> BezierPatch {
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

/// With `u` and `v` exchanged.
pub(super) fn turned(b: &BezierPatch) -> BezierPatch {
    core::array::from_fn(|i| core::array::from_fn(|j| b[j][i]))
}

/// Arcs found so far, and the pieces that could not be resolved.
#[derive(Debug, Default)]
pub(super) struct ArcSearch {
    pub(super) arcs: Vec<Arc>,
    /// Middles of pieces at the last halving.
    pub(super) left: Vec<SpanPlace>,
    pub(super) boxes: usize,
}

/// Differences of coefficients smaller than this, mm, are rounding.
const ROUNDING: f64 = 1e-11;

/// Whether the values are those of a function that rises, or falls, all along.
fn monotone(differences: impl Iterator<Item = f64>) -> bool {
    let (mut low, mut high) = (f64::INFINITY, f64::NEG_INFINITY);
    for difference in differences {
        low = low.min(difference);
        high = high.max(difference);
    }
    (low > -ROUNDING && high > ROUNDING) || (low < -ROUNDING && high < ROUNDING)
}

impl ArcSearch {
    /// Finds the arcs of a piece.
    pub(super) fn look(&mut self, patch: (usize, usize), piece: &SubPatch, depth: u32) {
        self.boxes += 1;
        let b = &piece.b;
        let flat = || b.iter().flatten();
        if flat().all(|x| *x >= 0.0) || flat().all(|x| *x < 0.0) {
            return;
        }
        let over_v = monotone(b.iter().flat_map(|row| row.windows(2).map(|w| w[1] - w[0])));
        if over_v {
            self.graph(patch, piece, false);
            return;
        }
        if monotone((0..3).flat_map(|i| (0..4).map(move |j| b[i + 1][j] - b[i][j]))) {
            let over = SubPatch {
                u: piece.v,
                v: piece.u,
                b: turned(b),
            };
            self.graph(patch, &over, true);
            return;
        }
        if depth >= DEPTH {
            self.left.push([
                patch.0 as f64 + f64::midpoint(piece.u[0], piece.u[1]),
                patch.1 as f64 + f64::midpoint(piece.v[0], piece.v[1]),
            ]);
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
    fn graph(&mut self, patch: (usize, usize), piece: &SubPatch, turned: bool) {
        let edges = [0, 3].map(|j| [0, 1, 2, 3].map(|i| piece.b[i][j]));
        let mut cuts = vec![0.0];
        let mut found = Vec::new();
        // Which edge a cut lies on tells where the arc ends there.
        let mut on_edge: Vec<(f64, usize)> = Vec::new();
        for (e, edge) in edges.iter().enumerate() {
            found.clear();
            roots(edge, &mut found);
            for t in &found {
                let place = on_edge.partition_point(|(before, _)| before <= t);
                on_edge.insert(place, (*t, e));
            }
        }
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
                level: false,
            });
        }
    }
}

/// Arcs end to end: number and whether it is run backwards.
#[derive(Clone, Debug)]
pub(super) struct Chain {
    pub(super) arcs: Vec<(usize, bool)>,
    pub(super) closed: bool,
}

impl Chain {
    /// Its first or last place.
    pub(super) fn end(&self, arcs: &[Arc], last: bool) -> SpanPlace {
        let pick = if last { self.arcs.len() - 1 } else { 0 };
        let (arc, back) = self.arcs[pick];
        arcs[arc].spot(usize::from(last != back))
    }

    pub(super) fn reverse(&mut self) {
        self.arcs.reverse();
        for (_, back) in &mut self.arcs {
            *back = !*back;
        }
    }
}

/// Joins arcs at their common ends.
pub(super) fn link(arcs: &[Arc]) -> Vec<Chain> {
    let mut ends: Vec<(SpanPlace, usize, usize)> = (0..arcs.len())
        .flat_map(|i| [0, 1].map(|e| (arcs[i].spot(e), i, e)))
        .collect();
    num::put_in_order(&mut ends, |a, b| a.0[0].total_cmp(&b.0[0]));
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
