//! The tabs that have the app open at one place: which of them may change the work, and what they say to each other.
//!
//! In: [`Tabs::queue`] and [`Tabs::seize`]. Out: a [`TabEvent`] whenever this tab's turn comes or goes or another speaks. The
//! browser's own locks decide, so that a tab that dies loses its turn; a browser without them gives every tab its turn,
//! and what a write expects to find keeps them apart.

use std::cell::{Cell, RefCell};
use std::rc::Rc;

use js_sys::{Function, Object, Promise, Reflect};
use leptos::prelude::window;
use wasm_bindgen::prelude::Closure;
use wasm_bindgen::{JsCast, JsValue};
use wasm_bindgen_futures::{JsFuture, spawn_local};
use web_sys::{AbortController, BroadcastChannel, MessageEvent};

use crate::exchange::{self, Nap};

/// What happens between tabs.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum TabEvent {
    /// It is this tab's turn to change the work.
    TurnCame,
    /// It no longer is: another tab has taken it.
    TurnWent,
    /// Another tab has kept a step.
    OtherKept,
    /// Another tab asks for the turn; what to answer with.
    OtherAsks(String),
}

/// Notes that stay with this tab alone, over loading again.
fn notes() -> Option<web_sys::Storage> {
    window().session_storage().ok().flatten()
}

type Listener = Box<dyn Fn(TabEvent)>;

/// This tab among the others.
pub struct Tabs {
    name: String,
    /// What tells this tab from others.
    own: String,
    channel: Option<BroadcastChannel>,
    /// Whether it waits for its turn.
    queued: Cell<bool>,
    /// Whether it is its turn.
    mine: Cell<bool>,
    told: RefCell<Option<Listener>>,
    /// Gives the lock back that is held.
    hold: RefCell<Option<Function>>,
    /// The number of the newest request for the lock; what becomes of those before it no longer counts.
    newest: Cell<u32>,
    /// Withdraws the newest request, as long as it waits.
    waiting: RefCell<Option<AbortController>>,
    turn: Nap,
    answer: Nap,
}

impl std::fmt::Debug for Tabs {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Tabs").field("own", &self.own).finish()
    }
}

impl Tabs {
    /// This tab at the place of this name.
    pub fn new(name: String) -> Rc<Self> {
        let channel = BroadcastChannel::new(&name).ok();
        let tabs = Rc::new(Self {
            name,
            own: js_sys::Math::random().to_string(),
            channel,
            queued: Cell::new(false),
            mine: Cell::new(false),
            told: RefCell::new(None),
            hold: RefCell::new(None),
            newest: Cell::new(0),
            waiting: RefCell::new(None),
            turn: Nap::default(),
            answer: Nap::default(),
        });
        if let Some(channel) = &tabs.channel {
            let hears = Rc::clone(&tabs);
            let heard = Closure::<dyn Fn(MessageEvent)>::new(move |event: MessageEvent| {
                hears.hear(&event.data().as_string().unwrap_or_default());
            });
            channel.set_onmessage(Some(heard.as_ref().unchecked_ref()));
            heard.forget(); // for the whole life of the page
        }
        tabs
    }

    /// Whether it is this tab's turn to change the work.
    pub fn mine(&self) -> bool {
        self.mine.get()
    }

    /// Tells what happens from now on.
    pub fn tell(&self, told: impl Fn(TabEvent) + 'static) {
        self.told.replace(Some(Box::new(told)));
    }

    fn say(&self, event: TabEvent) {
        if let Some(told) = self.told.borrow().as_ref() {
            told(event);
        }
    }

    fn hear(&self, text: &str) {
        match text.split_once(' ') {
            None if text == "kept" => self.say(TabEvent::OtherKept),
            Some(("let-go", other)) => self.say(TabEvent::OtherAsks(other.to_owned())),
            Some(("gone", to)) if to == self.own => self.answer.wake(),
            _ => {}
        }
    }

    fn send(&self, text: &str) {
        let sent = self
            .channel
            .as_ref()
            .map(|channel| channel.post_message(&JsValue::from(text)));
        if sent.is_some_and(|sent| sent.is_err()) {
            leptos::logging::warn!("other tabs do not hear");
        }
    }

    /// Tells the others that a step was kept.
    pub fn has_kept(&self) {
        self.send("kept");
    }

    /// Tells a tab that asked for the turn that it may take it.
    pub fn has_let_go(&self, other: &str) {
        self.mine.set(false);
        self.send(&format!("gone {other}"));
    }

    /// Notes whether it is this tab's turn, for the page that this one may be loaded again as.
    pub fn note_turn(&self) {
        let Some(notes) = notes() else { return };
        let key = self.note_key();
        let noted = if self.mine() {
            notes.set_item(&key, "mine")
        } else {
            notes.remove_item(&key)
        };
        if noted.is_err() {
            leptos::logging::warn!("whose turn it is was not noted");
        }
    }

    /// Whether this page is one loaded again that had its turn; the note of it is taken away, so that no copy of the tab
    /// finds it.
    pub fn had_turn(&self) -> bool {
        let Some(notes) = notes() else { return false };
        let key = self.note_key();
        let noted = notes.get_item(&key).ok().flatten().is_some();
        notes.remove_item(&key).is_ok() && noted && exchange::loaded_again()
    }

    fn note_key(&self) -> String {
        format!("turn {}", self.name)
    }

    /// Gives the turn back, for the page is left: a page that is loaded again need not wait for this one's end.
    pub fn leave(&self) {
        let hold = self.hold.take();
        if hold.is_some_and(|done| done.call0(&JsValue::NULL).is_ok()) {
            self.mine.set(false);
        }
    }

    /// Waits for this tab's turn, for so long at first; the turn may come later, when the other tab is closed.
    pub async fn queue(self: &Rc<Self>, ms: i32) {
        if self.queued.replace(true) {
            return;
        }
        let granted = Rc::clone(self);
        let waits = self.request(false, move || {
            granted.queued.set(false);
            granted.is_mine();
        });
        if !waits {
            self.queued.set(false);
            self.mine.set(true);
        }
        if !self.mine() {
            self.turn.at_most(ms).await;
        }
    }

    /// Asks the other tab to let go, and takes the turn when it has, or when it does not answer for so long.
    pub async fn seize(self: &Rc<Self>, ms: i32) {
        self.send(&format!("let-go {}", self.own));
        self.answer.at_most(ms).await;
        if self.mine() {
            return;
        }
        let granted = Rc::clone(self);
        if !self.request(true, move || granted.is_mine()) {
            self.is_mine();
        }
        if !self.mine() {
            self.turn.at_most(ms).await;
        }
    }

    fn is_mine(&self) {
        self.mine.set(true);
        self.turn.wake();
        self.answer.wake();
        self.say(TabEvent::TurnCame);
    }

    /// Asks for the browser's lock, which is then held until the page ends or another tab seizes it; what waits in the
    /// queue meanwhile is withdrawn. Whether there are locks to ask for.
    fn request(self: &Rc<Self>, seize: bool, granted: impl FnOnce() + 'static) -> bool {
        let number = self.newest.get().wrapping_add(1);
        self.newest.set(number);
        let before = self.waiting.take();
        let Some(asked) = self.ask(seize, granted) else {
            return false;
        };
        if let Some(before) = before {
            // One that was given already is not touched by this.
            before.abort();
        }
        if seize {
            self.queued.set(false);
        }
        let tabs = Rc::clone(self);
        spawn_local(async move {
            // It ends only where the lock is seized by another, or was not given.
            if JsFuture::from(asked).await.is_err() && tabs.newest.get() == number {
                tabs.mine.set(false);
                tabs.say(TabEvent::TurnWent);
                tabs.queue(0).await;
            }
        });
        true
    }

    fn ask(self: &Rc<Self>, seize: bool, granted: impl FnOnce() + 'static) -> Option<Promise> {
        let locks = Reflect::get(&window().navigator(), &"locks".into()).ok()?;
        let request = Reflect::get(&locks, &"request".into()).ok()?;
        let request = request.dyn_into::<Function>().ok()?;
        let options = Object::new();
        if seize {
            Reflect::set(&options, &"steal".into(), &true.into()).ok()?;
        } else {
            let waiting = AbortController::new().ok()?;
            Reflect::set(&options, &"signal".into(), &waiting.signal()).ok()?;
            self.waiting.replace(Some(waiting));
        }
        let holder = Rc::clone(self);
        let held = Closure::once_into_js(move |_lock: JsValue| -> JsValue {
            granted();
            // The lock is held as long as this promise is open.
            let open = Promise::new(&mut |done, _| {
                holder.hold.replace(Some(done));
            });
            open.into()
        });
        let asked = request.call3(&locks, &JsValue::from(&self.name), &options, &held);
        asked.ok()?.dyn_into::<Promise>().ok()
    }
}
