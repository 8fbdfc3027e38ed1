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
#[path = "support/settling.rs"]
mod settling;

use std::path::{Path, PathBuf};
use std::sync::Arc;

use geometry::document::{Lines, TableOptions, read_table};
use geometry::loft::{Loft, Lofted};
use geometry::settle::{Settled, judge_all, settle_all};

use demo_truth::Section;
use settling::{Settling, SettlingRates, rates_by_family, settling};

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

/// Made bodies, a family to a thread, every first answer taken; none asks for another one then. The rates are printed by family.
fn all_settled(seeds: core::ops::Range<u64>, with_dent: bool) -> Vec<Settling> {
    let family = |family: u64| {
        let of = seeds.clone().filter(|seed| seed % 3 == family);
        of.map(|seed| settling(seed, with_dent)).collect::<Vec<_>>()
    };
    let all: Vec<Settling> = std::thread::scope(|scope| {
        let each = [0, 1, 2].map(|number| scope.spawn(move || family(number)));
        each.into_iter()
            .flat_map(|made| made.join().unwrap())
            .collect()
    });
    for made in &all {
        if made.is_advised() {
            println!("{}", made.says());
        }
        assert_eq!(made.left, Vec::<String>::new(), "{}", made.seed);
    }
    let what = if with_dent { "with a dent" } else { "without" };
    for line in rates_by_family(what, &all) {
        println!("{line}");
    }
    all
}

/// Twenty bodies of each family. Of forty of each (seeds 7000 to 7119, 30 November 2026, minutes on two processors) 61 of 120 were
/// advised: 7 with shoulders and narrow tails, 28 of conic lines, 26 tear-drops; 57 of the 61 then lay nearer to what they were
/// (3, 28 and 26), and none further off by more than 0.14 mm. `--example settled -- dent 7000 7120` does them all.
#[test]
fn made_bodies_with_a_dent_come_nearer_to_what_they_were() {
    let all = all_settled(7000..7060, true);
    let rates = SettlingRates::of(all.iter());
    assert_eq!(rates.bodies, 60);
    assert!(10 * rates.fell >= 9 * rates.advised, "{rates:?}");
    assert!(rates.most_grown <= 0.25, "{rates:?}");
    // Of bodies that no one stiffness suits, nothing can mostly be told.
    let suited = SettlingRates::of(all.iter().filter(|made| made.family != 0));
    assert!(2 * suited.advised >= suited.bodies, "{suited:?}");
}

/// Twelve bodies of each family. Of forty of each (seeds 8000 to 8119) two of 120 were touched, one with shoulders and one of conic
/// lines, which then lay 0.07 and 0.41 mm further off. `--example settled -- null 8000 8120` does them all.
#[test]
fn made_bodies_without_a_dent_are_left_as_they_are() {
    let all = all_settled(8000..8036, false);
    let rates = SettlingRates::of(all.iter());
    assert_eq!(rates.bodies, 36);
    assert!(rates.advised <= 2, "{rates:?}");
    assert!(rates.most_grown <= 0.5, "{rates:?}");
}
