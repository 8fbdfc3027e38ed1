//! When the canvas is drawn: once for all changes of a frame, again when size, colours or graphics change.

use std::cell::{Cell, RefCell};
use std::rc::Rc;

use gloo::events::{EventListener, EventListenerOptions};
use leptos::html::{Canvas, Div};
use leptos::prelude::*;
use wasm_bindgen::JsCast;
use wasm_bindgen::prelude::Closure;

use super::Board;
use super::paint::{Colour, Colours, Paint, ShellLook};
use crate::exchange;

/// What a frame's script is called in the browser's own timing; only the last one is kept.
const FRAME: &str = "shell frame";

/// The canvas' graphics, and whether a frame is asked for.
#[derive(Default)]
struct Easel {
    paint: RefCell<Option<Paint>>,
    asked: Cell<bool>,
    colours: Cell<Option<Colours>>,
    listeners: RefCell<Vec<EventListener>>,
}

/// A colour as the browser writes it: `rgb(23, 34, 43)`, `rgba(…, 0.5)`.
fn parse_colour(text: &str) -> Option<Colour> {
    let inside = text.split_once('(')?.1.strip_suffix(')')?;
    let mut parts = inside
        .split(|c: char| c == ',' || c == '/' || c.is_whitespace())
        .filter(|part| !part.is_empty())
        .map(str::parse::<f64>);
    let mut next = || parts.next()?.ok();
    let colour = [next()? / 255.0, next()? / 255.0, next()? / 255.0];
    Some([colour[0], colour[1], colour[2], next().unwrap_or(1.0)])
}

/// The colours of the style sheet, each asked of an element that has it.
fn read_colours(probes: &web_sys::Element) -> Option<Colours> {
    let of = |role: &str| {
        let probe = probes
            .query_selector(&format!("[data-role=\"{role}\"]"))
            .ok()??;
        let style = window().get_computed_style(&probe).ok()??;
        parse_colour(&style.get_property_value("color").ok()?)
    };
    Some(Colours {
        sheet: of("sheet")?,
        tight: of("tight")?,
        flat: of("flat")?,
        inside: of("inside")?,
        equal: of("equal")?,
        hatch: of("hatch")?,
        pens: [
            of("waterline")?,
            of("station")?,
            of("run")?,
            of("rim")?,
            of("run")?,
            of("pick")?,
            of("stem")?,
        ],
    })
}

/// Asks for one frame, however often it is asked before that.
fn ask_frame(board: Board, easel: &Rc<Easel>) {
    if easel.asked.replace(true) {
        return;
    }
    let easel = Rc::clone(easel);
    request_animation_frame(move || {
        easel.asked.set(false);
        // The screen may have been left since.
        let Some(size) = board.size.try_get_untracked() else {
            return;
        };
        let paint = easel.paint.borrow();
        if let (Some(paint), Some(colours)) = (paint.as_ref(), easel.colours.get())
            && size.0 > 0.0
            && size.1 > 0.0
        {
            board.ladder.with_untracked(|ladder| {
                let from = exchange::clock();
                paint.draw(&ShellLook {
                    eye: &board.eye.get_untracked(),
                    colours: &colours,
                    shade: board.shade.get_untracked(),
                    ladder,
                    size,
                    ratio: window().device_pixel_ratio().clamp(1.0, 2.0),
                });
                exchange::forget_measured(FRAME);
                exchange::measured(FRAME, from);
            });
        }
    });
}

/// Takes hold of the canvas and keeps it drawn.
pub fn keep_drawn(board: Board, canvas: NodeRef<Canvas>, probes: NodeRef<Div>) {
    let easel = Rc::new(Easel::default());
    let hold = Rc::clone(&easel);
    Effect::new(move |_| {
        let Some(element) = canvas.get() else { return };
        *hold.paint.borrow_mut() = None;
        match Paint::on(&element) {
            Ok(paint) => {
                *hold.paint.borrow_mut() = Some(paint);
                board.lost.set(None);
            }
            Err(why) => board.lost.set(Some(why.to_owned())),
        }
        let easel = Rc::clone(&hold);
        let preventable = EventListenerOptions::enable_prevent_default();
        let gone = EventListener::new_with_options(
            &element,
            "webglcontextlost",
            preventable,
            move |event| {
                event.prevent_default();
                // What belonged to it is let go while it is lost; later it would belong to no one.
                *easel.paint.borrow_mut() = None;
                board
                    .lost
                    .set(Some("The browser took the graphics away".to_owned()));
            },
        );
        let back = EventListener::new(&element, "webglcontextrestored", move |_| {
            board.attempt.update(|attempt| *attempt += 1);
        });
        *hold.listeners.borrow_mut() = vec![gone, back];
    });
    let hold = Rc::clone(&easel);
    Effect::new(move |_| {
        board.theme.track();
        if let Some(probes) = probes.get() {
            hold.colours.set(read_colours(&probes));
            ask_frame(board, &hold);
        }
    });
    let hold = Rc::clone(&easel);
    Effect::new(move |_| {
        canvas.track();
        let (Some(scene), strokes) = (board.scene.get(), board.strokes.get()) else {
            return;
        };
        if let Some(paint) = hold.paint.borrow_mut().as_mut() {
            paint.send(&scene, &strokes);
        }
        ask_frame(board, &hold);
    });
    Effect::new(move |_| {
        board.eye.track();
        board.shade.track();
        board.ladder.track();
        board.size.track();
        ask_frame(board, &easel);
    });
}

/// Tells when the colours may have changed: by the system's setting or the page's.
pub fn watch_theme(board: Board) {
    let changed = move || {
        board.theme.try_update(|count| *count += 1);
    };
    let system = window()
        .match_media("(prefers-color-scheme: dark)")
        .ok()
        .flatten()
        .map(|query| EventListener::new(&query, "change", move |_| changed()));
    StoredValue::new_local(system);
    let told = Closure::<dyn FnMut(js_sys::Array)>::new(move |_| changed());
    let observer = web_sys::MutationObserver::new(told.as_ref().unchecked_ref()).ok();
    if let (Some(observer), Some(root)) = (observer.as_ref(), document().document_element()) {
        let options = web_sys::MutationObserverInit::new();
        options.set_attributes(true);
        if observer.observe_with_options(&root, &options).is_err() {
            leptos::logging::warn!("a change of theme will not be seen");
        }
    }
    let watch = StoredValue::new_local((observer, told));
    on_cleanup(move || {
        watch.try_with_value(|(observer, _)| {
            if let Some(observer) = observer {
                observer.disconnect();
            }
        });
    });
}
