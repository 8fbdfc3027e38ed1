//! Hatching as strokes, for whatever draws none by itself.

use super::{PaperPoint, Path};
use crate::num;

/// How an area is hatched.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Hatch {
    /// From stroke to stroke, mm, over zero.
    pub spacing: f64,
    /// Which way the strokes run: from to the right, clockwise on the paper, rad.
    pub angle: f64,
}

/// No area has more strokes than this.
const MOST: usize = 20_000;

impl Hatch {
    /// The strokes within an area: where a ray from outside has crossed its edge an odd number of times.
    ///
    /// They stand on multiples of the spacing from the sheet's corner, so that areas side by side are hatched as one.
    ///
    /// # Units
    /// - `accuracy`: mm: how near curved edges are met
    /// - returns: from, to; in order across, then along
    ///
    /// # Accuracy
    /// Exact for straight edges, but for rounding; an area that would take more than 20,000 strokes has them further apart.
    ///
    /// # Source
    /// The even-odd rule; common practice.
    #[must_use]
    pub fn strokes(&self, area: &Path, accuracy: f64) -> Vec<(PaperPoint, PaperPoint)> {
        let (sin, cos) = (num::sin(self.angle), num::cos(self.angle));
        let turned = |(x, y): PaperPoint| (x * cos + y * sin, y * cos - x * sin);
        let parts: Vec<Vec<PaperPoint>> = { area.flatten(accuracy).into_iter() }
            .map(|part| part.points.into_iter().map(turned).collect())
            .collect();
        let across = || parts.iter().flatten().map(|point| point.1);
        let low = across().fold(f64::INFINITY, f64::min);
        let high = across().fold(f64::NEG_INFINITY, f64::max);
        let most = MOST as f64;
        let spacing = self.spacing.max((high - low) / most);
        if !(low.is_finite() && high.is_finite() && spacing > 0.0) {
            return Vec::new();
        }
        let (first, last) = ((low / spacing).ceil(), (high / spacing).floor());
        let mut strokes = Vec::new();
        for number in 0..num::count_of(last - first + 1.0) {
            let level = (first + number as f64) * spacing;
            let mut met: Vec<f64> = { parts.iter() }
                .flat_map(|points| crossings(points, level))
                .collect();
            num::put_in_order(&mut met, f64::total_cmp);
            for pair in met.chunks_exact(2) {
                let back = |along: f64| (along * cos - level * sin, along * sin + level * cos);
                strokes.push((back(pair[0]), back(pair[1])));
            }
        }
        strokes
    }
}

/// Where a closed polygon crosses a level; an end on it counts as over it.
fn crossings(points: &[PaperPoint], level: f64) -> impl Iterator<Item = f64> + '_ {
    let next = points.iter().skip(1).chain(points.first());
    points.iter().zip(next).filter_map(move |(a, b)| {
        let crosses = (a.1 >= level) != (b.1 >= level);
        crosses.then(|| a.0 + (b.0 - a.0) * (level - a.1) / (b.1 - a.1))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn length(strokes: &[(PaperPoint, PaperPoint)]) -> f64 {
        let one = |(a, b): &(PaperPoint, PaperPoint)| num::hypot(b.0 - a.0, b.1 - a.1);
        strokes.iter().map(one).sum()
    }

    #[test]
    fn strokes_of_a_circle_are_its_chords() {
        let mut path = Path::default();
        path.draw_circle((40.0, 30.0), 20.0);
        let hatch = Hatch {
            spacing: 0.7,
            angle: 0.6,
        };
        let strokes = hatch.strokes(&path, 1e-6);
        assert!(strokes.len() > 50);
        let (sin, cos) = (num::sin(0.6), num::cos(0.6));
        for (a, b) in &strokes {
            // How far its line is from the centre gives its length.
            let far = (a.1 - 30.0) * cos - (a.0 - 40.0) * sin;
            let chord = 2.0 * (400.0 - far * far).max(0.0).sqrt();
            assert!(
                (num::hypot(b.0 - a.0, b.1 - a.1) - chord).abs() < 0.02,
                "{chord}"
            );
            let place = (a.1 * cos - a.0 * sin) / 0.7;
            assert!(
                (place - place.round()).abs() < 1e-9,
                "on the sheet's own strokes"
            );
        }
        // Length times spacing is the area.
        let area = core::f64::consts::PI * 400.0;
        assert!((length(&strokes) * 0.7 / area - 1.0).abs() < 0.01);
    }

    #[test]
    fn a_hole_stays_clear_and_neighbours_are_hatched_as_one() {
        let hatch = Hatch {
            spacing: 1.0,
            angle: core::f64::consts::FRAC_PI_4,
        };
        let total = |boxes: &[[f64; 4]]| {
            let mut path = Path::default();
            boxes.iter().for_each(|b| path.draw_box(*b));
            length(&hatch.strokes(&path, 0.01))
        };
        let whole = total(&[[0.0, 0.0, 40.0, 20.0]]);
        let hole = total(&[[10.0, 5.0, 20.0, 15.0]]);
        let round = total(&[[0.0, 0.0, 40.0, 20.0], [10.0, 5.0, 20.0, 15.0]]);
        assert!((whole - hole - round).abs() < 1e-9);
        let halves = total(&[[0.0, 0.0, 13.0, 20.0]]) + total(&[[13.0, 0.0, 40.0, 20.0]]);
        assert!((whole - halves).abs() < 1e-9);
    }

    #[test]
    fn nothing_and_next_to_nothing_have_no_strokes() {
        let hatch = Hatch {
            spacing: 1.0,
            angle: 0.3,
        };
        assert!(hatch.strokes(&Path::default(), 0.01).is_empty());
        let mut path = Path::default();
        path.draw_line([(0.0, 0.0), (f64::NAN, 1.0), (f64::INFINITY, 2.0)]);
        assert!(hatch.strokes(&path, 0.01).is_empty());
    }
}
