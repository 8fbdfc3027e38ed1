//! How the work stands with this device, as a person meets it: quietly in the header, and in bars where something is wrong
//! or to be chosen.

use std::rc::Rc;
use std::sync::Arc;

use geometry::document::{Folder, write_folder};
use leptos::prelude::*;

use crate::exchange;
use crate::state::keeping::{Keeping, Looks, Unread};
use crate::state::{NoteKind, Session};
use crate::storage::Refusal;
use crate::version::Version;

/// When the work was kept, and for how long no file has held it; empty where there is nothing to say.
pub fn kept_words(session: Session, keeping: Keeping) -> String {
    let kept = match (keeping.refused.with(Option::is_some), keeping.kept_at.get()) {
        (true, _) => "Not saved on this device".to_owned(),
        (false, Some(when)) => format!("Saved on this device {}", exchange::time_of_day(when)),
        (false, None) => String::new(),
    };
    match session.many_edits_in_no_file() {
        None => kept,
        Some(edits) if kept.is_empty() => format!("Not saved to a file for {edits} edits"),
        Some(edits) => format!("{kept} · not saved to a file for {edits} edits"),
    }
}

/// Hands what is seen over as a lines file.
pub fn save(session: Session) {
    if hand_over(session, &session.folder()) {
        session.has_saved();
    }
}

/// Hands lines over as a file; says whether it did.
fn hand_over(session: Session, folder: &Folder) -> bool {
    let name = exchange::file_name(&folder.lines.about.title, "json");
    match exchange::save(&name, "application/json", &write_folder(folder)) {
        Ok(()) => session.say(NoteKind::Done, format!("Saved as {name}.")),
        Err(sentence) => {
            session.say(NoteKind::Fault, sentence);
            return false;
        }
    }
    true
}

/// A button of a bar.
struct Act {
    name: &'static str,
    kind: &'static str,
    off: bool,
    act: Rc<dyn Fn()>,
}

impl Act {
    fn new(name: &'static str, act: impl Fn() + 'static) -> Self {
        Self {
            name,
            kind: "first",
            off: false,
            act: Rc::new(act),
        }
    }

    fn lesser(mut self) -> Self {
        self.kind = "lesser";
        self
    }
}

/// A bar: what it is called, what it says, what can be done.
struct Bar {
    role: &'static str,
    name: &'static str,
    says: String,
    acts: Vec<Act>,
}

/// The bars. All are of one make, so that they cost little.
#[component]
pub fn KeepingBars() -> impl IntoView {
    let session = expect_context::<Session>();
    let keeping = expect_context::<Keeping>();
    let version = expect_context::<Version>();
    let told = RwSignal::new(Told::default());
    let act = |act: Act| {
        view! { <button data-kind=act.kind disabled=act.off on:click=move |_| (act.act)()>{act.name}</button> }
    };
    let bar = move |bar: Bar| {
        let kind = (bar.role == "alert").then_some("fault");
        view! {
            <div class="bar" role=bar.role aria-label=bar.name data-kind=kind>
                <p>{bar.says}</p>
                <div class="acts">{bar.acts.into_iter().map(act).collect_view()}</div>
            </div>
        }
    };
    // Not in the midst of a gesture: the bar moves what is under the hand.
    let busy = Memo::new(move |_| session.is_held() || session.tries_out());
    let newer = move || {
        let shown = version.newer.get() && !busy.get();
        shown.then(|| bar(newer_bar(session, keeping, version)))
    };
    let others = move || {
        let beside = session.shared().is_some();
        let looks = keeping.looks.get().filter(|why| *why != Looks::Back);
        let looks = looks.map(|looks| looks_bar(looks, beside, keeping));
        let refused = keeping.refused.get();
        let refused = refused.map(|refusal| refused_bar(refusal, session));
        let closed = told.with(|told| told.closed);
        let unread = keeping.unread.get().into_iter().filter(|_| !closed);
        let unread = unread.map(|unread| unread_bar(&unread, told, session, keeping));
        let all = looks.into_iter().chain(refused).chain(unread);
        all.map(bar).collect_view()
    };
    (others, newer)
}

/// How far the person has come with kept work that can't be read.
#[derive(Clone, Default)]
struct Told {
    closed: bool,
    saved: Vec<Arc<Vec<u8>>>,
}

/// Says that another tab has the work open, and takes it over.
fn looks_bar(looks: Looks, beside: bool, keeping: Keeping) -> Bar {
    let says = match looks {
        Looks::Taken => "Another tab has taken these lines over; here they are to look at.",
        _ if beside => "Your own lines are open in another tab.",
        Looks::Opened | Looks::Asking | Looks::Back => {
            "These lines are open in another tab; here they are to look at."
        }
    };
    let mut over = Act::new("Take over", move || keeping.take_over());
    over.off = looks == Looks::Asking;
    Bar {
        role: "region",
        name: "Open in another tab",
        says: says.to_owned(),
        acts: vec![over],
    }
}

/// Says that the work is not on this device, and why.
fn refused_bar(refusal: Refusal, session: Session) -> Bar {
    let why = match refusal {
        Refusal::Full => "its storage is full. Save a file now.".to_owned(),
        Refusal::Refused(words) => {
            let words = words.trim_end_matches('.');
            format!("the browser refuses its storage ({words}). Save a file now.")
        }
        Refusal::Moved => "another tab has saved these lines since, and what it saved is not overwritten. Save a file \
                           now, then load this page again."
            .to_owned(),
    };
    let save = move || {
        if hand_over(session, &session.own_folder()) {
            session.own_is_saved(0);
        }
    };
    Bar {
        role: "alert",
        name: "Not saved",
        says: format!("Not saved on this device: {why}"),
        acts: vec![Act::new("Save a file", save)],
    }
}

/// Hands kept work over that can't be read, and deletes it where it is asked to.
fn unread_bar(unread: &Unread, told: RwSignal<Told>, session: Session, keeping: Keeping) -> Bar {
    const NAME: &str = "kept-lines.json";
    let says = match &unread.says {
        Some(why) => {
            format!("Work that was kept on this device can't be read, and stays as it is. {why}")
        }
        None => "Work that was put aside on this device can be read again: save it as a file, then open that.".to_owned(),
    };
    let bytes = Arc::clone(&unread.bytes);
    let saved = told.with_untracked(|told| told.saved.contains(&bytes));
    let save = move || match exchange::save(NAME, "application/json", &bytes) {
        Ok(()) => {
            told.update(|told| told.saved.push(Arc::clone(&bytes)));
            session.say(NoteKind::Done, format!("Saved as {NAME}."));
        }
        Err(sentence) => session.say(NoteKind::Fault, sentence),
    };
    let deleted = Arc::clone(&unread.bytes);
    let delete = move || leptos::task::spawn_local(keeping.forget(Arc::clone(&deleted)));
    let mut acts = vec![Act::new("Save what was kept", save)];
    if saved {
        acts.push(Act::new("Delete it here", delete).lesser());
    }
    acts.push(Act::new("Close", move || told.update(|told| told.closed = true)).lesser());
    Bar {
        role: "region",
        name: "Kept work",
        says,
        acts,
    }
}

/// Offers a newer version; it is used once the work is on this device.
fn newer_bar(session: Session, keeping: Keeping, version: Version) -> Bar {
    let now = move || {
        leptos::task::spawn_local(async move {
            keeping.settle().await;
            if keeping.is_behind() {
                session.say(
                    NoteKind::Fault,
                    "The last step is not on this device yet: save a file first.".to_owned(),
                );
            } else {
                version.use_newer();
            }
        });
    };
    Bar {
        role: "region",
        name: "Newer version",
        says: "A newer version is ready.".to_owned(),
        acts: vec![
            Act::new("Use it now", now),
            Act::new("Later", move || version.newer.set(false)).lesser(),
        ],
    }
}
