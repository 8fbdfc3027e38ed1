//! Gestures on the drawing, by pointer, fingers and keys: points picked, dragged and stepped, lines pressed, the paper moved
//! and enlarged.
//!
//! In: events on the drawing. Out: picks, and moves of one coordinate as the session's draft, which become one step when the
//! point is put down.

use std::collections::BTreeMap;

use geometry::document::{BodyEdit, On, PointId};
use geometry::issue::lines_plan::{Layout, in_plan};
use geometry::lines::{onto, plane_of};
use leptos::prelude::*;
use wasm_bindgen::JsCast;

use super::Sheet;
use super::targets::{Held, HeldBy};
use super::under::{Meant, Met, Of, meant};
use crate::exchange;
use crate::state::axis::{Axis, axes};
use crate::state::derived::Derived;
use crate::state::{Glass, Holder, NoteKind, Session, Shown, comb_key};
use crate::views::drawing::Point;
use crate::views::picking::{Target, focus_point, key_of};

/// What one pixel of a geared drag moves, and one arrow key, mm.
pub(super) const GEAR: f64 = 0.1;

/// Points nearer to a press than this lie on one another, px: a second press takes the next of them.
const STACKED: f64 = 2.5;

/// A finger that moves less only taps, px.
const TAP: f64 = 8.0;

/// What the row of views takes of the sheet once one stands alone on a desk, px; `views.css` has the same.
const SWITCH: f64 = 45.0;

/// How many times larger than at first a view that stands alone may be.
const MOST: f64 = 24.0;

/// The gestures, and what they hold meanwhile.
#[derive(Clone, Copy)]
pub(super) struct Gestures {
    session: Session,
    derived: Derived,
    sheet: Sheet,
    pub(super) held: RwSignal<Option<Held>>,
    /// Fingers that are down, and where.
    fingers: StoredValue<BTreeMap<i32, Point>>,
    /// Where the pointer was last while it moves the paper.
    panned: RwSignal<Option<Point>>,
    /// Where a finger went down on what it may only mean to tap.
    tap: RwSignal<Option<(Point, Meant)>>,
}

impl Gestures {
    pub(super) fn new(
        session: Session,
        derived: Derived,
        sheet: Sheet,
        held: RwSignal<Option<Held>>,
    ) -> Self {
        Self {
            session,
            derived,
            sheet,
            held,
            fingers: StoredValue::new(BTreeMap::new()),
            panned: RwSignal::new(None),
            tap: RwSignal::new(None),
        }
    }

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

    pub(super) fn press(self, event: &web_sys::PointerEvent) {
        let Some(at) = Self::place(event) else { return };
        if event.pointer_type() == "touch" {
            self.fingers.update_value(|fingers| {
                fingers.insert(event.pointer_id(), at);
            });
            if self.fingers.with_value(|fingers| fingers.len() > 1) {
                // Two fingers move and spread the paper; what one of them held goes back.
                self.let_go();
                exchange::hold_pointer(event);
                return;
            }
        }
        if event.button() != 0 || !event.is_primary() {
            return;
        }
        exchange::leave_field();
        self.put_down();
        let before = self.session.pick.get_untracked().point;
        let pressed = meant(self.sheet, self.derived, at, before);
        let again = matches!(pressed, Meant::Point(target) if Some(target.point) == before);
        if event.pointer_type() == "touch" && !again {
            // A finger may begin to move the paper on anything; what it only taps is picked when it is up.
            self.tap.set(Some((at, pressed)));
            self.take_paper(event, at);
            return;
        }
        match pressed {
            Meant::Point(target) => {
                self.session.pick_point(target.point);
                Self::focus_on(&target);
                let taps = event.pointer_type() == "touch";
                self.hold(target, HeldBy::Pointer { last: at, taps }, again);
                exchange::hold_pointer(event);
            }
            Meant::Line(met) => self.pick_met(met, at),
            Meant::Paper => self.take_paper(event, at),
        }
    }

    /// Takes hold of the paper, where it is wider than its window.
    fn take_paper(self, event: &web_sys::PointerEvent, at: Point) {
        if self.sheet.layout.get_untracked().alone {
            self.panned.set(Some(at));
            exchange::hold_pointer(event);
        }
    }

    /// Two fingers: what lies between them follows, and spreads with them. Whether there are two.
    fn spread(self, id: i32, to: Point) -> bool {
        let down = self.fingers.with_value(|fingers| {
            let other = fingers.iter().find(|(other, _)| **other != id);
            Some((*fingers.get(&id)?, *other?.1))
        });
        let Some((from, other)) = down else {
            return false;
        };
        self.fingers.update_value(|fingers| {
            fingers.insert(id, to);
        });
        let far = |p: Point| geometry::num::hypot(p.0 - other.0, p.1 - other.1).max(1.0);
        let middle = (f64::midpoint(to.0, other.0), f64::midpoint(to.1, other.1));
        self.enlarge(far(to) / far(from), Some(middle));
        self.move_paper(((to.0 - from.0) / 2.0, (to.1 - from.1) / 2.0));
        true
    }

    /// A finger is up.
    pub(super) fn lift_finger(self, event: &web_sys::PointerEvent) {
        self.fingers.update_value(|fingers| {
            fingers.remove(&event.pointer_id());
        });
    }

    /// Moves the paper under a view that stands alone, px.
    fn move_paper(self, (right, down): (f64, f64)) {
        let layout = self.sheet.layout.get_untracked();
        if !layout.alone {
            return;
        }
        let [across, up] = self.session.shown.get_untracked().axes();
        let mut middle = layout.middle;
        middle[across] -= right / layout.scale;
        middle[up] += down / layout.scale;
        self.session.move_paper(layout.extent.hold(middle));
    }

    /// Enlarges what lies under a place of the drawing, or the picked point; reduced to less than the whole sheet shows, a
    /// view goes back to its place among the others.
    pub(super) fn enlarge(self, factor: f64, at: Option<Point>) {
        let session = self.session;
        let layout = self.sheet.layout.get_untracked();
        let pick = session.pick.get_untracked();
        let view = if layout.alone {
            session.shown.get_untracked()
        } else {
            let all = [Shown::Profile, Shown::HalfBreadth, Shown::BodyPlan];
            let under = |at: Point| {
                all.into_iter()
                    .find(|v| layout.frame(*v).is_some_and(|f| f.holds(at)))
            };
            let plan = self
                .derived
                .standing
                .with_untracked(|lines| in_plan(lines, pick.on));
            let own = if plan {
                Shown::HalfBreadth
            } else {
                Shown::Profile
            };
            at.and_then(under).unwrap_or(own)
        };
        let Some(frame) = layout.frame(view) else {
            return;
        };
        let (width, height) = self.sheet.room.get_untracked();
        let row = if layout.alone { 0.0 } else { SWITCH };
        let size = (width, height - row);
        let middle = Layout::middle_of(size);
        let picked = || {
            let of = |t: &&Target| t.view == view && Some(t.point) == pick.point;
            let place = |targets: &Vec<Target>| targets.iter().find(of).map(|t| t.at);
            self.sheet.targets.with_untracked(place)
        };
        let at = at.or_else(picked).unwrap_or(middle);
        let under = frame.back(at);
        let scale = layout.scale * factor;
        let whole = self.sheet.whole.get_untracked();
        // The row of views takes some of the sheet, and so of the scale.
        if !session.narrow_now() && factor < 1.0 && scale <= whole * 1.12 {
            session.show_whole();
            return;
        }
        let [first, least] = Layout::alone_scale(size, layout.extent, view);
        let scale = scale.clamp(least, MOST * first);
        let [across, up] = view.axes();
        let mut place = layout.middle;
        // What was under the place stays there.
        place[across] = under.0 - (at.0 - middle.0) / scale;
        place[up] = under.1 + (at.1 - middle.1) / scale;
        let glass = Glass {
            middle: layout.extent.hold(place),
            zoom: scale / first,
        };
        session.enlarge(view, glass);
    }

    /// The wheel enlarges, unless the screen needs it to scroll.
    pub(super) fn wheel(self, event: &web_sys::WheelEvent) {
        let scrolls = event
            .current_target()
            .and_then(|t| t.dyn_into::<web_sys::Element>().ok())
            .and_then(|svg| svg.closest("main").ok().flatten())
            .is_some_and(|main| main.scroll_height() > main.client_height() + 1);
        if scrolls && !event.ctrl_key() {
            return;
        }
        event.prevent_default();
        let Some(at) = Self::place(event) else { return };
        let factor = geometry::num::exp((-event.delta_y() * 0.0015).clamp(-0.5, 0.5));
        self.enlarge(factor, Some(at));
    }

    /// Lifts the place where a line or section was pressed, and picks what was pressed.
    fn pick_met(self, met: Met, at: Point) {
        let (lines, loft) = (
            self.derived.standing.get_untracked(),
            self.derived.loft.get_untracked(),
        );
        match met.of {
            Of::Line(on) => self.pick_line(on, at),
            Of::Section(station) => {
                let on = self.session.pick.get_untracked().on;
                self.session.pick_at(on, station);
            }
            // No reading lies on it: what is picked stays.
            Of::Own(_) => {}
        }
        let Ok(loft) = loft else { return };
        let plane = match met.of {
            Of::Line(on) => lines.body.place_of(on).map(plane_of),
            Of::Own(place) => Some(plane_of(place)),
            Of::Section(_) => None,
        };
        // A drawn line is a polyline beside the true one.
        let place = plane.map_or(met.uv, |plane| onto(loft.surface(), &plane, met.uv));
        self.session.lift(place);
    }

    /// Picks a line at its point that is nearest to a place.
    fn pick_line(self, on: On, at: Point) {
        let lines = self.derived.standing.get_untracked();
        let nearest = self.sheet.targets.with_untracked(|targets| {
            let far = |t: &Target| geometry::num::hypot(t.at.0 - at.0, t.at.1 - at.1);
            let of_line = targets.iter().filter(|t| {
                t.view != Shown::BodyPlan
                    && lines
                        .body
                        .point(t.point)
                        .is_some_and(|p| comb_key(p.on) == comb_key(on))
            });
            of_line.min_by(|a, b| far(a).total_cmp(&far(b))).copied()
        });
        match nearest {
            Some(target) => {
                self.session.pick_point(target.point);
                Self::focus_on(&target);
            }
            None => {
                let station = self.session.pick.get_untracked().station;
                self.session.pick_at(on, station);
            }
        }
    }

    /// Takes hold of a point by the coordinate that its view shows.
    fn hold(self, target: Target, by: HeldBy, again: bool) {
        let lines = self.session.standing_now();
        let Some(point) = lines.body.point(target.point) else {
            return;
        };
        if let Some(why) = self.derived.held_fast(&lines, point) {
            self.session.say(NoteKind::Fault, why.to_owned());
            return;
        }
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
            let out = self.derived.moved_out(point.id);
            let recorded = axis.recorded(point, out)?;
            Some((axis, recorded, axis.accepted(point, out)?))
        });
        let Some((axis, recorded, start)) = found else {
            return;
        };
        let mut target = target;
        if target.view == Shown::BodyPlan && axis == Axis::HalfBreadth {
            let hand = lines
                .body
                .station_index(point.station)
                .map_or(1.0, |i| self.sheet.layout.get_untracked().hand(i));
            target.grows = (hand, 0.0);
        }
        exchange::forget_measured("drag");
        self.session.take_hold(match by {
            HeldBy::Pointer { .. } => Holder::Pointer,
            HeldBy::Keys => Holder::Keys,
        });
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

    pub(super) fn moved(self, event: &web_sys::PointerEvent) {
        let Some(at) = Self::place(event) else { return };
        if self.spread(event.pointer_id(), at) {
            return;
        }
        if let Some((from, _)) = self.tap.get_untracked() {
            if geometry::num::hypot(at.0 - from.0, at.1 - from.1) < TAP {
                return;
            }
            self.tap.set(None);
        }
        if let Some(last) = self.panned.get_untracked() {
            self.move_paper((at.0 - last.0, at.1 - last.1));
            self.panned.set(Some(at));
            return;
        }
        let Some(held) = self.held.get_untracked() else {
            return;
        };
        let HeldBy::Pointer { last, taps } = held.by else {
            return;
        };
        if taps && geometry::num::hypot(at.0 - last.0, at.1 - last.1) < TAP {
            return;
        }
        let gear = if event.alt_key() {
            1.0 / self.sheet.layout.get_untracked().scale
        } else {
            GEAR
        };
        let (gx, gy) = held.target.grows;
        let pixels = (at.0 - last.0) * gx + (at.1 - last.1) * gy;
        self.held.update(|held| {
            if let Some(held) = held {
                held.by = HeldBy::Pointer {
                    last: at,
                    taps: false,
                };
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
        if !self.session.try_out(BodyEdit::Move(moved)) {
            return;
        }
        self.held.set(Some(Held { now: mm, ..held }));
        // Ends when all that follows from it is on the page.
        leptos::task::spawn_local(async move {
            leptos::task::tick().await;
            exchange::measured("drag", from);
        });
    }

    /// The pointer is up: what it tapped is picked, what it moved is put down; where it only pressed what was picked, the
    /// next of points that lie on one another is taken.
    pub(super) fn release(self, event: &web_sys::PointerEvent) {
        self.lift_finger(event);
        if event.button() != 0 || !event.is_primary() {
            return;
        }
        let (pressed, tap) = (self.held.get_untracked(), self.tap.get_untracked());
        self.put_down();
        match tap {
            Some((_, Meant::Point(target))) => {
                self.session.pick_point(target.point);
                Self::focus_on(&target);
            }
            Some((at, Meant::Line(met))) => self.pick_met(met, at),
            Some((_, Meant::Paper)) | None => {}
        }
        let Some(held) =
            pressed.filter(|held| held.again && held.now.total_cmp(&held.start).is_eq())
        else {
            return;
        };
        let HeldBy::Pointer { last: at, .. } = held.by else {
            return;
        };
        let next = self.sheet.targets.with_untracked(|targets| {
            let here = |t: &&Target| {
                let far = geometry::num::hypot(t.at.0 - at.0, t.at.1 - at.1);
                t.view == held.target.view && far < STACKED
            };
            let stack: Vec<&Target> = targets.iter().filter(here).collect();
            let picked = stack.iter().position(|t| t.point == held.target.point)?;
            stack.get((picked + 1) % stack.len()).map(|t| **t)
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
            let name = self
                .session
                .standing_now()
                .body
                .point_name(held.target.point);
            self.session.put_down(name);
        }
    }

    pub(super) fn let_go(self) {
        self.panned.set(None);
        self.tap.set(None);
        self.held.set(None);
        self.session.let_go();
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
    pub(super) fn click(self, event: &web_sys::MouseEvent) {
        if event.detail() == 0
            && let Some(target) = self.target_of(event)
        {
            self.session.pick_point(target.point);
        }
    }

    pub(super) fn focus(self, event: &web_sys::Event) {
        if let Some(target) = self.target_of(event) {
            self.session.pick_point(target.point);
        }
    }

    /// The focus goes elsewhere: what the keys hold is put down. The screen may go with the focus in it.
    pub(super) fn leave(self) {
        let held = self.held.try_get_untracked().flatten();
        if held.is_some_and(|held| held.by == HeldBy::Keys) {
            self.put_down();
        }
    }

    pub(super) fn key(self, event: &web_sys::KeyboardEvent) {
        let Some(target) = self.target_of(event) else {
            return;
        };
        if event.ctrl_key() || event.meta_key() {
            return;
        }
        let key = event.key();
        let by_keys = self.held.get_untracked().filter(|h| h.by == HeldBy::Keys);
        let taken = match (key.as_str(), by_keys) {
            ("Enter" | " ", Some(_)) => {
                self.put_down();
                true
            }
            ("Enter" | " ", None) => {
                self.session.pick_point(target.point);
                self.hold(target, HeldBy::Keys, false);
                true
            }
            (".", _) => {
                self.put_down();
                self.session.type_from(target.view);
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
        let Some(point) = lines.body.point(from.point) else {
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
                let other = lines.body.point(t.point);
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
        focus_point(target.point, Some(target.view))
    }
}
