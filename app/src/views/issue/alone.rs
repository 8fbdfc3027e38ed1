//! The part that is looked at, as a file of its own.

use geometry::issue::sheets::SheetKind;
use geometry::issue::{OutlineForm, Output, PartForm};
use leptos::prelude::*;

use super::Office;
use crate::state::issuing::Issuing;

/// What a part can be saved as, by name; outlines are boards' only.
const FORMS: [(PartForm, &str, &str); 4] = [
    (PartForm::Pdf, "PDF", "Its sheets alone"),
    (
        PartForm::Outline(OutlineForm::Svg),
        "SVG",
        "The board's outline, in mm",
    ),
    (
        PartForm::Outline(OutlineForm::DxfSplines),
        "DXF",
        "The board's outline for a cutter, as splines",
    ),
    (
        PartForm::Outline(OutlineForm::DxfArcs),
        "DXF of arcs",
        "The board's outline for a cutter that takes no splines: arcs within 0.02 mm",
    ),
];

/// The buttons.
#[component]
pub fn Alone(office: Office) -> impl IntoView {
    let issuing = expect_context::<Issuing>();
    let part = Memo::new(move |_| office.part());
    let off = move || {
        let (_, part) = part.get()?;
        let stands = office.told().is_some_and(|(_, now)| now);
        let why = if issuing.runs() {
            "A file is being made."
        } else if part.fault.is_some() {
            "There is no such sheet."
        } else if !stands {
            "The sheets are being laid out."
        } else if !office.goes_out(&part) {
            "It is held back: tick in the list that it is issued all the same."
        } else {
            return None;
        };
        Some(why.to_owned())
    };
    let save = move |form: PartForm| {
        let Some((at, part)) = part.get_untracked() else {
            return;
        };
        if untrack(off).is_none() {
            let gauge = untrack(|| office.gauge());
            let output = Output::Part {
                part: at,
                form,
                gauge,
            };
            issuing.order(output, vec![part.code]);
        }
    };
    let buttons = move || {
        let (_, part) = part.get()?;
        let board = matches!(part.kind, SheetKind::Template | SheetKind::OwnBoard);
        let forms = { FORMS.into_iter() }.filter(|(form, ..)| board || *form == PartForm::Pdf);
        let button = |(form, name, title): (PartForm, &'static str, &'static str)| {
            view! { <button data-kind="lesser" aria-label=format!("This part alone as {name}") aria-disabled=move || off().map(|_| "true") aria-description=off title=title on:click=move |_| save(form)>{name}</button> }
        };
        Some(view! {
            <div class="row sheet-alone">
                <span class="quiet">{format!("{} alone:", part.code)}</span>
                {forms.map(button).collect_view()}
            </div>
        })
    };
    view! { {buttons} }
}
