//! The net of a law against the law itself, and against bodies in closed form.
#![expect(clippy::print_stdout, reason = "a test says what it measured")]

use super::*;
use crate::document::Lines;
use crate::document::body::law::tests::{Ruling, body};
use crate::document::{BodyEdit, End, Ends, Moved, PointId, StationId, Tip};
use crate::loft::Loft;
use crate::made::{Table, made};
use crate::spline::measure;

const CIRCLE: f64 = core::f64::consts::SQRT_2 - 1.0;

fn stations(count: u32, length: f64) -> Vec<f64> {
    (0..count)
        .map(|i| length * f64::from(i) / f64::from(count - 1))
        .collect()
}

fn numbers(upper: f64, lower: f64) -> [Shoulder; 2] {
    [Shoulder::Rho(upper), Shoulder::Rho(lower)]
}

fn lines_of_shoulders() -> [Shoulder; 2] {
    [0, 2].map(|id| Shoulder::Line(RunLineId(id)))
}

fn control_lines(loft: &Loft) -> &ControlLines {
    let super::super::Made::ByLaw(control_lines) = &loft.made else {
        panic!("given by law")
    };
    control_lines
}

/// How far a surface lies off its law at most, at a dense sample that is not that of the fit; and how far its tangent leans
/// at crown, breadth and keel, as a sine.
fn off(loft: &Loft) -> [f64; 2] {
    let (control_lines, surface) = (control_lines(loft), loft.surface());
    let (first, last) = surface.u_knots().domain();
    let (mut most, mut lean) = (0.0_f64, 0.0_f64);
    for i in 1..=331 {
        let u = first + (last - first) * f64::from(i) / 332.0;
        let quarters = [0, 1].map(|k| control_lines.quarter(k, u).unwrap().unwrap());
        for j in 0..=700 {
            let v = f64::from(j) / 700.0;
            let at = surface.jet(u, v).s;
            let quarter = &quarters[usize::from(v > 0.5)];
            most = most.max(quarter.conic.distance([at.y, at.z]));
        }
        let breadth = surface.v_knots().span_at(0.5);
        for (span, v, upright) in [
            (0, 0.0, false),
            (breadth - 1, 0.5, true),
            (breadth, 0.5, true),
            (surface.v_knots().span_count() - 1, 1.0, false),
        ] {
            let jet = surface.row(u).jet_on(span, v);
            let part = if upright { jet.v.y } else { jet.v.z };
            lean = lean.max(part.abs() / jet.v.length());
        }
    }
    [most, lean]
}

/// A quadrant of 500 × 550 mm, for five ρ. The spans wanted are those of an independent program (`NumPy` and `SciPy`) for
/// 0.01 mm: 8 up to 0.55, 12 at 0.7, 16 at 0.8.
#[test]
fn the_net_follows_quadrants_of_any_fullness() {
    for (rho, wanted) in [(0.3, 8), (CIRCLE, 8), (0.55, 8), (0.7, 12), (0.8, 16)] {
        let lines = body(&stations(5, 2000.0), 0.2, numbers(rho, rho), |_| Ruling {
            crown: 1200.0,
            breadth: [500.0, 650.0],
            keel: 100.0,
            shoulders: [None; 2],
        });
        let loft = Loft::build(&lines.body).unwrap();
        let [most, lean] = off(&loft);
        let spans = loft.surface().v_knots().span_count() / 2;
        println!("ρ {rho:.3}: {most:.5} mm with {spans} spans, lean {lean:.1e}");
        assert!(most <= num::FIT, "ρ {rho}: {most} mm");
        assert!(spans <= wanted, "ρ {rho}: {spans} spans");
        assert!(lean < 1e-12, "ρ {rho}: {lean:e}");
    }
}

/// Crown, breadth and keel swing, both shoulders are lines.
fn swinging(tolerance: f64) -> Lines {
    let x: Vec<f64> = stations(17, 4000.0);
    body(&x, tolerance, lines_of_shoulders(), |x| {
        let q = x / 4000.0;
        let crown = 1100.0 - 260.0 * q * q + 40.0 * num::sin(5.0 * q);
        let keel = 80.0 + 330.0 * q * q;
        let breadth = [420.0 - 300.0 * q * q * q, 560.0 + 60.0 * num::sin(3.0 * q)];
        let shoulder = |quadrant: Quadrant, height: f64, rho: f64, t: f64| {
            Some(Conic::new(quadrant.corner(height, breadth), rho).at(t))
        };
        Ruling {
            crown,
            breadth,
            keel,
            shoulders: [
                shoulder(Quadrant::Upper, crown, 0.42 + 0.2 * q, 0.5 - 0.1 * q),
                shoulder(Quadrant::Lower, keel, 0.62 - 0.25 * q, 0.45 + 0.1 * q),
            ],
        }
    })
}

#[test]
fn the_net_follows_control_lines_that_swing_and_passes_through_its_points() {
    let loft = Loft::build(&swinging(0.2).body).unwrap();
    let [most, lean] = off(&loft);
    let [largest, mean] = loft.residuals();
    let net = [
        loft.surface().u_knots().count(),
        loft.surface().v_knots().count(),
    ];
    println!(
        "swinging: {most:.5} mm off, residuals {largest:.4} / {mean:.4} mm, net {net:?}, stiffness {}",
        loft.stiffness()
    );
    assert!(most <= num::FIT && lean < 1e-10, "{most} mm, {lean:e}");
    // Within half the readings' tolerance, as any loft as drawn.
    assert!(largest < 0.1, "{largest} mm");
    assert_eq!(loft.points().len(), 17 * 5);
    // Shoulders are lines of constant v.
    let [(_, upper), (_, breadth), (_, lower)] = loft.run_lines() else {
        panic!("three")
    };
    assert!(
        (upper - 0.25).abs() < 1e-12
            && (breadth - 0.5).abs() < 1e-12
            && (lower - 0.75).abs() < 1e-12
    );
    let rho = loft.rho(2000.0).unwrap();
    assert!(
        (rho[0] - 0.52).abs() < 0.003 && (rho[1] - 0.495).abs() < 0.003,
        "{rho:?}"
    );
    assert!(loft.carried().iter().all(|carried| !carried));
}

/// Circles of one radius all along: curvature 1/R across and none along, volume π R² L.
#[test]
fn a_body_of_circles_is_a_cylinder() {
    const R: f64 = 500.0;
    let lines = body(&stations(6, 3000.0), 0.2, numbers(CIRCLE, CIRCLE), |_| {
        Ruling {
            crown: 600.0 + R,
            breadth: [R, 600.0],
            keel: 600.0 - R,
            shoulders: [None; 2],
        }
    });
    let loft = Loft::build(&lines.body).unwrap();
    let volume = measure(loft.surface()).volume / (core::f64::consts::PI * R * R * 3000.0) - 1.0;
    let mut worst = [0.0_f64; 3];
    for i in 0..=60 {
        for j in 0..=400 {
            let jet = loft
                .surface()
                .jet(50.0 * f64::from(i), f64::from(j) / 400.0);
            let radius = num::hypot(jet.s.y, jet.s.z - 600.0) - R;
            let all = [radius, -jet.across() * R - 1.0, jet.along() * R];
            worst = core::array::from_fn(|k| worst[k].max(all[k].abs()));
        }
    }
    println!(
        "cylinder: radius {:.5} mm, curvature {:.2e} and {:.2e} of 1/R, volume {volume:.2e}",
        worst[0], worst[1], worst[2]
    );
    assert!(worst[0] <= num::FIT, "{worst:?}");
    assert!(worst[1] < 0.01 && worst[2] < 1e-9, "{worst:?}");
    assert!(volume.abs() < 1e-5, "{volume:e}");
}

/// A spheroid between tips, its sections circles: x along 2400 mm, radius 300 mm.
fn spheroid(form: Tip) -> Lines {
    let (a, b) = (1200.0, 300.0);
    let share = |i: u32| f64::from(i) / 20.0;
    // Stations closer towards the ends, as a loftsman lays them.
    let x: Vec<f64> = (1..20)
        .map(|i| a * (1.0 - num::cos(core::f64::consts::PI * share(i))))
        .collect();
    let mut lines = body(&x, 0.05, numbers(CIRCLE, CIRCLE), |x| {
        let r = b * (1.0 - (x / a - 1.0) * (x / a - 1.0)).sqrt();
        Ruling {
            crown: 500.0 + r,
            breadth: [r, 500.0],
            keel: 500.0 - r,
            shoulders: [None; 2],
        }
    });
    let tip = |x: f64| End::Tip {
        x,
        height: 500.0,
        form,
    };
    lines.body_mut().ends = Ends {
        fore: tip(0.0),
        aft: tip(2.0 * a),
    };
    assert_eq!(lines.first_fault(), None);
    lines
}

#[test]
fn a_spheroid_between_blunt_tips_has_its_volume() {
    let loft = Loft::build(&spheroid(Tip::Blunt).body).unwrap();
    let (a, b) = (1200.0_f64, 300.0_f64);
    let volume =
        measure(loft.surface()).volume / (4.0 / 3.0 * core::f64::consts::PI * a * b * b) - 1.0;
    let [most, _] = off(&loft);
    let (first, last) = loft.surface().u_knots().domain();
    let mut worst: f64 = 0.0;
    for i in 0..=200 {
        for j in 0..=40 {
            let u = first + (last - first) * f64::from(i) / 200.0;
            let at = loft.surface().jet(u, f64::from(j) / 40.0).s;
            let [x, r] = [at.x - a, num::hypot(at.y, at.z - 500.0)];
            // Distance from the spheroid to first order: its equation's excess over the gradient.
            let excess = x * x / (a * a) + r * r / (b * b) - 1.0;
            worst = worst.max((excess / (2.0 * num::hypot(x / (a * a), r / (b * b)))).abs());
        }
    }
    println!(
        "spheroid: {worst:.4} mm from the true one, {most:.5} mm from the law, volume {volume:.2e}"
    );
    assert!(most <= num::FIT, "{most} mm");
    assert!(worst < 0.2, "{worst} mm");
    assert!(volume.abs() < 2e-4, "{volume:e}");
}

#[test]
fn pointed_tips_are_points() {
    let x = stations(7, 1200.0);
    let mut lines = body(&x, 0.1, numbers(0.45, 0.5), |x| {
        let r = 100.0 + x / 4.0;
        Ruling {
            crown: 500.0 + r,
            breadth: [r, 500.0],
            keel: 500.0 - 0.8 * r,
            shoulders: [None; 2],
        }
    });
    lines.body_mut().ends.fore = End::Tip {
        x: -400.0,
        height: 500.0,
        form: Tip::Pointed,
    };
    assert_eq!(lines.first_fault(), None);
    let loft = Loft::build(&lines.body).unwrap();
    let [most, _] = off(&loft);
    // All lines are straight, so that the body is the cone of its last section.
    for j in 0..=20 {
        let v = f64::from(j) / 20.0;
        let tip = loft.surface().jet(loft.u_at(-400.0), v).s;
        assert!((tip.x + 400.0).abs() < 1e-9 && tip.y.abs() < 1e-9 && (tip.z - 500.0).abs() < 1e-9);
        let [middle, last] = [400.0, 1200.0].map(|x| loft.surface().jet(loft.u_at(x), v).s);
        assert!(
            (middle.y - last.y / 2.0).abs() < 2.0 * num::FIT,
            "{} for half of {}",
            middle.y,
            last.y
        );
    }
    println!("pointed: {most:.5} mm");
    assert!(most <= num::FIT, "{most} mm");
}

#[test]
fn a_drag_gives_what_building_anew_gives() {
    let lines = swinging(0.2);
    let loft = Loft::build(&lines.body).unwrap();
    let id = |on: On| lines.body.point_on(StationId(8), on).unwrap().id;
    for on in [
        On::Crown,
        On::RunLine(RunLineId(1)),
        On::RunLine(RunLineId(0)),
    ] {
        let at = lines
            .body
            .offset(lines.body.point(id(on)).unwrap())
            .unwrap()
            .accepted;
        let moved = Moved {
            point: id(on),
            half_breadth: None,
            height: Some(at[1] + 3.0),
        };
        let moved = lines.apply(BodyEdit::Move(moved)).unwrap();
        let again = loft.again(&moved.body).unwrap();
        assert!(again.shares_factor(&loft));
        let anew = Loft::build(&moved.body).unwrap();
        assert_eq!(again.check_code(), anew.check_code());
        assert_ne!(again.check_code(), loft.check_code());
        assert_eq!(again.points(), anew.points());
    }
    // Another ρ is another body.
    let mut law = lines.body.law.unwrap();
    law.lower = Shoulder::Rho(0.4);
    let other = loft
        .again(&lines.apply(BodyEdit::SetLaw(Some(law))).unwrap().body)
        .unwrap();
    assert!(!other.shares_factor(&loft));
    assert!(
        loft.again(&lines.apply(BodyEdit::SetLaw(None)).unwrap().body)
            .unwrap()
            .rho(0.0)
            .is_none()
    );
}

#[test]
fn points_beside_the_law_are_shown_with_how_far_they_lie_off() {
    const R: f64 = 500.0;
    let mut lines = body(&stations(6, 3000.0), 0.2, numbers(CIRCLE, CIRCLE), |_| {
        Ruling {
            crown: 600.0 + R,
            breadth: [R, 600.0],
            keel: 600.0 - R,
            shoulders: [None; 2],
        }
    });
    let bare = Loft::build(&lines.body).unwrap();
    let angles = [0.1, 0.9, 1.6, 2.4, 3.0_f64];
    for (n, angle) in (0..).zip(angles) {
        let mut point = lines.body.points[1].clone();
        point.id = PointId(1000 + n);
        point.on = On::Free;
        let r = R + 2.0 - f64::from(n);
        let [reading] = &mut point.readings[..] else {
            panic!("one")
        };
        for (recorded, mm) in [
            (&mut reading.half_breadth, r * num::sin(angle)),
            (&mut reading.height, 600.0 + r * num::cos(angle)),
        ] {
            recorded.as_mut().unwrap().mm = mm;
        }
        lines.body_mut().points.insert(2, point);
    }
    assert_eq!(lines.first_fault(), None);
    let loft = Loft::build(&lines.body).unwrap();
    assert_eq!(loft.check_code(), bare.check_code());
    let residual = |n: u32| {
        loft.points()
            .iter()
            .find(|p| p.point == PointId(1000 + n))
            .unwrap()
            .residual
    };
    for n in 0..5 {
        let wanted = 2.0 - f64::from(n);
        assert!(
            (residual(n) - wanted).abs() < 0.012,
            "{} for {wanted}",
            residual(n)
        );
    }
}

#[test]
fn a_law_is_followed_however_full_or_its_place_is_told() {
    for rho in [
        1e-12,
        1e-6,
        0.001,
        0.03,
        0.1,
        0.9,
        0.97,
        0.999,
        1.0 - 1e-6,
        1.0 - 1e-12,
    ] {
        let lines = body(&stations(4, 900.0), 0.2, numbers(rho, 0.4), |_| Ruling {
            crown: 900.0,
            breadth: [400.0, 500.0],
            keel: 100.0,
            shoulders: [None; 2],
        });
        match Loft::build(&lines.body) {
            Ok(loft) => {
                let [most, _] = off(&loft);
                assert!(most <= num::FIT, "ρ {rho}: {most} mm");
            }
            Err(LoftError::TooSharp { station, .. }) => {
                println!("ρ {rho} is refused at {station}");
                assert!(station.name.starts_with("STA") && !(0.001..=0.999).contains(&rho));
            }
            Err(other) => panic!("{other}"),
        }
    }
    // Shoulders that swing from chord to corner run past both between their stations.
    let wild = body(&stations(9, 900.0), 0.05, lines_of_shoulders(), |x| {
        let breadth = [400.0, 500.0];
        let rho = if num::sin(x / 50.0) > 0.0 { 0.97 } else { 0.03 };
        let on = |quadrant: Quadrant, height| {
            Some(Conic::new(quadrant.corner(height, breadth), rho).at(0.5))
        };
        Ruling {
            crown: 900.0,
            breadth,
            keel: 100.0,
            shoulders: [on(Quadrant::Upper, 900.0), on(Quadrant::Lower, 100.0)],
        }
    });
    let refused = Loft::build(&wild.body).unwrap_err();
    assert!(
        matches!(&refused, LoftError::NoRho { station, .. } if station.name.starts_with("STA")),
        "{refused}"
    );
}

#[test]
fn lines_of_a_law_are_judged_but_its_readings_are_neither_searched_nor_faired() {
    let lines = swinging(0.2);
    let loft = Loft::build(&lines.body).unwrap();
    let never = || false;
    for on in [
        On::Crown,
        On::RunLine(RunLineId(0)),
        On::RunLine(RunLineId(1)),
        On::Keel,
    ] {
        let verdict = crate::fair::verdict::judge(&loft, on, None, &never).unwrap();
        assert!(verdict.judged.is_some(), "{on:?}: {verdict:?}");
    }
    let by_law = |error: &dyn core::fmt::Display| {
        assert!(error.to_string().contains("conic law"), "{error}");
    };
    by_law(
        &crate::fair::suspects::find(&lines.body, crate::units::LengthUnit::Millimetres, &never)
            .unwrap_err(),
    );
    let Err(crate::fair::whole::NoProposal::NoLoft(refused)) =
        crate::fair::whole::fair_whole(&loft, &|_| false)
    else {
        panic!("refused")
    };
    by_law(&refused);
    // What was read of the skin's inside is moved out first.
    let mut inside = lines.clone();
    inside.body_mut().sources[0].surface = crate::document::SkinSide::Inside { thickness: 1.2 };
    let moved = Loft::build(&inside.body).unwrap();
    let [half_breadth, height] = moved.moved_out(
        lines
            .body
            .point_on(StationId(8), On::RunLine(RunLineId(1)))
            .unwrap()
            .id,
    );
    assert!(
        (half_breadth - 1.2).abs() < 1e-6 && height.abs() < 1e-6,
        "{half_breadth}, {height}"
    );
}

/// A station that shows one point only is no tip between others: square to the section it moves out by the skin.
#[test]
fn a_lone_reading_inside_the_skin_moves_out_too() {
    let mut lines = swinging(0.2);
    let loft = Loft::build(&lines.body).unwrap();
    let (before, behind) = (&lines.body.stations[8], &lines.body.stations[9]);
    let x = f64::midpoint(before.x, behind.x);
    let at = loft.surface().position(loft.u_at(x), 0.3);
    let table: Table = vec![(x, vec![(On::Free, [at.y, at.z])])];
    let mut lone = made(&table, 0.2);
    lone.body_mut().stations[0].id = StationId(1000);
    lone.body_mut().points[0].id = PointId(1000);
    lone.body_mut().points[0].station = StationId(1000);
    lines
        .body_mut()
        .stations
        .insert(9, lone.body_mut().stations.remove(0));
    lines.body_mut().points.extend(lone.body.points.clone());
    lines.body_mut().sources[0].surface = crate::document::SkinSide::Inside { thickness: 1.2 };
    let moved = Loft::build(&lines.body).unwrap().moved_out(PointId(1000));
    let by = num::hypot(moved[0], moved[1]);
    assert!((by - 1.2).abs() < 1e-6, "{moved:?}");
}
