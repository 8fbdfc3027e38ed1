//! What a person can do to a document, each as a pure function.
//!
//! In: [`Lines`] and an [`Edit`]. Out: new [`Lines`] that obey every rule, or an [`EditError`] that says why not, with
//! the old ones as they were.

use core::fmt;

use super::find::Side;
use super::rules::{ACCEPTED_STEP, Fault};
use super::{
    Counted, Crossing, Ends, Law, Lines, On, Place, Plane, PlaneId, Point, PointId, Reading,
    Recorded, RunKind, RunLine, RunLineId, Source, SourceId, Station, StationId, Taken, Turns,
};
use crate::units::{LengthUnit, Message};

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

/// One thing a person does, and one step of undo.
#[derive(Clone, Debug, PartialEq)]
pub enum Edit {
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
    /// Do many edits as one, as of a pasted block: all of them or none.
    Many {
        /// What they are together.
        name: String,
        /// In order.
        edits: Vec<Edit>,
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
    /// Add a point to a station with its first reading.
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
    /// Change the title.
    SetTitle(String),
    /// Change the unit lengths are shown in.
    SetUnit(LengthUnit),
    /// Change the notes.
    SetNotes(String),
    /// Change the label of the revision.
    SetRevision(String),
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
    /// Put another document in the place of this one, as an import does.
    Replace(Box<Lines>),
}

/// Why an edit was refused; the document is as it was.
#[derive(Clone, Debug, PartialEq)]
pub enum EditError {
    /// The point is not there.
    NoPoint,
    /// The station is not there.
    NoStation,
    /// The plane is not there.
    NoPlane,
    /// The run line is not there.
    NoRunLine,
    /// The source is not there.
    NoSource,
    /// The line is not there.
    NoLine,
    /// The cell has readings, or a mark already.
    NotTorn {
        /// The point's name.
        point: String,
    },
    /// Readings come from the source.
    Quoted {
        /// Its title.
        source: String,
        /// How many.
        readings: usize,
    },
    /// The point has no such reading.
    NoReading {
        /// The point's name.
        point: String,
        /// Counted from 1.
        number: usize,
        /// How many it has.
        of: usize,
    },
    /// A coordinate that was not read, or whose readings are all set aside, cannot be moved.
    NotRead {
        /// The point's name.
        point: String,
        /// `half-breadth` or `height`.
        coordinate: &'static str,
    },
    /// Setting aside needs a reason.
    NoReason {
        /// The point's name.
        point: String,
    },
    /// Points lie on the plane or the run line, or at the station.
    InUse {
        /// Its name.
        name: String,
        /// How many.
        points: usize,
    },
    /// What would come out breaks a rule.
    Unsound(Fault),
}

impl Message for EditError {
    fn message(&self, unit: LengthUnit) -> String {
        match self {
            Self::NoPoint => "This point is no longer there. Pick another.".to_owned(),
            Self::NoStation => "This station is no longer there. Pick another.".to_owned(),
            Self::NoPlane => "This plane is no longer there. Pick another.".to_owned(),
            Self::NoRunLine => "This run line is no longer there. Pick another.".to_owned(),
            Self::NoLine => "This line is no longer there. Pick another.".to_owned(),
            Self::NoSource => "This source is no longer there. Choose another.".to_owned(),
            Self::NotTorn { point } => format!(
                "{point} is marked or has readings already. Set a reading aside to use it no longer."
            ),
            Self::Quoted { source, readings } => format!(
                "{readings} {} from {source}; it stays as long as they do.",
                if *readings == 1 {
                    "reading comes"
                } else {
                    "readings come"
                }
            ),
            Self::NoReading { point, number, of } => {
                format!("{point} has no reading {number}, only {of}. Pick one of them.")
            }
            Self::NotRead { point, coordinate } => format!(
                "{point} has no {coordinate} in use, so its {coordinate} cannot move. Add a reading of it, or use one \
                 again."
            ),
            Self::NoReason { point } => format!("{point}: say why the reading is set aside."),
            Self::InUse { name, points } => format!(
                "{name} holds {points} {}; it stays as long as they do.",
                if *points == 1 { "point" } else { "points" }
            ),
            Self::Unsound(fault) => fault.message(unit),
        }
    }
}

impl fmt::Display for EditError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.message(LengthUnit::Millimetres))
    }
}

impl core::error::Error for EditError {}

impl From<Fault> for EditError {
    fn from(fault: Fault) -> Self {
        Self::Unsound(fault)
    }
}

impl Edit {
    /// What the step is called beside «Undo»: the place it touches, as «STA 48, WL 32».
    ///
    /// `lines` is the document it is or was applied to.
    #[must_use]
    pub fn name(&self, lines: &Lines) -> String {
        let plane = |id: PlaneId| {
            lines
                .plane(id)
                .map_or_else(|| "plane".to_owned(), |plane| plane.name.clone())
        };
        match self {
            Self::Move(moved) => lines.point_name(moved.point),
            Self::MoveAll(moves) => match moves.as_slice() {
                [only] => lines.point_name(only.point),
                moves => format!("{} points moved", moves.len()),
            },
            Self::LetGo(points) => match points.as_slice() {
                [only] => format!("{} let go", lines.point_name(*only)),
                points => format!("{} points let go", points.len()),
            },
            Self::PutDuck(point) => format!("duck on {}", lines.point_name(*point)),
            Self::LiftDuck(point) => format!("duck lifted from {}", lines.point_name(*point)),
            Self::PutRight { point, .. } => format!("{} put right", lines.point_name(*point)),
            Self::TakeBack { point, .. } => format!("{} as typed", lines.point_name(*point)),
            Self::SetAside { point, .. } => format!("{} set aside", lines.point_name(*point)),
            Self::UseAgain { point, .. } => format!("{} used again", lines.point_name(*point)),
            Self::Keep {
                point, kept: true, ..
            } => format!("{} kept", lines.point_name(*point)),
            Self::Keep { point, .. } => format!("{} in doubt again", lines.point_name(*point)),
            Self::AllowTurns { on, .. } => format!(
                "turns of {}",
                lines.line_name(*on).unwrap_or_else(|| "line".to_owned())
            ),
            Self::Remember(taken) => taken.title.clone(),
            Self::AddNote { point, .. } => format!("note on {}", lines.point_name(*point)),
            Self::SetTolerance { point, .. } => {
                format!("tolerance of {}", lines.point_name(*point))
            }
            Self::Retype { point, .. } => format!("reading of {}", lines.point_name(*point)),
            Self::Many { name, .. } => name.clone(),
            Self::AddReading { point, .. } => format!("reading of {}", lines.point_name(*point)),
            Self::AddPoint { station, on, .. } => format!(
                "{}, {}",
                lines.station_name(*station),
                lines
                    .line_name(*on)
                    .unwrap_or_else(|| "new point".to_owned())
            ),
            Self::AddTorn { station, on } => format!(
                "{}, {} torn",
                lines.station_name(*station),
                lines.line_name(*on).unwrap_or_default()
            ),
            Self::RemoveTorn(point) => format!("{} torn no longer", lines.point_name(*point)),
            Self::RemoveReading { point, .. } => {
                format!("reading of {} taken out", lines.point_name(*point))
            }
            Self::AddSource(title) => format!("source {title}"),
            Self::SetSource(source) => format!("source {}", source.title),
            Self::RemoveSource(id) => {
                let title = lines.source(*id).map_or("source", |source| &source.title);
                format!("{title} taken away")
            }
            Self::SetTitle(_) => "title".to_owned(),
            Self::SetUnit(_) => "unit".to_owned(),
            Self::SetNotes(_) => "notes".to_owned(),
            Self::SetRevision(_) => "revision label".to_owned(),
            Self::AddPlane { name, .. } => name.clone(),
            Self::RemovePlane(id) => format!("{} taken away", plane(*id)),
            Self::RenamePlane { plane: id, .. } => format!("name of {}", plane(*id)),
            Self::AddStation { label, .. } => format!("STA {label}"),
            Self::MoveStation { station, .. } => {
                format!("place of {}", lines.station_name(*station))
            }
            Self::RenameStation { station, .. } => {
                format!("label of {}", lines.station_name(*station))
            }
            Self::RemoveStation(id) => format!("{} taken away", lines.station_name(*id)),
            Self::SetCrossing { side, .. } => format!("centreline at the {}", side.name()),
            Self::SetEnds(_) => "ends".to_owned(),
            Self::AddRunLine { name, .. } => name.clone(),
            Self::SetRunLine(run_line) => run_line.name.clone(),
            Self::RemoveRunLine(id) => {
                let name = lines.run_line(*id).map_or("run line", |line| &line.name);
                format!("{name} taken away")
            }
            Self::SetLaw(Some(_)) => "conic law".to_owned(),
            Self::SetLaw(None) => "conic law taken off".to_owned(),
            Self::Replace(_) => "import".to_owned(),
        }
    }
}

impl Lines {
    /// The document with an edit done; this one stays as it is.
    ///
    /// # Errors
    /// [`EditError`], which names the place and says what would help.
    pub fn apply(&self, edit: &Edit) -> Result<Self, EditError> {
        if let Edit::Replace(lines) = edit {
            return Ok(lines.as_ref().clone()).and_then(Self::if_sound);
        }
        let mut lines = self.clone();
        lines.change(edit)?;
        lines.if_sound()
    }

    fn if_sound(self) -> Result<Self, EditError> {
        match self.first_fault() {
            Some(fault) => Err(fault.into()),
            None => Ok(self),
        }
    }

    fn change(&mut self, edit: &Edit) -> Result<(), EditError> {
        match edit {
            Edit::Move(moved) => self.move_point(*moved)?,
            Edit::MoveAll(moves) => moves.iter().try_for_each(|moved| self.move_point(*moved))?,
            Edit::LetGo(points) => {
                for id in points {
                    let point = self.point_mut(*id)?;
                    (point.accepted_half_breadth, point.accepted_height) = (None, None);
                }
            }
            Edit::PutDuck(point) => self.point_mut(*point)?.duck = true,
            Edit::LiftDuck(point) => self.point_mut(*point)?.duck = false,
            Edit::PutRight {
                point,
                reading,
                half_breadth,
                height,
            } => {
                self.put_right(*point, *reading, [*half_breadth, *height])?;
            }
            Edit::TakeBack { point, reading } => self.take_back(*point, *reading)?,
            Edit::SetAside {
                point,
                reading,
                reason,
            } => self.set_aside(*point, *reading, reason.trim())?,
            Edit::UseAgain { point, reading } => {
                self.reading_mut(*point, *reading)?.set_aside = None;
                self.settle(*point)?;
            }
            Edit::Keep {
                point,
                reading,
                kept,
            } => self.reading_mut(*point, *reading)?.kept = *kept,
            Edit::AllowTurns { on, turns } => self.allow(*on, *turns)?,
            Edit::Remember(taken) => self.remember(taken),
            Edit::AddNote {
                point,
                reading,
                note,
            } => self.add_note(*point, *reading, note.trim())?,
            Edit::SetTolerance {
                point,
                reading,
                tolerance,
            } => {
                self.reading_mut(*point, *reading)?.tolerance = *tolerance;
                self.settle(*point)?;
            }
            Edit::Retype {
                point,
                reading,
                half_breadth,
                height,
            } => {
                self.retype(*point, *reading, [half_breadth, height])?;
            }
            Edit::Many { edits, .. } => edits.iter().try_for_each(|edit| self.change(edit))?,
            Edit::AddReading { point, reading } => {
                self.point_mut(*point)?.readings.push(reading.clone());
                self.settle(*point)?;
            }
            Edit::AddPoint {
                station,
                on,
                reading,
            } => self.put_point(*station, *on, vec![reading.clone()])?,
            Edit::AddTorn { station, on } => self.add_torn(*station, *on)?,
            Edit::RemoveTorn(id) => self.remove_torn(*id)?,
            Edit::RemoveReading { point, reading } => self.remove_reading(*point, *reading)?,
            Edit::AddSource(title) => {
                let id = SourceId(free_number(self.sources.iter().map(|source| source.id.0)));
                self.sources.push(Source::new(id, title));
            }
            Edit::SetSource(source) => self.set_source(source)?,
            Edit::RemoveSource(id) => self.remove_source(*id)?,
            Edit::SetTitle(title) => self.title = title.trim().to_owned(),
            Edit::SetUnit(unit) => self.unit = *unit,
            Edit::SetNotes(notes) => self.notes.clone_from(notes),
            Edit::SetRevision(label) => self.revision = label.trim().to_owned(),
            Edit::AddPlane { name, place } => self.add_plane(name, *place),
            Edit::RemovePlane(id) => self.remove_plane(*id)?,
            Edit::RenamePlane { plane, name } => {
                let found = self.planes.iter_mut().find(|other| other.id == *plane);
                name.trim()
                    .clone_into(&mut found.ok_or(EditError::NoPlane)?.name);
            }
            Edit::AddStation { label, x } => self.add_station(label, *x),
            Edit::MoveStation { station, x } => {
                let at = self.station_index(*station).ok_or(EditError::NoStation)?;
                self.stations[at].x = *x;
                self.in_order();
            }
            Edit::RenameStation { station, label } => {
                let at = self.station_index(*station).ok_or(EditError::NoStation)?;
                label.trim().clone_into(&mut self.stations[at].label);
            }
            Edit::RemoveStation(id) => self.remove_station(*id)?,
            Edit::SetCrossing { side, runs } => match side {
                Side::Crown => self.centreline.crown.clone_from(runs),
                Side::Keel => self.centreline.keel.clone_from(runs),
            },
            Edit::SetEnds(ends) => self.ends = *ends,
            Edit::AddRunLine { name, kind, before } => self.add_run_line(name, *kind, *before)?,
            Edit::SetRunLine(run_line) => {
                let found = self.run_lines.iter_mut().find(|old| old.id == run_line.id);
                let found = found.ok_or(EditError::NoRunLine)?;
                found.clone_from(run_line);
                found.name = run_line.name.trim().to_owned();
            }
            Edit::RemoveRunLine(id) => self.remove_run_line(*id)?,
            Edit::SetLaw(law) => self.law = *law,
            Edit::Replace(lines) => *self = lines.as_ref().clone(),
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

    fn move_point(&mut self, moved: Moved) -> Result<(), EditError> {
        let name = self.point_name(moved.point);
        let deep = self.lies_deep(moved.point);
        let point = self.point_mut(moved.point)?;
        let recorded = point.merged();
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
        if self.lies_deep(id) {
            return Ok(());
        }
        let point = self.point_mut(id)?;
        let recorded = point.merged();
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
                recorded.put_right = (!crate::num::same(value, recorded.mm)).then_some(value);
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
        let place = self
            .points
            .iter()
            .position(after)
            .unwrap_or(self.points.len());
        self.points.insert(place, point);
        Ok(())
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
        let counted = |lines: &Self| -> Vec<[Counted; 2]> {
            let each = lines.points.iter();
            each.map(|point| lines.counted(point.on, new.id)).collect()
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
        ids.into_iter().try_for_each(|id| self.settle(id))
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
        crate::num::put_in_order(&mut self.stations, |a, b| a.x.total_cmp(&b.x));
        let stations = core::mem::take(&mut self.stations);
        let place = |id: StationId| stations.iter().position(|station| station.id == id);
        crate::num::put_in_order(&mut self.points, |a, b| {
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

/// A value in the steps in which accepted ones are kept, mm.
fn kept_step(to: f64) -> f64 {
    libm::round(to / ACCEPTED_STEP) / (1.0 / ACCEPTED_STEP) + 0.0
}

/// The accepted value to keep: to 0.01 mm, and none where that is the recorded one.
fn where_it_differs(to: f64, recorded: f64) -> Option<f64> {
    let kept = kept_step(to);
    let same = (to - recorded).abs() < ACCEPTED_STEP / 2.0
        || (kept - recorded).abs() <= ACCEPTED_STEP / 2.0 + 1e-9;
    (!same).then_some(kept)
}

/// The lowest number above all that are taken.
fn free_number(taken: impl Iterator<Item = u32>) -> u32 {
    taken.max().map_or(0, |most| most.saturating_add(1))
}

#[cfg(test)]
mod tests;
