//! Radius across (or along) at one station, from crown to keel, over the girth: the same figures as the shading.

use geometry::document::{Lines, On, Place};
use geometry::issue::lines_plan::{Strokes, caption, label, wide};
use geometry::lines::{Spot, girth, pick_up};
use geometry::loft::Loft;
use geometry::paper::{Text, Tone};
use geometry::spline::Jet;

use super::ladder::Ladder;
use super::paint::Shade;
use super::scene;
use crate::views::drawing::{Point, strokes};

/// Width and height of the strip, px.
pub const SIZE: (f64, f64) = (620.0, 140.0);

const LEFT: f64 = 62.0;
const RIGHT: f64 = 600.0;
const TOP: f64 = 34.0;
const FOOT: f64 = 114.0;

/// How far from a run line the curve ends, px.
const GAP: f64 = 3.0;

/// Samples between two run lines.
const SAMPLES: u32 = 80;

/// A strip as path strings and labels.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Strip {
    /// What it shows.
    pub caption: String,
    /// Classes and paths.
    pub paths: Vec<(&'static str, String)>,
    /// Letters.
    pub labels: Vec<Text>,
}

fn bend(jet: &Jet, shade: Shade) -> f64 {
    match shade {
        Shade::Across | Shade::Stripes => jet.across(),
        Shade::Compound => scene::compound(jet.gaussian()),
        Shade::Along => jet.along(),
    }
}

impl Strip {
    /// The strip of a station; none where the loft does not reach it.
    pub fn of(lines: &Lines, loft: &Loft, x: f64, shade: Shade, ladder: &Ladder) -> Option<Self> {
        let surface = loft.surface();
        let [from, to] = loft.extent();
        if x < from || x > to {
            return None;
        }
        let row = surface.row(surface.u_at(x));
        let whole = girth(&row, 0.0, 1.0);
        if whole.is_nan() || whole < 1.0 {
            return None; // a tip
        }
        let across = |v: f64| LEFT + (RIGHT - LEFT) * girth(&row, 0.0, v) / whole;
        // As on the Lines screen: the higher the tighter, and flat at the foot.
        let down = |radius: f64| TOP + (FOOT - TOP) * ladder.place(radius);
        let mut strip = Self::default();
        let (mut grid, mut uprights, mut curve) =
            (Strokes::default(), Strokes::default(), Strokes::default());
        let mut last = f64::NEG_INFINITY;
        for (radius, name) in &ladder.ticks {
            let y = down(*radius).round() + 0.5;
            if y - last < 13.0 || FOOT - y < 13.0 {
                continue;
            }
            last = y;
            grid.stroke((LEFT, y), (RIGHT, y));
            strip.labels.push(label((LEFT - 8.0, y + 4.0), name).end());
        }
        let flat = label((LEFT - 8.0, FOOT + 4.0), "flat").end();
        strip.labels.push(flat);
        let mut edges: Vec<(f64, String)> = Vec::new();
        let first = if loft.crown() { "crown" } else { "" };
        edges.push((0.0, first.to_owned()));
        for (id, v) in loft.run_lines() {
            let name = lines.body.line_name(On::RunLine(*id)).unwrap_or_default();
            edges.push((*v, name));
        }
        edges.push((1.0, if loft.keel() { "keel" } else { "" }.to_owned()));
        for (v, name) in &edges {
            let x = across(*v);
            uprights.stroke((x, TOP - 4.0), (x, FOOT + 6.0));
            if !name.is_empty() {
                strip
                    .labels
                    .push(label((x, FOOT + 19.0), name).middle().tone(Tone::Ink));
            }
        }
        for pair in edges.windows(2) {
            let (a, b) = (pair[0].0, pair[1].0);
            if b - a < 1e-9 {
                continue;
            }
            // Just inside the run lines, where a knuckle has two values.
            let inside = (b - a) * 1e-7;
            let places = (0..=SAMPLES).map(|k| {
                let v = a + (b - a) * f64::from(k) / f64::from(SAMPLES);
                v.clamp(a + inside, b - inside)
            });
            // Plates end at a run line, and so does the curve: a radius on one side says nothing of the other.
            let (from, to) = (across(a), across(b));
            // What is off the scale is left out; a level line there would be taken for a constant radius.
            let seen: Vec<Option<Point>> = places
                .map(|v| {
                    let radius = (1.0 / bend(&row.jet(v), shade).abs()).min(1e9);
                    let (x, share) = (across(v), ladder.place(radius));
                    let clear =
                        x >= from + GAP * f64::from(a > 0.0) && x <= to - GAP * f64::from(b < 1.0);
                    (clear && share > 0.0).then(|| (x, down(radius)))
                })
                .collect();
            for part in seen.split(Option::is_none) {
                curve.line(part.iter().flatten().copied());
            }
        }
        let mut last = LEFT;
        for plane in &lines.body.planes {
            let Place::Waterline(z) = plane.place else {
                continue;
            };
            let Ok(at) = pick_up(surface, x, Spot::Waterline(z)) else {
                continue;
            };
            let x = across(at.v);
            grid.stroke((x, TOP), (x, FOOT));
            let clear = edges.iter().all(|(v, _)| (across(*v) - x).abs() > 24.0);
            let name = plane.name.trim_start_matches("WL ");
            if clear && (x - last).abs() > wide(name) + 8.0 {
                strip.labels.push(label((x, FOOT + 19.0), name).middle());
                last = x;
            }
        }
        let what = match shade {
            Shade::Across | Shade::Stripes => "Radius across",
            Shade::Along => "Radius along",
            Shade::Compound => "Compound radius",
        };
        let station = lines
            .body
            .stations
            .iter()
            .find(|s| geometry::num::same(s.x, x))
            .map_or_else(String::new, |s| lines.body.station_name(s.id));
        strip.caption = format!("{what} at {station}, from crown to keel");
        strip
            .labels
            .push(caption((0.0, 14.0), strip.caption.clone()));
        strip.paths = vec![
            ("strip-grid", strokes(&grid)),
            ("leader", strokes(&uprights)),
            ("picked-line", strokes(&curve)),
        ];
        Some(strip)
    }
}
