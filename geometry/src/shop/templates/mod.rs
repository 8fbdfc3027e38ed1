//! Templates: boards that the skin is held to.
//!
//! In: the loft. Out: how many boards a shell needs and where they stand ([`spacing`]); where a plane cuts the skin's
//! outside, inside or the middle of its thickness ([`contour`]).

pub mod contour;
pub mod spacing;
