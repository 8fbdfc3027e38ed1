//! Which way a table is laid out, by its heads; and the reading of it that way.
//!
//! In: the grid of a text. Out: all that was [`Read`] of it, by `long` or `paper`.

use super::cell::{LineName, head_and_unit};
use super::long::{LongHead, changed_about, long, long_head};
use super::paper::PaperTable;
use super::table::Read;
use super::understood::Recorder;
use super::{Finding, Grid, PasteError, TableLayout, TableOptions};
use crate::units::{DecimalMark, LengthUnit};

pub(super) fn read(
    grid: &Grid,
    options: &TableOptions,
    mark: DecimalMark,
) -> Result<Read, PasteError> {
    for (at, (_, head)) in grid.rows.iter().enumerate().take(20) {
        let names = || head.iter().map(|cell| long_head(head_and_unit(cell).0));
        let has = |wanted: LongHead| names().any(|name| name == Some(wanted));
        let is_long = has(LongHead::Line)
            && (has(LongHead::Station) || has(LongHead::X))
            && (has(LongHead::HalfBreadth) || has(LongHead::Height));
        let known = |text: &String| LineName::of(head_and_unit(text).0).is_known();
        let across = head.iter().skip(1).filter(|cell| known(cell)).count();
        let down = grid.rows[at + 1..]
            .iter()
            .filter_map(|(_, row)| row.first())
            .filter(|cell| known(cell))
            .count();
        let mut read = Read {
            form: TableLayout::Long,
            unit: LengthUnit::Millimetres,
            mark,
            rows: 0,
            entries: Vec::new(),
            torn: Vec::new(),
            refused: Vec::new(),
            refused_count: 0,
            findings: passed_over(grid, at),
            notes: String::new(),
            recorder: Recorder::default(),
            told: [0; 2],
        };
        if is_long {
            read.rows = grid.rows.len() - at - 1;
            long(grid, at, options, &mut read);
            return changed_about(read, head);
        }
        // A head of lines, or a first column of lines under a head of stations.
        if across > 0 && across >= down {
            read.form = TableLayout::StationsDown;
        } else if down > 0 && head.len() > 1 && head.iter().skip(1).any(|cell| !cell.is_empty()) {
            read.form = TableLayout::StationsAcross;
        } else {
            continue;
        }
        let sheet = PaperTable {
            grid,
            at,
            across: read.form == TableLayout::StationsAcross,
        };
        read.rows = grid.rows.len() - at - 1;
        sheet.read(options, &mut read);
        return Ok(read);
    }
    Err(PasteError::NoHead)
}

/// The comments, and the rows before the head.
fn passed_over(grid: &Grid, before: usize) -> Vec<Finding> {
    let title = |(row, cells): &(usize, Vec<String>)| Finding::TitleRow {
        row: *row,
        text: cells
            .iter()
            .filter(|cell| !cell.is_empty())
            .cloned()
            .collect::<Vec<_>>()
            .join(", "),
    };
    let titles = grid.rows[..before].iter().map(title);
    grid.comments().into_iter().chain(titles).collect()
}
