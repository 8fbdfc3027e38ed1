//! Sheets of every sort: what lies where on them, and what they say.

use std::sync::Arc;

use super::tiles::{NoPaper, Tiles};
use super::*;
use crate::document::{
    BoardLine, BoardPlace, BoardSide, Boards, Face, Frozen, Hands, Lines, On, Paper, PaperSize,
    read_folder,
};
use crate::paper::{Area, Layer, Text};

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
    let seen = |layer: &Layer, text: &Text| {
        let [l, t, r, f] = text.bounds();
        let within = |c: Area| l >= c[0] && t >= c[1] && r <= c[2] && f <= c[3];
        layer.clip.is_none_or(within)
    };
    layers
        .flat_map(|layer| layer.texts.iter().filter(move |text| seen(layer, text)))
        .collect()
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
            let b = other.bounds();
            let over = a[0] < b[2] && b[0] < a[2] && a[1] < b[3] && b[1] < a[3];
            assert!(
                !over,
                "{}: «{}» and «{}»",
                sheet.title, text.text, other.text
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

#[test]
fn only_what_is_frozen_is_for_cutting() {
    let lofted = with(&demo(), |_| ());
    let stamped = |lofted: &Lofted| {
        let pack = Pack::of(lofted, PackOptions::default());
        let sheet = &pack.draw(pack.contents().parts.len() - 1)[0];
        let texts = sheet.layers.iter().flat_map(|layer| &layer.texts);
        texts
            .filter(|text| text.text == "DRAFT: DO NOT CUT")
            .count()
    };
    assert_eq!(stamped(&lofted), 2);
    let frozen = lofted.frozen_as(Some(Frozen {
        label: "B".to_owned(),
        date: "2026-03-21".to_owned(),
    }));
    assert_eq!(stamped(&frozen), 0);
    let pack = Pack::of(&frozen, PackOptions::default());
    let sheet = &pack.draw(pack.contents().parts.len() - 1)[0];
    let texts: Vec<&str> = seen(sheet).iter().map(|text| text.text.as_str()).collect();
    assert!(texts.contains(&"21 March 2026"), "{texts:?}");
    let code = format!("B · {}", frozen.lines().fingerprint().paper());
    assert!(texts.contains(&code.as_str()), "{texts:?}");
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
    let too_long = Tiles::lay((4900.0, 500.0), &lofted.lines().shop.sheets.paper, |_| true);
    assert_eq!(too_long, Err(NoPaper::TooLong(5030.0)));
}
