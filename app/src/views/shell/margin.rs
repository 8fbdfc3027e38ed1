//! What stands beside the drawing: the list of views, the legend, the strip, the card.

use geometry::document::{Lines, On, StationId};
use geometry::issue::Output;
use geometry::lines::{CutMeasure, CuttingPlane, measure_cut, trace};
use geometry::units::{LengthUnit, Message, fixed, format_length_with_unit, parse_length};
use leptos::prelude::*;

use super::Board;
use super::eye::Standard;
use super::paint::Shade;
use super::scene::{STEMS, Scene};
use super::strip::{self, Strip};
use crate::state::{NARROW, NoteKind, Screen};
use crate::views::drawing::letters;
use crate::views::explained::{ACROSS_AND_ALONG, Asked, STRIPES};
use crate::views::making::OrderButton;
use crate::views::words::{both_bends, place_across};

/// The standard views, by number.
#[component]
pub fn LookFrom(board: Board) -> impl IntoView {
    let entries = Standard::ALL
        .into_iter()
        .zip(1..)
        .map(|(standard, number)| {
            view! {
                <li>
                    <button
                        data-kind="plain"
                        aria-pressed=move || (board.standard.get() == Some(standard)).to_string()
                        aria-keyshortcuts=number.to_string()
                        on:click=move |_| board.look_from(standard)
                    >
                        <span class="number" aria-hidden="true">{number}</span>
                        {standard.name()}
                    </button>
                </li>
            }
        });
    view! {
        <nav class="look-from" aria-label="Look from">
            <h2>"Look from"</h2>
            <ol>{entries.collect::<Vec<_>>()}</ol>
        </nav>
    }
}

/// The scale of the shading.
#[component]
pub fn Legend(board: Board) -> impl IntoView {
    const TALL: f64 = 228.0;
    let title = move || match board.shade.get() {
        Shade::Across => ("Radius across", "of the skin, at each station"),
        Shade::Along => ("Radius along", "of the skin, fore and aft"),
        Shade::Compound => (
            "Compound curvature",
            "the root of the radii both ways: a flat sheet takes none without stretching",
        ),
        Shade::Stripes => (
            "Light stripes",
            "a kink in a stripe is a ripple in the skin",
        ),
    };
    let ladder = move || {
        let ladder = board.ladder.get();
        let mut last = f64::NEG_INFINITY;
        let rungs: Vec<_> = ladder
            .ticks
            .iter()
            .map(|(radius, name)| (TALL * ladder.place(*radius), name.clone()))
            .filter(|(y, _)| {
                let clear = *y < TALL - 16.0 && y - last >= 14.0;
                if clear {
                    last = *y;
                }
                clear
            })
            .map(|(y, name)| {
                let y = y.round() + 0.5;
                view! {
                    <path class="leader" d=format!("M28 {y}h8")/>
                    <text x="42" y=(y + 4.0).to_string()>{name}</text>
                }
            })
            .collect();
        view! {
            <div class="ladder">
                <div class="ramp" aria-hidden="true"></div>
                <svg class="lines-plan" role="group" aria-label="Radii of the scale" width="150" height=(TALL + 4.0).to_string()>
                    <text class="ink" x="42" y=TALL.to_string()>"flat"</text>
                    {rungs}
                </svg>
            </div>
            <p class="swatch"><i aria-hidden="true"></i>{move || if board.shade.get() == Shade::Compound { "saddle" } else { "hollow" }}</p>
            <p class="quiet tone">"Lines join equal radii."</p>
        }
    };
    view! {
        <section class="legend" aria-label="Scale of the shading">
            <h2>{move || title().0}</h2>
            <p class="quiet">{move || title().1}</p>
            {move || (board.shade.get() != Shade::Stripes).then(ladder)}
            <p class="swatch"><i class="unread" aria-hidden="true"></i>"nothing read here: drawn from its neighbours"</p>
            {move || {
                let about = if board.shade.get() == Shade::Stripes { &STRIPES } else { &ACROSS_AND_ALONG };
                view! { <Asked about/> }
            }}
        </section>
    }
}

/// Radii at the picked station, on a desk.
#[component]
pub fn RadiusStrip(board: Board) -> impl IntoView {
    let roomy = move || {
        let (width, height) = board.size.get();
        width >= NARROW && height > 560.0
    };
    let strip = move || {
        if !roomy() {
            return None;
        }
        let lines = board.derived.document.get();
        let loft = board.derived.loft.get().ok()?;
        let x = lines.body.station(board.session.pick.get().station)?.x;
        let strip = Strip::of(&lines, &loft, x, board.shade.get(), &board.ladder.get())?;
        let paths: Vec<_> = strip
            .paths
            .into_iter()
            .map(|(class, d)| view! { <path class=class d=d/> })
            .collect();
        let labels: Vec<_> = strip.labels.iter().map(letters).collect();
        let (width, height) = strip::SIZE;
        Some(view! {
            <svg class="lines-plan radius-strip" role="img" aria-label=strip.caption width=width.to_string() height=height.to_string()>
                {paths}{labels}
            </svg>
        })
    };
    let caption = move || {
        format!(
            "{}. Cuts drawn: stations, waterlines, run lines.",
            board.eye.get().words()
        )
    };
    view! {
        {strip}
        <p class="shell-caption" hidden=move || !roomy()>{caption}</p>
    }
}

/// Shading, cuts, and what is picked.
#[component]
pub fn ShellCard(board: Board) -> impl IntoView {
    let session = board.session;
    let shade = move |shade: Shade, name: &'static str| {
        view! {
            <button
                aria-pressed=move || (board.shade.get() == shade).to_string()
                on:click=move |_| board.shade.set(shade)
            >{name}</button>
        }
    };
    let typed = [
        RwSignal::new(String::new()),
        RwSignal::new(String::new()),
        RwSignal::new(String::new()),
    ];
    let cut = move |event: web_sys::SubmitEvent| {
        event.prevent_default();
        let lines = session.standing_now();
        match asked_planes(&typed.map(|text| text.get_untracked()), &lines) {
            Ok(planes) => {
                session.say_no_more();
                let missed = board.derived.loft.get_untracked().ok().and_then(|loft| {
                    let misses = |(_, plane): &&(String, CuttingPlane)| {
                        Scene::cut(&loft, plane, 0).is_empty()
                    };
                    planes.iter().find(misses).map(|(name, _)| name.clone())
                });
                if let Some(name) = missed {
                    session.say(
                        NoteKind::Fault,
                        format!("{name} misses the body: type a place that crosses it."),
                    );
                }
                board.cuts.set(planes);
            }
            Err(sentence) => session.say(NoteKind::Fault, sentence),
        }
    };
    let measured = move || {
        let (loft, unit) = (board.derived.loft.get().ok()?, session.unit());
        let each = board.cuts.get().into_iter().map(|(name, plane)| {
            let branches = trace(loft.surface(), &plane, MEASURED).branches;
            let says = (!branches.is_empty()).then(|| {
                extent_words(&measure_cut(&branches, &plane, loft.closed()), &plane, unit)
            });
            says.map(|says| view! { <p><b>{name}</b>{format!(" {says}")}</p> })
        });
        Some(each.collect_view())
    };
    let boxes = ["STA", "WL", "BL"].into_iter().zip(typed).map(|(name, text)| {
        view! {
            <label>{name}" "<input class="field" aria-label=format!("Cut at {name}") prop:value=text on:input=move |event| text.set(event_target_value(&event))/></label>
        }
    });
    let name = move || {
        board
            .picked
            .get()
            .map_or_else(|| "Nothing picked".to_owned(), |picked| picked.name)
    };
    let radii = move || {
        let unit = session.unit();
        board.picked.get().map_or_else(String::new, |picked| {
            let [across, along] = both_bends([picked.across, picked.along], unit);
            format!("radius across {across}, along {along}")
        })
    };
    view! {
        <section class="card shell-card" aria-label="Shading, cuts and what is picked">
            <div class="stack">
                <h3>"Shade by"</h3>
                <div class="segments">
                    {shade(Shade::Across, "Radius across")}
                    {shade(Shade::Along, "Radius along")}
                    {shade(Shade::Compound, "Compound")}
                    {shade(Shade::Stripes, "Light stripes")}
                </div>
                <label class="check"><input type="checkbox" prop:checked=move || board.stems.get() on:change=move |event| board.stems.set(event_target_checked(&event))/>{format!("readings off the skin, × {STEMS}")}</label>
            </div>
            <form class="stack" on:submit=cut>
                <h3>"Cut at"</h3>
                <div class="row">
                    {boxes.collect::<Vec<_>>()}
                    <button type="submit">"Show the cut"</button>
                </div>
                <div aria-live="polite">{measured}</div>
            </form>
            <div class="stack">
                <div class="title"><h3>{name}</h3><p class="quiet">{radii}</p></div>
                <div class="row">
                    <PickBoxes board/>
                    <button on:click=move |_| session.go_to(Screen::Lines)>"See it in Lines"</button>
                    <button data-kind="lesser" on:click=move |_| board.look_from(Standard::QuarterBelow)>"Reset view"</button>
                </div>
                <div class="row">
                    <OrderButton output=Output::Step name="Surface, STEP"/>
                    <OrderButton output=Output::Glb name="Mesh, glTF"/>
                </div>
            </div>
        </section>
    }
}

/// What is measured of a cut, in words.
fn extent_words(of: &CutMeasure, plane: &CuttingPlane, unit: LengthUnit) -> String {
    const FOOT: f64 = 304.8;
    let length = format_length_with_unit(of.length, unit);
    let upright = plane.normal.y.abs() > 0.5;
    let sides = if upright { "" } else { ", both sides" };
    let area = of.area.map_or_else(
        || "the girth is open: no area".to_owned(),
        |area| match unit {
            LengthUnit::Millimetres => format!("area {} m²", fixed(area * 1e-6, 4)),
            LengthUnit::Inches => format!("area {} in²", fixed(area / (25.4 * 25.4), 1)),
            LengthUnit::FeetInchesEighths => format!("area {} ft²", fixed(area / (FOOT * FOOT), 3)),
        },
    );
    format!("length {length}{sides}; {area}")
}

/// How finely a cut is traced that is measured, mm.
const MEASURED: f64 = 0.01;

/// The plane of a family at a distance, mm.
type PlanesAt = fn(f64) -> CuttingPlane;

/// The planes a person typed, with their names; an empty box is none.
fn asked_planes(typed: &[String; 3], lines: &Lines) -> Result<Vec<(String, CuttingPlane)>, String> {
    let unit = lines.about.unit;
    let families: [(&str, PlanesAt); 3] = [
        ("STA", CuttingPlane::station),
        ("WL", CuttingPlane::waterline),
        ("BL", CuttingPlane::buttock),
    ];
    let mut planes = Vec::new();
    for (text, (family, plane)) in typed.iter().zip(families) {
        let text = text.trim();
        if text.is_empty() {
            continue;
        }
        if family == "STA" {
            let (name, x) = place_across(lines, text, "Cut at STA")?;
            planes.push((name, plane(x)));
            continue;
        }
        let mm = parse_length(text, unit)
            .map_err(|error| format!("Cut at {family}: {}", error.message(unit)))?;
        planes.push((format!("{family} {text}"), plane(mm)));
    }
    Ok(planes)
}

/// Station and line of the picked point, to choose without a pointer.
#[component]
fn PickBoxes(board: Board) -> impl IntoView {
    let session = board.session;
    let stations = move || {
        board.derived.document.with(|lines| {
            let options = lines
                .body
                .stations
                .iter()
                .map(|s| (s.id.0.to_string(), s.label.clone()));
            options.collect::<Vec<_>>()
        })
    };
    let on_lines = move || {
        let (lines, pick) = (board.derived.document.get(), session.pick.get());
        let here = lines
            .body
            .points
            .iter()
            .filter(|p| p.station == pick.station);
        here.filter_map(|p| Some((p.on, lines.body.line_name(p.on)?)))
            .collect::<Vec<(On, String)>>()
    };
    let pick_station = move |event: web_sys::Event| {
        if let Ok(id) = event_target_value(&event).parse::<u32>() {
            session.pick_at(session.pick.get_untracked().on, StationId(id));
        }
    };
    let pick_line = move |event: web_sys::Event| {
        let name = event_target_value(&event);
        if let Some((on, _)) = untrack(on_lines).into_iter().find(|(_, n)| *n == name) {
            session.pick_at(on, session.pick.get_untracked().station);
        }
    };
    let line = move || {
        let lines = board.derived.document.get();
        lines
            .body
            .line_name(session.pick.get().on)
            .unwrap_or_default()
    };
    view! {
        <label>"Station "<select aria-label="Station" on:change=pick_station prop:value=move || session.pick.get().station.0.to_string()>
            {move || stations().into_iter().map(|(id, label)| view! { <option value=id>{label}</option> }).collect::<Vec<_>>()}
        </select></label>
        <label>"Line "<select aria-label="Line" on:change=pick_line prop:value=line>
            {move || on_lines().into_iter().map(|(_, name)| view! { <option value=name.clone()>{name.clone()}</option> }).collect::<Vec<_>>()}
        </select></label>
    }
}
