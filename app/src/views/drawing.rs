//! Drawing: scales, path strings, labels. What is shared by the views of the lines plan.

use core::fmt::Write;

use geometry::lines::{Branch, Node};

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
        (self.x(a), self.y(b))
    }

    /// The two coordinates that are drawn at a screen place.
    pub fn back(&self, (x, y): Point) -> (f64, f64) {
        (
            (x - self.origin.0) / self.scale.0,
            (y - self.origin.1) / self.scale.1,
        )
    }

    /// Whether a screen place belongs to the view.
    pub fn holds(&self, (x, y): Point) -> bool {
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

/// A path of SVG, built up piece by piece.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Path(pub String);

/// One decimal is a tenth of a pixel; no exponent, no «-0». A drawing has thousands of these, so the digits are written
/// out by hand.
fn short(out: &mut String, value: f64) {
    let tenths = geometry::num::count_of((value.abs() * 10.0).round());
    if value < 0.0 && tenths > 0 {
        out.push('-');
    }
    let mut digits = [b'0'; 24];
    let mut from = digits.len();
    let mut put = |byte: u8| {
        from -= 1;
        digits[from] = byte;
    };
    let digit = |n: usize| b'0' + u8::try_from(n % 10).unwrap_or(0);
    if !tenths.is_multiple_of(10) {
        put(digit(tenths));
        put(b'.');
    }
    let mut rest = tenths / 10;
    loop {
        put(digit(rest));
        rest /= 10;
        if rest == 0 {
            break;
        }
    }
    out.push_str(core::str::from_utf8(&digits[from..]).unwrap_or_default());
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
    pub fn branch(&mut self, branch: &Branch, frame: &Frame, axes: fn(&Node) -> (f64, f64)) {
        self.line(branch.nodes.iter().map(|node| {
            let (a, b) = axes(node);
            frame.at(a, b)
        }));
        if branch.closed {
            self.close();
        }
    }

    /// A circle.
    pub fn circle(&mut self, (x, y): Point, r: f64) {
        self.go('M', (x - r, y));
        for back in ["", "-"] {
            let arc = write!(self.0, "a{r} {r} 0 1 0 {back}{} 0", 2.0 * r);
            debug_assert!(arc.is_ok(), "a string takes all");
        }
    }
}

/// A coordinate as it is written into the drawing.
pub fn px(value: f64) -> String {
    format!("{value:.1}")
}

/// How a label's text stands to its place.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Anchor {
    /// It begins there.
    #[default]
    Start,
    /// It is about there.
    Middle,
    /// It ends there.
    End,
}

impl Anchor {
    /// As SVG calls it.
    pub fn name(self) -> &'static str {
        match self {
            Self::Start => "start",
            Self::Middle => "middle",
            Self::End => "end",
        }
    }
}

/// A label of the drawing.
#[derive(Clone, Debug, PartialEq)]
pub struct Label {
    /// Where its foot stands, px.
    pub at: Point,
    /// How it stands there.
    pub anchor: Anchor,
    /// What it says.
    pub text: String,
    /// Classes of its pen.
    pub class: &'static str,
    /// Whether it stands on a patch of sheet, since it lies on a line.
    pub patch: bool,
}

/// A label in thin ink that begins at a place, in clear paper.
pub fn label(at: Point, text: impl Into<String>) -> Label {
    Label {
        at,
        anchor: Anchor::Start,
        text: text.into(),
        class: "",
        patch: false,
    }
}

impl Label {
    /// Equal for labels that look the same, to a tenth of a pixel.
    pub fn key(&self) -> (String, &'static str, [String; 2], Anchor, bool) {
        let at = [px(self.at.0), px(self.at.1)];
        (self.text.clone(), self.class, at, self.anchor, self.patch)
    }

    /// The same with this class.
    pub fn pen(self, class: &'static str) -> Self {
        Self { class, ..self }
    }

    /// The same about its place.
    pub fn middle(self) -> Self {
        Self {
            anchor: Anchor::Middle,
            ..self
        }
    }

    /// The same ending at its place.
    pub fn end(self) -> Self {
        Self {
            anchor: Anchor::End,
            ..self
        }
    }

    /// The same on a patch of sheet.
    pub fn patched(self) -> Self {
        Self {
            patch: true,
            ..self
        }
    }

    /// Width of its text, about, px.
    pub fn width(&self) -> f64 {
        6.3 * self.text.chars().count() as f64 + 5.0
    }

    /// Left edge of its patch, px.
    pub fn left(&self) -> f64 {
        match self.anchor {
            Anchor::Start => self.at.0 - 2.0,
            Anchor::Middle => self.at.0 - self.width() / 2.0,
            Anchor::End => self.at.0 - self.width() + 2.0,
        }
    }
}

/// Everything that is drawn of one kind of thing: always the same paths in the same order, so that a change of the lines
/// changes attributes only.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Drawing {
    /// Paths by class, in the order they are drawn.
    pub paths: Vec<(&'static str, String)>,
    /// Labels, over all paths.
    pub labels: Vec<Label>,
}

impl Drawing {
    /// Adds a path, an empty one too.
    pub fn path(&mut self, class: &'static str, path: Path) {
        self.paths.push((class, path.0));
    }

    /// Adds a label.
    pub fn label(&mut self, label: Label) {
        self.labels.push(label);
    }
}

/// Of so many names in a row every first, second, third … one finds room.
pub fn every(count: usize, gap: f64, room: f64) -> usize {
    geometry::num::count_of((count as f64 * gap / room.max(gap)).ceil()).max(1)
}

/// Spreads places so that neighbours are `gap` apart, with least push and their order kept.
pub fn spread(places: &mut [f64], gap: f64, low: f64, high: f64) {
    let mut order: Vec<usize> = (0..places.len()).collect();
    geometry::num::put_in_order(&mut order, |a, b| places[*a].total_cmp(&places[*b]));
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

/// The largest of 1, 2, 3, 5, 10, 20, 30 … that is no larger than a number.
pub fn under_1235(value: f64) -> f64 {
    let fits = |step: &f64| *step <= value * (1.0 + 1e-9);
    let steps = steps(&[1.0, 2.0, 3.0, 5.0]);
    steps.take_while(fits).last().unwrap_or(value)
}

/// The smallest of 1, 2, 5, 10, 20 … that is no smaller than a number.
pub fn over_125(value: f64) -> f64 {
    steps(&[1.0, 2.0, 5.0])
        .find(|step| *step >= value * (1.0 - 1e-9))
        .unwrap_or(value)
}

/// These numbers times the powers of ten, from 10⁻³ to 10¹².
fn steps(of: &[f64]) -> impl Iterator<Item = f64> {
    (0..16_u32).flat_map(|power| {
        let decade = (0..power).fold(1e-3, |decade, _| decade * 10.0);
        of.iter().map(move |step| step * decade)
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn writes(value: f64, text: &str) {
        let mut out = String::new();
        short(&mut out, value);
        assert_eq!(out, text);
    }

    #[test]
    fn a_pixel_is_written_to_a_tenth_without_a_tail() {
        writes(0.0, "0");
        writes(-0.04, "0");
        writes(-0.05, "-0.1");
        writes(12.0, "12");
        writes(1234.56, "1234.6");
        writes(-987.96, "-988");
        writes(100.04, "100");
    }

    #[test]
    fn spread_labels_keep_their_order_and_their_distance() {
        let mut places = [10.0, 11.0, 10.5, 40.0];
        spread(&mut places, 12.0, 0.0, 100.0);
        assert!(places[0] + 11.9 < places[2] && places[2] + 11.9 < places[1]);
        assert!(
            (places[3] - 40.0).abs() < 0.1,
            "what has room stays: {places:?}"
        );
    }
}
