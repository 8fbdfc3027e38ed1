//! Which sheets the shop wants, and on what paper.
//!
//! What is made of the lines hangs on it, the lines do not: it stands outside the fingerprint, and no link carries it.

use serde::{Deserialize, Serialize};

use crate::document::{Fingerprint, On, StationId};

/// Which sheets are wanted, and on what paper.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Sheets {
    /// How templates are made.
    #[serde(default)]
    pub boards: Boards,
    /// Rods and tapes, each printed as a strip.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub strips: Vec<StripPlace>,
    /// What they are printed on.
    #[serde(default)]
    pub paper: Paper,
    /// What is not wanted, by its code.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub left_out: Vec<String>,
    /// What is issued though something over it is still to be settled: by code and fingerprint, so that it is asked again of
    /// other lines; see [`despite`].
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub despite: Vec<String>,
}

/// How a sheet is written down that is issued though something over it is still to be settled.
#[must_use]
pub fn despite(code: &str, fingerprint: Fingerprint) -> String {
    format!("{} {code}", fingerprint.paper())
}

/// How templates are made: boards whose edge is held to the skin.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Boards {
    /// How far a fair skin through the boards may lie off the lofted one between them, square to it, mm.
    pub error: f64,
    /// The face of the skin to which they are cut.
    pub face: Face,
    /// On which side of the skin they are held.
    pub held: BoardSide,
    /// How far outside the face the edge is cut, mm; inside it where under zero.
    pub allowance: f64,
    /// How wide a board is behind its edge, mm.
    pub depth: f64,
    /// For which half of the body.
    pub hands: Hands,
    /// Stations at which one stands, whether the error asks for it or not.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub at: Vec<StationId>,
    /// Boards of a person's own, besides those across the body.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub own: Vec<BoardPlace>,
}

impl Default for Boards {
    fn default() -> Self {
        Self {
            error: 0.25,
            face: Face::Oml,
            held: BoardSide::Outside,
            allowance: 0.0,
            depth: 80.0,
            hands: Hands::Starboard,
            at: Vec::new(),
            own: Vec::new(),
        }
    }
}

/// Which surface of the skin.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Face {
    /// The outer surface, which the loft is.
    Oml,
    /// The middle of the thickness, which keeps its length when the skin is bent.
    Neutral,
    /// The inner surface, on which stringers and frames lie.
    Iml,
}

impl Face {
    /// What the shop calls it.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Oml => "OML",
            Self::Neutral => "middle of the skin",
            Self::Iml => "IML",
        }
    }
}

/// On which side of the skin a board is held.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum BoardSide {
    /// Against the outside: the edge of a board on a full body is hollow.
    Outside,
    /// Against the inside.
    Inside,
}

/// For which half of the body something is made.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Hands {
    /// Starboard.
    Starboard,
    /// Port, its mirror image.
    Port,
    /// One for each.
    Both,
}

/// Where a board of a person's own stands.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case", deny_unknown_fields)]
pub enum BoardPlace {
    /// Across the body at a distance aft of the datum, leaning.
    Canted {
        /// Distance aft at the height `z`, mm.
        x: f64,
        /// The height at which it is that far aft, mm.
        z: f64,
        /// How far its top leans aft, rad.
        lean: f64,
    },
    /// Along a line of the body, in the plane that holds the skin's outward direction there.
    Along {
        /// The line.
        line: BoardLine,
        /// From and to these distances aft, mm.
        from: f64,
        /// See `from`.
        to: f64,
    },
    /// Square to a line, where that lies at a distance aft, mm.
    Square {
        /// The line.
        line: BoardLine,
        /// How far aft, mm.
        x: f64,
    },
}

/// A line along which, or square to which, a board stands.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case", deny_unknown_fields)]
pub enum BoardLine {
    /// A named line of the body.
    Named(On),
    /// A line at a share of the girth between two joints, crown or keel.
    Girth {
        /// Which of the shells, counted from the crown, from 0.
        shell: usize,
        /// From 0 at the upper edge to 1 at the lower.
        share: f64,
    },
}

/// What a rod or a tape measures.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case", deny_unknown_fields)]
pub enum StripPlace {
    /// Heights and half-breadths of all that is named on a station.
    Rod {
        /// How far aft, mm.
        x: f64,
    },
    /// Round the girth at a station, shell by shell, with all that is named there.
    Girth {
        /// How far aft, mm.
        x: f64,
    },
    /// Along a line on the skin, with the stations.
    Along {
        /// The line.
        line: BoardLine,
        /// From and to these distances aft, mm.
        from: f64,
        /// See `from`.
        to: f64,
    },
}

/// What sheets are printed on.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Paper {
    /// Its size.
    pub size: PaperSize,
    /// How far neighbouring tiles show the same, mm.
    pub overlap: f64,
}

impl Default for Paper {
    fn default() -> Self {
        Self {
            size: PaperSize::A3,
            overlap: 15.0,
        }
    }
}

/// A size of paper.
///
/// # Source
/// ISO 216 for A4 and A3, ANSI/ASME Y14.1 for the other two.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum PaperSize {
    /// 210 × 297 mm.
    A4,
    /// 297 × 420 mm.
    A3,
    /// 8.5 × 11 in.
    Letter,
    /// 11 × 17 in.
    Tabloid,
    /// As long as it need be, so wide, mm.
    Roll(f64),
}

impl PaperSize {
    /// Its shorter and its longer side, mm; a roll has no longer one.
    #[must_use]
    pub fn sides(self) -> (f64, Option<f64>) {
        match self {
            Self::A4 => (210.0, Some(297.0)),
            Self::A3 => (297.0, Some(420.0)),
            Self::Letter => (215.9, Some(279.4)),
            Self::Tabloid => (279.4, Some(431.8)),
            Self::Roll(width) => (width, None),
        }
    }
}
