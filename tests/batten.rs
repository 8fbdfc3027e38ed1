//! A batten on bodies in closed form with dents that this file makes, and on the demo's table: what it moves, what it may not.
//!
//! What is reached is printed (`cargo test --test batten -- --nocapture`).
#![expect(
    clippy::unwrap_used,
    clippy::disallowed_methods,
    clippy::print_stdout,
    reason = "a test ends at its first fault and says what it measured, by the platform's own functions"
)]

use std::f64::consts::PI;

use geometry::document::{BodyEdit, Lines, Moved, On, Peak, TableOptions, read_table};
use geometry::fair::batten::{BattenOptions, lay_batten};
use geometry::fair::graph::Turns;
use geometry::fair::side_effects::{Worse, worse};
use geometry::fair::verdict::{Fairness, Judged, Verdict, judge, judged_lines};
use geometry::loft::Loft;

const ON: &dyn Fn() -> bool = &|| false;

/// The tear-drop of `data/teardrop/make.py`: half-breadth and height by distance aft and angle.
fn teardrop(x: f64, t: f64) -> [f64; 2] {
    let q = x / 4000.0;
    let b = 500.0 * (1.0 - 0.86 * q * q * (1.5 - 0.5 * q));
    let crown = 520.0 - 160.0 * q * q;
    let keel = -520.0 + 780.0 * q * q * (1.35 - 0.35 * q);
    let a = (crown - keel) / 2.0;
    let y = b * (t.sin() - 0.08 * q * (2.0 * t).sin());
    let z = f64::midpoint(crown, keel) + a * t.cos() + 0.12 * a * t.sin().powi(2)
        - 0.25 * a * t.sin() * (1.0 + t.cos()) / 2.0;
    [y, z]
}

/// Numbers from 0 to 1, the same at every run.
struct Dice(u64);

impl Dice {
    fn between(&mut self, a: f64, b: f64) -> f64 {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        a + (b - a) * f64::from((self.0 >> 33) as u32) / f64::from(1_u32 << 31)
    }
}

/// A dent: where, how deep, how long and how high, mm.
struct Dent {
    at: [f64; 2],
    depth: f64,
    size: [f64; 2],
}

/// The tear-drop read on waterlines 60 mm apart at fifteen of its stations, to within 1.6 mm, with a dent; of its bottom no
/// more than the keel.
fn dented(dent: &Dent) -> Lines {
    dented_and_read(dent, 12)
}

/// The same read on so many more waterlines than one.
fn dented_and_read(dent: &Dent, waterlines: u32) -> Lines {
    const STATIONS: [f64; 15] = [
        0.0, 220.0, 430.0, 700.0, 900.0, 1180.0, 1450.0, 1720.0, 1950.0, 2250.0, 2500.0, 2800.0,
        3050.0, 3300.0, 3560.0,
    ];
    let mut table = "STA (mm),crown".to_owned();
    let heights: Vec<f64> = (0..=waterlines)
        .map(|k| 420.0 - 60.0 * f64::from(k))
        .collect();
    for z in &heights {
        table += &format!(",WL {}", z + 1000.0);
    }
    table += ",keel\n";
    for x in STATIONS {
        table += &format!("{x},{:.4}", 1000.0 + teardrop(x, 0.0)[1]);
        for z in &heights {
            let (mut low, mut high) = (0.0, PI);
            if teardrop(x, low)[1] < z + 5.0 || teardrop(x, high)[1] > z - 5.0 {
                table += ",";
                continue;
            }
            for _ in 0..60 {
                let middle = f64::midpoint(low, high);
                if teardrop(x, middle)[1] > *z {
                    low = middle;
                } else {
                    high = middle;
                }
            }
            let [dx, dz] = [
                (x - dent.at[0]) / dent.size[0],
                (z - dent.at[1]) / dent.size[1],
            ];
            let y = teardrop(x, low)[0] - dent.depth * (-dx * dx - dz * dz).exp();
            table += &format!(",{y:.4}");
        }
        table += &format!(",{:.4}\n", 1000.0 + teardrop(x, PI)[1]);
    }
    let mut lines = read_table(table.as_bytes(), &TableOptions::default())
        .unwrap()
        .lines();
    for crossing in &mut lines.body_mut().centreline.crown {
        crossing.form = Peak::Peaked;
    }
    lines
}

/// The demo, its misprint put right.
fn demo() -> Lines {
    let path = format!("{}/tests/data/demo_offsets.csv", env!("CARGO_MANIFEST_DIR"));
    let bytes = std::fs::read(path).unwrap();
    let lines = read_table(&bytes, &TableOptions::default())
        .unwrap()
        .lines();
    let station = lines.body.station_by_label("48").unwrap().id;
    let right = BodyEdit::PutRight {
        point: lines
            .body
            .point_on(station, plane(&lines, "WL 32"))
            .unwrap()
            .id,
        reading: 0,
        half_breadth: Some(387.35), // 1-3-2
        height: None,
    };
    lines.apply(&right).unwrap()
}

fn plane(lines: &Lines, name: &str) -> On {
    let plane = lines.body.planes.iter().find(|plane| plane.name == name);
    On::Plane(plane.unwrap().id)
}

fn found(verdict: &Verdict) -> &Judged {
    verdict.judged.as_ref().unwrap()
}

/// What came of a batten that was taken whole.
struct Trial {
    before: Verdict,
    after: Verdict,
    worse: Vec<Worse>,
    /// The largest move of the skin, mm.
    largest: f64,
}

fn tried(lines: &Lines, loft: &Loft, (on, turns): (On, Option<Turns>)) -> Trial {
    let options = BattenOptions {
        turns,
        ..BattenOptions::default()
    };
    let batten = lay_batten(loft, on, &options, ON).unwrap();
    let taken = lines.apply(batten.proposal.edit(&[])).unwrap();
    let again = loft.again(&taken.body).unwrap();
    let turns = found(&batten.before).allowed_turns;
    let trial = Trial {
        after: judge(&again, on, Some(turns), ON).unwrap(),
        worse: worse(loft, &again, Some(on), ON).unwrap(),
        before: batten.before,
        largest: batten.proposal.largest,
    };
    let [was, is] = [&trial.before, &trial.after].map(|verdict| found(verdict).needed);
    let name = lines.body.line_name(on).unwrap();
    println!(
        "{name}: needs {was:.3}, then {is:.3} mm; the skin moves {:.3} mm",
        trial.largest
    );
    for worse in &trial.worse {
        let name = lines.body.line_name(worse.before.on).unwrap();
        let [was, is] = [&worse.before, &worse.after].map(|verdict| found(verdict).needed);
        println!("  worse: {name}, {was:.3} then {is:.3} mm");
    }
    trial
}

/// How far the skin moves outside a stretch at most, mm, where a batten over it is taken whole; that no accepted value there
/// changes by a bit is made sure of.
fn outside(lines: &Lines, on: On, stretch: [f64; 2]) -> f64 {
    let loft = Loft::build(&lines.body).unwrap();
    let options = BattenOptions {
        stretch: Some(stretch),
        ..BattenOptions::default()
    };
    let batten = lay_batten(&loft, on, &options, ON).unwrap();
    let taken = lines.apply(batten.proposal.edit(&[])).unwrap();
    let is_within = |x: f64| (stretch[0]..=stretch[1]).contains(&x);
    let (mut within, mut beside) = (0, 0);
    for (was, is) in lines.body.points.iter().zip(&taken.body.points) {
        let bits = |value: Option<f64>| value.map(f64::to_bits);
        let same = bits(was.accepted_half_breadth) == bits(is.accepted_half_breadth)
            && bits(was.accepted_height) == bits(is.accepted_height);
        if is_within(lines.body.station(was.station).unwrap().x) {
            within += usize::from(!same);
        } else {
            assert!(same, "{}", lines.body.point_name(was.id));
            beside += 1;
        }
    }
    assert!(within > 3 && beside > 20, "{within} {beside}");
    let again = loft.again(&taken.body).unwrap();
    let surfaces = [&loft, &again].map(Loft::surface);
    let [from, to] = loft.extent();
    let (mut most, mut inside) = ((0.0, 0.0), 0.0_f64);
    for k in 0..=400 {
        let x = from + (to - from) * f64::from(k) / 400.0;
        let [was, is] = surfaces.map(|s| s.row(loft.u_at(x)));
        for j in 0..=100 {
            let v = f64::from(j) / 100.0;
            let moved = (is.jet(v).s - was.jet(v).s).length();
            if is_within(x) {
                inside = inside.max(moved);
            } else if moved > most.0 {
                most = (moved, x);
            }
        }
    }
    println!(
        "{}, {stretch:.0?}: {within} values change within, the skin {inside:.2} mm; beside it {:.3} mm at {:.0}",
        lines.body.line_name(on).unwrap(),
        most.0,
        most.1
    );
    assert!(inside > 0.1, "{inside}");
    most.0
}

/// The net is one, and every reading has its say in all of it: so the skin gives a little beside the stretch, though what is
/// accepted there stays to the bit. Where nothing was read for a fifth of the girth it gives more, and so it does in the last
/// bay, which goes on as the two before it run.
#[test]
fn outside_its_window_a_batten_leaves_what_is_accepted_and_the_skin_where_they_are() {
    let lines = demo();
    let x = |label: &str| lines.body.station_by_label(label).unwrap().x;
    let beside = outside(&lines, On::Keel, [x("38"), x("146")]);
    assert!(beside < 0.12, "{beside}");
    let beside = outside(&lines, On::Keel, [x("68"), x("134")]);
    assert!(beside < 0.02, "{beside}");
    let dent = Dent {
        at: [1600.0, 120.0],
        depth: 6.0,
        size: [190.0, 140.0],
    };
    for (waterlines, most) in [(15, 0.25), (12, 0.6)] {
        let dented = dented_and_read(&dent, waterlines);
        let on = plane(&dented, "WL 1120");
        let beside = outside(&dented, on, [700.0, 2500.0]);
        assert!(beside < most, "{beside}");
    }
}

/// An independent program (`SciPy`, another solver) lost the two inflections of such a dent on a body like this, read
/// elsewhere, with a largest move of 0.64 mm.
#[test]
fn a_six_millimetre_dent_is_no_longer_hollow() {
    let lines = dented(&Dent {
        at: [1600.0, 120.0],
        depth: 6.0,
        size: [190.0, 140.0],
    });
    let loft = Loft::build(&lines.body).unwrap();
    let on = plane(&lines, "WL 1120");
    let hollow_only = Turns {
        inflections: 0,
        peaks: 3,
    };
    for turns in [Some(hollow_only), None] {
        let trial = tried(&lines, &loft, (on, turns));
        let [was, is] = [&trial.before, &trial.after].map(found);
        assert!(was.turns.inflections == 2 && was.without_hollows > 0.2);
        println!("{:.3} {:.3}", was.without_hollows, is.without_hollows);
        assert!(is.without_hollows < 0.06 && is.needed < 0.1 * was.needed);
        let most = if turns.is_some() { 0.12 } else { 0.2 };
        assert!((trial.largest - 0.64).abs() < most, "{}", trial.largest);
    }
}

#[test]
fn dents_at_random_are_lost_and_make_no_fair_line_unfair() {
    let mut dice = Dice(7);
    let mut deep = 0;
    for _ in 0..5 {
        let dent = Dent {
            at: [dice.between(900.0, 3000.0), dice.between(-150.0, 250.0)],
            depth: dice.between(2.0, 7.0),
            size: [dice.between(150.0, 400.0), dice.between(100.0, 250.0)],
        };
        let lines = dented(&dent);
        let loft = Loft::build(&lines.body).unwrap();
        let level = 1000.0 + (dent.at[1] / 60.0).round() * 60.0;
        let trial = tried(&lines, &loft, (plane(&lines, &format!("WL {level}")), None));
        assert_ne!(trial.after.fairness, Fairness::Unfair);
        let [was, is] = [&trial.before, &trial.after].map(|verdict| found(verdict).needed);
        if was > 0.5 {
            deep += 1;
            assert!(is < 0.1 * was, "{was} then {is}");
        }
        for worse in &trial.worse {
            assert!(
                worse.before.fairness == worse.after.fairness
                    || worse.after.fairness != Fairness::Unfair,
                "{worse:?}"
            );
        }
    }
    assert!(deep == 2, "{deep}");
}

#[test]
fn every_line_of_the_demo_comes_out_sweet_and_no_other_is_worse() {
    let lines = demo();
    let loft = Loft::build(&lines.body).unwrap();
    let mut count = 0;
    for on in judged_lines(&lines.body) {
        let verdict = judge(&loft, on, None, ON).unwrap();
        if verdict.judged.is_none() {
            continue;
        }
        count += 1;
        let trial = tried(&lines, &loft, (on, None));
        let [was, is] = [&trial.before, &trial.after].map(|verdict| found(verdict).needed);
        // A run line moves along the skin too, where the loft gives more of a move back.
        let run = matches!(on, On::RunLine(_));
        assert!(is < if run { 0.5 * was } else { 0.1 }, "{is}");
        assert!(trial.worse.is_empty(), "{:?}", trial.worse);
    }
    assert_eq!(count, 14);
}

/// What is worse is found: a reading pushed in makes its lines worse, whichever was moved.
#[test]
fn what_comes_out_worse_is_named() {
    let lines = demo();
    let loft = Loft::build(&lines.body).unwrap();
    let station = lines.body.station_by_label("68").unwrap().id;
    let on = plane(&lines, "WL 28");
    let point = lines.body.point_on(station, on).unwrap();
    let read = point.readings[0].half_breadth.as_ref().unwrap().mm;
    let place = point.accepted_half_breadth.unwrap_or(read);
    let pushed = BodyEdit::MoveAll(vec![Moved {
        point: point.id,
        half_breadth: Some(place - 6.0),
        height: None,
    }]);
    let then = lines.apply(&pushed).unwrap();
    let again = loft.again(&then.body).unwrap();
    let found = worse(&loft, &again, None, ON).unwrap();
    assert_eq!(found[0].before.on, on);
    assert_eq!(found[0].after.fairness, Fairness::Unfair);
    let besides = worse(&loft, &again, Some(on), ON).unwrap();
    assert_eq!(besides.len() + 1, found.len());
    assert_eq!(worse(&loft, &loft, None, ON), Ok(vec![]));
    assert!(worse(&loft, &again, None, &|| true).is_err());
}
