//! The Shell screen: turned by drag and keys, coloured by curvature, still there when the graphics are not.

use geometry::lines::{CuttingPlane, measure_cut, trace};
use geometry::loft::Loft;
use geometry::units::{LengthUnit, format_length_with_unit};

use crate::browser::Fault;
use crate::browser::page::{Page, Screen, Theme};
use crate::demo;

async fn open(page: &Page) -> Result<(), Fault> {
    page.find("heading", "Hallowby Marram").await?;
    page.find("button", "Shell").await?.click().await?;
    page.find("application", "Shell, both sides").await?;
    page.drawn().await
}

/// By number, by drag, by arrow; each changes what is seen, and a standard view comes back the same.
pub async fn is_turned(page: Page) -> Result<(), Fault> {
    open(&page).await?;
    let canvas = page.find("application", "Shell, both sides").await?;
    canvas.click().await?;
    page.find("button", "Quarter, below").await?.click().await?;
    let home = page.look().await?;
    canvas.click().await?;
    page.press("1").await?;
    let side = page.look().await?;
    page.press("\u{E014}").await?;
    let turned = page.look().await?;
    page.drag(&canvas, 80, 30).await?;
    let dragged = page.look().await?;
    page.find("button", "Light stripes").await?.click().await?;
    let striped = page.look().await?;
    page.shoot("shell-stripes").await?;
    page.find("button", "Compound").await?.click().await?;
    let compound = page.look().await?;
    page.shoot("shell-compound").await?;
    page.find("checkbox", "readings off the skin, × 50")
        .await?
        .click()
        .await?;
    let stems = page.look().await?;
    page.find("button", "From above").await?.click().await?;
    page.drawn().await?;
    page.shoot("shell-stems").await?;
    page.find("checkbox", "readings off the skin, × 50")
        .await?
        .click()
        .await?;
    page.find("button", "Radius across").await?.click().await?;
    page.find("button", "Quarter, below").await?.click().await?;
    assert!(page.look().await? == home, "a standard view comes back");
    let looks = [home, side, turned, dragged, striped, compound, stems];
    for (i, look) in looks.iter().enumerate() {
        assert!(
            !looks[..i].contains(look),
            "look {i} shows what another did"
        );
    }
    page.find("textbox", "Cut at WL").await?.click().await?;
    page.press("20\"\u{E007}").await?;
    // As the crate measures it; the crate's own figures are held against closed forms.
    let loft = Loft::build(&demo()?.body)?;
    let plane = CuttingPlane::waterline(508.0);
    let branches = trace(loft.surface(), &plane, 0.01).branches;
    let found = measure_cut(&branches, &plane, true);
    let length = format_length_with_unit(found.length, LengthUnit::FeetInchesEighths);
    let feet = found.area.ok_or("an area")? / (304.8 * 304.8);
    page.shows(&format!(
        "WL 20\" length {length}, both sides; area {feet:.3} ft²"
    ))
    .await?;
    for (theme, name) in [(Theme::Light, "light"), (Theme::Dark, "dark")] {
        page.prefer(theme).await?;
        page.show_on(Screen::Desk).await?;
        page.drawn().await?;
        page.shoot(&format!("shell-desk-{name}")).await?;
        page.show_on(Screen::Phone).await?;
        page.drawn().await?;
        page.shoot(&format!("shell-phone-{name}")).await?;
    }
    Ok(())
}

/// Colours of the skin round three points change with an edit at one of them.
pub async fn shows_an_edit(page: Page) -> Result<(), Fault> {
    open(&page).await?;
    let canvas = page.find("application", "Shell, both sides").await?;
    canvas.click().await?;
    page.press("5").await?;
    page.find("button", "Radius along").await?.click().await?;
    let near = ["90", "101", "112"];
    let (mut before, mut places) = (Vec::new(), Vec::new());
    for station in near {
        before.push(page.skin_colour(station, "keel").await?);
        let ring = page.find("image", &format!("STA {station}, keel")).await?;
        places.push(ring.rect().await?.x);
    }
    assert!(
        places[0] + 20.0 < places[1] && places[1] + 20.0 < places[2],
        "{places:?}"
    );
    // Back to the one that is changed.
    page.skin_colour("101", "keel").await?;
    page.find("button", "See it in Lines")
        .await?
        .click()
        .await?;
    page.find("heading", "Keel").await?;
    let field = page.find("textbox", "Value").await?;
    field.click().await?;
    page.chord("\u{E009}", "a").await?;
    page.press("1-4-5\u{E007}").await?;
    page.find("button", "Shell").await?.click().await?;
    page.drawn().await?;
    page.find("button", "Radius along").await?.click().await?;
    for (station, before) in near.into_iter().zip(before) {
        let after = page.skin_colour(station, "keel").await?;
        let apart = (0..3)
            .map(|k| (after[k] - before[k]).abs())
            .fold(0.0, f64::max);
        assert!(apart > 3.0, "STA {station}: {before:?} and {after:?}");
    }
    page.shoot("shell-edited").await?;
    Ok(())
}

/// The graphics are taken away: said so, lines still drawn; and tried again.
pub async fn outlives_its_graphics(page: Page) -> Result<(), Fault> {
    open(&page).await?;
    let before = page.look().await?;
    page.script(
        "document.querySelector('canvas').getContext('webgl2').getExtension('WEBGL_lose_context').loseContext()",
    )
    .await?;
    page.shows("the lines are drawn flat instead").await?;
    page.shoot("shell-lost").await?;
    page.find("button", "Try again").await?.click().await?;
    page.drawn().await?;
    page.until("the same picture", async || {
        Ok((page.look().await? == before).then_some(()))
    })
    .await?;
    let faults = page.faults().await?;
    assert!(
        faults
            .iter()
            .all(|fault| fault.contains("CONTEXT_LOST_WEBGL")),
        "{faults:?}"
    );
    Ok(())
}
