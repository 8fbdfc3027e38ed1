//! What to open: a file, a pasted table, what was open before, or nothing yet.

use geometry::document::{AboutEdit, Folder, Source, SourceId, read_folder};
use geometry::units::Message;
use leptos::prelude::*;
use wasm_bindgen::JsCast;

use super::{receive_file, receive_text};
use crate::exchange;
use crate::state::coming::Coming;
use crate::state::keeping::Keeping;
use crate::state::{Screen, Session, empty};
use crate::storage::Former;
use crate::views::widgets::{Dialog, close_dialog};
use crate::views::words::unit_named;

/// Asks what to open, or with what to start.
#[component]
pub(super) fn Open(
    /// Whether one's own lines are to be started.
    own: bool,
    /// The table that stands in the box: one that was looked at, to be put right.
    text: String,
) -> impl IntoView {
    let (session, coming) = (expect_context::<Session>(), expect_context::<Coming>());
    let again = !text.is_empty();
    let text = RwSignal::new(text);
    let chosen = move |event: leptos::ev::Event| {
        let input = event
            .target()
            .and_then(|t| t.dyn_into::<web_sys::HtmlInputElement>().ok());
        if let Some(file) = input.and_then(|i| i.files()).and_then(|files| files.get(0)) {
            receive_file(session, file);
        }
    };
    let title = if own {
        "Start your own"
    } else {
        "Open lines or an offsets table"
    };
    view! {
        <Dialog title=title>
            <div class="stack">
                {own.then(|| view! { <FromNothing legend="With nothing"/> })}
                {own.then(|| view! { <h3>"Or with what you have"</h3> })}
                <label class="stack">"A lines file, or a table as CSV, TSV or text: choose it, or drop it anywhere on the page."
                    <input type="file" aria-label="File" accept=".json,.csv,.tsv,.txt" on:change=chosen/>
                </label>
                <label class="stack">"Or paste a table here, as it stands in a spreadsheet."
                    <textarea rows=if again { "14" } else { "6" } autofocus=again aria-label="Pasted table" spellcheck="false" prop:value=text on:input=move |event| text.set(event_target_value(&event))></textarea>
                </label>
                <p class="quiet">"One reading a row: station, x, line, half_breadth, height. Or as on paper: a station column, then crown, WL 44, BL 12, joint, keel; a run line's cell holds half-breadth/height, and ? is torn. Feet-inches-eighths as 1-2-3+."</p>
                <div class="row">
                    <button data-kind="first" disabled=move || text.with(|t| t.trim().is_empty()) on:click=move |_| receive_text(session, coming, &text.get_untracked())>"Look at the table"</button>
                    <button on:click=|_| close_dialog()>"Close"</button>
                </div>
                {(!own).then(|| view! { <OpenBefore/><FromNothing legend="Or start with nothing"/> })}
            </div>
        </Dialog>
    }
}

/// What was open before other work took its place: each can be brought back.
#[component]
fn OpenBefore() -> impl IntoView {
    let session = expect_context::<Session>();
    let keeping = expect_context::<Keeping>();
    let found = RwSignal::new(Ok(Vec::new()));
    leptos::task::spawn_local(async move {
        let listed = keeping.former().await;
        // The dialog may be closed by now.
        found.try_set(listed);
    });
    let unit = session.standing_now().about.unit;
    let row = move |former: Former| {
        let time = exchange::time_of_day(former.when);
        let folder = match read_folder(&former.bytes) {
            Ok(folder) => folder,
            Err(error) => {
                let says = format!("Work of {time} can't be read. {}", error.message(unit));
                return view! { <li class="fault">{says}</li> }.into_any();
            }
        };
        let title = folder.lines.about.title.clone();
        let words = format!("{title} · {} · {time}", folder.lines.fingerprint().short());
        let name = format!("Bring it back: {words}");
        let back = move |_| {
            if session.take_in(folder.clone(), &format!("Brought back {title}")) {
                close_dialog();
            }
        };
        view! { <li class="row"><span>{words}</span><button aria-label=name on:click=back>"Bring it back"</button></li> }
            .into_any()
    };
    move || {
        match found.get() {
        Ok(all) if all.is_empty() => None,
        Ok(all) => {
            let rows = all.into_iter().map(row).collect_view();
            let list = view! { <fieldset><legend>"What was open before"</legend><ul class="findings">{rows}</ul></fieldset> };
            Some(list.into_any())
        }
        Err(_) => Some(
            view! { <p class="fault">"What was open before can't be listed: the storage of this device can't be read now. Try again later."</p> }
                .into_any(),
        ),
    }
    }
}

/// Starts lines with nothing in them but their title, their unit and a source.
#[component]
fn FromNothing(legend: &'static str) -> impl IntoView {
    let session = expect_context::<Session>();
    let title = RwSignal::new(String::new());
    let source = RwSignal::new(String::new());
    let unit = RwSignal::new(session.standing_now().about.unit);
    let wrong = RwSignal::new(None::<String>);
    let start = move |event: web_sys::SubmitEvent| {
        event.prevent_default();
        let title = title.with_untracked(|title| title.trim().to_owned());
        let title = if title.is_empty() {
            "New lines".to_owned()
        } else {
            title
        };
        let source = source.with_untracked(|source| source.trim().to_owned());
        let source = if source.is_empty() {
            "Sheet 1".to_owned()
        } else {
            source
        };
        let mut lines = empty("");
        lines.about.unit = unit.get_untracked();
        lines.body_mut().sources = vec![Source::new(SourceId(0), &source)];
        // The title goes by the edit's door, which says what is wrong with it.
        match lines.apply(AboutEdit::Title(title.clone())) {
            Ok(lines) => {
                let folder = Folder {
                    lines,
                    revisions: Vec::new(),
                };
                if session.take_in(folder, &format!("Started {title}")) {
                    close_dialog();
                    session.go_to(Screen::Evidence);
                }
            }
            Err(error) => wrong.set(Some(error.message(unit.get_untracked()))),
        }
    };
    view! {
        <form on:submit=start>
            <fieldset>
                <legend>{legend}</legend>
                <div class="row">
                    <label>"What is built "<input class="name" aria-label="Title of the new lines" autocomplete="off" prop:value=title on:input=move |event| title.set(event_target_value(&event))/></label>
                    <label>"First source "<input class="name" aria-label="First source" autocomplete="off" placeholder="Sheet 1" prop:value=source on:input=move |event| source.set(event_target_value(&event))/></label>
                    <label>"Unit "<select aria-label="Unit of the new lines" prop:value=move || unit.get().short() on:change=move |event| unit.set(unit_named(&event_target_value(&event)))>
                        <option value="mm">"mm"</option><option value="in">"in"</option><option value="ft-in-8">"ft-in-8"</option>
                    </select></label>
                    <button type="submit">"Start"</button>
                </div>
                <p class="fault says" role="alert">{move || wrong.get()}</p>
            </fieldset>
        </form>
    }
}
