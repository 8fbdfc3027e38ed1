//! Girth parameters: where round the girth each recorded point lies, crown 0 to keel 1.
//!
//! In: the recorded offsets of all stations. Out: one `v` for each, and one for each run line. They come from recorded
//! values only, so that a drag or a fairing leaves them, and the factor of the fit, as they are.

use super::LoftError;
use super::section::{Section, SectionEnd, SectionPoint};
use crate::document::{Body, Named, Offset, On, Peak, PointId, RunKind, RunLineId, Side};

/// Where the points of all stations lie round the girth.
#[derive(Clone, Debug)]
pub(super) struct Girth {
    /// Of the run lines that have points, in order.
    pub(super) run_lines: Vec<(RunLineId, f64)>,
    /// `[station][point]`; none where the station shows too little of the girth to tell.
    pub(super) v: Vec<Option<Vec<f64>>>,
}

/// Which lines bound the girth.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct GirthBounds {
    pub(super) crown: bool,
    pub(super) keel: bool,
    /// Run lines that have points, from crown to keel.
    pub(super) run_lines: Vec<RunLineId>,
}

impl GirthBounds {
    pub(super) fn of(body: &Body, offsets: &[Vec<Offset>]) -> Result<Self, LoftError> {
        let has = |on: On| offsets.iter().flatten().any(|o| o.on == on);
        let run_lines: Vec<RunLineId> = body
            .run_lines
            .iter()
            .map(|line| line.id)
            .filter(|id| has(On::RunLine(*id)))
            .collect();
        let bounds = Self {
            crown: has(On::Crown),
            keel: has(On::Keel),
            run_lines,
        };
        let missing = if bounds.crown {
            Side::Keel
        } else {
            Side::Crown
        };
        let edges = usize::from(bounds.crown) + usize::from(bounds.keel) + bounds.run_lines.len();
        if edges < 2 {
            return Err(LoftError::NoEdge { side: missing });
        }
        for (open, side, edge) in [
            (!bounds.crown, Side::Crown, bounds.first()),
            (!bounds.keel, Side::Keel, bounds.last()),
        ] {
            let bare = offsets.iter().zip(&body.stations).find(|(offsets, _)| {
                let end = if side == Side::Crown {
                    offsets.first()
                } else {
                    offsets.last()
                };
                end.is_some_and(|o| o.on != edge)
            });
            if let (true, Some((_, station)), On::RunLine(run_line)) = (open, bare, edge) {
                return Err(LoftError::OpenEdge {
                    side,
                    station: body.named_station(station.id),
                    run_line: body.named_run_line(run_line),
                });
            }
        }
        Ok(bounds)
    }

    pub(super) fn first(&self) -> On {
        if self.crown {
            On::Crown
        } else {
            self.run_lines
                .first()
                .map_or(On::Crown, |id| On::RunLine(*id))
        }
    }

    pub(super) fn last(&self) -> On {
        if self.keel {
            On::Keel
        } else {
            self.run_lines
                .last()
                .map_or(On::Keel, |id| On::RunLine(*id))
        }
    }
}

/// A point whose `v` is known before its neighbours': crown, keel or a run line.
#[derive(Clone, Copy, Debug, PartialEq)]
struct KnownV {
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
    bounds: &GirthBounds,
) -> Vec<Vec<Offset>> {
    let one = |(round, by): (&Vec<Offset>, &Vec<Offset>)| {
        let ends = [by.first(), by.last()].map(|offset| offset.map(|o| o.on));
        if ends != [Some(bounds.first()), Some(bounds.last())] {
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
    (measured, bounds): (Measured, &GirthBounds),
) -> Result<Vec<Option<Section>>, LoftError> {
    let evened = match measured {
        Measured::AsRead => None,
        Measured::Evened => Some(evened(offsets, offsets, bounds)),
    };
    let names = body.point_names();
    let named = |id: PointId| Named {
        id,
        name: names.get(&id).cloned().unwrap_or_default(),
    };
    let mut sections = Vec::with_capacity(offsets.len());
    for (i, (station, offsets)) in body.stations.iter().zip(offsets).enumerate() {
        if offsets.is_empty() || tips.contains(&Some(i)) {
            sections.push(None);
            continue;
        }
        let point = |o: &Offset| SectionPoint {
            point: named(o.point),
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
            Section::through(&body.named_station(station.id), &points, ends)
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
        bounds: &GirthBounds,
    ) -> Result<Self, LoftError> {
        let mut girth = Self {
            run_lines: Vec::new(),
            v: Vec::new(),
        };
        for (k, id) in bounds.run_lines.iter().enumerate() {
            let v = if k == 0 && !bounds.crown {
                0.0
            } else if k + 1 == bounds.run_lines.len() && !bounds.keel {
                1.0
            } else {
                let shares: Vec<f64> = offsets
                    .iter()
                    .zip(sections)
                    .filter_map(|(offsets, section)| {
                        let lengths = section.as_ref()?.lengths();
                        let at =
                            |on: On| offsets.iter().position(|o| o.on == on).map(|i| lengths[i]);
                        let (from, to) = (at(bounds.first())?, at(bounds.last())?);
                        Some((at(On::RunLine(*id))? - from) / (to - from))
                    })
                    .collect();
                if shares.is_empty() {
                    return Err(LoftError::RunLineUnplaced {
                        run_line: body.named_run_line(*id),
                    });
                }
                shares.iter().sum::<f64>() / shares.len() as f64
            };
            if let Some((before, at)) = girth.run_lines.last()
                && v <= *at
            {
                return Err(LoftError::RunLinesCross {
                    first: body.named_run_line(*before),
                    second: body.named_run_line(*id),
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
                let known = girth.known(body, offsets, bounds)?;
                let whole = known.first().is_some_and(|m| m.point == 0)
                    && known.last().is_some_and(|m| m.point + 1 == offsets.len())
                    && known.len() > 1;
                Ok(whole.then(|| spread(section.lengths(), &known)))
            })
            .collect::<Result<_, LoftError>>()?;
        Ok(girth)
    }

    /// The points of a station whose `v` is known, from crown to keel.
    fn known(
        &self,
        body: &Body,
        offsets: &[Offset],
        bounds: &GirthBounds,
    ) -> Result<Vec<KnownV>, LoftError> {
        let mut known: Vec<KnownV> = Vec::new();
        for (point, offset) in offsets.iter().enumerate() {
            let v = match offset.on {
                On::Crown => bounds.crown.then_some(0.0),
                On::Keel => bounds.keel.then_some(1.0),
                On::RunLine(id) => self.run_line(id),
                On::Plane(_) | On::PlaneUpper(_) | On::Free => None,
            };
            let Some(v) = v else { continue };
            if known.last().is_some_and(|before| before.v >= v) {
                return Err(LoftError::OutOfOrder {
                    point: body.named_point(offset.point),
                });
            }
            known.push(KnownV { point, v });
        }
        Ok(known)
    }

    /// Places the points of a station that shows only a part of the girth, its outermost points at `ends`.
    pub(super) fn place(
        &mut self,
        body: &Body,
        station: usize,
        offsets: &[Offset],
        section: &Section,
        (bounds, ends): (&GirthBounds, [f64; 2]),
    ) -> Result<(), LoftError> {
        let mut known = self.known(body, offsets, bounds)?;
        let last = offsets.len() - 1;
        if known.first().is_none_or(|m| m.point > 0) {
            let below = known.first().map_or(1.0, |m| m.v);
            known.insert(
                0,
                KnownV {
                    point: 0,
                    v: ends[0].min(below),
                },
            );
        }
        if known.last().is_none_or(|m| m.point < last) {
            let above = known.last().map_or(0.0, |m| m.v);
            known.push(KnownV {
                point: last,
                v: ends[1].max(above),
            });
        }
        self.v[station] = Some(spread(section.lengths(), &known));
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

/// `v` of every point, in proportion to arc length between the known places beside it.
fn spread(lengths: &[f64], known: &[KnownV]) -> Vec<f64> {
    let mut v = vec![0.0; lengths.len()];
    for pair in known.windows(2) {
        let [a, b] = pair else { continue };
        let (from, to) = (lengths[a.point], lengths[b.point]);
        for i in a.point..=b.point {
            v[i] = a.v + (lengths[i] - from) / (to - from) * (b.v - a.v);
        }
        v[b.point] = b.v;
    }
    v
}
