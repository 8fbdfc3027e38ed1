//! One station's own curve through its points: what was drawn, before anything is fitted.
//!
//! In: the points of a station from crown to keel. Out: a [`Section`] by arc length, or the fault that makes the
//! station no section. It serves to place the points along the girth; the mould surface is fitted elsewhere.

use super::LoftError;
use crate::document::{Named, PointId, StationId};
use crate::num;
use crate::spline::{EndCondition, Interpolant};

/// How a section begins or ends.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SectionEnd {
    /// On the centre plane and level there.
    Level,
    /// On the centre plane at an angle, or at an open edge.
    Free,
}

/// A point of a section.
#[derive(Clone, Debug, PartialEq)]
pub struct SectionPoint {
    /// Which one, for faults.
    pub point: Named<PointId>,
    /// Half-breadth and height, mm.
    pub at: [f64; 2],
    /// Its tolerance, mm.
    pub tolerance: f64,
    /// Whether the section breaks its tangent here.
    pub knuckle: bool,
    /// Whether it lies on a plane's line, which may meet another line here.
    pub on_plane: bool,
}

/// A station's curve through its points, by arc length from its first point.
#[derive(Clone, Debug)]
pub struct Section {
    /// Between knuckles, with the arc length at which each begins.
    pieces: Vec<(f64, Interpolant)>,
    lengths: Vec<f64>,
}

/// How often the points are laid out anew by the arc length of the curve through them.
const ROUNDS: usize = 2;

impl Section {
    /// The curve through `points` of `station`, in order round the girth.
    ///
    /// Where two lines meet they have one point, met once. Between knuckles it is a cubic spline by arc length: level ends have `z' = 0` and `y'' = 0`, the others are
    /// not-a-knot. Parameters are chords first, then twice the arc length of the curve before.
    ///
    /// # Units
    /// mm.
    ///
    /// # Errors
    /// [`LoftError::TooFewPoints`], [`LoftError::NotFinite`], [`LoftError::EqualPoints`], [`LoftError::TurnsBack`].
    ///
    /// # Accuracy
    /// The points are met to rounding; arc length and parameter agree to a few parts in 10,000 where points stand as
    /// close as a lines plan has them.
    ///
    /// # Source
    /// de Boor, *A Practical Guide to Splines*, ch. IV, for the conditions.
    pub fn through(
        station: &Named<StationId>,
        points: &[SectionPoint],
        ends: [SectionEnd; 2],
    ) -> Result<Self, LoftError> {
        let (points, numbers) = met_once(points);
        let points = points.as_slice();
        check(station, points)?;
        let mut pieces = Vec::new();
        let mut lengths = vec![0.0];
        let mut from = 0;
        for to in 1..points.len() {
            if to + 1 < points.len() && !points[to].knuckle {
                continue;
            }
            let start = if from == 0 { ends[0] } else { SectionEnd::Free };
            let end = if to + 1 == points.len() {
                ends[1]
            } else {
                SectionEnd::Free
            };
            let begins = *lengths.last().unwrap_or(&0.0);
            let piece = by_arc_length(&points[from..=to], start, end);
            lengths.extend(piece.lengths().into_iter().skip(1).map(|s| begins + s));
            pieces.push((begins, piece));
            from = to;
        }
        let lengths = numbers.into_iter().map(|number| lengths[number]).collect();
        Ok(Self { pieces, lengths })
    }

    /// Arc length from the first point to each point, mm.
    #[must_use]
    pub fn lengths(&self) -> &[f64] {
        &self.lengths
    }

    /// Half-breadth and height at an arc length from the first point, with two derivatives.
    #[must_use]
    pub fn at(&self, length: f64) -> [[f64; 2]; 3] {
        let i = self
            .pieces
            .partition_point(|(begins, _)| *begins <= length)
            .saturating_sub(1);
        let (begins, piece) = &self.pieces[i];
        piece.at(length - begins)
    }
}

/// The points, each place once, and for each of those given its number among them.
fn met_once(points: &[SectionPoint]) -> (Vec<SectionPoint>, Vec<usize>) {
    let mut kept: Vec<SectionPoint> = Vec::new();
    let mut numbers = Vec::with_capacity(points.len());
    for next in points {
        match kept.last_mut() {
            Some(last)
                if (last.on_plane || next.on_plane) && apart(last, next) < num::SAME_POINT =>
            {
                last.knuckle |= next.knuckle;
                last.on_plane &= next.on_plane;
                last.tolerance = last.tolerance.min(next.tolerance);
            }
            _ => kept.push(next.clone()),
        }
        numbers.push(kept.len() - 1);
    }
    (kept, numbers)
}

fn apart(a: &SectionPoint, b: &SectionPoint) -> f64 {
    num::hypot(b.at[0] - a.at[0], b.at[1] - a.at[1])
}

fn by_arc_length(points: &[SectionPoint], start: SectionEnd, end: SectionEnd) -> Interpolant {
    let at: Vec<[f64; 2]> = points.iter().map(|p| p.at).collect();
    let condition = |end: SectionEnd, level: EndCondition| match end {
        SectionEnd::Level => level,
        SectionEnd::Free => EndCondition::NotAKnot,
    };
    let y = [
        condition(start, EndCondition::Straight),
        condition(end, EndCondition::Straight),
    ];
    let z = [
        condition(start, EndCondition::Slope(0.0)),
        condition(end, EndCondition::Slope(0.0)),
    ];
    let mut t = vec![0.0];
    for pair in at.windows(2) {
        let chord = num::hypot(pair[1][0] - pair[0][0], pair[1][1] - pair[0][1]);
        t.push(t[t.len() - 1] + chord);
    }
    let mut curve = Interpolant::through(t, at.clone(), y, z);
    for _ in 0..ROUNDS {
        curve = Interpolant::through(curve.lengths(), at.clone(), y, z);
    }
    curve
}

/// Refuses what is no section.
fn check(station: &Named<StationId>, points: &[SectionPoint]) -> Result<(), LoftError> {
    if points.len() < 2 {
        return Err(LoftError::TooFewPoints {
            station: station.clone(),
            points: points.len(),
        });
    }
    if let Some(point) = points.iter().find(|p| !p.at.iter().all(|c| c.is_finite())) {
        return Err(LoftError::NotFinite {
            point: point.point.clone(),
        });
    }
    for pair in points.windows(2) {
        if apart(&pair[0], &pair[1]) < num::SAME_POINT {
            return Err(LoftError::EqualPoints {
                first: pair[0].point.clone(),
                second: pair[1].point.clone(),
            });
        }
    }
    for trio in points.windows(3) {
        let [a, b, c] = trio else { continue };
        let first = [b.at[0] - a.at[0], b.at[1] - a.at[1]];
        let second = [c.at[0] - b.at[0], c.at[1] - b.at[1]];
        let back = -(first[0] * second[0] + first[1] * second[1]) / num::hypot(first[0], first[1]);
        let allowed = a.tolerance.max(b.tolerance).max(c.tolerance);
        if back > allowed && !b.knuckle {
            return Err(LoftError::TurnsBack {
                point: b.point.clone(),
                by: back,
                tolerance: allowed,
            });
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn station() -> Named<StationId> {
        let name = "STA 48".to_owned();
        Named {
            id: StationId(1),
            name,
        }
    }

    fn named(number: u32) -> Named<PointId> {
        let name = format!("point {number}");
        Named {
            id: PointId(number),
            name,
        }
    }

    fn point(number: u32, y: f64, z: f64) -> SectionPoint {
        SectionPoint {
            point: named(number),
            at: [y, z],
            tolerance: 1.6,
            knuckle: false,
            on_plane: false,
        }
    }

    fn circle(n: u32) -> Vec<SectionPoint> {
        (0..=n)
            .map(|i| {
                let a = core::f64::consts::PI * f64::from(i) / f64::from(n);
                point(i, 500.0 * num::sin(a), 500.0 * num::cos(a))
            })
            .collect()
    }

    #[test]
    fn a_circle_is_drawn_by_its_arc_length() {
        let s = Section::through(&station(), &circle(14), [SectionEnd::Level; 2]).unwrap();
        for (i, length) in s.lengths().iter().enumerate() {
            let exact = 500.0 * core::f64::consts::PI * i as f64 / 14.0;
            assert!((length - exact).abs() < 0.02, "{length} for {exact}");
        }
        let [at, ..] = s.at(500.0 * core::f64::consts::PI / 3.0);
        assert!((at[0] - 500.0 * num::sin(core::f64::consts::PI / 3.0)).abs() < 0.03);
    }

    #[test]
    fn a_knuckle_breaks_the_tangent() {
        let mut points = vec![
            point(0, 0.0, 100.0),
            point(1, 100.0, 100.0),
            point(2, 100.0, 0.0),
        ];
        points[1].knuckle = true;
        let s = Section::through(&station(), &points, [SectionEnd::Free; 2]).unwrap();
        assert!((s.lengths()[2] - 200.0).abs() < 1e-9);
        assert!((s.at(50.0)[0][1] - 100.0).abs() < 1e-12);
        assert!((s.at(150.0)[0][0] - 100.0).abs() < 1e-12);
    }

    #[test]
    fn a_plane_meets_a_run_line_in_one_point() {
        let once = circle(14);
        let mut twice = once.clone();
        let mut on_plane = point(99, once[6].at[0], once[6].at[1]);
        on_plane.on_plane = true;
        twice.insert(6, on_plane);
        let ends = [SectionEnd::Level; 2];
        let [a, b] = [&once, &twice].map(|p| Section::through(&station(), p, ends).unwrap());
        assert_eq!(b.lengths().len(), 16);
        assert!(num::same(b.lengths()[6], b.lengths()[7]));
        assert!(num::same(a.lengths()[14], b.lengths()[15]));
        assert_eq!(a.at(333.0), b.at(333.0));
    }

    #[test]
    fn a_section_that_is_none_names_its_station_and_point() {
        let mut points = circle(6);
        points[3].at = points[2].at;
        let fault = Section::through(&station(), &points, [SectionEnd::Level; 2]).unwrap_err();
        assert_eq!(
            fault,
            LoftError::EqualPoints {
                first: named(2),
                second: named(3)
            }
        );
        let mut points = circle(6);
        points[4].at[1] = 400.0;
        assert!(matches!(
            Section::through(&station(), &points, [SectionEnd::Level; 2]),
            Err(LoftError::TurnsBack { point, .. }) if point == named(3) || point == named(4)
        ));
        let mut points = circle(6);
        points[4].at[1] = f64::NAN;
        assert!(matches!(
            Section::through(&station(), &points, [SectionEnd::Level; 2]),
            Err(LoftError::NotFinite { .. })
        ));
        assert!(matches!(
            Section::through(&station(), &circle(6)[..1], [SectionEnd::Level; 2]),
            Err(LoftError::TooFewPoints { points: 1, .. })
        ));
    }
}
