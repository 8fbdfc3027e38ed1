//! What is to be settled on the demo, whose faults are planted: invented data, held against what was planted.

use std::sync::{Arc, LazyLock};

use super::answer::asks;
use super::trials::Trials;
use super::*;
use crate::compare::moved_at;
use crate::document::{BodyEdit, EditError, Lines, Moved, TableOptions, read_table};
use crate::fair::dents::{CantTell, Dents, Failed, Reason};
use crate::fair::needs::TriedLines;
use crate::fair::suspects::{Suspects, find};
use crate::fair::trial::StandingLines;
use crate::fair::verdict::{JudgedLine, Verdict, judge, judge_ways, judged_lines};
use crate::loft::Lofted;
use crate::num;

static DEMO: LazyLock<Lofted> = LazyLock::new(|| lofted(&demo()));

static FOUND: LazyLock<Findings> = LazyLock::new(|| judge_all(&DEMO, &|_| (), &|_| ()).unwrap());

fn demo() -> Lines {
    let path = format!(
        "{}/../tests/data/demo_offsets.csv",
        env!("CARGO_MANIFEST_DIR")
    );
    let table = read_table(&std::fs::read(path).unwrap(), &TableOptions::default());
    table.unwrap().lines()
}

fn lofted(lines: &Lines) -> Lofted {
    Lofted::build(Arc::new(lines.clone())).unwrap()
}

fn the_one(titled: &str) -> &'static Matter {
    let mut all = { FOUND.matters.iter() }.filter(|matter| matter.title.starts_with(titled));
    let found = all.next().expect(titled);
    assert!(all.next().is_none(), "{titled} is there once");
    found
}

fn way<'a>(matter: &'a Matter, name: &str) -> &'a Does {
    let named = |way: &&WayOut| way.name.starts_with(name);
    &matter.ways.iter().find(named).expect(name).does
}

#[test]
fn the_planted_misprint_is_put_right_by_its_own_way_out() {
    let matter = the_one("STA 48, WL 32");
    assert!(matter.misprint);
    let body = &DEMO.lines().body;
    assert_eq!(matter.subject.name(body), "STA 48, WL 32");
    let Does::PutRight(point, reading, [half_breadth, height]) = *way(matter, "Put 1-3-2") else {
        panic!("{matter:?}");
    };
    let right = BodyEdit::PutRight {
        point,
        reading,
        half_breadth,
        height,
    };
    let mended = lofted(&DEMO.lines().apply(right).unwrap());
    let found = judge_all(&mended, &|_| (), &|_| ()).unwrap();
    assert!(found.matters.iter().all(|matter| !matter.misprint));
    let word = |found: &Findings| {
        let line = found.lines.iter().find(|line| line.name == "WL 32");
        line.unwrap().fairness
    };
    assert_eq!(word(&FOUND), Fairness::Unfair);
    assert_ne!(word(&found), Fairness::Unfair);
}

#[test]
fn the_planted_hollow_is_one_matter_of_the_keel_with_all_ways_out() {
    let matter = the_one("Hollow");
    let body = &DEMO.lines().body;
    let name = matter.subject.name(body);
    assert!(name.contains("keel"), "{name}");
    assert!(matter.says.contains("Keel"), "{}", matter.says);
    let Does::Propose(wish) = *way(matter, "Try a batten") else {
        panic!("{matter:?}");
    };
    assert_eq!(wish, Wish::line(On::Keel));
    assert_eq!(matter.title, "Hollow, STA 90–123, below the joint");
    let Does::SetAside(readings) = way(matter, "Set these 16 aside") else {
        panic!("{matter:?}");
    };
    assert_eq!(readings.len(), 16);
    assert!(matter.says.contains("16 readings side by side lie up to"));
    let aside = matter.ways.first().unwrap();
    assert!(aside.comes.contains("keel"), "{aside:?}");
    assert!(aside.comes.contains("fair as far as readings allow"));
    let Does::Keep(_, turns) = way(matter, "Keep") else {
        panic!("{matter:?}");
    };
    assert!(turns.iter().any(|(on, _)| *on == On::Keel));
}

/// Where nothing was found of a place.
const STANDS_OUT: &str = "No readings side by side stand out there";

#[test]
fn of_an_unfair_line_of_which_nothing_can_be_told_the_reason_is_said_and_no_reading_offered() {
    let (lines, loft) = (DEMO.lines(), DEMO.loft());
    let keel = judge(loft, On::Keel, None, &|| false).unwrap();
    let stretch = keel.judged.as_ref().unwrap().stretch.unwrap();
    let station = lines.body.nearest_station(stretch.at).unwrap();
    let reasons = [
        (None, STANDS_OUT),
        (
            Some(Reason::NotKnown),
            "nothing else says how the lines run",
        ),
        (
            Some(Reason::OneOrTheOther),
            "Either these lie inside or those beside",
        ),
        (
            Some(Reason::OneStation),
            "They lie off at one station alone",
        ),
        (
            Some(Reason::Tried(Failed::StaysUnfair(On::Keel))),
            "was tried and leaves keel unfair; nothing is offered",
        ),
    ];
    for (reason, words) in reasons {
        let given = reason.map(|reason| CantTell {
            kind: None,
            points: Vec::new(),
            stations: [station.id; 2],
            from_x: station.x,
            to_x: station.x,
            reason,
            beside: Vec::new(),
        });
        let suspects = Suspects {
            dents: Dents {
                found: Vec::new(),
                cant_tell: given.into_iter().collect(),
            },
            ..Suspects::default()
        };
        let matters = dents::dents(
            lines,
            Some(loft),
            (std::slice::from_ref(&keel), dents::Dented::Sought),
            &suspects,
        );
        let [matter] = &matters[..] else {
            panic!("{matters:?}")
        };
        assert!(matter.says.contains(words), "{}", matter.says);
        let ways: Vec<&str> = matter.ways.iter().map(|way| way.name.as_str()).collect();
        assert_eq!(ways, ["Try a batten", "Keep, it is true"]);
        // Elsewhere the reason says nothing of it.
        let mut away = suspects;
        for given in &mut away.dents.cant_tell {
            (given.from_x, given.to_x) = (0.0, 1.0);
        }
        let matters = dents::dents(
            lines,
            Some(loft),
            (std::slice::from_ref(&keel), dents::Dented::Sought),
            &away,
        );
        assert!(matters[0].says.contains(STANDS_OUT), "{}", matters[0].says);
    }
}

#[test]
fn verdicts_stand_one_by_one_and_all_of_them_at_last() {
    let seen = std::cell::RefCell::new(Vec::new());
    let parts = std::cell::RefCell::new(Vec::new());
    let at = |part: &str| parts.borrow_mut().push(part.to_owned());
    let so_far = |found: &Findings| seen.borrow_mut().push((found.lines.len(), found.whole));
    let last = judge_all(&DEMO, &at, &so_far).unwrap();
    assert_eq!(last, *FOUND);
    let seen = seen.into_inner();
    let count = last.count;
    let expected: Vec<_> = (1..=count).map(|lines| (lines, false)).collect();
    assert_eq!(seen, expected);
    assert!(parts.into_inner().contains(&"keel".to_owned()));
    assert!(last.whole && last.complete);
    assert!(last.fairing.is_some_and(|says| says.contains("stiff")));
}

#[test]
fn rows_stand_before_hollows_are_looked_for_and_say_so() {
    let mut judging = Judging::of(&DEMO, None, &|_| (), &|_| ()).unwrap();
    let early = judging.at_once(&|_| ()).unwrap();
    assert!(early.whole && !early.complete && early.fairing.is_none());
    let titles = |found: &Findings| -> Vec<String> {
        let titles = found.matters.iter().map(|matter| matter.title.clone());
        titles.filter(|title| !title.starts_with("Ho")).collect()
    };
    // All that is no hollow is there, and of what is unfair it is said that more is looked for.
    assert!(
        titles(&FOUND)
            .iter()
            .all(|title| titles(&early).contains(title))
    );
    let hollow = early.matters.iter().find(|m| m.title.starts_with("Hollow"));
    let hollow = hollow.expect("the unfair keel");
    assert!(hollow.says.ends_with("is looked for."), "{}", hollow.says);
    assert!(
        hollow
            .ways
            .iter()
            .all(|way| !matches!(way.does, Does::SetAside(_)))
    );
    assert_eq!(judging.further(&|_| ()).unwrap(), *FOUND);
}

/// What a line needs, where it is judged.
fn needed(judging: &Judging) -> Vec<(On, Fairness, f64)> {
    let verdicts = judging.judged().iter().map(JudgedLine::verdict);
    let each = verdicts.map(|v| {
        (
            v.on,
            v.fairness,
            v.judged.map_or(0.0, |judged| judged.needed),
        )
    });
    each.collect()
}

#[test]
fn an_edit_judges_anew_what_it_moves_and_nothing_else() {
    let before = Judging::of(&DEMO, None, &|_| (), &|_| ()).unwrap();
    let body = &DEMO.lines().body;
    let mut kept_at_most = 0;
    for (label, on, by) in [
        ("101", On::Keel, 2.0),
        ("38", On::Crown, -1.5),
        ("146", On::Keel, 0.5),
    ] {
        let station = body.station_by_label(label).unwrap().id;
        let point = body.point_on(station, on).unwrap();
        let height = point.merged().height.unwrap();
        let moved = BodyEdit::Move(Moved {
            point: point.id,
            half_breadth: None,
            height: Some(height + by),
        });
        let lines = lofted(&DEMO.lines().apply(moved).unwrap());
        let again = Judging::of(&lines, Some(&before), &|_| (), &|_| ()).unwrap();
        let anew = Judging::of(&lines, None, &|_| (), &|_| ()).unwrap();
        let former = before.judged();
        let kept = again
            .judged()
            .iter()
            .filter(|line| former.contains(line))
            .count();
        let fresh = anew
            .judged()
            .iter()
            .filter(|line| former.contains(line))
            .count();
        for ((on, word, mm), (_, other, anew)) in needed(&again).iter().zip(needed(&anew)) {
            assert!(
                *word == other && (mm - anew).abs() < 0.01,
                "{on:?}: {mm} {anew}"
            );
        }
        let all = former.len();
        assert!(
            kept > fresh && kept < all,
            "STA {label}: {kept} of {all} kept, {fresh} the same to the bit"
        );
        kept_at_most = kept_at_most.max(kept);
    }
    assert!(kept_at_most > 9, "{kept_at_most}");
    // Judged again with nothing changed, nothing is worked out.
    let same = Judging::of(&DEMO, Some(&before), &|_| (), &|_| ()).unwrap();
    assert_eq!(same.judged(), before.judged());
}

#[test]
fn an_edit_tries_anew_what_it_moves_and_the_rows_say_the_same() {
    let mut before = Judging::of(&DEMO, None, &|_| (), &|_| ()).unwrap();
    let first = before.at_once(&|_| ()).unwrap();
    let [tried, kept] = before.tried();
    assert!(tried > 10 && kept == 0, "{kept} of {tried}");
    let body = &DEMO.lines().body;
    let mut kept_of = [0, 0];
    let mut lines = Lines::clone(DEMO.lines());
    for (label, on, by) in [
        ("101", On::Keel, 2.0),
        ("38", On::Crown, -1.5),
        ("146", On::Keel, 0.5),
        ("58", On::Crown, 3.0),
        ("101", On::Keel, -2.0),
    ] {
        let station = body.station_by_label(label).unwrap().id;
        let point = lines.body.point_on(station, on).unwrap();
        let height = point.accepted_height.or(point.merged().height).unwrap();
        let moved = BodyEdit::Move(Moved {
            point: point.id,
            half_breadth: None,
            height: Some(height + by),
        });
        lines = lines.apply(moved).unwrap();
        let lofted = lofted(&lines);
        let mut again = Judging::of(&lofted, Some(&before), &|_| (), &|_| ()).unwrap();
        let mut anew = Judging::of(&lofted, None, &|_| (), &|_| ()).unwrap();
        let rows = again.at_once(&|_| ()).unwrap();
        assert_eq!(rows.matters, anew.at_once(&|_| ()).unwrap().matters);
        let [tried, kept] = again.tried();
        assert_eq!(tried, anew.tried()[0], "STA {label}");
        kept_of = [kept_of[0] + tried, kept_of[1] + kept];
        before = again;
    }
    let [tried, kept] = kept_of;
    assert!(3 * kept > tried, "{kept} of {tried}");
    // Tried again with nothing changed, nothing is worked out.
    let mut same = Judging::of(&DEMO, None, &|_| (), &|_| ()).unwrap();
    for round in 0..2 {
        same = Judging::of(&DEMO, Some(&same), &|_| (), &|_| ()).unwrap();
        assert_eq!(same.at_once(&|_| ()).unwrap().matters, first.matters);
        let [tried, kept] = same.tried();
        assert_eq!(kept, if round == 0 { 0 } else { tried });
    }
}

#[test]
fn a_proposal_is_weighed_as_far_as_it_is_taken() {
    let wish = Wish::line(On::Keel);
    let proposed = propose(&DEMO, wish, &|_| ()).unwrap();
    let within = |past: bool| -> Vec<MoveFound> {
        let of = proposed.moves.iter().filter(|found| past || !found.past);
        of.cloned().collect()
    };
    let all = weigh(&DEMO, wish, &within(true)).unwrap();
    let as_offered = weigh(&DEMO, wish, &within(false)).unwrap();
    // Without what lies past its tolerance nothing is gained, and that is said first.
    assert!(!as_offered.better);
    let nothing = "This gains nothing: as ticked, keel needs";
    assert!(as_offered.says.starts_with(nothing), "{}", as_offered.says);
    assert_eq!(Some(as_offered), proposed.weighed);
    // What is weighed is what comes of taking it.
    let to = proposed.moves.iter().map(|found| Moved {
        point: found.point,
        half_breadth: found.to[0],
        height: found.to[1],
    });
    let then = DEMO.lines().apply(BodyEdit::MoveAll(to.collect()));
    let then = lofted(&then.unwrap());
    let ratio = |lofted: &Lofted| {
        judge(lofted.loft(), On::Keel, None, &|| false)
            .unwrap()
            .ratio()
    };
    let [was, is] = all.needs.unwrap();
    assert!((was - ratio(&DEMO)).abs() < 1e-9 && (is - ratio(&then)).abs() < 1e-6);
    assert!(is <= 0.5 * was, "{is} of {was}");
    assert!(all.says.contains("As ticked, keel needs"), "{}", all.says);
    // Of nothing nothing comes, and of the wrong half of it nothing good.
    let none = weigh(&DEMO, wish, &[]).unwrap();
    assert!(!none.better);
    assert!(none.needs.is_some_and(|[was, is]| (was - is).abs() < 1e-6));
    assert!(
        none.says.starts_with(nothing) && !none.says.contains("hollow"),
        "{}",
        none.says
    );
    let inward = proposed.moves.iter().map(|found| MoveFound {
        to: [0, 1].map(|k| Some(found.to[k]? - 3.0 * found.by[k]?)),
        ..found.clone()
    });
    let wrong = weigh(&DEMO, wish, &inward.collect::<Vec<_>>()).unwrap();
    assert!(!wrong.better && wrong.needs.is_some_and(|[was, is]| is > was));
    assert!(
        wrong.says.contains("It makes the line hollow at STA"),
        "{}",
        wrong.says
    );
}

#[test]
fn a_contradiction_is_settled_by_keeping_what_counts_or_by_setting_one_aside() {
    let against = |lines: &Lines| {
        let disagrees = |matter: &Matter| matter.says.contains("disagrees with");
        let found = judge_unlofted(lines, &|_| ()).unwrap();
        found.matters.into_iter().find(disagrees)
    };
    // One of the two is set aside in the table already: that may be kept so.
    let matter = against(DEMO.lines()).unwrap();
    let Does::Keep(readings, _) = way(&matter, "Keep it so") else {
        panic!("{matter:?}");
    };
    let [(point, kept)] = readings[..] else {
        panic!("{readings:?}");
    };
    let keep = BodyEdit::Keep {
        point,
        reading: kept,
        kept: true,
    };
    assert_eq!(against(&DEMO.lines().apply(keep).unwrap()), None);
    // Used again, either of them can be set aside, or both kept.
    let aside = DEMO.lines().body.point(point).unwrap().readings.iter();
    let reading = aside.into_iter().position(|r| r.set_aside.is_some());
    let again = BodyEdit::UseAgain {
        point,
        reading: reading.unwrap(),
    };
    let lines = DEMO.lines().apply(again).unwrap();
    let names = |matter: &Matter| -> Vec<String> {
        let ways = matter.ways.iter().map(|way| way.name.clone());
        ways.collect()
    };
    // Where there is no loft nothing can be tried, and neither is offered to be set aside.
    let matter = against(&lines).unwrap();
    assert_eq!(names(&matter), ["Show both", "Keep both"]);
    let not_asked = "Once there is a loft the other readings can be asked";
    assert!(matter.says.contains(not_asked), "{}", matter.says);
    // Else the one that all others speak against can be, and what comes of it is said.
    let found = judge_all(&lofted(&lines), &|_| (), &|_| ()).unwrap();
    let disagrees = |matter: &&Matter| matter.says.contains("disagrees with");
    let matter = found.matters.iter().find(disagrees).unwrap();
    let expected = ["Set Photograph 3, scaled aside", "Show both", "Keep both"];
    assert_eq!(names(matter), expected, "{}", matter.says);
    assert!(matter.says.contains("The skin that all others draw lies"));
    assert!(matter.ways[0].comes.starts_with("then "));
}

/// The demo as it would be read without its hollow and its misprint, but for one reading that is out by so much, mm.
fn out_by(station: &str, line: &str, by: f64) -> (Lines, PointId) {
    let mut lines = crate::fair::tests::exact();
    let at = lines.body.station_by_label(station).unwrap().id;
    let named = |point: &&Point| {
        let name = lines.body.line_name(point.on);
        point.station == at && name.is_some_and(|name| name == line)
    };
    let id = lines.body.points.iter().find(named).unwrap().id;
    let points = lines.body_mut().points.iter_mut();
    for point in points.filter(|point| point.id == id) {
        let typed = point.readings[0].half_breadth.as_mut().unwrap();
        typed.mm += by;
        typed.typed = format!("{} mm", typed.mm);
    }
    (lines, id)
}

#[test]
fn what_comes_of_a_way_is_what_comes_of_taking_it() {
    let matter = the_one("STA 48, WL 32");
    let names: Vec<&str> = matter.ways.iter().map(|way| way.name.as_str()).collect();
    assert_eq!(names, ["Put 1-3-2", "Set aside", "Keep, it is true"]);
    assert_eq!(matter.ways[2].comes, "");
    for way in &matter.ways[..2] {
        let edit = way.does.edit(DEMO.lines(), matter.subject, "by a test");
        let then = lofted(&DEMO.lines().apply(edit.unwrap()).unwrap());
        let found = judge_all(&then, &|_| (), &|_| ()).unwrap();
        let line = found
            .lines
            .iter()
            .find(|line| line.name == "WL 32")
            .unwrap();
        let word = match line.fairness {
            Fairness::Fair => "WL 32 is fair",
            Fairness::FairWithinReadings => "WL 32 is fair within readings",
            _ => panic!("{line:?}"),
        };
        assert!(way.comes.contains(word), "{}", way.comes);
        let point = matter.ways[1].does.points()[0];
        let moved = moved_at(DEMO.loft(), then.loft(), point).unwrap();
        let side = if moved < 0.0 { "in" } else { "out" };
        let says = format!("the skin there lies {} mm further {side}", mm(moved.abs()));
        assert!(way.comes.ends_with(&says), "{}: {says}", way.comes);
    }
}

#[test]
fn a_value_that_spoils_the_lines_is_not_offered() {
    let (lines, point) = out_by("58", "WL 32", 9.0);
    let lofted = lofted(&lines);
    let lines_of = |lofted: &Lofted| -> Vec<(On, Vec<Verdict>)> {
        let all = judged_lines(&lofted.lines().body).into_iter();
        all.map(|on| (on, judge_ways(lofted.loft(), on, None, &|| false).unwrap()))
            .collect()
    };
    let (verdicts, suspects) = (lines_of(&lofted), Suspects::default());
    let standing = StandingLines {
        loft: lofted.loft(),
        lines: &verdicts,
        sections: &[],
        suspects: &suspects,
    };
    let trials = Trials::of(&lines, &suspects, Some(standing), &TriedLines::default()).unwrap();
    let read = lines.body.point(point).unwrap().readings[0]
        .half_breadth
        .clone();
    let put = |by: f64| {
        let to = read.as_ref().unwrap().mm + by;
        let does = Does::PutRight(point, 0, [Some(to), None]);
        trials.tried(point, format!("by {by}"), does).unwrap()
    };
    let right = put(-9.0).unwrap();
    assert!(
        right.comes.starts_with("then WL 32 is fair"),
        "{}",
        right.comes
    );
    // What is refused says what it spoils.
    for by in [9.0, -40.0] {
        let why = put(by).unwrap_err();
        let says = trials::refused_words(&lines.body, core::slice::from_ref(&why));
        let spoils = ["WL 32 worse", "section at STA 58 worse"];
        assert!(spoils.iter().any(|words| says.contains(words)), "{says}");
        assert!(says.starts_with("Tried: “by ") && says.ends_with("on a part that is left."));
    }
}

#[test]
fn a_row_whose_turn_has_not_come_offers_only_to_keep_what_was_read() {
    // With so many ways tried before it, none is left for a row: it offers nothing but to keep what was read.
    let suspects = find(&DEMO.lines().body, DEMO.lines().about.unit, &|| false).unwrap();
    let trials = Trials::of(DEMO.lines(), &suspects, None, &TriedLines::default()).unwrap();
    while trials.next() {}
    let matters = matters::misprints(DEMO.lines(), &suspects, &trials).unwrap();
    let [matter] = &matters[..] else {
        panic!("{matters:?}");
    };
    let names: Vec<&str> = matter.ways.iter().map(|way| way.name.as_str()).collect();
    assert_eq!(names, ["Keep, it is true"]);
    assert!(matter.says.contains("once the rows above are settled"));
    assert_eq!(asks(matter), None);
}

/// A misprint that adjoins readings of which nothing can be told may be one of them: what a slip explains is still offered, but not
/// to set it aside by itself.
#[test]
fn one_of_many_of_which_nothing_can_be_told_is_not_set_aside_by_itself() {
    let lines = DEMO.lines();
    let offered = |suspects: &Suspects| {
        let trials = Trials::of(lines, suspects, None, &TriedLines::default()).unwrap();
        let matters = matters::misprints(lines, suspects, &trials).unwrap();
        let [matter] = &matters[..] else {
            panic!("{matters:?}");
        };
        let names: Vec<String> = matter.ways.iter().map(|way| way.name.clone()).collect();
        (names, matter.says.clone())
    };
    let mut suspects = find(&lines.body, lines.about.unit, &|| false).unwrap();
    let (plain, says) = offered(&suspects);
    assert!(plain.iter().any(|name| name == "Set aside") && plain[0].starts_with("Put "));
    assert!(!says.contains("Readings beside it"), "{says}");
    let point = lines.body.point(suspects.misprints[0].point).unwrap();
    let station = lines.body.station(point.station).unwrap();
    suspects.dents.cant_tell = vec![CantTell {
        kind: None,
        points: Vec::new(),
        stations: [station.id; 2],
        from_x: station.x,
        to_x: station.x,
        reason: Reason::NotKnown,
        beside: vec![point.id],
    }];
    let (names, says) = offered(&suspects);
    let left: Vec<String> = { plain.iter() }
        .filter(|name| *name != "Set aside")
        .cloned()
        .collect();
    assert_eq!(names, left);
    assert!(says.contains("of these nothing can be told"), "{says}");
    // Without a slip nothing is left but to keep it.
    suspects.misprints[0].slips.clear();
    assert_eq!(offered(&suspects).0, ["Keep, it is true"]);
    // Of more readings than are searched nothing is known at all.
    suspects.dents.cant_tell[0].reason = Reason::TooMany;
    assert!(offered(&suspects).0.iter().any(|name| name == "Set aside"));
}

#[test]
fn a_proposal_says_every_move_and_a_line_without_readings_none() -> Result<(), EditError> {
    let proposed = propose(&DEMO, Wish::line(On::Keel), &|_| ()).unwrap();
    assert_eq!(proposed.title, "A batten along keel");
    assert!(proposed.moves.len() > 3);
    let past = proposed.moves.iter().filter(|moved| moved.past).count();
    assert!(past > 0, "the hollow is deeper than its tolerances");
    for moved in &proposed.moves {
        assert!(moved.by.iter().flatten().all(|by| by.abs() > 0.0));
        assert!(moved.past || moved.tolerance.is_none(), "{}", moved.says);
    }
    // The ends of the keel are not to blame for its hollow.
    let (lines, loft) = (DEMO.lines(), DEMO.loft());
    let keel = || loft.points().iter().filter(|point| point.on == On::Keel);
    for end in [keel().next(), keel().next_back()].into_iter().flatten() {
        assert!(end.residual.abs() <= end.tolerance);
        let moves = proposed.moves.iter().any(|found| found.point == end.point);
        assert!(!moves, "{}", lines.body.point_name(end.point));
    }
    let whole = propose(&DEMO, Wish::Whole, &|_| ()).unwrap();
    assert!(whole.says.iter().any(|says| says.contains("on average")));
    // A line that misses the body has nothing that could be moved.
    let name = "WL high".to_owned();
    let place = crate::document::Place::Waterline(5000.0);
    let lines = DEMO.lines().apply(BodyEdit::AddPlane { name, place })?;
    let plane = lines.body.plane_by_name("WL high").unwrap().id;
    let none = propose(&lofted(&lines), Wish::line(On::Plane(plane)), &|_| ()).unwrap();
    assert!(none.moves.is_empty(), "{:?}", none.says);
    Ok(())
}

/// A body 5 m long, 800 mm broad and 900 high, of crown, keel and eleven points on no line at 26 stations, read to a tenth:
/// forward of 2000 mm a spheroid's blunt end, aft of that a parabola's taper.
fn blunt() -> Lines {
    let size = |x: f64| {
        let (fore, aft) = ((2000.0 - x) / 2000.0, (x - 2000.0) / 3200.0);
        if x < 2000.0 {
            (1.0 - fore * fore).sqrt()
        } else {
            1.0 - 0.7 * aft * aft
        }
    };
    let tenth = |mm: f64| (mm * 10.0).round() / 10.0;
    let section = |k: u32| {
        let x = if k == 0 { 10.0 } else { 200.0 * f64::from(k) };
        let point = |n: u32| {
            let angle = core::f64::consts::PI * f64::from(n) / 12.0;
            let (sin, cos) = (num::sin(angle), num::cos(angle));
            let on = match n {
                0 => On::Crown,
                12 => On::Keel,
                _ => On::Free,
            };
            let [y, z] = [400.0 * size(x), 450.0 * size(x)];
            (on, [tenth(y * sin), 600.0 + tenth(z * cos)])
        };
        (x, (0..=12).map(point).collect())
    };
    crate::made::made(&(0..26).map(section).collect(), 0.5)
}

/// Sound as it is, nothing of it is offered to be set aside, and its lines are none to be settled.
#[test]
fn an_end_that_runs_out_blunt_is_no_hollow() {
    let found = judge_all(&lofted(&blunt()), &|_| (), &|_| ()).unwrap();
    let told: Vec<(&str, &str)> = { found.matters.iter() }
        .map(|matter| (matter.title.as_str(), matter.says.as_str()))
        .collect();
    let asides = found.matters.iter().flat_map(|matter| &matter.ways);
    assert!(
        !{ asides }.any(|way| matches!(way.does, Does::SetAside(_))),
        "{told:#?}"
    );
    let dent =
        |(title, _): &(&str, &str)| title.starts_with("Hollow") || title.starts_with("Bulge");
    assert!(!told.iter().any(dent), "{told:#?}");
    let untold = &find(&blunt().body, LengthUnit::Millimetres, &|| false);
    let untold = &untold.as_ref().unwrap().dents.cant_tell;
    assert!(
        untold.iter().any(|place| place.reason == Reason::BluntEnd),
        "{untold:#?}"
    );
}
