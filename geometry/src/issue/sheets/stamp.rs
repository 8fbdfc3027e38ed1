//! What is not frozen says so on every sheet: across a board, and in a band at the foot of a table or a plan.

use super::room::{Room, letters};
use super::tiles::Tiles;
use crate::loft::Lofted;
use crate::num;
use crate::paper::{Area, Layer, Text};

/// What stands on a sheet of what is not frozen.
pub(super) const DRAFT: &str = "DRAFT: DO NOT CUT";

/// Height of its capitals, mm.
const CAPITAL: f64 = 6.0;

/// Height that a table and a plan leave for it at the foot of their field, mm.
pub(super) const BAND: f64 = 9.0;

/// Across a field, twice; nothing where it is frozen.
pub(super) fn stamps(lofted: &Lofted, [left, top, right, foot]: Area) -> Vec<Text> {
    if lofted.revision().is_some() {
        return Vec::new();
    }
    let (wide, high) = (right - left, foot - top);
    let turned = -num::atan2(high, wide);
    let stamp = |share: f64| {
        let at = (left + wide * share, foot - high * share);
        let text = letters(at, CAPITAL, DRAFT).bold().middle();
        Text { turned, ..text }
    };
    [0.25, 0.75].map(stamp).into()
}

/// Boxes along a turned line of letters, not much larger than these are high.
pub(super) fn boxes_along(text: &Text) -> Vec<Area> {
    let width = text.width();
    let count = num::count_of((width / CAPITAL).ceil());
    let (sin, cos) = (num::sin(text.turned), num::cos(text.turned));
    let one = |i: usize| {
        let along = (i as f64 + 0.5) / count as f64 * width - width / 2.0;
        // Their middle lies half a capital over the foot line.
        let right = along * cos + CAPITAL / 2.0 * sin;
        let down = along * sin - CAPITAL / 2.0 * cos;
        let (x, y) = (text.at.0 + right, text.at.1 + down);
        let half = 0.7 * CAPITAL;
        [x - half, y - half, x + half, y + half]
    };
    (0..count).map(one).collect()
}

/// Keeps letters of a drawing off what goes across each of its tiles.
pub(super) fn keep_clear(stamps: &[Text], tiles: &Tiles, room: &mut Room<'_>) {
    for tile in 0..tiles.windows.len() {
        let (right, down) = tiles.shift(tile);
        for [l, t, r, f] in stamps.iter().flat_map(boxes_along) {
            room.take([l - right, t - down, r - right, f - down]);
        }
    }
}

/// In the band at the foot of a field.
pub(super) fn banner(lofted: &Lofted, [left, _, right, foot]: Area) -> Layer {
    let mut layer = Layer::new("stamp");
    if lofted.revision().is_none() {
        let at = (f64::midpoint(left, right), foot - (BAND - CAPITAL) / 2.0);
        layer.draw_text(letters(at, CAPITAL, DRAFT).bold().middle());
    }
    layer
}
