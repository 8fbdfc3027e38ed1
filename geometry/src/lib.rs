//! The geometry of a one-off metal fuselage, from evidence to shell.
//!
//! The way of the data, which is also the reading order of the modules: a [`document`] holds what a person decided; the
//! [`loft`] fits one [`spline`] surface to it; [`lines`] are cut from that; [`fair`] says which readings disagree with
//! their neighbours, and how far a line must move to be fair; [`settle`] gathers
//! what is to be settled, with the ways out of it; [`shop`] says what the shop works to, as [`paper`];
//! [`compare`] says how far two states of the lines lie apart; [`issue`] makes outputs of it all, and
//! [`mod@write`] puts them into files. [`num`] and [`units`]
//! serve all.

pub mod compare;
pub mod document;
pub mod fair;
pub mod issue;
pub mod lines;
pub mod loft;
pub mod num;
pub mod paper;
pub mod settle;
pub mod shop;
pub mod spline;
pub mod units;
pub mod write;

#[cfg(test)]
extern crate self as geometry;

#[cfg(test)]
#[path = "../../tests/support/made.rs"]
pub mod made;

#[cfg(test)]
#[path = "../../tests/support/demo_truth.rs"]
pub mod demo_truth;
