//! What of a pack is otherwise than it was when it last went to the shop.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::Pack;
use super::laid::Laid;
use crate::num;
use crate::paper::PaperPoint;
use crate::shop::templates::{Board, Strip};
use crate::units::fixed;

/// How a part stands to what went to the shop before.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub enum Since {
    /// It was not among it.
    New,
    /// It is as it was.
    Same,
    /// An edge or a mark of it lies elsewhere, by so many mm at most.
    Moved(f64),
    /// It is of another sort: another plane, face, side or width, other marks, other words.
    Otherwise,
}

impl Since {
    /// In words, of the revision of this label.
    #[must_use]
    pub fn words(self, label: &str) -> String {
        match self {
            Self::New => format!("not in {label}"),
            Self::Same => format!("as in {label}"),
            Self::Moved(far) => format!("{} mm off {label}", fixed(far, 2)),
            Self::Otherwise => format!("otherwise than in {label}"),
        }
    }
}

/// What is moved by less than this, mm, is cut as it was: an edge is within 0.0025 mm of the skin.
const SAME: f64 = 0.01;

impl Pack {
    /// The same, each part held against what went to the shop before: of which pack, under which label, which parts by their
    /// codes.
    #[must_use]
    pub fn since(mut self, then: &Self, label: &str, issued: &[String]) -> Self {
        let same_lines = self.lofted().lines().body == then.lofted().lines().body;
        let stands = |code: &str, now: Option<&Laid>| {
            if !issued.iter().any(|other| other == code) {
                return Since::New;
            }
            let before = then
                .contents
                .parts
                .iter()
                .position(|part| part.code == code);
            match (now, before.and_then(|at| then.laid[at].as_ref())) {
                (Some(now), Some(before)) => off(now, before, same_lines),
                // Verdicts hang on the lines alone, and those before were not judged again for this.
                (Some(Laid::Table(_)), None) if same_lines => Since::Same,
                _ => Since::Otherwise,
            }
        };
        let all: Vec<Since> = { self.contents.parts.iter().zip(&self.laid) }
            .map(|(part, now)| stands(&part.code, now.as_ref()))
            .collect();
        for (part, since) in self.contents.parts.iter_mut().zip(all) {
            part.since = Some(since);
        }
        self.contents.since = Some(label.to_owned());
        self
    }
}

fn off(now: &Laid, then: &Laid, same_lines: bool) -> Since {
    let same = |same: bool| {
        if same { Since::Same } else { Since::Otherwise }
    };
    match (now, then) {
        (
            Laid::Board { wanted, board, .. },
            Laid::Board {
                wanted: wanted_then,
                board: board_then,
                ..
            },
        ) if wanted.hand == wanted_then.hand => boards(board, board_then),
        (Laid::Strips(now), Laid::Strips(then)) => strips(&now.strips, &then.strips),
        (Laid::Table(now), Laid::Table(then)) => same(now.says_as(then)),
        (Laid::LinesPlan { one_to: now, .. }, Laid::LinesPlan { one_to: then, .. }) => {
            same(same_lines && num::same(*now, *then))
        }
        _ => Since::Otherwise,
    }
}

fn told(far: f64) -> Since {
    if far < SAME {
        Since::Same
    } else {
        Since::Moved(far)
    }
}

fn boards(now: &Board, then: &Board) -> Since {
    let (a, b) = (&now.plan, &then.plan);
    let alike = num::same(a.distance, b.distance)
        && a.held == b.held
        && num::same(a.depth, b.depth)
        && a.plane.cutting.normal.distance(b.plane.cutting.normal) < num::SAME_POINT
        && (a.plane.cutting.offset - b.plane.cutting.offset).abs() < SAME
        && a.plane.seen.origin.distance(b.plane.seen.origin) < SAME;
    let names = |board: &Board| -> Vec<String> {
        board.marks.iter().map(|mark| mark.name.clone()).collect()
    };
    if !alike || names(now) != names(then) {
        return Since::Otherwise;
    }
    let marks = now.marks.iter().zip(&then.marks);
    let marks = marks.map(|(a, b)| num::hypot(a.at.0 - b.at.0, a.at.1 - b.at.1));
    let (now, then) = (corners(now), corners(then));
    told(marks.fold(apart(&now, &then).max(apart(&then, &now)), f64::max))
}

/// Places along a board's edge, several to each of its pieces.
fn corners(board: &Board) -> Vec<PaperPoint> {
    const TO_A_PIECE: u32 = 16;
    let along = |[a, b, c, d]: &[PaperPoint; 4], t: f64| {
        let s = 1.0 - t;
        let at = |a: f64, b: f64, c: f64, d: f64| {
            a * s * s * s + 3.0 * b * s * s * t + 3.0 * c * s * t * t + d * t * t * t
        };
        (at(a.0, b.0, c.0, d.0), at(a.1, b.1, c.1, d.1))
    };
    let piece = |piece: &[PaperPoint; 4]| -> Vec<PaperPoint> {
        (0..=TO_A_PIECE)
            .map(|i| along(piece, f64::from(i) / f64::from(TO_A_PIECE)))
            .collect()
    };
    board.edge.iter().flat_map(piece).collect()
}

/// How far the places of one line lie from another at most, mm.
fn apart(of: &[PaperPoint], from: &[PaperPoint]) -> f64 {
    let nearest = |(x, y): &PaperPoint| {
        let pieces = from.windows(2).map(|pair| {
            let ((ax, ay), (bx, by)) = (pair[0], pair[1]);
            let (wide, high) = (bx - ax, by - ay);
            let long = wide * wide + high * high;
            let share = if long > 0.0 {
                (((x - ax) * wide + (y - ay) * high) / long).clamp(0.0, 1.0)
            } else {
                0.0
            };
            num::hypot(x - ax - wide * share, y - ay - high * share)
        });
        pieces.fold(f64::INFINITY, f64::min)
    };
    of.iter().map(nearest).fold(0.0, f64::max)
}

fn strips(now: &[Strip], then: &[Strip]) -> Since {
    // By name, for what passes another has changed places with it.
    let places = |strips: &[Strip]| -> BTreeMap<(String, String), f64> {
        let marks = strips.iter().flat_map(|strip| {
            let named = |name: &String| (strip.name.clone(), name.clone());
            strip
                .marks
                .iter()
                .map(move |mark| (named(&mark.name), mark.at))
        });
        marks.collect()
    };
    let (now, then) = (places(now), places(then));
    if !now.keys().eq(then.keys()) {
        return Since::Otherwise;
    }
    let moved = now.values().zip(then.values());
    told(moved.map(|(a, b)| (a - b).abs()).fold(0.0, f64::max))
}
