//! The rules of a sound body.

use core::ops::ControlFlow;
use std::collections::{BTreeMap, BTreeSet};

use super::law::{self, Where};
use super::{
    Body, Crossing, End, Fixes, LOFT_METHOD, On, Place, Point, Reading, Recorded, Side, SkinSide,
    Source, SourceId, Station, StationId, Turns,
};
use crate::document::rules::{
    At, Broken, Flow, Holds, LONGEST_NAME, LONGEST_NOTE, LONGEST_TITLE, Listed, MOST_NAMED,
    MOST_POINTS, MOST_READINGS, MOST_STATIONS, MOST_TURNS, NEAREST_STATIONS, THICKEST, Walk,
    kept_step,
};
use crate::num;
use crate::units::{LONGEST, LONGEST_TEXT};

/// The stations that the sources which lie elsewhere have readings at, in order of x.
fn read_elsewhere(body: &Body) -> BTreeMap<SourceId, Vec<&Station>> {
    let elsewhere = |source: &&Source| !num::same(source.datum.aft, 0.0);
    let sources = body.sources.iter().filter(elsewhere);
    let mut at: BTreeMap<SourceId, BTreeSet<StationId>> =
        num::put_together(sources.map(|s| (s.id, BTreeSet::new())));
    if at.is_empty() {
        return BTreeMap::new();
    }
    for point in &body.points {
        for reading in &point.readings {
            if let Some(read) = at.get_mut(&reading.source) {
                read.insert(point.station);
            }
        }
    }
    let stations = |read: &BTreeSet<StationId>| {
        let all = body.stations.iter();
        all.filter(|s| read.contains(&s.id)).collect()
    };
    num::put_together(at.iter().map(|(id, read)| (*id, stations(read))))
}

/// The two stations nearest to each other of those that a source has readings at, where its own lie half of that or more
/// off: which of its stations a reading was taken at would be the question then.
fn too_near<'a>(source: &Source, read: &[&'a Station]) -> Option<[&'a Station; 2]> {
    let bays = read.windows(2).map(|pair| [pair[0], pair[1]]);
    let bay = |[from, to]: &[&Station; 2]| to.x - from.x;
    let least = bays.min_by(|a, b| bay(a).total_cmp(&bay(b)))?;
    (2.0 * source.datum.aft.abs() >= bay(&least)).then_some(least)
}

impl Walk<'_> {
    /// Walks over a body.
    pub(in crate::document) fn body(&mut self, body: &Body) -> Flow {
        let method_known = (1..=LOFT_METHOD).contains(&body.method);
        self.rule(
            method_known.into(),
            || At::Document,
            || Broken::Method(body.method),
        )?;
        for (listed, found, most) in [
            (Listed::Sources, body.sources.len(), MOST_NAMED),
            (Listed::Stations, body.stations.len(), MOST_STATIONS),
            (Listed::Planes, body.planes.len(), MOST_NAMED),
            (Listed::RunLines, body.run_lines.len(), MOST_NAMED),
            (Listed::Points, body.points.len(), MOST_POINTS),
        ] {
            self.rule(
                (found <= most).into(),
                || At::Document,
                || Broken::TooMany(listed, found, most),
            )?;
        }
        self.sources(body)?;
        self.stations(body)?;
        self.ends(body)?;
        self.planes(body)?;
        self.run_lines(body)?;
        self.decided(body)?;
        self.points(body)?;
        self.crossings(body, Side::Crown, &body.centreline.crown)?;
        self.crossings(body, Side::Keel, &body.centreline.keel)?;
        self.law(body)
    }

    fn sources(&mut self, body: &Body) -> Flow {
        let mut ids = BTreeSet::new();
        let elsewhere = read_elsewhere(body);
        for (n, source) in body.sources.iter().enumerate() {
            let at = || At::Source(n + 1);
            self.rule(ids.insert(source.id).into(), at, || {
                Broken::TakenId(Listed::Sources)
            })?;
            self.text(&source.title, LONGEST_TITLE, &at)?;
            self.length(source.datum.half_breadth.from, &at)?;
            self.length(source.datum.height.from, &at)?;
            self.length(source.datum.aft, &at)?;
            let near = elsewhere.get(&source.id);
            let near = near.and_then(|read| too_near(source, read));
            let [from, to] = near.map_or(["", ""], |pair| pair.map(|s| s.label.as_str()));
            let apart = near.map_or(0.0, |[from, to]| to.x - from.x);
            self.rule(near.is_none().into(), at, || {
                Broken::Aft(source.datum.aft, [from, to].map(str::to_owned), apart)
            })?;
            if let Some(rounding) = source.rounding {
                let sound = rounding > 0.0 && rounding <= LONGEST;
                self.rule(sound.into(), at, || Broken::Rounding(rounding))?;
            }
            if let SkinSide::Inside { thickness } = source.surface {
                let sound = thickness > 0.0 && thickness < THICKEST;
                self.rule(sound.into(), at, || Broken::Skin(thickness))?;
            }
        }
        ControlFlow::Continue(())
    }

    fn stations(&mut self, body: &Body) -> Flow {
        let stations = &body.stations;
        let (mut ids, mut labels) = (BTreeSet::new(), BTreeSet::new());
        for (n, station) in stations.iter().enumerate() {
            let at = || At::Station(station.label.clone());
            self.rule(ids.insert(station.id).into(), at, || {
                Broken::TakenId(Listed::Stations)
            })?;
            self.name(&station.label, &at)?;
            self.rule(labels.insert(station.label.as_str()).into(), at, || {
                Broken::TakenName
            })?;
            self.length(station.x, &at)?;
            if let Some(before) = n.checked_sub(1).and_then(|n| stations.get(n)) {
                let apart = station.x - before.x;
                // A hair of slack, so that stations at 0.1 and 0.6 stand.
                let in_order = apart >= NEAREST_STATIONS - num::SAME_POINT;
                self.rule(in_order.into(), at, || {
                    Broken::StationOrder(before.label.clone(), apart)
                })?;
            }
        }
        ControlFlow::Continue(())
    }

    fn ends(&mut self, body: &Body) -> Flow {
        for (end, at, station, outward) in [
            (body.ends.fore, At::ForeEnd, body.stations.first(), -1.0),
            (body.ends.aft, At::AftEnd, body.stations.last(), 1.0),
        ] {
            if let End::Tip { x, height, .. } = end {
                self.length(x, &|| at.clone())?;
                self.length(height, &|| at.clone())?;
                let outside = station.is_none_or(|station| (x - station.x) * outward > 0.0);
                self.rule(outside.into(), || at.clone(), || Broken::TipInside(x))?;
                let apart = station.map_or(f64::INFINITY, |station| (x - station.x).abs());
                let far = apart >= NEAREST_STATIONS - num::SAME_POINT;
                self.rule(far.into(), || at.clone(), || Broken::TipNear(apart))?;
            }
        }
        ControlFlow::Continue(())
    }

    fn planes(&mut self, body: &Body) -> Flow {
        let (mut ids, mut names) = (BTreeSet::new(), BTreeSet::new());
        for plane in &body.planes {
            let at = || At::Plane(plane.name.clone());
            self.rule(ids.insert(plane.id).into(), at, || {
                Broken::TakenId(Listed::Planes)
            })?;
            self.name(&plane.name, &at)?;
            self.rule(names.insert(plane.name.as_str()).into(), at, || {
                Broken::TakenName
            })?;
            match plane.place {
                Place::Waterline(z) => self.length(z, &at)?,
                Place::Buttock(y) => {
                    self.length(y, &at)?;
                    self.rule((y > 0.0).into(), at, || Broken::ButtockPlace(y))?;
                }
                Place::Diagonal { height, angle } => {
                    self.length(height, &at)?;
                    let inclined = angle > 0.0 && angle < core::f64::consts::FRAC_PI_2;
                    self.rule(inclined.into(), at, || Broken::DiagonalAngle(angle))?;
                }
            }
        }
        ControlFlow::Continue(())
    }

    fn run_lines(&mut self, body: &Body) -> Flow {
        let (mut ids, mut names, mut joints) = (BTreeSet::new(), BTreeSet::new(), 0);
        for run_line in &body.run_lines {
            let at = || At::RunLine(run_line.name.clone());
            self.rule(ids.insert(run_line.id).into(), at, || {
                Broken::TakenId(Listed::RunLines)
            })?;
            self.name(&run_line.name, &at)?;
            self.rule(names.insert(run_line.name.as_str()).into(), at, || {
                Broken::TakenName
            })?;
            joints += u32::from(run_line.joint);
            self.rule((!run_line.joint || joints < 2).into(), at, || {
                Broken::SecondJoint
            })?;
        }
        ControlFlow::Continue(())
    }

    fn decided(&mut self, body: &Body) -> Flow {
        let at = || At::Document;
        let mut of = BTreeSet::new();
        for allowed in &body.allowed_turns {
            let there = body.line_name(allowed.on).is_some();
            self.rule(there.into(), at, || Broken::NoSuch("line"))?;
            self.rule(of.insert(allowed.on).into(), at, || Broken::TurnsTwice)?;
            let Turns { inflections, peaks } = allowed.turns;
            let sound = inflections < peaks && peaks <= MOST_TURNS;
            self.rule(sound.into(), at, || Broken::Turns(inflections, peaks))?;
        }
        let count = body.taken.len();
        self.rule((count <= MOST_NAMED).into(), at, || {
            Broken::TooMany(Listed::Taken, count, MOST_NAMED)
        })?;
        for taken in &body.taken {
            self.text(&taken.title, LONGEST_TITLE, &at)?;
            self.text(&taken.reason, LONGEST_NOTE, &at)?;
            let moves = taken.moves.len();
            self.rule((moves <= MOST_POINTS).into(), at, || {
                Broken::TooMany(Listed::Points, moves, MOST_POINTS)
            })?;
            for moved in &taken.moves {
                self.text(&moved.point, LONGEST_TITLE, &at)?;
                for mm in [moved.half_breadth, moved.height].into_iter().flatten() {
                    self.length(mm, &at)?;
                }
            }
        }
        ControlFlow::Continue(())
    }

    fn points(&mut self, body: &Body) -> Flow {
        let stations: BTreeSet<_> =
            num::put_together(body.stations.iter().map(|station| station.id));
        let sources: BTreeSet<_> = num::put_together(body.sources.iter().map(|source| source.id));
        let placed = body.planes.iter().map(|plane| (plane.id, plane.place));
        let planes: BTreeMap<_, _> = num::put_together(placed);
        let run_lines: BTreeSet<_> = num::put_together(body.run_lines.iter().map(|run| run.id));
        let (mut ids, mut taken) = (BTreeSet::new(), BTreeSet::new());
        for point in &body.points {
            let at = || At::Point(body.name_of(point));
            self.rule(ids.insert(point.id).into(), at, || {
                Broken::TakenId(Listed::Points)
            })?;
            self.rule(stations.contains(&point.station).into(), at, || {
                Broken::NoSuch("station")
            })?;
            let fixes = match point.on {
                On::Crown | On::Keel => Some(Fixes::Height),
                On::Free => Some(Fixes::Both),
                On::RunLine(id) => run_lines.contains(&id).then_some(Fixes::Both),
                On::Plane(id) | On::PlaneUpper(id) => planes.get(&id).map(|place| match *place {
                    Place::Waterline(_) => Fixes::HalfBreadth,
                    Place::Buttock(_) => Fixes::Height,
                    Place::Diagonal { angle, .. } => Fixes::Along { angle },
                }),
            };
            let Some(fixes) = fixes else {
                self.rule(Holds::No, at, || Broken::NoSuch("line"))?;
                continue;
            };
            let has_upper = !matches!(point.on, On::PlaneUpper(_)) || fixes == Fixes::Height;
            self.rule(has_upper.into(), at, || Broken::NoUpperCut)?;
            let alone = point.on == On::Free || taken.insert((point.station, point.on));
            self.rule(alone.into(), at, || Broken::SecondPoint)?;
            self.readings(body, point, fixes, &sources)?;
            self.accepted(body, point)?;
        }
        ControlFlow::Continue(())
    }

    fn readings(
        &mut self,
        body: &Body,
        point: &Point,
        fixes: Fixes,
        sources: &BTreeSet<SourceId>,
    ) -> Flow {
        let count = point.readings.len();
        let at_point = || At::Point(body.name_of(point));
        let few = count <= MOST_READINGS;
        self.rule(few.into(), at_point, || {
            Broken::TooMany(Listed::Readings, count, MOST_READINGS)
        })?;
        for (n, reading) in point.readings.iter().enumerate() {
            let at = || At::Reading(body.name_of(point), n + 1);
            self.rule(sources.contains(&reading.source).into(), at, || {
                Broken::NoSuch("source")
            })?;
            let tolerance = reading.tolerance;
            let sound = tolerance > 0.0 && tolerance <= LONGEST;
            self.rule(sound.into(), at, || Broken::Tolerance(tolerance))?;
            self.what_is_read(reading, fixes, &at)?;
            for recorded in [&reading.half_breadth, &reading.height]
                .into_iter()
                .flatten()
            {
                self.recorded(recorded, &at)?;
            }
            if let Some(value) = reading.half_breadth_value() {
                self.rule((value >= 0.0).into(), at, || Broken::BelowZero(value))?;
            }
            let said = reading.circumstances.iter();
            for text in said.flat_map(|said| said.texts()) {
                self.text(text, LONGEST_NAME, &at)?;
            }
            for text in [Some(&reading.note), reading.set_aside.as_ref()]
                .into_iter()
                .flatten()
            {
                let short = text.chars().count() <= LONGEST_NOTE;
                self.rule(short.into(), at, || Broken::LongText(LONGEST_NOTE))?;
            }
        }
        ControlFlow::Continue(())
    }

    fn what_is_read(&mut self, reading: &Reading, fixes: Fixes, at: &dyn Fn() -> At) -> Flow {
        let (has_half_breadth, has_height) =
            (reading.half_breadth.is_some(), reading.height.is_some());
        let (needed, needless) = match fixes {
            Fixes::HalfBreadth => ((has_half_breadth, "half-breadth"), (has_height, "height")),
            Fixes::Height => ((has_height, "height"), (has_half_breadth, "half-breadth")),
            Fixes::Along { .. } => (
                (has_half_breadth, "distance along the diagonal"),
                (has_height, "height"),
            ),
            Fixes::Both => (
                (has_half_breadth || has_height, "half-breadth or height"),
                (false, ""),
            ),
        };
        self.rule(needed.0.into(), at, || Broken::Lacks(needed.1))?;
        self.rule((!needless.0).into(), at, || Broken::Needless(needless.1))
    }

    fn recorded(&mut self, recorded: &Recorded, at: &dyn Fn() -> At) -> Flow {
        self.text(&recorded.typed, LONGEST_TEXT, at)?;
        self.length(recorded.mm, at)?;
        match recorded.put_right {
            Some(mm) => self.length(mm, at),
            None => ControlFlow::Continue(()),
        }
    }

    fn accepted(&mut self, body: &Body, point: &Point) -> Flow {
        let at = || At::Point(body.name_of(point));
        let was_read =
            |value: fn(&Reading) -> Option<f64>| point.readings.iter().any(|r| value(r).is_some());
        for (accepted, read, name) in [
            (
                point.accepted_half_breadth,
                was_read(Reading::half_breadth_value),
                "half-breadth",
            ),
            (
                point.accepted_height,
                was_read(Reading::height_value),
                "height",
            ),
        ] {
            let Some(mm) = accepted else { continue };
            self.length(mm, &at)?;
            self.rule(read.into(), at, || Broken::NotRead(name))?;
            // To the last bit: a link holds the steps, and gives back no other value.
            let whole = num::same(kept_step(mm), mm);
            self.rule(whole.into(), at, || Broken::AcceptedStep(mm))?;
        }
        if let Some(value) = point.accepted_half_breadth {
            self.rule((value >= 0.0).into(), at, || Broken::BelowZero(value))?;
        }
        ControlFlow::Continue(())
    }

    fn law(&mut self, body: &Body) -> Flow {
        for (place, fault) in law::faults(body) {
            let at = || match place {
                Where::Law => At::Law,
                Where::Station(station) => At::Station(station.label.clone()),
                Where::Point(point) => At::Point(body.name_of(point)),
            };
            self.rule(Holds::No, at, || Broken::Law(fault))?;
        }
        ControlFlow::Continue(())
    }

    fn crossings(&mut self, body: &Body, side: Side, runs: &[Crossing]) -> Flow {
        let at = || At::Centreline(side);
        let numbered = body.stations.iter().enumerate();
        let place: BTreeMap<StationId, usize> =
            num::put_together(numbered.map(|(n, station)| (station.id, n)));
        let mut behind = None;
        for (n, run) in runs.iter().enumerate() {
            match run.to {
                Some(to) => {
                    let found = place.get(&to).copied();
                    self.rule(found.is_some().into(), at, || Broken::NoSuch("station"))?;
                    self.rule((found > behind).into(), at, || Broken::RunOrder)?;
                    behind = found;
                }
                None => self.rule((n + 1 == runs.len()).into(), at, || Broken::RunOrder)?,
            }
        }
        ControlFlow::Continue(())
    }
}
