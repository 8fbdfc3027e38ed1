//! The net of a body given by law: conics between control lines, as the same kind of surface.
//!
//! In: the offsets that rule it. Out: its control lines lengthwise ([`ControlLines`]), and a net that follows the conics within
//! [`num::FIT`]. Every value follows from the accepted places alone, but for the stiffness, which is found on recorded ones;
//! so a drag gives what building anew would give.

use super::conic::{Conic, Shares};
use super::control::{Control, Fixed};
use super::ends::Method;
use super::lengthwise::Lengthwise;
use super::{BodyEnds, CARRIED, LoftError, NEAR_ENOUGH, STIFFNESSES, TIP, weight};
use crate::document::body::law::{Controls, rho_through};
use crate::document::{
    Body, Law, Named, Offset, On, Quadrant, RunLineId, Shoulder, StationId, stations_shown,
};
use crate::num;
use crate::spline::{Knots, Row, Surface};

/// Where the breadth lies round the girth.
const BREADTH: f64 = 0.5;

/// Where a shoulder line lies, by its quadrant's part of the girth.
const SHOULDER: f64 = 0.5;

/// Spans of a quadrant that are tried, the fewest first.
const SPANS: [usize; 7] = [8, 12, 16, 24, 32, 48, 64];

/// What a section's own spline may lie off its conic, of what the net may: the rest is for the way between sections.
const ROUND: f64 = 0.85;

/// Places in each span, either way, at which the net is fitted.
const PLACES: [usize; 2] = [4, 8];

/// Places in each span round the girth at which the net is held against the law.
const LOOKED: usize = 4;

/// Most spans along the body.
const MOST_SPANS: usize = 480;

/// Both quadrants, from crown to keel.
const QUADRANTS: [Quadrant; 2] = [Quadrant::Upper, Quadrant::Lower];

/// A shoulder line along the body.
#[derive(Clone, Debug)]
struct Swell {
    rho: Control,
    /// Of the share at which the shoulder lies: `ln(s / (1 − s))`.
    odds: Control,
}

/// How full a quadrant is along the body.
#[derive(Clone, Debug)]
enum Fullness {
    Rho(f64),
    Line(Box<Swell>),
}

/// A station and its distance aft.
type StationAt = (f64, Named<StationId>);

/// The control lines of a body, lengthwise.
#[derive(Clone, Debug)]
pub(super) struct ControlLines {
    law: Law,
    along: Lengthwise,
    crown: Control,
    keel: Control,
    /// Half-breadth and height.
    breadth: [Control; 2],
    fullness: [Fullness; 2],
    /// Heights of the tips.
    tips: [Option<f64>; 2],
    /// The stations by x, the first one apart since there always is one: for faults.
    stations: (StationAt, Vec<StationAt>),
}

/// A quadrant of one section, with its girth.
struct Quarter {
    conic: Conic,
    shares: Shares,
    /// What the odds of a share are multiplied by, so that the shoulder line is one of constant `v`.
    odds: f64,
}

impl Quarter {
    /// The place at a part of the quadrant's girth, from 0 to 1.
    fn at(&self, part: f64) -> [f64; 2] {
        let share = self.odds * part / (1.0 - part + self.odds * part);
        self.conic.at(self.shares.t_at(share))
    }

    /// The part of the girth of the place nearest to this one, by the ray from the corner.
    fn part_of(&self, at: [f64; 2]) -> f64 {
        let share = self.shares.share_at(self.conic.t_of(at));
        share / (share + self.odds * (1.0 - share))
    }
}

/// A row of control points: one station, or a tip.
struct ControlRow {
    u: f64,
    controls: Controls,
    /// Height, where it is a tip.
    tip: Option<f64>,
}

const TIP_WEIGHT: f64 = 1.0 / (TIP * TIP);

impl ControlLines {
    /// Lays the control lines; without a stiffness, as stiff as lines are drawn.
    pub(super) fn of(
        body: &Body,
        law: Law,
        offsets: &[Vec<Offset>],
        stiffness: Option<f64>,
    ) -> Result<(Self, f64), LoftError> {
        let method = Method::of(body)?;
        let body_ends = BodyEnds::of(body, offsets)?;
        let used = stations_shown(offsets);
        let x: Vec<f64> = used.iter().map(|i| body.stations[*i].x).collect();
        let along = Lengthwise::of(&x, (body_ends.ends, body_ends.tips), method.fewest_spans())?;
        let (first, last) = along.knots.domain();
        let mut rows = Vec::new();
        let mut tips = body_ends.heights;
        for (i, u) in used.iter().zip(&along.stations) {
            let end = body_ends.tip_stations.iter().position(|at| *at == Some(*i));
            if let (Some(k), [only]) = (end, &offsets[*i][..]) {
                tips[k] = Some(only.accepted[1]);
                continue;
            }
            let controls = law.controls(&offsets[*i]);
            if !controls.is_empty() {
                rows.push(ControlRow {
                    u: *u,
                    controls,
                    tip: None,
                });
            }
        }
        let tip = |k: usize, u: f64| {
            tips[k].map(|height| ControlRow {
                u,
                controls: Controls::default(),
                tip: Some(height),
            })
        };
        rows.splice(0..0, tip(0, first));
        rows.extend(tip(1, last));
        let at = |i: &usize| {
            let station = &body.stations[*i];
            (station.x, body.named_station(station.id))
        };
        let [first, rest @ ..] = &used[..] else {
            return Err(LoftError::TooFewStations { stations: 0 });
        };
        let stations = (at(first), rest.iter().map(at).collect());
        let stiff = match stiffness {
            Some(stiffness) => stiffness,
            None => drawn(&along.knots, &rows, method)?,
        };
        let bounds = Bounds::of(&along.knots, &rows, (method, stiff), |offset| {
            offset.accepted
        })?;
        let number = |quadrant| match law.shoulder(quadrant) {
            Shoulder::Rho(rho) => Fullness::Rho(rho),
            Shoulder::Line(_) => Fullness::Rho(0.5),
        };
        let mut lines = Self {
            law,
            along,
            crown: bounds.crown,
            keel: bounds.keel,
            breadth: bounds.breadth,
            fullness: QUADRANTS.map(number),
            tips,
            stations,
        };
        for (k, quadrant) in QUADRANTS.into_iter().enumerate() {
            if law.shoulder_line(quadrant).is_some() {
                lines.fullness[k] = lines.shoulder(body, k, &rows, (method, stiff))?;
            }
        }
        Ok((lines, stiff))
    }

    /// The law they are of.
    pub(super) fn law(&self) -> Law {
        self.law
    }

    /// The corner of a quadrant, and whether there is room for a conic in it.
    fn corner(&self, quadrant: usize, u: f64) -> ([[f64; 2]; 3], bool) {
        let breadth = [self.breadth[0].at(u), self.breadth[1].at(u)];
        let centre = if quadrant == 0 {
            &self.crown
        } else {
            &self.keel
        };
        let height = centre.at(u);
        let rises = if quadrant == 0 {
            height - breadth[1]
        } else {
            breadth[1] - height
        };
        (
            QUADRANTS[quadrant].corner(height, breadth),
            breadth[0] > 0.0 && rises > 0.0,
        )
    }

    /// ρ and the odds of a shoulder line along the body.
    ///
    /// Where the line does not reach an end of the body, ρ there is as at its outermost point.
    fn shoulder(
        &self,
        body: &Body,
        quadrant: usize,
        rows: &[ControlRow],
        settled: (Method, f64),
    ) -> Result<Fullness, LoftError> {
        let (mut all, mut squares) = (Vec::new(), 0.0);
        for row in rows {
            let Some(shoulder) = row.controls.shoulders[quadrant] else {
                continue;
            };
            let (corner, room) = self.corner(quadrant, row.u);
            let rho = rho_through(corner, shoulder.accepted).filter(|_| room);
            let rho = rho.ok_or_else(|| LoftError::OutsideCorner {
                point: body.named_point(shoulder.point),
            })?;
            let conic = Conic::new(corner, rho);
            let share = Shares::of(&conic).share_at(conic.t_of(shoulder.accepted));
            let share = share.clamp(LEAST_SHARE, 1.0 - LEAST_SHARE);
            let odds = num::ln(share / (1.0 - share));
            // ρ moves the shoulder by so many mm for each 1: from the middle of the chord to the corner. So what is fitted
            // counts as mm do, but for one factor all along.
            let [p0, p1, p2] = corner;
            let reach = num::hypot(
                p1[0] - f64::midpoint(p0[0], p2[0]),
                p1[1] - f64::midpoint(p0[1], p2[1]),
            );
            all.push((row.u, [rho, odds], weight(&shoulder) * reach * reach));
            squares += reach * reach;
        }
        let mean = squares / all.len().max(1) as f64;
        for (_, _, weight) in &mut all {
            *weight /= mean;
        }
        let (first, last) = self.along.knots.domain();
        if let [(from, values, weight), ..] = all[..]
            && from > first
        {
            all.insert(0, (first, values, weight));
        }
        if let [.., (to, values, weight)] = all[..]
            && to < last
        {
            all.push((last, values, weight));
        }
        let line = |k: usize| {
            let targets: Vec<[f64; 3]> = all
                .iter()
                .map(|(u, values, weight)| [*u, values[k], *weight])
                .collect();
            Control::fit(&self.along.knots, &targets, settled)
        };
        Ok(Fullness::Line(Box::new(Swell {
            rho: line(0)?,
            odds: line(1)?,
        })))
    }

    /// ρ of both quadrants at a place along the body.
    pub(super) fn rho(&self, u: f64) -> [f64; 2] {
        [0, 1].map(|k| match &self.fullness[k] {
            Fullness::Rho(rho) => *rho,
            Fullness::Line(swell) => swell.rho.at(u),
        })
    }

    /// The station that is nearest to a place along the body.
    fn near(&self, u: f64) -> Named<StationId> {
        let x = self.along.x_at(u);
        let off = |(at, _): &StationAt| (at - x).abs();
        let (first, rest) = &self.stations;
        let nearer = |best, other| if off(other) < off(best) { other } else { best };
        rest.iter().fold(first, nearer).1.clone()
    }

    /// Which end is a tip at `u`, by its height.
    fn tip_at(&self, u: f64) -> Option<f64> {
        let (first, last) = self.along.knots.domain();
        let at = |end: f64, tip: Option<f64>| tip.filter(|_| num::same(u, end));
        at(first, self.tips[0]).or(at(last, self.tips[1]))
    }

    /// A quadrant of the section at a place along the body; none at a tip.
    fn quarter(&self, quadrant: usize, u: f64) -> Result<Option<Quarter>, LoftError> {
        if self.tip_at(u).is_some() {
            return Ok(None);
        }
        let (corner, room) = self.corner(quadrant, u);
        if !room {
            return Err(LoftError::NoCorner {
                station: self.near(u),
            });
        }
        let rho = self.rho(u)[quadrant];
        if !(rho > 0.0 && rho < 1.0) {
            return Err(LoftError::NoRho {
                station: self.near(u),
                quadrant: QUADRANTS[quadrant],
                rho,
            });
        }
        let conic = Conic::new(corner, rho);
        let odds = match &self.fullness[quadrant] {
            Fullness::Rho(_) => 1.0,
            Fullness::Line(swell) => num::exp(swell.odds.at(u)),
        };
        let shares = Shares::of(&conic);
        Ok(Some(Quarter {
            conic,
            shares,
            odds,
        }))
    }

    /// The surface, within [`num::FIT`] of the law.
    ///
    /// Round the girth each quadrant has its own spans, and the breadth a triple knot: the curvature jumps there by law, and
    /// how fast a place runs with `v` too; the tangent does not, since the three coefficients beside the knot lie upright over
    /// each other in every row.
    pub(super) fn surface(&self) -> Result<Surface, LoftError> {
        let places: Vec<f64> = {
            let breaks = self.along.knots.breaks();
            let middles = breaks
                .windows(2)
                .map(|pair| f64::midpoint(pair[0], pair[1]));
            middles.chain(breaks.iter().copied()).collect()
        };
        let round = [self.round(0, &places)?, self.round(1, &places)?];
        let v = girth_knots(&round)?;
        let mut along = self.along.clone();
        loop {
            let surface = self.net(&along, &round, &v)?;
            let off = self.off(&surface)?;
            let wide: Vec<usize> = (0..off.len())
                .filter(|span| off[*span] > num::FIT)
                .collect();
            let Some(worst) = wide.first() else {
                return Ok(surface);
            };
            if off.len() + wide.len() > MOST_SPANS {
                let (a, b) = along.knots.span(*worst);
                return Err(LoftError::TooSharp {
                    station: self.near(f64::midpoint(a, b)),
                    off: off[*worst],
                });
            }
            along = along.halved(&wide)?;
        }
    }

    /// The fewest spans with which a quadrant's sections at these places are met.
    fn round(&self, quadrant: usize, places: &[f64]) -> Result<Round, LoftError> {
        let mut sections = Vec::new();
        for u in places {
            sections.extend(self.quarter(quadrant, *u)?.map(|quarter| (*u, quarter)));
        }
        let mut worst = (0.0, 0.0);
        for spans in SPANS {
            let round = Round::new(quadrant, spans)?;
            worst = (0.0, 0.0);
            for (u, quarter) in &sections {
                let off = round.off(quarter, &round.coefficients(quarter));
                if off > worst.0 {
                    worst = (off, *u);
                }
                // What is no number does not meet it either.
                let met = off <= ROUND * num::FIT;
                if !met {
                    worst = (off, *u);
                    break;
                }
            }
            if worst.0 <= ROUND * num::FIT {
                return Ok(round);
            }
        }
        Err(LoftError::TooSharp {
            station: self.near(worst.1),
            off: worst.0,
        })
    }

    /// A section's row of coefficients.
    fn row(&self, round: &[Round; 2], u: f64) -> Result<Vec<[f64; 2]>, LoftError> {
        if let Some(height) = self.tip_at(u) {
            return Ok(vec![[0.0, height]; round[0].count() + round[1].count() - 1]);
        }
        let mut row = Vec::new();
        for (k, round) in round.iter().enumerate() {
            let Some(quarter) = self.quarter(k, u)? else {
                continue;
            };
            row.extend(round.coefficients(&quarter).into_iter().skip(k));
        }
        Ok(row)
    }

    fn net(&self, along: &Lengthwise, round: &[Round; 2], v: &Knots) -> Result<Surface, LoftError> {
        let (rows, columns) = (along.knots.count(), v.count());
        let (first, last) = along.knots.domain();
        let places = within(&along.knots, PLACES[0]);
        let fit = Fixed::new(&along.knots, &places, 1..rows - 1)?;
        let sections: Vec<Vec<[f64; 2]>> = places
            .iter()
            .map(|u| self.row(round, *u))
            .collect::<Result<_, _>>()?;
        let ends = [self.row(round, first)?, self.row(round, last)?];
        let mut nets = [vec![0.0; rows * columns], vec![0.0; rows * columns]];
        let mut column = vec![0.0; rows];
        for (k, net) in nets.iter_mut().enumerate() {
            for j in 0..columns {
                column[0] = ends[0][j][k];
                column[rows - 1] = ends[1][j][k];
                fit.solve(&mut column, |i| sections[i][j][k]);
                for (i, value) in column.iter().enumerate() {
                    net[i * columns + j] = *value;
                }
            }
        }
        let [y, z] = nets;
        Ok(Surface::new(
            along.knots.clone(),
            v.clone(),
            along.x.clone(),
            y,
            z,
        ))
    }

    /// How far a surface lies off the law at most, mm, in each span along the body.
    fn off(&self, surface: &Surface) -> Result<Vec<f64>, LoftError> {
        let knots = surface.u_knots();
        let last = knots.span_count() - 1;
        (0..=last)
            .map(|span| {
                let (a, b) = knots.span(span);
                let parts = PLACES[0];
                let inner = (0..parts).map(|i| a + (b - a) * i as f64 / parts as f64);
                let mut most: f64 = 0.0;
                for u in inner.chain((span == last).then_some(b)) {
                    most = most.max(self.off_at(surface, u)?);
                }
                Ok(most)
            })
            .collect()
    }

    /// How far a surface lies off the law at most on the section at a place along the body, mm.
    pub(super) fn off_at(&self, surface: &Surface, u: f64) -> Result<f64, LoftError> {
        let row = surface.row(u);
        let mut most: f64 = 0.0;
        for (k, from) in [0.0, BREADTH].into_iter().enumerate() {
            let Some(quarter) = self.quarter(k, u)? else {
                continue;
            };
            most = most.max(off_row(&row, surface.v_knots(), from, &quarter));
        }
        Ok(most)
    }

    /// Where a point lies round the girth: on its line, or as near as the section comes to it.
    pub(super) fn girth(
        &self,
        surface: &Surface,
        u: f64,
        offset: &Offset,
    ) -> Result<f64, LoftError> {
        let own = match offset.on {
            On::Crown => Some(0.0),
            On::Keel => Some(1.0),
            On::RunLine(id) => self
                .run_lines()
                .into_iter()
                .find(|(line, _)| *line == id)
                .map(|at| at.1),
            On::Plane(_) | On::PlaneUpper(_) | On::Free => None,
        };
        if let Some(v) = own {
            return Ok(v);
        }
        let quadrant = usize::from(offset.accepted[1] < self.breadth[1].at(u));
        let Some(quarter) = self.quarter(quadrant, u)? else {
            return Ok(0.0);
        };
        let mut v = BREADTH * (quadrant as f64 + quarter.part_of(offset.accepted));
        let row = surface.row(u);
        for _ in 0..FOOT_STEPS {
            let jet = row.jet(v);
            let off = [offset.accepted[0] - jet.s.y, offset.accepted[1] - jet.s.z];
            let along = jet.v.y * jet.v.y + jet.v.z * jet.v.z;
            if along > 0.0 {
                v = (v + (off[0] * jet.v.y + off[1] * jet.v.z) / along).clamp(0.0, 1.0);
            }
        }
        Ok(v)
    }

    /// The run lines of the law, from crown to keel, with their `v`.
    pub(super) fn run_lines(&self) -> Vec<(RunLineId, f64)> {
        let shoulder =
            |quadrant: Quadrant, v: f64| self.law.shoulder_line(quadrant).map(|id| (id, v));
        [
            shoulder(Quadrant::Upper, SHOULDER * BREADTH),
            Some((self.law.breadth, BREADTH)),
            shoulder(Quadrant::Lower, BREADTH + SHOULDER * BREADTH),
        ]
        .into_iter()
        .flatten()
        .collect()
    }

    /// Whether one of the control lines of a quadrant is carried at a place along the body, its own points being far.
    pub(super) fn carried(&self, u: f64, v: f64) -> bool {
        let quadrant = usize::from(v > BREADTH);
        let centre = if quadrant == 0 {
            &self.crown
        } else {
            &self.keel
        };
        let shoulder = match &self.fullness[quadrant] {
            Fullness::Rho(_) => None,
            Fullness::Line(swell) => Some(&swell.rho),
        };
        let all = [Some(centre), Some(&self.breadth[0]), shoulder];
        all.into_iter()
            .flatten()
            .any(|line| line.carried(u, CARRIED))
    }
}

/// Steps towards the foot of a point beside the law.
const FOOT_STEPS: usize = 4;

/// A shoulder nearer to an end of its quadrant, by its share, is taken as lying there, so that the girth is not squeezed.
const LEAST_SHARE: f64 = 0.1;

/// Crown, keel and breadth lengthwise.
struct Bounds {
    crown: Control,
    keel: Control,
    breadth: [Control; 2],
}

impl Bounds {
    fn of(
        knots: &Knots,
        rows: &[ControlRow],
        settled: (Method, f64),
        place: fn(&Offset) -> [f64; 2],
    ) -> Result<Self, LoftError> {
        let line = |which: fn(&Controls) -> Option<Offset>, k: usize| {
            let targets: Vec<[f64; 3]> = rows
                .iter()
                .filter_map(|row| {
                    if let Some(height) = row.tip {
                        return Some([row.u, [0.0, height][k], TIP_WEIGHT]);
                    }
                    let offset = which(&row.controls)?;
                    Some([row.u, place(&offset)[k], weight(&offset)])
                })
                .collect();
            Control::fit(knots, &targets, settled)
        };
        Ok(Self {
            crown: line(|controls| controls.crown, 1)?,
            keel: line(|controls| controls.keel, 1)?,
            breadth: [
                line(|controls| controls.breadth, 0)?,
                line(|controls| controls.breadth, 1)?,
            ],
        })
    }
}

/// The stiffness of lines as drawn: the stiffest at which so many readings lie within half their tolerance, as recorded.
fn drawn(knots: &Knots, rows: &[ControlRow], method: Method) -> Result<f64, LoftError> {
    let least = STIFFNESSES[STIFFNESSES.len() - 1];
    for stiffness in STIFFNESSES {
        let bounds = Bounds::of(knots, rows, (method, stiffness), |offset| offset.recorded)?;
        let (mut near, mut all) = (0, 0);
        for row in rows {
            let Controls {
                crown,
                keel,
                breadth,
                ..
            } = row.controls;
            let read = [
                (crown, &bounds.crown, 1),
                (keel, &bounds.keel, 1),
                (breadth, &bounds.breadth[0], 0),
                (breadth, &bounds.breadth[1], 1),
            ];
            for (offset, line, k) in read {
                let Some(offset) = offset else { continue };
                all += 1;
                let off = (offset.recorded[k] - line.at(row.u)).abs();
                near += usize::from(off <= offset.tolerance / 2.0);
            }
        }
        if near as f64 >= NEAR_ENOUGH * all as f64 {
            return Ok(stiffness);
        }
    }
    Ok(least)
}

/// Places evenly within each span, none at its ends.
fn within(knots: &Knots, parts: usize) -> Vec<f64> {
    let spans = (0..knots.span_count()).map(|span| knots.span(span));
    let even =
        |(a, b): (f64, f64)| (0..parts).map(move |i| a + (b - a) * (i as f64 + 0.5) / parts as f64);
    spans.flat_map(even).collect()
}

/// How sections of one quadrant are made splines.
struct Round {
    knots: Knots,
    places: Vec<f64>,
    /// Of half-breadths and heights: the end that is level, or upright, has one coefficient more that is known.
    fits: [Fixed; 2],
}

impl Round {
    fn new(quadrant: usize, spans: usize) -> Result<Self, LoftError> {
        let breaks: Vec<f64> = (0..=spans).map(|i| i as f64 / spans as f64).collect();
        let knots = Knots::clamped(&breaks).map_err(|_not_rising| LoftError::NotFixed)?;
        let places = within(&knots, PLACES[1]);
        let last = knots.count() - 1;
        // The upper quadrant begins level and ends upright, the lower the other way round.
        let upright = [1..last - 1, 2..last];
        let level = [2..last, 1..last - 1];
        let free = if quadrant == 0 { upright } else { level };
        let [y, z] = free.map(|free| Fixed::new(&knots, &places, free));
        Ok(Self {
            fits: [y?, z?],
            knots,
            places,
        })
    }

    fn count(&self) -> usize {
        self.knots.count()
    }

    /// The coefficients of a section: its ends and its tangents there are the conic's.
    fn coefficients(&self, quarter: &Quarter) -> Vec<[f64; 2]> {
        let at: Vec<[f64; 2]> = self.places.iter().map(|part| quarter.at(*part)).collect();
        let last = self.count() - 1;
        let (begins, ends) = (quarter.conic.at(0.0), quarter.conic.at(1.0));
        let mut coefficients = vec![[0.0; 2]; last + 1];
        let mut one = vec![0.0; last + 1];
        for k in [0, 1] {
            (one[0], one[1]) = (begins[k], begins[k]);
            (one[last - 1], one[last]) = (ends[k], ends[k]);
            self.fits[k].solve(&mut one, |i| at[i][k]);
            for (coefficient, value) in coefficients.iter_mut().zip(&one) {
                coefficient[k] = *value;
            }
        }
        coefficients
    }

    /// How far a section's spline lies off its conic at most, mm.
    fn off(&self, quarter: &Quarter, coefficients: &[[f64; 2]]) -> f64 {
        let mut most: f64 = 0.0;
        for span in 0..self.knots.span_count() {
            let (a, b) = self.knots.span(span);
            let first = self.knots.first_coefficient(span);
            for i in 0..LOOKED {
                let part = a + (b - a) * (i as f64 + 0.5) / LOOKED as f64;
                let basis = self.knots.basis(span, part)[0];
                let at =
                    [0, 1].map(|k| (0..4).map(|j| basis[j] * coefficients[first + j][k]).sum());
                most = most.max(quarter.conic.distance(at));
            }
        }
        most
    }
}

/// How far a row of a surface lies off a quadrant's conic at most, mm, from `from` on.
fn off_row(row: &Row<'_>, v: &Knots, from: f64, quarter: &Quarter) -> f64 {
    let mut most: f64 = 0.0;
    let spans = (0..v.span_count()).map(|span| (span, v.span(span)));
    for (span, _) in spans.filter(|(_, (a, b))| *a >= from && *b <= from + BREADTH) {
        let powers = row.powers(span);
        for i in 0..LOOKED {
            let s = (i as f64 + 0.5) / LOOKED as f64;
            let at = powers.map(|p| ((p[3] * s + p[2]) * s + p[1]) * s + p[0]);
            most = most.max(quarter.conic.distance(at));
        }
    }
    most
}

/// Knots of the whole girth.
fn girth_knots(round: &[Round; 2]) -> Result<Knots, LoftError> {
    let mut breaks = vec![(0.0, 1)];
    for (k, round) in round.iter().enumerate() {
        let spans = round.knots.span_count();
        let part = |i: usize| BREADTH * (k as f64 + i as f64 / spans as f64);
        breaks.extend((1..=spans).map(|i| (part(i), if i == spans && k == 0 { 3 } else { 1 })));
    }
    Knots::with_multiplicities(&breaks).map_err(|_not_rising| LoftError::NotFixed)
}

#[cfg(test)]
mod tests;
