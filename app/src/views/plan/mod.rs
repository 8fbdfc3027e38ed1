//! The lines plan as strings: everything that is drawn, worked out from the loft, the layout and the pick.
//!
//! In: document, loft, the lines that are shown, sizes. Out: [`Drawing`]s of paths and labels, which `lines` puts on the
//! page: `paper` is what a gesture leaves alone, the rest follows it. Reading order: this file, `layout`, `paper`,
//! `families`, `curvature`, `marks`.

use geometry::document::{Lines, Offset, On, Place, StationId};
use geometry::lines::{Branch, Node};
use geometry::units::{LengthUnit, format_length};

use crate::state::Pick;
use crate::state::derived::Shown as ShownLines;

mod curvature;
mod families;
mod layout;
mod marks;
mod paper;

pub use curvature::{Legend, Scales, draw_curvature};
pub use families::draw_lines;
pub use layout::{Extent, Layout};
pub use marks::{Target, draw_marks, rings, targets};
pub use paper::draw_paper;

/// px of one CSS millimetre.
const MM: f64 = 96.0 / 25.4;

/// Everything the lines are drawn from.
#[derive(Clone, Copy, Debug)]
pub struct Scene<'a> {
    /// The document.
    pub lines: &'a Lines,
    /// Its offsets, station by station.
    pub offsets: &'a [Vec<Offset>],
    /// Its lines.
    pub shown: &'a ShownLines,
    /// Lines whose curvature is shown.
    pub fine: &'a [(On, Vec<Branch>)],
    /// Where the views stand.
    pub layout: &'a Layout,
    /// What is picked.
    pub pick: Pick,
}

fn side(node: &Node) -> (f64, f64) {
    (node.point.x, node.point.z)
}

fn above(node: &Node) -> (f64, f64) {
    (node.point.x, node.point.y)
}

impl Scene<'_> {
    /// Whether a station is the picked one.
    fn picked(&self, station: StationId) -> bool {
        self.pick.station == station
    }
}

/// Whether a line shows its true form in the half-breadth plan; else in the profile.
pub fn in_plan(lines: &Lines, on: On) -> bool {
    matches!(
        lines.place_of(on),
        Some(Place::Waterline(_) | Place::Diagonal { .. })
    )
}

/// Whether a point of a line reads a height, and whether a half-breadth.
pub fn reads(lines: &Lines, on: On) -> (bool, bool) {
    match on {
        On::Crown | On::Keel => (true, false),
        On::Free | On::RunLine(_) => (true, true),
        On::Plane(_) | On::PlaneUpper(_) => match lines.place_of(on) {
            Some(Place::Buttock(_)) => (true, false),
            Some(Place::Waterline(_) | Place::Diagonal { .. }) | None => (false, true),
        },
    }
}

/// A plane's name without its family: the number that stands on an axis.
fn bare(name: &str) -> &str {
    ["WL ", "BL "]
        .iter()
        .find_map(|family| name.strip_prefix(family))
        .unwrap_or(name)
}

/// A line's name at the head of a sentence.
pub fn headed(name: &str) -> String {
    let mut rest = name.chars();
    rest.next().map_or_else(String::new, |first| {
        first.to_uppercase().chain(rest).collect()
    })
}

/// The place of x in station numbers, where the labels are numbers; else mm aft.
pub fn station_at(lines: &Lines, x: f64) -> String {
    let numbered: Option<Vec<(f64, f64)>> = lines
        .stations
        .iter()
        .map(|s| Some((s.x, s.label.parse::<f64>().ok()?)))
        .collect();
    let numbered = numbered.unwrap_or_default();
    let after = numbered
        .partition_point(|(at, _)| *at < x)
        .clamp(1, numbered.len().max(2) - 1);
    match (numbered.get(after - 1), numbered.get(after)) {
        (Some((x0, n0)), Some((x1, n1))) => format!("{:.0}", n0 + (n1 - n0) * (x - x0) / (x1 - x0)),
        _ => format!("{x:.0}"),
    }
}

/// A length for reading aloud: in feet-inches-eighths as words.
pub fn spoken(mm: f64, unit: LengthUnit) -> String {
    let text = format_length(mm, unit);
    match unit {
        LengthUnit::Millimetres => format!("{text} millimetres"),
        LengthUnit::Inches => format!("{text} inches"),
        LengthUnit::FeetInchesEighths => {
            let (minus, figures) = match text.strip_prefix('-') {
                Some(rest) => ("minus ", rest),
                None => ("", text.as_str()),
            };
            let (figures, over) = match figures.strip_suffix('+') {
                Some(rest) => (rest, true),
                None => (figures, false),
            };
            let parts: Vec<&str> = figures.split('-').collect();
            let [feet, inches, eighths] = parts[..] else {
                return text;
            };
            let count = |figure: &str, one: &str, many: &str| {
                (figure != "0").then(|| {
                    let word = if figure == "1" { one } else { many };
                    format!("{figure} {word}")
                })
            };
            let mut words: Vec<String> = [
                count(feet, "foot", "feet"),
                count(inches, "inch", "inches"),
                count(eighths, "eighth", "eighths"),
            ]
            .into_iter()
            .flatten()
            .collect();
            if over {
                let word = if words.is_empty() {
                    "a sixteenth"
                } else {
                    "and a sixteenth"
                };
                words.push(word.to_owned());
            }
            if words.is_empty() {
                words.push("nothing".to_owned());
            }
            format!("{minus}{}", words.join(" "))
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn says(mm: f64, words: &str) {
        assert_eq!(spoken(mm, LengthUnit::FeetInchesEighths), words);
    }

    #[test]
    fn feet_inches_eighths_are_said_as_a_person_says_them() {
        says(407.9875, "1 foot 4 inches and a sixteenth");
        says(25.4 / 16.0, "a sixteenth");
        says(0.0, "nothing");
        says(-3.175, "minus 1 eighth");
        says(12.0 * 25.4 * 2.0, "2 feet");
    }
}
