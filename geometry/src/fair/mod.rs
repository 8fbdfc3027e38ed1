//! Whether lines are fair: how far they must move to be, and which readings keep them from it.
//!
//! In: the document and its loft. Out: verdicts in millimetres, and the readings that disagree with their neighbours.
//! Nothing here changes a document: what it finds is proposed.
//!
//! Reading order. Readings: `prediction` (each foretold by all others), `search_end`, `suspects`, `dents` (side by side), `robust`
//! and `correction` (what would fit), `slips` (of the pen). Lines: `programme` (convex programmes, by a library), `narrow` (those
//! that a line is judged by, without it), `graph` (a function of the distance aft and its turns), `verdict`, `permitted` (the band behind a comb), `contour` (a curve that
//! doubles back), `section` (its verdict).
//! Fair lines: `side_effects` (what they leave worse elsewhere), `whole`, `batten`. Readings changed: `trial` (what comes of it).
//!
//! ```
//! use geometry::fair::graph::{Graph, Turns};
//!
//! // A line drawn as a parabola over 4 m, but for one place that lies 3 mm too far in.
//! let places: Vec<(f64, f64)> = (0..=16)
//!     .map(|i| (250.0 * f64::from(i), f64::from(i)))
//!     .map(|(x, i)| (x, 100.0 - (i - 8.0) * (i - 8.0) - if i == 8.0 { 3.0 } else { 0.0 }))
//!     .collect();
//! let breaks: Vec<f64> = (0..=8).map(|i| 500.0 * f64::from(i)).collect();
//! let line = Graph::fitted(&breaks, &places).unwrap();
//! assert!(line.turns().inflections > 0);
//! // What it takes to bend one way all along, with one peak of curvature: less than the misplaced point lies off.
//! let fair = line.sweet(Turns { inflections: 0, peaks: 1 }, [false; 2], &|| false).unwrap();
//! assert!(fair.needed > 0.1 && fair.needed < 3.0);
//! assert_eq!(fair.graph.turns().inflections, 0);
//! ```

pub mod batten;
mod contour;
mod correction;
pub mod dents;
pub mod graph;
mod narrow;
pub mod needs;
pub mod permitted;
mod prediction;
pub mod programme;
mod robust;
mod search_end;
pub mod section;
pub mod side_effects;
pub mod slips;
pub mod suspects;
pub mod trial;
pub mod verdict;
pub mod whole;

#[cfg(test)]
pub(crate) mod tests;
