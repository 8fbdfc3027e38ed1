//! Where the views stand on the sheet.
//!
//! In: the room there is, and what the body spans. Out: a [`Layout`] with a [`Frame`] for each view: profile over
//! half-breadth plan over strip on one x, the body plan right of them on the same base line and scale; of a body nearly as
//! high as it is long, whose views would stand small in a column, the half-breadth plan right of the profile; or one view
//! alone, as large as its height allows at first, moved and enlarged at will.

use super::{Glass, PX, ScreenPoint, Shown};
use crate::document::{Lines, Offset};
use crate::paper::Ground;

/// How a view maps two of the body's axes to the screen.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Frame {
    /// Screen place of the origin, px.
    pub origin: ScreenPoint,
    /// px per mm; the second one is negative where the axis points up the screen.
    pub scale: (f64, f64),
    /// Part of the screen that belongs to the view: left, top, right, bottom.
    pub area: [f64; 4],
}

impl Frame {
    /// Screen place of two coordinates.
    pub fn at(&self, a: f64, b: f64) -> ScreenPoint {
        (self.x(a), self.y(b))
    }

    /// The two coordinates that are drawn at a screen place.
    pub fn back(&self, (x, y): ScreenPoint) -> (f64, f64) {
        (
            (x - self.origin.0) / self.scale.0,
            (y - self.origin.1) / self.scale.1,
        )
    }

    /// Whether a screen place belongs to the view.
    pub fn holds(&self, (x, y): ScreenPoint) -> bool {
        let [left, top, right, bottom] = self.area;
        (left..=right).contains(&x) && (top..=bottom).contains(&y)
    }

    /// Screen place of the first coordinate.
    pub fn x(&self, a: f64) -> f64 {
        self.origin.0 + a * self.scale.0
    }

    /// Screen place of the second coordinate.
    pub fn y(&self, b: f64) -> f64 {
        self.origin.1 + b * self.scale.1
    }
}

/// The middle of the pixel in which a place lies, so that a stroke of one pixel is crisp.
pub fn crisp(place: f64) -> f64 {
    place.floor() + 0.5
}

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
        for station in &lines.body.stations {
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
        // The base line is drawn where it costs the views a third of their height at most.
        if z[0] > 0.0 && z[0] < 0.5 * (z[1] - z[0]) {
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

    /// A place, brought into the body's box, mm.
    pub fn hold(&self, [x, y, z]: [f64; 3]) -> [f64; 3] {
        [
            x.clamp(self.x[0], self.x[1]),
            y.clamp(-self.y, self.y),
            z.clamp(self.z[0], self.z[1]),
        ]
    }

    fn length(&self) -> f64 {
        self.x[1] - self.x[0]
    }

    fn tall(&self) -> f64 {
        self.z[1] - self.z[0]
    }
}

/// What a drawing is laid out for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Medium {
    /// A screen.
    Screen,
    /// Paper, to scale.
    Paper,
    /// A page of whatever size, which it fills: to no scale.
    AnyPage,
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
    /// Left and right end of what is ruled along the body in the profile, and in the strip.
    pub ends: [f64; 2],
    /// The same in the half-breadth plan.
    pub plan_ends: [f64; 2],
    /// What it is laid out for.
    pub medium: Medium,
    /// Whether one view stands alone.
    pub alone: bool,
    /// What then lies in the middle, mm.
    pub middle: [f64; 3],
}

/// Room that does not grow with the body where a view stands alone, px.
const LEFT_ALONE: f64 = 40.0;
const RIGHT_ALONE: f64 = 52.0;
const TOP_ALONE: f64 = 44.0;
const BOTTOM_ALONE: f64 = 44.0;

/// Height of the band at the foot of a view that stands alone, in which scale and legend stand in clear paper, px.
pub const BAND: f64 = 24.0;

/// What is left for a view that stands alone, px; a window may be next to nothing for a moment, while it turns.
fn room((width, height): (f64, f64)) -> (f64, f64) {
    (
        (width - LEFT_ALONE - RIGHT_ALONE).max(60.0),
        (height - TOP_ALONE - BOTTOM_ALONE).max(60.0),
    )
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

/// The half-breadth plan stands right of the profile where both are larger so by this factor at least.
const WORTH: f64 = 1.1;

impl Layout {
    /// All three views on one sheet, so that they fill it whatever the body's proportions.
    pub fn desk(size: (f64, f64), extent: Extent) -> Self {
        let (under, beside) = (Self::stacked(size, extent), Self::in_a_row(size, extent));
        if beside.scale > WORTH * under.scale {
            beside
        } else {
            under
        }
    }

    /// The half-breadth plan under the profile, on one x.
    fn stacked(size: (f64, f64), extent: Extent) -> Self {
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
            plan_ends: [LEFT, end],
            alone: false,
            medium: Medium::Screen,
            middle: [0.0; 3],
        }
    }

    /// The half-breadth plan right of the profile, its centreline on the base line; the strip under the profile.
    fn in_a_row(size: (f64, f64), extent: Extent) -> Self {
        let (width, height) = size;
        let (length, tall) = (extent.length(), extent.tall().max(extent.y));
        let fixed = TOP + OVER_STRIP + STRIP + FOOT;
        let high = (height - fixed) / tall;
        let long = width - 2.0 * (LEFT + NAMES);
        let beside = (long - BESIDE) / (2.0 * length + 2.0 * extent.y);
        let scale = high
            .min(beside)
            .min((long - COLUMN) / (2.0 * length))
            .max(1e-4);
        let spare = (height - fixed - scale * tall).max(0.0);
        let base = TOP + spare * 0.3 + tall * scale;
        let end = LEFT + length * scale;
        let plan = end + NAMES + LEFT;
        let plan_end = plan + length * scale;
        let frame = |left: f64, base: f64, area: [f64; 4]| {
            Some(Frame {
                origin: (left, base),
                scale: (scale, -scale),
                area,
            })
        };
        let along = |left: f64| left - extent.x[0] * scale;
        let up = base + extent.z[0] * scale;
        let foot = base + 40.0;
        let column = width - plan_end - NAMES;
        let strip = base + OVER_STRIP + spare * 0.3;
        Self {
            size,
            extent,
            scale,
            profile: frame(along(LEFT), up, [0.0, 0.0, end + NAMES, foot]),
            half_breadth: frame(
                along(plan),
                base,
                [end + NAMES, 0.0, plan_end + NAMES, foot],
            ),
            body: frame(
                plan_end + NAMES + column / 2.0 - 10.0,
                up,
                [plan_end + NAMES, 0.0, width, foot],
            ),
            strip: Some([strip, strip + STRIP]),
            ends: [LEFT, end],
            plan_ends: [plan, plan_end],
            alone: false,
            medium: Medium::Screen,
            middle: [0.0; 3],
        }
    }

    /// All three views at a scale, px per mm, on a sheet of the size that they need.
    pub fn to_scale(scale: f64, extent: Extent) -> Self {
        let fixed = TOP + BETWEEN + OVER_STRIP + STRIP + FOOT;
        let height = fixed + scale * (extent.tall() + extent.y);
        let column = COLUMN.max(BESIDE + 2.0 * extent.y * scale);
        let width = LEFT + NAMES + scale * extent.length() + column;
        Self {
            medium: Medium::Paper,
            ..Self::stacked((width, height), extent)
        }
    }

    /// The scale at which a view stands alone at first, and the least one, which shows all of it.
    pub fn alone_scale(size: (f64, f64), extent: Extent, shown: Shown) -> [f64; 2] {
        const LARGEST: f64 = 3.0; // of what would show the whole body
        let room = room(size);
        let across = room.0 / extent.length();
        let along = |high: f64| [(room.1 / high).clamp(across, LARGEST * across), across];
        let whole = match shown {
            Shown::Profile => along(extent.tall()),
            Shown::HalfBreadth => along(extent.y),
            Shown::BodyPlan => [(room.0 / (2.0 * extent.y)).min(room.1 / extent.tall()); 2],
        };
        whole.map(|scale| scale.max(1e-4))
    }

    /// The middle of what is drawn of a view that stands alone, px.
    pub fn middle_of(size: (f64, f64)) -> ScreenPoint {
        let room = room(size);
        (LEFT_ALONE + room.0 / 2.0, TOP_ALONE + room.1 / 2.0)
    }

    /// One view through a glass.
    pub fn alone(size: (f64, f64), extent: Extent, shown: Shown, glass: &Glass) -> Self {
        let (width, height) = size;
        let room = room(size);
        let [first, least] = Self::alone_scale(size, extent, shown);
        let scale = (first * glass.zoom).max(least);
        let area = [0.0, 0.0, width, height];
        // Where the low end of a span stands, growing one way on the screen: in the middle where there is room for all of
        // it, else so that the glass's middle is there as far as the ends allow.
        let low_end = |span: f64, over: f64, begin: f64, room: f64| {
            let whole = span * scale;
            if whole <= room {
                begin + (room - whole) / 2.0
            } else {
                (begin + room / 2.0 - over * scale).clamp(begin + room - whole, begin)
            }
        };
        let [x, y, z] = glass.middle;
        let from = low_end(extent.length(), x - extent.x[0], LEFT_ALONE, room.0);
        let port = low_end(2.0 * extent.y, y + extent.y, LEFT_ALONE, room.0);
        // The screen's y grows downward, so the low end is measured from the foot.
        let inner = low_end(extent.y, y, BOTTOM_ALONE, room.1);
        let foot = low_end(extent.tall(), z - extent.z[0], BOTTOM_ALONE, room.1);
        let frame = |origin: (f64, f64)| {
            Some(Frame {
                origin,
                scale: (scale, -scale),
                area,
            })
        };
        let along = from - extent.x[0] * scale;
        let base = height - foot + extent.z[0] * scale;
        let view = match shown {
            Shown::Profile => frame((along, base)),
            Shown::HalfBreadth => frame((along, height - inner)),
            Shown::BodyPlan => frame((port + extent.y * scale, base)),
        };
        let mut middle = glass.middle;
        if let Some(view) = view {
            let [across, up] = shown.axes();
            (middle[across], middle[up]) = view.back(Self::middle_of(size));
        }
        let only = |wish: Shown| view.filter(|_| wish == shown);
        let ends = [
            from.max(LEFT_ALONE),
            (from + extent.length() * scale).min(width),
        ];
        Self {
            size,
            extent,
            scale,
            profile: only(Shown::Profile),
            half_breadth: only(Shown::HalfBreadth),
            body: only(Shown::BodyPlan),
            strip: None,
            ends,
            plan_ends: ends,
            alone: true,
            medium: Medium::Screen,
            middle,
        }
    }

    /// Whether a place of the body is in sight, mm.
    pub fn sees(&self, [x, y, z]: [f64; 3]) -> bool {
        let (width, height) = self.size;
        let inside = |(across, down): ScreenPoint| {
            (LEFT_ALONE..=width - RIGHT_ALONE).contains(&across)
                && (TOP_ALONE / 2.0..=height - BOTTOM_ALONE / 2.0).contains(&down)
        };
        let at = [
            self.profile.map(|frame| frame.at(x, z)),
            self.half_breadth.map(|frame| frame.at(x, y)),
            self.body.map(|frame| frame.at(y, z)),
        ];
        at.into_iter().flatten().all(inside)
    }

    /// The frame of a view, where it is drawn.
    pub fn frame(&self, view: Shown) -> Option<Frame> {
        match view {
            Shown::Profile => self.profile,
            Shown::HalfBreadth => self.half_breadth,
            Shown::BodyPlan => self.body,
        }
    }

    /// What numbers on the axes stand on: where a view is cut off, they lie over its lines.
    #[must_use]
    pub fn ground(&self) -> Ground {
        if self.alone {
            Ground::Patch
        } else {
            Ground::Clear
        }
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
        let one_to = 1.0 / PX / self.scale;
        if self.medium == Medium::AnyPage {
            "not to scale".to_owned()
        } else if one_to >= 9.5 {
            format!("1 : {one_to:.0}")
        } else {
            format!("1 : {one_to:.1}")
        }
    }
}
