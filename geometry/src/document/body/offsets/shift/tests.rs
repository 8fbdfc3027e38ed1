//! Tests of readings that are brought to their stations, against bodies in closed form.

use std::sync::Arc;

use proptest::prelude::*;

use super::*;
use crate::demo_truth::Section;
use crate::document::{
    BodyEdit, Lines, Moved, Place, Plane, PlaneId, RunLine, RunLineId, Source, read_folder,
    read_link, write_folder, write_link,
};
use crate::fair::suspects;
use crate::loft::Loft;
use crate::made::{Table, made, recorded};
use crate::units::LengthUnit;

/// How far aft the second source's stations lie, mm.
const AFT: f64 = 12.0;

/// Stations of the demo's body, mm.
fn stations() -> Vec<f64> {
    (0..15).map(|k| 20.0 + 279.4 * f64::from(k)).collect()
}

const JOINT: On = On::RunLine(RunLineId(0));
const LEVEL: f64 = 914.4;
const WATERLINE: On = On::Plane(PlaneId(0));

/// The demo's section at a distance aft: crown, joint, keel, a waterline above the joint, and four points on no line.
fn round(x: f64) -> Vec<(On, [f64; 2])> {
    let section = Section::at(x);
    let level = {
        let (mut low, mut high) = (0.0, 1.0);
        for _ in 0..60 {
            let middle = f64::midpoint(low, high);
            if section.upper(middle)[1] > LEVEL {
                low = middle;
            } else {
                high = middle;
            }
        }
        section.upper(low)
    };
    vec![
        (On::Crown, section.upper(0.0)),
        (On::Free, section.upper(0.2)),
        (WATERLINE, [level[0], LEVEL]),
        (JOINT, section.upper(1.0)),
        (On::Free, section.lower(0.3)),
        (On::Free, section.lower(0.5)),
        (On::Free, section.lower(0.7)),
        (On::Keel, section.lower(1.0)),
    ]
}

/// Readings of `at(x)` by one source, for stations at x.
fn read_at(at: impl Fn(f64) -> f64) -> Lines {
    let table: Table = { stations().into_iter() }
        .map(|x| (x, round(at(x))))
        .collect();
    let mut lines = made(&table, 0.5);
    let body = lines.body_mut();
    body.run_lines.push(RunLine {
        id: RunLineId(0),
        name: "joint".to_owned(),
        kind: RunKind::Smooth,
        joint: true,
    });
    body.planes.push(Plane {
        id: PlaneId(0),
        name: "WL 36".to_owned(),
        place: Place::Waterline(LEVEL),
    });
    for point in body.points.iter_mut().filter(|p| p.on == WATERLINE) {
        point.readings[0].height = None;
    }
    lines.assert_sound();
    lines
}

fn shifted_by(lines: &Lines, aft: f64) -> Lines {
    let mut source = lines.body.sources[0].clone();
    source.datum.aft = aft;
    lines.apply(BodyEdit::SetSource(source)).unwrap()
}

/// How far offsets lie off the demo's body at their stations, mm: the worst on lines, on no line, and on crown and keel.
fn off_the_truth(lines: &Lines) -> [f64; 3] {
    let mut worst = [0.0_f64; 3];
    for (x, offsets) in stations().into_iter().zip(lines.body.offsets()) {
        let section = Section::at(x);
        let true_points = round(x);
        for offset in &offsets {
            let [y, z] = offset.recorded;
            if offset.on == On::Free {
                let near = |at: [f64; 2]| num::hypot(at[0] - y, at[1] - z);
                let all = (0..=20_000).map(|k| f64::from(k) / 20_000.0);
                let off = all.map(|t| near(section.upper(t)).min(near(section.lower(t))));
                worst[1] = worst[1].max(off.fold(f64::INFINITY, f64::min));
                continue;
            }
            let known = true_points.iter().find(|(on, _)| *on == offset.on).unwrap();
            let off = num::hypot(y - known.1[0], z - known.1[1]);
            worst[0] = worst[0].max(off);
            if matches!(offset.on, On::Crown | On::Keel) {
                worst[2] = worst[2].max(off);
            }
        }
    }
    worst
}

#[test]
fn readings_taken_further_aft_are_brought_back_to_the_body() {
    let apart = read_at(|x| x + AFT);
    let before = off_the_truth(&apart);
    let after = off_the_truth(&shifted_by(&apart, AFT));
    assert!(before[0] > 2.0 && before[1] > 1.0 && before[2] > 2.0);
    assert!(after[0] < 0.01 && after[1] < 0.03 && after[2] < 0.01);
    // What was read forward likewise.
    let forward = read_at(|x| x - AFT);
    let after = off_the_truth(&shifted_by(&forward, -AFT));
    assert!(after[0] < 0.01 && after[1] < 0.03 && after[2] < 0.01);
    assert_eq!(
        shifted_by(&apart, AFT).body.shifted(SourceId(0)),
        Shifted {
            brought: apart.body.points.len(),
            ..Shifted::default()
        }
    );
}

/// Two sources of the same points, the second read further aft.
fn both() -> Lines {
    let mut lines = read_at(|x| x);
    let other = read_at(|x| x + AFT);
    let body = lines.body_mut();
    body.sources.push(Source::new(SourceId(1), "sheet 9"));
    for (point, other) in body.points.iter_mut().zip(&other.body.points) {
        let mut reading = other.readings[0].clone();
        reading.source = SourceId(1);
        point.readings.push(reading);
    }
    lines.assert_sound();
    lines
}

/// How far crown and keel of a loft lie off the demo's body, mm, and the largest residual of its points.
fn loft_off(lines: &Lines) -> [f64; 2] {
    let loft = Loft::build(&lines.body).unwrap();
    let surface = loft.surface();
    let places = (0..=400).map(|k| 20.0 + 279.4 * 14.0 * f64::from(k) / 400.0);
    let off = places.map(|x| {
        let (section, u) = (Section::at(x), surface.u_at(x));
        let crown = surface.jet(u, 0.0).s.z - section.upper(0.0)[1];
        let keel = surface.jet(u, 1.0).s.z - section.lower(1.0)[1];
        crown.abs().max(keel.abs())
    });
    let residual = loft.points().iter().map(|p| p.residual.abs());
    [off.fold(0.0, f64::max), residual.fold(0.0, f64::max)]
}

#[test]
fn a_second_source_read_further_aft_agrees_once_it_is_shifted() {
    let alone = loft_off(&read_at(|x| x));
    let lines = both();
    let apart = loft_off(&lines);
    let mut source = lines.body.sources[1].clone();
    source.datum.aft = AFT;
    let shifted = lines.apply(BodyEdit::SetSource(source.clone())).unwrap();
    let together = loft_off(&shifted);
    assert!(apart[0] > 1.0);
    assert!(together[0] < alone[0] + 0.01 && together[1] < alone[1] + 0.01);
    assert!(!lines.body.contradictions().is_empty() && shifted.body.contradictions().is_empty());
    assert_ne!(lines.fingerprint(), shifted.fingerprint());
    // There and back is the same to the last bit.
    source.datum.aft = 0.0;
    let back = shifted.apply(BodyEdit::SetSource(source)).unwrap();
    assert_eq!(back, lines);
    assert_eq!(back.body.offsets(), lines.body.offsets());
    assert_eq!(back.fingerprint(), lines.fingerprint());
}

#[test]
fn a_shifted_point_is_dragged_by_the_same_factor() {
    let lines = shifted_by(&read_at(|x| x + AFT), AFT);
    let loft = Loft::build(&lines.body).unwrap();
    let keel = lines.body.points[55].clone();
    let read = lines.body.merged(&keel).height.unwrap();
    let to = |z: f64| {
        let moved = Moved {
            point: keel.id,
            half_breadth: None,
            height: Some(z),
        };
        lines.apply(BodyEdit::Move(moved)).unwrap()
    };
    let moved = to(read + 2.0);
    let again = loft.again(&moved.body).unwrap();
    assert!(again.shares_factor(&loft));
    assert!(
        (moved.body.offset(&moved.body.points[55]).unwrap().accepted[1] - read - 2.0).abs() < 0.006
    );
    // Back at what it says at the station nothing is accepted any more.
    assert_eq!(to(read).body, lines.body);
    let all = vec![Moved {
        point: keel.id,
        half_breadth: None,
        height: Some(read),
    }];
    assert_eq!(
        moved.apply(BodyEdit::MoveAll(all)).unwrap().body,
        lines.body
    );
}

#[test]
fn a_shift_is_kept_by_file_and_link() {
    let lines = shifted_by(&read_at(|x| x + AFT), AFT);
    let folder = crate::document::Folder {
        lines: lines.clone(),
        revisions: Vec::new(),
    };
    assert_eq!(read_folder(&write_folder(&folder)).unwrap().lines, lines);
    let linked = read_link(&write_link(&lines)).unwrap();
    assert_eq!(linked.fingerprint(), lines.fingerprint());
    assert_eq!(linked.body.sources[0].datum, lines.body.sources[0].datum);
}

#[test]
fn what_nothing_tells_how_to_shift_is_told() {
    let mut lines = read_at(|x| x + AFT);
    let body = lines.body_mut();
    let bow = body.stations[0].id;
    body.points.retain(|p| p.on != On::Keel || p.station == bow);
    let lines = shifted_by(&lines, AFT);
    let shifted = lines.body.shifted(SourceId(0));
    let keel = lines.body.point_on(bow, On::Keel).unwrap();
    assert_eq!(shifted.alone, [keel.id]);
    assert_eq!(shifted.brought, lines.body.points.len() - 1);
    let says = shifted.words(&lines.body).unwrap();
    assert!(
        says.starts_with("1 of its readings stays as read (STA 20, keel): "),
        "{says}"
    );
    let read = keel.readings[0].height_value();
    assert_eq!(lines.body.merged(keel).height, read);
}

/// Crown and keel of a spheroid 4000 mm long and 800 mm high, cut 10 mm behind its end, read at stations 200 mm apart.
fn spheroid(aft: f64) -> (Vec<f64>, Lines) {
    let xs: Vec<f64> = (0..10)
        .map(|k| if k == 0 { 10.0 } else { 200.0 * f64::from(k) })
        .collect();
    let table: Table = { xs.iter() }
        .map(|x| {
            let high = spheroid_height(x + aft);
            let points = vec![
                (On::Crown, [0.0, 500.0 + high]),
                (On::Free, [high, 500.0]),
                (On::Keel, [0.0, 500.0 - high]),
            ];
            (*x, points)
        })
        .collect();
    (xs, made(&table, 0.5))
}

fn spheroid_height(x: f64) -> f64 {
    let from_middle = (2000.0 - x) / 2000.0;
    400.0 * (1.0 - from_middle * from_middle).sqrt()
}

#[test]
fn readings_beside_a_blunt_end_are_told_as_unsure() {
    let (xs, lines) = spheroid(AFT);
    let lines = shifted_by(&lines, AFT);
    let off: Vec<f64> = { xs.iter().zip(lines.body.offsets()) }
        .map(|(x, round)| round[0].recorded[1] - 500.0 - spheroid_height(*x))
        .collect();
    let unsure = lines.body.shifted(SourceId(0)).unsure;
    for (station, off) in lines.body.stations.iter().zip(&off) {
        let crown = lines.body.point_on(station.id, On::Crown).unwrap().id;
        assert!(
            unsure.contains(&crown) || off.abs() < 0.5,
            "{}: {off:.2}",
            station.label
        );
    }
    assert!(off[0].abs() > 0.5 && off[3..].iter().all(|off| off.abs() < 0.05));
    assert!(unsure.len() <= 9);
    let says = lines.body.shifted(SourceId(0)).words(&lines.body);
    assert!(says.unwrap().contains("less surely than they were read"));
}

#[test]
fn stations_shifted_by_half_a_bay_are_refused() {
    let lines = read_at(|x| x);
    let mut source = lines.body.sources[0].clone();
    source.datum.aft = -139.7;
    let refused = lines
        .apply(BodyEdit::SetSource(source.clone()))
        .unwrap_err();
    let says = refused.to_string();
    let wanted =
        "Source 1 has stations 139.7 mm forward of those of the lines, but readings at STA ";
    assert!(
        says.starts_with(wanted) && says.contains(", 279.4 mm apart: "),
        "{says}"
    );
    source.datum.aft = -139.6;
    let lines = lines.apply(BodyEdit::SetSource(source.clone())).unwrap();
    // Nor may stations that it has readings at come too near afterwards.
    let near = BodyEdit::MoveStation {
        station: lines.body.stations[1].id,
        x: 290.0,
    };
    assert!(lines.apply(near).is_err());
    source.datum.aft = f64::NAN;
    assert!(lines.apply(BodyEdit::SetSource(source)).is_err());
}

/// A slip of the pen in a shifted source is put right to what the source should have said where it read, to the figure.
#[test]
fn a_misprint_of_a_shifted_source_is_put_right_as_it_should_have_been_read() {
    let aft = AFT;
    let (lines, id, meant) = slipped(aft);
    let lines = shifted_by(&lines, aft);
    let misprint = |lines: &Lines| {
        let found = suspects::find(&lines.body, LengthUnit::Millimetres, &|| false).unwrap();
        found.misprints.into_iter().find(|m| m.point == id).unwrap()
    };
    let one = misprint(&lines);
    let slip = one.slips.first().unwrap();
    assert_eq!(slip.typed, meant.typed);
    assert_eq!(one.put_right(slip), [Some(meant.mm), None]);
    // What would fit is what would where nothing is shifted, and what the body has gained on the way; but for what the slip
    // itself does to its neighbours, which are brought to their stations by it: a twentieth of 10 mm.
    let there = one.expected.unwrap().mm;
    let here = misprint(&slipped(0.0).0).expected.unwrap().mm;
    let x = stations()[6];
    let gained = round(x + aft)[2].1[0] - round(x)[2].1[0];
    assert!(gained.abs() > 0.7 && (there - here - gained).abs() < 0.3);
    let [half_breadth, height] = one.put_right(slip);
    let right = BodyEdit::PutRight {
        point: id,
        reading: 0,
        half_breadth,
        height,
    };
    let right = lines.apply(right).unwrap();
    let again = suspects::find(&right.body, LengthUnit::Millimetres, &|| false).unwrap();
    assert_eq!(again.misprints.len(), 0);
}

/// Readings to a tenth, taken so far aft of their stations; the half-breadth of one with a digit misread, and what it should
/// be.
fn slipped(aft: f64) -> (Lines, PointId, crate::document::Recorded) {
    let mut lines = read_at(|x| x + aft);
    let body = lines.body_mut();
    let tenth = |mm: f64| (mm * 10.0).round() / 10.0;
    for reading in body.points.iter_mut().flat_map(|p| &mut p.readings) {
        for said in [&mut reading.half_breadth, &mut reading.height] {
            *said = said.as_ref().map(|r| recorded(tenth(r.mm)));
        }
    }
    let station = body.stations[6].id;
    let point = { body.points.iter_mut() }
        .find(|p| p.station == station && p.on == WATERLINE)
        .unwrap();
    let (id, reading) = (point.id, &mut point.readings[0]);
    let meant = reading.half_breadth.clone().unwrap();
    let mut digits: Vec<char> = meant.typed.chars().collect();
    digits[1] = char::from_digit(digits[1].to_digit(10).unwrap() + 1, 10).unwrap();
    let wrong: String = digits.into_iter().collect();
    assert_ne!(wrong, meant.typed);
    reading.half_breadth = Some(recorded(wrong.parse().unwrap()));
    (lines, id, meant)
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(200))]

    /// Of lines that are cubics nothing is left of a shift, at any stations; and what it brings to the station it brings back.
    #[test]
    fn lines_that_are_cubics_are_shifted_without_fault(
        bays in prop::collection::vec(40.0..600.0_f64, 3..12),
        bends in prop::array::uniform4(-1.0..1.0_f64),
        share in -0.49..0.49_f64,
    ) {
        let least = bays.iter().fold(f64::INFINITY, |least, bay| bay.min(least));
        let aft = share * least;
        let length: f64 = bays.iter().sum();
        let at = |x: f64| {
            let t = x / length;
            let [a, b, c, d] = bends;
            100.0 * (a + t * (b + t * (c + t * d)))
        };
        let mut xs = vec![0.0];
        for bay in &bays {
            xs.push(xs[xs.len() - 1] + bay);
        }
        let row = |x: &f64| {
            let (crown, keel) = (1000.0 + at(x + aft), -at(x + aft));
            (*x, vec![(On::Crown, [0.0, crown]), (On::Free, [500.0, 500.0]), (On::Keel, [0.0, keel])])
        };
        let lines = shifted_by(&made(&xs.iter().map(row).collect(), 1.0), aft);
        for (x, round) in xs.iter().zip(lines.body.offsets()) {
            prop_assert!((round[0].recorded[1] - 1000.0 - at(*x)).abs() < 1e-8);
            prop_assert!((round[2].recorded[1] + at(*x)).abs() < 1e-8);
        }
        for point in &lines.body.points {
            let [_, up] = lines.body.shift_of(point, &point.readings[0]);
            let read = point.readings[0].height_value().unwrap();
            if let Some(shift) = up {
                prop_assert!((shift.to_source(shift.to_station(read)) - read).abs() < 1e-9);
            } else {
                prop_assert!(aft.abs() == 0.0);
            }
            // One by one as all at once, to the last bit.
            let all = lines.body.offsets();
            let own = all.iter().flatten().find(|o| o.point == point.id).unwrap();
            let recorded = lines.body.offset(point).unwrap().recorded;
            prop_assert_eq!(recorded.map(f64::to_bits), own.recorded.map(f64::to_bits));
        }
        let body = Arc::new((*lines.body).clone());
        prop_assert_eq!(body.offsets(), lines.body.offsets());
    }
}
