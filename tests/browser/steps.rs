//! Undo and redo over loading again: the steps that are kept beside the work.

use std::fs;

use geometry::document::{read_folder, write_folder};

use crate::browser::page::Page;
use crate::browser::{Fault, say};
use crate::everyone::held_focus;
use crate::incoming::{choose_file, take_in_file};
use crate::keeping::{edit, in_store, more, opens_on, press_often};
use crate::lines::forty_by_forty;

/// What a button would do, as it says itself.
async fn would(page: &Page, name: &str) -> Result<String, Fault> {
    let button = page.find("button", name).await?;
    Ok(button.attr("title").await?.unwrap_or_default())
}

async fn press(page: &Page, name: &str) -> Result<String, Fault> {
    page.find("button", name).await?.click().await?;
    page.fingerprint().await
}

/// How many records there are of steps.
async fn records(page: &Page) -> Result<Option<u64>, Fault> {
    let count = in_store(
        page,
        "return (await done(store.getAllKeys())).filter((key) => key.startsWith('step ')).length;",
    )
    .await?;
    Ok(count.as_u64())
}

/// Steps can be taken back and done again after the page was loaded again or its tab killed; what was opened is where they
/// end, and there are not ever more of them.
pub async fn undo_goes_on(page: Page) -> Result<(), Fault> {
    page.find("heading", "Hallowby Marram").await?;
    page.driver.goto("about:blank").await?;
    let [first_tab, _] = page.second_tab().await?;
    page.open("/").await?;
    page.find("heading", "Hallowby Marram").await?;
    let first = page.fingerprint().await?;
    let second = edit(&page).await?;
    let third = edit(&page).await?;
    let (undo, redo) = (would(&page, "Undo").await?, would(&page, "Redo").await?);
    assert!(undo.starts_with("Undo: STA 101"), "{undo}");
    page.kill_tab().await?;
    page.driver.switch_to_window(first_tab).await?;
    page.open("/").await?;
    opens_on(&page, &third).await?;
    assert_eq!(would(&page, "Undo").await?, undo);
    assert_eq!(would(&page, "Redo").await?, redo);
    assert_eq!(press(&page, "Undo").await?, second);
    assert_eq!(press(&page, "Undo").await?, first);
    assert!(page.is_off("button", "Undo").await?);
    assert_eq!(held_focus(&page).await?, "Redo", "from what is off");
    assert_eq!(press(&page, "Redo").await?, second);
    page.kept().await?;
    assert_eq!(records(&page).await?, Some(2));

    page.load_again().await?;
    opens_on(&page, &second).await?;
    assert_eq!(press(&page, "Redo").await?, third);
    assert!(page.is_off("button", "Redo").await?);
    // A new step forgets what was undone; on this device too.
    assert_eq!(press(&page, "Undo").await?, second);
    edit(&page).await?;
    let fourth = edit(&page).await?;
    assert_eq!(records(&page).await?, Some(3));
    page.load_again().await?;
    opens_on(&page, &fourth).await?;
    assert!(page.is_off("button", "Redo").await?);

    // What a file opens begins anew, and the file's edits are counted from where it was saved.
    let file = page.folder("steps")?.join("other.json");
    let mut other = read_folder(include_bytes!("../../public/demo/marram.json"))?;
    other.lines.about.title = "Otherwise".to_owned();
    fs::write(&file, write_folder(&other))?;
    choose_file(&page, &file).await?;
    page.find("heading", "Otherwise").await?;
    page.kept().await?;
    assert_eq!(records(&page).await?, Some(0));
    page.load_again().await?;
    page.find("heading", "Otherwise").await?;
    assert!(page.is_off("button", "Undo").await?);
    Ok(())
}

/// Steps that can't be read: the work opens without them, and it is said once.
pub async fn damaged(page: Page) -> Result<(), Fault> {
    const SAYS: &str = "Undo begins anew";
    const SPOILS: [&str; 3] = [
        "const key = (await done(store.getAllKeys())).find((key) => key.startsWith('step '));
         const step = await done(store.get(key));
         step.bytes = step.bytes.slice(0, step.bytes.length / 2);
         await done(store.put(step, key));",
        "const key = (await done(store.getAllKeys())).find((key) => key.startsWith('step '));
         await done(store.delete(key));",
        "const work = await done(store.get('work'));
         work.steps = 'what';
         await done(store.put(work, 'work'));",
    ];
    page.find("heading", "Hallowby Marram").await?;
    for spoil in SPOILS {
        edit(&page).await?;
        let print = edit(&page).await?;
        in_store(&page, spoil).await?;
        page.load_again().await?;
        opens_on(&page, &print).await?;
        page.shows(SAYS).await?;
        assert!(page.is_off("button", "Undo").await?);
        page.kept().await?;
        page.load_again().await?;
        opens_on(&page, &print).await?;
        page.drawn().await?;
        let text = page.script("return document.body.innerText").await?;
        assert!(!text.as_str().unwrap_or_default().contains(SAYS), "again");
    }

    // Work that was kept without steps opens as it did.
    edit(&page).await?;
    let print = edit(&page).await?;
    in_store(
        &page,
        "const work = await done(store.get('work'));
         delete work.steps;
         await done(store.put(work, 'work'));",
    )
    .await?;
    page.load_again().await?;
    opens_on(&page, &print).await?;
    page.drawn().await?;
    let text = page.script("return document.body.innerText").await?;
    assert!(!text.as_str().unwrap_or_default().contains(SAYS), "none");
    assert!(page.is_off("button", "Undo").await?);
    Ok(())
}

/// With 1,600 readings no more than fifty steps are kept, and they are read soon.
pub async fn many(page: Page) -> Result<(), Fault> {
    page.find("heading", "Hallowby Marram").await?;
    let table = page.folder("large steps")?.join("forty by forty.csv");
    fs::write(&table, forty_by_forty())?;
    take_in_file(&page, &table).await?;
    page.find("heading", "forty by forty").await?;
    page.kept().await?;
    press_often(&page, &more(&page).await?, 60).await?;
    page.kept().await?;
    assert_eq!(records(&page).await?, Some(50));
    page.load_again().await?;
    page.find("heading", "forty by forty").await?;
    let opening = page
        .script("return Math.round(performance.getEntriesByName('opening')[0].duration)")
        .await?;
    say(&format!("  40 × 40 with 50 steps is read in {opening} ms"));
    assert!(opening.as_f64().unwrap_or(f64::INFINITY) < 1_500.0);
    Ok(())
}
