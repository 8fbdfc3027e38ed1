//! The lines plan as strings: everything that is drawn, worked out from the loft, the layout and the pick.
//!
//! In: document, loft, the lines that are shown, sizes. Out: [`Drawing`]s of paths and labels, which `lines` puts on the
//! page: `paper` is what a gesture leaves alone, the rest follows it. Reading order: this file, `layout`, `paper`,
//! `families`, `curvature`, `marks`.

use geometry::document::{Lines, Offset, On, Place, StationId};
use geometry::lines::{Branch, Node};

use crate::state::derived::Shown as ShownLines;
use crate::state::{Band, Hidden, Pick};

mod curvature;
mod families;
mod layout;
mod marks;
mod paper;
mod sheet;

pub use curvature::{Legend, Scales, draw_curvature};
pub use families::{STEMS, draw_beside, draw_lines};
pub use layout::{Extent, Layout};
pub use marks::{Target, draw_marks, rings, targets};
pub use paper::draw_paper;
pub use sheet::sheet;

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
    /// What is not drawn.
    pub hidden: &'a Hidden,
    /// What curvature the tolerances permit some lines: distance aft, mm, and from where to where, 1/mm.
    pub bands: &'a [Band],
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
        lines.body.place_of(on),
        Some(Place::Waterline(_) | Place::Diagonal { .. })
    )
}

/// Whether a point of a line reads a height, and whether a half-breadth.
pub fn reads(lines: &Lines, on: On) -> (bool, bool) {
    match on {
        On::Crown | On::Keel => (true, false),
        On::Free | On::RunLine(_) => (true, true),
        On::Plane(_) | On::PlaneUpper(_) => match lines.body.place_of(on) {
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
    format!("{:.0}", lines.body.station_number(x).unwrap_or(x))
}
