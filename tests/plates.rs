//! Bodies of crown, knuckles and keel, whose plates nothing was read of: they are flat, and keep to their readings.
//!
//! Third derivatives leave open how a plate bulges between two breaks of the tangent. What is reached is printed
//! (`cargo test --test plates -- --nocapture`).
#![expect(
    clippy::unwrap_used,
    clippy::disallowed_methods,
    clippy::print_stdout,
    reason = "a test ends at its first fault and says what it measured, by the platform's own functions"
)]

use geometry::document::{Crossing, LOFT_METHOD, Lines, On, Peak, RunKind, RunLine, RunLineId};
use geometry::loft::{Loft, LoftError};

#[expect(dead_code, reason = "other tests use the rest")]
#[path = "support/bodies.rs"]
mod bodies;
#[expect(dead_code, reason = "other tests use the rest")]
#[path = "support/hulls.rs"]
mod hulls;

use bodies::Dice;
use hulls::made;

/// The line of a knuckle.
fn knuckle(number: u32) -> On {
    On::RunLine(RunLineId(number))
}

/// Lines of a table with so many knuckles, lofted by a method.
fn lines(table: &made::Table, knuckles: u32, method: u32) -> Lines {
    let mut lines = made::made(table, 1.0);
    let body = lines.body_mut();
    body.method = method;
    body.run_lines = (0..knuckles)
        .map(|number| RunLine {
            id: RunLineId(number),
            name: format!("knuckle {number}"),
            kind: RunKind::Knuckle,
            joint: false,
        })
        .collect();
    lines
}

/// A body of two to eight stations with one to three knuckles: some steady, some with every station a body of its own, some
/// with knuckles that were not read everywhere.
fn random(seed: u64) -> Lines {
    let mut dice = Dice::of(seed);
    let stations = 2 + dice.below(7);
    let knuckles = 1 + u32::from(dice.roll() < 2.0 / 3.0) + u32::from(dice.roll() < 0.5);
    let (half, height) = (dice.between(30.0, 600.0), dice.between(60.0, 1200.0));
    let (unsteady, gaps) = (dice.roll() < 0.3, dice.roll() < 0.3);
    let [least, shake] = if unsteady { [0.3, 0.35] } else { [0.85, 0.1] };
    let mut x = dice.between(-500.0, 500.0);
    let mut table = made::Table::new();
    for station in 0..stations {
        let share = dice.between(least, 1.0);
        let mut points = vec![(On::Crown, [0.0, height * share])];
        for number in 0..knuckles {
            if gaps && station > 1 && dice.roll() < 0.3 {
                continue;
            }
            let parts = f64::from(knuckles + 1);
            let at = f64::from(number + 1) / parts;
            let bulge = (4.0 * at * (1.0 - at)).sqrt();
            let y = half * bulge * share * (1.0 + dice.between(-shake, shake));
            let z = height * ((1.0 - at) * share + dice.between(-shake, shake) / parts);
            points.push((knuckle(number), [y, z]));
        }
        points.push((On::Keel, [0.0, height * dice.between(-0.05, 0.05)]));
        table.push((x, points));
        x += dice.between(100.0, 900.0);
    }
    let mut lines = lines(&table, knuckles, 1 + u32::from(seed % 2 == 1));
    let peaked = || {
        vec![Crossing {
            to: None,
            form: Peak::Peaked,
        }]
    };
    if dice.roll() < 0.4 {
        lines.body_mut().centreline.crown = peaked();
    }
    if dice.roll() < 0.4 {
        lines.body_mut().centreline.keel = peaked();
    }
    lines
}

/// How many times as large as the box of its readings the skin is.
fn times_its_box(loft: &Loft) -> f64 {
    let read = loft.points().iter().map(|point| point.target);
    let (mut breadth, mut low, mut high) = (0.0_f64, f64::INFINITY, f64::NEG_INFINITY);
    for [y, z] in read {
        breadth = breadth.max(y);
        (low, high) = (low.min(z), high.max(z));
    }
    let surface = loft.surface();
    let ([from, to], round) = (
        [surface.u_knots().domain().0, surface.u_knots().domain().1],
        surface.v_knots().domain(),
    );
    let mut most = 0.0_f64;
    for i in 0..=30 {
        let row = surface.row(from + (to - from) * f64::from(i) / 30.0);
        for j in 0..=24 {
            let s = row
                .jet(round.0 + (round.1 - round.0) * f64::from(j) / 24.0)
                .s;
            let off = (s.z - f64::midpoint(low, high)).abs() / ((high - low) / 2.0);
            most = most.max(s.y.abs() / breadth).max(off);
        }
    }
    most
}

/// How many of some bodies were lofted, and refused for want of readings or as none; how large the largest was by its box.
fn tried(seeds: core::ops::Range<u64>) -> ([usize; 3], f64) {
    let (mut counts, mut largest) = ([0; 3], 0.0_f64);
    for seed in seeds {
        match Loft::build(&random(seed).body) {
            Ok(loft) => {
                counts[0] += 1;
                let times = times_its_box(&loft);
                assert!(times <= 2.0, "body {seed} is {times} times its box");
                largest = largest.max(times);
            }
            Err(LoftError::NotFixed) => counts[1] += 1,
            Err(_) => counts[2] += 1,
        }
    }
    (counts, largest)
}

#[test]
fn none_of_10_000_random_bodies_lofts_outside_twice_the_box_of_its_readings() {
    let parts = std::thread::scope(|scope| {
        let half = scope.spawn(|| tried(0..5_000));
        [tried(5_000..10_000), half.join().unwrap()]
    });
    let counts = [0, 1, 2].map(|k| parts.iter().map(|(counts, _)| counts[k]).sum::<usize>());
    let largest = parts
        .iter()
        .map(|(_, largest)| *largest)
        .fold(0.0, f64::max);
    println!(
        "of 10,000 bodies {} lofted, the largest {largest:.2} times its box; {} not fixed, {} no body",
        counts[0], counts[1], counts[2]
    );
    assert!(counts[0] > 9_500 && counts[1] < 100, "{counts:?}");
}

#[test]
fn a_diamond_between_two_stations_is_flat_and_carried() {
    for method in [1, LOFT_METHOD] {
        let round = || {
            vec![
                (On::Crown, [0.0, 100.0]),
                (knuckle(0), [45.0, 50.0]),
                (On::Keel, [0.0, 0.0]),
            ]
        };
        let table = vec![(0.0, round()), (500.0, round())];
        let loft = Loft::build(&lines(&table, 1, method).body).unwrap();
        let at_knuckle = loft.run_line_v(RunLineId(0)).unwrap();
        for i in 0..=20 {
            let row = loft.surface().row(loft.u_at(25.0 * f64::from(i)));
            for j in 0..=10 {
                let share = f64::from(j) / 10.0;
                let above = row.jet(at_knuckle * share).s;
                let below = row.jet(1.0 - (1.0 - at_knuckle) * share).s;
                for (at, z) in [(above, 100.0 - 50.0 * share), (below, 50.0 * share)] {
                    let off = (at.y - 45.0 * share).abs().max((at.z - z).abs());
                    assert!(off < 1e-3, "method {method}: {off} at {at}");
                }
            }
        }
        assert!(loft.carried().iter().all(|carried| *carried));
    }
}

/// Lines that bend along the body have flat plates between them too, within 0.01 mm.
#[test]
fn a_plate_between_bent_lines_is_straight_in_every_section() {
    let table: made::Table = (0..9)
        .map(|station| {
            let q = f64::from(station) / 8.0;
            let round = vec![
                (On::Crown, [0.0, 900.0 - 240.0 * q * q]),
                (
                    knuckle(0),
                    [300.0 - 130.0 * q * q * q, 700.0 - 220.0 * q * q],
                ),
                (knuckle(1), [380.0 - 210.0 * q * q, 250.0 + 60.0 * q]),
                (On::Keel, [0.0, 120.0 * q * q * q]),
            ];
            (q * 4000.0, round)
        })
        .collect();
    let loft = Loft::build(&lines(&table, 2, LOFT_METHOD).body).unwrap();
    let [a, b] = [0, 1].map(|number| loft.run_line_v(RunLineId(number)).unwrap());
    let mut worst = 0.0_f64;
    for i in 0..=80 {
        let row = loft.surface().row(loft.u_at(50.0 * f64::from(i)));
        for [from, to] in [[0.0, a], [a, b], [b, 1.0]] {
            let (first, last) = (row.jet(from).s, row.jet(to).s);
            for j in 1..10 {
                let share = f64::from(j) / 10.0;
                let at = row.jet(from + (to - from) * share).s;
                worst = worst.max((at - (first + (last - first) * share)).length());
            }
        }
    }
    println!("plates lie within {worst:.5} mm of straight");
    assert!(worst < 0.01, "{worst}");
    assert!(loft.residuals()[0] < 0.5, "{:?}", loft.residuals());
}

/// One reading inside a plate, at one station, says how it bulges: then it is as it ever was, and not flat.
#[test]
fn a_reading_inside_a_plate_bends_it() {
    let round = || {
        vec![
            (On::Crown, [0.0, 100.0]),
            (On::Free, [30.0, 82.0]),
            (knuckle(0), [45.0, 50.0]),
            (On::Free, [30.0, 18.0]),
            (On::Keel, [0.0, 0.0]),
        ]
    };
    let table = vec![(0.0, round()), (250.0, round()), (500.0, round())];
    let loft = Loft::build(&lines(&table, 1, LOFT_METHOD).body).unwrap();
    assert!(loft.residuals()[0] < 0.5, "{:?}", loft.residuals());
    let jet = loft.surface().jet(loft.u_at(250.0), 0.25);
    assert!(jet.across().abs() > 1e-3, "{}", jet.across());
}
