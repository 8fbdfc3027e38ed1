//! What the shop works to: values, no drawing.
//!
//! In: lines with their loft. Out: values, and tables of them (`paper::Table`). A sheet of them is drawn in `issue`, a file
//! made in `write`.

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
