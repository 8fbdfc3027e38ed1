//! The rules of a sound document, in one walk: the first fault, or all of them. Those of body and shop stand with them.
//!
//! In: [`Lines`], as a door or an edit built it. Out: [`Fault`]s, each with its place. Whether a sound document can be
//! lofted is left to `loft`.

use core::fmt;
use core::ops::ControlFlow;

use super::body::find::station_words;
use super::body::law::LawFault;
use super::shop::SheetsFault;
use super::{About, LOFT_METHOD, Lines, Side};
use crate::units::{LONGEST, LengthUnit, Message, format_length_with_unit};

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

/// A value in the steps in which accepted ones are kept, mm.
pub(super) fn kept_step(to: f64) -> f64 {
    libm::round(to / ACCEPTED_STEP) / (1.0 / ACCEPTED_STEP) + 0.0
}

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
    /// In which sheets are wanted, and how they are made.
    Sheets,
}

/// Whether a character has no place in a name: a control or line break, one that turns the direction of what follows, or
/// none at all.
///
/// # Source
/// Unicode Standard Annex 9 for the directional embeddings, overrides and isolates; the Standard, chapter 23, for
/// noncharacters.
pub(super) fn is_odd(c: char) -> bool {
    let number = u32::from(c);
    c.is_control()
        || matches!(number, 0x2028..=0x202e | 0x2066..=0x2069 | 0xfdd0..=0xfdef)
        || number & 0xfffe == 0xfffe
}

/// A name as a message can hold it: no longer than names are, and without what cannot be drawn.
fn tellable(name: &str) -> String {
    let plain = |c: char| if is_odd(c) { '\u{fffd}' } else { c };
    let cut: String = name.chars().take(LONGEST_NAME).map(plain).collect();
    if name.chars().nth(LONGEST_NAME).is_some() {
        cut + "…"
    } else {
        cut
    }
}

impl fmt::Display for At {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Document => f.write_str("These lines"),
            Self::Source(number) => write!(f, "Source {number}"),
            Self::Station(label) => f.write_str(&station_words(&tellable(label))),
            Self::Plane(name) if name.is_empty() => f.write_str("A plane"),
            Self::RunLine(name) if name.is_empty() => f.write_str("A run line"),
            Self::Plane(name) | Self::RunLine(name) => f.write_str(&tellable(name)),
            Self::Point(name) => f.write_str(&tellable(name)),
            Self::Reading(point, number) => write!(f, "{}, reading {number}", tellable(point)),
            Self::ForeEnd => f.write_str("Fore end"),
            Self::AftEnd => f.write_str("Aft end"),
            Self::Centreline(side) => write!(f, "Centreline at the {}", side.name()),
            Self::Law => f.write_str("The conic law"),
            Self::Sheets => f.write_str("The choice of sheets"),
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
    /// Sheets that are left out, or boards of a person's own.
    Sheets,
}

impl Listed {
    pub(super) fn name(self) -> &'static str {
        match self {
            Self::Sources => "sources",
            Self::Stations => "stations",
            Self::Planes => "planes",
            Self::RunLines => "run lines",
            Self::Points => "points",
            Self::Readings => "readings",
            Self::Taken => "proposals that were taken",
            Self::Sheets => "sheets or boards",
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
    /// A label, name or title has a character that cannot be drawn: one of control, of direction, that ends
    /// a line or a paragraph, or that Unicode keeps for no character.
    OddCharacter(char),
    /// A number is not finite, or beyond [`LONGEST`].
    OutOfBounds(f64),
    /// A station does not lie aft of the one before, or lies too near.
    StationOrder(String, f64),
    /// A tip lies inside the body.
    TipInside(f64),
    /// A tip lies nearer to its station than two stations may, mm.
    TipNear(f64),
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
    /// Of the choice of sheets.
    Sheets(SheetsFault),
    /// A line is allowed turns twice.
    TurnsTwice,
    /// A line is allowed turns that no line has: inflections, peaks.
    Turns(usize, usize),
    /// What values were rounded to is zero, below it, beyond [`LONGEST`] or no number.
    Rounding(f64),
    /// The stations of a source lie so far off, mm, though two that it has readings at are no further apart than twice that.
    Aft(f64, [String; 2], f64),
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
            Broken::OddCharacter(odd) => format!(
                "has a character that cannot be drawn, or turns what is read about (U+{:04X}). Type it again without",
                u32::from(*odd)
            ),
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
                station_words(&tellable(before)),
                length(NEAREST_STATIONS)
            ),
            Broken::TipInside(x) => format!(
                "is a tip at {}, which lies inside the stations. Check it",
                length(*x)
            ),
            Broken::TipNear(apart) => format!(
                "is a tip {} from the station beside it, and lines need {} to close in. Put it further out, or let the body \
                 end at the station",
                length(*apart),
                length(NEAREST_STATIONS)
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
            Broken::Sheets(fault) => fault.says(unit),
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
            Broken::Aft(aft, [from, to], apart) => format!(
                "has stations {} {} those of the lines, but readings at {} and at {}, {} apart: it is shifted by less than half \
                 of that. Check the figure; if it is right, let its readings stand at the other station",
                length(aft.abs()),
                if *aft > 0.0 { "aft of" } else { "forward of" },
                station_words(&tellable(from)),
                station_words(&tellable(to)),
                length(*apart)
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
        first_of(|walk| walk.lines(self))
    }

    /// All faults, in the order of the document.
    #[must_use]
    pub fn faults(&self) -> Vec<Fault> {
        let mut all = Vec::new();
        let walked = Walk {
            found: &mut |fault| {
                all.push(fault);
                ControlFlow::Continue(())
            },
        }
        .lines(self);
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

/// The first fault that a walk finds.
pub(super) fn first_of(walk: impl FnOnce(&mut Walk<'_>) -> Flow) -> Option<Fault> {
    let mut first = None;
    let walked = walk(&mut Walk {
        found: &mut |fault| {
            first = Some(fault);
            ControlFlow::Break(())
        },
    });
    debug_assert_eq!(walked.is_break(), first.is_some());
    first
}

pub(super) type Flow = ControlFlow<()>;

pub(super) struct Walk<'a> {
    found: &'a mut dyn FnMut(Fault) -> Flow,
}

impl Walk<'_> {
    pub(super) fn rule(
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

    fn lines(&mut self, lines: &Lines) -> Flow {
        let Lines { about, body, shop } = lines;
        let About {
            title,
            notes,
            revision,
            unit: _,
        } = about;
        self.text(title, LONGEST_TITLE, &|| At::Document)?;
        self.text(revision, LONGEST_NAME, &|| At::Document)?;
        let short = notes.chars().count() <= LONGEST_NOTES;
        self.rule(
            short.into(),
            || At::Document,
            || Broken::LongText(LONGEST_NOTES),
        )?;
        self.body(body)?;
        self.shop(shop)
    }

    pub(super) fn text(&mut self, text: &str, most: usize, at: &dyn Fn() -> At) -> Flow {
        self.rule((text.chars().count() <= most).into(), at, || {
            Broken::LongText(most)
        })?;
        match text.chars().find(|c| is_odd(*c)) {
            Some(odd) => self.rule(Holds::No, at, || Broken::OddCharacter(odd)),
            None => ControlFlow::Continue(()),
        }
    }

    pub(super) fn name(&mut self, name: &str, at: &dyn Fn() -> At) -> Flow {
        self.rule((!name.trim().is_empty()).into(), at, || Broken::NoName)?;
        self.text(name, LONGEST_NAME, at)
    }

    pub(super) fn length(&mut self, mm: f64, at: &dyn Fn() -> At) -> Flow {
        self.rule((mm.abs() <= LONGEST).into(), at, || Broken::OutOfBounds(mm))
    }
}

/// Whether a rule holds.
#[derive(Clone, Copy)]
pub(super) enum Holds {
    Yes,
    No,
}

impl From<bool> for Holds {
    fn from(holds: bool) -> Self {
        if holds { Self::Yes } else { Self::No }
    }
}
