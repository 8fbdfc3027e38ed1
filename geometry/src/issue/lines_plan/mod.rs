//! The lines plan: profile over half-breadth plan over the strip of radius, the body plan beside.
//!
//! In: document, loft, the lines that are shown, where the views stand. Out: [`Drawing`]s, each of what changes together,
//! which the page shows as they are; and the whole as a [`crate::paper::Sheet`], to scale. Places are worked out in CSS
//! pixels, which are 1/96 in on any paper: that is what the page lays out by. What is drawn of them is in mm.
//!
//! Reading order: this file, `drawing` (kinds of lines, letters), `planes` (which planes are cut), `traced`, `layout`, `ruled` (what
//! a gesture leaves alone), `families` (with `sections`), `names`, `curvature` (with `comb`, `room`, `legend`, `strip`), `marks`,
//! `sheet`.

use std::collections::BTreeSet;

use crate::document::{Lines, Offset, On, Place, PointId, StationId};
use crate::lines::{Branch, Node};

mod comb;
mod curvature;
mod drawing;
mod families;
mod layout;
mod legend;
mod marks;
mod names;
mod planes;
mod room;
mod ruled;
mod scales;
mod sections;
mod sheet;
mod strip;
mod traced;

#[cfg(test)]
mod tests;

pub use curvature::{Curved, draw_curvature};
pub use drawing::{CAPTION, Drawing, Kind, LETTERS, PX, Strokes, caption, label, toned, wide};
pub use families::{STEMS, Standing, draw_beside, draw_lines};
pub use layout::{BAND, Extent, Frame, Layout, Medium, crisp};
pub use legend::{Legend, draw_legend, draw_short_legend};
pub use marks::draw_marks;
pub use planes::{is_own, shown_planes};
pub use ruled::draw_paper;
pub use scales::Scales;
pub use sections::nearest_on;
pub use sheet::{SheetOptions, draw_sheet, draw_views, size_of_views};
pub use traced::{Cut, RunTraced, Traced, fine};

/// A place on the screen or on paper, px of 1/96 in.
pub type ScreenPoint = (f64, f64);

/// What is picked, and so told apart in all views.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Pick {
    /// The line.
    pub on: On,
    /// The station.
    pub station: StationId,
    /// The point there, where there is one; a line with no name may have several at a station.
    pub point: Option<PointId>,
}

/// What curvature the tolerances permit a line.
#[derive(Clone, Debug, PartialEq)]
pub struct Band {
    /// The line.
    pub on: On,
    /// Along it, from fore to aft.
    pub places: Vec<BandPlace>,
}

/// The curvature permitted at one place of a line, as the comb has it: convex negative.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BandPlace {
    /// Distance aft, mm.
    pub x: f64,
    /// From here, 1/mm.
    pub low: f64,
    /// To here, 1/mm.
    pub high: f64,
}

/// What is not drawn, though it is there.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Hidden {
    /// Lines, each by the name that its comb has.
    pub lines: BTreeSet<On>,
    /// Stations whose sections are not drawn.
    pub stations: BTreeSet<StationId>,
}

impl Hidden {
    /// Whether a line is drawn.
    #[must_use]
    pub fn draws(&self, on: On) -> bool {
        !self.lines.contains(&comb_key(on))
    }
}

/// The line whose comb a point's line has: both branches of a cut have one.
#[must_use]
pub fn comb_key(on: On) -> On {
    match on {
        On::PlaneUpper(id) => On::Plane(id),
        On::Crown | On::Keel | On::Plane(_) | On::RunLine(_) | On::Free => on,
    }
}

/// One of the three views.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Shown {
    /// From the side.
    Profile,
    /// From above.
    HalfBreadth,
    /// From the ends.
    BodyPlan,
}

impl Shown {
    /// Which of x, y and z it shows, across and up.
    #[must_use]
    pub fn axes(self) -> [usize; 2] {
        match self {
            Self::Profile => [0, 2],
            Self::HalfBreadth => [0, 1],
            Self::BodyPlan => [1, 2],
        }
    }
}

/// How a view is looked at that stands alone.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Glass {
    /// What lies in the middle, as far as the body's ends allow, mm: aft, outboard (in the body plan to either hand), up.
    pub middle: [f64; 3],
    /// How many times it is as large as it is at first; where that would show more than all of it, all of it is shown.
    pub zoom: f64,
}

/// Everything the lines are drawn from.
#[derive(Clone, Copy, Debug)]
pub struct Scene<'a> {
    /// The document.
    pub lines: &'a Lines,
    /// Its offsets, station by station.
    pub offsets: &'a [Vec<Offset>],
    /// Its lines.
    pub shown: &'a Traced,
    /// Lines whose curvature is shown.
    pub fine: &'a [(On, Vec<Branch>)],
    /// Where the views stand.
    pub layout: &'a Layout,
    /// What is picked.
    pub pick: Pick,
    /// What is not drawn.
    pub hidden: &'a Hidden,
    /// What curvature the tolerances permit some lines.
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

    /// The views that show what is read of a line at a station, by its number among them; none of a hidden line, and no body
    /// plan where the section is hidden.
    fn seen_at(&self, station: usize, on: On) -> impl Iterator<Item = InView> {
        let layout = self.layout;
        let (height, breadth) = reads(self.lines, on);
        let station = self
            .lines
            .body
            .stations
            .get(station)
            .map(|of| (station, of));
        let body = station.filter(|(_, of)| !self.hidden.stations.contains(&of.id));
        let hand = body.map(|(number, _)| layout.hand(number));
        let x = station.map_or(0.0, |(_, of)| of.x);
        let views = [
            layout
                .profile
                .filter(|_| height)
                .map(|frame| InView::Side(frame, x)),
            layout
                .half_breadth
                .filter(|_| breadth)
                .map(|frame| InView::Above(frame, x)),
            layout
                .body
                .zip(hand)
                .map(|(frame, hand)| InView::End(frame, hand)),
        ];
        let drawn = self.hidden.draws(on);
        views.into_iter().flatten().filter(move |_| drawn)
    }
}

/// A view of a station's point.
#[derive(Clone, Copy, Debug)]
enum InView {
    /// From the side, at this distance aft.
    Side(Frame, f64),
    /// From above, at this distance aft.
    Above(Frame, f64),
    /// From the ends, on this side of the centreline.
    End(Frame, f64),
}

impl InView {
    /// Where a half-breadth and a height at the station are drawn.
    fn at(&self, [y, z]: [f64; 2]) -> ScreenPoint {
        match self {
            Self::Side(frame, x) => frame.at(*x, z),
            Self::Above(frame, x) => frame.at(*x, y),
            Self::End(frame, hand) => frame.at(hand * y, z),
        }
    }

    fn frame(&self) -> Frame {
        match self {
            Self::Side(frame, _) | Self::Above(frame, _) | Self::End(frame, _) => *frame,
        }
    }
}

/// Whether a line shows its true form in the half-breadth plan; else in the profile.
#[must_use]
pub fn in_plan(lines: &Lines, on: On) -> bool {
    lines.body.place_of(on).is_some_and(shows_in_plan)
}

/// Whether a cut at a place does.
fn shows_in_plan(place: Place) -> bool {
    matches!(place, Place::Waterline(_) | Place::Diagonal { .. })
}

/// Whether a point of a line reads a height, and whether a half-breadth.
#[must_use]
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
