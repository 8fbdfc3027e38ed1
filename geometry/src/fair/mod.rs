//! Whether lines are fair: how far they must move to be, and which readings keep them from it.
//!
//! In: the document and its loft. Out: verdicts in millimetres, and the readings that disagree with their neighbours.
//! Nothing here changes a document: what it finds is proposed. Reading order: `foretold`, `suspects`, `patches`, `wanted`, `slips`,
//! `programme`, `graph`, `verdict`, `permitted`, `contour`, `section`, `outcome`, `whole`, `batten`.

pub mod batten;
mod contour;
mod foretold;
pub mod graph;
pub mod outcome;
mod patches;
pub mod permitted;
pub mod programme;
mod section;
pub mod slips;
pub mod suspects;
pub mod verdict;
mod wanted;
pub mod whole;

#[cfg(test)]
mod tests;
