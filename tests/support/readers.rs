//! Readers that no one here wrote, to read back what we write: `OpenCASCADE`, openpyxl, `HarfBuzz`, `MuPDF` and ezdxf by Python,
//! the glTF validator by Node; see `installed` for where they come from.

use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};

use serde_json::Value;

use super::installed::{done, folder, had, node};

/// `OpenCASCADE`'s binding reads STEP, openpyxl spreadsheets.
const PYTHON_PINS: [&str; 3] = ["cadquery-ocp==8.0.1.1.0", "numpy==2.4.6", "openpyxl==3.1.5"];
/// Says whether what was installed can be used.
const PYTHON_TRIAL: &str = "import OCP.STEPControl, numpy, openpyxl";

/// `HarfBuzz` sets letters as browsers do; the others unpack fonts for it.
const LETTER_PINS: [&str; 3] = ["brotli==1.2.1", "fonttools==4.68.0", "uharfbuzz==0.57.0"];
const LETTER_TRIAL: &str = "import brotli, fontTools.ttLib, uharfbuzz";

/// `MuPDF` reads PDF, `ZXing` the codes on its pages.
const PDF_PINS: [&str; 3] = ["numpy==2.4.6", "pymupdf==2.0", "zxing-cpp==2.3.0"];
const PDF_TRIAL: &str = "import numpy, pymupdf, zxingcpp";

/// ezdxf reads and audits DXF.
const CUT_PINS: [&str; 2] = ["ezdxf==1.4.5", "numpy==2.4.6"];
const CUT_TRIAL: &str = "import ezdxf";

/// Facts that `read_back.py` finds for a job; none where Python's readers can't be had.
pub fn read_back(job: &Value) -> Option<Value> {
    let python = python("readers", &PYTHON_PINS, PYTHON_TRIAL);
    answer("read_back.py", &had("STEP and XLSX", python)?, job)
}

/// How wide `set_letters.py` finds texts set in fonts; none where its readers can't be had.
pub fn set_letters(job: &Value) -> Option<Value> {
    let python = python("readers-letters", &LETTER_PINS, LETTER_TRIAL);
    answer("set_letters.py", &had("lettering", python)?, job)
}

/// What `read_pdf.py` finds in PDF files; none where its reader can't be had.
pub fn read_pdf(files: &[PathBuf]) -> Option<Value> {
    let python = python("readers-pdf", &PDF_PINS, PDF_TRIAL);
    answer(
        "read_pdf.py",
        &had("PDF", python)?,
        &serde_json::json!(files),
    )
}

/// What `read_cut.py` finds in DXF files and archives; none where its reader can't be had.
pub fn read_cut(job: &Value) -> Option<Value> {
    let python = python("readers-cut", &CUT_PINS, CUT_TRIAL);
    answer("read_cut.py", &had("DXF and ZIP", python)?, job)
}

fn answer(script: &str, python: &Path, job: &Value) -> Option<Value> {
    let script = root().join("tests/support").join(script);
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

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

fn python(name: &str, pins: &[&str], trial: &str) -> Result<PathBuf, String> {
    let program = if cfg!(windows) {
        "Scripts/python.exe"
    } else {
        "bin/python"
    };
    let folder = folder(name, &pins.join(" "), |folder| {
        const HOW: &str = "Install Python 3.10 or newer with its venv module (Debian: sudo apt-get install python3-venv), and go on line.";
        let system = if cfg!(windows) { "python" } else { "python3" };
        done(Command::new(system).args(["-m", "venv"]).arg(folder), HOW)?;
        let ours = folder.join(program);
        done(
            Command::new(&ours)
                .args(["-m", "pip", "install", "--quiet"])
                .args(pins),
            HOW,
        )?;
        done(Command::new(&ours).args(["-c", trial]), HOW)
    })?;
    Ok(folder.join(program))
}
