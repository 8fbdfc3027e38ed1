//! Jobs as the person meets them: what runs, how to stop it, what failed, and the files it hands over.

use geometry::issue::Output;
use leptos::prelude::*;

use crate::exchange;
use crate::jobs::messages::Work;
use crate::jobs::{Age, Jobs, Made, Stand, file_name_of, kind_of, name_of};
use crate::state::derived::Derived;
use crate::state::issuing::Issuing;
use crate::state::{NoteKind, Screen, Session};

/// Saves a file that was made, and tells whether it did; one of lines that have changed since is dropped.
///
/// `of` names the sheets that are on it.
pub fn hand_over(session: Session, made: &Made, of: &[String]) -> bool {
    let lines = session.standing_now();
    if lines.fingerprint().full() != made.fingerprint {
        session.say(
            NoteKind::Fault,
            format!(
                "The lines changed while {} was made, so it was dropped: ask again.",
                name_of(made.output)
            ),
        );
        return false;
    }
    let name = file_name_of(made.output, &lines.about.title, of);
    let saved = exchange::save(&name, kind_of(made.output), &made.bytes);
    let handed = saved.is_ok();
    match saved {
        Ok(()) => session.say(
            NoteKind::Done,
            format!("Saved {name}, {} kB.", made.bytes.len().div_ceil(1000)),
        ),
        Err(sentence) => session.say(NoteKind::Fault, sentence),
    }
    handed
}

/// Says what the workers are at that make files, and what failed. Sheets are spoken of on their own screen, where one is on
/// it.
#[component]
pub fn MakingBar() -> impl IntoView {
    let session = expect_context::<Session>();
    let (jobs, issuing) = (expect_context::<Jobs>(), expect_context::<Issuing>());
    let elsewhere = move || session.screen.get() != Screen::Issue;
    view! {
        {bar_of(jobs)}
        {move || elsewhere().then(|| bar_of(issuing.jobs))}
    }
}

fn bar_of(jobs: Jobs) -> impl IntoView {
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
