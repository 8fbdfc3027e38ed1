//! Templates: boards that the skin is held to.
//!
//! In: the loft, and how a person wants them ([`crate::document::Boards`]). Out: [`Board`]s, each in its own plane.
//! Reading order: `shells` (what lies between crown, joint and keel), [`spacing`] (how many boards a shell needs), `plane`
//! (where one stands), [`contour`] (where that cuts the skin's outside, inside or middle), `board`, `wanted` (all that a
//! document asks for), `strips` (rods and tapes).

mod board;
pub mod contour;
mod plane;
mod shells;
pub mod spacing;
mod strips;
mod wanted;

pub use board::{Board, BoardError, BoardMark, BoardPlan, Lean, MarkKind, Reach, TraceLine};
pub use plane::{BoardPlane, BoardView, PlaneKind};
pub use shells::{ShellPart, shells};
pub use strips::{Strip, StripMark, WantedStrips, wanted_strips};
pub use wanted::{ShellBoards, WantedBoard, WantedBoards, WantedError, wanted_boards};
