//! Small numerics that know nothing of aircraft.
//!
//! In: plain numbers and slices. Out: plain numbers. Every transcendental function that `geometry` uses is one of
//! these: they come from the `libm` crate, so that a native program and the browser agree to the last bit.
//! Reading order: this file, then `linear` and `scalar`.

use core::cmp::Ordering;

pub mod linear;
pub mod scalar;

/// How far a computed point may lie from where it is asked for, mm: what a builder cannot measure.
pub const FIT: f64 = 0.01;

/// How far a loft of readings without an error may lie from the body that they were read of, mm: in 19 of 20 places.
///
/// What it is drawn stiff takes, and what lies between readings. Measured all round the demo's body, which is known in closed form
/// (`fair/tests`): half of all places lie within 0.03 mm, 19 of 20 within 0.18, and where little was read one lies 1.15 mm off.
pub const LOFT_ERROR: f64 = 0.2;

/// Two points nearer than this, mm, are one point.
pub const SAME_POINT: f64 = 1e-6;

/// Sine of an angle in radians.
#[must_use]
pub fn sin(x: f64) -> f64 {
    libm::sin(x)
}

/// Cosine of an angle in radians.
#[must_use]
pub fn cos(x: f64) -> f64 {
    libm::cos(x)
}

/// Angle in radians whose sine is `x`; NaN outside −1 to 1.
#[must_use]
pub fn asin(x: f64) -> f64 {
    libm::asin(x)
}

/// Angle in radians whose cosine is `x`; NaN outside −1 to 1.
#[must_use]
pub fn acos(x: f64) -> f64 {
    libm::acos(x)
}

/// Angle in radians of the point (`x`, `y`), from −π to π.
#[must_use]
pub fn atan2(y: f64, x: f64) -> f64 {
    libm::atan2(y, x)
}

/// Length of the hypotenuse with legs `x` and `y`, without overflow.
#[must_use]
pub fn hypot(x: f64, y: f64) -> f64 {
    libm::hypot(x, y)
}

/// e to the power of `x`.
#[must_use]
pub fn exp(x: f64) -> f64 {
    libm::exp(x)
}

/// Natural logarithm; NaN below zero.
#[must_use]
pub fn ln(x: f64) -> f64 {
    libm::log(x)
}

/// `x` to the power of `y`.
#[must_use]
pub fn powf(x: f64, y: f64) -> f64 {
    libm::pow(x, y)
}

/// Whether two numbers have the same value; for exact comparison where it is meant.
#[must_use]
pub fn same(a: f64, b: f64) -> bool {
    a.total_cmp(&b).is_eq() || (a + 0.0).total_cmp(&(b + 0.0)).is_eq()
}

/// Sorts; what is equal keeps its order. The work is done once for all types, which keeps a program small: for what is short or
/// rarely sorted.
pub fn put_in_order<T>(items: &mut Vec<T>, mut order: impl FnMut(&T, &T) -> Ordering) {
    let ranks = ranks(items.len(), &mut |a, b| order(&items[a], &items[b]));
    let mut left: Vec<Option<T>> = items.drain(..).map(Some).collect();
    let sorted = ranks.into_iter().filter_map(|at| left[at].take());
    items.extend(sorted);
}

/// What is put in one by one, into a set or by keys. `collect` sorts it first, with a sort of its own for each type, which
/// makes a program large.
pub fn put_together<T, C: Default + Extend<T>>(items: impl IntoIterator<Item = T>) -> C {
    let mut all = C::default();
    all.extend(items);
    all
}

/// The numbers of so many things in their order.
fn ranks(count: usize, order: &mut dyn FnMut(usize, usize) -> Ordering) -> Vec<usize> {
    let mut ranks: Vec<usize> = (0..count).collect();
    ranks.sort_by(|a, b| order(*a, *b));
    ranks
}

/// A count that was computed as a whole number over zero, as an index; 0 for NaN and below.
#[must_use]
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a cast from f64 saturates, and NaN is 0"
)]
pub fn count_of(x: f64) -> usize {
    x as usize
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn things_are_put_in_order_as_the_standard_sort_does_it() {
        // Few keys for many things: what is equal must keep its order.
        let mut seed = 7_u32;
        let mut next = || {
            seed = seed.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            seed >> 28
        };
        for count in [0, 1, 2, 3, 20, 500] {
            let mut ours: Vec<(u32, usize)> = (0..count).map(|number| (next(), number)).collect();
            let mut theirs = ours.clone();
            put_in_order(&mut ours, |a, b| b.0.cmp(&a.0));
            theirs.sort_by_key(|thing| core::cmp::Reverse(thing.0));
            assert_eq!(ours, theirs);
        }
    }
}
