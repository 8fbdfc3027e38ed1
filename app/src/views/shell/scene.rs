//! What there is to see: the skin as triangles, the cuts and run lines on it, both sides of the body.
//!
//! In: the document and its loft. Out: a [`Scene`], which `paint` puts on the screen and `overlay` letters.

use geometry::document::{Lines, On, Place, StationId};
use geometry::lines::{Branch, CuttingPlane, Node, View, run, trace};
use geometry::loft::{Loft, section_normal};
use geometry::spline::{MeshOptions, mesh};

use super::eye::Xyz;

/// How far a drawn line may be from the true one, mm.
const DRAWN: f64 = 0.2;

/// How far the triangles may lie from the surface, mm, and at most this part of the body's length: a sixth of a pixel on a desk
/// screen.
const DEVIATION: f64 = 0.5;
const DEVIATION_PART: f64 = 1.0 / 8000.0;

/// A residual is drawn so many times its size.
pub const STEMS: f64 = 50.0;

/// Longest side of a cell, mm, and at most this part of the body's length, so that the shading follows the curvature and lines
/// of equal radius run smoothly: some six pixels on a desk screen.
const LONGEST: f64 = 24.0;
const LONGEST_PART: f64 = 1.0 / 160.0;

/// Pens of the strokes, in the order of their numbers in `paint`.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Pen {
    /// A waterline.
    Waterline,
    /// A section at a station.
    Station,
    /// A run line, the crown or the keel.
    Run,
    /// The edge of an open end.
    Rim,
    /// The asked cut.
    Cut,
    /// Whatever is picked.
    Picked,
    /// How far a reading lies from the skin.
    Stem,
}

/// What a stroke shows.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Shows {
    /// A section.
    Station(StationId),
    /// A line that points hang on.
    Line(On),
    /// An asked cut, by its number.
    Asked(usize),
    /// Neither.
    Other,
}

/// A place on a stroke and the outside of the skin there; none where the stroke shows from both sides.
pub type StrokePoint = (Xyz, Option<Xyz>);

/// A line on the skin, on one side of the body.
#[derive(Clone, Debug, PartialEq)]
pub struct Stroke {
    /// How it is drawn.
    pub pen: Pen,
    /// What it shows.
    pub shows: Shows,
    /// In order.
    pub points: Vec<StrokePoint>,
}

/// The skin's triangles, in single precision for the screen.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Skin {
    /// Places of the vertices, mm from the scene's middle.
    pub places: Vec<[f32; 3]>,
    /// Outward unit normals.
    pub outward: Vec<[f32; 3]>,
    /// Curvatures across, along and both ways, 1/mm, negative where convex; the last is the root of Gauss's, positive at
    /// a saddle.
    pub bends: Vec<[f32; 3]>,
    /// 1 where the neighbours carry the skin, else 0.
    pub carried: Vec<f32>,
    /// Numbers of vertices, three a triangle.
    pub triangles: Vec<u32>,
}

/// All that is seen of a loft.
#[derive(Clone, Debug, PartialEq)]
pub struct Scene {
    /// The skin.
    pub skin: Skin,
    /// The lines on it.
    pub strokes: Vec<Stroke>,
    /// Places that span the body, mm.
    pub body: Vec<Xyz>,
    /// Its middle, mm.
    pub middle: Xyz,
    /// Distance from the middle within which all of it lies, mm.
    pub reach: f64,
}

/// A number in the screen's precision.
#[expect(
    clippy::cast_possible_truncation,
    reason = "places on a screen need seven digits at most"
)]
pub fn single(value: f64) -> f32 {
    value as f32
}

/// The curvature of a ball that bends both ways as much as Gauss's curvature says, 1/mm: negative where the skin is as
/// one, positive at a saddle.
pub fn compound(gaussian: f64) -> f64 {
    -gaussian.signum() * gaussian.abs().sqrt()
}

fn mirrored([x, y, z]: Xyz) -> Xyz {
    [x, -y, z]
}

impl Scene {
    fn empty() -> Self {
        Self {
            skin: Skin::default(),
            strokes: Vec::new(),
            body: Vec::new(),
            middle: [0.0; 3],
            reach: 1.0,
        }
    }

    /// Lays out a loft and its lines.
    ///
    /// `carried` says of each patch of the net whether its neighbours carry it, see [`Loft::carried`].
    pub fn of(lines: &Lines, loft: &Loft, carried: &[bool]) -> Self {
        let mut scene = Self::empty();
        let surface = loft.surface();
        for plane in &lines.body.planes {
            if let Place::Waterline(z) = plane.place {
                let shows = Shows::Line(On::Plane(plane.id));
                for branch in trace(surface, &CuttingPlane::waterline(z), DRAWN).branches {
                    scene.both(loft, Pen::Waterline, shows, &branch);
                }
            }
        }
        for station in &lines.body.stations {
            let cut = trace(surface, &CuttingPlane::station(station.x), DRAWN);
            for branch in &cut.branches {
                scene.both(loft, Pen::Station, Shows::Station(station.id), branch);
            }
        }
        let run_lines = loft
            .run_lines()
            .iter()
            .map(|(id, v)| (On::RunLine(*id), *v));
        let crown = loft.crown().then_some((On::Crown, 0.0));
        let keel = loft.keel().then_some((On::Keel, 1.0));
        for (on, v) in crown.into_iter().chain(run_lines).chain(keel) {
            scene.both(
                loft,
                Pen::Run,
                Shows::Line(on),
                &run(surface, v, View::Profile, DRAWN),
            );
        }
        scene.rims(loft);
        for stroke in &scene.strokes {
            scene.body.extend(stroke.points.iter().map(|point| point.0));
        }
        scene.lay_skin(loft, carried);
        scene.stems(loft);
        scene
    }

    /// The line a plane cuts, as strokes of the asked cut of this number.
    pub fn cut(loft: &Loft, plane: &CuttingPlane, number: usize) -> Vec<Stroke> {
        let mut scene = Self::empty();
        for branch in trace(loft.surface(), plane, DRAWN).branches {
            scene.both(loft, Pen::Cut, Shows::Asked(number), &branch);
        }
        scene.strokes
    }

    /// Adds a line of the starboard side, and its mirror image.
    fn both(&mut self, loft: &Loft, pen: Pen, shows: Shows, branch: &Branch) {
        let point = |node: &Node| -> StrokePoint {
            let outward = loft.surface().jet(node.u, node.v).normal();
            (
                node.point.to_array(),
                outward.is_finite().then(|| outward.to_array()),
            )
        };
        let mut points: Vec<StrokePoint> = branch.nodes.iter().map(point).collect();
        if branch.closed
            && let Some(first) = points.first().copied()
        {
            points.push(first);
        }
        let port = points
            .iter()
            .map(|(place, outward)| (mirrored(*place), outward.map(mirrored)))
            .collect();
        self.strokes.push(Stroke { pen, shows, points });
        self.strokes.push(Stroke {
            pen,
            shows,
            points: port,
        });
    }

    /// Adds how far each point lies from the skin, along the section's normal, [`STEMS`] times as far.
    fn stems(&mut self, loft: &Loft) {
        for point in loft.points() {
            let jet = loft.surface().jet(point.u, point.v);
            let [y, z] = section_normal(&jet);
            let root = jet.s.to_array();
            let off = STEMS * point.residual;
            let tip = [root[0], root[1] + off * y, root[2] + off * z];
            let outward = jet.normal();
            let outward = outward.is_finite().then(|| outward.to_array());
            for side in [false, true] {
                let place = |place: Xyz| if side { mirrored(place) } else { place };
                self.strokes.push(Stroke {
                    pen: Pen::Stem,
                    shows: Shows::Other,
                    points: vec![
                        (place(root), outward.map(place)),
                        (place(tip), outward.map(place)),
                    ],
                });
            }
        }
    }

    /// Adds the edges of the skin, which show from inside too: open ends, and the edges of an open girth.
    fn rims(&mut self, loft: &Loft) {
        let surface = loft.surface();
        for x in loft.extent() {
            let cut = trace(surface, &CuttingPlane::station(x), DRAWN);
            // A tip has no rim.
            for branch in cut.branches.into_iter().filter(|b| b.length() > 1.0) {
                self.both(loft, Pen::Rim, Shows::Other, &branch);
            }
        }
        for (closed, v) in [(loft.crown(), 0.0), (loft.keel(), 1.0)] {
            if !closed {
                let edge = run(surface, v, View::Profile, DRAWN);
                self.both(loft, Pen::Rim, Shows::Other, &edge);
            }
        }
        for stroke in self.strokes.iter_mut().filter(|s| s.pen == Pen::Rim) {
            for point in &mut stroke.points {
                point.1 = None;
            }
        }
    }

    fn lay_skin(&mut self, loft: &Loft, carried: &[bool]) {
        let [from, to] = loft.extent();
        let options = MeshOptions {
            deviation: DEVIATION.min(DEVIATION_PART * (to - from)),
            longest: LONGEST.min(LONGEST_PART * (to - from)),
        };
        let mesh = mesh(loft.surface(), &options).with_port();
        let mut low = [f64::INFINITY; 3];
        let mut high = [f64::NEG_INFINITY; 3];
        for vertex in &mesh.vertices {
            for (i, value) in vertex.position.to_array().into_iter().enumerate() {
                low[i] = low[i].min(value);
                high[i] = high[i].max(value);
            }
        }
        if mesh.vertices.is_empty() {
            return;
        }
        self.middle = core::array::from_fn(|i| f64::midpoint(low[i], high[i]));
        let middle = self.middle;
        let off = |place: Xyz| -> Xyz { core::array::from_fn(|i| place[i] - middle[i]) };
        self.reach = mesh
            .vertices
            .iter()
            .map(|vertex| {
                let off = off(vertex.position.to_array());
                super::eye::dot(off, off).sqrt()
            })
            .fold(1.0, f64::max);
        let whole = |value: f64| if value.is_finite() { value } else { 0.0 };
        self.skin = Skin {
            places: mesh
                .vertices
                .iter()
                .map(|vertex| off(vertex.position.to_array()).map(single))
                .collect(),
            outward: mesh
                .vertices
                .iter()
                .map(|vertex| vertex.normal.to_array().map(|n| single(whole(n))))
                .collect(),
            bends: mesh
                .vertices
                .iter()
                .map(|vertex| {
                    [vertex.across, vertex.along, compound(vertex.gaussian)]
                        .map(|bend| single(whole(bend)))
                })
                .collect(),
            carried: mesh
                .vertices
                .iter()
                .map(|vertex| {
                    if loft.is_carried(carried, vertex.uv) {
                        1.0
                    } else {
                        0.0
                    }
                })
                .collect(),
            triangles: mesh.triangles.into_iter().flatten().collect(),
        };
    }
}
