//! What page and worker say to each other: JSON, and the bytes of a file beside it.
//!
//! The worker says it is ready before it hears anything; then each order is answered by parts, and at last by a file or
//! a sentence; what is to be settled also by what is found so far. Every answer carries the number of its order.

use geometry::document::{On, PointId, StationId, Turns};
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
    /// What is to be settled: [`Findings`], as JSON.
    Judge,
    /// Lines that would be fair: [`Proposed`], as JSON.
    Propose(Wish),
}

/// What a proposal is asked for.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub enum Wish {
    /// The whole surface.
    Whole,
    /// A batten along a line.
    Line {
        /// The line.
        on: On,
        /// The stations between which it may move; none: to its end.
        between: [Option<StationId>; 2],
        /// Whether its fore and its aft end are held.
        held: [bool; 2],
    },
}

impl Wish {
    /// A batten along all of a line.
    pub fn line(on: On) -> Self {
        Self::Line {
            on,
            between: [None; 2],
            held: [false; 2],
        }
    }
}

/// Lines that are proposed.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Proposed {
    /// What they are.
    pub title: String,
    /// What is to be known of them, in sentences.
    pub says: Vec<String>,
    /// Every point that moves, what pulls hardest first, then the furthest.
    pub moves: Vec<MoveFound>,
}

/// How a point is to move.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct MoveFound {
    /// The point.
    pub point: PointId,
    /// Its name.
    pub name: String,
    /// How far, and how that stands to its tolerance.
    pub says: String,
    /// Half-breadth (or the distance along a diagonal) and height that are to be accepted, mm.
    pub to: [Option<f64>; 2],
    /// How far these move, mm.
    pub by: [Option<f64>; 2],
    /// Whether it then lies past its tolerance.
    pub past: bool,
    /// Where it does and has one reading in use: that reading, and the tolerance that would let it, mm.
    pub tolerance: Option<(usize, f64)>,
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

/// What was found of the lines; its sentences are for the person, in the document's unit.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Findings {
    /// Whether that is all; else there are verdicts on some lines only, and nothing else as yet.
    pub whole: bool,
    /// Whether there is a loft; else no line is judged.
    pub lofted: bool,
    /// Whether misprints were looked for; else the body is given by law.
    pub searched: bool,
    /// What fairing the whole surface would go by, in a sentence; it comes last.
    pub fairing: Option<String>,
    /// How many lines are to be judged.
    pub count: usize,
    /// Each line's verdict.
    pub lines: Vec<LineFound>,
    /// The verdict on each station's section, the worst first.
    pub sections: Vec<SectionSaid>,
    /// What is to be settled, the most pressing first.
    pub rows: Vec<Row>,
}

/// A section's verdict.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct SectionSaid {
    /// Its station.
    pub station: StationId,
    /// The point that must move most, where one must.
    pub point: Option<PointId>,
    /// The station's name.
    pub name: String,
    /// In a word.
    pub word: Verdict,
    /// The figures that go with it.
    pub says: String,
}

/// A verdict in a word.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Verdict {
    /// The line is fair.
    Fair,
    /// It would be within its readings' tolerances.
    Within,
    /// It would not.
    Unfair,
    /// It is not judged.
    NotJudged,
}

/// A line's verdict.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct LineFound {
    /// The line.
    pub on: On,
    /// Its name.
    pub name: String,
    /// In a word.
    pub word: Verdict,
    /// What it needs by what it is allowed; below zero where it is not judged.
    pub ratio: f64,
    /// The figures that go with it.
    pub says: String,
    /// Where it must move, and by which count, in sentences.
    pub more: String,
    /// What it was judged by; none where it is not judged.
    pub allowed: Option<Turns>,
    /// What curvature the tolerances permit: distance aft, mm, and from where to where, convex negative, 1/mm.
    pub band: Vec<[f64; 3]>,
}

/// Something to settle.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Row {
    /// What and where.
    pub title: String,
    /// What is wrong with it, by how much.
    pub says: String,
    /// The point that shows it.
    pub point: PointId,
    /// Whether it is a likely misprint.
    pub misprint: bool,
    /// What would settle it.
    pub ways: Vec<Way>,
}

/// A way to settle a row.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Way {
    /// On its button.
    pub name: String,
    /// What it does.
    pub does: Does,
}

/// What a way does: one step each.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub enum Does {
    /// Puts a misprint right: of a point, one of its readings; half-breadth and height, mm.
    PutRight(PointId, usize, [Option<f64>; 2]),
    /// Sets readings aside, for a reason that is asked.
    SetAside(Vec<(PointId, usize)>),
    /// Keeps readings as true, and allows lines the turns that they have.
    Keep(Vec<(PointId, usize)>, Vec<(On, Turns)>),
    /// Proposes fair lines.
    Propose(Wish),
    /// Shows the point in the evidence.
    Show,
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
    /// The file is made, or a part of it that can be read alone; its bytes stand beside this word.
    Made {
        /// The order's number.
        serial: u32,
        /// Whether that is all; else more follows.
        whole: bool,
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
