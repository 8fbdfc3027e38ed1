//! The steps of a session: a list of documents with a cursor.
//!
//! In: documents and the names of the edits that made them. Out: the one that stands, undo and redo.

use std::sync::Arc;

use super::Lines;
use super::edit::{Edit, EditError};

/// So many steps are kept; the oldest go first.
pub const MOST_STEPS: usize = 500;

/// A list of documents with a cursor; never empty.
#[derive(Clone, Debug, PartialEq)]
pub struct History {
    first: Arc<Lines>,
    steps: Vec<Step>,
    done: usize,
}

#[derive(Clone, Debug, PartialEq)]
struct Step {
    name: String,
    lines: Arc<Lines>,
}

impl History {
    /// A history that starts with this document.
    #[must_use]
    pub fn new(lines: Arc<Lines>) -> Self {
        Self {
            first: lines,
            steps: Vec::new(),
            done: 0,
        }
    }

    /// The document that stands.
    #[must_use]
    pub fn now(&self) -> &Arc<Lines> {
        self.done
            .checked_sub(1)
            .and_then(|n| self.steps.get(n))
            .map_or(&self.first, |step| &step.lines)
    }

    /// Does an edit; steps that were undone are forgotten. An edit that changes nothing is no step.
    ///
    /// # Errors
    /// As [`Lines::apply`]; the history is as it was.
    pub fn edit(&mut self, edit: &Edit) -> Result<(), EditError> {
        let lines = self.now().apply(edit)?;
        if lines != **self.now() {
            let name = edit.name(self.now());
            self.push(name, Arc::new(lines));
        }
        Ok(())
    }

    /// Adds a step under its name; steps that were undone are forgotten.
    pub fn push(&mut self, name: String, lines: Arc<Lines>) {
        self.steps.truncate(self.done);
        self.steps.push(Step { name, lines });
        if self.steps.len() > MOST_STEPS {
            self.first = self.steps.remove(0).lines;
        }
        self.done = self.steps.len();
    }

    /// The name of the step that [`History::undo`] would take back.
    #[must_use]
    pub fn undo_name(&self) -> Option<&str> {
        self.done
            .checked_sub(1)
            .and_then(|n| self.steps.get(n))
            .map(|step| step.name.as_str())
    }

    /// The name of the step that [`History::redo`] would do again.
    #[must_use]
    pub fn redo_name(&self) -> Option<&str> {
        self.steps.get(self.done).map(|step| step.name.as_str())
    }

    /// Takes the last step back and tells its name; none where nothing is left.
    pub fn undo(&mut self) -> Option<&str> {
        self.done = self.done.checked_sub(1)?;
        self.redo_name()
    }

    /// Does the last undone step again and tells its name; none where nothing is left.
    pub fn redo(&mut self) -> Option<&str> {
        if self.done == self.steps.len() {
            return None;
        }
        self.done += 1;
        self.undo_name()
    }

    /// How many steps can be undone.
    #[must_use]
    pub fn depth(&self) -> usize {
        self.done
    }
}
