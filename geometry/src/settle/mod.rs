//! What is to be settled, and the ways out of it, in the person's words.
//!
//! In: lines with their loft. Out: [`Findings`]: each line's verdict, and every [`Matter`] that is to be settled, by its
//! [`Subject`]; and [`Proposed`] lines; or lines [`Settled`] by the first answers. A way out becomes an edit when a person, or
//! the batch job, takes it. Reading order: this file, `judge`, `trials`, `matters`, `dents`, `answer`, `propose`, `weigh`.
//!
//! ```
//! use geometry::document::Lines;
//! use geometry::settle::judge_unlofted;
//! use geometry::units::LengthUnit;
//!
//! // Where there is no loft as yet, only what stands in its way is looked for.
//! let lines = Lines::empty("Marram", LengthUnit::Millimetres);
//! let findings = judge_unlofted(&lines, &|_part| ()).unwrap();
//! assert!(!findings.lofted && findings.matters.is_empty());
//! ```

use serde::{Deserialize, Serialize};

use crate::document::{Body, On, Point, PointId, StationId, Turns};
pub use crate::fair::verdict::Fairness;
use crate::units::{Digits, LengthUnit, format_length_to};

mod answer;
mod dents;
mod judge;
mod matters;
mod propose;
mod trials;
mod weigh;

pub use answer::{AnsweredRow, ROUNDS, Settled, allowed_words, set_aside, settle_all};
pub use dents::untold_words;
pub use judge::{Judging, judge_all, judge_unlofted};
pub use propose::propose;
pub use weigh::weigh;

/// What a verdict, a matter or a pick is of.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Subject {
    /// A point of a section.
    Point(PointId),
    /// A line, at a station.
    Line {
        /// The line.
        on: On,
        /// Where on it.
        station: StationId,
    },
    /// The section at a station.
    Section(StationId),
}

impl Subject {
    /// A point, or the line and the station where no point lies.
    fn at(body: &Body, on: On, station: StationId) -> Self {
        match body.point_on(station, on) {
            Some(point) => Self::Point(point.id),
            None => Self::Line { on, station },
        }
    }

    /// What it is called, as «STA 48, WL 32».
    #[must_use]
    pub fn name(self, body: &Body) -> String {
        match self {
            Self::Point(id) => body.point_name(id),
            Self::Line { on, station } => format!(
                "{}, {}",
                body.station_name(station),
                body.line_name(on).unwrap_or_default()
            ),
            Self::Section(station) => body.station_name(station),
        }
    }
}

/// What was found of the lines; its sentences are for the person, in the document's unit.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Findings {
    /// Whether the rows stand; else there are verdicts on some lines only.
    pub whole: bool,
    /// Whether hollows and bulges were looked for too, and `fairing` and what curvature is permitted each line are found.
    pub complete: bool,
    /// Whether there is a loft; else no line is judged.
    pub lofted: bool,
    /// Whether misprints were looked for; else the body is given by law.
    pub searched: bool,
    /// What fairing the whole surface would go by, in a sentence.
    pub fairing: Option<String>,
    /// How many lines are to be judged.
    pub count: usize,
    /// Each line's verdict.
    pub lines: Vec<LineFound>,
    /// The verdict on each station's section, the worst first.
    pub sections: Vec<SectionFound>,
    /// What is to be settled, the most pressing first.
    pub matters: Vec<Matter>,
}

/// A line's verdict.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct LineFound {
    /// The line.
    pub on: On,
    /// Its name.
    pub name: String,
    /// Whether it is fair.
    pub fairness: Fairness,
    /// What it needs by what it is allowed; below zero where it is not judged.
    pub ratio: f64,
    /// The figures that go with it.
    pub says: String,
    /// Where it must move, and by which count, in sentences.
    pub more: String,
    /// What it was judged by; none where it is not judged.
    pub allowed: Option<Turns>,
    /// From where to where it must move, mm aft of the datum; none where it is fair.
    pub stretch: Option<[f64; 2]>,
    /// What curvature the tolerances permit: distance aft, mm, and from where to where, convex negative, 1/mm.
    pub band: Vec<[f64; 3]>,
}

/// A section's verdict.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct SectionFound {
    /// Its station.
    pub station: StationId,
    /// The point that must move most, where one must.
    pub point: Option<PointId>,
    /// The station's name.
    pub name: String,
    /// Whether it is fair.
    pub fairness: Fairness,
    /// The figures that go with it.
    pub says: String,
}

/// Something to settle.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Matter {
    /// What and where.
    pub title: String,
    /// What is wrong with it, by how much.
    pub says: String,
    /// What it is of.
    pub subject: Subject,
    /// Whether it is a likely misprint.
    pub misprint: bool,
    /// What would settle it.
    pub ways: Vec<WayOut>,
}

/// A way to settle a matter.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct WayOut {
    /// On its button.
    pub name: String,
    /// What it does.
    pub does: Does,
    /// What comes of it, where that was tried: words that go on from its name; empty where nothing is changed by it.
    pub comes: String,
}

impl WayOut {
    /// A way that leaves all readings in use as they are.
    fn plain(name: impl Into<String>, does: Does) -> Self {
        Self {
            name: name.into(),
            does,
            comes: String::new(),
        }
    }

    /// Its name, with what comes of it.
    #[must_use]
    pub fn says(&self) -> String {
        if self.comes.is_empty() {
            self.name.clone()
        } else {
            format!("{}: {}", self.name, self.comes)
        }
    }
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
    /// What comes of it where all is taken that stays within its tolerance, and nothing else; none of the whole surface, of which
    /// every line would have to be judged first: see [`weigh`].
    pub weighed: Option<Weighed>,
}

/// What comes of a proposal as far as it is taken.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Weighed {
    /// How many of its tolerances its line needs to be fair, as it stands and then; of the whole surface, the line that needs
    /// most. None where it is not judged.
    pub needs: Option<[f64; 2]>,
    /// Whether that line comes out better, and none comes past its tolerances for it.
    pub better: bool,
    /// In a sentence.
    pub says: String,
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

/// A move or tolerance, in mm whatever the unit.
fn mm(value: f64) -> String {
    format_length_to(value, LengthUnit::Millimetres, Digits::Plain)
}

fn counted(count: usize, one: &str, many: &str) -> String {
    match count {
        0 => format!("no {many}"),
        1 => format!("one {one}"),
        2 => format!("two {many}"),
        3 => format!("three {many}"),
        more => format!("{more} {many}"),
    }
}

/// The used readings of some points, each by its number.
fn used_of(body: &Body, of: impl Fn(&Point) -> bool) -> Vec<(PointId, usize)> {
    let points = body.points.iter().filter(|point| of(point));
    points
        .flat_map(|point| {
            let used = point
                .readings
                .iter()
                .enumerate()
                .filter(|(_, r)| r.set_aside.is_none());
            used.map(|(number, _)| (point.id, number))
        })
        .collect()
}

fn named(names: &[String]) -> String {
    match names {
        [] => String::new(),
        [one] => one.clone(),
        [all @ .., last] => format!("{} and {last}", all.join(", ")),
    }
}

#[cfg(test)]
mod tests;
