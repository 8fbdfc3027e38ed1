//! The lettering over the shell: names of stations, waterlines and run lines, the ring of the picked point.
//!
//! In: the scene, the eye and what is picked. Out: labels and paths in px, placed by projection.

use geometry::document::{Lines, On, Place};
use geometry::issue::lines_plan::{Strokes, label, toned, wide};
use geometry::lines::CuttingPlane;
use geometry::loft::Loft;
use geometry::paper::{Text, Tone};
use geometry::spline::Jet;
use geometry::units::LengthUnit;

use super::eye::{Axes, Eye, Xyz, dot};
use super::scene::{Pen, Scene, Shows, Stroke, StrokePoint};
use crate::state::Pick;
use crate::views::drawing::{self, Point};
use crate::views::words::both_bends;

/// What is written over the shell.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Overlay {
    /// Names.
    pub labels: Vec<Text>,
    /// Leaders, as one path.
    pub leaders: Strokes,
    /// Where the picked point is drawn and how it is called, if it is on the near side.
    pub ring: Option<(Point, String)>,
}

/// The place of a point that is picked, with what the skin does there.
#[derive(Clone, Debug, PartialEq)]
pub struct PickedJet {
    /// Its name: station and line.
    pub name: String,
    /// On the starboard side.
    pub jet: Jet,
    /// Curvature across, 1/mm.
    pub across: f64,
    /// Curvature along, 1/mm.
    pub along: f64,
}

impl PickedJet {
    /// What the loft does at the picked point; none where that is not used.
    pub fn of(lines: &Lines, loft: &Loft, pick: Pick) -> Option<Self> {
        let at = loft
            .points()
            .iter()
            .find(|at| Some(at.point) == pick.point)?;
        let jet = loft.surface().jet(at.u, at.v);
        Some(Self {
            name: format!(
                "{}, {}",
                lines.body.station_name(pick.station),
                lines.body.line_name(pick.on).unwrap_or_default()
            ),
            across: jet.across(),
            along: jet.along(),
            jet,
        })
    }

    /// Where it is on the side that faces the eye; none where neither does.
    pub fn near_side(&self, axes: &Axes) -> Option<Xyz> {
        let (place, normal) = (self.jet.s.to_array(), self.jet.normal().to_array());
        let port = |[x, y, z]: Xyz| [x, -y, z];
        [(place, normal), (port(place), port(normal))]
            .into_iter()
            .map(|(place, normal)| (place, dot(normal, axes.near)))
            .filter(|(_, facing)| *facing >= 0.0 || facing.is_nan())
            .max_by(|a, b| a.1.total_cmp(&b.1))
            .map(|(place, _)| place)
    }
}

/// What the lettering is made of.
#[derive(Clone, Copy, Debug)]
pub struct Sight<'a> {
    /// The document.
    pub lines: &'a Lines,
    /// What is seen.
    pub scene: &'a Scene,
    /// All strokes, the asked cuts among them.
    pub asked: &'a [Stroke],
    /// What the asked cuts are called.
    pub cuts: &'a [(String, CuttingPlane)],
    /// From where.
    pub eye: &'a Eye,
    /// What is picked.
    pub pick: Pick,
    /// What the skin does there.
    pub picked: Option<&'a PickedJet>,
    /// In which unit.
    pub unit: LengthUnit,
    /// Width of the drawing, px.
    pub width: f64,
}

/// Labels that have a place already.
#[derive(Default)]
struct Taken(Vec<[f64; 4]>);

impl Taken {
    /// Takes a place, unless something stands there.
    fn take(&mut self, left: f64, foot: f64, width: f64) -> bool {
        let [l, t, r, b] = [left - 3.0, foot - 11.0, left + width + 3.0, foot + 3.0];
        let free = self
            .0
            .iter()
            .all(|box_| r < box_[0] || l > box_[2] || b < box_[1] || t > box_[3]);
        if free {
            self.0.push([l, t, r, b]);
        }
        free
    }
}

impl Overlay {
    /// Letters what is seen.
    pub fn of(sight: &Sight<'_>) -> Self {
        let mut overlay = Self::default();
        let mut taken = Taken::default();
        let axes = sight.eye.axes();
        overlay.ring(sight, &axes, &mut taken);
        overlay.stations(sight, &axes, &mut taken);
        overlay.ends(sight, &axes, &mut taken);
        overlay.asked(sight, &axes, &mut taken);
        overlay
    }

    /// Names of the asked cuts, over the highest place of each that is seen.
    fn asked(&mut self, sight: &Sight<'_>, axes: &Axes, taken: &mut Taken) {
        for (number, (name, _)) in sight.cuts.iter().enumerate() {
            let own = sight
                .asked
                .iter()
                .filter(|s| s.shows == Shows::Asked(number));
            let mut seen: Vec<Point> = own
                .flat_map(|stroke| &stroke.points)
                .filter(|point| faces(point, axes))
                .map(|point| sight.eye.project(axes, point.0))
                .collect();
            geometry::num::put_in_order(&mut seen, |a, b| a.1.total_cmp(&b.1));
            let Some(top) = seen.first().copied() else {
                continue;
            };
            // Higher, where other names have the place, or over a lower place of the cut.
            let tries = seen.iter().step_by(8);
            let mut rooms = tries.flat_map(|at| [19.0, 34.0, 49.0].map(|up| (*at, up)));
            let wide = wide(name);
            let room = rooms.find(|((x, y), up)| taken.take(x - wide / 2.0, y - up, wide));
            let ((x, y), up) = room.unwrap_or((top, 19.0));
            self.leaders.stroke((x, y - 4.0), (x, y - up + 5.0));
            self.labels
                .push(label((x, y - up), name.clone()).middle().tone(Tone::Ink));
        }
    }

    fn ring(&mut self, sight: &Sight<'_>, axes: &Axes, taken: &mut Taken) {
        let Some(picked) = sight.picked else { return };
        let Some(place) = picked.near_side(axes) else {
            return;
        };
        let at = sight.eye.project(axes, place);
        let [across, along] = both_bends([picked.across, picked.along], sight.unit);
        let radii = format!("across {across}, along {along}");
        // To the right below, but on the sheet.
        let wide = wide(&picked.name).max(wide(&radii));
        let foot = at.1 + 52.0;
        let left = (at.0 + 40.0).min(sight.width - wide - 6.0).max(4.0);
        let to = (at.0 + 36.0).clamp(left, left + wide);
        let reach = geometry::num::hypot(to - at.0, 40.0);
        let way = ((to - at.0) / reach, 40.0 / reach);
        self.leaders.stroke(
            (at.0 + 11.0 * way.0, at.1 + 11.0 * way.1),
            (to, foot - 12.0),
        );
        taken.take(left, foot, wide);
        taken.take(left, foot + 15.0, wide);
        let name = picked.name.clone();
        self.labels
            .push(toned(label((left, foot), name), Tone::Picked));
        self.labels
            .push(label((left, foot + 15.0), radii).tone(Tone::Ink));
        self.ring = Some((at, picked.name.clone()));
    }

    /// Station numbers over the highest place of each section that is seen; the picked one first, so that it has its place.
    fn stations(&mut self, sight: &Sight<'_>, axes: &Axes, taken: &mut Taken) {
        let mut heads: Vec<(bool, String, Point)> = Vec::new();
        for station in &sight.lines.body.stations {
            let strokes = sight.scene.strokes.iter();
            let own = strokes.filter(|s| s.shows == Shows::Station(station.id));
            let top = own
                .flat_map(|stroke| &stroke.points)
                .filter(|point| faces(point, axes))
                .map(|point| sight.eye.project(axes, point.0))
                .min_by(|a, b| a.1.total_cmp(&b.1));
            if let Some(top) = top {
                let picked = station.id == sight.pick.station;
                heads.push((picked, station.label.clone(), top));
            }
        }
        let first = heads
            .iter()
            .map(|head| head.2)
            .min_by(|a, b| a.0.total_cmp(&b.0));
        geometry::num::put_in_order(&mut heads, |a, b| b.0.cmp(&a.0));
        for (picked, text, (x, y)) in heads {
            if !taken.take(x - wide(&text) / 2.0, y - 19.0, wide(&text)) {
                continue;
            }
            self.leaders.stroke((x, y - 4.0), (x, y - 14.0));
            let tone = if picked { Tone::Picked } else { Tone::Thin };
            self.labels
                .push(toned(label((x, y - 19.0), text).middle(), tone));
        }
        if let Some((x, y)) = first
            && taken.take(x - 14.0 - wide("STA"), y - 19.0, wide("STA"))
        {
            self.labels.push(label((x - 14.0, y - 19.0), "STA").end());
        }
    }

    /// Waterlines at their forward ends, run lines at their aft ends, where the skin faces the eye.
    fn ends(&mut self, sight: &Sight<'_>, axes: &Axes, taken: &mut Taken) {
        let mut named: Vec<Shows> = Vec::new();
        let mut family = true;
        for stroke in sight.scene.strokes.iter().rev() {
            let Shows::Line(on) = stroke.shows else {
                continue;
            };
            if named.contains(&stroke.shows) || !matches!(stroke.pen, Pen::Waterline | Pen::Run) {
                continue;
            }
            let forward = stroke.pen == Pen::Waterline;
            let Some((place, _)) = end_of(stroke, forward).filter(|point| faces(point, axes))
            else {
                continue;
            };
            let (x, y) = sight.eye.project(axes, place);
            let name = end_name(sight.lines, on);
            // Away from the body: the way its end points on the screen.
            let leftwards = (axes.right[0] > 0.0) == forward;
            let at = if leftwards {
                (x - 7.0, y + 4.0)
            } else {
                (x + 7.0, y + 4.0)
            };
            let wide = wide(&name) + if forward && family { 22.0 } else { 0.0 };
            let left = if leftwards { at.0 - wide } else { at.0 };
            if axes.right[0].abs() < 0.2 || !taken.take(left, at.1, wide) {
                continue;
            }
            named.push(stroke.shows);
            let text = if forward && family && is_level(sight.lines, on) {
                family = false;
                format!("WL {name}")
            } else {
                name
            };
            let own = label(at, text).tone(if forward { Tone::Thin } else { Tone::Ink });
            self.labels.push(if leftwards { own.end() } else { own });
        }
    }
}

fn is_level(lines: &Lines, on: On) -> bool {
    let On::Plane(id) = on else { return false };
    lines
        .body
        .plane(id)
        .is_some_and(|plane| matches!(plane.place, Place::Waterline(_)))
}

/// A waterline's number without its family, which is written once; another line's whole name.
fn end_name(lines: &Lines, on: On) -> String {
    let name = lines.body.line_name(on).unwrap_or_default();
    match name.strip_prefix("WL ") {
        Some(number) if is_level(lines, on) => number.to_owned(),
        _ => name,
    }
}

/// The foremost or aftmost point of a stroke.
fn end_of(stroke: &Stroke, forward: bool) -> Option<StrokePoint> {
    let sign = if forward { 1.0 } else { -1.0 };
    stroke
        .points
        .iter()
        .copied()
        .min_by(|a, b| (sign * a.0[0]).total_cmp(&(sign * b.0[0])))
}

fn faces(point: &StrokePoint, axes: &Axes) -> bool {
    point.1.is_none_or(|outward| dot(outward, axes.near) > 0.02)
}

/// The strokes as flat lines, near side only, for a browser without graphics: one path for each pen.
pub fn flat(strokes: &[Stroke], eye: &Eye) -> Vec<(&'static str, String)> {
    let axes = eye.axes();
    let pens = [
        (Pen::Waterline, "waterline"),
        (Pen::Station, "section"),
        (Pen::Run, "run"),
        (Pen::Rim, "section"),
        (Pen::Cut, "run"),
        (Pen::Stem, "run"),
        (Pen::Picked, "picked-line"),
    ];
    pens.into_iter()
        .map(|(pen, class)| {
            let mut path = Strokes::default();
            for stroke in strokes.iter().filter(|stroke| stroke.pen == pen) {
                for run in stroke.points.split(|point| !faces(point, &axes)) {
                    path.line(run.iter().map(|point| eye.project(&axes, point.0)));
                }
            }
            (class, drawing::strokes(&path))
        })
        .collect()
}
