//! The page as a person meets it: things have a role and a name, and are looked at, pressed, dragged.

use super::{Fault, Setting};
use serde_json::{Value, json};
use std::path::PathBuf;
use std::rc::Rc;
use std::time::Duration;
use thirtyfour::prelude::*;

/// How long anything may take to show before a test gives up on it.
const PATIENCE: Duration = Duration::from_secs(20);
const BETWEEN_LOOKS: Duration = Duration::from_millis(40);

/// What Chromium asks for on its own account, whatever page it shows (measured with Debian's on an empty page). A page
/// that asks for one of them is still caught by its log and its policy.
const BROWSERS_OWN: [&str; 5] = [
    "accounts.google.com:443",
    "android.clients.google.com:443",
    "clients2.google.com:443",
    "content-autofill.googleapis.com:443",
    "start.duckduckgo.com:443",
];

/// A fresh page of the app, in a browser that forgets between steps.
#[derive(Clone, Debug)]
pub struct Page {
    pub driver: WebDriver,
    setting: Rc<Setting>,
}

/// The two looks of the app.
#[derive(Clone, Copy, Debug)]
pub enum Theme {
    Light,
    Dark,
}

/// The screens it is tested on.
#[derive(Clone, Copy, Debug)]
pub enum Screen {
    /// 1440 × 900.
    Desk,
    /// 390 × 844 with touch, three device pixels to one.
    Phone,
}

impl Page {
    pub(super) fn new(driver: WebDriver, setting: Rc<Setting>) -> Self {
        Self { driver, setting }
    }

    /// Opens the app at `path` («/», «/#…») with nothing stored and nothing pretended.
    pub(super) async fn open_fresh(&self) -> Result<(), Fault> {
        self.driver.goto("about:blank").await?;
        self.cdp(
            "Storage.clearDataForOrigin",
            json!({ "origin": self.setting.host.origin(), "storageTypes": "all" }),
        )
        .await?;
        self.cdp(
            "Emulation.setEmulatedMedia",
            json!({ "media": "", "features": [] }),
        )
        .await?;
        self.cdp("Emulation.clearDeviceMetricsOverride", json!({}))
            .await?;
        self.cdp(
            "Emulation.setTouchEmulationEnabled",
            json!({ "enabled": false }),
        )
        .await?;
        self.show_on(Screen::Desk).await?;
        self.faults().await?;
        self.setting.host.take_asked();
        self.open("/").await
    }

    /// Goes to `path` of the app («/», «/#…»), keeping what is stored.
    pub async fn open(&self, path: &str) -> Result<(), Fault> {
        Ok(self
            .driver
            .goto(format!("{}{path}", self.setting.host.origin()))
            .await?)
    }

    /// The paths the page has asked its host for since the last time.
    pub fn take_asked(&self) -> Vec<String> {
        self.setting.host.take_asked()
    }

    /// The thing of this ARIA role and accessible name, waited for; the first where there are more.
    pub async fn find(&self, role: &str, name: &str) -> Result<WebElement, Fault> {
        self.find_where(role, &format!("«{name}»"), |found| found == name)
            .await
    }

    /// The first thing of this role whose name `fits`, waited for; `what` says in words what was looked for.
    pub async fn find_where(
        &self,
        role: &str,
        what: &str,
        fits: impl Fn(&str) -> bool,
    ) -> Result<WebElement, Fault> {
        let node = self
            .until(&format!("a {role} {what}"), async || {
                Ok(self
                    .tree(role)
                    .await?
                    .into_iter()
                    .find(|(name, _)| fits(name)))
            })
            .await;
        match node {
            Ok((_, node)) => self.element(node).await,
            Err(fault) => Err(format!("{fault}; there are: {:?}", self.names(role).await?).into()),
        }
    }

    /// The accessible names of all things of this role that the page shows now.
    pub async fn names(&self, role: &str) -> Result<Vec<String>, Fault> {
        Ok(self
            .tree(role)
            .await?
            .into_iter()
            .map(|(name, _)| name)
            .collect())
    }

    /// Waits until `look` gives something; `what` is named where it never does.
    pub async fn until<T>(
        &self,
        what: &str,
        look: impl AsyncFn() -> Result<Option<T>, Fault>,
    ) -> Result<T, Fault> {
        let tries = PATIENCE.as_millis() / BETWEEN_LOOKS.as_millis();
        for _ in 0..tries {
            if let Some(found) = look().await? {
                return Ok(found);
            }
            tokio::time::sleep(BETWEEN_LOOKS).await;
        }
        Err(format!("waited {PATIENCE:?} in vain for {what}").into())
    }

    /// What a script in the page returns.
    pub async fn script(&self, text: &str) -> Result<Value, Fault> {
        Ok(self
            .driver
            .execute(text.to_owned(), Vec::new())
            .await?
            .json()
            .clone())
    }

    /// Shows the page on such a screen.
    pub async fn show_on(&self, screen: Screen) -> Result<(), Fault> {
        let (width, height, scale, mobile) = match screen {
            Screen::Desk => (1440, 900, 1, false),
            Screen::Phone => (390, 844, 3, true),
        };
        let size = json!({ "width": width, "height": height, "deviceScaleFactor": scale, "mobile": mobile });
        self.cdp("Emulation.setDeviceMetricsOverride", size).await?;
        self.cdp(
            "Emulation.setTouchEmulationEnabled",
            json!({ "enabled": mobile }),
        )
        .await?;
        Ok(())
    }

    /// Pretends that the person's system prefers this look.
    pub async fn prefer(&self, theme: Theme) -> Result<(), Fault> {
        let value = match theme {
            Theme::Light => "light",
            Theme::Dark => "dark",
        };
        let features = json!({ "features": [{ "name": "prefers-color-scheme", "value": value }] });
        self.cdp("Emulation.setEmulatedMedia", features).await?;
        Ok(())
    }

    /// Drags a thing by its middle, in a few moves of the pointer.
    pub async fn drag(&self, thing: &WebElement, right: i64, down: i64) -> Result<(), Fault> {
        let (half_right, half_down) = (right / 2, down / 2);
        self.driver
            .action_chain()
            .move_to_element_center(thing)
            .click_and_hold()
            .move_by_offset(half_right, half_down)
            .move_by_offset(right - half_right, down - half_down)
            .release()
            .perform()
            .await?;
        Ok(())
    }

    /// Presses keys wherever the focus is.
    pub async fn press(&self, keys: impl AsRef<str>) -> Result<(), Fault> {
        Ok(self
            .driver
            .action_chain()
            .send_keys(keys.as_ref())
            .perform()
            .await?)
    }

    /// A picture of the page, in `target/screens/NAME.png`.
    pub async fn shoot(&self, name: &str) -> Result<PathBuf, Fault> {
        let file = self.setting.screens.join(format!("{name}.png"));
        self.driver.screenshot(&file).await?;
        Ok(file)
    }

    /// The bytes of a file the page has handed to the person, waited for; it is removed from the folder.
    pub async fn downloaded(&self, name: &str) -> Result<Vec<u8>, Fault> {
        let file = self.setting.downloads.join(name);
        // Chromium writes under another name and renames when all is there.
        self.until(&format!("the download {name}"), async || {
            Ok(file.exists().then_some(()))
        })
        .await?;
        let bytes = std::fs::read(&file)?;
        std::fs::remove_file(&file)?;
        Ok(bytes)
    }

    /// Takes what went wrong since the last time: console errors and warnings (a breach of the content security
    /// policy is one) and whatever left, or tried to leave, the page's own origin.
    pub async fn faults(&self) -> Result<Vec<String>, Fault> {
        let mut faults = Vec::new();
        for entry in self.driver.get_log("browser").await? {
            if matches!(entry.level.as_str(), "SEVERE" | "WARNING") {
                faults.push(format!("console: {}", entry.message));
            }
        }
        for entry in self.driver.get_log("performance").await? {
            let event: Value = serde_json::from_str(&entry.message)?;
            let asked = &event["message"]["params"]["request"]["url"];
            if event["message"]["method"] == "Network.requestWillBeSent"
                && let Some(address) = asked.as_str()
                && !self.is_own(address)
            {
                faults.push(format!("request: {address}"));
            }
        }
        for address in self.setting.wall.take_asked() {
            if !BROWSERS_OWN.contains(&address.as_str()) {
                faults.push(format!("left the origin: {address}"));
            }
        }
        Ok(faults)
    }

    fn is_own(&self, address: &str) -> bool {
        let inside = |start: &str| {
            address
                .strip_prefix(start)
                .is_some_and(|rest| rest.starts_with('/'))
        };
        inside(self.setting.host.origin())
            || ["data:", "blob:", "about:"]
                .iter()
                .any(|kind| address.starts_with(kind))
    }

    async fn cdp(&self, method: &str, what: Value) -> Result<Value, Fault> {
        Ok(self.driver.cdp().send_raw(method, what).await?)
    }

    /// Name and node of all things of a role, from the tree that the browser gives to a screen reader.
    async fn tree(&self, role: &str) -> Result<Vec<(String, u64)>, Fault> {
        let document = self
            .cdp("Runtime.evaluate", json!({ "expression": "document" }))
            .await?;
        let root = &document["result"]["objectId"];
        let answer = self
            .cdp(
                "Accessibility.queryAXTree",
                json!({ "objectId": root, "role": role }),
            )
            .await;
        let answer = match answer {
            Ok(answer) => answer,
            // The page moved on between the two questions; the next look finds the new one.
            Err(fault) if fault.to_string().contains("Could not find") => return Ok(Vec::new()),
            Err(fault) => return Err(fault),
        };
        let nodes = answer["nodes"]
            .as_array()
            .ok_or("the browser gave no accessibility tree")?;
        Ok(nodes
            .iter()
            .filter(|node| node["ignored"] != true)
            .filter_map(|node| {
                let name = node["name"]["value"].as_str().unwrap_or_default();
                Some((name.to_owned(), node["backendDOMNodeId"].as_u64()?))
            })
            .collect())
    }

    /// The driver's handle of a node of the accessibility tree.
    async fn element(&self, node: u64) -> Result<WebElement, Fault> {
        let object = self
            .cdp("DOM.resolveNode", json!({ "backendNodeId": node }))
            .await?;
        let hand_over = json!({
            "objectId": object["object"]["objectId"],
            "functionDeclaration": "function () { window.handedOver = this; }",
        });
        self.cdp("Runtime.callFunctionOn", hand_over).await?;
        let script = "const thing = window.handedOver; delete window.handedOver; return thing;";
        Ok(self.driver.execute(script, Vec::new()).await?.element()?)
    }
}
