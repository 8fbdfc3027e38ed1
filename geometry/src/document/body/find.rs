//! Finding a document's parts by their numbers and names, and naming its points as a person does.
//!
//! In: [`Body`]. Out: its parts, and words such as «STA 48, WL 32».

use super::{
    Body, Centreline, Crossing, On, Peak, Place, Plane, PlaneId, Point, PointId, RunKind, RunLine,
    RunLineId, Source, SourceId, Station, StationId,
};
use crate::num;

/// Above or below.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Side {
    /// The upper centreline.
    Crown,
    /// The lower centreline.
    Keel,
}

/// A part of a body with its name, as a fault says it: whoever goes there goes by the id.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Named<Id> {
    /// Which part.
    pub id: Id,
    /// As a person says it, when the fault was found.
    pub name: String,
}

impl<Id> core::fmt::Display for Named<Id> {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        f.write_str(&self.name)
    }
}

impl Side {
    /// `crown` or `keel`.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Crown => "crown",
            Self::Keel => "keel",
        }
    }
}

impl Centreline {
    /// The runs of one side.
    #[must_use]
    pub fn side(&self, side: Side) -> &[Crossing] {
        match side {
            Side::Crown => &self.crown,
            Side::Keel => &self.keel,
        }
    }
}

impl Body {
    /// The source with this id.
    #[must_use]
    pub fn source(&self, id: SourceId) -> Option<&Source> {
        self.sources.iter().find(|source| source.id == id)
    }

    /// The station with this id.
    #[must_use]
    pub fn station(&self, id: StationId) -> Option<&Station> {
        self.stations.iter().find(|station| station.id == id)
    }

    /// The place of a station in the order of x, from 0.
    #[must_use]
    pub fn station_index(&self, id: StationId) -> Option<usize> {
        self.stations.iter().position(|station| station.id == id)
    }

    /// The station called so.
    #[must_use]
    pub fn station_by_label(&self, label: &str) -> Option<&Station> {
        self.stations.iter().find(|station| station.label == label)
    }

    /// The plane with this id.
    #[must_use]
    pub fn plane(&self, id: PlaneId) -> Option<&Plane> {
        self.planes.iter().find(|plane| plane.id == id)
    }

    /// The plane called so, as `WL 32`.
    #[must_use]
    pub fn plane_by_name(&self, name: &str) -> Option<&Plane> {
        self.planes.iter().find(|plane| plane.name == name)
    }

    /// The planes by their levels, the highest first, of buttock lines the outermost; of equal ones the first.
    #[must_use]
    pub fn planes_by_level(&self) -> Vec<&Plane> {
        let mut planes: Vec<&Plane> = self.planes.iter().collect();
        num::put_in_order(&mut planes, |a, b| {
            b.place.level().total_cmp(&a.place.level())
        });
        planes
    }

    /// The run line with this id.
    #[must_use]
    pub fn run_line(&self, id: RunLineId) -> Option<&RunLine> {
        self.run_lines.iter().find(|run_line| run_line.id == id)
    }

    /// The run line called so, as `joint`.
    #[must_use]
    pub fn run_line_by_name(&self, name: &str) -> Option<&RunLine> {
        self.run_lines.iter().find(|run_line| run_line.name == name)
    }

    /// The point with this id.
    #[must_use]
    pub fn point(&self, id: PointId) -> Option<&Point> {
        self.points.iter().find(|point| point.id == id)
    }

    /// The point of a station on a line; on no line, the first such.
    #[must_use]
    pub fn point_on(&self, station: StationId, on: On) -> Option<&Point> {
        self.points
            .iter()
            .find(|point| point.station == station && point.on == on)
    }

    /// The plane a point lies in, where it lies in one.
    #[must_use]
    pub fn place_of(&self, on: On) -> Option<Place> {
        match on {
            On::Plane(id) | On::PlaneUpper(id) => self.plane(id).map(|plane| plane.place),
            On::Crown | On::RunLine(_) | On::Free | On::Keel => None,
        }
    }

    /// The place of x among station numbers, between two of them and beyond the outermost; none where the labels are no
    /// numbers.
    ///
    /// # Units
    /// `x`: mm; the result is in whatever the labels count.
    #[must_use]
    pub fn station_number(&self, x: f64) -> Option<f64> {
        let numbered = self.numbered()?;
        let after = numbered
            .partition_point(|(at, _)| *at < x)
            .clamp(1, numbered.len().max(2) - 1);
        let ((x0, n0), (x1, n1)) = (numbered.get(after - 1)?, numbered.get(after)?);
        Some(n0 + (n1 - n0) * (x - x0) / (x1 - x0))
    }

    /// Where a station number lies, of a station by its label or between two whose labels are numbers; none elsewhere.
    ///
    /// # Units
    /// `number` is what the labels count; the result is `x`, mm.
    #[must_use]
    pub fn x_of_station(&self, number: &str) -> Option<f64> {
        if let Some(station) = self.stations.iter().find(|s| s.label == number) {
            return Some(station.x);
        }
        let number: f64 = number.parse().ok()?;
        let numbered = self.numbered()?;
        let around = |pair: &&[(f64, f64)]| {
            let (a, b) = (pair[0].1, pair[1].1);
            a.min(b) <= number && number <= a.max(b) && (a - b).abs() > 0.0
        };
        let &[(x0, n0), (x1, n1)] = numbered.windows(2).find(around)? else {
            return None;
        };
        Some(x0 + (x1 - x0) * (number - n0) / (n1 - n0))
    }

    /// The stations' x, mm, with their numbers; none where a label is no number.
    fn numbered(&self) -> Option<Vec<(f64, f64)>> {
        let number = |s: &Station| Some((s.x, s.label.parse::<f64>().ok()?));
        self.stations.iter().map(number).collect()
    }

    /// Whether a law could shape what so few points leave open: there is none as yet, a smooth run line could be its breadth,
    /// and no section has more points than the five of a law's control body.
    #[must_use]
    pub fn suits_a_law(&self) -> bool {
        const CONTROLS: usize = 5;
        let smooth = self
            .run_lines
            .iter()
            .any(|line| line.kind == RunKind::Smooth);
        let few = |station: &Station| {
            let here = self.points.iter().filter(|p| p.station == station.id);
            here.filter(|p| p.used().next().is_some()).count() <= CONTROLS
        };
        self.law.is_none() && smooth && self.stations.iter().all(few)
    }

    /// The station nearest to x, the foremost of two as near.
    ///
    /// # Units
    /// `x`: mm.
    #[must_use]
    pub fn nearest_station(&self, x: f64) -> Option<&Station> {
        let near = |a: &&Station, b: &&Station| (a.x - x).abs().total_cmp(&(b.x - x).abs());
        self.stations.iter().min_by(near)
    }

    /// A stretch as every list and drawing names it: by the stations nearest to its ends, «STA 90–112», or «STA 90».
    ///
    /// # Units
    /// mm, in either order.
    #[must_use]
    pub fn stretch_name(&self, from: f64, to: f64) -> String {
        let ends = [from.min(to), from.max(to)].map(|x| self.nearest_station(x));
        let [Some(from), Some(to)] = ends else {
            return String::new();
        };
        let words = station_words(&from.label);
        if from.id == to.id {
            words
        } else {
            format!("{words}–{}", to.label)
        }
    }

    /// A line's name as a person says it: `WL 32`, `BL 4 U`, `joint`, `crown`; none for [`On::Free`] and unknown ids.
    #[must_use]
    pub fn line_name(&self, on: On) -> Option<String> {
        match on {
            On::Crown => Some("crown".to_owned()),
            On::Keel => Some("keel".to_owned()),
            On::Plane(id) => self.plane(id).map(|plane| plane.name.clone()),
            On::PlaneUpper(id) => self.plane(id).map(|plane| format!("{} U", plane.name)),
            On::RunLine(id) => self.run_line(id).map(|run_line| run_line.name.clone()),
            On::Free => None,
        }
    }

    /// A point's name as a person says it: «STA 48, WL 32», «STA 48, point 3» where it lies on no named line.
    ///
    /// An unknown id is «no such point».
    #[must_use]
    pub fn point_name(&self, id: PointId) -> String {
        self.point(id)
            .map_or_else(|| "no such point".to_owned(), |point| self.name_of(point))
    }

    /// A point with its name, see [`Body::point_name`].
    #[must_use]
    pub fn named_point(&self, id: PointId) -> Named<PointId> {
        let name = self.point_name(id);
        Named { id, name }
    }

    /// The names of all points, see [`Body::point_name`]: of many at once it costs less than one by one.
    #[must_use]
    pub fn point_names(&self) -> std::collections::BTreeMap<PointId, String> {
        let mut counts = std::collections::BTreeMap::new();
        let name = |point: &Point| {
            let number = counts.entry(point.station).or_insert(0_usize);
            *number += 1;
            let name = match self.line_name(point.on) {
                Some(line) => format!("{}, {line}", self.station_name(point.station)),
                None => format!("{}, point {number}", self.station_name(point.station)),
            };
            (point.id, name)
        };
        self.points.iter().map(name).collect()
    }

    /// The name of a point, see [`Body::point_name`].
    #[must_use]
    pub fn name_of(&self, point: &Point) -> String {
        let station = self.station_name(point.station);
        let line = self.line_name(point.on).unwrap_or_else(|| {
            let number = self
                .points
                .iter()
                .filter(|other| other.station == point.station)
                .position(|p| p.id == point.id);
            format!("point {}", number.map_or(0, |n| n + 1))
        });
        format!("{station}, {line}")
    }

    /// «STA 48»; a label that says so already is left as it is.
    #[must_use]
    pub fn station_name(&self, id: StationId) -> String {
        self.station(id).map_or_else(
            || "no such station".to_owned(),
            |station| station_words(&station.label),
        )
    }

    /// A station with its name, see [`Body::station_name`].
    #[must_use]
    pub fn named_station(&self, id: StationId) -> Named<StationId> {
        let name = self.station_name(id);
        Named { id, name }
    }

    /// A run line with its name; an unknown id has none.
    #[must_use]
    pub fn named_run_line(&self, id: RunLineId) -> Named<RunLineId> {
        let name = self.line_name(On::RunLine(id)).unwrap_or_default();
        Named { id, name }
    }

    /// How the section at a station crosses the centre plane.
    #[must_use]
    pub fn peak(&self, side: Side, station: StationId) -> Peak {
        let Some(at) = self.station_index(station) else {
            return Peak::Smooth;
        };
        self.centreline
            .side(side)
            .iter()
            .find(|run| {
                run.to
                    .and_then(|to| self.station_index(to))
                    .is_none_or(|to| at <= to)
            })
            .map_or(Peak::Smooth, |run| run.form)
    }
}

/// `48` as «STA 48»; `STA 48` as it is.
#[must_use]
pub fn station_words(label: &str) -> String {
    let says_so = label
        .get(..3)
        .is_some_and(|start| start.eq_ignore_ascii_case("sta"));
    if says_so {
        label.to_owned()
    } else {
        format!("STA {label}")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_station_is_found_by_its_label_or_between_two_that_are_numbers() {
        let at = |label: &str, x: f64| Station {
            id: StationId(0),
            label: label.to_owned(),
            x,
        };
        let mut body = Body {
            stations: vec![at("0", 0.0), at("2", 660.0), at("3", 940.0)],
            ..Body::empty()
        };
        let found = |body: &Body, number: &str| body.x_of_station(number);
        assert_eq!(found(&body, "3"), Some(940.0));
        assert_eq!(found(&body, "2.5"), Some(800.0));
        assert_eq!(found(&body, "1"), Some(330.0));
        assert_eq!(found(&body, "700"), None);
        assert_eq!(found(&body, "x"), None);
        body.stations.push(at("tail", 1200.0));
        assert_eq!(found(&body, "tail"), Some(1200.0));
        assert_eq!(found(&body, "2.5"), None);
    }
}
