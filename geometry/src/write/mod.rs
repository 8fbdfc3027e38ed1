//! Paper, surface or mesh in, bytes out; it knows nothing of aircraft.
//!
//! The same input gives the same bytes: no clock, no random names, numbers through one formatter (`units::fixed` for
//! what a person reads, `exact` for what a program reads back). Reading order: `table` (CSV), `spreadsheet` (XLSX),
//! `svg` (a drawing sheet), `pdf` (sheets as pages), `dxf` (a sheet for cutters), `step` (the exact surface), `mesh` (glTF);
//! `name` (what a file is called), `zip` (files as one, with a list of them).
//!
//! ```
//! use geometry::paper::{Cell, Path, Table};
//! use geometry::units::LengthUnit;
//! use geometry::write::{path_data, write_csv};
//!
//! let table = Table {
//!     title: "Offsets".to_owned(),
//!     unit: LengthUnit::Millimetres,
//!     heads: vec!["STA".to_owned(), "WL 500, mm".to_owned()],
//!     rows: vec![vec![Cell::Text("48".to_owned()), Cell::Length(431.8)]],
//!     notes: vec!["outside of the skin".to_owned()],
//! };
//! assert_eq!(write_csv(&table), b"STA,\"WL 500, mm\"\n48,431.80\n# outside of the skin\n");
//!
//! let mut stroke = Path::default();
//! stroke.draw_stroke((0.0, 0.0), (25.4, 0.0));
//! assert_eq!(path_data(&stroke, 96.0 / 25.4, 1), "M0 0L96 0");
//! ```

mod dxf;
mod mesh;
mod name;
mod pdf;
mod spreadsheet;
mod step;
mod svg;
mod table;
mod zip;

pub use dxf::{DxfCurves, DxfError, DxfOptions, write_dxf};
pub use mesh::{GlbError, GlbOptions, write_glb};
pub use name::file_name;
pub use pdf::{PdfError, PdfOptions, WrittenPdf, write_pdf};
pub use spreadsheet::{WriteError, write_xlsx};
pub use step::{StepOptions, write_step};
pub use svg::{SvgLook, path_data, write_svg};
pub use table::write_csv;
pub use zip::{Filed, MANIFEST, Manifest, ZipError, write_zip};

/// A number with every digit it needs to be read back to the same bits: no exponent, never -0, always a decimal point.
#[must_use]
fn exact(value: f64) -> String {
    // Adding nothing turns -0 into 0.
    let mut text = (value + 0.0).to_string();
    if !text.contains('.') {
        text.push('.');
    }
    text
}

/// A letter of a text that is one line and reads as it is stored: what parts lines is a space, and what is no letter, or
/// would turn the direction of those after it, the sign for a letter that can't be shown.
fn in_one_line(letter: char) -> char {
    match letter {
        '\t' | '\n' | '\r' => ' ',
        '\u{0}'..='\u{1f}'
        | '\u{202a}'..='\u{202e}'
        | '\u{2066}'..='\u{2069}'
        | '\u{fffe}'
        | '\u{ffff}' => '\u{fffd}',
        _ => letter,
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    #[test]
    fn a_number_always_has_its_point_and_no_exponent() {
        for (value, text) in [
            (0.0, "0."),
            (-0.0, "0."),
            (-12.0, "-12."),
            (0.1, "0.1"),
            (1e21, "1000000000000000000000."),
            (-2.5e-7, "-0.00000025"),
        ] {
            assert_eq!(exact(value), text);
        }
    }

    proptest! {
        #[test]
        fn a_number_reads_back_to_the_same_bits(value in proptest::num::f64::NORMAL) {
            let text = exact(value);
            prop_assert_eq!(text.parse::<f64>().unwrap().to_bits(), value.to_bits());
            prop_assert!(text.contains('.') && !text.contains(['e', 'E']));
        }
    }
}
