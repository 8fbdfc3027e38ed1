//! Boxes for what is typed beside the sheets: a length in the person's unit, a choice from a few; each an edit of its own.

use geometry::units::{Digits, LengthUnit, Message, format_length_to, parse_length};
use leptos::prelude::*;

use super::Office;

/// What is not taken, in a sentence; none where all is.
pub type Wrong = RwSignal<Option<String>>;

/// A length as a box shows it: without the noughts that nobody typed.
pub fn shown(mm: f64, unit: LengthUnit) -> String {
    let text = format_length_to(mm, unit, Digits::Fine);
    match text.contains('.') {
        true => text.trim_end_matches('0').trim_end_matches('.').to_owned(),
        false => text,
    }
}

/// What a box asks for.
#[derive(Clone, Copy)]
pub struct LengthAsked {
    /// What stands before it.
    pub label: &'static str,
    /// What it is called where its label is not seen.
    pub name: &'static str,
    /// What it holds, mm; none: nothing yet.
    pub value: Memo<Option<f64>>,
}

/// A box for a length. What is refused stays in it, and is said.
pub fn length_box(
    office: Office,
    LengthAsked { label, name, value }: LengthAsked,
    wrong: Wrong,
    take: impl Fn(f64) -> Result<(), String> + Copy + 'static,
) -> impl IntoView {
    let unit = move || office.session.unit().along();
    let refused = RwSignal::new(false);
    let text = move || value.get().map_or_else(String::new, |mm| shown(mm, unit()));
    let change = move |event: web_sys::Event| {
        let unit = untrack(unit);
        let typed = event_target_value(&event);
        let outcome = parse_length(&typed, unit)
            .map_err(|error| format!("{}: {}", geometry::units::headed(name), error.message(unit)))
            .and_then(take);
        refused.set(outcome.is_err());
        wrong.set(outcome.err());
    };
    view! {
        <label class="asked"><span>{label}</span>
            <span class="figure-of">
                <input class="field" inputmode="decimal" autocomplete="off" aria-label=name aria-invalid=move || refused.get().then_some("true") prop:value=text on:change=change/>
                <span class="quiet">{move || unit().short()}</span>
            </span>
        </label>
    }
}

/// A choice from a few, each by its name.
pub fn choice<T: Copy + PartialEq + Send + Sync + 'static>(
    (label, name): (&'static str, &'static str),
    all: &'static [(T, &'static str)],
    now: Memo<T>,
    take: impl Fn(T) + 'static,
) -> impl IntoView {
    let chosen = move |event: web_sys::Event| {
        let value = event_target_value(&event);
        if let Some((one, _)) = all.iter().find(|(_, name)| *name == value) {
            take(*one);
        }
    };
    let named = move || {
        let now = now.get();
        all.iter()
            .find(|(one, _)| *one == now)
            .map_or("", |(_, name)| name)
    };
    let option = |(_, name): &(T, &'static str)| view! { <option value=*name>{*name}</option> };
    view! {
        <label class="asked"><span>{label}</span>
            <select aria-label=name prop:value=named on:change=chosen>{all.iter().map(option).collect_view()}</select>
        </label>
    }
}

/// What is not taken, said where it was typed.
pub fn said(wrong: Wrong) -> impl IntoView {
    view! { <p class="fault says" role="alert">{move || wrong.get()}</p> }
}
