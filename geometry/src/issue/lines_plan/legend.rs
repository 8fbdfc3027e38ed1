//! The comb's legend: where it stands clear of what is drawn, and what it says.

use std::collections::BTreeSet;

use super::comb::{Combs, crossed, crosses};
use super::drawing::{Drawing, Kind, MM, Strokes, label};
use super::scales::Scales;
use super::{Frame, Scene, ScreenPoint};
use crate::document::{On, Place};
use crate::lines::Node;
use crate::paper::Tone;
use crate::units::radius_words;

/// The comb's legend.
#[derive(Clone, Debug, PartialEq)]
pub struct Legend {
    /// Where its block stands, px.
    pub at: ScreenPoint,
    /// Names of the lines with combs.
    pub title: String,
    /// Radius of a tooth of 10 mm.
    pub radius: String,
    /// Whether a hollow is drawn that it must explain.
    pub hollow: bool,
    /// Whether a band is.
    pub band: bool,
}

impl Combs {
    /// How much the legend would cover there: places of teeth, buttock lines, and run lines before all.
    fn covered(&self, scene: &Scene<'_>, frame: Frame, (x, y): ScreenPoint) -> usize {
        const RUN: usize = 1000;
        const BUTTOCK: usize = 100;
        let (left, right, top, foot) = (x - 12.0, x + 172.0, y - 18.0, y + 120.0);
        let on = |at: &&ScreenPoint| (left..right).contains(&at.0) && (top..foot).contains(&at.1);
        let place = [left, top, right, foot];
        let run = crossed(scene, frame, false, place);
        let planes = scene.shown.planes.iter();
        let buttocks = planes.filter(|cut| matches!(cut.plane.place, Place::Buttock(_)));
        let at = |node: &Node| frame.at(node.point.x, node.point.z);
        let buttocks = buttocks.filter(|cut| cut.branches.iter().any(|b| crosses(b, &at, place)));
        let weight = |there: bool| if there { RUN } else { 0 };
        self.taken.iter().filter(on).count() + weight(run) + BUTTOCK * buttocks.count()
    }

    /// The legend, where there is a comb.
    pub(super) fn legend(
        &self,
        scene: &Scene<'_>,
        combs: &BTreeSet<On>,
        scales: &Scales,
    ) -> Option<Legend> {
        let names: Vec<String> = combs
            .iter()
            .filter(|on| scene.fine.iter().any(|(line, _)| line == *on))
            .filter_map(|on| {
                let name = scene.lines.body.line_name(*on)?;
                Some(match on {
                    On::Crown | On::Keel | On::RunLine(_) => format!("the {name}"),
                    On::Plane(_) | On::PlaneUpper(_) | On::Free => name,
                })
            })
            .collect();
        let frame = scene.layout.profile.or(scene.layout.half_breadth);
        // A view that stands alone may show no comb at all.
        let frame = frame.filter(|_| !names.is_empty() && !self.taken.is_empty())?;
        let at = if scene.layout.alone {
            (scene.layout.size.0 - 10.0, scene.layout.size.1 - 10.0)
        } else {
            const NAMES: f64 = 62.0; // px, for the names of lines after the body's end
            const WIDE: f64 = 186.0;
            const NOTES: f64 = 304.0; // the margin's, as in `views.css`
            let (foot, end) = (frame.y(scene.layout.extent.z[0]), scene.layout.ends[1]);
            let beside = end + NAMES;
            // Beside a short body there is room, or under its body plan; a long one leaves it under its tail.
            let body = scene.layout.body;
            let breadth = scene.layout.extent.y * scene.layout.scale;
            let before = body.filter(|body| body.origin.0 - breadth - beside > WIDE);
            let under = body.filter(|_| scene.layout.size.0 - NOTES - beside > WIDE);
            let short = [
                before.map(|_| (beside, foot - 94.0)),
                under.map(|body| (beside, body.area[3] + 28.0)),
            ];
            let ways = [0.0, 8.0, -16.0, -32.0, -48.0, -64.0].map(|off| (170.0, off));
            let further = [330.0, 490.0, 650.0].map(|back| (back, 0.0));
            let head = frame.y(scene.layout.extent.z[1]) - (foot - 94.0);
            let higher = (5..20).map(|step| (170.0, -16.0 * f64::from(step)));
            let higher = higher.filter(|(_, off)| *off > head);
            let long = ways.into_iter().chain(further).chain(higher);
            let long = long.map(|(back, off)| (end - back, foot - 94.0 + off));
            let all = short.into_iter().flatten().chain(long);
            let hit = |at: &ScreenPoint| self.covered(scene, frame, *at);
            let free = all.clone().find(|at| hit(at) == 0);
            free.or_else(|| all.min_by_key(hit))?
        };
        Some(Legend {
            at,
            title: format!("Comb of {}", names.join(", ")),
            radius: radius_words(scales.tooth, scene.lines.about.unit),
            hollow: self.hollows,
            band: !self.band.0.is_empty(),
        })
    }
}

impl Legend {
    /// What it takes of the paper, where it is a block of its own, px: left, top, right, foot.
    #[must_use]
    pub fn place(&self) -> [f64; 4] {
        let (x, y) = self.at;
        let rows = f64::from(u8::from(self.hollow) + u8::from(self.band));
        [x - 6.0, y - 12.0, x + 166.0, y + 78.0 + 18.0 * rows]
    }
}

/// Draws a legend as a block of its own, on clear paper.
#[must_use]
pub fn draw_legend(legend: &Legend) -> Drawing {
    let mut out = Drawing::default();
    let (x, y) = legend.at;
    let ink = |at: ScreenPoint, words: String| label(at, words).tone(Tone::Ink);
    let (mut ground, mut hollow, mut band) =
        (Strokes::default(), Strokes::default(), Strokes::default());
    ground.box_(legend.place());
    out.label(ink((x, y), legend.title.clone()).bold());
    out.label(ink((x + 36.0, y + 25.0), "tooth 10 mm".to_owned()));
    out.label(ink(
        (x + 36.0, y + 40.0),
        format!("= radius {}", legend.radius),
    ));
    let (mut teeth, mut envelope, mut line) =
        (Strokes::default(), Strokes::default(), Strokes::default());
    let (root, tip) = (y + 12.0, y + 12.0 + 10.0 * MM);
    for i in 0..6 {
        let at = x + 0.5 + 5.0 * f64::from(i);
        teeth.stroke((at, root), (at, tip));
    }
    envelope.stroke((x, tip), (x + 26.0, tip));
    line.stroke((x, root), (x + 26.0, root));
    let mut top = y + 58.0;
    for (there, sample, words) in [
        (legend.hollow, &mut hollow, "hollow, bends inward"),
        (legend.band, &mut band, "within tolerances"),
    ] {
        if there {
            sample.box_([x, top, x + 26.0, top + 12.0]);
            out.label(label((x + 36.0, top + 10.0), words));
            top += 18.0;
        }
    }
    out.draw(Kind::Ground, ground);
    out.draw(Kind::Tooth, teeth);
    out.draw(Kind::Envelope, envelope);
    out.draw(Kind::Run, line);
    out.draw(Kind::Hollow, hollow);
    out.draw(Kind::Band, band);
    out
}

/// Says in one line what the block says of the teeth, under a view that stands alone.
#[must_use]
pub fn draw_short_legend(legend: &Legend) -> Drawing {
    let mut out = Drawing::default();
    let words = format!("tooth 10 mm = radius {}", legend.radius);
    out.label(label(legend.at, words).end().patched().tone(Tone::Ink));
    out
}
