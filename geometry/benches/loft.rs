//! Times of the budget table that belong to the loft: `cargo bench -p geometry --bench loft`.
#![expect(clippy::unwrap_used, reason = "a bench ends at its first fault")]

use std::hint::black_box;

use criterion::{Criterion, criterion_group, criterion_main};
use geometry::document::{Edit, Moved, On};
use geometry::loft::Loft;

#[path = "support/bodies.rs"]
mod bodies;

use bodies::body;

fn lofts(c: &mut Criterion) {
    for (stations, points) in [(17, 17), (46, 34)] {
        let lines = body(stations, points);
        let loft = Loft::build(&lines).unwrap();
        let net = [
            loft.surface().u_knots().count(),
            loft.surface().v_knots().count(),
        ];
        let keel = lines.points.iter().find(|p| p.on == On::Keel).unwrap().id;
        let moved = |by: f64| {
            let edit = Edit::Move(Moved {
                point: keel,
                half_breadth: None,
                height: Some(by - 500.0),
            });
            lines.apply(&edit).unwrap()
        };
        let [there, back] = [1.0, 2.0].map(moved);
        let mut turn = false;
        c.bench_function(&format!("a drag, net of {net:?}"), |b| {
            b.iter(|| {
                turn = !turn;
                loft.again(black_box(if turn { &there } else { &back }))
                    .unwrap()
            });
        });
        c.bench_function(
            &format!("assembled, factored, solved, net of {net:?}"),
            |b| {
                b.iter(|| Loft::with_stiffness(black_box(&lines), 1.0).unwrap());
            },
        );
        let found = loft.stiffness();
        c.bench_function(
            &format!("an edit of evidence, stiffness {found} found, net of {net:?}"),
            |b| b.iter(|| Loft::build(black_box(&lines)).unwrap()),
        );
    }
}

criterion_group!(benches, lofts);
criterion_main!(benches);
