//! A table as it was read, before anything of it is taken in: what was guessed, torn, refused, contradicted.

use std::sync::Arc;

use geometry::document::paste::understood::{CellAsRead, CellValue, ColumnAsRead, RowAsRead};
use geometry::document::paste::{Separator, TableLayout};
use geometry::document::{
    AboutEdit, BodyEdit, Edit, Folder, Lines, PasteError, Preview, Source, TableOptions, read_table,
};
use geometry::units::{DecimalMark, LengthUnit, Message, format_length};
use leptos::prelude::*;

use crate::jobs::messages::{Tried, Work};
use crate::jobs::{Done, Jobs, Stand};
use crate::state::coming::SOON;
use crate::state::{Came, Incoming, Question, Session};
use crate::views::widgets::{Dialog, close_dialog};
use crate::views::words::{small, unit_named};

/// Most refused cells, findings and torn cells that are listed; the rest is counted.
const LISTED: usize = 40;

/// A table as it was read by what was said of it, or why it could not be.
type Seen = Memo<Arc<Result<Preview, PasteError>>>;

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

/// What the preview calls the source of readings whose source the table does not name.
const UNNAMED: &str = "this table";

/// What a table's lines are called before anyone calls them otherwise: by its file, or with a number where it was pasted.
fn first_title(session: Session, table: &Incoming) -> String {
    match (&table.came, table.name.rsplit_once('.')) {
        (Came::Pasted(_), _) => session.with_name(&table.name),
        (Came::File(_), Some((stem, _))) => stem.to_owned(),
        (Came::File(_), None) => table.name.clone(),
    }
}

/// Lines of a table under this title, which its source without one takes too.
///
/// # Errors
/// What is wrong with the title, in a sentence.
fn named(lines: &Lines, title: &str) -> Result<Lines, String> {
    let unnamed = { lines.body.sources.iter() }.find(|source| source.title == UNNAMED);
    let mut edits: Vec<Edit> = vec![AboutEdit::Title(title.to_owned()).into()];
    edits.extend(unnamed.map(|source| {
        let title = title.to_owned();
        let source = Source {
            title,
            ..source.clone()
        };
        BodyEdit::SetSource(source).into()
    }));
    let name = "title".to_owned();
    let lines = lines.apply(Edit::Many { name, edits });
    lines.map_err(|error| error.message(LengthUnit::Millimetres))
}

/// Shows a table as it was read, before anything is taken in.
#[component]
pub(super) fn TakeIn(table: Arc<Incoming>) -> impl IntoView {
    let session = expect_context::<Session>();
    let said = RwSignal::new(Said::default());
    let heading = format!("Take in: {}", table.name);
    let read = Arc::clone(&table);
    let preview: Seen = Memo::new_with_compare(
        move |_| {
            let said = said.get();
            let options = TableOptions {
                separator: said.separator,
                decimal_mark: said.mark,
                unit: said.unit,
                source: Some(UNNAMED.to_owned()),
                ..TableOptions::default()
            };
            Arc::new(read_table(read.came.bytes(), &options))
        },
        |_: Option<&Arc<Result<Preview, _>>>, _| true,
    );
    let unit = session.standing_now().about.unit;
    let tried = RwSignal::new(None::<Tried>);
    let jobs = Jobs::new(Callback::new(move |done: Done| {
        if let Done::Tried(of) = done {
            tried.set(Some(of));
        }
    }));
    Effect::new(move |_| {
        tried.set(None);
        match &*preview.get() {
            Ok(read) => jobs.order(Work::TryLoft, &read.lines()),
            Err(_) => jobs.stop(),
        }
    });
    let lofting = move || match (tried.get(), jobs.stand.get()) {
        (Some(tried), _) => Lofting::Tried(tried),
        (None, Stand::Failed(sentence)) => Lofting::Failed(sentence),
        (None, Stand::Idle | Stand::Running { .. }) => Lofting::Tries,
    };
    // A person looks for the address in the spreadsheet that it was copied from.
    let is_pasted = table.came.is_pasted();
    let addressed = move || {
        let refused = preview.with(|read| {
            read.as_ref()
                .as_ref()
                .is_ok_and(|read| read.refused_count > 0)
        });
        (is_pasted && refused)
            .then_some("Of the refused cells: C4 counts from the first cell of the pasted text.")
    };
    let of_the_loft = move || lofting().words().filter(|_| preview.get().is_ok());
    let shown = move || match &*preview.get() {
        Ok(read) => read_as(read).into_any(),
        Err(error) => view! { <p role="alert" class="fault">{error.message(unit)}</p> }.into_any(),
    };
    // Not in what is read aloud at each change: that is its figures, and what was not taken.
    let table_seen = move || preview.get().as_ref().as_ref().ok().map(understood);
    view! {
        <Dialog title=heading>
            <div class="stack">
                <Guesses preview=preview said=said/>
                {table_seen}
                <div class="stack" aria-live="polite">{shown}</div>
                <p class="quiet">{addressed}</p>
                <p class="says" role="status">{of_the_loft}</p>
                <Naming preview=preview table=table/>
            </div>
        </Dialog>
    }
}

/// Asks what the lines are called, takes them in under that name, and says what is wrong with it.
#[component]
fn Naming(preview: Seen, table: Arc<Incoming>) -> impl IntoView {
    let session = expect_context::<Session>();
    let first = first_title(session, &table);
    let called = RwSignal::new(first.clone());
    let wrong = RwSignal::new(None::<String>);
    let take = move |_| {
        let Ok(read) = &*preview.get_untracked() else {
            return;
        };
        let called = called.get_untracked();
        let called = Some(called.trim()).filter(|called| !called.is_empty());
        let called = called.unwrap_or(&first);
        match named(&read.lines(), called) {
            Ok(lines) => {
                wrong.set(None);
                let folder = Folder {
                    lines,
                    revisions: Vec::new(),
                };
                if session.take_in(folder, &format!("Took in {called}")) {
                    close_dialog();
                }
            }
            Err(sentence) => wrong.set(Some(sentence)),
        }
    };
    let leave = if table.came.is_pasted() {
        "Back to the text"
    } else {
        "Leave it"
    };
    let back = move |_| match &table.came {
        Came::Pasted(text) => session.ask(Question::Again(Arc::clone(text))),
        Came::File(_) => close_dialog(),
    };
    let refused = move || preview.get().is_err();
    view! {
        <div class="row">
            <label>"Call these lines "<input class="name" aria-label="Call these lines" autocomplete="off" prop:value=called on:input=move |event| called.set(event_target_value(&event))/></label>
            <button data-kind="first" disabled=refused on:click=take>"Take in"</button>
            <button on:click=back>{leave}</button>
        </div>
        <p class="fault says" role="alert">{move || wrong.get()}</p>
    }
}

/// What was guessed of the table, each changeable.
#[component]
fn Guesses(preview: Seen, said: RwSignal<Said>) -> impl IntoView {
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

/// What came of lofting the lines of a table.
#[derive(Clone, Debug, PartialEq)]
enum Lofting {
    /// A worker is at it.
    Tries,
    /// It was tried.
    Tried(Tried),
    /// It could not be tried, and why.
    Failed(String),
}

impl Lofting {
    fn words(&self) -> Option<String> {
        match self {
            Self::Tries => Some("Whether it can be lofted is being tried …".to_owned()),
            Self::Failed(sentence) => Some(format!(
                "Whether it can be lofted could not be tried. {sentence}"
            )),
            Self::Tried(Tried {
                fault: Some(fault), ..
            }) => Some(format!("As it was read it can't be lofted. {fault}")),
            Self::Tried(Tried { fault: None, took }) => (*took > SOON).then(|| {
                format!(
                    "To loft it takes about {:.0} s, and the page stands still meanwhile.",
                    (took / 1000.0).ceil()
                )
            }),
        }
    }
}

/// Which readings of the lines of a table contradict.
fn contradictions(lines: &Lines) -> Vec<String> {
    let mut said = Vec::new();
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

/// A cell as it was understood, in its column's unit.
fn cell(column: &ColumnAsRead, cell: CellAsRead) -> AnyView {
    let unit = column.unit.unwrap_or_default();
    match cell.value {
        CellValue::Words if column.unit.is_none() => {
            view! { <td class="words">{cell.text}</td> }.into_any()
        }
        CellValue::Words => view! { <td class="quiet">"–"</td> }.into_any(),
        CellValue::Torn => view! { <td data-mark="torn">"torn"</td> }.into_any(),
        CellValue::Length(mm) => view! { <td>{format_length(mm, unit)}</td> }.into_any(),
        CellValue::Both(both) => {
            let [out, up] = both.map(|mm| format_length(mm, unit));
            view! { <td>{out}"/"{up}</td> }.into_any()
        }
        CellValue::Refused => {
            view! { <td data-mark="refused"><b>"refused "</b>{cell.text}</td> }.into_any()
        }
        CellValue::NotTaken => {
            view! { <td class="quiet">"not taken "<s>{cell.text}</s></td> }.into_any()
        }
    }
}

/// What of a table is not shown, and how much of it was lost.
fn not_shown(read: &Preview, across: bool) -> String {
    let of = &read.understood;
    let (row, column) = if across {
        ("column", "row")
    } else {
        ("row", "column")
    };
    let more = |many: usize, what: &str| match many {
        1 => format!("1 more {what} "),
        many => format!("{many} more {what}s "),
    };
    let mut says = Vec::new();
    if of.not_shown > 0 {
        let were = if of.not_shown == 1 { "was" } else { "were" };
        let lost = match of.not_shown_lost {
            0 => "none with a torn or a refused cell.".to_owned(),
            1 if of.not_shown == 1 => {
                "with a torn or a refused cell: see the list below.".to_owned()
            }
            1 => "1 of them with a torn or a refused cell: see the list below.".to_owned(),
            lost => format!("{lost} of them with a torn or a refused cell: see the list below."),
        };
        says.push(format!("{}{were} read, {lost}", more(of.not_shown, row)));
    }
    if of.columns_not_shown > 0 {
        let are = if of.columns_not_shown == 1 {
            "is"
        } else {
            "are"
        };
        let columns = more(of.columns_not_shown, column);
        says.push(format!("{columns}{are} not shown here."));
    }
    says.join(" ")
}

/// The table, column by column and row by row, as it was understood.
fn understood(read: &Preview) -> impl IntoView + use<> {
    let columns = read.understood.columns.clone();
    let across = read.form == TableLayout::StationsAcross;
    let head = |column: &ColumnAsRead| {
        let words = column.unit.is_none().then_some("words");
        let unit = column
            .unit
            .map(|unit| view! { <span>{unit.short()}</span> });
        view! { <th scope="col" class=words><b>{column.head.clone()}</b><span>{column.message(read.unit)}</span>{unit}</th> }
    };
    let heads = columns.iter().map(head).collect_view();
    let row = |row: &RowAsRead| {
        let cells = columns.iter().zip(row.cells.iter().cloned());
        let cells = cells.map(|(column, of)| cell(column, of)).collect_view();
        view! { <tr><th scope="row">{row.place.clone()}</th>{cells}</tr> }
    };
    let rows = read.understood.rows.iter().map(row).collect_view();
    let more = not_shown(read, across);
    let corner = if across { "Column" } else { "Row" };
    view! {
        <div>
            <h3>"As it was understood"</h3>
            <div class="scrolled" tabindex="0" role="region" aria-label="The table as it was understood">
                <table class="plain as-read">
                    <thead><tr><th scope="col"><b>{corner}</b></th>{heads}</tr></thead>
                    <tbody>{rows}</tbody>
                </table>
            </div>
            <p class="quiet">{more}</p>
        </div>
    }
}

fn read_as(read: &Preview) -> impl IntoView + use<> {
    // The table speaks of itself in its own unit.
    let unit = read.unit;
    let form = match read.form {
        TableLayout::Long => "one reading a row",
        TableLayout::StationsDown => "a paper table, one station a row",
        TableLayout::StationsAcross => "a paper table, one station a column",
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
    let mut findings = contradictions(&read.lines());
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
