//! Times of the budget table that belong to sheets: `cargo bench -p geometry --bench sheets`.
#![expect(clippy::unwrap_used, reason = "a bench ends at its first fault")]

use std::hint::black_box;
use std::sync::Arc;

use criterion::{Criterion, criterion_group, criterion_main};
use geometry::document::{Lines, read_folder};
use geometry::issue::sheets::{Pack, PackOptions, SheetKind};
use geometry::loft::Lofted;
use geometry::write::{PdfOptions, write_pdf};

#[path = "support/bodies.rs"]
mod bodies;

/// Lines with a board at each of their stations, and few others.
fn at_each_station(mut lines: Lines) -> Lofted {
    let at = lines
        .body
        .stations
        .iter()
        .map(|station| station.id)
        .collect();
    let boards = &mut Arc::make_mut(&mut lines.shop).sheets.boards;
    (boards.at, boards.error) = (at, 5.0);
    Lofted::build(Arc::new(lines)).unwrap()
}

fn pack(lofted: &Lofted) -> Pack {
    Pack::of(lofted, PackOptions::default())
}

/// The pages of the first templates, in tiles.
fn pdf(pack: &Pack, count: usize) -> Vec<u8> {
    let parts = pack.contents().parts.iter().enumerate();
    let boards = parts.filter(|(_, part)| part.kind == SheetKind::Template);
    let sheets: Vec<_> = boards
        .take(count)
        .flat_map(|(part, _)| pack.draw(part))
        .collect();
    let options = PdfOptions {
        title: "Templates",
        scale: [1.0; 2],
    };
    let written = write_pdf(&sheets, &options, &mut |_sheet| true);
    written.unwrap().unwrap().bytes
}

fn sheets(c: &mut Criterion) {
    let demo = read_folder(include_bytes!("../../public/demo/marram.json"));
    let demo = at_each_station(demo.unwrap().lines);
    c.bench_function("demo: all boards laid out", |b| {
        b.iter(|| black_box(pack(&demo)));
    });
    let laid = pack(&demo);
    c.bench_function("demo: 16 station templates as a tiled PDF", |b| {
        b.iter(|| black_box(pdf(&laid, 16)));
    });
    let many = at_each_station(bodies::body(160, 16));
    c.bench_function("160 stations: all boards laid out", |b| {
        b.iter(|| black_box(pack(&many)));
    });
}

criterion_group! {
    name = benches;
    config = Criterion::default().sample_size(10);
    targets = sheets
}
criterion_main!(benches);
