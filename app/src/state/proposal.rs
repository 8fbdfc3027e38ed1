//! Lines that are proposed: drawn dashed beside those that stand, taken as one step or left.

use std::collections::BTreeSet;
use std::sync::Arc;

use geometry::document::{BodyEdit, Edit, Lines, Moved, PointId, Taken, TakenMove};
use geometry::settle::{MoveFound, Proposed, Weighed, Wish};
use leptos::prelude::*;

use super::derived::Derived;
use super::{Note, NoteKind, Session};
use crate::jobs::messages::Work;
use crate::jobs::{Done, Jobs, Stand};

/// What is proposed, for which lines, and as what it was asked.
type Offered = Option<(Arc<Lines>, Arc<Proposed>, Wish)>;

/// The proposal of a session.
#[derive(Clone, Copy)]
pub struct Proposal {
    session: Session,
    offered: RwSignal<Offered>,
    /// What was asked last, and for which lines.
    asked: StoredValue<Option<(Arc<Lines>, Wish)>>,
    /// Points past their tolerance that are to move all the same.
    pub ticked: RwSignal<BTreeSet<PointId>>,
    /// Points within it that are to stay.
    pub left_out: RwSignal<BTreeSet<PointId>>,
    /// Why those past it move.
    pub reason: RwSignal<String>,
    /// What comes of what is ticked; none while that is worked out.
    weighed: RwSignal<Option<Weighed>>,
    /// Works that out, by a worker of its own, so that it stops nothing else.
    weigher: Jobs,
    /// How often the ticks were changed.
    turn: StoredValue<u32>,
}

/// After a tick so long nothing is weighed, since another may follow, ms.
const PAUSE: u64 = 250;

impl Proposal {
    /// Nothing is proposed yet.
    pub fn new(session: Session) -> Self {
        let weighed = RwSignal::new(None);
        let done = Callback::new(move |done: Done| {
            if let Done::Weighed(found) = done {
                weighed.set(Some(found));
            }
        });
        Self {
            session,
            weighed,
            weigher: Jobs::new(done),
            turn: StoredValue::new(0),
            offered: RwSignal::new(None),
            asked: StoredValue::new(None),
            ticked: RwSignal::new(BTreeSet::new()),
            left_out: RwSignal::new(BTreeSet::new()),
            reason: RwSignal::new(String::new()),
        }
    }

    /// Follows the lines that stand from now on: what is proposed for others is dropped, or worked out anew.
    pub fn follow(self, derived: Derived, jobs: Jobs) {
        let proposal = self;
        Effect::new(move |_| {
            let standing = derived.standing.get();
            let asked = proposal.pending(jobs).then(|| proposal.asked.get_value());
            let stands = { proposal.offered.get_untracked() }.map(|(of, _, wish)| (of, wish));
            // What was asked last is wanted, where that is worked out just now.
            let last = asked.flatten().or(stands);
            let stale = last.filter(|(of, _)| !alike(of, &standing));
            if let Some((of, wish)) = stale {
                proposal.withdraw(jobs, (&of, &standing), wish);
            }
        });
    }

    /// Puts away what is proposed for lines that stand no longer. Where all points stand as they did, as after a duck, a
    /// tolerance or other turns allowed, the same is worked out anew.
    fn withdraw(self, jobs: Jobs, (of, standing): (&Lines, &Arc<Lines>), wish: Wish) {
        self.leave();
        let running = matches!(jobs.stand.get_untracked(), Stand::Running { .. });
        let free = !running || self.pending(jobs);
        let anew = free && self.session.locked().is_none() && places(of) == places(standing);
        if anew {
            self.order(jobs, standing, wish);
        } else if self.pending(jobs) {
            jobs.stop();
        }
        let says = if anew {
            "The proposal is worked out anew."
        } else {
            "The proposal is withdrawn, for the lines are others now."
        };
        self.session.note.update(|note| match note {
            Some(note) => note.text = format!("{} {says}", note.text),
            None => {
                *note = Some(Note {
                    kind: NoteKind::Done,
                    text: says.to_owned(),
                    undo: false,
                });
            }
        });
    }

    /// Whether one is worked out just now.
    fn pending(self, jobs: Jobs) -> bool {
        let stand = jobs.stand.get_untracked();
        matches!(stand, Stand::Running { work, .. } if matches!(work, Work::Propose(_)))
    }

    fn order(self, jobs: Jobs, lines: &Arc<Lines>, wish: Wish) {
        jobs.order(Work::Propose(wish), lines);
        self.asked.set_value(Some((Arc::clone(lines), wish)));
    }

    /// Asks for one for the lines that stand.
    pub fn ask(self, jobs: Jobs, wish: Wish) {
        self.leave();
        self.ask_again(jobs, wish);
    }

    /// Asks for another one; the one that stands stays until that is there.
    pub fn ask_again(self, jobs: Jobs, wish: Wish) {
        self.session.note.set(None);
        self.order(jobs, &self.session.standing_now(), wish);
    }

    /// Takes what a worker found; where the lines have changed since, it says so.
    pub fn hear(self, proposed: Proposed) {
        let standing = self.session.standing_now();
        let of = self.asked.get_value();
        let of = of.filter(|(of, _)| alike(of, &standing));
        match of {
            Some((of, wish)) => self.offer(of, proposed, wish),
            None => self.session.say(
                NoteKind::Fault,
                "The lines changed while others were worked out: ask again.".to_owned(),
            ),
        }
    }

    /// Offers what was found for these lines. All of it is drawn; the ticks say what of it is taken.
    fn offer(self, of: Arc<Lines>, proposed: Proposed, wish: Wish) {
        self.ticked.set(BTreeSet::new());
        self.left_out.set(BTreeSet::new());
        self.reason.set(String::new());
        if let Ok(lines) = of.apply(moves(proposed.moves.iter())) {
            let name = proposed.title.clone();
            self.session.draw_beside(name, Arc::new(lines));
        }
        self.turn.update_value(|turn| *turn = turn.wrapping_add(1));
        self.weigher.stop();
        self.weighed.set(proposed.weighed.clone());
        self.offered.set(Some((of, Arc::new(proposed), wish)));
        if self.weighed.with_untracked(Option::is_none) {
            self.weigh();
        }
    }

    /// Ticks a move, or takes the tick off it; what then comes of it is weighed.
    pub fn turn(self, found: &MoveFound) {
        let set = if found.past {
            self.ticked
        } else {
            self.left_out
        };
        set.update(|all| {
            if !all.remove(&found.point) {
                all.insert(found.point);
            }
        });
        self.weighed.set(None);
        self.turn.update_value(|turn| *turn = turn.wrapping_add(1));
        let mine = self.turn.get_value();
        let weigh = move || {
            if self.turn.get_value() == mine {
                self.weigh();
            }
        };
        set_timeout(weigh, core::time::Duration::from_millis(PAUSE));
    }

    /// Has what is ticked weighed.
    fn weigh(self) {
        let Some((of, proposed, wish)) = self.offered.get_untracked() else {
            return;
        };
        let all = proposed.moves.iter();
        let moves = untrack(|| all.filter(|found| self.goes(found)).cloned().collect());
        self.weigher.order_weighing(wish, &of, moves);
    }

    /// What comes of what is ticked, as far as it is known: whether the lines come out better, and in a sentence.
    pub fn comes(self) -> (bool, String) {
        match (self.weighed.get(), self.weigher.stand.get()) {
            (Some(weighed), _) => (weighed.better, weighed.says),
            (None, Stand::Failed(why)) => (
                false,
                format!("What comes of it could not be worked out. {why}"),
            ),
            (None, _) => (false, "What comes of it is worked out.".to_owned()),
        }
    }

    /// What the proposal that stands was asked as.
    pub fn wish(self) -> Option<Wish> {
        self.offered.get().map(|(.., wish)| wish)
    }

    /// What is proposed.
    pub fn now(self) -> Option<Arc<Proposed>> {
        self.offered.get().map(|(_, proposed, _)| proposed)
    }

    /// Puts it away; tells whether there was one.
    pub fn leave(self) -> bool {
        let there = self.offered.with_untracked(Option::is_some);
        if there {
            self.weigher.stop();
            self.offered.set(None);
            // What is drawn beside may be another thing by now.
            self.session.beside.update(|beside| {
                if beside
                    .as_ref()
                    .is_some_and(|beside| beside.before.is_none())
                {
                    *beside = None;
                }
            });
        }
        there
    }

    /// Whether any of it is to be taken.
    pub fn any_goes(self) -> bool {
        let offered = self.offered.get();
        offered.is_some_and(|(_, proposed, _)| proposed.moves.iter().any(|found| self.goes(found)))
    }

    /// What was asked last.
    pub fn asked_last(self) -> Option<Wish> {
        self.asked.get_value().map(|(_, wish)| wish)
    }

    fn goes(self, found: &MoveFound) -> bool {
        if found.past {
            self.ticked.with(|ticked| ticked.contains(&found.point))
        } else {
            !self.left_out.with(|left| left.contains(&found.point))
        }
    }

    /// Takes it as one step; the reason stands beside the readings that are overruled, and in the compare of revisions. Tells
    /// whether it was taken.
    pub fn take(self) -> bool {
        let Some((_, proposed, _)) = self.offered.get_untracked() else {
            return false;
        };
        let of = self.session.standing_now();
        let goes = untrack(|| -> Vec<&MoveFound> {
            let all = proposed.moves.iter();
            all.filter(|found| self.goes(found)).collect()
        });
        let overruled: Vec<&MoveFound> = goes.iter().copied().filter(|found| found.past).collect();
        let reason = if overruled.is_empty() {
            String::new()
        } else {
            self.reason.get_untracked().trim().to_owned()
        };
        let notes = overruled.iter().flat_map(|found| {
            let readings = of
                .body
                .point(found.point)
                .map_or(&[][..], |point| &point.readings);
            let used = { readings.iter().enumerate() }.filter(|(_, r)| r.set_aside.is_none());
            used.map(|(reading, _)| BodyEdit::AddNote {
                point: found.point,
                reading,
                note: format!("overruled, {}: {reason}", found.says),
            })
        });
        let name = proposed.title.clone();
        let took = |found: &&MoveFound| TakenMove {
            point: found.name.clone(),
            half_breadth: found.by[0],
            height: found.by[1],
            past: found.past,
        };
        let remember = BodyEdit::Remember(Taken {
            title: name.clone(),
            reason: reason.clone(),
            moves: goes.iter().map(took).collect(),
        });
        let edits = std::iter::once(moves(goes.iter().copied()))
            .chain(notes.map(Edit::from))
            .chain([remember.into()])
            .collect();
        // What is refused stays proposed, with its ticks and its reason.
        let done = self.session.edit_and_say(Edit::Many { name, edits });
        if done {
            self.weigher.stop();
            self.offered.set(None);
            self.session.beside.set(None);
        }
        done
    }
}

/// Whether the same would be proposed for two states: another unit or title changes nothing.
fn alike(of: &Lines, standing: &Lines) -> bool {
    let same = || of.fingerprint() == standing.fingerprint();
    Arc::ptr_eq(&of.body, &standing.body)
        || (of.body.allowed_turns == standing.body.allowed_turns && same())
}

/// Where the points stand that the surface goes by.
fn places(lines: &Lines) -> Vec<(PointId, [f64; 2])> {
    let offsets = lines.body.offsets();
    let all = offsets.iter().flatten();
    all.map(|offset| (offset.point, offset.accepted)).collect()
}

fn moves<'a>(found: impl Iterator<Item = &'a MoveFound>) -> Edit {
    let moved = found.map(|found| Moved {
        point: found.point,
        half_breadth: found.to[0],
        height: found.to[1],
    });
    BodyEdit::MoveAll(moved.collect()).into()
}
