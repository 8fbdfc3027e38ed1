//! Tests of edits: what each says, and what it leaves alone.

use super::super::tests::{at, demo, sample};
use super::super::{
    BodyEdit, End, Ends, History, On, PointId, Reading, RunKind, RunLine, ShopEdit, Side, Tip,
};
use super::*;

#[test]
fn an_edit_of_one_part_leaves_the_others_the_very_same() {
    let lines = demo();
    let about = |edit: AboutEdit| {
        let now = lines.apply(edit).unwrap();
        assert!(Arc::ptr_eq(&now.body, &lines.body) && Arc::ptr_eq(&now.shop, &lines.shop));
        assert_eq!(now.fingerprint(), lines.fingerprint());
        now.about
    };
    assert_eq!(about(AboutEdit::Title("Tail".to_owned())).title, "Tail");
    assert_eq!(about(AboutEdit::Notes("n".to_owned())).notes, "n");
    assert_eq!(about(AboutEdit::Revision("C".to_owned())).revision, "C");
    let inches = about(AboutEdit::Unit(LengthUnit::Inches)).unit;
    assert_eq!(inches, LengthUnit::Inches);

    let thin = ShopEdit::SkinThickness(Some(1.2));
    let skinned = lines.apply(thin.clone()).unwrap();
    assert!(Arc::ptr_eq(&skinned.body, &lines.body));
    assert_eq!(skinned.shop.skin_thickness, Some(1.2));
    assert_ne!(skinned.fingerprint(), lines.fingerprint());
    let none = ShopEdit::SkinThickness(Some(0.0));
    assert!(lines.apply(none).is_err(), "a skin has a thickness");

    let duck = BodyEdit::PutDuck(at(&lines, "48", "WL 32"));
    let ducked = lines.apply(duck.clone()).unwrap();
    assert!(Arc::ptr_eq(&ducked.shop, &lines.shop));
    // What changes nothing leaves all as it was, and steps back lead to the very same.
    let again = ducked.apply(duck.clone()).unwrap();
    assert!(Arc::ptr_eq(&again.body, &ducked.body));
    let mut history = History::new(Arc::new(lines.clone()));
    history.edit(duck).unwrap();
    let body = Arc::clone(&history.now().body);
    history.edit(thin).unwrap();
    history.edit(AboutEdit::Title("Tail".to_owned())).unwrap();
    for _ in 0..2 {
        history.undo();
        assert!(Arc::ptr_eq(&history.now().body, &body));
    }
    history.redo();
    history.redo();
    assert!(Arc::ptr_eq(&history.now().body, &body));
    assert_eq!(history.now().shop.skin_thickness, Some(1.2));
}

#[test]
fn the_method_of_the_loft_is_taken_by_an_edit_of_its_own() {
    let lines = demo();
    let by = |method| lines.apply(BodyEdit::SetMethod(method));
    let [first, second] = [1, 2].map(|method| by(method).unwrap());
    assert_eq!([first.body.method, second.body.method], [1, 2]);
    assert_ne!(first.fingerprint(), second.fingerprint());
    assert_eq!(BodyEdit::SetMethod(2).name(&lines.body), "loft by method 2");
    for unknown in [0, 3] {
        let refused = by(unknown).unwrap_err().to_string();
        assert!(refused.contains(&format!("method {unknown}")), "{refused}");
    }
}

#[test]
fn the_other_edits_of_the_body_change_what_they_say() {
    let lines = demo();
    let apply = |edit: BodyEdit| lines.apply(edit).unwrap();
    assert_eq!(
        apply(BodyEdit::SetCrossing {
            side: Side::Crown,
            runs: Vec::new()
        })
        .body
        .centreline
        .crown,
        []
    );
    let tip = End::Tip {
        x: 4200.0,
        height: 900.0,
        form: Tip::Pointed,
    };
    assert_eq!(
        apply(BodyEdit::SetEnds(Ends {
            fore: End::Open,
            aft: tip
        }))
        .body
        .ends
        .aft,
        tip
    );
    let joint = lines.body.run_line_by_name("joint").unwrap().id;
    let knuckle = apply(BodyEdit::SetRunLine(RunLine {
        kind: RunKind::Knuckle,
        ..lines.body.run_line(joint).unwrap().clone()
    }));
    assert_eq!(knuckle.body.run_line(joint).unwrap().kind, RunKind::Knuckle);
    let point = at(&lines, "48", "WL 32");
    let ducked = apply(BodyEdit::PutDuck(point));
    assert!(ducked.body.point(point).unwrap().duck);
    assert_eq!(ducked.apply(BodyEdit::LiftDuck(point)).unwrap(), lines);
    assert_eq!(
        apply(BodyEdit::SetTolerance {
            point,
            reading: 0,
            tolerance: 3.0
        })
        .body
        .point(point)
        .unwrap()
        .readings[0]
            .tolerance
            .to_bits(),
        3.0_f64.to_bits()
    );
    let reading = lines.body.point(point).unwrap().readings[0].clone();
    assert_eq!(
        apply(BodyEdit::AddReading {
            point,
            reading: reading.clone()
        })
        .body
        .point(point)
        .unwrap()
        .readings
        .len(),
        2
    );
    let station = lines.body.station_by_label("58").unwrap().id;
    let on = On::Plane(lines.body.plane_by_name("BL 8").unwrap().id);
    assert!(lines.body.point_on(station, on).is_none());
    let added = apply(BodyEdit::AddPoint {
        station,
        on,
        reading: Reading {
            height: reading.half_breadth.clone(),
            half_breadth: None,
            ..reading
        },
    });
    assert_eq!(added.body.points.len(), lines.body.points.len() + 1);
    assert_eq!(
        apply(BodyEdit::AddSource("Relic".to_owned()))
            .body
            .sources
            .last()
            .unwrap()
            .title,
        "Relic"
    );
    assert_eq!(
        lines
            .apply(Edit::Replace(Box::new(sample().lines)))
            .unwrap(),
        sample().lines
    );
    let mut unsound = sample().lines;
    unsound.body_mut().stations[0].x = f64::INFINITY;
    assert!(lines.apply(Edit::Replace(Box::new(unsound))).is_err());
    assert_eq!(
        lines.apply(BodyEdit::PutDuck(PointId(70_000))),
        Err(EditError::NoPoint)
    );
}
