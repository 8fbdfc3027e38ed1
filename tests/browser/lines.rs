//! The Lines screen: what it opens on, and every way to move a point.

use base64::{Engine, prelude::BASE64_STANDARD};
use geometry::lines::{Spot, pick_up, shortest};
use geometry::loft::Loft;
use geometry::units::{LengthUnit, format_length_with_unit};
use serde_json::{Value, json};

use crate::browser::page::{Page, Screen, Theme};
use crate::browser::{Fault, say};
use crate::demo;
use crate::incoming::take_in_file;

/// Millimetres are shown to a tenth.
const SHOWN: f64 = 0.051;

/// The keel at STA 101, which the demo opens on.
pub const KEEL: &str = "Keel, station 101, ";

/// The demo stands there at once, under its policy, in both looks, on desk and phone.
pub async fn the_page_opens(page: Page) -> Result<(), Fault> {
    page.find("heading", "Hallowby Marram").await?;
    let policy = page
        .script("return document.querySelector('meta[http-equiv=Content-Security-Policy]').content")
        .await?;
    let own_only = |text: &str| text.starts_with("default-src 'none';");
    assert!(policy.as_str().is_some_and(own_only), "{policy}");
    let wasm = page.take_asked();
    assert!(wasm.iter().any(|path| path.ends_with("_bg.wasm")));
    let worker = wasm.iter().position(|path| path.contains("worker"));
    let own = wasm.iter().position(|path| path.contains("app-"));
    assert!(worker.is_none() || worker > own, "the page comes first");
    say(&format!("  ready after {} ms", page.ready().await?));
    for (theme, name) in [(Theme::Light, "light"), (Theme::Dark, "dark")] {
        page.prefer(theme).await?;
        page.show_on(Screen::Desk).await?;
        page.shoot(&format!("lines-desk-{name}")).await?;
        page.show_on(Screen::Phone).await?;
        page.shoot(&format!("lines-phone-{name}")).await?;
        // The figure and its steps are in sight above the screens' bar, without a scroll.
        let seen = page
            .script(
                "const foot = document.querySelector('.foot').getBoundingClientRect().top;
                return [...document.querySelectorAll('.steps > *')].every((e) => e.getBoundingClientRect().bottom <= foot)",
            )
            .await?;
        assert_eq!(seen, true, "the steps lie under the fold");
    }
    // Before the program is here, the page says that it loads; then no longer.
    let watch = "new MutationObserver(() => { window.first ??= document.querySelector('.opening p:last-child')?.textContent }).observe(document, { childList: true, subtree: true })";
    let watched = page.before_all(watch).await?;
    page.load_again().await?;
    page.find("heading", "Hallowby Marram").await?;
    let said = page
        .script("return [window.first, document.querySelector('.opening')]")
        .await?;
    let says = said[0].as_str().unwrap_or_default();
    assert!(says.contains("Loading"), "{says}");
    assert!(said[1].is_null(), "it is said still");
    page.before_all_no_more(&watched).await
}

/// The value of the picked point as the card has it, mm.
pub async fn value(page: &Page) -> Result<f64, Fault> {
    let shown = page.find("textbox", "Value").await?.prop("value").await?;
    let shown = shown.ok_or("the box is empty")?;
    Ok(shown.trim_end_matches(" mm").parse()?)
}

async fn type_value(page: &Page, text: &str) -> Result<(), Fault> {
    let field = page.find("textbox", "Value").await?;
    field.click().await?;
    page.chord("\u{E009}", "a").await?; // Ctrl
    page.press(format!("{text}\u{E007}")).await // Enter
}

/// When the body was last lofted and its lines last cut, by the browser's clock.
async fn last_worked(page: &Page) -> Result<Vec<f64>, Fault> {
    let at = page
        .script(
            "return ['loft', 'cuts'].map(name => performance.getEntriesByName(name)[0]?.startTime)",
        )
        .await?;
    Ok(serde_json::from_value(at)?)
}

/// By typed value, step, drag, with Esc and refusals; then taken back to the same fingerprint, and done again.
pub async fn moved_in_every_way(page: Page) -> Result<(), Fault> {
    page.find("heading", "Hallowby Marram").await?;
    let before = page.fingerprint().await?;
    let worked = last_worked(&page).await?;
    page.choose("Unit", "mm").await?;
    assert_eq!(page.fingerprint().await?, before, "a unit shapes nothing");
    let read = value(&page).await?;
    assert_eq!(
        last_worked(&page).await?,
        worked,
        "what is not of the body neither lofts nor cuts it"
    );

    let mut prints = vec![before.clone()];
    let mut changed = async |page: &Page| -> Result<(), Fault> {
        let print = page.fingerprint().await?;
        assert!(!prints.contains(&print), "{print} stands for other lines");
        prints.push(print);
        Ok(())
    };
    type_value(&page, "1-4-2").await?;
    assert!((value(&page).await? - 412.75).abs() < SHOWN);
    changed(&page).await?;
    let after = last_worked(&page).await?;
    assert!(
        after
            .iter()
            .zip(&worked)
            .all(|(after, before)| after > before),
        "what is of the body does both: {worked:?}, then {after:?}"
    );
    type_value(&page, "16,5\"").await?;
    assert!((value(&page).await? - 419.1).abs() < SHOWN);
    changed(&page).await?;
    let stands = page.fingerprint().await?;
    type_value(&page, "1-4-9").await?;
    page.shows("no ninth eighth").await?;
    let typed = page.find("textbox", "Value").await?.prop("value").await?;
    assert_eq!(
        typed.as_deref(),
        Some("1-4-9"),
        "what was refused stays, to be put right"
    );
    page.press("\u{E00C}").await?; // Esc
    assert!((value(&page).await? - 419.1).abs() < SHOWN);
    type_value(&page, "4190").await?;
    page.shows("times its tolerance").await?;
    page.shoot("far-off").await?;
    page.find("button", "Leave it").await?.click().await?;
    assert_eq!(page.fingerprint().await?, stands, "asked first");
    type_value(&page, "1-4-9").await?;
    page.find("button", "Next station aft")
        .await?
        .click()
        .await?;
    page.shows("STA 101, keel: 1-4-9 was not taken.").await?;
    page.find("button", "Next station forward")
        .await?
        .click()
        .await?;
    let typed = page.find("textbox", "Value").await?.prop("value").await?;
    assert_eq!(
        typed.as_deref(),
        Some("1-4-9"),
        "and is still there to be put right"
    );
    type_value(&page, "600").await?;
    page.find("button", "Take it").await?.click().await?;
    assert!((value(&page).await? - 600.0).abs() < SHOWN);
    changed(&page).await?;
    type_value(&page, &format!("{read}")).await?;
    let button = page
        .find_where("button", "more", |name| name.starts_with("More by"))
        .await?;
    button.click().await?;
    assert!((value(&page).await? - read - 0.5).abs() < SHOWN);
    changed(&page).await?;

    let keel = page
        .find_where("button", KEEL, |name| name.starts_with(KEEL))
        .await?;
    page.drag(&keel, 0, -30).await?;
    assert!(
        (value(&page).await? - read - 3.5).abs() < SHOWN,
        "a pixel is 0.1 mm"
    );
    page.shows("past its tolerance by").await?;
    changed(&page).await?;
    let keel = page
        .find_where("button", KEEL, |name| name.starts_with(KEEL))
        .await?;
    page.drag_and(&keel, 0, -30, "\u{E00C}").await?; // Esc
    assert!((value(&page).await? - read - 3.5).abs() < SHOWN, "let go");
    page.shoot("moved").await?;
    let tooth = async || {
        page.script("return document.querySelector('[aria-label=\"Lines plan\"]').textContent")
            .await
    };
    let legend = tooth().await?;
    page.find("button", "tooth × 2").await?.click().await?;
    assert_ne!(tooth().await?, legend, "the comb's scale has changed");
    assert!((value(&page).await? - read - 3.5).abs() < SHOWN);

    let last = page.fingerprint().await?;
    for _ in 0..20 {
        page.chord("\u{E009}", "z").await?;
    }
    assert!(page.is_off("button", "Undo").await?);
    assert_eq!(page.fingerprint().await?, before);
    for _ in 0..20 {
        page.chord("\u{E009}", "y").await?;
    }
    assert!(page.is_off("button", "Redo").await?);
    assert_eq!(page.fingerprint().await?, last);

    // A screen may go with the focus in its drawing, by a press that does not move it.
    page.script(
        "document.querySelector('.target[tabindex=\"0\"]').focus();
        [...document.querySelectorAll('button')].find(b => b.textContent.trim() === 'Evidence').click()",
    )
    .await?;
    page.find("grid", "Offsets as they were read").await?;
    Ok(())
}

/// From the top of the page by keys alone: to a point, along its line, lifted, moved, put down; typed; help and back.
pub async fn held_by_the_keys(page: Page) -> Result<(), Fault> {
    page.find("heading", "Hallowby Marram").await?;
    page.choose("Unit", "mm").await?;
    let read = value(&page).await?;
    page.script("document.activeElement.blur()").await?;
    for _ in 0..40 {
        if page.focused().await?.starts_with(KEEL) {
            break;
        }
        page.press("\u{E004}").await?; // Tab
    }
    assert!(
        page.focused().await?.starts_with(KEEL),
        "{}",
        page.focused().await?
    );
    page.press("\u{E014}").await?; // right
    assert!(page.focused().await?.starts_with("Keel, station 112, "));
    page.press("\u{E012}\u{E013}").await?; // left, up
    assert!(
        page.focused().await?.contains("station 101, "),
        "{}",
        page.focused().await?
    );
    page.press("\u{E015}").await?; // down
    assert!(page.focused().await?.starts_with(KEEL));
    page.press("\u{E007}\u{E013}\u{E013}\u{E013}").await?; // Enter, three up
    page.chord("\u{E008}", "\u{E013}").await?; // Shift up
    for _ in 0..20 {
        page.chord("\u{E00A}", "\u{E015}").await?; // Alt down
    }
    let held = value(&page).await?;
    assert!((held - read - 1.1).abs() < SHOWN, "{held} from {read}");
    page.press("\u{E007}").await?;
    assert!((value(&page).await? - read - 1.1).abs() < SHOWN);
    page.press("\u{E007}\u{E013}\u{E00C}").await?; // lifted, moved, let go
    assert!((value(&page).await? - read - 1.1).abs() < SHOWN);
    page.press(".").await?;
    page.press("999\u{E00C}").await?; // Esc
    assert!(page.focused().await?.starts_with(KEEL), "back on the point");
    assert!((value(&page).await? - read - 1.1).abs() < SHOWN);
    page.press(".").await?;
    page.press(format!("{read}\u{E007}")).await?;
    assert!((value(&page).await? - read).abs() < SHOWN);
    page.script("document.activeElement.blur()").await?;
    page.press("?").await?;
    page.find("dialog", "Help").await?;
    page.shoot("help").await?;
    page.shows("a level cut, called by its height").await?;
    page.find("searchbox", "Look for a word")
        .await?
        .send_keys("duck")
        .await?;
    page.shows("the weight that holds a batten on a point")
        .await?;
    page.shows_no_longer("a level cut, called by its height")
        .await?;
    page.press("\u{E00C}").await?; // empties the box
    page.shows("a level cut, called by its height").await?;
    page.find("dialog", "Help").await?;
    page.press("\u{E00C}").await?;
    page.until("no dialog", async || {
        Ok(page.names("dialog").await?.is_empty().then_some(()))
    })
    .await
}

/// Where points lie on one another, each press takes the next; what was typed for one is not given to another.
pub async fn points_in_a_stack(page: Page) -> Result<(), Fault> {
    page.find("heading", "Hallowby Marram").await?;
    let stack = page
        .script(
            "const all = [...document.querySelectorAll('[role=button][data-view=half-breadth]')];
             const near = (a, b) => Math.hypot(a.getAttribute('cx') - b.getAttribute('cx'), a.getAttribute('cy') - b.getAttribute('cy')) < 0.5;
             for (const a of all) {
                 const stack = all.filter((b) => near(a, b));
                 if (stack.length > 1) return stack.map((e) => e.getAttribute('aria-label'));
             }
             return [];",
        )
        .await?;
    let names: Vec<String> = serde_json::from_value(stack)?;
    assert!(names.len() > 1, "no two points lie on one another");
    let first = page.find("button", &names[0]).await?;
    let mut met: Vec<String> = Vec::new();
    for _ in 0..12 {
        page.drag(&first, 0, 0).await?;
        let name = page.focused().await?;
        if met.first() == Some(&name) {
            break; // round again
        }
        met.push(name);
    }
    for name in &names {
        assert!(met.contains(name), "{name} was never taken of {met:?}");
    }

    page.choose("Unit", "mm").await?;
    let keel = page
        .find_where("button", KEEL, |name| name.starts_with(KEEL))
        .await?;
    page.drag(&keel, 0, 0).await?;
    let read = value(&page).await?;
    let other = page
        .find_where("button", "Crown, station 101", |name| {
            name.starts_with("Crown, station 101, ")
        })
        .await?;
    let crown = other.attr("aria-label").await?.unwrap_or_default();
    page.find("textbox", "Value").await?.click().await?;
    page.chord("\u{E009}", "a").await?;
    page.press(format!("{}", read + 1.0)).await?; // no Enter
    page.drag(&other, 0, 0).await?;
    page.find("button", &crown).await?;
    let keel = page
        .find_where("button", KEEL, |name| name.starts_with(KEEL))
        .await?;
    page.drag(&keel, 0, 0).await?;
    assert!(
        (value(&page).await? - read - 1.0).abs() < SHOWN,
        "it counts where it was typed"
    );
    Ok(())
}

/// A finger taps to pick, moves the paper from wherever it begins, and moves only the point that is picked.
pub async fn by_a_finger(page: Page) -> Result<(), Fault> {
    page.find("heading", "Hallowby Marram").await?;
    page.choose("Unit", "mm").await?;
    page.show_on(Screen::Phone).await?;
    let before = page.fingerprint().await?;
    let at = async |station: &str| {
        let name = format!("Keel, station {station}, ");
        page.find_where("button", &name.clone(), move |found| {
            found.starts_with(&name)
        })
        .await
    };
    let place = async |station: &str| -> Result<f64, Fault> {
        let place = at(station).await?.attr("cx").await?;
        Ok(place.ok_or("no place")?.parse()?)
    };
    page.touch(&at("90").await?, &[(1, 1)]).await?;
    page.find("heading", "Keel").await?;
    page.shows("Reading, STA 90").await?;
    page.touch(&at("90").await?, &[(1, -2), (1, 1)]).await?;
    assert_eq!(page.fingerprint().await?, before, "a tap moves nothing");

    let from = place("101").await?;
    page.touch(&at("101").await?, &[(-20, 0), (-20, 0)]).await?;
    let to = place("101").await?;
    assert!(
        (to - from + 40.0).abs() < 1.5,
        "the paper went from {from} to {to}"
    );
    page.shows("Reading, STA 90").await?;
    assert_eq!(page.fingerprint().await?, before, "a swipe moves no point");

    let read = value(&page).await?;
    page.touch(&at("90").await?, &[(0, -15), (0, -15)]).await?;
    assert!((value(&page).await? - read - 3.0).abs() < SHOWN);
    page.shoot("moved-by-a-finger").await?;
    Ok(())
}

/// A place is lifted by its typed x and by a press on a line; a tape is laid between the two.
pub async fn lifted_off_the_skin(page: Page) -> Result<(), Fault> {
    page.find("heading", "Hallowby Marram").await?;
    page.choose("Unit", "mm").await?;
    let lines = demo()?;
    let loft = Loft::build(&lines.body)?;
    let surface = loft.surface();
    let lift_at = async |x: &str| -> Result<(), Fault> {
        page.find("textbox", "Measure at x").await?.click().await?;
        page.chord("\u{E009}", "a").await?;
        page.press(format!("{x}\u{E007}")).await
    };
    lift_at("1234.5").await?;
    page.shows("Measured near STA 49").await?;
    let native = pick_up(surface, 1234.5, Spot::Keel)?;
    let mm = |mm: f64| format_length_with_unit(mm, LengthUnit::Millimetres);
    assert_eq!(page.figure("x").await?, mm(1234.5));
    assert_eq!(page.figure("height").await?, mm(native.position.z));
    assert_eq!(page.figure("girth from the crown").await?, mm(native.girth));
    lift_at("99999").await?;
    page.shows("Keel does not reach x 99999.0 mm").await?;
    assert_eq!(page.figure("x").await?, mm(1234.5), "what was lifted stays");

    page.find("button", "Lay a tape from here")
        .await?
        .click()
        .await?;
    lift_at("3000").await?;
    page.shows("along the skin, from the first place").await?;
    let other = pick_up(surface, 3000.0, Spot::Keel)?;
    let tape = shortest(surface, (native.u, native.v), (other.u, other.v));
    page.shows(&mm(tape.length)).await?;
    page.shoot("lifted").await?;
    page.find("button", "Put it away").await?.click().await?;
    page.find("heading", "Measure the skin").await?;

    // Between two points of the crown, by the pointer.
    let name = |name: &str| name.starts_with("Crown, station 48, ");
    let crown = page.find_where("button", "a crown point", name).await?;
    let before = page.fingerprint().await?;
    page.press_beside(&crown, 22, 0).await?;
    page.find("heading", "Crown").await?;
    page.shows("Measured near STA").await?;
    assert_eq!(page.figure("half-breadth").await?, mm(0.0));
    assert_eq!(page.fingerprint().await?, before, "nothing is moved");
    Ok(())
}

/// A sheet measures what it says: the crown line is as long as the body, the rule as 100 mm.
fn to_scale(svg: &str, one_to: f64) -> Result<(), Fault> {
    let number = |text: &str| -> Result<f64, Fault> { Ok(text.trim().parse()?) };
    let part = |from: &str, to: &str| -> Result<&str, Fault> {
        let (_, rest) = svg.split_once(from).ok_or("a part is missing")?;
        Ok(rest.split_once(to).ok_or("a part has no end")?.0)
    };
    let width = number(part("width=\"", "mm")?)?;
    let view: Vec<&str> = part("viewBox=\"", "\"")?.split(' ').collect();
    assert!((number(view[2])? - width).abs() < 1e-9, "drawn in mm");
    // Strokes of the first path of a layer, each as the places across of its ends.
    let strokes = |layer: &str| -> Result<Vec<[f64; 2]>, Fault> {
        let layer = part(&format!("<g id=\"{layer}\">"), "</g>")?;
        let (_, path) = layer.split_once(" d=\"").ok_or("no path")?;
        let (path, _) = path.split_once('"').ok_or("no end")?;
        let across = |place: &str| number(place.split(' ').next().unwrap_or_default());
        let ends = |stroke: &str| -> Result<[f64; 2], Fault> {
            let places = || stroke.split('L');
            let [first, last] = [places().next(), places().next_back()];
            Ok([
                across(first.unwrap_or_default())?,
                across(last.unwrap_or_default())?,
            ])
        };
        path.split('M').skip(1).map(ends).collect()
    };
    let loft = Loft::build(&demo()?.body)?;
    let [from, to] = loft.extent();
    let [first, last] = strokes("run")?[0];
    let long = last - first;
    assert!(
        (long - (to - from) / one_to).abs() < 0.06,
        "{long} mm of crown"
    );
    let rule = strokes("check")?;
    let long = rule.iter().map(|[a, b]| (b - a).abs()).fold(0.0, f64::max);
    assert!((long - 100.0).abs() < 0.01, "{long} mm of rule");
    assert!(
        svg.contains("black") && !svg.contains("var("),
        "without the screen's colours"
    );
    Ok(())
}

/// Lines and sections are left out and drawn again; a plane is added at a typed place, and taken back.
pub async fn which_lines_are_drawn(page: Page) -> Result<(), Fault> {
    page.find("heading", "Hallowby Marram").await?;
    let before = page.fingerprint().await?;
    let targets = async || -> Result<usize, Fault> {
        let names = page.names("button").await?;
        Ok(names
            .iter()
            .filter(|name| name.contains(", station "))
            .count())
    };
    let all = targets().await?;
    page.find("button", "Lines drawn").await?.click().await?;
    page.shoot("lines-drawn").await?;
    page.find("button", "none of the waterlines")
        .await?
        .click()
        .await?;
    page.find("button", "Every second section")
        .await?
        .click()
        .await?;
    page.find("textbox", "Place of the plane")
        .await?
        .click()
        .await?;
    page.press("nine\u{E007}").await?;
    page.shows("`nine`").await?;
    page.chord("\u{E009}", "a").await?;
    page.press("2-6-0\u{E007}").await?;
    page.find("checkbox", "WL 2-6-0").await?;
    page.find("button", "Take WL 2-6-0 away").await?;
    page.find("button", "Close").await?.click().await?;
    let fewer = targets().await?;
    assert!(fewer < all / 2, "{fewer} of {all}");
    assert_ne!(page.fingerprint().await?, before);
    page.shoot("fewer-lines").await?;
    page.chord("\u{E009}", "z").await?;
    assert_eq!(page.fingerprint().await?, before);
    page.find("button", "Lines drawn").await?.click().await?;
    page.find("button", "all waterlines").await?.click().await?;
    page.find("button", "All sections").await?.click().await?;
    page.find("textbox", "Scale, one to").await?.click().await?;
    page.chord("\u{E009}", "a").await?;
    page.press("100").await?;
    page.find("button", "Save as SVG").await?.click().await?;
    let sheet = page
        .downloaded("Hallowby-Marram-lines-plan-1-to-100.svg")
        .await?;
    to_scale(&String::from_utf8(sheet)?, 100.0)?;
    assert_eq!(targets().await?, all);

    page.choose("Line", "WL 36").await?;
    page.find("heading", "WL 36").await?;
    let upsweep = page.find("button", "Upsweep").await?;
    assert_eq!(
        upsweep.attr("aria-pressed").await?.as_deref(),
        Some("false")
    );
    upsweep.click().await?;
    page.find("heading", "Keel").await?;
    assert_eq!(upsweep.attr("aria-pressed").await?.as_deref(), Some("true"));
    page.shows("Keel, radius along the upsweep").await
}

/// The browser's own print is one page on its side with all three views, though one stands alone on the screen.
async fn printed_on_one_page(page: &Page) -> Result<(), Fault> {
    page.script(
        "window.printed = [];
         const note = () => window.printed.push(...[...document.querySelectorAll('.lines-plan .caption')].map((text) => text.textContent));
         new MutationObserver(note).observe(document.querySelector('.lines-plan'), { childList: true, subtree: true });",
    )
    .await?;
    let a4 = json!({ "paperWidth": 8.27, "paperHeight": 11.69, "preferCSSPageSize": true });
    let paper = page.cdp("Page.printToPDF", a4).await?;
    let paper = BASE64_STANDARD.decode(paper["data"].as_str().ok_or("no print")?)?;
    let picture = page.shoot("printed-from").await?;
    std::fs::write(picture.with_file_name("printed.pdf"), &paper)?;
    let text = String::from_utf8_lossy(&paper);
    let pages = text.matches("/Type /Page\n").count();
    assert_eq!(pages, 1, "pages of {} bytes", paper.len());
    let size = text.split("/MediaBox [").nth(1).ok_or("no size")?;
    let size: Vec<f64> = size
        .split([' ', ']'])
        .map_while(|number| number.parse().ok())
        .collect();
    assert!(size[2] > size[3], "on its side: {size:?}");
    let views = page
        .until("what was printed", async || {
            let views = page.script("return window.printed").await?;
            Ok((views != json!([])).then_some(views))
        })
        .await?;
    for view in ["Profile", "Half-breadth", "Body plan"] {
        assert!(views.to_string().contains(view), "{view} of {views}");
    }
    page.until("all as before", async || {
        let alone = page.script("return document.querySelector('main').hasAttribute('data-alone')");
        Ok((alone.await? == true).then_some(()))
    })
    .await
}

/// Enlarged by the wheel, by keys and by buttons; moved by the pointer; what is newly picked comes into sight; whole again.
pub async fn enlarged(page: Page) -> Result<(), Fault> {
    page.find("heading", "Hallowby Marram").await?;
    let before = page.fingerprint().await?;
    let at = async |name: &str| -> Result<(f64, f64), Fault> {
        let wish = format!("{name}, station ");
        let point = page
            .find_where("button", name, |found| {
                found.starts_with(&wish) || found.starts_with(name)
            })
            .await?;
        let read = async |key: &str| -> Result<f64, Fault> {
            Ok(point.attr(key).await?.ok_or("no place")?.parse()?)
        };
        Ok((read("cx").await?, read("cy").await?))
    };
    let (keel, next) = ("Keel, station 101, ", "Keel, station 112, ");
    let apart = async || -> Result<f64, Fault> {
        let (a, b) = (at(keel).await?, at(next).await?);
        Ok(geometry::num::hypot(b.0 - a.0, b.1 - a.1))
    };
    let first = apart().await?;
    page.script("document.activeElement.blur()").await?;
    for _ in 0..4 {
        page.press("+").await?;
    }
    let larger = apart().await?;
    let grown = larger / first;
    let wish = 1.2 * 1.2 * 1.2 * 1.2;
    assert!((grown / wish - 1.0).abs() < 0.02, "{grown} times as large");
    printed_on_one_page(&page).await?;
    assert!((apart().await? - larger).abs() < 0.1, "as it was before");
    page.shoot("enlarged").await?;

    // Along the line by keys: what is picked is in sight, and keeps its scale.
    let point = page
        .find_where("button", keel, |name| name.starts_with(keel))
        .await?;
    page.drag(&point, 0, 0).await?;
    for _ in 0..6 {
        page.press("\u{E012}").await?; // left
    }
    let there = "Keel, station 38, ";
    page.shows("Reading, STA 38").await?;
    let (x, y) = at(there).await?;
    assert!(
        (0.0..1136.0).contains(&x) && (0.0..800.0).contains(&y),
        "{x} {y}"
    );
    assert!((apart().await? - larger).abs() < 0.3);

    // The paper is moved by the pointer.
    let from = at(there).await?;
    let point = page
        .find_where("button", there, |name| name.starts_with(there))
        .await?;
    page.drag_from_beside(&point, (60, 80), (-40, 0)).await?;
    let to = at(there).await?;
    assert!((to.0 - from.0 + 40.0).abs() < 1.5, "{from:?} {to:?}");
    assert_eq!(page.fingerprint().await?, before, "no point is moved");

    page.find("button", "whole").await?.click().await?;
    assert!((apart().await? - first).abs() < 0.3);
    page.find("button", "larger").await?.click().await?;
    assert!(apart().await? > 1.4 * first);
    page.press("0").await?;
    assert!((apart().await? - first).abs() < 0.3);
    Ok(())
}

/// A table in closed form: a body whose half-breadths are given on 38 waterlines, at 40 stations, in mm.
pub fn forty_by_forty() -> String {
    const HALF: f64 = 800.0;
    let heights: Vec<f64> = (1..=38)
        .map(|i| -HALF + 2.0 * HALF * f64::from(i) / 39.0)
        .collect();
    let mut table = "STA (mm),crown".to_owned();
    for z in heights.iter().rev() {
        table += &format!(",WL {z:.2}");
    }
    table += ",keel\n";
    for station in 0..40 {
        let x = 200.0 * f64::from(station);
        let share = x / 8000.0;
        let breadth = 500.0 + 300.0 * share * (1.0 - share) - 60.0 * share * share;
        table += &format!("{x},{HALF}");
        for z in heights.iter().rev() {
            table += &format!(",{:.3}", breadth * (1.0 - z * z / (HALF * HALF)).sqrt());
        }
        table += &format!(",{}\n", -HALF);
    }
    table
}

/// What a drag costs in script, move by move, on the demo and on a net of 40 × 40; and that no move is without one.
pub async fn a_drag_is_quick(page: Page) -> Result<(), Fault> {
    page.find("heading", "Hallowby Marram").await?;
    print_drag(&page, "16 × 14", KEEL).await?;
    let table = page.folder("tables")?.join("forty by forty.csv");
    std::fs::write(&table, forty_by_forty())?;
    take_in_file(&page, &table).await?;
    page.find("heading", "forty by forty").await?;
    page.shoot("forty-by-forty").await?;
    let name = page
        .find_where("button", "a keel point", |name| {
            name.starts_with("Keel, station 5200")
        })
        .await?;
    let name = name.attr("aria-label").await?.unwrap_or_default();
    print_drag(&page, "40 × 40", &name).await
}

async fn print_drag(page: &Page, net: &str, name: &str) -> Result<(), Fault> {
    const MOVES: usize = 30;
    let point = page
        .find_where("button", name, |found| found.starts_with(name))
        .await?;
    page.script("performance.clearMeasures('drag')").await?;
    page.drag_slowly(&point, MOVES).await?;
    let times = page
        .until("measures of the drag", async || {
            let times = page
                .script("return performance.getEntriesByName('drag').map((e) => e.duration)")
                .await?;
            let all = times.as_array().is_some_and(|times| times.len() >= MOVES);
            Ok(all.then_some(times))
        })
        .await?;
    let mut times: Vec<f64> = times
        .as_array()
        .into_iter()
        .flatten()
        .filter_map(Value::as_f64)
        .collect();
    times.sort_by(f64::total_cmp);
    let [median, most] = [times[times.len() / 2], times[times.len() - 1]];
    say(&format!(
        "  script of a drag at {net}: {}",
        json!({"median_ms": median, "largest_ms": most, "moves": times.len()})
    ));
    Ok(())
}

/// The comb's figures as a table, for who does not see it, with the hollow of the upsweep named; planes drawn through a
/// lifted place; radii in the person's unit.
pub async fn radii_as_figures(page: Page) -> Result<(), Fault> {
    page.find("heading", "Hallowby Marram").await?;
    page.find("button", "Upsweep").await?.click().await?;
    page.find("button", "Radii").await?.click().await?;
    page.find("dialog", "Keel: radii").await?;
    page.find("rowheader", "101").await?;
    // As the list names it.
    page.shows("Hollow, STA 90–112, deepest near STA").await?;
    page.shows("Bends hardest near STA").await?;
    page.shoot_looks("radii").await?;
    page.find("button", "Copy the figures")
        .await?
        .click()
        .await?;
    page.shows("Copied; paste it").await?;
    page.find("button", "Close").await?.click().await?;
    page.choose("Unit", "mm").await?;
    page.find("button", "Radii").await?.click().await?;
    page.find("columnheader", "height mm").await?;
    page.find("button", "Close").await?.click().await?;

    let field = page.find("textbox", "Measure at x").await?;
    field.send_keys("1000\u{E007}").await?;
    page.until("the place", async || {
        Ok(page.figure("x").await?.starts_with("1000").then_some(()))
    })
    .await?;
    let height = page.figure("height").await?;
    let name = format!("WL {}", height.trim_end_matches(" mm"));
    page.find("button", "a waterline").await?.click().await?;
    page.find("button", "Lines drawn").await?.click().await?;
    page.find("checkbox", &name).await?;
    Ok(())
}

/// After the misprint is put right, places between the stations are lifted to within a sixteenth of the truth that the
/// demo's table was made from; another unit and back changes nothing.
pub async fn lifted_after_settling(page: Page) -> Result<(), Fault> {
    const SIXTEENTH: f64 = 1.6;
    page.find("heading", "Hallowby Marram").await?;
    page.find("button", "Evidence").await?.click().await?;
    let misprint = "STA 48, WL 32: ";
    page.find_where("gridcell", misprint, |name| name.starts_with(misprint))
        .await?
        .click()
        .await?;
    page.press("1-3-2\u{E007}").await?;
    page.find("gridcell", "STA 48, WL 32: 1-2-3 → 1-3-2")
        .await?;
    let settled = page.fingerprint().await?;
    page.choose("Unit", "mm").await?;
    page.find("button", "Lines").await?.click().await?;
    // Line, distance aft, figure, truth: the demo's own account of how it was made.
    for (line, x, figure, truth) in [
        ("keel", "838.2", "height", 203.2),
        ("WL 20", "838.2", "half-breadth", 422.8),
        ("WL 36", "1600.2", "half-breadth", 326.6),
        ("crown", "1600.2", "height", 1219.6),
    ] {
        page.choose("Line", line).await?;
        let field = page.find("textbox", "Measure at x").await?;
        field.clear().await?;
        field.send_keys(format!("{x}\u{E007}")).await?;
        page.until(&format!("{line} at {x}"), async || {
            let text = page.figure("x").await?;
            Ok(text.starts_with(x).then_some(()))
        })
        .await?;
        let found = page.figure(figure).await?;
        let found: f64 = found.trim_end_matches(" mm").parse()?;
        assert!(
            (found - truth).abs() < SIXTEENTH,
            "{line} at {x}: {found}, in truth {truth}"
        );
        say(&format!("  {line} at x {x}: {found}, in truth {truth}"));
    }
    page.choose("Unit", "ft-in-8").await?;
    assert_eq!(page.fingerprint().await?, settled);
    Ok(())
}
