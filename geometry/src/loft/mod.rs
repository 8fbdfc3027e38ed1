//! The mould surface: one bicubic net fitted to all accepted points at once.
//!
//! In: [`Body`]. Out: a [`Loft`], a surface with the place and residual of each point on it. Thin stations are carried
//! by their neighbours, run lines are lines of constant `v`, and transverse cuts are lines of constant `u`. Reading
//! order: this file, `section`, `girth`, `lengthwise`, `ends`, `fit`, `plates`, `carried`, `outward`, `bench`, `net`; for a body given by law
//! `conic`, `control`, `law`; and `skin`, the surfaces parallel to it.
//!
//! ```
//! use geometry::document::{TableOptions, read_table};
//! use geometry::loft::Loft;
//!
//! // A drum of a metre across: heights of crown and keel, half-breadths at five waterlines.
//! let table = "STA (mm),crown,WL 933,WL 750,WL 500,WL 250,WL 67,keel\n\
//!              0,1000,250,433,500,433,250,0\n\
//!              600,1000,250,433,500,433,250,0\n\
//!              1200,1000,250,433,500,433,250,0\n\
//!              1800,1000,250,433,500,433,250,0\n";
//! let lines = read_table(table.as_bytes(), &TableOptions::default())?.lines();
//! let loft = Loft::build(&lines.body)?;
//! // Half way round, between two stations, the skin is as far out as it was read at these.
//! let jet = loft.surface().jet(loft.u_at(900.0), 0.5);
//! assert!((jet.s.x - 900.0).abs() < 1e-6 && (jet.s.y - 500.0).abs() < 0.5);
//! // Round the girth it is bent to a radius of half a metre, convex negative.
//! assert!((-1.0 / jet.across() - 500.0).abs() < 10.0);
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

use std::sync::Arc;

use sha2::{Digest, Sha256};

use crate::document::{
    Body, Centreline, End, Ends, Law, Offset, On, Peak, PointId, RunKind, RunLine, RunLineId, Side,
    Station, StationId, Tip, stations_shown,
};
use crate::num;
use crate::spline::{Jet, Knots, Surface};

mod bench;
mod carried;
mod conic;
mod control;
mod ends;
mod fault;
mod fit;
mod girth;
mod law;
mod lengthwise;
mod lofted;
mod net;
mod outward;
mod plates;
mod section;
pub mod skin;

pub use fault::LoftError;
pub use lofted::Lofted;
pub use section::{Section, SectionEnd, SectionPoint};

pub(crate) use bench::{Bench, BenchFit};
pub(crate) use fit::{Bending, Covariances};
pub(crate) use net::{Answers, Drawn, Net};

use ends::{EndBays, Method};
use fit::{Fit, RowTies, System, Target};
use girth::{Girth, GirthBounds, Measured};
use law::ControlLines;
use lengthwise::Lengthwise;
use outward::{Outward, on_the_outside};
use plates::{ReadingsBox, lay_out};

/// Tolerance with which a duck holds the line, mm.
const DUCK: f64 = 0.1;

/// Tolerance of a tip that the document gives by height, mm.
const TIP: f64 = 0.001;

/// Tolerances that count in the fit, mm: below and above, nothing is gained.
const TOLERANCES: [f64; 2] = [0.05, 20.0];

/// Weights of the energy tried for the lines «as drawn», the stiffest first.
const STIFFNESSES: [f64; 5] = [1.0, 0.3, 0.1, 0.03, 0.01];

/// Share of the used readings that must lie within half their tolerance.
const NEAR_ENOUGH: f64 = 0.95;

/// A place is carried where its prediction variance is over this many times the median over the used points.
const CARRIED: f64 = 4.0;

/// Where an accepted point lies on the loft, and how far from it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LoftPoint {
    /// The point.
    pub point: PointId,
    /// Its station.
    pub station: StationId,
    /// The line it lies on.
    pub on: On,
    /// Its parameter along the body.
    pub u: f64,
    /// Its parameter round the girth.
    pub v: f64,
    /// Half-breadth and height as accepted, on the outside of the skin, mm.
    pub target: [f64; 2],
    /// Distance from the surface along the section's normal, mm, positive where the point lies outside.
    pub residual: f64,
    /// How far the readings let the section move along its normal, mm.
    pub tolerance: f64,
}

/// What of a document the factor of a loft depends on; while it stays, a new loft costs one solve.
#[derive(Clone, Debug, PartialEq)]
struct Evidence {
    method: u32,
    stations: Vec<Station>,
    ends: Ends,
    run_lines: Vec<RunLine>,
    centreline: Centreline,
    law: Option<Law>,
    /// With the recorded values as accepted ones.
    offsets: Vec<Vec<Offset>>,
}

impl Evidence {
    fn of(body: &Body, offsets: &[Vec<Offset>]) -> Self {
        let mut offsets = offsets.to_vec();
        for offset in offsets.iter_mut().flatten() {
            offset.accepted = offset.recorded;
            offset.moved = [false; 2];
        }
        Self {
            method: body.method,
            stations: body.stations.clone(),
            ends: body.ends,
            run_lines: body.run_lines.clone(),
            centreline: body.centreline.clone(),
            law: body.law,
            offsets,
        }
    }
}

/// A place of a point on the net.
#[derive(Clone, Copy, Debug, PartialEq)]
struct NetPlace {
    station: StationId,
    u: f64,
    v: f64,
}

/// Where all points lie on the net: all that stays while only accepted values move, but for the factor.
#[derive(Debug)]
struct NetLayout {
    evidence: Evidence,
    bounds: GirthBounds,
    run_lines: Vec<(RunLineId, f64)>,
    places: Vec<NetPlace>,
    /// Tips that the document gives, half-breadth and height; they follow the points as targets.
    tips: Vec<[f64; 2]>,
    /// Stretches of the girth that are flat for want of readings.
    plates: Vec<[f64; 2]>,
}

impl NetLayout {
    /// Where the net is drawn to, for these offsets: half-breadth and height of each point, then of the tips.
    fn targets(&self, offsets: &[Vec<Offset>]) -> Vec<[f64; 2]> {
        let accepted = offsets.iter().flatten().map(|offset| offset.accepted);
        accepted.chain(self.tips.iter().copied()).collect()
    }
}

/// A layout with its stiffness.
#[derive(Debug)]
struct StiffLayout {
    layout: Arc<NetLayout>,
    stiffness: f64,
}

/// What makes the surface.
#[derive(Clone, Debug)]
enum Made {
    /// All points at once, by a factor that stays while only accepted values move.
    Fitted(Arc<Fit>),
    /// The control lines of a body given by law.
    ByLaw(Arc<ControlLines>),
}

/// The mould surface of a body, and the body it is of.
#[derive(Clone, Debug)]
pub struct Loft {
    body: Arc<Body>,
    laid: Arc<StiffLayout>,
    surface: Surface,
    points: Vec<LoftPoint>,
    made: Made,
    outward: Option<Arc<Outward>>,
}

/// Where the body begins and ends, with the tips there.
struct BodyEnds {
    ends: [f64; 2],
    tips: [Option<Tip>; 2],
    /// Height of a tip that the document gives.
    heights: [Option<f64>; 2],
    /// The station that is a tip.
    tip_stations: [Option<usize>; 2],
}

impl BodyEnds {
    fn of(body: &Body, offsets: &[Vec<Offset>]) -> Result<Self, LoftError> {
        let shown = stations_shown(offsets);
        let [first, .., last] = shown[..] else {
            return Err(LoftError::TooFewStations {
                stations: shown.len(),
            });
        };
        let Ends { fore, aft } = body.ends;
        let mut body_ends = Self {
            ends: [0.0; 2],
            tips: [None; 2],
            heights: [None; 2],
            tip_stations: body.tip_stations(offsets),
        };
        for (k, (end, station)) in [(fore, first), (aft, last)].into_iter().enumerate() {
            let x = body.stations[station].x;
            body_ends.ends[k] = x;
            if let End::Tip {
                x: tip,
                height,
                form,
            } = end
            {
                body_ends.ends[k] = tip;
                body_ends.tips[k] = Some(form);
                body_ends.heights[k] = Some(height);
            } else if body_ends.tip_stations[k].is_some() {
                body_ends.tips[k] = Some(Tip::Pointed);
            }
        }
        Ok(body_ends)
    }
}

impl Loft {
    /// Fits the surface to all accepted points of a document.
    ///
    /// The stiffness is that of the lines as drawn: the stiffest of 1, 0.3, 0.1, 0.03 and 0.01 at which 95 % of the used
    /// readings lie within half their tolerance, found on recorded values.
    ///
    /// Through n stations a cubic spline with its knots there keeps two coefficients free. By the second method, at an open
    /// end as at a tip, the third derivative of a line goes on straight from the two bays beside the end bay into it, as far
    /// round as the end station was read, and not towards a station without breadth, a sharp stem. Of four stations or three it is the same in all bays, so that they give a cubic and
    /// a parabola; two give a straight line. By the first method, which lines that were lofted by it keep, the energy settles
    /// them, and spans are halved until there are twelve.
    ///
    /// # Errors
    /// [`LoftError`]: a section that is none, by station and point; a girth without an edge; too little evidence.
    ///
    /// # Accuracy
    /// On a 4 m body with readings good to 0.8 mm the surface is within 1.7 mm of the truth, 0.4 mm on average
    /// (measured, see the tests); on exact offsets within 0.15 mm. Of 16 exact stations or more, curvature along crown and keel
    /// is within 3.5 % at the ends, 1 % one bay in and 0.3 % in the middle on a torus, a spheroid and an arc up to 40° from
    /// level (by the first method 13 %, 3 % and 0.3 %); under noise of the tolerance's half its standard deviation at the end
    /// is at most 2.5 times that in the middle.
    ///
    /// # Source
    /// Penalised tensor-product least squares: Eilers and Marx, *Statistical Science* 11 (1996), with a third-derivative
    /// energy in both directions.
    pub fn build(body: &Arc<Body>) -> Result<Self, LoftError> {
        Self::outside(body, Self::fitted)
    }

    /// Fits the surface with a stiffness of its own: 1 is «as drawn», 100 irons out noise of a millimetre.
    ///
    /// # Units
    /// `stiffness`: weight of the energy against readings of 1 mm tolerance, no unit, at least 0.01.
    ///
    /// # Errors
    /// As [`Loft::build`].
    pub fn with_stiffness(body: &Arc<Body>, stiffness: f64) -> Result<Self, LoftError> {
        Self::outside(body, |body, offsets| {
            if let Some(law) = body.law {
                return Self::by_law(body, law, offsets, Some(stiffness));
            }
            let (layout, system) = prepare(body, offsets)?;
            Self::of(body, &layout, &system, stiffness)?.through(body, offsets)
        })
    }

    /// The loft of the outside of the skin, as `fit` makes it of offsets.
    fn outside(
        body: &Arc<Body>,
        fit: impl Fn(&Arc<Body>, &[Vec<Offset>]) -> Result<Self, LoftError>,
    ) -> Result<Self, LoftError> {
        let offsets = body.offsets();
        check_breadth(&offsets)?;
        let outward = Outward::of(body, &offsets)?;
        let loft = fit(body, &on_the_outside(&offsets, outward.as_ref()))?;
        Ok(Self {
            outward: outward.map(Arc::new),
            ..loft
        })
    }

    /// The loft of offsets as they stand, as stiff as lines are drawn.
    fn fitted(body: &Arc<Body>, offsets: &[Vec<Offset>]) -> Result<Self, LoftError> {
        if let Some(law) = body.law {
            return Self::by_law(body, law, offsets, None);
        }
        let (layout, system) = prepare(body, offsets)?;
        let extent = ReadingsBox::of(offsets, &layout.tips);
        let mut stiffer: Option<Self> = None;
        for stiffness in STIFFNESSES {
            let loft = Self::of(body, &layout, &system, stiffness)?;
            // What keeps to its readings drawn stiffly may not where it is slack: see `lay_out`.
            if !layout.plates.is_empty() && !extent.holds(&loft.surface) {
                let stiffer = stiffer.ok_or(LoftError::NotFixed)?;
                return stiffer.through(body, offsets);
            }
            let read = layout.evidence.offsets.iter().flatten();
            let near = loft
                .points
                .iter()
                .zip(read)
                .filter(|(at, read)| at.residual.abs() <= read.tolerance / 2.0)
                .count();
            let enough = near as f64 >= NEAR_ENOUGH * loft.points.len() as f64;
            if enough || stiffness <= STIFFNESSES[STIFFNESSES.len() - 1] {
                return loft.through(body, offsets);
            }
            stiffer = Some(loft);
        }
        Err(LoftError::NotFixed)
    }

    /// The loft of the recorded values.
    fn of(
        body: &Arc<Body>,
        layout: &Arc<NetLayout>,
        system: &System,
        stiffness: f64,
    ) -> Result<Self, LoftError> {
        let laid = Arc::new(StiffLayout {
            layout: Arc::clone(layout),
            stiffness,
        });
        let fit = Arc::new(system.factor(stiffness)?);
        Ok(Self::fit_to(body, laid, fit, &layout.evidence.offsets))
    }

    /// The loft that a factor makes of offsets.
    fn fit_to(
        body: &Arc<Body>,
        laid: Arc<StiffLayout>,
        fit: Arc<Fit>,
        offsets: &[Vec<Offset>],
    ) -> Self {
        let layout = &laid.layout;
        let all = || offsets.iter().flatten();
        let surface = fit.surface(&layout.targets(offsets));
        let points = all()
            .zip(&layout.places)
            .map(|(offset, place)| lofted(&surface, offset, *place));
        Self {
            body: Arc::clone(body),
            points: points.collect(),
            laid,
            surface,
            made: Made::Fitted(fit),
            outward: None,
        }
    }

    /// The loft of a body given by law; without a stiffness its control lines are as stiff as lines are drawn.
    fn by_law(
        body: &Arc<Body>,
        law: Law,
        offsets: &[Vec<Offset>],
        stiffness: Option<f64>,
    ) -> Result<Self, LoftError> {
        let (control_lines, stiffness) = ControlLines::of(body, law, offsets, stiffness)?;
        let layout = NetLayout {
            evidence: Evidence::of(body, offsets),
            bounds: GirthBounds {
                crown: true,
                keel: true,
                run_lines: control_lines
                    .run_lines()
                    .into_iter()
                    .map(|(id, _)| id)
                    .collect(),
            },
            run_lines: control_lines.run_lines(),
            places: Vec::new(),
            tips: Vec::new(),
            plates: Vec::new(),
        };
        let laid = Arc::new(StiffLayout {
            layout: Arc::new(layout),
            stiffness,
        });
        Self::of_control_lines(body, laid, control_lines, offsets)
    }

    /// The loft of control lines.
    fn of_control_lines(
        body: &Arc<Body>,
        laid: Arc<StiffLayout>,
        control_lines: ControlLines,
        offsets: &[Vec<Offset>],
    ) -> Result<Self, LoftError> {
        let surface = control_lines.surface()?;
        let mut points = Vec::new();
        for (station, offsets) in body.stations.iter().zip(offsets) {
            if offsets.is_empty() {
                continue;
            }
            let u = surface.u_at(station.x);
            for offset in offsets {
                let place = NetPlace {
                    station: station.id,
                    u,
                    v: control_lines.girth(&surface, u, offset)?,
                };
                points.push(lofted(&surface, offset, place));
            }
        }
        Ok(Self {
            body: Arc::clone(body),
            laid,
            surface,
            points,
            made: Made::ByLaw(Arc::new(control_lines)),
            outward: None,
        })
    }

    /// ρ of the upper and the lower quadrant at a distance aft of the datum, mm; none where the body is not given by law.
    #[must_use]
    pub fn rho(&self, x: f64) -> Option<[f64; 2]> {
        match &self.made {
            Made::ByLaw(control_lines) => Some(control_lines.rho(self.u_at(x))),
            Made::Fitted(_) => None,
        }
    }

    /// The loft of a changed document: one solve where only accepted values moved, else built anew.
    ///
    /// # Errors
    /// As [`Loft::build`].
    pub fn again(&self, body: &Arc<Body>) -> Result<Self, LoftError> {
        let offsets = body.offsets();
        let evidence = Evidence::of(body, &offsets);
        let same = match &self.outward {
            Some(outward) => outward.holds(&evidence),
            None => self.laid.layout.evidence == evidence,
        };
        if same {
            check_breadth(&offsets)?;
            self.through(body, &on_the_outside(&offsets, self.outward.as_deref()))
        } else {
            Self::build(body)
        }
    }

    /// The body that this is the loft of.
    #[must_use]
    pub fn body(&self) -> &Arc<Body> {
        &self.body
    }

    /// The offsets of its body, as they lie on the outside of the skin; see [`Body::offsets`].
    #[must_use]
    pub fn offsets(&self) -> Vec<Vec<Offset>> {
        self.offsets_of(&self.body)
    }

    /// The offsets of another body, moved out to the outside of the skin as those of this one are: of one that differs in
    /// what is accepted or set aside, not in what was read.
    #[must_use]
    pub fn offsets_of(&self, body: &Body) -> Vec<Vec<Offset>> {
        on_the_outside(&body.offsets(), self.outward.as_deref()).into_owned()
    }

    /// How far what is recorded of a point was moved out to the outside of the skin: in half-breadth, or along the
    /// diagonal, and in height, mm. Zero for what was read there, and for a tip, which has no section to be square to.
    ///
    /// # Accuracy
    /// The move along the section's normal is the skin's thickness to first order: on a section of radius R, a reading
    /// along a line that makes an angle a with the normal is out by t² tan² a / 2R, with t the thickness.
    #[must_use]
    pub fn moved_out(&self, point: PointId) -> [f64; 2] {
        let outward = self.outward.as_ref();
        outward.map_or([0.0; 2], |outward| outward.of_point(point))
    }

    /// Whether this loft and another share their factor, so that only accepted values differ.
    #[must_use]
    pub fn shares_factor(&self, other: &Self) -> bool {
        Arc::ptr_eq(&self.laid, &other.laid)
    }

    /// The loft of other accepted places, on what stays.
    pub(crate) fn through(
        &self,
        body: &Arc<Body>,
        offsets: &[Vec<Offset>],
    ) -> Result<Self, LoftError> {
        let laid = Arc::clone(&self.laid);
        let loft = match &self.made {
            Made::Fitted(fit) => Self::fit_to(body, laid, Arc::clone(fit), offsets),
            Made::ByLaw(control_lines) => {
                let (control_lines, _) = ControlLines::of(
                    body,
                    control_lines.law(),
                    offsets,
                    Some(self.laid.stiffness),
                )?;
                Self::of_control_lines(body, laid, control_lines, offsets)?
            }
        };
        Ok(Self {
            outward: self.outward.clone(),
            ..loft
        })
    }

    /// The surface.
    #[must_use]
    pub fn surface(&self) -> &Surface {
        &self.surface
    }

    /// Every used point, station by station from crown to keel.
    #[must_use]
    pub fn points(&self) -> &[LoftPoint] {
        &self.points
    }

    /// Whether the girth begins at a crown line.
    #[must_use]
    pub fn crown(&self) -> bool {
        self.laid.layout.bounds.crown
    }

    /// Whether the girth ends at a keel line.
    #[must_use]
    pub fn keel(&self) -> bool {
        self.laid.layout.bounds.keel
    }

    /// Whether the sections close round the body, so that it has a volume.
    #[must_use]
    pub fn closed(&self) -> bool {
        self.crown() && self.keel()
    }

    /// Where a run line lies round the girth; none where it has no points.
    #[must_use]
    pub fn run_line_v(&self, id: RunLineId) -> Option<f64> {
        self.laid
            .layout
            .run_lines
            .iter()
            .find(|(line, _)| *line == id)
            .map(|(_, v)| *v)
    }

    /// The run lines of the surface, from crown to keel, with their `v`.
    #[must_use]
    pub fn run_lines(&self) -> &[(RunLineId, f64)] {
        &self.laid.layout.run_lines
    }

    /// Parameter along the body at a distance aft of the datum, mm, clamped to the ends.
    #[must_use]
    pub fn u_at(&self, x: f64) -> f64 {
        self.surface.u_at(x)
    }

    /// Where the surface begins and ends, mm aft of the datum.
    #[must_use]
    pub fn extent(&self) -> [f64; 2] {
        let x = self.surface.x_net();
        [x[0], x[x.len() - 1]]
    }

    /// Distance of what was recorded of a point from this loft, along the section's normal, mm, over zero outside; the point may
    /// be one that this loft is not of.
    ///
    /// # Accuracy
    /// The nearest place of the section is found to a millionth of the girth.
    pub(crate) fn distance(&self, x: f64, offset: &Offset) -> f64 {
        let u = self.u_at(x);
        let v = match offset.on {
            On::Crown if self.crown() => 0.0,
            On::Keel if self.keel() => 1.0,
            _ => nearest(&self.surface, u, offset.recorded),
        };
        let jet = self.surface.jet(u, v);
        let normal = normal_of(offset.on, &jet);
        let [y, z] = offset.recorded;
        normal[0] * (y - jet.s.y) + normal[1] * (z - jet.s.z)
    }

    /// Weight of the energy that was taken.
    #[must_use]
    pub fn stiffness(&self) -> f64 {
        self.laid.stiffness
    }

    /// Largest residual and root mean square of all, mm, along the section normal.
    #[must_use]
    pub fn residuals(&self) -> [f64; 2] {
        let largest = self
            .points
            .iter()
            .map(|p| p.residual.abs())
            .fold(0.0, f64::max);
        let square: f64 = self.points.iter().map(|p| p.residual * p.residual).sum();
        [largest, (square / self.points.len().max(1) as f64).sqrt()]
    }

    /// A code of the bits of S and its derivatives at 10,000 places: equal codes, equal figures.
    ///
    /// # Accuracy
    /// SHA-256 of 10,000 jets of 30 numbers each, as hexadecimal digits; the places follow from a fixed
    /// congruential sequence.
    #[must_use]
    pub fn check_code(&self) -> String {
        let mut hash = Sha256::new();
        let mut state: u64 = 1;
        let mut next = || {
            state = state
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1_442_695_040_888_963_407);
            f64::from((state >> 32) as u32) / f64::from(u32::MAX)
        };
        let domain = |k: &Knots, share: f64| k.domain().0 + (k.domain().1 - k.domain().0) * share;
        for _ in 0..10_000 {
            let (u, v) = (
                domain(self.surface.u_knots(), next()),
                domain(self.surface.v_knots(), next()),
            );
            let j = self.surface.jet(u, v);
            for part in [j.s, j.u, j.v, j.uu, j.uv, j.vv, j.uuu, j.uuv, j.uvv, j.vvv] {
                for value in part.to_array() {
                    hash.update(value.to_bits().to_le_bytes());
                }
            }
        }
        hash.finalize()
            .iter()
            .map(|byte| format!("{byte:02x}"))
            .collect()
    }
}

/// Refuses what has stations, but no half-breadth at any.
fn check_breadth(offsets: &[Vec<Offset>]) -> Result<(), LoftError> {
    let flat = |offset: &Offset| offset.accepted[0].abs() < num::SAME_POINT;
    if stations_shown(offsets).len() >= 2 && offsets.iter().flatten().all(flat) {
        return Err(LoftError::NoBreadth);
    }
    Ok(())
}

/// Outward unit normal of the section in its plane, (y, z).
#[must_use]
pub fn section_normal(jet: &Jet) -> [f64; 2] {
    let length = num::hypot(jet.v.y, jet.v.z);
    if length > 0.0 {
        [-jet.v.z / length, jet.v.y / length]
    } else {
        [0.0, 1.0]
    }
}

/// The section's normal at a point of a line: up or down on a centreline.
pub(crate) fn normal_of(on: On, jet: &Jet) -> [f64; 2] {
    match on {
        On::Crown => [0.0, 1.0],
        On::Keel => [0.0, -1.0],
        On::Plane(_) | On::PlaneUpper(_) | On::RunLine(_) | On::Free => section_normal(jet),
    }
}

/// A point on its surface.
fn lofted(surface: &Surface, offset: &Offset, place: NetPlace) -> LoftPoint {
    let jet = surface.jet(place.u, place.v);
    let normal = normal_of(offset.on, &jet);
    let off = [offset.accepted[0] - jet.s.y, offset.accepted[1] - jet.s.z];
    LoftPoint {
        point: offset.point,
        station: place.station,
        on: offset.on,
        u: place.u,
        v: place.v,
        target: offset.accepted,
        residual: normal[0] * off[0] + normal[1] * off[1],
        tolerance: offset.fixes.tolerance_along(offset.tolerance, normal),
    }
}

/// Places all points and lays out the system, but for its stiffness.
fn prepare(body: &Body, offsets: &[Vec<Offset>]) -> Result<(Arc<NetLayout>, System), LoftError> {
    let (body_ends, bounds, girth) = placed(body, offsets, Measured::AsRead)?;
    lay_out(body, offsets, &bounds, &body_ends, &girth)
}

/// Where the body ends, what bounds its girth, and where all points lie round that.
fn placed(
    body: &Body,
    offsets: &[Vec<Offset>],
    measured: Measured,
) -> Result<(BodyEnds, GirthBounds, Girth), LoftError> {
    if body.law.is_some() {
        return Err(LoftError::ByLaw);
    }
    Method::of(body)?;
    let body_ends = BodyEnds::of(body, offsets)?;
    let bounds = GirthBounds::of(body, offsets)?;
    let sections = girth::sections(body, offsets, body_ends.tip_stations, (measured, &bounds))?;
    let mut girth = Girth::of(body, offsets, &sections, &bounds)?;
    if girth
        .v
        .iter()
        .zip(offsets)
        .any(|(v, offsets)| v.is_none() && !offsets.is_empty())
    {
        place_partial(body, offsets, &sections, &bounds, &body_ends, &mut girth)?;
    }
    Ok((body_ends, bounds, girth))
}

/// Stations that show a part of the girth only: their ends lie where the loft of the others is nearest.
fn place_partial(
    body: &Body,
    offsets: &[Vec<Offset>],
    sections: &[Option<Section>],
    bounds: &GirthBounds,
    body_ends: &BodyEnds,
    girth: &mut Girth,
) -> Result<(), LoftError> {
    let whole: Vec<Vec<Offset>> = offsets
        .iter()
        .zip(&girth.v)
        .map(|(offsets, v)| {
            if v.is_some() {
                offsets.clone()
            } else {
                Vec::new()
            }
        })
        .collect();
    let known = stations_shown(&whole).len();
    if known < 2 {
        return Err(LoftError::TooFewStations { stations: known });
    }
    let (layout, system) = lay_out(body, &whole, bounds, body_ends, girth)?;
    let surface = system
        .factor(1.0)?
        .surface(&layout.targets(&layout.evidence.offsets));
    for (i, section) in sections.iter().enumerate() {
        let (Some(section), None, [first, .., last]) = (section, &girth.v[i], &offsets[i][..])
        else {
            continue;
        };
        let u = surface.u_at(body.stations[i].x);
        let ends = [
            nearest(&surface, u, first.recorded),
            nearest(&surface, u, last.recorded),
        ];
        girth.place(body, i, &offsets[i], section, (bounds, ends))?;
    }
    Ok(())
}

/// The `v` of the row at `u` that is nearest to a point of the section plane.
fn nearest(surface: &Surface, u: f64, to: [f64; 2]) -> f64 {
    const STEPS: u32 = 200;
    let row = surface.row(u);
    let distance = |v: f64| {
        let at = row.jet(v).s;
        num::hypot(at.y - to[0], at.z - to[1])
    };
    let at = |i: u32| f64::from(i) / f64::from(STEPS);
    let best = (0..=STEPS)
        .min_by(|a, b| distance(at(*a)).total_cmp(&distance(at(*b))))
        .unwrap_or(0);
    let (mut low, mut high) = (at(best.saturating_sub(1)), at((best + 1).min(STEPS)));
    for _ in 0..60 {
        let step = (high - low) * GOLDEN;
        if distance(low + step) < distance(high - step) {
            high -= step;
        } else {
            low += step;
        }
    }
    f64::midpoint(low, high)
}

/// Smaller part of the golden section.
const GOLDEN: f64 = 0.381_966_011_250_105;

/// A tolerance as it counts, mm.
pub(crate) fn counted_tolerance(tolerance: f64) -> f64 {
    tolerance.clamp(TOLERANCES[0], TOLERANCES[1])
}

/// How firmly a tolerance holds a point, 1/mm².
pub(crate) fn firmness(tolerance: f64) -> f64 {
    let tolerance = counted_tolerance(tolerance);
    1.0 / (tolerance * tolerance)
}

/// How firmly a point is held, by a duck or by its tolerance, 1/mm².
fn weight(offset: &Offset) -> f64 {
    if offset.duck {
        1.0 / (DUCK * DUCK)
    } else {
        firmness(offset.tolerance)
    }
}

/// Knots, conditions and targets of a net by a method, with these plates flat and so taut lengthwise.
fn lay_out_by(
    (body, offsets): (&Body, &[Vec<Offset>]),
    bounds: GirthBounds,
    (body_ends, girth): (&BodyEnds, &Girth),
    (method, (plates, taut)): (Method, (&[[f64; 2]], f64)),
) -> Result<(Arc<NetLayout>, System), LoftError> {
    let used = stations_shown(offsets);
    let x: Vec<f64> = used.iter().map(|i| body.stations[*i].x).collect();
    let along = Lengthwise::of(&x, (body_ends.ends, body_ends.tips), method.fewest_spans())?;
    let most = offsets.iter().map(Vec::len).max().unwrap_or(0);
    let round = round_knots(body, &girth.run_lines, most)?;
    let mut ties = ties(body, &bounds, body_ends, &along.knots.greville());
    // A plate runs straight up to the centre plane.
    for tie in &mut ties {
        tie.crown_level &= !plates.iter().any(|[from, _]| *from <= 0.0);
        tie.keel_level &= !plates.iter().any(|[_, to]| *to >= 1.0);
    }
    let mut places = Vec::new();
    let mut targets = Vec::new();
    for (i, u) in used.iter().zip(&along.stations) {
        let v = girth.v[*i].as_deref().unwrap_or(&[]);
        for (offset, v) in offsets[*i].iter().zip(v) {
            places.push(NetPlace {
                station: body.stations[*i].id,
                u: *u,
                v: *v,
            });
            targets.push(Target {
                u: *u,
                v: *v,
                weight: weight(offset),
            });
        }
    }
    let (first, last) = along.knots.domain();
    let mut tips = Vec::new();
    for (height, u) in body_ends.heights.into_iter().zip([first, last]) {
        if let Some(height) = height {
            tips.push([0.0, height]);
            targets.push(Target {
                u,
                v: 0.0,
                weight: 1.0 / (TIP * TIP),
            });
        }
    }
    let end_bays = if taut > 0.0 && used.len() > 2 {
        EndBays::Slack
    } else {
        EndBays::of(method, body_ends, (&used, offsets), girth)
    };
    let mut system = System::new(along.knots, round, along.x, (&ties, end_bays), &targets);
    if !plates.is_empty() {
        system = system.with_plates(plates, taut);
    }
    let evidence = Evidence::of(body, offsets);
    Ok((
        Arc::new(NetLayout {
            evidence,
            bounds,
            run_lines: girth.run_lines.clone(),
            places,
            tips,
            plates: plates.to_vec(),
        }),
        system,
    ))
}

/// Fewest and most spans of the net round the girth, and how many for each offset of the fullest station.
const GIRTH_SPANS: [f64; 2] = [12.0, 28.0];
const SPANS_PER_OFFSET: f64 = 1.2;

/// Knots round the girth: one at each run line, triple at a knuckle, even between.
fn round_knots(
    body: &Body,
    run_lines: &[(RunLineId, f64)],
    most: usize,
) -> Result<Knots, LoftError> {
    let spans = (SPANS_PER_OFFSET * most as f64).clamp(GIRTH_SPANS[0], GIRTH_SPANS[1]);
    let knuckle = |id: RunLineId| {
        body.run_line(id)
            .is_some_and(|line| line.kind == RunKind::Knuckle)
    };
    let inner = run_lines.iter().filter(|(_, v)| *v > 0.0 && *v < 1.0);
    let marks: Vec<(f64, usize)> = inner
        .map(|(id, v)| (*v, if knuckle(*id) { 3 } else { 1 }))
        .chain([(1.0, 1)])
        .collect();
    let mut breaks = vec![(0.0, 1)];
    let mut from = 0.0;
    for (to, multiplicity) in marks {
        let share: f64 = spans * (to - from);
        let parts = num::count_of(share.round().max(1.0));
        for part in 1..parts {
            breaks.push((from + (to - from) * part as f64 / parts as f64, 1));
        }
        breaks.push((to, multiplicity));
        from = to;
    }
    Knots::with_multiplicities(&breaks).map_err(|_not_rising| LoftError::NotFixed)
}

/// How each row of the net is tied, by its place along the body.
fn ties(body: &Body, bounds: &GirthBounds, body_ends: &BodyEnds, greville: &[f64]) -> Vec<RowTies> {
    let last = greville.len() - 1;
    // A row's Greville abscissa stands for its x: exact but at blunt tips, where the form of the crossing seldom changes.
    let scale = |u: f64| {
        let share = (u - greville[0]) / (greville[last] - greville[0]);
        body_ends.ends[0] + (body_ends.ends[1] - body_ends.ends[0]) * share
    };
    (0..=last)
        .map(|i| {
            let level = |side: Side| {
                let x = scale(greville[i]);
                let station = body
                    .stations
                    .iter()
                    .find(|s| s.x >= x - num::FIT)
                    .or(body.stations.last());
                station.is_none_or(|s| body.peak(side, s.id) == Peak::Smooth)
            };
            RowTies {
                tip: (i == 0 && body_ends.tips[0].is_some())
                    || (i == last && body_ends.tips[1].is_some()),
                crown: bounds.crown,
                crown_level: bounds.crown && level(Side::Crown),
                keel: bounds.keel,
                keel_level: bounds.keel && level(Side::Keel),
            }
        })
        .collect()
}

#[cfg(test)]
mod tests;
