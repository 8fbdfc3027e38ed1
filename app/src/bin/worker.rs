//! The worker: answers jobs that take longer than a frame.

use wasm_bindgen::{JsCast, JsValue};

fn main() {
    console_error_panic_hook::set_once();
    if let Ok(scope) = js_sys::global().dyn_into::<web_sys::DedicatedWorkerGlobalScope>()
        && let Err(error) = scope.post_message(&JsValue::from_str("ready"))
    {
        wasm_bindgen::throw_val(error);
    }
}
