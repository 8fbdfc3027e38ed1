//! Lines that are proposed, in the margin: every move, what needs a tick and a reason, and the ways out; and what setting
//! readings aside came to.

use geometry::compare::Move;
use geometry::document::{PointId, StationId};
use geometry::settle::{MoveFound, Wish};
use leptos::prelude::*;

use super::words::small;
use crate::exchange;
use crate::jobs::{Jobs, Stand};
use crate::state::derived::Derived;
use crate::state::proposal::Proposal;
use crate::state::{Question, Session, comb_key};

/// Moves that are listed at once; the rest opens.
const LISTED: usize = 8;

/// Asks for a proposal: a batten along the picked line, or the whole surface.
#[component]
pub fn Ask(
    /// The whole surface; else the picked line.
    whole: bool,
) -> impl IntoView {
    let (session, jobs) = (expect_context::<Session>(), expect_context::<Jobs>());
    let proposal = expect_context::<Proposal>();
    let busy = move || {
        let running = matches!(jobs.stand.get(), Stand::Running { .. });
        running || session.only_looks()
    };
    let order = move |_| {
        let line = Wish::line(comb_key(session.pick.get_untracked().on));
        let wish = if whole { Wish::Whole } else { line };
        proposal.ask(jobs, wish);
    };
    let name = if whole {
        "Fair the whole surface"
    } else {
        "Try a batten"
    };
    let derived = expect_context::<Derived>();
    let no_loft = move || derived.no_loft();
    let off = move || busy() || no_loft().is_some();
    view! { <button disabled=off aria-description=no_loft title=no_loft on:click=order>{name}</button> }
}

/// Brings what is there to be looked at into sight, with the focus on it, once it is drawn.
fn come_up() {
    request_animation_frame(|| {
        if let Some(head) = exchange::focus(".proposed:not([hidden]) h2") {
            head.scroll_into_view();
        }
    });
}

/// Leaves what is proposed, or what is drawn beside; the focus goes on to the list.
pub fn leave(session: Session, proposal: Proposal) {
    if proposal.leave() || session.beside.with_untracked(Option::is_some) {
        session.draw_nothing_beside();
        exchange::focus(".settle h2");
    }
}

/// What setting readings aside came to: how far the skin moved where they lie, the furthest first.
#[component]
pub fn SetAsideNow() -> impl IntoView {
    let session = expect_context::<Session>();
    let derived = expect_context::<Derived>();
    let any = move || {
        let set_aside = session.beside.with(|beside| {
            let beside = beside.as_ref();
            beside.is_some_and(|beside| beside.before.is_some())
        });
        set_aside && derived.moved.with(|moved| !moved.is_empty())
    };
    Effect::new(move |_| {
        if any() {
            come_up();
        }
    });
    let rows = move || {
        let lines = derived.standing.get();
        let moved = if any() {
            derived.moved.get()
        } else {
            Vec::new()
        };
        let row = |(point, by): (PointId, Move)| {
            let way = if by.by < 0.0 { "inward" } else { "outward" };
            let says = format!("{} {way}", small(by.by.abs()));
            view! {
                <li>
                    <span/>
                    <button class="leads" on:click=move |_| session.pick_point(point)>{lines.body.point_name(point)}</button>
                    <span>{says}</span>
                </li>
            }
        };
        moved.into_iter().map(row).collect_view()
    };
    view! {
        <section class="proposed" aria-label="What was set aside" hidden=move || !any()>
            <h2 tabindex="-1">"What was set aside"</h2>
            <p class="quiet">"The skin there is now drawn from their neighbours. Dashed is how it was; here is how far it moved at each of them, square to the skin."</p>
            <ul class="moves">{rows}</ul>
        </section>
    }
}

/// What is proposed.
#[component]
pub fn ProposedLines() -> impl IntoView {
    let proposal = expect_context::<Proposal>();
    let session = expect_context::<Session>();
    let past = Memo::new(move |_| {
        proposal.now().map_or(0, |proposed| {
            proposed.moves.iter().filter(|found| found.past).count()
        })
    });
    Effect::new(move |_| {
        if proposal.now().is_some() {
            come_up();
        }
    });
    let reasoned = move || {
        proposal.ticked.with(|ticked| ticked.is_empty())
            || proposal.reason.with(|reason| !reason.trim().is_empty())
    };
    // It is the first thing to do only where the lines come out better by it.
    let comes = Memo::new(move |_| proposal.comes());
    // What is proposed goes; the focus goes on to the list.
    let take = move || {
        if proposal.take() {
            exchange::focus(".settle h2");
        }
    };
    let enter = move |event: leptos::ev::KeyboardEvent| {
        if event.key() == "Enter" && untrack(|| reasoned() && proposal.any_goes()) {
            take();
        }
    };
    move || {
        proposal.now().map(|proposed| {
            let mut moves: Vec<_> = proposed.moves.iter().cloned().map(|found| one(session, proposal, found)).collect();
            let more = moves.split_off(moves.len().min(LISTED));
            let rest = more.len();
            let says = proposed.says.iter().map(|says| view! { <p class="quiet">{says.clone()}</p> });
            view! {
                <section class="proposed" aria-label="Proposed lines">
                    <h2 tabindex="-1">{proposed.title.clone()}</h2>
                    {says.collect_view()}
                    {laid(proposal)}
                    <label class="stack" hidden=move || past.get() == 0>"Why those past their tolerance are overruled "
                        <input class="wide" autocomplete="off" maxlength="1000" prop:value=proposal.reason on:input=move |event| proposal.reason.set(event_target_value(&event)) on:keydown=enter/>
                    </label>
                    <p role="status">{move || comes.get().1}</p>
                    <div class="row">
                        <button data-kind=move || comes.get().0.then_some("first") disabled=move || !reasoned() || !proposal.any_goes() on:click=move |_| take()>"Take it"</button>
                        <button on:click=move |_| leave(session, proposal)>"Leave it"</button>
                        <span class="quiet" hidden=reasoned>"Say why first."</span>
                    </div>
                    <ul class="moves">{moves}</ul>
                    <details hidden=rest == 0><summary>{format!("{rest} more")}</summary><ul class="moves">{more}</ul></details>
                </section>
            }
        })
    }
}

/// Over which stations a batten may move its line, and which of its ends are held; a change lays it anew.
fn laid(proposal: Proposal) -> impl IntoView {
    let (session, jobs) = (expect_context::<Session>(), expect_context::<Jobs>());
    let Some(Wish::Line { on, between, held }) = untrack(|| proposal.wish()) else {
        return ().into_any();
    };
    let lines = session.standing_now();
    // A change goes on from what was asked last, even where that came to nothing.
    let last = move || match proposal.asked_last() {
        Some(Wish::Line { between, held, .. }) => (between, held),
        _ => (between, held),
    };
    let ask = move |between, held| proposal.ask_again(jobs, Wish::Line { on, between, held });
    let busy = move || matches!(jobs.stand.get(), Stand::Running { .. });
    let end = move |at: usize, name: &'static str, none: &'static str| {
        let change = move |event: leptos::ev::Event| {
            let (mut between, held) = last();
            between[at] = event_target_value(&event).parse().ok().map(StationId);
            ask(between, held);
        };
        let options = { lines.body.stations.iter() }.map(|station| {
            let chosen = between[at] == Some(station.id);
            view! { <option value=station.id.0.to_string() selected=chosen>{format!("STA {}", station.label)}</option> }
        });
        view! {
            <label>{format!("{name} ")}<select aria-label=format!("The line may move {name}") disabled=busy on:change=change>
                <option value="">{none}</option>
                {options.collect_view()}
            </select></label>
        }
    };
    let hold = move |at: usize, name: &'static str| {
        let turn = move |event: leptos::ev::Event| {
            let (between, mut held) = last();
            held[at] = event_target_checked(&event);
            ask(between, held);
        };
        view! { <label class="check"><input type="checkbox" prop:checked=held[at] disabled=busy on:change=turn/>{format!(" hold its {name} end")}</label> }
    };
    view! {
        <div class="row">{end(0, "from", "its fore end")}{end(1, "to", "its aft end")}</div>
        <div class="row">{hold(0, "fore")}{hold(1, "aft")}</div>
    }
    .into_any()
}

/// One move, with its tick: within its tolerance it is taken unless it is left out; past it, only if it is ticked.
fn one(session: Session, proposal: Proposal, found: MoveFound) -> impl IntoView + use<> {
    let point = found.point;
    let past = found.past;
    let goes = move || {
        if past {
            proposal.ticked.with(|all| all.contains(&point))
        } else {
            !proposal.left_out.with(|all| all.contains(&point))
        }
    };
    let of = found.clone();
    let turn = move |_| proposal.turn(&of);
    let name = found.name.clone();
    let allow = found.tolerance.map(|(reading, tolerance)| {
        let question = Question::Tolerance(point, reading, Some(tolerance));
        view! { <button data-kind="lesser" aria-label=format!("Change tolerance of {name}") on:click=move |_| session.ask(question.clone())>"Change tolerance"</button> }
    });
    view! {
        <li>
            <label class="check"><input type="checkbox" aria-label=format!("Take {name}") prop:checked=goes on:change=turn/></label>
            <button class="leads" on:click=move |_| session.pick_point(point)>{found.name}</button>
            <span>{found.says}</span>
            {allow}
        </li>
    }
}
