//! Bodies of three families made from seeds, read with noise, some with a dent planted; how far a loft of one lies off it.
//!
//! Of every three seeds the first makes a body with shoulders and a narrow tail, the second one of conic lines with a joint
//! as the demo's, the third a tear-drop.

use std::f64::consts::PI;

use geometry::document::{Ends, Lines, On, Peak, RunKind, RunLine, RunLineId};
use geometry::loft::Loft;

use super::bodies::{Dice, Shape};
use super::hulls::{AXIS, Body, Table};

/// A rational quadratic y(x) over the length: its ends, the corner where their tangents meet, and that corner's weight.
struct Conic {
    places: [[f64; 2]; 3],
    weight: f64,
}

impl Conic {
    fn of(length: f64, fore: [f64; 2], aft: [f64; 2], weight: f64) -> Self {
        let corner = (aft[0] - aft[1] * length - fore[0]) / (fore[1] - aft[1]);
        let corner = corner.clamp(0.2 * length, 0.8 * length);
        let middle = [corner, fore[0] + fore[1] * corner];
        Self {
            places: [[0.0, fore[0]], middle, [length, aft[0]]],
            weight,
        }
    }

    fn y(&self, x: f64) -> f64 {
        let at = |t: f64, k: usize| {
            let share = shares(t, self.weight);
            (0..3).map(|i| share[i] * self.places[i][k]).sum::<f64>()
        };
        let (mut low, mut high) = (0.0, 1.0);
        for _ in 0..50 {
            let middle = f64::midpoint(low, high);
            if at(middle, 0) < x {
                low = middle;
            } else {
                high = middle;
            }
        }
        at(f64::midpoint(low, high), 1)
    }
}

/// What each of three places counts for in a rational quadratic.
fn shares(t: f64, weight: f64) -> [f64; 3] {
    let parts = [(1.0 - t) * (1.0 - t), 2.0 * t * (1.0 - t) * weight, t * t];
    let sum: f64 = parts.iter().sum();
    parts.map(|part| part / sum)
}

enum Form {
    Shoulders(Shape),
    /// Half-breadth, joint, crown and keel, and the fullness of the lower quadrant.
    Conics([Conic; 4], f64),
    /// How far breadth, crown and keel draw in, and the peak.
    TearDrop([f64; 3], f64),
}

/// A body in closed form.
pub struct Truth {
    pub family: u64,
    length: f64,
    form: Form,
}

/// A dent: where it is deepest, mm aft, its standard deviation lengthwise, and how deep, over zero outward, mm.
#[derive(Clone, Copy)]
pub struct Dent {
    pub x: f64,
    pub sigma: f64,
    pub by: f64,
    /// Whether it is of the lower shell; else of the upper one.
    pub lower: bool,
    /// A local one: its middle and half its width, as shares of the girth; else it is of the whole shell.
    pub local: Option<[f64; 2]>,
}

/// A body as it was read.
pub struct Read {
    pub lines: Lines,
    /// Without its dent, by the same noise.
    pub clean: Lines,
    /// How far each point was shifted, mm.
    pub shifts: Vec<f64>,
    pub tolerance: f64,
    pub dent: Option<Dent>,
}

impl Truth {
    fn of(dice: &mut Dice, family: u64) -> Self {
        let (length, form) = match family {
            0 => {
                let shape = Shape::of(dice);
                (shape.length, Form::Shoulders(shape))
            }
            1 => {
                let length = dice.between(3000.0, 6000.0);
                let k = length / 4013.2;
                let (h, j) = (
                    dice.between(400.0, 520.0) * k,
                    dice.between(150.0, 260.0) * k,
                );
                let mut between = |a: f64, b: f64| dice.between(a, b);
                let breadth = Conic::of(
                    length,
                    [h, -between(0.005, 0.03)],
                    [between(90.0, 160.0) * k, -between(0.14, 0.19)],
                    between(0.8, 1.3),
                );
                let joint = Conic::of(
                    length,
                    [0.0, 0.0],
                    [j, j / length * between(1.5, 2.2)],
                    between(0.8, 1.3),
                );
                let crown = Conic::of(
                    length,
                    [between(560.0, 700.0) * k, -0.005],
                    [between(440.0, 520.0) * k, -between(0.055, 0.09)],
                    between(0.8, 1.3),
                );
                let keel = Conic::of(
                    length,
                    [-between(380.0, 450.0) * k, 0.004],
                    [between(0.0, 80.0) * k, between(0.17, 0.22)],
                    between(0.9, 1.5),
                );
                let lines = [breadth, joint, crown, keel];
                (length, Form::Conics(lines, between(0.43, 0.48)))
            }
            _ => {
                let length = dice.between(3000.0, 6000.0);
                let peak = dice.between(0.1, 0.35);
                let [breadth, crown] = [dice.between(0.7, 0.88), dice.between(100.0, 220.0)];
                // Something is left of its height aft.
                let keel = dice.between(600.0, 850.0).min(920.0 - crown);
                (length, Form::TearDrop([breadth, crown, keel], peak))
            }
        };
        Self {
            family,
            length,
            form,
        }
    }

    fn peaked(&self) -> bool {
        match &self.form {
            Form::Shoulders(shape) => shape.is_peaked(),
            Form::Conics(..) | Form::TearDrop(..) => true,
        }
    }

    fn has_joint(&self) -> bool {
        matches!(self.form, Form::Conics(..))
    }

    /// Sections at a distance aft: half-breadth and height from crown (0) to keel (1).
    fn section(&self, x: f64) -> Box<dyn Fn(f64) -> [f64; 2] + '_> {
        let q = x / self.length;
        match &self.form {
            Form::Shoulders(shape) => Box::new(move |t| shape.at(x, PI * t)),
            Form::Conics(lines, rho) => {
                let [b, joint, crown, keel] = [0, 1, 2, 3].map(|k| lines[k].y(x));
                let h = crown - joint;
                let radius = (b * b + h * h) / (2.0 * b);
                let turn = (h / radius).clamp(-1.0, 1.0).asin();
                let corner = rho / (1.0 - rho);
                Box::new(move |t| {
                    let [y, z] = if t < 0.5 {
                        let angle = turn * (1.0 - 2.0 * t);
                        [
                            b - radius + radius * angle.cos(),
                            joint + radius * angle.sin(),
                        ]
                    } else {
                        let [a, c, d] = shares(2.0 * t - 1.0, corner);
                        [(a + c) * b, a * joint + (c + d) * keel]
                    };
                    [y, AXIS + z]
                })
            }
            Form::TearDrop([breadth, crown, keel], peak) => {
                let k = self.length / 4000.0;
                let b = k * 500.0 * (1.0 - breadth * q * q * (1.5 - 0.5 * q));
                let zc = k * (520.0 - crown * q * q);
                let zk = k * (-520.0 + keel * q * q * (1.35 - 0.35 * q));
                let a = (zc - zk) / 2.0;
                Box::new(move |t| {
                    let t = PI * t;
                    let y = b * (t.sin() - 0.08 * q * (2.0 * t).sin());
                    let z =
                        f64::midpoint(zc, zk) + a * t.cos() + 0.06 * a * (1.0 - (2.0 * t).cos())
                            - peak * a * t.sin() * (1.0 + t.cos()) / 2.0;
                    [y, AXIS + z]
                })
            }
        }
    }

    fn girth(&self, x: f64) -> f64 {
        let at = self.section(x);
        let step = |i: u32| apart(at(f64::from(i) / 200.0), at(f64::from(i + 1) / 200.0));
        (0..200).map(step).sum()
    }

    /// How far a dent shifts the places `t` of a section along its normal.
    fn shifts(&self, dent: &Dent, x: f64, places: &[f64]) -> Vec<f64> {
        const PARTS: u32 = 800;
        let at = self.section(x);
        let t = |i: u32| f64::from(i) / f64::from(PARTS);
        let mut girth = vec![0.0];
        let (mut widest, mut most) = (0, f64::NEG_INFINITY);
        for i in 0..=PARTS {
            let here = at(t(i));
            if here[0] > most {
                (widest, most) = (i, here[0]);
            }
            if i > 0 {
                girth.push(girth[girth.len() - 1] + apart(at(t(i - 1)), here));
            }
        }
        let whole = girth[girth.len() - 1];
        let widest_t = t(widest);
        let share = |place: f64| {
            let steps = place * f64::from(PARTS);
            let k = (0..PARTS as usize - 1)
                .rev()
                .find(|k| *k as f64 <= steps)
                .unwrap_or(0);
            (girth[k] + (girth[k + 1] - girth[k]) * (steps - k as f64)) / whole
        };
        let widest = share(widest_t);
        let along = dent.by * (-0.5 * ((x - dent.x) / dent.sigma).powi(2)).exp();
        let one = |place: &f64| {
            let g = share(*place);
            if let Some([middle, half]) = dent.local {
                let middle = if dent.lower {
                    widest + (1.0 - widest) * middle
                } else {
                    widest * middle
                };
                let q = ((g - middle) / half).abs().min(1.0);
                return along * (1.0 - q * q).powi(2);
            }
            if self.has_joint() && (place - widest_t).abs() < 1e-9 {
                return 0.0;
            }
            let from = if dent.lower { g - widest } else { widest - g };
            let q = (from / 0.06).clamp(0.0, 1.0);
            along * q * q * (3.0 - 2.0 * q)
        };
        places.iter().map(one).collect()
    }

    /// Largest distance of the body from a loft over a dent, out to 1.5 of its standard deviations.
    pub fn off(&self, dent: &Dent, loft: &Loft) -> f64 {
        let from = (dent.x - 1.5 * dent.sigma).max(0.0);
        let to = (dent.x + 1.5 * dent.sigma).min(self.length);
        self.off_between([from, to], 12, loft, &|x, places| {
            let shifts = self.shifts(dent, x, places).into_iter();
            shifts
                .map(|shift| shift.abs() > 0.02 * dent.by.abs())
                .collect()
        })
    }

    /// Largest distance of the body from a loft, from its first end to its last.
    pub fn off_anywhere(&self, loft: &Loft) -> f64 {
        self.off_between([0.0, self.length], 96, loft, &|_, places| {
            vec![true; places.len()]
        })
    }

    /// Largest distance of the body from a loft between two distances aft, in so many parts, where `counts` says so of places of
    /// the section there.
    fn off_between(
        &self,
        [from, to]: [f64; 2],
        parts: u32,
        loft: &Loft,
        counts: &dyn Fn(f64, &[f64]) -> Vec<bool>,
    ) -> f64 {
        let mut worst = 0.0_f64;
        let places: Vec<f64> = (0..=240).map(|i| f64::from(i) / 240.0).collect();
        for k in 0..=parts {
            let x = from + (to - from) * f64::from(k) / f64::from(parts);
            let row = loft.surface().row(loft.u_at(x));
            let chords: Vec<[f64; 2]> = (0..=300)
                .map(|i| row.jet(f64::from(i) / 300.0).s)
                .map(|s| [s.y, s.z])
                .collect();
            let at = self.section(x);
            for (place, counts) in places.iter().zip(counts(x, &places)) {
                if counts {
                    worst = worst.max(from_chords(at(*place), &chords));
                }
            }
        }
        worst
    }
}

fn apart(a: [f64; 2], b: [f64; 2]) -> f64 {
    (a[0] - b[0]).hypot(a[1] - b[1])
}

fn from_chords(p: [f64; 2], chords: &[[f64; 2]]) -> f64 {
    let to = |pair: &[[f64; 2]]| {
        let d = [pair[1][0] - pair[0][0], pair[1][1] - pair[0][1]];
        let f = [p[0] - pair[0][0], p[1] - pair[0][1]];
        let square = (d[0] * d[0] + d[1] * d[1]).max(1e-12);
        let share = ((f[0] * d[0] + f[1] * d[1]) / square).clamp(0.0, 1.0);
        apart([f[0] - share * d[0], f[1] - share * d[1]], [0.0; 2])
    };
    chords.windows(2).map(to).fold(f64::INFINITY, f64::min)
}

/// Seeds that follow each other make dice that have nothing in common (the finaliser of `SplitMix64`).
fn mixed(seed: u64) -> u64 {
    let mut z = seed.wrapping_add(0x9E37_79B9_7F4A_7C15);
    z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
    z ^ (z >> 31)
}

fn planted(dice: &mut Dice, xs: &[f64]) -> Dent {
    let station = 2 + dice.below(xs.len() - 4);
    let lower = dice.roll() < 0.5;
    let sigma = dice.between(150.0, 350.0);
    let by = dice.between(5.0, 12.0) * dice.sign();
    let local = dice.roll() < 0.5;
    let middle = if lower {
        dice.between(0.4, 1.0)
    } else {
        dice.between(0.0, 0.6)
    };
    let half = dice.between(0.2, 0.35);
    Dent {
        x: xs[station],
        sigma,
        by,
        lower,
        local: local.then_some([middle, half]),
    }
}

/// The body of a seed, read at irregular stations and girths with noise, with a dent or without; with so many stations, and
/// so many readings at the fullest, where that is said.
pub fn dented(seed: u64, with_dent: bool, size: Option<[usize; 2]>) -> (Truth, Read) {
    let mut dice = Dice::of(mixed(seed));
    let truth = Truth::of(&mut dice, seed % 3);
    let noise = dice.between(0.4, 0.9);
    let [count, most] = [11 + dice.below(10), 10 + dice.below(8)];
    let [count, most] = size.unwrap_or([count, most]);
    let crowd = dice.between(0.0, 0.5);
    let jogs: Vec<f64> = (0..count).map(|_| dice.between(-0.3, 0.3)).collect();
    let xs: Vec<f64> = (0..count)
        .map(|s| {
            let jog = if s == 0 || s + 1 == count {
                0.0
            } else {
                jogs[s]
            };
            let q = (s as f64 + jog) / (count - 1) as f64;
            truth.length * (q - crowd * (2.0 * PI * q).sin() / (2.0 * PI))
        })
        .collect();
    let dent = with_dent.then(|| planted(&mut Dice::of(mixed(!seed)), &xs));
    let girths: Vec<f64> = xs.iter().map(|x| truth.girth(*x)).collect();
    let largest = girths.iter().copied().fold(0.0, f64::max);
    let joint = On::RunLine(RunLineId(0));
    let (mut table, mut clean): (Table, Table) = (Vec::new(), Vec::new());
    let mut shifts = Vec::new();
    for (x, girth) in xs.iter().zip(&girths) {
        let n = (7..most).find(|n| *n as f64 >= girth / largest * most as f64);
        let n = n.unwrap_or(most);
        let mut places: Vec<f64> = (0..=n)
            .map(|i| {
                let end = i == 0 || i == n;
                let jog = if end { 0.0 } else { dice.between(-0.3, 0.3) };
                (i as f64 + jog) / n as f64
            })
            .collect();
        let middle = |a: &usize, b: &usize| {
            let off = |i: &usize| (places[*i] - 0.5).abs();
            off(a).total_cmp(&off(b))
        };
        let marked = truth.has_joint().then(|| (0..=n).min_by(middle)).flatten();
        if let Some(at) = marked {
            places[at] = 0.5;
        }
        let at = truth.section(*x);
        let by = match &dent {
            Some(dent) => truth.shifts(dent, *x, &places),
            None => vec![0.0; places.len()],
        };
        let (mut points, mut without) = (Vec::new(), Vec::new());
        for (i, (place, by)) in places.iter().zip(&by).enumerate() {
            let end = i == 0 || i == n;
            let on = match i {
                0 => On::Crown,
                _ if i == n => On::Keel,
                _ if marked == Some(i) => joint,
                _ => On::Free,
            };
            let [y, z] = at(*place);
            let normal = match i {
                0 => [0.0, 1.0],
                _ if i == n => [0.0, -1.0],
                _ => {
                    let (a, b) = (at(place - 1e-5), at(place + 1e-5));
                    let long = apart(a, b);
                    [-(b[1] - a[1]) / long, (b[0] - a[0]) / long]
                }
            };
            let noise = [(); 2].map(|()| dice.between(-noise, noise));
            let read = |shift: f64| {
                let round = |v: f64| (v * 10.0).round() / 10.0;
                let y = if end {
                    0.0
                } else {
                    round(y + shift * normal[0] + noise[0])
                };
                (on, [y, round(z + shift * normal[1] + noise[1])])
            };
            points.push(read(*by));
            without.push(read(0.0));
            shifts.push(*by);
        }
        table.push((*x, points));
        clean.push((*x, without));
    }
    let run_lines = if truth.has_joint() {
        vec![RunLine {
            id: RunLineId(0),
            name: "joint".to_owned(),
            kind: RunKind::Smooth,
            joint: false,
        }]
    } else {
        Vec::new()
    };
    let body = Body {
        tolerance: 1.25 * noise,
        ends: Ends::default(),
        crown: if truth.peaked() {
            Peak::Peaked
        } else {
            Peak::Smooth
        },
        keel: Peak::Smooth,
        run_lines,
    };
    let read = Read {
        lines: body.lines(&table),
        clean: body.lines(&clean),
        shifts,
        tolerance: body.tolerance,
        dent,
    };
    (truth, read)
}
