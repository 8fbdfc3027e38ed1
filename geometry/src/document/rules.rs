//! Every rule of a sound document, in one walk: the first fault, or all of them.
//!
//! In: [`Lines`], as a door or an edit built it. Out: [`Fault`]s, each with its place. Whether a sound document can be
//! lofted is left to `loft`.

use core::fmt;
use core::ops::ControlFlow;
use std::collections::{BTreeMap, BTreeSet};

use super::find::{Side, station_words};
use super::law::{self, LawFault, Where};
use super::offsets::Fixes;
use super::{
    Crossing, End, LOFT_METHOD, Lines, On, Place, Point, Reading, Recorded, SkinSide, StationId,
    Turns,
};
use crate::num;
use crate::units::{LONGEST, LONGEST_TEXT, LengthUnit, Message, format_length_with_unit};

/// Most stations of one document.
pub const MOST_STATIONS: usize = 400;
/// Most points of one document.
pub const MOST_POINTS: usize = 20_000;
/// Most readings of one point.
pub const MOST_READINGS: usize = 64;
/// Most sources, planes and run lines, each.
pub const MOST_NAMED: usize = 1_000;
/// Longest title, in characters.
pub const LONGEST_TITLE: usize = 200;
/// Longest label or name, in characters.
pub const LONGEST_NAME: usize = 60;
/// Longest reason or note of a reading, in characters.
pub const LONGEST_NOTE: usize = 2_000;
/// Longest notes of a document, in characters.
pub const LONGEST_NOTES: usize = 50_000;
/// Two stations lie at least so far apart, mm.
pub const NEAREST_STATIONS: f64 = 0.5;
/// A skin is thinner than this, mm.
pub const THICKEST: f64 = 1000.0;
/// Most turns that a line may be allowed, of either kind.
pub const MOST_TURNS: usize = 99;
/// Accepted values are kept in steps of so much, mm.
pub const ACCEPTED_STEP: f64 = 0.01;

/// Where a fault lies.
#[derive(Clone, Debug, PartialEq)]
pub enum At {
    /// In the document at large.
    Document,
    /// In a source, counted from 1.
    Source(usize),
    /// At a station, by its label.
    Station(String),
    /// In a plane, by its name.
    Plane(String),
    /// In a run line, by its name.
    RunLine(String),
    /// At a point, as «STA 48, WL 32».
    Point(String),
    /// In a reading of a point, counted from 1.
    Reading(String, usize),
    /// At the fore end.
    ForeEnd,
    /// At the aft end.
    AftEnd,
    /// In the runs of a centreline.
    Centreline(Side),
    /// In the conic law.
    Law,
}

impl fmt::Display for At {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Document => f.write_str("These lines"),
            Self::Source(number) => write!(f, "Source {number}"),
            Self::Station(label) => f.write_str(&station_words(label)),
            Self::Plane(name) if name.is_empty() => f.write_str("A plane"),
            Self::RunLine(name) if name.is_empty() => f.write_str("A run line"),
            Self::Plane(name) | Self::RunLine(name) | Self::Point(name) => f.write_str(name),
            Self::Reading(point, number) => write!(f, "{point}, reading {number}"),
            Self::ForeEnd => f.write_str("Fore end"),
            Self::AftEnd => f.write_str("Aft end"),
            Self::Centreline(side) => write!(f, "Centreline at the {}", side.name()),
            Self::Law => f.write_str("The conic law"),
        }
    }
}

/// What a list of the document holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Listed {
    /// Sources.
    Sources,
    /// Stations.
    Stations,
    /// Planes.
    Planes,
    /// Run lines.
    RunLines,
    /// Points.
    Points,
    /// Readings of one point.
    Readings,
    /// Proposals that were taken.
    Taken,
}

impl Listed {
    fn name(self) -> &'static str {
        match self {
            Self::Sources => "sources",
            Self::Stations => "stations",
            Self::Planes => "planes",
            Self::RunLines => "run lines",
            Self::Points => "points",
            Self::Readings => "readings",
            Self::Taken => "proposals that were taken",
        }
    }
}

/// Which rule is broken, with the values that break it, mm.
#[derive(Clone, Debug, PartialEq)]
pub enum Broken {
    /// Made by a later way of lofting.
    Method(u32),
    /// More of one kind than can be held.
    TooMany(Listed, usize, usize),
    /// The number of an entry is taken by another of its list.
    TakenId(Listed),
    /// A label or name is taken by another.
    TakenName,
    /// A label or name is empty.
    NoName,
    /// A text is longer than can be held, in characters.
    LongText(usize),
    /// A label, name or title has a character that cannot be drawn.
    OddCharacter,
    /// A number is not finite, or beyond [`LONGEST`].
    OutOfBounds(f64),
    /// A station does not lie aft of the one before, or lies too near.
    StationOrder(String, f64),
    /// A tip lies inside the body.
    TipInside(f64),
    /// An entry stands for something that is not in the document.
    NoSuch(&'static str),
    /// A diagonal is level or upright.
    DiagonalAngle(f64),
    /// A buttock line lies at the centre plane or to port.
    ButtockPlace(f64),
    /// A second run line is the joint.
    SecondJoint,
    /// The upper cut of a plane that is no buttock.
    NoUpperCut,
    /// Two points of one station lie on one line.
    SecondPoint,
    /// A tolerance is zero, below it or no number.
    Tolerance(f64),
    /// A reading lacks what a point on such a line must give.
    Lacks(&'static str),
    /// A reading gives what its line gives already.
    Needless(&'static str),
    /// A half-breadth to port of the centre plane.
    BelowZero(f64),
    /// An accepted value of a coordinate that was not read.
    NotRead(&'static str),
    /// An accepted value finer than it is kept.
    AcceptedStep(f64),
    /// The runs of a centreline are not in order from fore to aft.
    RunOrder,
    /// The skin's thickness is zero, below it or beyond bounds.
    Skin(f64),
    /// A line is allowed turns twice.
    TurnsTwice,
    /// A line is allowed turns that no line has: inflections, peaks.
    Turns(usize, usize),
    /// What values were rounded to is zero, below it, beyond [`LONGEST`] or no number.
    Rounding(f64),
    /// The conic law cannot be one.
    Law(LawFault),
}

/// A broken rule and its place.
#[derive(Clone, Debug, PartialEq)]
pub struct Fault {
    /// Where.
    pub at: At,
    /// What.
    pub broken: Broken,
}

impl Message for Fault {
    fn message(&self, unit: LengthUnit) -> String {
        let length = |mm: f64| format_length_with_unit(mm, unit);
        let says = match &self.broken {
            Broken::Method(method) => format!(
                "are lofted by method {method}, which this Scrieve Board does not know (up to {LOFT_METHOD}). Open them \
                 with a newer one"
            ),
            Broken::TooMany(listed, found, most) => {
                format!(
                    "has {found} {}, and at most {most} can be held. Leave some out",
                    listed.name()
                )
            }
            Broken::TakenId(listed) => {
                format!("has the number of another of the {}", listed.name())
            }
            Broken::TakenName => "has the name of another. Give it a name of its own".to_owned(),
            Broken::NoName => "has no name. Give it one".to_owned(),
            Broken::LongText(most) => {
                format!("has a text of more than {most} characters. Shorten it")
            }
            Broken::OddCharacter => {
                "has a character that cannot be drawn, as a line break. Type it again".to_owned()
            }
            Broken::OutOfBounds(value) if value.is_finite() => {
                format!(
                    "has the length {}, beyond {} either way. Is the unit right?",
                    length(*value),
                    length(LONGEST)
                )
            }
            Broken::OutOfBounds(_) => "has a value that is no number. Type it again".to_owned(),
            Broken::StationOrder(before, apart) => format!(
                "lies {} aft of {}; stations are in order, at least {} apart. Check both places",
                length(*apart),
                station_words(before),
                length(NEAREST_STATIONS)
            ),
            Broken::TipInside(x) => format!(
                "is a tip at {}, which lies inside the stations. Check it",
                length(*x)
            ),
            Broken::NoSuch(what) => format!("stands for a {what} that is not there"),
            Broken::DiagonalAngle(angle) => format!(
                "falls by {:.2}°; a diagonal falls by more than 0° and less than 90°",
                angle * 180.0 / core::f64::consts::PI
            ),
            Broken::ButtockPlace(y) => {
                format!(
                    "lies at {}; a buttock line lies to starboard of the centre plane",
                    length(*y)
                )
            }
            Broken::SecondJoint => "is a second joint; the shells part at one line only".to_owned(),
            Broken::NoUpperCut => "has an upper cut, which only a buttock line has".to_owned(),
            Broken::SecondPoint => {
                "is there twice. Put both values into one point, as two readings".to_owned()
            }
            Broken::Tolerance(value) => {
                format!(
                    "has the tolerance {}; a tolerance is over zero. Type how far it may be out",
                    length(*value)
                )
            }
            Broken::Lacks(what) => format!("has no {what}. Type it, or leave the reading out"),
            Broken::Needless(what) => {
                format!("gives a {what}, which its line gives already. Leave it out")
            }
            Broken::BelowZero(value) => {
                format!(
                    "has the half-breadth {}; it is measured outward, zero or more",
                    length(*value)
                )
            }
            Broken::NotRead(what) => {
                format!("has an accepted {what} that was never read. Only what was read can move")
            }
            Broken::AcceptedStep(value) => {
                format!(
                    "has the accepted value {value} mm; such values are kept to {ACCEPTED_STEP} mm"
                )
            }
            Broken::RunOrder => {
                "has runs that are not in order from fore to aft, the last one to the end"
                    .to_owned()
            }
            Broken::Skin(value) => format!(
                "has a skin of {}; it is thicker than nothing and under 1 m",
                length(*value)
            ),
            Broken::TurnsTwice => "allow one line its turns twice. Leave one out".to_owned(),
            Broken::Turns(inflections, peaks) => format!(
                "allow a line {inflections} inflections and {peaks} peaks; it has at most {MOST_TURNS} of each, and at \
                 least one peak more than inflections"
            ),
            Broken::Rounding(value) => format!(
                "has values rounded to {}; that is over zero and at most {}. Type the step of its scale",
                length(*value),
                length(LONGEST)
            ),
            Broken::Law(fault) => fault.says(),
        };
        format!("{} {says}.", self.at)
    }
}

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.message(LengthUnit::Millimetres))
    }
}

impl core::error::Error for Fault {}

impl Lines {
    /// The first fault, if there is one.
    #[must_use]
    pub fn first_fault(&self) -> Option<Fault> {
        let mut first = None;
        let walked = Walk {
            lines: self,
            found: &mut |fault| {
                first = Some(fault);
                ControlFlow::Break(())
            },
        }
        .all();
        debug_assert_eq!(walked.is_break(), first.is_some());
        first
    }

    /// All faults, in the order of the document.
    #[must_use]
    pub fn faults(&self) -> Vec<Fault> {
        let mut all = Vec::new();
        let walked = Walk {
            lines: self,
            found: &mut |fault| {
                all.push(fault);
                ControlFlow::Continue(())
            },
        }
        .all();
        debug_assert!(walked.is_continue());
        all
    }

    /// In debug builds, says that the document is sound.
    ///
    /// # Panics
    /// Where it is not: a door or an edit let a fault through.
    pub fn assert_sound(&self) {
        debug_assert!(
            self.first_fault().is_none(),
            "a document behind the doors is sound: {:?}",
            self.first_fault()
        );
    }
}

type Flow = ControlFlow<()>;

struct Walk<'a> {
    lines: &'a Lines,
    found: &'a mut dyn FnMut(Fault) -> Flow,
}

impl Walk<'_> {
    fn rule(
        &mut self,
        holds: Holds,
        at: impl FnOnce() -> At,
        broken: impl FnOnce() -> Broken,
    ) -> Flow {
        match holds {
            Holds::Yes => ControlFlow::Continue(()),
            Holds::No => (self.found)(Fault {
                at: at(),
                broken: broken(),
            }),
        }
    }

    fn all(&mut self) -> Flow {
        let lines = self.lines;
        let method_known = (1..=LOFT_METHOD).contains(&lines.method);
        self.rule(
            method_known.into(),
            || At::Document,
            || Broken::Method(lines.method),
        )?;
        self.text(&lines.title, LONGEST_TITLE, &|| At::Document)?;
        self.text(&lines.revision, LONGEST_NAME, &|| At::Document)?;
        let short = lines.notes.chars().count() <= LONGEST_NOTES;
        self.rule(
            short.into(),
            || At::Document,
            || Broken::LongText(LONGEST_NOTES),
        )?;
        for (listed, found, most) in [
            (Listed::Sources, lines.sources.len(), MOST_NAMED),
            (Listed::Stations, lines.stations.len(), MOST_STATIONS),
            (Listed::Planes, lines.planes.len(), MOST_NAMED),
            (Listed::RunLines, lines.run_lines.len(), MOST_NAMED),
            (Listed::Points, lines.points.len(), MOST_POINTS),
        ] {
            self.rule(
                (found <= most).into(),
                || At::Document,
                || Broken::TooMany(listed, found, most),
            )?;
        }
        self.sources()?;
        self.stations()?;
        self.ends()?;
        self.planes()?;
        self.run_lines()?;
        self.decided()?;
        self.points()?;
        self.crossings(Side::Crown, &lines.centreline.crown)?;
        self.crossings(Side::Keel, &lines.centreline.keel)?;
        self.law()?;
        match lines.shop.skin_thickness {
            Some(skin) => self.rule(
                (skin > 0.0 && skin < THICKEST).into(),
                || At::Document,
                || Broken::Skin(skin),
            ),
            None => ControlFlow::Continue(()),
        }
    }

    fn text(&mut self, text: &str, most: usize, at: &dyn Fn() -> At) -> Flow {
        self.rule((text.chars().count() <= most).into(), at, || {
            Broken::LongText(most)
        })?;
        self.rule((!text.chars().any(char::is_control)).into(), at, || {
            Broken::OddCharacter
        })
    }

    fn name(&mut self, name: &str, at: &dyn Fn() -> At) -> Flow {
        self.rule((!name.trim().is_empty()).into(), at, || Broken::NoName)?;
        self.text(name, LONGEST_NAME, at)
    }

    fn length(&mut self, mm: f64, at: &dyn Fn() -> At) -> Flow {
        self.rule((mm.abs() <= LONGEST).into(), at, || Broken::OutOfBounds(mm))
    }

    fn sources(&mut self) -> Flow {
        let mut ids = BTreeSet::new();
        for (n, source) in self.lines.sources.iter().enumerate() {
            let at = || At::Source(n + 1);
            self.rule(ids.insert(source.id).into(), at, || {
                Broken::TakenId(Listed::Sources)
            })?;
            self.text(&source.title, LONGEST_TITLE, &at)?;
            self.length(source.datum.half_breadth.from, &at)?;
            self.length(source.datum.height.from, &at)?;
            if let Some(rounding) = source.rounding {
                let sound = rounding > 0.0 && rounding <= LONGEST;
                self.rule(sound.into(), at, || Broken::Rounding(rounding))?;
            }
            if let SkinSide::Inside { thickness } = source.surface {
                let sound = thickness > 0.0 && thickness < THICKEST;
                self.rule(sound.into(), at, || Broken::Skin(thickness))?;
            }
        }
        ControlFlow::Continue(())
    }

    fn stations(&mut self) -> Flow {
        let stations = &self.lines.stations;
        let (mut ids, mut labels) = (BTreeSet::new(), BTreeSet::new());
        for (n, station) in stations.iter().enumerate() {
            let at = || At::Station(station.label.clone());
            self.rule(ids.insert(station.id).into(), at, || {
                Broken::TakenId(Listed::Stations)
            })?;
            self.name(&station.label, &at)?;
            self.rule(labels.insert(station.label.as_str()).into(), at, || {
                Broken::TakenName
            })?;
            self.length(station.x, &at)?;
            if let Some(before) = n.checked_sub(1).and_then(|n| stations.get(n)) {
                let apart = station.x - before.x;
                // A hair of slack, so that stations at 0.1 and 0.6 stand.
                let in_order = apart >= NEAREST_STATIONS - num::SAME_POINT;
                self.rule(in_order.into(), at, || {
                    Broken::StationOrder(before.label.clone(), apart)
                })?;
            }
        }
        ControlFlow::Continue(())
    }

    fn ends(&mut self) -> Flow {
        let lines = self.lines;
        for (end, at, station, outward) in [
            (lines.ends.fore, At::ForeEnd, lines.stations.first(), -1.0),
            (lines.ends.aft, At::AftEnd, lines.stations.last(), 1.0),
        ] {
            if let End::Tip { x, height, .. } = end {
                self.length(x, &|| at.clone())?;
                self.length(height, &|| at.clone())?;
                let outside = station.is_none_or(|station| (x - station.x) * outward > 0.0);
                self.rule(outside.into(), || at.clone(), || Broken::TipInside(x))?;
            }
        }
        ControlFlow::Continue(())
    }

    fn planes(&mut self) -> Flow {
        let (mut ids, mut names) = (BTreeSet::new(), BTreeSet::new());
        for plane in &self.lines.planes {
            let at = || At::Plane(plane.name.clone());
            self.rule(ids.insert(plane.id).into(), at, || {
                Broken::TakenId(Listed::Planes)
            })?;
            self.name(&plane.name, &at)?;
            self.rule(names.insert(plane.name.as_str()).into(), at, || {
                Broken::TakenName
            })?;
            match plane.place {
                Place::Waterline(z) => self.length(z, &at)?,
                Place::Buttock(y) => {
                    self.length(y, &at)?;
                    self.rule((y > 0.0).into(), at, || Broken::ButtockPlace(y))?;
                }
                Place::Diagonal { height, angle } => {
                    self.length(height, &at)?;
                    let inclined = angle > 0.0 && angle < core::f64::consts::FRAC_PI_2;
                    self.rule(inclined.into(), at, || Broken::DiagonalAngle(angle))?;
                }
            }
        }
        ControlFlow::Continue(())
    }

    fn run_lines(&mut self) -> Flow {
        let (mut ids, mut names, mut joints) = (BTreeSet::new(), BTreeSet::new(), 0);
        for run_line in &self.lines.run_lines {
            let at = || At::RunLine(run_line.name.clone());
            self.rule(ids.insert(run_line.id).into(), at, || {
                Broken::TakenId(Listed::RunLines)
            })?;
            self.name(&run_line.name, &at)?;
            self.rule(names.insert(run_line.name.as_str()).into(), at, || {
                Broken::TakenName
            })?;
            joints += u32::from(run_line.joint);
            self.rule((!run_line.joint || joints < 2).into(), at, || {
                Broken::SecondJoint
            })?;
        }
        ControlFlow::Continue(())
    }

    fn decided(&mut self) -> Flow {
        let lines = self.lines;
        let at = || At::Document;
        let mut of = BTreeSet::new();
        for allowed in &lines.allowed_turns {
            let there = lines.line_name(allowed.on).is_some();
            self.rule(there.into(), at, || Broken::NoSuch("line"))?;
            self.rule(of.insert(allowed.on).into(), at, || Broken::TurnsTwice)?;
            let Turns { inflections, peaks } = allowed.turns;
            let sound = inflections < peaks && peaks <= MOST_TURNS;
            self.rule(sound.into(), at, || Broken::Turns(inflections, peaks))?;
        }
        let count = lines.taken.len();
        self.rule((count <= MOST_NAMED).into(), at, || {
            Broken::TooMany(Listed::Taken, count, MOST_NAMED)
        })?;
        for taken in &lines.taken {
            self.text(&taken.title, LONGEST_TITLE, &at)?;
            self.text(&taken.reason, LONGEST_NOTE, &at)?;
            let moves = taken.moves.len();
            self.rule((moves <= MOST_POINTS).into(), at, || {
                Broken::TooMany(Listed::Points, moves, MOST_POINTS)
            })?;
            for moved in &taken.moves {
                self.text(&moved.point, LONGEST_TITLE, &at)?;
                for mm in [moved.half_breadth, moved.height].into_iter().flatten() {
                    self.length(mm, &at)?;
                }
            }
        }
        ControlFlow::Continue(())
    }

    fn points(&mut self) -> Flow {
        let lines = self.lines;
        let stations: BTreeSet<_> = lines.stations.iter().map(|station| station.id).collect();
        let sources: BTreeSet<_> = lines.sources.iter().map(|source| source.id).collect();
        let planes: BTreeMap<_, _> = lines
            .planes
            .iter()
            .map(|plane| (plane.id, plane.place))
            .collect();
        let run_lines: BTreeSet<_> = lines.run_lines.iter().map(|run_line| run_line.id).collect();
        let (mut ids, mut taken) = (BTreeSet::new(), BTreeSet::new());
        for point in &lines.points {
            let at = || At::Point(lines.name_of(point));
            self.rule(ids.insert(point.id).into(), at, || {
                Broken::TakenId(Listed::Points)
            })?;
            self.rule(stations.contains(&point.station).into(), at, || {
                Broken::NoSuch("station")
            })?;
            let fixes = match point.on {
                On::Crown | On::Keel => Some(Fixes::Height),
                On::Free => Some(Fixes::Both),
                On::RunLine(id) => run_lines.contains(&id).then_some(Fixes::Both),
                On::Plane(id) | On::PlaneUpper(id) => planes.get(&id).map(|place| match *place {
                    Place::Waterline(_) => Fixes::HalfBreadth,
                    Place::Buttock(_) => Fixes::Height,
                    Place::Diagonal { angle, .. } => Fixes::Along { angle },
                }),
            };
            let Some(fixes) = fixes else {
                self.rule(Holds::No, at, || Broken::NoSuch("line"))?;
                continue;
            };
            let has_upper = !matches!(point.on, On::PlaneUpper(_)) || fixes == Fixes::Height;
            self.rule(has_upper.into(), at, || Broken::NoUpperCut)?;
            let alone = point.on == On::Free || taken.insert((point.station, point.on));
            self.rule(alone.into(), at, || Broken::SecondPoint)?;
            self.readings(point, fixes, &sources)?;
            self.accepted(point)?;
        }
        ControlFlow::Continue(())
    }

    fn readings(
        &mut self,
        point: &Point,
        fixes: Fixes,
        sources: &BTreeSet<super::SourceId>,
    ) -> Flow {
        let lines = self.lines;
        let count = point.readings.len();
        let at_point = || At::Point(lines.name_of(point));
        let few = count <= MOST_READINGS;
        self.rule(few.into(), at_point, || {
            Broken::TooMany(Listed::Readings, count, MOST_READINGS)
        })?;
        for (n, reading) in point.readings.iter().enumerate() {
            let at = || At::Reading(lines.name_of(point), n + 1);
            self.rule(sources.contains(&reading.source).into(), at, || {
                Broken::NoSuch("source")
            })?;
            let tolerance = reading.tolerance;
            let sound = tolerance > 0.0 && tolerance <= LONGEST;
            self.rule(sound.into(), at, || Broken::Tolerance(tolerance))?;
            self.what_is_read(reading, fixes, &at)?;
            for recorded in [&reading.half_breadth, &reading.height]
                .into_iter()
                .flatten()
            {
                self.recorded(recorded, &at)?;
            }
            if let Some(value) = reading.half_breadth_value() {
                self.rule((value >= 0.0).into(), at, || Broken::BelowZero(value))?;
            }
            for text in [Some(&reading.note), reading.set_aside.as_ref()]
                .into_iter()
                .flatten()
            {
                let short = text.chars().count() <= LONGEST_NOTE;
                self.rule(short.into(), at, || Broken::LongText(LONGEST_NOTE))?;
            }
        }
        ControlFlow::Continue(())
    }

    fn what_is_read(&mut self, reading: &Reading, fixes: Fixes, at: &dyn Fn() -> At) -> Flow {
        let (has_half_breadth, has_height) =
            (reading.half_breadth.is_some(), reading.height.is_some());
        let (needed, needless) = match fixes {
            Fixes::HalfBreadth => ((has_half_breadth, "half-breadth"), (has_height, "height")),
            Fixes::Height => ((has_height, "height"), (has_half_breadth, "half-breadth")),
            Fixes::Along { .. } => (
                (has_half_breadth, "distance along the diagonal"),
                (has_height, "height"),
            ),
            Fixes::Both => (
                (has_half_breadth || has_height, "half-breadth or height"),
                (false, ""),
            ),
        };
        self.rule(needed.0.into(), at, || Broken::Lacks(needed.1))?;
        self.rule((!needless.0).into(), at, || Broken::Needless(needless.1))
    }

    fn recorded(&mut self, recorded: &Recorded, at: &dyn Fn() -> At) -> Flow {
        self.text(&recorded.typed, LONGEST_TEXT, at)?;
        self.length(recorded.mm, at)?;
        match recorded.put_right {
            Some(mm) => self.length(mm, at),
            None => ControlFlow::Continue(()),
        }
    }

    fn accepted(&mut self, point: &Point) -> Flow {
        let lines = self.lines;
        let at = || At::Point(lines.name_of(point));
        let was_read =
            |value: fn(&Reading) -> Option<f64>| point.readings.iter().any(|r| value(r).is_some());
        for (accepted, read, name) in [
            (
                point.accepted_half_breadth,
                was_read(Reading::half_breadth_value),
                "half-breadth",
            ),
            (
                point.accepted_height,
                was_read(Reading::height_value),
                "height",
            ),
        ] {
            let Some(mm) = accepted else { continue };
            self.length(mm, &at)?;
            self.rule(read.into(), at, || Broken::NotRead(name))?;
            let steps = mm / ACCEPTED_STEP;
            let whole = (steps - libm::round(steps)).abs() < 1e-3;
            self.rule(whole.into(), at, || Broken::AcceptedStep(mm))?;
        }
        if let Some(value) = point.accepted_half_breadth {
            self.rule((value >= 0.0).into(), at, || Broken::BelowZero(value))?;
        }
        ControlFlow::Continue(())
    }

    fn law(&mut self) -> Flow {
        let lines = self.lines;
        for (place, fault) in law::faults(lines) {
            let at = || match place {
                Where::Law => At::Law,
                Where::Station(station) => At::Station(station.label.clone()),
                Where::Point(point) => At::Point(lines.name_of(point)),
            };
            self.rule(Holds::No, at, || Broken::Law(fault))?;
        }
        ControlFlow::Continue(())
    }

    fn crossings(&mut self, side: Side, runs: &[Crossing]) -> Flow {
        let lines = self.lines;
        let at = || At::Centreline(side);
        let place: BTreeMap<StationId, usize> = lines
            .stations
            .iter()
            .enumerate()
            .map(|(n, station)| (station.id, n))
            .collect();
        let mut behind = None;
        for (n, run) in runs.iter().enumerate() {
            match run.to {
                Some(to) => {
                    let found = place.get(&to).copied();
                    self.rule(found.is_some().into(), at, || Broken::NoSuch("station"))?;
                    self.rule((found > behind).into(), at, || Broken::RunOrder)?;
                    behind = found;
                }
                None => self.rule((n + 1 == runs.len()).into(), at, || Broken::RunOrder)?,
            }
        }
        ControlFlow::Continue(())
    }
}

/// Whether a rule holds.
#[derive(Clone, Copy)]
enum Holds {
    Yes,
    No,
}

impl From<bool> for Holds {
    fn from(holds: bool) -> Self {
        if holds { Self::Yes } else { Self::No }
    }
}
