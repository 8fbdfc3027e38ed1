//! Files as one archive (ZIP), with a list of what is in it.
//!
//! The same files give the same bytes, natively and in the browser: packed by one library at one level, all dated 1980-01-01,
//! the first day that an archive can say.

use std::collections::BTreeSet;
use std::io::{Cursor, Write};

use sha2::{Digest, Sha256};
use zip::write::SimpleFileOptions;
use zip::{CompressionMethod, DateTime, System, ZipWriter};

use super::write_csv;
use crate::paper::{Cell, Table};
use crate::units::{LengthUnit, Message};

/// What the list of an archive's files is called in it.
pub const MANIFEST: &str = "manifest.csv";

/// Longest name of a file or a folder, bytes: what file systems take.
const LONGEST: usize = 255;

/// Why files can't be put into an archive.
#[derive(Debug)]
pub enum ZipError {
    /// A name that would leave the folder in which it is unpacked, or that no system takes: empty, `..`, with a `/` in front,
    /// a backslash, a colon, a letter that is none, or too long.
    Name(String),
    /// Two files would be one: their names differ by capitals at most.
    Doubled(String),
    /// What the library says of a file; one of 4 GiB brings it about.
    Packing {
        /// The file; none where the archive is ended.
        name: String,
        /// What is said.
        error: zip::result::ZipError,
    },
}

impl Message for ZipError {
    fn message(&self, _: LengthUnit) -> String {
        match self {
            Self::Name(name) => {
                format!("A file in an archive can't be called «{name}». Please report this.")
            }
            Self::Doubled(name) => {
                format!("Two files would both be called «{name}»: give one of them another name.")
            }
            Self::Packing { name, error } => {
                format!("«{name}» could not be packed: {error}. Take fewer files at once.")
            }
        }
    }
}

impl core::fmt::Display for ZipError {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        f.write_str(&self.message(LengthUnit::Millimetres))
    }
}

impl core::error::Error for ZipError {}

/// Puts files, each with its name, into an archive, in their order; folders stand before a `/`.
///
/// # Errors
/// [`ZipError`].
///
/// # Source
/// PKWARE's APPNOTE, by the library `zip`.
pub fn write_zip(files: &[(&str, &[u8])]) -> Result<Vec<u8>, ZipError> {
    const LEVEL: i64 = 6;
    let mut taken = BTreeSet::new();
    for (name, _) in files {
        if !is_safe(name) {
            return Err(ZipError::Name((*name).to_owned()));
        }
        if !taken.insert(name.to_lowercase()) {
            return Err(ZipError::Doubled((*name).to_owned()));
        }
    }
    // The library would say on what system it runs.
    let how = SimpleFileOptions::DEFAULT
        .compression_method(CompressionMethod::Deflated)
        .compression_level(Some(LEVEL))
        .last_modified_time(DateTime::DEFAULT)
        .system(System::Unix)
        .unix_permissions(0o644);
    let mut archive = ZipWriter::new(Cursor::new(Vec::new()));
    for (name, bytes) in files {
        let packing = |error| ZipError::Packing {
            name: (*name).to_owned(),
            error,
        };
        archive.start_file(*name, how).map_err(packing)?;
        archive
            .write_all(bytes)
            .map_err(|error| packing(error.into()))?;
    }
    let ended = archive.finish().map_err(|error| ZipError::Packing {
        name: String::new(),
        error,
    })?;
    Ok(ended.into_inner())
}

/// Whether a name stays in the folder in which it is unpacked, on any system.
fn is_safe(name: &str) -> bool {
    let part = |part: &str| !matches!(part, "" | "." | "..") && part.len() <= LONGEST;
    let letter = |letter: char| !letter.is_control() && !matches!(letter, '\\' | ':');
    name.chars().all(letter) && name.split('/').all(part)
}

/// A file with what is said of it in the list.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Filed<'a> {
    /// Its name in the archive.
    pub name: &'a str,
    /// What is in it.
    pub bytes: &'a [u8],
    /// The revision that it was made from, as a person calls it.
    pub revision: &'a str,
    /// That revision's fingerprint.
    pub fingerprint: &'a str,
    /// Which surface it shows: outside of the skin, inside, a setback.
    pub surface: &'a str,
}

/// What an archive holds: a line for each file, by which each can be checked.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Manifest<'a> {
    /// Files, in their order.
    pub files: Vec<Filed<'a>>,
}

impl Manifest<'_> {
    /// Name, size in bytes, SHA-256, revision, fingerprint and surface of each file.
    ///
    /// # Source
    /// SHA-256: FIPS 180-4.
    #[must_use]
    pub fn table(&self) -> Table {
        let text = |text: &str| Cell::Text(text.to_owned());
        let heads = [
            "File",
            "Bytes",
            "SHA-256",
            "Revision",
            "Fingerprint",
            "Surface",
        ];
        let row = |file: &Filed<'_>| {
            vec![
                text(file.name),
                Cell::Number(file.bytes.len() as f64, 0),
                Cell::Text(hexadecimal(&Sha256::digest(file.bytes))),
                text(file.revision),
                text(file.fingerprint),
                text(file.surface),
            ]
        };
        Table {
            title: "Files".to_owned(),
            unit: LengthUnit::Millimetres,
            heads: heads.map(str::to_owned).to_vec(),
            rows: self.files.iter().map(row).collect(),
            notes: Vec::new(),
        }
    }

    /// All its files as one archive, the list first.
    ///
    /// # Errors
    /// [`ZipError`]; a file may not be called as the list is.
    pub fn write_zip(&self) -> Result<Vec<u8>, ZipError> {
        let list = write_csv(&self.table());
        let mut files = vec![(MANIFEST, list.as_slice())];
        files.extend(self.files.iter().map(|file| (file.name, file.bytes)));
        write_zip(&files)
    }
}

fn hexadecimal(bytes: &[u8]) -> String {
    bytes.iter().map(|byte| format!("{byte:02x}")).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_same_files_give_the_same_bytes() {
        let files: [(&str, &[u8]); 2] = [("a/größe.dxf", b"one"), ("b.csv", &[7; 5000])];
        let bytes = write_zip(&files).unwrap();
        assert_eq!(write_zip(&files).unwrap(), bytes);
        assert!(bytes.len() < 1000, "{}", bytes.len());
        assert!(write_zip(&[]).is_ok());
    }

    #[test]
    fn names_that_lead_elsewhere_or_say_nothing_are_refused() {
        let long = "n".repeat(256);
        for name in [
            "", "/etc/x", "../x", "a/../b", "a/..", "..", ".", "a//b", "a/", "a\\b", "C:x", "a\nb",
            "a\0b", &long,
        ] {
            let refused = write_zip(&[(name, b"x")]);
            assert!(
                matches!(&refused, Err(ZipError::Name(n)) if n == name),
                "{name}"
            );
        }
        let error = write_zip(&[("../x", b"")]).unwrap_err();
        assert_eq!(
            error.to_string(),
            "A file in an archive can't be called «../x». Please report this."
        );
        assert!(write_zip(&[("a/b..c/.x", b"x"), ("ä.csv", b"")]).is_ok());
    }

    #[test]
    fn two_files_of_one_name_are_refused() {
        let error = write_zip(&[("FR 4.dxf", b"a"), ("x", b""), ("fr 4.DXF", b"b")]).unwrap_err();
        assert_eq!(
            error.to_string(),
            "Two files would both be called «fr 4.DXF»: give one of them another name."
        );
        let file = Filed {
            name: MANIFEST,
            bytes: b"",
            revision: "",
            fingerprint: "",
            surface: "",
        };
        let manifest = Manifest { files: vec![file] };
        assert!(matches!(manifest.write_zip(), Err(ZipError::Doubled(_))));
    }

    #[test]
    fn the_list_says_what_each_file_is() {
        let file = Filed {
            name: "abc.txt",
            bytes: b"abc",
            revision: "B, as faired",
            fingerprint: "7QK2M4A",
            surface: "outside of the skin",
        };
        let manifest = Manifest { files: vec![file] };
        // The digest: FIPS 180-2, appendix B.1.
        assert_eq!(
            String::from_utf8(write_csv(&manifest.table())).unwrap(),
            "File,Bytes,SHA-256,Revision,Fingerprint,Surface\n\
             abc.txt,3,ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad,\"B, as faired\",7QK2M4A,outside of the skin\n"
        );
    }
}
