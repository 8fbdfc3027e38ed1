//! Files for machines that cut, and archives of them, read back by programs that no one here wrote: DXF by ezdxf, ZIP by
//! Python.
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

use core::f64::consts::{FRAC_PI_2, PI};
use std::path::PathBuf;
use std::sync::Arc;

use geometry::document::read_folder;
use geometry::issue::sheets::{Pack, PackOptions, PackPart, SheetKind};
use geometry::loft::Lofted;
use geometry::num;
use geometry::paper::{
    Dash, Fill, Hatch, Layer, PaperPoint, Path, Pen, Sheet, Step, Text, Typeface,
};
use geometry::shop::templates::{Board, wanted_boards};
use geometry::write::{DxfCurves, DxfOptions, Filed, MANIFEST, Manifest, file_name, write_dxf};
use serde_json::{Value, json};
use support::readers::read_cut;

const SIZE: (f64, f64) = (900.0, 400.0);

const TOLERANCES: [f64; 3] = [0.2, 0.02, 0.001];

/// A cubic Bézier curve: its ends and handles in order.
type Cubic = [PaperPoint; 4];

/// A parabola, y = 300 − x²/400 down the paper from x = −200 to 200, moved to the right by 300.
fn parabola() -> Cubic {
    let at = |x: f64, y: f64| (300.0 + x, y);
    let third = 200.0 / 3.0;
    [
        at(-200.0, 100.0),
        at(-third, 100.0 + 400.0 / 3.0),
        at(third, 100.0 + 400.0 / 3.0),
        at(200.0, 100.0),
    ]
}

/// The half of an ellipse over the parabola's ends, in two curves: from the right to the left.
fn ellipse() -> [Cubic; 2] {
    let (a, b) = (200.0, 60.0);
    let k = (2.0_f64.sqrt() - 1.0) * 4.0 / 3.0;
    let at = |x: f64, y: f64| (300.0 + x * a, 100.0 - y * b);
    [
        [at(1.0, 0.0), at(1.0, k), at(k, 1.0), at(0.0, 1.0)],
        [at(0.0, 1.0), at(-k, 1.0), at(-1.0, k), at(-1.0, 0.0)],
    ]
}

/// Half a wave.
fn wave() -> Cubic {
    [
        (520.0, 200.0),
        (620.0, 60.0),
        (700.0, 340.0),
        (860.0, 200.0),
    ]
}

/// All curves that the sheet's layers for cutting have, in their order.
fn contours() -> [Vec<Cubic>; 2] {
    let round = core::iter::once(parabola()).chain(ellipse()).collect();
    [round, vec![wave()]]
}

/// A contour with knuckles, a wave, boxes, a circle, an arc, hatching, ink and texts.
fn sheet() -> Sheet {
    let mut cut = Layer::new("cut");
    let mut contour = Path::default();
    contour.steps.push(Step::Move(parabola()[0]));
    for [_, out, back, to] in &contours()[0] {
        contour.steps.push(Step::Curve(*out, *back, *to));
    }
    contour.close();
    cut.draw_strokes(Pen::PART, contour);
    let mut bent = Path::default();
    bent.draw_curve(wave());
    cut.draw_strokes(Pen::PART, bent);

    let mut mark = Layer::new("mark");
    let mut boxes = Path::default();
    boxes.draw_box([20.0, 320.0, 80.0, 380.0]);
    boxes.draw_line([(100.0, 320.0), (160.0, 320.0), (160.0, 380.0)]);
    mark.draw_strokes(Pen::FINE.dashed(Dash::Chain), boxes);
    let mut round = Path::default();
    round.draw_circle((220.0, 350.0), 12.5);
    round.steps.push(Step::Move((300.0, 350.0)));
    round.steps.push(Step::Arc {
        centre: (280.0, 350.0),
        turn: -0.75 * PI,
    });
    mark.draw_strokes(Pen::EDGE, round);
    let mut hatched = Path::default();
    hatched.draw_box([400.0, 320.0, 430.0, 350.0]);
    let hatch = Hatch {
        spacing: 3.0,
        angle: 0.7,
    };
    mark.draw_edged(None, Fill::Hatch(hatch), hatched);
    let mut ink = Path::default();
    ink.draw_box([450.0, 320.0, 480.0, 350.0]);
    ink.draw_box([455.0, 325.0, 475.0, 345.0]);
    mark.draw_edged(None, Fill::Ink, ink);

    let mut letters = Layer::new("letters");
    letters.draw_text(Text::new((20.0, 20.0), 10.0, "Größe 1-3-2+ é"));
    letters.draw_text(
        Text::new((450.0, 40.0), 8.0, "Spant 4 · 30°")
            .middle()
            .bold(),
    );
    let turned = Text {
        turned: FRAC_PI_2,
        face: Typeface::Italic,
        ..Text::new((880.0, 380.0), 5.0, "\\U+00E9 ±0,5 %").end()
    };
    letters.draw_text(turned);

    let mut seen = Layer::new("seen");
    seen.clip = Some([560.0, 0.0, 900.0, 400.0]);
    let mut bent = Path::default();
    bent.draw_curve(wave());
    seen.draw_strokes(Pen::RULE.dashed(Dash::Short), bent);
    Sheet {
        title: "Schablone «größer»".to_owned(),
        size: SIZE,
        layers: vec![cut, mark, letters, seen],
    }
}

fn folder() -> PathBuf {
    PathBuf::from(env!("CARGO_TARGET_TMPDIR"))
}

fn written(name: &str, curves: DxfCurves) -> PathBuf {
    let options = DxfOptions {
        curves,
        description: "made for a test, größer",
    };
    let path = folder().join(name);
    std::fs::write(&path, write_dxf(&sheet(), &options).unwrap()).unwrap();
    path
}

fn on(curve: &Cubic, t: f64) -> PaperPoint {
    let value = |of: fn(&PaperPoint) -> f64| num::scalar::bernstein(&curve.each_ref().map(of), t);
    (value(|p| p.0), value(|p| p.1))
}

fn apart(a: PaperPoint, b: PaperPoint) -> f64 {
    num::hypot(a.0 - b.0, a.1 - b.1)
}

/// Distance from a straight stroke.
fn from_stroke(p: PaperPoint, [a, b]: [PaperPoint; 2]) -> f64 {
    let (dx, dy) = (b.0 - a.0, b.1 - a.1);
    let length = dx * dx + dy * dy;
    let share = ((p.0 - a.0) * dx + (p.1 - a.1) * dy) / length;
    let share = share.clamp(0.0, 1.0);
    apart(p, (a.0 + dx * share, a.1 + dy * share))
}

/// Distance from strokes in a row.
fn from_strokes(p: PaperPoint, points: &[PaperPoint]) -> f64 {
    let far = points
        .windows(2)
        .map(|pair| from_stroke(p, [pair[0], pair[1]]));
    far.fold(f64::INFINITY, f64::min)
}

/// So many strokes stand for a curve: they lie 1e-6 mm beside it, for its second derivative is under 2000 mm.
const STROKES: u32 = 20_000;

/// Points of a place list in a fact, on the sheet: its y runs down.
fn on_sheet(value: &Value) -> Vec<PaperPoint> {
    let places: Vec<PaperPoint> = serde_json::from_value(value.clone()).unwrap();
    places.into_iter().map(|(x, y)| (x, SIZE.1 - y)).collect()
}

fn of_kind<'f>(facts: &'f Value, kind: &str, layer: &str) -> Vec<&'f Value> {
    let all = facts["entities"].as_array().unwrap();
    all.iter()
        .filter(|entity| entity["kind"] == kind && entity["layer"] == layer)
        .collect()
}

/// Audited without a fault, of the 2000 version, in millimetres.
fn is_clean(facts: &Value) {
    assert_eq!(facts["errors"], json!([]));
    assert_eq!(facts["fixes"], json!([]));
    assert_eq!(facts["version"], "AC1015");
    assert_eq!((&facts["units"], &facts["metric"]), (&json!(4), &json!(1)));
}

fn is_sound(facts: &Value) {
    is_clean(facts);
    assert_eq!(facts["limits"], json!([SIZE.0, SIZE.1]));
    let layers = facts["layers"].as_array().unwrap();
    let named: Vec<&str> = layers
        .iter()
        .map(|layer| layer["name"].as_str().unwrap())
        .collect();
    // The last is the reader's own.
    assert_eq!(named, ["0", "cut", "mark", "letters", "seen", "Defpoints"]);
    assert!(layers.iter().all(|layer| layer["colour"] == 7));
    assert_eq!(
        (&layers[1]["weight"], &layers[1]["line"]),
        (&json!(50), &json!("Continuous"))
    );
    assert_eq!(
        (&layers[2]["weight"], &layers[2]["line"]),
        (&json!(18), &json!("chain"))
    );
    assert_eq!(facts["lines"]["chain"], json!([2.6, -0.8, 0.5, -0.8]));
    assert_eq!(facts["lines"]["Continuous"], json!([]));
    // The letters reach furthest to the right and up, the marks down.
    let extents: Vec<f64> = serde_json::from_value(facts["extents"].clone()).unwrap();
    assert!(
        (extents[0] - 20.0).abs() < 0.01 && extents[2] < SIZE.0,
        "{extents:?}"
    );
}

fn marks_are_as_drawn(facts: &Value) {
    let boxes = of_kind(facts, "LWPOLYLINE", "mark");
    let closed: Vec<bool> = boxes
        .iter()
        .map(|e| e["closed"].as_bool().unwrap())
        .collect();
    assert_eq!(closed, [true, false]);
    let circle = on_sheet(&of_kind(facts, "CIRCLE", "mark")[0]["points"]);
    assert!(
        circle
            .iter()
            .all(|p| (apart(*p, (220.0, 350.0)) - 12.5).abs() < 1e-6)
    );
    let arc = on_sheet(&of_kind(facts, "ARC", "mark")[0]["points"]);
    assert!(
        arc.iter()
            .all(|p| (apart(*p, (280.0, 350.0)) - 20.0).abs() < 1e-6)
    );
    // It leaves its beginning against the clock, as seen on the paper, by three eighths of a turn.
    let end = (
        280.0 + 20.0 * num::cos(0.75 * PI),
        350.0 - 20.0 * num::sin(0.75 * PI),
    );
    for want in [(300.0, 350.0), (280.0, 330.0), end] {
        let far = from_strokes(want, &arc);
        assert!(far < 2e-3, "{want:?}: {far}");
    }
    assert!(from_strokes((280.0, 370.0), &arc) > 5.0);
    let strokes = of_kind(facts, "LINE", "mark");
    assert!(strokes.len() > 8);
    for stroke in strokes {
        for (x, y) in on_sheet(&stroke["points"]) {
            assert!(
                (400.0 - 1e-6..=430.0 + 1e-6).contains(&x)
                    && (320.0 - 1e-6..=350.0 + 1e-6).contains(&y)
            );
        }
    }
    let ink = of_kind(facts, "HATCH", "mark");
    assert_eq!((ink.len(), &ink[0]["solid"]), (1, &json!(true)));
    assert_eq!(ink[0]["paths"].as_array().unwrap().len(), 2);
}

fn letters_are_read_back(facts: &Value) {
    let texts = of_kind(facts, "TEXT", "letters");
    let sheet = sheet();
    assert_eq!(texts.len(), 3);
    for (fact, text) in texts.iter().zip(&sheet.layers[2].texts) {
        assert_eq!(fact["says"], text.text.as_str());
        let height = fact["height"].as_f64().unwrap();
        let [_, top, _, _] = Text {
            turned: 0.0,
            ..text.clone()
        }
        .bounds();
        assert!(
            (height - (text.at.1 - top)).abs() < 1e-6,
            "as tall as its capitals"
        );
        let at = on_sheet(&json!([fact["at"]]))[0];
        assert!(apart(at, text.at) < 1e-6);
    }
    let said = |key: &str| -> Vec<&Value> { texts.iter().map(|text| &text[key]).collect() };
    assert_eq!(said("anchor"), ["LEFT", "CENTER", "RIGHT"]);
    assert_eq!(said("style"), ["regular", "bold", "italic"]);
    // A quarter clockwise.
    assert_eq!(said("turned"), [&json!(0.0), &json!(0.0), &json!(270.0)]);
    // The last ends at its place, and begins over it, for it runs down.
    let begins = on_sheet(&json!([texts[2]["begins"]]))[0];
    let last = &sheet.layers[2].texts[2];
    assert!(apart(begins, (880.0, 380.0 - last.width())) < 1e-6);
}

#[test]
fn splines_are_the_curves_themselves_and_arcs_as_near_as_said() {
    let mut files = vec![written("splines.dxf", DxfCurves::Splines)];
    for tolerance in TOLERANCES {
        files.push(written(
            &format!("arcs-{tolerance}.dxf"),
            DxfCurves::Arcs { tolerance },
        ));
    }
    let Some(facts) = read_cut(&json!({ "dxf": files, "archives": [] })) else {
        return;
    };
    let facts = facts["dxf"].as_array().unwrap();
    for fact in facts {
        is_sound(fact);
        marks_are_as_drawn(fact);
        letters_are_read_back(fact);
    }
    let splines = of_kind(&facts[0], "SPLINE", "cut");
    assert_eq!(splines.len(), 2);
    let mut most = 0.0_f64;
    for (spline, curves) in splines.iter().zip(contours()) {
        let samples: Vec<(f64, f64, f64)> =
            serde_json::from_value(spline["samples"].clone()).unwrap();
        for (t, x, y) in samples {
            let piece = num::count_of(t).min(curves.len() - 1);
            let want = on(&curves[piece], t - piece as f64);
            most = most.max(apart(want, (x, SIZE.1 - y)));
        }
    }
    assert!(most < 1e-6, "{most}");
    // Cut at the edge of what is seen, and a curve still.
    let seen = of_kind(&facts[0], "SPLINE", "seen");
    let samples: Vec<(f64, f64, f64)> = serde_json::from_value(seen[0]["samples"].clone()).unwrap();
    let whole: Vec<PaperPoint> = (0..=STROKES)
        .map(|i| on(&wave(), f64::from(i) / f64::from(STROKES)))
        .collect();
    assert!((samples[0].1 - 560.0).abs() < 1e-6);
    for (_, x, y) in samples.iter().step_by(20) {
        assert!(*x >= 560.0 - 1e-6 && from_strokes((*x, SIZE.1 - y), &whole) < 1e-5);
    }

    for (fact, tolerance) in facts[1..].iter().zip(TOLERANCES) {
        assert!(of_kind(fact, "SPLINE", "cut").is_empty());
        let lines = of_kind(fact, "LWPOLYLINE", "cut");
        assert_eq!(
            (&lines[0]["closed"], &lines[1]["closed"]),
            (&json!(true), &json!(false))
        );
        assert_eq!(lines.len(), 2);
        let mut counts = Vec::new();
        for (line, curves) in lines.iter().zip(contours()) {
            let sides = line["sides"].as_array().unwrap();
            let sides: Vec<Vec<PaperPoint>> = sides.iter().map(on_sheet).collect();
            let whole: Vec<Vec<PaperPoint>> = curves
                .iter()
                .map(|curve| {
                    (0..=STROKES)
                        .map(|i| on(curve, f64::from(i) / f64::from(STROKES)))
                        .collect()
                })
                .collect();
            let mut off = [0.0_f64; 2];
            for p in sides.iter().flatten() {
                let far = whole.iter().map(|curve| from_strokes(*p, curve));
                off[0] = off[0].max(far.fold(f64::INFINITY, f64::min));
            }
            for p in whole.iter().flat_map(|curve| curve.iter().step_by(50)) {
                let far = sides.iter().map(|side| from_strokes(*p, side));
                off[1] = off[1].max(far.fold(f64::INFINITY, f64::min));
            }
            // Points of arcs lie on them; strokes between these 1e-3 mm beside.
            assert!(off[0] <= tolerance + 2e-6, "{off:?} for {tolerance}");
            assert!(off[1] <= tolerance + 1e-3 + 2e-6, "{off:?} for {tolerance}");
            counts.push(sides.len());
        }
        // Few enough: their number grows as the root of third order of what the tolerance is divided by.
        let most = 50.0 * num::powf(0.02 / tolerance, 1.0 / 3.0);
        assert!(
            counts.iter().all(|count| (*count as f64) < most),
            "{counts:?} for {tolerance}"
        );
    }
}

#[test]
fn an_archive_is_unpacked_by_others_and_its_list_is_true() {
    let options = DxfOptions {
        curves: DxfCurves::ARCS,
        description: "",
    };
    let drawing = write_dxf(&sheet(), &options).unwrap();
    let filed = |name, bytes| Filed {
        name,
        bytes,
        revision: "B, größer",
        fingerprint: "7QK2M4A",
        surface: "outside of the skin",
    };
    let manifest = Manifest {
        files: vec![
            filed("Spant-4-größer.dxf", drawing.as_slice()),
            filed("tables/empty.txt", b""),
        ],
    };
    let path = folder().join("pack.zip");
    std::fs::write(&path, manifest.write_zip().unwrap()).unwrap();
    let Some(facts) = read_cut(&json!({ "dxf": [], "archives": [path] })) else {
        return;
    };
    let archive = &facts["archives"][0];
    assert_eq!(archive["bad"], Value::Null);
    let files = archive["files"].as_array().unwrap();
    let names: Vec<&str> = files
        .iter()
        .map(|file| file["name"].as_str().unwrap())
        .collect();
    assert_eq!(names, [MANIFEST, "Spant-4-größer.dxf", "tables/empty.txt"]);
    for file in files {
        assert_eq!(file["date"], json!([1980, 1, 1, 0, 0, 0]));
        assert_eq!(file["method"], 8, "deflated");
    }
    assert_eq!(files[1]["utf8"], true);
    let list = archive["lists"][MANIFEST].as_array().unwrap();
    assert_eq!(list.len(), 3);
    for (row, file) in list[1..].iter().zip(&files[1..]) {
        let said = json!([
            file["name"],
            file["size"].to_string(),
            file["sha256"],
            "B, größer",
            "7QK2M4A",
            "outside of the skin"
        ]);
        assert_eq!(row, &said);
    }
}

/// Outlines of the demo's boards, as a cutter gets them, against sections of the lofted skin: every place of a spline, and of
/// the arcs that take its place, lies on the skin within 0.05 mm.
#[test]
fn outlines_of_boards_lie_on_the_skin() {
    let demo = include_bytes!("../public/demo/marram.json");
    let mut lines = read_folder(demo).unwrap().lines;
    Arc::make_mut(&mut lines.shop).sheets.boards.error = 1.0;
    let lofted = Lofted::build(Arc::new(lines)).unwrap();
    let pack = Pack::of(&lofted, PackOptions::default());
    let loft = lofted.loft();
    let boards = wanted_boards(&lofted).unwrap().boards;
    let parts = pack.contents().parts.iter().enumerate();
    let templates = parts.filter(|(_, part)| part.kind == SheetKind::Template);
    let chosen: Vec<(usize, &PackPart)> = templates.step_by(3).collect();
    assert!(chosen.len() >= 3);
    let mut files = Vec::new();
    for (i, part) in &chosen {
        let sheet = pack.outline(*i).unwrap();
        for (kind, curves) in [("splines", DxfCurves::Splines), ("arcs", DxfCurves::ARCS)] {
            let options = DxfOptions {
                curves,
                description: "",
            };
            let name = format!("board-{kind}-{}", file_name(&part.code, "dxf", "board"));
            let path = folder().join(name);
            std::fs::write(&path, write_dxf(&sheet, &options).unwrap()).unwrap();
            files.push(path);
        }
    }
    let Some(facts) = read_cut(&json!({ "dxf": files, "archives": [] })) else {
        return;
    };
    for (pair, (_, part)) in facts["dxf"].as_array().unwrap().chunks(2).zip(&chosen) {
        let wanted = boards
            .iter()
            .find(|board| board.plan.code == part.code)
            .unwrap();
        let board = Board::lay_out(loft, wanted.plan.clone()).unwrap();
        let u = loft.surface().u_at(board.plan.plane.x);
        let section: Vec<PaperPoint> = (0..=8000)
            .map(|k| {
                let s = loft.surface().jet(u, f64::from(k) / 8000.0).s;
                (s.y, s.z)
            })
            .collect();
        // On the centreline the edge is furthest to the left.
        let ends = [board.edge[0][0], board.edge[board.edge.len() - 1][3]];
        let middle = if ends[0].0 < ends[1].0 {
            ends[0]
        } else {
            ends[1]
        };
        let places = |fact: &Value| -> Vec<PaperPoint> {
            is_clean(fact);
            let splines = of_kind(fact, "SPLINE", "cut");
            let samples = splines.iter().flat_map(|spline| {
                let samples: Vec<(f64, f64, f64)> =
                    serde_json::from_value(spline["samples"].clone()).unwrap();
                samples.into_iter().map(|(_, x, y)| (x, y))
            });
            let lines = of_kind(fact, "LWPOLYLINE", "cut");
            let sides = lines.iter().flat_map(|line| {
                let sides = line["sides"].as_array().unwrap().iter();
                let sides: Vec<PaperPoint> = sides
                    .flat_map(|side| {
                        serde_json::from_value::<Vec<PaperPoint>>(side.clone()).unwrap()
                    })
                    .collect();
                sides
            });
            samples.chain(sides).collect()
        };
        for fact in pair {
            let places = places(fact);
            assert!(places.len() > 20, "{}: {}", part.code, places.len());
            let first = { places.iter() }
                .min_by(|a, b| a.0.total_cmp(&b.0))
                .unwrap();
            for (x, y) in &places {
                let on_body = (middle.0 + x - first.0, middle.1 + y - first.1);
                let off = from_strokes(on_body, &section);
                assert!(off < 0.05, "{}: {off} at {on_body:?}", part.code);
            }
        }
    }
}
