//! A line as a function of the distance aft, and how far it must move to lose its hollows and its bumps.
//!
//! In: places of a line, and how many inflections and curvature peaks it may have. Out: the least largest move that leaves
//! no more, and the smoothest line that moves hardly further. The spline is cubic: its second derivative runs straight
//! between the breaks, so that what holds at them holds all along.

use super::narrow;
use super::programme::{NoOptimum, Programme};
pub use crate::document::Turns;
use crate::num::linear::{BandMatrix, Terms, add_term, times};
use crate::spline::{Knots, parted};

/// A cubic spline over the distance aft.
#[derive(Clone, Debug, PartialEq)]
pub struct Graph {
    /// Over `t`, which counts mean breaks from the fore end: so all derivatives are mm.
    knots: Knots,
    /// x of `t = 0`, and mm for each 1 of `t`.
    scale: [f64; 2],
    coefficients: Vec<f64>,
    held: Held,
}

/// What of a line stays where it is while it is faired.
#[derive(Clone, Debug, Default, PartialEq)]
struct Held {
    /// Indices of the fixed coefficients: a place whose four are all among them keeps its value to the last bit.
    coefficients: Vec<usize>,
    /// Those of them that belong to places outside the stretch: an inequality in which one of these stands is not imposed.
    outside: Vec<usize>,
    /// Places, `t`.
    places: Vec<f64>,
}

/// A line brought within its allowed turns.
#[derive(Clone, Debug, PartialEq)]
pub struct Faired {
    /// The least largest move that does it, mm.
    pub needed: f64,
    /// The smoothest line whose moves are hardly larger.
    pub graph: Graph,
    /// The inequalities that its curvature satisfies, for [`Graph::blame`].
    shape: Vec<Inequality>,
}

/// What the curvature of a line that is brought within its allowed turns satisfies.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct SweetShape(Vec<Inequality>);

/// A linear inequality, `Σ factors · coefficients ≥ 0`.
#[derive(Clone, Debug, PartialEq)]
struct Inequality {
    terms: Terms,
}

/// The signs that the second derivative must have: 1 or −1 at the fore end, the other one after each inflection.
#[derive(Clone, Copy, Debug)]
struct Pattern {
    sign: f64,
    inflections: usize,
}

/// Why no line was found.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum NotFaired {
    /// It was told to stop.
    Stopped,
    /// The programme has no optimum, which no line of finite places leads to.
    Hard(NoOptimum),
}

/// Places at which a move is bounded, in each span.
pub(super) const IN_A_SPAN: u32 = 4;

/// Bound on the moves of the smoothest line: the minimax move times the first, and so many mm more.
const LEEWAY: (f64, f64) = (1.05, 0.01);

/// Once a pattern of signs needs less than this, the others are not tried, mm.
const NOTHING: f64 = 0.01;

/// Moves that differ by less are the same, mm: a programme's own error is less.
const SAME: f64 = 1e-6;

/// Knots that lie nearer together are one, in spans: far more than rounding leaves of a station's place, and no distance.
const SAME_KNOT: f64 = 1e-9;

/// Ups and downs of curvature below this share of the largest are no turns: a comb shows none of them.
const SLIGHT: f64 = 1e-3;

/// Added to the diagonal of the energy by its trace, which says nothing of how a straight line moves: the solver asks for a
/// definite one, and this moves no line by what could be said.
const DEFINITE: f64 = 1e-12;

/// Most times that each turn is moved to its best break.
const ROUNDS: usize = 4;

impl Graph {
    /// The spline with these breaks that passes nearest to the places, by least squares.
    ///
    /// None where there are fewer than two breaks, or too few places to fix it.
    ///
    /// # Shapes
    /// `breaks` rise, mm; `places` are x and value, mm, within the breaks.
    ///
    /// # Accuracy
    /// Where there are as many places as it has coefficients (two more than breaks), it interpolates to 1e-9 of the
    /// largest value.
    #[must_use]
    pub fn fitted(breaks: &[f64], places: &[(f64, f64)]) -> Option<Self> {
        let (first, last) = (*breaks.first()?, *breaks.last()?);
        let h = (last - first) / (breaks.len().checked_sub(1)? as f64);
        let t: Vec<f64> = breaks.iter().map(|x| (x - first) / h).collect();
        let knots = Knots::clamped(&t).ok()?;
        let n = knots.count();
        let mut band = BandMatrix::zeros(n, 3);
        let mut right = vec![0.0; n];
        let mut graph = Self {
            knots,
            scale: [first, h],
            coefficients: Vec::new(),
            held: Held::default(),
        };
        for &(x, value) in places {
            let row = graph.row(x, 0);
            for (k, &(i, a)) in row.iter().enumerate() {
                right[i] += a * value;
                for &(j, b) in &row[..=k] {
                    band.add(i, j, a * b);
                }
            }
        }
        band.factor().ok()?.solve(&mut right);
        graph.coefficients = right;
        Some(graph)
    }

    /// The same line, held outside a stretch, at its ends (place and slope) and at some places, mm aft: whatever is asked of
    /// it, there it stays.
    #[must_use]
    pub fn holding(mut self, stretch: Option<[f64; 2]>, ends: [bool; 2], places: &[f64]) -> Self {
        let t = |x: f64| (x - self.scale[0]) / self.scale[1];
        let n = self.coefficients.len();
        let mut held: Vec<usize> = Vec::new();
        if let Some([from, to]) = stretch.map(|stretch| stretch.map(t)) {
            // A coefficient has a say over four spans.
            let knots = self.knots.knots();
            let free = |i: &usize| knots[*i] >= from - SAME_KNOT && knots[*i + 4] <= to + SAME_KNOT;
            held.extend((0..n).filter(|i| !free(i)));
        }
        let outside = held.clone();
        held.extend((0..2).filter(|_| ends[0]));
        held.extend((n - 2..n).filter(|_| ends[1]));
        held.sort_unstable();
        held.dedup();
        self.held = Held {
            coefficients: held,
            outside,
            places: places.iter().map(|x| t(*x)).collect(),
        };
        self
    }

    /// Distances aft of its breaks, mm.
    #[must_use]
    pub fn breaks(&self) -> Vec<f64> {
        let [x, h] = self.scale;
        self.knots.breaks().iter().map(|t| x + h * t).collect()
    }

    /// Value, and first to third derivative by x, at a distance aft: mm, 1, 1/mm, 1/mm².
    #[must_use]
    pub fn at(&self, x: f64) -> [f64; 4] {
        let h = self.scale[1];
        let by = [1.0, h, h * h, h * h * h];
        core::array::from_fn(|n| dot(&self.row(x, n), &self.coefficients) / by[n])
    }

    /// Largest distance of another line with the same breaks, at the places at which moves are bounded, mm.
    pub(super) fn apart(&self, other: &Self) -> f64 {
        let all = self.samples().into_iter();
        let off = all.map(|t| {
            let row = self.row_at(t, 0);
            (dot(&row, &self.coefficients) - dot(&row, &other.coefficients)).abs()
        });
        off.fold(0.0, f64::max)
    }

    /// Basis functions at x that are not zero, or their derivative of this order by t.
    fn row(&self, x: f64, order: usize) -> Terms {
        let t = (x - self.scale[0]) / self.scale[1];
        self.row_at(t, order)
    }

    fn row_at(&self, t: f64, order: usize) -> Terms {
        let (from, to) = self.knots.domain();
        let t = t.clamp(from, to);
        let span = self.knots.span_at(t);
        let first = self.knots.first_coefficient(span);
        let values = self.knots.basis(span, t)[order];
        values
            .iter()
            .enumerate()
            .map(|(k, value)| (first + k, *value))
            .collect()
    }

    /// Second derivative by t at each break, and what makes a curvature of it: `(1 + f'²)^(−3/2)`.
    fn bends(&self) -> (Vec<Terms>, Vec<f64>) {
        let breaks = self.knots.breaks();
        let rows = breaks.iter().map(|t| self.row_at(*t, 2)).collect();
        let metric = breaks.iter().map(|t| {
            let slope = dot(&self.row_at(*t, 1), &self.coefficients) / self.scale[1];
            let one = 1.0 + slope * slope;
            1.0 / (one * one.sqrt())
        });
        (rows, metric.collect())
    }

    /// Curvature at each break, 1/mm, positive where the value bends up.
    #[must_use]
    pub fn curvatures(&self) -> Vec<f64> {
        let (rows, metric) = self.bends();
        let h = self.scale[1];
        let bent = rows
            .iter()
            .map(|row| dot(row, &self.coefficients) / (h * h));
        bent.zip(metric).map(|(k, m)| k * m).collect()
    }

    /// Turns that it has: inflections, and peaks of the size of its curvature that stand out by a thousandth of the
    /// largest.
    #[must_use]
    pub fn turns(&self) -> Turns {
        let bends = self.curvatures();
        let largest = bends.iter().fold(0.0_f64, |most, k| most.max(k.abs()));
        let slight = SLIGHT * largest;
        let signs: Vec<bool> = bends
            .iter()
            .filter(|k| k.abs() > slight)
            .map(|k| *k > 0.0)
            .collect();
        let inflections = signs.windows(2).filter(|pair| pair[0] != pair[1]).count();
        // From each turn-back of the size to the next, ups and downs smaller than slight left out.
        let (mut peaks, mut rising, mut extreme) = (0, true, 0.0_f64);
        for size in bends.iter().map(|k| k.abs()) {
            if rising {
                extreme = extreme.max(size);
                if size < extreme - slight {
                    (peaks, rising, extreme) = (peaks + 1, false, size);
                }
            } else {
                extreme = extreme.min(size);
                if size > extreme + slight {
                    (rising, extreme) = (true, size);
                }
            }
        }
        Turns {
            inflections,
            peaks: peaks + usize::from(rising && extreme > slight),
        }
    }

    /// What to allow it: the inflections of the cubic polynomial through it, and one peak more.
    ///
    /// Never taken from the line itself: a hollow would then be allowed because it is there.
    #[must_use]
    pub fn usual(&self) -> Turns {
        let inflections = usize::from({
            let [from, to] = self.cubic_bends();
            from * to < 0.0
        });
        Turns {
            inflections,
            peaks: inflections + 1,
        }
    }

    /// Second derivatives by t, at both ends, of the cubic polynomial through it by least squares.
    fn cubic_bends(&self) -> [f64; 2] {
        let (from, to) = self.knots.domain();
        let middle = f64::midpoint(from, to);
        let half = (to - from) / 2.0;
        let mut band = BandMatrix::zeros(4, 3);
        let mut right = [0.0; 4];
        for t in self.samples() {
            let s = (t - middle) / half;
            // Legendre's polynomials, which hardly disturb each other.
            let p = [1.0, s, 1.5 * s * s - 0.5, 2.5 * s * s * s - 1.5 * s];
            let value = dot(&self.row_at(t, 0), &self.coefficients);
            for i in 0..4 {
                right[i] += p[i] * value;
                for j in 0..=i {
                    band.add(i, j, p[i] * p[j]);
                }
            }
        }
        if let Ok(factor) = band.factor() {
            factor.solve(&mut right);
        }
        [-1.0, 1.0].map(|s| (3.0 * right[2] + 15.0 * s * right[3]) / (half * half))
    }

    /// Places at which moves are bounded, `t`.
    fn samples(&self) -> Vec<f64> {
        parted(&self.knots.breaks(), IN_A_SPAN)
    }

    /// Which way it bends at a distance aft by the cubic polynomial through it: 1 or −1.
    pub(super) fn side(&self) -> impl Fn(f64) -> f64 {
        let ([from, to], (first, last)) = (self.cubic_bends(), self.knots.domain());
        let [x, h] = self.scale;
        move |at| {
            let share = ((at - x) / h - first) / (last - first);
            if from + (to - from) * share < 0.0 {
                -1.0
            } else {
                1.0
            }
        }
    }

    /// The minimax move, the least that the largest move can be, that leaves no more inflections than this: «no longer hollow».
    ///
    /// # Errors
    /// [`NotFaired`].
    ///
    /// # Accuracy
    /// 1e-6 mm for one choice of the breaks at which it turns; of several turns the best that a search from even places,
    /// turn by turn, comes to. Of breaks that need the same to 1e-6 mm one is taken: the even place, else the first.
    ///
    /// # Source
    /// The signs of a cubic's second derivative at its breaks are linear in its coefficients (de Boor, *A Practical Guide to
    /// Splines*); the least largest move under them is a linear programme.
    pub fn without_hollows(
        &self,
        inflections: usize,
        stop: &dyn Fn() -> bool,
    ) -> Result<Faired, NotFaired> {
        let (rows, _) = self.bends();
        let shape = |Pattern { sign, .. }: Pattern, turns: &[usize]| {
            let asked = rows.iter().enumerate().map(|(j, row)| Inequality {
                terms: times(row, turned(sign, turns_before(turns, j))),
            });
            asked.collect::<Vec<_>>()
        };
        let (pattern, turns) = self.best(inflections, (rows.len() + 1, 0), &shape, stop)?;
        self.faired(shape(pattern, &turns))
    }

    /// The minimax move that leaves no more turns than these: «sweet».
    ///
    /// With fewer inflections it has as many fewer peaks. `run_outs`: whether the line runs out at its fore and its aft end, as
    /// a buttock line does where it closes: it may then bend harder and harder into that end, beside its peaks.
    ///
    /// # Errors
    /// [`NotFaired`].
    ///
    /// # Accuracy
    /// As [`Graph::without_hollows`], for slopes as they are after the second of two rounds.
    ///
    /// # Source
    /// Sapidis and Farin, *Automatic fairing algorithm for B-spline curves*, CAD 22 (1990): a line is fair where its curvature
    /// has few monotone pieces. The programme is ours.
    pub fn sweet(
        &self,
        turns: Turns,
        run_outs: [bool; 2],
        stop: &dyn Fn() -> bool,
    ) -> Result<Faired, NotFaired> {
        self.with_shape(self.sweet_shape(turns, run_outs, stop)?)
    }

    /// What the curvature of [`Graph::sweet`] satisfies.
    pub(super) fn sweet_shape(
        &self,
        turns: Turns,
        run_outs: [bool; 2],
        stop: &dyn Fn() -> bool,
    ) -> Result<SweetShape, NotFaired> {
        let extra = turns.peaks.saturating_sub(turns.inflections + 1);
        let (rows, metric) = self.bends();
        let ends = run_outs.iter().filter(|r| **r).count();
        let shape = |pattern: Pattern, splits: &[usize]| {
            self.monotone((&rows, &metric), splits, pattern, run_outs)
        };
        let more = 1 + 2 * extra + ends;
        let (pattern, splits) = self.best(turns.inflections, (rows.len(), more), &shape, stop)?;
        let by = |metric: &[f64]| self.monotone((&rows, metric), &splits, pattern, run_outs);
        let mut shape = by(&metric);
        for _ in 0..2 {
            let (_, metric) = self.faired(shape)?.graph.bends();
            shape = by(&metric);
        }
        Ok(SweetShape(shape))
    }

    /// What the line with a shape needs, mm, as [`Graph::sweet`] says it, without that line.
    pub(super) fn needs(&self, shape: &SweetShape) -> Result<f64, NotFaired> {
        Ok(self.least(&shape.0)?.0)
    }

    /// The line with a shape.
    pub(super) fn with_shape(&self, shape: SweetShape) -> Result<Faired, NotFaired> {
        self.faired(shape.0)
    }

    /// The patterns with so many inflections and with one fewer, each with either sign at the fore end, that of the
    /// least-squares cubic first: the cubic alone does not settle it, since an end that runs out distorts it.
    fn patterns(&self, most: usize) -> Vec<Pattern> {
        let [from, to] = self.cubic_bends();
        let sign = if from + to < 0.0 { -1.0 } else { 1.0 };
        let both = |inflections: usize| {
            // Without an inflection there is one sign all along: that of the cubic's mean second derivative.
            let signs = if inflections == 0 {
                vec![sign]
            } else {
                vec![sign, -sign]
            };
            let each = signs.into_iter();
            each.map(move |sign| Pattern { sign, inflections })
        };
        let fewer = most.checked_sub(1).map(both);
        both(most).chain(fewer.into_iter().flatten()).collect()
    }

    /// The pattern with the least minimax move, of equals the first, and the breaks at which its curvature goes from rising
    /// to falling or back: as many as it has inflections, and `more`.
    fn best(
        &self,
        most: usize,
        (places, more): (usize, usize),
        shape: &dyn Fn(Pattern, &[usize]) -> Vec<Inequality>,
        stop: &dyn Fn() -> bool,
    ) -> Result<(Pattern, Vec<usize>), NotFaired> {
        let mut best = None::<(f64, Pattern, Vec<usize>)>;
        for pattern in self.patterns(most) {
            if best.as_ref().is_some_and(|(least, ..)| *least < NOTHING) {
                break;
            }
            let shape = |splits: &[usize]| shape(pattern, splits);
            let turns = pattern.inflections + more;
            let (needed, splits) = self.search(places, turns, &shape, stop)?;
            if best
                .as_ref()
                .is_none_or(|(least, ..)| needed < least - SAME)
            {
                best = Some((needed, pattern, splits));
            }
        }
        let best = best.map(|(_, pattern, splits)| (pattern, splits));
        best.ok_or(NotFaired::Hard(NoOptimum::Hard))
    }

    /// The inequalities of a curvature that is monotone between splits, rising and falling in turn. Its sign is fixed at both
    /// ends and at the split beside an end that runs out, and without inflections at the least curvature between two peaks too.
    fn monotone(
        &self,
        (rows, metric): (&[Terms], &[f64]),
        splits: &[usize],
        Pattern { sign, inflections }: Pattern,
        run_outs: [bool; 2],
    ) -> Vec<Inequality> {
        let end = turned(sign, inflections);
        let last = rows.len() - 1;
        let first_way = if run_outs[0] { -sign } else { sign };
        let mut asked: Vec<Inequality> = (0..last)
            .map(|j| {
                let way = turned(first_way, turns_before(splits, j));
                let mut terms = times(&rows[j + 1], way * metric[j + 1]);
                for (i, value) in times(&rows[j], -way * metric[j]) {
                    add_term(&mut terms, i, value);
                }
                Inequality { terms }
            })
            .collect();
        let mut keeps = |row: usize, way: f64| {
            asked.push(Inequality {
                terms: times(&rows[row], way),
            });
        };
        keeps(0, sign);
        keeps(last, end);
        if let (true, Some(split)) = (run_outs[0], splits.first()) {
            keeps(*split, sign);
        }
        if let (true, Some(split)) = (run_outs[1], splits.last()) {
            keeps(*split, end);
        }
        if inflections == 0 {
            let valleys = splits.iter().skip(usize::from(!run_outs[0])).step_by(2);
            for split in valleys {
                keeps(*split, sign);
            }
        }
        asked
    }

    /// Coordinate descent over the splits: each in turn goes to its best break while the others stay, until none gains.
    fn search(
        &self,
        places: usize,
        turns: usize,
        shape: &dyn Fn(&[usize]) -> Vec<Inequality>,
        stop: &dyn Fn() -> bool,
    ) -> Result<(f64, Vec<usize>), NotFaired> {
        let mut splits: Vec<usize> = (1..=turns).map(|k| k * places / (turns + 1)).collect();
        let mut least = self.bound(&shape(&splits))?;
        // How many splits in a row were found at their best, the one moved last among them.
        let mut settled = 0;
        for k in (0..turns).cycle().take(ROUNDS * turns) {
            if settled == turns {
                break;
            }
            let from = if k == 0 { 0 } else { splits[k - 1] };
            let to = splits.get(k + 1).copied().unwrap_or(places - 1);
            let moved = |place: usize| {
                let mut tried = splits.clone();
                tried[k] = place;
                shape(&tried)
            };
            if let Some((needed, place)) = self.best_place(from, to, least, &moved, stop)? {
                least = needed;
                splits[k] = place;
                settled = 0;
            }
            settled += 1;
        }
        Ok((least, splits))
    }

    /// The break, from one to another, at which a split gives the least minimax move, and that move; none where no break gives
    /// less than `least`. Of breaks that give the same, the first.
    ///
    /// # Source
    /// Branch and bound (Land and Doig, *Econometrica* 28, 1960). The inequalities that all breaks of a range have in common
    /// are a relaxation: their minimax move is a lower bound for each break of the range, so that a range whose bound is not
    /// below the best is left out.
    fn best_place(
        &self,
        from: usize,
        to: usize,
        least: f64,
        shape: &dyn Fn(usize) -> Vec<Inequality>,
        stop: &dyn Fn() -> bool,
    ) -> Result<Option<(f64, usize)>, NotFaired> {
        // Open ranges of breaks, from fore to aft, each with its lower bound.
        let mut open = vec![(0.0, from, to)];
        loop {
            let lowest = open.iter().map(|stretch| stretch.0);
            let lowest = lowest.fold(f64::INFINITY, f64::min);
            let next = open.iter().position(|stretch| stretch.0 <= lowest + SAME);
            let Some(at) = next.filter(|_| from < to && lowest < least - SAME) else {
                return Ok(None);
            };
            let (needed, from, to) = open[at];
            if from == to {
                return Ok(Some((needed, from)));
            }
            let middle = usize::midpoint(from, to);
            let mut halves = Vec::with_capacity(2);
            for (from, to) in [(from, middle), (middle + 1, to)] {
                if stop() {
                    return Err(NotFaired::Stopped);
                }
                // An inequality that is alike for both ends of the range is alike for every break within it.
                let mut alike = shape(from);
                if from < to {
                    let end = shape(to);
                    let mut other = end.iter();
                    alike.retain(|asked| other.next() == Some(asked));
                }
                let bound = match self.bound(&alike) {
                    // The solver gave no bound: zero is one.
                    Err(NotFaired::Hard(_)) if from < to => 0.0,
                    bound => bound?,
                };
                halves.push((bound, from, to));
            }
            open.splice(at..=at, halves);
        }
    }

    /// The minimax move under these inequalities; infinite where they are infeasible, as some splits are once coefficients
    /// are fixed.
    fn bound(&self, shape: &[Inequality]) -> Result<f64, NotFaired> {
        match self.least(shape) {
            Ok((needed, _)) => Ok(needed),
            Err(NotFaired::Hard(NoOptimum::Infeasible)) => Ok(f64::INFINITY),
            Err(why) => Err(why),
        }
    }

    fn faired(&self, shape: Vec<Inequality>) -> Result<Faired, NotFaired> {
        let (needed, _) = self.least(&shape)?;
        let graph = self.polished(&shape, needed * LEEWAY.0 + LEEWAY.1)?;
        Ok(Faired {
            needed,
            graph,
            shape,
        })
    }

    /// Adds the inequalities, in the moves of the coefficients, and what is fixed.
    fn ask(&self, programme: &mut Programme, shape: &[Inequality]) {
        let stays = |i: &usize| self.held.coefficients.binary_search(i).is_ok();
        for i in &self.held.coefficients {
            programme.equal(vec![(*i, 1.0)], 0.0);
        }
        for t in &self.held.places {
            programme.equal(self.row_at(*t, 0), 0.0);
        }
        // Not imposed: inequalities in fixed coefficients alone, and those across the ends of the stretch, where the line
        // keeps the turns it had.
        let joins = |i: &usize| self.held.outside.binary_search(i).is_ok();
        let moves = |asked: &&Inequality| {
            let each = || asked.terms.iter().map(|(i, _)| i);
            !each().all(stays) && !each().any(joins)
        };
        for asked in shape.iter().filter(moves) {
            let now = dot(&asked.terms, &self.coefficients);
            programme.at_most(times(&asked.terms, -1.0), now);
        }
    }

    /// The minimax move under these inequalities, and the moves of the coefficients.
    fn least(&self, shape: &[Inequality]) -> Result<(f64, Vec<f64>), NotFaired> {
        let best = narrow::solve(&self.least_programme(shape));
        let mut best = best.map_err(NotFaired::Hard)?.x;
        let needed = best.pop().unwrap_or_default();
        Ok((needed.max(0.0), best))
    }

    /// The programme of a faired line's needed move, to hold it against another solver.
    #[cfg(test)]
    pub(super) fn needed_programme(&self, faired: &Faired) -> Programme {
        self.least_programme(&faired.shape)
    }

    fn least_programme(&self, shape: &[Inequality]) -> Programme {
        let n = self.coefficients.len();
        let mut programme = Programme::new(n + 1);
        programme.linear[n] = 1.0;
        for t in self.samples() {
            programme.size_within(&self.row_at(t, 0), n);
        }
        self.ask(&mut programme, shape);
        programme
    }

    /// The line of least third derivative with a shape and no larger move.
    fn polished(&self, shape: &[Inequality], most: f64) -> Result<Self, NotFaired> {
        let n = self.coefficients.len();
        let mut programme = Programme::new(n);
        let gram = self.knots.gram(3);
        let entry = |i: usize, j: usize| gram[i][3 + j - i];
        let trace: f64 = (0..n).map(|i| entry(i, i)).sum();
        for i in 0..n {
            for j in i..(i + 4).min(n) {
                let value = entry(i, j) / trace;
                let alone = if i == j { value + DEFINITE } else { value };
                programme.quadratic.push((i, j, alone));
                programme.linear[i] += value * self.coefficients[j];
                if i != j {
                    programme.linear[j] += value * self.coefficients[i];
                }
            }
        }
        for t in self.samples() {
            programme.size_at_most(&self.row_at(t, 0), most);
        }
        self.ask(&mut programme, shape);
        let best = programme.solve().map_err(NotFaired::Hard)?;
        let mut polished = self.clone();
        for (i, (c, moved)) in polished.coefficients.iter_mut().zip(&best.x).enumerate() {
            if self.held.coefficients.binary_search(&i).is_err() {
                *c += moved;
            }
        }
        Ok(polished)
    }

    /// The moves of least `Σ |move| / tolerance` over some places under the inequalities of a faired line, mm. A least sum of
    /// sizes is sparse: it points at the few places that keep the line from being fair, where the minimax move is spread over
    /// all of them.
    ///
    /// # Units
    /// - `places`: each with its tolerance, mm
    ///
    /// # Errors
    /// [`NotFaired`].
    ///
    /// # Accuracy
    /// Their sum is the least one to 1e-6 mm.
    pub fn blame(
        &self,
        faired: &Faired,
        places: &[[f64; 2]],
    ) -> Result<(Vec<f64>, Self), NotFaired> {
        let n = self.coefficients.len();
        let mut programme = Programme::new(n + places.len());
        for (k, [x, tolerance]) in places.iter().enumerate() {
            programme.linear[n + k] = 1.0 / tolerance;
            programme.size_within(&self.row(*x, 0), n + k);
        }
        self.ask(&mut programme, &faired.shape);
        let best = programme.solve().map_err(NotFaired::Hard)?;
        let mut least = self.clone();
        for (c, moved) in least.coefficients.iter_mut().zip(&best.x) {
            *c += moved;
        }
        let moves = places.iter().map(|[x, _]| dot(&self.row(*x, 0), &best.x));
        Ok((moves.collect(), least))
    }
}

/// A sign after so many turns, each of which changes it.
fn turned(sign: f64, turns: usize) -> f64 {
    if turns.is_multiple_of(2) { sign } else { -sign }
}

/// How many of the turns, by their breaks, lie at a break or before it.
fn turns_before(turns: &[usize], place: usize) -> usize {
    turns.iter().filter(|turn| **turn <= place).count()
}

fn dot(row: &[(usize, f64)], values: &[f64]) -> f64 {
    row.iter().map(|&(i, a)| a * values[i]).sum()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::num;

    /// A line of 4 m with a curvature of about 5e-5 and a dip at 1600, at 33 even places.
    fn dipped(depth: f64) -> Graph {
        let places: Vec<(f64, f64)> = (0..33)
            .map(|i| {
                let x = 125.0 * f64::from(i);
                let s = x / 4000.0;
                let clean = 500.0 * (1.0 - 0.86 * s * s * (1.5 - 0.5 * s));
                let off = (x - 1600.0) / (270.0 / 2.2);
                (x, clean - depth * num::exp(-off * off))
            })
            .collect();
        // As many coefficients as places: two breaks beside the ends have no knot.
        let breaks: Vec<f64> = (0..33)
            .filter(|i| ![1, 31].contains(i))
            .map(|i| 125.0 * f64::from(i))
            .collect();
        Graph::fitted(&breaks, &places).unwrap()
    }

    const ON: &dyn Fn() -> bool = &|| false;

    /// The spline reproduces a cubic (de Boor, *A Practical Guide to Splines*): p = 2 − 3 t + ½ t² + ¼ t³.
    #[test]
    fn a_cubic_is_reproduced() {
        let p = |x: f64| 2.0 - 3.0 * x + 0.5 * x * x + 0.25 * x * x * x;
        let places: Vec<(f64, f64)> = (0..20)
            .map(|i| 0.25 * f64::from(i))
            .map(|x| (x, p(x)))
            .collect();
        let graph = Graph::fitted(&[0.0, 0.7, 1.9, 2.4, 3.6, 4.75], &places).unwrap();
        for x in [0.0, 0.3, 1.0, 2.2, 4.75] {
            let at = graph.at(x);
            for (found, exact) in at
                .iter()
                .zip([p(x), -3.0 + x + 0.75 * x * x, 1.0 + 1.5 * x, 1.5])
            {
                assert!((found - exact).abs() < 1e-9, "{at:?} at {x}");
            }
        }
    }

    /// The dips' figures by an independent program: linear programmes solved by another solver (a simplex method), the same
    /// splines.
    #[test]
    fn a_dip_needs_far_less_than_its_depth() {
        for (depth, needed) in [(0.4, 0.011), (0.8, 0.084), (1.6, 0.312)] {
            let line = dipped(depth);
            assert_eq!(line.turns().inflections, if depth < 0.4 { 1 } else { 2 });
            assert_eq!(line.usual().inflections, 0);
            let faired = line.without_hollows(0, ON).unwrap();
            assert!(
                (faired.needed - needed).abs() < 0.003,
                "{depth}: {}",
                faired.needed
            );
            assert_eq!(faired.graph.turns().inflections, 0);
        }
        let line = dipped(0.8);
        let sweet = line.sweet(line.usual(), [false; 2], ON).unwrap();
        assert!((sweet.needed - 0.285).abs() < 0.01, "{}", sweet.needed);
        assert_eq!(
            sweet.graph.turns(),
            Turns {
                inflections: 0,
                peaks: 1
            }
        );
    }

    /// The smoothest line is nearer the clean one in curvature than before; the bare optimum of the linear programme is not.
    #[test]
    fn what_is_proposed_is_polished() {
        let (line, clean) = (dipped(0.8), dipped(0.0));
        let faired = line.without_hollows(0, ON).unwrap();
        let off = |graph: &Graph| {
            let pairs = graph.curvatures().into_iter().zip(clean.curvatures());
            pairs.map(|(a, b)| (a - b) * (a - b)).sum::<f64>().sqrt()
        };
        let mut raw = line.clone();
        let (_, moves) = line.least(&faired.shape).unwrap();
        for (c, moved) in raw.coefficients.iter_mut().zip(moves) {
            *c += moved;
        }
        assert!(off(&faired.graph) < 0.8 * off(&line));
        assert!(off(&faired.graph) < 0.6 * off(&raw));
        let samples = (0..=400).map(|i| 10.0 * f64::from(i));
        let largest = samples.map(|x| (faired.graph.at(x)[0] - line.at(x)[0]).abs());
        // Between the places at which it is bounded a move is a little larger.
        let largest = largest.fold(0.0, f64::max);
        let most = faired.needed * LEEWAY.0 + LEEWAY.1;
        assert!(largest < 1.1 * most, "{largest} of {most}");
    }

    #[test]
    fn the_least_sum_points_at_the_dip() {
        let line = dipped(1.6);
        let faired = line.without_hollows(0, ON).unwrap();
        let places: Vec<[f64; 2]> = (0..33).map(|i| [125.0 * f64::from(i), 1.6]).collect();
        let (moves, _) = line.blame(&faired, &places).unwrap();
        let moved = places
            .iter()
            .zip(&moves)
            .filter(|(_, moved)| moved.abs() > 0.01);
        let moved: Vec<f64> = moved.map(|([x, _], _)| *x).collect();
        assert!(!moved.is_empty());
        assert!(
            moved.iter().all(|x| (x - 1600.0).abs() < 250.0),
            "{moved:?}"
        );
    }

    /// A quarter wave is without an inflection, half a wave has one, in its middle.
    #[test]
    fn an_inflection_that_belongs_is_allowed() {
        let wave = |length: f64| {
            let breaks: Vec<f64> = (0..=20).map(|i| 50.0 * f64::from(i)).collect();
            let places: Vec<(f64, f64)> = (0..=200)
                .map(|i| 5.0 * f64::from(i))
                .map(|x| (x, 100.0 * num::cos(x / 1000.0 * length)))
                .collect();
            Graph::fitted(&breaks, &places).unwrap()
        };
        assert_eq!(wave(1.4).usual().inflections, 0);
        let half = wave(core::f64::consts::PI);
        assert_eq!(
            half.usual(),
            Turns {
                inflections: 1,
                peaks: 2
            }
        );
        let faired = half.sweet(half.usual(), [false; 2], ON).unwrap();
        assert!(faired.needed < 1e-3, "{}", faired.needed);
        let faired = half.without_hollows(1, ON).unwrap();
        assert!(faired.needed < 1e-3, "{}", faired.needed);
    }

    /// A line that bends one way, harder and harder into its end: the cubic through it has an inflection, it has none, and
    /// needs none.
    #[test]
    fn a_line_need_not_have_the_inflection_it_may_have() {
        let breaks: Vec<f64> = (0..=20).map(|i| 50.0 * f64::from(i)).collect();
        let places: Vec<(f64, f64)> = (0..=200)
            .map(|i| 5.0 * f64::from(i))
            .map(|x| {
                let cube = (x / 1000.0) * (x / 1000.0) * (x / 1000.0);
                (x, 500.0 - 1e-5 * x * x - 20.0 * cube * cube * cube * cube)
            })
            .collect();
        let line = Graph::fitted(&breaks, &places).unwrap();
        assert_eq!(line.usual().inflections, 1);
        assert_eq!(line.turns().inflections, 0);
        for run_outs in [[false; 2], [false, true]] {
            let sweet = line.sweet(line.usual(), run_outs, ON).unwrap();
            assert!(sweet.needed < 0.01, "{}", sweet.needed);
        }
        let plain = line.without_hollows(1, ON).unwrap();
        assert!(plain.needed < 1e-3, "{}", plain.needed);
    }

    /// Against every break tried, on lines with noise (a linear congruential generator): no break needs less, none before it
    /// needs as little, and far fewer are asked.
    #[test]
    fn a_turn_is_placed_as_if_each_break_were_tried() {
        let mut state = 7_u64;
        let mut error = || {
            state = state
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1_442_695_040_888_963_407);
            (state >> 11) as f64 / (1_u64 << 53) as f64 - 0.5
        };
        let breaks: Vec<f64> = (0..=40).map(|i| 25.0 * f64::from(i)).collect();
        let (mut asked, mut tried) = (0, 0);
        for most in [0.1, 1.0, 5.0] {
            let places: Vec<(f64, f64)> = (0..=160)
                .map(|i| 6.25 * f64::from(i))
                .map(|x| (x, 200.0 * num::sin(x / 400.0) + most * error()))
                .collect();
            let line = Graph::fitted(&breaks, &places).unwrap();
            let (rows, metric) = line.bends();
            let pattern = line.patterns(0)[0];
            for other in [None, Some(3)] {
                let shape = |place: usize| {
                    let splits: Vec<usize> = other.into_iter().chain([place]).collect();
                    line.monotone((&rows, &metric), &splits, pattern, [other.is_some(), false])
                };
                let count = core::cell::Cell::new(0);
                let counted = || {
                    count.set(count.get() + 1);
                    false
                };
                let from = other.unwrap_or(0);
                let infinite = f64::INFINITY;
                let found = line.best_place(from, 40, infinite, &shape, &counted);
                let (needed, place) = found.unwrap().unwrap();
                for at in from..=40 {
                    let each = line.bound(&shape(at)).unwrap();
                    let slight = if at < place { 0.0 } else { -2.0 * SAME };
                    assert!(
                        each - needed > slight,
                        "{at}: {each} under {needed} at {place}"
                    );
                }
                // What needs no less than this is not looked for.
                let none = line.best_place(from, 40, needed, &shape, &|| false);
                assert_eq!(none, Ok(None));
                asked += count.get();
                tried += 41 - from;
            }
        }
        assert!(2 * asked < tried, "{asked} of {tried}");
    }

    #[test]
    fn it_stops_when_told() {
        let line = dipped(0.8);
        assert_eq!(
            line.sweet(line.usual(), [false; 2], &|| true),
            Err(NotFaired::Stopped)
        );
    }
}
