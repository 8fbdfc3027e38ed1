//! A body given by law: its sections are conics between lines that run aft.
//!
//! In: which lines rule the body. Out: [`Law`], the ρ of a conic through a point, and what keeps a law from being one. The
//! lines are those the document has: crown, keel and run lines, so that their points are moved, read and kept as any others.

use core::fmt;

use serde::{Deserialize, Serialize};

use super::find::Side;
use super::{Body, End, On, Peak, Point, RunKind, RunLineId};
use crate::num;

/// Which lines rule a body, and how full its sections are.
///
/// Crown and keel bound each section, level there; at the breadth it stands upright. Between them each quadrant is one conic.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Law {
    /// The run line where the section is broadest.
    pub breadth: RunLineId,
    /// How full the quadrant from crown to breadth is.
    pub upper: Shoulder,
    /// How full the quadrant from breadth to keel is.
    pub lower: Shoulder,
}

/// The least ρ of a quadrant, and as near to 1 the largest: beyond, a section is all but its chord or its corner.
const LEAST_RHO: f64 = 0.001;

/// How full a quadrant is.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case", deny_unknown_fields)]
pub enum Shoulder {
    /// By a number all along, ρ: how high the conic rises over its chord, by the height of its corner; from 0.001 to 0.999.
    Rho(f64),
    /// By a run line whose points the conic passes through.
    Line(RunLineId),
}

/// A quadrant of a section.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Quadrant {
    /// From crown to breadth.
    Upper,
    /// From breadth to keel.
    Lower,
}

impl Quadrant {
    /// `upper` or `lower`.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Upper => "upper",
            Self::Lower => "lower",
        }
    }

    /// Its three points from crown to keel: of the crown or keel at `height`, the corner, and the breadth.
    #[must_use]
    pub fn corner(self, height: f64, breadth: [f64; 2]) -> [[f64; 2]; 3] {
        let [centre, corner] = [[0.0, height], [breadth[0], height]];
        match self {
            Self::Upper => [centre, corner, breadth],
            Self::Lower => [breadth, corner, centre],
        }
    }
}

impl Law {
    /// The shoulder of a quadrant.
    #[must_use]
    pub fn shoulder(&self, quadrant: Quadrant) -> Shoulder {
        match quadrant {
            Quadrant::Upper => self.upper,
            Quadrant::Lower => self.lower,
        }
    }

    /// The run line of a quadrant's shoulder, where one rules it.
    #[must_use]
    pub fn shoulder_line(&self, quadrant: Quadrant) -> Option<RunLineId> {
        match self.shoulder(quadrant) {
            Shoulder::Line(id) => Some(id),
            Shoulder::Rho(_) => None,
        }
    }

    /// Whether points on a line rule the body; those of all others stand beside the law.
    #[must_use]
    pub fn rules(&self, on: On) -> bool {
        match on {
            On::Crown | On::Keel => true,
            On::RunLine(id) => {
                id == self.breadth || [self.upper, self.lower].contains(&Shoulder::Line(id))
            }
            On::Plane(_) | On::PlaneUpper(_) | On::Free => false,
        }
    }
}

/// Barycentrics of a place in a triangle: `at = b0 P0 + b1 P1 + b2 P2`, with sum 1.
///
/// # Accuracy
/// A few units in the last place, more where the triangle is narrow.
///
/// # Source
/// Cramer's rule.
#[must_use]
pub fn barycentrics(corner: [[f64; 2]; 3], at: [f64; 2]) -> [f64; 3] {
    let from = |p: [f64; 2]| [p[0] - corner[0][0], p[1] - corner[0][1]];
    let cross = |a: [f64; 2], b: [f64; 2]| a[0] * b[1] - a[1] * b[0];
    let [a, c, d] = [from(corner[1]), from(corner[2]), from(at)];
    let twice = cross(a, c);
    let (b1, b2) = (cross(d, c) / twice, cross(a, d) / twice);
    [1.0 - b1 - b2, b1, b2]
}

/// ρ of the conic in a corner that passes through a place; none where the place does not lie inside the corner's triangle.
///
/// `w = b1 / (2 √(b0 b2))`, `ρ = w / (1 + w)`.
///
/// # Units
/// mm; the result has none.
///
/// # Accuracy
/// A few units in the last place of the barycentrics; tested to 1e-9.
///
/// # Source
/// R. A. Liming, *Practical Analytic Geometry with Applications to Aircraft*, 1944; from the conic's equation
/// `b1² = 4 w² b0 b2`.
#[must_use]
pub fn rho_through(corner: [[f64; 2]; 3], at: [f64; 2]) -> Option<f64> {
    let [b0, b1, b2] = barycentrics(corner, at);
    let inside = b0 > 0.0 && b1 > 0.0 && b2 > 0.0;
    inside.then(|| {
        let w = b1 / (2.0 * (b0 * b2).sqrt());
        w / (1.0 + w)
    })
}

/// The offsets of one station that rule its section.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Controls {
    /// Of the crown.
    pub crown: Option<super::Offset>,
    /// Of the keel.
    pub keel: Option<super::Offset>,
    /// Of the breadth.
    pub breadth: Option<super::Offset>,
    /// Of the upper and the lower shoulder.
    pub shoulders: [Option<super::Offset>; 2],
}

impl Law {
    /// What rules a station's section, of all its offsets.
    #[must_use]
    pub fn controls(&self, offsets: &[super::Offset]) -> Controls {
        let on = |on: On| offsets.iter().find(|offset| offset.on == on).copied();
        let shoulder = |quadrant| {
            let line = self.shoulder_line(quadrant)?;
            on(On::RunLine(line))
        };
        Controls {
            crown: on(On::Crown),
            keel: on(On::Keel),
            breadth: on(On::RunLine(self.breadth)),
            shoulders: [shoulder(Quadrant::Upper), shoulder(Quadrant::Lower)],
        }
    }
}

impl Controls {
    /// Whether a station has none.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        let [upper, lower] = self.shoulders;
        let all = [self.crown, self.keel, self.breadth, upper, lower];
        all.iter().all(Option::is_none)
    }
}

/// What keeps a law from being one.
#[derive(Clone, Debug, PartialEq)]
pub enum LawFault {
    /// It stands for a run line that is not there.
    NoRunLine,
    /// A run line of it is a knuckle, by its name.
    Knuckle(String),
    /// One run line serves twice, by its name.
    Twice(String),
    /// ρ does not lie between 0.001 and 0.999.
    Rho(Quadrant, f64),
    /// A station lacks a point that the law needs there, by its line.
    Lacks(String),
    /// Fewer than two stations, tips among them, show all that the law needs.
    FewStations(usize),
    /// A shoulder line has no point in use, by its name.
    NoShoulder(String),
    /// The breadth does not lie between crown and keel, and outboard of the centre plane.
    NoCorner,
    /// The shoulder does not lie in the triangle of its corner and the chord.
    OutsideCorner(Quadrant),
    /// The section is not level where it crosses the centre plane.
    Peaked(Side),
}

impl LawFault {
    /// What it says after its place.
    pub(in crate::document) fn says(&self) -> String {
        match self {
            Self::NoRunLine => {
                "stands for a run line that is not there. Name another, or take the law off first".to_owned()
            }
            Self::Knuckle(name) => format!(
                "cannot run along {name}, which is a knuckle: a conic has no corner. Make it smooth, or name another line"
            ),
            Self::Twice(name) => format!("uses {name} twice. Name another run line for one of the two"),
            Self::Rho(quadrant, rho) => format!(
                "has the fullness {rho} in the {} quadrant; it lies between 0.001 and 0.999, and a quarter of a circle has 0.414",
                quadrant.name()
            ),
            Self::Lacks(line) => format!(
                "has no point of the {line} in use, which the conic law needs there. Add its reading, or take the law off first"
            ),
            Self::FewStations(found) => format!(
                "needs crown, breadth and keel at two stations or more, and {} has them. Add readings",
                if *found == 0 { "none" } else { "one" }
            ),
            Self::NoShoulder(name) => format!(
                "has its shoulder on {name}, which has no point in use. Add one, or give the quadrant a number"
            ),
            Self::NoCorner => {
                "has no room for a conic section: the breadth lies below the crown, above the keel and outboard of the \
                 centre plane. Correct one of them"
                    .to_owned()
            }
            Self::OutsideCorner(quadrant) => format!(
                "lies outside the {} quadrant's triangle of chord and corner, where no conic passes. Correct it, or the \
                 lines beside it",
                quadrant.name()
            ),
            Self::Peaked(side) => format!(
                "is peaked at the {}, where a section by conic law is level. Make it smooth, or take the law off first",
                side.name()
            ),
        }
    }
}

/// Where a fault of the law lies.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Where<'a> {
    /// In the law itself.
    Law,
    /// At a station.
    Station(&'a super::Station),
    /// At a point.
    Point(&'a Point),
}

/// All faults of a document's law.
pub(super) fn faults(body: &Body) -> Vec<(Where<'_>, LawFault)> {
    let Some(law) = body.law else {
        return Vec::new();
    };
    let mut found = of_itself(body, &law);
    if found.is_empty() {
        found = at_stations(body, &law);
    }
    found
}

/// Faults of the law's own words.
fn of_itself<'a>(body: &'a Body, law: &Law) -> Vec<(Where<'a>, LawFault)> {
    let mut found = Vec::new();
    let mut named = vec![law.breadth];
    for quadrant in [Quadrant::Upper, Quadrant::Lower] {
        match law.shoulder(quadrant) {
            Shoulder::Line(id) => named.push(id),
            Shoulder::Rho(rho) if (LEAST_RHO..=1.0 - LEAST_RHO).contains(&rho) => {}
            Shoulder::Rho(rho) => found.push(LawFault::Rho(quadrant, rho)),
        }
    }
    for (n, id) in named.iter().enumerate() {
        match body.run_line(*id) {
            None => found.push(LawFault::NoRunLine),
            Some(line) if line.kind == RunKind::Knuckle => {
                found.push(LawFault::Knuckle(line.name.clone()));
            }
            Some(line) if named[..n].contains(id) => {
                found.push(LawFault::Twice(line.name.clone()));
            }
            Some(_) => {}
        }
    }
    found.into_iter().map(|fault| (Where::Law, fault)).collect()
}

/// Faults at stations and points, of the accepted places.
fn at_stations<'a>(body: &'a Body, law: &Law) -> Vec<(Where<'a>, LawFault)> {
    let mut offsets = vec![Vec::new(); body.stations.len()];
    let numbered = body.stations.iter().enumerate();
    let index: std::collections::BTreeMap<_, _> =
        num::put_together(numbered.map(|(n, station)| (station.id, n)));
    for (point, merged) in body.points.iter().zip(body.all_merged()) {
        let offset = body.offset_as(point, merged);
        if let (Some(offset), Some(n)) = (offset, index.get(&point.station)) {
            offsets[*n].push(offset);
        }
    }
    let mut found = Vec::new();
    let marked = |offsets: &Vec<super::Offset>| !offsets.is_empty();
    let (first, last) = (
        offsets.iter().position(marked),
        offsets.iter().rposition(marked),
    );
    let tips = body.tip_stations(&offsets);
    let ends = [body.ends.fore, body.ends.aft];
    let mut rows = ends.iter().filter(|end| **end != End::Open).count();
    let mut shown = [false; 2];
    for (n, (station, offsets)) in body.stations.iter().zip(&offsets).enumerate() {
        if tips.contains(&Some(n)) {
            rows += 1;
            continue;
        }
        let controls = law.controls(offsets);
        let bounds = Some(n) == first || Some(n) == last;
        if controls.is_empty() && !bounds {
            continue;
        }
        let at = Where::Station(station);
        let (Some(crown), Some(keel), Some(breadth)) =
            (controls.crown, controls.keel, controls.breadth)
        else {
            let missing = [
                (On::Crown, controls.crown),
                (On::RunLine(law.breadth), controls.breadth),
                (On::Keel, controls.keel),
            ];
            let lacks = missing.into_iter().filter(|(_, offset)| offset.is_none());
            found.extend(
                lacks.map(|(on, _)| (at, LawFault::Lacks(body.line_name(on).unwrap_or_default()))),
            );
            continue;
        };
        rows += 1;
        for side in [Side::Crown, Side::Keel] {
            if body.peak(side, station.id) == Peak::Peaked {
                found.push((at, LawFault::Peaked(side)));
            }
        }
        let broadest = breadth.accepted;
        if !(crown.accepted[1] > broadest[1] && broadest[1] > keel.accepted[1] && broadest[0] > 0.0)
        {
            found.push((at, LawFault::NoCorner));
            continue;
        }
        for (k, (quadrant, centre)) in [(Quadrant::Upper, crown), (Quadrant::Lower, keel)]
            .into_iter()
            .enumerate()
        {
            let Some(shoulder) = controls.shoulders[k] else {
                continue;
            };
            shown[k] = true;
            let corner = quadrant.corner(centre.accepted[1], broadest);
            if let (None, Some(point)) = (
                rho_through(corner, shoulder.accepted),
                body.point(shoulder.point),
            ) {
                found.push((Where::Point(point), LawFault::OutsideCorner(quadrant)));
            }
        }
    }
    for (quadrant, shown) in [Quadrant::Upper, Quadrant::Lower].into_iter().zip(shown) {
        if let (Some(id), false) = (law.shoulder_line(quadrant), shown) {
            let name = body.line_name(On::RunLine(id)).unwrap_or_default();
            found.push((Where::Law, LawFault::NoShoulder(name)));
        }
    }
    if rows < 2 && found.is_empty() {
        found.push((Where::Law, LawFault::FewStations(rows)));
    }
    found
}

impl fmt::Display for Quadrant {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.name())
    }
}

#[cfg(test)]
pub(crate) mod tests {
    use super::*;
    use crate::document::rules::{At, Broken};
    use crate::document::{
        BodyEdit, EditError, Folder, History, Lines, Moved, PointId, RunLine, StationId,
        read_folder, read_link, write_folder, write_link,
    };
    use geometry::made::{Table, made};

    /// What rules one section of a made body: crown, breadth, keel, and the shoulders where there are any.
    pub(crate) struct Ruling {
        pub(crate) crown: f64,
        pub(crate) breadth: [f64; 2],
        pub(crate) keel: f64,
        pub(crate) shoulders: [Option<[f64; 2]>; 2],
    }

    /// A body given by law at stations of these x, its points good to `tolerance`.
    pub(crate) fn body(
        x: &[f64],
        tolerance: f64,
        [upper, lower]: [Shoulder; 2],
        ruling: impl Fn(f64) -> Ruling,
    ) -> Lines {
        let round = |x: f64| {
            let Ruling {
                crown,
                breadth,
                keel,
                shoulders,
            } = ruling(x);
            let run = |id: u32, at: Option<[f64; 2]>| Some((On::RunLine(RunLineId(id)), at?));
            let all = [
                Some((On::Crown, [0.0, crown])),
                run(0, shoulders[0]),
                run(1, Some(breadth)),
                run(2, shoulders[1]),
                Some((On::Keel, [0.0, keel])),
            ];
            all.into_iter().flatten().collect()
        };
        let table: Table = x.iter().map(|x| (*x, round(*x))).collect();
        let run_lines = (0..).zip(["upper shoulder", "breadth", "lower shoulder"]);
        let mut lines = made(&table, tolerance);
        let body = lines.body_mut();
        body.run_lines = run_lines
            .map(|(id, name)| RunLine {
                id: RunLineId(id),
                name: name.to_owned(),
                kind: RunKind::Smooth,
                joint: false,
            })
            .collect();
        body.law = Some(Law {
            breadth: RunLineId(1),
            upper,
            lower,
        });
        lines
    }

    fn four() -> Lines {
        let shoulders = [Shoulder::Line(RunLineId(0)), Shoulder::Rho(0.45)];
        body(&[0.0, 400.0, 800.0, 1200.0], 0.2, shoulders, |x| Ruling {
            crown: 900.0,
            breadth: [300.0 + x / 10.0, 500.0],
            keel: 200.0,
            shoulders: [Some([0.7 * (300.0 + x / 10.0), 800.0]), None],
        })
    }

    fn on(lines: &Lines, station: u32, on: On) -> PointId {
        lines.body.point_on(StationId(station), on).unwrap().id
    }

    fn breadth() -> On {
        On::RunLine(RunLineId(1))
    }

    #[test]
    fn each_fault_of_a_law_names_its_place() {
        let lines = four();
        assert_eq!(lines.first_fault(), None);
        let says = |change: &dyn Fn(&mut Lines), at: At, says: &str| {
            let mut changed = lines.clone();
            change(&mut changed);
            let fault = changed.first_fault().unwrap();
            assert_eq!(fault.at, at);
            assert!(matches!(fault.broken, Broken::Law(_)));
            let message = fault.to_string();
            assert!(
                message.contains(says) && message.ends_with('.'),
                "{message}"
            );
        };
        let law =
            |l: &mut Lines, change: &dyn Fn(&mut Law)| change(l.body_mut().law.as_mut().unwrap());
        let at = |label: &str| At::Station(label.to_owned());
        says(
            &|l| law(l, &|law| law.breadth = RunLineId(9)),
            At::Law,
            "not there",
        );
        says(
            &|l| l.body_mut().run_lines[1].kind = RunKind::Knuckle,
            At::Law,
            "a knuckle",
        );
        says(
            &|l| law(l, &|law| law.upper = Shoulder::Line(RunLineId(1))),
            At::Law,
            "twice",
        );
        for rho in [0.0, 1.0, -3.0, 1e-200, f64::NAN] {
            says(
                &|l| law(l, &|law| law.lower = Shoulder::Rho(rho)),
                At::Law,
                "between 0.001 and 0.999",
            );
        }
        says(
            &|l| law(l, &|law| law.lower = Shoulder::Line(RunLineId(2))),
            At::Law,
            "lower shoulder, which has no",
        );
        let lost = on(&lines, 2, breadth());
        says(
            &|l| l.body_mut().points.retain(|p| p.id != lost),
            at("800"),
            "no point of the breadth",
        );
        says(
            &|l| {
                l.body_mut()
                    .points
                    .retain(|p| p.station != StationId(3) || p.on == breadth());
            },
            at("1200"),
            "crown",
        );
        let crown = on(&lines, 1, On::Crown);
        let moved = |l: &mut Lines, id: PointId, z: f64| {
            l.body_mut()
                .points
                .iter_mut()
                .find(|p| p.id == id)
                .unwrap()
                .accepted_height = Some(z);
        };
        says(&|l| moved(l, crown, 499.0), at("400"), "no room");
        let shoulder = on(&lines, 1, On::RunLine(RunLineId(0)));
        says(
            &|l| moved(l, shoulder, 600.0),
            At::Point("STA 400, upper shoulder".to_owned()),
            "outside the upper",
        );
        let peaked = super::super::Crossing {
            to: None,
            form: Peak::Peaked,
        };
        says(
            &|l| l.body_mut().centreline.keel = vec![peaked],
            at("0"),
            "peaked at the keel",
        );
        says(
            &|l| l.body_mut().points.retain(|p| p.station == StationId(0)),
            At::Law,
            "two stations",
        );
    }

    #[test]
    fn a_law_is_set_and_taken_off_in_one_step_and_what_it_refuses_changes_nothing() {
        let with = four();
        let bare = with.apply(BodyEdit::SetLaw(None)).unwrap();
        assert_eq!(
            (bare.body.law, bare.body.points.len()),
            (None, with.body.points.len())
        );
        let mut history = History::new(std::sync::Arc::new(bare.clone()));
        history.edit(BodyEdit::SetLaw(with.body.law)).unwrap();
        assert_eq!(**history.now(), with);
        history.undo();
        assert_eq!(**history.now(), bare);
        // Dragged out of its corner a shoulder is refused, and told where.
        let out = Moved {
            point: on(&with, 2, On::RunLine(RunLineId(0))),
            half_breadth: Some(500.0),
            height: None,
        };
        let refused = with.apply(BodyEdit::Move(out)).unwrap_err();
        assert!(
            matches!(&refused, EditError::Unsound(fault) if fault.at == At::Point("STA 800, upper shoulder".to_owned()))
        );
        assert_eq!(with, four());
        assert!(bare.apply(BodyEdit::Move(out)).is_ok());
        // A run line without points can't go while the law names it.
        let mut unread = with.clone();
        unread.body_mut().points.retain(|p| p.on != breadth());
        unread.body_mut().law = None;
        assert!(unread.apply(BodyEdit::SetLaw(with.body.law)).is_err());
    }

    #[test]
    fn a_law_shapes_metal_and_goes_with_files_and_links() {
        let with = four();
        let mut bare = with.clone();
        bare.body_mut().law = None;
        assert_ne!(with.fingerprint(), bare.fingerprint());
        let mut fuller = with.clone();
        fuller.body_mut().law.as_mut().unwrap().lower = Shoulder::Rho(0.46);
        assert_ne!(with.fingerprint(), fuller.fingerprint());
        // The numbers of run lines say nothing.
        let mut other = with.clone();
        let renumbered = |id: RunLineId| RunLineId(40 + id.0);
        for line in &mut other.body_mut().run_lines {
            line.id = renumbered(line.id);
        }
        for point in &mut other.body_mut().points {
            if let On::RunLine(id) = &mut point.on {
                *id = renumbered(*id);
            }
        }
        let law = other.body_mut().law.as_mut().unwrap();
        (law.breadth, law.upper) = (RunLineId(41), Shoulder::Line(RunLineId(40)));
        assert_eq!(other.first_fault(), None);
        assert_eq!(other.fingerprint(), with.fingerprint());
        // Links keep places, not numbers.
        let linked = read_link(&write_link(&other)).unwrap();
        assert_eq!(linked, with);
        let folder = Folder {
            lines: other.clone(),
            revisions: Vec::new(),
        };
        let bytes = write_folder(&folder);
        assert_eq!(read_folder(&bytes).unwrap().lines, other);
        // Without a law nothing of it stands in a file.
        let folder = Folder {
            lines: bare,
            revisions: Vec::new(),
        };
        assert!(
            !String::from_utf8(write_folder(&folder))
                .unwrap()
                .contains("\"law\"")
        );
    }
}
