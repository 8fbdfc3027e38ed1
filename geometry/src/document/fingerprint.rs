//! The fingerprint: which state of the lines a sheet, a link or a file was made from.
//!
//! In: [`Lines`]. Out: SHA-256 of the canonical bytes of what shapes or makes metal. Ids, the order of lists where it
//! says nothing, title, notes, labels of revisions, units and readings set aside leave it as it is.

use core::fmt;

use sha2::{Digest, Sha256};

use super::find::Side;
use super::{End, Law, Lines, On, Peak, Place, Point, Quadrant, Reading, RunKind, Shoulder, Tip};

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

    /// The 32 bytes.
    #[must_use]
    pub fn bytes(&self) -> &[u8; 32] {
        &self.0
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
    /// Exact: two documents have one fingerprint where they have one [`Lines::canonical_bytes`]. 0 and −0 are one.
    ///
    /// # Source
    /// SHA-256: FIPS 180-4. The digits: D. Crockford's base 32.
    #[must_use]
    pub fn fingerprint(&self) -> Fingerprint {
        Fingerprint(Sha256::digest(self.canonical_bytes()).into())
    }

    /// The bytes the fingerprint is taken of.
    #[must_use]
    pub fn canonical_bytes(&self) -> Vec<u8> {
        let mut bytes = Bytes(b"scrieve board 1".to_vec());
        bytes.number(f64::from(self.method));
        bytes.count(self.stations.len());
        let offsets = self.offsets();
        let points: std::collections::BTreeMap<_, _> =
            self.points.iter().map(|point| (point.id, point)).collect();
        for (station, offsets) in self.stations.iter().zip(&offsets) {
            bytes.text(&station.label);
            bytes.number(station.x);
            for side in [Side::Crown, Side::Keel] {
                bytes.tag(match self.peak(side, station.id) {
                    Peak::Smooth => 0,
                    Peak::Peaked => 1,
                });
            }
            bytes.count(offsets.len());
            for point in offsets
                .iter()
                .filter_map(|offset| points.get(&offset.point))
            {
                bytes.tag(match point.on {
                    On::Crown => 0,
                    On::Keel => 1,
                    On::Free => 2,
                    On::RunLine(_) => 3,
                    On::Plane(_) => 4,
                    On::PlaneUpper(_) => 5,
                });
                bytes.text(&self.line_name(point.on).unwrap_or_default());
                bytes.point(self, point);
            }
        }
        for end in [self.ends.fore, self.ends.aft] {
            bytes.end(end);
        }
        let mut planes: Vec<Vec<u8>> = self
            .planes
            .iter()
            .map(|plane| {
                let mut one = Bytes(Vec::new());
                one.place(plane.place);
                one.text(&plane.name);
                one.0
            })
            .collect();
        crate::num::put_in_order(&mut planes, Ord::cmp);
        bytes.lists(&planes);
        bytes.count(self.run_lines.len());
        for run_line in &self.run_lines {
            bytes.text(&run_line.name);
            bytes.tag(match run_line.kind {
                RunKind::Smooth => 0,
                RunKind::Knuckle => 1,
            });
            bytes.tag(u8::from(run_line.joint));
        }
        bytes.option(self.shop.skin_thickness);
        // Lines without a law have the bytes they had before there were any.
        if let Some(law) = &self.law {
            bytes.law(self, law);
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

    fn point(&mut self, lines: &Lines, point: &Point) {
        let mut used: Vec<Vec<u8>> = point
            .used()
            .map(|reading: &Reading| {
                let mut one = Self(Vec::new());
                one.option(reading.half_breadth_value());
                one.option(reading.height_value());
                one.number(reading.tolerance);
                let source = lines.source(reading.source);
                let depth = source.map_or(0.0, |source| source.surface.depth());
                // What lies on the outside has the bytes it had before depths were known.
                if depth > 0.0 {
                    one.number(depth);
                }
                one.0
            })
            .collect();
        crate::num::put_in_order(&mut used, Ord::cmp);
        self.lists(&used);
        self.option(point.accepted_half_breadth);
        self.option(point.accepted_height);
        self.tag(u8::from(point.duck));
    }

    fn law(&mut self, lines: &Lines, law: &Law) {
        let name = |id| lines.line_name(On::RunLine(id)).unwrap_or_default();
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
