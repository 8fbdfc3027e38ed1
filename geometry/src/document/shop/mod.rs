//! The shop: what a person decided for making metal of the body.
//!
//! In: edits and the doors. Out: [`Shop`]. No loft, no line and no verdict of fairness hangs on it; `crate::shop` works out
//! what follows from it.

use serde::{Deserialize, Serialize};

pub mod edit;
mod rules;
mod sheets;

pub use edit::ShopEdit;
pub use rules::SheetsFault;
pub use sheets::{
    BoardLine, BoardPlace, BoardSide, Boards, Face, Hands, Paper, PaperSize, Sheets, StripPlace,
    despite,
};

/// What makes metal of the body.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Shop {
    /// Thickness of the skin, mm; absent: not yet chosen.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub skin_thickness: Option<f64>,
    /// Which sheets are wanted, and on what paper.
    #[serde(default, skip_serializing_if = "is_as_at_first")]
    pub sheets: Sheets,
}

fn is_as_at_first(sheets: &Sheets) -> bool {
    *sheets == Sheets::default()
}
