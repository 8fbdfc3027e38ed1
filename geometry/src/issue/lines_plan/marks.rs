//! What stands on the lines: readings with their tolerance, moved points, ducks.

use super::drawing::{Drawing, Kind, Strokes};
use super::sections::told_apart;
use super::{Frame, Scene, ScreenPoint, reads};
use crate::document::Offset;
use crate::lines::{PickUp, Tape};

/// Bars show tolerances so many times their true size.
pub const BARS: f64 = 10.0;

/// Half of a reading's tick, px.
const TICK: f64 = 2.5;

#[derive(Default)]
struct Marks {
    bars: Strokes,
    ticks: Strokes,
    light_ticks: Strokes,
    aside: Strokes,
    was: Strokes,
    stems: Strokes,
    ducks: Strokes,
}

impl Marks {
    /// A reading across which a tick stands, along which its bar lies.
    fn reading(&mut self, at: ScreenPoint, bar: Option<f64>, upright: bool, tick: Kind) {
        let cross = |d: f64, along: bool| if along { (0.0, d) } else { (d, 0.0) };
        let between = |(dx, dy): (f64, f64)| ((at.0 - dx, at.1 - dy), (at.0 + dx, at.1 + dy));
        if let Some(bar) = bar {
            let (from, to) = between(cross(bar, upright));
            self.bars.stroke(from, to);
        }
        let (from, to) = between(cross(TICK, !upright));
        let ticks = if tick == Kind::LightTick {
            &mut self.light_ticks
        } else {
            &mut self.ticks
        };
        ticks.stroke(from, to);
    }

    /// A small ring where it was recorded, and the way from there.
    fn moved(&mut self, from: ScreenPoint, to: ScreenPoint) {
        self.was.circle(from, TICK);
        self.stems.stroke(from, to);
    }

    /// A small solid wedge that stands on the line.
    fn duck(&mut self, (x, y): ScreenPoint) {
        self.ducks
            .line([(x - 8.0, y - 1.0), (x + 1.0, y - 1.0), (x + 1.0, y - 10.0)]);
        self.ducks.close();
    }
}

/// Draws all readings, the place that is lifted, and the tape to it.
pub fn draw_marks(scene: &Scene<'_>, lifted: Option<&PickUp>, tape: Option<&Tape>) -> Drawing {
    let mut marks = Marks::default();
    let told = told_apart(scene);
    for (index, (station, offsets)) in scene
        .lines
        .body
        .stations
        .iter()
        .zip(scene.offsets)
        .enumerate()
    {
        let hidden = scene.hidden.stations.contains(&station.id);
        let place = StationMarks {
            x: station.x,
            hand: scene.layout.hand(index),
            picked: scene.picked(station.id),
            light: !scene.shown.sections.is_empty() && !told.contains(&index),
            body: scene.layout.body.filter(|_| !hidden),
        };
        for offset in offsets.iter().filter(|o| scene.hidden.draws(o.on)) {
            one(&mut marks, scene, offset, &place);
        }
    }
    set_aside(&mut marks, scene);
    let (lozenge, tape) = laid(scene, lifted, tape);
    let mut out = Drawing::default();
    out.draw(Kind::BarMark, marks.bars);
    out.draw(Kind::Stem, marks.stems);
    out.draw(Kind::LightTick, marks.light_ticks);
    out.draw(Kind::Tick, marks.ticks);
    out.draw(Kind::Aside, marks.aside);
    out.draw(Kind::Was, marks.was);
    out.draw(Kind::Duck, marks.ducks);
    out.draw(Kind::Tape, tape);
    out.draw(Kind::Lozenge, lozenge);
    out
}

/// Where a station's marks go.
struct StationMarks {
    x: f64,
    /// Its side of the body plan.
    hand: f64,
    picked: bool,
    /// Whether its section is drawn lightly.
    light: bool,
    /// The body plan, where its section is drawn.
    body: Option<Frame>,
}

fn one(marks: &mut Marks, scene: &Scene<'_>, offset: &Offset, place: &StationMarks) {
    let StationMarks {
        x,
        hand,
        picked,
        light,
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
        marks.reading(at, Some(bar), true, Kind::Tick);
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
        let tick = if light && !picked {
            Kind::LightTick
        } else {
            Kind::Tick
        };
        if height {
            marks.reading(at, bar, true, tick);
        }
        if breadth {
            marks.reading(at, bar, false, tick);
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
fn laid(scene: &Scene<'_>, lifted: Option<&PickUp>, laid: Option<&Tape>) -> (Strokes, Strokes) {
    let (mut lozenge, mut tape) = (Strokes::default(), Strokes::default());
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
    let mut draw =
        |frame: Option<Frame>, at: &dyn Fn(&Frame, [f64; 3]) -> ScreenPoint, body: bool| {
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
        |point: &&crate::document::Point| point.readings.iter().any(|r| r.set_aside.is_some());
    for point in scene.lines.body.points.iter().filter(aside) {
        let Some(index) = scene.lines.body.station_index(point.station) else {
            continue;
        };
        for reading in point.readings.iter().filter(|r| r.set_aside.is_some()) {
            let [y, z] = scene.lines.body.at_station(point, reading);
            let place = scene.lines.body.place_of(point.on);
            let at = match place {
                Some(place) => place.point(y, z),
                None => z.map(|z| [y.unwrap_or(0.0), z]),
            };
            let Some(at) = at else { continue };
            for seen in scene.seen_at(index, point.on) {
                let place = seen.at(at);
                if seen.frame().holds(place) {
                    marks.aside.circle(place, TICK);
                }
            }
        }
    }
}
