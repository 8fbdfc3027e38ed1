//! What is issued: of which revision, how many sheets, and the file itself, which is made whole or not at all.

use geometry::document::{Issued, day_words};
use geometry::issue::Output;
use leptos::prelude::*;

use super::Office;
use crate::jobs::{Age, Stand};
use crate::state::Question;
use crate::state::issuing::Issuing;
use crate::views::words::count;

/// What comes of stopping.
const STOPPED: &str = "Stopped, nothing is kept; begun again, the file is the same to the byte.";

/// The card at the foot.
#[component]
pub fn IssueCard(office: Office) -> impl IntoView {
    let session = office.session;
    let issuing = expect_context::<Issuing>();
    let frozen = Memo::new(move |_| session.frozen());
    let heading = move || {
        frozen.get().map_or_else(
            || "Not frozen".to_owned(),
            |frozen| format!("Issue {}", frozen.label),
        )
    };
    let last = move || -> Option<Issued> {
        let frozen = frozen.get()?;
        let revisions = session.revisions();
        let own = revisions.iter().find(|own| own.label == frozen.label)?;
        own.issued.last().cloned()
    };
    let of_what = move || match frozen.get() {
        None => view! {
            <p>"Sheets bear DRAFT: DO NOT CUT until what stands is frozen."</p>
            <button on:click=move |_| session.ask(Question::Revisions)>"Freeze a revision"</button>
        }
        .into_any(),
        Some(frozen) => {
            let issued = last().map_or_else(
                || "Not issued yet.".to_owned(),
                |issued| {
                    let parts = count(issued.sheets.len(), "part", "parts");
                    format!("Last issued {}, {parts}.", day_words(&issued.date))
                },
            );
            view! { <p class="quiet">{format!("Frozen {}. {issued}", day_words(&frozen.date))}</p> }
                .into_any()
        }
    };
    let chosen = Memo::new(move |_| {
        let (parts, pages) = office.chosen();
        let codes = parts.into_iter().map(|part| (part.code, part.pages));
        (codes.collect::<Vec<_>>(), pages)
    });
    let counts = move || {
        chosen.with(|(_, [pages, all])| (*all > 0).then(|| format!("{pages} of {all} sheets")))
    };
    let parts = move || {
        let all = office
            .parts
            .with(|parts| parts.iter().filter(|part| part.fault.is_none()).count());
        chosen.with(|(codes, _)| format!("{} of {}", codes.len(), count(all, "part", "parts")))
    };
    let why_not = Memo::new(move |_| {
        let told = office.told();
        if let Some(why) = office.derived.no_loft() {
            return Some(why);
        }
        if let (None, Some(why)) = (&told, office.failed()) {
            return Some(why);
        }
        match told {
            None => Some("The sheets are being laid out.".to_owned()),
            Some((_, false)) => Some(
                office
                    .failed()
                    .unwrap_or_else(|| "The sheets are being laid out anew.".to_owned()),
            ),
            Some((_, true)) => chosen
                .with(|(codes, _)| codes.is_empty())
                .then(|| "No sheet is ticked: tick a part in the list.".to_owned()),
        }
    });
    let shown =
        move || matches!(issuing.jobs.stand.get(), Stand::Running { age, .. } if age >= Age::Shown);
    // Off by word only, so that the focus stays on what was pressed; the same button ends what it began.
    let off = move || !shown() && (issuing.runs() || why_not.get().is_some());
    let order = move |of: fn(Option<[f64; 2]>) -> Output| {
        if !untrack(off) {
            let codes = chosen
                .with_untracked(|(codes, _)| codes.iter().map(|(code, _)| code.clone()).collect());
            issuing.order(of(untrack(|| office.gauge())), codes);
        }
    };
    let press = move |_| {
        if untrack(shown) {
            issuing.stop();
        } else {
            order(|gauge| Output::Sheets { gauge });
        }
    };
    let beside = move || {
        if shown() {
            Some(STOPPED.to_owned())
        } else {
            why_not.get().filter(|_| !issuing.runs())
        }
    };
    let failed = move || match issuing.jobs.stand.get() {
        Stand::Failed(sentence) => Some(sentence),
        _ => None,
    };
    view! {
        <section class="card issue-card" aria-label="Issue">
            <div class="stack">
                <div class="title">
                    <h2>{heading}</h2>
                    <span class="chip-room">{move || counts().map(|sheets| view! { <span class="chip"><b>{sheets}</b><span>{parts}</span></span> })}</span>
                </div>
                <div class="row">{of_what}</div>
                <div class="row">
                    <button data-kind="first" aria-disabled=move || off().then_some("true") on:click=press>{move || if shown() { "Stop" } else { "Issue the sheets, PDF" }}</button>
                    {move || (!shown()).then(|| view! { <button aria-disabled=move || off().then_some("true") title="The PDF, each board as SVG and DXF, the offsets, and a list of sizes and SHA-256" on:click=move |_| order(|gauge| Output::Archive { gauge })>"As one archive"</button> })}
                    <span class="quiet">{beside}</span>
                </div>
            </div>
            <div class="making" aria-live="polite">
                {move || shown().then(|| view! { <Progress issuing chosen/> })}
                {move || failed().map(|why| view! {
                    <p class="fault" role="alert">{why}</p>
                    <button data-kind="lesser" on:click=move |_| issuing.jobs.dismiss()>"Close"</button>
                })}
            </div>
        </section>
    }
}

/// Parts by their codes with how many sheets each takes; and the sheets of those that are wanted, and of all.
type Chosen = (Vec<(String, usize)>, [usize; 2]);

/// How far the file has come.
#[component]
fn Progress(issuing: Issuing, chosen: Memo<Chosen>) -> impl IntoView {
    let part = move || match issuing.jobs.stand.get() {
        Stand::Running { part, .. } => part,
        Stand::Idle | Stand::Failed(_) => String::new(),
    };
    // Sheets that are drawn: those of the parts before the one that is named; none before the first is named.
    let done = move || -> Option<usize> {
        let part = part();
        chosen.with(|(codes, [pages, _])| {
            let at = codes.iter().position(|(code, _)| *code == part);
            let before = at.map(|at| codes[..at].iter().map(|(_, pages)| pages).sum());
            before.or_else(|| AFTER.contains(&part.as_str()).then_some(*pages))
        })
    };
    let all = move || chosen.with(|(_, [pages, _])| *pages);
    let says = move || match (done(), all()) {
        (None, all) => format!("Laying out {}", count(all, "sheet", "sheets")),
        (Some(done), all) if done >= all => format!("All {} drawn", count(all, "sheet", "sheets")),
        (Some(done), all) => format!("Sheet {} of {all}", done + 1),
    };
    view! {
        <p class="label-row"><b>{says}</b><span class="quiet">{part}</span></p>
        <progress aria-label="Sheets drawn" max=move || all().to_string() prop:value=move || done().unwrap_or(0) as f64></progress>
    }
}

/// What the worker is at when every sheet is drawn.
const AFTER: [&str; 5] = [
    "the pages",
    "the outlines",
    "the offsets",
    "the file",
    "the archive",
];
