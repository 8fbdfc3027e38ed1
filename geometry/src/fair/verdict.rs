//! Verdicts: of each line, by how many millimetres it would have to move to be fair, and whether its readings allow that.
//!
//! In: a document, its loft and a line. Out: a [`Verdict`]. A line is judged as a function of the distance aft, between
//! its first reading and its last one, where it lies within 45° of the x axis. Sections are judged by [`super::section`].

use super::graph::{Faired, Graph, IN_A_SPAN, NotFaired, Turns};
use super::programme::NoOptimum;
use serde::{Deserialize, Serialize};

use crate::document::{Body, Fixes, Offset, On, Place, PlaneId, StationId};
use crate::lines::{Node, node_at};
use crate::loft::{Loft, Net, counted_tolerance, section_normal};
use crate::num;
use crate::num::linear::{Terms, times};
use crate::spline::parted;

/// A line that needs less is fair, mm: a quarter of what the loft itself is good to.
pub(crate) const FAIR: f64 = 0.25 * num::LOFT_ERROR;

/// Fewer readings judge no line.
pub(super) const FEWEST: usize = 5;

/// Where a line is steeper than this against the x axis it is not judged: there a value by x says nothing.
const STEEPEST: f64 = 1.0;

/// A plane's line that comes to this slope, or closes, within so many stations beyond what is judged of it bends harder and
/// harder into that end.
const RUN_OUT: (f64, usize) = (0.5, 2);

/// A plane that meets the skin at a flatter angle than this says nothing of where the skin moves: its sine.
const LEAST_ACROSS: f64 = 0.05;

/// What of a line is taken as a function of the distance aft.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Ordinate {
    /// Its half-breadth.
    HalfBreadth,
    /// Its height.
    Height,
    /// The distance along its diagonal.
    Along,
}

/// Why a line is not judged.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum NotJudged {
    /// Fewer than five readings lie on it, or beside it, where it could be judged.
    TooFewReadings,
    /// The programme found no line; said, not hidden.
    NotFound,
}

/// Whether a line is fair.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Fairness {
    /// It is fair as it stands.
    Fair,
    /// It would be, moved no further than its readings allow.
    FairWithinReadings,
    /// It would have to move further.
    Unfair,
    /// It is not judged.
    NotJudged(NotJudged),
}

impl Fairness {
    /// In words.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::Fair => "Fair",
            Self::FairWithinReadings => "Fair within readings",
            Self::Unfair => "Unfair",
            Self::NotJudged(_) => "Not judged",
        }
    }

    /// Its sign, which stands beside the words.
    #[must_use]
    pub fn sign(self) -> &'static str {
        match self {
            Self::Fair => "✓",
            Self::FairWithinReadings => "≈",
            Self::Unfair => "✕",
            Self::NotJudged(_) => "–",
        }
    }

    /// Whether a line or a section is fair, as it stands or within its readings.
    #[must_use]
    pub fn is_fair(self) -> bool {
        matches!(self, Self::Fair | Self::FairWithinReadings)
    }

    /// Of what it needs and what its readings allow, mm.
    pub(super) fn of(needed: f64, allowed: f64) -> Self {
        if needed < FAIR {
            Self::Fair
        } else if needed <= allowed {
            Self::FairWithinReadings
        } else {
            Self::Unfair
        }
    }
}

/// A stretch of a line that keeps it from being fair, mm aft of the datum.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stretch {
    /// Where it must move most.
    pub at: f64,
    /// Where the move begins.
    pub from: f64,
    /// Where it ends.
    pub to: f64,
    /// Whether it lies too far in there; else too far out.
    pub hollow: bool,
}

/// What was found of a line.
#[derive(Clone, Debug, PartialEq)]
pub struct Judged {
    /// What of it was taken.
    pub seen: Ordinate,
    /// How many turns it may have.
    pub allowed_turns: Turns,
    /// Whether it runs out at its fore and its aft end, where it may bend harder and harder.
    pub run_outs: [bool; 2],
    /// How many it has.
    pub turns: Turns,
    /// The least largest move that leaves no more turns than allowed, mm: «sweet».
    pub needed: f64,
    /// The least largest move that leaves no more inflections, mm: «no longer hollow».
    pub without_hollows: f64,
    /// The least tolerance of its readings where it must move, mm.
    pub allowed: f64,
    /// Where it must move; none where it is fair.
    pub stretch: Option<Stretch>,
    /// The line as it stands.
    pub graph: Graph,
    /// The line that it would be.
    pub fair: Graph,
}

/// A verdict on one line.
#[derive(Clone, Debug, PartialEq)]
pub struct Verdict {
    /// The line.
    pub on: On,
    /// In a word.
    pub fairness: Fairness,
    /// With what was found, where it was judged.
    pub judged: Option<Judged>,
}

impl Verdict {
    fn not(on: On, why: NotJudged) -> Self {
        Self {
            on,
            fairness: Fairness::NotJudged(why),
            judged: None,
        }
    }

    /// Needed by allowed: what a list of verdicts is sorted by; below zero where it is not judged.
    #[must_use]
    pub fn ratio(&self) -> f64 {
        let ratio = |judged: &Judged| judged.needed / judged.allowed;
        self.judged.as_ref().map_or(-1.0, ratio)
    }
}

/// It was told to stop.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Stopped;

/// A reading that lies on a line, or beside it.
#[derive(Clone, Copy, Debug, PartialEq)]
struct LineReading {
    station: StationId,
    x: f64,
    tolerance: f64,
}

/// The lines that can be judged, from crown to keel: centrelines, run lines, and the planes with both sides of a buttock.
#[must_use]
pub fn judged_lines(body: &Body) -> Vec<On> {
    let planes = body.planes.iter().flat_map(|plane| {
        let upper = matches!(plane.place, Place::Buttock(_)).then_some(On::PlaneUpper(plane.id));
        [Some(On::Plane(plane.id)), upper].into_iter().flatten()
    });
    let runs = body.run_lines.iter().map(|run| On::RunLine(run.id));
    [On::Crown]
        .into_iter()
        .chain(runs)
        .chain([On::Keel])
        .chain(planes)
        .collect()
}

/// Judges a line.
///
/// `allowed`: how many turns it may have; where none says, as many as the document allows it, else those of the cubic
/// polynomial through it.
///
/// # Errors
/// [`Stopped`], where `stop` says so.
///
/// # Accuracy
/// Needed moves to 0.01 mm for a line of few turns; see [`Graph::sweet`].
pub fn judge(
    loft: &Loft,
    on: On,
    allowed: Option<Turns>,
    stop: &dyn Fn() -> bool,
) -> Result<Verdict, Stopped> {
    let ways = judge_ways(loft, on, allowed, stop)?;
    Ok(worst_of(on, ways))
}

/// All that a verdict follows from. Two that are [`still`](JudgedBy::still) have the same verdict, as far as it is said.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct JudgedBy {
    pub(super) seen: Ordinate,
    readings: Vec<LineReading>,
    /// How many turns it may have, where a person or the document says so.
    pub(super) allowed: Option<Turns>,
    pub(super) run_outs: [bool; 2],
    /// None where too little was read of it, or no graph is found.
    pub(super) graph: Option<Graph>,
    pub(super) enough: bool,
}

/// A line that moves less than this between two lofts is judged as before, mm: a tenth of what is fair, and less than any
/// figure of a verdict is said to.
const STILL: f64 = 0.1 * FAIR;

impl JudgedBy {
    /// Whether nothing of it has changed but for moves that are too small to say.
    pub(super) fn still(&self, other: &Self) -> bool {
        let graphs_still = match (&self.graph, &other.graph) {
            (Some(one), Some(two)) => {
                let breaks = one.breaks();
                let apart = |x: f64| (one.at(x)[0] - two.at(x)[0]).abs();
                breaks == two.breaks()
                    && parted(&breaks, IN_A_SPAN)
                        .into_iter()
                        .all(|x| apart(x) <= STILL)
            }
            (None, None) => true,
            (Some(_), None) | (None, Some(_)) => false,
        };
        graphs_still
            && self.seen == other.seen
            && self.readings == other.readings
            && self.allowed == other.allowed
            && self.run_outs == other.run_outs
            && self.enough == other.enough
    }
}

/// A line's verdict with all that it follows from, by which another loft's need not be worked out anew where nothing moved.
#[derive(Clone, Debug, PartialEq)]
pub struct JudgedLine {
    on: On,
    ways: Vec<(JudgedBy, Verdict)>,
}

impl JudgedLine {
    /// Judges a line as [`judge`] does; where it stands as it did, by its former verdict.
    ///
    /// # Errors
    /// [`Stopped`], where `stop` says so.
    ///
    /// # Accuracy
    /// A former verdict is of a line that lies within 0.005 mm of the one that stands, so that what it needs is right within
    /// 0.01 mm; it is held against the line that it was worked out for, so that small moves do not add up.
    pub fn of(
        loft: &Loft,
        on: On,
        before: Option<&Self>,
        stop: &dyn Fn() -> bool,
    ) -> Result<Self, Stopped> {
        let allowed = loft.body().turns_allowed(on);
        let former = before.filter(|before| before.on == on);
        let former = former.map_or(&[][..], |before| &before.ways);
        let one = |line: Line<'_>| {
            let (line, basis) = line.with_what_judges(allowed);
            let same = former.iter().find(|(before, _)| before.still(&basis));
            match same {
                Some(same) => Ok(same.clone()),
                None => Ok((basis.clone(), line.judge_by(basis, stop)?)),
            }
        };
        let ways: Result<Vec<_>, Stopped> = Line::all(loft, on).into_iter().map(one).collect();
        Ok(Self { on, ways: ways? })
    }

    /// The line.
    #[must_use]
    pub fn on(&self) -> On {
        self.on
    }

    /// The verdict on every value of it that is judged.
    #[must_use]
    pub fn ways(&self) -> Vec<Verdict> {
        self.ways
            .iter()
            .map(|(_, verdict)| verdict.clone())
            .collect()
    }

    /// The verdict that speaks for it.
    #[must_use]
    pub fn verdict(&self) -> Verdict {
        worst_of(self.on, self.ways())
    }
}

/// Of the verdicts on all that is judged of a line, the one that speaks for it: the worst, and of equals the first.
#[must_use]
pub fn worst_of(on: On, ways: Vec<Verdict>) -> Verdict {
    let worst = ways.into_iter().reduce(|worst, verdict| {
        if verdict.ratio() > worst.ratio() {
            verdict
        } else {
            worst
        }
    });
    worst.unwrap_or_else(|| Verdict::not(on, NotJudged::TooFewReadings))
}

/// The verdict on every value that is judged of a line, as [`judge`] gives the worst of them.
///
/// # Errors
/// [`Stopped`], where `stop` says so.
///
/// # Accuracy
/// As [`judge`].
pub fn judge_ways(
    loft: &Loft,
    on: On,
    allowed: Option<Turns>,
    stop: &dyn Fn() -> bool,
) -> Result<Vec<Verdict>, Stopped> {
    let body = loft.body();
    let allowed = allowed.or_else(|| body.turns_allowed(on));
    let ways = Line::all(loft, on).into_iter();
    ways.map(|line| line.judge(allowed, stop)).collect()
}

/// The readings of a line; where it has none, those of its two neighbours of the same kind.
fn readings(body: &Body, offsets: &[Vec<Offset>], on: On, seen: Ordinate) -> Vec<LineReading> {
    let own = marks_on(body, offsets, on, seen);
    if !own.is_empty() {
        return own;
    }
    let mut beside: Vec<LineReading> = neighbours(body, on)
        .into_iter()
        .flat_map(|on| marks_on(body, offsets, on, seen))
        .collect();
    beside.sort_by(|a, b| {
        a.x.total_cmp(&b.x)
            .then(a.tolerance.total_cmp(&b.tolerance))
    });
    beside.dedup_by_key(|reading| reading.station);
    beside
}

fn marks_on(body: &Body, offsets: &[Vec<Offset>], on: On, seen: Ordinate) -> Vec<LineReading> {
    let all = body.stations.iter().zip(offsets);
    all.filter_map(|(station, offsets)| {
        let read = |offset: &&Offset| {
            offset.on == on
                && matches!(
                    (offset.fixes, seen),
                    (Fixes::Both, _)
                        | (Fixes::HalfBreadth, Ordinate::HalfBreadth)
                        | (Fixes::Height, Ordinate::Height)
                        | (Fixes::Along { .. }, Ordinate::Along)
                )
        };
        let offset = offsets.iter().find(read)?;
        Some(LineReading {
            station: station.id,
            x: station.x,
            tolerance: offset.tolerance,
        })
    })
    .collect()
}

/// The next planes of the same kind on either side.
fn neighbours(body: &Body, on: On) -> Vec<On> {
    let (id, of): (PlaneId, fn(PlaneId) -> On) = match on {
        On::Plane(id) => (id, On::Plane),
        On::PlaneUpper(id) => (id, On::PlaneUpper),
        On::Crown | On::RunLine(_) | On::Free | On::Keel => return Vec::new(),
    };
    let Some(place) = body.plane(id).map(|plane| plane.place) else {
        return Vec::new();
    };
    let kind = core::mem::discriminant(&place);
    let alike = || {
        let planes = body.planes.iter();
        planes.filter(|plane| plane.id != id && core::mem::discriminant(&plane.place) == kind)
    };
    let level = place.level();
    let below = alike().filter(|plane| plane.place.level() < level);
    let below = below.max_by(|a, b| a.place.level().total_cmp(&b.place.level()));
    let above = alike().filter(|plane| plane.place.level() >= level);
    let above = above.min_by(|a, b| a.place.level().total_cmp(&b.place.level()));
    [below, above]
        .into_iter()
        .flatten()
        .map(|plane| of(plane.id))
        .collect()
}

/// How a line's value at a place answers to a move of the skin there: its derivative by half-breadth and height.
pub(super) struct Sensitivity {
    pub(super) x: f64,
    pub(super) u: f64,
    pub(super) v: f64,
    pub(super) by: [f64; 2],
}

impl Sensitivity {
    /// How far the line's value moved from one loft to another, mm.
    pub(super) fn moved(&self, from: &Loft, to: &Loft) -> f64 {
        let by = to.surface().position(self.u, self.v) - from.surface().position(self.u, self.v);
        self.by[0] * by.y + self.by[1] * by.z
    }
}

/// A line on its loft, with what was read of it.
pub(super) struct Line<'a> {
    loft: &'a Loft,
    on: On,
    seen: Ordinate,
    readings: Vec<LineReading>,
}

impl<'a> Line<'a> {
    /// As every value that is judged of it.
    pub(super) fn all(loft: &'a Loft, on: On) -> Vec<Self> {
        let body = loft.body();
        let ways: &[Ordinate] = match (on, body.place_of(on)) {
            (On::RunLine(_), _) => &[Ordinate::HalfBreadth, Ordinate::Height],
            (_, Some(Place::Waterline(_))) => &[Ordinate::HalfBreadth],
            (_, Some(Place::Diagonal { .. })) => &[Ordinate::Along],
            _ => &[Ordinate::Height],
        };
        ways.iter().map(|seen| Self::of(loft, on, *seen)).collect()
    }

    /// As one of them.
    pub(super) fn of(loft: &'a Loft, on: On, seen: Ordinate) -> Self {
        let offsets = loft.offsets();
        let readings = readings(loft.body(), &offsets, on, seen);
        Self {
            loft,
            on,
            seen,
            readings,
        }
    }

    /// Which it is.
    pub(super) fn on(&self) -> On {
        self.on
    }

    /// What of it is taken.
    pub(super) fn seen(&self) -> Ordinate {
        self.seen
    }

    fn node(&self, x: f64) -> Option<Node> {
        if let (On::RunLine(_), Ordinate::HalfBreadth) = (self.on, self.seen) {
            run_above(self.loft, self.on, x)
        } else {
            node_at(self.loft, self.on, x)
        }
    }

    /// In the section's plane, the direction in which the value grows: half-breadth and height.
    fn direction(&self) -> [f64; 2] {
        match (self.seen, self.loft.body().place_of(self.on)) {
            (Ordinate::Along, Some(Place::Diagonal { angle, .. })) => {
                [num::cos(angle), -num::sin(angle)]
            }
            (Ordinate::HalfBreadth | Ordinate::Along, _) => [1.0, 0.0],
            (Ordinate::Height, _) => [0.0, 1.0],
        }
    }

    /// What a change of the value at x is made of, in a net's unknowns: in the plane of a cut the skin moves by as much as
    /// brings it there along the plane.
    pub(super) fn terms(&self, net: &Net, x: f64) -> Option<Terms> {
        let node = self.node(x)?;
        let [y, z] = net.place(node.u, node.v);
        let by = self.by(&node)?;
        let mut terms = times(&y, by[0]);
        terms.extend(times(&z, by[1]));
        Some(terms)
    }

    /// What a move of the skin adds to the value, by its half-breadth and height.
    fn by(&self, node: &Node) -> Option<[f64; 2]> {
        if self.loft.body().place_of(self.on).is_some() {
            let [ny, nz] = section_normal(&self.loft.surface().jet(node.u, node.v));
            let [my, mz] = self.direction();
            let across = ny * my + nz * mz;
            (across.abs() > LEAST_ACROSS).then(|| [ny / across, nz / across])
        } else {
            Some(self.direction())
        }
    }

    /// Places along it at which moves are bounded, and what a move of the skin there adds to the value.
    pub(super) fn sensitivities(&self, breaks: &[f64]) -> Vec<Sensitivity> {
        let way = |x: f64| {
            let node = self.node(x)?;
            Some(Sensitivity {
                x,
                u: node.u,
                v: node.v,
                by: self.by(&node)?,
            })
        };
        parted(breaks, IN_A_SPAN)
            .into_iter()
            .filter_map(way)
            .collect()
    }

    /// The value at a distance aft, its slope, and which way is out: 1 where the value grows outward, else −1.
    pub(super) fn at(&self, x: f64) -> Option<[f64; 3]> {
        let node = self.node(x)?;
        let [y, z] = self.direction();
        let part = |v: glam::DVec3| v.y * y + v.z * z;
        let slope = part(node.tangent) / node.tangent.x;
        let out = if part(node.outward) < 0.0 { -1.0 } else { 1.0 };
        Some([part(node.point), slope, out])
    }

    /// Stations and the middles between them, from the first reading to the last one, where the line can be judged.
    pub(super) fn breaks(&self) -> Vec<f64> {
        let (Some(first), Some(last)) = (self.readings.first(), self.readings.last()) else {
            return Vec::new();
        };
        let stations = self.loft.body().stations.iter().map(|station| station.x);
        let within: Vec<f64> = stations
            .filter(|x| (first.x..=last.x).contains(x))
            .collect();
        let middles = within
            .windows(2)
            .map(|pair| f64::midpoint(pair[0], pair[1]));
        let mut all: Vec<f64> = within.iter().copied().chain(middles).collect();
        all.sort_by(f64::total_cmp);
        let gentle = |x: &f64| self.at(*x).is_some_and(|at| at[1].abs() <= STEEPEST);
        let runs = all.split(|x| !gentle(x));
        runs.max_by_key(|run| run.len()).unwrap_or(&[]).to_vec()
    }

    /// Whether a plane's line grows steep, or closes, within two stations beyond either end of what is judged.
    fn run_outs(&self, graph: &Graph) -> [bool; 2] {
        let breaks = graph.breaks();
        let (Some(first), Some(last)) = (breaks.first(), breaks.last()) else {
            return [false; 2];
        };
        let stations = || self.loft.body().stations.iter().map(|station| station.x);
        let steep = |x: f64| self.at(x).is_none_or(|at| at[1].abs() > RUN_OUT.0);
        let plane = self.loft.body().place_of(self.on).is_some();
        let (before, behind) = (
            stations().rev().filter(|x| x < first),
            stations().filter(|x| x > last),
        );
        [
            plane && before.take(RUN_OUT.1).any(steep),
            plane && behind.take(RUN_OUT.1).any(steep),
        ]
    }

    pub(super) fn graph(&self, breaks: &[f64]) -> Option<Graph> {
        let places = parted(breaks, IN_A_SPAN).into_iter();
        let places: Option<Vec<_>> = { places }.map(|x| Some((x, self.at(x)?[0]))).collect();
        Graph::fitted(breaks, &places?)
    }

    pub(super) fn judge(
        self,
        allowed: Option<Turns>,
        stop: &dyn Fn() -> bool,
    ) -> Result<Verdict, Stopped> {
        let (line, basis) = self.with_what_judges(allowed);
        line.judge_by(basis, stop)
    }

    /// It, with its readings where it can be judged, and what its verdict follows from.
    pub(super) fn with_what_judges(mut self, allowed: Option<Turns>) -> (Self, JudgedBy) {
        let breaks = self.breaks();
        if let [first, .., last] = breaks.as_slice() {
            self.readings
                .retain(|reading| (*first..=*last).contains(&reading.x));
        }
        let enough = breaks.len() >= 3 && self.readings.len() >= FEWEST;
        let graph = enough.then(|| self.graph(&breaks)).flatten();
        let run_outs = graph
            .as_ref()
            .map_or([false; 2], |graph| self.run_outs(graph));
        let basis = JudgedBy {
            seen: self.seen,
            readings: self.readings.clone(),
            allowed,
            run_outs,
            graph,
            enough,
        };
        (self, basis)
    }

    fn judge_by(&self, basis: JudgedBy, stop: &dyn Fn() -> bool) -> Result<Verdict, Stopped> {
        if !basis.enough {
            return Ok(Verdict::not(self.on, NotJudged::TooFewReadings));
        }
        let found = match basis.graph {
            Some(graph) => self.found(graph, (basis.allowed, basis.run_outs), stop),
            None => Err(NotFaired::Hard(NoOptimum::Hard)),
        };
        match found {
            Err(NotFaired::Stopped) => Err(Stopped),
            Err(NotFaired::Hard(_)) => Ok(Verdict::not(self.on, NotJudged::NotFound)),
            Ok(judged) => Ok(Verdict {
                on: self.on,
                fairness: Fairness::of(judged.needed, judged.allowed),
                judged: Some(judged),
            }),
        }
    }

    fn found(
        &self,
        graph: Graph,
        (allowed, run_outs): (Option<Turns>, [bool; 2]),
        stop: &dyn Fn() -> bool,
    ) -> Result<Judged, NotFaired> {
        let allowed_turns = allowed.unwrap_or_else(|| graph.usual());
        let sweet = graph.sweet(allowed_turns, run_outs, stop)?;
        let plain = graph.without_hollows(allowed_turns.inflections, stop)?;
        let stretch = if sweet.needed < FAIR {
            None
        } else {
            Some(self.stretch(&graph, &sweet)?)
        };
        Ok(Judged {
            seen: self.seen,
            allowed_turns,
            run_outs,
            turns: graph.turns(),
            needed: sweet.needed,
            without_hollows: plain.needed,
            allowed: self.allowed(stretch),
            stretch,
            graph,
            fair: sweet.graph,
        })
    }

    /// Where the moves lie that together are least.
    pub(super) fn stretch(&self, graph: &Graph, sweet: &Faired) -> Result<Stretch, NotFaired> {
        let places = { self.readings.iter() }
            .map(|reading| [reading.x, counted_tolerance(reading.tolerance)]);
        let places: Vec<[f64; 2]> = places.collect();
        let (moves, least) = graph.blame(sweet, &places)?;
        let moves = moves.into_iter().zip(&places);
        let largest = moves.max_by(|(a, [_, a_may]), (b, [_, b_may])| {
            (a / a_may).abs().total_cmp(&(b / b_may).abs())
        });
        let (largest, at) = largest.map_or((0.0, places[0][0]), |(moved, [at, _])| (moved, *at));
        let breaks = graph.breaks();
        let moved = |x: f64| least.at(x)[0] - graph.at(x)[0];
        let fine = parted(&breaks, 2 * IN_A_SPAN);
        let [from, to] = stretch_about(&fine, (at, largest), &moved);
        let out = self.at(at).map_or(1.0, |found| found[2]);
        Ok(Stretch {
            at,
            from,
            to,
            hollow: largest * out > 0.0,
        })
    }

    /// The least tolerance of the readings in a stretch, or of all where there is none in it.
    pub(super) fn allowed(&self, stretch: Option<Stretch>) -> f64 {
        let tolerance = |reading: &LineReading| reading.tolerance;
        let within = stretch.map_or(f64::INFINITY, |stretch| {
            let there = |reading: &&LineReading| (stretch.from..=stretch.to).contains(&reading.x);
            least(self.readings.iter().filter(there).map(tolerance))
        });
        if within.is_finite() {
            within
        } else {
            least(self.readings.iter().map(tolerance))
        }
    }
}

/// The stretch about a place where something moves the same way as there, by more than a little of that: of places in order.
pub(super) fn stretch_about(
    places: &[f64],
    (at, largest): (f64, f64),
    moved: &dyn Fn(f64) -> f64,
) -> [f64; 2] {
    const SLIGHT: f64 = 0.05; // of the largest
    let goes_on = |x: &&f64| moved(**x) * largest.signum() > SLIGHT * largest.abs();
    let before = places.iter().rev().filter(|x| **x <= at);
    let behind = places.iter().filter(|x| **x >= at);
    [
        before.take_while(goes_on).last(),
        behind.take_while(goes_on).last(),
    ]
    .map(|end| end.copied().unwrap_or(at))
}

/// The least of some tolerances; infinite where there are none.
pub(super) fn least(tolerances: impl Iterator<Item = f64>) -> f64 {
    tolerances.fold(f64::INFINITY, f64::min)
}

/// A run line as seen from above.
fn run_above(loft: &Loft, on: On, x: f64) -> Option<Node> {
    let v = crate::lines::girth_of(loft, on)?;
    let surface = loft.surface();
    Some(crate::lines::run_at(
        surface,
        (surface.u_at(x), v),
        crate::lines::View::HalfBreadth,
    ))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::document::BodyEdit;
    use crate::document::Lines;
    use crate::fair::tests::{demo, exact};

    fn verdict(loft: &Loft, on: On) -> Verdict {
        judge(loft, on, None, &|| false).unwrap()
    }

    fn named(lines: &Lines, name: &str) -> On {
        let on = judged_lines(&lines.body).into_iter();
        { on }
            .find(|on| lines.body.line_name(*on).as_deref() == Some(name))
            .unwrap()
    }

    /// The figures are those of an independent program on the same table: keel 3.0 and 1.55 mm, crown 0.55, joint 0.40.
    #[test]
    fn the_upsweep_of_the_demo_is_unfair_and_the_misprint_is_seen() {
        let lines = demo();
        let loft = Loft::build(&lines.body).unwrap();
        let keel = verdict(&loft, On::Keel);
        let found = keel.judged.unwrap();
        assert_eq!(keel.fairness, Fairness::Unfair);
        assert!((found.needed - 3.0).abs() < 0.5, "{}", found.needed);
        assert!((found.without_hollows - 1.55).abs() < 0.1);
        assert!((found.allowed - 1.6).abs() < 1e-9);
        // Judged by its hollows alone it would pass.
        assert!(found.without_hollows < found.allowed);
        let stretch = found.stretch.unwrap();
        let station = lines.body.station_by_label("101").unwrap();
        assert!((stretch.at - station.x).abs() < 1e-9 && stretch.hollow);
        assert!(stretch.from < station.x && station.x < stretch.to);
        assert_eq!(
            found.allowed_turns,
            Turns {
                inflections: 0,
                peaks: 1
            }
        );
        assert_eq!(found.fair.turns(), found.allowed_turns);
        for (on, needs) in [(On::Crown, 0.55), (named(&lines, "joint"), 0.40)] {
            let line = verdict(&loft, on);
            assert_eq!(line.fairness, Fairness::FairWithinReadings);
            assert!((line.judged.unwrap().needed - needs).abs() < 0.05);
        }

        // The misprint, and the same put right.
        let on = named(&lines, "WL 32");
        let misprint = verdict(&loft, on);
        let found = misprint.judged.unwrap();
        assert_eq!(misprint.fairness, Fairness::Unfair);
        assert!((found.needed - 6.7).abs() < 0.2, "{}", found.needed);
        let station = lines.body.station_by_label("48").unwrap();
        assert!((found.stretch.unwrap().at - station.x).abs() < 1e-9);
        let right = BodyEdit::PutRight {
            point: lines.body.point_on(station.id, on).unwrap().id,
            reading: 0,
            half_breadth: Some(387.35), // 1-3-2
            height: None,
        };
        let lines = lines.apply(&right).unwrap();
        let loft = Loft::build(&lines.body).unwrap();
        let settled = verdict(&loft, on);
        assert_eq!(settled.fairness, Fairness::FairWithinReadings);
        assert!(settled.judged.unwrap().needed < 0.7);
    }

    #[test]
    fn without_noise_no_line_is_unfair() {
        let lines = exact();
        let loft = Loft::build(&lines.body).unwrap();
        let mut judged = 0;
        for on in judged_lines(&lines.body) {
            let verdict = verdict(&loft, on);
            assert_ne!(verdict.fairness, Fairness::Unfair, "{on:?}");
            judged += usize::from(verdict.judged.is_some());
        }
        assert_eq!(judged, 14);
        // This buttock line closes behind its last reading, and bends hard there.
        let closing = verdict(&loft, named(&lines, "BL 4"));
        assert_eq!(closing.fairness, Fairness::Fair);
        assert_eq!(closing.judged.unwrap().run_outs, [false, true]);
    }

    #[test]
    fn a_line_without_readings_is_judged_by_its_neighbours_and_one_with_few_is_not() {
        let lines = demo();
        let drawn = BodyEdit::AddPlane {
            name: "WL 38".to_owned(),
            place: Place::Waterline(38.0 * 25.4),
        };
        let lines = lines.apply(&drawn).unwrap();
        let loft = Loft::build(&lines.body).unwrap();
        let between = verdict(&loft, named(&lines, "WL 38"));
        let found = between.judged.unwrap();
        assert_eq!(between.fairness, Fairness::FairWithinReadings);
        assert!((found.allowed - 1.6).abs() < 1e-9, "{}", found.allowed);
        let few = verdict(&loft, named(&lines, "BL 12"));
        assert_eq!(few.fairness, Fairness::NotJudged(NotJudged::TooFewReadings));
        assert!(few.ratio() < 0.0);
    }

    #[test]
    fn more_peaks_may_be_allowed() {
        let lines = demo();
        let loft = Loft::build(&lines.body).unwrap();
        let two = Turns {
            inflections: 0,
            peaks: 2,
        };
        let verdict = judge(&loft, On::Keel, Some(two), &|| false).unwrap();
        let found = verdict.judged.unwrap();
        assert!(found.needed < 2.0 && found.needed >= found.without_hollows - 1e-3);
        assert!(judge(&loft, On::Keel, None, &|| true).is_err());
    }
}
