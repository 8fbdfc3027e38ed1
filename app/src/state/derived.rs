//! What follows from the document: each thing computed once, for all views.
//!
//! In: a [`Session`]. Out: memos of the document, its offsets, its loft and the lines that are shown, compared by pointer.
//! While a gesture lasts only the lines of the views on the screen are traced again.

use std::collections::BTreeMap;
use std::sync::Arc;

use geometry::compare::{Move, moved_where_read};
use geometry::document::{Body, Lines, Offset, On, Plane, Point, PointId};
use geometry::issue::lines_plan::{Traced, fine, shown_planes};
use geometry::lines::{Branch, PickUp, Tape, lift, shortest};
use geometry::loft::{Loft, LoftError};
use geometry::units::Message;
use leptos::prelude::*;

use super::axis::Out;
use super::{Session, Shown, comb_key};
use crate::exchange;

/// How far a drawn line may be from the true one, mm, where a whole view is seen: a tenth of a pixel on a desk screen.
const DRAWN: f64 = 0.4;

/// By these names the browser's timing knows when the body was last lofted, and when lines were last cut from that.
const LOFTED: &str = "loft";
const CUT: &str = "cuts";

/// A loft, or why there is none.
pub type Lofting = Result<Arc<Loft>, Arc<LoftError>>;

/// Why there is no loft, for the person.
#[derive(Clone, Debug, PartialEq)]
pub struct Fault {
    /// In a sentence or two.
    pub says: String,
    /// The point to begin with.
    pub point: Option<PointId>,
    /// Whether there are too few points for sections that nothing else shapes, and lines for a law that would.
    pub law: bool,
}

/// The offsets, station by station.
pub type Offsets = Arc<Vec<Vec<Offset>>>;

/// Lines traced finely, since their curvature is shown: those with combs and the picked one.
pub type Fine = Arc<Vec<(On, Vec<Branch>)>>;

/// All that follows from the document.
#[derive(Clone, Copy, Debug)]
pub struct Derived {
    /// The document with the gesture that is not finished.
    pub document: Memo<Arc<Lines>>,
    /// Its offsets.
    pub offsets: Memo<Offsets>,
    /// Its loft.
    pub loft: Memo<Lofting>,
    /// Why there is none.
    pub fault: Memo<Option<Fault>>,
    /// The planes that the lines plan shows, its own among them.
    pub planes: Memo<Arc<Vec<Plane>>>,
    /// The lines that are shown.
    pub shown: Memo<Option<Arc<Traced>>>,
    /// The lines whose curvature is shown.
    pub fine: Memo<Fine>,
    /// What is lifted off the skin.
    pub lifted: Memo<Option<PickUp>>,
    /// The tape to it from where one began.
    pub tape: Memo<Option<Arc<Tape>>>,
    /// The document without a gesture's draft.
    pub standing: Memo<Arc<Lines>>,
    /// Another state that is drawn beside, with its lines.
    pub beside: Memo<OtherState>,
    /// How far the skin moved where points lay that are used only in the state that is drawn beside, the furthest first.
    pub moved: Memo<Vec<(PointId, Move)>>,
    /// How far what was read of points moves along to their stations.
    along: Memo<BTreeMap<PointId, Out>>,
}

/// Another state of the lines, and what the views show of it; none where it gives no loft.
pub type OtherState = Option<(Arc<Lines>, Arc<Traced>, Fine)>;

/// Another state of the lines with its loft.
type OtherLoft = Option<(Arc<Lines>, Arc<Loft>)>;

fn other<T>(a: Option<&Arc<T>>, b: Option<&Arc<T>>) -> bool {
    match (a, b) {
        (None, None) => false,
        (Some(a), Some(b)) => !Arc::ptr_eq(a, b),
        _ => true,
    }
}

impl Derived {
    /// Why what needs a loft can't be done now; none where there is one.
    pub fn no_loft(&self) -> Option<String> {
        let fault = self.fault.get()?;
        Some(format!("There is no surface to do this on. {}", fault.says))
    }

    /// The memos of a session.
    pub fn new(session: Session) -> Self {
        let standing = Memo::new_with_compare(move |_| session.standing(), other);
        let document = Memo::new_with_compare(
            move |_| session.draft.get().unwrap_or_else(|| standing.get()),
            other,
        );
        // Loft and lines follow the body, whatever else of the document changes.
        let body = Memo::new_with_compare(move |_| Arc::clone(&document.get().body), other);
        let loft = Memo::new_with_compare(
            move |before: Option<&Lofting>| {
                let body = body.get();
                let lofted = exchange::timed(LOFTED, || match before {
                    Some(Ok(loft)) => loft.again(&body),
                    _ => Loft::build(&body),
                });
                lofted.map(Arc::new).map_err(Arc::new)
            },
            |a, b| match (a, b) {
                (Some(Ok(a)), Some(Ok(b))) => !Arc::ptr_eq(a, b),
                (Some(Err(a)), Some(Err(b))) => a != b,
                _ => true,
            },
        );
        let along = Memo::new(move |_| body.with(|body| body.moved_along()));
        let offsets =
            Memo::new_with_compare(move |_| Arc::new(outside(&body.get(), &loft.get())), other);
        let fault = Memo::new(move |_| {
            let error = loft.get().err()?;
            let lines = document.get();
            Some(Fault {
                says: error.message(lines.about.unit),
                point: error.point().filter(|id| lines.body.point(*id).is_some()),
                law: lines.body.suits_a_law(),
            })
        });
        let only = Memo::new(move |_| session.one_view().then(|| session.shown.get()));
        // A line that is looked at more closely is drawn more closely.
        let drawn = Memo::new(move |_| {
            let zoom = if session.one_view() {
                session.glass.get().zoom
            } else {
                1.0
            };
            let halvings = (0..6).take_while(|i| f64::from(1 << i) < zoom).count();
            (0..halvings).fold(DRAWN, |accuracy, _| accuracy / 2.0)
        });
        // They follow what is recorded and the unit, so that a drag leaves them as they are.
        let planes = Memo::new_with_compare(
            move |before: Option<&Arc<Vec<Plane>>>| {
                let planes = shown_planes(&document.get(), &offsets.get());
                let kept = before.filter(|before| ***before == planes);
                kept.map_or_else(|| Arc::new(planes), Arc::clone)
            },
            other,
        );
        let shown = Memo::new_with_compare(
            move |before: Option<&Option<Arc<Traced>>>| {
                let loft = loft.get().ok()?;
                let planes = planes.get();
                let held = session.draft.with_untracked(Option::is_some);
                let before = before.and_then(Option::as_ref).filter(|_| held);
                let kept = before.map_or(&[][..], |shown| &shown.planes);
                let hidden = session.hidden.get();
                Some(Arc::new(exchange::timed(CUT, || {
                    let cut = (drawn.get(), kept);
                    Traced::of(&loft, &planes, (only.get(), &hidden), cut)
                })))
            },
            |a, b| other(a.and_then(Option::as_ref), b.and_then(Option::as_ref)),
        );
        let (beside, other_loft) = beside(session, planes, (only, drawn));
        let moved = Memo::new(move |_| {
            let (Some((_, other)), Ok(loft)) = (other_loft.get(), loft.get()) else {
                return Vec::new();
            };
            let mut moved = moved_where_read(&other, &loft);
            geometry::num::put_in_order(&mut moved, |a, b| b.1.by.abs().total_cmp(&a.1.by.abs()));
            moved
        });
        let wanted = Memo::new(move |_| {
            let mut wanted = session.combs.get();
            wanted.insert(comb_key(session.pick.get().on));
            wanted
        });
        let fine = Memo::new_with_compare(
            move |_| {
                let Ok(loft) = loft.get() else {
                    return Arc::default();
                };
                Arc::new(fine(&loft, &wanted.get()))
            },
            other,
        );
        let lifted = Memo::new(move |_| {
            let (place, loft) = (session.lifted.get()?, loft.get().ok()?);
            Some(lift(loft.surface(), place))
        });
        let tape = Memo::new_with_compare(
            move |before: Option<&Option<Arc<Tape>>>| {
                let (from, to) = (session.tape_from.get()?, session.lifted.get()?);
                let held = session.draft.with(Option::is_some);
                // While a gesture lasts the tape stays.
                if let (true, Some(before)) = (held, before) {
                    return before.clone();
                }
                let loft = loft.get().ok()?;
                (from != to).then(|| Arc::new(shortest(loft.surface(), from, to)))
            },
            |a, b| other(a.and_then(Option::as_ref), b.and_then(Option::as_ref)),
        );
        Self {
            document,
            offsets,
            loft,
            fault,
            planes,
            shown,
            fine,
            lifted,
            tape,
            standing,
            beside,
            moved,
            along,
        }
    }

    /// How far what was read of a point is moved out to the outside of the skin, and before that along to its station where its
    /// source's stations lie elsewhere, mm; not followed, since it changes with the document only.
    pub fn moved_out(&self, point: PointId) -> Out {
        let out = self.loft.with_untracked(|lofted| {
            let loft = lofted.as_ref().ok();
            loft.map_or([0.0; 2], |loft| loft.moved_out(point))
        });
        let along = self
            .along
            .with_untracked(|along| along.get(&point).copied());
        let along = along.unwrap_or_default();
        [out[0] + along[0], out[1] + along[1]]
    }

    /// Why a point can't be moved now, where it can't: it was read inside the skin, and no loft says where its outside is.
    pub fn held_fast(&self, lines: &Lines, point: &Point) -> Option<&'static str> {
        let deep = lines.body.depth(point).iter().any(|depth| *depth > 0.0);
        let lofted = self.loft.with_untracked(Result::is_ok);
        (deep && !lofted).then_some(
            "This point was read inside the skin, and while there is no loft it is not known where the outside lies: \
             mend the loft first.",
        )
    }

    /// The offsets of a body with the evidence of the present one, on the outside of the skin.
    pub fn offsets_of(&self, body: &Body) -> Vec<Vec<Offset>> {
        self.loft.with_untracked(|lofted| outside(body, lofted))
    }
}

/// The offsets on the outside of the skin; as they were read where there is no loft that says where it lies.
fn outside(body: &Body, lofted: &Lofting) -> Vec<Vec<Offset>> {
    match lofted {
        Ok(loft) => loft.offsets_of(body),
        Err(_) => body.offsets(),
    }
}

/// Another state that is drawn beside, cut by its own planes and by those that are shown now, and its loft.
fn beside(
    session: Session,
    planes: Memo<Arc<Vec<Plane>>>,
    (only, drawn): (Memo<Option<Shown>>, Memo<f64>),
) -> (Memo<OtherState>, Memo<OtherLoft>) {
    let other_loft = Memo::new_with_compare(
        move |_| {
            let lines = session.beside.get()?.lines;
            let loft = Loft::build(&lines.body).ok()?;
            Some((lines, Arc::new(loft)))
        },
        |_: Option<&OtherLoft>, _| true,
    );
    let beside = Memo::new_with_compare(
        move |_| {
            let (lines, loft) = other_loft.get()?;
            let hidden = session.hidden.get();
            // So that each line that is shown is held against itself, though the drawing's own would lie elsewhere there.
            let now = planes.get();
            let lacks = |plane: &&Plane| lines.body.plane(plane.id).is_none();
            let cut_by: Vec<Plane> = { lines.body.planes.iter() }
                .chain(now.iter().filter(lacks))
                .cloned()
                .collect();
            let cut = (drawn.get(), &[][..]);
            let shown = Traced::of(&loft, &cut_by, (only.get(), &hidden), cut);
            let combed = fine(&loft, &session.combs.get());
            Some((lines, Arc::new(shown), Arc::new(combed)))
        },
        |_: Option<&OtherState>, _| true,
    );
    (beside, other_loft)
}
