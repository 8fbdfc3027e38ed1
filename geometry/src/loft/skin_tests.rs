//! Parallel surfaces against closed forms, against differences of points, and against the loft's own curvatures.
//!
//! The closed forms are bodies `(x(u), y(u) sin v, z(u) cos v)`: spheres, cylinders, cones, tori, ellipsoids.

use proptest::prelude::*;

use super::*;
use crate::spline::Knots;

const HALF_TURN: f64 = core::f64::consts::PI;

/// A function of `u` with three derivatives.
type Four = [f64; 4];

/// `a sin u` and `a cos u`.
fn sine(a: f64, u: f64) -> Four {
    let (s, c) = (a * num::sin(u), a * num::cos(u));
    [s, c, -s, -c]
}

fn cosine(a: f64, u: f64) -> Four {
    let (s, c) = (a * num::sin(u), a * num::cos(u));
    [c, -s, -c, s]
}

fn raised(mut f: Four, by: f64) -> Four {
    f[0] += by;
    f
}

/// Jet of `(x, y sin v, z cos v)`: `v` runs from crown to keel on starboard.
fn body(x: Four, y: Four, z: Four, v: f64) -> Jet {
    let (sin, cos) = (sine(1.0, v), cosine(1.0, v));
    let at = |a: usize, b: usize| {
        let x = if b == 0 { x[a] } else { 0.0 };
        DVec3::new(x, y[a] * sin[b], z[a] * cos[b])
    };
    Jet {
        s: at(0, 0),
        u: at(1, 0),
        v: at(0, 1),
        uu: at(2, 0),
        uv: at(1, 1),
        vv: at(0, 2),
        uuu: at(3, 0),
        uuv: at(2, 1),
        uvv: at(1, 2),
        vvv: at(0, 3),
    }
}

fn sphere(radius: f64, u: f64, v: f64) -> Jet {
    let round = sine(radius, u);
    body(cosine(-radius, u), round, round, v)
}

fn cylinder(radius: f64, u: f64, v: f64) -> Jet {
    let round = [radius, 0.0, 0.0, 0.0];
    body([u, 1.0, 0.0, 0.0], round, round, v)
}

/// A cone that opens going aft with this half angle, and what is parallel to it at `d`.
fn cone(half_angle: f64, d: f64, u: f64, v: f64) -> Jet {
    let (sin, cos) = (num::sin(half_angle), num::cos(half_angle));
    let round = [u * sin + d * cos, sin, 0.0, 0.0];
    body([u * cos - d * sin, cos, 0.0, 0.0], round, round, v)
}

fn torus(ring: f64, tube: f64, u: f64, v: f64) -> Jet {
    let round = raised(cosine(tube, u), ring);
    body(sine(tube, u), round, round, v)
}

fn ellipsoid([a, b, c]: [f64; 3], u: f64, v: f64) -> Jet {
    body(cosine(-a, u), sine(b, u), sine(c, u), v)
}

#[track_caller]
fn check_near(a: f64, b: f64, within: f64, what: &str) {
    assert!((a - b).abs() <= within, "{what}: {a} for {b}");
}

#[track_caller]
fn check_jet(jet: &SkinJet, exact: &Jet) {
    let pairs = [
        (jet.s, exact.s, "s"),
        (jet.u, exact.u, "u"),
        (jet.v, exact.v, "v"),
        (jet.uu, exact.uu, "uu"),
        (jet.uv, exact.uv, "uv"),
        (jet.vv, exact.vv, "vv"),
        (jet.normal, exact.normal(), "normal"),
    ];
    // Where a derivative is nothing, the size of what it is made of counts.
    let size = exact.s.length() + exact.u.length() + exact.v.length();
    for (is, exact, what) in pairs {
        let scale = exact
            .length()
            .max(if what == "normal" { 1.0 } else { size });
        assert!(
            (is - exact).length() <= 1e-11 * scale,
            "{what} {is} for {exact}"
        );
    }
}

const AT: [f64; 2] = [0.0; 2];

#[test]
fn what_is_parallel_to_a_sphere_a_cylinder_a_cone_or_a_torus_is_another() {
    for d in [-40.0, -1.2, -1e-6, 0.0, 0.8, 25.0] {
        for i in 1..20 {
            let (u, v) = (f64::from(i) * 0.15, f64::from(i) * 0.31 % HALF_TURN);
            let near = |loft: &Jet, exact: &Jet| {
                let jet = SkinJet::parallel(loft, AT, d).unwrap();
                check_jet(&jet, exact);
                let k = exact.principal().curvature;
                let size = k[0].abs().max(k[1].abs());
                for (is, k) in jet.principal.curvature.into_iter().zip(k) {
                    check_near(is, k, 1e-12 * size.max(1e-3), "k");
                }
            };
            near(&sphere(500.0, u, v), &sphere(500.0 + d, u, v));
            near(&cylinder(300.0, u, v), &cylinder(300.0 + d, u, v));
            near(
                &torus(700.0, 180.0, 2.0 * u, v),
                &torus(700.0, 180.0 + d, 2.0 * u, v),
            );
            let u = 100.0 + 200.0 * u;
            near(&cone(0.6, 0.0, u, v), &cone(0.6, d, u, v));
        }
    }
}

#[test]
fn a_helix_on_a_cylinder_twists_as_the_book_says() {
    // Radius r, a from the axis, going keelward: κn = −sin²a / r, κg = 0, τg = −sin a cos a / r.
    let (r, d) = (250.0, -1.2);
    for a in [-1.2, -0.3, 0.0, 0.7, 1.5] {
        let (sin, cos) = (num::sin(a), num::cos(a));
        let jet = SkinJet::parallel(&cylinder(r, 40.0, 1.1), AT, d).unwrap();
        let frame = jet
            .frame([3.0 * cos, 3.0 * sin / (r + d)], [0.0; 2])
            .unwrap();
        check_near(frame.speed, 3.0, 1e-12, "speed");
        check_near(frame.normal_curvature, -sin * sin / (r + d), 1e-15, "κn");
        check_near(frame.geodesic_curvature, 0.0, 1e-15, "κg");
        check_near(frame.geodesic_torsion, -sin * cos / (r + d), 1e-15, "τg");
        // On starboard, with T aft, U points to the keel; what runs keelward turns the normal down.
        assert!(frame.across.z < 0.0 && frame.tangent.x > 0.0);
        assert!((frame.across - frame.normal.cross(frame.tangent)).length() < 1e-15);
        let port = jet
            .mirrored()
            .frame([3.0 * cos, 3.0 * sin / (r + d)], [0.0; 2]);
        let port = port.unwrap();
        check_near(
            port.normal_curvature,
            frame.normal_curvature,
            0.0,
            "κn on port",
        );
        check_near(
            port.geodesic_torsion,
            -frame.geodesic_torsion,
            1e-18,
            "τg on port",
        );
        assert!(port.normal.y < 0.0 && port.across.z > 0.0);
    }
}

#[test]
fn a_small_circle_of_a_sphere_bends_in_the_skin_by_its_cone() {
    // At the angle u from the fore tip, running keelward: U = N × T points fore, to the circle's own side while u < π/2.
    for (radius, d) in [(400.0, 0.0), (400.0, -2.0)] {
        for u in [0.2, 1.0, HALF_TURN / 2.0, 2.4] {
            let jet = SkinJet::parallel(&sphere(radius, u, 0.9), AT, d).unwrap();
            let frame = jet.frame([0.0, 1.0], [0.0; 2]).unwrap();
            let k = 1.0 / (radius + d);
            check_near(frame.normal_curvature, -k, 1e-15, "κn");
            check_near(frame.geodesic_torsion, 0.0, 1e-15, "τg");
            let expect = k * num::cos(u) / num::sin(u);
            check_near(frame.geodesic_curvature, expect, 1e-14, "κg");
            let port = jet.mirrored().frame([0.0, 1.0], [0.0; 2]).unwrap();
            check_near(port.geodesic_curvature, -expect, 1e-14, "κg on port");
        }
    }
}

#[test]
fn an_ellipsoids_curves_are_moved_by_the_closed_forms() {
    let axes = [900.0, 420.0, 610.0];
    // A wavy path, so that its own second derivatives count.
    let path = |t: f64| CurveJet {
        at: [1.2 + 0.4 * t, 0.8 + 0.5 * t * t + 0.3 * t],
        first: [0.4, t + 0.3],
        second: [0.0, 1.0],
    };
    let frame = |t: f64, d: f64| {
        let curve = path(t);
        let jet = ellipsoid(axes, curve.at[0], curve.at[1]);
        let jet = SkinJet::parallel(&jet, curve.at, d).unwrap();
        jet.frame(curve.first, curve.second).unwrap()
    };
    for d in [-30.0, -1.2, 0.5, 60.0] {
        for i in -10..=10 {
            let t = f64::from(i) * 0.1;
            let (on, off) = (frame(t, 0.0), frame(t, d));
            let size = on.normal_curvature.abs() + on.geodesic_torsion.abs();
            let (kn, tg) = (on.normal_curvature, on.geodesic_torsion);
            let scale = (1.0 - d * kn) * (1.0 - d * kn) + (d * tg) * (d * tg);
            let expect = (kn - d * (kn * kn + tg * tg)) / scale;
            check_near(off.normal_curvature, expect, 1e-12 * size, "κn");
            check_near(off.geodesic_torsion, tg / scale, 1e-12 * size, "τg");
            check_near(
                off.speed,
                on.speed * scale.sqrt(),
                1e-11 * on.speed,
                "speed",
            );
            // κg_d = (κg + ψ') / √D, ψ = atan2(−d τg, 1 − d κn) by arc length on the loft.
            let turn = |t: f64| {
                let f = frame(t, 0.0);
                num::atan2(-d * f.geodesic_torsion, 1.0 - d * f.normal_curvature)
            };
            let h = 1e-3;
            let slope = (8.0 * (turn(t + h) - turn(t - h))
                - (turn(t + 2.0 * h) - turn(t - 2.0 * h)))
                / (12.0 * h)
                / on.speed;
            let expect = (on.geodesic_curvature + slope) / scale.sqrt();
            check_near(off.geodesic_curvature, expect, 1e-10 * size, "κg");
        }
    }
}

/// A barrel of 8 × 8 spans, its net moved by `moves` mm as `shape` says, each from −1 to 1.
fn net(shape: &[f64], moves: f64) -> Surface {
    let breaks = |to: f64| -> Vec<f64> { (0..=SPANS).map(|i| to * f64::from(i) / 8.0).collect() };
    let u = Knots::clamped(&breaks(4000.0)).unwrap();
    let v = Knots::clamped(&breaks(1.0)).unwrap();
    let round = v.greville();
    let each = |k: usize, of: fn(f64) -> f64| -> Vec<f64> {
        (0..COEFFICIENTS)
            .map(|i| 500.0 * of(HALF_TURN * round[i % round.len()]) + moves * shape[k + i])
            .collect()
    };
    let (y, z) = (each(0, num::sin), each(COEFFICIENTS, num::cos));
    let x = u.greville();
    Surface::new(u, v, x, y, z)
}

const SPANS: u32 = 8;
const COEFFICIENTS: usize = 11 * 11;

#[test]
fn derivatives_are_those_of_points_a_little_apart() {
    // Points alone: the loft's position and first derivatives, never its third.
    let shape: Vec<f64> = (0..2 * COEFFICIENTS)
        .map(|i| num::sin(1.7 * i as f64))
        .collect();
    let surface = net(&shape, 6.0);
    for d in [-1.6, 3.0] {
        let skin = Skin::new(&surface, d);
        for i in 0..60 {
            // Well inside a span, where the loft is smooth.
            let (su, sv) = (i % 8, (3 * i + i / 8) % 8);
            let inner = |k: usize| 0.3 + 0.05 * (k % 9) as f64;
            let (u, v) = (
                500.0 * (su as f64 + inner(i)),
                (sv as f64 + inner(i / 3)) / 8.0,
            );
            let point = |a: i32, b: i32| {
                let (u, v) = (u + 5.0 * f64::from(a), v + 0.002 * f64::from(b));
                let jet = surface.jet_on(su, sv, u, v);
                jet.s + d * jet.normal()
            };
            let one = |at: &dyn Fn(i32) -> DVec3, h: f64| {
                (8.0 * (at(1) - at(-1)) - (at(2) - at(-2))) / (12.0 * h)
            };
            let two = |at: &dyn Fn(i32) -> DVec3, h: f64| {
                (16.0 * (at(1) + at(-1)) - (at(2) + at(-2)) - 30.0 * at(0)) / (12.0 * h * h)
            };
            let jet = skin.jet(u, v).unwrap();
            let uv = one(&|b| one(&|a| point(a, b), 5.0), 0.002);
            for (is, expect, scale, what) in [
                (jet.s, point(0, 0), 1.0, "s"),
                (jet.u, one(&|a| point(a, 0), 5.0), 1.0, "u"),
                (jet.v, one(&|b| point(0, b), 0.002), 1500.0, "v"),
                (jet.uu, two(&|a| point(a, 0), 5.0), 1e-3, "uu"),
                (jet.uv, uv, 1.0, "uv"),
                (jet.vv, two(&|b| point(0, b), 0.002), 5000.0, "vv"),
            ] {
                assert!(
                    (is - expect).length() < 2e-6 * scale,
                    "{what} at {u} {v}: {is} for {expect}"
                );
            }
            // The principal curvatures from its own two forms.
            let ([e, f, g], [l, m, n]) = (jet.first_form(), jet.second_form());
            let area = e * g - f * f;
            check_near((l * n - m * m) / area, jet.gaussian(), 1e-13, "K");
            let mean = (e * n - 2.0 * f * m + g * l) / (2.0 * area);
            check_near(mean, jet.mean(), 1e-12, "H");
        }
    }
}

#[test]
fn a_skin_folds_where_it_is_as_thick_as_the_radius() {
    let at = [40.0, 0.5];
    let round = cylinder(10.0, at[0], at[1]);
    assert!(SkinJet::parallel(&round, at, -8.99).is_ok());
    let fault = SkinJet::parallel(&round, at, -9.01).unwrap_err();
    let SkinError::Folds {
        at: place,
        radius,
        distance,
        ..
    } = fault
    else {
        panic!("{fault}");
    };
    assert_eq!((place, distance), (at, -9.01));
    check_near(radius, 10.0, 1e-12, "radius");
    assert_eq!(
        fault.message(LengthUnit::Millimetres),
        "At 40.0 mm aft of the datum, half-breadth 4.8 mm, height 8.8 mm, the skin is bent to a radius of 10.0 mm, and \
         9.0 mm inside of it there is no surface. Take a thinner skin there, or end the part short of it."
    );
    // The inner side of a ring is hollow across: there it folds outward.
    let hollow = torus(60.0, 40.0, HALF_TURN, 0.5);
    assert!(SkinJet::parallel(&hollow, at, 17.9).is_ok());
    let fault = SkinJet::parallel(&hollow, at, 18.1).unwrap_err();
    assert!(
        matches!(fault, SkinError::Folds { radius, .. } if (radius + 20.0).abs() < 1e-9),
        "{fault}"
    );
    // Nothing that is no number gets through.
    for d in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY] {
        assert!(SkinJet::parallel(&hollow, at, d).is_err(), "{d}");
    }
}

#[test]
fn a_tip_is_refused_with_its_place_and_beside_it_all_is_finite() {
    // A spheroid's fore tip, where S_v is nothing.
    let tip = ellipsoid([800.0, 200.0, 200.0], 0.0, 0.7);
    let fault = SkinJet::parallel(&tip, [0.0, 0.7], -1.2).unwrap_err();
    let SkinError::NoNormal { at, place } = fault else {
        panic!("{fault}");
    };
    assert_eq!(at.map(f64::to_bits), [0.0, 0.7].map(f64::to_bits));
    assert_eq!(place, DVec3::new(-800.0, 0.0, 200.0 * num::sin(0.0)));
    for u in [1e-4, 1e-3, 0.01] {
        let jet = ellipsoid([800.0, 200.0, 200.0], u, 0.7);
        let jet = SkinJet::parallel(&jet, [u, 0.7], -1.2).unwrap();
        // Along the meridian speed³ / (a b), round it speed b / a; at the tip itself both are b² / a.
        let speed = num::hypot(800.0 * num::sin(u), 200.0 * num::cos(u));
        let radii = [
            speed * speed * speed / (800.0 * 200.0),
            speed * 200.0 / 800.0,
        ];
        let [smaller, larger] = jet.principal.curvature.map(|k| -1.0 / k);
        check_near(
            smaller,
            radii[0].min(radii[1]) - 1.2,
            1e-6,
            "the smaller radius",
        );
        check_near(
            larger,
            radii[0].max(radii[1]) - 1.2,
            1e-6,
            "the larger radius",
        );
    }
    // Two parallel tangents.
    let mut pole = cylinder(100.0, 0.0, 1.0);
    pole.u = pole.v * 3.0;
    assert!(matches!(
        SkinJet::parallel(&pole, [0.0, 1.0], 0.0),
        Err(SkinError::NoNormal { .. })
    ));
    // A net whose first row is one point, as the loft makes a tip.
    let shape = vec![0.0; 2 * COEFFICIENTS];
    let barrel = net(&shape, 0.0);
    let collapse = |net: &[f64], to: f64| -> Vec<f64> {
        let mut net = net.to_vec();
        net[..11].fill(to);
        net
    };
    let pointed = Surface::new(
        barrel.u_knots().clone(),
        barrel.v_knots().clone(),
        barrel.x_net().to_vec(),
        collapse(barrel.y_net(), 0.0),
        collapse(barrel.z_net(), 100.0),
    );
    let skin = Skin::at(&pointed, Face::Iml, 1.2);
    assert!(matches!(
        skin.jet(0.0, 0.3),
        Err(SkinError::NoNormal { at: [0.0, 0.3], .. })
    ));
    assert!(matches!(
        skin.jet(f64::NAN, 0.3),
        Err(SkinError::NoNormal { .. })
    ));
    let jet = skin.jet(60.0, 0.3).unwrap();
    let still = jet.frame([0.0; 2], [1.0, 0.0]).unwrap_err();
    assert!(matches!(
        still,
        SkinError::NoDirection {
            at: [60.0, 0.3],
            ..
        }
    ));
}

#[test]
fn faces_lie_where_their_names_say() {
    assert!(Face::Oml.distance(1.6).abs() < f64::MIN_POSITIVE);
    check_near(Face::Neutral.distance(1.6), -0.8, 0.0, "neutral");
    check_near(Face::Iml.distance(1.6), -1.6, 0.0, "IML");
    let surface = net(&vec![0.0; 2 * COEFFICIENTS], 0.0);
    let [outside, inside] = [Face::Oml, Face::Iml].map(|face| Skin::at(&surface, face, 1.2));
    let (u, v) = (1234.0, 0.37);
    assert_eq!(outside.jet(u, v).unwrap().s, surface.jet(u, v).s);
    let port = inside.on(Hand::Port).jet(u, v).unwrap();
    let starboard = inside.jet(u, v).unwrap();
    assert_eq!(port.s * DVec3::new(1.0, -1.0, 1.0), starboard.s);
    let row = surface.row(u).jet(v);
    let over = inside.over(&row, [u, v]).unwrap();
    assert!((over.s - starboard.s).length() < 1e-10);
}

/// Distances that a shop has, next to nothing, and some at which barrels fold.
fn distances() -> impl Strategy<Value = f64> {
    prop_oneof![Just(0.0), -1e-9..1e-9, Just(-1.2), -4.0..4.0, -500.0..500.0,]
}

/// Places, often on a knot or next to one.
fn places() -> impl Strategy<Value = f64> {
    prop_oneof![
        0.0..1.0,
        (0..=SPANS).prop_map(|i| f64::from(i) / 8.0),
        (1..SPANS, -1e-9..1e-9).prop_map(|(i, off)| f64::from(i) / 8.0 + off),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(512))]

    #[test]
    fn a_parallel_surface_is_sound_or_refused(
        shape in prop::collection::vec(-1.0..1.0, 2 * COEFFICIENTS),
        moves in prop_oneof![Just(0.0), 1e-6..1e-3, 0.1..10.0, 10.0..120.0],
        (u, v) in (places(), places()),
        d in distances(),
        heading in (-1.0_f64..1.0, -1.0_f64..1.0),
        second in (-1e-3_f64..1e-3, -1e-3_f64..1e-3),
    ) {
        let surface = net(&shape, moves);
        let (u, v) = (4000.0 * u, v);
        let skin = Skin::new(&surface, d);
        let loft = surface.jet(u, v);
        // By Gauss and mean, not as the code does it: (1 − d k1)(1 − d k2), and the smaller of the two.
        let (k, h) = (loft.gaussian(), loft.mean());
        let root = (h * h - k).max(0.0).sqrt();
        let scales = [1.0 - d * (h - root), 1.0 - d * (h + root)];
        let least = scales[0].min(scales[1]);
        prop_assume!((least - LEAST_SCALE).abs() > 1e-6);
        let jet = match skin.jet(u, v) {
            Err(SkinError::Folds { at, radius, .. }) => {
                prop_assert!(least < LEAST_SCALE, "{least}");
                prop_assert!(at.map(f64::to_bits) == [u, v].map(f64::to_bits) && 1.0 + d / radius <= LEAST_SCALE);
                return Ok(());
            }
            other => other.unwrap(),
        };
        prop_assert!(least > LEAST_SCALE, "{least}");
        let size = jet.u.length().max(jet.v.length());
        prop_assert!(jet.normal.dot(jet.u).abs() < 1e-10 * size, "{}", jet.normal.dot(jet.u));
        prop_assert!(jet.normal.dot(jet.v).abs() < 1e-10 * size);
        prop_assert!(jet.u.cross(jet.v).dot(jet.normal) > 0.0, "the same side is outside");
        // ∂N/∂a is what the two forms say of it: −N_a · X_b = X_ab · N.
        let [l, m, n] = jet.second_form();
        let bent = 1e-9 * (l.abs() + m.abs() + n.abs()) + 1e-12 * size;
        for (form, a, b) in [
            (l, jet.normal_u, jet.u),
            (m, jet.normal_u, jet.v),
            (m, jet.normal_v, jet.u),
            (n, jet.normal_v, jet.v),
        ] {
            prop_assert!((form + a.dot(b)).abs() <= bent, "{form} {}", -a.dot(b));
        }
        let first = [4000.0 * heading.0, heading.1];
        prop_assume!(heading.0.abs() + heading.1.abs() > 1e-3);
        let second = [4000.0 * second.0, second.1];
        let curve = CurveJet { at: [u, v], first, second };
        let off = skin.frame(&curve).unwrap();
        let on = Skin::new(&surface, 0.0).frame(&curve).unwrap();
        let port = skin.on(Hand::Port).frame(&curve).unwrap();
        let (kn, tg) = (on.normal_curvature, on.geodesic_torsion);
        let scale = (1.0 - d * kn) * (1.0 - d * kn) + (d * tg) * (d * tg);
        let [k1, k2] = loft.principal().curvature;
        let size = k1.abs().max(k2.abs()) / (LEAST_SCALE * LEAST_SCALE) + 1e-6;
        prop_assert!((off.normal_curvature - (kn - d * (kn * kn + tg * tg)) / scale).abs() < 1e-9 * size);
        prop_assert!((off.geodesic_torsion - tg / scale).abs() < 1e-9 * size);
        prop_assert!((off.speed - on.speed * scale.sqrt()).abs() < 1e-9 * on.speed * (1.0 + scale));
        // Euler: κn = k1 cos² + k2 sin² and τg = (k2 − k1) sin cos of the angle from the first to the curve by N.
        let (cos, sin) = {
            let first = jet.principal.direction[0];
            (off.tangent.dot(first), off.tangent.dot(jet.normal.cross(first)))
        };
        let [a, b] = jet.principal.curvature;
        prop_assert!((off.normal_curvature - (a * cos * cos + b * sin * sin)).abs() < 1e-8 * size);
        prop_assert!((off.geodesic_torsion - (b - a) * sin * cos).abs() < 1e-8 * size);
        prop_assert!((jet.normal_curvature(first[0], first[1]) - off.normal_curvature).abs() < 1e-9 * size);
        // Port is the mirror image: κg and τg change sign, κn does not.
        let within = 1e-12 * (size + off.geodesic_curvature.abs());
        prop_assert!((port.normal_curvature - off.normal_curvature).abs() <= within);
        prop_assert!((port.geodesic_curvature + off.geodesic_curvature).abs() <= within);
        prop_assert!((port.geodesic_torsion + off.geodesic_torsion).abs() <= within);
    }
}
