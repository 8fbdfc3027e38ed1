//! Lines with their loft: what is made of both can't be made of two that don't belong together.

use std::sync::Arc;

use super::{Loft, LoftError};
use crate::document::{Frozen, Lines};

/// Lines, and the loft of their body.
#[derive(Clone, Debug)]
pub struct Lofted {
    lines: Arc<Lines>,
    loft: Arc<Loft>,
    /// The frozen revision that these lines are.
    revision: Option<Frozen>,
}

impl Lofted {
    /// Lofts lines.
    ///
    /// # Errors
    /// As [`Loft::build`].
    pub fn build(lines: Arc<Lines>) -> Result<Self, LoftError> {
        let loft = Arc::new(Loft::build(&lines.body)?);
        Ok(Self {
            lines,
            loft,
            revision: None,
        })
    }

    /// Lines whose body the loft is of; none where it is of another.
    #[must_use]
    pub fn of(lines: Arc<Lines>, loft: Arc<Loft>) -> Option<Self> {
        Arc::ptr_eq(&lines.body, loft.body()).then_some(Self {
            lines,
            loft,
            revision: None,
        })
    }

    /// The same, known to be a frozen revision, whose label then stands beside the fingerprint in what is made of them; see
    /// [`Lines::frozen_in`].
    #[must_use]
    pub fn frozen_as(mut self, revision: Option<Frozen>) -> Self {
        self.revision = revision;
        self
    }

    /// The frozen revision that these lines are known to be.
    #[must_use]
    pub fn revision(&self) -> Option<&Frozen> {
        self.revision.as_ref()
    }

    /// The lines.
    #[must_use]
    pub fn lines(&self) -> &Arc<Lines> {
        &self.lines
    }

    /// The loft of their body.
    #[must_use]
    pub fn loft(&self) -> &Arc<Loft> {
        &self.loft
    }
}
