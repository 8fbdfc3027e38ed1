//! The card of what is picked: its value and the ways to change it.

use geometry::document::{BodyEdit, Lines, On, Point, PointId, StationId};
use geometry::issue::lines_plan::in_plan;
use geometry::lines::node_at;
use geometry::units::{
    Digits, LengthUnit, Message, format_length, format_length_to, format_length_with_unit, headed,
    parse_length,
};
use leptos::prelude::*;

use super::margin::margin;
use crate::exchange;
use crate::state::axis::{Axis, FAR_OFF, axes};
use crate::state::derived::Derived;
use crate::state::{NoteKind, Question, Session, Typed, comb_key};
use crate::views::first::{Part, from};
use crate::views::law::rho_words;
use crate::views::picking::focus_point;
use crate::views::proposed::Ask;
use crate::views::settle::{AllowedTurns, Chip, WayThere};
use crate::views::words::{bend_words, degrees, small, spoken};

/// What is picked, as the card needs it.
#[derive(Clone, Copy)]
struct Picked {
    session: Session,
    derived: Derived,
    /// The coordinate that the keys and buttons step, where the point has two.
    axis: RwSignal<Axis>,
}

impl Picked {
    /// Of the picked point, where there is one.
    fn with<T>(self, lines: &Lines, look: impl FnOnce(&Point) -> T) -> Option<T> {
        let id = self.session.pick.get().point?;
        lines.body.point(id).map(look)
    }

    fn axes(self) -> Vec<Axis> {
        let lines = self.derived.document.get();
        self.with(&lines, axes).unwrap_or_default()
    }

    /// The coordinate that is stepped.
    fn stepped(self) -> Option<Axis> {
        let read = self.axes();
        let wish = self.axis.get();
        if read.contains(&wish) {
            Some(wish)
        } else {
            read.first().copied()
        }
    }

    fn value(self, axis: Axis) -> Option<f64> {
        let lines = self.derived.document.get();
        self.with(&lines, |point| {
            axis.accepted(point, self.derived.moved_out(point.id))
        })
        .flatten()
    }

    fn put(self, axis: Axis, mm: f64) {
        self.session.leave_typed(axis);
        if let Some(point) = self.session.pick.get_untracked().point {
            let lines = self.session.standing_now();
            let fast = lines
                .body
                .point(point)
                .and_then(|point| self.derived.held_fast(&lines, point));
            if let Some(why) = fast {
                self.session.say(NoteKind::Fault, why.to_owned());
                return;
            }
            self.session.edit(BodyEdit::Move(axis.moved(point, mm)));
        }
    }

    /// One press of a step button, mm, and as it is written there.
    fn step(self) -> (f64, &'static str) {
        match self.session.unit() {
            LengthUnit::Millimetres => (0.5, "0.5"),
            LengthUnit::Inches => (0.254, "0.01"),
            LengthUnit::FeetInchesEighths => (25.4 / 16.0, "1/16"),
        }
    }

    fn shift(self, steps: f64) {
        let Some(axis) = untrack(|| self.stepped()) else {
            return;
        };
        if let Some(mm) = untrack(|| self.value(axis)) {
            self.put(axis, mm + steps * untrack(|| self.step().0));
        }
    }

    /// Takes what was typed, or keeps it with what is to be said.
    fn take(self, axis: Axis, text: &str) {
        let unit = untrack(|| self.session.unit());
        match parse_length(text, unit) {
            Ok(mm) => match untrack(|| self.far_off(axis, mm)) {
                Some(says) => self.session.keep_typed(axis, text, says, Some(mm)),
                None => self.put(axis, mm),
            },
            Err(error) => self
                .session
                .keep_typed(axis, text, error.message(unit), None),
        }
    }

    /// What is asked about a value that lies far from what was read.
    fn far_off(self, axis: Axis, mm: f64) -> Option<String> {
        let lines = self.derived.document.get();
        self.with(&lines, |point| {
            let read = axis.recorded(point, self.derived.moved_out(point.id))?;
            let off = (mm - read).abs();
            let times = off / point.merged().tolerance;
            (times > FAR_OFF).then(|| {
                let value = format_length_with_unit(mm, lines.about.unit);
                let off = small(off);
                format!("{value} is {off} from as read, {times:.0} times its tolerance.")
            })
        })
        .flatten()
    }

    /// What a box holds: what stands, or what was typed and is not taken.
    fn boxed(self, axis: Axis) -> String {
        let typed = self.session.typed(axis);
        typed.map_or_else(|| self.shown(axis), |typed| typed.text)
    }

    /// The first of the coordinates for which something was typed and is not taken.
    fn typed(self) -> Option<Typed> {
        let read = self.axes();
        read.into_iter().find_map(|axis| self.session.typed(axis))
    }

    /// Leaves what was typed, and goes back to the point on the drawing.
    fn leave_box(self, event: &web_sys::KeyboardEvent, axis: Axis) {
        self.session.leave_typed(axis);
        set_field(event, &untrack(|| self.shown(axis)));
        exchange::leave_field();
        if let Some(point) = self.session.pick.get_untracked().point {
            focus_point(point, self.session.typed_from.get_untracked());
        }
    }

    /// Whether nothing here can be changed: shared lines are to look at.
    fn locked(self) -> bool {
        self.session.only_looks()
    }

    /// A value as the unit writes it.
    fn shown(self, axis: Axis) -> String {
        let unit = self.session.unit();
        self.value(axis)
            .map_or_else(|| "–".to_owned(), |mm| format_length(mm, unit))
    }

    /// Where the surface passes the point, and how the line runs there.
    fn there(self) -> String {
        let (Ok(loft), lines) = (self.derived.loft.get(), self.derived.document.get()) else {
            return String::new();
        };
        let pick = self.session.pick.get();
        let at = pick
            .point
            .and_then(|id| loft.points().iter().find(|p| p.point == id));
        let Some(at) = at else {
            return "No reading is used here: the skin is drawn from its neighbours.".to_owned();
        };
        let ruled = lines.body.law.is_none_or(|law| law.rules(pick.on));
        let side = if at.residual > 0.0 {
            "inside"
        } else {
            "outside"
        };
        let mut says = if at.residual.abs() < 0.05 {
            "The surface meets it.".to_owned()
        } else {
            format!("The surface passes {} {side} it.", small(at.residual.abs()))
        };
        let node = lines
            .body
            .station(pick.station)
            .and_then(|station| node_at(&loft, pick.on, station.x));
        if let Some(node) = node {
            let rise = if in_plan(&lines, pick.on) {
                node.tangent.y
            } else {
                node.tangent.z
            };
            let slope = degrees(geometry::num::atan2(rise, node.tangent.x));
            let radius = bend_words(node.curvature, "radius ", lines.about.unit);
            says = format!("{says} Slope {slope}, {radius}.");
        }
        if at.residual.abs() > 1.0 && ruled && !at_duck(&lines, pick.point) {
            says.push_str(" A duck would hold it there.");
        }
        let station = lines.body.station(pick.station);
        if let Some(rho) = station.and_then(|station| loft.rho(station.x)) {
            let beside = if ruled {
                ""
            } else {
                " It stands beside the law, not used."
            };
            says = format!("{says}{beside} Conic law: {}", rho_words(rho));
        }
        says
    }
}

fn at_duck(lines: &Lines, point: Option<PointId>) -> bool {
    point
        .and_then(|id| lines.body.point(id))
        .is_some_and(|p| p.duck)
}

/// The card.
#[component]
pub fn Card() -> impl IntoView {
    let session = expect_context::<Session>();
    let derived = expect_context::<Derived>();
    let picked = Picked {
        session,
        derived,
        axis: RwSignal::new(Axis::Height),
    };
    let line_name = move || {
        let (lines, pick) = (derived.standing.get(), session.pick.get());
        let name = lines.body.line_name(pick.on);
        name.unwrap_or_else(|| {
            pick.point
                .map_or_else(String::new, |id| lines.body.point_name(id))
        })
    };
    let station_name = move || {
        let (lines, pick) = (derived.standing.get(), session.pick.get());
        lines.body.station_name(pick.station)
    };
    // Read aloud after an edit, and while the keys hold a point; not for each pixel of a drag.
    let aloud = Memo::new(move |_| {
        let lines = if session.is_held_by_keys() {
            derived.document.get()
        } else {
            derived.standing.get()
        };
        let id = untrack(|| session.pick.get().point)?;
        let point = lines.body.point(id)?;
        let out = derived.moved_out(id);
        let values: Vec<String> = axes(point)
            .into_iter()
            .filter_map(|axis| {
                let mm = axis.accepted(point, out)?;
                let off = mm - axis.recorded(point, out)?;
                let moved = if off.abs() < 0.005 {
                    "as read".to_owned()
                } else {
                    format!("{} from as read", small(off.abs()))
                };
                Some(format!(
                    "{} {}, {moved}",
                    axis.name(),
                    spoken(mm, lines.about.unit)
                ))
            })
            .collect();
        Some(format!(
            "{}: {}",
            lines.body.name_of(point),
            values.join("; ")
        ))
    });
    let combed = move || {
        let on = comb_key(session.pick.get().on);
        session.combs.with(|combs| combs.contains(&on))
    };
    let combable = move || session.pick.get().on != On::Free;
    view! {
        <section class="card" aria-label="Picked point">
            <div class="what-picked stack">
                <div class="title">
                    <h2 title=move || headed(&line_name())>{move || headed(&line_name())}</h2>
                    <span class="quiet">{station_name}</span>
                    <Chip/>
                    <WayThere skip=false/>
                </div>
                <p class="quiet there">{move || picked.there()}</p>
                <Ways picked=picked/>
                <div class="row ways">
                    {move || combable().then(|| view! {
                        <label class="check"><input type="checkbox" prop:checked=combed on:change=move |_| session.toggle_comb(session.pick.get_untracked().on)/>" comb on this line"</label>
                    })}
                    <AllowedTurns/>
                    <span class="pair">{more_ways(session)}</span>
                </div>
            </div>
            <Value picked=picked/>
            <p class="hidden" role="status">{move || aloud.get().unwrap_or_default()}</p>
        </section>
        {from(Part::Margin, margin)}
    }
}

/// Ways to other lines than the picked one.
fn more_ways(session: Session) -> impl IntoView {
    view! {
        <button data-kind="lesser" aria-pressed=move || session.shows_upsweep().to_string() title="The keel line with its comb and radii" on:click=move |_| session.show_upsweep()>"Upsweep"</button>
        <button data-kind="lesser" on:click=move |_| session.ask(Question::Radii)>"Radii"</button>
        <button data-kind="lesser" on:click=move |_| session.ask(Question::Drawn)>"Lines drawn"</button>
        <button data-kind="lesser" on:click=move |_| session.ask(Question::Law)>"Conic law"</button>
    }
}

/// Ways to go elsewhere, and what is done with the point.
#[component]
fn Ways(picked: Picked) -> impl IntoView {
    let Picked {
        session, derived, ..
    } = picked;
    let stations = Memo::new(move |_| {
        derived.standing.with(|lines| {
            let named = lines.body.stations.iter().map(|s| (s.id, s.label.clone()));
            named.collect::<Vec<_>>()
        })
    });
    // The lines that pass here, by name; unnamed points by their number.
    let here = Memo::new(move |_| {
        let (lines, pick) = (derived.standing.get(), session.pick.get());
        let points = lines
            .body
            .points
            .iter()
            .filter(|p| p.station == pick.station);
        points
            .map(|p| {
                let name = lines.body.line_name(p.on);
                (p.id, name.unwrap_or_else(|| lines.body.name_of(p)))
            })
            .collect::<Vec<(PointId, String)>>()
    });
    // A picked line that has no point here stands in the list all the same.
    let bare = move || {
        let pick = session.pick.get();
        let lines = derived.standing.get();
        lines
            .body
            .line_name(pick.on)
            .filter(|_| pick.point.is_none())
    };
    let to_point = move |event: leptos::ev::Event| {
        if let Ok(id) = event_target_value(&event).parse() {
            session.pick_point(PointId(id));
        }
    };
    let to_station = move |event: leptos::ev::Event| {
        if let Ok(id) = event_target_value(&event).parse() {
            session.pick_at(session.pick.get_untracked().on, StationId(id));
        }
    };
    let beside = move |step: isize| {
        let lines = session.standing_now();
        let pick = session.pick.get_untracked();
        let Some(at) = lines.body.station_index(pick.station) else {
            return;
        };
        // The next station, that way, where the line has a point.
        let mut next = at.checked_add_signed(step);
        while let Some(station) = next.and_then(|i| lines.body.stations.get(i)) {
            if lines.body.point_on(station.id, pick.on).is_some() {
                session.pick_at(pick.on, station.id);
                return;
            }
            next = next.and_then(|i| i.checked_add_signed(step));
        }
    };
    let duck = Memo::new(move |_| {
        let lines = derived.standing.get();
        picked.with(&lines, |p| (p.id, p.duck, axes(p).is_empty()))
    });
    view! {
        <div class="row ways">
            <label>"Line "<select aria-label="Line" on:change=to_point prop:value=move || session.pick.get().point.map_or_else(String::new, |id| id.0.to_string())>
                {move || bare().map(|name| view! { <option value="">{name}</option> })}
                {move || here.get().into_iter().map(|(id, name)| {
                    let chosen = session.pick.get_untracked().point == Some(id);
                    view! { <option value=id.0.to_string() selected=chosen>{name}</option> }
                }).collect_view()}
            </select></label>
            <label>"Station "<select aria-label="Station" on:change=to_station prop:value=move || session.pick.get().station.0.to_string()>
                {move || stations.get().into_iter().map(|(id, label)| {
                    let chosen = session.pick.get_untracked().station == id;
                    view! { <option value=id.0.to_string() selected=chosen>{label}</option> }
                }).collect_view()}
            </select></label>
            <span class="pair">
                <button aria-label="Next station forward" on:click=move |_| beside(-1)>"‹ forward"</button>
                <button aria-label="Next station aft" on:click=move |_| beside(1)>"aft ›"</button>
            </span>
            {move || duck.get().map(|(id, down, torn)| if down {
                view! { <button disabled=move || picked.locked() on:click=move |_| session.edit(BodyEdit::LiftDuck(id))>"Lift the duck"</button> }.into_any()
            } else {
                view! { <button disabled=move || torn || picked.locked() || derived.no_loft().is_some() aria-description=move || derived.no_loft() title=move || derived.no_loft() on:click=move |_| session.edit(BodyEdit::PutDuck(id))>"Put a duck down"</button> }.into_any()
            })}
            <Ask whole=false/>
            <span class="pair only-narrow">
                <button on:click=move |_| session.halve_teeth()>"tooth × ½"</button>
                <button on:click=move |_| session.double_teeth()>"tooth × 2"</button>
            </span>
        </div>
    }
}

/// The value: steps, figure, boxes.
#[component]
fn Value(picked: Picked) -> impl IntoView {
    let Picked {
        session,
        derived,
        axis,
    } = picked;
    let typed = Memo::new(move |_| picked.typed());
    let twice = Memo::new(move |_| picked.axes().len() > 1);
    let about = move || {
        let lines = derived.document.get();
        let unit = session.unit();
        picked.with(&lines, |point| {
            let axis = untrack(|| picked.stepped());
            let tolerance = point.merged().tolerance;
            let out = derived.moved_out(point.id);
            let recorded = axis.and_then(|axis| axis.recorded(point, out));
            match (axis, recorded) {
                (Some(axis), Some(mm)) => {
                    let mended = point.used().any(|reading| reading.is_put_right());
                    let how = if mended { "put right to" } else { "read" };
                    let mm = format_length_with_unit(mm, unit);
                    format!("{} {how} {mm} ± {}", axis.name(), small(tolerance))
                }
                _ => "no reading is used here".to_owned(),
            }
        })
    };
    let off = move || {
        let lines = derived.document.get();
        let axis = picked.stepped()?;
        picked.with(&lines, |point| {
            let out = derived.moved_out(point.id);
            let off = axis.accepted(point, out)? - axis.recorded(point, out)?;
            let tolerance = point.merged().tolerance;
            let sign = if off < 0.0 { "−" } else { "+" };
            (off.abs() > 0.005).then(|| {
                let past = off.abs() - tolerance;
                let says = if past > 0.005 {
                    format!(", past its tolerance by {}", small(past))
                } else {
                    ", within its tolerance".to_owned()
                };
                format!("moved {sign}{}{says}", small(off.abs()))
            })
        })?
    };
    let place = move || {
        let lines = derived.document.get();
        let unit = session.unit();
        let pick = session.pick.get();
        let station = lines.body.station(pick.station)?;
        let offsets = derived.offsets.get();
        let mut all = offsets.iter().flatten();
        let offset = all.find(|o| Some(o.point) == pick.point)?;
        let [y, z] = offset.accepted.map(|mm| format_length(mm, unit));
        let x = format_length_to(station.x, LengthUnit::Millimetres, Digits::Plain);
        Some(format!("x {x} mm · y {y} · z {z}"))
    };
    // Of a point that is read both ways the boxes say where it lies.
    let there = move || {
        if twice.get() { about() } else { place() }
    };
    let big = move || {
        picked
            .stepped()
            .map_or_else(|| "–".to_owned(), |axis| picked.shown(axis))
    };
    let off_now = move || picked.locked() || picked.stepped().is_none();
    let choose = move |wish: Axis| {
        let name = if wish == Axis::Height {
            "Height"
        } else {
            "Half-breadth"
        };
        view! {
            <button aria-pressed=move || (picked.stepped() == Some(wish)).to_string() on:click=move |_| axis.set(wish)>{name}</button>
        }
    };
    let field = move |axis: Axis, name: &'static str| {
        view! {
            <label class="row">{format!("{name} ")}
                <input
                    class="field value-box"
                    aria-label=name
                    autocomplete="off"
                    readonly=move || picked.locked()
                    aria-invalid=move || session.typed(axis).is_some().to_string()
                    aria-describedby="value-says"
                    prop:value=move || picked.boxed(axis)
                    on:change=move |event| {
                        picked.take(axis, &event_target_value(&event));
                        set_field(&event, &untrack(|| picked.boxed(axis)));
                    }
                    on:keydown=move |event| {
                        if event.key() == "Escape" {
                            picked.leave_box(&event, axis);
                        }
                    }
                />
            </label>
        }
    };
    let moved = Memo::new(move |_| {
        let lines = derived.document.get();
        let moved = |p: &Point| p.accepted_half_breadth.is_some() || p.accepted_height.is_some();
        picked.with(&lines, |p| moved(p).then_some(p.id)).flatten()
    });
    let as_read = move || {
        moved.get().map(|id| view! {
            <button data-kind="lesser" disabled=move || picked.locked() on:click=move |_| session.edit(BodyEdit::LetGo(vec![id])) title="Back to what was read">"As read"</button>
        })
    };
    // The boxes stay while values move, and so the focus in them.
    let stepped = Memo::new(move |_| picked.stepped());
    let fields = move || {
        if twice.get() {
            let (height, breadth) = (Axis::Height, Axis::HalfBreadth);
            return view! { {field(height, "Height")}{field(breadth, "Half-breadth")} }.into_any();
        }
        match stepped.get() {
            Some(axis) => field(axis, "Value").into_any(),
            None => ().into_any(),
        }
    };
    view! {
        <div class="value stack">
            <div class="label-row" hidden=move || typed.with(Option::is_some)>
                <b>{move || station_reading(picked)}</b>
                <span class="quiet" hidden=move || twice.get()>{about}</span>
                <span class="pair axes" hidden=move || !twice.get()>{choose(Axis::Height)}{choose(Axis::HalfBreadth)}</span>
            </div>
            <p class="says" id="value-says" role="alert">{move || typed.get().map(|typed| typed.says)}</p>
            <div class="steps">
                <button disabled=off_now aria-label=move || format!("Less by {}", picked.step().1) on:click=move |_| picked.shift(-1.0)>{move || format!("− {}", picked.step().1)}</button>
                <output aria-hidden="true">{big}</output>
                <button disabled=off_now aria-label=move || format!("More by {}", picked.step().1) on:click=move |_| picked.shift(1.0)>{move || format!("+ {}", picked.step().1)}</button>
            </div>
            <div class="row">
                {fields}
                {move || match typed.get().map(|typed| (typed.axis, typed.mm)) {
                    Some((axis, Some(mm))) => taken_or_left(picked, axis, mm).into_any(),
                    Some((_, None)) => ().into_any(),
                    None => view! { <span class="quiet where">{off().or_else(there).unwrap_or_default()}</span> {as_read} }.into_any(),
                }}
            </div>
        </div>
    }
}

/// The ways out of a question about a value that is far off.
fn taken_or_left(picked: Picked, axis: Axis, mm: f64) -> impl IntoView {
    view! {
        <button on:click=move |_| picked.put(axis, mm)>"Take it"</button>
        <button data-kind="lesser" on:click=move |_| picked.session.leave_typed(axis)>"Leave it"</button>
    }
}

fn station_reading(picked: Picked) -> String {
    let lines = picked.derived.document.get();
    format!(
        "Reading, {}",
        lines.body.station_name(picked.session.pick.get().station)
    )
}

fn set_field(event: &web_sys::Event, text: &str) {
    use wasm_bindgen::JsCast;
    if let Some(input) = event
        .target()
        .and_then(|t| t.dyn_into::<web_sys::HtmlInputElement>().ok())
    {
        input.set_value(text);
    }
}
