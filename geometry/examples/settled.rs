//! Measures what comes of made bodies once every first answer is taken, and how long it takes: `cargo run --release -p geometry
//! --example settled -- null|dent FROM TO`, seeds of made bodies.
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
#[expect(dead_code, reason = "the tests of dents use the rest")]
mod dented;
#[path = "../../tests/support/hulls.rs"]
#[expect(dead_code, reason = "the tests of hulls use the rest")]
mod hulls;
#[path = "../../tests/support/settling.rs"]
mod settling;

use settling::{Settling, rates_by_family, settling};

fn main() {
    let words: Vec<String> = std::env::args().skip(1).collect();
    let number = |k: usize| words[k].parse::<u64>().unwrap();
    let with_dent = words[0] == "dent";
    let begun = Instant::now();
    let one = |seed: u64| {
        let at = Instant::now();
        let made = settling(seed, with_dent);
        println!("{} ({:.1} s)", made.says(), at.elapsed().as_secs_f64());
        made
    };
    let all: Vec<Settling> = (number(1)..number(2)).map(one).collect();
    for line in rates_by_family(&words[0], &all) {
        println!("{line}");
    }
    println!(
        "{:.2} s a body",
        begun.elapsed().as_secs_f64() / all.len() as f64
    );
}
