//! What a misprint would have to say, and which slip of the pen explains it.
//!
//! In: a search, and which of its readings cannot be right. Out: its [`Misprint`]s, each with the value that would fit on
//! the section of the others.

use crate::document::{Counted, Fixes, On, Point, Reading, Recorded, stations_shown};
use crate::lines::cuts;
use crate::loft::{BenchFit, section_normal};
use crate::num;
use crate::units::{LengthUnit, parse_length};

use super::search_end::NO_SAY;
use super::slips::{Expected, Misfit, NeighbourCell, Slip, coordinates_exchanged, slips};
use super::suspects::{LEAST_MISPRINT, Misprint, Search, SuspectsError};

/// Beyond three standard deviations of any slip, in the score's terms.
const UNEXPLAINED: f64 = 8.0;

/// At so many places round the girth the nearest to a point is sought.
const ROUND: u32 = 200;

/// Within how much a text says what was recorded, mm.
const SAME_VALUE: f64 = 1e-3;

/// Of so few stations the others foretell next to nothing of a bent line: a surface that is free there lies anywhere, and what
/// is left of them at an end is a parabola.
const FEW_STATIONS: usize = 4;

/// There what they foretell must stand off by so many of its own standard deviations: of 960 plain tables of three and four
/// stations, true to half their last figure, some reading lay off by 9.4.
const FEW_SUSPECT: f64 = 12.0;

impl Search<'_> {
    /// What each would have to say, and how it may have come not to.
    pub(super) fn misprints(&self, sure: &[usize]) -> Result<Vec<Misprint>, SuspectsError> {
        if sure.is_empty() {
            return Ok(Vec::new());
        }
        let mut bench = self.bench()?;
        let silent = |weights: &[f64]| -> Vec<f64> {
            let mut weights = weights.to_vec();
            for i in sure {
                weights[*i] = NO_SAY * self.weights[*i];
            }
            weights
        };
        let stiff = bench.fit(&silent(&self.study.weights), self.stiffness)?;
        let drawn = bench.fit(&silent(&self.weights), self.as_drawn)?;
        let mut out = Vec::with_capacity(sure.len());
        for &i in sure {
            self.asked_to_stop()?;
            out.extend(self.misprint(i, &stiff, &drawn));
        }
        Ok(out)
    }

    /// The likeliest of what may be wrong with a point.
    fn misprint(&self, i: usize, stiff: &BenchFit, drawn: &BenchFit) -> Option<Misprint> {
        let offset = self.offset(i);
        let point = self.body.point(offset.point)?;
        let few = stations_shown(self.offsets).len() <= FEW_STATIONS;
        let mut likeliest: Option<(f64, Misprint)> = None;
        for height in coordinates(offset.fixes) {
            let expected = self.expected(i, *height, stiff, drawn);
            let Some((reading, recorded)) = self.furthest(point, *height, expected) else {
                continue;
            };
            let expected = expected.map(|e| self.of_the_source(e, point, reading, *height));
            // By the section itself it may say what it should, where a surface that is carried on says otherwise.
            let least = offset.tolerance.max(LEAST_MISPRINT);
            let near = |expected: Expected| {
                let off = (recorded.value() - expected.mm).abs();
                off <= least || (few && off <= FEW_SUSPECT * expected.sd)
            };
            if expected.is_some_and(near) {
                continue;
            }
            let slips = expected.map_or_else(Vec::new, |expected| {
                let at = (point, &point.readings[reading], *height);
                self.slips(at, recorded, expected, [stiff, drawn])
            });
            // Where no slip explains it, the coordinate that the surface is square to is the likelier.
            let cost = match (slips.first(), expected) {
                (Some(slip), _) => slip.score,
                (None, Some(expected)) => UNEXPLAINED + num::ln(expected.sd),
                (None, None) => f64::INFINITY,
            };
            if likeliest.as_ref().is_none_or(|(least, _)| cost < *least) {
                let misprint = Misprint {
                    point: point.id,
                    reading,
                    height: *height,
                    read: recorded.value(),
                    expected,
                    t: self.prediction.t[i],
                    slips,
                };
                likeliest = Some((cost, misprint));
            }
        }
        // What the section itself puts within its tolerance is not exchanged either.
        let (least, misprint) = likeliest?;
        match self.exchanged(i, point, [stiff, drawn]) {
            Some((cost, exchanged)) if cost < least => Some(exchanged),
            _ => Some(misprint),
        }
    }

    /// A point whose half-breadth was written for its height and its height for its half-breadth, where it fits so, with its
    /// score.
    fn exchanged(
        &self,
        i: usize,
        point: &Point,
        [stiff, drawn]: [&BenchFit; 2],
    ) -> Option<(f64, Misprint)> {
        let offset = self.offset(i);
        let used = point.readings.iter().enumerate();
        let mut used = used.filter(|(_, reading)| reading.set_aside.is_none());
        let (n, reading, y, z) = used.find_map(|(n, reading)| {
            let (y, z) = (reading.half_breadth.as_ref()?, reading.height.as_ref()?);
            (offset.fixes == Fixes::Both).then_some((n, reading, y, z))
        })?;
        let counted = self.body.counted(point.on, reading.source);
        let read = |recorded: &Recorded, k: usize| {
            let unit = self.read_in(reading, recorded, counted[k])?;
            parse_length(&recorded.typed, unit).ok()
        };
        let place = [
            counted[0].on_the_lines(read(z, 1)?),
            counted[1].on_the_lines(read(y, 0)?),
        ];
        if num::same(place[0], y.value()) {
            return None;
        }
        let shifts = self.body.shift_of(point, reading);
        let there = [0, 1].map(|k| shifts[k].map_or(place[k], |shift| shift.to_station(place[k])));
        let moved = self.loft.moved_out(offset.point);
        let outside = [there[0] + moved[0], there[1] + moved[1]];
        let u = self.study.places[i][0];
        let row = stiff.surface.row(u);
        let far = |v: f64| {
            let s = row.jet(v).s;
            num::hypot(s.y - outside[0], s.z - outside[1])
        };
        let all = (0..=ROUND).map(|k| f64::from(k) / f64::from(ROUND));
        let near = all.min_by(|a, b| far(*a).total_cmp(&far(*b)))?;
        let expected = [false, true].map(|height| {
            let across = (i, height, (outside, near));
            let expected = self.expected_at(across, stiff, drawn)?;
            Some(self.of_the_source(expected, point, n, height))
        });
        // In the coordinate that the skin is square to.
        let off = |k: usize| expected[k].map(|expected| (place[k] - expected.mm, expected.sd));
        let square = [off(0), off(1)].into_iter().flatten();
        let square = square.min_by(|a, b| a.1.total_cmp(&b.1))?;
        let slip = coordinates_exchanged([&z.typed, &y.typed], place, square)?;
        let misprint = Misprint {
            point: point.id,
            reading: n,
            height: false,
            read: y.value(),
            expected: expected[0],
            t: self.prediction.t[i],
            slips: vec![slip.clone()],
        };
        Some((slip.score, misprint))
    }

    /// What a reading would have to say for a value at its point's station: another one where its source's stations lie
    /// elsewhere.
    fn of_the_source(
        &self,
        expected: Expected,
        point: &Point,
        reading: usize,
        height: bool,
    ) -> Expected {
        let shifts = { point.readings.get(reading) }.map(|r| self.body.shift_of(point, r));
        let shift = shifts.and_then(|shifts| shifts[usize::from(height)]);
        let mm = shift.map_or(expected.mm, |shift| shift.to_source(expected.mm));
        Expected { mm, ..expected }
    }

    /// The used reading of a coordinate that lies furthest from what would fit, by its tolerance.
    fn furthest<'p>(
        &self,
        point: &'p Point,
        height: bool,
        expected: Option<Expected>,
    ) -> Option<(usize, &'p Recorded)> {
        let off = |n: usize, reading: &Reading, recorded: &Recorded| {
            expected.map_or(0.0, |wanted| {
                let wanted = self.of_the_source(wanted, point, n, height);
                (recorded.value() - wanted.mm).abs() / reading.tolerance
            })
        };
        point
            .readings
            .iter()
            .enumerate()
            .filter(|(_, reading)| reading.set_aside.is_none())
            .filter_map(|(n, reading)| {
                let recorded = reading.recorded(height)?;
                Some((n, recorded, off(n, reading, recorded)))
            })
            .max_by(|a, b| a.2.total_cmp(&b.2))
            .map(|(n, recorded, _)| (n, recorded))
    }

    /// What one coordinate of a point would have to be at its station, by the section of the others there.
    fn expected(
        &self,
        i: usize,
        height: bool,
        stiff: &BenchFit,
        drawn: &BenchFit,
    ) -> Option<Expected> {
        let place = (self.offset(i).recorded, self.study.places[i][1]);
        self.expected_at((i, height, place), stiff, drawn)
    }

    /// The same for another place that it may have, with about where round the girth that is.
    fn expected_at(
        &self,
        (i, height, place): (usize, bool, ([f64; 2], f64)),
        stiff: &BenchFit,
        drawn: &BenchFit,
    ) -> Option<Expected> {
        let (mm, v) = self.crossing(i, height, stiff, place)?;
        let u = self.study.places[i][0];
        let offset = self.offset(i);
        let normal = section_normal(&stiff.surface.jet(u, v));
        let across = match (offset.on, offset.fixes, height) {
            (On::Crown | On::Keel, ..) => 1.0,
            (_, Fixes::Along { angle }, _) => {
                normal[0] * num::cos(angle) - normal[1] * num::sin(angle)
            }
            (_, _, true) => normal[1],
            (_, _, false) => normal[0],
        };
        let across = across.abs().max(0.05);
        let [y, z] = stiff.variance(u, v);
        let fitted = normal[0] * normal[0] * y + normal[1] * normal[1] * z;
        // The stiff surface may be out where the lines bend most: by about what the drawn ones say otherwise.
        let apart = self
            .crossing(i, height, drawn, place)
            .map_or(0.0, |(other, _)| (other - mm) / 2.0);
        let own = self.study.sigma
            * self.study.sigma
            * (1.0 / self.weights[i] + fitted / (across * across));
        let sd = (own + apart * apart).sqrt();
        // It says so on the lines; what was read inside the skin lies deeper.
        let moved = self.loft.moved_out(offset.point)[usize::from(height)];
        let least = offset.tolerance / 2.0;
        Some(Expected {
            mm: mm - moved,
            sd: sd.max(least),
        })
    }

    /// Where the section comes to what else is known of a point: the coordinate in question, and its `v`.
    fn crossing(
        &self,
        i: usize,
        height: bool,
        fit: &BenchFit,
        ([y, z], near): ([f64; 2], f64),
    ) -> Option<(f64, f64)> {
        let offset = self.offset(i);
        let u = self.study.places[i][0];
        let row = fit.surface.row(u);
        if matches!(offset.on, On::Crown | On::Keel) {
            return Some((row.jet(near).s.z, near));
        }
        let plane = match offset.fixes {
            Fixes::Along { angle } => {
                let (sin, cos) = (num::sin(angle), num::cos(angle));
                [sin, cos, y * sin + z * cos]
            }
            _ if height => [1.0, 0.0, y],
            _ => [0.0, 1.0, z],
        };
        let v = cuts(&row, plane)
            .into_iter()
            .min_by(|a, b| (a - near).abs().total_cmp(&(b - near).abs()))?;
        let at = row.jet(v).s;
        let value = match offset.fixes {
            Fixes::Along { .. } => {
                let place = self.body.place_of(offset.on)?;
                place.distance_along(at.y, at.z)?
            }
            _ if height => at.z,
            _ => at.y,
        };
        Some((value, v))
    }

    fn slips(
        &self,
        (point, reading, height): (&Point, &Reading, bool),
        recorded: &Recorded,
        expected: Expected,
        fits: [&BenchFit; 2],
    ) -> Vec<Slip> {
        let counted = self.body.counted(point.on, reading.source)[usize::from(height)];
        let Some(unit) = self.read_in(reading, recorded, counted) else {
            return Vec::new();
        };
        let cells = self.cells(point, reading, height, fits);
        slips(&Misfit {
            typed: &recorded.typed,
            unit,
            counted,
            expected: expected.mm,
            sd: expected.sd,
            cells: &cells,
        })
    }

    /// The unit that a text was read in: the one in which it says what was recorded.
    fn read_in(
        &self,
        reading: &Reading,
        recorded: &Recorded,
        counted: Counted,
    ) -> Option<LengthUnit> {
        let source = self.body.source(reading.source).and_then(|s| s.unit);
        let units = [
            source.unwrap_or(self.unit),
            self.unit,
            LengthUnit::Millimetres,
            LengthUnit::Inches,
        ];
        let says = |unit: &LengthUnit| {
            parse_length(&recorded.typed, *unit)
                .is_ok_and(|mm| (counted.on_the_lines(mm) - recorded.mm).abs() < SAME_VALUE)
        };
        units.into_iter().find(says)
    }

    /// The cells of the same source beside a point: its line at the stations beside, and its station on the lines beside.
    fn cells(
        &self,
        point: &Point,
        reading: &Reading,
        height: bool,
        [stiff, drawn]: [&BenchFit; 2],
    ) -> Vec<NeighbourCell> {
        let cell = |other: &Point, name: String| {
            let used = |r: &Reading| r.set_aside.is_none() && r.source == reading.source;
            let n = other.readings.iter().position(used)?;
            let recorded = other.readings[n].recorded(height)?;
            let mut all = 0..self.at.len();
            let i = all.find(|i| self.offset(*i).point == other.id);
            let expected = i.and_then(|i| self.expected(i, height, stiff, drawn));
            Some(NeighbourCell {
                name,
                typed: recorded.typed.clone(),
                mm: recorded.mm,
                expected: expected.map(|e| self.of_the_source(e, other, n, height)),
            })
        };
        let mut out = Vec::new();
        let Some(here) = self.body.station_index(point.station) else {
            return out;
        };
        let stations = &self.body.stations;
        let beside = [here.checked_sub(1), Some(here + 1)];
        for station in beside.into_iter().flatten().filter_map(|n| stations.get(n)) {
            if point.on == On::Free {
                continue;
            }
            let other = self.body.point_on(station.id, point.on);
            out.extend(other.and_then(|p| cell(p, self.body.station_name(station.id))));
        }
        let says = |reading: &Reading| reading.recorded(height).is_some();
        let round: Vec<&Point> = self
            .body
            .points
            .iter()
            .filter(|p| p.station == point.station && p.readings.iter().any(says))
            .collect();
        let Some(place) = round.iter().position(|p| p.id == point.id) else {
            return out;
        };
        let beside = [place.checked_sub(1), Some(place + 1)];
        for other in beside.into_iter().flatten().filter_map(|n| round.get(n)) {
            let name = self
                .body
                .line_name(other.on)
                .unwrap_or_else(|| self.body.name_of(other));
            out.extend(cell(other, name));
        }
        out
    }
}

/// The coordinates that a reading of this kind gives: the height or not.
fn coordinates(fixes: Fixes) -> &'static [bool] {
    match fixes {
        Fixes::HalfBreadth | Fixes::Along { .. } => &[false],
        Fixes::Height => &[true],
        Fixes::Both => &[false, true],
    }
}
