//! Whether lines are fair: how far they must move to be, and which readings keep them from it.
//!
//! In: the document and its loft. Out: verdicts in millimetres, and the readings that disagree with their neighbours.
//! Nothing here changes a document: what it finds is proposed. Reading order: `prediction`, `suspects`, `patches`, `correction`, `slips`,
//! `programme`, `graph`, `verdict`, `permitted`, `contour`, `section`, `side_effects`, `whole`, `batten`.

pub mod batten;
mod contour;
mod correction;
pub mod graph;
mod patches;
pub mod permitted;
mod prediction;
pub mod programme;
pub mod section;
pub mod side_effects;
pub mod slips;
pub mod suspects;
pub mod verdict;
pub mod whole;

#[cfg(test)]
mod tests;
