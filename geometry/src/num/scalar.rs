//! Roots of one variable: all of a cubic's, each between its own brackets.
//!
//! In: Bernstein coefficients. Out: every root on 0 to 1, in order. A zero counts as over zero, so that a curve which only
//! touches from above has no root and neighbours agree about the ones on their common corner.

/// Value of a cubic with these Bernstein coefficients.
#[must_use]
#[inline]
pub fn bernstein(b: &[f64; 4], t: f64) -> f64 {
    let s = 1.0 - t;
    ((b[0] * s + 3.0 * b[1] * t) * s + 3.0 * b[2] * t * t) * s + b[3] * t * t * t
}

/// Bernstein coefficients of the cubic with these powers.
#[must_use]
#[inline]
pub fn to_bernstein(p: &[f64; 4]) -> [f64; 4] {
    [
        p[0],
        p[0] + p[1] / 3.0,
        p[0] + 2.0 * p[1] / 3.0 + p[2] / 3.0,
        p[0] + p[1] + p[2] + p[3],
    ]
}

/// Both halves of a cubic, by de Casteljau; they share the middle value to the bit.
#[must_use]
#[inline]
pub fn halves(b: &[f64; 4]) -> [[f64; 4]; 2] {
    let m = |a: f64, b: f64| f64::midpoint(a, b);
    let (a, c, e) = (m(b[0], b[1]), m(b[1], b[2]), m(b[2], b[3]));
    let (ac, ce) = (m(a, c), m(c, e));
    let middle = m(ac, ce);
    [[b[0], a, ac, middle], [middle, ce, e, b[3]]]
}

/// All roots on 0 to 1 of a cubic with these Bernstein coefficients, in order, at which its sign changes.
///
/// # Accuracy
/// Each within a few units in the last place of where the computed value changes sign.
///
/// # Source
/// Isolation by variation diminishing: Lane and Riesenfeld, *BIT* 21 (1981).
pub fn roots(b: &[f64; 4], out: &mut Vec<f64>) {
    isolate(b, 0.0, 1.0, 0, out);
}

fn positive(x: f64) -> bool {
    x >= 0.0
}

fn isolate(b: &[f64; 4], low: f64, high: f64, depth: u32, out: &mut Vec<f64>) {
    let changes = b
        .windows(2)
        .filter(|w| positive(w[0]) != positive(w[1]))
        .count();
    if changes == 0 {
        return;
    }
    let ends_differ = positive(b[0]) != positive(b[3]);
    if changes == 1 && ends_differ {
        out.push(low + (high - low) * bracketed(b));
        return;
    }
    if depth > 48 {
        if ends_differ {
            out.push(f64::midpoint(low, high));
        }
        return;
    }
    let [left, right] = halves(b);
    let middle = f64::midpoint(low, high);
    isolate(&left, low, middle, depth + 1, out);
    isolate(&right, middle, high, depth + 1, out);
}

/// The root on 0 to 1 of a cubic whose ends differ in sign: Newton's method, kept between its brackets.
#[must_use]
pub fn bracketed(b: &[f64; 4]) -> f64 {
    let rising = positive(b[3]);
    let (mut low, mut high) = (0.0, 1.0);
    let mut t = (b[0] / (b[0] - b[3])).clamp(0.0, 1.0);
    if !t.is_finite() {
        t = 0.5;
    }
    for _ in 0..64 {
        let value = bernstein(b, t);
        if positive(value) == rising {
            high = t;
        } else {
            low = t;
        }
        let s = 1.0 - t;
        let slope =
            3.0 * ((b[1] - b[0]) * s * s + 2.0 * (b[2] - b[1]) * s * t + (b[3] - b[2]) * t * t);
        let newton = t - value / slope;
        let next = if newton > low && newton < high {
            newton
        } else {
            f64::midpoint(low, high)
        };
        let step = (next - t).abs();
        t = next;
        if step <= 4.0 * f64::EPSILON * t.max(f64::EPSILON) || high - low < 1e-16 {
            break;
        }
    }
    t
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn three_roots_are_found_however_near() {
        for gap in [0.3, 1e-2, 1e-4] {
            let roots_at = [0.4 - gap, 0.4, 0.4 + gap];
            // (t − a)(t − b)(t − c) in powers, then Bernstein.
            let [a, b, c] = roots_at;
            let powers = [-a * b * c, a * b + b * c + a * c, -(a + b + c), 1.0];
            let mut found = Vec::new();
            roots(&to_bernstein(&powers), &mut found);
            assert_eq!(found.len(), 3, "gap {gap}: {found:?}");
            for (f, r) in found.iter().zip(roots_at) {
                assert!(
                    (f - r).abs() < 1e-15 / (gap * gap) + 1e-15,
                    "gap {gap}: {f} for {r}"
                );
            }
        }
    }

    #[test]
    fn a_touch_is_no_root_and_a_zero_at_an_end_counts_once() {
        let mut found = Vec::new();
        roots(&[1.0, 0.0, 0.0, 1.0], &mut found);
        roots(&to_bernstein(&[0.25, -1.0, 1.0, 0.0]), &mut found); // (t − ½)²
        assert_eq!(found, Vec::<f64>::new());
        roots(&[0.0, -1.0, -1.0, -1.0], &mut found);
        assert_eq!(found.len(), 1);
        assert!(found[0].abs() < 1e-12);
    }
}
