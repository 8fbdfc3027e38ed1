//! Where a line bends most and least, and where it is hollow.
//!
//! In: a [`Branch`]. Out: its extreme places and its hollow stretches. Whether they are wanted is left to who reads them.

use super::{Branch, Node, between};

/// Places between two nodes at which the curvature is looked at.
const BETWEEN: u32 = 8;

/// A stretch of a line that is hollow.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Hollow {
    /// Where it begins, in the order of the branch: the curvature is zero there, or the line ends.
    pub from: Node,
    /// Where it ends.
    pub to: Node,
    /// Where it is deepest.
    pub deepest: Node,
}

/// A place at which the curvature turns back.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Turn {
    /// The place.
    pub node: Node,
    /// Which way it stands out.
    pub kind: TurnKind,
}

/// Which way a turn of the curvature stands out.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum TurnKind {
    /// Lower than on either side: where a convex line bends hardest.
    Lowest,
    /// Higher than on either side: where a convex line is flattest, or a hollow one deepest.
    Highest,
}

impl Branch {
    /// Places at which the curvature turns back, in order along the branch; what rises out of its neighbours by less than
    /// `least` is no such place. The ends of an open branch are none.
    ///
    /// # Units
    /// `least`: 1/mm.
    ///
    /// # Accuracy
    /// The curvature to within its change over an eighth of the distance of two nodes (tested on a sine and an ellipse).
    #[must_use]
    pub fn turns(&self, least: f64) -> Vec<Turn> {
        let nodes = self.close_nodes(|a, b| a.curvature.total_cmp(&b.curvature));
        let mut found: Vec<Turn> = Vec::new();
        let Some(first) = nodes.first() else {
            return found;
        };
        // The lowest and the highest place since the last turn; before the first one it is not known which of them is one.
        let (mut lowest, mut highest) = (*first, *first);
        let mut last: Option<TurnKind> = None;
        for node in &nodes[1..] {
            if node.curvature <= lowest.curvature {
                lowest = *node;
            }
            if node.curvature >= highest.curvature {
                highest = *node;
            }
            let rises = node.curvature - lowest.curvature > least;
            let falls = highest.curvature - node.curvature > least;
            let turned = match last {
                Some(TurnKind::Lowest) => falls.then_some((highest, TurnKind::Highest)),
                Some(TurnKind::Highest) => rises.then_some((lowest, TurnKind::Lowest)),
                None if rises => Some((lowest, TurnKind::Lowest)),
                None => falls.then_some((highest, TurnKind::Highest)),
            };
            if let Some((turn, kind)) = turned {
                found.push(Turn { node: turn, kind });
                (lowest, highest, last) = (*node, *node, Some(kind));
            }
        }
        // An open branch begins somewhere; a closed one begins at its highest place, which is a turn.
        let at_first = |turn: &Turn| turn.node == nodes[0];
        if !self.closed && found.first().is_some_and(at_first) {
            found.remove(0);
        }
        found
    }

    /// The hollow stretches, in order along the branch; what is nowhere hollower than `least` is none.
    ///
    /// # Units
    /// `least`: 1/mm.
    ///
    /// # Accuracy
    /// Their ends by a straight line between two places an eighth of the distance of two nodes apart.
    #[must_use]
    pub fn hollows(&self, least: f64) -> Vec<Hollow> {
        // A closed branch begins where it is least hollow, so that no stretch runs over its beginning.
        let nodes = self.close_nodes(|a, b| b.curvature.total_cmp(&a.curvature));
        let runs = nodes.chunk_by(|a, b| (a.curvature > 0.0) == (b.curvature > 0.0));
        let mut found = Vec::new();
        let mut at = 0;
        for run in runs {
            let (first, last) = (at, at + run.len() - 1);
            at += run.len();
            let deepest = run
                .iter()
                .max_by(|a, b| a.curvature.total_cmp(&b.curvature));
            let Some(deepest) = deepest.filter(|node| node.curvature > least.max(0.0)) else {
                continue;
            };
            let before = first.checked_sub(1).and_then(|i| nodes.get(i));
            found.push(Hollow {
                from: before.map_or(run[0], |before| zero(before, &run[0])),
                to: nodes
                    .get(last + 1)
                    .map_or(run[run.len() - 1], |after| zero(&run[run.len() - 1], after)),
                deepest: *deepest,
            });
        }
        found
    }

    /// The nodes with further places between them; those whose curvature is no number are left out. A closed branch
    /// begins and ends at its last place in an order.
    fn close_nodes(&self, order: fn(&Node, &Node) -> core::cmp::Ordering) -> Vec<Node> {
        let ends = self.nodes.last().zip(self.nodes.first());
        let pairs = self.nodes.windows(2).map(|pair| (&pair[0], &pair[1]));
        let mut nodes: Vec<Node> = self.nodes.first().copied().into_iter().collect();
        for (a, b) in pairs.chain(ends.filter(|_| self.closed)) {
            let parts = (1..BETWEEN).map(|i| f64::from(i) / f64::from(BETWEEN));
            nodes.extend(parts.map(|t| between(a, b, t)));
            nodes.push(*b);
        }
        nodes.retain(|node| node.curvature.is_finite());
        if self.closed {
            nodes.pop();
            let numbered = nodes.iter().enumerate();
            let begin = numbered
                .max_by(|a, b| order(a.1, b.1))
                .map_or(0, |(at, _)| at);
            nodes.rotate_left(begin);
            nodes.extend(nodes.first().copied());
        }
        nodes
    }
}

/// Where the curvature is zero between two places on either side of it.
fn zero(a: &Node, b: &Node) -> Node {
    let t = a.curvature / (a.curvature - b.curvature);
    between(
        a,
        b,
        if t.is_finite() {
            t.clamp(0.0, 1.0)
        } else {
            0.5
        },
    )
}

#[cfg(test)]
mod tests {
    use super::super::tests::interpolate;
    use super::super::{CuttingPlane, View, run, trace};
    use super::TurnKind;
    use crate::num;
    use crate::spline::Knots;

    #[test]
    fn a_sine_turns_at_its_crests_and_is_hollow_between_its_zeros() {
        // z = A sin kx has the curvature A k² at its crests, and none where it crosses its axis: closed form.
        const A: f64 = 20.0;
        let k = core::f64::consts::PI / 800.0;
        let breaks: Vec<f64> = (0..=96).map(|i| 25.0 * f64::from(i)).collect();
        let u = Knots::clamped(&breaks).unwrap();
        let v = Knots::clamped(&[0.0, 1.0]).unwrap();
        let surface = interpolate(u, v, &|x, v| {
            [
                600.0 * v * (1.0 - v),
                1000.0 * (1.0 - v) + v * A * num::sin(k * x),
            ]
        });
        let keel = run(&surface, 1.0, View::Profile, 0.001);
        let turns = keel.turns(1e-6);
        let x: Vec<f64> = turns.iter().map(|turn| turn.node.point.x).collect();
        assert_eq!(x.len(), 3, "{x:?}");
        for (turn, crest) in turns.iter().zip([400.0, 1200.0, 2000.0]) {
            assert!((turn.node.point.x - crest).abs() < 12.0, "{x:?}");
            let size = turn.node.curvature.abs();
            assert!((size - A * k * k).abs() < 3e-3 * A * k * k, "{size}");
        }
        // The skin lies above its keel, so that the keel is hollow where it rises to a crest.
        let hollows = keel.hollows(1e-6);
        let ends: Vec<[f64; 2]> = hollows
            .iter()
            .map(|h| [h.from.point.x, h.to.point.x])
            .collect();
        assert_eq!(ends.len(), 2, "{ends:?}");
        for ([from, to], wanted) in ends.iter().zip([[0.0, 800.0], [1600.0, 2400.0]]) {
            // The interpolating spline's end spans are left out.
            assert!(
                (from - wanted[0]).abs() < 30.0 && (to - wanted[1]).abs() < 30.0,
                "{ends:?}"
            );
        }
        assert!(
            (ends[0][1] - 800.0).abs() < 0.5 && (ends[1][0] - 1600.0).abs() < 0.5,
            "{ends:?}"
        );
    }

    #[test]
    fn a_closed_line_turns_at_its_beginning_too() {
        let radius = 500.0_f64;
        let breaks = |from: f64, to: f64, count: u32| {
            let at = |i: u32| from + (to - from) * f64::from(i) / f64::from(count);
            Knots::clamped(&(0..=count).map(at).collect::<Vec<_>>()).unwrap()
        };
        let surface = interpolate(breaks(-450.0, 450.0, 80), breaks(0.0, 1.0, 60), &|x, v| {
            let r = (radius * radius - x * x).sqrt();
            let a = core::f64::consts::PI * v;
            // Half as high as it is broad.
            [r * num::sin(a), 0.5 * r * num::cos(a)]
        });
        // At y = 300 the upper and lower lines of x²/400² + z²/200² = 1 meet at x = ± 400: an ellipse.
        let found = trace(&surface, &CuttingPlane::buttock(300.0), 0.001).branches;
        let ring = found.iter().find(|branch| branch.closed).unwrap();
        let turns = ring.turns(1e-5);
        let kinds: Vec<TurnKind> = turns.iter().map(|turn| turn.kind).collect();
        assert_eq!(kinds.len(), 4, "{turns:?}");
        for turn in &turns {
            // Curvature a/b² at the ends of the long axis, b/a² at those of the short one: closed form.
            let wanted = match turn.kind {
                TurnKind::Lowest => -400.0 / (200.0 * 200.0),
                TurnKind::Highest => -200.0 / (400.0 * 400.0),
            };
            let found = turn.node.curvature;
            assert!((found / wanted - 1.0).abs() < 2e-3, "{found} for {wanted}");
        }
        assert!(ring.hollows(0.0).is_empty());
    }
}
