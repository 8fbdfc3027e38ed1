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

use geometry::paper::{Layer, Path, Pen, Sheet, Text, Typeface};
use geometry::write::{PdfOptions, write_pdf};
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
