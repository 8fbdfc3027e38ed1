//! The Lines screen: profile, half-breadth plan and body plan on one sheet. What is picked there, dragged, lifted.
//!
//! A point is held by the pointer or by the keys; while it is held its move is the session's draft, and putting it down
//! makes one step of it.

mod card;
mod gestures;
mod lifted;
mod margin;
mod radii;
mod readout;
mod take_away;
mod targets;
mod under;

use std::collections::BTreeSet;

use geometry::document::Lines;
use geometry::issue::lines_plan::{
    BAND, Drawing, Extent, Layout, Legend, Medium, Scales, Scene, Standing, draw_beside,
    draw_curvature, draw_legend, draw_lines, draw_marks, draw_paper, draw_short_legend,
};
use geometry::paper::Text;
use leptos::prelude::*;

use super::drawing::{Paths, Point, key_of, letters, px, still};
use super::first::{FirstPicture, Part, from};
use super::picking::{Target, rings, rove, targets as targets_of};
use super::proposed::leave;
use super::revisions::DrawnBeside;
use super::widgets::{LoftFault, list, part};
use crate::exchange;
use crate::state::derived::Derived;
use crate::state::findings::Findings;
use crate::state::proposal::Proposal;
use crate::state::{Glass, NARROW, Pick, Session, Shown};
use card::Card;
use gestures::Gestures;
pub use margin::MARGIN;
pub use radii::Radii;
use readout::readout;
pub use take_away::lines_sheet;
use targets::{Held, Targets};

/// What a key enlarges by, and a button.
const KEY_ENLARGE: f64 = 1.2;
const BUTTON_ENLARGE: f64 = 1.5;

/// Width of the margin's notes beside the card, px; `views.css` has the same.
const NOTES: f64 = 304.0;

/// Least height of the drawing on a desk screen, px; where there is less the screen scrolls.
const LEAST: f64 = 600.0;

/// The memos of the drawing, each of what changes together.
#[derive(Clone, Copy)]
struct Sheet {
    layout: Memo<Layout>,
    /// Room for one view that stands alone, px.
    room: Memo<(f64, f64)>,
    /// The scale at which all views stand on one sheet.
    whole: Memo<f64>,
    targets: Memo<Vec<Target>>,
    paper: Memo<Drawing>,
    lines: Memo<Drawing>,
    /// Combs and strip; what belongs to them but is no drawing.
    curves: Memo<Drawing>,
    legend: Memo<Option<Legend>>,
    marks: Memo<Drawing>,
    /// Another state's lines.
    beside: Memo<Drawing>,
    rings: Memo<Vec<Point>>,
}

/// A layout, and what it was laid for where one view stands alone.
#[derive(Clone, Copy, Debug, PartialEq)]
struct LookedAt {
    layout: Layout,
    seen: Option<(Glass, Pick)>,
}

/// Where the picked point lies, in the body plan to the hand of its station, mm.
fn place_of(lines: &Lines, derived: Derived, layout: &Layout, pick: Pick) -> Option<[f64; 3]> {
    let station = lines.body.station(pick.station)?;
    let offsets = derived.offsets_of(&lines.body);
    let mut all = offsets.iter().flatten();
    let [y, z] = all.find(|o| Some(o.point) == pick.point)?.accepted;
    let hand = if layout.body.is_some() {
        layout.hand(lines.body.station_index(pick.station)?)
    } else {
        1.0
    };
    Some([station.x, hand * y, z])
}

/// What the drawing is of.
#[derive(Clone, Copy)]
struct Present {
    session: Session,
    derived: Derived,
    findings: Findings,
    layout: Memo<Layout>,
}

impl Present {
    /// Draws from the present scene; where there is no loft, the points alone.
    fn draw<T>(self, draw: impl FnOnce(&Scene<'_>) -> T) -> T {
        let shown = self.derived.shown.get().unwrap_or_default();
        draw(&Scene {
            hidden: &self.session.hidden.read(),
            lines: &self.derived.document.get(),
            offsets: &self.derived.offsets.get(),
            shown: &shown,
            fine: &self.derived.fine.get(),
            layout: &self.layout.get(),
            pick: self.session.pick.get(),
            bands: &self.findings.bands.get(),
        })
    }
}

/// Room on a printed page under its title, px: A3 on its side with margins of 10 mm; on A4 all is drawn the smaller.
const PRINTED: (f64, f64) = (1_512.0, 960.0);

/// Narrow windows lower than this show the card beside the drawing, px.
const LOW_WINDOW: f64 = 500.0;

/// How wide the card is beside the drawing, px.
const CARD_WIDTH: f64 = 320.0;

/// What header, switch and foot take of such a window's height, px.
const CHROME_HEIGHT: f64 = 149.0;

fn sheet(session: Session, derived: Derived, findings: Findings) -> Sheet {
    let extent = Memo::new(move |_| {
        let lines = derived.standing.get();
        Extent::of(&lines, &derived.offsets_of(&lines.body))
    });
    let room = Memo::new(move |_| {
        let (width, height) = session.room.get();
        if session.prints.get() {
            PRINTED
        } else if width >= NARROW {
            let (width, high) = session.sheet.get();
            (width, high.max(LEAST))
        } else if height < LOW_WINDOW && width >= 2.0 * CARD_WIDTH {
            (width - CARD_WIDTH, height - CHROME_HEIGHT)
        } else {
            (width, (height * 0.44).clamp(280.0, 520.0))
        }
    });
    let all = Memo::new(move |_| {
        let all = Layout::desk(room.get(), extent.get());
        let medium = if session.prints.get() {
            Medium::AnyPage
        } else {
            all.medium
        };
        Layout { medium, ..all }
    });
    // Alone on a desk, a view leaves the margin's notes their column.
    let room_alone = Memo::new(move |_| {
        let (width, height) = room.get();
        let column = if session.narrow() { 0.0 } else { NOTES };
        (width - column, height)
    });
    let looked_at = Memo::new(move |before: Option<&LookedAt>| {
        if !session.one_view() {
            return LookedAt {
                layout: all.get(),
                seen: None,
            };
        }
        let (glass, pick) = (session.glass.get(), session.pick.get());
        let lay = |middle: [f64; 3]| {
            let glass = Glass { middle, ..glass };
            Layout::alone(room_alone.get(), extent.get(), session.shown.get(), &glass)
        };
        let last = before.and_then(|b| Some((b.seen?, b.layout.middle)));
        let (middle, other) = match last {
            Some(((seen, picked), middle)) if seen == glass => (middle, picked != pick),
            _ => (glass.middle, false),
        };
        let mut layout = lay(middle);
        // What is newly picked comes into sight.
        let lines = derived.standing.get_untracked();
        if let (true, Some(place)) = (other, place_of(&lines, derived, &layout, pick))
            && !layout.sees(place)
        {
            layout = lay(place);
        }
        LookedAt {
            layout,
            seen: Some((glass, pick)),
        }
    });
    let layout = Memo::new(move |_| looked_at.with(|looked| looked.layout));
    let present = Present {
        session,
        derived,
        findings,
        layout,
    };
    let held_targets = Memo::new(move |_| {
        let lines = derived.standing.get();
        targets_of(
            &lines,
            &derived.offsets_of(&lines.body),
            &layout.get(),
            &session.hidden.read(),
        )
    });
    let scales = Memo::new(move |before: Option<&Scales>| {
        match before {
            // While a point is held the scale stays.
            Some(scales) if session.tries_out() => scales.clone(),
            _ => Scales::of(
                &derived.fine.get(),
                &session.combs.get(),
                session.pick.get().on,
                (session.tooth.get(), session.unit()),
                before,
            ),
        }
    });
    let paper = Memo::new(move |_| {
        let (lines, planes) = (derived.standing.get(), derived.planes.get());
        draw_paper(&lines, &planes, &layout.get(), session.pick.get())
    });
    let lines = Memo::new(move |_| present.draw(draw_lines));
    let curved = Memo::new(move |_| {
        let (combs, scales) = (session.combs.get(), scales.get());
        present.draw(|scene| draw_curvature(scene, &combs, &scales))
    });
    let marks = Memo::new(move |_| {
        let (lifted, tape) = (derived.lifted.get(), derived.tape.get());
        present.draw(|scene| draw_marks(scene, lifted.as_ref(), tape.as_deref()))
    });
    let rings = Memo::new(move |_| present.draw(rings));
    Sheet {
        layout,
        room: room_alone,
        whole: Memo::new(move |_| all.with(|all| all.scale)),
        targets: held_targets,
        paper,
        lines,
        curves: Memo::new(move |_| curved.with(|curved| curved.drawing.clone())),
        legend: Memo::new(move |_| curved.with(|curved| curved.legend.clone())),
        marks,
        beside: beside(session, derived, layout, scales),
        rings,
    }
}

/// Another state of the lines, drawn beside them.
fn beside(
    session: Session,
    derived: Derived,
    layout: Memo<Layout>,
    scales: Memo<Scales>,
) -> Memo<Drawing> {
    Memo::new(move |_| {
        derived
            .beside
            .get()
            .map_or_else(Drawing::default, |(lines, shown, fine)| {
                let there = derived.offsets_of(&lines.body);
                let scene = Scene {
                    hidden: &session.hidden.read(),
                    lines: &lines,
                    offsets: &there,
                    shown: &shown,
                    fine: &fine,
                    layout: &layout.get(),
                    pick: session.pick.get(),
                    bands: &[],
                };
                draw_beside(
                    &scene,
                    &Standing {
                        offsets: &derived.offsets.get(),
                        shown: &derived.shown.get().unwrap_or_default(),
                        fine: &derived.fine.get(),
                    },
                    &derived.moved.get(),
                    &scales.get(),
                )
            })
    })
}

/// Watches the room that the screen has between what is said over it and its card, px.
fn watch_room(main: &web_sys::HtmlElement, session: Session) -> Option<exchange::SizeWatch> {
    let find = |part: &str| main.query_selector(part).ok().flatten();
    let parts: Vec<web_sys::Element> = [".view-switch", ".card"]
        .into_iter()
        .filter_map(find)
        .collect();
    let mut watched: Vec<&web_sys::Element> = vec![main];
    watched.extend(&parts);
    let (main, parts) = (main.clone(), parts.clone());
    let tell = move || {
        let high = |part: &web_sys::Element| part.get_bounding_client_rect().height();
        let taken: f64 = parts.iter().map(high).sum();
        let now = (
            f64::from(main.client_width()),
            f64::from(main.client_height()) - taken.ceil(),
        );
        session.measure_sheet(now);
    };
    exchange::SizeWatch::on(&watched, tell)
}

/// The screen.
#[component]
pub fn LinesScreen() -> impl IntoView {
    let session = expect_context::<Session>();
    let derived = expect_context::<Derived>();
    let sheet = sheet(session, derived, expect_context::<Findings>());
    let held: RwSignal<Option<Held>> = RwSignal::new(None);
    let gestures = Gestures::new(session, derived, sheet, held);
    let switch = move |shown: Shown, name: &'static str| {
        view! {
            <button
                aria-pressed=move || (session.shown.get() == shown).to_string()
                on:click=move |_| session.show_view(shown)
            >{name}</button>
        }
    };
    let proposal = expect_context::<Proposal>();
    // Esc drops whatever is held, wherever the focus is; else it leaves what is proposed or drawn beside.
    let keys = window_event_listener(leptos::ev::keydown, move |event| {
        let busy = exchange::in_a_field(&event) || session.question.with_untracked(Option::is_some);
        if !busy && !event.ctrl_key() && !event.meta_key() {
            match event.key().as_str() {
                "+" | "=" => gestures.enlarge(KEY_ENLARGE, None),
                "-" | "−" => gestures.enlarge(1.0 / KEY_ENLARGE, None),
                "0" => session.show_whole(),
                _ => {}
            }
        }
        if event.key() != "Escape" {
            return;
        }
        if held.with_untracked(Option::is_some) {
            event.prevent_default();
            held.set(None);
            session.let_go();
        } else if !busy {
            leave(session, proposal);
        }
    });
    on_cleanup(move || {
        keys.remove();
        session.let_go();
    });
    // Where the margin's notes begin on a desk.
    let under_body = move || {
        let body = sheet.layout.with(|layout| layout.body);
        match body {
            Some(body) if !sheet.layout.get().alone => format!("{:.0}px", body.area[3] + 28.0),
            _ => "96px".to_owned(),
        }
    };
    let main = NodeRef::<leptos::html::Main>::new();
    let watch = StoredValue::new_local(None::<exchange::SizeWatch>);
    let carded = expect_context::<FirstPicture>().has(Part::Card);
    Effect::new(move |_| {
        if let (Some(main), true) = (main.get(), carded.get()) {
            watch.set_value(watch_room(&main, session));
        }
    });
    view! {
        <main class="lines" data-alone=move || session.one_view().then_some("") node_ref=main style=("--under-body", under_body)>
            <div class="view-switch" role="group" aria-label="View">
                {switch(Shown::Profile, "Profile")}
                {switch(Shown::HalfBreadth, "Half-breadth")}
                {switch(Shown::BodyPlan, "Body plan")}
            </div>
            <div class="sheet">
                <div class="atop"><LoftFault/><DrawnBeside/></div>
                <div class="glass" role="group" aria-label="Enlarge">{glass_buttons(session, gestures)}</div>
                <Plan sheet=sheet gestures=gestures/>
            </div>
            {from(Part::Card, || view! { <Card/> })}
        </main>
    }
}

/// Ways to enlarge without a wheel or two fingers.
fn glass_buttons(session: Session, gestures: Gestures) -> impl IntoView {
    view! {
        <button data-kind="lesser" on:click=move |_| gestures.enlarge(BUTTON_ENLARGE, None)>"larger"</button>
        <button data-kind="lesser" on:click=move |_| gestures.enlarge(1.0 / BUTTON_ENLARGE, None)>"smaller"</button>
        <button data-kind="lesser" on:click=move |_| session.show_whole()>"whole"</button>
    }
}

/// The drawing, with what takes hold of its points.
#[component]
fn Plan(sheet: Sheet, gestures: Gestures) -> impl IntoView {
    let held = gestures.held;
    view! {
        <svg
            class="lines-plan"
            role="group"
            aria-label="Lines plan"
            width=move || sheet.layout.get().size.0.to_string()
            height=move || sheet.layout.get().size.1.to_string()
            viewBox=move || {
                let (width, height) = sheet.layout.get().size;
                format!("0 0 {width} {height}")
            }
            data-held=move || held.with(Option::is_some).to_string()
            on:mousedown=move |event| event.prevent_default()
            on:pointerdown=move |event| gestures.press(&event)
            on:pointermove=move |event| gestures.moved(&event)
            on:pointerup=move |event| gestures.release(&event)
            on:pointercancel=move |event| {
                gestures.lift_finger(&event);
                gestures.let_go();
            }
            on:wheel=move |event| gestures.wheel(&event)
            on:click=move |event| gestures.click(&event)
            on:keydown=move |event| gestures.key(&event)
            on:focusin=move |event| gestures.focus(&event)
            on:focusout=move |_| gestures.leave()
        >
            <defs>
                <pattern id="hatch" width="5" height="5" patternUnits="userSpaceOnUse" patternTransform="rotate(45)">
                    <path class="hatch" d="M0 0V5"/>
                </pattern>
            </defs>
            <g aria-hidden="true">
                {from(Part::Paper, move || view! { <Paths drawing=sheet.paper/> })}
                {from(Part::Curves, move || view! { <Paths drawing=sheet.curves/><Paths drawing=sheet.beside/> })}
                {from(Part::Lines, move || view! { <Paths drawing=sheet.lines/> })}
                {from(Part::Points, move || lettered(sheet, held))}
            </g>
            {from(Part::Points, move || points(sheet, held))}
        </svg>
    }
}

/// Marks and names, over all lines.
fn lettered(sheet: Sheet, held: RwSignal<Option<Held>>) -> impl IntoView {
    let session = expect_context::<Session>();
    view! {
        <Paths drawing=sheet.marks/>
        {move || band(&sheet.layout.get())}
        <For each=move || lettering(sheet) key=key_of children=|text| letters(&text)/>
        {list(move || {
            let count = sheet.rings.with(Vec::len);
            (0..count).map(|at| part(at.to_string(), move || ring(sheet, at))).collect()
        })}
        {move || held.get().map(|held| readout(&held, session.unit(), sheet.layout.get().size.0))}
    }
}

/// What can be taken hold of, and the comb's legend.
fn points(sheet: Sheet, held: RwSignal<Option<Held>>) -> impl IntoView {
    let session = expect_context::<Session>();
    let all = expect_context::<FirstPicture>().has(Part::BodyPlan);
    // One Tab stop for each view: the picked point, else the first.
    Effect::new(move |_| {
        let (pick, _) = (session.pick.get(), sheet.targets.track());
        all.track();
        request_animation_frame(move || {
            for view in [Shown::Profile, Shown::HalfBreadth, Shown::BodyPlan] {
                rove(view, pick.point);
            }
        });
    });
    view! {
        <Targets targets=sheet.targets held=held/>
        {move || sheet.legend.get().map(|legend| view_legend(&legend, session, sheet.layout.get().alone))}
    }
}

/// Clear paper at the foot of a view that stands alone, under its scale and legend.
fn band(layout: &Layout) -> Option<AnyView> {
    let (width, height) = layout.size;
    let clear =
        view! { <rect class="ground" x="0" y=px(height - BAND) width=px(width) height=px(BAND)/> };
    layout.alone.then(|| clear.into_any())
}

/// One ring round what is picked.
fn ring(sheet: Sheet, at: usize) -> impl IntoView {
    let place = move || {
        sheet
            .rings
            .with(|rings| rings.get(at).copied().unwrap_or_default())
    };
    let r = move || if sheet.layout.get().alone { "10" } else { "8" };
    view! { <circle class="ring" cx=move || px(place().0) cy=move || px(place().1) r=r/> }
}

/// All names of the sheet, each once.
fn lettering(sheet: Sheet) -> Vec<Text> {
    let parts = [sheet.paper, sheet.lines, sheet.curves];
    let mut seen = BTreeSet::new();
    let all = parts.into_iter().flat_map(|part| part.get().names.texts);
    all.filter(|text| seen.insert(key_of(text))).collect()
}

/// The comb's legend: on a desk a block of its own, alone one line.
fn view_legend(legend: &Legend, session: Session, alone: bool) -> AnyView {
    if alone {
        return still(&draw_short_legend(legend)).into_any();
    }
    let [left, _, _, foot] = legend.place();
    view! {
        {still(&draw_legend(legend))}
        <foreignObject x=px(left) y=px(foot - 24.0) width="176" height="24">
            <div class="tooth-keys" on:pointerdown=|event| event.stop_propagation()>
                <button data-kind="lesser" on:click=move |_| session.halve_teeth()>"tooth × ½"</button>
                <button data-kind="lesser" on:click=move |_| session.double_teeth()>"tooth × 2"</button>
            </div>
        </foreignObject>
    }
    .into_any()
}
