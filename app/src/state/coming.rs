//! Lines that come by a link: lofted by a worker first, so that the page does not stand still for what takes long unless it
//! is told to.
//!
//! In: lines that were read from a link. Out: they are looked at, at once where the page lofts them soon.

use std::sync::Arc;

use geometry::document::Lines;
use leptos::prelude::*;

use super::Session;
use super::readable::Readable;
use crate::exchange;
use crate::jobs::messages::Work;
use crate::jobs::{Done, Jobs, Stand};

/// Up to so long the page may stand still without being told to, ms.
pub const SOON: f64 = 1_000.0;

/// Lines on their way.
#[derive(Clone, Copy)]
pub struct Coming {
    session: Session,
    jobs: Jobs,
    lines: RwSignal<Option<Arc<Lines>>>,
    /// How long they take to loft, ms, where it is long.
    pub long: Readable<Option<f64>>,
}

impl Coming {
    /// None on their way.
    pub fn new(session: Session) -> Self {
        let tried = RwSignal::new(None::<f64>);
        let done = Callback::new(move |done: Done| {
            if let Done::Tried(of) = done {
                tried.set(Some(of.took));
            }
        });
        let coming = Self {
            session,
            jobs: Jobs::new(done),
            lines: RwSignal::new(None),
            long: Readable::new(None),
        };
        Effect::new(move |_| match tried.get() {
            Some(took) if took > SOON => coming.long.set(Some(took)),
            Some(_) => coming.look_now(),
            None => {}
        });
        coming
    }

    /// Lines have come; others that were on their way are left.
    pub fn bring(self, lines: Lines) {
        self.leave();
        self.jobs.order(Work::TryLoft, &lines);
        self.lines.set(Some(Arc::new(lines)));
    }

    /// Whether some are on their way.
    pub fn is_any(self) -> bool {
        self.lines.with(Option::is_some)
    }

    /// Why the worker came to nothing, where it did.
    pub fn failed(self) -> Option<String> {
        match self.jobs.stand.get() {
            Stand::Failed(sentence) => Some(sentence),
            Stand::Idle | Stand::Running { .. } => None,
        }
    }

    /// Looks at them, however long the page takes to loft them.
    pub fn look_now(self) {
        let lines = self.lines.get_untracked();
        self.leave();
        if let Some(lines) = lines {
            self.session.look_at((*lines).clone());
        }
    }

    /// Leaves them.
    pub fn leave(self) {
        self.jobs.stop();
        self.lines.set(None);
        self.long.set(None);
    }

    /// Leaves them, and the link too.
    pub fn leave_link(self) {
        exchange::clear_fragment();
        self.leave();
    }
}
