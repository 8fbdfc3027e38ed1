//! A template's sheets: the board, its tiles, and what the column says of it.

use super::board::{BoardDrawing, BoardTape};
use super::column::TitleColumn;
use super::room::{Room, letters};
use super::stamp::{boxes_along, keep_clear, stamps};
use super::tiled::Tiled;
use super::tiles::Tiles;
use super::{Numbers, PackOptions, PackPart, words};
use crate::loft::Lofted;
use crate::num;
use crate::paper::{Layer, Sheet};
use crate::shop::templates::{Board, PlaneKind, WantedBoard};
use crate::units::fixed;

/// Draws a board's sheets.
pub(super) fn draw(
    lofted: &Lofted,
    options: &PackOptions,
    (wanted, board, tiles): (&WantedBoard, &Board, &Tiles),
    carried: &[bool],
    part: &PackPart,
    numbers: Numbers,
) -> Vec<Sheet> {
    let drawing = BoardDrawing::of(wanted, board, carried);
    let mut room = Room::new(&tiles.windows);
    let stamps = stamps(lofted, tiles.field);
    keep_clear(&stamps, tiles, &mut room);
    let figures = tiles.figured(&mut room);
    let crosses = tiles.crosses(&mut room, |at| drawing.off_edge(at) > 12.0);
    let words = tiles.words(&mut room);
    let drawn = drawing.draw(&mut room, &part.warnings);
    let about = about(lofted, options, (wanted, board), drawn.gauging);
    let all = tiles.windows.len();
    let first = if all > 1 { "Then tape" } else { "Tape" };
    let short = |tape: &BoardTape| tape.length < tiles.paper.0 / 2.0;
    let tape = match (drawn.tape, &figures) {
        (tape, Some((_, reach))) if tape.is_none_or(|tape| short(&tape)) => {
            let reach = fixed(*reach, 0);
            Some(format!(
                "Tape the figures at the foot, 0 to {reach}: where paper has moved, they hold."
            ))
        }
        (tape, _) => {
            tape.map(|tape| format!("{first} {}: {}.", tape.between, fixed(tape.length, 1)))
        }
    };
    let mut layers = drawn.layers;
    layers.push(crosses);
    layers.extend(figures.map(|(layer, _)| layer));
    let tiled = Tiled {
        tiles,
        stamps,
        layers,
        words,
        outline: drawing.outline(),
        tape,
        figured: false,
    };
    tiled.sheets(part, about, numbers)
}

/// Draws a board whole and to size, with nothing about it: what is cut, marked and written on layers of their own.
pub(super) fn whole(
    lofted: &Lofted,
    (wanted, board): (&WantedBoard, &Board),
    carried: &[bool],
    part: &PackPart,
) -> Sheet {
    // Some cutters would cut dashes as dashes.
    let drawing = BoardDrawing::of(wanted, board, &[]);
    let size = (drawing.size.0, drawing.size.1 + FOOT);
    let field = [0.0, 0.0, size.0, drawing.size.1];
    let windows = [field];
    let mut room = Room::new(&windows);
    let stamps = stamps(lofted, field);
    for area in stamps.iter().flat_map(boxes_along) {
        room.take(area);
    }
    let drawn = drawing.draw(&mut room, &part.warnings);
    let mut layers = drawn.layers;
    // A machine would cut each stroke of it.
    layers.retain(|layer| layer.name != "hatch");
    let mut about = Layer::new("about");
    about.texts.clone_from(&stamps);
    let revision = words::revision(lofted).into_iter().map(|(_, says)| says);
    let revision = revision.collect::<Vec<_>>().join(", ");
    let read = if carried.contains(&true) {
        " Part of its edge is carried: drawn from its neighbours."
    } else {
        ""
    };
    let says = [
        format!("{}, 1 : 1, mm. Revision {revision}.{read}", part.code),
        "Net line: kerf not allowed for. Computed: hold it to the mating part before you cut."
            .to_owned(),
    ];
    for (i, line) in says.into_iter().enumerate() {
        let at = (4.0, drawing.size.1 + 5.0 + 4.4 * i as f64);
        about.draw_text(super::room::fitted(letters(at, 2.5, line), size.0 - 8.0));
    }
    layers.push(about);
    Sheet {
        title: part.code.clone(),
        size,
        layers,
    }
}

/// Room for what is said under a whole board, mm.
const FOOT: f64 = 14.0;

fn about(
    lofted: &Lofted,
    options: &PackOptions,
    (wanted, board): (&WantedBoard, &Board),
    gauging: f64,
) -> TitleColumn {
    let lines = lofted.lines();
    let boards = &lines.shop.sheets.boards;
    let (name, shell) = words::called(wanted);
    let plane = &board.plan.plane;
    let (kind, mut facts) = match plane.kind {
        PlaneKind::Station => {
            let station = name.trim_start_matches("T-");
            let says = format!("{station} = {} mm", fixed(plane.x, 1));
            ("Station template", vec![("Station", says)])
        }
        PlaneKind::Canted(lean) => {
            let says = format!("top leans {}° aft", fixed(lean.to_degrees(), 2));
            ("Canted template", vec![("Plane", says)])
        }
        PlaneKind::Along(off) => {
            let says = format!("line within {} mm of it", fixed(off, 1));
            ("Template along a line", vec![("Plane", says)])
        }
        PlaneKind::Square => {
            let says = "square to the line".to_owned();
            ("Template square to a line", vec![("Plane", says)])
        }
    };
    let seen = match plane.kind {
        PlaneKind::Along(_) => "bow to the left",
        PlaneKind::Station | PlaneKind::Canted(_) | PlaneKind::Square => "from aft",
    };
    facts.push(("Seen", seen.to_owned()));
    let face = boards.face.name();
    let held = words::held(board.plan.held);
    facts.push(("Surface", format!("{face}, {held}")));
    let allowance = boards.allowance;
    let allowance = match allowance {
        none if num::same(none, 0.0) => "none".to_owned(),
        out if out > 0.0 => format!("{} mm out", fixed(out, 2)),
        inside => format!("{} mm in", fixed(-inside, 2)),
    };
    facts.push(("Allowance", allowance));
    facts.push(("May lean", lean_words(board, boards.error)));
    let every = format!(
        "each {} of {} mm",
        fixed(gauging, 0),
        fixed(board.length, 1)
    );
    facts.push(("Gauge at", every));
    facts.extend(words::revision(lofted));
    let typed = format!("{} {}", lines.fingerprint().paper(), wanted.plan.code);
    TitleColumn {
        code: name,
        kind: kind.to_owned(),
        scale: "1 : 1".to_owned(),
        hand: format!("{}{shell}", words::side(wanted.hand)),
        facts,
        caution: CAUTION.to_owned(),
        scan: Some((format!("SB1 {typed}"), typed)),
        project: vec![lines.about.title.clone()],
        gauge: words::gauged(options),
    }
}

/// How far the board may lean so that its edge keeps the error that was asked of the skin.
fn lean_words(board: &Board, error: f64) -> String {
    // More is seen by the eye.
    const SEEN: f64 = 3.0;
    let (mut low, mut high) = ([f64::INFINITY; 2], [f64::NEG_INFINITY; 2]);
    for (right, up) in board.edge.iter().flatten() {
        (low[0], low[1]) = (low[0].min(*right), low[1].min(*up));
        (high[0], high[1]) = (high[0].max(*right), high[1].max(*up));
    }
    let reach = (high[0] - low[0]).max(high[1] - low[1]);
    let lean = board.allowed_lean(error, reach).to_degrees();
    if lean >= SEEN {
        "3°".to_owned()
    } else {
        format!("{}° for {} mm", fixed(lean, 2), fixed(error, 2))
    }
}

/// What is said on every template.
const CAUTION: &str = "Computed: hold it to the mating part before you cut. Sheet edges cut: gloves on, edges broken. A \
                       machine meant to fly needs approved data and a licensed inspector; local rules come first.";
