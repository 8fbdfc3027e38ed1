//! The launcher behind `cargo run`: gets what the build lacks, then lets Trunk build and serve the app.
//!
//! One program under three names. As `dev` it is the launcher. Linked as `wasm-bindgen` it is that tool, at the
//! version our own lock file names, and parts the page's program first (`pieces`); linked as `stamp-dist` it is the last step of Trunk's build.
#![expect(
    clippy::print_stdout,
    clippy::print_stderr,
    reason = "a launcher speaks to the person who ran it"
)]

mod pieces;
mod stamp;
mod tools;

use std::ffi::OsString;
use std::net::TcpListener;
use std::path::Path;
use std::process::{Command, ExitCode};

const USAGE: &str = "\
cargo run                        build the app, serve it, build it again when a file changes
cargo run -- --port 8081         the same on another port
cargo run -- build               build the folder dist/ for a static host
cargo run -- build --dist PATH   the same into another folder";

fn main() -> ExitCode {
    let mut words = std::env::args_os();
    let name = words.next().unwrap_or_default();
    let done = match Path::new(&name).file_stem().and_then(|stem| stem.to_str()) {
        Some(tools::WASM_BINDGEN) => pieces::bind(std::env::args_os()),
        Some(tools::STAMP_DIST) => stamp::stamp_staged(),
        _ => launch(&words.collect::<Vec<_>>()),
    };
    match done {
        Ok(()) => ExitCode::SUCCESS,
        Err(sentence) => {
            eprintln!("{sentence}");
            ExitCode::FAILURE
        }
    }
}

fn launch(words: &[OsString]) -> Result<(), String> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    match words.first().and_then(|word| word.to_str()) {
        Some("build") => {
            let mut trunk = tools::trunk(root)?;
            trunk.args(["build", "--release"]).args(&words[1..]);
            run(&mut trunk)
        }
        Some("help" | "--help" | "-h") => {
            println!("{USAGE}");
            Ok(())
        }
        Some(word) if !word.starts_with('-') => {
            Err(format!("«{word}» is no command of ours.\n{USAGE}"))
        }
        _ => {
            let port = asked_port(words)?;
            let mut trunk = tools::trunk(root)?;
            trunk.args(["serve", "--release"]).args(words);
            trunk.env(stamp::SERVED, "yes");
            println!(
                "Scrieve Board: http://127.0.0.1:{port}/ (open it when «success» shows below; Ctrl-C stops)"
            );
            replace(trunk)
        }
    }
}

/// The port that will be served, known to be free.
fn asked_port(words: &[OsString]) -> Result<u16, String> {
    const USUAL: u16 = 8080; // as in Trunk.toml
    let mut port = USUAL;
    let texts: Vec<_> = words.iter().map(|word| word.to_string_lossy()).collect();
    for (place, text) in texts.iter().enumerate() {
        let value = match text.strip_prefix("--port=") {
            Some(value) => value,
            None if text == "--port" => texts.get(place + 1).map_or("", |next| next),
            None => continue,
        };
        port = value
            .parse()
            .map_err(|_error| format!("«--port {value}»: give a number from 1 to 65535."))?;
    }
    match TcpListener::bind(("127.0.0.1", port)) {
        Ok(_free_again_when_dropped) => Ok(port),
        Err(error) => {
            let other = port.checked_add(1).unwrap_or(USUAL);
            Err(format!(
                "Port {port} can't be used ({error}): choose another, as in cargo run -- --port {other}"
            ))
        }
    }
}

fn run(command: &mut Command) -> Result<(), String> {
    let status = command
        .status()
        .map_err(|error| format!("Trunk could not be started: {error}"))?;
    if status.success() {
        Ok(())
    } else {
        Err(format!(
            "Trunk stopped ({status}); its message stands above."
        ))
    }
}

/// Becomes the command, so that whoever ends the launcher ends the server.
#[cfg(unix)]
fn replace(mut command: Command) -> Result<(), String> {
    let error = std::os::unix::process::CommandExt::exec(&mut command);
    Err(format!("Trunk could not be started: {error}"))
}

#[cfg(not(unix))]
fn replace(mut command: Command) -> Result<(), String> {
    run(&mut command)
}
