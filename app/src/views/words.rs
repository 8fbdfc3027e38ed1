//! Figures in a person's words: lengths to be read aloud, small ones, bends, angles, places, and units by their names.

use geometry::document::Lines;
use geometry::lines::PickUp;
use geometry::units::{
    Digits, FLAT, LengthUnit, Message, RadiusUnit, format_length, format_length_to, parse_length,
    radius_words,
};

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

/// The radius of a curvature, 1/mm and negative where convex, after `before`: `hollow, radius 8.43 m`, `flat`.
pub fn bend_words(curvature: f64, before: &str, unit: LengthUnit) -> String {
    said(curvature, before, |r| radius_words(r, unit))
}

/// The same, in the unit of the radii that stand beside it.
pub fn bend_in(curvature: f64, before: &str, unit: RadiusUnit) -> String {
    said(curvature, before, |r| unit.words(r))
}

/// The unit of the radii of these curvatures, 1/mm.
pub fn unit_of_bends(curvatures: impl IntoIterator<Item = f64>, unit: LengthUnit) -> RadiusUnit {
    let radii = curvatures.into_iter().filter_map(PickUp::radius);
    RadiusUnit::of(radii, unit)
}

/// The radii across and along at one place, in one unit.
pub fn both_bends([across, along]: [f64; 2], unit: LengthUnit) -> [String; 2] {
    let one = unit_of_bends([across, along], unit);
    [across, along].map(|curvature| bend_in(curvature, "", one))
}

fn said(curvature: f64, before: &str, words: impl Fn(f64) -> String) -> String {
    match PickUp::radius(curvature) {
        Some(r) if r.abs() < FLAT => {
            let hollow = if r < 0.0 { "hollow, " } else { "" };
            format!("{hollow}{before}{}", words(r))
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

/// A length in mm whatever the unit: tolerances and residuals are too small for sixteenths, some for tenths.
pub fn small(mm: f64) -> String {
    let digits = if mm.abs() < 0.05 {
        Digits::Fine
    } else {
        Digits::Plain
    };
    format!(
        "{} mm",
        format_length_to(mm, LengthUnit::Millimetres, digits)
    )
}

/// The place of x in station numbers, where the labels are numbers; else mm aft.
pub fn station_at(lines: &Lines, x: f64) -> String {
    format!("{:.0}", lines.body.station_number(x).unwrap_or(x))
}

/// Where something across the body is asked for in a box of this name, with what it is called: at a station by its name,
/// between two whose names are numbers, or so far aft of the datum, with a unit; mm.
pub fn place_across(lines: &Lines, text: &str, asked: &str) -> Result<(String, f64), String> {
    if let Some(x) = lines.body.x_of_station(text) {
        return Ok((format!("STA {text}"), x));
    }
    let stations = &lines.body.stations;
    if let ([first, .., last], Ok(_)) = (&stations[..], text.parse::<f64>()) {
        return Err(format!(
            "{asked}: {text} is no station from {} to {}. Type a station, a number between two, or how far aft, with its \
             unit, as 700 mm.",
            first.label, last.label
        ));
    }
    let unit = lines.about.unit.along();
    let x =
        parse_length(text, unit).map_err(|error| format!("{asked}: {}", error.message(unit)))?;
    Ok((format!("x {text}"), x))
}

/// So many of something.
pub fn count(n: usize, one: &str, many: &str) -> String {
    format!("{n} {}", if n == 1 { one } else { many })
}

/// The unit with this name in a list.
pub fn unit_named(name: &str) -> LengthUnit {
    match name {
        "in" => LengthUnit::Inches,
        "ft-in-8" => LengthUnit::FeetInchesEighths,
        _ => LengthUnit::Millimetres,
    }
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
        assert_eq!(
            both_bends([-1.0 / 820.0, 1.0 / 12_000.0], mm),
            ["0.82 m", "hollow, 12 m"]
        );
        assert_eq!(
            both_bends([-1.0 / 820.0, 1.0 / 1_200.0], mm),
            ["820 mm", "hollow, 1200 mm"]
        );
        assert_eq!(degrees(-core::f64::consts::FRAC_PI_2), "−90.00°");
        assert_eq!(degrees(-1e-9), "0.00°");
    }

    #[test]
    fn small_figures_units_and_places_are_said() {
        assert_eq!(small(0.049), "0.05 mm");
        assert_eq!(small(0.06), "0.1 mm");
        assert_eq!(small(1.26), "1.3 mm");
        for unit in ["mm", "in", "ft-in-8"] {
            assert_eq!(unit_named(unit).short(), unit);
        }
        let lines = Lines::empty("", LengthUnit::Millimetres);
        assert_eq!(station_at(&lines, 1234.4), "1234", "no stations: mm aft");
    }

    #[test]
    fn counts_are_said() {
        assert_eq!(count(1, "sheet", "sheets"), "1 sheet");
        assert_eq!(count(0, "sheet", "sheets"), "0 sheets");
        let lines = Lines::empty("", LengthUnit::Inches);
        let (name, x) = place_across(&lines, "10", "From").unwrap();
        assert_eq!((name.as_str(), (x * 10.0).round()), ("x 10", 2540.0));
        let refused = place_across(&lines, "ten", "From").unwrap_err();
        assert!(refused.starts_with("From: "), "{refused}");
    }

    #[test]
    fn feet_inches_eighths_are_said_as_a_person_says_them() {
        says(407.9875, "1 foot 4 inches and a sixteenth");
        says(25.4 / 16.0, "a sixteenth");
        says(0.0, "nothing");
        says(-3.175, "minus 1 eighth");
        says(12.0 * 25.4 * 2.0, "2 feet");
    }
}
