//! One net fitted to all points at once: weighted least squares with a third-derivative energy in both directions.
//!
//! In: knots, girth parameters, weights and conditions. Out: a [`Fit`], which holds the factors and turns points into a
//! surface. The right side alone depends on the points, so that a drag costs one solve.
//!
//! Half-breadths and heights are fitted apart, each by the least of `Σ wᵢ (f(uᵢ, vᵢ) − fᵢ)² + λ E(f)`: `f` in mm, `w` without
//! a unit, `λ` the stiffness (1: the loft as drawn), and `E`, mm², the mean over the surface of `Σ C(3, k) h_u^{2k} h_v^{2m}
//! (∂³f / ∂u^k ∂v^m)²`, `k + m = 3`, with the stiffness lengths `h_u`, `h_v` below ([`energy`]).

use super::LoftError;
use super::ends::{EndBays, FAR};
use crate::num::linear::{BandFactor, BandMatrix, Terms, add_term, dot};
use crate::spline::{Basis, DEGREE, Knots, Surface};

/// Stiffness lengths of the energy: of the body's length, and of its girth.
///
/// They belong to the body and not to the spacing of the offsets, so that adding a station does not change it.
pub(super) const STIFF_U: f64 = 1.0 / 17.0;
const STIFF_V: f64 = 1.0 / 27.0;

/// How a surface resists being bent.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Bending {
    /// Third derivatives in all directions, as the loft has it at 1; over 1 it is stiffer along the body, under it round
    /// the girth.
    Even(f64),
    /// Sections bend as they like, but change steadily along the body: third derivatives along it, and what changes along
    /// it of the bends round the girth. The stiffness lengths along and round are these times those of the loft.
    Steady([f64; 2]),
}

/// Share of the bending of sections themselves in a surface on which they bend as they like.
const AS_THEY_LIKE: f64 = 1e-3;

/// How a row of the net is tied.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct RowTies {
    /// All its points are one, on the centre plane.
    pub(super) tip: bool,
    /// Its first point lies on the centre plane.
    pub(super) crown: bool,
    /// And the section is level there.
    pub(super) crown_level: bool,
    /// Its last point lies on the centre plane.
    pub(super) keel: bool,
    /// And the section is level there.
    pub(super) keel_level: bool,
}

/// How firmly the third derivative goes on straight, against its own energy in the end bay.
///
/// Of exact tables the curvature at the ends is the better the firmer, of noisy ones the worse: see `tests/ends.rs`.
pub(super) const STRAIGHT: f64 = 30.0;

/// How firmly a plate is flat, against the energy of third derivatives: `FLAT · h_v⁴` times the mean square of the second
/// derivative round the girth.
///
/// What is flat costs no energy round the girth; what changes along the body would bend it. At this a plate between two lines
/// that themselves bend lies within 0.01 mm of straight: see `tests/plates.rs`.
const FLAT: f64 = 1e4;

/// The energy that couples a coefficient with those of its own row and of those before it:
/// `[i − i'][j' − j + 3]` for i' ≤ i.
type Coupled = [[f64; 7]; FAR + 1];

/// A place at which the surface is to pass, and how firmly.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Target {
    pub(super) u: f64,
    pub(super) v: f64,
    /// 1/mm².
    pub(super) weight: f64,
}

#[derive(Clone, Debug)]
struct TargetRow {
    /// First coefficient in each direction.
    first: [usize; 2],
    /// Products of the basis functions, `[i][j]`.
    product: [[f64; 4]; 4],
    weight: f64,
}

/// Which unknown each coefficient of the net is; none where it is zero.
#[derive(Clone, Debug)]
struct Unknowns {
    index: Vec<Option<u32>>,
    count: usize,
}

/// The factored system of a net.
#[derive(Clone, Debug)]
pub(super) struct Fit {
    u: Knots,
    v: Knots,
    x: Vec<f64>,
    rows: Vec<TargetRow>,
    y_unknowns: Unknowns,
    z_unknowns: Unknowns,
    y_factor: BandFactor,
    z_factor: BandFactor,
}

/// Everything of the system but its stiffness.
#[derive(Debug)]
pub(super) struct System {
    u: Knots,
    v: Knots,
    x: Vec<f64>,
    rows: Vec<TargetRow>,
    y_unknowns: Unknowns,
    z_unknowns: Unknowns,
    end_bays: EndBays,
    /// Stretches of the girth that are flat.
    plates: Vec<[f64; 2]>,
    taut: f64,
    /// Energy of the net, `[i · n_v + j]`.
    energy: Vec<Coupled>,
}

fn span_rows(knots: &Knots, x: f64) -> (usize, Basis) {
    let span = knots.span_at(x);
    (knots.first_coefficient(span), knots.basis(span, x))
}

impl Unknowns {
    fn of(ties: &[RowTies], columns: usize, height: bool) -> Self {
        let mut index = Vec::with_capacity(ties.len() * columns);
        let mut count: u32 = 0;
        for tie in ties {
            if tie.tip {
                let unknown = height.then_some(count);
                count += u32::from(height);
                index.extend(core::iter::repeat_n(unknown, columns));
                continue;
            }
            let from = index.len();
            for j in 0..columns {
                let on_centreline = (j == 0 && tie.crown) || (j + 1 == columns && tie.keel);
                let with_last = (j == 1 && tie.crown_level) || (j + 1 == columns && tie.keel_level);
                if height && with_last {
                    index.push(index[from + j - 1]); // level: equal to its neighbour
                } else if !height && on_centreline {
                    index.push(None);
                } else {
                    index.push(Some(count));
                    count += 1;
                }
            }
        }
        Self {
            index,
            count: count as usize,
        }
    }

    /// The coefficients of a net with these unknowns.
    fn net(&self, values: &[f64]) -> Vec<f64> {
        let index = self.index.iter();
        index
            .map(|at| at.map_or(0.0, |at| values[at as usize]))
            .collect()
    }

    /// A matrix of zeros for what couples coefficients up to three columns, and in end bays more than three rows, apart.
    fn zeros(&self, columns: usize, end_bays: EndBays) -> BandMatrix {
        let rows = self.index.len() / columns;
        let mut firsts: Vec<usize> = (0..self.count).collect();
        let mut half = 0;
        for i in 0..rows {
            for j in 0..columns {
                let Some(a) = self.index[i * columns + j] else {
                    continue;
                };
                for p in i.saturating_sub(end_bays.reach(i, rows))..=i {
                    for q in j.saturating_sub(3)..(j + 4).min(columns) {
                        if let Some(b) = self.index[p * columns + q] {
                            let (low, high) = (a.min(b) as usize, a.max(b) as usize);
                            firsts[high] = firsts[high].min(low);
                            half = half.max(high - low);
                        }
                    }
                }
            }
        }
        match end_bays {
            // Its factor keeps the order of its sums, and so its bits.
            EndBays::Slack => BandMatrix::zeros(self.count, half),
            EndBays::Straight(_) => BandMatrix::from_firsts(firsts),
        }
    }
}

impl System {
    pub(super) fn new(
        u: Knots,
        v: Knots,
        x: Vec<f64>,
        (ties, end_bays): (&[RowTies], EndBays),
        targets: &[Target],
    ) -> Self {
        let columns = v.count();
        let rows = targets
            .iter()
            .map(|target| {
                let ((i, bu), (j, bv)) = (span_rows(&u, target.u), span_rows(&v, target.v));
                let mut product = [[0.0; 4]; 4];
                for (row, a) in product.iter_mut().zip(bu[0]) {
                    for (value, b) in row.iter_mut().zip(bv[0]) {
                        *value = a * b;
                    }
                }
                TargetRow {
                    first: [i, j],
                    product,
                    weight: target.weight,
                }
            })
            .collect();
        let y_unknowns = Unknowns::of(ties, columns, false);
        let z_unknowns = Unknowns::of(ties, columns, true);
        let energy = energy(&u, &v, Bending::Even(1.0), end_bays);
        Self {
            u,
            v,
            x,
            rows,
            y_unknowns,
            z_unknowns,
            end_bays,
            plates: Vec::new(),
            taut: 0.0,
            energy,
        }
    }

    /// The same with stretches of the girth that are flat, each from one break of the tangent to the next, and drawn taut
    /// lengthwise: `taut · h_u⁴` times the mean square of the second derivative comes to the energy.
    pub(super) fn with_plates(mut self, plates: &[[f64; 2]], taut: f64) -> Self {
        self.plates = plates.to_vec();
        self.taut = taut;
        self.set_bending(Bending::Even(1.0));
        self
    }

    /// Gives the first targets other weights, 1/mm²; those that follow keep theirs.
    pub(super) fn set_weights(&mut self, weights: &[f64]) {
        for (row, weight) in self.rows.iter_mut().zip(weights) {
            row.weight = *weight;
        }
    }

    /// Leaves what is free in the end bays to the energy.
    pub(super) fn slacken_ends(&mut self) {
        self.end_bays = EndBays::Slack;
        self.set_bending(Bending::Even(1.0));
    }

    /// Makes the surface another in how it resists being bent.
    pub(super) fn set_bending(&mut self, bending: Bending) {
        self.energy = energy(&self.u, &self.v, bending, self.end_bays);
        let length = |k: &Knots| k.domain().1 - k.domain().0;
        let (u, v) = (&self.u, &self.v);
        let per_area = 1.0 / (length(u) * length(v));
        let fourth = |h: f64| h * h * h * h;
        let flat = FLAT * fourth(STIFF_V * length(v)) * per_area;
        for plate in &self.plates {
            let (gu, gv) = (u.gram(0), v.gram_between(2, *plate));
            add_bending(&mut self.energy, flat, (&gu, &gv));
        }
        if self.taut > 0.0 {
            let taut = self.taut * fourth(STIFF_U * length(u)) * per_area;
            add_bending(&mut self.energy, taut, (&u.gram(2), &v.gram(0)));
        }
    }

    /// The energy alone.
    fn energy_matrix(&self, unknowns: &Unknowns, stiffness: f64) -> BandMatrix {
        let (rows, columns) = (self.u.count(), self.v.count());
        let mut band = unknowns.zeros(columns, self.end_bays);
        for i in 0..rows {
            for j in 0..columns {
                let Some(a) = unknowns.index[i * columns + j] else {
                    continue;
                };
                let energy = &self.energy[i * columns + j];
                for p in i.saturating_sub(self.end_bays.reach(i, rows))..=i {
                    // Below the diagonal row every partner counts; on it only those up to j.
                    let to = if p == i { j + 1 } else { (j + 4).min(columns) };
                    for q in j.saturating_sub(3)..to {
                        let Some(b) = unknowns.index[p * columns + q] else {
                            continue;
                        };
                        let value = stiffness * energy[i - p][q + 3 - j];
                        // Two coefficients that are one unknown meet on its diagonal from both sides.
                        let twice = a == b && (p, q) != (i, j);
                        band.add(
                            a as usize,
                            b as usize,
                            if twice { 2.0 * value } else { value },
                        );
                    }
                }
            }
        }
        band
    }

    fn matrix(&self, unknowns: &Unknowns, stiffness: f64) -> BandMatrix {
        let columns = self.v.count();
        let mut band = self.energy_matrix(unknowns, stiffness);
        for row in &self.rows {
            let mut entries = [(0_u32, 0.0); 16];
            let mut n = 0;
            for i in 0..4 {
                for j in 0..4 {
                    let k = (row.first[0] + i) * columns + row.first[1] + j;
                    if let Some(a) = unknowns.index[k] {
                        entries[n] = (a, row.product[i][j]);
                        n += 1;
                    }
                }
            }
            for (k, &(a, p)) in entries[..n].iter().enumerate() {
                let weighted = row.weight * p;
                band.add(a as usize, a as usize, weighted * p);
                for &(b, q) in &entries[..k] {
                    let value = weighted * q;
                    band.add(
                        a as usize,
                        b as usize,
                        if a == b { 2.0 * value } else { value },
                    );
                }
            }
        }
        band
    }

    fn kind(&self, height: bool) -> &Unknowns {
        if height {
            &self.z_unknowns
        } else {
            &self.y_unknowns
        }
    }

    /// How many unknowns the half-breadths have, and how many the heights.
    pub(super) fn unknowns(&self) -> [usize; 2] {
        [self.y_unknowns.count, self.z_unknowns.count]
    }

    /// Entries of the energy, `(i, j, value)` with i ≤ j.
    pub(super) fn energy_entries(&self, height: bool) -> Vec<(usize, usize, f64)> {
        let unknowns = self.kind(height);
        let band = self.energy_matrix(unknowns, 1.0);
        let rows = 0..unknowns.count;
        let entries = rows.flat_map(|j| (band.first(j)..=j).map(move |i| (i, j)));
        let valued = entries.map(|(i, j)| (i, j, band.entry(i, j)));
        valued.filter(|entry| entry.2 != 0.0).collect()
    }

    /// The unknowns that a place is made of, and their factors.
    pub(super) fn place_terms(&self, u: f64, v: f64, height: bool) -> Terms {
        let ((i, bu), (j, bv)) = (span_rows(&self.u, u), span_rows(&self.v, v));
        let unknowns = self.kind(height);
        let mut terms = Terms::with_capacity(16);
        for (p, a) in bu[0].iter().enumerate() {
            for (q, b) in bv[0].iter().enumerate() {
                let Some(at) = unknowns.index[(i + p) * self.v.count() + j + q] else {
                    continue;
                };
                add_term(&mut terms, at as usize, a * b);
            }
        }
        terms
    }

    /// The unknowns of a net on these knots.
    pub(super) fn unknowns_of(&self, net: &[f64], height: bool) -> Vec<f64> {
        let unknowns = self.kind(height);
        let mut all = vec![0.0; unknowns.count];
        for (index, value) in unknowns.index.iter().zip(net) {
            if let Some(at) = index {
                all[*at as usize] = *value;
            }
        }
        all
    }

    /// The surface of these unknowns.
    pub(super) fn surface_of(&self, [breadths, heights]: [&[f64]; 2]) -> Surface {
        let y = self.y_unknowns.net(breadths);
        let z = self.z_unknowns.net(heights);
        Surface::new(self.u.clone(), self.v.clone(), self.x.clone(), y, z)
    }

    /// Which unknowns move nothing outside a stretch of u.
    pub(super) fn within(&self, [from, to]: [f64; 2], height: bool) -> Vec<bool> {
        let unknowns = self.kind(height);
        let columns = self.v.count();
        let knots = self.u.knots();
        let (first, last) = self.u.domain();
        let mut free = vec![true; unknowns.count];
        for (k, at) in unknowns.index.iter().enumerate() {
            let row = k / columns;
            let (begins, ends) = (knots[row], knots[row + 4]);
            // At an end of the body the window ends with it.
            let fore = begins >= from || from <= first;
            let aft = ends <= to || to >= last;
            if let (Some(at), false) = (at, fore && aft) {
                free[*at as usize] = false;
            }
        }
        free
    }

    /// Both ends of u.
    pub(super) fn ends(&self) -> [f64; 2] {
        let (first, last) = self.u.domain();
        [first, last]
    }

    /// Weights of the first targets, 1/mm².
    pub(super) fn weights(&self, count: usize) -> Vec<f64> {
        self.rows.iter().take(count).map(|row| row.weight).collect()
    }

    /// Factors the system with this weight of its energy.
    pub(super) fn factor(&self, stiffness: f64) -> Result<Fit, LoftError> {
        let factor = |unknowns: &Unknowns| {
            self.matrix(unknowns, stiffness)
                .factor()
                .map_err(|_not_positive| LoftError::NotFixed)
        };
        Ok(Fit {
            u: self.u.clone(),
            v: self.v.clone(),
            x: self.x.clone(),
            rows: self.rows.clone(),
            y_unknowns: self.y_unknowns.clone(),
            z_unknowns: self.z_unknowns.clone(),
            y_factor: factor(&self.y_unknowns)?,
            z_factor: factor(&self.z_unknowns)?,
        })
    }
}

/// `H = Σ c h_u^{2k} h_v^{2m} / (L_u L_v) · G_u^(k) ⊗ G_v^(m)`, lower rows only: `[i · n_v + j][i − i'][3 + j' − j]`.
///
/// Where the third derivative goes on straight into an end bay of width b, with d what it is off that,
/// `STRAIGHT · h_u^6 b / (L_u L_v) · d dᵀ ⊗ G_v^(0)` comes to it: the energy alone would draw S‴ of an end bay, which two
/// coefficients too many leave free, to a third of its value and the curvature at the end by up to a tenth.
///
/// Of [`Bending::Even`] the orders `k` and `m = 3 − k` have `c = C(3,k)`. Of [`Bending::Steady`] (3, 0) has 1, (2, 2) the
/// square of 3, (1, 3) 3, and (0, 3) is next to nothing.
fn energy(u: &Knots, v: &Knots, bending: Bending, end_bays: EndBays) -> Vec<Coupled> {
    let length = |k: &Knots| k.domain().1 - k.domain().0;
    let (length_u, length_v) = (length(u), length(v));
    let (terms, [along, round]) = match bending {
        Bending::Even(grain) => (
            [(1.0, [0, 3]), (3.0, [1, 2]), (3.0, [2, 1]), (1.0, [3, 0])],
            [grain, 1.0 / grain],
        ),
        Bending::Steady(lengths) => (
            [
                (AS_THEY_LIKE, [0, 3]),
                (3.0, [1, 3]),
                (9.0, [2, 2]),
                (1.0, [3, 0]),
            ],
            lengths,
        ),
    };
    let (hu, hv) = (STIFF_U * length_u * along, STIFF_V * length_v * round);
    let power = |h: f64, n: usize| (0..2 * n).fold(1.0, |p, _| p * h);
    let columns = v.count();
    let mut energy: Vec<Coupled> = vec![[[0.0; 7]; FAR + 1]; u.count() * columns];
    for (times, [k, m]) in terms {
        let scale = times * power(hu, k) * power(hv, m) / (length_u * length_v);
        add_bending(&mut energy, scale, (&u.gram(k), &v.gram(m)));
    }
    let EndBays::Straight(shown) = end_bays else {
        return energy;
    };
    let scale = STRAIGHT * power(hu, DEGREE) / (length_u * length_v);
    for (bay, shown) in u.end_bays().into_iter().zip(shown) {
        let across = v.gram_between(0, shown);
        for (a, p) in bay.factors.iter().enumerate() {
            for (b, q) in bay.factors.iter().enumerate().take(a + 1) {
                let value = scale * bay.width * p * q;
                for (j, across) in across.iter().enumerate() {
                    let out = &mut energy[(bay.first + a) * columns + j][a - b];
                    for (out, g) in out.iter_mut().zip(across) {
                        *out += value * g;
                    }
                }
            }
        }
    }
    energy
}

/// Adds `scale · G_u ⊗ G_v` to an energy.
fn add_bending(energy: &mut [Coupled], scale: f64, (gu, gv): (&[[f64; 7]], &[[f64; 7]])) {
    for (row, gu) in energy.chunks_mut(gv.len()).zip(gu) {
        for (out, gv) in row.iter_mut().zip(gv) {
            for (back, out) in out.iter_mut().enumerate().take(DEGREE + 1) {
                let a = scale * gu[3 - back];
                for (out, b) in out.iter_mut().zip(gv) {
                    *out += a * b;
                }
            }
        }
    }
}

impl Fit {
    /// The surface through `points` (half-breadth and height, one for each target), as near as the stiffness lets it.
    pub(super) fn surface(&self, points: &[[f64; 2]]) -> Surface {
        let [y, z] = self.solve(points);
        let y = self.y_unknowns.net(&y);
        let z = self.z_unknowns.net(&z);
        Surface::new(self.u.clone(), self.v.clone(), self.x.clone(), y, z)
    }

    /// The unknowns of [`Fit::surface`], those of the half-breadths and those of the heights.
    pub(super) fn solve(&self, points: &[[f64; 2]]) -> [Vec<f64>; 2] {
        self.parts().map(|(part, unknowns, factor)| {
            let mut right = vec![0.0; unknowns.count];
            for (row, point) in self.rows.iter().zip(points) {
                let value = row.weight * point[part];
                self.each(row, unknowns, |a, p| right[a] += value * p);
            }
            factor.solve(&mut right);
            right
        })
    }

    fn parts(&self) -> [(usize, &Unknowns, &BandFactor); 2] {
        [
            (0, &self.y_unknowns, &self.y_factor),
            (1, &self.z_unknowns, &self.z_factor),
        ]
    }

    /// How the unknowns answer a unit of force on the target with this number, mm for each 1/mm: `H⁻¹ aᵀ`.
    pub(super) fn answers(&self, target: usize) -> [Vec<f64>; 2] {
        self.parts().map(|(_, unknowns, factor)| {
            let mut side = vec![0.0; unknowns.count];
            self.each(&self.rows[target], unknowns, |a, p| side[a] += p);
            factor.solve(&mut side);
            side
        })
    }

    /// What half-breadth and height at the target with this number come to.
    pub(super) fn at_target(&self, target: usize, values: [&[f64]; 2]) -> [f64; 2] {
        self.parts().map(|(part, unknowns, _)| {
            let mut sum = 0.0;
            let row = &self.rows[target];
            self.each(row, unknowns, |a, p| sum += p * values[part][a]);
            sum
        })
    }

    /// [`Fit::variance`] at every target, at once.
    pub(super) fn variances(&self) -> Vec<[f64; 2]> {
        let inverses = self
            .parts()
            .map(|(_, unknowns, factor)| (unknowns, factor.inverse()));
        let at = |row: &TargetRow| {
            inverses.each_ref().map(|(unknowns, inverse)| {
                let mut terms = [(0, 0.0); 16];
                let mut n = 0;
                self.each(row, unknowns, |a, p| {
                    terms[n] = (a, p);
                    n += 1;
                });
                let terms = &terms[..n];
                let with = |(a, p): (usize, f64)| {
                    let each = terms.iter().map(|(b, q)| q * inverse.entry(a, *b));
                    p * each.sum::<f64>()
                };
                terms.iter().map(|term| with(*term)).sum()
            })
        };
        self.rows.iter().map(at).collect()
    }

    fn each(&self, row: &TargetRow, unknowns: &Unknowns, mut act: impl FnMut(usize, f64)) {
        let columns = self.v.count();
        for i in 0..4 {
            for j in 0..4 {
                let k = (row.first[0] + i) * columns + row.first[1] + j;
                if let Some(a) = unknowns.index[k] {
                    act(a as usize, row.product[i][j]);
                }
            }
        }
    }

    /// Prediction variances of y and z at (`u`, `v`) for readings of variance 1/weight, mm²: `a H⁻¹ aᵀ`.
    pub(super) fn variance(&self, u: f64, v: f64) -> [f64; 2] {
        let ((i, bu), (j, bv)) = (span_rows(&self.u, u), span_rows(&self.v, v));
        let mut product = [[0.0; 4]; 4];
        for (row, a) in product.iter_mut().zip(bu[0]) {
            for (value, b) in row.iter_mut().zip(bv[0]) {
                *value = a * b;
            }
        }
        let row = TargetRow {
            first: [i, j],
            product,
            weight: 1.0,
        };
        self.parts().map(|(_, unknowns, factor)| {
            let mut side = vec![0.0; unknowns.count];
            self.each(&row, unknowns, |a, p| side[a] += p);
            factor.half_solve(&mut side);
            let head = side.iter().take_while(|s| **s == 0.0).count();
            dot(&side[head..], &side[head..])
        })
    }

    /// Prediction covariances of y and z at each target with itself, and with each of those beside it, for readings of variance
    /// 1/weight, mm²: `a H⁻¹ bᵀ`.
    pub(super) fn covariances(&self, beside: &[Vec<(usize, f64)>]) -> Covariances {
        // Each pair once, by its later target: of the symmetric inverse that takes the rows, which lie together in memory.
        let mut pairs: Vec<Vec<usize>> = (0..beside.len()).map(|i| vec![i]).collect();
        for (i, j) in beside
            .iter()
            .enumerate()
            .flat_map(|(i, all)| all.iter().map(move |(j, _)| (i, *j)))
        {
            pairs[i.max(j)].push(i.min(j));
        }
        for earlier in &mut pairs {
            earlier.sort_unstable();
            earlier.dedup();
        }
        let mut found: Vec<Vec<[f64; 2]>> = { pairs.iter() }
            .map(|all| vec![[0.0; 2]; all.len()])
            .collect();
        for (part, unknowns, factor) in self.parts() {
            let terms: Vec<Terms> = { self.rows[..beside.len()].iter() }
                .map(|row| {
                    let mut terms = Terms::new();
                    self.each(row, unknowns, |a, p| terms.push((a, p)));
                    terms
                })
                .collect();
            // From the first to the last unknown that is asked of each.
            let reach: Vec<Option<[usize; 2]>> = { pairs.iter() }
                .map(|earlier| {
                    let all = || {
                        earlier
                            .iter()
                            .flat_map(|j| terms[*j].iter().map(|term| term.0))
                    };
                    Some([all().min()?, all().max()?])
                })
                .collect();
            let wide = reach.iter().flatten().map(|[from, to]| to - from).max();
            let inverse = factor.inverse_within(wide.unwrap_or(0));
            let mut column = Vec::new();
            for (i, reach) in reach.iter().enumerate() {
                let Some([from, to]) = *reach else { continue };
                column.clear();
                column.resize(to + 1 - from, 0.0);
                for &(a, p) in &terms[i] {
                    inverse.add_column(a, p, from, &mut column);
                }
                for (found, j) in found[i].iter_mut().zip(&pairs[i]) {
                    let each = terms[*j].iter().map(|(a, p)| p * column[a - from]);
                    found[part] = each.sum();
                }
            }
        }
        let of = |i: usize, j: usize| {
            let (earlier, later) = (i.min(j), i.max(j));
            let at = pairs[later].binary_search(&earlier);
            at.map_or([0.0; 2], |at| found[later][at])
        };
        Covariances {
            own: (0..beside.len()).map(|i| of(i, i)).collect(),
            shared: { beside.iter().enumerate() }
                .map(|(i, all)| all.iter().map(|(j, _)| of(i, *j)).collect())
                .collect(),
        }
    }
}

/// Prediction covariances of half-breadth and of height, mm².
#[derive(Clone, Debug)]
pub(crate) struct Covariances {
    /// Of each with itself.
    pub(crate) own: Vec<[f64; 2]>,
    /// Of each with those beside it.
    pub(crate) shared: Vec<Vec<[f64; 2]>>,
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Coefficients of t^m: its polar form at three knots (Ramshaw, *Blossoming*, 1987, from memory).
    fn power(knots: &Knots, m: usize) -> Vec<f64> {
        let k = knots.knots();
        (1..=knots.count())
            .map(|i| {
                let [a, b, c] = [k[i], k[i + 1], k[i + 2]];
                match m {
                    0 => 1.0,
                    1 => (a + b + c) / 3.0,
                    2 => (a * b + b * c + c * a) / 3.0,
                    _ => a * b * c,
                }
            })
            .collect()
    }

    /// The energy of u^m v^n, and the sum of its terms' sizes.
    fn energy_of(u: &Knots, v: &Knots, bending: Bending, [m, n]: [usize; 2]) -> [f64; 2] {
        let (cu, cv) = (power(u, m), power(v, n));
        let columns = v.count();
        let at = |i: usize, j: usize| cu[i] * cv[j];
        let (mut sum, mut size) = (0.0, 0.0);
        for (k, rows) in energy(u, v, bending, EndBays::Slack).iter().enumerate() {
            let (i, j) = (k / columns, k % columns);
            for (back, row) in rows.iter().enumerate().take(i + 1) {
                for (q, value) in row.iter().enumerate() {
                    let Some(other) = (j + q).checked_sub(3).filter(|j| *j < columns) else {
                        continue;
                    };
                    // Only the lower rows are kept: the upper ones are their mirror.
                    let twice = if back == 0 { 1.0 } else { 2.0 };
                    let term = twice * value * at(i, j) * at(i - back, other);
                    sum += term;
                    size += term.abs();
                }
            }
        }
        [sum, size]
    }

    /// Third derivatives of polynomials of degree two vanish; of u^m v^(3 − m) only the one of its own kind stays, and is
    /// the constant m! (3 − m)!. So the energy is
    /// `C(3, m) (m! (3 − m)!)² h_u^(2m) h_v^(6 − 2m)`.
    #[test]
    fn the_energy_of_monomials_is_that_of_their_closed_form() {
        let u = Knots::clamped(&[0.0, 120.0, 300.0, 310.0, 640.0, 1000.0]).unwrap();
        let v = Knots::with_multiplicities(&[(0.0, 4), (0.2, 1), (0.55, 3), (0.7, 1), (1.0, 4)]);
        let v = v.unwrap();
        for [m, n] in [[0, 0], [1, 0], [0, 1], [1, 1], [2, 0], [0, 2]] {
            let [sum, size] = energy_of(&u, &v, Bending::Even(1.0), [m, n]);
            assert!(
                sum.abs() <= 1e-10 * size,
                "u^{m} v^{n}: {sum:e} of {size:e}"
            );
        }
        let (hu, hv) = (STIFF_U * 1000.0, STIFF_V);
        for (m, factorials) in [6.0, 2.0, 2.0, 6.0].into_iter().enumerate() {
            let (mut exact, mut left) = (6.0 * factorials, [m, 3 - m]);
            for (h, times) in [hu, hv].into_iter().zip(&mut left) {
                for _ in 0..2 * *times {
                    exact *= h;
                }
            }
            let [sum, size] = energy_of(&u, &v, Bending::Even(1.0), [m, 3 - m]);
            let miss = (sum - exact).abs();
            assert!(
                miss <= 1e-10 * size.max(exact),
                "u^{m}: {sum:e} for {exact:e}"
            );
        }
    }

    /// A cubic goes on straight, so that end bays cost it nothing. What jumps by d in its third derivative before the last bay
    /// costs `STRAIGHT · h_u^6 · (width / L_u) · d²`, and that on the stretch of the girth alone that is shown.
    #[test]
    fn an_end_bay_costs_what_it_is_off_the_straight() {
        let u = Knots::clamped(&[0.0, 120.0, 300.0, 450.0, 640.0, 1000.0]).unwrap();
        let v = Knots::clamped(&[0.0, 0.25, 0.5, 0.75, 1.0]).unwrap();
        let cost = |of: &[f64], end_bays: EndBays| {
            let columns = v.count();
            let mut sum = 0.0;
            for (k, rows) in energy(&u, &v, Bending::Even(1.0), end_bays)
                .iter()
                .enumerate()
            {
                let (i, j) = (k / columns, k % columns);
                for (back, row) in rows.iter().enumerate().take(i + 1) {
                    for (q, value) in row.iter().enumerate() {
                        if (j + q).checked_sub(3).is_some_and(|j| j < columns) {
                            let twice = if back == 0 { 1.0 } else { 2.0 };
                            sum += twice * value * of[i] * of[i - back];
                        }
                    }
                }
            }
            sum
        };
        let half = EndBays::Straight([[0.0, 0.5]; 2]);
        let cubic = power(&u, 3);
        let [slack, straight] = [EndBays::Slack, half].map(|end_bays| cost(&cubic, end_bays));
        assert!((straight / slack - 1.0).abs() < 1e-9, "{straight} {slack}");
        // (u − 640)³₊ / 6: its third derivative is 1 in the last bay alone, where only the last three coefficients differ.
        let k = u.knots();
        let jump: Vec<f64> = (0..u.count())
            .map(|i| {
                let from = |n: usize| (k[i + n] - 640.0).max(0.0);
                from(1) * from(2) * from(3) / 6.0
            })
            .collect();
        let [slack, straight] = [EndBays::Slack, half].map(|end_bays| cost(&jump, end_bays));
        let exact = STRAIGHT * (0..6).fold(1.0, |p, _| p * STIFF_U * 1000.0) * 0.36 * 0.5;
        let more = straight - slack;
        assert!((more / exact - 1.0).abs() < 1e-9, "{more} for {exact}");
    }

    /// Sections that bend alike all along a straight or evenly bent body cost next to nothing; a body that bends otherwise
    /// costs what it does in any surface: of u³ it is `6² h_u^6`.
    #[test]
    fn steady_sections_bend_as_they_like() {
        let u = Knots::clamped(&[0.0, 120.0, 300.0, 310.0, 640.0, 1000.0]).unwrap();
        let v = Knots::with_multiplicities(&[(0.0, 4), (0.2, 1), (0.55, 3), (0.7, 1), (1.0, 4)]);
        let v = v.unwrap();
        let steady = Bending::Steady([1.0, 1.0]);
        for free in [[0, 2], [1, 1], [1, 2], [2, 1]] {
            let [sum, size] = energy_of(&u, &v, steady, free);
            assert!(sum.abs() <= 1e-10 * size, "{free:?}: {sum:e} of {size:e}");
        }
        let [as_lofted, steadily] =
            [Bending::Even(1.0), steady].map(|bending| energy_of(&u, &v, bending, [0, 3])[0]);
        let share = steadily / as_lofted;
        assert!((share / AS_THEY_LIKE - 1.0).abs() < 1e-6, "{share}");
        let [sum, _] = energy_of(&u, &v, steady, [3, 0]);
        let exact = 36.0 * (0..6).fold(1.0, |power, _| power * STIFF_U * 1000.0);
        assert!((sum / exact - 1.0).abs() < 1e-9, "{sum:e} for {exact:e}");
        // u² v² costs `9 (2! 2!)²`; u v³ has (1, 3) all over and (0, 3) by the mean of u².
        let (hu, hv) = (STIFF_U * 1000.0, STIFF_V);
        let four = hv * hv * hv * hv;
        for (of, exact) in [
            ([2, 2], 9.0 * 16.0 * hu * hu * hu * hu * four),
            (
                [1, 3],
                36.0 * four * hv * hv * (3.0 * hu * hu + AS_THEY_LIKE * 1e6 / 3.0),
            ),
        ] {
            let [sum, _] = energy_of(&u, &v, steady, of);
            assert!(
                (sum / exact - 1.0).abs() < 1e-9,
                "{of:?}: {sum:e} for {exact:e}"
            );
        }
    }
}
