//! The app in Chromium: one build for many steps, each on a fresh page of one of several browsers.
//!
//! Reading order: `run` (which step is done where and when, and how long it took), `server` (the host, and the wall around
//! it), `driver` (Chromium), `page` (what a step works with).

pub mod driver;
pub mod page;
mod run;
pub mod server;

use server::{Host, Wall};
use std::cell::RefCell;
use std::io::Write;
use std::path::PathBuf;
use thirtyfour::WindowHandle;

pub use run::Run;

/// What stops a step: in a sentence.
pub type Fault = Box<dyn std::error::Error>;

/// What the steps in one browser share.
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

thread_local! {
    /// What the step that runs in this thread has said so far; none: it says it at once.
    static SAID: RefCell<Option<String>> = const { RefCell::new(None) };
}

/// Writes a line for whoever waits: past the test's own capture, so that it shows when all is well too. What a step says
/// stands under its name once it is done, since other steps run beside it.
pub fn say(line: &str) {
    let kept = SAID.with_borrow_mut(|said| {
        said.as_mut().is_some_and(|said| {
            said.push_str(line);
            said.push('\n');
            true
        })
    });
    if !kept {
        write_out(&format!("{line}\n"));
    }
}

/// Keeps what is said in this thread from now on.
fn keep_said() {
    SAID.set(Some(String::new()));
}

/// Takes what was kept; from now on it is said at once again.
fn take_said() -> String {
    SAID.take().unwrap_or_default()
}

/// Writes whole lines at once, so that those of two browsers do not run into each other.
fn write_out(lines: &str) {
    // A closed terminal is no fault of the app.
    std::io::stderr().lock().write_all(lines.as_bytes()).ok();
}
