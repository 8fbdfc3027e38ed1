//! The rules of the tree: who may use whom, how long a file may be, where colours stand, what each file says of itself.
#![expect(clippy::unwrap_used, reason = "a test ends at its first fault")]

#[path = "support/modules.rs"]
mod modules;

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

use modules::{Modules, without_tests};

/// Longest file, in lines; a longer one is two.
const LONGEST: usize = 1000;

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

/// The files of a folder and its folders with such an ending, each with its text.
fn files(folder: &str, ending: &str) -> Vec<(String, String)> {
    let mut open = vec![root().join(folder)];
    let mut found: Vec<PathBuf> = Vec::new();
    while let Some(folder) = open.pop() {
        for entry in fs::read_dir(folder).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                open.push(path);
            } else if path.extension().is_some_and(|e| e == ending) {
                found.push(path);
            }
        }
    }
    found.sort();
    let named = |path: PathBuf| {
        let name = path.strip_prefix(root()).unwrap().display().to_string();
        (name, fs::read_to_string(&path).unwrap())
    };
    found.into_iter().map(named).collect()
}

fn rust() -> Vec<(String, String)> {
    ["geometry", "app/src", "tests"]
        .into_iter()
        .flat_map(|folder| files(folder, "rs"))
        .collect()
}

/// The table «Who may use whom» of DEVELOPERS.md.
fn arrows() -> BTreeMap<String, Vec<String>> {
    let text = fs::read_to_string(root().join("DEVELOPERS.md")).unwrap();
    let (_, table) = text.split_once("## Who may use whom").unwrap();
    table
        .lines()
        .skip_while(|line| !line.starts_with("| ---"))
        .skip(1)
        .take_while(|line| line.starts_with('|'))
        .map(|line| {
            let cells: Vec<&str> = line.trim_matches('|').split('|').map(str::trim).collect();
            let may = cells[1].split(", ").map(str::to_owned).collect();
            (cells[0].to_owned(), may)
        })
        .collect()
}

/// The modules of a crate.
fn modules(source: &str) -> Modules {
    let within = |(name, text): (String, String)| {
        (
            name.trim_start_matches(source)
                .trim_start_matches('/')
                .to_owned(),
            text,
        )
    };
    Modules::read(files(source, "rs").into_iter().map(within))
}

#[test]
fn modules_use_whom_they_may() {
    let table = arrows();
    let geometry = modules("geometry/src");
    assert!(
        geometry.count() > 500,
        "only {} uses were found",
        geometry.count()
    );
    for (module, uses) in geometry.arrows() {
        let may = table.get(&module);
        let may = may.unwrap_or_else(|| panic!("{module} is not in the table of DEVELOPERS.md"));
        let other = uses.iter().find(|used| !may.contains(used));
        assert_eq!(other, None, "{module} may not use it");
    }
    // The page's: a view shows the session's state, which knows nothing of views.
    let app = modules("app/src");

    let may = |module: &str| match module {
        "views" => &["state", "jobs", "storage", "version", "exchange"][..],
        "state" => &["jobs", "storage", "tabs", "exchange"],
        "exchange" => &[],
        _ => &["exchange"],
    };
    for (module, uses) in app.arrows() {
        let other = uses
            .iter()
            .find(|used| !may(&module).contains(&used.as_str()));
        assert_eq!(other, None, "{module} of the page may not use it");
    }
}

#[test]
fn no_module_leads_back_to_itself() {
    for source in ["geometry/src", "app/src"] {
        let circles = modules(source).circles();
        assert!(circles.is_empty(), "{source}: {circles:#?}");
    }
}

/// The type that a line of code defines; an alias only where it stands at the margin, for within an `impl` it is a trait's.
fn defined(line: &str) -> Option<&str> {
    let code = line.trim_start();
    let code = match code.strip_prefix("pub") {
        Some(rest) => rest.split_once(' ')?.1,
        None => code,
    };
    let (kind, rest) = code.split_once(' ')?;
    let defines = match kind {
        "struct" | "enum" | "trait" | "union" => true,
        "type" => !line.starts_with(' '),
        _ => false,
    };
    let name = rest
        .split(|c: char| !c.is_alphanumeric() && c != '_')
        .next();
    name.filter(|name| defines && !name.is_empty())
}

#[test]
fn no_two_types_of_geometry_have_one_name() {
    let mut names: BTreeMap<String, String> = BTreeMap::new();
    for (file, text) in files("geometry/src", "rs") {
        if file.ends_with("tests.rs") {
            continue;
        }
        for (number, line) in without_tests(&text).lines().enumerate() {
            let Some(name) = defined(line) else { continue };
            let here = format!("{file}:{}", number + 1);
            if let Some(other) = names.insert(name.to_owned(), here.clone()) {
                panic!(
                    "{name} is defined at {other} and at {here}: give one of them a word of its own"
                );
            }
        }
    }
    assert!(names.len() > 300, "only {} types were found", names.len());
}

#[test]
fn files_say_what_they_are_and_end_in_time() {
    for (name, text) in rust() {
        let lines = text.lines().count();
        assert!(lines <= LONGEST, "{name} has {lines} lines");
        assert!(text.starts_with("//! "), "{name} does not say what it is");
    }
}

#[test]
fn colours_stand_in_the_tokens_only() {
    let mut sheets = 0;
    for (name, text) in files("public/styles", "css") {
        sheets += 1;
        if name.ends_with("tokens.css") {
            continue;
        }
        for (number, line) in text.lines().enumerate() {
            let raw = line.split([':', ' ', ',', '(', ')']).any(|word| {
                let word = word.trim_end_matches(';');
                word.strip_prefix('#')
                    .is_some_and(|hex| hex.len() >= 3 && hex.chars().all(|c| c.is_ascii_hexdigit()))
            });
            let named = ["rgb(", "rgba(", "hsl(", "oklch("]
                .iter()
                .any(|f| line.contains(f));
            assert!(!raw && !named, "{name}:{}: {line}", number + 1);
        }
    }
    assert!(sheets > 3);
    for (name, text) in files("app/src", "rs") {
        for (number, line) in text.lines().enumerate() {
            let hex = line.split('"').skip(1).step_by(2).any(|word| {
                word.strip_prefix('#').is_some_and(|hex| {
                    matches!(hex.len(), 3 | 6) && hex.chars().all(|c| c.is_ascii_hexdigit())
                })
            });
            assert!(!hex, "{name}:{}: a colour of its own", number + 1);
        }
    }
}

#[test]
fn the_browsers_own_colours_are_those_of_the_paper() {
    let read = |name: &str| fs::read_to_string(root().join(name)).unwrap();
    let tokens = read("public/styles/tokens.css");
    let (_, rest) = tokens.split_once("--paper: light-dark(").unwrap();
    let (both, _) = rest.split_once(')').unwrap();
    let (light, dark) = both.split_once(", ").unwrap();
    let page = read("app/index.html");
    for (colour, scheme) in [(light, "light"), (dark, "dark")] {
        let meta = format!("content=\"{colour}\" media=\"(prefers-color-scheme: {scheme})\"");
        assert!(page.contains(&meta), "{meta}");
    }
    let manifest = read("public/manifest.webmanifest");
    for name in ["theme_color", "background_color"] {
        let says = format!("\"{name}\": \"{light}\"");
        assert!(manifest.contains(&says), "{says}");
    }
}

#[test]
fn every_schema_has_a_frozen_sample() {
    let text = fs::read_to_string(root().join("geometry/src/document/mod.rs")).unwrap();
    let (_, rest) = text.split_once("SCHEMA: u32 = ").unwrap();
    let newest: u32 = rest.split(';').next().unwrap().parse().unwrap();
    for schema in 1..=newest {
        let sample = format!("tests/data/schema_{schema}.json");
        assert!(root().join(&sample).exists(), "{sample} is missing");
    }
}

#[test]
fn the_top_of_the_tree_is_as_agreed() {
    const AGREED: [&str; 9] = [
        "Cargo.lock",
        "Cargo.toml",
        "DEVELOPERS.md",
        "README.md",
        "Trunk.toml",
        "app",
        "geometry",
        "public",
        "tests",
    ];
    for entry in fs::read_dir(root()).unwrap() {
        let name = entry.unwrap().file_name().into_string().unwrap();
        let made = ["target", "dist"].contains(&name.as_str());
        let fits = name.starts_with('.') || made || AGREED.contains(&name.as_str());
        assert!(fits, "{name} stands at the top");
    }
}
