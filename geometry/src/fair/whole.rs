//! The whole surface faired at once: every point within its tolerance where it can be, and those named that could only be
//! met by a dent.
//!
//! In: a document and its loft. Out: a [`Proposal`] of moves, which changes nothing by itself.

use super::programme::{NoOptimum, Programme};
use crate::document::{Edit, Fixes, Lines, Moved, Offset, PointId};
use crate::loft::{Loft, LoftError, LoftPoint, Net, normal_of};
use crate::num::linear::Terms;
use crate::spline::Surface;

/// A point is met by a dent only, where it lies further than this past its tolerance, mm.
const PAST: f64 = 0.02;

/// Twice the pull of closeness: how much each millimetre past its tolerance costs a point, beside the energy.
const SHOULDER: f64 = 2.0;

/// The normals of the sections are taken anew so many times.
const ROUNDS: usize = 2;

/// Moves smaller than this are none, mm: accepted values are kept to it.
const STEP: f64 = 0.01;

/// What is proposed for one point.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PointMove {
    /// The point.
    pub point: PointId,
    /// The coordinates that are to be accepted: half-breadth (or the distance along a diagonal) and height, mm; none where it
    /// was not read.
    pub to: [Option<f64>; 2],
    /// How far they move, mm.
    pub by: [Option<f64>; 2],
    /// How far the point lies off its readings then, along the section's normal, mm, outward positive.
    pub off: f64,
    /// How far its readings let it, mm.
    pub tolerance: f64,
    /// How hard it holds the surface from being fairer: what the cost would gain for each millimetre of more tolerance.
    pub pull: f64,
}

impl PointMove {
    /// Whether it lies past its tolerance.
    #[must_use]
    pub fn is_past(&self) -> bool {
        self.off.abs() > self.tolerance + PAST
    }
}

/// A surface that is proposed, as the moves of the points.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Proposal {
    /// Every point that moves.
    pub moves: Vec<PointMove>,
    /// How stiff the whole surface was taken, by cross-validation.
    pub stiffness: Option<f64>,
    /// How far a fairing of that stiffness would move the faired surface once more at most, mm: about as much as it flattens
    /// full places.
    pub bias: Option<f64>,
    /// How far the surface moves most, along its normal at any point, mm.
    pub largest: f64,
    /// The root of the mean square of that, mm.
    pub rms: f64,
}

impl Proposal {
    /// The step that takes it, but for these points.
    #[must_use]
    pub fn edit(&self, without: &[PointId]) -> Edit {
        let taken = self.moves.iter().filter(|m| !without.contains(&m.point));
        let moved = taken.map(|m| Moved {
            point: m.point,
            half_breadth: m.to[0],
            height: m.to[1],
        });
        Edit::MoveAll(moved.collect())
    }
}

/// Why nothing is proposed.
#[derive(Clone, Debug, PartialEq)]
pub enum NoProposal {
    /// It was told to stop.
    Stopped,
    /// There is no loft to begin with.
    NoLoft(LoftError),
    /// The programme has no optimum.
    NotFound(NoOptimum),
}

impl From<LoftError> for NoProposal {
    fn from(error: LoftError) -> Self {
        Self::NoLoft(error)
    }
}

/// Fairs the whole surface.
///
/// Least energy and closeness to the readings, each within its tolerance along the section's normal; past it a reading pulls
/// with a constant force, so that a misprint can't dent the surface far.
///
/// # Errors
/// [`NoProposal`]; `stop` is asked before each programme.
///
/// # Accuracy
/// The optimum to 1e-9 of its cost. What the stiffness flattens is estimated by [`Proposal::bias`].
///
/// # Source
/// Huber, *Robust Estimation of a Location Parameter* (1964), for the shoulder; Tukey, *Exploratory Data Analysis* (1977), for
/// the bias of a smoother by smoothing twice; the programme is ours.
pub fn fair_whole(
    lines: &Lines,
    loft: &Loft,
    stop: &dyn Fn() -> bool,
) -> Result<Proposal, NoProposal> {
    let net = Net::of(lines, loft)?;
    let offsets = loft.offsets(lines);
    let offsets: Vec<&Offset> = offsets.iter().flatten().collect();
    if stop() {
        return Err(NoProposal::Stopped);
    }
    let stiffness = net.cross_validated(loft.points())?;
    let weights = net.weights();
    let mut unknowns = net.of_surface(loft.surface());
    let mut pulls = Vec::new();
    for _ in 0..ROUNDS {
        if stop() {
            return Err(NoProposal::Stopped);
        }
        let firm = (stiffness, weights.as_slice());
        let found = round(&net, loft.points(), &offsets, &unknowns, firm);
        (unknowns, pulls) = found.map_err(NoProposal::NotFound)?;
    }
    let surface = net.surface(&unknowns);
    let mut proposal = moves(&surface, loft, &offsets, &pulls, true);
    proposal.stiffness = Some(stiffness);
    let twice = net.smoothed(&surface, loft.points(), stiffness)?;
    let off = loft.points().iter().map(|point| {
        let jet = surface.jet(point.u, point.v);
        let [y, z] = normal_of(point.on, &jet);
        let moved = twice.position(point.u, point.v) - jet.s;
        (y * moved.y + z * moved.z).abs()
    });
    proposal.bias = Some(off.fold(0.0, f64::max));
    Ok(proposal)
}

/// One programme, with the normals of the surface before.
fn round(
    net: &Net,
    points: &[LoftPoint],
    offsets: &[&Offset],
    before: &[f64],
    (stiffness, weights): (f64, &[f64]),
) -> Result<(Vec<f64>, Vec<f64>), NoOptimum> {
    let surface = net.surface(before);
    let n = before.len();
    let mut programme = Programme::new(n);
    programme.quadratic = net.energy();
    for (terms, value) in net.held(before) {
        programme.equal(terms, value);
    }
    let closeness = 1.0 / stiffness;
    let mut boxes = Vec::with_capacity(points.len());
    for ((point, offset), weight) in points.iter().zip(offsets).zip(weights) {
        let normal = normal_of(point.on, &surface.jet(point.u, point.v));
        let along = [-normal[1], normal[0]];
        let tolerance = offset.fixes.tolerance_along(offset.tolerance, normal);
        let weight = closeness * weight;
        let [y, z] = net.place(point.u, point.v);
        let towards = |[a, b]: [f64; 2]| -> (Terms, f64) {
            let mut terms: Terms = y.iter().map(|&(i, value)| (i, a * value)).collect();
            terms.extend(z.iter().map(|&(i, value)| (i, b * value)));
            (terms, a * offset.recorded[0] + b * offset.recorded[1])
        };
        // off + S·n − over + under = P·n, with |off| within its box.
        let off = programme.variable(weight, 0.0);
        let over = programme.variable(0.0, SHOULDER * weight * tolerance);
        let under = programme.variable(0.0, SHOULDER * weight * tolerance);
        let (mut terms, value) = towards(normal);
        terms.extend([(off, 1.0), (over, 1.0), (under, -1.0)]);
        programme.equal(terms, value);
        boxes.push(programme.bounds.len());
        programme.at_most(vec![(off, 1.0)], tolerance);
        programme.at_most(vec![(off, -1.0)], tolerance);
        programme.at_most(vec![(over, -1.0)], 0.0);
        programme.at_most(vec![(under, -1.0)], 0.0);
        // A slide along the girth is held as firmly, though it moves no line.
        let slide = programme.variable(weight, 0.0);
        let (mut terms, value) = towards(along);
        terms.push((slide, 1.0));
        programme.equal(terms, value);
    }
    let mut best = programme.solve()?;
    best.x.truncate(n);
    let pulls = boxes
        .into_iter()
        .map(|at| best.pulls[at].max(best.pulls[at + 1]));
    Ok((best.x, pulls.collect()))
}

/// What brings the points of a loft to another surface by as much as that lies off the loft's own.
pub(super) fn moves_by(surface: &Surface, lines: &Lines, loft: &Loft) -> Proposal {
    let offsets = loft.offsets(lines);
    let offsets: Vec<&Offset> = offsets.iter().flatten().collect();
    moves(surface, loft, &offsets, &[], false)
}

/// What brings the points onto a surface (`onto`), or as far as it has moved.
fn moves(
    surface: &Surface,
    loft: &Loft,
    offsets: &[&Offset],
    pulls: &[f64],
    onto: bool,
) -> Proposal {
    let mut proposal = Proposal::default();
    let mut squares = 0.0;
    for (k, (point, offset)) in loft.points().iter().zip(offsets).enumerate() {
        let normal = normal_of(point.on, &surface.jet(point.u, point.v));
        let at = surface.position(point.u, point.v);
        let before = loft.surface().position(point.u, point.v);
        let step = [at.y - before.y, at.z - before.z];
        let along = |y: f64, z: f64| normal[0] * y + normal[1] * z;
        let moved = along(step[0], step[1]);
        proposal.largest = proposal.largest.max(moved.abs());
        squares += moved * moved;
        if !onto && moved.abs() < STEP {
            continue;
        }
        let place = if onto {
            [at.y, at.z]
        } else {
            let [y, z] = offset.accepted;
            [y + step[0], z + step[1]]
        };
        let [y, z] = offset.recorded;
        let to = accepted(offset, place, normal);
        let now = accepted_now(offset);
        let by = [0, 1].map(|k| Some(to[k]? - now[k]?));
        if by.iter().flatten().any(|by| by.abs() >= STEP / 2.0) {
            proposal.moves.push(PointMove {
                point: point.point,
                to,
                by,
                off: along(place[0] - y, place[1] - z),
                tolerance: offset.fixes.tolerance_along(offset.tolerance, normal),
                pull: pulls.get(k).copied().unwrap_or_default(),
            });
        }
    }
    proposal.rms = (squares / loft.points().len().max(1) as f64).sqrt();
    proposal
}

/// What is to be accepted of a point so that the surface meets it: only what was read, in its own plane.
fn accepted(offset: &Offset, [y, z]: [f64; 2], [ny, nz]: [f64; 2]) -> [Option<f64>; 2] {
    // Where the section is steep enough against the plane, the surface's place in it.
    const STEEP: f64 = 0.3;
    let rounded = |value: f64| Some((value / STEP).round() * STEP);
    match offset.fixes {
        Fixes::HalfBreadth if ny.abs() > STEEP => {
            [rounded(y + nz / ny * (z - offset.recorded[1])), None]
        }
        Fixes::HalfBreadth => [rounded(y), None],
        Fixes::Height if nz.abs() > STEEP => {
            [None, rounded(z + ny / nz * (y - offset.recorded[0]))]
        }
        Fixes::Height => [None, rounded(z)],
        Fixes::Both => [rounded(y), rounded(z)],
        Fixes::Along { angle } => {
            let (cos, sin) = (crate::num::cos(angle), crate::num::sin(angle));
            // Along the diagonal from where the point lies now.
            let [now_y, now_z] = offset.accepted;
            let reach = (now_y * now_y / (cos * cos).max(1e-12)).sqrt();
            let step = (y - now_y) * cos - (z - now_z) * sin;
            [rounded(reach + step), None]
        }
    }
}

/// What is accepted of a point now.
fn accepted_now(offset: &Offset) -> [Option<f64>; 2] {
    let [y, z] = offset.accepted;
    match offset.fixes {
        Fixes::HalfBreadth => [Some(y), None],
        Fixes::Height => [None, Some(z)],
        Fixes::Both => [Some(y), Some(z)],
        Fixes::Along { angle } => {
            let cos = crate::num::cos(angle);
            [Some((y * y / (cos * cos).max(1e-12)).sqrt()), None]
        }
    }
}
