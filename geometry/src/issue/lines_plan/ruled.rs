//! The ruled paper under the lines: captions, axes, straight traces. A gesture leaves all of it alone.

use crate::document::{Lines, Place, Plane};

use super::drawing::{Drawing, Kind, Strokes, caption, label, toned, wide};
use super::layout::crisp;
use super::marks::BARS;
use super::{Frame, Layout, Medium, Pick, bare};
use crate::paper::Tone;

/// Least distance of two station numbers, px; wide ones stand further apart.
const NUMBERS: f64 = 22.0;

/// Width of the widest of some names, px.
pub fn widest<'a>(names: impl Iterator<Item = &'a str>) -> f64 {
    names.map(wide).fold(0.0, f64::max)
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
        let (right, foot) = layout.size;
        // Over the comb's scale, or under the body plan's numbers.
        let up = if layout.body.is_some() { 8.0 } else { 26.0 };
        ruled
            .out
            .label(label((right - 10.0, foot - up), words).end());
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
    fn numbers(&mut self, frame: &Frame, at: f64, rule: [f64; 2]) {
        let labels = self.lines.body.stations.iter().map(|s| s.label.as_str());
        let apart = NUMBERS.max(widest(labels) + 5.0);
        let mut written = f64::NEG_INFINITY;
        let [left, right] = self.layout.ends;
        let picked_x = self
            .lines
            .body
            .station(self.pick.station)
            .map_or(f64::NEG_INFINITY, |s| frame.x(s.x));
        for station in &self.lines.body.stations {
            let x = crisp(frame.x(station.x));
            if x < left - 1.0 || x > right + 8.0 {
                continue;
            }
            self.stations.stroke((x, rule[0]), (x, rule[1]));
            let picked = station.id == self.pick.station;
            let beside = (x - picked_x).abs() < apart;
            if !picked && (x - written < apart || beside) {
                continue;
            }
            written = x;
            let mut number = label((x, at), station.label.clone()).middle();
            number.ground = self.layout.ground();
            let tone = if picked { Tone::Picked } else { Tone::Thin };
            self.out.label(toned(number, tone));
        }
    }

    fn profile(&mut self, frame: &Frame) {
        let extent = &self.layout.extent;
        let (top, foot) = (frame.y(extent.z[1]) - 7.0, frame.y(extent.z[0]));
        let [left, right] = self.layout.ends;
        let (top, foot_rule) = if self.layout.alone {
            (28.0, self.layout.size.1 - 22.0)
        } else {
            (top, foot + 6.0)
        };
        self.numbers(frame, top - 6.0, [top, foot_rule]);
        self.caption(24.0, top - 22.0, "Profile");
        let (numbers, names) = if self.layout.alone {
            (left - 8.0, 8.0)
        } else {
            (left - 13.0, left - 54.0)
        };
        self.out.label(label((names, top - 6.0), "STA"));
        let mut last = f64::INFINITY;
        let mut waterlines: Vec<(f64, &str)> = self
            .planes
            .iter()
            .filter_map(|plane| match plane.place {
                Place::Waterline(z) => Some((z, plane.name.as_str())),
                Place::Buttock(_) | Place::Diagonal { .. } => None,
            })
            .collect();
        crate::num::put_in_order(&mut waterlines, |a, b| a.0.total_cmp(&b.0));
        if extent.z[0].abs() < 1e-6 {
            let y = crisp(foot);
            self.base.stroke((left - 8.0, y), (right + 6.0, y));
            let mut name = label((numbers, y + 4.0), "0").end();
            name.ground = self.layout.ground();
            self.out.label(name);
            last = y;
        }
        let mut middle = None;
        for (z, name) in waterlines {
            let y = crisp(frame.y(z));
            self.levels.stroke((left - 8.0, y), (right + 6.0, y));
            if last - y > 11.0 {
                let mut name = label((numbers, y + 4.0), bare(name)).end();
                name.ground = self.layout.ground();
                self.out.label(name);
                last = y;
            }
            middle = Some(y);
        }
        if let (Some(y), false) = (middle, self.layout.alone) {
            // Beside the numbers, or over them where they are wide.
            let y = if self.wide() {
                y - 12.0
            } else {
                f64::midpoint(y, foot)
            };
            self.out.label(label((left - 36.0, y + 4.0), "WL").end());
        } else if self.layout.alone {
            self.out
                .label(label((8.0, self.layout.size.1 - 10.0), "WL"));
        }
    }

    fn half_breadth(&mut self, frame: &Frame) {
        let centre = frame.origin.1;
        let outer = frame.y(self.layout.extent.y);
        let [left, right] = self.layout.ends;
        let number = if self.layout.alone {
            22.0
        } else {
            centre + 17.0
        };
        let rule = if self.layout.alone {
            [28.0, self.layout.size.1 - 22.0]
        } else {
            [outer - 2.0, centre + 5.0]
        };
        self.numbers(frame, number, rule);
        if self.layout.alone {
            self.out.label(label((8.0, 22.0), "STA"));
        }
        self.caption(24.0, outer - 23.0, "Half-breadth");
        if !self.layout.alone {
            let place = if self.layout.medium == Medium::Screen {
                " on this screen"
            } else {
                ""
            };
            let words = format!(
                "{}{place} · bars show tolerance × {BARS:.0}",
                self.layout.words()
            );
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
        for plane in self.planes {
            let Place::Buttock(breadth) = plane.place else {
                continue;
            };
            let y = crisp(frame.y(breadth));
            self.uprights.stroke((left, y), (right + 6.0, y));
            let mut name = label((names, y + 4.0), plane.name.clone());
            name.ground = self.layout.ground();
            self.out.label(name);
        }
    }

    fn body(&mut self, frame: &Frame) {
        let extent = &self.layout.extent;
        let x = frame.origin.0;
        let half = extent.y * frame.scale.0 + 3.0;
        let (top, foot) = (frame.y(extent.z[1]), frame.y(extent.z[0]));
        let wide = self.widest_waterline();
        let numbers = (x + half + wide.max(16.0) + 8.0).min(self.layout.size.0 - 4.0);
        let mut highest = f64::INFINITY;
        let mut last = f64::INFINITY;
        if extent.z[0].abs() < 1e-6 {
            let y = crisp(foot);
            self.base.stroke((x - half, y), (x + half, y));
            self.out.label(label((numbers, y + 4.0), "0").end());
            last = y;
        }
        let mut furthest = f64::NEG_INFINITY;
        let mut by_level: Vec<&Plane> = self.planes.iter().collect();
        crate::num::put_in_order(&mut by_level, |a, b| {
            b.place.level().total_cmp(&a.place.level())
        });
        for plane in by_level.into_iter().rev() {
            match plane.place {
                Place::Waterline(z) => {
                    let y = crisp(frame.y(z));
                    self.levels.stroke((x - half, y), (x + half, y));
                    highest = highest.min(y);
                    if last - y > 11.0 {
                        let name = label((numbers, y + 4.0), bare(&plane.name));
                        self.out.label(name.end());
                        last = y;
                    }
                }
                Place::Buttock(breadth) => {
                    let apart = breadth * frame.scale.0 - furthest > 14.0;
                    for hand in [-1.0, 1.0] {
                        let at = crisp(frame.x(hand * breadth));
                        self.uprights.stroke((at, top - 3.0), (at, foot + 6.0));
                        if apart {
                            let name = label((at, foot + 18.0), bare(&plane.name));
                            self.out.label(name.middle());
                        }
                    }
                    if apart {
                        furthest = breadth * frame.scale.0;
                    }
                }
                Place::Diagonal { height, angle } => {
                    let (sin, cos) = (crate::num::sin(angle), crate::num::cos(angle));
                    let long = extent.y / cos.max(0.1);
                    for hand in [-1.0, 1.0] {
                        self.levels.stroke(
                            frame.at(0.0, height),
                            frame.at(hand * long * cos, height - long * sin),
                        );
                    }
                }
            }
        }
        let at = crisp(x);
        self.centre.stroke((at, top - 8.0), (at, foot + 6.0));
        self.out.label(label((x, foot + 18.0), "CL").middle());
        self.out.label(label((numbers, foot + 18.0), "BL").end());
        if highest.is_finite() {
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
