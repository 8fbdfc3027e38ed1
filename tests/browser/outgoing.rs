//! What goes out: a link that opens beside the reader's own work, and files with the very bytes the same lines give natively.

use std::sync::Arc;

use geometry::document::{Folder, Frozen, read_folder, read_link, write_folder};
use geometry::loft::{Loft, Lofted};
use geometry::shop::{OffsetsOptions, Stations, provenance, tabulate_offsets};
use geometry::spline::{MeshOptions, mesh};
use geometry::units::LengthUnit;
use geometry::write::{GlbOptions, StepOptions, write_csv, write_glb, write_step, write_xlsx};

use crate::browser::page::Page;
use crate::browser::{Fault, say};
use crate::demo;

/// The link and the check code that the page gives.
async fn share(page: &Page) -> Result<(String, String), Fault> {
    page.find("button", "Share").await?.click().await?;
    let link = page.find("textbox", "Link").await?.prop("value").await?;
    let code = page
        .script("return document.querySelector('dialog code').textContent")
        .await?;
    page.shoot("share").await?;
    page.find("button", "Close").await?.click().await?;
    let code = code.as_str().unwrap_or_default().replace(' ', "");
    Ok((link.ok_or("no link")?, code))
}

/// Notes the names of regions as they come.
const NOTE_REGIONS: &str = "window.regions = [];
    new MutationObserver(() => {
        for (const region of document.querySelectorAll('[role=region]')) {
            const name = region.getAttribute('aria-label');
            if (!window.regions.includes(name)) window.regions.push(name);
        }
    }).observe(document, { childList: true, subtree: true });";

/// An edit, shared; opened by someone else, to look at; copied, changed; and left again. The figures of the surface
/// are the same to the bit in the page and natively.
pub async fn a_link_goes_round(page: Page) -> Result<(), Fault> {
    page.find("heading", "Hallowby Marram").await?;
    let more = |name: &str| name.starts_with("More by");
    page.find_where("button", "more", more)
        .await?
        .click()
        .await?;
    let print = page.fingerprint().await?;
    let (link, code) = share(&page).await?;
    assert!(link.len() < 2000, "{} characters", link.len());

    let (_, fragment) = link.split_once('#').ok_or("a link has a fragment")?;
    let lines = read_link(fragment)?;
    assert!(print.ends_with(&lines.fingerprint().short()));
    assert_ne!(lines.fingerprint(), demo()?.fingerprint());
    let native = Loft::build(&lines.body)?.check_code();
    assert_eq!(code, native[..16], "10,000 jets, bit for bit");
    say(&format!(
        "  check code here and there {code}, link of {} characters",
        link.len()
    ));

    page.kept().await?;
    let note = page.before_all(NOTE_REGIONS).await?;
    page.open_afresh(&format!("/#{fragment}")).await?;
    page.find("region", "Shared lines").await?;
    let regions = page.script("return window.regions").await?;
    let regions: Vec<String> = serde_json::from_value(regions)?;
    let at = |name: &str| regions.iter().position(|region| region == name);
    let (before, shown) = (at("Lines of a link"), at("Shared lines"));
    assert!(
        before.is_some() && before < shown,
        "a worker first: {regions:?}"
    );
    page.before_all_no_more(&note).await?;
    assert!(!page.asks_before_leaving().await?);
    assert_eq!(page.fingerprint().await?, print);
    page.shoot("shared").await?;
    let step = page.find_where("button", "more", more).await?;
    assert!(!step.is_enabled().await?, "to look at only");
    let keel = |name: &str| name.starts_with("Keel, station 101, ");
    let keel = page.find_where("button", "a keel point", keel).await?;
    page.drag(&keel, 0, -30).await?;
    page.shows("Take a copy to change them").await?;
    assert_eq!(page.fingerprint().await?, print);
    assert_eq!(share(&page).await?, (link.clone(), code));
    page.find("button", "Take a copy").await?.click().await?;
    page.find_where("button", "more", more)
        .await?
        .click()
        .await?;
    let copied = page.fingerprint().await?;
    assert_ne!(copied, print);

    page.kept().await?;
    page.open_afresh(&format!("/#{fragment}")).await?;
    let bar = page.find("region", "Shared lines").await?;
    bar.find(thirtyfour::By::XPath("./button[.='Close']"))
        .await?
        .click()
        .await?;
    assert_eq!(
        page.fingerprint().await?,
        copied,
        "one's own is there again"
    );
    Ok(())
}

/// Offsets as CSV and spreadsheet at stations and at another spacing, STEP, glTF and the lines themselves.
pub async fn files(page: Page) -> Result<(), Fault> {
    page.find("heading", "Hallowby Marram").await?;
    // The example's lines are its first revision.
    let lofted = Lofted::build(Arc::new(demo()?))?.frozen_as(Some(Frozen {
        label: "A".to_owned(),
        date: String::new(), // which no file says
    }));
    let (lines, loft) = (lofted.lines(), lofted.loft());
    let table = |stations, unit| tabulate_offsets(&lofted, &OffsetsOptions { stations, unit });
    let about = provenance(&lofted);
    let asked = async |button: &str| -> Result<(), Fault> {
        page.find("button", button).await?.click().await?;
        Ok(())
    };
    let took = async |name: &str, native: &[u8]| -> Result<(), Fault> {
        let bytes = page.downloaded(name).await?;
        assert_eq!(bytes.len(), native.len(), "{name}");
        assert!(
            bytes == native,
            "{name} differs from what is written natively"
        );
        say(&format!("  {name}: {} bytes, as natively", bytes.len()));
        Ok(())
    };

    asked("Offsets table").await?;
    page.shoot("offsets").await?;
    asked("Save as CSV").await?;
    let own = table(Stations::Own, LengthUnit::FeetInchesEighths);
    took(
        "Hallowby-Marram-offsets-in-feet-inches-eighths.csv",
        &write_csv(&own),
    )
    .await?;

    // It stays open, and says what came of it.
    let told = page
        .script("return document.querySelector('dialog[open]').innerText")
        .await?;
    let told = told.as_str().unwrap_or_default();
    assert!(
        told.contains("Saved Hallowby-Marram-offsets-in-feet-inches-eighths.csv"),
        "{told}"
    );
    page.shoot("offsets-saved").await?;
    page.choose("Unit of the table", "mm").await?;
    page.find("radio", "at another spacing")
        .await?
        .click()
        .await?;
    asked("Save as CSV").await?;
    page.shows("Nothing is typed here").await?;
    page.find("textbox", "Spacing").await?.click().await?;
    page.press("250").await?;
    asked("Save as CSV").await?;
    let spaced = table(Stations::Every(250.0), LengthUnit::Millimetres);
    took(
        "Hallowby-Marram-offsets-every-250-mm-in-millimetres.csv",
        &write_csv(&spaced),
    )
    .await?;

    page.choose("Unit of the table", "in").await?;
    page.find("radio", "at the stations").await?.click().await?;
    asked("Save as spreadsheet").await?;
    let inches = table(Stations::Own, LengthUnit::Inches);
    took(
        "Hallowby-Marram-offsets-in-inches.xlsx",
        &write_xlsx(&inches)?,
    )
    .await?;
    asked("Close").await?;

    asked("Shell").await?;
    asked("Surface, STEP").await?;
    let step = write_step(
        loft.surface(),
        &StepOptions {
            name: &lines.about.title,
            description: &about,
        },
    );
    took("Hallowby-Marram.step", &step).await?;
    asked("Mesh, glTF").await?;
    let skin = mesh(loft.surface(), &MeshOptions::NEAR).with_port();
    let glb = write_glb(
        &skin,
        &GlbOptions {
            name: &lines.about.title,
            description: &about,
        },
    )?;
    took("Hallowby-Marram.glb", &glb).await?;

    asked("Save").await?;
    let saved = page.downloaded("Hallowby-Marram.json").await?;
    // The example comes with what was read as its first revision.
    let read = read_folder(&saved)?;
    assert_eq!(
        (&read.lines, &read.revisions[0].lines),
        (&**lines, &**lines)
    );
    let alike = Folder {
        lines: (**lines).clone(),
        revisions: read.revisions,
    };
    assert_eq!(saved, write_folder(&alike));
    Ok(())
}
