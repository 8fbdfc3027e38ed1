//! Times of the budget table that belong to the loft: `cargo bench -p geometry --bench loft`.
#![expect(clippy::unwrap_used, reason = "a bench ends at its first fault")]

use std::hint::black_box;

use criterion::{Criterion, criterion_group, criterion_main};
use geometry::document::{
    BodyEdit, Law, Lines, Moved, On, Recorded, RunKind, Shoulder, TableOptions, read_table,
};
use geometry::loft::Loft;

#[path = "support/bodies.rs"]
mod bodies;

use bodies::body;

fn lofts(c: &mut Criterion) {
    for (stations, points) in [(17, 17), (46, 34)] {
        let lines = body(stations, points);
        let loft = Loft::build(&lines.body).unwrap();
        let net = [
            loft.surface().u_knots().count(),
            loft.surface().v_knots().count(),
        ];
        let keel = lines
            .body
            .points
            .iter()
            .find(|p| p.on == On::Keel)
            .unwrap()
            .id;
        let moved = |by: f64| {
            let edit = BodyEdit::Move(Moved {
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
                loft.again(black_box(if turn { &there.body } else { &back.body }))
                    .unwrap()
            });
        });
        c.bench_function(
            &format!("assembled, factored, solved, net of {net:?}"),
            |b| {
                b.iter(|| Loft::with_stiffness(black_box(&lines.body), 1.0).unwrap());
            },
        );
        let found = loft.stiffness();
        c.bench_function(
            &format!("an edit of evidence, stiffness {found} found, net of {net:?}"),
            |b| b.iter(|| Loft::build(black_box(&lines.body)).unwrap()),
        );
    }
}

/// As many stations as the demo has, given by law, its upper shoulder a line.
fn by_law() -> Lines {
    let table = "STA (mm),crown,keel\n".to_owned();
    let table = (0..19).fold(table, |table, i| {
        let q = f64::from(i) / 18.0;
        format!(
            "{table}{:.1},{:.2},{:.2}\n",
            4000.0 * q,
            1100.0 - 260.0 * q * q,
            80.0 + 330.0 * q * q
        )
    });
    let read = read_table(table.as_bytes(), &TableOptions::default());
    let mut lines = read.unwrap().lines();
    for name in ["shoulder", "breadth"] {
        let edit = BodyEdit::AddRunLine {
            name: name.to_owned(),
            kind: RunKind::Smooth,
            before: None,
        };
        lines = lines.apply(&edit).unwrap();
    }
    let [shoulder, breadth] = [0, 1].map(|i| lines.body.run_lines[i].id);
    let stations = lines.body.stations.clone();
    for (station, q) in stations
        .iter()
        .zip(0..)
        .map(|(s, i)| (s.id, f64::from(i) / 18.0))
    {
        let broadest = [420.0 - 300.0 * q * q * q, 560.0];
        let crown = 1100.0 - 260.0 * q * q;
        let full = 0.72 + 0.05 * q;
        for (line, [y, z]) in [
            (
                shoulder,
                [full * broadest[0], 560.0 + full * (crown - 560.0)],
            ),
            (breadth, broadest),
        ] {
            let recorded = |mm: f64| {
                Some(Recorded {
                    typed: format!("{mm}"),
                    mm,
                    put_right: None,
                })
            };
            let mut reading = lines.body.points[0].readings[0].clone();
            (reading.half_breadth, reading.height) = (recorded(y), recorded(z));
            let edit = BodyEdit::AddPoint {
                station,
                on: On::RunLine(line),
                reading,
            };
            lines = lines.apply(&edit).unwrap();
        }
    }
    let law = Law {
        breadth,
        upper: Shoulder::Line(shoulder),
        lower: Shoulder::Rho(0.55),
    };
    lines.apply(BodyEdit::SetLaw(Some(law))).unwrap()
}

fn laws(c: &mut Criterion) {
    let lines = by_law();
    let loft = Loft::build(&lines.body).unwrap();
    let net = [
        loft.surface().u_knots().count(),
        loft.surface().v_knots().count(),
    ];
    let id = lines
        .body
        .points
        .iter()
        .find(|p| p.on == On::Keel)
        .unwrap()
        .id;
    let moved = |by: f64| {
        let moved = Moved {
            point: id,
            half_breadth: None,
            height: Some(80.0 + by),
        };
        lines.apply(BodyEdit::Move(moved)).unwrap()
    };
    let [there, back] = [1.0, 2.0].map(moved);
    let mut turn = false;
    c.bench_function(
        &format!("a drag of a body given by law, net of {net:?}"),
        |b| {
            b.iter(|| {
                turn = !turn;
                loft.again(black_box(if turn { &there.body } else { &back.body }))
                    .unwrap()
            });
        },
    );
}

criterion_group!(benches, lofts, laws);
criterion_main!(benches);
