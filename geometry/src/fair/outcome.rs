//! What becomes of the other lines where a proposal is taken.
//!
//! In: the lines as they stand and as they would be, with their lofts. Out: each line that comes out [`Worse`].

use super::verdict::{Judged, Line, Stopped, Verdict, judge, judged_lines};
use crate::document::{Lines, On};
use crate::loft::Loft;

/// A line that needs so much more than it did comes out worse, mm.
const WORSE: f64 = 0.1;

/// A line that comes out worse than it was.
#[derive(Clone, Debug, PartialEq)]
pub struct Worse {
    /// Its verdict as the lines stand.
    pub before: Verdict,
    /// Its verdict then, by the same turns allowed.
    pub after: Verdict,
}

/// The lines that would have to move by 0.1 mm more than they have to now, the worst first.
///
/// `besides`: a line that is not asked.
///
/// # Errors
/// [`Stopped`], where `stop` says so.
///
/// # Accuracy
/// As [`judge`]. A line of which nothing moves by 0.1 mm is not judged: moved back, it needs what it needed.
pub fn worse(
    (lines, loft): (&Lines, &Loft),
    (then, again): (&Lines, &Loft),
    besides: Option<On>,
    stop: &dyn Fn() -> bool,
) -> Result<Vec<Worse>, Stopped> {
    let mut found = Vec::new();
    let others = judged_lines(lines).into_iter();
    for on in others.filter(|on| Some(*on) != besides) {
        if !moves(on, (lines, loft), (then, again)) {
            continue;
        }
        let needs = |verdict: &Verdict| {
            let judged = verdict.judged.as_ref();
            judged.map_or(f64::INFINITY, |judged| judged.needed)
        };
        // What needs next to nothing then is no worse than it was.
        let mut after = judge(then, again, on, None, stop)?;
        if needs(&after) <= WORSE {
            continue;
        }
        let before = judge(lines, loft, on, None, stop)?;
        let Some(judged) = &before.judged else {
            continue;
        };
        let same = |then: &Judged| then.allowed_turns == judged.allowed_turns;
        if !after.judged.as_ref().is_some_and(same) {
            after = judge(then, again, on, Some(judged.allowed_turns), stop)?;
        }
        let more = needs(&after) - judged.needed;
        if more > WORSE {
            found.push((more, Worse { before, after }));
        }
    }
    found.sort_by(|a, b| b.0.total_cmp(&a.0));
    Ok(found.into_iter().map(|(_, worse)| worse).collect())
}

/// Whether a line moves by so much that it can come out worse.
fn moves(on: On, (lines, loft): (&Lines, &Loft), (then, again): (&Lines, &Loft)) -> bool {
    let was = Line::all(lines, loft, on).into_iter();
    was.zip(Line::all(then, again, on)).any(|(was, is)| {
        let breaks = was.breaks();
        let graphs = was.graph(&breaks).zip(is.graph(&breaks));
        breaks != is.breaks() || graphs.is_some_and(|(was, is)| was.apart(&is) > WORSE)
    })
}
