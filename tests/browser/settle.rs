//! What is to be settled: verdicts on the lines, the list in the margin, and what settles it; lines that are proposed.

use crate::browser::page::{Page, Screen, Theme};
use crate::browser::{Fault, say};
use crate::everyone::{back_to, tab_to};
use crate::{incoming, revisions};

/// Waits until nothing more is looked for, hollows among it: the rows then stay as they are.
pub async fn all_is_found(page: &Page) -> Result<(), Fault> {
    const LEFT: &str = "return [document.querySelector('.settle .count').textContent,
        document.querySelector('.settle [role=status]').textContent]";
    page.until("all is found", async || {
        let left = page.script(LEFT).await?;
        let [count, says] = [0, 1].map(|at| left[at].as_str().unwrap_or_default().to_owned());
        let stands = !count.is_empty() && !count.starts_with("was");
        Ok((stands && says.is_empty()).then_some(()))
    })
    .await
}

/// The first minute, and what a new user walks first: the misprint is shown in all views, put right and back; the hollow's
/// readings are set aside, with the line and the moves that result; and the whole surface is faired.
pub async fn what_is_to_settle(page: Page) -> Result<(), Fault> {
    page.find("heading", "Hallowby Marram").await?;
    page.find("heading", "To settle 3").await?;
    all_is_found(&page).await?;
    page.shows("STA 48, WL 32 reads 1-2-3").await?;
    page.shows("Neighbours want about 1-3-2. Inches and eighths changed places?")
        .await?;
    page.shows("Torn 3.").await?;
    page.shows("needs 3.0, allowed 1.6 mm; hollow, STA 90–112")
        .await?;
    // Nobody fairs the whole surface against a misprint without being told.
    page.shows("Settle the misprint first (STA 48, WL 32 reads 1-2-3)")
        .await?;
    for (theme, look) in [(Theme::Light, "light"), (Theme::Dark, "dark")] {
        page.prefer(theme).await?;
        for (screen, size) in [(Screen::Phone, "phone"), (Screen::Desk, "desk")] {
            page.show_on(screen).await?;
            page.drawn().await?;
            page.shoot(&format!("settle-{size}-{look}")).await?;
        }
    }
    a_misprint(&page).await?;
    a_hollow(&page).await?;
    page.find("button", "Fair the whole surface")
        .await?
        .click()
        .await?;
    page.find("heading", "The whole surface, faired").await?;
    page.shows("Taken whole, it moves the skin by").await?;
    page.shoot("faired-whole").await?;
    page.find("button", "Take it").await?.click().await?;
    page.until("the keel is fair within its readings", async || {
        let word = verdict_of(&page, "keel").await?;
        Ok((word.ends_with("Fair") || word.ends_with("Fair within readings")).then_some(()))
    })
    .await?;
    page.find("button", "Undo").await?.click().await?;
    Ok(())
}

/// The first row: all views go there; put right, the notch leaves; one step back restores what was read.
async fn a_misprint(page: &Page) -> Result<(), Fault> {
    let first = page.fingerprint().await?;
    let row = "STA 48, WL 32 reads 1-2-3";
    page.show_on(Screen::Phone).await?;
    let listed = page.find("button", row).await?;
    listed.scroll_into_view().await?;
    listed.click().await?;
    // On a small screen the drawing comes into sight, in the view that shows the line.
    page.until("the drawing in sight", async || {
        let top = "return document.querySelector('.lines-plan').getBoundingClientRect().top";
        let top = page.script(top).await?.as_f64().unwrap_or(f64::NAN);
        Ok((0.0..400.0).contains(&top).then_some(()))
    })
    .await?;
    page.find("heading", "WL 32").await?;
    page.shoot("row-pressed-phone").await?;
    page.show_on(Screen::Desk).await?;
    page.press_on("button", row).await?;
    page.until("rings in half-breadth and body plan", async || {
        Ok((count(page, ".ring").await? >= 2).then_some(()))
    })
    .await?;
    page.shows("needs 6.7, allowed 1.6 mm; hollow, STA 38–58")
        .await?;
    page.shows("✕ Unfair").await?;
    let notch = "hollow, radius";
    page.shows(notch).await?;
    page.press_on("button", "Put 1-3-2").await?;
    page.find("heading", "To settle 2").await?;
    page.shows("≈ Fair within readings").await?;
    page.shows_no_longer(notch).await?;
    page.shows_no_longer("Settle the misprint first").await?;
    // Undo is named, and stands beside what is said.
    page.shows("Done: STA 48, WL 32 put right.").await?;
    let undo = page.find("button", "Undo").await?.attr("title").await?;
    assert_eq!(undo.as_deref(), Some("Undo: STA 48, WL 32 put right"));
    page.shows("1-2-3, put right to 1-3-2").await?;
    page.press_on("button", "Undo it").await?;
    page.find("heading", "To settle 3").await?;
    page.shows_no_longer("put right to").await?;
    page.shows("Half-breadth 1-2-3").await?;
    assert_eq!(page.fingerprint().await?, first);
    // Kept as true, the reading is in doubt no longer; that its line is not fair stands.
    page.press_on("button", "Keep, it is true").await?;
    page.shows("WL 32: readings must move 6.7 mm").await?;
    page.shows("Kept as true.").await?;
    assert_eq!(page.fingerprint().await?, first, "it shapes no metal");
    page.find("button", "Undo").await?.click().await?;
    page.press_on("button", "Put 1-3-2").await?;
    page.find("heading", "To settle 2").await?;
    Ok(())
}

/// The second row: kept, it allows its lines their turns, and says so; set aside, the neighbours carry the skin, and the line
/// and the moves that result are shown.
async fn a_hollow(page: &Page) -> Result<(), Fault> {
    all_is_found(page).await?;
    let read = page.fingerprint().await?;
    page.press_on("button", "Hollow, STA 90–123, below the joint")
        .await?;
    page.shows("Keel").await?;
    page.shows("readings must move 3.0 mm, 1.9 times their tolerance")
        .await?;
    page.shows("Kept as true, the lines may turn as they do: keel")
        .await?;
    page.press_on("button", "Keep, it is true").await?;
    page.shows("kept; turns allowed: keel").await?;
    page.press_on("button", "Undo it").await?;
    page.find("heading", "To settle 2").await?;
    all_is_found(page).await?;
    let before = count(page, ".other-state").await?;
    assert_eq!(before, 0);
    page.press_on("button", "Set these 16 aside").await?;
    let why = page.find("textbox", "Why, kept with the reading").await?;
    why.send_keys("a dent in the sheet, not in the aircraft\u{E007}")
        .await?;
    page.find("heading", "What was set aside").await?;
    page.shows("Dashed: as it was.").await?;
    assert!(count(page, ".other-state").await? > 0);
    assert!(count(page, ".other-comb[d]").await? > 0);
    // The keel comes down by what was planted there when the demo was made, but for what its neighbours can't know.
    let list = "return document.querySelector('.moves').innerText";
    let moves = page.script(list).await?;
    let moves = moves.as_str().unwrap_or_default();
    let keel = moves.split("STA 101, keel").nth(1).unwrap_or_default();
    let by = keel.split_whitespace().next().unwrap_or_default();
    let by: f64 = by.parse()?;
    assert!(keel.trim_start().contains("mm outward"), "{moves}");
    let planted = planted("101,keel")?;
    assert!(
        (by - planted).abs() < 3.2,
        "{by}, planted {planted}: {moves}"
    );
    for (theme, look) in [(Theme::Light, "light"), (Theme::Dark, "dark")] {
        page.prefer(theme).await?;
        page.drawn().await?;
        page.shoot(&format!("set-aside-{look}")).await?;
    }
    page.find("heading", "To settle 1").await?;
    page.shows("Fair within readings").await?;
    // Taken back, what stood before is drawn no longer.
    page.find("button", "Undo").await?.click().await?;
    page.until("nothing is drawn beside", async || {
        Ok((count(page, ".other-state").await? == 0).then_some(()))
    })
    .await?;
    assert_eq!(page.fingerprint().await?, read);
    page.find("button", "Redo").await?.click().await?;
    page.find("heading", "To settle 1").await?;
    Ok(())
}

/// How much too high a height of the demo was made, mm: the demo's own account of how it was made.
fn planted(which: &str) -> Result<f64, Fault> {
    let truth = String::from_utf8(crate::data("demo_truth.csv")?)?;
    let row = truth.lines().find(|row| row.starts_with(which));
    let cells: Vec<&str> = row.ok_or("the row")?.split(',').collect();
    Ok(cells.get(6).ok_or("its error")?.parse()?)
}

/// How many things the page draws by such a pen.
async fn count(page: &Page, pen: &str) -> Result<u64, Fault> {
    let all = format!(
        "return [...document.querySelectorAll('{pen}')].filter((thing) => thing.getAttribute('d') !== '').length"
    );
    Ok(page.script(&all).await?.as_u64().unwrap_or_default())
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
    all_is_found(&page).await?;
    page.shows("≈ Fair within readings").await?;
    assert_ne!(page.fingerprint().await?, first);
    // On from the list's head to the hollow, and what is proposed against it.
    tab_to(&page, "Try a batten").await?;
    page.press(ENTER).await?;
    page.find("heading", "A batten along keel").await?;
    // What its verdict goes by.
    back_to(&page, "✕ Unfair").await?;
    page.press(ENTER).await?;
    page.shows(
        "Somewhere along it the line must move 1.5 mm to be no longer hollow, 3.0 mm to be fair.",
    )
    .await?;
    tab_to(&page, "Leave it").await?;
    page.press(ENTER).await?;
    let put_right = page.fingerprint().await?;
    let undone = async || {
        page.chord("\u{E009}", "z").await?;
        page.find("heading", "To settle 2").await?;
        all_is_found(&page).await?;
        assert_eq!(page.fingerprint().await?, put_right);
        Ok::<(), Fault>(())
    };
    // Taken past a tolerance, by a tick and a reason.
    tab_to(&page, "Try a batten").await?;
    page.press(ENTER).await?;
    page.find("heading", "A batten along keel").await?;
    tab_to(&page, "Why those past their tolerance are overruled").await?;
    page.press("the sheet is torn there").await?;
    tab_to(&page, "Take STA 101, keel").await?;
    page.press(" ").await?;
    back_to(&page, "Take it").await?;
    page.press(ENTER).await?;
    page.shows("Done: A batten along keel.").await?;
    assert_ne!(page.fingerprint().await?, put_right);
    page.shows("overruled, z").await?;
    undone().await?;
    // Set aside.
    tab_to(&page, "Set these 16 aside").await?;
    page.press(ENTER).await?;
    tab_to(&page, "Why, kept with the reading").await?;
    page.press("a dent in the sheet").await?;
    page.press(ENTER).await?;
    page.find("heading", "What was set aside").await?;
    undone().await?;
    // The whole surface; what it goes by stands beside its button.
    page.shows("flattens full places, by up to about").await?;
    tab_to(&page, "Fair the whole surface").await?;
    page.press(ENTER).await?;
    page.find("heading", "The whole surface, faired").await?;
    page.shows(", holds back 100 %").await?;
    tab_to(&page, "Take it").await?;
    page.press(ENTER).await?;
    page.shows("Done: The whole surface, faired.").await?;
    undone().await?;
    page.chord("\u{E009}", "z").await?;
    page.find("heading", "To settle 3").await?;
    assert_eq!(page.fingerprint().await?, first);
    page.shows("reads 1-2-3").await
}

/// A batten along the keel: what lies past its tolerance is taken only with a tick and a reason, which the evidence keeps.
pub async fn a_batten_is_tried(page: Page) -> Result<(), Fault> {
    page.find("heading", "Hallowby Marram").await?;
    page.shows("needs 3.0, allowed 1.6 mm; hollow, STA 90–112")
        .await?;
    open_all(&page, ".verdict").await?;
    page.shows("STA 101 lies too far in: to move it mends most. Somewhere along it the line must move 1.5 mm to be no longer hollow, 3.0 mm to be fair.")
        .await?;
    // More turns may be allowed than the line's cubic has.
    page.choose("Turns allowed", "2 peaks").await?;
    page.shows("needs 1.5, allowed 1.6 mm").await?;
    page.choose("Turns allowed", "as usual").await?;
    page.shows("needs 3.0, allowed 1.6 mm").await?;
    revisions::freeze(&page, "as read").await?;

    let first = page.fingerprint().await?;
    for line in ["crown", "joint"] {
        assert_eq!(verdict_of(&page, line).await?, "≈ Fair within readings");
    }
    assert_eq!(verdict_of(&page, "keel").await?, "✕ Unfair");
    let top = "return document.querySelector('.lines-plan').getBoundingClientRect().top";
    let stood = page.script(top).await?;
    try_a_batten(&page).await?;
    page.find("heading", "A batten along keel").await?;
    page.shows("STA 101 lies too far in: to move it mends most.")
        .await?;
    page.shows("lie past their tolerance").await?;
    page.shows("Dashed: A batten along keel.").await?;
    assert!(count(&page, ".other-comb[d]").await? > 0);
    assert_eq!(page.script(top).await?, stood, "the plan stays where it is");
    for (theme, look) in [(Theme::Light, "light"), (Theme::Dark, "dark")] {
        page.prefer(theme).await?;
        page.drawn().await?;
        page.shoot(&format!("batten-desk-{look}")).await?;
    }
    page.show_on(Screen::Phone).await?;
    page.drawn().await?;
    page.shoot("batten-phone").await?;
    page.show_on(Screen::Desk).await?;
    page.find("button", "Put a duck down")
        .await?
        .click()
        .await?;
    page.shows("The proposal is worked out anew.").await?;
    page.until("no move at the duck", async || {
        let moves = page.names("checkbox").await?;
        let here = moves.iter().any(|name| name == "Take STA 101, keel");
        Ok((!here && moves.len() > 4).then_some(()))
    })
    .await?;
    page.find("button", "Undo").await?.click().await?;
    page.find("checkbox", "Take STA 101, keel").await?;
    over_some_stations(&page).await?;
    // Esc leaves it.
    page.press("\u{E00C}").await?;
    page.until("nothing is proposed", async || {
        let there = page.names("heading").await?;
        let gone = !there.iter().any(|name| name == "A batten along keel");
        Ok((gone && count(&page, ".other-state").await? == 0).then_some(()))
    })
    .await?;
    assert_eq!(page.fingerprint().await?, first);

    // Without a tick nothing moves that would lie past its tolerance.
    let keel = page.find("textbox", "Value").await?.prop("value").await?;
    try_a_batten(&page).await?;
    page.find("button", "Take it").await?.click().await?;
    page.until("what lies within is taken", async || {
        Ok((page.fingerprint().await? != first).then_some(()))
    })
    .await?;
    let stays = page.find("textbox", "Value").await?.prop("value").await?;
    assert_eq!(stays, keel);
    page.find("button", "Undo").await?.click().await?;
    taken_for_a_reason(&page, &first).await?;
    // Held against what was read, it says why, and what else was decided.
    page.find("button", "Put a duck down")
        .await?
        .click()
        .await?;
    page.choose("Turns allowed", "2 peaks").await?;
    revisions::compare_with(&page, "B").await?;
    page.shows("STA 101, keel: a duck put down.").await?;
    page.shows("Turns allowed to keel: 2 peaks, before the usual turns.")
        .await?;
    page.shows("Taken: A batten along keel").await?;
    page.shows("Why: the sheet is torn and taped there").await?;
    open_all(&page, ".taken details").await?;
    page.shows("STA 101, keel z −4.1 mm, past its tolerance")
        .await?;
    page.shoot("compare-taken").await?;
    page.find("button", "Close").await?.click().await?;
    for _ in 0..3 {
        page.find("button", "Undo").await?.click().await?;
    }
    page.until("as it was read", async || {
        Ok((page.fingerprint().await? == first).then_some(()))
    })
    .await
}

/// Tries a batten on the picked line by the card's button.
async fn try_a_batten(page: &Page) -> Result<(), Fault> {
    page.find_where("button", "a batten for the picked line", |name| {
        name == "Try a batten"
    })
    .await?
    .click()
    .await?;
    Ok(())
}

/// The batten laid over some stations only, and with an end held.
async fn over_some_stations(page: &Page) -> Result<(), Fault> {
    // Over some stations only; over too few nothing can be gained: that is said, and nothing is left to take.
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
    assert!(page.is_off("button", "Take it").await?, "nothing to take");
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
    Ok(())
}

/// A move past its tolerance: its reading is allowed more, or it is ticked with a reason.
async fn taken_for_a_reason(page: &Page, first: &str) -> Result<(), Fault> {
    try_a_batten(page).await?;
    // A reading may be allowed more, for a reason; the batten is then laid anew.
    page.find("button", "Change tolerance of STA 101, keel")
        .await?
        .click()
        .await?;
    page.find("dialog", "Tolerance: STA 101, keel").await?;
    page.find("textbox", "Why, kept with the reading")
        .await?
        .send_keys("a scrap says so\u{E007}")
        .await?;
    page.shows("within ±6.").await?;
    page.find("button", "Undo").await?.click().await?;
    assert_eq!(page.fingerprint().await?, first);
    try_a_batten(page).await?;
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
    page.shows("overruled, z −4.1 mm, past ±1.6: the sheet is torn and taped there")
        .await?;
    Ok(())
}

/// The verdict on a line, as the list of all lines has it once it is judged.
async fn verdict_of(page: &Page, line: &str) -> Result<String, Fault> {
    page.until("all is judged", async || {
        let count = page.script("return document.querySelector('.settle .count').textContent");
        let count = count.await?;
        let count = count.as_str().unwrap_or_default();
        Ok((!count.is_empty() && !count.starts_with("was")).then_some(()))
    })
    .await?;
    let script = format!(
        "const row = [...document.querySelectorAll('.verdicts li')].find((li) => li.querySelector('button').textContent === '{line}');
         return row?.querySelector('span').textContent ?? ''"
    );
    let says = page.script(&script).await?;
    Ok(says.as_str().unwrap_or_default().to_owned())
}

/// A body so large that its fairing takes a second or more: 72 stations of 51 points, read to a millimetre.
fn large_body() -> String {
    let levels: Vec<i32> = (0..48).map(|k| 250 + 640 * k / 47).collect();
    let names: Vec<String> = levels.iter().map(|z| format!("WL {z}")).collect();
    let mut table = format!("STA (mm);crown;{};side;keel\n", names.join(";"));
    let mut seed = 1_u32;
    let mut read = |exact: f64| {
        seed = seed.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        let off = f64::from(seed >> 16) / 65_536.0 - 0.5;
        format!("{:.1}", exact + 2.0 * off)
    };
    for i in 0..72 {
        let swell = geometry::num::sin(std::f64::consts::PI * f64::from(i) / 71.0);
        let (broad, tall) = (360.0 + 90.0 * swell, 350.0 + 40.0 * swell);
        let half = |z: i32| {
            let up = (f64::from(z) - 560.0) / tall;
            broad * (1.0 - up * up).sqrt()
        };
        let mut cells = vec![format!("{}", 100 * i), read(560.0 + tall)];
        cells.extend(levels.iter().map(|z| read(half(*z))));
        cells.push(format!("{}/560", read(broad)));
        cells.push(read(560.0 - tall));
        table += &cells.join(";");
        table.push('\n');
    }
    table
}

/// Opens what is folded away.
async fn open_all(page: &Page, which: &str) -> Result<(), Fault> {
    let open =
        format!("document.querySelectorAll('{which}').forEach((more) => {{ more.open = true; }})");
    page.script(&open).await?;
    Ok(())
}

/// A large body's verdicts stand as they are come to: some before the last, and the list says that it is not yet whole.
pub async fn judged_line_by_line(page: Page) -> Result<(), Fault> {
    page.find("heading", "To settle 3").await?;
    let file = page.folder("tables")?.join("large.csv");
    std::fs::write(&file, crate::lines::forty_by_forty())?;
    // A quick machine is soon done: what is shown after 0.4 s, or offered after two, is so at once.
    page.script(
        "const later = window.setTimeout;
         window.setTimeout = (what, ms, ...more) => later(what, ms === 400 || ms === 2000 ? 0 : ms, ...more);",
    )
    .await?;
    // However quick the worker, what it says comes one word to two frames, so that each is shown.
    page.script(
        "const waiting = [];
         const next = () => { waiting.shift()?.(); requestAnimationFrame(() => requestAnimationFrame(next)); };
         next();
         window.Worker = class extends window.Worker {
             set onmessage(hear) {
                 super.onmessage = hear && ((said) => waiting.push(() => super.onmessage && hear(said)));
             }
         };",
    )
    .await?;
    // The page itself keeps what it shows from each verdict to the next: a driver would look too seldom.
    page.script(
        "const settle = document.querySelector('.settle');
         window.seen = [];
         new MutationObserver(() => {
             const text = (where) => settle.querySelector(where)?.textContent ?? '';
             const verdicts = settle.querySelectorAll('.verdicts')[0];
             const names = [...verdicts.querySelectorAll('button')].map((button) => button.textContent);
             const words = [...verdicts.querySelectorAll('li > span:nth-child(2)')].map((word) => word.textContent);
             const now = { count: text('.count'), says: text('[role=status]'), names, words,
                 listed: text('summary'), rows: settle.querySelectorAll('ol > li').length };
             if (JSON.stringify(now) !== JSON.stringify(window.seen.at(-1))) window.seen.push(now);
         }).observe(settle, { subtree: true, childList: true, characterData: true });",
    )
    .await?;
    incoming::take_in_file(&page, &file).await?;
    page.find("heading", "large").await?;
    // Stopped, it stays as far as it has come; asked again, it goes through all.
    let stop = "const shown = () => [...document.querySelectorAll('.settle button')]
             .find((b) => b.textContent === 'Stop judging' && b.offsetParent);
         const began = performance.now();
         return new Promise((answered) => {
             const press = () => {
                 if (shown()) return answered(shown().click());
                 performance.now() - began > 15000 ? answered('no way to stop') : setTimeout(press, 20);
             };
             press();
         })";
    assert!(page.script(stop).await?.is_null(), "no way to stop");
    page.shows("Judging was stopped.").await?;
    page.find("button", "Judge them all").await?.click().await?;
    // One line alone may take longer than a thing of the page may.
    for _ in 0..8 {
        let some = page
            .until("a dozen lines", async || {
                Ok((count(&page, ".settle .verdicts li").await? > 12).then_some(()))
            })
            .await;
        if some.is_ok() {
            break;
        }
    }
    page.script("document.querySelectorAll('.settle details')[0].open = true")
        .await?;
    for (screen, size) in [(Screen::Desk, "desk"), (Screen::Phone, "phone")] {
        page.show_on(screen).await?;
        page.script("document.querySelector('.settle h2').scrollIntoView()")
            .await?;
        page.shoot(&format!("judged-so-far-{size}")).await?;
    }
    let seen = page.script("return window.seen").await?;
    let seen = seen.as_array().cloned().unwrap_or_default();
    let some = |now: &&serde_json::Value| {
        let names = now["names"].as_array().map_or(0, Vec::len);
        (1..40).contains(&names) && now["count"] == "" && now["rows"] == 0
    };
    let some: Vec<_> = seen.iter().filter(some).collect();
    say(&format!(
        "  {} states of a list that is not whole",
        some.len()
    ));
    assert!(some.len() > 2, "{seen:?}");
    let text = |now: &serde_json::Value, of: &str| now[of].as_str().unwrap_or_default().to_owned();
    for now in &some {
        assert_eq!(
            text(now, "listed"),
            "Lines as far as they are judged, the worst first"
        );
        // Nothing is left of the body that was open before.
        let words = now["words"].as_array().cloned().unwrap_or_default();
        let was = |word: &serde_json::Value| word.as_str().is_some_and(|w| w.starts_with("was"));
        assert!(!words.iter().any(was), "{now}");
    }
    let told = some.iter().any(|now| {
        let says = text(now, "says");
        says.contains(
            " of 40 lines are judged. What is to be settled is listed once all is judged.",
        )
    });
    assert!(told, "{some:?}");

    // An edit begins anew; what was found of the lines before it is not taken for theirs.
    page.show_on(Screen::Desk).await?;
    page.find("button", "Undo").await?.click().await?;
    page.find("heading", "To settle 3").await?;
    let whole = "return [document.querySelector('.settle summary').textContent,
        document.querySelectorAll('.settle .verdicts')[0].children.length]";
    let whole = page.script(whole).await?;
    assert_eq!(whole, serde_json::json!(["All lines, the worst first", 18]));
    Ok(())
}

/// Asks for the whole surface faired, and waits for what is proposed, in full.
async fn faired(page: &Page) -> Result<String, Fault> {
    page.find("button", "Fair the whole surface")
        .await?
        .click()
        .await?;
    // It takes longer than a thing of the page may.
    for _ in 0..8 {
        if page
            .find("heading", "The whole surface, faired")
            .await
            .is_ok()
        {
            break;
        }
    }
    open_all(page, ".proposed details").await?;
    let all = "const at = document.querySelector('.proposed');
         return [...at.querySelectorAll('p:not([role]), li')].map((part) => part.textContent).join('\\n')";
    let all = page.script(all).await?;
    Ok(all.as_str().unwrap_or_default().to_owned())
}

/// A long fairing is stopped while it runs: the page answers at once, nothing has changed, and begun again it
/// proposes what an unbroken one does.
pub async fn a_fairing_is_stopped(page: Page) -> Result<(), Fault> {
    page.find("heading", "Hallowby Marram").await?;
    let file = page.folder("tables")?.join("large.csv");
    std::fs::write(&file, large_body())?;
    incoming::take_in_file(&page, &file).await?;
    page.find("heading", "large").await?;
    // So many points are many things to look through; they are there, but not drawn.
    page.find("button", "Lines drawn").await?.click().await?;
    page.find("button", "none of the waterlines")
        .await?
        .click()
        .await?;
    page.find("button", "Close").await?.click().await?;
    let first = page.fingerprint().await?;
    let whole = faired(&page).await?;
    let moves = whole.matches("within ±").count();
    assert!(moves > 1000, "{moves} moves");
    page.find("button", "Leave it").await?.click().await?;
    // The page itself presses: a driver looks through so many points for longer than a fairing takes. A quick machine is
    // done before the two seconds after which stopping is offered: here they pass at once.
    let stop = "const later = window.setTimeout;
         window.setTimeout = (what, ms, ...more) => later(what, ms === 400 || ms === 2000 ? 0 : ms, ...more);
         const named = (name) => [...document.querySelectorAll('.said button, .settle button')].find((b) => b.textContent === name);
         const began = performance.now();
         named('Fair the whole surface').click();
         return new Promise((answered) => {
             const press = () => {
                 if (performance.now() - began > 15000) return answered('no way to stop');
                 if (!named('Stop')) return later(press);
                 const pressed = performance.now();
                 named('Stop').click();
                 const look = () => named('Stop') ? later(look) : answered(performance.now() - pressed);
                 look();
             };
             press();
         }).finally(() => { window.setTimeout = later; })";
    let told = page.script(stop).await?;
    let ms = told.as_f64().ok_or_else(|| told.to_string())?;
    say(&format!("  a fairing is stopped in {ms:.0} ms"));
    assert!(ms < 300.0, "answered after {ms} ms");
    assert_eq!(page.fingerprint().await?, first, "nothing has changed");
    assert!(!page.is_off("button", "Fair the whole surface").await?);
    assert_eq!(faired(&page).await?, whole, "as an unbroken one");
    page.find("button", "Leave it").await?.click().await?;
    assert_eq!(page.fingerprint().await?, first);
    Ok(())
}

/// How long it took until rows stood that were not there at `after`, by the page's clock, ms. A large body's take longer than a
/// thing of the page may.
async fn rows(page: &Page, after: &serde_json::Value) -> Result<serde_json::Value, Fault> {
    let look = format!(
        "const rows = performance.getEntriesByName('rows').find((e) => e.startTime + e.duration > {after});
         return rows ? Math.round(rows.duration) : null"
    );
    let look = async || {
        let ms = page.script(&look).await?;
        Ok((!ms.is_null()).then_some(ms))
    };
    let mut found = page.until("rows", look).await;
    for _ in 0..8 {
        if found.is_ok() {
            break;
        }
        found = page.until("rows", look).await;
    }
    found
}

/// What a person waits for: the first verdict, and the rows after an edit, on the demo and on a net of 40 × 40; and the longest
/// that the page was busy at one go while it opened.
pub async fn rows_stand_again(page: Page) -> Result<(), Fault> {
    page.find("heading", "Hallowby Marram").await?;
    all_is_found(&page).await?;
    let start = page
        .script(
            "const first = performance.getEntriesByName('first verdict')[0].duration;
             return new Promise((answered) => {
                 new PerformanceObserver((list) => {
                     const tasks = list.getEntries().filter((e) => e.startTime < first).map((e) => Math.round(e.duration));
                     answered([Math.round(first), tasks.sort((a, b) => b - a).slice(0, 5)]);
                 }).observe({ type: 'longtask', buffered: true });
             })",
        )
        .await?;
    say(&format!(
        "  first verdict, and the longest tasks until then: {start} ms"
    ));
    for name in ["16 × 14", "40 × 40"] {
        if name == "40 × 40" {
            let now = page.script("return performance.now()").await?;
            let table = page.folder("tables")?.join("forty by forty.csv");
            std::fs::write(&table, crate::lines::forty_by_forty())?;
            incoming::take_in_file(&page, &table).await?;
            page.find("heading", "forty by forty").await?;
            say(&format!(
                "  rows of a new body of {name}: {} ms",
                rows(&page, &now).await?
            ));
        }
        let mut took = Vec::new();
        for _ in 0..3 {
            let now = page.script("return performance.now()").await?;
            crate::keeping::edit(&page).await?;
            took.push(rows(&page, &now).await?);
        }
        say(&format!(
            "  from an edit to its rows at {name}: {took:?} ms"
        ));
    }
    Ok(())
}
