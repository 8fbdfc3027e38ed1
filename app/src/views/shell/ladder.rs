//! The scale of the shading: a ladder of round radii in the person's unit.

use geometry::num;
use geometry::units::{FLAT, LengthUnit, RadiusUnit};

const INCH: f64 = 25.4;

/// Widest ladder: the flat end over the tight one.
const WIDEST: f64 = 40.0;

/// Steps of a decade.
const STEPS: [f64; 6] = [1.0, 1.5, 2.0, 3.0, 5.0, 8.0];

/// Radii from tight to flat, with the round ones between.
#[derive(Clone, Debug, PartialEq)]
pub struct Ladder {
    /// Radius of the tight end, mm.
    pub tight: f64,
    /// Radius that counts as flat, mm.
    pub flat: f64,
    /// Round radii between, mm, the tightest first, and what they are called.
    pub ticks: Vec<(f64, String)>,
}

/// Round radii in a unit, from a millimetre to a kilometre.
fn rungs(unit: LengthUnit) -> Vec<f64> {
    let decades = |least: f64, count: u32| {
        (0..count).flat_map(move |decade| {
            let ten = (0..decade).fold(least, |ten, _| ten * 10.0);
            STEPS.map(|step| step * ten)
        })
    };
    match unit {
        LengthUnit::Millimetres => decades(1.0, 6).collect(),
        LengthUnit::Inches => decades(INCH / 10.0, 6).collect(),
        LengthUnit::FeetInchesEighths => [0.5, 1.0, 1.5, 2.0, 3.0, 4.0, 6.0, 9.0]
            .map(|inches| inches * INCH)
            .into_iter()
            .chain(decades(12.0 * INCH, 4))
            .collect(),
    }
}

impl Ladder {
    /// The ladder that holds nearly all of these curvatures: ends at the second and the ninety-fifth hundredth.
    ///
    /// # Units
    /// `curvatures`: 1/mm; those that are no number are passed over.
    pub fn of(curvatures: impl Iterator<Item = f64>, unit: LengthUnit) -> Self {
        let mut radii: Vec<f64> = curvatures
            .filter(|curvature| curvature.is_finite())
            .map(|curvature| (1.0 / curvature.abs()).min(FLAT))
            .collect();
        radii.sort_by(f64::total_cmp);
        let at = |hundredth: usize| radii.get(radii.len() * hundredth / 100).copied();
        let tight = at(2).unwrap_or(100.0).clamp(1.0, FLAT / 10.0);
        let flat = at(95).unwrap_or(FLAT).clamp(tight * 4.0, tight * WIDEST);
        let rungs = rungs(unit);
        let first = rungs.iter().rposition(|r| *r <= tight * 1.02).unwrap_or(0);
        let last = rungs
            .iter()
            .position(|r| *r >= flat * 0.98)
            .unwrap_or(rungs.len() - 1);
        let between = rungs.get(first..last).unwrap_or_default();
        let tight = rungs[first] * 0.92;
        let flat = rungs[last];
        let one = RadiusUnit::of(between.iter().copied(), unit);
        Self {
            tight,
            flat,
            ticks: between.iter().map(|r| (*r, one.words(*r))).collect(),
        }
    }

    /// Where a radius lies, from 0 at the tight end to 1 at the flat one.
    pub fn place(&self, radius: f64) -> f64 {
        let part = num::ln(radius / self.tight) / num::ln(self.flat / self.tight);
        part.clamp(0.0, 1.0)
    }
}
