//! Parts that many views use: the dialog over the page, and what is said where there is no loft.

use geometry::document::PointId;
use leptos::prelude::*;
use wasm_bindgen::JsCast;

use super::making::MakingBar;
use super::picking::focus_point;
use crate::state::derived::Derived;
use crate::state::{NoteKind, Question, Screen, Session};

/// A part of a list that changes: by what it is known again, and how it is drawn.
pub type ListPart = (String, Box<dyn Fn() -> AnyView + Send + Sync>);

/// A part of a list that changes.
pub fn part<V: IntoView + 'static>(
    key: String,
    draw: impl Fn() -> V + Send + Sync + 'static,
) -> ListPart {
    (key, Box::new(move || draw().into_any()))
}

/// A list of which only those parts are drawn anew that are others; one for all lists, which keeps the program small.
pub fn list(parts: impl Fn() -> Vec<ListPart> + Send + Sync + 'static) -> AnyView {
    fn boxed(parts: Box<dyn Fn() -> Vec<ListPart> + Send + Sync>) -> AnyView {
        view! { <For each=parts key=|(key, _)| key.clone() children=|(_, draw)| draw()/> }
            .into_any()
    }
    boxed(Box::new(parts))
}

/// A question over the page, with the focus in it; Esc and «Close» leave all as it was.
#[component]
pub fn Dialog(
    /// What stands over it.
    #[prop(into)]
    title: String,
    children: Children,
) -> impl IntoView {
    let session = expect_context::<Session>();
    let name = title.clone();
    let node = NodeRef::<leptos::html::Dialog>::new();
    let head = NodeRef::<leptos::html::H2>::new();
    Effect::new(move |_| {
        let (Some(dialog), Some(head)) = (node.get(), head.get()) else {
            return;
        };
        if !dialog.open() && dialog.show_modal().is_err() {
            leptos::logging::warn!("the dialog did not open");
        }
        // It is read from its top, also where the first thing that takes the focus stands far down.
        if dialog.scroll_top() > 0 {
            let taken = head
                .set_attribute("tabindex", "-1")
                .and_then(|()| head.focus());
            if taken.is_err() {
                leptos::logging::warn!("the focus stays below");
            }
            dialog.set_scroll_top(0);
        }
    });
    view! {
        <dialog node_ref=node aria-label=name on:close=move |_| session.ask_no_more()>
            <h2 node_ref=head>{title}</h2>
            {children()}
            <ToldHere/>
        </dialog>
    }
}

/// What is said since the dialog is open, and what is made meanwhile: whoever is asked something does not see what is behind.
#[component]
fn ToldHere() -> impl IntoView {
    let session = expect_context::<Session>();
    let news = RwSignal::new(false);
    Effect::new(move |before: Option<()>| {
        session.note.with(|_| ());
        if before.is_some() {
            news.set(true);
        }
    });
    let note = move || {
        let note = session.note.get().filter(|_| news.get());
        note.map(|note| {
            let fault = note.kind == NoteKind::Fault;
            view! { <p class:fault=fault>{note.text}</p> }
        })
    };
    view! { <div class="told" role="status">{note}<MakingBar/></div> }
}

/// Says why there is no loft, and leads to the point to begin with; always there, so that it is read aloud.
#[component]
pub fn LoftFault() -> impl IntoView {
    let session = expect_context::<Session>();
    let derived = expect_context::<Derived>();
    // Where nothing is read yet, the screen says what to do first.
    let bare = Memo::new(move |_| derived.document.with(|lines| lines.body.points.is_empty()));
    let fault = Memo::new(move |_| derived.fault.get().filter(|_| !bare.get()));
    let go = move |point: PointId| {
        let go = move |_| {
            session.go_to(Screen::Lines);
            session.pick_point(point);
            // The screen may have to come first.
            leptos::task::spawn_local(async move {
                leptos::task::tick().await;
                focus_point(point, None);
            });
        };
        view! { <button on:click=go>"Go to it"</button> }
    };
    view! {
        <div class="bar no-loft" role="alert" data-kind="fault" hidden=move || fault.with(Option::is_none)>
            {move || fault.get().map(|fault| view! {
                <p>{fault.says}{fault.law.then_some(" Or give the body by law, which shapes its sections from crown, breadth and keel.")}</p>
                {fault.point.map(go)}
                {fault.law.then(|| view! { <button on:click=move |_| session.ask(Question::Law)>"Conic law"</button> })}
            })}
        </div>
    }
}

/// Closes the open dialog, so that the focus goes back to where it was.
pub fn close_dialog() {
    let open = document().query_selector("dialog[open]").ok().flatten();
    if let Some(dialog) = open.and_then(|d| d.dyn_into::<web_sys::HtmlDialogElement>().ok()) {
        dialog.close();
    }
}
