//! How often dents of made bodies are found, and how often one is that is none.
//!
//! Each dent is planted by this file, so what must be found is known. Rates over more bodies: the example `dents`.
#![expect(
    clippy::unwrap_used,
    clippy::disallowed_methods,
    clippy::print_stdout,
    reason = "a test ends at its first fault and says what it measured, by the platform's own functions"
)]

#[path = "support/bodies.rs"]
#[expect(dead_code, reason = "the tests of misprints use the rest")]
mod bodies;
#[path = "support/dented.rs"]
#[expect(dead_code, reason = "the tests of what is settled use the rest")]
mod dented;
#[path = "support/hulls.rs"]
#[expect(dead_code, reason = "the tests of hulls use the rest")]
mod hulls;
#[path = "support/rates.rs"]
mod rates;

use rates::{Outcome, outcome, summary};

/// What comes of bodies of some families, and a line of the table.
fn measured(what: &str, seeds: impl Iterator<Item = u64>, with_dent: bool) -> Vec<Outcome> {
    let all: Vec<Outcome> = seeds.map(|seed| outcome(seed, with_dent, None)).collect();
    println!("{}", summary(what, &all.iter().collect::<Vec<_>>()));
    for o in &all {
        let wrong = o.false_ones > 0 || o.is_worse();
        let counts = (o.readings, o.misprints, o.counts);
        if wrong {
            println!(
                "  seed {}, family {}: {counts:?} {}",
                o.seed, o.family, o.says
            );
        }
    }
    all
}

#[test]
fn bodies_without_a_dent_have_none() {
    let all = measured("all families", 5000..5040, false);
    let false_ones = all.iter().filter(|o| o.false_ones > 0).count();
    assert!(false_ones <= 1, "{false_ones} of 40");
}

#[test]
fn dents_are_found_where_they_are_and_the_advice_helps() {
    let seeds = (6000..6060).filter(|seed| seed % 3 != 0);
    let all = measured("conic lines and tear-drops", seeds, true);
    let count = |is: &dyn Fn(&Outcome) -> bool| all.iter().filter(|o| is(o)).count();
    let found = count(&|o| o.hits > 0);
    let halved = count(&|o| o.hits > 0 && o.is_halved());
    assert_eq!(all.len(), 40);
    assert!(found >= 25, "found {found} of 40");
    assert!(count(&|o| o.false_ones > 0) <= 1);
    assert_eq!(count(&Outcome::is_worse), 0);
    assert!(5 * halved >= 4 * found, "halved {halved} of {found}");
    let seen: Vec<f64> = all
        .iter()
        .filter_map(|o| o.dent.map(|d| d.by.abs()))
        .collect();
    assert!(seen.iter().all(|by| (5.0..=12.0).contains(by)));
}
