//! The last step of a build: writes into the page which build it is.
//!
//! Trunk puts a hash into the names of the page's own program; the worker, styles and starters keep plain names. The
//! page asks for those as `name?v=STAMP`, so that a browser never mixes files of two builds.

use sha2::{Digest, Sha256};
use std::path::{Path, PathBuf};

/// What stands for the stamp in app/index.html and Trunk.toml.
const PLACE: &str = "BUILD_STAMP";

/// Stamps the folder that Trunk names in its environment.
pub fn stamp_staged() -> Result<(), String> {
    let folder = std::env::var_os("TRUNK_STAGING_DIR")
        .ok_or("stamp-dist is a step of Trunk's build: run cargo run -- build instead.")?;
    stamp(Path::new(&folder))
}

fn stamp(folder: &Path) -> Result<(), String> {
    let page = folder.join("index.html");
    let mut files = Vec::new();
    list(folder, &mut files)?;
    files.sort();
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

    let text = std::fs::read_to_string(&page).map_err(|error| at(&page, &error))?;
    if !text.contains(PLACE) {
        return Err(format!(
            "app/index.html no longer says {PLACE}: files of two builds could be mixed."
        ));
    }
    std::fs::write(&page, text.replace(PLACE, &stamp)).map_err(|error| at(&page, &error))
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

fn at(path: &Path, error: &std::io::Error) -> String {
    format!("{}: {error}", path.display())
}
