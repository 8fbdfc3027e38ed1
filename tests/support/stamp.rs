//! The last step of a build: writes into the page which build it is, and into the service worker which files it has.
//!
//! Trunk puts a hash into the names of the page's own program; the worker, styles and starters keep plain names. The
//! page asks for those as `name?v=STAMP`, so that a browser never mixes files of two builds. The service worker keeps
//! every file of the folder, each by its hash; where `cargo run` serves, it keeps none, so that a reload shows the newest.

use base64::{Engine, prelude::BASE64_STANDARD};
use sha2::{Digest, Sha256};
use std::path::{Path, PathBuf};

/// What stands for the stamp in app/index.html and Trunk.toml.
pub const PLACE: &str = "BUILD_STAMP";

/// What stands for the list of files in public/sw.js.
const LIST: &str = "\"BUILD_FILES\"";

/// The page, and the script that keeps all other files.
const PAGE: &str = "index.html";
const KEEPER: &str = "sw.js";

/// In the environment where `cargo run` serves what it builds.
pub const SERVED: &str = "SCRIEVE_SERVED";

/// Stamps the folder that Trunk names in its environment.
pub fn stamp_staged() -> Result<(), String> {
    let folder = std::env::var_os("TRUNK_STAGING_DIR")
        .ok_or("stamp-dist is a step of Trunk's build: run cargo run -- build instead.")?;
    stamp(Path::new(&folder))
}

fn stamp(folder: &Path) -> Result<(), String> {
    let mut waits = crate::pieces::put_into(folder)?;
    waits.push(folder.join(PAGE));
    let mut files = Vec::new();
    list(folder, &mut files)?;
    files.sort();
    for file in &files {
        let is = |what: &str| file.extension().is_some_and(|extension| extension == what);
        if is("js") || is("css") {
            let text = std::fs::read_to_string(file).map_err(|error| at(file, &error))?;
            std::fs::write(file, without_remarks(&text)).map_err(|error| at(file, &error))?;
        }
    }
    let mut hash = Sha256::new();
    for file in &files {
        hash.update(
            file.strip_prefix(folder)
                .unwrap_or(file)
                .to_string_lossy()
                .as_bytes(),
        );
        hash.update(std::fs::read(file).map_err(|error| at(file, &error))?);
    }
    let stamp: String = hash
        .finalize()
        .iter()
        .take(5)
        .map(|byte| format!("{byte:02x}"))
        .collect();

    for file in waits {
        write_in(&file, PLACE, &stamp)?;
    }
    let keeper = folder.join(KEEPER);
    write_in(&keeper, PLACE, &stamp)?;
    let list = if std::env::var_os(SERVED).is_some() {
        "null".to_owned()
    } else {
        list_of(folder, &files)?
    };
    write_in(&keeper, LIST, &list)
}

/// A script or sheet of styles without the lines that are remarks, and without what is before the first word of a line:
/// no browser needs them. None of ours, nor wasm-bindgen's, has a text of several lines.
fn without_remarks(text: &str) -> String {
    let mut bare = String::with_capacity(text.len());
    let mut inside = false;
    for line in text.lines().map(str::trim) {
        let begins = !inside && line.starts_with("/*");
        if (begins || inside) && !line.contains("*/") {
            inside = true;
        } else if begins || inside || line.starts_with("//") || line.is_empty() {
            inside = false;
        } else {
            bare.push_str(line);
            bare.push('\n');
        }
    }
    bare
}

/// Writes something in the place that waits for it.
fn write_in(file: &Path, place: &str, what: &str) -> Result<(), String> {
    let text = std::fs::read_to_string(file).map_err(|error| at(file, &error))?;
    if !text.contains(place) {
        return Err(format!(
            "{} no longer says {place}: files of two builds could be mixed.",
            file.display()
        ));
    }
    std::fs::write(file, text.replace(place, what)).map_err(|error| at(file, &error))
}

/// Every file but the keeper itself, as the host calls it, with its hash as a browser checks it.
fn list_of(folder: &Path, files: &[PathBuf]) -> Result<String, String> {
    let mut lines = Vec::new();
    for file in files {
        let inside = file.strip_prefix(folder).unwrap_or(file);
        let parts: Vec<_> = inside.iter().map(|part| part.to_string_lossy()).collect();
        let name = match parts.join("/") {
            name if name == KEEPER => continue,
            name if name == PAGE => String::new(),
            name => name,
        };
        let bytes = std::fs::read(file).map_err(|error| at(file, &error))?;
        let hash = BASE64_STANDARD.encode(Sha256::digest(bytes));
        lines.push(format!("  {name:?}: \"sha256-{hash}\",\n"));
    }
    Ok(format!("{{\n{}}}", lines.concat()))
}

fn list(folder: &Path, files: &mut Vec<PathBuf>) -> Result<(), String> {
    for entry in std::fs::read_dir(folder).map_err(|error| at(folder, &error))? {
        let path = entry.map_err(|error| at(folder, &error))?.path();
        if path.is_dir() {
            list(&path, files)?;
        } else {
            files.push(path);
        }
    }
    Ok(())
}

/// A fault with its place.
pub fn at(path: &Path, error: &impl std::fmt::Display) -> String {
    format!("{}: {error}", path.display())
}
