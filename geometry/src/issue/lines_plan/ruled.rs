//! The ruled paper under the lines: captions, axes, straight traces. A gesture leaves all of it alone.

use crate::document::{Lines, Place, Plane};

use super::drawing::{Drawing, Kind, PX, Strokes, caption, label, toned, wide};
use super::layout::{BAND, crisp};
use super::marks::BARS;
use super::{Frame, Layout, Medium, Pick, bare};
use crate::paper::{Ground, Text, Tone};

/// Least distance of two station numbers, px; wide ones stand further apart.
const NUMBERS: f64 = 22.0;

/// Least distance of two numbers of levels, px.
const LEVELS: f64 = 11.5;

/// Width of the widest of some names, px.
pub fn widest<'a>(names: impl Iterator<Item = &'a str>) -> f64 {
    names.map(wide).fold(0.0, f64::max)
}

/// Of so many names in a row every first, second, fifth, tenth … one finds room.
pub fn every(count: usize, gap: f64, room: f64) -> usize {
    let fits = |step: &usize| count.div_ceil(*step) as f64 * gap <= room.max(gap);
    STEPS.into_iter().find(fits).unwrap_or(count.max(1))
}

/// Steps in which names are passed over.
const STEPS: [usize; 8] = [1, 2, 5, 10, 20, 50, 100, 200];

/// Which of places in a row are named so that names stand `apart`, px: all but a few that find no room; where more would find
/// none, every second, fifth, tenth … of them. What is to be `kept` is named in any case.
pub fn thinned(places: &[f64], apart: f64, kept: Option<usize>) -> Vec<bool> {
    let held = kept.and_then(|at| places.get(at)).copied();
    let try_step = |step: usize| -> (Vec<bool>, usize) {
        let mut last: Option<f64> = None;
        let mut count = 0;
        let named = places.iter().enumerate().map(|(at, place)| {
            let wanted = at % step == 0;
            count += usize::from(wanted);
            let clear = |other: Option<f64>| other.is_none_or(|o| (place - o).abs() >= apart);
            let named = kept == Some(at) || (wanted && clear(last) && clear(held));
            if named {
                last = Some(*place);
            }
            named
        });
        (named.collect(), count)
    };
    for step in STEPS {
        let (named, wanted) = try_step(step);
        let found = named.iter().filter(|named| **named).count();
        if 4 * found >= 3 * wanted || wanted < 3 {
            return named;
        }
    }
    try_step(places.len().max(1)).0
}

struct Ruled<'a> {
    lines: &'a Lines,
    planes: &'a [Plane],
    layout: &'a Layout,
    pick: Pick,
    out: Drawing,
    stations: Strokes,
    base: Strokes,
    levels: Strokes,
    uprights: Strokes,
    centre: Strokes,
}

/// Rules the paper, with the planes that are shown.
pub fn draw_paper(lines: &Lines, planes: &[Plane], layout: &Layout, pick: Pick) -> Drawing {
    let mut ruled = Ruled {
        lines,
        planes,
        layout,
        pick,
        out: Drawing::default(),
        stations: Strokes::default(),
        base: Strokes::default(),
        levels: Strokes::default(),
        uprights: Strokes::default(),
        centre: Strokes::default(),
    };
    if let Some(frame) = layout.profile {
        ruled.profile(&frame);
    }
    if let Some(frame) = layout.half_breadth {
        ruled.half_breadth(&frame);
    }
    if let Some(frame) = layout.body {
        ruled.body(&frame);
    }
    if layout.alone {
        let words = format!("{} · bars × {BARS:.0}", layout.words());
        // In the band at the foot, left of the comb's scale.
        ruled.out.label(label((44.0, layout.size.1 - 8.0), words));
    }
    if let (Some([top, bottom]), Some(frame)) = (layout.strip, layout.profile) {
        for station in &lines.body.stations {
            let x = crisp(frame.x(station.x));
            ruled.stations.stroke((x, top), (x, bottom));
        }
    }
    let Ruled {
        mut out,
        stations,
        base,
        levels,
        uprights,
        centre,
        ..
    } = ruled;
    if layout.alone {
        // Names are whole or not there, where the view is cut off; in the band at the foot stand only its own.
        let (width, height) = layout.size;
        let whole = |name: &Text| {
            let [left, _, right, foot] = name.bounds().map(|side| side / PX);
            let own = (name.at.1 / PX - (height - 8.0)).abs() < 0.01;
            left >= 0.0 && right <= width && (own || foot <= height - BAND + 2.0)
        };
        out.names.texts.retain(whole);
    }
    out.draw(Kind::StationRule, stations);
    out.draw(Kind::Base, base);
    out.draw(Kind::Trace, levels);
    out.draw(Kind::ButtockTrace, uprights);
    out.draw(Kind::Centreline, centre);
    out
}

impl Ruled<'_> {
    /// Width of the widest number of a waterline, px.
    fn widest_waterline(&self) -> f64 {
        let names = self.planes.iter().filter(|plane| match plane.place {
            Place::Waterline(_) => true,
            Place::Buttock(_) | Place::Diagonal { .. } => false,
        });
        widest(names.map(|plane| bare(&plane.name)))
    }

    /// Whether the waterlines' numbers leave no room beside them.
    fn wide(&self) -> bool {
        self.widest_waterline() > 24.0
    }

    fn caption(&mut self, x: f64, y: f64, text: &str) {
        // Alone, the view's name stands on its button already.
        if !self.layout.alone {
            self.out.label(caption((x, y), text));
        }
    }

    /// Numbers of the stations at a height, and their verticals.
    fn numbers(&mut self, frame: &Frame, ends: [f64; 2], at: f64, rule: [f64; 2]) {
        let stations = &self.lines.body.stations;
        let labels = stations.iter().map(|s| s.label.as_str());
        let apart = NUMBERS.max(widest(labels) + 5.0);
        let [left, right] = ends;
        let places: Vec<f64> = stations.iter().map(|s| crisp(frame.x(s.x))).collect();
        let held = stations.iter().position(|s| s.id == self.pick.station);
        let named = thinned(&places, apart, held);
        for ((station, x), named) in stations.iter().zip(places).zip(named) {
            if x < left - 1.0 || x > right + 8.0 {
                continue;
            }
            self.stations.stroke((x, rule[0]), (x, rule[1]));
            // Alone, the family's name stands before them.
            let family = 12.0 + wide("STA") + wide(&station.label) / 2.0;
            if !named || (self.layout.alone && x < family) {
                continue;
            }
            let picked = station.id == self.pick.station;
            let mut number = label((x, at), station.label.clone()).middle();
            number.ground = self.layout.ground();
            let tone = if picked { Tone::Picked } else { Tone::Thin };
            self.out.label(toned(number, tone));
        }
    }

    /// Waterlines with their numbers as far as these find room, and the base line; the place of the highest waterline, px.
    fn level_numbers(
        &mut self,
        frame: &Frame,
        [left, right]: [f64; 2],
        (numbers, ground): (f64, Ground),
    ) -> Option<f64> {
        let mut levels: Vec<(f64, &str)> = { self.planes.iter() }
            .filter_map(|plane| match plane.place {
                Place::Waterline(z) => Some((z, bare(&plane.name))),
                Place::Buttock(_) | Place::Diagonal { .. } => None,
            })
            .collect();
        crate::num::put_in_order(&mut levels, |a, b| a.0.total_cmp(&b.0));
        let mut highest = None;
        for (z, _) in &levels {
            let y = crisp(frame.y(*z));
            self.levels.stroke((left, y), (right, y));
            highest = Some(y);
        }
        let foot = self.layout.extent.z[0];
        let has_base = foot.abs() < 1e-6;
        if has_base {
            let y = crisp(frame.y(foot));
            self.base.stroke((left, y), (right, y));
            levels.insert(0, (foot, "0"));
        }
        let places: Vec<f64> = levels.iter().map(|(z, _)| crisp(frame.y(*z))).collect();
        let named = thinned(&places, LEVELS, has_base.then_some(0));
        for (((_, name), y), named) in levels.into_iter().zip(places).zip(named) {
            if named {
                let mut name = label((numbers, y + 4.0), name).end();
                name.ground = ground;
                self.out.label(name);
            }
        }
        highest
    }

    /// The buttock lines from the centreline outward.
    fn buttocks(&self) -> Vec<(f64, String)> {
        let mut all: Vec<(f64, String)> = { self.planes.iter() }
            .filter_map(|plane| match plane.place {
                Place::Buttock(y) => Some((y, plane.name.clone())),
                Place::Waterline(_) | Place::Diagonal { .. } => None,
            })
            .collect();
        crate::num::put_in_order(&mut all, |a, b| a.0.total_cmp(&b.0));
        all
    }

    fn profile(&mut self, frame: &Frame) {
        let extent = &self.layout.extent;
        let (top, foot) = (frame.y(extent.z[1]) - 7.0, frame.y(extent.z[0]));
        let [left, right] = self.layout.ends;
        let (top, foot_rule) = if self.layout.alone {
            (28.0, self.layout.size.1 - BAND)
        } else {
            (top, foot + 6.0)
        };
        self.numbers(frame, [left, right], top - 6.0, [top, foot_rule]);
        self.caption(24.0, top - 22.0, "Profile");
        let (numbers, names) = if self.layout.alone {
            // On a patch over the lines, where they are wider than the margin.
            ((left - 8.0).max(self.widest_waterline() + 4.0), 8.0)
        } else {
            (left - 13.0, left - 54.0)
        };
        self.out.label(label((names, top - 6.0), "STA"));
        let ends = [left - 8.0, right + 6.0];
        let middle = self.level_numbers(frame, ends, (numbers, self.layout.ground()));
        if let (Some(y), false) = (middle, self.layout.alone) {
            // Beside the numbers, or over them where they are wide.
            let y = if self.wide() {
                y - 12.0
            } else {
                f64::midpoint(y, foot)
            };
            self.out.label(label((left - 36.0, y + 4.0), "WL").end());
        } else if self.layout.alone {
            self.out.label(label((8.0, self.layout.size.1 - 8.0), "WL"));
        }
    }

    fn half_breadth(&mut self, frame: &Frame) {
        let centre = frame.origin.1;
        let outer = frame.y(self.layout.extent.y);
        let [left, right] = self.layout.plan_ends;
        let number = if self.layout.alone {
            22.0
        } else {
            centre + 17.0
        };
        let rule = if self.layout.alone {
            [28.0, self.layout.size.1 - BAND]
        } else {
            [outer - 2.0, centre + 5.0]
        };
        self.numbers(frame, [left, right], number, rule);
        if self.layout.alone {
            self.out.label(label((8.0, 22.0), "STA"));
        }
        self.caption(left - 54.0, outer - 23.0, "Half-breadth");
        if !self.layout.alone {
            let place = if self.layout.medium == Medium::Screen {
                " on this screen"
            } else {
                ""
            };
            let scale = self.layout.words();
            let whole = format!("{scale}{place} · bars show tolerance × {BARS:.0}");
            // Beside the caption of a short body there is room for less.
            let room = right - (left - 54.0) - 110.0;
            let words = if wide(&whole) > room {
                format!("{scale} · bars × {BARS:.0}")
            } else {
                whole
            };
            self.out.label(label((right, outer - 23.0), words).end());
        }
        let y = crisp(centre);
        self.centre.stroke((left - 8.0, y), (right + 6.0, y));
        let names = (right + 10.0).min(self.layout.size.0 - 40.0);
        let tone = if self.layout.alone {
            Tone::Ink
        } else {
            Tone::Thin
        };
        self.out.label(label((names, y + 4.0), "CL").tone(tone));
        let buttocks = self.buttocks();
        let places: Vec<f64> = core::iter::once(y)
            .chain(buttocks.iter().map(|(breadth, _)| crisp(frame.y(*breadth))))
            .collect();
        // The centreline's name is the first of the row.
        let named = thinned(&places, LEVELS, Some(0));
        let row = places.into_iter().zip(named).skip(1);
        for ((_, plane), (y, named)) in buttocks.into_iter().zip(row) {
            self.uprights.stroke((left, y), (right + 6.0, y));
            if named {
                let mut name = label((names, y + 4.0), plane);
                name.ground = self.layout.ground();
                self.out.label(name);
            }
        }
    }

    fn body(&mut self, frame: &Frame) {
        let extent = self.layout.extent;
        let x = frame.origin.0;
        let half = extent.y * frame.scale.0 + 3.0;
        let (top, foot) = (frame.y(extent.z[1]), frame.y(extent.z[0]));
        let wide = self.widest_waterline();
        let numbers = (x + half + wide.max(16.0) + 8.0).min(self.layout.size.0 - 4.0);
        let ends = [x - half, x + half];
        let highest = self.level_numbers(frame, ends, (numbers, Ground::Clear));
        let buttocks = self.buttocks();
        let apart = widest(buttocks.iter().map(|(_, name)| bare(name))) + 5.0;
        let places: Vec<f64> = core::iter::once(0.0)
            .chain(buttocks.iter().map(|(y, _)| y * frame.scale.0))
            .collect();
        // CL is the first of the row.
        let row = thinned(&places, apart.max(14.0), Some(0));
        for ((breadth, name), named) in buttocks.into_iter().zip(row.into_iter().skip(1)) {
            for hand in [-1.0, 1.0] {
                let at = crisp(frame.x(hand * breadth));
                self.uprights.stroke((at, top - 3.0), (at, foot + 6.0));
                if named {
                    let name = label((at, foot + 18.0), bare(&name));
                    self.out.label(name.middle());
                }
            }
        }
        for plane in self.planes {
            let Place::Diagonal { height, angle } = plane.place else {
                continue;
            };
            let (sin, cos) = (crate::num::sin(angle), crate::num::cos(angle));
            let long = extent.y / cos.max(0.1);
            for hand in [-1.0, 1.0] {
                self.levels.stroke(
                    frame.at(0.0, height),
                    frame.at(hand * long * cos, height - long * sin),
                );
            }
        }
        let at = crisp(x);
        self.centre.stroke((at, top - 8.0), (at, foot + 6.0));
        self.out.label(label((x, foot + 18.0), "CL").middle());
        self.out.label(label((numbers, foot + 18.0), "BL").end());
        if let Some(highest) = highest {
            let y = (highest - 12.0).max(top - 4.0);
            self.out
                .label(label((numbers, y.min(highest - 12.0)), "WL").end());
        }
        if self.layout.extent.forward > 0 {
            let y = top - 13.0;
            self.out.label(label((x - 10.0, y), "forward").end());
            self.out.label(label((x + 10.0, y), "aft"));
        }
        self.caption(x - half, top - 29.0, "Body plan");
    }
}
