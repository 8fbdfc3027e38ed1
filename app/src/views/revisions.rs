//! Revisions: freezing, the list of what is frozen, and two states held against each other.

use std::sync::Arc;

use geometry::compare::{Comparison, Move, compare, decisions};
use geometry::document::{
    BodyEdit, Folder, LOFT_METHOD, Lines, Offset, OpenKnown, Revision, StillOpen, Taken, TakenMove,
    reason_with_open,
};
use geometry::issue::lines_plan::STEMS;
use geometry::loft::Loft;
use geometry::units::{Digits, LengthUnit, Message, format_length, format_length_to};
use leptos::prelude::*;

use super::widgets::{Dialog, close_dialog};
use super::words::{small, station_at};
use crate::exchange;
use crate::state::derived::Derived;
use crate::state::findings::Findings;
use crate::state::revisions::Which;
use crate::state::{Question, Screen, Session};

/// A move smaller than this is none, mm.
const STILL: f64 = 0.05;

/// `B · 7KF2`, or the fingerprint alone.
pub fn state_name(label: &str, lines: &Lines) -> String {
    let print = lines.fingerprint().short();
    if label.is_empty() {
        print
    } else {
        format!("{label} · {print}")
    }
}

/// What the lines that are seen are called: `after B · 7KF2` where they have gone on since B was frozen.
pub fn standing_name(lines: &Lines, revisions: &[Revision]) -> String {
    let gone_on = lines.as_frozen(revisions) == Some(false);
    let after = if gone_on { "after " } else { "" };
    format!("{after}{}", state_name(&lines.about.revision, lines))
}

/// Points that stand past their tolerance, by name and by how far.
fn past_tolerance(lines: &Lines, offsets: &[Vec<Offset>]) -> Vec<String> {
    let past = |offset: &Offset| {
        let by = offset.past()?;
        Some(format!(
            "{} by {}",
            lines.body.point_name(offset.point),
            small(by)
        ))
    };
    offsets.iter().flatten().filter_map(past).collect()
}

/// The revisions, and freezing one more.
#[component]
pub fn Revisions() -> impl IntoView {
    let session = expect_context::<Session>();
    let frozen = move || {
        let revisions = session.revisions();
        let each = revisions.iter().rev().cloned();
        let views: Vec<_> = each.map(|revision| one(session, &revision)).collect();
        if views.is_empty() {
            view! { <p class="quiet">"Nothing is frozen yet. A frozen revision stays as it is while the lines go on; sheets, links and parts name it."</p> }.into_any()
        } else {
            view! { <ul class="frozen">{views}</ul> }.into_any()
        }
    };
    view! {
        <Dialog title="Revisions">
            <div class="stack">
                <Freeze/>
                <fieldset>
                    <legend>"Frozen"</legend>
                    {frozen}
                </fieldset>
                <NewerMethod/>
                <div class="row"><button on:click=|_| close_dialog()>"Close"</button></div>
            </div>
        </Dialog>
    }
}

/// One frozen revision.
fn one(session: Session, revision: &Revision) -> impl IntoView + use<> {
    let label = revision.label.clone();
    let name = state_name(&label, &revision.lines);
    let looked = revision.lines.clone();
    let look = move |_| {
        close_dialog();
        session.look_at(looked.clone());
    };
    let before = label.clone();
    let compare = move |_| {
        let question = Question::Compare(Which::Frozen(before.clone()), Which::Now);
        session.ask(question);
    };
    let again = label.clone();
    let take_up = move |_| {
        if session.take_up(&again) {
            close_dialog();
        }
    };
    view! {
        <li>
            <p><b>{name}</b>{format!(" · {}", revision.date)}</p>
            <p>{revision.reason.clone()}</p>
            <div class="row">
                <button data-kind="lesser" aria-label=format!("Look at it: {label}") on:click=look>"Look at it"</button>
                <button data-kind="lesser" aria-label=format!("Compare with now: {label}") on:click=compare>"Compare with now"</button>
                <button data-kind="lesser" aria-label=format!("Take it up again: {label}") on:click=take_up>"Take it up again"</button>
            </div>
        </li>
    }
}

/// Offers the newest method of the loft where the lines stand by an older one.
#[component]
fn NewerMethod() -> impl IntoView {
    let session = expect_context::<Session>();
    let older = move || {
        let method = session.standing().body.method;
        (method < LOFT_METHOD && !session.only_looks()).then_some(method)
    };
    let take = move |_| {
        if session.edit_and_say(BodyEdit::SetMethod(LOFT_METHOD)) {
            close_dialog();
        }
    };
    move || {
        older().map(|method| {
            view! {
                <fieldset>
                    <legend>"The way of lofting"</legend>
                    <p>{format!("These lines are lofted by method {method}, which leaves the curvature at an end station up to 13 % low where the line is still gaining curvature there. By method {LOFT_METHOD} the skin goes on at the ends as it runs one bay in: within 3.5 %. No reading changes and what is frozen stays; the skin moves, most in the first and the last bay.")}</p>
                    <div class="row"><button on:click=take>{format!("Loft by method {LOFT_METHOD}")}</button></div>
                </fieldset>
            }
        })
    }
}

/// What is to be settled still, in a sentence; none where nothing is, or where there is nothing yet that could be.
fn still_open(findings: Findings, lines: &Lines) -> Option<String> {
    if lines.body.points.is_empty() {
        return None;
    }
    let found = findings.found().filter(|(_, fresh)| *fresh);
    let known = match &found {
        None if findings.is_stopped() => OpenKnown::Stopped,
        None => OpenKnown::No,
        Some((found, _)) if !found.lofted => OpenKnown::WithoutLoft,
        Some((found, _)) if !found.complete => OpenKnown::WithoutHollows,
        Some(_) => OpenKnown::Whole,
    };
    let matters = found.iter().flat_map(|(found, _)| &found.matters);
    StillOpen {
        known,
        matters: matters.map(|matter| matter.title.clone()).collect(),
        torn: lines.body.torn().len(),
    }
    .words()
}

/// Asks for a label and a reason.
#[component]
fn Freeze() -> impl IntoView {
    let session = expect_context::<Session>();
    let derived = expect_context::<Derived>();
    let folder = move || Folder {
        lines: (*derived.standing.get()).clone(),
        revisions: (*session.revisions()).clone(),
    };
    let label = RwSignal::new(untrack(folder).next_label());
    let reason = RwSignal::new(String::new());
    let wrong = RwSignal::new(None::<String>);
    let findings = expect_context::<Findings>();
    let open = move || still_open(findings, &derived.standing.get());
    let freeze = move |event: web_sys::SubmitEvent| {
        event.prevent_default();
        let why = reason.get_untracked();
        // What was open then is told with the reason, for as long as there is the revision.
        let why = match untrack(open) {
            Some(open) => reason_with_open(&why, &open),
            None => why,
        };
        let done = session.freeze(&label.get_untracked(), &why);
        if done.is_ok() {
            reason.set(String::new());
            label.set(untrack(folder).next_label());
        }
        wrong.set(done.err());
    };
    let past = move || {
        let lines = derived.standing.get();
        past_tolerance(&lines, &derived.offsets_of(&lines.body))
    };
    let asked = move || {
        let past = past();
        let count = past.len();
        let more = past.len().saturating_sub(6);
        let mut named: Vec<String> = past.into_iter().take(6).collect();
        if more > 0 {
            named.push(format!("{more} more"));
        }
        (count > 0).then(|| {
            view! { <p>{format!("Past their tolerance: {}. The reason answers for them too.", named.join("; "))}</p> }
        })
    };
    let stands = move || standing_name(&derived.standing.get(), &session.revisions());
    view! {
        <form hidden=move || session.only_looks() on:submit=freeze>
            <fieldset>
                <legend>{move || format!("Freeze what stands now: {}", stands())}</legend>
                {asked}
                <p>{move || open().map(|open| format!("Still open: {open}"))}</p>
                <div class="row">
                    <label>"Revision "<input class="field" aria-label="Label of the revision" autocomplete="off" prop:value=label on:input=move |event| label.set(event_target_value(&event))/></label>
                    <label class="grow">"Why "<input class="wide" aria-label="Why it is frozen" autocomplete="off" maxlength="2000" prop:value=reason on:input=move |event| reason.set(event_target_value(&event))/></label>
                    <button type="submit" data-kind="first">"Freeze"</button>
                </div>
                <p class="fault says" role="alert">{move || wrong.get()}</p>
            </fieldset>
        </form>
    }
}

/// A state's key in a list, and back.
fn key_of(which: &Which) -> String {
    match which {
        Which::Now => "now".to_owned(),
        Which::Shared => "shared".to_owned(),
        Which::Frozen(label) => format!("frozen {label}"),
    }
}

fn which_of(key: &str) -> Which {
    match key.strip_prefix("frozen ") {
        Some(label) => Which::Frozen(label.to_owned()),
        None if key == "shared" => Which::Shared,
        None => Which::Now,
    }
}

fn called(which: &Which) -> String {
    match which {
        Which::Now => "what stands now".to_owned(),
        Which::Shared => "the shared lines".to_owned(),
        Which::Frozen(label) => format!("revision {label}"),
    }
}

/// What lies between two states.
struct Between {
    old: Arc<Lines>,
    moves: Comparison,
    /// What was decided otherwise, each in a row.
    decided: Vec<String>,
    /// Proposals that were taken.
    taken: Vec<Taken>,
}

/// What lies between two states, or why that is not known.
type Compared = Result<Between, String>;

fn compared(session: Session, before: &Which, after: &Which) -> Compared {
    let loft_of = |which: &Which| {
        let lines = session.lines_of(which);
        let lines = lines.ok_or_else(|| format!("{} is no longer there.", called(which)))?;
        let loft = Loft::build(&lines.body);
        let loft =
            loft.map_err(|e| format!("{}: {}", called(which), e.message(lines.about.unit)))?;
        Ok::<_, String>((lines, loft))
    };
    let (old, new) = (loft_of(before)?, loft_of(after)?);
    let found = compare(&old.1, &new.1);
    // What was taken since: the later state goes on from the list of the earlier.
    let same = { old.0.body.taken.iter() }
        .zip(&new.0.body.taken)
        .take_while(|(a, b)| a == b)
        .count();
    let taken = new.0.body.taken[same..].to_vec();
    Ok(Between {
        decided: decisions(&old.0.body, &new.0.body, new.0.about.unit),
        old: old.0,
        moves: found,
        taken,
    })
}

/// A move as a figure, mm: with its sign, `0` where it is none.
fn figure(by: f64) -> String {
    if by.abs() < STILL {
        return "0".to_owned();
    }
    let size = format_length_to(by.abs(), LengthUnit::Millimetres, Digits::Plain);
    let sign = if by < 0.0 { "−" } else { "+" };
    format!("{sign}{size}")
}

/// The largest move in a sentence.
fn largest_words(lines: &Lines, found: &Comparison) -> String {
    let place = |largest: &Move| {
        let [x, y, z] = largest.at.to_array();
        format!(
            "near STA {}, half-breadth {}, height {}",
            station_at(lines, x),
            format_length(y, lines.about.unit),
            format_length(z, lines.about.unit)
        )
    };
    match &found.largest {
        Some(largest) if largest.by.abs() >= STILL => {
            let way = if largest.by < 0.0 {
                "inward"
            } else {
                "outward"
            };
            format!(
                "Largest move {} {way}, {}. Mean over the skin {}.",
                small(largest.by.abs()),
                place(largest),
                small(found.mean)
            )
        }
        Some(_) => "Nowhere has the skin moved by a twentieth of a millimetre.".to_owned(),
        None => "The two skins lie nowhere before each other.".to_owned(),
    }
}

/// How far one state lies from another.
#[component]
pub fn Compare(before: Which, after: Which) -> impl IntoView {
    let session = expect_context::<Session>();
    let (before, after) = (RwSignal::new(before), RwSignal::new(after));
    let found = Memo::new_with_compare(
        move |_| Arc::new(compared(session, &before.get(), &after.get())),
        |_: Option<&Arc<Compared>>, _| true,
    );
    let states = move || {
        let revisions = session.revisions();
        let mut all = vec![Which::Now];
        all.extend(session.shared().map(|_| Which::Shared));
        all.extend(
            revisions
                .iter()
                .rev()
                .map(|r| Which::Frozen(r.label.clone())),
        );
        all
    };
    let choose = move |name: &'static str, which: RwSignal<Which>| {
        let set = move |event: leptos::ev::Event| which.set(which_of(&event_target_value(&event)));
        let option =
            |state: Which| view! { <option value=key_of(&state)>{called(&state)}</option> };
        view! {
            <label>{format!("{name} ")}<select aria-label=name prop:value=move || key_of(&which.get()) on:change=set>{states().into_iter().map(option).collect_view()}</select></label>
        }
    };
    let beside = move |_| {
        let which = before.get_untracked();
        if let Some(lines) = session.lines_of(&which) {
            close_dialog();
            session.draw_beside(called(&which), lines);
            session.go_to(Screen::Lines);
        }
    };
    let copied = RwSignal::new(None::<String>);
    let copy = move |_| {
        let Ok(found) = &*found.get_untracked() else {
            return;
        };
        let text = as_text(found);
        leptos::task::spawn_local(async move {
            let said = match exchange::copy(&text).await {
                Ok(()) => "Copied; paste it into a spreadsheet.".to_owned(),
                Err(why) => why,
            };
            copied.set(Some(said));
        });
    };
    let shown = move || match &*found.get() {
        Ok(found) => {
            let proposals = found.taken.iter().map(one_taken).collect_view();
            view! { {table(found)} {proposals} }.into_any()
        }
        Err(why) => view! { <p role="alert" class="fault">{why.clone()}</p> }.into_any(),
    };
    let none = move || found.with(|found| found.is_err());
    view! {
        <Dialog title="Compare">
            <div class="stack">
                <div class="row">{choose("From", before)}{choose("To", after)}</div>
                <div aria-live="polite">{shown}</div>
                <p role="status">{move || copied.get()}</p>
                <div class="row">
                    <button data-kind="first" on:click=|_| close_dialog()>"Close"</button>
                    <button disabled=none on:click=beside>"Draw the first beside, dashed"</button>
                    <button disabled=none on:click=copy>"Copy the moves"</button>
                </div>
            </div>
        </Dialog>
    }
}

/// The moves as a table, and below it what else is otherwise.
fn table(of: &Between) -> impl IntoView + use<> {
    let (lines, found) = (&*of.old, &of.moves);
    let heads = found.stations.clone().into_iter();
    let row = |line: &geometry::compare::LineMoves| {
        let cells: Vec<_> = line
            .moves
            .iter()
            .map(|at| {
                let text = at.map_or_else(|| "–".to_owned(), |at| figure(at.by));
                let still = text == "0" || text == "–";
                view! { <td class=if still { "quiet" } else { "" }>{text}</td> }
            })
            .collect();
        view! { <tr><th scope="row">{line.name.clone()}</th>{cells}</tr> }
    };
    let rows: Vec<_> = found.lines.iter().map(row).collect();
    let listed = |says: &str, names: &[String]| {
        (!names.is_empty()).then(|| format!("{says}: {}.", names.join("; ")))
    };
    let only = [
        listed("No longer there", &found.gone),
        listed("New", &found.new),
    ];
    view! {
        <p><b>{largest_words(lines, found)}</b></p>
        <p class="quiet">"Moves of the skin square to itself at each station, mm; + is outward."</p>
        <div class="scrolled" tabindex="0" role="region" aria-label="Moves by line and station">
            <table class="plain">
                <thead><tr><th scope="col">"STA"</th>{heads.map(|head| view! { <th scope="col">{head}</th> }).collect_view()}</tr></thead>
                <tbody>{rows}</tbody>
            </table>
        </div>
        {only.into_iter().flatten().chain(of.decided.iter().cloned()).map(|says| view! { <p class="quiet">{says}</p> }).collect_view()}
    }
}

/// A point's move, as it was taken.
fn taken_words(moved: &TakenMove) -> String {
    let by = [("y", moved.half_breadth), ("z", moved.height)];
    let each = { by.into_iter() }.filter_map(|(name, by)| Some(format!("{name} {}", figure(by?))));
    let past = if moved.past {
        ", past its tolerance"
    } else {
        ""
    };
    format!(
        "{} {} mm{past}",
        moved.point,
        each.collect::<Vec<_>>().join(", ")
    )
}

/// A proposal that was taken between the two states: its reason and its moves.
fn one_taken(taken: &Taken) -> impl IntoView + use<> {
    let count = taken.moves.len();
    let shows = |moved: &&TakenMove| {
        let by = [moved.half_breadth, moved.height].into_iter().flatten();
        by.map(f64::abs).fold(0.0, f64::max) >= STILL
    };
    let shown: Vec<_> = taken.moves.iter().filter(shows).collect();
    let rest = count - shown.len();
    let moves = { shown.into_iter() }.map(|moved| view! { <li>{taken_words(moved)}</li> });
    let why =
        (!taken.reason.is_empty()).then(|| view! { <p>{format!("Why: {}", taken.reason)}</p> });
    view! {
        <section class="taken">
            <p><b>{format!("Taken: {}", taken.title)}</b></p>
            {why}
            <details>
                <summary>{if count == 1 { "Its one move".to_owned() } else { format!("Its {count} moves") }}</summary>
                <ul>{moves.collect_view()}</ul>
                <p class="quiet" hidden=rest == 0>{format!("{rest} of less than 0.05 mm.")}</p>
            </details>
        </section>
    }
}

/// The moves for a spreadsheet.
fn as_text(of: &Between) -> String {
    let found = &of.moves;
    let head = format!("mm\t{}", found.stations.join("\t"));
    let row = |line: &geometry::compare::LineMoves| {
        let cells = line
            .moves
            .iter()
            .map(|at| at.map_or_else(String::new, |at| geometry::units::fixed(at.by, 2)));
        let cells: Vec<String> = cells.collect();
        format!("{}\t{}", line.name, cells.join("\t"))
    };
    let rows = found.lines.iter().map(row);
    let all: Vec<String> = std::iter::once(head)
        .chain(rows)
        .chain([largest_words(&of.old, found)])
        .chain(of.decided.iter().cloned())
        .chain(of.taken.iter().flat_map(|taken| {
            let head = format!("Taken: {}\t{}", taken.title, taken.reason);
            std::iter::once(head).chain(taken.moves.iter().map(taken_words))
        }))
        .collect();
    all.join("\n")
}

/// Says which other state is drawn beside, and puts it away.
#[component]
pub fn DrawnBeside() -> impl IntoView {
    let session = expect_context::<Session>();
    view! {
        <div class="bar drawn-beside" role="region" aria-label="Drawn beside" hidden=move || session.beside.with(Option::is_none)>
            <svg class="dashes" width="28" height="8" aria-hidden="true"><path d="M0 4H28"/></svg>
            <p class="quiet">{move || session.beside.with(|beside| beside.as_ref().map(|beside| format!("Dashed: {}. Only what lies elsewhere is drawn; stems show moves × {STEMS:.0}.", beside.name)))}</p>
            <button on:click=move |_| session.draw_nothing_beside()>"Draw it no longer"</button>
        </div>
    }
}
