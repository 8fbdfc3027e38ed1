//! The square code of a sheet, by which a device finds its part again.

use fast_qr::ECL;
use fast_qr::qr::{QRBuilder, QRCodeError};

use crate::paper::{PaperPoint, Path};

/// Width of a module, mm.
const MODULE: f64 = 0.6;

/// Clear paper about it, in modules.
const QUIET: f64 = 4.0;

/// The code of a text, its upper left corner with the clear paper about it at a place; and how wide it is with that, mm.
///
/// # Errors
/// The text is too long for a code.
///
/// # Source
/// ISO/IEC 18004 for code and quiet zone, by the library `fast_qr`.
pub(super) fn square_code(text: &str, at: PaperPoint) -> Result<(Path, f64), QRCodeError> {
    let code = QRBuilder::new(text).ecl(ECL::M).build()?;
    let mut path = Path::default();
    for row in 0..code.size {
        let dark = |column: usize| column < code.size && code[row][column].value();
        let mut column = 0;
        while column < code.size {
            let from = column;
            while dark(column) {
                column += 1;
            }
            if column > from {
                let x = |column: usize| at.0 + (QUIET + column as f64) * MODULE;
                let y = |row: usize| at.1 + (QUIET + row as f64) * MODULE;
                path.draw_box([x(from), y(row), x(column), y(row + 1)]);
            }
            column += 1;
        }
    }
    Ok((path, (code.size as f64 + 2.0 * QUIET) * MODULE))
}
