//! Curvature as it is seen: combs, their legend and the strip together.

use std::collections::BTreeSet;

use super::Scene;
use super::comb::Combs;
use super::drawing::{Drawing, Kind};
use super::legend::Legend;
use super::scales::Scales;
use super::strip::draw_strip;
use crate::document::On;

/// Combs under the lines, and the strip.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Curved {
    /// What is drawn.
    pub drawing: Drawing,
    /// The comb's legend, where there is a comb.
    pub legend: Option<Legend>,
}

/// Draws combs and strip.
pub fn draw_curvature(scene: &Scene<'_>, combs: &BTreeSet<On>, scales: &Scales) -> Curved {
    let mut strip = Drawing::default();
    let drawn = Combs::of(scene, combs, scales);
    draw_strip(scene, scales, &mut strip);
    let legend = drawn.legend(scene, combs, scales);
    let mut drawing = Drawing::default();
    drawing.draw(Kind::Band, drawn.band);
    drawing.draw(Kind::Hollow, drawn.hollow);
    drawing.draw(Kind::Tooth, drawn.teeth);
    drawing.draw(Kind::Envelope, drawn.envelope);
    drawing.draw(Kind::Leader, drawn.leaders);
    drawing.names.texts = drawn.names;
    drawing.layers.append(&mut strip.layers);
    drawing.names.texts.append(&mut strip.names.texts);
    Curved { drawing, legend }
}
