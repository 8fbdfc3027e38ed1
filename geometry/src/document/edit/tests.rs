//! Tests of single edits, on the demo.

use super::super::tests::{at, demo, near, offset};
use super::super::{Counted, Datum, Sense, SkinSide};
use super::*;

#[test]
fn stations_are_added_moved_and_taken_away() {
    let lines = demo();
    let add = |label: &str, x: f64| Edit::AddStation {
        label: label.to_owned(),
        x,
    };
    let more = lines.apply(&add("53", 1346.2)).unwrap();
    let labels: Vec<&str> = more.stations.iter().map(|s| s.label.as_str()).collect();
    assert_eq!(labels[5..8], ["48", "53", "58"]);
    let id = more.stations[6].id;
    // A station with nothing on it shapes nothing of the others.
    assert_eq!(
        more.offsets().iter().flatten().count(),
        lines.offsets().iter().flatten().count()
    );
    let back = more.apply(&Edit::RemoveStation(id)).unwrap();
    assert_eq!(back, lines);

    let place = more.stations[5].id;
    let moved = Edit::MoveStation {
        station: place,
        x: 1360.0,
    };
    let moved = more.apply(&moved).unwrap();
    assert_eq!(moved.stations[6].label, "48");
    let order: Vec<usize> = moved
        .points
        .iter()
        .map(|p| moved.station_index(p.station).unwrap())
        .collect();
    assert!(order.is_sorted(), "points go with their stations");
    near(
        offset(&moved, "48", "keel").recorded[1],
        offset(&lines, "48", "keel").recorded[1],
    );

    let refused = more.apply(&Edit::RemoveStation(place)).unwrap_err();
    assert!(
        refused.to_string().starts_with("STA 48 holds 1"),
        "{refused}"
    );
    assert!(more.apply(&add("53", 1400.0)).is_err(), "a label twice");
    assert!(more.apply(&add("54", 1346.2)).is_err(), "a place twice");
    assert!(more.apply(&add("55", f64::NAN)).is_err());
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
    let retype = Edit::Retype {
        point,
        reading: 0,
        half_breadth: typed("1-3-2", 387.35),
        height: None,
    };
    let corrected = lines.apply(&retype).unwrap();
    near(offset(&corrected, "48", "WL 32").recorded[0], 387.35);
    let reading = &corrected.point(point).unwrap().readings[0];
    assert_eq!(reading.half_breadth.as_ref().unwrap().typed, "1-3-2");
    near(
        reading.tolerance,
        lines.point(point).unwrap().readings[0].tolerance,
    );

    let keel = at(&lines, "48", "keel");
    let many = |last: usize| Edit::Many {
        name: "pasted block".to_owned(),
        edits: vec![
            retype.clone(),
            Edit::Retype {
                point: keel,
                reading: last,
                half_breadth: None,
                height: typed("0-9-1", 231.775),
            },
        ],
    };
    let both = lines.apply(&many(0)).unwrap();
    near(offset(&both, "48", "WL 32").recorded[0], 387.35);
    near(offset(&both, "48", "keel").recorded[1], 231.775);
    assert_eq!(many(0).name(&lines), "pasted block");
    // One of them refused, none is done.
    assert!(lines.apply(&many(7)).is_err());
}

#[test]
fn a_source_counted_from_its_own_datum_is_counted_anew() {
    let lines = demo();
    let keel = at(&lines, "48", "keel");
    let was = lines.point(keel).unwrap().readings[0]
        .height_value()
        .unwrap();
    let mut source = lines
        .source(lines.point(keel).unwrap().readings[0].source)
        .unwrap()
        .clone();
    // Read downward from a line 1,000 mm up: 1000 - what it says.
    source.datum.height = Counted {
        from: 1000.0,
        sense: Sense::Against,
    };
    let down = lines.apply(&Edit::SetSource(source.clone())).unwrap();
    let reading = &down.point(keel).unwrap().readings[0];
    near(reading.height_value().unwrap(), 1000.0 - was);
    assert_eq!(
        reading.height.as_ref().unwrap().typed,
        lines.point(keel).unwrap().readings[0]
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
    let back = down.apply(&Edit::SetSource(source.clone())).unwrap();
    for (a, b) in back.points.iter().zip(&lines.points) {
        let value = |p: &Point| p.readings.first().and_then(Reading::height_value);
        assert!((value(a).unwrap_or(0.0) - value(b).unwrap_or(0.0)).abs() < 1e-7);
    }
    source.surface = SkinSide::Inside { thickness: 0.0 };
    assert!(lines.apply(&Edit::SetSource(source.clone())).is_err());
    source.surface = SkinSide::Inside { thickness: 1.2 };
    let inside = lines.apply(&Edit::SetSource(source.clone())).unwrap();
    near(offset(&inside, "48", "keel").depth[1], 1.2);
    assert_ne!(inside.fingerprint(), lines.fingerprint());
    assert!(matches!(
        lines.apply(&Edit::RemoveSource(source.id)),
        Err(EditError::Quoted { .. })
    ));
    let more = lines.apply(&Edit::AddSource("Relic".to_owned())).unwrap();
    let relic = more.sources.last().unwrap().id;
    assert_eq!(more.apply(&Edit::RemoveSource(relic)).unwrap(), lines);
}

#[test]
fn cells_are_marked_torn_and_readings_taken_out() {
    let lines = demo();
    let all = lines.stations.iter().flat_map(|station| {
        let ons = lines.planes.iter().map(|plane| On::Plane(plane.id));
        ons.map(move |on| (station.id, on))
    });
    let (station, on) = all
        .into_iter()
        .find(|(station, on)| lines.point_on(*station, *on).is_none())
        .unwrap();
    let torn = lines.apply(&Edit::AddTorn { station, on }).unwrap();
    let point = torn.torn()[0];
    assert_eq!(torn.point(point).unwrap().station, station);
    let twice = torn.apply(&Edit::AddTorn { station, on });
    assert!(matches!(twice, Err(EditError::NotTorn { .. })));
    assert_eq!(torn.apply(&Edit::RemoveTorn(point)).unwrap(), lines);
    let keel = at(&lines, "123", "keel");
    let read = lines.apply(&Edit::RemoveTorn(keel));
    assert!(matches!(read, Err(EditError::NotTorn { .. })));
    let taken = Edit::RemoveReading {
        point: keel,
        reading: 0,
    };
    let out = lines.apply(&taken).unwrap();
    assert_eq!(out.points.len(), lines.points.len() - 1);
    assert_eq!(out.apply(&taken), Err(EditError::NoPoint));
}

#[test]
fn run_lines_are_added_in_their_place_and_taken_away() {
    let lines = demo();
    let first = lines.run_lines[0].clone();
    let more = lines
        .apply(&Edit::AddRunLine {
            name: " shoulder ".to_owned(),
            kind: RunKind::Knuckle,
            before: Some(first.id),
        })
        .unwrap();
    let shoulder = more.run_lines[0].clone();
    assert_eq!(
        (shoulder.name.as_str(), &more.run_lines[1]),
        ("shoulder", &first)
    );
    let second = Edit::SetRunLine(RunLine {
        joint: true,
        ..shoulder.clone()
    });
    assert_eq!(more.apply(&second).is_err(), first.joint, "one joint only");
    assert_eq!(
        more.apply(&Edit::RemoveRunLine(shoulder.id)).unwrap(),
        lines
    );
    assert!(matches!(
        more.apply(&Edit::RemoveRunLine(first.id)),
        Err(EditError::InUse { .. })
    ));
    let label = Edit::RenameStation {
        station: lines.stations[0].id,
        label: lines.stations[1].label.clone(),
    };
    assert!(lines.apply(&label).is_err(), "a label is unique");
}

#[test]
fn a_reading_is_kept_until_it_says_something_else() {
    let lines = demo();
    let point = at(&lines, "48", "WL 32");
    let keep = |kept| Edit::Keep {
        point,
        reading: 0,
        kept,
    };
    let kept = lines.apply(&keep(true)).unwrap();
    assert!(kept.keeps(point) && !lines.keeps(point));
    assert_eq!(kept.fingerprint(), lines.fingerprint(), "it shapes nothing");
    assert_eq!(keep(true).name(&lines), "STA 48, WL 32 kept");
    assert_eq!(kept.apply(&keep(false)).unwrap(), lines);
    let right = Edit::PutRight {
        point,
        reading: 0,
        half_breadth: Some(387.35),
        height: None,
    };
    assert!(!kept.apply(&right).unwrap().keeps(point));
    assert!(
        lines
            .apply(&Edit::Keep {
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
    let plane = Edit::AddPlane {
        name: "WL 38".to_owned(),
        place: Place::Waterline(965.2),
    };
    let lines = lines.apply(&plane).unwrap();
    let id = lines.planes.last().unwrap().id;
    let allow = |on, inflections, peaks| Edit::AllowTurns {
        on,
        turns: Some(Turns { inflections, peaks }),
    };
    let allowed = lines.apply(&allow(On::Plane(id), 1, 2)).unwrap();
    let allowed = allowed.apply(&allow(On::Keel, 0, 3)).unwrap();
    let allowed = allowed.apply(&allow(On::Keel, 0, 2)).unwrap();
    assert_eq!(allowed.allowed_turns.len(), 2);
    let keel = Turns {
        inflections: 0,
        peaks: 2,
    };
    assert_eq!(allowed.turns_allowed(On::Keel), Some(keel));
    assert_eq!(allowed.fingerprint(), lines.fingerprint());
    let usual = Edit::AllowTurns {
        on: On::Keel,
        turns: None,
    };
    assert_eq!(allowed.apply(&usual).unwrap().turns_allowed(On::Keel), None);
    let without = allowed.apply(&Edit::RemovePlane(id)).unwrap();
    assert_eq!(without.turns_allowed(On::Plane(id)), None);
    let says = |edit| lines.apply(&edit).unwrap_err().to_string();
    assert!(says(allow(On::Plane(PlaneId(999)), 0, 1)).contains("no longer there"));
    assert!(says(allow(On::Crown, 1, 1)).contains("1 inflections and 1 peaks"));
    assert!(says(allow(On::Crown, 0, 100)).contains("at most 99"));
}
