//! Hostile input at the doors: a file, a link, a table. The fourth, a kept step, is tried in `document/history/kept`.
//!
//! Each door takes whatever comes and gives sound lines or a message; nothing panics, and no message is a raw error.
//! Named cases first, then generated ones within a time budget; what those find becomes a named case, here or, where it is of one
//! module, beside that: plates between knuckles in `tests/plates`, bodies without a half-breadth in `loft`, formulas of a
//! spreadsheet in `write/table`, odd letters on a sheet in `write/svg`, numbers at their end and tips in `document/body/edit`.
#![expect(
    clippy::unwrap_used,
    clippy::expect_used,
    reason = "a test ends at its first fault"
)]

use std::sync::Arc;
use std::time::{Duration, Instant};

use arbtest::arbitrary::{Result as Drawn, Unstructured};
use arbtest::arbtest;
use geometry::document::link::LONGEST_LINK;
use geometry::document::paste::{LARGEST_TABLE, MOST_COLUMNS, MOST_ROWS};
use geometry::document::{
    BoardLine, BoardSide, BodyEdit, End, Face, Folder, Lines, LinkError, On, OpenError, PaperSize,
    PasteError, PointId, Recorded, Sheets, Source, SourceId, StripPlace, TableOptions, Tip, Turns,
    read_folder, read_link, read_table, write_folder, write_link,
};
use geometry::loft::Lofted;
use geometry::paper::{Cell, Table};
use geometry::settle::judge_all;
use geometry::units::{LengthUnit, Message};
use geometry::write::write_csv;

/// For each generated test, ms.
const BUDGET: u64 = 2_000;

fn data(name: &str) -> Vec<u8> {
    std::fs::read(format!("{}/tests/data/{name}", env!("CARGO_MANIFEST_DIR"))).unwrap()
}

fn demo() -> Lines {
    read_table(&data("demo_offsets.csv"), &TableOptions::default())
        .unwrap()
        .lines()
}

/// A message is a sentence for a person.
#[track_caller]
fn told(error: &impl Message) -> String {
    let message = error.message(LengthUnit::FeetInchesEighths);
    assert!(
        message.len() > 15 && message.ends_with(['.', '?']),
        "{message}"
    );
    for raw in ["panicked", "undefined", "Err(", "Some(", "None", "line 0"] {
        assert!(!message.contains(raw), "{message}");
    }
    message
}

#[track_caller]
fn file_says(bytes: &[u8], words: &str) {
    let message = told(&read_folder(bytes).expect_err("refused"));
    assert!(message.contains(words), "{message}");
}

#[track_caller]
fn table_says(bytes: &[u8], words: &str) {
    let message = told(&read_table(bytes, &TableOptions::default()).expect_err("refused"));
    assert!(message.contains(words), "{message}");
}

/// The first cell that is refused in a table, as it is told.
#[track_caller]
fn cell_says(text: &str, words: &str) {
    let preview = read_table(text.as_bytes(), &TableOptions::default()).expect("the rest is read");
    let message = told(preview.refused.first().expect("a refused cell"));
    assert!(message.contains(words), "{message}");
}

fn utf16(text: &str, mark: bool) -> Vec<u8> {
    let mark = if mark { "\u{feff}" } else { "" };
    mark.encode_utf16()
        .chain(text.encode_utf16())
        .flat_map(u16::to_le_bytes)
        .collect()
}

// ---- files ----

#[test]
fn a_frozen_file_of_schema_1_still_opens() {
    let folder = read_folder(&data("schema_1.json")).unwrap();
    assert_eq!(
        (folder.lines.body.points.len(), folder.revisions.len()),
        (27, 1)
    );
}

#[test]
fn a_frozen_file_of_schema_2_still_opens() {
    let lines = read_folder(&data("schema_2.json")).unwrap().lines;
    assert_eq!((lines.body.points.len(), lines.body.sources.len()), (27, 2));
    let photograph = &lines.body.sources[1];
    assert!((photograph.datum.half_breadth.from - 700.0).abs() < 1e-12);
    assert!((photograph.surface.depth() - 1.2).abs() < 1e-12);
    // What was changed by another program is no longer what its fingerprint is of.
    let text = String::from_utf8(data("schema_2.json")).unwrap();
    file_says(text.replace("609.6", "609.7").as_bytes(), "fingerprint");
    let there_and_back = read_link(&write_link(&lines)).unwrap();
    assert_eq!(there_and_back.body.sources, renumbered(&lines.body.sources));
}

#[test]
fn a_frozen_file_of_schema_3_still_opens() {
    let folder = read_folder(&data("schema_3.json")).unwrap();
    let ruled = folder.revisions.last().unwrap();
    assert!(ruled.lines.body.law.is_some());
    let lines = folder.lines;
    let kept = lines.body.points[3].id;
    assert!(lines.body.keeps(kept) && !lines.body.keeps(lines.body.points[0].id));
    let two = Turns {
        inflections: 0,
        peaks: 2,
    };
    assert_eq!(lines.body.turns_allowed(On::Crown), Some(two));
    assert_eq!(lines.body.taken[0].moves[0].height, Some(-1.25));
    // A link carries what the lines are judged by, but no record of how they came to be.
    let there_and_back = read_link(&write_link(&lines)).unwrap();
    assert!(there_and_back.body.keeps(there_and_back.body.points[3].id));
    assert_eq!(there_and_back.body.allowed_turns, lines.body.allowed_turns);
    assert_eq!(there_and_back.body.taken, []);
}

#[test]
fn a_frozen_file_of_schema_4_still_opens() {
    let lines = read_folder(&data("schema_4.json")).unwrap().lines;
    let third = read_folder(&data("schema_3.json")).unwrap().lines;
    let said = lines.body.points[0].readings[0].circumstances.clone();
    assert_eq!(
        said.unwrap().words(),
        "page 7, port side, by R. Hale, 2 May"
    );
    assert_eq!(
        lines.fingerprint(),
        third.fingerprint(),
        "words shape no metal"
    );
}

#[test]
fn a_frozen_file_of_schema_5_still_opens() {
    let lines = read_folder(&data("schema_5.json")).unwrap().lines;
    let fourth = read_folder(&data("schema_4.json")).unwrap().lines;
    let sheet = &lines.body.sources[0];
    assert!((sheet.datum.aft - 12.0).abs() < 1e-12);
    assert_eq!(lines.body.shifted(sheet.id).alone, []);
    assert_ne!(lines.fingerprint(), fourth.fingerprint());
    // Values stay as they were typed; only what they say at their stations is another.
    assert_eq!(lines.body.points, fourth.body.points);
    assert_ne!(lines.body.offsets(), fourth.body.offsets());
    let there_and_back = read_link(&write_link(&lines)).unwrap();
    assert_eq!(there_and_back.body.sources, renumbered(&lines.body.sources));
    assert_eq!(there_and_back.fingerprint(), lines.fingerprint());
}

#[test]
fn a_frozen_file_of_schema_6_still_opens() {
    let lines = read_folder(&data("schema_6.json")).unwrap().lines;
    let fifth = read_folder(&data("schema_5.json")).unwrap().lines;
    let Sheets {
        boards,
        strips,
        paper,
        left_out,
        despite,
    } = &lines.shop.sheets;
    assert_eq!((boards.face, boards.held), (Face::Iml, BoardSide::Inside));
    assert_eq!(boards.own.len(), 3);
    let along = StripPlace::Along {
        line: BoardLine::Named(On::Keel),
        from: 0.0,
        to: 609.6,
    };
    let (rod, girth) = (StripPlace::Rod { x: 300.0 }, StripPlace::Girth { x: 300.0 });
    assert_eq!(strips[..], [rod, girth, along]);
    assert_eq!(paper.size, PaperSize::Roll(914.0));
    assert_eq!(left_out[..], ["T-0 lower"]);
    assert_eq!(despite[..], ["0000000 T-90 lower"]);
    assert_eq!(fifth.shop.sheets, Sheets::default());
    // What is printed shapes no metal, and whoever opens a link chooses their own.
    assert_eq!(lines.fingerprint(), fifth.fingerprint());
    let there_and_back = read_link(&write_link(&lines)).unwrap();
    assert_eq!(there_and_back.shop.sheets, Sheets::default());
    assert_eq!(there_and_back.shop.skin_thickness, Some(1.2));
}

/// Sources as a link numbers them.
fn renumbered(sources: &[Source]) -> Vec<Source> {
    let each = (0..).zip(sources);
    let own = each.map(|(id, source)| Source {
        id: SourceId(id),
        ..source.clone()
    });
    own.collect()
}

#[test]
fn bad_files_are_named() {
    let sample = data("schema_1.json");
    let text = String::from_utf8(sample.clone()).unwrap();
    file_says(b"", "empty");
    file_says(b" \n\t", "empty");
    file_says(b"\0", "table");
    file_says(&sample[..sample.len() / 2], "cut off");
    file_says(b"{", "cut off");
    file_says(
        text.replace("\"schema\": 1", "\"schema\": 99").as_bytes(),
        "newer Scrieve Board (schema 99)",
    );
    file_says(
        text.replace("\"schema\": 1", "\"schema\": -1").as_bytes(),
        "kind",
    );
    file_says(
        text.replace("\"schema\": 1", "\"schema\": 1.5").as_bytes(),
        "kind",
    );
    file_says(
        text.replace("\"schema\": 1", "\"schema\": 6.5").as_bytes(),
        "newer",
    );
    file_says(text.replace("609.6", "NaN").as_bytes(), "NaN");
    file_says(text.replace("609.6", "Infinity").as_bytes(), "Infinity");
    file_says(text.replace("609.6", "null").as_bytes(), "character");
    file_says(text.replace("609.6", "1e308").as_bytes(), "STA 24");
    file_says(
        text.replace("\"tolerance\": 1.6", "\"tolerance\": -1.6")
            .as_bytes(),
        "STA 0, crown, reading 1",
    );
    file_says(
        "{\"kind\": \"scrieve board lines\", \"schema\": 1, \"lines\": {}}".as_bytes(),
        "missing field",
    );
    file_says(&utf16(&text, true), "UTF-16");
    file_says(&utf16(&text, false), "UTF-16");
    file_says(b"<?xml version=\"1.0\"?><svg/>", "drawing");
    file_says(b"PK\x03\x04rest", "archive");
    file_says(b"%PDF-1.7", "PDF");
    file_says(
        &[b"[".repeat(100_000), b"]".repeat(100_000)].concat(),
        "nests",
    );
    file_says(&vec![b'['; 33 << 20], "32");
    // Brackets in texts are no depth.
    let quoted = text.replace("Frozen sample of schema 1.", &"[".repeat(100));
    assert!(read_folder(quoted.as_bytes()).is_ok());
    let escaped = text.replace(
        "Frozen sample of schema 1.",
        "\\\\\\\"[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[",
    );
    assert!(read_folder(escaped.as_bytes()).is_ok());
}

#[test]
fn a_list_that_no_schema_has_is_refused_by_its_name() {
    let text = String::from_utf8(data("schema_1.json")).unwrap();
    file_says(
        text.replace(
            "\"skin_thickness\": 1.2",
            "\"skin_thickness\": 1.2, \"seams\": [{}]",
        )
        .as_bytes(),
        "unknown field `seams`",
    );
}

/// Cuts, copies, doubles and changes pieces of `bytes`.
fn damaged(u: &mut Unstructured<'_>, mut bytes: Vec<u8>) -> Drawn<Vec<u8>> {
    for _ in 0..u.int_in_range(1..=4)? {
        let at = u.choose_index(bytes.len().max(1))?;
        let end = (at + u.int_in_range(0..=40)?).min(bytes.len());
        match u.int_in_range(0..=5)? {
            0 => bytes.truncate(at),
            1 => {
                bytes.drain(at.min(end)..end);
            }
            2 => {
                let copy = bytes[at.min(end)..end].to_vec();
                let to = u.choose_index(bytes.len().max(1))?.min(bytes.len());
                bytes.splice(to..to, copy);
            }
            3 => {
                if let Some(byte) = bytes.get_mut(at) {
                    *byte = u.arbitrary()?;
                }
            }
            4 => {
                let pieces: [&[u8]; 16] = [
                    b"-",
                    b"1e999",
                    b"\"",
                    b"null",
                    b"0",
                    b"9",
                    b",",
                    b"/",
                    b"?",
                    b"[",
                    b"{",
                    b"\0",
                    b"\xff",
                    b"NaN",
                    b"WL ",
                    b"99999999999999999999",
                ];
                let piece = *u.choose(&pieces)?;
                let at = at.min(bytes.len());
                bytes.splice(at..at, piece.iter().copied());
            }
            _ => {
                if let Some(byte) = bytes.get_mut(at) {
                    *byte ^= 1 << u.int_in_range(0..=7)?;
                }
            }
        }
    }
    Ok(bytes)
}

fn try_file(bytes: &[u8]) {
    match read_folder(bytes) {
        Ok(folder) => {
            folder.lines.assert_sound();
            assert_eq!(folder.lines.faults(), []);
            assert_eq!(read_folder(&write_folder(&folder)), Ok(folder));
        }
        Err(error) => drop(told(&error)),
    }
}

#[test]
fn no_file_panics() {
    let sample = data("schema_1.json");
    arbtest(|u| {
        try_file(&damaged(u, sample.clone())?);
        Ok(())
    })
    .budget_ms(BUDGET);
    arbtest(|u| {
        try_file(&u.arbitrary::<Vec<u8>>()?);
        Ok(())
    })
    .budget_ms(BUDGET / 4);
}

// ---- links ----

fn try_link(text: &str) {
    match read_link(text) {
        Ok(lines) => assert_eq!(lines.faults(), []),
        Err(error) => drop(told(&error)),
    }
}

#[test]
fn bad_links_are_named() {
    let link = write_link(&demo());
    let says = |text: &str, words: &str| {
        let message = told(&read_link(text).expect_err("refused"));
        assert!(message.contains(words), "{message}");
    };
    says("", "holds no lines");
    says("https", "holds no lines");
    says("SB1.", "damaged after character 4");
    says("SB1.99999999999999999999.A", "damaged after character 4");
    says("SB7.12.abc", "newer");
    says(&link[..link.len() - 1], "cut off");
    says(
        &link[..1000],
        &format!("cut off: 1000 of {} characters", link.len()),
    );
    says(&format!("{link}xyz"), "3 characters too many");
    says(&"A".repeat(LONGEST_LINK + 1), "Ask for the file");
    assert!(matches!(
        read_link("SB1.1é.x"),
        Err(LinkError::Damaged { .. })
    ));
    assert!(matches!(
        read_link(&format!("{}é{}", &link[..700], &link[702..])),
        Err(LinkError::Damaged { .. })
    ));
}

#[test]
fn no_one_changed_character_passes() {
    let link = write_link(&demo());
    for at in (0..link.len()).step_by(7) {
        for with in [b'A', b'b', b'7', b'_'] {
            let mut changed = link.clone().into_bytes();
            if changed[at] != with {
                changed[at] = with;
                let changed = String::from_utf8(changed).unwrap();
                let error = read_link(&changed).expect_err("one character is changed");
                if let LinkError::Damaged { after, of } = error {
                    assert!(
                        after <= at && at < after + 80 && (of == link.len() || at < 10),
                        "{at}: {after} of {of}"
                    );
                }
            }
        }
    }
}

#[test]
fn no_link_panics() {
    let link = write_link(&demo()).into_bytes();
    arbtest(|u| {
        try_link(&String::from_utf8_lossy(&damaged(u, link.clone())?));
        Ok(())
    })
    .budget_ms(BUDGET);
    arbtest(|u| {
        try_link(u.arbitrary()?);
        Ok(())
    })
    .budget_ms(BUDGET / 4);
}

// ---- tables ----

#[test]
fn bad_tables_are_named() {
    let sheet = String::from_utf8(data("demo_offsets_sheet.csv")).unwrap();
    table_says(b"", "empty");
    table_says(&utf16(&sheet, false), "UTF-16");
    let whole = utf16(&sheet, true);
    table_says(&whole[..whole.len() - 1], "damaged at byte");
    table_says(b"\xff\xfe\x00\xd8a\x00", "damaged at byte 3");
    table_says(b"\xff\xfe", "empty");
    table_says(b"STA,crown\n0,\xe9", "UTF-8");
    table_says(
        b"<svg xmlns=\"http://www.w3.org/2000/svg\"></svg>",
        "drawing",
    );
    table_says(b"PK\x03\x04", "CSV");
    table_says(&data("schema_1.json"), "open it as a file");
    table_says(b"hello\nworld\n", "head of an offsets table");
    table_says(b"STA (in),crown,keel\n", "Paste the rows as well");
    table_says(
        b"STA (in),crown,keel\n0,1-8-9,1-8-9\n",
        "has no ninth eighth",
    );
    table_says(
        b"STA (in),crown,keel\n0,\"1-2-3,1-0-0\n9,1-1-1,0-9-0\n",
        "quotation mark",
    );
    table_says(&vec![b','; LARGEST_TABLE + 1], "at most 8");
    table_says(
        format!("STA,crown{}\n0,1\n", ",".repeat(MOST_COLUMNS)).as_bytes(),
        "columns",
    );
    table_says(
        format!("STA,crown,keel\n{}", "0,5,1\n".repeat(MOST_ROWS + 2)).as_bytes(),
        "rows",
    );
    table_says(b"STA,crown,keel\n0,500,100\n0.1,500,100\n", "STA 0.1 lies");
    table_says(b"STA,crown,keel\n99999999,500,100\n", "is no length");
}

/// Spreadsheets save «Unicode text» as UTF-16 with a byte order mark, tabs between the cells.
#[test]
fn a_table_in_utf_16_is_read_either_way_round() {
    let sheet = String::from_utf8(data("demo_offsets_sheet.csv")).unwrap();
    let options = TableOptions::default();
    let plain = read_table(sheet.as_bytes(), &options).unwrap().lines();
    let little = utf16(&sheet, true);
    let big: Vec<u8> = { little.chunks(2) }
        .flat_map(|pair| [pair[1], pair[0]])
        .collect();
    for bytes in [little, big] {
        assert_eq!(read_table(&bytes, &options).unwrap().lines(), plain);
    }
}

/// One cause is told once: the heads of half-breadth and height changed about in the demo's table, of one pair of columns or of
/// both.
#[test]
fn columns_changed_about_are_told_as_one_cause() {
    let text = String::from_utf8(data("demo_offsets.csv")).unwrap();
    let [y, z] = ["half_breadth_mm", "height_mm"];
    let (head, rows) = text.split_once('\n').unwrap();
    let swapped = |head: &str, a: &str, b: &str| {
        let held = head.replace(a, "\0").replace(b, a);
        held.replace('\0', b)
    };
    let head = swapped(head, y, z);
    table_says(format!("{head}\n{rows}").as_bytes(), "are changed about");
    let head = swapped(&head, "half_breadth_ft_in_8", "height_ft_in_8");
    table_says(
        format!("{head}\n{rows}").as_bytes(),
        "«height_mm» are changed about: in 1",
    );
    // One row that is out is one row.
    let text = "x_mm,line,half_breadth_mm,height_mm\n0,WL 50,50,30\n0,crown,0,100\n0,keel,0,0\n9,crown,0,100\n9,keel,0,0\n";
    assert!(read_table(text.as_bytes(), &TableOptions::default()).is_ok());
}

/// What is written as text behind an apostrophe, so that no spreadsheet computes it, is read back as it was.
#[test]
fn a_name_that_begins_as_a_formula_comes_back_as_it_went() {
    for name in ["=HYPERLINK(1)", "+a", "-b", "@c", "'=d", "''@e"] {
        let pair = Cell::Pair(30.0, 50.0);
        let row = |x: f64| {
            let ends = [Cell::Length(100.0), pair.clone(), Cell::Length(0.0)];
            core::iter::once(Cell::Length(x)).chain(ends).collect()
        };
        let table = Table {
            title: String::new(),
            unit: LengthUnit::Millimetres,
            heads: ["STA (mm)", "crown", name, "keel"]
                .map(str::to_owned)
                .to_vec(),
            rows: vec![row(0.0), row(500.0)],
            notes: vec![format!("of {name}, {name}")],
        };
        let read = read_table(&write_csv(&table), &TableOptions::default()).unwrap();
        assert_eq!(read.refused, [], "{name}");
        assert_eq!(read.lines().body.run_lines[0].name, name);
    }
}

/// Names that turn what follows about, are no characters or too long, at each door: refused by place, and the message is cut and
/// holds none of it.
#[test]
fn names_that_no_file_should_bear_are_refused_at_every_door() {
    let long = "a".repeat(10_000);
    for (name, words) in [
        ("a\u{202e}b", "U+202E"),
        ("a\u{2066}b", "U+2066"),
        ("a\u{fffe}b", "U+FFFE"),
        ("a\u{fdd0}b", "U+FDD0"),
        ("a\u{1ffff}b", "U+1FFFF"),
        ("a\u{2028}b", "U+2028"),
        ("a\u{7}b", "U+0007"),
        (long.as_str(), "60 characters"),
    ] {
        let says = |message: String| {
            assert!(message.contains(words), "{message}");
            assert!(message.chars().count() < 400, "{message}");
            assert!(!message.contains(name), "{message}");
        };
        let mut lines = demo();
        let station = lines.body.stations[0].id;
        let edit = |label: &str| BodyEdit::RenameStation {
            station,
            label: label.to_owned(),
        };
        says(told(&lines.apply(edit(name)).unwrap_err()));
        let table = format!("STA (mm),crown,{name},keel\n0,100,30/50,0\n500,90,30/50,0\n");
        says(told(
            &read_table(table.as_bytes(), &TableOptions::default()).unwrap_err(),
        ));
        lines = demo();
        lines.body_mut().run_lines[0].name = name.to_owned();
        says(told(&read_link(&write_link(&lines)).unwrap_err()));
        let folder = Folder {
            lines,
            revisions: Vec::new(),
        };
        says(told(&read_folder(&write_folder(&folder)).unwrap_err()));
    }
}

/// As it comes back by a file, and by a link.
fn by_both_doors(lines: &Lines) -> [Result<Lines, String>; 2] {
    let folder = Folder {
        lines: lines.clone(),
        revisions: Vec::new(),
    };
    let file = read_folder(&write_folder(&folder)).map(|folder| folder.lines);
    let link = read_link(&write_link(lines));
    [
        file.map_err(|error| told(&error)),
        link.map_err(|error| told(&error)),
    ]
}

/// The first value of the demo's fourth point.
fn some_value(lines: &mut Lines) -> &mut Recorded {
    let reading = &mut lines.body_mut().points[3].readings[0];
    let values = [&mut reading.half_breadth, &mut reading.height];
    values.into_iter().flatten().next().unwrap()
}

/// A value and the text it was typed as come in together: where they are not one, or there is no text that says anything, the
/// lines open, and say so; a text that is missing, or no text, is refused.
#[test]
fn a_value_that_its_text_does_not_say_is_shown_by_place() {
    let own = some_value(&mut demo()).mm;
    assert_eq!(demo().body.misread(), []);
    type Change = fn(&mut Recorded);
    let changes: [(Change, bool); 4] = [
        (|value| value.mm += 2.0, true),
        (|value| value.typed = "12.3 mm".to_owned(), true),
        (|value| value.typed = "smudged".to_owned(), false),
        (|value| value.typed = String::new(), false),
    ];
    for (change, says) in changes {
        let mut lines = demo();
        change(some_value(&mut lines));
        for read in by_both_doors(&lines) {
            let read = read.unwrap();
            let found = read.body.misread();
            assert_eq!(found.len(), 1);
            assert_eq!(found[0].point, read.body.points[3].id);
            assert_eq!(found[0].says.is_some(), says);
        }
    }
    // Put right, kept or set aside it is settled; and it is a row of its own until then.
    let mut lines = demo();
    some_value(&mut lines).mm += 2.0;
    let found = lines.body.misread()[0];
    assert!((found.says.unwrap().mm - own).abs() < 0.1, "{found:?}");
    let lofted = Lofted::build(Arc::new(lines.clone())).unwrap();
    let rows = judge_all(&lofted, &|_| (), &|_| ()).unwrap().matters;
    let name = format!("{}, typed otherwise", lines.body.point_name(found.point));
    let row = rows.iter().find(|row| row.title == name).unwrap();
    assert!(row.says.contains("was typed “"), "{}", row.says);
    let reading = found.reading;
    let keep = BodyEdit::Keep {
        point: found.point,
        reading,
        kept: true,
    };
    let lofted = Lofted::build(Arc::new(lines.apply(keep).unwrap())).unwrap();
    let rows = judge_all(&lofted, &|_| (), &|_| ()).unwrap().matters;
    assert!(rows.iter().all(|row| row.title != name));
    let right = BodyEdit::PutRight {
        point: found.point,
        reading,
        half_breadth: (!found.height).then_some(own),
        height: found.height.then_some(own),
    };
    assert_eq!(lines.apply(right).unwrap().body.misread(), []);
    // No text at all, or one that no length is as long as.
    let folder = Folder {
        lines: demo(),
        revisions: Vec::new(),
    };
    let text = String::from_utf8(write_folder(&folder)).unwrap();
    file_says(
        text.replacen("\"typed\"", "\"read\"", 1).as_bytes(),
        "unknown field `read`",
    );
    let mut json: serde_json::Value = serde_json::from_str(&text).unwrap();
    let reading = &mut json["lines"]["points"][3]["readings"][0];
    let value = ["half_breadth", "height"].map(|name| reading.get(name).is_some());
    let value = if value[0] { "half_breadth" } else { "height" };
    reading[value].as_object_mut().unwrap().remove("typed");
    file_says(json.to_string().as_bytes(), "missing field `typed`");
    some_value(&mut lines).typed = "1".repeat(65);
    for read in by_both_doors(&lines) {
        let refused = read.map(drop).unwrap_err();
        assert!(refused.contains("characters"), "{refused}");
    }
}

/// A link holds accepted values in steps of 0.01 mm: one that is none, which it can't hold, no file brings in. What was read is
/// carried with its bits.
#[test]
fn a_link_gives_back_what_any_door_lets_in() {
    const ODD: f64 = 388.120_000_000_000_46;
    let at = |lines: &Lines| {
        let both = |p: &geometry::document::Point| p.readings[0].half_breadth.is_some();
        lines.body.points.iter().position(both).unwrap()
    };
    let mut lines = demo();
    let n = at(&lines);
    lines.body_mut().points[n].accepted_half_breadth = Some(ODD);
    let [file, link] = by_both_doors(&lines);
    let refused = file.map(drop).unwrap_err();
    assert!(refused.contains("WL 44"), "{refused}");
    let step = link.unwrap().body.points[n].accepted_half_breadth;
    assert_eq!(step, Some(388.12));
    let mut lines = demo();
    let value = &mut lines.body_mut().points[n].readings[0].half_breadth;
    let value = value.as_mut().unwrap();
    (value.mm, value.put_right) = (ODD, Some(ODD + 1.0));
    for read in by_both_doors(&lines) {
        let read = read.unwrap();
        let back = read.body.points[n].readings[0].half_breadth.as_ref();
        assert_eq!(back, lines.body.points[n].readings[0].half_breadth.as_ref());
        assert_eq!(read.fingerprint(), lines.fingerprint());
    }
}

/// What an edit refuses no door lets in: a tip a hair from its station; a number past the last, though the last itself leaves
/// room for more.
#[test]
fn tips_and_numbers_at_their_end_are_held_at_the_doors_too() {
    let mut lines = demo();
    let x = lines.body.stations[0].x - 0.01;
    lines.body_mut().ends.fore = End::Tip {
        x,
        height: 900.0,
        form: Tip::Blunt,
    };
    for read in by_both_doors(&lines) {
        let refused = read.map(drop).unwrap_err();
        assert!(refused.contains("ore end is a tip"), "{refused}");
    }
    let mut lines = demo();
    let station = lines.body.stations[0].id;
    lines.body_mut().points.last_mut().unwrap().id = PointId(u32::MAX);
    let [file, link] = by_both_doors(&lines);
    for read in [file.unwrap(), link.unwrap()] {
        let torn = BodyEdit::AddTorn {
            station,
            on: On::Free,
        };
        let more = read.apply(torn).unwrap();
        assert_eq!(more.body.points.len(), read.body.points.len() + 1);
        assert_eq!(more.faults(), []);
    }
    let folder = Folder {
        lines,
        revisions: Vec::new(),
    };
    let text = String::from_utf8(write_folder(&folder)).unwrap();
    let past = text.replacen("4294967295", "4294967296", 1);
    assert_ne!(past, text);
    file_says(past.as_bytes(), "4294967296");
}

#[test]
fn bad_cells_are_named_and_the_rest_is_read() {
    let head = "STA (in),crown,WL 8,joint,keel\n";
    let row = |wl: &str, joint: &str| {
        format!("{head}0,1-0-0,{wl},{joint},0-4-0\n9,1-0-0,0-6-0,0-7-0/0-6-0,0-4-0\n")
    };
    cell_says(
        &row("0-8-9", ""),
        "Row 2, WL 8 (C2): `0-8-9` has no ninth eighth. Type 0 to 7, then + if a sixteenth over",
    );
    cell_says(&row("0-14-0", ""), "14 inches");
    cell_says(&row("6.5", ""), "its unit");
    cell_says(&row("0-6-1?", ""), "question mark");
    cell_says(&row("-0-6-1", ""), "below zero");
    cell_says(&row("0-6-1/0-7-0", ""), "here are two");
    cell_says(&row("about six", ""), "not a length");
    cell_says(&row("", "0-6-1"), "half-breadth and height");
    cell_says(
        &format!("{head}0,1-0-0,0-6-0,,0-4-0\n0,1-0-0,0-6-0,,0-4-0\n"),
        "read already",
    );
    cell_says(
        &format!("{head}0,1-0-0,0-6-0,,0-4-0\nfore,1-0-0,0-6-0,,0-4-0\n"),
        "no length",
    );
    let commas = "STA (mm);crown;keel\n0;1.234,5;100,5\n100;1200,5;100,5\n";
    cell_says(commas, "which mark");
    cell_says(
        "STA (mm),crown,keel\n0,\"1,234.5\",100.5\n100,1200.5,100.5\n",
        "which mark",
    );
}

#[test]
fn dates_that_a_spreadsheet_made_are_questioned_by_cell() {
    for date in [
        "01/02/2003",
        "1/2/2003",
        "1/2/03",
        "2003-02-01",
        "2003-02-01 00:00:00",
        "3-Feb-01",
        "01-Feb-03",
        "Feb-03",
        "3. Feb 2001",
        "01.02.2003",
        "01-02-2003",
        "01-02-03",
    ] {
        let text = format!("STA (in),crown,WL 8,keel\n0,1-0-0,{date},0-4-0\n9,1-0-0,0-6-0,0-4-0\n");
        cell_says(&text, "made a date of this");
    }
    // What a loft writes is none.
    for reading in ["1-2-3", "0-0-4+", "10-11-7", "1-10-2", "12-1-6-"] {
        let text =
            format!("STA (in),crown,WL 8,keel\n0,1-0-0,{reading},0-4-0\n9,1-0-0,0-6-0,0-4-0\n");
        let preview = read_table(text.as_bytes(), &TableOptions::default()).unwrap();
        assert_eq!(preview.refused, [], "{reading}");
    }
}

#[test]
fn what_is_typed_twice_must_agree() {
    let text = "station,x_mm,line,half_breadth_mm,height_mm,half_breadth_ft_in_8,height_ft_in_8\n\
                0,0,crown,0,1249.36,,4-1-1+\n0,0,WL 8,100.00,203.2,0-4-0,\n0,0,keel,0,177.8,,0-7-0\n";
    cell_says(text, "Leave the right one");
}

#[test]
fn a_large_table_is_read_within_its_time() {
    let mut text = String::from("station,x,line,half_breadth,height\n");
    for n in 0..19_999 {
        let (station, line) = (n / 50, n % 50 + 1);
        text.push_str(&format!(
            "{station},{},WL {line},100.5,{line}\n",
            station * 10
        ));
    }
    #[expect(
        clippy::disallowed_methods,
        reason = "a native test may read the clock"
    )]
    let start = Instant::now();
    let preview = read_table(text.as_bytes(), &TableOptions::default()).unwrap();
    assert_eq!((preview.stations, preview.values), (400, 19_999));
    let lines = preview.lines();
    let folder = Folder {
        lines,
        revisions: Vec::new(),
    };
    assert_eq!(read_folder(&write_folder(&folder)).as_ref(), Ok(&folder));
    assert_eq!(
        read_link(&write_link(&folder.lines)).unwrap().fingerprint(),
        folder.lines.fingerprint()
    );
    // A generous guard against what grows with the square, on a busy machine.
    assert!(
        start.elapsed() < Duration::from_secs(30),
        "{:?}",
        start.elapsed()
    );
}

fn try_table(bytes: &[u8], options: &TableOptions) {
    match read_table(bytes, options) {
        Ok(preview) => {
            preview.refused.iter().for_each(|cell| drop(told(cell)));
            preview
                .findings
                .iter()
                .for_each(|finding| drop(finding.message(LengthUnit::Millimetres)));
            let lines = preview.lines();
            assert_eq!(lines.faults(), []);
            assert_eq!(
                read_link(&write_link(&lines)).map(|lines| lines.fingerprint()),
                Ok(lines.fingerprint())
            );
        }
        Err(error) => drop(told(&error)),
    }
}

#[test]
fn no_table_panics() {
    let tables = [data("demo_offsets.csv"), data("demo_offsets_sheet.csv")];
    arbtest(|u| {
        let table = u.choose(&tables)?.clone();
        // A short piece, so that many are tried.
        let end = table
            .iter()
            .enumerate()
            .filter(|(_, byte)| **byte == b'\n')
            .nth(12)
            .map_or(table.len(), |(at, _)| at);
        let options = TableOptions {
            unit: *u.choose(&[
                None,
                Some(LengthUnit::Millimetres),
                Some(LengthUnit::FeetInchesEighths),
            ])?,
            tolerance: *u.choose(&[None, Some(0.5), Some(f64::NAN)])?,
            ..TableOptions::default()
        };
        try_table(&damaged(u, table[..end].to_vec())?, &options);
        Ok(())
    })
    .budget_ms(BUDGET);
    arbtest(|u| {
        try_table(u.arbitrary::<&str>()?.as_bytes(), &TableOptions::default());
        Ok(())
    })
    .budget_ms(BUDGET / 4);
}

#[test]
fn a_refused_door_leaves_the_work_alone() {
    use geometry::document::{Edit, History};
    let mut history = History::new(Arc::new(demo()));
    let before = history.clone();
    let mut unsound = demo();
    unsound.body_mut().stations[3].x = f64::NAN;
    assert!(history.edit(Edit::Replace(Box::new(unsound))).is_err());
    assert!(matches!(read_folder(b"{}"), Err(OpenError::OtherKind)));
    assert!(matches!(
        read_table(b"x", &TableOptions::default()),
        Err(PasteError::NoHead)
    ));
    assert_eq!(history, before);
}
