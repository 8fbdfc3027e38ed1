//! Tests of the test: faults are noticed, and names, screens, looks and downloads are as said.

use crate::browser::page::{Page, Screen, Theme};
use crate::browser::{Fault, say};

/// Each kind of fault is noticed.
pub async fn sees_what_goes_wrong(page: Page) -> Result<(), Fault> {
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

/// Names, screens, looks and downloads are as said.
pub async fn pretends_and_catches(page: Page) -> Result<(), Fault> {
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
    assert_eq!(
        page.names("textbox").await?,
        ["Value", "Measure at x", "Half-breadth"]
    );

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
