//! The planes that the lines plan shows: those of the document, and the drawing's own.
//!
//! Where a document names no waterline or no buttock line, as one of points that lie on no line, the plan could not be read:
//! lines at even places are drawn then. They belong to the drawing, no reading lies on them, and nothing of them is saved.

use super::scales::steps;
use crate::document::{Body, Lines, Offset, Place, Plane, PlaneId};
use crate::units::{LengthUnit, fixed};

/// Most waterlines, and most buttock lines, that the drawing has of its own.
const MOST: [u32; 2] = [8, 4];

/// Where the body ends a line of the drawing's own is left out, of the distance between two.
const EDGE: f64 = 0.2;

/// An inch, mm.
const INCH: f64 = 25.4;

/// The planes that are shown: those of the document, then the drawing's own of a family that it names none of.
///
/// # Units
/// mm; a plane of the drawing's own is named by its place in the document's unit, feet-inches-eighths by inches.
///
/// # Source
/// Round places at most eight waterlines and four buttock lines apart: common practice of drawing.
#[must_use]
pub fn shown_planes(lines: &Lines, offsets: &[Vec<Offset>]) -> Vec<Plane> {
    let (body, unit) = (&lines.body, lines.about.unit);
    let read = || offsets.iter().flatten().map(|offset| offset.recorded);
    let heights = read().fold([f64::INFINITY, f64::NEG_INFINITY], |[low, high], [_, z]| {
        [low.min(z), high.max(z)]
    });
    let breadth = read().fold(0.0_f64, |most, [y, _]| most.max(y));
    let mut all = body.planes.clone();
    let waterlines = even(heights, MOST[0], unit).into_iter();
    let buttocks = even([0.0, breadth], MOST[1], unit).into_iter();
    let places = [
        ("WL", waterlines.map(Place::Waterline).collect::<Vec<_>>()),
        ("BL", buttocks.map(Place::Buttock).collect()),
    ];
    for (family, (name, places)) in (0..).zip(places) {
        let alike = |place: &Place, plane: &Plane| {
            core::mem::discriminant(place) == core::mem::discriminant(&plane.place)
        };
        let named = |place: &Place| body.planes.iter().any(|plane| alike(place, plane));
        if places.first().is_some_and(named) {
            continue;
        }
        let own = places.into_iter().zip(own_ids(body, family));
        all.extend(own.map(|(place, id)| Plane {
            id,
            name: format!("{name} {}", figure(place.level(), unit)),
            place,
        }));
    }
    all
}

/// Whether a plane is one of the drawing's own.
#[must_use]
pub fn is_own(body: &Body, plane: PlaneId) -> bool {
    body.plane(plane).is_none()
}

/// The even places within a span, mm.
fn even([from, to]: [f64; 2], most: u32, unit: LengthUnit) -> Vec<f64> {
    if !(to - from).is_finite() || to <= from {
        return Vec::new();
    }
    let ends = |step: f64| ((from / step + EDGE).ceil(), (to / step - EDGE).floor());
    let few = |step: &f64| {
        let (first, last) = ends(*step);
        last - first < f64::from(most)
    };
    let Some(step) = round_lengths(unit).find(few) else {
        return Vec::new();
    };
    let (first, last) = ends(step);
    let numbers = (0..most).map(|k| first + f64::from(k));
    let within = numbers.take_while(|number| *number <= last);
    within.map(|number| number * step).collect()
}

/// Round lengths of a unit, the smallest first, mm.
fn round_lengths(unit: LengthUnit) -> Box<dyn Iterator<Item = f64>> {
    match unit {
        LengthUnit::Millimetres => Box::new(steps(&[1.0, 2.0, 5.0])),
        LengthUnit::Inches | LengthUnit::FeetInchesEighths => {
            let parts = [0.125, 0.25, 0.5].into_iter();
            let inches = [1.0, 2.0, 3.0, 4.0, 6.0, 8.0].into_iter();
            let feet = steps(&[1.0, 2.0, 5.0]).filter(|step| *step >= 1.0);
            let all = parts.chain(inches).chain(feet.map(|feet| 12.0 * feet));
            Box::new(all.map(|inches| INCH * inches))
        }
    }
}

/// A level as its name says it, without needless zeros.
fn figure(level: f64, unit: LengthUnit) -> String {
    let text = match unit {
        LengthUnit::Millimetres => fixed(level, 3),
        LengthUnit::Inches | LengthUnit::FeetInchesEighths => fixed(level / INCH, 3),
    };
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

/// Ids that no plane of the document has, for the planes of one family.
fn own_ids(body: &Body, family: u32) -> impl Iterator<Item = PlaneId> {
    let ids = (0..u32::MAX / 2).map(move |k| PlaneId(u32::MAX - 2 * k - family));
    ids.filter(|id| is_own(body, *id))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::document::{On, Station};
    use crate::issue::lines_plan::{Extent, Hidden, Kind, Layout, Pick, Traced, draw_paper};
    use crate::loft::Loft;
    use crate::made::{Table, made};
    use crate::num;

    /// A spheroid's half, 3000 mm long and 800 mm across, its axis a metre up: x/a, y and z as (x/a)² + (y² + z²)/b² = 1.
    fn spheroid() -> Lines {
        let section = |x: f64| {
            let radius = 400.0 * (1.0 - x * x / 9e6).sqrt();
            let point = |n: u32| {
                let angle = core::f64::consts::PI * f64::from(n) / 12.0;
                let on = match n {
                    0 => On::Crown,
                    12 => On::Keel,
                    _ => On::Free,
                };
                let at = [radius * num::sin(angle), 1000.0 + radius * num::cos(angle)];
                (on, at)
            };
            (x, (0..=12).map(point).collect())
        };
        let table: Table = (0..12).map(|k| section(200.0 * f64::from(k))).collect();
        made(&table, 0.5)
    }

    fn places(planes: &[Plane]) -> Vec<String> {
        planes.iter().map(|plane| plane.name.clone()).collect()
    }

    #[test]
    fn a_body_of_unnamed_points_is_drawn_at_even_places() {
        let lines = spheroid();
        let planes = shown_planes(&lines, &lines.body.offsets());
        let names = [
            "WL 700", "WL 800", "WL 900", "WL 1000", "WL 1100", "WL 1200", "WL 1300", "BL 100",
            "BL 200", "BL 300",
        ];
        assert_eq!(places(&planes), names);
        assert!(planes.iter().all(|plane| is_own(&lines.body, plane.id)));
        let lofted = std::sync::Arc::new(Loft::build(&lines.body).unwrap());
        let hidden = Hidden::default();
        let traced = Traced::of(&lofted, &planes, (None, &hidden), (0.4, &[]));
        // Half the way out a waterline at the axis is as broad as the spheroid is.
        for cut in &traced.planes {
            assert!(!cut.branches.is_empty(), "{}", cut.plane.name);
        }
        let at_axis = traced.planes.iter().find(|cut| cut.plane.name == "WL 1000");
        let nodes = at_axis.unwrap().branches.iter().flat_map(|b| &b.nodes);
        for node in nodes {
            let radius = 400.0 * (1.0 - node.point.x * node.point.x / 9e6).sqrt();
            assert!((node.point.y - radius).abs() < 1.0, "{:?}", node.point);
        }
        // Each is ruled where it is a straight line, and named there.
        let layout = Layout::desk((1440.0, 760.0), Extent::of(&lines, &lofted.offsets()));
        let pick = Pick {
            on: On::Keel,
            station: lines.body.stations[3].id,
            point: None,
        };
        let paper = draw_paper(&lines, &planes, &layout, pick);
        let ruled = |kind: Kind| {
            let layer = paper.layers.iter().find(|layer| layer.name == kind.name());
            layer.is_some_and(|layer| layer.marks.iter().any(|mark| !mark.path.is_empty()))
        };
        assert!(ruled(Kind::Trace) && ruled(Kind::ButtockTrace));
        for name in ["1000", "BL 200"] {
            assert!(paper.names.texts.iter().any(|text| text.text == name));
        }
    }

    #[test]
    fn in_inches_they_stand_at_round_inches() {
        let mut lines = spheroid();
        lines.about.unit = LengthUnit::FeetInchesEighths;
        let planes = shown_planes(&lines, &lines.body.offsets());
        let names = [
            "WL 28", "WL 32", "WL 36", "WL 40", "WL 44", "WL 48", "WL 52", "BL 4", "BL 8", "BL 12",
        ];
        assert_eq!(places(&planes), names);
        let level = planes[0].place.level();
        assert!((level - 28.0 * INCH).abs() < 1e-9);
    }

    #[test]
    fn one_named_plane_takes_the_place_of_its_family() {
        let mut lines = spheroid();
        let own = shown_planes(&lines, &lines.body.offsets());
        // What the document names may have an id that the drawing would have taken.
        lines.body_mut().planes.push(Plane {
            id: own[9].id,
            name: "WL 950".to_owned(),
            place: Place::Waterline(950.0),
        });
        let planes = shown_planes(&lines, &lines.body.offsets());
        assert_eq!(places(&planes), ["WL 950", "BL 100", "BL 200", "BL 300"]);
        let mut ids: Vec<PlaneId> = planes.iter().map(|plane| plane.id).collect();
        ids.sort();
        ids.dedup();
        assert_eq!(ids.len(), 4);
    }

    #[test]
    fn without_readings_there_are_none() {
        let mut lines = Lines::empty("none", LengthUnit::Millimetres);
        lines.body_mut().stations = vec![Station {
            id: crate::document::StationId(0),
            label: "0".to_owned(),
            x: 0.0,
        }];
        assert!(shown_planes(&lines, &lines.body.offsets()).is_empty());
    }
}
