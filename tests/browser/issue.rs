//! The Issue screen: sheets chosen, looked at in true size, a printer gauged, the file made, stopped and made again.

use std::sync::Arc;

use geometry::document::{Folder, read_folder};
use geometry::issue::sheets::{Pack, PackOptions, SheetKind};
use geometry::issue::{OutlineForm, Output, PartForm, issue_sheets, make};
use geometry::loft::Lofted;
use geometry::write::file_name;
use thirtyfour::WebElement;

use crate::browser::page::{Page, Screen};
use crate::browser::{Fault, say};
use crate::demo;
use crate::everyone::{back_to, tab_to};

const ENTER: &str = "\u{E007}";
const SPACE: &str = " ";
const FILE: &str = "Hallowby-Marram-sheets.pdf";

/// Goes to the screen and waits for its first sheet.
async fn open(page: &Page) -> Result<WebElement, Fault> {
    page.find("heading", "Hallowby Marram").await?;
    page.find("button", "Issue").await?.click().await?;
    sheet(page, "T-").await
}

/// The sheet that is looked at, once it is drawn.
async fn sheet(page: &Page, called: &str) -> Result<WebElement, Fault> {
    let what = format!("of {called}");
    let found = page.find_where("application", &what, |name| name.starts_with(called));
    let found = found.await?;
    page.until("the sheet", async || {
        let drawn = "return document.querySelector('.drawn-sheet g')?.childElementCount > 0 && !document.querySelector('.drawn-sheet').hasAttribute('data-stale')";
        Ok((page.script(drawn).await? == true).then_some(()))
    })
    .await?;
    Ok(found)
}

/// Pixels of the window to a millimetre of the sheet, and where its upper left corner lies, mm.
async fn seen(page: &Page) -> Result<[f64; 3], Fault> {
    page.drawn().await?;
    let script = "const s = document.querySelector('.drawn-sheet'); const b = s.viewBox.baseVal; return [s.clientWidth / b.width, b.x, b.y]";
    Ok(serde_json::from_value(page.script(script).await?)?)
}

fn near(a: f64, b: f64, by: f64) {
    assert!((a - b).abs() <= by, "{a} and {b}");
}

async fn type_in(page: &Page, name: &str, text: &str) -> Result<(), Fault> {
    page.find("textbox", name).await?.click().await?;
    page.chord("\u{E009}", "a").await?;
    page.press(format!("{text}{ENTER}")).await
}

/// Unfolds or folds what measures the screen.
async fn measure(page: &Page) -> Result<(), Fault> {
    let fits = |name: &str| name.starts_with("Measure this screen");
    let found = page.find_where("DisclosureTriangle", "for the screen", fits);
    Ok(found.await?.click().await?)
}

/// What the page saves.
async fn saved(page: &Page) -> Result<Folder, Fault> {
    page.find("button", "Save").await?.click().await?;
    let bytes = page.downloaded("Hallowby-Marram.json").await?;
    Ok(read_folder(&bytes)?)
}

/// The file of sheets as it is made natively of what the page holds, and how many sheets of how many are in it.
fn natively(
    folder: &Folder,
    gauge: Option<[f64; 2]>,
) -> Result<(Vec<u8>, [usize; 2], usize), Fault> {
    let revision = folder.lines.frozen_in(&folder.revisions);
    let lofted = Lofted::build(Arc::new(folder.lines.clone()))?.frozen_as(revision);
    let made = issue_sheets(&lofted, gauge, &|_| ())?;
    let all = made.parts.iter().map(|part| part.pages).sum();
    let issued = made.parts.iter().filter(|part| part.is_issued());
    let (count, pages) = (issued.clone().count(), issued.map(|part| part.pages).sum());
    Ok((made.pdf, [pages, all], count))
}

/// Chosen, looked at, gauged and issued, with the pointer; the file is what is made natively, and the issue is written down.
pub async fn chosen_and_issued(page: Page) -> Result<(), Fault> {
    let drawn = open(&page).await?;
    page.shoot_looks("issue").await?;
    sheet(&page, "T-").await?;
    let lofted = Lofted::build(Arc::new(demo()?))?;
    let pack = Pack::of(&lofted, PackOptions::default());
    let boards = { pack.contents().parts.iter() }.filter(|part| part.kind == SheetKind::Template);
    let boards: Vec<String> = boards.map(|part| part.code.clone()).collect();
    let [first, second, ..] = &boards[..] else {
        return Err("two boards".into());
    };
    page.find("checkbox", &format!("Issue {first}"))
        .await?
        .click()
        .await?;
    let folder = saved(&page).await?;
    assert!(folder.lines.shop.sheets.left_out.contains(first));
    let (_, [chosen, all], _) = natively(&folder, None)?;
    assert!(chosen < all);
    page.shows(&format!("{chosen} of {all} sheets")).await?;
    page.find_where("button", "of the second part", |name| {
        name.starts_with(second.as_str())
    })
    .await?
    .click()
    .await?;
    sheet(&page, second).await?;

    // At true size a millimetre is as many pixels as the screen is supposed to have, then as many as were measured.
    page.find("button", "True size").await?.click().await?;
    near(seen(&page).await?[0], 96.0 / 25.4, 1e-3);
    measure(&page).await?;
    type_in(&page, "What the line measures, mm", "96").await?;
    page.shows("1 : 1 on this screen, by the rule you measured")
        .await?;
    let measured = 96.0 / 25.4 * 100.0 / 96.0;
    near(seen(&page).await?[0], measured, 1e-3);
    measure(&page).await?;
    let [_, left, top] = seen(&page).await?;
    page.drag(&drawn, 60, 30).await?;
    let [_, moved_left, moved_top] = seen(&page).await?;
    near(left - moved_left, 60.0 / measured, 0.3);
    near(top - moved_top, 30.0 / measured, 0.3);
    page.find("button", "Lay a ruler").await?.click().await?;
    page.press_beside(&drawn, -100, 0).await?;
    page.press_beside(&drawn, 100, 0).await?;
    let across = 200.0 / measured;
    let says = page.until("what the ruler says", async || {
        let text = page
            .script("return document.querySelector('.sheet-keys .reading').innerText")
            .await?;
        let text = text.as_str().unwrap_or_default().to_owned();
        Ok(text.contains(" across, ").then_some(text))
    });
    let says = says.await?;
    let told: f64 = says.split(' ').next().ok_or("a figure")?.parse()?;
    near(told, across, 0.06);
    page.shoot("issue-ruler").await?;

    // A printer 0.6 % short across.
    page.find("textbox", "Name of a printer")
        .await?
        .send_keys("Office printer")
        .await?;
    page.find("button", "Gauge it").await?.click().await?;
    type_in(&page, "Rule across, measured", "88").await?;
    page.shows("88 mm is too far from 100").await?;
    type_in(&page, "Rule up, measured", "100,0").await?;
    page.shows("Not gauged yet").await?;
    type_in(&page, "Rule across, measured", "99.4").await?;
    page.shows("1.0060").await?;
    page.shows("Sheets are corrected by this").await?;
    type_in(&page, "Rule across, measured again", "100.3").await?;
    type_in(&page, "Rule up, measured again", "100").await?;
    page.shows("it is off by 0.30 of 0.2 %").await?;
    type_in(&page, "Rule across, measured again", "100.1").await?;
    page.shows("0.10 of 0.2 %").await?;
    page.shoot("issue-gauged").await?;
    sheet(&page, second).await?;
    let says = page
        .script("return document.querySelector('.drawn-sheet').textContent")
        .await?;
    assert!(
        says.as_str()
            .is_some_and(|text| text.contains("Printed × 1.0060 across"))
    );

    let clock = "return performance.now()";
    let from = page.script(clock).await?.as_f64().unwrap_or_default();
    page.find("button", "Issue the sheets, PDF")
        .await?
        .click()
        .await?;
    let bytes = page.downloaded(FILE).await?;
    let took = page.script(clock).await?.as_f64().unwrap_or_default() - from;
    let gauge = Some([100.0 / 99.4, 1.0]);
    let (native, _, parts) = natively(&folder, gauge)?;
    assert_eq!(bytes.len(), native.len());
    assert!(bytes == native, "the page's sheets are those made natively");
    say(&format!(
        "  {FILE}: {} bytes, {chosen} sheets, as natively, in {took:.0} ms",
        bytes.len()
    ));
    page.shows(&format!(", {parts} parts.")).await?;
    let issued = saved(&page).await?.revisions[0].issued.clone();
    assert_eq!((issued.len(), issued[0].sheets.len()), (1, parts));
    assert!(!issued[0].sheets.contains(first));
    page.kept().await?;
    page.load_again().await?;
    open(&page).await?;
    page.shows(&format!(", {parts} parts.")).await?;
    page.shows("✓ True").await?;

    told_since(&page, &folder, (&boards, gauge)).await
}

/// What went out is told beside each part; the one that is looked at is saved alone; what changed is ticked alone.
async fn told_since(
    page: &Page,
    folder: &Folder,
    (boards, gauge): (&[String], Option<[f64; 2]>),
) -> Result<(), Fault> {
    let first = boards.first().ok_or("a board")?;
    let label = &folder.revisions[0].label;
    page.shows(&format!("as in {label}")).await?;
    page.shows(&format!("not in {label}")).await?;
    page.find("button", "This part alone as DXF")
        .await?
        .click()
        .await?;
    let title = &folder.lines.about.title;
    let name = file_name(&format!("{title} {first}"), "dxf", "part");
    let bytes = page.downloaded(&name).await?;
    let revision = folder.lines.frozen_in(&folder.revisions);
    let lofted = Lofted::build(Arc::new(folder.lines.clone()))?.frozen_as(revision);
    let parts = issue_sheets(&lofted, gauge, &|_| ())?.parts;
    let part = parts.iter().position(|part| part.code == *first);
    let output = Output::Part {
        part: part.ok_or("a template")?,
        form: PartForm::Outline(OutlineForm::DxfSplines),
        gauge,
    };
    assert!(bytes == make(&lofted, output, &|_| ())?, "{name}");
    type_in(page, "width of a board behind its edge", "90 mm").await?;
    page.shows(&format!("otherwise than in {label}")).await?;
    page.find("button", &format!("Tick only what changed since {label}"))
        .await?
        .click()
        .await?;
    let tables = "return document.querySelectorAll('.part input:checked').length";
    page.until("only boards ticked", async || {
        let ticked = page.script(tables).await?;
        Ok((ticked == boards.len()).then_some(()))
    })
    .await?;
    Ok(())
}

/// Stopped, nothing of it is handed over or written down; issued again it is whole.
pub async fn stopped_and_issued_again(page: Page) -> Result<(), Fault> {
    open(&page).await?;
    type_in(&page, "error between boards", "0.01 mm").await?;
    page.choose("half of the body", "both").await?;
    let folder = saved(&page).await?;
    let (native, [chosen, all], _) = natively(&folder, None)?;
    page.shows(&format!("{chosen} of {all} sheets")).await?;
    page.find("button", "Issue the sheets, PDF")
        .await?
        .click()
        .await?;
    let stop = page.find("button", "Stop").await?;
    page.shows("Sheet ").await?;
    page.shoot("issue-made").await?;
    stop.click().await?;
    page.shows("Stopped: no sheet was kept").await?;
    page.shows("Not issued yet").await?;
    page.find("button", "Issue the sheets, PDF")
        .await?
        .click()
        .await?;
    let bytes = page.downloaded(FILE).await?;
    assert!(bytes == native, "begun again, it is the same to the byte");
    say(&format!(
        "  {chosen} sheets, stopped and made again: {} bytes",
        bytes.len()
    ));
    Ok(())
}

/// All of it by keys alone: a part left out, the sheet moved, enlarged and measured, a board of one's own, issued.
pub async fn issued_by_keys(page: Page) -> Result<(), Fault> {
    page.find("heading", "Hallowby Marram")
        .await?
        .click()
        .await?;
    tab_to(&page, "Issue").await?;
    page.press(ENTER).await?;
    sheet(&page, "T-").await?;
    tab_to(&page, "T-").await?;
    let whole = seen(&page).await?;
    page.press("+").await?;
    let larger = seen(&page).await?;
    near(larger[0] / whole[0], 1.25, 1e-5);
    page.press("\u{E014}").await?;
    let moved = seen(&page).await?;
    near(moved[1] - larger[1], 40.0 / larger[0], 0.01);
    tab_to(&page, "Lay a ruler").await?;
    page.press(ENTER).await?;
    page.press(ENTER).await?;
    for _ in 0..3 {
        page.chord("\u{E008}", "\u{E014}").await?;
    }
    page.press("\u{E015}").await?;
    page.press(ENTER).await?;
    // 30 across and 1 down.
    page.shows("30.0 mm: 30.0 across, 1.0 down.").await?;
    // The list is one stop; arrows go from part to part.
    let codes = page
        .script("return [...document.querySelectorAll('.part b')].map((e) => e.textContent)")
        .await?;
    let codes = codes.as_array().ok_or("codes")?.iter();
    let mut boards = codes
        .filter_map(|code| code.as_str())
        .filter(|code| code.starts_with("T-"));
    let first = boards.next().ok_or("a first board")?;
    let second = boards.next().ok_or("a second board")?.to_owned();
    tab_to(&page, &format!("Issue {first}")).await?;
    page.press("\u{E015}").await?;
    sheet(&page, &second).await?;
    assert_eq!(page.focused().await?, format!("Issue {second}"));
    let kinds = ["Station templates", "Tables", "Issue Lines plan"];
    for kind in kinds {
        back_to(&page, kind).await?;
        page.press(SPACE).await?;
    }
    page.shows("No sheet is ticked").await?;
    page.press(SPACE).await?;
    page.shows_no_longer("No sheet is ticked").await?;
    tab_to(&page, "Station templates").await?;
    page.press(SPACE).await?;
    tab_to(&page, "Add a board, a rod or a tape").await?;
    page.press(ENTER).await?;
    tab_to(&page, "What is added").await?;
    page.press("square").await?;
    tab_to(&page, "Station where it stands").await?;
    page.press(format!("90{ENTER}")).await?;
    page.shows("Square to keel at STA 90").await?;
    page.shows("Boards of your own").await?;
    back_to(&page, "Issue the sheets, PDF").await?;
    page.until("the sheets laid out", async || {
        let off = "return document.activeElement.hasAttribute('aria-disabled')";
        Ok((page.script(off).await? == false).then_some(()))
    })
    .await?;
    page.press(ENTER).await?;
    page.downloaded(FILE).await?;
    Ok(())
}

/// On a telephone: in one column, keys for a thumb, nothing wider than the screen.
pub async fn issued_on_a_phone(page: Page) -> Result<(), Fault> {
    page.show_on(Screen::Phone).await?;
    open(&page).await?;
    let wide =
        "return document.documentElement.scrollWidth <= document.documentElement.clientWidth";
    assert_eq!(page.script(wide).await?, true);
    let small = "return [...document.querySelectorAll('.issue button, .issue select, .issue summary, .issue .part')].filter((e) => e.checkVisibility() && e.getBoundingClientRect().height < 43.5).map((e) => e.textContent)";
    assert_eq!(page.script(small).await?, serde_json::json!([]));
    let drawn = page
        .find_where("application", "the sheet", |name| name.starts_with("T-"))
        .await?;
    page.find("button", "True size").await?.click().await?;
    let [_, left, _] = seen(&page).await?;
    page.touch(&drawn, &[(-20, 0), (-20, 0)]).await?;
    let [scale, moved, _] = seen(&page).await?;
    near(moved - left, 40.0 / scale, 0.5);
    page.find("button", "Issue the sheets, PDF")
        .await?
        .click()
        .await?;
    page.downloaded(FILE).await?;
    Ok(())
}
