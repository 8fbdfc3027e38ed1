//! Readers that no one here wrote, to read back what we write: a Python environment and a Node package.
//!
//! They are installed once, in pinned versions, under `target/readers` (or under `SCRIEVE_TOOLS`, an absolute folder
//! which several clones share). With `CI=true` a reader that can't be had is a fault; elsewhere its checks are left out
//! and a line says so.

use std::fs::{self, File};
use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};

use serde_json::Value;

/// `OpenCASCADE`'s binding reads STEP, openpyxl spreadsheets.
const PYTHON_PINS: [&str; 3] = ["cadquery-ocp==8.0.1.1.0", "numpy==2.4.6", "openpyxl==3.1.5"];
/// Says whether what was installed can be used.
const PYTHON_TRIAL: &str = "import OCP.STEPControl, numpy, openpyxl";
const NODE_PIN: &str = "gltf-validator@2.0.0-dev.3.10";

/// Facts that `read_back.py` finds for a job; none where Python's readers can't be had.
pub fn read_back(job: &Value) -> Option<Value> {
    let python = had("STEP and XLSX", python())?;
    let script = root().join("tests/support/read_back.py");
    let mut reading = Command::new(python)
        .arg(script)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .expect("the environment's Python starts");
    let mut input = reading.stdin.take().expect("a pipe was asked for");
    input
        .write_all(job.to_string().as_bytes())
        .expect("Python takes its job");
    drop(input);
    facts(reading.wait_with_output().expect("Python ends"))
}

/// The validator's reports on GLB files; none where Node or the validator can't be had.
pub fn validate_glb(files: &[PathBuf]) -> Option<Value> {
    let folder = had("glTF", node())?;
    let script = root().join("tests/support/validate_glb.cjs");
    let output = Command::new("node")
        .arg(script)
        .args(files)
        .current_dir(folder)
        .stderr(Stdio::inherit())
        .output()
        .expect("Node starts");
    facts(output)
}

fn facts(output: Output) -> Option<Value> {
    assert!(
        output.status.success(),
        "a reader stopped; it says why above"
    );
    // What a reader's library prints beside the facts stands on other lines.
    let text = String::from_utf8(output.stdout).expect("facts are text");
    let line = text.lines().last().unwrap_or_default();
    Some(serde_json::from_str(line).expect("facts are JSON"))
}

/// The reader, or its absence said.
fn had<T>(what: &str, reader: Result<T, String>) -> Option<T> {
    match reader {
        Ok(reader) => Some(reader),
        Err(why) if std::env::var("CI").is_ok_and(|ci| ci == "true") => {
            panic!("{what} can't be read back: {why}")
        }
        Err(why) => {
            // Past the test harness, which keeps what is printed in passed tests.
            writeln!(std::io::stderr(), "Left out: reading {what} back. {why}").ok();
            None
        }
    }
}

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

/// The folder of a reader, made where it is missing: `install` fills it, and a note in it says with what.
fn folder(
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

fn python() -> Result<PathBuf, String> {
    let program = if cfg!(windows) {
        "Scripts/python.exe"
    } else {
        "bin/python"
    };
    let folder = folder("readers", &PYTHON_PINS.join(" "), |folder| {
        const HOW: &str = "Install Python 3.10 or newer with its venv module (Debian: sudo apt-get install python3-venv), and go on line.";
        let system = if cfg!(windows) { "python" } else { "python3" };
        done(Command::new(system).args(["-m", "venv"]).arg(folder), HOW)?;
        let ours = folder.join(program);
        done(
            Command::new(&ours)
                .args(["-m", "pip", "install", "--quiet"])
                .args(PYTHON_PINS),
            HOW,
        )?;
        done(Command::new(&ours).args(["-c", PYTHON_TRIAL]), HOW)
    })?;
    Ok(folder.join(program))
}

fn node() -> Result<PathBuf, String> {
    const HOW: &str = "Install Node with npm (Debian: sudo apt-get install npm), and go on line.";
    done(Command::new("node").arg("--version"), HOW)?;
    folder("readers-node", NODE_PIN, |folder| {
        let npm = if cfg!(windows) { "npm.cmd" } else { "npm" };
        done(
            Command::new(npm)
                .args(["install", "--silent", "--no-audit", "--no-fund", "--prefix"])
                .arg(folder)
                .arg(NODE_PIN),
            HOW,
        )
    })
}

/// Runs a command to its end, its words kept for the fault.
fn done(command: &mut Command, how: &str) -> Result<(), String> {
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
