//! Whose turn it is to change the lines, where tabs come and go.

use crate::browser::page::Page;
use crate::browser::{Fault, say};
use crate::keeping::{edit, opens_on};

/// A tab that has taken the turn over keeps it when its page is loaded again, and the other says nothing untrue.
pub async fn kept_over_loading_again(page: Page) -> Result<(), Fault> {
    page.find("heading", "Hallowby Marram").await?;
    edit(&page).await?;
    let [first, second] = page.second_tab().await?;
    page.open("/").await?;
    page.find("button", "Take over").await?.click().await?;
    page.shows("Taken over").await?;
    let print = edit(&page).await?;
    for _ in 0..2 {
        page.load_again().await?;
        opens_on(&page, &print).await?;
        let bars = page.names("region").await?;
        assert!(bars.iter().all(|name| name != "Open in another tab"));
    }
    let print = edit(&page).await?;
    page.driver.switch_to_window(first).await?;
    page.find("region", "Open in another tab").await?;
    page.until("the other tab's lines", async || {
        Ok((page.fingerprint().await? == print).then_some(()))
    })
    .await?;
    let text = page.script("return document.body.innerText").await?;
    let text = text.as_str().unwrap_or_default();
    assert!(!text.contains("can be changed here now"), "{text}");

    // Nobody else is there: the turn is free at once, though it was seized while a request for it waited.
    page.driver.close_window().await?;
    page.driver.switch_to_window(second).await?;
    page.until("the turn, and no request of its own behind it", async || {
        let locks = page
            .script("return navigator.locks.query().then((all) => [all.held.length, all.pending.length])")
            .await?;
        Ok((locks == serde_json::json!([1, 0])).then_some(()))
    })
    .await?;
    page.load_again().await?;
    opens_on(&page, &print).await?;
    let opening = page
        .script("return performance.getEntriesByName('opening')[0].duration")
        .await?;
    say(&format!(
        "  opening where nobody else has the turn: {opening} ms"
    ));
    Ok(())
}

/// Another page takes the turn while this one still reads what was kept: it may only look, and says so.
pub async fn taken_while_it_opens(page: Page) -> Result<(), Fault> {
    // It gives its turn back as a page does that is left, keeps the storage busy until a page that opens has its turn,
    // and then takes that.
    const OTHER: &str = "dispatchEvent(new Event('pagehide'));
    return new Promise((begun) => {
        const name = 'scrieve-board/';
        const asked = indexedDB.open(name, 1);
        asked.onsuccess = () => {
            const store = asked.result.transaction('kept', 'readwrite').objectStore('kept');
            let busy = true;
            const again = () => { if (busy) store.get('work').onsuccess = again; };
            again();
            const look = setInterval(async () => {
                if ((await navigator.locks.query()).held.length === 0 || !busy) return;
                clearInterval(look);
                navigator.locks.request(name, { steal: true }, () => {
                    busy = false;
                    return new Promise(() => {});
                });
            }, 20);
            begun();
        };
    })";
    page.find("heading", "Hallowby Marram").await?;
    page.script(OTHER).await?;
    page.second_tab().await?;
    page.open("/").await?;
    page.find("heading", "Hallowby Marram").await?;
    page.shows("Another tab has taken these lines over").await?;
    let more = |name: &str| name.starts_with("More by");
    let more = page.find_where("button", "more", more).await?;
    assert!(!more.is_enabled().await?, "to look at only");
    Ok(())
}
