//! Contrast of every pair of colours that stand on one another, in both looks.
#![expect(
    clippy::unwrap_used,
    clippy::print_stdout,
    reason = "a test ends at its first fault and says what it measured"
)]

use std::collections::BTreeMap;

/// Least contrast of letters, and of marks and edges of controls.
///
/// # Source
/// WCAG 2.2, success criteria 1.4.3 and 1.4.11.
const LETTERS: f64 = 4.5;
const MARKS: f64 = 3.0;

/// Red, green, blue and opacity, from 0 to 1.
type Colour = [f64; 4];

/// The roles of the style sheet, light and dark.
fn roles() -> BTreeMap<String, [Colour; 2]> {
    let path = format!("{}/public/styles/tokens.css", env!("CARGO_MANIFEST_DIR"));
    let text = std::fs::read_to_string(path).unwrap();
    let role = |line: &str| {
        let (name, value) = line
            .trim()
            .strip_prefix("--")?
            .split_once(": light-dark(")?;
        let (light, dark) = value.strip_suffix(");")?.split_once(", ")?;
        Some((name.to_owned(), [colour(light), colour(dark)]))
    };
    text.lines().filter_map(role).collect()
}

fn colour(text: &str) -> Colour {
    let digits = text.strip_prefix('#').unwrap();
    let part = |at: usize| {
        let two = digits.get(2 * at..2 * at + 2)?;
        Some(f64::from(u8::from_str_radix(two, 16).unwrap()) / 255.0)
    };
    [0, 1, 2, 3].map(|at| part(at).unwrap_or(1.0))
}

/// A colour as it looks on one behind it.
fn on(above: Colour, behind: Colour) -> Colour {
    let mixed = |i: usize| above[i] * above[3] + behind[i] * (1.0 - above[3]);
    [mixed(0), mixed(1), mixed(2), 1.0]
}

/// Relative luminance and contrast ratio.
///
/// # Source
/// WCAG 2.2, definitions of both.
fn contrast(a: Colour, b: Colour) -> f64 {
    let light = |c: Colour| {
        let linear = |part: f64| {
            if part <= 0.040_45 {
                part / 12.92
            } else {
                geometry::num::powf((part + 0.055) / 1.055, 2.4)
            }
        };
        0.2126 * linear(c[0]) + 0.7152 * linear(c[1]) + 0.0722 * linear(c[2])
    };
    let (a, b) = (light(a), light(b));
    (a.max(b) + 0.05) / (a.min(b) + 0.05)
}

#[test]
fn the_formula_is_the_published_one() {
    // Black on white is 21 : 1, and #777 on white 4.48 : 1, as WCAG's own understanding documents say.
    let (white, black) = (colour("#FFFFFF"), colour("#000000"));
    assert!((contrast(white, black) - 21.0).abs() < 1e-9);
    assert!((contrast(white, colour("#777777")) - 4.48).abs() < 0.005);
}

#[test]
fn letters_and_marks_stand_out_in_both_looks() {
    let roles = roles();
    let of = |name: &str, look: usize| roles[name][look];
    let mut low = Vec::new();
    let mut least = f64::INFINITY;
    let mut check = |above: &str, behind: &str, wanted: f64| {
        for (look, name) in ["light", "dark"].into_iter().enumerate() {
            let ground = on(of(behind, look), of("sheet", look));
            let found = contrast(on(of(above, look), ground), ground);
            least = least.min(found / wanted);
            if found < wanted {
                low.push(format!(
                    "{above} on {behind}, {name}: {found:.2}, wanted {wanted}"
                ));
            }
        }
    };
    for ground in ["paper", "sheet", "pick-wash", "band"] {
        for letters in ["ink", "thin", "pick"] {
            check(letters, ground, LETTERS);
        }
    }
    check("on-ink", "ink", LETTERS);
    for ground in ["paper", "sheet"] {
        for mark in ["edge", "tol", "ink", "thin", "pick"] {
            check(mark, ground, MARKS);
        }
    }
    println!("least share of what is wanted: {least:.2}");
    assert!(low.is_empty(), "{low:#?}");
}
