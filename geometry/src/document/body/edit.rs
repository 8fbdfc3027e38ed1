//! What a person can do to a body.
//!
//! In: a [`Body`] and a [`BodyEdit`]. Out: the body changed, or an [`EditError`] that says why not; whether what comes out
//! obeys the rules is asked once, of the whole document.

use std::collections::BTreeMap;

use super::offsets::Merged;
use super::{
    Body, Circumstances, Counted, Crossing, Ends, Law, Offset, On, Place, Plane, PlaneId, Point,
    PointId, Reading, Recorded, RunKind, RunLine, RunLineId, Side, Source, SourceId, Station,
    StationId, Taken, Turns,
};
use crate::document::EditError;
use crate::document::rules::{ACCEPTED_STEP, first_of, kept_step};
use crate::num;

/// A point's new accepted place; what is `None` stays as it is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Moved {
    /// The point.
    pub point: PointId,
    /// Half-breadth, or the distance along a diagonal, mm.
    pub half_breadth: Option<f64>,
    /// Height, mm.
    pub height: Option<f64>,
}

/// One thing a person does to the body.
#[derive(Clone, Debug, PartialEq)]
pub enum BodyEdit {
    /// Accept a moved point; values are kept to 0.01 mm, and one equal to the recorded one is not kept.
    Move(Moved),
    /// Accept many moved points at once, as of a proposed line.
    MoveAll(Vec<Moved>),
    /// Let all moved points go back to what was recorded.
    LetGo(Vec<PointId>),
    /// Put a duck down on a point.
    PutDuck(PointId),
    /// Lift the duck from a point.
    LiftDuck(PointId),
    /// Mend a misprint: what a reading must have meant, mm; `None` leaves that coordinate.
    PutRight {
        /// The point.
        point: PointId,
        /// Which of its readings, from 0.
        reading: usize,
        /// Half-breadth, or the distance along a diagonal, mm.
        half_breadth: Option<f64>,
        /// Height, mm.
        height: Option<f64>,
    },
    /// Let a reading say again what was typed.
    TakeBack {
        /// The point.
        point: PointId,
        /// Which of its readings, from 0.
        reading: usize,
    },
    /// Correct what was typed of a reading; a coordinate that is `None` stays as it is.
    Retype {
        /// The point.
        point: PointId,
        /// Which of its readings, from 0.
        reading: usize,
        /// Half-breadth, or the distance along a diagonal.
        half_breadth: Option<Recorded>,
        /// Height.
        height: Option<Recorded>,
    },
    /// Use a reading no longer; a reason is asked.
    SetAside {
        /// The point.
        point: PointId,
        /// Which of its readings, from 0.
        reading: usize,
        /// Why.
        reason: String,
    },
    /// Use a reading that was set aside.
    UseAgain {
        /// The point.
        point: PointId,
        /// Which of its readings, from 0.
        reading: usize,
    },
    /// Keep a reading as true that was in doubt, or doubt it again.
    Keep {
        /// The point.
        point: PointId,
        /// Which of its readings, from 0.
        reading: usize,
        /// Whether it is kept.
        kept: bool,
    },
    /// Allow a line so many turns of its curvature; none: what its kind usually has.
    AllowTurns {
        /// The line.
        on: On,
        /// How many.
        turns: Option<Turns>,
    },
    /// Remember a proposal that was taken.
    Remember(Taken),
    /// Add words to what is noted of a reading.
    AddNote {
        /// The point.
        point: PointId,
        /// Which of its readings, from 0.
        reading: usize,
        /// The words.
        note: String,
    },
    /// Say how a reading came about.
    SetCircumstances {
        /// The point.
        point: PointId,
        /// Which of its readings, from 0.
        reading: usize,
        /// Page, side, by whom and when.
        circumstances: Circumstances,
    },
    /// Change how far a reading may be out, mm.
    SetTolerance {
        /// The point.
        point: PointId,
        /// Which of its readings, from 0.
        reading: usize,
        /// The new one, mm.
        tolerance: f64,
    },
    /// Add a reading to a point.
    AddReading {
        /// The point.
        point: PointId,
        /// What was read.
        reading: Reading,
    },
    /// Add a point to a station with its first reading. One that lies on no line comes between those two neighbours round the
    /// girth between which it makes the section longer by least.
    AddPoint {
        /// The station.
        station: StationId,
        /// The line it lies on.
        on: On,
        /// What was read.
        reading: Reading,
    },
    /// Say that a cell is torn or cannot be read: its place is known, its value is not.
    AddTorn {
        /// The station.
        station: StationId,
        /// The line.
        on: On,
    },
    /// Say no longer that a cell is torn.
    RemoveTorn(PointId),
    /// Take a reading out that never was on its source; the last one takes its point with it.
    RemoveReading {
        /// The point.
        point: PointId,
        /// Which of its readings, from 0.
        reading: usize,
    },
    /// Name one more source.
    AddSource(String),
    /// Change what is known of a source; its readings are counted anew where its datum changes. Accepted places stay where
    /// they are: they are places of the lines, not what the source says.
    SetSource(Source),
    /// Take a source away from which no reading comes.
    RemoveSource(SourceId),
    /// Add a plane.
    AddPlane {
        /// As `WL 30`.
        name: String,
        /// Where it lies.
        place: Place,
    },
    /// Take a plane away on which no point lies.
    RemovePlane(PlaneId),
    /// Give a plane another name.
    RenamePlane {
        /// The plane.
        plane: PlaneId,
        /// Its new name.
        name: String,
    },
    /// Add a station.
    AddStation {
        /// As the evidence calls it.
        label: String,
        /// Distance aft of the datum, mm.
        x: f64,
    },
    /// Move a station along the body, with all that was read there.
    MoveStation {
        /// The station.
        station: StationId,
        /// Distance aft of the datum, mm.
        x: f64,
    },
    /// Call a station otherwise.
    RenameStation {
        /// The station.
        station: StationId,
        /// Its new label.
        label: String,
    },
    /// Take a station away at which no point lies.
    RemoveStation(StationId),
    /// Change how the sections cross the centre plane.
    SetCrossing {
        /// Above or below.
        side: Side,
        /// From fore to aft.
        runs: Vec<Crossing>,
    },
    /// Change how the body ends.
    SetEnds(Ends),
    /// Add a run line keelward of all others, or of those crownward of `before`.
    AddRunLine {
        /// As `joint`.
        name: String,
        /// Its kind.
        kind: RunKind,
        /// The one that follows it, toward the keel.
        before: Option<RunLineId>,
    },
    /// Change the name or kind of a run line, or whether it is the joint; its place round the girth stays.
    SetRunLine(RunLine),
    /// Take a run line away on which no point lies.
    RemoveRunLine(RunLineId),
    /// Say by which law the sections are made, or that there is none.
    SetLaw(Option<Law>),
    /// Loft by this version of the method, see [`super::LOFT_METHOD`]; the surface moves by it, no reading does.
    SetMethod(u32),
}

impl BodyEdit {
    /// What the step is called beside «Undo»: the place it touches, as «STA 48, WL 32».
    ///
    /// `body` is the one it is or was applied to.
    #[must_use]
    pub fn name(&self, body: &Body) -> String {
        let plane = |id: PlaneId| {
            body.plane(id)
                .map_or_else(|| "plane".to_owned(), |plane| plane.name.clone())
        };
        match self {
            Self::Move(moved) => body.point_name(moved.point),
            Self::MoveAll(moves) => match moves.as_slice() {
                [only] => body.point_name(only.point),
                moves => format!("{} points moved", moves.len()),
            },
            Self::LetGo(points) => match points.as_slice() {
                [only] => format!("{} let go", body.point_name(*only)),
                points => format!("{} points let go", points.len()),
            },
            Self::PutDuck(point) => format!("duck on {}", body.point_name(*point)),
            Self::LiftDuck(point) => format!("duck lifted from {}", body.point_name(*point)),
            Self::PutRight { point, .. } => format!("{} put right", body.point_name(*point)),
            Self::TakeBack { point, .. } => format!("{} as typed", body.point_name(*point)),
            Self::SetAside { point, .. } => format!("{} set aside", body.point_name(*point)),
            Self::UseAgain { point, .. } => format!("{} used again", body.point_name(*point)),
            Self::Keep {
                point, kept: true, ..
            } => format!("{} kept", body.point_name(*point)),
            Self::Keep { point, .. } => format!("{} in doubt again", body.point_name(*point)),
            Self::AllowTurns { on, .. } => format!(
                "turns of {}",
                body.line_name(*on).unwrap_or_else(|| "line".to_owned())
            ),
            Self::Remember(taken) => taken.title.clone(),
            Self::AddNote { point, .. } => format!("note on {}", body.point_name(*point)),
            Self::SetCircumstances { point, .. } => {
                format!("how {} was read", body.point_name(*point))
            }
            Self::SetTolerance { point, .. } => {
                format!("tolerance of {}", body.point_name(*point))
            }
            Self::Retype { point, .. } => format!("reading of {}", body.point_name(*point)),
            Self::AddReading { point, .. } => format!("reading of {}", body.point_name(*point)),
            Self::AddPoint { station, on, .. } => format!(
                "{}, {}",
                body.station_name(*station),
                body.line_name(*on)
                    .unwrap_or_else(|| "new point".to_owned())
            ),
            Self::AddTorn { station, on } => format!(
                "{}, {} torn",
                body.station_name(*station),
                body.line_name(*on).unwrap_or_default()
            ),
            Self::RemoveTorn(point) => format!("{} torn no longer", body.point_name(*point)),
            Self::RemoveReading { point, .. } => {
                format!("reading of {} taken out", body.point_name(*point))
            }
            Self::AddSource(title) => format!("source {title}"),
            Self::SetSource(source) => format!("source {}", source.title),
            Self::RemoveSource(id) => {
                let title = body.source(*id).map_or("source", |source| &source.title);
                format!("{title} taken away")
            }
            Self::AddPlane { name, .. } => name.clone(),
            Self::RemovePlane(id) => format!("{} taken away", plane(*id)),
            Self::RenamePlane { plane: id, .. } => format!("name of {}", plane(*id)),
            Self::AddStation { label, .. } => format!("STA {label}"),
            Self::MoveStation { station, .. } => {
                format!("place of {}", body.station_name(*station))
            }
            Self::RenameStation { station, .. } => {
                format!("label of {}", body.station_name(*station))
            }
            Self::RemoveStation(id) => format!("{} taken away", body.station_name(*id)),
            Self::SetCrossing { side, .. } => format!("centreline at the {}", side.name()),
            Self::SetEnds(_) => "ends".to_owned(),
            Self::AddRunLine { name, .. } => name.clone(),
            Self::SetRunLine(run_line) => run_line.name.clone(),
            Self::RemoveRunLine(id) => {
                let name = body.run_line(*id).map_or("run line", |line| &line.name);
                format!("{name} taken away")
            }
            Self::SetLaw(Some(_)) => "conic law".to_owned(),
            Self::SetLaw(None) => "conic law taken off".to_owned(),
            Self::SetMethod(method) => format!("loft by method {method}"),
        }
    }
}

impl Body {
    /// The body with an edit done; this one stays as it is.
    ///
    /// # Errors
    /// [`EditError`], which names the place and says what would help.
    pub fn apply(&self, edit: &BodyEdit) -> Result<Self, EditError> {
        let mut body = self.clone();
        body.change(edit)?;
        match first_of(|walk| walk.body(&body)) {
            Some(fault) => Err(fault.into()),
            None => Ok(body),
        }
    }

    /// Does an edit; the rules are left to whoever asks for it.
    pub(in crate::document) fn change(&mut self, edit: &BodyEdit) -> Result<(), EditError> {
        match edit {
            BodyEdit::Move(moved) => {
                let point = self.point(moved.point).ok_or(EditError::NoPoint)?;
                self.move_point(*moved, self.merged(point))?;
            }
            BodyEdit::MoveAll(moves) => self.move_all(moves)?,
            BodyEdit::LetGo(points) => {
                for id in points {
                    let point = self.point_mut(*id)?;
                    (point.accepted_half_breadth, point.accepted_height) = (None, None);
                }
            }
            BodyEdit::PutDuck(point) => self.point_mut(*point)?.duck = true,
            BodyEdit::LiftDuck(point) => self.point_mut(*point)?.duck = false,
            BodyEdit::PutRight {
                point,
                reading,
                half_breadth,
                height,
            } => {
                self.put_right(*point, *reading, [*half_breadth, *height])?;
            }
            BodyEdit::TakeBack { point, reading } => self.take_back(*point, *reading)?,
            BodyEdit::SetAside {
                point,
                reading,
                reason,
            } => self.set_aside(*point, *reading, reason.trim())?,
            BodyEdit::UseAgain { point, reading } => {
                self.reading_mut(*point, *reading)?.set_aside = None;
                self.settle(*point)?;
            }
            BodyEdit::Keep {
                point,
                reading,
                kept,
            } => self.reading_mut(*point, *reading)?.kept = *kept,
            BodyEdit::AllowTurns { on, turns } => self.allow(*on, *turns)?,
            BodyEdit::Remember(taken) => self.remember(taken),
            BodyEdit::AddNote {
                point,
                reading,
                note,
            } => self.add_note(*point, *reading, note.trim())?,
            BodyEdit::SetCircumstances {
                point,
                reading,
                circumstances,
            } => self.set_circumstances(*point, *reading, circumstances)?,
            BodyEdit::SetTolerance {
                point,
                reading,
                tolerance,
            } => {
                self.reading_mut(*point, *reading)?.tolerance = *tolerance;
                self.settle(*point)?;
            }
            BodyEdit::Retype {
                point,
                reading,
                half_breadth,
                height,
            } => {
                self.retype(*point, *reading, [half_breadth, height])?;
            }
            BodyEdit::AddReading { point, reading } => {
                self.point_mut(*point)?.readings.push(reading.clone());
                self.settle(*point)?;
            }
            BodyEdit::AddPoint {
                station,
                on,
                reading,
            } => self.put_point(*station, *on, vec![reading.clone()])?,
            BodyEdit::AddTorn { station, on } => self.add_torn(*station, *on)?,
            BodyEdit::RemoveTorn(id) => self.remove_torn(*id)?,
            BodyEdit::RemoveReading { point, reading } => self.remove_reading(*point, *reading)?,
            BodyEdit::AddSource(title) => {
                let id = SourceId(free_number(self.sources.iter().map(|source| source.id.0)));
                self.sources.push(Source::new(id, title));
            }
            BodyEdit::SetSource(source) => self.set_source(source)?,
            BodyEdit::RemoveSource(id) => self.remove_source(*id)?,
            BodyEdit::AddPlane { name, place } => self.add_plane(name, *place),
            BodyEdit::RemovePlane(id) => self.remove_plane(*id)?,
            BodyEdit::RenamePlane { plane, name } => {
                let found = self.planes.iter_mut().find(|other| other.id == *plane);
                name.trim()
                    .clone_into(&mut found.ok_or(EditError::NoPlane)?.name);
            }
            BodyEdit::AddStation { label, x } => self.add_station(label, *x),
            BodyEdit::MoveStation { station, x } => {
                let at = self.station_index(*station).ok_or(EditError::NoStation)?;
                self.stations[at].x = *x;
                self.in_order();
            }
            BodyEdit::RenameStation { station, label } => {
                let at = self.station_index(*station).ok_or(EditError::NoStation)?;
                label.trim().clone_into(&mut self.stations[at].label);
            }
            BodyEdit::RemoveStation(id) => self.remove_station(*id)?,
            BodyEdit::SetCrossing { side, runs } => match side {
                Side::Crown => self.centreline.crown.clone_from(runs),
                Side::Keel => self.centreline.keel.clone_from(runs),
            },
            BodyEdit::SetEnds(ends) => self.ends = *ends,
            BodyEdit::AddRunLine { name, kind, before } => {
                self.add_run_line(name, *kind, *before)?;
            }
            BodyEdit::SetRunLine(run_line) => {
                let found = self.run_lines.iter_mut().find(|old| old.id == run_line.id);
                let found = found.ok_or(EditError::NoRunLine)?;
                found.clone_from(run_line);
                found.name = run_line.name.trim().to_owned();
            }
            BodyEdit::RemoveRunLine(id) => self.remove_run_line(*id)?,
            BodyEdit::SetLaw(law) => self.law = *law,
            BodyEdit::SetMethod(method) => self.method = *method,
        }
        Ok(())
    }

    fn take_back(&mut self, point: PointId, reading: usize) -> Result<(), EditError> {
        let reading = self.reading_mut(point, reading)?;
        reading.kept = false;
        let both = [&mut reading.half_breadth, &mut reading.height];
        for recorded in both.into_iter().flatten() {
            recorded.put_right = None;
        }
        self.settle(point)
    }

    fn set_aside(&mut self, point: PointId, reading: usize, reason: &str) -> Result<(), EditError> {
        if reason.is_empty() {
            return Err(EditError::NoReason {
                point: self.point_name(point),
            });
        }
        self.reading_mut(point, reading)?.set_aside = Some(reason.to_owned());
        self.settle(point)
    }

    fn add_note(&mut self, point: PointId, reading: usize, note: &str) -> Result<(), EditError> {
        let noted = &mut self.reading_mut(point, reading)?.note;
        if !noted.is_empty() {
            noted.push_str("; ");
        }
        noted.push_str(note);
        Ok(())
    }

    fn set_circumstances(
        &mut self,
        point: PointId,
        reading: usize,
        circumstances: &Circumstances,
    ) -> Result<(), EditError> {
        let said = Some(circumstances.trimmed()).filter(|said| !said.is_empty());
        self.reading_mut(point, reading)?.circumstances = said.map(Box::new);
        Ok(())
    }

    fn point_mut(&mut self, id: PointId) -> Result<&mut Point, EditError> {
        self.points
            .iter_mut()
            .find(|point| point.id == id)
            .ok_or(EditError::NoPoint)
    }

    fn reading_mut(&mut self, id: PointId, number: usize) -> Result<&mut Reading, EditError> {
        let name = self.point_name(id);
        let point = self.point_mut(id)?;
        let of = point.readings.len();
        point.readings.get_mut(number).ok_or(EditError::NoReading {
            point: name,
            number: number + 1,
            of,
        })
    }

    fn move_all(&mut self, moves: &[Moved]) -> Result<(), EditError> {
        let ids = self.points.iter().map(|point| point.id);
        let recorded: BTreeMap<PointId, Merged> = num::put_together(ids.zip(self.all_merged()));
        moves.iter().try_for_each(|moved| {
            let recorded = recorded.get(&moved.point).ok_or(EditError::NoPoint)?;
            self.move_point(*moved, *recorded)
        })
    }

    fn move_point(&mut self, moved: Moved, recorded: Merged) -> Result<(), EditError> {
        let name = self.point_name(moved.point);
        let deep = self.lies_deep(moved.point);
        let point = self.point_mut(moved.point)?;
        let settled = |to: Option<f64>, kept: Option<f64>, recorded: Option<f64>, coordinate| match (
            to, recorded,
        ) {
            (None, _) => Ok(kept),
            (Some(_), None) => Err(EditError::NotRead {
                point: name.clone(),
                coordinate,
            }),
            // What was read inside the skin is no place of the lines that a move could come back to.
            (Some(to), Some(_)) if deep => Ok(Some(kept_step(to))),
            (Some(to), Some(recorded)) => Ok(where_it_differs(to, recorded)),
        };
        point.accepted_half_breadth = settled(
            moved.half_breadth,
            point.accepted_half_breadth,
            recorded.half_breadth,
            "half-breadth",
        )?;
        point.accepted_height = settled(
            moved.height,
            point.accepted_height,
            recorded.height,
            "height",
        )?;
        Ok(())
    }

    /// Whether a point was read inside the skin, where accepted values lie on its outside.
    fn lies_deep(&self, id: PointId) -> bool {
        let deep = |point: &Point| self.depth(point).iter().any(|depth| *depth > 0.0);
        self.point(id).is_some_and(deep)
    }

    /// Drops accepted values that no longer differ from what is recorded, after an edit of the evidence.
    fn settle(&mut self, id: PointId) -> Result<(), EditError> {
        let point = self.point(id).ok_or(EditError::NoPoint)?;
        if point.accepted_half_breadth.is_none() && point.accepted_height.is_none() {
            return Ok(());
        }
        self.settle_by(id, self.merged(point))
    }

    /// The same where it is known what the point's readings say together.
    fn settle_by(&mut self, id: PointId, recorded: Merged) -> Result<(), EditError> {
        if self.lies_deep(id) {
            return Ok(());
        }
        let point = self.point_mut(id)?;
        for (accepted, recorded) in [
            (&mut point.accepted_half_breadth, recorded.half_breadth),
            (&mut point.accepted_height, recorded.height),
        ] {
            if let (Some(to), Some(recorded)) = (*accepted, recorded) {
                *accepted = where_it_differs(to, recorded);
            }
        }
        Ok(())
    }

    fn retype(
        &mut self,
        id: PointId,
        number: usize,
        [half_breadth, height]: [&Option<Recorded>; 2],
    ) -> Result<(), EditError> {
        let reading = self.reading_mut(id, number)?;
        reading.kept = false;
        for (kept, new) in [
            (&mut reading.half_breadth, half_breadth),
            (&mut reading.height, height),
        ] {
            if new.is_some() {
                kept.clone_from(new);
            }
        }
        self.settle(id)
    }

    fn put_right(
        &mut self,
        id: PointId,
        number: usize,
        values: [Option<f64>; 2],
    ) -> Result<(), EditError> {
        let name = self.point_name(id);
        let reading = self.reading_mut(id, number)?;
        reading.kept = false;
        let mend = |recorded: &mut Option<Recorded>, value: Option<f64>, coordinate| match (
            recorded, value,
        ) {
            (_, None) => Ok(()),
            (None, Some(_)) => Err(EditError::NotRead {
                point: name.clone(),
                coordinate,
            }),
            (Some(recorded), Some(value)) => {
                recorded.put_right = (!num::same(value, recorded.mm)).then_some(value);
                Ok(())
            }
        };
        mend(&mut reading.half_breadth, values[0], "half-breadth")?;
        mend(&mut reading.height, values[1], "height")?;
        self.settle(id)
    }

    fn put_point(
        &mut self,
        station: StationId,
        on: On,
        readings: Vec<Reading>,
    ) -> Result<(), EditError> {
        let at = self.station_index(station).ok_or(EditError::NoStation)?;
        let id = PointId(free_number(self.points.iter().map(|point| point.id.0)));
        let point = Point::new(id, station, on, readings);
        let after = |other: &Point| self.station_index(other.station).is_some_and(|n| n > at);
        let behind_all = || self.points.iter().position(after);
        let place = self.place_round_the_girth(&point).or_else(behind_all);
        self.points
            .insert(place.unwrap_or(self.points.len()), point);
        Ok(())
    }

    /// Where a point that lies on no line comes in the list: what stands there round the girth follows the list.
    fn place_round_the_girth(&self, point: &Point) -> Option<usize> {
        let [y, z] = self.offset(point).filter(|o| o.on == On::Free)?.recorded;
        let round = self.offsets();
        let round = round.get(self.station_index(point.station)?)?;
        let apart = |a: [f64; 2], b: [f64; 2]| num::hypot(a[0] - b[0], a[1] - b[1]);
        let longer = |pair: &[Offset]| {
            let [a, b] = [pair[0].recorded, pair[1].recorded];
            apart(a, [y, z]) + apart([y, z], b) - apart(a, b)
        };
        let pairs = round.windows(2);
        let pair = pairs.min_by(|one, two| longer(one).total_cmp(&longer(two)))?;
        let before = self.points.iter().position(|p| p.id == pair[0].point)?;
        Some(before + 1)
    }

    fn add_torn(&mut self, station: StationId, on: On) -> Result<(), EditError> {
        if let Some(point) = self.point_on(station, on) {
            let point = self.name_of(point);
            return Err(EditError::NotTorn { point });
        }
        self.put_point(station, on, Vec::new())
    }

    fn remove_torn(&mut self, id: PointId) -> Result<(), EditError> {
        let point = self.point(id).ok_or(EditError::NoPoint)?;
        if !point.readings.is_empty() {
            let point = self.name_of(point);
            return Err(EditError::NotTorn { point });
        }
        self.points.retain(|point| point.id != id);
        Ok(())
    }

    fn remove_reading(&mut self, id: PointId, number: usize) -> Result<(), EditError> {
        self.reading_mut(id, number)?;
        let point = self.point_mut(id)?;
        point.readings.remove(number);
        if point.readings.is_empty() {
            self.points.retain(|point| point.id != id);
            return Ok(());
        }
        // What is read no longer has no accepted value.
        if point.readings.iter().all(|r| r.half_breadth.is_none()) {
            point.accepted_half_breadth = None;
        }
        if point.readings.iter().all(|r| r.height.is_none()) {
            point.accepted_height = None;
        }
        self.settle(id)
    }

    fn set_source(&mut self, new: &Source) -> Result<(), EditError> {
        let counted = |body: &Self| -> Vec<[Counted; 2]> {
            let each = body.points.iter();
            each.map(|point| body.counted(point.on, new.id)).collect()
        };
        let before = counted(self);
        let found = self.sources.iter_mut().find(|old| old.id == new.id);
        let found = found.ok_or(EditError::NoSource)?;
        found.clone_from(new);
        found.title = new.title.trim().to_owned();
        let now = counted(self);
        for ((point, before), now) in self.points.iter_mut().zip(before).zip(now) {
            for reading in point.readings.iter_mut().filter(|r| r.source == new.id) {
                let both = [&mut reading.half_breadth, &mut reading.height];
                for ((recorded, before), now) in both.into_iter().zip(before).zip(now) {
                    let Some(recorded) = recorded else { continue };
                    recorded.mm = before.recounted(now, recorded.mm);
                    let right = &mut recorded.put_right;
                    *right = right.map(|mm| before.recounted(now, mm));
                }
            }
        }
        let ids: Vec<PointId> = self.points.iter().map(|point| point.id).collect();
        let all = ids.into_iter().zip(self.all_merged());
        all.into_iter()
            .try_for_each(|(id, merged)| self.settle_by(id, merged))
    }

    fn remove_source(&mut self, id: SourceId) -> Result<(), EditError> {
        let source = self.source(id).ok_or(EditError::NoSource)?.title.clone();
        let all = self.points.iter().flat_map(|point| &point.readings);
        let readings = all.filter(|reading| reading.source == id).count();
        if readings > 0 {
            return Err(EditError::Quoted { source, readings });
        }
        self.sources.retain(|source| source.id != id);
        Ok(())
    }

    fn add_run_line(
        &mut self,
        name: &str,
        kind: RunKind,
        before: Option<RunLineId>,
    ) -> Result<(), EditError> {
        let id = RunLineId(free_number(self.run_lines.iter().map(|line| line.id.0)));
        let at = match before {
            Some(next) => {
                let place = self.run_lines.iter().position(|line| line.id == next);
                place.ok_or(EditError::NoRunLine)?
            }
            None => self.run_lines.len(),
        };
        let line = RunLine {
            id,
            name: name.trim().to_owned(),
            kind,
            joint: false,
        };
        self.run_lines.insert(at, line);
        Ok(())
    }

    fn remove_run_line(&mut self, id: RunLineId) -> Result<(), EditError> {
        let name = self.run_line(id).ok_or(EditError::NoRunLine)?.name.clone();
        let on_it = |point: &&Point| point.on == On::RunLine(id);
        let points = self.points.iter().filter(on_it).count();
        if points > 0 {
            return Err(EditError::InUse { name, points });
        }
        self.run_lines.retain(|line| line.id != id);
        let gone = On::RunLine(id);
        self.allowed_turns.retain(|allowed| allowed.on != gone);
        Ok(())
    }

    fn add_plane(&mut self, name: &str, place: Place) {
        let id = PlaneId(free_number(self.planes.iter().map(|plane| plane.id.0)));
        let name = name.trim().to_owned();
        self.planes.push(Plane { id, name, place });
    }

    fn add_station(&mut self, label: &str, x: f64) {
        let id = StationId(free_number(
            self.stations.iter().map(|station| station.id.0),
        ));
        let label = label.trim().to_owned();
        self.stations.push(Station { id, label, x });
        self.in_order();
    }

    /// Stations in order of x, points in that of their stations.
    fn in_order(&mut self) {
        num::put_in_order(&mut self.stations, |a, b| a.x.total_cmp(&b.x));
        let stations = core::mem::take(&mut self.stations);
        let place = |id: StationId| stations.iter().position(|station| station.id == id);
        num::put_in_order(&mut self.points, |a, b| {
            place(a.station).cmp(&place(b.station))
        });
        self.stations = stations;
    }

    fn remove_station(&mut self, id: StationId) -> Result<(), EditError> {
        let at = self.station_index(id).ok_or(EditError::NoStation)?;
        let points = self.points.iter().filter(|p| p.station == id).count();
        if points > 0 {
            let name = self.station_name(id);
            return Err(EditError::InUse { name, points });
        }
        // A run of stations that ended here ends at the one before.
        let before = at.checked_sub(1).map(|before| self.stations[before].id);
        for side in [&mut self.centreline.crown, &mut self.centreline.keel] {
            side.retain(|run| run.to != Some(id) || before.is_some());
            for run in side.iter_mut().filter(|run| run.to == Some(id)) {
                run.to = before;
            }
        }
        self.stations.remove(at);
        Ok(())
    }

    fn remove_plane(&mut self, id: PlaneId) -> Result<(), EditError> {
        let name = self.plane(id).ok_or(EditError::NoPlane)?.name.clone();
        let on_it =
            |point: &&Point| matches!(point.on, On::Plane(on) | On::PlaneUpper(on) if on == id);
        let points = self.points.iter().filter(on_it).count();
        if points > 0 {
            return Err(EditError::InUse { name, points });
        }
        self.planes.retain(|plane| plane.id != id);
        let gone = [On::Plane(id), On::PlaneUpper(id)];
        self.allowed_turns
            .retain(|allowed| !gone.contains(&allowed.on));
        Ok(())
    }
}

/// The accepted value to keep: to 0.01 mm, and none where that is the recorded one.
fn where_it_differs(to: f64, recorded: f64) -> Option<f64> {
    let kept = kept_step(to);
    let same = (to - recorded).abs() < ACCEPTED_STEP / 2.0
        || (kept - recorded).abs() <= ACCEPTED_STEP / 2.0 + 1e-9;
    (!same).then_some(kept)
}

/// The lowest number above all that are taken; where there is none, the lowest that is free.
fn free_number(taken: impl Iterator<Item = u32>) -> u32 {
    let taken: std::collections::BTreeSet<u32> = num::put_together(taken);
    let above = taken.last().map_or(Some(0), |most| most.checked_add(1));
    above.unwrap_or_else(|| {
        let free = (0..=u32::MAX).zip(&taken).find(|(n, taken)| n != *taken);
        free.map_or(u32::MAX, |(n, _)| n)
    })
}

#[cfg(test)]
mod tests;
