//! What a person decided about the lines' fairness: how a line may turn, and which proposals were taken.
//!
//! Nothing of this shapes metal, so none of it is in the fingerprint. What it is judged by is `fair`'s.

use serde::{Deserialize, Serialize};

use super::{Body, On, Point, PointId};
use crate::document::EditError;
use crate::document::rules::MOST_NAMED;

/// How many turns a line may have.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Turns {
    /// Places at which it changes from convex to hollow or back.
    pub inflections: usize,
    /// Places at which it bends harder than before and behind; at least one more than the inflections.
    pub peaks: usize,
}

impl Turns {
    /// As a person says them: `2 peaks`, `2 peaks, 1 inflection`.
    #[must_use]
    pub fn words(&self) -> String {
        let counted = |count: usize, what: &str| {
            let many = if count == 1 { "" } else { "s" };
            format!("{count} {what}{many}")
        };
        let peaks = counted(self.peaks, "peak");
        if self.inflections == 0 {
            peaks
        } else {
            format!("{peaks}, {}", counted(self.inflections, "inflection"))
        }
    }
}

/// What a person allows a line, where that is not what its kind usually has.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct AllowedTurns {
    /// The line; a buttock line's upper cut is a line of its own.
    pub on: On,
    /// How often it may turn.
    pub turns: Turns,
}

/// A proposal that was taken: what the compare of two revisions says of it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Taken {
    /// What was proposed, as `A batten along keel`.
    pub title: String,
    /// Why what lies past its tolerance was taken; empty where nothing did.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub reason: String,
    /// What was moved, the furthest first.
    pub moves: Vec<TakenMove>,
}

/// How far a point was moved.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct TakenMove {
    /// The point's name, which outlasts the point.
    pub point: String,
    /// Half-breadth, or the distance along a diagonal, mm.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub half_breadth: Option<f64>,
    /// Height, mm.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub height: Option<f64>,
    /// Whether it lies past its readings' tolerance since.
    #[serde(default, skip_serializing_if = "core::ops::Not::not")]
    pub past: bool,
}

impl Body {
    /// What a person allows a line; none where its kind's usual turns count.
    #[must_use]
    pub fn turns_allowed(&self, on: On) -> Option<Turns> {
        let of = |allowed: &&AllowedTurns| allowed.on == on;
        self.allowed_turns
            .iter()
            .find(of)
            .map(|allowed| allowed.turns)
    }

    /// Whether every reading in use of a point is kept as true.
    #[must_use]
    pub fn keeps(&self, id: PointId) -> bool {
        let used: Vec<bool> = { self.point(id).into_iter() }
            .flat_map(Point::used)
            .map(|reading| reading.kept)
            .collect();
        !used.is_empty() && used.into_iter().all(|kept| kept)
    }

    /// Remembers a proposal that was taken; of more than can be held the oldest is forgotten.
    pub(super) fn remember(&mut self, taken: &Taken) {
        self.taken.push(taken.clone());
        if self.taken.len() > MOST_NAMED {
            self.taken.remove(0);
        }
    }

    /// Allows a line so many turns, or its usual ones again.
    pub(super) fn allow(&mut self, on: On, turns: Option<Turns>) -> Result<(), EditError> {
        if self.line_name(on).is_none() {
            return Err(EditError::NoLine);
        }
        self.allowed_turns.retain(|allowed| allowed.on != on);
        let allowed = turns.map(|turns| AllowedTurns { on, turns });
        self.allowed_turns.extend(allowed);
        crate::num::put_in_order(&mut self.allowed_turns, |a, b| a.on.cmp(&b.on));
        Ok(())
    }
}
