//! Published hulls as tables of offsets, and documents made of them, for the tests that hold figures against them.

use geometry::document::{
    Centreline, Crossing, Ends, Lines, On, Peak, RunKind, RunLine, RunLineId,
};

#[path = "made.rs"]
pub mod made;

pub use made::Table;
use made::made;

/// Height of the axis of the bodies, mm.
pub const AXIS: f64 = 1000.0;

/// What a body is read with.
pub struct Body {
    pub tolerance: f64,
    pub ends: Ends,
    pub crown: Peak,
    pub keel: Peak,
    pub run_lines: Vec<RunLine>,
}

impl Body {
    pub fn lines(&self, table: &Table) -> Lines {
        let whole = |form: Peak| vec![Crossing { to: None, form }];
        let mut lines = made(table, self.tolerance);
        let body = lines.body_mut();
        body.ends = self.ends;
        body.run_lines = self.run_lines.clone();
        body.centreline = Centreline {
            crown: whole(self.crown),
            keel: whole(self.keel),
        };
        lines
    }
}

/// Rows of a table of numbers with a head, `#` before remarks.
pub fn rows(name: &str) -> Vec<Vec<f64>> {
    let path = format!("{}/tests/data/hulls/{name}", env!("CARGO_MANIFEST_DIR"));
    let text = std::fs::read_to_string(path).unwrap();
    let lines = text.lines().filter(|l| !l.starts_with('#')).skip(1);
    lines
        .map(|l| l.split(',').map(|n| n.parse().unwrap()).collect())
        .collect()
}

fn deck() -> (On, Vec<RunLine>) {
    let line = RunLine {
        id: RunLineId(0),
        name: "deck".to_owned(),
        kind: RunKind::Smooth,
        joint: false,
    };
    (On::RunLine(RunLineId(0)), vec![line])
}

/// A row of the table from the deck down: its eight waterlines, and the flat of the bottom to its keel.
fn series_60_section(half_breadths: &[f64], edge: On) -> Vec<(On, [f64; 2])> {
    const HEIGHTS: [f64; 8] = [0.0, 30.0, 100.0, 200.0, 300.0, 400.0, 500.0, 600.0];
    let mut offsets: Vec<(On, [f64; 2])> = HEIGHTS
        .iter()
        .zip(half_breadths)
        .skip(1)
        .rev()
        .map(|(z, y)| (if *z >= 600.0 { edge } else { On::Free }, [*y, AXIS + z]))
        .collect();
    // The first column is where the bilge begins: the bottom is level up to there, which one point does not say.
    let flat = half_breadths[0];
    let parts: u32 = if flat > 150.0 { 4 } else { 1 };
    if flat > 0.0 {
        let point = |i: u32| (On::Free, [flat * f64::from(i) / f64::from(parts), AXIS]);
        offsets.extend((1..=parts).rev().map(point));
    }
    offsets.push((On::Keel, [0.0, AXIS]));
    offsets
}

/// How a hull is read that is open at its deck and peaked at its keel.
fn open_below_the_deck(run_lines: Vec<RunLine>) -> Body {
    Body {
        tolerance: 0.05,
        ends: Ends::default(),
        crown: Peak::Smooth,
        keel: Peak::Peaked,
        run_lines,
    }
}

/// The hull by its table, with how it is read.
pub fn series_60() -> (Table, Body) {
    let (edge, run_lines) = deck();
    let table = rows("series60.csv")
        .iter()
        .map(|row| (row[0], series_60_section(&row[1..], edge)))
        .collect();
    (table, open_below_the_deck(run_lines))
}

pub fn wigley() -> (Table, Body) {
    let unit = 500.0;
    let (length, breadth, draught) = (10.0 * unit, unit, 0.625 * unit);
    let half = |x: f64, z: f64| {
        breadth / 2.0 * (1.0 - (2.0 * x / length).powi(2)) * (1.0 - (z / draught).powi(2))
    };
    let (edge, run_lines) = deck();
    let table: Table = (0..=20)
        .map(|i| {
            let x = length * (f64::from(i) / 20.0 - 0.5);
            let point = |k: i32| {
                let z = -draught * f64::from(k) / 8.0;
                let on = match k {
                    0 => edge,
                    8 => On::Keel,
                    _ => On::Free,
                };
                (on, [half(x, z), AXIS + z])
            };
            (x, (0..=8).map(point).collect())
        })
        .collect();
    (table, open_below_the_deck(run_lines))
}

/// Radius of the SUBOFF bare hull, feet, at a distance aft of its bow, feet.
pub fn suboff_radius(x: f64) -> f64 {
    const R: f64 = 5.0 / 6.0;
    let bow = |x: f64| {
        let p = 0.3 * x - 1.0;
        let sum = 1.126_395_101 * x * p.powi(4) + 0.442_874_707 * x * x * p.powi(3) + 1.0
            - p.powi(4) * (1.2 * x + 1.0);
        R * sum.max(0.0).powf(1.0 / 2.1)
    };
    let aft = |x: f64| {
        let (h, k0, k1) = (0.1175_f64, 10.0, 44.6244);
        let q = (13.979_167 - x) / 3.333_333;
        let c = [
            h * h,
            0.0,
            h * k0,
            20.0 - 20.0 * h * h - 4.0 * h * k0 - k1 / 3.0,
            -45.0 + 45.0 * h * h + 6.0 * h * k0 + k1,
            36.0 - 36.0 * h * h - 4.0 * h * k0 - k1,
            -10.0 + 10.0 * h * h + h * k0 + k1 / 3.0,
        ];
        R * c
            .iter()
            .rev()
            .fold(0.0, |sum, c| sum * q + c)
            .max(0.0)
            .sqrt()
    };
    if x <= 3.333_333 {
        bow(x.max(0.0))
    } else if x <= 10.645_833 {
        R
    } else if x <= 13.979_167 {
        aft(x)
    } else {
        let e = 3.2 * x - 44.733_333;
        0.1175 * R * (1.0 - e * e).max(0.0).sqrt()
    }
}
