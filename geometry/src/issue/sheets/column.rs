//! The column that says what a sheet is: beside the drawing, the same on every sheet.
//!
//! From the top: its code and scale; the hand alone on its line; facts, the map of its tiles and the check rule up; the check
//! rule across, and what was measured; the caution; the square code; project, and who cut and checked it.

use super::code::square_code;
use super::room::{fitted, letters, wrapped};
use super::tiles::{COLUMN, MARGIN, Tiles};
use crate::num;
use crate::paper::{Area, Fill, Layer, PaperPoint, Path, Pen, Sheet, Text, Tone};
use crate::units::fixed;

/// What a sheet says of itself.
#[derive(Clone, Debug, Default)]
pub(super) struct TitleColumn {
    /// `T-90`.
    pub(super) code: String,
    /// `Station template`.
    pub(super) kind: String,
    /// `1 : 1`.
    pub(super) scale: String,
    /// `STARBOARD, lower`; empty where there is no hand.
    pub(super) hand: String,
    /// Names and values.
    pub(super) facts: Vec<(&'static str, String)>,
    /// The caution of this sheet, sentence by sentence.
    pub(super) caution: String,
    /// What the square code says, and what is typed instead of it.
    pub(super) scan: Option<(String, String)>,
    /// Project, and what of it.
    pub(super) project: Vec<String>,
    /// Of the printer's gauge, where it was gauged.
    pub(super) gauge: Option<String>,
}

/// The map of a sheet's tiles.
pub(super) struct TileMap<'a> {
    pub(super) tiles: &'a Tiles,
    /// The one that this is, from 0.
    pub(super) this: usize,
    /// The drawing's outline.
    pub(super) outline: &'a [PaperPoint],
    /// What a tape shows over it, from where to where.
    pub(super) tape: Option<String>,
    /// Whether what its tiles show together is too long to be true to a length.
    pub(super) for_shape: bool,
}

/// Left edge of words in the column, from its own, and right edge from its, mm.
const INSET: f64 = 5.0;

/// Heights of what stands in the column at least, mm: head, hand, facts, rules, caution, code and project.
const HEIGHTS: [f64; 6] = [21.0, 9.0, 106.0, 23.0, 12.0, 18.5];

/// Draws frame and column over what is on a sheet already.
pub(super) fn furnish(sheet: &mut Sheet, about: &TitleColumn, map: Option<&TileMap<'_>>) {
    let (width, height) = sheet.size;
    let frame = [MARGIN, MARGIN, width - MARGIN, height - MARGIN];
    let left = frame[2] - COLUMN;
    let mut layer = Layer::new("frame");
    let mut lines = Path::default();
    lines.draw_box(frame);
    layer.draw_strokes(Pen::EDGE, lines);
    let column = [left, frame[1], frame[2], frame[3].min(frame[1] + 277.0)];
    let mut side = Path::default();
    side.draw_stroke((left, frame[1]), (left, frame[3]));
    layer.draw_strokes(Pen::SECOND, side);
    let spare = (column[3] - column[1] - HEIGHTS.iter().sum::<f64>()).max(0.0);
    // What is over goes to where words stand close.
    let air = [0.08, 0.02, 0.3, 0.12, 0.16, 0.32].map(|share| share * spare);
    let mut top = column[1];
    let cells: [Area; 6] = core::array::from_fn(|i| {
        let cell = [left, top, column[2], top + HEIGHTS[i] + air[i]];
        top = cell[3];
        cell
    });
    let mut rules = Path::default();
    for cell in [cells[0], cells[2], cells[3], cells[4]] {
        rules.draw_stroke((left, cell[3]), (column[2], cell[3]));
    }
    rules.draw_stroke((left, column[3]), (column[2], column[3]));
    layer.draw_strokes(Pen::SECOND, rules);
    let [head, hand, facts, check, caution, foot] = cells;
    draw_head(&mut layer, head, about);
    let hand_text = letters((left + INSET, hand[1] + 7.4), 4.6, &about.hand).bold();
    layer.draw_text(fitted(hand_text, COLUMN - 2.0 * INSET));
    draw_facts(&mut layer, facts, about, map);
    draw_rules(&mut layer, facts, check, (width, height), about);
    draw_caution(&mut layer, caution, &about.caution);
    draw_foot(&mut layer, foot, about);
    sheet.layers.push(layer);
}

fn draw_head(layer: &mut Layer, [left, top, right, foot]: Area, about: &TitleColumn) {
    let scale = letters((right - INSET, top + 12.0), 4.6, &about.scale).end();
    let room = right - left - 3.0 * INSET - scale.width();
    let mut capital = 9.0;
    let code = |capital: f64| letters((left + INSET, top + 12.0), capital, &about.code).bold();
    while capital > 3.5 && code(capital).width() > room {
        capital -= 0.5;
    }
    layer.draw_text(fitted(code(capital), room));
    layer.draw_text(scale);
    let kind = letters((left + INSET, foot - 3.0), 3.0, &about.kind);
    layer.draw_text(fitted(kind, right - left - 2.0 * INSET));
}

fn draw_facts(
    layer: &mut Layer,
    [left, top, right, foot]: Area,
    about: &TitleColumn,
    map: Option<&TileMap<'_>>,
) {
    const FEED: f64 = 5.0;
    // The rule up stands at the right.
    let values = left + 27.0;
    let room = right - 22.0 - values;
    let mut y = top + 6.0;
    for (name, value) in &about.facts {
        layer.draw_text(letters((left + INSET, y), 2.2, *name).tone(Tone::Thin));
        let text = letters((values, y), 2.5, value);
        for line in wrapped(&text, room, 4.2) {
            y = line.at.1;
            layer.draw_text(line);
        }
        y += FEED;
    }
    let Some(map) = map else { return };
    if map.tiles.windows.len() < 2 {
        if let Some(tape) = &map.tape {
            let text = letters((left + INSET, y + 1.0), 2.2, tape);
            layer
                .texts
                .extend(wrapped(&text, right - 22.0 - left - INSET, 3.8));
        }
        return;
    }
    layer.draw_text(letters((left + INSET, y + 1.5), 2.5, "Tiles").bold());
    draw_map(layer, [left + INSET, y + 4.5, left + 44.0, foot - 3.0], map);
    let mut words = vec![
        format!("This is {} of {}.", map.this + 1, map.tiles.windows.len()),
        format!("Overlap {} mm.", fixed(map.tiles.overlap, 0)),
    ];
    words.extend(map.tape.clone());
    if map.for_shape {
        words.push("Put together: for shape, not for length.".to_owned());
    }
    let mut at = y + 7.0;
    for sentence in words {
        let text = letters((left + 48.0, at), 2.2, sentence);
        for line in wrapped(&text, right - 22.0 - left - 48.0, 3.6) {
            at = line.at.1;
            layer.draw_text(line);
        }
        at += 4.6;
    }
}

fn draw_map(layer: &mut Layer, [left, top, right, foot]: Area, map: &TileMap<'_>) {
    let all = &map.tiles.windows;
    let least = |k: usize| all.iter().map(|w| w[k]).fold(f64::INFINITY, f64::min);
    let most = |k: usize| all.iter().map(|w| w[k]).fold(f64::NEG_INFINITY, f64::max);
    let (x0, y0, x1, y1) = (least(0), least(1), most(2), most(3));
    let scale = ((right - left) / (x1 - x0)).min((foot - top) / (y1 - y0));
    let to = |(x, y): PaperPoint| (left + (x - x0) * scale, top + (y - y0) * scale);
    let mut outline = Path::default();
    outline.draw_line(map.outline.iter().map(|point| to(*point)));
    outline.close();
    layer.draw_strokes(Pen::RULE, outline);
    for (number, window) in all.iter().enumerate() {
        let (from, till) = (to((window[0], window[1])), to((window[2], window[3])));
        let mut path = Path::default();
        path.draw_box([from.0, from.1, till.0, till.1]);
        let this = number == map.this;
        layer.draw_strokes(if this { Pen::PART } else { Pen::RULE }, path);
        let capital = (0.35 * (till.1 - from.1)).clamp(1.2, 3.0);
        // On a map of many tiles only the one that this is has room for its number.
        let narrow =
            letters((0.0, 0.0), capital, (number + 1).to_string()).width() > till.0 - from.0 - 0.6;
        let low = 1.6 * capital > till.1 - from.1;
        if (narrow || low) && !this {
            continue;
        }
        let middle = (
            f64::midpoint(from.0, till.0),
            f64::midpoint(from.1, till.1) + capital / 2.0,
        );
        let text = letters(middle, capital, (number + 1).to_string()).middle();
        layer.draw_text(if this { text.bold() } else { text });
    }
}

/// One rule, millimetres on one side and inches on the other from one nought; fine parts in the last length only.
fn rule(from: PaperPoint, way: PaperPoint, layer: &mut Layer) {
    let side = (-way.1, way.0);
    let at = |along: f64, off: f64| {
        (
            from.0 + way.0 * along + side.0 * off,
            from.1 + way.1 * along + side.1 * off,
        )
    };
    let mut fine = Path::default();
    let mut main = Path::default();
    main.draw_stroke(at(0.0, 0.0), at(101.6, 0.0));
    for i in 0..=100_u32 {
        let long = match i {
            _ if i % 50 == 0 => 3.6,
            _ if i % 10 == 0 => 2.6,
            _ if i > 90 && i % 5 == 0 => 2.0,
            _ if i > 90 => 1.2,
            _ => continue,
        };
        let path = if i % 50 == 0 { &mut main } else { &mut fine };
        path.draw_stroke(at(f64::from(i), 0.0), at(f64::from(i), -long));
    }
    for i in 0..=32_u32 {
        let long = match i {
            _ if i % 8 == 0 => 3.6,
            _ if i > 24 && i % 4 == 0 => 2.4,
            _ if i > 24 => 1.4,
            _ => continue,
        };
        let along = f64::from(i) * 25.4 / 8.0;
        let path = if i % 8 == 0 { &mut main } else { &mut fine };
        path.draw_stroke(at(along, 0.0), at(along, long));
    }
    layer.draw_strokes(Pen::FINE, main);
    layer.draw_strokes(Pen::RULE, fine);
    let turned = num::atan2(way.1, way.0);
    let mut figure = |along: f64, off: f64, text: &str| {
        let text = letters(at(along, off), 2.2, text).middle();
        layer.draw_text(Text { turned, ..text });
    };
    for (along, text) in [(0.0, "0"), (25.0, "mm"), (50.0, "50"), (100.0, "100")] {
        figure(along, -4.6, text);
    }
    for (along, text) in [
        (0.0, "0"),
        (1.0, "1"),
        (1.5, "in"),
        (2.0, "2"),
        (3.0, "3"),
        (4.0, "4"),
    ] {
        figure(along * 25.4, 4.6 + 2.2, text);
    }
}

fn draw_rules(layer: &mut Layer, facts: Area, check: Area, size: (f64, f64), about: &TitleColumn) {
    // Up, beside the facts.
    let foot = facts[3] - 2.7;
    rule((facts[2] - 11.5, foot), (0.0, -1.0), layer);
    // Across.
    let [left, top, ..] = check;
    let air = (check[3] - check[1] - HEIGHTS[3]) / 3.0;
    rule((left + 4.2, top + 6.8 + air), (1.0, 0.0), layer);
    let diagonal = num::hypot(size.0 - 2.0 * MARGIN, size.1 - 2.0 * MARGIN);
    let y = check[3] - 5.9 - air;
    let not_true = "Not true if these are not 100 mm and 4 in, both ways.";
    layer.draw_text(letters((left + INSET, y), 2.2, not_true).bold());
    let corners = format!("Corners {}", fixed(diagonal, 1));
    let y = y + 4.2;
    layer.draw_text(letters((check[2] - INSET, y), 2.2, corners).end());
    let gauge = about
        .gauge
        .clone()
        .unwrap_or_else(|| "I measured across".to_owned());
    let text = letters((left + INSET, y), 2.2, gauge);
    let from = text.at.0 + text.width() + 1.5;
    layer.draw_text(text);
    if about.gauge.is_none() {
        let mut blanks = Path::default();
        blanks.draw_stroke((from, y + 0.4), (from + 15.0, y + 0.4));
        let up = letters((from + 17.0, y), 2.2, "up");
        let next = up.at.0 + up.width() + 1.5;
        blanks.draw_stroke((next, y + 0.4), (next + 15.0, y + 0.4));
        layer.draw_text(up);
        layer.draw_strokes(Pen::RULE, blanks);
    }
}

fn draw_caution(layer: &mut Layer, [left, top, right, foot]: Area, caution: &str) {
    const FEED: f64 = 3.3;
    let text = letters((left + INSET, top + 3.6), 2.2, caution);
    let lines = wrapped(&text, right - left - 2.0 * INSET, FEED);
    let spare = (foot - top - 1.2 - FEED * lines.len() as f64).max(0.0) / 2.0;
    layer.texts.extend(lines.into_iter().map(|line| Text {
        at: (line.at.0, line.at.1 + spare),
        ..line
    }));
}

fn draw_foot(layer: &mut Layer, [left, top, right, foot]: Area, about: &TitleColumn) {
    let mut words = left + INSET;
    if let Some((scan, typed)) = &about.scan {
        // A text too long for a code is typed.
        if let Ok((code, wide)) = square_code(scan, (left + 0.5, top + 0.5)) {
            layer.draw_edged(None, Fill::Ink, code);
            words = left + wide + 1.0;
        }
        let room = right - INSET - words;
        let mut y = top + 4.4;
        layer.draw_text(fitted(
            letters((words, y), 2.2, "Scan for the part, or type"),
            room,
        ));
        y += 4.4;
        layer.draw_text(fitted(letters((words, y), 2.6, typed).bold(), room));
    }
    let room = right - INSET - words;
    let mut y = top + 13.0;
    for (i, line) in about.project.iter().enumerate() {
        let text = letters((words, y), if i == 0 { 2.6 } else { 2.2 }, line);
        layer.draw_text(fitted(if i == 0 { text.bold() } else { text }, room));
        y += 4.0;
    }
    // Where there is room, who cut and who checked it.
    if foot - y > 4.0 {
        let y = foot - 3.5;
        let mut blanks = Path::default();
        let mut x = left + INSET;
        for (name, long) in [("Cut by", 30.0), ("checked", 35.0)] {
            let text = letters((x, y), 2.2, name);
            x = text.at.0 + text.width() + 1.5;
            blanks.draw_stroke((x, y + 0.4), (x + long, y + 0.4));
            x += long + 3.0;
            layer.draw_text(text);
        }
        layer.draw_strokes(Pen::RULE, blanks);
    }
}
