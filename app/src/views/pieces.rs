//! What stands in other pieces of the program: fetched when it is first asked for, or when the page has nothing else to do.
//!
//! The launcher parts the program along the functions that are marked here: whatever only they use goes with them. All
//! marked with one name are one file. What can't be fetched is said where it would stand, and can be tried again.

use std::pin::{Pin, pin};
use std::task::{Context, Poll, Waker};

use geometry::document::{Lines, read_link};
use geometry::units::{LengthUnit, Message};
use leptos::prelude::*;
use leptos::wasm_split::{SplitLoaderError, wasm_split};

use super::card::Margin;
use super::evidence::{AboutSource, EvidenceScreen};
use super::shell::ShellScreen;
use super::{drawn, header, help, incoming, law, lines, outgoing, readings, revisions};
use crate::jobs::heard;
use crate::state::findings::Findings;
use crate::state::{NoteKind, Question, Session};

/// How long a browser that does not say when it has nothing to do is left alone, ms.
const LEFT_ALONE: u64 = 1_000;

#[wasm_split(evidence, wasm_split_path = ::leptos::wasm_split, fallible, preload(fetch_evidence))]
fn evidence() -> Result<AnyView, SplitLoaderError> {
    Ok(view! { <EvidenceScreen/> }.into_any())
}

#[wasm_split(shell, wasm_split_path = ::leptos::wasm_split, fallible, preload(fetch_shell))]
fn shell() -> Result<AnyView, SplitLoaderError> {
    Ok(view! { <ShellScreen/> }.into_any())
}

#[wasm_split(dialogs, wasm_split_path = ::leptos::wasm_split, fallible, preload(fetch_dialogs))]
fn dialogs(question: Question) -> Result<AnyView, SplitLoaderError> {
    Ok(match question {
        Question::Open | Question::TakeIn(_) | Question::Link(_) => ().into_any(), // in `coming_in`
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

#[wasm_split(incoming, wasm_split_path = ::leptos::wasm_split, fallible, preload(fetch_coming_in))]
fn coming_in(question: Question) -> Result<AnyView, SplitLoaderError> {
    Ok(match question {
        Question::TakeIn(table) => view! { <incoming::TakeIn table=table/> }.into_any(),
        _ => view! { <incoming::Open/> }.into_any(),
    })
}

#[wasm_split(incoming, wasm_split_path = ::leptos::wasm_split, fallible, preload(fetch_link))]
fn read(link: String, unit: LengthUnit) -> Result<Result<Lines, String>, SplitLoaderError> {
    Ok(read_link(&link).map_err(|error| error.message(unit)))
}

#[wasm_split(margin, wasm_split_path = ::leptos::wasm_split, fallible, preload(fetch_margin))]
fn beside() -> Result<AnyView, SplitLoaderError> {
    expect_context::<Findings>().catch_up();
    Ok(view! { <Margin/> }.into_any())
}

type Fetching = Pin<Box<dyn Future<Output = Result<(), SplitLoaderError>>>>;

/// A piece of the program.
#[derive(Clone, Copy)]
struct Piece {
    /// What it draws, as a sentence begins with it.
    what: &'static str,
    fetch: fn() -> Fetching,
}

const EVIDENCE: Piece = Piece {
    what: "The Evidence screen",
    fetch: || Box::pin(fetch_evidence()),
};

const SHELL: Piece = Piece {
    what: "The Shell screen",
    fetch: || Box::pin(fetch_shell()),
};

const DIALOGS: Piece = Piece {
    what: "What you asked for",
    fetch: || Box::pin(fetch_dialogs()),
};

const INCOMING: Piece = Piece {
    what: "What reads it",
    fetch: || {
        Box::pin(async {
            fetch_coming_in().await?;
            fetch_link().await
        })
    },
};

const MARGIN: Piece = Piece {
    what: "The list of what is to settle",
    fetch: || {
        Box::pin(async {
            heard::fetch_reply().await?;
            fetch_margin().await
        })
    },
};

/// Whether a piece is here.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Stand {
    Coming,
    Here,
    Failed,
}

/// Fetches all pieces, one after the other, when the page has nothing else to do; one that fails is fetched again when it
/// is asked for.
pub fn fetch_ahead() {
    let fetch = || {
        leptos::task::spawn_local(async {
            for piece in [MARGIN, DIALOGS, INCOMING, EVIDENCE, SHELL] {
                if (piece.fetch)().await.is_err() {
                    leptos::logging::log!("{} is not here yet", piece.what);
                }
            }
        });
    };
    if request_idle_callback_with_handle(fetch).is_err() {
        set_timeout(fetch, core::time::Duration::from_millis(LEFT_ALONE));
    }
}

/// What comes of something that need not be waited for.
fn at_once<T>(act: impl Future<Output = T>) -> Option<T> {
    match pin!(act).poll(&mut Context::from_waker(Waker::noop())) {
        Poll::Ready(outcome) => Some(outcome),
        Poll::Pending => None,
    }
}

/// What a piece draws: at once where it is here, else as soon as it is.
fn apart(
    piece: Piece,
    draw: impl Fn() -> Option<Result<AnyView, SplitLoaderError>> + Send + 'static,
    meanwhile: fn(Piece, RwSignal<Stand>) -> AnyView,
) -> AnyView {
    let here = at_once((piece.fetch)()).is_some_and(|fetched| fetched.is_ok());
    let stand = RwSignal::new(if here { Stand::Here } else { Stand::Coming });
    Effect::new(move |_| {
        if stand.get() == Stand::Coming {
            leptos::task::spawn_local(async move {
                let fetched = (piece.fetch)().await;
                // It may not be asked for any more.
                stand.try_set(if fetched.is_ok() {
                    Stand::Here
                } else {
                    Stand::Failed
                });
            });
        }
    });
    let shown = move || match stand.get() {
        Stand::Here => match draw() {
            Some(Ok(view)) => view,
            Some(Err(_)) | None => ().into_any(),
        },
        Stand::Coming | Stand::Failed => meanwhile(piece, stand),
    };
    shown.into_any()
}

/// What is said of a piece that is not here.
fn says(piece: Piece, stand: RwSignal<Stand>) -> AnyView {
    let what = piece.what;
    if stand.get_untracked() == Stand::Failed {
        view! { <p role="alert">{what}" could not be fetched. Your lines are as they were: try again, or load the page again if that does not help."</p> }.into_any()
    } else {
        view! { <p role="status">{what}" is coming …"</p> }.into_any()
    }
}

fn again(piece: Piece, stand: RwSignal<Stand>, kind: &'static str) -> impl IntoView {
    let name = format!("Try again: {}", piece.what);
    view! { <button data-kind=kind aria-label=name on:click=move |_| stand.set(Stand::Coming)>"Try again"</button> }
}

/// In a screen's place.
fn no_screen(piece: Piece, stand: RwSignal<Stand>) -> AnyView {
    let failed = stand.get_untracked() == Stand::Failed;
    view! {
        <main class="bare stack">
            <div class:fault=failed>{says(piece, stand)}</div>
            {failed.then(|| view! { <div class="row">{again(piece, stand, "first")}</div> })}
        </main>
    }
    .into_any()
}

/// For a dialog: where all else is said to the person.
fn no_dialog(piece: Piece, stand: RwSignal<Stand>) -> AnyView {
    let session = expect_context::<Session>();
    let failed = stand.get_untracked() == Stand::Failed;
    let kind = if failed { "fault" } else { "done" };
    let close = move |_| session.question.set(None);
    view! {
        <div class="said">
            <div class="bar" data-kind=kind>
                {says(piece, stand)}
                {failed.then(|| again(piece, stand, "lesser"))}
                <button data-kind="lesser" on:click=close>"Close"</button>
            </div>
        </div>
    }
    .into_any()
}

/// The Evidence screen.
pub fn evidence_screen() -> AnyView {
    apart(EVIDENCE, || at_once(evidence()), no_screen)
}

/// The Shell screen.
pub fn shell_screen() -> AnyView {
    apart(SHELL, || at_once(shell()), no_screen)
}

/// In the margin's place.
fn no_margin(piece: Piece, stand: RwSignal<Stand>) -> AnyView {
    let failed = stand.get_untracked() == Stand::Failed;
    view! {
        <aside class="notes" aria-label="To settle">
            {failed.then(|| view! { <div class="fault">{says(piece, stand)}</div><div class="row">{again(piece, stand, "first")}</div> })}
        </aside>
    }
    .into_any()
}

/// What stands beside the lines: what is to settle, readings, lifted places.
pub fn margin() -> AnyView {
    apart(MARGIN, || at_once(beside()), no_margin)
}

/// What is asked of the person, over the page.
pub fn ask(question: Question) -> AnyView {
    match question {
        Question::Open | Question::TakeIn(_) => {
            let draw = move || at_once(coming_in(question.clone()));
            apart(INCOMING, draw, no_dialog)
        }
        Question::Link(link) => {
            let session = expect_context::<Session>();
            let draw = move || {
                look_at(session, link.clone());
                session.question.set(None);
                None
            };
            apart(INCOMING, draw, no_dialog)
        }
        _ => apart(
            DIALOGS,
            move || at_once(dialogs(question.clone())),
            no_dialog,
        ),
    }
}

/// Looks at the lines of a link.
pub fn look_at(session: Session, link: String) {
    leptos::task::spawn_local(async move {
        let unit = session.standing_now().about.unit;
        match read(link.clone(), unit).await {
            Ok(Ok(lines)) => session.look_at(lines),
            Ok(Err(sentence)) => session.say(NoteKind::Fault, sentence),
            Err(_) => session.question.set(Some(Question::Link(link))),
        }
    });
}
