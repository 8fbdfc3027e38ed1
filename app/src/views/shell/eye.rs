//! Where the shell is looked at from: parallel projection, turned about the body's middle with `z` always up.

use geometry::num;

use crate::views::drawing::Point;

/// A place in space: x aft, y to starboard, z up, mm.
pub type Xyz = [f64; 3];

/// The standard views, in the order of their numbers.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Standard {
    /// 1.
    Port,
    /// 2.
    Starboard,
    /// 3.
    Above,
    /// 4.
    Aft,
    /// 5.
    QuarterBelow,
    /// 6.
    QuarterAbove,
}

impl Standard {
    /// All of them, from 1.
    pub const ALL: [Self; 6] = [
        Self::Port,
        Self::Starboard,
        Self::Above,
        Self::Aft,
        Self::QuarterBelow,
        Self::QuarterAbove,
    ];

    /// Its name in the list.
    pub fn name(self) -> &'static str {
        match self {
            Self::Port => "Side, port",
            Self::Starboard => "Side, starboard",
            Self::Above => "From above",
            Self::Aft => "From aft",
            Self::QuarterBelow => "Quarter, below",
            Self::QuarterAbove => "Quarter, above",
        }
    }

    /// Turn and tilt, rad.
    fn angles(self) -> (f64, f64) {
        const HALF: f64 = core::f64::consts::PI;
        match self {
            Self::Port => (0.0, 0.0),
            Self::Starboard => (HALF, 0.0),
            Self::Above => (0.0, HALF / 2.0),
            Self::Aft => (HALF / 2.0, 0.0),
            Self::QuarterBelow => (-0.62, -0.36),
            Self::QuarterAbove => (-0.62, 0.42),
        }
    }
}

/// Directions on the screen, each a unit vector in space.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Axes {
    /// To the right.
    pub right: Xyz,
    /// Up.
    pub up: Xyz,
    /// Towards the eye.
    pub near: Xyz,
}

/// An eye.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Eye {
    /// Angle about the upright from the port side, rad; positive looks from further aft.
    pub turn: f64,
    /// Angle above the level, rad.
    pub tilt: f64,
    /// px per mm.
    pub scale: f64,
    /// The place that is turned about.
    pub middle: Xyz,
    /// Where it is drawn, px from the top left.
    pub at: Point,
}

/// Sum of products of two places.
pub fn dot(a: Xyz, b: Xyz) -> f64 {
    a[0] * b[0] + a[1] * b[1] + a[2] * b[2]
}

/// The part of the drawing that the body may take: left, top, right, bottom, px.
pub type Room = [f64; 4];

impl Eye {
    /// An eye that sees all of a body in a room.
    ///
    /// # Units
    /// `body`: places on it, mm; with none, or all in one place, the scale is 1.
    pub fn seeing(standard: Standard, body: &[Xyz], room: Room) -> Self {
        let (turn, tilt) = standard.angles();
        Self {
            turn,
            tilt,
            scale: 1.0,
            middle: [0.0; 3],
            at: (0.0, 0.0),
        }
        .fitted(body, room)
    }

    /// The same, moved and scaled to see all of a body in a room.
    pub fn fitted(mut self, body: &[Xyz], room: Room) -> Self {
        let span = |axis: Xyz| {
            body.iter()
                .map(|p| dot(*p, axis))
                .fold([f64::INFINITY, f64::NEG_INFINITY], |[low, high], p| {
                    [low.min(p), high.max(p)]
                })
        };
        let unit = [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]];
        if body.is_empty() {
            return self;
        }
        self.middle = unit.map(|axis| {
            let [low, high] = span(axis);
            f64::midpoint(low, high)
        });
        let axes = self.axes();
        let (across, upward) = (span(axes.right), span(axes.up));
        let [left, top, right, bottom] = room;
        let fit = |room: f64, [low, high]: [f64; 2]| room.max(40.0) / (high - low);
        let scale = fit(right - left, across).min(fit(bottom - top, upward));
        if scale.is_finite() {
            self.scale = scale;
        }
        // The middle of what is seen goes to the middle of the room.
        let off =
            |[low, high]: [f64; 2], axis: Xyz| f64::midpoint(low, high) - dot(self.middle, axis);
        self.at = (
            f64::midpoint(left, right) - self.scale * off(across, axes.right),
            f64::midpoint(top, bottom) + self.scale * off(upward, axes.up),
        );
        self
    }

    /// The directions of the screen.
    pub fn axes(&self) -> Axes {
        let (st, ct) = (num::sin(self.turn), num::cos(self.turn));
        let (se, ce) = (num::sin(self.tilt), num::cos(self.tilt));
        Axes {
            right: [ct, st, 0.0],
            up: [-st * se, ct * se, ce],
            near: [st * ce, -ct * ce, se],
        }
    }

    /// Where a place is drawn, px.
    pub fn project(&self, axes: &Axes, place: Xyz) -> Point {
        let off = core::array::from_fn(|i| place[i] - self.middle[i]);
        (
            self.at.0 + self.scale * dot(off, axes.right),
            self.at.1 - self.scale * dot(off, axes.up),
        )
    }

    /// Turned by these angles, rad; never over the top.
    pub fn turned(mut self, turn: f64, tilt: f64) -> Self {
        const FULL: f64 = core::f64::consts::TAU;
        self.turn = (self.turn + turn).rem_euclid(FULL);
        self.tilt = (self.tilt + tilt).clamp(-FULL / 4.0, FULL / 4.0);
        self
    }

    /// Shifted on the screen, px.
    pub fn shifted(mut self, right: f64, down: f64) -> Self {
        self.at = (self.at.0 + right, self.at.1 + down);
        self
    }

    /// Enlarged about a place of the screen.
    pub fn enlarged(mut self, factor: f64, about: Point) -> Self {
        let scale = (self.scale * factor).clamp(0.005, 50.0);
        let factor = scale / self.scale;
        self.scale = scale;
        self.at = (
            about.0 + (self.at.0 - about.0) * factor,
            about.1 + (self.at.1 - about.1) * factor,
        );
        self
    }

    /// Where one looks from, in words.
    pub fn words(&self) -> String {
        let standard = Standard::ALL.into_iter().find(|standard| {
            let (turn, tilt) = standard.angles();
            let apart = num::cos(self.turn - turn);
            apart > 1.0 - 1e-9 && (self.tilt - tilt).abs() < 1e-4
        });
        if let Some(standard) = standard {
            return match standard {
                Standard::Port => "Port side".to_owned(),
                Standard::Starboard => "Starboard side".to_owned(),
                Standard::Above => "From above, bow to the left".to_owned(),
                Standard::Aft => "From aft".to_owned(),
                Standard::QuarterBelow => "Port bow quarter, from below".to_owned(),
                Standard::QuarterAbove => "Port bow quarter, from above".to_owned(),
            };
        }
        let [ahead, side, height] = self.axes().near;
        let mut words = Vec::new();
        if side.abs() > 0.3 {
            words.push(if side > 0.0 { "starboard" } else { "port" });
        }
        if ahead.abs() > 0.3 {
            words.push(if ahead > 0.0 { "aft" } else { "forward" });
        }
        if height.abs() > 0.3 {
            words.push(if height > 0.0 { "above" } else { "below" });
        }
        format!("From {}", words.join(", "))
    }
}
