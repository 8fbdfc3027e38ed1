//! The advice, tried to its end before it is offered: lofted as drawn without the readings, its lines judged.
//!
//! In: a group that is to be set aside, and the loft without the misprints. Out: what comes of it, or why it is not offered.

use crate::document::{On, PointId};
use crate::fair::search_end::{SuspectsError, without};
use crate::fair::verdict::{Fairness, NotJudged, judge};
use crate::loft::Loft;
use crate::num;

use super::field::Field;
use super::windows::JudgedWindow;
use super::{ComesOut, DentSearch, Failed};

/// Share of the group that must lie past its tolerance on the loft without it.
const PAST: f64 = 0.5;

/// The loft as drawn and the skin of the stiffness that suits may lie apart by this share of the furthest distance.
const SETTLED: f64 = 0.5;

/// The surfaces that misprints are judged by must hold the group off on its side too, on average by so many times what is
/// unknown of each: of 42 planted dents one came to less, of three false ones all (made bodies, seeds 0 to 119).
const FORETOLD: f64 = 1.5;

/// Fewest readings left on a line for it to be judged.
const FEWEST_LEFT: usize = 6;

/// A line that stays past its tolerance must at least come down to this share of what it needed.
const BETTER: f64 = 0.8;

/// What came of setting a group aside.
#[derive(Clone, Debug)]
pub(super) struct Trial {
    /// Distances of the group from the loft without it, mm, over zero outside.
    pub(super) off: Vec<f64>,
    /// The lines through it, as they were and as they are then.
    pub(super) lines: Vec<ComesOut>,
}

/// The loft of the body with these points set aside; none where there is none.
pub(super) fn lofted_without(search: &DentSearch<'_>, out: &[bool]) -> Option<Loft> {
    let all = search.offsets.iter().flatten().zip(out);
    let ids: Vec<PointId> = all.filter(|(_, out)| **out).map(|(o, _)| o.point).collect();
    Loft::build(&without(search.body, &ids)).ok()
}

/// Sets a group aside and lofts the rest as it is drawn.
///
/// Offered are only readings none of which then lies on the other side past its tolerance and half of which lie past it on
/// their own; across which the skin is settled, however stiff it is taken and however it resists being bent; and without
/// which each line through them that can still be judged comes within its tolerances, or a fifth nearer to them at least.
///
/// # Errors
/// [`SuspectsError::Stopped`].
pub(super) fn attempt(
    search: &DentSearch<'_>,
    (field, out): (&Field, &[bool]),
    before: &Loft,
    found: &JudgedWindow,
) -> Result<Result<Trial, Failed>, SuspectsError> {
    let mut aside = out.to_vec();
    for i in &found.group {
        aside[*i] = true;
    }
    let Some(after) = lofted_without(search, &aside) else {
        return Ok(Err(Failed::NoLoft));
    };
    let mut off = Vec::with_capacity(found.group.len());
    for i in &found.group {
        let (x, offset) = search.all[*i];
        off.push(after.distance(x, offset));
    }
    let tolerance = |i: &usize| field.readings[*i].tolerance;
    let sided = || {
        found
            .group
            .iter()
            .zip(&off)
            .map(|(i, e)| (tolerance(i), found.side * e))
    };
    if sided().any(|(tolerance, e)| e < -tolerance) {
        return Ok(Err(Failed::OtherSide));
    }
    let past = sided().filter(|(tolerance, e)| e > tolerance).count();
    if (past as f64) < PAST * found.group.len() as f64 {
        return Ok(Err(Failed::WithinTolerance));
    }
    let apart = { off.iter().zip(&found.left.off) }
        .map(|(drawn, suited)| (drawn - suited).abs())
        .fold(0.0, f64::max);
    if apart > SETTLED * found.furthest() {
        return Ok(Err(Failed::NotSettled));
    }
    let foretold = (search.foretell)(&aside)?;
    let t =
        |i: &usize| found.side * foretold.off[*i] / num::hypot(foretold.sd[*i], foretold.apart[*i]);
    let mean = found.group.iter().map(t).sum::<f64>() / found.group.len() as f64;
    if mean < FORETOLD {
        return Ok(Err(Failed::NotSettled));
    }
    let mut lines = Vec::new();
    for on in lines_through(search, &aside, &found.group) {
        let stop = search.stop;
        let is = judge(&after, on, None, stop).map_err(|_stopped| SuspectsError::Stopped)?;
        if is.fairness == Fairness::NotJudged(NotJudged::TooFewReadings) {
            continue;
        }
        let was = judge(before, on, None, stop).map_err(|_stopped| SuspectsError::Stopped)?;
        let not_found = is.fairness == Fairness::NotJudged(NotJudged::NotFound);
        let unfair = is.fairness == Fairness::Unfair && is.ratio() > BETTER * was.ratio();
        if not_found || unfair {
            return Ok(Err(Failed::StaysUnfair(on)));
        }
        let [before, after] = [was.ratio(), is.ratio()];
        lines.push(ComesOut { on, before, after });
    }
    Ok(Ok(Trial { off, lines }))
}

/// The lines through a group that keep readings enough, from crown to keel as they come.
fn lines_through(search: &DentSearch<'_>, aside: &[bool], group: &[usize]) -> Vec<On> {
    let mut lines: Vec<On> = Vec::new();
    for i in group {
        let on = search.all[*i].1.on;
        if on == On::Free || lines.contains(&on) {
            continue;
        }
        let left = search.offsets.iter().flatten().zip(aside);
        let left = left.filter(|(offset, aside)| offset.on == on && !**aside);
        if left.count() >= FEWEST_LEFT {
            lines.push(on);
        }
    }
    lines
}
