//! What both forms of a table, long and paper, come to: a list of entries.
//!
//! One entry for each reading and each torn place, with what was refused and found. Which form a table has says `layout`; the
//! forms are read in `long` and `paper`; what document they make is left to `build`; what each cell was taken for is noted as
//! it is read, for `understood`.

use super::cell::{CellFault, LineName, halves, head_and_unit};
use super::understood::{CellValue, Recorder};
use super::{Finding, MOST_TOLD, RefusedCell, TableLayout, TornCell};
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
