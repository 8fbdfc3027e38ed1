//! Printed sheets, read back by a program that no one here wrote.
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

use std::path::PathBuf;
use std::sync::Arc;

use geometry::document::{Frozen, PaperSize, read_folder};
use geometry::issue::sheets::{Pack, PackOptions};
use geometry::loft::Lofted;
use geometry::paper::{Layer, Path, Pen, Sheet, Text, Typeface};
use geometry::write::{PdfOptions, SvgLook, write_pdf, write_svg};
use support::readers::read_pdf;

/// 100 mm and 4 in, points.
const RULES: [f64; 2] = [283.465, 288.0];

/// Two rules across and two up, letters of all faces on a page, and a page as long as one may be.
fn sheets() -> [Sheet; 2] {
    let mut layer = Layer::new("mark");
    for length in [100.0, 101.6] {
        let mut rule = Path::default();
        rule.draw_stroke((20.0, length), (20.0 + length, length));
        rule.draw_stroke((length, 120.0), (length, 120.0 + length));
        layer.draw_strokes(Pen::PART, rule);
    }
    for (face, y) in [
        (Typeface::Regular, 20.0),
        (Typeface::Bold, 30.0),
        (Typeface::Italic, 40.0),
    ] {
        let text = Text::new((190.0, y), 5.0, "STA 90 größer 1-3-2+").end();
        layer.draw_text(Text { face, ..text });
    }
    let sheet = |size| Sheet {
        title: "Rules".to_owned(),
        size,
        layers: vec![layer.clone()],
    };
    [sheet((210.0, 297.0)), sheet((297.0, 5080.0))]
}

fn written(name: &str, scale: [f64; 2]) -> PathBuf {
    let options = PdfOptions {
        title: "Rules × 2",
        scale,
    };
    let file = write_pdf(&sheets(), &options, &mut |_sheet| true)
        .unwrap()
        .unwrap();
    let path = PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join(name);
    std::fs::write(&path, file.bytes).unwrap();
    path
}

#[test]
fn pages_are_true_to_size_with_their_own_letters() {
    let corrected = [1.006, 0.997];
    let files = [
        written("true.pdf", [1.0; 2]),
        written("corrected.pdf", corrected),
    ];
    let Some(facts) = read_pdf(&files) else {
        return;
    };
    for (fact, scale) in facts.as_array().unwrap().iter().zip([[1.0; 2], corrected]) {
        assert_eq!(fact["title"], "Rules × 2");
        assert_eq!(fact["scaling"], "/None");
        assert_eq!(fact["repaired"], false);
        let pages = fact["pages"].as_array().unwrap();
        for (page, sheet) in pages.iter().zip(sheets()) {
            for (k, mm) in [sheet.size.0, sheet.size.1].into_iter().enumerate() {
                let points = page["size"][k].as_f64().unwrap();
                assert!(
                    (points - mm * scale[k] * 72.0 / 25.4).abs() < 2e-3,
                    "{points} for {mm} mm"
                );
            }
            let strokes: Vec<Vec<f64>> = serde_json::from_value(page["strokes"].clone()).unwrap();
            for (stroke, i) in strokes.iter().zip(0..) {
                let (across, up) = ((stroke[2] - stroke[0]).abs(), (stroke[3] - stroke[1]).abs());
                let [along, square] = if i % 2 == 0 {
                    [across, up]
                } else {
                    [up, across]
                };
                let want = RULES[i / 2] * scale[i % 2];
                assert!(
                    (along - want).abs() < 0.05 && square < 0.01,
                    "{along} for {want}"
                );
            }
            assert_eq!(strokes.len(), 4);
            let text = page["text"].as_str().unwrap();
            assert_eq!(text.matches("STA 90 größer 1-3-2+").count(), 3, "{text}");
            let fonts = page["fonts"].as_array().unwrap();
            assert_eq!(fonts.len(), 3);
            assert!(
                fonts.iter().all(|font| font["embedded"] == true),
                "{fonts:?}"
            );
            // Letters end where they were measured to end.
            let words: Vec<(String, f64, f64, f64, f64)> =
                serde_json::from_value(page["words"].clone()).unwrap();
            for (_, _, _, right, _) in words.iter().filter(|word| word.0 == "1-3-2+") {
                assert!((right / scale[0] - 190.0).abs() < 0.05, "{right}");
            }
        }
    }
}

/// The demo, frozen, with the boards of its lower shell as few as a millimetre asks for, on a size of paper.
fn frozen_demo(size: PaperSize) -> Lofted {
    let demo = include_bytes!("../public/demo/marram.json");
    let mut lines = read_folder(demo).unwrap().lines;
    let shop = Arc::make_mut(&mut lines.shop);
    shop.sheets.paper.size = size;
    shop.sheets.boards.error = 1.0;
    let lofted = Lofted::build(Arc::new(lines)).unwrap();
    lofted.frozen_as(Some(Frozen {
        label: "B".to_owned(),
        date: "2026-03-21".to_owned(),
    }))
}

/// The outline of the foremost board of the lower shell as an SVG.
fn outline(name: &str) -> PathBuf {
    let lofted = frozen_demo(PaperSize::A3);
    let pack = Pack::of(&lofted, PackOptions::default());
    let parts = &pack.contents().parts;
    let lower = parts.iter().position(|part| part.code.ends_with(" lower"));
    let sheet = pack.outline(lower.unwrap()).unwrap();
    let path = PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join(name);
    std::fs::write(&path, write_svg(&sheet, SvgLook::File)).unwrap();
    path
}

/// The foremost board of the lower shell as a PDF; its code, and how many sheets it takes.
fn template(name: &str, size: PaperSize) -> (PathBuf, String, usize) {
    let lofted = frozen_demo(size);
    let pack = Pack::of(&lofted, PackOptions::default());
    let parts = &pack.contents().parts;
    let lower = parts.iter().position(|part| part.code.ends_with(" lower"));
    let part = lower.unwrap();
    let options = PdfOptions {
        title: name,
        scale: [1.0; 2],
    };
    let sheets = pack.draw(part);
    let file = write_pdf(&sheets, &options, &mut |_sheet| true);
    let path = PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join(name);
    std::fs::write(&path, file.unwrap().unwrap().bytes).unwrap();
    (path, parts[part].code.clone(), sheets.len())
}

type Word = (String, f64, f64, f64, f64);

/// Where a word stands on a page, mm.
fn word_at(words: &[Word], text: &str) -> Option<[f64; 2]> {
    let mut found = words.iter().filter(|word| word.0 == text);
    let place = found.next().map(|word| [word.1, word.2]);
    assert!(found.next().is_none(), "{text} stands there twice");
    place
}

/// Places along the heavy curves of a page, a twentieth of each apart, mm.
fn heavy(page: &serde_json::Value) -> Vec<Vec<[f64; 2]>> {
    let curves: Vec<Vec<f64>> = serde_json::from_value(page["curves"].clone()).unwrap();
    let mm = 25.4 / 72.0;
    let cut = curves
        .iter()
        .filter(|curve| (curve[8] * mm - 0.5).abs() < 0.01);
    let along = |curve: &Vec<f64>| {
        let at = |i: u32| {
            let (t, s) = (f64::from(i) / 20.0, 1.0 - f64::from(i) / 20.0);
            let by = [s * s * s, 3.0 * s * s * t, 3.0 * s * t * t, t * t * t];
            [0, 1].map(|k| (0..4).map(|n| by[n] * curve[2 * n + k] * mm).sum())
        };
        (0..=20).map(at).collect()
    };
    cut.map(along).collect()
}

/// Distance of a place from polylines, mm.
fn off(place: [f64; 2], lines: &[Vec<[f64; 2]>]) -> f64 {
    let from_piece = |a: [f64; 2], b: [f64; 2]| {
        let (along, to) = (
            [b[0] - a[0], b[1] - a[1]],
            [place[0] - a[0], place[1] - a[1]],
        );
        let square = along[0] * along[0] + along[1] * along[1];
        let share = ((to[0] * along[0] + to[1] * along[1]) / square).clamp(0.0, 1.0);
        let off = [to[0] - along[0] * share, to[1] - along[1] * share];
        (off[0] * off[0] + off[1] * off[1]).sqrt()
    };
    let pieces = lines.iter().flat_map(|line| line.windows(2));
    pieces
        .map(|pair| from_piece(pair[0], pair[1]))
        .fold(f64::INFINITY, f64::min)
}

/// Rules, letters and the square code of a template's sheets as `MuPDF` and `ZXing` read them; and its tiles, laid on each
/// other by their lettered crosses, against the same board on one long sheet.
#[test]
fn tiles_laid_on_each_other_by_their_crosses_are_the_one_long_sheet() {
    let (tiled, code, count) = template("tiled.pdf", PaperSize::A3);
    let (long, _, one) = template("long.pdf", PaperSize::Roll(914.0));
    assert!(count > 2 && one == 1, "{count} tiles, {one} long sheet");
    let Some(facts) = read_pdf(&[tiled, long, outline("outline.svg")]) else {
        return;
    };
    let print = frozen_demo(PaperSize::A3).lines().fingerprint().paper();
    let pages: Vec<&serde_json::Value> = facts[0]["pages"].as_array().unwrap().iter().collect();
    let long = &facts[1]["pages"][0];
    for page in pages.iter().chain([&long]) {
        let strokes: Vec<Vec<f64>> = serde_json::from_value(page["strokes"].clone()).unwrap();
        for [way, square] in [[0, 1], [1, 0]] {
            // The rule is 4 in long; at its nought, at 50 and at 100 mm ticks leave it, of one length.
            let length = |stroke: &[f64], k: usize| (stroke[k + 2] - stroke[k]).abs();
            let is_rule = |stroke: &&Vec<f64>| (length(stroke, way) - RULES[1]).abs() < 0.05;
            let rules: Vec<&Vec<f64>> = strokes.iter().filter(is_rule).collect();
            let [rule] = rules[..] else {
                panic!("{} rules", rules.len());
            };
            let tick = 3.6 * 72.0 / 25.4;
            let is_tick = |stroke: &&Vec<f64>| {
                let on = (stroke[square] - rule[square]).abs() < 0.01;
                on && (length(stroke, square) - tick).abs() < 0.01 && length(stroke, way) < 0.01
            };
            let from = rule[way];
            let ticks = strokes
                .iter()
                .filter(is_tick)
                .map(|tick| (tick[way] - from).abs());
            let hundred = ticks.filter(|at| (at - RULES[0]).abs() < 0.05).count();
            assert_eq!(hundred, 1, "a tick at 100 mm");
        }
        assert_eq!(
            page["scanned"],
            serde_json::json!([format!("SB1 {print} {code}")])
        );
        let text = page["text"].as_str().unwrap();
        for says in ["STARBOARD, lower", "21 March 2026", &format!("B · {print}")] {
            assert!(text.contains(says), "{says} in {text}");
        }
        assert!(!text.contains("DRAFT"));
    }

    // Those of the drawing; the column beside it is 110 mm wide.
    let words = |page: &serde_json::Value| -> Vec<Word> {
        let column = page["size"][0].as_f64().unwrap() * 25.4 / 72.0 - 120.0;
        let mut words: Vec<Word> = serde_json::from_value(page["words"].clone()).unwrap();
        words.retain(|word| word.1 < column);
        words
    };
    let all: Vec<Vec<Word>> = pages.iter().map(|page| words(page)).collect();
    // From each tile to the first, by the crosses that they share.
    let mut shifts: Vec<Option<[f64; 2]>> = vec![None; all.len()];
    shifts[0] = Some([0.0; 2]);
    for _ in 0..all.len() {
        for (i, own) in all.iter().enumerate() {
            for (j, other) in all.iter().enumerate() {
                let (Some(known), None) = (shifts[i], shifts[j]) else {
                    continue;
                };
                let crosses = ('a'..='z').filter_map(|letter| {
                    let letter = letter.to_string();
                    let (a, b) = (word_at(own, &letter)?, word_at(other, &letter)?);
                    Some([a[0] - b[0], a[1] - b[1]])
                });
                let crosses: Vec<[f64; 2]> = crosses.collect();
                let Some(by) = crosses.first() else {
                    continue;
                };
                for cross in &crosses {
                    let apart = [cross[0] - by[0], cross[1] - by[1]];
                    assert!(apart.iter().all(|mm| mm.abs() < 0.01), "{crosses:?}");
                }
                shifts[j] = Some([known[0] + by[0], known[1] + by[1]]);
            }
        }
    }
    let shift = |i: usize| shifts[i].expect("crosses lead to every tile");
    // And to the long sheet, by the end of the edge at the joint, which lies highest.
    let whole = heavy(long);
    let highest = |places: &mut dyn Iterator<Item = [f64; 2]>| {
        places.min_by(|a, b| a[1].total_cmp(&b[1])).unwrap()
    };
    let own = highest(&mut pages.iter().enumerate().flat_map(|(i, page)| {
        let shift = shift(i);
        let places = heavy(page).into_iter().flatten();
        places.map(move |at| [at[0] + shift[0], at[1] + shift[1]])
    }));
    let there = highest(&mut whole.iter().flatten().copied());
    let by = [0, 1].map(|k| there[k] - own[k]);
    let laid: Vec<Vec<[f64; 2]>> = pages
        .iter()
        .enumerate()
        .flat_map(|(i, page)| {
            let shift = shift(i);
            let moved = move |at: [f64; 2]| [0, 1].map(|k| at[k] + shift[k] + by[k]);
            heavy(page)
                .into_iter()
                .map(move |line| line.into_iter().map(moved).collect())
        })
        .collect();
    let length = |lines: &[Vec<[f64; 2]>]| -> usize { lines.iter().map(Vec::len).sum() };
    assert!(length(&whole) > 100 && length(&laid) > length(&whole));
    for place in laid.iter().flatten() {
        assert!(off(*place, &whole) < 0.05, "{place:?} of a tile");
    }
    for place in whole.iter().flatten() {
        assert!(off(*place, &laid) < 0.05, "{place:?} of the long sheet");
    }
    // The outline for a cutter is the same line again.
    let cut = heavy(&facts[2]["pages"][0]);
    let own = highest(&mut cut.iter().flatten().copied());
    let by = [0, 1].map(|k| there[k] - own[k]);
    let moved = |at: &[f64; 2]| [0, 1].map(|k| at[k] + by[k]);
    let cut: Vec<Vec<[f64; 2]>> = { cut.iter() }
        .map(|line| line.iter().map(moved).collect())
        .collect();
    assert!(length(&cut) > 100);
    for place in cut.iter().flatten() {
        assert!(off(*place, &whole) < 0.05, "{place:?} of the SVG");
    }
    for place in whole.iter().flatten() {
        assert!(off(*place, &cut) < 0.05, "{place:?} is not in the SVG");
    }
}
