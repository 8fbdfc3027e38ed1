//! What is typed in a cell, and what it means: the edits of a cell, of a pasted block, and whether one is asked about first.
//!
//! In: the document, a cell, a text. Out: an edit, or why it is none, in a sentence.

use geometry::document::{
    Body, BodyEdit, Counted, Edit, Lines, On, Point, PointId, Reading, Recorded, Shift, SourceId,
    StationId,
};
use geometry::issue::lines_plan::reads;
use geometry::lines::node_at;
use geometry::loft::{Loft, section_normal};
use geometry::units::{LengthUnit, Message, format_length_with_unit, parse_length};

use super::table::{CellId, Sheet, TORN, Table, text_of, unit_at, unit_of};
use crate::state::axis::{Axis, FAR_OFF};
use crate::views::words::small;

/// What a typed cell means: a reading corrected, or a new one; none where it says what stands there.
///
/// # Errors
/// What is wrong with it and what to type, in a sentence.
pub fn edit_of(
    lines: &Lines,
    cell: CellId,
    text: &str,
    source: SourceId,
) -> Result<Option<Edit>, String> {
    let text = text.trim();
    // To the letter, since a value that is shown may be rounded.
    if text == text_of(lines, cell) {
        return Ok(None);
    }
    match cell {
        CellId::OnLine(station, on) => edit_on_line(lines, (station, on), text, source),
        CellId::OfPoint(point, axis) => edit_of_point(lines, (point, axis), text, source),
    }
}

/// What is typed in a cell of a line.
fn edit_on_line(
    lines: &Lines,
    (station, on): (StationId, On),
    text: &str,
    source: SourceId,
) -> Result<Option<Edit>, String> {
    let point = lines.body.point_on(station, on);
    let name = format!(
        "{}, {}",
        lines.body.station_name(station),
        lines.body.line_name(on).unwrap_or_default()
    );
    match (text, point) {
        ("", None) => return Ok(None),
        (TORN, None) => return Ok(Some(BodyEdit::AddTorn { station, on }.into())),
        ("", Some(point)) if point.readings.is_empty() => {
            return Ok(Some(BodyEdit::RemoveTorn(point.id).into()));
        }
        (TORN, Some(point)) if point.used().next().is_none() => {
            return Err(format!(
                "{name}: all its readings are set aside, so the skin is drawn from its neighbours, as at a torn cell."
            ));
        }
        ("" | TORN, Some(_)) => return Err(not_wiped_out(&name)),
        _ => {}
    }
    let place = ReadAt {
        station,
        on,
        point,
        name,
    };
    reading_of(lines, &place, text, source)
}

/// What is typed for one value of a point that lies on no line.
fn edit_of_point(
    lines: &Lines,
    (id, axis): (PointId, Axis),
    text: &str,
    source: SourceId,
) -> Result<Option<Edit>, String> {
    let point = lines.body.point(id);
    let point = point.ok_or_else(|| "That point is not there any more.".to_owned())?;
    let name = lines.body.name_of(point);
    if ["", TORN].contains(&text) {
        return Err(not_wiped_out(&name));
    }
    if point.used().next().is_none() {
        return Err(format!(
            "{name}: all its readings are set aside. Use one again, or add another one beside the table, with both values."
        ));
    }
    let place = ReadAt {
        station: point.station,
        on: point.on,
        point: Some(point),
        name,
    };
    let both = match axis {
        Axis::HalfBreadth => format!("{text}/"),
        Axis::Height => format!("/{text}"),
    };
    reading_of(lines, &place, &both, source)
}

fn not_wiped_out(name: &str) -> String {
    format!(
        "{name}: a reading is not wiped out. Press Delete, or «Set aside» beside the table, and say why."
    )
}

/// Where something was read.
pub struct ReadAt<'a> {
    /// The station.
    pub station: StationId,
    /// The line.
    pub on: On,
    /// The point there whose reading is corrected; else it is a new one.
    pub point: Option<&'a Point>,
    /// As a person calls it.
    pub name: String,
}

/// What was typed of a reading: it is corrected, or a new one.
///
/// # Errors
/// What is wrong with it and what to type, in a sentence.
pub fn reading_of(
    lines: &Lines,
    place: &ReadAt<'_>,
    text: &str,
    source: SourceId,
) -> Result<Option<Edit>, String> {
    let ReadAt {
        station,
        on,
        point,
        ref name,
    } = *place;
    let number = point.and_then(|p| p.readings.iter().position(|r| r.set_aside.is_none()));
    let old = point
        .zip(number)
        .map(|(point, number)| &point.readings[number]);
    let source = old.map_or(source, |old| old.source);
    let own = lines.body.source(source).and_then(|source| source.unit);
    let row = own.unwrap_or_else(|| unit_at(lines, station));
    let counted = lines.body.counted(on, source);
    let one = |part: &str, old: Option<&Recorded>, by: Counted| {
        if part.trim().is_empty() {
            return Ok(None);
        }
        let unit = old.map_or(row, |old| unit_of(old, by, row));
        let mm =
            parse_length(part, unit).map_err(|error| format!("{name}: {}", error.message(unit)))?;
        Ok::<_, String>(Some(Recorded {
            typed: part.trim().to_owned(),
            mm: by.on_the_lines(mm),
            put_right: None,
        }))
    };
    let breadth = |part: &str| {
        let old = old.and_then(|old| old.half_breadth.as_ref());
        let read = one(part, old, counted[0])?;
        match &read {
            Some(read) if read.mm < 0.0 => Err(format!(
                "{name}: {} is no half-breadth: it is measured outward, zero or more.",
                read.typed
            )),
            _ => Ok(read),
        }
    };
    let height = |part: &str| {
        let old = old.and_then(|old| old.height.as_ref());
        one(part, old, counted[1])
    };
    let (half_breadth, height) = match (reads(lines, on), both(text)) {
        ((true, true), Some((out, up))) => (breadth(out)?, height(up)?),
        ((true, true), None) => {
            let [out, up] = match row {
                LengthUnit::FeetInchesEighths => ["1-2-3", "2-0-0"],
                LengthUnit::Inches => ["14.4", "24"],
                LengthUnit::Millimetres => ["365", "610"],
            };
            return Err(format!(
                "{name}: here half-breadth/height is read, as {out}/{up}; on a run line what was not read is left out, as \
                 /{up}."
            ));
        }
        ((true, false), _) => (None, height(text)?),
        ((false, _), _) => (breadth(text)?, None),
    };
    if let (Some(point), Some(reading)) = (point, number) {
        // What the sheet says stays in sight; what it must have meant stands beside it.
        let meant = |new: &Option<Recorded>, old: &Option<Recorded>| {
            let (new, old) = (new.as_ref()?, old.as_ref()?);
            (!geometry::num::same(new.mm, old.value())).then_some(new.mm)
        };
        let own = &point.readings[reading];
        let half_breadth = meant(&half_breadth, &own.half_breadth);
        let height = meant(&height, &own.height);
        let edit = BodyEdit::PutRight {
            point: point.id,
            reading,
            half_breadth,
            height,
        };
        return Ok((half_breadth.is_some() || height.is_some()).then_some(edit.into()));
    }
    let reading = Reading {
        source,
        half_breadth,
        height,
        tolerance: usual_tolerance(lines, source),
        set_aside: None,
        kept: false,
        note: String::new(),
        circumstances: None,
    };
    Ok(Some(match point {
        Some(point) => BodyEdit::AddReading {
            point: point.id,
            reading,
        }
        .into(),
        None => BodyEdit::AddPoint {
            station,
            on,
            reading,
        }
        .into(),
    }))
}

/// The two sides of a run line's cell, of which one may be empty: parted where both can be read, since a fraction has a
/// stroke of its own.
fn both(text: &str) -> Option<(&str, &str)> {
    let reads = |part: &str| {
        part.trim().is_empty() || parse_length(part, LengthUnit::FeetInchesEighths).is_ok()
    };
    let mut parted = text
        .match_indices('/')
        .map(|(at, _)| (&text[..at], &text[at + 1..]))
        .filter(|(out, up)| !(out.trim().is_empty() && up.trim().is_empty()));
    let first = parted.clone().next();
    parted.find(|(out, up)| reads(out) && reads(up)).or(first)
}

/// How far new readings lie from where their lines run now, where that is many times their tolerance.
pub fn far_off(loft: &Loft, unit: LengthUnit, edit: &Edit) -> Option<String> {
    let body = loft.body();
    if let Edit::Many { edits, .. } = edit {
        let mut far = edits.iter().filter_map(|edit| far_off(loft, unit, edit));
        let first = far.next()?;
        return Some(match far.count() {
            0 => first,
            1 => format!("{first} One more cell lies far off as well."),
            more => format!("{first} {more} more cells lie far off as well."),
        });
    }
    let Edit::Body(edit) = edit else { return None };
    let (point, station, on, values, tolerance) = match edit {
        BodyEdit::MoveStation { station, x } => return passes_another(body, unit, *station, *x),
        BodyEdit::PutRight {
            point,
            reading,
            half_breadth,
            height,
        } => {
            let point = body.point(*point)?;
            let reading = point.readings.get(*reading)?;
            let tolerance = reading.tolerance;
            let values = at_station(body.shift_of(point, reading), [*half_breadth, *height]);
            (Some(point.id), point.station, point.on, values, tolerance)
        }
        BodyEdit::AddPoint {
            station,
            on,
            reading,
        } => {
            let values = [reading.half_breadth_value(), reading.height_value()];
            let values = at_station(body.shift_on(*station, *on, reading.source), values);
            (None, *station, *on, values, reading.tolerance)
        }
        BodyEdit::AddReading { point, reading } => {
            let point = body.point(*point)?;
            let values = [reading.half_breadth_value(), reading.height_value()];
            let values = at_station(body.shift_of(point, reading), values);
            (
                Some(point.id),
                point.station,
                point.on,
                values,
                reading.tolerance,
            )
        }
        _ => return None,
    };
    let (far, name, what) = if on == On::Free {
        let point = point?;
        (
            off_the_skin(loft, point, values)?,
            body.point_name(point),
            "the skin",
        )
    } else {
        let there = node_at(loft, on, body.station(station)?.x)?.point;
        // On a diagonal it is the distance along it that was read.
        let along = body
            .place_of(on)
            .and_then(|place| place.distance_along(there.y, there.z));
        let off = [
            values[0].map(|y| y - along.unwrap_or(there.y)),
            values[1].map(|z| z - there.z),
        ];
        let far = off.into_iter().flatten().map(f64::abs).fold(0.0, f64::max);
        let name = body.line_name(on).unwrap_or_default();
        let name = format!("{}, {name}", body.station_name(station));
        (far, name, "where the line runs now")
    };
    (far > FAR_OFF * tolerance).then(|| {
        format!(
            "{name}: {} is {} from {what}, {:.0} times its tolerance.",
            said_as(edit, unit),
            small(far),
            far / tolerance
        )
    })
}

/// Values of a reading as they stand at its station, where its source's stations lie elsewhere.
fn at_station(shifts: [Option<Shift>; 2], values: [Option<f64>; 2]) -> [Option<f64>; 2] {
    [0, 1].map(|k| values[k].map(|mm| shifts[k].map_or(mm, |shift| shift.to_station(mm))))
}

/// How far a point that lies on no line would lie off the skin with these values, along the section's normal, mm; a value
/// that is not given stays.
fn off_the_skin(loft: &Loft, point: PointId, values: [Option<f64>; 2]) -> Option<f64> {
    let at = loft.points().iter().find(|at| at.point == point)?;
    let jet = loft.surface().jet(at.u, at.v);
    let [ny, nz] = section_normal(&jet);
    let moved_out = loft.moved_out(point);
    let there = [0, 1].map(|k| values[k].map_or(at.target[k], |mm| mm + moved_out[k]));
    Some((ny * (there[0] - jet.s.y) + nz * (there[1] - jet.s.z)).abs())
}

/// What was typed of an edit's reading.
fn said_as(edit: &BodyEdit, unit: LengthUnit) -> String {
    let both = |values: [Option<String>; 2]| {
        let said: Vec<String> = values.into_iter().flatten().collect();
        said.join("/")
    };
    match edit {
        BodyEdit::AddPoint { reading, .. } | BodyEdit::AddReading { reading, .. } => both(
            [&reading.half_breadth, &reading.height]
                .map(|one| one.as_ref().map(|recorded| recorded.typed.clone())),
        ),
        BodyEdit::PutRight {
            half_breadth,
            height,
            ..
        } => {
            both([*half_breadth, *height].map(|mm| mm.map(|mm| format_length_with_unit(mm, unit))))
        }
        _ => "that".to_owned(),
    }
}

/// Which station another one would pass if it were moved there.
fn passes_another(body: &Body, unit: LengthUnit, station: StationId, x: f64) -> Option<String> {
    let now = body.station(station)?.x;
    let [low, high] = [now.min(x), now.max(x)];
    let between = |other: &&geometry::document::Station| {
        other.id != station && (low..=high).contains(&other.x)
    };
    let passed = body.stations.iter().find(between)?;
    Some(format!(
        "{} would stand at x {}, on the other side of {}.",
        body.station_name(station),
        format_length_with_unit(x, unit.along()),
        body.station_name(passed.id)
    ))
}

/// A tolerance for a new reading of a source, mm: what its values were rounded to, else what most of its readings have,
/// else a millimetre or a sixteenth of an inch.
pub fn usual_tolerance(lines: &Lines, source: SourceId) -> f64 {
    if let Some(rounding) = lines.body.source(source).and_then(|source| source.rounding) {
        return rounding;
    }
    let own = || {
        let readings = lines.body.points.iter().flat_map(|point| &point.readings);
        readings.filter(|r| r.source == source).map(|r| r.tolerance)
    };
    let count = |tolerance: f64| own().filter(|t| geometry::num::same(*t, tolerance)).count();
    own()
        .max_by_key(|tolerance| count(*tolerance))
        .unwrap_or(match lines.about.unit {
            LengthUnit::Millimetres => 1.0,
            LengthUnit::Inches | LengthUnit::FeetInchesEighths => 25.4 / 16.0,
        })
}

/// The edits of a block that is pasted at a cell of a table: rows by lines, columns by tabs.
///
/// # Errors
/// Which cells can't be taken and why; then none is.
pub fn edits_of_block(
    lines: &Lines,
    (table, sheet): (&Table, Sheet),
    (row, column): (usize, usize),
    block: &str,
    source: SourceId,
) -> Result<Vec<Edit>, String> {
    let mut edits = Vec::new();
    let mut refused: Vec<String> = Vec::new();
    let rows = block.trim_end_matches(['\r', '\n']).lines();
    for (down, text) in rows.enumerate() {
        for (right, typed) in text.split('\t').enumerate() {
            let typed = typed.trim().trim_matches('"');
            if typed.is_empty() {
                continue;
            }
            let Some(cell) = table.cell_at(sheet, (row + down, column + right)) else {
                return Err(format!(
                    "The block is larger than the table from here: `{typed}` in its row {}, column {} has no cell. Nothing was taken.",
                    down + 1,
                    right + 1
                ));
            };
            match edit_of(lines, cell, typed, source) {
                Ok(edit) => edits.extend(edit),
                Err(why) => refused.push(why),
            }
        }
    }
    if refused.is_empty() {
        return Ok(edits);
    }
    let more = refused.len().saturating_sub(NAMED);
    refused.truncate(NAMED);
    if more > 0 {
        refused.push(format!("And {more} more."));
    }
    refused.push("Nothing was taken.".to_owned());
    Err(refused.join(" "))
}

/// Most cells of a pasted block that are named as refused; the rest is counted.
const NAMED: usize = 12;

#[cfg(test)]
mod tests {
    use core::f64::consts::PI;

    use geometry::document::{TableOptions, read_table};
    use geometry::num;

    use super::*;

    /// A drum of 500 mm radius about an axis 500 mm up, at four stations: the crown, the keel and five points on no line
    /// between them, read to a tenth.
    fn drum() -> Lines {
        let mut table = "station,x,line,half-breadth,height,tolerance\n".to_owned();
        for x in [0, 600, 1200, 1800] {
            for n in 0..=6 {
                let angle = PI * f64::from(n) / 6.0;
                let line = match n {
                    0 => "crown",
                    6 => "keel",
                    _ => "point",
                };
                let [sin, cos] = [num::sin(angle), num::cos(angle)];
                let (y, z) = (500.0 * sin, 500.0 + 500.0 * cos);
                let out = if line == "point" {
                    format!("{y:.1}")
                } else {
                    String::new()
                };
                table += &format!("{x},{x},{line},{out},{z:.1},0.5\n");
            }
        }
        let read = read_table(table.as_bytes(), &TableOptions::default()).unwrap();
        read.lines()
    }

    fn changed(lines: &Lines, edits: impl IntoIterator<Item = Edit>) -> Lines {
        let mut lines = lines.clone();
        for edit in edits {
            lines = lines.apply(&edit).unwrap();
        }
        lines
    }

    fn texts(table: &Table) -> Vec<[String; 2]> {
        let rows = table.point_rows();
        rows.map(|row| [&row.values[0], &row.values[1]].map(|cell| cell.text.clone()))
            .collect()
    }

    #[test]
    fn points_on_no_line_are_listed_from_crown_to_keel() {
        let table = Table::of(&drum());
        assert_eq!(table.size(Sheet::Lines), (4, 2));
        assert_eq!(table.size(Sheet::Points), (20, 2));
        let names: Vec<&str> = table.points.iter().map(|at| at.name.as_str()).collect();
        assert_eq!(names, ["STA 0", "STA 600", "STA 1200", "STA 1800"]);
        let first = [
            ["250.0", "933.0"],
            ["433.0", "750.0"],
            ["500.0", "500.0"],
            ["433.0", "250.0"],
            ["250.0", "67.0"],
        ];
        assert_eq!(texts(&table)[..5], first);
        let row = table.point_rows().next().unwrap();
        assert_eq!((row.name.as_str(), row.says.as_str()), ("point 2", "used"));
        // From a cell of a line to the points of its station, and back.
        let keel = CellId::OnLine(table.rows[2].station, On::Keel);
        let station = table.rows[2].station;
        assert_eq!(table.place_of(Sheet::Points, station, keel), (10, 0));
        let point = table.cell_at(Sheet::Points, (12, 1)).unwrap();
        assert_eq!(table.place_of(Sheet::Points, station, point), (12, 1));
        assert_eq!(table.place_of(Sheet::Lines, station, point), (2, 0));
        assert_eq!(table.cell(point).unwrap().text, "500.0");
    }

    #[test]
    fn one_value_of_such_a_point_is_put_right_and_the_other_stays() {
        let lines = drum();
        let table = Table::of(&lines);
        let source = lines.body.sources[0].id;
        let cell = |row: usize, column: usize| table.cell_at(Sheet::Points, (row, column)).unwrap();
        let edit = edit_of(&lines, cell(1, 0), "434.5", source).unwrap();
        let after = changed(&lines, edit);
        let now = Table::of(&after);
        assert_eq!(texts(&now)[1], ["433.0 → 434.5", "750.0"]);
        assert_eq!(text_of(&after, cell(1, 0)), "434.5");
        // What says what stands there is no edit.
        assert_eq!(edit_of(&after, cell(1, 0), " 434.5 ", source), Ok(None));
        assert_eq!(edit_of(&after, cell(1, 1), "750.0", source), Ok(None));
        for text in ["", TORN] {
            let why = edit_of(&lines, cell(1, 1), text, source).unwrap_err();
            assert!(
                why.starts_with("STA 0, point 3: a reading is not wiped out"),
                "{why}"
            );
        }
        assert!(edit_of(&lines, cell(1, 1), "7-9", source).is_err());
    }

    #[test]
    fn such_a_point_that_is_set_aside_keeps_its_row() {
        let lines = drum();
        let source = lines.body.sources[0].id;
        let cell = Table::of(&lines).cell_at(Sheet::Points, (2, 1)).unwrap();
        let CellId::OfPoint(point, _) = cell else {
            panic!("a point's cell")
        };
        let aside = BodyEdit::SetAside {
            point,
            reading: 0,
            reason: "misread".to_owned(),
        };
        let after = changed(&lines, [aside.into()]);
        let table = Table::of(&after);
        let row = table.point_rows().nth(2).unwrap();
        assert_eq!(row.point, point);
        assert_eq!(row.says, "set aside: misread");
        assert_eq!(texts(&table)[2], ["500.0", "500.0"]);
        let why = edit_of(&after, cell, "501", source).unwrap_err();
        assert!(why.contains("all its readings are set aside"), "{why}");
    }

    #[test]
    fn a_block_is_pasted_over_both_values_row_by_row() {
        let lines = drum();
        let table = Table::of(&lines);
        let source = lines.body.sources[0].id;
        let pasted = |at: (usize, usize), block: &str| {
            edits_of_block(&lines, (&table, Sheet::Points), at, block, source)
        };
        let edits = pasted((3, 0), "434\t251\n251\t67.0\n").unwrap();
        let after = Table::of(&changed(&lines, edits));
        let want = [["433.0 → 434", "250.0 → 251"], ["250.0 → 251", "67.0"]];
        let want =
            want.map(|row| row.map(|text| text.replace("434", "434.0").replace("251", "251.0")));
        assert_eq!(texts(&after)[3..5], want);
        let why = pasted((19, 0), "250\t67\n1\t2").unwrap_err();
        assert!(
            why.contains("`1` in its row 2, column 1 has no cell"),
            "{why}"
        );
    }

    /// Thirty millimetres off the drum are asked about; along it, and within ten tolerances, nothing is.
    #[test]
    fn what_lies_far_off_the_skin_is_asked_about() {
        let lines = drum();
        let loft = Loft::build(&lines.body).unwrap();
        let table = Table::of(&lines);
        let source = lines.body.sources[0].id;
        let unit = lines.about.unit;
        let asked = |at: (usize, usize), text: &str| {
            let cell = table.cell_at(Sheet::Points, at).unwrap();
            let edit = edit_of(&lines, cell, text, source).unwrap().unwrap();
            far_off(&loft, unit, &edit)
        };
        let says = asked((7, 0), "530").unwrap();
        assert!(says.starts_with("STA 600, point 4: 530.0 mm is "), "{says}");
        assert!(says.contains(" from the skin, "), "{says}");
        let far: f64 = says
            .split(" is ")
            .nth(1)
            .unwrap()
            .split(' ')
            .next()
            .unwrap()
            .parse()
            .unwrap();
        assert!((far - 30.0).abs() < 0.5, "{far}");
        assert_eq!(asked((7, 0), "503"), None);
        // Half way up its side a move up runs along the skin.
        assert_eq!(asked((7, 1), "520"), None);
    }
}
