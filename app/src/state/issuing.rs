//! Issuing sheets: one order at a time, by a worker of its own, so that a proposal or another file stops it as little as it
//! stops them; and written down of the revision that the sheets are of.
//!
//! In: an order. Out: a file in the person's hands, and a line more in the record of its revision.

use geometry::document::Frozen;
use geometry::issue::Output;
use leptos::prelude::*;

use super::{NoteKind, Session};
use crate::jobs::{Done, Jobs, Made, Stand};

/// Hands a file over that holds these sheets; whether it did.
pub type HandOver = fn(Session, &Made, &[String]) -> bool;

/// What was ordered: the file may be there long after the choice has changed.
#[derive(Clone, Debug)]
struct OrderedSheets {
    revision: Option<Frozen>,
    sheets: Vec<String>,
}

/// The issuing of a session.
#[derive(Clone, Copy)]
pub struct Issuing {
    session: Session,
    /// Who makes the file.
    pub jobs: Jobs,
    ordered: StoredValue<Option<OrderedSheets>>,
}

impl Issuing {
    /// Nothing is issued yet.
    pub fn new(session: Session, hand_over: HandOver) -> Self {
        let ordered = StoredValue::new(None::<OrderedSheets>);
        let done = Callback::new(move |done: Done| {
            let (Done::Made(made), Some(of)) = (done, ordered.get_value()) else {
                return;
            };
            if !hand_over(session, &made, &of.sheets) {
                return;
            }
            if let Some(revision) = of.revision {
                session.write_issued(&revision.label, &of.sheets);
            }
        });
        Self {
            session,
            jobs: Jobs::new(done),
            ordered,
        }
    }

    /// Orders a file of the sheets of what is seen; they are named by their parts' codes.
    pub fn order(self, output: Output, sheets: Vec<String>) {
        self.session.say_no_more();
        let revision = self.session.frozen_now();
        self.ordered.set_value(Some(OrderedSheets {
            revision: revision.clone(),
            sheets,
        }));
        let lines = self.session.standing_now();
        self.jobs.order_file(output, &lines, revision);
    }

    /// Ends it; nothing of it is kept.
    pub fn stop(self) {
        self.jobs.stop();
        self.session.say(
            NoteKind::Done,
            "Stopped: no sheet was kept. Issued again, they begin with the first.".to_owned(),
        );
    }

    /// Whether sheets are made just now.
    pub fn runs(self) -> bool {
        matches!(self.jobs.stand.get(), Stand::Running { .. })
    }
}
