//! Girth parameters: where round the girth each recorded point lies, crown 0 to keel 1.
//!
//! In: the recorded offsets of all stations. Out: one `v` for each, and one for each run line. They come from recorded
//! values only, so that a drag or a fairing leaves them, and the factor of the fit, as they are.

use super::section::{Section, SectionEnd, SectionPoint};
use super::{LoftError, Shell};
use crate::document::{Body, Offset, On, Peak, RunKind, RunLineId, Side};

/// Where the points of all stations lie round the girth.
#[derive(Clone, Debug)]
pub(super) struct Girth {
    /// Of the run lines that have points, in order.
    pub(super) run_lines: Vec<(RunLineId, f64)>,
    /// `[station][point]`; none where the station shows too little of the girth to tell.
    pub(super) v: Vec<Option<Vec<f64>>>,
}

/// A point whose `v` is known before its neighbours': crown, keel or a run line.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Mark {
    point: usize,
    v: f64,
}

/// How sections are measured round.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Measured {
    /// As they are, as the loft has it.
    AsRead,
    /// Each drawn as high as it is broad, so that like sections have their like places at one `v`, however narrow
    /// they are.
    Evened,
}

/// Most by which a section is drawn broader against its height, or narrower.
const MOST_EVENED: f64 = 10.0;

/// The offsets of each station, drawn so that those `by` which it is measured are as high as they are broad: where they show
/// both ends of the girth.
pub(super) fn evened(
    offsets: &[Vec<Offset>],
    by: &[Vec<Offset>],
    shell: &Shell,
) -> Vec<Vec<Offset>> {
    let one = |(round, by): (&Vec<Offset>, &Vec<Offset>)| {
        let ends = [by.first(), by.last()].map(|offset| offset.map(|o| o.on));
        if ends != [Some(shell.first()), Some(shell.last())] {
            return round.clone();
        }
        let breadth = by.iter().map(|o| o.recorded[0].abs()).fold(0.0, f64::max);
        let heights = by.iter().map(|o| o.recorded[1]);
        let height = heights.clone().fold(f64::NEG_INFINITY, f64::max)
            - heights.fold(f64::INFINITY, f64::min);
        let by = (height / (2.0 * breadth)).sqrt();
        let most = MOST_EVENED.sqrt();
        let by = if by.is_finite() {
            by.clamp(1.0 / most, most)
        } else {
            1.0
        };
        let drawn = |offset: &Offset| Offset {
            recorded: [offset.recorded[0] * by, offset.recorded[1] / by],
            ..*offset
        };
        round.iter().map(drawn).collect()
    };
    offsets.iter().zip(by).map(one).collect()
}

/// Each station's own curve; none where a station has no point or is a tip. One that is no section where it is evened is
/// taken as read.
pub(super) fn sections(
    body: &Body,
    offsets: &[Vec<Offset>],
    tips: [Option<usize>; 2],
    (measured, shell): (Measured, &Shell),
) -> Result<Vec<Option<Section>>, LoftError> {
    let evened = match measured {
        Measured::AsRead => None,
        Measured::Evened => Some(evened(offsets, offsets, shell)),
    };
    let mut sections = Vec::with_capacity(offsets.len());
    for (i, (station, offsets)) in body.stations.iter().zip(offsets).enumerate() {
        if offsets.is_empty() || tips.contains(&Some(i)) {
            sections.push(None);
            continue;
        }
        let point = |o: &Offset| SectionPoint {
            name: body.point_name(o.point),
            at: o.recorded,
            tolerance: o.tolerance,
            knuckle: is_knuckle(body, o.on),
            on_plane: matches!(o.on, On::Plane(_) | On::PlaneUpper(_)),
        };
        let end = |on: Option<On>, centreline: On, side: Side| {
            let level = on == Some(centreline) && body.peak(side, station.id) == Peak::Smooth;
            if level {
                SectionEnd::Level
            } else {
                SectionEnd::Free
            }
        };
        let ends = [
            end(offsets.first().map(|o| o.on), On::Crown, Side::Crown),
            end(offsets.last().map(|o| o.on), On::Keel, Side::Keel),
        ];
        let through = |offsets: &[Offset]| {
            let points: Vec<SectionPoint> = offsets.iter().map(point).collect();
            Section::through(&body.station_name(station.id), &points, ends)
        };
        let evened = evened.as_ref().and_then(|all| through(&all[i]).ok());
        sections.push(Some(match evened {
            Some(section) => section,
            None => through(offsets)?,
        }));
    }
    Ok(sections)
}

fn is_knuckle(body: &Body, on: On) -> bool {
    match on {
        On::RunLine(id) => body
            .run_line(id)
            .is_some_and(|line| line.kind == RunKind::Knuckle),
        On::Crown | On::Keel | On::Plane(_) | On::PlaneUpper(_) | On::Free => false,
    }
}

impl Girth {
    /// Places every point of every station that shows both ends of the girth.
    pub(super) fn of(
        body: &Body,
        offsets: &[Vec<Offset>],
        sections: &[Option<Section>],
        shell: &Shell,
    ) -> Result<Self, LoftError> {
        let mut girth = Self {
            run_lines: Vec::new(),
            v: Vec::new(),
        };
        for (k, id) in shell.run_lines.iter().enumerate() {
            let v = if k == 0 && !shell.crown {
                0.0
            } else if k + 1 == shell.run_lines.len() && !shell.keel {
                1.0
            } else {
                let shares: Vec<f64> = offsets
                    .iter()
                    .zip(sections)
                    .filter_map(|(offsets, section)| {
                        let lengths = section.as_ref()?.lengths();
                        let at =
                            |on: On| offsets.iter().position(|o| o.on == on).map(|i| lengths[i]);
                        let (from, to) = (at(shell.first())?, at(shell.last())?);
                        Some((at(On::RunLine(*id))? - from) / (to - from))
                    })
                    .collect();
                if shares.is_empty() {
                    return Err(LoftError::RunLineUnplaced {
                        run_line: run_line_name(body, *id),
                    });
                }
                shares.iter().sum::<f64>() / shares.len() as f64
            };
            if let Some((before, at)) = girth.run_lines.last()
                && v <= *at
            {
                return Err(LoftError::RunLinesCross {
                    first: run_line_name(body, *before),
                    second: run_line_name(body, *id),
                });
            }
            girth.run_lines.push((*id, v));
        }
        girth.v = offsets
            .iter()
            .zip(sections)
            .map(|(offsets, section)| {
                let Some(section) = section else {
                    // A tip.
                    return Ok((!offsets.is_empty()).then(|| vec![0.0]));
                };
                let marks = girth.marks(body, offsets, shell)?;
                let whole = marks.first().is_some_and(|m| m.point == 0)
                    && marks.last().is_some_and(|m| m.point + 1 == offsets.len())
                    && marks.len() > 1;
                Ok(whole.then(|| spread(section.lengths(), &marks)))
            })
            .collect::<Result<_, LoftError>>()?;
        Ok(girth)
    }

    /// The marks of a station, from crown to keel.
    fn marks(
        &self,
        body: &Body,
        offsets: &[Offset],
        shell: &Shell,
    ) -> Result<Vec<Mark>, LoftError> {
        let mut marks: Vec<Mark> = Vec::new();
        for (point, offset) in offsets.iter().enumerate() {
            let v = match offset.on {
                On::Crown => shell.crown.then_some(0.0),
                On::Keel => shell.keel.then_some(1.0),
                On::RunLine(id) => self.run_line(id),
                On::Plane(_) | On::PlaneUpper(_) | On::Free => None,
            };
            let Some(v) = v else { continue };
            if marks.last().is_some_and(|before| before.v >= v) {
                return Err(LoftError::OutOfOrder {
                    point: body.point_name(offset.point),
                });
            }
            marks.push(Mark { point, v });
        }
        Ok(marks)
    }

    /// Places the points of a station that shows only a part of the girth, its outermost points at `ends`.
    pub(super) fn place(
        &mut self,
        body: &Body,
        station: usize,
        offsets: &[Offset],
        section: &Section,
        (shell, ends): (&Shell, [f64; 2]),
    ) -> Result<(), LoftError> {
        let mut marks = self.marks(body, offsets, shell)?;
        let last = offsets.len() - 1;
        if marks.first().is_none_or(|m| m.point > 0) {
            let below = marks.first().map_or(1.0, |m| m.v);
            marks.insert(
                0,
                Mark {
                    point: 0,
                    v: ends[0].min(below),
                },
            );
        }
        if marks.last().is_none_or(|m| m.point < last) {
            let above = marks.last().map_or(0.0, |m| m.v);
            marks.push(Mark {
                point: last,
                v: ends[1].max(above),
            });
        }
        self.v[station] = Some(spread(section.lengths(), &marks));
        Ok(())
    }

    /// `v` of a run line; none where it has no points.
    pub(super) fn run_line(&self, id: RunLineId) -> Option<f64> {
        self.run_lines
            .iter()
            .find(|(line, _)| *line == id)
            .map(|(_, v)| *v)
    }
}

pub(super) fn run_line_name(body: &Body, id: RunLineId) -> String {
    body.run_line(id)
        .map_or_else(String::new, |line| line.name.clone())
}

/// `v` of every point, in proportion to arc length between the marks beside it.
fn spread(lengths: &[f64], marks: &[Mark]) -> Vec<f64> {
    let mut v = vec![0.0; lengths.len()];
    for pair in marks.windows(2) {
        let [a, b] = pair else { continue };
        let (from, to) = (lengths[a.point], lengths[b.point]);
        for i in a.point..=b.point {
            v[i] = a.v + (lengths[i] - from) / (to - from) * (b.v - a.v);
        }
        v[b.point] = b.v;
    }
    v
}
