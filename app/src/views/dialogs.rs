//! What is asked of the person, over the page: which dialog belongs to which question; fetched later.

use leptos::prelude::*;
use leptos::wasm_split::{SplitLoaderError, wasm_split};

use super::evidence::AboutSource;
use super::pieces::{Piece, apart, at_once, no_dialog};
use super::{drawn, header, help, incoming, law, lines, outgoing, readings, revisions};
use crate::state::Question;

/// The dialogs' piece, but for those of what comes in.
pub const DIALOGS: Piece = Piece {
    what: "What you asked for",
    fetch: || Box::pin(fetch_dialogs()),
};

#[wasm_split(dialogs, wasm_split_path = ::leptos::wasm_split, fallible, preload(fetch_dialogs))]
fn dialogs(question: Question) -> Result<AnyView, SplitLoaderError> {
    Ok(match question {
        Question::Open
        | Question::Start
        | Question::TakeIn(_)
        | Question::Again(_)
        | Question::Link(_) => {
            ().into_any() // in `incoming`
        }
        Question::Share => view! { <outgoing::Share/> }.into_any(),
        Question::Offsets => view! { <outgoing::Offsets/> }.into_any(),
        Question::SetAside(which) => view! { <readings::SetAside readings=which/> }.into_any(),
        Question::Tolerance(point, reading, suggested) => {
            view! { <readings::Tolerance of=(point, reading) suggested=suggested/> }.into_any()
        }
        Question::Source(id) => view! { <AboutSource id=id/> }.into_any(),
        Question::Revisions => view! { <revisions::Revisions/> }.into_any(),
        Question::Compare(before, after) => {
            view! { <revisions::Compare before=before after=after/> }.into_any()
        }
        Question::Radii => view! { <lines::Radii/> }.into_any(),
        Question::Drawn => view! { <drawn::Drawn/> }.into_any(),
        Question::Law => view! { <law::ConicLaw/> }.into_any(),
        Question::Help => view! { <help::Help/> }.into_any(),
        Question::More => view! { <header::More/> }.into_any(),
    })
}

/// What is asked of the person, over the page.
pub fn ask(question: Question) -> AnyView {
    match question {
        Question::Open
        | Question::Start
        | Question::TakeIn(_)
        | Question::Again(_)
        | Question::Link(_) => incoming::ask(question),
        _ => apart(
            DIALOGS,
            move || at_once(dialogs(question.clone())),
            no_dialog,
        ),
    }
}
