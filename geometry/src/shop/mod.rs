//! What the shop works to: values, no drawing.
//!
//! In: a document and its loft. Out: tables of values. Putting them on paper or into files is left to `write`.

mod offsets;

pub use offsets::{OffsetsOptions, Stations, tabulate_offsets};
