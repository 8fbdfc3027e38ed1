//! What the browser gives and takes: files, the clipboard, the address, the focus, sizes, clicks.

pub mod focus;

use std::cell::RefCell;
use std::future::poll_fn;
use std::pin::pin;
use std::sync::Arc;
use std::task::Poll;

use geometry::document::{Folder, Lines, Revision, write_folder};
use gloo::events::{EventListener, EventListenerOptions};
use js_sys::Uint8Array;
use leptos::prelude::*;
use wasm_bindgen::prelude::Closure;
use wasm_bindgen::{JsCast, JsValue};

/// What went wrong at the edge of the page, in a sentence.
pub type Refused = String;

fn said(what: &str) -> impl FnOnce(JsValue) -> Refused {
    move |error| {
        let detail = error
            .dyn_ref::<js_sys::Error>()
            .map_or_else(String::new, |e| format!(" ({})", String::from(e.message())));
        format!("{what}{detail}")
    }
}

/// Hands bytes to the person as a file.
pub fn save(name: &str, kind: &str, bytes: &[u8]) -> Result<(), Refused> {
    let refused =
        |error| said("The browser did not save the file; try again, or use another browser")(error);
    let parts = js_sys::Array::of1(&Uint8Array::from(bytes));
    let bag = web_sys::BlobPropertyBag::new();
    bag.set_type(kind);
    let blob =
        web_sys::Blob::new_with_u8_array_sequence_and_options(&parts, &bag).map_err(refused)?;
    let url = web_sys::Url::create_object_url_with_blob(&blob).map_err(refused)?;
    let anchor: web_sys::HtmlAnchorElement = document()
        .create_element("a")
        .map_err(refused)?
        .unchecked_into();
    anchor.set_href(&url);
    anchor.set_download(name);
    anchor.click();
    web_sys::Url::revoke_object_url(&url).map_err(refused)
}

/// Reads a chosen file whole.
pub async fn read(file: &web_sys::File, at_most: usize) -> Result<Vec<u8>, Refused> {
    if file.size() > at_most as f64 {
        return Err(format!(
            "{} is larger than {} MiB: choose another file.",
            file.name(),
            at_most >> 20
        ));
    }
    let buffer = wasm_bindgen_futures::JsFuture::from(file.array_buffer())
        .await
        .map_err(said("The file could not be read; choose it again"))?;
    Ok(Uint8Array::new(&buffer).to_vec())
}

/// The title of lines, with what is made of them, as the name of a file.
pub fn file_name(title: &str, ending: &str) -> String {
    geometry::write::file_name(title, ending, "lines")
}

/// Puts text on the clipboard.
pub async fn copy(text: &str) -> Result<(), Refused> {
    const BY_HAND: &str = "The browser did not copy; select the link and copy it by hand";
    // A page that came by plain http from another machine has none.
    let found = js_sys::Reflect::get(&window().navigator(), &"clipboard".into());
    let Some(clipboard) = found
        .ok()
        .and_then(|c| c.dyn_into::<web_sys::Clipboard>().ok())
    else {
        return Err(format!("{BY_HAND}."));
    };
    wasm_bindgen_futures::JsFuture::from(clipboard.write_text(text))
        .await
        .map(|_| ())
        .map_err(said(BY_HAND))
}

/// The fragment of the address, without its `#`.
pub fn fragment() -> String {
    window()
        .location()
        .hash()
        .unwrap_or_default()
        .trim_start_matches('#')
        .to_owned()
}

/// Takes the fragment out of the address, without a step of the browser's history.
pub fn clear_fragment() {
    let location = window().location();
    let plain = location.pathname().unwrap_or_default() + &location.search().unwrap_or_default();
    if let Ok(history) = window().history()
        && history
            .replace_state_with_url(&JsValue::NULL, "", Some(&plain))
            .is_err()
    {
        leptos::logging::warn!("the address keeps its fragment");
    }
}

/// The address of this page with a fragment.
pub fn address_with(fragment: &str) -> String {
    let location = window().location();
    let origin = location.origin().unwrap_or_default();
    format!(
        "{origin}{}#{fragment}",
        location.pathname().unwrap_or_default()
    )
}

/// Milliseconds by the browser's clock, for its own timing only.
pub fn clock() -> f64 {
    window().performance().map_or(0.0, |p| p.now())
}

/// Whether this page is one that was loaded again.
pub fn loaded_again() -> bool {
    let entries = window().performance();
    let entries = entries.map(|performance| performance.get_entries_by_type("navigation"));
    let kind = entries.and_then(|all| js_sys::Reflect::get(&all.get(0), &"type".into()).ok());
    kind.is_some_and(|kind| kind.as_string().as_deref() == Some("reload"))
}

/// A wait that can be cut short.
#[derive(Debug, Default)]
pub struct Nap(RefCell<Option<js_sys::Function>>);

impl Nap {
    /// Waits so many milliseconds, or until [`Nap::wake`].
    pub async fn at_most(&self, ms: i32) {
        let promise = js_sys::Promise::new(&mut |resolve, _| {
            if window()
                .set_timeout_with_callback_and_timeout_and_arguments_0(&resolve, ms)
                .is_ok()
            {
                self.0.replace(Some(resolve));
            } else if resolve.call0(&JsValue::NULL).is_err() {
                leptos::logging::warn!("a wait has no end");
            }
        });
        if wasm_bindgen_futures::JsFuture::from(promise).await.is_err() {
            leptos::logging::warn!("a wait was cut off");
        }
        self.0.replace(None);
    }

    /// Ends the wait now.
    pub fn wake(&self) {
        let waiting = self.0.take();
        if waiting.is_some_and(|resolve| resolve.call0(&JsValue::NULL).is_err()) {
            leptos::logging::warn!("a wait goes on");
        }
    }
}

/// Lets the browser draw what has changed and hear the person; what follows is a task of its own.
pub async fn turn() {
    let Ok(channel) = web_sys::MessageChannel::new() else {
        return;
    };
    let next = js_sys::Promise::new(&mut |resolve, _| {
        channel.port1().set_onmessage(Some(&resolve));
        if channel.port2().post_message(&JsValue::NULL).is_err()
            && resolve.call0(&JsValue::NULL).is_err()
        {
            leptos::logging::warn!("a turn has no end");
        }
    });
    if wasm_bindgen_futures::JsFuture::from(next).await.is_err() {
        leptos::logging::warn!("a turn was cut off");
    }
    channel.port1().close();
}

/// Waits for an outcome, but no longer than so many milliseconds; what is left of it then is not done any more.
pub async fn within<T>(ms: i32, act: impl Future<Output = T>) -> Option<T> {
    let nap = Nap::default();
    let (mut act, mut late) = (pin!(act), pin!(nap.at_most(ms)));
    poll_fn(|context| match act.as_mut().poll(context) {
        Poll::Ready(outcome) => Poll::Ready(Some(outcome)),
        Poll::Pending => late.as_mut().poll(context).map(|()| None),
    })
    .await
}

/// Milliseconds of the calendar.
pub fn calendar() -> f64 {
    js_sys::Date::now()
}

/// A time of the calendar as a person says it here: 14:02, and the day where it is not today.
pub fn time_of_day(ms: f64) -> String {
    const MONTHS: [&str; 12] = [
        "Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec",
    ];
    let (then, now) = (js_sys::Date::new(&ms.into()), js_sys::Date::new_0());
    let day = |date: &js_sys::Date| (date.get_full_year(), date.get_month(), date.get_date());
    let time = format!("{:02}:{:02}", then.get_hours(), then.get_minutes());
    if day(&then) == day(&now) {
        return time;
    }
    let month = usize::try_from(then.get_month()).map_or("", |n| MONTHS.get(n).map_or("", |m| m));
    format!("{} {month} {time}", then.get_date())
}

/// The day by this device's clock, as `2026-03-21`.
pub fn today() -> String {
    let now = js_sys::Date::new_0();
    format!(
        "{:04}-{:02}-{:02}",
        now.get_full_year(),
        now.get_month() + 1,
        now.get_date()
    )
}

/// The folder of the address, from its first slash to its last.
pub fn folder() -> String {
    let path = window().location().pathname().unwrap_or_default();
    let last = path.rfind('/').map_or(0, |at| at + 1);
    path[..last].to_owned()
}

/// The name under which this device keeps something of the page's own.
fn key_here(name: &str) -> String {
    format!("scrieve-board{}{name}", folder())
}

/// What this device keeps under a name; none where it keeps nothing, or refuses to.
pub fn kept_here(name: &str) -> Option<String> {
    let storage = window().local_storage().ok().flatten()?;
    storage.get_item(&key_here(name)).ok().flatten()
}

/// Keeps a line or two on this device; whether it took them.
pub fn keep_here(name: &str, value: &str) -> bool {
    let storage = window().local_storage().ok().flatten();
    storage.is_some_and(|storage| storage.set_item(&key_here(name), value).is_ok())
}

/// Asks the browser not to put away what is kept here when room is short. It may refuse: the work is kept all the same.
pub fn ask_to_keep_for_good() {
    let asked = js_sys::Reflect::get(&window().navigator(), &"storage".into())
        .ok()
        .and_then(|found| found.dyn_into::<web_sys::StorageManager>().ok())
        .and_then(|storage| storage.persist().ok());
    if let Some(asked) = asked {
        wasm_bindgen_futures::spawn_local(async move {
            if wasm_bindgen_futures::JsFuture::from(asked).await.is_err() {
                leptos::logging::log!("the browser keeps the work as long as it has room");
            }
        });
    }
}

/// Tells the browser's own timing how long something took that began at `from` and ends now.
pub fn measured(name: &str, from: f64) {
    let Some(performance) = window().performance() else {
        return;
    };
    let options = js_sys::Object::new();
    let set =
        |key: &str, value: f64| js_sys::Reflect::set(&options, &key.into(), &value.into()).is_ok();
    let target: &JsValue = performance.as_ref();
    let taken = set("start", from)
        && set("end", performance.now())
        && js_sys::Reflect::get(target, &"measure".into())
            .ok()
            .and_then(|found| found.dyn_into::<js_sys::Function>().ok())
            .is_some_and(|measure| measure.call2(target, &name.into(), &options).is_ok());
    if !taken {
        leptos::logging::warn!("no measure was taken");
    }
}

/// Does something, and leaves in the browser's own timing when that was last done and how long it took.
pub fn timed<T>(name: &str, work: impl FnOnce() -> T) -> T {
    let from = clock();
    let done = work();
    forget_measured(name);
    measured(name, from);
    done
}

/// Forgets what was measured under a name.
pub fn forget_measured(name: &str) {
    if let Some(performance) = window().performance() {
        performance.clear_measures_with_measure_name(name);
    }
}

/// Puts the focus on the first thing that a selector finds.
pub fn focus(selector: &str) -> Option<web_sys::Element> {
    let element = document().query_selector(selector).ok().flatten()?;
    let set = match element.dyn_ref::<web_sys::HtmlElement>() {
        Some(html) => html.focus(),
        None => element.dyn_ref::<web_sys::SvgElement>()?.focus(),
    };
    set.ok().map(|()| element)
}

/// Scrolls to the top of the first thing that fits, once what was changed is drawn.
pub fn bring_up(selector: &'static str) {
    request_animation_frame(move || {
        if let Ok(Some(element)) = document().query_selector(selector) {
            element.scroll_into_view();
        }
    });
}

/// Scrolls no further than it takes for the first thing that fits to be in sight, once what was changed is drawn.
pub fn keep_in_sight(selector: &'static str) {
    request_animation_frame(move || {
        if let Ok(Some(element)) = document().query_selector(selector) {
            let options = web_sys::ScrollIntoViewOptions::new();
            options.set_block(web_sys::ScrollLogicalPosition::Nearest);
            options.set_inline(web_sys::ScrollLogicalPosition::Nearest);
            element.scroll_into_view_with_scroll_into_view_options(&options);
        }
    });
}

/// Room in the window, px; the root's width, which what overflows does not widen.
pub fn room() -> (f64, f64) {
    let height = window().inner_height().ok().and_then(|v| v.as_f64());
    let width = document()
        .document_element()
        .map_or(900, |root| root.client_width());
    (f64::from(width), height.unwrap_or(900.0))
}

/// A watch on the sizes of elements; ended when it is dropped.
pub struct SizeWatch {
    observer: web_sys::ResizeObserver,
    _told: Closure<dyn FnMut()>,
}

impl SizeWatch {
    /// Tells now and whenever one of the sizes changes; none where the browser watches nothing, so that what was told
    /// first stays.
    pub fn on(elements: &[&web_sys::Element], tell: impl Fn() + 'static) -> Option<Self> {
        tell();
        let told = Closure::<dyn FnMut()>::new(tell);
        let observer = web_sys::ResizeObserver::new(told.as_ref().unchecked_ref()).ok()?;
        for element in elements {
            observer.observe(element);
        }
        Some(Self {
            observer,
            _told: told,
        })
    }
}

impl Drop for SizeWatch {
    fn drop(&mut self) {
        self.observer.disconnect();
    }
}

/// Takes away what the page says until the program is here.
pub fn end_of_loading() {
    if let Ok(Some(opening)) = document().query_selector(".opening") {
        opening.remove();
    }
}

/// Sets the look of the page; none leaves it to the system.
pub fn set_look(look: Option<&str>) {
    let Some(root) = document().document_element() else {
        return;
    };
    let set = match look {
        Some(look) => root.set_attribute("data-theme", look),
        None => root.remove_attribute("data-theme"),
    };
    if set.is_err() {
        leptos::logging::warn!("the look stays as it was");
    }
}

/// Has what was pressed hear of the pointer until it is let go, wherever it goes.
pub fn hold_pointer(event: &web_sys::PointerEvent) {
    let target = event.current_target();
    if let Some(target) = target.and_then(|target| target.dyn_into::<web_sys::Element>().ok())
        && target.set_pointer_capture(event.pointer_id()).is_err()
    {
        leptos::logging::warn!("the pointer is not held");
    }
}

/// What plus and minus enlarge by, as keys and as buttons.
pub const KEY_ENLARGE: f64 = 1.25;

/// What a key asks of a window that something is looked at through.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum WindowKey {
    /// An arrow: so many steps to the right and down.
    Move(f64, f64),
    /// Plus or minus: this many times as large.
    Enlarge(f64),
}

/// What a key asks of such a window; none for keys of other uses, and with keys of the browser's own held.
pub fn window_key(event: &web_sys::KeyboardEvent) -> Option<WindowKey> {
    if event.ctrl_key() || event.meta_key() || event.alt_key() {
        return None;
    }
    Some(match event.key().as_str() {
        "ArrowLeft" => WindowKey::Move(-1.0, 0.0),
        "ArrowRight" => WindowKey::Move(1.0, 0.0),
        "ArrowUp" => WindowKey::Move(0.0, -1.0),
        "ArrowDown" => WindowKey::Move(0.0, 1.0),
        "+" | "=" => WindowKey::Enlarge(KEY_ENLARGE),
        "-" | "−" => WindowKey::Enlarge(1.0 / KEY_ENLARGE),
        _ => return None,
    })
}

/// Whether an event happens where a person types.
pub fn in_a_field(event: &web_sys::Event) -> bool {
    event
        .target()
        .and_then(|t| t.dyn_into::<web_sys::Element>().ok())
        .is_some_and(|element| is_field(&element))
}

/// Whether an event happens on a box to tick.
pub fn on_a_box(event: &web_sys::Event) -> bool {
    event
        .target()
        .and_then(|t| t.dyn_into::<web_sys::HtmlInputElement>().ok())
        .is_some_and(|input| input.type_() == "checkbox")
}

fn is_field(element: &web_sys::Element) -> bool {
    let name = element.tag_name();
    let kind = element.get_attribute("type").unwrap_or_default();
    name.eq_ignore_ascii_case("textarea")
        || name.eq_ignore_ascii_case("input")
            && !matches!(kind.as_str(), "checkbox" | "radio" | "file")
}

/// Does something before any click is answered that falls outside what a selector finds, until it is dropped.
pub fn before_clicks(outside: &'static str, act: impl Fn() + 'static) -> EventListener {
    let options = EventListenerOptions::run_in_capture_phase();
    EventListener::new_with_options(&window(), "click", options, move |event| {
        let on = event
            .target()
            .and_then(|t| t.dyn_into::<web_sys::Element>().ok());
        let within = on.and_then(|on| on.closest(outside).ok().flatten());
        if within.is_none() {
            act();
        }
    })
}

/// Takes the focus out of the field where a person types, so that what stands there counts before anything else does.
pub fn leave_field() {
    let focused = document().active_element().filter(is_field);
    let field = focused.and_then(|element| element.dyn_into::<web_sys::HtmlElement>().ok());
    if field.is_some_and(|field| field.blur().is_err()) {
        leptos::logging::warn!("the focus stays in its field");
    }
}

/// The text that a paste brings.
pub fn pasted_text(event: &web_sys::Event) -> Option<String> {
    let data = js_sys::Reflect::get(event, &"clipboardData".into()).ok()?;
    let data = data.dyn_into::<web_sys::DataTransfer>().ok()?;
    data.get_data("text/plain").ok()
}

/// Puts text on the clipboard for a copy; whether the browser took it.
pub fn copied_text(event: &web_sys::Event, text: &str) -> bool {
    let data = js_sys::Reflect::get(event, &"clipboardData".into()).ok();
    let data = data.and_then(|data| data.dyn_into::<web_sys::DataTransfer>().ok());
    data.is_some_and(|data| data.set_data("text/plain", text).is_ok())
}

thread_local! {
    /// The work as it last stood, for the worst case: a fault of our own that stops the program.
    static LAST: RefCell<Option<Own>> = const { RefCell::new(None) };
}

/// The lines and their frozen revisions, as a session has them.
pub type Own = (Arc<Lines>, Arc<Vec<Revision>>);

/// Keeps each state of the work where the bar that a broken program shows can still save it.
pub fn keep_for_the_worst(own: impl Fn() -> Own + 'static) {
    Effect::new(move |_| {
        let now = own();
        LAST.with_borrow_mut(|last| *last = Some(now));
    });
}

/// Makes the bar that shows when the program breaks; it needs nothing of the program but the last step.
pub fn prepare_for_the_worst() {
    console_error_panic_hook::set_once();
    let Some(bar) = worst_bar() else { return };
    // What the browser holds of it is for the whole life of the page.
    let told = std::panic::take_hook();
    std::panic::set_hook(Box::new(move |info| {
        told(info);
        if let Some(bar) = document().query_selector(".worst").ok().flatten() {
            let shown = bar.remove_attribute("hidden");
            debug_assert!(shown.is_ok(), "an attribute can be taken away");
        }
    }));
    if let Some(body) = document().body()
        && body.append_child(&bar).is_err()
    {
        leptos::logging::warn!("the bar for faults has no place");
    }
}

fn worst_bar() -> Option<web_sys::Element> {
    let make = |name: &str, text: &str| {
        let element = document().create_element(name).ok()?;
        element.set_text_content(Some(text));
        Some(element)
    };
    let bar = make("div", "")?;
    let says = make(
        "p",
        "Something broke. Your lines are kept as they were at the last step: save a copy, then load the page again.",
    )?;
    let save_copy = make("button", "Save a copy")?;
    for (name, value) in [("class", "bar worst"), ("role", "alert"), ("hidden", "")] {
        bar.set_attribute(name, value).ok()?;
    }
    let on_click = Closure::<dyn Fn()>::new(|| {
        let last = LAST.with_borrow(Clone::clone);
        let Some((lines, revisions)) = last else {
            return;
        };
        let name = file_name(&lines.about.title, "json");
        let bytes = write_folder(&Folder {
            lines: (*lines).clone(),
            revisions: (*revisions).clone(),
        });
        if let Err(sentence) = save(&name, "application/json", &bytes) {
            leptos::logging::error!("{sentence}");
        }
    });
    save_copy
        .add_event_listener_with_callback("click", on_click.as_ref().unchecked_ref())
        .ok()?;
    on_click.forget();
    bar.append_child(&says).ok()?;
    bar.append_child(&save_copy).ok()?;
    Some(bar)
}
