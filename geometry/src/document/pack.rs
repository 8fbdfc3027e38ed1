//! The packed form of a document, for links: columns instead of rows, so that it deflates well.
//!
//! In: [`Lines`]. Out: JSON bytes, and back. Points stand station by station; ids are places in lists. A value
//! in mm is stored only where its text, read as mm or as inches, gives another. Whether the result is sound is left to the rules.

use serde::{Deserialize, Serialize};

use std::sync::Arc;

use super::{
    About, AllowedTurns, Body, Centreline, Crossing, Datum, Ends, LOFT_METHOD, Law, Lines, On,
    Peak, Place, Plane, PlaneId, Point, PointId, Reading, Recorded, RunKind, RunLine, RunLineId,
    SCHEMA, Shop, Shoulder, SkinSide, Source, SourceId, Station, StationId, Turns, named,
};
use crate::num;
use crate::units::{LengthUnit, parse_length};

/// A run of equal values in a column: how many, and which.
type Runs<T> = Vec<(usize, T)>;

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Packed {
    schema: u32,
    method: u32,
    title: String,
    revision: String,
    unit: LengthUnit,
    skin: Option<f64>,
    ends: Ends,
    sources: Vec<String>,
    /// Sources that are more than a title.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    known: Vec<(usize, Known)>,
    stations: Vec<(String, f64)>,
    planes: Vec<(String, Place)>,
    run_lines: Vec<(String, RunKind, bool)>,
    crown: Vec<(Option<usize>, Peak)>,
    keel: Vec<(Option<usize>, Peak)>,
    /// Run lines by their place in the list.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    law: Option<Law>,
    /// How many points each station has.
    counts: Vec<usize>,
    /// Of each point: 0 crown, 1 keel, 2 none, then planes, their upper cuts, and run lines.
    on: Vec<usize>,
    /// How many readings each point has.
    readings: Runs<usize>,
    /// Of each reading.
    source: Runs<usize>,
    tolerance: Runs<f64>,
    /// Of each reading: 1 half-breadth, 2 height, 3 both.
    reads: Runs<u8>,
    /// Of each value: the text.
    typed: Vec<String>,
    /// Of each value: how its text is read: 0 as millimetres, 1 as inches, 2 as the next of `mm`.
    says: Runs<u8>,
    mm: Vec<f64>,
    /// Which value was put right, and to what.
    put_right: Vec<(usize, f64)>,
    /// Which reading is set aside, and why.
    set_aside: Vec<(usize, String)>,
    /// Which points have accepted half-breadths, and how far these lie from the recorded ones, in steps of 0.01 mm.
    half_breadths: (Vec<usize>, Vec<f64>),
    /// The same for heights.
    heights: (Vec<usize>, Vec<f64>),
    ducks: Vec<usize>,
    /// Which readings are kept as true.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    kept: Vec<usize>,
    /// Which lines are allowed turns of their own: the line, inflections, peaks.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    turns: Vec<(usize, usize, usize)>,
}

/// What is known of a source.
#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Known {
    datum: Datum,
    unit: Option<LengthUnit>,
    rounding: Option<f64>,
    surface: SkinSide,
}

fn push_run<T: PartialEq>(runs: &mut Runs<T>, value: T) {
    match runs.last_mut() {
        Some((count, last)) if *last == value => *count += 1,
        _ => runs.push((1, value)),
    }
}

/// The values of runs, one by one.
fn unrolled<T: Copy>(runs: &Runs<T>) -> impl Iterator<Item = T> {
    runs.iter()
        .flat_map(|&(count, value)| core::iter::repeat_n(value, count))
}

/// Place of an id in its list.
fn place_of<T, I: PartialEq>(list: &[T], id: &I, id_of: impl Fn(&T) -> I) -> usize {
    // An id that is not there packs as a place that is not there, which unpacks to nothing.
    list.iter()
        .position(|entry| id_of(entry) == *id)
        .unwrap_or(list.len())
}

const FIRST_PLANE: usize = 3;

/// A law with its run lines as places in the list; unpacked run lines are numbered by these.
fn by_place(body: &Body, law: Law) -> Law {
    let place = |id: RunLineId| {
        let at = place_of(&body.run_lines, &id, |line| line.id);
        RunLineId(u32::try_from(at).unwrap_or(u32::MAX))
    };
    let shoulder = |shoulder: Shoulder| match shoulder {
        Shoulder::Rho(_) => shoulder,
        Shoulder::Line(id) => Shoulder::Line(place(id)),
    };
    Law {
        breadth: place(law.breadth),
        upper: shoulder(law.upper),
        lower: shoulder(law.lower),
    }
}

pub(super) fn pack(lines: &Lines) -> Vec<u8> {
    let Lines { about, body, shop } = lines;
    let About {
        title,
        notes: _, // they stay at home
        revision,
        unit,
    } = about;
    let Body {
        method,
        sources,
        stations,
        ends,
        planes,
        run_lines,
        points,
        centreline,
        law,
        allowed_turns,
        taken: _, // stays at home
    } = &**body;
    let Shop {
        skin_thickness,
        sheets: _, // whoever opens the link chooses their own
    } = &**shop;
    let station = |id: StationId| place_of(stations, &id, |station| station.id);
    let runs = |side: &[Crossing]| {
        side.iter()
            .map(|run| (run.to.map(station), run.form))
            .collect()
    };
    let mut packed = Packed {
        schema: SCHEMA,
        method: *method,
        title: title.clone(),
        revision: revision.clone(),
        unit: *unit,
        skin: *skin_thickness,
        ends: *ends,
        sources: sources.iter().map(|source| source.title.clone()).collect(),
        known: known(sources),
        stations: stations
            .iter()
            .map(|Station { id: _, label, x }| (label.clone(), *x))
            .collect(),
        planes: planes
            .iter()
            .map(|Plane { id: _, name, place }| (name.clone(), *place))
            .collect(),
        run_lines: run_lines
            .iter()
            .map(
                |RunLine {
                     id: _,
                     name,
                     kind,
                     joint,
                 }| (name.clone(), *kind, *joint),
            )
            .collect(),
        crown: runs(&centreline.crown),
        keel: runs(&centreline.keel),
        law: law.map(|law| by_place(body, law)),
        counts: vec![0; stations.len()],
        on: Vec::new(),
        readings: Vec::new(),
        source: Vec::new(),
        tolerance: Vec::new(),
        reads: Vec::new(),
        typed: Vec::new(),
        says: Vec::new(),
        mm: Vec::new(),
        put_right: Vec::new(),
        set_aside: Vec::new(),
        half_breadths: (Vec::new(), Vec::new()),
        heights: (Vec::new(), Vec::new()),
        ducks: Vec::new(),
        kept: Vec::new(),
        turns: { allowed_turns.iter() }
            .map(|a| (code_of(body, a.on), a.turns.inflections, a.turns.peaks))
            .collect(),
    };
    packed.take_points(body, points);
    #[expect(
        clippy::expect_used,
        reason = "only maps with odd keys can fail, and the form has none"
    )]
    serde_json::to_vec(&packed).expect("the packed form can always be written")
}

fn known(sources: &[Source]) -> Vec<(usize, Known)> {
    let more = |(_, source): &(usize, &Source)| **source != Source::new(source.id, &source.title);
    let known = |(at, source): (usize, &Source)| {
        let Source {
            id: _,
            title: _, // packed before
            datum,
            unit,
            rounding,
            surface,
        } = *source;
        let known = Known {
            datum,
            unit,
            rounding,
            surface,
        };
        (at, known)
    };
    sources.iter().enumerate().filter(more).map(known).collect()
}

fn code_of(body: &Body, on: On) -> usize {
    let plane = |id: PlaneId| FIRST_PLANE + place_of(&body.planes, &id, |plane| plane.id);
    match on {
        On::Crown => 0,
        On::Keel => 1,
        On::Free => 2,
        On::Plane(id) => plane(id),
        On::PlaneUpper(id) => plane(id) + body.planes.len(),
        On::RunLine(id) => {
            FIRST_PLANE
                + 2 * body.planes.len()
                + place_of(&body.run_lines, &id, |run_line| run_line.id)
        }
    }
}

fn number(n: usize) -> Option<u32> {
    u32::try_from(n).ok()
}

impl Packed {
    /// Packs points, station by station.
    fn take_points(&mut self, body: &Body, points: &[Point]) {
        let station = |id: StationId| place_of(&body.stations, &id, |station| station.id);
        let mut points: Vec<(usize, &Point)> = points
            .iter()
            .map(|point| (station(point.station), point))
            .collect();
        num::put_in_order(&mut points, |a, b| a.0.cmp(&b.0));
        let mut reading_number = 0;
        for (number, (station, point)) in points.into_iter().enumerate() {
            if let Some(count) = self.counts.get_mut(station) {
                *count += 1;
            }
            let recorded = point.merged();
            let Point {
                id: _,
                station: _, // packed station by station
                on,
                readings,
                accepted_half_breadth,
                accepted_height,
                duck,
            } = point;
            self.on.push(code_of(body, *on));
            push_run(&mut self.readings, readings.len());
            for reading in readings {
                self.reading(body, reading, reading_number);
                reading_number += 1;
            }
            for (column, accepted, recorded) in [
                (
                    &mut self.half_breadths,
                    accepted_half_breadth,
                    recorded.half_breadth,
                ),
                (&mut self.heights, accepted_height, recorded.height),
            ] {
                if let Some(accepted) = accepted {
                    column.0.push(number);
                    column.1.push(
                        libm::round(accepted * 100.0)
                            - libm::round(recorded.unwrap_or(0.0) * 100.0),
                    );
                }
            }
            if *duck {
                self.ducks.push(number);
            }
        }
    }

    fn reading(&mut self, body: &Body, reading: &Reading, at: usize) {
        let Reading {
            source,
            half_breadth,
            height,
            tolerance,
            set_aside,
            kept,
            note: _,          // stays at home
            circumstances: _, // so do they
        } = reading;
        push_run(
            &mut self.source,
            place_of(&body.sources, source, |source| source.id),
        );
        push_run(&mut self.tolerance, *tolerance);
        push_run(
            &mut self.reads,
            u8::from(half_breadth.is_some()) + 2 * u8::from(height.is_some()),
        );
        if let Some(reason) = set_aside {
            self.set_aside.push((at, reason.clone()));
        }
        if *kept {
            self.kept.push(at);
        }
        for recorded in [half_breadth, height].into_iter().flatten() {
            let Recorded {
                typed,
                mm,
                put_right,
            } = recorded;
            if let Some(mm) = put_right {
                self.put_right.push((self.typed.len(), *mm));
            }
            self.typed.push(typed.clone());
            let read_as = |unit| parse_length(typed, unit).is_ok_and(|read| num::same(read, *mm));
            let says = if read_as(LengthUnit::Millimetres) {
                0
            } else if read_as(LengthUnit::Inches) {
                1
            } else {
                self.mm.push(*mm);
                2
            };
            push_run(&mut self.says, says);
        }
    }

    fn on(&self, code: usize) -> Option<On> {
        let (planes, run_lines) = (self.planes.len(), self.run_lines.len());
        Some(match code {
            0 => On::Crown,
            1 => On::Keel,
            2 => On::Free,
            _ => {
                let n = code.checked_sub(FIRST_PLANE)?;
                if n < planes {
                    On::Plane(PlaneId(number(n)?))
                } else if n < 2 * planes {
                    On::PlaneUpper(PlaneId(number(n - planes)?))
                } else if n - 2 * planes < run_lines {
                    On::RunLine(RunLineId(number(n - 2 * planes)?))
                } else {
                    return None;
                }
            }
        })
    }

    fn lines(self) -> Option<Lines> {
        let points = self.points()?;
        let mut sources: Vec<Source> = (0..u32::MAX)
            .zip(&self.sources)
            .map(|(id, title)| Source {
                title: title.clone(),
                ..Source::new(SourceId(id), "")
            })
            .collect();
        for (at, known) in &self.known {
            let source = sources.get_mut(*at)?;
            (source.datum, source.unit) = (known.datum, known.unit);
            (source.rounding, source.surface) = (known.rounding, known.surface);
        }
        let turns = |&(code, inflections, peaks): &(usize, usize, usize)| {
            Some(AllowedTurns {
                on: self.on(code)?,
                turns: Turns { inflections, peaks },
            })
        };
        let allowed_turns: Option<Vec<_>> = self.turns.iter().map(turns).collect();
        let allowed_turns = allowed_turns?;
        let runs = |side: &[(Option<usize>, Peak)]| -> Option<Vec<Crossing>> {
            side.iter()
                .map(|&(to, form)| {
                    let to = match to {
                        Some(to) => Some(StationId(number(to)?)),
                        None => None,
                    };
                    Some(Crossing { to, form })
                })
                .collect()
        };
        let ids = 0..u32::MAX;
        let body = Body {
            centreline: Centreline {
                crown: runs(&self.crown)?,
                keel: runs(&self.keel)?,
            },
            law: self.law,
            method: self.method,
            sources,
            stations: (ids.clone().map(StationId).zip(self.stations))
                .map(|(id, (label, x))| Station { id, label, x })
                .collect(),
            ends: self.ends,
            planes: (ids.clone().map(PlaneId).zip(self.planes))
                .map(|(id, (name, place))| Plane { id, name, place })
                .collect(),
            run_lines: (ids.map(RunLineId).zip(self.run_lines))
                .map(|(id, (name, kind, joint))| RunLine {
                    id,
                    name,
                    kind,
                    joint,
                })
                .collect(),
            points,
            allowed_turns,
            taken: Vec::new(),
        };
        Some(Lines {
            about: About {
                title: self.title,
                notes: String::new(),
                revision: self.revision,
                unit: self.unit,
            },
            body: Arc::new(body),
            shop: Arc::new(Shop {
                skin_thickness: self.skin,
                ..Shop::default()
            }),
        })
    }

    fn points(&self) -> Option<Vec<Point>> {
        let mut points = Vec::new();
        let mut reading_counts = unrolled(&self.readings);
        let mut readings = self.unpacked_readings()?.into_iter();
        let mut codes = self.on.iter();
        for (station, &count) in self.counts.iter().enumerate() {
            for _ in 0..count {
                let on = self.on(*codes.next()?)?;
                let count = reading_counts.next()?;
                let own: Vec<Reading> = readings.by_ref().take(count).collect();
                if own.len() != count {
                    return None;
                }
                let (id, station) = (PointId(number(points.len())?), StationId(number(station)?));
                points.push(Point::new(id, station, on, own));
            }
        }
        if codes.next().is_some() || readings.next().is_some() || reading_counts.next().is_some() {
            return None;
        }
        let columns = [&self.half_breadths, &self.heights];
        if columns
            .iter()
            .any(|(places, steps)| places.len() != steps.len())
        {
            return None;
        }
        for (&at, &steps) in self.half_breadths.0.iter().zip(&self.half_breadths.1) {
            let point = points.get_mut(at)?;
            let recorded = point.merged().half_breadth.unwrap_or(0.0);
            point.accepted_half_breadth = Some((libm::round(recorded * 100.0) + steps) / 100.0);
        }
        for (&at, &steps) in self.heights.0.iter().zip(&self.heights.1) {
            let point = points.get_mut(at)?;
            let recorded = point.merged().height.unwrap_or(0.0);
            point.accepted_height = Some((libm::round(recorded * 100.0) + steps) / 100.0);
        }
        for &at in &self.ducks {
            points.get_mut(at)?.duck = true;
        }
        Some(points)
    }

    fn unpacked_readings(&self) -> Option<Vec<Reading>> {
        let mut says = unrolled(&self.says);
        let mut mm = self.mm.iter().copied();
        let mut values = Vec::with_capacity(self.typed.len());
        for typed in &self.typed {
            let mm = match says.next()? {
                0 => parse_length(typed, LengthUnit::Millimetres).ok()?,
                1 => parse_length(typed, LengthUnit::Inches).ok()?,
                _ => mm.next()?,
            };
            values.push(Recorded {
                typed: typed.clone(),
                mm,
                put_right: None,
            });
        }
        for &(at, mm) in &self.put_right {
            values.get_mut(at)?.put_right = Some(mm);
        }
        let mut values = values.into_iter();
        let (mut sources, mut tolerances) = (unrolled(&self.source), unrolled(&self.tolerance));
        let mut readings = Vec::new();
        // Each reading takes at least one value, so a run cannot stand for more than there are.
        for reads in unrolled(&self.reads) {
            let half_breadth = if reads & 1 == 0 {
                None
            } else {
                Some(values.next()?)
            };
            let height = if reads & 2 == 0 {
                None
            } else {
                Some(values.next()?)
            };
            if half_breadth.is_none() && height.is_none() {
                return None;
            }
            readings.push(Reading {
                source: SourceId(number(sources.next()?)?),
                half_breadth,
                height,
                tolerance: tolerances.next()?,
                set_aside: None,
                kept: false,
                note: String::new(),
                circumstances: None,
            });
        }
        for (at, reason) in &self.set_aside {
            readings.get_mut(*at)?.set_aside = Some(reason.clone());
        }
        for at in &self.kept {
            readings.get_mut(*at)?.kept = true;
        }
        (values.next().is_none()).then_some(readings)
    }
}

/// A document from its packed form; none where that is not one.
pub(super) fn unpack(bytes: &[u8]) -> Option<Lines> {
    // Read as a file's text is: one reader for both keeps the page small.
    let packed: Packed = named::read(str::from_utf8(bytes).ok()?).ok()?;
    let known = (1..=SCHEMA).contains(&packed.schema) && packed.method <= LOFT_METHOD;
    // Counts are checked against what is there before anything is made of them.
    let counted = packed
        .counts
        .iter()
        .try_fold(0_usize, |sum, count| sum.checked_add(*count))?;
    (known && counted == packed.on.len() && packed.counts.len() == packed.stations.len())
        .then(|| packed.lines())?
}
