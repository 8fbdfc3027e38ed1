//! What is made of the lines, onto paper and into files.
//!
//! In: lines with their loft, shop values. Out: [`crate::paper::Sheet`]s, which the page shows too, so that nothing is drawn
//! twice; and the bytes of a file, through one door for the worker and the batch job. Reading order: `lines_plan`, `output`.

pub mod lines_plan;
mod output;

pub use output::{IssueError, Output, TableForm, make};
