//! The pairs of a code and a value that the whole file is made of.

use core::fmt::{Display, Write};

use crate::paper::PaperPoint;
use crate::units::fixed;

/// Decimals of a length, mm.
const LENGTH: usize = 9;

/// Decimals of a number that lengths are multiplied by: a bulge, an angle in degrees.
const FACTOR: usize = 12;

/// By what one record names another.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Handle(usize);

impl Handle {
    /// The one that names nothing.
    pub(super) const NONE: Self = Self(0);
}

impl Display for Handle {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        write!(f, "{:X}", self.0)
    }
}

/// Pairs, and the handles given out so far.
#[derive(Debug, Default)]
pub(super) struct Tags {
    text: String,
    handles: usize,
    /// Whether all its numbers were numbers.
    faulty: bool,
}

impl Tags {
    /// A new handle.
    pub(super) fn handle(&mut self) -> Handle {
        self.handles += 1;
        Handle(self.handles)
    }

    /// The one that would be next.
    pub(super) fn next_handle(&self) -> Handle {
        Handle(self.handles + 1)
    }

    /// A pair of a code and a value that is one line.
    pub(super) fn tag(&mut self, code: u16, value: impl Display) {
        let written = write!(self.text, "{code:>3}\r\n{value}\r\n");
        debug_assert!(written.is_ok(), "a string takes all");
    }

    /// Several pairs.
    pub(super) fn tags<V: Display>(&mut self, pairs: impl IntoIterator<Item = (u16, V)>) {
        for (code, value) in pairs {
            self.tag(code, value);
        }
    }

    /// A length, mm.
    pub(super) fn length(&mut self, code: u16, value: f64) {
        self.number(code, value, LENGTH);
    }

    /// A bulge, or an angle in degrees.
    pub(super) fn factor(&mut self, code: u16, value: f64) {
        self.number(code, value, FACTOR);
    }

    /// A place in the plane.
    pub(super) fn place(&mut self, code: u16, (x, y): PaperPoint) {
        self.length(code, x);
        self.length(code + 10, y);
    }

    /// A place in space, in the sheet's plane.
    pub(super) fn place_in_space(&mut self, code: u16, place: PaperPoint) {
        self.place(code, place);
        self.length(code + 20, 0.0);
    }

    /// Which way the sheet's plane faces.
    pub(super) fn upward(&mut self) {
        self.tags([(210, "0.0"), (220, "0.0"), (230, "1.0")]);
    }

    /// Pairs that were written for themselves.
    pub(super) fn append(&mut self, other: &Self) {
        self.text.push_str(&other.text);
        self.faulty |= other.faulty;
    }

    /// Whether a number was none; the file must not be handed out then.
    pub(super) fn is_faulty(&self) -> bool {
        self.faulty
    }

    pub(super) fn into_bytes(self) -> Vec<u8> {
        self.text.into_bytes()
    }

    fn number(&mut self, code: u16, value: f64, decimals: usize) {
        self.faulty |= !value.is_finite();
        self.tag(code, fixed(value, decimals));
    }
}

/// Whether two places are written as one.
pub(super) fn written_alike(a: PaperPoint, b: PaperPoint) -> bool {
    const HALF: f64 = 0.5e-9;
    (a.0 - b.0).abs() < HALF && (a.1 - b.1).abs() < HALF
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_have_fixed_decimals_and_never_a_sign_alone() {
        let mut tags = Tags::default();
        tags.place(10, (-1e-12, 1.0 / 3.0));
        assert!(!tags.is_faulty());
        tags.factor(42, f64::NAN);
        assert!(tags.is_faulty());
        let text = String::from_utf8(tags.into_bytes()).unwrap();
        assert!(text.starts_with(" 10\r\n0.000000000\r\n 20\r\n0.333333333\r\n 42\r\n"));
    }

    #[test]
    fn handles_are_hexadecimal_and_none_is_given_twice() {
        let mut tags = Tags::default();
        let given: Vec<Handle> = (0..20).map(|_| tags.handle()).collect();
        assert!(given.windows(2).all(|pair| pair[0] < pair[1]));
        assert_eq!(given[15].to_string(), "10");
        assert_eq!(tags.next_handle().to_string(), "15");
    }
}
