//! What is drawn on a page.

use std::collections::BTreeSet;

use pdf_writer::types::LineJoinStyle;
use pdf_writer::{Content, Name, Str};

use super::fonts::{FACES, UsedFace, name_of};
use super::{POINT, in_32_bits, real};
use crate::num;
use crate::paper::lettering::draws_nothing;
use crate::paper::{
    Anchor, Area, Fill, Ground, Layer, Mark, Path, Pen, Sheet, Step, Text, Typeface, on_arc,
};

/// How much of the ink a tint has.
pub(super) const TINT: f32 = 0.08;

/// What a page calls the state in which tints are drawn.
pub(super) const TINT_STATE: Name<'static> = Name(b"Tint");

/// How near curved edges of hatched and cut areas are met, mm.
const NEAR: f64 = 0.005;

/// A page as it is drawn.
pub(super) struct Printed<'a> {
    pub(super) content: Content,
    pub(super) faces: &'a mut [UsedFace; 3],
    pub(super) lacking: &'a mut BTreeSet<char>,
}

impl Printed<'_> {
    /// Draws a sheet; afterwards all is in millimetres from the upper left corner, as the sheet is.
    pub(super) fn sheet(&mut self, sheet: &Sheet, [across, up]: [f64; 2]) {
        let by = [across * POINT, up * POINT];
        let matrix = [by[0], 0.0, 0.0, -by[1], 0.0, sheet.size.1 * by[1]];
        // Not rounded as coordinates are: all of them are multiplied by these.
        self.content.transform(matrix.map(in_32_bits));
        self.content.set_line_join(LineJoinStyle::RoundJoin);
        for layer in &sheet.layers {
            self.layer(layer);
        }
    }

    fn layer(&mut self, layer: &Layer) {
        for mark in &layer.marks {
            self.mark(mark, layer.clip);
        }
        layer.seen_texts().for_each(|text| self.letters(text));
    }

    fn mark(&mut self, mark: &Mark, clip: Option<Area>) {
        let area = || match clip {
            Some(clip) => mark.path.clipped_area(clip, NEAR),
            None => mark.path.clone(),
        };
        match mark.fill {
            Fill::None => {}
            Fill::Hatch(hatch) => {
                let mut strokes = Path::default();
                for (from, to) in hatch.strokes(&area(), NEAR) {
                    strokes.draw_stroke(from, to);
                }
                self.strokes(Pen::RULE, &strokes);
            }
            Fill::Sheet => self.area(&area(), 1.0),
            Fill::Ink => self.area(&area(), 0.0),
            Fill::Tint => {
                self.content.save_state();
                self.content.set_parameters(TINT_STATE);
                self.area(&area(), 0.0);
                self.content.restore_state();
            }
        }
        if let Some(pen) = mark.pen {
            match clip {
                Some(clip) => self.strokes(pen, &mark.path.clipped(clip)),
                None => self.strokes(pen, &mark.path),
            }
        }
    }

    fn strokes(&mut self, pen: Pen, path: &Path) {
        if path.is_empty() {
            return;
        }
        self.content.set_line_width(real(pen.weight.width()));
        let dashes = pen.dash.lengths().iter().map(|length| real(*length));
        self.content.set_dash_pattern(dashes, 0.0);
        self.path(path);
        self.content.stroke();
    }

    fn area(&mut self, path: &Path, gray: f32) {
        if path.is_empty() {
            return;
        }
        self.content.set_fill_gray(gray);
        self.path(path);
        self.content.fill_even_odd();
    }

    fn path(&mut self, path: &Path) {
        let content = &mut self.content;
        path.walk(|from, step| match step {
            Step::Move((x, y)) => {
                content.move_to(real(x), real(y));
            }
            Step::Line((x, y)) => {
                content.line_to(real(x), real(y));
            }
            Step::Curve(out, back, to) => {
                curve(content, [out, back, to]);
            }
            Step::Arc { centre, turn } => {
                // An eighth of a turn by one curve lies 4e-6 of the radius beside it.
                let count = num::count_of(
                    (turn.abs() / core::f64::consts::FRAC_PI_4)
                        .ceil()
                        .clamp(1.0, 1e4),
                );
                let part = turn / count as f64;
                // The handles of a curve over an angle a are tan(a/4) 4/3 of the radius.
                let handle = num::sin(part / 4.0) / num::cos(part / 4.0) * 4.0 / 3.0;
                for i in 0..count {
                    let [a, b] = [i, i + 1].map(|i| on_arc(from, centre, part * i as f64));
                    let square =
                        |p: (f64, f64)| (-(p.1 - centre.1) * handle, (p.0 - centre.0) * handle);
                    let (leave, meet) = (square(a), square(b));
                    curve(
                        content,
                        [
                            (a.0 + leave.0, a.1 + leave.1),
                            (b.0 - meet.0, b.1 - meet.1),
                            b,
                        ],
                    );
                }
            }
            Step::Close => {
                content.close_path();
            }
        });
    }

    fn letters(&mut self, text: &Text) {
        let (sin, cos) = (num::sin(text.turned), num::cos(text.turned));
        // A rim would be the letters once more, which whoever copies the text would find twice.
        if text.ground != Ground::Clear {
            let mut patch = Path::default();
            let [left, top, right, foot] = text.patch();
            let corners = [(left, top), (right, top), (right, foot), (left, foot)];
            patch.draw_line(corners.map(|corner| on_arc(corner, text.at, text.turned)));
            patch.close();
            self.area(&patch, 1.0);
        }
        let before = match text.anchor {
            Anchor::Start => 0.0,
            Anchor::Middle => text.width() / 2.0,
            Anchor::End => text.width(),
        };
        let mut rows = vec![LetterRow {
            letters: Vec::new(),
            along: 0.0,
            up: 0.0,
            size: text.size,
        }];
        let mut along = 0.0;
        for letter in text.text.chars() {
            let width =
                crate::paper::width_of(letter.encode_utf8(&mut [0; 4]), text.face, text.size);
            if let Some(code) = self.face(text.face).code(letter) {
                let last = rows.last_mut().filter(|row| num::same(row.size, text.size));
                match last {
                    Some(row) => row.letters.extend(code),
                    None => rows.push(LetterRow {
                        letters: code.to_vec(),
                        along,
                        up: 0.0,
                        size: text.size,
                    }),
                }
            } else if !draws_nothing(letter) {
                self.lacking.insert(letter);
                rows.extend(self.number_of(letter, text, along));
            }
            along += width;
        }
        let place = |row: &LetterRow| {
            let (right, up) = (row.along - before, row.up);
            // Down on the paper is down in its own directions too, so that letters are turned upright again.
            [
                cos,
                sin,
                sin,
                -cos,
                text.at.0 + right * cos + up * sin,
                text.at.1 + right * sin - up * cos,
            ]
            .map(in_32_bits)
        };
        self.content.set_fill_gray(0.0);
        self.content.begin_text();
        for row in rows.iter().filter(|row| !row.letters.is_empty()) {
            self.content.set_font(name_of(text.face), real(row.size));
            self.content.set_text_matrix(place(row));
            self.content.show(Str(&row.letters));
        }
        self.content.end_text();
    }

    /// What stands for a letter that the typeface lacks: its number in two rows of half the size.
    fn number_of(&mut self, letter: char, text: &Text, along: f64) -> Vec<LetterRow> {
        const HALF: f64 = 0.5;
        let number = format!("{:04X}", u32::from(letter));
        let (upper, lower) = number.split_at(number.len() / 2);
        let mut row = |digits: &str, up: f64| {
            let face = self.face(text.face);
            LetterRow {
                letters: digits
                    .chars()
                    .filter_map(|digit| face.code(digit))
                    .flatten()
                    .collect(),
                along,
                up,
                size: HALF * text.size,
            }
        };
        vec![row(upper, 0.45 * text.size), row(lower, 0.0)]
    }

    fn face(&mut self, face: Typeface) -> &mut UsedFace {
        let place = FACES.iter().position(|of| *of == face).unwrap_or_default();
        &mut self.faces[place]
    }
}

/// Letters that stand side by side in one size.
struct LetterRow {
    /// Two bytes each.
    letters: Vec<u8>,
    /// Where they begin, from where the text does, mm.
    along: f64,
    /// How far over its foot line, mm.
    up: f64,
    size: f64,
}

fn curve(content: &mut Content, [out, back, to]: [(f64, f64); 3]) {
    content.cubic_to(
        real(out.0),
        real(out.1),
        real(back.0),
        real(back.1),
        real(to.0),
        real(to.1),
    );
}
