//! A plane curve that doubles back, such as a section, and how far it must move along its own normals to be nowhere hollow.
//!
//! In: a curve by its derivatives, from crown to keel. Out: the least largest move, a cubic spline of moves along the normals
//! of the curve as it was, and the smoothest curve that moves hardly further. Curvature is negative where the curve is convex.
//! It is not linear in the moves: they are found by sequential linear programming, each step with the curvature linearised
//! about the moves of the step before.

use super::graph::NotFaired;
use super::programme::{NoOptimum, Programme};
use crate::num;
use crate::num::linear::{Terms, times};
use crate::spline::{Basis, Knots};

/// Parts of a span; the curvature is bounded at both ends of each.
const PARTS: u32 = 4;

/// Bound on the moves of the smoothest curve: the minimax move times the first, and so many mm more.
const LEEWAY: (f64, f64) = (1.05, 0.005);

/// Steps after which a curve is given up: it takes two or three, and finds no end where it must move by much of its radius.
const STEPS: usize = 10;

/// Steps have converged where the objective changes by no more than this share of itself and this.
const SETTLED: (f64, f64) = (1e-5, 1e-6);

/// By how much the curvature found may exceed its bound, in parts of the curvature of a half circle of the same length.
const MET: f64 = 1e-5;

/// A piece of curve without a corner.
#[derive(Clone, Debug)]
pub(super) struct Contour {
    knots: Knots,
    places: Vec<Placed>,
    /// Whether it crosses the centre plane at a right angle, at its start and at its end.
    level: [bool; 2],
    length: f64,
}

/// A curve at one place, with all that its moves are reckoned by.
#[derive(Clone, Debug)]
struct Placed {
    v: f64,
    first: usize,
    basis: Basis,
    at: [f64; 2],
    /// First and second derivative.
    curve: [[f64; 2]; 2],
    /// The normal, and its first and second derivative.
    normal: [[f64; 2]; 3],
}

/// Moves along the normals of a [`Contour`], outward positive.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Moves {
    knots: Knots,
    coefficients: Vec<f64>,
}

/// A curve brought within its bound.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Rounded {
    /// The least largest move that does it, mm.
    pub(super) needed: f64,
    /// The moves of the smoothest curve whose moves are hardly larger.
    pub(super) moves: Moves,
}

/// A stretch under a straight batten.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Bridge {
    /// How far the deepest place lies under it, mm.
    pub(super) depth: f64,
    /// Parameter of that place.
    pub(super) at: f64,
    /// Where the batten touches before.
    pub(super) from: f64,
    /// Where it touches behind.
    pub(super) to: f64,
}

/// A bound on the curvature of a curve over a stretch of it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct CurvatureBound {
    /// The curvature that it may have at most, 1/mm: 0 where it may not be hollow.
    pub(super) at_most: f64,
    /// Parameters between which it is asked.
    pub(super) between: [f64; 2],
}

/// What a step finds least, and its moves.
type Stepped = Result<(f64, Vec<f64>), NotFaired>;

fn cross(a: [f64; 2], b: [f64; 2]) -> f64 {
    a[0] * b[1] - a[1] * b[0]
}

fn dot(a: [f64; 2], b: [f64; 2]) -> f64 {
    a[0] * b[0] + a[1] * b[1]
}

/// `Σ factors · vectors`.
fn sum<const N: usize>(of: [(f64, [f64; 2]); N]) -> [f64; 2] {
    of.iter().fold([0.0; 2], |sum, (by, vector)| {
        [sum[0] + by * vector[0], sum[1] + by * vector[1]]
    })
}

impl Placed {
    /// None where the curve stands still.
    fn of(knots: &Knots, (span, v): (usize, f64), [at, c1, c2, c3]: [[f64; 2]; 4]) -> Option<Self> {
        let speed = num::hypot(c1[0], c1[1]);
        if !(speed > 0.0 && speed.is_finite()) {
            return None;
        }
        let quickens = dot(c1, c2) / speed;
        let tangent = [c1[0] / speed, c1[1] / speed];
        let normal = [-tangent[1], tangent[0]];
        // The angle of the tangent, by v.
        let turns = cross(c1, c2) / (speed * speed);
        let turns_more = cross(c1, c3) / (speed * speed) - 2.0 * turns * quickens / speed;
        Some(Self {
            v,
            first: knots.first_coefficient(span),
            basis: knots.basis(span, v),
            at,
            curve: [c1, c2],
            normal: [
                normal,
                sum([(-turns, tangent)]),
                sum([(-turns_more, tangent), (-turns * turns, normal)]),
            ],
        })
    }

    fn moved(&self, moves: &[f64]) -> [f64; 3] {
        let own = &moves[self.first..self.first + 4];
        core::array::from_fn(|d| own.iter().zip(self.basis[d]).map(|(c, b)| c * b).sum())
    }

    /// First and second derivative of the moved curve.
    fn derivatives(&self, [d0, d1, d2]: [f64; 3]) -> [[f64; 2]; 2] {
        let ([c1, c2], [n0, n1, n2]) = (self.curve, self.normal);
        [
            sum([(1.0, c1), (d1, n0), (d0, n1)]),
            sum([(1.0, c2), (d2, n0), (2.0 * d1, n1), (d0, n2)]),
        ]
    }

    fn curvature(&self, moves: &[f64]) -> f64 {
        let [a, b] = self.derivatives(self.moved(moves));
        let speed = num::hypot(a[0], a[1]);
        cross(a, b) / (speed * speed * speed)
    }

    /// Curvature linearised about some moves, where it is exact: its gradient, and the constant of the linear form.
    fn about(&self, moves: &[f64]) -> (Terms, f64) {
        let moved = self.moved(moves);
        let [a, b] = self.derivatives(moved);
        let [n0, n1, n2] = self.normal;
        let square = dot(a, a);
        let cube = square * square.sqrt();
        let bend = cross(a, b) / cube;
        let by = [
            (cross(n1, b) + cross(a, n2)) / cube - 3.0 * bend * dot(a, n1) / square,
            (cross(n0, b) + 2.0 * cross(a, n1)) / cube - 3.0 * bend * dot(a, n0) / square,
            cross(a, n0) / cube,
        ];
        let term = |k: usize| {
            let value = (0..3).map(|d| by[d] * self.basis[d][k]).sum();
            (self.first + k, value)
        };
        let now: f64 = by.iter().zip(moved).map(|(by, d)| by * d).sum();
        ((0..4).map(term).collect(), bend - now)
    }

    fn value(&self) -> Terms {
        let values = self.basis[0].iter().enumerate();
        values.map(|(k, b)| (self.first + k, *b)).collect()
    }
}

impl Moves {
    /// The move at a parameter, mm.
    #[must_use]
    pub(super) fn at(&self, v: f64) -> f64 {
        let span = self.knots.span_at(v);
        let first = self.knots.first_coefficient(span);
        let basis = self.knots.basis(span, v)[0];
        let own = &self.coefficients[first..first + 4];
        own.iter().zip(basis).map(|(c, b)| c * b).sum()
    }
}

fn part(a: f64, b: f64, k: u32) -> f64 {
    a + (b - a) * f64::from(k) / f64::from(PARTS)
}

impl Contour {
    /// The curve with these breaks; `at` gives place and first to third derivative by a span's number and a parameter.
    ///
    /// Where it is level at an end, it stays so: the moves have no slope there.
    ///
    /// None where the breaks do not rise, or the curve stands still.
    ///
    /// # Units
    /// mm; the parameter has none. It runs so that its left is outside: from crown to keel on the starboard side.
    #[must_use]
    pub(super) fn new(
        breaks: &[f64],
        level: [bool; 2],
        at: &dyn Fn(usize, f64) -> [[f64; 2]; 4],
    ) -> Option<Self> {
        let knots = Knots::clamped(breaks).ok()?;
        let mut places = Vec::new();
        let mut length = 0.0;
        for (span, pair) in breaks.windows(2).enumerate() {
            for k in 0..=PARTS {
                let v = part(pair[0], pair[1], k);
                let placed = Placed::of(&knots, (span, v), at(span, v))?;
                let share = if k == 0 || k == PARTS { 0.5 } else { 1.0 };
                let speed = num::hypot(placed.curve[0][0], placed.curve[0][1]);
                length += share * speed * (pair[1] - pair[0]) / f64::from(PARTS);
                places.push(placed);
            }
        }
        Some(Self {
            knots,
            places,
            level,
            length,
        })
    }

    fn unmoved(&self) -> Vec<f64> {
        vec![0.0; self.knots.count()]
    }

    fn with(&self, coefficients: Vec<f64>) -> Moves {
        Moves {
            knots: self.knots.clone(),
            coefficients,
        }
    }

    /// How far the curvature is past what is asked, 1/mm.
    fn past(&self, moves: &[f64], asked: &CurvatureBound) -> f64 {
        let held = self.places.iter().filter(|place| asked.holds(place.v));
        held.map(|place| place.curvature(moves) - asked.at_most)
            .fold(f64::NEG_INFINITY, f64::max)
    }

    /// The least largest move that brings the curvature within its bound, and the smoothest curve that moves hardly further.
    ///
    /// # Errors
    /// [`NotFaired`].
    ///
    /// # Accuracy
    /// The bound is met to 1e-5 of the curvature of a half circle as long, four times in each span and at its ends; the
    /// needed move is found to 1e-5 of itself or 1e-6 mm.
    ///
    /// # Source
    /// Sequential linear programming (Griffith and Stewart, *Management Science* 7, 1961, from memory); the curvature of a
    /// curve moved along its normals is ours.
    pub(super) fn rounded(
        &self,
        asked: CurvatureBound,
        stop: &dyn Fn() -> bool,
    ) -> Result<Rounded, NotFaired> {
        let unmoved = self.unmoved();
        if self.past(&unmoved, &asked) <= 0.0 {
            return Ok(Rounded {
                needed: 0.0,
                moves: self.with(unmoved),
            });
        }
        let least = |moves: &[f64]| self.least(moves, &asked);
        let (needed, start) = self.settle(unmoved, &asked, stop, &least)?;
        let most = needed * LEEWAY.0 + LEEWAY.1;
        let smooth = |moves: &[f64]| self.smoothest(moves, &asked, most);
        let (_, moves) = self.settle(start, &asked, stop, &smooth)?;
        Ok(Rounded {
            needed,
            moves: self.with(moves),
        })
    }

    /// The largest distance of the curve from its convex hull, under a straight batten laid on from outside. None where it is
    /// convex. Half of it is a lower bound for the largest move of any convex curve.
    ///
    /// # Accuracy
    /// Over the places at which curvature is bounded. The bound holds for any move: the place and the two that the batten
    /// touches each come nearer the line through the others by no more than they move.
    #[must_use]
    pub(super) fn bridged(&self, asked: CurvatureBound) -> Option<Bridge> {
        let held = self.places.iter().filter(|place| asked.holds(place.v));
        let held: Vec<&Placed> = held.collect();
        let chord = |a: usize, b: usize| sum([(1.0, held[b].at), (-1.0, held[a].at)]);
        // The convex hull, as a stack of places (Graham's scan): those that a batten laid on from outside touches.
        let mut touched: Vec<usize> = Vec::new();
        for k in 0..held.len() {
            while let [.., a, b] = touched[..]
                && cross(chord(a, b), chord(b, k)) >= 0.0
            {
                touched.pop();
            }
            touched.push(k);
        }
        let mut deepest = None::<Bridge>;
        for pair in touched.windows(2) {
            let [a, b] = [pair[0], pair[1]];
            let along = chord(a, b);
            let length = num::hypot(along[0], along[1]);
            for k in a + 1..b {
                let depth = -cross(along, chord(a, k)) / length;
                if depth > deepest.map_or(num::SAME_POINT, |deepest| deepest.depth) {
                    deepest = Some(Bridge {
                        depth,
                        at: held[k].v,
                        from: held[a].v,
                        to: held[b].v,
                    });
                }
            }
        }
        deepest
    }

    /// Repeats a step until the bound is met and the objective has converged: the objective, and the moves.
    fn settle(
        &self,
        mut moves: Vec<f64>,
        asked: &CurvatureBound,
        stop: &dyn Fn() -> bool,
        step: &dyn Fn(&[f64]) -> Stepped,
    ) -> Stepped {
        let near = MET * core::f64::consts::PI / self.length;
        let mut before = f64::INFINITY;
        for _ in 0..STEPS {
            if stop() {
                return Err(NotFaired::Stopped);
            }
            let (least, to) = step(&moves)?;
            moves = to;
            let settled = (least - before).abs() <= SETTLED.0 * least + SETTLED.1;
            if settled && self.past(&moves, asked) <= near {
                return Ok((least, moves));
            }
            before = least;
        }
        Err(NotFaired::Hard(NoOptimum::Hard))
    }

    /// A programme of the moves, with the ends level and the curvature within its bound by its form about some moves.
    fn programme(&self, about: &[f64], asked: &CurvatureBound) -> Programme {
        let n = self.knots.count();
        let mut programme = Programme::new(n);
        for (end, pair) in self.level.iter().zip([[0, 1], [n - 1, n - 2]]) {
            if *end {
                programme.equal(vec![(pair[0], 1.0), (pair[1], -1.0)], 0.0);
            }
        }
        // Curvature times the square of a span's length is a length, as the moves are.
        let span = self.length / self.knots.span_count() as f64;
        let scale = span * span;
        for place in self.places.iter().filter(|place| asked.holds(place.v)) {
            let (terms, alone) = place.about(about);
            programme.at_most(times(&terms, scale), scale * (asked.at_most - alone));
        }
        programme
    }

    /// The places at which moves are bounded, each once.
    fn bounded(&self) -> impl Iterator<Item = &Placed> {
        let parts = PARTS as usize + 1;
        let last = self.places.len() - 1;
        let once = move |k: &usize| k % parts != parts - 1 || *k == last;
        (0..=last).filter(once).map(|k| &self.places[k])
    }

    fn least(&self, about: &[f64], asked: &CurvatureBound) -> Stepped {
        let mut programme = self.programme(about, asked);
        let largest = programme.variable(0.0, 1.0);
        for place in self.bounded() {
            programme.size_within(&place.value(), largest);
        }
        let mut best = programme.solve().map_err(NotFaired::Hard)?.x;
        best.truncate(largest + 1);
        let needed = best.pop().unwrap_or_default();
        Ok((needed.max(0.0), best))
    }

    /// The moves that minimise `Σ (Δκ)² / Δv` over neighbouring places of each span, and that sum in parts of the unmoved
    /// curve's.
    ///
    /// # Source
    /// A discrete `∫κ'² dv` (Moreton, *Minimum Curvature Variation Curves, Networks, and Surfaces*, 1993), zero for a circle.
    fn smoothest(&self, about: &[f64], asked: &CurvatureBound, most: f64) -> Stepped {
        let mut programme = self.programme(about, asked);
        let n = self.knots.count();
        // Δκ / √Δv as linear forms of the moves; both places of a pair have the same four coefficients.
        let spans = self.places.chunks(PARTS as usize + 1);
        let pairs = spans.flat_map(|span| span.windows(2));
        let steps = pairs.map(|pair| {
            let [(a, a0), (b, b0)] = [pair[0].about(about), pair[1].about(about)];
            let by = 1.0 / (pair[1].v - pair[0].v).sqrt();
            let terms = a.iter().zip(&b);
            let terms: Terms = terms.map(|(a, b)| (b.0, by * (b.1 - a.1))).collect();
            (terms, by * (b0 - a0))
        });
        let steps: Vec<(Terms, f64)> = steps.collect();
        // Scaled so that the cost is near 1: by the sum of the unmoved curve, no less than moves of 0.001 mm would give.
        let squares = steps.iter().flat_map(|(terms, _)| terms);
        let trace: f64 = squares.map(|(_, value)| value * value).sum();
        let unit = self.unrest(&self.unmoved());
        let scale = 1.0 / unit.max(1e-6 * trace).max(f64::MIN_POSITIVE);
        for (terms, alone) in steps {
            let step = programme.variable(1.0, 0.0);
            let root = scale.sqrt();
            let mut terms = times(&terms, root);
            terms.push((step, -1.0));
            programme.equal(terms, -root * alone);
        }
        // A small ridge term makes the optimum unique where the cost is flat.
        programme.quadratic.extend((0..n).map(|i| (i, i, 1e-9)));
        for place in self.bounded() {
            programme.size_at_most(&place.value(), most);
        }
        let mut moves = programme.solve().map_err(NotFaired::Hard)?.x;
        moves.truncate(n);
        Ok((scale * self.unrest(&moves), moves))
    }

    /// `Σ (Δκ)² / Δv` between neighbouring places of each span.
    fn unrest(&self, moves: &[f64]) -> f64 {
        let spans = self.places.chunks(PARTS as usize + 1);
        let pairs = spans.flat_map(|span| span.windows(2));
        let each = pairs.map(|pair| {
            let step = pair[1].curvature(moves) - pair[0].curvature(moves);
            step * step / (pair[1].v - pair[0].v)
        });
        each.sum()
    }

    /// The moves of least `Σ |move|` under the bound linearised about the moves found. A least sum of sizes is sparse: it points
    /// at the place that keeps the curve from the bound, where the minimax move is spread over all places.
    ///
    /// # Errors
    /// [`NotFaired`].
    ///
    /// # Accuracy
    /// Curvature is linear about the moves found: good to their square over the radius.
    pub(super) fn blame(&self, found: &Rounded, asked: CurvatureBound) -> Result<Moves, NotFaired> {
        let mut programme = self.programme(&found.moves.coefficients, &asked);
        for place in self.bounded() {
            let size = programme.variable(0.0, 1.0);
            programme.size_within(&place.value(), size);
        }
        let mut best = programme.solve().map_err(NotFaired::Hard)?.x;
        best.truncate(self.knots.count());
        Ok(self.with(best))
    }
}

impl CurvatureBound {
    fn holds(&self, v: f64) -> bool {
        (self.between[0]..=self.between[1]).contains(&v)
    }
}

#[cfg(test)]
mod tests {
    #![expect(clippy::print_stdout, reason = "a test says what it measured")]

    use super::*;
    use crate::fair::graph::Graph;
    use core::cell::Cell;
    use core::f64::consts::PI;

    const ON: &dyn Fn() -> bool = &|| false;

    const CONVEX: CurvatureBound = CurvatureBound {
        at_most: 0.0,
        between: [f64::NEG_INFINITY, f64::INFINITY],
    };

    const NOTHING: CurvatureBound = CurvatureBound {
        at_most: 0.0,
        between: [f64::INFINITY, f64::NEG_INFINITY],
    };

    /// Curvature of the moved curve at the places at which it is held, 1/mm.
    fn curvatures(contour: &Contour, moves: &[f64]) -> Vec<f64> {
        let all = contour.places.iter();
        all.map(|place| place.curvature(moves)).collect()
    }

    /// The largest move where moves are bounded, mm.
    fn largest(contour: &Contour, moves: &Moves) -> f64 {
        let all = contour.bounded().map(|place| moves.at(place.v).abs());
        all.fold(0.0, f64::max)
    }

    /// An ellipse of 300 by 400 mm with a dent, as a spline through 25 points.
    fn dented_ellipse(depth: f64) -> Contour {
        let points: Vec<[f64; 2]> = (0..25)
            .map(|i| {
                let t = PI * f64::from(i) / 24.0;
                let (sin, cos) = (num::sin(t), num::cos(t));
                let off = (t - 1.1) / 0.22;
                let dent = depth * num::exp(-off * off);
                let (ny, nz) = (sin / 300.0, cos / 400.0);
                let l = num::hypot(ny, nz);
                [300.0 * sin - dent * ny / l, 400.0 * cos - dent * nz / l]
            })
            .collect();
        let mut v = vec![0.0];
        for pair in points.windows(2) {
            let chord = num::hypot(pair[1][0] - pair[0][0], pair[1][1] - pair[0][1]);
            v.push(v[v.len() - 1] + chord);
        }
        let whole = v[24];
        let v: Vec<f64> = v.iter().map(|s| s / whole).collect();
        // Not a knot at the second point and at the last but one.
        let breaks: Vec<f64> = (0..25)
            .filter(|i| ![1, 23].contains(i))
            .map(|i| v[i])
            .collect();
        let part = |k: usize| {
            let places: Vec<(f64, f64)> = v.iter().zip(&points).map(|(v, p)| (*v, p[k])).collect();
            Graph::fitted(&breaks, &places).unwrap()
        };
        let (y, z) = (part(0), part(1));
        // The span to the left at a break comes to the same: the third derivative alone differs, by little.
        let at = |_span: usize, v: f64| {
            let (y, z) = (y.at(v), z.at(v));
            core::array::from_fn(|d| [y[d], z[d]])
        };
        Contour::new(&breaks, [false; 2], &at).unwrap()
    }

    /// A circle of 500 mm with a dent in closed form, `r = R − depth · exp(−((t − t₀)/w)²)`, its half from crown to keel.
    fn dented_circle(depth: f64, spans: u32) -> Contour {
        let breaks: Vec<f64> = (0..=spans)
            .map(|i| PI * f64::from(i) / f64::from(spans))
            .collect();
        Contour::new(&breaks, [true; 2], &|_, t| dent(depth, t)).unwrap()
    }

    const RADIUS: f64 = 500.0;
    const AT: f64 = 1.4;
    const WIDE: f64 = 0.15;

    fn dent(depth: f64, t: f64) -> [[f64; 2]; 4] {
        round(dented_radius([depth, AT, WIDE], t), t)
    }

    /// Radius and its derivatives, with a dent of this depth, place and breadth.
    fn dented_radius([depth, at, wide]: [f64; 3], t: f64) -> [f64; 4] {
        let s = (t - at) / wide;
        let g = depth * num::exp(-s * s);
        [
            RADIUS - g,
            2.0 * s * g / wide,
            -(4.0 * s * s - 2.0) * g / (wide * wide),
            (8.0 * s * s * s - 12.0 * s) * g / (wide * wide * wide),
        ]
    }

    /// The curve of a radius by its angle from the crown.
    fn round(r: [f64; 4], t: f64) -> [[f64; 2]; 4] {
        let (sin, cos) = (num::sin(t), num::cos(t));
        // Derivatives of r (sin, cos) by the product rule.
        let unit = [[sin, cos], [cos, -sin], [-sin, -cos], [-cos, sin]];
        let binomial = [
            [1.0, 0.0, 0.0, 0.0],
            [1.0, 1.0, 0.0, 0.0],
            [1.0, 2.0, 1.0, 0.0],
            [1.0, 3.0, 3.0, 1.0],
        ];
        core::array::from_fn(|d| {
            (0..=d).fold([0.0; 2], |sum, k| {
                let by = binomial[d][k] * r[k];
                [sum[0] + by * unit[d - k][0], sum[1] + by * unit[d - k][1]]
            })
        })
    }

    /// Needed moves and moves of the smoothest curve by an independent program on the same splines (a simplex method for the
    /// linear programmes, curvature linear about the curve as it was).
    #[test]
    fn a_dented_ellipse_needs_what_an_independent_program_says() {
        for (depth, at_most, needed, smooth) in [
            (2.0, -1.68e-3, 0.0083, 0.0137),
            (4.0, -1.6e-3, 0.2872, 0.3066),
        ] {
            let contour = dented_ellipse(depth);
            let asked = CurvatureBound { at_most, ..CONVEX };
            // It is asked before each step.
            let steps = Cell::new(0);
            let counted = || {
                steps.set(steps.get() + 1);
                false
            };
            let found = contour.rounded(asked, &counted).unwrap();
            let (moved, steps) = (largest(&contour, &found.moves), steps.get());
            println!(
                "{depth} mm: needed {:.5}, moved {moved:.5}, {steps} steps",
                found.needed
            );
            assert!((found.needed - needed).abs() < 1e-3, "{}", found.needed);
            assert!((moved - smooth).abs() < 1.5e-3);
            assert!(steps <= 8, "{steps}");
            let most = curvatures(&contour, &found.moves.coefficients);
            let most = most.into_iter().fold(f64::MIN, f64::max);
            assert!(most < at_most + 1e-5 * at_most.abs(), "{most}");
        }
        // Its bound is kept as it stands.
        let asked = CurvatureBound {
            at_most: -0.2e-3,
            ..CONVEX
        };
        assert!(dented_ellipse(6.0).rounded(asked, ON).unwrap().needed < 1e-12);
    }

    #[test]
    fn a_convex_curve_needs_nothing() {
        for depth in [0.0, 1.0] {
            let contour = dented_circle(depth, 24);
            let most = curvatures(&contour, &contour.unmoved());
            assert!(most.iter().all(|k| *k < 0.0));
            let found = contour.rounded(CONVEX, ON).unwrap();
            assert!(found.needed == 0.0 && largest(&contour, &found.moves) == 0.0);
            assert_eq!(contour.bridged(CONVEX), None);
        }
    }

    /// A convex curve that moved by no more than τ has, of any three points, the middle one outside the chord of the others:
    /// so τ (1 + cos α) is at least the depth of the middle one under the chord, with α between the normals. The hull moved in
    /// by half its largest height over the dent is convex and moves no further than that, but for the slope of its normals.
    #[test]
    fn a_dent_needs_half_its_depth_under_the_chord_that_bridges_it() {
        for depth in [8.0, 16.0, 30.0] {
            let contour = dented_circle(depth, 160);
            let bottom = dent(depth, AT)[0];
            let mut least = 0.0_f64;
            let mut height = 0.0_f64;
            for a in 1..=300 {
                for b in 1..=300 {
                    let [ta, tb] = [AT - 0.002 * f64::from(a), AT + 0.002 * f64::from(b)];
                    let [pa, pb] = [dent(depth, ta), dent(depth, tb)];
                    let chord = [pb[0][0] - pa[0][0], pb[0][1] - pa[0][1]];
                    let size = num::hypot(chord[0], chord[1]);
                    let under = -cross(chord, [bottom[0] - pa[0][0], bottom[1] - pa[0][1]]) / size;
                    // How far τ along each normal brings the ends nearer and the bottom further out, square to the chord.
                    let out = [-chord[1] / size, chord[0] / size];
                    let normal = |p: [[f64; 2]; 4]| {
                        let l = num::hypot(p[1][0], p[1][1]);
                        [-p[1][1] / l, p[1][0] / l]
                    };
                    let share = f64::from(b) / f64::from(a + b);
                    let gains = dot(normal(dent(depth, AT)), out)
                        + share * dot(normal(pa), out)
                        + (1.0 - share) * dot(normal(pb), out);
                    least = least.max(under / gains);
                    height = height.max(under);
                }
            }
            let found = contour.rounded(CONVEX, ON).unwrap();
            println!(
                "{depth} mm: needed {:.4} of at least {least:.4}, at most about {:.4}",
                found.needed,
                height / 2.0
            );
            assert!(found.needed > 0.98 * least);
            assert!(found.needed < 1.1 * height / 2.0);
            // Blame lies on the dent, and says that it is one.
            let blame = contour.blame(&found, CONVEX).unwrap();
            assert!(blame.at(AT) > 0.5 * height, "{}", blame.at(AT));
            assert!(blame.at(AT - 3.0 * WIDE).abs() < 0.1 * height);
            // So does the straight batten.
            let bridge = contour.bridged(CONVEX).unwrap();
            assert!(bridge.from < AT && AT < bridge.to && (bridge.at - AT).abs() < 0.03);
            assert!((bridge.depth / height - 1.0).abs() < 0.03, "{bridge:?}");
        }
    }

    /// `∫κ'²` is naught on a circle and nowhere else (Moreton, UCB CSD-93-732, 1993). A circle of 500 mm with a dent of 2 mm and
    /// a wave of 1 mm, free to move by 5 mm, becomes one.
    #[test]
    fn the_curve_of_least_change_of_curvature_is_a_circle() {
        let breaks: Vec<f64> = (0..=160).map(|i| PI * f64::from(i) / 160.0).collect();
        let evened = |r: &dyn Fn(f64) -> [f64; 4]| {
            let contour = Contour::new(&breaks, [true; 2], &|_, t| round(r(t), t)).unwrap();
            let spread = |moves: &[f64]| {
                let all = curvatures(&contour, moves).into_iter();
                let most = all.clone().fold(f64::MIN, f64::max);
                (most - all.fold(f64::MAX, f64::min)) * RADIUS
            };
            let step = |moves: &[f64]| contour.smoothest(moves, &NOTHING, 5.0);
            let (_, moves) = contour
                .settle(contour.unmoved(), &NOTHING, ON, &step)
                .unwrap();
            let [before, after] = [&contour.unmoved(), &moves].map(|moves| spread(moves));
            println!("curvatures {before:.2e}, then {after:.2e} of 1/radius apart");
            [before, after]
        };
        let [before, after] = evened(&|t| {
            let (sin, cos) = (num::sin(6.0 * t), num::cos(6.0 * t));
            let wave = [cos, -6.0 * sin, -36.0 * cos, 216.0 * sin];
            let dented = dented_radius([2.0, 1.2, 0.3], t);
            core::array::from_fn(|d| dented[d] + wave[d])
        });
        // What is left is how near a spline of 160 spans comes to a circle.
        assert!(before > 0.1 && after < 2e-3, "{after}");
        // A circle stays one.
        let [_, after] = evened(&|_| [RADIUS, 0.0, 0.0, 0.0]);
        assert!(after < 1e-6, "{after}");
    }

    #[test]
    fn between_the_places_at_which_it_is_held_it_is_hardly_hollow() {
        let contour = dented_circle(16.0, 48);
        let found = contour.rounded(CONVEX, ON).unwrap();
        let knots = &found.moves.knots;
        let fine = (0..=4800).map(|i| {
            let t = PI * f64::from(i) / 4800.0;
            let span = knots.span_at(t);
            let placed = Placed::of(knots, (span, t), dent(16.0, t)).unwrap();
            placed.curvature(&found.moves.coefficients)
        });
        let most = fine.fold(f64::MIN, f64::max);
        println!("{most:.2e} of 1/{RADIUS}");
        assert!(most < 0.02 / RADIUS);
    }

    #[test]
    fn what_is_asked_of_a_part_is_asked_there_only() {
        let contour = dented_circle(16.0, 48);
        let asked = CurvatureBound {
            at_most: 0.0,
            between: [2.2, PI],
        };
        assert!(contour.rounded(asked, ON).unwrap().needed < 1e-12);
        let stopped = contour.rounded(CONVEX, &|| true);
        assert_eq!(stopped, Err(NotFaired::Stopped));
    }

    #[test]
    fn a_curve_that_stands_still_is_none() {
        let still = |_: usize, _: f64| [[0.0; 2]; 4];
        assert!(Contour::new(&[0.0, 1.0], [false; 2], &still).is_none());
        let line = |_: usize, v: f64| [[v, 0.0], [1.0, 0.0], [0.0; 2], [0.0; 2]];
        assert!(Contour::new(&[0.0, 0.0], [false; 2], &line).is_none());
    }
}
