//! The worker: whatever takes longer than a frame, which is files, verdicts and proposals.
//!
//! In: an order of the page. Out: the parts it comes to, what is found so far, then the answer; a file's bytes are handed
//! over rather than copied.

#[path = "../jobs/messages.rs"]
mod messages;

use std::cell::RefCell;
use std::sync::Arc;

use geometry::document::read_folder;
use geometry::issue::make;
use geometry::issue::sheets::{Pack, PackOptions};
use geometry::loft::Lofted;
use geometry::settle::{Findings, Judging, judge_all, judge_unlofted, propose, weigh};
use geometry::units::Message;
use geometry::write::{SvgLook, write_svg};
use js_sys::{Array, Uint8Array};
use messages::{Order, Reply, Tried, Work};
use wasm_bindgen::prelude::Closure;
use wasm_bindgen::{JsCast, JsValue};
use web_sys::{DedicatedWorkerGlobalScope, MessageEvent};

thread_local! {
    /// What was judged last, so that of the next lines only what moved is worked out.
    static JUDGED: RefCell<Option<Judging>> = const { RefCell::new(None) };
}

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
    say(&scope, &Reply::Ready, None);
}

/// By the worker's own clock, ms.
fn clock(scope: &DedicatedWorkerGlobalScope) -> f64 {
    let performance = scope.performance();
    performance.map_or(0.0, |performance| performance.now())
}

/// Replies to the page, with the bytes of a file beside it.
fn say(scope: &DedicatedWorkerGlobalScope, reply: &Reply, bytes: Option<&[u8]>) {
    let text = match serde_json::to_string(reply) {
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
    if let Err(sentence) = done(scope, order) {
        let serial = order.serial;
        say(scope, &Reply::Failed { serial, sentence }, None);
    }
}

/// What is found of lines at once, by what was judged before.
fn judged(lofted: &Lofted, at: &dyn Fn(&str)) -> Result<Findings, String> {
    let before = JUDGED.take();
    let mut judging = Judging::of(lofted, before.as_ref(), at, &|_| ())?;
    let findings = judging.at_once(at)?;
    JUDGED.set(Some(judging));
    Ok(findings)
}

/// Does what was ordered, and says it, part by part.
fn done(scope: &DedicatedWorkerGlobalScope, order: &Order) -> Result<(), String> {
    let serial = order.serial;
    let at = |part: &str| {
        let part = part.to_owned();
        say(scope, &Reply::Part { serial, part }, None);
    };
    at("the lines");
    let folder = read_folder(order.file.as_bytes()).map_err(|error| error.to_string())?;
    let lines = Arc::new(folder.lines);
    at("the loft");
    let from = clock(scope);
    let lofted = Lofted::build(Arc::clone(&lines));
    let took = clock(scope) - from;
    let found = |findings: Findings, last: bool| {
        let found = Reply::Found {
            serial,
            findings,
            last,
        };
        say(scope, &found, None);
    };
    if let (Work::Judge | Work::Further, Err(_)) = (order.work, &lofted) {
        found(judge_unlofted(&lines, &at)?, true);
        return Ok(());
    }
    let unit = lines.about.unit;
    if order.work == Work::TryLoft {
        let fault = lofted.err().map(|error| error.message(unit));
        let tried = Tried { fault, took };
        say(scope, &Reply::Tried { serial, tried }, None);
        return Ok(());
    }
    let lofted = lofted.map_err(|error| error.message(unit))?;
    match order.work {
        Work::Make(output) => {
            let lofted = lofted.frozen_as(order.revision.clone());
            let bytes = make(&lofted, output, &at).map_err(|error| error.message(unit))?;
            let made = Reply::Made {
                serial,
                fingerprint: lines.fingerprint().full(),
            };
            say(scope, &made, Some(&bytes));
        }
        Work::Judge => {
            let so_far = |findings: &Findings| found(findings.clone(), false);
            let before = JUDGED.take();
            let mut judging = Judging::of(&lofted, before.as_ref(), &at, &so_far)?;
            found(judging.at_once(&at)?, true);
            JUDGED.set(Some(judging));
        }
        Work::Further => found(judge_all(&lofted, &at, &|_| ())?, true),
        Work::Propose(wish) => {
            let proposed = propose(&lofted, wish, &at)?;
            say(scope, &Reply::Proposed { serial, proposed }, None);
        }
        Work::Weigh(wish) => {
            let weighed = weigh(&lofted, wish, &order.moves)?;
            say(scope, &Reply::Weighed { serial, weighed }, None);
        }
        Work::Lay | Work::Draw { .. } => {
            let lofted = lofted.frozen_as(order.revision.clone());
            let findings = judged(&lofted, &at)?;
            at("the boards");
            let findings = Some(&findings);
            if let Work::Draw { part, page, gauge } = order.work {
                let pack = Pack::of(&lofted, PackOptions { gauge, findings });
                at("the sheet");
                let sheets = pack.draw(part);
                let sheet = sheets.get(page).ok_or("There is no such sheet any more.")?;
                let svg = write_svg(sheet, SvgLook::Page);
                say(scope, &Reply::Drawn { serial, svg }, None);
            } else {
                let pack = Pack::of(
                    &lofted,
                    PackOptions {
                        gauge: None,
                        findings,
                    },
                );
                let contents = pack.contents().clone();
                say(scope, &Reply::Laid { serial, contents }, None);
            }
        }
        Work::TryLoft => {} // answered above
    }
    Ok(())
}
