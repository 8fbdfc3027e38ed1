//! Times of the budget table that belong to fairness: `cargo bench -p geometry --bench fair`.
#![expect(
    clippy::unwrap_used,
    clippy::print_stdout,
    reason = "a bench ends at its first fault and says what it measured"
)]

use std::hint::black_box;

use criterion::{Criterion, criterion_group, criterion_main};
use geometry::document::{Lines, On, TableOptions, read_table};
use geometry::fair::batten::{BattenOptions, lay_batten};
use geometry::fair::section::judge_sections;
use geometry::fair::suspects::find;
use geometry::fair::verdict::{judge, judged_lines};
use geometry::fair::whole::fair_whole;
use geometry::loft::Loft;

#[path = "support/bodies.rs"]
mod bodies;

use bodies::body;

const ON: &dyn Fn() -> bool = &|| false;

/// The demo's table.
fn demo() -> Lines {
    let table = concat!(
        env!("CARGO_MANIFEST_DIR"),
        "/../tests/data/demo_offsets.csv"
    );
    read_table(&std::fs::read(table).unwrap(), &TableOptions::default())
        .unwrap()
        .lines()
}

/// Each reading off by up to 0.8 mm, with 1 mm of tolerance, and two misprints.
fn read_badly(mut lines: Lines) -> Lines {
    let mut state: u64 = 7;
    let mut noise = || {
        state = state
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        1.6 * (f64::from((state >> 32) as u32) / f64::from(u32::MAX) - 0.5)
    };
    let readings = lines
        .body_mut()
        .points
        .iter_mut()
        .flat_map(|p| &mut p.readings);
    for reading in readings {
        reading.tolerance = 1.0;
        let values = [&mut reading.half_breadth, &mut reading.height];
        for recorded in values.into_iter().flatten() {
            recorded.mm += noise();
        }
    }
    let count = lines.body.points.len();
    for (at, by) in [(count / 3, 9.0), (2 * count / 3, -6.35)] {
        if let Some(recorded) = &mut lines.body_mut().points[at].readings[0].half_breadth {
            recorded.mm += by;
        }
    }
    lines
}

fn whole(c: &mut Criterion) {
    let large = read_badly(body(40, 36));
    for (name, lines) in [("the demo", demo()), ("40 x 36", large)] {
        let loft = Loft::build(&lines.body).unwrap();
        let proposal = fair_whole(&loft, &|_| false).unwrap();
        let past = proposal.moves.iter().filter(|m| m.is_past()).count();
        println!(
            "{name}: {} points, {past} past, stiffness {:?}",
            loft.points().len(),
            proposal.stiffness
        );
        c.bench_function(&format!("whole-surface fairing, {name}"), |b| {
            b.iter(|| fair_whole(black_box(&loft), &|_| false).unwrap());
        });
    }
}

fn lines(c: &mut Criterion) {
    let lines = demo();
    let loft = Loft::build(&lines.body).unwrap();
    c.bench_function("all lines of the demo judged", |b| {
        b.iter(|| {
            let all = judged_lines(black_box(&lines.body)).into_iter();
            all.filter(|on| judge(&loft, *on, None, ON).unwrap().ratio() > 1.0)
                .count()
        });
    });
    c.bench_function("all sections of the demo judged", |b| {
        b.iter(|| judge_sections(black_box(&loft), ON).unwrap());
    });
    c.bench_function("a batten along the demo's keel", |b| {
        b.iter(|| lay_batten(black_box(&loft), On::Keel, &BattenOptions::default(), ON).unwrap());
    });
    c.bench_function("suspects of the demo", |b| {
        b.iter(|| find(black_box(&lines.body), lines.about.unit, ON).unwrap());
    });
}

criterion_group! {
    name = benches;
    config = Criterion::default().sample_size(10);
    targets = whole, lines
}
criterion_main!(benches);
