//! Which form a table has, long or paper, and what both come to: a list of entries.
//!
//! In: the grid of cells. Out: one entry for each reading and each torn place, with what was refused and found. The forms
//! are read in `long` and `paper`; what document they make is left to `build`; what each cell was taken for is noted as it
//! is read, for `understood`.

use super::cell::{CellFault, LineName, halves, head_and_unit};
use super::long::{LongHead, changed_about, long, long_head};
use super::paper::PaperTable;
use super::understood::{CellValue, Recorder};
use super::{
    Finding, Grid, MOST_TOLD, PasteError, RefusedCell, TableLayout, TableOptions, TornCell,
};
use crate::document::Recorded;
use crate::units::{DecimalMark, LengthUnit};

/// One reading, or the place of one that is missing.
#[derive(Clone, Debug)]
pub(super) struct Entry {
    /// Row in the text, and column from 0, of what names its line.
    pub(super) place: (usize, usize),
    /// The row and the column that a person is shown it in, from 0.
    pub(super) shown: (usize, usize),
    pub(super) station: String,
    pub(super) x: f64,
    pub(super) line: LineName,
    /// The unit of the line's number, where its own head says it.
    pub(super) number_unit: Option<LengthUnit>,
    pub(super) half_breadth: Option<Recorded>,
    pub(super) height: Option<Recorded>,
    pub(super) tolerance: Option<f64>,
    /// What the form of the values suggests, mm.
    pub(super) suggested: f64,
    pub(super) source: String,
    pub(super) set_aside: Option<String>,
    pub(super) note: String,
}

/// What the text of a table says, before a document is made of it.
#[derive(Debug)]
pub(super) struct Read {
    pub(super) form: TableLayout,
    pub(super) unit: LengthUnit,
    pub(super) mark: DecimalMark,
    pub(super) rows: usize,
    pub(super) entries: Vec<Entry>,
    pub(super) torn: Vec<TornCell>,
    pub(super) refused: Vec<RefusedCell>,
    pub(super) refused_count: usize,
    pub(super) findings: Vec<Finding>,
    pub(super) notes: String,
    pub(super) recorder: Recorder,
    /// How many rows of a long table have half-breadth and height where their heads say, and how many the other way about,
    /// by the coordinate that their line gives.
    pub(super) told: [usize; 2],
}

impl Read {
    /// Refuses a cell of the row that is read.
    pub(super) fn refuse(
        &mut self,
        place: (usize, usize),
        head: &str,
        text: &str,
        fault: CellFault,
    ) {
        self.recorder.saw(place.1, CellValue::Refused);
        self.refuse_only(place, head, text, fault);
    }

    /// Refuses a cell, and leaves it to others to show it so.
    pub(super) fn refuse_only(
        &mut self,
        place: (usize, usize),
        head: &str,
        text: &str,
        fault: CellFault,
    ) {
        self.refused_count += 1;
        if self.refused.len() < MOST_TOLD {
            self.refused.push(RefusedCell {
                row: place.0,
                column: place.1 + 1,
                head: head.chars().take(80).collect(),
                text: text.chars().take(80).collect(),
                fault,
            });
        }
    }
}

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

/// A station's label without the word for it.
pub(super) fn station_label(text: &str) -> String {
    let name = head_and_unit(text).0;
    let words = ["station", "sta.", "sta"];
    let plain = words.iter().find_map(|word| {
        let start = name.get(..word.len())?;
        start
            .eq_ignore_ascii_case(word)
            .then(|| name.get(word.len()..))
            .flatten()
    });
    plain
        .filter(|rest| !rest.trim().is_empty())
        .unwrap_or(name)
        .trim()
        .to_owned()
}

/// The unit that most cells show by their form; none where none does.
pub(super) fn likely_unit<'a>(cells: impl Iterator<Item = &'a str>) -> Option<LengthUnit> {
    let (mut dashed, mut inches, mut bare) = (0_usize, 0_usize, 0_usize);
    for cell in cells {
        let first = halves(cell).map_or(cell, |(first, _)| first);
        let figures = first.trim_end_matches(['+', '-', '−']);
        if figures.split('-').count() == 3
            && figures
                .split('-')
                .all(|part| part.trim().parse::<u32>().is_ok())
        {
            dashed += 1;
        } else if first.ends_with(['"', '″'])
            || first.to_lowercase().ends_with("in")
            || first.contains(['\'', '′'])
        {
            inches += 1;
        } else if first.starts_with(|c: char| c.is_ascii_digit() || c == '-')
            && first.ends_with(|c: char| c.is_ascii_digit())
        {
            bare += 1;
        }
    }
    if dashed > 0 && dashed >= inches && dashed >= bare {
        Some(LengthUnit::FeetInchesEighths)
    } else if inches > 0 && inches >= bare {
        Some(LengthUnit::Inches)
    } else {
        None
    }
}

/// The unit of a table of which only x says its unit, or nothing does: that of x, else millimetres.
pub(super) fn guessed(x_head: Option<&str>, findings: &mut Vec<Finding>) -> LengthUnit {
    let only = x_head.and_then(|head| Some((head, head_and_unit(head).1?)));
    let unit = only.map_or(LengthUnit::Millimetres, |(_, unit)| unit);
    findings.push(Finding::UnitGuessed {
        unit,
        only: only.map(|(head, _)| head.trim().to_owned()),
    });
    unit
}
