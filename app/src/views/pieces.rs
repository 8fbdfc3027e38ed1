//! What stands in other pieces of the program: fetched when it is first asked for, or when the page has nothing else to do.
//!
//! The launcher parts the program along the functions that are marked by `wasm_split`: whatever only they use goes with
//! them. All marked with one name are one file. Each stands beside what it draws, with its [`Piece`]; here is what fetches
//! them. What can't be fetched is said where it would stand, and can be tried again.

use std::pin::{Pin, pin};
use std::task::{Context, Poll, Waker};

use leptos::prelude::*;
use leptos::wasm_split::SplitLoaderError;

use crate::state::Session;

/// How long a browser that does not say when it has nothing to do is left alone, ms.
const LEFT_ALONE: u64 = 1_000;

/// The fetching of a piece.
pub type Fetching = Pin<Box<dyn Future<Output = Result<(), SplitLoaderError>>>>;

/// A piece of the program.
#[derive(Clone, Copy)]
pub struct Piece {
    /// What it draws, as a sentence begins with it.
    pub what: &'static str,
    /// Fetches it, where it is not here.
    pub fetch: fn() -> Fetching,
}

/// Whether a piece is here.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Arrival {
    /// It is being fetched.
    Coming,
    /// It can draw.
    Here,
    /// It could not be fetched.
    Failed,
}

/// Fetches pieces, one after the other, when the page has nothing else to do; one that fails is fetched again when it is
/// asked for.
pub fn fetch_ahead<const N: usize>(pieces: [Piece; N]) {
    let fetch = move || {
        leptos::task::spawn_local(async move {
            for piece in pieces {
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
pub fn at_once<T>(act: impl Future<Output = T>) -> Option<T> {
    match pin!(act).poll(&mut Context::from_waker(Waker::noop())) {
        Poll::Ready(outcome) => Some(outcome),
        Poll::Pending => None,
    }
}

/// What a piece draws: at once where it is here, else as soon as it is.
pub fn apart(
    piece: Piece,
    draw: impl Fn() -> Option<Result<AnyView, SplitLoaderError>> + Send + 'static,
    meanwhile: fn(Piece, RwSignal<Arrival>) -> AnyView,
) -> AnyView {
    let here = at_once((piece.fetch)()).is_some_and(|fetched| fetched.is_ok());
    let arrival = RwSignal::new(if here { Arrival::Here } else { Arrival::Coming });
    Effect::new(move |_| {
        if arrival.get() == Arrival::Coming {
            leptos::task::spawn_local(async move {
                let fetched = (piece.fetch)().await;
                // It may not be asked for any more.
                arrival.try_set(if fetched.is_ok() {
                    Arrival::Here
                } else {
                    Arrival::Failed
                });
            });
        }
    });
    let shown = move || match arrival.get() {
        Arrival::Here => match draw() {
            Some(Ok(view)) => view,
            Some(Err(_)) | None => ().into_any(),
        },
        Arrival::Coming | Arrival::Failed => meanwhile(piece, arrival),
    };
    shown.into_any()
}

/// What is said of a piece that is not here.
pub fn says(piece: Piece, arrival: RwSignal<Arrival>) -> AnyView {
    let what = piece.what;
    if arrival.get_untracked() == Arrival::Failed {
        view! { <p role="alert">{what}" could not be fetched. Your lines are as they were: try again, or load the page again if that does not help."</p> }.into_any()
    } else {
        view! { <p role="status">{what}" is coming …"</p> }.into_any()
    }
}

/// A way to fetch a piece that could not be fetched.
pub fn again(piece: Piece, arrival: RwSignal<Arrival>, kind: &'static str) -> impl IntoView {
    let name = format!("Try again: {}", piece.what);
    view! { <button data-kind=kind aria-label=name on:click=move |_| arrival.set(Arrival::Coming)>"Try again"</button> }
}

/// In a screen's place.
pub fn no_screen(piece: Piece, arrival: RwSignal<Arrival>) -> AnyView {
    let failed = arrival.get_untracked() == Arrival::Failed;
    view! {
        <main class="bare stack">
            <div class:fault=failed>{says(piece, arrival)}</div>
            {failed.then(|| view! { <div class="row">{again(piece, arrival, "first")}</div> })}
        </main>
    }
    .into_any()
}

/// For a dialog: where all else is said to the person.
pub fn no_dialog(piece: Piece, arrival: RwSignal<Arrival>) -> AnyView {
    let session = expect_context::<Session>();
    let failed = arrival.get_untracked() == Arrival::Failed;
    let kind = if failed { "fault" } else { "done" };
    let close = move |_| session.ask_no_more();
    view! {
        <div class="said">
            <div class="bar" data-kind=kind>
                {says(piece, arrival)}
                {failed.then(|| again(piece, arrival, "lesser"))}
                <button data-kind="lesser" on:click=close>"Close"</button>
            </div>
        </div>
    }
    .into_any()
}
