//! What comes in: lines files and links at once, tables only after they were seen as they were read.
//!
//! The doors are here: drop, paste, the address. The dialogs, and what reads a link, are fetched later.

mod open;
mod take_in;

use std::sync::Arc;

use geometry::document::{Lines, read_folder, read_link};
use geometry::units::{LengthUnit, Message};
use leptos::prelude::*;
use leptos::wasm_split::{SplitLoaderError, wasm_split};
use wasm_bindgen::JsCast;

use super::pieces::{Piece, apart, at_once, no_dialog};
use super::widgets::close_dialog;
use crate::exchange;
use crate::state::coming::Coming;
use crate::state::{Came, Incoming, NoteKind, Question, Session};
use open::Open;
use take_in::TakeIn;

/// Largest file that is read, in bytes.
const LARGEST: usize = 32 << 20;

/// What a pasted table is called before anyone calls it otherwise.
const PASTED: &str = "Pasted table";

/// Takes what came for what it is: lines, or else a table to be looked at.
fn receive(session: Session, name: &str, came: Came) {
    let unit = session.standing_now().about.unit;
    let bytes = came.bytes();
    if bytes.trim_ascii_start().starts_with(b"{") {
        match read_folder(bytes) {
            Ok(folder) => {
                if session.take_in(folder, &format!("Opened {name}")) {
                    close_dialog();
                    session.has_saved();
                }
            }
            Err(error) => session.say(NoteKind::Fault, format!("{name}: {}", error.message(unit))),
        }
        return;
    }
    session.ask(Question::TakeIn(Arc::new(Incoming {
        name: name.to_owned(),
        came,
    })));
}

/// Reads a file and takes it for what it is.
fn receive_file(session: Session, file: web_sys::File) {
    leptos::task::spawn_local(async move {
        let name = file.name();
        match exchange::read(&file, LARGEST).await {
            Ok(bytes) => receive(session, &name, Came::File(bytes)),
            Err(sentence) => session.say(NoteKind::Fault, sentence),
        }
    });
}

/// A file was dropped on the page.
pub fn dropped(session: Session, event: &web_sys::Event) {
    event.prevent_default();
    let files = event
        .dyn_ref::<web_sys::DragEvent>()
        .and_then(web_sys::DragEvent::data_transfer)
        .and_then(|data| data.files());
    if let Some(file) = files.and_then(|files| files.get(0)) {
        receive_file(session, file);
    }
}

/// Something was pasted outside a field: a link, lines or a table.
pub fn pasted(session: Session, coming: Coming, event: &web_sys::Event) {
    if exchange::in_a_field(event) || event.default_prevented() {
        return;
    }
    if let Some(text) = exchange::pasted_text(event).filter(|text| !text.trim().is_empty()) {
        event.prevent_default();
        receive_text(session, coming, &text);
    }
}

fn receive_text(session: Session, coming: Coming, text: &str) {
    let link = text.trim().split_once('#').map(|(_, fragment)| fragment);
    if let (Some(fragment), false) = (link, text.trim().contains(char::is_whitespace))
        && fragment.starts_with("SB")
    {
        look_at(session, coming, fragment.to_owned());
        return;
    }
    receive(session, PASTED, Came::Pasted(text.into()));
}

/// The piece of what comes in.
pub const INCOMING: Piece = Piece {
    what: "What reads it",
    fetch: || {
        Box::pin(async {
            fetch_coming_in().await?;
            fetch_link().await
        })
    },
};

#[wasm_split(incoming, wasm_split_path = ::leptos::wasm_split, fallible, preload(fetch_coming_in))]
fn coming_in(question: Question) -> Result<AnyView, SplitLoaderError> {
    Ok(match question {
        Question::TakeIn(table) => view! { <TakeIn table=table/> }.into_any(),
        Question::Start => view! { <Open own=true text=String::new()/> }.into_any(),
        Question::Again(text) => view! { <Open own=false text=text.to_string()/> }.into_any(),
        _ => view! { <Open own=false text=String::new()/> }.into_any(),
    })
}

#[wasm_split(incoming, wasm_split_path = ::leptos::wasm_split, fallible, preload(fetch_link))]
fn read(link: String, unit: LengthUnit) -> Result<Result<Lines, String>, SplitLoaderError> {
    Ok(read_link(&link).map_err(|error| error.message(unit)))
}

/// Asks what is to be known of what comes in.
pub fn ask(question: Question) -> AnyView {
    let (session, coming) = (expect_context::<Session>(), expect_context::<Coming>());
    let draw = move || match question.clone() {
        Question::Link(link) => {
            look_at(session, coming, link);
            session.ask_no_more();
            None
        }
        question => at_once(coming_in(question)),
    };
    apart(INCOMING, draw, no_dialog)
}

/// Looks at the lines of a link, once it is known how long it takes to loft them.
pub fn look_at(session: Session, coming: Coming, link: String) {
    leptos::task::spawn_local(async move {
        let unit = session.standing_now().about.unit;
        match read(link.clone(), unit).await {
            Ok(Ok(lines)) => {
                close_dialog();
                coming.bring(lines);
            }
            Ok(Err(sentence)) => session.say(NoteKind::Fault, sentence),
            Err(_) => session.ask(Question::Link(link)),
        }
    });
}

/// Says that lines of a link are on their way, and what hinders them.
#[component]
pub fn ComingBar() -> impl IntoView {
    let coming = expect_context::<Coming>();
    let words = move || match (coming.failed(), coming.long.get()) {
        (Some(sentence), _) => sentence,
        (None, Some(took)) => format!(
            "The lines of this link take about {:.0} s to loft, and the page stands still meanwhile.",
            (took / 1000.0).ceil()
        ),
        (None, None) => "The lines of this link are lofted, before they are shown …".to_owned(),
    };
    let waits = move || coming.failed().is_none() && coming.long.get().is_none();
    move || {
        coming.is_any().then(|| {
            view! {
                <div class="bar" role="region" aria-label="Lines of a link">
                    <p role="status">{words}</p>
                    <button hidden=waits on:click=move |_| coming.look_now()>"Look at them"</button>
                    <button on:click=move |_| coming.leave_link()>"Leave them"</button>
                </div>
            }
        })
    }
}
