//! Paper, surface or mesh in, bytes out; it knows nothing of aircraft.
//!
//! The same input gives the same bytes: no clock, no random names, numbers through one formatter. Reading order: `table`
//! (CSV), `spreadsheet` (XLSX).

mod spreadsheet;
mod table;

pub use spreadsheet::{WriteError, write_xlsx};
pub use table::write_csv;
