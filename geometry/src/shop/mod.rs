//! What the shop works to: values, no drawing.
//!
//! In: a document and its loft. Out: tables of values. Putting them on paper or into files is left to `write`.

mod offsets;

use crate::document::Lines;

pub use offsets::{OffsetsOptions, Stations, least_spacing, tabulate_offsets};

/// What stands in a file about where it comes from: the side of the skin, the revision, and a caution.
#[must_use]
pub fn provenance(lines: &Lines) -> String {
    format!(
        "Outside of the skin (OML), revision {}. Computed values are aids: check before cutting.",
        lines.fingerprint().full()
    )
}
