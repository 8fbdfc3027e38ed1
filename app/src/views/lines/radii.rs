//! The picked line's curvature as figures: at each station, where it turns, and where it is hollow.

use std::sync::Arc;

use geometry::document::{Lines, On};
use geometry::issue::lines_plan::in_plan;
use geometry::lines::{Branch, Node, TurnKind, node_at};
use geometry::loft::Lofted;
use geometry::units::{RadiusUnit, format_length, headed};
use leptos::prelude::*;

use crate::exchange;
use crate::state::derived::Derived;
use crate::state::{Session, comb_key};
use crate::views::widgets::{Dialog, close_dialog};
use crate::views::words::{bend_in, degrees, station_at, unit_of_bends};

/// Places that rise out of their neighbours by less than this share of the hardest bend are not listed.
const SLIGHT: f64 = 0.05;

/// Most places that are listed.
const LISTED: usize = 40;

/// The figures at one station: a row of the table.
#[derive(Clone, Debug, PartialEq)]
struct StationFigures([String; 5]);

/// The heads of the table.
fn heads(lines: &Lines, on: On) -> [String; 5] {
    let along = lines.about.unit.along().short();
    let read = if in_plan(lines, on) {
        "half-breadth"
    } else {
        "height"
    };
    let read = format!("{read} {}", lines.about.unit.short());
    [
        "STA".to_owned(),
        format!("x {along}"),
        read,
        "slope".to_owned(),
        "radius".to_owned(),
    ]
}

fn row(
    lines: &Lines,
    on: On,
    (station, node): (String, &Node),
    radii: RadiusUnit,
) -> StationFigures {
    let (across, rise) = if in_plan(lines, on) {
        (node.point.y, node.tangent.y)
    } else {
        (node.point.z, node.tangent.z)
    };
    // A branch may run either way.
    let (ahead, rise) = if node.tangent.x < 0.0 {
        (-node.tangent.x, -rise)
    } else {
        (node.tangent.x, rise)
    };
    StationFigures([
        station,
        format_length(node.point.x, lines.about.unit.along()),
        format_length(across, lines.about.unit),
        degrees(geometry::num::atan2(rise, ahead)),
        bend_in(node.curvature, "", radii),
    ])
}

/// At each station that the line passes.
fn at_stations(lofted: &Lofted, on: On) -> Vec<(String, Node)> {
    let (lines, loft) = (lofted.lines(), lofted.loft());
    let at = |station: &geometry::document::Station| {
        let node = node_at(loft, on, station.x)?;
        Some((station.label.clone(), node))
    };
    lines.body.stations.iter().filter_map(at).collect()
}

/// The least that a place rises out of its neighbours to be listed, 1/mm.
fn least_told(branches: &[Branch]) -> f64 {
    let all = branches.iter().flat_map(|branch| &branch.nodes);
    let bends = all
        .map(|node| node.curvature.abs())
        .filter(|k| k.is_finite());
    SLIGHT * bends.fold(0.0, f64::max)
}

/// The curvatures that are listed where the line turns, 1/mm.
fn turning(branches: &[Branch]) -> Vec<f64> {
    let least = least_told(branches);
    let hollows = branches.iter().flat_map(|branch| branch.hollows(least));
    let turns = branches.iter().flat_map(|branch| branch.turns(least));
    let turns = turns.map(|turn| turn.node.curvature);
    let deepest = hollows.map(|hollow| hollow.deepest.curvature);
    turns.chain(deepest).collect()
}

/// Where the line bends hardest and least, and where it is hollow, in sentences.
fn turns(lines: &Lines, branches: &[Branch], radii: RadiusUnit) -> Vec<String> {
    let unit = lines.about.unit;
    let near = |node: &Node| {
        let x = format_length(node.point.x, unit.along());
        let station = station_at(lines, node.point.x);
        format!("near STA {station}, x {x} {}", unit.along().short())
    };
    let least = least_told(branches);
    let mut said = Vec::new();
    for branch in branches {
        for hollow in branch.hollows(least) {
            let [from, to] = [hollow.from, hollow.to].map(|end| end.point.x);
            said.push(format!(
                "Hollow, {}, deepest {}: {}.",
                lines.body.stretch_name(from, to),
                near(&hollow.deepest),
                bend_in(hollow.deepest.curvature, "radius ", radii).replace("hollow, ", "")
            ));
        }
        for turn in branch.turns(least) {
            let how = match turn.kind {
                TurnKind::Lowest => "Bends hardest",
                // The deepest place of a hollow is named with it.
                TurnKind::Highest if turn.node.curvature > least => continue,
                TurnKind::Highest => "Flattest",
            };
            said.push(format!(
                "{how} {}: {}.",
                near(&turn.node),
                bend_in(turn.node.curvature, "radius ", radii)
            ));
        }
    }
    said
}

/// Shows the figures of the picked line, and copies them.
#[component]
pub fn Radii() -> impl IntoView {
    let session = expect_context::<Session>();
    let derived = expect_context::<Derived>();
    let lines = session.standing_now();
    let on = session.pick.get_untracked().on;
    let name = lines.body.line_name(on).unwrap_or_default();
    let loft = derived.loft.get_untracked().ok();
    let lofted = loft.and_then(|loft| Lofted::of(Arc::clone(&lines), loft));
    let nodes = lofted.map_or_else(Vec::new, |lofted| at_stations(&lofted, on));
    let own = derived.fine.with_untracked(|fine| {
        let own = fine.iter().find(|(line, _)| *line == comb_key(on));
        own.map_or_else(Vec::new, |(_, branches)| branches.clone())
    });
    let at_nodes = nodes.iter().map(|(_, node)| node.curvature);
    let radii = unit_of_bends(at_nodes.chain(turning(&own)), lines.about.unit);
    let rows: Vec<StationFigures> = { nodes.iter() }
        .map(|(station, node)| row(&lines, on, (station.clone(), node), radii))
        .collect();
    let turns = turns(&lines, &own, radii);
    let heads = heads(&lines, on);
    let text = {
        let each = rows.iter().map(|row| row.0.join("\t"));
        let all: Vec<String> = std::iter::once(heads.join("\t"))
            .chain(each)
            .chain(turns.iter().cloned())
            .collect();
        all.join("\n")
    };
    let copied = RwSignal::new(None::<String>);
    let copy = move |_| {
        let text = text.clone();
        leptos::task::spawn_local(async move {
            let said = match exchange::copy(&text).await {
                Ok(()) => "Copied; paste it into a spreadsheet.".to_owned(),
                Err(why) => why,
            };
            copied.set(Some(said));
        });
    };
    let none = rows.is_empty();
    let row = |row: StationFigures| {
        let [station, cells @ ..] = row.0;
        view! { <tr><th scope="row">{station}</th>{cells.map(|cell| view! { <td>{cell}</td> }).collect_view()}</tr> }
    };
    let more = turns.len().saturating_sub(LISTED);
    view! {
        <Dialog title=format!("{}: radii", headed(&name))>
            <div class="stack">
                <p hidden=!none>"This line lies on no skin as yet, or has no place along the body."</p>
                <div class="scrolled" hidden=none tabindex="0" role="region" aria-label="Radii at the stations">
                    <table class="plain">
                        <thead><tr>{heads.map(|head| view! { <th scope="col">{head}</th> }).collect_view()}</tr></thead>
                        <tbody>{rows.into_iter().map(row).collect_view()}</tbody>
                    </table>
                </div>
                <ul class="findings" tabindex="0" aria-label="Where it turns">{turns.into_iter().take(LISTED).map(|turn| view! { <li>{turn}</li> }).collect_view()}</ul>
                <p class="quiet" hidden=more == 0>{format!("and {more} more, which are copied too")}</p>
                <p role="status">{move || copied.get()}</p>
                <div class="row">
                    <button data-kind="first" on:click=|_| close_dialog()>"Close"</button>
                    <button hidden=none on:click=copy>"Copy the figures"</button>
                </div>
            </div>
        </Dialog>
    }
}
