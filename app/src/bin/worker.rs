//! The worker: makes the files that take longer than a frame.
//!
//! In: an order of the page. Out: the parts it comes to, what is found so far, then the file's bytes, handed over rather
//! than copied.

#[path = "../jobs/judging.rs"]
mod judging;
#[path = "../jobs/messages.rs"]
mod messages;

use std::sync::Arc;

use geometry::document::read_folder;
use geometry::loft::Lofted;
use geometry::shop::{OffsetsOptions, Stations, provenance, tabulate_offsets};
use geometry::spline::{MeshOptions, mesh};
use geometry::units::Message;
use geometry::write::{GlbOptions, StepOptions, write_csv, write_glb, write_step, write_xlsx};
use js_sys::{Array, Uint8Array};
use messages::{Findings, Order, TableFile, Word, Work};
use serde::Serialize;
use wasm_bindgen::prelude::Closure;
use wasm_bindgen::{JsCast, JsValue};
use web_sys::{DedicatedWorkerGlobalScope, MessageEvent};

fn main() {
    console_error_panic_hook::set_once();
    let Ok(scope) = js_sys::global().dyn_into::<DedicatedWorkerGlobalScope>() else {
        return;
    };
    let own = scope.clone();
    let heard = Closure::<dyn FnMut(MessageEvent)>::new(move |event: MessageEvent| {
        let text = event.data().as_string().unwrap_or_default();
        match serde_json::from_str::<Order>(&text) {
            Ok(order) => answer(&own, &order),
            Err(error) => wasm_bindgen::throw_str(&format!("no order: {error}")),
        }
    });
    scope.set_onmessage(Some(heard.as_ref().unchecked_ref()));
    heard.forget(); // heard as long as the worker lives
    say(&scope, &Word::Ready, None);
}

/// Says a word to the page, with the bytes of a file beside it.
fn say(scope: &DedicatedWorkerGlobalScope, word: &Word, bytes: Option<&[u8]>) {
    let text = match serde_json::to_string(word) {
        Ok(text) => JsValue::from_str(&text),
        Err(error) => wasm_bindgen::throw_str(&format!("no word: {error}")),
    };
    let said = match bytes {
        None => scope.post_message(&Array::of1(&text)),
        Some(bytes) => {
            let bytes = Uint8Array::from(bytes);
            let handed = Array::of1(&bytes.buffer());
            scope.post_message_with_transfer(&Array::of2(&text, &bytes), &handed)
        }
    };
    if let Err(error) = said {
        wasm_bindgen::throw_val(error);
    }
}

fn answer(scope: &DedicatedWorkerGlobalScope, order: &Order) {
    let serial = order.serial;
    let at = |part: &str| {
        let part = part.to_owned();
        say(scope, &Word::Part { serial, part }, None);
    };
    let made = |fingerprint: &str, bytes: &[u8], whole: bool| {
        let made = Word::Made {
            serial,
            whole,
            fingerprint: fingerprint.to_owned(),
        };
        say(scope, &made, Some(bytes));
    };
    let so_far = |fingerprint: &str, bytes: &[u8]| made(fingerprint, bytes, false);
    match make(order, &at, &so_far) {
        Ok((fingerprint, bytes)) => made(&fingerprint, &bytes, true),
        Err(sentence) => say(scope, &Word::Failed { serial, sentence }, None),
    }
}

/// The document's fingerprint, and the bytes of what was ordered; what stands before all is made goes to `so_far`.
fn make(
    order: &Order,
    at: &dyn Fn(&str),
    so_far: &dyn Fn(&str, &[u8]),
) -> Result<(String, Vec<u8>), String> {
    at("the lines");
    let folder = read_folder(order.file.as_bytes()).map_err(|error| error.to_string())?;
    let lines = Arc::new(folder.lines);
    let fingerprint = lines.fingerprint().full();
    at("the loft");
    let lofted = Lofted::build(Arc::clone(&lines));
    if let (Work::Judge, Err(_)) = (order.work, &lofted) {
        let found = judging::judge_unlofted(&lines, at)?;
        return Ok((fingerprint, written(&found)?));
    }
    let lofted = lofted.map_err(|error| error.message(lines.about.unit))?;
    let loft = lofted.loft();
    let bytes = match order.work {
        Work::Step => {
            at("the faces");
            let options = StepOptions {
                name: &lines.about.title,
                description: &provenance(&lines),
            };
            write_step(loft.surface(), &options)
        }
        Work::Glb => {
            at("the triangles");
            let skin = mesh(loft.surface(), &MeshOptions::NEAR).with_port();
            let options = GlbOptions {
                name: &lines.about.title,
                description: &provenance(&lines),
            };
            write_glb(&skin, &options).map_err(|error| error.to_string())?
        }
        Work::Judge => {
            let some = |found: &Findings| {
                so_far(&fingerprint, &written(found)?);
                Ok(())
            };
            written(&judging::judge_all(&lofted, at, &some)?)?
        }
        Work::Propose(wish) => written(&judging::propose(&lofted, wish, at)?)?,
        Work::Offsets {
            form,
            spacing,
            unit,
        } => {
            at("the offsets");
            let options = OffsetsOptions {
                stations: spacing.map_or(Stations::Own, Stations::Every),
                unit,
            };
            let table = tabulate_offsets(&lofted, &options);
            at("the file");
            match form {
                TableFile::Csv => write_csv(&table),
                TableFile::Xlsx => write_xlsx(&table).map_err(|error| error.to_string())?,
            }
        }
    };
    Ok((fingerprint, bytes))
}

/// As JSON.
fn written(found: &impl Serialize) -> Result<Vec<u8>, String> {
    serde_json::to_vec(found).map_err(|error| error.to_string())
}
