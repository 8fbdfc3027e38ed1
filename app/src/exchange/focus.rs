//! The focus never falls to the page's body. What had it may go: a button that vanishes on use, a row that is settled, what
//! opened a dialog. Then it goes to what stands by now where that stood, else to the nearest before it.
//!
//! In: where the focus goes, and that something of the page has changed. Out: the focus, put where it is of use; a field is
//! not entered by it, and nothing of a drawing picked.

use std::cell::RefCell;

use js_sys::Array;
use leptos::prelude::{document, request_animation_frame};
use wasm_bindgen::JsCast;
use wasm_bindgen::prelude::Closure;
use web_sys::{Element, HtmlElement, MutationObserver, MutationObserverInit, Node};

/// What the focus may go to.
const NEIGHBOURS: &str = "button:not(:disabled):not([tabindex=\"-1\"]), a[href], summary, select:not(:disabled), h2[tabindex]";

/// What has the focus, and the way to it: each thing around it, and which of its children leads on, from 0.
struct Held {
    element: Element,
    around: Vec<(Element, u32)>,
}

impl Held {
    fn of(element: Element) -> Self {
        let mut around = Vec::new();
        let mut inner = element.clone();
        while let Some(outer) = inner.parent_element() {
            let mut nth = 0;
            let mut before = inner.previous_element_sibling();
            while let Some(sibling) = before {
                nth += 1;
                before = sibling.previous_element_sibling();
            }
            around.push((outer.clone(), nth));
            inner = outer;
        }
        Self { element, around }
    }

    /// Puts the focus beside where it was.
    fn pass_on(&self) {
        let there = self.around.iter().filter(|(outer, _)| outer.is_connected());
        for (outer, nth) in there {
            let within = outer.get_elements_by_tag_name("*");
            let found = (0..within.length()).filter_map(|n| within.item(n));
            let found = found.filter(|one| one.matches(NEIGHBOURS).unwrap_or(false));
            let place = outer.children().item(*nth);
            let from = |one: &Element| {
                place.as_ref().is_some_and(|place| {
                    place == one
                        || place.compare_document_position(one) & Node::DOCUMENT_POSITION_FOLLOWING
                            != 0
                })
            };
            let (after, before): (Vec<Element>, Vec<Element>) = found.partition(from);
            let nearest = after.into_iter().chain(before.into_iter().rev());
            let mut nearest = nearest.filter_map(|one| one.dyn_into::<HtmlElement>().ok());
            if nearest.any(|one| is_seen(&one) && one.focus().is_ok() && has_focus(&one)) {
                return;
            }
        }
    }
}

/// What has the focus on the page, and within the dialog over it.
#[derive(Default)]
struct Holds {
    page: Option<Held>,
    dialog: Option<Held>,
    /// Whether it will be looked after.
    looks: bool,
}

thread_local! {
    static HOLDS: RefCell<Holds> = RefCell::default();
}

fn is_seen(element: &Element) -> bool {
    let room = element.get_bounding_client_rect();
    room.width() > 0.0 && room.height() > 0.0
}

fn has_focus(element: &Element) -> bool {
    document().active_element().as_ref() == Some(element)
}

/// Whether what had the focus could still have it.
fn is_there(element: &Element) -> bool {
    element.is_connected() && !element.matches(":disabled").unwrap_or(false) && is_seen(element)
}

/// The focus has come to something.
pub fn came(event: &web_sys::Event) {
    let element = event
        .target()
        .and_then(|on| on.dyn_into::<Element>().ok())
        .filter(|on| !on.has_type::<web_sys::HtmlDialogElement>());
    let Some(element) = element else { return };
    let within = element.closest("dialog").ok().flatten().is_some();
    let held = Some(Held::of(element));
    HOLDS.with_borrow_mut(|holds| {
        if within {
            holds.dialog = held;
        } else {
            holds.page = held;
            holds.dialog = None;
        }
    });
}

/// Looks after the focus once what has changed is drawn, for only then the browser takes it from what can't have it.
pub fn look_after() {
    let begun = HOLDS.with_borrow_mut(|holds| core::mem::replace(&mut holds.looks, true));
    if !begun {
        request_animation_frame(|| request_animation_frame(look));
    }
}

fn look() {
    let held = HOLDS.with_borrow_mut(|holds| {
        holds.looks = false;
        let on_body = document()
            .active_element()
            .is_none_or(|element| element.has_type::<web_sys::HtmlBodyElement>());
        if !on_body {
            return None;
        }
        let asks = document().query_selector("dialog[open]").ok().flatten();
        match (asks.is_some(), holds.dialog.take()) {
            // Who leaves a thing that is there leaves it of one's own accord.
            (true, held) => held.filter(|held| !is_there(&held.element)),
            (false, None) => holds.page.take().filter(|held| !is_there(&held.element)),
            (false, Some(within)) => holds.page.take().or(Some(within)),
        }
    });
    let Some(held) = held else { return };
    let back = is_there(&held.element)
        .then(|| held.element.dyn_ref::<HtmlElement>())
        .flatten();
    if back.is_none_or(|element| element.focus().is_err()) {
        held.pass_on();
    }
}

/// A watch on what comes and goes; ended when it is dropped.
pub struct FocusWatch {
    observer: MutationObserver,
    _told: Closure<dyn FnMut()>,
}

impl FocusWatch {
    /// Looks after the focus from now on; none where the browser watches nothing.
    pub fn begin() -> Option<Self> {
        let told = Closure::<dyn FnMut()>::new(look_after);
        let observer = MutationObserver::new(told.as_ref().unchecked_ref()).ok()?;
        let of = MutationObserverInit::new();
        of.set_child_list(true);
        of.set_subtree(true);
        of.set_attribute_filter(&Array::of2(&"disabled".into(), &"hidden".into()));
        let body = document().body()?;
        observer.observe_with_options(&body, &of).ok()?;
        Some(Self {
            observer,
            _told: told,
        })
    }
}

impl Drop for FocusWatch {
    fn drop(&mut self) {
        self.observer.disconnect();
    }
}
