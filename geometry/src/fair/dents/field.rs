//! All readings at once, each shift along its normal with the precision that the others leave it.
//!
//! In: the offsets, and which of them have no say. Out: a [`Field`]: for each of nine stiffnesses the residuals and the
//! precision matrix of shifts along the section normals, of which a group is left out without another fit.

use crate::document::{Body, Offset, PointId, stations_shown};
use crate::loft::{Bench, LoftError, firmness, normal_of};

use crate::fair::search_end::{NO_SAY, SuspectsError};

/// Stiffnesses tried, the stiffest first, against readings of weight 1 on average: 10^3, 10^2.5 … 10^-1.
pub(super) const STIFFNESSES: [f64; 9] = [
    1000.0,
    316.227_766_016_837_94,
    100.0,
    31.622_776_601_683_793,
    10.0,
    3.162_277_660_168_379_5,
    1.0,
    0.316_227_766_016_837_94,
    0.1,
];

/// The stiffness at whose surface the normals are taken.
const NORMALS: f64 = 30.0;

/// Precisions are kept between readings no more than so many stations apart. A group and the rest about it lie within: a
/// window is six stations long at most, a grown group nine, and the rest about it reaches four further.
pub(super) const BAND: usize = 13;

/// Least spread of a reading, by its tolerance.
const LEAST_SIGMA: f64 = 0.15;

/// How many numbers a field of these offsets holds.
pub(super) fn held(offsets: &[Vec<Offset>]) -> usize {
    let shown = stations_shown(offsets);
    let count = |rank: usize| offsets[shown[rank]].len();
    let one = |rank: usize| {
        let before: usize = (rank.saturating_sub(BAND)..rank).map(count).sum();
        count(rank) * (before + count(rank))
    };
    STIFFNESSES.len() * (0..shown.len()).map(one).sum::<usize>()
}

/// A reading as the scan takes it.
#[derive(Clone, Copy, Debug)]
pub(super) struct FieldReading {
    /// Its station, counted over those that have readings.
    pub(super) station: usize,
    /// Its place round the girth.
    pub(super) v: f64,
    /// mm.
    pub(super) tolerance: f64,
    /// 1/tolerance², 1 on average.
    pub(super) weight: f64,
    /// Whether it has a say; else it was set aside, or is a misprint.
    pub(super) counts: bool,
}

/// The readings against the surface of one stiffness.
#[derive(Clone, Debug)]
pub(super) struct Precision {
    /// Distance of each reading from the surface along its normal, mm, over zero outside, times its weight.
    pub(super) pull: Vec<f64>,
    /// First reading of each row.
    first: Vec<usize>,
    /// `A`, the lower half of its band.
    rows: Vec<Vec<f64>>,
}

impl Precision {
    /// `A[i][j]`, the precision that shifts of two readings along their normals share, for readings of spread 1; none
    /// further apart than [`BAND`].
    ///
    /// # Panics
    /// Where they lie further apart than that.
    #[inline]
    pub(super) fn entry(&self, i: usize, j: usize) -> f64 {
        let (high, low) = if i < j { (j, i) } else { (i, j) };
        self.rows[high][low - self.first[high]]
    }
}

/// The readings of a body, against the surfaces of all stiffnesses.
#[derive(Clone, Debug)]
pub(super) struct Field {
    /// Station by station, from crown to keel.
    pub(super) readings: Vec<FieldReading>,
    /// Where the run lines between crown and keel lie round the girth.
    pub(super) run_lines: Vec<f64>,
    /// How many stations have readings.
    pub(super) stations: usize,
    /// No less than this is the spread of a reading of weight 1, mm.
    pub(super) least_sigma: f64,
    /// By stiffness, as [`STIFFNESSES`].
    pub(super) at: Vec<Precision>,
}

impl Field {
    /// Fits the surface of each stiffness and works out what each shares with each.
    ///
    /// With `h = R H⁻¹ Rᵀ` of half-breadth and height, weights `W`, and normals `n`:
    /// `A = W − W (n_y n_yᵀ ∘ h^y + n_z n_zᵀ ∘ h^z) W`. `out` says which readings have no say.
    ///
    /// # Units
    /// Distances in mm; weights have no unit, so that no door's default tolerance matters.
    ///
    /// # Errors
    /// [`SuspectsError`]: the rest has no loft, or `stop` said so.
    ///
    /// # Accuracy
    /// Exact for the linear fit with these normals, to rounding: see [`super::left_out`].
    ///
    /// # Source
    /// Leave-one-out residuals of weighted least squares, for groups: Cook and Weisberg, *Residuals and Influence in
    /// Regression*, 1982; in the direction of the normal: ours.
    pub(super) fn of(
        body: &Body,
        offsets: &[Vec<Offset>],
        out: &[bool],
        stop: &dyn Fn() -> bool,
    ) -> Result<Self, SuspectsError> {
        let mut bench = laid(body, offsets, out)?;
        let all: Vec<&Offset> = offsets.iter().flatten().collect();
        let Weights { own, say, mean } = Weights::of(&all, out);
        let places: Vec<[f64; 2]> = bench.places().collect();
        let normals = normals(&mut bench, &all, &say)?;
        let shown = stations_shown(offsets);
        let ranks = shown
            .iter()
            .enumerate()
            .flat_map(|(rank, station)| offsets[*station].iter().map(move |_| rank));
        let readings: Vec<FieldReading> = ranks
            .enumerate()
            .map(|(i, station)| FieldReading {
                station,
                v: places[i][1],
                tolerance: all[i].tolerance,
                weight: own[i],
                counts: !out[i],
            })
            .collect();
        let mut at = Vec::with_capacity(STIFFNESSES.len());
        for stiffness in STIFFNESSES {
            if stop() {
                return Err(SuspectsError::Stopped);
            }
            let fit = bench.fit(&say, stiffness)?;
            let pull = (0..all.len())
                .map(|i| {
                    let s = fit.surface.position(places[i][0], places[i][1]);
                    let [y, z] = all[i].recorded;
                    say[i] * (normals[i][0] * (y - s.y) + normals[i][1] * (z - s.z))
                })
                .collect();
            let mut first = Vec::with_capacity(all.len());
            let mut rows = Vec::with_capacity(all.len());
            for i in 0..all.len() {
                let reach = readings[i].station.saturating_sub(BAND);
                let from = readings.partition_point(|other| other.station < reach);
                let [y, z] = fit.answers(i);
                let row = (from..=i).map(|j| {
                    let [hy, hz] = fit.at_offset(j, [&y, &z]);
                    let h = normals[i][0] * normals[j][0] * hy + normals[i][1] * normals[j][1] * hz;
                    let own = if i == j { say[i] } else { 0.0 };
                    own - say[i] * say[j] * h
                });
                rows.push(row.collect());
                first.push(from);
            }
            at.push(Precision { pull, first, rows });
        }
        let inner = bench.run_lines().filter(|v| *v > 0.0 && *v < 1.0);
        Ok(Self {
            readings,
            run_lines: inner.collect(),
            stations: shown.len(),
            least_sigma: LEAST_SIGMA / mean.sqrt(),
            at,
        })
    }

    /// Whether two readings adjoin: next to each other round the girth, or at the next station as far round it.
    pub(super) fn adjoin(&self, i: usize, j: usize) -> bool {
        let (a, b) = (self.readings[i], self.readings[j]);
        if a.station == b.station {
            i.abs_diff(j) == 1
        } else {
            a.station.abs_diff(b.station) == 1 && (a.v - b.v).abs() < BESIDE
        }
    }

    /// Whether a reading adjoins one of a group.
    pub(super) fn adjoins(&self, i: usize, group: &[usize]) -> bool {
        group.iter().any(|j| self.adjoin(i, *j))
    }
}

/// As far round the girth: within this.
const BESIDE: f64 = 0.07;

/// How firmly readings are held.
pub(super) struct Weights {
    /// 1/tolerance², 1 on average.
    pub(super) own: Vec<f64>,
    /// The same, next to nothing for those that have no say.
    pub(super) say: Vec<f64>,
    /// The mean of 1/tolerance², 1/mm².
    mean: f64,
}

impl Weights {
    pub(super) fn of(all: &[&Offset], out: &[bool]) -> Self {
        let mut own: Vec<f64> = all.iter().map(|o| firmness(o.tolerance)).collect();
        let mean = own.iter().sum::<f64>() / own.len().max(1) as f64;
        for weight in &mut own {
            *weight /= mean;
        }
        let say = own.iter().zip(out);
        let say = say.map(|(weight, out)| if *out { NO_SAY * weight } else { *weight });
        let say = say.collect();
        Self { own, say, mean }
    }
}

/// The outward normals of the sections at all readings.
pub(super) fn normals(
    bench: &mut Bench,
    all: &[&Offset],
    say: &[f64],
) -> Result<Vec<[f64; 2]>, LoftError> {
    let surface = bench.fit(say, NORMALS)?.surface;
    let places = bench.places();
    let at = all.iter().zip(places);
    let normal = |(offset, [u, v]): (&&Offset, [f64; 2])| normal_of(offset.on, &surface.jet(u, v));
    Ok(at.map(normal).collect())
}

/// A bench on which those without a say have none in the girth either; where the rest is no section of its own, with all.
pub(super) fn laid(body: &Body, offsets: &[Vec<Offset>], out: &[bool]) -> Result<Bench, LoftError> {
    let all = offsets.iter().flatten().zip(out);
    let apart: Vec<PointId> = all.filter(|(_, out)| **out).map(|(o, _)| o.point).collect();
    Bench::lay(body, offsets, &apart)
}
