//! Where a plane cuts a surface parallel to the loft: the edge of a board.
//!
//! In: the loft's surface, how far from it along its outward normal the board is cut, and a plane. Out: a [`SkinContour`] of
//! nodes with tangents, between which it runs as the cubic that has them.

use glam::DVec3;

use crate::lines::{Branch, CuttingPlane, trace};
use crate::num;
use crate::spline::{GAUSS_5, Jet, Surface};

/// A place of a contour.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ContourNode {
    /// Parameters `u` and `v` of the loft's place on the same normal.
    pub at: [f64; 2],
    /// Where, mm.
    pub point: DVec3,
    /// Unit tangent, in the plane.
    pub tangent: DVec3,
    /// Outward unit normal of the skin.
    pub normal: DVec3,
}

/// One unbroken piece of a cut.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct SkinContour {
    /// In order; at a knuckle two nodes share a place, one for each side.
    pub nodes: Vec<ContourNode>,
    /// Whether the last node joins the first.
    pub closed: bool,
}

/// A plane and the surface that it cuts, at a signed distance along the loft's outward normal.
#[derive(Clone, Copy, Debug)]
pub struct SkinCut<'a> {
    /// The loft's surface.
    pub surface: &'a Surface,
    /// How far the cut surface lies from it, mm, positive outward.
    pub distance: f64,
    /// The plane.
    pub plane: CuttingPlane,
}

/// Most steps of Newton's method; four are usual.
const STEPS: usize = 24;

/// A place nearer to the plane than this, mm, lies in it.
const IN_PLANE: f64 = 1e-9;

/// Least sine of the angle between skin and plane at which one is said to cut the other.
const LEAST_ANGLE: f64 = 1e-3;

impl SkinCut<'_> {
    /// The pieces of the cut, in the order in which the plane cuts the loft.
    ///
    /// Each node of the loft's own cut is led, square to it in the skin, to where the parallel surface lies in the plane.
    /// What would lie past the loft's end, or past a crown or keel with a peak, is the tangent's going on, no further than
    /// the distance between the surfaces.
    ///
    /// # Units
    /// `accuracy`: mm, of the cubics between the nodes.
    ///
    /// # Accuracy
    /// Nodes to 1e-9 mm of the surface, where it has not ended; the cubics to `accuracy` or better (tested against a
    /// sphere and a cone).
    #[must_use]
    pub fn contours(&self, accuracy: f64) -> Vec<SkinContour> {
        // Nodes whose chords are so near lie close enough for cubics a hundred times nearer.
        const CHORDS: f64 = 10.0;
        let cut = trace(self.surface, &self.plane, accuracy * CHORDS);
        cut.branches
            .iter()
            .filter_map(|branch| self.contour(branch))
            .collect()
    }

    fn contour(&self, branch: &Branch) -> Option<SkinContour> {
        let nodes = &branch.nodes;
        let mut out: Vec<ContourNode> = Vec::with_capacity(nodes.len());
        for (i, node) in nodes.iter().enumerate() {
            // Of two nodes at a knuckle, the first belongs to what comes before it.
            let ends_a_run = nodes
                .get(i + 1)
                .is_some_and(|next| same(node.point, next.point));
            let beside = if ends_a_run || i + 1 == nodes.len() {
                i.saturating_sub(1)
            } else {
                i + 1
            };
            let beside = [nodes[beside].u, nodes[beside].v];
            let settled = self.settle([node.u, node.v], beside)?;
            let along = settled.tangent.dot(node.tangent);
            out.push(ContourNode {
                tangent: settled.tangent * along.signum(),
                ..settled
            });
        }
        (out.len() > 1).then_some(SkinContour {
            nodes: out,
            closed: branch.closed,
        })
    }

    /// The place in the plane nearest to the parameters `from`, by the side of a knuckle on which `beside` lies.
    pub(super) fn settle(&self, from: [f64; 2], beside: [f64; 2]) -> Option<ContourNode> {
        let CuttingPlane { normal: p, offset } = self.plane;
        let mut at = from;
        let mut place = self.place(at, beside)?;
        for _ in 0..STEPS {
            let (jet, x, n) = &place;
            let off = p.dot(*x) - offset;
            if off.abs() < IN_PLANE {
                break;
            }
            // Along the skin, square to the cut: to first order the plane is met there.
            let way = p - *n * p.dot(*n);
            let square = way.length_squared();
            if square < LEAST_ANGLE * LEAST_ANGLE {
                return None;
            }
            let step = way * (-off / square);
            let [du, dv] = in_parameters(jet, step)?;
            let next = self.clamped([at[0] + du, at[1] + dv]);
            if num::same(next[0], at[0]) && num::same(next[1], at[1]) {
                break;
            }
            at = next;
            place = self.place(at, beside)?;
        }
        let (_, x, normal) = place;
        let way = p - normal * p.dot(normal);
        let square = way.length_squared();
        let off = p.dot(x) - offset;
        if square < LEAST_ANGLE * LEAST_ANGLE || off.abs() > self.distance.abs() + IN_PLANE {
            return None;
        }
        Some(ContourNode {
            at,
            point: x - way * (off / square),
            tangent: normal.cross(p).normalize_or_zero(),
            normal,
        })
    }

    /// The loft's jet at a place, the parallel surface's place on its normal, and that normal.
    fn place(&self, [u, v]: [f64; 2], beside: [f64; 2]) -> Option<(Jet, DVec3, DVec3)> {
        let (knots_u, knots_v) = (self.surface.u_knots(), self.surface.v_knots());
        let span = |knots: &crate::spline::Knots, at: f64, beside: f64| {
            if beside < at {
                knots.span_before(at)
            } else {
                knots.span_at(at)
            }
        };
        let jet = self.surface.jet_on(
            span(knots_u, u, beside[0]),
            span(knots_v, v, beside[1]),
            u,
            v,
        );
        let normal = jet.normal();
        let point = jet.s + normal * self.distance;
        point.is_finite().then_some((jet, point, normal))
    }

    fn clamped(&self, [u, v]: [f64; 2]) -> [f64; 2] {
        let ((u0, u1), (v0, v1)) = (
            self.surface.u_knots().domain(),
            self.surface.v_knots().domain(),
        );
        [u.clamp(u0, u1), v.clamp(v0, v1)]
    }
}

/// A place of the cubic between two nodes, by its share from one to the other.
#[must_use]
pub fn between(a: &ContourNode, b: &ContourNode, share: f64) -> DVec3 {
    let [from, out, back, to] = handles(a, b);
    let rest = 1.0 - share;
    from * (rest * rest * rest)
        + out * (3.0 * rest * rest * share)
        + back * (3.0 * rest * share * share)
        + to * (share * share * share)
}

/// The cubic between two nodes as Bézier points: its handles are a third of the arc that has both tangents.
#[must_use]
pub fn handles(a: &ContourNode, b: &ContourNode) -> [DVec3; 4] {
    let chord = b.point - a.point;
    // Of an arc that turns by 2α over a chord c the handles are c / (3 cos²(α/2)), nearly; equal to it for a straight one.
    let half = num::acos(a.tangent.dot(b.tangent).clamp(-1.0, 1.0)) / 2.0;
    let cos = num::cos(half / 2.0);
    let handle = chord.length() / (3.0 * cos * cos);
    [
        a.point,
        a.point + a.tangent * handle,
        b.point - b.tangent * handle,
        b.point,
    ]
}

fn same(a: DVec3, b: DVec3) -> bool {
    a.distance(b) < num::SAME_POINT
}

/// A step along the skin in its parameters.
///
/// By the loft's own tangents: with the parallel surface so near, Newton's method loses nothing by it.
fn in_parameters(jet: &Jet, step: DVec3) -> Option<[f64; 2]> {
    let [e, f, g] = jet.first_form();
    let det = e * g - f * f;
    let (a, b) = (jet.u.dot(step), jet.v.dot(step));
    let out = [(g * a - f * b) / det, (e * b - f * a) / det];
    (out[0].is_finite() && out[1].is_finite()).then_some(out)
}

/// Length of the cubic between two nodes, mm, by Gauss's rule.
#[must_use]
pub fn length_between(a: &ContourNode, b: &ContourNode) -> f64 {
    let [a, b, c, d] = handles(a, b);
    let speed = |t: f64| {
        let s = 1.0 - t;
        (((b - a) * (s * s) + (c - b) * (2.0 * s * t) + (d - c) * (t * t)) * 3.0).length()
    };
    let nodes = GAUSS_5.iter();
    nodes
        .map(|(node, weight)| weight / 2.0 * speed(f64::midpoint(1.0, *node)))
        .sum()
}

impl SkinCut<'_> {
    /// The piece of a contour along which something that is measured at its places lies within bounds; the longest, where
    /// there are several.
    ///
    /// Where it begins or ends between two nodes, a node is laid there.
    #[must_use]
    pub fn part(
        &self,
        contour: &SkinContour,
        measured: impl Fn(&ContourNode) -> f64,
        within: [f64; 2],
    ) -> Option<SkinContour> {
        let [least, most] = within;
        let inside = |node: &ContourNode| {
            let value = measured(node);
            value >= least && value <= most
        };
        let mut all = contour.nodes.clone();
        for bound in within {
            all = self.with_crossings(&all, |node| measured(node) - bound);
        }
        // A node laid on a bound may miss it by a rounding: it counts with the side on which the piece is.
        let pieces = all.windows(2).map(|pair| {
            let at = [0, 1].map(|k| f64::midpoint(pair[0].at[k], pair[1].at[k]));
            self.settle(at, pair[1].at)
                .map_or_else(|| inside(&pair[0]), |middle| inside(&middle))
        });
        let mut longest = (0.0, 0..0);
        let (mut from, mut length) = (0, 0.0);
        for (i, kept) in pieces.enumerate() {
            if !kept {
                (from, length) = (i + 1, 0.0);
                continue;
            }
            length += all[i].point.distance(all[i + 1].point);
            if length > longest.0 {
                longest = (length, from..i + 2);
            }
        }
        let whole = longest.1 == (0..all.len());
        let nodes = all.get(longest.1).unwrap_or_default().to_vec();
        (nodes.len() > 1).then_some(SkinContour {
            nodes,
            closed: contour.closed && whole,
        })
    }

    /// Its places where something that is measured at them is nothing, in order, with their distances along the contour
    /// from its first node, mm.
    #[must_use]
    pub fn crossings(
        &self,
        contour: &SkinContour,
        measured: impl Fn(&ContourNode) -> f64,
    ) -> Vec<(f64, ContourNode)> {
        let mut found: Vec<(f64, ContourNode)> = Vec::new();
        let mut along = 0.0;
        for pair in contour.nodes.windows(2) {
            if let Some(node) = self.crossing(&pair[0], &pair[1], &measured) {
                let again = |last: &(f64, ContourNode)| same(last.1.point, node.point);
                if !found.last().is_some_and(again) {
                    found.push((along + length_between(&pair[0], &node), node));
                }
            }
            along += length_between(&pair[0], &pair[1]);
        }
        found
    }

    fn with_crossings(
        &self,
        nodes: &[ContourNode],
        measured: impl Fn(&ContourNode) -> f64,
    ) -> Vec<ContourNode> {
        let mut out: Vec<ContourNode> = nodes.first().copied().into_iter().collect();
        for pair in nodes.windows(2) {
            let between = self.crossing(&pair[0], &pair[1], &measured);
            out.extend(between.filter(|node| {
                !same(node.point, pair[0].point) && !same(node.point, pair[1].point)
            }));
            out.push(pair[1]);
        }
        out
    }

    /// Where something is nothing between two nodes, at either of them included.
    fn crossing(
        &self,
        a: &ContourNode,
        b: &ContourNode,
        measured: &impl Fn(&ContourNode) -> f64,
    ) -> Option<ContourNode> {
        const HALVINGS: usize = 48;
        let (left, right) = (measured(a), measured(b));
        if num::same(left, 0.0) || num::same(right, 0.0) {
            return Some(if num::same(left, 0.0) { *a } else { *b });
        }
        if (left < 0.0) == (right < 0.0) {
            return None;
        }
        let between = |share: f64| {
            let at = [0, 1].map(|k| a.at[k] + (b.at[k] - a.at[k]) * share);
            let node = self.settle(at, b.at)?;
            Some(ContourNode {
                tangent: node.tangent * node.tangent.dot(b.point - a.point).signum(),
                ..node
            })
        };
        let (mut low, mut high) = (0.0, 1.0);
        for _ in 0..HALVINGS {
            let middle = f64::midpoint(low, high);
            if (measured(&between(middle)?) < 0.0) == (left < 0.0) {
                low = middle;
            } else {
                high = middle;
            }
        }
        between(f64::midpoint(low, high))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::document::{TableOptions, read_table};
    use crate::loft::Loft;

    /// A body of crown, keel and waterlines that narrows aft.
    fn narrowing() -> Loft {
        let mut table = String::from("STA (mm),crown,WL 900,WL 750,WL 500,WL 250,WL 100,keel\n");
        for i in 0..9 {
            let x = 250.0 * f64::from(i);
            let r = 500.0 - 2e-5 * x * x;
            let at = |z: f64| (r * r - (z - 500.0) * (z - 500.0)).max(0.0).sqrt();
            table += &format!("{x},{}", 500.0 + r);
            for z in [900.0, 750.0, 500.0, 250.0, 100.0] {
                table += &format!(",{:.4}", at(z));
            }
            table += &format!(",{}\n", 500.0 - r);
        }
        let lines = read_table(table.as_bytes(), &TableOptions::default())
            .unwrap()
            .lines();
        Loft::build(&lines.body).unwrap()
    }

    /// How far a place lies from the surface, by the nearest of its places: Gauss and Newton's method from a guess.
    fn distance_from(surface: &Surface, point: DVec3, guess: [f64; 2]) -> f64 {
        let [mut u, mut v] = guess;
        for _ in 0..30 {
            let jet = surface.jet(u, v);
            let Some([du, dv]) = in_parameters(&jet, point - jet.s) else {
                break;
            };
            (u, v) = (u + du, (v + dv).clamp(0.0, 1.0));
        }
        let jet = surface.jet(u, v);
        (point - jet.s).dot(jet.normal())
    }

    #[test]
    fn a_contour_lies_in_its_plane_and_so_far_from_the_loft_between_its_nodes_too() {
        let loft = narrowing();
        let slope = 0.07_f64;
        let planes = [
            CuttingPlane::station(1100.0),
            CuttingPlane::waterline(640.0),
            CuttingPlane {
                normal: DVec3::new(num::cos(slope), 0.0, -num::sin(slope)),
                offset: 900.0,
            },
        ];
        for (plane, distance) in planes
            .into_iter()
            .flat_map(|p| [-1.2, 0.0, 6.0].map(|d| (p, d)))
        {
            for accuracy in [0.1, 0.01, 0.001] {
                let surface = loft.surface();
                let cut = SkinCut {
                    surface,
                    distance,
                    plane,
                };
                let contours = cut.contours(accuracy);
                assert_eq!(contours.len(), 1, "{plane:?}");
                for pair in contours[0].nodes.windows(2) {
                    for i in 0..=4 {
                        let node = between(&pair[0], &pair[1], f64::from(i) / 4.0);
                        assert!((plane.normal.dot(node) - plane.offset).abs() < 1e-8);
                        let off = distance_from(surface, node, pair[0].at) - distance;
                        assert!(
                            off.abs() <= accuracy,
                            "{plane:?} {distance} {accuracy}: {off}"
                        );
                    }
                }
            }
        }
    }

    #[test]
    fn a_part_ends_where_it_is_told_to() {
        let loft = narrowing();
        let cut = SkinCut {
            surface: loft.surface(),
            distance: -1.2,
            plane: CuttingPlane::station(1100.0),
        };
        let whole = &cut.contours(0.01)[0];
        let lower = cut.part(whole, |node| node.point.z, [0.0, 400.0]).unwrap();
        let ends = [&lower.nodes[0], &lower.nodes[lower.nodes.len() - 1]];
        assert!((ends[0].point.z - 400.0).abs() < 1e-6 || (ends[1].point.z - 400.0).abs() < 1e-6);
        assert!(lower.nodes.iter().all(|node| node.point.z <= 400.0 + 1e-6));
        let crossed = cut.crossings(whole, |node| node.point.z - 400.0);
        assert_eq!(crossed.len(), 1);
        assert!(
            cut.part(whole, |node| node.point.z, [2000.0, 3000.0])
                .is_none()
        );
    }
}
