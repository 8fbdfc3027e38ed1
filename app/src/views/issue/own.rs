//! What a person wants besides boards across the body: boards that are canted, lie along a line, or stand square to one; rods
//! and tapes. Listed, taken away, added.

use geometry::document::{BoardLine, BoardPlace, Lines, On, Place, ShopEdit, StripPlace};
use geometry::units::{Message, fixed, format_length_with_unit, parse_length};
use leptos::prelude::*;

use super::Office;
use super::boxes::{choice, said};
use super::gauge::number;
use crate::state::NoteKind;
use crate::views::words::place_across;

/// Which kind is added.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Kind {
    Canted,
    Along,
    Square,
    Rod,
    Girth,
    Tape,
}

const KINDS: [(Kind, &str); 6] = [
    (Kind::Canted, "canted across"),
    (Kind::Along, "along a line"),
    (Kind::Square, "square to a line"),
    (Kind::Rod, "rods: heights, half-breadths"),
    (Kind::Girth, "tape round the girth"),
    (Kind::Tape, "tape along a line"),
];

/// One of them.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Own {
    Board(BoardPlace),
    Strip(StripPlace),
}

impl Own {
    /// All that lines ask for.
    fn all(lines: &Lines) -> Vec<Self> {
        let sheets = &lines.shop.sheets;
        let boards = sheets.boards.own.iter().map(|place| Self::Board(*place));
        let strips = sheets.strips.iter().map(|place| Self::Strip(*place));
        boards.chain(strips).collect()
    }

    /// The edit by which these are all.
    fn edit(office: Office, change: impl FnOnce(&mut Vec<Self>)) -> Result<(), String> {
        let lines = office.session.standing_now();
        let before = Self::all(&lines);
        let mut all = before.clone();
        change(&mut all);
        let boards = |all: &[Self]| -> Vec<BoardPlace> {
            let board = |own: &Self| match own {
                Self::Board(place) => Some(*place),
                Self::Strip(_) => None,
            };
            all.iter().filter_map(board).collect()
        };
        if boards(&before) != boards(&all) {
            return office.make_boards(|made| made.own = boards(&all));
        }
        let strip = |own: &Self| match own {
            Self::Strip(place) => Some(*place),
            Self::Board(_) => None,
        };
        let strips = all.iter().filter_map(strip).collect();
        office.session.try_edit(ShopEdit::Strips(strips))
    }
}

/// Lines along which a board can stand, each by its name; the shares of a shell's girth come behind them.
fn lines_there(lines: &Lines, shells: &[String]) -> Vec<(BoardLine, String)> {
    let body = &lines.body;
    let mut all = vec![On::Crown, On::Keel];
    all.extend(body.run_lines.iter().map(|line| On::RunLine(line.id)));
    for plane in &body.planes {
        all.push(On::Plane(plane.id));
        if matches!(plane.place, Place::Buttock(_)) {
            all.push(On::PlaneUpper(plane.id));
        }
    }
    let named = all
        .into_iter()
        .filter_map(|on| Some((BoardLine::Named(on), body.line_name(on)?)));
    let girths = shells.iter().enumerate().map(|(shell, name)| {
        let line = BoardLine::Girth { shell, share: 0.5 };
        (line, format!("share of the {name} girth"))
    });
    named.chain(girths).collect()
}

/// A distance aft by its station, where it has a number; else as a length.
fn aft_words(lines: &Lines, x: f64) -> String {
    let own = lines
        .body
        .stations
        .iter()
        .find(|station| (station.x - x).abs() < 0.05);
    match (own, lines.body.station_number(x)) {
        (Some(station), _) => format!("STA {}", station.label),
        (None, Some(number)) => {
            let text = fixed(number, 2);
            format!("STA {}", text.trim_end_matches('0').trim_end_matches('.'))
        }
        (None, None) => format_length_with_unit(x, lines.about.unit.along()),
    }
}

/// One of them in words.
fn own_words(lines: &Lines, shells: &[String], own: Own) -> String {
    let named = |line: BoardLine| match line {
        BoardLine::Named(on) => lines
            .body
            .line_name(on)
            .unwrap_or_else(|| "a line that is gone".to_owned()),
        BoardLine::Girth { shell, share } => {
            let name = shells.get(shell).map_or("shell", String::as_str);
            let share = fixed(share * 100.0, 1);
            format!("{} % of the {name} girth", share.trim_end_matches(".0"))
        }
    };
    let stretch =
        |from: f64, to: f64| format!("{} to {}", aft_words(lines, from), aft_words(lines, to));
    match own {
        Own::Board(BoardPlace::Canted { x, lean, .. }) => {
            let (lean, way) = (
                fixed(lean.to_degrees().abs(), 1),
                if lean < 0.0 { "forward" } else { "aft" },
            );
            format!("Canted at {}, top {lean}° {way}", aft_words(lines, x))
        }
        Own::Board(BoardPlace::Along { line, from, to }) => {
            format!("Along {}, {}", named(line), stretch(from, to))
        }
        Own::Board(BoardPlace::Square { line, x }) => {
            format!("Square to {} at {}", named(line), aft_words(lines, x))
        }
        Own::Strip(StripPlace::Rod { x }) => {
            format!("Height and half-breadth rods, {}", aft_words(lines, x))
        }
        Own::Strip(StripPlace::Girth { x }) => format!("Girth tape, {}", aft_words(lines, x)),
        Own::Strip(StripPlace::Along { line, from, to }) => {
            format!("Tape along {}, {}", named(line), stretch(from, to))
        }
    }
}

/// The list, and the form that adds to it.
#[component]
pub fn OwnBoards(office: Office) -> impl IntoView {
    let own = Memo::new(move |_| office.derived.standing.with(|lines| Own::all(lines)));
    let shells = move || -> Vec<String> {
        let told = office
            .told()
            .map(|(told, _)| told.shells.iter().map(|s| s.shell.to_string()).collect());
        told.unwrap_or_default()
    };
    let remove = move |at: usize| {
        let done = Own::edit(office, |all| {
            if at < all.len() {
                all.remove(at);
            }
        });
        if let Err(why) = done {
            office.session.say(NoteKind::Fault, why);
        }
    };
    let rows = move || {
        let (own, shells, lines) = (own.get(), shells(), office.derived.standing.get());
        let rows = own.into_iter().enumerate().map(|(at, place)| {
            let says = own_words(&lines, &shells, place);
            let name = format!("Take away: {says}");
            view! {
                <li><span>{says}</span><button type="button" data-kind="lesser" aria-label=name on:click=move |_| remove(at)>"Take away"</button></li>
            }
        });
        let rows = rows.collect::<Vec<_>>();
        if rows.is_empty() {
            view! { <p class="quiet">"None. Besides the boards across the body there may be some that lean, that lie along a line or stand square to one; rods with a station's heights and half-breadths; and tapes, round the girth or along a line."</p> }.into_any()
        } else {
            view! { <ul class="own-boards">{rows}</ul> }.into_any()
        }
    };
    view! {
        <section aria-label="Boards, rods and tapes of your own">
            <h2>"Boards, rods and tapes of your own"</h2>
            <fieldset class="bare-set" disabled=move || office.session.only_looks()>
                {rows}
                <Add office/>
            </fieldset>
        </section>
    }
}

/// What stands in the form's boxes.
#[derive(Clone, Copy)]
struct Typed {
    kind: RwSignal<Kind>,
    line: RwSignal<usize>,
    from: RwSignal<String>,
    to: RwSignal<String>,
    height: RwSignal<String>,
    lean: RwSignal<String>,
    share: RwSignal<String>,
}

impl Typed {
    fn place(self, lines: &Lines, all: &[(BoardLine, String)]) -> Result<Own, String> {
        let aft = |text: RwSignal<String>, name: &str| {
            place_across(lines, text.get_untracked().trim(), name).map(|(_, x)| x)
        };
        let line = || {
            let chosen = all.get(self.line.get_untracked()).map(|(line, _)| *line);
            match chosen {
                Some(BoardLine::Girth { shell, .. }) => {
                    let typed = self.share.get_untracked();
                    let share = number(typed.trim_end_matches('%'));
                    let share = share.filter(|share| (0.0..=100.0).contains(share));
                    let share = share.ok_or("Share of the girth: type a number from 0 at the upper edge to 100 at the lower.")?;
                    Ok(BoardLine::Girth {
                        shell,
                        share: share / 100.0,
                    })
                }
                Some(line) => Ok(line),
                None => Err("Choose a line first.".to_owned()),
            }
        };
        let stretch = || {
            let (a, b) = (aft(self.from, "From")?, aft(self.to, "To")?);
            Ok::<_, String>((a.min(b), a.max(b)))
        };
        let board = |place| Ok(Own::Board(place));
        let strip = |place| Ok(Own::Strip(place));
        match self.kind.get_untracked() {
            Kind::Canted => {
                let unit = lines.about.unit;
                let x = aft(self.from, "Station")?;
                let z = parse_length(&self.height.get_untracked(), unit);
                let z = z.map_err(|error| format!("Height: {}", error.message(unit)))?;
                let lean = self.lean.get_untracked();
                let lean = number(lean.trim_end_matches('°'));
                let lean = lean.ok_or(
                    "Lean: type how many degrees the top lies aft, as 3.5; forward with a minus.",
                )?;
                board(BoardPlace::Canted {
                    x,
                    z,
                    lean: lean.to_radians(),
                })
            }
            Kind::Along => {
                let (line, (from, to)) = (line()?, stretch()?);
                board(BoardPlace::Along { line, from, to })
            }
            Kind::Square => board(BoardPlace::Square {
                line: line()?,
                x: aft(self.from, "Station")?,
            }),
            Kind::Rod => strip(StripPlace::Rod {
                x: aft(self.from, "Station")?,
            }),
            Kind::Girth => strip(StripPlace::Girth {
                x: aft(self.from, "Station")?,
            }),
            Kind::Tape => {
                let (line, (from, to)) = (line()?, stretch()?);
                strip(StripPlace::Along { line, from, to })
            }
        }
    }
}

#[component]
fn Add(office: Office) -> impl IntoView {
    let text = || RwSignal::new(String::new());
    let typed = Typed {
        kind: RwSignal::new(Kind::Canted),
        line: RwSignal::new(1),
        from: text(),
        to: text(),
        height: text(),
        lean: text(),
        share: RwSignal::new("50".to_owned()),
    };
    let wrong = RwSignal::new(None::<String>);
    let there = Memo::new(move |_| {
        let shells = office.told().map(|(told, _)| {
            told.shells
                .iter()
                .map(|s| s.shell.to_string())
                .collect::<Vec<String>>()
        });
        office
            .derived
            .standing
            .with(|lines| lines_there(lines, &shells.unwrap_or_default()))
    });
    let add = move |event: web_sys::SubmitEvent| {
        event.prevent_default();
        let lines = office.session.standing_now();
        let place = there.with_untracked(|all| typed.place(&lines, all));
        let done = place.and_then(|place| Own::edit(office, |all| all.push(place)));
        if done.is_ok() {
            for text in [typed.from, typed.to, typed.height, typed.lean] {
                text.set(String::new());
            }
        }
        wrong.set(done.err());
    };
    let kind = Memo::new(move |_| typed.kind.get());
    let one = move |label: &'static str, name: &'static str, text: RwSignal<String>| {
        view! {
            <label class="asked"><span>{label}</span><input class="field" autocomplete="off" aria-label=name prop:value=text on:input=move |event| text.set(event_target_value(&event))/></label>
        }
    };
    let is_share = move || {
        there.with(|all| {
            matches!(
                all.get(typed.line.get()),
                Some((BoardLine::Girth { .. }, _))
            )
        })
    };
    let line = move || {
        let options = there.get().into_iter().enumerate().map(|(at, (_, name))| {
            view! { <option value=at.to_string()>{name}</option> }
        });
        let chosen = move |event: web_sys::Event| {
            if let Ok(at) = event_target_value(&event).parse() {
                typed.line.set(at);
            }
        };
        view! {
            <label class="asked"><span>"line"</span><select aria-label="Line that it lies along, or stands square to" on:change=chosen prop:value=move || typed.line.get().to_string()>{options.collect_view()}</select></label>
            {move || is_share().then(|| one("share, %", "Share of the girth", typed.share))}
        }
    };
    let boxes = move || match kind.get() {
        Kind::Canted => view! {
            {one("station", "Station where it stands", typed.from)}
            {one("at height", "Height at which it stands there", typed.height)}
            {one("top aft, °", "Lean of its top aft, degrees", typed.lean)}
        }
        .into_any(),
        Kind::Along | Kind::Tape => view! {
            {line()}
            {one("from", "From station", typed.from)}
            {one("to", "To station", typed.to)}
        }
        .into_any(),
        Kind::Square => view! {
            {line()}
            {one("station", "Station where it stands", typed.from)}
        }
        .into_any(),
        Kind::Rod | Kind::Girth => one("station", "Station where it stands", typed.from).into_any(),
    };
    view! {
        <details>
            <summary>"Add a board, a rod or a tape"</summary>
            <form on:submit=add>
                {choice(("kind", "What is added"), &KINDS, kind, move |kind| typed.kind.set(kind))}
                {boxes}
                <div class="row"><button type="submit">"Add it"</button></div>
                {said(wrong)}
            </form>
        </details>
    }
}
