//! What is to be settled: verdicts on the lines, the list in the margin, and what settles it.

use crate::browser::Fault;
use crate::browser::page::{Page, Screen, Theme};

/// The demo's list; a hollow is set aside with a reason, the verdict changes, and one step back brings it again.
pub async fn what_is_to_settle(page: Page) -> Result<(), Fault> {
    page.find("heading", "Hallowby Marram").await?;
    page.find("heading", "To settle 3").await?;
    page.shows("Unfair").await?;
    page.shows("allowed 1.6 mm; STA 89–111").await?;
    page.shows("Torn, carried 3.").await?;
    for (theme, look) in [(Theme::Light, "light"), (Theme::Dark, "dark")] {
        page.prefer(theme).await?;
        for (screen, size) in [(Screen::Phone, "phone"), (Screen::Desk, "desk")] {
            page.show_on(screen).await?;
            page.drawn().await?;
            page.shoot(&format!("settle-{size}-{look}")).await?;
        }
    }
    // A row leads to its point.
    page.find("button", "Hollow, STA 39–58")
        .await?
        .click()
        .await?;
    page.shows("needs 6.7, allowed 1.6 mm; STA 39–58").await?;
    page.find("button", "Hollow, STA 89–111")
        .await?
        .click()
        .await?;
    page.shows("needs 3.0, allowed 1.6 mm").await?;

    let before = page.fingerprint().await?;
    let aside = "return [...document.querySelectorAll('.settle li')].find((li) => li.textContent.startsWith('Hollow, STA 89')).querySelector('.row button').click()";
    page.script(aside).await?;
    page.find("dialog", "Set 4 readings aside").await?;
    let why = page
        .find("textbox", "Why (it is kept with the reading)")
        .await?;
    why.send_keys("a dent in the sheet, not in the aircraft\u{E007}")
        .await?;
    page.until("a kinder verdict", async || {
        let rows = page.names("button").await?;
        Ok((!rows.iter().any(|name| name.starts_with("Hollow, STA 89"))).then_some(()))
    })
    .await?;
    assert_ne!(page.fingerprint().await?, before);
    page.find("button", "Undo").await?.click().await?;
    page.find("heading", "To settle 3").await?;
    assert_eq!(page.fingerprint().await?, before);

    // More turns may be allowed than the line's cubic has.
    page.choose("Turns allowed", "2 peaks").await?;
    page.shows("needs 1.5, allowed 1.6 mm").await?;
    Ok(())
}
