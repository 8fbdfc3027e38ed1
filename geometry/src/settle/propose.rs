//! Lines that would be fair, worked out to their end: every move, and what comes of it.

use std::sync::Arc;

use super::judge::{stiffness_words, turns_words};
use super::weigh::{GAINED, weigh_lofts};
use super::{MoveFound, Proposed, Wish, mm, used_of};
use crate::compare::moved_over_all;
use crate::document::{Lines, On, PointId, StationId};
use crate::fair::batten::{BattenOptions, lay_batten};
use crate::fair::side_effects::worse;
use crate::fair::verdict::{Fairness, Verdict, judge};
use crate::fair::whole::{NoProposal, PointMove, Proposal, fair_whole};
use crate::loft::{Loft, Lofted};
use crate::units::{Message, headed};

/// A batten along a line, or the whole surface faired.
///
/// # Errors
/// A sentence.
pub fn propose(lofted: &Lofted, wish: Wish, at: &dyn Fn(&str)) -> Result<Proposed, String> {
    let (lines, loft) = (lofted.lines(), lofted.loft());
    let (title, says, proposal) = match wish {
        Wish::Whole => {
            let proposal = fair_whole(loft, &|part| {
                at(part);
                false
            });
            let proposal = proposal.map_err(|error| error.message(lines.about.unit))?;
            let says = whole_says(lofted, &proposal)?;
            ("The whole surface, faired".to_owned(), says, proposal)
        }
        Wish::Line { on, between, held } => {
            at("the batten");
            let name = lines.body.line_name(on).unwrap_or_default();
            let (says, proposal) = batten_says(lofted, (on, &name), between, held)?;
            (format!("A batten along {name}"), says, proposal)
        }
    };
    let past = past_their_tolerance(&proposal);
    let weighed = if wish == Wish::Whole {
        None
    } else {
        at("what comes of it");
        Some(weigh_lofts(loft, &taken(lofted, &proposal, &past)?, wish)?)
    };
    let mut moves: Vec<&PointMove> = proposal.moves.iter().collect();
    moves.sort_by(|a, b| {
        let pull = b.pull.total_cmp(&a.pull);
        pull.then(b.off.abs().total_cmp(&a.off.abs()))
    });
    let hardest = moves.first().map_or(0.0, |moved| moved.pull);
    let past = past.len();
    let ticked = format!(
        "{past} of {} moves lie past their tolerance: each of them is taken only if you tick it.",
        moves.len()
    );
    let moves = moves.into_iter();
    Ok(Proposed {
        title,
        says: says
            .into_iter()
            .chain((past > 0).then_some(ticked))
            .collect(),
        moves: moves
            .map(|moved| move_found(lines, moved, hardest))
            .collect(),
        weighed,
    })
}

/// What is to be known of the whole surface, faired.
fn whole_says(lofted: &Lofted, proposal: &Proposal) -> Result<Vec<String>, String> {
    let moved = |without: &[PointId]| -> Result<[String; 2], String> {
        let again = taken(lofted, proposal, without)?;
        Ok(moved_over_all(lofted.loft(), &again).map(mm))
    };
    let [largest, mean] = moved(&[])?;
    let mut says =
        format!("Taken whole, it moves the skin by {largest} mm at most, {mean} mm on average");
    let past = past_their_tolerance(proposal);
    if !past.is_empty() {
        let [largest, mean] = moved(&past)?;
        says += &format!("; without what lies past its tolerance by {largest} and {mean} mm");
    }
    let pulls = proposal.moves.iter().any(|moved| moved.pull > 0.0);
    let pull = "«Holds back» is how hard a reading keeps the surface from being fairer: 100 % is the one that does so most.";
    let all = [
        Some(says + "."),
        stiffness_words(proposal),
        pulls.then(|| pull.to_owned()),
    ];
    Ok(all.into_iter().flatten().collect())
}

fn past_their_tolerance(proposal: &Proposal) -> Vec<PointId> {
    let past = proposal.moves.iter().filter(|moved| moved.is_past());
    past.map(|moved| moved.point).collect()
}

/// A batten along a line, and what is to be known of it.
fn batten_says(
    lofted: &Lofted,
    (on, name): (On, &str),
    between: [Option<StationId>; 2],
    held: [bool; 2],
) -> Result<(Vec<String>, Proposal), String> {
    let (lines, loft) = (lofted.lines(), lofted.loft());
    let place = |id: Option<StationId>| id.and_then(|id| Some(lines.body.station(id)?.x));
    let stretch = between.map(place);
    let [fore, aft] = loft.extent();
    let options = BattenOptions {
        turns: None,
        stretch: (stretch != [None; 2])
            .then(|| [stretch[0].unwrap_or(fore), stretch[1].unwrap_or(aft)]),
        held_ends: held,
    };
    let batten = match lay_batten(loft, on, &options, &|| false) {
        Ok(batten) => batten,
        // What was proposed before goes with it.
        Err(error @ NoProposal::Held) => {
            return Ok((vec![error.message(lines.about.unit)], Proposal::default()));
        }
        Err(error) => return Err(error.message(lines.about.unit)),
    };
    let before = batten.before.judged.as_ref();
    let mut says: Vec<String> = before
        .map(|judged| turns_words(lines, judged))
        .into_iter()
        .collect();
    if batten.proposal.moves.is_empty() {
        let why = match batten.before.fairness {
            Fairness::Fair => "it is fair",
            Fairness::FairWithinReadings | Fairness::Unfair => "no batten was found",
            Fairness::NotJudged(_) => "too few readings",
        };
        says.push(format!("{}: {why}. Nothing is to be moved.", headed(name)));
        return Ok((says, batten.proposal));
    }
    says.push(
        "The batten spreads a dent over good readings beside it: where one is to blame, set that aside instead.".to_owned(),
    );
    let needed = |without: &[PointId]| -> Result<_, String> {
        let again = taken(lofted, &batten.proposal, without)?;
        let verdict = judge(&again, on, None, &|| false).map_err(|_stopped| "Stopped.")?;
        let needed = verdict.judged.map(|judged| judged.needed);
        Ok((needed, again))
    };
    let (all, after) = needed(&[])?;
    if let (Some(now), Some(all)) = (before.map(|judged| judged.needed), all) {
        let mut taken = format!(
            "As it stands the line must move {} mm to be fair; once every move below is taken, {} mm more",
            mm(now),
            mm(all)
        );
        let past = past_their_tolerance(&batten.proposal);
        if !past.is_empty()
            && let (Some(less), _) = needed(&past)?
        {
            taken += &format!(
                "; once only those within their tolerance are taken, {} mm more",
                mm(less)
            );
        }
        says.push(taken + ".");
        if all > GAINED * now {
            says.push(
                "Little is gained so: let it move over more stations, or free what is held."
                    .to_owned(),
            );
        }
    }
    says.extend(left_worse(loft, &after, on)?);
    Ok((says, batten.proposal))
}

/// The loft with a proposal taken but for some points.
fn taken(lofted: &Lofted, proposal: &Proposal, without: &[PointId]) -> Result<Loft, String> {
    let unit = lofted.lines().about.unit;
    let then = lofted.lines().body.apply(&proposal.edit(without));
    let then = then.map_err(|error| error.message(unit))?;
    let again = lofted.loft().again(&Arc::new(then));
    again.map_err(|error| error.message(unit))
}

/// Which other lines a batten leaves needing more than they do.
fn left_worse(loft: &Loft, then: &Loft, besides: On) -> Result<Option<String>, String> {
    let needs = |verdict: &Verdict| {
        let judged = verdict.judged.as_ref();
        judged.map_or("–".to_owned(), |judged| mm(judged.needed))
    };
    let found = worse(loft, then, Some(besides), &|| false).map_err(|_stopped| "Stopped.")?;
    let each = found.iter().map(|worse| {
        let name = loft.body().line_name(worse.before.on).unwrap_or_default();
        let [then, now] = [&worse.after, &worse.before].map(needs);
        format!("{name} {then} mm instead of {now}")
    });
    let each: Vec<String> = each.collect();
    let says = |each: &[String]| {
        format!(
            "Taken whole, it leaves other lines needing more: {}.",
            each.join(", ")
        )
    };
    Ok((!each.is_empty()).then(|| says(&each)))
}

/// Less of the hardest pull than this is none.
const LEAST_PULL: f64 = 0.01;

/// What is said of one move; `hardest`: the pull of the point that pulls hardest.
fn move_found(lines: &Lines, moved: &PointMove, hardest: f64) -> MoveFound {
    let by = |at: usize, name: &str| {
        moved.by[at].map(|by| {
            let sign = if by < 0.0 { "−" } else { "+" };
            format!("{name} {sign}{}", mm(by.abs()))
        })
    };
    let by: Vec<String> = [by(0, "y"), by(1, "z")].into_iter().flatten().collect();
    let stands = if moved.is_past() { "past" } else { "within" };
    // As the reading has it; square to the skin a share of the move stands against the same share of it.
    let tolerance = lines
        .body
        .point(moved.point)
        .map_or(moved.tolerance, |point| point.merged().tolerance);
    let mut says = format!("{} mm, {stands} ±{}", by.join(", "), mm(tolerance));
    let pull = moved.pull / hardest;
    if pull >= LEAST_PULL {
        says += &format!(", holds back {:.0} %", 100.0 * pull);
    }
    MoveFound {
        point: moved.point,
        name: lines.body.point_name(moved.point),
        says,
        to: moved.to,
        by: moved.by,
        past: moved.is_past(),
        tolerance: let_through(lines, moved),
    }
}

/// Of a point that is moved past its tolerance: its only reading in use, and a tolerance in tenths that would let it.
fn let_through(lines: &Lines, moved: &PointMove) -> Option<(usize, f64)> {
    if !moved.is_past() {
        return None;
    }
    let used = used_of(&lines.body, |point| point.id == moved.point);
    let [(point, reading)] = used[..] else {
        return None;
    };
    let now = lines.body.point(point)?.readings.get(reading)?.tolerance;
    // The section's normal sees a share of it. A reading that counts for less lets the skin go on from it: so half as much
    // again, by trial on the example.
    const LEEWAY: f64 = 1.5;
    let share = moved.tolerance / now;
    let lets = LEEWAY * moved.off.abs() / share;
    Some((reading, (lets * 10.0).ceil() / 10.0))
}
