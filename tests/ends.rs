//! Curvature at the ends of a body: held against closed forms on exact tables, and how uncertain it is under noise.
//!
//! Planks are rolled and templates cut to the last station. What is reached is printed, the first method of the loft beside
//! the second (`cargo test --test ends -- --nocapture`).
#![expect(
    clippy::unwrap_used,
    clippy::disallowed_methods,
    clippy::print_stdout,
    reason = "a test ends at its first fault and says what it measured, by the platform's own functions"
)]

use std::f64::consts::PI;

use geometry::document::{
    BodyEdit, End, Ends, Law, Lines, On, Peak, RunKind, RunLine, RunLineId, Shoulder, TableOptions,
    Tip, read_folder, read_table,
};
use geometry::loft::Loft;

#[expect(dead_code, reason = "other tests use the rest")]
#[path = "support/bodies.rs"]
mod bodies;
#[path = "support/demo_truth.rs"]
mod demo_truth;
#[expect(dead_code, reason = "other tests use the rest")]
#[path = "support/hulls.rs"]
mod hulls;

use bodies::Dice;
use demo_truth::Section;
use hulls::{Body, Table};

/// Points of a section.
const ROUND: u32 = 14;

/// A body in closed form.
struct Known {
    name: &'static str,
    /// Half-breadth and height at a distance aft and a share of the way from crown to keel.
    at: fn(f64, f64) -> [f64; 2],
    /// Curvature of crown and keel in profile, 1/mm.
    curvature: fn(f64) -> [f64; 2],
    /// Where it is cut off, mm.
    ends: [f64; 2],
}

/// Radii of the torus' axis and of its tube, mm.
const TORUS: [f64; 2] = [4000.0, 400.0];

/// Half length and radius of the spheroid, mm.
const SPHEROID: [f64; 2] = [2000.0, 400.0];

/// Radius of the arc, mm.
const ARC: f64 = 2500.0;

/// A torus cut square to the x axis: crown and keel are circles about one centre, R + r and R − r in radius.
fn torus() -> Known {
    let [axis, tube] = TORUS;
    // Where the keel has come to 40° from level.
    let aft = (axis - tube) * (2.0 * PI / 9.0).sin();
    Known {
        name: "torus",
        at: |x, t| {
            let [axis, tube] = TORUS;
            let reach = axis + tube * (PI * t).cos();
            [tube * (PI * t).sin(), (reach * reach - x * x).sqrt() - axis]
        },
        curvature: |_| {
            let [axis, tube] = TORUS;
            [-1.0 / (axis + tube), -1.0 / (axis - tube)]
        },
        ends: [-0.6 * aft, aft],
    }
}

/// A prolate spheroid cut short: its meridian is an ellipse, whose curvature is a⁴b⁴ / (b⁴x² + a⁴y²)^1.5 (do Carmo, 1-5).
fn spheroid() -> Known {
    Known {
        name: "spheroid",
        at: |x, t| {
            let [a, b] = SPHEROID;
            let radius = b * (1.0 - x * x / (a * a)).sqrt();
            [radius * (PI * t).sin(), radius * (PI * t).cos()]
        },
        curvature: |x| {
            let [a, b] = SPHEROID;
            let y = b * (1.0 - x * x / (a * a)).sqrt();
            let k = (a * b).powi(4) / (b.powi(4) * x * x + a.powi(4) * y * y).powf(1.5);
            [-k, k]
        },
        ends: [-0.6 * SPHEROID[0], 0.6 * SPHEROID[0]],
    }
}

/// Crown and keel arcs of a circle, which come to 40° from level at both ends; the half-breadth stays.
fn arc() -> Known {
    let end = ARC * (2.0 * PI / 9.0).sin();
    Known {
        name: "arc",
        at: |x, t| {
            let height = (ARC * ARC - x * x).sqrt() - 1500.0;
            [450.0 * (PI * t).sin(), height * (PI * t).cos()]
        },
        curvature: |_| [-1.0 / ARC, 1.0 / ARC],
        ends: [-end, end],
    }
}

/// The demo's body as it was before anybody read it.
fn demo_body() -> Known {
    Known {
        name: "demo",
        at: |x, t| {
            let section = Section::at(x);
            if t < 0.5 {
                section.upper(2.0 * t)
            } else {
                section.lower(2.0 * t - 1.0)
            }
        },
        curvature: |_| [f64::NAN; 2],
        ends: [0.0, demo_truth::LENGTH],
    }
}

/// So many stations from end to end, evenly, or up to a third of a bay off that.
fn stations([first, last]: [f64; 2], count: u32, jog: Option<&mut Dice>) -> Vec<f64> {
    let bay = (last - first) / f64::from(count - 1);
    let mut all: Vec<f64> = (0..count).map(|i| first + bay * f64::from(i)).collect();
    if let Some(dice) = jog {
        for x in &mut all[1..count as usize - 1] {
            *x += bay * dice.between(-1.0 / 3.0, 1.0 / 3.0);
        }
    }
    all
}

/// The body read at these stations, each value out by at most so much.
fn read(body: &Known, stations: &[f64], (noise, dice): (f64, &mut Dice)) -> Table {
    let section = |x: &f64| {
        let mut points = Vec::new();
        for i in 0..=ROUND {
            let [y, z] = (body.at)(*x, f64::from(i) / f64::from(ROUND));
            let mut out = |value: f64| value + dice.between(-noise, noise);
            points.push(match i {
                0 => (On::Crown, [0.0, out(z)]),
                ROUND => (On::Keel, [0.0, out(z)]),
                _ => (On::Free, [out(y), out(z)]),
            });
        }
        (*x, points)
    };
    stations.iter().map(section).collect()
}

fn made(table: &Table, tolerance: f64) -> Lines {
    let body = Body {
        tolerance,
        ends: Ends::default(),
        crown: Peak::Smooth,
        keel: Peak::Smooth,
        run_lines: Vec::new(),
    };
    body.lines(table)
}

fn exact(body: &Known, stations: &[f64], tolerance: f64) -> Lines {
    let table = read(body, stations, (0.0, &mut Dice::of(1)));
    made(&table, tolerance)
}

fn by_method(lines: &Lines, method: u32) -> Lines {
    lines.apply(BodyEdit::SetMethod(method)).unwrap()
}

fn lofted(lines: &Lines, method: u32) -> Loft {
    Loft::build(&by_method(lines, method).body).unwrap()
}

/// Curvature of crown and keel in profile: z″ / (1 + z′²)^1.5, 1/mm.
fn profile(loft: &Loft, x: f64) -> [f64; 2] {
    [0.0, 1.0].map(|v| {
        let jet = loft.surface().jet(loft.u_at(x), v);
        let [along, up] = [jet.u.x, jet.u.z];
        (along * jet.uu.z - up * jet.uu.x) / along.hypot(up).powi(3)
    })
}

/// Of crown and keel the larger error of curvature at a place, of its own size.
fn miss(loft: &Loft, body: &Known, x: f64) -> f64 {
    let [got, known] = [profile(loft, x), (body.curvature)(x)];
    let off = [0, 1].map(|k| (got[k] / known[k] - 1.0).abs());
    off[0].max(off[1])
}

/// Errors at both ends, one bay in, and in the middle: of each pair the larger.
fn misses(loft: &Loft, body: &Known, stations: &[f64]) -> [f64; 3] {
    let n = stations.len();
    let worst = |of: &[usize]| {
        let each = of.iter().map(|i| miss(loft, body, stations[*i]));
        each.fold(0.0, f64::max)
    };
    [worst(&[0, n - 1]), worst(&[1, n - 2]), worst(&[n / 2])]
}

fn tell(what: &str, method: u32, [end, next, middle]: [f64; 3]) {
    println!(
        "{what}, method {method}: end {:.2} %, one bay in {:.2} %, middle {:.2} %",
        100.0 * end,
        100.0 * next,
        100.0 * middle
    );
}

#[test]
fn exact_tables_keep_their_curvature_to_the_last_station() {
    let mut dice = Dice::of(7);
    for body in [torus(), spheroid(), arc()] {
        // The closer the stations, the more of a tolerance the loft irons out of a line as drawn, ends and all.
        for (count, tolerance) in [(16, 0.2), (21, 0.2), (31, 0.05)] {
            for even in [true, false] {
                let jog = (!even).then_some(&mut dice);
                let stations = stations(body.ends, count, jog);
                let lines = exact(&body, &stations, tolerance);
                let [first, second] =
                    [1, 2].map(|method| misses(&lofted(&lines, method), &body, &stations));
                let what = format!(
                    "{}, {count} {} stations",
                    body.name,
                    if even { "even" } else { "uneven" }
                );
                tell(&what, 1, first);
                tell(&what, 2, second);
                let [end, next, middle] = second;
                assert!(end < 0.035 && next < 0.01 && middle < 0.003, "{what}");
                // What the energy alone makes of it; of uneven stations the last bay may be a narrow one.
                assert!(first[0] > 2.0 * end, "{what}");
            }
        }
    }
}

#[test]
fn fewer_stations_than_spans_of_old_are_no_worse() {
    for body in [torus(), spheroid(), arc()] {
        for count in [5, 7, 9, 11] {
            let stations = stations(body.ends, count, None);
            let lines = exact(&body, &stations, 0.2);
            let [first, second] =
                [1, 2].map(|method| misses(&lofted(&lines, method), &body, &stations));
            let what = format!("{}, {count} stations", body.name);
            tell(&what, 1, first);
            tell(&what, 2, second);
            assert!(
                second[0] < 0.7 * first[0] && second[1] < 0.7 * first[1],
                "{what}"
            );
            assert!(second[2] < first[2] + 0.001, "{what}");
        }
    }
}

#[test]
fn under_noise_the_ends_are_not_much_less_certain_than_the_middle() {
    // The demo's sheet: 16 stations, values out by up to 0.8 mm, tolerance 1.6 mm.
    let inches = [
        0, 9, 18, 28, 38, 48, 58, 68, 79, 90, 101, 112, 123, 134, 146, 158,
    ];
    let demo: Vec<f64> = inches.iter().map(|x| f64::from(*x) * 25.4).collect();
    let even = |body: Known, count| {
        let stations = stations(body.ends, count, None);
        (body, stations)
    };
    let all = [
        (demo_body(), demo, 300),
        (even(torus(), 16).0, even(torus(), 16).1, 100),
        (even(spheroid(), 16).0, even(spheroid(), 16).1, 100),
        (even(spheroid(), 21).0, even(spheroid(), 21).1, 100),
        (even(arc(), 16).0, even(arc(), 16).1, 100),
    ];
    for (body, stations, times) in all {
        let mut dice = Dice::of(11);
        let tables: Vec<Lines> = (0..times)
            .map(|_| made(&read(&body, &stations, (0.8, &mut dice)), 1.6))
            .collect();
        for method in [1, 2] {
            let [end, next] = spread(&tables, &stations, method);
            println!(
                "{}, {} stations, method {method}: spread of curvature at the end {end:.2}, one bay in {next:.2} of that \
                 in the middle",
                body.name,
                stations.len()
            );
            assert!(method == 1 || (end < 2.5 && next < 1.3), "{}", body.name);
        }
    }
}

/// Standard deviation of the curvature at the ends and one bay in, against that in the middle third: the largest of crown and
/// keel, fore and aft.
fn spread(tables: &[Lines], stations: &[f64], method: u32) -> [f64; 2] {
    let n = stations.len();
    let found: Vec<Vec<[f64; 2]>> = tables
        .iter()
        .map(|lines| {
            let loft = lofted(lines, method);
            stations.iter().map(|x| profile(&loft, *x)).collect()
        })
        .collect();
    let variance = |i: usize, line: usize| {
        let values: Vec<f64> = found.iter().map(|at| at[i][line]).collect();
        let mean = values.iter().sum::<f64>() / values.len() as f64;
        let squares = values.iter().map(|value| (value - mean) * (value - mean));
        squares.sum::<f64>() / (values.len() - 1) as f64
    };
    let against = |of: [usize; 2]| {
        let mut most: f64 = 0.0;
        for line in [0, 1] {
            let middle: Vec<f64> = (n / 3..n - n / 3).map(|i| variance(i, line)).collect();
            let middle = middle.iter().sum::<f64>() / middle.len() as f64;
            for i in of {
                most = most.max((variance(i, line) / middle).sqrt());
            }
        }
        most
    };
    [against([0, n - 1]), against([1, n - 2])]
}

#[test]
fn a_tip_keeps_the_curvature_of_its_lines() {
    // An ogive: crown and keel are arcs of a circle that meet in a point; curvature 1/R up to it.
    let body = Known {
        name: "ogive",
        at: |x, t| {
            let radius = (ARC * ARC - x * x).sqrt() - 2000.0;
            [radius * (PI * t).sin(), radius * (PI * t).cos()]
        },
        curvature: |_| [-1.0 / ARC, 1.0 / ARC],
        ends: [-1500.0, 1500.0],
    };
    let all = stations(body.ends, 21, None);
    let between = &all[1..20];
    let mut lines = exact(&body, between, 0.2);
    let tip = |x: f64| End::Tip {
        x,
        height: 0.0,
        form: Tip::Pointed,
    };
    lines.body_mut().ends = Ends {
        fore: tip(-1500.0),
        aft: tip(1500.0),
    };
    let [first, second] = [1, 2].map(|method| misses(&lofted(&lines, method), &body, &all));
    tell("ogive", 1, first);
    tell("ogive", 2, second);
    assert!(second[0] < 0.035 && second[1] < 0.01 && second[2] < 0.003);
}

/// The radius of a body at a share of its length, against its largest.
type Growth = fn(f64) -> f64;

#[test]
fn two_three_and_four_stations_loft_as_far_as_they_tell() {
    // Sections grow along the body by a polynomial: two stations tell a cone, three a parabola, four a cubic.
    let growths: [(usize, Growth); 3] = [
        (2, |s| 0.6 + 0.4 * s),
        (3, |s| 0.6 + 0.7 * s - 0.3 * s * s),
        (4, |s| 0.6 + 0.7 * s - 0.2 * s * s - 0.3 * s * s * s),
    ];
    for (count, growth) in growths {
        let place = |x: f64, t: f64| {
            let radius = 400.0 * growth(x / 3000.0);
            [radius * (PI * t).sin(), radius * (PI * t).cos()]
        };
        let section = |k: usize| {
            let x = 3000.0 * k as f64 / (count - 1) as f64;
            let points = (0..=ROUND).map(|i| {
                let on = match i {
                    0 => On::Crown,
                    ROUND => On::Keel,
                    _ => On::Free,
                };
                (on, place(x, f64::from(i) / f64::from(ROUND)))
            });
            (x, points.collect())
        };
        let table: Table = (0..count).map(section).collect();
        let loft = lofted(&made(&table, 0.2), 2);
        let mut largest: f64 = 0.0;
        for k in 0..=60 {
            let x = 50.0 * f64::from(k);
            let radius = place(x, 0.0)[1];
            for j in 0..=40 {
                let at = loft.surface().position(loft.u_at(x), f64::from(j) / 40.0);
                largest = largest.max((at.y.hypot(at.z) - radius).abs());
            }
        }
        println!("{count} stations: off by {largest:.4} mm");
        // Of this the sections' own 15 points make 0.06 mm, at the stations as between them.
        assert!(largest < 0.1, "{count} stations");
    }
}

#[test]
fn an_end_that_is_read_in_part_goes_on_as_smoothly_as_before() {
    // The aft station shows its upper half alone: below, nothing is there to be met, and the energy carries the surface.
    let body = spheroid();
    let stations = stations(body.ends, 16, None);
    let mut table = read(&body, &stations, (0.0, &mut Dice::of(1)));
    table[15].1.truncate(8);
    let lines = made(&table, 0.2);
    let radius = (body.at)(stations[15], 0.0)[1];
    let off = |method: u32| {
        let loft = lofted(&lines, method);
        let at = loft.surface().position(loft.u_at(stations[15]), 1.0);
        (at.y.hypot(at.z) - radius).abs()
    };
    let [first, second] = [off(1), off(2)];
    println!(
        "keel of a station whose upper half was read: off by {first:.2} mm, then {second:.2} mm"
    );
    assert!(second < first + 0.5);
}

#[test]
fn a_law_s_control_lines_keep_their_curvature_too() {
    let body = arc();
    let stations = stations(body.ends, 21, None);
    let table: Table = stations
        .iter()
        .map(|x| {
            let breadth = On::RunLine(RunLineId(0));
            let at = |t: f64| (body.at)(*x, t);
            let points = vec![
                (On::Crown, at(0.0)),
                (breadth, at(0.5)),
                (On::Keel, at(1.0)),
            ];
            (*x, points)
        })
        .collect();
    let mut lines = made(&table, 0.05);
    lines.body_mut().run_lines = vec![RunLine {
        id: RunLineId(0),
        name: "breadth".to_owned(),
        kind: RunKind::Smooth,
        joint: false,
    }];
    lines.body_mut().law = Some(Law {
        breadth: RunLineId(0),
        upper: Shoulder::Rho(0.414),
        lower: Shoulder::Rho(0.414),
    });
    let [first, second] = [1, 2].map(|method| misses(&lofted(&lines, method), &body, &stations));
    tell("arc by law", 1, first);
    tell("arc by law", 2, second);
    // The net follows the law within 0.01 mm, which costs its curvature as much again.
    assert!(second[0] < 0.05 && second[1] < 0.02);
}

/// Codes of 10,000 jets each, as the loft had them before there was a second method; of 11 and 12 stations it halves bays.
const FIRST_METHOD: [(&str, &str); 5] = [
    (
        "demo",
        "23ef76825d701585f65bc713bb58d6fb336f5d52451c6139112107853e45c229",
    ),
    (
        "schema 3, L",
        "a11572f1843e47ac3e49598e43ac8b635f26c96ec840e2976747c9c889454e59",
    ),
    (
        "made 5",
        "3055844e7d6ab5dfb46d1123b01967ad233eea5a03ecfd426f66175649c1e43e",
    ),
    (
        "made 6",
        "d95f5518c9741911da096928b6b768e425bdf292d429a7058ce6908749c00063",
    ),
    (
        "made 9",
        "769ff4dd190b5f4c7931785e6d63c4b436042874221aeb54d9b8873e7820c36b",
    ),
];

#[test]
fn what_was_lofted_by_the_first_method_keeps_its_bits() {
    let data = |name: &str| {
        let path = format!("{}/tests/data/{name}", env!("CARGO_MANIFEST_DIR"));
        std::fs::read(path).unwrap()
    };
    let sheet = read_table(&data("demo_offsets.csv"), &TableOptions::default()).unwrap();
    let made = |seed: u64| {
        let read = bodies::made(seed);
        by_method(&read.body.lines(&read.table), 1)
    };
    // The frozen samples have the method they were lofted by; of those that are whole bodies, this is the one with a law.
    let frozen = read_folder(&data("schema_3.json")).unwrap().revisions;
    let ruled = frozen.into_iter().find(|revision| revision.label == "L");
    let all = [
        by_method(&sheet.lines(), 1),
        ruled.unwrap().lines,
        made(5),
        made(6),
        made(9),
    ];
    for (lines, (name, code)) in all.iter().zip(FIRST_METHOD) {
        assert_eq!(lines.body.method, 1, "{name}");
        let loft = Loft::build(&lines.body).unwrap();
        assert_eq!(loft.check_code(), code, "{name}");
    }
}
