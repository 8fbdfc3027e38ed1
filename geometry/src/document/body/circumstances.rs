//! How a reading came about: on which page it stands, at which side of the body it was measured, by whom and when. Nothing
//! is computed from it: it is for who must show why a value is believed.

use serde::{Deserialize, Serialize};

/// How a reading came about; what is not said is empty.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Circumstances {
    /// Page or sheet of its source.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub page: String,
    /// Which side of the body was measured.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub hand: Option<BodySide>,
    /// Who read or measured it.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub by: String,
    /// When, in whatever words.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub when: String,
}

/// A side of the body, as who looks forward has it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum BodySide {
    /// On the left.
    Port,
    /// On the right.
    Starboard,
}

impl BodySide {
    /// As a person says it.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Port => "port",
            Self::Starboard => "starboard",
        }
    }
}

impl Circumstances {
    /// Whether nothing is said.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        *self == Self::default()
    }

    /// The texts, each a line.
    pub(super) fn texts(&self) -> [&str; 3] {
        let Self {
            page,
            hand: _,
            by,
            when,
        } = self;
        [page, by, when].map(String::as_str)
    }

    /// The same without blanks round its texts.
    pub(super) fn trimmed(&self) -> Self {
        let [page, by, when] = self.texts().map(|text| text.trim().to_owned());
        Self {
            page,
            hand: self.hand,
            by,
            when,
        }
    }

    /// All that is said, in a line: `page 7, port side, by R. Hale, 2 May`.
    #[must_use]
    pub fn words(&self) -> String {
        let Self {
            page,
            hand,
            by,
            when,
        } = self;
        let said = |before: &str, text: &str| (!text.is_empty()).then(|| format!("{before}{text}"));
        let parts = [
            said("page ", page),
            hand.map(|hand| format!("{} side", hand.name())),
            said("by ", by),
            said("", when),
        ];
        parts.into_iter().flatten().collect::<Vec<_>>().join(", ")
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::document::rules::LONGEST_NAME;
    use crate::document::{BodyEdit, Folder, read_folder, read_link, write_folder, write_link};

    #[test]
    fn a_file_holds_how_a_reading_came_about_and_a_link_and_the_fingerprint_do_not() {
        let demo = include_bytes!("../../../../public/demo/marram.json");
        let lines = read_folder(demo).unwrap().lines;
        let point = lines.body.points[7].id;
        let set = |circumstances: Circumstances| {
            lines.apply(BodyEdit::SetCircumstances {
                point,
                reading: 0,
                circumstances,
            })
        };
        let said = Circumstances {
            page: " 7 ".to_owned(),
            hand: Some(BodySide::Port),
            by: "R. Hale".to_owned(),
            when: "2 May".to_owned(),
        };
        let told = set(said.clone()).unwrap();
        let read = told.body.points[7].readings[0].circumstances.clone();
        let words = read.unwrap().words();
        assert_eq!(words, "page 7, port side, by R. Hale, 2 May");
        assert_eq!(
            told.fingerprint(),
            lines.fingerprint(),
            "words shape no metal"
        );
        let folder = Folder {
            lines: told,
            revisions: Vec::new(),
        };
        let bytes = write_folder(&folder);
        assert_eq!(read_folder(&bytes).unwrap(), folder);
        let linked = read_link(&write_link(&folder.lines)).unwrap();
        let all = linked.body.points.iter().flat_map(|point| &point.readings);
        assert!(all.clone().count() > 100);
        assert!({ all }.all(|reading| reading.circumstances.is_none()));
        // Bounded, and of what can be drawn.
        for wrong in ["x".repeat(LONGEST_NAME + 1), "a\nb".to_owned()] {
            let refused = set(Circumstances {
                by: wrong,
                ..said.clone()
            });
            assert!(refused.is_err());
        }
        assert!(set(Circumstances::default()).unwrap() == lines);
    }
}
