//! What comes of made bodies once every first answer is taken: how far they then lie off what they were.

use std::sync::Arc;

use geometry::loft::Loft;
use geometry::settle::settle_all;

use super::dented::{Dent, dented};

/// What came of one body.
pub struct Settling {
    pub seed: u64,
    pub family: u64,
    pub dent: Option<Dent>,
    /// The rows whose first answer was taken, with that.
    pub taken: Vec<String>,
    /// Titles of the rows that still ask for an answer.
    pub left: Vec<String>,
    /// Largest distance of the truth from the loft, about the dent or, without one, over the whole body, before and after, mm.
    pub off: [f64; 2],
}

impl Settling {
    /// Whether an answer was taken.
    pub fn is_advised(&self) -> bool {
        !self.taken.is_empty()
    }

    /// By how much it then lies further off than it did, mm.
    pub fn grown(&self) -> f64 {
        self.off[1] - self.off[0]
    }

    /// In a line.
    pub fn says(&self) -> String {
        let told = self.dent.map_or_else(String::new, |d| {
            let kind = if d.local.is_some() { "local" } else { "shell" };
            format!(
                ", {:.1} mm, sigma {:.0}, {kind} at {:.0}",
                d.by, d.sigma, d.x
            )
        });
        let left = if self.left.is_empty() {
            String::new()
        } else {
            format!(", STILL ASKS: {:?}", self.left)
        };
        format!(
            "{} family {}{told}: off {:.2?}, {:?}{left}",
            self.seed, self.family, self.off, self.taken
        )
    }
}

/// Makes the body of a seed and takes every first answer.
pub fn settling(seed: u64, with_dent: bool) -> Settling {
    let (truth, read) = dented(seed, with_dent, None);
    let settled = settle_all(&Arc::new(read.lines.clone()), &|_| ()).unwrap();
    let off = [&read.lines, &*settled.lines].map(|lines| {
        let loft = Loft::build(&lines.body).unwrap();
        match &read.dent {
            Some(dent) => truth.off(dent, &loft),
            None => truth.off_anywhere(&loft),
        }
    });
    Settling {
        seed,
        family: truth.family,
        dent: read.dent,
        taken: { settled.taken.iter() }
            .map(|row| {
                let done = row.done.split(':').next().unwrap_or_default();
                format!("{}: {done}", row.title)
            })
            .collect(),
        left: settled.left,
        off,
    }
}

/// How many there are, how many of them were advised, and of these how many came nearer to what they were; by how much the one
/// grew that grew most, mm, zero where none was advised.
#[derive(Clone, Copy, Debug)]
pub struct SettlingRates {
    pub bodies: usize,
    pub advised: usize,
    pub fell: usize,
    pub most_grown: f64,
}

impl SettlingRates {
    pub fn of<'a>(all: impl Iterator<Item = &'a Settling>) -> Self {
        let none = Self {
            bodies: 0,
            advised: 0,
            fell: 0,
            most_grown: 0.0,
        };
        all.fold(none, |sum, made| {
            if !made.is_advised() {
                return Self {
                    bodies: sum.bodies + 1,
                    ..sum
                };
            }
            let first = sum.advised == 0;
            Self {
                bodies: sum.bodies + 1,
                advised: sum.advised + 1,
                fell: sum.fell + usize::from(made.grown() < 0.0),
                most_grown: if first {
                    made.grown()
                } else {
                    sum.most_grown.max(made.grown())
                },
            }
        })
    }
}

/// The rates by family and of all, a line each.
pub fn rates_by_family(what: &str, all: &[Settling]) -> Vec<String> {
    let line = |name: &str, rates: SettlingRates| {
        format!(
            "{what}, {name}: {} bodies, advised {}, nearer after {}, most grown {:.2} mm",
            rates.bodies, rates.advised, rates.fell, rates.most_grown
        )
    };
    let family = |family: u64| {
        let of = all.iter().filter(|made| made.family == family);
        line(&format!("family {family}"), SettlingRates::of(of))
    };
    let mut lines: Vec<String> = (0..3).map(family).collect();
    lines.push(line("all", SettlingRates::of(all.iter())));
    lines
}
