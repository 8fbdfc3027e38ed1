//! The saved form of lines: one object, with what the three parts hold side by side.
//!
//! In: [`Lines`], taken apart so that a field nobody writes does not compile. Out: what `file` writes, and back.

use std::sync::Arc;

use serde::{Deserialize, Serialize};

use super::{
    About, AllowedTurns, Body, Centreline, Ends, Law, Lines, Plane, Point, Revision, RunLine, Shop,
    Source, Station, Taken,
};
use crate::units::LengthUnit;

/// [`Lines`] as they are read.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct LinesForm {
    title: String,
    #[serde(default)]
    notes: String,
    #[serde(default)]
    revision: String,
    unit: LengthUnit,
    method: u32,
    sources: Vec<Source>,
    stations: Vec<Station>,
    ends: Ends,
    planes: Vec<Plane>,
    run_lines: Vec<RunLine>,
    points: Vec<Point>,
    centreline: Centreline,
    #[serde(default)]
    law: Option<Law>,
    #[serde(default)]
    allowed_turns: Vec<AllowedTurns>,
    #[serde(default)]
    taken: Vec<Taken>,
    #[serde(default)]
    shop: Shop,
}

/// [`Lines`] as they are written.
#[derive(Serialize)]
pub(super) struct LinesRef<'a> {
    title: &'a str,
    #[serde(skip_serializing_if = "str::is_empty")]
    notes: &'a str,
    #[serde(skip_serializing_if = "str::is_empty")]
    revision: &'a str,
    unit: LengthUnit,
    method: u32,
    sources: &'a [Source],
    stations: &'a [Station],
    ends: Ends,
    planes: &'a [Plane],
    run_lines: &'a [RunLine],
    points: &'a [Point],
    centreline: &'a Centreline,
    #[serde(skip_serializing_if = "Option::is_none")]
    law: &'a Option<Law>,
    #[serde(skip_serializing_if = "<[_]>::is_empty")]
    allowed_turns: &'a [AllowedTurns],
    #[serde(skip_serializing_if = "<[_]>::is_empty")]
    taken: &'a [Taken],
    shop: &'a Shop,
}

/// A [`Revision`] as it is read.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct RevisionForm {
    label: String,
    date: String,
    reason: String,
    lines: LinesForm,
}

/// A [`Revision`] as it is written.
#[derive(Serialize)]
pub(super) struct RevisionRef<'a> {
    label: &'a str,
    date: &'a str,
    reason: &'a str,
    lines: LinesRef<'a>,
}

impl From<LinesForm> for Lines {
    fn from(form: LinesForm) -> Self {
        let LinesForm {
            title,
            notes,
            revision,
            unit,
            method,
            sources,
            stations,
            ends,
            planes,
            run_lines,
            points,
            centreline,
            law,
            allowed_turns,
            taken,
            shop,
        } = form;
        Self {
            about: About {
                title,
                notes,
                revision,
                unit,
            },
            body: Arc::new(Body {
                method,
                sources,
                stations,
                ends,
                planes,
                run_lines,
                points,
                centreline,
                law,
                allowed_turns,
                taken,
            }),
            shop: Arc::new(shop),
        }
    }
}

impl<'a> From<&'a Lines> for LinesRef<'a> {
    fn from(lines: &'a Lines) -> Self {
        let Lines { about, body, shop } = lines;
        let About {
            title,
            notes,
            revision,
            unit,
        } = about;
        let Body {
            method,
            sources,
            stations,
            ends,
            planes,
            run_lines,
            points,
            centreline,
            law,
            allowed_turns,
            taken,
        } = &**body;
        Self {
            title,
            notes,
            revision,
            unit: *unit,
            method: *method,
            sources,
            stations,
            ends: *ends,
            planes,
            run_lines,
            points,
            centreline,
            law,
            allowed_turns,
            taken,
            shop,
        }
    }
}

impl From<RevisionForm> for Revision {
    fn from(form: RevisionForm) -> Self {
        let RevisionForm {
            label,
            date,
            reason,
            lines,
        } = form;
        Self {
            label,
            date,
            reason,
            lines: lines.into(),
        }
    }
}

impl<'a> From<&'a Revision> for RevisionRef<'a> {
    fn from(revision: &'a Revision) -> Self {
        let Revision {
            label,
            date,
            reason,
            lines,
        } = revision;
        Self {
            label,
            date,
            reason,
            lines: lines.into(),
        }
    }
}
