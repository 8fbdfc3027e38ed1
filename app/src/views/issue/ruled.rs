//! Rules along the window's edges, and a ruler laid on the sheet.

use core::fmt::Write;

use leptos::prelude::*;

use super::sight::{At, Rule, Sight};

/// How wide the rules at the edges are, px.
const BROAD: f64 = 20.0;

/// How long a tick is, with a figure and without, px.
const LONG: f64 = 8.0;
const SHORT: f64 = 4.0;

/// Half the length of the strokes at a ruler's ends, px.
const END: f64 = 7.0;

/// A ruler laid on the sheet, mm.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Laid {
    /// Where it begins.
    pub from: Option<At>,
    /// Where it ends.
    pub to: Option<At>,
    /// Where the next press would put an end.
    pub at: At,
}

impl Laid {
    /// One whose first end is to be put.
    pub fn beginning(at: At) -> Self {
        Self {
            from: None,
            to: None,
            at,
        }
    }

    /// Puts the next end: after both, a new ruler begins.
    pub fn put(&mut self, at: At) {
        (self.from, self.to) = match (self.from, self.to) {
            (Some(from), None) => (Some(from), Some(at)),
            _ => (Some(at), None),
        };
        self.at = at;
    }

    /// Its strokes, in millimetres of a sheet that is seen at so many px to one.
    pub fn path(&self, scale: f64) -> String {
        let end = END / scale;
        let mut d = String::new();
        let mut put = |text: core::fmt::Arguments<'_>| {
            let written = d.write_fmt(text);
            debug_assert!(written.is_ok(), "a string takes all");
        };
        let last = self.to.unwrap_or(self.at);
        if let Some(from) = self.from {
            put(format_args!(
                "M{:.3} {:.3}L{:.3} {:.3}",
                from.0, from.1, last.0, last.1
            ));
        }
        for at in [self.from, Some(last)].into_iter().flatten() {
            let (x, y, both) = (at.0, at.1, 2.0 * end);
            put(format_args!(
                "M{:.3} {y:.3}h{both:.3}M{x:.3} {:.3}v{both:.3}",
                x - end,
                y - end
            ));
        }
        d
    }
}

fn rule(sight: Memo<Option<Sight>>, along: fn(Sight) -> [f64; 4]) -> Memo<Rule> {
    Memo::new(move |_| {
        let sight = sight.get();
        sight.map_or_else(Rule::default, |sight| {
            let [from, scale, window, sheet] = along(sight);
            Rule::of(from, scale, window, sheet)
        })
    })
}

/// The strokes of a rule; `at` writes one at a place, of a length.
fn strokes(rule: &Rule, at: fn(f64, f64) -> String) -> String {
    let ticks = rule.ticks.iter();
    ticks
        .map(|(px, figured)| at(*px, if *figured { LONG } else { SHORT }))
        .collect()
}

/// The rule along the upper edge.
#[component]
pub fn Across(sight: Memo<Option<Sight>>) -> impl IntoView {
    let rule = rule(sight, |sight| {
        [sight.corner.0, sight.scale, sight.window.0, sight.sheet.0]
    });
    let ticks = move || {
        rule.with(|rule| strokes(rule, |px, long| format!("M{px:.1} {BROAD}v{:.1}", -long)))
    };
    let figures = move || {
        rule.get()
            .figures
            .into_iter()
            .map(|(px, text)| {
                view! { <text x=format!("{px:.1}") y="9" text-anchor="middle">{text}</text> }
            })
            .collect_view()
    };
    view! {
        <svg class="edge-rule across" aria-hidden="true"><path d=ticks/>{figures}</svg>
    }
}

/// The rule along the left edge.
#[component]
pub fn Up(sight: Memo<Option<Sight>>) -> impl IntoView {
    let rule = rule(sight, |sight| {
        [sight.corner.1, sight.scale, sight.window.1, sight.sheet.1]
    });
    let ticks =
        move || rule.with(|rule| strokes(rule, |px, long| format!("M30 {px:.1}h{:.1}", -long)));
    let figures =
        move || {
            rule.get().figures.into_iter().map(|(px, text)| {
            view! { <text x="20" y=format!("{:.1}", px + 4.0) text-anchor="end">{text}</text> }
        }).collect_view()
        };
    view! {
        <svg class="edge-rule up" aria-hidden="true"><path d=ticks/>{figures}</svg>
    }
}
