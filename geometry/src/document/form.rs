//! The saved form of lines: one object, with what the three parts hold side by side.
//!
//! In: [`Lines`], taken apart so that a field nobody writes does not compile. Out: what `file` writes, and back.

use std::sync::Arc;

use serde::{Deserialize, Serialize};

use super::{
    About, AllowedTurns, Body, Centreline, Ends, Law, Lines, Plane, Point, RunLine, Shop, Source,
    Station, Taken,
};
use crate::units::LengthUnit;

/// [`Lines`] as they are written and read.
#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Form {
    title: String,
    #[serde(default, skip_serializing_if = "String::is_empty")]
    notes: String,
    #[serde(default, skip_serializing_if = "String::is_empty")]
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
    #[serde(default, skip_serializing_if = "Option::is_none")]
    law: Option<Law>,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    allowed_turns: Vec<AllowedTurns>,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    taken: Vec<Taken>,
    #[serde(default)]
    shop: Shop,
}

impl From<Form> for Lines {
    fn from(form: Form) -> Self {
        let Form {
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
        let about = About {
            title,
            notes,
            revision,
            unit,
        };
        let body = Body {
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
        };
        Self {
            about,
            body: Arc::new(body),
            shop: Arc::new(shop),
        }
    }
}

impl From<Lines> for Form {
    fn from(lines: Lines) -> Self {
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
        } = Arc::unwrap_or_clone(body);
        Self {
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
            shop: Arc::unwrap_or_clone(shop),
        }
    }
}
