//! What is to be settled: the list in the margin, and the verdict on the picked line.

use geometry::document::{BodyEdit, PointId, Turns};
use geometry::fair::verdict::Fairness;
use geometry::issue::lines_plan::in_plan;
use geometry::settle::{Does, LineFound, Matter, SectionFound, Subject, WayOut, allowed_words};
use leptos::prelude::*;

use super::proposed::Ask;
use super::widgets::{ListPart, list, part};
use crate::exchange;
use crate::jobs::{Age, Jobs, Stand};
use crate::state::derived::Derived;
use crate::state::findings::Findings;
use crate::state::proposal::Proposal;
use crate::state::{Question, Screen, Session, Shown, comb_key};

/// The list: what is wrong, where, by how much, and what would mend it.
#[component]
pub fn ToSettle() -> impl IntoView {
    let session = expect_context::<Session>();
    let (findings, derived) = (expect_context::<Findings>(), expect_context::<Derived>());
    let rows = Memo::new(move |_| findings.found().map(|(found, _)| found.matters.clone()));
    let lofts = move || derived.loft.with(Result::is_ok);
    let count = move || how_many(findings, lofts());
    let lines = Memo::new(move |_| findings.lines());
    let listed = move || {
        let of = findings.judged().map_or(0, |[_, of]| of);
        if lines.with(Vec::len) < of {
            "Lines as far as they are judged, the worst first"
        } else {
            "All lines, the worst first"
        }
    };
    let sections = Memo::new(move |_| {
        findings
            .found()
            .map_or_else(Vec::new, |(found, _)| found.sections.clone())
    });
    let unjudged = move || {
        findings.found().is_some_and(|(found, _)| {
            let mut lines = found.lines.iter();
            lines.all(|line| matches!(line.fairness, Fairness::NotJudged(_)))
        })
    };
    let lofted = move || lofts() && findings.found().is_none_or(|(found, _)| found.lofted);
    let says_nothing = move || match (lofted(), unjudged()) {
        (false, _) => {
            "No line is judged while there is no loft: what stands in its way is said over the drawing."
        }
        (true, true) => "No line could be judged: too few readings.",
        (true, false) => "Nothing: no line is unfair and no source contradicts another.",
    };
    let searched = move || findings.found().is_none_or(|(found, _)| found.searched);
    let fairing = move || {
        findings
            .found()
            .and_then(|(found, _)| found.fairing.clone())
    };
    let nothing = move || rows.with(|rows| rows.as_ref().is_some_and(Vec::is_empty));
    // The whole surface would be drawn towards a misprint, or be held by it.
    let first = move || {
        let rows = rows.get()?;
        let row = rows.into_iter().find(|row| row.misprint && lofted())?;
        Some(format!(
            "Settle the misprint first ({}): the surface would be drawn towards it, or have to fight it.",
            row.title
        ))
    };
    let listed_rows = move || matter_parts(session, rows.get().unwrap_or_default(), Screen::Lines);
    let verdicts = move || {
        let lines = lines.get().into_iter();
        lines
            .map(|line| part(brief_key(&line), move || brief(session, line.clone())))
            .collect()
    };
    // The button goes; the focus stays with the list.
    let stop = move || {
        findings.stop();
        exchange::focus(".settle h2");
    };
    let again = move || {
        findings.again();
        exchange::focus(".settle h2");
    };
    let long = move || {
        let is_long = |stand| matches!(stand, Stand::Running { age, .. } if age == Age::Stoppable);
        is_long(findings.stand()) || is_long(findings.stand_further())
    };
    view! {
        <section class="settle" aria-label="To settle">
            <h2 tabindex="-1">"To settle "<span class="count">{count}</span></h2>
            <p class="quiet" role="status">{move || what_is_done(findings)}</p>
            <button data-kind="lesser" hidden=move || !long() on:click=move |_| stop()>"Stop judging"</button>
            <button data-kind="lesser" hidden=move || !findings.is_stopped() on:click=move |_| again()>"Judge them all"</button>
            <ol>{list(listed_rows)}</ol>
            <p class="quiet" hidden=move || !nothing()>{says_nothing}</p>
            <p class="quiet" hidden=searched>"The readings of a body given by law are not searched for misprints."</p>
            <Torn/>
            <div class="row" hidden=move || derived.loft.with(Result::is_err)><Ask whole=true/></div>
            <p class="quiet">{fairing}</p>
            <p class="quiet">{first}</p>
            <details hidden=move || lines.with(Vec::is_empty)>
                <summary>{listed}</summary>
                <ul class="verdicts">{list(verdicts)}</ul>
            </details>
            <details hidden=move || sections.with(Vec::is_empty)>
                <summary>"All sections, the worst first"</summary>
                <p class="quiet">"A section is fair where it is nowhere hollow between its knuckles; what it needs is measured square to it."</p>
                <ul class="verdicts">{move || sections.get().into_iter().map(|section| brief_section(session, section)).collect_view()}</ul>
            </details>
        </section>
    }
}

/// How much there is to settle. Nothing where no line is judged for want of a loft: a nought would say that all is well.
fn how_many(findings: Findings, lofts: bool) -> String {
    findings.found().map_or_else(String::new, |(found, fresh)| {
        let was = if fresh { "" } else { "was " };
        match found.matters.len() {
            0 if !lofts || !found.lofted => String::new(),
            many => format!("{was}{many}"),
        }
    })
}

/// Leads to the list: on a small screen it lies under the card, and the keys pass the whole drawing before they come to it.
#[component]
pub fn WayThere(
    /// For the keys alone; else on a small screen.
    skip: bool,
) -> impl IntoView {
    let (findings, derived) = (expect_context::<Findings>(), expect_context::<Derived>());
    let says = move || {
        let lofts = derived.loft.with(Result::is_ok);
        match how_many(findings, lofts) {
            none if none.is_empty() && !lofts => "To settle: there is no loft".to_owned(),
            count => format!("To settle: {count}"),
        }
    };
    let go = move |_| {
        if let Some(list) = exchange::focus(".settle h2") {
            list.scroll_into_view();
        }
    };
    let class = if skip { "skip" } else { "only-narrow" };
    view! { <button class=class on:click=go>{says}</button> }
}

/// What is judged just now, and what it came to.
fn what_is_done(findings: Findings) -> String {
    let found = findings.found();
    let done = || {
        findings.judged().map_or_else(String::new, |[judged, of]| {
            format!(" {judged} of {of} lines are judged.")
        })
    };
    let list = match &found {
        None => " What is to be settled is listed once all is judged.",
        Some((_, false)) => " The list is as it was before the last edit.",
        Some((_, true)) => "",
    };
    match findings.stand() {
        Stand::Idle if findings.is_stopped() => format!("Judging was stopped.{}{list}", done()),
        Stand::Failed(why) => format!("Not all is judged. {why}"),
        Stand::Running { part, age, .. } if age >= Age::Shown => {
            format!("Judging, now: {part}.{}{list}", done())
        }
        Stand::Running { .. } | Stand::Idle => match (found, findings.stand_further()) {
            (Some((found, true)), Stand::Failed(why)) if !found.complete => {
                format!("Hollows were not looked for. {why}")
            }
            (Some((found, true)), _) if !found.complete => "Looking for hollows.".to_owned(),
            (Some(_), _) => list.trim_start().to_owned(),
            (None, _) => String::new(),
        },
    }
}

/// A row that says the same is the same, and keeps the focus.
fn key(matter: &Matter) -> String {
    format!(
        "{} {} {:?} {:?}",
        matter.title, matter.says, matter.subject, matter.ways
    )
}

/// Rows of what is to be settled, with their answers, on the screen where they stand.
pub fn matter_parts(session: Session, rows: Vec<Matter>, at: Screen) -> Vec<ListPart> {
    let rows = rows.into_iter();
    rows.map(|row| part(key(&row), move || one(session, row.clone(), at)))
        .collect()
}

fn one(session: Session, matter: Matter, at: Screen) -> impl IntoView {
    let show = move |_| {
        session.pick_subject(matter.subject);
        bring_up(session);
    };
    let lines = session.standing_now();
    let kept = matter.ways.iter().find_map(|way| match &way.does {
        Does::Keep(_, turns) if !turns.is_empty() => Some(allowed_words(&lines, turns)),
        _ => None,
    });
    let kept = kept.map(|turns| format!("Kept as true, the lines may turn as they do: {turns}."));
    let aside = matter.ways.iter().find_map(|way| match &way.does {
        Does::SetAside(readings) if readings.len() > 1 => Some(readings.len()),
        _ => None,
    });
    let aside = aside.map(|count| match count {
        2 => "Setting these aside takes both readings there.".to_owned(),
        many => format!("Setting these aside takes all {many} readings there."),
    });
    let means: Vec<String> = kept.into_iter().chain(aside).collect();
    let comes = { matter.ways.iter() }
        .filter(|way| !way.comes.is_empty())
        .map(|way| view! { <p>{format!("{}.", way.says())}</p> });
    let comes = comes.collect_view();
    let ways = matter
        .ways
        .iter()
        .map(|way| button(session, way, matter.subject, at));
    view! {
        <li>
            <button class="leads" on:click=show><b>{matter.title}</b></button>
            <p>{matter.says}</p>
            {comes}
            <div class="row">{ways.collect_view()}</div>
            <p class="quiet" hidden=means.is_empty()>{means.join(" ")}</p>
        </li>
    }
}

/// The view of the picked line's true form, where one stands alone.
fn show_true(session: Session) {
    session.go_to(Screen::Lines);
    let on = session.pick.get_untracked().on;
    let plan = in_plan(&session.standing_now(), on);
    session.show_view(if plan {
        Shown::HalfBreadth
    } else {
        Shown::Profile
    });
}

/// The same; a small screen brings the drawing into sight.
fn bring_up(session: Session) {
    show_true(session);
    if session.narrow_now() {
        exchange::bring_up(".view-switch");
    }
}

fn button(session: Session, way: &WayOut, subject: Subject, at: Screen) -> impl IntoView + use<> {
    let does = way.does.clone();
    let (proposal, jobs) = (expect_context::<Proposal>(), expect_context::<Jobs>());
    let findings = expect_context::<Findings>();
    let act = move |_| match &does {
        Does::PutRight(..) | Does::Keep(..) => {
            let edit = does.edit(&session.standing_now(), subject, "");
            if let Some(edit) = edit {
                session.edit_and_say(edit);
            }
            // The button goes with its row.
            exchange::focus(match at {
                Screen::Lines | Screen::Shell | Screen::Issue => ".settle h2",
                Screen::Evidence => ".grid [aria-selected=\"true\"]",
            });
        }
        Does::Propose(wish) => {
            session.pick_subject(subject);
            show_true(session);
            proposal.ask(jobs, *wish);
        }
        Does::SetAside(readings) => {
            session.pick_subject(subject);
            if at == Screen::Lines {
                show_true(session);
            }
            let which = readings.clone();
            session.ask(Question::SetAside(which));
        }
        Does::Show => {
            session.pick_subject(subject);
            session.go_to(Screen::Evidence);
        }
    };
    let changes = !matches!(way.does, Does::Show);
    // While it is judged anew, what the list says may be settled already.
    let stale = move || findings.found().is_some_and(|(_, fresh)| !fresh);
    let locked = move || changes && (session.only_looks() || stale());
    view! { <button disabled=locked on:click=act>{way.name.clone()}</button> }
}

/// A line of which the same is said keeps its place and the focus.
fn brief_key((line, fresh): &(LineFound, bool)) -> String {
    let word = line.fairness.words();
    format!(
        "{:?}, {}, {fresh}: {word}, {}",
        line.on, line.name, line.says
    )
}

/// A line in the list of all, and whether its verdict is of the lines that stand.
fn brief(session: Session, (line, fresh): (LineFound, bool)) -> impl IntoView {
    let was = if fresh { "" } else { "was " };
    let pick = move |_| {
        let station = session.pick.get_untracked().station;
        session.pick_at(line.on, station);
        bring_up(session);
    };
    view! {
        <li>
            <button class="leads" on:click=pick>{line.name}</button>
            <span>{format!("{was}{} {}", line.fairness.sign(), line.fairness.words())}</span>
            <span class="quiet">{line.says}</span>
            <span class="quiet">{line.more}</span>
        </li>
    }
}

/// A section in the list of all.
fn brief_section(session: Session, section: SectionFound) -> impl IntoView {
    let pick = move |_| {
        match section.point {
            Some(point) => session.pick_point(point),
            None => session.pick_at(session.pick.get_untracked().on, section.station),
        }
        bring_up(session);
        session.show_view(Shown::BodyPlan);
    };
    view! {
        <li>
            <button class="leads" on:click=pick>{section.name}</button>
            <span>{format!("{} {}", section.fairness.sign(), section.fairness.words())}</span>
            <span class="quiet">{section.says}</span>
        </li>
    }
}

/// What is torn, which nobody can settle.
#[component]
pub fn Torn() -> impl IntoView {
    let session = expect_context::<Session>();
    let derived = expect_context::<Derived>();
    move || {
        let lines = derived.standing.get();
        let torn = lines.body.torn();
        let show = |id: PointId| {
            let go = move |_| {
                session.pick_point(id);
                session.go_to(Screen::Evidence);
            };
            view! { <li><button class="leads" on:click=go>{lines.body.point_name(id)}</button></li> }
        };
        (!torn.is_empty()).then(|| view! {
            <div class="carried">
                <p class="quiet"><b>{format!("Torn {}. ", torn.len())}</b>"No reading there: the skin is drawn from its neighbours; a reading from elsewhere can be typed into its cell."</p>
                <ul>{torn.iter().copied().map(show).collect_view()}</ul>
            </div>
        })
    }
}

/// The verdict on the picked line: sign and word, and the figures; opened, what it goes by.
#[component]
pub fn Chip() -> impl IntoView {
    let (session, findings) = (expect_context::<Session>(), expect_context::<Findings>());
    let found = Memo::new(move |_| findings.of(comb_key(session.pick.get().on)));
    let says = move |(line, fresh): (LineFound, bool)| {
        let word = format!("{} {}", line.fairness.sign(), line.fairness.words());
        let was = if fresh { "" } else { "was " };
        let (named, more) = (line.fairness.words(), line.more);
        let figures = line.says.clone();
        let chip = view! { <b>{was}{word}</b><span title=figures>{line.says}</span> };
        if more.is_empty() {
            return view! { <span class="chip" data-word=named>{chip}</span> }.into_any();
        }
        view! {
            <details class="verdict">
                <summary class="chip" data-word=named>{chip}</summary>
                <p>{more}</p>
            </details>
        }
        .into_any()
    };
    view! { <span class="chip-room" aria-live="polite">{move || found.get().map(says)}</span> }
}

/// Turns that may be chosen: inflections and peaks.
const TURNS: [(usize, usize); 6] = [(0, 1), (0, 2), (0, 3), (1, 2), (1, 3), (2, 3)];

/// How many turns the picked line is allowed.
#[component]
pub fn AllowedTurns() -> impl IntoView {
    let (session, findings) = (expect_context::<Session>(), expect_context::<Findings>());
    let derived = expect_context::<Derived>();
    let on = Memo::new(move |_| comb_key(session.pick.get().on));
    let found = Memo::new(move |_| findings.of(on.get()).and_then(|(line, _)| line.allowed));
    let own = Memo::new(move |_| {
        derived
            .standing
            .with(|lines| lines.body.turns_allowed(on.get()))
    });
    let change = move |event: leptos::ev::Event| {
        let chosen: Option<usize> = event_target_value(&event).parse().ok();
        let turns = chosen.and_then(|at| TURNS.get(at).copied());
        let turns = turns.map(|(inflections, peaks)| Turns { inflections, peaks });
        let on = on.get_untracked();
        session.edit(BodyEdit::AllowTurns { on, turns });
    };
    move || {
        let own = own.get();
        // What came to no verdict can be taken back too.
        let usual = match (own, found.get()) {
            (Some(_), _) => "as usual".to_owned(),
            (None, judged) => format!("usual: {}", judged?.words()),
        };
        // «Keep, it is true» may allow more than can be chosen here.
        let other = own.filter(|own| !TURNS.contains(&(own.inflections, own.peaks)));
        let other =
            other.map(|own| view! { <option value="other" selected=true>{own.words()}</option> });
        let options = TURNS.iter().enumerate().map(|(at, &(inflections, peaks))| {
            let turns = Turns { inflections, peaks };
            view! { <option value=at.to_string() selected=own == Some(turns)>{turns.words()}</option> }
        });
        let locked = session.only_looks();
        Some(view! {
            <label>"turns "<select aria-label="Turns allowed" disabled=locked on:change=change>
                <option value="" selected=own.is_none()>{usual}</option>
                {other}{options.collect_view()}
            </select></label>
        })
    }
}
