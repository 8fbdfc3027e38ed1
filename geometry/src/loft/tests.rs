//! The loft against a body in closed form, and against its own promises.
//!
//! The offsets are `tests/data/teardrop/*.csv`, made by `make.py` beside them; the bounds are a little above what an
//! independent program (`NumPy` and `SciPy`) reached on the same offsets.
#![expect(clippy::print_stdout, reason = "a test says what it measured")]

use super::*;
use crate::document::Lines;
use crate::document::{BodyEdit, Centreline, Crossing, Moved, Point};
use crate::made::{Table, made, recorded};

/// The tear-drop body of `make.py`.
fn truth(x: f64, t: f64) -> [f64; 2] {
    let q = x / 4000.0;
    let b = 500.0 * (1.0 - 0.86 * q * q * (1.5 - 0.5 * q));
    let (zc, zk) = (
        520.0 - 160.0 * q * q,
        -520.0 + 780.0 * q * q * (1.35 - 0.35 * q),
    );
    let a = (zc - zk) / 2.0;
    let (sin, cos) = (num::sin(t), num::cos(t));
    [
        b * (sin - 0.08 * q * num::sin(2.0 * t)),
        f64::midpoint(zc, zk) + a * cos + 0.12 * a * (1.0 - num::cos(2.0 * t)) / 2.0
            - 0.25 * a * sin * (1.0 + cos) / 2.0,
    ]
}

/// A document of stations with points from crown to keel.
pub(super) fn document(stations: &[(f64, Vec<[f64; 2]>)], tolerance: f64, crown: Peak) -> Lines {
    let round = |at: &[[f64; 2]]| {
        let on = |i: usize| match i {
            _ if i + 1 == at.len() => On::Keel,
            0 => On::Crown,
            _ => On::Free,
        };
        at.iter().enumerate().map(|(i, at)| (on(i), *at)).collect()
    };
    let table: Table = { stations.iter() }.map(|(x, at)| (*x, round(at))).collect();
    let mut lines = made(&table, tolerance);
    lines.body_mut().centreline = Centreline {
        crown: vec![Crossing {
            to: None,
            form: crown,
        }],
        keel: Vec::new(),
    };
    lines
}

fn teardrop(name: &str) -> Lines {
    let path = format!(
        "{}/../tests/data/teardrop/{name}.csv",
        env!("CARGO_MANIFEST_DIR")
    );
    let mut stations: Vec<(f64, Vec<[f64; 2]>)> = Vec::new();
    for line in std::fs::read_to_string(path).unwrap().lines().skip(1) {
        let [x, y, z] = line
            .split(',')
            .map(|n| n.parse().unwrap())
            .collect::<Vec<f64>>()[..]
        else {
            panic!("three columns")
        };
        match stations.last_mut() {
            Some((at, points)) if num::same(*at, x) => points.push([y, z]),
            _ => stations.push((x, vec![[y, z]])),
        }
    }
    document(&stations, 1.0, Peak::Peaked)
}

/// Largest and root mean square distance of the surface from the tear-drop.
fn deviation(surface: &Surface) -> [f64; 2] {
    let (mut largest, mut sum, mut n) = (0.0_f64, 0.0, 0.0);
    for k in 0..133 {
        let x = 20.0 + 30.0 * f64::from(k);
        let exact: Vec<[f64; 2]> = (0..=800)
            .map(|i| truth(x, core::f64::consts::PI * f64::from(i) / 800.0))
            .collect();
        let row = surface.row(surface.u_at(x));
        for i in 0..=200 {
            let at = row.jet(f64::from(i) / 200.0).s;
            let d = exact
                .windows(2)
                .map(|pair| {
                    let (dy, dz) = (pair[1][0] - pair[0][0], pair[1][1] - pair[0][1]);
                    let (py, pz) = (at.y - pair[0][0], at.z - pair[0][1]);
                    let share = ((py * dy + pz * dz) / (dy * dy + dz * dz)).clamp(0.0, 1.0);
                    let (ey, ez) = (py - share * dy, pz - share * dz);
                    ey * ey + ez * ez
                })
                .fold(f64::INFINITY, f64::min);
            largest = largest.max(d.sqrt());
            sum += d;
            n += 1.0;
        }
    }
    [largest, (sum / n).sqrt()]
}

/// Changes of sign of y″ along the waterline at a height, from x = 60 to `to`.
fn inflections(surface: &Surface, height: f64, to: f64) -> usize {
    let y: Vec<f64> = (0..)
        .map(|i| 60.0 + 10.0 * f64::from(i))
        .take_while(|x| *x < to)
        .map(|x| {
            let row = surface.row(surface.u_at(x));
            let (mut low, mut high) = (0.0, 1.0);
            for _ in 0..50 {
                let middle = f64::midpoint(low, high);
                if row.jet(middle).s.z > height {
                    low = middle;
                } else {
                    high = middle;
                }
            }
            row.jet(f64::midpoint(low, high)).s.y
        })
        .collect();
    let signs: Vec<bool> = y
        .windows(3)
        .map(|w| (w[0] - 2.0 * w[1] + w[2]) / 100.0)
        .filter(|k| k.abs() > 1e-7)
        .map(|k| k > 0.0)
        .collect();
    signs.windows(2).filter(|w| w[0] != w[1]).count()
}

#[test]
fn exact_offsets_give_the_body_back() {
    let loft = Loft::with_stiffness(&teardrop("exact").body, 1.0).unwrap();
    let [largest, mean] = deviation(loft.surface());
    println!("exact, stiffness 1: {largest:.3} / {mean:.4} mm");
    assert!(largest <= 0.15 && mean <= 0.02, "{largest} {mean}");
}

#[test]
fn a_stiff_loft_irons_out_noise_of_under_a_millimetre() {
    for seed in 1..=4 {
        let loft = Loft::with_stiffness(&teardrop(&format!("noise_{seed}")).body, 100.0).unwrap();
        let [largest, mean] = deviation(loft.surface());
        let bends = [(200.0, 3400.0), (120.0, 3000.0), (0.0, 2400.0)]
            .map(|(z, to)| inflections(loft.surface(), z, to));
        println!("noise, seed {seed}, stiffness 100: {largest:.3} / {mean:.3} mm, {bends:?}");
        assert!(
            mean <= 0.28 && largest <= 1.0,
            "seed {seed}: {largest} {mean}"
        );
        assert_eq!(bends, [0; 3], "seed {seed}");
    }
}

#[test]
fn the_lines_as_drawn_keep_to_the_readings() {
    let loft = Loft::with_stiffness(&teardrop("noise_1").body, 1.0).unwrap();
    let [largest, mean] = deviation(loft.surface());
    println!(
        "noise, stiffness 1: {largest:.3} / {mean:.3} mm, residuals {:?}",
        loft.residuals()
    );
    assert!(largest <= 1.7 && mean <= 0.40, "{largest} {mean}");
    assert!(loft.residuals()[0] < 0.55);
}

#[test]
fn writing_a_fair_surface_into_the_accepted_values_changes_it_by_less_than_a_twentieth() {
    let lines = teardrop("noise_1");
    let fair = Loft::with_stiffness(&lines.body, 200.0).unwrap();
    let mut accepted = lines.clone();
    for at in fair.points() {
        let s = fair.surface().position(at.u, at.v);
        let both = at.on == On::Free;
        let edit = BodyEdit::Move(Moved {
            point: at.point,
            half_breadth: both.then_some(s.y),
            height: Some(s.z),
        });
        accepted = accepted.apply(&edit).unwrap();
    }
    let again = Loft::with_stiffness(&accepted.body, 1.0).unwrap();
    let mut largest = 0.0_f64;
    for i in 0..=100 {
        let x = 40.0 * f64::from(i);
        for j in 0..=40 {
            let v = f64::from(j) / 40.0;
            let (a, b) = (fair.surface().jet(x, v), again.surface().jet(x, v));
            let n = section_normal(&a);
            largest = largest.max((n[0] * (b.s.y - a.s.y) + n[1] * (b.s.z - a.s.z)).abs());
        }
    }
    println!("accepted and lofted again: {largest:.4} mm");
    assert!(largest <= 0.05, "{largest}");
}

#[test]
fn a_drag_costs_one_solve_and_is_the_loft_built_anew() {
    let lines = teardrop("noise_1");
    let loft = Loft::build(&lines.body).unwrap();
    let moved = lines.body.points[40].clone();
    let from = lines.body.offset(&moved).unwrap().recorded;
    let edit = BodyEdit::Move(Moved {
        point: moved.id,
        half_breadth: Some(from[0] + 5.0),
        height: None,
    });
    let lines = lines.apply(&edit).unwrap();
    let again = loft.again(&lines.body).unwrap();
    assert!(again.shares_factor(&loft));
    let anew = Loft::build(&lines.body).unwrap();
    assert!(!anew.shares_factor(&loft));
    assert_eq!(again.check_code(), anew.check_code());
    assert_ne!(again.check_code(), loft.check_code());
}

#[test]
fn a_duck_holds_the_line_on_its_point() {
    let lines = teardrop("noise_1");
    let point = lines.body.points[40].id;
    let from = lines.body.offset(&lines.body.points[40]).unwrap().recorded;
    let pulled = lines
        .apply(BodyEdit::Move(Moved {
            point,
            half_breadth: Some(from[0] + 5.0),
            height: None,
        }))
        .unwrap();
    let residual = |lines: &Lines| {
        let loft = Loft::build(&lines.body).unwrap();
        loft.points()
            .iter()
            .find(|p| p.point == point)
            .unwrap()
            .residual
            .abs()
    };
    let held = pulled.apply(BodyEdit::PutDuck(point)).unwrap();
    println!(
        "a 5 mm pull: {:.3} mm off without a duck, {:.4} with",
        residual(&pulled),
        residual(&held)
    );
    assert!(residual(&held) <= 0.05);
}

#[test]
fn a_lower_shell_alone_is_as_true_as_the_whole() {
    // The same noise; everything above the widest place is left out, and the edge is a run line there.
    let mut lines = teardrop("noise_1");
    let joint = RunLine {
        id: RunLineId(0),
        name: "joint".to_owned(),
        kind: RunKind::Smooth,
        joint: true,
    };
    lines.body_mut().run_lines.push(joint);
    let stations = lines.body.stations.clone();
    let mut kept = Vec::new();
    for station in stations {
        let mut of: Vec<Point> = lines
            .body
            .points
            .iter()
            .filter(|p| p.station == station.id)
            .cloned()
            .collect();
        // The point nearest to t = π/2 becomes the joint's, put on the true line there.
        let [y, z] = truth(station.x, 1.4);
        let below: Vec<Point> = of
            .drain(..)
            .filter(|p| lines.body.offset(p).unwrap().recorded[1] < z - 20.0)
            .collect();
        let mut edge = below[0].clone();
        edge.id = PointId(1000 + station.id.0);
        edge.on = On::RunLine(RunLineId(0));
        edge.readings[0].half_breadth = Some(recorded(y));
        edge.readings[0].height = Some(recorded(z));
        kept.push(edge);
        kept.extend(below);
    }
    lines.body_mut().points = kept;
    let loft = Loft::with_stiffness(&lines.body, 100.0).unwrap();
    assert!(!loft.crown() && loft.keel() && !loft.closed());
    let [largest, mean] = deviation(loft.surface());
    println!("lower shell alone: {largest:.3} / {mean:.3} mm");
    assert!(mean <= 0.30 && largest <= 1.1, "{largest} {mean}");
}

#[test]
fn a_surface_keeps_its_conditions_on_the_centre_plane() {
    let loft = Loft::build(&teardrop("exact").body).unwrap();
    for i in 0..=80 {
        let u = 50.0 * f64::from(i);
        let (crown, keel) = (loft.surface().jet(u, 0.0), loft.surface().jet(u, 1.0));
        assert!(crown.s.y.abs() < 1e-12 && keel.s.y.abs() < 1e-12);
        assert!(
            crown.v.z.abs() > 0.15 * crown.v.length(),
            "the crown is peaked"
        );
        assert!(keel.v.z.abs() < 1e-6, "the keel is level");
    }
}

#[test]
fn a_station_that_shows_the_keel_side_only_is_carried_above() {
    let mut lines = teardrop("exact");
    let station = lines.body.stations[8].id;
    lines.body_mut().points.retain(|p| {
        p.station != station || lines_offset_z(p) < 0.0 // the crown side is lost
    });
    let loft = Loft::with_stiffness(&lines.body, 1.0).unwrap();
    let [largest, mean] = deviation(loft.surface());
    println!("half a station lost: {largest:.3} / {mean:.4} mm");
    assert!(largest < 0.6, "{largest}");
}

fn lines_offset_z(point: &Point) -> f64 {
    point.readings[0].height.as_ref().unwrap().mm
}

#[test]
fn a_gap_in_the_evidence_is_said_to_be_carried() {
    let mut lines = teardrop("exact");
    let whole = Loft::build(&lines.body).unwrap().carried();
    let gap: Vec<StationId> = lines.body.stations[6..11].iter().map(|s| s.id).collect();
    lines
        .body_mut()
        .points
        .retain(|p| !gap.contains(&p.station));
    let gapped = Loft::build(&lines.body).unwrap();
    let carried = gapped.carried();
    assert!(whole.iter().filter(|c| **c).count() * 10 < whole.len());
    let spans = gapped.surface().v_knots().span_count();
    let middle = gapped.surface().u_knots().span_at(1950.0);
    assert!(
        carried[middle * spans..(middle + 1) * spans]
            .iter()
            .all(|c| *c)
    );
}

/// A prolate spheroid, 5000 mm long and 800 across, to 10 mm of its blunt ends: crown, keel, and eleven points on no line
/// between them at 26 stations.
fn unnamed_spheroid(tolerance: f64) -> Lines {
    let section = |x: f64| {
        let radius = 400.0 * (1.0 - (x / 2500.0 - 1.0) * (x / 2500.0 - 1.0)).sqrt();
        let point = |n: u32| {
            let angle = core::f64::consts::PI * f64::from(n) / 12.0;
            let on = match n {
                0 => On::Crown,
                12 => On::Keel,
                _ => On::Free,
            };
            (on, [radius * num::sin(angle), radius * num::cos(angle)])
        };
        (x, (0..=12).map(point).collect())
    };
    let table = (0..26).map(|k| section(10.0 + 4980.0 * f64::from(k) / 25.0));
    made(&table.collect(), tolerance)
}

/// Nothing is carried of a body that was read all over, though no line is named, however well it was read and so however
/// slackly it is drawn; where stations, or a stretch of their girth, were not read, that is.
#[test]
fn points_on_no_line_are_readings_too() {
    let spans = |loft: &Loft| {
        let surface = loft.surface();
        (surface.u_knots().clone(), surface.v_knots().clone())
    };
    for tolerance in [0.05, 0.5, 3.0] {
        let lines = unnamed_spheroid(tolerance);
        let loft = Loft::build(&lines.body).unwrap();
        let carried = loft.carried().iter().filter(|c| **c).count();
        println!(
            "tolerance {tolerance}: stiffness {}, {carried} patches carried",
            loft.stiffness()
        );
        assert!(carried * 50 < loft.carried().len(), "{carried}");

        // Nothing read from STA 2002 to STA 2998.
        let mut gapped = lines.clone();
        let gap: Vec<StationId> = lines.body.stations[10..16].iter().map(|s| s.id).collect();
        { gapped.body_mut() }
            .points
            .retain(|p| !gap.contains(&p.station));
        let loft = Loft::build(&gapped.body).unwrap();
        let (u, v) = spans(&loft);
        let carried = loft.carried();
        let row = |x: f64| {
            let span = u.span_at(loft.u_at(x));
            &carried[span * v.span_count()..(span + 1) * v.span_count()]
        };
        assert!(row(2500.0).iter().all(|c| *c));
        assert!(row(1000.0).iter().all(|c| !*c) && row(4000.0).iter().all(|c| !*c));

        // There only the side from 45° to 135°, where five of the thirteen points were.
        let mut half = lines.clone();
        { half.body_mut() }
            .points
            .retain(|p| !gap.contains(&p.station) || !(4..=8).contains(&(p.id.0 % 13)));
        let loft = Loft::build(&half.body).unwrap();
        let (u, v) = spans(&loft);
        let carried = loft.carried();
        let at = |x: f64, share: f64| {
            carried[u.span_at(loft.u_at(x)) * v.span_count() + v.span_at(share)]
        };
        assert!(at(2500.0, 0.5) && !at(2500.0, 0.1) && !at(2500.0, 0.9) && !at(1000.0, 0.5));
    }
}

#[test]
fn a_knuckle_is_a_crease_and_only_there() {
    // A box-like section: a knuckle run line at (200, 0) between level deck-side and upright side.
    let mut stations = Vec::new();
    for i in 0..=10 {
        let x = 200.0 * f64::from(i);
        let b = 200.0 - x * x / 40_000.0;
        stations.push((
            x,
            vec![
                [0.0, 300.0],
                [b / 2.0, 300.0 - b / 20.0],
                [b, 300.0 - b / 5.0],
                [b, 150.0],
                [b * 0.8, 30.0],
                [0.0, 0.0],
            ],
        ));
    }
    let mut lines = document(&stations, 1.0, Peak::Smooth);
    lines.body_mut().run_lines.push(RunLine {
        id: RunLineId(0),
        name: "knuckle".to_owned(),
        kind: RunKind::Knuckle,
        joint: false,
    });
    for (i, point) in lines.body_mut().points.iter_mut().enumerate() {
        if i % 6 == 2 {
            point.on = On::RunLine(RunLineId(0));
        }
    }
    let loft = Loft::build(&lines.body).unwrap();
    let v = loft.run_line_v(RunLineId(0)).unwrap();
    let s = loft.surface();
    let knots = s.v_knots();
    for i in 1..20 {
        let u = 100.0 * f64::from(i);
        let before = s.jet_on(s.u_knots().span_at(u), knots.span_before(v), u, v);
        let after = s.jet(u, v);
        assert!((before.s - after.s).length() < 1e-9);
        let turn = before.v.normalize().dot(after.v.normalize());
        assert!(turn < 0.5, "{turn}");
    }
}

#[test]
fn what_is_no_loft_says_why() {
    let lines = teardrop("exact");
    let mut two = lines.clone();
    two.body_mut().points.retain(|p| p.station == StationId(3));
    assert_eq!(
        Loft::build(&two.body).unwrap_err(),
        LoftError::TooFewStations { stations: 1 }
    );
    let mut bare = lines.clone();
    bare.body_mut().points.retain(|p| p.on == On::Free);
    assert_eq!(
        Loft::build(&bare.body).unwrap_err(),
        LoftError::NoEdge { side: Side::Crown }
    );
    let mut one = lines.clone();
    one.body_mut()
        .points
        .retain(|p| p.station != StationId(3) || p.on == On::Keel);
    assert!(
        matches!(Loft::build(&one.body), Err(LoftError::TooFewPoints { station, points: 1 }) if station.name == "STA 700")
    );
    let mut newer = lines;
    newer.body_mut().method = 99;
    assert_eq!(
        Loft::build(&newer.body).unwrap_err(),
        LoftError::Method { method: 99 }
    );
}

/// The demo's long table as a document.
fn demo() -> Lines {
    let path = format!(
        "{}/../tests/data/demo_offsets.csv",
        env!("CARGO_MANIFEST_DIR")
    );
    crate::document::read_table(
        &std::fs::read(path).unwrap(),
        &crate::document::TableOptions::default(),
    )
    .unwrap()
    .lines()
}

#[test]
fn another_method_makes_the_loft_anew() {
    let by = |method| demo().apply(BodyEdit::SetMethod(method)).unwrap();
    let [first, second] = [1, 2].map(by);
    let loft = Loft::build(&first.body).unwrap();
    let again = loft.again(&second.body).unwrap();
    assert!(!again.shares_factor(&loft));
    assert_ne!(again.check_code(), loft.check_code());
    let anew = Loft::build(&second.body).unwrap();
    assert_eq!(again.check_code(), anew.check_code());
}

#[test]
fn the_demo_is_lofted_as_drawn() {
    let loft = Loft::build(&demo().body).unwrap();
    let [largest, mean] = loft.residuals();
    println!(
        "demo: stiffness {}, residuals {largest:.2} / {mean:.3} mm, net {} × {}",
        loft.stiffness(),
        loft.surface().u_knots().count(),
        loft.surface().v_knots().count()
    );
    let near = loft
        .points()
        .iter()
        .zip(demo().body.offsets().iter().flatten())
        .filter(|(p, o)| p.residual.abs() <= o.tolerance / 2.0)
        .count();
    println!("near {near} of {}", loft.points().len());
    assert!((loft.stiffness() - 1.0).abs() < 1e-12);
}

/// What was read on the centre plane alone is an outline: refused in words that say what is missing, and not by the mesh.
#[test]
fn a_body_without_a_half_breadth_is_refused_in_words() {
    let flat = |x: f64| {
        let round = vec![
            (On::Crown, [0.0, 100.0]),
            (On::Free, [0.0, 60.0]),
            (On::Keel, [0.0, 0.0]),
        ];
        (x, round)
    };
    let lines = made(&vec![flat(0.0), flat(500.0), flat(900.0)], 1.0);
    let fault = Loft::build(&lines.body).unwrap_err();
    assert_eq!(fault, LoftError::NoBreadth);
    assert!(fault.to_string().contains("Add half-breadths"), "{fault}");
    let lineless = made(
        &vec![
            (0.0, vec![(On::Crown, [0.0, 100.0]), (On::Keel, [0.0, 0.0])]),
            (
                500.0,
                vec![(On::Crown, [0.0, 90.0]), (On::Keel, [0.0, 5.0])],
            ),
        ],
        1.0,
    );
    assert_eq!(
        Loft::build(&lineless.body).unwrap_err(),
        LoftError::NoBreadth
    );
}

/// A thousand times as many names as a table has are made in one walk, each as it is made alone.
#[test]
fn all_points_are_named_at_once_as_one_by_one() {
    let lines = teardrop("exact");
    let names = lines.body.point_names();
    assert_eq!(names.len(), lines.body.points.len());
    for (id, name) in names {
        assert_eq!(name, lines.body.point_name(id));
    }
}
