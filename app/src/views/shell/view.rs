//! The canvas with its lettering, and the gestures on it.

use std::collections::BTreeMap;

use geometry::num;
use leptos::html::{Canvas, Div};
use leptos::prelude::*;

use super::Board;
use super::easel::keep_drawn;
use super::overlay::{Overlay, Sight, flat};
use crate::exchange;
use crate::views::drawing::{Point, letters, strokes};
use crate::views::widgets::{list, part};

/// A pixel of a drag turns by this much, rad.
const DRAG_TURN: f64 = 0.007;

/// A press that moves less is a pick, px.
const STILL: f64 = 4.0;

/// Colours that are asked of the style sheet.
const ROLES: [&str; 12] = [
    "sheet",
    "tight",
    "flat",
    "inside",
    "equal",
    "hatch",
    "waterline",
    "station",
    "run",
    "rim",
    "pick",
    "stem",
];

/// The canvas with its lettering, and the gestures on it.
#[component]
pub fn View(board: Board) -> impl IntoView {
    let canvas: NodeRef<Canvas> = NodeRef::new();
    let probes: NodeRef<Div> = NodeRef::new();
    keep_drawn(board, canvas, probes);
    // Pointers that are down, and how far the first has gone.
    let down: StoredValue<BTreeMap<i32, Point>> = StoredValue::new(BTreeMap::new());
    let gone = StoredValue::new(0.0_f64);
    let at =
        |event: &web_sys::PointerEvent| (f64::from(event.offset_x()), f64::from(event.offset_y()));
    let press = move |event: web_sys::PointerEvent| {
        down.update_value(|down| {
            down.insert(event.pointer_id(), at(&event));
        });
        if down.with_value(|down| down.len() == 1) {
            gone.set_value(0.0);
        }
        exchange::hold_pointer(&event);
    };
    let drag = move |event: web_sys::PointerEvent| {
        let (id, to) = (event.pointer_id(), at(&event));
        let Some(from) = down.with_value(|down| down.get(&id).copied()) else {
            return;
        };
        let other = down.with_value(|down| {
            let mut others = down.iter().filter(|(other, _)| **other != id);
            others.next().map(|(_, at)| *at)
        });
        down.update_value(|down| {
            down.insert(id, to);
        });
        let (dx, dy) = (to.0 - from.0, to.1 - from.1);
        gone.update_value(|gone| *gone += dx.abs() + dy.abs());
        if let Some(other) = other {
            // Two fingers: what lies between them follows, and spreads with them.
            let span = |p: Point| num::hypot(p.0 - other.0, p.1 - other.1).max(1.0);
            let middle = (f64::midpoint(to.0, other.0), f64::midpoint(to.1, other.1));
            board.move_eye(|eye| {
                eye.shifted(dx / 2.0, dy / 2.0)
                    .enlarged(span(to) / span(from), middle)
            });
        } else if event.shift_key() {
            board.move_eye(|eye| eye.shifted(dx, dy));
        } else if gone.get_value() >= STILL {
            board.turn(-dx * DRAG_TURN, dy * DRAG_TURN);
        }
    };
    let release = move |event: web_sys::PointerEvent| {
        let alone = down.with_value(|down| down.len() == 1);
        down.update_value(|down| {
            down.remove(&event.pointer_id());
        });
        if alone && gone.get_value() < STILL {
            board.pick_at(at(&event));
        }
    };
    let cancel = move |event: web_sys::PointerEvent| {
        down.update_value(|down| {
            down.remove(&event.pointer_id());
        });
    };
    let wheel = move |event: web_sys::WheelEvent| {
        event.prevent_default();
        let factor = num::exp((-event.delta_y() * 0.0015).clamp(-0.5, 0.5));
        let about = (f64::from(event.offset_x()), f64::from(event.offset_y()));
        board.move_eye(|eye| eye.enlarged(factor, about));
    };
    let keys = move |event: web_sys::KeyboardEvent| {
        if board.key(&event) {
            event.prevent_default();
        }
    };
    // Keyed, so that another try has a canvas of its own: a lost one stays lost.
    let surface = move |_attempt: u32| {
        view! {
            <canvas
                node_ref=canvas
                tabindex="0"
                role="application"
                aria-label="Shell, both sides"
                aria-describedby="shell-words"
                data-lost=move || board.lost.get().map(|_| "")
                on:pointerdown=press
                on:pointermove=drag
                on:pointerup=release
                on:pointercancel=cancel
                on:wheel=wheel
                on:keydown=keys
            ></canvas>
        }
    };
    let notice = move || {
        board.lost.get().map(|why| {
            view! {
                <div class="bar" role="alert" data-kind="fault">
                    <p>{format!("{why}; the lines are drawn flat instead. Try again, or close other pages that draw.")}</p>
                    <button on:click=move |_| board.attempt.update(|attempt| *attempt += 1)>"Try again"</button>
                </div>
            }
        })
    };
    view! {
        {list(move || {
            let attempt = board.attempt.get();
            vec![part(attempt.to_string(), move || surface(attempt))]
        })}
        <Letters board/>
        {notice}
        <p class="hidden" id="shell-words">{move || board.words()}</p>
        <div class="shell-colours" aria-hidden="true" node_ref=probes>
            {ROLES.map(|role| view! { <i data-role=role></i> })}
        </div>
    }
}

/// The names over the canvas; where there are no graphics, the lines too.
#[component]
fn Letters(board: Board) -> impl IntoView {
    let overlay = Memo::new(move |_| {
        let scene = board.scene.get();
        let lines = board.derived.document.get();
        let picked = board.picked.get();
        scene.map_or_else(Overlay::default, |scene| {
            Overlay::of(&Sight {
                lines: &lines,
                scene: &scene,
                asked: &board.strokes.get(),
                cuts: &board.cuts.get(),
                eye: &board.eye.get(),
                pick: board.session.pick.get(),
                picked: picked.as_ref(),
                unit: board.session.unit(),
                width: board.size.get().0,
            })
        })
    });
    let flat = move || {
        board.lost.get().map(|_| {
            let paths = board
                .strokes
                .with(|strokes| flat(strokes, &board.eye.get()));
            paths
                .into_iter()
                .map(|(class, d)| view! { <path class=class d=d/> })
                .collect::<Vec<_>>()
        })
    };
    let ring = move || {
        overlay.get().ring.map(|((x, y), name)| {
            view! {
                <g role="img" aria-label=name>
                    <circle class="ring" cx=x.to_string() cy=y.to_string() r="9"/>
                </g>
            }
        })
    };
    // On paper it is as much smaller as the picture under it.
    let view_box = move || {
        let (wide, high) = board.size.get();
        (wide > 0.0 && high > 0.0).then(|| format!("0 0 {wide} {high}"))
    };
    let letters = move || {
        let labels = overlay.get().labels;
        labels.iter().map(letters).collect_view()
    };
    view! {
        <svg class="lines-plan letters" role="group" aria-label="Names on the shell" viewBox=view_box>
            {flat}
            <path class="leader" d=move || overlay.with(|overlay| strokes(&overlay.leaders))/>
            {ring}
            {letters}
        </svg>
    }
}
