//! Lines added to the document: a plane by its typed place, a run line by its name.

use geometry::document::{BodyEdit, Place, RunKind, RunLineId};
use geometry::lines::{plane_of, trace};
use geometry::loft::Loft;
use geometry::units::{Message, parse_length};
use leptos::prelude::*;

use crate::state::Session;
use crate::state::derived::Derived;

/// How finely a plane is traced to see whether it cuts the body, mm.
const MISS: f64 = 1.0;

/// A plane by its typed place.
#[component]
pub fn NewPlane() -> impl IntoView {
    let session = expect_context::<Session>();
    let derived = expect_context::<Derived>();
    let family = RwSignal::new("WL".to_owned());
    let (text, angle) = (RwSignal::new(String::new()), RwSignal::new("45".to_owned()));
    let wrong = RwSignal::new(None::<String>);
    let place = move || -> Result<(String, Place), String> {
        let unit = session.standing_now().about.unit;
        let (family, text) = (family.get_untracked(), text.get_untracked());
        let mm = parse_length(&text, unit).map_err(|error| error.message(unit))?;
        let name = format!("{family} {}", text.trim());
        match family.as_str() {
            "WL" => Ok((name, Place::Waterline(mm))),
            "BL" => Ok((name, Place::Buttock(mm))),
            _ => {
                let typed = angle.get_untracked().replace(',', ".");
                let degrees: Option<f64> = typed.trim().trim_end_matches('°').parse().ok();
                let degrees = degrees.ok_or_else(|| {
                    format!("`{typed}` is no angle: type degrees from the level, as 45.")
                })?;
                let place = Place::Diagonal {
                    height: mm,
                    angle: degrees.to_radians(),
                };
                Ok((format!("{name} at {degrees}°"), place))
            }
        }
    };
    let add = move |event: web_sys::SubmitEvent| {
        event.prevent_default();
        let drawn = place().and_then(|(name, place)| {
            session.try_edit(BodyEdit::AddPlane {
                name: name.clone(),
                place,
            })?;
            text.set(String::new());
            let loft = derived.loft.get_untracked().ok();
            let cuts = |loft: &Loft| {
                !trace(loft.surface(), &plane_of(place), MISS)
                    .branches
                    .is_empty()
            };
            if loft.is_some_and(|loft| !cuts(&loft)) {
                return Err(format!(
                    "{name} is added; it passes beside the body as it is now."
                ));
            }
            Ok(())
        });
        wrong.set(drawn.err());
    };
    view! {
        <form class="row" on:submit=add>
            <select aria-label="Kind of plane" prop:value=family on:change=move |event| family.set(event_target_value(&event))>
                <option value="WL">"WL, level"</option>
                <option value="BL">"BL, upright"</option>
                <option value="D">"diagonal"</option>
            </select>
            <label>{move || if family.with(|f| f == "D") { "height at the centre plane " } else { "at " }}
                <input class="field" aria-label="Place of the plane" autocomplete="off" prop:value=text on:input=move |event| text.set(event_target_value(&event))/>
            </label>
            <label hidden=move || family.with(|f| f != "D")>"falling "
                <input class="field" aria-label="Degrees from the level" autocomplete="off" prop:value=angle on:input=move |event| angle.set(event_target_value(&event))/>"°"
            </label>
            <button type="submit">"Add the plane"</button>
        </form>
        <p class="fault says" role="alert">{move || wrong.get()}</p>
        <p class="quiet">"It belongs to the lines from then on: to the link, the file and the offsets table."</p>
    }
}

/// A run line by its name, its kind and its place round the girth.
#[component]
pub fn NewRunLine() -> impl IntoView {
    let session = expect_context::<Session>();
    let derived = expect_context::<Derived>();
    let name = RwSignal::new(String::new());
    let kind = RwSignal::new(RunKind::Smooth);
    let before = RwSignal::new(None::<RunLineId>);
    let wrong = RwSignal::new(None::<String>);
    let others = Memo::new(move |_| {
        derived.standing.with(|lines| {
            let each = lines.body.run_lines.iter();
            each.map(|line| (line.id, line.name.clone()))
                .collect::<Vec<_>>()
        })
    });
    let add = move |event: web_sys::SubmitEvent| {
        event.prevent_default();
        let added = session.try_edit(BodyEdit::AddRunLine {
            name: name.get_untracked(),
            kind: kind.get_untracked(),
            before: before.get_untracked(),
        });
        if added.is_ok() {
            name.set(String::new());
            before.set(None);
        }
        wrong.set(added.err());
    };
    let set_before = move |event: leptos::ev::Event| {
        let id = event_target_value(&event).parse().ok();
        before.set(id.map(RunLineId));
    };
    let place = move || before.get().map_or(String::new(), |id| id.0.to_string());
    view! {
        <form class="row" on:submit=add>
            <label>"Run line "<input class="name" aria-label="Name of a run line" autocomplete="off" prop:value=name on:input=move |event| name.set(event_target_value(&event))/></label>
            <select aria-label="Kind of run line" prop:value=move || kind_name(kind.get()) on:change=move |event| kind.set(kind_named(&event_target_value(&event)))>
                <option value="smooth">"smooth"</option>
                <option value="knuckle">"knuckle"</option>
            </select>
            <select aria-label="Place of the run line" hidden=move || others.with(Vec::is_empty) prop:value=place on:change=set_before>
                <option value="">"nearest the keel"</option>
                {move || others.get().into_iter().map(|(id, name)| view! { <option value=id.0.to_string()>{format!("above {name}")}</option> }).collect_view()}
            </select>
            <button type="submit">"Add the run line"</button>
        </form>
        <p class="fault says" role="alert">{move || wrong.get()}</p>
    }
}

/// A kind's name in a list.
pub fn kind_name(kind: RunKind) -> &'static str {
    match kind {
        RunKind::Smooth => "smooth",
        RunKind::Knuckle => "knuckle",
    }
}

/// The kind with this name in a list.
pub fn kind_named(name: &str) -> RunKind {
    if name == "knuckle" {
        RunKind::Knuckle
    } else {
        RunKind::Smooth
    }
}
