//! The list of sheets, by part: which are wanted, and which is looked at.

use std::collections::BTreeMap;

use geometry::document::ShopEdit;
use geometry::issue::sheets::{PackPart, SheetKind, Since};
use leptos::prelude::*;

use super::Office;
use crate::exchange;
use crate::views::words::count;

/// A kind with more parts than this is folded at first, and draws them when it is unfolded.
const FOLDED: usize = 40;

/// The list.
#[component]
pub fn Parts(office: Office) -> impl IntoView {
    let kinds = move || {
        let mut kinds: BTreeMap<SheetKind, Vec<PackPart>> = BTreeMap::new();
        for part in office.parts.get().iter() {
            kinds.entry(part.kind).or_default().push(part.clone());
        }
        let kinds = kinds
            .into_iter()
            .map(|(kind, parts)| one_kind(office, kind, parts));
        kinds.collect_view()
    };
    let all = move || match office.chosen() {
        (_, [_, 0]) => String::new(),
        (_, [_, all]) => format!("{all} in all"),
    };
    let since = move || office.told().and_then(|(told, _)| told.since.clone());
    let changed_only = move |_| {
        let parts = office.parts.get_untracked();
        let same = { parts.iter() }.filter(|part| part.since == Some(Since::Same));
        let same = same.map(|part| part.code.clone()).collect();
        office.session.edit(ShopEdit::LeaveOut(same));
    };
    let locked = move || office.session.only_looks();
    let since = move || {
        since().map(|label| {
            view! { <div class="row"><button data-kind="lesser" disabled=locked on:click=changed_only>{format!("Tick only what changed since {label}")}</button></div> }
        })
    };
    let missing = move || {
        let told = office.told().map(|(told, _)| told.missing.clone());
        let each = told.unwrap_or_default().into_iter().map(|code| {
            view! { <li class="quiet">{code}</li> }
        });
        let each = each.collect::<Vec<_>>();
        (!each.is_empty()).then(|| view! { <ul class="part-list">{each}</ul> })
    };
    let no_boards = move || {
        let told = office.told();
        let why = told.and_then(|(told, _)| told.no_boards.clone());
        why.map(|why| view! { <p class="fault">{why}</p> })
    };
    let none = move || {
        let told = office.told();
        told.is_some_and(|(told, _)| told.parts.is_empty()).then(
            || view! { <p class="quiet">"No sheet yet: say beside it how templates are made."</p> },
        )
    };
    view! {
        <section class="parts" aria-label="Sheets by part">
            <div class="label-row underlined"><h2>"Sheets by part"</h2><span class="quiet">{all}</span></div>
            {since}
            {kinds}
            {missing}
            {no_boards}
            {none}
        </section>
    }
}

fn one_kind(office: Office, kind: SheetKind, parts: Vec<PackPart>) -> impl IntoView {
    let had: Vec<String> = { parts.iter() }
        .filter(|part| part.fault.is_none())
        .map(|part| part.code.clone())
        .collect();
    let codes = StoredValue::new(had);
    let wanted = move || {
        codes.with_value(|codes| codes.iter().filter(|code| office.is_wanted(code)).count())
    };
    let of = codes.with_value(Vec::len);
    let all =
        move |event: web_sys::Event| office.want(codes.get_value(), event_target_checked(&event));
    let some = move || (1..of).contains(&wanted());
    let locked = move || office.session.only_looks() || of == 0;
    let rows = {
        let number = parts.len();
        let all: Vec<String> = parts.iter().map(|part| part.code.clone()).collect();
        let all = StoredValue::new(all);
        let parts = StoredValue::new(parts);
        // One stop for the keys, wherever the picked part is.
        let stop = Memo::new(move |_| {
            let here = office.part().map(|(_, part)| part.code);
            all.with_value(|all| {
                let known = here.filter(|code| all.contains(code));
                known.or_else(|| all.first().cloned())
            })
        });
        let rows = move || {
            let each = { parts.get_value().into_iter() }.map(|part| one_part(office, &part, stop));
            let walk = move |event: web_sys::KeyboardEvent| walk(office, all, &event);
            view! { <ul class="part-list" on:keydown=walk>{each.collect_view()}</ul> }
        };
        if number <= FOLDED {
            rows().into_any()
        } else {
            let open = RwSignal::new(false);
            let toggled = move |event: web_sys::Event| {
                let node = event_target::<web_sys::Element>(&event);
                open.set(node.has_attribute("open"));
            };
            view! {
                <details on:toggle=toggled>
                    <summary>{count(number, "part", "parts")}</summary>
                    {move || open.get().then(rows)}
                </details>
            }
            .into_any()
        }
    };
    view! {
        <div class="kind">
            <label class="check">
                <input type="checkbox" disabled=locked prop:checked=move || wanted() == of prop:indeterminate=some on:change=all/>
                <span>{kind.name()}</span>
            </label>
            <span class="quiet">{move || format!("{} of {of}", wanted())}</span>
        </div>
        {rows}
    }
}

/// Goes on to the next part, or back, by an arrow key.
fn walk(office: Office, all: StoredValue<Vec<String>>, event: &web_sys::KeyboardEvent) {
    let down = match event.key().as_str() {
        "ArrowDown" => true,
        "ArrowUp" => false,
        _ => return,
    };
    event.prevent_default();
    let here = untrack(|| office.part()).map(|(_, part)| part.code);
    let next = all.with_value(|all| {
        let at = here.and_then(|code| all.iter().position(|other| *other == code));
        let next = match (at, down) {
            (Some(at), true) => at + 1,
            (Some(at), false) => at.checked_sub(1)?,
            (None, _) => 0,
        };
        all.get(next).cloned()
    });
    let Some(code) = next else { return };
    office.pick(&code);
    let selector = if exchange::on_a_box(event) {
        ".part[data-here] input"
    } else {
        ".part[data-here] button"
    };
    leptos::task::spawn_local(async move {
        leptos::task::tick().await;
        if exchange::focus(selector).is_none() {
            leptos::logging::warn!("the part has no focus");
        }
    });
}

fn one_part(office: Office, part: &PackPart, stop: Memo<Option<String>>) -> impl IntoView + use<> {
    let code = StoredValue::new(part.code.clone());
    let here = move || {
        let part = office.part();
        part.is_some_and(|(_, part)| code.with_value(|code| *code == part.code))
    };
    let tick = move |event: web_sys::Event| {
        office.want(vec![code.get_value()], event_target_checked(&event));
    };
    let reached = move || {
        let here = stop.with(|stop| code.with_value(|code| stop.as_ref() == Some(code)));
        if here { "0" } else { "-1" }
    };
    let fault = part.fault.clone();
    let warnings = part.warnings.clone();
    let unsettled = (!warnings.is_empty()).then(|| {
        let ticked = move || code.with_value(|code| office.is_ticked(code));
        let tick = move |event: web_sys::Event| {
            office.tick(&code.get_value(), event_target_checked(&event));
        };
        let each = warnings.into_iter().map(|says| view! { <li>{says}</li> });
        view! {
            <div class="unsettled">
                <ul aria-label=format!("Not settled over {}", part.code)>{each.collect_view()}</ul>
                <label class="check">
                    <input type="checkbox" tabindex=reached aria-label=format!("Issue {} though this is not settled", part.code) disabled=move || office.session.only_looks() prop:checked=ticked on:change=tick/>
                    <span>"issue it all the same"</span>
                </label>
            </div>
        }
    });
    let since = office.told().and_then(|(told, _)| told.since.clone());
    let since = since.and_then(|label| Some(part.since?.words(&label)));
    let had = fault.is_none();
    let checked = move || had && code.with_value(|code| office.is_wanted(code));
    let locked = move || !had || office.session.only_looks();
    let pages = count(part.pages, "sheet", "sheets");
    let unticked = !part.warnings.is_empty();
    let held_back = move || unticked && code.with_value(|code| !office.is_ticked(code));
    let pages = move || {
        if held_back() {
            format!("held back, {pages}")
        } else {
            pages.clone()
        }
    };
    // A template's code says all of it.
    let what = (part.kind != SheetKind::Template).then(|| part.what.clone());
    view! {
        <li class="part" data-here=move || here().then_some("")>
            <input type="checkbox" tabindex=reached aria-label=format!("Issue {}", part.code) disabled=locked prop:checked=checked on:change=tick/>
            <button data-kind="plain" tabindex=reached aria-pressed=move || here().to_string() title=part.what.clone() on:click=move |_| office.pick(&code.get_value())>
                <b>{part.code.clone()}</b>
                {had.then(|| view! { <span class="quiet">{pages}</span> })}
                {since.map(|since| view! { <span class="quiet">{since}</span> })}
                {what.map(|what| view! { <span class="quiet what-of">{what}</span> })}
                {fault.map(|fault| view! { <span class="quiet what-of">{fault}</span> })}
            </button>
            {unsettled}
        </li>
    }
}
