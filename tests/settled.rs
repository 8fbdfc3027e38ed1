//! What comes of taking every first answer: the demo by whichever door it came, and made bodies, their faults planted and known.
#![expect(
    clippy::unwrap_used,
    clippy::disallowed_methods,
    clippy::print_stdout,
    reason = "a test ends at its first fault and says what it measured, by the platform's own functions"
)]

#[path = "support/bodies.rs"]
#[expect(dead_code, reason = "the tests of misprints use the rest")]
mod bodies;
#[path = "support/demo_truth.rs"]
#[expect(dead_code, reason = "other tests use the rest")]
mod demo_truth;
#[path = "support/dented.rs"]
#[expect(dead_code, reason = "the tests of dents use the rest")]
mod dented;
#[path = "support/hulls.rs"]
#[expect(dead_code, reason = "the tests of hulls use the rest")]
mod hulls;

use std::path::{Path, PathBuf};
use std::sync::Arc;

use geometry::document::{Lines, TableOptions, read_table};
use geometry::loft::{Loft, Lofted};
use geometry::settle::{Settled, judge_all, settle_all};

use demo_truth::Section;
use dented::dented;

fn data(name: &str) -> Vec<u8> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/data");
    std::fs::read(path.join(name)).unwrap()
}

fn read(bytes: &[u8]) -> Lines {
    let table = read_table(bytes, &TableOptions::default());
    table.unwrap().lines()
}

/// The lines with every tolerance as given.
fn to_tolerance(mut lines: Lines, tolerance: f64) -> Lines {
    let points = lines.body_mut().points.iter_mut();
    for reading in points.flat_map(|point| &mut point.readings) {
        reading.tolerance = tolerance;
    }
    lines
}

/// The rows of a table under its head in another order.
fn shuffled(bytes: &[u8]) -> Vec<u8> {
    let text = String::from_utf8(bytes.to_vec()).unwrap();
    let mut rows: Vec<&str> = text.lines().collect();
    let mut state = 11_u64;
    for k in (2..rows.len()).rev() {
        state = state
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        rows.swap(k, 1 + (state >> 33) as usize % k);
    }
    rows.join("\n").into_bytes()
}

/// The titles of what is listed.
fn listed(lines: &Lines) -> Vec<String> {
    let lofted = Lofted::build(Arc::new(lines.clone())).unwrap();
    let found = judge_all(&lofted, &|_| (), &|_| ()).unwrap();
    found.matters.into_iter().map(|row| row.title).collect()
}

/// How far the keel lies off the truth at STA 101, mm.
fn keel_off(lines: &Lines) -> f64 {
    let loft = Loft::build(&lines.body).unwrap();
    let x = lines.body.station_by_label("101").unwrap().x;
    let [_, keel] = Section::at(x).lower(1.0);
    (loft.surface().row(loft.u_at(x)).jet(1.0).s.z - keel).abs()
}

/// Settles the demo; the misprint and the hollow are taken, the keel comes to where it was, nothing new is listed and nothing
/// is left to be taken.
fn settles(door: &str, lines: &Lines) -> Settled {
    let before = listed(lines);
    let settled = settle_all(&Arc::new(lines.clone()), &|_| ()).unwrap();
    assert!(keel_off(lines) > 5.0, "{door}: the hollow is planted");
    let off = keel_off(&settled.lines);
    assert!(off <= 2.0, "{door}: {off} mm");
    let first = settled.taken.iter().filter(|row| row.round == 1);
    let titles: Vec<&str> = first.map(|row| row.title.as_str()).collect();
    let starts = |with: &str| titles.iter().filter(|t| t.starts_with(with)).count();
    assert_eq!(starts("STA 48, WL 32"), 1, "{door}: {titles:?}");
    assert_eq!(starts("Hollow, STA 90–1"), 1, "{door}: {titles:?}");
    assert_eq!(settled.left, Vec::<String>::new(), "{door}");
    for title in listed(&settled.lines) {
        assert!(before.contains(&title), "{door}: {title} is new");
    }
    let again = settle_all(&settled.lines, &|_| ()).unwrap();
    assert_eq!(again.taken, [], "{door}");
    assert_eq!(again.lines, settled.lines, "{door}");
    settled
}

/// A copy of the table on the disk, read back, as a file is.
fn by_file(name: &str) -> Lines {
    let folder = PathBuf::from(env!("CARGO_TARGET_TMPDIR"));
    let path = folder.join(format!("settled-{name}"));
    std::fs::write(&path, data(name)).unwrap();
    read(&std::fs::read(path).unwrap())
}

#[test]
fn the_demo_settles_alike_by_long_table_and_shuffled_rows() {
    let long = settles("long table", &by_file("demo_offsets.csv"));
    let other = settles("shuffled", &read(&shuffled(&data("demo_offsets.csv"))));
    assert_eq!(long.taken, other.taken);
}

#[test]
fn the_demo_settles_alike_by_any_tolerance() {
    let lines = read(&data("demo_offsets.csv"));
    let titles = |tolerance: f64| {
        let settled = settles(
            &format!("{tolerance}"),
            &to_tolerance(lines.clone(), tolerance),
        );
        let taken = settled.taken.into_iter().filter(|row| row.round == 1);
        taken.map(|row| row.title).collect::<Vec<_>>()
    };
    assert_eq!(titles(0.8), titles(1.6));
}

#[test]
fn the_demo_settles_alike_by_a_sheet_pasted_or_opened() {
    let sheet = data("demo_offsets_sheet.csv");
    let pasted = String::from_utf8(sheet).unwrap().replace("\r\n", "\n");
    let pasted = settles("pasted sheet", &read(pasted.as_bytes()));
    let opened = settles("sheet from a file", &by_file("demo_offsets_sheet.csv"));
    assert_eq!(pasted.taken, opened.taken);
    for tolerance in [0.8, 1.6] {
        let sheet = read(&data("demo_offsets_sheet.csv"));
        let again = settles("sheet", &to_tolerance(sheet, tolerance));
        let row = |settled: &Settled| settled.taken[0].title.clone();
        assert_eq!(row(&again), row(&pasted));
    }
}

/// What came of one made body.
struct MadeOutcome {
    seed: u64,
    /// How many answers were taken.
    taken: usize,
    /// Largest distance of the truth from the loft about the dent, before and after, mm; none where there is no dent.
    off: Option<[f64; 2]>,
}

fn made_and_settled(seed: u64, with_dent: bool) -> MadeOutcome {
    let (truth, read) = dented(seed, with_dent, None);
    let settled = settle_all(&Arc::new(read.lines.clone()), &|_| ()).unwrap();
    assert_eq!(settled.left, Vec::<String>::new(), "{seed}");
    let off = read.dent.as_ref().map(|dent| {
        [&read.lines, &*settled.lines].map(|lines| {
            let loft = Loft::build(&lines.body).unwrap();
            truth.off(dent, &loft)
        })
    });
    let titles: Vec<&str> = settled.taken.iter().map(|t| t.title.as_str()).collect();
    println!("{seed}: {titles:?}, off {off:.1?}");
    MadeOutcome {
        seed,
        taken: settled.taken.len(),
        off,
    }
}

#[test]
fn made_bodies_with_a_dent_come_nearer_to_what_they_were() {
    let seeds = (7000..7030).filter(|seed| seed % 3 != 0);
    let all: Vec<MadeOutcome> = seeds.map(|seed| made_and_settled(seed, true)).collect();
    let advised: Vec<&MadeOutcome> = all.iter().filter(|made| made.taken > 0).collect();
    assert!(2 * advised.len() >= all.len(), "{} advised", advised.len());
    let falls = |made: &&&MadeOutcome| made.off.is_some_and(|[was, is]| is < was);
    let fell = advised.iter().filter(falls).count();
    assert!(
        10 * fell >= 9 * advised.len(),
        "{fell} of {}",
        advised.len()
    );
    for made in &all {
        let grown = made.off.map_or(0.0, |[was, is]| is - was);
        assert!(grown <= 0.5, "{}: {grown} mm", made.seed);
    }
}

#[test]
fn made_bodies_without_a_dent_are_left_as_they_are() {
    let seeds = (8000..8015).filter(|seed| seed % 3 != 0);
    let all: Vec<MadeOutcome> = seeds.map(|seed| made_and_settled(seed, false)).collect();
    let touched = all.iter().filter(|made| made.taken > 0).count();
    assert!(touched <= 1, "{touched} of {}", all.len());
}
