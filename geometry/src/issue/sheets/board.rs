//! A board drawn true to size: its edge, what is marked on it, and the words on it.
//!
//! In: a [`Board`] and for which hand it is. Out: layers in millimetres from the drawing's upper left corner.

use super::room::{Room, letters};
use super::words;
use crate::document::BoardSide;
use crate::loft::skin::Hand;
use crate::num;
use crate::paper::{
    Area, Dash, Fill, Layer, PaperPoint, Path, Pen, Polyline, Step, Text, Typeface, is_within,
};
use crate::shop::templates::{Board, BoardMark, MarkKind, PlaneKind, TraceLine, WantedBoard};

/// Clear paper about a board, mm: names of traces stand in it.
const ABOUT: f64 = 16.0;

/// From stroke to stroke of the hatching along an edge, and how long they are, mm.
const HATCH: (f64, f64) = (3.0, 3.2);

/// Ticks at an edge reach so far into the board, mm; those of run lines so far to its other side.
const TICK: (f64, f64) = (8.0, 6.0);

/// What the centreline is called.
const CENTRELINE: &str = "CL";

/// From corner to corner of an edge, as it is told where letters may stand, mm.
const COARSE: f64 = 2.0;

/// What is said of an edge over skin that is drawn from its neighbours.
const CARRIED: &str = "carried: drawn from its neighbours";

/// Radius of a datum mark, mm.
const DATUM: f64 = 4.0;

/// A board as it is laid out on paper.
pub(super) struct BoardDrawing<'a> {
    wanted: &'a WantedBoard,
    board: &'a Board,
    /// Which pieces of its edge are carried.
    carried: &'a [bool],
    /// What is to the right on paper: 1 as the board is seen, −1 for its mirror image.
    hand: f64,
    /// What lies at the drawing's upper left corner, to the right and up as the board is seen, mm.
    corner: (f64, f64),
    /// Its size, mm.
    pub(super) size: (f64, f64),
    /// Places along the edge, about a millimetre apart, with the distances along it.
    edge: Vec<(f64, PaperPoint)>,
    /// Corners of the board, those of its edge first.
    outline: Vec<PaperPoint>,
    /// How many of them are the edge's.
    edge_corners: usize,
}

/// What a tape shows between two places of a board.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct BoardTape {
    /// What they are called.
    pub(super) between: &'static str,
    /// Where they are on the drawing.
    pub(super) ends: [PaperPoint; 2],
    /// How far from each other, mm.
    pub(super) length: f64,
}

/// A board's layers, and the tape over it.
pub(super) struct DrawnBoard {
    pub(super) layers: Vec<Layer>,
    pub(super) tape: Option<BoardTape>,
    /// How far apart gauging marks stand along the edge, mm.
    pub(super) gauging: f64,
}

impl<'a> BoardDrawing<'a> {
    /// A board as it is drawn; pieces of its edge that are `carried` are dashed and named.
    pub(super) fn of(wanted: &'a WantedBoard, board: &'a Board, carried: &'a [bool]) -> Self {
        let hand = match wanted.hand {
            Hand::Starboard => 1.0,
            Hand::Port => -1.0,
        };
        let flat = |(right, up): (f64, f64)| (right * hand, up);
        let corners = board.edge.iter().flatten().chain(&board.back);
        let (mut low, mut high) = ([f64::INFINITY; 2], [f64::NEG_INFINITY; 2]);
        for (right, up) in corners.map(|corner| flat(*corner)) {
            (low[0], low[1]) = (low[0].min(right), low[1].min(up));
            (high[0], high[1]) = (high[0].max(right), high[1].max(up));
        }
        let mut own = Self {
            wanted,
            board,
            carried,
            hand,
            corner: (low[0] - ABOUT, high[1] + ABOUT),
            size: (
                high[0] - low[0] + 2.0 * ABOUT,
                high[1] - low[1] + 2.0 * ABOUT,
            ),
            edge: Vec::new(),
            outline: Vec::new(),
            edge_corners: 0,
        };
        let mut path = Path::default();
        own.edge_path(&mut path);
        let parts = path.flatten(0.005);
        let mut along = 0.0;
        for points in parts.iter().map(|Polyline { points, .. }| points) {
            for point in points {
                if let Some((_, last)) = own.edge.last() {
                    along += num::hypot(point.0 - last.0, point.1 - last.1);
                }
                own.edge.push((along, *point));
            }
        }
        let mut last = f64::NEG_INFINITY;
        for (along, point) in &own.edge {
            if along - last > COARSE {
                own.outline.push(*point);
                last = *along;
            }
        }
        own.outline.extend(own.edge.last().map(|(_, point)| *point));
        own.edge_corners = own.outline.len();
        let back: Vec<PaperPoint> = board.back.iter().map(|corner| own.at(*corner)).collect();
        own.outline.extend(back);
        own
    }

    /// A place of the board on the drawing.
    fn at(&self, (right, up): (f64, f64)) -> PaperPoint {
        (right * self.hand - self.corner.0, self.corner.1 - up)
    }

    /// A direction of the board on the drawing.
    fn way(&self, (right, up): (f64, f64)) -> PaperPoint {
        (right * self.hand, -up)
    }

    /// 1 where the board lies outside of the skin.
    fn away(&self) -> f64 {
        match self.board.plan.held {
            BoardSide::Outside => 1.0,
            BoardSide::Inside => -1.0,
        }
    }

    fn edge_path(&self, path: &mut Path) {
        for (i, piece) in self.board.edge.iter().enumerate() {
            let [from, out, back, to] = piece.map(|place| self.at(place));
            if i == 0 {
                path.steps.push(Step::Move(from));
            }
            path.steps.push(Step::Curve(out, back, to));
        }
    }

    /// Its corners, those of its edge among them.
    pub(super) fn outline(&self) -> &[PaperPoint] {
        &self.outline
    }

    /// Whether a place lies on the board: by the even-odd rule.
    pub(super) fn holds(&self, (x, y): PaperPoint) -> bool {
        let mut inside = false;
        let count = self.outline.len();
        for i in 0..count {
            let ((x0, y0), (x1, y1)) = (self.outline[i], self.outline[(i + 1) % count]);
            if (y0 > y) != (y1 > y) && x < x0 + (y - y0) / (y1 - y0) * (x1 - x0) {
                inside = !inside;
            }
        }
        inside
    }

    /// Whether anything of the board is within a window.
    pub(super) fn is_in(&self, [left, top, right, foot]: Area) -> bool {
        let within = |(x, y): &PaperPoint| *x > left && *x < right && *y > top && *y < foot;
        let corners = [
            (left, top),
            (right, top),
            (left, foot),
            (right, foot),
            (f64::midpoint(left, right), f64::midpoint(top, foot)),
        ];
        let mut sides = Path::default();
        sides.draw_line(self.outline.iter().copied());
        sides.close();
        self.outline.iter().any(within)
            || corners.into_iter().any(|corner| self.holds(corner))
            || !sides.clipped([left, top, right, foot]).is_empty()
    }

    /// How far a place is from the edge, to 0.6 mm where it is 1 mm or more, mm.
    pub(super) fn off_edge(&self, (x, y): PaperPoint) -> f64 {
        let edge = self.outline[..self.edge_corners].iter();
        let squares = edge.map(|(a, b)| (x - a) * (x - a) + (y - b) * (y - b));
        squares.fold(f64::INFINITY, f64::min).sqrt()
    }

    /// Draws it; letters keep off what is taken already.
    pub(super) fn draw(&self, room: &mut Room<'_>, warnings: &[String]) -> DrawnBoard {
        let (cut, carried) = self.cut(room);
        let mut back = Path::default();
        let last = self.edge.last().map(|(_, point)| *point);
        let first = self.edge.first().map(|(_, point)| *point);
        let corners = self.board.back.iter().map(|corner| self.at(*corner));
        back.draw_line(last.into_iter().chain(corners).chain(first));
        let mut outline = Layer::new("outline");
        outline.draw_strokes(Pen::EDGE, back);

        let (datum, tape) = self.datum(room);
        let trace = self.traces(room);
        let (marks, names) = self.marks(room);
        let (gauge, gauging) = self.gauge(room);
        let warned = self.warned(room, warnings);
        let says = self.says(room);
        DrawnBoard {
            layers: vec![
                trace,
                self.hatch(),
                outline,
                cut,
                carried,
                marks,
                names,
                gauge,
                datum,
                warned,
                says,
            ],
            tape,
            gauging,
        }
    }

    /// The edge, dashed where it is carried; and the names of such stretches.
    fn cut(&self, room: &mut Room<'_>) -> (Layer, Layer) {
        let mut cut = Layer::new("cut");
        let mut names = Layer::new("carried");
        let is_carried = |piece: usize| self.carried.get(piece).copied().unwrap_or(false);
        let pieces: Vec<[PaperPoint; 4]> = { self.board.edge.iter() }
            .map(|piece| piece.map(|place| self.at(place)))
            .collect();
        let mut from = 0;
        while from < pieces.len() {
            let carried = is_carried(from);
            let more = (from..pieces.len()).take_while(|piece| is_carried(*piece) == carried);
            let to = from + more.count();
            let mut path = Path::default();
            path.steps.push(Step::Move(pieces[from][0]));
            let curves = pieces[from..to].iter();
            path.steps
                .extend(curves.map(|[_, out, back, to]| Step::Curve(*out, *back, *to)));
            let pen = if carried {
                Pen::PART.dashed(Dash::Long)
            } else {
                Pen::PART
            };
            if carried {
                names.texts.extend(self.named_carried(&path, room));
            }
            cut.draw_strokes(pen, path);
            from = to;
        }
        (cut, names)
    }

    /// What stands beside a stretch that is carried, once on each tile: in the middle of what that shows of it, else as near to
    /// that as there is room.
    fn named_carried(&self, path: &Path, room: &mut Room<'_>) -> Vec<Text> {
        let points: Vec<PaperPoint> = { path.flatten(0.1).into_iter() }
            .flat_map(|part| part.points)
            .collect();
        let mut named = Vec::new();
        for window in room.windows().to_vec() {
            let [left, top, right, foot] = window;
            let within = |(x, y): &PaperPoint| *x > left && *x < right && *y > top && *y < foot;
            let points: Vec<PaperPoint> = points.iter().copied().filter(within).collect();
            let middle = points.len() / 2;
            let near = (0..points.len()).flat_map(|i| [middle + i, middle.wrapping_sub(i)]);
            let places = near.filter_map(|i| points.get(i));
            let tried = places.flat_map(|(x, y)| {
                let beside = [(0.0, 8.0), (0.0, -8.0), (28.0, 0.0), (-28.0, 0.0)];
                beside.map(|(right, down)| {
                    letters((x + right, y + down), 2.2, CARRIED)
                        .middle()
                        .patched()
                })
            });
            let clear = tried.filter(|text| {
                let area @ [l, t, r, f] = text.bounds();
                let along = (0..=24_u32).map(|i| l + (r - l) * f64::from(i) / 24.0);
                let mut places = along.flat_map(|x| [(x, t), (x, f)]);
                is_within(area, window) && places.all(|at| self.off_edge(at) > 1.5)
            });
            named.extend(room.place(clear));
        }
        named
    }

    /// A place along the edge, with the direction of the edge there.
    fn along(&self, want: f64) -> Option<(PaperPoint, PaperPoint)> {
        let after = self.edge.partition_point(|(along, _)| *along < want);
        let after = after.clamp(1, self.edge.len().checked_sub(1)?);
        let ((from, a), (to, b)) = (self.edge.get(after - 1)?, self.edge.get(after)?);
        let length = to - from;
        if length < num::SAME_POINT {
            return None;
        }
        let share = (want - from) / length;
        let way = ((b.0 - a.0) / length, (b.1 - a.1) / length);
        Some(((a.0 + (b.0 - a.0) * share, a.1 + (b.1 - a.1) * share), way))
    }

    /// The direction into the board, square to the edge's.
    fn board_side(&self, at: PaperPoint, way: PaperPoint) -> PaperPoint {
        let square = (-way.1, way.0);
        let near = (at.0 + square.0 * 0.5, at.1 + square.1 * 0.5);
        if self.holds(near) {
            square
        } else {
            (-square.0, -square.1)
        }
    }

    /// Short strokes on the board's side of its edge.
    fn hatch(&self) -> Layer {
        let mut layer = Layer::new("hatch");
        let mut strokes = Path::default();
        let length = self.edge.last().map_or(0.0, |(along, _)| *along);
        let (spacing, long) = HATCH;
        let count = num::count_of(length / spacing);
        for i in 0..count {
            let Some((at, way)) = self.along((i as f64 + 0.5) * spacing) else {
                continue;
            };
            let square = self.board_side(at, way);
            let half = core::f64::consts::FRAC_1_SQRT_2 * long;
            let to = (
                at.0 + (square.0 + way.0) * half,
                at.1 + (square.1 + way.1) * half,
            );
            strokes.draw_stroke(at, to);
        }
        layer.draw_strokes(Pen::RULE, strokes);
        layer
    }

    /// The straight traces of named planes, and across the body the centreline.
    fn straight(&self) -> Vec<TraceLine> {
        let mut all = self.board.traces.clone();
        if matches!(
            self.board.plan.plane.kind,
            PlaneKind::Station | PlaneKind::Canted(_)
        ) {
            all.push(TraceLine {
                name: CENTRELINE.to_owned(),
                across: (1.0, 0.0),
                at: 0.0,
            });
        }
        all
    }

    /// A trace on the drawing: the direction square to it, and how far along that it lies from the drawing's corner.
    fn on_paper(&self, trace: &TraceLine) -> (PaperPoint, f64) {
        let across = self.way(trace.across);
        let nought = self.at((0.0, 0.0));
        (across, trace.at + nought.0 * across.0 + nought.1 * across.1)
    }

    /// The straight traces of named planes, with their names at the left and at the foot.
    fn traces(&self, room: &mut Room<'_>) -> Layer {
        let mut layer = Layer::new("trace");
        let box_ = [4.0, 4.0, self.size.0 - 4.0, self.size.1 - 4.0];
        let half = num::hypot(self.size.0, self.size.1);
        let middle = (self.size.0 / 2.0, self.size.1 / 2.0);
        let mut draw = |trace: &TraceLine, dash: Dash| {
            let (across, at) = self.on_paper(trace);
            // The foot of the square from the drawing's middle to the trace, and along it from there.
            let off = middle.0 * across.0 + middle.1 * across.1 - at;
            let foot = (middle.0 - across.0 * off, middle.1 - across.1 * off);
            let way = (-across.1, across.0);
            let end = |k: f64| (foot.0 + way.0 * half * k, foot.1 + way.1 * half * k);
            let mut path = Path::default();
            path.draw_stroke(end(-1.0), end(1.0));
            let path = path.clipped(box_);
            let mut ends: Vec<PaperPoint> = Vec::new();
            path.walk(|from, step| {
                if let Step::Line(to) = step {
                    ends.extend([from, to]);
                }
            });
            let [a, b] = ends[..] else { return };
            layer.draw_strokes(Pen::RULE.dashed(dash), path);
            let level = across.0.abs() < across.1.abs();
            // Level ones are named over their left end, others beside their foot.
            let first = if level { a.0 < b.0 } else { a.1 > b.1 };
            let from = if first { a } else { b };
            // Once on each tile where there is room for it.
            for window in room.windows().to_vec() {
                let seen = [
                    a.0.min(b.0).max(window[0]),
                    a.1.min(b.1).max(window[1]),
                    a.0.max(b.0).min(window[2]),
                    a.1.max(b.1).min(window[3]),
                ];
                if seen[0] > seen[2] || seen[1] > seen[3] {
                    continue;
                }
                let on = |x: f64, y: f64| (x, y);
                let tried = (0..24_u32).map(|i| {
                    let step = f64::from(i) * 4.0;
                    let at = if level {
                        on(seen[0] + 1.0 + step, from.1 - 0.9)
                    } else {
                        on(from.0 + 0.9, seen[3] - 1.0 - step)
                    };
                    letters(at, 2.2, &trace.name)
                });
                let own = |text: &Text| is_within(text.bounds(), window);
                layer.texts.extend(room.place(tried.filter(own)));
            }
        };
        for trace in self.straight() {
            let upright = trace.across.0.abs() > 0.999;
            let level = trace.across.1.abs() > 0.999;
            let dash = match (trace.name == CENTRELINE, upright, level) {
                (true, ..) => Dash::Centre,
                (_, true, _) => Dash::Long,
                (.., true) => Dash::Solid,
                _ => Dash::Chain,
            };
            draw(&trace, dash);
        }
        layer
    }

    /// Ticks where named lines pass the edge; and their names.
    fn marks(&self, room: &mut Room<'_>) -> (Layer, Layer) {
        let (mut layer, mut names) = (Layer::new("mark"), Layer::new("names"));
        let mut ticks = Path::default();
        let mut wedges = Path::default();
        let mut leaders = Path::default();
        for mark in &self.board.marks {
            let BoardMark {
                at, outward, kind, ..
            } = mark;
            let at = self.at(*at);
            let way = self.way((outward.0 * self.away(), outward.1 * self.away()));
            let aside = (-way.1, way.0);
            let place = |out: f64, by: f64| {
                (
                    at.0 + way.0 * out + aside.0 * by,
                    at.1 + way.1 * out + aside.1 * by,
                )
            };
            let own = *kind == MarkKind::RunLine;
            ticks.draw_stroke(
                place(if own { -TICK.1 } else { 0.0 }, 0.0),
                place(TICK.0, 0.0),
            );
            if own {
                wedges.draw_line([place(1.0, 0.0), place(5.0, -1.1), place(5.0, 1.1)]);
                wedges.close();
            }
            let capital = if own { 3.0 } else { 2.5 };
            let text = |(x, y): PaperPoint| {
                let text = letters((x, y + capital / 2.0), capital, &mark.name)
                    .middle()
                    .patched();
                if own { text.bold() } else { text }
            };
            let half = text(at).width() / 2.0;
            // Past the tick's end by as much as the letters are wide in its direction.
            let past = half * way.0.abs() + capital * way.1.abs() / 2.0 + 1.2;
            let tried = [0.0, 4.0, 8.0, 14.0, 20.0, 28.0]
                .into_iter()
                .flat_map(|out| [0.0, 5.0, -5.0, 10.0, -10.0, 16.0, -16.0].map(|by| (out, by)));
            let placed = room.place(
                tried
                    .clone()
                    .map(|(out, by)| text(place(TICK.0 + past + out, by))),
            );
            if let Some(placed) = placed {
                let to = (placed.at.0, placed.at.1 - capital / 2.0);
                let ends = place(TICK.0, 0.0);
                let long = num::hypot(to.0 - ends.0, to.1 - ends.1);
                let rest = long - past;
                if rest > 1.0 {
                    let share = rest / long;
                    let end = (
                        ends.0 + (to.0 - ends.0) * share,
                        ends.1 + (to.1 - ends.1) * share,
                    );
                    leaders.draw_stroke(ends, end);
                }
                names.draw_text(placed);
            }
        }
        layer.draw_strokes(Pen::EDGE, ticks);
        layer.draw_edged(None, Fill::Ink, wedges);
        names.draw_strokes(Pen::RULE, leaders);
        (layer, names)
    }

    /// Numbered marks at even distances along the edge, at which its gap to the skin is gauged.
    fn gauge(&self, room: &mut Room<'_>) -> (Layer, f64) {
        const MOST: f64 = 12.0;
        let mut layer = Layer::new("gauging");
        let length = self.edge.last().map_or(0.0, |(along, _)| *along);
        let steps = [25.0, 50.0, 100.0, 200.0, 250.0, 500.0, 1000.0];
        let spacing = steps
            .into_iter()
            .find(|step| length / step <= MOST)
            .unwrap_or(2000.0);
        let mut ticks = Path::default();
        for i in 1..=num::count_of(length / spacing) {
            let Some((at, way)) = self.along(i as f64 * spacing) else {
                continue;
            };
            let square = self.board_side(at, way);
            let place = |out: f64| (at.0 + square.0 * out, at.1 + square.1 * out);
            ticks.draw_circle(place(4.4), 0.6);
            let tried = [7.6, 9.5, 12.0, 15.0].into_iter().map(|out| {
                let (x, y) = place(out);
                letters((x, y + 1.1), 2.2, i.to_string()).middle().patched()
            });
            layer.texts.extend(room.place(tried));
        }
        layer.draw_strokes(Pen::FINE, ticks);
        (layer, spacing)
    }

    /// Datum marks where traces cross on the board, as far from each other as they may be.
    fn datum(&self, room: &mut Room<'_>) -> (Layer, Option<BoardTape>) {
        let mut layer = Layer::new("datum");
        let clear = DATUM + 3.0;
        let lines: Vec<(PaperPoint, f64)> = self
            .straight()
            .iter()
            .map(|line| self.on_paper(line))
            .collect();
        let mut crossings = Vec::new();
        for (i, (a, at_a)) in lines.iter().enumerate() {
            for (b, at_b) in &lines[i + 1..] {
                // By Cramer's rule; lines that cross at a flat angle mark no place.
                let cross = a.0 * b.1 - a.1 * b.0;
                if cross.abs() < 0.5 {
                    continue;
                }
                let (x, y) = (
                    (at_a * b.1 - at_b * a.1) / cross,
                    (at_b * a.0 - at_a * b.0) / cross,
                );
                let about = [(-clear, 0.0), (clear, 0.0), (0.0, -clear), (0.0, clear)];
                let on_board = about
                    .iter()
                    .all(|(right, down)| self.holds((x + right, y + down)));
                let free = room.is_free([x - clear, y - clear, x + clear, y + clear]);
                if on_board && free && self.off_edge((x, y)) > clear {
                    crossings.push((x, y));
                }
            }
        }
        let mut best: Option<BoardTape> = None;
        for (i, a) in crossings.iter().enumerate() {
            for b in &crossings[i + 1..] {
                let length = num::hypot(b.0 - a.0, b.1 - a.1);
                if best.is_none_or(|best| length > best.length + num::SAME_POINT) {
                    best = Some(BoardTape {
                        between: "D1 to D2",
                        ends: [*a, *b],
                        length,
                    });
                }
            }
        }
        for (number, at) in best.iter().flat_map(|tape| tape.ends).enumerate() {
            let mut ring = Path::default();
            ring.draw_circle(at, DATUM);
            ring.draw_stroke((at.0 - DATUM - 2.5, at.1), (at.0 + DATUM + 2.5, at.1));
            ring.draw_stroke((at.0, at.1 - DATUM - 2.5), (at.0, at.1 + DATUM + 2.5));
            layer.draw_strokes(Pen::SECOND, ring);
            let mut quarters = Path::default();
            for start in [(0.0, -DATUM), (0.0, DATUM)] {
                quarters.steps.push(Step::Move(at));
                quarters
                    .steps
                    .push(Step::Line((at.0 + start.0, at.1 + start.1)));
                quarters.steps.push(Step::Arc {
                    centre: at,
                    turn: core::f64::consts::FRAC_PI_2,
                });
                quarters.close();
            }
            layer.draw_edged(None, Fill::Ink, quarters);
            room.take([at.0 - clear, at.1 - clear, at.0 + clear, at.1 + clear]);
            let name = format!("D{}", number + 1);
            let beside = [
                (clear + 3.0, -clear + 1.0),
                (-clear - 3.0, -clear + 1.0),
                (clear + 3.0, clear + 1.0),
                (-clear - 3.0, clear + 1.0),
            ];
            let tried = beside.into_iter().map(|(right, down)| {
                letters((at.0 + right, at.1 + down), 2.5, &name)
                    .bold()
                    .middle()
            });
            layer.texts.extend(room.place(tried));
        }
        (layer, best.or_else(|| self.end_to_end()))
    }

    /// From one end of the edge to the other, where no traces cross on the board.
    fn end_to_end(&self) -> Option<BoardTape> {
        let [(_, from), (_, to)] = [self.edge.first()?, self.edge.last()?];
        Some(BoardTape {
            between: "the edge end to end",
            ends: [*from, *to],
            length: num::hypot(to.0 - from.0, to.1 - from.1),
        })
    }

    /// What stands on the board in words: what it is, how it is cut and held; on the other side, that it is waste.
    fn says(&self, room: &mut Room<'_>) -> Layer {
        let mut layer = Layer::new("words");
        let (name, _) = words::called(self.wanted);
        let hand = words::hand(self.wanted, self.board);
        let how = words::how(self.board);
        let block = |capital: f64| {
            let mut lines = vec![letters((0.0, capital), capital, &name).bold().patched()];
            let below = 0.55 * capital;
            let mut down = 1.4 * capital + below + 1.0; // clear of what hangs under the name
            lines.push(letters((0.0, down), below.min(4.6), &hand).patched());
            down += 5.2;
            for line in &how {
                lines.push(letters((0.0, down), 2.2, line).patched());
                down += 3.9;
            }
            lines
        };
        let sizes = [9.0, 7.0, 5.0, 3.5];
        // A board too narrow for its words has at least its name.
        let name_alone =
            |capital: f64| vec![letters((0.0, capital), capital, &name).bold().patched()];
        let blocks = sizes.map(block).into_iter().chain(sizes.map(name_alone));
        for lines in blocks {
            let own = super::room::around(&lines);
            let places = grid(self.size, (own[2], own[3]), 5.0).filter(|(x, y)| {
                self.is_on_board([own[0] + x, own[1] + y, own[2] + x, own[3] + y])
            });
            if let Some(lines) = room.place_lines(&lines, places) {
                layer.texts.extend(lines);
                break;
            }
        }
        let waste = Text {
            face: Typeface::Italic,
            ..letters((0.0, 3.0), 3.0, "waste, skin goes here").patched()
        };
        let (width, height) = (waste.width(), 4.0);
        let places = grid(self.size, (width, height), 6.0).filter(|(x, y)| {
            let (right, foot) = (x + width, y + height);
            let corners = [(*x, *y), (right, *y), (*x, foot), (right, foot)];
            let near = self.off_edge((f64::midpoint(*x, right), foot));
            near < 60.0
                && corners
                    .iter()
                    .all(|c| !self.holds(*c) && self.off_edge(*c) > 6.0)
        });
        let placed = room.place_lines(&[waste], places);
        layer.texts.extend(placed.into_iter().flatten());
        layer
    }

    /// Beside the edge, what over it is still to be settled: on each tile that shows the edge, and nearest to it.
    fn warned(&self, room: &mut Room<'_>, warnings: &[String]) -> Layer {
        const FEED: f64 = 3.9;
        const WIDE: f64 = 90.0;
        let mut layer = Layer::new("warning");
        if warnings.is_empty() {
            return layer;
        }
        let mut lines = vec![
            letters((0.0, 2.5), 2.5, "NOT SETTLED HERE")
                .bold()
                .patched(),
        ];
        for warning in warnings {
            let from = (0.0, 2.5 + FEED * lines.len() as f64);
            let line = letters(from, 2.2, warning).patched();
            lines.extend(super::room::wrapped(&line, WIDE, FEED));
        }
        let [_, _, width, height] = super::room::around(&lines);
        for window in room.windows().to_vec() {
            let within = |(x, y): &PaperPoint| {
                *x > window[0] && *x < window[2] && *y > window[1] && *y < window[3]
            };
            if !self.edge.iter().any(|(_, point)| within(point)) {
                continue;
            }
            let near = |(x, y): &PaperPoint| {
                let middle = (x + width / 2.0, y + height / 2.0);
                self.off_edge(middle) < width
            };
            let mut places: Vec<(f64, PaperPoint)> = grid(self.size, (width, height), 5.0)
                .filter(|(x, y)| {
                    let ends = [(*x, *y), (x + width, y + height)];
                    ends.iter().all(within)
                })
                .filter(near)
                .filter_map(|(x, y)| {
                    let corners = [
                        (x, y),
                        (x + width, y),
                        (x, y + height),
                        (x + width, y + height),
                        (x + width / 2.0, y + height / 2.0),
                    ];
                    let off = corners.map(|corner| self.off_edge(corner));
                    let nearest = off.into_iter().fold(f64::INFINITY, f64::min);
                    (nearest > 6.0).then_some((nearest, (x, y)))
                })
                .collect();
            places.sort_by(|a, b| a.0.total_cmp(&b.0));
            let tried = places.into_iter().map(|(_, place)| place);
            layer
                .texts
                .extend(room.place_lines(&lines, tried).into_iter().flatten());
        }
        layer
    }

    /// Whether a box lies on the board, clear of its edge.
    fn is_on_board(&self, [left, top, right, foot]: Area) -> bool {
        const CLEAR: f64 = 4.0;
        const STEPS: u32 = 12;
        let (l, t, r, f) = (left - CLEAR, top - CLEAR, right + CLEAR, foot + CLEAR);
        let middle = (f64::midpoint(l, r), f64::midpoint(t, f));
        let share = |i: u32| f64::from(i) / f64::from(STEPS);
        // Its middle and corners first: most places fail there.
        [middle, (l, t), (r, f), (l, f), (r, t)]
            .into_iter()
            .all(|place| self.holds(place))
            && (1..STEPS).map(share).all(|share| {
                let (x, y) = (l + (r - l) * share, t + (f - t) * share);
                [(x, t), (x, f), (l, y), (r, y)]
                    .into_iter()
                    .all(|place| self.holds(place))
            })
    }
}

/// Places for a box in a drawing, row by row.
fn grid(size: (f64, f64), one: (f64, f64), step: f64) -> impl Iterator<Item = PaperPoint> {
    let (columns, rows) = (
        num::count_of(((size.0 - one.0) / step).max(0.0)),
        num::count_of(((size.1 - one.1) / step).max(0.0)),
    );
    (0..=rows).flat_map(move |row| {
        (0..=columns).map(move |column| (column as f64 * step, row as f64 * step))
    })
}
