//! Rods and tapes on paper: all strips of an issue below each other, true to length, on as many tiles as they take.
//!
//! In: the strips, and the paper. Out: [`StripSheets`]: where each stands, so that none is cut along by a tile's edge.

use super::room::{Room, letters};
use super::stamp::{keep_clear, stamps};
use super::tiles::{MARGIN, NoPaper, Tiles};
use crate::document::Paper;
use crate::loft::Lofted;
use crate::num;
use crate::paper::{Area, Layer, PaperPoint, Path, Pen, Text, is_within, overlap};
use crate::shop::templates::Strip;
use crate::units::fixed;

/// Height that a strip takes with its name, and that of the strip alone, mm.
const HIGH: f64 = 53.0;
const STRIP: f64 = 41.0;

/// Clear paper before and behind a strip, mm.
const ABOUT: f64 = 14.0;

/// From figure to figure, and from tick to tick between them, mm.
const FIGURE: f64 = 100.0;
const TICK: f64 = 10.0;

/// Strips as they lie on their paper.
#[derive(Debug)]
pub(super) struct StripSheets {
    pub(super) strips: Vec<Strip>,
    pub(super) tiles: Tiles,
    /// Height at which each begins, mm from the drawing's top.
    tops: Vec<f64>,
}

/// Strips as they are drawn.
pub(super) struct DrawnStrips {
    /// What lies on each tile, in the drawing's places.
    pub(super) layers: Vec<Layer>,
    pub(super) stamps: Vec<Text>,
    /// What is said at shared strips, by tile.
    pub(super) words: Vec<Layer>,
    /// Which one a tape tells the paper by, and how far it reaches, mm.
    pub(super) tape: Option<(String, f64)>,
    /// The strips' edges.
    pub(super) outline: Vec<PaperPoint>,
}

impl StripSheets {
    /// Lays strips on paper.
    pub(super) fn lay(strips: Vec<Strip>, paper: &Paper) -> Result<Self, NoPaper> {
        let longest = { strips.iter() }
            .map(|strip| strip.length())
            .fold(0.0, f64::max);
        // A sheet lies on its side, and a roll is as high as it is wide.
        let (short, _) = paper.size.sides();
        let high = short - 2.0 * MARGIN;
        let a_row = num::count_of((high / HIGH).floor()).max(1);
        let top =
            |i: usize| (i / a_row) as f64 * (high - paper.overlap) + (i % a_row) as f64 * HIGH;
        let rows = strips.len().div_ceil(a_row).max(1);
        // As high as their tiles show together, so that these are not shifted.
        let height = rows as f64 * (high - paper.overlap) + paper.overlap;
        let size = (longest + 2.0 * ABOUT, height);
        let tops: Vec<f64> = (0..strips.len()).map(top).collect();
        let areas: Vec<Area> = strips
            .iter()
            .zip(&tops)
            .map(|(strip, top)| [0.0, *top, strip.length() + 2.0 * ABOUT, top + HIGH])
            .collect();
        let tiles = Tiles::lay(size, paper, |window| {
            areas.iter().any(|area| overlap(*area, window))
        })?;
        Ok(Self {
            strips,
            tiles,
            tops,
        })
    }

    /// Draws them.
    pub(super) fn draw(&self, lofted: &Lofted) -> DrawnStrips {
        let mut room = Room::new(&self.tiles.windows);
        let stamps = stamps(lofted, self.tiles.field);
        keep_clear(&stamps, &self.tiles, &mut room);
        let edges: Vec<Area> = { self.strips.iter().zip(&self.tops) }
            .map(|(strip, top)| {
                let length = strip.length();
                [ABOUT, top + HIGH - STRIP, ABOUT + length, top + HIGH]
            })
            .collect();
        let off = |(x, y): PaperPoint| {
            edges.iter().all(|[left, top, right, foot]| {
                let near = |at: f64, edge: f64| (at - edge).abs() < 8.0;
                let beside = x > left - 8.0 && x < right + 8.0;
                !(beside && (near(y, *top) || near(y, *foot)))
            })
        };
        let crosses = self.tiles.crosses(&mut room, off);
        let mut layers: Vec<Layer> = { self.strips.iter().zip(&edges) }
            .flat_map(|(strip, edge)| draw_strip(strip, *edge, &mut room))
            .collect();
        let words = self.tiles.words(&mut room);
        layers.push(crosses);
        let longest = self.strips.iter().max_by(|a, b| {
            let [a, b] = [a, b].map(|strip| strip.length());
            a.total_cmp(&b)
        });
        let tape = longest.map(|strip| {
            let reach = ((strip.length()) / FIGURE).floor() * FIGURE;
            (strip.name.clone(), reach)
        });
        let corners = |[left, top, right, foot]: Area| {
            [
                (left, top),
                (right, top),
                (right, foot),
                (left, foot),
                (left, top),
            ]
        };
        DrawnStrips {
            layers,
            stamps,
            words,
            tape,
            outline: edges.into_iter().flat_map(corners).collect(),
        }
    }
}

/// A strip: its name over it; figures along its upper edge, what lies there along the lower.
fn draw_strip(strip: &Strip, [left, top, right, foot]: Area, room: &mut Room<'_>) -> [Layer; 3] {
    let mut cut = Layer::new("outline");
    let mut edge = Path::default();
    edge.draw_box([left, top, right, foot]);
    cut.draw_strokes(Pen::EDGE, edge);
    let mut figures = Layer::new("figures");
    let mut ticks = Path::default();
    let [from, to] = strip.ends;
    let steps = num::count_of(((to - from) / TICK).floor());
    let a_figure = num::count_of(FIGURE / TICK);
    for i in 0..=steps {
        let along = i as f64 * TICK;
        let x = left + along;
        let whole = i % a_figure == 0;
        ticks.draw_stroke((x, top), (x, top + if whole { 4.0 } else { 2.0 }));
        if whole {
            let text = fixed(from + along, 0);
            let tried =
                [0.0, 4.0, -4.0].map(|by| letters((x + by, top + 7.2), 2.5, &text).bold().middle());
            figures.texts.extend(room.place(tried.into_iter()));
        }
    }
    figures.draw_strokes(Pen::RULE, ticks);
    let mut marks = Layer::new("mark");
    let (mut strokes, mut leaders) = (Path::default(), Path::default());
    // What the name would cover is named first.
    for mark in &strip.marks {
        let x = left + mark.at - from;
        strokes.draw_stroke((x, foot), (x, foot - 3.6));
        let says = format!("{}  {}", mark.name, fixed(mark.at, 1));
        // Upright beside its tick, as near as there is room; level where it is too long for that.
        let upright = (0..24_u32).flat_map(|i| {
            let by = f64::from(i) * 0.8;
            [by, -by].map(|by| Text {
                turned: -core::f64::consts::FRAC_PI_2,
                ..letters((x + by + 1.1, foot - 6.0), 2.2, &says)
            })
        });
        let upright = upright.filter(|text| text.width() < STRIP - 15.0);
        let rows = [0.0, 3.6, 7.2, 10.8, 14.4].into_iter();
        let aside = [
            0.0, 6.0, -6.0, 12.0, -12.0, 18.0, -18.0, 26.0, -26.0, 36.0, -36.0,
        ];
        let level = rows.flat_map(|up| aside.map(|by| (x + by, foot - 6.4 - up)));
        let level = level.map(|at| letters(at, 2.2, &says).middle());
        if let Some(text) = room.place(upright.chain(level)) {
            let to = if num::same(text.turned, 0.0) {
                (text.at.0, text.at.1 + 0.6)
            } else {
                (text.at.0 - 1.1, foot - 5.6)
            };
            if (to.0 - x).abs() > 0.1 {
                leaders.draw_line([(x, foot - 3.6), (to.0, foot - 5.0), to]);
            }
            marks.draw_text(text);
        }
    }
    marks.draw_strokes(Pen::SECOND, strokes);
    marks.draw_strokes(Pen::RULE, leaders);
    let whole = format!("{}, {}", strip.name, strip.counted);
    for window in room.windows().to_vec() {
        // Once on each tile that shows it, as large and as whole as there is room for.
        let from = left.max(window[0] + 1.0);
        let sizes = [(&whole, 3.0), (&whole, 2.2), (&strip.name, 2.2)];
        let tried = sizes.into_iter().flat_map(|(says, capital)| {
            let at = move |i: u32| (from + 6.0 * f64::from(i), top - 2.0);
            (0..40).map(move |i| letters(at(i), capital, says).bold())
        });
        let own = tried.filter(|text| is_within(text.bounds(), window));
        if from < right {
            marks.texts.extend(room.place(own));
        }
    }
    [cut, figures, marks]
}
