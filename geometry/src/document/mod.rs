//! What a person decided: the only types that are saved.
//!
//! In: edits and the three doors (`file`, `link`, `paste`). Out: [`Lines`], which hold no value that can be computed:
//! what they are called, the [`Body`] that shapes the loft, and the [`Shop`] that makes metal of it. Lengths are
//! millimetres, angles radians. Reading order: this file, `body`, `shop`, `rules`, `edit`, `fingerprint`, `history`,
//! then the doors.
//!
//! ```
//! use std::sync::Arc;
//!
//! use geometry::document::{About, AboutEdit, Lines};
//! use geometry::units::LengthUnit;
//!
//! let lines = Lines::empty("Marram", LengthUnit::Millimetres);
//! let renamed = lines.apply(AboutEdit::Title("Marram, hull two".to_owned()))?;
//! assert_eq!(renamed.about.title, "Marram, hull two");
//! // What hangs on the body alone still stands.
//! assert!(Arc::ptr_eq(&lines.body, &renamed.body));
//! # Ok::<(), geometry::document::EditError>(())
//! ```

use std::sync::Arc;

use serde::{Deserialize, Serialize};

use crate::units::LengthUnit;

pub mod body;
pub mod edit;
pub mod file;
pub mod fingerprint;
mod form;
pub mod history;
pub mod link;
mod named;
mod pack;
pub mod paste;
pub mod revise;
pub mod rules;
pub mod shop;

pub use body::{
    AllowedTurns, Body, BodyEdit, BodySide, Centreline, Circumstances, Contradiction, Counted,
    Crossing, Datum, End, Ends, Fixes, LOFT_METHOD, Law, Misread, Moved, Named, Offset, On, Peak,
    Place, Plane, PlaneId, Point, PointId, Quadrant, Reading, Recorded, RunKind, RunLine,
    RunLineId, Sense, Shift, Shifted, Shoulder, Side, SkinSide, Source, SourceId, Station,
    StationId, Taken, TakenMove, Tip, Turns, TypedLength, stations_shown,
};
pub use edit::{AboutEdit, Edit, EditError};
pub use file::{OpenError, read_folder, write_folder};
pub use fingerprint::Fingerprint;
pub use history::History;
pub use link::{LinkError, read_link, write_link};
pub use paste::{PasteError, Preview, TableOptions, read_table};
pub use revise::{FreezeError, OpenKnown, StillOpen, day_words, reason_with_open};
pub use rules::Fault;
pub use shop::{
    BoardLine, BoardPlace, BoardSide, Boards, Face, Hands, Paper, PaperSize, Sheets, Shop,
    ShopEdit, StripPlace, despite,
};

/// Version of the file's form; a file with a higher one is refused, a lower one is migrated.
pub const SCHEMA: u32 = 6;

/// One state of the lines: everything a person decided about one loft.
///
/// Body and shop are shared between states: what hangs on one of them asks first whether it is the very same.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(from = "form::Form", into = "form::Form")]
pub struct Lines {
    /// What they are called.
    pub about: About,
    /// What shapes the loft.
    pub body: Arc<Body>,
    /// What makes metal of it.
    pub shop: Arc<Shop>,
}

/// What the lines are called, and how they are read.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct About {
    /// What is being built.
    pub title: String,
    /// Free words.
    pub notes: String,
    /// Label of this revision, as `B`.
    pub revision: String,
    /// The unit in which a person reads lengths.
    pub unit: LengthUnit,
}

impl About {
    /// A title, and the unit lengths are read in.
    #[must_use]
    pub fn new(title: &str, unit: LengthUnit) -> Self {
        Self {
            title: title.to_owned(),
            notes: String::new(),
            revision: String::new(),
            unit,
        }
    }
}

impl Lines {
    /// Lines with nothing in them.
    #[must_use]
    pub fn empty(title: &str, unit: LengthUnit) -> Self {
        Self::new(About::new(title, unit), Body::empty())
    }

    /// The lines of a body, without a shop as yet.
    #[must_use]
    pub fn new(about: About, body: Body) -> Self {
        Self {
            about,
            body: Arc::new(body),
            shop: Arc::default(),
        }
    }

    /// The body, to be changed; what other states share stays as it is.
    ///
    /// Whoever calls it sees to it that the rules hold.
    pub fn body_mut(&mut self) -> &mut Body {
        Arc::make_mut(&mut self.body)
    }
}

/// One frozen state of the lines.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Revision {
    /// As `B`; unique in its file.
    pub label: String,
    /// Day it was frozen, `YYYY-MM-DD`.
    pub date: String,
    /// Why.
    pub reason: String,
    /// What was frozen.
    pub lines: Lines,
    /// What of it was issued to the shop, the first first.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub issued: Vec<Issued>,
}

/// What a frozen revision is called, and of what day it is.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Frozen {
    /// As `B`.
    pub label: String,
    /// `YYYY-MM-DD`.
    pub date: String,
}

/// What went to the shop at once.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Issued {
    /// Day, `YYYY-MM-DD`.
    pub date: String,
    /// Sheets, by their codes.
    pub sheets: Vec<String>,
}

/// What a file holds: the working document and its frozen revisions.
#[derive(Clone, Debug, PartialEq)]
pub struct Folder {
    /// The working document.
    pub lines: Lines,
    /// In the order they were frozen.
    pub revisions: Vec<Revision>,
}

#[cfg(test)]
mod tests;
