//! A sheet as SVG: black on white and to size as a file, or by classes for a page that has its own colours.
//!
//! The file stands by itself for any program: pens are attributes, areas are hatched by strokes, what is cut off is cut off
//! already. Pen weights are in millimetres on paper, and stay so on a page however large it shows the sheet.

use core::fmt::Write;

use super::in_one_line;
use crate::num;
use crate::paper::{
    Anchor, Fill, Ground, Layer, Mark, Path, Pen, Sheet, Step, Text, Tone, Typeface, Weight,
};

/// Whom a drawing is written for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SvgLook {
    /// A file: black on white.
    File,
    /// A page: classes, which its style sheet gives colours and widths.
    Page,
}

/// Decimals of a millimetre that are written: a thousandth of a printed dot would not be seen, a cutter keeps 0.01.
const DECIMALS: usize = 3;

/// How near curved edges of hatched and cut areas are met, mm.
const NEAR: f64 = 0.005;

/// How much of the ink a tint has.
const TINT: f64 = 0.08;

/// Writes a sheet.
///
/// # Units
/// Width and height in mm; so is all within.
///
/// # Accuracy
/// Coordinates to 0.001 mm; strokes and curves as they are, edges of hatched areas and of areas cut off by a clip to
/// 0.005 mm.
///
/// # Source
/// W3C, SVG 1.1 (second edition); XML 1.0 (fifth edition) for what a text may hold.
#[must_use]
pub fn write_svg(sheet: &Sheet, look: SvgLook) -> String {
    let (width, height) = (millimetres(sheet.size.0), millimetres(sheet.size.1));
    let mut out = Out {
        text: String::new(),
        look,
    };
    let size = match look {
        SvgLook::File => format!("width=\"{width}mm\" height=\"{height}mm\" "),
        SvgLook::Page => String::new(),
    };
    out.line(&format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" {size}viewBox=\"0 0 {width} {height}\" xml:space=\"preserve\" fill=\"none\">"
    ));
    out.line(&format!("<title>{}</title>", escaped(&sheet.title)));
    if look == SvgLook::File {
        out.line(&format!(
            "<rect width=\"{width}\" height=\"{height}\" fill=\"white\"/>"
        ));
    }
    for layer in &sheet.layers {
        out.layer(layer);
    }
    out.line("</svg>");
    out.text
}

/// The `d` of a path, its millimetres times `scale`, with so many decimals.
///
/// # Units
/// - `scale`: what is written for a millimetre: 1, or 96 / 25.4 for CSS pixels
/// - `decimals`: 0 to 6
///
/// # Accuracy
/// Half of the last decimal; a coordinate that is no number, which is a fault of whoever drew it, is 0.
#[must_use]
pub fn path_data(path: &Path, scale: f64, decimals: usize) -> String {
    let decimals = decimals.min(6);
    // «123.4 567.8L»
    let mut out = String::with_capacity(path.steps.len() * (9 + 2 * decimals));
    let pair = |letter: char, (x, y): (f64, f64), out: &mut String| {
        out.push(letter);
        short(out, x * scale, decimals);
        out.push(' ');
        short(out, y * scale, decimals);
    };
    path.walk(|from, step| match step {
        Step::Move(to) => pair('M', to, &mut out),
        Step::Line(to) => pair('L', to, &mut out),
        Step::Curve(leave, meet, to) => {
            pair('C', leave, &mut out);
            pair(' ', meet, &mut out);
            pair(' ', to, &mut out);
        }
        Step::Arc { centre, turn } => {
            let radius = num::hypot(from.0 - centre.0, from.1 - centre.1);
            // No piece of more than half a turn, so that it is the lesser one.
            let count = (turn.abs() / core::f64::consts::PI)
                .ceil()
                .clamp(1.0, 1000.0);
            for piece in 1..=num::count_of(count) {
                let to = crate::paper::on_arc(from, centre, turn * piece as f64 / count);
                pair('A', (radius, radius), &mut out);
                out.push_str(if turn < 0.0 { " 0 0 0" } else { " 0 0 1" });
                pair(' ', to, &mut out);
            }
        }
        Step::Close => out.push('Z'),
    });
    out
}

/// A coordinate as it is written, mm.
fn millimetres(value: f64) -> String {
    let mut out = String::new();
    short(&mut out, value, DECIMALS);
    out
}

/// A number with no more decimals than it needs; no exponent, no «-0». A drawing has thousands of these, so the digits are
/// written out by hand.
fn short(out: &mut String, value: f64, decimals: usize) {
    const TENS: [f64; 7] = [1.0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6];
    let mut rest = num::count_of((value.abs() * TENS[decimals]).round());
    if value < 0.0 && rest > 0 {
        out.push('-');
    }
    let mut digits = [b'0'; 32];
    let mut from = digits.len();
    let mut put = |byte: u8| {
        from -= 1;
        digits[from] = byte;
    };
    let digit = |n: usize| b'0' + u8::try_from(n % 10).unwrap_or(0);
    let mut written = false;
    for _ in 0..decimals {
        written |= !rest.is_multiple_of(10);
        if written {
            put(digit(rest));
        }
        rest /= 10;
    }
    if written {
        put(b'.');
    }
    loop {
        put(digit(rest));
        rest /= 10;
        if rest == 0 {
            break;
        }
    }
    out.push_str(core::str::from_utf8(&digits[from..]).unwrap_or_default());
}

/// Text as XML may hold it: its own signs written out, what it can't hold replaced.
fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match in_one_line(c) {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&apos;"),
            c => out.push(c),
        }
    }
    out
}

struct Out {
    text: String,
    look: SvgLook,
}

impl Out {
    fn line(&mut self, text: &str) {
        self.text.push_str(text);
        self.text.push('\n');
    }

    fn layer(&mut self, layer: &Layer) {
        let naming = match self.look {
            SvgLook::File => "id",
            SvgLook::Page => "class",
        };
        self.line(&format!("<g {naming}=\"{}\">", escaped(layer.name)));
        for mark in &layer.marks {
            self.mark(mark, layer.clip);
        }
        layer.seen_texts().for_each(|text| self.letters(text));
        self.line("</g>");
    }

    fn mark(&mut self, mark: &Mark, clip: Option<[f64; 4]>) {
        let area = || match clip {
            Some(clip) => mark.path.clipped_area(clip, NEAR),
            None => mark.path.clone(),
        };
        match mark.fill {
            Fill::None => {}
            Fill::Hatch(hatch) => {
                let mut strokes = Path::default();
                for (from, to) in hatch.strokes(&area(), NEAR) {
                    strokes.draw_stroke(from, to);
                }
                self.path(&self.pen(Pen::RULE), &strokes);
            }
            Fill::Sheet | Fill::Tint | Fill::Ink => self.path(&self.fill(mark.fill), &area()),
        }
        if let Some(pen) = mark.pen {
            match clip {
                Some(clip) => self.path(&self.pen(pen), &mark.path.clipped(clip)),
                None => self.path(&self.pen(pen), &mark.path),
            }
        }
    }

    fn path(&mut self, how: &str, path: &Path) {
        if !path.is_empty() {
            let d = path_data(path, 1.0, DECIMALS);
            self.line(&format!("<path {how} d=\"{d}\"/>"));
        }
    }

    /// What is said of a pen.
    fn pen(&self, pen: Pen) -> String {
        let dashes: Vec<String> = pen.dash.lengths().iter().map(|l| millimetres(*l)).collect();
        let dashes = match dashes[..] {
            [] => String::new(),
            _ => format!(" stroke-dasharray=\"{}\"", dashes.join(" ")),
        };
        match self.look {
            SvgLook::File => format!(
                "stroke=\"black\" stroke-width=\"{}\" stroke-linejoin=\"round\"{dashes}",
                millimetres(pen.weight.width())
            ),
            SvgLook::Page => format!(
                "class=\"{}\" vector-effect=\"non-scaling-stroke\"{dashes}",
                weight_class(pen.weight)
            ),
        }
    }

    fn fill(&self, fill: Fill) -> String {
        let (class, ink) = match fill {
            Fill::None | Fill::Hatch(_) => return String::new(),
            Fill::Sheet => ("fill-sheet", "fill=\"white\"".to_owned()),
            Fill::Ink => ("fill-ink", "fill=\"black\"".to_owned()),
            Fill::Tint => (
                "fill-tint",
                format!("fill=\"black\" fill-opacity=\"{TINT}\""),
            ),
        };
        match self.look {
            SvgLook::File => format!("{ink} fill-rule=\"evenodd\""),
            SvgLook::Page => format!("class=\"{class}\" fill-rule=\"evenodd\""),
        }
    }

    fn letters(&mut self, text: &Text) {
        let (x, y) = (millimetres(text.at.0), millimetres(text.at.1));
        let turn = if num::same(text.turned, 0.0) {
            String::new()
        } else {
            let degrees = millimetres(text.turned.to_degrees());
            format!(" transform=\"rotate({degrees} {x} {y})\"")
        };
        if text.ground == Ground::Patch {
            let [left, top, right, foot] = text.patch();
            let [left, top, width, height] = [left, top, right - left, foot - top].map(millimetres);
            let fill = self.fill(Fill::Sheet);
            self.line(&format!(
                "<rect {fill} x=\"{left}\" y=\"{top}\" width=\"{width}\" height=\"{height}\"{turn}/>"
            ));
        }
        let mut how = format!(
            "x=\"{x}\" y=\"{y}\" font-size=\"{}\"{turn}",
            millimetres(text.size)
        );
        match text.anchor {
            Anchor::Start => {}
            Anchor::Middle => how.push_str(" text-anchor=\"middle\""),
            Anchor::End => how.push_str(" text-anchor=\"end\""),
        }
        match text.face {
            Typeface::Regular => {}
            Typeface::Bold => how.push_str(" font-weight=\"700\""),
            Typeface::Italic => how.push_str(" font-style=\"italic\""),
        }
        match self.look {
            SvgLook::File => {
                how.push_str(" font-family=\"B612, 'DejaVu Sans', sans-serif\" fill=\"black\"");
                if text.ground == Ground::Halo {
                    let rim = millimetres(0.3 * text.size);
                    let written = write!(
                        how,
                        " stroke=\"white\" stroke-width=\"{rim}\" stroke-linejoin=\"round\" paint-order=\"stroke\""
                    );
                    debug_assert!(written.is_ok(), "a string takes all");
                }
                // As it was measured.
                how.push_str(" style=\"font-kerning:none;font-variant-ligatures:none\"");
            }
            SvgLook::Page => {
                let tone = match text.tone {
                    Tone::Thin => "thin",
                    Tone::Ink => "ink",
                    Tone::Picked => "picked",
                };
                let halo = if text.ground == Ground::Halo {
                    " halo"
                } else {
                    ""
                };
                let written = write!(how, " class=\"{tone}{halo}\"");
                debug_assert!(written.is_ok(), "a string takes all");
            }
        }
        self.line(&format!("<text {how}>{}</text>", escaped(&text.text)));
    }
}

/// The class of a pen's weight on a page.
fn weight_class(weight: Weight) -> &'static str {
    match weight {
        Weight::Part => "pen-part",
        Weight::Edge => "pen-edge",
        Weight::Second => "pen-second",
        Weight::Fine => "pen-fine",
        Weight::Rule => "pen-rule",
    }
}

#[cfg(test)]
mod tests {
    use core::f64::consts::{FRAC_PI_2, PI};

    use kurbo::{BezPath, Shape};
    use proptest::prelude::*;
    use roxmltree::Document;

    use super::*;
    use crate::paper::Hatch;

    fn sheet(layers: Vec<Layer>) -> Sheet {
        Sheet {
            title: "Probe".to_owned(),
            size: (210.0, 297.0),
            layers,
        }
    }

    fn written(value: f64, decimals: usize) -> String {
        let mut out = String::new();
        short(&mut out, value, decimals);
        out
    }

    #[test]
    fn a_number_has_no_tail() {
        for (value, decimals, text) in [
            (0.0, 1, "0"),
            (-0.04, 1, "0"),
            (-0.05, 1, "-0.1"),
            (12.0, 1, "12"),
            (1234.56, 1, "1234.6"),
            (-987.96, 1, "-988"),
            (100.04, 1, "100"),
            (0.005, 3, "0.005"),
            (10.05, 3, "10.05"),
            (-0.0004, 3, "0"),
            (7.5, 0, "8"),
            (f64::NAN, 3, "0"),
        ] {
            assert_eq!(written(value, decimals), text);
        }
        let large = written(f64::NEG_INFINITY, 6);
        assert!(large.parse::<f64>().is_ok(), "{large}");
    }

    #[test]
    fn an_outside_reader_finds_curves_and_arcs_where_they_were_drawn() {
        let mut path = Path::default();
        path.draw_circle((40.0, 30.0), 1250.0);
        let read = BezPath::from_svg(&path_data(&path, 1.0, 3)).unwrap();
        // The reader makes curves of arcs, 0.1 beside them.
        assert!((read.area().abs() / (PI * 1250.0 * 1250.0) - 1.0).abs() < 0.2 / 1250.0);
        // A quarter clockwise on the paper from the right goes down.
        for (turn, foot) in [(FRAC_PI_2, 40.0), (-FRAC_PI_2, 20.0), (-4.5 * PI, 20.0)] {
            let path = Path {
                steps: vec![
                    Step::Move((50.0, 30.0)),
                    Step::Arc {
                        centre: (40.0, 30.0),
                        turn,
                    },
                ],
            };
            let read = BezPath::from_svg(&path_data(&path, 1.0, 3)).unwrap();
            assert!((read.perimeter(1e-6) - 10.0 * turn.abs()).abs() < 0.1 * turn.abs());
            let end = read.segments().last().unwrap().eval_at_the_end();
            assert!((end.1 - foot).abs() < 1e-3, "{end:?}");
        }
        let mut path = Path::default();
        path.draw_curve([(0.0, 0.0), (10.0, 40.0), (50.0, -20.0), (60.0, 5.0)]);
        let px = 96.0 / 25.4;
        let read = BezPath::from_svg(&path_data(&path, px, 1)).unwrap();
        let [kurbo::PathSeg::Cubic(curve)] = read.segments().collect::<Vec<_>>()[..] else {
            panic!("{read:?}");
        };
        assert!((curve.p1.y - 40.0 * px).abs() <= 0.05 && (curve.p2.y + 20.0 * px).abs() <= 0.05);
    }

    trait End {
        fn eval_at_the_end(&self) -> (f64, f64);
    }

    impl End for kurbo::PathSeg {
        fn eval_at_the_end(&self) -> (f64, f64) {
            let end = kurbo::ParamCurve::end(self);
            (end.x, end.y)
        }
    }

    #[test]
    fn a_file_is_to_size_black_on_white_and_its_pens_are_attributes() {
        let mut layer = Layer::new("cut");
        let mut path = Path::default();
        path.draw_stroke((10.0, 10.0), (110.0, 10.0));
        layer.draw_strokes(Pen::PART.dashed(crate::paper::Dash::Short), path);
        layer.draw_text(
            Text::new((10.0, 20.0), 2.5, "STA 1450")
                .middle()
                .patched()
                .bold(),
        );
        let text = write_svg(&sheet(vec![layer]), SvgLook::File);
        let read = Document::parse(&text).unwrap();
        let root = read.root_element();
        assert_eq!(root.attribute("width"), Some("210mm"));
        assert_eq!(root.attribute("viewBox"), Some("0 0 210 297"));
        let one = |name: &str| read.descendants().rfind(|n| n.has_tag_name(name)).unwrap();
        let path = one("path");
        assert_eq!(path.attribute("stroke-width"), Some("0.5"));
        assert_eq!(path.attribute("stroke-dasharray"), Some("1.6 0.8"));
        assert_eq!(path.attribute("d"), Some("M10 10L110 10"));
        assert_eq!(path.parent_element().unwrap().attribute("id"), Some("cut"));
        assert_eq!(one("text").text(), Some("STA 1450"));
        assert_eq!(one("text").attribute("font-weight"), Some("700"));
        assert_eq!(one("rect").attribute("fill"), Some("white"));
        assert!(
            !text.contains("class=") && !text.contains("url("),
            "no other part is needed"
        );
    }

    #[test]
    fn a_page_gives_its_own_colours_and_keeps_the_pens_as_heavy_as_they_are() {
        let mut layer = Layer::new("cut");
        let mut path = Path::default();
        path.draw_box([1.0, 1.0, 2.0, 2.0]);
        layer.draw_edged(Some(Pen::EDGE), Fill::Tint, path);
        layer.draw_text(Text::new((10.0, 20.0), 2.5, "P3").tone(Tone::Picked));
        let text = write_svg(&sheet(vec![layer]), SvgLook::Page);
        let read = Document::parse(&text).unwrap();
        assert!(!text.contains("black") && !text.contains("white"));
        let strokes = read
            .descendants()
            .find(|n| n.attribute("class") == Some("pen-edge"));
        let how = strokes.unwrap().attribute("vector-effect");
        assert_eq!(how, Some("non-scaling-stroke"));
        assert!(read.root_element().attribute("width").is_none());
    }

    #[test]
    fn an_area_is_hatched_and_cut_off_before_it_is_written() {
        let mut layer = Layer::new("hollow");
        let mut path = Path::default();
        path.draw_box([0.0, 0.0, 40.0, 40.0]);
        let hatch = Hatch {
            spacing: 2.0,
            angle: 0.0,
        };
        layer.draw_edged(Some(Pen::EDGE), Fill::Hatch(hatch), path);
        layer.clip = Some([10.0, 11.0, 30.0, 60.0]);
        layer.draw_text(Text::new((12.0, 20.0), 2.5, "in"));
        layer.draw_text(Text::new((9.0, 20.0), 2.5, "half out"));
        let text = write_svg(&sheet(vec![layer]), SvgLook::File);
        let read = Document::parse(&text).unwrap();
        let paths: Vec<BezPath> = { read.descendants() }
            .filter_map(|n| n.attribute("d"))
            .map(|d| BezPath::from_svg(d).unwrap())
            .collect();
        let [hatch, edge] = &paths[..] else {
            panic!("{text}");
        };
        // Levels 12, 14, … 40: of two that lie on an edge, the one at the foot is inside. Each is 20 long.
        assert!((hatch.perimeter(1e-6) - 15.0 * 20.0).abs() < 1e-9, "{text}");
        // Of the edge only the foot lies inside.
        assert!((edge.perimeter(1e-6) - 20.0).abs() < 1e-9);
        let texts = read.descendants().filter(|n| n.has_tag_name("text"));
        assert_eq!(texts.map(|n| n.text().unwrap()).collect::<Vec<_>>(), ["in"]);
    }

    proptest! {
        #[test]
        fn whatever_a_text_holds_the_file_is_read_and_says_it(
            said in any::<String>(),
            size in any::<f64>(),
            x in any::<f64>(),
        ) {
            let mut layer = Layer::new("names");
            layer.draw_text(Text { turned: x, ..Text::new((x, 1.0), size, said.clone()).patched() });
            let mut path = Path::default();
            path.draw_line([(x, size), (size, x)]);
            path.draw_circle((x, 0.0), size);
            layer.draw_strokes(Pen::RULE, path);
            let drawn = Sheet { title: said.clone(), ..sheet(vec![layer]) };
            for look in [SvgLook::File, SvgLook::Page] {
                let text = write_svg(&drawn, look);
                prop_assert_eq!(&text, &write_svg(&drawn, look));
                let read = Document::parse(&text).unwrap();
                let held = |c: char| match c {
                    '\t' | '\n' | '\r' => ' ',
                    '\u{0}'..='\u{1f}'
                    | '\u{202a}'..='\u{202e}'
                    | '\u{2066}'..='\u{2069}'
                    | '\u{fffe}'
                    | '\u{ffff}' => '\u{fffd}',
                    c => c,
                };
                let wanted: String = said.chars().map(held).collect();
                let letters = read.descendants().find(|n| n.has_tag_name("text")).unwrap();
                prop_assert_eq!(letters.text().unwrap_or_default(), wanted);
            }
        }
    }

    #[test]
    fn a_text_that_tries_to_be_more_stays_a_text() {
        let mut layer = Layer::new("names");
        let hostile = "</text><script>alert(1)</script>\" onload=\"x]]>&#x0;<!--\u{0}\u{ffff}\u{202e}\u{fffe}";
        let hostile = format!("{hostile}{}", "W".repeat(300));
        layer.draw_text(Text::new((1.0, 1.0), 2.0, hostile.clone()));
        let text = write_svg(&sheet(vec![layer]), SvgLook::File);
        let read = Document::parse(&text).unwrap();
        assert!(read.descendants().all(|n| !n.has_tag_name("script")));
        let letters = read.descendants().find(|n| n.has_tag_name("text")).unwrap();
        assert_eq!(
            letters.text(),
            Some(&*hostile.replace(['\u{0}', '\u{202e}', '\u{fffe}', '\u{ffff}'], "\u{fffd}"))
        );
    }
}
