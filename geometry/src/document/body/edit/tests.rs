//! Tests of single edits, on the demo.

use super::super::{Counted, Datum, Sense, SkinSide};
use super::*;
use crate::document::tests::{at, demo, near, offset};
use crate::document::{Edit, End, Tip};
use crate::units::{LengthUnit, Message};

#[test]
fn stations_are_added_moved_and_taken_away() {
    let lines = demo();
    let add = |label: &str, x: f64| BodyEdit::AddStation {
        label: label.to_owned(),
        x,
    };
    let more = lines.apply(add("53", 1346.2)).unwrap();
    let labels: Vec<&str> = more
        .body
        .stations
        .iter()
        .map(|s| s.label.as_str())
        .collect();
    assert_eq!(labels[5..8], ["48", "53", "58"]);
    let id = more.body.stations[6].id;
    // A station with nothing on it shapes nothing of the others.
    assert_eq!(
        more.body.offsets().iter().flatten().count(),
        lines.body.offsets().iter().flatten().count()
    );
    let back = more.apply(BodyEdit::RemoveStation(id)).unwrap();
    assert_eq!(back, lines);

    let place = more.body.stations[5].id;
    let moved = BodyEdit::MoveStation {
        station: place,
        x: 1360.0,
    };
    let moved = more.apply(&moved).unwrap();
    assert_eq!(moved.body.stations[6].label, "48");
    let order: Vec<usize> = moved
        .body
        .points
        .iter()
        .map(|p| moved.body.station_index(p.station).unwrap())
        .collect();
    assert!(order.is_sorted(), "points go with their stations");
    near(
        offset(&moved, "48", "keel").recorded[1],
        offset(&lines, "48", "keel").recorded[1],
    );

    let refused = more.apply(BodyEdit::RemoveStation(place)).unwrap_err();
    assert!(
        refused.to_string().starts_with("STA 48 holds 1"),
        "{refused}"
    );
    assert!(more.apply(add("53", 1400.0)).is_err(), "a label twice");
    assert!(more.apply(add("54", 1346.2)).is_err(), "a place twice");
    assert!(more.apply(add("55", f64::NAN)).is_err());
}

#[test]
fn what_was_typed_is_corrected_and_many_edits_are_one() {
    let lines = demo();
    let point = at(&lines, "48", "WL 32");
    let typed = |text: &str, mm: f64| {
        Some(Recorded {
            typed: text.to_owned(),
            mm,
            put_right: None,
        })
    };
    let retype = BodyEdit::Retype {
        point,
        reading: 0,
        half_breadth: typed("1-3-2", 387.35),
        height: None,
    };
    let corrected = lines.apply(&retype).unwrap();
    near(offset(&corrected, "48", "WL 32").recorded[0], 387.35);
    let reading = &corrected.body.point(point).unwrap().readings[0];
    assert_eq!(reading.half_breadth.as_ref().unwrap().typed, "1-3-2");
    near(
        reading.tolerance,
        lines.body.point(point).unwrap().readings[0].tolerance,
    );

    let keel = at(&lines, "48", "keel");
    let many = |last: usize| Edit::Many {
        name: "pasted block".to_owned(),
        edits: vec![
            retype.clone().into(),
            BodyEdit::Retype {
                point: keel,
                reading: last,
                half_breadth: None,
                height: typed("0-9-1", 231.775),
            }
            .into(),
        ],
    };
    let both = lines.apply(many(0)).unwrap();
    near(offset(&both, "48", "WL 32").recorded[0], 387.35);
    near(offset(&both, "48", "keel").recorded[1], 231.775);
    assert_eq!(many(0).name(&lines), "pasted block");
    // One of them refused, none is done.
    assert!(lines.apply(many(7)).is_err());
}

#[test]
fn a_source_counted_from_its_own_datum_is_counted_anew() {
    let lines = demo();
    let keel = at(&lines, "48", "keel");
    let was = lines.body.point(keel).unwrap().readings[0]
        .height_value()
        .unwrap();
    let mut source = lines
        .body
        .source(lines.body.point(keel).unwrap().readings[0].source)
        .unwrap()
        .clone();
    // Read downward from a line 1,000 mm up: 1000 - what it says.
    source.datum.height = Counted {
        from: 1000.0,
        sense: Sense::Against,
    };
    let down = lines.apply(BodyEdit::SetSource(source.clone())).unwrap();
    let reading = &down.body.point(keel).unwrap().readings[0];
    near(reading.height_value().unwrap(), 1000.0 - was);
    assert_eq!(
        reading.height.as_ref().unwrap().typed,
        lines.body.point(keel).unwrap().readings[0]
            .height
            .as_ref()
            .unwrap()
            .typed
    );
    assert_ne!(down.fingerprint(), lines.fingerprint());
    // Half-breadths keep their own datum, and there and back is the same to the last bit.
    near(
        offset(&down, "48", "WL 32").recorded[0],
        offset(&lines, "48", "WL 32").recorded[0],
    );
    source.datum = Datum::default();
    let back = down.apply(BodyEdit::SetSource(source.clone())).unwrap();
    for (a, b) in back.body.points.iter().zip(&lines.body.points) {
        let value = |p: &Point| p.readings.first().and_then(Reading::height_value);
        assert!((value(a).unwrap_or(0.0) - value(b).unwrap_or(0.0)).abs() < 1e-7);
    }
    source.surface = SkinSide::Inside { thickness: 0.0 };
    assert!(lines.apply(BodyEdit::SetSource(source.clone())).is_err());
    source.surface = SkinSide::Inside { thickness: 1.2 };
    let inside = lines.apply(BodyEdit::SetSource(source.clone())).unwrap();
    near(offset(&inside, "48", "keel").depth[1], 1.2);
    assert_ne!(inside.fingerprint(), lines.fingerprint());
    assert!(matches!(
        lines.apply(BodyEdit::RemoveSource(source.id)),
        Err(EditError::Quoted { .. })
    ));
    let more = lines
        .apply(BodyEdit::AddSource("Relic".to_owned()))
        .unwrap();
    let relic = more.body.sources.last().unwrap().id;
    assert_eq!(more.apply(BodyEdit::RemoveSource(relic)).unwrap(), lines);
}

#[test]
fn cells_are_marked_torn_and_readings_taken_out() {
    let lines = demo();
    let all = lines.body.stations.iter().flat_map(|station| {
        let ons = lines.body.planes.iter().map(|plane| On::Plane(plane.id));
        ons.map(move |on| (station.id, on))
    });
    let (station, on) = all
        .into_iter()
        .find(|(station, on)| lines.body.point_on(*station, *on).is_none())
        .unwrap();
    let torn = lines.apply(BodyEdit::AddTorn { station, on }).unwrap();
    let point = torn.body.torn()[0];
    assert_eq!(torn.body.point(point).unwrap().station, station);
    let twice = torn.apply(BodyEdit::AddTorn { station, on });
    assert!(matches!(twice, Err(EditError::NotTorn { .. })));
    assert_eq!(torn.apply(BodyEdit::RemoveTorn(point)).unwrap(), lines);
    let keel = at(&lines, "123", "keel");
    let read = lines.apply(BodyEdit::RemoveTorn(keel));
    assert!(matches!(read, Err(EditError::NotTorn { .. })));
    let taken = BodyEdit::RemoveReading {
        point: keel,
        reading: 0,
    };
    let out = lines.apply(&taken).unwrap();
    assert_eq!(out.body.points.len(), lines.body.points.len() - 1);
    assert_eq!(out.apply(&taken), Err(EditError::NoPoint));
}

#[test]
fn run_lines_are_added_in_their_place_and_taken_away() {
    let lines = demo();
    let first = lines.body.run_lines[0].clone();
    let more = lines
        .apply(BodyEdit::AddRunLine {
            name: " shoulder ".to_owned(),
            kind: RunKind::Knuckle,
            before: Some(first.id),
        })
        .unwrap();
    let shoulder = more.body.run_lines[0].clone();
    assert_eq!(
        (shoulder.name.as_str(), &more.body.run_lines[1]),
        ("shoulder", &first)
    );
    let second = BodyEdit::SetRunLine(RunLine {
        joint: true,
        ..shoulder.clone()
    });
    assert_eq!(more.apply(&second).is_err(), first.joint, "one joint only");
    assert_eq!(
        more.apply(BodyEdit::RemoveRunLine(shoulder.id)).unwrap(),
        lines
    );
    assert!(matches!(
        more.apply(BodyEdit::RemoveRunLine(first.id)),
        Err(EditError::InUse { .. })
    ));
    let label = BodyEdit::RenameStation {
        station: lines.body.stations[0].id,
        label: lines.body.stations[1].label.clone(),
    };
    assert!(lines.apply(&label).is_err(), "a label is unique");
}

#[test]
fn a_reading_is_kept_until_it_says_something_else() {
    let lines = demo();
    let point = at(&lines, "48", "WL 32");
    let keep = |kept| BodyEdit::Keep {
        point,
        reading: 0,
        kept,
    };
    let kept = lines.apply(keep(true)).unwrap();
    assert!(kept.body.keeps(point) && !lines.body.keeps(point));
    assert_eq!(kept.fingerprint(), lines.fingerprint(), "it shapes nothing");
    assert_eq!(keep(true).name(&lines.body), "STA 48, WL 32 kept");
    assert_eq!(kept.apply(keep(false)).unwrap(), lines);
    let right = BodyEdit::PutRight {
        point,
        reading: 0,
        half_breadth: Some(387.35),
        height: None,
    };
    assert!(!kept.apply(&right).unwrap().body.keeps(point));
    assert!(
        lines
            .apply(BodyEdit::Keep {
                point,
                reading: 9,
                kept: true
            })
            .is_err()
    );
}

#[test]
fn a_line_is_allowed_turns_of_its_own_until_it_is_gone() {
    let lines = demo();
    let plane = BodyEdit::AddPlane {
        name: "WL 38".to_owned(),
        place: Place::Waterline(965.2),
    };
    let lines = lines.apply(&plane).unwrap();
    let id = lines.body.planes.last().unwrap().id;
    let allow = |on, inflections, peaks| BodyEdit::AllowTurns {
        on,
        turns: Some(Turns { inflections, peaks }),
    };
    let allowed = lines.apply(allow(On::Plane(id), 1, 2)).unwrap();
    let allowed = allowed.apply(allow(On::Keel, 0, 3)).unwrap();
    let allowed = allowed.apply(allow(On::Keel, 0, 2)).unwrap();
    assert_eq!(allowed.body.allowed_turns.len(), 2);
    let keel = Turns {
        inflections: 0,
        peaks: 2,
    };
    assert_eq!(allowed.body.turns_allowed(On::Keel), Some(keel));
    assert_eq!(allowed.fingerprint(), lines.fingerprint());
    let usual = BodyEdit::AllowTurns {
        on: On::Keel,
        turns: None,
    };
    assert_eq!(
        allowed.apply(&usual).unwrap().body.turns_allowed(On::Keel),
        None
    );
    let without = allowed.apply(BodyEdit::RemovePlane(id)).unwrap();
    assert_eq!(without.body.turns_allowed(On::Plane(id)), None);
    let says = |edit: BodyEdit| lines.apply(&edit).unwrap_err().to_string();
    assert!(says(allow(On::Plane(PlaneId(999)), 0, 1)).contains("no longer there"));
    assert!(says(allow(On::Crown, 1, 1)).contains("1 inflections and 1 peaks"));
    assert!(says(allow(On::Crown, 0, 100)).contains("at most 99"));
}

/// Where the highest number is taken, the lowest that is free is given.
#[test]
fn numbers_at_their_end_leave_room_for_more() {
    let mut lines = demo();
    let last = lines.body_mut().points.last_mut().unwrap();
    last.id = PointId(u32::MAX);
    let station = last.station;
    lines.body_mut().stations.last_mut().unwrap().id = StationId(u32::MAX);
    for point in &mut lines.body_mut().points {
        if point.station == station {
            point.station = StationId(u32::MAX);
        }
    }
    lines.body_mut().planes[0].id = PlaneId(7_000);
    lines.body_mut().run_lines[0].id = RunLineId(u32::MAX);
    for point in &mut lines.body_mut().points {
        if point.on == On::RunLine(RunLineId(0)) {
            point.on = On::RunLine(RunLineId(u32::MAX));
        } else if point.on == On::Plane(PlaneId(0)) {
            point.on = On::Plane(PlaneId(7_000));
        }
    }
    assert_eq!(lines.first_fault(), None);
    let edits = [
        BodyEdit::AddStation {
            label: "500".to_owned(),
            x: 12_700.0,
        },
        BodyEdit::AddRunLine {
            name: "chine".to_owned(),
            kind: RunKind::Knuckle,
            before: None,
        },
        BodyEdit::AddTorn {
            station: StationId(u32::MAX),
            on: On::Free,
        },
    ];
    for edit in edits {
        lines = lines.apply(edit).unwrap();
    }
    assert_eq!(
        lines.body.run_line_by_name("chine").unwrap().id,
        RunLineId(0)
    );
}

/// A tip nearer to its station than two stations may be leaves lines no room to close in.
#[test]
fn a_tip_keeps_its_distance_from_the_station_beside_it() {
    let lines = demo();
    let first = lines.body.stations[0].x;
    let tip_at = |x: f64| {
        BodyEdit::SetEnds(Ends {
            fore: End::Tip {
                x,
                height: 900.0,
                form: Tip::Blunt,
            },
            ..lines.body.ends
        })
    };
    let refused = lines.apply(tip_at(first - 0.01)).unwrap_err();
    let says = refused.message(LengthUnit::Millimetres);
    assert!(
        says.starts_with("Fore end is a tip 0.0 mm from") && says.contains("0.5 mm"),
        "{says}"
    );
    assert!(lines.apply(tip_at(first - 0.5)).is_ok());
    assert!(lines.apply(tip_at(first + 3.0)).is_err());
}

/// A circle's points at even angles: whichever of those on no line is taken out and read anew, it comes back to its place.
#[test]
fn a_point_on_no_line_comes_where_it_lies_round_the_girth() {
    let section = |x: f64| {
        let point = |n: u32| {
            let angle = core::f64::consts::PI * f64::from(n) / 8.0;
            let on = match n {
                0 => On::Crown,
                8 => On::Keel,
                _ => On::Free,
            };
            let (sin, cos) = (num::sin(angle), num::cos(angle));
            (on, [100.0 * sin, 100.0 * cos])
        };
        (x, (0..=8).map(point).collect::<Vec<_>>())
    };
    let lines = crate::made::made(&vec![section(0.0), section(400.0)], 1.0);
    let places = |lines: &crate::document::Lines| {
        let offsets = lines.body.offsets();
        let round = offsets.iter().flatten().map(|offset| offset.recorded);
        round.collect::<Vec<_>>()
    };
    let before = places(&lines);
    for id in (1..=7).map(PointId) {
        let point = lines.body.point(id).unwrap().clone();
        let out = BodyEdit::RemoveReading {
            point: id,
            reading: 0,
        };
        let without = lines.apply(out).unwrap();
        assert_eq!(places(&without).len(), before.len() - 1);
        let anew = BodyEdit::AddPoint {
            station: point.station,
            on: On::Free,
            reading: point.readings[0].clone(),
        };
        assert_eq!(places(&without.apply(anew).unwrap()), before);
    }
}
