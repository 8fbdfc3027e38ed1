//! Which module of a crate names which other: read from the text of its files, comments and tests left out.

use std::collections::{BTreeMap, BTreeSet};

/// A module by its path within its crate; the crate's root is empty.
pub type Path = Vec<String>;

/// The modules of a crate, each with the paths that it names, from the crate's root.
pub struct Modules(BTreeMap<Path, BTreeSet<Path>>);

impl Modules {
    /// Reads files by their names within the crate's source, each with its text.
    pub fn read(files: impl IntoIterator<Item = (String, String)>) -> Self {
        let of_product =
            |(name, _): &(String, String)| !name.ends_with("tests.rs") && !name.starts_with("bin/");
        let all = files.into_iter().filter(of_product);
        Self(
            all.map(|(name, text)| {
                let module = module_of(&name);
                let named = named_in(&text, &module);
                (module, named)
            })
            .collect(),
        )
    }

    /// Each module at the crate's root, with those that it and what lies in it names there.
    pub fn arrows(&self) -> BTreeMap<String, BTreeSet<String>> {
        let mut arrows = BTreeMap::new();
        for (module, named) in &self.0 {
            let Some(top) = module.first() else { continue };
            let to: &mut BTreeSet<String> = arrows.entry(top.clone()).or_default();
            to.extend(named.iter().filter_map(|path| path.first().cloned()));
            to.remove(top);
        }
        arrows
    }

    /// Modules that name each other, over others perhaps; a module and what lies in it may do so.
    pub fn circles(&self) -> Vec<BTreeSet<String>> {
        let kin = |a: &[String], b: &[String]| a.starts_with(b) || b.starts_with(a);
        let next = |module: &Path| -> BTreeSet<Path> {
            let named = self.0[module].iter().map(|path| self.module_in(path));
            named.filter(|other| !kin(other, module)).collect()
        };
        let reached = |from: &Path| {
            let mut reached = BTreeSet::new();
            let mut open = vec![from.clone()];
            while let Some(module) = open.pop() {
                for other in next(&module) {
                    if reached.insert(other.clone()) {
                        open.push(other);
                    }
                }
            }
            reached
        };
        let from: BTreeMap<&Path, BTreeSet<Path>> = self
            .0
            .keys()
            .map(|module| (module, reached(module)))
            .collect();
        let mut circles = BTreeSet::new();
        for (module, reached) in &from {
            if reached.contains(*module) {
                let back = reached.iter().filter(|other| from[other].contains(*module));
                circles.insert(back.map(|path| path.join("::")).collect());
            }
        }
        circles.into_iter().collect()
    }

    /// How many paths are named.
    pub fn count(&self) -> usize {
        self.0.values().map(BTreeSet::len).sum()
    }

    /// The module that a path leads into.
    fn module_in(&self, path: &[String]) -> Path {
        let mut module = path.to_vec();
        while !self.0.contains_key(&module) && module.pop().is_some() {}
        module
    }
}

fn module_of(name: &str) -> Path {
    let mut module: Path = name
        .trim_end_matches(".rs")
        .split('/')
        .map(str::to_owned)
        .collect();
    if let Some("mod" | "lib" | "main") = module.last().map(String::as_str) {
        module.pop();
    }
    module
}

/// A file's text up to its tests.
pub fn without_tests(text: &str) -> &str {
    let tests = ["#[cfg(test)]\nmod ", "#[cfg(test)]\npub(crate) mod "];
    let ends = tests.iter().filter_map(|tests| text.find(tests));
    &text[..ends.min().unwrap_or(text.len())]
}

/// Every path behind `crate`, `super` or `self`, from the crate's root.
fn named_in(text: &str, module: &[String]) -> BTreeSet<Path> {
    let bare = without_tests(text)
        .lines()
        .filter(|line| !line.trim_start().starts_with("//"));
    let bare: String = bare.collect::<Vec<_>>().join("\n");
    let mut named = BTreeSet::new();
    for start in ["crate", "super", "self"] {
        for (at, _) in bare.match_indices(&format!("{start}::")) {
            let whole = |c: char| !c.is_alphanumeric() && !":_".contains(c);
            if !bare[..at].chars().next_back().is_none_or(whole) {
                continue;
            }
            let mut rest = &bare[at..];
            let mut base = match start {
                "crate" => Vec::new(),
                _ => module.to_vec(),
            };
            while let Some(after) = rest.strip_prefix("super::") {
                base.pop();
                rest = after;
            }
            for own in ["crate::", "self::"] {
                rest = rest.strip_prefix(own).unwrap_or(rest);
            }
            follow(rest, &base, &mut named);
        }
    }
    named
}

/// Reads one tree of a `use`, or one path, behind a base; gives what stands behind it.
fn follow<'a>(text: &'a str, base: &[String], named: &mut BTreeSet<Path>) -> &'a str {
    let mut rest = text.trim_start();
    if let Some(mut inner) = rest.strip_prefix('{') {
        loop {
            inner = follow(inner, base, named).trim_start();
            match inner.strip_prefix(',') {
                Some(after) => inner = after.trim_start(),
                None => return inner.strip_prefix('}').unwrap_or(inner),
            }
            if let Some(after) = inner.strip_prefix('}') {
                return after;
            }
        }
    }
    let end = rest.find(|c: char| !c.is_alphanumeric() && c != '_');
    let (name, after) = rest.split_at(end.unwrap_or(rest.len()));
    let mut path = base.to_vec();
    if name != "self" && !name.is_empty() {
        path.push(name.to_owned());
    }
    rest = after;
    if let Some(after) = rest.strip_prefix("::") {
        return follow(after, &path, named);
    }
    named.insert(path);
    // A name of its own says nothing of where it comes from.
    match rest.trim_start().strip_prefix("as ") {
        Some(after) => after.trim_start_matches(|c: char| c.is_alphanumeric() || c == '_'),
        None => rest.strip_prefix('*').unwrap_or(rest),
    }
}
