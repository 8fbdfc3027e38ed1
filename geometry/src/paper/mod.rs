//! What a person takes away, before it is bytes: drawings and tables.
//!
//! In: what `shop` and `issue` have worked out. Out: a [`Sheet`] of paths in millimetres by pen, with measured lettering,
//! or a [`Table`] of typed cells; `write` puts them into files, and the page shows the same sheet. It knows nothing of
//! aircraft. Reading order: `path`, `sheet`, `lettering`, then `hatch` and `clip`, which writers need whose form has
//! neither; `table`.
//!
//! ```
//! use geometry::paper::{Dash, Layer, Path, Pen, Sheet, Text, Weight};
//!
//! let mut hole = Path::default();
//! hole.draw_circle((50.0, 50.0), 25.0);
//! let mut layer = Layer::new("cut");
//! layer.draw_strokes(Pen { weight: Weight::Part, dash: Dash::Solid }, hole);
//! // Its letters are measured: what is in its middle takes as much to either side.
//! let name = Text::new((50.0, 50.0), 3.5, "Frame 4").middle();
//! let [left, _, right, _] = name.bounds();
//! assert!((left + right - 100.0).abs() < 1e-9 && (right - left - name.width()).abs() < 1e-9);
//! layer.draw_text(name);
//! let sheet = Sheet { title: "Frame 4".to_owned(), size: (100.0, 100.0), layers: vec![layer] };
//! assert_eq!(sheet.layers[0].marks[0].path.flatten(0.01).len(), 1);
//! ```

mod clip;
mod hatch;
pub mod lettering;
mod path;
mod sheet;
mod table;

pub use clip::{Area, is_within, overlap};
pub use hatch::Hatch;
pub use lettering::{Typeface, width_of};
pub(crate) use path::on_arc;
pub use path::{PaperPoint, Path, Polyline, Step};
pub use sheet::{Anchor, Dash, Fill, Ground, Layer, Mark, Pen, Sheet, Text, Tone, Weight};
pub use table::{Cell, Table};
