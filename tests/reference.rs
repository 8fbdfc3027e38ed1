//! The whole loft against bodies with published figures, and splines against published examples.
//!
//! Each body is given as a builder would have it, a table of offsets at some stations, and is lofted as drawn. What is
//! asserted is a little above what is reached; what is reached is printed (`cargo test --test reference -- --nocapture`).
//! Formulas are evaluated by this file's own code, so nothing of the crate under test makes its own offsets.
#![expect(
    clippy::unwrap_used,
    clippy::disallowed_methods,
    clippy::print_stdout,
    reason = "a test ends at its first fault and says what it measured, by the platform's own functions"
)]

use std::f64::consts::PI;
use std::sync::Arc;

use geometry::document::{
    BoardLine, BoardSide, End, Ends, Face, Lines, On, Peak, RunLine, StripPlace, Tip,
};
use geometry::lines::{CuttingPlane, Spot, View, girth, pick_up, run, trace};
use geometry::loft::skin::{Darboux, SkinJet};
use geometry::loft::{Loft, Lofted};
use geometry::shop::templates::{
    Board, BoardPlan, BoardPlane, Reach, Strip, StripMark, wanted_strips,
};
use geometry::spline::{EndCondition, Interpolant, Jet, Knots, Surface, measure, section_area};

#[path = "support/demo_truth.rs"]
mod demo_truth;
#[path = "support/hulls.rs"]
mod hulls;

use demo_truth::{LENGTH, Section};
use hulls::{AXIS, Body, Table, rows, series_60, suboff_radius, wigley};

/// How well the offsets are said to be known, mm.
const TOLERANCE: f64 = 0.05;

/// A document of exact offsets.
fn document(table: &Table, ends: Ends, keel: Peak, run_lines: Vec<RunLine>) -> Lines {
    let body = Body {
        tolerance: TOLERANCE,
        ends,
        crown: Peak::Smooth,
        keel,
        run_lines,
    };
    body.lines(table)
}

/// A body of revolution: radius by distance aft of its nose.
struct Round<'a> {
    length: f64,
    radius: &'a dyn Fn(f64) -> f64,
    stations: Vec<f64>,
    tips: [Tip; 2],
}

/// Points round each half section, crown and keel included.
const ROUND: u32 = 12;

impl Round<'_> {
    fn loft(&self) -> Loft {
        Loft::build(&self.lines().body).unwrap()
    }

    fn lines(&self) -> Lines {
        let table = self
            .stations
            .iter()
            .map(|x| {
                let r = (self.radius)(*x);
                let point = |i: u32| {
                    let a = PI * f64::from(i) / f64::from(ROUND);
                    match i {
                        0 => (On::Crown, [0.0, AXIS + r]),
                        ROUND => (On::Keel, [0.0, AXIS - r]),
                        _ => (On::Free, [r * a.sin(), AXIS + r * a.cos()]),
                    }
                };
                (*x, (0..=ROUND).map(point).collect())
            })
            .collect();
        let tip = |x: f64, form: Tip| End::Tip {
            x,
            height: AXIS,
            form,
        };
        let ends = Ends {
            fore: tip(0.0, self.tips[0]),
            aft: tip(self.length, self.tips[1]),
        };
        document(&table, ends, Peak::Smooth, Vec::new())
    }

    /// Largest and root mean square distance of a surface from the body, square to it, mm.
    fn deviation(&self, surface: &Surface) -> [f64; 2] {
        let (mut largest, mut sum, mut n, mut at) = (0.0_f64, 0.0, 0.0, 0.0);
        for k in 1..400 {
            let x = self.length * f64::from(k) / 400.0;
            let h = 1e-3;
            let slope = ((self.radius)(x + h) - (self.radius)(x - h)) / (2.0 * h);
            let row = surface.row(surface.u_at(x));
            for i in 0..=60 {
                let s = row.jet(f64::from(i) / 60.0).s;
                let off = (s.y.hypot(s.z - AXIS) - (self.radius)(x)) / 1.0_f64.hypot(slope);
                if off.abs() > largest {
                    (largest, at) = (off.abs(), x);
                }
                sum += off * off;
                n += 1.0;
            }
        }
        println!(
            "  surface: {largest:.3} (x {at:.0}) / {:.4} mm",
            f64::sqrt(sum / n)
        );
        [largest, f64::sqrt(sum / n)]
    }
}

/// States a figure beside the published one, and refuses it where it is further off than `bound` of it.
#[track_caller]
fn near(what: &str, got: f64, exact: f64, bound: f64) {
    let off = got / exact - 1.0;
    println!("  {what}: {got:.9} for {exact:.9}, off by {off:.1e}");
    assert!(
        off.abs() <= bound,
        "{what}: {got} for {exact}, off by {off:.2e}"
    );
}

/// Curvatures along and across the station, convex positive as the tables have them.
fn curvatures(surface: &Surface, x: f64, v: f64) -> [f64; 2] {
    let at = pick_up(surface, x, Spot::Girth(v)).unwrap();
    [-at.along, -at.across]
}

fn prolate_stations(a: f64) -> Vec<f64> {
    // Even in angle round the meridian, so that the ends are as well known as the middle.
    (1..20)
        .map(|i| a * (1.0 - (PI * f64::from(i) / 20.0).cos()))
        .collect()
}

#[test]
fn a_prolate_spheroid_has_its_volume_area_meridian_and_curvatures() {
    // a = 6, b = 1.5 in units of 500 mm. V = 4/3 π a b², S = 2πb² + 2πab asin(e)/e, meridian 4 a E(e): standard formulas,
    // values by mpmath; curvatures by a⁴b⁴/(b⁴x² + a⁴r²)^1.5 and a²/√(b⁴x² + a⁴r²) (do Carmo, 3-3).
    let unit = 500.0;
    let (a, b) = (6.0 * unit, 1.5 * unit);
    let body = Round {
        length: 2.0 * a,
        radius: &|x| b * (1.0 - (x / a - 1.0).powi(2)).max(0.0).sqrt(),
        stations: prolate_stations(a),
        tips: [Tip::Blunt; 2],
    };
    let loft = body.loft();
    let surface = loft.surface();
    println!("prolate spheroid, stiffness {}", loft.stiffness());
    let [largest, mean] = body.deviation(surface);
    assert!(largest < 0.15 && mean < 0.04);
    let m = measure(surface);
    near(
        "volume",
        m.volume / unit.powi(3),
        56.548_667_764_616_3,
        5e-6,
    );
    near("area", m.area / unit.powi(2), 91.119_380_545_647_6, 1e-5);
    near("centroid", m.centroid_x, a, 1e-5);
    let crown = run(surface, 0.0, View::Profile, 1e-4);
    near(
        "meridian",
        crown.length() / unit,
        2.0 * 6.433_816_331_363_7,
        2e-6,
    );
    let row = surface.row(surface.u_at(a + 3.0 * unit));
    near(
        "girth",
        girth(&row, 0.0, 1.0) / unit,
        PI * 1.299_038_105_676_76,
        1.5e-4,
    );
    for (x, along, across) in [
        (0.0, 0.041_666_666_666_7, 0.666_666_666_667),
        (3.0, 0.062_196_307_094_3, 0.761_904_761_905),
        (5.4, 0.353_002_383_680, 1.359_059_177_17),
    ] {
        for v in [0.0, 0.3, 0.5, 1.0] {
            let [k_mer, k_circ] = curvatures(surface, a + x * unit, v);
            near("along", k_mer * unit, along, 0.035);
            near("across", k_circ * unit, across, 0.018);
        }
    }
}

#[test]
fn an_oblate_spheroid_has_its_volume_area_and_curvatures() {
    // Axis 1.5, radius 2.5 in units of 400 mm; the same formulas.
    let unit = 400.0;
    let (a, b) = (1.5 * unit, 2.5 * unit);
    let body = Round {
        length: 2.0 * a,
        radius: &|x| b * (1.0 - (x / a - 1.0).powi(2)).max(0.0).sqrt(),
        stations: prolate_stations(a),
        tips: [Tip::Blunt; 2],
    };
    let loft = body.loft();
    let surface = loft.surface();
    println!("oblate spheroid, stiffness {}", loft.stiffness());
    let [largest, mean] = body.deviation(surface);
    assert!(largest < 0.15 && mean < 0.04);
    let m = measure(surface);
    near(
        "volume",
        m.volume / unit.powi(3),
        39.269_908_169_872_4,
        5e-6,
    );
    near("area", m.area / unit.powi(2), 58.683_989_830_502_9, 1e-5);
    let crown = run(surface, 0.0, View::Profile, 1e-4);
    near(
        "meridian",
        crown.length() / unit,
        2.0 * 3.190_874_857_924_77,
        2e-6,
    );
    for v in [0.0, 0.5, 1.0] {
        let [k_mer, k_circ] = curvatures(surface, a, v);
        near("along", k_mer * unit, 1.111_111_111_1, 0.01);
        near("across", k_circ * unit, 0.4, 0.018);
    }
}

/// The hull of table 1, a foot so long, by its radius at a distance aft.
fn suboff_body<'a>(foot: f64, radius: &'a dyn Fn(f64) -> f64) -> Round<'a> {
    Round {
        length: 14.291_667 * foot,
        radius,
        stations: [
            0.05, 0.15, 0.3, 0.5, 0.75, 1.0, 1.35, 1.7, 2.1, 2.5, 2.9, 3.333_333, 3.8, 4.5, 5.5,
            7.0, 8.5, 9.5, 10.1, 10.645_833, 11.0, 11.4, 11.8, 12.2, 12.6, 13.0, 13.3, 13.6, 13.8,
            13.979_167, 14.1, 14.2, 14.26,
        ]
        .map(|x| x * foot)
        .to_vec(),
        tips: [Tip::Blunt; 2],
    }
}

#[test]
fn the_suboff_hull_has_its_published_volume_and_wetted_area() {
    // Groves, Huang and Chang, Geometric Characteristics of DARPA SUBOFF Models, DTRC/SHD-1298-01 (1989), table 1; radii
    // of table 1's equations by mpmath; wetted area published as 5.988 m².
    for (x, r) in [
        (0.1, 0.283_815_086_381),
        (1.0, 0.648_355_657_049),
        (2.0, 0.774_402_073_977),
        (11.0, 0.827_396_847_212),
        (12.0, 0.654_667_235_941),
        (13.5, 0.168_430_022_795),
        (14.2, 0.069_280_574_134),
    ] {
        assert!(
            (suboff_radius(x) - r).abs() < 1e-9,
            "{x}: {} for {r}",
            suboff_radius(x)
        );
    }
    let foot = 304.8;
    let radius = |x| foot * suboff_radius(x / foot);
    let body = suboff_body(foot, &radius);
    let loft = body.loft();
    let surface = loft.surface();
    println!("SUBOFF, stiffness {}", loft.stiffness());
    let [largest, mean] = body.deviation(surface);
    assert!(largest < 0.4 && mean < 0.05);
    let m = measure(surface);
    near("volume, ft³", m.volume / foot.powi(3), 24.692_397_8, 1e-5);
    near("wetted area, m²", m.area / 1e6, 5.988_264, 1e-5);
    let row = surface.row(surface.u_at(7.0 * foot));
    near(
        "girth amidships",
        girth(&row, 0.0, 1.0),
        PI * foot * 5.0 / 6.0,
        1e-4,
    );
    let [along, across] = curvatures(surface, 7.0 * foot, 0.5);
    near("across amidships", across * foot, 1.2, 0.005);
    assert!(along.abs() * foot < 2e-3, "straight amidships: {along}");
}

/// Largest distance of a board's edge from a circle about the body's axis, mm.
fn off_circle(board: &Board, radius: f64) -> f64 {
    let mut largest = 0.0_f64;
    for [a, b, c, d] in &board.edge {
        for i in 0..=16 {
            let (t, s) = (f64::from(i) / 16.0, 1.0 - f64::from(i) / 16.0);
            let (ka, kb, kc, kd) = (s * s * s, 3.0 * s * s * t, 3.0 * s * t * t, t * t * t);
            let y = ka * a.0 + kb * b.0 + kc * c.0 + kd * d.0;
            let z = ka * a.1 + kb * b.1 + kc * c.1 + kd * d.1 - AXIS;
            largest = largest.max((y.hypot(z) - radius).abs());
        }
    }
    largest
}

fn board(loft: &Loft, x: f64, distance: f64, held: BoardSide) -> Board {
    let plan = BoardPlan {
        code: "T".to_owned(),
        plane: BoardPlane::station(x),
        reach: Reach::Girth([0.0, 1.0]),
        distance,
        held,
        depth: 80.0,
    };
    Board::lay_out(loft, plan).unwrap()
}

/// A sphere of this radius, mm, read at twice as many stations as above, so that what is judged is the sheet and not the loft.
const BALL: f64 = 300.0;

fn ball() -> Lines {
    Round {
        length: 2.0 * BALL,
        radius: &|x| (BALL * BALL - (x - BALL).powi(2)).max(0.0).sqrt(),
        stations: (1..40)
            .map(|i| BALL * (1.0 - (PI * f64::from(i) / 40.0).cos()))
            .collect(),
        tips: [Tip::Blunt; 2],
    }
    .lines()
}

/// Along a meridian of a sphere an arc is its radius times its angle, and so is one round its circle at a distance x from the
/// middle, whose radius is √(R² − x²) (elementary); on the inside of a skin both are of the smaller sphere.
#[test]
fn rods_and_tapes_of_a_sphere_are_its_chords_and_arcs() {
    let mut lines = ball();
    let shop = Arc::make_mut(&mut lines.shop);
    shop.skin_thickness = Some(1.2);
    let keel = BoardLine::Named(On::Keel);
    let (from, to) = (BALL - 180.0, BALL + 150.0);
    shop.sheets.strips = vec![
        StripPlace::Rod { x: BALL + 130.0 },
        StripPlace::Girth { x: BALL + 130.0 },
        StripPlace::Along {
            line: keel,
            from,
            to,
        },
    ];
    for (face, radius) in [(Face::Oml, BALL), (Face::Iml, BALL - 1.2)] {
        Arc::make_mut(&mut lines.shop).sheets.boards.face = face;
        let lofted = Lofted::build(Arc::new(lines.clone())).unwrap();
        let wanted = wanted_strips(&lofted).unwrap();
        assert!(wanted.missing.is_empty());
        let [heights, breadths, girth, along] = &wanted.strips[..] else {
            panic!("{wanted:?}");
        };
        let at = |strip: &Strip, name: &str| {
            let named = |mark: &&StripMark| mark.name.split(", ").any(|own| own == name);
            strip.marks.iter().find(named).unwrap().at
        };
        let off = |what: &str, got: f64, exact: f64, bound: f64| {
            println!("{face:?}, {what}: {got:.4} for {exact:.4} mm");
            assert!((got - exact).abs() < bound, "{what}: {got} for {exact}");
        };
        let r = (radius * radius - 130.0 * 130.0).sqrt();
        off("height of the crown", at(heights, "crown"), AXIS + r, 0.02);
        off("height of the keel", at(heights, "keel"), AXIS - r, 0.02);
        off("half-breadth of the keel", at(breadths, "keel"), 0.0, 1e-6);
        off(
            "half the girth",
            at(girth, "keel") - at(girth, "crown"),
            PI * r,
            0.05,
        );
        // The line's foot is that of the outside, from which the tape's places are led inward.
        let angle = |x: f64| ((x - BALL) / BALL).asin();
        let long = radius * (angle(to) - angle(from));
        off("along the keel", along.ends[1] - along.ends[0], long, 0.02);
        for mark in &along.marks {
            let x: f64 = mark.name.split(' ').nth(1).unwrap().parse().unwrap();
            // Labels of stations tell a tenth of a millimetre.
            off(&mark.name, mark.at, radius * (angle(x) - angle(from)), 0.1);
        }
    }
}

/// A sphere's section is a circle of √(R² − x²), and so is that of the surface at a distance d inside it, of radius R − d
/// (elementary); the hull's radii are those of table 1 above, at stations of which offsets are given.
#[test]
fn station_templates_of_a_sphere_and_of_suboff_are_circles() {
    let radius = BALL;
    let sphere = Loft::build(&ball().body).unwrap();
    for x in [-100.0, -37.0, 0.0, 60.0, 130.0] {
        for (distance, held) in [
            (0.0, BoardSide::Outside),
            (-1.2, BoardSide::Inside),
            (-6.0, BoardSide::Inside),
            (5.0, BoardSide::Outside),
        ] {
            let of = board(&sphere, radius + x, distance, held);
            let r = ((radius + distance).powi(2) - x * x).sqrt();
            let off = off_circle(&of, r);
            println!("sphere, {x} from its middle, {distance} off: {off:.4} mm");
            assert!(off < 0.02, "{off} at {x}, {distance}");
            let half = PI * r;
            assert!((of.length - half).abs() < 0.05, "{} for {half}", of.length);
            // sin of the lean is that of the normal of the sphere inside or outside: x / (R + d).
            for lean in &of.leans {
                assert!((lean.bevel.sin() - x / (radius + distance)).abs() < 1e-3);
            }
        }
    }
    let foot = 304.8;
    let suboff = suboff_body(foot, &|x| foot * suboff_radius(x / foot)).loft();
    for feet in [4.5, 5.5, 7.0, 8.5] {
        let off = off_circle(
            &board(&suboff, feet * foot, 0.0, BoardSide::Outside),
            foot * suboff_radius(feet),
        );
        println!("SUBOFF, {feet} ft: {off:.4} mm");
        assert!(off < 0.02, "{off} at {feet}");
    }
}

#[test]
fn a_sears_haack_body_has_its_volume_and_area() {
    // r = R [4x(1 − x)]^¾, V = 3π²R²L/16 (Sears 1947, Haack 1941); area by mpmath. Length 5 m, R 0.05 of it. The ends are
    // sharp with an upright tangent, which no net of this kind has: the error sits there.
    let length = 5000.0;
    let body = Round {
        length,
        radius: &|x| {
            let q = (x / length).clamp(0.0, 1.0);
            0.05 * length * (4.0 * q * (1.0 - q)).powf(0.75)
        },
        stations: prolate_stations(length / 2.0),
        tips: [Tip::Blunt; 2],
    };
    for (q, r) in [
        (0.01, 0.088_771_056_667_6),
        (0.1, 0.464_758_001_545),
        (0.4, 0.969_847_442_245),
    ] {
        assert!(((body.radius)(q * length) / (0.05 * length) - r).abs() < 1e-12);
    }
    let loft = body.loft();
    println!("Sears-Haack, stiffness {}", loft.stiffness());
    let [largest, mean] = body.deviation(loft.surface());
    assert!(largest < 0.4 && mean < 0.04);
    let m = measure(loft.surface());
    near(
        "volume",
        m.volume / length.powi(3),
        0.004_626_377_063_010_64,
        5e-6,
    );
    near("area", m.area / length.powi(2), 0.226_720_577_587, 1e-5);
    // A(x) = π r² at a quarter of the length.
    let row = loft.surface().row(loft.surface().u_at(0.25 * length));
    near(
        "sectional area",
        section_area(&row),
        PI * (body.radius)(0.25 * length).powi(2),
        4e-4,
    );
}

#[test]
fn a_wigley_hull_has_its_coefficients_and_the_sign_of_its_curvature() {
    // y = (B/2)(1 − (2x/L)²)(1 − (z/T)²): Wigley (1942). C_B 4/9, C_P = C_M = C_WP = 2/3; area and curvatures by mpmath.
    // L = 10, B = 1, T = 0.625 in units of 500 mm; 21 stations, 9 waterlines.
    let unit = 500.0;
    let (length, breadth, draught) = (10.0 * unit, unit, 0.625 * unit);
    let half = |x: f64, z: f64| {
        breadth / 2.0 * (1.0 - (2.0 * x / length).powi(2)) * (1.0 - (z / draught).powi(2))
    };
    let (table, body) = wigley();
    let loft = Loft::build(&body.lines(&table).body).unwrap();
    assert!(!loft.closed() && loft.keel());
    println!("Wigley, stiffness {}", loft.stiffness());
    let surface = loft.surface();
    let mut largest = 0.0_f64;
    for i in 0..=200 {
        let row = surface.row(surface.u_at(length * (f64::from(i) / 200.0 - 0.5)));
        for k in 0..=40 {
            let s = row.jet(f64::from(k) / 40.0).s;
            largest = largest.max((s.y - half(s.x, s.z - AXIS)).abs());
        }
    }
    println!("  half-breadth: {largest:.4} mm");
    assert!(largest < 0.25);
    let m = measure(surface);
    near("volume", m.volume / unit.powi(3), 25.0 / 9.0, 1e-4);
    near(
        "wetted area",
        m.area / unit.powi(2),
        14.879_063_104_957_8,
        1e-4,
    );
    let amidships = section_area(&surface.row(surface.u_at(0.0)));
    near("C_M", amidships / (breadth * draught), 2.0 / 3.0, 1e-4);
    near("C_P", m.volume / (amidships * length), 2.0 / 3.0, 1e-4);
    for (x, z, gauss, mean, h_bound) in [
        (2.5, -0.25, 0.031_429_558_693_6, 0.721_077_596_393, 0.003),
        // Between the two lowest offsets of a narrow section: 0.08 mm of half-breadth is a third of this curvature.
        (-4.0, -0.5, -0.104_546_952_870, 0.359_557_313_411, 0.33),
    ] {
        let at = pick_up(surface, x * unit, Spot::Waterline(AXIS + z * unit)).unwrap();
        near(
            "half-breadth",
            at.position.y,
            half(x * unit, z * unit),
            3e-3,
        );
        let [k1, k2] = at.principal;
        near("K", k1 * k2 * unit * unit, gauss, 0.02);
        near("H", -(k1 + k2) / 2.0 * unit, mean, h_bound);
    }
    // A waterline is the parabola of the formula, its curvature y''/(1 + y'²)^1.5.
    let cut = trace(
        surface,
        &CuttingPlane::waterline(AXIS - 0.3 * draught),
        0.01,
    );
    assert_eq!(cut.branches.len(), 1);
    let inner = |node: &&geometry::lines::Node| node.point.x.abs() < 0.45 * length;
    for node in cut.branches[0].nodes.iter().filter(inner) {
        let c = breadth / 2.0 * (1.0 - 0.09);
        let (slope, bend) = (
            -8.0 * c * node.point.x / length.powi(2),
            -8.0 * c / length.powi(2),
        );
        let exact = bend / (1.0 + slope * slope).powf(1.5);
        assert!(
            (node.curvature / exact - 1.0).abs() < 0.02,
            "{node:?} for {exact}"
        );
    }
}

/// Simpson's rule with `n` intervals.
fn simpson(f: &dyn Fn(f64) -> f64, a: f64, b: f64, n: u32) -> f64 {
    let h = (b - a) / f64::from(n);
    let weight = |i: u32| match i {
        0 => 1.0,
        _ if i == n => 1.0,
        _ if i % 2 == 1 => 4.0,
        _ => 2.0,
    };
    (0..=n)
        .map(|i| weight(i) * f(a + h * f64::from(i)))
        .sum::<f64>()
        * h
        / 3.0
}

#[test]
fn a_series_60_hull_has_its_published_coefficients_and_area_curve() {
    // Todd, Series 60, DTMB Report 1712 (1963), C_B 0.60, model 4210W: C_P 0.614, C_WP 0.706, LCB 1.5 % aft. The table is
    // from memory; its rows integrate to its own area column within 0.004 (series60.py beside it). To the designed
    // waterline; the flat of the bottom is its own point.
    let (table, body) = series_60();
    let loft = Loft::build(&body.lines(&table).body).unwrap();
    let [largest, mean] = loft.residuals();
    println!(
        "Series 60, stiffness {}, residuals {largest:.2} / {mean:.3} mm",
        loft.stiffness()
    );
    let surface = loft.surface();
    // Area of a section up to the designed waterline, by Simpson's rule between the knots below it.
    let area = |x: f64| {
        let row = surface.row(surface.u_at(x));
        let top = pick_up(surface, x, Spot::Waterline(AXIS + 400.0))
            .unwrap()
            .v;
        let f = |v: f64| {
            let jet = row.jet(v);
            -2.0 * jet.s.y * jet.v.z
        };
        simpson(&f, top, 1.0, 2000)
    };
    let amidships = area(3750.0);
    let volume = simpson(&area, 0.0, 7500.0, 300);
    near("C_B", volume / (7500.0 * 1000.0 * 400.0), 0.60, 0.003);
    near("C_M", amidships / (1000.0 * 400.0), 0.977, 0.004);
    near("C_P", volume / (amidships * 7500.0), 0.614, 0.003);
    let moment = simpson(&|x: f64| x * area(x), 0.0, 7500.0, 300);
    let lcb = (moment / volume / 7500.0 - 0.5) * 100.0;
    println!("  LCB {lcb:.3} % aft for 1.5");
    assert!((lcb - 1.5).abs() < 0.1);
    let mut worst = (0.0_f64, 0.0);
    for row in rows("series60_fractions.csv") {
        let off = area(row[0] * 375.0) / amidships - row[9];
        if off.abs() > worst.0.abs() {
            worst = (off, row[0]);
        }
    }
    println!("  area curve: worst {:.4} at station {}", worst.0, worst.1);
    assert!(worst.0.abs() <= 0.014);
}

/// `∫ y''²` of a spline through values, its second derivative straight between them.
fn strain(spline: &Interpolant) -> f64 {
    let parameters = spline.parameters().iter();
    let bends: Vec<(f64, f64)> = parameters.map(|t| (*t, spline.at(*t)[2][0])).collect();
    let span = |pair: &[(f64, f64)]| {
        let ((s, a), (t, b)) = (pair[0], pair[1]);
        (t - s) * (a * a + a * b + b * b) / 3.0
    };
    bends.windows(2).map(span).sum()
}

/// The spline through values, with a condition at either end; its second coordinate is naught.
fn through(t: &[f64], values: &[f64], ends: [EndCondition; 2]) -> Interpolant {
    let points = values.iter().map(|y| [*y, 0.0]).collect();
    Interpolant::through(t.to_vec(), points, ends, [EndCondition::Straight; 2])
}

#[test]
fn the_natural_spline_bends_least() {
    // Holladay, A Smoothest Curve Approximation, Math. Tables Aids Comput. 11 (1957): of all curves through the points the
    // natural spline has the least ∫y''². Figures by hand: moments 0, −30/7, 36/7, −30/7, 0.
    let (t, y) = ([0.0, 1.0, 2.0, 3.0, 4.0], [0.0, 1.0, 0.0, 1.0, 0.0]);
    let natural = through(&t, &y, [EndCondition::Straight; 2]);
    for (t, sevenths) in t.iter().zip([0.0, -30.0, 36.0, -30.0, 0.0]) {
        assert!((natural.at(*t)[2][0] - sevenths / 7.0).abs() < 1e-12);
    }
    near("natural", strain(&natural), 192.0 / 7.0, 1e-13);
    for (what, end, exact) in [
        ("not a knot", EndCondition::NotAKnot, 64.0),
        ("level ends", EndCondition::Slope(0.0), 48.0),
    ] {
        near(what, strain(&through(&t, &y, [end; 2])), exact, 1e-13);
    }
    // And no other slopes at its ends do better than its own.
    let own = [0.0, 4.0].map(|t| natural.at(t)[1][0]);
    for by in [-0.5, -1e-3, 1e-3, 0.5] {
        let ends = [own[0] + by, own[1]].map(EndCondition::Slope);
        assert!(strain(&through(&t, &y, ends)) > strain(&natural));
    }
}

#[test]
fn a_complete_spline_converges_with_the_fourth_power() {
    // sin on 0 to π with its slopes at the ends: largest errors by mpmath; at most 5/384 h⁴ max |f⁗| (Hall and Meyer,
    // J. Approx. Theory 16, 1976).
    let mut before = None::<f64>;
    for (n, exact, ratio) in [
        (8_u32, 6.324_039_382e-5, 0.0),
        (16, 3.889_349_608e-6, 16.26),
        (32, 2.422_095_012e-7, 16.06),
        (64, 1.512_443_371e-8, 16.01),
    ] {
        let h = PI / f64::from(n);
        let t: Vec<f64> = (0..=n).map(|i| h * f64::from(i)).collect();
        let y: Vec<f64> = t.iter().map(|t| t.sin()).collect();
        let ends = [EndCondition::Slope(1.0), EndCondition::Slope(-1.0)];
        let spline = through(&t, &y, ends);
        let fine = (0..=2000 * n).map(|i| PI * f64::from(i) / f64::from(2000 * n));
        let error = fine
            .map(|t| (spline.at(t)[0][0] - t.sin()).abs())
            .fold(0.0, f64::max);
        near("largest error", error, exact, 1e-5);
        assert!(error <= 5.0 / 384.0 * h.powi(4));
        if let Some(before) = before {
            near("ratio", before / error, ratio, 1e-3);
        }
        before = Some(error);
    }
}

#[test]
fn the_coefficient_that_removes_a_knot_is_the_published_one() {
    // Farin, Rein, Sapidis and Worsey, Fairing cubic B-spline curves, CAGD 4 (1987); Sapidis and Farin, CAD 22 (1990): the
    // third derivative no longer jumps at the knot. Figures by their formula; here by the basis on either side of it.
    let knots = Knots::clamped(&[0.0, 1.0, 2.2, 3.0, 4.5, 5.0, 6.0]).unwrap();
    let mut d = [0.0, 1.0, 2.2, 2.9, 2.1, 3.0, 2.0, 1.2, 0.4];
    let jump = |d: &[f64]| {
        let third = |span: usize| -> f64 {
            let first = knots.first_coefficient(span);
            let basis = knots.basis(span, 3.0)[3];
            basis.iter().zip(&d[first..]).map(|(b, d)| b * d).sum()
        };
        third(knots.span_at(3.0)) - third(knots.span_before(3.0))
    };
    near("jump", jump(&d), -5.791_666_666_7, 1e-10);
    // It is linear in each coefficient; the one of the function that peaks at the knot takes it away.
    let now = jump(&d);
    d[4] += 1.0;
    let by = jump(&d) - now;
    d[4] += -1.0 - now / by;
    near("coefficient", d[4], 3.258_333_333_3, 1e-10);
    assert!(jump(&d).abs() < 1e-12);
}

/// Weights of seven values a step apart for a function and its first three derivatives at the middle one, by step.
const SEVEN: [[f64; 7]; 4] = [
    [0.0, 0.0, 0.0, 1.0, 0.0, 0.0, 0.0],
    [-1.0 / 60.0, 0.15, -0.75, 0.0, 0.75, -0.15, 1.0 / 60.0],
    [1.0 / 90.0, -0.15, 1.5, -49.0 / 18.0, 1.5, -0.15, 1.0 / 90.0],
    [0.125, -1.0, 1.625, 0.0, -1.625, 1.0, -0.125],
];

/// Steps of differences on the demo's body: along it, mm, and round a quadrant.
const STEPS: [f64; 2] = [2.0, 0.01];

/// Half-breadth and height round one quadrant of the demo's body.
type Quadrant = fn(&Section, f64) -> [f64; 2];

fn derivative(values: &[f64; 7], order: usize, step: f64) -> f64 {
    let sum: f64 = SEVEN[order].iter().zip(values).map(|(w, y)| w * y).sum();
    sum / step.powi(i32::try_from(order).unwrap())
}

/// Where round a quadrant this share of its girth is, from crown or joint.
fn share_of_girth(section: &Section, quadrant: Quadrant, share: f64) -> f64 {
    const PARTS: u32 = 64;
    let speed = |t: f64| {
        let at = [-3, -2, -1, 0, 1, 2, 3].map(|i| quadrant(section, t + 0.001 * f64::from(i)));
        let [y, z] = [0, 1].map(|k| derivative(&at.map(|at| at[k]), 1, 0.001));
        y.hypot(z)
    };
    let girth = |to: f64| simpson(&speed, 0.0, to, PARTS);
    let whole = girth(1.0);
    let mut t = share;
    for _ in 0..8 {
        t -= (girth(t) - share * whole) / speed(t);
    }
    t
}

/// The frame of a stringer at a share of the girth, on the surface `d` off the demo's own, by differences of its points.
fn stringer(quadrant: Quadrant, share: f64, d: f64, x: f64) -> Darboux {
    let sections = [-3, -2, -1, 0, 1, 2, 3].map(|i| Section::at(x + STEPS[0] * f64::from(i)));
    let place = sections
        .each_ref()
        .map(|s| share_of_girth(s, quadrant, share));
    let t = place[3];
    let points = sections.each_ref().map(|section| {
        [-3, -2, -1, 0, 1, 2, 3].map(|i| quadrant(section, t + STEPS[1] * f64::from(i)))
    });
    let at = |a: usize, b: usize| {
        let [y, z] = [0, 1].map(|k| {
            let across = points.map(|row| derivative(&row.map(|point| point[k]), b, STEPS[1]));
            derivative(&across, a, STEPS[0])
        });
        let x = match (a, b) {
            (0, 0) => x,
            (1, 0) => 1.0,
            _ => 0.0,
        };
        [x, y, z].into()
    };
    let jet = Jet {
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
    };
    let [first, second] = [1, 2].map(|order| derivative(&place, order, STEPS[0]));
    let skin = SkinJet::parallel(&jet, [x, t], d).unwrap();
    skin.frame([1.0, first], [0.0, second]).unwrap()
}

#[test]
fn stringers_of_the_demo_bend_and_twist_as_other_programs_say() {
    // Inside a skin of 1.2 mm, at shares of the girth from the joint; worked out by two other programs (Chebyshev
    // interpolants of T, U, N; and again at fifty digits): length, turning in the skin and twist, mm and degrees.
    const D: f64 = -1.2;
    let (upper, lower): (Quadrant, Quadrant) = (Section::upper, Section::lower);
    for (name, quadrant, share, [length, turning, twist]) in [
        ("S1", lower, 0.30, [4047.524, -4.471, 8.726]),
        ("S2", lower, 0.58, [4051.274, -2.483, 19.148]),
        ("S3", lower, 0.86, [4050.534, -0.610, 12.136]),
        ("S4", upper, 0.65, [4027.410, -3.762, -10.966]),
        ("S5", upper, 0.30, [4019.052, -1.380, -21.612]),
    ] {
        // Three Gauss points a piece, for no difference may reach beyond an end.
        const PIECES: u32 = 24;
        let half = LENGTH / f64::from(PIECES) / 2.0;
        let mut sum = [0.0; 3];
        for i in 0..PIECES {
            for (node, weight) in [(-1.0, 5.0), (0.0, 8.0), (1.0, 5.0)] {
                let x = half * (f64::from(2 * i + 1) + node * 0.6_f64.sqrt());
                let frame = stringer(quadrant, share, D, x);
                let ds = frame.speed * half * weight / 9.0;
                sum[0] += ds;
                sum[1] += frame.geodesic_curvature.to_degrees() * ds;
                sum[2] += frame.geodesic_torsion.to_degrees() * ds;
            }
        }
        near(&format!("{name}: length"), sum[0], length, 0.0006 / length);
        for (what, got, exact) in [("turning", sum[1], turning), ("twist", sum[2], twist)] {
            println!("{name}: {what} {got:.4}, {exact} expected");
            assert!((got - exact).abs() < 0.0006, "{name}: {what} {got}");
        }
    }
    let frame = stringer(lower, 0.58, D, 90.0 * 25.4);
    near(
        "κn of S2 at STA 90",
        frame.normal_curvature,
        -4.400006e-5,
        1e-6,
    );
    near(
        "κg of S2 at STA 90",
        frame.geodesic_curvature,
        -1.100853e-5,
        1e-6,
    );
    near(
        "τg of S2 at STA 90",
        frame.geodesic_torsion,
        3.979139e-5,
        1e-6,
    );
}
