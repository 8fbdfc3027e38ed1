//! What stands on the lines: readings with their tolerance, moved points, ducks, the ring round the picked point.

use geometry::document::{Lines, Offset, PointId};

use geometry::lines::{PickUp, Tape};

use super::super::drawing::{Drawing, Frame, Path, Point};
use super::{Layout, Scene, reads};
use crate::state::{Hidden, Shown};

/// Bars show tolerances so many times their true size.
pub const BARS: f64 = 10.0;

/// Half of a reading's tick, px.
const TICK: f64 = 2.5;

#[derive(Default)]
struct Marks {
    bars: Path,
    ticks: Path,
    aside: Path,
    was: Path,
    stems: Path,
    ducks: Path,
}

impl Marks {
    /// A reading across which a tick stands, along which its bar lies.
    fn reading(&mut self, at: Point, bar: Option<f64>, upright: bool) {
        let cross = |d: f64, along: bool| if along { (0.0, d) } else { (d, 0.0) };
        let between = |(dx, dy): (f64, f64)| ((at.0 - dx, at.1 - dy), (at.0 + dx, at.1 + dy));
        if let Some(bar) = bar {
            let (from, to) = between(cross(bar, upright));
            self.bars.stroke(from, to);
        }
        let (from, to) = between(cross(TICK, !upright));
        self.ticks.stroke(from, to);
    }

    /// A small ring where it was recorded, and the way from there.
    fn moved(&mut self, from: Point, to: Point) {
        self.was.circle(from, TICK);
        self.stems.stroke(from, to);
    }

    /// A small solid wedge that stands on the line.
    fn duck(&mut self, (x, y): Point) {
        self.ducks
            .line([(x - 8.0, y - 1.0), (x + 1.0, y - 1.0), (x + 1.0, y - 10.0)]);
        self.ducks.close();
    }
}

/// Draws all readings, the place that is lifted, and the tape to it.
pub fn draw_marks(scene: &Scene<'_>, lifted: Option<&PickUp>, tape: Option<&Tape>) -> Drawing {
    let mut marks = Marks::default();
    for (index, (station, offsets)) in scene
        .lines
        .body
        .stations
        .iter()
        .zip(scene.offsets)
        .enumerate()
    {
        let hidden = scene.hidden.stations.contains(&station.id);
        let place = Place {
            x: station.x,
            hand: scene.layout.hand(index),
            picked: scene.picked(station.id),
            body: scene.layout.body.filter(|_| !hidden),
        };
        for offset in offsets.iter().filter(|o| scene.hidden.draws(o.on)) {
            one(&mut marks, scene, offset, &place);
        }
    }
    set_aside(&mut marks, scene);
    let (lozenge, tape) = laid(scene, lifted, tape);
    let mut out = Drawing::default();
    out.path("bar-mark", marks.bars);
    out.path("stem", marks.stems);
    out.path("tick", marks.ticks);
    out.path("aside", marks.aside);
    out.path("was", marks.was);
    out.path("duck", marks.ducks);
    out.path("tape", tape);
    out.path("lozenge", lozenge);
    out
}

/// Where a station's marks go.
struct Place {
    x: f64,
    /// Its side of the body plan.
    hand: f64,
    picked: bool,
    /// The body plan, where its section is drawn.
    body: Option<Frame>,
}

fn one(marks: &mut Marks, scene: &Scene<'_>, offset: &Offset, place: &Place) {
    let Place {
        x,
        hand,
        picked,
        body,
    } = *place;
    let layout = scene.layout;
    let ([y, z], [y0, z0]) = (offset.accepted, offset.recorded);
    let moved = (y - y0).abs() + (z - z0).abs() > 0.005;
    let bar = offset.tolerance * BARS * layout.scale;
    let (height, breadth) = reads(scene.lines, offset.on);
    for (frame, shows, now, then) in [
        (layout.profile, height, z, z0),
        (layout.half_breadth, breadth, y, y0),
    ] {
        let (Some(frame), true) = (frame, shows) else {
            continue;
        };
        let at = frame.at(x, now);
        marks.reading(at, Some(bar), true);
        if moved {
            marks.moved(frame.at(x, then), at);
        }
        if offset.duck {
            marks.duck(at);
        }
    }
    if let Some(frame) = body {
        let at = frame.at(hand * y, z);
        let bar = picked.then_some(bar);
        if height {
            marks.reading(at, bar, true);
        }
        if breadth {
            marks.reading(at, bar, false);
        }
        if moved {
            marks.moved(frame.at(hand * y0, z0), at);
        }
        if offset.duck {
            marks.duck(at);
        }
    }
}

/// The lifted place as a small lozenge, and the tape to it.
fn laid(scene: &Scene<'_>, lifted: Option<&PickUp>, laid: Option<&Tape>) -> (Path, Path) {
    let (mut lozenge, mut tape) = (Path::default(), Path::default());
    let points: Vec<[f64; 3]> = laid.map_or_else(Vec::new, |tape| {
        tape.points.iter().map(|p| p.to_array()).collect()
    });
    let layout = scene.layout;
    // In the body plan on the side where its nearest station is drawn.
    let hand = |x: f64| {
        let far = |i: &usize| (scene.lines.body.stations[*i].x - x).abs();
        let nearest = (0..scene.lines.body.stations.len()).min_by(|a, b| far(a).total_cmp(&far(b)));
        nearest.map_or(1.0, |station| layout.hand(station))
    };
    let mut draw = |frame: Option<Frame>, at: &dyn Fn(&Frame, [f64; 3]) -> Point, body: bool| {
        let Some(frame) = frame else { return };
        if let Some(place) = lifted.map(|at| at.position.to_array()) {
            let (x, y) = at(&frame, place);
            lozenge.line([(x - 5.0, y), (x, y - 5.0), (x + 5.0, y), (x, y + 5.0)]);
            lozenge.close();
        }
        // It crosses from one side to the other nowhere.
        for part in points.chunk_by(|a, b| !body || hand(a[0]).total_cmp(&hand(b[0])).is_eq()) {
            tape.line(part.iter().map(|p| at(&frame, *p)));
        }
    };
    draw(layout.profile, &|frame, [x, _, z]| frame.at(x, z), false);
    draw(
        layout.half_breadth,
        &|frame, [x, y, _]| frame.at(x, y),
        false,
    );
    draw(
        layout.body,
        &|frame, [x, y, z]| frame.at(hand(x) * y, z),
        true,
    );
    (lozenge, tape)
}

/// Readings that are not used: an open ring where they stand.
fn set_aside(marks: &mut Marks, scene: &Scene<'_>) {
    let aside =
        |point: &&geometry::document::Point| point.readings.iter().any(|r| r.set_aside.is_some());
    for point in scene.lines.body.points.iter().filter(aside) {
        let (Some(station), Some(index)) = (
            scene.lines.body.station(point.station),
            scene.lines.body.station_index(point.station),
        ) else {
            continue;
        };
        for reading in point.readings.iter().filter(|r| r.set_aside.is_some()) {
            let (y, z) = (reading.half_breadth_value(), reading.height_value());
            let place = scene.lines.body.place_of(point.on);
            let at = match place {
                Some(place) => place.point(y, z),
                None => z.map(|z| [y.unwrap_or(0.0), z]),
            };
            let Some([y, z]) = at else { continue };
            let (height, breadth) = reads(scene.lines, point.on);
            if let (Some(frame), true) = (scene.layout.profile, height) {
                let at = frame.at(station.x, z);
                if frame.holds(at) {
                    marks.aside.circle(at, TICK);
                }
            }
            if let (Some(frame), true) = (scene.layout.half_breadth, breadth) {
                let at = frame.at(station.x, y);
                if frame.holds(at) {
                    marks.aside.circle(at, TICK);
                }
            }
            if let Some(frame) = scene.layout.body {
                let hand = scene.layout.hand(index);
                let at = frame.at(hand * y, z);
                if frame.holds(at) {
                    marks.aside.circle(at, TICK);
                }
            }
        }
    }
}

/// A point as it can be picked in one view.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Target {
    /// The point.
    pub point: PointId,
    /// The view.
    pub view: Shown,
    /// Place on the screen, px.
    pub at: Point,
    /// Which way its reading grows on the screen: up where it has none here.
    pub grows: Point,
}

/// Every point in every view, in the order of stations, crown to keel.
pub fn targets(
    lines: &Lines,
    offsets: &[Vec<Offset>],
    layout: &Layout,
    hidden: &Hidden,
) -> Vec<Target> {
    let mut found = Vec::new();
    for (index, (station, offsets)) in lines.body.stations.iter().zip(offsets).enumerate() {
        let hand = layout.hand(index);
        let drawn = !hidden.stations.contains(&station.id);
        for offset in offsets.iter().filter(|o| hidden.draws(o.on)) {
            for (view, at) in places(lines, layout, offset, (station.x, hand)) {
                if view == Shown::BodyPlan && !drawn {
                    continue;
                }
                let (height, _) = reads(lines, offset.on);
                let grows = if view == Shown::BodyPlan && !height {
                    (hand, 0.0)
                } else {
                    (0.0, -1.0)
                };
                found.push(Target {
                    point: offset.point,
                    view,
                    at,
                    grows,
                });
            }
        }
    }
    found
}

/// Where a point is drawn.
fn places(
    lines: &Lines,
    layout: &Layout,
    offset: &Offset,
    (x, hand): (f64, f64),
) -> impl Iterator<Item = (Shown, Point)> + use<> {
    let [y, z] = offset.accepted;
    let (height, breadth) = reads(lines, offset.on);
    let at = |frame: Option<Frame>, a: f64, b: f64| frame.map(|frame| frame.at(a, b));
    let shown = [
        (Shown::Profile, at(layout.profile.filter(|_| height), x, z)),
        (
            Shown::HalfBreadth,
            at(layout.half_breadth.filter(|_| breadth), x, y),
        ),
        (Shown::BodyPlan, at(layout.body, hand * y, z)),
    ];
    shown.into_iter().filter_map(|(view, at)| Some((view, at?)))
}

/// Where the picked point is ringed, in every view.
pub fn rings(scene: &Scene<'_>) -> Vec<Point> {
    let numbered = scene.offsets.iter().enumerate();
    let found = numbered
        .flat_map(|(index, offsets)| offsets.iter().map(move |o| (index, o)))
        .find(|(_, offset)| Some(offset.point) == scene.pick.point);
    let Some((index, offset)) = found else {
        return Vec::new();
    };
    let Some(station) = scene.lines.body.stations.get(index) else {
        return Vec::new();
    };
    let [y, z] = offset.accepted;
    let hand = scene.layout.hand(index);
    let views = [
        (scene.layout.profile, station.x, z),
        (scene.layout.half_breadth, station.x, y),
        (scene.layout.body, hand * y, z),
    ];
    views
        .into_iter()
        .filter_map(|(frame, a, b)| Some(frame?.at(a, b)))
        .collect()
}
