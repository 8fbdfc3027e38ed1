//! Convex programmes: a linear or convex quadratic cost under linear rows.
//!
//! In: a [`Programme`]. Out: its [`Optimum`], or why there is none. An interior point method does the work, so that the
//! time does not depend on how many rows bind.

use clarabel::algebra::CscMatrix;
use clarabel::solver::{
    DefaultSettingsBuilder, DefaultSolver, IPSolver, NonnegativeConeT, SolverStatus, ZeroConeT,
};

use crate::num::linear::{Terms, times};

/// `Σ terms ≤ bound`, or `=` for an equality; each variable named at most once.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Constraint {
    /// Variables and their factors.
    pub terms: Terms,
    /// What the sum is held to.
    pub bound: f64,
}

/// `min ½ xᵀ P x + qᵀ x` under equalities and bounds.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Programme {
    /// Entries `(i, j, P[i][j])` with i ≤ j, each place once; P positive semidefinite. Empty: a linear programme.
    pub quadratic: Vec<(usize, usize, f64)>,
    /// `q`, one for each variable.
    pub linear: Vec<f64>,
    /// Rows that hold exactly.
    pub equalities: Vec<Constraint>,
    /// Rows that bound from above.
    pub bounds: Vec<Constraint>,
}

/// The optimum of a programme.
#[derive(Clone, Debug, PartialEq)]
pub struct Optimum {
    /// The variables.
    pub x: Vec<f64>,
    /// What the cost would gain for each unit by which a bound is loosened, one for each of the bounds; zero where it does
    /// not bind.
    pub pulls: Vec<f64>,
    /// What the cost would lose for each unit by which an equality's bound is raised, one for each of the equalities.
    pub ties: Vec<f64>,
    /// The cost.
    pub cost: f64,
    /// The cost of the dual programme: no `x` that keeps the rows costs less, so their difference bounds how far `x` is from
    /// the best.
    pub dual: f64,
}

/// Why a programme has no optimum.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum NoOptimum {
    /// No `x` keeps all rows.
    Infeasible,
    /// The cost falls without end.
    Unbounded,
    /// The method came to no end that it can stand for.
    Hard,
}

/// Relative and absolute gap at which an optimum is taken, and how well its rows are kept: with 1e-6 the flat cost of a
/// surface leaves its points up to 0.2 mm off.
const TIGHT: f64 = 1e-9;

/// Most rounds of the method: what takes more is not solved.
const MOST_ROUNDS: u32 = 200;

/// What an optimum that is almost reached must have reached at least.
const NEARLY: f64 = 1e-6;

impl Programme {
    /// A programme with so many variables and no rows as yet.
    #[must_use]
    pub fn new(variables: usize) -> Self {
        Self {
            linear: vec![0.0; variables],
            ..Self::default()
        }
    }

    /// Adds `Σ terms ≤ bound`.
    pub fn at_most(&mut self, terms: Terms, bound: f64) {
        self.bounds.push(Constraint { terms, bound });
    }

    /// Adds `|Σ terms| ≤ bound`: two bounds, the one from above first.
    pub fn size_at_most(&mut self, terms: &[(usize, f64)], bound: f64) {
        for way in [1.0, -1.0] {
            self.at_most(times(terms, way), bound);
        }
    }

    /// Adds `|Σ terms| ≤ x` with x another variable: two bounds, the one from above first.
    pub fn size_within(&mut self, terms: &[(usize, f64)], variable: usize) {
        for way in [1.0, -1.0] {
            let mut terms = times(terms, way);
            terms.push((variable, -1.0));
            self.at_most(terms, 0.0);
        }
    }

    /// Adds `Σ terms = bound`.
    pub fn equal(&mut self, terms: Terms, bound: f64) {
        self.equalities.push(Constraint { terms, bound });
    }

    /// Adds a variable with its costs, `½ quadratic x² + linear x`, and tells its number.
    pub fn variable(&mut self, quadratic: f64, linear: f64) -> usize {
        let at = self.linear.len();
        self.linear.push(linear);
        if quadratic > 0.0 {
            self.quadratic.push((at, at, quadratic));
        }
        at
    }

    /// Solves it.
    ///
    /// # Errors
    /// [`NoOptimum`]; a programme with a number that is none is [`NoOptimum::Hard`].
    ///
    /// # Accuracy
    /// Cost within 1e-9 of the best, relative or absolute, and rows kept to the same: 1e-6 where the rows nearly
    /// contradict each other. [`Optimum::dual`] certifies it.
    ///
    /// # Source
    /// Goulart and Chen, *Clarabel: An interior-point solver for conic programs with quadratic objectives*, 2024.
    pub fn solve(&self) -> Result<Optimum, NoOptimum> {
        let n = self.linear.len();
        if !self.is_finite() {
            return Err(NoOptimum::Hard);
        }
        if n == 0 {
            return self.of_nothing();
        }
        let solver = self.worked()?;
        let found = &solver.solution;
        match found.status {
            SolverStatus::Solved | SolverStatus::AlmostSolved => Ok(Optimum {
                x: found.x.clone(),
                pulls: found.z[self.equalities.len()..].to_vec(),
                ties: found.z[..self.equalities.len()].to_vec(),
                cost: found.obj_val,
                dual: found.obj_val_dual,
            }),
            SolverStatus::PrimalInfeasible | SolverStatus::AlmostPrimalInfeasible => {
                Err(NoOptimum::Infeasible)
            }
            SolverStatus::DualInfeasible | SolverStatus::AlmostDualInfeasible => {
                Err(NoOptimum::Unbounded)
            }
            SolverStatus::Unsolved
            | SolverStatus::MaxIterations
            | SolverStatus::MaxTime
            | SolverStatus::NumericalError
            | SolverStatus::InsufficientProgress
            | SolverStatus::CallbackTerminated => Err(NoOptimum::Hard),
        }
    }

    /// The library's solver of it, at its end.
    fn worked(&self) -> Result<DefaultSolver<f64>, NoOptimum> {
        let n = self.linear.len();
        let rows: Vec<&Constraint> = self.equalities.iter().chain(&self.bounds).collect();
        let bounds: Vec<f64> = rows.iter().map(|row| row.bound).collect();
        let matrix = by_columns(
            rows.len(),
            n,
            rows.iter()
                .enumerate()
                .flat_map(|(i, row)| row.terms.iter().map(move |&(j, value)| (i, j, value))),
        );
        let cost = by_columns(n, n, self.quadratic.iter().copied());
        let cones = [
            ZeroConeT(self.equalities.len()),
            NonnegativeConeT(self.bounds.len()),
        ];
        let settings = DefaultSettingsBuilder::default()
            .verbose(false)
            .max_iter(MOST_ROUNDS)
            .tol_gap_abs(TIGHT)
            .tol_gap_rel(TIGHT)
            .tol_feas(TIGHT)
            .reduced_tol_gap_abs(NEARLY)
            .reduced_tol_gap_rel(NEARLY)
            .reduced_tol_feas(NEARLY)
            .build()
            .map_err(|_settings| NoOptimum::Hard)?;
        let solver = DefaultSolver::new(&cost, &self.linear, &matrix, &bounds, &cones, settings);
        let mut solver = solver.map_err(|_refused| NoOptimum::Hard)?;
        solver.solve();
        Ok(solver)
    }

    /// Without variables, which the library does not take, the rows are true or not.
    fn of_nothing(&self) -> Result<Optimum, NoOptimum> {
        let kept = self.equalities.iter().all(|row| row.bound.abs() <= TIGHT)
            && self.bounds.iter().all(|row| row.bound >= -TIGHT);
        if !kept {
            return Err(NoOptimum::Infeasible);
        }
        Ok(Optimum {
            x: Vec::new(),
            pulls: vec![0.0; self.bounds.len()],
            ties: vec![0.0; self.equalities.len()],
            cost: 0.0,
            dual: 0.0,
        })
    }

    fn is_finite(&self) -> bool {
        let rows = self.equalities.iter().chain(&self.bounds);
        let terms =
            |row: &Constraint| row.bound.is_finite() && row.terms.iter().all(|t| t.1.is_finite());
        self.linear.iter().all(|q| q.is_finite())
            && self.quadratic.iter().all(|entry| entry.2.is_finite())
            && { rows }.all(terms)
    }
}

/// A matrix in columns, the rows of each in order.
fn by_columns(
    rows: usize,
    columns: usize,
    entries: impl Iterator<Item = (usize, usize, f64)>,
) -> CscMatrix<f64> {
    let mut sorted: Vec<(usize, usize, f64)> = entries.map(|(i, j, value)| (j, i, value)).collect();
    sorted.sort_by_key(|entry| (entry.0, entry.1));
    let mut starts = vec![0; columns + 1];
    for (j, ..) in &sorted {
        starts[j + 1] += 1;
    }
    for j in 0..columns {
        starts[j + 1] += starts[j];
    }
    let (places, values) = sorted.iter().map(|entry| (entry.1, entry.2)).unzip();
    CscMatrix::new(rows, columns, starts, places, values)
}

#[cfg(test)]
#[path = "programme_tests.rs"]
mod tests;
