//! Frozen revisions: which there are, freezing one more, taking one up again, and which is drawn beside the lines.
//!
//! They belong to what is open, not to a step: to take a step back unfreezes nothing.

use std::sync::Arc;

use geometry::document::{Frozen, History, Lines, Revision};
use geometry::units::Message;
use leptos::prelude::*;

use super::steps::OnFile;
use super::{NoteKind, Opened, Session};
use crate::exchange;
use crate::jobs::file_of;
use crate::jobs::messages::WentOut;

/// One of the states that can be held against each other.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Which {
    /// One's own work as it stands.
    Now,
    /// The revision of this label.
    Frozen(String),
    /// Lines from a link.
    Shared,
}

impl Session {
    /// The frozen revisions of one's own work, the oldest first.
    pub fn revisions(&self) -> Arc<Vec<Revision>> {
        let elsewhere = self.revisions_elsewhere();
        elsewhere.unwrap_or_else(|| self.own_revisions())
    }

    /// The frozen revision that the lines that are seen are, not followed.
    pub fn frozen_now(&self) -> Option<Frozen> {
        untrack(|| self.frozen())
    }

    /// The same, followed.
    pub fn frozen(&self) -> Option<Frozen> {
        let revisions = self.revisions();
        self.standing().frozen_in(&revisions)
    }

    /// What went to the shop last of one's own work: of which revision, and which parts of it so far.
    pub fn last_issue(&self) -> Option<WentOut> {
        let revisions = self.revisions();
        let dated = { revisions.iter() }
            .filter_map(|revision| Some((&revision.issued.last()?.date, revision)));
        // Of one day's, the one that was frozen last.
        let (_, last) = dated.max_by(|(a, _), (b, _)| a.cmp(b))?;
        let mut sheets: Vec<String> = { last.issued.iter() }
            .flat_map(|issued| issued.sheets.iter().cloned())
            .collect();
        sheets.sort();
        sheets.dedup();
        Some(WentOut {
            file: file_of(&last.lines),
            label: last.label.clone(),
            sheets,
        })
    }

    /// Writes down which sheets of a frozen revision of one's own work went to the shop; whether it may here.
    pub fn write_issued(&self, label: &str, sheets: &[String]) -> bool {
        if self.locked_elsewhere().is_some() {
            return false;
        }
        let folder = self.own_folder().issued(label, &exchange::today(), sheets);
        self.renew_revisions(folder.revisions);
        self.on_file.update(OnFile::one_more);
        true
    }

    /// Puts others in the place of the frozen revisions of what is open.
    fn renew_revisions(&self, revisions: Vec<Revision>) {
        let depth = self.history.with_untracked(History::depth);
        let revisions = Arc::new(revisions);
        self.opened.update(|opened| {
            if let Some(at) = Opened::here(opened, depth) {
                opened[at].revisions = revisions;
            }
        });
    }

    /// At which step the work was opened that stands, not followed: where that is another one it is other work.
    pub(super) fn opened_at(&self) -> Option<usize> {
        let depth = self.history.with_untracked(History::depth);
        self.opened
            .with_untracked(|opened| Opened::here(opened, depth).map(|at| opened[at].depth))
    }

    /// The same, as this tab has them.
    pub(super) fn own_revisions(&self) -> Arc<Vec<Revision>> {
        let depth = self.history.with(History::depth);
        self.opened.with(|opened| {
            let here = Opened::here(opened, depth).map(|at| &opened[at]);
            here.map_or_else(Arc::default, |o| Arc::clone(&o.revisions))
        })
    }

    /// Freezes the work as it stands.
    ///
    /// # Errors
    /// What is missing, in a sentence; nothing is frozen then.
    pub fn freeze(&self, label: &str, reason: &str) -> Result<(), String> {
        if let Some(why) = self.locked() {
            return Err(why.to_owned());
        }
        self.draft.set(None);
        let now = self.history.with_untracked(|h| Arc::clone(h.now()));
        let frozen = self.own_folder().freeze(label, &exchange::today(), reason);
        let folder = frozen.map_err(|error| error.message(now.about.unit))?;
        self.renew_revisions(folder.revisions);
        let label = folder.lines.about.revision.clone();
        let print = folder.lines.fingerprint().short();
        if *now == folder.lines {
            self.on_file.update(OnFile::one_more);
        } else {
            self.push(format!("frozen as {label}"), Arc::new(folder.lines));
        }
        self.say(
            NoteKind::Done,
            format!("Frozen as revision {label} · {print}."),
        );
        Ok(())
    }

    /// Goes on with a frozen revision, as one step; says why where it may not, and whether it did.
    pub fn take_up(&self, label: &str) -> bool {
        if let Some(why) = self.locked_elsewhere() {
            self.say(NoteKind::Fault, why.to_owned());
            return false;
        }
        let Some(revision) = untrack(|| self.revision(label)) else {
            return false;
        };
        self.looking.set(None);
        self.draft.set(None);
        self.beside.set(None);
        let name = format!("Took up revision {label} again");
        self.push(name.clone(), Arc::new(revision.lines));
        self.mend_pick();
        self.say(
            NoteKind::Done,
            format!("{name}. Undo brings back what stood."),
        );
        true
    }

    /// The frozen revision that is looked at, where one is.
    pub fn looked_at(&self) -> Option<Revision> {
        let shared = self.shared()?;
        let revisions = self.revisions();
        revisions
            .iter()
            .find(|other| other.lines == *shared)
            .cloned()
    }

    /// The lines of one of the states; none where it is no longer there.
    pub fn lines_of(&self, which: &Which) -> Option<Arc<Lines>> {
        match which {
            Which::Now => Some(Arc::new(self.own_folder().lines)),
            Which::Shared => self.shared(),
            Which::Frozen(label) => self.revision(label).map(|found| Arc::new(found.lines)),
        }
    }

    fn revision(&self, label: &str) -> Option<Revision> {
        let revisions = self.revisions();
        revisions.iter().find(|other| other.label == label).cloned()
    }
}
