//! Times of the budget table that belong to lines and meshes: `cargo bench -p geometry --bench lines`.
#![expect(
    clippy::unwrap_used,
    clippy::print_stdout,
    reason = "a bench ends at its first fault and says what it measured"
)]

use std::hint::black_box;

use criterion::{Criterion, criterion_group, criterion_main};
use geometry::lines::{CuttingPlane, comb, trace};
use geometry::num;
use geometry::spline::{Knots, MeshOptions, Surface, measure, mesh};

/// A tapering body of `nu` × `nv` coefficients, 4 m long, with a peaked crown and an upsweep.
fn body(nu: u32, nv: u32) -> Surface {
    let even = |to: f64, count: u32| {
        let spans = count - 3;
        let at = |i: u32| to * f64::from(i) / f64::from(spans);
        Knots::clamped(&(0..=spans).map(at).collect::<Vec<_>>()).unwrap()
    };
    let (u, v) = (even(4000.0, nu), even(1.0, nv));
    let at = |x: f64, v: f64| {
        let (q, t) = (x / 4000.0, core::f64::consts::PI * v);
        let b = 500.0 * (1.0 - 0.86 * q * q * (1.5 - 0.5 * q));
        let (crown, keel) = (
            520.0 - 160.0 * q * q,
            -520.0 + 780.0 * q * q * (1.35 - 0.35 * q),
        );
        let a = (crown - keel) / 2.0;
        [
            b * num::sin(t),
            f64::midpoint(crown, keel) + a * num::cos(t),
        ]
    };
    // The function's values as coefficients: a smooth body near it, which is all a bench needs.
    let (gu, gv) = (u.greville(), v.greville());
    let net = |k: usize| -> Vec<f64> {
        gu.iter()
            .flat_map(|x| gv.iter().map(|v| at(*x, *v)[k]))
            .collect()
    };
    let (mut y, z) = (net(0), net(1));
    for row in y.chunks_mut(gv.len()) {
        row[0] = 0.0;
        row[gv.len() - 1] = 0.0;
    }
    Surface::new(u, v, gu, y, z)
}

fn planes() -> Vec<CuttingPlane> {
    let mut planes = Vec::new();
    planes.extend((0..24).map(|i| CuttingPlane::waterline(-480.0 + 40.0 * f64::from(i))));
    planes.extend((0..20).map(|i| CuttingPlane::buttock(24.0 * f64::from(i))));
    planes.extend((0..16).map(|i| CuttingPlane::diagonal(-300.0 + 40.0 * f64::from(i), 0.7)));
    planes
}

fn cuts(c: &mut Criterion) {
    let planes = planes();
    for (nu, nv) in [(19, 19), (48, 36)] {
        let surface = body(nu, nv);
        let all: Vec<_> = planes.iter().map(|p| trace(&surface, p, 0.01)).collect();
        let branches: usize = all.iter().map(|t| t.branches.len()).sum();
        let nodes: usize = all
            .iter()
            .flat_map(|t| &t.branches)
            .map(|b| b.nodes.len())
            .sum();
        let boxes: usize = all.iter().map(|t| t.boxes).sum();
        println!("{nu} x {nv}: {branches} branches, {nodes} nodes, {boxes} boxes");
        c.bench_function(&format!("60 plane cuts at 0.01 mm, {nu} x {nv}"), |b| {
            b.iter(|| {
                planes
                    .iter()
                    .map(|p| trace(&surface, p, 0.01).branches.len())
                    .sum::<usize>()
            });
        });
    }
    let surface = body(19, 19);
    let cut = trace(&surface, &CuttingPlane::waterline(0.0), 0.01);
    c.bench_function("a comb of 10 mm teeth", |b| {
        b.iter(|| comb(black_box(&cut.branches[0]), 10.0));
    });
}

fn meshes(c: &mut Criterion) {
    let surface = body(19, 19);
    let options = MeshOptions {
        deviation: 0.05,
        longest: 100.0,
    };
    c.bench_function("mesh at 0.05 mm, 19 x 19", |b| {
        b.iter(|| mesh(black_box(&surface), &options).triangles.len());
    });
    c.bench_function("area and volume, 19 x 19", |b| {
        b.iter(|| measure(black_box(&surface)));
    });
}

fn jets(c: &mut Criterion) {
    let surface = body(19, 19);
    let places: Vec<(f64, f64)> = (0..1000)
        .map(|i| {
            (
                4000.0 * (f64::from(i) * 0.618_034 % 1.0),
                f64::from(i) * 0.754_877 % 1.0,
            )
        })
        .collect();
    c.bench_function("1000 jets at random", |b| {
        b.iter(|| {
            places
                .iter()
                .map(|(u, v)| black_box(surface.jet(*u, *v)).s.y)
                .sum::<f64>()
        });
    });
    c.bench_function("1000 jets on a row", |b| {
        b.iter(|| {
            let row = surface.row(black_box(1234.0));
            (0..1000)
                .map(|i| black_box(row.jet(f64::from(i) / 1000.0)).s.y)
                .sum::<f64>()
        });
    });
}

criterion_group!(lines, cuts, meshes, jets);
criterion_main!(lines);
