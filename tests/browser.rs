//! The app end to end, in Chromium, as a person meets it: things are found by role and name only.
//!
//! A step is a function of a fresh [`Page`]; add it to the list in the one test. `STEP=words cargo test --test browser`
//! does only the steps with those words in their name. Pictures are in `target/screens`.

mod support {
    pub mod browser;
}

use support::browser::page::{Page, Screen, Theme};
use support::browser::{Fault, Run, say};

#[tokio::test]
async fn the_app_in_chromium() -> Result<(), Fault> {
    let mut run = Run::start().await?;
    run.step("the page opens", the_page_opens).await;
    run.step(
        "a value is moved and taken back",
        a_value_is_moved_and_taken_back,
    )
    .await;
    run.step("the worker starts", the_worker_starts).await;
    run.step(
        "the harness sees what goes wrong",
        the_harness_sees_what_goes_wrong,
    )
    .await;
    run.step(
        "the harness pretends and catches",
        the_harness_pretends_and_catches,
    )
    .await;
    run.finish().await
}

async fn the_page_opens(page: Page) -> Result<(), Fault> {
    page.find("heading", "Hallowby Marram").await?;
    let policy = page
        .script("return document.querySelector('meta[http-equiv=Content-Security-Policy]').content")
        .await?;
    assert!(
        policy
            .as_str()
            .is_some_and(|text| text.starts_with("default-src 'self';")),
        "{policy}"
    );
    assert!(
        page.take_asked()
            .iter()
            .any(|path| path.ends_with("_bg.wasm"))
    );
    for (theme, name) in [(Theme::Light, "light"), (Theme::Dark, "dark")] {
        page.prefer(theme).await?;
        page.show_on(Screen::Desk).await?;
        page.shoot(&format!("opens-desk-{name}")).await?;
        page.show_on(Screen::Phone).await?;
        page.shoot(&format!("opens-phone-{name}")).await?;
    }
    Ok(())
}

/// The keel's height at the picked station is stepped, dragged in the drawing and taken back: the fingerprint tells.
async fn a_value_is_moved_and_taken_back(page: Page) -> Result<(), Fault> {
    page.find("heading", "Hallowby Marram").await?;
    let print = async || {
        page.script("return document.querySelector('.revision').textContent")
            .await
    };
    let before = print().await?;
    page.find_where("button", "more", |name| name.starts_with("More by"))
        .await?
        .click()
        .await?;
    let moved = print().await?;
    assert_ne!(before, moved);
    page.find("button", "Undo").await?.click().await?;
    assert_eq!(before, print().await?);
    page.find("button", "Redo").await?.click().await?;
    assert_eq!(moved, print().await?);
    page.shoot("moved").await?;
    Ok(())
}

/// The worker's files are found, of one build, and allowed by the policy, started either from its own address or from
/// a blob, whose policy is the page's.
async fn the_worker_starts(page: Page) -> Result<(), Fault> {
    page.find("heading", "Hallowby Marram").await?;
    page.script(
        "window.heard = [];
        const address = new URL(document.querySelector('meta[name=worker]').content, document.baseURI).href;
        const blob = URL.createObjectURL(new Blob([`import '${address}'`], { type: 'text/javascript' }));
        for (const start of [address, blob]) {
            const worker = new Worker(start, { type: 'module' });
            worker.onmessage = (message) => window.heard.push(message.data);
        }",
    )
    .await?;
    page.until("two workers that are ready", async || {
        let heard = page.script("return window.heard.length").await?;
        Ok((heard == 2).then_some(()))
    })
    .await
}

/// A test of the test: each kind of fault is noticed.
async fn the_harness_sees_what_goes_wrong(page: Page) -> Result<(), Fault> {
    page.find("heading", "Hallowby Marram").await?;
    assert_eq!(page.faults().await?, Vec::<String>::new());

    let sees = async |script: &str, sign: &str| -> Result<(), Fault> {
        page.script(script).await?;
        let faults = page
            .until(sign, async || {
                let faults = page.faults().await?;
                Ok(faults
                    .iter()
                    .any(|fault| fault.contains(sign))
                    .then_some(faults))
            })
            .await?;
        say(&format!("  noticed: {faults:?}"));
        Ok(())
    };
    sees("console.error('a fault of ours')", "a fault of ours").await?;
    sees("setTimeout(() => { throw new Error('thrown') })", "thrown").await?;
    sees("fetch('missing.txt')", "404").await?;
    sees(
        "fetch('https://outside.example/').catch(() => 0)",
        "Content Security Policy",
    )
    .await?;
    sees(
        "const s = document.createElement('script'); s.textContent = '1'; document.head.append(s)",
        "Content Security Policy",
    )
    .await?;
    // A worker from an address of its own is not under the page's policy: only the wall stops it.
    sees(
        "location.href = 'http://outside.example/'",
        "outside.example",
    )
    .await
}

/// A test of the test: names, screens, looks and downloads are as said.
async fn the_harness_pretends_and_catches(page: Page) -> Result<(), Fault> {
    page.find("heading", "Hallowby Marram").await?;
    page.script(
        "const label = document.createElement('label');
        label.textContent = 'Half-breadth';
        label.append(document.createElement('input'));
        const link = document.createElement('a');
        link.textContent = 'Take it away';
        link.download = 'taken.csv';
        link.href = URL.createObjectURL(new Blob(['station,x']));
        document.body.append(label, link);",
    )
    .await?;
    let field = page.find("textbox", "Half-breadth").await?;
    field.click().await?;
    page.press("1-2-3").await?;
    assert_eq!(field.prop("value").await?.as_deref(), Some("1-2-3"));
    page.drag(&field, 20, 10).await?;
    assert!(
        page.find_where("textbox", "of breadth", |name| name.ends_with("breadth"))
            .await
            .is_ok()
    );
    assert_eq!(page.names("textbox").await?, ["Value", "Half-breadth"]);

    page.find("link", "Take it away").await?.click().await?;
    assert_eq!(page.downloaded("taken.csv").await?, b"station,x");

    page.show_on(Screen::Phone).await?;
    page.prefer(Theme::Dark).await?;
    let seen = page
        .script("return [innerWidth, matchMedia('(prefers-color-scheme: dark)').matches]")
        .await?;
    assert_eq!(seen, serde_json::json!([390, true]));
    page.open("/").await?;
    page.find("heading", "Hallowby Marram").await?;
    Ok(())
}
