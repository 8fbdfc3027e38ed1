//! What the points of a table say of the centre plane: which of them are crown and keel where none is named, and how the
//! sections cross there.
//!
//! In: the body as its table names it. Out: its points on crown and keel, its crossings, and what was taken for granted.

use std::collections::BTreeMap;

use super::Finding;
use super::cell::ON_PLANE;
use crate::document::{Body, Crossing, Offset, On, Peak, Point, PointId, Side};
use crate::num;

/// Above this share of the first chord's slope, the slope at the centre is that of a peak.
///
/// A section that is round or flat at the centre gives 0 or less, since it falls ever faster outward; an ogive's point
/// gives more the straighter its sides are: 0.3 to 0.9 on the demo's crown.
const PEAKED: f64 = 0.25;

/// A side is bound by its outermost points where they lie on the centre plane at so many of five stations.
const NEARLY_ALL: usize = 4;

/// Takes the topmost points as the crown and the lowest as the keel, where no line of the table bounds the girth on that side
/// and these points, on no line, lie at half-breadth 0 at four of five stations or more.
///
/// A body of bare points, read round each section from centreline to centreline, is bounded by this alone. Its sections may be
/// listed either way round; one listed neither way is put in order by angle about its middle, as named points are.
pub(super) fn bound_by_the_outermost(body: &mut Body, findings: &mut Vec<Finding>) {
    let sections: Vec<Vec<Offset>> = body.offsets();
    let shown: Vec<usize> = (0..sections.len())
        .filter(|station| !sections[*station].is_empty())
        .collect();
    let mut taken = [Vec::new(), Vec::new()];
    for (side, taken) in [Side::Crown, Side::Keel].into_iter().zip(&mut taken) {
        if is_bound(body, side, &sections) {
            continue;
        }
        let ends: Vec<(usize, PointId)> = shown
            .iter()
            .filter_map(|&station| Some((station, outermost(&sections[station], side)?)))
            .collect();
        if ends.len() >= 2 && 5 * ends.len() >= NEARLY_ALL * shown.len() {
            *taken = ends;
        }
    }
    if taken.iter().all(Vec::is_empty) {
        return;
    }
    let stations = [0, 1].map(|n: usize| taken[n].len());
    let lacks = |station: &&usize| {
        let has = |ends: &Vec<(usize, PointId)>| {
            // They stand in the order of the stations.
            ends.is_empty() || ends.binary_search_by_key(*station, |(at, _)| *at).is_ok()
        };
        !taken.iter().all(has)
    };
    let without = shown.iter().filter(lacks);
    findings.push(Finding::Outermost {
        crown: stations[0],
        keel: stations[1],
        without: without
            .filter_map(|station| body.stations.get(*station))
            .map(|station| station.label.clone())
            .collect(),
    });
    let places: BTreeMap<PointId, usize> = { body.points.iter().zip(0..) }
        .map(|(point, n)| (point.id, n))
        .collect();
    let place = |id: PointId| places.get(&id).copied();
    for (side, ends) in [On::Crown, On::Keel].into_iter().zip(&taken) {
        for (_, id) in ends {
            // A tip, of one point alone, is on the crown already.
            let point = place(*id).and_then(|n| body.points.get_mut(n));
            if let Some(point) = point.filter(|point| point.on == On::Free) {
                point.on = side;
                for reading in &mut point.readings {
                    reading.half_breadth = None;
                }
            }
        }
    }
    for station in shown {
        list_from_the_crown(&mut body.points, &sections[station], &place);
    }
}

/// Whether a named line can bound the girth on this side.
fn is_bound(body: &Body, side: Side, sections: &[Vec<Offset>]) -> bool {
    let centre = match side {
        Side::Crown => On::Crown,
        Side::Keel => On::Keel,
    };
    // A run line at the end of every section is an open girth's edge.
    let end = |section: &Vec<Offset>| match side {
        Side::Crown => section.first().map(|offset| offset.on),
        Side::Keel => section.last().map(|offset| offset.on),
    };
    let edge = |id| {
        let mut ends = sections.iter().filter_map(end);
        ends.all(|on| on == On::RunLine(id))
    };
    body.points.iter().any(|point| point.on == centre)
        || body.run_lines.iter().any(|run_line| edge(run_line.id))
}

/// The point of a section that lies furthest up or down, where that is on no line and on the centre plane.
fn outermost(section: &[Offset], side: Side) -> Option<PointId> {
    let up = |offset: &Offset| match side {
        Side::Crown => offset.recorded[1],
        Side::Keel => -offset.recorded[1],
    };
    // Of several as high, the one nearest to the centre plane: a flat deck has its crown in its middle.
    let end = section.iter().max_by(|a, b| {
        let further = up(a).total_cmp(&up(b));
        further.then(b.recorded[0].total_cmp(&a.recorded[0]))
    })?;
    (end.on == On::Free && end.recorded[0].abs() <= ON_PLANE).then_some(end.point)
}

/// Puts a section's points in the list from crown to keel, where some of them lie on no line. `place` says where a point
/// stands in the list.
///
/// # Accuracy
/// Each point is asked for its place no more than three times, whatever else there is: a station may have 20,000.
fn list_from_the_crown(
    points: &mut [Point],
    section: &[Offset],
    place: &dyn Fn(PointId) -> Option<usize>,
) {
    let on = |offset: &Offset| {
        let point = place(offset.point).and_then(|n| points.get(n));
        point.map_or(offset.on, |point| point.on)
    };
    let at = |line: On| section.iter().position(|offset| on(offset) == line);
    let last = section.len().saturating_sub(1);
    let (crown, keel) = (at(On::Crown), at(On::Keel));
    let from_crown = crown.is_none_or(|n| n == 0) && keel.is_none_or(|n| n == last);
    if from_crown || section.iter().any(|offset| offset.on != On::Free) {
        return;
    }
    let from_keel = crown.is_none_or(|n| n == last) && keel.is_none_or(|n| n == 0);
    let mut order: Vec<Offset> = section.to_vec();
    if from_keel {
        order.reverse();
    } else {
        let heights = || section.iter().map(|offset| offset.recorded[1]);
        let low = heights().fold(f64::INFINITY, f64::min);
        let middle = f64::midpoint(low, heights().fold(f64::NEG_INFINITY, f64::max));
        let angle = |o: &Offset| num::atan2(o.recorded[0], o.recorded[1] - middle);
        num::put_in_order(&mut order, |a, b| angle(a).total_cmp(&angle(b)));
    }
    let from: Vec<usize> = order.iter().filter_map(|o| place(o.point)).collect();
    let turned: Vec<Point> = from
        .iter()
        .filter_map(|n| points.get(*n).cloned())
        .collect();
    let mut to = from;
    to.sort_unstable();
    for (n, point) in to.into_iter().zip(turned) {
        points[n] = point;
    }
}

/// Guesses whether the sections are peaked at the centre plane.
///
/// At each station `z = z₀ − s y − c y²` goes through the point on the centreline and the next two; `s` over the slope
/// of the first chord is 0 where the section is level there and 1 where it is straight. Over a
/// quarter in the median: peaked.
pub(super) fn guess_crossing(body: &mut Body, side: Side, findings: &mut Vec<Finding>) {
    let mut ratios: Vec<f64> = body
        .offsets()
        .into_iter()
        .filter_map(|mut section| {
            let centre = match side {
                Side::Crown => On::Crown,
                Side::Keel => {
                    section.reverse();
                    On::Keel
                }
            };
            let [first, second, third] = section.get(..3)? else {
                return None;
            };
            let ([_, z0], [y1, z1], [y2, z2]) = (first.recorded, second.recorded, third.recorded);
            if first.on != centre || y1 <= num::FIT || y2 <= y1 + num::FIT {
                return None;
            }
            let (near, far) = ((z0 - z1) / y1, (z0 - z2) / y2);
            let curve = (far - near) / (y2 - y1);
            // A chord that is level within rounding says nothing.
            let falls = if side == Side::Crown { near } else { -near };
            (falls * y1 > num::FIT).then(|| (near - curve * y1) / near)
        })
        .collect();
    ratios.sort_by(f64::total_cmp);
    let (Some(low), Some(high)) = (
        ratios
            .len()
            .checked_sub(1)
            .and_then(|last| ratios.get(last / 2)),
        ratios.get(ratios.len() / 2),
    ) else {
        return;
    };
    let ratio = f64::midpoint(*low, *high);
    let form = if ratio > PEAKED {
        Peak::Peaked
    } else {
        Peak::Smooth
    };
    findings.push(Finding::Crossing { side, form, ratio });
    if form == Peak::Peaked {
        let runs = vec![Crossing { to: None, form }];
        match side {
            Side::Crown => body.centreline.crown = runs,
            Side::Keel => body.centreline.keel = runs,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::{Preview, TableOptions, read_table};
    use super::*;
    use crate::document::{Fixes, StationId};
    use crate::loft::{Loft, LoftError};
    use crate::units::{LengthUnit, Message};

    fn taken(rows: impl IntoIterator<Item = String>) -> Preview {
        let head = "station,x,line,half_breadth_mm,height_mm".to_owned();
        let table: Vec<String> = core::iter::once(head).chain(rows).collect();
        read_table(table.join("\n").as_bytes(), &TableOptions::default()).unwrap()
    }

    /// Nine points round half of each of seven sections of a spheroid 2000 long and 300 high, from crown to keel.
    fn spheroid() -> Vec<Vec<[f64; 2]>> {
        let section = |station: u32| {
            let along = (f64::from(station) - 3.0) / 4.0;
            let radius = 150.0 * (1.0 - along * along).sqrt();
            let point = |n: u32| {
                let angle = core::f64::consts::PI * f64::from(n) / 8.0;
                [radius * num::sin(angle), 400.0 + radius * num::cos(angle)]
            };
            (0..9).map(point).collect()
        };
        (0..7).map(section).collect()
    }

    /// Rows of points on no line, those of each section in the order that `listed` has of them.
    fn rows(sections: &[Vec<[f64; 2]>], listed: &[usize]) -> Vec<String> {
        let row = |(station, section): (usize, &Vec<[f64; 2]>)| {
            let row = |n: &usize| {
                let [y, z] = section[*n];
                format!("{station},{}.0,,{y:.2},{z:.2}", 250 * station)
            };
            listed.iter().map(row).collect::<Vec<_>>()
        };
        sections.iter().enumerate().flat_map(row).collect()
    }

    fn outermost_of(preview: &Preview) -> Option<&Finding> {
        let of_it = |f: &&Finding| matches!(f, Finding::Outermost { .. });
        preview.findings.iter().find(of_it)
    }

    #[test]
    fn bare_points_are_bounded_by_the_outermost_whichever_way_they_are_listed() {
        let sections = spheroid();
        let mut lofts = Vec::new();
        for listed in [
            [0, 1, 2, 3, 4, 5, 6, 7, 8],
            [8, 7, 6, 5, 4, 3, 2, 1, 0],
            [4, 0, 7, 2, 8, 1, 6, 3, 5],
        ] {
            let preview = taken(rows(&sections, &listed));
            let finding = Finding::Outermost {
                crown: 7,
                keel: 7,
                without: Vec::new(),
            };
            assert_eq!(outermost_of(&preview), Some(&finding));
            let lines = preview.lines();
            let offsets = lines.body.offsets();
            for (section, read) in sections.iter().zip(&offsets) {
                assert_eq!(section.len(), read.len());
                for ([y, z], offset) in section.iter().zip(read) {
                    let [of_y, of_z] = offset.recorded;
                    assert!(
                        (y - of_y).abs() < 0.01 && (z - of_z).abs() < 0.01,
                        "{listed:?}"
                    );
                }
            }
            lofts.push(Loft::build(&lines.body).unwrap());
        }
        let radius = |loft: &Loft| {
            let jet = loft.surface().jet(loft.u_at(875.0), 0.5);
            num::hypot(jet.s.y, jet.s.z - 400.0)
        };
        // Between stations, where the body's own radius is 150 √(1 − 1/64) = 148.82.
        for loft in &lofts {
            assert!((radius(loft) - radius(&lofts[0])).abs() < 1e-9);
            assert!((radius(loft) - 148.82).abs() < 0.05, "{}", radius(loft));
        }
        let says = outermost_of(&taken(rows(&sections, &[0, 1, 2, 3, 4, 5, 6, 7, 8])))
            .unwrap()
            .message(LengthUnit::Millimetres);
        assert_eq!(
            says,
            "No line of the table is called crown or keel: the topmost and the lowest point at half-breadth 0 are taken as \
             crown and keel at 7 stations."
        );
    }

    /// Of twenty times as many points, twenty times as many places are asked for, whichever way they are listed.
    #[test]
    fn a_section_is_listed_in_as_many_steps_as_it_has_points() {
        for count in [1_000, 20_000_u32] {
            let angle = |n: u32| core::f64::consts::PI * f64::from(n) / f64::from(count - 1);
            // From the keel up, and every other one first.
            let back = (0..count).rev().collect::<Vec<_>>();
            let odd = (0..count).filter(|n| n % 2 == 1);
            let mixed = odd.chain((0..count).filter(|n| n % 2 == 0)).collect();
            for listed in [back, mixed] {
                let offset = |n: &u32| {
                    let at = [100.0 * num::sin(angle(*n)), 100.0 * num::cos(angle(*n))];
                    Offset {
                        point: PointId(*n),
                        on: On::Free,
                        fixes: Fixes::Both,
                        recorded: at,
                        accepted: at,
                        tolerance: 1.0,
                        duck: false,
                        depth: [0.0; 2],
                        moved: [false; 2],
                    }
                };
                let section: Vec<Offset> = listed.iter().map(offset).collect();
                let point = |n: &u32| {
                    let on = match *n {
                        0 => On::Crown,
                        n if n == count - 1 => On::Keel,
                        _ => On::Free,
                    };
                    Point::new(PointId(*n), StationId(0), on, Vec::new())
                };
                let mut points: Vec<Point> = listed.iter().map(point).collect();
                let places: BTreeMap<PointId, usize> =
                    { points.iter().zip(0..) }.map(|(p, n)| (p.id, n)).collect();
                let asked = core::cell::Cell::new(0);
                list_from_the_crown(&mut points, &section, &|id| {
                    asked.set(asked.get() + 1);
                    places.get(&id).copied()
                });
                assert!(asked.get() <= 3 * count, "{} of {count}", asked.get());
                let ids: Vec<u32> = points.iter().map(|point| point.id.0).collect();
                assert_eq!(ids, (0..count).collect::<Vec<_>>());
            }
        }
    }

    #[test]
    fn a_tip_and_a_deck_are_bounded_too() {
        // A tip of one point, and decks flat to either side of their middle.
        let deck = |half: f64| {
            vec![
                [0.0, 500.0],
                [half / 2.0, 500.0],
                [half, 400.0],
                [0.0, 300.0],
            ]
        };
        let sections = [vec![[0.0, 450.0]], deck(80.0), deck(120.0), deck(100.0)];
        let rows = sections
            .iter()
            .zip([&[0][..], &[0, 1, 2, 3], &[0, 1, 2, 3], &[3, 2, 1, 0]]);
        let rows = rows.zip(0..).flat_map(|((section, listed), station)| {
            let row = move |n: &usize| {
                format!(
                    "{station},{},,{},{}",
                    300 * station,
                    section[*n][0],
                    section[*n][1]
                )
            };
            listed.iter().map(row).collect::<Vec<_>>()
        });
        let preview = taken(rows);
        let finding = Finding::Outermost {
            crown: 4,
            keel: 4,
            without: Vec::new(),
        };
        assert_eq!(outermost_of(&preview), Some(&finding));
        let lines = preview.lines();
        let offsets = lines.body.offsets();
        assert_eq!(lines.body.tip_stations(&offsets), [Some(0), None]);
        for section in &offsets[1..] {
            let on: Vec<On> = section.iter().map(|offset| offset.on).collect();
            assert_eq!(on, [On::Crown, On::Free, On::Free, On::Keel]);
            assert!((section[0].recorded[1] - 500.0).abs() < 1e-9);
        }
        Loft::build(&lines.body).unwrap();
    }

    /// At one station of seven both points at half-breadth 0 lie at the top: its keel is not there, and the rest is bounded.
    #[test]
    fn a_station_that_does_not_end_on_the_centre_plane_is_named() {
        let mut sections = spheroid();
        sections[4][8] = [0.0, sections[4][0][1] - 1.0];
        let preview = taken(rows(&sections, &[0, 1, 2, 3, 4, 5, 6, 7, 8]));
        let finding = outermost_of(&preview).unwrap();
        let expected = Finding::Outermost {
            crown: 7,
            keel: 6,
            without: vec!["4".to_owned()],
        };
        assert_eq!(*finding, expected);
        let says = finding.message(LengthUnit::Millimetres);
        assert!(
            says.contains("as the crown at 7 stations, and the lowest as the keel at 6"),
            "{says}"
        );
        assert!(says.contains("Not at STA 4,"), "{says}");
    }

    /// Nothing is taken where no side ends on the centre plane, nor where a crown is named: then what to do is said.
    #[test]
    fn an_open_body_stays_open_and_is_told_what_to_write() {
        let open: Vec<Vec<[f64; 2]>> = spheroid()
            .into_iter()
            .map(|section| section.into_iter().map(|[y, z]| [y + 3.0, z]).collect())
            .collect();
        let preview = taken(rows(&open, &[0, 1, 2, 3, 4, 5, 6, 7, 8]));
        assert_eq!(outermost_of(&preview), None);
        let error = Loft::build(&preview.lines().body).unwrap_err();
        assert_eq!(error, LoftError::NoEdge { side: Side::Crown });
        let says = error.message(LengthUnit::Millimetres);
        assert!(
            says.contains("write crown in the column line beside each station's topmost point"),
            "{says}"
        );
        let named = rows(&spheroid(), &[0, 1, 2, 3, 4, 5, 6, 7, 8])
            .chunks(9)
            .flat_map(|section| {
                let mut section = section.to_vec();
                section[0] = section[0].replace(".0,,0.00,", ".0,crown,,");
                section
            })
            .collect::<Vec<_>>();
        let preview = taken(named);
        let keel_only = Finding::Outermost {
            crown: 0,
            keel: 7,
            without: Vec::new(),
        };
        assert_eq!(outermost_of(&preview), Some(&keel_only));
        Loft::build(&preview.lines().body).unwrap();
    }
}
