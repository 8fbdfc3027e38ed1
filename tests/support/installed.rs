//! Programs from outside that check ours: a Python environment and Node packages.
//!
//! They are installed once, in pinned versions, under `target/readers` (or under `SCRIEVE_TOOLS`, an absolute folder
//! which several clones share). With `CI=true` one that can't be had is a fault; elsewhere its checks are left out and a
//! line says so.

use std::fs::{self, File};
use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::Command;

/// The glTF validator reads meshes; axe-core knows the rules of access.
const NODE_PINS: [&str; 2] = ["gltf-validator@2.0.0-dev.3.10", "axe-core@4.14.1"];

/// The program, or its absence said.
pub fn had<T>(what: &str, reader: Result<T, String>) -> Option<T> {
    match reader {
        Ok(reader) => Some(reader),
        Err(why) if std::env::var("CI").is_ok_and(|ci| ci == "true") => fault(what, &why),
        Err(why) => {
            // Past the test harness, which keeps what is printed in passed tests.
            writeln!(std::io::stderr(), "Left out: the check of {what}. {why}").ok();
            None
        }
    }
}

#[expect(clippy::panic, reason = "a check that can't be made ends the test")]
fn fault(what: &str, why: &str) -> ! {
    panic!("{what} can't be checked: {why}")
}

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

/// The folder of a program, made where it is missing: `install` fills it, and a note in it says with what.
pub fn folder(
    name: &str,
    pins: &str,
    install: impl FnOnce(&Path) -> Result<(), String>,
) -> Result<PathBuf, String> {
    let home =
        std::env::var_os("SCRIEVE_TOOLS").map_or_else(|| root().join("target"), PathBuf::from);
    let folder = home.join(name);
    let fault = |error: std::io::Error| format!("{} can't be used: {error}.", folder.display());
    fs::create_dir_all(&home).map_err(fault)?;
    let lock = File::create(home.join(format!("{name}.lock"))).map_err(fault)?;
    lock.lock().map_err(fault)?;
    let note = folder.join("installed.txt");
    if fs::read_to_string(&note).is_ok_and(|text| text == pins) {
        return Ok(folder);
    }
    writeln!(
        std::io::stderr(),
        "Installing {pins} into {}, once.",
        folder.display()
    )
    .ok();
    if folder.exists() {
        fs::remove_dir_all(&folder).map_err(fault)?;
    }
    fs::create_dir_all(&folder).map_err(fault)?;
    install(&folder)?;
    fs::write(&note, pins).map_err(fault)?;
    Ok(folder)
}

/// The folder with the Node packages.
pub fn node() -> Result<PathBuf, String> {
    const HOW: &str = "Install Node with npm (Debian: sudo apt-get install npm), and go on line.";
    done(Command::new("node").arg("--version"), HOW)?;
    folder("readers-node", &NODE_PINS.join(" "), |folder| {
        let npm = if cfg!(windows) { "npm.cmd" } else { "npm" };
        done(
            Command::new(npm)
                .args(["install", "--silent", "--no-audit", "--no-fund", "--prefix"])
                .arg(folder)
                .args(NODE_PINS),
            HOW,
        )
    })
}

/// Runs a command to its end, its words kept for the fault.
pub fn done(command: &mut Command, how: &str) -> Result<(), String> {
    let name = command.get_program().to_string_lossy().into_owned();
    let output = command
        .output()
        .map_err(|error| format!("{name} could not be run ({error}). {how}"))?;
    if output.status.success() {
        return Ok(());
    }
    let words = String::from_utf8_lossy(&output.stderr);
    let last = words.lines().last().unwrap_or_default();
    Err(format!("{name} stopped ({}): {last} {how}", output.status))
}
