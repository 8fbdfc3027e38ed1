//! The Evidence screen: the table by keys, what typing means, a pasted block, sources, and the way to the other screens.

use geometry::num;

use crate::browser::Fault;
use crate::browser::page::{Page, Screen};
use crate::everyone::held_focus;

const ENTER: &str = "\u{E007}";
const ESC: &str = "\u{E00C}";
const DOWN: &str = "\u{E015}";
const RIGHT: &str = "\u{E014}";
const TAB: &str = "\u{E004}";

async fn on_cell(page: &Page, start: &str) -> Result<(), Fault> {
    page.until(&format!("the focus on «{start}»"), async || {
        Ok(page.focused().await?.starts_with(start).then_some(()))
    })
    .await
}

/// Waits until the picked cell is in sight: at its middle nothing lies over it.
async fn in_sight(page: &Page, start: &str) -> Result<(), Fault> {
    const UNCOVERED: &str = "const cell = document.querySelector('.grid [aria-selected=\"true\"]');
         if (!cell) return '';
         const at = cell.getBoundingClientRect();
         const over = document.elementFromPoint((at.left + at.right) / 2, (at.top + at.bottom) / 2);
         return over && over.closest('[role=gridcell]') === cell ? cell.getAttribute('aria-label') : ''";
    page.until(&format!("«{start}» picked and in sight"), async || {
        let seen = page.script(UNCOVERED).await?;
        let seen = seen.as_str().unwrap_or_default().starts_with(start);
        Ok(seen.then_some(()))
    })
    .await
}

/// Pastes at what has the focus.
async fn paste(page: &Page, text: &str) -> Result<(), Fault> {
    page.script(&format!(
        "const data = new DataTransfer();
         data.setData('text/plain', {text:?});
         document.activeElement.dispatchEvent(new ClipboardEvent('paste', {{ clipboardData: data, bubbles: true, cancelable: true }}));"
    ))
    .await?;
    Ok(())
}

async fn open(page: &Page) -> Result<(), Fault> {
    page.find("heading", "Hallowby Marram").await?;
    page.find("button", "Evidence").await?.click().await?;
    page.find("grid", "Offsets as they were read").await?;
    Ok(())
}

/// By keys from cell to cell; a cell corrected, refused, left; an empty one filled; one step back each.
pub async fn a_cell_is_typed(page: Page) -> Result<(), Fault> {
    open(&page).await?;
    page.shoot_looks("evidence").await?;
    // A sixteenth over stands in its own cell, right behind its figure.
    let astray = "const at = (mark) => mark.getBoundingClientRect();
         const marks = [...document.querySelectorAll('.grid .over')].filter((mark) => mark.textContent === '+');
         const inside = (mark, cell) => at(mark).left > at(cell).left && at(mark).right <= at(cell).right + 1 && Math.abs(at(mark).top - at(cell).top) < 30;
         return marks.filter((mark) => !inside(mark, mark.closest('[role=gridcell]'))).length + (marks.length > 50 ? 0 : 1000)";
    assert_eq!(
        page.script(astray).await?.as_f64(),
        Some(0.0),
        "marks astray"
    );
    let before = page.fingerprint().await?;
    let misprint = "STA 48, WL 32: ";
    let cell = page
        .find_where("gridcell", misprint, |name| name.starts_with(misprint))
        .await?;
    assert_eq!(cell.text().await?, "1-2-3");
    cell.click().await?;
    page.find("heading", "STA 48, WL 32").await?;
    page.press(DOWN).await?;
    on_cell(&page, "STA 58, WL 32: ").await?;
    page.press("\u{E013}").await?; // up
    on_cell(&page, misprint).await?;

    page.press(format!("1-3-9{ENTER}")).await?;
    page.shows("STA 48, WL 32: ").await?;
    page.shows("no ninth eighth").await?;
    assert_eq!(page.fingerprint().await?, before);
    // Another cell is picked: it gets nothing of what was refused.
    let other = "STA 68, WL 36: ";
    let cell = page
        .find_where("gridcell", other, |name| name.starts_with(other))
        .await?;
    let stands = cell.attr("aria-label").await?;
    cell.click().await?;
    on_cell(&page, other).await?;
    assert!(
        !page
            .names("textbox")
            .await?
            .contains(&"Type the cell".to_owned())
    );
    page.shows("no ninth eighth").await?;
    assert_eq!(cell.attr("aria-label").await?, stands);
    page.find_where("gridcell", misprint, |name| name.starts_with(misprint))
        .await?
        .click()
        .await?;
    page.press(format!("9{ESC}")).await?;
    on_cell(&page, "STA 48, WL 32: 1-2-3").await?;
    page.press(format!("1-3-2{ENTER}")).await?;
    on_cell(&page, "STA 58, WL 32: ").await?;
    page.find_where("gridcell", "the corrected one", |name| {
        name == "STA 48, WL 32: 1-2-3 → 1-3-2"
    })
    .await?;
    let corrected = page.fingerprint().await?;
    assert_ne!(corrected, before);

    // An empty cell takes a reading of the chosen source; Tab goes on.
    page.press(RIGHT).await?;
    page.press(RIGHT).await?;
    let here = page.focused().await?;
    assert!(!here.is_empty());
    let empty = page
        .find_where("gridcell", "an empty cell", |name| {
            name.ends_with(": no reading")
        })
        .await?;
    let name = empty.attr("aria-label").await?.unwrap_or_default();
    let place = name.trim_end_matches("no reading").to_owned();
    empty.click().await?;
    on_cell(&page, &name).await?;
    page.press(format!("1-0-0{TAB}")).await?;
    page.shows("times its tolerance").await?;
    assert_eq!(page.fingerprint().await?, corrected, "asked first");
    page.find("button", "Take it").await?.click().await?;
    page.find_where("gridcell", &place, |name| name == format!("{place}1-0-0"))
        .await?;
    page.chord("\u{E009}", "z").await?;
    assert_eq!(page.fingerprint().await?, corrected);
    page.chord("\u{E009}", "z").await?;
    assert_eq!(page.fingerprint().await?, before);

    Ok(())
}

/// A cell that was typed in millimetres is put right in them; on a telephone a box beside the table takes what is typed.
pub async fn in_its_own_unit_and_on_a_phone(page: Page) -> Result<(), Fault> {
    open(&page).await?;
    let before = page.fingerprint().await?;
    let misprint = "STA 48, WL 32: ";
    let crown = "STA 146, crown: ";
    page.find_where("gridcell", crown, |name| name.starts_with(crown))
        .await?
        .click()
        .await?;
    on_cell(&page, crown).await?;
    page.press(format!("1117{ENTER}")).await?;
    page.find_where("gridcell", crown, |name| {
        name.starts_with("STA 146, crown: 1116.50 → ")
    })
    .await?
    .click()
    .await?;
    page.shows("= 1117.0 mm").await?;
    // Opened and left as it stands, it stays to the hundredth, though its sixteenths are rounded.
    let exact = page.fingerprint().await?;
    page.press(ENTER).await?;
    page.find("textbox", "Type the cell").await?;
    page.press(ENTER).await?;
    assert_eq!(page.fingerprint().await?, exact);
    page.press("\u{E013}").await?; // up again
    on_cell(&page, crown).await?;
    page.find("button", "Only mistyped here")
        .await?
        .click()
        .await?;
    page.find_where("gridcell", "without the old text", |name| {
        name.starts_with(crown) && !name.contains('→')
    })
    .await?;
    for _ in 0..2 {
        page.chord("\u{E009}", "z").await?;
    }
    assert_eq!(page.fingerprint().await?, before);

    // On a telephone: a tap picks the cell, and its box takes what is typed.
    page.show_on(Screen::Phone).await?;
    let cell = page
        .find_where("gridcell", misprint, |name| name.starts_with(misprint))
        .await?;
    page.touch(&cell, &[]).await?;
    page.find("heading", "STA 48, WL 32").await?;
    let field = page.find("textbox", "This cell").await?;
    field.scroll_into_view().await?;
    field.click().await?;
    page.chord("\u{E009}", "a").await?;
    page.press(format!("1-3-2{ENTER}")).await?;
    page.find_where("gridcell", "the corrected one", |name| {
        name == "STA 48, WL 32: 1-2-3 → 1-3-2"
    })
    .await?;
    page.shoot("evidence-phone-corrected").await?;
    page.show_on(Screen::Desk).await?;
    page.script("document.activeElement.blur()").await?;
    page.chord("\u{E009}", "z").await?;
    assert_eq!(page.fingerprint().await?, before);

    // The same point is picked on the Lines screen.
    page.find_where("gridcell", misprint, |name| name.starts_with(misprint))
        .await?
        .click()
        .await?;
    page.find("button", "Lines").await?.click().await?;
    page.find("heading", "WL 32").await?;
    page.shows("Reading, STA 48").await
}

/// A block is pasted at a cell as one step, all of it or none; sources and readings are added.
pub async fn a_block_is_pasted(page: Page) -> Result<(), Fault> {
    open(&page).await?;
    let before = page.fingerprint().await?;
    let place = "STA 0, WL 44: ";
    let cell = page
        .find_where("gridcell", place, |name| name.starts_with(place))
        .await?;
    cell.click().await?;
    on_cell(&page, place).await?;
    paste(&page, "0-9-2\t=B2\n0-9-1\tnine").await?;
    // Each of them is named.
    page.shows("`=B2` is a formula of a spreadsheet.").await?;
    page.shows("`nine`").await?;
    page.shows("Nothing was taken.").await?;
    assert_eq!(page.fingerprint().await?, before);
    paste(&page, "0-9-2\t1-0-7\n0-9-1\t1-0-6").await?;
    for cell in [
        ("STA 0, WL 44: ", "→ 0-9-2"),
        ("STA 0, WL 40: ", "→ 1-0-7"),
        ("STA 9, WL 44: ", "→ 0-9-1"),
        ("STA 9, WL 40: ", "→ 1-0-6"),
    ] {
        let fits = |name: &str| name.starts_with(cell.0) && name.ends_with(cell.1);
        page.find_where("gridcell", cell.0, fits).await?;
    }
    // The margin says of the picked cell what now stands there.
    page.shows("Half-breadth 0-9-0+, put right to 0-9-2")
        .await?;
    page.chord("\u{E009}", "z").await?;
    assert_eq!(page.fingerprint().await?, before, "one step");
    page.shows_no_longer("put right to 0-9-2").await?;
    // Over an empty cell too.
    let empty = page
        .find_where("gridcell", "an empty cell", |name| {
            name.ends_with(": no reading")
        })
        .await?;
    let name = empty.attr("aria-label").await?.unwrap_or_default();
    empty.click().await?;
    on_cell(&page, &name).await?;
    page.find("heading", "Readings here 0").await?;
    paste(&page, "1-0-0").await?;
    page.find("button", "Take it").await?.click().await?;
    page.find("heading", "Readings here 1").await?;
    page.shows("Half-breadth 1-0-0 ± 1.6").await?;
    page.chord("\u{E009}", "z").await?;
    page.find("heading", "Readings here 0").await?;
    assert_eq!(page.fingerprint().await?, before);

    page.find("textbox", "Label of a new station")
        .await?
        .click()
        .await?;
    page.press(format!("53{TAB}1346.2{ENTER}")).await?;
    let empty = "STA 53, keel: no reading";
    page.find_where("gridcell", empty, |name| name == empty)
        .await?
        .click()
        .await?;
    page.shows("at x 1346.2 mm").await?;
    page.find("button", "Take it away").await?.click().await?;
    assert_eq!(page.fingerprint().await?, before, "as it was");

    page.find("textbox", "Title of a new source")
        .await?
        .click()
        .await?;
    page.press(format!("Sheet 9{ENTER}")).await?;
    page.find_where("button", "the new source", |name| {
        name.starts_with("Sheet 9")
    })
    .await?;
    page.find_where("gridcell", place, |name| name.starts_with(place))
        .await?
        .click()
        .await?;
    page.find("textbox", "Another reading")
        .await?
        .click()
        .await?;
    page.press(format!("0-9-1+{ENTER}")).await?;
    page.find_where("gridcell", place, |name| {
        name.starts_with(place) && name.ends_with(", 2 readings")
    })
    .await?;
    page.shows("Sheet 9").await
}

/// The misprint is marked in its cell, and answered beside it; the cell stays in sight, from whatever screen it was picked.
pub async fn a_misprint_is_answered_in_the_table(page: Page) -> Result<(), Fault> {
    page.find("heading", "Hallowby Marram").await?;
    page.press_on("button", "STA 48, WL 32 reads 1-2-3").await?;
    page.find("heading", "WL 32").await?;
    let before = page.fingerprint().await?;
    page.find("button", "Evidence").await?.click().await?;
    page.find("gridcell", "STA 48, WL 32: 1-2-3, to settle")
        .await?;
    in_sight(&page, "STA 48, WL 32: ").await?;
    page.find("region", "To settle here").await?;
    page.shows("Neighbours want about 1-3-2. Inches and eighths changed places?")
        .await?;
    page.shoot_looks("evidence-misprint").await?;
    page.press_on("button", "Put 1-3-2").await?;
    page.find("gridcell", "STA 48, WL 32: 1-2-3 → 1-3-2")
        .await?;
    page.find("grid", "Offsets as they were read").await?;
    on_cell(&page, "STA 48, WL 32: ").await?;
    page.find("button", "As the source has it")
        .await?
        .click()
        .await?;
    page.find("gridcell", "STA 48, WL 32: 1-2-3, to settle")
        .await?;
    assert_eq!(page.fingerprint().await?, before);

    // By keys to the end of the table, and on a small screen.
    page.find_where("gridcell", "the misprint", |name| {
        name.starts_with("STA 48, WL 32: ")
    })
    .await?
    .click()
    .await?;
    page.chord("\u{E009}", "\u{E010}").await?; // Ctrl+End
    in_sight(&page, "STA 158, keel: ").await?;
    page.find("button", "Lines").await?.click().await?;
    page.press_on("button", "STA 48, WL 32 reads 1-2-3").await?;
    page.show_on(Screen::Phone).await?;
    page.find("button", "Evidence").await?.click().await?;
    in_sight(&page, "STA 48, WL 32: ").await?;
    page.shoot("evidence-misprint-phone").await?;
    Ok(())
}

/// Half a spheroid, 3000 mm long and 800 mm across, its axis a metre up, as a table of points on no line but for its crown and
/// keel; one height misread by 100 mm.
fn spheroid() -> String {
    let mut table = "station,x,line,half-breadth,height,tolerance\n".to_owned();
    for k in 0..12 {
        let x = f64::from(200 * k);
        let radius = 400.0 * (1.0 - x * x / 9e6).sqrt();
        for n in 0..=12 {
            let angle = std::f64::consts::PI * f64::from(n) / 12.0;
            let (sin, cos) = (num::sin(angle), num::cos(angle));
            let (y, z) = (radius * sin, 1000.0 + radius * cos);
            let z = if (k, n) == (5, 3) { z - 100.0 } else { z };
            table += &match n {
                0 => format!("{x},{x},crown,,{z:.1},0.5\n"),
                12 => format!("{x},{x},keel,,{z:.1},0.5\n"),
                _ => format!("{x},{x},point,{y:.1},{z:.1},0.5\n"),
            };
        }
    }
    table
}

/// Points on no line are listed, walked and corrected as those of lines are; the drawing has lines of its own.
pub async fn points_on_no_line(page: Page) -> Result<(), Fault> {
    page.find("heading", "Hallowby Marram").await?;
    page.find("button", "Open").await?.click().await?;
    let box_ = page.find("textbox", "Pasted table").await?;
    box_.click().await?;
    page.script(&format!(
        "const box = document.activeElement;
         box.value = {:?};
         box.dispatchEvent(new Event('input', {{ bubbles: true }}));",
        spheroid()
    ))
    .await?;
    page.find("button", "Look at the table")
        .await?
        .click()
        .await?;
    page.find("button", "Take in").await?.click().await?;
    // No waterline is named: the plan has its own.
    page.shows("BL 200").await?;
    page.drawn().await?;
    page.shoot_looks("lines-unnamed").await?;
    page.find("button", "Evidence").await?.click().await?;
    page.find("heading", "Points on no line 132").await?;

    // The misprint is marked in its value, and put right there.
    let misread = "STA 1000, point 4, height: ";
    let cell = page
        .find_where("gridcell", "the misprint", |name| {
            name.starts_with(misread) && name.ends_with(", to settle")
        })
        .await?;
    cell.click().await?;
    on_cell(&page, misread).await?;
    in_sight(&page, misread).await?;
    page.find("heading", "STA 1000, point 4").await?;
    page.find("region", "To settle here").await?;
    page.shoot_looks("evidence-unnamed").await?;
    page.press(DOWN).await?;
    on_cell(&page, "STA 1000, point 5, height: ").await?;
    page.press("\u{E013}\u{E012}").await?; // up, left
    on_cell(&page, "STA 1000, point 4, half-breadth: 266.7").await?;
    page.press(RIGHT).await?;
    on_cell(&page, misread).await?;
    // 1000 + 400 √(1 − 1/9) cos 45° = 1266.7
    page.press(format!("1266.7{ENTER}")).await?;
    page.find("button", "Take it").await?.click().await?;
    let right = "STA 1000, point 4, height: 1166.7 → 1266.7";
    page.find("gridcell", right).await?;
    let below = "STA 1000, point 5, height: ";
    in_sight(&page, below).await?;
    page.find_where("gridcell", below, |name| name.starts_with(below))
        .await?
        .click()
        .await?;
    page.press("\u{E013}").await?; // up, under the table's head
    on_cell(&page, misread).await?;
    in_sight(&page, misread).await?;
    page.press("\u{E017}").await?; // Delete
    page.find("dialog", "Set a reading aside: STA 1000, point 4")
        .await?;
    page.press(ESC).await?;

    // The same point is ringed on the lines, and the one picked there is in sight here.
    page.find("button", "Lines").await?.click().await?;
    page.shows("Reading, STA 1000").await?;
    page.find("heading", "STA 1000, point 4").await?;
    let other = "STA 2200, point 9, station 2200, ";
    page.find_where("button", other, |name| name.starts_with(other))
        .await?
        .click()
        .await?;
    page.find("button", "Evidence").await?.click().await?;
    in_sight(&page, "STA 2200, point 9, half-breadth: ").await?;

    // A slip of typing is taken out, and typed anew in its place.
    let before = page.fingerprint().await?;
    page.find_where("gridcell", "point 9", |name| {
        name.starts_with("STA 2200, point 9, half-breadth: ")
    })
    .await?
    .click()
    .await?;
    page.press("\u{E017}").await?;
    page.find("button", "Take it out").await?.click().await?;
    page.find("heading", "Points on no line 131").await?;
    page.show_on(Screen::Phone).await?;
    page.shoot("evidence-unnamed-phone").await?;
    page.show_on(Screen::Desk).await?;
    page.chord("\u{E009}", "z").await?;
    page.find("heading", "Points on no line 132").await?;
    assert_eq!(page.fingerprint().await?, before);
    Ok(())
}

/// Types in a box found by its label.
async fn type_in(page: &Page, label: &str, text: &str) -> Result<(), Fault> {
    let field = page.find("textbox", label).await?;
    field.clear().await?;
    field.send_keys(text).await?;
    Ok(())
}

/// What is to be known of a source: counted from another zero, measured inside the skin, taken away again.
pub async fn a_source_is_known(page: Page) -> Result<(), Fault> {
    open(&page).await?;
    let before = page.fingerprint().await?;
    page.find("button", "About it").await?.click().await?;
    page.find("dialog", "Source: Sheet 7: offsets, 1/16 in")
        .await?;
    page.choose("Surface", "inside of the skin").await?;
    type_in(&page, "Thickness of the skin", "nothing").await?;
    page.find("button", "Take it").await?.click().await?;
    page.shows("Thickness of the skin: ").await?;
    type_in(&page, "Thickness of the skin", "1.2 mm").await?;
    page.shoot("evidence-source").await?;
    page.find("button", "Take it").await?.click().await?;
    page.shows("inside a skin of 1.2 mm").await?;
    let inside = page.fingerprint().await?;
    assert_ne!(inside, before);
    // The cell says what the sheet says; the lines run outside of it.
    page.find("heading", "STA 101, keel").await?;
    page.shows("height 1-4-0+ = 408.0 mm ± 1.6 mm, inside the skin; on the lines now")
        .await?;

    page.find("button", "About it").await?.click().await?;
    page.choose("Surface", "outside of the skin").await?;
    type_in(&page, "Heights counted from", "4-0-0").await?;
    page.choose("Heights counted", "down").await?;
    page.find("button", "Take it").await?.click().await?;
    page.shows("own datum").await?;
    // 4 ft less 1-4-0+ is 2-7-7 and a sixteenth: 1219.2 − 407.99 = 811.21 mm.
    page.shows("= 811.2 mm").await?;
    page.find_where("gridcell", "the keel as typed", |name| {
        name == "STA 101, keel: 1-4-0+"
    })
    .await?;
    // What was only mistyped is typed anew as its source counts.
    page.find("gridcell", "STA 101, keel: 1-4-0+")
        .await?
        .click()
        .await?;
    on_cell(&page, "STA 101, keel: ").await?;
    page.press(format!("1-4-2{ENTER}")).await?;
    page.find("gridcell", "STA 101, keel: 1-4-0+ → 1-4-2")
        .await?
        .click()
        .await?;
    page.find("button", "Only mistyped here")
        .await?
        .click()
        .await?;
    page.find("gridcell", "STA 101, keel: 1-4-2").await?;
    page.chord("\u{E009}", "z").await?;
    page.chord("\u{E009}", "z").await?;
    page.chord("\u{E009}", "z").await?;
    page.chord("\u{E009}", "z").await?;
    assert_eq!(page.fingerprint().await?, before);

    // Its stations lie elsewhere: no further than half a bay, then its readings are brought along; what it says stays.
    let kept = |name: &str| name.starts_with("STA 101, keel: 1-4-0+");
    page.find("button", "About it").await?.click().await?;
    type_in(&page, "Stations further aft", "5000 mm").await?;
    page.find("button", "Take it").await?.click().await?;
    page.shows("aft of those of the lines, but readings at STA ")
        .await?;
    type_in(&page, "Stations further aft", "12 mm").await?;
    page.shoot("evidence-source-aft").await?;
    page.press(ENTER).await?;
    page.shows("stations 12.0 mm aft").await?;
    page.find_where("gridcell", "the keel as the sheet has it", kept)
        .await?;
    page.shows(", at its source's own station; on the lines now")
        .await?;
    assert_ne!(page.fingerprint().await?, before);
    page.chord("\u{E009}", "z").await?;
    assert_eq!(page.fingerprint().await?, before);

    // How a reading came about is said in the margin, and shapes no metal.
    page.find_where("gridcell", "the keel as the sheet has it", kept)
        .await?
        .click()
        .await?;
    let how = |name: &str| name.contains("how it was read: ");
    let summary = page
        .find_where("DisclosureTriangle", "how it was read", how)
        .await?;
    assert!(summary.text().await?.ends_with("not said"));
    summary.click().await?;
    type_in(&page, "Page, reading 1", &format!("7{TAB}")).await?;
    page.choose("Side, reading 1", "port").await?;
    type_in(&page, "By whom, reading 1", &format!("R. Hale{TAB}")).await?;
    page.shows("how it was read: page 7, port side, by R. Hale")
        .await?;
    assert_eq!(page.fingerprint().await?, before);
    page.shoot_looks("how-it-was-read").await?;
    for _ in 0..3 {
        page.find("button", "Undo").await?.click().await?;
    }
    page.shows("how it was read: not said").await?;

    type_in(&page, "Title of a new source", "Relic B").await?;
    page.press(ENTER).await?;
    page.find_where("button", "the new source", |name| {
        name.starts_with("Relic B")
    })
    .await?;
    page.find("button", "About it").await?.click().await?;
    page.find("dialog", "Source: Relic B").await?;
    page.find("button", "Take the source away")
        .await?
        .click()
        .await?;
    page.until("the source gone", async || {
        let names = page.names("button").await?;
        Ok((!names.iter().any(|name| name.starts_with("Relic B"))).then_some(()))
    })
    .await
}

/// From an empty sheet to a loft, by typing alone.
pub async fn started_from_nothing(page: Page) -> Result<(), Fault> {
    page.find("button", "Start your own ▸")
        .await?
        .click()
        .await?;
    page.find("dialog", "Start your own").await?;
    page.shoot("start-your-own").await?;
    type_in(&page, "Title of the new lines", "Test barrel").await?;
    page.choose("Unit of the new lines", "mm").await?;
    page.find("button", "Start").await?.click().await?;
    page.find("heading", "No station yet").await?;
    // What opened the dialog has gone with the example.
    held_focus(&page).await?;
    page.shoot("evidence-empty").await?;
    page.find("button", "Lines").await?.click().await?;
    page.find("button", "To the evidence")
        .await?
        .click()
        .await?;
    for (label, x) in [("0", "0"), ("1", "500"), ("2", "1000")] {
        type_in(&page, "Label of a new station", label).await?;
        type_in(&page, "Place of a new station", &format!("{x}{ENTER}")).await?;
        let heading = format!("STA {label}, keel");
        page.find("heading", &heading).await?;
    }
    type_in(&page, "Place of the plane", &format!("600{ENTER}")).await?;
    type_in(&page, "Name of a run line", &format!("joint{ENTER}")).await?;
    page.find("columnheader", "Joint").await?;

    // A column of each, by keys: Enter goes down.
    let first = "STA 0, crown: no reading";
    page.find("gridcell", first).await?.click().await?;
    on_cell(&page, first).await?;
    page.press(format!("1000{ENTER}1000{ENTER}1000{ENTER}"))
        .await?;
    page.chord("\u{E009}", "\u{E011}").await?; // Ctrl+Home
    on_cell(&page, "STA 0, crown: 1000").await?;
    page.press(RIGHT).await?;
    on_cell(&page, "STA 0, WL 600: ").await?;
    page.press(format!("400{ENTER}?{ENTER}400{ENTER}")).await?;
    page.find("gridcell", "STA 1, WL 600: torn, drawn from its neighbours")
        .await?;
    page.chord("\u{E009}", "\u{E011}").await?;
    page.press(RIGHT).await?;
    page.press(RIGHT).await?;
    on_cell(&page, "STA 0, joint: ").await?;
    page.press(format!("380/500{ENTER}380/{ENTER}/500{ENTER}"))
        .await?;
    page.find("gridcell", "STA 1, joint: 380/").await?;
    page.find("gridcell", "STA 2, joint: /500").await?;
    page.chord("\u{E009}", "\u{E010}").await?; // Ctrl+End
    on_cell(&page, "STA 2, keel: no reading").await?;
    page.press("\u{E013}").await?;
    page.press("\u{E013}").await?;
    on_cell(&page, "STA 0, keel: no reading").await?;
    page.press(format!("200{ENTER}200{ENTER}200{ENTER}"))
        .await?;
    page.find("gridcell", "STA 2, keel: 200").await?;

    // What never stood on the sheet is taken out; what is torn no longer, too.
    page.find("gridcell", "STA 2, joint: /500")
        .await?
        .click()
        .await?;
    on_cell(&page, "STA 2, joint: ").await?;
    page.press("\u{E017}").await?; // Delete
    page.find("dialog", "Set a reading aside: STA 2, joint")
        .await?;
    page.find("button", "Take it out").await?.click().await?;
    page.find("gridcell", "STA 2, joint: no reading").await?;
    page.find("gridcell", "STA 1, WL 600: torn, drawn from its neighbours")
        .await?
        .click()
        .await?;
    on_cell(&page, "STA 1, WL 600: ").await?;
    page.press("\u{E017}").await?;
    page.find("gridcell", "STA 1, WL 600: no reading").await?;

    page.find("button", "Lines").await?.click().await?;
    page.find("button", "Lines drawn").await?;
    page.shoot("lines-from-nothing").await?;
    page.until("a loft", async || {
        let said = page.names("alert").await?;
        Ok(said
            .iter()
            .all(|said| !said.contains("bounds"))
            .then_some(()))
    })
    .await
}
