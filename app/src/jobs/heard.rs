//! What the worker says, read: in the piece of the program that shows what it found, for nothing else needs these readers.

use leptos::wasm_split::{SplitLoaderError, wasm_split};

use super::messages::Reply;

/// Reads a reply; none where it can't be understood.
#[wasm_split(margin, wasm_split_path = ::leptos::wasm_split, fallible, preload(fetch_reply))]
pub fn reply(text: String) -> Result<Option<Reply>, SplitLoaderError> {
    Ok(serde_json::from_str(&text).ok())
}
