//! The page in pieces: what the first edit needs comes first, each other piece when it is asked for.
//!
//! Trunk hands what was linked to wasm-bindgen, which is the launcher under another name: here the program is parted
//! first, along the functions that `app` marks with `wasm_split`, by the relocations the linker leaves in it
//! (`.cargo/config.toml`). wasm-bindgen gets the main piece; the others, and the script that fetches them, wait in a
//! folder of the launcher's until the last step of the build puts them into the page's. They are named by their
//! content: a page never runs a piece of another build.

use sha2::{Digest, Sha256};
use std::ffi::OsString;
use std::path::{Path, PathBuf};
use wasm_split_cli_support::{Options, transform};

use crate::stamp::{PLACE, at};

/// In the environment: the folder where the pieces wait.
pub const WAITING: &str = "SCRIEVE_PIECES";

/// The program that is parted, as Trunk calls it; no other marks anything.
const PARTED: &str = "app";

/// The script that fetches pieces, as the parted program asks for it, and where it stands in the page's folder.
const ASKED: &str = "./__wasm_split.js";
const SCRIPT: &str = "pieces/fetch.js";

/// What the script asks the page's own script for.
const OWN: &str = "./app.js";

/// How a piece is compiled by the script as it comes; and so that a host may call the file what it likes, which it may
/// with the main piece too.
const STREAMED: &str = "WebAssembly.instantiateStreaming(src, imports)";
const WHOLE: &str = "src.then((answer) => { if (!answer.ok) throw new Error(`${answer.url} answers ${answer.status}`); return answer.arrayBuffer(); }).then((bytes) => WebAssembly.instantiate(bytes, imports))";

/// Parts the program that is to be bound, where it is the page's, then binds its main piece.
pub fn bind(words: impl Iterator<Item = OsString>) -> Result<(), String> {
    let mut words: Vec<OsString> = words.collect();
    let linked = words
        .iter()
        .position(|word| Path::new(word).extension().is_some_and(|e| e == "wasm"));
    if let Some(place) = linked {
        let file = PathBuf::from(&words[place]);
        let parted = file.file_stem().is_some_and(|stem| stem == PARTED);
        words[place] = if parted { part(&file) } else { bare(&file) }?.into_os_string();
        if parted {
            words.push("--keep-lld-exports".into()); // the pieces' table of functions
        }
    }
    // A fifth of the download would be names of functions, which no one sees.
    words.push("--remove-name-section".into());
    wasm_bindgen_cli::wasm_bindgen::run_cli_with_args(words)
        .map_err(|error| format!("wasm-bindgen: {error:#}"))
}

/// Parts a program: all pieces but the main one wait; where the main one is.
fn part(file: &Path) -> Result<PathBuf, String> {
    let waiting = waiting()?;
    if waiting.exists() {
        std::fs::remove_dir_all(&waiting).map_err(|error| at(&waiting, &error))?;
    }
    let main = file.with_extension("main.wasm");
    let bytes = std::fs::read(file).map_err(|error| at(file, &error))?;
    let mut options = Options::new(&bytes);
    options.output_dir = &waiting;
    options.main_out_path = &main;
    options.link_name = ASKED;
    options.main_module = OWN;
    let parted = transform(options)
        .map_err(|error| format!("{} could not be parted: {error:#}", file.display()))?;
    for piece in parted.split_modules {
        let bytes = std::fs::read(&piece).map_err(|error| at(&piece, &error))?;
        let bytes = without(&bytes, |name| name == "name").map_err(|why| at(&piece, &why))?;
        std::fs::write(&piece, bytes).map_err(|error| at(&piece, &error))?;
    }
    Ok(main)
}

/// A program that is not parted, without what the linker left for parting it; where it is.
fn bare(file: &Path) -> Result<PathBuf, String> {
    let bare = file.with_extension("bare.wasm");
    let bytes = std::fs::read(file).map_err(|error| at(file, &error))?;
    let left = |name: &str| name == "linking" || name.starts_with("reloc.");
    let bytes = without(&bytes, left).map_err(|why| at(file, &why))?;
    std::fs::write(&bare, bytes).map_err(|error| at(&bare, &error))?;
    Ok(bare)
}

fn waiting() -> Result<PathBuf, String> {
    std::env::var_os(WAITING)
        .map(PathBuf::from)
        .ok_or_else(|| format!("{WAITING} names no folder: build by cargo run -- build."))
}

/// Puts the waiting pieces into the page's folder, each named by its content. The files in which the build's stamp is
/// still to be written.
pub fn put_into(folder: &Path) -> Result<Vec<PathBuf>, String> {
    let waiting = waiting()?;
    let script = folder.join(SCRIPT);
    let beside = script.parent().unwrap_or(folder);
    std::fs::create_dir_all(beside).map_err(|error| at(beside, &error))?;

    let asked = waiting.join(ASKED);
    let mut text = std::fs::read_to_string(&asked).map_err(|error| at(&asked, &error))?;
    let entries = std::fs::read_dir(&waiting).map_err(|error| at(&waiting, &error))?;
    for entry in entries {
        let piece = entry.map_err(|error| at(&waiting, &error))?.path();
        let (Some(stem), true) = (
            piece.file_stem().and_then(|stem| stem.to_str()),
            piece.extension().is_some_and(|e| e == "wasm"),
        ) else {
            continue;
        };
        let bytes = std::fs::read(&piece).map_err(|error| at(&piece, &error))?;
        let hash = Sha256::digest(&bytes);
        let hash: String = hash.iter().take(8).map(|b| format!("{b:02x}")).collect();
        let name = format!("{}-{hash}.wasm", stem.trim_start_matches("split_"));
        let to = beside.join(&name);
        std::fs::write(&to, bytes).map_err(|error| at(&to, &error))?;
        let (from, to) = (format!("\"./{stem}.wasm\""), format!("\"./{name}\""));
        text = replaced(&text, &from, &to).map_err(|why| at(&asked, &why))?;
    }
    text = replaced(&text, STREAMED, WHOLE).map_err(|why| at(&asked, &why))?;

    // Both scripts must be asked for by the very address that the other and the page use, else they would be there twice.
    let own = own_script(folder)?;
    let name = own.file_name().unwrap_or_default().to_string_lossy();
    let to = format!("\"../{name}?v={PLACE}\"");
    text = replaced(&text, &format!("\"{OWN}\""), &to).map_err(|why| at(&asked, &why))?;
    std::fs::write(&script, text).map_err(|error| at(&script, &error))?;
    let text = std::fs::read_to_string(&own).map_err(|error| at(&own, &error))?;
    let from = format!("from \"{ASKED}\"");
    let to = format!("from \"./{SCRIPT}?v={PLACE}\"");
    let text = replaced(&text, &from, &to).map_err(|why| at(&own, &why))?;
    std::fs::write(&own, text).map_err(|error| at(&own, &error))?;
    Ok(vec![own, script])
}

/// The script that Trunk made of the page's program.
fn own_script(folder: &Path) -> Result<PathBuf, String> {
    let entries = std::fs::read_dir(folder).map_err(|error| at(folder, &error))?;
    for entry in entries {
        let path = entry.map_err(|error| at(folder, &error))?.path();
        let name = path.file_name().unwrap_or_default().to_string_lossy();
        if name.starts_with(PARTED) && name.ends_with(".js") {
            return Ok(path);
        }
    }
    Err(at(folder, &"the page's own script is missing"))
}

/// A text with other words in place of some that it must say.
fn replaced(text: &str, from: &str, to: &str) -> Result<String, String> {
    if text.contains(from) {
        Ok(text.replace(from, to))
    } else {
        Err(format!("it no longer says «{from}»"))
    }
}

/// A program without those of its custom sections whose names are in question.
fn without(bytes: &[u8], drops: impl Fn(&str) -> bool) -> Result<Vec<u8>, &'static str> {
    const CUT: &str = "the program ends within a section";
    const HEAD: usize = 8;
    const CUSTOM: u8 = 0;
    let mut kept = bytes.get(..HEAD).ok_or(CUT)?.to_vec();
    let mut from = HEAD;
    while from < bytes.len() {
        let kind = bytes[from];
        let (size, body) = number(bytes, from + 1).ok_or(CUT)?;
        let end = body.checked_add(size).ok_or(CUT)?;
        let whole = bytes.get(from..end).ok_or(CUT)?;
        let name = (kind == CUSTOM).then(|| {
            let (size, start) = number(bytes, body)?;
            str::from_utf8(bytes.get(start..start.checked_add(size)?)?).ok()
        });
        match name {
            Some(None) => return Err("a section's name can't be read"),
            Some(Some(name)) if drops(name) => {}
            _ => kept.extend_from_slice(whole),
        }
        from = end;
    }
    Ok(kept)
}

/// A number of the program's format, and where what follows it begins.
fn number(bytes: &[u8], mut from: usize) -> Option<(usize, usize)> {
    let mut value = 0_usize;
    for shift in [0, 7, 14, 21, 28] {
        let byte = *bytes.get(from)?;
        from += 1;
        value |= usize::from(byte & 0x7f) << shift;
        if byte < 0x80 {
            return Some((value, from));
        }
    }
    None
}
