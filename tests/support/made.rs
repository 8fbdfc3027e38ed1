//! Documents made of a table of figures, for the tests that hold a loft against what is known of a body.

use geometry::document::{
    About, Body, Lines, On, Point, PointId, Reading, Recorded, Source, SourceId, Station, StationId,
};
use geometry::units::LengthUnit;

/// Stations by their x, each with its points from crown to keel: the line of each, its half-breadth and its height, mm.
pub type Table = Vec<(f64, Vec<(On, [f64; 2])>)>;

/// A value as it was typed, mm.
pub fn recorded(mm: f64) -> Recorded {
    Recorded {
        typed: format!("{mm}"),
        mm,
        put_right: None,
    }
}

/// The lines with every point of a table read to a tolerance: of those on a centreline the height, of others both.
pub fn made(table: &Table, tolerance: f64) -> Lines {
    let mut body = Body {
        sources: vec![Source::new(SourceId(0), "made")],
        ..Body::empty()
    };
    for (station, (x, points)) in (0..).map(StationId).zip(table) {
        body.stations.push(Station {
            id: station,
            label: format!("{}", (x * 10.0).round() / 10.0),
            x: *x,
        });
        for (on, [y, z]) in points {
            let centre = matches!(on, On::Crown | On::Keel);
            let reading = Reading {
                source: SourceId(0),
                half_breadth: (!centre).then(|| recorded(*y)),
                height: Some(recorded(*z)),
                tolerance,
                set_aside: None,
                kept: false,
                note: String::new(),
                circumstances: None,
            };
            let point = Point::new(PointId(0), station, *on, vec![reading]);
            body.points.push(point);
        }
    }
    for (id, point) in (0..).map(PointId).zip(&mut body.points) {
        point.id = id;
    }
    Lines::new(About::new("made", LengthUnit::Millimetres), body)
}
