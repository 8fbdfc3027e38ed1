//! The fingerprint: which state of the lines a sheet, a link or a file was made from.
//!
//! In: [`Lines`]. Out: SHA-256 of the canonical bytes of what shapes or makes metal. Ids, the order of lists where it
//! says nothing, title, notes, labels of revisions, units and readings set aside leave it as it is.

use core::fmt;

use sha2::{Digest, Sha256};

use super::body::offsets::shift::Shifts;
use super::{
    Body, End, Law, Lines, On, Peak, Place, Plane, Point, Quadrant, Reading, Recorded, RunKind,
    RunLine, Shop, Shoulder, Side, Tip,
};
use crate::num;

/// SHA-256 of what shapes or makes metal, written in base 32 with Crockford's digits (no I, L, O, U).
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Fingerprint([u8; 32]);

impl Fingerprint {
    /// Four characters, for the header.
    #[must_use]
    pub fn short(&self) -> String {
        self.characters(4)
    }

    /// Seven characters, for paper.
    #[must_use]
    pub fn paper(&self) -> String {
        self.characters(7)
    }

    /// All 52 characters, for files.
    #[must_use]
    pub fn full(&self) -> String {
        self.characters(52)
    }

    fn characters(&self, count: usize) -> String {
        const DIGITS: &[u8; 32] = b"0123456789ABCDEFGHJKMNPQRSTVWXYZ";
        let bit = |n: usize| {
            self.0
                .get(n / 8)
                .map_or(0, |byte| (byte >> (7 - n % 8)) & 1)
        };
        (0..count)
            .map(|n| (0..5).fold(0, |digit, k| digit << 1 | bit(n * 5 + k)))
            .map(|digit| char::from(DIGITS[usize::from(digit)]))
            .collect()
    }
}

impl fmt::Display for Fingerprint {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.full())
    }
}

impl Lines {
    /// The fingerprint of what shapes or makes metal.
    ///
    /// # Accuracy
    /// Exact: two documents have one fingerprint where their canonical bytes are the same. 0 and −0 are one.
    ///
    /// # Source
    /// SHA-256: FIPS 180-4. The digits: D. Crockford's base 32.
    #[must_use]
    pub fn fingerprint(&self) -> Fingerprint {
        Fingerprint(Sha256::digest(self.canonical_bytes()).into())
    }

    /// The bytes the fingerprint is taken of.
    fn canonical_bytes(&self) -> Vec<u8> {
        let Self {
            about: _,
            body,
            shop,
        } = self;
        let Shop {
            skin_thickness,
            sheets: _, // what is printed of it
        } = &**shop;
        let mut bytes = Bytes(b"scrieve board 1".to_vec());
        bytes.body(body);
        bytes.option(*skin_thickness);
        // Lines without a law have the bytes they had before there were any.
        if let Some(law) = &body.law {
            bytes.law(body, law);
        }
        bytes.0
    }
}

/// Bytes in which nothing can be taken for anything else: each text and list is preceded by its length.
struct Bytes(Vec<u8>);

impl Bytes {
    fn tag(&mut self, tag: u8) {
        self.0.push(tag);
    }

    fn count(&mut self, count: usize) {
        self.0.extend((count as u64).to_le_bytes());
    }

    fn number(&mut self, value: f64) {
        self.0.extend((value + 0.0).to_bits().to_le_bytes());
    }

    fn option(&mut self, value: Option<f64>) {
        self.tag(u8::from(value.is_some()));
        self.number(value.unwrap_or(0.0));
    }

    fn text(&mut self, text: &str) {
        self.count(text.len());
        self.0.extend(text.as_bytes());
    }

    fn lists(&mut self, lists: &[Vec<u8>]) {
        self.count(lists.len());
        for list in lists {
            self.count(list.len());
            self.0.extend(list);
        }
    }

    /// All that shapes the loft but a law, which stands last.
    fn body(&mut self, body: &Body) {
        let Body {
            method,
            sources: _, // they count as far as used readings come from them
            stations,
            ends,
            planes,
            run_lines,
            points,
            centreline: _, // said at each station
            law: _,
            allowed_turns: _,
            taken: _,
        } = body;
        self.number(f64::from(*method));
        self.count(stations.len());
        let (offsets, shifts) = (body.offsets(), body.shifts());
        let points: std::collections::BTreeMap<_, _> =
            num::put_together(points.iter().map(|point| (point.id, point)));
        for (station, offsets) in stations.iter().zip(&offsets) {
            self.text(&station.label);
            self.number(station.x);
            for side in [Side::Crown, Side::Keel] {
                self.tag(match body.peak(side, station.id) {
                    Peak::Smooth => 0,
                    Peak::Peaked => 1,
                });
            }
            self.count(offsets.len());
            for point in offsets
                .iter()
                .filter_map(|offset| points.get(&offset.point))
            {
                self.tag(match point.on {
                    On::Crown => 0,
                    On::Keel => 1,
                    On::Free => 2,
                    On::RunLine(_) => 3,
                    On::Plane(_) => 4,
                    On::PlaneUpper(_) => 5,
                });
                self.text(&body.line_name(point.on).unwrap_or_default());
                self.point(body, point, shifts.as_ref());
            }
        }
        for end in [ends.fore, ends.aft] {
            self.end(end);
        }
        let mut planes: Vec<Vec<u8>> = planes
            .iter()
            .map(|Plane { id: _, name, place }| {
                let mut one = Self(Vec::new());
                one.place(*place);
                one.text(name);
                one.0
            })
            .collect();
        num::put_in_order(&mut planes, Ord::cmp);
        self.lists(&planes);
        self.count(run_lines.len());
        for RunLine {
            id: _,
            name,
            kind,
            joint,
        } in run_lines
        {
            self.text(name);
            self.tag(match kind {
                RunKind::Smooth => 0,
                RunKind::Knuckle => 1,
            });
            self.tag(u8::from(*joint));
        }
    }

    fn point(&mut self, body: &Body, point: &Point, shifts: Option<&Shifts<'_>>) {
        let Point {
            id: _,
            station: _,  // said before
            on: _,       // said before
            readings: _, // those in use
            accepted_half_breadth,
            accepted_height,
            duck,
        } = point;
        let mut used: Vec<Vec<u8>> = point
            .used()
            .map(|reading| {
                let Reading {
                    source,
                    half_breadth,
                    height,
                    tolerance,
                    set_aside: _, // it is not
                    kept: _,
                    note: _,
                    circumstances: _,
                } = reading;
                let mut one = Self(Vec::new());
                one.option(half_breadth.as_ref().map(Recorded::value));
                one.option(height.as_ref().map(Recorded::value));
                one.number(*tolerance);
                let source = body.source(*source);
                let depth = source.map_or(0.0, |source| source.surface.depth());
                // What lies on the outside has the bytes it had before depths were known.
                let aft = source.map_or(0.0, |source| source.datum.aft);
                if depth > 0.0 || !num::same(aft, 0.0) {
                    one.number(depth);
                }
                // So does what was read at the stations; elsewhere it rests on the source's other readings, too.
                if !num::same(aft, 0.0) {
                    one.number(aft);
                    for said in shifts.map_or([None; 2], |all| all.at_station(point, reading)) {
                        one.option(said);
                    }
                }
                one.0
            })
            .collect();
        num::put_in_order(&mut used, Ord::cmp);
        self.lists(&used);
        self.option(*accepted_half_breadth);
        self.option(*accepted_height);
        self.tag(u8::from(*duck));
    }

    fn law(&mut self, body: &Body, law: &Law) {
        let name = |id| body.line_name(On::RunLine(id)).unwrap_or_default();
        self.text("conic law");
        self.text(&name(law.breadth));
        for quadrant in [Quadrant::Upper, Quadrant::Lower] {
            match law.shoulder(quadrant) {
                Shoulder::Rho(rho) => {
                    self.tag(0);
                    self.number(rho);
                }
                Shoulder::Line(id) => {
                    self.tag(1);
                    self.text(&name(id));
                }
            }
        }
    }

    fn end(&mut self, end: End) {
        match end {
            End::Open => self.tag(0),
            End::Tip { x, height, form } => {
                self.tag(match form {
                    Tip::Pointed => 1,
                    Tip::Blunt => 2,
                });
                self.number(x);
                self.number(height);
            }
        }
    }

    fn place(&mut self, place: Place) {
        match place {
            Place::Waterline(z) => {
                self.tag(0);
                self.number(z);
            }
            Place::Buttock(y) => {
                self.tag(1);
                self.number(y);
            }
            Place::Diagonal { height, angle } => {
                self.tag(2);
                self.number(height);
                self.number(angle);
            }
        }
    }
}
