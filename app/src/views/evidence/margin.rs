//! Beside the table: what is known of the picked cell, of its station and of its line, and ways to change them.

use geometry::document::{BodyEdit, Edit, On, Place, RunLine, SkinSide};
use geometry::issue::lines_plan::reads;
use geometry::settle::Subject;
use geometry::units::{LengthUnit, format_length_with_unit, headed};
use leptos::prelude::*;

use super::Desk;
use super::circumstances::HowRead;
use super::table::text_of;
use super::typing::{ReadAt, reading_of};
use crate::state::Screen;
use crate::state::axis::axes;
use crate::state::findings::Findings;
use crate::views::new_line::{kind_name, kind_named};
use crate::views::readings::Readings;
use crate::views::settle::{Torn, matter_parts};
use crate::views::widgets::list;
use crate::views::words::small;

/// The picked cell by its station and line.
pub(super) fn cell_name(desk: Desk) -> String {
    let (lines, pick) = (desk.derived.standing.get(), desk.session.pick.get());
    let station = || lines.body.station_name(pick.station);
    match (lines.body.line_name(pick.on), desk.picked_point(&lines)) {
        (Some(line), _) => format!("{}, {line}", station()),
        (None, Some(point)) => lines.body.name_of(point),
        (None, None) => station(),
    }
}

/// What is known of the picked cell.
#[component]
pub(super) fn Beside(desk: Desk) -> impl IntoView {
    let derived = desk.derived;
    let name = move || cell_name(desk);
    let values = move || {
        let lines = derived.standing.get();
        let point = desk.picked_point(&lines)?;
        let deep = |r: &geometry::document::Reading| {
            let source = lines.body.source(r.source);
            source.is_some_and(|source| source.surface != SkinSide::Outside)
        };
        let inside = point.used().any(deep);
        let elsewhere = |r: &geometry::document::Reading| {
            let source = lines.body.source(r.source);
            source.is_some_and(|source| source.datum.aft.abs() > 0.0)
        };
        let elsewhere = point.used().any(elsewhere);
        let said = axes(point).into_iter().filter_map(|axis| {
            let mm = axis.recorded(point, [0.0; 2])?;
            let shown = format_length_with_unit(mm, lines.about.unit);
            let plain = if lines.about.unit == LengthUnit::Millimetres {
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
            let now = axis.accepted(point, derived.moved_out(point.id));
            let moved = now.filter(|now| (now - mm).abs() > 0.005);
            let moved = moved.map_or_else(String::new, |now| {
                format!(
                    "{}{}; on the lines now {}",
                    if inside { ", inside the skin" } else { "" },
                    if elsewhere {
                        ", at its source's own station"
                    } else {
                        ""
                    },
                    format_length_with_unit(now, lines.about.unit)
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
        <aside class="beside" aria-label="The picked cell" hidden=move || desk.table.with(|table| table.rows.is_empty())>
            <h2>{name}</h2>
            <p>{move || values().filter(|v| !v.is_empty()).unwrap_or_else(|| "No reading is used here.".to_owned())}</p>
            <div class="only-wide"><ThisCell desk/></div>
            <InDoubt desk/>
            <Another desk/>
            <Readings/>
            <HowRead desk/>
            <Torn/>
            <ThisStation desk/>
            <ThisLine desk/>
        </aside>
    }
}

/// What is to be settled of the picked point, with the answers that the list beside the lines offers.
#[component]
fn InDoubt(desk: Desk) -> impl IntoView {
    let findings = expect_context::<Findings>();
    let rows = Memo::new(move |_| {
        let point = desk.picked_point(&desk.derived.standing.get())?.id;
        let (found, _) = findings.found()?;
        let of_it = { found.matters.iter() }.filter(|row| row.subject == Subject::Point(point));
        Some(of_it.cloned().collect::<Vec<_>>())
    });
    let none = move || rows.with(|rows| rows.as_ref().is_none_or(Vec::is_empty));
    let listed = move || {
        matter_parts(
            desk.session,
            rows.get().unwrap_or_default(),
            Screen::Evidence,
        )
    };
    view! {
        <section class="settle" aria-label="To settle here" hidden=none>
            <h2>"To settle here"</h2>
            <ol>{list(listed)}</ol>
        </section>
    }
}

/// What stands in the picked cell, to be typed without opening the cell itself, as on a telephone.
#[component]
pub(super) fn ThisCell(desk: Desk) -> impl IntoView {
    let Desk {
        session, derived, ..
    } = desk;
    let text = move || text_of(&derived.standing.get(), desk.picked());
    view! {
        <form class="row" hidden=move || session.only_looks() on:submit=|event| event.prevent_default()>
            <label>"This cell "
                <input class="field" aria-label="This cell" data-both=move || text().contains('/').then_some("") autocomplete="off" prop:value=text on:change=move |event| {
                    desk.type_in(untrack(|| desk.picked()), &event_target_value(&event));
                }/>
            </label>
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
        let x = lines.body.station(pick.station)?.x;
        Some(format_length_with_unit(x, lines.about.unit.along()))
    };
    let bare = move || {
        let (lines, pick) = (derived.standing.get(), session.pick.get());
        !lines.body.points.iter().any(|p| p.station == pick.station)
    };
    let shift = move |event: web_sys::SubmitEvent| {
        event.prevent_default();
        let station = session.pick.get_untracked().station;
        if let Some(x) = desk.read_x(&text.get_untracked())
            && desk.ask_or_edit(Some(BodyEdit::MoveStation { station, x }.into()))
        {
            text.set(String::new());
        }
    };
    let away = move |_| {
        let station = session.pick.get_untracked().station;
        let lines = session.standing_now();
        let at = lines.body.station_index(station).unwrap_or(0);
        let next = lines.body.stations.get(if at == 0 { 1 } else { at - 1 });
        let next = next.map(|s| s.id);
        if desk.edit(Some(BodyEdit::RemoveStation(station).into()))
            && let Some(next) = next
        {
            session.pick_at(session.pick.get_untracked().on, next);
        }
    };
    view! {
        <h2>{move || derived.standing.with(|lines| lines.body.station_name(session.pick.get().station))}</h2>
        <p>{move || place().map(|x| format!("at x {x}"))}</p>
        <NewPoint desk/>
        <form class="row" hidden=move || session.only_looks() on:submit=shift>
            <label>"x "<input class="field" aria-label="New place of the station" autocomplete="off" prop:value=text on:input=move |event| text.set(event_target_value(&event))/>{move || session.unit().along().short()}</label>
            <button type="submit">"Move it there"</button>
            <button type="button" data-kind="lesser" hidden=move || !bare() on:click=away>"Take it away"</button>
        </form>
    }
}

/// A point on no line at the picked station.
#[component]
fn NewPoint(desk: Desk) -> impl IntoView {
    let session = desk.session;
    let text = RwSignal::new(String::new());
    let add = move |event: web_sys::SubmitEvent| {
        event.prevent_default();
        let (lines, station) = (session.standing_now(), session.pick.get_untracked().station);
        let place = ReadAt {
            station,
            on: On::Free,
            point: None,
            name: lines.body.station_name(station),
        };
        match reading_of(
            &lines,
            &place,
            text.get_untracked().trim(),
            desk.source_now(),
        ) {
            Ok(edit) => {
                if desk.edit(edit) {
                    text.set(String::new());
                    let now = session.standing_now();
                    let mut points = now.body.points.iter().map(|point| point.id);
                    if let Some(new) = points.find(|id| lines.body.point(*id).is_none()) {
                        session.pick_point(new);
                    }
                }
            }
            Err(why) => desk.wrong.set(Some(why)),
        }
    };
    view! {
        <form class="row" hidden=move || session.only_looks() on:submit=add>
            <input class="name" aria-label="A point on no line" autocomplete="off" placeholder="half-breadth/height" prop:value=text on:input=move |event| text.set(event_target_value(&event))/>
            <button type="submit">"Add a point on no line"</button>
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
        let lines = derived.standing.get();
        desk.picked_point(&lines).is_some() && !session.only_looks()
    };
    let add = move |event: web_sys::SubmitEvent| {
        event.prevent_default();
        let lines = session.standing_now();
        let Some(point) = untrack(|| desk.picked_point(&lines)) else {
            return;
        };
        // As if nothing stood there, so that it is no correction.
        let place = ReadAt {
            station: point.station,
            on: point.on,
            point: None,
            name: lines.body.name_of(point),
        };
        let point = point.id;
        match reading_of(
            &lines,
            &place,
            text.get_untracked().trim(),
            desk.source_now(),
        ) {
            Ok(Some(Edit::Body(BodyEdit::AddPoint { reading, .. }))) => {
                if desk.ask_or_edit(Some(BodyEdit::AddReading { point, reading }.into())) {
                    text.set(String::new());
                }
            }
            Ok(_) => desk
                .wrong
                .set(Some("Type what was read, as in a cell.".to_owned())),
            Err(why) => desk.wrong.set(Some(why)),
        }
    };
    let both = move || {
        let lines = derived.standing.get();
        reads(&lines, session.pick.get().on) == (true, true)
    };
    let hint = move || {
        if both() {
            "half-breadth/height"
        } else {
            "reading"
        }
    };
    view! {
        <form class="row" hidden=move || !there() on:submit=add>
            <input class="name" aria-label="Another reading" autocomplete="off" placeholder=hint prop:value=text on:input=move |event| text.set(event_target_value(&event))/>
            <button type="submit">"Add another reading"</button>
        </form>
    }
}

/// Where the picked line lies, and ways to name it otherwise or take it away.
#[component]
fn ThisLine(desk: Desk) -> impl IntoView {
    let Desk {
        session, derived, ..
    } = desk;
    let on = Memo::new(move |_| session.pick.get().on);
    let run_line = Memo::new(move |_| match on.get() {
        On::RunLine(id) => derived
            .standing
            .with(|lines| lines.body.run_line(id).cloned()),
        _ => None,
    });
    let plane = Memo::new(move |_| match on.get() {
        On::Plane(id) | On::PlaneUpper(id) => {
            derived.standing.with(|lines| lines.body.plane(id).cloned())
        }
        _ => None,
    });
    let name = move || {
        let plane = plane.get().map(|plane| plane.name);
        plane.or_else(|| run_line.get().map(|line| line.name))
    };
    let lies = move || {
        let unit = derived.standing.with(|lines| lines.about.unit);
        let length = |mm: f64| format_length_with_unit(mm, unit);
        plane.get().map(|plane| match plane.place {
            Place::Waterline(z) => format!("level, {} up", length(z)),
            Place::Buttock(y) => format!("upright, {} out", length(y)),
            Place::Diagonal { height, angle } => format!(
                "a diagonal, {} up at the centre plane, falling by {:.1}°",
                length(height),
                angle.to_degrees()
            ),
        })
    };
    let bare = move || {
        let lies = |other: On| match (on.get(), other) {
            (On::Plane(id) | On::PlaneUpper(id), On::Plane(other) | On::PlaneUpper(other)) => {
                id == other
            }
            (on, other) => on == other,
        };
        derived
            .standing
            .with(|lines| !lines.body.points.iter().any(|p| lies(p.on)))
    };
    let rename = move |event: leptos::ev::Event| {
        let name = event_target_value(&event);
        let edit = match (plane.get_untracked(), run_line.get_untracked()) {
            (Some(plane), _) => BodyEdit::RenamePlane {
                plane: plane.id,
                name,
            },
            (None, Some(line)) => BodyEdit::SetRunLine(RunLine { name, ..line }),
            (None, None) => return,
        };
        desk.edit(Some(edit.into()));
    };
    let change = move |change: &dyn Fn(&mut RunLine)| {
        if let Some(mut line) = run_line.get_untracked() {
            change(&mut line);
            desk.edit(Some(BodyEdit::SetRunLine(line).into()));
        }
    };
    let away = move |_| {
        let edit = match on.get_untracked() {
            On::Plane(id) | On::PlaneUpper(id) => BodyEdit::RemovePlane(id),
            On::RunLine(id) => BodyEdit::RemoveRunLine(id),
            On::Crown | On::Keel | On::Free => return,
        };
        if desk.edit(Some(edit.into())) {
            session.pick_at(On::Keel, session.pick.get_untracked().station);
        }
    };
    let kind = move || run_line.get().map_or("smooth", |line| kind_name(line.kind));
    let joint = move || run_line.with(|line| line.as_ref().is_some_and(|line| line.joint));
    let locked = move || session.only_looks();
    view! {
        <h2 hidden=move || name().is_none()>{move || name().map(|name| headed(&name))}</h2>
        <p hidden=move || lies().is_none()>{lies}</p>
        <div class="row" hidden=move || name().is_none()>
            <label>"Name "<input class="name" aria-label="Name of the line" autocomplete="off" disabled=locked prop:value=move || name().unwrap_or_default() on:change=rename/></label>
            <button data-kind="lesser" disabled=locked hidden=move || !bare() on:click=away>"Take it away"</button>
        </div>
        <div class="row" hidden=move || run_line.with(Option::is_none)>
            <select aria-label="Kind of the run line" disabled=locked prop:value=kind on:change=move |event| {
                let kind = kind_named(&event_target_value(&event));
                change(&|line| line.kind = kind);
            }>
                <option value="smooth">"smooth"</option>
                <option value="knuckle">"knuckle"</option>
            </select>
            <label class="check"><input type="checkbox" disabled=locked prop:checked=joint on:change=move |event| {
                let joint = event_target_checked(&event);
                change(&|line| line.joint = joint);
            }/>"upper and lower shell part here"</label>
        </div>
    }
}
