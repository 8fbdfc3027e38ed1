//! Freezing: a state of the lines kept for good, with a label, a day and a reason.
//!
//! In: a [`Folder`] and what a person says of the state. Out: the folder with one more [`Revision`], or a [`FreezeError`].
//! What was open when it was frozen is told behind the reason.

use core::fmt;

use super::file::{MOST_ISSUES, MOST_REVISIONS, is_day};
use super::rules::{LONGEST_NAME, LONGEST_NOTE, is_odd};
use super::{Folder, Frozen, Issued, Lines, Revision};
use crate::units::{LengthUnit, Message};

/// Why a state was not frozen.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum FreezeError {
    /// The label is empty.
    NoLabel,
    /// The label is too long, or has a character that cannot be drawn.
    Label,
    /// Another revision has the label.
    TakenLabel(String),
    /// The reason is empty.
    NoReason,
    /// The reason is longer than can be held, in characters.
    LongReason(usize),
    /// The day is none.
    Day(String),
    /// As many are frozen as a file can hold.
    TooMany(usize),
}

impl Message for FreezeError {
    fn message(&self, _unit: LengthUnit) -> String {
        match self {
            Self::NoLabel => "Give the revision a label, as B.".to_owned(),
            Self::Label => format!(
                "The label is longer than {LONGEST_NAME} characters, or has one that cannot be drawn. Shorten it, as B."
            ),
            Self::TakenLabel(label) => {
                format!("Revision {label} is frozen already. Give this one the next label.")
            }
            Self::NoReason => {
                "Say why it is frozen; that stands beside it from then on.".to_owned()
            }
            Self::LongReason(most) => {
                format!("The reason is longer than {most} characters. Shorten it.")
            }
            Self::Day(day) => format!("`{day}` is no day. Set this device's clock."),
            Self::TooMany(most) => {
                format!("A file holds {most} revisions at most. Begin another file.")
            }
        }
    }
}

impl fmt::Display for FreezeError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.message(LengthUnit::Millimetres))
    }
}

impl core::error::Error for FreezeError {}

/// Most matters that are named as open; the rest is counted.
const OPEN_NAMED: usize = 6;

/// How far it is known what is to be settled of a state.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum OpenKnown {
    /// Not at all yet.
    No,
    /// Not at all: a person stopped the judging.
    Stopped,
    /// There was no loft by which lines could be judged.
    WithoutLoft,
    /// All but the hollows, which are still looked for.
    WithoutHollows,
    /// All of it.
    Whole,
}

/// What is open of a state when it is frozen.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct StillOpen {
    /// How far it is known.
    pub known: OpenKnown,
    /// What is to be settled, each by its title.
    pub matters: Vec<String>,
    /// Torn cells that nothing was typed into.
    pub torn: usize,
}

impl StillOpen {
    /// In sentences, the first one to follow a colon; none where nothing is open and all of it is known.
    #[must_use]
    pub fn words(&self) -> Option<String> {
        let mut says = Vec::new();
        match self.known {
            OpenKnown::No => says.push("what is to be settled was not worked out yet".to_owned()),
            OpenKnown::Stopped => says
                .push("what is to be settled was not worked out: judging was stopped".to_owned()),
            OpenKnown::WithoutLoft | OpenKnown::WithoutHollows | OpenKnown::Whole => {
                says.extend(self.listed());
            }
        }
        match self.known {
            OpenKnown::WithoutLoft => {
                says.push("there was no loft, so that no line was judged".to_owned());
            }
            OpenKnown::WithoutHollows => {
                says.push("hollows were not all looked for yet".to_owned());
            }
            OpenKnown::No | OpenKnown::Stopped | OpenKnown::Whole => {}
        }
        match self.torn {
            0 => {}
            1 => says.push("1 torn cell".to_owned()),
            torn => says.push(format!("{torn} torn cells")),
        }
        let (first, more) = says.split_first()?;
        let mut words = format!("{first}.");
        for sentence in more {
            let mut letters = sentence.chars();
            let capital = letters.next().map(|first| first.to_ascii_uppercase());
            words.push(' ');
            words.extend(capital);
            words.push_str(letters.as_str());
            words.push('.');
        }
        Some(words)
    }

    /// How many matters there are, and the first of them by name.
    fn listed(&self) -> Option<String> {
        let count = self.matters.len();
        let mut named: Vec<String> = self.matters.iter().take(OPEN_NAMED).cloned().collect();
        if count > OPEN_NAMED {
            named.push(format!("{} more", count - OPEN_NAMED));
        }
        (count > 0).then(|| format!("{count} to settle: {}", named.join("; ")))
    }
}

/// The reason for freezing a state, with what was open then told behind it.
///
/// Together they are no longer than a reason may be: what was open is cut to the room that the reason leaves, and is left
/// out where not even its beginning has room. A reason that is empty, or too long by itself, comes back as it is.
#[must_use]
pub fn reason_with_open(reason: &str, open: &str) -> String {
    /// Fewest characters of what was open that say anything.
    const LEAST: usize = 12;
    let reason = reason.trim();
    if reason.is_empty() {
        return String::new();
    }
    let ends = reason.ends_with(['.', '?', '!', '…']);
    let stop = if ends { "" } else { "." };
    let told = format!("{reason}{stop} When it was frozen: ");
    let room = LONGEST_NOTE.saturating_sub(told.chars().count());
    if open.chars().count() <= room {
        return told + open;
    }
    if room < LEAST {
        return reason.to_owned();
    }
    let kept: String = open.chars().take(room - 1).collect();
    format!("{told}{kept}…")
}

/// A day, `2026-03-21`, as people say it: `21 March 2026`; anything else as it is.
#[must_use]
pub fn day_words(date: &str) -> String {
    const MONTHS: [&str; 12] = [
        "January",
        "February",
        "March",
        "April",
        "May",
        "June",
        "July",
        "August",
        "September",
        "October",
        "November",
        "December",
    ];
    let mut parts = date.split('-');
    let (year, month, day) = (parts.next(), parts.next(), parts.next());
    let month = month.and_then(|month| month.parse::<usize>().ok());
    let month = month.and_then(|month| MONTHS.get(month.checked_sub(1)?));
    match (year, month, day.and_then(|day| day.parse::<u32>().ok())) {
        (Some(year), Some(month), Some(day)) => format!("{day} {month} {year}"),
        _ => date.to_owned(),
    }
}

impl Folder {
    /// The folder with its working document frozen under a label, which the document then bears.
    ///
    /// `day` is `YYYY-MM-DD`.
    ///
    /// # Errors
    /// [`FreezeError`]; this folder stays as it is.
    pub fn freeze(&self, label: &str, day: &str, reason: &str) -> Result<Self, FreezeError> {
        let (label, reason) = (label.trim(), reason.trim());
        if label.is_empty() {
            return Err(FreezeError::NoLabel);
        }
        if label.chars().count() > LONGEST_NAME || label.chars().any(is_odd) {
            return Err(FreezeError::Label);
        }
        if self.revisions.iter().any(|other| other.label == label) {
            return Err(FreezeError::TakenLabel(label.to_owned()));
        }
        if reason.is_empty() {
            return Err(FreezeError::NoReason);
        }
        if reason.chars().count() > LONGEST_NOTE {
            return Err(FreezeError::LongReason(LONGEST_NOTE));
        }
        if !is_day(day) {
            return Err(FreezeError::Day(day.to_owned()));
        }
        if self.revisions.len() >= MOST_REVISIONS {
            return Err(FreezeError::TooMany(MOST_REVISIONS));
        }
        let mut folder = self.clone();
        label.clone_into(&mut folder.lines.about.revision);
        folder.revisions.push(Revision {
            label: label.to_owned(),
            date: day.to_owned(),
            reason: reason.to_owned(),
            lines: folder.lines.clone(),
            issued: Vec::new(),
        });
        Ok(folder)
    }

    /// The folder with sheets of a frozen revision written down as issued; as it is, where it has no such revision.
    ///
    /// Of more than [`MOST_ISSUES`] of a revision the oldest go.
    #[must_use]
    pub fn issued(&self, label: &str, day: &str, sheets: &[String]) -> Self {
        let mut folder = self.clone();
        if let Some(revision) = { folder.revisions.iter_mut() }.find(|own| own.label == label) {
            if revision.issued.len() >= MOST_ISSUES {
                revision.issued.remove(0);
            }
            revision.issued.push(Issued {
                date: day.to_owned(),
                sheets: sheets.to_vec(),
            });
        }
        folder
    }

    /// The label after the last one that is frozen, or after the document's own: `B` after `A`, `AA` after `Z`; empty
    /// where that is no word of capital letters.
    #[must_use]
    pub fn next_label(&self) -> String {
        let last = self.revisions.last().map(|revision| &revision.label);
        let last = last.unwrap_or(&self.lines.about.revision);
        if last.is_empty() {
            return "A".to_owned();
        }
        if !last.bytes().all(|b| b.is_ascii_uppercase()) {
            return String::new();
        }
        let mut letters = last.clone().into_bytes();
        for letter in letters.iter_mut().rev() {
            if *letter < b'Z' {
                *letter += 1;
                return letters.into_iter().map(char::from).collect();
            }
            *letter = b'A';
        }
        letters.insert(0, b'A');
        letters.into_iter().map(char::from).collect()
    }
}

impl Lines {
    /// Whether these lines are the revision whose label they bear, as it was frozen; none where none of that label is.
    #[must_use]
    pub fn as_frozen(&self, revisions: &[Revision]) -> Option<bool> {
        let own = revisions
            .iter()
            .find(|other| other.label == self.about.revision)?;
        Some(own.lines.fingerprint() == self.fingerprint())
    }

    /// The frozen revision that these lines are; none where they have gone on from it, or are none.
    #[must_use]
    pub fn frozen_in(&self, revisions: &[Revision]) -> Option<Frozen> {
        let own = { revisions.iter() }.find(|own| own.label == self.about.revision)?;
        (own.lines.fingerprint() == self.fingerprint()).then(|| Frozen {
            label: own.label.clone(),
            date: own.date.clone(),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::super::tests::{at, demo};
    use super::super::{BodyEdit, Moved, read_folder, write_folder};
    use super::*;

    fn bare() -> Folder {
        let mut lines = demo();
        lines.about.revision.clear();
        Folder {
            lines,
            revisions: Vec::new(),
        }
    }

    #[test]
    fn a_frozen_state_stays_while_the_lines_go_on() {
        let folder = bare();
        let frozen = |folder: &Folder| folder.lines.as_frozen(&folder.revisions);
        assert_eq!((folder.next_label().as_str(), frozen(&folder)), ("A", None));
        let a = folder.freeze(" A ", "2026-03-03", "as read").unwrap();
        assert_eq!(frozen(&a), Some(true));
        let is_a = a.lines.frozen_in(&a.revisions).unwrap();
        assert_eq!(is_a.label, "A");
        assert_eq!(folder.lines.frozen_in(&a.revisions), None);
        assert_eq!(a.next_label(), "B");
        let keel = at(&a.lines, "101", "keel");
        let mut on = a.clone();
        on.lines = a
            .lines
            .apply(BodyEdit::Move(Moved {
                point: keel,
                half_breadth: None,
                height: Some(400.0),
            }))
            .unwrap();
        assert_eq!(frozen(&on), Some(false));
        assert_eq!(on.lines.frozen_in(&on.revisions), None, "gone on from A");
        let b = on.freeze("B", "2026-03-21", "upsweep faired").unwrap();
        assert_eq!(b.revisions[0].lines, a.lines);
        assert_eq!(b.revisions.len(), 2);
        // Through the door and back; a frozen state that was changed behind it is not taken for what it was.
        let bytes = write_folder(&b);
        assert_eq!(read_folder(&bytes).unwrap(), b);
        let mut other = b.clone();
        other.revisions[0].lines.body_mut().stations[0].x -= 1.0;
        let text = String::from_utf8(write_folder(&other)).unwrap();
        let own = other.revisions[0].lines.fingerprint().full();
        let forged = text.replace(&own, &a.lines.fingerprint().full());
        let error = read_folder(forged.as_bytes()).unwrap_err().to_string();
        assert!(
            error.starts_with("Revision A in this file is not what its fingerprint"),
            "{error}"
        );
    }

    #[test]
    fn what_is_open_is_told_as_far_as_it_is_known() {
        let open = |known: OpenKnown, count: usize, torn: usize| {
            let matters = (1..=count).map(|n| format!("row {n}")).collect();
            let open = StillOpen {
                known,
                matters,
                torn,
            };
            open.words()
        };
        let says = |known: OpenKnown, count: usize, torn: usize| open(known, count, torn).unwrap();
        assert_eq!(open(OpenKnown::Whole, 0, 0), None);
        assert_eq!(says(OpenKnown::Whole, 0, 1), "1 torn cell.");
        assert_eq!(
            says(OpenKnown::Whole, 2, 3),
            "2 to settle: row 1; row 2. 3 torn cells."
        );
        assert_eq!(
            says(OpenKnown::Whole, 8, 0),
            "8 to settle: row 1; row 2; row 3; row 4; row 5; row 6; 2 more."
        );
        assert_eq!(
            says(OpenKnown::WithoutHollows, 1, 2),
            "1 to settle: row 1. Hollows were not all looked for yet. 2 torn cells."
        );
        assert_eq!(
            says(OpenKnown::WithoutHollows, 0, 0),
            "hollows were not all looked for yet."
        );
        assert_eq!(
            says(OpenKnown::WithoutLoft, 1, 0),
            "1 to settle: row 1. There was no loft, so that no line was judged."
        );
        // A list of other lines is not told as if it were of these.
        assert_eq!(
            says(OpenKnown::No, 3, 1),
            "what is to be settled was not worked out yet. 1 torn cell."
        );
        assert_eq!(
            says(OpenKnown::Stopped, 3, 0),
            "what is to be settled was not worked out: judging was stopped."
        );
    }

    #[test]
    fn what_was_open_is_told_behind_the_reason_and_never_too_long() {
        let told = |reason: &str| reason_with_open(reason, "1 to settle: STA 38.");
        let open = "When it was frozen: 1 to settle: STA 38.";
        assert_eq!(told(" as read "), format!("as read. {open}"));
        for ended in ["As read.", "Why?", "At last!", "and so on…", "hm..."] {
            assert_eq!(told(ended), format!("{ended} {open}"));
        }
        assert_eq!(told("  "), "");
        // As long as the box takes it: what was open gives way, and it is frozen.
        let folder = bare();
        let long_open = format!("9 to settle: {}.", "ä".repeat(600));
        for length in (1_400..=LONGEST_NOTE).step_by(7).chain([LONGEST_NOTE]) {
            let reason = "x".repeat(length);
            let whole = reason_with_open(&reason, &long_open);
            assert!(whole.chars().count() <= LONGEST_NOTE, "{length}");
            assert!(whole.starts_with(&reason), "{length}");
            assert!(folder.freeze("A", "2026-03-03", &whole).is_ok(), "{length}");
        }
        let cut = reason_with_open(&"x".repeat(1_900), &long_open);
        assert_eq!(cut.chars().count(), LONGEST_NOTE);
        assert!(cut.ends_with("ä…") && cut.contains("frozen: 9 to settle: ä"));
        let full = "x".repeat(LONGEST_NOTE - 30);
        assert_eq!(reason_with_open(&full, &long_open), full);
        // Too long by itself, it is refused as it was said.
        let over = "x".repeat(LONGEST_NOTE + 1);
        assert_eq!(reason_with_open(&over, &long_open), over);
    }

    #[test]
    fn a_day_is_said_as_people_say_it() {
        assert_eq!(day_words("2026-03-21"), "21 March 2026");
        assert_eq!(day_words("2026-11-05"), "5 November 2026");
        for odd in ["", "2026", "2026-13-01", "2026-00-01", "some day"] {
            assert_eq!(day_words(odd), odd);
        }
    }

    #[test]
    fn what_is_not_frozen_is_said_why() {
        let folder = bare().freeze("Z", "2026-03-03", "as read").unwrap();
        let says = |label: &str, day: &str, reason: &str| {
            folder.freeze(label, day, reason).unwrap_err().to_string()
        };
        assert!(says("", "2026-03-03", "x").contains("label"));
        assert!(says("a\nb", "2026-03-03", "x").contains("cannot be drawn"));
        assert!(says("Z", "2026-03-03", "x").contains("frozen already"));
        assert!(says("B", "2026-03-03", " ").contains("why"));
        assert!(says("B", "3 March", "x").contains("no day"));
        assert!(says("B", "2026-03-03", &"x".repeat(3000)).contains("2000"));
        assert_eq!(folder.next_label(), "AA");
    }
}
