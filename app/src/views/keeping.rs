//! How the work stands with this device, as a person meets it: quietly in the header, and in bars where something is wrong
//! or to be chosen.

use leptos::prelude::*;

use super::header::hand_over;
use crate::exchange;
use crate::state::keeping::{Keeping, Looks, Stand, Unread};
use crate::state::{NoteKind, Session};
use crate::storage::Refusal;

/// When the work was kept, and for how long no file has held it.
#[component]
pub fn KeptWords() -> impl IntoView {
    let session = expect_context::<Session>();
    let keeping = expect_context::<Keeping>();
    let kept = move || match keeping.stand.get() {
        Stand::Untouched => None,
        Stand::Kept(when) => Some(format!(
            "Saved on this device {}",
            exchange::time_of_day(when)
        )),
        Stand::Refused(_) => Some("Not saved on this device".to_owned()),
    };
    let many = move || {
        let edits = session.many_edits_in_no_file();
        edits.map(|edits| format!("not saved to a file for {edits} edits"))
    };
    view! {
        <p class="kept">
            {move || kept().map(|words| view! { <span>{words}</span> })}
            {move || many().map(|words| view! { <span>{words}</span> })}
        </p>
    }
}

/// The bars.
#[component]
pub fn KeepingBars() -> impl IntoView {
    view! { <LooksBar/><RefusedBar/><UnreadBars/> }
}

/// Says that another tab has the work open, and takes it over.
#[component]
fn LooksBar() -> impl IntoView {
    let session = expect_context::<Session>();
    let keeping = expect_context::<Keeping>();
    let bar = move |looks: Looks| {
        let yours = session.shared().is_some();
        let says = match looks {
            Looks::Taken => "Another tab has taken these lines over; here they are to look at.",
            Looks::Opened | Looks::Asking if yours => "Your own lines are open in another tab.",
            Looks::Opened | Looks::Asking => {
                "These lines are open in another tab; here they are to look at."
            }
        };
        let asking = looks == Looks::Asking;
        view! {
            <div class="bar" role="region" aria-label="Open in another tab">
                <p>{says}</p>
                <button data-kind="first" disabled=asking on:click=move |_| keeping.take_over()>"Take over"</button>
            </div>
        }
    };
    move || keeping.looks.get().map(bar)
}

/// Says that the work is not on this device, and why; always there, so that it is read aloud.
#[component]
fn RefusedBar() -> impl IntoView {
    let session = expect_context::<Session>();
    let keeping = expect_context::<Keeping>();
    let why = Memo::new(move |_| match keeping.stand.get() {
        Stand::Refused(refusal) => Some(refusal),
        Stand::Kept(_) | Stand::Untouched => None,
    });
    let save = move |_| {
        if hand_over(session, &session.own_folder()) {
            session.has_saved();
        }
    };
    let said = move |refusal: Refusal| {
        let says = match refusal {
            Refusal::Full => "its storage is full. Save a file now.".to_owned(),
            Refusal::Refused(words) => {
                let words = words.trim_end_matches('.');
                format!("the browser refuses its storage ({words}). Save a file now.")
            }
            Refusal::Moved => "another tab has saved these lines since, and what it saved is not overwritten. Save a \
                               file now, then load this page again."
                .to_owned(),
        };
        view! {
            <p><b>"Not saved on this device: "</b>{says}</p>
            <button data-kind="first" on:click=save>"Save a file"</button>
        }
    };
    view! {
        <div class="bar" role="alert" data-kind="fault" hidden=move || why.with(Option::is_none)>
            {move || why.get().map(said)}
        </div>
    }
}

/// Hands kept work over that can't be read, and deletes it where it is asked to.
#[component]
fn UnreadBars() -> impl IntoView {
    let keeping = expect_context::<Keeping>();
    let closed = RwSignal::new(false);
    let shown = move || {
        if closed.get() {
            Vec::new()
        } else {
            keeping.unread.get()
        }
    };
    move || {
        let bars = shown().into_iter();
        bars.map(|unread| view! { <UnreadBar unread=unread closed=closed/> })
            .collect_view()
    }
}

#[component]
fn UnreadBar(unread: Unread, closed: RwSignal<bool>) -> impl IntoView {
    let session = expect_context::<Session>();
    let keeping = expect_context::<Keeping>();
    let saved = RwSignal::new(false);
    let says = match &unread.says {
        Some(why) => format!("Work that was kept on this device can't be read, and is kept as it is. {why}"),
        None => "Work that was put aside on this device can be read again: save it as a file, then open that."
            .to_owned(),
    };
    let bytes = unread.bytes.clone();
    let save = move |_| match exchange::save("kept-lines.json", "application/json", &bytes) {
        Ok(()) => {
            saved.set(true);
            session.say(NoteKind::Done, "Saved as kept-lines.json.".to_owned());
        }
        Err(sentence) => session.say(NoteKind::Fault, sentence),
    };
    let forget = StoredValue::new(unread);
    let delete = move || {
        let forget = move |_| leptos::task::spawn_local(keeping.forget(forget.get_value()));
        view! { <button on:click=forget>"Delete it here"</button> }
    };
    view! {
        <div class="bar" role="region" aria-label="Kept work" data-kind="fault">
            <p>{says}</p>
            <button data-kind="first" on:click=save>"Save what was kept"</button>
            {move || saved.get().then(delete)}
            <button data-kind="lesser" on:click=move |_| closed.set(true)>"Close"</button>
        </div>
    }
}
