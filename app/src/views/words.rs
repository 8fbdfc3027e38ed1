//! Figures in a person's words: lengths to be read aloud, radii.

use geometry::lines::PickUp;
use geometry::units::{LengthUnit, format_length};

/// A length for reading aloud: in feet-inches-eighths as words.
pub fn spoken(mm: f64, unit: LengthUnit) -> String {
    let text = format_length(mm, unit);
    match unit {
        LengthUnit::Millimetres => format!("{text} millimetres"),
        LengthUnit::Inches => format!("{text} inches"),
        LengthUnit::FeetInchesEighths => {
            let (minus, figures) = match text.strip_prefix('-') {
                Some(rest) => ("minus ", rest),
                None => ("", text.as_str()),
            };
            let (figures, over) = match figures.strip_suffix('+') {
                Some(rest) => (rest, true),
                None => (figures, false),
            };
            let parts: Vec<&str> = figures.split('-').collect();
            let [feet, inches, eighths] = parts[..] else {
                return text;
            };
            let count = |figure: &str, one: &str, many: &str| {
                (figure != "0").then(|| {
                    let word = if figure == "1" { one } else { many };
                    format!("{figure} {word}")
                })
            };
            let mut words: Vec<String> = [
                count(feet, "foot", "feet"),
                count(inches, "inch", "inches"),
                count(eighths, "eighth", "eighths"),
            ]
            .into_iter()
            .flatten()
            .collect();
            if over {
                let word = if words.is_empty() {
                    "a sixteenth"
                } else {
                    "and a sixteenth"
                };
                words.push(word.to_owned());
            }
            if words.is_empty() {
                words.push("nothing".to_owned());
            }
            format!("{minus}{}", words.join(" "))
        }
    }
}

/// A radius beyond this is flat to any template, mm.
pub const FLAT: f64 = 1e6;

/// What round radii are multiples of in a unit, mm.
pub fn round_part(unit: LengthUnit) -> f64 {
    match unit {
        LengthUnit::Millimetres => 1.0,
        LengthUnit::Inches => 25.4,
        LengthUnit::FeetInchesEighths => 304.8,
    }
}

/// A radius as a person says it, mm: `14.6 m`, `820 mm`, `32.3 in`, `2-8-2`, without a tail of zeros.
pub fn radius_words(radius: f64, unit: LengthUnit) -> String {
    let size = radius.abs();
    if size.is_nan() || size >= FLAT {
        return "flat".to_owned();
    }
    let plain = |value: f64, decimals: usize| {
        let text = geometry::units::fixed(value, decimals);
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

/// The radius of a curvature, 1/mm and negative where convex, after `before`: `hollow, radius 8.43 m`, `flat`.
pub fn bend_words(curvature: f64, before: &str, unit: LengthUnit) -> String {
    match PickUp::radius(curvature) {
        Some(r) if r.abs() < FLAT => {
            let hollow = if r < 0.0 { "hollow, " } else { "" };
            format!("{hollow}{before}{}", radius_words(r, unit))
        }
        _ => "flat".to_owned(),
    }
}

/// An angle, rad, in degrees: with a minus sign that is one.
pub fn degrees(angle: f64) -> String {
    let degrees = angle.to_degrees();
    let sign = if degrees < -0.005 { "−" } else { "" };
    format!("{sign}{:.2}°", degrees.abs())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn says(mm: f64, words: &str) {
        assert_eq!(spoken(mm, LengthUnit::FeetInchesEighths), words);
    }

    #[test]
    fn bends_and_angles_are_said_with_their_sign() {
        let mm = LengthUnit::Millimetres;
        assert_eq!(
            bend_words(1.0 / 8430.0, "radius ", mm),
            "hollow, radius 8.43 m"
        );
        assert_eq!(bend_words(-1.0 / 820.0, "", mm), "820 mm");
        assert_eq!(bend_words(-1e-12, "radius ", mm), "flat");
        assert_eq!(degrees(-core::f64::consts::FRAC_PI_2), "−90.00°");
        assert_eq!(degrees(-1e-9), "0.00°");
    }

    #[test]
    fn feet_inches_eighths_are_said_as_a_person_says_them() {
        says(407.9875, "1 foot 4 inches and a sixteenth");
        says(25.4 / 16.0, "a sixteenth");
        says(0.0, "nothing");
        says(-3.175, "minus 1 eighth");
        says(12.0 * 25.4 * 2.0, "2 feet");
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
