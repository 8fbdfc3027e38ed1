//! The demo's body in closed form, as it was before anybody read it: conics along it, an ogive above the joint, a conic
//! quadrant below. The parameters are those of `data/demo_truth.json`.

/// Its length, mm.
pub const LENGTH: f64 = 4013.2;

/// A rational quadratic y(x): its ends, the corner where their tangents meet, and that corner's weight.
struct Conic {
    places: [[f64; 2]; 3],
    weight: f64,
}

impl Conic {
    /// From one height and slope to another over the length.
    const fn of(fore: [f64; 2], aft: [f64; 2], weight: f64) -> Self {
        let corner = (aft[0] - aft[1] * LENGTH - fore[0]) / (fore[1] - aft[1]);
        let middle = [corner, fore[0] + fore[1] * corner];
        Self {
            places: [[0.0, fore[0]], middle, [LENGTH, aft[0]]],
            weight,
        }
    }

    fn at(&self, t: f64) -> [f64; 2] {
        let share = shares(t, self.weight);
        [0, 1].map(|k| (0..3).map(|i| share[i] * self.places[i][k]).sum())
    }

    fn y(&self, x: f64) -> f64 {
        let (mut low, mut high) = (0.0, 1.0);
        for _ in 0..60 {
            let middle = f64::midpoint(low, high);
            if self.at(middle)[0] < x {
                low = middle;
            } else {
                high = middle;
            }
        }
        self.at(f64::midpoint(low, high))[1]
    }
}

/// What each of three places counts for in a rational quadratic.
fn shares(t: f64, weight: f64) -> [f64; 3] {
    let parts = [(1.0 - t) * (1.0 - t), 2.0 * t * (1.0 - t) * weight, t * t];
    let sum: f64 = parts.iter().sum();
    parts.map(|part| part / sum)
}

const HALF_BREADTH: Conic = Conic::of([462.0, -0.015], [104.0, -0.155], 1.0);
const JOINT: Conic = Conic::of([609.6, 0.0], [815.6, 0.09], 1.0);
const CROWN: Conic = Conic::of([1249.6, -0.005], [1095.6, -0.07], 1.0);
const KEEL: Conic = Conic::of([178.6, 0.004], [667.6, 0.205], 1.25);

/// Its section at one place.
#[derive(Clone, Copy, Debug)]
pub struct Section {
    half_breadth: f64,
    joint: f64,
    crown: f64,
    keel: f64,
    corner: f64,
}

impl Section {
    /// At a distance aft, mm.
    pub fn at(x: f64) -> Self {
        let q = x / LENGTH;
        let rho = 0.462 - 0.0478 * q * q * (3.0 - 2.0 * q);
        Self {
            half_breadth: HALF_BREADTH.y(x),
            joint: JOINT.y(x),
            crown: CROWN.y(x),
            keel: KEEL.y(x),
            corner: rho / (1.0 - rho),
        }
    }

    /// Half-breadth and height from crown (0) to joint (1): a circular arc, upright at the joint.
    pub fn upper(&self, t: f64) -> [f64; 2] {
        let (b, h) = (self.half_breadth, self.crown - self.joint);
        let radius = (b * b + h * h) / (2.0 * b);
        let up = h * (1.0 - t);
        let y = b - radius + (radius * radius - up * up).sqrt();
        [y, self.joint + up]
    }

    /// Half-breadth and height from joint (0) to keel (1): upright at the joint, level at the keel.
    pub fn lower(&self, t: f64) -> [f64; 2] {
        let [a, b, c] = shares(t, self.corner);
        [
            (a + b) * self.half_breadth,
            a * self.joint + (b + c) * self.keel,
        ]
    }
}
