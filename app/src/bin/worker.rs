//! The worker: whatever takes longer than a frame, which is files, verdicts and proposals.
//!
//! In: an order of the page. Out: the parts it comes to, what is found so far, then the answer; a file's bytes are handed
//! over rather than copied.

#[path = "../jobs/messages.rs"]
mod messages;

use std::cell::RefCell;
use std::sync::Arc;

use geometry::document::{Body, Frozen, read_folder};
use geometry::issue::make;
use geometry::issue::sheets::{Pack, PackOptions};
use geometry::loft::Lofted;
use geometry::settle::{Findings, Judging, judge_all, judge_unlofted, propose, weigh};
use geometry::units::{LengthUnit, Message};
use geometry::write::{SvgLook, write_svg};
use js_sys::{Array, Uint8Array};
use messages::{Order, Reply, Tried, WentOut, Work};
use wasm_bindgen::prelude::Closure;
use wasm_bindgen::{JsCast, JsValue};
use web_sys::{DedicatedWorkerGlobalScope, MessageEvent};

thread_local! {
    /// What was judged last, so that of the next lines only what moved is worked out.
    static JUDGED: RefCell<Option<Judging>> = const { RefCell::new(None) };
    /// What was found last of lines for their sheets.
    static FOUND: RefCell<Option<FoundOf>> = const { RefCell::new(None) };
    /// The sheets that were laid out last, and of what: whoever leafs through them waits for nothing.
    static PACK: RefCell<Option<(PackOf, Pack)>> = const { RefCell::new(None) };
}

/// What was found of a body's lines, told in a unit.
type FoundOf = (Arc<Body>, LengthUnit, Arc<Findings>);

/// The file that sheets are of, the revision that it is, and what they are held against.
type PackOf = (String, Option<Frozen>, Option<WentOut>);

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

/// Does what was ordered, and says it, part by part.
fn done(scope: &DedicatedWorkerGlobalScope, order: &Order) -> Result<(), String> {
    let serial = order.serial;
    let at = |part: &str| {
        let part = part.to_owned();
        say(scope, &Reply::Part { serial, part }, None);
    };
    if let Work::Lay | Work::Draw { .. } = order.work {
        return lay_or_draw(scope, order, &at);
    }
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
        Work::TryLoft | Work::Lay | Work::Draw { .. } => {} // answered above
    }
    Ok(())
}

/// Says which sheets there can be, or draws one.
fn lay_or_draw(
    scope: &DedicatedWorkerGlobalScope,
    order: &Order,
    at: &dyn Fn(&str),
) -> Result<(), String> {
    let serial = order.serial;
    let gauge = match order.work {
        Work::Draw { gauge, .. } => gauge,
        _ => None,
    };
    let of = (
        order.file.clone(),
        order.revision.clone(),
        order.since.clone(),
    );
    let pack = match PACK.take().filter(|(kept, _)| *kept == of) {
        Some((_, pack)) => pack,
        None => laid_out(&of, at)?,
    };
    let pack = pack.gauged_by(gauge);
    let reply = if let Work::Draw { part, page, .. } = order.work {
        at("the sheet");
        let sheets = pack.draw(part);
        let svg = sheets
            .get(page)
            .map(|sheet| write_svg(sheet, SvgLook::Page));
        svg.map(|svg| Reply::Drawn { serial, svg })
    } else {
        let contents = pack.contents().clone();
        Some(Reply::Laid { serial, contents })
    };
    PACK.set(Some((of, pack)));
    let reply = reply.ok_or("There is no such sheet any more.")?;
    say(scope, &reply, None);
    Ok(())
}

/// All sheets that a file's lines can give, with what over them is still to be settled.
fn laid_out((file, revision, since): &PackOf, at: &dyn Fn(&str)) -> Result<Pack, String> {
    at("the lines");
    let folder = read_folder(file.as_bytes()).map_err(|error| error.to_string())?;
    let unit = folder.lines.about.unit;
    at("the loft");
    let lofted = Lofted::build(Arc::new(folder.lines)).map_err(|error| error.message(unit))?;
    let lofted = lofted.frozen_as(revision.clone());
    let findings = Some(found_of(&lofted, at)?);
    at("the boards");
    let options = PackOptions {
        gauge: None,
        findings,
    };
    let pack = Pack::of(&lofted, options);
    let Some(WentOut {
        file,
        label,
        sheets,
    }) = since
    else {
        return Ok(pack);
    };
    at("what went out before");
    let then = read_folder(file.as_bytes()).map_err(|error| error.to_string())?;
    // Lines that were frozen without a loft had no sheets.
    let Ok(then) = Lofted::build(Arc::new(then.lines)) else {
        return Ok(pack);
    };
    Ok(pack.since(&Pack::of(&then, PackOptions::default()), label, sheets))
}

/// What is found of lines at once; as it was the last time, where their body is the same.
fn found_of(lofted: &Lofted, at: &dyn Fn(&str)) -> Result<Arc<Findings>, String> {
    let (body, unit) = (&lofted.lines().body, lofted.lines().about.unit);
    let kept = FOUND.with_borrow(|kept| {
        let kept = kept.as_ref()?;
        (kept.0 == *body && kept.1 == unit).then(|| Arc::clone(&kept.2))
    });
    if let Some(findings) = kept {
        return Ok(findings);
    }
    let before = JUDGED.take();
    let mut judging = Judging::of(lofted, before.as_ref(), at, &|_| ())?;
    let findings = Arc::new(judging.at_once(at)?);
    JUDGED.set(Some(judging));
    FOUND.set(Some((Arc::clone(body), unit, Arc::clone(&findings))));
    Ok(findings)
}
