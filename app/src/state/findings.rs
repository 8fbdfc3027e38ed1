//! What is to be settled of the lines that stand: asked of a worker of its own after each finished edit.

use std::sync::Arc;

use geometry::document::{Lines, On};
use leptos::prelude::*;

use super::Session;
use super::derived::Derived;
use crate::jobs::messages::{Findings as Found, LineFound, Work};
use crate::jobs::{Jobs, Stand};

/// After an edit so long nothing is asked, since another may follow, ms.
const PAUSE: u64 = 250;

/// What was found last, and of which lines.
type Last = Option<(Arc<Lines>, Arc<Found>)>;

/// The findings of a session.
#[derive(Clone, Copy)]
pub struct Findings {
    judge: Jobs,
    last: RwSignal<Last>,
    standing: Memo<Arc<Lines>>,
}

impl Findings {
    /// Follows the lines that stand from now on.
    pub fn new(session: Session, derived: Derived) -> Self {
        let last: RwSignal<Last> = RwSignal::new(None);
        let ordered = StoredValue::new(None::<Arc<Lines>>);
        let made = Callback::new(move |made: crate::jobs::Made| {
            match (
                serde_json::from_slice::<Found>(&made.bytes),
                ordered.get_value(),
            ) {
                (Ok(found), Some(of)) => {
                    let bands = found.lines.iter().filter(|line| !line.band.is_empty());
                    let bands = bands.map(|line| (line.on, line.band.clone()));
                    session.bands.set(Arc::new(bands.collect()));
                    last.set(Some((of, Arc::new(found))));
                }
                _ => leptos::logging::warn!("findings that no one understands"),
            }
        });
        let judge = Jobs::new(made);
        let findings = Self {
            judge,
            last,
            standing: derived.standing,
        };
        let turn = StoredValue::new(0_u32);
        Effect::new(move |_| {
            let lines = derived.standing.get();
            turn.update_value(|turn| *turn = turn.wrapping_add(1));
            if lines.points.is_empty() {
                judge.stop();
                last.set(None);
                session.bands.set(Arc::default());
                return;
            }
            let mine = turn.get_value();
            let ask = move || {
                // A gesture that lasts will end in an edit, or in nothing.
                if turn.get_value() == mine {
                    judge.order(Work::Judge, &lines);
                    ordered.set_value(Some(Arc::clone(&lines)));
                }
            };
            set_timeout(ask, core::time::Duration::from_millis(PAUSE));
        });
        findings
    }

    /// What was found last, and whether it is of the lines that stand.
    pub fn found(self) -> Option<(Arc<Found>, bool)> {
        let standing = self.standing.get();
        let (of, found) = self.last.get()?;
        Some((found, Arc::ptr_eq(&of, &standing)))
    }

    /// What was found of a line, and whether it is of the lines that stand.
    pub fn of(self, on: On) -> Option<(LineFound, bool)> {
        let (found, fresh) = self.found()?;
        let line = found.lines.iter().find(|line| line.on == on)?;
        Some((line.clone(), fresh))
    }

    /// What is judged just now, and why it came to nothing.
    pub fn stand(self) -> Stand {
        self.judge.stand.get()
    }
}
