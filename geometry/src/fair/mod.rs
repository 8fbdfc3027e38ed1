//! Whether lines are fair: how far they must move to be, and which readings keep them from it.
//!
//! In: the document and its loft. Out: verdicts in millimetres. Nothing here changes a document: what it
//! finds is proposed. Reading order: `programme`, `graph`, `verdict`.

pub mod graph;
pub mod programme;
pub mod verdict;
