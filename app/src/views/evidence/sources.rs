//! The sources: which one new readings come from, and what is to be known of each.

use geometry::document::{
    BodyEdit, Counted, Datum, Edit, Lines, Reading, Sense, SkinSide, Source, SourceId,
};
use geometry::units::{
    Digits, LengthUnit, Message, format_length_to, format_length_with_unit, parse_length,
};
use leptos::prelude::*;

use super::Desk;
use super::table::text_of_point;
use crate::state::{Question, Session};
use crate::views::explained::{Asked, SKIN, ZERO};
use crate::views::widgets::{Dialog, close_dialog};
use crate::views::words::{small, unit_named};

/// Where the readings come from; the chosen one is that of new readings.
#[component]
pub(super) fn Sources(desk: Desk) -> impl IntoView {
    let Desk {
        session, derived, ..
    } = desk;
    let sources = Memo::new(move |_| {
        derived.standing.with(|lines| {
            let count = |id: SourceId| {
                let readings = lines.body.points.iter().flat_map(|point| &point.readings);
                readings.filter(|reading| reading.source == id).count()
            };
            let each = lines.body.sources.iter();
            let stay = |id: SourceId| lines.body.shifted(id).alone.len();
            each.map(|s| (s.id, s.title.clone(), known(s, count(s.id), stay(s.id))))
                .collect::<Vec<_>>()
        })
    });
    let chosen = move |id: SourceId| {
        let first = sources.with(|all| all.first().map(|s| s.0));
        desk.source.get().or(first) == Some(id)
    };
    let one = move |(id, title, known): (SourceId, String, String)| {
        view! {
            <button class="source" aria-pressed=move || chosen(id).to_string() on:click=move |_| desk.source.set(Some(id))>
                <b>{title}</b><span class="quiet">{known}</span>
            </button>
        }
    };
    let title = RwSignal::new(String::new());
    let add = move |event: web_sys::SubmitEvent| {
        event.prevent_default();
        let name = title.get_untracked();
        if name.trim().is_empty() {
            return;
        }
        if desk.edit(Some(BodyEdit::AddSource(name).into())) {
            title.set(String::new());
            let last = session.standing_now().body.sources.last().map(|s| s.id);
            desk.source.set(last);
        }
    };
    let locked = move || session.only_looks();
    view! {
        <div class="sources" role="group" aria-label="Sources; new readings come from the chosen one">
            {move || sources.get().into_iter().map(one).collect_view()}
            <button class="about" disabled=locked hidden=move || sources.with(Vec::is_empty) on:click=move |_| session.ask(Question::Source(desk.source_now()))>"About it"</button>
            <form class="row" on:submit=add>
                <input class="source-name" aria-label="Title of a new source" autocomplete="off" placeholder="another source" disabled=locked prop:value=title on:input=move |event| title.set(event_target_value(&event))/>
                <button type="submit" disabled=locked>"Add"</button>
            </form>
        </div>
    }
}

/// What is known of a source, in a few words.
fn known(source: &Source, count: usize, stay: usize) -> String {
    let readings = if count == 1 { "reading" } else { "readings" };
    let mut words = vec![format!("{count} {readings}")];
    if let Some(unit) = source.unit {
        words.push(unit.short().to_owned());
    }
    let aft = source.datum.aft;
    let level = Datum {
        aft: 0.0,
        ..source.datum
    };
    if level != Datum::default() {
        words.push("own datum".to_owned());
    }
    if aft.abs() > 0.0 {
        let way = if aft > 0.0 { "aft" } else { "forward" };
        words.push(format!("stations {} {way}", small(aft.abs())));
    }
    if stay > 0 {
        words.push(format!("{stay} not shifted"));
    }
    if let SkinSide::Inside { thickness } = source.surface {
        words.push(format!("inside a skin of {}", small(thickness)));
    }
    words.join(", ")
}

/// A length in a box; one that is left as it stood keeps its value, which the box may show rounded.
#[derive(Clone, Copy)]
struct Boxed {
    text: RwSignal<String>,
    was: StoredValue<(String, Option<f64>)>,
    unit: LengthUnit,
}

impl Boxed {
    fn of(mm: Option<f64>, unit: LengthUnit) -> Self {
        let text = mm.map_or_else(String::new, |mm| format_length_to(mm, unit, Digits::Fine));
        Self {
            text: RwSignal::new(text.clone()),
            was: StoredValue::new((text, mm)),
            unit,
        }
    }

    /// What it says, mm; none where it is empty.
    ///
    /// # Errors
    /// Why it can't be read, under its name.
    fn read(self, name: &str) -> Result<Option<f64>, String> {
        let text = self.text.get_untracked();
        let (was, mm) = self.was.get_value();
        if text == was {
            return Ok(mm);
        }
        if text.trim().is_empty() {
            return Ok(None);
        }
        parse_length(&text, self.unit)
            .map(Some)
            .map_err(|error| format!("{name}: {}", error.message(self.unit)))
    }
}

/// What is known of a source, as it is typed.
#[derive(Clone, Copy)]
struct TypedSource {
    title: RwSignal<String>,
    height: (Boxed, RwSignal<Sense>),
    half_breadth: (Boxed, RwSignal<Sense>),
    aft: Boxed,
    unit: RwSignal<Option<LengthUnit>>,
    rounding: Boxed,
    all_alike: RwSignal<bool>,
    inside: RwSignal<bool>,
    thickness: Boxed,
}

impl TypedSource {
    fn of(source: &Source, lines: &Lines) -> Self {
        // Sheets and steps of a scale are said in millimetres or decimal inches, whatever the offsets are in.
        let (unit, small) = (lines.about.unit, lines.about.unit.along());
        let counted = |counted: Counted| {
            let from = Boxed::of(Some(counted.from), unit);
            (from, RwSignal::new(counted.sense))
        };
        let thickness = match source.surface {
            SkinSide::Inside { thickness } => Some(thickness),
            SkinSide::Outside => lines.shop.skin_thickness,
        };
        Self {
            title: RwSignal::new(source.title.clone()),
            height: counted(source.datum.height),
            half_breadth: counted(source.datum.half_breadth),
            aft: Boxed::of(Some(source.datum.aft), small),
            unit: RwSignal::new(source.unit),
            rounding: Boxed::of(source.rounding, small),
            all_alike: RwSignal::new(false),
            inside: RwSignal::new(source.surface != SkinSide::Outside),
            thickness: Boxed::of(thickness, small),
        }
    }

    /// The edit that it means.
    ///
    /// # Errors
    /// Which box can't be read and why.
    fn edit(self, lines: &Lines, id: SourceId) -> Result<Edit, String> {
        const THICKNESS: &str = "Thickness of the skin";
        let counted = |name: &str, (from, sense): (Boxed, RwSignal<Sense>)| {
            Ok::<_, String>(Counted {
                from: from.read(name)?.unwrap_or(0.0),
                sense: sense.get_untracked(),
            })
        };
        let surface = if self.inside.get_untracked() {
            let thickness = self.thickness.read(THICKNESS)?;
            let missing = || format!("{THICKNESS}: type it, as 1.2 mm or 0.05 in.");
            SkinSide::Inside {
                thickness: thickness.ok_or_else(missing)?,
            }
        } else {
            SkinSide::Outside
        };
        let source = Source {
            id,
            title: self.title.get_untracked(),
            datum: Datum {
                half_breadth: counted("Zero of the half-breadths", self.half_breadth)?,
                height: counted("Zero of the heights", self.height)?,
                aft: self.aft.read("Stations further aft")?.unwrap_or(0.0),
            },
            unit: self.unit.get_untracked(),
            rounding: self.rounding.read("Rounded to")?,
            surface,
        };
        let tolerance = source.rounding.filter(|_| self.all_alike.get_untracked());
        let name = format!("source {}", source.title.trim());
        let mut edits = vec![BodyEdit::SetSource(source)];
        for point in lines.body.points.iter().filter(|_| tolerance.is_some()) {
            let own = point.readings.iter().enumerate();
            let own = own.filter(|(_, reading)| reading.source == id);
            edits.extend(own.filter_map(|(reading, _)| {
                Some(BodyEdit::SetTolerance {
                    point: point.id,
                    reading,
                    tolerance: tolerance?,
                })
            }));
        }
        let edits = edits.into_iter().map(Edit::from).collect();
        Ok(Edit::Many { name, edits })
    }

    /// What becomes of the source's first reading, in a sentence; none where it has none or a box can't be read.
    fn example(self, lines: &Lines, id: SourceId) -> Option<String> {
        self.follow();
        let own = |reading: &Reading| reading.source == id;
        let point = lines
            .body
            .points
            .iter()
            .find(|point| point.readings.iter().any(own))?;
        let number = point.readings.iter().position(own)?;
        let typed = text_of_point(lines, point);
        let changed = lines.apply(&self.edit(lines, id).ok()?).ok()?;
        let point = changed.body.point(point.id)?;
        let length = |mm: f64| format_length_with_unit(mm, lines.about.unit);
        let [breadth, height] = changed.body.at_station(point, point.readings.get(number)?);
        let breadth = breadth.map(|mm| format!("half-breadth {}", length(mm)));
        let height = height.map(|mm| format!("height {}", length(mm)));
        let says: Vec<String> = breadth.into_iter().chain(height).collect();
        let name = lines.body.name_of(point);
        let stay = changed.body.shifted(id).words(&changed.body);
        Some(format!(
            "{name}, read {typed}, is then {}. {}",
            says.join(", "),
            stay.unwrap_or_default()
        ))
    }

    /// Follows what the example depends on.
    fn follow(self) {
        for text in [self.height.0.text, self.half_breadth.0.text, self.aft.text] {
            text.track();
        }
        for sense in [self.height.1, self.half_breadth.1] {
            sense.track();
        }
    }
}

/// Asks what is to be known of a source.
#[component]
pub fn AboutSource(id: SourceId) -> impl IntoView {
    let session = expect_context::<Session>();
    let lines = session.standing_now();
    let source = lines.body.source(id).cloned();
    let source = source.unwrap_or_else(|| Source::new(id, ""));
    let typed = TypedSource::of(&source, &lines);
    let mut readings = lines.body.points.iter().flat_map(|point| &point.readings);
    let bare = !readings.any(|reading| reading.source == id);
    let wrong = RwSignal::new(None::<String>);
    let done = move |edit: Result<Edit, String>| match edit.and_then(|edit| session.try_edit(&edit))
    {
        Ok(()) => close_dialog(),
        Err(why) => wrong.set(Some(why)),
    };
    let take = move |event: web_sys::SubmitEvent| {
        event.prevent_default();
        done(typed.edit(&session.standing_now(), id));
    };
    let unit = move || typed.unit.get().map_or("", LengthUnit::short);
    let set_unit = move |event: leptos::ev::Event| {
        let name = event_target_value(&event);
        typed
            .unit
            .set((!name.is_empty()).then(|| unit_named(&name)));
    };
    let side = move || {
        if typed.inside.get() {
            "inside"
        } else {
            "outside"
        }
    };
    let set_side = move |event: leptos::ev::Event| {
        typed.inside.set(event_target_value(&event) == "inside");
    };
    view! {
        <Dialog title=format!("Source: {}", source.title)>
            <form class="stack" on:submit=take>
                <label>"Title "<input class="wide" autocomplete="off" maxlength="200" prop:value=typed.title on:input=move |event| typed.title.set(event_target_value(&event))/></label>
                <fieldset>
                    <legend>"Counted from"</legend>
                    <Zero name="Heights" typed=typed.height ways=["up", "down"] at="high"/>
                    <Zero name="Half-breadths" typed=typed.half_breadth ways=["outward", "inward"] at="out"/>
                    <div class="row"><label>"Stations: its own lie "<input class="field" aria-label="Stations further aft" autocomplete="off" prop:value=typed.aft.text on:input=move |event| typed.aft.text.set(event_target_value(&event))/>{format!("{} aft of these lines'; a minus says forward", typed.aft.unit.short())}</label></div>
                    <p class="quiet">"Its readings are counted anew, and brought along its own lines to these stations; planes, stations and accepted places stay where they are. "{move || typed.example(&session.standing_now(), id)}</p>
                    <Asked about=&ZERO/>
                </fieldset>
                <fieldset>
                    <legend>"Its figures"</legend>
                    <div class="row">
                        <label>"bare numbers in "<select aria-label="Bare numbers in" prop:value=unit on:change=set_unit>
                            <option value="">"the unit of their row"</option><option value="mm">"mm"</option><option value="in">"in"</option><option value="ft-in-8">"ft-in-8"</option>
                        </select></label>
                        <label>"rounded to "<input class="field" aria-label="Rounded to" autocomplete="off" prop:value=typed.rounding.text on:input=move |event| typed.rounding.text.set(event_target_value(&event))/>{typed.rounding.unit.short()}</label>
                        <label class="check"><input type="checkbox" prop:checked=typed.all_alike on:change=move |event| typed.all_alike.set(event_target_checked(&event))/>"give all its readings that tolerance"</label>
                    </div>
                    <p class="quiet">"A new reading is taken as good to what the source was rounded to."</p>
                </fieldset>
                <fieldset>
                    <legend>"Surface that was measured"</legend>
                    <div class="row">
                        <select aria-label="Surface" prop:value=side on:change=set_side>
                            <option value="outside">"outside of the skin"</option><option value="inside">"inside of the skin"</option>
                        </select>
                        <label hidden=move || !typed.inside.get()>"thickness there "<input class="field" aria-label="Thickness of the skin" autocomplete="off" prop:value=typed.thickness.text on:input=move |event| typed.thickness.text.set(event_target_value(&event))/>{typed.thickness.unit.short()}</label>
                    </div>
                    <p class="quiet">"The lines are of the outside. What was measured inside is moved out by the thickness, square to the section."</p>
                    <Asked about=&SKIN/>
                </fieldset>
                <p class="fault says" role="alert">{move || wrong.get()}</p>
                <div class="row">
                    <button type="submit" data-kind="first">"Take it"</button>
                    <button type="button" on:click=|_| close_dialog()>"Leave it"</button>
                    <button type="button" data-kind="lesser" hidden=!bare on:click=move |_| done(Ok(BodyEdit::RemoveSource(id).into()))>"Take the source away"</button>
                </div>
            </form>
        </Dialog>
    }
}

/// From where one coordinate is counted, and which way.
#[component]
fn Zero(
    name: &'static str,
    typed: (Boxed, RwSignal<Sense>),
    ways: [&'static str; 2],
    at: &'static str,
) -> impl IntoView {
    let (Boxed { text, unit, .. }, sense) = typed;
    let way = move || ways[usize::from(sense.get() == Sense::Against)];
    let set = move |event: leptos::ev::Event| {
        let against = event_target_value(&event) == ways[1];
        sense.set(if against { Sense::Against } else { Sense::With });
    };
    view! {
        <div class="row">
            <label>{format!("{name}: its zero lies ")}<input class="field" aria-label=format!("{name} counted from") autocomplete="off" prop:value=text on:input=move |event| text.set(event_target_value(&event))/>{format!("{} {at} on these lines, and it counts ", unit.short())}</label>
            <select aria-label=format!("{name} counted") prop:value=way on:change=set>
                {ways.map(|way| view! { <option value=way>{way}</option> }).collect_view()}
            </select>
        </div>
    }
}
