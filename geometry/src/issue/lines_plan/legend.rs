//! The comb's legend: where it stands clear of what is drawn, and what it says.

use std::collections::BTreeSet;

use super::comb::Combs;
use super::drawing::{Drawing, Kind, MM, Strokes, label};
use super::room::Occupied;
use super::scales::Scales;
use super::{Medium, Scene, ScreenPoint};
use crate::document::On;
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
    /// Whether a tooth can be measured: not on a page that is drawn to no scale.
    pub measured: bool,
    /// Whether a hollow is drawn that it must explain.
    pub hollow: bool,
    /// Whether a band is.
    pub band: bool,
}

impl Combs {
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
        // A view that stands alone may show no comb at all.
        if names.is_empty() || self.taken.is_empty() {
            return None;
        }
        let frame = scene.layout.profile.or(scene.layout.half_breadth)?;
        let at = if scene.layout.alone {
            (scene.layout.size.0 - 10.0, scene.layout.size.1 - 8.0)
        } else {
            let tail = (
                scene.layout.ends[1] - 170.0,
                frame.y(scene.layout.extent.z[0]) - 98.0,
            );
            let rows = u8::from(self.hollows) + u8::from(!self.band.0.is_empty());
            let taken = Occupied::on(scene, self);
            clear_place(scene, &taken, f64::from(rows), tail).unwrap_or(tail)
        };
        Some(Legend {
            at,
            title: format!("Comb of {}", names.join(", ")),
            radius: radius_words(scales.tooth, scene.lines.about.unit),
            measured: scene.layout.medium != Medium::AnyPage,
            hollow: self.hollows,
            band: !self.band.0.is_empty(),
        })
    }
}

/// Width of the block beside its place, and how high it is but for its rows, px: what stands above the place and under it.
const WIDE: f64 = 166.0;
const OVER: f64 = 12.0;
const UNDER: f64 = 78.0;
const ROW: f64 = 18.0;

/// Where the block covers nothing, as near as may be to where it is wished: the clear paper under a body's tail. Where it must
/// cover something, as little as may be, lines before points and names.
fn clear_place(
    scene: &Scene<'_>,
    taken: &Occupied,
    rows: f64,
    wish: ScreenPoint,
) -> Option<ScreenPoint> {
    const STEP: f64 = 16.0; // px
    const CLEAR: f64 = 6.0; // px, about it
    const NOTES: f64 = 304.0; // px: the margin's, as in `views.css`
    const HEADS: f64 = 36.0; // px: the sheet's own buttons stand there
    let layout = scene.layout;
    let (width, height) = layout.size;
    let notes = layout.body.map_or(height, |body| body.area[3] + 28.0);
    let deep = UNDER + ROW * rows;
    let place = |(x, y): ScreenPoint| {
        [
            x - CLEAR - 6.0,
            y - CLEAR - OVER,
            x + CLEAR + WIDE,
            y + CLEAR + deep,
        ]
    };
    let steps =
        |long: f64| (0..crate::num::count_of((long / STEP).max(0.0))).map(|i| STEP * i as f64);
    let across = steps(width).map(|x| x + 14.0);
    let all = across.flat_map(|x| steps(height).map(move |y| (x, y + HEADS + 20.0)));
    let all = core::iter::once(wish).chain(all).filter(|at| {
        let [_, _, right, foot] = place(*at);
        // The margin's notes have their own column.
        foot <= notes || right <= width - NOTES
    });
    let weighed = all.filter_map(|at| {
        let far = crate::num::hypot(at.0 - wish.0, at.1 - wish.1);
        Some((taken.within(place(at))?, far, at))
    });
    let best = weighed.min_by(|a, b| a.0.cmp(&b.0).then(a.1.total_cmp(&b.1)))?;
    Some(best.2)
}

impl Legend {
    /// What it takes of the paper, where it is a block of its own, px: left, top, right, foot.
    #[must_use]
    pub fn place(&self) -> [f64; 4] {
        let (x, y) = self.at;
        let rows = f64::from(u8::from(self.hollow) + u8::from(self.band));
        [x - 6.0, y - OVER, x + WIDE, y + UNDER + ROW * rows]
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
    let tooth = if legend.measured {
        "tooth 10 mm"
    } else {
        "tooth as long as this"
    };
    out.label(ink((x + 36.0, y + 25.0), tooth.to_owned()));
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
    out.label(label(legend.at, words).end().tone(Tone::Ink));
    out
}
