//! The work as it is kept on this device: each finished step by itself, by one tab at a time, and what a file lacks of it.
//!
//! In: the session's steps, the storage, the other tabs. Out: [`Keeping`], handed down by context, which says how it
//! stands; and of the session what concerns files and other tabs. [`open`] reads what was kept before there is a page.

use std::cell::{Cell, RefCell};
use std::rc::Rc;
use std::sync::Arc;

use geometry::document::{Folder, History, Lines, Revision, read_folder, write_folder};
use geometry::units::{LengthUnit, Message};
use leptos::prelude::*;

use super::readable::Readable;
use super::steps::{KeptHistory, OnDevice, OnFile};
use super::{NoteKind, Opened, Session, TO_LOOK_AT, demo};
use crate::exchange::{self, Nap, Own};
use crate::storage::{Aside, Expected, Former, Found, KeptWork, Refusal, Storage, WithSteps};
use crate::tabs::{TabEvent, Tabs};

/// What is said where lines would be changed that another tab has open.
const OPEN_ELSEWHERE: &str =
    "These lines are open in another tab; here they are to look at. Take over to change them.";

/// What is said where kept work would be deleted that another tab has open.
const DELETE_ELSEWHERE: &str =
    "These lines are open in another tab, and nothing is deleted here. Take over first.";

/// What is said where the browser does not delete.
const DELETE_LATER: &str = "The browser did not delete it; try again later.";

/// What is said where the work was read, but not the steps beside it; they are forgotten with the next write.
const STEPS_LOST: &str = "Your lines are as you left them, but what was done to them could not be read: Undo begins anew.";

/// A write waits so long for the page to show the step first, ms.
const AFTER_PAINT: i32 = 32;

/// How long a page that opens waits for its turn; a page that is loaded again leaves it only just before, ms.
const FOR_TURN: i32 = 300;

/// How long another tab may take to let go, and a last write to be done, ms.
const FOR_ANSWER: i32 = 2_000;

/// From so many edits on it is said that no file holds them.
const MANY_EDITS: u32 = 20;

/// What a session begins with.
#[derive(Clone, Debug)]
pub struct Beginning {
    /// The lines and their revisions.
    pub folder: Folder,
    /// Whether it is the example.
    pub example: bool,
    /// Edits since a file was saved or opened.
    pub edits: u32,
    /// The steps that were kept beside them, where some were.
    pub steps: Option<KeptHistory>,
}

impl Beginning {
    /// The example, where nothing was kept.
    pub fn example() -> Self {
        Self {
            folder: demo(),
            example: true,
            edits: 0,
            steps: None,
        }
    }
}

/// One's own work as another tab has it.
#[derive(Clone, Debug)]
pub struct Elsewhere {
    lines: Arc<Lines>,
    revisions: Arc<Vec<Revision>>,
}

/// What of the session concerns files and other tabs.
impl Session {
    /// How many edits no file holds.
    pub fn edits_in_no_file(&self) -> u32 {
        let depth = self.history.with(History::depth);
        self.on_file.with(|file| file.edits(depth))
    }

    /// The same, where it is many.
    pub fn many_edits_in_no_file(&self) -> Option<u32> {
        Some(self.edits_in_no_file()).filter(|edits| *edits >= MANY_EDITS)
    }

    /// A file holds the lines that are seen.
    pub fn has_saved(&self) {
        if self.looking.with_untracked(Option::is_none) {
            self.own_is_saved(0);
        }
    }

    /// A file holds one's own work, but for so many edits.
    pub fn own_is_saved(&self, edits: u32) {
        let depth = self.history.with_untracked(History::depth);
        self.on_file.set(OnFile::at(depth, edits));
    }

    /// What a file of the lines that are seen holds.
    pub fn folder(&self) -> Folder {
        match untrack(|| self.shared()) {
            Some(shared) => Folder {
                lines: (*shared).clone(),
                revisions: Vec::new(),
            },
            None => self.folder_elsewhere(),
        }
    }

    /// One's own work, as this tab has it.
    pub fn own(&self) -> Own {
        let lines = self.history.with(|h| Arc::clone(h.now()));
        (lines, self.own_revisions())
    }

    /// What a file of it holds.
    pub fn own_folder(&self) -> Folder {
        let (lines, revisions) = untrack(|| self.own());
        Folder {
            lines: (*lines).clone(),
            revisions: (*revisions).clone(),
        }
    }

    /// Whether one's own work is the example still, as it was or with changes.
    pub(super) fn own_is_example(&self) -> bool {
        let depth = self.history.with(History::depth);
        self.opened
            .with(|opened| Opened::here(opened, depth).is_some_and(|at| opened[at].example))
    }

    /// Whether the example is what is seen, as it was or with changes.
    pub fn is_example(&self) -> bool {
        self.own_is_example() && self.looking.with(Option::is_none)
    }

    /// Lines from a link, where they are what is seen.
    pub fn shared(&self) -> Option<Arc<Lines>> {
        let looking = self.looking.get()?;
        let elsewhere = self.elsewhere.with(|other| {
            let other = other.as_ref();
            other.is_some_and(|other| Arc::ptr_eq(&other.lines, &looking))
        });
        (!elsewhere).then_some(looking)
    }

    /// Why the lines that are seen may not be changed, where they may not.
    pub(super) fn locked(&self) -> Option<&'static str> {
        let shared = untrack(|| self.shared());
        match shared {
            Some(_) => Some(TO_LOOK_AT),
            None => self.locked_elsewhere(),
        }
    }

    /// Why nothing may be taken in, where nothing may.
    pub(super) fn locked_elsewhere(&self) -> Option<&'static str> {
        let elsewhere = self.elsewhere.with_untracked(Option::is_some);
        elsewhere.then_some(OPEN_ELSEWHERE)
    }

    /// The revisions of another tab's work, where it is to look at.
    pub(super) fn revisions_elsewhere(&self) -> Option<Arc<Vec<Revision>>> {
        let elsewhere = self.elsewhere.get();
        elsewhere.map(|other| other.revisions)
    }

    /// The lines of another tab, where they are to look at.
    pub(super) fn elsewhere_lines(&self) -> Option<Arc<Lines>> {
        let elsewhere = self.elsewhere.get_untracked();
        elsewhere.map(|other| other.lines)
    }

    /// What a file of one's own work holds, as another tab has it.
    fn folder_elsewhere(&self) -> Folder {
        match self.elsewhere.get_untracked() {
            Some(other) => Folder {
                lines: (*other.lines).clone(),
                revisions: (*other.revisions).clone(),
            },
            None => self.own_folder(),
        }
    }

    /// Looks at one's own work as another tab has it; what came by a link stays in sight.
    fn look_elsewhere(&self, folder: Folder) {
        let shared = untrack(|| self.shared());
        let lines = Arc::new(folder.lines);
        self.draft.set(None);
        self.elsewhere.set(Some(Elsewhere {
            lines: Arc::clone(&lines),
            revisions: Arc::new(folder.revisions),
        }));
        if shared.is_none() {
            self.looking.set(Some(lines));
            self.part_from_before();
            self.mend_pick();
        }
    }

    /// Goes on with the work where another tab left it; what this tab had can be brought back, and after the page has
    /// gone too, where it is not yet on this device.
    fn go_on_with(&self, beginning: Beginning, behind: bool) {
        let shared = untrack(|| self.shared());
        let (now, revisions) = untrack(|| self.own());
        if *now != beginning.folder.lines || *revisions != beginning.folder.revisions {
            let name = "Took over from another tab";
            if behind {
                self.keep_former();
            }
            self.open_as_step(beginning.folder, name, beginning.example);
        }
        self.own_is_saved(beginning.edits);
        self.elsewhere.set(None);
        if shared.is_none() {
            self.look_no_more();
        }
    }
}

/// What is kept, as it stands.
struct Standing {
    lines: Arc<Lines>,
    revisions: Arc<Vec<Revision>>,
    edits: u32,
}

impl Standing {
    fn is(&self, other: &Self) -> bool {
        Arc::ptr_eq(&self.lines, &other.lines)
            && Arc::ptr_eq(&self.revisions, &other.revisions)
            && self.edits == other.edits
    }
}

/// Why this tab may only look.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Looks {
    /// Another tab had the work open first.
    Opened,
    /// Another tab has taken it over.
    Taken,
    /// It asks the other to let go.
    Asking,
    /// It is shown again as it was left, and had given its turn back; nothing is known of another.
    Back,
}

/// Kept work that could not be read.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Unread {
    /// The key under which it was put aside; none while it stands where the work is kept.
    key: Option<String>,
    /// Its bytes.
    pub bytes: Arc<Vec<u8>>,
    /// Why it can't be read; none where it can be by now.
    pub says: Option<String>,
}

impl Unread {
    fn new(key: Option<String>, bytes: Vec<u8>) -> Self {
        let says = read_folder(&bytes).err();
        Self {
            key,
            bytes: Arc::new(bytes),
            says: says.map(|error| error.message(LengthUnit::Millimetres)),
        }
    }
}

/// What was found before there was a page.
#[derive(Debug)]
pub struct Opening {
    /// What the session begins with; none: the demo.
    pub beginning: Option<Beginning>,
    /// Whether it is this tab's turn to change it.
    mine: bool,
    kept_at: Option<f64>,
    refused: Option<Refusal>,
    expected: Expected,
    asked: bool,
    unread: Vec<Unread>,
    on_device: OnDevice,
    /// Whether steps were kept that can't be read.
    steps_lost: bool,
    storage: Rc<Storage>,
    tabs: Rc<Tabs>,
}

impl Opening {
    /// Takes up what was found where the work is kept, and the steps beside it.
    fn find(&mut self, found: Found, bytes_of_steps: &[Vec<u8>]) {
        let bytes = match found {
            Found::Nothing => return,
            Found::Strange(bytes) => bytes,
            Found::Work(kept, write) => {
                if let Ok(folder) = read_folder(&kept.bytes) {
                    let lines = Arc::new(folder.lines.clone());
                    let read = |these| {
                        self.on_device
                            .read(&lines, kept.edits, these, bytes_of_steps)
                    };
                    let steps = match kept.steps {
                        WithSteps::Nothing => Ok(None),
                        WithSteps::These(these) => read(these).map(Some).ok_or(()),
                        WithSteps::Strange => Err(()),
                    };
                    self.steps_lost = steps.is_err();
                    self.beginning = Some(Beginning {
                        folder,
                        example: kept.example,
                        edits: kept.edits,
                        steps: steps.unwrap_or_default(),
                    });
                    self.kept_at = Some(kept.when);
                    self.expected = Expected::Write(write);
                    self.asked = kept.asked;
                    return;
                }
                kept.bytes
            }
        };
        self.expected = to_put_aside(&bytes);
        self.unread.push(Unread::new(None, bytes));
    }
}

/// A write is to put these bytes aside.
fn to_put_aside(bytes: &[u8]) -> Expected {
    Expected::Unread(Rc::new(Aside::new(bytes.to_vec(), exchange::calendar())))
}

/// Reads what was kept, once it is known whose turn it is.
pub async fn open() -> Opening {
    let from = exchange::clock();
    let place = format!("scrieve-board{}", exchange::folder());
    let tabs = Tabs::new(place.clone());
    let had_turn = tabs.had_turn();
    tabs.queue(FOR_TURN).await;
    if had_turn && !tabs.mine() {
        // It fell to another tab for as long as it took to load this page again.
        tabs.seize(FOR_ANSWER).await;
    }
    let mut opening = Opening {
        beginning: None,
        mine: tabs.mine(),
        kept_at: None,
        refused: None,
        expected: Expected::Nothing,
        asked: false,
        unread: Vec::new(),
        on_device: OnDevice::default(),
        steps_lost: false,
        storage: Rc::new(Storage::new(place)),
        tabs,
    };
    let storage = Rc::clone(&opening.storage);
    match storage.read_with_steps().await {
        Ok((found, steps)) => {
            opening.find(found, &steps);
            let aside = opening
                .storage
                .aside()
                .await
                .unwrap_or_default()
                .into_iter();
            let aside = aside.map(|Aside { key, bytes }| Unread::new(Some(key), bytes));
            opening.unread.extend(aside);
        }
        Err(refusal) => opening.refused = Some(refusal),
    }
    exchange::measured("opening", from);
    opening
}

/// What keeping needs besides signals.
#[derive(Debug)]
struct Inner {
    storage: Rc<Storage>,
    tabs: Rc<Tabs>,
    expected: RefCell<Expected>,
    /// Which steps are on this device.
    on_device: OnDevice,
    /// Whether the last step is not yet on this device.
    pending: Cell<bool>,
    writing: Cell<bool>,
    /// Whether the next write is to be done without waiting.
    hurry: Cell<bool>,
    wait: Nap,
    /// Whether the browser was asked to keep the work for good.
    asked: Cell<bool>,
    /// Counts how often the turn came or went.
    turn: Cell<u32>,
    /// Whether what another tab keeps is being read, and whether it kept more meanwhile.
    reading: Cell<bool>,
    more: Cell<bool>,
}

/// The keeping of the work on this device.
#[derive(Clone, Copy, Debug)]
pub struct Keeping {
    session: Session,
    /// When the work was last kept, ms of the calendar.
    pub kept_at: Readable<Option<f64>>,
    /// Why the work is not kept, where it is not.
    pub refused: Readable<Option<Refusal>>,
    /// Why this tab may only look, where it may not change the work.
    pub looks: Readable<Option<Looks>>,
    /// Kept work that could not be read.
    pub unread: Readable<Vec<Unread>>,
    inner: StoredValue<Rc<Inner>, LocalStorage>,
}

impl Keeping {
    /// Keeps each finished step of the session from now on.
    pub fn new(session: Session, opening: Opening) -> Self {
        let (mine, tabs) = (opening.mine, opening.tabs);
        let inner = Rc::new(Inner {
            storage: opening.storage,
            tabs: Rc::clone(&tabs),
            expected: RefCell::new(opening.expected),
            on_device: opening.on_device,
            pending: Cell::new(false),
            writing: Cell::new(false),
            hurry: Cell::new(false),
            wait: Nap::default(),
            asked: Cell::new(opening.asked),
            turn: Cell::new(0),
            reading: Cell::new(false),
            more: Cell::new(false),
        });
        let keeping = Self {
            session,
            kept_at: Readable::new(opening.kept_at),
            refused: Readable::new(opening.refused),
            looks: Readable::new(None),
            unread: Readable::new(opening.unread),
            inner: StoredValue::new_local(inner),
        };
        let tell = Rc::clone(&tabs);
        tell.tell(move |event| keeping.hear(event));
        // The turn may have come or gone while the storage was read, when nobody was told yet.
        match (mine, tabs.mine()) {
            (true, true) => {}
            (true, false) => keeping.hear(TabEvent::TurnWent),
            (false, now) => {
                keeping.only_look(Looks::Opened);
                if now {
                    keeping.hear(TabEvent::TurnCame);
                }
            }
        }
        Effect::new(move |before: Option<Standing>| {
            let (lines, revisions) = session.own();
            let standing = Standing {
                lines,
                revisions,
                edits: session.edits_in_no_file(),
            };
            if before.is_some_and(|before| !before.is(&standing)) {
                keeping.wake();
            }
            standing
        });
        if opening.steps_lost && tabs.mine() {
            session.say(NoteKind::Fault, STEPS_LOST.to_owned());
            keeping.wake();
        }
        keeping
    }

    fn inner(self) -> Rc<Inner> {
        self.inner.get_value()
    }

    /// Whether the last step is not yet on this device.
    pub fn is_behind(self) -> bool {
        let inner = self.inner();
        inner.pending.get() || inner.writing.get()
    }

    /// Sees to it that what is not yet on this device gets there.
    fn wake(self) {
        let inner = self.inner();
        if !inner.tabs.mine() {
            return;
        }
        inner.pending.set(true);
        if !inner.writing.replace(true) {
            leptos::task::spawn_local(self.write_all());
        }
    }

    /// The same, at once.
    pub fn hurry(self) {
        let inner = self.inner();
        if self.is_behind() {
            inner.hurry.set(true);
            inner.wait.wake();
            self.wake();
        }
    }

    /// The page is left: what is finished is written, and where nothing is left to write another page need not wait.
    pub fn leave(self) {
        self.inner().tabs.note_turn();
        self.hurry();
        if !self.is_behind() {
            self.inner().tabs.leave();
        }
    }

    /// The page is shown again as it was left: it waits for its turn anew.
    pub fn come_back(self) {
        let tabs = Rc::clone(&self.inner().tabs);
        if !tabs.mine() && self.looks.with_untracked(Option::is_none) {
            self.only_look(Looks::Back);
            leptos::task::spawn_local(async move {
                tabs.queue(FOR_TURN).await;
                if !tabs.mine() && self.looks.get_untracked() == Some(Looks::Back) {
                    self.looks.set(Some(Looks::Opened));
                    self.look_again().await;
                }
            });
        }
    }

    /// Waits until the last step is on this device, as far as it gets there in time.
    pub async fn settle(self) {
        let inner = self.inner();
        self.hurry();
        let from = exchange::clock();
        while inner.writing.get() && exchange::clock() - from < f64::from(FOR_ANSWER) {
            Nap::default().at_most(4).await;
        }
    }

    /// Writes until nothing is left to write; one write at a time, and always the newest step.
    async fn write_all(self) {
        let inner = self.inner();
        while inner.pending.get() && inner.tabs.mine() {
            if !inner.hurry.get() {
                inner.wait.at_most(AFTER_PAINT).await;
            }
            inner.hurry.set(false);
            inner.pending.set(false);
            if let Err(refusal) = self.write(&inner).await {
                inner.pending.set(true);
                self.refuse(refusal);
                break;
            }
        }
        inner.writing.set(false);
    }

    fn is_kept(self, when: f64) {
        self.kept_at.set(Some(when));
        if self.refused.with_untracked(Option::is_some) {
            self.refused.set(None);
        }
    }

    /// Says why the work is not kept; once, as long as it is the same.
    fn refuse(self, refusal: Refusal) {
        if self
            .refused
            .with_untracked(|old| old.as_ref() != Some(&refusal))
        {
            self.refused.set(Some(refusal));
        }
    }

    async fn write(self, inner: &Inner) -> Result<(), Refusal> {
        let from = exchange::clock();
        exchange::forget_measured("keeping");
        exchange::forget_measured("kept");
        if !inner.asked.replace(true) {
            exchange::ask_to_keep_for_good();
        }
        let (steps, kept_steps) = inner.on_device.of(self.session);
        let mut kept = KeptWork {
            bytes: write_folder(&self.session.own_folder()),
            when: exchange::calendar(),
            example: untrack(|| self.session.own_is_example()),
            edits: untrack(|| self.session.edits_in_no_file()),
            asked: true,
            steps: WithSteps::These(kept_steps),
        };
        exchange::measured("keeping", from);
        let expected = inner.expected.borrow().clone();
        let former = self.session.former.get_value();
        let written = inner.storage.write(&kept, &steps, &former, &expected);
        let written = match written.await {
            // The work goes before its steps.
            Err(Refusal::Full) if !steps.is_empty() => {
                kept.steps = WithSteps::Nothing;
                let write = inner.storage.write(&kept, &[], &former, &expected);
                write.await
            }
            written => written,
        };
        let write = written?;
        self.session.former.update_value(|all| {
            all.drain(..former.len());
        });
        exchange::measured("kept", from);
        if let Expected::Unread(aside) = expected {
            let key = Some(aside.key.clone());
            self.unread.update(|unread| {
                let standing = unread.iter_mut().filter(|one| one.key.is_none());
                standing.for_each(|one| one.key.clone_from(&key));
            });
        }
        inner.expected.replace(Expected::Write(write));
        self.is_kept(kept.when);
        inner.tabs.has_kept();
        Ok(())
    }

    /// What was open before, the newest first.
    pub async fn former(self) -> Result<Vec<Former>, Refusal> {
        self.settle().await;
        self.inner().storage.former().await
    }

    /// Forgets kept work that could not be read, at the person's word, where it is this tab's turn and it is there still.
    /// No write goes on meanwhile: it would look for what is just deleted, to put it aside.
    pub async fn forget(self, bytes: Arc<Vec<u8>>) {
        let inner = self.inner();
        if !inner.tabs.mine() || self.looks.with_untracked(Option::is_some) {
            self.session
                .say(NoteKind::Fault, DELETE_ELSEWHERE.to_owned());
            return;
        }
        self.settle().await;
        if inner.writing.replace(true) {
            self.cannot_forget(DELETE_LATER);
            return;
        }
        // A write may just have put it aside, under a key.
        let unread = self
            .unread
            .with_untracked(|all| all.iter().find(|one| one.bytes == bytes).cloned());
        if let Some(unread) = unread {
            self.forget_now(&inner, &unread).await;
        }
        inner.writing.set(false);
        if inner.pending.get() {
            self.wake();
        }
    }

    async fn forget_now(self, inner: &Inner, unread: &Unread) {
        let forgotten = match &unread.key {
            Some(key) => inner.storage.forget(key).await,
            None => inner.storage.forget_standing(&unread.bytes).await,
        };
        match forgotten {
            Ok(()) => {
                let waits = matches!(*inner.expected.borrow(), Expected::Unread(_));
                if unread.key.is_none() && waits {
                    inner.expected.replace(Expected::Nothing);
                }
                self.unread.update(|all| all.retain(|one| one != unread));
            }
            Err(Refusal::Moved) => self.cannot_forget(
                "Something else is kept in its place by now, and was not deleted. Load this page again to see what is kept.",
            ),
            Err(_) => self.cannot_forget(DELETE_LATER),
        }
    }

    fn cannot_forget(self, why: &str) {
        self.session.say(NoteKind::Fault, why.to_owned());
    }

    /// What stands where the work is kept can't be read; it is told of once.
    fn stands_unread(self, bytes: Vec<u8>) {
        let expected = to_put_aside(&bytes);
        self.inner().expected.replace(expected);
        let unread = Unread::new(None, bytes);
        if !self.unread.with_untracked(|all| all.contains(&unread)) {
            self.stands_no_more();
            self.unread.update(|all| all.push(unread));
        }
    }

    /// What could not be read no longer stands where the work is kept.
    fn stands_no_more(self) {
        let stands = |all: &Vec<Unread>| all.iter().any(|one| one.key.is_none());
        if self.unread.with_untracked(stands) {
            self.unread
                .update(|all| all.retain(|one| one.key.is_some()));
        }
    }

    fn hear(self, event: TabEvent) {
        let turn = &self.inner().turn;
        if event != TabEvent::OtherKept {
            turn.set(turn.get().wrapping_add(1));
        }
        match event {
            TabEvent::TurnCame if self.looks.with_untracked(Option::is_some) => {
                leptos::task::spawn_local(self.begin_turn());
            }
            TabEvent::TurnCame => {}
            TabEvent::TurnWent => {
                self.only_look(Looks::Taken);
                leptos::task::spawn_local(self.look_again());
            }
            TabEvent::OtherKept => leptos::task::spawn_local(self.look_again()),
            TabEvent::OtherAsks(other) => {
                if self.inner().tabs.mine() {
                    leptos::task::spawn_local(self.let_go(other));
                }
            }
        }
    }

    /// From now on this tab may only look; that something was done here is no news any more.
    fn only_look(self, why: Looks) {
        self.session.go_on();
        if self.looks.with_untracked(Option::is_none) {
            self.session.look_elsewhere(self.session.own_folder());
        }
        self.looks.set(Some(why));
    }

    /// Lets another tab have the turn, once the last step is on this device.
    async fn let_go(self, other: String) {
        self.only_look(Looks::Taken);
        self.settle().await;
        self.inner().tabs.has_let_go(&other);
    }

    /// Asks the other tab for the turn.
    pub fn take_over(self) {
        self.looks.set(Some(Looks::Asking));
        let tabs = Rc::clone(&self.inner().tabs);
        leptos::task::spawn_local(async move { tabs.seize(FOR_ANSWER).await });
    }

    /// It is this tab's turn: goes on with the newest work.
    async fn begin_turn(self) {
        let inner = self.inner();
        let (why, turn) = (self.looks.get_untracked(), inner.turn.get());
        let mut shown = Beginning {
            folder: self.session.folder_elsewhere(),
            example: untrack(|| self.session.own_is_example()),
            edits: untrack(|| self.session.edits_in_no_file()),
            steps: None,
        };
        let found = inner.storage.read().await;
        if inner.turn.get() != turn {
            // It has gone again, or come anew.
            return;
        }
        match found {
            Ok(Found::Work(kept, write)) => {
                if let Ok(folder) = read_folder(&kept.bytes) {
                    shown = Beginning {
                        folder,
                        example: kept.example,
                        edits: kept.edits,
                        steps: None,
                    };
                    inner.expected.replace(Expected::Write(write));
                    inner.on_device.forget();
                    self.stands_no_more();
                    self.is_kept(kept.when);
                } else {
                    self.stands_unread(kept.bytes);
                }
            }
            Ok(Found::Strange(bytes)) => self.stands_unread(bytes),
            Ok(Found::Nothing) => {
                inner.expected.replace(Expected::Nothing);
                self.stands_no_more();
            }
            Err(refusal) => self.refuse(refusal),
        }
        self.session.go_on_with(shown, self.is_behind());
        self.looks.set(None);
        let says = match why {
            None | Some(Looks::Back) => return,
            Some(Looks::Asking) => "Taken over: these lines can be changed here now.",
            Some(Looks::Opened | Looks::Taken) => {
                "The other tab has let these lines go: they can be changed here now."
            }
        };
        self.session.say(NoteKind::Done, says.to_owned());
    }

    /// Shows what the other tab has kept, while this one only looks.
    async fn look_again(self) {
        let inner = self.inner();
        if inner.reading.replace(true) {
            inner.more.set(true);
            return;
        }
        loop {
            inner.more.set(false);
            let found = inner.storage.read().await;
            if self.looks.with_untracked(Option::is_some)
                && let Ok(Found::Work(kept, _)) = found
                && let Ok(folder) = read_folder(&kept.bytes)
            {
                self.session.look_elsewhere(folder);
                self.stands_no_more();
                if !inner.pending.get() {
                    self.is_kept(kept.when);
                }
            }
            if !inner.more.get() {
                break;
            }
        }
        inner.reading.set(false);
    }
}
