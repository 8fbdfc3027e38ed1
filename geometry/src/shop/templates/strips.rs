//! Rods and tapes: distances along a straight strip, each with what lies there.
//!
//! In: lines with their loft, and in them which rods and tapes are wanted. Out: a [`Strip`] for each: heights and
//! half-breadths of a station, distances round the girth, distances along a line on the skin.

use std::collections::BTreeSet;

use super::board::{Board, BoardPlan, Reach};
use super::plane::{BoardPlane, on_line};
use super::shells::{ShellPart, shells};
use super::wanted::{Labels, WantedError, depth_of, line_name};
use crate::document::{BoardLine, BoardSide, StripPlace};
use crate::loft::Lofted;
use crate::num;
use crate::units::Message;

/// A place on a strip.
#[derive(Clone, Debug, PartialEq)]
pub struct StripMark {
    /// What lies there.
    pub name: String,
    /// How far from what the strip counts from, mm.
    pub at: f64,
}

/// A straight strip with figured places.
#[derive(Clone, Debug, PartialEq)]
pub struct Strip {
    /// What it is called: `Girth tape STA 90 lower`.
    pub name: String,
    /// From what its distances are counted: `from the joint down`.
    pub counted: String,
    /// What it tells of first and last, mm; from what it counts or from a whole 100 mm.
    pub ends: [f64; 2],
    /// Its places, in order.
    pub marks: Vec<StripMark>,
    /// How far aft what it measures reaches, mm.
    pub reach: [f64; 2],
    /// The lines that it measures, by their names.
    pub lines: Vec<String>,
}

impl Strip {
    /// How long it is, mm.
    #[must_use]
    pub fn length(&self) -> f64 {
        self.ends[1] - self.ends[0]
    }
}

/// All strips that a document asks for.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct WantedStrips {
    /// They, in the order in which they are asked for.
    pub strips: Vec<Strip>,
    /// Those that can't be had, and why.
    pub missing: Vec<String>,
}

/// Works out all rods and tapes that lines ask for: on the face of the skin that templates are cut to, without allowance.
///
/// # Accuracy
/// Heights and half-breadths to 1e-6 mm, lengths to 0.01 mm in 4 m.
///
/// # Errors
/// [`WantedError`].
pub fn wanted_strips(lofted: &Lofted) -> Result<WantedStrips, WantedError> {
    let lines = lofted.lines();
    let mut wanted = WantedStrips::default();
    if lines.shop.sheets.strips.is_empty() {
        return Ok(wanted);
    }
    let face = lines.shop.sheets.boards.face;
    let strips = Strips {
        lofted,
        labels: Labels::of(&lines.body),
        shells: shells(lofted.loft()),
        distance: depth_of(face, lines.shop.skin_thickness)?,
    };
    for place in &lines.shop.sheets.strips {
        let got = match *place {
            StripPlace::Rod { x } => strips.rods(x),
            StripPlace::Girth { x } => strips.girths(x),
            StripPlace::Along { line, from, to } => {
                strips.along(line, [from, to]).map(|one| vec![one])
            }
        };
        match got {
            Ok(got) => wanted.strips.extend(got),
            Err(why) => wanted.missing.push(why),
        }
    }
    Ok(wanted)
}

/// What all strips are taken from.
struct Strips<'a> {
    lofted: &'a Lofted,
    labels: Labels<'a>,
    shells: Vec<ShellPart>,
    /// From the loft to the face of the skin, mm.
    distance: f64,
}

impl Strips<'_> {
    /// The section of each shell as a board has it, which knows its marks.
    fn sections(&self, x: f64) -> Result<Vec<(&'static str, Board)>, String> {
        let label = self.labels.at(x);
        let section = |part: &ShellPart| {
            let plan = BoardPlan {
                code: format!("STA {label} {}", part.name),
                plane: BoardPlane::station(x),
                reach: Reach::Girth(part.v),
                distance: self.distance,
                held: BoardSide::Outside,
                depth: 0.0,
            };
            let board = Board::lay_out(self.lofted.loft(), plan);
            let unit = self.lofted.lines().about.unit;
            Ok((part.name, board.map_err(|error| error.message(unit))?))
        };
        self.shells.iter().map(section).collect()
    }

    fn rods(&self, x: f64) -> Result<Vec<Strip>, String> {
        let label = self.labels.at(x);
        let (mut heights, mut breadths) = (Vec::new(), Vec::new());
        for (_, board) in self.sections(x)? {
            for mark in board.marks {
                let at = |at: f64| StripMark {
                    name: mark.name.clone(),
                    at,
                };
                breadths.push(at(mark.at.0));
                heights.push(at(mark.at.1));
            }
        }
        let rod = |name: &str, counted: &str, marks: Vec<StripMark>| {
            let lines = names_of(&marks);
            let marks = in_order(marks);
            let first = { marks.first() }.map_or(0.0, |mark| (mark.at / WHOLE).floor() * WHOLE);
            let last = marks.last().map_or(0.0, |mark| mark.at);
            Strip {
                lines,
                name: format!("{name} STA {label}"),
                counted: counted.to_owned(),
                ends: [first, last],
                marks,
                reach: [x; 2],
            }
        };
        Ok(vec![
            rod("Height rod", "over the base line", heights),
            rod("Half-breadth rod", "from the centreline", breadths),
        ])
    }

    fn girths(&self, x: f64) -> Result<Vec<Strip>, String> {
        let label = self.labels.at(x);
        let sections = self.sections(x)?.into_iter();
        let tape = |(shell, board): (&str, Board)| {
            let own = board.marks.iter().map(|mark| StripMark {
                name: mark.name.clone(),
                at: mark.along,
            });
            let mut marks: Vec<StripMark> = own.collect();
            let lines = names_of(&marks);
            let ends = [("upper end", 0.0), ("lower end", board.length)];
            for (name, at) in ends {
                if !marks.iter().any(|mark| (mark.at - at).abs() < SAME) {
                    let name = name.to_owned();
                    marks.push(StripMark { name, at });
                }
            }
            Strip {
                lines,
                name: format!("Girth tape STA {label} {shell}"),
                counted: "from the upper end".to_owned(),
                ends: [0.0, board.length],
                marks: in_order(marks),
                reach: [x; 2],
            }
        };
        Ok(sections.map(tape).collect())
    }

    fn along(&self, line: BoardLine, [from, to]: [f64; 2]) -> Result<Strip, String> {
        let body = &self.lofted.lines().body;
        let name = line_name(body, &self.shells, line);
        let stations = body.stations.iter().map(|station| station.x);
        let mut xs: Vec<f64> = stations.filter(|x| *x > from && *x < to).collect();
        num::put_in_order(&mut xs, f64::total_cmp);
        xs.insert(0, from);
        xs.push(to);
        let mut at = 0.0;
        let mark = |x: f64, at: f64| StripMark {
            name: format!("STA {}", self.labels.at(x)),
            at,
        };
        let mut marks = vec![mark(from, 0.0)];
        for pair in xs.windows(2) {
            let length = self.length(line, [pair[0], pair[1]]);
            at += length.ok_or_else(|| {
                let [a, b] = [pair[0], pair[1]].map(|x| self.labels.at(x));
                format!("{name} does not reach from STA {a} to STA {b}: take another stretch.")
            })?;
            marks.push(mark(pair[1], at));
        }
        let [a, b] = [from, to].map(|x| self.labels.at(x));
        Ok(Strip {
            lines: vec![name.clone()],
            name: format!("Tape along {name} {a}-{b}"),
            counted: format!("from STA {a} aft"),
            ends: [0.0, at],
            marks,
            reach: [from, to],
        })
    }

    /// Length of a line on the face of the skin between two distances aft: of chords, halved until what they leave out tells
    /// the rest (Richardson).
    fn length(&self, line: BoardLine, [from, to]: [f64; 2]) -> Option<f64> {
        let place = |i: u32| {
            let x = from + (to - from) * f64::from(i) / f64::from(2 * CHORDS);
            let at = on_line(self.lofted.loft(), line, x)?;
            Some(at.point + at.normal * self.distance)
        };
        let places: Vec<glam::DVec3> = (0..=2 * CHORDS).map(place).collect::<Option<_>>()?;
        let chords = |step: usize| -> f64 {
            let ends = places.iter().step_by(step);
            { ends.clone().zip(ends.skip(1)) }
                .map(|(a, b)| a.distance(*b))
                .sum()
        };
        let (fine, coarse) = (chords(1), chords(2));
        Some(fine + (fine - coarse) / 3.0)
    }
}

/// Chords between two stations, before they are halved.
const CHORDS: u32 = 8;

/// A rod begins at a whole figure, mm.
const WHOLE: f64 = 100.0;

/// Places no further apart are one, mm.
const SAME: f64 = 0.005;

fn names_of(marks: &[StripMark]) -> Vec<String> {
    marks.iter().map(|mark| mark.name.clone()).collect()
}

/// Places in order; what lies on one place stands there once, with all its names.
fn in_order(mut marks: Vec<StripMark>) -> Vec<StripMark> {
    marks.sort_by(|a, b| a.at.total_cmp(&b.at));
    let mut out: Vec<StripMark> = Vec::new();
    for mark in marks {
        match out.last_mut() {
            Some(last) if (last.at - mark.at).abs() < SAME => {
                // Their order would hang on roundings.
                let names = last.name.split(", ").chain([mark.name.as_str()]);
                let names: BTreeSet<&str> = names.collect();
                last.name = names.into_iter().collect::<Vec<_>>().join(", ");
            }
            _ => out.push(mark),
        }
    }
    out
}
