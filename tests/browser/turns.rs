//! Whose turn it is to change the lines, where tabs come and go.

use crate::browser::Fault;
use crate::browser::page::Page;

/// Another page takes the turn while this one still reads what was kept: it may only look, and says so.
pub async fn taken_while_it_opens(page: Page) -> Result<(), Fault> {
    // It keeps the storage busy until a page that opens has its turn, and takes that.
    const OTHER: &str = "return new Promise((begun) => {
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
    page.open("/start.js").await?;
    page.script(OTHER).await?;
    page.second_tab().await?;
    page.open("/").await?;
    page.find("heading", "Hallowby Marram").await?;
    page.find("region", "Open in another tab").await?;
    let more = |name: &str| name.starts_with("More by");
    let more = page.find_where("button", "more", more).await?;
    assert!(!more.is_enabled().await?, "to look at only");
    Ok(())
}
