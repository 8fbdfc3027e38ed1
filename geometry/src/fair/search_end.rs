//! What all searches of readings share: why one ended, and how a reading is left out of them.
//!
//! In: a body and some of its points. Out: [`SuspectsError`]; the body without those points.

use std::sync::Arc;

use crate::document::{Body, PointId};
use crate::loft::LoftError;
use crate::units::{LengthUnit, Message};

/// Why nothing was found out.
#[derive(Clone, Debug, PartialEq)]
pub enum SuspectsError {
    /// The lines have no loft.
    Loft(LoftError),
    /// It was asked to stop.
    Stopped,
}

impl From<LoftError> for SuspectsError {
    fn from(error: LoftError) -> Self {
        Self::Loft(error)
    }
}

impl Message for SuspectsError {
    fn message(&self, unit: LengthUnit) -> String {
        match self {
            Self::Loft(error) => error.message(unit),
            Self::Stopped => "The search for misprints was stopped.".to_owned(),
        }
    }
}

impl core::fmt::Display for SuspectsError {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        f.write_str(&self.message(LengthUnit::Millimetres))
    }
}

impl core::error::Error for SuspectsError {}

/// Weight of a reading that has no say, of its own.
pub(super) const NO_SAY: f64 = 1e-6;

/// The body with all readings of some points set aside.
pub(super) fn without(body: &Body, ids: &[PointId]) -> Arc<Body> {
    let mut body = body.clone();
    for point in body.points.iter_mut().filter(|p| ids.contains(&p.id)) {
        for reading in &mut point.readings {
            reading.set_aside = Some(String::new());
        }
    }
    Arc::new(body)
}
