//! Where the views stand on the sheet.
//!
//! In: the room there is, and what the body spans. Out: a [`Layout`] with a [`Frame`] for each view: profile over
//! half-breadth plan over strip on one x, the body plan right of them on the same base line and scale; on a narrow
//! screen one view alone, as large as its height allows, moved along the body.

use geometry::document::{Lines, Offset};

use super::super::drawing::Frame;
use crate::state::Shown;

/// What a body spans, mm, and how many of its stations are drawn to the left in the body plan.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Extent {
    /// Distance aft.
    pub x: [f64; 2],
    /// Largest half-breadth.
    pub y: f64,
    /// Heights; the base line is among them where it lies near.
    pub z: [f64; 2],
    /// Stations forward of the widest one, that one included.
    pub forward: usize,
}

impl Extent {
    /// Of what was read; a body of a metre where that is not enough.
    pub fn of(lines: &Lines, offsets: &[Vec<Offset>]) -> Self {
        let mut x = [f64::INFINITY, f64::NEG_INFINITY];
        for station in &lines.stations {
            x = [x[0].min(station.x), x[1].max(station.x)];
        }
        let mut y: f64 = 0.0;
        let mut z = [f64::INFINITY, f64::NEG_INFINITY];
        let mut widest = 0;
        for (station, offsets) in offsets.iter().enumerate() {
            for offset in offsets {
                let [breadth, height] = offset.recorded;
                if breadth > y {
                    (y, widest) = (breadth, station);
                }
                z = [z[0].min(height), z[1].max(height)];
            }
        }
        if !(x[1] > x[0] && z[1] > z[0] && y > 0.0) {
            return Self {
                x: [0.0, 1000.0],
                y: 250.0,
                z: [0.0, 500.0],
                forward: 0,
            };
        }
        if z[0] > 0.0 && z[0] < z[1] - z[0] {
            z[0] = 0.0;
        }
        // Where an end is widest, the forward half stands on the left.
        let at_an_end = widest < 2 || widest + 2 >= offsets.len();
        let forward = if at_an_end {
            offsets.len() / 2
        } else {
            widest + 1
        };
        Self { x, y, z, forward }
    }

    fn length(&self) -> f64 {
        self.x[1] - self.x[0]
    }

    fn tall(&self) -> f64 {
        self.z[1] - self.z[0]
    }
}

/// Where the views stand, px.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Layout {
    /// Width and height of the drawing.
    pub size: (f64, f64),
    /// What the body spans, mm.
    pub extent: Extent,
    /// px per mm, the same in all views.
    pub scale: f64,
    /// From the side.
    pub profile: Option<Frame>,
    /// From above.
    pub half_breadth: Option<Frame>,
    /// From the ends; forward sections are drawn to the left.
    pub body: Option<Frame>,
    /// Radius along the picked line: top and bottom.
    pub strip: Option<[f64; 2]>,
    /// Left and right end of what is ruled along the body.
    pub ends: [f64; 2],
    /// Whether one view stands alone.
    pub alone: bool,
}

/// Room that does not grow with the body, desk, px: left of the long views and between them and the body plan, above
/// the profile, between the views, for the strip, and below it.
const LEFT: f64 = 78.0;
const NAMES: f64 = 53.0;
const TOP: f64 = 53.0;
const BETWEEN: f64 = 67.0;
const OVER_STRIP: f64 = 52.0;
const STRIP: f64 = 92.0;
const FOOT: f64 = 8.0;

/// Least width of the body plan's column, and what its labels need beside the sections, desk, px.
const COLUMN: f64 = 296.0;
const BESIDE: f64 = 96.0;

impl Layout {
    /// All three views on one sheet.
    pub fn desk(size: (f64, f64), extent: Extent) -> Self {
        let (width, height) = size;
        let (length, tall) = (extent.length(), extent.tall());
        let fixed = TOP + BETWEEN + OVER_STRIP + STRIP + FOOT;
        let high = (height - fixed) / (tall + extent.y);
        let beside = (width - LEFT - NAMES - BESIDE) / (length + 2.0 * extent.y);
        let wide = beside.min((width - LEFT - NAMES - COLUMN) / length);
        let scale = high.min(wide).max(1e-4);
        let spare = (height - fixed - scale * (tall + extent.y)).max(0.0);
        let base = TOP + spare * 0.25 + tall * scale;
        let end = LEFT + length * scale;
        let upright = (scale, -scale);
        let origin = (LEFT - extent.x[0] * scale, base + extent.z[0] * scale);
        let profile = Frame {
            origin,
            scale: upright,
            area: [0.0, 0.0, end + NAMES, base + 24.0],
        };
        let centre = base + BETWEEN + spare * 0.4 + extent.y * scale;
        let half_breadth = Frame {
            origin: (origin.0, centre),
            scale: upright,
            area: [0.0, base + 24.0, end + NAMES, centre + 30.0],
        };
        let column = width - end - NAMES;
        let body = Frame {
            origin: (end + NAMES + column / 2.0 - 10.0, origin.1),
            scale: upright,
            area: [end + NAMES, 0.0, width, base + 40.0],
        };
        let strip = centre + OVER_STRIP + spare * 0.2;
        Self {
            size,
            extent,
            scale,
            profile: Some(profile),
            half_breadth: Some(half_breadth),
            body: Some(body),
            strip: Some([strip, strip + STRIP]),
            ends: [LEFT, end],
            alone: false,
        }
    }

    /// One view, with `middle` (mm aft) in the middle as far as the body's ends allow.
    pub fn alone(size: (f64, f64), extent: Extent, shown: Shown, middle: f64) -> Self {
        const LARGEST: f64 = 3.0; // of what would show the whole body
        let (width, height) = size;
        let (left, right, top, bottom) = (40.0, 52.0, 44.0, 44.0);
        // A window may be next to nothing for a moment, while it turns.
        let room = (
            (width - left - right).max(60.0),
            (height - top - bottom).max(60.0),
        );
        let (length, tall) = (extent.length(), extent.tall());
        let across = room.0 / length;
        let along = |high: f64| (room.1 / high).clamp(across, LARGEST * across);
        let scale = match shown {
            Shown::Profile => along(tall),
            Shown::HalfBreadth => along(extent.y),
            Shown::BodyPlan => (room.0 / (2.0 * extent.y)).min(room.1 / tall),
        };
        let high = |span: f64| top + (room.1 + span * scale) / 2.0;
        let area = [0.0, 0.0, width, height];
        let upright = (scale, -scale);
        let whole = length * scale;
        let from = if whole <= room.0 {
            left + (room.0 - whole) / 2.0
        } else {
            let wish = left + room.0 / 2.0 - (middle - extent.x[0]) * scale;
            wish.clamp(left + room.0 - whole, left)
        };
        let x = from - extent.x[0] * scale;
        let mut layout = Self {
            size,
            extent,
            scale,
            profile: None,
            half_breadth: None,
            body: None,
            strip: None,
            ends: [from.max(left), (from + whole).min(width)],
            alone: true,
        };
        let base = high(tall) + extent.z[0] * scale;
        let frame = |origin: (f64, f64)| {
            Some(Frame {
                origin,
                scale: upright,
                area,
            })
        };
        match shown {
            Shown::Profile => layout.profile = frame((x, base)),
            Shown::HalfBreadth => layout.half_breadth = frame((x, high(extent.y))),
            Shown::BodyPlan => layout.body = frame((width / 2.0 - 6.0, base)),
        }
        layout
    }

    /// Which way the sections of a station are drawn: −1 to the left, 1 to the right.
    pub fn hand(&self, station: usize) -> f64 {
        if station < self.extent.forward {
            -1.0
        } else {
            1.0
        }
    }

    /// How the drawing's scale is said, with a CSS pixel of 1/96 in.
    pub fn words(&self) -> String {
        let one_to = 96.0 / 25.4 / self.scale;
        if one_to >= 9.5 {
            format!("1 : {one_to:.0}")
        } else {
            format!("1 : {one_to:.1}")
        }
    }
}
