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

impl Branch {
    /// Places at which the curvature is larger or smaller than on either side, in order along the branch; what rises out
    /// of its neighbours by less than `least` is no such place. The ends of an open branch are none.
    ///
    /// # Units
    /// `least`: 1/mm.
    ///
    /// # Accuracy
    /// The curvature to within its change over an eighth of the distance of two nodes (tested on a sine).
    #[must_use]
    pub fn turns(&self, least: f64) -> Vec<Node> {
        let nodes = self.close_nodes();
        let mut found: Vec<Node> = Vec::new();
        let mut extreme = match nodes.first() {
            Some(first) => *first,
            None => return found,
        };
        // Which way the curvature goes since the last turn: not known before the first one.
        let mut rising: Option<bool> = None;
        let mut lowest = extreme;
        let mut highest = extreme;
        for node in &nodes[1..] {
            match rising {
                None => {
                    if node.curvature < lowest.curvature {
                        lowest = *node;
                    }
                    if node.curvature > highest.curvature {
                        highest = *node;
                    }
                    if node.curvature - lowest.curvature > least {
                        (rising, extreme) = (Some(true), *node);
                        found.extend(inner(lowest, &nodes));
                    } else if highest.curvature - node.curvature > least {
                        (rising, extreme) = (Some(false), *node);
                        found.extend(inner(highest, &nodes));
                    }
                }
                Some(up) => {
                    let ahead = if up {
                        node.curvature - extreme.curvature
                    } else {
                        extreme.curvature - node.curvature
                    };
                    if ahead >= 0.0 {
                        extreme = *node;
                    } else if -ahead > least {
                        found.push(extreme);
                        (rising, extreme) = (Some(!up), *node);
                    }
                }
            }
        }
        found
    }

    /// The hollow stretches, in order along the branch.
    ///
    /// # Accuracy
    /// Their ends by a straight line between two places an eighth of the distance of two nodes apart.
    #[must_use]
    pub fn hollows(&self) -> Vec<Hollow> {
        let nodes = self.close_nodes();
        let runs = nodes.chunk_by(|a, b| (a.curvature > 0.0) == (b.curvature > 0.0));
        let mut found = Vec::new();
        let mut at = 0;
        for run in runs {
            let (first, last) = (at, at + run.len() - 1);
            at += run.len();
            let deepest = run
                .iter()
                .max_by(|a, b| a.curvature.total_cmp(&b.curvature));
            let Some(deepest) = deepest.filter(|node| node.curvature > 0.0) else {
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

    /// The nodes with further places between them; those whose curvature is no number are left out.
    fn close_nodes(&self) -> Vec<Node> {
        let mut nodes: Vec<Node> = self.nodes.first().copied().into_iter().collect();
        for pair in self.nodes.windows(2) {
            let parts = (1..BETWEEN).map(|i| f64::from(i) / f64::from(BETWEEN));
            nodes.extend(parts.map(|t| between(&pair[0], &pair[1], t)));
            nodes.push(pair[1]);
        }
        nodes.retain(|node| node.curvature.is_finite());
        nodes
    }
}

/// A place that is no end of the nodes.
fn inner(node: Node, nodes: &[Node]) -> Option<Node> {
    let ends = [nodes.first(), nodes.last()];
    (!ends.contains(&Some(&node))).then_some(node)
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
    use super::super::{View, run};
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
        let x: Vec<f64> = turns.iter().map(|node| node.point.x).collect();
        assert_eq!(x.len(), 3, "{x:?}");
        for (node, crest) in turns.iter().zip([400.0, 1200.0, 2000.0]) {
            assert!((node.point.x - crest).abs() < 12.0, "{x:?}");
            let size = node.curvature.abs();
            assert!((size - A * k * k).abs() < 3e-3 * A * k * k, "{size}");
        }
        // The skin lies above its keel, so that the keel is hollow where it rises to a crest.
        let hollows = keel.hollows();
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
}
