//! The lines plan as a drawing sheet: to scale, black on white, for a printer or another program.
//!
//! In: a scene whose layout is [`Layout::to_scale`]. Out: an SVG whose sizes are in millimetres, with a rule to check them.

use core::fmt::Write;
use std::collections::BTreeSet;

use geometry::document::On;
use geometry::lines::{PickUp, Tape};

use super::{Scales, Scene, draw_curvature, draw_lines, draw_marks, draw_paper};
use crate::state::Pick;
use crate::views::drawing::{Drawing, Label, label};

/// px of a millimetre on paper.
const MM: f64 = 96.0 / 25.4;

/// Room at the foot for title and rule, px.
const FOOT: f64 = 64.0;

/// The pens, as on the screen but without its colours.
const PENS: &str = "\
text{font:11px 'B612','DejaVu Sans',sans-serif;fill:black}.bold{font-weight:700}.caption,.title{font-size:13px}\
path{fill:none;stroke:black;stroke-width:.5}.ground{fill:white}.station-rule,.base,.trace,.mark-rule,.leader{stroke-width:.25}\
.buttock-trace{stroke-width:.25;stroke-dasharray:12 3}.section{stroke-width:1}.waterline{stroke-width:.75}\
.buttock{stroke-width:.75;stroke-dasharray:12 3}.diagonal{stroke-width:.75;stroke-dasharray:10 3 2 3}\
.run,.picked-line{stroke-width:1.5}.picked-section{stroke-width:1}.centreline{stroke-width:.5;stroke-dasharray:16 3 2 3}\
.envelope{stroke-width:.75}.tooth{stroke-width:.25}.hollow{fill:url(#hatch);stroke:none}.band{fill:black;fill-opacity:.08;stroke:none}.was,.lozenge{fill:white}\
.duck,.dot{fill:black;stroke:none}.tape{stroke-dasharray:6 3}.check{stroke-width:1}";

/// Text as XML has it.
fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            _ => out.push(c),
        }
    }
    out
}

fn put(out: &mut String, drawing: &Drawing) {
    for (class, d) in drawing.paths.iter().filter(|(_, d)| !d.is_empty()) {
        line(out, &format!("<path class=\"{class}\" d=\"{d}\"/>"));
    }
}

fn letter(out: &mut String, label: &Label) {
    let (x, y) = label.at;
    if label.patch {
        let (left, width) = (label.left(), label.width());
        line(
            out,
            &format!(
                "<rect class=\"ground\" x=\"{left:.1}\" y=\"{:.1}\" width=\"{width:.1}\" height=\"12\"/>",
                y - 9.5
            ),
        );
    }
    line(
        out,
        &format!(
            "<text class=\"{}\" text-anchor=\"{}\" x=\"{x:.1}\" y=\"{y:.1}\">{}</text>",
            label.class,
            label.anchor.name(),
            escaped(&label.text)
        ),
    );
}

fn line(out: &mut String, text: &str) {
    let written = writeln!(out, "{text}");
    debug_assert!(written.is_ok(), "a string takes all");
}

/// Writes the sheet of a scene that is laid out to scale.
///
/// # Units
/// Width and height in mm on paper; drawn in px of 1/96 in.
///
/// # Accuracy
/// A tenth of a px, 0.03 mm on paper.
pub fn sheet(
    scene: &Scene<'_>,
    (combs, scales): (&BTreeSet<On>, &Scales),
    (lifted, tape): (Option<&PickUp>, Option<&Tape>),
    about: &[String],
) -> String {
    let (width, height) = scene.layout.size;
    let (width, height) = (width, height + FOOT);
    let mut out = String::new();
    line(
        &mut out,
        &format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{:.2}mm\" height=\"{:.2}mm\" viewBox=\"0 0 {width:.2} {height:.2}\">",
            width / MM,
            height / MM
        ),
    );
    let title = about.first().map_or("", String::as_str);
    line(&mut out, &format!("<title>{}</title>", escaped(title)));
    line(&mut out, &format!("<style>{PENS}</style>"));
    line(
        &mut out,
        "<defs><pattern id=\"hatch\" width=\"5\" height=\"5\" patternUnits=\"userSpaceOnUse\" patternTransform=\"rotate(45)\"><path d=\"M0 0V5\"/></pattern></defs>",
    );
    line(
        &mut out,
        &format!("<rect class=\"ground\" width=\"{width:.2}\" height=\"{height:.2}\"/>"),
    );
    let nothing = Pick {
        point: None,
        ..scene.pick
    };
    let paper = draw_paper(scene.lines, scene.layout, nothing);
    let curved = draw_curvature(scene, combs, scales);
    let lines = draw_lines(scene);
    let marks = draw_marks(scene, lifted, tape);
    for drawing in [&paper, &curved.drawing, &lines, &marks] {
        put(&mut out, drawing);
    }
    for drawing in [&paper, &lines, &curved.drawing] {
        for label in &drawing.labels {
            letter(&mut out, label);
        }
    }
    let foot = height - FOOT + 16.0;
    if let Some(legend) = &curved.legend {
        let band = if legend.band {
            "; grey: what the tolerances permit"
        } else {
            ""
        };
        let words = format!(
            "{}: tooth 10 mm = radius {}{band}",
            legend.title, legend.radius
        );
        letter(&mut out, &label((width - 24.0, foot), words).end());
    }
    for (number, text) in (0_u32..).zip(about) {
        let class = if number == 0 { "title bold" } else { "" };
        let at = (24.0 + 100.0 * MM + 40.0, foot + 15.0 * f64::from(number));
        letter(&mut out, &label(at, text.clone()).pen(class));
    }
    let (left, right) = (24.0, 24.0 + 100.0 * MM);
    line(
        &mut out,
        &format!(
            "<path class=\"check\" d=\"M{left:.2} {:.2}V{:.2}M{left:.2} {foot:.2}H{right:.2}M{right:.2} {:.2}V{:.2}\"/>",
            foot - 5.0,
            foot + 5.0,
            foot - 5.0,
            foot + 5.0
        ),
    );
    letter(
        &mut out,
        &label(
            (left, foot + 18.0),
            "to scale only where this rule measures 100 mm",
        ),
    );
    line(&mut out, "</svg>");
    out
}
