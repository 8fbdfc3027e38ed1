//! What over a board is still to be settled.

use crate::document::{Body, StationId};
use crate::settle::{Fairness, Findings, Subject};
use crate::shop::templates::{Board, MarkKind, Reach, Strip};

/// What is over a board.
pub(super) fn over_board(body: &Body, board: &Board, findings: &Findings) -> Vec<String> {
    let reach = match board.plan.reach {
        Reach::Along(reach) => reach,
        Reach::Girth(_) => [board.plan.plane.x; 2],
    };
    let named = { board.marks.iter() }.filter(|mark| mark.kind != MarkKind::Station);
    let names: Vec<&str> = named.map(|mark| mark.name.as_str()).collect();
    over(body, (reach, &names), findings)
}

/// What is over a rod or a tape.
pub(super) fn over_strip(body: &Body, strip: &Strip, findings: &Findings) -> Vec<String> {
    let names = strip.lines.iter().map(String::as_str);
    over(body, (strip.reach, &names.collect::<Vec<_>>()), findings)
}

/// Of lines by their names that are unfair within a stretch, and of misprints and contradictions on them beside it: each with
/// place and amount, in a sentence.
fn over(body: &Body, ([from, to], lines): ([f64; 2], &[&str]), findings: &Findings) -> Vec<String> {
    let passes = |name: &str| lines.contains(&name.strip_suffix(" U").unwrap_or(name));
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
