//! What a misprint would have to say, and which slip of the pen explains it.
//!
//! In: a search, and which of its readings cannot be right. Out: its [`Misprint`]s, each with the value that would fit on
//! the section of the others.

use crate::document::{Fixes, On, Point, Reading, Recorded};
use crate::lines::cuts;
use crate::loft::{BenchFit, section_normal};
use crate::num;
use crate::units::{LengthUnit, parse_length};

use super::slips::{Asked, Cell, Slip, slips};
use super::suspects::{LEAST_MISPRINT, Misprint, NO_SAY, Search, SuspectsError, Wanted};

/// Beyond three standard deviations of any slip, in the score's terms.
const UNEXPLAINED: f64 = 8.0;

/// Within how much a text says what was recorded, mm.
const SAME_VALUE: f64 = 1e-3;

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
        let point = self.lines.point(offset.point)?;
        let mut likeliest: Option<(f64, Misprint)> = None;
        for height in coordinates(offset.fixes) {
            let wanted = self.wanted(i, *height, stiff, drawn);
            let Some((reading, recorded)) = furthest(point, *height, wanted) else {
                continue;
            };
            // By the section itself it may say what it should, where a surface that is carried on says otherwise.
            let least = offset.tolerance.max(LEAST_MISPRINT);
            if wanted.is_some_and(|wanted| (recorded.value() - wanted.mm).abs() <= least) {
                continue;
            }
            let slips = wanted.map_or_else(Vec::new, |wanted| {
                self.slips(point, &point.readings[reading], recorded, *height, wanted)
            });
            // Where no slip explains it, the coordinate that the surface is square to is the likelier.
            let cost = match (slips.first(), wanted) {
                (Some(slip), _) => slip.score,
                (None, Some(wanted)) => UNEXPLAINED + num::ln(wanted.sd),
                (None, None) => f64::INFINITY,
            };
            if likeliest.as_ref().is_none_or(|(least, _)| cost < *least) {
                let misprint = Misprint {
                    point: point.id,
                    reading,
                    height: *height,
                    read: recorded.value(),
                    wanted,
                    t: self.foretold.t[i],
                    slips,
                };
                likeliest = Some((cost, misprint));
            }
        }
        likeliest.map(|(_, misprint)| misprint)
    }

    /// What one coordinate of a point would have to be, by the section of the others at its station.
    fn wanted(&self, i: usize, height: bool, stiff: &BenchFit, drawn: &BenchFit) -> Option<Wanted> {
        let (mm, v) = self.crossing(i, height, stiff)?;
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
            .crossing(i, height, drawn)
            .map_or(0.0, |(other, _)| (other - mm) / 2.0);
        let own = self.study.sigma
            * self.study.sigma
            * (1.0 / self.weights[i] + fitted / (across * across));
        let sd = (own + apart * apart).sqrt();
        // It says so on the lines; what was read inside the skin lies deeper.
        let moved = self.loft.moved_out(offset.point)[usize::from(height)];
        let least = offset.tolerance / 2.0;
        Some(Wanted {
            mm: mm - moved,
            sd: sd.max(least),
        })
    }

    /// Where the section comes to what else is known of a point: the coordinate in question, and its `v`.
    fn crossing(&self, i: usize, height: bool, fit: &BenchFit) -> Option<(f64, f64)> {
        let offset = self.offset(i);
        let [u, near] = self.study.places[i];
        let row = fit.surface.row(u);
        if matches!(offset.on, On::Crown | On::Keel) {
            return Some((row.jet(near).s.z, near));
        }
        let [y, z] = offset.recorded;
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
                let place = self.lines.place_of(offset.on)?;
                place.distance_along(at.y, at.z)?
            }
            _ if height => at.z,
            _ => at.y,
        };
        Some((value, v))
    }

    fn slips(
        &self,
        point: &Point,
        reading: &Reading,
        recorded: &Recorded,
        height: bool,
        wanted: Wanted,
    ) -> Vec<Slip> {
        let [half_breadths, heights] = self.lines.counted(point.on, reading.source);
        let counted = if height { heights } else { half_breadths };
        let source = self.lines.source(reading.source).and_then(|s| s.unit);
        let units = [
            source.unwrap_or(self.lines.unit),
            self.lines.unit,
            LengthUnit::Millimetres,
            LengthUnit::Inches,
        ];
        // The unit that the text was read in is the one in which it says what was recorded.
        let read_in = |unit: &LengthUnit| {
            parse_length(&recorded.typed, *unit)
                .is_ok_and(|mm| (counted.on_the_lines(mm) - recorded.mm).abs() < SAME_VALUE)
        };
        let Some(unit) = units.into_iter().find(read_in) else {
            return Vec::new();
        };
        let cells = self.cells(point, reading, height);
        slips(&Asked {
            typed: &recorded.typed,
            unit,
            counted,
            wanted: wanted.mm,
            sd: wanted.sd,
            cells: &cells,
        })
    }

    /// The cells of the same source beside a point: its line at the stations beside, and its station on the lines beside.
    fn cells(&self, point: &Point, reading: &Reading, height: bool) -> Vec<Cell> {
        let cell = |other: &Point, name: String| {
            let beside = other.readings.iter().find(|r| r.source == reading.source)?;
            let recorded = beside.recorded(height)?;
            Some(Cell {
                name,
                typed: recorded.typed.clone(),
                mm: recorded.mm,
            })
        };
        let mut out = Vec::new();
        let Some(here) = self.lines.station_index(point.station) else {
            return out;
        };
        let stations = &self.lines.stations;
        let beside = [here.checked_sub(1), Some(here + 1)];
        for station in beside.into_iter().flatten().filter_map(|n| stations.get(n)) {
            if point.on == On::Free {
                continue;
            }
            let other = self.lines.point_on(station.id, point.on);
            out.extend(other.and_then(|p| cell(p, self.lines.station_name(station.id))));
        }
        let says = |reading: &Reading| reading.recorded(height).is_some();
        let round: Vec<&Point> = self
            .lines
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
                .lines
                .line_name(other.on)
                .unwrap_or_else(|| self.lines.name_of(other));
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

/// The used reading of a coordinate that lies furthest from what would fit, by its tolerance.
fn furthest(point: &Point, height: bool, wanted: Option<Wanted>) -> Option<(usize, &Recorded)> {
    let off = |reading: &Reading, recorded: &Recorded| {
        wanted.map_or(0.0, |w| (recorded.value() - w.mm).abs() / reading.tolerance)
    };
    point
        .readings
        .iter()
        .enumerate()
        .filter(|(_, reading)| reading.set_aside.is_none())
        .filter_map(|(n, reading)| {
            let recorded = reading.recorded(height)?;
            Some((n, recorded, off(reading, recorded)))
        })
        .max_by(|a, b| a.2.total_cmp(&b.2))
        .map(|(n, recorded, _)| (n, recorded))
}
