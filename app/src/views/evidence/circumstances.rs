//! How the readings of the picked cell came about: page, side, by whom and when, each shown and to be typed.

use geometry::document::{BodyEdit, BodySide, Circumstances, PointId};
use leptos::prelude::*;

use super::Desk;

/// A reading: of which point, which of its readings, the title of its source, and what is said of it.
type Read = (PointId, usize, String, Circumstances);

/// A text of them, as it is labelled, and as it is set.
type Text = (
    &'static str,
    &'static str,
    fn(&mut Circumstances) -> &mut String,
);

/// What is typed.
const TEXTS: [Text; 3] = [
    ("page", "Page", |said| &mut said.page),
    ("by", "By whom", |said| &mut said.by),
    ("when", "When", |said| &mut said.when),
];

/// How each reading of the picked cell came about.
#[component]
pub(super) fn HowRead(desk: Desk) -> impl IntoView {
    let readings = Memo::new(move |_| {
        let (lines, pick) = (desk.derived.standing.get(), desk.session.pick.get());
        let point = lines.body.point_on(pick.station, pick.on)?;
        let each = point.readings.iter().enumerate();
        let all = each.map(|(number, reading)| {
            let source = lines.body.source(reading.source);
            let title = source.map_or_else(String::new, |source| source.title.clone());
            let said = reading.circumstances.as_deref().cloned();
            (point.id, number, title, said.unwrap_or_default())
        });
        Some(all.collect::<Vec<Read>>())
    });
    // What is open stays so while a box of it is typed in: only another cell or another count draws the parts anew.
    let which = Memo::new(move |_| {
        readings.with(|all| {
            let all = all.iter().flatten();
            all.map(|(point, number, ..)| (*point, *number))
                .collect::<Vec<_>>()
        })
    });
    move || {
        let all = which.get().into_iter();
        all.map(|(point, number)| one(desk, readings, (point, number)))
            .collect_view()
    }
}

/// One reading.
fn one(
    desk: Desk,
    readings: Memo<Option<Vec<Read>>>,
    (point, number): (PointId, usize),
) -> impl IntoView {
    let found = move || {
        readings.with(|all| {
            let mut all = all.iter().flatten();
            let found = all.find(|(id, at, ..)| (*id, *at) == (point, number));
            found.map(|(_, _, title, said)| (title.clone(), said.clone()))
        })
    };
    let said = move || found().map(|(_, said)| said).unwrap_or_default();
    let heading = move || {
        let (title, said) = found().unwrap_or_default();
        let words = said.words();
        let words = if words.is_empty() {
            "not said".to_owned()
        } else {
            words
        };
        format!("{title}, how it was read: {words}")
    };
    let locked = move || desk.session.only_looks();
    let set = move |change: &dyn Fn(&mut Circumstances)| {
        let mut circumstances = untrack(said);
        change(&mut circumstances);
        let edit = BodyEdit::SetCircumstances {
            point,
            reading: number,
            circumstances,
        };
        desk.edit(Some(edit.into()));
    };
    let of_reading = number + 1;
    let boxed = TEXTS.map(|(label, name, text)| {
        let value = move || text(&mut said()).clone();
        view! {
            <label>{label}" "<input
                class="name"
                aria-label=format!("{name}, reading {of_reading}")
                autocomplete="off"
                maxlength="60"
                disabled=locked
                prop:value=value
                on:change=move |event| set(&|said| text(said).clone_from(&event_target_value(&event)))
            /></label>
        }
    });
    let hand = move || said().hand.map_or("", BodySide::name);
    let set_hand = move |event: leptos::ev::Event| {
        let name = event_target_value(&event);
        let hand = [BodySide::Port, BodySide::Starboard];
        let hand = hand.into_iter().find(|hand| hand.name() == name);
        set(&|said| said.hand = hand);
    };
    view! {
        <details>
            <summary>{heading}</summary>
            <div class="row">
                {boxed}
                <label>"side "<select aria-label=format!("Side, reading {of_reading}") disabled=locked prop:value=hand on:change=set_hand>
                    <option value="">"not said"</option><option value="port">"port"</option><option value="starboard">"starboard"</option>
                </select></label>
            </div>
        </details>
    }
}
