//! The Lines screen: profile, half-breadth plan and body plan on one sheet, and the card of what is picked.

use geometry::document::{Edit, Moved, On, PointId, StationId};
use geometry::units::{LengthUnit, Message, format_length, format_length_with_unit, parse_length};
use leptos::prelude::*;
use wasm_bindgen::JsCast;

use super::plan::{Extent, Layout, Plan, Scene, reads, spoken, tooth_scale};
use crate::state::derived::Derived;
use crate::state::{NoteKind, Pick, Session, Shown};

/// A point that is held by the pointer.
#[derive(Clone, Copy, Debug)]
struct Grip {
    point: PointId,
    /// Where it was taken hold of, px.
    from: (f64, f64),
    /// The coordinate that moves, as it was, mm.
    value: f64,
    /// Whether that is the height.
    height: bool,
    /// Which way is outward on the screen, where it moves sideways.
    sideways: Option<f64>,
}

/// Size of the window, px; the root's width, which what overflows does not widen.
fn window_size() -> (f64, f64) {
    let height = window()
        .inner_height()
        .ok()
        .and_then(|v| v.as_f64())
        .unwrap_or(900.0);
    let width = document()
        .document_element()
        .map_or(900, |root| root.client_width());
    (f64::from(width), height)
}

/// The screen.
#[expect(
    clippy::too_many_lines,
    reason = "one gesture, told from press to release"
)]
#[component]
pub fn LinesScreen() -> impl IntoView {
    let session = expect_context::<Session>();
    let derived = expect_context::<Derived>();
    let size = RwSignal::new(window_size());
    let resized = window_event_listener(leptos::ev::resize, move |_| size.set(window_size()));
    on_cleanup(move || resized.remove());
    let layout = Memo::new(move |_| {
        let (width, height) = size.get();
        let room = if width < 900.0 {
            (width, (height * 0.5).max(300.0))
        } else {
            (width, (height - 44.0 - 210.0).max(520.0))
        };
        Layout::of(room, Extent::of(&session.standing()), session.shown.get())
    });
    let tooth = Memo::new(move |_| {
        let shown = derived.shown.get();
        shown.map_or(1.0, |s| {
            tooth_scale(
                &derived.document.get(),
                &s,
                &session.combs.get(),
                session.tooth.get(),
            )
        })
    });
    let plan = Memo::new_with_compare(
        move |_| {
            let (Ok(loft), Some(shown)) = (derived.loft.get(), derived.shown.get()) else {
                return Plan::default();
            };
            let (lines, layout, combs) =
                (derived.document.get(), layout.get(), session.combs.get());
            let scene = Scene {
                lines: &lines,
                loft: &loft,
                shown: &shown,
                layout: &layout,
                pick: session.pick.get(),
                combs: &combs,
                tooth: tooth.get(),
            };
            crate::exchange::measure("plan", || Plan::of(&scene))
        },
        |_, _| true,
    );
    let fault = move || {
        derived
            .loft
            .get()
            .err()
            .map(|error| error.message(session.unit()))
    };
    // A drag is geared: a pixel is a tenth of a millimetre, or drawing scale with Alt.
    let grip: RwSignal<Option<Grip>> = RwSignal::new(None);
    let down = move |event: leptos::ev::PointerEvent| {
        let at = (f64::from(event.offset_x()), f64::from(event.offset_y()));
        let nearest = plan.with_untracked(|plan| {
            let far = |p: (f64, f64)| (p.0 - at.0) * (p.0 - at.0) + (p.1 - at.1) * (p.1 - at.1);
            plan.targets
                .iter()
                .map(|(id, p)| (*id, far(*p)))
                .filter(|t| t.1 < 400.0)
                .min_by(|a, b| a.1.total_cmp(&b.1))
        });
        let lines = session.standing_now();
        let Some(offset) = nearest.and_then(|(id, _)| lines.offset(lines.point(id)?)) else {
            return;
        };
        session.pick_point(offset.point);
        let (height, _) = reads(&lines, offset.on);
        // In the body plan a half-breadth moves sideways, its own way on either side.
        let layout = layout.get_untracked();
        let sideways = layout
            .body
            .filter(|body| !height && at.0 > body.area[0])
            .map(|body| (at.0 - body.origin.0).signum());
        grip.set(Some(Grip {
            point: offset.point,
            from: at,
            value: offset.accepted[usize::from(height)],
            height,
            sideways,
        }));
        if let Some(target) = event
            .current_target()
            .and_then(|t| t.dyn_into::<web_sys::Element>().ok())
            && target.set_pointer_capture(event.pointer_id()).is_err()
        {
            leptos::logging::warn!("the pointer is not held");
        }
    };
    let drag = move |event: leptos::ev::PointerEvent| {
        let Some(grip) = grip.get_untracked() else {
            return;
        };
        let gear = if event.alt_key() {
            1.0 / layout.get_untracked().scale()
        } else {
            0.1
        };
        let (dx, dy) = (
            f64::from(event.offset_x()) - grip.from.0,
            f64::from(event.offset_y()) - grip.from.1,
        );
        let pixels = grip.sideways.map_or(-dy, |sign| sign * dx);
        if pixels == 0.0 && session.draft.with_untracked(Option::is_none) {
            return;
        }
        let mm = grip.value + pixels * gear;
        let moved = Moved {
            point: grip.point,
            half_breadth: (!grip.height).then_some(mm),
            height: grip.height.then_some(mm),
        };
        session.try_out(&Edit::Move(moved));
    };
    let up = move |_: leptos::ev::PointerEvent| {
        if let Some(held) = grip.get_untracked() {
            grip.set(None);
            session.keep(session.standing_now().point_name(held.point));
        }
    };
    let let_go = move || {
        grip.set(None);
        session.drop_draft();
    };
    let keys = window_event_listener(leptos::ev::keydown, move |event| {
        let command = event.ctrl_key() || event.meta_key();
        match event.key().as_str() {
            "Escape" => let_go(),
            "z" if command && !event.shift_key() => session.undo(),
            "z" | "Z" | "y" if command => session.redo(),
            _ => {}
        }
    });
    on_cleanup(move || keys.remove());
    let switch = move |shown: Shown, name: &'static str| {
        view! {
            <button
                aria-pressed=move || (session.shown.get() == shown).to_string()
                on:click=move |_| session.shown.set(shown)
            >{name}</button>
        }
    };
    view! {
        <main class="frame">
            <div class="view-switch">
                {switch(Shown::Profile, "Profile")}
                {switch(Shown::HalfBreadth, "Half-breadth")}
                {switch(Shown::BodyPlan, "Body plan")}
            </div>
            <div class="sheet">
                {move || fault().map(|text| view! { <p class="empty" role="alert">{text}</p> })}
                <svg
                    class="lines-plan"
                    role="img"
                    aria-label="Lines plan: profile, half-breadth plan and body plan"
                    width=move || layout.get().size.0.to_string()
                    height=move || layout.get().size.1.to_string()
                    on:pointerdown=down
                    on:pointermove=drag
                    on:pointerup=up
                    on:pointercancel=move |_| let_go()
                >
                    <defs>
                        <pattern id="hatch" width="5" height="5" patternUnits="userSpaceOnUse" patternTransform="rotate(45)">
                            <path class="hatch" d="M0 0V5"/>
                        </pattern>
                    </defs>
                    {move || drawn(&plan.get())}
                </svg>
            </div>
            <Card/>
        </main>
    }
}

fn drawn(plan: &Plan) -> impl IntoView + use<> {
    let paths: Vec<_> = plan
        .paths
        .iter()
        .map(|(class, d)| view! { <path class=*class d=d.clone()/> })
        .collect();
    let rings: Vec<_> = plan
        .rings
        .iter()
        .map(|(x, y)| view! { <circle class="ring" cx=x.to_string() cy=y.to_string() r="8"/> })
        .collect();
    let labels: Vec<_> = plan
        .labels
        .iter()
        .map(|label| {
            let (x, y) = label.at;
            let width = 6.3 * label.text.chars().count() as f64 + 5.0;
            let left = if label.class.contains("middle") {
                x - width / 2.0
            } else if label.class.contains("end") {
                x - width + 2.0
            } else {
                x - 2.0
            };
            let patch = label.patch.then(|| {
                view! { <rect class="ground" x=left.to_string() y=(y - 9.5).to_string() width=width.to_string() height="12"/> }
            });
            view! { {patch}<text class=label.class x=x.to_string() y=y.to_string()>{label.text.clone()}</text> }
        })
        .collect();
    let legend = plan.legend.clone().map(|legend| {
        let (x, y) = legend.at;
        let teeth: String = (0..6).map(|i| format!("M{:.1} {:.1}v37.8", x + 0.5 + 5.0 * f64::from(i), y + 8.0)).collect();
        view! {
            <text class="ink bold" x=x.to_string() y=y.to_string()>{legend.title}</text>
            <path class="tooth" d=teeth/>
            <text class="ink" x=(x + 36.0).to_string() y=(y + 22.0).to_string()>"tooth 10 mm"</text>
            <text class="ink" x=(x + 36.0).to_string() y=(y + 37.0).to_string()>{format!("= radius {}", legend.radius)}</text>
        }
    });
    view! { {paths}{rings}{labels}{legend} }
}

/// What is picked: its reading, its value, and the ways to change it.
#[component]
fn Card() -> impl IntoView {
    let session = expect_context::<Session>();
    let derived = expect_context::<Derived>();
    let offset = move || {
        let (lines, pick) = (derived.document.get(), session.pick.get());
        let point = lines.point_on(pick.station, pick.on)?;
        lines.offset(point)
    };
    let name = move || {
        let (lines, pick) = (derived.document.get(), session.pick.get());
        let line = lines.line_name(pick.on).unwrap_or_default();
        format!("{}, {line}", lines.station_name(pick.station))
    };
    // The coordinate that is stepped: the height where one is read, else the half-breadth.
    let value = move || {
        let offset = offset()?;
        let (height, _) = reads(&derived.document.get(), offset.on);
        Some(offset.accepted[usize::from(height)])
    };
    let put = move |mm: f64| {
        let (lines, pick) = (session.standing_now(), session.pick.get_untracked());
        let Some(point) = lines.point_on(pick.station, pick.on) else {
            return;
        };
        let (height, _) = reads(&lines, pick.on);
        let moved = Moved {
            point: point.id,
            half_breadth: (!height).then_some(mm),
            height: height.then_some(mm),
        };
        session.edit(&Edit::Move(moved));
    };
    let step = move || {
        if session.unit() == LengthUnit::Millimetres {
            0.5
        } else {
            25.4 / 16.0
        }
    };
    let step_words = move || {
        if session.unit() == LengthUnit::Millimetres {
            "0.5"
        } else {
            "1/16"
        }
    };
    let shift = move |sign: f64| {
        if let Some(mm) = untrack(value) {
            put(mm + sign * untrack(step));
        }
    };
    let typed = move |event: leptos::ev::Event| match parse_length(
        &event_target_value(&event),
        untrack(|| session.unit()),
    ) {
        Ok(mm) => put(mm),
        Err(error) => session.say(NoteKind::Fault, error.message(untrack(|| session.unit()))),
    };
    let figures = move || {
        let loft = derived.loft.get().ok()?;
        let offset = offset()?;
        let at = loft.points().iter().find(|p| p.point == offset.point)?;
        let unit = session.unit();
        Some(format!(
            "Reading {} ± {}; the surface passes {} from it.",
            format_length_with_unit(
                offset.recorded[usize::from(reads(&derived.document.get(), offset.on).0)],
                unit
            ),
            format_length_with_unit(offset.tolerance, LengthUnit::Millimetres),
            format_length_with_unit(at.residual.abs(), LengthUnit::Millimetres),
        ))
    };
    let stations = move || {
        derived.document.with(|lines| {
            lines
                .stations
                .iter()
                .map(|s| (s.id, s.label.clone()))
                .collect::<Vec<_>>()
        })
    };
    let on_lines = move || {
        let (lines, pick) = (derived.document.get(), session.pick.get());
        let here: Vec<On> = lines
            .points
            .iter()
            .filter(|p| p.station == pick.station)
            .map(|p| p.on)
            .collect();
        here.into_iter()
            .filter_map(|on| Some((on, lines.line_name(on)?)))
            .collect::<Vec<_>>()
    };
    let pick_line = move |event: leptos::ev::Event| {
        let name = event_target_value(&event);
        if let Some((on, _)) = untrack(on_lines).into_iter().find(|(_, n)| *n == name) {
            session.pick.update(|pick| pick.on = on);
            session.combs.set(std::collections::BTreeSet::from([on]));
        }
    };
    let pick_station = move |event: leptos::ev::Event| {
        if let Ok(id) = event_target_value(&event).parse::<u32>() {
            session.pick.update(|pick| {
                *pick = Pick {
                    on: pick.on,
                    station: StationId(id),
                }
            });
        }
    };
    let shown_value =
        move || value().map_or_else(|| "–".to_owned(), |mm| format_length(mm, session.unit()));
    let aloud = move || {
        value().map_or_else(String::new, |mm| {
            format!("{}: {}", name(), spoken(mm, session.unit()))
        })
    };
    view! {
        <section class="card" aria-label="Picked point">
            <div class="stack">
                <div class="title"><h2>{name}</h2></div>
                <p class="quiet">{move || figures().unwrap_or_default()}</p>
                <div class="row">
                    <label>"Station "<select aria-label="Station" on:change=pick_station prop:value=move || session.pick.get().station.0.to_string()>
                        {move || stations().into_iter().map(|(id, label)| view! { <option value=id.0.to_string()>{label}</option> }).collect::<Vec<_>>()}
                    </select></label>
                    <label>"Line "<select aria-label="Line" on:change=pick_line prop:value=move || derived.document.get().line_name(session.pick.get().on).unwrap_or_default()>
                        {move || on_lines().into_iter().map(|(_, name)| view! { <option value=name.clone()>{name.clone()}</option> }).collect::<Vec<_>>()}
                    </select></label>
                    <button on:click=move |_| session.tooth.update(|t| *t -= 1)>"tooth × ½"</button>
                    <button on:click=move |_| session.tooth.update(|t| *t += 1)>"tooth × 2"</button>
                </div>
            </div>
            <div class="stack">
                <div class="steps">
                    <button aria-label=move || format!("Less by {}", step_words()) on:click=move |_| shift(-1.0)>{move || format!("− {}", step_words())}</button>
                    <output aria-hidden="true">{shown_value}</output>
                    <button aria-label=move || format!("More by {}", step_words()) on:click=move |_| shift(1.0)>{move || format!("+ {}", step_words())}</button>
                </div>
                <label class="row">"Value "<input class="field" aria-label="Value" prop:value=shown_value on:change=typed/></label>
                <p class="hidden" aria-live="polite">{aloud}</p>
            </div>
        </section>
    }
}
