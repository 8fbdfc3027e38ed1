//! The JSON door: a file with the working document and its frozen revisions.
//!
//! In: bytes of a file, trusted in nothing. Out: a [`Folder`] that obeys every rule, or an [`OpenError`] that says
//! where and what to do. And back: the bytes of a file.

use core::fmt;

use serde::{Deserialize, Serialize};
use serde_json::error::Category;

use super::rules::{Fault, LONGEST_NAME, LONGEST_NOTE, is_odd};
use super::{Folder, Issued, Lines, Revision, SCHEMA, named};
use crate::units::{LengthUnit, Message};

/// Largest file that is opened, in bytes: 32 MiB.
pub const LARGEST_FILE: usize = 32 << 20;
/// Deepest nesting that is opened; the form itself needs nine.
pub const DEEPEST: usize = 32;
/// Most revisions of one file.
pub const MOST_REVISIONS: usize = 500;
/// Most issues of one revision.
pub const MOST_ISSUES: usize = 200;
/// Most sheets of one issue.
pub const MOST_SHEETS: usize = 5_000;

const KIND: &str = "scrieve board lines";

#[derive(Deserialize)]
struct Head {
    schema: Option<serde_json::Number>,
    kind: Option<String>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct FileForm {
    schema: u32,
    #[serde(rename = "kind")]
    _kind: String,
    lines: Lines,
    #[serde(default)]
    revisions: Vec<Revision>,
    /// Of the lines and of each revision, in order; a file of schema 1 has none.
    #[serde(default)]
    fingerprints: Vec<String>,
}

#[derive(Serialize)]
struct FileFormRef<'a> {
    schema: u32,
    kind: &'static str,
    lines: &'a Lines,
    revisions: &'a [Revision],
    fingerprints: Vec<String>,
}

/// The lines and each revision.
fn states<'a>(lines: &'a Lines, revisions: &'a [Revision]) -> impl Iterator<Item = &'a Lines> {
    core::iter::once(lines).chain(revisions.iter().map(|revision| &revision.lines))
}

/// What bytes look like that are no text of the kind that is read here.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Guise {
    /// An XML, SVG or HTML text.
    Markup,
    /// A spreadsheet, or another archive.
    Archive,
    /// A PDF.
    Pdf,
    /// A picture.
    Picture,
    /// A JSON text.
    Json,
}

impl Guise {
    /// What the first bytes look like, if that is known.
    #[must_use]
    pub fn of(bytes: &[u8]) -> Option<Self> {
        let start = bytes
            .strip_prefix(b"\xef\xbb\xbf")
            .unwrap_or(bytes)
            .trim_ascii_start();
        match start {
            [b'<', ..] => Some(Self::Markup),
            [b'P', b'K', 3, 4, ..] => Some(Self::Archive),
            [b'%', b'P', b'D', b'F', ..] => Some(Self::Pdf),
            [0x89, b'P', b'N', b'G', ..]
            | [0xff, 0xd8, 0xff, ..]
            | [b'G', b'I', b'F', b'8', ..] => Some(Self::Picture),
            [b'{' | b'[', ..] => Some(Self::Json),
            _ => None,
        }
    }

    /// As a person calls it.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Markup => "a drawing or page (it starts with `<`)",
            Self::Archive => "a spreadsheet or archive",
            Self::Pdf => "a PDF",
            Self::Picture => "a picture",
            Self::Json => "a JSON text",
        }
    }
}

/// Why bytes are no text.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum NoText {
    /// They are text of two bytes a character.
    Utf16,
    /// A byte that no UTF-8 text has, counted from 1.
    NotUtf8(usize),
    /// They begin as UTF-16 does, but at this byte, counted from 1, stands half of a character.
    NotUtf16(usize),
}

impl fmt::Display for NoText {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Utf16 => f.write_str(
                "The text is in UTF-16, two bytes a character. Save it as UTF-8 and try again.",
            ),
            Self::NotUtf16(at) => write!(
                f,
                "The text is in UTF-16, two bytes a character, but is damaged at byte {at}. Save it as UTF-8 and try again."
            ),
            Self::NotUtf8(at) => {
                write!(
                    f,
                    "The text is not UTF-8: byte {at} fits no character. Save it as UTF-8 and try again."
                )
            }
        }
    }
}

/// The text of bytes that begin with the byte order mark of UTF-16, as spreadsheets save «Unicode text»; none of others.
pub(super) fn utf16_text_of(bytes: &[u8]) -> Result<Option<String>, NoText> {
    let read: fn([u8; 2]) -> u16 = match bytes {
        [0xff, 0xfe, ..] => u16::from_le_bytes,
        [0xfe, 0xff, ..] => u16::from_be_bytes,
        _ => return Ok(None),
    };
    let (pairs, left) = bytes.as_chunks::<2>();
    if !left.is_empty() {
        return Err(NoText::NotUtf16(bytes.len()));
    }
    let mut text = String::with_capacity(pairs.len());
    let mut at = 2;
    for letter in char::decode_utf16(pairs.iter().skip(1).map(|pair| read(*pair))) {
        let letter = letter.map_err(|_half| NoText::NotUtf16(at + 1))?;
        at += 2 * letter.len_utf16();
        text.push(letter);
    }
    Ok(Some(text))
}

/// The text of bytes, without a byte order mark.
pub(super) fn text_of(bytes: &[u8]) -> Result<&str, NoText> {
    let zeros = |from: usize| {
        bytes
            .iter()
            .skip(from)
            .step_by(2)
            .take(8)
            .filter(|&&byte| byte == 0)
            .count()
    };
    if bytes.starts_with(b"\xff\xfe")
        || bytes.starts_with(b"\xfe\xff")
        || zeros(0) >= 4
        || zeros(1) >= 4
    {
        return Err(NoText::Utf16);
    }
    let bytes = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes);
    core::str::from_utf8(bytes).map_err(|error| NoText::NotUtf8(error.valid_up_to() + 1))
}

/// Why a file was not opened; the work is as it was.
#[derive(Clone, Debug, PartialEq)]
pub enum OpenError {
    /// Nothing is in it.
    Empty,
    /// It is larger than [`LARGEST_FILE`]; its size in bytes.
    TooLarge(usize),
    /// It is no text.
    NoText(NoText),
    /// It is something else.
    SomethingElse(Option<Guise>),
    /// It nests deeper than [`DEEPEST`], at this line.
    TooDeep(usize),
    /// It ends before its end.
    CutOff {
        /// The last line, from 1.
        line: usize,
    },
    /// It breaks off being JSON.
    Garbled {
        /// Line, from 1.
        line: usize,
        /// Column, from 1.
        column: usize,
        /// What stands there.
        near: String,
    },
    /// It is JSON, but not made by this program.
    OtherKind,
    /// It was made by a newer program.
    Newer {
        /// Its schema.
        schema: String,
    },
    /// A value is not what the schema asks for.
    Form {
        /// Line, from 1.
        line: usize,
        /// Column, from 1.
        column: usize,
        /// What is wrong with it.
        says: String,
    },
    /// More than [`MOST_REVISIONS`].
    TooManyRevisions(usize),
    /// A revision has no label, one too long, or that of another; its place, from 1.
    RevisionLabel(usize),
    /// A revision's date is no `YYYY-MM-DD`, or its reason too long.
    RevisionDate(String),
    /// What a revision says was issued of it is no day and list of sheets.
    Issued(String),
    /// The lines are not those that the file's fingerprint is of.
    Fingerprint {
        /// In this revision; none: in the working document.
        revision: Option<String>,
    },
    /// A rule of a sound document is broken.
    Unsound {
        /// In this revision; none: in the working document.
        revision: Option<String>,
        /// Which, and where.
        fault: Fault,
    },
}

impl Message for OpenError {
    fn message(&self, unit: LengthUnit) -> String {
        match self {
            Self::Empty => "This file is empty. Choose another.".to_owned(),
            Self::TooLarge(size) => format!(
                "This file has {} MiB; lines have at most {}. Choose another.",
                size >> 20,
                LARGEST_FILE >> 20
            ),
            Self::NoText(what) => what.to_string(),
            Self::SomethingElse(Some(guise)) => {
                format!(
                    "This is {}, not a file of lines. Choose one that Scrieve Board saved.",
                    guise.name()
                )
            }
            Self::SomethingElse(None) => {
                "This is not a file of lines. If it is an offsets table, take it in as a \
                                          table; else choose one that Scrieve Board saved."
                    .to_owned()
            }
            Self::TooDeep(line) => format!(
                "Line {line} of this file nests deeper than lines ever do ({DEEPEST}). It was not made by Scrieve Board."
            ),
            Self::CutOff { line } => format!(
                "This file is cut off in line {line}: its end is missing. Fetch it again from where it came from."
            ),
            Self::Garbled { line, column, near } => format!(
                "This file is damaged in line {line}, character {column}, at `{near}`. Fetch it again from where it \
                 came from."
            ),
            Self::OtherKind => format!(
                "This file does not say that it holds lines (its `kind` is not \"{KIND}\"). Choose one that Scrieve \
                 Board saved."
            ),
            Self::Newer { schema } => format!(
                "This file was made by a newer Scrieve Board (schema {schema}); this one reads up to {SCHEMA}. Reload \
                 the page to get the newest."
            ),
            Self::Form { line, column, says } => format!(
                "Line {line}, character {column} of this file: {says}. It is damaged, or was changed by another \
                 program."
            ),
            Self::TooManyRevisions(found) => {
                format!("This file has {found} revisions; at most {MOST_REVISIONS} can be held.")
            }
            Self::RevisionLabel(number) => format!(
                "Revision {number} of this file has no label of its own (1 to {LONGEST_NAME} characters). It was \
                 changed by another program."
            ),
            Self::RevisionDate(label) => format!(
                "Revision {label} of this file has no day as 2026-03-21, or a reason of more than {LONGEST_NOTE} \
                 characters. It was changed by another program."
            ),
            Self::Issued(label) => format!(
                "What revision {label} of this file says was issued of it has no day as 2026-03-21, or names no sheets. It \
                 was changed by another program."
            ),
            Self::Fingerprint { revision } => format!(
                "{} not what its fingerprint is of: it is damaged, or was changed by another program. Fetch the file \
                 again from where it came from.",
                revision.as_ref().map_or_else(
                    || "What this file holds is".to_owned(),
                    |label| format!("Revision {label} in this file is")
                )
            ),
            Self::Unsound {
                revision: None,
                fault,
            } => format!("This file: {}", fault.message(unit)),
            Self::Unsound {
                revision: Some(label),
                fault,
            } => {
                format!("Revision {label} in this file: {}", fault.message(unit))
            }
        }
    }
}

impl fmt::Display for OpenError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.message(LengthUnit::Millimetres))
    }
}

impl core::error::Error for OpenError {}

/// Opens a file.
///
/// # Errors
/// [`OpenError`]: what is wrong, where, and what to do. Nothing is half opened.
pub fn read_folder(bytes: &[u8]) -> Result<Folder, OpenError> {
    if bytes.len() > LARGEST_FILE {
        return Err(OpenError::TooLarge(bytes.len()));
    }
    if bytes.trim_ascii().is_empty() {
        return Err(OpenError::Empty);
    }
    let text = text_of(bytes).map_err(OpenError::NoText)?;
    match Guise::of(bytes) {
        Some(Guise::Json) => {}
        other => return Err(OpenError::SomethingElse(other)),
    }
    if let Some(line) = too_deep(text) {
        return Err(OpenError::TooDeep(line));
    }
    let broken = |error: serde_json::Error| told(text, &error);
    let head: Head = named::read(text).map_err(|error| match error.classify() {
        Category::Data => OpenError::OtherKind,
        Category::Io | Category::Syntax | Category::Eof => told(text, &error),
    })?;
    if head.kind.as_deref() != Some(KIND) {
        return Err(OpenError::OtherKind);
    }
    match head.schema {
        // Schema 1 knew nothing of a source but its title; the rest is as in 2.
        Some(schema)
            if schema
                .as_u64()
                .is_some_and(|number| (1..=u64::from(SCHEMA)).contains(&number)) => {}
        Some(schema)
            if schema
                .as_f64()
                .is_some_and(|number| number > f64::from(SCHEMA)) =>
        {
            return Err(OpenError::Newer {
                schema: schema.to_string(),
            });
        }
        _ => return Err(OpenError::OtherKind),
    }
    let form: FileForm = named::read(text).map_err(broken)?;
    let folder = Folder {
        lines: form.lines,
        revisions: form.revisions,
    };
    check(&folder)?;
    let sealed = form.schema > 1;
    let states = states(&folder.lines, &folder.revisions);
    for (n, lines) in states.enumerate().filter(|_| sealed) {
        let said = form.fingerprints.get(n);
        if said.is_none_or(|said| lines.fingerprint().full() != *said) {
            let revision = n.checked_sub(1).and_then(|n| folder.revisions.get(n));
            return Err(OpenError::Fingerprint {
                revision: revision.map(|revision| revision.label.clone()),
            });
        }
    }
    Ok(folder)
}

fn check(folder: &Folder) -> Result<(), OpenError> {
    let sound = |lines: &Lines, revision: Option<&str>| match lines.first_fault() {
        Some(fault) => Err(OpenError::Unsound {
            revision: revision.map(str::to_owned),
            fault,
        }),
        None => Ok(()),
    };
    sound(&folder.lines, None)?;
    if folder.revisions.len() > MOST_REVISIONS {
        return Err(OpenError::TooManyRevisions(folder.revisions.len()));
    }
    let mut labels = std::collections::BTreeSet::new();
    for (n, revision) in folder.revisions.iter().enumerate() {
        let label = revision.label.as_str();
        let long = label.chars().count() > LONGEST_NAME;
        if label.trim().is_empty() || long || label.chars().any(is_odd) || !labels.insert(label) {
            return Err(OpenError::RevisionLabel(n + 1));
        }
        if !is_day(&revision.date) || revision.reason.chars().count() > LONGEST_NOTE {
            return Err(OpenError::RevisionDate(label.to_owned()));
        }
        if !revision.issued.iter().all(is_sound_issue) || revision.issued.len() > MOST_ISSUES {
            return Err(OpenError::Issued(label.to_owned()));
        }
        sound(&revision.lines, Some(label))?;
    }
    Ok(())
}

fn is_sound_issue(issued: &Issued) -> bool {
    let named =
        |code: &String| code.chars().count() <= 2 * LONGEST_NAME && !code.chars().any(is_odd);
    is_day(&issued.date) && issued.sheets.len() <= MOST_SHEETS && issued.sheets.iter().all(named)
}

pub(super) fn is_day(text: &str) -> bool {
    let number = |part: Option<&str>, digits: usize| -> Option<u32> {
        part.filter(|part| part.len() == digits && part.bytes().all(|b| b.is_ascii_digit()))?
            .parse()
            .ok()
    };
    let mut parts = text.split('-');
    let day = (
        number(parts.next(), 4),
        number(parts.next(), 2),
        number(parts.next(), 2),
        parts.next(),
    );
    matches!(day, (Some(_), Some(1..=12), Some(1..=31), None))
}

/// The line where a text nests too deep.
fn too_deep(text: &str) -> Option<usize> {
    let (mut depth, mut line, mut quoted, mut escaped) = (0_usize, 1, false, false);
    for byte in text.bytes() {
        line += usize::from(byte == b'\n');
        if quoted {
            match byte {
                b'"' if !escaped => quoted = false,
                b'\\' if !escaped => {
                    escaped = true;
                    continue;
                }
                _ => {}
            }
            escaped = false;
        } else {
            match byte {
                b'"' => quoted = true,
                b'{' | b'[' => depth += 1,
                b'}' | b']' => depth = depth.saturating_sub(1),
                _ => {}
            }
        }
        if depth > DEEPEST {
            return Some(line);
        }
    }
    None
}

/// A parser's complaint in the person's words.
fn told(text: &str, error: &serde_json::Error) -> OpenError {
    let (line, column) = (error.line(), error.column());
    match error.classify() {
        Category::Eof => OpenError::CutOff { line },
        Category::Data => {
            let says = error.to_string();
            let says = says.split(" at line ").next().unwrap_or_default();
            let says = says.split(", expected one of").next().unwrap_or_default();
            OpenError::Form {
                line,
                column,
                says: says.chars().take(200).collect(),
            }
        }
        Category::Io | Category::Syntax => {
            let here = text.lines().nth(line.saturating_sub(1)).unwrap_or_default();
            // Columns are counted in bytes; the cut falls between characters.
            let mut from = column.saturating_sub(16).min(here.len());
            while !here.is_char_boundary(from) {
                from -= 1;
            }
            let near = here
                .get(from..)
                .unwrap_or_default()
                .chars()
                .take(32)
                .collect();
            OpenError::Garbled { line, column, near }
        }
    }
}

/// Writes a file: one line of JSON.
///
/// # Panics
/// Never: only maps with odd keys cannot be written, and the form has none.
///
/// # Accuracy
/// Every number is read back with its bits.
///
/// # Source
/// JSON: RFC 8259.
#[must_use]
pub fn write_folder(folder: &Folder) -> Vec<u8> {
    let form = FileFormRef {
        schema: SCHEMA,
        kind: KIND,
        lines: &folder.lines,
        revisions: &folder.revisions,
        fingerprints: states(&folder.lines, &folder.revisions)
            .map(|lines| lines.fingerprint().full())
            .collect(),
    };
    #[expect(
        clippy::expect_used,
        reason = "only maps with odd keys can fail, and the form has none"
    )]
    let mut bytes = serde_json::to_vec(&form).expect("the form can always be written");
    bytes.push(b'\n');
    bytes
}
