//! A proposal weighed as far as it is taken: whether the lines come out better.
//!
//! In: lines, what was asked for, and the moves that are to be taken. Out: [`Weighed`], with its sentence.

use std::sync::Arc;

use super::{MoveFound, Weighed, Wish, mm};
use crate::document::{Body, BodyEdit, Moved, On, Station, StationId};
use crate::fair::side_effects::{Worse, worse};
use crate::fair::verdict::{Fairness, Verdict, judge, judged_lines};
use crate::lines::node_at;
use crate::loft::{Loft, Lofted};
use crate::units::{Message, headed};

/// A line comes out better where it then needs no more than this share of what it needs now.
pub(super) const GAINED: f64 = 0.9;

/// Above this share of what it needs now it gains nothing that could be seen in the figures.
const GAINED_LITTLE: f64 = 0.98;

/// Weighs a proposal of which these moves are taken.
///
/// # Errors
/// A sentence.
pub fn weigh(lofted: &Lofted, wish: Wish, moves: &[MoveFound]) -> Result<Weighed, String> {
    let (lines, loft) = (lofted.lines(), lofted.loft());
    let to = moves.iter().map(|found| Moved {
        point: found.point,
        half_breadth: found.to[0],
        height: found.to[1],
    });
    let unit = lines.about.unit;
    let then = lines.body.apply(&BodyEdit::MoveAll(to.collect()));
    let then = then.map_err(|error| error.message(unit))?;
    let then = loft.again(&Arc::new(then));
    weigh_lofts(loft, &then.map_err(|error| error.message(unit))?, wish)
}

/// Weighs the lines as they would be against those that stand.
pub(super) fn weigh_lofts(loft: &Loft, then: &Loft, wish: Wish) -> Result<Weighed, String> {
    let body = loft.body();
    let stopped = |_| "Stopped.";
    let (of, besides) = match wish {
        Wish::Line { on, .. } => (vec![on], Some(on)),
        Wish::Whole => (judged_lines(body), None),
    };
    // Of the whole surface the line speaks that needs most.
    let needs = |loft: &Loft| -> Result<Option<(On, f64)>, String> {
        let mut most = None::<(On, f64)>;
        for on in &of {
            let verdict = judge(loft, *on, None, &|| false).map_err(stopped)?;
            let needs = verdict.judged.is_some().then(|| verdict.ratio());
            let needs = needs.filter(|needs| most.is_none_or(|(_, most)| *needs > most));
            most = needs.map(|needs| (*on, needs)).or(most);
        }
        Ok(most)
    };
    let (before, after) = (needs(loft)?, needs(then)?);
    let found = worse(loft, then, besides, &|| false).map_err(stopped)?;
    // What stays within its readings is none the worse for needing a little more.
    let worst = found
        .iter()
        .find(|worse| worse.after.fairness == Fairness::Unfair || worse.after.judged.is_none());
    // Of a line that comes out within its readings by the turns it is allowed, an inflection may have moved.
    let fair = after.is_some_and(|(_, needs)| needs <= 1.0);
    let hollow = match wish {
        Wish::Line { on, .. } if !fair => newly_hollow(loft, then, on),
        Wish::Line { .. } | Wish::Whole => Vec::new(),
    };
    let gains = match (before, after) {
        (Some((_, before)), Some((_, after))) => after <= GAINED * before,
        _ => false,
    };
    Ok(Weighed {
        needs: before.zip(after).map(|((_, was), (_, is))| [was, is]),
        better: gains && worst.is_none() && hollow.is_empty(),
        says: words(body, before.zip(after), worst, &hollow),
    })
}

/// A curvature under this share of the line's largest is no hollow.
const SLIGHT: f64 = 0.05;

/// The stations at which a line is hollow then and bends outward now.
fn newly_hollow(loft: &Loft, then: &Loft, on: On) -> Vec<StationId> {
    let body = loft.body();
    let curvature = |loft: &Loft, station: &Station| {
        let node = node_at(loft, on, station.x)?;
        node.curvature.is_finite().then_some(node.curvature)
    };
    let bends: Vec<(StationId, f64, f64)> = { body.stations.iter() }
        .filter_map(|s| Some((s.id, curvature(loft, s)?, curvature(then, s)?)))
        .collect();
    let least = SLIGHT * { bends.iter() }.fold(0.0, |most: f64, (_, now, _)| most.max(now.abs()));
    { bends.into_iter() }
        .filter(|(_, now, then)| *now <= 0.0 && *then > least)
        .map(|(station, ..)| station)
        .collect()
}

fn words(
    body: &Body,
    needs: Option<((On, f64), (On, f64))>,
    worst: Option<&Worse>,
    hollow: &[StationId],
) -> String {
    let name = |on: On| body.line_name(on).unwrap_or_default();
    let mut says = match needs {
        Some(((on, was), (then, is))) => {
            let now = if on == then {
                format!("{was:.1}")
            } else {
                format!("{was:.1} for {}", name(on))
            };
            let gains = if is <= GAINED * was {
                "As ticked"
            } else if is < GAINED_LITTLE * was {
                "This gains little: as ticked"
            } else {
                "This gains nothing: as ticked"
            };
            format!(
                "{gains}, {} needs {is:.1} times its tolerance to be fair, instead of {now}",
                name(then)
            )
        }
        None => "As ticked, the line can't be judged".to_owned(),
    };
    let millimetres = |verdict: &Verdict| {
        let judged = verdict.judged.as_ref();
        judged.map_or("–".to_owned(), |judged| mm(judged.needed))
    };
    if let Some(worse) = worst {
        let [is, was] = [&worse.after, &worse.before].map(millimetres);
        let name = headed(&name(worse.before.on));
        says += &format!(". {name} comes out past its tolerance: {is} mm instead of {was}");
    }
    if !hollow.is_empty() {
        let at: Vec<String> = hollow.iter().map(|id| body.station_name(*id)).collect();
        says += &format!(
            ". It makes the line hollow at {}, where it is not now",
            at.join(", ")
        );
    }
    says + "."
}
