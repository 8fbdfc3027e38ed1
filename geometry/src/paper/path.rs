//! Paths on paper: straight strokes, Bézier curves and arcs, kept as what they are.

use crate::num;

/// A place on paper, mm: from the sheet's upper left corner, to the right and down.
pub type PaperPoint = (f64, f64);

/// Straight strokes from point to point.
#[derive(Clone, Debug, PartialEq)]
pub struct Polyline {
    /// Its points, from first to last.
    pub points: Vec<PaperPoint>,
    /// Whether the last one is joined to the first.
    pub closed: bool,
}

impl From<PaperPoint> for Polyline {
    /// An open one that begins here.
    fn from(point: PaperPoint) -> Self {
        Self {
            points: vec![point],
            closed: false,
        }
    }
}

/// One step of a path, from where the step before it ended.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Step {
    /// The pen is set down here.
    Move(PaperPoint),
    /// Straight to here.
    Line(PaperPoint),
    /// A cubic Bézier curve: both handles, and where it ends.
    Curve(PaperPoint, PaperPoint, PaperPoint),
    /// About a centre; a whole turn is a circle.
    Arc {
        /// The centre.
        centre: PaperPoint,
        /// By this angle, rad, clockwise as seen on the paper.
        turn: f64,
    },
    /// Straight back to where the pen was set down.
    Close,
}

/// Strokes that are drawn with one pen, or bound one area.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Path {
    /// Its steps; each part begins with a [`Step::Move`].
    pub steps: Vec<Step>,
}

impl Path {
    /// Adds a polyline.
    pub fn draw_line(&mut self, points: impl IntoIterator<Item = PaperPoint>) {
        let first = self.steps.len();
        let points = points.into_iter();
        self.steps.reserve(points.size_hint().0);
        for point in points {
            self.steps.push(if self.steps.len() == first {
                Step::Move(point)
            } else {
                Step::Line(point)
            });
        }
    }

    /// Adds a straight stroke.
    pub fn draw_stroke(&mut self, from: PaperPoint, to: PaperPoint) {
        self.steps.push(Step::Move(from));
        self.steps.push(Step::Line(to));
    }

    /// Adds a closed box: left, top, right, foot.
    pub fn draw_box(&mut self, [left, top, right, foot]: [f64; 4]) {
        self.draw_line([(left, top), (right, top), (right, foot), (left, foot)]);
        self.close();
    }

    /// Adds a cubic Bézier curve: its ends and handles in order.
    pub fn draw_curve(&mut self, [from, out, back, to]: [PaperPoint; 4]) {
        self.steps.push(Step::Move(from));
        self.steps.push(Step::Curve(out, back, to));
    }

    /// Adds a circle.
    pub fn draw_circle(&mut self, centre: PaperPoint, radius: f64) {
        self.steps.push(Step::Move((centre.0 - radius, centre.1)));
        self.steps.push(Step::Arc {
            centre,
            turn: core::f64::consts::TAU,
        });
    }

    /// The same elsewhere: so far to the right and down, mm.
    #[must_use]
    pub fn moved(&self, (right, down): PaperPoint) -> Self {
        let to = |(x, y): PaperPoint| (x + right, y + down);
        let step = |step: &Step| match *step {
            Step::Move(place) => Step::Move(to(place)),
            Step::Line(place) => Step::Line(to(place)),
            Step::Curve(out, back, end) => Step::Curve(to(out), to(back), to(end)),
            Step::Arc { centre, turn } => Step::Arc {
                centre: to(centre),
                turn,
            },
            Step::Close => Step::Close,
        };
        Self {
            steps: self.steps.iter().map(step).collect(),
        }
    }

    /// Closes the last part.
    pub fn close(&mut self) {
        self.steps.push(Step::Close);
    }

    /// Whether there is nothing.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.steps.is_empty()
    }

    /// Its parts as polylines.
    ///
    /// # Units
    /// - `accuracy`: mm, over zero: how far the polylines may lie from curves and arcs
    ///
    /// # Accuracy
    /// `accuracy`, by the bound for a cubic's second derivative and by an arc's height over its chord.
    ///
    /// # Source
    /// Both bounds are common practice.
    #[must_use]
    pub fn flatten(&self, accuracy: f64) -> Vec<Polyline> {
        let mut parts: Vec<Polyline> = Vec::new();
        self.walk(|from, step| {
            if let Step::Move(to) = step {
                parts.push(Polyline::from(to));
                return;
            }
            // After a close the pen is where the part began.
            if parts.last().is_none_or(|part| part.closed) {
                parts.push(Polyline::from(from));
            }
            let Some(Polyline { points, closed }) = parts.last_mut() else {
                return;
            };
            match step {
                Step::Move(_) => {}
                Step::Line(to) => points.push(to),
                Step::Curve(out, back, to) => {
                    let bend = |a: PaperPoint, b: PaperPoint, c: PaperPoint| {
                        num::hypot(a.0 - 2.0 * b.0 + c.0, a.1 - 2.0 * b.1 + c.1)
                    };
                    let bend = bend(from, out, back).max(bend(out, back, to));
                    // A chord of n is off by no more than the second derivative, 6 times the bend, over 8 n².
                    let count = pieces((0.75 * bend / accuracy).sqrt());
                    let curve = [from, out, back, to];
                    points.extend((1..count).map(|i| on_curve(&curve, share(i, count))));
                    points.push(to);
                }
                Step::Arc { centre, turn } => {
                    let radius = num::hypot(from.0 - centre.0, from.1 - centre.1);
                    // r (1 − cos (θ/2)) is the height over a chord of angle θ.
                    let half = num::acos((1.0 - accuracy / radius).clamp(0.0, 1.0));
                    let count = pieces(turn.abs() / (2.0 * half)).max(3);
                    points
                        .extend((1..=count).map(|i| on_arc(from, centre, turn * share(i, count))));
                }
                Step::Close => *closed = true,
            }
        });
        parts
    }

    /// Gives each step with the place from which it goes.
    pub(crate) fn walk(&self, mut each: impl FnMut(PaperPoint, Step)) {
        let (mut at, mut start) = ((0.0, 0.0), (0.0, 0.0));
        for step in &self.steps {
            each(at, *step);
            at = match *step {
                Step::Move(to) => {
                    start = to;
                    to
                }
                Step::Line(to) | Step::Curve(_, _, to) => to,
                Step::Arc { centre, turn } => on_arc(at, centre, turn),
                Step::Close => start,
            };
        }
    }
}

/// So many pieces, one at least and no more than is sane.
fn pieces(count: f64) -> usize {
    num::count_of(count.ceil()).clamp(1, 10_000)
}

fn share(i: usize, count: usize) -> f64 {
    i as f64 / count as f64
}

/// The place on a cubic Bézier curve, from 0 to 1.
pub(super) fn on_curve(curve: &[PaperPoint; 4], t: f64) -> PaperPoint {
    let value = |of: fn(&PaperPoint) -> f64| num::scalar::bernstein(&curve.each_ref().map(of), t);
    (value(|p| p.0), value(|p| p.1))
}

/// A place, turned about a centre: clockwise on the paper, rad.
pub(crate) fn on_arc((x, y): PaperPoint, centre: PaperPoint, turn: f64) -> PaperPoint {
    let (sin, cos) = (num::sin(turn), num::cos(turn));
    let (right, down) = (x - centre.0, y - centre.1);
    (
        centre.0 + right * cos - down * sin,
        centre.1 + right * sin + down * cos,
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_arc_is_flattened_as_near_as_asked() {
        for accuracy in [1.0, 0.1, 1e-3, 1e-5] {
            let mut path = Path::default();
            path.draw_circle((30.0, -20.0), 25.0);
            let parts = path.flatten(accuracy);
            let far = |p: &PaperPoint| num::hypot(p.0 - 30.0, p.1 + 20.0);
            for pair in parts[0].points.windows(2) {
                let middle = (
                    f64::midpoint(pair[0].0, pair[1].0),
                    f64::midpoint(pair[0].1, pair[1].1),
                );
                assert!((far(&pair[0]) - 25.0).abs() < 1e-9);
                assert!(25.0 - far(&middle) <= accuracy * 1.000_001, "{accuracy}");
            }
            let (first, last) = (
                parts[0].points[0],
                parts[0].points[parts[0].points.len() - 1],
            );
            assert!(num::hypot(first.0 - last.0, first.1 - last.1) < 1e-9);
        }
    }

    #[test]
    fn a_curve_is_flattened_as_near_as_asked() {
        // A parabola, y = x²/40, raised to a cubic: its height over a chord is known.
        let curve = [
            (-40.0, 40.0),
            (-40.0 / 3.0, -40.0 / 3.0),
            (40.0 / 3.0, -40.0 / 3.0),
            (40.0, 40.0),
        ];
        for accuracy in [1.0, 0.1, 1e-3, 1e-5] {
            let mut path = Path::default();
            path.draw_curve(curve);
            let parts = path.flatten(accuracy);
            for pair in parts[0].points.windows(2) {
                let (a, b) = (pair[0], pair[1]);
                assert!((a.1 - a.0 * a.0 / 40.0).abs() < 1e-9);
                let x = f64::midpoint(a.0, b.0);
                let over = f64::midpoint(a.1, b.1) - x * x / 40.0;
                assert!(over <= accuracy + 1e-13, "{over} for {accuracy}");
            }
        }
    }

    #[test]
    fn what_follows_a_close_begins_where_the_part_began() {
        let mut path = Path::default();
        path.draw_box([1.0, 2.0, 5.0, 6.0]);
        path.steps.push(Step::Line((9.0, 9.0)));
        let parts = path.flatten(0.1);
        assert_eq!(parts.len(), 2);
        assert_eq!(parts[1].points, [(1.0, 2.0), (9.0, 9.0)]);
    }
}
