//! What stands on templates in words.

use super::PackOptions;
use crate::document::{BoardSide, Frozen, day_words};
use crate::loft::Lofted;
use crate::loft::skin::Hand;
use crate::shop::templates::{Board, PlaneKind, WantedBoard};
use crate::units::fixed;

/// A skin that leans by less than this from square to a board, rad, stands square to it: a tenth of a degree.
const SQUARE: f64 = 0.1 / 180.0 * core::f64::consts::PI;

/// A template's name in two parts: what stands large, and what follows its hand: `T-90`, `lower`.
pub(super) fn called(wanted: &WantedBoard) -> (String, String) {
    let code = wanted.plan.code.trim_end_matches(" port");
    match code.rsplit_once(' ') {
        Some((name, shell)) if ["upper", "lower", "half"].contains(&shell) => {
            (name.to_owned(), format!(", {shell}"))
        }
        _ => (code.to_owned(), String::new()),
    }
}

/// `STARBOARD`, or `PORT`.
pub(super) fn side(hand: Hand) -> &'static str {
    match hand {
        Hand::Starboard => "STARBOARD",
        Hand::Port => "PORT",
    }
}

/// Its hand, with the shell and the side on which it is held: `STARBOARD, lower, held outside`.
pub(super) fn hand(wanted: &WantedBoard, board: &Board) -> String {
    let (_, shell) = called(wanted);
    format!("{}{shell}, {}", side(wanted.hand), held(board.plan.held))
}

pub(super) fn held(held: BoardSide) -> &'static str {
    match held {
        BoardSide::Outside => "held outside",
        BoardSide::Inside => "held inside",
    }
}

/// How it is cut and how it stands, line by line.
pub(super) fn how(board: &Board) -> Vec<String> {
    let mut lines = vec!["Cut to the middle of the heavy line.".to_owned()];
    let most = { board.leans.iter() }
        .map(|lean| lean.bevel.abs())
        .fold(0.0, f64::max);
    let signs = [1.0, -1.0].map(|sign| board.leans.iter().any(|lean| lean.bevel * sign > SQUARE));
    let across = matches!(
        board.plan.plane.kind,
        PlaneKind::Station | PlaneKind::Canted(_) | PlaneKind::Square
    );
    let degrees = |angle: f64| format!("{}°", fixed(angle.to_degrees(), 1));
    let (aft, fore) = if across {
        ("aft", "forward")
    } else {
        ("beyond", "on this side")
    };
    // A board lies on the side to which the skin falls away from it, so that its face in the plane is what touches.
    let outside = board.plan.held == BoardSide::Outside;
    match signs {
        [false, false] => lines.push("The skin stands square to the board.".to_owned()),
        [true, true] => {
            lines.push(format!(
                "The skin leans both ways, by up to {}: bevel the edge from this face, which stands in the plane.",
                degrees(most)
            ));
        }
        [falls_aft, _] => {
            let falls = if falls_aft { aft } else { fore };
            let face = if across {
                // Outside, it lies where the skin falls away; inside, where it does not.
                if falls_aft == outside {
                    "Forward"
                } else {
                    "Aft"
                }
            } else {
                "Labelled"
            };
            lines.push(format!(
                "{face} face in the plane: the skin falls away {falls}, {}.",
                leans(board, &degrees)
            ));
        }
    }
    lines
}

/// By how much the skin leans from one end to the other.
fn leans(board: &Board, degrees: &dyn Fn(f64) -> String) -> String {
    let ends = [board.leans.first(), board.leans.last()]
        .map(|lean| lean.map_or(0.0, |lean| lean.bevel.abs()));
    let most = { board.leans.iter() }
        .map(|lean| lean.bevel.abs())
        .fold(0.0, f64::max);
    let [first, last] = ends.map(degrees);
    let most = degrees(most);
    if most == first || most == last {
        format!("{first} at the upper or fore end, {last} at the other")
    } else {
        format!("{first} at the upper or fore end, {last} at the other, {most} at most")
    }
}

/// What a sheet says of its printer.
pub(super) fn gauged(options: &PackOptions) -> Option<String> {
    options.gauge.map(|[across, up]| {
        format!(
            "Printed × {} across, × {} up, as gauged.",
            fixed(across, 4),
            fixed(up, 4)
        )
    })
}

/// The revision, and when it was frozen.
pub(super) fn revision(lofted: &Lofted) -> Vec<(&'static str, String)> {
    let print = lofted.lines().fingerprint().paper();
    match lofted.revision() {
        Some(Frozen { label, date }) => vec![
            ("Revision", format!("{label} · {print}")),
            ("Frozen", day_words(date)),
        ],
        None => vec![("Revision", format!("not frozen · {print}"))],
    }
}
