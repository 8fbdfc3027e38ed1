//! A document out of the entries of a table.
//!
//! In: what the table says, entry by entry. Out: the [`Preview`] with its fresh document, or why there is none.

use std::collections::BTreeMap;

use super::cell::{LineName, ON_PLANE};
use super::table::{Entry, Read};
use super::{Finding, MOST_TOLD, PasteError, Preview, Separator, TableOptions};
use crate::document::rules::{LONGEST_NOTE, LONGEST_NOTES};
use crate::document::{
    Centreline, Crossing, Ends, LOFT_METHOD, Lines, On, Peak, Place, Plane, PlaneId, Point,
    PointId, Reading, Recorded, RunKind, RunLine, RunLineId, Shop, Side, Source, SourceId, Station,
    StationId,
};
use crate::num;
use crate::units::{DecimalMark, LengthUnit, parse_length_marked};

/// Slope at the centre plane over that of the first chord, above which a section is taken as peaked.
const PEAKED: f64 = 0.5;

pub(super) fn preview(
    mut read: Read,
    options: &TableOptions,
    separator: Separator,
    decimal_mark: DecimalMark,
) -> Result<Preview, PasteError> {
    let values = read
        .entries
        .iter()
        .filter(|e| e.half_breadth.is_some() || e.height.is_some())
        .count();
    if values == 0 {
        return Err(PasteError::NothingRead(read.refused));
    }
    let number_unit = numbers_in(&mut read);
    let mut lines = Lines {
        title: options
            .title
            .clone()
            .unwrap_or_else(|| "Pasted offsets".to_owned()),
        notes: read.notes.chars().take(LONGEST_NOTES).collect(),
        revision: String::new(),
        unit: read.unit,
        method: LOFT_METHOD,
        sources: Vec::new(),
        stations: stations(&read.entries),
        ends: Ends::default(),
        planes: Vec::new(),
        run_lines: Vec::new(),
        points: Vec::new(),
        centreline: Centreline::default(),
        shop: Shop::default(),
    };
    let given = points(&mut lines, &mut read, options, number_unit);
    if let Some((count, least, most)) = given {
        read.findings.push(Finding::ToleranceGiven {
            readings: count,
            least,
            most,
        });
    }
    order_run_lines(&mut lines, &mut read.findings);
    lines.centreline = crossings(&lines, &mut read.findings);
    outside_body(&lines, &mut read.findings);
    if let Some(fault) = lines.first_fault() {
        return Err(PasteError::Unsound(fault));
    }
    let more = read.findings.len().saturating_sub(MOST_TOLD);
    if more > 0 {
        read.findings.truncate(MOST_TOLD);
        read.findings.push(Finding::More(more));
    }
    Ok(Preview {
        form: read.form,
        separator,
        decimal_mark,
        unit: read.unit,
        rows: read.rows,
        stations: lines.stations.len(),
        values,
        torn: read.torn,
        refused: read.refused,
        refused_count: read.refused_count,
        findings: read.findings,
        lines,
    })
}

/// The figure of a plane's name in millimetres, read in `unit`.
fn figure(text: &str, unit: LengthUnit, mark: DecimalMark) -> Option<f64> {
    // A bare `44` in a table of feet-inches-eighths is inches.
    let unit = if unit == LengthUnit::FeetInchesEighths {
        LengthUnit::Inches
    } else {
        unit
    };
    parse_length_marked(text, unit, mark).ok()
}

/// The unit of lines' numbers: the table's, unless the coordinates given beside them say another.
fn numbers_in(read: &mut Read) -> LengthUnit {
    let agree = |unit: LengthUnit| {
        let mut counted = (0_usize, 0_usize);
        for entry in &read.entries {
            let (text, own) = match (&entry.line, &entry.half_breadth, &entry.height) {
                (LineName::Waterline(text), _, Some(own)) => (text, own),
                (LineName::Buttock(text) | LineName::ButtockUpper(text), Some(own), _) => {
                    (text, own)
                }
                _ => continue,
            };
            counted.0 += 1;
            let near = figure(text, entry.number_unit.unwrap_or(unit), read.mark)
                .is_some_and(|mm| (mm - own.mm).abs() <= 1.0);
            counted.1 += usize::from(near);
        }
        counted
    };
    let (checked, table) = agree(read.unit);
    if checked > 0 && table * 2 < checked {
        for unit in [LengthUnit::Inches, LengthUnit::Millimetres] {
            if agree(unit).1 * 2 >= checked {
                read.findings.push(Finding::NumbersIn(unit));
                return unit;
            }
        }
    }
    read.unit
}

fn stations(entries: &[Entry]) -> Vec<Station> {
    let mut found: Vec<(String, f64)> = Vec::new();
    for entry in entries {
        if !found.iter().any(|(label, _)| *label == entry.station) {
            found.push((entry.station.clone(), entry.x));
        }
    }
    found.sort_by(|a, b| a.1.total_cmp(&b.1));
    (0_u32..)
        .zip(found)
        .map(|(id, (label, x))| Station {
            id: StationId(id),
            label,
            x,
        })
        .collect()
}

/// The line of an entry, made where it is new; none where its number cannot be read.
fn line_of(lines: &mut Lines, entry: &Entry, unit: LengthUnit, mark: DecimalMark) -> Option<On> {
    let unit = entry.number_unit.unwrap_or(unit);
    let (place, upper) = match &entry.line {
        LineName::Crown => return Some(On::Crown),
        LineName::Keel => return Some(On::Keel),
        LineName::Free => return Some(On::Free),
        LineName::Named(name) => return Some(On::RunLine(run_line(lines, name))),
        LineName::Waterline(text) => (Place::Waterline(figure(text, unit, mark)?), false),
        LineName::Buttock(text) => (Place::Buttock(figure(text, unit, mark)?), false),
        LineName::ButtockUpper(text) => (Place::Buttock(figure(text, unit, mark)?), true),
    };
    let name = entry.line.shown();
    let name = name.strip_suffix(" U").unwrap_or(&name);
    let id = match lines.planes.iter().find(|plane| plane.name == name) {
        Some(plane) => plane.id,
        None => {
            let id = PlaneId(u32::try_from(lines.planes.len()).unwrap_or(u32::MAX));
            lines.planes.push(Plane {
                id,
                name: name.to_owned(),
                place,
            });
            id
        }
    };
    Some(if upper {
        On::PlaneUpper(id)
    } else {
        On::Plane(id)
    })
}

fn run_line(lines: &mut Lines, name: &str) -> RunLineId {
    if let Some(line) = lines
        .run_lines
        .iter()
        .find(|line| line.name.eq_ignore_ascii_case(name))
    {
        return line.id;
    }
    let id = RunLineId(u32::try_from(lines.run_lines.len()).unwrap_or(u32::MAX));
    let kind = if name.to_lowercase().contains("knuckle") {
        RunKind::Knuckle
    } else {
        RunKind::Smooth
    };
    lines.run_lines.push(RunLine {
        id,
        name: name.to_owned(),
        kind,
        joint: false,
    });
    id
}

fn source(lines: &mut Lines, title: &str) -> SourceId {
    if let Some(source) = lines.sources.iter().find(|source| source.title == title) {
        return source.id;
    }
    let id = SourceId(u32::try_from(lines.sources.len()).unwrap_or(u32::MAX));
    lines.sources.push(Source {
        id,
        title: title.to_owned(),
    });
    id
}

/// Readings without a tolerance of their own: how many, and the least and most they were given, mm.
type Given = Option<(usize, f64, f64)>;

/// Fills in planes, run lines, sources and points.
fn points(lines: &mut Lines, read: &mut Read, options: &TableOptions, unit: LengthUnit) -> Given {
    let mut given: Given = None;
    let mut index: BTreeMap<(StationId, On), usize> = BTreeMap::new();
    let usual = options.source.as_deref().unwrap_or("Pasted table");
    for entry in core::mem::take(&mut read.entries) {
        let Some(station) = lines
            .station_by_label(&entry.station)
            .map(|station| station.id)
        else {
            continue;
        };
        let Some(on) = line_of(lines, &entry, unit, read.mark) else {
            continue;
        };
        let known = if on == On::Free {
            None
        } else {
            index.get(&(station, on)).copied()
        };
        let at = known.unwrap_or_else(|| {
            let id = PointId(u32::try_from(lines.points.len()).unwrap_or(u32::MAX));
            lines.points.push(Point {
                id,
                station,
                on,
                readings: Vec::new(),
                accepted_half_breadth: None,
                accepted_height: None,
                duck: false,
            });
            index.insert((station, on), lines.points.len() - 1);
            lines.points.len() - 1
        });
        let (half_breadth, height) = read_on(lines, &entry, on, &mut read.findings);
        if half_breadth.is_none() && height.is_none() {
            continue; // torn or refused: the place stays
        }
        let tolerance = entry.tolerance.unwrap_or_else(|| {
            let tolerance = options.tolerance.unwrap_or(entry.suggested);
            let (count, least, most) = given.unwrap_or((0, tolerance, tolerance));
            given = Some((count + 1, least.min(tolerance), most.max(tolerance)));
            tolerance
        });
        let title = if entry.source.is_empty() {
            usual
        } else {
            &entry.source
        };
        let source = source(lines, title);
        lines.points[at].readings.push(Reading {
            source,
            half_breadth,
            height,
            tolerance,
            set_aside: entry
                .set_aside
                .map(|reason| reason.chars().take(LONGEST_NOTE).collect()),
            note: entry.note.chars().take(LONGEST_NOTE).collect(),
        });
    }
    let order: BTreeMap<StationId, usize> = lines
        .stations
        .iter()
        .enumerate()
        .map(|(i, s)| (s.id, i))
        .collect();
    lines
        .points
        .sort_by_key(|point| order.get(&point.station).copied());
    given
}

/// What of an entry is a reading; a coordinate that its own plane gives is checked against it.
fn read_on(
    lines: &Lines,
    entry: &Entry,
    on: On,
    findings: &mut Vec<Finding>,
) -> (Option<Recorded>, Option<Recorded>) {
    let (half_breadth, height) = (entry.half_breadth.clone(), entry.height.clone());
    let mut check = |given: &Option<Recorded>, plane: f64| {
        if let Some(given) = given
            && (given.mm - plane).abs() > ON_PLANE
        {
            let point = format!(
                "{}, {}",
                super::station_words(&entry.station),
                entry.line.shown()
            );
            findings.push(Finding::OffPlane {
                row: entry.row,
                point,
                given: given.mm,
                plane,
            });
        }
    };
    match (on, lines.place_of(on)) {
        (On::Crown | On::Keel, _) => {
            check(&half_breadth, 0.0);
            (None, height)
        }
        (_, Some(Place::Waterline(z))) => {
            check(&height, z);
            (half_breadth, None)
        }
        (_, Some(Place::Buttock(y))) => {
            check(&half_breadth, y);
            (None, height)
        }
        (_, Some(Place::Diagonal { .. })) => (half_breadth, None),
        (_, None) => (half_breadth, height),
    }
}

/// Sorts the run lines from crown to keel by where their points stand, and names the joint.
fn order_run_lines(lines: &mut Lines, findings: &mut Vec<Finding>) {
    let offsets = lines.offsets();
    let place = |id: RunLineId| {
        let places: Vec<f64> = offsets
            .iter()
            .filter_map(|station| {
                let at = station.iter().position(|o| o.on == On::RunLine(id))?;
                Some((at as f64 + 0.5) / station.len() as f64)
            })
            .collect();
        places.iter().sum::<f64>() / places.len().max(1) as f64
    };
    lines
        .run_lines
        .sort_by(|a, b| place(a.id).total_cmp(&place(b.id)));
    let mut joint = false;
    for line in &mut lines.run_lines {
        if line.name.to_lowercase().contains("joint") {
            if joint {
                findings.push(Finding::SecondJoint(line.name.clone()));
            }
            line.joint = !joint;
            joint = true;
        }
    }
}

/// How the sections seem to cross the centre plane, from the two points next to it at each station.
///
/// With `z = z0 − s y − c y²` through them, `s` over the slope of the first chord is about 0 where the section is level
/// and about 1 where it arrives straight; the middle value of all stations counts.
fn crossings(lines: &Lines, findings: &mut Vec<Finding>) -> Centreline {
    let offsets = lines.offsets();
    let form = |side: Side, findings: &mut Vec<Finding>| {
        let mut ratios: Vec<f64> = offsets
            .iter()
            .filter_map(|station| {
                let near: Vec<_> = match side {
                    Side::Crown => station.iter().take(3).collect(),
                    Side::Keel => station.iter().rev().take(3).collect(),
                };
                let [on, a, b] = near[..] else { return None };
                let centre = if side == Side::Crown {
                    On::Crown
                } else {
                    On::Keel
                };
                let (ya, yb) = (a.recorded[0], b.recorded[0]);
                if on.on != centre || ya <= num::FIT || yb <= ya + num::FIT {
                    return None;
                }
                let chord =
                    |o: &crate::document::Offset| (on.recorded[1] - o.recorded[1]) / o.recorded[0];
                let (sa, sb) = (chord(a), chord(b));
                let slope = sa - (sb - sa) / (yb - ya) * ya;
                (sa.abs() > 1e-3).then(|| slope / sa)
            })
            .collect();
        ratios.sort_by(f64::total_cmp);
        let ratio = *ratios.get(ratios.len() / 2)?;
        let form = if ratio > PEAKED {
            Peak::Peaked
        } else {
            Peak::Smooth
        };
        findings.push(Finding::Crossing { side, form, ratio });
        (form == Peak::Peaked).then_some(Crossing { to: None, form })
    };
    Centreline {
        crown: form(Side::Crown, findings).into_iter().collect(),
        keel: form(Side::Keel, findings).into_iter().collect(),
    }
}

/// Planes that lie where nothing of the body was read.
fn outside_body(lines: &Lines, findings: &mut Vec<Finding>) {
    let offsets = lines.offsets();
    let body = |part: usize, on: fn(Place) -> bool| {
        let read = offsets
            .iter()
            .flatten()
            .filter(|o| !lines.place_of(o.on).is_some_and(on))
            .map(|o| o.recorded[part]);
        read.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), value| {
            (low.min(value), high.max(value))
        })
    };
    let (low, high) = body(1, |place| matches!(place, Place::Waterline(_)));
    let (_, wide) = body(0, |place| matches!(place, Place::Buttock(_)));
    for plane in &lines.planes {
        let line = plane.name.clone();
        match plane.place {
            Place::Waterline(at) if low <= high && (at < low || at > high) => {
                let body = if at < low { low } else { high };
                findings.push(Finding::OutsideBody { line, at, body });
            }
            Place::Buttock(at) if wide > 0.0 && at > wide => {
                findings.push(Finding::OutsideBody {
                    line,
                    at,
                    body: wide,
                });
            }
            _ => {}
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::{TableForm, read_table};
    use super::*;

    fn file(name: &str) -> Preview {
        let path = format!("{}/../tests/data/{name}", env!("CARGO_MANIFEST_DIR"));
        read_table(&std::fs::read(path).unwrap(), &TableOptions::default()).unwrap()
    }

    #[test]
    fn the_paper_table_of_the_demo_is_read_whole() {
        let preview = file("demo_offsets_sheet.csv");
        assert_eq!(preview.form, TableForm::StationsDown);
        assert_eq!(preview.unit, LengthUnit::FeetInchesEighths);
        assert_eq!(
            (preview.stations, preview.values, preview.refused_count),
            (16, 185, 0)
        );
        let torn: Vec<String> = preview.torn.iter().map(ToString::to_string).collect();
        assert_eq!(torn, ["STA 123, BL 4", "STA 134, BL 4", "STA 146, WL 28"]);
        let lines = preview.lines();
        assert_eq!(
            lines.centreline.crown,
            [Crossing {
                to: None,
                form: Peak::Peaked
            }]
        );
        assert_eq!(lines.centreline.keel, []);
        assert!(lines.run_line_by_name("joint").unwrap().joint);
        assert!((lines.station_by_label("158").unwrap().x - 4013.2).abs() < 1e-9);
        assert!((lines.points.iter().map(|p| p.readings.len()).sum::<usize>()) == 185);
    }

    #[test]
    fn the_long_table_of_the_demo_has_one_contradiction() {
        let preview = file("demo_offsets.csv");
        assert_eq!(preview.form, TableForm::Long);
        assert_eq!(
            (preview.stations, preview.values, preview.refused_count),
            (16, 186, 0)
        );
        let lines = preview.lines();
        let against = lines.contradictions();
        assert_eq!(against.len(), 1, "{against:?}");
        assert_eq!(lines.point_name(against[0].point), "STA 38, WL 36");
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
                .offsets()
                .iter()
                .flatten()
                .map(|o| (lines.point_name(o.point), o.recorded))
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
            (TableForm::StationsDown, TableForm::StationsAcross)
        );
        assert_eq!((a.values, b.values), (5, 5));
        let values = |p: &Preview| {
            let mut v: Vec<String> = p
                .lines()
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
        assert!((preview.lines().offsets()[1][1].recorded[1] - 14.25).abs() < 1e-12);
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
        assert_eq!(preview.lines().torn().len(), 2);
    }
}
