//! Verdicts on sections: of each station's, by how many millimetres it would have to move so as to be nowhere hollow, and
//! whether its readings allow that.
//!
//! In: a document, its loft and a station. Out: a [`SectionVerdict`]. A section is judged between its first reading and its
//! last one, each piece between two knuckles by itself: there it may bend as it will.

use super::contour::{Bridge, Contour, CurvatureBound, Rounded};
use super::graph::NotFaired;
use super::programme::NoOptimum;
use super::verdict::{FAIR, FEWEST, Fairness, NotJudged, Stopped, least, stretch_about};
use crate::document::{PointId, StationId};
use crate::loft::{Loft, LoftPoint};
use crate::num;
use crate::spline::{DEGREE, Row, Surface};

/// A piece between knuckles with fewer readings is not judged: two say nothing of what lies between.
const FEWEST_OF_A_PIECE: usize = 3;

/// A stretch of a section that keeps it from being fair.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SectionStretch {
    /// The reading there that must move most, or else lies nearest.
    pub point: PointId,
    /// Round the girth, where it must move most.
    pub at: f64,
    /// Where the move begins.
    pub from: f64,
    /// Where it ends.
    pub to: f64,
    /// Whether it lies too far in there; else too far out.
    pub hollow: bool,
}

/// What was found of a section.
#[derive(Clone, Debug, PartialEq)]
pub struct JudgedSection {
    /// The least largest move along its normals that leaves it nowhere hollow, mm.
    pub needed: f64,
    /// Whether no such section was found, so that `needed` is only what it needs at least: half its depth under a straight
    /// batten. It is then said to be unfair where that is too much, and else not to be judged.
    pub at_least: bool,
    /// The least tolerance, along the normal, of its readings where it must move, mm.
    pub allowed: f64,
    /// Where it must move; none where it is fair.
    pub stretch: Option<SectionStretch>,
}

/// A verdict on the section of one station.
#[derive(Clone, Debug, PartialEq)]
pub struct SectionVerdict {
    /// The station.
    pub station: StationId,
    /// In a word.
    pub fairness: Fairness,
    /// With what was found of the piece that is furthest from fair, where it was judged.
    pub found: Option<JudgedSection>,
}

impl SectionVerdict {
    fn not(station: StationId, why: NotJudged) -> Self {
        Self {
            station,
            fairness: Fairness::NotJudged(why),
            found: None,
        }
    }

    /// Needed by allowed: what a list of verdicts is sorted by; below zero where it is not judged.
    #[must_use]
    pub fn ratio(&self) -> f64 {
        let ratio = |found: &JudgedSection| found.needed / found.allowed;
        self.found.as_ref().map_or(-1.0, ratio)
    }
}

/// Judges the section of every station, from fore to aft.
///
/// # Errors
/// [`Stopped`], where `stop` says so.
pub fn judge_sections(
    loft: &Loft,
    stop: &dyn Fn() -> bool,
) -> Result<Vec<SectionVerdict>, Stopped> {
    let body = loft.body();
    let stations = body.stations.iter();
    stations
        .map(|station| judge_section(loft, station.id, stop))
        .collect()
}

/// Judges the section of a station.
///
/// # Errors
/// [`Stopped`], where `stop` says so.
///
/// # Accuracy
/// Needed moves to 1e-5 of themselves or 1e-6 mm, for moves that are splines on the net's own knots.
pub fn judge_section(
    loft: &Loft,
    station: StationId,
    stop: &dyn Fn() -> bool,
) -> Result<SectionVerdict, Stopped> {
    let body = loft.body();
    let read: Vec<&LoftPoint> = loft
        .points()
        .iter()
        .filter(|point| point.station == station)
        .collect();
    let (Some(at), [first, .., last]) = (body.station(station), &read[..]) else {
        return Ok(SectionVerdict::not(station, NotJudged::TooFewReadings));
    };
    if read.len() < FEWEST {
        return Ok(SectionVerdict::not(station, NotJudged::TooFewReadings));
    }
    let row = loft.surface().row(loft.u_at(at.x));
    let asked = CurvatureBound {
        at_most: 0.0,
        between: [first.v, last.v],
    };
    let mut worst = SectionVerdict::not(station, NotJudged::TooFewReadings);
    for piece in pieces(loft.surface()) {
        let within = |point: &&&LoftPoint| (piece.from..=piece.to).contains(&point.v);
        let marks: Vec<&LoftPoint> = read.iter().filter(within).copied().collect();
        if marks.len() < FEWEST_OF_A_PIECE {
            continue;
        }
        if stop() {
            return Err(Stopped);
        }
        let verdict = match piece.found(&row, &marks, asked, stop) {
            Err(NotFaired::Stopped) => return Err(Stopped),
            Err(NotFaired::Hard(_)) => SectionVerdict::not(station, NotJudged::NotFound),
            Ok(found) => {
                let fairness = match Fairness::of(found.needed, found.allowed) {
                    Fairness::Fair | Fairness::FairWithinReadings if found.at_least => {
                        Fairness::NotJudged(NotJudged::NotFound)
                    }
                    fairness => fairness,
                };
                SectionVerdict {
                    station,
                    fairness,
                    found: Some(found),
                }
            }
        };
        // What was looked for in vain outweighs what was found, but for what is unfair: it is said, not hidden.
        let rank = |verdict: &SectionVerdict| match verdict.fairness {
            Fairness::Unfair => 2,
            Fairness::NotJudged(NotJudged::NotFound) => 1,
            Fairness::Fair
            | Fairness::FairWithinReadings
            | Fairness::NotJudged(NotJudged::TooFewReadings) => 0,
        };
        let harder = rank(&verdict).cmp(&rank(&worst));
        if harder
            .then(verdict.ratio().total_cmp(&worst.ratio()))
            .is_gt()
        {
            worst = verdict;
        }
    }
    Ok(worst)
}

/// A stretch of the girth without a knuckle.
struct SmoothStretch {
    from: f64,
    to: f64,
    /// The net's spans that it has.
    spans: core::ops::Range<usize>,
}

/// The pieces of all sections, between the knots at which the tangent may break.
fn pieces(surface: &Surface) -> Vec<SmoothStretch> {
    let knots = surface.v_knots();
    let breaks = knots.breaks();
    let last = breaks.len() - 1;
    let broken = |i: &usize| {
        let same = knots.knots().iter().filter(|k| num::same(**k, breaks[*i]));
        same.count() >= DEGREE
    };
    let bounds: Vec<usize> = (0..=last).filter(broken).collect();
    bounds
        .windows(2)
        .map(|pair| SmoothStretch {
            from: breaks[pair[0]],
            to: breaks[pair[1]],
            spans: pair[0]..pair[1],
        })
        .collect()
}

impl SmoothStretch {
    fn found(
        &self,
        row: &Row<'_>,
        marks: &[&LoftPoint],
        asked: CurvatureBound,
        stop: &dyn Fn() -> bool,
    ) -> Result<JudgedSection, NotFaired> {
        let contour = self.contour(row);
        let contour = contour.ok_or(NotFaired::Hard(NoOptimum::Hard))?;
        let rounded = match contour.rounded(asked, stop) {
            Err(NotFaired::Hard(why)) => {
                let bridge = contour.bridged(asked);
                let bridge = bridge.ok_or(NotFaired::Hard(why))?;
                return Ok(at_least(&bridge, marks));
            }
            rounded => rounded?,
        };
        let stretch = if rounded.needed < FAIR {
            None
        } else {
            Some(self.stretch(&contour, &rounded, marks, asked)?)
        };
        Ok(JudgedSection {
            needed: rounded.needed,
            at_least: false,
            allowed: allowed(marks, stretch),
            stretch,
        })
    }

    fn contour(&self, row: &Row<'_>) -> Option<Contour> {
        let mut breaks: Vec<f64> = { self.spans.clone() }
            .map(|span| row.v_knots().span(span).0)
            .collect();
        breaks.push(self.to);
        let at = |span: usize, v: f64| {
            let jet = row.jet_on(self.spans.start + span, v);
            [jet.s, jet.v, jet.vv, jet.vvv].map(|d| [d.y, d.z])
        };
        // On the centre plane and square to it: so the whole section is smooth there, and must stay so.
        let level = |span: usize, v: f64| {
            let [[y, _], [along, up], ..] = at(span, v);
            y.abs() < num::SAME_POINT && up.abs() <= 1e-9 * along.abs()
        };
        let ends = [level(0, self.from), level(self.spans.len() - 1, self.to)];
        Contour::new(&breaks, ends, &at)
    }

    /// Where the moves lie whose mean size is least.
    fn stretch(
        &self,
        contour: &Contour,
        rounded: &Rounded,
        marks: &[&LoftPoint],
        asked: CurvatureBound,
    ) -> Result<SectionStretch, NotFaired> {
        const FINE: u32 = 400;
        let blame = contour.blame(rounded, asked)?;
        let fine: Vec<f64> = (0..=FINE)
            .map(|i| self.from + (self.to - self.from) * f64::from(i) / f64::from(FINE))
            .collect();
        let most = fine
            .iter()
            .max_by(|a, b| blame.at(**a).abs().total_cmp(&blame.at(**b).abs()));
        let at = most.copied().unwrap_or(self.from);
        let largest = blame.at(at);
        let [from, to] = stretch_about(&fine, (at, largest), &|v| blame.at(v));
        let there = |mark: &&&LoftPoint| (from..=to).contains(&mark.v);
        let moved = |mark: &LoftPoint| blame.at(mark.v).abs();
        let there = marks.iter().filter(there);
        let there = there.max_by(|a, b| moved(a).total_cmp(&moved(b)));
        Ok(SectionStretch {
            point: there.map_or_else(|| nearest(marks, at), |mark| mark.point),
            at,
            from,
            to,
            hollow: largest > 0.0,
        })
    }
}

fn nearest(marks: &[&LoftPoint], v: f64) -> PointId {
    let off = |mark: &LoftPoint| (mark.v - v).abs();
    let nearest = marks.iter().min_by(|a, b| off(a).total_cmp(&off(b)));
    nearest.map_or(marks[0].point, |mark| mark.point)
}

/// What a straight batten says of a section for which no other was found.
fn at_least(bridge: &Bridge, marks: &[&LoftPoint]) -> JudgedSection {
    let stretch = SectionStretch {
        point: nearest(marks, bridge.at),
        at: bridge.at,
        from: bridge.from,
        to: bridge.to,
        hollow: true,
    };
    JudgedSection {
        needed: bridge.depth / 2.0,
        at_least: true,
        allowed: allowed(marks, Some(stretch)),
        stretch: Some(stretch),
    }
}

/// The least tolerance of the readings in a stretch; where it has none, of the two on either side; where there is no stretch,
/// of all.
fn allowed(marks: &[&LoftPoint], stretch: Option<SectionStretch>) -> f64 {
    let tolerance = |mark: &&LoftPoint| mark.tolerance;
    let Some(stretch) = stretch else {
        return least(marks.iter().map(tolerance));
    };
    let there = |mark: &&&LoftPoint| (stretch.from..=stretch.to).contains(&mark.v);
    let within = least(marks.iter().filter(there).map(tolerance));
    if within.is_finite() {
        return within;
    }
    let before = marks.iter().rfind(|mark| mark.v < stretch.from);
    let behind = marks.iter().find(|mark| mark.v > stretch.to);
    least(before.into_iter().chain(behind).map(tolerance))
}

#[cfg(test)]
mod tests {
    #![expect(clippy::print_stdout, reason = "a test says what it measured")]

    use super::*;
    use crate::document::Lines;
    use crate::document::{RunKind, TableOptions, read_table};
    use crate::fair::tests::{demo, exact};

    const ON: &dyn Fn() -> bool = &|| false;

    fn told(lines: &Lines, verdicts: &[SectionVerdict]) {
        for verdict in verdicts {
            let name = lines.body.station_name(verdict.station);
            let found = verdict.found.as_ref();
            let needed = found.map_or(0.0, |found| found.needed);
            let allowed = found.map_or(0.0, |found| found.allowed);
            let at = found.and_then(|found| found.stretch).map(|stretch| {
                let what = if stretch.hollow { "hollow" } else { "bulge" };
                format!("{what} at {}", lines.body.point_name(stretch.point))
            });
            println!(
                "{name}: {:?}, needs {needed:.3} of {allowed:.2} {at:?}",
                verdict.fairness
            );
        }
    }

    #[test]
    fn without_noise_no_section_is_unfair() {
        let lines = exact();
        let loft = Loft::build(&lines.body).unwrap();
        let verdicts = judge_sections(&loft, ON).unwrap();
        told(&lines, &verdicts);
        assert_eq!(verdicts.len(), lines.body.stations.len());
        assert!(verdicts.iter().all(|v| v.fairness != Fairness::Unfair));
        assert!(verdicts.iter().filter(|v| v.found.is_some()).count() >= 10);
    }

    #[test]
    fn the_sections_of_the_demo_are_judged() {
        let lines = demo();
        let loft = Loft::build(&lines.body).unwrap();
        let verdicts = judge_sections(&loft, ON).unwrap();
        told(&lines, &verdicts);
        // Of all that is planted in the demo only the misprint makes a section hollow; the dent is hollow along the keel.
        let bent = verdicts.iter().filter(|v| v.fairness != Fairness::Fair);
        let [misprint] = bent.collect::<Vec<_>>()[..] else {
            panic!("one section")
        };
        assert_eq!(misprint.fairness, Fairness::Unfair);
        let found = misprint.found.as_ref().unwrap();
        assert!((found.needed - 2.85).abs() < 0.1 && !found.at_least);
        assert!((found.allowed - 1.55).abs() < 0.05, "{}", found.allowed);
        let stretch = found.stretch.unwrap();
        assert!(stretch.hollow);
        assert_eq!(lines.body.point_name(stretch.point), "STA 48, WL 32");
        assert!(judge_sections(&loft, &|| true).is_err());
    }

    /// One reading too far in by far more than its tolerance, in a table that is exact elsewhere.
    #[test]
    fn a_reading_pushed_in_makes_its_section_unfair_and_is_named() {
        for by in [20.0, 40.0] {
            let mut lines = exact();
            let station = lines.body.station_by_label("79").unwrap().id;
            let plane = lines
                .body
                .planes
                .iter()
                .find(|p| p.name == "WL 28")
                .unwrap()
                .id;
            let on = crate::document::On::Plane(plane);
            let id = lines.body.point_on(station, on).unwrap().id;
            let point = lines
                .body_mut()
                .points
                .iter_mut()
                .find(|p| p.id == id)
                .unwrap();
            if let Some(read) = &mut point.readings[0].half_breadth {
                read.mm -= by;
            }
            let loft = Loft::build(&lines.body).unwrap();
            let verdict = judge_section(&loft, station, ON).unwrap();
            told(&lines, std::slice::from_ref(&verdict));
            assert_eq!(verdict.fairness, Fairness::Unfair);
            let found = verdict.found.unwrap();
            let stretch = found.stretch.unwrap();
            assert!(stretch.hollow && stretch.point == id, "{stretch:?}");
            assert!(stretch.from < stretch.at && stretch.at < stretch.to);
            // Pushed in by more than the radius that it makes there, it has no normals to move along.
            assert_eq!(found.at_least, by > 30.0);
        }
    }

    /// Two round shells that meet in a corner, as a wing root's fairing does: hollow only in the corner.
    fn cornered(kind: RunKind) -> Lines {
        let lower = num::hypot(200.0 * num::sin(2.0), 300.0 + 200.0 * num::cos(2.0));
        let corner = [200.0 * num::sin(2.0), 200.0 + 200.0 * num::cos(2.0)];
        let heights = [
            360.0, 300.0, 240.0, 180.0, 150.0, 90.0, 40.0, -40.0, -140.0, -240.0, -320.0,
        ];
        let names: Vec<String> = heights.iter().map(|z| format!("WL {z}")).collect();
        let mut table = format!("STA (mm),crown,{},chine,keel\n", names.join(","));
        for x in [0, 500, 1000, 1500, 2000] {
            let half = |z: &f64| {
                let (centre, radius) = if *z > corner[1] {
                    (200.0, 200.0)
                } else {
                    (-100.0, lower)
                };
                let off: f64 = z - centre;
                format!("{:.3}", (radius * radius - off * off).sqrt())
            };
            let cells: Vec<String> = heights.iter().map(half).collect();
            let [y, z] = corner;
            let keel = -100.0 - lower;
            table += &format!("{x},400,{},{y:.3}/{z:.3},{keel:.3}\n", cells.join(","));
        }
        let read = read_table(table.as_bytes(), &TableOptions::default()).unwrap();
        let mut lines = read.lines();
        lines.body_mut().run_lines[0].kind = kind;
        lines
    }

    #[test]
    fn a_knuckle_may_be_a_hollow_corner_and_a_smooth_run_line_may_not() {
        for kind in [RunKind::Knuckle, RunKind::Smooth] {
            let lines = cornered(kind);
            let loft = Loft::build(&lines.body).unwrap();
            let station = lines.body.stations[2].id;
            let verdict = judge_section(&loft, station, ON).unwrap();
            told(&lines, std::slice::from_ref(&verdict));
            let word = verdict.fairness;
            if kind == RunKind::Knuckle {
                assert!([Fairness::Fair, Fairness::FairWithinReadings].contains(&word));
                assert!(verdict.found.unwrap().needed < 0.5);
                assert_eq!(pieces(loft.surface()).len(), 2);
            } else {
                assert_eq!(word, Fairness::Unfair);
                assert!(verdict.found.unwrap().needed > 3.0);
            }
        }
    }

    #[test]
    fn a_station_of_few_readings_is_not_judged() {
        let lines = demo();
        let loft = Loft::build(&lines.body).unwrap();
        let none = judge_section(&loft, StationId(9999), ON).unwrap();
        assert_eq!(
            none.fairness,
            Fairness::NotJudged(NotJudged::TooFewReadings)
        );
        assert!(none.ratio() < 0.0);
    }
}
