//! The Lines screen: profile, half-breadth plan and body plan on one sheet. What is picked there, dragged, lifted.
//!
//! A point is held by the pointer or by the keys; while it is held its move is the session's draft, and putting it down
//! makes one step of it.

use std::collections::{BTreeMap, BTreeSet};

use geometry::document::{Edit, On, PointId};
use geometry::units::{Digits, LengthUnit, format_length_to, format_length_with_unit};
use leptos::prelude::*;
use wasm_bindgen::JsCast;

use super::card::Card;
use super::drawing::{Drawing, Label, Path, Point, label, px};
use super::plan::{
    Extent, Layout, Legend, Scales, Scene, Target, draw_curvature, draw_lines, draw_marks,
    draw_paper, headed, reads, rings, targets,
};
use super::widgets::LoftFault;
use super::words::spoken;
use crate::exchange;
use crate::state::axis::{Axis, axes};
use crate::state::derived::{Cut, Derived};
use crate::state::{LOW, NARROW, Session, Shown, comb_key};

/// What one pixel of a geared drag moves, and one arrow key, mm.
const GEAR: f64 = 0.1;

/// How near the pointer takes hold of a point, and of a line, px.
const REACH: f64 = 20.0;
const NEAR_LINE: f64 = 7.0;

/// Points nearer to each other than this lie on one another, px: a second press takes the next of them.
const STACKED: f64 = 4.0;

/// A finger that moves less only taps, px.
const TAP: f64 = 8.0;

/// Least height of the drawing on a desk screen, px; where there is less the screen scrolls.
const LEAST: f64 = 600.0;

/// What holds a point.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Hand {
    /// The pointer, and where it was last, px.
    Pointer(Point),
    /// The keys.
    Keys,
}

/// A point that is held.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Held {
    target: Target,
    axis: Axis,
    by: Hand,
    /// The coordinate when it was taken hold of, and now, mm.
    start: f64,
    now: f64,
    recorded: f64,
    tolerance: f64,
    /// Whether it was the picked one before it was pressed.
    again: bool,
}

/// The memos of the drawing, each of what changes together.
#[derive(Clone, Copy)]
struct Sheet {
    layout: Memo<Layout>,
    targets: Memo<Vec<Target>>,
    paper: Memo<Drawing>,
    lines: Memo<Drawing>,
    /// Combs and strip; what belongs to them but is no drawing.
    curves: Memo<Drawing>,
    legend: Memo<Option<Legend>>,
    marks: Memo<Drawing>,
    rings: Memo<Vec<Point>>,
}

fn sheet(session: Session, derived: Derived, pan: RwSignal<f64>) -> Sheet {
    let extent = Memo::new(move |_| {
        let lines = derived.standing.get();
        Extent::of(&lines, &lines.offsets())
    });
    let layout = Memo::new(move |_| {
        let (width, height) = session.room.get();
        if width < NARROW {
            let (low, card, frame) = LOW;
            let size = if height < low {
                (width - card, height - frame)
            } else {
                (width, (height * 0.5).clamp(300.0, 520.0))
            };
            Layout::alone(size, extent.get(), session.shown.get(), pan.get())
        } else {
            let (width, high) = session.sheet.get();
            Layout::desk((width, high.max(LEAST)), extent.get())
        }
    });
    let held_targets = Memo::new(move |_| {
        let lines = derived.standing.get();
        targets(&lines, &lines.offsets(), &layout.get())
    });
    let scales = Memo::new(move |before: Option<&Scales>| {
        match before {
            // While a point is held the scale stays.
            Some(scales) if session.draft.with(Option::is_some) => scales.clone(),
            _ => Scales::of(
                &derived.fine.get(),
                &session.combs.get(),
                session.pick.get().on,
                session.tooth.get(),
                before,
            ),
        }
    });
    let paper =
        Memo::new(move |_| draw_paper(&derived.standing.get(), &layout.get(), session.pick.get()));
    let lines = Memo::new(move |_| drawn(session, derived, layout, draw_lines));
    let curved = Memo::new(move |_| {
        let (combs, scales) = (session.combs.get(), scales.get());
        drawn(session, derived, layout, |scene| {
            draw_curvature(scene, &combs, &scales)
        })
    });
    let marks = Memo::new(move |_| drawn(session, derived, layout, draw_marks));
    let rings = Memo::new(move |_| drawn(session, derived, layout, rings));
    Sheet {
        layout,
        targets: held_targets,
        paper,
        lines,
        curves: Memo::new(move |_| curved.with(|curved| curved.drawing.clone())),
        legend: Memo::new(move |_| curved.with(|curved| curved.legend.clone())),
        marks,
        rings,
    }
}

/// Watches the room that the screen has between what is said over it and its card, px.
fn watch_room(
    main: &web_sys::HtmlElement,
    room: RwSignal<(f64, f64)>,
) -> Option<exchange::SizeWatch> {
    let find = |part: &str| main.query_selector(part).ok().flatten();
    let parts: Vec<web_sys::Element> = [".no-loft", ".card"].into_iter().filter_map(find).collect();
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
        if room.get_untracked() != now {
            room.set(now);
        }
    };
    exchange::SizeWatch::on(&watched, tell)
}

/// Draws from the present scene; where there is no loft, the points alone.
fn drawn<T>(
    session: Session,
    derived: Derived,
    layout: Memo<Layout>,
    draw: impl FnOnce(&Scene<'_>) -> T,
) -> T {
    let shown = derived.shown.get().unwrap_or_default();
    draw(&Scene {
        lines: &derived.document.get(),
        offsets: &derived.offsets.get(),
        shown: &shown,
        fine: &derived.fine.get(),
        layout: &layout.get(),
        pick: session.pick.get(),
    })
}

/// The screen.
#[component]
pub fn LinesScreen() -> impl IntoView {
    let session = expect_context::<Session>();
    let derived = expect_context::<Derived>();
    let middle = derived.standing.with_untracked(|lines| {
        lines
            .station(session.pick.get_untracked().station)
            .map_or(0.0, |s| s.x)
    });
    let pan = RwSignal::new(middle);
    let sheet = sheet(session, derived, pan);
    let held: RwSignal<Option<Held>> = RwSignal::new(None);
    let switch = move |shown: Shown, name: &'static str| {
        view! {
            <button
                aria-pressed=move || (session.shown.get() == shown).to_string()
                on:click=move |_| session.shown.set(shown)
            >{name}</button>
        }
    };
    // Esc drops whatever is held, wherever the focus is.
    let keys = window_event_listener(leptos::ev::keydown, move |event| {
        if event.key() == "Escape" && held.with_untracked(Option::is_some) {
            event.prevent_default();
            held.set(None);
            session.keyed.set(false);
            session.held.set(false);
            session.drop_draft();
        }
    });
    on_cleanup(move || {
        keys.remove();
        session.held.set(false);
        session.keyed.set(false);
        session.drop_draft();
    });
    // Where the margin's notes begin on a desk.
    let under_body = move || {
        let body = sheet.layout.with(|layout| layout.body);
        body.map_or_else(String::new, |body| format!("{:.0}px", body.area[3] + 28.0))
    };
    let main = NodeRef::<leptos::html::Main>::new();
    let watch = StoredValue::new_local(None::<exchange::SizeWatch>);
    Effect::new(move |_| {
        if let Some(main) = main.get() {
            watch.set_value(watch_room(&main, session.sheet));
        }
    });
    view! {
        <main class="lines" node_ref=main style=("--under-body", under_body)>
            <LoftFault/>
            <div class="view-switch" role="group" aria-label="View">
                {switch(Shown::Profile, "Profile")}
                {switch(Shown::HalfBreadth, "Half-breadth")}
                {switch(Shown::BodyPlan, "Body plan")}
            </div>
            <div class="sheet">
                <Plan sheet=sheet held=held pan=pan/>
            </div>
            <Card/>
        </main>
    }
}

/// The drawing, with what takes hold of its points.
#[component]
fn Plan(sheet: Sheet, held: RwSignal<Option<Held>>, pan: RwSignal<f64>) -> impl IntoView {
    let session = expect_context::<Session>();
    let hands = Hands {
        session,
        derived: expect_context(),
        sheet,
        held,
        pan,
        panned: RwSignal::new(None),
        tap: RwSignal::new(None),
    };
    // One Tab stop for each view: the picked point, else the first.
    Effect::new(move |_| {
        let (pick, _) = (session.pick.get(), sheet.targets.track());
        request_animation_frame(move || {
            for view in [Shown::Profile, Shown::HalfBreadth, Shown::BodyPlan] {
                rove(view, pick.point);
            }
        });
    });
    view! {
        <svg
            class="lines-plan"
            role="group"
            aria-label="Lines plan"
            width=move || sheet.layout.get().size.0.to_string()
            height=move || sheet.layout.get().size.1.to_string()
            data-held=move || held.with(Option::is_some).to_string()
            on:mousedown=move |event| event.prevent_default()
            on:pointerdown=move |event| hands.press(&event)
            on:pointermove=move |event| hands.moved(&event)
            on:pointerup=move |_| hands.release()
            on:pointercancel=move |_| hands.let_go()
            on:click=move |event| hands.click(&event)
            on:keydown=move |event| hands.key(&event)
            on:focusin=move |event| hands.focus(&event)
            on:focusout=move |_| hands.leave()
        >
            <defs>
                <pattern id="hatch" width="5" height="5" patternUnits="userSpaceOnUse" patternTransform="rotate(45)">
                    <path class="hatch" d="M0 0V5"/>
                </pattern>
            </defs>
            <g aria-hidden="true">
                <Paths drawing=sheet.paper/>
                <Paths drawing=sheet.curves/>
                <Paths drawing=sheet.lines/>
                <Paths drawing=sheet.marks/>
                <For each=move || lettering(sheet) key=Label::key children=|label| letters(&label)/>
                <For each=move || 0..sheet.rings.with(Vec::len) key=|at| *at children=move |at| ring(sheet, at)/>
                {move || held.get().map(|held| readout(&held, session.unit(), sheet.layout.get().size.0))}
            </g>
            <Targets targets=sheet.targets held=held/>
            {move || sheet.legend.get().map(|legend| view_legend(&legend, session, sheet.layout.get().alone))}
        </svg>
    }
}

/// The paths of a drawing; a move sets anew only what it changes of them.
#[component]
fn Paths(drawing: Memo<Drawing>) -> impl IntoView {
    let path = move |at: usize| {
        let class = move || drawing.with(|drawing| drawing.paths.get(at).map(|(class, _)| *class));
        let d = move || drawing.with(|drawing| drawing.paths.get(at).map(|(_, d)| d.clone()));
        view! { <path class=class d=d/> }
    };
    let count = move || 0..drawing.with(|drawing| drawing.paths.len());
    view! { <For each=count key=|at| *at children=path/> }
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

/// All labels of the sheet, each once.
fn lettering(sheet: Sheet) -> Vec<Label> {
    let paper = sheet.paper.get().labels;
    let lines = sheet.lines.get().labels;
    let curved = sheet.curves.get().labels;
    let mut seen = BTreeSet::new();
    let all = paper.into_iter().chain(lines).chain(curved);
    all.filter(|label| seen.insert(label.key())).collect()
}

fn letters(label: &Label) -> impl IntoView + use<> {
    let (x, y) = label.at;
    let patch = label.patch.then(|| {
        let (left, width) = (label.left(), label.width());
        view! { <rect class="ground" x=px(left) y=px(y - 9.5) width=px(width) height="12"/> }
    });
    view! {
        {patch}
        <text class=label.class text-anchor=label.anchor.name() x=px(x) y=px(y)>{label.text.clone()}</text>
    }
}

fn labels(labels: &[Label]) -> impl IntoView + use<> {
    labels.iter().map(letters).collect_view()
}

/// The comb's legend: on a desk a block of its own, alone one line.
fn view_legend(legend: &Legend, session: Session, alone: bool) -> AnyView {
    let (x, y) = legend.at;
    let words = format!("= radius {}", legend.radius);
    if alone {
        let whole = label((x, y), format!("tooth 10 mm {words}"))
            .end()
            .patched();
        return labels(&[whole.pen("ink")]).into_any();
    }
    let mut teeth = Path::default();
    for i in 0..6 {
        let at = x + 0.5 + 5.0 * f64::from(i);
        teeth.stroke((at, y + 12.0), (at, y + 49.8)); // 10 mm of 96 px an inch
    }
    let mut envelope = Path::default();
    envelope.stroke((x, y + 49.8), (x + 26.0, y + 49.8));
    let mut line = Path::default();
    line.stroke((x, y + 12.0), (x + 26.0, y + 12.0));
    let hollow = legend.hollow.then(|| {
        let d = format!("M{x:.1} {:.1}h26v12h-26z", y + 58.0);
        view! {
            <path class="hollow" d=d/>
            <text x=px(x + 36.0) y=px(y + 68.0)>"hollow, bends inward"</text>
        }
    });
    let high = if legend.hollow { 108.0 } else { 90.0 };
    view! {
        <rect class="ground" x=px(x - 6.0) y=px(y - 12.0) width="172" height=px(high)/>
        <text class="ink bold" x=px(x) y=px(y)>{legend.title.clone()}</text>
        <path class="tooth" d=teeth.0/>
        <path class="envelope" d=envelope.0/>
        <path class="run" d=line.0/>
        <text class="ink" x=px(x + 36.0) y=px(y + 25.0)>"tooth 10 mm"</text>
        <text class="ink" x=px(x + 36.0) y=px(y + 40.0)>{words}</text>
        {hollow}
        <foreignObject x=px(x - 6.0) y=px(y + high - 36.0) width="176" height="24">
            <div class="tooth-keys">
                <button data-kind="lesser" on:click=move |_| session.tooth.update(|t| *t -= 1)>"tooth × ½"</button>
                <button data-kind="lesser" on:click=move |_| session.tooth.update(|t| *t += 1)>"tooth × 2"</button>
            </div>
        </foreignObject>
    }
    .into_any()
}

/// What a held point says: its value, its move, and its tolerance as a fixed bar at the scale of the gear.
fn readout(held: &Held, unit: LengthUnit, width: f64) -> impl IntoView + use<> {
    let pixels = |mm: f64| mm / GEAR;
    let (gx, gy) = held.target.grows;
    let (x, y) = held.target.at;
    // Beside the point: right of an upright bar, under a level one.
    let right = x + 230.0 < width;
    let side = if right { 1.0 } else { -1.0 };
    let foot = if gy == 0.0 {
        (x, y + 30.0)
    } else {
        (x + side * 30.0, y)
    };
    let along = |mm: f64| (foot.0 + gx * pixels(mm), foot.1 + gy * pixels(mm));
    let across = |at: Point, half: f64| {
        (
            (at.0 - half * gy, at.1 - half * gx),
            (at.0 + half * gy, at.1 + half * gx),
        )
    };
    let (mut bar, mut tick) = (Path::default(), Path::default());
    let middle = held.recorded - held.start;
    let ends = [middle - held.tolerance, middle + held.tolerance].map(along);
    bar.stroke(ends[0], ends[1]);
    for end in ends {
        let (from, to) = across(end, 4.0);
        bar.stroke(from, to);
    }
    let here = along(held.now - held.start);
    let (from, to) = across(here, 7.0);
    tick.stroke(from, to);
    let [value, moved, says] = words(held, unit);
    let at = if gy == 0.0 {
        (x - 60.0, y + 56.0)
    } else {
        (foot.0 + side * 14.0, y - 8.0)
    };
    let line = |i: i32, text: String, class: &'static str| {
        let label = label((at.0, at.1 + 14.0 * f64::from(i)), text)
            .pen(class)
            .patched();
        if right || gy == 0.0 {
            label
        } else {
            label.end()
        }
    };
    view! {
        <path class="gauge" d=bar.0/>
        <path class="gauge-tick" d=tick.0/>
        {labels(&[line(0, value, "ink bold"), line(1, moved, "ink"), line(2, says, "ink")])}
    }
}

/// Value, move, and how that stands to the tolerance.
fn words(held: &Held, unit: LengthUnit) -> [String; 3] {
    let off = held.now - held.recorded;
    let mm = |mm: f64| format_length_to(mm, LengthUnit::Millimetres, Digits::Plain);
    let sign = if off < 0.0 { "−" } else { "+" };
    let past = off.abs() - held.tolerance;
    let says = if past > 0.005 {
        format!("past its tolerance by {} mm", mm(past))
    } else {
        format!("within ± {} mm", mm(held.tolerance))
    };
    [
        format_length_with_unit(held.now, unit),
        format!("{sign}{} mm from as read", mm(off.abs())),
        says,
    ]
}

/// Every point as a button, in the views that show it; an edit keeps each button, and so the focus.
#[component]
fn Targets(targets: Memo<Vec<Target>>, held: RwSignal<Option<Held>>) -> impl IntoView {
    let derived = expect_context::<Derived>();
    let placed = Memo::new(move |_| {
        let lines = derived.standing.get();
        let all = targets.get().into_iter();
        let named = all.map(|t| ((t.view, t.point), (t.at, name_aloud(&lines, t.point))));
        named.collect::<BTreeMap<_, _>>()
    });
    let lifted = Memo::new(move |_| held.get().map(|held| (held.target.view, held.target.point)));
    let button = move |view: Shown, point: PointId| {
        let look = move |read: fn(&(Point, String)) -> String| {
            move || placed.with(|placed| placed.get(&(view, point)).map(read))
        };
        view! {
            <circle
                class="target"
                role="button"
                tabindex="-1"
                aria-label=look(|(_, name)| name.clone())
                aria-pressed=move || (lifted.get() == Some((view, point))).to_string()
                data-point=point.0.to_string()
                data-view=key_of(view)
                cx=look(|(at, _)| px(at.0))
                cy=look(|(at, _)| px(at.1))
                r="6"
            />
        }
    };
    let group = move |view: Shown| {
        let points = move || {
            let seen = |t: &Target| (t.view == view).then_some(t.point);
            targets.with(|all| all.iter().filter_map(seen).collect::<Vec<_>>())
        };
        view! {
            <g role="group" aria-label=name_of(view)>
                <For each=points key=|point| point.0 children=move |point| button(view, point)/>
            </g>
        }
    };
    [Shown::Profile, Shown::HalfBreadth, Shown::BodyPlan]
        .map(group)
        .collect_view()
}

/// A point's name, value and tolerance, to be read aloud.
fn name_aloud(lines: &geometry::document::Lines, id: PointId) -> String {
    let Some(point) = lines.point(id) else {
        return String::new();
    };
    let station = lines
        .station(point.station)
        .map_or("", |s| s.label.as_str());
    let line = lines
        .line_name(point.on)
        .unwrap_or_else(|| lines.name_of(point));
    let mut name = format!("{}, station {station}", headed(&line));
    for axis in axes(point) {
        if let Some(mm) = axis.accepted(point) {
            name = format!("{name}, {} {}", axis.name(), spoken(mm, lines.unit));
        }
    }
    let tolerance = point.merged().tolerance;
    format!("{name}, tolerance {tolerance} millimetres")
}

fn key_of(view: Shown) -> &'static str {
    match view {
        Shown::Profile => "profile",
        Shown::HalfBreadth => "half-breadth",
        Shown::BodyPlan => "body",
    }
}

fn name_of(view: Shown) -> &'static str {
    match view {
        Shown::Profile => "Profile",
        Shown::HalfBreadth => "Half-breadth",
        Shown::BodyPlan => "Body plan",
    }
}

/// Gives the view's Tab stop to a point, else to its first one.
fn rove(view: Shown, point: Option<PointId>) {
    let view = key_of(view);
    let find = |rest: &str| {
        let found = document().query_selector(&format!(".target[data-view=\"{view}\"]{rest}"));
        found.ok().flatten()
    };
    let old = find("[tabindex=\"0\"]");
    let new = point
        .and_then(|id| find(&format!("[data-point=\"{}\"]", id.0)))
        .or_else(|| find(""));
    for (element, stop) in [(old, "-1"), (new, "0")] {
        if let Some(element) = element
            && element.set_attribute("tabindex", stop).is_err()
        {
            leptos::logging::warn!("a Tab stop was not moved");
        }
    }
}

/// What takes hold of points: the pointer and the keys.
#[derive(Clone, Copy)]
struct Hands {
    session: Session,
    derived: Derived,
    sheet: Sheet,
    held: RwSignal<Option<Held>>,
    pan: RwSignal<f64>,
    /// Where the pointer was last while it moves the paper.
    panned: RwSignal<Option<f64>>,
    /// Where a finger went down on what it may only mean to tap.
    tap: RwSignal<Option<(Point, Found)>>,
}

/// What a press may mean.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Found {
    Point(Target),
    Line(On),
    Paper,
}

impl Hands {
    /// Where an event is on the drawing, px.
    fn place(event: &web_sys::MouseEvent) -> Option<Point> {
        let svg = event
            .current_target()?
            .dyn_into::<web_sys::Element>()
            .ok()?;
        let corner = svg.get_bounding_client_rect();
        Some((
            f64::from(event.client_x()) - corner.left(),
            f64::from(event.client_y()) - corner.top(),
        ))
    }

    fn press(self, event: &web_sys::PointerEvent) {
        if event.button() != 0 || !event.is_primary() {
            return;
        }
        exchange::leave_field();
        self.put_down();
        let Some(at) = Self::place(event) else { return };
        let before = self.session.pick.get_untracked().point;
        let found = self.found(at, before);
        let again = matches!(found, Found::Point(target) if Some(target.point) == before);
        if event.pointer_type() == "touch" && !again {
            // A finger may begin to move the paper on anything; what it only taps is picked when it is up.
            self.tap.set(Some((at, found)));
            self.take_paper(event, at);
            return;
        }
        match found {
            Found::Point(target) => {
                self.session.pick_point(target.point);
                Self::focus_on(&target);
                self.hold(target, Hand::Pointer(at), again);
                Self::capture(event);
            }
            Found::Line(on) => self.pick_line(on, at),
            Found::Paper => self.take_paper(event, at),
        }
    }

    /// Takes hold of the paper, where it is wider than its window.
    fn take_paper(self, event: &web_sys::PointerEvent, at: Point) {
        if self.sheet.layout.get_untracked().alone {
            self.panned.set(Some(at.0));
        }
        Self::capture(event);
    }

    /// What is meant by a place: a point near it, else a line under it; where both are, the line unless the point is as
    /// near. What is picked keeps the hand where points lie close.
    fn found(self, at: Point, picked: Option<PointId>) -> Found {
        let nearest = self.sheet.targets.with_untracked(|targets| {
            let far = |t: &Target| {
                let favour = if Some(t.point) == picked {
                    STACKED
                } else {
                    0.0
                };
                geometry::num::hypot(t.at.0 - at.0, t.at.1 - at.1) - favour
            };
            let near = targets.iter().map(|t| (far(t), *t));
            near.filter(|(far, _)| *far < REACH)
                .min_by(|a, b| a.0.total_cmp(&b.0))
        });
        match (nearest, self.line_at(at)) {
            (Some((far, target)), line) if far < NEAR_LINE || line.is_none() => {
                Found::Point(target)
            }
            (_, Some(on)) => Found::Line(on),
            _ => Found::Paper,
        }
    }

    fn capture(event: &web_sys::PointerEvent) {
        let svg = event
            .current_target()
            .and_then(|t| t.dyn_into::<web_sys::Element>().ok());
        if let Some(svg) = svg
            && svg.set_pointer_capture(event.pointer_id()).is_err()
        {
            leptos::logging::warn!("the pointer is not held");
        }
    }

    /// The line that is drawn under a place.
    fn line_at(self, at: Point) -> Option<On> {
        let layout = self.sheet.layout.get_untracked();
        let shown = self.derived.shown.get_untracked()?;
        let lines = self.derived.standing.get_untracked();
        let mut best: Option<(f64, On)> = None;
        let mut look = |on: On, from_above: bool, branch: &geometry::lines::Branch| {
            let frame = if from_above {
                layout.half_breadth
            } else {
                layout.profile
            };
            let Some(frame) = frame else { return };
            for pair in branch.nodes.windows(2) {
                let ends = [pair[0].point, pair[1].point]
                    .map(|p| frame.at(p.x, if from_above { p.y } else { p.z }));
                let far = distance(at, ends);
                if far < NEAR_LINE && best.is_none_or(|(least, _)| far < least) {
                    best = Some((far, on));
                }
            }
        };
        for (on, profile, plan) in &shown.runs {
            look(*on, false, profile);
            if matches!(on, On::RunLine(_)) {
                look(*on, true, plan);
            }
        }
        for Cut { id, branches, .. } in &shown.planes {
            let on = On::Plane(*id);
            let (height, _) = reads(&lines, on);
            for branch in branches.iter() {
                look(on, !height, branch);
            }
        }
        best.map(|(_, on)| on)
    }

    /// Picks a line at its point that is nearest to a place.
    fn pick_line(self, on: On, at: Point) {
        let lines = self.derived.standing.get_untracked();
        let nearest = self.sheet.targets.with_untracked(|targets| {
            let far = |t: &Target| geometry::num::hypot(t.at.0 - at.0, t.at.1 - at.1);
            let of_line = targets.iter().filter(|t| {
                t.view != Shown::BodyPlan
                    && lines
                        .point(t.point)
                        .is_some_and(|p| comb_key(p.on) == comb_key(on))
            });
            of_line
                .min_by(|a, b| far(a).total_cmp(&far(b)))
                .map(|t| t.point)
        });
        match nearest {
            Some(point) => self.session.pick_point(point),
            None => {
                let station = self.session.pick.get_untracked().station;
                self.session.pick_at(on, station);
            }
        }
    }

    /// Takes hold of a point by the coordinate that its view shows.
    fn hold(self, target: Target, by: Hand, again: bool) {
        let lines = self.session.standing_now();
        let Some(point) = lines.point(target.point) else {
            return;
        };
        let read = axes(point);
        let wanted = match target.view {
            Shown::Profile => Axis::Height,
            Shown::HalfBreadth | Shown::BodyPlan => Axis::HalfBreadth,
        };
        let axis = if read.contains(&wanted) {
            Some(wanted)
        } else {
            read.first().copied()
        };
        let found = axis.and_then(|axis| {
            let recorded = axis.recorded(point)?;
            Some((axis, recorded, axis.accepted(point)?))
        });
        let Some((axis, recorded, start)) = found else {
            return;
        };
        let mut target = target;
        if target.view == Shown::BodyPlan && axis == Axis::HalfBreadth {
            let hand = lines
                .station_index(point.station)
                .map_or(1.0, |i| self.sheet.layout.get_untracked().hand(i));
            target.grows = (hand, 0.0);
        }
        exchange::forget_measured("drag");
        self.session.keyed.set(by == Hand::Keys);
        self.session.held.set(true);
        self.held.set(Some(Held {
            target,
            axis,
            by,
            start,
            now: start,
            recorded,
            tolerance: point.merged().tolerance,
            again,
        }));
    }

    fn moved(self, event: &web_sys::PointerEvent) {
        let Some(at) = Self::place(event) else { return };
        if let Some((from, _)) = self.tap.get_untracked() {
            if geometry::num::hypot(at.0 - from.0, at.1 - from.1) < TAP {
                return;
            }
            self.tap.set(None);
        }
        if let Some(last) = self.panned.get_untracked() {
            let scale = self.sheet.layout.get_untracked().scale;
            self.pan.update(|x| *x -= (at.0 - last) / scale);
            self.panned.set(Some(at.0));
            return;
        }
        let Some(held) = self.held.get_untracked() else {
            return;
        };
        let Hand::Pointer(last) = held.by else { return };
        let gear = if event.alt_key() {
            1.0 / self.sheet.layout.get_untracked().scale
        } else {
            GEAR
        };
        let (gx, gy) = held.target.grows;
        let pixels = (at.0 - last.0) * gx + (at.1 - last.1) * gy;
        self.held.update(|held| {
            if let Some(held) = held {
                held.by = Hand::Pointer(at);
            }
        });
        if pixels != 0.0 {
            self.put_at(held.now + pixels * gear);
        }
    }

    /// Tries a held point out at a value.
    fn put_at(self, mm: f64) {
        let Some(held) = self.held.get_untracked() else {
            return;
        };
        let from = exchange::clock();
        let moved = held.axis.moved(held.target.point, mm);
        if !self.session.try_out(&Edit::Move(moved)) {
            return;
        }
        self.held.set(Some(Held { now: mm, ..held }));
        // Ends when all that follows from it is on the page.
        leptos::task::spawn_local(async move {
            leptos::task::tick().await;
            exchange::measured("drag", from);
        });
    }

    /// The pointer is up: what it tapped is picked, what it moved is put down; where it only pressed what was picked, the next of points that lie
    /// on one another is taken.
    fn release(self) {
        let (pressed, tap) = (self.held.get_untracked(), self.tap.get_untracked());
        self.put_down();
        match tap {
            Some((_, Found::Point(target))) => {
                self.session.pick_point(target.point);
                Self::focus_on(&target);
            }
            Some((at, Found::Line(on))) => self.pick_line(on, at),
            Some((_, Found::Paper)) | None => {}
        }
        let Some(held) =
            pressed.filter(|held| held.again && held.now.total_cmp(&held.start).is_eq())
        else {
            return;
        };
        let next = self.sheet.targets.with_untracked(|targets| {
            let place = held.target;
            let here = |t: &&Target| {
                let far = geometry::num::hypot(t.at.0 - place.at.0, t.at.1 - place.at.1);
                t.view == place.view && far < STACKED
            };
            let stack: Vec<&Target> = targets.iter().filter(here).collect();
            let at = stack.iter().position(|t| t.point == place.point)?;
            stack.get((at + 1) % stack.len()).map(|t| **t)
        });
        if let Some(next) = next.filter(|next| next.point != held.target.point) {
            self.session.pick_point(next.point);
            Self::focus_on(&next);
        }
    }

    fn put_down(self) {
        self.panned.set(None);
        self.tap.set(None);
        if let Some(held) = self.held.get_untracked() {
            self.held.set(None);
            self.session.keyed.set(false);
            self.session.held.set(false);
            let name = self.session.standing_now().point_name(held.target.point);
            self.session.keep(name);
        }
    }

    fn let_go(self) {
        self.panned.set(None);
        self.tap.set(None);
        self.held.set(None);
        self.session.keyed.set(false);
        self.session.held.set(false);
        self.session.drop_draft();
    }

    /// The target an event comes from.
    fn target_of(self, event: &web_sys::Event) -> Option<Target> {
        let element = event.target()?.dyn_into::<web_sys::Element>().ok()?;
        let point = PointId(element.get_attribute("data-point")?.parse().ok()?);
        let view = element.get_attribute("data-view")?;
        self.sheet.targets.with_untracked(|targets| {
            let fits = |t: &&Target| t.point == point && key_of(t.view) == view;
            targets.iter().find(fits).copied()
        })
    }

    /// A press without a pointer, as by a screen reader.
    fn click(self, event: &web_sys::MouseEvent) {
        if event.detail() == 0
            && let Some(target) = self.target_of(event)
        {
            self.session.pick_point(target.point);
        }
    }

    fn focus(self, event: &web_sys::Event) {
        if let Some(target) = self.target_of(event) {
            self.session.pick_point(target.point);
        }
    }

    /// The focus goes elsewhere: what the keys hold is put down.
    fn leave(self) {
        if self
            .held
            .get_untracked()
            .is_some_and(|h| h.by == Hand::Keys)
        {
            self.put_down();
        }
    }

    fn key(self, event: &web_sys::KeyboardEvent) {
        let Some(target) = self.target_of(event) else {
            return;
        };
        if event.ctrl_key() || event.meta_key() {
            return;
        }
        let key = event.key();
        let by_keys = self.held.get_untracked().filter(|h| h.by == Hand::Keys);
        let taken = match (key.as_str(), by_keys) {
            ("Enter" | " ", Some(_)) => {
                self.put_down();
                true
            }
            ("Enter" | " ", None) => {
                self.session.pick_point(target.point);
                self.hold(target, Hand::Keys, true);
                true
            }
            (".", _) => {
                self.put_down();
                exchange::focus(".value-box").is_some_and(|element| {
                    if let Some(input) = element.dyn_ref::<web_sys::HtmlInputElement>() {
                        input.select();
                    }
                    true
                })
            }
            ("ArrowUp" | "ArrowRight" | "ArrowDown" | "ArrowLeft", Some(held)) => {
                let mut step = GEAR;
                if event.shift_key() {
                    step *= 10.0;
                }
                if event.alt_key() {
                    step /= 10.0;
                }
                let outward = if held.target.grows.0 < 0.0 { -1.0 } else { 1.0 };
                let sign = match key.as_str() {
                    "ArrowUp" => 1.0,
                    "ArrowDown" => -1.0,
                    "ArrowRight" => outward,
                    _ => -outward,
                };
                self.put_at(held.now + sign * step);
                true
            }
            (way, None) => self.walk(target, way),
            _ => false,
        };
        if taken {
            event.prevent_default();
        }
    }

    /// Arrows go along lines and points.
    fn walk(self, from: Target, way: &str) -> bool {
        let lines = self.session.standing_now();
        let Some(point) = lines.point(from.point) else {
            return false;
        };
        let (along, step) = match way {
            "ArrowLeft" => (true, -1),
            "ArrowRight" => (true, 1),
            "ArrowUp" => (false, -1),
            "ArrowDown" => (false, 1),
            "Home" => (true, isize::MIN),
            "End" => (true, isize::MAX),
            _ => return false,
        };
        let row: Vec<Target> = self.sheet.targets.with_untracked(|targets| {
            let belongs = |t: &&Target| {
                let other = lines.point(t.point);
                t.view == from.view
                    && other.is_some_and(|other| {
                        if along {
                            other.on == point.on
                        } else {
                            other.station == point.station
                        }
                    })
            };
            targets.iter().filter(belongs).copied().collect()
        });
        let here = row.iter().position(|t| t.point == from.point).unwrap_or(0);
        let to = here
            .saturating_add_signed(step)
            .min(row.len().saturating_sub(1));
        let Some(next) = row.get(to) else {
            return false;
        };
        self.session.pick_point(next.point);
        Self::focus_on(next)
    }

    fn focus_on(target: &Target) -> bool {
        let selector = format!(
            ".target[data-view=\"{}\"][data-point=\"{}\"]",
            key_of(target.view),
            target.point.0
        );
        exchange::focus(&selector).is_some()
    }
}

/// How far a place is from a stroke, px.
fn distance(at: Point, [a, b]: [Point; 2]) -> f64 {
    let (dx, dy) = (b.0 - a.0, b.1 - a.1);
    let length2 = dx * dx + dy * dy;
    let share = if length2 > 0.0 {
        (((at.0 - a.0) * dx + (at.1 - a.1) * dy) / length2).clamp(0.0, 1.0)
    } else {
        0.0
    };
    geometry::num::hypot(at.0 - a.0 - share * dx, at.1 - a.1 - share * dy)
}
