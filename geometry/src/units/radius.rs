//! Radii as a person says them.

use super::{LengthUnit, fixed, format_length};

/// A radius beyond this is flat to any template, mm.
pub const FLAT: f64 = 1e6;

/// What round radii are multiples of in a unit, mm.
#[must_use]
pub fn round_part(unit: LengthUnit) -> f64 {
    match unit {
        LengthUnit::Millimetres => 1.0,
        LengthUnit::Inches => 25.4,
        LengthUnit::FeetInchesEighths => 304.8,
    }
}

/// A radius as a person says it, mm: `14.6 m`, `820 mm`, `32.3 in`, `2-8-2`, without a tail of zeros.
#[must_use]
pub fn radius_words(radius: f64, unit: LengthUnit) -> String {
    let size = radius.abs();
    if size.is_nan() || size >= FLAT {
        return "flat".to_owned();
    }
    let plain = |value: f64, decimals: usize| {
        let text = fixed(value, decimals);
        let short = text.trim_end_matches('0').trim_end_matches('.');
        if decimals > 0 { short.to_owned() } else { text }
    };
    match unit {
        LengthUnit::Millimetres if size >= 9_950.0 => format!("{} m", plain(size / 1000.0, 1)),
        LengthUnit::Millimetres if size >= 999.5 => format!("{} m", plain(size / 1000.0, 2)),
        LengthUnit::Millimetres if size < 10.0 => format!("{} mm", plain(size, 1)),
        LengthUnit::Millimetres => format!("{} mm", plain(size, 0)),
        LengthUnit::Inches => format!("{} in", plain(size / 25.4, 1)),
        LengthUnit::FeetInchesEighths => format_length(size, unit),
    }
}

/// The unit in which all radii of one table, legend or sentence are said, so that they compare at a glance.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct RadiusUnit {
    unit: LengthUnit,
    /// Metres instead of millimetres.
    metres: bool,
}

impl RadiusUnit {
    /// For these radii, mm: metres where the largest that is not flat is 10 m or more, else millimetres.
    #[must_use]
    pub fn of(radii: impl IntoIterator<Item = f64>, unit: LengthUnit) -> Self {
        const LONG: f64 = 9_950.0; // mm: 10 m, as it is rounded
        let sizes = radii.into_iter().map(f64::abs);
        let mut told = sizes.filter(|size| size.is_finite() && *size < FLAT);
        Self {
            unit,
            metres: told.any(|size| size >= LONG),
        }
    }

    /// A radius in it, mm: `14.6 m` and `0.82 m`, or `820 mm` and `1240 mm`.
    #[must_use]
    pub fn words(self, radius: f64) -> String {
        let size = radius.abs();
        let flat = size.is_nan() || size >= FLAT;
        match self.unit {
            LengthUnit::Millimetres if !flat && self.metres => {
                let decimals = match size {
                    size if size < 99.5 => 4,
                    size if size < 995.0 => 3,
                    size if size < 9_950.0 => 2,
                    _ => 1,
                };
                let text = fixed(size / 1000.0, decimals);
                format!("{} m", text.trim_end_matches('0').trim_end_matches('.'))
            }
            LengthUnit::Millimetres if !flat && size >= 999.5 => format!("{} mm", fixed(size, 0)),
            unit => radius_words(radius, unit),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn radii_that_stand_together_are_in_one_unit() {
        let mm = LengthUnit::Millimetres;
        let said = |radii: &[f64], unit: LengthUnit| -> Vec<String> {
            let one = RadiusUnit::of(radii.iter().copied(), unit);
            radii.iter().map(|radius| one.words(*radius)).collect()
        };
        assert_eq!(
            said(&[820.0, -1_240.0, 5.24], mm),
            ["820 mm", "1240 mm", "5.2 mm"]
        );
        assert_eq!(
            said(&[820.0, -14_600.0, 1_240.0, 2e6], mm),
            ["0.82 m", "14.6 m", "1.24 m", "flat"]
        );
        // What is flat asks for no metres.
        assert_eq!(
            said(&[2e6, 998.0, 9_940.0], mm),
            ["flat", "998 mm", "9940 mm"]
        );
        assert_eq!(
            said(&[820.0, 20_000.0], LengthUnit::Inches),
            ["32.3 in", "787.4 in"]
        );
    }

    #[test]
    fn radii_have_no_tail_of_zeros() {
        let mm = LengthUnit::Millimetres;
        assert_eq!(radius_words(20_000.0, mm), "20 m");
        assert_eq!(radius_words(8_430.0, mm), "8.43 m");
        assert_eq!(radius_words(999.7, mm), "1 m");
        assert_eq!(radius_words(138.2, mm), "138 mm");
        assert_eq!(radius_words(5e6, mm), "flat");
        assert_eq!(radius_words(820.0, LengthUnit::Inches), "32.3 in");
        assert_eq!(radius_words(200.0 * 25.4, LengthUnit::Inches), "200 in");
        let feet = LengthUnit::FeetInchesEighths;
        assert_eq!(radius_words(60.0 * round_part(feet), feet), "60-0-0");
    }
}
