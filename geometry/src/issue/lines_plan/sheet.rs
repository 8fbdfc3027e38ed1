//! The lines plan as a drawing sheet: to scale, with a rule to check the print by.

use std::collections::BTreeSet;

use super::drawing::{CAPTION, Drawing, Kind, MM, PX, Strokes, label};
use super::{
    Band, Extent, Hidden, Layout, Legend, Pick, Scales, Scene, Traced, draw_curvature, draw_lines,
    draw_marks, draw_paper, fine, shown_planes,
};
use crate::document::On;
use crate::lines::{PickUp, Tape};
use crate::loft::Lofted;
use crate::paper::{Layer, Sheet, Text, Tone, Typeface};

/// How far a line may be from the true one, mm on paper.
const ON_PAPER: f64 = 0.05;

/// Room at the foot for title and rule, px.
const FOOT: f64 = 64.0;

/// What is drawn on the sheet, and how large.
#[derive(Clone, Copy, Debug)]
pub struct SheetOptions<'a> {
    /// So many mm of the body are one on paper.
    pub one_to: f64,
    /// What is picked: its line has the strip.
    pub pick: Pick,
    /// What is not drawn.
    pub hidden: &'a Hidden,
    /// Lines with combs, and how many times their teeth are doubled.
    pub combs: (&'a BTreeSet<On>, i32),
    /// What curvature the tolerances permit some lines.
    pub bands: &'a [Band],
    /// A place that is lifted off the skin, and the tape to it.
    pub lifted: (Option<&'a PickUp>, Option<&'a Tape>),
}

/// Draws all three views of lofted lines to scale, with what one must know of them and a rule at the foot.
///
/// # Units
/// The sheet's size and places: mm on paper.
///
/// # Accuracy
/// Lines within 0.05 mm on paper of the true ones.
#[must_use]
pub fn draw_sheet(lofted: &Lofted, options: &SheetOptions<'_>) -> Sheet {
    let about = about(lofted, options.one_to);
    let (mut sheet, legend) = draw_views(lofted, options);
    let (width, height) = (sheet.size.0 / PX, sheet.size.1 / PX);
    let foot = foot((width, height + 16.0), &about, legend.as_ref());
    let names = sheet.layers.pop();
    for layer in foot.layers {
        lay(&mut sheet, layer);
    }
    if let Some(mut names) = names {
        names.texts.extend(foot.names.texts);
        sheet.layers.push(names);
    }
    sheet.size.1 += FOOT * PX;
    let [title, ..] = about;
    sheet.title = title;
    sheet
}

/// How large the three views are at a scale, mm on paper, before they are drawn.
#[must_use]
pub fn size_of_views(lofted: &Lofted, one_to: f64) -> (f64, f64) {
    let extent = Extent::of(lofted.lines(), &lofted.loft().offsets());
    let (width, height) = Layout::to_scale(MM / one_to, extent).size;
    (width * PX, height * PX)
}

/// Draws the three views alone; also the legend of the comb, where there is one.
///
/// # Units
/// As [`draw_sheet`].
///
/// # Accuracy
/// As [`draw_sheet`].
#[must_use]
pub fn draw_views(lofted: &Lofted, options: &SheetOptions<'_>) -> (Sheet, Option<Legend>) {
    let (lines, loft) = (lofted.lines(), lofted.loft());
    let SheetOptions { one_to, hidden, .. } = *options;
    let offsets = loft.offsets();
    let layout = Layout::to_scale(MM / one_to, Extent::of(lines, &offsets));
    let planes = shown_planes(lines, &offsets);
    let shown = Traced::of(loft, &planes, (None, hidden), (ON_PAPER * one_to, &[]));
    let (combs, tooth) = options.combs;
    let on = super::comb_key(options.pick.on);
    let mut wanted = combs.clone();
    wanted.insert(on);
    let fine = fine(loft, &wanted);
    let scales = Scales::of(&fine, combs, on, (tooth, lines.about.unit), None);
    let scene = Scene {
        lines,
        offsets: &offsets,
        shown: &shown,
        fine: &fine,
        layout: &layout,
        pick: options.pick,
        hidden,
        bands: options.bands,
    };
    let paper = draw_paper(lines, &planes, &layout, options.pick);
    let curved = draw_curvature(&scene, combs, &scales);
    let drawn = draw_lines(&scene);
    let marks = draw_marks(&scene, options.lifted.0, options.lifted.1);
    let (width, height) = layout.size;
    let mut sheet = Sheet {
        title: String::new(),
        size: (width * PX, height * PX),
        layers: Vec::new(),
    };
    let mut names = Layer::new("names");
    for drawing in [paper, curved.drawing, drawn, marks] {
        drawing
            .layers
            .into_iter()
            .for_each(|layer| lay(&mut sheet, layer));
        names.texts.extend(drawing.names.texts);
    }
    for text in &mut names.texts {
        // Nothing is picked on paper.
        if text.tone == Tone::Picked {
            (text.tone, text.face) = (Tone::Thin, Typeface::Regular);
        }
    }
    sheet.layers.push(names);
    (sheet, curved.legend)
}

/// What one must know of the sheet; the first line is its title.
fn about(lofted: &Lofted, one_to: f64) -> [String; 3] {
    let lines = lofted.lines();
    let revision = lofted.revision();
    let revision = revision.map_or_else(String::new, |own| format!("revision {}, ", own.label));
    [
        format!("{}: lines plan, 1 : {one_to}", lines.about.title),
        format!(
            "{revision}fingerprint {}; outside of the skin; bars show tolerance × 10",
            lines.fingerprint().short()
        ),
        "Computed values are aids: check a template against the mating part before cutting."
            .to_owned(),
    ]
}

/// Lays a layer on the sheet, with those of its kind.
fn lay(sheet: &mut Sheet, layer: Layer) {
    if layer.marks.iter().all(|mark| mark.path.is_empty()) {
        return;
    }
    match sheet
        .layers
        .iter_mut()
        .find(|other| other.name == layer.name)
    {
        Some(other) => other.marks.extend(layer.marks),
        None => sheet.layers.push(layer),
    }
}

/// The rule, what one must know, and the comb's legend in a line.
fn foot((width, foot): (f64, f64), about: &[String; 3], legend: Option<&Legend>) -> Drawing {
    let mut out = Drawing::default();
    if let Some(legend) = legend {
        let band = if legend.band {
            "; grey: what the tolerances permit"
        } else {
            ""
        };
        let words = format!(
            "{}: tooth 10 mm = radius {}{band}",
            legend.title, legend.radius
        );
        out.label(label((width - 24.0, foot), words).end());
    }
    let (left, right) = (24.0, 24.0 + 100.0 * MM);
    for (number, words) in (0_u32..).zip(about) {
        let text = label((right + 40.0, foot + 15.0 * f64::from(number)), words);
        out.label(if number == 0 {
            Text {
                size: CAPTION,
                ..text.bold()
            }
        } else {
            text
        });
    }
    let mut rule = Strokes::default();
    for end in [left, right] {
        rule.stroke((end, foot - 5.0), (end, foot + 5.0));
    }
    rule.stroke((left, foot), (right, foot));
    out.draw(Kind::Check, rule);
    out.label(label(
        (left, foot + 18.0),
        "to scale only where this rule measures 100 mm",
    ));
    out
}
