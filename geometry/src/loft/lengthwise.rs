//! The parameter `u` along the body: x(u), its knots, and where the stations lie on it.
//!
//! In: the stations' x and the form of the ends. Out: knots and coefficients of x. With open or pointed ends `u` is x
//! itself; at a blunt tip x starts as a parabola, so that a round nose is an ordinary function of `u`.

use super::LoftError;
use crate::document::Tip;
use crate::spline::{Knots, Surface};

/// The lengthwise side of the net.
#[derive(Clone, Debug)]
pub(super) struct Lengthwise {
    pub(super) knots: Knots,
    /// Coefficients of x.
    pub(super) x: Vec<f64>,
    /// Of the stations asked for.
    pub(super) stations: Vec<f64>,
}

/// Most spans of the net along the body.
const MOST_SPANS: usize = 60;

/// Breaks nearer than this part of the length are one.
const CROWDED: f64 = 1.0 / 400.0;

/// Share of the body's length over which a blunt end is round.
const BLUNT: f64 = 0.25;

/// x(u) before it is made a spline: a parabola at each blunt end, straight between.
struct Course {
    ends: [f64; 2],
    blunt: [Option<f64>; 2],
}

impl Course {
    fn new(ends: [f64; 2], tips: [Option<Tip>; 2]) -> Self {
        let length = ends[1] - ends[0];
        let blunt = tips.map(|tip| (tip == Some(Tip::Blunt)).then_some(BLUNT * length));
        Self { ends, blunt }
    }

    /// `u` runs from x of the fore end, so that it is x where nothing is blunt.
    fn u(&self, x: f64) -> f64 {
        let [fore, aft] = self.ends;
        let longer = self.blunt[0].unwrap_or(0.0);
        match self.blunt {
            [Some(a), _] if x < fore + a => fore + 2.0 * (a * (x - fore).max(0.0)).sqrt(),
            [_, Some(b)] if x > aft - b => self.last() - 2.0 * (b * (aft - x).max(0.0)).sqrt(),
            _ => x + longer,
        }
    }

    fn last(&self) -> f64 {
        self.ends[1] + self.blunt[0].unwrap_or(0.0) + self.blunt[1].unwrap_or(0.0)
    }

    /// Polar form (blossom) of the branch of x(u) that holds the middle of three arguments.
    fn blossom(&self, u: [f64; 3]) -> f64 {
        let middle = (u[0] + u[1] + u[2]) / 3.0;
        let pairs = |o: f64| {
            let [a, b, c] = u.map(|u| u - o);
            (a * b + b * c + a * c) / 3.0
        };
        let [fore, aft] = self.ends;
        match self.blunt {
            [Some(a), _] if middle < fore + 2.0 * a => fore + pairs(fore) / (4.0 * a),
            [_, Some(b)] if middle > self.last() - 2.0 * b => aft - pairs(self.last()) / (4.0 * b),
            [a, _] => middle - a.unwrap_or(0.0),
        }
    }
}

impl Lengthwise {
    /// x at a place along the body.
    pub(super) fn x_at(&self, u: f64) -> f64 {
        let span = self.knots.span_at(u);
        let (first, basis) = (
            self.knots.first_coefficient(span),
            self.knots.basis(span, u)[0],
        );
        (0..4).map(|i| basis[i] * self.x[first + i]).sum()
    }

    /// The same x(u) with the spans of these numbers halved.
    ///
    /// # Source
    /// W. Boehm, *Inserting new knots into B-spline curves*, Computer-Aided Design 12 (1980).
    pub(super) fn halved(&self, spans: &[usize]) -> Result<Self, LoftError> {
        let mut breaks = self.knots.breaks();
        let (mut x, mut knots) = (self.x.clone(), self.knots.knots().to_vec());
        for (a, b) in spans.iter().map(|span| self.knots.span(*span)) {
            let new = f64::midpoint(a, b);
            let k = knots.partition_point(|knot| *knot <= new) - 1;
            let between = |i: usize| {
                let share = (new - knots[i]) / (knots[i + 3] - knots[i]);
                share * x[i] + (1.0 - share) * x[i - 1]
            };
            let inner: Vec<f64> = (k - 2..=k).map(between).collect();
            x.splice(k - 2..k, inner);
            knots.insert(k + 1, new);
            breaks.push(new);
        }
        crate::num::put_in_order(&mut breaks, f64::total_cmp);
        Ok(Self {
            knots: Knots::clamped(&breaks).map_err(|_not_rising| LoftError::NotFixed)?,
            x,
            stations: self.stations.clone(),
        })
    }

    /// The side of a net through stations at `x`, rising, from `ends[0]` to `ends[1]`, with a knot at each station and no
    /// fewer than so many spans.
    pub(super) fn of(
        x: &[f64],
        (ends, tips): ([f64; 2], [Option<Tip>; 2]),
        fewest: usize,
    ) -> Result<Self, LoftError> {
        let course = Course::new(ends, tips);
        let first = course.u(ends[0]);
        let last = course.last();
        let least = CROWDED * (last - first);
        let mut breaks = vec![first];
        breaks.extend(
            x.iter()
                .map(|x| course.u(*x))
                .filter(|u| *u > first + least && *u < last - least),
        );
        breaks.dedup_by(|b, a| *b - *a < least);
        breaks.push(last);
        while breaks.len() > MOST_SPANS + 1 {
            let tightest = (1..breaks.len() - 1).min_by(|&a, &b| {
                (breaks[a + 1] - breaks[a - 1]).total_cmp(&(breaks[b + 1] - breaks[b - 1]))
            });
            breaks.remove(tightest.unwrap_or(1));
        }
        while breaks.len() < fewest + 1 {
            let widest = (1..breaks.len())
                .max_by(|&a, &b| {
                    (breaks[a] - breaks[a - 1]).total_cmp(&(breaks[b] - breaks[b - 1]))
                })
                .unwrap_or(1);
            breaks.insert(widest, f64::midpoint(breaks[widest - 1], breaks[widest]));
        }
        let knots = Knots::clamped(&breaks).map_err(|_not_rising| LoftError::NotFixed)?;
        let k = knots.knots();
        let coefficients: Vec<f64> = (0..knots.count())
            .map(|i| course.blossom([k[i + 1], k[i + 2], k[i + 3]]))
            .collect();
        let stations = if course.blunt == [None, None] {
            x.to_vec()
        } else {
            // The spline bends from parabola to line over a span, so the stations are sought on it.
            let across = Knots::clamped(&[0.0, 1.0]).map_err(|_not_rising| LoftError::NotFixed)?;
            let zeros = vec![0.0; coefficients.len() * across.count()];
            let surface = Surface::new(
                knots.clone(),
                across,
                coefficients.clone(),
                zeros.clone(),
                zeros,
            );
            x.iter().map(|x| surface.u_at(*x)).collect()
        };
        Ok(Self {
            knots,
            x: coefficients,
            stations,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn u_is_x_between_open_ends() {
        let side =
            Lengthwise::of(&[0.0, 220.0, 430.0, 4000.0], ([0.0, 4000.0], [None; 2]), 12).unwrap();
        assert_eq!(side.knots.span_count(), 12);
        assert_eq!(side.stations, vec![0.0, 220.0, 430.0, 4000.0]);
        for (x, g) in side.x.iter().zip(side.knots.greville()) {
            assert!((x - g).abs() < 1e-9);
        }
    }

    #[test]
    fn halved_spans_leave_x_as_it_is() {
        let x: Vec<f64> = (0..=6).map(|i| f64::from(i) * 150.0).collect();
        let side = Lengthwise::of(&x, ([-20.0, 900.0], [Some(Tip::Blunt), None]), 12).unwrap();
        let finer = side.halved(&[0, 1, 5]).unwrap();
        assert_eq!(finer.knots.span_count(), side.knots.span_count() + 3);
        assert_eq!(finer.x.len(), finer.knots.count());
        let (first, last) = side.knots.domain();
        for i in 0..=200 {
            let u = first + (last - first) * f64::from(i) / 200.0;
            assert!((finer.x_at(u) - side.x_at(u)).abs() < 1e-10, "{u}");
        }
    }

    #[test]
    fn x_rises_all_the_way_with_a_blunt_nose_and_tail() {
        let x: Vec<f64> = (0..=20).map(|i| f64::from(i) * 50.0).collect();
        let side = Lengthwise::of(&x, ([0.0, 1000.0], [Some(Tip::Blunt); 2]), 12).unwrap();
        for pair in side.x.windows(2) {
            assert!(
                pair[1] >= pair[0],
                "non-decreasing coefficients make x rise"
            );
        }
        assert!(
            (side.x[0]).abs() < 1e-9 && (side.x[1]).abs() < 1e-9,
            "x′ is zero at the nose"
        );
        assert!((side.x[side.x.len() - 1] - 1000.0).abs() < 1e-9);
        for pair in side.stations.windows(2) {
            assert!(pair[1] > pair[0]);
        }
    }
}
