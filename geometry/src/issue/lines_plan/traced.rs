//! The lines as a loft has them, traced for drawing.

use std::collections::BTreeSet;
use std::sync::Arc;

use super::{Hidden, Shown};
use crate::document::{On, Place, Plane, RunLineId, Station, StationId};
use crate::lines::{Branch, CuttingPlane, View, girth_of, plane_of, run, same_cut, trace};
use crate::loft::Loft;

/// How near a line is traced whose curvature is shown, mm.
const FINE: f64 = 0.02;

/// While a gesture lasts, a line is traced again when the skin at it has moved by more than this, mm.
const STILL: f64 = 0.005;

/// What a plane cuts out of a loft.
#[derive(Clone, Debug)]
pub struct Cut {
    /// The plane.
    pub plane: Plane,
    /// The lines.
    pub branches: Arc<Vec<Branch>>,
    loft: Arc<Loft>,
}

/// A run line, crown or keel, traced for both views it is drawn in: each takes the nodes that its own curve needs.
#[derive(Clone, Debug)]
pub struct RunTraced {
    /// The line.
    pub on: On,
    /// As seen from the side.
    pub profile: Branch,
    /// As seen from above.
    pub plan: Branch,
}

/// The lines of a loft that the views show.
#[derive(Clone, Debug, Default)]
pub struct Traced {
    /// Sections, by station.
    pub sections: Vec<(StationId, Branch)>,
    /// Plane cuts.
    pub planes: Vec<Cut>,
    /// Run lines, crown and keel.
    pub runs: Vec<RunTraced>,
}

/// Traces lines finely, since their curvature is shown.
#[must_use]
pub fn fine(loft: &Loft, wanted: &BTreeSet<On>) -> Vec<(On, Vec<Branch>)> {
    let (body, surface) = (loft.body(), loft.surface());
    let branches = |on: On| match (girth_of(loft, on), body.place_of(on)) {
        (Some(v), _) => vec![run(surface, v, View::Profile, FINE)],
        (None, Some(place)) => trace(surface, &plane_of(place), FINE).branches,
        (None, None) => Vec::new(),
    };
    wanted.iter().map(|on| (*on, branches(*on))).collect()
}

impl Traced {
    /// Lines within `accuracy`, mm, for one view or all; of `kept` what still holds is taken over. `planes` are those that are
    /// cut, see [`shown_planes`](super::shown_planes).
    #[must_use]
    pub fn of(
        loft: &Arc<Loft>,
        planes: &[Plane],
        (only, hidden): (Option<Shown>, &Hidden),
        (accuracy, kept): (f64, &[Cut]),
    ) -> Self {
        let (body, surface) = (loft.body(), loft.surface());
        let sees = |view: Shown| only.is_none_or(|only| only == view);
        let drawn = |station: &&Station| !hidden.stations.contains(&station.id);
        let sections = body.stations.iter().filter(drawn).filter_map(|station| {
            let cut = trace(surface, &CuttingPlane::station(station.x), accuracy);
            Some((station.id, cut.branches.into_iter().next()?))
        });
        let sections = if sees(Shown::BodyPlan) {
            sections.collect()
        } else {
            Vec::new()
        };
        let planes = planes
            .iter()
            .filter(|plane| hidden.draws(On::Plane(plane.id)))
            .filter(|plane| match plane.place {
                Place::Buttock(_) => sees(Shown::Profile),
                Place::Waterline(_) | Place::Diagonal { .. } => sees(Shown::HalfBreadth),
            })
            .map(|plane| {
                let at = plane_of(plane.place);
                let holds = |cut: &&Cut| {
                    cut.plane == *plane && same_cut(cut.loft.surface(), surface, &at, STILL)
                };
                let cut = || Cut {
                    plane: plane.clone(),
                    loft: Arc::clone(loft),
                    branches: Arc::new(trace(surface, &at, accuracy).branches),
                };
                kept.iter().find(holds).cloned().unwrap_or_else(cut)
            })
            .collect();
        let both = |on: On, v: f64| RunTraced {
            on,
            profile: run(surface, v, View::Profile, accuracy),
            plan: run(surface, v, View::HalfBreadth, accuracy),
        };
        let of_run_line = |(id, v): &(RunLineId, f64)| both(On::RunLine(*id), *v);
        let mut runs: Vec<_> = loft
            .crown()
            .then(|| both(On::Crown, 0.0))
            .into_iter()
            .collect();
        runs.extend(loft.run_lines().iter().map(of_run_line));
        runs.extend(loft.keel().then(|| both(On::Keel, 1.0)));
        runs.retain(|run| hidden.draws(run.on));
        Self {
            sections,
            planes,
            runs,
        }
    }
}
