//! The tools of the build: found where they are, installed under `target/tools` where they are not.
//!
//! `SCRIEVE_TOOLS`, an absolute folder, holds Trunk instead where several clones share one.

use std::ffi::OsString;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

/// Trunk's version; 0.22 asks for a newer Rust than `rust-version` in Cargo.toml.
const TRUNK_VERSION: &str = "0.21.14";
const WASM_TARGET: &str = "wasm32-unknown-unknown";

/// Names the launcher is linked as, besides its own.
pub const WASM_BINDGEN: &str = "wasm-bindgen";
pub const STAMP_DIST: &str = "stamp-dist";

/// A Trunk ready to be given its arguments: all it needs is installed and on its path.
pub fn trunk(root: &Path) -> Result<Command, String> {
    let own = root.join("target/tools/bin");
    link_as(&own, WASM_BINDGEN)?;
    link_as(&own, STAMP_DIST)?;
    add_wasm_target()?;
    let program = find_or_install_trunk(root)?;

    let mut command = Command::new(program);
    command
        .current_dir(root)
        .env("PATH", path_from(&own)?)
        .env(crate::pieces::WAITING, root.join("target/tools/pieces"))
        .env_remove("NO_COLOR");
    Ok(command)
}

/// Puts the running program into `folder` under another name.
fn link_as(folder: &Path, name: &str) -> Result<(), String> {
    let here = std::env::current_exe()
        .map_err(|error| format!("The launcher can't find itself: {error}"))?;
    let file = format!("{name}{}", std::env::consts::EXE_SUFFIX);
    let fresh = folder.join(format!("{file}.{}", std::process::id()));
    // Made aside and moved into place, since two builds may run at once.
    std::fs::create_dir_all(folder)
        .and_then(|()| {
            std::fs::hard_link(&here, &fresh)
                .or_else(|_error| std::fs::copy(&here, &fresh).map(|_size| ()))
        })
        .and_then(|()| std::fs::rename(&fresh, folder.join(&file)))
        .map_err(|error| {
            format!(
                "{name} could not be put into {}: {error}. Make the folder writable.",
                folder.display()
            )
        })?;
    // A rename between two links of one file leaves both names in place.
    match std::fs::remove_file(&fresh) {
        Err(error) if error.kind() != std::io::ErrorKind::NotFound => {
            Err(format!("{} could not be removed: {error}", fresh.display()))
        }
        _ => Ok(()),
    }
}

fn path_from(first: &Path) -> Result<OsString, String> {
    let rest = std::env::var_os("PATH").unwrap_or_default();
    std::env::join_paths(std::iter::once(first.to_path_buf()).chain(std::env::split_paths(&rest)))
        .map_err(|error| {
            format!(
                "{} can't stand on the search path ({error}): move the project elsewhere.",
                first.display()
            )
        })
}

fn add_wasm_target() -> Result<(), String> {
    const HOW: &str =
        "run: rustup target add wasm32-unknown-unknown (Rust by rustup, https://rustup.rs).";
    let found = Command::new("rustc")
        .args(["--print", "target-libdir", "--target", WASM_TARGET])
        .output()
        .map_err(|error| {
            format!("rustc could not be run ({error}): install Rust by rustup, https://rustup.rs.")
        })?;
    let folder = PathBuf::from(String::from_utf8_lossy(&found.stdout).trim());
    if found.status.success() && folder.is_dir() {
        return Ok(());
    }
    let added = Command::new("rustup")
        .args(["target", "add", WASM_TARGET])
        .status();
    match added {
        Ok(status) if status.success() => Ok(()),
        Ok(status) => Err(format!(
            "Rust's {WASM_TARGET} target could not be added ({status}): go on line and {HOW}"
        )),
        Err(error) => Err(format!(
            "Rust's {WASM_TARGET} target is missing and rustup could not be run ({error}): {HOW}"
        )),
    }
}

fn find_or_install_trunk(root: &Path) -> Result<PathBuf, String> {
    let home =
        std::env::var_os("SCRIEVE_TOOLS").map_or_else(|| root.join("target/tools"), PathBuf::from);
    let ours = home
        .join("bin")
        .join(format!("trunk{}", std::env::consts::EXE_SUFFIX));
    for candidate in [&ours, Path::new("trunk")] {
        if version_of(candidate).is_some_and(|version| version == TRUNK_VERSION) {
            return Ok(candidate.to_path_buf());
        }
    }
    eprintln!(
        "Trunk {TRUNK_VERSION} is missing: installing it into {}, once, in some minutes.",
        home.display()
    );
    let status = Command::new("cargo")
        .args([
            "install",
            "--locked",
            "--debug",
            "--no-default-features",
            "--force",
            "--root",
        ])
        .arg(&home)
        .args(["trunk", "--version", TRUNK_VERSION])
        // Settings of the calling build are not Trunk's.
        .env_remove("CARGO_TARGET_DIR")
        .env_remove("CARGO_BUILD_TARGET")
        .env_remove("RUSTFLAGS")
        .current_dir(std::env::temp_dir())
        .status()
        .map_err(|error| {
            format!("cargo could not be run ({error}): install Rust by rustup, https://rustup.rs.")
        })?;
    if status.success() {
        Ok(ours)
    } else {
        Err(format!(
            "Trunk could not be installed ({status}): go on line, or run: cargo install --locked trunk --version {TRUNK_VERSION}"
        ))
    }
}

fn version_of(program: &Path) -> Option<String> {
    let output = Command::new(program)
        .arg("--version")
        .stderr(Stdio::null())
        .output()
        .ok()?;
    let text = String::from_utf8(output.stdout).ok()?;
    text.trim().strip_prefix("trunk ").map(str::to_owned)
}
