//! What becomes of the other lines where a proposal is taken.
//!
//! In: the lines as they stand and as they would be, with their lofts. Out: each line that comes out [`Worse`].

use super::verdict::{Line, Stopped, Verdict, judge_ways, judged_lines};
use crate::document::On;
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

/// The lines that would have to move by 0.1 mm more than they have to now, or can then no longer be judged, the worst first.
/// A run line is held against itself from above and from the side.
///
/// `besides`: a line that is not asked.
///
/// # Errors
/// [`Stopped`], where `stop` says so.
///
/// # Accuracy
/// As [`super::verdict::judge`]. A line of which nothing moves by 0.1 mm is not judged: moved back, it needs what it needed.
pub fn worse(
    loft: &Loft,
    then: &Loft,
    besides: Option<On>,
    stop: &dyn Fn() -> bool,
) -> Result<Vec<Worse>, Stopped> {
    let mut found = Vec::new();
    let others = judged_lines(loft.body()).into_iter();
    for on in others.filter(|on| Some(*on) != besides) {
        if !moves(on, loft, then) {
            continue;
        }
        let mut most = None::<(f64, Worse)>;
        for before in judge_ways(loft, on, None, stop)? {
            let Some(judged) = &before.judged else {
                continue;
            };
            let line = Line::of(then, on, judged.seen);
            let after = line.judge(Some(judged.allowed_turns), stop)?;
            let needs = { after.judged.as_ref() }.map_or(f64::INFINITY, |after| after.needed);
            let more = needs - judged.needed;
            if more > WORSE && most.as_ref().is_none_or(|(most, _)| more > *most) {
                most = Some((more, Worse { before, after }));
            }
        }
        found.extend(most);
    }
    found.sort_by(|a, b| b.0.total_cmp(&a.0));
    Ok(found.into_iter().map(|(_, worse)| worse).collect())
}

/// Whether a line moves by so much that it can come out worse.
pub(super) fn moves(on: On, loft: &Loft, then: &Loft) -> bool {
    let was = Line::all(loft, on).into_iter();
    was.zip(Line::all(then, on)).any(|(was, is)| {
        let breaks = was.breaks();
        let graphs = was.graph(&breaks).zip(is.graph(&breaks));
        breaks != is.breaks() || graphs.is_some_and(|(was, is)| was.apart(&is) > WORSE)
    })
}
