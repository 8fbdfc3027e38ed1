//! Bodies made at random from seeds, read with noise at irregular stations and girths, and faults planted in them.

use std::f64::consts::PI;

use geometry::document::{Ends, On, Peak};

use super::hulls::{AXIS, Body, Table};

/// Numbers from 0 to 1, the same at every run.
pub struct Dice(u64);

impl Dice {
    pub fn of(seed: u64) -> Self {
        let mut dice = Self(seed);
        dice.roll();
        dice
    }

    pub fn roll(&mut self) -> f64 {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        f64::from((self.0 >> 33) as u32) / f64::from(1_u32 << 31)
    }

    pub fn between(&mut self, a: f64, b: f64) -> f64 {
        a + (b - a) * self.roll()
    }

    pub fn below(&mut self, n: usize) -> usize {
        let roll = self.roll();
        (1..n).filter(|k| roll * n as f64 >= *k as f64).count()
    }

    pub fn sign(&mut self) -> f64 {
        if self.roll() < 0.5 { 1.0 } else { -1.0 }
    }
}

/// One of a body's outlines: from a fullest place it falls to a share at either end, the fuller the shoulder the later.
struct Outline {
    fullest: f64,
    ends: [f64; 2],
    /// Exponents of the shoulders.
    shoulders: [f64; 2],
    /// How much of the fall aft is by an S, hollow at its end.
    reflex: f64,
}

impl Outline {
    fn of(dice: &mut Dice, ends: [f64; 2]) -> Self {
        Self {
            fullest: dice.between(0.25, 0.5),
            ends,
            shoulders: [dice.between(2.5, 4.0), dice.between(2.2, 3.2)],
            reflex: dice.between(0.0, 0.8),
        }
    }

    /// What is left of the fullest at a share of the length: 1 there.
    fn at(&self, q: f64) -> f64 {
        if q < self.fullest {
            let s = (self.fullest - q) / self.fullest;
            1.0 - (1.0 - self.ends[0]) * s.powf(self.shoulders[0])
        } else {
            let s = (q - self.fullest) / (1.0 - self.fullest);
            let turned = s.powi(3) * (10.0 - 15.0 * s + 6.0 * s * s);
            let fall = (1.0 - self.reflex) * s.powf(self.shoulders[1]) + self.reflex * turned;
            1.0 - (1.0 - self.ends[1]) * fall
        }
    }
}

/// A body in closed form: rounded or boxy, with a fuller or finer nose and a narrow, deep or rising tail, with or without
/// a peak at its crown.
pub struct Shape {
    /// mm.
    pub length: f64,
    half: f64,
    breadth: Outline,
    crown: (f64, Outline),
    keel: (f64, Outline),
    /// Exponent of the section: 2 is an ellipse, more is fuller at the shoulders.
    boxy: f64,
    full: f64,
    peak: f64,
}

impl Shape {
    /// A shape of its own.
    pub fn of(dice: &mut Dice) -> Self {
        let length = dice.between(2500.0, 9000.0);
        let half = length * dice.between(0.06, 0.14);
        let crown = half * dice.between(0.9, 1.3);
        let keel = half * dice.between(0.9, 1.2);
        let least = 40.0 / half;
        let tail = dice.between(0.06, 0.7).max(least);
        let breadth = [dice.between(0.5, 1.0), tail];
        // The height aft, and how far its middle lies above the axis.
        let height = dice.between(0.1, 0.7) * (crown + keel) / 2.0;
        let height = height.max(60.0);
        let middle = dice.between(-0.2, 0.8) * (crown - height);
        let crowns = [dice.between(0.5, 1.0), (middle + height) / crown];
        let keels = [dice.between(0.5, 1.0), (height - middle) / keel];
        Self {
            length,
            half,
            breadth: Outline::of(dice, breadth),
            crown: (crown, Outline::of(dice, crowns)),
            keel: (keel, Outline::of(dice, keels)),
            boxy: dice.between(2.0, 2.8),
            full: dice.between(0.0, 0.14),
            peak: if dice.roll() < 0.5 {
                0.0
            } else {
                dice.between(0.1, 0.3)
            },
        }
    }

    /// Whether its crown is peaked.
    pub fn is_peaked(&self) -> bool {
        self.peak > 0.0
    }

    /// Half-breadth and height at a distance aft and an angle from the crown, up to π.
    pub fn at(&self, x: f64, t: f64) -> [f64; 2] {
        let q = x / self.length;
        let b = self.half * self.breadth.at(q);
        let zc = AXIS + self.crown.0 * self.crown.1.at(q);
        let zk = AXIS - self.keel.0 * self.keel.1.at(q);
        let a = (zc - zk) / 2.0;
        let boxed = |s: f64| s.signum() * s.abs().powf(2.0 / self.boxy);
        let (sin, cos) = (t.sin(), t.cos());
        let least = a.min(b);
        let z = f64::midpoint(zc, zk) + a * boxed(cos) + self.full * least * sin * sin
            - self.peak * least * sin * (1.0 + cos) / 2.0;
        [b * boxed(sin), z]
    }

    fn girth(&self, x: f64) -> f64 {
        let at = |i: u32| self.at(x, PI * f64::from(i) / 200.0);
        let step = |i: u32| {
            let (a, b) = (at(i), at(i + 1));
            (b[0] - a[0]).hypot(b[1] - a[1])
        };
        (0..200).map(step).sum()
    }

    fn normal(&self, x: f64, t: f64) -> [f64; 2] {
        let (a, b) = (self.at(x, t - 1e-5), self.at(x, t + 1e-5));
        let (y, z) = (b[0] - a[0], b[1] - a[1]);
        let length = y.hypot(z);
        [-z / length, y / length]
    }
}

/// What a body was made of.
pub struct Made {
    /// mm.
    pub length: f64,
    /// Exponent of its sections: 2 is an ellipse, more is fuller at the shoulders.
    pub fullness: f64,
    /// How far its crown is drawn in to a peak, as a share of the lesser of half its breadth and half its height.
    pub peak: f64,
    /// Most by which a reading is out, mm.
    pub noise: f64,
}

/// A body as it was read.
pub struct Read {
    pub made: Made,
    pub table: Table,
    pub body: Body,
    /// Section normals, point by point.
    pub normals: Vec<[f64; 2]>,
    pub dice: Dice,
}

/// A body read at irregular stations and girths, fewer where it is small.
pub fn made(seed: u64) -> Read {
    let mut dice = Dice::of(seed);
    let shape = Shape::of(&mut dice);
    let noise = dice.between(0.4, 0.9);
    let count = 11 + dice.below(10);
    let most = 10 + dice.below(8);
    // Stations stand closer towards the ends, as far as half as wide.
    let crowd = dice.between(0.0, 0.5);
    let largest = (0..20)
        .map(|k| shape.girth(shape.length * f64::from(k) / 19.0))
        .fold(0.0, f64::max);
    let mut table: Table = Vec::new();
    let mut normals = Vec::new();
    for s in 0..count {
        let jog = if s == 0 || s + 1 == count {
            0.0
        } else {
            dice.between(-0.3, 0.3)
        };
        let q = (s as f64 + jog) / (count - 1) as f64;
        let x = shape.length * (q - crowd * (2.0 * PI * q).sin() / (2.0 * PI));
        let share = shape.girth(x) / largest;
        let n = (7..most).find(|n| *n as f64 >= share * most as f64);
        let n = n.unwrap_or(most);
        let mut points = Vec::new();
        for i in 0..=n {
            let end = i == 0 || i == n;
            let jog = if end { 0.0 } else { dice.between(-0.3, 0.3) };
            let t = PI * (i as f64 + jog) / n as f64;
            let [y, z] = shape.at(x, t);
            let read =
                |v: f64, dice: &mut Dice| ((v + dice.between(-noise, noise)) * 10.0).round() / 10.0;
            let on = match i {
                0 => On::Crown,
                _ if i == n => On::Keel,
                _ => On::Free,
            };
            let y = if end { 0.0 } else { read(y, &mut dice) };
            points.push((on, [y, read(z, &mut dice)]));
            normals.push(if end { [0.0, 1.0] } else { shape.normal(x, t) });
        }
        table.push((x, points));
    }
    let body = Body {
        tolerance: 1.25 * noise,
        ends: Ends::default(),
        crown: if shape.is_peaked() {
            Peak::Peaked
        } else {
            Peak::Smooth
        },
        keel: Peak::Smooth,
        run_lines: Vec::new(),
    };
    Read {
        made: Made {
            length: shape.length,
            fullness: shape.boxy,
            peak: shape.peak,
            noise,
        },
        table,
        body,
        normals,
        dice,
    }
}

/// A fault that was planted, by the number of its point, and how large, mm.
pub struct Fault {
    pub point: usize,
    pub by: f64,
}

/// Number of a point among all.
pub fn number(table: &Table, station: usize, place: usize) -> usize {
    table[..station].iter().map(|(_, p)| p.len()).sum::<usize>() + place
}

impl Read {
    /// Plants one fault of each size, each at a station of its own, in the coordinate that the skin is square to.
    pub fn plant(&mut self, sizes: &[f64]) -> Vec<Fault> {
        let mut faults = Vec::new();
        let mut stations = Vec::new();
        for size in sizes {
            let station = loop {
                let station = self.dice.below(self.table.len());
                if !stations.contains(&station) {
                    break station;
                }
            };
            stations.push(station);
            let place = self.dice.below(self.table[station].1.len());
            let point = number(&self.table, station, place);
            let by = self.dice.sign() * size;
            let [y, z] = self.normals[point];
            self.table[station].1[place].1[usize::from(z.abs() > y.abs())] += by;
            faults.push(Fault { point, by });
        }
        faults
    }
}
