//! Two states of the lines held against each other: how far the skin moved, by line and station.
//!
//! In: two lofts. Out: a [`Comparison`]. What it means for parts that are made is left to a reader.

mod decisions;

use glam::{DMat3, DVec3};

pub use decisions::decisions;

use crate::document::{Body, On, Place, PointId};
use crate::lines::node_at;
use crate::loft::Loft;
use crate::num;
use crate::spline::Surface;

/// Two stations or planes are one where they lie no further apart than this, mm.
const SAME_PLACE: f64 = 0.05;

/// Two diagonals are one where their falls differ by no more than this, rad.
const SAME_ANGLE: f64 = 1e-5;

/// Past its edges the skin is carried on so far, by its slope and bend there, mm: where it leans at an end of the body, or is
/// peaked at the crown, a normal at the very edge runs past it.
const CARRIED_ON: f64 = 10.0;

/// Places looked at in each span of the net, in each direction, for the largest move.
const LOOKED: u32 = 4;

/// How far the skin moved at a place.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Move {
    /// The place before, starboard, mm.
    pub at: DVec3,
    /// Along the outward normal there, mm: positive where the skin is further out now.
    pub by: f64,
    /// That normal.
    pub outward: DVec3,
}

/// How far one line moved.
#[derive(Clone, Debug, PartialEq)]
pub struct LineMoves {
    /// Its name.
    pub name: String,
    /// At each of the comparison's stations; none where the line does not pass it in both states.
    pub moves: Vec<Option<Move>>,
}

/// How far the skin moved.
#[derive(Clone, Debug, PartialEq)]
pub struct Comparison {
    /// Labels of the stations that both states have, from fore to aft.
    pub stations: Vec<String>,
    /// The lines that both states have, from the crown round to the keel.
    pub lines: Vec<LineMoves>,
    /// The largest move anywhere on the skin, either way; none where nothing of it lies on both.
    pub largest: Option<Move>,
    /// Mean size of the moves over the skin, by area, mm.
    pub mean: f64,
    /// Stations and lines of the state before only.
    pub gone: Vec<String>,
    /// Stations and lines of the state after only.
    pub new: Vec<String>,
}

/// Holds two states against each other.
///
/// A line is the same where it has the same place, or the same name if it runs through the stations; a station where its
/// place is the same. A move is the distance from the skin before to the skin after, along the outward normal of the skin
/// before.
///
/// # Units
/// mm.
///
/// # Accuracy
/// A move to 1e-6 mm where the skin after lies before the place, facing the same way (tested on spheres); at a tip, where
/// the skin has no normal, there is none. At the very edge of a skin that leans there, the skin after is carried on past its own
/// edge by slope and bend, which is good to some hundredths of a millimetre. The largest one is looked for at sixteen places of each patch of the net and
/// among the moves of all lines at the stations, so that it may be short by what the skin moves between them.
#[must_use]
pub fn compare(before: &Loft, after: &Loft) -> Comparison {
    let (old, new) = (before.body(), after.body());
    let surfaces = [before.surface(), after.surface()];
    let (mut gone, mut added) = (Vec::new(), Vec::new());
    let mut stations: Vec<(String, f64)> = Vec::new();
    for station in &old.stations {
        let same = |other: &&crate::document::Station| (other.x - station.x).abs() <= SAME_PLACE;
        if new.stations.iter().any(|other| same(&other)) {
            stations.push((station.label.clone(), station.x));
        } else {
            gone.push(old.station_name(station.id));
        }
    }
    for station in &new.stations {
        let same = |x: &f64| (x - station.x).abs() <= SAME_PLACE;
        if !old.stations.iter().any(|other| same(&other.x)) {
            added.push(new.station_name(station.id));
        }
    }
    let mut lines = Vec::new();
    let (before_all, own) = (all_lines(old), all_lines(new));
    for on in before_all.iter().copied() {
        let name = old.line_name(on).unwrap_or_default();
        if !own.iter().any(|other| same_line((old, on), (new, *other))) {
            gone.push(name);
            continue;
        }
        let moves = stations.iter().map(|(_, x)| {
            let node = node_at(before, on, *x)?;
            moved(surfaces, (node.u, node.v))
        });
        lines.push(LineMoves {
            name,
            moves: moves.collect(),
        });
    }
    for on in own {
        let there = |other: &On| same_line((old, *other), (new, on));
        if !before_all.iter().any(there) {
            added.push(new.line_name(on).unwrap_or_default());
        }
    }
    let (mut largest, mean) = over_all(surfaces);
    // What the table tells is on the skin too: the largest move is no smaller than any of it.
    let told = lines.iter().flat_map(|line| line.moves.iter().flatten());
    for found in told {
        if largest.is_none_or(|largest| found.by.abs() > largest.by.abs()) {
            largest = Some(*found);
        }
    }
    Comparison {
        stations: stations.into_iter().map(|(label, _)| label).collect(),
        lines,
        largest,
        mean,
        gone,
        new: added,
    }
}

/// How far the skin moved at a point of the former loft, along the normal there, mm: positive where it is further out now; none
/// where it does not come to it.
///
/// # Accuracy
/// As [`compare`].
#[must_use]
pub fn moved_at(before: &Loft, after: &Loft, point: PointId) -> Option<f64> {
    let at = before.points().iter().find(|at| at.point == point)?;
    let found = moved([before.surface(), after.surface()], (at.u, at.v))?;
    Some(found.by)
}

/// How far the skin moved where points lay whose readings count in the state before only.
///
/// # Units
/// mm.
#[must_use]
pub fn moved_where_read(before: &Loft, after: &Loft) -> Vec<(PointId, Move)> {
    let gone = before.points().iter().filter(|point| {
        let mut left = after.points().iter();
        !left.any(|other| other.point == point.point)
    });
    let surfaces = [before.surface(), after.surface()];
    gone.filter_map(|point| Some((point.point, moved(surfaces, (point.u, point.v))?)))
        .collect()
}

/// How far the skin moved at the points of the state before: the root of the mean square.
///
/// # Units
/// mm.
///
/// # Accuracy
/// As [`compare`].
#[must_use]
pub fn moved_at_points(before: &Loft, after: &Loft) -> f64 {
    let surfaces = [before.surface(), after.surface()];
    let points = before.points().iter();
    let moves = points.filter_map(|point| Some(moved(surfaces, (point.u, point.v))?.by));
    let (squares, count) = moves.fold((0.0, 0.0_f64), |(squares, count), by| {
        (squares + by * by, count + 1.0)
    });
    (squares / count.max(1.0)).sqrt()
}

/// How far the skin moved: at most, and on average.
///
/// # Units
/// mm.
///
/// # Accuracy
/// As [`compare`], which says the same.
#[must_use]
pub fn moved_over_all(before: &Loft, after: &Loft) -> [f64; 2] {
    let (largest, mean) = over_all([before.surface(), after.surface()]);
    [largest.map_or(0.0, |largest| largest.by.abs()), mean]
}

/// The lines of a document, from the crown round to the keel.
fn all_lines(body: &Body) -> Vec<On> {
    let planes = body.planes_by_level();
    let (buttocks, others): (Vec<_>, Vec<_>) = planes
        .into_iter()
        .map(|plane| (On::Plane(plane.id), plane.place))
        .partition(|(_, place)| matches!(place, Place::Buttock(_)));
    let mut all = vec![On::Crown];
    all.extend(others.into_iter().map(|(on, _)| on));
    all.extend(body.run_lines.iter().map(|line| On::RunLine(line.id)));
    all.extend(buttocks.into_iter().map(|(on, _)| on));
    all.push(On::Keel);
    all
}

fn same_line((old, a): (&Body, On), (new, b): (&Body, On)) -> bool {
    match (a, b) {
        (On::Crown, On::Crown) | (On::Keel, On::Keel) => true,
        (On::RunLine(_), On::RunLine(_)) => old.line_name(a) == new.line_name(b),
        (On::Plane(_), On::Plane(_)) => {
            let (Some(a), Some(b)) = (old.place_of(a), new.place_of(b)) else {
                return false;
            };
            match (a, b) {
                (Place::Waterline(a), Place::Waterline(b))
                | (Place::Buttock(a), Place::Buttock(b)) => (a - b).abs() <= SAME_PLACE,
                (
                    Place::Diagonal {
                        height: a,
                        angle: fall_a,
                    },
                    Place::Diagonal {
                        height: b,
                        angle: fall_b,
                    },
                ) => (a - b).abs() <= SAME_PLACE && (fall_a - fall_b).abs() <= SAME_ANGLE,
                _ => false,
            }
        }
        _ => false,
    }
}

/// How far the skin moved at a place of the one before; none where the one after does not lie before it.
#[inline(never)] // it is long, and called from four places
fn moved([before, after]: [&Surface; 2], (u, v): (f64, f64)) -> Option<Move> {
    let jet = before.jet(u, v);
    let normal = jet.normal();
    if !normal.is_finite() {
        return None;
    }
    let by = along_normal(after, jet.s, normal, v)?;
    Some(Move {
        at: jet.s,
        by,
        outward: normal,
    })
}

/// Distance from a place to a surface along a direction, by Newton's rule on `S(u, v) − s n = p`.
fn along_normal(surface: &Surface, place: DVec3, normal: DVec3, v: f64) -> Option<f64> {
    const STEPS: u32 = 40;
    let (ends, round) = (surface.u_knots().domain(), surface.v_knots().domain());
    let (mut u, mut v, mut s) = (surface.u_at(place.x), v, 0.0);
    for _ in 0..STEPS {
        // Just past an edge the skin runs on as it does there.
        let (held_u, held_v) = (u.clamp(ends.0, ends.1), v.clamp(round.0, round.1));
        let jet = surface.jet(held_u, held_v);
        let past = [u - held_u, v - held_v];
        let along = jet.u + jet.uu * past[0] + jet.uv * past[1];
        let across = jet.v + jet.vv * past[1] + jet.uv * past[0];
        let here = jet.s + (jet.u + along) * (past[0] / 2.0) + (jet.v + across) * (past[1] / 2.0);
        let off = here - normal * s - place;
        if off.length() < num::SAME_POINT {
            let near = (here - jet.s).length() <= CARRIED_ON;
            return (near && jet.normal().dot(normal) > 0.0).then_some(s);
        }
        let rates = DMat3::from_cols(along, across, -normal);
        let step = rates.inverse() * off;
        if !step.is_finite() {
            return None;
        }
        u -= step.x;
        v -= step.y;
        s -= step.z;
    }
    None
}

/// The largest move over the skin, and the mean of their sizes.
fn over_all(surfaces: [&Surface; 2]) -> (Option<Move>, f64) {
    // Places with the length that each stands for.
    let places = |knots: &crate::spline::Knots| -> Vec<(f64, f64)> {
        let spans = (0..knots.span_count()).map(|span| knots.span(span));
        let within = |(a, b): (f64, f64)| {
            let step = (b - a) / f64::from(LOOKED);
            (0..LOOKED).map(move |i| (a + step * f64::from(i), step))
        };
        let last = (knots.domain().1, 0.0);
        spans.flat_map(within).chain([last]).collect()
    };
    let (mut largest, mut sum, mut whole) = (None::<Move>, 0.0, 0.0_f64);
    for (u, along) in places(surfaces[0].u_knots()) {
        for (v, round) in places(surfaces[0].v_knots()) {
            let Some(found) = moved(surfaces, (u, v)) else {
                continue;
            };
            let jet = surfaces[0].jet(u, v);
            let area = jet.u.cross(jet.v).length() * along * round;
            sum += area * found.by.abs();
            whole += area;
            if largest.is_none_or(|largest| found.by.abs() > largest.by.abs()) {
                largest = Some(found);
            }
        }
    }
    (largest, if whole > 0.0 { sum / whole } else { 0.0 })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::document::{BodyEdit, Moved, PointId};
    use crate::lines::tests::interpolate;
    use crate::spline::Knots;

    /// A ball of this radius round (0, 0, 0), as far as x = ± 200.
    fn ball(radius: f64) -> Surface {
        ball_to(radius, 200.0)
    }

    fn ball_to(radius: f64, end: f64) -> Surface {
        let breaks = |from: f64, to: f64, count: u32| {
            let at = |i: u32| from + (to - from) * f64::from(i) / f64::from(count);
            Knots::clamped(&(0..=count).map(at).collect::<Vec<_>>()).unwrap()
        };
        interpolate(breaks(-end, end, 40), breaks(0.0, 1.0, 60), &|x, v| {
            let r = (radius * radius - x * x).sqrt();
            let a = core::f64::consts::PI * v;
            [r * num::sin(a), r * num::cos(a)]
        })
    }

    #[test]
    fn two_balls_lie_apart_by_the_difference_of_their_radii() {
        // Normals of a sphere meet in its middle: closed form.
        let (small, large) = (ball(500.0), ball(503.0));
        for (u, v) in [(0.0, 0.5), (-150.0, 0.21), (120.0, 0.9), (33.0, 0.02)] {
            let found = moved([&small, &large], (u, v)).unwrap();
            assert!((found.by - 3.0).abs() < 1e-5, "{found:?}");
            let back = moved([&large, &small], (u, v)).unwrap();
            assert!((back.by + 3.0).abs() < 1e-5, "{back:?}");
        }
        let (largest, mean) = over_all([&small, &large]);
        assert!((largest.unwrap().by - 3.0).abs() < 1e-4 && (mean - 3.0).abs() < 1e-4);
        // At its very end a ball leans, so that its normal runs past the end of the other: carried on, that is as far off.
        for v in [0.02, 0.3, 0.97] {
            let found = moved([&small, &large], (200.0, v)).unwrap();
            assert!((found.by - 3.0).abs() < 1e-3, "{found:?}");
            assert!(moved([&large, &small], (200.0, v)).unwrap().by < 0.0);
        }
        // Far beyond the end of the one after there is nothing to be held against.
        let short = ball_to(503.0, 160.0);
        assert_eq!(moved([&small, &short], (200.0, 0.3)), None);
        assert!(moved([&small, &short], (100.0, 0.3)).is_some());
    }

    /// No figure of the table is larger than the largest of all.
    #[track_caller]
    fn agree(found: &Comparison) {
        let largest = found.largest.unwrap().by.abs();
        for line in &found.lines {
            for by in line.moves.iter().flatten().map(|found| found.by.abs()) {
                assert!(by <= largest, "{}: {by} of {largest}", line.name);
            }
        }
    }

    /// A move that is largest at a line and station falls between the places that are looked at on the skin.
    #[test]
    fn the_largest_move_is_no_smaller_than_any_in_the_table() {
        let path = format!(
            "{}/../tests/data/demo_offsets.csv",
            env!("CARGO_MANIFEST_DIR")
        );
        let text = std::fs::read(path).unwrap();
        let options = crate::document::TableOptions::default();
        let old = crate::document::read_table(&text, &options)
            .unwrap()
            .lines();
        let before = Loft::build(&old.body).unwrap();
        let mut short = 0;
        for point in old
            .body
            .points
            .iter()
            .filter(|p| matches!(p.on, On::Plane(_)))
            .step_by(9)
        {
            let read = point.merged();
            let edit = BodyEdit::Move(Moved {
                point: point.id,
                half_breadth: read.half_breadth.map(|y| y + 8.0),
                height: read.height.map(|z| z + 8.0),
            });
            let Ok(new) = old.apply(&edit) else { continue };
            let after = before.again(&new.body).unwrap();
            agree(&compare(&before, &after));
            let on_the_skin = over_all([before.surface(), after.surface()]).0.unwrap();
            let found = compare(&before, &after).largest.unwrap();
            short += usize::from(found.by.abs() > on_the_skin.by.abs());
        }
        assert!(short > 0, "the skin alone told the largest of every move");
    }

    #[test]
    fn a_moved_point_is_named_by_line_and_station() {
        let path = format!(
            "{}/../tests/data/demo_offsets.csv",
            env!("CARGO_MANIFEST_DIR")
        );
        let text = std::fs::read(path).unwrap();
        let options = crate::document::TableOptions::default();
        let old = crate::document::read_table(&text, &options)
            .unwrap()
            .lines();
        let station = old.body.station_by_label("101").unwrap().id;
        let keel = old.body.point_on(station, On::Keel).unwrap();
        let (id, was): (PointId, f64) = (keel.id, keel.merged().height.unwrap());
        let lower = BodyEdit::Move(Moved {
            point: id,
            half_breadth: None,
            height: Some(was - 6.0),
        });
        let new = old.apply(&lower).unwrap();
        let new = new
            .apply(BodyEdit::AddStation {
                label: "106".to_owned(),
                x: 106.0 * 25.4,
            })
            .unwrap();
        let lofts = [
            Loft::build(&old.body).unwrap(),
            Loft::build(&new.body).unwrap(),
        ];
        let found = compare(&lofts[0], &lofts[1]);
        assert_eq!(
            (found.new.as_slice(), found.gone.len()),
            (&["STA 106".to_owned()][..], 0)
        );
        let keel = found.lines.last().unwrap();
        let at = |label: &str| {
            let column = found.stations.iter().position(|s| s == label).unwrap();
            keel.moves[column].unwrap().by
        };
        // Lower at the keel is outward; the batten takes what the neighbours leave of it.
        assert!(at("101") > 1.0 && at("101") < 6.0, "{}", at("101"));
        assert!(at("0").abs() < 0.05, "{}", at("0"));
        // The keel's upsweep leans at the last station, and the crown is peaked: they have their figures all the same.
        assert!(at("158").abs() < 1.0, "{}", at("158"));
        for line in [found.lines.first().unwrap(), keel] {
            assert!(line.moves.iter().all(Option::is_some), "{}", line.name);
        }
        // With its reading set aside, the skin's move is told where it was read.
        let aside = BodyEdit::SetAside {
            point: id,
            reading: 0,
            reason: "torn".to_owned(),
        };
        let without = Loft::build(&old.apply(&aside).unwrap().body).unwrap();
        let told = moved_where_read(&lofts[0], &without);
        let [(point, by)] = told[..] else {
            panic!("{told:?}");
        };
        assert_eq!(point, id);
        assert!(by.by.abs() > 0.1 && by.outward.z < -0.5, "{by:?}");
        let largest = found.largest.unwrap();
        assert!(largest.by >= at("101") - 0.2 && (largest.at.x - 2565.4).abs() < 200.0);
        assert!(found.mean < 0.5, "{}", found.mean);
        agree(&found);
        // The same held against itself has not moved.
        let same = compare(&lofts[0], &lofts[0]);
        assert!(same.largest.unwrap().by.abs() < 1e-9 && same.new.is_empty());
    }
}
