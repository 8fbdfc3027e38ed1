//! What a person does in a table of this screen: one Tab stop, arrows from cell to cell, typing edits, a pasted block begins at
//! the picked cell.

use geometry::document::{BodyEdit, Edit};
use leptos::prelude::*;

use super::Desk;
use super::table::{CellId, Sheet, text_of};
use super::typing::edits_of_block;
use crate::exchange;
use crate::state::Question;

/// A table, and which of its cells is typed in.
#[derive(Clone, Copy)]
pub(super) struct Typist {
    pub(super) desk: Desk,
    pub(super) sheet: Sheet,
    /// The cell that is typed in, and what stands in its box.
    pub(super) text: RwSignal<Option<(CellId, String)>>,
    /// The cell on which Tab comes in: the picked one, else the first at the picked station.
    pub(super) stop: Memo<Option<CellId>>,
}

/// Puts the focus on a table's cell of this kind, and on the box in it.
fn focus_in(sheet: Sheet, what: &str) {
    let table = match sheet {
        Sheet::Lines => "lines",
        Sheet::Points => "points",
    };
    exchange::focus(&format!(".grid[data-sheet=\"{table}\"] {what}"));
}

impl Typist {
    pub(super) fn new(desk: Desk, sheet: Sheet) -> Self {
        let stop = move |_: Option<&Option<CellId>>| {
            let (station, picked) = (desk.session.pick.get().station, desk.picked());
            desk.table
                .with(|table| table.cell_at(sheet, table.place_of(sheet, station, picked)))
        };
        Self {
            desk,
            sheet,
            text: RwSignal::new(None),
            stop: Memo::new(stop),
        }
    }

    /// Row and column of the picked cell; of the first one at the picked station where it has none.
    fn at(self) -> (usize, usize) {
        untrack(|| {
            let (station, picked) = (self.desk.session.pick.get().station, self.desk.picked());
            self.desk
                .table
                .with(|table| table.place_of(self.sheet, station, picked))
        })
    }

    /// The picked cell, where it is one of this table's; else the one on which Tab comes in.
    fn picked(self) -> Option<CellId> {
        untrack(|| self.stop.get())
    }

    /// Picks a cell and puts the focus on it.
    fn go(self, at: (usize, usize)) {
        let table = self.desk.table;
        let Some(cell) = table.with_untracked(|table| table.cell_at(self.sheet, at)) else {
            return;
        };
        self.desk.pick(cell);
        // The roving Tab stop has to follow first.
        leptos::task::spawn_local(async move {
            leptos::task::tick().await;
            focus_in(self.sheet, "[tabindex=\"0\"]");
        });
    }

    fn step(self, down: isize, right: isize) {
        let (row, column) = self.at();
        let (rows, columns) = { self.desk.table }.with_untracked(|table| table.size(self.sheet));
        let within = |at: usize, by: isize, count: usize| {
            at.saturating_add_signed(by).min(count.saturating_sub(1))
        };
        self.go((within(row, down, rows), within(column, right, columns)));
    }

    /// Begins to type in the picked cell, with what stands there or with a first letter.
    pub(super) fn begin(self, first: Option<&str>) {
        if untrack(|| self.desk.session.only_looks()) {
            return;
        }
        let Some(place) = self.picked() else { return };
        let text = || text_of(&self.desk.session.standing_now(), place);
        let text = first.map_or_else(text, ToOwned::to_owned);
        self.text.set(Some((place, text)));
        leptos::task::spawn_local(async move {
            leptos::task::tick().await;
            focus_in(self.sheet, "input");
        });
    }

    /// Takes what was typed, then goes on; where it is wrong the box stays.
    fn finish(self, (down, right): (isize, isize)) {
        if self.take() {
            self.step(down, right);
        }
    }

    /// Takes what was typed, if anything is; whether nothing was wrong. The screen may go with the focus in the cell.
    pub(super) fn take(self) -> bool {
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
        let point = match self.picked() {
            Some(CellId::OnLine(station, on)) => lines.body.point_on(station, on),
            Some(CellId::OfPoint(point, _)) => lines.body.point(point),
            None => None,
        };
        let Some(point) = point else { return };
        if point.readings.is_empty() {
            self.desk.edit(Some(BodyEdit::RemoveTorn(point.id).into()));
        } else if untrack(|| !session.only_looks()) {
            let used = point.readings.iter().position(|r| r.set_aside.is_none());
            let reading = (point.id, used.unwrap_or(0));
            session.ask(Question::SetAside(vec![reading]));
        }
    }

    /// The picked cell as it was typed, for the clipboard.
    pub(super) fn copy(self, event: &web_sys::Event) {
        if self.text.with_untracked(Option::is_some) {
            return;
        }
        let Some(place) = self.picked() else { return };
        let text = text_of(&self.desk.session.standing_now(), place);
        if exchange::copied_text(event, &text) {
            event.prevent_default();
        }
    }

    /// Keys while a cell is typed in.
    pub(super) fn typing(self, event: &web_sys::KeyboardEvent) {
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
    pub(super) fn key(self, event: &web_sys::KeyboardEvent) {
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
            // With Alt a letter is the browser's or the screen reader's.
            one if one.chars().count() == 1
                && one.starts_with(char::is_alphabetic)
                && !event.alt_key() =>
            {
                let says = "A cell takes a length: begin with a figure, as 365.1 or 1-2-3+; or type ? where it is torn.";
                self.desk.wrong.set(Some(says.to_owned()));
            }
            _ => return,
        }
        event.prevent_default();
        event.stop_propagation();
    }

    /// A block of cells is pasted at the picked one, all of it or none.
    pub(super) fn paste(self, event: &web_sys::Event) {
        if self.text.with_untracked(Option::is_some) {
            return;
        }
        let Some(block) = exchange::pasted_text(event) else {
            return;
        };
        event.prevent_default();
        let lines = self.desk.session.standing_now();
        let edits = self.desk.table.with_untracked(|table| {
            let sheet = (table, self.sheet);
            edits_of_block(&lines, sheet, self.at(), &block, self.desk.source_now())
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
