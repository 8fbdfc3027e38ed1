//! A title as the name of a file, on any system.

use crate::paper::lettering::draws_nothing;

/// Longest name without its ending, bytes: file systems take 255, and a browser adds a number to a second one.
const LONGEST: usize = 180;

/// Names that a system keeps for its own devices, whatever their ending.
///
/// # Source
/// Microsoft, *Naming Files, Paths, and Namespaces*.
const DEVICES: [&str; 6] = ["con", "prn", "aux", "nul", "conin$", "conout$"];

/// A title as the name of a file.
///
/// Letters and figures of any writing, hyphens, underlines and dots stay, anything else is a hyphen. Accents that join the
/// letter before them, and marks of direction, are left out.
///
/// It neither begins nor ends with a dot or hyphen, is never a device's, and is as long as file systems take. A title without a
/// letter or figure is the `stand_in`.
#[must_use]
pub fn file_name(title: &str, ending: &str, stand_in: &str) -> String {
    let plain: String = { title.trim().chars() }
        .filter(|letter| letter.is_control() || !draws_nothing(*letter))
        .map(|letter| {
            let stays = letter.is_alphanumeric() || matches!(letter, '-' | '_' | '.');
            if stays { letter } else { '-' }
        })
        .collect();
    let edge = |letter: char| matches!(letter, '.' | '-');
    let mut end = plain.len().min(LONGEST);
    while !plain.is_char_boundary(end) {
        end -= 1;
    }
    let plain = plain[..end].trim_matches(edge);
    if !plain.contains(char::is_alphanumeric) {
        return format!("{stand_in}.{ending}");
    }
    let before = plain.split('.').next().unwrap_or_default().to_lowercase();
    let numbered = ["com", "lpt"].iter().any(|port| {
        let number = before.strip_prefix(port);
        number
            .is_some_and(|number| number.chars().count() == 1 && number.contains(char::is_numeric))
    });
    let mark = if numbered || DEVICES.contains(&before.as_str()) {
        "_"
    } else {
        ""
    };
    format!("{mark}{plain}.{ending}")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn becomes(title: &str, name: &str) {
        assert_eq!(file_name(title, "json", "lines"), name);
    }

    #[test]
    fn a_title_reads_as_it_was_where_a_system_takes_it() {
        becomes("Marram", "Marram.json");
        becomes("  Größe 4 - FR 2.5 ", "Größe-4---FR-2.5.json");
        becomes("שלום-1", "שלום-1.json");
        becomes("a_b", "a_b.json");
    }

    #[test]
    fn what_leads_elsewhere_or_hides_does_not() {
        becomes("a/b\\c:d*e?f\"g<h>i|j", "a-b-c-d-e-f-g-h-i-j.json");
        becomes("../../x", "x.json");
        becomes("..hidden.", "hidden.json");
        becomes("a\nb\u{0}c", "a-b-c.json");
        // An accent that joins its letter, and a mark that turns what follows.
        becomes("e\u{301}tude \u{202e}nosj", "etude-nosj.json");
        becomes("-rf", "rf.json");
    }

    #[test]
    fn devices_are_no_files() {
        for title in ["con", "NUL", "Com1", "lpt9.x", "COM\u{b9}", "aux.tar"] {
            assert!(
                file_name(title, "json", "lines").starts_with('_'),
                "{title}"
            );
        }
        becomes("Conny", "Conny.json");
        becomes("com12", "com12.json");
    }

    #[test]
    fn a_title_without_a_letter_has_its_stand_in() {
        for title in ["", " ", "...", "///", "_ _", "\u{202e}"] {
            becomes(title, "lines.json");
        }
    }

    #[test]
    fn a_long_title_is_cut_between_letters() {
        for letter in ["a", "ö", "漢", "𝒶"] {
            let name = file_name(&letter.repeat(300), "json", "lines");
            assert!(name.len() <= 185 && name.len() > 175, "{name}");
            assert!(
                name.trim_end_matches(".json")
                    .chars()
                    .all(|c| letter.contains(c))
            );
        }
    }
}
