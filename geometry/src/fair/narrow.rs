//! Narrow linear programmes: those whose rows name variables that lie near each other, but for a few.
//!
//! In: a [`Programme`] with bounds alone. Out: its [`Optimum`]; or none, where the method comes to no end that it can stand
//! for. What a step costs grows with the variables and not with their square or cube, and a line is judged by a hundred of
//! such programmes: so this stands beside the library that solves all others.

use super::programme::{NoOptimum, Optimum, Programme};
use crate::num::linear::{BandFactor, BandMatrix};

/// Relative and absolute gap at which an optimum is taken, and how well its rows are kept.
const TIGHT: f64 = 1e-8;

/// Most rounds; what takes more is left to the library.
const MOST_ROUNDS: usize = 60;

/// Share of the way to the nearest bound that a step goes.
const SHORT_OF_BOUND: f64 = 0.99;

/// A step that is shorter than this leads nowhere.
const NO_STEP: f64 = 1e-6;

/// A programme as the method takes it: the terms of its rows one after another.
struct Narrow<'a> {
    cost: &'a [f64],
    /// Where the terms of each row begin, and where the last one's end.
    starts: Vec<usize>,
    terms: Vec<(usize, f64)>,
    bounds: Vec<f64>,
    /// The first column of each row of `Aᵀ A` that may hold anything.
    firsts: Vec<usize>,
}

/// Where the method stands, or a step from there: the variables, how far each row lies within its bound, and its multiplier.
/// Where it stands the last two are positive.
struct Stand {
    x: Vec<f64>,
    slack: Vec<f64>,
    pull: Vec<f64>,
}

/// What is left of the rows, and of the gradient.
struct Left {
    rows: Vec<f64>,
    gradient: Vec<f64>,
}

impl<'a> Narrow<'a> {
    fn of(programme: &'a Programme) -> Self {
        let (mut starts, mut terms) = (vec![0], Vec::new());
        let mut firsts: Vec<usize> = (0..programme.linear.len()).collect();
        for row in &programme.bounds {
            let first = row.terms.iter().map(|term| term.0).min();
            for (j, _) in &row.terms {
                firsts[*j] = firsts[*j].min(first.unwrap_or(*j));
            }
            terms.extend(row.terms.iter().copied());
            starts.push(terms.len());
        }
        Self {
            cost: &programme.linear,
            starts,
            terms,
            bounds: programme.bounds.iter().map(|row| row.bound).collect(),
            firsts,
        }
    }

    fn rows(&self) -> impl Iterator<Item = &[(usize, f64)]> {
        self.starts.windows(2).map(|at| &self.terms[at[0]..at[1]])
    }

    /// `A x`.
    fn times(&self, x: &[f64]) -> Vec<f64> {
        self.rows()
            .map(|row| row.iter().map(|&(j, value)| value * x[j]).sum())
            .collect()
    }

    /// Adds `by Aᵀ y`.
    fn add_transposed(&self, y: &[f64], by: f64, sum: &mut [f64]) {
        for (row, y) in self.rows().zip(y) {
            let y = by * y;
            for &(j, value) in row {
                sum[j] += value * y;
            }
        }
    }

    /// The factor of `Aᵀ W A`; none where rounding has eaten it up.
    fn factor(&self, weights: &[f64]) -> Option<BandFactor> {
        let mut matrix = BandMatrix::from_firsts(self.firsts.clone());
        for (row, weight) in self.rows().zip(weights) {
            for (k, &(i, a)) in row.iter().enumerate() {
                for &(j, b) in &row[..=k] {
                    matrix.add(i, j, weight * a * b);
                }
            }
        }
        matrix.factor_over(0.0).ok()
    }

    /// Where it begins: the optimum under a cost of the squares by which rows miss their bounds, moved inside all of these.
    fn begin(&self) -> Option<Stand> {
        let factor = self.factor(&vec![1.0; self.bounds.len()])?;
        let mut x: Vec<f64> = self.cost.iter().map(|q| -q).collect();
        self.add_transposed(&self.bounds, 1.0, &mut x);
        factor.solve(&mut x);
        let rows = self.times(&x);
        let slack: Vec<f64> = zip(&self.bounds, &rows, |bound, row| bound - row);
        let pull = slack.iter().map(|slack| -slack).collect();
        let inside = |mut values: Vec<f64>| {
            let least = values.iter().copied().fold(f64::INFINITY, f64::min);
            if least <= 0.0 {
                values.iter_mut().for_each(|value| *value += 1.0 - least);
            }
            values
        };
        Some(Stand {
            x,
            pull: inside(pull),
            slack: inside(slack),
        })
    }

    fn left(&self, at: &Stand) -> Left {
        let within = zip(&self.bounds, &at.slack, |bound, slack| bound - slack);
        let mut gradient: Vec<f64> = self.cost.iter().map(|q| -q).collect();
        self.add_transposed(&at.pull, -1.0, &mut gradient);
        Left {
            rows: zip(&within, &self.times(&at.x), |within, row| within - row),
            gradient,
        }
    }

    /// Newton's step to where each `slack · pull` has changed by `wanted`, and nothing is left of rows and gradient.
    fn step(
        &self,
        at: &Stand,
        (factor, weights): (&BandFactor, &[f64]),
        left: &Left,
        wanted: &[f64],
    ) -> Stand {
        let owed = zip(wanted, &at.pull, |wanted, pull| wanted / pull);
        let owed = zip(&left.rows, &owed, |row, owed| row - owed);
        let owed = zip(weights, &owed, |weight, owed| weight * owed);
        let pulled = |moved: &[f64]| {
            let by = zip(weights, moved, |weight, moved| weight * moved);
            zip(&by, &owed, |by, owed| by - owed)
        };
        let mut x = left.gradient.clone();
        self.add_transposed(&owed, 1.0, &mut x);
        factor.solve(&mut x);
        let mut moved = self.times(&x);
        // Where the weights differ by many powers of ten, what the step leaves of the gradient is solved for once more.
        let mut more = left.gradient.clone();
        self.add_transposed(&pulled(&moved), -1.0, &mut more);
        factor.solve(&mut more);
        add(&mut x, 1.0, &more);
        add(&mut moved, 1.0, &self.times(&more));
        Stand {
            slack: zip(&left.rows, &moved, |row, moved| row - moved),
            pull: pulled(&moved),
            x,
        }
    }

    fn solve(&self) -> Option<Optimum> {
        let count = self.bounds.len() as f64;
        let kept = TIGHT
            * (1.0
                + self
                    .bounds
                    .iter()
                    .fold(0.0_f64, |most, b| most.max(b.abs())));
        let mut at = self.begin()?;
        for _ in 0..MOST_ROUNDS {
            let left = self.left(&at);
            let [cost, dual] = [dot(self.cost, &at.x), -dot(&self.bounds, &at.pull)];
            // What the dual cost says of lines no further off than this one is out by as much at most.
            let unbalanced: f64 = zip(&left.gradient, &at.x, |g, x| (g * x).abs())
                .iter()
                .sum();
            let near = TIGHT * cost.abs().max(1.0);
            if (cost - dual).abs() <= near
                && unbalanced <= near
                && left.rows.iter().all(|row| row.abs() <= kept)
            {
                return Some(Optimum {
                    x: at.x,
                    pulls: at.pull,
                    ties: Vec::new(),
                    cost,
                    dual,
                });
            }
            let weights = zip(&at.pull, &at.slack, |pull, slack| pull / slack);
            let factor = self.factor(&weights)?;
            let by = (&factor, weights.as_slice());
            let now = zip(&at.slack, &at.pull, |slack, pull| slack * pull);
            // Straight to the optimum first: how far that goes tells how much of what is left to aim for.
            let all: Vec<f64> = now.iter().map(|now| -now).collect();
            let straight = self.step(&at, by, &left, &all);
            let mut then = Stand {
                x: Vec::new(),
                slack: at.slack.clone(),
                pull: at.pull.clone(),
            };
            then.go(&straight, 1.0);
            let (mean, fallen) = (now.iter().sum::<f64>(), dot(&then.slack, &then.pull));
            let share = fallen / mean;
            let centre = share * share * share * mean / count;
            let bent = zip(&straight.slack, &straight.pull, |slack, pull| slack * pull);
            let wanted = zip(&now, &bent, |now, bent| centre - now - bent);
            let step = self.step(&at, by, &left, &wanted);
            let gone = at.go(&step, SHORT_OF_BOUND);
            if gone.is_nan() || gone < NO_STEP {
                return None;
            }
        }
        None
    }
}

impl Stand {
    /// Goes this part of the way to where the step meets a bound, at most all of it; tells how far.
    fn go(&mut self, step: &Self, part: f64) -> f64 {
        let [by, pulled] = [(&self.slack, &step.slack), (&self.pull, &step.pull)]
            .map(|(values, step)| (part * room(values, step)).min(1.0));
        add(&mut self.x, by, &step.x);
        add(&mut self.slack, by, &step.slack);
        add(&mut self.pull, pulled, &step.pull);
        by.min(pulled)
    }
}

/// How much of a step leaves all values positive.
fn room(values: &[f64], step: &[f64]) -> f64 {
    let falling = values.iter().zip(step).filter(|(_, step)| **step < 0.0);
    let each = falling.map(|(value, step)| -value / step);
    each.fold(f64::INFINITY, f64::min)
}

fn zip(a: &[f64], b: &[f64], of: impl Fn(f64, f64) -> f64) -> Vec<f64> {
    a.iter().zip(b).map(|(a, b)| of(*a, *b)).collect()
}

fn add(values: &mut [f64], by: f64, others: &[f64]) {
    for (value, other) in values.iter_mut().zip(others) {
        *value += by * other;
    }
}

fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

/// The optimum of a programme, as [`Programme::solve`] has it: a narrow one's by the method here, many times as fast.
///
/// # Errors
/// As [`Programme::solve`].
///
/// # Accuracy
/// Cost within 1e-8 of the best, relative or absolute, and rows kept to the same. [`Optimum::dual`] certifies it.
pub(super) fn solve(programme: &Programme) -> Result<Optimum, NoOptimum> {
    solve_narrow(programme).map_or_else(|| programme.solve(), Ok)
}

/// The optimum of a linear programme with bounds alone; none of any other, nor where the method comes to no end, as it does
/// where there is no optimum.
///
/// # Accuracy
/// Cost within 1e-8 of the best, relative or absolute, and rows kept to the same. [`Optimum::dual`] certifies it.
///
/// # Source
/// Mehrotra, *On the implementation of a primal-dual interior point method*, SIAM J. Optimization 2 (1992), by normal
/// equations; begun as in Vandenberghe, *The CVXOPT linear and quadratic cone program solvers*, 2010 (both from memory).
pub(super) fn solve_narrow(programme: &Programme) -> Option<Optimum> {
    let bounds_alone = programme.quadratic.is_empty() && programme.equalities.is_empty();
    let any = !programme.bounds.is_empty() && programme.bounds.iter().all(|b| b.bound.is_finite());
    (bounds_alone && any)
        .then(|| Narrow::of(programme).solve())
        .flatten()
}
