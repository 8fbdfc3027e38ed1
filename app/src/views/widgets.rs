//! Parts that many views use: the dialog over the page.

use leptos::prelude::*;
use wasm_bindgen::JsCast;

use crate::state::Session;

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
    Effect::new(move |_| {
        if let Some(dialog) = node.get()
            && !dialog.open()
            && dialog.show_modal().is_err()
        {
            leptos::logging::warn!("the dialog did not open");
        }
    });
    view! {
        <dialog node_ref=node aria-label=name on:close=move |_| session.question.set(None)>
            <h2>{title}</h2>
            {children()}
        </dialog>
    }
}

/// Closes the open dialog, so that the focus goes back to where it was.
pub fn close_dialog() {
    let open = document().query_selector("dialog[open]").ok().flatten();
    if let Some(dialog) = open.and_then(|d| d.dyn_into::<web_sys::HtmlDialogElement>().ok()) {
        dialog.close();
    }
}
