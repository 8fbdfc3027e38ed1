//! The lines plan as a file: all three views to scale, whatever of them is on the screen.

use std::sync::Arc;

use geometry::issue::lines_plan::{SheetOptions, draw_sheet};
use geometry::loft::Lofted;
use geometry::units::Message;
use geometry::write::{SvgLook, write_svg};
use leptos::prelude::GetUntracked;

use crate::state::Session;
use crate::state::derived::Derived;
use crate::state::findings::Findings;

/// Writes the lines as they stand at 1 : `one_to`.
///
/// # Errors
/// Why there is no loft, in a sentence.
pub fn lines_sheet(
    session: Session,
    derived: Derived,
    findings: Findings,
    one_to: f64,
) -> Result<String, String> {
    let lines = session.standing_now();
    let loft = derived.loft.get_untracked();
    let unit = lines.about.unit;
    let loft = loft.map_err(|error| error.message(unit))?;
    // While a gesture lasts the loft is of what it tries out.
    let lofted = Lofted::of(Arc::clone(&lines), loft)
        .map_or_else(|| Lofted::build(lines), Ok)
        .map_err(|error| error.message(unit))?
        .frozen_as(session.frozen_now());
    let (lifted, tape) = (derived.lifted.get_untracked(), derived.tape.get_untracked());
    let sheet = draw_sheet(
        &lofted,
        &SheetOptions {
            one_to,
            pick: session.pick.get_untracked(),
            hidden: &session.hidden.get_untracked(),
            combs: (
                &session.combs.get_untracked(),
                session.tooth.get_untracked(),
            ),
            bands: &findings.bands.get_untracked(),
            lifted: (lifted.as_ref(), tape.as_deref()),
        },
    );
    Ok(write_svg(&sheet, SvgLook::File))
}
