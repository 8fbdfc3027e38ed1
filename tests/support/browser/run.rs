//! A run of steps: as many at once as there are processors, each in a browser of its own, then one by one those that look
//! at the clock.
//!
//! In: steps by name. Out: a line for each as it ends, with what it said; at the end how long each took, and what failed; a
//! fault if one failed twice, for a browser on a busy machine can be late. A browser has its own profile, downloads, host and
//! wall, so that no step sees another.

use super::driver::Driver;
use super::page::Page;
use super::server::{Host, Wall};
use super::{Fault, Setting, keep_said, say, take_said, write_out};
use std::cell::RefCell;
use std::collections::VecDeque;
use std::path::{Path, PathBuf};
use std::pin::Pin;
use std::process::Command;
use std::rc::Rc;
use std::sync::{Mutex, PoisonError};
use std::time::{Duration, Instant};
use tokio::task::LocalSet;

/// More browsers than this are of no use unless asked for: the longest step is then all that is waited for.
const MOST_BROWSERS: usize = 4;

type Running = Pin<Box<dyn Future<Output = Result<(), Fault>>>>;

/// A step, and how to begin it on a fresh page.
struct Step {
    name: String,
    begin: Box<dyn Fn(Page) -> Running + Send>,
}

/// What became of a step.
struct Outcome {
    name: String,
    took: Duration,
    /// Why it failed, if it did: at first, and again.
    faults: Vec<String>,
}

/// How often a step is tried.
const TRIES: usize = 2;

/// A run of steps. In the environment, `STEP=words` leaves out those whose name lacks the words, several being parted by
/// commas; `BROWSERS=1` does them one by one.
pub struct Run {
    folder: PathBuf,
    screens: PathBuf,
    only: Option<String>,
    together: VecDeque<Step>,
    alone: VecDeque<Step>,
}

/// One browser, and what it is at.
struct Lane<'a> {
    number: usize,
    folder: &'a Path,
    screens: &'a Path,
    driver: &'a Driver,
    outcomes: &'a Mutex<Vec<Outcome>>,
}

impl Run {
    /// Builds the app.
    pub fn start() -> Result<Self, Fault> {
        let target = Path::new(env!("CARGO_MANIFEST_DIR")).join("target");
        let start = now();
        let folder = build(&target)?;
        say(&format!("the app is built, {}", seconds(start.elapsed())));
        let screens = target.join("screens");
        std::fs::create_dir_all(&screens)?;
        Ok(Self {
            folder,
            screens,
            only: std::env::var("STEP").ok(),
            together: VecDeque::new(),
            alone: VecDeque::new(),
        })
    }

    /// The folder that is served.
    pub fn folder(&self) -> &Path {
        &self.folder
    }

    /// Adds a step that runs beside others. It fails by an error, a failed assertion, or anything in [`Page::faults`] at
    /// its end; a picture of the page is then kept, and the next step goes on.
    pub fn step<F>(&mut self, name: &str, body: impl Fn(Page) -> F + Send + 'static)
    where
        F: Future<Output = Result<(), Fault>> + 'static,
    {
        if let Some(step) = self.wanted(name, body) {
            self.together.push_back(step);
        }
    }

    /// Adds a step beside which no other runs, for what it says of time or memory is asserted or read.
    pub fn step_alone<F>(&mut self, name: &str, body: impl Fn(Page) -> F + Send + 'static)
    where
        F: Future<Output = Result<(), Fault>> + 'static,
    {
        if let Some(step) = self.wanted(name, body) {
            self.alone.push_back(step);
        }
    }

    fn wanted<F>(&self, name: &str, body: impl Fn(Page) -> F + Send + 'static) -> Option<Step>
    where
        F: Future<Output = Result<(), Fault>> + 'static,
    {
        let fits = |all: &String| all.split(',').any(|words| name.contains(words));
        self.only.as_ref().is_none_or(fits).then(|| Step {
            name: name.to_owned(),
            begin: Box::new(move |page| Box::pin(body(page))),
        })
    }

    /// Does all steps, says how long each took, and fails if one did or there was none.
    pub fn finish(mut self) -> Result<(), Fault> {
        let phases = [
            std::mem::take(&mut self.together),
            std::mem::take(&mut self.alone),
        ];
        let wanted: usize = phases.iter().map(VecDeque::len).sum();
        if wanted == 0 {
            return Err("no step's name has the words of STEP".into());
        }
        let start = now();
        let driver = Driver::start()?;
        let outcomes = Mutex::new(Vec::with_capacity(wanted));
        let mut gave_up: Vec<String> = Vec::new();
        for (steps, most) in phases.into_iter().zip([browsers(), 1]) {
            let lanes = most.min(steps.len());
            let steps = Mutex::new(steps);
            let ends: Vec<Result<(), String>> = std::thread::scope(|scope| {
                let begun: Vec<_> = (1..=lanes)
                    .map(|number| {
                        let lane = Lane {
                            number,
                            folder: &self.folder,
                            screens: &self.screens,
                            driver: &driver,
                            outcomes: &outcomes,
                        };
                        let steps = &steps;
                        std::thread::Builder::new()
                            .name(format!("browser {number}"))
                            .spawn_scoped(scope, move || lane.work(steps))
                    })
                    .collect();
                let join =
                    |thread: std::io::Result<std::thread::ScopedJoinHandle<'_, _>>| match thread {
                        Ok(thread) => thread.join().unwrap_or_else(|panic| Err(words_of(&*panic))),
                        Err(error) => Err(error.to_string()),
                    };
                begun.into_iter().map(join).collect()
            });
            gave_up.extend(ends.into_iter().filter_map(Result::err));
        }
        let outcomes = outcomes
            .into_inner()
            .unwrap_or_else(PoisonError::into_inner);
        for fault in &gave_up {
            say(&format!("a browser gave up: {fault}"));
        }
        told(outcomes, wanted, start.elapsed())?;
        match gave_up.first() {
            Some(fault) => Err(format!("a browser gave up: {fault}").into()),
            None => Ok(()),
        }
    }
}

/// Says how long each step took, the longest first.
fn told(mut outcomes: Vec<Outcome>, wanted: usize, total: Duration) -> Result<(), Fault> {
    outcomes.sort_by_key(|outcome| std::cmp::Reverse(outcome.took));
    let mut lines = String::from("how long each step took\n");
    for outcome in &outcomes {
        lines += &format!("  {}  {}\n", seconds(outcome.took), outcome.name);
    }
    let sum: Duration = outcomes.iter().map(|outcome| outcome.took).sum();
    lines += &format!(
        "  {}  all of them, one after the other; they were done in {}\n",
        seconds(sum),
        seconds(total).trim_start()
    );
    write_out(&lines);
    // Said again at the very end, where whoever sees only the last lines of a run finds it.
    let (mut failed, mut late) = (Vec::new(), String::new());
    for Outcome { name, faults, .. } in &outcomes {
        match faults.as_slice() {
            [] => {}
            [.., last] if faults.len() == TRIES => failed.push(format!("«{name}»: {last}")),
            [first, ..] => {
                late += &format!("passed when done again: «{name}», at first: {first}\n");
            }
        }
    }
    write_out(&late);
    if !failed.is_empty() {
        let said = format!(
            "{} of {wanted} steps failed: {}",
            failed.len(),
            failed.join("; ")
        );
        write_out(&format!("{said}\n"));
        return Err(said.into());
    }
    if outcomes.len() < wanted {
        let undone = wanted - outcomes.len();
        return Err(format!("{undone} of {wanted} steps were not done, as said above").into());
    }
    say(&format!("{wanted} steps passed"));
    Ok(())
}

impl Lane<'_> {
    /// Opens a browser and does steps until none is left.
    fn work(&self, steps: &Mutex<VecDeque<Step>>) -> Result<(), String> {
        let runtime = tokio::runtime::Builder::new_current_thread()
            .enable_all()
            .build()
            .map_err(|error| error.to_string())?;
        runtime
            .block_on(self.in_browser(steps))
            .map_err(|fault| fault.to_string())
    }

    async fn in_browser(&self, steps: &Mutex<VecDeque<Step>>) -> Result<(), Fault> {
        let profile = std::env::temp_dir().join(format!(
            "scrieve-board-{}-{}",
            std::process::id(),
            self.number
        ));
        let wall = Wall::start()?;
        let driver = self.driver.open(&profile, &wall).await?;
        let setting = Rc::new(Setting {
            host: Host::start(self.folder.to_owned())?,
            wall,
            folder: self.folder.to_owned(),
            screens: self.screens.to_owned(),
            downloads: profile.join("downloads"),
            hides: RefCell::new(None),
        });
        let next = || {
            let mut steps = steps.lock().unwrap_or_else(PoisonError::into_inner);
            steps.pop_front()
        };
        while let Some(Step { name, begin }) = next() {
            let start = now();
            let mut faults = Vec::new();
            while faults.len() < TRIES {
                let page = Page::new(driver.clone(), Rc::clone(&setting));
                match self.step(&name, &*begin, page).await {
                    Some(fault) => faults.push(fault),
                    None => break,
                }
            }
            let took = start.elapsed();
            let mut outcomes = self.outcomes.lock().unwrap_or_else(PoisonError::into_inner);
            outcomes.push(Outcome { name, took, faults });
        }
        driver.quit().await?;
        Ok(std::fs::remove_dir_all(&profile)?)
    }

    /// Does one step on a fresh page; why it failed, if it did.
    async fn step(
        &self,
        name: &str,
        begin: &(dyn Fn(Page) -> Running + Send),
        page: Page,
    ) -> Option<String> {
        keep_said();
        let start = now();
        let ended = match page.open_fresh().await {
            Ok(()) => {
                let tasks = LocalSet::new();
                // A task of its own, so that a failed assertion ends the step and not the run.
                let task = tasks.spawn_local(begin(page.clone()));
                match tasks.run_until(task).await {
                    Ok(Ok(())) => page.faults().await.and_then(|faults| none(&faults)),
                    Ok(Err(fault)) => Err(fault),
                    Err(ended) => Err(self.gave_up(ended)),
                }
            }
            Err(fault) => Err(fault),
        };
        let took = start.elapsed();
        let said = take_said();
        let fault = ended.err().map(|fault| fault.to_string());
        let lines = match &fault {
            None => format!("step «{name}»: ok, {}\n{said}", seconds(took).trim_start()),
            Some(fault) => {
                let picture = page
                    .shoot(&format!("failed-{}", name.replace(' ', "-")))
                    .await;
                let shown = picture
                    .map_or_else(|error| error.to_string(), |file| file.display().to_string());
                let mut lines = format!("step «{name}»: {fault} (picture: {shown})\n{said}");
                for fault in page.faults().await.unwrap_or_default() {
                    lines += &format!("  also: {fault}\n");
                }
                lines
            }
        };
        write_out(&lines);
        fault
    }

    /// A step whose task ended by itself: what the failed assertion says, and which browser's thread has said where it stands.
    fn gave_up(&self, ended: tokio::task::JoinError) -> Fault {
        match ended.try_into_panic() {
            Ok(panic) => format!("in browser {}: {}", self.number, words_of(&*panic)).into(),
            Err(ended) => ended.into(),
        }
    }
}

/// How many browsers run at once.
fn browsers() -> usize {
    let asked = std::env::var("BROWSERS")
        .ok()
        .and_then(|text| text.parse().ok());
    let processors = || std::thread::available_parallelism().map_or(1, usize::from);
    asked
        .unwrap_or_else(|| processors().min(MOST_BROWSERS))
        .max(1)
}

#[expect(
    clippy::disallowed_methods,
    reason = "a native test may read the clock"
)]
fn now() -> Instant {
    Instant::now()
}

fn seconds(time: Duration) -> String {
    format!("{:6.1} s", time.as_secs_f64())
}

/// What a failed assertion says; where it stands, the thread of that browser has written above.
fn words_of(panic: &(dyn std::any::Any + Send)) -> String {
    let words = panic.downcast_ref::<String>().map(String::as_str);
    let words = words.or_else(|| panic.downcast_ref::<&str>().copied());
    words.unwrap_or("an assertion failed").to_owned()
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
