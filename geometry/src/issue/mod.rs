//! What is made of the lines, onto paper and into files.
//!
//! In: lines with their loft, shop values. Out: [`crate::paper::Sheet`]s, which the page shows too, so that nothing is drawn
//! twice; and the bytes of a file, through one door for the worker and the batch job. Reading order: `lines_plan`, `sheets`, `output`.
//!
//! ```
//! # use std::sync::Arc;
//! #
//! # use geometry::document::{TableOptions, read_table};
//! use geometry::issue::{Output, TableForm, make};
//! use geometry::loft::Lofted;
//! use geometry::units::LengthUnit;
//!
//! # let table = "STA (mm),crown,WL 933,WL 750,WL 500,WL 250,WL 67,keel\n\
//! #              0,1000,250,433,500,433,250,0\n\
//! #              600,1000,250,433,500,433,250,0\n\
//! #              1200,1000,250,433,500,433,250,0\n\
//! #              1800,1000,250,433,500,433,250,0\n";
//! # let read = read_table(table.as_bytes(), &TableOptions::default())?;
//! let lofted = Lofted::build(Arc::new(read.lines()))?;
//! let output = Output::Offsets {
//!     form: TableForm::Csv,
//!     spacing: None,
//!     unit: LengthUnit::Millimetres,
//! };
//! let csv = String::from_utf8(make(&lofted, output, &|_part| ())?)?;
//! let rows = csv.lines().filter(|line| !line.starts_with('#'));
//! assert_eq!(rows.count(), 1 + 4, "a head, and a row for each station");
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

pub mod lines_plan;
mod output;
pub mod sheets;

pub use output::{
    IssueError, IssuedSheets, OutlineForm, Output, PartForm, TableForm, issue_sheets, make,
};
