//! Leaving out groups is exact; the demo's hollow is found by every door of the demo, and no more than that.

use std::sync::Arc;

use super::field::{Field, STIFFNESSES, Weights, laid, normals};
use super::left_out::{about, leave_out};
use super::{DentKind, Found, Reason};
use crate::document::{Lines, PointId, TableOptions, read_table};
use crate::fair::search_end::without;
use crate::fair::suspects::{Suspects, find};
use crate::loft::Loft;
use crate::num;

const ON: &dyn Fn() -> bool = &|| false;

fn data(name: &str) -> Vec<u8> {
    let path = format!("{}/../tests/data/{name}", env!("CARGO_MANIFEST_DIR"));
    std::fs::read(path).unwrap()
}

fn read(bytes: &[u8]) -> Lines {
    let table = read_table(bytes, &TableOptions::default());
    table.unwrap().lines()
}

/// The demo by its long table.
fn demo() -> Lines {
    read(&data("demo_offsets.csv"))
}

fn found(lines: &Lines) -> Suspects {
    find(&lines.body, lines.about.unit, ON).unwrap()
}

#[test]
fn a_group_moved_by_what_it_is_off_lies_on_the_skin_of_the_others() {
    let lines = demo();
    let body = &lines.body;
    let offsets = Loft::build(body).unwrap().offsets();
    let all: Vec<_> = offsets.iter().flatten().collect();
    let mut out = vec![false; all.len()];
    out[40] = true; // one without a say beside them
    let field = Field::of(body, &offsets, &out, ON).unwrap();
    let mut bench = laid(body, &offsets, &out).unwrap();
    let weights = Weights::of(&all, &out);
    let normals = normals(&mut bench, &all, &weights.say).unwrap();
    let places: Vec<[f64; 2]> = bench.places().collect();
    let recorded: Vec<[f64; 2]> = all.iter().map(|offset| offset.recorded).collect();
    let first = |station: usize| field.readings.partition_point(|r| r.station < station);
    // Side by side, scattered, and with a crown, a keel and a run line among them.
    let groups: [Vec<usize>; 3] = [
        (first(8) + 3..first(9))
            .chain(first(9) + 4..first(10))
            .collect(),
        vec![first(3), first(4) + 2, first(6) + 5, first(7) - 1],
        (first(5)..first(6)).collect(),
    ];
    for group in groups {
        let ends = [group[0], group[group.len() - 1]].map(|i| field.readings[i].station);
        let mut worst = 0.0_f64;
        for (k, stiffness) in STIFFNESSES.into_iter().enumerate() {
            let left = leave_out(&field, k, &group, about(&field, ends)).unwrap();
            let mut moved = recorded.clone();
            for (i, off) in group.iter().zip(&left.off) {
                for d in [0, 1] {
                    moved[*i][d] -= off * normals[*i][d];
                }
            }
            let fit = bench.fit_to(&moved, &weights.say, stiffness).unwrap();
            let residual = |values: &[[f64; 2]], i: usize| {
                let s = fit.surface.position(places[i][0], places[i][1]);
                normals[i][0] * (values[i][0] - s.y) + normals[i][1] * (values[i][1] - s.z)
            };
            for i in &group {
                worst = worst.max(residual(&moved, *i).abs());
            }
            // And the rest is then left out one by one as ever: what it is off the skin of all others, moved so, is nothing.
            let j = left.rest[left.rest.len() / 2];
            let off = left.rest_off[left.rest.len() / 2];
            for d in [0, 1] {
                moved[j][d] -= off * normals[j][d];
            }
            let without_j: Vec<usize> = {
                let mut with = group.clone();
                with.insert(with.partition_point(|i| *i < j), j);
                with
            };
            let both = leave_out(&field, k, &without_j, about(&field, ends)).unwrap();
            let at = without_j.iter().position(|i| *i == j).unwrap();
            assert!((both.off[at] - off).abs() < 1e-9, "{} {off}", both.off[at]);
        }
        assert!(worst < 1e-9, "{worst:e}");
    }
}

/// Half-breadth and height of the demo as it was, by station and line.
fn truth() -> Vec<(String, String, [f64; 2])> {
    let text = String::from_utf8(data("demo_truth.csv")).unwrap();
    let row = |line: &str| {
        let cells: Vec<&str> = line.split(',').collect();
        let at = [cells[3], cells[4]].map(|cell| cell.parse().unwrap());
        (cells[0].to_owned(), cells[1].to_owned(), at)
    };
    text.lines().skip(1).map(row).collect()
}

/// How far the truth lies off a loft, by station and line: the keel by its height, others by the nearest place.
fn off_the_truth(lines: &Lines, loft: &Loft) -> Vec<(String, String, f64)> {
    let one = |(station, line, at): (String, String, [f64; 2])| {
        let x = lines.body.station_by_label(&station).unwrap().x;
        let row = loft.surface().row(loft.u_at(x));
        let off = if line == "keel" {
            (row.jet(1.0).s.z - at[1]).abs()
        } else {
            let off = |k: u32| {
                let s = row.jet(f64::from(k) / 20_000.0).s;
                num::hypot(s.y - at[0], s.z - at[1])
            };
            (0..=20_000).map(off).fold(f64::INFINITY, f64::min)
        };
        (station, line, off)
    };
    truth().into_iter().map(one).collect()
}

/// What is held of the demo by whichever door it came: one misprint, one hollow; the readings of that.
fn holds_for_the_demo(door: &str, lines: &Lines) -> (Vec<String>, Found) {
    let all = found(lines);
    let names = |points: &[PointId]| -> Vec<String> {
        points.iter().map(|id| lines.body.point_name(*id)).collect()
    };
    let misprints: Vec<PointId> = all.misprints.iter().map(|m| m.point).collect();
    assert_eq!(names(&misprints), ["STA 48, WL 32"], "{door}");
    let [hollow] = &all.dents.found[..] else {
        panic!("{door}: one hollow, of {:?}", all.dents);
    };
    assert_eq!(hollow.kind, DentKind::Hollow);
    assert!(
        (13..=17).contains(&hollow.points.len()),
        "{door}: {hollow:?}"
    );
    let at = |label: &str| lines.body.station_by_label(label).unwrap().x;
    assert!(hollow.from_x >= at("90") && hollow.to_x <= at("123"));
    let named = names(&hollow.points);
    // All below the joint at 90, 101 and 112, and nothing above it.
    let below = |name: &str| {
        let upper = ["WL 32", "WL 36", "WL 40", "WL 44", "crown", "joint"];
        !upper.iter().any(|line| name.ends_with(line))
    };
    for name in &named {
        assert!(below(name), "{door}: {name}");
    }
    let joint = |station: &str| {
        let joint = truth()
            .into_iter()
            .find(|(s, l, _)| s == station && l == "joint");
        joint.unwrap().2[1]
    };
    for offset in lines.body.offsets().iter().flatten() {
        let name = lines.body.point_name(offset.point);
        for station in ["90", "101", "112"] {
            if name.starts_with(&format!("STA {station},"))
                && offset.recorded[1] < joint(station) - 1.0
            {
                assert!(named.contains(&name), "{door}: {name}");
            }
        }
    }
    // No distance hangs on an extrapolation.
    let sigma = all.sigma.max(0.15);
    assert!(
        hollow.sd <= (4.0 * sigma).max(0.25 * hollow.largest),
        "{hollow:?}"
    );
    for line in &hollow.lines {
        let name = lines.body.line_name(line.on).unwrap();
        assert!(line.after <= 1.0, "{door}, {name}: {line:?}");
    }
    for line in ["keel", "BL 4", "WL 24"] {
        let of = |on| lines.body.line_name(on).is_some_and(|name| name == line);
        assert!(hollow.lines.iter().any(|l| of(l.on)), "{door}: {line}");
    }
    // Set aside, the lines are near the truth, and nothing is found any more.
    let aside: Vec<PointId> = misprints.iter().chain(&hollow.points).copied().collect();
    let mut rest = lines.clone();
    *rest.body_mut() = (*without(&lines.body, &aside)).clone();
    let loft = Loft::build(&rest.body).unwrap();
    for (station, line, off) in off_the_truth(lines, &loft) {
        let about = ["79", "90", "101", "112", "123", "134"].contains(&station.as_str());
        if about {
            assert!(off <= 2.0, "{door}: STA {station}, {line}: {off}");
        }
        if station == "101" && line == "keel" {
            assert!(off <= 1.6, "{door}: {off}");
        }
    }
    let again = found(&rest);
    assert_eq!(
        (again.misprints, again.dents.found),
        (vec![], vec![]),
        "{door}"
    );
    (named, hollow.clone())
}

/// The demo with every tolerance as given.
fn to_tolerance(lines: &Lines, tolerance: impl Fn(f64) -> f64) -> Lines {
    let mut lines = lines.clone();
    let points = lines.body_mut().points.iter_mut();
    for reading in points.flat_map(|point| &mut point.readings) {
        reading.tolerance = tolerance(reading.tolerance);
    }
    lines
}

/// The rows of a table in another order.
fn shuffled(bytes: &[u8]) -> Vec<u8> {
    let text = String::from_utf8(bytes.to_vec()).unwrap();
    let mut rows: Vec<&str> = text.lines().collect();
    let mut state = 5_u64;
    for k in (2..rows.len()).rev() {
        state = state
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        rows.swap(k, 1 + (state >> 33) as usize % k);
    }
    rows.join("\n").into_bytes()
}

#[test]
fn the_demo_has_one_hollow_by_whichever_door() {
    let (long, of_long) = holds_for_the_demo("long table", &demo());
    let sheet = read(&data("demo_offsets_sheet.csv"));
    let (by_sheet, _) = holds_for_the_demo("sheet", &sheet);
    assert!(by_sheet.iter().all(|name| long.contains(name)));
    let (shuffled, of_shuffled) =
        holds_for_the_demo("shuffled", &read(&shuffled(&data("demo_offsets.csv"))));
    assert_eq!(shuffled, long);
    assert_eq!(of_shuffled.score.to_bits(), of_long.score.to_bits());
}

#[test]
fn the_demo_has_its_hollow_by_any_tolerance() {
    let (long, _) = holds_for_the_demo("0.8", &to_tolerance(&demo(), |_| 0.8));
    let (other, _) = holds_for_the_demo("1.6", &to_tolerance(&demo(), |_| 1.6));
    assert_eq!(long, other);
}

#[test]
fn neither_ids_nor_a_scale_of_all_tolerances_change_the_answer() {
    let dents = |lines: &Lines| {
        let mut found = found(lines).dents.found;
        assert_eq!(found.len(), 1);
        let dent = found.remove(0);
        let names = dent.points.iter().map(|id| lines.body.point_name(*id));
        (names.collect::<Vec<_>>(), dent.score)
    };
    let (read, score) = dents(&demo());
    for scale in [0.7, 1.3] {
        let (names, other) = dents(&to_tolerance(&demo(), |tolerance| scale * tolerance));
        assert_eq!(names, read, "{scale}");
        assert!(
            (other / score - 1.0).abs() < 1e-9,
            "{scale}: {other} {score}"
        );
    }
    let mut renumbered = demo();
    let body = renumbered.body_mut();
    let last = body.points.iter().map(|point| point.id.0).max().unwrap();
    for point in &mut body.points {
        point.id = PointId(last - point.id.0);
    }
    let (names, other) = dents(&renumbered);
    assert_eq!((names, other.to_bits()), (read, score.to_bits()));
}

#[test]
fn what_was_left_out_of_a_body_without_dents_says_nothing() {
    let mut lines = demo();
    let all = found(&lines);
    let misprints = all.misprints.iter().map(|m| m.point);
    let aside: Vec<PointId> = misprints
        .chain(all.dents.found[0].points.iter().copied())
        .collect();
    let body = without(&lines.body, &aside);
    *lines.body_mut() = Arc::unwrap_or_clone(body);
    let cant_tell = found(&lines).dents.cant_tell;
    assert!(cant_tell.iter().all(|c| c.reason == Reason::NotKnown));
}
