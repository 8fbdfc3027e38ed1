//! The Shell screen: both sides of the skin, shaded by radius, with the cuts on it; turned, moved and enlarged at will.
//!
//! In: the session and its loft. Reading order: `eye` (where from), `scene` (what), `ladder` (the scale), `paint` (pixels),
//! `overlay` (letters), `strip` (one station's radii), this file (what the screen holds), `easel` (when it draws), `view`
//! (gestures), `margin` (lists, legend, card).

mod easel;
mod eye;
mod ladder;
mod margin;
mod overlay;
mod paint;
mod scene;
mod strip;
mod view;

use std::sync::Arc;

use geometry::lines::CuttingPlane;
use geometry::loft::Loft;
use geometry::num;
use leptos::html::Div;
use leptos::prelude::*;
use leptos::wasm_split::{SplitLoaderError, wasm_split};

use super::drawing::Point;
use super::pieces::{Piece, apart, at_once, no_screen};
use super::widgets::LoftFault;
use super::words::both_bends;
use crate::exchange::{self, WindowKey};
use crate::state::derived::Derived;
use crate::state::{NARROW, Session};
use easel::watch_theme;
use eye::{Eye, Room, Standard, dot};
use ladder::Ladder;
use margin::{Legend, LookFrom, RadiusStrip, ShellCard};
use overlay::PickedJet;
use paint::Shade;
use scene::{Pen, Scene, Shows, Stroke};
use view::View;

/// What laying out a scene is called in the browser's own timing; only the last one is kept.
const SCENE: &str = "shell scene";

/// An arrow key turns by this much, rad: five degrees.
const KEY_TURN: f64 = core::f64::consts::PI / 36.0;

/// With Shift, an arrow key shifts by this much, px.
const KEY_SHIFT: f64 = 40.0;

/// A pick takes the nearest point within this distance, px.
const NEAR: f64 = 24.0;

/// The screen's piece.
pub const SHELL: Piece = Piece {
    what: "The Shell screen",
    fetch: || Box::pin(fetch_shell()),
};

#[wasm_split(shell, wasm_split_path = ::leptos::wasm_split, fallible, preload(fetch_shell))]
fn shell() -> Result<AnyView, SplitLoaderError> {
    Ok(view! { <ShellScreen/> }.into_any())
}

/// The Shell screen, as soon as it is here.
pub fn shell_screen() -> AnyView {
    apart(SHELL, || at_once(shell()), no_screen)
}

/// Everything of the screen that dies with it.
#[derive(Clone, Copy)]
struct Board {
    session: Session,
    derived: Derived,
    size: RwSignal<(f64, f64)>,
    /// Where the person went last with the eye.
    moved_to: RwSignal<Eye>,
    eye: Memo<Eye>,
    standard: RwSignal<Option<Standard>>,
    shade: RwSignal<Shade>,
    /// The asked cuts and what they are called.
    cuts: RwSignal<Vec<(String, CuttingPlane)>>,
    /// Whether it is shown how far each reading lies from the skin.
    stems: RwSignal<bool>,
    /// Counts changes of the colours.
    theme: RwSignal<u32>,
    /// Counts tries at the graphics.
    attempt: RwSignal<u32>,
    lost: RwSignal<Option<String>>,
    scene: Memo<Option<Arc<Scene>>>,
    strokes: Memo<Arc<Vec<Stroke>>>,
    ladder: Memo<Ladder>,
    picked: Memo<Option<PickedJet>>,
}

/// Which patches of a loft are carried.
type Carried = Option<(Arc<Loft>, Arc<Vec<bool>>)>;

fn same<T>(a: Option<&Arc<T>>, b: Option<&Arc<T>>) -> bool {
    match (a, b) {
        (Some(a), Some(b)) => Arc::ptr_eq(a, b),
        (None, None) => true,
        (Some(_), None) | (None, Some(_)) => false,
    }
}

/// Where the body may be drawn: clear of the lists beside it.
fn room_in((width, height): (f64, f64)) -> Room {
    if width < NARROW {
        [44.0, 36.0, width - 46.0, height - 64.0]
    } else {
        let foot = if height > 560.0 { 190.0 } else { 60.0 };
        [190.0, 70.0, width - 252.0, height - foot]
    }
}

/// The eye, and what it follows from.
#[derive(Clone, Debug)]
struct Watched {
    eye: Eye,
    moved_to: Eye,
    size: (f64, f64),
    scene: Option<Arc<Scene>>,
}

impl Watched {
    /// The eye goes where the person moves it. A new size or other lines show all again: while it is at a standard place, and
    /// the first time there is anything to see.
    fn after(
        before: Option<&Self>,
        moved_to: Eye,
        size: (f64, f64),
        scene: Option<Arc<Scene>>,
        at_a_standard: impl FnOnce() -> bool,
    ) -> Self {
        let sees = |size: (f64, f64), scene: &Option<Arc<Scene>>| size.0 > 0.0 && scene.is_some();
        let mut eye = match before {
            Some(before) if before.moved_to == moved_to => before.eye,
            _ => moved_to,
        };
        let other = before.is_none_or(|before| {
            before.size != size || !same(before.scene.as_ref(), scene.as_ref())
        });
        let saw = before.is_some_and(|before| sees(before.size, &before.scene));
        if let (true, Some(scene)) = (other && sees(size, &scene), &scene)
            && (!saw || at_a_standard())
        {
            eye = eye.fitted(&scene.body, room_in(size));
        }
        Self {
            eye,
            moved_to,
            size,
            scene,
        }
    }
}

impl Board {
    fn new(session: Session, derived: Derived) -> Self {
        let shade = RwSignal::new(Shade::Across);
        let cuts = RwSignal::new(Vec::<(String, CuttingPlane)>::new());
        let stems = RwSignal::new(false);
        let carried = Memo::new_with_compare(
            move |before: Option<&Carried>| {
                let loft = derived.loft.get().ok();
                // A move of accepted values leaves what was read, and so what is carried.
                match (before, loft) {
                    (Some(Some((of, carried))), Some(loft)) if of.shares_factor(&loft) => {
                        Some((loft, Arc::clone(carried)))
                    }
                    (_, Some(loft)) => {
                        let carried = Arc::new(loft.carried());
                        Some((loft, carried))
                    }
                    (_, None) => None,
                }
            },
            |_, _| true,
        );
        let scene = Memo::new_with_compare(
            move |_| {
                let (loft, carried) = carried.get()?;
                let lines = derived.document.get_untracked();
                let from = exchange::clock();
                let scene = Arc::new(Scene::of(&lines, &loft, &carried));
                exchange::forget_measured(SCENE);
                exchange::measured(SCENE, from);
                Some(scene)
            },
            |a, b| !same(a.and_then(Option::as_ref), b.and_then(Option::as_ref)),
        );
        let strokes = Memo::new_with_compare(
            move |_| {
                let Some(scene) = scene.get() else {
                    return Arc::default();
                };
                let pick = session.pick.get();
                let mut strokes = scene.strokes.clone();
                if !stems.get() {
                    strokes.retain(|stroke| stroke.pen != Pen::Stem);
                }
                for stroke in &mut strokes {
                    let here = stroke.shows == Shows::Station(pick.station)
                        || stroke.shows == Shows::Line(pick.on);
                    if here && stroke.pen != Pen::Rim {
                        stroke.pen = Pen::Picked;
                    }
                }
                if let Ok(loft) = derived.loft.get() {
                    let cuts = cuts.get();
                    let numbered = cuts.iter().enumerate();
                    strokes
                        .extend(numbered.flat_map(|(n, (_, plane))| Scene::cut(&loft, plane, n)));
                }
                Arc::new(strokes)
            },
            |a, b| !same(a, b),
        );
        let ladder = Memo::new(move |_| {
            let unit = session.unit();
            let which = shade.get().number();
            scene.with(|scene| {
                let bends = scene.as_ref().map(|scene| scene.skin.bends.as_slice());
                let bends = bends.unwrap_or_default().iter();
                Ladder::of(bends.map(|bend| f64::from(bend[which])), unit)
            })
        });
        let picked = Memo::new(move |_| {
            let loft = derived.loft.get().ok()?;
            PickedJet::of(&derived.document.get(), &loft, session.pick.get())
        });
        let size = RwSignal::new((0.0, 0.0));
        let standard = Standard::QuarterBelow;
        let moved_to = RwSignal::new(Eye::seeing(standard, &[], [0.0; 4]));
        let standard = RwSignal::new(Some(standard));
        let watched = Memo::new_with_compare(
            move |before: Option<&Watched>| {
                Watched::after(before, moved_to.get(), size.get(), scene.get(), || {
                    standard.get_untracked().is_some()
                })
            },
            |_, _| true,
        );
        Self {
            session,
            derived,
            size,
            moved_to,
            eye: Memo::new(move |_| watched.with(|watched| watched.eye)),
            standard,
            shade,
            cuts,
            stems,
            theme: RwSignal::new(0),
            attempt: RwSignal::new(0),
            lost: RwSignal::new(None),
            scene,
            strokes,
            ladder,
            picked,
        }
    }

    /// Looks from a standard place, at all of the body.
    fn look_from(self, standard: Standard) {
        let room = room_in(self.size.get_untracked());
        self.scene.with_untracked(|scene| {
            let body = scene.as_ref().map_or(&[][..], |scene| &scene.body);
            self.moved_to.set(Eye::seeing(standard, body, room));
        });
        self.standard.set(Some(standard));
    }

    fn move_eye(self, change: impl FnOnce(Eye) -> Eye) {
        self.moved_to.set(change(self.eye.get_untracked()));
    }

    fn turn(self, turn: f64, tilt: f64) {
        self.standard.set(None);
        self.move_eye(|eye| eye.turned(turn, tilt));
    }

    fn enlarge(self, factor: f64) {
        let (width, height) = self.size.get_untracked();
        self.move_eye(|eye| eye.enlarged(factor, (width / 2.0, height / 2.0)));
    }

    /// Does what a key asks for; whether it asked for anything.
    fn key(self, event: &web_sys::KeyboardEvent) -> bool {
        if event.ctrl_key() || event.meta_key() || event.alt_key() {
            return false;
        }
        match exchange::window_key(event) {
            Some(WindowKey::Move(right, down)) if event.shift_key() => {
                self.move_eye(|eye| eye.shifted(right * KEY_SHIFT, down * KEY_SHIFT));
            }
            Some(WindowKey::Move(right, down)) => self.turn(-right * KEY_TURN, down * KEY_TURN),
            Some(WindowKey::Enlarge(times)) => self.enlarge(times),
            None => {
                let place = { event.key().parse::<usize>().ok() }.and_then(|n| n.checked_sub(1));
                let Some(standard) = place.and_then(|place| Standard::ALL.get(place)) else {
                    return false;
                };
                self.look_from(*standard);
            }
        }
        true
    }

    /// Picks the point nearest to a place of the screen, on the side that faces the eye.
    fn pick_at(self, at: Point) {
        let Some(loft) = self.derived.loft.get_untracked().ok() else {
            return;
        };
        let eye = self.eye.get_untracked();
        let axes = eye.axes();
        let far = |p: Point| num::hypot(p.0 - at.0, p.1 - at.1);
        let nearest = loft
            .points()
            .iter()
            .flat_map(|point| {
                let jet = loft.surface().jet(point.u, point.v);
                let (place, normal) = (jet.s.to_array(), jet.normal().to_array());
                [1.0, -1.0].map(|side| {
                    let there = |p: [f64; 3]| [p[0], side * p[1], p[2]];
                    let facing = dot(there(normal), axes.near);
                    // A tip has no normal, and shows from everywhere.
                    let faces = facing >= 0.0 || facing.is_nan();
                    (point.point, far(eye.project(&axes, there(place))), faces)
                })
            })
            .filter(|(_, far, faces)| *faces && *far < NEAR)
            .min_by(|a, b| a.1.total_cmp(&b.1));
        if let Some((point, ..)) = nearest {
            self.session.pick_point(point);
        }
    }

    /// What the drawing shows, in a sentence for who cannot see it.
    fn words(self) -> String {
        let shading = match self.shade.get() {
            Shade::Across => "Shaded by the radius across.",
            Shade::Along => "Shaded by the radius along.",
            Shade::Compound => "Shaded by how much it bends both ways.",
            Shade::Stripes => "Striped by light.",
        };
        let pick = self.picked.get().map_or_else(String::new, |picked| {
            let unit = self.session.unit();
            let hidden = picked.near_side(&self.eye.get().axes()).is_none();
            let [across, along] = both_bends([picked.across, picked.along], unit);
            format!(
                " At {}: radius across {across}, along {along}{}.",
                picked.name,
                if hidden {
                    "; it is on the far side"
                } else {
                    ""
                }
            )
        });
        format!("{}. {shading}{pick}", self.eye.get().words())
    }
}

/// The screen.
#[component]
fn ShellScreen() -> impl IntoView {
    let session = expect_context::<Session>();
    let board = Board::new(session, expect_context::<Derived>());
    let sheet: NodeRef<Div> = NodeRef::new();
    let watch = StoredValue::new_local(None::<exchange::SizeWatch>);
    Effect::new(move |_| {
        if let Some(sheet) = sheet.get() {
            let whole: web_sys::Element = sheet.into();
            let watched = whole.clone();
            let tell = move || {
                let area = watched.get_bounding_client_rect();
                board.size.try_set((area.width(), area.height()));
            };
            watch.set_value(exchange::SizeWatch::on(&[&whole], tell));
        }
    });
    watch_theme(board);
    view! {
        <main class="shell-screen">
            <LoftFault/>
            <div class="shell" data-empty=move || board.scene.with(Option::is_none).then_some("")>
                <LookFrom board/>
                <div class="shell-view" node_ref=sheet>
                    <View board/>
                </div>
                <Legend board/>
                <RadiusStrip board/>
            </div>
            <ShellCard board/>
        </main>
    }
}
