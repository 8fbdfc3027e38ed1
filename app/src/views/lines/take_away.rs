//! The lines plan as a file: all three views to scale, whatever of them is on the screen.

use geometry::units::Message;
use leptos::prelude::GetUntracked;

use crate::state::derived::{Derived, Shown};
use crate::state::{Session, comb_key};
use crate::views::plan::{Extent, Layout, Scales, Scene, sheet};

/// How far a line may be from the true one, mm on paper.
const ON_PAPER: f64 = 0.05;

/// Writes the lines as they stand at 1 : `one_to`.
///
/// # Errors
/// Why there is no loft, in a sentence.
pub fn lines_sheet(session: Session, derived: Derived, one_to: f64) -> Result<String, String> {
    let lines = session.standing_now();
    let loft = derived.loft.get_untracked();
    let loft = loft.map_err(|error| error.message(lines.about.unit))?;
    let offsets = loft.offsets();
    let layout = Layout::to_scale(96.0 / 25.4 / one_to, Extent::of(&lines, &offsets));
    let hidden = session.hidden.get_untracked();
    let shown = Shown::of(&loft, (None, &hidden), ON_PAPER * one_to, &[]);
    let (pick, combs) = (session.pick.get_untracked(), session.combs.get_untracked());
    let fine = derived.fine.get_untracked();
    let tooth = session.tooth.get_untracked();
    let scales = Scales::of(
        &fine,
        &combs,
        comb_key(pick.on),
        (tooth, lines.about.unit),
        None,
    );
    let (lifted, tape) = (derived.lifted.get_untracked(), derived.tape.get_untracked());
    let scene = Scene {
        lines: &lines,
        offsets: &offsets,
        shown: &shown,
        fine: &fine,
        layout: &layout,
        pick,
        hidden: &hidden,
        bands: &session.bands.get_untracked(),
    };
    let revision = if lines.about.revision.is_empty() {
        String::new()
    } else {
        format!("revision {}, ", lines.about.revision)
    };
    let about = [
        format!("{}: lines plan, 1 : {one_to}", lines.about.title),
        format!(
            "{revision}fingerprint {}; outside of the skin; bars show tolerance × 10",
            lines.fingerprint().short()
        ),
        "Computed values are aids: check a template against the mating part before cutting."
            .to_owned(),
    ];
    let laid = (lifted.as_ref(), tape.as_deref());
    Ok(sheet(&scene, (&combs, &scales), laid, &about))
}
