//! The page as a person meets it: things have a role and a name, and are looked at, pressed, dragged.

use super::{Fault, Setting};
use serde_json::{Value, json};
use std::cell::Cell;
use std::path::{Path, PathBuf};
use std::rc::Rc;
use std::time::Duration;
use thirtyfour::WindowHandle;
use thirtyfour::action_chain::ActionChain;
use thirtyfour::common::print::{PrintOrientation, PrintParameters};
use thirtyfour::error::{WebDriverError, WebDriverErrorInner};
use thirtyfour::prelude::*;

/// How long anything may take to show before a test gives up on it: only what fails takes so long.
const PATIENCE: Duration = Duration::from_secs(60);
const BETWEEN_LOOKS: Duration = Duration::from_millis(40);

/// How long the pointer is on its way: some frames, so that the page sees it come.
const ON_THE_WAY: Duration = Duration::from_millis(50);
/// The same where each move is to be a frame of its own, however long the page takes for one.
const SLOWLY: Duration = Duration::from_millis(250);

/// What Chromium asks for on its own account, whatever page it shows (measured with Debian's on an empty page). A page
/// that asks for one of them is still caught by its log and its policy.
const BROWSERS_OWN: [&str; 7] = [
    "accounts.google.com",
    "android.clients.google.com",
    "clients2.google.com",
    "content-autofill.googleapis.com",
    "redirector.gvt1.com",
    "start.duckduckgo.com",
    "update.googleapis.com",
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
    /// As a telephone, so tall that nothing of a page lies under its foot.
    TallPhone,
}

impl Page {
    pub(super) fn new(driver: WebDriver, setting: Rc<Setting>) -> Self {
        Self { driver, setting }
    }

    /// Opens the app at `path` («/», «/#…») with nothing stored and nothing pretended.
    pub(super) async fn open_fresh(&self) -> Result<(), Fault> {
        self.close_others().await?;
        self.driver.goto("about:blank").await?;
        self.setting.host.serve(Some(self.setting.folder.clone()));
        self.clear_storage().await?;
        self.hide_keeper().await?;
        self.cdp(
            "Emulation.setEmulatedMedia",
            json!({ "media": "", "features": [] }),
        )
        .await?;
        self.limit_storage(None).await?;
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

    /// Opens the app at `path` as someone does who was elsewhere before.
    pub async fn open_afresh(&self, path: &str) -> Result<(), Fault> {
        self.driver.goto("about:blank").await?;
        self.open(path).await
    }

    /// Hides from the page what keeps the app for going without a network, so that a step meets what is served, and soon.
    async fn hide_keeper(&self) -> Result<(), Fault> {
        const HIDE: &str = "Object.defineProperty(Navigator.prototype, 'serviceWorker', { value: undefined, configurable: true });";
        let tab = self.driver.window().await?;
        let hidden = self
            .setting
            .hides
            .borrow()
            .as_ref()
            .map(|(tab, _)| tab.clone());
        if hidden.is_none_or(|other| other != tab) {
            let script = self.before_all(HIDE).await?;
            self.setting.hides.replace(Some((tab, script)));
        }
        Ok(())
    }

    /// Opens the app as a browser does that keeps it, and waits until it is kept whole.
    pub async fn open_kept(&self) -> Result<(), Fault> {
        let hides = self.setting.hides.take();
        let tab = self.driver.window().await?;
        // With the tab that had it, the script is gone.
        if let Some((_, script)) = hides.filter(|(other, _)| *other == tab) {
            self.before_all_no_more(&script).await?;
        }
        self.open_afresh("/").await?;
        self.until("the app on this device", async || {
            let kept = self
                .script("return navigator.serviceWorker.controller !== null")
                .await?;
            Ok((kept == true).then_some(()))
        })
        .await
    }

    /// Lets the host serve another folder; none: nothing, as if there were no network.
    pub fn serve(&self, folder: Option<PathBuf>) {
        self.setting.host.serve(folder);
    }

    /// The folder of the app as it was built.
    pub fn built(&self) -> &Path {
        &self.setting.folder
    }

    /// Loads the page again, as its person does.
    pub async fn load_again(&self) -> Result<(), Fault> {
        Ok(self.driver.refresh().await?)
    }

    /// Opens a second tab and goes to it; both tabs then are there.
    pub async fn second_tab(&self) -> Result<[WindowHandle; 2], Fault> {
        let first = self.driver.window().await?;
        let second = self.driver.new_tab().await?;
        self.driver.switch_to_window(second.clone()).await?;
        Ok([first, second])
    }

    /// Closes all tabs but one, whatever state they are in.
    async fn close_others(&self) -> Result<(), Fault> {
        let tabs = self.driver.windows().await?;
        let (kept, others) = tabs.split_first().ok_or("no tab is open")?;
        for other in others {
            self.driver.switch_to_window(other.clone()).await?;
            self.driver.close_window().await?;
        }
        Ok(self.driver.switch_to_window(kept.clone()).await?)
    }

    /// Ends the tab as a fault of the browser would: none of the page's own code runs any more.
    pub async fn kill_tab(&self) -> Result<(), Fault> {
        // The driver says that the tab is gone, which is what was asked for.
        self.cdp("Page.crash", json!({})).await.ok();
        Ok(())
    }

    /// Lets the app's address hold so many bytes only; none: as many as the browser likes.
    pub async fn limit_storage(&self, bytes: Option<u64>) -> Result<(), Fault> {
        let mut what = json!({ "origin": self.setting.host.origin() });
        if let Some(bytes) = bytes {
            what["quotaSize"] = bytes.into();
        }
        self.cdp("Storage.overrideQuotaForOrigin", what).await?;
        Ok(())
    }

    /// Lets the browser forget which files it has fetched.
    pub async fn clear_cache(&self) -> Result<(), Fault> {
        self.cdp("Network.clearBrowserCache", json!({})).await?;
        Ok(())
    }

    /// Takes all that is stored for the app's address away, under the page as it stands.
    pub async fn clear_storage(&self) -> Result<(), Fault> {
        self.cdp(
            "Storage.clearDataForOrigin",
            json!({ "origin": self.setting.host.origin(), "storageTypes": "all" }),
        )
        .await?;
        Ok(())
    }

    /// Runs a script in this tab before any of a page that is opened from now on; how it is called.
    pub async fn before_all(&self, script: &str) -> Result<String, Fault> {
        let what = json!({ "source": script });
        let added = self
            .cdp("Page.addScriptToEvaluateOnNewDocument", what)
            .await?;
        Ok(added["identifier"].as_str().ok_or("no script")?.to_owned())
    }

    /// Runs such a script no more.
    pub async fn before_all_no_more(&self, script: &str) -> Result<(), Fault> {
        let what = json!({ "identifier": script });
        self.cdp("Page.removeScriptToEvaluateOnNewDocument", what)
            .await?;
        Ok(())
    }

    /// Whether the page asks before it is left.
    pub async fn asks_before_leaving(&self) -> Result<bool, Fault> {
        let asked = self
            .script("return !dispatchEvent(new Event('beforeunload', { cancelable: true }))")
            .await?;
        Ok(asked.as_bool() == Some(true))
    }

    /// Waits until the last step is on the device, so that the page can be left.
    pub async fn kept(&self) -> Result<(), Fault> {
        self.until("the last step on this device", async || {
            Ok((!self.asks_before_leaving().await?).then_some(()))
        })
        .await
    }

    /// The paths the page has asked its host for since the last time.
    pub fn take_asked(&self) -> Vec<String> {
        self.setting.host.take_asked()
    }

    /// The thing of this ARIA role and accessible name, waited for; the first where there are more.
    pub async fn find(&self, role: &str, name: &str) -> Result<WebElement, Fault> {
        // The browser looks through the names: handing over those of some hundred buttons takes it six times as long.
        let named = async || Ok(self.tree(role, Some(name)).await?.into_iter().next());
        self.found(role, &format!("«{name}»"), named).await
    }

    /// The first thing of this role whose name `fits`, waited for; `what` says in words what was looked for.
    pub async fn find_where(
        &self,
        role: &str,
        what: &str,
        fits: impl Fn(&str) -> bool,
    ) -> Result<WebElement, Fault> {
        let fitting = async || {
            let all = self.tree(role, None).await?;
            Ok(all.into_iter().find(|(name, _)| fits(name)))
        };
        self.found(role, what, fitting).await
    }

    /// The thing that `look` gives, waited for.
    async fn found(
        &self,
        role: &str,
        what: &str,
        look: impl AsyncFn() -> Result<Option<(String, u64)>, Fault>,
    ) -> Result<WebElement, Fault> {
        match self.until(&format!("a {role} {what}"), look).await {
            Ok((_, node)) => self.element(node).await,
            Err(fault) => Err(format!("{fault}; there are: {:?}", self.names(role).await?).into()),
        }
    }

    /// Presses a thing that the page may make anew at any time, as it does the rows of what is to settle: where the one that
    /// was found has gone before it could be pressed, the one in its place is.
    pub async fn press_on(&self, role: &str, name: &str) -> Result<(), Fault> {
        self.until(&format!("a {role} «{name}» to stay"), async || {
            let pressed = self.find(role, name).await?.click().await;
            match pressed.map_err(WebDriverError::into_inner) {
                Ok(()) => Ok(Some(())),
                Err(WebDriverErrorInner::StaleElementReference(_)) => Ok(None),
                Err(fault) => Err(fault.into()),
            }
        })
        .await
    }

    /// The accessible names of all things of this role that the page shows now.
    pub async fn names(&self, role: &str) -> Result<Vec<String>, Fault> {
        let all = self.tree(role, None).await?;
        Ok(all.into_iter().map(|(name, _)| name).collect())
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

    /// By the page's clock, when its first picture was whole, ms.
    pub async fn ready(&self) -> Result<Value, Fault> {
        let look = "return Math.round(performance.getEntriesByName('ready')[0]?.duration)";
        self.until("the first picture", async || {
            let ready = self.script(look).await?;
            Ok((!ready.is_null()).then_some(ready))
        })
        .await
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
            Screen::TallPhone => (390, 6000, 1, true),
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

    /// What a pointer does, whose every move takes so long.
    fn pointer(&self, a_move: Duration) -> ActionChain {
        self.driver.action_chain_with_delay(None, Some(a_move))
    }

    /// Drags a thing by its middle, in a few moves of the pointer.
    pub async fn drag(&self, thing: &WebElement, right: i64, down: i64) -> Result<(), Fault> {
        let (half_right, half_down) = (right / 2, down / 2);
        self.pointer(ON_THE_WAY)
            .move_to_element_center(thing)
            .click_and_hold()
            .move_by_offset(half_right, half_down)
            .move_by_offset(right - half_right, down - half_down)
            .release()
            .perform()
            .await?;
        Ok(())
    }

    /// Presses beside the middle of a thing.
    pub async fn press_beside(
        &self,
        thing: &WebElement,
        right: i64,
        down: i64,
    ) -> Result<(), Fault> {
        let chain = self.pointer(ON_THE_WAY).move_to_element_center(thing);
        Ok(chain.move_by_offset(right, down).click().perform().await?)
    }

    /// Drags from beside the middle of a thing, in two moves.
    pub async fn drag_from_beside(
        &self,
        thing: &WebElement,
        (across, up): (i64, i64),
        (right, down): (i64, i64),
    ) -> Result<(), Fault> {
        let chain = self.pointer(ON_THE_WAY).move_to_element_center(thing);
        let chain = chain.move_by_offset(across, up).click_and_hold();
        let chain = chain.move_by_offset(right / 2, down / 2);
        let chain = chain.move_by_offset(right - right / 2, down - down / 2);
        Ok(chain.release().perform().await?)
    }

    /// Drags a thing and presses a key before letting go.
    pub async fn drag_and(
        &self,
        thing: &WebElement,
        right: i64,
        down: i64,
        key: &str,
    ) -> Result<(), Fault> {
        let chain = self.pointer(ON_THE_WAY).move_to_element_center(thing);
        let held = chain.click_and_hold().move_by_offset(right, down);
        Ok(held.send_keys(key).release().perform().await?)
    }

    /// Drags a thing to and fro in so many moves of a pixel and more.
    pub async fn drag_slowly(&self, thing: &WebElement, moves: usize) -> Result<(), Fault> {
        let chain = self.pointer(SLOWLY).move_to_element_center(thing);
        let mut chain = chain.click_and_hold();
        for i in 0..moves {
            chain = chain.move_by_offset(0, if i % 10 < 5 { 2 } else { -2 });
        }
        Ok(chain.release().perform().await?)
    }

    /// The accessible name of what has the focus, as its label gives it; empty where it has none.
    pub async fn focused(&self) -> Result<String, Fault> {
        let name = self
            .script("return document.activeElement.getAttribute('aria-label') ?? ''")
            .await?;
        Ok(name.as_str().unwrap_or_default().to_owned())
    }

    /// A figure of a list, by its name; of the dialog's where one is open.
    pub async fn figure(&self, name: &str) -> Result<String, Fault> {
        let script = format!(
            "const where = document.querySelector('dialog[open]') ?? document;
             return [...where.querySelectorAll('dt')].find((t) => t.textContent === '{name}')?.nextElementSibling.textContent ?? ''"
        );
        let text = self.script(&script).await?;
        Ok(text.as_str().unwrap_or_default().to_owned())
    }

    /// Puts a finger on the middle of a thing, moves it by these steps, and lifts it.
    pub async fn touch(&self, thing: &WebElement, steps: &[(i32, i32)]) -> Result<(), Fault> {
        let area = thing.rect().await?;
        let scroll = self.script("return [scrollX, scrollY]").await?;
        let from = |k: usize| scroll[k].as_f64().unwrap_or_default();
        let mut x = area.x + area.width / 2.0 - from(0);
        let mut y = area.y + area.height / 2.0 - from(1);
        let touch = async |kind: &str, points: Value| -> Result<(), Fault> {
            let what = json!({ "type": kind, "touchPoints": points });
            self.cdp("Input.dispatchTouchEvent", what).await?;
            Ok(())
        };
        touch("touchStart", json!([{ "x": x, "y": y }])).await?;
        for (right, down) in steps {
            x += f64::from(*right);
            y += f64::from(*down);
            touch("touchMove", json!([{ "x": x, "y": y }])).await?;
        }
        touch("touchEnd", json!([])).await
    }

    /// Presses a key while another is held.
    pub async fn chord(&self, held: &str, key: &str) -> Result<(), Fault> {
        let held = held.chars().next().ok_or("no key to hold")?;
        let chain = self.driver.action_chain().key_down(held);
        Ok(chain.send_keys(key).key_up(held).perform().await?)
    }

    /// Chooses an entry of a list.
    pub async fn choose(&self, list: &str, entry: &str) -> Result<(), Fault> {
        // A list that is off takes a click without a word.
        let what = format!("the list «{list}» to be on");
        let list = async || {
            let list = self.find("combobox", list).await?;
            Ok(list.is_enabled().await?.then_some(list))
        };
        let list = self.until(&what, list).await?;
        let entry = list
            .find(By::XPath(format!("./option[.='{entry}']")))
            .await?;
        Ok(entry.click().await?)
    }

    /// Waits until the page shows these words.
    pub async fn shows(&self, words: &str) -> Result<(), Fault> {
        let seen = async || {
            let text = self.script("return document.body.innerText").await?;
            Ok(text
                .as_str()
                .is_some_and(|t| t.contains(words))
                .then_some(()))
        };
        self.until(&format!("the words «{words}»"), seen).await
    }

    /// Waits until the page shows these words no longer.
    pub async fn shows_no_longer(&self, words: &str) -> Result<(), Fault> {
        let gone = async || {
            let text = self.script("return document.body.innerText").await?;
            let gone = text.as_str().is_some_and(|t| !t.contains(words));
            Ok(gone.then_some(()))
        };
        self.until(&format!("«{words}» to go"), gone).await
    }

    /// Whether a thing can't be used now.
    pub async fn is_off(&self, role: &str, name: &str) -> Result<bool, Fault> {
        Ok(!self.find(role, name).await?.is_enabled().await?)
    }

    /// A folder of this run, for files that are handed to the page.
    pub fn folder(&self, name: &str) -> Result<PathBuf, Fault> {
        let folder = self.setting.downloads.with_file_name(name);
        std::fs::create_dir_all(&folder)?;
        Ok(folder)
    }

    /// Puts away what the page says.
    pub async fn close_notes(&self) -> Result<(), Fault> {
        while self
            .names("button")
            .await?
            .iter()
            .any(|name| name == "Close")
        {
            self.find("button", "Close").await?.click().await?;
        }
        Ok(())
    }

    /// Revision and fingerprint of the lines that are seen.
    pub async fn fingerprint(&self) -> Result<String, Fault> {
        let text = self
            .script("return document.querySelector('.revision').textContent")
            .await?;
        Ok(text.as_str().ok_or("no fingerprint is shown")?.to_owned())
    }

    /// Waits until the page has drawn what there is to draw.
    pub async fn drawn(&self) -> Result<(), Fault> {
        self.script(
            "window.drawn = false; requestAnimationFrame(() => requestAnimationFrame(() => { window.drawn = true; }))",
        )
        .await?;
        self.until("a frame", async || {
            Ok((self.script("return window.drawn").await? == true).then_some(()))
        })
        .await
    }

    /// What the canvas looks like.
    pub async fn look(&self) -> Result<String, Fault> {
        self.drawn().await?;
        let area = self
            .script("const a = document.querySelector('canvas').getBoundingClientRect(); return [a.x, a.y, a.width, a.height]")
            .await?;
        let clip =
            json!({ "x": area[0], "y": area[1], "width": area[2], "height": area[3], "scale": 1 });
        self.capture(clip).await
    }

    /// Picks a point on the Shell screen; the mean colour of the skin under its ring, 0 to 255.
    pub async fn skin_colour(&self, station: &str, line: &str) -> Result<[f64; 3], Fault> {
        self.choose("Station", station).await?;
        self.choose("Line", line).await?;
        let ring = self
            .find("image", &format!("STA {station}, {line}"))
            .await?;
        self.drawn().await?;
        let area = ring.rect().await?;
        let clip = json!({
            "x": area.x + area.width / 2.0 - 7.0,
            "y": area.y + area.height / 2.0 - 7.0,
            "width": 14, "height": 14, "scale": 1,
        });
        let shot = self.capture(clip).await?;
        let mean = self
            .script(&format!(
                "const bytes = Uint8Array.from(atob('{shot}'), (c) => c.charCodeAt(0));
                return createImageBitmap(new Blob([bytes])).then((image) => {{
                    const pen = Object.assign(document.createElement('canvas'), {{ width: 14, height: 14 }}).getContext('2d');
                    pen.drawImage(image, 0, 0, 14, 14);
                    const data = pen.getImageData(0, 0, 14, 14).data;
                    return [0, 1, 2].map((k) => data.filter((_, i) => i % 4 === k).reduce((a, b) => a + b, 0) / 196);
                }})"
            ))
            .await?;
        Ok(serde_json::from_value(mean)?)
    }

    /// A picture of a part of the page, as base64 of a PNG.
    async fn capture(&self, clip: Value) -> Result<String, Fault> {
        let shot = self
            .cdp("Page.captureScreenshot", json!({ "clip": clip }))
            .await?;
        Ok(shot["data"].as_str().ok_or("no picture")?.to_owned())
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

    /// The page as the browser prints it, as a PDF beside the pictures: how many pages, and each one's width and height, mm.
    pub async fn print(&self, name: &str) -> Result<Vec<[f64; 2]>, Fault> {
        let parameters = PrintParameters {
            orientation: PrintOrientation::Landscape,
            ..PrintParameters::default()
        };
        let bytes = self.driver.print_page(parameters).await?;
        std::fs::write(self.setting.screens.join(format!("{name}.pdf")), &bytes)?;
        let text = String::from_utf8_lossy(&bytes);
        let boxes = text.split("/MediaBox [").skip(1).map(|rest| {
            let (inside, _) = rest.split_once(']').ok_or("a box ends")?;
            let sides = inside.split_whitespace().map(str::parse::<f64>);
            let [_, _, wide, high] = sides.collect::<Result<Vec<_>, _>>()?[..] else {
                return Err("a box has four sides".into());
            };
            Ok([wide, high].map(|points| points / 72.0 * 25.4))
        });
        boxes.collect()
    }

    /// Pictures in both looks, on desk and telephone.
    pub async fn shoot_looks(&self, name: &str) -> Result<(), Fault> {
        // A page takes another look sooner than another size.
        for (screen, size) in [(Screen::Desk, "desk"), (Screen::Phone, "phone")] {
            self.show_on(screen).await?;
            for (theme, look) in [(Theme::Light, "light"), (Theme::Dark, "dark")] {
                self.prefer(theme).await?;
                self.drawn().await?;
                self.shoot(&format!("{name}-{size}-{look}")).await?;
            }
        }
        self.show_on(Screen::Desk).await?;
        Ok(())
    }

    /// The bytes of a file the page has handed to the person, waited for; it is removed from the folder.
    pub async fn downloaded(&self, name: &str) -> Result<Vec<u8>, Fault> {
        let folder = &self.setting.downloads;
        // Chromium writes under another name, sets an empty file in the right place, and moves the whole one over it
        // (watched in its folder): while anything is unfinished there, the file may be that empty one. A folder's list is
        // not read in one go, so that it takes two that agree.
        let seen = Cell::new(false);
        let whole = async || {
            let (mut there, mut unfinished) = (false, false);
            for entry in std::fs::read_dir(folder)? {
                let found = entry?.file_name();
                let found = found.to_string_lossy();
                there |= found == name;
                unfinished |= found.starts_with('.') || found.ends_with(".crdownload");
            }
            let whole = there && !unfinished;
            Ok((seen.replace(whole) && whole).then_some(()))
        };
        self.until(&format!("the download {name}"), whole).await?;
        let file = folder.join(name);
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
            let own = |host: &str| address.split(['/', ':']).any(|part| part == host);
            if !BROWSERS_OWN.iter().any(|host| own(host)) {
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

    /// A command of the browser's own, for what the driver has no word for.
    pub async fn cdp(&self, method: &str, what: Value) -> Result<Value, Fault> {
        Ok(self.driver.cdp().send_raw(method, what).await?)
    }

    /// Name and node of all things of a role, or of those with this very name, from the tree that the browser gives to a
    /// screen reader.
    async fn tree(&self, role: &str, name: Option<&str>) -> Result<Vec<(String, u64)>, Fault> {
        let document = self
            .cdp("Runtime.evaluate", json!({ "expression": "document" }))
            .await?;
        let mut what = json!({ "objectId": document["result"]["objectId"], "role": role });
        if let Some(name) = name {
            what["accessibleName"] = name.into();
        }
        let answer = match self.cdp("Accessibility.queryAXTree", what).await {
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
