//! The readings of the picked point: the list in the margin, and what is asked when one is set aside or allowed more.

use geometry::document::{BodyEdit, Counted, Edit, Lines, Point, PointId, Recorded};
use geometry::settle::set_aside;
use geometry::units::{
    Digits, LengthUnit, Message, format_length, format_length_to, format_length_with_unit, headed,
    parse_length,
};
use leptos::prelude::*;

use super::widgets::{Dialog, close_dialog};
use super::words::small;
use crate::state::axis::Axis;
use crate::state::derived::Derived;
use crate::state::{NoteKind, Question, Screen, Session};

/// Every reading of the picked point, used or not, and what is torn.
#[component]
pub fn Readings() -> impl IntoView {
    let session = expect_context::<Session>();
    let derived = expect_context::<Derived>();
    let point = move || {
        let lines = derived.standing.get();
        let id = session.pick.get().point?;
        let point = lines.body.point(id)?.clone();
        Some((point, lines))
    };
    let readings = move || {
        let (point, lines) = point()?;
        let each = point.readings.iter().enumerate();
        let views =
            each.map(|(number, reading)| one_reading(session, &lines, &point, (number, reading)));
        Some(views.collect_view()).filter(|views| !views.is_empty())
    };
    let count = move || point().map_or(0, |(point, _)| point.readings.len());
    view! {
        <h2>"Readings here "<span class="count">{count}</span></h2>
        <ol>{readings}</ol>
        {move || (count() == 0).then(|| {
            let torn = point().is_some();
            let says = if torn { "Torn: nothing could be read here." } else { "No reading here." };
            view! { <p class="quiet">{says}</p> }
        })}
    }
}

fn one_reading(
    session: Session,
    lines: &Lines,
    point: &Point,
    (number, reading): (usize, &geometry::document::Reading),
) -> impl IntoView + use<> {
    let id = point.id;
    let source = lines
        .body
        .source(reading.source)
        .map_or_else(|| "unknown source".to_owned(), |s| s.title.clone());
    let says: Vec<String> = [
        (Axis::HalfBreadth, &reading.half_breadth),
        (Axis::Height, &reading.height),
    ]
    .into_iter()
    .filter_map(|(axis, recorded)| {
        let recorded = recorded.as_ref()?;
        let mended = recorded.put_right.map_or_else(String::new, |mm| {
            format!(
                ", put right to {}",
                format_length_with_unit(mm, lines.about.unit)
            )
        });
        Some(format!("{} {}{mended}", axis.name(), recorded.typed))
    })
    .collect();
    let aside = reading.set_aside.clone();
    let why = aside.as_ref().map(|why| {
        if why.is_empty() {
            "Set aside.".to_owned()
        } else {
            format!("Set aside: {why}")
        }
    });
    let locked = untrack(|| session.only_looks());
    let note = (!reading.note.is_empty()).then(|| reading.note.clone());
    let mended = reading.is_put_right();
    // What it should have been typed as counts as its source does.
    let [out, up] = lines.body.counted(point.on, reading.source);
    let plain = |recorded: &Option<Recorded>, by: Counted| {
        let mm = recorded.as_ref()?.put_right?;
        Some(Recorded {
            typed: format_length(by.of_the_source(mm), lines.about.unit),
            mm,
            put_right: None,
        })
    };
    let slip = BodyEdit::Retype {
        point: id,
        reading: number,
        half_breadth: plain(&reading.half_breadth, out),
        height: plain(&reading.height, up),
    };
    let back = BodyEdit::TakeBack {
        point: id,
        reading: number,
    };
    let ways = mended.then(|| {
        view! {
            <button data-kind="lesser" disabled=locked on:click=move |_| session.edit(&back)>"As the source has it"</button>
            <button data-kind="lesser" disabled=locked on:click=move |_| session.edit(&slip)>"Only mistyped here"</button>
        }
    });
    let kept = reading.kept;
    let again = BodyEdit::Keep {
        point: id,
        reading: number,
        kept: false,
    };
    let doubt = kept.then(|| {
        view! { <button data-kind="lesser" disabled=locked on:click=move |_| session.edit(&again)>"Doubt it again"</button> }
    });
    let button = if aside.is_some() {
        let again = BodyEdit::UseAgain {
            point: id,
            reading: number,
        };
        view! { <button disabled=locked on:click=move |_| session.edit(&again)>"Use again"</button> }
            .into_any()
    } else {
        let ask = Question::SetAside(vec![(id, number)]);
        view! { <button data-kind="lesser" disabled=locked on:click=move |_| session.ask(ask.clone())>"Set aside"</button> }
            .into_any()
    };
    view! {
        <li data-kind=if aside.is_some() { "aside" } else { "used" }>
            <p><b>{headed(&says.join(", "))}</b>{format!(" ± {}", small(reading.tolerance))}</p>
            <p class="quiet">{source}</p>
            {note.map(|note| view! { <p class="quiet">{note}</p> })}
            {why.map(|why| view! { <p>{why}</p> })}
            {kept.then(|| view! { <p>"Kept as true."</p> })}
            <div class="row">{button}{ways}{doubt}<button data-kind="lesser" disabled=locked on:click=move |_| session.ask(Question::Tolerance(id, number, None))>"Tolerance"</button></div>
        </li>
    }
}

/// Asks why readings are set aside.
#[component]
pub fn SetAside(readings: Vec<(PointId, usize)>) -> impl IntoView {
    let session = expect_context::<Session>();
    let derived = expect_context::<Derived>();
    let why = RwSignal::new(String::new());
    let lines = session.standing_now();
    let title = match readings.as_slice() {
        [(point, _)] => format!("Set a reading aside: {}", lines.body.point_name(*point)),
        many => format!("Set {} readings aside", many.len()),
    };
    let which = (readings.len() > 1).then(|| {
        let names = readings
            .iter()
            .map(|(point, _)| lines.body.point_name(*point));
        view! { <p class="quiet">{names.collect::<Vec<_>>().join("; ")}</p> }
    });
    let alone = <[_; 1]>::try_from(readings.as_slice()).ok();
    let done = move |event: web_sys::SubmitEvent| {
        event.prevent_default();
        let reason = why.get_untracked();
        if reason.trim().is_empty() {
            return;
        }
        let edit = set_aside(&readings, &reason);
        let before = session.standing_now();
        let drawn = session.screen.get_untracked() == Screen::Lines
            && derived.loft.with_untracked(Result::is_ok);
        if session.edit_and_say(&edit) {
            close_dialog();
            if drawn {
                session.show_before("as it was".to_owned(), before);
            }
        }
    };
    let out = alone.map(|[(point, reading)]| {
        let out = move |_| {
            match session.try_edit(BodyEdit::RemoveReading { point, reading }) {
                Ok(()) => close_dialog(),
                Err(why) => session.say(NoteKind::Fault, why),
            }
        };
        view! {
            <div class="row">
                <p class="quiet">"What never stood on its source, as a slip of typing, need not stay:"</p>
                <button type="button" data-kind="lesser" on:click=out>"Take it out"</button>
            </div>
        }
    });
    view! {
        <Dialog title=title>
            <form class="stack" on:submit=done>
                <p>"What is set aside stays in the evidence and is not used. The skin there is drawn from its neighbours."</p>
                {which}
                <label>"Why, kept with the reading "<input class="wide" required autofocus autocomplete="off" maxlength="2000" prop:value=why on:input=move |event| why.set(event_target_value(&event))/></label>
                <div class="row">
                    <button type="submit" data-kind="first" disabled=move || why.with(|why| why.trim().is_empty())>"Set aside"</button>
                    <button type="button" on:click=|_| close_dialog()>"Leave it"</button>
                </div>
                {out}
            </form>
        </Dialog>
    }
}

/// Asks how far a reading may be out, and why.
#[component]
pub fn Tolerance(
    /// The point, and which of its readings, from 0.
    of: (PointId, usize),
    /// What would let a proposal through, mm.
    suggested: Option<f64>,
) -> impl IntoView {
    let session = expect_context::<Session>();
    let (point, reading) = of;
    let lines = session.standing_now();
    let now = lines
        .body
        .point(point)
        .and_then(|point| point.readings.get(reading))
        .map_or(0.0, |reading| reading.tolerance);
    let mm = |value: f64| format_length_to(value, LengthUnit::Millimetres, Digits::Plain);
    let typed = RwSignal::new(mm(suggested.unwrap_or(now)));
    let why = RwSignal::new(String::new());
    let wrong = RwSignal::new(None::<String>);
    let done = move |event: web_sys::SubmitEvent| {
        event.prevent_default();
        let reason = why.get_untracked().trim().to_owned();
        if reason.is_empty() {
            return;
        }
        let tolerance = match parse_length(&typed.get_untracked(), LengthUnit::Millimetres) {
            Ok(tolerance) => tolerance,
            Err(error) => {
                wrong.set(Some(error.message(LengthUnit::Millimetres)));
                return;
            }
        };
        let name = format!(
            "tolerance of {}",
            session.standing_now().body.point_name(point)
        );
        let note = format!("tolerance {} to {} mm: {reason}", mm(now), mm(tolerance));
        let edits = [
            BodyEdit::SetTolerance {
                point,
                reading,
                tolerance,
            },
            BodyEdit::AddNote {
                point,
                reading,
                note,
            },
        ];
        let edit = Edit::Many {
            name,
            edits: edits.map(Edit::from).into(),
        };
        // What is refused is said where it was typed.
        if let Err(refused) = session.standing_now().apply(&edit) {
            wrong.set(Some(refused.message(session.unit())));
            return;
        }
        close_dialog();
        session.edit_and_say(&edit);
    };
    view! {
        <Dialog title=format!("Tolerance: {}", lines.body.point_name(point))>
            <form class="stack" on:submit=done>
                <p>"How far this reading may be out, either way. It is the only weight a reading has: a larger one lets the neighbours draw the line."</p>
                <label>"± mm "<input class="field" inputmode="decimal" autocomplete="off" prop:value=typed on:input=move |event| typed.set(event_target_value(&event))/></label>
                <label>"Why, kept with the reading "<input class="wide" required autofocus autocomplete="off" maxlength="1000" prop:value=why on:input=move |event| why.set(event_target_value(&event))/></label>
                <p class="fault says" role="alert">{move || wrong.get()}</p>
                <div class="row">
                    <button type="submit" data-kind="first" disabled=move || why.with(|why| why.trim().is_empty())>"Change it"</button>
                    <button type="button" on:click=|_| close_dialog()>"Leave it"</button>
                </div>
            </form>
        </Dialog>
    }
}
