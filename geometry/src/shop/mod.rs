//! What the shop works to: values, no drawing.
//!
//! In: lines with their loft. Out: values, and tables of them (`paper::Table`). A sheet of them is drawn in `issue`, a file
//! made in `write`.

mod offsets;
mod register;
pub mod templates;

use crate::document::Frozen;
use crate::loft::Lofted;

pub use offsets::{OffsetsOptions, Stations, least_spacing, tabulate_offsets};
pub use register::tabulate_decisions;

/// What stands in a file about where it comes from: the side of the skin, the revision, and a caution.
#[must_use]
pub fn provenance(lofted: &Lofted) -> String {
    format!(
        "Outside of the skin (OML), revision {}. Computed values are aids: check before cutting.",
        revision_words(lofted)
    )
}

/// The revision in words that follow «revision»: by its fingerprint, and first by its letter where it is frozen.
fn revision_words(lofted: &Lofted) -> String {
    let print = lofted.lines().fingerprint().full();
    match lofted.revision() {
        Some(Frozen { label, .. }) => format!("{label}, fingerprint {print}"),
        None => print,
    }
}
