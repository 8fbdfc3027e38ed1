//! A table on paper: as many sheets as it takes.
//!
//! In: a [`Table`] and the paper. Out: pages of it, each with the table's heads; where its columns don't fit beside each
//! other, the first of them stands again before those that follow.

use super::room::{fitted, letters, wrapped};
use super::stamp::BAND;
use super::tiles::{COLUMN, MARGIN};
use crate::document::Paper;
use crate::num;
use crate::paper::{Cell, Layer, Path, Pen, Table, Text};

/// Height of capitals, and from line to line, mm.
const CAPITAL: f64 = 2.2;
const FEED: f64 = 4.4;

/// Between columns, mm.
const GAP: f64 = 4.0;

/// Widest column of words, mm; longer ones are broken into lines.
const WIDEST: f64 = 95.0;

/// A head no wider than this, mm, is not broken.
const SHORT_HEAD: f64 = 16.0;

/// From the field's edge to the table, mm.
const INSET: f64 = 6.0;

/// A table as it lies on its sheets.
#[derive(Debug)]
pub(super) struct TableSheets {
    /// Size of each sheet, mm.
    pub(super) paper: (f64, f64),
    /// Each sheet's columns and rows.
    pages: Vec<(Vec<usize>, core::ops::Range<usize>)>,
    widths: Vec<f64>,
    /// How many lines each row takes.
    lines: Vec<usize>,
    table: Table,
}

impl TableSheets {
    /// Lays a table on paper; on a roll it is laid as on A3.
    pub(super) fn lay(mut table: Table, paper: &Paper) -> Self {
        // The table's own unit is said once, below it; and B612's brackets are hard to tell from square ones.
        let own = format!(" ({})", table.unit.short());
        for head in &mut table.heads {
            *head = head.replace(&own, "").replace(" (", ", ").replace(')', "");
        }
        const A3: (f64, f64) = (420.0, 297.0);
        let (short, long) = paper.size.sides();
        let sheet = long.map_or(A3, |long| (long, short));
        let room = sheet.0 - 2.0 * MARGIN - COLUMN - 2.0 * INSET;
        let widest = WIDEST.min(room / 2.0);
        let column_width = |column: usize| {
            let cells = table.rows.iter().filter_map(|row| row.get(column));
            let own = cells.map(|cell| plain(&table, cell).width());
            let bold = |says: &str| letters((0.0, 0.0), CAPITAL, says).bold().width();
            let head = &table.heads[column];
            // A short head, as «BL 12 U», stays in one line.
            let head = match bold(head) {
                whole if whole <= SHORT_HEAD => whole,
                _ => head.split_whitespace().map(bold).fold(0.0, f64::max),
            };
            own.fold(head, f64::max).min(widest)
        };
        let widths: Vec<f64> = (0..table.heads.len()).map(column_width).collect();
        let lines: Vec<usize> = { table.rows.iter() }
            .map(|row| {
                let cells = row.iter().zip(&widths);
                let lines =
                    cells.map(|(cell, width)| wrapped(&plain(&table, cell), *width, FEED).len());
                lines.max().unwrap_or(1).max(1)
            })
            .collect();
        let mut bands: Vec<Vec<usize>> = Vec::new();
        let mut used = 0.0;
        for column in 0..widths.len() {
            let more = widths[column] + GAP;
            if bands.is_empty() || used + more > room + GAP {
                let again = if bands.is_empty() { vec![] } else { vec![0] };
                used = again.iter().map(|first: &usize| widths[*first] + GAP).sum();
                bands.push(again);
            }
            used += more;
            if let Some(band) = bands.last_mut() {
                band.push(column);
            }
        }
        let mut own = Self {
            paper: sheet,
            pages: Vec::new(),
            widths,
            lines,
            table,
        };
        for band in bands {
            let high = sheet.1
                - 2.0 * MARGIN
                - 2.0 * INSET
                - own.head_lines(&band) as f64 * FEED
                - own.notes_height();
            let most = num::count_of((high / FEED).max(1.0));
            let mut from = 0;
            while from < own.table.rows.len() || (from == 0 && own.table.rows.is_empty()) {
                let (mut to, mut taken) = (from, 0);
                while to < own.lines.len() && (taken + own.lines[to] <= most || to == from) {
                    taken += own.lines[to];
                    to += 1;
                }
                own.pages.push((band.clone(), from..to));
                if to == from {
                    break;
                }
                from = to;
            }
        }
        own
    }

    /// Whether another says the same.
    pub(super) fn says_as(&self, other: &Self) -> bool {
        self.table.heads == other.table.heads && self.table.rows == other.table.rows
    }

    /// How many sheets it takes.
    pub(super) fn pages(&self) -> usize {
        self.pages.len()
    }

    fn head(&self, column: usize) -> Vec<Text> {
        let head = letters((0.0, 0.0), CAPITAL, &self.table.heads[column]).bold();
        wrapped(&head, self.widths[column], FEED)
    }

    fn head_lines(&self, band: &[usize]) -> usize {
        band.iter()
            .map(|column| self.head(*column).len())
            .max()
            .unwrap_or(1)
    }

    fn notes_height(&self) -> f64 {
        BAND + FEED * (self.table.notes.len() + 1) as f64
    }

    /// One of its sheets: all but the column that says what it is.
    pub(super) fn draw(&self, page: usize) -> Layer {
        let mut layer = Layer::new("table");
        let Some((band, rows)) = self.pages.get(page) else {
            return layer;
        };
        let left = MARGIN + INSET;
        let mut y = MARGIN + INSET + CAPITAL;
        let heads = self.head_lines(band);
        let mut x = left;
        let (mut rules, mut heavy) = (Path::default(), Path::default());
        let right: f64 = left
            + band
                .iter()
                .map(|column| self.widths[*column] + GAP)
                .sum::<f64>()
            - GAP;
        for column in band {
            let lines = self.head(*column);
            let first = heads - lines.len();
            for (i, line) in lines.into_iter().enumerate() {
                let down = y + (first + i) as f64 * FEED;
                layer.draw_text(self.set(*column, x, down, line));
            }
            x += self.widths[*column] + GAP;
        }
        y += heads as f64 * FEED;
        heavy.draw_stroke((left, y - CAPITAL - 1.1), (right, y - CAPITAL - 1.1));
        for row in rows.clone() {
            let mut x = left;
            for column in band {
                let cell = plain(&self.table, &self.table.rows[row][*column]);
                let lines = wrapped(&cell, self.widths[*column], FEED);
                for (i, line) in lines.into_iter().enumerate() {
                    layer.draw_text(self.set(*column, x, y + i as f64 * FEED, line));
                }
                x += self.widths[*column] + GAP;
            }
            y += self.lines[row] as f64 * FEED;
            let path = if (row + 1) % 5 == 0 {
                &mut heavy
            } else {
                &mut rules
            };
            path.draw_stroke((left, y - CAPITAL - 1.1), (right, y - CAPITAL - 1.1));
        }
        layer.draw_strokes(Pen::RULE, rules);
        layer.draw_strokes(Pen::SECOND, heavy);
        let room = self.paper.0 - MARGIN - COLUMN - INSET - left;
        let after_first = self.table.notes.len().saturating_sub(1) as f64;
        let mut y = self.paper.1 - MARGIN - BAND - INSET - FEED * after_first;
        for note in &self.table.notes {
            layer.draw_text(fitted(letters((left, y), CAPITAL, note), room));
            y += FEED;
        }
        layer
    }

    /// A cell's line in its column: figures at the right, words at the left.
    fn set(&self, column: usize, x: f64, y: f64, line: Text) -> Text {
        let mut cells = self.table.rows.iter().filter_map(|row| row.get(column));
        let words = cells.any(|cell| matches!(cell, Cell::Text(_)));
        if words {
            Text { at: (x, y), ..line }
        } else {
            Text {
                at: (x + self.widths[column], y),
                ..line
            }
            .end()
        }
    }
}

fn plain(table: &Table, cell: &Cell) -> Text {
    letters((0.0, 0.0), CAPITAL, table.text(cell))
}
