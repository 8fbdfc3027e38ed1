//! What a person finds again: work that was open before other work took its place.

use crate::browser::Fault;
use crate::browser::page::Page;
use crate::keeping::{edit, opens_on};

/// The names of the buttons that bring earlier work back.
async fn listed(page: &Page) -> Result<Vec<String>, Fault> {
    page.find("button", "Open").await?.click().await?;
    let back = |name: &str| name.starts_with("Bring it back: ");
    page.find_where("button", "that brings work back", back)
        .await?;
    let mut names = page.names("button").await?;
    names.retain(|name| back(name));
    Ok(names)
}

/// Starts lines with nothing in them.
async fn start(page: &Page, title: &str) -> Result<(), Fault> {
    page.find("button", "Open").await?.click().await?;
    let field = page.find("textbox", "Title of the new lines").await?;
    field.send_keys(title).await?;
    page.find("button", "Start").await?.click().await?;
    page.find("heading", title).await?;
    page.kept().await
}

/// What was open before is there after the page was loaded again, the last three of it, and not the untouched example.
pub async fn brought_back(page: Page) -> Result<(), Fault> {
    page.find("heading", "Hallowby Marram").await?;
    start(&page, "First").await?;
    page.find("button", "Undo").await?.click().await?;
    page.find("heading", "Hallowby Marram").await?;
    page.find("button", "Lines").await?.click().await?;
    let print = edit(&page).await?;
    start(&page, "Second").await?;
    page.load_again().await?;
    page.find("heading", "Second").await?;
    let before = listed(&page).await?;
    assert_eq!(before.len(), 1, "{before:?}");
    let short = print.rsplit(' ').next().ok_or("no fingerprint")?;
    assert!(before[0].contains(&format!("Hallowby Marram · {short} · ")));
    page.shoot("open-before").await?;
    page.find("button", &before[0]).await?.click().await?;
    page.find("heading", "Hallowby Marram").await?;
    page.kept().await?;
    page.load_again().await?;
    opens_on(&page, &print).await?;

    // To bring it back took the place of other work, which is kept in its turn; the oldest goes.
    for title in ["Third", "Fourth", "Fifth"] {
        start(&page, title).await?;
    }
    let titles: Vec<String> = listed(&page)
        .await?
        .iter()
        .filter_map(|name| Some(name.split_once(": ")?.1.split_once(" · ")?.0.to_owned()))
        .collect();
    assert_eq!(titles, ["Fourth", "Third", "Hallowby Marram"]);
    Ok(())
}
