//! From the entries of a table to a fresh document.
//!
//! In: entries. Out: the [`Preview`] with its document: planes and run lines named and placed, points in order round
//! the girth, readings merged by point, and a guess how the sections cross the centre plane.

use std::collections::BTreeMap;

use super::cell::{LineName, ON_PLANE};
use super::centreline::{bound_by_the_outermost, guess_crossing};
use super::table::{Entry, Read};
use super::{CellFault, Finding, MOST_TOLD, PasteError, Preview, Separator, TableOptions};
use crate::document::{
    About, Body, Lines, Offset, On, Place, Plane, PlaneId, Point, PointId, Reading, RunKind,
    RunLine, RunLineId, Side, Source, SourceId, Station, StationId,
};
use crate::num;
use crate::units::{DecimalMark, LengthUnit, parse_length_marked};

pub(super) fn preview(
    mut read: Read,
    options: &TableOptions,
    separator: Separator,
    decimal_mark: DecimalMark,
) -> Result<Preview, PasteError> {
    let entries = core::mem::take(&mut read.entries);
    let mut draft = Draft::new(&entries, options);
    draft.numbers_in(&entries, &mut read);
    for entry in entries {
        draft.take(entry, &mut read);
    }
    let values = draft
        .body
        .points
        .iter()
        .map(|point| point.readings.len())
        .sum();
    if values == 0 {
        return Err(PasteError::NothingRead(read.refused, read.unit));
    }
    draft.tolerances(&mut read);
    let title = options.title.as_deref().unwrap_or("Pasted offsets");
    let about = About {
        notes: core::mem::take(&mut read.notes),
        ..About::new(title, read.unit)
    };
    let mut lines = Lines::new(about, draft.body);
    if let Some(fault) = lines.first_fault() {
        return Err(PasteError::Unsound(fault));
    }
    let body = lines.body_mut();
    bound_by_the_outermost(body, &mut read.findings);
    put_in_order(body);
    outside(body, &mut read.findings);
    for side in [Side::Crown, Side::Keel] {
        guess_crossing(body, side, &mut read.findings);
    }
    lines.assert_sound();
    if read.findings.len() > MOST_TOLD {
        let more = read.findings.len() - MOST_TOLD;
        read.findings.truncate(MOST_TOLD);
        read.findings.push(Finding::More(more));
    }
    Ok(Preview {
        form: read.form,
        separator,
        decimal_mark,
        unit: read.unit,
        rows: read.rows,
        stations: lines.body.stations.len(),
        values,
        torn: read.torn,
        refused: read.refused,
        refused_count: read.refused_count,
        findings: read.findings,
        understood: read.recorder.understood,
        lines,
    })
}

/// A document while it is put together.
struct Draft {
    body: Body,
    number_unit: Option<LengthUnit>,
    stations: BTreeMap<String, StationId>,
    sources: BTreeMap<String, SourceId>,
    points: BTreeMap<(StationId, On), usize>,
    default_source: String,
    tolerance: Option<f64>,
    given: Vec<f64>,
}

/// The next number of a list.
fn next<T>(list: &[T]) -> u32 {
    u32::try_from(list.len()).unwrap_or(u32::MAX)
}

impl Draft {
    fn new(entries: &[Entry], options: &TableOptions) -> Self {
        let mut places: BTreeMap<&str, f64> = BTreeMap::new();
        for entry in entries {
            places.entry(&entry.station).or_insert(entry.x);
        }
        let mut order: Vec<(&str, f64)> = places.into_iter().collect();
        num::put_in_order(&mut order, |a, b| a.1.total_cmp(&b.1));
        let stations: Vec<Station> = (0..u32::MAX)
            .zip(order)
            .map(|(id, (label, x))| Station {
                id: StationId(id),
                label: label.to_owned(),
                x,
            })
            .collect();
        Self {
            number_unit: None,
            stations: stations
                .iter()
                .map(|station| (station.label.clone(), station.id))
                .collect(),
            sources: BTreeMap::new(),
            points: BTreeMap::new(),
            default_source: options
                .source
                .clone()
                .unwrap_or_else(|| "Pasted table".to_owned()),
            tolerance: options.tolerance,
            given: Vec::new(),
            body: Body {
                stations,
                ..Body::empty()
            },
        }
    }

    /// Which unit the lines' numbers have: the table's, unless the given coordinates say another.
    fn numbers_in(&mut self, entries: &[Entry], read: &mut Read) {
        let given: Vec<(&str, f64)> = entries
            .iter()
            .filter(|entry| entry.number_unit.is_none())
            .filter_map(|entry| match &entry.line {
                LineName::Waterline(figure) => Some((figure.as_str(), entry.height.as_ref()?.mm)),
                LineName::Buttock(figure) | LineName::ButtockUpper(figure) => {
                    Some((figure.as_str(), entry.half_breadth.as_ref()?.mm))
                }
                LineName::Crown | LineName::Keel | LineName::Named(_) | LineName::Free => None,
            })
            .collect();
        let agree = |unit: LengthUnit| {
            let agrees = |&&(figure, mm): &&(&str, f64)| {
                parse_length_marked(figure, unit, read.mark)
                    .is_ok_and(|plane| (plane - mm).abs() <= ON_PLANE)
            };
            2 * given.iter().filter(agrees).count() > given.len()
        };
        if given.is_empty() || agree(read.unit) {
            return;
        }
        self.number_unit = [LengthUnit::Inches, LengthUnit::Millimetres]
            .into_iter()
            .find(|unit| agree(*unit));
        if let Some(unit) = self.number_unit {
            read.findings.push(Finding::NumbersIn(unit));
        }
    }

    fn take(&mut self, mut entry: Entry, read: &mut Read) {
        let Some(&station) = self.stations.get(&entry.station) else {
            return;
        };
        let on = match self.on(&entry, read) {
            Ok(on) => on,
            Err(fault) => {
                let head = entry.line.shown();
                read.recorder.refused_after_all(entry.shown);
                read.refuse_only(entry.place, &head, &head, fault);
                return;
            }
        };
        let point = match self.points.get(&(station, on)) {
            Some(&at) if on != On::Free => at,
            _ => {
                let id = PointId(next(&self.body.points));
                let point = Point::new(id, station, on, Vec::new());
                self.body.points.push(point);
                self.points
                    .insert((station, on), self.body.points.len() - 1);
                self.body.points.len() - 1
            }
        };
        if entry.half_breadth.is_none() && entry.height.is_none() {
            return;
        }
        self.drop_the_plane_s_own(&mut entry, on, point, read);
        let tolerance = entry.tolerance.unwrap_or_else(|| {
            let given = self.tolerance.unwrap_or(entry.suggested);
            self.given.push(given);
            given
        });
        let source = self.source(entry.source);
        self.body.points[point].readings.push(Reading {
            source,
            half_breadth: entry.half_breadth,
            height: entry.height,
            tolerance,
            set_aside: entry.set_aside,
            kept: false,
            note: entry.note,
            circumstances: None,
        });
    }

    fn source(&mut self, title: String) -> SourceId {
        let title = if title.is_empty() {
            self.default_source.clone()
        } else {
            title
        };
        if let Some(id) = self.sources.get(&title) {
            return *id;
        }
        let id = SourceId(next(&self.body.sources));
        self.sources.insert(title.clone(), id);
        self.body.sources.push(Source::new(id, &title));
        id
    }

    /// A row may give its plane's own coordinate: it is checked, and not kept.
    fn drop_the_plane_s_own(&self, entry: &mut Entry, on: On, point: usize, read: &mut Read) {
        let (own, plane) = match (on, self.body.place_of(on)) {
            (On::Crown | On::Keel, _) => (entry.half_breadth.take(), 0.0),
            (_, Some(Place::Waterline(z))) => (entry.height.take(), z),
            (_, Some(Place::Buttock(y))) => (entry.half_breadth.take(), y),
            _ => return,
        };
        if let Some(own) = own.filter(|own| (own.mm - plane).abs() > ON_PLANE) {
            let words = format!("gives {} for its line's own place", own.typed);
            entry.note = if entry.note.is_empty() {
                words
            } else {
                format!("{}; {words}", entry.note)
            };
            let point = self.body.name_of(&self.body.points[point]);
            read.findings.push(Finding::OffPlane {
                row: entry.place.0,
                point,
                given: own.mm,
                plane,
            });
        }
    }

    fn on(&mut self, entry: &Entry, read: &mut Read) -> Result<On, CellFault> {
        let unit = entry.number_unit.or(self.number_unit).unwrap_or(read.unit);
        let place =
            |figure: &str| parse_length_marked(figure, unit, read.mark).map_err(CellFault::Length);
        Ok(match &entry.line {
            LineName::Crown => On::Crown,
            LineName::Keel => On::Keel,
            LineName::Free => On::Free,
            LineName::Waterline(figure) => {
                let z = place(figure)?;
                On::Plane(self.plane(&format!("WL {figure}"), Place::Waterline(z)))
            }
            LineName::Buttock(figure) => {
                let y = place(figure)?;
                On::Plane(self.plane(&format!("BL {figure}"), Place::Buttock(y)))
            }
            LineName::ButtockUpper(figure) => {
                let y = place(figure)?;
                On::PlaneUpper(self.plane(&format!("BL {figure}"), Place::Buttock(y)))
            }
            LineName::Named(name) => On::RunLine(self.run_line(name, read)),
        })
    }

    /// The plane that lies there, by whatever name; else a new one.
    fn plane(&mut self, name: &str, place: Place) -> PlaneId {
        let same = |other: Place| match (place, other) {
            (Place::Waterline(a), Place::Waterline(b)) | (Place::Buttock(a), Place::Buttock(b)) => {
                (a - b).abs() <= num::SAME_POINT
            }
            _ => false,
        };
        if let Some(plane) = self.body.planes.iter().find(|plane| same(plane.place)) {
            return plane.id;
        }
        let id = PlaneId(next(&self.body.planes));
        self.body.planes.push(Plane {
            id,
            name: name.to_owned(),
            place,
        });
        id
    }

    fn run_line(&mut self, name: &str, read: &mut Read) -> RunLineId {
        if let Some(run_line) = self
            .body
            .run_lines
            .iter()
            .find(|other| other.name.eq_ignore_ascii_case(name))
        {
            return run_line.id;
        }
        let lower = name.to_lowercase();
        let mut joint = lower.contains("joint");
        if joint && self.body.run_lines.iter().any(|other| other.joint) {
            joint = false;
            read.findings.push(Finding::SecondJoint(name.to_owned()));
        }
        let kind = if lower.contains("knuckle") {
            RunKind::Knuckle
        } else {
            RunKind::Smooth
        };
        let id = RunLineId(next(&self.body.run_lines));
        self.body.run_lines.push(RunLine {
            id,
            name: name.to_owned(),
            kind,
            joint,
        });
        id
    }

    fn tolerances(&self, read: &mut Read) {
        if let (Some(least), Some(most)) = (
            self.given.iter().copied().reduce(f64::min),
            self.given.iter().copied().reduce(f64::max),
        ) {
            read.findings.push(Finding::ToleranceGiven {
                readings: self.given.len(),
                least,
                most,
            });
        }
    }
}

/// Puts planes, run lines and points in their orders, and numbers them anew.
fn put_in_order(body: &mut Body) {
    let rank = |place: Place| match place {
        Place::Waterline(z) => (0, -z),
        Place::Buttock(y) => (1, -y),
        Place::Diagonal { height, .. } => (2, -height),
    };
    num::put_in_order(&mut body.planes, |a, b| {
        let (a, b) = (rank(a.place), rank(b.place));
        a.0.cmp(&b.0).then(a.1.total_cmp(&b.1))
    });
    let offsets = body.offsets();
    let girth_place = |id: RunLineId| {
        let places: Vec<f64> = offsets
            .iter()
            .filter_map(|section| {
                let at = section
                    .iter()
                    .position(|offset| offset.on == On::RunLine(id))?;
                Some(index(at) / index(section.len()))
            })
            .collect();
        places.iter().sum::<f64>() / index(places.len().max(1))
    };
    let mut run_lines: Vec<(f64, RunLine)> = body
        .run_lines
        .drain(..)
        .map(|run_line| (girth_place(run_line.id), run_line))
        .collect();
    num::put_in_order(&mut run_lines, |a, b| a.0.total_cmp(&b.0));
    body.run_lines = run_lines
        .into_iter()
        .map(|(_, run_line)| run_line)
        .collect();

    let mut points: BTreeMap<PointId, Point> = body
        .points
        .drain(..)
        .map(|point| (point.id, point))
        .collect();
    let mut torn: BTreeMap<StationId, Vec<PointId>> = BTreeMap::new();
    let placed: std::collections::BTreeSet<PointId> = offsets
        .iter()
        .flatten()
        .map(|offset| offset.point)
        .collect();
    for point in points.values().filter(|point| !placed.contains(&point.id)) {
        torn.entry(point.station).or_default().push(point.id);
    }
    for (station, section) in body.stations.iter().zip(&offsets) {
        let mut order: Vec<PointId> = section.iter().map(|offset| offset.point).collect();
        for id in torn.remove(&station.id).unwrap_or_default() {
            let at = points.get(&id).map_or(order.len(), |point| {
                torn_place(body, point, section, &order)
            });
            order.insert(at, id);
        }
        body.points
            .extend(order.iter().filter_map(|id| points.remove(id)));
    }
    renumber(body);
}

/// Where a point without a value would stand: before the first point below its waterline, else before the keel.
fn torn_place(body: &Body, point: &Point, section: &[Offset], order: &[PointId]) -> usize {
    let before = section
        .iter()
        .find(|offset| match (point.on, body.place_of(point.on)) {
            (On::Crown, _) => true,
            (_, Some(Place::Waterline(z))) => offset.recorded[1] < z,
            _ => offset.on == On::Keel,
        });
    before
        .and_then(|offset| order.iter().position(|id| *id == offset.point))
        .unwrap_or(order.len())
}

fn index(n: usize) -> f64 {
    u32::try_from(n).map_or(f64::MAX, f64::from)
}

fn renumber(body: &mut Body) {
    let planes: BTreeMap<PlaneId, PlaneId> = body
        .planes
        .iter()
        .zip(0..)
        .map(|(plane, n)| (plane.id, PlaneId(n)))
        .collect();
    let run_lines: BTreeMap<RunLineId, RunLineId> = body
        .run_lines
        .iter()
        .zip(0..)
        .map(|(run_line, n)| (run_line.id, RunLineId(n)))
        .collect();
    for (plane, n) in body.planes.iter_mut().zip(0..) {
        plane.id = PlaneId(n);
    }
    for (run_line, n) in body.run_lines.iter_mut().zip(0..) {
        run_line.id = RunLineId(n);
    }
    let plane = |id: PlaneId| planes.get(&id).copied().unwrap_or(id);
    for (point, n) in body.points.iter_mut().zip(0..) {
        point.id = PointId(n);
        point.on = match point.on {
            On::Plane(id) => On::Plane(plane(id)),
            On::PlaneUpper(id) => On::PlaneUpper(plane(id)),
            On::RunLine(id) => On::RunLine(run_lines.get(&id).copied().unwrap_or(id)),
            on @ (On::Crown | On::Free | On::Keel) => on,
        };
    }
}

/// Questions planes that lie outside all that was read of the body.
fn outside(body: &Body, findings: &mut Vec<Finding>) {
    let offsets: Vec<Offset> = body.offsets().into_iter().flatten().collect();
    let on_a =
        |offset: &&Offset, wanted: fn(Place) -> bool| body.place_of(offset.on).is_some_and(wanted);
    let is_waterline = |place| matches!(place, Place::Waterline(_));
    let is_buttock = |place| matches!(place, Place::Buttock(_));
    let range = |values: &mut dyn Iterator<Item = f64>| {
        values.fold(None, |range: Option<(f64, f64)>, v| {
            Some(range.map_or((v, v), |(low, high)| (low.min(v), high.max(v))))
        })
    };
    // Heights that were read, not those of the waterlines in question; and the same for half-breadths.
    let heights = range(
        &mut offsets
            .iter()
            .filter(|o| !on_a(o, is_waterline))
            .map(|o| o.recorded[1]),
    );
    let breadths = range(
        &mut offsets
            .iter()
            .filter(|o| !on_a(o, is_buttock))
            .map(|o| o.recorded[0]),
    );
    for plane in &body.planes {
        let (at, body) = match plane.place {
            Place::Waterline(z) => (z, heights.filter(|(low, high)| high - low > ON_PLANE)),
            Place::Buttock(y) => (
                y,
                breadths
                    .map(|(_, high)| (0.0, high))
                    .filter(|(_, high)| *high > ON_PLANE),
            ),
            Place::Diagonal { height, .. } => (height, heights),
        };
        if let Some(body) = body.and_then(|(low, high)| {
            if at < low {
                Some(low)
            } else {
                (at > high).then_some(high)
            }
        }) {
            findings.push(Finding::OutsideBody {
                line: plane.name.clone(),
                at,
                body,
            });
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::{TableLayout, read_table};
    use super::*;
    use crate::document::{Crossing, Peak};
    use crate::units::Message;

    fn file(name: &str) -> Preview {
        let path = format!("{}/../tests/data/{name}", env!("CARGO_MANIFEST_DIR"));
        read_table(&std::fs::read(path).unwrap(), &TableOptions::default()).unwrap()
    }

    #[test]
    fn the_paper_table_of_the_demo_is_read_whole() {
        let preview = file("demo_offsets_sheet.csv");
        assert_eq!(preview.form, TableLayout::StationsDown);
        assert_eq!(preview.unit, LengthUnit::FeetInchesEighths);
        assert_eq!(
            (preview.stations, preview.values, preview.refused_count),
            (16, 185, 0)
        );
        let torn: Vec<String> = preview.torn.iter().map(ToString::to_string).collect();
        assert_eq!(torn, ["STA 123, BL 4", "STA 134, BL 4", "STA 146, WL 28"]);
        let lines = preview.lines();
        assert_eq!(
            lines.body.centreline.crown,
            [Crossing {
                to: None,
                form: Peak::Peaked
            }]
        );
        assert_eq!(lines.body.centreline.keel, []);
        assert!(lines.body.run_line_by_name("joint").unwrap().joint);
        assert!((lines.body.station_by_label("158").unwrap().x - 4013.2).abs() < 1e-9);
        assert!(
            (lines
                .body
                .points
                .iter()
                .map(|p| p.readings.len())
                .sum::<usize>())
                == 185
        );
    }

    #[test]
    fn the_long_table_of_the_demo_has_one_contradiction() {
        let preview = file("demo_offsets.csv");
        assert_eq!(preview.form, TableLayout::Long);
        assert_eq!(
            (preview.stations, preview.values, preview.refused_count),
            (16, 186, 0)
        );
        let lines = preview.lines();
        let against = lines.body.contradictions();
        assert_eq!(against.len(), 1, "{against:?}");
        assert_eq!(lines.body.point_name(against[0].point), "STA 38, WL 36");
        assert!(
            !preview
                .findings
                .iter()
                .any(|f| matches!(f, Finding::OffPlane { .. } | Finding::OutsideBody { .. })),
            "{:?}",
            preview.findings
        );
    }

    #[test]
    fn both_tables_give_the_same_offsets() {
        let named = |lines: &Lines| {
            let mut all: Vec<(String, [f64; 2])> = lines
                .body
                .offsets()
                .iter()
                .flatten()
                .map(|o| (lines.body.point_name(o.point), o.recorded))
                .collect();
            all.sort_by(|a, b| a.0.cmp(&b.0));
            all
        };
        let (long, paper) = (
            named(&file("demo_offsets.csv").lines()),
            named(&file("demo_offsets_sheet.csv").lines()),
        );
        assert_eq!(long.len(), 185);
        for (a, b) in long.iter().zip(&paper) {
            assert_eq!(a.0, b.0);
            assert!(
                (a.1[0] - b.1[0]).abs() < 1e-9 && (a.1[1] - b.1[1]).abs() < 1e-9,
                "{a:?} {b:?}"
            );
        }
    }

    #[test]
    fn a_table_turned_over_says_the_same() {
        let text = "STA (in),crown,WL 8,keel\n0,1-0-0,0-6-1+,0-4-0\n48,0-11-4,?,0-4-1\n";
        let over =
            "line\tSTA 0\tSTA 48\ncrown\t1-0-0\t0-11-4\nWL 8\t0-6-1+\t?\nkeel\t0-4-0\t0-4-1\n";
        let (a, b) = [text, over]
            .map(|t| read_table(t.as_bytes(), &TableOptions::default()).unwrap())
            .into();
        assert_eq!(
            (a.form, b.form),
            (TableLayout::StationsDown, TableLayout::StationsAcross)
        );
        assert_eq!((a.values, b.values), (5, 5));
        let values = |p: &Preview| {
            let mut v: Vec<String> = p
                .lines()
                .body
                .offsets()
                .iter()
                .flatten()
                .map(|o| format!("{:?} {:?}", o.on, o.recorded))
                .collect();
            v.sort();
            v
        };
        assert_eq!(values(&a), values(&b));
    }

    #[test]
    fn semicolons_and_decimal_commas_are_guessed() {
        let text = "x;line;half_breadth_mm;height_mm\n0;keel;;12,5\n0;crown;;112,5\n100;keel;;14,25\n100;crown;;110\n";
        let preview = read_table(text.as_bytes(), &TableOptions::default()).unwrap();
        assert_eq!(
            (preview.separator, preview.decimal_mark),
            (Separator::Semicolon, DecimalMark::Comma)
        );
        assert_eq!(preview.values, 4);
        assert!((preview.lines().body.offsets()[1][1].recorded[1] - 14.25).abs() < 1e-12);
    }

    #[test]
    fn a_refused_cell_is_named_and_its_place_stays() {
        let text = "STA (in),crown,WL 8,keel\n0,1-0-0,0-6-9,0-4-0\n48,0-11-4,0-6-0,2004-02-01\n";
        let preview = read_table(text.as_bytes(), &TableOptions::default()).unwrap();
        assert_eq!(preview.refused_count, 2);
        assert_eq!(
            (preview.refused[0].row, preview.refused[0].head.as_str()),
            (2, "WL 8")
        );
        assert_eq!(preview.lines().body.torn().len(), 2);
    }

    /// The rows that were read, as their labels, and what is said of those taken as comments.
    fn stations_and_comments(text: &str) -> (Vec<String>, Vec<String>) {
        let preview = read_table(text.as_bytes(), &TableOptions::default()).unwrap();
        let labels = preview.lines().body.stations.clone().into_iter();
        let comments =
            { preview.findings.iter() }.filter(|f| matches!(f, Finding::Comments { .. }));
        let refused = preview
            .refused
            .iter()
            .map(|cell| cell.message(preview.unit));
        (
            labels.map(|station| station.label).collect(),
            comments
                .map(|finding| finding.message(preview.unit))
                .chain(refused)
                .collect(),
        )
    }

    /// The number of a plane that is no length is refused once, in its head, whatever the count of its stations.
    #[test]
    fn a_head_whose_plane_cannot_be_placed_is_refused_once() {
        let mut text = "STA,x mm,crown,WL 24 aft,BL 3-,keel\n".to_owned();
        for n in 0..40 {
            text += &format!("{n},{}.5,200.5,80.5,,100.5\n", 10 * n);
        }
        let preview = read_table(text.as_bytes(), &TableOptions::default()).unwrap();
        let refused: Vec<String> = { preview.refused.iter() }
            .map(|cell| cell.message(preview.unit))
            .collect();
        assert_eq!(refused.len(), 1, "{refused:?}");
        assert!(
            refused[0].starts_with("Row 1, head (D1): `WL 24 aft`. `24 aft` is not a length"),
            "{}",
            refused[0]
        );
        assert_eq!((preview.stations, preview.values), (40, 80));
        let column = &preview.understood.columns[3];
        assert_eq!(
            (column.message(preview.unit).as_str(), column.unit),
            ("not taken", None)
        );
    }

    /// Wherever the station's column stands, its faults are told there; else in the column of places.
    #[test]
    fn a_station_that_lies_elsewhere_is_refused_in_its_own_column() {
        let faults = |text: &str| {
            let preview = read_table(text.as_bytes(), &TableOptions::default()).unwrap();
            let told = { preview.refused.iter() }.map(|cell| (cell.address(), cell.fault.clone()));
            told.collect::<Vec<_>>()
        };
        let other = |at: f64| CellFault::OtherPlace(at);
        assert_eq!(
            faults("line,height_mm,station,x_mm\nkeel,12,4,100\ncrown,40,4,200\ncrown,41,aft,\n"),
            [
                ("C3".to_owned(), other(100.0)),
                ("C4".to_owned(), CellFault::NoPlace)
            ]
        );
        assert_eq!(
            faults("line,height_mm,x_mm\nkeel,12,100\ncrown,40,?\n"),
            [("C3".to_owned(), CellFault::NoPlace)]
        );
    }

    #[test]
    fn a_number_sign_before_a_stations_number_is_its_label() {
        let (labels, said) = stations_and_comments(
            "x (mm),station,line,height (mm)\n0,#1,keel,100\n500,#12,keel,90\n900,#REF!,keel,90\n950,####,keel,90\n",
        );
        assert_eq!(labels, ["#1", "#12"]);
        assert_eq!(said.len(), 2, "{said:?}");
        for (says, text) in said.iter().zip(["#REF!", "####"]) {
            let error = format!("`{text}` is an error of a spreadsheet");
            assert!(says.contains(&error), "{says}");
        }
    }

    #[test]
    fn rows_taken_as_comments_are_counted() {
        let (labels, said) = stations_and_comments(
            "##########\n# As painted\nSTA,x mm,keel (mm)\n\r\n1,0,100\n#12,10,99\n####,20,98\n#N/D,30,97\n2,40,96\n# end",
        );
        assert_eq!(labels, ["1", "2"]);
        assert_eq!(
            said[0],
            "4 rows begin with # and were passed over as comments; the first is row 1: #########"
        );
        // Rows that begin with a spreadsheet's error are refused where they stand.
        assert!(
            said[1].starts_with("Row 7, station (A7): `####` is an error"),
            "{}",
            said[1]
        );
        assert!(
            said[2].starts_with("Row 8, station (A8): `#N/D` is an error"),
            "{}",
            said[2]
        );
        assert_eq!(said.len(), 3);
        let (_, said) = stations_and_comments("STA,x mm,keel (mm)\n1,0,100\n#12,10,99\n2,20,98\n");
        assert_eq!(
            said,
            ["Row 3 begins with # and was passed over as a comment: 12,10,99"]
        );
        let (_, said) = stations_and_comments("STA,x mm,keel (mm)\n1,0,100\n2,20,98\n");
        assert_eq!(said, [""; 0]);
    }
}
