//! The Evidence screen: the offsets table as it was read, its sources, and what is known of the picked cell.
//!
//! The picked cell is the session's pick, so that Lines and Shell ring the same point. Typing corrects what was typed, or
//! adds a reading; nothing is wiped out.

mod grid;
mod table;

use std::sync::Arc;

use geometry::document::{Edit, Lines, SourceId};
use geometry::units::{LengthUnit, Message, format_length_with_unit, parse_length};
use leptos::prelude::*;

use super::card::{Readings, small};
use super::widgets::LoftFault;
use crate::state::Session;
use crate::state::axis::axes;
use crate::state::derived::Derived;
use grid::Grid;
use table::{Place, Table, edit_of, far_off, text_of};

/// The screen's own things.
#[derive(Clone, Copy)]
struct Desk {
    session: Session,
    derived: Derived,
    table: Memo<Table>,
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
        let there = chosen.filter(|id| lines.source(*id).is_some());
        there.unwrap_or_else(|| lines.sources.first().map_or(SourceId(0), |s| s.id))
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
    fn picked(self) -> Place {
        let pick = self.session.pick.get();
        (pick.station, pick.on)
    }

    /// Takes what was typed in a cell. Whether nothing was wrong.
    fn type_in(self, place: Place, text: &str) -> bool {
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
        let unit = self.session.standing_now().unit.along();
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
            .and_then(|(edit, loft)| far_off(&lines, &loft, edit));
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

/// The screen.
#[component]
pub fn EvidenceScreen() -> impl IntoView {
    let session = expect_context::<Session>();
    let derived = expect_context::<Derived>();
    let desk = Desk {
        session,
        derived,
        table: Memo::new(move |_| derived.standing.with(|lines| Table::of(lines))),
        source: RwSignal::new(None),
        wrong: RwSignal::new(None),
        doubt: RwSignal::new(None),
    };
    let asked = move || {
        let (lines, edit) = desk.doubt.get()?;
        Arc::ptr_eq(&lines, &derived.standing.get()).then_some(edit)
    };
    let others = move || {
        let others = desk.table.with(|table| table.others);
        (others > 0).then(|| format!("{others} points lie on no line and have no cell here."))
    };
    view! {
        <main class="evidence">
            <LoftFault/>
            <Sources desk/>
            <div class="grid-room">
                <Grid desk/>
                <p class="marks quiet">
                    <span><b>"2"</b>" two readings"</span>
                    <span><i>"torn"</i>" carried by its neighbours"</span>
                    <span><b>"( )"</b>" set aside"</span>
                    <span><b>"→"</b>" put right"</span>
                    <span><b>"–"</b>" no reading called for"</span>
                    <span>"Type to correct a cell; Enter takes it and goes down, Tab goes right, Esc leaves it."</span>
                </p>
                <p class="fault says" role="alert">{move || desk.wrong.get()}</p>
                {move || asked().map(|edit| view! {
                    <div class="row">
                        <button on:click=move |_| { desk.edit(Some(edit.clone())); }>"Take it"</button>
                        <button data-kind="lesser" on:click=move |_| { desk.edit(None); }>"Leave it"</button>
                    </div>
                })}
                <p class="quiet">{others}</p>
                <NewStation desk/>
            </div>
            <Beside desk/>
        </main>
    }
}

/// Where the readings come from; the chosen one is that of new readings.
#[component]
fn Sources(desk: Desk) -> impl IntoView {
    let Desk {
        session, derived, ..
    } = desk;
    let sources = Memo::new(move |_| {
        derived.standing.with(|lines| {
            let count = |id: SourceId| {
                let readings = lines.points.iter().flat_map(|point| &point.readings);
                readings.filter(|reading| reading.source == id).count()
            };
            let each = lines.sources.iter();
            each.map(|s| (s.id, s.title.clone(), count(s.id)))
                .collect::<Vec<_>>()
        })
    });
    let chosen = move |id: SourceId| {
        let first = sources.with(|all| all.first().map(|s| s.0));
        desk.source.get().or(first) == Some(id)
    };
    let one = move |(id, title, count): (SourceId, String, usize)| {
        let readings = if count == 1 { "reading" } else { "readings" };
        view! {
            <button class="source" aria-pressed=move || chosen(id).to_string() on:click=move |_| desk.source.set(Some(id))>
                <b>{title}</b><span class="quiet">{format!("{count} {readings}")}</span>
            </button>
        }
    };
    let title = RwSignal::new(String::new());
    let add = move |event: web_sys::SubmitEvent| {
        event.prevent_default();
        let name = title.get_untracked();
        if name.trim().is_empty() {
            return;
        }
        if desk.edit(Some(Edit::AddSource(name))) {
            title.set(String::new());
            let last = session.standing_now().sources.last().map(|s| s.id);
            desk.source.set(last);
        }
    };
    let locked = move || session.looking.with(Option::is_some);
    view! {
        <div class="sources" role="group" aria-label="Sources; new readings come from the chosen one">
            {move || sources.get().into_iter().map(one).collect_view()}
            <form class="row" on:submit=add>
                <input class="source-name" aria-label="Title of a new source" autocomplete="off" placeholder="another source" disabled=locked prop:value=title on:input=move |event| title.set(event_target_value(&event))/>
                <button type="submit" disabled=locked>"Add"</button>
            </form>
        </div>
    }
}

/// What is known of the picked cell.
#[component]
fn Beside(desk: Desk) -> impl IntoView {
    let Desk {
        session, derived, ..
    } = desk;
    let name = move || {
        let (lines, pick) = (derived.standing.get(), session.pick.get());
        let line = lines.line_name(pick.on).unwrap_or_default();
        format!("{}, {line}", lines.station_name(pick.station))
    };
    let values = move || {
        let (lines, pick) = (derived.standing.get(), session.pick.get());
        let point = lines.point_on(pick.station, pick.on)?;
        let said = axes(point).into_iter().filter_map(|axis| {
            let mm = axis.recorded(point)?;
            let shown = format_length_with_unit(mm, lines.unit);
            let plain = if lines.unit == LengthUnit::Millimetres {
                String::new()
            } else {
                format!(
                    " = {}",
                    format_length_with_unit(mm, LengthUnit::Millimetres)
                )
            };
            let used = point.used().count();
            let mean = if used > 1 {
                format!(", the mean of {used}")
            } else {
                String::new()
            };
            let moved = axis.accepted(point).filter(|now| (now - mm).abs() > 0.005);
            let moved = moved.map_or_else(String::new, |now| {
                format!(
                    "; on the lines now {}",
                    format_length_with_unit(now, lines.unit)
                )
            });
            Some(format!(
                "{} {shown}{plain} ± {}{mean}{moved}",
                axis.name(),
                small(point.merged().tolerance)
            ))
        });
        Some(said.collect::<Vec<_>>().join("; "))
    };
    view! {
        <aside class="beside" aria-label="The picked cell">
            <h2>{name}</h2>
            <p>{move || values().filter(|v| !v.is_empty()).unwrap_or_else(|| "No reading is used here.".to_owned())}</p>
            <ThisCell desk/>
            <Another desk/>
            <Readings/>
            <ThisStation desk/>
        </aside>
    }
}

/// What stands in the picked cell, to be typed without opening the cell itself, as on a telephone.
#[component]
fn ThisCell(desk: Desk) -> impl IntoView {
    let Desk {
        session, derived, ..
    } = desk;
    let text = move || text_of(&derived.standing.get(), desk.picked());
    view! {
        <form class="row" hidden=move || session.looking.with(Option::is_some) on:submit=|event| event.prevent_default()>
            <label>"This cell "
                <input class="field" aria-label="This cell" autocomplete="off" prop:value=text on:change=move |event| {
                    desk.type_in(untrack(|| desk.picked()), &event_target_value(&event));
                }/>
            </label>
        </form>
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
        let added = Edit::AddStation {
            label: label.get_untracked(),
            x: x_now,
        };
        if desk.edit(Some(added)) {
            label.set(String::new());
            x.set(String::new());
        }
    };
    let unit = move || session.unit().along().short();
    view! {
        <form class="row" hidden=move || session.looking.with(Option::is_some) on:submit=add>
            <label>"Another station: STA "<input class="field" aria-label="Label of a new station" autocomplete="off" prop:value=label on:input=move |event| label.set(event_target_value(&event))/></label>
            <label>"at x "<input class="field" aria-label="Place of a new station" autocomplete="off" prop:value=x on:input=move |event| x.set(event_target_value(&event))/>{unit}</label>
            <button type="submit">"Add"</button>
        </form>
    }
}

/// Where the picked station stands, and ways to move it or take it away.
#[component]
fn ThisStation(desk: Desk) -> impl IntoView {
    let Desk {
        session, derived, ..
    } = desk;
    let text = RwSignal::new(String::new());
    let place = move || {
        let (lines, pick) = (derived.standing.get(), session.pick.get());
        let x = lines.station(pick.station)?.x;
        Some(format_length_with_unit(x, lines.unit.along()))
    };
    let bare = move || {
        let (lines, pick) = (derived.standing.get(), session.pick.get());
        !lines.points.iter().any(|p| p.station == pick.station)
    };
    let shift = move |event: web_sys::SubmitEvent| {
        event.prevent_default();
        let station = session.pick.get_untracked().station;
        if let Some(x) = desk.read_x(&text.get_untracked())
            && desk.edit(Some(Edit::MoveStation { station, x }))
        {
            text.set(String::new());
        }
    };
    let away = move |_| {
        let station = session.pick.get_untracked().station;
        let lines = session.standing_now();
        let at = lines.station_index(station).unwrap_or(0);
        let next = lines.stations.get(if at == 0 { 1 } else { at - 1 });
        let next = next.map(|s| s.id);
        if desk.edit(Some(Edit::RemoveStation(station)))
            && let Some(next) = next
        {
            session.pick_at(session.pick.get_untracked().on, next);
        }
    };
    view! {
        <h2>{move || derived.standing.with(|lines| lines.station_name(session.pick.get().station))}</h2>
        <p>{move || place().map(|x| format!("at x {x}"))}</p>
        <form class="row" hidden=move || session.looking.with(Option::is_some) on:submit=shift>
            <input class="field" aria-label="New place of the station" autocomplete="off" prop:value=text on:input=move |event| text.set(event_target_value(&event))/>
            <button type="submit">"Move it there"</button>
            <button type="button" data-kind="lesser" hidden=move || !bare() on:click=away>"Take it away"</button>
        </form>
    }
}

/// One more reading of the picked point, from the chosen source.
#[component]
fn Another(desk: Desk) -> impl IntoView {
    let Desk {
        session, derived, ..
    } = desk;
    let text = RwSignal::new(String::new());
    let there = move || {
        let (lines, pick) = (derived.standing.get(), session.pick.get());
        lines.point_on(pick.station, pick.on).is_some() && session.looking.with(Option::is_none)
    };
    let add = move |event: web_sys::SubmitEvent| {
        event.prevent_default();
        let (lines, pick) = (session.standing_now(), session.pick.get_untracked());
        let Some(point) = lines.point_on(pick.station, pick.on).map(|p| p.id) else {
            return;
        };
        // As if the cell were empty, so that it is no correction.
        let mut bare = (*lines).clone();
        bare.points.retain(|p| p.id != point);
        let place = (pick.station, pick.on);
        match edit_of(&bare, place, &text.get_untracked(), desk.source_now()) {
            Ok(Some(Edit::AddPoint { reading, .. })) => {
                if desk.ask_or_edit(Some(Edit::AddReading { point, reading })) {
                    text.set(String::new());
                }
            }
            Ok(_) => {}
            Err(why) => desk.wrong.set(Some(why)),
        }
    };
    view! {
        <form class="row" hidden=move || !there() on:submit=add>
            <input class="field" aria-label="Another reading" autocomplete="off" placeholder="reading" prop:value=text on:input=move |event| text.set(event_target_value(&event))/>
            <button type="submit">"Add another reading"</button>
        </form>
    }
}
