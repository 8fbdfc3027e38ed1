//! The lines plan as strings: everything that is drawn, worked out at once from the loft, the layout and the pick.
//!
//! In: document, loft, the lines that are shown, sizes. Out: a [`Plan`] of path strings and labels, which `lines` puts on
//! the page. Family by family one path, so that a drag changes a dozen attributes.

use std::collections::BTreeSet;

use geometry::document::{Lines, On, Place, PointId, StationId};
use geometry::lines::{Branch, Comb, Node, comb};
use geometry::loft::Loft;
use geometry::units::{LengthUnit, format_length};

use super::drawing::{Frame, Label, Path, Point, label, radius_words, round_125, spread};
use crate::state::derived::Shown as ShownLines;
use crate::state::{Pick, Shown};

/// px of one CSS millimetre.
const MM: f64 = 96.0 / 25.4;

/// Teeth stand this far apart, px.
const TEETH: f64 = 4.5;

/// Bars show tolerances so many times their true size.
pub const BARS: f64 = 10.0;

/// Where the views stand.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Layout {
    /// Width and height of the drawing, px.
    pub size: (f64, f64),
    /// From the side.
    pub profile: Option<Frame>,
    /// From above.
    pub half_breadth: Option<Frame>,
    /// From the ends; forward sections are drawn to the left.
    pub body: Option<Frame>,
    /// Radius along the picked line: top and bottom, px.
    pub strip: Option<[f64; 2]>,
}

/// What a body spans, mm: x, half-breadth, height.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Extent {
    x: [f64; 2],
    y: f64,
    z: [f64; 2],
}

impl Extent {
    /// Of a document's points, and its loft where there is one.
    pub fn of(lines: &Lines) -> Self {
        let mut extent = Self {
            x: [f64::INFINITY, f64::NEG_INFINITY],
            y: 0.0,
            z: [0.0, f64::NEG_INFINITY],
        };
        for station in &lines.stations {
            extent.x = [extent.x[0].min(station.x), extent.x[1].max(station.x)];
        }
        for offset in lines.offsets().iter().flatten() {
            extent.y = extent.y.max(offset.recorded[0]);
            extent.z = [
                extent.z[0].min(offset.recorded[1]),
                extent.z[1].max(offset.recorded[1]),
            ];
        }
        if !(extent.x[1] > extent.x[0] && extent.z[1] > extent.z[0] && extent.y > 0.0) {
            extent = Self {
                x: [0.0, 1000.0],
                y: 250.0,
                z: [0.0, 500.0],
            };
        }
        extent
    }
}

impl Layout {
    /// Lays out the three views: all on one sheet on a desk, the chosen one alone on a phone.
    pub fn of(size: (f64, f64), extent: Extent, shown: Shown) -> Self {
        let (width, height) = size;
        let length = extent.x[1] - extent.x[0];
        let tall = extent.z[1] - extent.z[0];
        if width < 900.0 {
            return Self::alone(size, extent, shown);
        }
        // Left and right of the long views there is room for names; the body plan stands right of them.
        let (left, names, right) = (78.0, 50.0, 24.0);
        let across =
            |scale: f64| left + length * scale + names + 2.0 * extent.y * scale + 80.0 + right;
        let down = |scale: f64| 60.0 + tall * scale + 64.0 + extent.y * scale + 64.0;
        let strip = 112.0;
        let mut scale: f64 = 10.0;
        for _ in 0..60 {
            if across(scale) > width || down(scale) + strip > height {
                scale *= 0.93;
            }
        }
        let spare = (height - down(scale) - strip).max(0.0);
        let top = 60.0 + spare * 0.2;
        let base = top + tall * scale;
        let end = left + length * scale;
        let profile = Frame {
            origin: (left - extent.x[0] * scale, base + extent.z[0] * scale),
            scale: (scale, -scale),
            area: [0.0, 0.0, end + names, base + 24.0],
        };
        let hb_top = base + 64.0 + spare * 0.25;
        let hb_base = hb_top + extent.y * scale;
        let half_breadth = Frame {
            origin: (left - extent.x[0] * scale, hb_base),
            scale: (scale, -scale),
            area: [0.0, base + 24.0, end + names, hb_base + 30.0],
        };
        // The body plan keeps the profile's base and scale, and takes the middle of what is left.
        let middle = end + names + (width - right - end - names) / 2.0 - 10.0;
        let body = Frame {
            origin: (middle, profile.origin.1),
            scale: (scale, -scale),
            area: [end + names, 0.0, width, base + 40.0],
        };
        let strip_top = hb_base + 52.0 + spare * 0.25;
        Self {
            size,
            profile: Some(profile),
            half_breadth: Some(half_breadth),
            body: Some(body),
            strip: Some([strip_top, (strip_top + 92.0).min(height - 10.0)]),
        }
    }

    fn alone(size: (f64, f64), extent: Extent, shown: Shown) -> Self {
        let (width, height) = size;
        let area = [0.0, 0.0, width, height];
        let mut layout = Self {
            size,
            profile: None,
            half_breadth: None,
            body: None,
            strip: None,
        };
        let (left, right, top, bottom) = (38.0, 52.0, 48.0, 34.0);
        let fit = |w: f64, h: f64| ((width - left - right) / w).min((height - top - bottom) / h);
        let length = extent.x[1] - extent.x[0];
        let tall = extent.z[1] - extent.z[0];
        match shown {
            Shown::Profile => {
                let scale = fit(length, tall);
                let base = (height + tall * scale) / 2.0;
                let origin = (left - extent.x[0] * scale, base + extent.z[0] * scale);
                layout.profile = Some(Frame {
                    origin,
                    scale: (scale, -scale),
                    area,
                });
            }
            Shown::HalfBreadth => {
                let scale = fit(length, extent.y);
                let base = (height + extent.y * scale) / 2.0;
                layout.half_breadth = Some(Frame {
                    origin: (left - extent.x[0] * scale, base),
                    scale: (scale, -scale),
                    area,
                });
            }
            Shown::BodyPlan => {
                let scale = fit(2.0 * extent.y, tall);
                let base = (height + tall * scale) / 2.0;
                layout.body = Some(Frame {
                    origin: (width / 2.0, base + extent.z[0] * scale),
                    scale: (scale, -scale),
                    area,
                });
            }
        }
        layout
    }

    /// px per mm.
    pub fn scale(&self) -> f64 {
        [self.profile, self.half_breadth, self.body]
            .into_iter()
            .flatten()
            .next()
            .map_or(1.0, |f| f.scale.0)
    }
}

/// Everything that is drawn.
#[derive(Clone, Debug, Default)]
pub struct Plan {
    /// Paths by class, in the order they are drawn: what lies under the lines first.
    pub paths: Vec<(&'static str, String)>,
    /// Labels.
    pub labels: Vec<Label>,
    /// Readings as they can be picked: point and place on the screen.
    pub targets: Vec<(PointId, Point)>,
    /// Ring round the picked point, one for each view.
    pub rings: Vec<Point>,
    /// Text of the comb's legend.
    pub legend: Option<Legend>,
}

/// The comb's legend.
#[derive(Clone, Debug, PartialEq)]
pub struct Legend {
    /// Where it stands, px.
    pub at: Point,
    /// Names of the lines with combs.
    pub title: String,
    /// Radius of a tooth of 10 mm.
    pub radius: String,
}

/// Everything a plan is drawn from.
#[derive(Clone, Copy, Debug)]
pub struct Scene<'a> {
    /// The document.
    pub lines: &'a Lines,
    /// Its loft.
    pub loft: &'a Loft,
    /// Its lines.
    pub shown: &'a ShownLines,
    /// Where the views stand.
    pub layout: &'a Layout,
    /// What is picked.
    pub pick: Pick,
    /// Lines with combs.
    pub combs: &'a BTreeSet<On>,
    /// px per (1/mm) of a tooth.
    pub tooth: f64,
}

fn side(node: &Node) -> (f64, f64) {
    (node.point.x, node.point.z)
}

fn above(node: &Node) -> (f64, f64) {
    (node.point.x, node.point.y)
}

/// Branches of a line: in the profile for runs and buttocks, in the half-breadth plan for the others.
fn branches_of(shown: &ShownLines, on: On, from_above: bool) -> Vec<&Branch> {
    match on {
        On::Plane(id) | On::PlaneUpper(id) => shown
            .planes
            .iter()
            .filter(|(plane, _)| *plane == id)
            .flat_map(|(_, b)| b)
            .collect(),
        On::Crown | On::Keel | On::RunLine(_) => shown
            .runs
            .iter()
            .filter(|(line, ..)| *line == on)
            .map(|(_, profile, plan)| if from_above { plan } else { profile })
            .collect(),
        On::Free => Vec::new(),
    }
}

/// px per (1/mm) so that the 95th-percentile tooth is 18 mm, as a round radius for a tooth of 10 mm.
pub fn tooth_scale(lines: &Lines, shown: &ShownLines, combs: &BTreeSet<On>, doublings: i32) -> f64 {
    let mut sizes: Vec<f64> = combs
        .iter()
        .flat_map(|on| branches_of(shown, *on, in_plan(lines, *on)))
        .flat_map(|branch| branch.nodes.iter().map(|node| node.curvature.abs()))
        .filter(|k| k.is_finite())
        .collect();
    sizes.sort_by(f64::total_cmp);
    let large = sizes
        .get(sizes.len() * 95 / 100)
        .copied()
        .unwrap_or(0.0)
        .max(1e-9);
    let radius = round_125(18.0 / 10.0 / large); // of a tooth of 10 mm, mm
    let factor =
        (0..doublings.abs()).fold(1.0, |f, _| if doublings > 0 { f * 2.0 } else { f / 2.0 });
    10.0 * MM * radius * factor
}

/// Whether a line's comb is drawn in the half-breadth plan.
fn in_plan(lines: &Lines, on: On) -> bool {
    matches!(
        lines.place_of(on),
        Some(Place::Waterline(_) | Place::Diagonal { .. })
    )
}

/// The place of x in station numbers, where the labels are numbers.
pub fn station_at(lines: &Lines, x: f64) -> String {
    let numbered: Vec<(f64, f64)> = lines
        .stations
        .iter()
        .filter_map(|s| Some((s.x, s.label.parse::<f64>().ok()?)))
        .collect();
    let after = numbered
        .partition_point(|(at, _)| *at < x)
        .clamp(1, numbered.len().max(2) - 1);
    match (numbered.get(after - 1), numbered.get(after)) {
        (Some((x0, n0)), Some((x1, n1))) => format!("{:.0}", n0 + (n1 - n0) * (x - x0) / (x1 - x0)),
        _ => format!("{x:.0}"),
    }
}

impl Plan {
    fn add(&mut self, class: &'static str, path: Path) {
        if !path.0.is_empty() {
            self.paths.push((class, path.0));
        }
    }

    /// Works out the whole drawing.
    pub fn of(scene: &Scene<'_>) -> Self {
        let mut plan = Self::default();
        plan.grid(scene);
        plan.combs(scene);
        plan.families(scene);
        plan.picked(scene);
        plan.readings(scene);
        plan.strip(scene);
        plan.body_labels(scene);
        plan
    }

    #[expect(
        clippy::too_many_lines,
        reason = "one sheet of ruled paper, three views"
    )]
    fn grid(&mut self, scene: &Scene<'_>) {
        let Scene {
            lines,
            layout,
            pick,
            ..
        } = scene;
        let (mut rules, mut levels, mut uprights, mut centre) = (
            Path::default(),
            Path::default(),
            Path::default(),
            Path::default(),
        );
        let [x0, x1] = scene.loft.extent();
        for (frame, up) in [(layout.profile, true), (layout.half_breadth, false)] {
            let Some(frame) = frame else { continue };
            let [_, top, _, bottom] = frame.area;
            let (from, to) = if up {
                (top + 46.0, bottom - 14.0)
            } else {
                (
                    frame.origin.1 - Extent::of(lines).y * frame.scale.0,
                    frame.origin.1 + 5.0,
                )
            };
            let mut written = f64::NEG_INFINITY;
            for station in &lines.stations {
                let x = frame.at(station.x, 0.0).0.floor() + 0.5;
                rules.stroke((x, from), (x, to));
                let picked = station.id == pick.station;
                if x - written < 18.0 && !picked {
                    continue;
                }
                written = x;
                let y = if up {
                    from - 6.0
                } else {
                    frame.origin.1 + 17.0
                };
                self.labels.push(label(
                    (x, y),
                    station.label.clone(),
                    if picked { "middle picked" } else { "middle" },
                ));
            }
            let name = if up {
                (top + 24.0, "Profile")
            } else {
                (from - 26.0, "Half-breadth")
            };
            self.labels.push(label(
                (if layout.size.0 < 900.0 { 12.0 } else { 24.0 }, name.0),
                name.1,
                "caption",
            ));
            if up {
                self.labels.push(label(
                    (frame.at(x0, 0.0).0 - 14.0, from - 6.0),
                    "STA",
                    "end",
                ));
            } else {
                let y = frame.origin.1.floor() + 0.5;
                centre.stroke(
                    (frame.at(x0, 0.0).0 - 8.0, y),
                    (frame.at(x1, 0.0).0 + 6.0, y),
                );
                self.labels
                    .push(label((frame.at(x1, 0.0).0 + 10.0, y + 4.0), "CL", ""));
            }
        }
        let mut last_level = f64::INFINITY;
        let mut waterlines: Vec<_> = lines.planes.iter().collect();
        waterlines.sort_by(|a, b| height_of(a.place).total_cmp(&height_of(b.place)));
        for plane in waterlines {
            match plane.place {
                Place::Waterline(z) => {
                    let name = plane.name.trim_start_matches("WL ").to_owned();
                    if let Some(frame) = layout.profile {
                        let y = frame.at(0.0, z).1.floor() + 0.5;
                        levels.stroke(
                            (frame.at(x0, 0.0).0 - 8.0, y),
                            (frame.at(x1, 0.0).0 + 6.0, y),
                        );
                        if last_level - y > 11.0 {
                            self.labels.push(label(
                                (frame.at(x0, 0.0).0 - 13.0, y + 4.0),
                                name.clone(),
                                "end",
                            ));
                            last_level = y;
                        }
                    }
                    if let Some(frame) = layout.body {
                        let y = frame.at(0.0, z).1.floor() + 0.5;
                        let half = Extent::of(lines).y * frame.scale.0 + 12.0;
                        levels.stroke((frame.origin.0 - half, y), (frame.origin.0 + half, y));
                        self.labels
                            .push(label((frame.origin.0 + half + 6.0, y + 4.0), name, ""));
                    }
                }
                Place::Buttock(y) => {
                    if let Some(frame) = layout.half_breadth {
                        let (right, at) = (frame.at(x1, 0.0).0, frame.at(0.0, y).1.floor() + 0.5);
                        uprights.stroke((frame.at(x0, 0.0).0, at), (right + 6.0, at));
                        self.labels
                            .push(label((right + 10.0, at + 4.0), plane.name.clone(), ""));
                    }
                    if let Some(frame) = layout.body {
                        for sign in [-1.0, 1.0] {
                            let x = frame.at(sign * y, 0.0).0.floor() + 0.5;
                            let z = Extent::of(lines).z;
                            uprights.stroke(
                                (x, frame.at(0.0, z[1]).1 - 6.0),
                                (x, frame.at(0.0, z[0]).1 + 6.0),
                            );
                            let foot = frame.at(0.0, z[0]).1 + 18.0;
                            let name = plane.name.trim_start_matches("BL ").to_owned();
                            self.labels.push(label((x, foot), name, "middle"));
                        }
                    }
                }
                Place::Diagonal { .. } => {}
            }
        }
        if let Some(frame) = layout.body {
            let z = Extent::of(lines).z;
            let x = frame.origin.0;
            centre.stroke(
                (x, frame.at(0.0, z[1]).1 - 12.0),
                (x, frame.at(0.0, z[0]).1 + 8.0),
            );
            let top = frame.at(0.0, z[1]).1 - 18.0;
            self.labels.push(label((x - 10.0, top), "forward", "end"));
            self.labels.push(label((x + 10.0, top), "aft", ""));
            self.labels
                .push(label((x, frame.at(0.0, z[0]).1 + 18.0), "CL", "middle"));
            let left = if layout.size.0 < 900.0 {
                12.0
            } else {
                frame.area[0] + 14.0
            };
            self.labels
                .push(label((left, 24.0), "Body plan", "caption"));
        }
        self.add("station-rule", rules);
        self.add("trace", levels);
        self.add("trace buttock-trace", uprights);
        self.add("centreline", centre);
    }

    fn combs(&mut self, scene: &Scene<'_>) {
        let (mut teeth, mut envelope, mut hollow) =
            (Path::default(), Path::default(), Path::default());
        for on in scene.combs {
            let plan = in_plan(scene.lines, *on);
            let frame = if plan {
                scene.layout.half_breadth
            } else {
                scene.layout.profile
            };
            let Some(frame) = frame else { continue };
            for branch in branches_of(scene.shown, *on, plan) {
                let comb = comb(branch, TEETH / frame.scale.0);
                draw_comb(
                    &comb,
                    &frame,
                    (plan, scene.tooth),
                    (&mut teeth, &mut envelope, &mut hollow),
                );
                self.name_hollows(scene, &comb, &frame, plan);
            }
        }
        self.add("hollow", hollow);
        self.add("tooth", teeth);
        self.add("envelope", envelope);
        let names: Vec<String> = scene
            .combs
            .iter()
            .filter_map(|on| scene.lines.line_name(*on))
            .collect();
        if let (Some(frame), false) = (
            scene.layout.profile.or(scene.layout.half_breadth),
            names.is_empty(),
        ) {
            let [x0, x1] = scene.loft.extent();
            let wide = scene.layout.size.0 >= 900.0;
            let at = if wide {
                (frame.at(x1, 0.0).0 - 160.0, frame.area[3] - 84.0)
            } else {
                (frame.at(x0, 0.0).0, frame.area[3] - 8.0)
            };
            self.legend = Some(Legend {
                at,
                title: format!("Comb of {}", names.join(", ")),
                radius: radius_words(scene.tooth / (10.0 * MM)),
            });
        }
    }

    fn name_hollows(&mut self, scene: &Scene<'_>, comb: &Comb, frame: &Frame, plan: bool) {
        for run in &comb.runs {
            let hollows = run
                .split(|tooth| tooth.curvature <= 0.0)
                .filter(|part| part.len() > 2);
            for part in hollows {
                let Some(deepest) = part
                    .iter()
                    .max_by(|a, b| a.curvature.total_cmp(&b.curvature))
                else {
                    continue;
                };
                if deepest.curvature * scene.tooth < 3.0 {
                    continue; // a third of a millimetre of tooth is no hollow to speak of
                }
                let (from, to) = (part[0].root.x, part[part.len() - 1].root.x);
                let at = tip(deepest, frame, plan, scene.tooth);
                let words = format!(
                    "hollow, STA {}–{}",
                    station_at(scene.lines, from),
                    station_at(scene.lines, to)
                );
                let mut note = label((at.0 + 14.0, at.1 - 8.0), words, "ink");
                note.patch = true;
                self.labels.push(note);
            }
        }
    }

    fn families(&mut self, scene: &Scene<'_>) {
        let Scene {
            lines,
            layout,
            shown,
            ..
        } = scene;
        let (mut sections, mut waterlines, mut buttocks, mut diagonals, mut runs) = (
            Path::default(),
            Path::default(),
            Path::default(),
            Path::default(),
            Path::default(),
        );
        let mut ends: Vec<(f64, String, &'static str)> = Vec::new();
        let mut starts: Vec<(f64, String)> = Vec::new();
        for (id, branches) in &shown.planes {
            let Some(plane) = lines.plane(*id) else {
                continue;
            };
            for branch in branches {
                match plane.place {
                    Place::Waterline(_) => {
                        if let Some(frame) = layout.half_breadth {
                            waterlines.branch(branch, &frame, above);
                        }
                    }
                    Place::Diagonal { .. } => {
                        if let Some(frame) = layout.half_breadth {
                            diagonals.branch(branch, &frame, above);
                        }
                    }
                    Place::Buttock(_) => {
                        if let Some(frame) = layout.profile {
                            buttocks.branch(branch, &frame, side);
                        }
                    }
                }
            }
            if let (Place::Waterline(_), Some(frame)) = (plane.place, layout.half_breadth) {
                let forward = branches
                    .iter()
                    .filter_map(|b| b.nodes.first())
                    .min_by(|a, b| a.point.x.total_cmp(&b.point.x));
                if let Some(node) = forward {
                    starts.push((
                        frame.at(0.0, node.point.y).1,
                        plane.name.trim_start_matches("WL ").to_owned(),
                    ));
                }
            }
        }
        for (on, profile, plan) in &shown.runs {
            let name = lines.line_name(*on).unwrap_or_default();
            let class = if *on == scene.pick.on {
                "picked"
            } else {
                "ink"
            };
            if let Some(frame) = layout.profile {
                runs.branch(profile, &frame, side);
                if let Some(last) = profile.nodes.last() {
                    ends.push((frame.at(0.0, last.point.z).1, name.clone(), class));
                }
            }
            if let (Some(frame), On::RunLine(_)) = (layout.half_breadth, on) {
                runs.branch(plan, &frame, above);
                if let Some(first) = plan.nodes.first() {
                    starts.push((frame.at(0.0, first.point.y).1, name));
                }
            }
        }
        self.body_sections(scene, &mut sections, &mut runs);
        self.add("section", sections);
        self.add("waterline", waterlines);
        self.add("buttock", buttocks);
        self.add("diagonal", diagonals);
        self.add("run", runs);
        self.end_labels(scene, ends, starts);
        self.buttock_labels(scene);
    }

    fn end_labels(
        &mut self,
        scene: &Scene<'_>,
        ends: Vec<(f64, String, &'static str)>,
        starts: Vec<(f64, String)>,
    ) {
        let [x0, x1] = scene.loft.extent();
        if let Some(frame) = scene.layout.profile {
            let mut places: Vec<f64> = ends.iter().map(|e| e.0).collect();
            spread(&mut places, 13.0, frame.area[1], frame.area[3]);
            for ((_, name, class), y) in ends.into_iter().zip(places) {
                self.labels
                    .push(label((frame.at(x1, 0.0).0 + 10.0, y + 4.0), name, class));
            }
        }
        if let Some(frame) = scene.layout.half_breadth {
            let mut leaders = Path::default();
            let mut places: Vec<f64> = starts.iter().map(|s| s.0).collect();
            spread(
                &mut places,
                12.0,
                frame.area[1] + 30.0,
                frame.origin.1 - 4.0,
            );
            let x = frame.at(x0, 0.0).0;
            for ((from, name), y) in starts.into_iter().zip(places) {
                leaders.stroke((x - 2.0, from), (x - 12.0, y));
                self.labels.push(label((x - 15.0, y + 4.0), name, "end"));
            }
            self.add("leader", leaders);
        }
    }

    fn buttock_labels(&mut self, scene: &Scene<'_>) {
        let Some(frame) = scene.layout.profile else {
            return;
        };
        let buttocks = scene.shown.planes.iter().filter_map(|(id, branches)| {
            let plane = scene.lines.plane(*id)?;
            matches!(plane.place, Place::Buttock(_)).then_some((plane, branches))
        });
        for (step, (plane, branches)) in buttocks.enumerate() {
            // On the upper branch, stepping aft like a staircase.
            let upper = branches.iter().max_by(|a, b| top(a).total_cmp(&top(b)));
            let Some(nodes) = upper.map(|b| &b.nodes) else {
                continue;
            };
            let share = 0.05 + 0.05 * step as f64;
            let [x0, x1] = scene.loft.extent();
            let x = x0 + (x1 - x0) * share;
            if let Some(node) = nodes
                .iter()
                .min_by(|a, b| (a.point.x - x).abs().total_cmp(&(b.point.x - x).abs()))
            {
                let (a, b) = frame.at(node.point.x, node.point.z);
                let mut name = label((a, b + 4.0), plane.name.clone(), "middle");
                name.patch = true;
                self.labels.push(name);
            }
        }
    }

    /// Sections forward of the widest to the left, the others to the right; run lines across them.
    fn body_sections(&mut self, scene: &Scene<'_>, sections: &mut Path, runs: &mut Path) {
        let Some(frame) = scene.layout.body else {
            return;
        };
        let forward = forward_stations(scene);
        for (id, branch) in &scene.shown.sections {
            let sign = if forward.contains(id) { -1.0 } else { 1.0 };
            sections.line(
                branch
                    .nodes
                    .iter()
                    .map(|n| frame.at(sign * n.point.y, n.point.z)),
            );
        }
        for (on, ..) in &scene.shown.runs {
            let On::RunLine(line) = on else { continue };
            let Some(v) = scene.loft.run_line_v(*line) else {
                continue;
            };
            for left in [true, false] {
                let stations = scene
                    .lines
                    .stations
                    .iter()
                    .filter(|s| forward.contains(&s.id) == left);
                runs.line(stations.map(|s| {
                    let at = scene.loft.surface().position(scene.loft.u_at(s.x), v);
                    frame.at(if left { -at.y } else { at.y }, at.z)
                }));
            }
        }
    }

    fn body_labels(&mut self, scene: &Scene<'_>) {
        let Some(frame) = scene.layout.body else {
            return;
        };
        let forward = forward_stations(scene);
        let mut leaders = Path::default();
        for left in [true, false] {
            let mut rows: Vec<(f64, Point, &str, bool)> = Vec::new();
            for (id, branch) in &scene.shown.sections {
                let Some(station) = scene
                    .lines
                    .station(*id)
                    .filter(|_| forward.contains(id) == left)
                else {
                    continue;
                };
                let foot = branch
                    .nodes
                    .last()
                    .map_or(DZERO, |n| (n.point.y, n.point.z));
                let at = frame.at(if left { -foot.0 } else { foot.0 }, foot.1);
                rows.push((at.1, at, &station.label, *id == scene.pick.station));
            }
            let mut places: Vec<f64> = rows.iter().map(|r| r.0).collect();
            let z = Extent::of(scene.lines).z;
            spread(
                &mut places,
                11.0,
                frame.at(0.0, z[1]).1 + 20.0,
                frame.at(0.0, z[0]).1 - 2.0,
            );
            for ((_, at, name, picked), y) in rows.into_iter().zip(places) {
                // Inside the half that is empty of these sections' feet: beside the centre plane.
                let x = if left {
                    frame.origin.0 - 16.0
                } else {
                    frame.origin.0 + 16.0
                };
                let class = match (picked, left) {
                    (true, true) => "picked end",
                    (true, false) => "picked",
                    (false, true) => "end",
                    (false, false) => "",
                };
                let mut name = label((x, y + 4.0), name, class);
                name.patch = true;
                leaders.stroke((at.0, at.1), (if left { x + 3.0 } else { x - 3.0 }, y));
                self.labels.push(name);
            }
        }
        self.add("leader", leaders);
    }

    fn picked(&mut self, scene: &Scene<'_>) {
        let Scene {
            layout,
            pick,
            lines,
            ..
        } = scene;
        let mut path = Path::default();
        let on = pick.on;
        for branch in branches_of(scene.shown, on, false) {
            if let (Some(frame), true) = (layout.profile, !in_plan(lines, on)) {
                path.branch(branch, &frame, side);
            }
        }
        for branch in branches_of(scene.shown, on, true) {
            let shows = in_plan(lines, on) || matches!(on, On::RunLine(_));
            if let (Some(frame), true) = (layout.half_breadth, shows) {
                path.branch(branch, &frame, above);
            }
        }
        if let Some(frame) = layout.body {
            let sign = if forward_stations(scene).contains(&pick.station) {
                -1.0
            } else {
                1.0
            };
            if let Some((_, branch)) = scene
                .shown
                .sections
                .iter()
                .find(|(id, _)| *id == pick.station)
            {
                path.line(
                    branch
                        .nodes
                        .iter()
                        .map(|n| frame.at(sign * n.point.y, n.point.z)),
                );
            }
        }
        self.add("picked-line", path);
    }

    fn readings(&mut self, scene: &Scene<'_>) {
        let Scene {
            lines,
            layout,
            pick,
            ..
        } = scene;
        let (mut bars, mut ticks, mut aside, mut was, mut ducks) = (
            Path::default(),
            Path::default(),
            Path::default(),
            Path::default(),
            Path::default(),
        );
        let forward = forward_stations(scene);
        for (station, offsets) in lines.stations.iter().zip(lines.offsets()) {
            let left = forward.contains(&station.id);
            for offset in offsets {
                let picked = *pick
                    == Pick {
                        on: offset.on,
                        station: station.id,
                    };
                let [y, z] = offset.accepted;
                let bar = offset.tolerance * BARS / 2.0 * layout.scale();
                let (height, breadth) = reads(lines, offset.on);
                let moved = (y - offset.recorded[0]).abs() + (z - offset.recorded[1]).abs() > 0.005;
                if let (Some(frame), true) = (layout.profile, height) {
                    let at = frame.at(station.x, z);
                    bars.stroke((at.0, at.1 - bar), (at.0, at.1 + bar));
                    ticks.stroke((at.0 - 2.5, at.1), (at.0 + 2.5, at.1));
                    self.target(offset.point, at, picked);
                    if moved {
                        circle(&mut was, frame.at(station.x, offset.recorded[1]), 2.5);
                    }
                    if offset.duck {
                        duck(&mut ducks, at);
                    }
                }
                if let (Some(frame), true) = (layout.half_breadth, breadth) {
                    let at = frame.at(station.x, y);
                    bars.stroke((at.0, at.1 - bar), (at.0, at.1 + bar));
                    ticks.stroke((at.0 - 2.5, at.1), (at.0 + 2.5, at.1));
                    self.target(offset.point, at, picked);
                    if moved {
                        circle(&mut was, frame.at(station.x, offset.recorded[0]), 2.5);
                    }
                    if offset.duck {
                        duck(&mut ducks, at);
                    }
                }
                if let Some(frame) = layout.body {
                    let sign = if left { -1.0 } else { 1.0 };
                    let at = frame.at(sign * y, z);
                    if height {
                        ticks.stroke((at.0 - 2.5, at.1), (at.0 + 2.5, at.1));
                    }
                    if breadth {
                        ticks.stroke((at.0, at.1 - 2.5), (at.0, at.1 + 2.5));
                    }
                    if station.id == pick.station {
                        if height {
                            bars.stroke((at.0, at.1 - bar), (at.0, at.1 + bar));
                        }
                        if breadth {
                            bars.stroke((at.0 - bar, at.1), (at.0 + bar, at.1));
                        }
                    }
                    self.target(offset.point, at, picked);
                }
            }
        }
        // Readings that are not used: an open ring where they stand.
        for point in lines
            .points
            .iter()
            .filter(|p| p.readings.iter().any(|r| r.set_aside.is_some()))
        {
            let Some(station) = lines.station(point.station) else {
                continue;
            };
            for reading in point.readings.iter().filter(|r| r.set_aside.is_some()) {
                let (height, breadth) = reads(lines, point.on);
                if let (Some(frame), true, Some(z)) =
                    (layout.profile, height, reading.height_value())
                {
                    circle(&mut aside, frame.at(station.x, z), 2.5);
                }
                if let (Some(frame), true, Some(y)) =
                    (layout.half_breadth, breadth, reading.half_breadth_value())
                {
                    circle(&mut aside, frame.at(station.x, y), 2.5);
                }
            }
        }
        self.add("bar-mark", bars);
        self.add("tick", ticks);
        self.add("aside", aside);
        self.add("was", was);
        self.add("duck", ducks);
    }

    fn target(&mut self, point: PointId, at: Point, picked: bool) {
        self.targets.push((point, at));
        if picked {
            self.rings.push(at);
        }
    }

    /// Radius along the picked line, linear in curvature and lettered in radius.
    fn strip(&mut self, scene: &Scene<'_>) {
        let (Some([top, bottom]), Some(frame)) = (scene.layout.strip, scene.layout.profile) else {
            return;
        };
        let on = scene.pick.on;
        let plan = in_plan(scene.lines, on);
        let nodes: Vec<&Node> = branches_of(scene.shown, on, plan)
            .into_iter()
            .flat_map(|b| &b.nodes)
            .filter(|n| n.tangent.x.abs() > 0.7 && n.curvature.is_finite())
            .collect();
        let name = scene.lines.line_name(on).unwrap_or_default();
        let caption = if on == On::Keel {
            "keel, radius along the upsweep".to_owned()
        } else {
            format!("{name}, radius along")
        };
        let caption = caption[..1].to_uppercase() + &caption[1..];
        self.labels
            .push(label((24.0, top - 12.0), caption, "caption"));
        // Up is convex, so the sign is turned.
        let convex: Vec<f64> = nodes.iter().map(|n| -n.curvature).collect();
        let high = convex.iter().copied().fold(1e-9, f64::max);
        let low = convex.iter().copied().fold(0.0, f64::min);
        let span = (high - low) * 1.12;
        let y = |k: f64| bottom - 4.0 - (k - low * 1.06) / span * (bottom - top - 8.0);
        let [x0, x1] = scene.loft.extent();
        let (left, right) = (frame.at(x0, 0.0).0, frame.at(x1, 0.0).0);
        let (mut rules, mut zero) = (Path::default(), Path::default());
        for station in &scene.lines.stations {
            let x = frame.at(station.x, 0.0).0.floor() + 0.5;
            rules.stroke((x, top), (x, bottom));
        }
        let flat = y(0.0).floor() + 0.5;
        zero.stroke((left - 8.0, flat), (right + 6.0, flat));
        self.labels
            .push(label((left - 13.0, flat + 4.0), "flat", "end"));
        for limit in [high, low] {
            if limit.abs() < 1e-9 || (y(limit) - flat).abs() < 12.0 {
                continue;
            }
            let radius = round_125(1.0 / limit.abs());
            let mark = if limit > 0.0 {
                1.0 / radius
            } else {
                -1.0 / radius
            };
            let at = y(mark).clamp(top, bottom);
            rules.stroke((left - 4.0, at), (right, at));
            let words = radius_words(radius);
            let words = if limit > 0.0 {
                words
            } else {
                format!("−{words}")
            };
            self.labels
                .push(label((left - 13.0, at + 4.0), words, "end"));
        }
        self.add("station-rule", rules);
        self.add("leader", zero);
        let mut curve = Path::default();
        let mut hollow = Path::default();
        let branches = branches_of(scene.shown, on, plan);
        for branch in branches {
            let inside = || {
                branch
                    .nodes
                    .iter()
                    .filter(|n| n.tangent.x.abs() > 0.7 && n.curvature.is_finite())
            };
            curve.line(inside().map(|n| (frame.at(n.point.x, 0.0).0, y(-n.curvature))));
            hollow.line(inside().map(|n| (frame.at(n.point.x, 0.0).0, y((-n.curvature).min(0.0)))));
            if let (Some(first), Some(last)) = (inside().next(), inside().next_back()) {
                let ends = [last, first].map(|n| (frame.at(n.point.x, 0.0).0, flat));
                for (x, y) in ends {
                    hollow.0.push_str(&format!("L{x:.1} {y:.1}"));
                }
                hollow.close();
            }
        }
        self.add("hollow", hollow);
        self.add("envelope", curve);
        let mut dots = Path::default();
        for peak in peaks(&nodes) {
            let at = (frame.at(peak.point.x, 0.0).0, y(-peak.curvature));
            circle(&mut dots, at, 1.8);
            let words = radius_words(1.0 / peak.curvature);
            let (words, below) = if peak.curvature > 0.0 {
                (format!("hollow {words}"), true)
            } else {
                (words, false)
            };
            let at = if below {
                (at.0 + 6.0, (at.1 + 4.0).min(bottom + 2.0))
            } else {
                (at.0, at.1 - 5.0)
            };
            let mut name = label(
                at,
                words,
                if below { "ink bold" } else { "ink bold middle" },
            );
            name.patch = true;
            self.labels.push(name);
        }
        self.add("dot", dots);
    }
}

const DZERO: (f64, f64) = (0.0, 0.0);

fn height_of(place: Place) -> f64 {
    match place {
        Place::Waterline(z) => z,
        Place::Buttock(y) => y,
        Place::Diagonal { height, .. } => height,
    }
}

fn top(branch: &Branch) -> f64 {
    branch
        .nodes
        .iter()
        .map(|n| n.point.z)
        .fold(f64::NEG_INFINITY, f64::max)
}

/// Whether a point of a line reads a height, and whether a half-breadth.
pub fn reads(lines: &Lines, on: On) -> (bool, bool) {
    match on {
        On::Crown | On::Keel => (true, false),
        On::Free | On::RunLine(_) => (true, true),
        On::Plane(_) | On::PlaneUpper(_) => match lines.place_of(on) {
            Some(Place::Buttock(_)) => (true, false),
            Some(Place::Waterline(_) | Place::Diagonal { .. }) | None => (false, true),
        },
    }
}

/// Stations forward of the widest; where that is an end, the forward half.
fn forward_stations(scene: &Scene<'_>) -> Vec<StationId> {
    let widest = |branch: &Branch| branch.nodes.iter().map(|n| n.point.y).fold(0.0, f64::max);
    let sections = &scene.shown.sections;
    let at = (0..sections.len())
        .max_by(|a, b| widest(&sections[*a].1).total_cmp(&widest(&sections[*b].1)))
        .unwrap_or(0);
    let near_an_end = at < 2 || at + 2 >= sections.len();
    let cut = if near_an_end {
        sections.len() / 2
    } else {
        at + 1
    };
    sections.iter().take(cut).map(|(id, _)| *id).collect()
}

fn circle(path: &mut Path, (x, y): Point, r: f64) {
    path.0.push_str(&format!(
        "M{:.1} {y:.1}a{r} {r} 0 1 0 {:.1} 0a{r} {r} 0 1 0 {:.1} 0",
        x - r,
        2.0 * r,
        -2.0 * r
    ));
}

/// A small solid wedge that stands on the line.
fn duck(path: &mut Path, (x, y): Point) {
    path.line([(x - 7.0, y - 1.0), (x + 3.0, y - 1.0), (x + 3.0, y - 9.0)]);
    path.close();
}

fn tip(tooth: &geometry::lines::Tooth, frame: &Frame, plan: bool, scale: f64) -> Point {
    let (root, outward) = if plan {
        (
            (tooth.root.x, tooth.root.y),
            (tooth.outward.x, tooth.outward.y),
        )
    } else {
        (
            (tooth.root.x, tooth.root.z),
            (tooth.outward.x, tooth.outward.z),
        )
    };
    let at = frame.at(root.0, root.1);
    // Convex teeth point outward: their curvature is negative.
    let length = -tooth.curvature * scale;
    (at.0 + outward.0 * length, at.1 - outward.1 * length)
}

fn draw_comb(
    comb: &Comb,
    frame: &Frame,
    (plan, scale): (bool, f64),
    paths: (&mut Path, &mut Path, &mut Path),
) {
    let (teeth, envelope, hollow) = paths;
    for run in &comb.runs {
        let tips: Vec<Point> = run
            .iter()
            .map(|tooth| tip(tooth, frame, plan, scale))
            .collect();
        let roots: Vec<Point> = run
            .iter()
            .map(|t| {
                if plan {
                    frame.at(t.root.x, t.root.y)
                } else {
                    frame.at(t.root.x, t.root.z)
                }
            })
            .collect();
        let mut last = f64::NEG_INFINITY;
        for (root, tip) in roots.iter().zip(&tips) {
            if (root.0 - last).abs() >= TEETH * 0.8 {
                teeth.stroke(*root, *tip);
                last = root.0;
            }
        }
        envelope.line(tips.iter().copied());
        let mut from = None;
        for (i, tooth) in run
            .iter()
            .chain(core::iter::once(&run[run.len() - 1]))
            .enumerate()
        {
            let inward = i < run.len() && tooth.curvature > 0.0;
            match (inward, from) {
                (true, None) => from = Some(i),
                (false, Some(start)) => {
                    let back = (start..i).rev().map(|k| tips[k]);
                    hollow.line((start..i).map(|k| roots[k]).chain(back));
                    hollow.close();
                    from = None;
                }
                _ => {}
            }
        }
    }
}

/// Nodes at which the curvature of a line peaks, either way, and stands out from its neighbours.
fn peaks<'a>(nodes: &[&'a Node]) -> Vec<&'a Node> {
    let largest = nodes.iter().map(|n| n.curvature.abs()).fold(0.0, f64::max);
    let mut found: Vec<&Node> = Vec::new();
    for w in nodes.windows(3) {
        let [a, b, c] = w else { continue };
        let convex = b.curvature < 0.0 && b.curvature <= a.curvature && b.curvature < c.curvature;
        let hollow = b.curvature > 0.0 && b.curvature >= a.curvature && b.curvature > c.curvature;
        let apart = found
            .last()
            .is_none_or(|last| (last.point.x - b.point.x).abs() > 200.0);
        if (convex || hollow) && b.curvature.abs() > 0.25 * largest && apart {
            found.push(b);
        }
    }
    found
}

/// A length for reading aloud: in feet-inches-eighths as words.
pub fn spoken(mm: f64, unit: LengthUnit) -> String {
    match unit {
        LengthUnit::Millimetres => format!("{} millimetres", format_length(mm, unit)),
        LengthUnit::Inches => format!("{} inches", format_length(mm, unit)),
        LengthUnit::FeetInchesEighths => {
            let text = format_length(mm, unit);
            let over = if text.ends_with('+') {
                " and a sixteenth"
            } else {
                ""
            };
            let parts: Vec<&str> = text
                .trim_end_matches('+')
                .trim_start_matches('-')
                .split('-')
                .collect();
            match parts[..] {
                [feet, inches, eighths] => {
                    format!("{feet} feet {inches} inches {eighths} eighths{over}")
                }
                _ => text,
            }
        }
    }
}
