//! What page and worker say to each other: JSON, and the bytes of a file beside it.
//!
//! The worker says it is ready before it hears anything; then each order is answered by parts, and at last by what was
//! ordered or a sentence; what is to be settled also by what is found so far. Every answer carries the number of its order.

use geometry::document::Frozen;
use geometry::issue::Output;
use geometry::issue::sheets::Contents;
use geometry::settle::{Findings, MoveFound, Proposed, Weighed, Wish};
use serde::{Deserialize, Serialize};

/// What the worker is to do.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub enum Work {
    /// Make a file.
    Make(Output),
    /// Find what is to be settled, as far as the list stands.
    Judge,
    /// Find all that is to be settled, hollows among it.
    Further,
    /// Propose lines that would be fair.
    Propose(Wish),
    /// Weigh the moves of such a proposal that are to be taken.
    Weigh(Wish),
    /// Try whether there is a loft, and how long it takes.
    TryLoft,
    /// Say which sheets there can be.
    Lay,
    /// Draw a sheet.
    Draw {
        /// Of which part, by its place in what there can be.
        part: usize,
        /// Which of its sheets, from 0.
        page: usize,
        /// As [`Output::Sheets`] has it.
        gauge: Option<[f64; 2]>,
    },
}

/// What came of trying to loft lines.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Tried {
    /// Why there is no loft, in the person's words.
    pub fault: Option<String>,
    /// How long it took, ms.
    pub took: f64,
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
    /// The frozen revision that the document is.
    pub revision: Option<Frozen>,
    /// The moves that are weighed; else none.
    pub moves: Vec<MoveFound>,
    /// What sheets that are laid out are held against; else nothing.
    pub since: Option<WentOut>,
}

/// What went to the shop last.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct WentOut {
    /// The revision's lines, as a lines file.
    pub file: String,
    /// What it is called.
    pub label: String,
    /// Its parts that went out, by their codes.
    pub sheets: Vec<String>,
}

/// What the worker says.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub enum Reply {
    /// It can hear orders now.
    Ready,
    /// It has come to a part of an order.
    Part {
        /// The order's number.
        serial: u32,
        /// The part, in words that follow «now:».
        part: String,
    },
    /// The file is made; its bytes stand beside this.
    Made {
        /// The order's number.
        serial: u32,
        /// Fingerprint of the document it was made from, in full.
        fingerprint: String,
    },
    /// What is to be settled, as far as it is found.
    Found {
        /// The order's number.
        serial: u32,
        /// It.
        findings: Findings,
        /// Whether nothing more of it follows.
        last: bool,
    },
    /// Lines are proposed.
    Proposed {
        /// The order's number.
        serial: u32,
        /// They.
        proposed: Proposed,
    },
    /// A proposal is weighed.
    Weighed {
        /// The order's number.
        serial: u32,
        /// What comes of it.
        weighed: Weighed,
    },
    /// The lines were lofted, or could not be.
    Tried {
        /// The order's number.
        serial: u32,
        /// What came of it.
        tried: Tried,
    },
    /// Which sheets there can be.
    Laid {
        /// The order's number.
        serial: u32,
        /// They.
        contents: Contents,
    },
    /// A sheet is drawn.
    Drawn {
        /// The order's number.
        serial: u32,
        /// It, for the page.
        svg: String,
    },
    /// It can't be done.
    Failed {
        /// The order's number.
        serial: u32,
        /// Why, in the person's words.
        sentence: String,
    },
}
