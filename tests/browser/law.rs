//! A body given by law: set, changed, dragged, undone and taken off.

use geometry::document::{BodyEdit, Law, On, Shoulder, Side};
use geometry::loft::Loft;

use crate::browser::page::Page;
use crate::browser::{Fault, say};
use crate::{demo, lines};

/// Types a number for ρ of a quadrant, and asks for the law.
async fn ask(page: &Page, quadrant: &str, rho: &str, button: &str) -> Result<(), Fault> {
    let field = page
        .find("textbox", &format!("Fullness, {quadrant} shoulder"))
        .await?;
    field.clear().await?;
    field.send_keys(rho).await?;
    page.find("button", button).await?.click().await?;
    Ok(())
}

/// The demo's crown is peaked, where no conic is level: refused in words. With it smooth the law is set, ρ is typed and said
/// at the picked station, a control point is dragged, and every step goes back.
pub async fn a_body_given_by_law(page: Page) -> Result<(), Fault> {
    page.find("heading", "Hallowby Marram").await?;
    page.choose("Unit", "mm").await?;
    let before = page.fingerprint().await?;
    page.find("button", "Conic law").await?.click().await?;
    page.choose("Breadth", "joint").await?;
    page.find("button", "Set the law").await?.click().await?;
    page.shows("is peaked at the crown").await?;
    assert_eq!(page.fingerprint().await?, before);
    let smooth = "make crown and keel smooth, as a conic section is";
    page.find("checkbox", smooth).await?.click().await?;
    ask(&page, "upper", "much", "Set the law").await?;
    page.shows("`much` is no fullness").await?;
    ask(&page, "upper", "1.2", "Set the law").await?;
    page.shows("lies between 0.001 and 0.999").await?;
    ask(&page, "upper", "0.45", "Set the law").await?;
    page.shows("fullness 0.450 above the breadth, 0.414 below it.")
        .await?;
    ask(&page, "lower", "0,5", "Change the law").await?;
    page.shows("fullness 0.450 above the breadth, 0.500 below it.")
        .await?;
    page.shoot_looks("conic-law").await?;
    page.find("button", "Close").await?.click().await?;
    page.shows("Conic law: fullness 0.450 above the breadth")
        .await?;

    // The page has what the library makes of the same law.
    let smooth = demo()?.apply(BodyEdit::SetCrossing {
        side: Side::Crown,
        runs: Vec::new(),
    })?;
    let ours = smooth.apply(BodyEdit::SetLaw(Some(Law {
        breadth: smooth.body.run_lines[0].id,
        upper: Shoulder::Rho(0.45),
        lower: Shoulder::Rho(0.5),
    })))?;
    let given = page.fingerprint().await?;
    assert!(given.ends_with(&ours.fingerprint().short()), "{given}");
    let loft = Loft::build(&ours.body)?;
    assert!(loft.points().iter().any(|point| point.on == On::Crown));

    // A control point is dragged as any other.
    let keel = page
        .find_where("button", lines::KEEL, |name| name.starts_with(lines::KEEL))
        .await?;
    let read = lines::value(&page).await?;
    page.drag(&keel, 0, -30).await?;
    let dragged = lines::value(&page).await?;
    assert!((dragged - read - 3.0).abs() < 0.06, "{dragged} from {read}");
    assert_ne!(page.fingerprint().await?, given);
    page.shows("Conic law: fullness 0.450").await?;
    page.drawn().await?;
    page.shoot("given-by-law").await?;

    // Drag, ρ, law: each is one step back.
    page.chord("\u{E009}", "z").await?;
    assert_eq!(page.fingerprint().await?, given);
    page.chord("\u{E009}", "z").await?;
    page.shows("Conic law: fullness 0.450 above the breadth, 0.414 below it.")
        .await?;
    page.chord("\u{E009}", "z").await?;
    assert_eq!(page.fingerprint().await?, before);
    page.chord("\u{E009}", "y").await?;
    page.find("button", "Conic law").await?.click().await?;
    page.find("button", "Take the law off")
        .await?
        .click()
        .await?;
    page.find("button", "Close").await?.click().await?;
    let off = page.fingerprint().await?;
    assert!(off.ends_with(&smooth.fingerprint().short()), "{off}");
    say("  a law is set, changed, dragged under, undone and taken off");
    Ok(())
}
