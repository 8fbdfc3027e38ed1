//! Makes the demo's lines file out of its offsets table:
//! `cargo run -p geometry --example demo -- tests/data/demo_offsets.csv public/demo/marram.json`
#![expect(
    clippy::print_stderr,
    reason = "a program for the command line speaks there"
)]

use std::process::ExitCode;

use geometry::document::{Folder, TableOptions, read_table, write_folder};

fn main() -> ExitCode {
    let words: Vec<String> = std::env::args().skip(1).collect();
    match make(&words) {
        Ok(()) => ExitCode::SUCCESS,
        Err(sentence) => {
            eprintln!("{sentence}");
            ExitCode::FAILURE
        }
    }
}

fn make(words: &[String]) -> Result<(), String> {
    let [table, out] = words else {
        return Err("demo TABLE OUT".to_owned());
    };
    let bytes = std::fs::read(table).map_err(|error| format!("{table}: {error}"))?;
    let options = TableOptions {
        title: Some("Hallowby Marram".to_owned()),
        ..TableOptions::default()
    };
    let mut lines = read_table(&bytes, &options)
        .map_err(|error| error.to_string())?
        .lines();
    lines.about.revision = "A".to_owned();
    lines.about.notes =
        "An invented aircraft: offsets sheet 7, a measured tail stub and a photograph.".to_owned();
    let folder = Folder {
        lines,
        revisions: Vec::new(),
    };
    std::fs::write(out, write_folder(&folder)).map_err(|error| format!("{out}: {error}"))
}
