//! The app for everyone: what axe-core finds on every screen and in every dialog, in both looks, on desk and telephone.

use geometry::document::read_link;

use crate::browser::page::{Page, Screen, Theme};
use crate::browser::{Fault, say};
use crate::installed::{had, node};
use crate::settle::all_is_found;

/// What axe-core finds of the levels A and AA of WCAG 2.0 to 2.2: rule, weight, and where.
///
/// # Source
/// The rules of axe-core (Deque Systems), as its package on npm has them.
async fn found(page: &Page, where_: &str) -> Result<Vec<String>, Fault> {
    let script = "
        return axe.run(document, { runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa'] }).then((found) =>
            found.violations.map((one) => `${one.id} (${one.impact}): ${one.nodes.slice(0, 3).map((node) => node.target.join(' ') + ' ' + (node.any[0] || node.all[0] || node.none[0] || {}).message).join('; ')}`))";
    let all = page.script(script).await?;
    let all = all.as_array().cloned().unwrap_or_default();
    let words = all.iter().filter_map(|one| one.as_str());
    Ok(words.map(|one| format!("{where_}: {one}")).collect())
}

/// Looks at what is shown in both looks, on desk and telephone.
async fn look(page: &Page, where_: &str, all: &mut Vec<String>) -> Result<(), Fault> {
    // A page takes another look sooner than another size.
    for (screen, size) in [(Screen::Desk, "desk"), (Screen::TallPhone, "phone")] {
        page.show_on(screen).await?;
        for (theme, look) in [(Theme::Light, "light"), (Theme::Dark, "dark")] {
            page.prefer(theme).await?;
            all.extend(found(page, &format!("{where_}, {look}, {size}")).await?);
        }
    }
    page.show_on(Screen::Desk).await?;
    Ok(())
}

/// Nothing of weight on any screen or in any dialog.
pub async fn axe_finds_nothing(page: Page) -> Result<(), Fault> {
    let Some(folder) = had("access", node()) else {
        return Ok(());
    };
    page.find("heading", "Hallowby Marram").await?;
    let rules = std::fs::read_to_string(folder.join("node_modules/axe-core/axe.min.js"))?;
    page.script(&rules).await?;
    let mut all = Vec::new();
    for screen in ["Evidence", "Lines", "Shell", "Issue"] {
        page.find("button", screen).await?.click().await?;
        look(&page, screen, &mut all).await?;
    }
    page.find("button", "Evidence").await?.click().await?;
    page.find("button", "About it").await?.click().await?;
    look(&page, "About a source", &mut all).await?;
    page.find("button", "Leave it").await?.click().await?;
    page.find("button", "Lines").await?.click().await?;
    page.find("heading", "To settle 3").await?;
    all_is_found(&page).await?;
    for asked in ["What is the comb?", "What are girth, lean and bevel?"] {
        page.find_where("DisclosureTriangle", asked, |name| name.starts_with(asked))
            .await?
            .click()
            .await?;
    }
    look(&page, "Lines, explained", &mut all).await?;
    page.find_where("button", "a batten", |name| name == "Try a batten")
        .await?
        .click()
        .await?;
    page.find("heading", "A batten along keel").await?;
    look(&page, "Proposed", &mut all).await?;
    page.find("button", "Leave it").await?.click().await?;
    page.shoot("explained").await?;
    for (button, dialog) in [
        ("Help", "Help"),
        ("Open", "Open lines or an offsets table"),
        ("Share", "Share these lines by a link"),
        ("Offsets table", "Offsets table"),
        ("Lines drawn", "Lines drawn"),
        ("Radii", "Keel: radii"),
        ("Set aside", "Set a reading aside: STA 48, WL 32"),
    ] {
        page.find("button", button).await?.click().await?;
        page.find("dialog", dialog).await?;
        look(&page, dialog, &mut all).await?;
        page.press("\u{E00C}").await?;
    }
    page.find_where("button", "the revision", |name| {
        name.starts_with("Revisions; ")
    })
    .await?
    .click()
    .await?;
    let why = page.find("textbox", "Why it is frozen").await?;
    why.send_keys("as read\u{E007}").await?;
    page.find("button", "Look at it: B").await?;
    look(&page, "Revisions", &mut all).await?;
    page.find("button", "Compare with now: B")
        .await?
        .click()
        .await?;
    page.find("dialog", "Compare").await?;
    look(&page, "Compare", &mut all).await?;
    page.press("\u{E00C}").await?;

    page.find("button", "Open").await?.click().await?;
    let table = page.find("textbox", "Pasted table").await?;
    table
        .send_keys("station,x,line,half_breadth,height\n0,0,crown,,1000\n0,0,WL 600,torn,\n")
        .await?;
    page.find("button", "Look at the table")
        .await?
        .click()
        .await?;
    page.find("dialog", "Take in: Pasted table").await?;
    look(&page, "Take in", &mut all).await?;
    page.press("\u{E00C}").await?;
    page.show_on(Screen::Phone).await?;
    page.find("button", "More").await?.click().await?;
    page.find("dialog", "More").await?;
    look(&page, "More", &mut all).await?;
    page.press("\u{E00C}").await?;
    for one in &all {
        say(&format!("  {one}"));
    }
    let weighty = |one: &&String| one.contains("(serious)") || one.contains("(critical)");
    assert_eq!(all.iter().find(weighty), None);
    Ok(())
}

/// What the focus is on, as it is read aloud.
async fn focused(page: &Page) -> Result<String, Fault> {
    let name = page
        .script("const e = document.activeElement; return e.getAttribute('aria-label') || e.labels?.[0]?.textContent || e.textContent || ''")
        .await?;
    Ok(name.as_str().unwrap_or_default().to_owned())
}

/// Goes on by Tab until the focus is on what is called so.
pub async fn tab_to(page: &Page, name: &str) -> Result<(), Fault> {
    go_to(page, name, async || page.press("\u{E004}").await).await
}

/// The same, by Shift and Tab.
pub async fn back_to(page: &Page, name: &str) -> Result<(), Fault> {
    go_to(page, name, async || {
        page.chord("\u{E008}", "\u{E004}").await
    })
    .await
}

async fn go_to(
    page: &Page,
    name: &str,
    step: impl AsyncFn() -> Result<(), Fault>,
) -> Result<(), Fault> {
    for _ in 0..90 {
        if focused(page).await?.starts_with(name) {
            return Ok(());
        }
        step().await?;
    }
    Err(format!(
        "90 Tabs do not come to «{name}»; the focus is on «{}»",
        page.focused().await?
    )
    .into())
}

/// Help is read from its top, though the first thing in it that takes the focus stands far down.
async fn help_opens_at_its_top(page: &Page) -> Result<(), Fault> {
    page.find("button", "Help").await?.click().await?;
    page.find("dialog", "Help").await?;
    let stands = page
        .script(
            "const help = document.querySelector('dialog[open]');
             return [help.scrollTop, help.scrollHeight > help.clientHeight, help.contains(document.activeElement)]",
        )
        .await?;
    assert_eq!(stands, serde_json::json!([0, true, true]));
    page.press("\u{E00C}").await?;
    assert_eq!(focused(page).await?, "Help", "the focus comes back");
    Ok(())
}

/// Waits until something has the focus again, and says what.
pub async fn held_focus(page: &Page) -> Result<String, Fault> {
    page.until("the focus on something", async || {
        let on = page.script("return document.activeElement.tagName").await?;
        Ok((on != "BODY").then_some(()))
    })
    .await?;
    focused(page).await
}

/// From a pasted table to a link, by keys alone: opened, looked at, taken in, a point moved, shared.
pub async fn by_keys_alone(page: Page) -> Result<(), Fault> {
    const ENTER: &str = "\u{E007}";
    // The one press of a pointer, which gives the page the focus.
    page.find("heading", "Hallowby Marram")
        .await?
        .click()
        .await?;
    for screen in [Screen::Phone, Screen::Desk] {
        page.show_on(screen).await?;
        help_opens_at_its_top(&page).await?;
    }
    tab_to(&page, "Open").await?;
    page.press(ENTER).await?;
    page.find("dialog", "Open lines or an offsets table")
        .await?;
    tab_to(&page, "Pasted table").await?;
    let mut table = "station,x,line,half_breadth,height\n".to_owned();
    for (station, x) in [("0", 0), ("1", 500), ("2", 1000)] {
        for (line, breadth, height) in [
            ("crown", "", "1000"),
            ("WL 600", "400", ""),
            ("keel", "", "200"),
        ] {
            table += &format!("{station},{x},{line},{breadth},{height}\n");
        }
    }
    page.press(table).await?;
    tab_to(&page, "Look at the table").await?;
    page.press(ENTER).await?;
    page.find("dialog", "Take in: Pasted table").await?;
    tab_to(&page, "Take in").await?;
    page.press(ENTER).await?;
    page.find("heading", "Pasted table").await?;
    let before = page.fingerprint().await?;

    tab_to(&page, "Keel, station ").await?;
    page.press(ENTER).await?;
    page.press("\u{E013}").await?;
    page.press(ENTER).await?;
    page.until("the point moved", async || {
        Ok((page.fingerprint().await? != before).then_some(()))
    })
    .await?;
    let moved = page.fingerprint().await?;
    assert!(
        focused(&page).await?.starts_with("Keel, station "),
        "the focus stays"
    );

    // On from the last control the browser comes round to the first.
    tab_to(&page, "Share").await?;
    page.press(ENTER).await?;
    page.find("dialog", "Share these lines by a link").await?;
    let link = page.find("textbox", "Link").await?.prop("value").await?;
    let link = link.ok_or("a link")?;
    let fragment = link.split_once('#').ok_or("a fragment")?.1;
    let shared = read_link(fragment)?;
    assert!(moved.ends_with(&shared.fingerprint().short()), "{moved}");
    page.press("\u{E00C}").await?;
    assert_eq!(focused(&page).await?, "Share", "the focus comes back");
    Ok(())
}

/// Each screen is a sheet of paper on its side, without what is pressed: one for a drawing, more for a long table.
pub async fn printed(page: Page) -> Result<(), Fault> {
    page.find("heading", "Hallowby Marram").await?;
    for (screen, most) in [("Lines", 1), ("Evidence", 2), ("Shell", 1), ("Issue", 1)] {
        page.find("button", screen).await?.click().await?;
        page.drawn().await?;
        if screen == "Issue" {
            page.find_where("application", "a sheet", |name| name.starts_with("T-"))
                .await?;
        }
        let pages = page.print(&format!("printed-{screen}")).await?;
        assert!((1..=most).contains(&pages.len()), "{screen}: {pages:?}");
        assert!(
            pages.iter().all(|[wide, high]| wide > high),
            "{screen}: {pages:?}"
        );
    }
    Ok(())
}
