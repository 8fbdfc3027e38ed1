//! Jobs as the person meets them: what runs, how to stop it, what failed, and the files it hands over.

use geometry::issue::Output;
use leptos::prelude::*;

use crate::exchange;
use crate::jobs::messages::Work;
use crate::jobs::{Age, Jobs, Made, Stand, file_name_of, kind_of, name_of};
use crate::state::derived::Derived;
use crate::state::{NoteKind, Session};

/// Saves a file that was made; one of lines that have changed since is dropped.
pub fn hand_over(session: Session, made: &Made) {
    let lines = session.standing_now();
    if lines.fingerprint().full() != made.fingerprint {
        session.say(
            NoteKind::Fault,
            format!(
                "The lines changed while {} was made, so it was dropped: ask again.",
                name_of(made.output)
            ),
        );
        return;
    }
    let name = file_name_of(made.output, &lines.about.title);
    match exchange::save(&name, kind_of(made.output), &made.bytes) {
        Ok(()) => session.say(
            NoteKind::Done,
            format!("Saved {name}, {} kB.", made.bytes.len().div_ceil(1000)),
        ),
        Err(sentence) => session.say(NoteKind::Fault, sentence),
    }
}

/// Says what the worker is at, and what failed.
#[component]
pub fn MakingBar() -> impl IntoView {
    let jobs = expect_context::<Jobs>();
    let running = move |work: Work, part: String, age: Age| {
        let stop = move || {
            view! { <button on:click=move |_| jobs.stop()>"Stop"</button> }
        };
        view! {
            <div class="bar">
                <p>{format!("Making {}, now: {part}.", work.name())}</p>
                {(age == Age::Stoppable).then(stop)}
            </div>
        }
    };
    let failed = move |sentence: String| {
        view! {
            <div class="bar" role="alert" data-kind="fault">
                <p>{sentence}</p>
                <button data-kind="lesser" on:click=move |_| jobs.dismiss()>"Close"</button>
            </div>
        }
    };
    move || match jobs.stand.get() {
        Stand::Running { work, part, age } if age >= Age::Shown => {
            running(work, part, age).into_any()
        }
        Stand::Failed(sentence) => failed(sentence).into_any(),
        Stand::Running { .. } | Stand::Idle => ().into_any(),
    }
}

/// Orders a file of the lines that are seen.
pub fn order(session: Session, jobs: Jobs, output: Output) {
    session.say_no_more();
    jobs.order_file(output, &session.standing_now(), session.frozen_now());
}

/// A button that orders a file of the lines that are seen; it waits while one is made.
#[component]
pub fn OrderButton(output: Output, name: &'static str) -> impl IntoView {
    let (session, jobs) = (expect_context::<Session>(), expect_context::<Jobs>());
    let derived = expect_context::<Derived>();
    let off = move || {
        let running = matches!(jobs.stand.get(), Stand::Running { .. });
        running
            .then(|| "A file is being made.".to_owned())
            .or_else(|| derived.no_loft())
    };
    let ordered = move |_| {
        if untrack(off).is_none() {
            order(session, jobs, output);
        }
    };
    // Off by word only, so that the focus stays on what was pressed.
    view! { <button aria-disabled=move || off().map(|_| "true") aria-description=off title=off on:click=ordered>{name}</button> }
}
