//! Readings that disagree with their neighbours, on the demo's table, on published bodies and on bodies made at random.
//!
//! Each fault is planted by this file, so what must be found is known; where nothing was planted nothing may be named.
//! What is reached is printed (`cargo test --test fairness -- --nocapture`).
#![expect(
    clippy::unwrap_used,
    clippy::disallowed_methods,
    clippy::print_stdout,
    reason = "a test ends at its first fault and says what it measured, by the platform's own functions"
)]

use std::f64::consts::PI;

use geometry::document::{
    BodyEdit, End, Ends, Lines, On, Peak, Place, Point, PointId, Recorded, RunKind, RunLine,
    RunLineId, Sense, SkinSide, TableOptions, Tip, read_table,
};
use geometry::fair::dents::DentKind;
use geometry::fair::suspects::{Suspects, SuspectsError, find};
use geometry::fair::verdict::{Fairness, judge};
use geometry::fair::whole::fair_whole;
use geometry::lines::node_at;
use geometry::loft::Loft;
use geometry::spline::Surface;
use geometry::units::LengthUnit;

#[path = "support/bodies.rs"]
mod bodies;
#[path = "support/hulls.rs"]
mod hulls;

use bodies::{made, number};
use hulls::{AXIS, Body, Table, series_60, suboff_radius, wigley};

fn suspects(lines: &Lines) -> Suspects {
    find(&lines.body, lines.about.unit, &|| false).unwrap()
}

/// What was found, in words.
fn tell(what: &str, lines: &Lines, found: &Suspects) {
    println!("{what}: sigma {:.3} mm", found.sigma);
    for m in &found.misprints {
        let slip = m.slips.first().map_or_else(
            || "no simple slip explains it".to_owned(),
            |s| format!("{} ({})", s.typed, s.words()),
        );
        println!(
            "  misprint {} {}: t {:.1}, read {:.2}, wanted {:.2?}: {slip}",
            lines.body.point_name(m.point),
            if m.height { "height" } else { "half-breadth" },
            m.t,
            m.read,
            m.expected.map(|w| (w.mm, w.sd)),
        );
    }
    for d in &found.dents.found {
        println!(
            "  {:?} of {} points, x {:.0} to {:.0}, {:.1} mm at {}",
            d.kind,
            d.points.len(),
            d.from_x,
            d.to_x,
            d.largest,
            lines.body.point_name(d.worst)
        );
    }
}

fn demo() -> Lines {
    let path = format!("{}/tests/data/demo_offsets.csv", env!("CARGO_MANIFEST_DIR"));
    let bytes = std::fs::read(path).unwrap();
    read_table(&bytes, &TableOptions::default())
        .unwrap()
        .lines()
}

#[test]
fn the_demo_has_one_misprint_and_one_hollow() {
    // demo_truth.json: STA 48 WL 32 is printed 1-2-3 for 1-3-2; 9 mm are missing about STA 101 in the lower shell.
    let lines = demo();
    let found = suspects(&lines);
    tell("demo", &lines, &found);
    let [misprint] = &found.misprints[..] else {
        panic!("one misprint")
    };
    assert_eq!(lines.body.point_name(misprint.point), "STA 48, WL 32");
    assert!(!misprint.height && misprint.reading == 0);
    assert!(misprint.t < -25.0, "{}", misprint.t);
    assert_eq!(misprint.slips[0].typed, "1-3-2");
    assert_eq!(
        misprint.slips[0].words(),
        "inches and eighths changed places"
    );
    // 387.35 mm: the true value as the sheet rounds it.
    let expected = misprint.expected.unwrap();
    assert!((expected.mm - 387.35).abs() < 1.6, "{expected:?}");
    // What the hollow is made of stands beside the scan, in `fair/dents/tests.rs`.
    let [hollow] = &found.dents.found[..] else {
        panic!("one hollow")
    };
    assert_eq!(hollow.kind, DentKind::Hollow);
    assert!(lines.body.point_name(hollow.worst).starts_with("STA 101"));
}

#[test]
fn a_misprint_put_right_is_no_longer_suspect() {
    let mut lines = demo();
    let id = suspects(&lines).misprints[0].point;
    let point = lines
        .body_mut()
        .points
        .iter_mut()
        .find(|p| p.id == id)
        .unwrap();
    point.readings[0].half_breadth.as_mut().unwrap().put_right = Some(15.25 * 25.4);
    assert_eq!(suspects(&lines).misprints, []);
    // Nor is one that is set aside.
    let point = lines
        .body_mut()
        .points
        .iter_mut()
        .find(|p| p.id == id)
        .unwrap();
    point.readings[0].half_breadth.as_mut().unwrap().put_right = None;
    point.readings[0].set_aside = Some("misprint".to_owned());
    assert_eq!(suspects(&lines).misprints, []);
}

#[test]
fn a_hollow_that_the_lines_overrule_is_settled() {
    let mut lines = demo();
    let hollow = suspects(&lines).dents.found.remove(0).points;
    // Each past its tolerance, the last one only up to it.
    for (rest, id) in hollow
        .iter()
        .enumerate()
        .map(|(k, id)| (hollow.len() - 1 - k, id))
    {
        let point = lines
            .body_mut()
            .points
            .iter_mut()
            .find(|p| p.id == *id)
            .unwrap();
        let by = point.merged().tolerance + if rest > 0 { 0.03 } else { 0.0 };
        let (half_breadth, height) = (point.merged().half_breadth, point.merged().height);
        match (half_breadth, height) {
            (_, Some(z)) => point.accepted_height = Some(z - by),
            (y, None) => point.accepted_half_breadth = y.map(|y| y + by),
        }
    }
    let [dent] = &suspects(&lines).dents.found[..] else {
        panic!("one reading is in doubt still")
    };
    assert_eq!(dent.points, hollow, "it is of what was read");
    let last = lines
        .body_mut()
        .points
        .iter_mut()
        .find(|p| Some(&p.id) == hollow.last());
    let last = last.unwrap();
    for accepted in [&mut last.accepted_height, &mut last.accepted_half_breadth] {
        *accepted = accepted.map(|to| to + 20.0);
    }
    assert_eq!(suspects(&lines).dents.found, []);
}

#[test]
fn a_source_that_counts_downward_has_its_slip_in_its_own_count() {
    // The same sheet with its half-breadths counted inward from 30 1/2 in outboard, where 1-3-2 is 1-3-2 too.
    let mut lines = demo();
    let away = 30.5 * 25.4;
    for source in &mut lines.body_mut().sources {
        source.datum.half_breadth.from = away;
        source.datum.half_breadth.sense = Sense::Against;
    }
    for reading in lines
        .body_mut()
        .points
        .iter_mut()
        .flat_map(|p| &mut p.readings)
    {
        if let Some(recorded) = &mut reading.half_breadth {
            if recorded.typed == "1-2-3" {
                recorded.mm = away - recorded.mm;
            } else {
                recorded.typed = format!("{} mm", away - recorded.mm);
            }
        }
    }
    let found = suspects(&lines);
    tell("counted inward", &lines, &found);
    let [misprint] = &found.misprints[..] else {
        panic!("one misprint")
    };
    let slip = &misprint.slips[0];
    assert_eq!(slip.typed, "1-3-2");
    assert!((slip.mm - 387.35).abs() < 1e-9, "{slip:?}");
}

#[test]
fn a_search_stops_when_asked() {
    assert_eq!(
        find(&demo().body, LengthUnit::Inches, &|| true),
        Err(SuspectsError::Stopped)
    );
    let asked = std::cell::Cell::new(0);
    let stop = || {
        asked.set(asked.get() + 1);
        asked.get() > 8
    };
    assert_eq!(
        find(&demo().body, LengthUnit::Inches, &stop),
        Err(SuspectsError::Stopped)
    );
}

fn teardrop(name: &str) -> Table {
    let path = format!(
        "{}/tests/data/teardrop/{name}.csv",
        env!("CARGO_MANIFEST_DIR")
    );
    let mut table: Table = Vec::new();
    for line in std::fs::read_to_string(path).unwrap().lines().skip(1) {
        let n: Vec<f64> = line.split(',').map(|n| n.parse().unwrap()).collect();
        let (x, y, z) = (n[0], n[1], n[2]);
        match table.last_mut() {
            Some((at, points)) if (*at - x).abs() < 1e-9 => points.push((On::Free, [y, z])),
            _ => table.push((x, vec![(On::Crown, [y, z])])),
        }
    }
    for (_, points) in &mut table {
        points.last_mut().unwrap().0 = On::Keel;
    }
    table
}

fn teardrop_body(tolerance: f64) -> Body {
    Body {
        tolerance,
        ends: Ends::default(),
        crown: Peak::Peaked,
        keel: Peak::Smooth,
        run_lines: Vec::new(),
    }
}

#[test]
fn the_tear_drop_has_what_was_planted_and_no_more() {
    // The faults of make.py: 9 mm in a half-breadth, 6.35 mm in a height.
    for name in ["exact", "noise_1", "noise_2", "noise_3", "noise_4"] {
        let mut table = teardrop(name);
        let lines = teardrop_body(1.0).lines(&table);
        let found = suspects(&lines);
        tell(name, &lines, &found);
        assert!(found.misprints.is_empty() && found.dents.found.is_empty());
        let (j, k) = (table[6].1.len() / 2, table[11].1.len() / 4);
        table[6].1[j].1[0] += 9.0;
        table[11].1[k].1[1] -= 6.35;
        let lines = teardrop_body(1.0).lines(&table);
        let found = suspects(&lines);
        tell("  with two faults", &lines, &found);
        let at = |s: usize, j: usize| table[..s].iter().map(|(_, p)| p.len()).sum::<usize>() + j;
        let named: Vec<usize> = found.misprints.iter().map(|m| m.point.0 as usize).collect();
        assert_eq!(named, [at(6, j), at(11, k)], "{name}");
        assert!(found.dents.found.is_empty());
    }
}

/// The tear-drop of make.py, by distance aft and angle from the crown.
fn teardrop_truth(x: f64, t: f64) -> [f64; 2] {
    let q = x / 4000.0;
    let b = 500.0 * (1.0 - 0.86 * q * q * (1.5 - 0.5 * q));
    let (crown, keel) = (
        520.0 - 160.0 * q * q,
        -520.0 + 780.0 * q * q * (1.35 - 0.35 * q),
    );
    let a = (crown - keel) / 2.0;
    let y = b * (t.sin() - 0.08 * q * (2.0 * t).sin());
    let z = f64::midpoint(crown, keel) + a * t.cos() + 0.12 * a * t.sin().powi(2)
        - 0.25 * a * t.sin() * (1.0 + t.cos()) / 2.0;
    [y, z]
}

/// Largest and root mean square distance of a surface from the tear-drop, in the planes of sections.
fn off_the_teardrop(surface: &Surface) -> [f64; 2] {
    let (mut largest, mut sum, mut n) = (0.0_f64, 0.0, 0.0);
    for k in 0..133 {
        let x = 20.0 + 30.0 * f64::from(k);
        let exact: Vec<[f64; 2]> = (0..=800)
            .map(|i| teardrop_truth(x, PI * f64::from(i) / 800.0))
            .collect();
        let row = surface.row(surface.u_at(x));
        for i in 0..=100 {
            let at = row.jet(f64::from(i) / 100.0).s;
            let to = |pair: &[[f64; 2]]| {
                let (dy, dz) = (pair[1][0] - pair[0][0], pair[1][1] - pair[0][1]);
                let (py, pz) = (at.y - pair[0][0], at.z - pair[0][1]);
                let share = ((py * dy + pz * dz) / (dy * dy + dz * dz)).clamp(0.0, 1.0);
                (py - share * dy).hypot(pz - share * dz)
            };
            // The chords about the nearest of every twentieth point: the surface lies some millimetres off a round section.
            let far = |k: &usize| (at.y - exact[*k][0]).powi(2) + (at.z - exact[*k][1]).powi(2);
            let coarse = (0..=800).step_by(20);
            let near = coarse.min_by(|a, b| far(a).total_cmp(&far(b))).unwrap();
            let about = &exact[near.saturating_sub(30)..=(near + 30).min(800)];
            let off = about.windows(2).map(to).fold(f64::INFINITY, f64::min);
            largest = largest.max(off);
            sum += off * off;
            n += 1.0;
        }
    }
    [largest, f64::sqrt(sum / n)]
}

/// Bounds that an independent program reached on the same offsets (`NumPy`, `SciPy`, another fit's parameters): the two faults
/// named and no other in each of six, the surface 0.21 to 0.29 mm off on average and at most 1.17.
#[test]
fn the_faired_tear_drop_names_its_two_faults_and_comes_to_the_truth() {
    for seed in 1..=6 {
        let mut table = teardrop(&format!("noise_{seed}"));
        let (j, k) = (table[6].1.len() / 2, table[11].1.len() / 4);
        table[6].1[j].1[0] += 9.0;
        table[11].1[k].1[1] -= 6.35;
        let lines = teardrop_body(1.0).lines(&table);
        let loft = Loft::build(&lines.body).unwrap();
        let proposal = fair_whole(&loft, &|_| false).unwrap();
        let at = |s: usize, j: usize| table[..s].iter().map(|(_, p)| p.len()).sum::<usize>() + j;
        let past = proposal.moves.iter().filter(|m| m.is_past());
        let named: Vec<usize> = past.map(|m| m.point.0 as usize).collect();
        let faired = lines.apply(proposal.edit(&[])).unwrap();
        let again = loft.again(&faired.body).unwrap();
        let [before, _] = off_the_teardrop(loft.surface());
        let [largest, mean] = off_the_teardrop(again.surface());
        println!(
            "seed {seed}: stiffness {:.0}, {named:?}, {largest:.3} / {mean:.3} mm after {before:.1}",
            proposal.stiffness.unwrap()
        );
        assert_eq!(named, [at(6, j), at(11, k)], "seed {seed}");
        assert!(mean <= 0.29 && largest <= 1.17, "{largest} / {mean}");
    }
}

#[test]
fn a_bad_offset_of_a_parabola_is_named_with_its_correction() {
    // y = 100 - (i - 5)² with 0.8 too much at i = 4: the fourth differences 0.8 (1, -4, 6, -4, 1) stand on it. Here it is
    // one height of an upright wall.
    let line = |id: u32, name: &str| RunLine {
        id: RunLineId(id),
        name: name.to_owned(),
        kind: RunKind::Smooth,
        joint: false,
    };
    let y = |i: i32| 100.0 - f64::from((i - 5) * (i - 5));
    let mut table: Table = (0..=10)
        .map(|i| {
            let point = |k: i32| {
                let on = match k {
                    0 => On::RunLine(RunLineId(0)),
                    6 => On::RunLine(RunLineId(1)),
                    _ => On::Free,
                };
                (on, [y(i), AXIS - 50.0 * f64::from(k)])
            };
            (100.0 * f64::from(i), (0..=6).map(point).collect())
        })
        .collect();
    let body = Body {
        tolerance: 0.1,
        ends: Ends::default(),
        crown: Peak::Peaked,
        keel: Peak::Peaked,
        run_lines: vec![line(0, "deck"), line(1, "chine")],
    };
    let lines = body.lines(&table);
    let found = suspects(&lines);
    assert!(found.misprints.is_empty() && found.dents.found.is_empty());
    table[4].1[3].1[0] += 0.8;
    let lines = body.lines(&table);
    let found = suspects(&lines);
    tell("parabola", &lines, &found);
    let [misprint] = &found.misprints[..] else {
        panic!("one misprint")
    };
    assert_eq!(misprint.point, PointId(4 * 7 + 3));
    let correction = misprint.expected.unwrap().mm - misprint.read;
    assert!((correction + 0.8).abs() < 0.1, "{correction}");
}

/// What became of the faults of some bodies.
#[derive(Default)]
struct Tally {
    /// Found and planted, by size (9 mm, an eighth) and place: between the ends, and at the first and last station.
    found: [[[usize; 2]; 2]; 2],
    wrong: usize,
    /// A row for each body.
    rows: Vec<String>,
}

/// Plants 9 mm and an eighth of an inch in each body, at two stations drawn at random.
fn judged(seeds: core::ops::Range<u64>) -> Tally {
    let sizes = [9.0, 3.175];
    let mut tally = Tally::default();
    for seed in seeds.clone() {
        let mut read = made(seed);
        let faults = read.plant(&sizes);
        let lines = read.body.lines(&read.table);
        let suspects = suspects(&lines);
        let ends = [read.table[0].0, read.table[read.table.len() - 1].0];
        let mut told = Vec::new();
        for (k, fault) in faults.iter().enumerate() {
            let point = PointId(u32::try_from(fault.point).unwrap());
            let x = lines
                .body
                .station(lines.body.point(point).unwrap().station)
                .unwrap()
                .x;
            let end = usize::from(ends.contains(&x));
            let hit = suspects.misprints.iter().find(|m| m.point == point);
            told.push(format!(
                "{:+.1} at {}: {}",
                fault.by,
                lines.body.point_name(point),
                hit.map_or("NOT found".to_owned(), |m| format!("found ({:.1})", m.t))
            ));
            tally.found[k][end][0] += usize::from(hit.is_some());
            tally.found[k][end][1] += 1;
        }
        let planted = |id: PointId| faults.iter().any(|f| f.point == id.0 as usize);
        let others = suspects.misprints.iter().filter(|m| !planted(m.point));
        let wrong = others.count() + suspects.dents.found.len();
        if wrong > 0 {
            tell(&format!("{seed}"), &lines, &suspects);
        }
        tally.wrong += wrong;
        let made = &read.made;
        tally.rows.push(format!(
            "{seed:5}  {:6.0}  {:4.2}  {:4.2}  {:5.2}  {:74}  {wrong:5}",
            made.length,
            made.fullness,
            made.peak,
            made.noise,
            told.join("; ")
        ));
    }
    for (k, size) in ["9 mm", "an eighth"].into_iter().enumerate() {
        let [[a, b], [c, d]] = tally.found[k];
        println!(
            "{seeds:?}, {size}: {a} of {b} between the ends, {c} of {d} at the first and last station"
        );
    }
    println!("{seeds:?}: false {}", tally.wrong);
    tally
}

/// Runs over seeds by halves, at the same time.
fn judged_by_two(seeds: core::ops::Range<u64>) -> Tally {
    let middle = u64::midpoint(seeds.start, seeds.end);
    let halves = std::thread::scope(|scope| {
        let first = scope.spawn(|| judged(seeds.start..middle));
        let second = judged(middle..seeds.end);
        [first.join().unwrap(), second]
    });
    let mut sum = Tally::default();
    for half in halves {
        sum.wrong += half.wrong;
        sum.rows.extend(half.rows);
        for (k, size) in half.found.iter().enumerate() {
            for (e, place) in size.iter().enumerate() {
                for (n, count) in place.iter().enumerate() {
                    sum.found[k][e][n] += count;
                }
            }
        }
    }
    sum
}

fn share([found, planted]: [usize; 2]) -> f64 {
    found as f64 / planted as f64
}

/// The longest test here: shares of nineteen in twenty and of six in ten are told by a hundred bodies and more only, and each
/// is searched whole.
#[test]
fn what_is_planted_in_bodies_made_at_random_is_found() {
    // Seeds that the search was not tuned on; all places count, those at the first and last station too.
    let tally = judged_by_two(9000..9120);
    let [nine, eighth] = tally
        .found
        .map(|[within, end]| [within[0] + end[0], within[1] + end[1]]);
    println!(
        " seed  length  full  peak  noise  {:74}  false\n{}",
        "planted (mm), where, and whether it was found (by its t)",
        tally.rows.join("\n")
    );
    println!(
        "9 mm: {nine:?}, an eighth: {eighth:?}, {} false",
        tally.wrong
    );
    assert!(share(nine) >= 0.95, "9 mm: {nine:?}");
    assert!(share(eighth) >= 0.6, "an eighth: {eighth:?}");
    assert!(tally.wrong <= 6, "{} false", tally.wrong);
}

#[test]
fn a_misprint_that_makes_its_section_turn_back_is_named() {
    let lines = demo();
    let station = lines.body.station_by_label("58").unwrap().id;
    let (mut refused, mut named) = (0, 0);
    for by in [-300.0, 300.0] {
        let round = lines.body.points.iter().filter(|p| p.station == station);
        for point in round.filter(|p| matches!(p.on, On::Plane(_))).step_by(2) {
            let mut lines = lines.clone();
            let at = lines
                .body_mut()
                .points
                .iter_mut()
                .find(|p| p.id == point.id)
                .unwrap();
            let reading = &mut at.readings[0];
            let recorded = reading.half_breadth.as_mut().or(reading.height.as_mut());
            let recorded = recorded.unwrap();
            recorded.mm += by;
            recorded.typed = format!("{} mm", recorded.mm);
            if Loft::build(&lines.body).is_ok() {
                continue;
            }
            refused += 1;
            let found = suspects(&lines);
            tell(
                &format!("{by} mm at {}", lines.body.point_name(point.id)),
                &lines,
                &found,
            );
            named += usize::from(found.misprints.iter().any(|m| m.point == point.id));
        }
    }
    println!("turned back: {named} of {refused} named");
    assert!(refused >= 3 && named == refused);
}

#[test]
fn crown_and_keel_are_judged_and_a_skin_read_inside_too() {
    let mut inside = demo();
    for source in &mut inside.body_mut().sources {
        source.surface = SkinSide::Inside { thickness: 1.2 };
    }
    for (lines, label, on) in [
        (demo(), "58", On::Crown),
        (demo(), "68", On::Keel),
        (inside, "58", On::Crown),
    ] {
        let mut lines = lines;
        let station = lines.body.station_by_label(label).map(|s| s.id);
        let Some(station) = station else { continue };
        let id = lines.body.point_on(station, on).unwrap().id;
        let point = lines
            .body_mut()
            .points
            .iter_mut()
            .find(|p| p.id == id)
            .unwrap();
        let height = point.readings[0].height.as_mut().unwrap();
        height.mm += 12.7;
        height.typed = format!("{} mm", height.mm);
        let found = suspects(&lines);
        tell(label, &lines, &found);
        let names = found
            .misprints
            .iter()
            .map(|m| lines.body.point_name(m.point));
        let mut names: Vec<String> = names.collect();
        names.sort();
        let mut expected = vec!["STA 48, WL 32".to_owned(), lines.body.point_name(id)];
        expected.sort();
        assert_eq!(names, expected);
        assert!(found.dents.found.len() <= 1);
    }
}

/// The demo with a diagonal read at every station that it crosses, where its own loft has it.
fn with_a_diagonal() -> Lines {
    let lines = demo();
    let place = Place::Diagonal {
        height: 32.0 * 25.4,
        angle: 0.7,
    };
    let drawn = BodyEdit::AddPlane {
        name: "D 1".to_owned(),
        place,
    };
    let mut lines = lines.apply(&drawn).unwrap();
    let on = On::Plane(lines.body.planes.last().unwrap().id);
    let loft = Loft::build(&lines.body).unwrap();
    for station in lines.body.stations.clone() {
        let Some(node) = node_at(&loft, on, station.x) else {
            continue;
        };
        let along = place.distance_along(node.point.y, node.point.z).unwrap();
        let mut point = lines.body.points[0].clone();
        point.id = PointId(lines.body.points.iter().map(|p| p.id.0).max().unwrap() + 1);
        point.station = station.id;
        point.on = on;
        point.readings[0].height = None;
        point.readings[0].half_breadth = Some(Recorded {
            typed: format!("{along:.1} mm"),
            mm: (along * 10.0).round() / 10.0,
            put_right: None,
        });
        lines.body_mut().points.push(point);
    }
    lines
}

/// Nine millimetres in one reading: of two of a point, on a diagonal, on a run line and on either side of it.
#[test]
fn a_misprint_is_named_among_two_readings_on_a_diagonal_and_beside_a_run_line() {
    let point = |lines: &Lines, label: &str, name: &str| {
        let station = lines.body.station_by_label(label).unwrap().id;
        let here = lines.body.points.iter().filter(|p| p.station == station);
        let of = |p: &&Point| lines.body.line_name(p.on).as_deref() == Some(name);
        { here }
            .find(of)
            .unwrap_or_else(|| panic!("{label} {name}"))
            .id
    };
    let mut two = demo();
    let id = point(&two, "68", "WL 28");
    let twice = two
        .body_mut()
        .points
        .iter_mut()
        .find(|p| p.id == id)
        .unwrap();
    let again = twice.readings[0].clone();
    twice.readings.push(again);
    for (lines, label, name, reading) in [
        (two, "68", "WL 28", 1),
        (with_a_diagonal(), "68", "D 1", 0),
        (demo(), "68", "joint", 0),
        (demo(), "68", "WL 24", 0),
        (demo(), "68", "WL 28", 0),
    ] {
        let mut lines = lines;
        let id = point(&lines, label, name);
        let planted = lines
            .body_mut()
            .points
            .iter_mut()
            .find(|p| p.id == id)
            .unwrap();
        let value = planted.readings[reading].half_breadth.as_mut().unwrap();
        value.mm -= 9.0;
        value.typed = format!("{:.1} mm", value.mm);
        let found = suspects(&lines);
        tell(name, &lines, &found);
        let named = found.misprints.iter().map(|m| (m.point, m.reading));
        let others = named.filter(|(point, _)| lines.body.point_name(*point) != "STA 48, WL 32");
        assert_eq!(others.collect::<Vec<_>>(), [(id, reading)]);
        let misprint = found.misprints.iter().find(|m| m.point == id).unwrap();
        let expected = misprint.expected.unwrap().mm;
        assert!((expected - misprint.read - 9.0).abs() < 1.2, "{expected}");
    }
}

/// Where a point of the demo is in its list.
fn on_the_sheet(lines: &Lines, label: &str, name: &str) -> usize {
    let station = lines.body.station_by_label(label).unwrap().id;
    let is =
        |p: &Point| p.station == station && lines.body.line_name(p.on).as_deref() == Some(name);
    lines.body.points.iter().position(is).unwrap()
}

/// The demo with its misprint put right.
fn put_right() -> Lines {
    let mut lines = demo();
    let at = on_the_sheet(&lines, "48", "WL 32");
    let reading = &mut lines.body_mut().points[at].readings[0];
    reading.half_breadth.as_mut().unwrap().put_right = Some(15.25 * 25.4);
    lines
}

/// The relic's readings at the tail are twice as good as the sheet's: what is left of the hollow after a fairing is not laid
/// to them.
#[test]
fn a_faired_keel_is_blamed_where_its_hollow_lies() {
    let lines = put_right();
    let loft = Loft::build(&lines.body).unwrap();
    let proposal = fair_whole(&loft, &|_| false).unwrap();
    let past = proposal.moves.iter().filter(|moved| moved.is_past());
    let past: Vec<_> = past.map(|moved| moved.point).collect();
    let keel = |without: &[PointId]| {
        let then = lines.apply(proposal.edit(without)).unwrap();
        let again = loft.again(&then.body).unwrap();
        let verdict = judge(&again, On::Keel, None, &|| false).unwrap();
        let judged = verdict.judged.unwrap();
        let at = judged.stretch.unwrap().at;
        let label = then.body.nearest_station(at).unwrap().label.clone();
        (verdict.fairness, label, judged.allowed)
    };
    let (word, at, allowed) = keel(&past);
    assert_eq!((word, at.as_str()), (Fairness::Unfair, "101"));
    assert!((allowed - 1.6).abs() < 1e-9, "{allowed}");
    let (word, at, _) = keel(&[]);
    assert_eq!((word, at.as_str()), (Fairness::FairWithinReadings, "101"));
}

/// As far as a tolerance counts in the loft, so far it counts in a verdict's place.
#[test]
fn a_tolerance_next_to_nothing_leaves_a_line_judged() {
    let mut lines = put_right();
    let at = on_the_sheet(&lines, "101", "keel");
    lines.body_mut().points[at].readings[0].tolerance = 1e-12;
    let loft = Loft::build(&lines.body).unwrap();
    let verdict = judge(&loft, On::Keel, None, &|| false).unwrap();
    let judged = verdict.judged.unwrap();
    assert_eq!(verdict.fairness, Fairness::Unfair);
    assert!((judged.needed - 3.0).abs() < 0.5, "{}", judged.needed);
    assert!(judged.stretch.is_some());
}

/// The slips that a sheet's own cells tell: two half-breadths exchanged along a line and round a station, one copied from
/// beside, and the half-breadth and height of one point.
#[test]
fn what_was_exchanged_or_copied_on_the_sheet_is_said_so() {
    for (a, b) in [
        (("58", "WL 24"), ("68", "WL 24")),
        (("28", "WL 36"), ("28", "WL 40")),
    ] {
        let mut lines = put_right();
        let [i, j] = [a, b].map(|(label, name)| on_the_sheet(&lines, label, name));
        let [first, second] = [i, j].map(|i| lines.body.points[i].readings[0].half_breadth.clone());
        lines.body_mut().points[i].readings[0].half_breadth = second.clone();
        lines.body_mut().points[j].readings[0].half_breadth = first.clone();
        let found = suspects(&lines);
        tell(&format!("{a:?} and {b:?} exchanged"), &lines, &found);
        let says = [i, j].map(|i| {
            let id = lines.body.points[i].id;
            let misprint = found.misprints.iter().find(|m| m.point == id).unwrap();
            (misprint.slips[0].words(), misprint.slips[0].typed.clone())
        });
        let (beside, back) = if a.0 == b.0 {
            (b.1.to_owned(), a.1.to_owned())
        } else {
            (format!("STA {}", b.0), format!("STA {}", a.0))
        };
        let words = |of: &str, was: &Option<Recorded>| {
            (
                format!("changed places with {of}"),
                was.as_ref().unwrap().typed.clone(),
            )
        };
        assert_eq!(says, [words(&beside, &first), words(&back, &second)]);
        assert_eq!(found.misprints.len(), 2);
    }

    let mut lines = put_right();
    let [i, j] = ["58", "68"].map(|label| on_the_sheet(&lines, label, "WL 24"));
    let right = lines.body.points[i].readings[0]
        .half_breadth
        .clone()
        .unwrap();
    lines.body_mut().points[i].readings[0].half_breadth =
        lines.body.points[j].readings[0].half_breadth.clone();
    let found = suspects(&lines);
    tell("copied", &lines, &found);
    let [misprint] = &found.misprints[..] else {
        panic!("one misprint")
    };
    assert_eq!(misprint.point, lines.body.points[i].id);
    assert_eq!(misprint.slips[0].words(), "copied from STA 68");
    assert!(
        (misprint.slips[0].mm - right.mm).abs() < 2.0,
        "{misprint:?}"
    );
}

#[test]
fn a_half_breadth_exchanged_with_its_height_is_said_so_and_put_right_with_it() {
    for label in ["18", "68", "112"] {
        let mut lines = put_right();
        let at = on_the_sheet(&lines, label, "joint");
        let id = lines.body.points[at].id;
        let reading = &mut lines.body_mut().points[at].readings[0];
        let read = [&reading.half_breadth, &reading.height].map(|r| r.as_ref().unwrap().mm);
        let typed = [&reading.half_breadth, &reading.height].map(|r| r.clone().unwrap().typed);
        core::mem::swap(&mut reading.half_breadth, &mut reading.height);
        let found = suspects(&lines);
        tell(&format!("joint of {label} exchanged"), &lines, &found);
        let misprint = found.misprints.iter().find(|m| m.point == id).unwrap();
        let slip = &misprint.slips[0];
        assert_eq!(slip.words(), "half-breadth and height changed places");
        assert_eq!(slip.typed, typed.join(" / "));
        let [half_breadth, height] = misprint.put_right(slip);
        assert_eq!([half_breadth, height], read.map(Some));
        assert_eq!(found.misprints.len(), 1);
        let edit = BodyEdit::PutRight {
            point: id,
            reading: misprint.reading,
            half_breadth,
            height,
        };
        assert_eq!(suspects(&lines.apply(&edit).unwrap()).misprints, []);
    }
    // Points of no line, on bodies made at random; in most the section turns back for it.
    let (mut named, mut said) = (0, 0);
    for seed in 7000..7040 {
        let mut read = made(seed);
        let (stations, dice) = (read.table.len(), &mut read.dice);
        let station = 1 + dice.below(stations - 2);
        let round = &mut read.table[station].1;
        let place = 1 + dice.below(round.len() - 2);
        let [y, z] = round[place].1;
        round[place].1 = [z, y];
        let point = PointId(u32::try_from(number(&read.table, station, place)).unwrap());
        let lines = read.body.lines(&read.table);
        let found = suspects(&lines);
        let misprint = found.misprints.iter().find(|m| m.point == point);
        named += usize::from(misprint.is_some());
        let slip = misprint.and_then(|m| Some(m.put_right(m.slips.first()?)));
        let right = slip == Some([Some(y), Some(z)]);
        said += usize::from(right);
        if !right || found.misprints.len() > 1 {
            tell(
                &format!("{seed}: {y} {z} at {}", lines.body.point_name(point)),
                &lines,
                &found,
            );
        }
    }
    println!("exchanged half-breadths and heights of 40: {named} named, {said} said so");
    assert!(named == 40 && said >= 38);
}

fn place(lines: &Lines, number: usize) -> PointId {
    lines.body.points[number].id
}

fn suboff() -> (Table, Body) {
    let foot = 304.8;
    let stations = [
        0.05, 0.15, 0.3, 0.5, 0.75, 1.0, 1.35, 1.7, 2.1, 2.5, 2.9, 3.333_333, 3.8, 4.5, 5.5, 7.0,
        8.5, 9.5, 10.1, 10.645_833, 11.0, 11.4, 11.8, 12.2, 12.6, 13.0, 13.3, 13.6, 13.8,
        13.979_167, 14.1, 14.2, 14.26,
    ];
    let table = stations
        .iter()
        .map(|x| {
            let r = foot * suboff_radius(*x);
            let point = |i: u32| {
                let a = PI * f64::from(i) / 12.0;
                match i {
                    0 => (On::Crown, [0.0, AXIS + r]),
                    12 => (On::Keel, [0.0, AXIS - r]),
                    _ => (On::Free, [r * a.sin(), AXIS + r * a.cos()]),
                }
            };
            (x * foot, (0..=12).map(point).collect())
        })
        .collect();
    let tip = |x: f64| End::Tip {
        x,
        height: AXIS,
        form: Tip::Blunt,
    };
    let body = Body {
        tolerance: 0.05,
        ends: Ends {
            fore: tip(0.0),
            aft: tip(14.291_667 * foot),
        },
        crown: Peak::Smooth,
        keel: Peak::Smooth,
        run_lines: Vec::new(),
    };
    (table, body)
}

/// What came of faults planted one at a time over a hull.
struct Planted {
    found: usize,
    of: usize,
    /// What else was named.
    wrong: usize,
    /// The places where a fault was not named: station and place round the girth, by number.
    missed: Vec<[usize; 2]>,
}

/// Plants faults one at a time over a hull, at every so many places.
///
/// Each takes a search of the whole hull, which a fault planted beside another would not show apart: so these tests are long.
fn planted(name: &str, (table, body): &(Table, Body), every: usize, size: f64) -> Planted {
    let lines = body.lines(table);
    let found = suspects(&lines);
    tell(name, &lines, &found);
    assert!(found.misprints.is_empty() && found.dents.found.is_empty());
    let count = table.len();
    let places = (0..count).flat_map(|s| (0..table[s].1.len()).map(move |p| (s, p)));
    let places: Vec<(usize, usize)> = places.skip(every / 2).step_by(every).collect();
    let one = |k: usize| {
        let (station, at) = places[k];
        let mut table = table.clone();
        let points = &mut table[station].1;
        let [before, after] = [at.saturating_sub(1), (at + 1).min(points.len() - 1)];
        let (a, b) = (points[before].1, points[after].1);
        let level = (b[0] - a[0]).abs() > (b[1] - a[1]).abs();
        let centre = matches!(points[at].0, On::Crown | On::Keel);
        let by = if k.is_multiple_of(2) { size } else { -size };
        points[at].1[usize::from(level || centre)] += by;
        let point = place(&lines, number(&table, station, at));
        let lines = body.lines(&table);
        let found = suspects(&lines);
        let named = found.misprints.iter().any(|m| m.point == point);
        let wrong = found.misprints.len() - usize::from(named) + found.dents.found.len();
        if !named || wrong > 0 {
            let what = format!(
                "{name}, station {station} of {count}, place {at} of {}: {by} mm at {}",
                table[station].1.len(),
                lines.body.point_name(point)
            );
            tell(&what, &lines, &found);
        }
        (k, named, wrong)
    };
    let run = |from: usize| (from..places.len()).step_by(2).map(one).collect::<Vec<_>>();
    let all = std::thread::scope(|scope| {
        let first = scope.spawn(|| run(0));
        let second = run(1);
        [first.join().unwrap(), second].concat()
    });
    let mut missed: Vec<usize> = all.iter().filter(|one| !one.1).map(|one| one.0).collect();
    missed.sort_unstable();
    let out = Planted {
        found: all.len() - missed.len(),
        of: all.len(),
        wrong: all.iter().map(|one| one.2).sum(),
        missed: missed.iter().map(|k| places[*k].into()).collect(),
    };
    println!(
        "{name}: found {} of {}, false {}, missed at {:?}",
        out.found, out.of, out.wrong, out.missed
    );
    out
}

#[test]
fn a_wigley_hull_has_no_suspect_but_what_is_planted() {
    // Wigley's formula (1942), exact to the last digit.
    let planted = planted("Wigley", &wigley(), 7, 9.0);
    assert!(planted.missed.is_empty() && planted.wrong == 0);
}

#[test]
fn a_series_60_hull_has_no_suspect_and_shows_most_of_what_is_planted() {
    // Todd, Series 60, DTMB Report 1712 (1963); see tests/reference.rs.
    let hull = series_60();
    let planted = planted("Series 60", &hull, 7, 9.0);
    let (table, _) = &hull;
    assert!(planted.found * 10 >= planted.of * 8 && planted.wrong == 0);
    let causes = planted.missed.iter().map(|[station, place]| {
        let (x, points) = &table[*station];
        let [y, z] = points[*place].1;
        let cause = match station {
            // The stem: a line of no breadth, held on one side only.
            0 => Some("the first station"),
            // From 7125 on the lower half of each section is a skeg of 5 to 40 mm, and the counter above it stands out.
            22.. => Some("the skeg and counter at the last stations"),
            // Between the side and the level bottom, where a section turns within two readings.
            _ if (z - AXIS - 30.0).abs() < 1e-9 => Some("the turn of the bilge"),
            _ => None,
        };
        println!(
            "  missed at STA {x}, half-breadth {y:.0}, {:.0} up: {cause:?}",
            z - AXIS
        );
        cause
    });
    assert!(causes.collect::<Vec<_>>().iter().all(Option::is_some));
}

#[test]
fn a_suboff_hull_has_no_suspect_and_shows_all_that_is_planted() {
    // Groves, Huang and Chang, DTRC/SHD-1298-01 (1989); see tests/reference.rs.
    let planted = planted("SUBOFF", &suboff(), 23, 9.0);
    assert!(planted.missed.is_empty() && planted.of == 19 && planted.wrong == 0);
}
