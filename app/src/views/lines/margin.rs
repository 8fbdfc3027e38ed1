//! The margin beside the lines: what is to settle, readings, lifted places; fetched later.

use leptos::prelude::*;
use leptos::wasm_split::{SplitLoaderError, wasm_split};

use super::lifted::Lifted;
use crate::jobs::heard;
use crate::state::Session;
use crate::state::findings::Findings;
use crate::views::explained::{Asked, BAR, COMB, DUCK, UPSWEEP, VERDICT};
use crate::views::pieces::{Arrival, Piece, again, apart, at_once, says};
use crate::views::proposed::{ProposedLines, SetAsideNow};
use crate::views::readings::Readings;
use crate::views::settle::ToSettle;

/// The margin's piece.
pub const MARGIN: Piece = Piece {
    what: "The list of what is to settle",
    fetch: || {
        Box::pin(async {
            heard::fetch_reply().await?;
            fetch_margin().await
        })
    },
};

#[wasm_split(margin, wasm_split_path = ::leptos::wasm_split, fallible, preload(fetch_margin))]
fn beside() -> Result<AnyView, SplitLoaderError> {
    expect_context::<Findings>().catch_up();
    Ok(view! { <Margin/> }.into_any())
}

/// What stands beside the lines: what is to settle, readings, lifted places.
pub(super) fn margin() -> AnyView {
    apart(MARGIN, || at_once(beside()), no_margin)
}

/// In the margin's place.
fn no_margin(piece: Piece, arrival: RwSignal<Arrival>) -> AnyView {
    let failed = arrival.get_untracked() == Arrival::Failed;
    view! {
        <aside class="notes" aria-label="To settle">
            {failed.then(|| view! { <div class="fault">{says(piece, arrival)}</div><div class="row">{again(piece, arrival, "first")}</div> })}
        </aside>
    }
    .into_any()
}

/// In the margin: the readings, what is lifted, and first words.
#[component]
fn Margin() -> impl IntoView {
    let session = expect_context::<Session>();
    view! {
        <aside class="notes" aria-label="To settle, readings and measured places">
            <ProposedLines/>
            <SetAsideNow/>
            <ToSettle/>
            <Readings/>
            <Lifted/>
            <section class="questions" aria-label="What is drawn">
                <Asked about=&VERDICT/><Asked about=&COMB/><Asked about=&UPSWEEP/><Asked about=&BAR/><Asked about=&DUCK/>
            </section>
            {move || session.is_example().then(|| view! {
                <p class="quiet first-words"><b>"Scrieve Board "</b>"fairs the lines of a fuselage that is to be built in metal, from a table of offsets, before anything is cut. This is an example: pick a point in any view; drag it, step it or type its value, and all that hangs on it follows."</p>
            })}
        </aside>
    }
}
