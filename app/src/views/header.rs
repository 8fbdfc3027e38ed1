//! The header: what is open, which screen, and what goes in, out and back.

use geometry::document::AboutEdit;
use leptos::prelude::*;

use super::keeping::{kept_words, save};
use super::revisions::{standing_name, state_name};
use super::widgets::{Dialog, close_dialog};
use super::words::unit_named;
use crate::exchange;
use crate::state::derived::Derived;
use crate::state::keeping::Keeping;
use crate::state::revisions::Which;
use crate::state::{Look, Question, Screen, Session};

/// The screens whose work is there.
const SCREENS: [(Screen, &str); 4] = [
    (Screen::Evidence, "Evidence"),
    (Screen::Lines, "Lines"),
    (Screen::Shell, "Shell"),
    (Screen::Issue, "Issue"),
];

/// The unit lengths are shown in.
#[component]
fn Unit() -> impl IntoView {
    let session = expect_context::<Session>();
    view! {
        <select
            aria-label="Unit"
            disabled=move || session.only_looks()
            prop:value=move || session.unit().short()
            on:change=move |event| session.edit(AboutEdit::Unit(unit_named(&event_target_value(&event))))
        >
            {["mm", "in", "ft-in-8"].map(|name| view! {
                <option value=name selected=session.standing_now().about.unit.short() == name>{name}</option>
            }).collect_view()}
        </select>
    }
}

/// Light, dark, or as the system.
#[component]
fn Looks() -> impl IntoView {
    let session = expect_context::<Session>();
    let name = |look: Look| match look {
        Look::System => "system",
        Look::Light => "light",
        Look::Dark => "dark",
    };
    let chosen = move |event: leptos::ev::Event| {
        let value = event_target_value(&event);
        let all = [Look::System, Look::Light, Look::Dark];
        if let Some(look) = all.into_iter().find(|look| name(*look) == value) {
            session.choose_look(look);
        }
    };
    view! {
        <select aria-label="Look" prop:value=move || name(session.look.get()) on:change=chosen>
            <option value="system">"look: system"</option>
            <option value="light">"look: light"</option>
            <option value="dark">"look: dark"</option>
        </select>
    }
}

/// Files, links and tables, in and out.
#[component]
fn Exchange() -> impl IntoView {
    let session = expect_context::<Session>();
    let ask = move |question: Question| session.ask(question);
    let saved = move |_| {
        close_dialog();
        save(session);
    };
    view! {
        <button on:click=move |_| ask(Question::Open)>"Open"</button>
        <button on:click=saved>"Save"</button>
        <button on:click=move |_| ask(Question::Share)>"Share"</button>
        <button on:click=move |_| ask(Question::Offsets)>"Offsets table"</button>
        <button class="only-narrow" on:click=move |_| ask(Question::Revisions)>"Revisions"</button>
    }
}

/// The row of screens; the one that is shown is told.
fn screens(session: Session) -> impl IntoView {
    let one = move |(screen, name): (Screen, &'static str)| {
        let here = move || session.screen.get() == screen;
        view! {
            <button class="stage" aria-current=move || here().then_some("page") on:click=move |_| { session.go_to(screen); window().scroll_to_with_x_and_y(0.0, 0.0); }>{name}</button>
        }
    };
    SCREENS.map(one).collect_view()
}

/// The header.
#[component]
pub fn Header() -> impl IntoView {
    let session = expect_context::<Session>();
    let derived = expect_context::<Derived>();
    let keeping = expect_context::<Keeping>();
    let title = move || derived.standing.with(|lines| lines.about.title.clone());
    let revision = Memo::new(move |_| {
        let revisions = session.revisions();
        derived
            .standing
            .with(|lines| standing_name(lines, &revisions))
    });
    let undo = move || session.undo_name().map(|name| format!("Undo: {name}"));
    let redo = move || session.redo_name().map(|name| format!("Redo: {name}"));
    let untouched = move || !session.has_steps() && session.edits_in_no_file() == 0;
    // Until something is kept there is room for what this is.
    let kept = move || match kept_words(session, keeping) {
        none if none.is_empty() && session.is_example() && untouched() => {
            "An example: from offsets table to fair lines".to_owned()
        }
        words => words,
    };
    view! {
        <header class="head">
            <div class="what">
                <h1>{title}</h1>
                <button class="revision" aria-label=move || format!("Revisions; these lines are {}", revision.get()) title="Revision and fingerprint of these lines" on:click=move |_| session.ask(Question::Revisions)>{revision}</button>
                <p class="kept" title=kept>{kept}</p>
            </div>
            <nav class="only-wide" aria-label="Screens">{screens(session)}</nav>
            <div class="acts">
                <button disabled=move || undo().is_none() title=undo on:click=move |_| session.undo()>"Undo"</button>
                <button disabled=move || redo().is_none() title=redo on:click=move |_| session.redo()>"Redo"</button>
                <span class="only-wide acts">
                    <Exchange/>
                    <Unit/>
                    <Looks/>
                </span>
                <button on:click=move |_| session.ask(Question::Help)>"Help"</button>
            </div>
            {move || session.is_example().then(|| view! {
                <p class="example">{move || untouched().then(|| view! { <span>"Begin with “To settle”, or"</span> })}<button data-kind="lesser" on:click=move |_| session.ask(Question::Start)>"Start your own ▸"</button></p>
            })}
        </header>
    }
}

/// The bar at the foot of a small screen.
#[component]
pub fn Foot() -> impl IntoView {
    let session = expect_context::<Session>();
    view! {
        <nav class="foot only-narrow" aria-label="Screens and more">
            {screens(session)}
            <button class="stage" on:click=move |_| session.ask(Question::More)>"More"</button>
        </nav>
    }
}

/// What a small screen's header has no room for.
#[component]
pub fn More() -> impl IntoView {
    view! {
        <Dialog title="More">
            <div class="stack">
                <div class="row"><Exchange/></div>
                <div class="row"><label>"Unit "<Unit/></label><label>"Look "<Looks/></label></div>
                <button on:click=|_| close_dialog()>"Close"</button>
            </div>
        </Dialog>
    }
}

/// Says that shared lines are looked at, and leads back to one's own.
#[component]
pub fn SharedBar() -> impl IntoView {
    let session = expect_context::<Session>();
    let take = move |_| {
        if session.take_in(session.folder(), "Took a copy of shared lines") {
            exchange::clear_fragment();
        }
    };
    let close = move |_| {
        exchange::clear_fragment();
        session.look_no_more();
    };
    let compare = move |_| {
        let first = session.looked_at();
        let first = first.map_or(Which::Shared, |revision| Which::Frozen(revision.label));
        let question = Question::Compare(first, Which::Now);
        session.ask(question);
    };
    move || {
        session.shared().map(|lines| {
            let own = session.looked_at();
            let name = own.as_ref().map_or_else(
                || standing_name(&lines, &session.revisions()),
                |_| state_name(&lines.about.revision, &lines),
            );
            let says = own.as_ref().map_or_else(
                || format!("Shared lines, {name}, not yours."),
                |own| format!("Revision {name}, frozen {}: {}", own.date, own.reason),
            );
            let region = if own.is_some() { "Frozen revision" } else { "Shared lines" };
            let acts = match own {
                Some(own) => view! { <button data-kind="first" on:click=move |_| { session.take_up(&own.label); }>"Take it up again"</button> }.into_any(),
                None => view! { <button data-kind="first" on:click=take>"Take a copy"</button> }.into_any(),
            };
            view! {
                <div class="bar" role="region" aria-label=region>
                    <p><b>{says}</b>" Your own work is as you left it."</p>
                    {acts}
                    <button on:click=compare>"Compare with mine"</button>
                    <button on:click=close>"Close"</button>
                </div>
            }
        })
    }
}
