//! Dents: a region of readings that lies off on one side, a hollow or a bulge, found by leaving out whole windows of readings.
//!
//! In: the offsets of a body and its likely misprints. Out: [`Dents`]: what to set aside, each advice tried to its end; and
//! where nothing can be told, why. No answer hangs on the order of the readings or on a table's tolerance, but where a
//! distance is held against it. Reading order: this file, `field`, `left_out`, `windows`, `grow`, `attempt`.

use std::sync::Arc;

use crate::document::{Body, Offset, On, PointId, StationId, stations_shown};
use crate::loft::{Bench, Loft, LoftError};

use super::prediction::Prediction;
use super::search_end::SuspectsError;

mod attempt;
mod field;
mod grow;
mod left_out;
mod windows;

use attempt::{Trial, attempt, lofted_without};
use field::{BAND, Field};
use grow::grow;
use left_out::REACH;
use windows::{JudgedWindow, KnownBy, Refused, judge, scan};

/// A bay across which a body closes by more than this part of its length runs out blunt: a section's half-breadth, or half of
/// its height.
const BLUNT: f64 = 0.5;

/// Most dents of a body.
const MOST: usize = 3;

/// Most numbers that a scan holds: 128 MB, enough for 50 stations of 50 readings.
const MOST_HELD: usize = 16_000_000;

/// Most windows tried for each.
const TRIES: usize = 4;

/// Misprints adjoin that lie so near round the girth at stations side by side.
const BESIDE: f64 = 0.06;

/// Which way a dent goes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum DentKind {
    /// Its readings lie inside the skin that all others draw.
    Hollow,
    /// They lie outside.
    Bulge,
}

impl DentKind {
    /// Of a side: over zero outside.
    fn of(side: f64) -> Self {
        if side < 0.0 {
            Self::Hollow
        } else {
            Self::Bulge
        }
    }

    /// In a word.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Hollow => "hollow",
            Self::Bulge => "bulge",
        }
    }
}

/// A line through a dent: what it needs to be fair by what it is allowed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ComesOut {
    /// The line.
    pub on: On,
    /// With the dent's readings.
    pub before: f64,
    /// Without them.
    pub after: f64,
}

/// A dent, whose readings were set aside on trial.
#[derive(Clone, Debug, PartialEq)]
pub struct Found {
    /// Which way it goes.
    pub kind: DentKind,
    /// Its points, station by station.
    pub points: Vec<PointId>,
    /// Its first station and its last.
    pub stations: [StationId; 2],
    /// Where these lie, mm aft of the datum.
    pub from_x: f64,
    /// See `from_x`.
    pub to_x: f64,
    /// The point that lies furthest off.
    pub worst: PointId,
    /// How far that is from the loft without them all, along the section's normal, mm, over zero.
    pub largest: f64,
    /// The largest standard deviation of the skin across it, as all others draw it, mm.
    pub sd: f64,
    /// How much better all readings agree without it, beyond what as many without a dent would gain.
    pub score: f64,
    /// What comes out of it: the lines through it.
    pub lines: Vec<ComesOut>,
}

/// Why an advice is not offered that was tried.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Failed {
    /// Some of its readings then lie on the other side.
    OtherSide,
    /// Most then lie within their tolerance.
    WithinTolerance,
    /// The skin across it hangs on how stiff it is taken.
    NotSettled,
    /// A line through it stays unfair.
    StaysUnfair(On),
    /// The rest has no loft.
    NoLoft,
}

/// Why nothing can be told.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Reason {
    /// Without the readings there nothing else says how the lines run.
    NotKnown,
    /// Either these lie off on one side or those beside them on the other.
    OneOrTheOther,
    /// They lie off at one station alone, where the shape may be as sharp, or the station read wrong.
    OneStation,
    /// Setting them aside was tried and does not help.
    Tried(Failed),
    /// There are more readings than are scanned.
    TooMany,
    /// The body runs out blunt there, and between stations so far apart the skin does not follow such an end.
    BluntEnd,
}

/// A place of which nothing can be told.
#[derive(Clone, Debug, PartialEq)]
pub struct CantTell {
    /// Which way its readings lie off, where that is known.
    pub kind: Option<DentKind>,
    /// Its points, station by station: the group of readings of which most would be gained.
    pub points: Vec<PointId>,
    /// Its first station and its last.
    pub stations: [StationId; 2],
    /// Where these lie, mm aft of the datum.
    pub from_x: f64,
    /// See `from_x`.
    pub to_x: f64,
    /// Why.
    pub reason: Reason,
    /// Likely misprints that adjoin these on their side: they may be part of what cannot be told.
    pub beside: Vec<PointId>,
}

/// What was found of dents.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Dents {
    /// From fore to aft.
    pub found: Vec<Found>,
    /// Places where readings agree less well than they might, and no advice holds; the most telling first.
    pub cant_tell: Vec<CantTell>,
}

impl Dents {
    /// Whether a point is one of those side by side of which nothing can be told: set aside by itself it leaves the others to draw
    /// the skin as they do.
    #[must_use]
    pub fn is_untold(&self, point: PointId) -> bool {
        let places = self.cant_tell.iter();
        { places.filter(|place| place.reason != Reason::TooMany) }
            .any(|place| place.points.contains(&point) || place.beside.contains(&point))
    }
}

/// What the search is of.
pub(super) struct DentSearch<'a> {
    body: &'a Arc<Body>,
    offsets: &'a [Vec<Offset>],
    /// All of them, with where their stations lie.
    all: Vec<(f64, &'a Offset)>,
    /// Points without which alone there is a loft.
    apart: &'a [bool],
    /// What all other readings foretell of each, by several surfaces, while some have no say.
    foretell: &'a dyn Fn(&[bool]) -> Result<Prediction, SuspectsError>,
    stop: &'a dyn Fn() -> bool,
}

/// A likely misprint: which reading, and on which side it lies.
#[derive(Clone, Copy, Debug)]
pub(super) struct Suspect {
    pub(super) reading: usize,
    pub(super) side: f64,
}

/// A dent while it is looked for.
struct HeldDent {
    judged: JudgedWindow,
    tried: Trial,
}

/// A place given up, by its stations.
struct Given {
    group: Vec<usize>,
    stations: [usize; 2],
    /// 1 where it lies outside, −1 inside.
    side: f64,
    reason: Reason,
}

impl Given {
    fn of(window: &JudgedWindow, reason: Reason) -> Self {
        Self {
            group: window.group.clone(),
            stations: window.stations,
            side: window.side,
            reason,
        }
    }

    /// Which way its readings lie; without a skin that is known beside them nobody can say.
    fn kind(&self) -> Option<DentKind> {
        match self.reason {
            Reason::OneStation | Reason::Tried(_) => Some(DentKind::of(self.side)),
            Reason::NotKnown | Reason::OneOrTheOther | Reason::TooMany | Reason::BluntEnd => None,
        }
    }
}

impl<'a> DentSearch<'a> {
    /// `apart` says which of the offsets are left out for there to be a loft.
    pub(super) fn of(
        body: &'a Arc<Body>,
        offsets: &'a [Vec<Offset>],
        apart: &'a [bool],
        foretell: &'a dyn Fn(&[bool]) -> Result<Prediction, SuspectsError>,
        stop: &'a dyn Fn() -> bool,
    ) -> Self {
        let stations = body.stations.iter().zip(offsets);
        let all = stations.flat_map(|(station, round)| round.iter().map(|o| (station.x, o)));
        Self {
            body,
            offsets,
            all: all.collect(),
            apart,
            foretell,
            stop,
        }
    }

    /// How many bays at the fore and at the aft end run out blunt.
    ///
    /// A skin drawn by station after station bends there harder and harder into the end, as the readings further in do not
    /// foretell: what lies off it says nothing of the metal.
    fn blunt_bays(&self) -> [usize; 2] {
        let shown = stations_shown(self.offsets);
        let x = |rank: usize| self.body.stations[shown[rank]].x;
        let size = |rank: usize| {
            let round = || self.offsets[shown[rank]].iter().map(|o| o.recorded);
            let breadth = round().fold(0.0_f64, |most, [y, _]| most.max(y));
            let high = round().fold(f64::NEG_INFINITY, |most, [_, z]| most.max(z));
            let low = round().fold(f64::INFINITY, |least, [_, z]| least.min(z));
            [breadth, (high - low) / 2.0]
        };
        let closes = |outer: usize, inner: usize| {
            let (from, to) = (size(outer), size(inner));
            (to[0] - from[0]).max(to[1] - from[1]) > BLUNT * (x(inner) - x(outer)).abs()
        };
        let fore = (1..shown.len()).take_while(|k| closes(k - 1, *k)).count();
        let aft = (1..shown.len())
            .rev()
            .take_while(|k| closes(*k, k - 1))
            .count();
        [fore, aft]
    }

    /// The suspects that stand alone: those that adjoin on one side may be a dent.
    fn alone(&self, suspects: &[Suspect]) -> Result<Vec<usize>, LoftError> {
        if suspects.len() < 2 {
            return Ok(suspects.iter().map(|s| s.reading).collect());
        }
        let apart: Vec<PointId> = { self.offsets.iter().flatten().zip(self.apart) }
            .filter(|(_, apart)| **apart)
            .map(|(offset, _)| offset.point)
            .collect();
        let bench = Bench::lay(self.body, self.offsets, &apart)?;
        let v: Vec<f64> = bench.places().map(|[_, v]| v).collect();
        let shown = stations_shown(self.offsets);
        let ranks: Vec<usize> = { shown.iter().enumerate() }
            .flat_map(|(rank, station)| self.offsets[*station].iter().map(move |_| rank))
            .collect();
        let adjoin = |a: &Suspect, b: &Suspect| {
            let (i, j) = (a.reading, b.reading);
            let round = ranks[i] == ranks[j] && i.abs_diff(j) == 1;
            let along = ranks[i].abs_diff(ranks[j]) == 1 && (v[i] - v[j]).abs() < BESIDE;
            a.side * b.side > 0.0 && (round || along)
        };
        let alone = suspects
            .iter()
            .filter(|a| !{ suspects.iter() }.any(|b| a.reading != b.reading && adjoin(a, b)));
        Ok(alone.map(|s| s.reading).collect())
    }
}

/// Looks for dents; the suspects that belong to one are misprints no longer.
///
/// # Units
/// `suspects` by their place among all readings, station by station from crown to keel.
///
/// # Errors
/// [`SuspectsError`]: the body has no loft, or it was asked to stop.
pub(super) fn look(search: &DentSearch<'_>, suspects: &[Suspect]) -> Result<Dents, SuspectsError> {
    if field::held(search.offsets) > MOST_HELD {
        let stations = [0, stations_shown(search.offsets).len() - 1];
        let all = Given {
            group: (0..search.all.len()).collect(),
            stations,
            side: 0.0,
            reason: Reason::TooMany,
        };
        return Ok(told(search, &[], &[(all, Vec::new())]));
    }
    let mut out = search.apart.to_vec();
    for i in search.alone(suspects)? {
        out[i] = true;
    }
    let mut held: Vec<HeldDent> = Vec::new();
    let mut given: Vec<Given> = Vec::new();
    let mut field = Field::of(search.body, search.offsets, &out, search.stop)?;
    while held.len() < MOST {
        let windows = scan(&field, search.stop)?;
        let (next, gave_up) = next_dent(search, (&field, &out), &windows, &held)?;
        let Some(next) = next else {
            if let Some(given_up) = gave_up {
                // What adjoins is still off and can't be told: neither is sure.
                let adjoins = |i: &usize| field.adjoins(*i, &given_up.group);
                let beside = |dent: &HeldDent| dent.judged.group.iter().any(adjoins);
                held.retain(|dent| !beside(dent));
                given.push(given_up);
            }
            given.extend(unknown(&windows));
            break;
        };
        for i in &next.judged.group {
            out[*i] = true;
        }
        held.push(next);
        if held.len() < MOST {
            field = Field::of(search.body, search.offsets, &out, search.stop)?;
        }
    }
    join(search, suspects, (&field, &out), &mut held)?;
    let beside = |given: &Given| {
        let part = |suspect: &&Suspect| {
            suspect.side * given.side > 0.0 && field.adjoins(suspect.reading, &given.group)
        };
        { suspects.iter().filter(part) }
            .map(|suspect| suspect.reading)
            .collect::<Vec<_>>()
    };
    let given: Vec<(Given, Vec<usize>)> = { given.into_iter() }
        .map(|given| {
            let beside = beside(&given);
            (given, beside)
        })
        .collect();
    Ok(told(search, &held, &given))
}

/// The first window whose advice holds; else the one that was given up.
type Next = (Option<HeldDent>, Option<Given>);

fn next_dent(
    search: &DentSearch<'_>,
    (field, out): (&Field, &[bool]),
    windows: &[JudgedWindow],
    held: &[HeldDent],
) -> Result<Next, SuspectsError> {
    let mut before = None::<Option<Loft>>;
    let mut reason = None;
    let dents: Vec<&JudgedWindow> = windows.iter().filter(|w| w.is_dent()).take(TRIES).collect();
    let [fore, aft] = search.blunt_bays();
    let last = stations_shown(search.offsets).len() - 1;
    for window in &dents {
        let grown = grow(field, window);
        let found = if grown.is_dent() {
            grown
        } else {
            JudgedWindow::clone(window)
        };
        let [first, end] = found.stations;
        if (fore > 0 && first <= fore) || (aft > 0 && end + aft >= last) {
            reason = Some(Reason::BluntEnd);
            continue;
        }
        if has_rival(window, windows) || is_beside_another(field, &found, held) {
            reason = Some(Reason::OneOrTheOther);
            continue;
        }
        if found.stations[0] == found.stations[1] {
            reason = Some(Reason::OneStation);
            continue;
        }
        let before = before.get_or_insert_with(|| lofted_without(search, out));
        let Some(before) = before else {
            reason = Some(Reason::Tried(Failed::NoLoft));
            continue;
        };
        match attempt(search, (field, out), before, &found)? {
            Ok(tried) => {
                let judged = found;
                return Ok((Some(HeldDent { judged, tried }), None));
            }
            Err(failed) => reason = Some(Reason::Tried(failed)),
        }
    }
    let gave_up = reason.zip(dents.first());
    let gave_up = gave_up.map(|(reason, first)| Given::of(first, reason));
    Ok((None, gave_up))
}

/// Whether a window of the other side beside it gains more and fails only by what is known of the skin.
fn has_rival(window: &JudgedWindow, windows: &[JudgedWindow]) -> bool {
    windows.iter().any(|other| {
        other.refused == Some(Refused::NotKnown)
            && other.side * window.side < 0.0
            && other.raw > window.raw
            && other.stations[0] <= window.stations[1] + 1
            && other.stations[1] + 1 >= window.stations[0]
    })
}

/// Whether it adjoins a dent of the other side.
fn is_beside_another(field: &Field, found: &JudgedWindow, held: &[HeldDent]) -> bool {
    held.iter().any(|dent| {
        let other = &dent.judged;
        other.side * found.side < 0.0 && { found.group.iter() }
            .any(|i| field.adjoins(*i, &other.group))
    })
}

/// Where windows gain much but nothing else says how the lines run, the most telling first, none beside another.
fn unknown(windows: &[JudgedWindow]) -> Vec<Given> {
    let mut all: Vec<&JudgedWindow> = windows
        .iter()
        .filter(|w| w.refused == Some(Refused::NotKnown) && w.raw > windows::THRESHOLD)
        .collect();
    all.sort_by(|a, b| b.raw.total_cmp(&a.raw));
    let mut given: Vec<Given> = Vec::new();
    for window in all {
        let stations = window.stations;
        if !given.iter().any(|other| meet(other.stations, stations)) {
            given.push(Given::of(window, Reason::NotKnown));
        }
    }
    given
}

/// Whether stretches of stations meet, or stand side by side.
fn meet(a: [usize; 2], b: [usize; 2]) -> bool {
    a[0] <= b[1] + 1 && b[0] <= a[1] + 1
}

/// A misprint that adjoins a dent on its side is part of it, where the two together hold.
fn join(
    search: &DentSearch<'_>,
    suspects: &[Suspect],
    (places, out): (&Field, &[bool]),
    held: &mut [HeldDent],
) -> Result<(), SuspectsError> {
    let mut taken: Vec<usize> = held.iter().flat_map(|h| h.judged.group.clone()).collect();
    for dent in held {
        let group = &dent.judged.group;
        let joins = |suspect: &&Suspect| {
            let i = suspect.reading;
            let same_side = suspect.side * dent.judged.side > 0.0;
            same_side && !taken.contains(&i) && places.adjoins(i, group)
        };
        let more: Vec<usize> = suspects.iter().filter(joins).map(|s| s.reading).collect();
        if more.is_empty() {
            continue;
        }
        let mut with: Vec<usize> = group.iter().chain(&more).copied().collect();
        with.sort_unstable();
        let mut rest = out.to_vec();
        for i in &with {
            rest[*i] = false;
        }
        let field = Field::of(search.body, search.offsets, &rest, search.stop)?;
        let of = |i: &usize| field.readings[*i].station;
        let stations = [with.first(), with.last()].map(|i| i.map_or(0, of));
        if stations[1] - stations[0] + REACH > BAND {
            continue;
        }
        let judged = judge(&field, &with, stations, KnownBy::OrByFurthest);
        let (Some(judged), Some(before)) = (judged, lofted_without(search, &rest)) else {
            continue;
        };
        if let Ok(tried) = attempt(search, (&field, &rest), &before, &judged)?
            && judged.is_dent()
        {
            taken.extend(more);
            *dent = HeldDent { judged, tried };
        }
    }
    Ok(())
}

/// What was found, in the document's terms.
///
/// Of each place that was given up, the suspects that adjoin it on its side.
fn told(search: &DentSearch<'_>, held: &[HeldDent], given: &[(Given, Vec<usize>)]) -> Dents {
    let shown = stations_shown(search.offsets);
    let station = |rank: usize| &search.body.stations[shown[rank]];
    let ends = |[first, last]: [usize; 2]| {
        let (first, last) = (station(first), station(last));
        ([first.id, last.id], first.x, last.x)
    };
    let one = |dent: &HeldDent| {
        let JudgedWindow {
            group,
            stations,
            side,
            left,
            score,
            ..
        } = &dent.judged;
        let mut furthest = (0.0, group[0]);
        for (i, off) in group.iter().zip(&dent.tried.off) {
            if side * off > furthest.0 {
                furthest = (side * off, *i);
            }
        }
        let (stations, from_x, to_x) = ends(*stations);
        Found {
            kind: DentKind::of(*side),
            points: group.iter().map(|i| search.all[*i].1.point).collect(),
            stations,
            from_x,
            to_x,
            worst: search.all[furthest.1].1.point,
            largest: furthest.0,
            sd: left.sd,
            score: *score,
            lines: dent.tried.lines.clone(),
        }
    };
    let beside_found = |(given, _): &&(Given, Vec<usize>)| {
        let found = held.iter().map(|dent| dent.judged.stations);
        !found
            .into_iter()
            .any(|stations| meet(stations, given.stations))
    };
    let cant_tell = given.iter().filter(beside_found).map(|(given, beside)| {
        let (stations, from_x, to_x) = ends(given.stations);
        let point = |i: &usize| search.all[*i].1.point;
        let points = given.group.iter().map(point);
        CantTell {
            beside: beside.iter().map(point).collect(),
            kind: given.kind(),
            points: points.collect(),
            stations,
            from_x,
            to_x,
            reason: given.reason,
        }
    });
    let mut found: Vec<Found> = held.iter().map(one).collect();
    found.sort_by(|a, b| a.from_x.total_cmp(&b.from_x));
    Dents {
        found,
        cant_tell: cant_tell.collect(),
    }
}

#[cfg(test)]
mod tests;
