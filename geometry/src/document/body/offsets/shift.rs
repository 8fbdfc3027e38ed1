//! Sources whose stations lie further aft, or forward, than those of the lines: their readings, brought to the stations.
//!
//! In: [`Body`]. Out: for each reading of such a source its [`Shift`], by which `offsets` says what it is at its point's
//! station; how many could not be brought there. It rests on what was recorded alone.

use std::collections::{BTreeMap, BTreeSet};

use super::{Offset, round_the_girth};
use crate::document::body::{Body, On, Point, PointId, Reading, RunKind, SourceId, StationId};
use crate::num;

/// Readings of a line that are held together, its own among them: a cubic goes through so many.
const HELD: usize = 4;

/// A reading is told as unsure whose place hangs by more than this share of its tolerance on the furthest of those that it is
/// brought by: at the end of a spheroid, which no cubic follows, it is out by nine times that.
const UNSURE: f64 = 0.25;

/// How a value that was read further aft, or forward, is brought to the station: `own · value + rest`, mm.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Shift {
    own: f64,
    rest: f64,
    /// The same by one reading fewer.
    by_fewer: [f64; 2],
}

impl Shift {
    /// What a value of the source says at the station, mm.
    #[must_use]
    pub fn to_station(self, value: f64) -> f64 {
        self.own * value + self.rest
    }

    /// What the source would have to say for this value at the station, mm.
    #[must_use]
    pub fn to_source(self, value: f64) -> f64 {
        (value - self.rest) / self.own
    }

    /// What leaving out the furthest of the readings that it goes by would change, mm.
    fn unsure(self, value: f64) -> f64 {
        let [own, rest] = self.by_fewer;
        (self.to_station(value) - (own * value + rest)).abs()
    }
}

/// What became of the readings of a source whose stations lie elsewhere.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Shifted {
    /// How many were brought to their stations.
    pub brought: usize,
    /// Those that stay as they were read: no other used reading of the source tells how their line runs on.
    pub alone: Vec<PointId>,
    /// Those brought there less surely than they were read: their line bends too hard between its readings, as where it runs
    /// out square into an end.
    pub unsure: Vec<PointId>,
}

impl Shifted {
    /// Both lists in sentences; none where there is nothing to be said.
    #[must_use]
    pub fn words(&self, body: &Body) -> Option<String> {
        let named = |points: &mut dyn Iterator<Item = String>, count: usize| {
            let first: Vec<String> = points.take(3).collect();
            let more = count - first.len();
            let more = (more > 0).then(|| format!(" and {more} more"));
            first.join("; ") + &more.unwrap_or_default()
        };
        let mut said = Vec::new();
        let alone = self.alone.len();
        if alone > 0 {
            let mut names = self.alone.iter().map(|id| body.point_name(*id));
            let names = named(&mut names, alone);
            said.push(format!(
                "{alone} of its readings {} as read ({names}): no other one of this source says how the line runs on there. \
                 Give it a larger tolerance, or read the line at one more station.",
                if alone == 1 { "stays" } else { "stay" }
            ));
        }
        let unsure = self.unsure.len();
        if unsure > 0 {
            let mut names = self.unsure.iter().map(|id| body.point_name(*id));
            let names = named(&mut names, unsure);
            said.push(format!(
                "{unsure} {} less surely than {} read ({names}): the line bends too hard between its stations. Give a larger \
                 tolerance there.",
                if unsure == 1 { "moves" } else { "move" },
                if unsure == 1 { "it was" } else { "they were" }
            ));
        }
        (!said.is_empty()).then(|| said.join(" "))
    }
}

/// What a source says of one point: the means of its used readings there, mm.
struct LineRead {
    x: f64,
    said: [Option<f64>; 2],
}

/// What a source says of one station: its points from crown to keel.
struct SectionRead {
    x: f64,
    station: StationId,
    points: Vec<SectionPlace>,
}

/// A point of a section.
struct SectionPlace {
    point: PointId,
    /// Share of the girth from the first point to here.
    share: f64,
    at: [f64; 2],
    knuckle: bool,
}

/// The readings of the sources that lie elsewhere, in order along the stations.
pub(in crate::document) struct Shifts<'a> {
    body: &'a Body,
    /// On each line.
    lines: BTreeMap<(SourceId, On), Vec<LineRead>>,
    /// Round the stations, where there are points on no line.
    rounds: BTreeMap<SourceId, Vec<SectionRead>>,
}

impl Body {
    /// How far aft of the lines' stations those of a source lie, mm.
    fn aft(&self, source: SourceId) -> f64 {
        self.source(source).map_or(0.0, |source| source.datum.aft)
    }

    /// The readings of the sources that lie elsewhere; none where all lie where they say.
    pub(in crate::document) fn shifts(&self) -> Option<Shifts<'_>> {
        self.shifts_of(self.sources.iter().map(|source| source.id), None)
    }

    /// As far as one point's readings need them.
    pub(in crate::document) fn shifts_about(&self, point: &Point) -> Option<Shifts<'_>> {
        self.shifts_of(point.readings.iter().map(|r| r.source), Some(point.on))
    }

    /// Those of some sources, on one line where it is named.
    fn shifts_of(
        &self,
        sources: impl Iterator<Item = SourceId>,
        on: Option<On>,
    ) -> Option<Shifts<'_>> {
        let lie_elsewhere = self.sources.iter().filter(|s| !num::same(s.datum.aft, 0.0));
        let all: BTreeSet<SourceId> = num::put_together(lie_elsewhere.map(|source| source.id));
        if all.is_empty() {
            return None;
        }
        let elsewhere: BTreeSet<SourceId> =
            num::put_together(sources.filter(|id| all.contains(id)));
        let line = on.filter(|on| *on != On::Free);
        (!elsewhere.is_empty()).then(|| Shifts::of(self, &elsewhere, line))
    }

    /// How half-breadth (or the distance along a diagonal) and height of one reading are brought to its point's station; none
    /// where they stand as they were read.
    #[must_use]
    pub fn shift_of(&self, point: &Point, reading: &Reading) -> [Option<Shift>; 2] {
        let shifts = self.shifts_about(point);
        shifts.map_or([None; 2], |shifts| shifts.of_reading(point, reading))
    }

    /// The same for a reading of a line that is not in the document yet.
    #[must_use]
    pub fn shift_on(&self, station: StationId, on: On, source: SourceId) -> [Option<Shift>; 2] {
        match self.shifts_of(core::iter::once(source), Some(on)) {
            Some(shifts) if on != On::Free => {
                shifts.on_a_line((source, on), self.aft(source), station)
            }
            _ => [None; 2],
        }
    }

    /// What became of the readings of a source.
    #[must_use]
    pub fn shifted(&self, source: SourceId) -> Shifted {
        let mut out = Shifted::default();
        let Some(shifts) = self.shifts_of(core::iter::once(source), None) else {
            return out;
        };
        for point in &self.points {
            for reading in point.used().filter(|reading| reading.source == source) {
                let both = shifts.of_reading(point, reading);
                let values = [reading.half_breadth_value(), reading.height_value()];
                let read = || both.iter().zip(values).filter(|(_, value)| value.is_some());
                if read().any(|(shift, _)| shift.is_none()) {
                    out.alone.push(point.id);
                    continue;
                }
                out.brought += 1;
                let unsure = read().filter_map(|(shift, value)| Some((*shift)?.unsure(value?)));
                let unsure = unsure.fold(0.0, f64::max);
                if unsure > UNSURE * reading.tolerance {
                    out.unsure.push(point.id);
                }
            }
        }
        out
    }
}

impl<'a> Shifts<'a> {
    fn of(body: &'a Body, elsewhere: &BTreeSet<SourceId>, only: Option<On>) -> Self {
        let stations: BTreeMap<StationId, f64> =
            num::put_together(body.stations.iter().map(|s| (s.id, s.x)));
        let mut lines: BTreeMap<(SourceId, On), Vec<LineRead>> = BTreeMap::new();
        let mut at: BTreeMap<(SourceId, StationId), Vec<Offset>> = BTreeMap::new();
        let mut unnamed = BTreeSet::new();
        let of_it = |point: &&Point| only.is_none_or(|on| point.on == on);
        for point in body.points.iter().filter(of_it) {
            let Some(&x) = stations.get(&point.station) else {
                continue;
            };
            let own: BTreeSet<SourceId> =
                num::put_together(point.used().map(|reading| reading.source));
            for source in own.intersection(elsewhere).copied() {
                let merged = point.merged_of(&|reading| reading.source == source);
                if point.on == On::Free {
                    unnamed.insert(source);
                } else {
                    lines.entry((source, point.on)).or_default().push(LineRead {
                        x,
                        said: [merged.half_breadth, merged.height],
                    });
                }
                if let Some(offset) = body.offset_as(point, merged) {
                    let round = at.entry((source, point.station)).or_default();
                    round.push(offset);
                }
            }
        }
        for line in lines.values_mut() {
            num::put_in_order(line, |a, b| a.x.total_cmp(&b.x));
        }
        let mut rounds: BTreeMap<SourceId, Vec<SectionRead>> = BTreeMap::new();
        for ((source, station), listed) in at {
            let x = stations.get(&station).copied();
            let points = section(body, &round_the_girth(&listed));
            if let (Some(x), Some(points), true) = (x, points, unnamed.contains(&source)) {
                let round = SectionRead { x, station, points };
                rounds.entry(source).or_default().push(round);
            }
        }
        for round in rounds.values_mut() {
            num::put_in_order(round, |a, b| a.x.total_cmp(&b.x));
        }
        Self {
            body,
            lines,
            rounds,
        }
    }

    /// How one reading is brought to its point's station, see [`Body::shift_of`].
    fn of_reading(&self, point: &Point, reading: &Reading) -> [Option<Shift>; 2] {
        let (source, station) = (reading.source, point.station);
        let aft = self.body.aft(source);
        if num::same(aft, 0.0) {
            return [None; 2];
        }
        match point.on {
            On::Free => self.off_the_lines(source, aft, point),
            on => self.on_a_line((source, on), aft, station),
        }
    }

    /// What one reading says at its point's station, see [`Body::at_station`].
    pub(in crate::document) fn at_station(
        &self,
        point: &Point,
        reading: &Reading,
    ) -> [Option<f64>; 2] {
        let [out, up] = self.of_reading(point, reading);
        let (y, z) = (reading.half_breadth_value(), reading.height_value());
        // A line that runs into the centre plane on the way does not cross it.
        [
            y.map(|y| out.map_or(y, |shift| shift.to_station(y).max(0.0))),
            z.map(|z| up.map_or(z, |shift| shift.to_station(z))),
        ]
    }

    /// By the nearest other readings of the line, coordinate by coordinate.
    fn on_a_line(&self, line: (SourceId, On), aft: f64, station: StationId) -> [Option<Shift>; 2] {
        let none = Vec::new();
        let line = self.lines.get(&line).unwrap_or(&none);
        let Some(here) = self.body.station(station).map(|station| station.x) else {
            return [None; 2];
        };
        [0, 1].map(|k| {
            let read = |other: &LineRead| Some((other.x, other.said[k]?));
            let others = nearest(line, here, here - aft, |other| other.x, read);
            shift(here, here - aft, &others)
        })
    }

    /// By the same share of the girth of the source's own sections at the nearest stations: a point on no line is known by no
    /// other mark.
    fn off_the_lines(&self, source: SourceId, aft: f64, point: &Point) -> [Option<Shift>; 2] {
        let Some(rounds) = self.rounds.get(&source) else {
            return [None; 2];
        };
        let own = rounds.iter().find(|round| round.station == point.station);
        let found = own.and_then(|own| {
            let at = own.points.iter().find(|at| at.point == point.id)?;
            Some((own.x, at.share))
        });
        let Some((here, share)) = found else {
            return [None; 2];
        };
        let place = |round: &SectionRead| Some((round.x, at_share(&round.points, share)));
        let others = nearest(rounds, here, here - aft, |round| round.x, place);
        [0, 1].map(|k| {
            let others: Vec<(f64, f64)> = others.iter().map(|(x, at)| (*x, at[k])).collect();
            shift(here, here - aft, &others)
        })
    }
}

/// What stands nearest to a place along the stations, but what stands `here`: one fewer than are held together, the nearest
/// first.
fn nearest<T, S>(
    all: &[T],
    here: f64,
    at: f64,
    x: impl Fn(&T) -> f64,
    said: impl Fn(&T) -> Option<S>,
) -> Vec<S> {
    let mut after = all.partition_point(|one| x(one) < at);
    let mut before = after;
    let mut out = Vec::with_capacity(HELD);
    while out.len() + 1 < HELD {
        let fore = before.checked_sub(1).and_then(|n| all.get(n));
        let one = match (fore, all.get(after)) {
            (Some(fore), Some(aft)) if at - x(fore) <= x(aft) - at => (fore, true),
            (_, Some(aft)) => (aft, false),
            (Some(fore), None) => (fore, true),
            (None, None) => break,
        };
        if one.1 {
            before -= 1;
        } else {
            after += 1;
        }
        if !num::same(x(one.0), here) {
            out.extend(said(one.0));
        }
    }
    out
}

/// What is read at `here` and `others`, places along the stations with what was read there, brought to `at`: by the polynomial
/// through all of them.
fn shift(here: f64, at: f64, others: &[(f64, f64)]) -> Option<Shift> {
    let (_, fewer) = others.split_last()?;
    let by = |others: &[(f64, f64)]| {
        let nodes: Vec<f64> = core::iter::once(here)
            .chain(others.iter().map(|other| other.0))
            .collect();
        let weights = weights(&nodes, at);
        let (own, rest) = weights.split_first()?;
        let said = rest
            .iter()
            .zip(others)
            .map(|(weight, other)| weight * other.1);
        Some([*own, said.sum()])
    };
    let [own, rest] = by(others)?;
    Some(Shift {
        own,
        rest,
        by_fewer: by(fewer)?,
    })
}

/// What the values at some nodes count for in the polynomial through them, at a place: Lagrange's form.
fn weights(nodes: &[f64], at: f64) -> Vec<f64> {
    let one = |(n, node): (usize, &f64)| {
        let others = nodes.iter().enumerate().filter(|(m, _)| *m != n);
        others.fold(1.0, |product, (_, other)| {
            product * ((at - other) / (node - other))
        })
    };
    nodes.iter().enumerate().map(one).collect()
}

/// A source's points of one station from crown to keel, by their share of the girth; none where they are no section.
fn section(body: &Body, round: &[Offset]) -> Option<Vec<SectionPlace>> {
    let mut points: Vec<SectionPlace> = Vec::with_capacity(round.len());
    for offset in round {
        let at = offset.recorded;
        let share = points.last().map_or(0.0, |before| {
            before.share + num::hypot(at[0] - before.at[0], at[1] - before.at[1])
        });
        let knuckle = match offset.on {
            On::RunLine(id) => body
                .run_line(id)
                .is_some_and(|line| line.kind == RunKind::Knuckle),
            _ => false,
        };
        let point = offset.point;
        points.push(SectionPlace {
            point,
            share,
            at,
            knuckle,
        });
    }
    let girth = points.last()?.share;
    if girth < num::SAME_POINT {
        return None;
    }
    for point in &mut points {
        point.share /= girth;
    }
    Some(points)
}

/// Half-breadth and height of a section at a share of its girth: by the nearest of its points on either side, as many as are
/// held together, none of them beyond a knuckle.
fn at_share(points: &[SectionPlace], share: f64) -> [f64; 2] {
    let last = points.len() - 1;
    let aft = points.partition_point(|at| at.share < share).clamp(1, last);
    let (mut from, mut to) = (aft - 1, aft);
    while to - from + 1 < HELD {
        let back = from > 0 && !points[from].knuckle;
        let on = to < last && !points[to].knuckle;
        let nearer_back = || share - points[from - 1].share <= points[to + 1].share - share;
        match (back, on) {
            (true, true) if nearer_back() => from -= 1,
            (_, true) => to += 1,
            (true, false) => from -= 1,
            (false, false) => break,
        }
    }
    let held = &points[from..=to];
    let shares: Vec<f64> = held.iter().map(|at| at.share).collect();
    let weights = weights(&shares, share);
    [0, 1].map(|k| held.iter().zip(&weights).map(|(at, w)| w * at.at[k]).sum())
}

#[cfg(test)]
mod tests;
