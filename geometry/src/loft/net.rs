//! The net of a loft as unknowns of a convex programme: its energy, and what a place of it is made of.
//!
//! In: a document. Out: a [`Net`]; its unknowns are those of the half-breadths, then those of the heights.

use super::fit::{Fit, System};
use super::{Loft, LoftError, LoftPoint, normal_of, on_the_outside, prepare};
use crate::document::Offset;
use crate::num::linear::Terms;
use crate::spline::Surface;

/// Share of the points that have a say in the stiffness that foretells best: the worst fifth, which misprints and dents are
/// among, has none.
const KEPT: f64 = 0.8;

/// Stiffnesses tried, in half-decades over the points' mean weight, at which lines are drawn: up to a thousand times that.
const HALF_DECADES: u32 = 6;

/// Least share of a point's residual that is its own, so that a point which alone holds its place says something finite.
const LEAST_OWN: f64 = 1e-3;

/// The unknowns of a loft's net.
pub(crate) struct Net {
    system: System,
    half_breadths: usize,
    tips: Vec<[f64; 2]>,
    targets: Vec<[f64; 2]>,
}

impl Net {
    /// Of the loft's document, its points as recorded.
    pub(crate) fn of(loft: &Loft) -> Result<Self, LoftError> {
        let body = loft.body();
        let offsets: Vec<Vec<Offset>> =
            on_the_outside(&body.offsets(), loft.outward.as_deref()).into_owned();
        let (layout, system) = prepare(body, &offsets)?;
        Ok(Self {
            half_breadths: system.unknowns()[0],
            system,
            tips: layout.tips.clone(),
            targets: offsets
                .iter()
                .flatten()
                .map(|offset| offset.recorded)
                .collect(),
        })
    }

    /// The energy's entries `(i, j, value)` with i ≤ j.
    pub(crate) fn energy(&self) -> Vec<(usize, usize, f64)> {
        let mut all = self.system.energy_entries(false);
        let heights = self.system.energy_entries(true).into_iter();
        let first = self.half_breadths;
        all.extend(heights.map(|(i, j, value)| (first + i, first + j, value)));
        all
    }

    /// What half-breadth and height at a place are made of.
    pub(crate) fn place(&self, u: f64, v: f64) -> [Terms; 2] {
        let first = self.half_breadths;
        let heights = self.system.place_terms(u, v, true);
        [
            self.system.place_terms(u, v, false),
            heights
                .into_iter()
                .map(|(i, value)| (first + i, value))
                .collect(),
        ]
    }

    /// The unknowns of a surface on this net.
    pub(crate) fn of_surface(&self, surface: &Surface) -> Vec<f64> {
        let mut all = self.system.unknowns_of(surface.y_net(), false);
        all.extend(self.system.unknowns_of(surface.z_net(), true));
        all
    }

    /// The surface of these unknowns.
    pub(crate) fn surface(&self, unknowns: &[f64]) -> Surface {
        let (breadths, heights) = unknowns.split_at(self.half_breadths);
        self.system.surface_of([breadths, heights])
    }

    /// Unknowns that stay as they are: the tips that the document gives.
    pub(crate) fn held(&self, unknowns: &[f64]) -> Vec<(Terms, f64)> {
        if self.tips.is_empty() {
            return Vec::new();
        }
        let heights = self.system.ends().map(|u| self.place(u, 0.0)[1].clone());
        // A tip is one unknown for its whole row.
        let tips = heights.into_iter().filter(|terms| terms.len() == 1);
        tips.map(|terms| {
            let value = unknowns[terms[0].0];
            (vec![(terms[0].0, 1.0)], value)
        })
        .collect()
    }

    /// Which unknowns move nothing outside a stretch of u.
    pub(crate) fn within(&self, window: [f64; 2]) -> Vec<bool> {
        let mut free = self.system.within(window, false);
        free.extend(self.system.within(window, true));
        free
    }

    /// How firmly a point is held, 1/mm².
    pub(crate) fn weights(&self) -> Vec<f64> {
        self.system.weights(self.targets.len())
    }

    /// The net drawn through its points by least squares, at a stiffness.
    pub(crate) fn drawn(&self, stiffness: f64) -> Result<Drawn<'_>, LoftError> {
        let fit = self.system.factor(stiffness)?;
        let targets: Vec<[f64; 2]> = self.targets.iter().chain(&self.tips).copied().collect();
        let unknowns = fit.solve(&targets);
        Ok(Drawn {
            net: self,
            fit,
            unknowns,
        })
    }

    /// The stiffness that foretells each point best from all the others, 1/mm² of a point's weight.
    ///
    /// A dent or a misprint must not have a say in it, or the surface that follows it is found the best: so the worst points
    /// are left out, in each case its own.
    ///
    /// # Source
    /// Ordinary cross-validation, trimmed; the residual without a point is `r / (1 − h)` (Allen, *Technometrics* 16, 1974).
    pub(crate) fn cross_validated(&self, points: &[LoftPoint]) -> Result<f64, LoftError> {
        let weights = self.weights();
        let mean = weights.iter().sum::<f64>() / weights.len().max(1) as f64;
        let mut targets = self.targets.clone();
        targets.extend(&self.tips);
        let kept = crate::num::count_of((KEPT * points.len() as f64).ceil());
        let mut best = [f64::INFINITY, mean];
        for half in 0..=HALF_DECADES {
            let stiffness = mean * crate::num::powf(10.0, f64::from(half) / 2.0);
            let fit = self.system.factor(stiffness)?;
            let surface = fit.surface(&targets);
            let variances = fit.variances();
            let all = points
                .iter()
                .zip(&self.targets)
                .zip(&weights)
                .zip(&variances);
            let mut squares: Vec<f64> = all
                .map(|(((point, target), weight), variance)| {
                    // Along the girth a point lies where it was put: that foretells nothing.
                    let jet = surface.jet(point.u, point.v);
                    let normal = normal_of(point.on, &jet);
                    let off = normal[0] * (target[0] - jet.s.y) + normal[1] * (target[1] - jet.s.z);
                    let own = weight
                        * (normal[0] * normal[0] * variance[0]
                            + normal[1] * normal[1] * variance[1]);
                    let without = off / (1.0 - own).max(LEAST_OWN);
                    weight * without * without
                })
                .collect();
            squares.sort_by(f64::total_cmp);
            let score: f64 = squares.iter().take(kept).sum();
            if score < best[0] {
                best = [score, stiffness];
            }
        }
        Ok(best[1])
    }
}

/// A [`Net`] drawn through its points at a stiffness, and how it gives where they pull.
pub(crate) struct Drawn<'a> {
    net: &'a Net,
    fit: Fit,
    unknowns: [Vec<f64>; 2],
}

impl Drawn<'_> {
    /// What the same least squares make of another surface's points: the difference is what they do to a shape.
    pub(crate) fn smoothed(&self, surface: &Surface, points: &[LoftPoint]) -> Surface {
        let at = |point: &LoftPoint| {
            let s = surface.position(point.u, point.v);
            [s.y, s.z]
        };
        let tips = self.net.tips.iter().copied();
        let targets: Vec<[f64; 2]> = points.iter().map(at).chain(tips).collect();
        self.fit.surface(&targets)
    }

    /// Half-breadth and height of the net at each point.
    pub(crate) fn places(&self) -> Vec<[f64; 2]> {
        let [y, z] = &self.unknowns;
        (0..self.net.targets.len())
            .map(|k| self.fit.at_target(k, [y, z]))
            .collect()
    }

    /// How the net gives where a unit of force, 1/mm, pulls at a point outward and at it upward.
    pub(crate) fn answers(&self, point: usize) -> Answers {
        let unknowns = self.fit.answers(point);
        let [y, z] = &unknowns;
        let places = (0..self.net.targets.len())
            .map(|k| self.fit.at_target(k, [y, z]))
            .collect();
        Answers { unknowns, places }
    }

    /// The surface with forces at some points, each with its direction and answers.
    pub(crate) fn pulled(&self, forces: &[(f64, [f64; 2], &Answers)]) -> Surface {
        let mut all = self.unknowns.clone();
        for (force, direction, answers) in forces {
            for (k, part) in all.iter_mut().enumerate() {
                let by = force * direction[k];
                for (value, answer) in part.iter_mut().zip(&answers.unknowns[k]) {
                    *value += by * answer;
                }
            }
        }
        let [y, z] = &all;
        self.net.system.surface_of([y, z])
    }
}

/// How a [`Drawn`] net gives where a unit of force pulls at one point.
pub(crate) struct Answers {
    unknowns: [Vec<f64>; 2],
    /// Of each point: its half-breadth by a force outward, its height by one upward, mm for each 1/mm.
    pub(crate) places: Vec<[f64; 2]>,
}
