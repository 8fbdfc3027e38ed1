//! What a person takes away, before it is bytes: drawings and tables.
//!
//! In: what `shop` and `issue` have worked out. Out: a [`Sheet`] of paths in millimetres by pen, with measured lettering,
//! or a [`Table`] of typed cells; `write` puts them into files, and the page shows the same sheet. It knows nothing of
//! aircraft. Reading order: `path`, `sheet`, `lettering`, then `hatch` and `clip`, which writers need whose form has
//! neither; `table`.

mod clip;
mod hatch;
pub mod lettering;
mod path;
mod sheet;
mod table;

pub use clip::Area;
pub use hatch::Hatch;
pub use lettering::{Typeface, width_of};
pub(crate) use path::on_arc;
pub use path::{PaperPoint, Path, Polyline, Step};
pub use sheet::{Anchor, Dash, Fill, Ground, Layer, Mark, Pen, Sheet, Text, Tone, Weight};
pub use table::{Cell, Table};
