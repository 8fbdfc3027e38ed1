//! A drawing sheet as DXF, in the form of its 2000 version (`AC1015`): true to size in millimetres, for machines that cut.
//!
//! In: a [`Sheet`]. Out: one file; each layer of the sheet is one of the file, in its order, black or white as the screen
//! is, with the weight of its pen. Curves stay what they are, as splines, or become lines and arcs within a tolerance, for
//! machines that take no splines. What a layer's clip hides is not in the file: strokes and curves are cut at its edge,
//! exactly; hatched and inked areas flattened. Reading order: `tags`, `frame`, `arcs`, `entities`.

mod arcs;
mod entities;
mod frame;
mod tags;

use entities::{Entities, escaped, usual_pen};
use frame::{FixedHandles, LayerRow, write_head, write_objects, write_tables};
use tags::Tags;

use crate::paper::Sheet;
use crate::units::{LengthUnit, Message};

/// What becomes of curves.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum DxfCurves {
    /// Splines, exactly.
    Splines,
    /// Lines and arcs.
    Arcs {
        /// How far they may lie from the curve, mm; [`DxfCurves::ARCS`] has what a cutter keeps anyway.
        tolerance: f64,
    },
}

impl DxfCurves {
    /// Arcs within 0.02 mm.
    pub const ARCS: Self = Self::Arcs { tolerance: 0.02 };
}

/// How a sheet is written.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DxfOptions<'a> {
    /// What becomes of curves.
    pub curves: DxfCurves,
    /// What a reader should know of it, in a line: which surface, which revision. It stands as a comment under the sheet's
    /// title, at the head of the file.
    pub description: &'a str,
}

/// Why a sheet can't be written as DXF.
#[derive(Clone, Debug, PartialEq)]
pub enum DxfError {
    /// Arcs can't be held so near, or to what is no number.
    Tolerance(f64),
    /// The sheet's size is no number.
    Size,
    /// A layer's name is none that a file can have.
    LayerName(&'static str),
    /// A mark has a place that is no number, or far out.
    Mark {
        /// Its layer.
        layer: &'static str,
        /// Which mark of it, from 1.
        number: usize,
    },
    /// A text's place or size is no number, or far out.
    Text {
        /// Its layer.
        layer: &'static str,
        /// What it says.
        text: String,
    },
    /// A text has a letter that the form can't say.
    Letter {
        /// Its layer; none where it is the title or the description.
        layer: &'static str,
        /// What it says.
        text: String,
        /// The letter.
        letter: char,
    },
}

impl Message for DxfError {
    fn message(&self, _: LengthUnit) -> String {
        match self {
            // In mm whatever the unit: eighths of an inch would say nothing.
            Self::Tolerance(mm) => format!(
                "Arcs can't be held to {mm} mm of a curve: take 0.02 mm, which is what a cutter keeps, and no less than 0.0001 mm."
            ),
            Self::Size => "The sheet has a size that is no number. Please report this.".to_owned(),
            Self::LayerName(name) => {
                format!("A layer of a DXF can't be called «{name}». Please report this.")
            }
            Self::Mark { layer, number } => format!(
                "Stroke {number} of the layer {layer} has a place that is no number, or is over 1 km off. Please report this."
            ),
            Self::Text { layer, text } => format!(
                "«{text}» on the layer {layer} has a place or size that is no number, or is over 1 km off. Please report this."
            ),
            Self::Letter {
                layer,
                text,
                letter,
            } => {
                let place = if layer.is_empty() {
                    String::new()
                } else {
                    format!(" on the layer {layer}")
                };
                format!(
                    "A DXF can't say the letter {letter} (U+{:04X}) of «{text}»{place}: write it without.",
                    u32::from(*letter)
                )
            }
        }
    }
}

impl core::fmt::Display for DxfError {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        f.write_str(&self.message(LengthUnit::Millimetres))
    }
}

impl core::error::Error for DxfError {}

/// Writes a sheet as DXF.
///
/// Straight runs become polylines, curves that hang together one spline whose joints are knots three times over, arcs arcs
/// and circles. As arcs, each part that is drawn without lifting the pen is one polyline of lines and arcs. Hatching is
/// strokes, ink solid; clear paper and tints are left out, and so is what is drawn by a stroke without a length. A text is
/// as tall as its capitals, and is seen whole or not at all.
///
/// # Units
/// mm, said in the file; the sheet's lower left corner is its origin, and y runs up.
///
/// # Accuracy
/// Places to 1e-9 mm, bulges and degrees to 1e-12. Splines are the curves themselves; arcs lie within the tolerance of the
/// curve, and the curve of the arcs, which is checked by a bound on the whole of each (`arcs`). Edges of hatched and inked
/// areas, and the extents that the file states, to 0.005 mm.
///
/// # Errors
/// [`DxfError`]; no number that is none comes out.
///
/// # Source
/// The published DXF reference for the 2000 version, from memory; tested with an independent reader's audit.
pub fn write_dxf(sheet: &Sheet, options: &DxfOptions<'_>) -> Result<Vec<u8>, DxfError> {
    if let DxfCurves::Arcs { tolerance } = options.curves
        && !(tolerance >= arcs::LEAST && tolerance.is_finite())
    {
        return Err(DxfError::Tolerance(tolerance));
    }
    let (width, height) = sheet.size;
    if !(width.is_finite() && height.is_finite()) {
        return Err(DxfError::Size);
    }
    let layers = layer_rows(sheet)?;
    let mut body = Tags::default();
    let named = FixedHandles::new(&mut body);
    write_tables(&mut body, &named, sheet.size, &layers);
    body.tags([(0, "SECTION"), (2, "ENTITIES")]);
    let mut entities = Entities {
        tags: &mut body,
        curves: options.curves,
        owner: named.model,
        height,
        reached: [
            f64::INFINITY,
            f64::INFINITY,
            f64::NEG_INFINITY,
            f64::NEG_INFINITY,
        ],
    };
    for layer in &sheet.layers {
        let row = layers.iter().find(|row| row.name == layer.name);
        entities.layer(layer, row.and_then(|row| row.pen))?;
    }
    let [left, top, right, foot] = entities.reached;
    let extents = if left <= right {
        [left, height - foot, right, height - top]
    } else {
        // Nothing is drawn.
        [0.0, 0.0, width, height]
    };
    body.tag(0, "ENDSEC");
    write_objects(&mut body, &named, sheet.size);

    let mut file = Tags::default();
    for text in [sheet.title.as_str(), options.description] {
        let says = escaped(text).map_err(|letter| DxfError::Letter {
            layer: "",
            text: text.to_owned(),
            letter,
        })?;
        if !says.trim().is_empty() {
            file.tag(999, says);
        }
    }
    write_head(&mut file, sheet.size, extents, body.next_handle());
    file.append(&body);
    if file.is_faulty() {
        return Err(DxfError::Size);
    }
    Ok(file.into_bytes())
}

/// The sheet's layers, each name once, in their order.
fn layer_rows(sheet: &Sheet) -> Result<Vec<LayerRow>, DxfError> {
    let mut rows: Vec<LayerRow> = Vec::new();
    for layer in &sheet.layers {
        let fits = |letter: char| letter.is_ascii_alphanumeric() || matches!(letter, '-' | '_');
        let name = layer.name;
        if name.is_empty() || name == "0" || name.len() > 255 || !name.chars().all(fits) {
            return Err(DxfError::LayerName(name));
        }
        let pen = usual_pen(layer);
        match rows.iter_mut().find(|row| row.name == name) {
            Some(row) => row.pen = row.pen.or(pen),
            None => rows.push(LayerRow { name, pen }),
        }
    }
    Ok(rows)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::paper::{Dash, Fill, Hatch, Layer, Path, Pen, Step, Text};

    const SPLINES: DxfOptions<'_> = DxfOptions {
        curves: DxfCurves::Splines,
        description: "",
    };

    fn sheet(layer: Layer) -> Sheet {
        Sheet {
            title: "Frame 4".to_owned(),
            size: (100.0, 60.0),
            layers: vec![layer],
        }
    }

    /// The pairs of a file's entities, each entity by itself.
    fn entities(layer: Layer, curves: DxfCurves) -> Vec<Vec<(u16, String)>> {
        let options = DxfOptions { curves, ..SPLINES };
        let bytes = write_dxf(&sheet(layer), &options).unwrap();
        let text = String::from_utf8(bytes).unwrap();
        let (_, rest) = text.split_once("ENTITIES\r\n").unwrap();
        let (rest, _) = rest.split_once("  0\r\nENDSEC").unwrap();
        let lines: Vec<&str> = rest.split("\r\n").collect();
        let mut found: Vec<Vec<(u16, String)>> = Vec::new();
        for pair in lines.chunks_exact(2) {
            let code = pair[0].trim().parse().unwrap();
            if code == 0 {
                found.push(Vec::new());
            }
            let last = found.last_mut().unwrap();
            last.push((code, pair[1].to_owned()));
        }
        found
    }

    fn values(entity: &[(u16, String)], code: u16) -> Vec<&str> {
        let of = entity.iter().filter(|(at, _)| *at == code);
        of.map(|(_, value)| value.as_str()).collect()
    }

    fn numbers(entity: &[(u16, String)], code: u16) -> Vec<f64> {
        let values = values(entity, code);
        values.iter().map(|value| value.parse().unwrap()).collect()
    }

    fn kinds(found: &[Vec<(u16, String)>]) -> Vec<&str> {
        found.iter().map(|entity| entity[0].1.as_str()).collect()
    }

    /// A stroke, two curves that meet in a corner, a stroke, and a half circle.
    fn mixed() -> Path {
        let mut path = Path::default();
        path.draw_line([(5.0, 5.0), (15.0, 5.0)]);
        path.steps.extend([
            Step::Curve((20.0, 5.0), (25.0, 10.0), (25.0, 15.0)),
            Step::Curve((30.0, 15.0), (35.0, 20.0), (35.0, 25.0)),
            Step::Line((35.0, 30.0)),
            Step::Arc {
                centre: (40.0, 30.0),
                turn: core::f64::consts::PI,
            },
        ]);
        path
    }

    #[test]
    fn runs_become_what_they_are_and_one_polyline_as_arcs() {
        let mut layer = Layer::new("cut");
        layer.draw_strokes(Pen::PART, mixed());
        let found = entities(layer.clone(), DxfCurves::Splines);
        assert_eq!(kinds(&found), ["LWPOLYLINE", "SPLINE", "LWPOLYLINE", "ARC"]);
        let spline = &found[1];
        let knots: Vec<f64> = vec![0., 0., 0., 0., 1., 1., 1., 2., 2., 2., 2.];
        assert_eq!(numbers(spline, 40), knots);
        assert_eq!(
            numbers(spline, 10),
            [15.0, 20.0, 25.0, 25.0, 30.0, 35.0, 35.0]
        );
        // Up in the file is up on the sheet.
        assert_eq!(
            numbers(spline, 20),
            [55.0, 55.0, 50.0, 45.0, 45.0, 40.0, 35.0]
        );
        // From its left over the top on the paper to its right: against the clock from 0 to 180 degrees.
        let arc = &found[3];
        assert_eq!(
            (numbers(arc, 50), numbers(arc, 51)),
            (vec![0.0], vec![180.0])
        );
        assert_eq!(numbers(arc, 40), [5.0]);

        let found = entities(layer, DxfCurves::ARCS);
        assert_eq!(kinds(&found), ["LWPOLYLINE"]);
        let ends = (numbers(&found[0], 10), numbers(&found[0], 20));
        assert_eq!((ends.0[0], ends.1[0]), (5.0, 55.0));
        assert!((ends.0[ends.0.len() - 1] - 45.0).abs() < 1e-8);
        // The half circle goes clockwise.
        assert_eq!(values(&found[0], 42).last(), Some(&"-1.000000000000"));
    }

    #[test]
    fn what_closes_is_closed_and_what_has_no_length_is_left_out() {
        let mut path = Path::default();
        path.draw_box([10.0, 10.0, 20.0, 20.0]);
        path.draw_line([(1.0, 1.0), (1.0, 1.0)]);
        path.draw_circle((50.0, 30.0), 10.0);
        path.draw_circle((50.0, 30.0), 0.0);
        path.steps.push(Step::Move((3.0, 3.0)));
        let mut layer = Layer::new("cut");
        layer.draw_strokes(Pen::PART.dashed(Dash::Chain), path);
        let found = entities(layer, DxfCurves::Splines);
        assert_eq!(kinds(&found), ["LWPOLYLINE", "CIRCLE"]);
        assert_eq!(values(&found[0], 90), ["4"]);
        assert_eq!(values(&found[0], 70), ["129"]);
    }

    #[test]
    fn a_pen_is_said_where_it_is_not_the_layers() {
        let mut layer = Layer::new("mark");
        for pen in [Pen::FINE, Pen::EDGE, Pen::FINE.dashed(Dash::Centre)] {
            let mut path = Path::default();
            path.draw_stroke((1.0, 1.0), (9.0, 1.0));
            layer.draw_strokes(pen, path);
        }
        let found = entities(layer, DxfCurves::Splines);
        let said: Vec<_> = found
            .iter()
            .map(|e| (values(e, 6), values(e, 370)))
            .collect();
        assert_eq!(
            said,
            [
                (vec![], vec![]),
                (vec![], vec!["35"]),
                (vec!["centre"], vec![])
            ]
        );
    }

    #[test]
    fn a_clip_hides_strokes_hatching_and_letters() {
        let mut layer = Layer::new("cut");
        layer.clip = Some([0.0, 0.0, 30.0, 60.0]);
        let mut path = Path::default();
        path.draw_stroke((10.0, 50.0), (50.0, 50.0));
        path.draw_curve([(10.0, 10.0), (30.0, 10.0), (40.0, 20.0), (60.0, 10.0)]);
        let hatch = Hatch {
            spacing: 2.0,
            angle: 0.3,
        };
        layer.draw_edged(Some(Pen::PART), Fill::Hatch(hatch), path);
        let mut ink = Path::default();
        ink.draw_box([20.0, 20.0, 40.0, 30.0]);
        layer.draw_edged(None, Fill::Ink, ink);
        layer.draw_text(Text::new((25.0, 40.0), 5.0, "out of it"));
        layer.draw_text(Text::new((5.0, 40.0), 3.0, "in"));
        for curves in [DxfCurves::Splines, DxfCurves::ARCS] {
            let found = entities(layer.clone(), curves);
            for entity in &found {
                for code in [10, 11] {
                    let inside = numbers(entity, code).iter().all(|x| *x <= 30.0 + 1e-9);
                    assert!(inside, "{entity:?}");
                }
            }
            let kinds = kinds(&found);
            let count = |kind: &str| kinds.iter().filter(|k| **k == kind).count();
            assert_eq!([count("TEXT"), count("HATCH")], [1, 1], "{kinds:?}");
            let splines = usize::from(curves == DxfCurves::Splines);
            assert_eq!(
                [count("SPLINE"), count("LWPOLYLINE")],
                [splines, 2 - splines]
            );
        }
    }

    #[test]
    fn clear_paper_and_tints_are_left_out() {
        let mut layer = Layer::new("note");
        for fill in [Fill::Sheet, Fill::Tint] {
            let mut path = Path::default();
            path.draw_box([1.0, 1.0, 5.0, 5.0]);
            layer.draw_edged(None, fill, path);
        }
        layer.draw_text(Text::new((2.0, 2.0), 2.0, "A").patched());
        assert_eq!(kinds(&entities(layer, DxfCurves::Splines)), ["TEXT"]);
    }

    #[test]
    fn the_same_sheet_gives_the_same_bytes() {
        let mut layer = Layer::new("cut");
        layer.draw_strokes(Pen::PART, mixed());
        let sheet = sheet(layer);
        for curves in [DxfCurves::Splines, DxfCurves::ARCS] {
            let options = DxfOptions { curves, ..SPLINES };
            let bytes = write_dxf(&sheet, &options).unwrap();
            assert_eq!(write_dxf(&sheet, &options).unwrap(), bytes);
            let text = String::from_utf8(bytes).unwrap();
            assert!(!text.contains("-0.000000000\r") && !text.contains("NaN") && text.is_ascii());
        }
    }

    #[track_caller]
    fn refused(layer: Layer, curves: DxfCurves, says: &str) {
        let options = DxfOptions { curves, ..SPLINES };
        let error = write_dxf(&sheet(layer), &options).unwrap_err();
        assert_eq!(error.to_string(), says);
    }

    #[test]
    fn what_is_no_number_is_refused_with_its_place() {
        for odd in [f64::NAN, f64::INFINITY, 2e6] {
            let mut layer = Layer::new("cut");
            let mut path = Path::default();
            path.draw_stroke((1.0, 1.0), (2.0, odd));
            layer.draw_strokes(Pen::PART, mixed());
            layer.draw_strokes(Pen::PART, path);
            refused(
                layer,
                DxfCurves::ARCS,
                "Stroke 2 of the layer cut has a place that is no number, or is over 1 km off. Please report this.",
            );
            let mut layer = Layer::new("mark");
            layer.draw_text(Text {
                turned: odd,
                ..Text::new((1.0, 1.0), 3.0, "FR 4")
            });
            refused(
                layer,
                DxfCurves::Splines,
                "«FR 4» on the layer mark has a place or size that is no number, or is over 1 km off. Please report this.",
            );
        }
        let mut sized = sheet(Layer::new("cut"));
        sized.size.0 = f64::NAN;
        assert_eq!(write_dxf(&sized, &SPLINES), Err(DxfError::Size));
    }

    #[test]
    fn what_the_form_cannot_say_is_refused_in_words() {
        let mut layer = Layer::new("mark");
        layer.draw_text(Text::new((1.0, 1.0), 3.0, "FR \u{1f600}"));
        refused(
            layer,
            DxfCurves::Splines,
            "A DXF can't say the letter \u{1f600} (U+1F600) of «FR \u{1f600}» on the layer mark: write it without.",
        );
        refused(
            Layer::new("a|b"),
            DxfCurves::Splines,
            "A layer of a DXF can't be called «a|b». Please report this.",
        );
        for tolerance in [0.0, -1.0, f64::NAN, f64::INFINITY] {
            let curves = DxfCurves::Arcs { tolerance };
            let options = DxfOptions { curves, ..SPLINES };
            let error = write_dxf(&sheet(Layer::new("cut")), &options).unwrap_err();
            let says = format!("Arcs can't be held to {tolerance} mm of a curve: ");
            assert!(error.to_string().starts_with(&says), "{error}");
        }
    }
}
