//! Answers taken: the edit that a way out is, one at a time for a person, or one to each row for the batch job.
//!
//! In: lines, and a way out of a [`Matter`] of theirs. Out: an [`Edit`]; or lines of which every row that asked for it was
//! settled by its first answer. A page and the batch job make an answer by the same function.

use std::sync::Arc;

use super::judge::{judge_rows, judge_unlofted};
use super::{Does, Findings, Matter, Subject};
use crate::document::{BodyEdit, Edit, Lines, On, PointId, Turns};
use crate::loft::Lofted;
use crate::units::Message;

/// Most times that all is judged anew while answers are taken.
pub const ROUNDS: usize = 8;

/// Why the batch job sets readings aside.
const REASON: &str = "settled by --settle";

impl Does {
    /// What it does to the lines, as one step; none where it shows or proposes something. `reason` is why readings are set
    /// aside.
    #[must_use]
    pub fn edit(&self, lines: &Lines, subject: Subject, reason: &str) -> Option<Edit> {
        match self {
            Self::PutRight(point, reading, [half_breadth, height]) => Some(
                BodyEdit::PutRight {
                    point: *point,
                    reading: *reading,
                    half_breadth: *half_breadth,
                    height: *height,
                }
                .into(),
            ),
            Self::SetAside(readings) => Some(set_aside(readings, reason)),
            Self::Keep(readings, turns) => Some(keep(lines, subject, readings, turns)),
            Self::Propose(_) | Self::Show => None,
        }
    }

    /// Whether it puts a reading right or sets some aside.
    fn mends(&self) -> bool {
        matches!(self, Self::PutRight(..) | Self::SetAside(_))
    }

    /// The points whose readings it changes.
    pub(super) fn points(&self) -> Vec<PointId> {
        match self {
            Self::PutRight(point, ..) => vec![*point],
            Self::SetAside(readings) | Self::Keep(readings, _) => {
                readings.iter().map(|(point, _)| *point).collect()
            }
            Self::Propose(_) | Self::Show => Vec::new(),
        }
    }
}

/// Sets readings aside, all for one reason and as one step; each by its point and which of its readings it is, from 0.
#[must_use]
pub fn set_aside(readings: &[(PointId, usize)], reason: &str) -> Edit {
    let each = readings.iter().map(|&(point, reading)| BodyEdit::SetAside {
        point,
        reading,
        reason: reason.to_owned(),
    });
    let mut edits: Vec<Edit> = each.map(Edit::from).collect();
    match (edits.len(), edits.pop()) {
        (1, Some(one)) => one,
        (count, last) => {
            edits.extend(last);
            let name = format!("{count} readings set aside");
            Edit::Many { name, edits }
        }
    }
}

/// Keeps readings as true and lets lines turn as they do, as one step.
fn keep(
    lines: &Lines,
    subject: Subject,
    readings: &[(PointId, usize)],
    turns: &[(On, Turns)],
) -> Edit {
    let kept = readings.iter().map(|&(point, reading)| BodyEdit::Keep {
        point,
        reading,
        kept: true,
    });
    let allowed = turns.iter().map(|&(on, turns)| BodyEdit::AllowTurns {
        on,
        turns: Some(turns),
    });
    let mut name = format!("{} kept", subject.name(&lines.body));
    if !turns.is_empty() {
        name = format!("{name}; turns allowed: {}", allowed_words(lines, turns));
    }
    Edit::Many {
        name,
        edits: kept.chain(allowed).map(Edit::from).collect(),
    }
}

/// The turns that lines are allowed, by their names.
#[must_use]
pub fn allowed_words(lines: &Lines, turns: &[(On, Turns)]) -> String {
    let each = turns.iter().map(|(on, turns)| {
        let name = lines.body.line_name(*on).unwrap_or_default();
        format!("{name} {}", turns.words())
    });
    each.collect::<Vec<_>>().join("; ")
}

/// A row whose first answer was taken.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct AnsweredRow {
    /// The row's title.
    pub title: String,
    /// What was done, in words.
    pub done: String,
    /// In which round, from 1.
    pub round: usize,
}

/// Lines of which the rows that asked for it are settled.
#[derive(Clone, Debug, PartialEq)]
pub struct Settled {
    /// The lines as they came out.
    pub lines: Arc<Lines>,
    /// What was taken, in order.
    pub taken: Vec<AnsweredRow>,
    /// Titles of the rows that would still be settled so, after [`ROUNDS`] of them; none where all are.
    pub left: Vec<String>,
}

/// Takes the first answer of every row that asks for a reading to be put right or set aside, until none asks.
///
/// All is judged anew after each round, [`ROUNDS`] times at most. Of rows that ask for the same reading the first one is
/// answered; the other waits for the next round, if it is asked still. `at` hears what is worked on.
///
/// # Errors
/// A sentence: judging failed, or an answer was refused.
pub fn settle_all(lines: &Arc<Lines>, at: &dyn Fn(&str)) -> Result<Settled, String> {
    let mut settled = Settled {
        lines: Arc::clone(lines),
        taken: Vec::new(),
        left: Vec::new(),
    };
    for round in 1..=ROUNDS {
        let found = judged(&settled.lines, at)?;
        let asking = found.matters.iter().filter_map(asks);
        let mut touched: Vec<PointId> = Vec::new();
        let before = settled.taken.len();
        for (matter, done, does) in asking {
            let points = does.points();
            if points.iter().any(|point| touched.contains(point)) {
                continue;
            }
            touched.extend(points);
            let edit = does.edit(&settled.lines, matter.subject, REASON);
            let Some(edit) = edit else { continue };
            let after = settled.lines.apply(edit);
            let after = after.map_err(|error| error.message(settled.lines.about.unit))?;
            settled.lines = Arc::new(after);
            settled.taken.push(AnsweredRow {
                title: matter.title.clone(),
                done,
                round,
            });
        }
        if settled.taken.len() == before {
            return Ok(settled);
        }
    }
    let found = judged(&settled.lines, at)?;
    let left = found.matters.iter().filter(|matter| asks(matter).is_some());
    settled.left = left.map(|matter| matter.title.clone()).collect();
    Ok(settled)
}

/// The first answer of a row, where that puts a reading right or sets some aside.
pub(super) fn asks(matter: &Matter) -> Option<(&Matter, String, &Does)> {
    let first = matter.ways.first()?;
    let done = first.says();
    first.does.mends().then_some((matter, done, &first.does))
}

/// What is to be settled of lines, whether they have a loft or not.
fn judged(lines: &Arc<Lines>, at: &dyn Fn(&str)) -> Result<Findings, String> {
    match Lofted::build(Arc::clone(lines)) {
        Ok(lofted) => judge_rows(&lofted, at),
        // What stands in its way is what is to be settled first.
        Err(_) => judge_unlofted(lines, at),
    }
}
