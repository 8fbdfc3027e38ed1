//! The whole surface faired at once: every point within its tolerance where it can be, and those named that could only be
//! met by a dent.
//!
//! In: a document and its loft. Out: a [`Proposal`] of moves, which changes nothing by itself. Where all points keep their
//! tolerances the faired surface is one solve of a band. Where some do not, only the forces with which those pull are sought:
//! how the whole surface gives to each is one more solve.

use super::programme::{NoOptimum, Programme};
use crate::document::body::offsets::PAST;
use crate::document::{BodyEdit, Fixes, Moved, Offset, On, PointId};
use crate::loft::{Answers, Drawn, Loft, LoftError, LoftPoint, Net, normal_of};
use crate::num::linear::{Terms, times};
use crate::spline::Surface;
use crate::units::{LengthUnit, Message};

/// Twice the pull of closeness: how much each millimetre past its tolerance costs a point, beside the energy.
const SHOULDER: f64 = 2.0;

/// The normals of the sections are taken anew so many times.
const ROUNDS: usize = 2;

/// A point off by this share of its tolerance is taken among those that may pull.
const NEAR: f64 = 0.8;

/// Square of the cosine of a diagonal that is taken for upright, along which a half-breadth says no distance.
const UPRIGHT: f64 = 1e-12;

/// Where more points than this pull, the surface's own unknowns are fewer work than the forces.
const MANY: usize = 150;

/// Moves smaller than this are none, mm: accepted values are kept to it.
pub(super) const STEP: f64 = 0.01;

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
}

impl Proposal {
    /// The step that takes it, but for these points.
    #[must_use]
    pub fn edit(&self, without: &[PointId]) -> BodyEdit {
        let taken = self.moves.iter().filter(|m| !without.contains(&m.point));
        let moved = taken.map(|m| Moved {
            point: m.point,
            half_breadth: m.to[0],
            height: m.to[1],
        });
        BodyEdit::MoveAll(moved.collect())
    }
}

/// Why nothing is proposed.
#[derive(Clone, Debug, PartialEq)]
pub enum NoProposal {
    /// It was told to stop.
    Stopped,
    /// There is no loft to begin with.
    NoLoft(LoftError),
    /// The line can't lose its turns for what is held of it: its ends, the ducks on it, or what lies outside a stretch.
    Held,
    /// The programme has no optimum.
    NotFound(NoOptimum),
}

impl Message for NoProposal {
    fn message(&self, unit: LengthUnit) -> String {
        match self {
            Self::NoLoft(error) => error.message(unit),
            Self::Held => "With so much of it held the line can't be made fairer: lift a duck, free an end, let it move over \
                           more stations, or allow it more peaks."
                .to_owned(),
            Self::Stopped => "Stopped.".to_owned(),
            Self::NotFound(_) => {
                "No fair lines were found. Set what is doubtful aside and try again.".to_owned()
            }
        }
    }
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
/// [`NoProposal`]; `stop` is asked before each part, with the part's name.
///
/// # Accuracy
/// The optimum to 1e-9 of its cost. What the stiffness flattens is estimated by [`Proposal::bias`].
///
/// # Source
/// Huber, *Robust Estimation of a Location Parameter* (1964), for the shoulder; Tukey, *Exploratory Data Analysis* (1977), for
/// the bias of a smoother by smoothing twice; the programme is ours.
pub fn fair_whole(loft: &Loft, stop: &dyn Fn(&str) -> bool) -> Result<Proposal, NoProposal> {
    let net = Net::of(loft)?;
    let offsets = loft.offsets();
    let offsets: Vec<&Offset> = offsets.iter().flatten().collect();
    if stop("its stiffness") {
        return Err(NoProposal::Stopped);
    }
    let stiffness = net.cross_validated(loft.points())?;
    let drawn = net.drawn(stiffness)?;
    let mut whole = Whole::new(&net, &drawn, loft.points(), &offsets, stiffness);
    let mut surface = loft.surface().clone();
    let mut pulls = Vec::new();
    for round in 1..=ROUNDS {
        if stop(&format!("round {round} of {ROUNDS}")) {
            return Err(NoProposal::Stopped);
        }
        (surface, pulls) = whole.round(&surface).map_err(NoProposal::NotFound)?;
    }
    let mut proposal = moves(&surface, loft, &offsets, &pulls, None);
    proposal.stiffness = Some(stiffness);
    let twice = drawn.smoothed(&surface, loft.points());
    let off = loft.points().iter().map(|point| {
        let jet = surface.jet(point.u, point.v);
        let [y, z] = normal_of(point.on, &jet);
        let moved = twice.position(point.u, point.v) - jet.s;
        (y * moved.y + z * moved.z).abs()
    });
    proposal.bias = Some(off.fold(0.0, f64::max));
    Ok(proposal)
}

/// The whole surface with its points.
pub(super) struct Whole<'a> {
    net: &'a Net,
    drawn: &'a Drawn<'a>,
    points: &'a [LoftPoint],
    offsets: &'a [&'a Offset],
    weights: Vec<f64>,
    stiffness: f64,
    /// Where the points lie on the surface that is drawn without any tolerance.
    free: Vec<[f64; 2]>,
    /// The points that may pull, and how the surface gives to each.
    pulling: Vec<(usize, Answers)>,
}

/// What holds at each point along its section's normal.
pub(super) struct Along {
    normal: [f64; 2],
    tolerance: f64,
    /// How far it lies off the surface drawn without any tolerance.
    off: f64,
}

impl<'a> Whole<'a> {
    pub(super) fn new(
        net: &'a Net,
        drawn: &'a Drawn<'a>,
        points: &'a [LoftPoint],
        offsets: &'a [&'a Offset],
        stiffness: f64,
    ) -> Self {
        Self {
            net,
            drawn,
            points,
            offsets,
            weights: net.weights(),
            stiffness,
            free: drawn.places(),
            pulling: Vec::new(),
        }
    }

    pub(super) fn along(&self, before: &Surface) -> Vec<Along> {
        let all = self.points.iter().zip(self.offsets).zip(&self.free);
        let along = all.map(|((point, offset), free)| {
            let normal = normal_of(point.on, &before.jet(point.u, point.v));
            let [y, z] = offset.recorded;
            Along {
                normal,
                tolerance: offset.fixes.tolerance_along(offset.tolerance, normal),
                off: normal[0] * (y - free[0]) + normal[1] * (z - free[1]),
            }
        });
        along.collect()
    }

    /// The surface of least cost, with the normals of the one before, and how hard each point holds it.
    pub(super) fn round(&mut self, before: &Surface) -> Result<(Surface, Vec<f64>), NoOptimum> {
        let along = self.along(before);
        let mut off: Vec<f64> = along.iter().map(|along| along.off).collect();
        let mut found = (Vec::new(), Vec::new());
        loop {
            let known = self.pulling.len();
            let near = off.iter().zip(&along).enumerate();
            let near = near.filter(|(k, (off, along))| {
                let new = !self.pulling.iter().any(|(point, _)| point == k);
                new && off.abs() > NEAR * along.tolerance
            });
            let new: Vec<usize> = near.map(|(k, _)| k).collect();
            if known + new.len() > MANY {
                return self.by_unknowns(before);
            }
            for k in new {
                self.pulling.push((k, self.drawn.answers(k)));
            }
            if self.pulling.len() == known && found.0.len() == known {
                break;
            }
            found = self.forces(&along)?;
            for (k, off) in off.iter_mut().enumerate() {
                let given = self.pulling.iter().zip(&found.0);
                let given = given.map(|((j, answers), force)| {
                    force * gives(answers, (k, along[k].normal), along[*j].normal)
                });
                *off = along[k].off - given.sum::<f64>();
            }
        }
        let forces: Vec<(f64, [f64; 2], &Answers)> = { self.pulling.iter().zip(&found.0) }
            .map(|((k, answers), force)| (*force, along[*k].normal, answers))
            .collect();
        let mut pulls = vec![0.0; along.len()];
        for ((k, _), pull) in self.pulling.iter().zip(found.1) {
            pulls[*k] = pull;
        }
        Ok((self.drawn.pulled(&forces), pulls))
    }

    /// The forces of the points that may pull, beside what draws them anyhow, and how hard each holds the surface.
    ///
    /// With c the unknowns, A their least squares and a the normals' rows, `c = c₀ + A⁻¹ aᵀ f`: so `off = off₀ − G f` with
    /// `G = a A⁻¹ aᵀ`, and A costs ½ fᵀ G f more than it must.
    fn forces(&self, along: &[Along]) -> Result<(Vec<f64>, Vec<f64>), NoOptimum> {
        let (programme, boxes) = self.forces_programme(along);
        let mut best = programme.solve()?;
        best.x.truncate(self.pulling.len());
        let pulls = boxes.into_iter();
        let pulls = pulls.map(|at| best.pulls[at].max(best.pulls[at + 1]) / self.stiffness);
        Ok((best.x, pulls.collect()))
    }

    /// The programme of the forces, with where the bounds of each point begin.
    pub(super) fn forces_programme(&self, along: &[Along]) -> (Programme, Vec<usize>) {
        let count = self.pulling.len();
        let mut gives_by = vec![vec![0.0; count]; count];
        for (j, (at, answers)) in self.pulling.iter().enumerate() {
            for (i, (k, _)) in self.pulling.iter().enumerate().take(j + 1) {
                let g = gives(answers, (*k, along[*k].normal), along[*at].normal);
                gives_by[i][j] = g;
                gives_by[j][i] = g;
            }
        }
        let mut programme = Programme::new(count);
        let mut boxes = Vec::with_capacity(count);
        for (i, (k, _)) in self.pulling.iter().enumerate() {
            let Along { tolerance, off, .. } = along[*k];
            let weight = self.weights[*k];
            let shoulder = SHOULDER * weight * tolerance;
            let held = programme.variable(0.0, 0.0);
            let over = programme.variable(weight, shoulder - weight * off);
            let under = programme.variable(weight, shoulder + weight * off);
            programme.quadratic.push((over, under, -weight));
            let mut terms = vec![(held, 1.0), (over, 1.0), (under, -1.0)];
            for (j, g) in gives_by[i].iter().enumerate() {
                if i <= j {
                    programme.quadratic.push((i, j, *g));
                }
                programme.quadratic.push((j, over, weight * g));
                programme.quadratic.push((j, under, -weight * g));
                terms.push((j, *g));
            }
            programme.equal(terms, off);
            boxes.push(keep(&mut programme, [held, over, under], tolerance));
        }
        (programme, boxes)
    }

    /// The same by the surface's own unknowns.
    fn by_unknowns(&self, before: &Surface) -> Result<(Surface, Vec<f64>), NoOptimum> {
        let (programme, boxes) = self.programme(before);
        let mut best = programme.solve()?;
        best.x.truncate(self.net.of_surface(before).len());
        let pulls = boxes.into_iter();
        let pulls = pulls.map(|at| best.pulls[at].max(best.pulls[at + 1]));
        Ok((self.net.surface(&best.x), pulls.collect()))
    }

    /// The programme of all unknowns, with where the bounds of each point begin.
    fn programme(&self, before: &Surface) -> (Programme, Vec<usize>) {
        let unknowns = self.net.of_surface(before);
        let mut programme = Programme::new(unknowns.len());
        programme.quadratic = self.net.energy();
        for (terms, value) in self.net.held(&unknowns) {
            programme.equal(terms, value);
        }
        let mut boxes = Vec::with_capacity(self.points.len());
        let all = self.points.iter().zip(self.offsets).zip(&self.weights);
        for (((point, offset), weight), along) in all.zip(self.along(before)) {
            let Along {
                normal, tolerance, ..
            } = along;
            let weight = weight / self.stiffness;
            let [y, z] = self.net.place(point.u, point.v);
            let towards = |[a, b]: [f64; 2]| -> (Terms, f64) {
                let mut terms = times(&y, a);
                terms.extend(times(&z, b));
                (terms, a * offset.recorded[0] + b * offset.recorded[1])
            };
            // off + S·n − over + under = P·n, with |off| within its box.
            let off = programme.variable(weight, 0.0);
            let over = programme.variable(0.0, SHOULDER * weight * tolerance);
            let under = programme.variable(0.0, SHOULDER * weight * tolerance);
            let (mut terms, value) = towards(normal);
            terms.extend([(off, 1.0), (over, 1.0), (under, -1.0)]);
            programme.equal(terms, value);
            boxes.push(keep(&mut programme, [off, over, under], tolerance));
            // A slide along the girth is held as firmly, though it moves no line.
            let slide = programme.variable(weight, 0.0);
            let (mut terms, value) = towards([-normal[1], normal[0]]);
            terms.push((slide, 1.0));
            programme.equal(terms, value);
        }
        (programme, boxes)
    }
}

/// Keeps a point within its tolerance, and what is past it over zero; tells where these bounds begin.
fn keep(programme: &mut Programme, [off, over, under]: [usize; 3], tolerance: f64) -> usize {
    let at = programme.bounds.len();
    programme.size_at_most(&[(off, 1.0)], tolerance);
    programme.at_most(vec![(over, -1.0)], 0.0);
    programme.at_most(vec![(under, -1.0)], 0.0);
    at
}

/// How far a point moves along its normal by a unit of force along another one's.
fn gives(answers: &Answers, (at, normal): (usize, [f64; 2]), force: [f64; 2]) -> f64 {
    let [y, z] = answers.places[at];
    normal[0] * force[0] * y + normal[1] * force[1] * z
}

/// What brings the points of a loft to another surface along a batten: those of its line onto it, the others by as much as it
/// lies off the loft's own; and each so much `more` along the section's normal, mm.
pub(super) fn moves_by(surface: &Surface, loft: &Loft, (on, more): (On, &[f64])) -> Proposal {
    let offsets = loft.offsets();
    let offsets: Vec<&Offset> = offsets.iter().flatten().collect();
    moves(surface, loft, &offsets, &[], Some((on, more)))
}

/// What brings the points onto a surface; or the loft to it along a batten, and so much more.
fn moves(
    surface: &Surface,
    loft: &Loft,
    offsets: &[&Offset],
    pulls: &[f64],
    batten: Option<(On, &[f64])>,
) -> Proposal {
    let mut proposal = Proposal::default();
    for (k, (point, offset)) in loft.points().iter().zip(offsets).enumerate() {
        let normal = normal_of(point.on, &surface.jet(point.u, point.v));
        let at = surface.position(point.u, point.v);
        let before = loft.surface().position(point.u, point.v);
        let step = [at.y - before.y, at.z - before.z];
        let along = |y: f64, z: f64| normal[0] * y + normal[1] * z;
        let moved = along(step[0], step[1]);
        proposal.largest = proposal.largest.max(moved.abs());
        let place = match batten {
            None => [at.y, at.z],
            Some((on, more)) => {
                let by = [0, 1].map(|n| step[n] + more[k] * normal[n]);
                // A point of a run line may move along the girth too.
                let far = match offset.fixes {
                    Fixes::Both => crate::num::hypot(by[0], by[1]),
                    _ => (moved + more[k]).abs(),
                };
                if far < STEP {
                    continue;
                }
                // Points of the line come to lie on it; others keep their distance from the skin.
                let from = if point.on == on {
                    [before.y, before.z]
                } else {
                    offset.accepted
                };
                [0, 1].map(|n| from[n] + by[n])
            }
        };
        let [y, z] = offset.recorded;
        let to = accepted(offset, place, normal);
        let now = accepted_now(offset);
        let by = [0, 1].map(|k| Some(to[k]? - now[k]?));
        if by.iter().flatten().any(|by| by.abs() >= STEP / 2.0) {
            let off = along(place[0] - y, place[1] - z);
            let tolerance = offset.fixes.tolerance_along(offset.tolerance, normal);
            // Only who stands at the end of his tolerance pulls; what else a solver says of him is its own error.
            let at_its_end = off.abs() > tolerance - PAST;
            let pull = pulls.get(k).copied().filter(|_| at_its_end);
            proposal.moves.push(PointMove {
                point: point.point,
                to,
                by,
                off,
                tolerance,
                pull: pull.unwrap_or_default(),
            });
        }
    }
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
            let step = (y - now_y) * cos - (z - now_z) * sin;
            [rounded(distance_along(now_y, cos) + step), None]
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
        Fixes::Along { angle } => [Some(distance_along(y, crate::num::cos(angle))), None],
    }
}

/// How far along a diagonal a half-breadth lies, by the cosine of its angle, mm.
fn distance_along(y: f64, cos: f64) -> f64 {
    (y * y / (cos * cos).max(UPRIGHT)).sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fair::tests::demo;

    /// The forces of a few points and the programme of all unknowns have one optimum.
    #[test]
    fn the_forces_that_pull_give_the_surface_of_the_whole_programme() {
        let lines = demo();
        let loft = Loft::build(&lines.body).unwrap();
        let net = Net::of(&loft).unwrap();
        let offsets = loft.offsets();
        let offsets: Vec<&Offset> = offsets.iter().flatten().collect();
        for stiffness in [3.0, 100.0] {
            let drawn = net.drawn(stiffness).unwrap();
            let mut whole = Whole::new(&net, &drawn, loft.points(), &offsets, stiffness);
            let (quick, pulls) = whole.round(loft.surface()).unwrap();
            assert!(!whole.pulling.is_empty() && whole.pulling.len() <= MANY);
            let (all, other) = whole.by_unknowns(loft.surface()).unwrap();
            for (point, (a, b)) in loft.points().iter().zip(pulls.iter().zip(&other)) {
                let off = quick.position(point.u, point.v) - all.position(point.u, point.v);
                assert!(off.length() < 1e-3, "{}", off.length());
                assert!((a - b).abs() < 1e-4 * (1.0 + b.abs()), "{a} for {b}");
            }
        }
    }
}
