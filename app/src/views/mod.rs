//! The frame of the app: header, notes to the person, the lines plan and the card of what is picked.

mod drawing;
mod lines;
mod plan;

use geometry::document::link::COMFORTABLE_LINK;
use geometry::document::{
    Edit, Folder, TableOptions, read_folder, read_link, read_table, write_folder, write_link,
};
use geometry::shop::{OffsetsOptions, Stations, tabulate_offsets};
use geometry::units::{LengthUnit, Message};
use geometry::write::write_csv;
use leptos::prelude::*;
use wasm_bindgen::JsCast;

use crate::exchange;
use crate::state::derived::Derived;
use crate::state::{NoteKind, Session};

/// Largest file that is read, in bytes.
const LARGEST: usize = 32 << 20;

/// The whole page.
#[component]
pub fn App() -> impl IntoView {
    let session = Session::new();
    let derived = Derived::new(session);
    provide_context(session);
    provide_context(derived);
    look_at_link(session);
    let changed = window_event_listener(leptos::ev::hashchange, move |_| look_at_link(session));
    on_cleanup(move || changed.remove());
    view! {
        <div class="frame">
            <Header/>
            <SharedBar/>
            <NoteBar/>
            <lines::LinesScreen/>
        </div>
    }
}

/// Looks at the lines that came with the address, where some did.
fn look_at_link(session: Session) {
    let fragment = exchange::fragment();
    if fragment.is_empty() {
        return;
    }
    match read_link(&fragment) {
        Ok(lines) => session.look(lines),
        Err(error) => session.say(NoteKind::Fault, error.message(session.standing_now().unit)),
    }
}

/// Says that shared lines are looked at, and leads back to one's own.
#[component]
fn SharedBar() -> impl IntoView {
    let session = expect_context::<Session>();
    let take = move |_| {
        if let Some(lines) = session.looking.get_untracked() {
            exchange::clear_fragment();
            session.take_in((*lines).clone(), "Took a copy of shared lines");
        }
    };
    let close = move |_| {
        exchange::clear_fragment();
        session.look_no_more();
    };
    move || {
        session.looking.get().map(|lines| {
            view! {
                <div class="bar" role="region" aria-label="Shared lines">
                    <p>{format!("Shared revision {}, not yours: to look at beside your own work.", lines.fingerprint().short())}</p>
                    <button data-kind="first" on:click=take>"Take a copy"</button>
                    <button on:click=close>"Back to mine"</button>
                </div>
            }
        })
    }
}

/// The unit with this name in a list.
fn unit_named(name: &str) -> LengthUnit {
    match name {
        "in" => LengthUnit::Inches,
        "ft-in-8" => LengthUnit::FeetInchesEighths,
        _ => LengthUnit::Millimetres,
    }
}

fn name_of(unit: LengthUnit) -> &'static str {
    match unit {
        LengthUnit::Millimetres => "mm",
        LengthUnit::Inches => "in",
        LengthUnit::FeetInchesEighths => "ft-in-8",
    }
}

#[component]
fn Header() -> impl IntoView {
    let session = expect_context::<Session>();
    let derived = expect_context::<Derived>();
    let title = move || derived.document.with(|lines| lines.title.clone());
    let revision = move || {
        derived.document.with(|lines| {
            let print = lines.fingerprint().short();
            if lines.revision.is_empty() {
                print
            } else {
                format!("{} · {print}", lines.revision)
            }
        })
    };
    let undo = move || session.history.with(|h| h.undo_name().map(str::to_owned));
    let redo = move || session.history.with(|h| h.redo_name().map(str::to_owned));
    let save = move |_| {
        let lines = session.standing_now();
        let name = exchange::file_name(&lines.title, "json");
        let bytes = write_folder(&Folder {
            lines: (*lines).clone(),
            revisions: Vec::new(),
        });
        told(session, exchange::save(&name, "application/json", &bytes));
    };
    let offsets = move |_| {
        let lines = session.standing_now();
        if let Ok(loft) = derived.loft.get_untracked() {
            let options = OffsetsOptions {
                stations: Stations::Own,
                unit: lines.unit,
            };
            let bytes = write_csv(&tabulate_offsets(&lines, &loft, &options));
            told(
                session,
                exchange::save(
                    &exchange::file_name(&lines.title, "csv"),
                    "text/csv",
                    &bytes,
                ),
            );
        }
    };
    let share = move |_| {
        let address = exchange::address_with(&write_link(&session.standing_now()));
        leptos::task::spawn_local(async move {
            let length = address.len();
            match exchange::copy(&address).await {
                Ok(()) if length > COMFORTABLE_LINK => session.say(
                    NoteKind::Done,
                    format!("The link has {length} characters, more than some programs pass on: send the file instead."),
                ),
                Ok(()) => session.say(
                    NoteKind::Done,
                    format!("Copied a link of {length} characters. It holds these lines, and stays in the history of whoever opens it."),
                ),
                Err(sentence) => session.say(NoteKind::Fault, sentence),
            }
        });
    };
    view! {
        <header class="head">
            <h1>{title}</h1>
            <span class="revision">{revision}</span>
            <button disabled=move || undo().is_none() title=undo on:click=move |_| session.undo()>"Undo"</button>
            <button disabled=move || redo().is_none() title=redo on:click=move |_| session.redo()>"Redo"</button>
            <select
                aria-label="Unit"
                prop:value=move || name_of(session.unit())
                on:change=move |event| session.edit(&Edit::SetUnit(unit_named(&event_target_value(&event))))
            >
                <option value="mm">"mm"</option>
                <option value="in">"in"</option>
                <option value="ft-in-8">"ft-in-8"</option>
            </select>
            <label class="row">
                <span class="hidden">"Open lines or an offsets table"</span>
                <input type="file" accept=".json,.csv,.tsv,.txt" on:change=move |event| open(session, &event)/>
            </label>
            <button on:click=share>"Copy link"</button>
            <button on:click=save>"Save lines"</button>
            <button on:click=offsets>"Offsets table"</button>
        </header>
    }
}

fn told(session: Session, done: Result<(), exchange::Refused>) {
    if let Err(sentence) = done {
        session.say(NoteKind::Fault, sentence);
    }
}

/// Takes in the chosen file: lines, or an offsets table.
fn open(session: Session, event: &web_sys::Event) {
    let Some(input) = event
        .target()
        .and_then(|t| t.dyn_into::<web_sys::HtmlInputElement>().ok())
    else {
        return;
    };
    let Some(file) = input.files().and_then(|files| files.get(0)) else {
        return;
    };
    input.set_value("");
    leptos::task::spawn_local(async move {
        let name = file.name();
        match exchange::read(&file, LARGEST).await {
            Ok(bytes) => take_in(session, &name, &bytes),
            Err(sentence) => session.say(NoteKind::Fault, sentence),
        }
    });
}

fn take_in(session: Session, name: &str, bytes: &[u8]) {
    let unit = session.standing_now().unit;
    if bytes.trim_ascii_start().starts_with(b"{") {
        match read_folder(bytes) {
            Ok(folder) => session.take_in(folder.lines, &format!("Opened {name}")),
            Err(error) => session.say(NoteKind::Fault, error.message(unit)),
        }
        return;
    }
    match read_table(
        bytes,
        &TableOptions {
            title: Some(name.to_owned()),
            ..TableOptions::default()
        },
    ) {
        Ok(preview) => {
            let torn: Vec<String> = preview.torn.iter().map(ToString::to_string).collect();
            let refused: Vec<String> = preview
                .refused
                .iter()
                .take(5)
                .map(|cell| cell.message(unit))
                .collect();
            let mut said = format!(
                "Took in {name}: {} stations, {} readings, {} torn",
                preview.stations,
                preview.values,
                torn.len()
            );
            if !torn.is_empty() {
                said = format!("{said} ({})", torn.join("; "));
            }
            if preview.refused_count > 0 {
                said = format!(
                    "{said}; {} cells refused: {}",
                    preview.refused_count,
                    refused.join(" ")
                );
            }
            session.take_in(preview.lines(), &said);
        }
        Err(error) => session.say(NoteKind::Fault, error.message(unit)),
    }
}

#[component]
fn NoteBar() -> impl IntoView {
    let session = expect_context::<Session>();
    move || {
        session.note.get().map(|note| {
            let kind = if note.kind == NoteKind::Fault { "fault" } else { "done" };
            view! {
                <div class="bar" role="status" data-kind=kind>
                    <p>{note.text}</p>
                    <button data-kind="lesser" on:click=move |_| session.note.set(None)>"Close"</button>
                </div>
            }
        })
    }
}
