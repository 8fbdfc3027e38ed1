//! What a person relies on: each finished edit is on this device, in one tab's hand at a time, and is there again.

use std::collections::BTreeMap;
use std::path::Path;

use base64::{Engine, prelude::BASE64_STANDARD};
use geometry::document::read_folder;
use sha2::{Digest, Sha256};
use thirtyfour::WebElement;

use crate::browser::page::{Page, Screen, Theme};
use crate::browser::{Fault, say};
use crate::demo;
use crate::incoming::{choose_file, take_in_file};
use crate::lines::forty_by_forty;

/// The button that moves the picked reading one step up.
pub async fn more(page: &Page) -> Result<WebElement, Fault> {
    let more = |name: &str| name.starts_with("More by");
    page.find_where("button", "more", more).await
}

/// One edit, on this device.
pub async fn edit(page: &Page) -> Result<String, Fault> {
    let before = page.fingerprint().await?;
    more(page).await?.click().await?;
    let after = page.fingerprint().await?;
    assert_ne!(after, before);
    page.kept().await?;
    Ok(after)
}

/// The page is there, and shows these lines.
pub async fn opens_on(page: &Page, print: &str) -> Result<(), Fault> {
    page.find("heading", "Hallowby Marram").await?;
    assert_eq!(page.fingerprint().await?, print);
    Ok(())
}

/// Does something in the store where the work is kept, by the browser's own means.
pub async fn in_store(page: &Page, act: &str) -> Result<serde_json::Value, Fault> {
    page.script(&format!(
        "return (async () => {{
            const done = (request) => new Promise((yes, no) => {{ request.onsuccess = () => yes(request.result); request.onerror = () => no(request.error); }});
            const database = await done(indexedDB.open('scrieve-board/', 1));
            const transaction = database.transaction('kept', 'readwrite');
            const complete = new Promise((yes, no) => {{ transaction.oncomplete = yes; transaction.onabort = no; }});
            const store = transaction.objectStore('kept');
            const answer = await (async () => {{ {act} }})();
            await complete;
            database.close();
            return answer;
        }})()"
    ))
    .await
}

/// An edit, an undo and a file taken in are there when the page is loaded again; a gesture that is not finished is not.
pub async fn opened_again(page: Page) -> Result<(), Fault> {
    page.find("heading", "Hallowby Marram").await?;
    let first = page.fingerprint().await?;
    assert!(!page.asks_before_leaving().await?, "nothing was done");
    page.shows("An example:").await?;
    page.shows("Begin with “To settle”, or").await?;
    // Asked at once, for a write takes some milliseconds only.
    let asked = page
        .driver
        .execute(
            "arguments[0].click();
            return new Promise((told) => setTimeout(() => told(!dispatchEvent(new Event('beforeunload', { cancelable: true })))))",
            vec![more(&page).await?.to_json()?],
        )
        .await?;
    assert_eq!(asked.json(), true, "the step is not yet on this device");
    page.kept().await?;
    page.shows("Saved on this device").await?;
    let edited = page.fingerprint().await?;
    assert_ne!(edited, first);
    page.shoot_looks("kept").await?;

    page.shows_no_longer("An example:").await?;
    page.shows_no_longer("Begin with “To settle”, or").await?;
    page.load_again().await?;
    opens_on(&page, &edited).await?;
    page.shows("Start your own").await?;
    page.shows_no_longer("An example:").await?;
    page.shows_no_longer("Begin with “To settle”, or").await?;
    page.shows("Saved on this device").await?;
    let ready = page.ready().await?;
    let read = page
        .script("return Math.round(performance.getEntriesByName('opening')[0].duration)")
        .await?;
    say(&format!(
        "  ready with kept work, and of that to read it: {ready}, {read} ms"
    ));
    let again = edit(&page).await?;
    page.find("button", "Undo").await?.click().await?;
    assert_eq!(page.fingerprint().await?, edited);
    page.kept().await?;
    page.load_again().await?;
    opens_on(&page, &edited).await?;

    // A gesture: the point is lifted and moved, and not put down.
    let keel = |name: &str| name.starts_with("Keel, station 101, ");
    let keel = page.find_where("button", "a keel point", keel).await?;
    let value = async || -> Result<Option<String>, Fault> {
        Ok(page.find("textbox", "Value").await?.prop("value").await?)
    };
    let stands = value().await?;
    page.press_beside(&keel, 0, 0).await?;
    page.press("\u{E007}").await?; // Enter
    for _ in 0..4 {
        page.chord("\u{E008}", "\u{E013}").await?; // Shift up
    }
    assert_ne!(value().await?, stands, "a draft");
    assert!(
        !page.asks_before_leaving().await?,
        "nothing finished is lost"
    );
    page.load_again().await?;
    opens_on(&page, &edited).await?;
    assert_eq!(value().await?, stands, "the draft is not kept");
    assert_ne!(edited, again);

    let file = page.folder("kept")?.join("other.json");
    let mut other = read_folder(include_bytes!("../../public/demo/marram.json"))?;
    other.lines.about.title = "Otherwise".to_owned();
    std::fs::write(&file, geometry::document::write_folder(&other))?;
    choose_file(&page, &file).await?;
    page.find("heading", "Otherwise").await?;
    page.kept().await?;
    page.load_again().await?;
    page.find("heading", "Otherwise").await?;
    let text = page.script("return document.body.innerText").await?;
    let text = text.as_str().unwrap_or_default();
    assert!(!text.contains("Start your own"), "no example any more");
    Ok(())
}

/// Notes the memory of each program that the page starts.
const NOTE_MEMORY: &str = "window.memories = [];
    for (const name of ['instantiate', 'instantiateStreaming']) {
        const start = WebAssembly[name];
        WebAssembly[name] = async (...what) => {
            const made = await start.apply(WebAssembly, what);
            window.memories.push((made.instance ?? made).exports.memory);
            return made;
        };
    }";

/// What the page's memory is at, MB: the script's and the program's.
async fn memory(page: &Page) -> Result<[f64; 2], Fault> {
    let bytes = page
        .script("return [performance.memory.usedJSHeapSize, window.memories[0].buffer.byteLength]")
        .await?;
    let mega = |k: usize| bytes[k].as_f64().unwrap_or_default() / 1e6;
    Ok([mega(0), mega(1)])
}

/// Presses a button so many times, and lets the page do what follows from each.
pub async fn press_often(page: &Page, button: &WebElement, times: usize) -> Result<(), Fault> {
    const AT_ONCE: usize = 25;
    let script = "const [button, times] = arguments;
        return (async () => {
            for (let i = 0; i < times; i += 1) {
                button.click();
                await new Promise((go) => { const { port1, port2 } = new MessageChannel(); port1.onmessage = go; port2.postMessage(0); });
            }
        })()";
    for done in (0..times).step_by(AT_ONCE) {
        let now = AT_ONCE.min(times - done);
        let handed = vec![button.to_json()?, now.into()];
        page.driver.execute(script, handed).await?;
    }
    Ok(())
}

/// Two hundred edits and as many undos give the lines of the beginning; the count of edits in no file goes along, and
/// over loading again; memory does not run away.
pub async fn edits_and_back(page: Page) -> Result<(), Fault> {
    page.find("heading", "Hallowby Marram").await?;
    let note = page.before_all(NOTE_MEMORY).await?;
    page.open_afresh("/").await?;
    page.find("heading", "Hallowby Marram").await?;
    page.before_all_no_more(&note).await?;
    let first = page.fingerprint().await?;
    let before = memory(&page).await?;
    let (up, down) = (more(&page).await?, {
        let less = |name: &str| name.starts_with("Less by");
        page.find_where("button", "less", less).await?
    });
    press_often(&page, &up, 19).await?;
    page.kept().await?;
    let text = page.script("return document.body.innerText").await?;
    assert!(!text.as_str().unwrap_or_default().contains("to a file for"));
    press_often(&page, &down, 31).await?;
    page.shows("not saved to a file for 50 edits").await?;
    for (name, screen) in [("desk", Screen::Desk), ("phone", Screen::Phone)] {
        page.show_on(screen).await?;
        page.drawn().await?;
        page.shoot(&format!("many-edits-{name}")).await?;
    }
    page.show_on(Screen::Desk).await?;
    page.cdp(
        "Emulation.setDeviceMetricsOverride",
        serde_json::json!({ "width": 1200, "height": 800, "deviceScaleFactor": 1, "mobile": false }),
    )
    .await?;
    page.drawn().await?;
    page.shoot("many-edits-narrowest-desk").await?;
    let wide = page
        .script("return document.documentElement.scrollWidth - innerWidth")
        .await?;
    assert_eq!(wide, 0, "the header fits");
    page.show_on(Screen::Desk).await?;
    for _ in 0..3 {
        press_often(&page, &up, 25).await?;
        press_often(&page, &down, 25).await?;
    }
    page.shows("not saved to a file for 200 edits").await?;
    let undo = page.find("button", "Undo").await?;
    press_often(&page, &undo, 200).await?;
    assert_eq!(page.fingerprint().await?, first);
    assert!(page.is_off("button", "Undo").await?);
    page.kept().await?;
    let redo = page.find("button", "Redo").await?;
    press_often(&page, &redo, 200).await?;
    for _ in 0..3 {
        press_often(&page, &up, 50).await?;
        press_often(&page, &down, 50).await?;
    }
    page.shows("not saved to a file for 500 edits").await?;
    page.kept().await?;
    let after = memory(&page).await?;
    let cost = cost(&page).await?;
    say(&format!(
        "  memory of script and program {before:.1?} MB, after 500 edits and 200 undos {after:.1?} MB; a write: script, in all {cost} ms"
    ));
    assert!(after[0] < before[0] + 50.0, "the script's memory runs away");
    assert!(
        after[1] < before[1] + 10.0,
        "the program's memory runs away"
    );

    let standing = page.fingerprint().await?;
    page.load_again().await?;
    opens_on(&page, &standing).await?;
    page.shows("not saved to a file for 500 edits").await?;
    page.find("button", "Save").await?.click().await?;
    page.downloaded("Hallowby-Marram.json").await?;
    let text = page.script("return document.body.innerText").await?;
    assert!(!text.as_str().unwrap_or_default().contains("to a file for"));
    page.kept().await?;
    page.load_again().await?;
    opens_on(&page, &standing).await?;
    let text = page.script("return document.body.innerText").await?;
    assert!(!text.as_str().unwrap_or_default().contains("to a file for"));
    Ok(())
}

/// What the last write cost, ms: the script before it, and all until it was on the device.
async fn cost(page: &Page) -> Result<serde_json::Value, Fault> {
    page.script(
        "return ['keeping', 'kept'].map((name) => Number(performance.getEntriesByName(name)[0].duration.toFixed(1)))",
    )
    .await
}

/// What a write costs with 1,600 readings; it is no part of the edit's own script.
pub async fn a_write_is_cheap(page: Page) -> Result<(), Fault> {
    page.find("heading", "Hallowby Marram").await?;
    let table = page.folder("tables")?.join("forty by forty.csv");
    std::fs::write(&table, forty_by_forty())?;
    take_in_file(&page, &table).await?;
    page.find("heading", "forty by forty").await?;
    page.kept().await?;
    let mut scripts = Vec::new();
    for _ in 0..5 {
        edit(&page).await?;
        let cost = cost(&page).await?;
        say(&format!("  a write at 40 × 40: script, in all {cost} ms"));
        scripts.push(cost[0].as_f64().unwrap_or(f64::INFINITY));
    }
    scripts.sort_by(f64::total_cmp);
    assert!(scripts[2] < 50.0, "{scripts:?}");
    Ok(())
}

/// A tab that dies takes nothing with it that was finished.
pub async fn a_killed_tab(page: Page) -> Result<(), Fault> {
    page.find("heading", "Hallowby Marram").await?;
    page.driver.goto("about:blank").await?;
    let [first, _] = page.second_tab().await?;
    page.open("/").await?;
    page.find("heading", "Hallowby Marram").await?;
    let print = edit(&page).await?;
    page.kill_tab().await?;
    page.driver.switch_to_window(first).await?;
    page.open("/").await?;
    opens_on(&page, &print).await?;
    edit(&page).await?;
    Ok(())
}

/// Kept work that can't be read: the demo opens, it is said, handed over, put aside and only deleted when asked to.
pub async fn damaged(page: Page) -> Result<(), Fault> {
    page.find("heading", "Hallowby Marram").await?;
    let first = page.fingerprint().await?;
    edit(&page).await?;
    in_store(
        &page,
        "const work = await done(store.get('work'));
         work.bytes = work.bytes.slice(0, work.bytes.length / 2);
         await done(store.put(work, 'work'));",
    )
    .await?;
    page.load_again().await?;
    opens_on(&page, &first).await?;
    page.shows("can't be read").await?;
    page.shows("cut off").await?;
    page.find("region", "Kept work").await?;
    page.shoot("kept-damaged-desk").await?;
    page.show_on(Screen::Phone).await?;
    page.shoot("kept-damaged-phone").await?;
    page.show_on(Screen::Desk).await?;
    assert!(!page.asks_before_leaving().await?);

    // To go on puts it aside, and loses nothing.
    let print = edit(&page).await?;
    page.load_again().await?;
    opens_on(&page, &print).await?;
    page.find("button", "Save what was kept")
        .await?
        .click()
        .await?;
    let bytes = page.downloaded("kept-lines.json").await?;
    assert!(bytes.starts_with(b"{\"schema\""), "the half that is left");
    assert!(read_folder(&bytes).is_err());
    page.find("button", "Delete it here").await?.click().await?;
    page.until("no bar", async || {
        let bars = page.names("region").await?;
        Ok((!bars.iter().any(|name| name == "Kept work")).then_some(()))
    })
    .await?;
    page.load_again().await?;
    opens_on(&page, &print).await?;
    assert!(
        !page
            .names("region")
            .await?
            .iter()
            .any(|name| name == "Kept work")
    );

    // A newer program's work, and something that is no work at all; deleted without going on.
    in_store(
        &page,
        "const work = await done(store.get('work'));
         const text = new TextDecoder().decode(work.bytes);
         work.bytes = new TextEncoder().encode(text.replace(/\"schema\":[0-9]+/, '\"schema\":99'));
         await done(store.put(work, 'work'));",
    )
    .await?;
    page.load_again().await?;
    opens_on(&page, &first).await?;
    page.shows("newer Scrieve Board").await?;
    in_store(&page, "await done(store.put('what', 'work'));").await?;
    page.load_again().await?;
    opens_on(&page, &first).await?;
    page.find("button", "Save what was kept")
        .await?
        .click()
        .await?;
    assert_eq!(page.downloaded("kept-lines.json").await?, b"");
    page.find("button", "Delete it here").await?.click().await?;
    let print = edit(&page).await?;
    page.load_again().await?;
    opens_on(&page, &print).await
}

/// Whether the bar of kept work that can't be read is shown.
async fn unread_bar(page: &Page) -> Result<bool, Fault> {
    let bars = page.names("region").await?;
    Ok(bars.iter().any(|name| name == "Kept work"))
}

/// Kept work that can't be read is deleted by the tab whose turn it is only, and only while it stands there.
pub async fn damaged_in_two_tabs(page: Page) -> Result<(), Fault> {
    const SPOIL: &str = "const work = await done(store.get('work'));
         work.bytes = work.bytes.slice(0, work.bytes.length / 2);
         await done(store.put(work, 'work'));";
    page.find("heading", "Hallowby Marram").await?;
    edit(&page).await?;
    in_store(&page, SPOIL).await?;
    page.load_again().await?;
    page.find("region", "Kept work").await?;
    let [first, second] = page.second_tab().await?;
    page.open("/").await?;
    page.find("region", "Open in another tab").await?;
    page.find("button", "Save what was kept")
        .await?
        .click()
        .await?;
    page.downloaded("kept-lines.json").await?;
    page.find("button", "Delete it here").await?.click().await?;
    page.shows("nothing is deleted here").await?;
    assert!(unread_bar(&page).await?);

    // Taken over, and back: it is told of once.
    page.find("button", "Take over").await?.click().await?;
    page.shows("Taken over").await?;
    let mut bars = page.names("region").await?;
    bars.retain(|name| name == "Kept work");
    assert_eq!(bars.len(), 1);
    page.driver.switch_to_window(first.clone()).await?;
    page.find("button", "Take over").await?.click().await?;
    page.shows("Taken over").await?;
    page.driver.switch_to_window(second.clone()).await?;
    page.find("region", "Open in another tab").await?;

    // The first goes on: it is put aside there, and the second has nothing to delete any more.
    page.driver.switch_to_window(first.clone()).await?;
    let print = edit(&page).await?;
    page.driver.switch_to_window(second.clone()).await?;
    page.until("no bar", async || {
        Ok((!unread_bar(&page).await?).then_some(()))
    })
    .await?;
    page.driver.close_window().await?;
    page.driver.switch_to_window(first).await?;
    page.load_again().await?;
    opens_on(&page, &print).await?;

    // Other work stands there by the time it is deleted.
    in_store(&page, SPOIL).await?;
    page.load_again().await?;
    page.find("region", "Kept work").await?;
    let good = in_store(
        &page,
        "const work = await done(store.get('work'));
         work.bytes = new Uint8Array([...work.bytes, 32]);
         await done(store.put(work, 'work'));
         return work.bytes.length;",
    )
    .await?;
    // Its bar is the first; what was put aside before has one of its own.
    page.find("button", "Save what was kept")
        .await?
        .click()
        .await?;
    page.downloaded("kept-lines.json").await?;
    page.find("button", "Delete it here").await?.click().await?;
    page.shows("was not deleted").await?;
    let left = async || {
        in_store(
            &page,
            "return (await done(store.get('work'))).bytes.length;",
        )
        .await
    };
    assert_eq!(left().await?, good);
    // Nor is it put aside and written over.
    more(&page).await?.click().await?;
    page.shows("another tab has saved these lines since")
        .await?;
    assert_eq!(left().await?, good);
    Ok(())
}

/// No room: said aloud until there is room again.
pub async fn storage_is_full(page: Page) -> Result<(), Fault> {
    page.find("heading", "Hallowby Marram").await?;
    let print = page.fingerprint().await?;
    page.limit_storage(Some(100)).await?;
    more(&page).await?.click().await?;
    page.shows("Not saved on this device: its storage is full. Save a file now.")
        .await?;
    page.find_where("alert", "storage is full", |_| true)
        .await?;
    assert!(page.asks_before_leaving().await?);
    for (name, screen, theme) in [
        ("desk-light", Screen::Desk, Theme::Light),
        ("desk-dark", Screen::Desk, Theme::Dark),
        ("phone-light", Screen::Phone, Theme::Light),
    ] {
        page.show_on(screen).await?;
        page.prefer(theme).await?;
        page.drawn().await?;
        page.shoot(&format!("storage-full-{name}")).await?;
    }
    page.show_on(Screen::Desk).await?;
    let standing = page.fingerprint().await?;
    assert_ne!(standing, print);
    page.find("button", "Save a file").await?.click().await?;
    let saved = read_folder(&page.downloaded("Hallowby-Marram.json").await?)?;
    assert!(standing.ends_with(&saved.lines.fingerprint().short()));

    page.limit_storage(None).await?;
    let print = edit(&page).await?;
    page.until("no alert", async || {
        let text = page.script("return document.body.innerText").await?;
        Ok((!text.as_str().unwrap_or_default().contains("Not saved")).then_some(()))
    })
    .await?;
    page.load_again().await?;
    opens_on(&page, &print).await
}

/// A browser that gives no storage, and one that takes it away underneath.
pub async fn storage_is_refused(page: Page) -> Result<(), Fault> {
    page.find("heading", "Hallowby Marram").await?;
    let print = edit(&page).await?;
    // As if its person had cleared it while the page is open.
    page.clear_storage().await?;
    more(&page).await?.click().await?;
    page.kept().await?;
    let standing = page.fingerprint().await?;
    assert_ne!(standing, print);
    page.load_again().await?;
    opens_on(&page, &standing).await?;

    let script = page
        .before_all("Object.defineProperty(IDBFactory.prototype, 'open', { value() { throw new DOMException('not here', 'SecurityError'); } });")
        .await?;
    page.load_again().await?;
    page.find("heading", "Hallowby Marram").await?;
    page.shows("Not saved on this device: the browser refuses its storage")
        .await?;
    page.shoot("storage-refused").await?;
    more(&page).await?.click().await?;
    assert!(page.asks_before_leaving().await?);
    page.before_all_no_more(&script).await?;
    page.load_again().await?;
    opens_on(&page, &standing).await?;

    // One that does not answer, and then does.
    page.script(
        "window.answers = IDBDatabase.prototype.transaction;
         IDBDatabase.prototype.transaction = function (...what) { const t = window.answers.apply(this, what); t.objectStore = () => ({ get: () => ({}) }); return t; };",
    )
    .await?;
    more(&page).await?.click().await?;
    page.shows("it does not answer").await?;
    page.script("IDBDatabase.prototype.transaction = window.answers")
        .await?;
    let standing = edit(&page).await?;
    page.load_again().await?;
    opens_on(&page, &standing).await
}

/// Only one of two tabs changes the work; the other shows it, takes it over, and gets it when the first is closed.
pub async fn two_tabs(page: Page) -> Result<(), Fault> {
    page.find("heading", "Hallowby Marram").await?;
    let one = edit(&page).await?;
    let [first, second] = page.second_tab().await?;
    page.show_on(Screen::Desk).await?;
    page.open("/").await?;
    opens_on(&page, &one).await?;
    page.find("region", "Open in another tab").await?;
    page.shoot_looks("two-tabs").await?;
    assert!(!more(&page).await?.is_enabled().await?, "to look at only");
    let keel = |name: &str| name.starts_with("Keel, station 101, ");
    let keel = page.find_where("button", "a keel point", keel).await?;
    page.drag(&keel, 0, -30).await?;
    page.shows("These lines are open in another tab; here they are to look at. Take over")
        .await?;
    assert_eq!(page.fingerprint().await?, one);
    page.close_notes().await?;

    // What the first keeps is shown in the second.
    page.driver.switch_to_window(first.clone()).await?;
    let two = edit(&page).await?;
    page.driver.switch_to_window(second.clone()).await?;
    let shown = async |print: &str| {
        page.until("the other tab's lines", async || {
            Ok((page.fingerprint().await? == print).then_some(()))
        })
        .await
    };
    shown(&two).await?;

    // Taken over, with a step of the first that may not be on the device yet.
    page.driver.switch_to_window(first.clone()).await?;
    more(&page).await?.click().await?;
    let three = page.fingerprint().await?;
    page.driver.switch_to_window(second.clone()).await?;
    page.find("button", "Take over").await?.click().await?;
    page.shows("Taken over").await?;
    assert_eq!(page.fingerprint().await?, three);
    let four = edit(&page).await?;
    page.driver.switch_to_window(first.clone()).await?;
    page.shows("Another tab has taken these lines over").await?;
    shown(&four).await?;
    assert!(!more(&page).await?.is_enabled().await?);
    page.shoot("two-tabs-taken").await?;

    // The second is closed: the first has its turn again by itself.
    page.driver.switch_to_window(second).await?;
    page.driver.close_window().await?;
    page.driver.switch_to_window(first).await?;
    page.shows("The other tab has let these lines go").await?;
    assert_eq!(page.fingerprint().await?, four);
    let five = edit(&page).await?;
    page.load_again().await?;
    opens_on(&page, &five).await?;
    assert!(
        page.names("region")
            .await?
            .iter()
            .all(|name| name != "Open in another tab"),
        "a page that is loaded again has its turn"
    );
    assert!(!five.ends_with(&demo()?.fingerprint().short()));
    Ok(())
}

/// A browser without locks: what one tab has saved is not overwritten by the other.
pub async fn two_tabs_without_locks(page: Page) -> Result<(), Fault> {
    const NONE: &str = "Object.defineProperty(Navigator.prototype, 'locks', { value: undefined });";
    page.find("heading", "Hallowby Marram").await?;
    let script = page.before_all(NONE).await?;
    page.open_afresh("/").await?;
    page.find("heading", "Hallowby Marram").await?;
    edit(&page).await?;
    let [first, second] = page.second_tab().await?;
    page.before_all(NONE).await?;
    page.open("/").await?;
    page.find("heading", "Hallowby Marram").await?;
    let newest = edit(&page).await?;
    page.driver.switch_to_window(first.clone()).await?;
    more(&page).await?.click().await?;
    page.shows("another tab has saved these lines since")
        .await?;
    page.shoot("two-tabs-moved").await?;
    page.find("button", "Save a file").await?.click().await?;
    page.downloaded("Hallowby-Marram.json").await?;
    assert!(page.asks_before_leaving().await?);
    page.driver.switch_to_window(second).await?;
    page.driver.close_window().await?;
    page.driver.switch_to_window(first).await?;
    page.load_again().await?;
    opens_on(&page, &newest).await?;
    page.before_all_no_more(&script).await
}

/// The list of files in the script that keeps the app, each with its hash.
fn listed(folder: &Path) -> Result<BTreeMap<String, String>, Fault> {
    let text = std::fs::read_to_string(folder.join("sw.js"))?;
    let (_, rest) = text.split_once("const FILES = ").ok_or("no list")?;
    let (list, _) = rest.split_once(";\n").ok_or("the list does not end")?;
    Ok(serde_json::from_str(&list.replace(",\n}", "\n}"))?)
}

/// All files of a folder, as its host calls them.
pub fn files(folder: &Path, before: &str) -> Result<Vec<String>, Fault> {
    let mut found = Vec::new();
    for entry in std::fs::read_dir(folder)? {
        let entry = entry?;
        let name = format!("{before}{}", entry.file_name().to_string_lossy());
        if entry.path().is_dir() {
            found.extend(files(&entry.path(), &format!("{name}/"))?);
        } else {
            found.push(name);
        }
    }
    Ok(found)
}

fn hash(bytes: &[u8]) -> String {
    format!("sha256-{}", BASE64_STANDARD.encode(Sha256::digest(bytes)))
}

/// All that was built is kept; without a network the page opens, edits, saves, and makes files by its worker.
pub async fn without_a_network(page: Page) -> Result<(), Fault> {
    let list = listed(page.built())?;
    let mut built = files(page.built(), "")?;
    built.retain(|name| name != "sw.js");
    for name in &built {
        let kept = if name == "index.html" { "" } else { name };
        let bytes = std::fs::read(page.built().join(name))?;
        assert_eq!(list.get(kept), Some(&hash(&bytes)), "{name}");
    }
    assert_eq!(list.len(), built.len());

    page.open_kept().await?;
    let kept = page
        .script("return caches.keys().then(async (names) => [names.length, (await (await caches.open(names[0])).keys()).length])")
        .await?;
    assert_eq!(kept, serde_json::json!([1, list.len()]));
    page.find("heading", "Hallowby Marram").await?;
    let print = edit(&page).await?;

    page.serve(None);
    page.load_again().await?;
    opens_on(&page, &print).await?;
    let print = edit(&page).await?;
    page.find("button", "Save").await?.click().await?;
    let saved = read_folder(&page.downloaded("Hallowby-Marram.json").await?)?;
    assert!(print.ends_with(&saved.lines.fingerprint().short()));
    page.find("button", "Offsets table").await?.click().await?;
    page.find("button", "Save as CSV").await?.click().await?;
    page.downloaded("Hallowby-Marram-offsets-in-feet-inches-eighths.csv")
        .await?;
    page.find("button", "Close").await?.click().await?;
    // Each piece of the page is kept.
    page.find("button", "Help").await?.click().await?;
    page.find("dialog", "Help").await?;
    page.find("button", "Close").await?.click().await?;
    page.find("button", "Evidence").await?.click().await?;
    page.find("grid", "Offsets as they were read").await?;
    page.find("button", "Shell").await?.click().await?;
    page.find("heading", "Shade by").await?;
    page.load_again().await?;
    opens_on(&page, &print).await
}

/// A newer version is offered, used when asked for, and the work is still there.
pub async fn a_newer_version(page: Page) -> Result<(), Fault> {
    page.open_kept().await?;
    page.find("heading", "Hallowby Marram").await?;
    let print = edit(&page).await?;

    let newer = page.folder("newer")?;
    for name in files(page.built(), "")? {
        let to = newer.join(&name);
        std::fs::create_dir_all(to.parent().ok_or("no folder")?)?;
        std::fs::copy(page.built().join(&name), to)?;
    }
    let old = std::fs::read_to_string(newer.join("index.html"))?;
    let new = old.replace("Lofts a one-off", "Lofts, since today, a one-off");
    assert_ne!(old, new);
    std::fs::write(newer.join("index.html"), &new)?;
    let keeper = std::fs::read_to_string(newer.join("sw.js"))?;
    let keeper = keeper.replace(&hash(old.as_bytes()), &hash(new.as_bytes()));
    let (_, rest) = keeper.split_once("BUILD = \"").ok_or("no stamp")?;
    let stamp = rest[..10].to_owned();
    std::fs::write(newer.join("sw.js"), keeper.replace(&stamp, "0123456789"))?;
    page.serve(Some(newer));

    page.load_again().await?;
    opens_on(&page, &print).await?;
    page.shows("A newer version is ready.").await?;
    let is_new = async || -> Result<bool, Fault> {
        let text = page
            .script("return document.querySelector('meta[name=description]').content")
            .await?;
        Ok(text
            .as_str()
            .is_some_and(|text| text.contains("since today")))
    };
    assert!(!is_new().await?, "the old one until it is asked for");
    for (name, screen, theme) in [
        ("desk-light", Screen::Desk, Theme::Light),
        ("phone-dark", Screen::Phone, Theme::Dark),
    ] {
        page.show_on(screen).await?;
        page.prefer(theme).await?;
        page.drawn().await?;
        page.shoot(&format!("newer-{name}")).await?;
    }
    page.show_on(Screen::Desk).await?;
    page.find("button", "Later").await?.click().await?;
    assert!(
        !page
            .names("region")
            .await?
            .iter()
            .any(|name| name == "Newer version")
    );
    page.load_again().await?;
    page.shows("A newer version is ready.").await?;

    // A step that may not be on the device yet goes along.
    more(&page).await?.click().await?;
    let print = page.fingerprint().await?;
    page.find("button", "Use it now").await?.click().await?;
    page.until("the newer version", async || {
        Ok(is_new().await.unwrap_or(false).then_some(()))
    })
    .await?;
    opens_on(&page, &print).await?;
    let kept = page.script("return caches.keys()").await?;
    let kept = kept.as_array().ok_or("no caches")?;
    assert_eq!(kept.len(), 1, "{kept:?}");
    assert!(
        kept[0]
            .as_str()
            .is_some_and(|name| name.ends_with("0123456789"))
    );
    Ok(())
}

/// Nothing gets out: each way is refused by the page's own policy.
pub async fn nothing_gets_out(page: Page) -> Result<(), Fault> {
    page.find("heading", "Hallowby Marram").await?;
    for (way, directive) in [
        (
            "fetch('https://outside.example/').catch(() => 0)",
            "connect-src",
        ),
        (
            "navigator.sendBeacon('https://outside.example/', 'lines')",
            "connect-src",
        ),
        ("new WebSocket('wss://outside.example/')", "connect-src"),
        (
            "new Image().src = 'https://outside.example/lines.png'",
            "img-src",
        ),
        (
            "document.body.append(Object.assign(document.createElement('iframe'), { src: 'https://outside.example/' }))",
            "frame-src",
        ),
        (
            "document.body.append(Object.assign(document.createElement('script'), { src: 'https://outside.example/a.js' }))",
            "script-src-elem",
        ),
        (
            "const f = Object.assign(document.createElement('form'), { action: 'https://outside.example/' }); document.body.append(f); f.submit()",
            "form-action",
        ),
    ] {
        let refused = page
            .script(&format!(
                "return new Promise((told) => {{
                    addEventListener('securitypolicyviolation', (event) => told(event.effectiveDirective), {{ once: true }});
                    setTimeout(() => told('nothing'), 3000);
                    try {{ {way} }} catch {{}}
                }})"
            ))
            .await?;
        assert_eq!(refused, directive, "{way}");
        let left = async || -> Result<Option<String>, Fault> {
            let faults = page.faults().await?;
            let mut left = faults.into_iter();
            Ok(left.find(|fault| fault.starts_with("left the origin")))
        };
        // Where a frame or a form would lead, Chromium knocks before it asks the policy, and then says nothing there. The knock
        // may come later than the refusal, and is not to be taken for that of the next way.
        if matches!(directive, "frame-src" | "form-action") {
            page.until("the knock", left).await?;
        } else {
            assert_eq!(left().await?, None, "{way}");
        }
    }
    Ok(())
}

/// What a browser asks of a page that can be installed: a manifest, and its pictures in the sizes it says.
pub async fn can_be_installed(page: Page) -> Result<(), Fault> {
    page.find("heading", "Hallowby Marram").await?;
    let found = page
        .cdp("Page.getAppManifest", serde_json::json!({}))
        .await?;
    assert_eq!(found["errors"], serde_json::json!([]));
    let text = found["data"].as_str().ok_or("no manifest")?;
    let manifest: serde_json::Value = serde_json::from_str(text)?;
    let icons = manifest["icons"].as_array().ok_or("no icons")?;
    let mut sizes = Vec::new();
    for icon in icons.iter().filter(|icon| icon["type"] == "image/png") {
        let name = icon["src"].as_str().ok_or("no name")?;
        let bytes = std::fs::read(page.built().join(name))?;
        let side = |at: usize| -> Result<u32, Fault> {
            Ok(u32::from_be_bytes(bytes[at..at + 4].try_into()?))
        };
        sizes.push(format!("{}x{}", side(16)?, side(20)?));
        assert_eq!(icon["sizes"], sizes[sizes.len() - 1].as_str(), "{name}");
    }
    assert_eq!(sizes, ["192x192", "512x512", "512x512"]);
    assert!(icons.iter().any(|icon| icon["purpose"] == "maskable"));
    let wrong = page
        .cdp("Page.getInstallabilityErrors", serde_json::json!({}))
        .await?;
    say(&format!(
        "  against installing: {}",
        wrong["installabilityErrors"]
    ));
    Ok(())
}
