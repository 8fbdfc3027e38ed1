//! The files a person takes away, read back by programs that no one here wrote.
//!
//! STEP by `OpenCASCADE`, XLSX and CSV by openpyxl and Python's csv, GLB by the standard's validator; the batch job as a
//! person runs it; and that the same lines give the same bytes. `UPDATE=1` rewrites the kept files under `tests/data/pack`.
#![expect(
    clippy::unwrap_used,
    clippy::expect_used,
    reason = "a test ends at its first fault"
)]

mod support {
    pub mod installed;
    #[expect(dead_code, reason = "other tests read other things back")]
    pub mod readers;
}

use std::fmt::Write;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};
use std::sync::Arc;

use geometry::document::{self, Lines, On, RunKind, TableOptions, Tip, read_folder, read_table};
use geometry::fair::verdict::judge;
use geometry::loft::{Loft, Lofted};
use geometry::num;
use geometry::shop::{OffsetsOptions, Stations, tabulate_offsets};
use geometry::spline::{Knots, MeshOptions, Surface, measure, mesh};
use geometry::units::LengthUnit;
use geometry::write::{GlbOptions, StepOptions, write_csv, write_glb, write_step, write_xlsx};
use serde_json::{Value, json};
use support::readers::{read_back, validate_glb};

const STEP: StepOptions<'_> = StepOptions {
    name: "Probe's body, größer",
    description: "made for a test",
};
const GLB: GlbOptions<'_> = GlbOptions {
    name: "Probe's body, größer",
    description: "made for a test",
};
const FINENESS: MeshOptions = MeshOptions {
    deviation: 1.0,
    longest: 400.0,
};

/// A place or a direction.
type Triple = [f64; 3];

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

/// Where the files of these tests go.
fn folder() -> PathBuf {
    let folder = root().join("target/pack");
    std::fs::create_dir_all(&folder).unwrap();
    folder
}

fn demo() -> Lines {
    let bytes = std::fs::read(root().join("tests/data/demo_offsets.csv")).unwrap();
    read_table(&bytes, &TableOptions::default())
        .unwrap()
        .lines()
}

/// What a body should look like in a file.
struct Body {
    name: &'static str,
    surface: Surface,
    shells: usize,
    faces: usize,
    /// Edges with one face, and with two.
    edges: [usize; 2],
    /// Tips: edges that are points, one for each face there.
    points: usize,
    closed: bool,
}

/// Coefficients of a cubic spline that is `a + b t + c t²`: its polar form at three knots.
///
/// # Source
/// Ramshaw, *Blossoming* (1987), from memory; `jet`s of `Surface` are tested against closed forms of their own.
fn quadratic(knots: &Knots, [a, b, c]: [f64; 3]) -> Vec<f64> {
    let k = knots.knots();
    (1..=knots.count())
        .map(|i| {
            let [r, s, t] = [k[i], k[i + 1], k[i + 2]];
            a + b * (r + s + t) / 3.0 + c * (r * s + s * t + t * r) / 3.0
        })
        .collect()
}

/// Wigley's parabolic hull, `y = B/2 (1 − (2x/L)²)(1 − (z/T)²)` with L = 10 m, B = 1 m, T = 0.625 m, in mm, its deck at a
/// height of 1 m. Its stems lie in the centre plane. A bicubic net has it exactly.
///
/// # Source
/// The formula is the standard one of ship hydrodynamics, from memory.
fn wigley() -> Surface {
    let u = Knots::clamped(&[-1.0, -0.5, 0.2, 1.0]).unwrap();
    let v = Knots::clamped(&[0.0, 0.3, 1.0]).unwrap();
    let x = quadratic(&u, [5000.0, 5000.0, 0.0]);
    let along = quadratic(&u, [1.0, 0.0, -1.0]);
    let down = quadratic(&v, [500.0, 0.0, -500.0]);
    let height = quadratic(&v, [1000.0, -625.0, 0.0]);
    let y = along
        .iter()
        .flat_map(|a| down.iter().map(move |b| a * b))
        .collect();
    let z = along.iter().flat_map(|_| height.clone()).collect();
    Surface::new(u, v, x, y, z)
}

/// How the ends of a round body are.
#[derive(Clone, Copy, PartialEq)]
enum End {
    Open,
    Pointed,
    /// x starts as a parabola, the radius in proportion to its root.
    Blunt,
}

/// A round body in closed form of its net: `girth` of the way from crown (0) to keel (1), with knuckles.
fn round_body(ends: [End; 2], girth: [f64; 2], knuckles: &[f64]) -> Surface {
    let u = Knots::clamped(&[0.0, 0.5, 1.1, 2.0, 2.6, 3.3, 4.0]).unwrap();
    let mut breaks: Vec<(f64, usize)> = (0..=8).map(|i| (f64::from(i) / 8.0, 1)).collect();
    for knuckle in knuckles {
        let at = breaks.iter_mut().find(|(v, _)| num::same(*v, *knuckle));
        at.unwrap().1 = 3;
    }
    let v = Knots::with_multiplicities(&breaks).unwrap();
    let x = if ends[0] == End::Blunt {
        quadratic(&u, [200.0, 0.0, 250.0])
    } else {
        quadratic(&u, [200.0, 1000.0, 0.0])
    };
    let last = u.count() - 1;
    let across = v.greville();
    let (mut y, mut z) = (Vec::new(), Vec::new());
    for (row, at) in u.greville().into_iter().enumerate() {
        let tip = (row == 0 && ends[0] != End::Open) || (row == last && ends[1] != End::Open);
        let radius = if tip {
            0.0
        } else {
            300.0 + 200.0 * num::sin(at)
                - if ends[0] == End::Open {
                    0.0
                } else {
                    250.0 / (1.0 + 3.0 * at)
                }
        };
        for (column, share) in across.iter().enumerate() {
            let v = girth[0] + (girth[1] - girth[0]) * share;
            let angle = core::f64::consts::PI * v;
            let centre = (column == 0 && num::same(v, 0.0))
                || (column + 1 == across.len() && num::same(v, 1.0));
            let bump = if knuckles.iter().any(|k| (k - share).abs() < 1e-9) {
                1.15
            } else {
                1.0
            };
            y.push(if centre {
                0.0
            } else {
                bump * radius * num::sin(angle)
            });
            z.push(900.0 + 30.0 * at + bump * radius * num::cos(angle));
        }
    }
    Surface::new(u, v, x, y, z)
}

fn bodies() -> Vec<Body> {
    use End::{Blunt, Open, Pointed};
    let mut knuckled = demo();
    knuckled.body_mut().run_lines[0].kind = RunKind::Knuckle;
    let loft = |lines: &Lines| Loft::build(&lines.body).unwrap().surface().clone();
    let mut tipped = demo();
    let plain = loft(&tipped);
    let middle = |u: f64| f64::midpoint(plain.position(u, 0.0).z, plain.position(u, 1.0).z);
    let (first, last) = plain.u_knots().domain();
    let tip = |x, height, form| document::End::Tip { x, height, form };
    tipped.body_mut().ends = document::Ends {
        fore: tip(first - 150.0, middle(first), Tip::Blunt),
        aft: tip(last + 300.0, middle(last), Tip::Pointed),
    };
    let body = |name, surface, [shells, faces, free, shared, points]: [usize; 5]| Body {
        name,
        surface,
        shells,
        faces,
        edges: [free, shared],
        points,
        closed: free == 0,
    };
    vec![
        // Two seams shared; two ends free on each side.
        body("demo", loft(&demo()), [1, 2, 4, 2, 0]),
        // A knuckle more on each side, and each end in two.
        body("demo-knuckle", loft(&knuckled), [1, 4, 8, 4, 0]),
        body("demo-tips", loft(&tipped), [1, 2, 0, 2, 4]),
        body(
            "barrel",
            round_body([Open; 2], [0.0, 1.0], &[]),
            [1, 2, 4, 2, 0],
        ),
        body(
            "blunt",
            round_body([Blunt, Open], [0.0, 1.0], &[]),
            [1, 2, 2, 2, 2],
        ),
        body(
            "pointed",
            round_body([Open, Pointed], [0.0, 1.0], &[0.5]),
            [1, 4, 4, 4, 4],
        ),
        // No edge is free: a closed shell.
        body(
            "egg",
            round_body([Blunt, Pointed], [0.0, 1.0], &[0.25, 0.5]),
            [1, 6, 0, 6, 12],
        ),
        // Edges at the sides are free, the keel is shared.
        body(
            "lower",
            round_body([Open; 2], [0.5, 1.0], &[]),
            [1, 2, 6, 1, 0],
        ),
        // Nothing lies in the centre plane.
        body(
            "belt",
            round_body([Open; 2], [0.25, 0.75], &[]),
            [2, 2, 8, 0, 0],
        ),
        // Keel and both stems shared.
        body("wigley", wigley(), [1, 2, 2, 3, 0]),
    ]
}

/// Places on all faces of a body's file, with what should be there: face, u, v; place and outward normal.
fn samples(surface: &Surface) -> Vec<([f64; 3], [Triple; 2])> {
    let (u, v) = (surface.u_knots(), surface.v_knots());
    let k = v.knots();
    let mut strips = vec![0.0];
    strips.extend(
        v.breaks()
            .into_iter()
            .filter(|b| k.iter().filter(|knot| num::same(**knot, *b)).count() == 3),
    );
    strips.push(1.0);
    let count = strips.len() - 1;
    let mut out = Vec::new();
    for (strip, ends) in strips.windows(2).enumerate() {
        for i in 0..=20 {
            for j in 0..=12 {
                let at = |[a, b]: [f64; 2], share: f64| a + (b - a) * share;
                let (first, last) = u.domain();
                let u = at([first, last], f64::from(i) / 20.0);
                let v = at([ends[0], ends[1]], f64::from(j) / 12.0);
                let span_u = surface.u_knots().span_at(u);
                let span_v = if j == 12 {
                    surface.v_knots().span_before(v)
                } else {
                    surface.v_knots().span_at(v)
                };
                let jet = surface.jet_on(span_u, span_v, u, v);
                // No normal where the section is one point.
                let normal = if jet.v.length() > 1e-3 {
                    jet.normal().to_array()
                } else {
                    [f64::NAN; 3]
                };
                let place = jet.s.to_array();
                for (face, hand) in [(strip, 1.0), (strip + count, -1.0)] {
                    let turned = |[x, y, z]: [f64; 3]| [x, y * hand, z];
                    out.push(([face as f64, u, v], [turned(place), turned(normal)]));
                }
            }
        }
    }
    out
}

#[test]
fn an_independent_reader_finds_the_same_bodies_in_step() {
    let bodies = bodies();
    let mut jobs = Vec::new();
    for body in &bodies {
        let path = folder().join(format!("{}.step", body.name));
        std::fs::write(&path, write_step(&body.surface, &STEP)).unwrap();
        let samples: Vec<[f64; 3]> = samples(&body.surface).iter().map(|(at, _)| *at).collect();
        jobs.push(json!({"path": path, "samples": samples}));
    }
    let tables = tables();
    let Some(facts) = read_back(&json!({
        "step": jobs,
        "tables": tables.iter().map(|(paths, _)| paths.clone()).collect::<Vec<Value>>(),
    })) else {
        return;
    };
    let mut report = String::new();
    for (body, facts) in bodies.iter().zip(facts["step"].as_array().unwrap()) {
        same_body(body, facts, &mut report);
    }
    // The volume in closed form is 4/9 of the block's; the area, both sides without the deck, is by adaptive quadrature
    // of the formula with scipy.
    let ours = measure(&wigley());
    assert!((ours.volume / (4.0 / 9.0 * 10.0 * 0.625 * 1e9) - 1.0).abs() < 1e-12);
    let theirs = facts["step"].as_array().unwrap().last().unwrap()["area"].as_f64();
    for area in [ours.area, theirs.unwrap()] {
        assert!((area / 14.879_063_104_957_8e6 - 1.0).abs() < 1e-9, "{area}");
    }
    for ((paths, rows), facts) in tables.iter().zip(facts["tables"].as_array().unwrap()) {
        same_table(paths, *rows, facts);
    }
    std::fs::write(folder().join("step.txt"), report).unwrap();
}

/// The facts of one STEP file are those of the body.
fn same_body(body: &Body, facts: &Value, report: &mut String) {
    let name = body.name;
    assert_eq!(facts["read"], true, "{name}");
    assert_eq!(facts["faults"], json!([]), "{name}");
    assert_eq!(facts["complaints"], false, "{name}: {facts}");
    assert_eq!(facts["valid"], true, "{name}: {facts}");
    assert_eq!(facts["all_splines"], true, "{name}");
    let numbers = ["shells", "faces", "free_edges", "shared_edges", "points"]
        .map(|key| facts[key].as_u64().unwrap());
    let expected = [
        body.shells,
        body.faces,
        body.edges[0],
        body.edges[1],
        body.points,
    ]
    .map(|n| n as u64);
    assert_eq!(
        numbers, expected,
        "{name}: shells, faces, free and shared edges, tips"
    );
    assert_eq!(
        facts["closed"],
        json!(vec![body.closed; body.shells]),
        "{name}"
    );

    let ours = measure(&body.surface);
    let area = facts["area"].as_f64().unwrap() / ours.area - 1.0;
    assert!(area.abs() < 1e-6, "{name}: area off by {area}");
    let mut volume = 0.0;
    if body.closed {
        // Positive where the faces look outward.
        volume = facts["volume"].as_f64().unwrap() / ours.volume - 1.0;
        assert!(volume.abs() < 1e-6, "{name}: volume off by {volume}");
    }
    let (mut off, mut turned, mut normals) = (0.0_f64, 0.0_f64, 0);
    let samples = samples(&body.surface);
    let seen = facts["samples"].as_array().unwrap();
    assert_eq!(seen.len(), samples.len());
    for (seen, (at, [place, normal])) in seen.iter().zip(&samples) {
        let seen: Vec<f64> = seen
            .as_array()
            .unwrap()
            .iter()
            .map(|n| n.as_f64().unwrap())
            .collect();
        for k in 0..3 {
            let miss = (seen[k] - place[k]).abs();
            assert!(miss < 1e-3, "{name} at {at:?}: {seen:?} for {place:?}");
            off = off.max(miss);
            if normal[0].is_finite() {
                let miss = (seen[3 + k] - normal[k]).abs();
                assert!(miss < 1e-6, "{name} at {at:?}: {seen:?} for {normal:?}");
                turned = turned.max(miss);
            }
        }
        normals += usize::from(normal[0].is_finite());
    }
    assert!(normals > samples.len() * 8 / 10);
    writeln!(
        report,
        "{name}: area {area:.1e}, volume {volume:.1e}, {} places within {off:.1e} mm, normals {turned:.1e}, tolerance {}",
        samples.len(),
        facts["largest_tolerance"]
    )
    .unwrap();
}

/// Tables as CSV and XLSX, where they lie, and how many rows each has.
fn tables() -> Vec<(Value, usize)> {
    let lofted = Lofted::build(Arc::new(demo())).unwrap();
    let units = [
        ("mm", LengthUnit::Millimetres),
        ("in", LengthUnit::Inches),
        ("ft", LengthUnit::FeetInchesEighths),
    ];
    let mut out = Vec::new();
    for (name, unit) in units {
        for (spacing, stations) in [("own", Stations::Own), ("every", Stations::Every(333.0))] {
            let table = tabulate_offsets(&lofted, &OffsetsOptions { stations, unit });
            let [csv, xlsx] =
                ["csv", "xlsx"].map(|end| folder().join(format!("offsets-{name}-{spacing}.{end}")));
            std::fs::write(&csv, write_csv(&table)).unwrap();
            std::fs::write(&xlsx, write_xlsx(&table).unwrap()).unwrap();
            out.push((json!({"csv": csv, "xlsx": xlsx}), table.rows.len()));
        }
    }
    out
}

/// The spreadsheet shows cell for cell what the CSV says; lengths in decimals are numbers there.
fn same_table(paths: &Value, rows: usize, facts: &Value) {
    let csv = facts["csv"].as_array().unwrap();
    let (csv, notes) = csv.split_at(rows + 1);
    assert!(
        notes
            .iter()
            .all(|row| row[0].as_str().unwrap().starts_with('#')),
        "{paths}"
    );
    assert_eq!(facts["created"], "2000-01-01 00:00:00");
    let sheet = facts["sheets"]["Offsets"].as_array().unwrap();
    assert_eq!(sheet.len(), csv.len(), "{paths}");
    let (mut numbers, mut texts) = (0, 0);
    for (row, (sheet, csv)) in sheet.iter().zip(csv).enumerate() {
        let (sheet, csv) = (sheet.as_array().unwrap(), csv.as_array().unwrap());
        assert_eq!(sheet.len(), csv.len(), "{paths} row {row}");
        for (cell, text) in sheet.iter().zip(csv) {
            let format = cell[1].as_str().unwrap();
            let shown = match &cell[0] {
                Value::Null => String::new(),
                Value::String(text) => {
                    texts += 1;
                    text.clone()
                }
                number => {
                    numbers += 1;
                    let decimals = format.strip_prefix("0.").unwrap_or_default().len();
                    format!("{:.decimals$}", number.as_f64().unwrap())
                }
            };
            assert_eq!(shown, text.as_str().unwrap(), "{paths} row {row}");
        }
    }
    let feet = paths["csv"].as_str().unwrap().contains("-ft-");
    assert!(
        texts > rows && numbers >= if feet { rows } else { 10 * rows },
        "{paths}: {numbers} numbers, {texts} texts"
    );
}

#[test]
fn the_validator_of_the_standard_finds_nothing_in_glb() {
    let bodies = bodies();
    let files: Vec<PathBuf> = bodies
        .iter()
        .map(|body| {
            let path = folder().join(format!("{}.glb", body.name));
            let mesh = mesh(&body.surface, &FINENESS).with_port();
            std::fs::write(&path, write_glb(&mesh, &GLB).unwrap()).unwrap();
            path
        })
        .collect();
    let Some(reports) = validate_glb(&files) else {
        return;
    };
    let reports = reports.as_array().unwrap();
    assert_eq!(reports.len(), files.len());
    for (body, report) in bodies.iter().zip(reports) {
        let issues = &report["issues"];
        for kind in ["numErrors", "numWarnings", "numInfos", "numHints"] {
            assert_eq!(issues[kind], 0, "{}: {issues}", body.name);
        }
        let triangles = mesh(&body.surface, &FINENESS).triangles.len();
        assert_eq!(report["info"]["totalTriangleCount"], 2 * triangles);
    }
}

#[test]
fn the_same_lines_give_the_same_bytes() {
    let files = || {
        let lofted = Lofted::build(Arc::new(demo())).unwrap();
        let loft = lofted.loft();
        let options = OffsetsOptions {
            stations: Stations::Own,
            unit: LengthUnit::Millimetres,
        };
        let table = tabulate_offsets(&lofted, &options);
        [
            write_step(loft.surface(), &STEP),
            write_glb(&mesh(loft.surface(), &FINENESS).with_port(), &GLB).unwrap(),
            write_csv(&table),
            write_xlsx(&table).unwrap(),
        ]
    };
    assert!(files() == files());
}

/// A file that is kept as it should be.
#[track_caller]
fn kept(name: &str, bytes: &[u8]) {
    let path = root().join("tests/data/pack").join(name);
    if std::env::var_os("UPDATE").is_some() {
        std::fs::write(&path, bytes).unwrap();
    }
    let expected = std::fs::read(&path).unwrap();
    let same = expected
        .iter()
        .zip(bytes)
        .take_while(|(a, b)| a == b)
        .count();
    assert!(
        expected == bytes,
        "{name} differs from byte {same} on; if it should, run with UPDATE=1 and say why in the commit"
    );
}

#[test]
fn the_forms_stay_as_they_are() {
    let surface = wigley();
    let coarse = MeshOptions {
        deviation: 40.0,
        longest: f64::INFINITY,
    };
    kept("wigley.step", &write_step(&surface, &STEP));
    kept(
        "wigley.glb",
        &write_glb(&mesh(&surface, &coarse).with_port(), &GLB).unwrap(),
    );
}

/// Runs the batch job as a person does.
fn issue(words: &[&str]) -> Output {
    let cargo = std::env::var_os("CARGO").unwrap_or_else(|| "cargo".into());
    // With both packages, so that what `cargo test` has built is used again.
    let built = Command::new(cargo)
        .args([
            "build",
            "--quiet",
            "--locked",
            "-p",
            "scrieve-board",
            "-p",
            "geometry",
            "--example",
            "issue",
        ])
        .current_dir(root())
        .status()
        .unwrap();
    assert!(built.success());
    let here = std::env::current_exe().unwrap();
    let profile = here.parent().unwrap().parent().unwrap();
    Command::new(
        profile
            .join("examples")
            .join(format!("issue{}", std::env::consts::EXE_SUFFIX)),
    )
    .args(words)
    .current_dir(root())
    .output()
    .unwrap()
}

/// Not faired, the report says the same things of what was read, and nothing of moves.
fn only_what_was_read_is_told(report: &Value, lines: usize) {
    for key in ["lines", "suspects", "hollows", "hollows_untold"] {
        assert!(report[key].is_array(), "{key}");
    }
    assert_eq!(report["lines"].as_array().unwrap().len(), lines);
    assert!(report["moves"].is_null());
}

/// The demo has one misprint, at STA 48.
fn one_misprint_is_told(report: &Value) {
    let suspects = report["suspects"].as_array().unwrap();
    assert_eq!(suspects.len(), 1);
    for (key, value) in [
        ("station", "48"),
        ("line", "WL 32"),
        ("typed", "1-2-3"),
        ("proposed", "1-3-2"),
        ("slip", "inches and eighths changed places"),
    ] {
        assert_eq!(suspects[0][key], value);
    }
}

/// The demo has one hollow, below STA 101; without its readings the keel runs fair.
fn one_hollow_is_told(report: &Value) {
    let hollows = report["hollows"].as_array().unwrap();
    assert_eq!(hollows.len(), 1);
    let hollow = &hollows[0];
    assert_eq!(hollow["kind"], "hollow");
    let [from, to] = ["from_x", "to_x"].map(|key| hollow[key].as_f64().unwrap());
    assert!(from < 2565.4 && 2565.4 < to);
    let aside = hollow["advice"]["set_aside"].as_array().unwrap();
    assert_eq!(hollow["points"], aside.len());
    assert!(aside.contains(&"STA 101, keel".into()));
    assert!((8.0..12.0).contains(&hollow["largest_mm"].as_f64().unwrap()));
    let mut out_of_it = hollow["advice"]["comes_out"].as_array().unwrap().iter();
    let keel = out_of_it.find(|line| line["line"] == "keel").unwrap();
    assert!(keel["tolerances_before"].as_f64().unwrap() > 1.0);
    assert!(keel["tolerances_after"].as_f64().unwrap() <= 1.0);
}

#[test]
fn the_batch_job_writes_all_its_files() {
    let read = |folder: &Path, name: &str| std::fs::read(folder.join(name)).unwrap();
    let out = folder().join("issue");
    let told = issue(&[
        "tests/data/demo_offsets.csv",
        out.to_str().unwrap(),
        "--fair",
        "--at",
        "838.2,WL:508",
        "--at",
        "838.2,BL:101.6",
        "--at",
        "838.2,BLU:101.6",
    ]);
    assert!(told.status.success(), "{told:?}");
    let report: Value = serde_json::from_slice(&read(&out, "report.json")).unwrap();
    let lines = read_folder(&read(&out, "lines.json")).unwrap().lines;
    let loft = Loft::build(&lines.body).unwrap();
    assert_eq!(report["fingerprint"], lines.fingerprint().full());
    // The surface is faired: the readings stand, and points lie elsewhere, but none past its tolerance.
    let read_as = |lines: &Lines| -> Vec<_> {
        let readings = lines.body.points.iter().map(|point| point.readings.clone());
        readings.collect()
    };
    assert_eq!(read_as(&lines), read_as(&demo()));
    let offsets = lines.body.offsets();
    let off = |offset: &document::Offset| {
        let [y, z] = [0, 1].map(|k| offset.accepted[k] - offset.recorded[k]);
        num::hypot(y, z)
    };
    assert!(offsets.iter().flatten().any(|offset| off(offset) > 0.3));
    let [after, before] = [&lines, &demo()].map(|lines| {
        let loft = Loft::build(&lines.body).unwrap();
        let keel = judge(&loft, On::Keel, None, &|| false).unwrap();
        keel.judged.unwrap().needed
    });
    assert!(after < before, "{after} of {before}");
    assert_eq!(report["stations"], 16);
    assert_eq!(report["points"], loft.points().len());
    for key in [
        "largest_residual_mm",
        "rms_residual_mm",
        "wetted_area_mm2",
        "volume_mm3",
    ] {
        assert!(
            report[key].as_f64().is_some_and(|value| value > 0.0),
            "{key}"
        );
    }
    for line in ["keel", "crown"] {
        let nodes = report[line].as_array().unwrap();
        assert!(nodes.len() > 20);
        for node in nodes {
            for key in ["x_mm", "height_mm", "slope", "curvature_per_mm"] {
                assert!(node[key].is_number(), "{line} {key}");
            }
        }
    }
    let verdicts = report["lines"].as_array().unwrap();
    let of = |name: &str| verdicts.iter().find(|line| line["name"] == name).unwrap();
    assert_eq!(of("keel")["verdict"], "unfair");
    let [from, to] = ["from_x", "to_x"].map(|key| of("keel")[key].as_f64().unwrap());
    assert!(
        from < 2565.4 && 2565.4 < to,
        "STA 101 lies in {from} to {to}"
    );
    assert!(of("keel")["needed_mm"].as_f64().unwrap() > of("keel")["allowed_mm"].as_f64().unwrap());
    assert_eq!(of("crown")["verdict"], "fair within readings");
    assert_eq!(of("BL 12")["verdict"], "not judged");
    one_misprint_is_told(&report);
    one_hollow_is_told(&report);
    let past = report["moves"]["past tolerance"].as_array().unwrap();
    assert!(past.contains(&"STA 48, WL 32".into()) && past.contains(&"STA 101, keel".into()));
    assert!(
        report["moves"]["rms"].as_f64().unwrap() < report["moves"]["largest"].as_f64().unwrap()
    );
    // What stays for its tolerance is no part of what was moved, and the accepted moves are remembered.
    let largest = report["moves"]["largest"].as_f64().unwrap();
    assert!((0.5..3.0).contains(&largest), "{largest}");
    let [taken] = &lines.body.taken[..] else {
        panic!("one fairing was taken")
    };
    assert!({ taken.moves.iter() }.all(|moved| !moved.past && moved.point != "STA 101, keel"));
    let pick_ups = report["pick_ups"].as_array().unwrap();
    assert_eq!(pick_ups.len(), 3);
    let z = |k: usize| pick_ups[k]["position"][2].as_f64().unwrap();
    assert!((z(0) - 508.0).abs() < 1e-6);
    assert!(
        z(1) < z(2),
        "BL is the keel-side point, BLU the crown-side one"
    );
    for at in pick_ups {
        assert_eq!(at["normal"].as_array().unwrap().len(), 3);
        assert_eq!(at["principal_curvatures"].as_array().unwrap().len(), 2);
        assert!(at["radius_along_mm"].is_number() && at["radius_across_mm"].is_number());
    }
    assert!(read(&out, "shell.step").starts_with(b"ISO-10303-21;"));
    assert!(read(&out, "shell.glb").starts_with(b"glTF"));
    assert!(read(&out, "offsets.xlsx").starts_with(b"PK"));

    // The document it wrote gives the same again, byte by byte.
    let again = folder().join("issue-again");
    let lines_file = out.join("lines.json");
    let told = issue(&[lines_file.to_str().unwrap(), again.to_str().unwrap()]);
    assert!(told.status.success(), "{told:?}");
    for name in [
        "lines.json",
        "offsets.csv",
        "offsets.xlsx",
        "shell.step",
        "shell.glb",
        "sheets.pdf",
        "sheets.zip",
    ] {
        assert!(read(&out, name) == read(&again, name), "{name}");
    }
    let report: Value = serde_json::from_slice(&read(&again, "report.json")).unwrap();
    only_what_was_read_is_told(&report, verdicts.len());
}

/// Frozen before they are issued, the lines hold their revision and what was issued of it; what is unsettled is held back.
#[test]
fn the_batch_job_freezes_what_it_issues() {
    let read = |folder: &Path, name: &str| std::fs::read(folder.join(name)).unwrap();
    let out = folder().join("issue-frozen");
    let told = issue(&[
        "tests/data/demo_offsets.csv",
        out.to_str().unwrap(),
        "--freeze",
        "B",
        "--day",
        "2026-03-21",
    ]);
    assert!(told.status.success(), "{told:?}");
    let folder = read_folder(&read(&out, "lines.json")).unwrap();
    let [frozen] = &folder.revisions[..] else {
        panic!("one revision was frozen")
    };
    assert_eq!(
        (frozen.label.as_str(), frozen.date.as_str()),
        ("B", "2026-03-21")
    );
    let [issued] = &frozen.issued[..] else {
        panic!("it was issued once")
    };
    let report: Value = serde_json::from_slice(&read(&out, "report.json")).unwrap();
    let sheets = report["sheets"].as_array().unwrap();
    let is = |sheet: &&Value| sheet["issued"] == true;
    let codes: Vec<&str> = { sheets.iter().filter(is) }
        .map(|sheet| sheet["code"].as_str().unwrap())
        .collect();
    assert_eq!(issued.sheets, codes);
    assert!(codes.contains(&"Lines plan") && codes.len() > 10);
    // Over the dent in the keel no board goes out, and it is said why.
    let held: Vec<&Value> = sheets
        .iter()
        .filter(|sheet| sheet["issued"] == false)
        .collect();
    assert!(!held.is_empty());
    let keel = |sheet: &&Value| sheet["unsettled"].to_string().contains("keel unfair");
    assert!(held.iter().any(keel), "{held:?}");
    let says = String::from_utf8(told.stderr).unwrap();
    assert!(says.contains("Held back: T-"), "{says}");
    assert!(read(&out, "sheets.pdf").starts_with(b"%PDF-"));
}

/// Settled, the keel lies where it was before anybody dented it, and the report says what was taken.
#[test]
fn the_batch_job_settles_what_asks_for_it() {
    let out = folder().join("issue-settled");
    let told = issue(&[
        "tests/data/demo_offsets.csv",
        out.to_str().unwrap(),
        "--settle",
    ]);
    assert!(told.status.success(), "{told:?}");
    let report = std::fs::read(out.join("report.json")).unwrap();
    let report: Value = serde_json::from_slice(&report).unwrap();
    let taken = report["settled"].as_array().unwrap();
    for row in taken {
        assert!(row["title"].is_string() && row["round"].is_u64(), "{row}");
    }
    let done = |title: &str| {
        let of = |row: &&Value| row["title"].as_str().unwrap().starts_with(title);
        let row = taken.iter().find(of).unwrap();
        row["done"].as_str().unwrap().to_owned()
    };
    assert!(done("STA 48, WL 32").starts_with("Put 1-3-2"));
    assert!(done("Hollow").starts_with("Set these 16 aside"));
    // What was read is told as it was read.
    one_misprint_is_told(&report);
    one_hollow_is_told(&report);
    let lines = read_folder(&std::fs::read(out.join("lines.json")).unwrap());
    let lines = lines.unwrap().lines;
    assert_eq!(report["fingerprint"], lines.fingerprint().full());
    let reasons = { lines.body.points.iter() }
        .flat_map(|point| point.readings.iter().filter_map(|r| r.set_aside.clone()))
        .filter(|reason| reason == "settled by --settle");
    assert_eq!(reasons.count(), 16);
    for line in ["keel", "crown"] {
        let nodes = report[line].as_array().unwrap();
        for station in &lines.body.stations {
            let mut at = nodes.iter().filter(|n| n["station"] == *station.label);
            let node = at.next().unwrap();
            assert!((node["x_mm"].as_f64().unwrap() - station.x).abs() < 1e-6);
            assert_eq!(at.next(), None);
        }
    }
    // The hollow that was planted there is nearly ten millimetres deep.
    let truth = std::fs::read_to_string(root().join("tests/data/demo_truth.csv")).unwrap();
    let row = truth.lines().find(|row| row.starts_with("101,keel,"));
    let truth: f64 = row.unwrap().split(',').nth(4).unwrap().parse().unwrap();
    let mut keel = report["keel"].as_array().unwrap().iter();
    let keel = keel.find(|node| node["station"] == "101").unwrap();
    let off = keel["height_mm"].as_f64().unwrap() - truth;
    assert!(off.abs() <= 2.0, "{off}");
}

#[test]
fn the_batch_job_says_what_is_wrong() {
    let out = folder().join("refused");
    let out = out.to_str().unwrap();
    for (words, sentence) in [
        (vec![], "issue IN OUT_DIR"),
        (vec!["nowhere.csv", out], "nowhere.csv can't be read"),
        (vec!["tests/pack.rs", out], ""),
        (
            vec!["tests/data/demo_offsets.csv", out, "--at", "838,WX:1"],
            "838,WX:1",
        ),
        (
            vec!["tests/data/demo_offsets.csv", out, "--at", "838.2,WL:9000"],
            "misses the section",
        ),
        (
            vec!["tests/data/demo_offsets.csv", out, "--at", "99999,WL:508"],
            "lies off the body",
        ),
        (
            vec!["tests/data/demo_offsets.csv", "tests/pack.rs"],
            "can't be made",
        ),
    ] {
        let told = issue(&words);
        let text = String::from_utf8(told.stderr).unwrap();
        assert_eq!(told.status.code(), Some(1), "{words:?}: {text}");
        assert!(
            text.contains(sentence) && text.len() > 15 && !text.contains("panicked"),
            "{words:?}: {text}"
        );
    }
}
