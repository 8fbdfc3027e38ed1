//! One door for every file that is made of lines: the worker's and the batch job's.

use std::sync::Arc;

use serde::{Deserialize, Serialize};

use super::sheets::{Pack, PackOptions, PackPart};
use crate::loft::Lofted;
use crate::paper::Sheet;
use crate::settle::Judging;
use crate::shop::{OffsetsOptions, Stations, provenance, tabulate_offsets};
use crate::spline::{MeshOptions, mesh};
use crate::units::{LengthUnit, Message};
use crate::write::{
    DxfCurves, DxfError, DxfOptions, Filed, GlbError, GlbOptions, Manifest, PdfError, PdfOptions,
    StepOptions, SvgLook, WriteError, ZipError, file_name, write_csv, write_dxf, write_glb,
    write_pdf, write_step, write_svg, write_xlsx,
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
    /// One part of them, which must be settled or ticked.
    Part {
        /// Its place in what can be issued.
        part: usize,
        /// As which file.
        form: PartForm,
        /// As of [`Output::Sheets`].
        gauge: Option<[f64; 2]>,
    },
    /// These pages, each board's outline for machines that cut it, and the offsets, as one archive with a list.
    Archive {
        /// As of [`Output::Sheets`].
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

/// What one part of the sheets can be written as.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum PartForm {
    /// Its pages.
    Pdf,
    /// A board's outline.
    Outline(OutlineForm),
}

/// What a board's outline can be written as.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum OutlineForm {
    /// For whatever shows or cuts SVG, in mm.
    Svg,
    /// For a machine that cuts it, as splines.
    DxfSplines,
    /// As arcs, for one that takes no splines.
    DxfArcs,
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
    /// A part of the sheets is not there, is no board, or is held back.
    NoPart(String),
    /// The pages can't be written.
    Pages(PdfError),
    /// An outline can't be.
    Outline(DxfError),
    /// The archive can't be.
    Archive(ZipError),
}

impl Message for IssueError {
    fn message(&self, unit: LengthUnit) -> String {
        match self {
            Self::Mesh(error) => error.to_string(),
            Self::Spreadsheet(error) => error.to_string(),
            Self::Judged(sentence) | Self::NoPart(sentence) => sentence.clone(),
            Self::Pages(error) => error.message(unit),
            Self::Outline(error) => error.message(unit),
            Self::Archive(error) => error.message(unit),
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
        Output::Sheets { gauge } => {
            let pack = pack_of(lofted, gauge, at)?;
            pages(&pack, at)
        }
        Output::Part { part, form, gauge } => {
            let pack = pack_of(lofted, gauge, at)?;
            one_part(&pack, part, form, at)
        }
        Output::Archive { gauge } => {
            let pack = pack_of(lofted, gauge, at)?;
            let pdf = pages(&pack, at)?;
            archive(&pack, &pdf, at)
        }
    }
}

/// Sheets as they go to the shop.
#[derive(Clone, Debug, PartialEq)]
pub struct IssuedSheets {
    /// All that there can be, with what is issued of it.
    pub parts: Vec<PackPart>,
    /// The pages of what is issued.
    pub pdf: Vec<u8>,
    /// The same with each board's outline and the offsets, as an archive.
    pub archive: Vec<u8>,
}

/// Makes the pages of all sheets that are wanted and settled, or ticked though they are not, and the archive. `gauge` as
/// [`Output::Sheets`] has it; `at` as in [`make`].
///
/// # Errors
/// [`IssueError`].
pub fn issue_sheets(
    lofted: &Lofted,
    gauge: Option<[f64; 2]>,
    at: &dyn Fn(&str),
) -> Result<IssuedSheets, IssueError> {
    let pack = pack_of(lofted, gauge, at)?;
    let pdf = pages(&pack, at)?;
    Ok(IssuedSheets {
        parts: pack.contents().parts.clone(),
        archive: archive(&pack, &pdf, at)?,
        pdf,
    })
}

fn pack_of(
    lofted: &Lofted,
    gauge: Option<[f64; 2]>,
    at: &dyn Fn(&str),
) -> Result<Pack, IssueError> {
    let judging = Judging::of(lofted, None, at, &|_| ());
    let findings = judging.and_then(|mut judging| judging.at_once(at));
    let findings = Some(Arc::new(findings.map_err(IssueError::Judged)?));
    at("the boards");
    Ok(Pack::of(lofted, PackOptions { gauge, findings }))
}

/// Those parts of a pack that are issued, with their places in it.
fn issued(pack: &Pack) -> impl Iterator<Item = (usize, &PackPart)> {
    let parts = pack.contents().parts.iter().enumerate();
    parts.filter(|(_, part)| part.is_issued())
}

fn pages(pack: &Pack, at: &dyn Fn(&str)) -> Result<Vec<u8>, IssueError> {
    let sheets = issued(pack).flat_map(|(i, part)| {
        at(&part.code);
        pack.draw(i)
    });
    let sheets: Vec<Sheet> = sheets.collect();
    at("the pages");
    pdf_of(pack, &sheets)
}

fn pdf_of(pack: &Pack, sheets: &[Sheet]) -> Result<Vec<u8>, IssueError> {
    let options = PdfOptions {
        title: &pack.lofted().lines().about.title,
        scale: pack.gauge().unwrap_or([1.0; 2]),
    };
    let written = write_pdf(sheets, &options, &mut |_sheet| true);
    let pdf = written.map_err(IssueError::Pages)?.map(|pdf| pdf.bytes);
    Ok(pdf.unwrap_or_default())
}

fn one_part(
    pack: &Pack,
    place: usize,
    form: PartForm,
    at: &dyn Fn(&str),
) -> Result<Vec<u8>, IssueError> {
    let refused = |why: String| IssueError::NoPart(why);
    let part = pack.contents().parts.get(place);
    let part = part.ok_or_else(|| refused("There is no such part any more.".to_owned()))?;
    if let Some(fault) = &part.fault {
        return Err(refused(fault.clone()));
    }
    if !part.warnings.is_empty() && !part.despite {
        let why = format!(
            "{} is held back: {} Tick it in the list to issue it all the same.",
            part.code,
            part.warnings.join(" ")
        );
        return Err(refused(why));
    }
    at(&part.code);
    match form {
        PartForm::Pdf => pdf_of(pack, &pack.draw(place)),
        PartForm::Outline(form) => {
            let sheet = pack.outline(place);
            let sheet =
                sheet.ok_or_else(|| refused(format!("{} is no board to be cut.", part.code)))?;
            outline(&sheet, form, &provenance(pack.lofted()))
        }
    }
}

/// A board's outline as a file.
fn outline(sheet: &Sheet, form: OutlineForm, description: &str) -> Result<Vec<u8>, IssueError> {
    let dxf = |curves| {
        let options = DxfOptions {
            curves,
            description,
        };
        write_dxf(sheet, &options).map_err(IssueError::Outline)
    };
    match form {
        OutlineForm::Svg => Ok(write_svg(sheet, SvgLook::File).into_bytes()),
        OutlineForm::DxfSplines => dxf(DxfCurves::Splines),
        OutlineForm::DxfArcs => dxf(DxfCurves::ARCS),
    }
}

/// The folder and ending of each file that a board's outline goes out as.
const OUTLINES: [(&str, &str, OutlineForm); 3] = [
    ("svg", "svg", OutlineForm::Svg),
    ("dxf-splines", "dxf", OutlineForm::DxfSplines),
    ("dxf-arcs", "dxf", OutlineForm::DxfArcs),
];

fn archive(pack: &Pack, pdf: &[u8], at: &dyn Fn(&str)) -> Result<Vec<u8>, IssueError> {
    let lofted = pack.lofted();
    let description = &provenance(lofted);
    let face = lofted.lines().shop.sheets.boards.face.name();
    let mut files = vec![("sheets.pdf".to_owned(), pdf.to_vec(), face)];
    at("the outlines");
    for (i, part) in issued(pack) {
        let Some(sheet) = pack.outline(i) else {
            continue;
        };
        for (folder, ending, form) in OUTLINES {
            let name = format!("{folder}/{}", file_name(&part.code, ending, "board"));
            files.push((name, outline(&sheet, form, description)?, face));
        }
    }
    for (name, form) in [
        ("offsets.csv", TableForm::Csv),
        ("offsets.xlsx", TableForm::Xlsx),
    ] {
        let output = Output::Offsets {
            form,
            spacing: None,
            unit: lofted.lines().about.unit,
        };
        files.push((name.to_owned(), make(lofted, output, at)?, "OML"));
    }
    at("the archive");
    let fingerprint = &lofted.lines().fingerprint().full();
    let revision = lofted
        .revision()
        .map_or("not frozen", |frozen| frozen.label.as_str());
    let listed = files.iter().map(|(name, bytes, surface)| Filed {
        name,
        bytes,
        revision,
        fingerprint,
        surface,
    });
    let manifest = Manifest {
        files: listed.collect(),
    };
    manifest.write_zip().map_err(IssueError::Archive)
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
