//! What is to be settled: verdicts on the lines, the list in the margin, and what settles it; lines that are proposed.

use crate::browser::Fault;
use crate::browser::page::{Page, Screen, Theme};
use crate::everyone::tab_to;
use crate::revisions;

/// The demo's list: the misprint is put right and back, the hollow set aside with a reason, and the whole surface faired.
pub async fn what_is_to_settle(page: Page) -> Result<(), Fault> {
    page.find("heading", "Hallowby Marram").await?;
    page.find("heading", "To settle 3").await?;
    page.shows("STA 48, WL 32 reads 1-2-3").await?;
    page.shows("Neighbours want about 1-3-2: inches and eighths exchanged?")
        .await?;
    page.shows("Torn, carried 3.").await?;
    page.shows("needs 3.0, allowed 1.6 mm; STA 90–112").await?;
    for (theme, look) in [(Theme::Light, "light"), (Theme::Dark, "dark")] {
        page.prefer(theme).await?;
        for (screen, size) in [(Screen::Phone, "phone"), (Screen::Desk, "desk")] {
            page.show_on(screen).await?;
            page.drawn().await?;
            page.shoot(&format!("settle-{size}-{look}")).await?;
        }
    }
    let first = page.fingerprint().await?;
    page.find("button", "STA 48, WL 32 reads 1-2-3")
        .await?
        .click()
        .await?;
    page.shows("needs 6.7, allowed 1.6 mm; STA 38–58").await?;
    page.find("button", "Put 1-3-2").await?.click().await?;
    page.find("heading", "To settle 2").await?;
    page.shows("Fair within readings").await?;
    // Undo stands beside what is said.
    page.shows("Done: STA 48, WL 32 put right.").await?;
    page.find("button", "Undo it").await?.click().await?;
    page.find("heading", "To settle 3").await?;
    assert_eq!(page.fingerprint().await?, first);
    // Kept as true, the reading is in doubt no longer; that its line is not fair stands.
    page.find("button", "Keep, it is true")
        .await?
        .click()
        .await?;
    page.shows("WL 32: readings must move 6.7 mm").await?;
    page.shows("Kept as true.").await?;
    assert_eq!(page.fingerprint().await?, first, "it shapes no metal");
    page.find("button", "Undo").await?.click().await?;
    page.find("button", "Put 1-3-2").await?.click().await?;
    page.find("heading", "To settle 2").await?;

    page.find("button", "Hollow, STA 90–112")
        .await?
        .click()
        .await?;
    page.shows("1.9 times their tolerance").await?;
    page.find_where("button", "to set the hollow aside", |name| {
        name.starts_with("Set the ")
    })
    .await?
    .click()
    .await?;
    let why = page
        .find("textbox", "Why (it is kept with the reading)")
        .await?;
    why.send_keys("a dent in the sheet, not in the aircraft\u{E007}")
        .await?;
    page.find("heading", "To settle 1").await?;
    page.shows("Fair within readings").await?;

    page.find("button", "Fair the whole surface")
        .await?
        .click()
        .await?;
    page.find("heading", "The whole surface, faired").await?;
    page.shoot("faired-whole").await?;
    page.find("button", "Take it").await?.click().await?;
    page.shows("✓ Fair").await?;
    page.find("button", "Undo").await?.click().await?;
    Ok(())
}

/// By keys alone: the first row of the list, the misprint put right, and put back.
pub async fn settled_by_keys(page: Page) -> Result<(), Fault> {
    const ENTER: &str = "\u{E007}";
    page.find("heading", "To settle 3").await?;
    let first = page.fingerprint().await?;
    // The first thing that Tab comes to.
    tab_to(&page, "To settle: 3").await?;
    page.press(ENTER).await?;
    tab_to(&page, "STA 48, WL 32 reads 1-2-3").await?;
    page.press(ENTER).await?;
    page.shows("✕ Unfair").await?;
    tab_to(&page, "Put 1-3-2").await?;
    page.press(ENTER).await?;
    page.shows("Done: STA 48, WL 32 put right.").await?;
    page.find("heading", "To settle 2").await?;
    page.shows("≈ Fair within readings").await?;
    assert_ne!(page.fingerprint().await?, first);
    // On from the list's head to the hollow, and what is proposed against it.
    tab_to(&page, "Try a batten").await?;
    page.press(ENTER).await?;
    page.find("heading", "A batten along keel").await?;
    tab_to(&page, "Leave it").await?;
    page.press(ENTER).await?;
    page.chord("\u{E009}", "z").await?;
    page.find("heading", "To settle 3").await?;
    assert_eq!(page.fingerprint().await?, first);
    page.shows("reads 1-2-3").await
}

/// A batten along the keel: what lies past its tolerance is taken only with a tick and a reason, which the evidence keeps.
pub async fn a_batten_is_tried(page: Page) -> Result<(), Fault> {
    page.find("heading", "Hallowby Marram").await?;
    page.shows("needs 3.0, allowed 1.6 mm; STA 90–112").await?;
    // More turns may be allowed than the line's cubic has.
    page.choose("Turns allowed", "2 peaks").await?;
    page.shows("needs 1.5, allowed 1.6 mm").await?;
    page.choose("Turns allowed", "as usual").await?;
    page.shows("needs 3.0, allowed 1.6 mm").await?;
    revisions::freeze(&page, "as read").await?;

    let first = page.fingerprint().await?;
    page.find_where("button", "a batten for the picked line", |name| {
        name == "Try a batten"
    })
    .await?
    .click()
    .await?;
    page.find("heading", "A batten along keel").await?;
    page.shows("lie past their tolerance").await?;
    for (theme, look) in [(Theme::Light, "light"), (Theme::Dark, "dark")] {
        page.prefer(theme).await?;
        page.drawn().await?;
        page.shoot(&format!("batten-desk-{look}")).await?;
    }
    page.show_on(Screen::Phone).await?;
    page.drawn().await?;
    page.shoot("batten-phone").await?;
    page.show_on(Screen::Desk).await?;
    // Over some stations only; over too few nothing can be gained, which is said while the last one stands.
    page.choose("The line may move from", "STA 38").await?;
    page.until("no move at the fore end", async || {
        let moves = page.names("checkbox").await?;
        let fore = moves.iter().any(|name| name == "Take STA 0, keel");
        Ok((!fore && moves.len() > 4).then_some(()))
    })
    .await?;
    page.choose("The line may move to", "STA 48").await?;
    page.shows("With so much of it held the line can't be made fairer")
        .await?;
    page.choose("The line may move to", "its aft end").await?;
    page.until("the batten is laid", async || {
        let busy = page.is_off("checkbox", "hold its aft end").await?;
        Ok((!busy).then_some(()))
    })
    .await?;
    page.find("checkbox", "hold its aft end")
        .await?
        .click()
        .await?;
    page.until("the aft end is held", async || {
        let moves = page.names("checkbox").await?;
        Ok((!moves.iter().any(|name| name == "Take STA 158, keel")).then_some(()))
    })
    .await?;
    page.find("button", "Leave it").await?.click().await?;
    assert_eq!(page.fingerprint().await?, first);

    page.find_where("button", "a batten for the picked line", |name| {
        name == "Try a batten"
    })
    .await?
    .click()
    .await?;
    // A reading may be allowed more, for a reason; the batten is then laid anew.
    page.find("button", "Change tolerance of STA 101, keel")
        .await?
        .click()
        .await?;
    page.find("dialog", "Tolerance: STA 101, keel").await?;
    page.find("textbox", "Why (it is kept with the reading)")
        .await?
        .send_keys("a scrap says so\u{E007}")
        .await?;
    page.shows("within ±3.").await?;
    page.find("button", "Undo").await?.click().await?;
    assert_eq!(page.fingerprint().await?, first);
    page.find_where("button", "a batten for the picked line", |name| {
        name == "Try a batten"
    })
    .await?
    .click()
    .await?;
    page.find("checkbox", "Take STA 101, keel")
        .await?
        .click()
        .await?;
    assert!(page.is_off("button", "Take it").await?, "a reason is asked");
    page.find("textbox", "Why those past their tolerance are overruled")
        .await?
        .send_keys("the sheet is torn and taped there")
        .await?;
    page.find("button", "Take it").await?.click().await?;
    page.until("the lines moved", async || {
        Ok((page.fingerprint().await? != first).then_some(()))
    })
    .await?;
    page.shows("overruled, z −3.2 mm, past ±1.6: the sheet is torn and taped there")
        .await?;
    // Held against what was read, it says why.
    revisions::compare_with(&page, "B").await?;
    page.shows("Taken: A batten along keel").await?;
    page.shows("Why: the sheet is torn and taped there").await?;
    page.shoot("compare-taken").await?;
    page.find("button", "Close").await?.click().await?;
    page.find("button", "Undo").await?.click().await?;
    page.until("one step back", async || {
        Ok((page.fingerprint().await? == first).then_some(()))
    })
    .await
}
