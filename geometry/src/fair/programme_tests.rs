//! Convex programmes against textbooks, against another solver, and at the edge of having an optimum.
//!
//! `tests/data/programmes` holds two programmes of the demo and their optima by `solve.py` beside them. `UPDATE=1` writes the
//! programmes anew; then `solve.py` is to be run again.
#![expect(clippy::print_stdout, reason = "a test says what it measured")]

use core::fmt::Write;

use super::*;
use crate::document::{BodyEdit, Lines, Offset, On};
use crate::fair::narrow::{self, solve_narrow};
use crate::fair::tests::demo;
use crate::fair::verdict::{Line, Ordinate, judge};
use crate::fair::whole::Whole;
use crate::loft::{Loft, Net};

fn folder() -> String {
    format!("{}/../tests/data/programmes", env!("CARGO_MANIFEST_DIR"))
}

/// A programme as `solve.py` reads it: a row a line, numbers to the last bit.
fn written(programme: &Programme) -> String {
    let mut text = format!("variables {}\n", programme.linear.len());
    for (i, value) in programme.linear.iter().enumerate() {
        if *value != 0.0 {
            writeln!(text, "linear {i} {value:e}").unwrap();
        }
    }
    for (i, j, value) in &programme.quadratic {
        writeln!(text, "quadratic {i} {j} {value:e}").unwrap();
    }
    for (kind, rows) in [
        ("equal", &programme.equalities),
        ("at_most", &programme.bounds),
    ] {
        for row in rows {
            write!(text, "{kind} {:e}", row.bound).unwrap();
            for (i, value) in &row.terms {
                write!(text, " {i} {value:e}").unwrap();
            }
            text.push('\n');
        }
    }
    text
}

fn read(text: &str) -> Programme {
    let mut programme = Programme::default();
    for line in text.lines().filter(|line| !line.starts_with('#')) {
        let words: Vec<&str> = line.split(' ').collect();
        let whole = |k: usize| words[k].parse::<usize>().unwrap();
        let number = |k: usize| words[k].parse::<f64>().unwrap();
        let terms = || {
            (2..words.len())
                .step_by(2)
                .map(|k| (whole(k), number(k + 1)))
        };
        match words[0] {
            "variables" => programme = Programme::new(whole(1)),
            "linear" => programme.linear[whole(1)] = number(2),
            "quadratic" => programme.quadratic.push((whole(1), whole(2), number(3))),
            "equal" => programme.equal(terms().collect(), number(1)),
            "at_most" => programme.at_most(terms().collect(), number(1)),
            other => panic!("{other}"),
        }
    }
    programme
}

/// Lofted by the first method, by which the other solvers' programmes were written.
fn first_method(lines: &Lines) -> Lines {
    lines.apply(BodyEdit::SetMethod(1)).unwrap()
}

/// The needed move of the demo's keel, as a batten gives it: a linear programme.
fn keel() -> Programme {
    let lines = first_method(&demo());
    let loft = Loft::build(&lines.body).unwrap();
    let line = Line::of(&loft, On::Keel, Ordinate::Height);
    let graph = line.graph(&line.breaks()).unwrap();
    let verdict = judge(&loft, On::Keel, None, &|| false).unwrap();
    let judged = verdict.judged.unwrap();
    let sweet = graph.sweet(judged.allowed_turns, judged.run_outs, &|| false);
    graph.needed_programme(&sweet.unwrap())
}

/// The forces with which the demo's points hold the whole surface: a quadratic programme.
fn whole() -> Programme {
    let lines = first_method(&demo());
    let loft = Loft::build(&lines.body).unwrap();
    let net = Net::of(&loft).unwrap();
    let offsets = loft.offsets();
    let offsets: Vec<&Offset> = offsets.iter().flatten().collect();
    let stiffness = net.cross_validated(loft.points()).unwrap();
    let drawn = net.drawn(stiffness).unwrap();
    let mut whole = Whole::new(&net, &drawn, loft.points(), &offsets, stiffness);
    whole.round(loft.surface()).unwrap();
    whole.forces_programme(&whole.along(loft.surface())).0
}

/// Why an optimum is one, worked out from its `x` and its multipliers alone: `½ xᵀ P x + qᵀ x` is within `gap` of
/// `−½ xᵀ P x − aᵀ y − bᵀ z`, which no `x` under the rows undercuts where `P x + q + Aᵀ y + Bᵀ z = 0` and `z ≥ 0`.
///
/// # Source
/// Boyd and Vandenberghe, *Convex Optimization*, sections 5.2 and 5.5.
#[derive(Debug)]
struct Certificate {
    cost: f64,
    dual: f64,
    /// By how much `P x + q + Aᵀ y + Bᵀ z` is not zero at most, as a share of its largest part.
    unbalanced: f64,
    /// By how much the rows are not kept at most, as a share of the largest number in a row or of 1.
    broken: f64,
    /// The most negative multiplier, as a share of the largest or of 1.
    pushing: f64,
    /// The most that a row which does not bind pulls: room times multiplier, as a share of the cost or of 1.
    slack: f64,
}

impl Certificate {
    fn of(programme: &Programme, best: &Optimum) -> Self {
        let x = &best.x;
        let mut curved = vec![0.0; x.len()];
        for &(i, j, value) in &programme.quadratic {
            curved[i] += value * x[j];
            if i != j {
                curved[j] += value * x[i];
            }
        }
        let dot = |a: &[f64], b: &[f64]| a.iter().zip(b).map(|(a, b)| a * b).sum::<f64>();
        let bend = 0.5 * dot(&curved, x);
        let mut gradient = curved.clone();
        for (sum, q) in gradient.iter_mut().zip(&programme.linear) {
            *sum += q;
        }
        let parts = curved.iter().chain(&programme.linear);
        let mut largest = parts.fold(0.0, |most: f64, part| most.max(part.abs()));
        let (mut dual, mut broken, mut slack) = (-bend, 0.0_f64, 0.0_f64);
        let bounded = best.pulls.iter().map(|z| (z, true));
        let multipliers = best.ties.iter().map(|y| (y, false)).chain(bounded);
        let rows = programme.equalities.iter().chain(&programme.bounds);
        assert_eq!(best.ties.len(), programme.equalities.len());
        assert_eq!(best.pulls.len(), programme.bounds.len());
        let cost = bend + dot(&programme.linear, x);
        for (row, (multiplier, bounds)) in rows.zip(multipliers) {
            let mut room = row.bound;
            let mut size = row.bound.abs().max(1.0);
            for &(i, value) in &row.terms {
                room -= value * x[i];
                size = size.max((value * x[i]).abs());
                gradient[i] += multiplier * value;
                largest = largest.max((multiplier * value).abs());
            }
            dual -= multiplier * row.bound;
            broken = broken.max(if bounds { -room } else { room.abs() } / size);
            slack = slack.max((room * multiplier).abs() / cost.abs().max(1.0));
        }
        let most = gradient
            .iter()
            .fold(0.0, |most: f64, part| most.max(part.abs()));
        let pull = best
            .pulls
            .iter()
            .fold(1.0, |most: f64, pull| most.max(*pull));
        let pushing = best
            .pulls
            .iter()
            .fold(0.0, |most: f64, pull| most.max(-pull));
        Self {
            cost,
            dual,
            unbalanced: most / largest.max(1e-300),
            broken,
            pushing: pushing / pull,
            slack,
        }
    }

    /// How far its cost may be from the best, as a share of it or of 1.
    fn gap(&self) -> f64 {
        (self.cost - self.dual).abs() / self.cost.abs().max(1.0)
    }

    #[track_caller]
    fn holds(&self, best: &Optimum) {
        assert!(self.gap() < 1e-8, "{self:?}");
        assert!(self.unbalanced < 1e-8 && self.broken < 1e-8, "{self:?}");
        assert!(self.pushing < 1e-12 && self.slack < 1e-8, "{self:?}");
        // What the library says of itself is the same.
        let size = self.cost.abs().max(1.0);
        assert!((best.cost - self.cost).abs() < 1e-9 * size, "{self:?}");
        assert!((best.dual - self.dual).abs() < 1e-9 * size, "{self:?}");
    }
}

#[track_caller]
fn certified(programme: &Programme) -> Optimum {
    let best = programme.solve().unwrap();
    Certificate::of(programme, &best).holds(&best);
    best
}

/// Whether two programmes are the same but for rounding: one may be of another compiler.
#[track_caller]
fn assert_same(name: &str, kept: &Programme, made: &Programme) {
    let hint = "UPDATE=1 writes it anew; then run solve.py beside it";
    let shape = |p: &Programme| {
        let row = |row: &Constraint| row.terms.iter().map(|t| t.0).collect::<Vec<_>>();
        let [equal, at_most] =
            [&p.equalities, &p.bounds].map(|rows| rows.iter().map(row).collect::<Vec<_>>());
        let places: Vec<_> = p.quadratic.iter().map(|q| (q.0, q.1)).collect();
        (p.linear.len(), places, equal, at_most)
    };
    assert!(shape(kept) == shape(made), "{name} is another one: {hint}");
    let numbers = |p: &Programme| -> [Vec<f64>; 4] {
        let rows = || p.equalities.iter().chain(&p.bounds);
        [
            p.linear.clone(),
            p.quadratic.iter().map(|q| q.2).collect(),
            rows().map(|row| row.bound).collect(),
            rows()
                .flat_map(|row| row.terms.iter().map(|t| t.1))
                .collect(),
        ]
    };
    for (kept, made) in numbers(kept).iter().zip(&numbers(made)) {
        let most = kept.iter().fold(0.0, |most: f64, n| most.max(n.abs()));
        for (a, b) in kept.iter().zip(made) {
            let off = (a - b).abs();
            assert!(
                off <= 1e-7 * a.abs() + 1e-12 * most,
                "{name}: {a} {b}: {hint}"
            );
        }
    }
}

/// The optima by `HiGHS` (`SciPy` 1.17, linear) and CVXOPT 1.3 (quadratic), which share nothing with the one in use.
#[test]
fn another_solver_finds_the_same_optimum() {
    let made = [("keel", keel()), ("whole", whole())];
    if std::env::var_os("UPDATE").is_some() {
        for (name, programme) in &made {
            let path = format!("{}/{name}.txt", folder());
            std::fs::write(path, written(programme)).unwrap();
        }
    }
    let optima = std::fs::read_to_string(format!("{}/optima.csv", folder())).unwrap();
    let mut seen = 0;
    for row in optima.lines().skip(1) {
        let (name, cost) = row.split_once(',').unwrap();
        let cost: f64 = cost.parse().unwrap();
        let text = std::fs::read_to_string(format!("{}/{name}.txt", folder())).unwrap();
        let programme = read(&text);
        assert_eq!(written(&programme), text);
        let made = made.iter().find(|(made, _)| *made == name).unwrap();
        assert_same(name, &programme, &made.1);
        let best = programme.solve().unwrap();
        let certificate = Certificate::of(&programme, &best);
        println!("{name}, {} variables: {certificate:?}", best.x.len());
        certificate.holds(&best);
        let off = (certificate.cost / cost - 1.0).abs();
        assert!(off < 1e-7, "{} for {cost}", certificate.cost);
        if *name == *"keel" {
            let narrow = solve_narrow(&programme).unwrap();
            let off = (narrow.cost / cost - 1.0).abs();
            assert!(off < 1e-7, "{} for {cost}", narrow.cost);
        }
        seen += 1;
    }
    assert_eq!(seen, 2);
}

/// A certificate that anything passes would be none.
#[test]
fn a_point_that_is_not_the_best_has_no_certificate() {
    let mut programme = Programme::new(2);
    programme.quadratic = vec![(0, 0, 2.0), (0, 1, 1.0), (1, 1, 2.0)];
    programme.linear = vec![1.0, -4.0];
    programme.equal(vec![(0, 1.0), (1, 1.0)], 1.0);
    programme.at_most(vec![(1, 1.0)], 1.5);
    let best = certified(&programme);
    let of = |change: &dyn Fn(&mut Optimum)| {
        let mut other = best.clone();
        change(&mut other);
        Certificate::of(&programme, &other)
    };
    let along = of(&|other| {
        other.x[0] += 1e-3;
        other.x[1] -= 1e-3;
    });
    assert!(along.gap() > 1e-6 && along.unbalanced > 1e-5, "{along:?}");
    let off = of(&|other| other.x[1] += 1e-3);
    assert!(off.broken > 1e-4, "{off:?}");
    let pushed = of(&|other| other.pulls[0] -= 10.0);
    assert!(
        pushed.pushing > 0.1 && pushed.unbalanced > 0.1,
        "{pushed:?}"
    );
    let pulled = of(&|other| other.ties[0] += 1e-3);
    assert!(pulled.unbalanced > 1e-5, "{pulled:?}");
}

/// By rounds, which are the same on every machine.
#[test]
fn programmes_without_an_optimum_or_with_many_end_after_a_few_rounds() {
    let rounds = |name: &str, programme: &Programme| {
        let solver = programme.worked().unwrap();
        let rounds = solver.solution.iterations;
        println!("{name}: {rounds} rounds, {:?}", solver.solution.status);
        rounds
    };
    // A chain of rows, each true with its neighbours, that contradict all together.
    let mut chain = Programme::new(40);
    for i in 0..40 {
        chain.quadratic.push((i, i, 1.0));
        chain.at_most(
            vec![(i, 1.0), ((i + 1) % 40, -1.0)],
            if i == 39 { -1.0 } else { 0.0 },
        );
    }
    assert_eq!(chain.solve(), Err(NoOptimum::Infeasible));
    assert!(rounds("a chain that contradicts itself", &chain) <= 40);
    // Downhill without end along one edge, bounded along all others.
    let mut open = Programme::new(3);
    open.linear = vec![-1.0, -1.0, 1.0];
    open.at_most(vec![(0, 1.0), (1, -1.0)], 1.0);
    open.at_most(vec![(2, -1.0)], 0.0);
    assert_eq!(open.solve(), Err(NoOptimum::Unbounded));
    assert!(rounds("no end", &open) <= 40);
    // Far more rows meet in the best point than it has coordinates, and each is said thrice.
    let mut meeting = Programme::new(3);
    meeting.linear = vec![0.0, 0.0, -1.0];
    for k in 0..60 {
        let angle = f64::from(k) * 0.1;
        let (sin, cos) = (crate::num::sin(angle), crate::num::cos(angle));
        for times in [1.0, 2.0, 1e-3] {
            meeting.at_most(vec![(0, times * cos), (1, times * sin), (2, times)], times);
        }
    }
    let best = certified(&meeting);
    assert!(near(best.cost, -1.0), "{best:?}");
    assert!(rounds("a point where 180 rows meet", &meeting) <= 40);
    // Rows that contradict by next to nothing are the hardest.
    for by in [1e-12, 1e-9, 1e-7, 1e-5] {
        let mut close = Programme::new(2);
        close.linear = vec![1.0, 1.0];
        close.at_most(vec![(0, 1.0), (1, 1.0)], 0.0);
        close.at_most(vec![(0, -1.0), (1, -1.0)], -by);
        // The method ends by its own count of rounds, with an answer or without one: it does not hang.
        rounds("rows that contradict by next to nothing", &close);
    }
    // And those of the demo, which have their optimum.
    for (name, programme) in [("keel", keel()), ("whole", whole())] {
        assert!(rounds(name, &programme) <= 40);
    }
}

fn near(a: f64, b: f64) -> bool {
    (a - b).abs() < 1e-6
}

/// Wyndor Glass: max 3 x₁ + 5 x₂ under x₁ ≤ 4, 2 x₂ ≤ 12, 3 x₁ + 2 x₂ ≤ 18 is 36 at (2, 6), with shadow prices
/// 0, 3/2, 1 (Hillier and Lieberman, *Introduction to Operations Research*, from memory).
#[test]
fn a_linear_programme_of_the_textbook() {
    let mut programme = Programme::new(2);
    programme.linear = vec![-3.0, -5.0];
    programme.at_most(vec![(0, 1.0)], 4.0);
    programme.at_most(vec![(1, 2.0)], 12.0);
    programme.at_most(vec![(0, 3.0), (1, 2.0)], 18.0);
    programme.at_most(vec![(0, -1.0)], 0.0);
    programme.at_most(vec![(1, -1.0)], 0.0);
    let best = certified(&programme);
    assert!(near(best.x[0], 2.0) && near(best.x[1], 6.0), "{:?}", best.x);
    assert!(near(best.cost, -36.0) && near(best.dual, -36.0));
    for (pull, expected) in best.pulls.iter().zip([0.0, 1.5, 1.0, 0.0, 0.0]) {
        assert!(near(*pull, expected), "{:?}", best.pulls);
    }
}

/// min x₁² + x₂² + x₁ x₂ + x₁ under x₁ + x₂ = 1: by substitution 2 x₁² ... its derivative vanishes at x₁ = 0.
#[test]
fn a_quadratic_programme_worked_by_hand() {
    let mut programme = Programme::new(2);
    // ½ xᵀ P x with P = [2 1; 1 2].
    programme.quadratic = vec![(0, 0, 2.0), (0, 1, 1.0), (1, 1, 2.0)];
    programme.linear = vec![1.0, 0.0];
    programme.equalities.push(Constraint {
        terms: vec![(0, 1.0), (1, 1.0)],
        bound: 1.0,
    });
    let best = certified(&programme);
    // x₁² + (1 − x₁)² + x₁ (1 − x₁) + x₁ = x₁² + 1.
    assert!(near(best.x[0], 0.0) && near(best.x[1], 1.0), "{:?}", best.x);
    assert!(near(best.cost, 1.0) && near(best.dual, best.cost));
}

#[test]
fn what_has_no_optimum_is_said() {
    let mut programme = Programme::new(1);
    programme.linear = vec![1.0];
    assert_eq!(programme.solve(), Err(NoOptimum::Unbounded));
    programme.at_most(vec![(0, 1.0)], 0.0);
    programme.at_most(vec![(0, -1.0)], -1.0);
    assert_eq!(programme.solve(), Err(NoOptimum::Infeasible));
    let mut none = Programme::new(1);
    none.linear = vec![f64::NAN];
    none.at_most(vec![(0, 1.0)], 1.0);
    assert_eq!(none.solve(), Err(NoOptimum::Hard));
}

/// `max x + y` with so many equal rows `x + y ≤ 1`: every point of an edge is best, and every row binds.
#[test]
fn ties_and_rows_said_again_have_their_optimum() {
    let mut programme = Programme::new(2);
    programme.linear = vec![-1.0, -1.0];
    for times in 1..=40 {
        let by = f64::from(times);
        programme.at_most(vec![(0, by), (1, by)], by);
    }
    programme.equal(vec![(0, 1.0), (1, -1.0)], 0.0);
    programme.equal(vec![(0, 2.0), (1, -2.0)], 0.0);
    let best = certified(&programme);
    assert!(near(best.cost, -1.0), "{best:?}");
    assert!(near(best.x[0], 0.5) && near(best.x[1], 0.5), "{best:?}");
    // Without the equalities any of the edge will do.
    programme.equalities.clear();
    let best = certified(&programme);
    assert!(near(best.x[0] + best.x[1], 1.0), "{best:?}");
}

#[test]
fn rows_of_nothing_are_kept_or_not() {
    let mut programme = Programme::new(1);
    programme.linear = vec![1.0];
    programme.at_most(vec![(0, -1.0)], 2.0);
    programme.at_most(Vec::new(), 1.0);
    programme.at_most(vec![(0, 0.0)], 0.0);
    programme.equal(Vec::new(), 0.0);
    assert!(near(programme.solve().unwrap().cost, -2.0));
    let mut never = programme.clone();
    never.at_most(Vec::new(), -1.0);
    assert_eq!(never.solve(), Err(NoOptimum::Infeasible));
    never = programme.clone();
    never.equal(vec![(0, 0.0)], 1.0);
    assert_eq!(never.solve(), Err(NoOptimum::Infeasible));
}

#[test]
fn a_programme_of_nothing_is_answered() {
    let best = Programme::new(0).solve().unwrap();
    assert!(best.x.is_empty() && best.pulls.is_empty() && near(best.cost, 0.0));
    let mut never = Programme::new(0);
    never.at_most(Vec::new(), -1.0);
    assert_eq!(never.solve(), Err(NoOptimum::Infeasible));
    // No rows: the cost alone.
    let mut free = Programme::new(2);
    free.quadratic = vec![(0, 0, 2.0), (1, 1, 4.0)];
    free.linear = vec![-2.0, 4.0];
    let best = certified(&free);
    assert!(near(best.x[0], 1.0) && near(best.x[1], -1.0), "{best:?}");
    // No rows and no cost.
    assert!(near(Programme::new(3).solve().unwrap().cost, 0.0));
}

/// `x ≤ 0` and `x ≥ by`: where that is within what rows are kept to, either answer is true; past it there is only one.
#[test]
fn rows_that_nearly_contradict_are_answered() {
    for by in [0.0, 1e-12, 1e-10, 1e-7, 1e-5, 1e-3, 1.0] {
        let mut programme = Programme::new(1);
        programme.at_most(vec![(0, 1.0)], 0.0);
        programme.at_most(vec![(0, -1.0)], -by);
        match programme.solve() {
            Ok(best) => assert!(by <= 2e-6 && best.x[0].abs() < 1e-5, "{by}: {best:?}"),
            Err(why) => assert!(by > 0.0 && why != NoOptimum::Unbounded, "{by}: {why:?}"),
        }
        // And two lines that hardly cross, far from there.
        let mut programme = Programme::new(2);
        programme.linear = vec![0.0, 1.0];
        programme.equal(vec![(0, by), (1, -1.0)], 0.0);
        programme.at_most(vec![(0, -1.0)], -1.0);
        let best = programme.solve().unwrap();
        assert!((best.cost - by).abs() < 1e-6, "{by}: {best:?}");
    }
}

/// Hillier and Lieberman, *Introduction to Operations Research*, the Wyndor Glass example (from memory): 36 at (2, 6), where
/// hours of the second plant are worth 3/2 and those of the third 1.
fn wyndor() -> Programme {
    let mut programme = Programme::new(2);
    programme.linear = vec![-3.0, -5.0];
    for (terms, bound) in [
        (vec![(0, 1.0)], 4.0),
        (vec![(1, 2.0)], 12.0),
        (vec![(0, 3.0), (1, 2.0)], 18.0),
        (vec![(0, -1.0)], 0.0),
        (vec![(1, -1.0)], 0.0),
    ] {
        programme.at_most(terms, bound);
    }
    programme
}

#[test]
fn a_narrow_programme_is_solved_and_any_other_is_left() {
    let best = solve_narrow(&wyndor()).unwrap();
    for (found, exact) in [
        (best.x[0], 2.0),
        (best.x[1], 6.0),
        (best.cost, -36.0),
        (best.dual, -36.0),
        (best.pulls[0], 0.0),
        (best.pulls[1], 1.5),
        (best.pulls[2], 1.0),
    ] {
        assert!((found - exact).abs() < 1e-6, "{found} for {exact}");
    }
    let but = |change: &dyn Fn(&mut Programme)| {
        let mut other = wyndor();
        change(&mut other);
        solve_narrow(&other)
    };
    assert_eq!(
        but(&|p| p.at_most(vec![(0, 1.0)], -1.0)),
        None,
        "infeasible"
    );
    assert_eq!(but(&|p| p.linear[0] = f64::NAN), None);
    assert_eq!(but(&|p| p.bounds[0].bound = f64::INFINITY), None);
    assert_eq!(but(&|p| p.equal(vec![(0, 1.0)], 1.0)), None);
    assert_eq!(but(&|p| p.quadratic.push((0, 0, 1.0))), None);
    assert_eq!(but(&|p| p.bounds.clear()), None);
    assert_eq!(but(&|p| p.bounds.truncate(1)), None, "unbounded");
    // What it leaves the library answers.
    let mut never = wyndor();
    never.at_most(vec![(0, 1.0)], -1.0);
    assert_eq!(narrow::solve(&never), Err(NoOptimum::Infeasible));
}

/// On every line of the demo, with and without its faults, as verdicts ask for them: by multipliers that certify both.
#[test]
fn narrow_programmes_come_to_what_the_library_does() {
    let mut apart = 0.0_f64;
    let mut count = 0;
    for lines in [demo(), crate::fair::tests::exact()] {
        let loft = Loft::build(&lines.body).unwrap();
        for on in crate::fair::verdict::judged_lines(&lines.body) {
            for line in Line::all(&loft, on) {
                let Some(graph) = line.graph(&line.breaks()) else {
                    continue;
                };
                let Ok(sweet) = graph.sweet(graph.usual(), [false; 2], &|| false) else {
                    continue;
                };
                let programme = graph.needed_programme(&sweet);
                let (narrow, best) = (solve_narrow(&programme), programme.solve());
                let (narrow, best) = (narrow.unwrap(), best.unwrap());
                let certificate = Certificate::of(&programme, &narrow);
                assert!(
                    certificate.gap() < 1e-7 && certificate.broken < 1e-8,
                    "{certificate:?}"
                );
                apart = apart.max((narrow.cost - best.cost).abs());
                count += 1;
            }
        }
    }
    println!("{count} programmes, {apart:e} mm apart at most");
    assert!(count > 25 && apart < 1e-6, "{count}, {apart:e}");
}
