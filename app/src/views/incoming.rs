//! What comes in: lines files at once, tables only after they were seen as they were read.

use std::sync::Arc;

use geometry::document::paste::{Separator, TableForm};
use geometry::document::{
    AboutEdit, Folder, Lines, Preview, Source, SourceId, TableOptions, read_folder, read_table,
};
use geometry::loft::Loft;
use geometry::units::{DecimalMark, LengthUnit, Message};
use leptos::prelude::*;
use wasm_bindgen::JsCast;

use super::card::small;
use super::header::unit_named;
use super::pieces::look_at;
use super::widgets::{Dialog, close_dialog};
use crate::exchange;
use crate::state::keeping::Keeping;
use crate::state::{Incoming, NoteKind, Question, Screen, Session, empty};
use crate::storage::Former;

/// Largest file that is read, in bytes.
const LARGEST: usize = 32 << 20;

/// Most refused cells, findings and torn cells that are listed; the rest is counted.
const LISTED: usize = 40;

/// Takes bytes for what they are: lines, or else a table to be looked at.
fn receive(session: Session, name: &str, bytes: Vec<u8>) {
    let unit = session.standing_now().about.unit;
    if bytes.trim_ascii_start().starts_with(b"{") {
        close_dialog();
        match read_folder(&bytes) {
            Ok(folder) => {
                if session.take_in(folder, &format!("Opened {name}")) {
                    session.has_saved();
                }
            }
            Err(error) => session.say(NoteKind::Fault, format!("{name}: {}", error.message(unit))),
        }
        return;
    }
    session
        .question
        .set(Some(Question::TakeIn(Arc::new(Incoming {
            name: name.to_owned(),
            bytes,
        }))));
}

/// Reads a file and takes it for what it is.
fn receive_file(session: Session, file: web_sys::File) {
    leptos::task::spawn_local(async move {
        let name = file.name();
        match exchange::read(&file, LARGEST).await {
            Ok(bytes) => receive(session, &name, bytes),
            Err(sentence) => session.say(NoteKind::Fault, sentence),
        }
    });
}

/// A file was dropped on the page.
pub fn dropped(session: Session, event: &web_sys::Event) {
    event.prevent_default();
    let files = event
        .dyn_ref::<web_sys::DragEvent>()
        .and_then(web_sys::DragEvent::data_transfer)
        .and_then(|data| data.files());
    if let Some(file) = files.and_then(|files| files.get(0)) {
        receive_file(session, file);
    }
}

/// Something was pasted outside a field: a link, lines or a table.
pub fn pasted(session: Session, event: &web_sys::Event) {
    if exchange::in_a_field(event) || event.default_prevented() {
        return;
    }
    if let Some(text) = exchange::pasted_text(event).filter(|text| !text.trim().is_empty()) {
        event.prevent_default();
        receive_text(session, &text);
    }
}

fn receive_text(session: Session, text: &str) {
    let link = text.trim().split_once('#').map(|(_, fragment)| fragment);
    if let (Some(fragment), false) = (link, text.trim().contains(char::is_whitespace))
        && fragment.starts_with("SB")
    {
        close_dialog();
        look_at(session, fragment.to_owned());
        return;
    }
    receive(session, "Pasted table", text.as_bytes().to_vec());
}

/// Asks what to open.
#[component]
pub fn Open() -> impl IntoView {
    let session = expect_context::<Session>();
    let text = RwSignal::new(String::new());
    let chosen = move |event: leptos::ev::Event| {
        let input = event
            .target()
            .and_then(|t| t.dyn_into::<web_sys::HtmlInputElement>().ok());
        if let Some(file) = input.and_then(|i| i.files()).and_then(|files| files.get(0)) {
            receive_file(session, file);
        }
    };
    view! {
        <Dialog title="Open lines or an offsets table">
            <div class="stack">
                <label class="stack">"A lines file, or a table as CSV, TSV or text: choose it, or drop it anywhere on the page."
                    <input type="file" aria-label="File" accept=".json,.csv,.tsv,.txt" on:change=chosen/>
                </label>
                <label class="stack">"Or paste a table here, as it stands in a spreadsheet."
                    <textarea rows="6" aria-label="Pasted table" spellcheck="false" prop:value=text on:input=move |event| text.set(event_target_value(&event))></textarea>
                </label>
                <p class="quiet">"One reading a row: station, x, line, half_breadth, height. Or as on paper: a station column, then crown, WL 44, BL 12, joint, keel; a run line's cell holds half-breadth/height, and ? is torn. Feet-inches-eighths as 1-2-3+."</p>
                <div class="row">
                    <button data-kind="first" disabled=move || text.with(|t| t.trim().is_empty()) on:click=move |_| receive_text(session, &text.get_untracked())>"Look at the table"</button>
                    <button on:click=|_| close_dialog()>"Close"</button>
                </div>
                <OpenBefore/>
                <FromNothing/>
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
            close_dialog();
            session.take_in(folder.clone(), &format!("Brought back {title}"));
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
fn FromNothing() -> impl IntoView {
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
                    session.screen.set(Screen::Evidence);
                }
            }
            Err(error) => wrong.set(Some(error.message(unit.get_untracked()))),
        }
    };
    view! {
        <form on:submit=start>
            <fieldset>
                <legend>"Or start with nothing"</legend>
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

/// What a person may say otherwise than it was guessed.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
struct Said {
    separator: Option<Separator>,
    mark: Option<DecimalMark>,
    unit: Option<LengthUnit>,
}

const SEPARATORS: [Separator; 3] = [Separator::Comma, Separator::Semicolon, Separator::Tab];

fn mark_name(mark: DecimalMark) -> &'static str {
    match mark {
        DecimalMark::Point => "point",
        DecimalMark::Comma => "comma",
    }
}

/// Shows a table as it was read, before anything is taken in.
#[component]
pub fn TakeIn(table: Arc<Incoming>) -> impl IntoView {
    let session = expect_context::<Session>();
    let said = RwSignal::new(Said::default());
    let name = table.name.clone();
    let title = name
        .rsplit_once('.')
        .map_or(name.clone(), |(stem, _)| stem.to_owned());
    let heading = format!("Take in: {name}");
    let preview = Memo::new_with_compare(
        move |_| {
            let said = said.get();
            let options = TableOptions {
                separator: said.separator,
                decimal_mark: said.mark,
                unit: said.unit,
                title: Some(title.clone()),
                source: Some(title.clone()),
                ..TableOptions::default()
            };
            Arc::new(read_table(&table.bytes, &options))
        },
        |_: Option<&Arc<Result<Preview, _>>>, _| true,
    );
    let unit = session.standing_now().about.unit;
    let take = move |_| {
        let Ok(read) = &*preview.get_untracked() else {
            return;
        };
        close_dialog();
        let folder = Folder {
            lines: read.lines(),
            revisions: Vec::new(),
        };
        session.take_in(folder, &format!("Took in {name}"));
    };
    let shown = move || match &*preview.get() {
        Ok(read) => read_as(read, unit).into_any(),
        Err(error) => view! { <p role="alert" class="fault">{error.message(unit)}</p> }.into_any(),
    };
    let refused = move || preview.get().is_err();
    view! {
        <Dialog title=heading>
            <div class="stack">
                <Guesses preview=preview said=said/>
                <div class="stack" aria-live="polite">{shown}</div>
                <div class="row">
                    <button data-kind="first" disabled=refused on:click=take>"Take in"</button>
                    <button on:click=|_| close_dialog()>"Leave it"</button>
                </div>
            </div>
        </Dialog>
    }
}

/// What was guessed of the table, each changeable.
#[component]
fn Guesses(
    preview: Memo<Arc<Result<Preview, geometry::document::PasteError>>>,
    said: RwSignal<Said>,
) -> impl IntoView {
    let of = move |look: fn(&Preview) -> &'static str| match &*preview.get() {
        Ok(read) => look(read),
        Err(_) => "",
    };
    let separator = move || {
        let chosen = said.get().separator.map(Separator::name);
        chosen.unwrap_or_else(|| of(|read| read.separator.name()))
    };
    let mark = move || {
        let chosen = said.get().mark.map(mark_name);
        chosen.unwrap_or_else(|| of(|read| mark_name(read.decimal_mark)))
    };
    let unit = move || {
        let chosen = said.get().unit.map(LengthUnit::short);
        chosen.unwrap_or_else(|| of(|read| read.unit.short()))
    };
    let set_separator = move |event: leptos::ev::Event| {
        let name = event_target_value(&event);
        said.update(|said| said.separator = SEPARATORS.into_iter().find(|s| s.name() == name));
    };
    let set_mark = move |event: leptos::ev::Event| {
        let name = event_target_value(&event);
        let all = [DecimalMark::Point, DecimalMark::Comma];
        said.update(|said| said.mark = all.into_iter().find(|m| mark_name(*m) == name));
    };
    let set_unit = move |event: leptos::ev::Event| {
        let name = event_target_value(&event);
        said.update(|said| said.unit = Some(unit_named(&name)));
    };
    view! {
        <div class="row">
            <label>"Columns parted by "<select aria-label="Columns parted by" prop:value=separator on:change=set_separator>
                <option value="comma">"comma"</option><option value="semicolon">"semicolon"</option><option value="tab">"tab"</option>
            </select></label>
            <label>"Decimal mark "<select aria-label="Decimal mark" prop:value=mark on:change=set_mark>
                <option value="point">"point"</option><option value="comma">"comma"</option>
            </select></label>
            <label>"Unit of bare numbers "<select aria-label="Unit of bare numbers" prop:value=unit on:change=set_unit>
                <option value="mm">"mm"</option><option value="in">"in"</option><option value="ft-in-8">"ft-in-8"</option>
            </select></label>
        </div>
    }
}

/// What the lines of a table say against themselves: that they give no loft, and which readings contradict.
fn matters(lines: &Lines, unit: LengthUnit) -> Vec<String> {
    let mut said: Vec<String> = Loft::build(&lines.body)
        .err()
        .map(|error| format!("As it was read it can't be lofted. {}", error.message(unit)))
        .into_iter()
        .collect();
    for against in lines.body.contradictions() {
        let titles: Vec<String> = lines
            .body
            .point(against.point)
            .into_iter()
            .flat_map(|point| against.readings.map(|number| &point.readings[number]))
            .filter_map(|reading| lines.body.source(reading.source))
            .map(|source| source.title.clone())
            .collect();
        said.push(format!(
            "{}: {} disagree by {}, and their tolerances allow {}.",
            lines.body.point_name(against.point),
            titles.join(" and "),
            small(against.apart),
            small(against.allowed)
        ));
    }
    said
}

fn read_as(read: &Preview, unit: LengthUnit) -> impl IntoView + use<> {
    let form = match read.form {
        TableForm::Long => "one reading a row",
        TableForm::StationsDown => "a paper table, one station a row",
        TableForm::StationsAcross => "a paper table, one station a column",
    };
    let torn: Vec<String> = read.torn.iter().map(ToString::to_string).collect();
    let counted = |shown: usize, all: usize| {
        (all > shown)
            .then(|| view! { <li class="quiet">{format!("and {} more", all - shown)}</li> })
    };
    let refused: Vec<String> = read
        .refused
        .iter()
        .take(LISTED)
        .map(|cell| cell.message(unit))
        .collect();
    let mut findings = matters(&read.lines(), unit);
    findings.extend(read.findings.iter().map(|finding| finding.message(unit)));
    let found = findings.len();
    findings.truncate(LISTED);
    let more_refused = counted(refused.len(), read.refused_count);
    let quiet = findings.is_empty();
    let more_findings = counted(findings.len(), found);
    let list = |items: Vec<String>| {
        items
            .into_iter()
            .map(|text| view! { <li>{text}</li> })
            .collect_view()
    };
    let refused_head = if read.refused_count == 0 {
        "No cell refused".to_owned()
    } else {
        format!("Refused cells {}", read.refused_count)
    };
    view! {
        <dl class="figures">
            <div><dt>"Laid out as"</dt><dd>{form}</dd></div>
            <div><dt>"Rows read"</dt><dd>{read.rows}</dd></div>
            <div><dt>"Stations"</dt><dd>{read.stations}</dd></div>
            <div><dt>"Readings"</dt><dd>{read.values}</dd></div>
            <div><dt>"Torn cells"</dt><dd>{torn.len()}</dd></div>
        </dl>
        {(!torn.is_empty()).then(|| view! { <p><b>"Torn: "</b>{torn.join("; ")}"."</p> })}
        <div><h3>{refused_head}</h3><ul class="findings" tabindex="0" aria-label="Refused cells">{list(refused)}{more_refused}</ul></div>
        <div hidden=quiet><h3>"Worth knowing"</h3><ul class="findings" tabindex="0" aria-label="Worth knowing">{list(findings)}{more_findings}</ul></div>
    }
}
