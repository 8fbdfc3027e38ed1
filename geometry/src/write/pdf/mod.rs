//! Sheets as a PDF, a page each: true to size, in black, with its own letters.
//!
//! Strokes and curves stay what they are; letters are B612's, of which the file holds those it uses, so that its text can be
//! read, searched and copied. A program that prints it is told not to scale it.

use std::collections::BTreeSet;

use pdf_writer::{Chunk, Content, Filter, Finish, Name, Pdf, Rect, Ref, TextStr};

use crate::paper::Sheet;
use crate::units::{LengthUnit, Message, format_length_with_unit};

mod fonts;
mod page;

use fonts::{FACES, UsedFace, name_of};
use page::Printed;

/// A millimetre in points, the unit of a page.
const POINT: f64 = 72.0 / 25.4;

/// Longest side of a page, points: longer ones are refused by programs that read them.
const LONGEST: f64 = 14_400.0;

/// How sheets are printed.
#[derive(Clone, Debug, PartialEq)]
pub struct PdfOptions<'a> {
    /// What the file is, in a line.
    pub title: &'a str,
    /// By what a printer's lengths across and up are to be taken so that they come out true: 1 for a printer that prints true.
    pub scale: [f64; 2],
}

/// A file, and what it could not hold as it was asked for.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct WrittenPdf {
    /// The file.
    pub bytes: Vec<u8>,
    /// Letters that the typeface lacks, in their own order: their numbers stand in their places.
    pub lacking: Vec<char>,
}

/// Why sheets can't be written as a PDF.
#[derive(Clone, Debug, PartialEq)]
pub enum PdfError {
    /// There is no sheet.
    Empty,
    /// A page would be longer than a file can say.
    TooLong {
        /// The sheet's title.
        sheet: String,
        /// Its longer side, mm.
        length: f64,
    },
    /// A font's letters can't be taken out of it, which is a fault of ours.
    Font,
}

impl Message for PdfError {
    fn message(&self, unit: LengthUnit) -> String {
        match self {
            Self::Empty => "Nothing is chosen: choose a sheet first.".to_owned(),
            Self::TooLong { sheet, length } => format!(
                "{sheet} is {} long, and no page of a PDF may be longer than {}. Take it in tiles, or in two parts.",
                format_length_with_unit(*length, unit),
                format_length_with_unit(LONGEST / POINT, unit)
            ),
            Self::Font => "The letters can't be put into the file. Please report this.".to_owned(),
        }
    }
}

impl core::fmt::Display for PdfError {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        f.write_str(&self.message(LengthUnit::Millimetres))
    }
}

impl core::error::Error for PdfError {}

/// Writes sheets, each as a page of its size.
///
/// `at` hears the number of each sheet before it is drawn, and says whether to go on; none is returned where it does not.
///
/// # Units
/// Sheets in mm. A page is `scale` times as large as its sheet.
///
/// # Accuracy
/// Coordinates to 0.001 mm, and to 6e-8 of their size (PDF's reader may know numbers of 32 bits only). Edges of hatched
/// areas and of areas cut off by a clip to 0.005 mm; circles by eight curves to 2e-5 of their radius.
///
/// # Errors
/// [`PdfError`].
///
/// # Source
/// ISO 32000-1:2008, 8.5 (paths), 9.7 (composite fonts), 12.2 (viewer preferences).
pub fn write_pdf<'s>(
    sheets: impl IntoIterator<Item = &'s Sheet>,
    options: &PdfOptions<'_>,
    at: &mut dyn FnMut(usize) -> bool,
) -> Result<Option<WrittenPdf>, PdfError> {
    let mut next = 1;
    let mut number = || {
        next += 1;
        Ref::new(next - 1)
    };
    let [catalog, tree, info] = [number(), number(), number()];
    let faces_at: Vec<[Ref; 5]> = FACES
        .iter()
        .map(|_| core::array::from_fn(|_| number()))
        .collect();
    let tint = number();

    let mut faces = FACES.map(UsedFace::new);
    let mut lacking = BTreeSet::new();
    let mut pages = Vec::new();
    let mut drawn = Chunk::new();
    for (i, sheet) in sheets.into_iter().enumerate() {
        if !at(i) {
            return Ok(None);
        }
        let size = [
            sheet.size.0 * options.scale[0],
            sheet.size.1 * options.scale[1],
        ];
        let longest = size[0].max(size[1]);
        if longest * POINT > LONGEST + 1e-6 {
            return Err(PdfError::TooLong {
                sheet: sheet.title.clone(),
                length: longest,
            });
        }
        let mut printed = Printed {
            content: Content::new(),
            faces: &mut faces,
            lacking: &mut lacking,
        };
        printed.sheet(sheet, options.scale);
        let bytes = packed(&printed.content.finish());
        let (page, content) = (number(), number());
        drawn.stream(content, &bytes).filter(Filter::FlateDecode);
        pages.push((page, content, size));
    }
    if pages.is_empty() {
        return Err(PdfError::Empty);
    }

    let mut pdf = Pdf::new();
    let mut root = pdf.catalog(catalog);
    root.pages(tree);
    root.lang(TextStr("en"));
    let mut viewer = root.viewer_preferences();
    viewer.display_doc_title(true);
    viewer.pair(Name(b"PrintScaling"), Name(b"None"));
    viewer.finish();
    root.finish();
    pdf.document_info(info)
        .title(TextStr(options.title))
        .creator(TextStr("Scrieve Board"));
    pdf.pages(tree)
        .kids(pages.iter().map(|(page, ..)| *page))
        .count(i32::try_from(pages.len()).unwrap_or(i32::MAX));
    for (page, content, size) in &pages {
        let mut page = pdf.page(*page);
        let [width, height] = size.map(|mm| real(mm * POINT));
        page.parent(tree)
            .media_box(Rect::new(0.0, 0.0, width, height))
            .contents(*content);
        let mut resources = page.resources();
        let mut fonts = resources.fonts();
        for (face, at) in faces
            .iter()
            .zip(&faces_at)
            .filter(|(face, _)| face.is_used())
        {
            fonts.pair(name_of(face.face), at[0]);
        }
        fonts.finish();
        resources.ext_g_states().pair(page::TINT_STATE, tint);
    }
    pdf.ext_graphics(tint).non_stroking_alpha(page::TINT);
    for (face, at) in faces.iter().zip(&faces_at) {
        if face.is_used() {
            let mut font = Chunk::new();
            face.write(&mut font, *at).ok_or(PdfError::Font)?;
            pdf.extend(&font);
        }
    }
    pdf.extend(&drawn);
    Ok(Some(WrittenPdf {
        bytes: pdf.finish(),
        lacking: lacking.into_iter().collect(),
    }))
}

/// Bytes as «Flate» packs them.
fn packed(bytes: &[u8]) -> Vec<u8> {
    const LEVEL: u8 = 6;
    miniz_oxide::deflate::compress_to_vec_zlib(bytes, LEVEL)
}

/// A number as the file says it: to a thousandth, and of 32 bits. What is no number, a fault of whoever drew it, is 0.
fn real(value: f64) -> f32 {
    let rounded = (value * 1e3).round() / 1e3;
    if rounded.is_finite() {
        in_32_bits(rounded)
    } else {
        0.0
    }
}

/// A number in the 32 bits that a reader may keep it in.
#[expect(
    clippy::cast_possible_truncation,
    reason = "it is rounded, as a reader rounds it"
)]
fn in_32_bits(value: f64) -> f32 {
    value as f32
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::paper::{Layer, Path, Pen, Text};

    fn sheet(title: &str, size: (f64, f64)) -> Sheet {
        let mut layer = Layer::new("mark");
        let mut rule = Path::default();
        rule.draw_stroke((20.0, 50.0), (120.0, 50.0));
        layer.draw_strokes(Pen::PART, rule);
        layer.draw_text(Text::new((20.0, 40.0), 5.0, title));
        Sheet {
            title: title.to_owned(),
            size,
            layers: vec![layer],
        }
    }

    fn written(sheets: &[Sheet]) -> Result<Option<WrittenPdf>, PdfError> {
        let options = PdfOptions {
            title: "Probe",
            scale: [1.0; 2],
        };
        write_pdf(sheets, &options, &mut |_sheet| true)
    }

    #[test]
    fn the_same_sheets_give_the_same_bytes_and_a_stop_gives_none() {
        let sheets = [sheet("A", (210.0, 297.0)), sheet("B 12", (420.0, 297.0))];
        let first = written(&sheets).unwrap().unwrap();
        assert_eq!(written(&sheets).unwrap().unwrap(), first);
        assert!(first.bytes.starts_with(b"%PDF-1.7"));
        let options = PdfOptions {
            title: "Probe",
            scale: [1.0; 2],
        };
        assert_eq!(
            write_pdf(&sheets, &options, &mut |sheet| sheet < 1),
            Ok(None)
        );
    }

    #[test]
    fn what_is_too_long_or_nothing_is_refused_in_words() {
        let long = written(&[sheet("T-90", (300.0, 5081.0))]).unwrap_err();
        assert_eq!(
            long.to_string(),
            "T-90 is 5081.0 mm long, and no page of a PDF may be longer than 5080.0 mm. Take it in tiles, or in two parts."
        );
        assert!(written(&[sheet("T-90", (300.0, 5080.0))]).is_ok());
        assert_eq!(written(&[]), Err(PdfError::Empty));
    }

    #[test]
    fn letters_that_the_typeface_lacks_are_named() {
        let written = written(&[sheet("Größe \u{6f22} \u{202e}é", (210.0, 297.0))]);
        assert_eq!(written.unwrap().unwrap().lacking, ['\u{6f22}']);
    }
}
