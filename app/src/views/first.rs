//! The page's first picture, part by part: each in a task of its own, so that meanwhile the browser draws what is there
//! and hears the person.
//!
//! What a part shows is worked out when its turn comes, the loft and its lines before anything is drawn of them. All later
//! pictures are drawn at one go.

use leptos::prelude::*;

use crate::exchange;
use crate::state::derived::Derived;
use crate::state::{Screen, Session};

/// Parts of the first picture, in the order in which they come.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Part {
    /// Header and foot.
    Frame,
    /// The screen, as yet without what stands on it.
    Screen,
    /// The card of what is picked, and so the room that is left for the drawing.
    Card,
    /// What is ruled on the paper.
    Paper,
    /// The lines.
    Lines,
    /// Combs and strip.
    Curves,
    /// Names, marks, and the points of the profile.
    Points,
    /// Those of the half-breadth plan.
    HalfBreadth,
    /// Those of the body plan.
    BodyPlan,
    /// The margin.
    Margin,
}

/// How far the first picture has come.
#[derive(Clone, Copy, Debug)]
pub struct FirstPicture(RwSignal<Part>);

impl FirstPicture {
    /// The frame is there; all else follows, and is told when the lines can be edited, before the margin is asked for.
    pub fn begin(session: Session, derived: Derived, ready: impl FnOnce() + 'static) -> Self {
        let come = RwSignal::new(Part::Frame);
        leptos::task::spawn_local(async move {
            // What a screen does not show is not worked out for it.
            if session.screen.get_untracked() == Screen::Lines {
                exchange::turn().await;
                derived.loft.with_untracked(|_| ());
                exchange::turn().await;
                derived.shown.with_untracked(|_| ());
            }
            for part in [
                Part::Screen,
                Part::Card,
                Part::Paper,
                Part::Lines,
                Part::Curves,
                Part::Points,
                Part::HalfBreadth,
                Part::BodyPlan,
            ] {
                exchange::turn().await;
                come.set(part);
            }
            exchange::turn().await;
            ready();
            come.set(Part::Margin);
        });
        Self(come)
    }

    /// Whether a part is there; its place follows that once and no more.
    pub fn has(self, part: Part) -> Memo<bool> {
        Memo::new(move |_| self.0.get() >= part)
    }
}

/// What is shown once the first picture has come so far.
pub fn from<V: IntoView + 'static>(
    part: Part,
    view: impl Fn() -> V + Send + 'static,
) -> impl IntoView {
    let there = expect_context::<FirstPicture>().has(part);
    move || there.get().then(|| view().into_any())
}
