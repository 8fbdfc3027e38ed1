//! What follows from the document: each thing computed once, for all views.
//!
//! In: a [`Session`]. Out: memos of the document, its loft and the lines that are shown, compared by pointer.

use std::sync::Arc;

use geometry::document::{Lines, On, Place, PlaneId, RunLineId, StationId};
use geometry::lines::{Branch, Plane, View, run, trace};
use geometry::loft::{Loft, LoftError};
use leptos::prelude::*;

use super::Session;

/// How far a drawn line may be from the true one, mm: a twentieth of a pixel on a desk screen.
const DRAWN: f64 = 0.2;

/// A loft, or why there is none.
pub type Lofted = Result<Arc<Loft>, Arc<LoftError>>;

/// The lines of a loft that the three views show.
#[derive(Clone, Debug, Default)]
pub struct Shown {
    /// Sections, by station.
    pub sections: Vec<(StationId, Branch)>,
    /// Plane cuts, by plane.
    pub planes: Vec<(PlaneId, Vec<Branch>)>,
    /// Run lines, crown and keel: as seen from the side, and from above.
    pub runs: Vec<(On, Branch, Branch)>,
}

/// All that follows from the document.
#[derive(Clone, Copy, Debug)]
pub struct Derived {
    /// The document with the gesture that is not finished.
    pub document: Memo<Arc<Lines>>,
    /// Its loft.
    pub loft: Memo<Lofted>,
    /// The lines that are shown.
    pub shown: Memo<Option<Arc<Shown>>>,
}

fn same<T>(a: &Arc<T>, b: &Arc<T>) -> bool {
    Arc::ptr_eq(a, b)
}

impl Derived {
    /// The memos of a session.
    pub fn new(session: Session) -> Self {
        let document = Memo::new_with_compare(
            move |_| session.draft.get().unwrap_or_else(|| session.standing()),
            |a, b| match (a, b) {
                (Some(a), Some(b)) => !same(a, b),
                _ => true,
            },
        );
        let loft = Memo::new_with_compare(
            move |before: Option<&Lofted>| {
                let lines = document.get();
                let lofted = match before {
                    Some(Ok(loft)) => loft.again(&lines),
                    _ => Loft::build(&lines),
                };
                lofted.map(Arc::new).map_err(Arc::new)
            },
            |a, b| match (a, b) {
                (Some(Ok(a)), Some(Ok(b))) => !same(a, b),
                (Some(Err(a)), Some(Err(b))) => a != b,
                _ => true,
            },
        );
        let shown = Memo::new_with_compare(
            move |_| {
                let loft = loft.get().ok()?;
                Some(Arc::new(Shown::of(&document.get_untracked(), &loft)))
            },
            |a, b| match (a, b) {
                (Some(Some(a)), Some(Some(b))) => !same(a, b),
                _ => true,
            },
        );
        Self {
            document,
            loft,
            shown,
        }
    }
}

/// The cutting plane of a place.
pub fn plane_of(place: Place) -> Plane {
    match place {
        Place::Waterline(z) => Plane::waterline(z),
        Place::Buttock(y) => Plane::buttock(y),
        Place::Diagonal { height, angle } => Plane::diagonal(height, angle),
    }
}

impl Shown {
    fn of(lines: &Lines, loft: &Loft) -> Self {
        let surface = loft.surface();
        let first = |plane: Plane| trace(surface, &plane, DRAWN).branches.into_iter().next();
        let sections = lines
            .stations
            .iter()
            .filter_map(|station| Some((station.id, first(Plane::station(station.x))?)))
            .collect();
        let planes = lines
            .planes
            .iter()
            .map(|plane| {
                (
                    plane.id,
                    trace(surface, &plane_of(plane.place), DRAWN).branches,
                )
            })
            .collect();
        let both = |on: On, v: f64| {
            (
                on,
                run(surface, v, View::Profile, DRAWN),
                run(surface, v, View::HalfBreadth, DRAWN),
            )
        };
        let of_run_line = |(id, v): &(RunLineId, f64)| both(On::RunLine(*id), *v);
        let mut runs: Vec<_> = loft
            .crown()
            .then(|| both(On::Crown, 0.0))
            .into_iter()
            .collect();
        runs.extend(loft.run_lines().iter().map(of_run_line));
        runs.extend(loft.keel().then(|| both(On::Keel, 1.0)));
        Self {
            sections,
            planes,
            runs,
        }
    }
}
