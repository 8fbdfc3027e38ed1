//! The steps nearest to where the work stands, as they are kept on this device: undo and redo go on after the page was
//! loaded again.
//!
//! In: the session's history. Out: which of its steps belong to the kept work, each written once; and back: the history,
//! and which of its steps a file holds. Where other work was opened the steps end: what was open before is kept as such.

use std::cell::{Cell, RefCell};
use std::rc::Rc;
use std::sync::Arc;

use geometry::document::history::UndoStep;
use geometry::document::{History, Lines};
use leptos::prelude::*;

use super::{MOST_STEPS, Opened, Session};
use crate::exchange;
use crate::storage::{KeptSteps, StepRecord};

/// So many steps are kept at most, back and on each.
const MOST: usize = 50;

/// So many bytes of them are kept at most, back and on each: 4 MiB.
const MOST_BYTES: usize = 4 << 20;

/// Which step of the history a file holds, and how many edits away from it the history parted.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct OnFile {
    depth: usize,
    beyond: u32,
}

impl OnFile {
    /// A file holds what was so many edits before the step at this depth.
    pub fn at(depth: usize, beyond: u32) -> Self {
        Self { depth, beyond }
    }

    /// A step was added at this depth; those after it are forgotten, and the oldest where there are too many.
    pub fn pushed(&mut self, before: usize) {
        if before < self.depth {
            self.beyond = self.edits(before);
            self.depth = before;
        }
        if before == MOST_STEPS {
            if self.depth == 0 {
                self.beyond = self.beyond.saturating_add(1);
            }
            self.depth = self.depth.saturating_sub(1);
        }
    }

    /// Something was done that is no step, and that the file lacks.
    pub fn one_more(&mut self) {
        self.beyond = self.beyond.saturating_add(1);
    }

    /// The same of the steps between two depths alone: so many steps after the first, and so many edits away.
    pub fn within(self, first: usize, last: usize) -> (u32, u32) {
        let depth = self.depth.clamp(first, last);
        let after = u32::try_from(depth - first).unwrap_or(u32::MAX);
        (after, self.edits(depth))
    }

    /// How many edits the step at this depth is away from the file.
    pub fn edits(self, depth: usize) -> u32 {
        let apart = u32::try_from(depth.abs_diff(self.depth)).unwrap_or(u32::MAX);
        self.beyond.saturating_add(apart)
    }
}

/// What was kept of a history.
#[derive(Clone, Debug)]
pub struct KeptHistory {
    history: History,
    on_file: OnFile,
}

impl KeptHistory {
    /// It and which of its steps a file holds; a history without steps where none was kept.
    pub fn begin(kept: Option<Self>, lines: &Arc<Lines>, edits: u32) -> (History, OnFile) {
        match kept {
            Some(kept) => (kept.history, kept.on_file),
            None => (History::new(Arc::clone(lines)), OnFile::at(0, edits)),
        }
    }
}

/// Which steps are on this device, and under which keys.
#[derive(Debug, Default)]
pub struct OnDevice {
    records: RefCell<Vec<Rc<StepRecord>>>,
    /// When the first key was made, ms of the calendar, and how many were.
    begun: Cell<Option<f64>>,
    made: Cell<u32>,
}

impl OnDevice {
    /// Reads the steps that were found beside the work; none where they can't be read.
    pub fn read(
        &self,
        lines: &Arc<Lines>,
        edits: u32,
        kept: KeptSteps,
        bytes: &[Vec<u8>],
    ) -> Option<KeptHistory> {
        let (back, on) = bytes.split_at_checked(kept.back.len())?;
        let history = History::with_steps(Arc::clone(lines), back, on).ok()?;
        let steps = history.steps_back().chain(history.steps_on());
        let keys = kept.back.into_iter().chain(kept.on);
        let records = keys.zip(steps).zip(bytes);
        let records =
            records.map(|((key, step), bytes)| Rc::new(StepRecord::found(key, step, bytes.len())));
        self.records.replace(records.collect());
        let (depth, beyond) = kept.on_file;
        let on_file = usize::try_from(depth).ok().map(|at| OnFile::at(at, beyond));
        // What it says of the file goes along with what the work says of it.
        let on_file = on_file.filter(|file| file.edits(history.depth()) == edits);
        let on_file = on_file.unwrap_or_else(|| OnFile::at(history.depth(), edits));
        Some(KeptHistory { history, on_file })
    }

    /// Another tab has written: what was there is there no more.
    pub fn forget(&self) {
        self.records.borrow_mut().clear();
    }

    /// The record of a step, made where it has none yet.
    fn record(&self, step: &Arc<UndoStep>) -> Rc<StepRecord> {
        let mut records = self.records.borrow_mut();
        if let Some(there) = records.iter().find(|one| Arc::ptr_eq(&one.step, step)) {
            return Rc::clone(there);
        }
        let begun = self.begun.get().unwrap_or_else(exchange::calendar);
        self.begun.set(Some(begun));
        let number = self.made.get();
        self.made.set(number.wrapping_add(1));
        let record = Rc::new(StepRecord::new(begun, number, step));
        records.push(Rc::clone(&record));
        record
    }

    /// The records of the nearest steps, as far as they are kept, and that of the first one that is too much.
    fn nearest<'a>(
        &self,
        steps: impl Iterator<Item = &'a Arc<UndoStep>>,
    ) -> (Vec<Rc<StepRecord>>, Option<Rc<StepRecord>>) {
        let mut left = MOST_BYTES;
        let mut nearest = Vec::new();
        for step in steps.take(MOST) {
            let record = self.record(step);
            let Some(rest) = left.checked_sub(record.size) else {
                return (nearest, Some(record));
            };
            left = rest;
            nearest.push(record);
        }
        (nearest, None)
    }

    /// The steps that are to be on this device beside the work as it stands, and what the work says of them.
    pub fn of(&self, session: Session) -> (Vec<Rc<StepRecord>>, KeptSteps) {
        let (first, last) = session.steps_of_this_work();
        let history = session.history;
        let depth = history.with_untracked(History::depth);
        let (back, over) =
            history.with_untracked(|h| self.nearest(h.steps_back().take(depth - first)));
        let (on, beyond) =
            history.with_untracked(|h| self.nearest(h.steps_on().take(last - depth)));
        let (from, to) = (depth - back.len(), depth + on.len());
        let keys = |all: &[Rc<StepRecord>]| all.iter().map(|one| one.key.clone()).collect();
        let kept = KeptSteps {
            back: keys(&back),
            on: keys(&on),
            on_file: session.on_file.with_untracked(|file| file.within(from, to)),
        };
        let records: Vec<_> = back.into_iter().chain(on).collect();
        // How large one is that is too much need not be found out again.
        let known = records.iter().cloned().chain(over).chain(beyond);
        self.records.replace(known.collect());
        (records, kept)
    }
}

impl Session {
    /// Between which depths of the history the work that stands is the one that was opened.
    fn steps_of_this_work(&self) -> (usize, usize) {
        let depth = self.history.with_untracked(History::depth);
        self.opened.with_untracked(|opened| {
            let here = Opened::here(opened, depth);
            let first = here.map_or(0, |at| opened[at].depth);
            let next = here.map_or(0, |at| at + 1);
            let last = opened.get(next).map_or(usize::MAX, |other| other.depth - 1);
            (first, last)
        })
    }
}
