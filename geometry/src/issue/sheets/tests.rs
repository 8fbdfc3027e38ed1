//! Sheets of every sort: what lies where on them, and what they say.

use std::sync::Arc;

use super::tiles::{NoPaper, Tiles};
use super::*;
use crate::document::{
    BoardLine, BoardPlace, BoardSide, Boards, Face, Frozen, Hands, Lines, On, Paper, PaperSize,
    Place, StationId, StripPlace, read_folder,
};
use crate::num;
use crate::paper::{Layer, Text, overlap};

fn demo() -> Lines {
    let demo = include_bytes!("../../../../public/demo/marram.json");
    read_folder(demo).unwrap().lines
}

fn with(lines: &Lines, change: impl FnOnce(&mut crate::document::Shop)) -> Lofted {
    let mut lines = lines.clone();
    change(Arc::make_mut(&mut lines.shop));
    assert_eq!(lines.first_fault(), None);
    Lofted::build(Arc::new(lines)).unwrap()
}

/// Boards of every sort, inside the skin and outside.
fn of_every_sort(shop: &mut crate::document::Shop, size: PaperSize, held: BoardSide) {
    shop.skin_thickness = Some(1.2);
    let girth = BoardLine::Girth {
        shell: 1,
        share: 0.58,
    };
    shop.sheets.paper = Paper {
        size,
        overlap: 15.0,
    };
    shop.sheets.boards = Boards {
        error: 1.0,
        face: if held == BoardSide::Inside {
            Face::Iml
        } else {
            Face::Oml
        },
        held,
        hands: Hands::Both,
        own: vec![
            BoardPlace::Canted {
                x: 2286.0,
                z: 600.0,
                lean: 0.1,
            },
            BoardPlace::Along {
                line: BoardLine::Named(On::Keel),
                from: 1500.0,
                to: 2700.0,
            },
            BoardPlace::Along {
                line: girth,
                from: 1500.0,
                to: 2700.0,
            },
            BoardPlace::Square {
                line: girth,
                x: 2286.0,
            },
        ],
        ..Boards::default()
    };
}

/// The texts of a sheet that are seen, but for what goes across all of it.
fn seen(sheet: &Sheet) -> Vec<&Text> {
    let layers = sheet.layers.iter().filter(|layer| layer.name != "stamp");
    layers.flat_map(Layer::seen_texts).collect()
}

#[track_caller]
fn check(sheet: &Sheet) {
    let texts = seen(sheet);
    for (i, text) in texts.iter().enumerate() {
        let a = text.bounds();
        assert!(
            a[0] > 4.0 && a[1] > 4.0 && a[2] < sheet.size.0 - 4.0 && a[3] < sheet.size.1 - 4.0,
            "{}: «{}» reaches off the sheet",
            sheet.title,
            text.text
        );
        for other in &texts[i + 1..] {
            assert!(
                !overlap(a, other.bounds()),
                "{}: «{}» and «{}»",
                sheet.title,
                text.text,
                other.text
            );
        }
    }
    // What is drawn of the part ends where the column begins.
    let column = sheet.size.0 - tiles::MARGIN - tiles::COLUMN;
    for layer in sheet.layers.iter().filter(|layer| layer.name != "frame") {
        for mark in &layer.marks {
            let path = match layer.clip {
                Some(clip) => mark.path.clipped(clip),
                None => mark.path.clone(),
            };
            for part in path.flatten(0.1) {
                for (x, y) in part.points {
                    assert!(
                        x < column + 1e-6 && x > tiles::MARGIN - 1e-6 && y > tiles::MARGIN - 1e-6,
                        "{}: {} at {x}, {y}",
                        sheet.title,
                        layer.name
                    );
                }
            }
        }
    }
}

#[test]
fn no_text_lies_over_another_and_nothing_leaves_its_field() {
    let demo = demo();
    for (size, held) in [
        (PaperSize::A4, BoardSide::Outside),
        (PaperSize::A3, BoardSide::Inside),
        (PaperSize::Letter, BoardSide::Inside),
        (PaperSize::Roll(914.0), BoardSide::Outside),
    ] {
        let lofted = with(&demo, |shop| of_every_sort(shop, size, held));
        let pack = Pack::of(&lofted, PackOptions::default());
        let parts = &pack.contents().parts;
        assert!(pack.contents().missing.is_empty());
        let own = parts.iter().filter(|part| part.kind == SheetKind::OwnBoard);
        assert_eq!(
            own.count(),
            12,
            "canted and square for both shells, all for both hands"
        );
        let mut number = 0;
        for (i, part) in parts.iter().enumerate() {
            assert_eq!(part.fault, None, "{}", part.code);
            let sheets = pack.draw(i);
            assert_eq!(sheets.len(), part.pages);
            for sheet in &sheets {
                check(sheet);
                number += 1;
                let all: usize = parts.iter().map(|part| part.pages).sum();
                let says = format!("{number} of {all}");
                assert!(seen(sheet).iter().any(|text| text.text == says), "{says}");
            }
            // What it is stands on the board itself, on one of its sheets at least.
            let Some(Laid::Board { wanted, .. }) = &pack.laid[i] else {
                continue;
            };
            let (name, _) = words::called(wanted);
            let on_board = |sheet: &Sheet| {
                let layer = sheet.layers.iter().find(|layer| layer.name == "words");
                layer.is_some_and(|layer| layer.texts.iter().any(|text| text.text == name))
            };
            assert!(sheets.iter().any(on_board), "{}", part.code);
        }
    }
}

/// All sheets of a pack, with the outlines of its boards.
fn all_sheets(pack: &Pack) -> Vec<Sheet> {
    let parts = 0..pack.contents().parts.len();
    parts
        .flat_map(|part| pack.draw(part).into_iter().chain(pack.outline(part)))
        .collect()
}

#[test]
fn only_what_is_frozen_is_for_cutting() {
    let lofted = with(&demo(), |_| ());
    let stamped = |sheet: &Sheet| {
        let mut texts = sheet.layers.iter().flat_map(Layer::seen_texts);
        texts.any(|text| text.text == stamp::DRAFT)
    };
    let draft = all_sheets(&Pack::of(&lofted, PackOptions::default()));
    for sheet in &draft {
        assert!(stamped(sheet), "{}", sheet.title);
    }
    let frozen = lofted.frozen_as(Some(Frozen {
        label: "B".to_owned(),
        date: "2026-03-21".to_owned(),
    }));
    let pack = Pack::of(&frozen, PackOptions::default());
    let fit = all_sheets(&pack);
    assert_eq!(fit.len(), draft.len());
    assert!(!fit.iter().any(stamped));
    let code = format!("B · {}", frozen.lines().fingerprint().paper());
    for part in 0..pack.contents().parts.len() {
        for sheet in pack.draw(part) {
            let texts = seen(&sheet);
            for says in ["21 March 2026", &code] {
                let said = texts.iter().any(|text| text.text == says);
                assert!(said, "{}: {says}", sheet.title);
            }
        }
    }
}

#[test]
fn odd_titles_and_thick_boards_are_handled() {
    let mut demo = demo();
    demo.about.title = "Ä/é\\:\u{5d0}\u{5d1} "
        .repeat(40)
        .chars()
        .take(200)
        .collect();
    let lofted = with(&demo, |shop| {
        shop.sheets.paper.size = PaperSize::A4;
        shop.sheets.boards.depth = 1000.0;
        shop.sheets.boards.error = 20.0;
    });
    let pack = Pack::of(&lofted, PackOptions::default());
    for i in 0..pack.contents().parts.len() {
        pack.draw(i).iter().for_each(check);
    }
}

#[test]
fn a_face_of_a_skin_without_a_thickness_is_asked_for() {
    let lofted = with(&demo(), |shop| shop.sheets.boards.face = Face::Iml);
    let pack = Pack::of(&lofted, PackOptions::default());
    let error = pack.contents().no_boards.clone().unwrap();
    assert!(error.contains("how thick"), "{error}");
    assert!(
        !pack.contents().parts.is_empty(),
        "tables are there all the same"
    );
}

#[test]
fn a_board_longer_than_a_roll_is_refused_and_the_others_are_not() {
    let lofted = with(&demo(), |shop| {
        shop.sheets.paper.size = PaperSize::Roll(914.0);
        shop.sheets.boards.depth = 120.0;
        shop.sheets.boards.own = vec![BoardPlace::Along {
            line: BoardLine::Named(On::Keel),
            from: 0.0,
            to: 4013.2,
        }];
    });
    let pack = Pack::of(&lofted, PackOptions::default());
    let whole = pack.contents().parts.last().unwrap();
    assert_eq!(whole.fault, None, "4.1 m fit");
    let [long] = &pack.draw(pack.contents().parts.len() - 1)[..] else {
        panic!("{whole:?}");
    };
    assert!(long.size.0 > 4000.0 && long.size.0 <= tiles::LONGEST_SHEET);
    check(long);
    // By figures a tape tells at least half of it; they are as far apart as they say.
    let figures = { long.layers.iter() }.find(|layer| layer.name == "figures");
    let figures = &figures.unwrap().texts;
    let reach = figures.last().unwrap();
    assert_eq!(figures[0].text, "0");
    assert!(reach.text.parse::<f64>().unwrap() > 0.5 * long.size.0);
    for figure in figures {
        let (says, at) = (
            figure.text.parse::<f64>().unwrap(),
            figure.at.0 - figures[0].at.0,
        );
        assert!((says - at).abs() < 1e-9, "{says} at {at}");
    }
    let tapes = seen(long)
        .iter()
        .any(|text| text.text.contains("Tape the figures"));
    assert!(tapes);
    let too_long = Tiles::lay((4900.0, 500.0), &lofted.lines().shop.sheets.paper, |_| true);
    assert_eq!(too_long, Err(NoPaper::TooLong(5030.0)));
}

#[test]
fn a_body_of_160_stations_has_a_board_at_each() {
    let round = |i: u32| {
        let x = 25.0 * f64::from(i);
        let radius = 300.0 + x * (4000.0 - x) / 20_000.0;
        let place = |on: On, turn: f64| (on, [radius * num::sin(turn), radius * num::cos(turn)]);
        let free = (1..6_u32).map(|k| place(On::Free, f64::from(k) / 6.0 * core::f64::consts::PI));
        let keel = place(On::Keel, core::f64::consts::PI);
        let points = [place(On::Crown, 0.0)]
            .into_iter()
            .chain(free)
            .chain([keel]);
        (x, points.collect())
    };
    let table: Vec<_> = (0..160).map(round).collect();
    let lines = crate::made::made(&table, 0.5);
    let lofted = with(&lines, |shop| {
        let stations = lines.body.stations.iter();
        shop.sheets.boards.at = stations.map(|station| station.id).collect();
    });
    let pack = Pack::of(&lofted, PackOptions::default());
    let parts = &pack.contents().parts;
    let boards: Vec<usize> = (0..parts.len())
        .filter(|part| parts[*part].kind == SheetKind::Template)
        .collect();
    assert!(boards.len() >= 160, "{}", boards.len());
    for part in [boards[0], boards[80], boards[boards.len() - 1]] {
        assert_eq!(parts[part].fault, None);
        pack.draw(part).iter().for_each(check);
    }
}

/// Rods and tapes of every sort.
fn strips(shop: &mut crate::document::Shop, size: PaperSize) {
    let keel = BoardLine::Named(On::Keel);
    let girth = BoardLine::Girth {
        shell: 1,
        share: 0.58,
    };
    shop.sheets.paper.size = size;
    shop.sheets.strips = vec![
        StripPlace::Rod { x: 2286.0 },
        StripPlace::Girth { x: 2286.0 },
        StripPlace::Girth { x: 1219.2 },
        StripPlace::Along {
            line: keel,
            from: 0.0,
            to: 4013.2,
        },
        StripPlace::Along {
            line: girth,
            from: 900.0,
            to: 2700.0,
        },
    ];
}

#[test]
fn rods_and_tapes_are_true_to_their_figures_on_every_paper() {
    for size in [PaperSize::A4, PaperSize::A3, PaperSize::Roll(914.0)] {
        let lofted = with(&demo(), |shop| strips(shop, size));
        let pack = Pack::of(&lofted, PackOptions::default());
        assert!(pack.contents().missing.is_empty());
        let part = pack.contents().parts.last().unwrap();
        assert_eq!(part.kind, SheetKind::Strips);
        let place = pack.contents().parts.len() - 1;
        let Some(Laid::Strips(laid)) = &pack.laid[place] else {
            panic!("{part:?}");
        };
        assert_eq!(laid.strips.len(), 2 + 2 + 2 + 1 + 1);
        let sheets = pack.draw(place);
        assert_eq!(sheets.len(), part.pages);
        sheets.iter().for_each(check);
        // Each mark's words stand on a sheet, and each strip's name.
        let all: Vec<String> = { sheets.iter().flat_map(seen) }
            .map(|text| text.text.clone())
            .collect();
        for strip in &laid.strips {
            assert!(
                all.iter().any(|says| says.starts_with(&strip.name)),
                "{}",
                strip.name
            );
            for mark in &strip.marks {
                let says = format!("{}  {}", mark.name, crate::units::fixed(mark.at, 1));
                assert!(all.contains(&says), "{size:?}: {}: {says}", strip.name);
            }
        }
    }
}

#[test]
fn what_changed_since_the_last_issue_is_told_by_how_much() {
    let demo = demo();
    let then = with(&demo, |shop| strips(shop, PaperSize::A3));
    let pack_then = Pack::of(&then, PackOptions::default());
    let codes: Vec<String> = { pack_then.contents().parts.iter() }
        .map(|part| part.code.clone())
        .collect();
    let told = |pack: Pack, issued: &[String]| {
        let pack = pack.since(&pack_then, "B", issued);
        assert_eq!(pack.contents().since.as_deref(), Some("B"));
        let parts = pack.contents().parts.iter();
        parts
            .map(|part| (part.code.clone(), part.since.unwrap()))
            .collect::<Vec<_>>()
    };
    // The same lines: all as it was, but what did not go out.
    let again = told(Pack::of(&then, PackOptions::default()), &codes[1..]);
    assert_eq!(again[0].1, Since::New);
    for (code, since) in &again[1..] {
        assert_eq!(*since, Since::Same, "{code}");
    }
    // Cut half a millimetre further out, every board lies elsewhere by that: another face.
    let further = with(&demo, |shop| {
        strips(shop, PaperSize::A3);
        shop.sheets.boards.allowance = 0.5;
    });
    for (code, since) in told(Pack::of(&further, PackOptions::default()), &codes) {
        let board = code.starts_with("T-");
        assert_eq!(since == Since::Otherwise, board, "{code}: {since:?}");
    }
    // A reading that says 2 mm more moves the boards about it, and the far ones not; tables and tapes say otherwise.
    let mut moved = (*then.lines().clone()).clone();
    let body = Arc::make_mut(&mut moved.body);
    let crown = { body.points.iter_mut() }
        .filter(|point| point.on == On::Crown)
        .nth(4)
        .unwrap();
    for reading in &mut crown.readings {
        if let Some(height) = &mut reading.height {
            height.mm += 2.0;
        }
    }
    let moved = Lofted::build(Arc::new(moved)).unwrap();
    let told = told(Pack::of(&moved, PackOptions::default()), &codes);
    let far = |code: &str| match told.iter().find(|(own, _)| own.starts_with(code)) {
        Some((_, Since::Moved(far))) => *far,
        other => panic!("{code}: {other:?}"),
    };
    let most = { told.iter() }.filter_map(|(code, since)| match since {
        Since::Moved(far) if code.ends_with("upper") => Some(*far),
        _ => None,
    });
    let most = most.fold(0.0, f64::max);
    assert!(most > 0.2 && most < 2.0, "{most}");
    assert!(far("Rods and tapes") < 2.0);
    let lower = { told.iter() }.filter(|(code, _)| code.ends_with("lower"));
    assert!(
        lower.clone().any(|(_, since)| *since == Since::Same),
        "{told:?}"
    );
}

#[test]
fn an_edge_over_skin_that_nobody_read_is_dashed_and_named() {
    let mut lines = demo();
    // Nothing is left of the lower half of three stations side by side.
    let body = Arc::make_mut(&mut lines.body);
    let gap: Vec<StationId> = body.stations[3..6]
        .iter()
        .map(|station| station.id)
        .collect();
    let places: Vec<Option<Place>> = { body.points.iter() }
        .map(|point| body.place_of(point.on))
        .collect();
    let mut places = places.into_iter();
    body.points.retain(|point| {
        let lower = match places.next().flatten() {
            Some(Place::Waterline(z)) => z < 700.0,
            _ => point.on == On::Keel,
        };
        !(lower && gap.contains(&point.station))
    });
    let at = gap[1];
    let lofted = with(&lines, |shop| {
        shop.sheets.boards.at = vec![at];
        shop.sheets.boards.error = 20.0;
    });
    let label = lofted.lines().body.station(at).unwrap().label.clone();
    let pack = Pack::of(&lofted, PackOptions::default());
    let parts = &pack.contents().parts;
    let place = { parts.iter() }.position(|part| part.code == format!("T-{label} lower"));
    let sheets = pack.draw(place.unwrap());
    let of = |name: &'static str| {
        let layers = sheets.iter().flat_map(|sheet| &sheet.layers);
        layers.filter(move |layer| layer.name == name)
    };
    let dashed = of("cut").flat_map(|layer| &layer.marks).any(|mark| {
        mark.pen
            .is_some_and(|pen| pen.dash == crate::paper::Dash::Long)
    });
    assert!(dashed);
    let named = of("carried").flat_map(Layer::seen_texts).count();
    assert!(named > 0);
    sheets.iter().for_each(check);
    // What is cut has no dashes, and says it in words.
    let outline = pack.outline(place.unwrap()).unwrap();
    let pens = { outline.layers.iter() }.filter(|layer| layer.name == "cut");
    let mut pens = pens
        .flat_map(|layer| &layer.marks)
        .filter_map(|mark| mark.pen);
    assert!(pens.all(|pen| pen == crate::paper::Pen::PART));
    let mut texts = outline.layers.iter().flat_map(|layer| &layer.texts);
    assert!(texts.any(|text| text.text.contains("is carried")));
}
