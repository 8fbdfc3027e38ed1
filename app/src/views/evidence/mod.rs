//! The Evidence screen: the offsets table as it was read, its sources, and what is known of the picked cell.
//!
//! The picked cell is the session's pick, so that Lines and Shell ring the same point. Typing corrects what was typed, or
//! adds a reading; nothing is wiped out. Reading order: this file, `table` (what is shown), `typing` (what a typed text
//! means), `typist` (keys), `grid` and `points` (the two tables), `margin`, `sources`.

mod circumstances;
mod grid;
mod margin;
mod points;
mod sources;
mod table;
mod typing;
mod typist;

use std::sync::Arc;

use geometry::document::{BodyEdit, Edit, Lines, On, Point, PointId, SourceId};
use geometry::settle::{Does, Subject};
use geometry::units::{Message, parse_length};
use leptos::prelude::*;
use leptos::wasm_split::{SplitLoaderError, wasm_split};

use super::new_line::{NewPlane, NewRunLine};
use super::pieces::{Piece, apart, at_once, no_screen};
use super::widgets::LoftFault;
use crate::exchange;
use crate::state::axis::Axis;
use crate::state::derived::Derived;
use crate::state::findings::Findings;
use crate::state::{Question, Session};
use grid::Grid;
use margin::{Beside, ThisCell, cell_name};
use points::Points;
pub use sources::AboutSource;
use sources::Sources;
use table::{CellId, Table};
use typing::{edit_of, far_off};

/// The screen's piece.
pub const EVIDENCE: Piece = Piece {
    what: "The Evidence screen",
    fetch: || Box::pin(fetch_evidence()),
};

#[wasm_split(evidence, wasm_split_path = ::leptos::wasm_split, fallible, preload(fetch_evidence))]
fn evidence() -> Result<AnyView, SplitLoaderError> {
    Ok(view! { <EvidenceScreen/> }.into_any())
}

/// The Evidence screen, as soon as it is here.
pub fn evidence_screen() -> AnyView {
    apart(EVIDENCE, || at_once(evidence()), no_screen)
}

/// The screen's own things.
#[derive(Clone, Copy)]
struct Desk {
    session: Session,
    derived: Derived,
    table: Memo<Table>,
    /// Which value of a point that lies on no line is picked.
    axis: RwSignal<Axis>,
    /// Points of which something is to be settled, each with the value in doubt where it is known.
    doubts: Memo<Vec<(PointId, Option<Axis>)>>,
    /// The source that new readings come from.
    source: RwSignal<Option<SourceId>>,
    /// What is wrong with what was typed.
    wrong: RwSignal<Option<String>>,
    /// What was typed and lies far off, to be taken or left; it holds for the lines it was typed for.
    doubt: RwSignal<Option<(Arc<Lines>, Edit)>>,
}

impl Desk {
    /// The source of new readings: the chosen one, else the first.
    fn source_now(self) -> SourceId {
        let lines = self.session.standing_now();
        let chosen = self.source.get_untracked();
        let there = chosen.filter(|id| lines.body.source(*id).is_some());
        there.unwrap_or_else(|| lines.body.sources.first().map_or(SourceId(0), |s| s.id))
    }

    /// Does an edit of the table; where it is refused, says so by the table. Whether nothing was wrong.
    fn edit(self, edit: Option<Edit>) -> bool {
        self.wrong.set(None);
        self.doubt.set(None);
        let Some(edit) = edit else { return true };
        let done = self.session.try_edit(&edit);
        let sound = done.is_ok();
        self.wrong.set(done.err());
        sound
    }

    /// The picked cell.
    fn picked(self) -> CellId {
        let pick = self.session.pick.get();
        match pick.point {
            Some(point) if pick.on == On::Free => CellId::OfPoint(point, self.axis.get()),
            _ => CellId::OnLine(pick.station, pick.on),
        }
    }

    /// Picks a cell.
    fn pick(self, cell: CellId) {
        match cell {
            CellId::OnLine(station, on) => self.session.pick_at(on, station),
            CellId::OfPoint(point, axis) => {
                self.axis.set(axis);
                self.session.pick_point(point);
            }
        }
    }

    /// The picked point of these lines, where there is one.
    fn picked_point(self, lines: &Lines) -> Option<&Point> {
        let pick = self.session.pick.get();
        let known = pick.point.and_then(|id| lines.body.point(id));
        known.or_else(|| lines.body.point_on(pick.station, pick.on))
    }

    /// Whether what a cell holds is to be settled.
    fn doubted(self, cell: CellId) -> bool {
        let point = self.table.with(|table| table.cell(cell)?.point);
        let here = |(id, of): &(PointId, Option<Axis>)| {
            let other = match cell {
                CellId::OfPoint(_, axis) => of.is_some_and(|of| of != axis),
                CellId::OnLine(..) => false,
            };
            Some(*id) == point && !other
        };
        self.doubts.with(|doubts| doubts.iter().any(here))
    }

    /// Takes what was typed in a cell. Whether nothing was wrong.
    fn type_in(self, place: CellId, text: &str) -> bool {
        let lines = self.session.standing_now();
        match edit_of(&lines, place, text, self.source_now()) {
            Ok(edit) => self.ask_or_edit(edit),
            Err(why) => {
                self.doubt.set(None);
                self.wrong.set(Some(why));
                false
            }
        }
    }

    /// Reads a typed distance along the body, mm; says what is wrong with it.
    fn read_x(self, text: &str) -> Option<f64> {
        let unit = self.session.standing_now().about.unit.along();
        match parse_length(text, unit) {
            Ok(x) => Some(x),
            Err(error) => {
                let why = format!("Place of the station: {}", error.message(unit));
                self.wrong.set(Some(why));
                None
            }
        }
    }

    /// Does an edit, unless it lies so far off that it is asked about first. Whether nothing was wrong.
    fn ask_or_edit(self, edit: Option<Edit>) -> bool {
        let lines = self.session.standing_now();
        let loft = self.derived.loft.get_untracked().ok();
        let asked = edit
            .as_ref()
            .zip(loft)
            .and_then(|(edit, loft)| far_off(&loft, lines.about.unit, edit));
        match asked {
            Some(says) => {
                self.doubt.set(edit.map(|edit| (lines, edit)));
                self.wrong.set(Some(says));
                true
            }
            None => self.edit(edit),
        }
    }
}

/// Points of which something is to be settled, and which value is in doubt where only one would be put right.
fn doubts(findings: Findings) -> Vec<(PointId, Option<Axis>)> {
    let found = findings.found();
    let matters = found.iter().flat_map(|(found, _)| &found.matters);
    matters
        .filter_map(|matter| {
            let Subject::Point(point) = matter.subject else {
                return None;
            };
            let mended = matter.ways.iter().find_map(|way| match way.does {
                Does::PutRight(_, _, [Some(_), None]) => Some(Axis::HalfBreadth),
                Does::PutRight(_, _, [None, Some(_)]) => Some(Axis::Height),
                _ => None,
            });
            Some((point, mended))
        })
        .collect()
}

/// The screen.
#[component]
fn EvidenceScreen() -> impl IntoView {
    let session = expect_context::<Session>();
    let derived = expect_context::<Derived>();
    let findings = expect_context::<Findings>();
    let desk = Desk {
        session,
        derived,
        table: Memo::new(move |_| derived.standing.with(|lines| Table::of(lines))),
        axis: RwSignal::new(Axis::HalfBreadth),
        doubts: Memo::new(move |_| doubts(findings)),
        source: RwSignal::new(None),
        wrong: RwSignal::new(None),
        doubt: RwSignal::new(None),
    };
    let asked = move || {
        let (lines, edit) = desk.doubt.get()?;
        Arc::ptr_eq(&lines, &derived.standing.get()).then_some(edit)
    };
    // Whoever picks it, by keys, on another screen or by a list, finds it in sight.
    let picked = Memo::new(move |_| desk.picked());
    Effect::new(move |_| {
        picked.track();
        // A window of another size shows another part.
        session.room.with(|_| ());
        exchange::keep_in_sight(".grid [aria-selected=\"true\"]");
    });
    // What asks about a typed value stands under the table; once that is answered one goes on in the table.
    let back = || {
        request_animation_frame(|| {
            exchange::focus(".grid [aria-selected=\"true\"]");
        });
    };
    view! {
        <main class="evidence">
            <LoftFault/>
            <Sources desk/>
            <div class="grid-room">
                <Bare desk/>
                <div class="only-narrow picked-cell" hidden=move || desk.table.with(|table| table.rows.is_empty())>
                    <b>{move || cell_name(desk)}</b>
                    <ThisCell desk/>
                </div>
                <Grid desk/>
                <Points desk/>
                <p class="marks quiet">
                    <span><b>"!"</b>" to settle: what is in doubt stands beside the table"</span>
                    <span><b>"2"</b>" two readings"</span>
                    <span><i>"torn"</i>" drawn from its neighbours; ? in an empty cell"</span>
                    <span><b>"( )"</b>" set aside"</span>
                    <span><b>"→"</b>" put right"</span>
                    <span><b>"–"</b>" not read yet, or not there to be read"</span>
                    <span>"Type to correct a cell; Enter takes it and goes down, Tab goes right, Esc leaves it; Delete asks about it."</span>
                </p>
                <div class="answer">
                <p class="fault says" role="alert">{move || desk.wrong.get()}</p>
                {move || asked().map(|edit| view! {
                    <div class="row">
                        <button on:click=move |_| { desk.edit(Some(edit.clone())); back(); }>"Take it"</button>
                        <button data-kind="lesser" on:click=move |_| { desk.edit(None); back(); }>"Leave it"</button>
                    </div>
                })}
                </div>
                <More desk/>
            </div>
            <Beside desk/>
        </main>
    }
}

/// What to do where there is no station yet.
#[component]
fn Bare(desk: Desk) -> impl IntoView {
    let session = desk.session;
    let bare = move || desk.table.with(|table| table.rows.is_empty());
    view! {
        <div class="stack bare" hidden=move || !bare()>
            <h2>"No station yet"</h2>
            <p>"Paste an offsets table here, drop a file on the page, or type the first station below, and then the waterlines, buttock lines and run lines that the source has."</p>
            <div class="row"><button on:click=move |_| session.ask(Question::Open)>"How a table is laid out ▸"</button></div>
        </div>
    }
}

/// Stations and lines added to the table.
#[component]
fn More(desk: Desk) -> impl IntoView {
    let session = desk.session;
    let bare = move || desk.table.with(|table| table.rows.is_empty());
    view! {
        <div class="more" hidden=move || session.only_looks()>
            <fieldset>
                <legend>{move || if bare() { "First station" } else { "Another station" }}</legend>
                <NewStation desk/>
            </fieldset>
            <fieldset>
                <legend>"Another line"</legend>
                <NewPlane/>
                <NewRunLine/>
            </fieldset>
        </div>
    }
}

/// A station by its label and its place.
#[component]
fn NewStation(desk: Desk) -> impl IntoView {
    let session = desk.session;
    let (label, x) = (RwSignal::new(String::new()), RwSignal::new(String::new()));
    let add = move |event: web_sys::SubmitEvent| {
        event.prevent_default();
        let Some(x_now) = desk.read_x(&x.get_untracked()) else {
            return;
        };
        let added = BodyEdit::AddStation {
            label: label.get_untracked(),
            x: x_now,
        };
        if desk.edit(Some(added.into())) {
            let lines = session.standing_now();
            let added = label
                .with_untracked(|label| lines.body.station_by_label(label.trim()).map(|s| s.id));
            if let Some(station) = added {
                session.pick_at(session.pick.get_untracked().on, station);
            }
            label.set(String::new());
            x.set(String::new());
        }
    };
    let unit = move || session.unit().along().short();
    view! {
        <form class="row" on:submit=add>
            <label>"STA "<input class="field" aria-label="Label of a new station" autocomplete="off" prop:value=label on:input=move |event| label.set(event_target_value(&event))/></label>
            <label>"at x "<input class="field" aria-label="Place of a new station" autocomplete="off" prop:value=x on:input=move |event| x.set(event_target_value(&event))/>{unit}</label>
            <button type="submit">"Add"</button>
        </form>
    }
}
