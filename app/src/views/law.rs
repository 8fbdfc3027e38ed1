//! A body given by law: which run line is its breadth, how full its quadrants are, and what ρ is at the picked station.

use geometry::document::{
    BodyEdit, Edit, Law, Lines, Peak, Quadrant, RunKind, RunLineId, Shoulder, Side,
};
use leptos::prelude::*;

use super::widgets::{Dialog, close_dialog};
use crate::state::Session;
use crate::state::derived::Derived;

/// ρ of a quarter of a circle, to begin with.
const ROUND: &str = "0.414";

/// ρ as it is shown: to a thousandth.
pub fn rho_words([upper, lower]: [f64; 2]) -> String {
    format!("fullness {upper:.3} above the breadth, {lower:.3} below it.")
}

/// What is chosen of a quadrant: a run line, or none and the text of a number.
#[derive(Clone, Copy)]
struct Choice {
    line: RwSignal<Option<RunLineId>>,
    text: RwSignal<String>,
}

impl Choice {
    fn of(shoulder: Option<Shoulder>) -> Self {
        let (line, text) = match shoulder {
            Some(Shoulder::Line(id)) => (Some(id), ROUND.to_owned()),
            Some(Shoulder::Rho(rho)) => (None, rho.to_string()),
            None => (None, ROUND.to_owned()),
        };
        Self {
            line: RwSignal::new(line),
            text: RwSignal::new(text),
        }
    }

    fn shoulder(self) -> Result<Shoulder, String> {
        if let Some(id) = self.line.get_untracked() {
            return Ok(Shoulder::Line(id));
        }
        let typed = self.text.get_untracked();
        let rho = typed.trim().replace(',', ".").parse().map_err(|_no_number| {
            format!("`{typed}` is no fullness: type a number between 0.001 and 0.999, as 0.414 for a quarter of a circle.")
        });
        rho.map(Shoulder::Rho)
    }
}

fn peaked(lines: &Lines) -> bool {
    let mut stations = lines.body.stations.iter();
    stations.any(|s| {
        [Side::Crown, Side::Keel]
            .iter()
            .any(|side| lines.body.peak(*side, s.id) == Peak::Peaked)
    })
}

/// The law, and with it, as one step, both centrelines made smooth where that is asked for.
fn step(law: Law, smooth: bool) -> Edit {
    let set = BodyEdit::SetLaw(Some(law));
    if !smooth {
        return set.into();
    }
    let level = |side: Side| BodyEdit::SetCrossing {
        side,
        runs: Vec::new(),
    };
    Edit::Many {
        name: "conic law".to_owned(),
        edits: vec![
            level(Side::Crown).into(),
            level(Side::Keel).into(),
            set.into(),
        ],
    }
}

/// The question by which law the body is given.
#[component]
pub fn ConicLaw() -> impl IntoView {
    let session = expect_context::<Session>();
    let derived = expect_context::<Derived>();
    let lines = session.standing_now();
    let smooth = lines
        .body
        .run_lines
        .iter()
        .filter(|line| line.kind == RunKind::Smooth);
    let smooth: Vec<(RunLineId, String)> =
        smooth.map(|line| (line.id, line.name.clone())).collect();
    let law = lines.body.law;
    let first = smooth.first().map(|(id, _)| *id);
    let breadth = RwSignal::new(law.map(|law| law.breadth).or(first));
    let [upper, lower] = [Quadrant::Upper, Quadrant::Lower]
        .map(|quadrant| Choice::of(law.map(|law| law.shoulder(quadrant))));
    let made_smooth = RwSignal::new(false);
    let wrong = RwSignal::new(None::<String>);
    let set = move |event: web_sys::SubmitEvent| {
        event.prevent_default();
        let edited = upper.shoulder().and_then(|upper| {
            let Some(breadth) = breadth.get_untracked() else {
                return Err("Name the run line where the sections are broadest.".to_owned());
            };
            let lower = lower.shoulder()?;
            let law = Law {
                breadth,
                upper,
                lower,
            };
            session.try_edit(step(law, made_smooth.get_untracked()))
        });
        wrong.set(edited.err());
    };
    let take_off = move |_| {
        wrong.set(session.try_edit(BodyEdit::SetLaw(None)).err());
    };
    let given = move || derived.standing.with(|lines| lines.body.law.is_some());
    let locked = move || session.only_looks();
    let rho = move || {
        let (lines, loft) = (derived.standing.get(), derived.loft.get().ok()?);
        let station = lines.body.station(session.pick.get().station)?;
        let rho = loft.rho(station.x)?;
        Some(format!(
            "At {}: {}",
            lines.body.station_name(station.id),
            rho_words(rho)
        ))
    };
    let bare = smooth.is_empty();
    let (above, below) = (smooth.clone(), smooth.clone());
    view! {
        <Dialog title="Conic law">
            <form class="stack" on:submit=set>
                <p>"A body given by law has one conic in each quadrant of a section, between control lines: level at crown and keel, upright at the breadth. Readings of other lines stay beside it and are not used."</p>
                <p>"How full a quadrant is, is how far its curve rises from the chord towards the corner of its two tangents: 0.414 is a quarter of a circle, 0.5 a parabola; less is flatter, more is fuller. Lofting books call it ρ."</p>
                {bare.then(|| view! { <p>"The breadth needs a smooth run line with a point at each station: add it on the Evidence screen."</p> })}
                <fieldset class="stack" disabled=locked>
                    <label>"Breadth "{list("Breadth", smooth, breadth, None)}</label>
                    {quadrant("Upper shoulder", above, upper)}
                    {quadrant("Lower shoulder", below, lower)}
                    <label class="check" hidden=move || !derived.standing.with(|lines| peaked(lines))><input type="checkbox" prop:checked=made_smooth on:change=move |event| made_smooth.set(event_target_checked(&event))/>"make crown and keel smooth, as a conic section is"</label>
                    <div class="row">
                        <button type="submit" data-kind="first">{move || if given() { "Change the law" } else { "Set the law" }}</button>
                        <button type="button" hidden=move || !given() on:click=take_off>"Take the law off"</button>
                    </div>
                </fieldset>
                <p class="fault says" role="alert">{move || wrong.get()}</p>
                <p role="status">{rho}</p>
                <div class="row"><button type="button" on:click=|_| close_dialog()>"Close"</button></div>
            </form>
        </Dialog>
    }
}

/// A list of run lines, headed by what stands for none.
fn list(
    name: &'static str,
    lines: Vec<(RunLineId, String)>,
    chosen: RwSignal<Option<RunLineId>>,
    none: Option<&'static str>,
) -> impl IntoView {
    let take = move |event: leptos::ev::Event| {
        chosen.set(event_target_value(&event).parse().ok().map(RunLineId));
    };
    let now = chosen.get_untracked();
    view! {
        <select aria-label=name on:change=take>
            {none.map(|none| view! { <option value="">{none}</option> })}
            {lines.into_iter().map(|(id, name)| view! { <option value=id.0.to_string() selected=now == Some(id)>{name}</option> }).collect_view()}
        </select>
    }
}

/// How full a quadrant is: a shoulder line, or a number.
fn quadrant(name: &'static str, lines: Vec<(RunLineId, String)>, choice: Choice) -> impl IntoView {
    let Choice { line, text } = choice;
    view! {
        <div class="row">
            <label>{name}" "{list(name, lines, line, Some("a number, its fullness"))}</label>
            <label hidden=move || line.with(Option::is_some)>"Fullness "<input class="field" aria-label=format!("Fullness, {}", name.to_lowercase()) autocomplete="off" prop:value=text on:input=move |event| text.set(event_target_value(&event))/></label>
        </div>
    }
}
