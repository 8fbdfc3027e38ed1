//! What a line needs on trial: no more of its verdict than a trial asks, and kept from one edit to the next.
//!
//! In: a loft on trial and a line. Out: its [`Needs`]. Where it runs as it did in another trial, or in one of the last round,
//! nothing is worked out again: an edit moves few of the lines that trials elsewhere move.

use std::cell::RefCell;

use super::graph::{Graph, NotFaired, Turns};
use super::programme::NoOptimum;
use super::verdict::{FAIR, Fairness, JudgedBy, Line, NotJudged, Ordinate, Stopped, Verdict};
use crate::document::On;
use crate::loft::Loft;

/// What a line needs to be fair, without where and how.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Needs {
    /// The line.
    pub on: On,
    /// In a word.
    pub fairness: Fairness,
    /// What of it was taken, and the least largest move that leaves no more turns than allowed, mm; none where it is not judged.
    pub judged: Option<(Ordinate, f64)>,
    /// Needed by allowed, as [`Verdict::ratio`] has it; where the line is fair within its readings whatever part of it would
    /// have to move, by the least that they allow.
    pub ratio: f64,
}

impl Needs {
    fn not(on: On, why: NotJudged) -> Self {
        Self {
            on,
            fairness: Fairness::NotJudged(why),
            judged: None,
            ratio: -1.0,
        }
    }

    /// Of the needs of all that is judged of a line, those that speak for it: the worst, and of equals the first.
    pub(super) fn worst(on: On, ways: &[Self]) -> Self {
        let worst = ways.iter().copied().reduce(|worst, needs| {
            if needs.ratio > worst.ratio {
                needs
            } else {
                worst
            }
        });
        worst.unwrap_or_else(|| Self::not(on, NotJudged::TooFewReadings))
    }

    /// Of a line on its loft.
    fn of(line: &Line<'_>, basis: &JudgedBy, stop: &dyn Fn() -> bool) -> Result<Self, Stopped> {
        let on = line.on();
        if !basis.enough {
            return Ok(Self::not(on, NotJudged::TooFewReadings));
        }
        let found = match &basis.graph {
            Some(graph) => Self::found(line, graph, basis, stop),
            None => Err(NotFaired::Hard(NoOptimum::Hard)),
        };
        match found {
            Err(NotFaired::Stopped) => Err(Stopped),
            Err(NotFaired::Hard(_)) => Ok(Self::not(on, NotJudged::NotFound)),
            Ok(needs) => Ok(needs),
        }
    }

    fn found(
        line: &Line<'_>,
        graph: &Graph,
        basis: &JudgedBy,
        stop: &dyn Fn() -> bool,
    ) -> Result<Self, NotFaired> {
        let turns = basis.allowed.unwrap_or_else(|| graph.usual());
        let shape = graph.sweet_shape(turns, basis.run_outs, stop)?;
        let needed = graph.needs(&shape)?;
        let least = line.allowed(None);
        // A run line is judged in two ways, and the ratio says which of them speaks for it.
        let sure = needed <= least && !matches!(line.on(), On::RunLine(_));
        let allowed = if needed < FAIR || sure {
            least
        } else {
            let sweet = graph.with_shape(shape)?;
            line.allowed(Some(line.stretch(graph, &sweet)?))
        };
        Ok(Self {
            on: line.on(),
            fairness: Fairness::of(needed, allowed),
            judged: Some((basis.seen, needed)),
            ratio: needed / allowed,
        })
    }
}

impl From<&Verdict> for Needs {
    fn from(verdict: &Verdict) -> Self {
        Self {
            on: verdict.on,
            fairness: verdict.fairness,
            judged: { verdict.judged.as_ref() }.map(|judged| (judged.seen, judged.needed)),
            ratio: verdict.ratio(),
        }
    }
}

/// A line on trial, with what each of its needs follows from.
#[derive(Clone, Debug, PartialEq)]
struct TriedLine {
    on: On,
    ways: Vec<(JudgedBy, Needs)>,
}

/// The lines that trials judged: those of this round, and those of the round before, of the lines as they were then.
#[derive(Clone, Debug, Default)]
pub struct TriedLines {
    last: Vec<TriedLine>,
    round: RefCell<Vec<TriedLine>>,
}

fn find(
    judged: &[TriedLine],
    on: On,
    fits: impl Fn(&JudgedBy) -> bool,
) -> Option<&(JudgedBy, Needs)> {
    let lines = judged.iter().filter(|line| line.on == on);
    let mut ways = lines.flat_map(|line| &line.ways);
    ways.find(|(before, _)| fits(before))
}

impl TriedLines {
    /// For another round of trials.
    #[must_use]
    pub fn next_round(&self) -> Self {
        Self {
            last: self.round.borrow().clone(),
            round: RefCell::default(),
        }
    }

    /// The needs of every value that is judged of a line, by the turns that `allowed` says of that value; where it says none, by
    /// those that the body allows the line, else by the line's own.
    ///
    /// # Errors
    /// [`Stopped`], where `stop` says so.
    ///
    /// # Accuracy
    /// As [`super::verdict::JudgedLine::of`] where it is taken from the last round; else as [`super::verdict::judge`].
    pub(super) fn needs(
        &self,
        loft: &Loft,
        on: On,
        allowed: &dyn Fn(Ordinate) -> Option<Turns>,
        stop: &dyn Fn() -> bool,
    ) -> Result<Vec<Needs>, Stopped> {
        let by_the_body = loft.body().turns_allowed(on);
        let mut ways = Vec::new();
        for line in Line::all(loft, on) {
            let allowed = allowed(line.seen()).or(by_the_body);
            let (line, basis) = line.with_what_judges(allowed);
            let round = self.round.borrow();
            let same = find(&round, on, |before| *before == basis)
                .or_else(|| find(&self.last, on, |before| before.still(&basis)))
                .cloned();
            ways.push(match same {
                Some(same) => same,
                None => {
                    let needs = Needs::of(&line, &basis, stop)?;
                    (basis, needs)
                }
            });
        }
        let needs = ways.iter().map(|(_, needs)| *needs).collect();
        self.round.borrow_mut().push(TriedLine { on, ways });
        Ok(needs)
    }

    /// How many lines were judged in this round, and how many of these by a verdict of the last.
    #[cfg(test)]
    pub(crate) fn counts(&self) -> [usize; 2] {
        let round = self.round.borrow();
        let kept = round.iter().filter(|line| self.last.contains(line)).count();
        [round.len(), kept]
    }
}
