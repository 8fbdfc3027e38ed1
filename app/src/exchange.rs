//! Files in and out, the clipboard, and the address.

use js_sys::Uint8Array;
use leptos::prelude::*;
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

/// A title as the name of a file.
pub fn file_name(title: &str, ending: &str) -> String {
    let plain: String = title
        .trim()
        .chars()
        .map(|c| {
            if c.is_alphanumeric() || matches!(c, '-' | '_') {
                c
            } else {
                '-'
            }
        })
        .collect();
    let plain = if plain.is_empty() { "lines" } else { &plain };
    format!("{plain}.{ending}")
}

/// Puts text on the clipboard.
pub async fn copy(text: &str) -> Result<(), Refused> {
    let clipboard = window().navigator().clipboard();
    wasm_bindgen_futures::JsFuture::from(clipboard.write_text(text))
        .await
        .map(|_| ())
        .map_err(said(
            "The browser did not copy; select the link and copy it by hand",
        ))
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

/// Takes a mark for the browser's own timing: how long the script of one drag step took.
pub fn measure<T>(name: &str, act: impl FnOnce() -> T) -> T {
    let Some(performance) = window().performance() else {
        return act();
    };
    let from = performance.now();
    let done = act();
    let options = js_sys::Object::new();
    let set =
        |key: &str, value: f64| js_sys::Reflect::set(&options, &key.into(), &value.into()).is_ok();
    if set("start", from) && set("end", performance.now()) {
        let target: &JsValue = performance.as_ref();
        if let Ok(function) = js_sys::Reflect::get(target, &"measure".into())
            && let Some(function) = function.dyn_ref::<js_sys::Function>()
            && function.call2(target, &name.into(), &options).is_err()
        {
            leptos::logging::warn!("no measure was taken");
        }
    }
    done
}
