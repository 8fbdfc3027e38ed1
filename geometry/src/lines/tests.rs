//! Lines against closed forms, and against counts by another program.
#![expect(clippy::print_stdout, reason = "a test says what it measured")]

use super::*;
use crate::spline::{Knots, Surface, measure};

/// The random wavy surface of `tests/data/contours`, whose heights are the net.
pub(crate) fn wavy() -> Surface {
    let path = concat!(
        env!("CARGO_MANIFEST_DIR"),
        "/../tests/data/contours/net.csv"
    );
    let z: Vec<f64> = std::fs::read_to_string(path)
        .unwrap()
        .lines()
        .flat_map(|l| l.split(','))
        .map(|n| n.parse().unwrap())
        .collect();
    let even = |n: u32| Knots::clamped(&(0..=n).map(f64::from).collect::<Vec<_>>()).unwrap();
    let (u, v) = (even(20), even(12));
    let y: Vec<f64> = (0..u.count()).flat_map(|_| v.greville()).collect();
    Surface::new(u.clone(), v, u.greville(), y, z)
}

#[test]
fn every_level_line_of_a_wavy_surface_is_found() {
    // counts.csv: marching squares on a 3201 × 1921 grid by contourpy, see make.py beside it.
    let surface = wavy();
    let path = concat!(
        env!("CARGO_MANIFEST_DIR"),
        "/../tests/data/contours/counts.csv"
    );
    let (mut components, mut boxes) = (0, 0);
    for line in std::fs::read_to_string(path).unwrap().lines().skip(1) {
        let [level, count, closed] = line
            .split(',')
            .map(|n| n.parse().unwrap())
            .collect::<Vec<f64>>()[..]
        else {
            panic!("three columns")
        };
        let trace = trace(&surface, &CuttingPlane::waterline(level), 0.01);
        let loops = trace.branches.iter().filter(|b| b.closed).count();
        assert_eq!(
            (trace.branches.len() as f64, loops as f64),
            (count, closed),
            "level {level}"
        );
        for node in trace.branches.iter().flat_map(|b| &b.nodes) {
            assert!((node.point.z - level).abs() < 1e-9, "on the plane");
        }
        components += trace.branches.len();
        boxes += trace.boxes;
    }
    println!("{components} components, {} boxes a level", boxes / 41);
    assert!(components > 700);
}

/// Circles need no formula but that of three points; here they come by halving their distance (Richardson).
#[test]
fn curvature_is_that_of_the_circle_through_three_near_points() {
    const APART: f64 = 4e-4;
    let surface = wavy();
    let plane = CuttingPlane::waterline(0.3);
    let inside = |n: &Node, far: f64| {
        [n.u, n.v].iter().all(|at| (at - at.round()).abs() > far) // third derivatives jump at knots
    };
    // The surface is a graph over x = u and y = v: a place beside a node, put back on the plane down the slope.
    let beside = |n: &Node, far: f64| {
        let mut at = n.point + n.tangent * far;
        for _ in 0..4 {
            let jet = surface.jet(at.x, at.y);
            let slope = DVec3::new(jet.u.z, jet.v.z, 0.0);
            at -= slope * ((jet.s.z - plane.offset) / slope.length_squared());
        }
        at
    };
    let circle = |n: &Node, far: f64| {
        let (a, b, c) = (beside(n, -far), n.point, beside(n, far));
        let area2 = (b - a).truncate().perp_dot((c - a).truncate());
        2.0 * area2 / (a.distance(b) * b.distance(c) * c.distance(a))
    };
    let (mut met, mut worst) = (0, 0.0_f64);
    for branch in &trace(&surface, &plane, 1e-3).branches {
        for node in branch.nodes.iter().filter(|n| inside(n, 3.0 * APART)) {
            let found = (4.0 * circle(node, APART) - circle(node, 2.0 * APART)) / 3.0;
            let off = (found.abs() - node.curvature.abs()).abs();
            assert!(off < 1e-6, "{node:?}");
            worst = worst.max(off);
            met += 1;
        }
    }
    for branch in &trace(&surface, &plane, 1e-7).branches {
        // dκ/ds is the difference quotient of κ, to second order.
        for w in branch.nodes.windows(2).step_by(11) {
            let cell = |n: &Node| [n.u.floor(), n.v.floor()];
            let same = cell(&w[0])
                .iter()
                .zip(cell(&w[1]))
                .all(|(a, b)| num::same(*a, b));
            if !same || !inside(&w[0], 1e-9) || !inside(&w[1], 1e-9) {
                continue; // third derivatives jump at knots
            }
            let step = w[0].point.distance(w[1].point);
            let mean = f64::midpoint(w[0].curvature_slope, w[1].curvature_slope);
            let curve = (w[1].curvature_slope - w[0].curvature_slope).abs();
            assert!(
                ((w[1].curvature - w[0].curvature) - mean * step).abs()
                    <= (curve + 1e-3 * mean.abs() + 1e-6) * step
            );
        }
    }
    println!("curvature off by {worst:.1e} /mm at most, at {met} nodes");
    assert!(met > 1000);
}

/// What is asked at one place is what the whole line says there.
#[test]
fn one_place_of_a_line_is_as_its_node() {
    let surface = wavy();
    let plane = CuttingPlane::waterline(0.3);
    let along = |node: &Node| {
        let turn = if node.tangent.x < 0.0 { -1.0 } else { 1.0 };
        (node.tangent * turn, node.curvature_slope * turn)
    };
    let knot = |n: &Node| n.u.fract() < 1e-9 || n.v.fract() < 1e-9;
    let mut met = 0;
    let trace = trace(&surface, &plane, 1e-3);
    for node in trace.branches.iter().flat_map(|b| &b.nodes) {
        if knot(node) || node.tangent.x.abs() < 1e-3 {
            continue;
        }
        let one = cut_at(&surface, (node.u, node.v), plane.normal).unwrap();
        let ((t, slope), (u, other)) = (along(node), along(&one));
        assert!(t.distance(u) < 1e-9 && one.point.distance(node.point) < 1e-12);
        assert!((one.curvature - node.curvature).abs() < 1e-9 * (1.0 + node.curvature.abs()));
        assert!((slope - other).abs() < 1e-6 * (1.0 + slope.abs()));
        met += 1;
    }
    assert!(met > 100);
    // The wavy surface lies over x = u, y = v: its line of constant v is the cut at that half-breadth.
    for u in [0.4, 3.3, 7.25, 19.9] {
        let one = run_at(&surface, (u, 5.3), View::Profile);
        let cut = cut_at(&surface, (u, 5.3), DVec3::NEG_Y).unwrap();
        assert!(one.tangent.distance(cut.tangent) < 1e-12);
        assert!((one.curvature - cut.curvature).abs() < 1e-12 * (1.0 + one.curvature.abs()));
        assert!(
            (one.curvature_slope - cut.curvature_slope).abs()
                < 1e-9 * (1.0 + cut.curvature_slope.abs())
        );
    }
    assert!(cut_at(&surface, (3.3, 4.4), surface.jet(3.3, 4.4).normal()).is_none());
}

/// A piece of a torus as a net fitted closely: R = 3000 along, r = 500 across.
pub(crate) fn torus(spans: u32) -> Surface {
    // x = R sin φ is not free, so the piece is taken as z(u, v), y(u, v) over x = u by interpolating exact sections.
    let (big, small) = (3000.0_f64, 500.0_f64);
    let n = f64::from(spans);
    let u = Knots::clamped(
        &(0..=spans)
            .map(|i| -900.0 + 1800.0 * f64::from(i) / n)
            .collect::<Vec<_>>(),
    )
    .unwrap();
    let v = Knots::clamped(&(0..=spans).map(|i| f64::from(i) / n).collect::<Vec<_>>()).unwrap();
    // Points of the torus at x: with θ round the section from crown to keel, ρ = R + r cos θ, z = √(ρ² − x²) − R.
    let at = |x: f64, v: f64| {
        let a = core::f64::consts::PI * v;
        let rho = big + small * num::cos(a);
        [small * num::sin(a), (rho * rho - x * x).sqrt() - big]
    };
    interpolate(u, v, &at)
}

/// The bicubic spline through a function at its Greville abscissae, by collocation in both directions.
pub(crate) fn interpolate(u: Knots, v: Knots, at: &dyn Fn(f64, f64) -> [f64; 2]) -> Surface {
    let (gu, gv) = (u.greville(), v.greville());
    let (nu, nv) = (gu.len(), gv.len());
    let values: Vec<[f64; 2]> = gu
        .iter()
        .flat_map(|x| gv.iter().map(move |v| (x, v)))
        .map(|(x, v)| at(*x, *v))
        .collect();
    let solve = |part: usize| {
        let mut net: Vec<f64> = values.iter().map(|p| p[part]).collect();
        for j in 0..nv {
            let column: Vec<f64> = (0..nu).map(|i| net[i * nv + j]).collect();
            for (i, c) in collocate(&u, &gu, column).into_iter().enumerate() {
                net[i * nv + j] = c;
            }
        }
        for i in 0..nu {
            let row = collocate(&v, &gv, net[i * nv..(i + 1) * nv].to_vec());
            net[i * nv..(i + 1) * nv].copy_from_slice(&row);
        }
        net
    };
    let (y, z) = (solve(0), solve(1));
    Surface::new(u, v, gu, y, z)
}

fn collocate(knots: &Knots, at: &[f64], mut right: Vec<f64>) -> Vec<f64> {
    let n = at.len();
    let mut a = vec![vec![0.0; n]; n];
    for (i, x) in at.iter().enumerate() {
        let span = knots.span_at(*x);
        for (k, b) in knots.basis(span, *x)[0].iter().enumerate() {
            a[i][knots.first_coefficient(span) + k] = *b;
        }
    }
    for i in 0..n {
        let pivot = (i..n)
            .max_by(|p, q| a[*p][i].abs().total_cmp(&a[*q][i].abs()))
            .unwrap();
        a.swap(i, pivot);
        right.swap(i, pivot);
        for k in i + 1..n {
            let f = a[k][i] / a[i][i];
            for j in i..n {
                a[k][j] -= f * a[i][j];
            }
            right[k] -= f * right[i];
        }
    }
    for i in (0..n).rev() {
        for k in i + 1..n {
            right[i] -= a[i][k] * right[k];
        }
        right[i] /= a[i][i];
    }
    right
}

#[test]
fn a_torus_has_its_curvatures() {
    // K = cos φ / (r (R + r cos φ)) and 2H = (R + 2 r cos φ) / (r (R + r cos φ)): do Carmo, ch. 3; convex is negative here.
    let surface = torus(80);
    for v in [0.1, 0.25, 0.5, 0.75, 0.9] {
        for x in [-400.0, 0.0, 333.0] {
            let jet = surface.jet(x, v);
            let cos = num::cos(core::f64::consts::PI * v);
            let rho = 3000.0 + 500.0 * cos;
            let gauss = cos / (500.0 * rho);
            assert!(
                (jet.gaussian() - gauss).abs() < 1e-3 / (500.0 * 3000.0),
                "K at {v}"
            );
            let mean = -(3000.0 + 1000.0 * cos) / (1000.0 * rho);
            assert!((jet.mean() / mean - 1.0).abs() < 5e-4, "H at {v}");
        }
    }
    let at = pick_up(&surface, 0.0, Spot::Crown).unwrap();
    assert!(
        (PickUp::radius(at.along).unwrap() - 3500.0).abs() < 0.5,
        "{at:?}"
    );
    assert!((PickUp::radius(at.across).unwrap() - 500.0).abs() < 0.5);
    assert!((at.position.z - 500.0).abs() < 1e-3);
    let keel = pick_up(&surface, 0.0, Spot::Keel).unwrap();
    assert!(
        (PickUp::radius(keel.along).unwrap() + 2500.0).abs() < 0.5,
        "the inside of a torus is hollow along"
    );
    assert!(
        (keel.girth - core::f64::consts::PI * 500.0).abs() < 1e-3,
        "{}",
        keel.girth
    );
    // Area and volume of the piece by Pappus-like integrals are not closed in x; a cross-check by sections instead.
    let m = measure(&surface);
    let exact: f64 = (0..2000)
        .map(|i| {
            // Sectional area ∫ 2 y dz at x, by a fine midpoint rule in θ.
            let x = -900.0 + 0.9 * (f64::from(i) + 0.5);
            let mut sum = 0.0;
            for k in 0..400 {
                let a = core::f64::consts::PI * (f64::from(k) + 0.5) / 400.0;
                let rho = 3000.0 + 500.0 * num::cos(a);
                let dz = rho * 500.0 * num::sin(a) / (rho * rho - x * x).sqrt()
                    * core::f64::consts::PI
                    / 400.0;
                sum += 2.0 * 500.0 * num::sin(a) * dz;
            }
            sum * 0.9
        })
        .sum();
    assert!(
        (m.volume / exact - 1.0).abs() < 1e-6,
        "{} {exact}",
        m.volume
    );
}

#[test]
fn a_waterline_of_a_torus_is_followed_round() {
    let surface = torus(40);
    // WL −20: y² = r² − (√((z + R)² + x²) − R)² in closed form.
    let trace = trace(&surface, &CuttingPlane::waterline(-20.0), 0.01);
    assert_eq!(trace.branches.len(), 1);
    for node in &trace.branches[0].nodes {
        let x = node.point.x;
        let rho = num::hypot(2980.0, x);
        let y = (500.0 * 500.0 - (rho - 3000.0) * (rho - 3000.0)).sqrt();
        assert!((node.point.y - y).abs() < 2e-3, "{x}");
        assert!(node.tangent.x > 0.99, "it runs aft");
    }
    let section = super::trace(&surface, &CuttingPlane::station(100.0), 0.01);
    assert_eq!(section.branches.len(), 1);
    assert!(
        section.branches[0]
            .nodes
            .iter()
            .all(|n| (n.point.x - 100.0).abs() < 1e-9)
    );
}

#[test]
fn the_comb_of_a_clothoid_is_a_straight_ramp() {
    // A clothoid has κ = s / A², A² = 400 000 mm²; points by the Fresnel series (Abramowitz and Stegun 7.3.11, 7.3.13).
    let a2 = 4.0e6_f64;
    let at = |s: f64| {
        // x = Σ (−1)^k s^(4k+1) / ((4k+1) (2k)! (2A²)^2k), z likewise with 4k + 3.
        let q = s * s / (2.0 * a2);
        let (mut x, mut z, mut term) = (0.0, 0.0, s);
        for k in 0..20 {
            let n = f64::from(k);
            x += term / (4.0 * n + 1.0);
            z += term * q / ((4.0 * n + 3.0) * (2.0 * n + 1.0));
            term *= -q * q / ((2.0 * n + 1.0) * (2.0 * n + 2.0));
        }
        [x, z]
    };
    // Height of the keel line over x, found by Newton on s.
    let height = |x: f64| {
        let mut s = x;
        for _ in 0..30 {
            let slope = num::cos(s * s / (2.0 * a2));
            s -= (at(s)[0] - x) / slope;
        }
        (s, at(s)[1])
    };
    let u = Knots::clamped(&(0..=96).map(|i| 25.0 * f64::from(i)).collect::<Vec<_>>()).unwrap();
    let v = Knots::clamped(&[0.0, 1.0]).unwrap();
    let surface = interpolate(u, v, &|x, v| {
        [
            600.0 * v * (1.0 - v),
            1000.0 * (1.0 - v) + height(x).1 - 400.0 * v,
        ]
    });
    let keel = run(&surface, 1.0, View::Profile, 0.001);
    let comb = comb(&keel, 10.0);
    assert_eq!(comb.runs.len(), 1);
    let mut worst = 0.0_f64;
    for tooth in &comb.runs[0] {
        if tooth.root.x < 60.0 || tooth.root.x > 2340.0 {
            continue; // the interpolating spline's end spans
        }
        let (s, z) = height(tooth.root.x);
        assert!((tooth.root.z + 400.0 - z).abs() < 1e-3);
        worst = worst.max((tooth.curvature.abs() - s / a2).abs());
        assert!(
            tooth.curvature < 0.0,
            "an upsweep is convex seen from outside"
        );
    }
    // Between the nodes of a coarse one: place and curvature.
    let coarse = run(&surface, 1.0, View::Profile, 0.1);
    let mut off = [0.0_f64; 2];
    for i in 3..115 {
        let x = 20.0 * f64::from(i) + 0.7;
        let at = coarse.at_x(x);
        assert_eq!(at.len(), 1);
        let (s, z) = height(x);
        off[0] = off[0].max((at[0].point.z + 400.0 - z).abs());
        off[1] = off[1].max((at[0].curvature.abs() - s / a2).abs());
        assert!((at[0].point.x - x).abs() < 1e-9);
    }
    println!("between nodes traced to 0.1 mm: {off:?}");
    assert!(off[0] < 1e-5 && off[1] < 1e-6, "{off:?}");
    assert_eq!(coarse.at_x(-1.0), Vec::new());
    assert_eq!((coarse.at_x(0.0).len(), coarse.at_x(2400.0).len()), (1, 1));
    println!(
        "clothoid comb: worst error {worst:.2e} of {:.2e} per mm",
        2400.0 / a2
    );
    assert!(worst < 6e-7, "{worst}");
}

#[test]
fn what_is_missed_is_said_with_what_there_is() {
    let surface = torus(20);
    let missed = pick_up(&surface, 0.0, Spot::Waterline(900.0)).unwrap_err();
    assert!(
        matches!(missed, PickUpError::Missed { spans: [low, high], .. } if low < -499.0 && high > 499.0),
        "{missed}"
    );
    assert!(matches!(
        pick_up(&surface, 5000.0, Spot::Crown),
        Err(PickUpError::OffTheEnds { .. })
    ));
    assert!(matches!(
        pick_up(&surface, f64::NAN, Spot::Crown),
        Err(PickUpError::OffTheEnds { .. })
    ));
}

/// A press lies a little beside the line that is meant.
#[test]
fn a_place_beside_a_cut_is_put_onto_it() {
    let surface = torus(12);
    for plane in [
        CuttingPlane::waterline(-120.0),
        CuttingPlane::diagonal(300.0, 0.6),
    ] {
        let trace = trace(&surface, &plane, 0.1);
        for node in trace.branches.iter().flat_map(|b| &b.nodes) {
            let (u, v) = onto(&surface, &plane, (node.u + 0.3, node.v - 2e-4));
            let off = plane.normal.dot(surface.position(u, v)) - plane.offset;
            assert!(off.abs() < 1e-9 && (u - node.u).abs() < 1.0, "{node:?}");
        }
    }
}

/// A builder asks for slope and radius at every point that was read, the last station's too.
#[test]
fn every_point_of_the_demo_has_its_line_there() {
    let file = concat!(env!("CARGO_MANIFEST_DIR"), "/../public/demo/marram.json");
    let folder = crate::document::read_folder(&std::fs::read(file).unwrap()).unwrap();
    let lines = folder.lines;
    let loft = crate::loft::Loft::build(&lines.body).unwrap();
    for at in loft.points() {
        let point = lines.body.point(at.point).unwrap();
        let x = lines.body.station(point.station).unwrap().x;
        let node = node_at(&loft, point.on, x);
        let node = node.unwrap_or_else(|| panic!("{} has none", lines.body.name_of(point)));
        let far = node.point.distance(loft.surface().position(at.u, at.v));
        assert!((node.point.x - x).abs() < 1e-6 && far < 12.0, "{far}");
        assert!(node.curvature.is_finite() && node.tangent.x > 0.0);
    }
}

/// The demo's joint passes the largest half-breadth, where the skin stands square to the profile: what is hollow there and what is
/// not is told by where it turns, never by the skin leaning over.
#[test]
fn a_run_line_turns_only_where_it_is_straight() {
    let file = concat!(env!("CARGO_MANIFEST_DIR"), "/../public/demo/marram.json");
    let folder = crate::document::read_folder(&std::fs::read(file).unwrap()).unwrap();
    let loft = crate::loft::Loft::build(&folder.lines.body).unwrap();
    for (_, v) in loft.run_lines() {
        for view in [View::Profile, View::HalfBreadth] {
            let nodes = run(loft.surface(), *v, view, 0.01).nodes;
            let most = nodes.iter().map(|n| n.curvature.abs()).fold(0.0, f64::max);
            let mut turns = 0;
            for pair in nodes
                .windows(2)
                .filter(|p| p[0].curvature * p[1].curvature < 0.0)
            {
                let [a, b] = [&pair[0], &pair[1]].map(|node| node.curvature.abs());
                assert!(a.min(b) < 0.1 * most, "{view:?} {a:e} {b:e} of {most:e}");
                turns += 1;
            }
            assert!(turns > 0, "{view:?}");
        }
    }
}

#[test]
fn points_lifted_from_the_demo_are_true_to_the_body_behind_it() {
    // tests/data/demo_truth.json: the closed form from which the demo's readings were made; a sixteenth of an inch.
    let data = |name: &str| {
        std::fs::read(format!(
            "{}/../tests/data/{name}",
            env!("CARGO_MANIFEST_DIR")
        ))
        .unwrap()
    };
    let truth: serde_json::Value = serde_json::from_slice(&data("demo_truth.json")).unwrap();
    let table = crate::document::read_table(
        &data("demo_offsets.csv"),
        &crate::document::TableOptions::default(),
    );
    let loft = crate::loft::Loft::build(&table.unwrap().lines().body).unwrap();
    let wanted = |station: u32, name: &str| {
        truth["pick_ups"][format!("STA {station} in")][name]
            .as_f64()
            .unwrap()
    };
    // The keel and WL 20 at STA 85 lie in the planted hollow.
    for (station, hollow) in [(33, false), (63, false), (85, true)] {
        let lift = |spot: Spot| {
            pick_up(loft.surface(), 25.4 * f64::from(station), spot)
                .unwrap()
                .position
        };
        let near = |got: f64, name: &str| {
            let off = got - wanted(station, name);
            assert!(off.abs() <= 1.6, "STA {station} {name}: {off:.2} mm");
        };
        near(lift(Spot::Crown).z, "crown_mm");
        near(lift(Spot::Waterline(914.4)).y, "half_breadth_at_WL36_mm");
        if !hollow {
            near(lift(Spot::Keel).z, "keel_mm");
            near(lift(Spot::Waterline(508.0)).y, "half_breadth_at_WL20_mm");
        }
    }
}

#[test]
fn a_helix_has_its_curvature_and_torsion() {
    // Radius 2, pitch 2π: κ = r/(r² + c²) = 0.4, τ = c/(r² + c²) = 0.2 (do Carmo, 1-5, example 1).
    for t in [0.0, 0.7, 4.0] {
        let (sin, cos) = (num::sin(t), num::cos(t));
        let helix = [
            DVec3::new(-2.0 * sin, 2.0 * cos, 1.0),
            DVec3::new(-2.0 * cos, -2.0 * sin, 0.0),
            DVec3::new(2.0 * sin, -2.0 * cos, 0.0),
        ];
        let [curvature, torsion] = space_bend(&helix);
        assert!((curvature - 0.4).abs() < 1e-15 && (torsion - 0.2).abs() < 1e-15);
    }
    let straight = space_bend(&[DVec3::X, DVec3::ZERO, DVec3::ZERO]);
    assert!(straight.iter().all(|k| num::same(*k, 0.0)));
}

#[test]
fn a_tip_is_no_place_to_lift_from() {
    let u = Knots::clamped(&[0.0, 500.0, 1000.0]).unwrap();
    let breaks: Vec<f64> = (0..=24).map(|i| f64::from(i) / 24.0).collect();
    let cone = interpolate(u, Knots::clamped(&breaks).unwrap(), &|x, v| {
        let a = core::f64::consts::PI * v;
        [x / 4.0 * num::sin(a), x / 4.0 * num::cos(a)]
    });
    let told = pick_up(&cone, 0.0, Spot::Crown).unwrap_err();
    assert_eq!(told, PickUpError::AtTip { x: 0.0 });
    assert!(told.to_string().contains("comes to a point"));
    let near = pick_up(&cone, 1.0, Spot::Crown).unwrap();
    assert!((near.bevel + num::atan2(1.0, 4.0)).abs() < 1e-3, "{near:?}");
}
