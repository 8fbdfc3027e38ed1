//! Which lines are drawn: every line and section by name, each with its comb, and planes added by a typed place.

use geometry::document::{BodyEdit, Lines, On, Place, Plane, PlaneId};
use geometry::issue::lines_plan::is_own;
use geometry::num::put_in_order;
use geometry::units::headed;
use leptos::prelude::*;

use super::lines::lines_sheet;
use super::new_line::NewPlane;
use super::widgets::{Dialog, close_dialog};
use crate::exchange;
use crate::state::derived::Derived;
use crate::state::findings::Findings;
use crate::state::{NoteKind, Session, comb_key};

/// What a family of lines is called, and its lines.
type Family = (&'static str, Vec<(On, String)>);

/// The lines that a drawing of a document may show, by family, each from the crown or the outermost on.
fn families(lines: &Lines, planes: &[Plane]) -> Vec<Family> {
    let mut planes: Vec<&Plane> = planes.iter().collect();
    put_in_order(&mut planes, |a, b| {
        b.place.level().total_cmp(&a.place.level())
    });
    let of = |fits: fn(Place) -> bool| {
        let own = planes.iter().filter(|plane| fits(plane.place));
        own.map(|plane| (On::Plane(plane.id), plane.name.clone()))
            .collect::<Vec<_>>()
    };
    let mut runs: Vec<On> = vec![On::Crown];
    runs.extend(lines.body.run_lines.iter().map(|line| On::RunLine(line.id)));
    runs.push(On::Keel);
    let there = |on: &On| lines.body.points.iter().any(|point| point.on == *on);
    let named = |on: On| (on, lines.body.line_name(on).unwrap_or_default());
    [
        (
            "Waterlines",
            of(|place| matches!(place, Place::Waterline(_))),
        ),
        (
            "Buttock lines",
            of(|place| matches!(place, Place::Buttock(_))),
        ),
        (
            "Diagonals",
            of(|place| matches!(place, Place::Diagonal { .. })),
        ),
        (
            "Run lines",
            runs.into_iter().filter(there).map(named).collect(),
        ),
    ]
    .into_iter()
    .filter(|(_, lines)| !lines.is_empty())
    .collect()
}

/// The question which lines are drawn.
#[component]
pub fn Drawn() -> impl IntoView {
    let session = expect_context::<Session>();
    let derived = expect_context::<Derived>();
    let all = Memo::new(move |_| {
        let planes = derived.planes.get();
        derived.standing.with(|lines| families(lines, &planes))
    });
    let shown = move || {
        let family = move |(name, lines): Family| view! { <LineFamily name=name lines=lines/> };
        all.get().into_iter().map(family).collect_view()
    };
    let locked = move || session.only_looks();
    view! {
        <Dialog title="Lines drawn">
            <div class="stack">
                {shown}
                <Sections/>
                <fieldset disabled=locked>
                    <legend>"Draw another plane"</legend>
                    <NewPlane/>
                </fieldset>
                <fieldset>
                    <legend>"Take the plan away"</legend>
                    <TakeAway/>
                </fieldset>
                <div class="row"><button data-kind="first" on:click=|_| close_dialog()>"Close"</button></div>
            </div>
        </Dialog>
    }
}

#[component]
fn LineFamily(name: &'static str, lines: Vec<(On, String)>) -> impl IntoView {
    let session = expect_context::<Session>();
    let derived = expect_context::<Derived>();
    let ons: Vec<On> = lines.iter().map(|(on, _)| *on).collect();
    let others = ons.clone();
    let of_the_drawing = derived.standing.with_untracked(|lines| {
        let own = |on: &On| matches!(on, On::Plane(id) if is_own(&lines.body, *id));
        ons.iter().any(own)
    });
    let none = move |_| session.hide_lines(&others);
    let whole = move |_| session.draw_lines(&ons);
    let row = move |(on, line): (On, String)| {
        let drawn = move || session.hidden.with(|hidden| hidden.draws(on));
        let toggle = move |_| session.toggle_line(on);
        let combed = move || session.combs.with(|combs| combs.contains(&comb_key(on)));
        let bare = move |id: PlaneId| {
            let lies = |point: &geometry::document::Point| matches!(point.on, On::Plane(other) | On::PlaneUpper(other) if other == id);
            let free = derived
                .standing
                .with(|lines| !lines.body.points.iter().any(lies));
            (free && !session.only_looks()).then(|| view! {
                <button data-kind="lesser" aria-label=format!("Take {} away", derived.standing.with(|l| l.body.line_name(on)).unwrap_or_default()) on:click=move |_| session.edit(BodyEdit::RemovePlane(id))>"take away"</button>
            })
        };
        let away = move || match on {
            On::Plane(id) if !of_the_drawing => bare(id),
            _ => None,
        };
        let comb = (!of_the_drawing).then(|| view! {
            <label class="check"><input type="checkbox" aria-label=format!("Comb on {line}") prop:checked=combed on:change=move |_| session.toggle_comb(on)/>"comb"</label>
        });
        view! {
            <li>
                <label class="check"><input type="checkbox" prop:checked=drawn on:change=toggle/>{headed(&line)}</label>
                {comb}
                {away}
            </li>
        }
    };
    view! {
        <fieldset>
            <legend>{name}</legend>
            <div class="row">
                <button data-kind="lesser" aria-label=format!("all {}", name.to_lowercase()) on:click=whole>"all"</button>
                <button data-kind="lesser" aria-label=format!("none of the {}", name.to_lowercase()) on:click=none>"none"</button>
            </div>
            <p class="quiet" hidden=!of_the_drawing>"The document names none: these are the drawing's own, at even places, until you draw a plane of that kind."</p>
            <ul class="choices">{lines.into_iter().map(row).collect_view()}</ul>
        </fieldset>
    }
}

/// The sections of the body plan.
#[component]
fn Sections() -> impl IntoView {
    let session = expect_context::<Session>();
    let derived = expect_context::<Derived>();
    let stations = derived.standing.with_untracked(|lines| {
        let each = lines.body.stations.iter().map(|s| (s.id, s.label.clone()));
        each.collect::<Vec<_>>()
    });
    let every = stations.clone();
    let keep = move |step: usize| {
        let hide = every.iter().enumerate().filter(|(i, _)| i % step != 0);
        let hide = hide.map(|(_, (id, _))| *id).collect();
        session.hide_sections(hide);
    };
    let (whole, second) = (keep.clone(), keep);
    let row = move |(id, label): (geometry::document::StationId, String)| {
        let drawn = move || session.hidden.with(|hidden| !hidden.stations.contains(&id));
        let toggle = move |_| session.toggle_section(id);
        view! {
            <li><label class="check"><input type="checkbox" aria-label=format!("Section at {label}") prop:checked=drawn on:change=toggle/>{label.clone()}</label></li>
        }
    };
    view! {
        <fieldset>
            <legend>"Sections in the body plan"</legend>
            <div class="row">
                <button data-kind="lesser" aria-label="All sections" on:click=move |_| whole(1)>"all"</button>
                <button data-kind="lesser" aria-label="Every second section" on:click=move |_| second(2)>"every second"</button>
            </div>
            <ul class="choices short">{stations.into_iter().map(row).collect_view()}</ul>
        </fieldset>
    }
}

/// Saves the plan at a typed scale, and gives the file's name.
fn take_away(
    session: Session,
    derived: Derived,
    findings: Findings,
    typed: &str,
) -> Result<String, String> {
    let figure = typed.trim().replace(',', ".").parse::<f64>().ok();
    let one_to = figure.filter(|n| (1.0..=1000.0).contains(n));
    let one_to = one_to
        .ok_or_else(|| format!("`{typed}` is no scale: type 1 to 1000, as 10 for 1 : 10."))?;
    let sheet = lines_sheet(session, derived, findings, one_to)?;
    let title = session.standing_now().about.title.clone();
    let name = exchange::file_name(&format!("{title} lines plan 1 to {one_to}"), "svg");
    exchange::save(&name, "image/svg+xml", sheet.as_bytes())?;
    Ok(name)
}

/// The plan as it is drawn, as a sheet to scale.
#[component]
fn TakeAway() -> impl IntoView {
    let session = expect_context::<Session>();
    let derived = expect_context::<Derived>();
    let findings = expect_context::<Findings>();
    let text = RwSignal::new("10".to_owned());
    let wrong = RwSignal::new(None::<String>);
    let save = move |event: web_sys::SubmitEvent| {
        event.prevent_default();
        match take_away(session, derived, findings, &text.get_untracked()) {
            Ok(name) => {
                close_dialog();
                session.say(NoteKind::Done, format!("Saved as {name}."));
            }
            Err(why) => wrong.set(Some(why)),
        }
    };
    view! {
        <form class="row" on:submit=save>
            <label>"scale 1 : "<input class="field" aria-label="Scale, one to" autocomplete="off" prop:value=text on:input=move |event| text.set(event_target_value(&event))/></label>
            <button type="submit">"Save as SVG"</button>
        </form>
        <p class="fault says" role="alert">{move || wrong.get()}</p>
        <p class="quiet">"Black on white, as it is drawn now, with a rule to check the print by."</p>
    }
}
