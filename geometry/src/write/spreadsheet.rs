//! A table as a spreadsheet (XLSX).
//!
//! Feet-inches-eighths and pairs are text, so that no spreadsheet makes dates of them; decimals are numbers.

use rust_xlsxwriter::{DocProperties, ExcelDateTime, Format, FormatBorder, Workbook, XlsxError};

use crate::paper::{Cell, Table};
use crate::units::LengthUnit;

/// Why a spreadsheet could not be written: what the library says, which only a table beyond its limits brings about.
#[derive(Debug)]
pub struct WriteError(XlsxError);

impl core::fmt::Display for WriteError {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        write!(
            f,
            "The spreadsheet could not be written: {}. Take fewer rows.",
            self.0
        )
    }
}

impl core::error::Error for WriteError {}

impl From<XlsxError> for WriteError {
    fn from(error: XlsxError) -> Self {
        Self(error)
    }
}

/// Writes a table as XLSX: one sheet with the heads and rows, a second one with title and notes.
///
/// # Errors
/// [`WriteError`] beyond a sheet's limits of 1,048,576 rows and 16,384 columns.
///
/// # Accuracy
/// Numbers are rounded as the CSV shows them; the creation date is fixed, so that bytes repeat.
///
/// # Source
/// ECMA-376, by the library `rust_xlsxwriter`.
pub fn write_xlsx(table: &Table) -> Result<Vec<u8>, WriteError> {
    let mut book = Workbook::new();
    let made = ExcelDateTime::from_ymd(2000, 1, 1)?;
    book.set_properties(
        &DocProperties::new()
            .set_title(&table.title)
            .set_creation_datetime(&made),
    );
    let head = Format::new()
        .set_bold()
        .set_border_bottom(FormatBorder::Thin);
    let sheet = book.add_worksheet();
    sheet.set_name("Offsets")?;
    sheet.set_freeze_panes(1, 1)?;
    for (column, text) in (0_u16..).zip(&table.heads) {
        sheet.write_string_with_format(0, column, text, &head)?;
    }
    for (row, cells) in (1_u32..).zip(&table.rows) {
        for (column, cell) in (0_u16..).zip(cells) {
            let text = table.text(cell);
            let is_number = match cell {
                Cell::Length(_) => table.unit != LengthUnit::FeetInchesEighths,
                Cell::Number(..) => true,
                Cell::Empty | Cell::Text(_) | Cell::Pair(..) => false,
            };
            // The number is the one that the text shows, with as many places.
            match text.parse::<f64>() {
                _ if text.is_empty() => {}
                Ok(value) if is_number => {
                    let places = text
                        .split_once('.')
                        .map_or_else(String::new, |(_, places)| {
                            format!(".{}", "0".repeat(places.len()))
                        });
                    let shown = Format::new().set_num_format(format!("0{places}"));
                    sheet.write_number_with_format(row, column, value, &shown)?;
                }
                _ => {
                    sheet.write_string(row, column, &text)?;
                }
            }
        }
    }
    let notes = book.add_worksheet();
    notes.set_name("Notes")?;
    for (row, text) in (0_u32..).zip(core::iter::once(&table.title).chain(&table.notes)) {
        notes.write_string(row, 0, text)?;
    }
    Ok(book.save_to_buffer()?)
}
