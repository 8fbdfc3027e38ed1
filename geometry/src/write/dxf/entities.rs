//! What is drawn on a sheet, as entities: the sheet's y runs down, the file's up.

use super::arcs::{Bulged, fit};
use super::frame::{line_type, line_weight, style};
use super::tags::{Handle, Tags, written_alike};
use super::{DxfCurves, DxfError};
use crate::num;
use crate::paper::lettering::CAPITAL;
use crate::paper::{
    Anchor, Area, Dash, Fill, Layer, Mark, PaperPoint, Path, Pen, Polyline, Step, Text, on_arc,
};
use crate::write::in_one_line;

/// How near curved edges of hatched and inked areas are met, mm.
const NEAR: f64 = 0.005;

/// A place further from the sheet's corner than this, mm, is a fault of whoever drew it.
const FARTHEST: f64 = 1e6;

/// Entities as they are drawn, of one layer after another.
pub(super) struct Entities<'a> {
    /// Where they go.
    pub(super) tags: &'a mut Tags,
    pub(super) curves: DxfCurves,
    /// The block that they stand in.
    pub(super) owner: Handle,
    /// Height of the sheet, mm.
    pub(super) height: f64,
    /// All that was drawn, on the sheet; from infinity to its opposite while nothing is.
    pub(super) reached: Area,
}

/// On what something is drawn.
#[derive(Clone, Copy)]
struct Onto {
    layer: &'static str,
    /// The layer's own pen.
    usual: Option<Pen>,
}

/// The pen that most strokes of a layer are drawn with at first: its first mark's.
pub(super) fn usual_pen(layer: &Layer) -> Option<Pen> {
    layer.marks.iter().find_map(|mark| mark.pen)
}

impl Entities<'_> {
    /// Draws a layer; `usual` is the pen that its table names.
    pub(super) fn layer(&mut self, layer: &Layer, usual: Option<Pen>) -> Result<(), DxfError> {
        let on = Onto {
            layer: layer.name,
            usual,
        };
        for (number, mark) in (1..).zip(&layer.marks) {
            let fault = DxfError::Mark {
                layer: layer.name,
                number,
            };
            if !layer
                .clip
                .is_none_or(|clip| clip.iter().all(|x| x.is_finite()))
                || !sane(mark)
            {
                return Err(fault);
            }
            self.mark(on, mark, layer.clip);
            if self.tags.is_faulty() {
                return Err(fault);
            }
        }
        for text in &layer.texts {
            let numbers = [text.at.0, text.at.1, text.size, text.turned];
            if !numbers.iter().all(|x| x.abs() <= FARTHEST) {
                return Err(unwritten(layer, text));
            }
        }
        for text in layer.seen_texts() {
            self.text(on, text)?;
            if self.tags.is_faulty() {
                return Err(unwritten(layer, text));
            }
        }
        Ok(())
    }

    fn mark(&mut self, on: Onto, mark: &Mark, clip: Option<Area>) {
        let area = || match clip {
            Some(clip) => mark.path.clipped_area(clip, NEAR),
            None => mark.path.clone(),
        };
        match mark.fill {
            // A cutter has no colour of paper.
            Fill::None | Fill::Sheet | Fill::Tint => {}
            Fill::Hatch(hatch) => {
                for (from, to) in hatch.strokes(&area(), NEAR) {
                    self.stroke(on, from, to);
                }
            }
            Fill::Ink => self.ink(on, &area()),
        }
        if let Some(pen) = mark.pen {
            let strokes = match clip {
                Some(clip) => &mark.path.clipped(clip),
                None => &mark.path,
            };
            for Polyline { points, .. } in strokes.flatten(NEAR) {
                if points.len() > 1 {
                    self.reach(points);
                }
            }
            for part in parts(strokes) {
                match self.curves {
                    DxfCurves::Splines => self.part_as_it_is(on, pen, &part),
                    DxfCurves::Arcs { tolerance } => self.part_by_arcs(on, pen, &part, tolerance),
                }
            }
        }
    }

    /// Straight runs, curved runs and arcs, each for itself.
    fn part_as_it_is(&mut self, on: Onto, pen: Pen, part: &Part) {
        let mut at = part.start;
        for run in part.pieces.chunk_by(|a, b| a.is_alike(*b)) {
            match run[0] {
                Piece::Line(_) => {
                    let straight = |piece: &Piece| Bulged {
                        to: piece.end(),
                        bulge: 0.0,
                    };
                    let sides: Vec<Bulged> = run.iter().map(straight).collect();
                    self.polyline(on, pen, at, &sides);
                }
                Piece::Curve(_) => {
                    let curves: Vec<[PaperPoint; 4]> =
                        run.iter().filter_map(Piece::curve).collect();
                    self.spline(on, pen, &curves);
                }
                Piece::Arc {
                    from, centre, turn, ..
                } => self.arc(on, pen, [from, centre], turn),
            }
            at = run[run.len() - 1].end();
        }
    }

    /// All of a part as one polyline of lines and arcs; an arc by itself stays one.
    fn part_by_arcs(&mut self, on: Onto, pen: Pen, part: &Part, tolerance: f64) {
        if let [
            Piece::Arc {
                from, centre, turn, ..
            },
        ] = part.pieces[..]
        {
            self.arc(on, pen, [from, centre], turn);
            return;
        }
        let mut sides = Vec::new();
        for run in part.pieces.chunk_by(|a, b| a.is_alike(*b)) {
            match run[0] {
                Piece::Line(_) => sides.extend(run.iter().map(|piece| Bulged {
                    to: piece.end(),
                    bulge: 0.0,
                })),
                Piece::Curve(_) => {
                    let curves: Vec<[PaperPoint; 4]> =
                        run.iter().filter_map(Piece::curve).collect();
                    sides.extend(fit(&curves, tolerance));
                }
                Piece::Arc {
                    from, centre, turn, ..
                } => {
                    // No piece of more than half a turn: its bulge is 1.
                    let count = (turn.abs() / core::f64::consts::PI)
                        .ceil()
                        .clamp(1.0, 1000.0);
                    let quarter = turn / count / 4.0;
                    let bulge = num::sin(quarter) / num::cos(quarter);
                    sides.extend((1..=num::count_of(count)).map(|i| Bulged {
                        to: on_arc(from, centre, turn * i as f64 / count),
                        bulge,
                    }));
                }
            }
        }
        self.polyline(on, pen, part.start, &sides);
    }

    /// Lines and arcs in a row; closed where they come back to where they began.
    fn polyline(&mut self, on: Onto, pen: Pen, start: PaperPoint, sides: &[Bulged]) {
        let mut corners = vec![(start, 0.0)];
        for side in sides {
            let last = corners.len() - 1;
            // What is written as one place is one.
            if !written_alike(corners[last].0, side.to) {
                corners[last].1 = side.bulge;
                corners.push((side.to, 0.0));
            }
        }
        let closed = corners.len() > 2 && written_alike(corners[corners.len() - 1].0, start);
        if closed {
            corners.pop();
        }
        if corners.len() < 2 {
            return; // nothing is drawn by a stroke without a length
        }
        self.begin(on, pen, "LWPOLYLINE", "AcDbPolyline");
        self.tags.tag(90, corners.len());
        // Dashes run on over corners.
        let over_corners = if pen.dash == Dash::Solid { 0 } else { 128 };
        self.tags.tag(70, over_corners + u8::from(closed));
        self.tags.length(43, 0.0);
        for (corner, bulge) in corners {
            self.tags.place(10, self.up(corner));
            if !num::same(bulge, 0.0) {
                // Clockwise on the paper is under zero in the file.
                self.tags.factor(42, -bulge);
            }
        }
    }

    /// Curves that hang together as one spline: each joint is a knot three times over, so that it is these very curves.
    fn spline(&mut self, on: Onto, pen: Pen, curves: &[[PaperPoint; 4]]) {
        let drawn: Vec<&[PaperPoint; 4]> = { curves.iter() }
            .filter(|curve| !curve[1..].iter().all(|p| written_alike(*p, curve[0])))
            .collect();
        let Some(first) = drawn.first() else { return };
        let mut places = vec![first[0]];
        places.extend(drawn.iter().flat_map(|curve| &curve[1..]).copied());
        self.begin(on, pen, "SPLINE", "AcDbSpline");
        self.tags.upward();
        self.tags.tag(70, 8); // in one plane
        self.tags.tag(71, 3);
        self.tags.tag(72, 3 * drawn.len() + 5);
        self.tags.tag(73, places.len());
        self.tags.tag(74, 0);
        self.tags.length(42, 1e-9);
        self.tags.length(43, 1e-9);
        for joint in 0..=drawn.len() {
            let ends = joint == 0 || joint == drawn.len();
            for _ in 0..if ends { 4 } else { 3 } {
                self.tags.length(40, joint as f64);
            }
        }
        for place in places {
            self.tags.place_in_space(10, self.up(place));
        }
    }

    fn arc(&mut self, on: Onto, pen: Pen, [from, centre]: [PaperPoint; 2], turn: f64) {
        let radius = num::hypot(from.0 - centre.0, from.1 - centre.1);
        if written_alike((radius, turn), (0.0, turn))
            || written_alike((turn * radius, 0.0), (0.0, 0.0))
        {
            return;
        }
        let whole = turn.abs() >= core::f64::consts::TAU - 1e-12;
        let kind = if whole { "CIRCLE" } else { "ARC" };
        self.begin(on, pen, kind, "AcDbCircle");
        self.tags.place_in_space(10, self.up(centre));
        self.tags.length(40, radius);
        if whole {
            return;
        }
        self.tags.tag(100, "AcDbArc");
        // The file goes against the clock, from the right.
        let begin = -num::atan2(from.1 - centre.1, from.0 - centre.0);
        let [low, high] = if turn > 0.0 {
            [begin - turn, begin]
        } else {
            [begin, begin - turn]
        };
        for (code, angle) in [(50, low), (51, high)] {
            let degrees = angle.to_degrees();
            self.tags
                .factor(code, degrees - 360.0 * (degrees / 360.0).floor());
        }
    }

    /// A stroke of a hatched area.
    fn stroke(&mut self, on: Onto, from: PaperPoint, to: PaperPoint) {
        if written_alike(from, to) {
            return;
        }
        self.reach([from, to]);
        self.begin(on, Pen::RULE, "LINE", "AcDbLine");
        self.tags.place_in_space(10, self.up(from));
        self.tags.place_in_space(11, self.up(to));
    }

    /// An area of ink, its edges flattened: by the even-odd rule, as everywhere.
    fn ink(&mut self, on: Onto, area: &Path) {
        let edges: Vec<Vec<PaperPoint>> = { area.flatten(NEAR).into_iter() }
            .map(|part| {
                let mut points = part.points;
                points.dedup_by(|a, b| written_alike(*a, *b));
                if points.len() > 1 && written_alike(points[0], points[points.len() - 1]) {
                    points.pop();
                }
                points
            })
            .filter(|points| points.len() > 2)
            .collect();
        if edges.is_empty() {
            return;
        }
        self.begin_with(on, None, "HATCH", "AcDbHatch");
        self.tags.place_in_space(10, (0.0, 0.0));
        self.tags.upward();
        self.tags.tags([(2, "SOLID"), (70, "1"), (71, "0")]);
        self.tags.tag(91, edges.len());
        for points in edges {
            self.tags.tags([(92, "3"), (72, "0"), (73, "1")]);
            self.tags.tag(93, points.len());
            for point in &points {
                self.tags.place(10, self.up(*point));
            }
            self.tags.tag(97, 0);
            self.reach(points);
        }
        self.tags.tags([(75, "0"), (76, "1"), (98, "0")]);
    }

    fn text(&mut self, on: Onto, text: &Text) -> Result<(), DxfError> {
        let says = escaped(&text.text).map_err(|letter| DxfError::Letter {
            layer: on.layer,
            text: text.text.clone(),
            letter,
        })?;
        let height = CAPITAL * text.size;
        if says.trim().is_empty() || height <= 0.0 {
            return Ok(());
        }
        let [left, top, right, foot] = text.bounds();
        self.reach([(left, top), (right, foot)]);
        let (before, alignment) = match text.anchor {
            Anchor::Start => (0.0, 0),
            Anchor::Middle => (text.width() / 2.0, 1),
            Anchor::End => (text.width(), 2),
        };
        let begin = on_arc((text.at.0 - before, text.at.1), text.at, text.turned);
        self.begin_with(on, None, "TEXT", "AcDbText");
        self.tags.place_in_space(10, self.up(begin));
        self.tags.length(40, height);
        self.tags.tag(1, says);
        let degrees = -text.turned.to_degrees();
        self.tags
            .factor(50, degrees - 360.0 * (degrees / 360.0).floor());
        self.tags.tag(7, style(text.face));
        self.tags.tag(72, alignment);
        if alignment != 0 {
            self.tags.place_in_space(11, self.up(text.at));
        }
        self.tags.tag(100, "AcDbText");
        Ok(())
    }

    fn begin(&mut self, on: Onto, pen: Pen, kind: &str, class: &str) {
        self.begin_with(on, Some(pen), kind, class);
    }

    /// The head of an entity; what it is drawn with is said where the layer does not say it.
    fn begin_with(&mut self, on: Onto, pen: Option<Pen>, kind: &str, class: &str) {
        let handle = self.tags.handle();
        self.tags.tag(0, kind);
        self.tags.tags([(5, handle), (330, self.owner)]);
        self.tags.tags([(100, "AcDbEntity"), (8, on.layer)]);
        if let Some(pen) = pen {
            if on.usual.is_none_or(|usual| usual.dash != pen.dash) {
                self.tags.tag(6, line_type(pen.dash));
            }
            if on.usual.is_none_or(|usual| usual.weight != pen.weight) {
                self.tags.tag(370, line_weight(pen));
            }
        }
        self.tags.tag(100, class);
    }

    /// A place of the sheet in the file.
    fn up(&self, (x, y): PaperPoint) -> PaperPoint {
        (x, self.height - y)
    }

    fn reach(&mut self, points: impl IntoIterator<Item = PaperPoint>) {
        let [left, top, right, foot] = &mut self.reached;
        for (x, y) in points {
            (*left, *top) = (left.min(x), top.min(y));
            (*right, *foot) = (right.max(x), foot.max(y));
        }
    }
}

fn unwritten(layer: &Layer, text: &Text) -> DxfError {
    DxfError::Text {
        layer: layer.name,
        text: text.text.clone(),
    }
}

/// Whether all of a mark's numbers are ones, and no place is out of all bounds.
fn sane(mark: &Mark) -> bool {
    let near = |(x, y): PaperPoint| x.abs() <= FARTHEST && y.abs() <= FARTHEST;
    let hatch = match mark.fill {
        Fill::Hatch(hatch) => hatch.spacing.is_finite() && hatch.angle.is_finite(),
        Fill::None | Fill::Sheet | Fill::Tint | Fill::Ink => true,
    };
    hatch
        && mark.path.steps.iter().all(|step| match *step {
            Step::Move(to) | Step::Line(to) => near(to),
            Step::Curve(out, back, to) => near(out) && near(back) && near(to),
            Step::Arc { centre, turn } => near(centre) && turn.abs() <= FARTHEST,
            Step::Close => true,
        })
}

/// What is drawn without lifting the pen.
struct Part {
    start: PaperPoint,
    pieces: Vec<Piece>,
}

/// One piece of it.
#[derive(Clone, Copy)]
enum Piece {
    Line(PaperPoint),
    Curve([PaperPoint; 4]),
    Arc {
        from: PaperPoint,
        centre: PaperPoint,
        turn: f64,
        to: PaperPoint,
    },
}

impl Piece {
    fn end(&self) -> PaperPoint {
        match *self {
            Self::Line(to) | Self::Curve([.., to]) | Self::Arc { to, .. } => to,
        }
    }

    fn curve(&self) -> Option<[PaperPoint; 4]> {
        match *self {
            Self::Curve(curve) => Some(curve),
            Self::Line(_) | Self::Arc { .. } => None,
        }
    }

    /// Whether both go into one entity.
    fn is_alike(self, other: Self) -> bool {
        matches!(
            (self, other),
            (Self::Line(_), Self::Line(_)) | (Self::Curve(_), Self::Curve(_))
        )
    }
}

/// The parts of a path.
fn parts(path: &Path) -> Vec<Part> {
    let mut parts: Vec<Part> = Vec::new();
    // After a close the pen is where the part began, and begins another.
    let mut down = false;
    path.walk(|from, step| {
        let start = match step {
            Step::Move(to) => Some(to),
            Step::Line(_) | Step::Curve(..) | Step::Arc { .. } if !down => Some(from),
            Step::Line(_) | Step::Curve(..) | Step::Arc { .. } | Step::Close => None,
        };
        down = step != Step::Close;
        if let Some(start) = start {
            parts.push(Part {
                start,
                pieces: Vec::new(),
            });
        }
        let Some(part) = parts.last_mut() else { return };
        part.pieces.extend(match step {
            Step::Move(_) => None,
            Step::Line(to) => Some(Piece::Line(to)),
            Step::Curve(out, back, to) => Some(Piece::Curve([from, out, back, to])),
            Step::Arc { centre, turn } => Some(Piece::Arc {
                from,
                centre,
                turn,
                to: on_arc(from, centre, turn),
            }),
            Step::Close => {
                Some(Piece::Line(part.start)).filter(|_| !written_alike(from, part.start))
            }
        });
    });
    parts
}

/// A text as the file may hold it: one line, letters beyond ASCII by their numbers, its own signs written out.
///
/// # Errors
/// The first letter whose number has more than four digits, which the form can't say.
pub(super) fn escaped(text: &str) -> Result<String, char> {
    let mut out = String::with_capacity(text.len());
    let mut letters = text.chars().map(in_one_line).peekable();
    let mut percent = false;
    while let Some(letter) = letters.next() {
        let doubled = letter == '%' && (percent || letters.peek() == Some(&'%'));
        percent = letter == '%';
        match letter {
            // Two of them begin a sign.
            '%' if doubled => out.push_str("%%%"),
            // It stands for a control letter with the one after it.
            '^' => out.push_str("^ "),
            // With U or M after it, it is the number of a letter.
            '\\' => out.push_str("\\U+005C"),
            ' '..='~' => out.push(letter),
            _ => match u32::from(letter) {
                number @ ..=0xffff => out.push_str(&format!("\\U+{number:04X}")),
                _ => return Err(letter),
            },
        }
    }
    Ok(out)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn says(text: &str, written: &str) {
        assert_eq!(escaped(text).as_deref(), Ok(written));
    }

    #[test]
    fn texts_are_ascii_in_one_line_and_read_as_they_were_meant() {
        says("STA 90", "STA 90");
        says("Größe é", "Gr\\U+00F6\\U+00DFe \\U+00E9");
        says("a\nb\tc", "a b c");
        says("\\U+00E9", "\\U+005CU+00E9");
        says("5 % of %%c", "5 % of %%%%%%c");
        says("x^2", "x^ 2");
        // What would turn the direction of letters, or end the line.
        says("\u{202e}\u{0}", "\\U+FFFD\\U+FFFD");
        assert_eq!(escaped("a \u{1f600}"), Err('\u{1f600}'));
    }

    #[test]
    fn a_path_falls_into_parts_as_it_is_walked() {
        let mut path = Path::default();
        path.draw_box([1.0, 2.0, 5.0, 6.0]);
        path.steps.push(Step::Line((9.0, 9.0)));
        path.draw_circle((50.0, 50.0), 5.0);
        path.close();
        let parts = parts(&path);
        let counts: Vec<usize> = parts.iter().map(|part| part.pieces.len()).collect();
        assert_eq!(counts, [4, 1, 1]);
        assert_eq!(parts[1].start, (1.0, 2.0));
    }
}
