//! The frame of the app: header, notes to the person, the screen, and what is asked over it.

use leptos::prelude::*;

use crate::exchange;
use crate::exchange::focus::{self, FocusWatch};
use crate::jobs::{Done, Jobs};
use crate::state::coming::Coming;
use crate::state::derived::Derived;
use crate::state::findings::Findings;
use crate::state::issuing::Issuing;
use crate::state::keeping::{Beginning, Keeping, Opening};
use crate::state::proposal::Proposal;
use crate::state::{Look, NoteKind, Question, Screen, Session};
use crate::version::Version;
use first::{FirstPicture, Part};

mod dialogs;
mod drawing;
mod drawn;
mod evidence;
mod explained;
mod first;
mod header;
mod help;
mod incoming;
mod issue;
mod keeping;
mod law;
mod lines;
mod making;
mod new_line;
mod outgoing;
mod picking;
mod pieces;
mod proposed;
mod readings;
mod revisions;
mod settle;
mod shell;
mod widgets;
mod words;

/// The whole page.
#[component]
pub fn App(
    /// What was kept on this device.
    opening: Opening,
    /// What the page opens on.
    beginning: Beginning,
) -> impl IntoView {
    let session = Session::new(beginning);
    let keeping = Keeping::new(session, opening);
    provide_context(keeping);
    let derived = Derived::new(session);
    provide_context(session);
    provide_context(derived);
    let proposal = Proposal::new(session);
    provide_context(proposal);
    let done = Callback::new(move |done: Done| match done {
        Done::Proposed(proposed) => proposal.hear(proposed),
        Done::Made(made) => {
            making::hand_over(session, &made, &[]);
        }
        // Asked of other workers.
        Done::Found(_) | Done::Weighed(_) | Done::Tried(_) | Done::Laid(_) | Done::Drawn(_) => {}
    });
    let jobs = Jobs::new(done);
    provide_context(jobs);
    proposal.follow(derived, jobs);
    provide_context(Issuing::new(session, making::hand_over));
    let findings = Findings::new(session, derived);
    provide_context(findings);
    session.measure_window(exchange::room());
    let coming = Coming::new(session);
    provide_context(coming);
    look_at_link(session, coming);
    exchange::keep_for_the_worst(move || session.own());
    findings.prepare();
    let first = FirstPicture::begin(session, derived, || {
        // Counted from when the page was asked for.
        exchange::measured("ready", 0.0);
        pieces::fetch_ahead([
            lines::MARGIN,
            dialogs::DIALOGS,
            incoming::INCOMING,
            evidence::EVIDENCE,
            shell::SHELL,
            issue::ISSUE,
        ]);
    });
    provide_context(first);
    let version = Version::keep();
    provide_context(version);
    let heard = [
        window_event_listener_untyped("resize", move |_| session.measure_window(exchange::room())),
        window_event_listener_untyped("hashchange", move |_| look_at_link(session, coming)),
        window_event_listener_untyped("paste", move |event| {
            incoming::pasted(session, coming, &event);
        }),
        window_event_listener_untyped("beforeunload", move |event| {
            // The browser asks in its own words.
            if keeping.is_behind() {
                keeping.hurry();
                event.prevent_default();
            }
        }),
        // A page out of sight may be ended without a word.
        window_event_listener_untyped("visibilitychange", move |_| {
            keeping.hurry();
            version.look_for_newer();
        }),
        window_event_listener_untyped("pagehide", move |_| keeping.leave()),
        window_event_listener_untyped("pageshow", move |_| keeping.come_back()),
        window_event_listener_untyped("beforeprint", move |_| session.print(true)),
        window_event_listener_untyped("afterprint", move |_| session.print(false)),
        window_event_listener_untyped("focusin", |event| focus::came(&event)),
        window_event_listener_untyped("focusout", |_| focus::look_after()),
        window_event_listener_untyped("dragover", |event| event.prevent_default()),
        window_event_listener_untyped("drop", move |event| incoming::dropped(session, &event)),
    ];
    let keys = window_event_listener(leptos::ev::keydown, move |event| shortcut(session, &event));
    // Dropped with the page.
    StoredValue::new_local(exchange::before_clicks(".said", move || session.go_on()));
    StoredValue::new_local(FocusWatch::begin());
    on_cleanup(move || {
        keys.remove();
        heard.into_iter().for_each(WindowListenerHandle::remove);
    });
    Effect::new(move |_| {
        exchange::set_look(match session.look.get() {
            Look::System => None,
            Look::Light => Some("light"),
            Look::Dark => Some("dark"),
        });
    });
    // Asked for again, a screen stays as it is, and so does the focus on it.
    let screen = Memo::new(move |_| session.screen.get());
    let drawn = first.has(Part::Screen);
    let bare = Memo::new(move |_| {
        derived
            .standing
            .with(|lines| lines.body.stations.is_empty())
    });
    let title = Memo::new(move |_| derived.standing.with(|lines| lines.about.title.clone()));
    Effect::new(move |_| document().set_title(&format!("{} · Scrieve Board", title.get())));
    view! {
        <div class="frame">
            {move || (drawn.get() && screen.get() == Screen::Lines && !bare.get()).then(|| view! { <settle::WayThere skip=true/> })}
            <header::Header/>
            <header::SharedBar/>
            <incoming::ComingBar/>
            <keeping::KeepingBars/>
            <NoteBar/>
            {move || match screen.get() {
                _ if !drawn.get() => view! { <main class="bare"></main> }.into_any(),
                Screen::Evidence => evidence::evidence_screen(),
                Screen::Lines | Screen::Shell | Screen::Issue if bare.get() => nothing_yet(session).into_any(),
                Screen::Lines => view! { <lines::LinesScreen/> }.into_any(),
                Screen::Shell => shell::shell_screen(),
                Screen::Issue => issue::issue_screen(),
            }}
            <header::Foot/>
        </div>
        {move || session.question.get().map(dialogs::ask)}
    }
}

/// Where there is no station, nothing can be drawn.
fn nothing_yet(session: Session) -> impl IntoView {
    view! {
        <main class="bare stack">
            <h2>"No station yet"</h2>
            <p>"Lines, shell and sheets are drawn from offsets: type or paste some first."</p>
            <div class="row"><button data-kind="first" on:click=move |_| session.go_to(Screen::Evidence)>"To the evidence"</button></div>
        </main>
    }
}

/// Looks at the lines that came with the address, where some did.
fn look_at_link(session: Session, coming: Coming) {
    let fragment = exchange::fragment();
    if fragment.is_empty() {
        return;
    }
    incoming::look_at(session, coming, fragment);
}

/// Keys that hold everywhere.
fn shortcut(session: Session, event: &web_sys::KeyboardEvent) {
    if exchange::in_a_field(event) || session.question.with_untracked(Option::is_some) {
        return;
    }
    let command = event.ctrl_key() || event.meta_key();
    match event.key().as_str() {
        "z" | "Z" if command && event.shift_key() => session.redo(),
        "z" if command => session.undo(),
        "y" if command => session.redo(),
        "?" if !command => session.ask(Question::Help),
        _ => return,
    }
    event.prevent_default();
}

#[component]
fn NoteBar() -> impl IntoView {
    let session = expect_context::<Session>();
    let note = move || {
        session.note.get().map(|note| {
            let kind = if note.kind == NoteKind::Fault {
                "fault"
            } else {
                "done"
            };
            view! {
                <div class="bar" data-kind=kind>
                    <p>{note.text}</p>
                    {note.undo.then(|| view! { <button data-kind="lesser" on:click=move |_| session.undo()>"Undo it"</button> })}
                    <button data-kind="lesser" on:click=move |_| session.say_no_more()>"Close"</button>
                </div>
            }
        })
    };
    view! { <div class="said" role="status">{note}<making::MakingBar/></div> }
}
