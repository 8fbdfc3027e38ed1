//! The sheet that is looked at, in a window with rules along its edges: at true size by the person's own rule, or whole.
//!
//! Nothing is drawn anew for it: a place of the sheet is found by turning the window's view box.

use std::collections::BTreeMap;

use geometry::num;
use geometry::units::{Digits, LengthUnit, fixed, format_length_to};
use leptos::html::Div;
use leptos::prelude::*;
use wasm_bindgen::JsCast;

use super::gauge;
use super::ruled::{Across, Laid, Up};
use super::sight::{At, Enlarged, Gaze, Sight};
use super::{Office, SCREEN_KEPT, supposed};
use crate::exchange::{self, KEY_ENLARGE, WindowKey};
use crate::state::{NARROW, NoteKind};

/// An arrow key moves the sheet by this much, px; with Shift the ruler's place by ten millimetres, else by one.
const KEY_MOVE: f64 = 40.0;

/// A press that moves less is a click, px.
const STILL: f64 = 4.0;

/// What is at hand to look at a sheet with.
#[derive(Clone, Copy)]
pub struct Window {
    office: Office,
    size: RwSignal<At>,
    gaze: RwSignal<Gaze>,
    pub sight: Memo<Option<Sight>>,
    /// A ruler that is being laid, or lies.
    pub ruler: RwSignal<Option<Laid>>,
}

impl Window {
    fn new(office: Office) -> Self {
        let size = RwSignal::new((0.0, 0.0));
        let gaze = RwSignal::new(Gaze::WHOLE);
        let sight = Memo::new(move |_| {
            let size = size.get();
            let sheet = office
                .drawn
                .with(|drawn| drawn.as_ref().map(|(_, sheet)| sheet.size))?;
            let roomy = size.0 > 1.0 && size.1 > 1.0;
            roomy.then(|| Sight::of(gaze.get(), size, sheet, supposed(office.screen.get())))
        });
        Self {
            office,
            size,
            gaze,
            sight,
            ruler: RwSignal::new(None),
        }
    }

    fn look(self, change: impl FnOnce(Sight, Gaze) -> Gaze) {
        if let Some(sight) = self.sight.get_untracked() {
            self.gaze.update(|gaze| *gaze = change(sight, *gaze));
        }
    }

    fn shift(self, by: At) {
        self.look(|sight, gaze| Gaze {
            middle: sight.moved(by),
            ..gaze
        });
    }

    fn enlarge(self, factor: f64) {
        let (wide, high) = self.size.get_untracked();
        self.enlarge_about(factor, (wide / 2.0, high / 2.0));
    }

    fn enlarge_about(self, factor: f64, about: At) {
        self.look(|sight, _| sight.enlarged(factor, about));
    }

    fn show(self, enlarged: Enlarged) {
        self.look(|sight, _| Gaze {
            enlarged,
            middle: sight.middle(),
        });
    }

    /// Begins to lay a ruler, or takes it away.
    fn take_ruler(self) {
        let begun = self.ruler.with_untracked(Option::is_some);
        let at = self.sight.get_untracked().map(|sight| {
            let (x, y) = sight.middle();
            (x * sight.sheet.0, y * sight.sheet.1)
        });
        self.ruler.set(at.filter(|_| !begun).map(Laid::beginning));
    }

    fn lay(self, at: At) {
        self.ruler.update(|ruler| {
            if let Some(ruler) = ruler {
                ruler.put(at);
            }
        });
    }

    /// Does what a key asks for; whether it asked for anything.
    fn key(self, event: &web_sys::KeyboardEvent) -> bool {
        let (right, down) = match (exchange::window_key(event), event.key().as_str()) {
            (Some(WindowKey::Move(right, down)), _) => (right, down),
            (Some(WindowKey::Enlarge(times)), _) => {
                self.enlarge(times);
                return true;
            }
            (None, "Enter" | " ") => {
                let at = self
                    .ruler
                    .with_untracked(|ruler| ruler.map(|ruler| ruler.at));
                if let Some(at) = at {
                    self.lay(at);
                }
                return at.is_some();
            }
            (None, "Escape") => {
                let lies = self.ruler.with_untracked(Option::is_some);
                self.ruler.set(None);
                return lies;
            }
            (None, _) => return false,
        };
        let sheet = self.sight.get_untracked().map(|sight| sight.sheet);
        match (self.ruler.get_untracked(), sheet) {
            (Some(ruler), Some(sheet)) => {
                let step = if event.shift_key() { 10.0 } else { 1.0 };
                let to = |at: f64, by: f64, most: f64| (at + by * step).clamp(0.0, most);
                let at = (
                    to(ruler.at.0, right, sheet.0),
                    to(ruler.at.1, down, sheet.1),
                );
                self.ruler.set(Some(Laid { at, ..ruler }));
                self.keep_in_sight(at);
            }
            // The window goes where the arrow points.
            _ => self.shift((-right * KEY_MOVE, -down * KEY_MOVE)),
        }
        true
    }

    /// Moves the sheet as far as it takes for a place to be seen.
    fn keep_in_sight(self, at: At) {
        if let Some(sight) = self.sight.get_untracked() {
            let beyond = |at: f64, corner: f64, window: f64| {
                let px = (at - corner) * sight.scale;
                (KEY_MOVE - px).max(0.0) - (px - window + KEY_MOVE).max(0.0)
            };
            let by = (
                beyond(at.0, sight.corner.0, sight.window.0),
                beyond(at.1, sight.corner.1, sight.window.1),
            );
            self.shift(by);
        }
    }
}

/// What the ruler says.
fn ruler_words(ruler: Laid) -> String {
    let mm = |value: f64| format_length_to(value, LengthUnit::Millimetres, Digits::Plain);
    match (ruler.from, ruler.to) {
        (None, _) => {
            "Press where the ruler begins, or go there by arrows and press Enter.".to_owned()
        }
        (Some(from), None) => {
            let there = num::hypot(ruler.at.0 - from.0, ruler.at.1 - from.1);
            format!("{} mm so far: press where it ends.", mm(there))
        }
        (Some(from), Some(to)) => {
            let (across, down) = (to.0 - from.0, to.1 - from.1);
            let way = if down > 0.0 { "down" } else { "up" };
            format!(
                "{} mm: {} across, {} {way}.",
                mm(num::hypot(across, down)),
                mm(across.abs()),
                mm(down.abs())
            )
        }
    }
}

/// The window, the sheet in it, and what stands about it.
#[component]
pub fn Preview(office: Office) -> impl IntoView {
    let window = Window::new(office);
    let pane: NodeRef<Div> = NodeRef::new();
    let watch = StoredValue::new_local(None::<exchange::SizeWatch>);
    Effect::new(move |_| {
        if let Some(pane) = pane.get() {
            let whole: web_sys::Element = pane.into();
            let watched = whole.clone();
            let tell = move || {
                let area = watched.get_bounding_client_rect();
                window.size.try_set((area.width(), area.height()));
            };
            watch.set_value(exchange::SizeWatch::on(&[&whole], tell));
        }
    });
    let name = Memo::new(move |_| match office.sheet() {
        Some((_, part, page)) if part.fault.is_none() => {
            let of = part.pages;
            let sheet = if of > 1 {
                format!(", sheet {} of {of}", page + 1)
            } else {
                String::new()
            };
            format!("{}{sheet}", part.code)
        }
        Some((_, part, _)) => part.code,
        None => "No sheet yet".to_owned(),
    });
    let how = move || {
        let size = window.gaze.get().enlarged;
        let measured = office.screen.get().is_some();
        match (size, window.sight.get()) {
            (_, None) => String::new(),
            (Enlarged::True, _) if measured => {
                "1 : 1 on this screen, by the rule you measured".to_owned()
            }
            (Enlarged::True, _) => {
                "1 : 1, if this screen draws as browsers suppose: measure it below".to_owned()
            }
            (_, Some(sight)) => {
                let times = sight.scale / supposed(office.screen.get());
                if times >= 1.0 {
                    format!("{} : 1 on this screen", fixed(times, 1))
                } else {
                    format!("1 : {} on this screen", fixed(1.0 / times, 1))
                }
            }
        }
    };
    let says = move || {
        if let Some(why) = office.failed() {
            return Some((why, true));
        }
        if let Some((_, part, _)) = office.sheet()
            && let Some(fault) = part.fault
        {
            return Some((fault, false));
        }
        if let Some(part) = office.at_work() {
            let first = office.laid.with(Option::is_none);
            let what = if first {
                "Laying out the sheets"
            } else {
                "Drawing"
            };
            return Some((format!("{what}, now: {part}."), false));
        }
        let empty = office.told().is_some_and(|(told, _)| told.parts.is_empty());
        empty.then(|| {
            (
                "There is no sheet to show: nothing asks for a template.".to_owned(),
                false,
            )
        })
    };
    let notice = move || {
        says().map(|(sentence, failed)| {
            view! {
                <p>{sentence}</p>
                {failed.then(|| view! { <button on:click=move |_| office.again()>"Try again"</button> })}
            }
        })
    };
    view! {
        <figure class="preview" aria-label=move || format!("Sheet as it is printed: {}", name.get())>
            <figcaption class="label-row"><h2>{name}</h2><span class="quiet">{how}</span></figcaption>
            <div class="ruled">
                <span class="corner quiet" aria-hidden="true">"mm"</span>
                <Across sight=window.sight/>
                <Up sight=window.sight/>
                <div class="pane" node_ref=pane>
                    <Sheet window name/>
                    <div class="notice" role="status">{notice}</div>
                </div>
            </div>
            <Keys window/>
            <super::alone::Alone office/>
            <MeasureScreen office/>
        </figure>
    }
}

/// Where in the window a pointer is, px, whatever of the sheet is under it.
fn place_of(event: &web_sys::MouseEvent) -> At {
    let target = event.current_target();
    let target = target.and_then(|target| target.dyn_into::<web_sys::Element>().ok());
    let corner = target.map_or((0.0, 0.0), |target| {
        let area = target.get_bounding_client_rect();
        (area.x(), area.y())
    });
    (
        f64::from(event.client_x()) - corner.0,
        f64::from(event.client_y()) - corner.1,
    )
}

/// The sheet itself, and the gestures on it.
#[component]
fn Sheet(window: Window, name: Memo<String>) -> impl IntoView {
    let office = window.office;
    // Pointers that are down, and how far they have gone.
    let down: StoredValue<BTreeMap<i32, At>> = StoredValue::new(BTreeMap::new());
    let gone = StoredValue::new(0.0_f64);
    let press = move |event: web_sys::PointerEvent| {
        down.update_value(|down| {
            down.insert(event.pointer_id(), place_of(&event));
        });
        if down.with_value(|down| down.len() == 1) {
            gone.set_value(0.0);
        }
        exchange::hold_pointer(&event);
    };
    let hover = move |to: At| {
        let lays = window.ruler.with_untracked(Option::is_some);
        let at = window.sight.get_untracked().filter(|_| lays);
        if let Some(at) = at.map(|sight| sight.on_sheet(to)) {
            window.ruler.update(|ruler| {
                if let Some(ruler) = ruler {
                    ruler.at = at;
                }
            });
        }
    };
    let drag = move |event: web_sys::PointerEvent| {
        let (id, to) = (event.pointer_id(), place_of(&event));
        let Some(from) = down.with_value(|down| down.get(&id).copied()) else {
            hover(to);
            return;
        };
        let other = down.with_value(|down| {
            let mut others = down.iter().filter(|(other, _)| **other != id);
            others.next().map(|(_, at)| *at)
        });
        let (dx, dy) = (to.0 - from.0, to.1 - from.1);
        gone.update_value(|gone| *gone += dx.abs() + dy.abs());
        // A press that is still a click leaves the sheet, and what it has gone is made up for.
        if gone.get_value() < STILL {
            return;
        }
        down.update_value(|down| {
            down.insert(id, to);
        });
        if let Some(other) = other {
            // Two fingers: what lies between them follows, and spreads with them.
            let span = |p: At| num::hypot(p.0 - other.0, p.1 - other.1).max(1.0);
            window.shift((dx / 2.0, dy / 2.0));
            let middle = (f64::midpoint(to.0, other.0), f64::midpoint(to.1, other.1));
            window.enlarge_about(span(to) / span(from), middle);
        } else {
            window.shift((dx, dy));
        }
    };
    let cancel = move |event: web_sys::PointerEvent| {
        down.update_value(|down| {
            down.remove(&event.pointer_id());
        });
    };
    let release = move |event: web_sys::PointerEvent| {
        let alone = down.with_value(|down| down.len() == 1);
        let place = place_of(&event);
        cancel(event);
        if let (true, Some(sight)) = (
            alone && gone.get_value() < STILL,
            window.sight.get_untracked(),
        ) {
            window.lay(sight.on_sheet(place));
        }
    };
    let wheel = move |event: web_sys::WheelEvent| {
        event.prevent_default();
        let factor = num::exp((-event.delta_y() * 0.0015).clamp(-0.5, 0.5));
        let about = place_of(&event);
        window.enlarge_about(factor, about);
    };
    let keys = move |event: web_sys::KeyboardEvent| {
        if window.key(&event) {
            event.prevent_default();
        }
    };
    let view_box = move || window.sight.get().map(|sight| sight.view_box());
    let scale = move || {
        window
            .sight
            .get()
            .map_or_else(String::new, |sight| format!("{:.4}", sight.scale))
    };
    let inside = move || {
        office.drawn.with(|drawn| {
            drawn
                .as_ref()
                .map_or_else(String::new, |(_, sheet)| sheet.inside.clone())
        })
    };
    let size = move |of: fn(At) -> f64| {
        window
            .sight
            .with(|sight| sight.as_ref().map(|sight| of(sight.sheet).to_string()))
    };
    let stale = move || {
        let fresh = office.ordered_is_drawn();
        (!fresh).then_some("")
    };
    let ruler = move || {
        let (ruler, sight) = (window.ruler.get()?, window.sight.get()?);
        let marks = ruler.path(sight.scale);
        Some(view! { <path class="laid-ruler" d=marks/> })
    };
    let called = move || format!("{}; arrow keys move it, plus and minus enlarge", name.get());
    view! {
        <svg
            class="drawn-sheet"
            tabindex="0"
            role="application"
            aria-label=called
            data-stale=stale
            data-lays=move || window.ruler.with(Option::is_some).then_some("")
            viewBox=view_box
            preserveAspectRatio="xMinYMin meet"
            style:--scale=scale
            on:pointerdown=press
            on:pointermove=drag
            on:pointerup=release
            on:pointercancel=cancel
            on:wheel=wheel
            on:keydown=keys
        >
            <rect class="paper-edge" width=move || size(|sheet| sheet.0) height=move || size(|sheet| sheet.1)/>
            <g inner_html=inside></g>
            {ruler}
        </svg>
    }
}

/// Which of the part's sheets, how large, and the ruler.
#[component]
fn Keys(window: Window) -> impl IntoView {
    let office = window.office;
    let sheet = move || office.sheet().map(|(_, part, page)| (page, part.pages));
    let turn = move |on: bool| {
        if let Some((page, pages)) = untrack(sheet) {
            let to = if on { page + 1 } else { page.saturating_sub(1) };
            office.page.set(to.min(pages.saturating_sub(1)));
        }
    };
    let first = move || sheet().is_none_or(|(page, _)| page == 0);
    let last = move || sheet().is_none_or(|(page, pages)| page + 1 >= pages);
    let off = |is: bool| is.then_some("true");
    let several = move || sheet().is_some_and(|(_, pages)| pages > 1);
    let pages = move || {
        several().then(|| {
            view! {
                <span class="pair">
                    <button aria-label="The sheet before" aria-disabled=move || off(first()) on:click=move |_| turn(false)>"‹"</button>
                    <span class="which">{move || sheet().map(|(page, pages)| format!("{} of {pages}", page + 1))}</span>
                    <button aria-label="The sheet after" aria-disabled=move || off(last()) on:click=move |_| turn(true)>"›"</button>
                </span>
            }
        })
    };
    let size = move |enlarged: Enlarged, name: &'static str| {
        let here = move || window.gaze.get().enlarged == enlarged;
        view! { <button aria-pressed=move || here().to_string() on:click=move |_| window.show(enlarged)>{name}</button> }
    };
    let lays = move || window.ruler.with(Option::is_some);
    let ruler = move |_| {
        window.take_ruler();
        if window.ruler.with_untracked(Option::is_some) && exchange::focus(".drawn-sheet").is_none()
        {
            leptos::logging::warn!("the sheet has no focus");
        }
    };
    view! {
        <div class="row sheet-keys">
            {pages}
            <span class="segments">
                {size(Enlarged::True, "True size")}
                {size(Enlarged::Whole, "Whole sheet")}
            </span>
            <span class="pair">
                <button aria-label="Smaller" on:click=move |_| window.enlarge(1.0 / KEY_ENLARGE)>"−"</button>
                <button aria-label="Larger" on:click=move |_| window.enlarge(KEY_ENLARGE)>"+"</button>
            </span>
            <button aria-pressed=move || lays().to_string() on:click=ruler>{move || if lays() { "Take the ruler away" } else { "Lay a ruler" }}</button>
            <span class="reading" aria-live="polite">{move || window.ruler.get().map(ruler_words)}</span>
        </div>
    }
}

/// A line that should be so long, and the box for what it is.
#[component]
fn MeasureScreen(office: Office) -> impl IntoView {
    // As long as a telephone has room for.
    let nominal = move || {
        if office.session.room.get().0 < NARROW {
            50.0
        } else {
            gauge::RULE
        }
    };
    let line = move || nominal() * supposed(office.screen.get());
    let typed = RwSignal::new(String::new());
    let wrong = RwSignal::new(None::<String>);
    let measured = move |event: web_sys::SubmitEvent| {
        event.prevent_default();
        match gauge::px_per_mm(untrack(line), &typed.get_untracked()) {
            Ok(scale) => {
                wrong.set(None);
                typed.set(String::new());
                office.measured_screen(Some(scale));
            }
            Err(why) => wrong.set(Some(why)),
        }
    };
    let known = move || office.screen.get().is_some();
    view! {
        <details class="measure">
            <summary>"Measure this screen"</summary>
            <form class="stack" on:submit=measured>
                <p>{move || format!("Lay a rule on the screen: from end to end this line should be {} mm. It is kept on this device, for its screen at this enlargement of the page.", nominal())}</p>
                <svg class="screen-rule" aria-hidden="true" height="14" width=move || (line() + 2.0).to_string()>
                    <path d=move || format!("M1 0v14M1 7h{0:.2}m0-7v14", line())/>
                </svg>
                <div class="row">
                    <label>"It measures "<input class="field" inputmode="decimal" autocomplete="off" aria-label="What the line measures, mm" prop:value=typed on:input=move |event| typed.set(event_target_value(&event))/>" mm"</label>
                    <button type="submit">"Draw to that"</button>
                    {move || known().then(|| view! { <button type="button" data-kind="lesser" on:click=move |_| office.measured_screen(None)>"As browsers suppose"</button> })}
                </div>
                <p class="fault says" role="alert">{move || wrong.get()}</p>
            </form>
        </details>
    }
}

impl Office {
    /// Whether what is drawn is what is looked at.
    fn ordered_is_drawn(self) -> bool {
        let asked = self.asked();
        self.drawn.with(|drawn| match (&asked, drawn) {
            (Some(super::Asked::Draw(by)), Some((of, _))) => by == of,
            _ => false,
        })
    }

    /// Keeps how large a millimetre is on this screen, px.
    fn measured_screen(self, scale: Option<f64>) {
        self.screen.set(scale);
        // «A line of a pixel measures so many millimetres.»
        let text = scale.map_or_else(String::new, |scale| (1.0 / scale).to_string());
        if !exchange::keep_here(SCREEN_KEPT, &text) {
            self.session
                .say(NoteKind::Fault, super::NOT_KEPT.to_owned());
        }
    }
}
