//! What comes in: tables in both forms, seen before they are taken; and what must be refused.

use std::path::{Path, PathBuf};

use thirtyfour::By;

use crate::browser::Fault;
use crate::browser::page::Page;
use crate::data;

/// Opens the question what to open, and hands it a file.
pub async fn choose_file(page: &Page, file: &Path) -> Result<(), Fault> {
    page.find("button", "Open").await?.click().await?;
    // To the browser's own search its name is longer: it holds what is chosen, too.
    let field = page
        .find_where("button", "«File»", |name| name == "File")
        .await?;
    field.send_keys(file.to_str().ok_or("no name")?).await?;
    Ok(())
}

/// Takes a table in as it was read.
pub async fn take_in_file(page: &Page, file: &Path) -> Result<(), Fault> {
    choose_file(page, file).await?;
    page.find("button", "Take in").await?.click().await?;
    Ok(())
}

/// A file of the tests' data, where a browser takes it up.
pub fn of_tests(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("tests/data")
        .join(name)
}

/// The paper form and the long form of the demo's evidence by file, and a pasted one with decimal commas.
pub async fn tables(page: Page) -> Result<(), Fault> {
    page.find("heading", "Hallowby Marram").await?;
    let before = page.fingerprint().await?;

    choose_file(&page, &of_tests("demo_offsets_sheet.csv")).await?;
    page.find("button", "Take in").await?;
    assert_eq!(page.figure("Stations").await?, "16");
    assert_eq!(page.figure("Readings").await?, "185");
    assert_eq!(page.figure("Torn cells").await?, "3");
    for torn in ["STA 123", "STA 134", "STA 146"] {
        page.shows(torn).await?;
    }
    page.shoot("take-in-paper").await?;
    page.choose("Unit of bare numbers", "mm").await?;
    page.shoot("take-in-paper-mm").await?;
    page.choose("Unit of bare numbers", "ft-in-8").await?;
    page.find("button", "Take in").await?.click().await?;
    page.find("heading", "demo_offsets_sheet").await?;
    let paper = page.fingerprint().await?;
    assert_ne!(paper, before);

    choose_file(&page, &of_tests("demo_offsets.csv")).await?;
    page.find("button", "Take in").await?;
    assert_eq!(page.figure("Readings").await?, "186");
    page.shows("STA 38").await?;
    page.shoot("take-in-long").await?;
    page.find("button", "Take in").await?.click().await?;
    page.find("heading", "demo_offsets").await?;
    page.chord("\u{E009}", "z").await?;
    assert_eq!(page.fingerprint().await?, paper);
    page.chord("\u{E009}", "z").await?;
    assert_eq!(page.fingerprint().await?, before);

    page.find("button", "Open").await?.click().await?;
    page.find("textbox", "Pasted table").await?.click().await?;
    page.press(
        "STA (mm);crown;WL 0,5;keel\n0;100,5;80,25;-100\n500;101;81;-100\n1000,5;100;79,75;-99,5\n1500;98;77;-97\n2000;95;74;-94\n",
    )
    .await?;
    page.find("button", "Look at the table")
        .await?
        .click()
        .await?;
    page.find("button", "Take in").await?;
    assert_eq!(page.figure("Stations").await?, "5");
    assert_eq!(page.figure("Readings").await?, "15");
    // What each column was taken for, and each value, is there to be looked at.
    page.find("region", "The table as it was understood")
        .await?;
    page.shows("half-breadth on WL 0,5, 0.5 mm up").await?;
    page.find("cell", "79.8").await?;
    page.shoot_looks("take-in-pasted").await?;
    // The text is not lost, and can be put right.
    page.find("button", "Back to the text")
        .await?
        .click()
        .await?;
    let text = page.find("textbox", "Pasted table").await?;
    text.click().await?;
    page.chord("\u{E009}", "\u{E010}").await?; // Control, End
    page.press("2500;90;=B2+3;-90\n").await?;
    page.find("button", "Look at the table")
        .await?
        .click()
        .await?;
    page.shows("Row 7, WL 0,5 (C7): `=B2+3` is a formula of a spreadsheet.")
        .await?;
    page.shows("C4 counts from the first cell of the pasted text.")
        .await?;
    let name = page.find("textbox", "Call these lines").await?;
    name.clear().await?;
    name.send_keys("x".repeat(201)).await?;
    page.find("button", "Take in").await?.click().await?;
    page.shows("a text of more than 200 characters").await?;
    assert_eq!(page.fingerprint().await?, before);
    name.clear().await?;
    name.send_keys("Kite").await?;
    page.find("button", "Take in").await?.click().await?;
    page.find("heading", "Kite").await?;
    page.chord("\u{E009}", "z").await?;
    assert_eq!(page.fingerprint().await?, before);
    Ok(())
}

/// One bad cell: the preview says what is wrong with it; taken in all the same, its points are drawn and both screens say
/// it; the reading set aside, there is a loft again.
pub async fn a_table_that_gives_no_loft(page: Page) -> Result<(), Fault> {
    page.find("heading", "Hallowby Marram").await?;
    let sheet = String::from_utf8(data("demo_offsets_sheet.csv")?)?;
    let bad = sheet.replacen("1-2-3,1-4-0+,1-4-2,", "1-2-3,3-3-2,1-4-2,", 1);
    assert_ne!(bad, sheet);
    let file = page.folder("tables")?.join("one bad cell.csv");
    std::fs::write(&file, bad)?;
    choose_file(&page, &file).await?;
    page.shows("As it was read it can't be lofted").await?;
    page.find("button", "Take in").await?.click().await?;
    page.find("heading", "one bad cell").await?;
    let bad = "WL 28, station 48, ";
    let point = page
        .find_where("button", bad, |name| name.starts_with(bad))
        .await?;
    assert!(point.is_displayed().await?, "the points are drawn");
    page.shows("The section turns back at STA 48, WL 28")
        .await?;
    // What stands in the loft's way is named as a misprint, though there is none as yet.
    page.find("button", "STA 48, WL 28 reads 3-3-2").await?;
    page.shows("Neighbours want about 1-4-1.").await?;
    page.find("button", "Shell").await?.click().await?;
    page.find("heading", "Shade by").await?;
    page.shows("The section turns back at STA 48, WL 28")
        .await?;
    // What needs a skin is off, and says why.
    let step = page.find("button", "Surface, STEP").await?;
    assert_eq!(step.attr("aria-disabled").await?.as_deref(), Some("true"));
    let why = step.attr("aria-description").await?.unwrap_or_default();
    assert!(why.contains("The section turns back"), "{why}");
    page.shoot("no-loft-shell").await?;
    page.find("button", "Go to it").await?.click().await?;
    page.find("heading", "WL 28").await?;
    page.until("the focus on it", async || {
        let there = page.focused().await?.starts_with(bad);
        Ok(there.then_some(()))
    })
    .await?;
    page.shoot("no-loft").await?;
    let row = page.find("button", "STA 48, WL 28 reads 3-3-2").await?;
    row.find(By::XPath("./ancestor::li//button[.='Set aside']"))
        .await?
        .click()
        .await?;
    page.find("textbox", "Why, kept with the reading")
        .await?
        .click()
        .await?;
    page.press("misread\u{E007}").await?; // Enter
    page.shows("No reading is used here: the skin is drawn from its neighbours.")
        .await?;
    page.shows_no_longer("turns back").await
}

/// Crown, breadth and keel alone fix no section: the law that shapes them from these is offered where that is said.
pub async fn three_points_a_section(page: Page) -> Result<(), Fault> {
    page.find("heading", "Hallowby Marram").await?;
    let mut table = "STA (mm);crown;breadth;keel\n".to_owned();
    for (i, half) in [200, 260, 300, 310, 290, 240].iter().enumerate() {
        table += &format!(
            "{};{};{half}/500;{}\n",
            150 * i,
            500 + half / 3,
            500 - half / 3
        );
    }
    page.find("button", "Open").await?.click().await?;
    page.find("textbox", "Pasted table").await?.click().await?;
    page.press(table).await?;
    page.find("button", "Look at the table")
        .await?
        .click()
        .await?;
    page.find("button", "Take in").await?.click().await?;
    page.shows("The section turns back").await?;
    // None of its three points is taken for a misprint; and no nought says that all is well.
    page.shows("No line is judged while there is no loft")
        .await?;
    page.find("heading", "To settle").await?;
    page.shows("Or give the body by law").await?;
    page.shoot("three-points").await?;
    let bar = page.find("alert", "").await?;
    bar.find(By::XPath(".//button[.='Conic law']"))
        .await?
        .click()
        .await?;
    page.find("button", "Set the law").await?.click().await?;
    page.shows("fullness 0.414 above the breadth, 0.414 below it.")
        .await?;
    page.find("button", "Close").await?.click().await?;
    page.shows_no_longer("The section turns back").await?;
    page.drawn().await?;
    page.shoot("three-points-by-law").await?;
    // On so small a body the comb's legend lies over no line.
    let over = "const box = document.querySelector('.lines-plan path.ground').getBoundingClientRect();
         const lines = [...document.querySelectorAll('.run, .picked-line')].filter((path) => path.getAttribute('d').length > 200);
         const within = (at) => at.x > box.left && at.x < box.right && at.y > box.top && at.y < box.bottom;
         return [lines.length, lines.some((path) => {
             const [to, length] = [path.getScreenCTM(), path.getTotalLength()];
             for (let at = 0; at < length; at += 4) {
                 if (within(path.getPointAtLength(at).matrixTransform(to))) return true;
             }
             return false;
         })]";
    let over = page.script(over).await?;
    assert!(over[0].as_u64() > Some(0), "{over}");
    assert_eq!(over[1], false, "the legend lies over a line");
    Ok(())
}

/// Whatever comes by file or link: said in words, and the work stays as it was.
pub async fn hostile(page: Page) -> Result<(), Fault> {
    page.find("heading", "Hallowby Marram").await?;
    let before = page.fingerprint().await?;
    let sound = data("schema_1.json")?;
    let wide: Vec<u8> = "{\"schema\": 1}"
        .encode_utf16()
        .flat_map(u16::to_le_bytes)
        .collect();
    let bad: [(&str, Vec<u8>, &str); 6] = [
        ("cut.json", sound[..sound.len() / 2].to_vec(), "cut off"),
        (
            "newer.json",
            String::from_utf8(sound.clone())?
                .replacen("1", "99", 1)
                .into_bytes(),
            "newer",
        ),
        (
            "deep.json",
            [b"{\"schema\":1,\"title\":".to_vec(), b"[".repeat(100_000)].concat(),
            "nests deeper",
        ),
        (
            "nan.json",
            String::from_utf8(sound.clone())?
                .replacen("\"x\": ", "\"x\": NaN", 1)
                .into_bytes(),
            "damaged",
        ),
        ("wide.json", wide, "UTF-16"),
        (
            "picture.csv",
            b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR".to_vec(),
            "table",
        ),
    ];
    for (name, bytes, words) in bad {
        let file = page.folder("hostile")?.join(name);
        std::fs::write(&file, bytes)?;
        choose_file(&page, &file).await?;
        page.shows(words).await?;
        // Said where it was asked for, not behind it.
        let told = page
            .script("return document.querySelector('dialog[open]').innerText")
            .await?;
        assert!(
            told.as_str().is_some_and(|told| told.contains(words)),
            "{name}: {told}"
        );
        page.press("\u{E00C}").await?;
        assert_eq!(page.fingerprint().await?, before, "{name}");
        page.close_notes().await?;
    }
    page.find("button", "Share").await?.click().await?;
    let link = page
        .find("textbox", "Link")
        .await?
        .prop("value")
        .await?
        .unwrap_or_default();
    page.press("\u{E00C}").await?;
    let (_, fragment) = link.split_once('#').ok_or("a link has a fragment")?;
    let at = fragment.len() / 2;
    let other = if fragment.as_bytes()[at] == b'A' {
        "B"
    } else {
        "A"
    };
    let changed = format!("{}{other}{}", &fragment[..at], &fragment[at + 1..]);
    let wrongs = [&fragment[..at], &changed, "SB9.12.AA", "SB1."];
    for wrong in wrongs {
        page.script(&format!("location.hash = '{wrong}'")).await?;
        page.shows("link").await?;
        assert_eq!(page.fingerprint().await?, before, "{wrong}");
        page.close_notes().await?;
    }
    Ok(())
}
