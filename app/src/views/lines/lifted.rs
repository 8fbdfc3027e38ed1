//! What is lifted off the skin: a place on any drawn line, with all that a builder asks there, and a tape between two.

use geometry::document::{BodyEdit, Place};
use geometry::lines::{PickUp, node_at};
use geometry::units::{
    LengthUnit, Message, format_length, format_length_with_unit, headed, parse_length,
};
use leptos::prelude::*;

use crate::state::Session;
use crate::state::derived::Derived;
use crate::views::explained::{Asked, LIFT};
use crate::views::words::{both_bends, degrees, station_at};

/// What is said of a lifted place, in a builder's order.
fn figures(at: &PickUp, unit: LengthUnit) -> Vec<(&'static str, String)> {
    let length = |mm: f64| format_length_with_unit(mm, unit);
    let n = at.normal;
    let mut figures = vec![
        ("x", format_length_with_unit(at.position.x, unit.along())),
        ("half-breadth", length(at.position.y)),
        ("height", length(at.position.z)),
        ("girth from the crown", length(at.girth)),
    ];
    // A tip has no tangent plane.
    if n.is_finite() {
        let [across, along] = both_bends([at.across, at.along], unit);
        figures.extend([
            (
                "leans from upright",
                degrees(geometry::num::atan2(n.z, n.y)),
            ),
            ("bevel to the station", degrees(at.bevel)),
            ("radius along", along),
            ("radius across", across),
        ]);
    }
    figures
}

/// The lifted place, in the margin.
#[component]
pub fn Lifted() -> impl IntoView {
    let session = expect_context::<Session>();
    let derived = expect_context::<Derived>();
    let text = RwSignal::new(String::new());
    let wrong = RwSignal::new(None::<String>);
    let line = move || {
        let lines = derived.standing.get();
        lines.body.line_name(session.pick.get().on)
    };
    let lift = move |event: web_sys::SubmitEvent| {
        event.prevent_default();
        let lines = derived.standing.get_untracked();
        let (unit, on) = (lines.about.unit.along(), session.pick.get_untracked().on);
        let found = parse_length(&text.get_untracked(), unit)
            .map_err(|error| error.message(unit))
            .and_then(|x| {
                let loft = derived.loft.get_untracked();
                let loft = loft.map_err(|error| error.message(lines.about.unit))?;
                let name = lines.body.line_name(on).unwrap_or_default();
                let node = node_at(&loft, on, x);
                node.ok_or_else(|| {
                    let x = format_length_with_unit(x, unit);
                    format!(
                        "{} does not reach x {x}: type a place that it passes.",
                        headed(&name)
                    )
                })
            });
        match found {
            Ok(node) => {
                wrong.set(None);
                session.lift((node.u, node.v));
            }
            Err(why) => wrong.set(Some(why)),
        }
    };
    let name = move || {
        derived.lifted.get().map(|at| {
            let lines = derived.standing.get();
            format!("Measured near STA {}", station_at(&lines, at.position.x))
        })
    };
    let list = move || {
        let unit = session.unit();
        derived.lifted.get().map(|at| {
            let each = figures(&at, unit).into_iter();
            let rows =
                each.map(|(name, value)| view! { <div><dt>{name}</dt><dd>{value}</dd></div> });
            view! { <dl class="figures">{rows.collect_view()}</dl> }
        })
    };
    let tape = move || {
        let unit = session.unit();
        derived.tape.get().map(|tape| {
            let length = format_length_with_unit(tape.length, unit);
            view! { <p class="tape-length"><b>{length}</b>" along the skin, from the first place"</p> }
        })
    };
    let through = move |level: bool| {
        let Some(at) = derived.lifted.get_untracked() else {
            return;
        };
        let (mm, family) = if level {
            (at.position.z, "WL")
        } else {
            (at.position.y, "BL")
        };
        let place = if level {
            Place::Waterline(mm)
        } else {
            Place::Buttock(mm)
        };
        let name = format!("{family} {}", format_length(mm, untrack(|| session.unit())));
        session.edit(BodyEdit::AddPlane { name, place });
    };
    let ways = move || {
        derived.lifted.get().map(|_| {
            view! {
                <div class="row">
                    <span hidden=move || session.only_looks()>"Draw through it: "
                        <button data-kind="lesser" on:click=move |_| through(true)>"a waterline"</button>" "
                        <button data-kind="lesser" on:click=move |_| through(false)>"a buttock line"</button>
                    </span>
                </div>
                <div class="row">
                    <button on:click=move |_| session.measure_from_here()>"Lay a tape from here"</button>
                    <button data-kind="lesser" on:click=move |_| session.lift_no_more()>"Put it away"</button>
                </div>
            }
        })
    };
    view! {
        <section class="lifted" aria-label="Measured on the skin">
            <h2>{move || name().unwrap_or_else(|| "Measure the skin".to_owned())}</h2>
            <div aria-live="polite">{list}{tape}</div>
            {ways}
            <form class="row" hidden=move || line().is_none() on:submit=lift>
                <label>{move || line().map(|name| headed(&format!("{name} at x ")))}
                    <input class="field" aria-label="Measure at x" autocomplete="off" prop:value=text on:input=move |event| { wrong.set(None); text.set(event_target_value(&event)); }/>
                    {move || session.unit().along().short()}
                </label>
                <button type="submit">"Measure"</button>
            </form>
            <p class="fault says" role="alert">{move || wrong.get()}</p>
            {move || derived.lifted.get().is_none().then(|| view! {
                <p class="quiet">"Type a place along the picked line, or press any line between its points."</p>
            })}
            <Asked about=&LIFT/>
        </section>
    }
}
