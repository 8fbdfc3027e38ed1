//! What a person can do to a document, each as a pure function.
//!
//! In: [`Lines`] and an [`Edit`]. Out: new [`Lines`] that obey every rule, or an [`EditError`] that says why not, with
//! the old ones as they were. An edit of one part leaves the others the very same.

use core::fmt;
use std::sync::Arc;

use super::rules::Fault;
use super::{About, BodyEdit, Lines, ShopEdit};
use crate::units::{LengthUnit, Message};

/// One thing a person does, and one step of undo.
#[derive(Clone, Debug, PartialEq)]
pub enum Edit {
    /// Change what the lines are called, or how they are read.
    About(AboutEdit),
    /// Change what shapes the loft.
    Body(BodyEdit),
    /// Change what makes metal of it.
    Shop(ShopEdit),
    /// Do many edits as one, as of a pasted block: all of them or none.
    Many {
        /// What they are together.
        name: String,
        /// In order.
        edits: Vec<Edit>,
    },
    /// Put another document in the place of this one, as an import does.
    Replace(Box<Lines>),
}

/// One thing a person does to what the lines are called.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum AboutEdit {
    /// Change the title.
    Title(String),
    /// Change the unit lengths are shown in.
    Unit(LengthUnit),
    /// Change the notes.
    Notes(String),
    /// Change the label of the revision.
    Revision(String),
}

impl From<&Edit> for Edit {
    fn from(edit: &Self) -> Self {
        edit.clone()
    }
}

impl From<AboutEdit> for Edit {
    fn from(edit: AboutEdit) -> Self {
        Self::About(edit)
    }
}

impl From<&AboutEdit> for Edit {
    fn from(edit: &AboutEdit) -> Self {
        Self::About(edit.clone())
    }
}

impl From<BodyEdit> for Edit {
    fn from(edit: BodyEdit) -> Self {
        Self::Body(edit)
    }
}

impl From<&BodyEdit> for Edit {
    fn from(edit: &BodyEdit) -> Self {
        Self::Body(edit.clone())
    }
}

impl From<ShopEdit> for Edit {
    fn from(edit: ShopEdit) -> Self {
        Self::Shop(edit)
    }
}

/// Why an edit was refused; the document is as it was.
#[derive(Clone, Debug, PartialEq)]
pub enum EditError {
    /// The point is not there.
    NoPoint,
    /// The station is not there.
    NoStation,
    /// The plane is not there.
    NoPlane,
    /// The run line is not there.
    NoRunLine,
    /// The source is not there.
    NoSource,
    /// The line is not there.
    NoLine,
    /// The cell has readings, or a mark already.
    NotTorn {
        /// The point's name.
        point: String,
    },
    /// Readings come from the source.
    Quoted {
        /// Its title.
        source: String,
        /// How many.
        readings: usize,
    },
    /// The point has no such reading.
    NoReading {
        /// The point's name.
        point: String,
        /// Counted from 1.
        number: usize,
        /// How many it has.
        of: usize,
    },
    /// A coordinate that was not read, or whose readings are all set aside, cannot be moved.
    NotRead {
        /// The point's name.
        point: String,
        /// `half-breadth` or `height`.
        coordinate: &'static str,
    },
    /// Setting aside needs a reason.
    NoReason {
        /// The point's name.
        point: String,
    },
    /// Points lie on the plane or the run line, or at the station.
    InUse {
        /// Its name.
        name: String,
        /// How many.
        points: usize,
    },
    /// What would come out breaks a rule.
    Unsound(Fault),
}

impl Message for EditError {
    fn message(&self, unit: LengthUnit) -> String {
        match self {
            Self::NoPoint => "This point is no longer there. Pick another.".to_owned(),
            Self::NoStation => "This station is no longer there. Pick another.".to_owned(),
            Self::NoPlane => "This plane is no longer there. Pick another.".to_owned(),
            Self::NoRunLine => "This run line is no longer there. Pick another.".to_owned(),
            Self::NoLine => "This line is no longer there. Pick another.".to_owned(),
            Self::NoSource => "This source is no longer there. Choose another.".to_owned(),
            Self::NotTorn { point } => format!(
                "{point} is marked or has readings already. Set a reading aside to use it no longer."
            ),
            Self::Quoted { source, readings } => format!(
                "{readings} {} from {source}; it stays as long as they do.",
                if *readings == 1 {
                    "reading comes"
                } else {
                    "readings come"
                }
            ),
            Self::NoReading { point, number, of } => {
                format!("{point} has no reading {number}, only {of}. Pick one of them.")
            }
            Self::NotRead { point, coordinate } => format!(
                "{point} has no {coordinate} in use, so its {coordinate} cannot move. Add a reading of it, or use one \
                 again."
            ),
            Self::NoReason { point } => format!("{point}: say why the reading is set aside."),
            Self::InUse { name, points } => format!(
                "{name} holds {points} {}; it stays as long as they do.",
                if *points == 1 { "point" } else { "points" }
            ),
            Self::Unsound(fault) => fault.message(unit),
        }
    }
}

impl fmt::Display for EditError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.message(LengthUnit::Millimetres))
    }
}

impl core::error::Error for EditError {}

impl From<Fault> for EditError {
    fn from(fault: Fault) -> Self {
        Self::Unsound(fault)
    }
}

impl AboutEdit {
    fn name(&self) -> String {
        match self {
            Self::Title(_) => "title",
            Self::Unit(_) => "unit",
            Self::Notes(_) => "notes",
            Self::Revision(_) => "revision label",
        }
        .to_owned()
    }
}

impl Edit {
    /// What the step is called beside «Undo»: the place it touches, as «STA 48, WL 32».
    ///
    /// `lines` is the document it is or was applied to.
    #[must_use]
    pub fn name(&self, lines: &Lines) -> String {
        match self {
            Self::About(edit) => edit.name(),
            Self::Body(edit) => edit.name(&lines.body),
            Self::Shop(edit) => edit.name(),
            Self::Many { name, .. } => name.clone(),
            Self::Replace(_) => "import".to_owned(),
        }
    }
}

impl About {
    fn change(&mut self, edit: &AboutEdit) {
        match edit {
            AboutEdit::Title(title) => self.title = title.trim().to_owned(),
            AboutEdit::Unit(unit) => self.unit = *unit,
            AboutEdit::Notes(notes) => self.notes.clone_from(notes),
            AboutEdit::Revision(label) => self.revision = label.trim().to_owned(),
        }
    }
}

impl Lines {
    /// The document with an edit done; this one stays as it is, and so does, as the very same, each part that the edit
    /// does not change.
    ///
    /// # Errors
    /// [`EditError`], which names the place and says what would help.
    pub fn apply(&self, edit: impl Into<Edit>) -> Result<Self, EditError> {
        self.with(&edit.into())
    }

    fn with(&self, edit: &Edit) -> Result<Self, EditError> {
        let mut lines = self.clone();
        lines.change(edit)?;
        if lines.body == self.body {
            lines.body = Arc::clone(&self.body);
        }
        if lines.shop == self.shop {
            lines.shop = Arc::clone(&self.shop);
        }
        match lines.first_fault() {
            Some(fault) => Err(fault.into()),
            None => Ok(lines),
        }
    }

    fn change(&mut self, edit: &Edit) -> Result<(), EditError> {
        match edit {
            Edit::About(edit) => self.about.change(edit),
            Edit::Body(edit) => self.body_mut().change(edit)?,
            Edit::Shop(edit) => Arc::make_mut(&mut self.shop).change(edit),
            Edit::Many { edits, .. } => edits.iter().try_for_each(|edit| self.change(edit))?,
            Edit::Replace(lines) => self.clone_from(lines),
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests;
