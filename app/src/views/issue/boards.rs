//! How templates are made, and what comes of it: how many boards each shell takes for the error that is asked.

use geometry::document::{BoardSide, Boards, Face, Hands, Shop, ShopEdit, StationId};
use geometry::issue::sheets::ShellTold;
use geometry::units::{LengthUnit, fixed};
use leptos::prelude::*;

use super::Office;
use super::boxes::{LengthAsked, choice, length_box, said};
use crate::views::words::count;

const FACES: [(Face, &str); 3] = [
    (Face::Oml, "outside of the skin"),
    (Face::Neutral, "middle of the skin"),
    (Face::Iml, "inside of the skin"),
];
const HELD: [(BoardSide, &str); 2] = [
    (BoardSide::Outside, "outside"),
    (BoardSide::Inside, "inside"),
];
const HANDS: [(Hands, &str); 3] = [
    (Hands::Starboard, "starboard"),
    (Hands::Port, "port"),
    (Hands::Both, "both"),
];

impl Office {
    /// Something of how templates are made.
    pub(super) fn of_boards<T: PartialEq + Send + Sync + 'static>(
        self,
        of: fn(&Boards) -> T,
    ) -> Memo<T> {
        let standing = self.derived.standing;
        Memo::new(move |_| standing.with(|lines| of(&lines.shop.sheets.boards)))
    }

    /// Makes templates otherwise; why not, where that is refused.
    pub(super) fn make_boards(self, change: impl FnOnce(&mut Boards)) -> Result<(), String> {
        let mut boards = self.session.standing_now().shop.sheets.boards.clone();
        change(&mut boards);
        self.session.try_edit(ShopEdit::Boards(boards))
    }
}

/// The notes on how templates are made.
#[component]
pub fn MadeBy(office: Office) -> impl IntoView {
    let wrong = RwSignal::new(None::<String>);
    let make = move |change: &dyn Fn(&mut Boards)| {
        let done = office.make_boards(|boards| change(boards));
        wrong.set(done.err());
    };
    let face = office.of_boards(|boards| boards.face);
    let skin = Memo::new(move |_| {
        let of = |shop: &Shop| shop.skin_thickness;
        office.derived.standing.with(|lines| of(&lines.shop))
    });
    let thickness = move || {
        (face.get() != Face::Oml).then(|| {
            let asked = LengthAsked {
                label: "skin, thick",
                name: "thickness of the skin",
                value: skin,
            };
            length_box(office, asked, wrong, move |mm| {
                office.session.try_edit(ShopEdit::SkinThickness(Some(mm)))
            })
        })
    };
    let number = |label, name, of: fn(&Boards) -> f64, set: fn(&mut Boards, f64)| {
        let value = office.of_boards(of);
        let value = Memo::new(move |_| Some(value.get()));
        length_box(
            office,
            LengthAsked { label, name, value },
            wrong,
            move |mm| office.make_boards(|boards| set(boards, mm)),
        )
    };
    view! {
        <section aria-label="How templates are made">
            <h2>"How templates are made"</h2>
            <fieldset class="bare-set" disabled=move || office.session.only_looks()>
                {number("error asked", "error between boards", |b| b.error, |b, mm| b.error = mm)}
                {choice(("cut to", "face of the skin"), &FACES, face, move |face| make(&|b| b.face = face))}
                {thickness}
                {choice(("held", "side on which they are held"), &HELD, office.of_boards(|b| b.held), move |held| make(&|b| b.held = held))}
                {number("allowance", "allowance outside the face", |b| b.allowance, |b, mm| b.allowance = mm)}
                {number("board, wide", "width of a board behind its edge", |b| b.depth, |b, mm| b.depth = mm)}
                {choice(("hand", "half of the body"), &HANDS, office.of_boards(|b| b.hands), move |hands| make(&|b| b.hands = hands))}
                <Stations office/>
            </fieldset>
            {said(wrong)}
            <Takes office/>
        </section>
    }
}

/// Stations at which a template stands, whether the error asks for it or not.
#[component]
fn Stations(office: Office) -> impl IntoView {
    let stations = Memo::new(move |_| {
        office.derived.standing.with(|lines| {
            let all = lines.body.stations.iter();
            all.map(|station| (station.id, station.label.clone()))
                .collect::<Vec<_>>()
        })
    });
    let at = office.of_boards(|boards| boards.at.clone());
    let set = move |ids: &[StationId], there: bool| {
        office.make_boards(|boards| {
            for id in ids {
                boards.at.retain(|other| other != id);
                if there {
                    boards.at.push(*id);
                }
            }
        })
    };
    let each = move |ids: &[StationId], there: bool| {
        if let Err(why) = set(ids, there) {
            office.session.say(crate::state::NoteKind::Fault, why);
        }
    };
    let every = move |there: bool| {
        let ids: Vec<StationId> =
            stations.with_untracked(|all| all.iter().map(|(id, _)| *id).collect());
        each(&ids, there);
    };
    let open = RwSignal::new(false);
    let toggled = move |event: web_sys::Event| {
        let node = event_target::<web_sys::Element>(&event);
        open.set(node.has_attribute("open"));
    };
    let boxes = move || {
        let all = stations.get().into_iter().map(|(id, label)| {
            let checked = move || at.with(|at| at.contains(&id));
            view! {
                <li><label class="check"><input type="checkbox" aria-label=format!("Template at station {label}") prop:checked=checked on:change=move |event| each(&[id], event_target_checked(&event))/>{label}</label></li>
            }
        });
        view! {
            <div class="row">
                <button type="button" data-kind="lesser" on:click=move |_| every(true)>"Every station"</button>
                <button type="button" data-kind="lesser" on:click=move |_| every(false)>"None"</button>
            </div>
            <ul class="choices short">{all.collect_view()}</ul>
        }
    };
    let told = move || match at.with(|at| at.len()) {
        0 => "Stations that must have one: none".to_owned(),
        n => format!("Stations that must have one: {n}"),
    };
    view! {
        <details on:toggle=toggled>
            <summary>{told}</summary>
            {move || open.get().then(boxes)}
        </details>
    }
}

/// What the asked error takes, shell by shell.
#[component]
fn Takes(office: Office) -> impl IntoView {
    let error = office.of_boards(|boards| boards.error);
    let rows = move || {
        let (told, fresh) = office.told()?;
        let error = error.get();
        let unit = office.session.unit();
        let rows = told
            .shells
            .iter()
            .map(|shell| view! { <li>{shell_words(shell, error, unit)}</li> });
        let rows = rows.collect::<Vec<_>>();
        (!rows.is_empty())
            .then(|| view! { <ul class="takes" data-stale=(!fresh).then_some("")>{rows}</ul> })
    };
    view! { <div aria-live="polite">{rows}</div> }
}

/// How a shell's boards keep the asked error, in a sentence.
fn shell_words(shell: &ShellTold, error: f64, unit: LengthUnit) -> String {
    let mm = |value: f64| format!("{} mm", fixed(value, if value < 1.0 { 2 } else { 1 }));
    let named = geometry::units::headed(&shell.shell);
    let Some(boards) = shell.boards else {
        let asked = geometry::units::format_length_with_unit(error, unit.along());
        return format!("{named}: no number of boards keeps {asked}.");
    };
    let straight = shell.by_straightedge.map_or_else(
        || ", and no number of them would do for it".to_owned(),
        |many| match many.cmp(&boards) {
            core::cmp::Ordering::Greater => format!(", and would ask for {many}"),
            _ => String::new(),
        },
    );
    format!(
        "{named}: {}, a fair skin through them lies within {}; a straightedge would show {}{straight}.",
        count(boards, "board", "boards"),
        mm(shell.batten_error),
        mm(shell.straightedge_error)
    )
}
