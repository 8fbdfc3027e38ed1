//! Drawing: scales, path strings, labels. What is shared by the three views of the lines plan.

use core::fmt::Write;

use geometry::lines::Branch;
/// A place on the screen, px.
pub type Point = (f64, f64);

/// How a view maps two of the body's axes to the screen.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Frame {
    /// Screen place of the origin, px.
    pub origin: Point,
    /// px per mm; the second one is negative where the axis points up the screen.
    pub scale: (f64, f64),
    /// Part of the screen that belongs to the view: left, top, right, bottom.
    pub area: [f64; 4],
}

impl Frame {
    /// Screen place of two coordinates.
    pub fn at(&self, a: f64, b: f64) -> Point {
        (
            self.origin.0 + a * self.scale.0,
            self.origin.1 + b * self.scale.1,
        )
    }
}

/// A path of SVG, built up piece by piece.
#[derive(Clone, Debug, Default)]
pub struct Path(pub String);

fn short(out: &mut String, value: f64) {
    // One decimal is a tenth of a pixel; no exponent, no «-0».
    let tenths = (value * 10.0).round();
    let tenths = if tenths == 0.0 { 0.0 } else { tenths };
    let written = if tenths % 10.0 == 0.0 {
        write!(out, "{}", tenths / 10.0)
    } else {
        write!(out, "{:.1}", tenths / 10.0)
    };
    debug_assert!(written.is_ok(), "a string takes all");
}

impl Path {
    fn go(&mut self, letter: char, (x, y): Point) {
        self.0.push(letter);
        short(&mut self.0, x);
        self.0.push(' ');
        short(&mut self.0, y);
    }

    /// A polyline.
    pub fn line(&mut self, points: impl IntoIterator<Item = Point>) {
        for (i, point) in points.into_iter().enumerate() {
            self.go(if i == 0 { 'M' } else { 'L' }, point);
        }
    }

    /// A straight stroke.
    pub fn stroke(&mut self, from: Point, to: Point) {
        self.line([from, to]);
    }

    /// Closes the last polyline.
    pub fn close(&mut self) {
        self.0.push('Z');
    }

    /// A branch seen in a frame by two of its coordinates.
    pub fn branch(
        &mut self,
        branch: &Branch,
        frame: &Frame,
        axes: fn(&geometry::lines::Node) -> (f64, f64),
    ) {
        self.line(branch.nodes.iter().map(|node| {
            let (a, b) = axes(node);
            frame.at(a, b)
        }));
        if branch.closed {
            self.close();
        }
    }
}

/// A label of the drawing.
#[derive(Clone, Debug, PartialEq)]
pub struct Label {
    /// Where its foot stands, px.
    pub at: Point,
    /// What it says.
    pub text: String,
    /// Classes of its pen.
    pub class: &'static str,
    /// Whether it stands on a patch of sheet, since it lies on a line.
    pub patch: bool,
}

/// A label in clear paper.
pub fn label(at: Point, text: impl Into<String>, class: &'static str) -> Label {
    Label {
        at,
        text: text.into(),
        class,
        patch: false,
    }
}

/// Spreads places so that neighbours are `gap` apart, with least push and their order kept.
pub fn spread(places: &mut [f64], gap: f64, low: f64, high: f64) {
    let mut order: Vec<usize> = (0..places.len()).collect();
    order.sort_by(|a, b| places[*a].total_cmp(&places[*b]));
    for _ in 0..200 {
        let mut moved = false;
        for pair in order.windows(2) {
            let short = gap - (places[pair[1]] - places[pair[0]]);
            if short > 0.01 {
                places[pair[0]] -= short / 2.0;
                places[pair[1]] += short / 2.0;
                moved = true;
            }
        }
        for (i, k) in order.iter().enumerate() {
            let rest = (order.len() - 1 - i) as f64;
            places[*k] = places[*k].max(low + gap * i as f64).min(high - gap * rest);
        }
        if !moved {
            break;
        }
    }
}

/// The nearest of 1, 2, 5, 10, 20 … to a number over zero.
pub fn round_125(value: f64) -> f64 {
    let mut decade = 1e-9;
    let mut best = decade;
    while decade < 1e12 {
        for step in [1.0, 2.0, 5.0] {
            let candidate: f64 = step * decade;
            if (candidate / value).max(value / candidate) < (best / value).max(value / best) {
                best = candidate;
            }
        }
        decade *= 10.0;
    }
    best
}

/// A radius as a person says it: `14.6 m`, `820 mm`.
pub fn radius_words(radius: f64) -> String {
    let size = radius.abs();
    if size >= 1e6 {
        "flat".to_owned()
    } else if size >= 9_950.0 {
        format!("{:.1} m", size / 1000.0)
    } else if size >= 1_000.0 {
        format!("{:.2} m", size / 1000.0)
    } else {
        format!("{size:.0} mm")
    }
}
