//! Tests of the document: offsets, rules, edits, history, fingerprint, file and link, on the demo and a frozen sample.

use std::sync::Arc;

use proptest::prelude::*;

use super::body::find::station_words;
use super::rules::{At, Broken};
use super::*;
use crate::units::{LengthUnit, Message};

fn data(name: &str) -> Vec<u8> {
    let path = format!("{}/../tests/data/{name}", env!("CARGO_MANIFEST_DIR"));
    std::fs::read(path).unwrap()
}

pub(super) fn demo() -> Lines {
    read_table(&data("demo_offsets.csv"), &TableOptions::default())
        .unwrap()
        .lines()
}

fn skin(thickness: f64) -> Arc<Shop> {
    Arc::new(Shop {
        skin_thickness: Some(thickness),
        ..Shop::default()
    })
}

pub(super) fn sample() -> Folder {
    read_folder(&data("schema_1.json")).unwrap()
}

pub(super) fn at(lines: &Lines, station: &str, line: &str) -> PointId {
    let id = lines.body.station_by_label(station).unwrap().id;
    let is_it = |p: &&Point| p.station == id && lines.body.line_name(p.on).as_deref() == Some(line);
    lines.body.points.iter().find(is_it).unwrap().id
}

pub(super) fn offset(lines: &Lines, station: &str, line: &str) -> Offset {
    lines
        .body
        .offset(lines.body.point(at(lines, station, line)).unwrap())
        .unwrap()
}

#[track_caller]
pub(super) fn near(a: f64, b: f64) {
    assert!((a - b).abs() < 1e-9, "{a} is not {b}");
}

// ---- offsets ----

#[test]
fn a_misprint_put_right_is_what_is_recorded() {
    let lines = sample().lines;
    near(offset(&lines, "48", "WL 32").recorded[0], 387.35);
    near(offset(&lines, "48", "WL 32").recorded[1], 812.8);
}

#[test]
fn a_reading_along_a_diagonal_gives_both_coordinates() {
    // A right triangle with legs 3 and 4: an angle of atan2(3, 4) turns 500 along into 400 out and 300 down.
    let mut lines = sample().lines;
    let angle = crate::num::atan2(3.0, 4.0);
    lines.body_mut().planes[2].place = Place::Diagonal {
        height: 900.0,
        angle,
    };
    let id = at(&lines, "24", "D 1");
    let point = lines
        .body_mut()
        .points
        .iter_mut()
        .find(|p| p.id == id)
        .unwrap();
    point.readings[0].half_breadth = Some(Recorded {
        typed: "500".to_owned(),
        mm: 500.0,
        put_right: None,
    });
    let found = offset(&lines, "24", "D 1");
    near(found.recorded[0], 400.0);
    near(found.recorded[1], 600.0);
    near(
        lines.body.planes[2]
            .place
            .distance_along(400.0, 600.0)
            .unwrap(),
        500.0,
    );
    // The tolerance counts whole along the diagonal and a tenth across it.
    near(found.fixes.tolerance_along(2.0, [0.8, -0.6]), 2.0);
    near(found.fixes.tolerance_along(2.0, [0.6, 0.8]), 0.2);
}

#[test]
fn two_readings_merge_by_their_tolerances() {
    // Weights 1/1² and 1/2²: (100 · 1 + 105 · 0.25) / 1.25 = 101; common practice of weighted means.
    let mut lines = sample().lines;
    let id = at(&lines, "24", "crown");
    let point = lines
        .body_mut()
        .points
        .iter_mut()
        .find(|p| p.id == id)
        .unwrap();
    let mut first = point.readings[0].clone();
    first.tolerance = 1.0;
    first.height = Some(Recorded {
        typed: "100".to_owned(),
        mm: 100.0,
        put_right: None,
    });
    let mut second = first.clone();
    second.tolerance = 2.0;
    second.height = Some(Recorded {
        typed: "105".to_owned(),
        mm: 105.0,
        put_right: None,
    });
    point.readings = vec![first, second];
    let found = offset(&lines, "24", "crown");
    near(found.recorded[1], 101.0);
    near(found.tolerance, 1.0);
    let against = lines.body.contradictions();
    let own: Vec<_> = against.iter().filter(|c| c.point == id).collect();
    assert_eq!(own.len(), 1, "5 mm apart, 3 mm allowed");
    near(own[0].apart, 5.0);
    near(own[0].allowed, 3.0);
}

#[test]
fn offsets_run_from_crown_to_keel() {
    for station in demo().body.offsets() {
        let heights: Vec<f64> = station.iter().map(|o| o.recorded[1]).collect();
        assert!(heights.is_sorted_by(|a, b| a > b), "{heights:?}");
        assert_eq!(
            (station[0].on, station.last().unwrap().on),
            (On::Crown, On::Keel)
        );
    }
}

#[test]
fn the_order_of_the_list_moves_only_unnamed_points() {
    let lines = sample().lines;
    let names = |lines: &Lines| -> Vec<Vec<String>> {
        let name = |o: &Offset| {
            lines
                .body
                .line_name(o.on)
                .unwrap_or_else(|| "free".to_owned())
        };
        lines
            .body
            .offsets()
            .iter()
            .map(|station| station.iter().map(name).collect())
            .collect()
    };
    let girth = [
        "crown",
        "BL 4 U",
        "shoulder knuckle",
        "WL 32",
        "D 1",
        "free",
        "joint",
        "BL 4",
        "keel",
    ];
    // D 1 lies at (229, 707), the joint at (400, 610): by angle D 1 comes first, and the unnamed point stays behind it.
    assert_eq!(names(&lines)[0], girth);
    let mut turned = lines.clone();
    turned.body_mut().points.retain(|p| p.on != On::Free);
    let before = names(&turned);
    turned.body_mut().points.reverse();
    assert_eq!(names(&turned), before);
}

#[test]
fn points_are_named_as_a_person_does() {
    let lines = sample().lines;
    assert_eq!(
        lines.body.point_name(at(&lines, "48", "BL 4 U")),
        "STA 48, BL 4 U"
    );
    let free = lines.body.points.iter().find(|p| p.on == On::Free).unwrap();
    assert_eq!(lines.body.name_of(free), "STA 0, point 7");
    assert_eq!(station_words("STA 9"), "STA 9");
    assert_eq!(lines.body.point_name(PointId(9999)), "no such point");
}

// ---- rules ----

#[track_caller]
fn broken(change: impl FnOnce(&mut Lines)) -> Fault {
    let mut lines = sample().lines;
    assert_eq!(lines.first_fault(), None);
    change(&mut lines);
    let first = lines.first_fault().expect("a fault");
    // NaN is not itself, so the faults are compared as text.
    assert_eq!(
        format!("{:?}", lines.faults().first()),
        format!("{:?}", Some(&first))
    );
    assert!(first.message(LengthUnit::Inches).ends_with('.'));
    first
}

#[test]
#[expect(clippy::too_many_lines, reason = "one short case a rule")]
fn each_rule_names_its_place() {
    let point = |lines: &Lines| {
        lines
            .body
            .points
            .iter()
            .position(|p| p.id == at(lines, "24", "WL 32"))
            .unwrap()
    };
    let fault = broken(|l| l.body_mut().stations[1].x = f64::NAN);
    assert_eq!(fault.at, At::Station("24".to_owned()));
    assert!(matches!(fault.broken, Broken::OutOfBounds(x) if x.is_nan()));
    assert!(matches!(
        broken(|l| l.body_mut().stations[1].x = 0.4).broken,
        Broken::StationOrder(_, _)
    ));
    assert!(matches!(
        broken(|l| l.body_mut().stations[2].x = 1.0e9).broken,
        Broken::OutOfBounds(_)
    ));
    assert_eq!(
        broken(|l| l.body_mut().stations[1].label = "0".to_owned()).broken,
        Broken::TakenName
    );
    assert_eq!(
        broken(|l| l.body_mut().stations[1].label = " ".to_owned()).broken,
        Broken::NoName
    );
    assert!(matches!(
        broken(|l| l.body_mut().stations[1].id = StationId(10)).broken,
        Broken::TakenId(_)
    ));
    assert_eq!(
        broken(|l| l.about.title = "a\nb".to_owned()).broken,
        Broken::OddCharacter('\n')
    );
    assert!(matches!(
        broken(|l| l.about.title = "a".repeat(201)).broken,
        Broken::LongText(200)
    ));
    assert_eq!(
        broken(|l| l.body_mut().method = 3).broken,
        Broken::Method(3)
    );
    assert!(matches!(
        broken(|l| l.body_mut().planes[1].place = Place::Buttock(0.0)).broken,
        Broken::ButtockPlace(_)
    ));
    let level = Place::Diagonal {
        height: 0.0,
        angle: 0.0,
    };
    assert!(matches!(
        broken(|l| l.body_mut().planes[2].place = level).broken,
        Broken::DiagonalAngle(_)
    ));
    assert_eq!(
        broken(|l| l.body_mut().run_lines[0].joint = true).broken,
        Broken::SecondJoint
    );
    let inside = End::Tip {
        x: 10.0,
        height: 0.0,
        form: Tip::Pointed,
    };
    assert_eq!(broken(|l| l.body_mut().ends.fore = inside).at, At::ForeEnd);
    assert_eq!(broken(|l| l.body_mut().ends.aft = inside).at, At::AftEnd);
    assert_eq!(
        broken(|l| l.body_mut().centreline.keel = vec![Crossing {
            to: Some(StationId(1)),
            form: Peak::Smooth
        }])
        .at,
        At::Centreline(Side::Keel)
    );
    assert_eq!(
        broken(|l| l.body_mut().centreline.crown.reverse()).broken,
        Broken::RunOrder
    );
    assert!(matches!(
        broken(|l| l.shop = skin(0.0)).broken,
        Broken::Skin(_)
    ));
    let fault = broken(|l| {
        let n = point(l);
        l.body_mut().points[n].readings[1].tolerance = 0.0;
    });
    assert_eq!(fault.at, At::Reading("STA 24, WL 32".to_owned(), 2));
    assert_eq!(
        broken(|l| {
            let n = point(l);
            l.body_mut().points[n].readings[0].half_breadth = None;
        })
        .broken,
        Broken::Lacks("half-breadth")
    );
    assert_eq!(
        broken(|l| {
            let n = point(l);
            let r = &mut l.body_mut().points[n].readings[0];
            r.height = r.half_breadth.clone();
        })
        .broken,
        Broken::Needless("height")
    );
    assert_eq!(
        broken(|l| {
            let n = point(l);
            l.body_mut().points[n].accepted_height = Some(5.0);
        })
        .broken,
        Broken::NotRead("height")
    );
    assert!(matches!(
        broken(|l| {
            let n = point(l);
            l.body_mut().points[n].accepted_half_breadth = Some(5.005);
        })
        .broken,
        Broken::AcceptedStep(_)
    ));
    assert_eq!(
        broken(|l| {
            let n = point(l);
            l.body_mut().points[n].on = On::Plane(PlaneId(77));
        })
        .broken,
        Broken::NoSuch("line")
    );
    assert_eq!(
        broken(|l| {
            let n = point(l);
            l.body_mut().points[n].on = On::PlaneUpper(PlaneId(1));
        })
        .broken,
        Broken::NoUpperCut
    );
    assert_eq!(
        broken(|l| {
            let n = point(l);
            l.body_mut().points[n].station = StationId(77);
        })
        .broken,
        Broken::NoSuch("station")
    );
    assert_eq!(
        broken(|l| {
            let n = point(l);
            l.body_mut().points[n].station = StationId(30);
        })
        .broken,
        Broken::SecondPoint
    );
    assert!(matches!(
        broken(|l| {
            let n = point(l);
            let r = l.body.points[n].readings[0].clone();
            l.body_mut().points[n].readings = vec![r; 65];
        })
        .broken,
        Broken::TooMany(_, 65, 64)
    ));
}

#[test]
fn a_table_of_half_breadths_alone_is_sound() {
    // The hull forms of the published tables: waterlines only, sections of no breadth at the ends.
    let text = "# half-breadths\nx_from_FP,z=-0.5,z=-0.25,z=0\n0,0,0,0\n100,0,7.5,10\n200,0,0,0\n";
    let preview = read_table(text.as_bytes(), &TableOptions::default()).unwrap();
    let lines = preview.lines();
    assert_eq!((preview.stations, preview.values), (3, 9));
    assert_eq!(preview.refused, []);
    assert_eq!(lines.faults(), []);
    assert_eq!(
        lines.body.plane_by_name("WL -0.25").unwrap().place,
        Place::Waterline(-0.25)
    );
    assert_eq!(
        lines.body.offsets()[1]
            .iter()
            .map(|o| o.recorded[1])
            .collect::<Vec<_>>(),
        [0.0, -0.25, -0.5]
    );
}

// ---- edits ----

#[test]
fn a_move_is_kept_to_a_hundredth_and_only_where_it_differs() {
    let lines = demo();
    let point = at(&lines, "48", "WL 32");
    let to = |lines: &Lines, y: f64| {
        lines
            .apply(BodyEdit::Move(Moved {
                point,
                half_breadth: Some(y),
                height: None,
            }))
            .unwrap()
    };
    let moved = to(&lines, 370.123_4);
    assert_eq!(
        moved.body.point(point).unwrap().accepted_half_breadth,
        Some(370.12)
    );
    near(offset(&moved, "48", "WL 32").accepted[0], 370.12);
    near(offset(&moved, "48", "WL 32").recorded[0], 365.125);
    assert_eq!(to(&moved, 365.125), lines);
    assert_eq!(
        to(&moved, 365.13),
        lines,
        "nearest hundredth of the recorded value"
    );
    assert_eq!(moved.apply(BodyEdit::LetGo(vec![point])).unwrap(), lines);
}

#[test]
fn what_was_not_read_does_not_move() {
    let lines = demo();
    let point = at(&lines, "48", "WL 32");
    let edit = BodyEdit::Move(Moved {
        point,
        half_breadth: None,
        height: Some(800.0),
    });
    let error = lines.apply(&edit).unwrap_err();
    assert!(
        error
            .to_string()
            .starts_with("STA 48, WL 32 has no height in use"),
        "{error}"
    );
    let edit = BodyEdit::Move(Moved {
        point,
        half_breadth: Some(-3.0),
        height: None,
    });
    assert!(matches!(
        lines.apply(&edit),
        Err(EditError::Unsound(Fault {
            broken: Broken::BelowZero(_),
            ..
        }))
    ));
    let edit = BodyEdit::Move(Moved {
        point,
        half_breadth: Some(f64::NAN),
        height: None,
    });
    assert!(matches!(lines.apply(&edit), Err(EditError::Unsound(_))));
}

#[test]
fn a_misprint_is_put_right_and_taken_back() {
    let lines = demo();
    let point = at(&lines, "48", "WL 32");
    let right = BodyEdit::PutRight {
        point,
        reading: 0,
        half_breadth: Some(387.35),
        height: None,
    };
    let mended = lines.apply(&right).unwrap();
    near(offset(&mended, "48", "WL 32").recorded[0], 387.35);
    assert_eq!(
        mended.body.point(point).unwrap().readings[0]
            .half_breadth
            .as_ref()
            .unwrap()
            .typed,
        "1-2-3"
    );
    assert_eq!(
        mended
            .apply(BodyEdit::TakeBack { point, reading: 0 })
            .unwrap(),
        lines
    );
    let none = BodyEdit::TakeBack { point, reading: 3 };
    assert_eq!(
        lines.apply(&none).unwrap_err().to_string(),
        "STA 48, WL 32 has no reading 4, only 1. Pick one of them."
    );
}

#[test]
fn setting_aside_asks_for_a_reason() {
    let lines = demo();
    let point = at(&lines, "101", "keel");
    let aside = |reason: &str| BodyEdit::SetAside {
        point,
        reading: 0,
        reason: reason.to_owned(),
    };
    assert!(matches!(
        lines.apply(aside("  ")),
        Err(EditError::NoReason { .. })
    ));
    let without = lines.apply(aside("lies in the hollow")).unwrap();
    assert_eq!(
        without.body.offsets()[10].len() + 1,
        lines.body.offsets()[10].len()
    );
    assert_eq!(
        without
            .apply(BodyEdit::UseAgain { point, reading: 0 })
            .unwrap(),
        lines
    );
}

#[test]
fn planes_come_and_go_while_no_point_lies_on_them() {
    let lines = demo();
    let add = BodyEdit::AddPlane {
        name: "WL 30".to_owned(),
        place: Place::Waterline(762.0),
    };
    let more = lines.apply(&add).unwrap();
    let id = more.body.plane_by_name("WL 30").unwrap().id;
    assert!(matches!(
        more.apply(&add),
        Err(EditError::Unsound(Fault {
            broken: Broken::TakenName,
            ..
        }))
    ));
    assert_eq!(more.apply(BodyEdit::RemovePlane(id)).unwrap(), lines);
    let used = lines.body.plane_by_name("WL 32").unwrap().id;
    assert!(
        lines
            .apply(BodyEdit::RemovePlane(used))
            .unwrap_err()
            .to_string()
            .starts_with("WL 32 holds 15 points")
    );
    let named = lines
        .apply(BodyEdit::RenamePlane {
            plane: used,
            name: "WL main".to_owned(),
        })
        .unwrap();
    assert_eq!(
        named.body.point_name(at(&named, "48", "WL main")),
        "STA 48, WL main"
    );
}

#[test]
fn a_note_is_added_to_what_is_noted() {
    let lines = demo();
    let point = at(&lines, "101", "keel");
    let note = |lines: &Lines, note: &str| {
        let edit = BodyEdit::AddNote {
            point,
            reading: 0,
            note: note.to_owned(),
        };
        lines.apply(&edit).unwrap()
    };
    let twice = note(&note(&lines, "looked at"), "overruled");
    let noted = &twice.body.point(point).unwrap().readings[0].note;
    assert!(noted.ends_with("looked at; overruled"), "{noted}");
    assert_eq!(
        twice.fingerprint(),
        lines.fingerprint(),
        "words shape no metal"
    );
}

// ---- history ----

#[test]
fn two_hundred_moves_and_back_leave_the_same_fingerprint() {
    let first = demo();
    let mut history = History::new(Arc::new(first.clone()));
    let point = at(&first, "101", "keel");
    for n in 1..=200 {
        history
            .edit(BodyEdit::Move(Moved {
                point,
                half_breadth: None,
                height: Some(400.0 + f64::from(n) / 10.0),
            }))
            .unwrap();
    }
    // The move to 408.0 mm is one beside what was recorded, so all 200 are steps.
    assert_eq!(
        (history.depth(), history.undo_name()),
        (200, Some("STA 101, keel"))
    );
    let last = history.now().fingerprint();
    while history.undo().is_some() {}
    assert_eq!(history.now().fingerprint(), first.fingerprint());
    assert_eq!(history.redo_name(), Some("STA 101, keel"));
    while history.redo().is_some() {}
    assert_eq!(history.now().fingerprint(), last);
}

#[test]
fn a_new_step_forgets_what_was_undone_and_the_oldest_go_first() {
    let mut history = History::new(Arc::new(demo()));
    let title = |n: usize| AboutEdit::Title(format!("title {n}"));
    for n in 0..history::MOST_STEPS + 5 {
        history.edit(title(n)).unwrap();
    }
    assert_eq!(history.depth(), history::MOST_STEPS);
    history.undo();
    history.undo();
    let undone = history::MOST_STEPS + 2;
    assert_eq!(history.now().about.title, format!("title {undone}"));
    history.edit(title(9999)).unwrap();
    assert_eq!(history.redo(), None);
    assert_eq!(history.now().about.title, "title 9999");
    history.edit(title(9999)).unwrap();
    assert_eq!(
        history.depth(),
        history::MOST_STEPS - 1,
        "an edit that changes nothing is no step"
    );
    let before = history.clone();
    assert!(history.edit(BodyEdit::PutDuck(PointId(70_000))).is_err());
    assert_eq!(history, before);
}

// ---- fingerprint ----

/// The sample with other ids, its lists in other orders, and other words.
fn told_otherwise(mut lines: Lines) -> Lines {
    let other = |id: u32| 1000 - id;
    for station in &mut lines.body_mut().stations {
        station.id = StationId(other(station.id.0));
    }
    for source in &mut lines.body_mut().sources {
        source.id = SourceId(other(source.id.0));
        source.title.push('!');
    }
    for plane in &mut lines.body_mut().planes {
        plane.id = PlaneId(other(plane.id.0));
    }
    for run_line in &mut lines.body_mut().run_lines {
        run_line.id = RunLineId(other(run_line.id.0));
    }
    let centreline = &mut lines.body_mut().centreline;
    for run in centreline.crown.iter_mut().chain(&mut centreline.keel) {
        run.to = run.to.map(|id| StationId(other(id.0)));
    }
    for point in &mut lines.body_mut().points {
        point.id = PointId(other(point.id.0));
        point.station = StationId(other(point.station.0));
        point.on = match point.on {
            On::Plane(id) => On::Plane(PlaneId(other(id.0))),
            On::PlaneUpper(id) => On::PlaneUpper(PlaneId(other(id.0))),
            On::RunLine(id) => On::RunLine(RunLineId(other(id.0))),
            on => on,
        };
        for reading in &mut point.readings {
            reading.source = SourceId(other(reading.source.0));
            reading.note.push('x');
        }
        point.readings.reverse();
    }
    lines.body_mut().planes.reverse();
    lines.body_mut().sources.reverse();
    lines.body_mut().points.sort_by_key(|p| p.station.0);
    lines.about.title = "another title".to_owned();
    lines.about.notes = "other notes".to_owned();
    lines.about.revision = "Q".to_owned();
    lines.about.unit = LengthUnit::Millimetres;
    lines.body_mut().stations[0].x = -0.0;
    lines
}

#[test]
fn the_fingerprint_is_of_what_shapes_metal() {
    let lines = sample().lines;
    let mark = lines.fingerprint();
    let other = told_otherwise(lines.clone());
    assert_eq!(other.first_fault(), None);
    assert_eq!(other.fingerprint(), mark);
    let differs = |change: &dyn Fn(&mut Lines)| {
        let mut changed = lines.clone();
        change(&mut changed);
        assert_ne!(changed.fingerprint(), mark);
    };
    differs(&|l| l.body_mut().stations[1].x += 0.01);
    differs(&|l| l.body_mut().stations[1].label.push('A'));
    differs(&|l| l.body_mut().planes[0].name.push('A'));
    differs(&|l| l.body_mut().run_lines[0].kind = RunKind::Smooth);
    differs(&|l| l.body_mut().ends.fore = End::Open);
    differs(&|l| {
        l.body_mut().centreline.keel = vec![Crossing {
            to: None,
            form: Peak::Peaked,
        }];
    });
    differs(&|l| l.shop = skin(1.6));
    differs(&|l| l.body_mut().points[0].duck = true);
    differs(&|l| l.body_mut().points[0].accepted_height = Some(1.0));
    differs(&|l| l.body_mut().points[0].readings[0].tolerance = 1.5);
    differs(&|l| {
        l.body_mut().points[0].readings[0]
            .height
            .as_mut()
            .unwrap()
            .put_right = Some(1201.0);
    });
    differs(&|l| l.body_mut().method = 2);
}

#[test]
fn the_fingerprint_of_the_frozen_sample_stands() {
    // Frozen: sheets on paper carry it. A change here makes every sheet that was ever printed a stranger.
    let mark = sample().lines.fingerprint();
    assert_eq!(
        mark.full(),
        "B43122A8V6W1DTH5YDR3JK60Z7DY3ZKWNSZ4W9JRE5WEV3K5GAA0"
    );
    assert_eq!(
        (mark.short(), mark.paper()),
        (mark.full()[..4].to_owned(), mark.full()[..7].to_owned())
    );
    assert_eq!(mark.full().len(), 52);
}

// ---- file ----

#[test]
fn a_file_is_read_back_with_its_bits() {
    let folder = sample();
    assert_eq!(folder.revisions.len(), 1);
    assert_eq!(read_folder(&write_folder(&folder)).unwrap(), folder);
    let folder = Folder {
        lines: demo(),
        revisions: Vec::new(),
    };
    let bytes = write_folder(&folder);
    assert_eq!(read_folder(&bytes).unwrap(), folder);
    assert_eq!(write_folder(&read_folder(&bytes).unwrap()), bytes);
}

#[test]
fn a_file_says_what_is_wrong_with_it() {
    let text = String::from_utf8(data("schema_1.json")).unwrap();
    let says = |bytes: &[u8]| read_folder(bytes).unwrap_err().to_string();
    assert!(says(b"").contains("empty"));
    assert!(says(&text.as_bytes()[..900]).contains("cut off"));
    assert!(says(text.replace("\"schema\": 1", "\"schema\": 99").as_bytes()).contains("schema 99"));
    assert!(says(text.replace("609.6", "NaN").as_bytes()).contains("NaN"));
    assert!(says(text.replace("609.6", "1e999").as_bytes()).contains("damaged"));
    assert!(says(text.replace("609.6", "1e99").as_bytes()).contains("STA 24"));
    assert!(
        says(
            text.replace("\"seams\"", "\"x\"")
                .replace("\"skin_thickness\"", "\"skin\"")
                .as_bytes()
        )
        .contains("unknown field `skin`")
    );
    assert!(says(text.replace("scrieve board lines", "a song").as_bytes()).contains("kind"));
    assert!(says(b"<svg xmlns='http://www.w3.org/2000/svg'/>").contains("drawing"));
    assert!(says(b"STA,crown,keel\n").contains("table"));
    assert!(
        says(&[b"{\"a\":".repeat(40), b"1".to_vec(), b"}".repeat(40)].concat()).contains("nests")
    );
    let wide: Vec<u8> = text.encode_utf16().flat_map(u16::to_le_bytes).collect();
    assert!(says(&wide).contains("UTF-16"));
    assert!(says(b"{\"kind\": \"\xff\"}").contains("UTF-8"));
    assert!(says(text.replace("2026-03-03", "March").as_bytes()).contains("Revision A"));
    assert!(says(&vec![b' '; file::LARGEST_FILE + 1]).contains("32"));
}

// ---- link ----

#[test]
fn a_link_carries_the_lines() {
    for lines in [demo(), sample().lines] {
        let link = write_link(&lines);
        assert!(
            link.bytes()
                .all(|b| b.is_ascii_alphanumeric() || b"-_.".contains(&b))
        );
        let back = read_link(&link).unwrap();
        assert_eq!(back.fingerprint(), lines.fingerprint());
        assert_eq!(
            (&back.about.title, &back.about.revision, back.about.unit),
            (&lines.about.title, &lines.about.revision, lines.about.unit)
        );
        assert_eq!(back.about.notes, "");
        let aside = |l: &Lines| {
            l.body
                .points
                .iter()
                .flat_map(|p| &p.readings)
                .filter(|r| r.set_aside.is_some())
                .count()
        };
        assert_eq!(aside(&back), aside(&lines));
        assert_eq!(write_link(&back), link, "numbering anew changes nothing");
    }
    let mut bare = demo();
    bare.body_mut()
        .points
        .iter_mut()
        .flat_map(|p| &mut p.readings)
        .for_each(|r| r.note.clear());
    assert_eq!(read_link(&write_link(&bare)).unwrap(), bare);
}

#[test]
fn the_demo_s_link_is_short() {
    let lines = demo();
    let faired = BodyEdit::MoveAll(
        lines
            .body
            .offsets()
            .iter()
            .flatten()
            .zip(1_i32..)
            .map(|(o, n)| {
                let by = f64::from(n * 37 % 160 - 80) / 100.0;
                let moved = |fixed: Fixes, value: f64| {
                    (o.fixes == fixed || o.fixes == Fixes::Both).then_some(value + by)
                };
                Moved {
                    point: o.point,
                    half_breadth: moved(Fixes::HalfBreadth, o.recorded[0]),
                    height: moved(Fixes::Height, o.recorded[1]),
                }
            })
            .collect(),
    );
    let faired = lines.apply(&faired).unwrap();
    let (plain, after) = (write_link(&lines).len(), write_link(&faired).len());
    assert!(plain < 2_000, "{plain}");
    assert!(after < 4_100, "{after}");
    assert_eq!(
        read_link(&write_link(&faired)).unwrap().fingerprint(),
        faired.fingerprint()
    );
}

#[test]
fn a_damaged_link_says_where() {
    let link = write_link(&demo());
    let head = link.match_indices('.').nth(1).unwrap().0 + 1;
    for at in 0..link.len() {
        for with in ['A', 'z', '-', '~', '.', '9'] {
            let mut damaged: Vec<char> = link.chars().collect();
            if damaged[at] == with {
                continue;
            }
            damaged[at] = with;
            let damaged: String = damaged.into_iter().collect();
            match read_link(&damaged) {
                Err(LinkError::Damaged { after, .. }) => {
                    assert!(after <= at && at < after + 66 + head, "{after} {at}");
                }
                Err(LinkError::NoLink | LinkError::Newer) => assert!(at < 4, "{at}"),
                Err(LinkError::CutOff { .. } | LinkError::Overlong { .. }) => {
                    assert!(at < head, "{at}");
                }
                other => panic!("{at} {with}: {other:?}"),
            }
        }
    }
    for cut in 0..link.len() {
        match read_link(&link[..cut]) {
            Err(LinkError::CutOff { found, sent }) => assert_eq!((found, sent), (cut, link.len())),
            Err(LinkError::NoLink | LinkError::Damaged { .. }) => assert!(cut < head, "{cut}"),
            other => panic!("{cut}: {other:?}"),
        }
    }
    assert!(
        read_link(&format!("{link}."))
            .unwrap_err()
            .to_string()
            .contains("1 characters too many")
    );
    assert!(read_link(&format!("#{link}\n")).is_ok());
    assert_eq!(read_link("SB2.abc"), Err(LinkError::Newer));
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    #[test]
    fn any_moves_leave_a_sound_document(moves in prop::collection::vec((0_u32..190, -10.0..2000.0_f64), 1..20)) {
        let mut lines = demo();
        for (n, value) in moves {
            let one = Moved { point: PointId(n), half_breadth: Some(value), height: None };
            let other = Moved { point: PointId(n), half_breadth: None, height: Some(value) };
            for edit in [BodyEdit::Move(one), BodyEdit::Move(other), BodyEdit::PutDuck(PointId(n))] {
                if let Ok(next) = lines.apply(&edit) {
                    prop_assert_eq!(next.first_fault(), None);
                    lines = next;
                }
            }
        }
        let folder = Folder { lines: lines.clone(), revisions: Vec::new() };
        prop_assert_eq!(read_folder(&write_folder(&folder)).unwrap(), folder);
        prop_assert_eq!(read_link(&write_link(&lines)).unwrap().fingerprint(), lines.fingerprint());
    }

    /// Whatever edits make of values, a link and a file give the same fingerprint back.
    #[test]
    fn any_edits_keep_their_fingerprint_through_a_link(
        edits in prop::collection::vec((0_u32..8, 0_u32..190, 0.001..900.0_f64, 0.0..90.0_f64), 1..30)
    ) {
        let mut lines = demo();
        for (kind, n, value, other) in edits {
            let point = PointId(n);
            let edit: Edit = match kind {
                0 => BodyEdit::Move(Moved { point, half_breadth: Some(value), height: Some(value + other) }).into(),
                1 => BodyEdit::PutRight { point, reading: 0, half_breadth: Some(value), height: None }.into(),
                2 => BodyEdit::PutRight { point, reading: 0, half_breadth: None, height: Some(value) }.into(),
                3 => BodyEdit::SetTolerance { point, reading: 0, tolerance: other + 1e-3 }.into(),
                4 => {
                    let height = Counted { from: value, sense: if n % 2 == 0 { Sense::With } else { Sense::Against } };
                    let aft = (value - 450.0) / 10.0;
                    let datum = Datum { height, aft, ..Datum::default() };
                    BodyEdit::SetSource(Source { datum, ..lines.body.sources[0].clone() }).into()
                }
                5 => BodyEdit::MoveStation { station: StationId(n % 16), x: value * 4.7 }.into(),
                6 => ShopEdit::SkinThickness(Some(other / 100.0 + 0.1)).into(),
                _ => {
                    let on = lines.body.point(point).map_or(On::Keel, |point| point.on);
                    let mm = lines.body.counted(on, SourceId(0))[1].on_the_lines(value);
                    let height = Some(Recorded { typed: format!("{value}"), mm, put_right: None });
                    let reading = Reading {
                        source: SourceId(0),
                        half_breadth: None,
                        height,
                        tolerance: other + 0.1,
                        set_aside: None,
                        kept: false,
                        note: String::new(),
                        circumstances: None,
                    };
                    BodyEdit::AddReading { point, reading }.into()
                }
            };
            if let Ok(next) = lines.apply(edit) {
                lines = next;
            }
        }
        prop_assert_eq!(read_link(&write_link(&lines)).unwrap().fingerprint(), lines.fingerprint());
        let folder = Folder { lines, revisions: Vec::new() };
        prop_assert_eq!(read_folder(&write_folder(&folder)).unwrap(), folder);
    }
}

/// A link holds accepted values in steps of 0.01 mm, and gave 388.12 back for this one, with another fingerprint: no door takes
/// it in, and an edit keeps the step.
#[test]
fn an_accepted_value_is_a_step_to_its_last_bit() {
    let mut lines = demo();
    let point = at(&lines, "48", "WL 32");
    let edit = BodyEdit::Move(Moved {
        point,
        half_breadth: Some(388.120_000_000_000_46),
        height: None,
    });
    let moved = lines.apply(edit).unwrap();
    let kept = moved.body.point(point).unwrap().accepted_half_breadth;
    assert_eq!(kept, Some(388.12));
    let mut points = lines.body_mut().points.iter_mut();
    points
        .find(|p| p.id == point)
        .unwrap()
        .accepted_half_breadth = Some(388.120_000_000_000_46);
    assert!(matches!(
        lines.first_fault().unwrap().broken,
        Broken::AcceptedStep(_)
    ));
}
