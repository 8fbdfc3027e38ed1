//! The app in Chromium: one build and one browser for many steps, each on a fresh page.
//!
//! Reading order: `server` (the host, and the wall around it), `driver` (Chromium), `page` (what a step works with).

pub mod driver;
pub mod page;
pub mod server;

use driver::Driver;
use page::Page;
use server::{Host, Wall};
use std::cell::RefCell;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::rc::Rc;
use thirtyfour::{WebDriver, WindowHandle};

/// What stops a step: in a sentence.
pub type Fault = Box<dyn std::error::Error>;

/// What the steps share.
#[derive(Debug)]
pub struct Setting {
    host: Host,
    wall: Wall,
    folder: PathBuf,
    screens: PathBuf,
    downloads: PathBuf,
    /// The script that hides what keeps the app for going without a network, and the tab that has it.
    hides: RefCell<Option<(WindowHandle, String)>>,
}

/// A run of steps. `STEP=words` in the environment leaves out those whose name lacks the words; several words are parted by
/// commas.
#[derive(Debug)]
pub struct Run {
    driver: WebDriver,
    setting: Rc<Setting>,
    profile: PathBuf,
    folder: PathBuf,
    only: Option<String>,
    failed: Vec<String>,
    passed: usize,
    _driver: Driver,
}

impl Run {
    /// Builds the app, serves it and opens Chromium.
    pub async fn start() -> Result<Self, Fault> {
        let target = Path::new(env!("CARGO_MANIFEST_DIR")).join("target");
        let folder = build(&target)?;
        let host = Host::start(folder.clone())?;
        let wall = Wall::start()?;
        let screens = target.join("screens");
        std::fs::create_dir_all(&screens)?;
        let profile = std::env::temp_dir().join(format!("scrieve-board-{}", std::process::id()));
        let process = Driver::start()?;
        let driver = process.open(&profile, &wall).await?;
        let setting = Setting {
            host,
            wall,
            folder: folder.clone(),
            screens,
            downloads: profile.join("downloads"),
            hides: RefCell::new(None),
        };
        let only = std::env::var("STEP").ok();
        Ok(Self {
            driver,
            setting: Rc::new(setting),
            profile,
            folder,
            only,
            failed: Vec::new(),
            passed: 0,
            _driver: process,
        })
    }

    /// The folder that is served.
    pub fn folder(&self) -> &Path {
        &self.folder
    }

    /// Does one step on a fresh page. It fails by an error, a failed assertion, or anything in [`Page::faults`] at
    /// its end; a picture of the page is then kept, and the next step goes on.
    pub async fn step<F>(&mut self, name: &str, body: impl FnOnce(Page) -> F)
    where
        F: Future<Output = Result<(), Fault>> + 'static,
    {
        if self
            .only
            .as_ref()
            .is_some_and(|all| !all.split(',').any(|words| name.contains(words)))
        {
            return;
        }
        let page = Page::new(self.driver.clone(), Rc::clone(&self.setting));
        let outcome = match page.open_fresh().await {
            Ok(()) => {
                let steps = tokio::task::LocalSet::new();
                // A task of its own, so that a failed assertion ends the step and not the run.
                let task = steps.spawn_local(body(page.clone()));
                match steps.run_until(task).await {
                    Ok(Ok(())) => page.faults().await.and_then(|faults| none(&faults)),
                    Ok(Err(fault)) => Err(fault),
                    Err(_panic) => Err("an assertion failed, as said above".into()),
                }
            }
            Err(fault) => Err(fault),
        };
        match outcome {
            Ok(()) => {
                self.passed += 1;
                say(&format!("step «{name}»: ok"));
            }
            Err(fault) => {
                let picture = page
                    .shoot(&format!("failed-{}", name.replace(' ', "-")))
                    .await;
                let shown = picture
                    .map_or_else(|error| error.to_string(), |file| file.display().to_string());
                say(&format!("step «{name}»: {fault} (picture: {shown})"));
                let also = page.faults().await.unwrap_or_default();
                also.iter()
                    .for_each(|fault| say(&format!("  also: {fault}")));
                self.failed.push(name.to_owned());
            }
        }
    }

    /// Closes the browser, and fails if a step did or none was done.
    pub async fn finish(self) -> Result<(), Fault> {
        self.driver.quit().await?;
        std::fs::remove_dir_all(&self.profile)?;
        if !self.failed.is_empty() {
            return Err(format!(
                "{} of {} steps failed: {:?}",
                self.failed.len(),
                self.failed.len() + self.passed,
                self.failed
            )
            .into());
        }
        if self.passed == 0 {
            return Err("no step's name has the words of STEP".into());
        }
        say(&format!("{} steps passed", self.passed));
        Ok(())
    }
}

/// Writes a line for whoever waits: past the test's own capture, so that it shows when all is well too.
pub fn say(line: &str) {
    // A closed terminal is no fault of the app.
    writeln!(std::io::stderr(), "{line}").ok();
}

/// Nothing went wrong, or the list of what did.
fn none(faults: &[String]) -> Result<(), Fault> {
    if faults.is_empty() {
        Ok(())
    } else {
        Err(faults.join("\n").into())
    }
}

/// Builds the app as it is released.
fn build(target: &Path) -> Result<PathBuf, Fault> {
    let folder = target.join("e2e-dist");
    let status = Command::new(env!("CARGO_BIN_EXE_dev"))
        .args(["build", "--dist"])
        .arg(&folder)
        .status()?;
    if status.success() {
        Ok(folder)
    } else {
        Err("the app could not be built, as said above".into())
    }
}
