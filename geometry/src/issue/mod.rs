//! What is made of the lines, onto paper and into files.
//!
//! In: lines with their loft. Out: the bytes of a file, through one door for the worker and the batch job.

mod output;

pub use output::{IssueError, Output, TableForm, make};
