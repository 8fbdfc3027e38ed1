//! What over a board is still to be settled.

use crate::document::{Body, StationId};
use crate::settle::{Fairness, Findings, Subject};
use crate::shop::templates::{Board, MarkKind, Reach};

/// Lines that pass a board's edge and are unfair where it stands, misprints and contradictions beside it: each with place and
/// amount, in a sentence.
pub(super) fn over(body: &Body, board: &Board, findings: &Findings) -> Vec<String> {
    let [from, to] = match board.plan.reach {
        Reach::Along([from, to]) => [from, to],
        Reach::Girth(_) => [board.plan.plane.x; 2],
    };
    let passes = |name: &str| {
        let own = name.strip_suffix(" U").unwrap_or(name);
        let named = board
            .marks
            .iter()
            .filter(|mark| mark.kind != MarkKind::Station);
        named.map(|mark| mark.name.as_str()).any(|mark| mark == own)
    };
    let mut all = Vec::new();
    for line in findings
        .lines
        .iter()
        .filter(|line| line.fairness == Fairness::Unfair)
    {
        let there = line.stretch.is_some_and(|[a, b]| a <= to && b >= from);
        if there && passes(&line.name) {
            all.push(format!("{} unfair: {}", line.name, line.says));
        }
    }
    // A reading tells on the skin as far as the stations beside it.
    let bay = |station: StationId| {
        let mut xs: Vec<f64> = body.stations.iter().map(|station| station.x).collect();
        xs.sort_by(f64::total_cmp);
        let x = body.station(station)?.x;
        let before = xs.iter().rev().find(|other| **other < x).copied();
        let after = xs.iter().find(|other| **other > x).copied();
        Some([before.unwrap_or(x), after.unwrap_or(x)])
    };
    for matter in &findings.matters {
        let (station, line) = match matter.subject {
            Subject::Point(id) => match body.point(id) {
                Some(point) => (point.station, body.line_name(point.on)),
                None => continue,
            },
            Subject::Line { .. } | Subject::Section(_) => continue, // its verdict says it
        };
        let there = bay(station).is_some_and(|[a, b]| a < to && b > from);
        if there && line.is_none_or(|name| passes(&name)) {
            all.push(format!("{}: {}", matter.title, matter.says));
        }
    }
    all
}
