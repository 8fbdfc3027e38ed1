//! What page and worker say to each other: JSON, and the bytes of a file beside it.
//!
//! The worker says it is ready before it hears anything; then each order is answered by parts, and at last by a file or
//! a sentence. Every answer carries the number of its order.

use geometry::units::LengthUnit;
use serde::{Deserialize, Serialize};

/// What the worker makes.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub enum Work {
    /// The surface as STEP: exact faces of both sides.
    Step,
    /// The skin's triangles as glTF.
    Glb,
    /// The offsets table.
    Offsets {
        /// As which file.
        form: TableFile,
        /// mm; none for the document's own stations.
        spacing: Option<f64>,
        /// What its lengths are written in.
        unit: LengthUnit,
    },
}

/// What a table can be written as.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum TableFile {
    /// Plain text, values parted by commas.
    Csv,
    /// A spreadsheet.
    Xlsx,
}

/// An order of the page.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct Order {
    /// Its number.
    pub serial: u32,
    /// What to make.
    pub work: Work,
    /// The document, as a lines file.
    pub file: String,
}

/// A word of the worker.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub enum Word {
    /// It can hear orders now.
    Ready,
    /// It has come to a part of an order.
    Part {
        /// The order's number.
        serial: u32,
        /// The part, in words that follow «now:».
        part: String,
    },
    /// The file is made; its bytes stand beside this word.
    Made {
        /// The order's number.
        serial: u32,
        /// Fingerprint of the document it was made from, in full.
        fingerprint: String,
    },
    /// It can't be made.
    Failed {
        /// The order's number.
        serial: u32,
        /// Why, in the person's words.
        sentence: String,
    },
}
