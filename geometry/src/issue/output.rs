//! One door for every file that is made of lines: the worker's and the batch job's.

use serde::{Deserialize, Serialize};

use super::sheets::{Pack, PackOptions, PackPart};
use crate::loft::Lofted;
use crate::paper::Sheet;
use crate::settle::{Findings, Judging};
use crate::shop::{OffsetsOptions, Stations, provenance, tabulate_offsets};
use crate::spline::{MeshOptions, mesh};
use crate::units::{LengthUnit, Message};
use crate::write::{
    GlbError, GlbOptions, PdfError, PdfOptions, StepOptions, WriteError, write_csv, write_glb,
    write_pdf, write_step, write_xlsx,
};

/// A file that can be made of lines.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub enum Output {
    /// The surface as STEP: exact faces of both sides.
    Step,
    /// The skin's triangles as glTF.
    Glb,
    /// The offsets table.
    Offsets {
        /// As which file.
        form: TableForm,
        /// mm; none for the document's own stations.
        spacing: Option<f64>,
        /// What its lengths are written in.
        unit: LengthUnit,
    },
    /// All sheets that are wanted, as pages of one PDF.
    Sheets {
        /// By what a printer's lengths across and up are taken so that they come out true; none where it was not gauged.
        gauge: Option<[f64; 2]>,
    },
}

/// What a table can be written as.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum TableForm {
    /// Plain text, values parted by commas.
    Csv,
    /// A spreadsheet.
    Xlsx,
}

/// Why a file can't be made.
#[derive(Debug)]
pub enum IssueError {
    /// The skin's triangles can't be written.
    Mesh(GlbError),
    /// The spreadsheet can't.
    Spreadsheet(WriteError),
    /// The lines can't be judged.
    Judged(String),
    /// The pages can't be written.
    Pages(PdfError),
}

impl Message for IssueError {
    fn message(&self, unit: LengthUnit) -> String {
        match self {
            Self::Mesh(error) => error.to_string(),
            Self::Spreadsheet(error) => error.to_string(),
            Self::Judged(sentence) => sentence.clone(),
            Self::Pages(error) => error.message(unit),
        }
    }
}

impl core::fmt::Display for IssueError {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        f.write_str(&self.message(LengthUnit::Millimetres))
    }
}

impl core::error::Error for IssueError {}

/// Makes a file; the same lines give the same bytes. `at` hears the part that it has come to, in words that follow «now:».
///
/// # Errors
/// [`IssueError`], as the file's writer says it.
pub fn make(lofted: &Lofted, output: Output, at: &dyn Fn(&str)) -> Result<Vec<u8>, IssueError> {
    let (lines, loft) = (lofted.lines(), lofted.loft());
    let (name, description) = (&lines.about.title, &provenance(lofted));
    match output {
        Output::Step => {
            at("the faces");
            let options = StepOptions { name, description };
            Ok(write_step(loft.surface(), &options))
        }
        Output::Glb => {
            at("the triangles");
            let skin = mesh(loft.surface(), &MeshOptions::NEAR).with_port();
            write_glb(&skin, &GlbOptions { name, description }).map_err(IssueError::Mesh)
        }
        Output::Offsets {
            form,
            spacing,
            unit,
        } => {
            at("the offsets");
            let options = OffsetsOptions {
                stations: spacing.map_or(Stations::Own, Stations::Every),
                unit,
            };
            let table = tabulate_offsets(lofted, &options);
            at("the file");
            match form {
                TableForm::Csv => Ok(write_csv(&table)),
                TableForm::Xlsx => write_xlsx(&table).map_err(IssueError::Spreadsheet),
            }
        }
        Output::Sheets { gauge } => issue_sheets(lofted, gauge, at).map(|issued| issued.pdf),
    }
}

/// Sheets as they go to the shop.
#[derive(Clone, Debug, PartialEq)]
pub struct IssuedSheets {
    /// All that there can be, with what is issued of it.
    pub parts: Vec<PackPart>,
    /// The pages of what is issued.
    pub pdf: Vec<u8>,
}

/// Makes the pages of all sheets that are wanted and settled, or ticked though they are not. `gauge` as [`Output::Sheets`] has
/// it; `at` as in [`make`].
///
/// # Errors
/// [`IssueError`].
pub fn issue_sheets(
    lofted: &Lofted,
    gauge: Option<[f64; 2]>,
    at: &dyn Fn(&str),
) -> Result<IssuedSheets, IssueError> {
    let findings = judged(lofted, at).map_err(IssueError::Judged)?;
    at("the boards");
    let findings = Some(&findings);
    let pack = Pack::of(lofted, PackOptions { gauge, findings });
    let parts = &pack.contents().parts;
    let issued = parts
        .iter()
        .enumerate()
        .filter(|(_, part)| part.is_issued());
    let sheets: Vec<Sheet> = issued
        .flat_map(|(i, part)| {
            at(&part.code);
            pack.draw(i)
        })
        .collect();
    at("the pages");
    let options = PdfOptions {
        title: &lofted.lines().about.title,
        scale: gauge.unwrap_or([1.0; 2]),
    };
    let written = write_pdf(&sheets, &options, &mut |_sheet| true);
    let pdf = written.map_err(IssueError::Pages)?.map(|pdf| pdf.bytes);
    Ok(IssuedSheets {
        parts: parts.clone(),
        pdf: pdf.unwrap_or_default(),
    })
}

/// What is found of lines at once: verdicts, misprints and contradictions.
fn judged(lofted: &Lofted, at: &dyn Fn(&str)) -> Result<Findings, String> {
    Judging::of(lofted, None, at, &|_| ())?.at_once(at)
}

#[cfg(test)]
mod tests {
    use std::sync::Arc;

    use super::*;
    use crate::document::{Frozen, read_folder};

    #[test]
    fn a_frozen_revisions_letter_stands_beside_its_fingerprint_in_every_file() {
        let demo = include_bytes!("../../../public/demo/marram.json");
        let lines = Arc::new(read_folder(demo).unwrap().lines);
        let print = lines.fingerprint().full();
        let lofted = Lofted::build(lines).unwrap();
        let frozen = lofted.clone().frozen_as(Some(Frozen {
            label: "B".to_owned(),
            date: "2026-03-21".to_owned(),
        }));
        let table = |form| Output::Offsets {
            form,
            spacing: None,
            unit: LengthUnit::Millimetres,
        };
        let text = |lofted: &Lofted, output| {
            let bytes = make(lofted, output, &|_part| ()).unwrap();
            String::from_utf8_lossy(&bytes).into_owned()
        };
        let both = format!("evision B, fingerprint {print}.");
        let alone = format!("evision {print}.");
        for output in [table(TableForm::Csv), Output::Step, Output::Glb] {
            let (with, without) = (text(&frozen, output), text(&lofted, output));
            assert!(with.contains(&both), "{output:?}");
            assert!(without.contains(&alone), "{output:?}");
            assert!(!without.contains("evision B"), "{output:?}");
        }
        // The spreadsheet is packed: what it is packed of is the same table.
        let made = |lofted: &Lofted| make(lofted, table(TableForm::Xlsx), &|_part| ()).unwrap();
        assert_ne!(made(&frozen), made(&lofted));
    }
}
