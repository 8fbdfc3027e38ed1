//! The body: all that shapes the loft, from the sources of its readings to the law that rules its sections.
//!
//! In: edits and the doors. Out: [`Body`], which the loft, its lines and every verdict of fairness follow, and nothing else. Reading
//! order: this file, `source`, `circumstances`, `law`, `decided`, `find`, `offsets`,
//! `offsets/shift`, `typed`, `rules`, `edit`.

use serde::{Deserialize, Serialize};

pub mod circumstances;
pub mod decided;
pub mod edit;
pub mod find;
pub mod law;
pub mod offsets;
mod rules;
pub mod source;
pub mod typed;

pub use circumstances::{BodySide, Circumstances};
pub use decided::{AllowedTurns, Taken, TakenMove, Turns};
pub use edit::{BodyEdit, Moved};
pub use find::{Named, Side};
pub use law::{Law, Quadrant, Shoulder};
pub use offsets::shift::{Shift, Shifted};
pub use offsets::{Contradiction, Fixes, Offset, stations_shown};
pub use source::{Counted, Datum, Sense, SkinSide, Source};
pub use typed::{Misread, TypedLength};

/// Version of the way from readings to a surface, the newest that is known.
///
/// It is kept in the body, so that a frozen revision gives the same surface for ever. Lines take it by
/// [`BodyEdit::SetMethod`]; new ones begin with the newest.
///
/// 1: the energy alone settles what no reading fixes. On exact tables it leaves the curvature at an end station up to 13 %
/// low where the line is still gaining there. 2: knots stand at the stations alone, and the third derivative goes on straight
/// into the first and the last bay; see `Loft::build`.
pub const LOFT_METHOD: u32 = 2;

macro_rules! id {
    ($(#[$doc:meta])* $name:ident) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
        #[serde(transparent)]
        pub struct $name(pub u32);
    };
}

id!(/// Names a [`source::Source`] within its document.
    SourceId);
id!(/// Names a [`Station`] within its document.
    StationId);
id!(/// Names a [`Plane`] within its document.
    PlaneId);
id!(/// Names a [`RunLine`] within its document.
    RunLineId);
id!(/// Names a [`Point`] within its document.
    PointId);

/// All that shapes the loft of the starboard half, from crown to keel.
#[derive(Clone, Debug, PartialEq)]
pub struct Body {
    /// Version of the loft's method, see [`LOFT_METHOD`].
    pub method: u32,
    /// Where the readings come from.
    pub sources: Vec<Source>,
    /// In order of x.
    pub stations: Vec<Station>,
    /// How the body ends, fore and aft.
    pub ends: Ends,
    /// The planes that readings and shown lines lie in.
    pub planes: Vec<Plane>,
    /// Round the girth, from crown to keel; the centrelines themselves are not in it.
    pub run_lines: Vec<RunLine>,
    /// In order of station, and within one from crown to keel as far as that is known.
    pub points: Vec<Point>,
    /// How the section crosses the centre plane above and below.
    pub centreline: Centreline,
    /// What rules the sections of a body that is given by law; absent: its points alone do.
    pub law: Option<Law>,
    /// What a person allows some lines, in the order of the lines.
    pub allowed_turns: Vec<AllowedTurns>,
    /// Proposals that were taken, the oldest first.
    pub taken: Vec<Taken>,
}

impl Body {
    /// A body with nothing in it.
    #[must_use]
    pub fn empty() -> Self {
        Self {
            method: LOFT_METHOD,
            sources: Vec::new(),
            stations: Vec::new(),
            ends: Ends::default(),
            planes: Vec::new(),
            run_lines: Vec::new(),
            points: Vec::new(),
            centreline: Centreline::default(),
            law: None,
            allowed_turns: Vec::new(),
            taken: Vec::new(),
        }
    }
}

/// A transverse plane at `x`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Station {
    /// Names it in points.
    pub id: StationId,
    /// As the evidence calls it, as `48`; unique.
    pub label: String,
    /// Distance aft of the datum, mm.
    pub x: f64,
}

/// How the body ends.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Ends {
    /// Forward of the first station.
    pub fore: End,
    /// Aft of the last one.
    pub aft: End,
}

/// One end of the body.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case", deny_unknown_fields)]
pub enum End {
    /// The body is cut off at its first or last station.
    #[default]
    Open,
    /// All lines run into one point on the centre plane.
    Tip {
        /// Distance aft of the datum, mm.
        x: f64,
        /// Height of the point, mm.
        height: f64,
        /// Its form.
        form: Tip,
    },
}

/// The form of a tip.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Tip {
    /// A cone's point: the lines arrive at an angle.
    Pointed,
    /// Round: the surface crosses the x axis square to it.
    Blunt,
}

/// A named plane: what `WL 32` means is stored, not guessed again.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Plane {
    /// Names it in points.
    pub id: PlaneId,
    /// As the evidence calls it, as `WL 32`; unique.
    pub name: String,
    /// Where it lies.
    pub place: Place,
}

/// Where a plane lies, mm and radians.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case", deny_unknown_fields)]
pub enum Place {
    /// Level, at this height.
    Waterline(f64),
    /// Upright and fore-and-aft, at this half-breadth.
    Buttock(f64),
    /// Inclined, through the centre plane at `height`, falling outboard by `angle` from the level.
    Diagonal {
        /// Height at the centre plane.
        height: f64,
        /// From the level downward, 0 to π/2, not including either.
        angle: f64,
    },
}

/// A line that runs through the stations and divides the girth.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct RunLine {
    /// Names it in points.
    pub id: RunLineId,
    /// As `joint`; unique.
    pub name: String,
    /// Whether the section keeps its tangent across it.
    pub kind: RunKind,
    /// Whether upper and lower shell part here.
    #[serde(default)]
    pub joint: bool,
}

/// Whether the section keeps its tangent across a run line.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum RunKind {
    /// It does.
    Smooth,
    /// It breaks.
    Knuckle,
}

/// A point of a section, with all that is known of it.
///
/// A point without readings stands for a cell that is torn or cannot be read: the place is known, the value is not.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Point {
    /// Names it.
    pub id: PointId,
    /// The station it lies at.
    pub station: StationId,
    /// The line it lies on.
    pub on: On,
    /// What was recorded of it.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub readings: Vec<Reading>,
    /// Accepted half-breadth where it differs from the recorded one, mm, to 0.01; on the outside of the skin.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub accepted_half_breadth: Option<f64>,
    /// Accepted height where it differs from the recorded one, mm, to 0.01; on the outside of the skin.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub accepted_height: Option<f64>,
    /// Whether a duck holds the line on it.
    #[serde(default, skip_serializing_if = "core::ops::Not::not")]
    pub duck: bool,
}

impl Point {
    /// A point as it was read, with nothing else accepted of it and no duck on it.
    #[must_use]
    pub fn new(id: PointId, station: StationId, on: On, readings: Vec<Reading>) -> Self {
        Self {
            id,
            station,
            on,
            readings,
            accepted_half_breadth: None,
            accepted_height: None,
            duck: false,
        }
    }
}

/// The line a point lies on.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum On {
    /// The upper centreline: a height is read.
    Crown,
    /// A waterline (half-breadth read), a diagonal (distance along it read from the centre plane), or the lower,
    /// keel-side cut of a buttock (height read).
    Plane(PlaneId),
    /// The upper, crown-side cut of a buttock: a height is read.
    PlaneUpper(PlaneId),
    /// A run line: half-breadth and height are read.
    RunLine(RunLineId),
    /// No named line: half-breadth and height are read.
    Free,
    /// The lower centreline: a height is read.
    Keel,
}

/// One recorded value of a point.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Reading {
    /// Where it comes from.
    pub source: SourceId,
    /// Half-breadth, or the distance along a diagonal.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub half_breadth: Option<Recorded>,
    /// Height.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub height: Option<Recorded>,
    /// How far it may be out either way, mm, over zero.
    pub tolerance: f64,
    /// Why it is not used; empty or a reason. Absent: it is used.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub set_aside: Option<String>,
    /// Whether a person looked at it where it was in doubt, and keeps it as true.
    #[serde(default, skip_serializing_if = "core::ops::Not::not")]
    pub kept: bool,
    /// Free words, with what an import could not place.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub note: String,
    /// Page, side, by whom and when; absent: nothing is said of it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub circumstances: Option<Box<Circumstances>>,
}

/// A value as typed, and what it says.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Recorded {
    /// The text, never changed.
    pub typed: String,
    /// What the text says, mm, counted as all lengths here are; see [`source::Datum`] for where its source counts from.
    pub mm: f64,
    /// What it must have meant, where a misprint was mended, mm.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub put_right: Option<f64>,
}

impl Reading {
    /// Whether a misprint of it was mended.
    #[must_use]
    pub fn is_put_right(&self) -> bool {
        let both = [&self.half_breadth, &self.height];
        both.into_iter()
            .flatten()
            .any(|recorded| recorded.put_right.is_some())
    }

    /// What it says of one coordinate: of the height, or else of the half-breadth or the distance along a diagonal.
    #[must_use]
    pub fn recorded(&self, height: bool) -> Option<&Recorded> {
        if height {
            self.height.as_ref()
        } else {
            self.half_breadth.as_ref()
        }
    }
}

impl Recorded {
    /// The value that counts, mm: the one put right, else the typed one.
    #[must_use]
    pub fn value(&self) -> f64 {
        self.put_right.unwrap_or(self.mm)
    }
}

/// How the sections cross the centre plane.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Centreline {
    /// Above, from fore to aft. Empty: smooth all along.
    #[serde(default)]
    pub crown: Vec<Crossing>,
    /// Below, from fore to aft. Empty: smooth all along.
    #[serde(default)]
    pub keel: Vec<Crossing>,
}

/// How a run of stations crosses the centre plane.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Crossing {
    /// Last station of the run; absent: to the aft end.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub to: Option<StationId>,
    /// Its form.
    pub form: Peak,
}

/// The form of a section where it crosses the centre plane.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Peak {
    /// Level: port and starboard join in one curve.
    Smooth,
    /// At an angle, as an ogive's point.
    Peaked,
}
