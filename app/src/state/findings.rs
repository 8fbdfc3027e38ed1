//! What is to be settled of the lines that stand: asked of workers of their own after each finished edit.
//!
//! Verdicts come line by line, and take the place of the line's former one; the list comes when all are there. The worker
//! that judges keeps what it found, and works out anew only what an edit moved. What takes longer, hollows among it, another
//! one looks for once the list stands and nothing is being moved.

use std::sync::Arc;

use geometry::document::{Body, Lines, On};
use geometry::issue::lines_plan::{Band, BandPlace};
use geometry::num::put_in_order;
use geometry::settle::{Findings as Found, LineFound};
use geometry::units::LengthUnit;
use leptos::prelude::*;

use super::Session;
use super::derived::Derived;
use crate::exchange;
use crate::jobs::messages::Work;
use crate::jobs::{Done, Jobs, Stand};

/// After an edit so long nothing is asked, ms: a key that is held down gives the next one sooner.
const PAUSE: u64 = 40;

/// Once the list stands, so long nothing further is looked for, ms.
const IDLE: u64 = 600;

/// What was found, and of what.
type Answer = Option<(BodyInUnit, Arc<Found>)>;

/// All that verdicts hang on: the body, and the unit that they are said in.
#[derive(Clone, Debug)]
struct BodyInUnit {
    body: Arc<Body>,
    unit: LengthUnit,
}

impl BodyInUnit {
    fn of(lines: &Lines) -> Self {
        Self {
            body: Arc::clone(&lines.body),
            unit: lines.about.unit,
        }
    }
}

impl PartialEq for BodyInUnit {
    /// Whether it is the very same body.
    fn eq(&self, other: &Self) -> bool {
        Arc::ptr_eq(&self.body, &other.body) && self.unit == other.unit
    }
}

/// By this name the browser's timing knows when it was last asked.
const ASKED: &str = "judging";

/// By this name it knows how long it took from an edit until the list stood.
const ROWS: &str = "rows";

/// By this name it knows how long it took from the page's request until the first line had its verdict.
const FIRST: &str = "first verdict";

/// The findings of a session.
#[derive(Clone, Copy)]
pub struct Findings {
    judge: Jobs,
    /// Looks for what takes longer.
    further: Jobs,
    /// The last answer: perhaps of some lines only.
    newest: RwSignal<Answer>,
    /// The last answer by which the list stands.
    whole: RwSignal<Answer>,
    /// What curvature the tolerances permit some lines, by the last answer that was complete: distance aft, mm, and from where
    /// to where, 1/mm.
    pub bands: Memo<Arc<Vec<Band>>>,
    standing: Memo<Arc<Lines>>,
    subject: Memo<BodyInUnit>,
    /// Of what it was asked last.
    ordered: StoredValue<Option<BodyInUnit>>,
    /// Whether a person stopped it.
    stopped: RwSignal<bool>,
}

fn bands_of(answer: &Answer) -> Arc<Vec<Band>> {
    let found = answer.iter().flat_map(|(_, found)| &found.lines);
    let banded = found.filter(|line| !line.band.is_empty());
    let banded = banded.map(|line| Band {
        on: line.on,
        places: { line.band.iter() }
            .map(|&[x, low, high]| BandPlace { x, low, high })
            .collect(),
    });
    Arc::new(banded.collect())
}

impl Findings {
    /// Follows the lines that stand from now on.
    pub fn new(session: Session, derived: Derived) -> Self {
        let (newest, whole) = (RwSignal::new(None), RwSignal::new(None));
        let complete = RwSignal::new(None);
        let ordered = StoredValue::new(None::<BodyInUnit>);
        let edited = StoredValue::new(exchange::clock());
        let any = StoredValue::new(false);
        // Verdicts may come faster than they can be shown: of those that came since a frame only the last are.
        let coming = StoredValue::new(None::<Answer>);
        let show = move || {
            if let Some(answer) = coming.try_update_value(Option::take).flatten() {
                newest.set(answer);
            }
        };
        let done = Callback::new(move |done: Done| {
            let (Done::Found(found), Some(of)) = (done, ordered.get_value()) else {
                return;
            };
            let answer = Some((of, Arc::new(found)));
            if let Some((_, found)) = &answer {
                if !any.get_value() && !found.lines.is_empty() {
                    any.set_value(true);
                    exchange::measured(FIRST, 0.0);
                }
                if found.whole && !found.complete {
                    exchange::forget_measured(ROWS);
                    exchange::measured(ROWS, edited.get_value());
                }
                if found.whole {
                    whole.set(answer.clone());
                }
                if found.complete {
                    complete.set(answer.clone());
                }
            }
            let stands = answer.as_ref().is_none_or(|(_, found)| found.whole);
            let waits = coming.with_value(Option::is_some);
            if stands {
                coming.set_value(None);
                newest.set(answer);
            } else {
                coming.set_value(Some(answer));
                if !waits {
                    request_animation_frame(show);
                }
            }
        });
        let subject = Memo::new(move |_| BodyInUnit::of(&derived.standing.get()));
        let findings = Self {
            judge: Jobs::new(done),
            further: Jobs::new(done),
            newest,
            whole,
            bands: Memo::new(move |_| bands_of(&complete.get())),
            standing: derived.standing,
            subject,
            ordered,
            stopped: RwSignal::new(false),
        };
        findings.look_further_when_idle(session);
        let turn = StoredValue::new(0_u32);
        let work = StoredValue::new(session.opened_at());
        Effect::new(move |_| {
            let body = subject.get().body;
            turn.update_value(|turn| *turn = turn.wrapping_add(1));
            edited.set_value(exchange::clock());
            findings.further.stop();
            let now = session.opened_at();
            // What was found of other work says nothing of this.
            if body.points.is_empty() || work.get_value() != now {
                findings.judge.stop();
                coming.set_value(None);
                for answer in [newest, whole, complete] {
                    answer.set(None);
                }
            }
            work.set_value(now);
            if body.points.is_empty() {
                return;
            }
            let mine = turn.get_value();
            let ask = move || {
                // A gesture that lasts will end in an edit, or in nothing.
                if turn.get_value() == mine {
                    findings.order();
                }
            };
            set_timeout(ask, core::time::Duration::from_millis(PAUSE));
        });
        findings
    }

    /// Looks further once the list stands and nothing is being moved; a gesture that begins meanwhile ends the search, which
    /// begins again after it.
    fn look_further_when_idle(self, session: Session) {
        let waits = Memo::new(move |_| {
            let found = self.whole.get().filter(|(of, _)| *of == self.subject.get());
            found.is_some_and(|(_, found)| !found.complete) && !self.stopped.get()
        });
        let busy = Memo::new(move |_| session.is_held() || session.tries_out());
        let wish = StoredValue::new(0_u32);
        Effect::new(move |_| {
            wish.update_value(|wish| *wish = wish.wrapping_add(1));
            if busy.get() {
                self.further.stop();
            } else if waits.get() {
                let mine = wish.get_value();
                let ask = move || {
                    if wish.get_value() == mine && waits.get_untracked() {
                        self.further
                            .order(Work::Further, &self.standing.get_untracked());
                    }
                };
                set_timeout(ask, core::time::Duration::from_millis(IDLE));
            }
        });
    }

    fn order(self) {
        let lines = self.standing.get_untracked();
        self.stopped.set(false);
        exchange::timed(ASKED, || self.judge.order(Work::Judge, &lines));
        self.ordered.set_value(Some(BodyInUnit::of(&lines)));
    }

    /// Starts the worker that judges, ahead of its first order.
    pub fn prepare(self) {
        self.judge.prepare();
    }

    /// Judges no further until the lines change or it is asked again.
    pub fn stop(self) {
        self.judge.stop();
        self.further.stop();
        self.stopped.set(true);
    }

    /// Whether it was stopped since it was asked last.
    pub fn is_stopped(self) -> bool {
        self.stopped.get()
    }

    /// Judges the lines that stand anew.
    pub fn again(self) {
        self.order();
    }

    /// Judges them anew where that failed.
    pub fn catch_up(self) {
        let failed = |jobs: Jobs| matches!(jobs.stand.get_untracked(), Stand::Failed(_));
        if failed(self.judge) || failed(self.further) {
            self.again();
        }
    }

    /// The last list, and whether it is of the lines that stand.
    pub fn found(self) -> Option<(Arc<Found>, bool)> {
        let subject = self.subject.get();
        let (of, found) = self.whole.get()?;
        Some((found, of == subject))
    }

    /// What is found of the lines that stand, perhaps of some only.
    fn so_far(self) -> Option<Arc<Found>> {
        let subject = self.subject.get();
        let (of, found) = self.newest.get()?;
        (of == subject).then_some(found)
    }

    /// Of the lines that stand, how many are judged, and of how many.
    pub fn judged(self) -> Option<[usize; 2]> {
        let found = self.so_far()?;
        Some([found.lines.len(), found.count])
    }

    /// Each line's last verdict, the worst first, and whether it is of the lines that stand.
    pub fn lines(self) -> Vec<(LineFound, bool)> {
        let newest = self.so_far();
        let newest = newest.iter().flat_map(|found| &found.lines);
        let mut all: Vec<_> = newest.map(|line| (line.clone(), true)).collect();
        let new: Vec<On> = all.iter().map(|(line, _)| line.on).collect();
        let former = self.found();
        let former = former.iter().flat_map(|(found, _)| &found.lines);
        let standing = self.standing.get();
        let there = |on: On| standing.body.line_name(on).is_some();
        let former = former.filter(|line| !new.contains(&line.on) && there(line.on));
        all.extend(former.map(|line| (line.clone(), false)));
        put_in_order(&mut all, |(a, _), (b, _)| b.ratio.total_cmp(&a.ratio));
        all
    }

    /// What was found of a line, and whether it is of the lines that stand.
    pub fn of(self, on: On) -> Option<(LineFound, bool)> {
        let in_it = |found: Arc<Found>| found.lines.iter().find(|line| line.on == on).cloned();
        let new = self.so_far().and_then(in_it).map(|line| (line, true));
        new.or_else(|| Some((in_it(self.found()?.0)?, false)))
    }

    /// What is judged just now, and why it came to nothing.
    pub fn stand(self) -> Stand {
        self.judge.stand.get()
    }

    /// What is looked for once the list stands, and why it came to nothing.
    pub fn stand_further(self) -> Stand {
        self.further.stand.get()
    }
}
