//! Something drawn true to size, laid on as many sheets of paper as it takes.
//!
//! In: how large it is, and the paper. Out: [`Tiles`]: what each sheet shows of it, and the marks by which they are laid on
//! each other.

use super::room::{Room, letters};
use crate::document::{Paper, PaperSize};
use crate::paper::{Area, Dash, Layer, PaperPoint, Path, Pen, Text};
use crate::units::fixed;

/// From the edge of the paper to the frame, mm: printers do not reach further.
pub(super) const MARGIN: f64 = 10.0;

/// Width of the column that says what the sheet is, mm.
pub(super) const COLUMN: f64 = 110.0;

/// Longest sheet, mm.
pub(super) const LONGEST_SHEET: f64 = 5000.0;

/// Put together over more than this, mm, tiles are for shape and not for length.
pub(super) const FOR_LENGTH: f64 = 1200.0;

/// Sheets longer than this, mm, carry figures along their foot, for paper moves with damp.
const FIGURED: f64 = 1000.0;

/// From figure to figure, mm.
const FIGURE: f64 = 100.0;

/// Arms of the crosses by which tiles are laid on each other, mm.
const CROSS: f64 = 4.0;

/// What of a drawing each sheet shows.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Tiles {
    /// Size of each sheet, mm.
    pub(super) paper: (f64, f64),
    /// Where the drawing lies on a sheet, mm.
    pub(super) field: Area,
    /// What each shows of the drawing: row by row, mm.
    pub(super) windows: Vec<Area>,
    /// Which row and column each is in.
    pub(super) places: Vec<(usize, usize)>,
    /// How far neighbours show the same, mm.
    pub(super) overlap: f64,
}

/// Why something can't be laid on paper.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum NoPaper {
    /// On a roll it would be longer than a sheet may be, mm.
    TooLong(f64),
}

impl Tiles {
    /// Lays a drawing of a size on paper; tiles of which nothing is `needed` are left out.
    pub(super) fn lay(
        size: (f64, f64),
        paper: &Paper,
        needed: impl Fn(Area) -> bool,
    ) -> Result<Self, NoPaper> {
        let sheet = match (paper.size, paper.size.sides()) {
            (_, (short, Some(long))) => (long, short),
            (PaperSize::Roll(_), (width, _)) | (_, (width, None)) => {
                let length = size.0 + COLUMN + 2.0 * MARGIN;
                if length > LONGEST_SHEET {
                    return Err(NoPaper::TooLong(length));
                }
                (length, width)
            }
        };
        let field = [MARGIN, MARGIN, sheet.0 - MARGIN - COLUMN, sheet.1 - MARGIN];
        let shows = (field[2] - field[0], field[3] - field[1]);
        let (columns, rows) = (
            count(size.0, shows.0, paper.overlap),
            count(size.1, shows.1, paper.overlap),
        );
        // The drawing stands in the middle of what its tiles show together.
        let together = |n: usize, one: f64| n as f64 * (one - paper.overlap) + paper.overlap;
        let left = (size.0 - together(columns, shows.0)) / 2.0;
        let top = (size.1 - together(rows, shows.1)) / 2.0;
        let mut tiles = Self {
            paper: sheet,
            field,
            windows: Vec::new(),
            places: Vec::new(),
            overlap: paper.overlap,
        };
        for row in 0..rows {
            for column in 0..columns {
                let x = left + column as f64 * (shows.0 - paper.overlap);
                let y = top + row as f64 * (shows.1 - paper.overlap);
                let window = [x, y, x + shows.0, y + shows.1];
                if needed(window) {
                    tiles.windows.push(window);
                    tiles.places.push((row, column));
                }
            }
        }
        Ok(tiles)
    }

    /// From a place of the drawing to one of a sheet.
    pub(super) fn shift(&self, tile: usize) -> PaperPoint {
        let window = self.windows[tile];
        (self.field[0] - window[0], self.field[1] - window[1])
    }

    /// How large what all show together is, mm.
    pub(super) fn together(&self) -> (f64, f64) {
        let all = self.windows.iter();
        let least = |k: usize| all.clone().map(|w| w[k]).fold(f64::INFINITY, f64::min);
        let most = |k: usize| all.clone().map(|w| w[k]).fold(f64::NEG_INFINITY, f64::max);
        (most(2) - least(0), most(3) - least(1))
    }

    /// The tile at a row and a column.
    fn at(&self, place: (usize, usize)) -> Option<usize> {
        self.places.iter().position(|other| *other == place)
    }

    /// The strips that two tiles share, with their numbers.
    fn shared(&self) -> Vec<(usize, usize, Area)> {
        let mut all = Vec::new();
        for (i, (row, column)) in self.places.iter().enumerate() {
            for next in [(*row, column + 1), (row + 1, *column)] {
                if let Some(j) = self.at(next) {
                    let (a, b) = (self.windows[i], self.windows[j]);
                    let strip = [
                        a[0].max(b[0]),
                        a[1].max(b[1]),
                        a[2].min(b[2]),
                        a[3].min(b[3]),
                    ];
                    all.push((i, j, strip));
                }
            }
        }
        all
    }

    /// Crosses on what neighbours share, each with a letter of its own, in the drawing's places; where `is_clear` says so,
    /// if anywhere.
    pub(super) fn crosses(
        &self,
        room: &mut Room<'_>,
        is_clear: impl Fn(PaperPoint) -> bool,
    ) -> Layer {
        let mut layer = Layer::new("match");
        let mut number = 0_usize;
        for (_, _, [left, top, right, foot]) in self.shared() {
            let upright = foot - top > right - left;
            for share in [0.25, 0.75] {
                let at = |share: f64| {
                    if upright {
                        (f64::midpoint(left, right), top + (foot - top) * share)
                    } else {
                        (left + (right - left) * share, f64::midpoint(top, foot))
                    }
                };
                let aside = [0.0, 0.05, -0.05, 0.1, -0.1, 0.15, -0.15];
                let mut clear = aside.into_iter().map(|by| at(share + by));
                let at = clear.find(|at| is_clear(*at)).unwrap_or_else(|| at(share));
                let mut cross = Path::default();
                cross.draw_stroke((at.0 - CROSS, at.1), (at.0 + CROSS, at.1));
                cross.draw_stroke((at.0, at.1 - CROSS), (at.0, at.1 + CROSS));
                cross.draw_circle(at, CROSS / 2.0);
                layer.draw_strokes(Pen::RULE, cross);
                room.take([at.0 - CROSS, at.1 - CROSS, at.0 + CROSS, at.1 + CROSS]);
                let name = letter(number);
                number += 1;
                let beside = [(-6.0, -2.0), (6.0, -2.0), (-6.0, 4.5), (6.0, 4.5)];
                let tried = beside.into_iter().map(|(right, down)| {
                    letters((at.0 + right, at.1 + down), 2.5, &name)
                        .bold()
                        .middle()
                });
                layer.texts.extend(room.place(tried));
            }
        }
        layer
    }

    /// Figures along the foot of sheets longer than a metre, from their left end, in the drawing's places; and how far they
    /// reach, mm. A tape laid along them tells how far the paper has moved.
    pub(super) fn figured(&self, room: &mut Room<'_>) -> Option<(Layer, f64)> {
        const LEFT: f64 = 10.0;
        if self.paper.0 <= FIGURED {
            return None;
        }
        let mut layer = Layer::new("figures");
        let mut ticks = Path::default();
        let mut reach = 0.0;
        for [left, _, right, foot] in &self.windows {
            let count = crate::num::count_of((right - left - 2.0 * LEFT) / FIGURE);
            for i in 0..=count {
                let along = i as f64 * FIGURE;
                let x = left + LEFT + along;
                ticks.draw_stroke((x, *foot), (x, foot - 3.0));
                let figure = letters((x, foot - 4.0), 2.5, fixed(along, 0)).middle();
                room.take(figure.bounds());
                layer.draw_text(figure);
                reach = along;
            }
        }
        layer.draw_strokes(Pen::FINE, ticks);
        Some((layer, reach))
    }

    /// What a tile has at its edges: how far its neighbours reach over it, and which they are; in the sheet's places.
    pub(super) fn edges(&self, tile: usize) -> Layer {
        let mut layer = Layer::new("match");
        let by = self.shift(tile);
        for (i, j, strip) in self.shared() {
            if i != tile && j != tile {
                continue;
            }
            let [left, top, right, foot] = strip;
            let upright = foot - top > right - left;
            let mut limit = Path::default();
            // The far edge of the strip, as this tile sees it.
            match (upright, i == tile) {
                (true, true) => limit.draw_stroke((left, top), (left, foot)),
                (true, false) => limit.draw_stroke((right, top), (right, foot)),
                (false, true) => limit.draw_stroke((left, top), (right, top)),
                (false, false) => limit.draw_stroke((left, foot), (right, foot)),
            }
            layer.draw_strokes(Pen::FINE.dashed(Dash::Short), limit.moved(by));
        }
        layer
    }

    /// What is said at each shared strip, once on each of both tiles; in the drawing's places, by tile.
    pub(super) fn words(&self, room: &mut Room<'_>) -> Vec<Layer> {
        let mut layers: Vec<Layer> = self.windows.iter().map(|_| Layer::new("match")).collect();
        for (i, j, [left, top, right, foot]) in self.shared() {
            let upright = foot - top > right - left;
            let shares = [0.5, 0.4, 0.6, 0.35, 0.65, 0.12, 0.88];
            // Both say what the other is, in one place of the drawing: the one that lies above covers the other.
            let says = format!("tile {} lies on tile {} here", j + 1, i + 1);
            let tried = shares.into_iter().map(|share| {
                if upright {
                    let x = f64::midpoint(left, right) + 0.9;
                    let text = letters((x, top + (foot - top) * share), 2.2, &says)
                        .middle()
                        .patched();
                    Text {
                        turned: -core::f64::consts::FRAC_PI_2,
                        ..text
                    }
                } else {
                    let y = f64::midpoint(top, foot) + 0.9;
                    letters((left + (right - left) * share, y), 2.2, &says)
                        .middle()
                        .patched()
                }
            });
            if let Some(text) = room.place(tried) {
                layers[i].draw_text(text.clone());
                layers[j].draw_text(text);
            }
        }
        layers
    }
}

fn count(length: f64, one: f64, overlap: f64) -> usize {
    // Nothing is lost by a hundredth of a millimetre that two roundings make.
    const ROUNDING: f64 = 0.01;
    let more = (length - one - ROUNDING) / (one - overlap);
    1 + crate::num::count_of(more.ceil().max(0.0))
}

/// `a` to `z`, then `aa`.
fn letter(number: usize) -> String {
    const LETTERS: &[u8; 26] = b"abcdefghijklmnopqrstuvwxyz";
    let last = char::from(LETTERS[number % 26]);
    match number / 26 {
        0 => last.to_string(),
        more => letter(more - 1) + &last.to_string(),
    }
}
