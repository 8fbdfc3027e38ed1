//! Convex programmes against textbooks, against another solver, and at the edge of having an optimum.
//!
//! `tests/data/programmes` holds two programmes of the demo and their optima by `solve.py` beside them. `UPDATE=1` writes the
//! programmes anew; then `solve.py` is to be run again.
#![expect(clippy::print_stdout, reason = "a test says what it measured")]

use core::fmt::Write;

use super::*;
use crate::document::{Offset, On};
use crate::fair::tests::demo;
use crate::fair::verdict::{Line, Seen, judge};
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

/// The needed move of the demo's keel, as a batten gives it: a linear programme.
fn keel() -> Programme {
    let lines = demo();
    let loft = Loft::build(&lines).unwrap();
    let line = Line::of(&lines, &loft, On::Keel, Seen::Height);
    let graph = line.graph(&line.breaks()).unwrap();
    let verdict = judge(&lines, &loft, On::Keel, None, &|| false).unwrap();
    let judged = verdict.judged.unwrap();
    let sweet = graph.sweet(judged.allowed_turns, judged.run_outs, &|| false);
    graph.needed_programme(&sweet.unwrap())
}

/// The forces with which the demo's points hold the whole surface: a quadratic programme.
fn whole() -> Programme {
    let lines = demo();
    let loft = Loft::build(&lines).unwrap();
    let net = Net::of(&lines, &loft).unwrap();
    let offsets = loft.offsets(&lines);
    let offsets: Vec<&Offset> = offsets.iter().flatten().collect();
    let stiffness = net.cross_validated(loft.points()).unwrap();
    let drawn = net.drawn(stiffness).unwrap();
    let mut whole = Whole::new(&net, &drawn, loft.points(), &offsets, stiffness);
    whole.round(loft.surface()).unwrap();
    whole.forces_programme(&whole.along(loft.surface())).0
}

/// How far its cost may be from the best, as a share: by its own dual programme.
fn gap(best: &Optimum) -> f64 {
    (best.cost - best.dual).abs() / best.cost.abs().max(1e-3)
}

/// The optima by `HiGHS` (`SciPy` 1.17, linear) and CVXOPT 1.3 (quadratic), which share nothing with the one in use.
#[test]
fn another_solver_finds_the_same_optimum() {
    if std::env::var_os("UPDATE").is_some() {
        for (name, programme) in [("keel", keel()), ("whole", whole())] {
            let path = format!("{}/{name}.txt", folder());
            std::fs::write(path, written(&programme)).unwrap();
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
        let best = programme.solve().unwrap();
        println!(
            "{name}: {} variables, cost {:.12e} for {cost:.12e}, gap {:.1e}",
            programme.linear.len(),
            best.cost,
            gap(&best)
        );
        assert!(
            (best.cost / cost - 1.0).abs() < 1e-7,
            "{} for {cost}",
            best.cost
        );
        assert!(gap(&best) < 1e-8, "{}", gap(&best));
        seen += 1;
    }
    assert_eq!(seen, 2);
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
    let best = programme.solve().unwrap();
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
    programme.equalities.push(Row {
        terms: vec![(0, 1.0), (1, 1.0)],
        bound: 1.0,
    });
    let best = programme.solve().unwrap();
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
    let best = programme.solve().unwrap();
    assert!(near(best.cost, -1.0) && gap(&best) < 1e-8, "{best:?}");
    assert!(near(best.x[0], 0.5) && near(best.x[1], 0.5), "{best:?}");
    // Without the equalities any of the edge will do.
    programme.equalities.clear();
    let best = programme.solve().unwrap();
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
    let best = free.solve().unwrap();
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
