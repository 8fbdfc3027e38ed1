//! How many boards a shell needs, and where they stand.
//!
//! In: where the skin runs between two lines, at a distance aft and even shares of its girth ([`ShellPlace`]). Out: the
//! fewest boards through which a fair skin keeps the asked error, and what a straightedge over them would show
//! ([`Spacing`]).

use core::ops::RangeInclusive;

use glam::DVec3;

use crate::num;
use crate::spline::{EndCondition, Interpolant};

/// A place of the skin and its outward unit normal.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ShellPlace {
    /// Where, mm.
    pub point: DVec3,
    /// Outward unit normal.
    pub normal: DVec3,
}

/// Where boards stand along a shell, and what comes of it.
#[derive(Clone, Debug, PartialEq)]
pub struct Spacing {
    /// Distances aft of the datum, mm, rising.
    pub stations: Vec<f64>,
    /// Largest distance, square to the skin, of a fair skin through the boards from the lofted one, mm.
    pub batten_error: f64,
    /// Largest distance of the skin from a straightedge laid over two neighbouring boards, mm.
    pub straightedge_error: f64,
}

/// Bays between the places along the shell at which it is looked at.
const BAYS: usize = 480;

/// Most boards of one shell.
pub const MOST_BOARDS: usize = 200;

/// Two boards nearer to each other than this, mm, are one.
const ONE_BOARD: f64 = 1.0;

/// How near to the end of the shell the last of evenly strained bays must come, in shares of its length.
const AT_THE_END: f64 = 1e-7;

/// A shell, looked at from end to end.
///
/// Along it run lines of equal share of the girth, as battens would; each is known between the places by a cubic spline.
#[derive(Debug)]
pub struct ShellLines {
    from: f64,
    to: f64,
    /// Distances aft of the datum, mm.
    x: Vec<f64>,
    /// Half-breadths and heights at each distance, by share of the girth.
    places: Vec<Vec<[f64; 2]>>,
    /// Outward normals at each distance, by share of the girth.
    normals: Vec<Vec<DVec3>>,
    /// Half-breadth and height over distance aft, by share of the girth.
    lines: Vec<Interpolant>,
}

impl ShellLines {
    /// Looks at a shell from end to end.
    ///
    /// `at` gives its places at a distance aft (mm), from one edge round the girth to the other at even shares of the arc
    /// length; as many at each distance.
    ///
    /// # Panics
    /// Where it gives fewer at one distance than at the first.
    pub fn of(extent: RangeInclusive<f64>, mut at: impl FnMut(f64) -> Vec<ShellPlace>) -> Self {
        let (from, to) = extent.into_inner();
        let x: Vec<f64> = (0..=BAYS)
            .map(|i| from + (to - from) * i as f64 / BAYS as f64)
            .collect();
        let places: Vec<Vec<ShellPlace>> = x.iter().map(|x| at(*x)).collect();
        let shares = places.first().map_or(0, Vec::len);
        let line = |share: usize| {
            let points = places
                .iter()
                .map(|row| [row[share].point.y, row[share].point.z]);
            spline(x.clone(), points.collect())
        };
        Self {
            from,
            to,
            lines: (0..shares).map(line).collect(),
            places: { places.iter() }
                .map(|row| {
                    row.iter()
                        .map(|place| [place.point.y, place.point.z])
                        .collect()
                })
                .collect(),
            normals: places
                .iter()
                .map(|row| row.iter().map(|place| place.normal).collect())
                .collect(),
            x,
        }
    }

    /// The fewest boards found through which a fair skin keeps within an error: one at each end and at each distance `named`,
    /// and between these either evenly, or closer where the skin asks for it, whichever takes fewer.
    ///
    /// The skin is taken to bend as a spline does that runs through the boards at equal shares of the girth; what it is
    /// then off, square to the lofted skin, is the *batten error*.
    ///
    /// # Units
    /// `error`, `named`: mm; an error below 0.001 is taken as that. Distances off the shell are left out.
    ///
    /// # Accuracy
    /// The error is looked at in 480 places along the shell.
    ///
    /// # Errors
    /// `None` where [`MOST_BOARDS`] are not enough.
    #[must_use]
    pub fn space(&self, error: f64, named: &[f64]) -> Option<Spacing> {
        const LEAST: f64 = 1e-3;
        let error = error.max(LEAST);
        let held = self.held(named);
        let even = self.evenly(error, &held);
        let most = even
            .as_ref()
            .map_or(MOST_BOARDS, |even| even.stations.len() - 1);
        self.where_asked(error, &held, most).or(even)
    }

    /// Boards that part the bays between held ones evenly; one more at a time in the bay where the error is largest.
    fn evenly(&self, error: f64, held: &[f64]) -> Option<Spacing> {
        let mut bays = vec![1_usize; held.len() - 1];
        loop {
            let stations = parted(held, &bays);
            if stations.len() > MOST_BOARDS {
                return None;
            }
            let (off, at) = self.batten_error(&stations);
            if off <= error {
                return Some(Spacing {
                    straightedge_error: self.straightedge_error(&stations),
                    batten_error: off,
                    stations,
                });
            }
            let bay = held[1..held.len() - 1].partition_point(|x| *x < at);
            bays[bay] += 1;
        }
    }

    /// No more than so many boards, put one at a time into the middle of the bay where the error is largest; those that turn
    /// out not to be needed go again.
    fn where_asked(&self, error: f64, held: &[f64], most: usize) -> Option<Spacing> {
        // Some of the first are not needed once there are others.
        let most_tried = (2 * most).min(MOST_BOARDS);
        let mut stations = held.to_vec();
        loop {
            let (off, at) = self.batten_error(&stations);
            if off <= error {
                break;
            }
            let after = stations
                .partition_point(|x| *x < at)
                .clamp(1, stations.len() - 1);
            let middle = f64::midpoint(stations[after - 1], stations[after]);
            let narrow = stations[after] - stations[after - 1] < 2.0 * ONE_BOARD;
            if stations.len() >= most_tried || narrow {
                return None;
            }
            stations.insert(after, middle);
        }
        let mut i = 1;
        while i + 1 < stations.len() {
            let is_held = held.iter().any(|x| num::same(*x, stations[i]));
            let mut without = stations.clone();
            without.remove(i);
            if !is_held && self.batten_error(&without).0 <= error {
                stations = without;
            } else {
                i += 1;
            }
        }
        (stations.len() <= most).then(|| Spacing {
            batten_error: self.batten_error(&stations).0,
            straightedge_error: self.straightedge_error(&stations),
            stations,
        })
    }

    /// How many boards it takes so that no straightedge from one to the next shows more than an error; `None` where
    /// [`MOST_BOARDS`] are not enough.
    ///
    /// # Units
    /// As [`Self::space`].
    ///
    /// # Source
    /// Each as far on as the error allows, which no other choice betters; common practice.
    #[must_use]
    pub fn straightedge_count(&self, error: f64, named: &[f64]) -> Option<usize> {
        let held = self.held(named);
        let mut count = 1;
        for bay in held.windows(2) {
            count += self.stepped(bay[0], bay[1], error)?.len();
        }
        (count <= MOST_BOARDS).then_some(count)
    }

    /// What comes of boards that stand so; none where they do not go from end to end, each aft of the one before it.
    #[must_use]
    pub fn through(&self, stations: &[f64]) -> Option<Spacing> {
        let ends = [stations.first()?, stations.last()?];
        let whole = num::same(*ends[0], self.from) && num::same(*ends[1], self.to);
        let rising = stations.windows(2).all(|pair| pair[0] < pair[1]);
        (whole && rising).then(|| Spacing {
            batten_error: self.batten_error(stations).0,
            straightedge_error: self.straightedge_error(stations),
            stations: stations.to_vec(),
        })
    }

    /// Ends and named distances between them, each once.
    fn held(&self, named: &[f64]) -> Vec<f64> {
        let mut held: Vec<f64> = named
            .iter()
            .copied()
            .filter(|x| *x > self.from + ONE_BOARD && *x < self.to - ONE_BOARD)
            .collect();
        held.sort_by(f64::total_cmp);
        held.insert(0, self.from);
        held.push(self.to);
        held.dedup_by(|b, a| (*b - *a).abs() < ONE_BOARD);
        held
    }

    /// Largest batten error of boards, mm, and where it is.
    fn batten_error(&self, stations: &[f64]) -> (f64, f64) {
        let mut most = (0.0, self.from);
        for (share, line) in self.lines.iter().enumerate() {
            let points = stations.iter().map(|x| line.at(*x)[0]).collect();
            let through = spline(stations.to_vec(), points);
            for (i, x) in self.x.iter().enumerate() {
                let (normals, [y, z], [by, bz]) =
                    (&self.normals[i], self.places[i][share], through.at(*x)[0]);
                let off = (normals[share].y * (by - y) + normals[share].z * (bz - z)).abs();
                if off > most.0 {
                    most = (off, *x);
                }
            }
        }
        most
    }

    /// Largest distance of the skin from straightedges over neighbouring boards, mm.
    fn straightedge_error(&self, stations: &[f64]) -> f64 {
        let bays = stations.windows(2);
        bays.map(|bay| self.over(bay[0], bay[1]))
            .fold(0.0, f64::max)
    }

    /// Largest distance of the skin between two boards from a straightedge over them, mm.
    fn over(&self, from: f64, to: f64) -> f64 {
        const LOOKED_AT: u32 = 16;
        let mut most = 0.0_f64;
        for line in &self.lines {
            let place = |x: f64| {
                let [y, z] = line.at(x)[0];
                DVec3::new(x, y, z)
            };
            let (a, b) = (place(from), place(to));
            let along = (b - a).normalize_or_zero();
            for i in 1..LOOKED_AT {
                let off = place(from + (to - from) * f64::from(i) / f64::from(LOOKED_AT)) - a;
                most = most.max((off - along * off.dot(along)).length());
            }
        }
        most
    }

    /// Boards after the first, each as far on as the error allows; the last at the end.
    fn stepped(&self, from: f64, to: f64, error: f64) -> Option<Vec<f64>> {
        let mut steps = Vec::new();
        let mut at = from;
        while self.over(at, to) > error {
            let (mut near, mut far) = (at, to);
            while far - near > (self.to - self.from) * AT_THE_END {
                let middle = f64::midpoint(near, far);
                if self.over(at, middle) > error {
                    far = middle;
                } else {
                    near = middle;
                }
            }
            if steps.len() >= MOST_BOARDS || num::same(near, at) {
                return None;
            }
            steps.push(near);
            at = near;
        }
        steps.push(to);
        Some(steps)
    }
}

/// As a fair batten through the points runs: nothing holds its ends but what they go on from.
fn spline(x: Vec<f64>, points: Vec<[f64; 2]>) -> Interpolant {
    let free = [EndCondition::NotAKnot; 2];
    Interpolant::through(x, points, free, free)
}

/// Distances that part each bay between held ones evenly.
fn parted(held: &[f64], bays: &[usize]) -> Vec<f64> {
    let mut all = vec![held[0]];
    for (ends, count) in held.windows(2).zip(bays) {
        let steps = 1..=*count;
        all.extend(steps.map(|i| ends[0] + (ends[1] - ends[0]) * i as f64 / *count as f64));
    }
    all
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::demo_truth::{LENGTH, Section};

    const SHARES: u32 = 32;

    /// Half a section of the demo's body in closed form at even shares of its girth, from the joint.
    fn of_the_demo(x: f64, lower: bool) -> Vec<ShellPlace> {
        const FINE: u32 = 800;
        const STEP: f64 = 1e-2;
        let sections = [x - STEP, x, x + STEP].map(|x| (x, Section::at(x)));
        let at = |k: usize, i: u32| {
            let t = f64::from(i) / f64::from(FINE);
            let (x, section) = &sections[k];
            let [y, z] = if lower {
                section.lower(t)
            } else {
                section.upper(1.0 - t)
            };
            DVec3::new(*x, y, z)
        };
        let points: Vec<DVec3> = (0..=FINE).map(|i| at(1, i)).collect();
        let mut lengths = vec![0.0];
        for pair in points.windows(2) {
            lengths.push(lengths[lengths.len() - 1] + (pair[1] - pair[0]).length());
        }
        let place = |share: u32| {
            let want = lengths[lengths.len() - 1] * f64::from(share) / f64::from(SHARES);
            let after = lengths
                .partition_point(|l| *l < want)
                .clamp(1, points.len() - 1);
            let part = (want - lengths[after - 1]) / (lengths[after] - lengths[after - 1]);
            let i = u32::try_from(after).unwrap();
            let (along, across) = (at(2, i) - at(0, i), points[after] - points[after - 1]);
            ShellPlace {
                point: points[after - 1].lerp(points[after], part),
                normal: along.cross(across).normalize(), // its sign does not matter here
            }
        };
        (0..=SHARES).map(place).collect()
    }

    /// Figures of a program apart from this one, on the same closed form: `CubicSpline` of `scipy` (not-a-knot) through 5 to
    /// 10 even stations, square to the skin; boards for a straightedge by stepping as far as the error allows.
    #[test]
    fn boards_of_the_demos_body_are_those_counted_apart() {
        let apart = [
            (
                true,
                [0.880, 0.344, 0.198, 0.132, 0.093, 0.068],
                [22, 16, 12],
                7,
            ),
            (
                false,
                [0.049, 0.031, 0.021, 0.014, 0.010, 0.008],
                [20, 14, 11],
                4,
            ),
        ];
        for (lower, battens, straight, boards) in apart {
            let shell = ShellLines::of(0.0..=LENGTH, |x| of_the_demo(x, lower));
            for (count, error) in (5..).zip(battens) {
                let (off, _) = shell.batten_error(&parted(&[0.0, LENGTH], &[count - 1]));
                assert!((off - error).abs() < 0.01, "{count}: {off} for {error}");
            }
            for (error, count) in [0.25, 0.5, 1.0].into_iter().zip(straight) {
                assert_eq!(shell.straightedge_count(error, &[]), Some(count), "{error}");
            }
            let few = shell.space(0.25, &[]).unwrap();
            assert_eq!(few.stations.len(), boards);
            assert!(few.batten_error <= 0.25);
            // One more at each station named, and none twice.
            let named = [0.0, 1219.2, LENGTH];
            let more = shell.space(0.25, &named).unwrap();
            assert!(more.stations.contains(&1219.2));
            assert!(more.stations.len() <= boards + 1, "{:?}", more.stations);
        }
    }

    /// A drum bent along an arc: what a straightedge shows over a chord is the arc's height, R − √(R² − c²/4).
    #[test]
    fn a_straightedge_over_an_arc_shows_its_height() {
        for (radius, chord, height) in [
            (1000.0, 200.0, 5.012_562_893_38),
            (1000.0, 1000.0, 133.974_596_215_561),
        ] {
            let shell = ShellLines::of(-chord / 2.0..=chord / 2.0, |x| {
                let point = DVec3::new(x, 0.0, f64::sqrt(radius * radius - x * x));
                vec![ShellPlace {
                    point,
                    normal: point / radius,
                }]
            });
            let by = shell.straightedge_error(&[-chord / 2.0, chord / 2.0]);
            assert!((by - height).abs() < 1e-6, "{by} for {height}");
        }
    }

    /// A fair skin through four boards or more runs true on what is a cubic along (de Boor, A Practical Guide to Splines,
    /// ch. IV); and a wish that no number of boards meets is said so.
    #[test]
    fn a_cubic_needs_four_boards() {
        let cubic = |x: f64| 300.0 + 0.1 * x - 2e-4 * x * x + 9e-8 * x * x * x;
        let along = |of: &dyn Fn(f64) -> f64| {
            ShellLines::of(0.0..=3000.0, |x| {
                vec![ShellPlace {
                    point: DVec3::new(x, of(x), 0.0),
                    normal: DVec3::Y,
                }]
            })
        };
        let by = along(&cubic).space(1e-3, &[]).unwrap();
        assert_eq!(by.stations, [0.0, 1000.0, 2000.0, 3000.0]);
        assert!(by.batten_error < 1e-9);
        let kinked = along(&|x| (x - 1234.5).abs());
        assert_eq!(kinked.space(1e-3, &[]), None);
    }
}
