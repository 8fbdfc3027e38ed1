//! One board: its plane, its edge as it is cut, and what is marked on it.
//!
//! In: the loft and a [`BoardPlan`]. Out: a [`Board`], all in the board's own plane, seen from where its label says.

use glam::DVec3;

use super::contour::{ContourNode, SkinContour, SkinCut, handles, length_between};
use super::plane::{BoardPlane, BoardView, PlaneKind};
use crate::document::{BoardSide, On};
use crate::lines::{CuttingPlane, View, girth_of, plane_of, run};
use crate::loft::Loft;
use crate::num;
use crate::units::{LengthUnit, Message, format_length_with_unit};

/// How much of a cut a board takes in.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Reach {
    /// From one line round the girth to another, by `v`: of a board across the body.
    Girth([f64; 2]),
    /// From one distance aft to another, mm: of a board along it.
    Along([f64; 2]),
}

/// What board is wanted.
#[derive(Clone, Debug, PartialEq)]
pub struct BoardPlan {
    /// What it is called: `T-90 lower`.
    pub code: String,
    /// Its plane.
    pub plane: BoardPlane,
    /// How much of the cut it takes in.
    pub reach: Reach,
    /// How far from the loft its edge is cut, along the outward normal, mm: a face of the skin, and the allowance.
    pub distance: f64,
    /// On which side it is held.
    pub held: BoardSide,
    /// How wide it is behind its edge, mm.
    pub depth: f64,
}

/// What is marked on a board's edge.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum MarkKind {
    /// A named waterline, buttock line or diagonal.
    Plane,
    /// A run line: crown, joint, knuckle, keel.
    RunLine,
    /// A station, on a board along the body.
    Station,
}

/// A mark on a board's edge.
#[derive(Clone, Debug, PartialEq)]
pub struct BoardMark {
    /// What is marked.
    pub kind: MarkKind,
    /// By what name.
    pub name: String,
    /// Where, to the right and up, mm.
    pub at: (f64, f64),
    /// Unit direction out of the skin.
    pub outward: (f64, f64),
    /// How far along the edge from its first end, mm.
    pub along: f64,
}

/// A straight trace of a named plane on a board: where `across · place = at`.
#[derive(Clone, Debug, PartialEq)]
pub struct TraceLine {
    /// The plane's name.
    pub name: String,
    /// Unit direction square to it, to the right and up.
    pub across: (f64, f64),
    /// Where along that direction, mm.
    pub at: f64,
}

/// How the skin leans from square to a board, at one end of its edge or at a mark.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Lean {
    /// How far along the edge from its first end, mm.
    pub along: f64,
    /// Angle by which the outward normal leans out of the board's plane towards its far side, rad.
    pub bevel: f64,
}

/// A board in its own plane.
#[derive(Clone, Debug, PartialEq)]
pub struct Board {
    /// Corners behind the edge, from its last end round to its first, mm.
    pub back: Vec<(f64, f64)>,
    /// What was wanted.
    pub plan: BoardPlan,
    /// Bézier points of its edge, piece by piece, to the right and up, mm.
    pub edge: Vec<[(f64, f64); 4]>,
    /// Where on the loft each piece of its edge begins and ends, by `u` and `v`.
    pub on_loft: Vec<[[f64; 2]; 2]>,
    /// Length of the edge, mm.
    pub length: f64,
    /// Marks on the edge, in order along it.
    pub marks: Vec<BoardMark>,
    /// Straight traces of the document's planes.
    pub traces: Vec<TraceLine>,
    /// How the skin leans at both ends and where it leans most.
    pub leans: Vec<Lean>,
    /// The outward direction at the middle of the edge.
    pub outward: (f64, f64),
}

/// Why there is no board.
#[derive(Clone, Debug, PartialEq)]
pub enum BoardError {
    /// The plane does not cut the skin there.
    Missed {
        /// The board.
        code: String,
    },
    /// The skin is bent or hollowed more than the distance lets it be.
    TooTight {
        /// The board.
        code: String,
        /// How far from the loft it was to be cut, mm.
        distance: f64,
    },
}

impl Message for BoardError {
    fn message(&self, unit: LengthUnit) -> String {
        match self {
            Self::Missed { code } => format!(
                "{code} does not cut the skin between the lines chosen: take another place, or another part of the girth."
            ),
            Self::TooTight { code, distance } => format!(
                "{code} can't be cut {} {} the loft: the skin is bent more tightly there. Take a smaller allowance.",
                format_length_with_unit(distance.abs(), unit),
                if *distance > 0.0 { "outside" } else { "inside" }
            ),
        }
    }
}

/// How near cubics run to the surface, mm: a quarter of what a cutter keeps.
const ACCURACY: f64 = 0.0025;

/// A line from which an edge is no further round the girth, by `v`, is that edge.
const ITS_EDGE: f64 = 1e-4;

/// Half-breadths under zero that are none, mm.
const NONE: f64 = 1e-9;

impl Board {
    /// Lays a board out on a loft.
    ///
    /// # Accuracy
    /// The edge to 0.0025 mm of the surface; marks to 1e-6 mm along it. Of several pieces of a cut the longest is taken.
    ///
    /// # Errors
    /// [`BoardError`].
    pub fn lay_out(loft: &Loft, plan: BoardPlan) -> Result<Self, BoardError> {
        let cut = SkinCut {
            surface: loft.surface(),
            distance: plan.distance,
            plane: plan.plane.cutting,
        };
        let contour = edge_of(loft, &cut, &plan).ok_or_else(|| BoardError::Missed {
            code: plan.code.clone(),
        })?;
        let seen = plan.plane.seen;
        let edge: Vec<[(f64, f64); 4]> = { contour.nodes.windows(2) }
            .map(|pair| handles(&pair[0], &pair[1]).map(|place| seen.flat(place)))
            .collect();
        let middle = &contour.nodes[contour.nodes.len() / 2];
        let on_loft = { contour.nodes.windows(2) }.map(|pair| [pair[0].at, pair[1].at]);
        Ok(Self {
            on_loft: on_loft.collect(),
            length: length_of(&contour),
            marks: marks(loft, &cut, &seen, &contour, plan.reach),
            traces: traces(loft, &cut, &seen, plan.reach),
            leans: leans(&cut, &contour),
            outward: outward(&seen, middle),
            back: back(&edge, &contour, &seen, &plan),
            edge,
            plan,
        })
    }

    /// Which pieces of its edge lie on skin of which nothing was read: by their middles, those within patches
    /// that are `carried`, as [`Loft::carried`] names them.
    #[must_use]
    pub fn carried(&self, loft: &Loft, carried: &[bool]) -> Vec<bool> {
        let is = |at: [f64; 2]| loft.is_carried(carried, at);
        let lies = |[a, b]: &[[f64; 2]; 2]| {
            is([0, 1].map(|k| f64::midpoint(a[k], b[k]))) || (is(*a) && is(*b))
        };
        self.on_loft.iter().map(lies).collect()
    }

    /// How far a board may lean out of its plane about its foot so that its edge stays within an error, rad.
    ///
    /// A place of the edge at a height h over the foot moves out of the plane by h sin δ, along skin that leans by β: by
    /// h sin δ tan β from where it should be.
    ///
    /// # Units
    /// - `error`: mm
    /// - `foot`: how deep the board is from its edge to its foot, mm
    /// - returns: no more than a right angle
    ///
    /// # Source
    /// Common practice; the formula is plane geometry.
    #[must_use]
    pub fn allowed_lean(&self, error: f64, foot: f64) -> f64 {
        let steepest =
            { self.leans.iter() }.fold(0.0, |most: f64, lean| most.max(lean.bevel.abs()));
        let moved = foot * num::sin(steepest) / num::cos(steepest);
        num::asin((error / moved).min(1.0))
    }
}

/// The edge as far as it reaches: one half of the body, to the centre plane.
fn edge_of(loft: &Loft, cut: &SkinCut<'_>, plan: &BoardPlan) -> Option<SkinContour> {
    let reaching = |contour: &SkinContour| match plan.reach {
        Reach::Girth(within) => cut.part(contour, |node| node.at[1], within),
        Reach::Along(within) => cut.part(contour, |node| node.point.x, within),
    };
    if let (Some(v), PlaneKind::Along(_)) = (centreline(loft, plan), plan.plane.kind) {
        // The half's own edge lies in the plane: nothing cuts there.
        let nodes = run(loft.surface(), v, View::Profile, 10.0 * ACCURACY).nodes;
        let at = |i: usize| [nodes[i].u, nodes[i].v];
        let beside = |i: usize| if i + 1 < nodes.len() { i + 1 } else { i - 1 };
        let settled = (0..nodes.len()).map(|i| {
            let node = cut.settle(at(i), at(beside(i)))?;
            let along = node.tangent.dot(nodes[i].tangent).signum();
            Some(ContourNode {
                tangent: node.tangent * along,
                ..node
            })
        });
        let contour = SkinContour {
            nodes: settled.collect::<Option<_>>()?,
            closed: false,
        };
        return reaching(&contour);
    }
    let contours = cut.contours(ACCURACY);
    let half = |contour: &SkinContour| {
        // Past a peak the inside of the skin crosses the centre plane.
        reaching(&cut.part(contour, |node| node.point.y, [-NONE, f64::INFINITY])?)
    };
    let parts = contours.iter().filter_map(half);
    match plan.plane.near {
        Some(near) => parts.min_by(|a, b| far(a, near).total_cmp(&far(b, near))),
        None => parts.max_by(|a, b| length_of(a).total_cmp(&length_of(b))),
    }
}

/// By `v`, the centreline along which a board in the centre plane is meant.
fn centreline(loft: &Loft, plan: &BoardPlan) -> Option<f64> {
    let near = plan.plane.near?;
    let CuttingPlane { normal, offset } = plan.plane.cutting;
    let own = normal.y.abs() > 1.0 - NONE && offset.abs() < NONE;
    let surface = loft.surface();
    let u = surface.u_at(near.x);
    let off = |v: f64| surface.jet(u, v).s.distance(near);
    let edges = [0.0, 1.0].into_iter().filter(|_| own);
    edges.min_by(|a, b| off(*a).total_cmp(&off(*b)))
}

/// How far a place is from the nearest node.
fn far(contour: &SkinContour, place: DVec3) -> f64 {
    let off = contour.nodes.iter().map(|node| node.point.distance(place));
    off.fold(f64::INFINITY, f64::min)
}

fn length_of(contour: &SkinContour) -> f64 {
    let pieces = contour.nodes.windows(2);
    pieces.map(|pair| length_between(&pair[0], &pair[1])).sum()
}

/// The corners of a board behind its edge, from the last end of that to its first: from each end straight away from the skin,
/// up, down or to a side, to a box about the edge, and along the box from the one to the other.
fn back(
    edge: &[[(f64, f64); 4]],
    contour: &SkinContour,
    seen: &BoardView,
    plan: &BoardPlan,
) -> Vec<(f64, f64)> {
    let away = match plan.held {
        BoardSide::Outside => 1.0,
        BoardSide::Inside => -1.0,
    };
    let side_of = |node: &ContourNode| {
        let (right, up) = outward(seen, node);
        let (right, up) = (right * away, up * away);
        // Sides of the box in turn: right, top, left, foot.
        match (right.abs() > up.abs(), right > 0.0, up > 0.0) {
            (true, true, _) => 0,
            (false, _, true) => 1,
            (true, false, _) => 2,
            (false, _, false) => 3,
        }
    };
    let (Some(first), Some(last)) = (contour.nodes.first(), contour.nodes.last()) else {
        return Vec::new();
    };
    let ends = [side_of(last), side_of(first)];
    let corners = edge.iter().flatten();
    let mut sides = [f64::NEG_INFINITY; 4];
    for (right, up) in corners {
        for (side, value) in sides.iter_mut().zip([*right, *up, -right, -up]) {
            *side = side.max(value);
        }
    }
    // BoardSide inside, what two ends away from each other leave between them is board enough.
    let round: Vec<usize> = turns(ends, side_of(&contour.nodes[contour.nodes.len() / 2]));
    for side in 0..4 {
        let wide = match plan.held {
            BoardSide::Outside => round.contains(&side),
            BoardSide::Inside => ends == [side; 2],
        };
        if wide {
            sides[side] += plan.depth;
        }
    }
    let [right, top, left, foot] = [sides[0], sides[1], -sides[2], -sides[3]];
    let on = |side: usize, (x, y): (f64, f64)| match side {
        0 => (right, y),
        1 => (x, top),
        2 => (left, y),
        _ => (x, foot),
    };
    let corner = |a: usize, b: usize| on(a, on(b, (0.0, 0.0)));
    let end = edge.last().map_or((0.0, 0.0), |piece| piece[3]);
    let start = edge.first().map_or((0.0, 0.0), |piece| piece[0]);
    let mut corners = vec![on(ends[0], end)];
    corners.extend(round.windows(2).map(|pair| corner(pair[0], pair[1])));
    corners.push(on(ends[1], start));
    corners
}

/// The sides of a box in turn from one to another, by the way that passes a third, or else the shorter.
fn turns([from, to]: [usize; 2], by: usize) -> Vec<usize> {
    let way = |step: usize| {
        let mut sides = vec![from];
        let mut side = from;
        while side != to {
            side = (side + step) % 4;
            sides.push(side);
        }
        sides
    };
    let (one, other) = (way(1), way(3));
    let shorter = one.len() <= other.len();
    match (one.contains(&by), other.contains(&by)) {
        (true, false) => one,
        (false, true) => other,
        _ if shorter => one,
        _ => other,
    }
}

fn outward(seen: &BoardView, node: &ContourNode) -> (f64, f64) {
    let (right, up) = seen.direction(node.normal);
    let length = num::hypot(right, up);
    (right / length, up / length)
}

/// What the edge passes: the document's planes, its run lines and, along the body, its stations.
fn marks(
    loft: &Loft,
    cut: &SkinCut<'_>,
    seen: &BoardView,
    contour: &SkinContour,
    reach: Reach,
) -> Vec<BoardMark> {
    let body = loft.body();
    let mut marks = Vec::new();
    let mut mark = |kind, name: &str, measured: &dyn Fn(&ContourNode) -> f64| {
        let crossings = cut.crossings(contour, measured);
        marks.extend(crossings.into_iter().map(|(along, node)| BoardMark {
            kind,
            name: name.to_owned(),
            at: seen.flat(node.point),
            outward: outward(seen, &node),
            along,
        }));
    };
    for plane in &body.planes {
        let CuttingPlane { normal, offset } = plane_of(plane.place);
        if is_across(normal, cut.plane.normal) {
            mark(MarkKind::Plane, &plane.name, &|node| {
                normal.dot(node.point) - offset
            });
        }
    }
    let lines = body.run_lines.iter().map(|line| On::RunLine(line.id));
    for on in [On::Crown, On::Keel].into_iter().chain(lines) {
        if let (Some(v), Some(name)) = (girth_of(loft, on), body.line_name(on)) {
            // The line along which a board stands is its edge.
            if contour
                .nodes
                .iter()
                .all(|node| (node.at[1] - v).abs() < ITS_EDGE)
            {
                continue;
            }
            mark(MarkKind::RunLine, &name, &|node| node.at[1] - v);
        }
    }
    if matches!(reach, Reach::Along(_)) {
        for station in &body.stations {
            let name = format!("STA {}", station.label);
            mark(MarkKind::Station, &name, &|node| node.point.x - station.x);
        }
    }
    marks.sort_by(|a: &BoardMark, b| a.along.total_cmp(&b.along));
    marks
}

/// Whether a plane crosses the board's own in a line.
fn is_across(normal: DVec3, own: DVec3) -> bool {
    const PARALLEL: f64 = 1e-6;
    normal.cross(own).length() > PARALLEL
}

/// Named planes, and along the body stations, as they cross the board's.
fn traces(loft: &Loft, cut: &SkinCut<'_>, seen: &BoardView, reach: Reach) -> Vec<TraceLine> {
    let body = loft.body();
    let planes = { body.planes.iter() }.map(|plane| (plane.name.clone(), plane_of(plane.place)));
    let stations = body.stations.iter().map(|station| {
        let name = format!("STA {}", station.label);
        (name, CuttingPlane::station(station.x))
    });
    let along = matches!(reach, Reach::Along(_));
    let mut traces = Vec::new();
    for (name, CuttingPlane { normal, offset }) in planes.chain(stations.filter(|_| along)) {
        if !is_across(normal, cut.plane.normal) {
            continue;
        }
        let (right, up) = seen.direction(normal);
        let length = num::hypot(right, up);
        traces.push(TraceLine {
            name,
            across: (right / length, up / length),
            at: (offset - normal.dot(seen.origin)) / length,
        });
    }
    traces
}

/// How the skin leans at both ends and where it leans most.
fn leans(cut: &SkinCut<'_>, contour: &SkinContour) -> Vec<Lean> {
    let mut along = 0.0;
    let mut all: Vec<Lean> = Vec::with_capacity(contour.nodes.len());
    for (i, node) in contour.nodes.iter().enumerate() {
        if i > 0 {
            along += length_between(&contour.nodes[i - 1], node);
        }
        let bevel = num::asin(node.normal.dot(cut.plane.normal).clamp(-1.0, 1.0));
        all.push(Lean { along, bevel });
    }
    let most = all
        .iter()
        .copied()
        .max_by(|a, b| a.bevel.abs().total_cmp(&b.bevel.abs()));
    let ends = all.first().copied().into_iter().chain(all.last().copied());
    let mut leans: Vec<Lean> = ends.chain(most).collect();
    leans.sort_by(|a, b| a.along.total_cmp(&b.along));
    leans.dedup_by(|b, a| num::same(a.along, b.along));
    leans
}
