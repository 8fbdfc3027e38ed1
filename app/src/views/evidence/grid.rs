//! The table itself: one Tab stop, arrows from cell to cell, typing edits, a pasted block begins at the picked cell.

use geometry::document::{BodyEdit, Edit, StationId};
use geometry::units::{LengthUnit, headed};
use leptos::prelude::*;
use wasm_bindgen::JsCast;

use super::Desk;
use super::table::{CellId, CellState, LineColumn, edits_of_block, text_of};
use crate::exchange;
use crate::state::Question;
use crate::views::widgets::{list, part};

/// The grid, and which of its cells is typed in.
#[derive(Clone, Copy)]
struct Typist {
    desk: Desk,
    /// The cell that is typed in, and what stands in its box.
    text: RwSignal<Option<(CellId, String)>>,
}

impl Typist {
    /// Row and column of the picked cell; the first one where it has none.
    fn at(self) -> (usize, usize) {
        let (station, on) = untrack(|| self.desk.picked());
        self.desk.table.with_untracked(|table| {
            let row = table.rows.iter().position(|row| row.station == station);
            let column = table.columns.iter().position(|column| column.on == on);
            (row.unwrap_or(0), column.unwrap_or(0))
        })
    }

    /// Picks a cell and puts the focus on it.
    fn go(self, (row, column): (usize, usize)) {
        let place = self.desk.table.with_untracked(|table| {
            let row = table.rows.get(row)?;
            Some((row.station, table.columns.get(column)?.on))
        });
        let Some((station, on)) = place else { return };
        self.desk.session.pick_at(on, station);
        // The roving Tab stop has to follow first.
        leptos::task::spawn_local(async move {
            leptos::task::tick().await;
            exchange::focus(".grid [tabindex=\"0\"]");
        });
    }

    fn step(self, down: isize, right: isize) {
        let (row, column) = self.at();
        let (rows, columns) = self
            .desk
            .table
            .with_untracked(|table| (table.rows.len(), table.columns.len()));
        let within = |at: usize, by: isize, count: usize| {
            at.saturating_add_signed(by).min(count.saturating_sub(1))
        };
        self.go((within(row, down, rows), within(column, right, columns)));
    }

    /// Begins to type in the picked cell, with what stands there or with a first letter.
    fn begin(self, first: Option<&str>) {
        if untrack(|| self.desk.session.only_looks()) {
            return;
        }
        let place = untrack(|| self.desk.picked());
        let text = || text_of(&self.desk.session.standing_now(), place);
        let text = first.map_or_else(text, ToOwned::to_owned);
        self.text.set(Some((place, text)));
        leptos::task::spawn_local(async {
            leptos::task::tick().await;
            exchange::focus(".grid input");
        });
    }

    /// Takes what was typed, then goes on; where it is wrong the box stays.
    fn finish(self, (down, right): (isize, isize)) {
        if self.take() {
            self.step(down, right);
        }
    }

    /// Takes what was typed, if anything is; whether nothing was wrong. The screen may go with the focus in the cell.
    fn take(self) -> bool {
        let Some((place, text)) = self.text.try_get_untracked().flatten() else {
            return true;
        };
        let sound = self.desk.type_in(place, &text);
        if sound {
            self.text.set(None);
        }
        sound
    }

    fn leave(self) {
        self.text.set(None);
        self.desk.wrong.set(None);
        self.step(0, 0);
    }

    /// A torn cell is so no longer; of a reading it is asked whether it is set aside or taken out.
    fn ask_about(self) {
        let session = self.desk.session;
        let lines = session.standing_now();
        let (station, on) = untrack(|| self.desk.picked());
        let Some(point) = lines.body.point_on(station, on) else {
            return;
        };
        if point.readings.is_empty() {
            self.desk.edit(Some(BodyEdit::RemoveTorn(point.id).into()));
        } else if untrack(|| !session.only_looks()) {
            let used = point.readings.iter().position(|r| r.set_aside.is_none());
            let reading = (point.id, used.unwrap_or(0));
            session.ask(Question::SetAside(vec![reading]));
        }
    }

    /// The picked cell as it was typed, for the clipboard.
    fn copy(self, event: &web_sys::Event) {
        if self.text.with_untracked(Option::is_some) {
            return;
        }
        let place = untrack(|| self.desk.picked());
        let text = text_of(&self.desk.session.standing_now(), place);
        if exchange::copied_text(event, &text) {
            event.prevent_default();
        }
    }

    /// Keys while a cell is typed in.
    fn typing(self, event: &web_sys::KeyboardEvent) {
        match event.key().as_str() {
            "Enter" => self.finish((1, 0)),
            "Tab" => self.finish((0, if event.shift_key() { -1 } else { 1 })),
            "Escape" => self.leave(),
            _ => {
                event.stop_propagation();
                return;
            }
        }
        event.prevent_default();
        event.stop_propagation();
    }

    /// Keys on the picked cell.
    fn key(self, event: &web_sys::KeyboardEvent) {
        if self.text.with_untracked(Option::is_some) {
            return;
        }
        let key = event.key();
        if event.ctrl_key() || event.meta_key() {
            let far = match key.as_str() {
                "Home" => isize::MIN,
                "End" => isize::MAX,
                _ => return,
            };
            self.step(far, far);
            event.prevent_default();
            return;
        }
        match key.as_str() {
            "ArrowUp" => self.step(-1, 0),
            "ArrowDown" => self.step(1, 0),
            "ArrowLeft" => self.step(0, -1),
            "ArrowRight" => self.step(0, 1),
            "Home" => self.step(0, isize::MIN),
            "End" => self.step(0, isize::MAX),
            "PageUp" => self.step(isize::MIN, 0),
            "PageDown" => self.step(isize::MAX, 0),
            "Enter" | "F2" => self.begin(None),
            "Delete" | "Backspace" => self.ask_about(),
            one if one.chars().count() == 1
                && one.starts_with(|c: char| c.is_ascii_digit() || "-.+/?".contains(c)) =>
            {
                self.begin(Some(one));
            }
            _ => return,
        }
        event.prevent_default();
        event.stop_propagation();
    }

    /// A block of cells is pasted at the picked one, all of it or none.
    fn paste(self, event: &web_sys::Event) {
        if self.text.with_untracked(Option::is_some) {
            return;
        }
        let Some(block) = exchange::pasted_text(event) else {
            return;
        };
        event.prevent_default();
        let lines = self.desk.session.standing_now();
        let edits = self.desk.table.with_untracked(|table| {
            edits_of_block(&lines, table, self.at(), &block, self.desk.source_now())
        });
        match edits {
            Ok(edits) if edits.is_empty() => {}
            Ok(edits) => {
                let name = format!("pasted block of {} cells", edits.len());
                self.desk.ask_or_edit(Some(Edit::Many { name, edits }));
            }
            Err(why) => self.desk.wrong.set(Some(why)),
        }
    }
}

/// Columns side by side on which the same is read, as one head.
fn groups(columns: &[LineColumn]) -> Vec<(&'static str, usize)> {
    let runs = columns.chunk_by(|a, b| a.reads == b.reads);
    runs.map(|run| (run[0].reads, run.len())).collect()
}

/// The grid.
#[component]
pub fn Grid(desk: Desk) -> impl IntoView {
    let typist = Typist {
        desk,
        text: RwSignal::new(None),
    };
    let columns = Memo::new(move |_| desk.table.with(|table| table.columns.clone()));
    let rows = Memo::new(move |_| {
        let row = |row: &super::table::StationRow| (row.station, row.label.clone(), row.unit);
        desk.table
            .with(|table| table.rows.iter().map(row).collect::<Vec<_>>())
    });
    let head = move |column: LineColumn| {
        let here = move || (typist.desk.picked().1 == column.on).then_some("");
        view! {
            <th role="columnheader" scope="col" data-picked=here data-first=column.first.then_some("")>{headed(&column.name)}</th>
        }
    };
    let group = |(reads, count): (&'static str, usize)| {
        view! { <th scope="colgroup" colspan=count.to_string()><b>{headed(reads)}</b></th> }
    };
    // A row whose bare numbers are of another unit than the shown one says so.
    let other = move |unit: LengthUnit| {
        (unit
            .of_a_bare_number()
            .total_cmp(&desk.session.unit().of_a_bare_number())
            .is_ne())
        .then(|| view! { <span class="unit">{unit.short()}</span> })
    };
    let row = move |(station, label, unit): (StationId, String, LengthUnit)| {
        let here = move || (typist.desk.picked().0 == station).then_some("");
        let name = label.clone();
        let cells = move || {
            let each = columns.get().into_iter().map(|column| {
                let (key, name) = (format!("{} {}", column.name, column.first), name.clone());
                part(key, move || {
                    cell(typist, (station, name.clone()), column.clone())
                })
            });
            each.collect()
        };
        view! {
            <tr role="row" data-picked=here>
                <th role="rowheader" scope="row">{label}{other(unit)}</th>
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
        <table class="grid" role="grid" aria-label="Offsets as they were read" on:keydown=move |event| typist.key(&event) on:copy=move |event| typist.copy(&event) on:paste=move |event| typist.paste(&event)>
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

fn cell(
    typist: Typist,
    (station, label): (StationId, String),
    column: LineColumn,
) -> impl IntoView {
    let LineColumn {
        on, name, first, ..
    } = column;
    let place = (station, on);
    let what = Memo::new(move |_| {
        typist.desk.table.with(|table| {
            let column = table.columns.iter().position(|c| c.on == on)?;
            let row = table.rows.iter().find(|row| row.station == station)?;
            row.cells.get(column).cloned()
        })
    });
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
            CellState::Torn => "torn, carried by its neighbours".to_owned(),
            CellState::Empty => "no reading".to_owned(),
            CellState::Aside => format!("{text}, set aside"),
            CellState::Several(count) => format!("{text}, {count} readings"),
        };
        format!("STA {label}, {name}: {says}")
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
            typist.desk.session.pick_at(on, station);
        }
    };
    view! {
        <td
            role="gridcell"
            tabindex=move || if here() { "0" } else { "-1" }
            aria-label=aloud
            aria-selected=move || here().to_string()
            data-first=first.then_some("")
            data-mark=move || match state() { CellState::Torn => "torn", CellState::Aside => "aside", _ => "" }
            on:mousedown=press
            on:dblclick=move |_| typist.begin(None)
        >
            <span class="shown">{shown}</span>
            {move || typed().then(field)}
        </td>
    }
}
