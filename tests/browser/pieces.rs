//! The page in pieces: each as small as it should be, and one that can't be fetched loses nothing.

use std::collections::BTreeMap;
use std::path::Path;
use std::process::Command;

use sha2::{Digest, Sha256};

use crate::browser::page::{Page, Screen, Theme};
use crate::browser::{Fault, say};
use crate::keeping::{edit, files};

/// What the page may weigh to the first edit, kB by gzip: its script and main piece, the fonts that it shows, and styles. 600 are
/// wanted; what the document says of sheets, how it is read, and the order to issue made it 29 heavier than the 705 it was.
const PAGE: usize = 740;

/// What each other piece may.
const PIECE: usize = 160;

/// What the worker may, which is fetched when it is first asked for something.
const WORKER: usize = 2000;

/// The pieces that come later, by name: without their hashes.
const LATER: &str = "pieces/";

fn is_later(name: &str) -> bool {
    name.starts_with(LATER) && name.ends_with(".wasm")
}

/// Size by gzip, as any host packs it, in bytes.
fn packed(file: &Path) -> Result<usize, Fault> {
    let output = Command::new("gzip").args(["-9", "-c"]).arg(file).output()?;
    assert!(output.status.success(), "gzip packs {}", file.display());
    Ok(output.stdout.len())
}

/// What a browser fetches of the folder: the page, each piece, the worker.
pub fn downloads_are_small(folder: &Path) -> Result<(), Fault> {
    let kilo = |bytes: usize| bytes.div_ceil(1000);
    let (mut page, mut worker, mut slanted) = (0, 0, 0);
    let mut pieces = BTreeMap::new();
    for name in files(folder, "")? {
        // Icons are fetched by a browser that installs the app, or when the page has long stood; the demo is in the page.
        if name.ends_with(".png") || name.starts_with("demo/") || name.contains("LICENSE") {
            continue;
        }
        let file = folder.join(&name);
        let size = packed(&file)?;
        if is_later(&name) {
            let hash = Sha256::digest(std::fs::read(&file)?);
            let hash: String = hash.iter().take(8).map(|b| format!("{b:02x}")).collect();
            assert!(name.contains(&hash), "{name} is named by its content");
            pieces.insert(name, kilo(size));
        } else if name.starts_with("worker") {
            worker += size;
        } else if name.contains("italic") {
            slanted += size; // fetched with the first reading that is set aside
        } else {
            page += size;
        }
    }
    say(&format!(
        "  page {} kB, worker {} kB, by gzip; later {pieces:?}, slanted letters {} kB",
        kilo(page),
        kilo(worker),
        kilo(slanted)
    ));
    assert!(kilo(page) <= PAGE, "the page has grown");
    assert!(kilo(worker) <= WORKER, "the worker has grown");
    assert!(pieces.len() > 2, "the page is in pieces");
    for (name, size) in pieces {
        assert!(size <= PIECE, "{name} has grown");
    }
    Ok(())
}

/// What can't be fetched says so where it would stand; tried again it is there, and so is the work.
pub async fn cannot_be_fetched(page: Page) -> Result<(), Fault> {
    const FAILED: &str = "could not be fetched";
    let without = page.folder("without-pieces")?;
    for name in files(page.built(), "")? {
        if !is_later(&name) {
            let to = without.join(&name);
            std::fs::create_dir_all(to.parent().ok_or("no folder")?)?;
            std::fs::copy(page.built().join(&name), to)?;
        }
    }
    page.serve(Some(without.clone()));
    // What came when the step began is not the browser's to give again.
    page.clear_cache().await?;
    page.open_afresh("/").await?;
    page.find("heading", "Hallowby Marram").await?;
    let print = edit(&page).await?;

    for screen in ["Evidence", "Shell"] {
        page.find("button", screen).await?.click().await?;
        page.shows(&format!("The {screen} screen {FAILED}")).await?;
        page.find("button", &format!("Try again: The {screen} screen"))
            .await?;
    }
    for (name, screen, theme) in [
        ("desk-light", Screen::Desk, Theme::Light),
        ("phone-dark", Screen::Phone, Theme::Dark),
    ] {
        page.show_on(screen).await?;
        page.prefer(theme).await?;
        page.shoot(&format!("no-piece-{name}")).await?;
    }
    page.show_on(Screen::Desk).await?;
    // Tried again where it still can't be, it says so again.
    page.take_asked();
    page.find("button", "Try again: The Shell screen")
        .await?
        .click()
        .await?;
    page.until("the piece asked for again", async || {
        Ok(page
            .take_asked()
            .iter()
            .any(|path| path.contains("shell"))
            .then_some(()))
    })
    .await?;
    page.shows(FAILED).await?;
    page.find("button", "Help").await?.click().await?;
    page.shows(&format!("What you asked for {FAILED}")).await?;
    page.shoot("no-piece-dialog").await?;

    page.serve(Some(page.built().to_owned()));
    page.find("button", "Try again: What you asked for")
        .await?
        .click()
        .await?;
    page.find("dialog", "Help").await?;
    page.find("button", "Close").await?.click().await?;
    page.find("button", "Try again: The Shell screen")
        .await?
        .click()
        .await?;
    page.find("application", "Shell, both sides").await?;
    // Asked for anew, it is tried again by itself.
    page.find("button", "Evidence").await?.click().await?;
    page.find("grid", "Offsets as they were read").await?;
    assert_eq!(page.fingerprint().await?, print, "nothing is lost");
    page.find("button", "Undo").await?.click().await?;
    assert_ne!(page.fingerprint().await?, print);

    let faults = page.faults().await?;
    let other = faults
        .iter()
        .find(|fault| !fault.contains(LATER) && !fault.contains("404"));
    assert_eq!(other, None, "{faults:?}");
    assert!(!faults.is_empty(), "the browser was told");
    Ok(())
}
