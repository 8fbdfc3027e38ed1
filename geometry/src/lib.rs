//! The geometry of a one-off metal fuselage, from evidence to shell.
//!
//! The way of the data, which is also the reading order of the modules: a [`document`] holds what a person decided.

pub mod document;
pub mod num;
pub mod units;
