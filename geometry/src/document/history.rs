//! The steps of a session: the document that stands, and what leads back from it and on again.
//!
//! In: documents and the names of the edits that made them. Out: the one that stands, undo and redo. A step holds what
//! changed, not a document: five hundred of them weigh less than ten
//! documents, where each is of a point or two. What a step leaves as it is stays the very same on either side of it.
//! `kept` writes the steps next to where it stands, and reads them again.

use std::collections::VecDeque;
use std::sync::Arc;

use super::edit::{Edit, EditError};
use super::{About, Body, Lines, Point, Shop};

mod kept;

pub use kept::{StepError, write_step};

/// So many steps are kept; the oldest go first.
pub const MOST_STEPS: usize = 500;

/// A document with its past and its undone future.
#[derive(Clone, Debug, PartialEq)]
pub struct History {
    now: Arc<Lines>,
    past: VecDeque<Arc<UndoStep>>,
    /// The next one last.
    undone: Vec<Arc<UndoStep>>,
}

/// A step that can be taken back or done again. While it stays what it is, it stays the very same.
#[derive(Clone, Debug, PartialEq)]
pub struct UndoStep {
    name: String,
    /// To the document on the step's other side.
    across: Change,
}

/// What leads from one document to another.
#[derive(Clone, Debug, PartialEq)]
struct Change {
    about: About,
    body: BodyChange,
    shop: Arc<Shop>,
}

#[derive(Clone, Debug, PartialEq)]
enum BodyChange {
    /// It is the very same.
    None,
    /// Some points are others: where they stand, and what stands there then.
    Points(Vec<(usize, Point)>),
    /// All may be other.
    All(Arc<Body>),
}

impl BodyChange {
    fn between(from: &Arc<Body>, to: &Arc<Body>) -> Self {
        if Arc::ptr_eq(from, to) {
            return Self::None;
        }
        let pairs = from.points.iter().zip(&to.points).enumerate();
        let other = pairs.filter(|(_, (from, to))| from != to);
        let points = Self::Points(other.map(|(n, (_, to))| (n, to.clone())).collect());
        if points.on(from) == *to {
            points
        } else {
            Self::All(Arc::clone(to))
        }
    }

    fn on(&self, body: &Arc<Body>) -> Arc<Body> {
        match self {
            Self::None => Arc::clone(body),
            Self::All(other) => Arc::clone(other),
            Self::Points(points) => {
                let mut body = Body::clone(body);
                for (n, point) in points {
                    if let Some(there) = body.points.get_mut(*n) {
                        there.clone_from(point);
                    }
                }
                Arc::new(body)
            }
        }
    }
}

impl Change {
    fn between(from: &Lines, to: &Lines) -> Self {
        let Lines { about, body, shop } = to;
        Self {
            about: about.clone(),
            body: BodyChange::between(&from.body, body),
            shop: Arc::clone(shop),
        }
    }

    fn on(&self, lines: &Lines) -> Lines {
        let Self { about, body, shop } = self;
        Lines {
            about: about.clone(),
            body: body.on(&lines.body),
            shop: Arc::clone(shop),
        }
    }
}

impl History {
    /// A history that starts with this document.
    #[must_use]
    pub fn new(lines: Arc<Lines>) -> Self {
        Self {
            now: lines,
            past: VecDeque::new(),
            undone: Vec::new(),
        }
    }

    /// The document that stands.
    #[must_use]
    pub fn now(&self) -> &Arc<Lines> {
        &self.now
    }

    /// Does an edit; steps that were undone are forgotten. An edit that changes nothing is no step.
    ///
    /// # Errors
    /// As [`Lines::apply`]; the history is as it was.
    pub fn edit(&mut self, edit: impl Into<Edit>) -> Result<(), EditError> {
        let edit = edit.into();
        let lines = self.now().apply(&edit)?;
        if lines != **self.now() {
            let name = edit.name(self.now());
            self.push(name, Arc::new(lines));
        }
        Ok(())
    }

    /// Adds a step under its name; steps that were undone are forgotten.
    pub fn push(&mut self, name: String, lines: Arc<Lines>) {
        self.undone.clear();
        let across = Change::between(&lines, &self.now);
        self.past.push_back(Arc::new(UndoStep { name, across }));
        if self.past.len() > MOST_STEPS {
            self.past.pop_front();
        }
        self.now = lines;
    }

    /// The name of the step that [`History::undo`] would take back.
    #[must_use]
    pub fn undo_name(&self) -> Option<&str> {
        self.past.back().map(|step| step.name.as_str())
    }

    /// The name of the step that [`History::redo`] would do again.
    #[must_use]
    pub fn redo_name(&self) -> Option<&str> {
        self.undone.last().map(|step| step.name.as_str())
    }

    /// Takes the last step back and tells its name; none where nothing is left.
    pub fn undo(&mut self) -> Option<&str> {
        let step = self.past.pop_back()?;
        let step = self.cross(&step);
        self.undone.push(step);
        self.redo_name()
    }

    /// Does the last undone step again and tells its name; none where nothing is left.
    pub fn redo(&mut self) -> Option<&str> {
        let step = self.undone.pop()?;
        let step = self.cross(&step);
        self.past.push_back(step);
        self.undo_name()
    }

    /// Goes to the other side of a step, and gives the step that leads back.
    fn cross(&mut self, step: &UndoStep) -> Arc<UndoStep> {
        let there = step.across.on(&self.now);
        let across = Change::between(&there, &self.now);
        self.now = Arc::new(there);
        let name = step.name.clone();
        Arc::new(UndoStep { name, across })
    }

    /// How many steps can be undone.
    #[must_use]
    pub fn depth(&self) -> usize {
        self.past.len()
    }

    /// The steps that can be undone, the last one first.
    pub fn steps_back(&self) -> impl Iterator<Item = &Arc<UndoStep>> {
        self.past.iter().rev()
    }

    /// The steps that can be done again, the next one first.
    pub fn steps_on(&self) -> impl Iterator<Item = &Arc<UndoStep>> {
        self.undone.iter().rev()
    }
}
