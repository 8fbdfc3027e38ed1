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
    End, Ends, Lines, On, Peak, PointId, RunKind, RunLine, RunLineId, Sense, TableOptions, Tip,
    read_table,
};
use geometry::fair::suspects::{Suspects, SuspectsError, find};
use geometry::fair::whole::fair_whole;
use geometry::loft::Loft;
use geometry::spline::Surface;

#[path = "support/hulls.rs"]
mod hulls;

use hulls::{AXIS, Body, Table, series_60, suboff_radius, wigley};

fn suspects(lines: &Lines) -> Suspects {
    find(lines, &|| false).unwrap()
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
            lines.point_name(m.point),
            if m.height { "height" } else { "half-breadth" },
            m.t,
            m.read,
            m.wanted.map(|w| (w.mm, w.sd)),
        );
    }
    for p in &found.patches {
        println!(
            "  {} of {} points, x {:.0} to {:.0}, {:.1} mm at {}",
            if p.hollow { "hollow" } else { "hump" },
            p.points.len(),
            p.from_x,
            p.to_x,
            p.largest,
            lines.point_name(p.worst)
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
    assert_eq!(lines.point_name(misprint.point), "STA 48, WL 32");
    assert!(!misprint.height && misprint.reading == 0);
    assert!(misprint.t < -25.0, "{}", misprint.t);
    assert_eq!(misprint.slips[0].typed, "1-3-2");
    assert_eq!(misprint.slips[0].words(), "inches and eighths exchanged");
    // 387.35 mm: the true value as the sheet rounds it.
    let wanted = misprint.wanted.unwrap();
    assert!((wanted.mm - 387.35).abs() < 1.6, "{wanted:?}");
    let [patch] = &found.patches[..] else {
        panic!("one hollow")
    };
    assert!(patch.hollow && patch.points.len() >= 5);
    assert!(lines.point_name(patch.worst).starts_with("STA 101"));
    let at = |label: &str| lines.station_by_label(label).unwrap().x;
    assert!(patch.from_x >= at("90") && patch.to_x <= at("112"));
    for id in &patch.points {
        let on = lines.point(*id).unwrap().on;
        let upper = ["WL 28", "WL 32", "WL 36", "WL 40", "WL 44", "crown"];
        assert!(!upper.contains(&lines.line_name(on).unwrap().as_str()));
    }
}

#[test]
fn a_misprint_put_right_is_no_longer_suspect() {
    let mut lines = demo();
    let id = suspects(&lines).misprints[0].point;
    let point = lines.points.iter_mut().find(|p| p.id == id).unwrap();
    point.readings[0].half_breadth.as_mut().unwrap().put_right = Some(15.25 * 25.4);
    assert_eq!(suspects(&lines).misprints, []);
    // Nor is one that is set aside.
    let point = lines.points.iter_mut().find(|p| p.id == id).unwrap();
    point.readings[0].half_breadth.as_mut().unwrap().put_right = None;
    point.readings[0].set_aside = Some("misprint".to_owned());
    assert_eq!(suspects(&lines).misprints, []);
}

#[test]
fn a_source_that_counts_downward_has_its_slip_in_its_own_count() {
    // The same sheet with its half-breadths counted inward from 30 1/2 in outboard, where 1-3-2 is 1-3-2 too.
    let mut lines = demo();
    let away = 30.5 * 25.4;
    for source in &mut lines.sources {
        source.datum.half_breadth.from = away;
        source.datum.half_breadth.sense = Sense::Against;
    }
    for reading in lines.points.iter_mut().flat_map(|p| &mut p.readings) {
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
    assert_eq!(find(&demo(), &|| true), Err(SuspectsError::Stopped));
    let asked = std::cell::Cell::new(0);
    let stop = || {
        asked.set(asked.get() + 1);
        asked.get() > 8
    };
    assert_eq!(find(&demo(), &stop), Err(SuspectsError::Stopped));
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
        assert!(found.misprints.is_empty() && found.patches.is_empty());
        let (j, k) = (table[6].1.len() / 2, table[11].1.len() / 4);
        table[6].1[j].1[0] += 9.0;
        table[11].1[k].1[1] -= 6.35;
        let lines = teardrop_body(1.0).lines(&table);
        let found = suspects(&lines);
        tell("  with two faults", &lines, &found);
        let at = |s: usize, j: usize| table[..s].iter().map(|(_, p)| p.len()).sum::<usize>() + j;
        let named: Vec<usize> = found.misprints.iter().map(|m| m.point.0 as usize).collect();
        assert_eq!(named, [at(6, j), at(11, k)], "{name}");
        assert!(found.patches.is_empty());
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
            let off = exact.windows(2).map(to).fold(f64::INFINITY, f64::min);
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
        let loft = Loft::build(&lines).unwrap();
        let proposal = fair_whole(&lines, &loft, &|| false).unwrap();
        let at = |s: usize, j: usize| table[..s].iter().map(|(_, p)| p.len()).sum::<usize>() + j;
        let past = proposal.moves.iter().filter(|m| m.is_past());
        let named: Vec<usize> = past.map(|m| m.point.0 as usize).collect();
        let faired = lines.apply(&proposal.edit(&[])).unwrap();
        let again = loft.again(&faired).unwrap();
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
    assert!(found.misprints.is_empty() && found.patches.is_empty());
    table[4].1[3].1[0] += 0.8;
    let lines = body.lines(&table);
    let found = suspects(&lines);
    tell("parabola", &lines, &found);
    let [misprint] = &found.misprints[..] else {
        panic!("one misprint")
    };
    assert_eq!(misprint.point, PointId(4 * 7 + 3));
    let correction = misprint.wanted.unwrap().mm - misprint.read;
    assert!((correction + 0.8).abs() < 0.1, "{correction}");
}

/// Numbers from 0 to 1, the same at every run.
struct Dice(u64);

impl Dice {
    fn roll(&mut self) -> f64 {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        f64::from((self.0 >> 33) as u32) / f64::from(1_u32 << 31)
    }

    fn between(&mut self, a: f64, b: f64) -> f64 {
        a + (b - a) * self.roll()
    }

    fn below(&mut self, n: usize) -> usize {
        let roll = self.roll();
        (1..n).filter(|k| roll * n as f64 >= *k as f64).count()
    }
}

/// A body in closed form: a distorted ellipse that narrows and rises aft, with or without a peak at its crown.
struct Shape {
    length: f64,
    half: f64,
    crown: [f64; 2],
    keel: [f64; 2],
    narrows: f64,
    tumble: f64,
    full: f64,
    peak: f64,
}

impl Shape {
    fn of(dice: &mut Dice) -> Self {
        let length = dice.between(2500.0, 9000.0);
        let half = length * dice.between(0.07, 0.14);
        let crown = [half * dice.between(0.9, 1.3), half * dice.between(0.1, 0.5)];
        let keel = half * dice.between(0.9, 1.2);
        // The keel rises, and leaves a third of the height aft at least.
        let rises = dice.between(0.2, 0.67) * (crown[0] + keel) - crown[1];
        // Aft it is half as wide as high at least, and one and a half times at most.
        let height = (crown[0] + keel - crown[1] - rises) / 2.0;
        let narrows = 1.0 - (height * dice.between(0.5, 1.5) / half).min(0.9);
        Self {
            length,
            half,
            crown,
            keel: [keel, rises],
            narrows,
            tumble: dice.between(0.0, 0.08),
            full: dice.between(0.0, 0.14),
            peak: if dice.roll() < 0.5 {
                0.0
            } else {
                dice.between(0.1, 0.3)
            },
        }
    }

    fn at(&self, x: f64, t: f64) -> [f64; 2] {
        let q = x / self.length;
        let b = self.half * (1.0 - self.narrows * q * q * (1.5 - 0.5 * q));
        let zc = AXIS + self.crown[0] - self.crown[1] * q * q;
        let zk = AXIS - self.keel[0] + self.keel[1] * q * q * (1.35 - 0.35 * q);
        let a = (zc - zk) / 2.0;
        let y = b * (t.sin() - self.tumble * q * (2.0 * t).sin());
        let z = f64::midpoint(zc, zk) + a * t.cos() + self.full * a * t.sin().powi(2)
            - self.peak * a * t.sin() * (1.0 + t.cos()) / 2.0;
        [y, z]
    }

    fn normal(&self, x: f64, t: f64) -> [f64; 2] {
        let (a, b) = (self.at(x, t - 1e-5), self.at(x, t + 1e-5));
        let (y, z) = (b[0] - a[0], b[1] - a[1]);
        let length = y.hypot(z);
        [-z / length, y / length]
    }
}

/// A fault that was planted: its point, and how far it is out.
struct Fault {
    point: usize,
    by: f64,
}

/// A body read at irregular stations and girths, with faults planted at two stations.
fn made(seed: u64, sizes: &[f64]) -> (Lines, Vec<Fault>) {
    let mut dice = Dice(seed);
    dice.roll();
    let shape = Shape::of(&mut dice);
    let noise = dice.between(0.4, 0.9);
    let count = 11 + dice.below(10);
    let mut table: Table = Vec::new();
    let mut normals = Vec::new();
    for s in 0..count {
        let jog = if s == 0 || s + 1 == count {
            0.0
        } else {
            dice.between(-0.3, 0.3)
        };
        let x = shape.length * (s as f64 + jog) / (count - 1) as f64;
        let n = 10 + dice.below(8);
        let mut points = Vec::new();
        for i in 0..=n {
            let end = i == 0 || i == n;
            let jog = if end { 0.0 } else { dice.between(-0.3, 0.3) };
            let t = PI * (i as f64 + jog) / n as f64;
            let [y, z] = shape.at(x, t);
            let read =
                |v: f64, dice: &mut Dice| ((v + dice.between(-noise, noise)) * 10.0).round() / 10.0;
            let on = match i {
                0 => On::Crown,
                _ if i == n => On::Keel,
                _ => On::Free,
            };
            let y = if end { 0.0 } else { read(y, &mut dice) };
            points.push((on, [y, read(z, &mut dice)]));
            normals.push(if end { [0.0, 1.0] } else { shape.normal(x, t) });
        }
        table.push((x, points));
    }
    let body = Body {
        tolerance: 1.25 * noise,
        ends: Ends::default(),
        crown: if shape.peak > 0.0 {
            Peak::Peaked
        } else {
            Peak::Smooth
        },
        keel: Peak::Smooth,
        run_lines: Vec::new(),
    };
    let mut faults = Vec::new();
    let mut stations = Vec::new();
    for size in sizes {
        let station = loop {
            let station = dice.below(count);
            if !stations.contains(&station) {
                break station;
            }
        };
        stations.push(station);
        let place = dice.below(table[station].1.len());
        let point = table[..station].iter().map(|(_, p)| p.len()).sum::<usize>() + place;
        let by = if dice.roll() < 0.5 { *size } else { -size };
        let height = usize::from(normals[point][1].abs() > normals[point][0].abs());
        table[station].1[place].1[height] += by;
        faults.push(Fault { point, by });
    }
    (body.lines(&table), faults)
}

/// Finds what was planted in some bodies; faults found by size, and false ones.
fn judged(seeds: core::ops::Range<u64>) {
    let sizes = [9.0, 3.175];
    let mut found = [0; 2];
    let mut wrong = 0;
    for seed in seeds.clone() {
        let (lines, faults) = made(seed, &sizes);
        let suspects = suspects(&lines);
        let named = |id: PointId| faults.iter().position(|f| f.point == id.0 as usize);
        let mut here = [false; 2];
        let mut false_here = suspects.patches.len();
        for m in &suspects.misprints {
            match named(m.point) {
                Some(k) => here[k] = true,
                None => false_here += 1,
            }
        }
        for k in 0..2 {
            found[k] += usize::from(here[k]);
        }
        wrong += false_here;
        println!(
            "{seed:4}: {:.0} mm, {} stations, {} points, sigma {:.2}, {here:?}, {false_here} false",
            lines.stations.last().unwrap().x,
            lines.stations.len(),
            lines.points.len(),
            suspects.sigma
        );
        if false_here > 0 || !here[0] {
            for f in &faults {
                println!(
                    "   planted {:.1} at {}",
                    f.by,
                    lines.point_name(PointId(u32::try_from(f.point).unwrap()))
                );
            }
            tell("  ", &lines, &suspects);
        }
    }
    println!("{seeds:?}: found {found:?} of 20 each, false {wrong}");
    assert!(found[0] >= 19, "9 mm: {} of 20", found[0]);
    assert!(found[1] >= 12, "an eighth: {} of 20", found[1]);
    assert!(wrong <= 1, "{wrong} false");
}

#[test]
fn what_is_planted_in_twenty_bodies_is_found() {
    judged(0..20);
}

#[test]
fn what_is_planted_in_twenty_more_bodies_is_found() {
    judged(20..40);
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

/// What is found of faults planted one at a time, and what else is named.
fn planted(name: &str, table: &Table, body: &Body, faults: &[(usize, usize, f64)]) -> [usize; 2] {
    let lines = body.lines(table);
    let found = suspects(&lines);
    tell(name, &lines, &found);
    assert!(found.misprints.is_empty() && found.patches.is_empty());
    let (mut right, mut wrong) = (0, 0);
    for (station, place, by) in faults {
        let mut table = table.clone();
        table[*station].1[*place].1[0] += by;
        let before: usize = table[..*station].iter().map(|(_, p)| p.len()).sum();
        let lines = body.lines(&table);
        let found = suspects(&lines);
        let is_it = |id: PointId| id.0 as usize == before + place;
        let named = found.misprints.iter().filter(|m| is_it(m.point)).count();
        println!(
            "{by} mm at {}: {named}",
            lines.point_name(PointId(u32::try_from(before + place).unwrap()))
        );
        tell("  ", &lines, &found);
        right += named;
        wrong += found.misprints.len() - named + found.patches.len();
    }
    println!("{name}: found {right} of {}, false {wrong}", faults.len());
    [right, wrong]
}

const FAULTS: [(usize, usize, f64); 5] = [
    (5, 4, 9.0),
    (9, 3, -9.0),
    (12, 4, 9.0),
    (14, 5, -9.0),
    (17, 5, 6.0),
];

#[test]
fn a_wigley_hull_has_no_suspect_but_what_is_planted() {
    // Wigley's formula (1942), exact to the last digit.
    let (table, body) = wigley();
    let [right, wrong] = planted("Wigley", &table, &body, &FAULTS);
    assert!(right >= 4 && wrong == 0);
}

#[test]
fn a_series_60_hull_has_no_suspect_and_shows_most_of_what_is_planted() {
    // Todd, Series 60, DTMB Report 1712 (1963); see tests/reference.rs. Not reached: 9 mm at the middle of its flat side,
    // which is laid to its two neighbours; 6 mm where the stern turns; and one good reading of the sharp skeg is named.
    let (table, body) = series_60();
    let [right, wrong] = planted("Series 60", &table, &body, &FAULTS);
    assert!(right >= 3 && wrong <= 3);
}

#[test]
fn a_suboff_hull_has_no_suspect_and_shows_most_of_what_is_planted() {
    // Not reached: two of the five, at its bow and towards its stern. Groves, Huang and Chang, DTRC/SHD-1298-01 (1989); see tests/reference.rs.
    let (table, body) = suboff();
    let [right, wrong] = planted("SUBOFF", &table, &body, &FAULTS);
    assert!(right >= 3 && wrong == 0);
}
