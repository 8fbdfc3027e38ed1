//! One batten: a line made sweet, and the surface beside it drawn along as smoothly as it goes.
//!
//! In: a document, its loft and a line. Out: a [`Proposal`]. Outside a window about the stretch that keeps the line from being
//! fair no point moves, and within it no other line becomes hollow, or more so than it is. The loft gives back part of what its
//! points move, so they go further by that.

use std::sync::Arc;

use super::graph::{NotFaired, Turns};
use super::programme::{NoOptimum, Programme};
use super::verdict::{FAIR, Judged, Line, Stopped, Verdict, judge_ways, judged_lines, worst_of};
use super::whole::{NoProposal, Proposal, STEP, moves_by};
use crate::document::On;
use crate::loft::{Loft, LoftPoint, Net, normal_of};
use crate::num::linear::{Terms, add_term, times};
use crate::spline::Surface;

/// How near the surface follows the batten, mm: what is past it costs as much as the energy of a bump of that height.
const NEAR: f64 = 0.05;

/// How far the skin may move across at most at any point, by what the line must: a multiple, and mm. Without this it swings
/// where little holds it.
const FAR: (f64, f64) = (1.5, 0.02);

/// Most times that the points go further by what the loft gives back.
const FURTHER: usize = 3;

/// And only while what is missing, by its squares, comes down to this share.
const NEARER: f64 = 0.8;

/// An end that is not to blame is left alone where the line then needs no more than so many times what it needs without.
const NO_MORE: f64 = 1.5;

/// A reading is of a place within this of its station, mm.
const AT_STATION: f64 = 1.0;

/// Stations beyond the stretch that may move.
const BEYOND: usize = 2;

/// How a batten is laid.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct BattenOptions {
    /// How many turns it may have; none: as many as the document allows the line, else its usual ones.
    pub turns: Option<Turns>,
    /// From where to where the line may move, mm aft; none: all of it.
    pub stretch: Option<[f64; 2]>,
    /// Whether its fore and its aft end keep their place and slope.
    pub held_ends: [bool; 2],
}

/// A line's batten.
#[derive(Clone, Debug, PartialEq)]
pub struct Batten {
    /// The verdict on the line as it stands.
    pub before: Verdict,
    /// What is proposed; no moves where the line is fair or not judged.
    pub proposal: Proposal,
}

/// Lays a batten along a line. What a duck holds stays, of this line and of all others.
///
/// So does its first or last reading where it lies within its tolerance, if the line can be made sweet without it about as well.
///
/// # Errors
/// [`NoProposal`]; [`NoProposal::Held`] where the line can't be made sweet for what is held of it.
///
/// # Accuracy
/// Taken whole, the loft comes to the sweet line within a few hundredths of a millimetre where its net can; what the line
/// needs afterwards is for [`super::verdict::judge`] to say, and what comes of the others for [`super::side_effects::worse`].
/// Beside the window the skin gives by up to 0.25 mm where it was read all round, by 0.6 mm where a fifth of the girth was not
/// (measured on moves of 1.5 to 2 mm).
pub fn lay_batten(
    loft: &Loft,
    on: On,
    options: &BattenOptions,
    stop: &dyn Fn() -> bool,
) -> Result<Batten, NoProposal> {
    let body = loft.body();
    let ways = judge_ways(loft, on, options.turns, stop)?;
    let (mut sweet, mut left_alone) = (Vec::new(), Vec::new());
    for judged in ways.iter().filter_map(|way| way.judged.as_ref()) {
        let line = laid(loft, (on, judged), options, stop)?;
        sweet.push(line.judged);
        left_alone.push(line.left_alone);
    }
    let before = worst_of(on, ways);
    if sweet.iter().all(|judged| judged.stretch.is_none()) {
        let unfair = { before.judged.as_ref() }.is_some_and(|judged| judged.stretch.is_some());
        let nothing = Batten {
            before,
            proposal: Proposal::default(),
        };
        return if unfair {
            Err(NoProposal::Held)
        } else {
            Ok(nothing)
        };
    }
    let net = Net::of(loft)?;
    // Where the person says what may move, nothing beside that does.
    let window = match options.stretch {
        Some([from, to]) => [from.max(loft.extent()[0]), to.min(loft.extent()[1])],
        None => window(loft, &sweet),
    };
    let free = net.within(window.map(|x| loft.u_at(x)));
    let index: Vec<Option<usize>> = {
        let mut next = 0;
        let number = |is: &bool| {
            is.then(|| {
                next += 1;
                next - 1
            })
        };
        free.iter().map(number).collect()
    };
    let only = |terms: Terms| -> Terms {
        let each = terms.into_iter();
        each.filter_map(|(i, value)| Some((index[i]?, value)))
            .collect()
    };
    let mut programme = Programme::new(index.iter().flatten().count());
    for (i, j, value) in net.energy() {
        if let (Some(i), Some(j)) = (index[i], index[j]) {
            programme.quadratic.push((i.min(j), i.max(j), value));
        }
    }
    let needed = sweet.iter().map(|judged| judged.needed);
    let most = FAR.0 * needed.fold(0.0, f64::max) + FAR.1;
    hold(&mut programme, &net, loft, (on, most), &only);
    for (judged, left_alone) in sweet.iter().zip(&left_alone) {
        let line = Line::of(loft, on, judged.seen);
        follow(&mut programme, &net, &line, judged, &only);
        let held = ends_of(judged).into_iter().zip(options.held_ends);
        let held: Vec<f64> = held.filter_map(|(x, held)| x.filter(|_| held)).collect();
        for x in held.iter().chain(left_alone) {
            let terms = line.terms(&net, *x).map(only);
            if let Some(terms) = terms.filter(|terms| !terms.is_empty()) {
                programme.equal(terms, 0.0);
            }
        }
    }
    for other in judged_lines(body).into_iter().filter(|other| *other != on) {
        if stop() {
            return Err(NoProposal::Stopped);
        }
        guard(&mut programme, &net, loft, other, (window, &only));
    }
    let best = programme.solve().map_err(NoProposal::NotFound)?;
    let mut unknowns = net.of_surface(loft.surface());
    for (value, at) in unknowns.iter_mut().zip(&index) {
        if let Some(at) = at {
            *value += best.x[*at];
        }
    }
    let proposal = reach(&net.surface(&unknowns), loft, on);
    Ok(Batten { before, proposal })
}

/// A line that was judged, as it would be, with the ends whose readings are left alone, mm aft.
struct LaidLine {
    judged: Judged,
    left_alone: Vec<f64>,
}

/// What was judged, with the line that it would be under what is held.
fn laid(
    loft: &Loft,
    (on, judged): (On, &Judged),
    options: &BattenOptions,
    stop: &dyn Fn() -> bool,
) -> Result<LaidLine, NoProposal> {
    let body = loft.body();
    if judged.stretch.is_none() {
        let judged = judged.clone();
        let left_alone = Vec::new();
        return Ok(LaidLine { judged, left_alone });
    }
    let ducks = { body.points.iter() }.filter(|point| point.duck && point.on == on);
    let ducks: Vec<f64> = ducks
        .filter_map(|point| Some(body.station(point.station)?.x))
        .collect();
    let breaks = judged.graph.breaks();
    let judged_at = |x: &f64| breaks.first() <= Some(x) && Some(x) <= breaks.last();
    let ducks: Vec<f64> = ducks.into_iter().filter(judged_at).collect();
    let held_at = |places: &[f64]| {
        let graph = judged.graph.clone();
        let graph = graph.holding(options.stretch, options.held_ends, places);
        let sweet = graph.sweet(judged.allowed_turns, judged.run_outs, stop);
        sweet.map_err(|why| match why {
            NotFaired::Stopped => NoProposal::Stopped,
            NotFaired::Hard(NoOptimum::Infeasible) => NoProposal::Held,
            NotFaired::Hard(why) => NoProposal::NotFound(why),
        })
    };
    let as_asked = ducks.is_empty() && options.stretch.is_none() && options.held_ends == [false; 2];
    let (needed, fair) = if as_asked {
        (judged.needed, judged.fair.clone())
    } else {
        let sweet = held_at(&ducks)?;
        // Where nothing turns too often between the stations that are left, or there is no room to turn less, that one
        // value stays as it is.
        if sweet.needed < FAIR {
            return Ok(LaidLine {
                judged: Judged {
                    needed: 0.0,
                    stretch: None,
                    fair: judged.graph.clone(),
                    ..judged.clone()
                },
                left_alone: Vec::new(),
            });
        }
        (sweet.needed, sweet.graph)
    };
    let mut best = LaidLine {
        judged: Judged {
            needed,
            fair,
            ..judged.clone()
        },
        left_alone: Vec::new(),
    };
    // The least largest move goes halves with whatever is at hand: an end that is not to blame is left alone where the rest
    // can do it nearly as well.
    // What a person says is held, or may move, is held by that.
    let asked = |x: &f64| {
        let held = { ends_of(judged).into_iter().zip(options.held_ends) }
            .any(|(end, held)| held && end == Some(*x));
        held || ducks.iter().any(|duck| (duck - x).abs() < AT_STATION)
    };
    let ends = match options.stretch {
        Some(_) => Vec::new(),
        None => blameless_ends(loft, (on, judged)),
    };
    let ends: Vec<f64> = ends.into_iter().filter(|x| !asked(x)).collect();
    if !ends.is_empty() {
        let places: Vec<f64> = ducks.iter().chain(&ends).copied().collect();
        match held_at(&places) {
            Ok(sweet) if sweet.needed <= NO_MORE * needed => {
                best.judged.needed = sweet.needed;
                best.judged.fair = sweet.graph;
                best.left_alone = ends;
            }
            Err(NoProposal::Stopped) => return Err(NoProposal::Stopped),
            Ok(_) | Err(_) => {}
        }
    }
    Ok(best)
}

/// The first and the last place at which a line is judged, mm aft.
fn ends_of(judged: &Judged) -> [Option<f64>; 2] {
    let breaks = judged.graph.breaks();
    [breaks.first().copied(), breaks.last().copied()]
}

/// The first and the last reading of a line, where each lies within its tolerance and the line need not move most there.
fn blameless_ends(loft: &Loft, (on, judged): (On, &Judged)) -> Vec<f64> {
    let body = loft.body();
    let ends = ends_of(judged).into_iter().flatten();
    let blameless = |x: &f64| {
        let at = |point: &&LoftPoint| {
            let station = body.station(point.station);
            point.on == on && station.is_some_and(|station| (station.x - *x).abs() < AT_STATION)
        };
        let read = loft.points().iter().find(at);
        let worst = judged.stretch.map(|stretch| stretch.at);
        read.is_some_and(|point| point.residual.abs() <= point.tolerance)
            && worst.is_none_or(|worst| (worst - *x).abs() >= AT_STATION)
    };
    ends.filter(blameless).collect()
}

impl From<Stopped> for NoProposal {
    fn from(_: Stopped) -> Self {
        Self::Stopped
    }
}

/// So many stations beyond where the sweet line leaves the present one.
fn window(loft: &Loft, sweet: &[Judged]) -> [f64; 2] {
    let (mut from, mut to) = (f64::INFINITY, f64::NEG_INFINITY);
    for judged in sweet {
        let moved = |x: &f64| (judged.fair.at(*x)[0] - judged.graph.at(*x)[0]).abs() > NEAR;
        let moved = judged.graph.breaks().into_iter().filter(moved);
        let within = judged.stretch.map(|stretch| [stretch.from, stretch.to]);
        for x in moved.chain(within.into_iter().flatten()) {
            (from, to) = (from.min(x), to.max(x));
        }
    }
    let ends = loft.extent();
    let x: Vec<f64> = loft
        .body()
        .stations
        .iter()
        .map(|station| station.x)
        .collect();
    let before = x.iter().rev().filter(|x| **x < from).nth(BEYOND);
    let behind = x.iter().filter(|x| **x > to).nth(BEYOND);
    [
        before.copied().unwrap_or(ends[0]),
        behind.copied().unwrap_or(ends[1]),
    ]
}

/// The moves whose loft comes nearest to a surface. What that does not move, and what lies under a duck, goes no further.
fn reach(surface: &Surface, loft: &Loft, on: On) -> Proposal {
    let body = loft.body();
    let points = loft.points();
    let moves = |point: &LoftPoint| {
        let ducked = body.point(point.point).is_some_and(|point| point.duck);
        let [is, was] = [surface, loft.surface()].map(|s| s.position(point.u, point.v));
        !ducked && (is - was).length() > STEP
    };
    let moves: Vec<bool> = points.iter().map(moves).collect();
    let mut further = vec![0.0; points.len()];
    let mut proposal = moves_by(surface, loft, (on, &further));
    let mut best = (f64::INFINITY, proposal.clone());
    for _ in 0..=FURTHER {
        let taken = body.apply(&proposal.edit(&[])).ok();
        let Some(taken) = taken.and_then(|taken| loft.again(&Arc::new(taken)).ok()) else {
            break;
        };
        let mut missing = 0.0;
        for (further, (point, _)) in further
            .iter_mut()
            .zip(points.iter().zip(&moves))
            .filter(|(_, (_, moves))| **moves)
        {
            let expected = surface.jet(point.u, point.v);
            let off = expected.s - taken.surface().position(point.u, point.v);
            let [y, z] = normal_of(point.on, &expected);
            let across = y * off.y + z * off.z;
            *further += across;
            missing += across * across;
        }
        if missing > NEARER * best.0 {
            break;
        }
        best = (missing, proposal);
        proposal = moves_by(surface, loft, (on, &further));
    }
    best.1
}

/// Holds the points of all other lines where they are, as firmly as the loft does: they follow the batten as far as a smooth
/// skin must, and at no point does the skin move by more than `most`. What a duck is on does not follow.
fn hold(
    programme: &mut Programme,
    net: &Net,
    loft: &Loft,
    (on, most): (On, f64),
    only: &dyn Fn(Terms) -> Terms,
) {
    let body = loft.body();
    for (point, weight) in loft.points().iter().zip(net.weights()) {
        let ducked = body.point(point.point).is_some_and(|point| point.duck);
        let place = net.place(point.u, point.v);
        if !ducked {
            let normal = normal_of(point.on, &loft.surface().jet(point.u, point.v));
            let across = normal.iter().zip(&place);
            let across = across.flat_map(|(n, terms)| times(terms, most.recip() * n));
            let terms = only(across.collect());
            if !terms.is_empty() {
                programme.size_at_most(&terms, 1.0);
            }
        }
        if point.on == on && !ducked {
            continue;
        }
        for terms in place {
            let mut terms = only(terms);
            if terms.is_empty() {
                continue;
            }
            if ducked {
                programme.equal(terms, 0.0);
                continue;
            }
            let moved = programme.variable(weight / loft.stiffness(), 0.0);
            terms.push((moved, -1.0));
            programme.equal(terms, 0.0);
        }
    }
}

/// Costs the surface what its line lies off the sweet one, squared, in parts of [`NEAR`].
fn follow(
    programme: &mut Programme,
    net: &Net,
    line: &Line<'_>,
    judged: &Judged,
    only: &dyn Fn(Terms) -> Terms,
) {
    let weight = 1.0 / (NEAR * NEAR);
    let breaks = judged.graph.breaks();
    let middles = breaks
        .windows(2)
        .map(|pair| f64::midpoint(pair[0], pair[1]));
    for x in breaks.iter().copied().chain(middles) {
        let Some(terms) = line.terms(net, x) else {
            continue;
        };
        let wish = judged.fair.at(x)[0] - judged.graph.at(x)[0];
        let off = programme.variable(weight, 0.0);
        let mut terms = only(terms);
        terms.push((off, 1.0));
        programme.equal(terms, wish);
    }
}

/// Keeps a line from becoming hollow: at each break its second divided difference stays on its side, or as far off it as it
/// is.
fn guard(
    programme: &mut Programme,
    net: &Net,
    loft: &Loft,
    on: On,
    (window, only): ([f64; 2], &dyn Fn(Terms) -> Terms),
) {
    for line in Line::all(loft, on) {
        let breaks = line.breaks();
        let Some(graph) = line.graph(&breaks) else {
            continue;
        };
        let side = graph.side();
        // What each break's value is made of; three of them make a difference.
        let inside = |x: f64| (window[0]..=window[1]).contains(&x);
        let made_of = |x: &f64| {
            let terms = line.terms(net, *x).filter(|_| inside(*x));
            (*x, terms.map(only).unwrap_or_default())
        };
        let places: Vec<(f64, Terms)> = breaks.iter().map(made_of).collect();
        for three in places.windows(3) {
            let [a, b, c] = [three[0].0, three[1].0, three[2].0];
            let by = [
                2.0 / ((b - a) * (c - a)),
                -2.0 / ((c - b) * (b - a)),
                2.0 / ((c - b) * (c - a)),
            ];
            let sign = side(b);
            // In mm over the mean break, as the moves are.
            let scale = (c - a) * (c - a) / 4.0;
            let now: f64 = [a, b, c]
                .iter()
                .zip(by)
                .map(|(x, by)| by * graph.at(*x)[0])
                .sum();
            let mut terms: Terms = Vec::new();
            for ((_, own), by) in three.iter().zip(by) {
                for &(i, value) in own {
                    add_term(&mut terms, i, -sign * by * scale * value);
                }
            }
            if !terms.is_empty() {
                programme.at_most(terms, (sign * now * scale).max(0.0));
            }
        }
    }
}
