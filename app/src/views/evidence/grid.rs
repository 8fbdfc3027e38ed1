//! The table of the lines, and a cell as both tables show it.

use geometry::document::StationId;
use geometry::units::{LengthUnit, headed};
use leptos::prelude::*;
use wasm_bindgen::JsCast;

use super::Desk;
use super::table::{CellId, CellState, LineColumn, Sheet};
use super::typist::Typist;
use crate::exchange;
use crate::views::widgets::{list, part};

/// Columns side by side on which the same is read, as one head.
fn groups(columns: &[LineColumn]) -> Vec<(&'static str, usize)> {
    let runs = columns.chunk_by(|a, b| a.reads == b.reads);
    runs.map(|run| (run[0].reads, run.len())).collect()
}

/// So few columns are not spread over all the room there is.
const FEW: usize = 4;

/// The grid.
#[component]
pub fn Grid(desk: Desk) -> impl IntoView {
    let typist = Typist::new(desk, Sheet::Lines);
    let columns = Memo::new(move |_| desk.table.with(|table| table.columns.clone()));
    let few = move || columns.with(|columns| columns.len() <= FEW).then_some("");
    let rows = Memo::new(move |_| {
        let row = |row: &super::table::StationRow| (row.station, row.label.clone(), row.unit);
        desk.table
            .with(|table| table.rows.iter().map(row).collect::<Vec<_>>())
    });
    let head = move |column: LineColumn| {
        let here = move || (desk.session.pick.get().on == column.on).then_some("");
        view! {
            <th role="columnheader" scope="col" data-picked=here data-first=column.first.then_some("")>{headed(&column.name)}</th>
        }
    };
    let group = |(reads, count): (&'static str, usize)| {
        view! { <th scope="colgroup" colspan=count.to_string()><b>{headed(reads)}</b></th> }
    };
    let row = move |(station, label, unit): (StationId, String, LengthUnit)| {
        let here = move || (desk.session.pick.get().station == station).then_some("");
        let name = label.clone();
        let cells = move || {
            let each = columns.get().into_iter().map(|column| {
                let (key, name) = (format!("{} {}", column.name, column.first), name.clone());
                part(key, move || {
                    let place = CellId::OnLine(station, column.on);
                    cell(
                        typist,
                        place,
                        format!("STA {name}, {}", column.name),
                        column.first,
                    )
                })
            });
            each.collect()
        };
        view! {
            <tr role="row" data-picked=here>
                <th role="rowheader" scope="row">{label}{other_unit(desk, unit)}</th>
                {list(cells)}
            </tr>
        }
    };
    let all = move || {
        let rows = rows.get().into_iter().map(|(station, label, unit)| {
            let key = format!("{} {label} {}", station.0, unit.short());
            part(key, move || row((station, label.clone(), unit)))
        });
        rows.collect()
    };
    view! {
        <table class="grid" data-sheet="lines" data-few=few role="grid" aria-label="Offsets as they were read" on:keydown=move |event| typist.key(&event) on:copy=move |event| typist.copy(&event) on:paste=move |event| typist.paste(&event)>
            <thead>
                <tr role="row"><th></th>{move || groups(&columns.get()).into_iter().map(group).collect_view()}</tr>
                <tr role="row"><th role="columnheader" scope="col">"STA"</th>{move || columns.get().into_iter().map(head).collect_view()}</tr>
            </thead>
            <tbody>{list(all)}</tbody>
        </table>
    }
}

/// A figure whose mark for a sixteenth over hangs, so that eighths stand under eighths.
fn figure(text: String) -> impl IntoView {
    let eighths = text.matches('-').count() >= 2;
    match text.strip_suffix('+') {
        Some(whole) => view! { {whole.to_owned()}<span class="over">"+"</span> }.into_any(),
        None if eighths => view! { {text}<span class="over"></span> }.into_any(),
        None => view! { {text} }.into_any(),
    }
}

/// The unit of a row whose bare numbers are of another one than is shown.
pub(super) fn other_unit(desk: Desk, unit: LengthUnit) -> Option<impl IntoView> {
    let shown = desk.session.unit().of_a_bare_number();
    let differs = unit.of_a_bare_number().total_cmp(&shown).is_ne();
    differs.then(|| view! { <span class="unit">{unit.short()}</span> })
}

/// A cell; `name` is said before what it holds, and `first` parts it from the one before.
pub(super) fn cell(typist: Typist, place: CellId, name: String, first: bool) -> impl IntoView {
    let desk = typist.desk;
    let what = Memo::new(move |_| desk.table.with(|table| table.cell(place).cloned()));
    let doubted = Memo::new(move |_| desk.doubted(place));
    let here = move || typist.desk.picked() == place;
    let typed = move || {
        typist
            .text
            .with(|text| text.as_ref().is_some_and(|(at, _)| *at == place))
    };
    let state = move || what.with(|cell| cell.as_ref().map_or(CellState::Empty, |cell| cell.state));
    let aloud = move || {
        let text = what.with(|cell| cell.as_ref().map_or_else(String::new, |c| c.text.clone()));
        let says = match state() {
            CellState::Plain => text,
            CellState::WithAside => format!("{text}, another set aside"),
            CellState::Torn => "torn, drawn from its neighbours".to_owned(),
            CellState::Empty => "no reading".to_owned(),
            CellState::Aside => format!("{text}, set aside"),
            CellState::Several(count) => format!("{text}, {count} readings"),
        };
        let doubt = if doubted.get() { ", to settle" } else { "" };
        format!("{name}: {says}{doubt}")
    };
    let shown = move || {
        let text = what.with(|cell| cell.as_ref().map_or_else(String::new, |c| c.text.clone()));
        match state() {
            CellState::Plain => figure(text).into_any(),
            CellState::WithAside => view! { {figure(text)}<i>" ( )"</i> }.into_any(),
            CellState::Torn => view! { <i>"torn"</i> }.into_any(),
            CellState::Empty => view! { <span class="quiet">"–"</span> }.into_any(),
            CellState::Aside => view! { <i>{format!("({text})")}</i> }.into_any(),
            CellState::Several(count) => view! { {figure(text)}<sup>{count}</sup> }.into_any(),
        }
    };
    let field = move || {
        view! {
            <input
                aria-label="Type the cell"
                autocomplete="off"
                prop:value=move || typist.text.get().map(|(_, text)| text).unwrap_or_default()
                on:input=move |event| typist.text.set(Some((place, event_target_value(&event))))
                on:keydown=move |event| typist.typing(&event)
                on:focusout=move |_| {
                    typist.take();
                }
            />
        }
    };
    let press = move |event: web_sys::MouseEvent| {
        let typing = event
            .target()
            .and_then(|t| t.dyn_into::<web_sys::HtmlInputElement>().ok())
            .is_some();
        if !typing {
            exchange::leave_field();
            // What was wrong is said by the table, with its text; its box goes.
            typist.text.set(None);
            desk.pick(place);
        }
    };
    view! {
        <td
            role="gridcell"
            tabindex=move || if typist.stop.get() == Some(place) { "0" } else { "-1" }
            aria-label=aloud
            aria-selected=move || here().to_string()
            data-first=first.then_some("")
            data-mark=move || match state() { CellState::Torn => "torn", CellState::Aside => "aside", _ => "" }
            data-doubt=move || doubted.get().then_some("")
            on:mousedown=press
            on:dblclick=move |_| typist.begin(None)
        >
            <span class="shown">{shown}</span>
            {move || typed().then(field)}
        </td>
    }
}
