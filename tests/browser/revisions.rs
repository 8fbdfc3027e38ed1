//! Revisions: frozen, listed, looked at, held against each other, taken up again, kept and saved.

use geometry::compare::compare;
use geometry::document::{BodyEdit, Moved, On, read_folder};
use geometry::loft::Loft;

use crate::browser::Fault;
use crate::browser::page::Page;
use crate::demo;
use crate::incoming::{choose_file, of_tests};
use crate::settle::all_is_found;

/// What the header calls the lines.
async fn called(page: &Page, name: &str) -> Result<(), Fault> {
    page.find("button", &format!("Revisions; these lines are {name}"))
        .await
        .map(|_found| ())
}

async fn open_list(page: &Page) -> Result<(), Fault> {
    page.find_where("button", "the revision", |name| {
        name.starts_with("Revisions; ")
    })
    .await?
    .click()
    .await?;
    page.find("dialog", "Revisions").await.map(|_found| ())
}

async fn close(page: &Page) -> Result<(), Fault> {
    Ok(page.find("button", "Close").await?.click().await?)
}

/// Freezes what stands under the next label.
pub async fn freeze(page: &Page, reason: &str) -> Result<(), Fault> {
    open_list(page).await?;
    let why = page.find("textbox", "Why it is frozen").await?;
    why.send_keys(reason).await?;
    page.find("button", "Freeze").await?.click().await?;
    page.shows(reason).await?;
    close(page).await
}

/// Holds what stands against a revision.
pub async fn compare_with(page: &Page, label: &str) -> Result<(), Fault> {
    open_list(page).await?;
    page.find("button", &format!("Compare with now: {label}"))
        .await?
        .click()
        .await?;
    page.find("dialog", "Compare").await.map(|_found| ())
}

/// Frozen with a reason only; the lines go on; how far is the crate's own figure; and back to what was frozen.
pub async fn frozen_and_compared(page: Page) -> Result<(), Fault> {
    let print = demo()?.fingerprint().short();
    called(&page, &format!("A · {print}")).await?;
    page.find("heading", "To settle 3").await?;
    all_is_found(&page).await?;
    open_list(&page).await?;
    page.find("button", "Freeze").await?.click().await?;
    page.shows("Say why it is frozen").await?;
    let why = page.find("textbox", "Why it is frozen").await?;
    why.send_keys("as read from sheet 7").await?;
    page.find("button", "Freeze").await?.click().await?;
    page.shows("as read from sheet 7").await?;
    page.find("button", "Look at it: B").await?;
    page.shoot("revisions-list").await?;
    close(&page).await?;
    called(&page, &format!("B · {print}")).await?;
    // Were the program to break now, its bar would save the revision too.
    page.script("document.querySelector('.worst button').click()")
        .await?;
    let saved = read_folder(&page.downloaded("Hallowby-Marram.json").await?)?;
    let labels: Vec<_> = saved.revisions.iter().map(|r| r.label.as_str()).collect();
    assert_eq!(labels, ["A", "B"]);
    // What was open then is kept with the reason.
    let reason = &saved.revisions[1].reason;
    let told = "as read from sheet 7. When it was frozen: 3 to settle: ";
    assert!(reason.starts_with(told), "{reason}");
    for open in ["STA 48, WL 32 reads 1-2-3; ", ". 3 torn cells."] {
        assert!(reason.contains(open), "{reason}");
    }
    assert!(!reason.contains("not all looked for"), "{reason}");

    // 12 mm lower at the keel, past its tolerance.
    let mut lines = demo()?;
    let station = lines.body.station_by_label("101").ok_or("the station")?.id;
    let keel = lines.body.point_on(station, On::Keel).ok_or("the keel")?;
    let (id, was) = (keel.id, keel.merged().height.ok_or("its height")?);
    let old = Loft::build(&lines.body)?;
    let field = page.find("textbox", "Value").await?;
    field.clear().await?;
    field
        .send_keys(format!("{:.2} mm\u{E007}", was - 12.0))
        .await?;
    page.find_where("button", "the lines after B", |name| {
        name.starts_with("Revisions; these lines are after B · ")
    })
    .await?;
    open_list(&page).await?;
    page.shows("Past their tolerance: STA 101, keel by 10.4 mm")
        .await?;
    close(&page).await?;
    compare_with(&page, "B").await?;
    let moved = BodyEdit::Move(Moved {
        point: id,
        half_breadth: None,
        height: Some(((was - 12.0) * 100.0).round() / 100.0),
    });
    lines = lines.apply(&moved)?;
    let new = Loft::build(&lines.body)?;
    let found = compare(&old, &new);
    let largest = found.largest.ok_or("a largest move")?;
    assert!(largest.by > 5.0, "{largest:?}");
    page.shows(&format!(
        "Largest move {:.1} mm outward, near STA 101",
        largest.by
    ))
    .await?;
    page.shoot_looks("compare").await?;
    page.find("button", "Draw the first beside, dashed")
        .await?
        .click()
        .await?;
    page.shows("Dashed: revision B.").await?;
    page.shoot("compare-beside").await?;
    page.find("button", "Draw it no longer")
        .await?
        .click()
        .await?;

    // A look at what was frozen, and back to it.
    open_list(&page).await?;
    page.find("button", "Look at it: B").await?.click().await?;
    page.find("region", "Frozen revision").await?;
    called(&page, &format!("B · {print}")).await?;
    page.find("button", "Take it up again")
        .await?
        .click()
        .await?;
    called(&page, &format!("B · {print}")).await?;
    page.shows("Took up revision B again").await?;

    // It is in the file, under its fingerprint, and kept on the device.
    page.find("button", "Save").await?.click().await?;
    let bytes = page.downloaded("Hallowby-Marram.json").await?;
    let folder = read_folder(&bytes)?;
    assert_eq!(folder.revisions.len(), 2);
    assert_eq!(&folder.revisions[1].reason, reason);
    assert_eq!(folder.lines.as_frozen(&folder.revisions), Some(true));

    // Lines of before stand by the method they were lofted with, until a person takes the newer one.
    choose_file(&page, &of_tests("schema_3.json")).await?;
    page.find("heading", "Marram test piece").await?;
    let old = page.fingerprint().await?;
    open_list(&page).await?;
    page.shows("lofted by method 1").await?;
    page.shoot("revisions-method").await?;
    page.find("button", "Loft by method 2")
        .await?
        .click()
        .await?;
    page.shows("Done: loft by method 2.").await?;
    assert_ne!(page.fingerprint().await?, old);
    open_list(&page).await?;
    let buttons = page.names("button").await?;
    assert!(!buttons.iter().any(|name| name.starts_with("Loft by")));
    close(&page).await?;
    page.find("button", "Undo").await?.click().await?;
    assert_eq!(page.fingerprint().await?, old);
    Ok(())
}
