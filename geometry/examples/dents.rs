//! Measures how often dents are found, and how long it takes: `cargo run --release -p geometry --example dents -- null|dent FROM
//! TO [STATIONS READINGS]`, seeds of made bodies, as large as that where it is said.
#![expect(
    clippy::unwrap_used,
    clippy::disallowed_methods,
    clippy::print_stdout,
    reason = "a program that measures: it ends at its first fault and says what it found, by the platform's own functions"
)]

use std::time::Instant;

#[path = "../../tests/support/bodies.rs"]
#[expect(dead_code, reason = "the tests of misprints use the rest")]
mod bodies;
#[path = "../../tests/support/dented.rs"]
#[expect(dead_code, reason = "the tests of what is settled use the rest")]
mod dented;
#[path = "../../tests/support/hulls.rs"]
#[expect(dead_code, reason = "the tests of hulls use the rest")]
mod hulls;
#[path = "../../tests/support/rates.rs"]
mod rates;

use rates::{Outcome, outcome, summary};

fn main() {
    let words: Vec<String> = std::env::args().skip(1).collect();
    let number = |k: usize| words[k].parse::<u64>().unwrap();
    let with_dent = words[0] == "dent";
    let size = (words.len() > 4).then(|| [3, 4].map(|k| words[k].parse().unwrap()));
    let mut all = Vec::new();
    let begun = Instant::now();
    for seed in number(1)..number(2) {
        let at = Instant::now();
        let o = outcome(seed, with_dent, size);
        let told = o.dent.map_or_else(String::new, |d| {
            let kind = if d.local.is_some() { "local" } else { "shell" };
            format!(
                "{:.1} mm, sigma {:.0}, {kind} at {:.0}: ",
                d.by, d.sigma, d.x
            )
        });
        println!(
            "{} family {} of {}: {told}{}found {} false {}, off {:.1?} {}({:.1} s)",
            o.seed,
            o.family,
            o.readings,
            if o.is_worse() { "WORSE " } else { "" },
            o.hits,
            o.false_ones,
            o.off,
            o.says,
            at.elapsed().as_secs_f64()
        );
        all.push(o);
    }
    for family in 0..3 {
        let of: Vec<&Outcome> = all.iter().filter(|o| o.family == family).collect();
        println!("{}", summary(&format!("family {family}"), &of));
    }
    println!("{}", summary("all", &all.iter().collect::<Vec<_>>()));
    println!(
        "{:.2} s a body",
        begun.elapsed().as_secs_f64() / all.len() as f64
    );
}
