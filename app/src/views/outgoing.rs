//! What goes out: a link of the lines, and offsets tables.

use geometry::document::link::COMFORTABLE_LINK;
use geometry::document::write_link;
use geometry::issue::{Output, TableForm};
use geometry::shop::least_spacing;
use geometry::units::{Message, format_length_with_unit, parse_length};
use leptos::prelude::*;

use super::keeping::save;
use super::making::order;
use super::widgets::{Dialog, close_dialog};
use super::words::unit_named;
use crate::exchange;
use crate::jobs::{Jobs, Stand};
use crate::state::Session;
use crate::state::derived::Derived;

/// A number with its thousands parted.
fn thousands(n: usize) -> String {
    let digits = n.to_string();
    let mut out = String::new();
    for (i, digit) in digits.chars().enumerate() {
        if i > 0 && (digits.len() - i).is_multiple_of(3) {
            out.push(',');
        }
        out.push(digit);
    }
    out
}

/// The first 16 digits of a check code, in fours.
fn in_fours(code: &str) -> String {
    let fours = [0, 4, 8, 12].map(|from| code.get(from..from + 4).unwrap_or_default());
    fours.join(" ")
}

/// Makes a link of the lines.
#[component]
pub fn Share() -> impl IntoView {
    let session = expect_context::<Session>();
    let derived = expect_context::<Derived>();
    let code = derived.loft.get_untracked().ok();
    let code = code.map(|loft| in_fours(&loft.check_code()));
    let address = exchange::address_with(&write_link(&session.standing_now()));
    let length = address.chars().count();
    let long = length > COMFORTABLE_LINK;
    let said = RwSignal::new(String::new());
    let copied = address.clone();
    let copy = move |_| {
        let address = copied.clone();
        leptos::task::spawn_local(async move {
            said.set(match exchange::copy(&address).await {
                Ok(()) => "Copied.".to_owned(),
                Err(sentence) => sentence,
            });
        });
    };
    let file = move |_| {
        close_dialog();
        save(session);
    };
    view! {
        <Dialog title="Share these lines by a link">
            <div class="stack">
                <p>{format!("The link holds these lines and every reading, without the notes beside them, in {} characters.", thousands(length))}</p>
                {long.then(|| view! { <p role="alert"><b>"Send the file instead."</b>{format!(" Over {} characters, some programs cut a link off.", thousands(COMFORTABLE_LINK))}</p> })}
                <textarea rows="4" readonly aria-label="Link" spellcheck="false" prop:value=address></textarea>
                <p class="quiet">"What stands behind the # is not sent to a server, but it stays in the history of every browser that opens it. Whoever opens it looks at these lines beside their own work."</p>
                {code.map(|code| view! { <p class="quiet">"Check code of the surface: "<code>{code}</code>". Whoever opens the link finds the same one here, or their browser computes otherwise than yours."</p> })}
                <div class="row">
                    <button data-kind=if long { "" } else { "first" } on:click=copy>"Copy the link"</button>
                    <button data-kind=if long { "first" } else { "" } on:click=file>"Save the file"</button>
                    <button on:click=|_| close_dialog()>"Close"</button>
                    <span role="status">{said}</span>
                </div>
            </div>
        </Dialog>
    }
}

/// Asks which offsets table is wanted.
#[component]
pub fn Offsets() -> impl IntoView {
    let session = expect_context::<Session>();
    let derived = expect_context::<Derived>();
    let unit = RwSignal::new(session.standing_now().about.unit);
    let own = RwSignal::new(true);
    let spacing = RwSignal::new(String::new());
    let wrong = RwSignal::new(None::<String>);
    let jobs = expect_context::<Jobs>();
    let busy = move || matches!(jobs.stand.get(), Stand::Running { .. });
    // Off by word only, so that the focus stays on what was pressed.
    let off = move || busy().then_some("true");
    // The spacing that is asked for, mm; none at the stations.
    let asked = move || -> Result<Option<f64>, String> {
        let unit = unit.get_untracked();
        let loft = derived.loft.get_untracked();
        let least = least_spacing(&*loft.map_err(|error| error.message(unit))?);
        if own.get_untracked() {
            return Ok(None);
        }
        match parse_length(&spacing.get_untracked(), unit) {
            Ok(mm) if mm >= least => Ok(Some(mm)),
            Ok(_) => Err(format!(
                "Type a spacing of {} or more.",
                format_length_with_unit(least, unit.along())
            )),
            Err(error) => Err(error.message(unit)),
        }
    };
    let ordered = move |form: TableForm| match asked() {
        Ok(_) if untrack(busy) => {}
        Ok(spacing) => {
            wrong.set(None);
            let unit = unit.get_untracked();
            let output = Output::Offsets {
                form,
                spacing,
                unit,
            };
            order(session, jobs, output);
        }
        Err(why) => wrong.set(Some(why)),
    };
    view! {
        <Dialog title="Offsets table">
            <div class="stack">
                <p>"Half-breadths on waterlines, heights on buttock lines and centrelines, both on run lines, and the girth: as the lines now stand, to the outside of the skin."</p>
                <label class="row">"Unit "<select aria-label="Unit of the table" prop:value=move || unit.get().short() on:change=move |event| unit.set(unit_named(&event_target_value(&event)))>
                    {["mm", "in", "ft-in-8"].map(|n| view! { <option value=n selected=unit.get_untracked().short() == n>{n}</option> }).collect_view()}
                </select></label>
                <label class="check"><input type="radio" name="where" prop:checked=own on:change=move |_| own.set(true)/>" at the stations"</label>
                <div class="row">
                    <label class="check"><input type="radio" name="where" prop:checked=move || !own.get() on:change=move |_| own.set(false)/>" at another spacing"</label>
                    <input class="field" aria-label="Spacing" autocomplete="off" disabled=own prop:value=spacing on:input=move |event| spacing.set(event_target_value(&event))/>
                </div>
                {move || wrong.get().map(|text| view! { <p role="alert" class="fault">{text}</p> })}
                <div class="row">
                    <button data-kind="first" aria-disabled=off on:click=move |_| ordered(TableForm::Csv)>"Save as CSV"</button>
                    <button aria-disabled=off on:click=move |_| ordered(TableForm::Xlsx)>"Save as spreadsheet"</button>
                    <button on:click=|_| close_dialog()>"Close"</button>
                </div>
            </div>
        </Dialog>
    }
}
