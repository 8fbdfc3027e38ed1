//! Paper, and the printer: how far its prints err, by what they are corrected, whether they come out true.

use geometry::document::{Paper, PaperSize, ShopEdit};
use geometry::units::fixed;
use leptos::prelude::*;

use super::boxes::{LengthAsked, Wrong, length_box, said};
use super::gauge::{Gauged, Printer, TRUE_WITHIN, measured, named, written};
use super::{NOT_KEPT, Office, PRINTER_KEPT, PRINTERS_KEPT};
use crate::exchange;
use crate::state::NoteKind;

/// Width a roll begins with, mm.
const ROLL: f64 = 914.0;

const SIZES: [&str; 5] = ["A4", "A3", "Letter", "Tabloid", "Roll"];

fn size_name(size: PaperSize) -> &'static str {
    match size {
        PaperSize::A4 => "A4",
        PaperSize::A3 => "A3",
        PaperSize::Letter => "Letter",
        PaperSize::Tabloid => "Tabloid",
        PaperSize::Roll(_) => "Roll",
    }
}

fn size_named(name: &str) -> PaperSize {
    match name {
        "A4" => PaperSize::A4,
        "Letter" => PaperSize::Letter,
        "Tabloid" => PaperSize::Tabloid,
        "Roll" => PaperSize::Roll(ROLL),
        _ => PaperSize::A3,
    }
}

/// The paper.
#[component]
pub fn OnPaper(office: Office) -> impl IntoView {
    let wrong = RwSignal::new(None::<String>);
    let paper = Memo::new(move |_| {
        office
            .derived
            .standing
            .with(|lines| lines.shop.sheets.paper)
    });
    let print = move |paper: Paper| office.session.try_edit(ShopEdit::Paper(paper));
    let chosen = move |event: web_sys::Event| {
        let size = size_named(&event_target_value(&event));
        let done = print(Paper {
            size,
            ..paper.get_untracked()
        });
        wrong.set(done.err());
    };
    let is_roll = Memo::new(move |_| matches!(paper.get().size, PaperSize::Roll(_)));
    let roll = move || {
        is_roll.get().then(|| {
            let value = Memo::new(move |_| Some(paper.get().size.sides().0));
            let asked = LengthAsked {
                label: "roll, wide",
                name: "width of the roll",
                value,
            };
            length_box(office, asked, wrong, move |mm| {
                print(Paper {
                    size: PaperSize::Roll(mm),
                    ..paper.get_untracked()
                })
            })
        })
    };
    let overlap = LengthAsked {
        label: "overlap",
        name: "overlap of neighbouring sheets",
        value: Memo::new(move |_| Some(paper.get().overlap)),
    };
    let options = SIZES.map(|name| view! { <option value=name>{name}</option> });
    view! {
        <section aria-label="Paper">
            <h2>"Paper"</h2>
            <fieldset class="bare-set" disabled=move || office.session.only_looks()>
                <label class="asked"><span>"size"</span><select aria-label="Size of the paper" prop:value=move || size_name(paper.get().size) on:change=chosen>{options}</select></label>
                {roll}
                {length_box(office, overlap, wrong, move |overlap| print(Paper { overlap, ..paper.get_untracked() }))}
            </fieldset>
            {said(wrong)}
        </section>
    }
}

impl Office {
    /// Keeps the printers on this device, and which is printed on.
    fn keep_printers(self) {
        let all = self.printers.with_untracked(|all| written(all));
        let now = self.printer.get_untracked().unwrap_or_default();
        let kept =
            exchange::keep_here(PRINTERS_KEPT, &all) && exchange::keep_here(PRINTER_KEPT, &now);
        if !kept {
            self.session.say(NoteKind::Fault, NOT_KEPT.to_owned());
        }
    }

    /// Changes the printer that is printed on.
    fn change_printer(self, change: impl FnOnce(&mut Printer)) {
        let name = self.printer.get_untracked();
        self.printers.update(|all| {
            if let Some(one) = all.iter_mut().find(|one| Some(&one.name) == name.as_ref()) {
                change(one);
            }
        });
        self.keep_printers();
    }

    fn print_on(self, name: Option<String>) {
        self.printer.set(name);
        self.keep_printers();
    }
}

/// The printer.
#[component]
pub fn PrintedBy(office: Office) -> impl IntoView {
    let names = Memo::new(move |_| {
        office
            .printers
            .with(|all| all.iter().map(|one| one.name.clone()).collect::<Vec<_>>())
    });
    let chosen = move |event: web_sys::Event| {
        let name = event_target_value(&event);
        office.print_on((!name.is_empty()).then_some(name));
    };
    let options = move || {
        names
            .get()
            .into_iter()
            .map(|name| view! { <option value=name.clone()>{name.clone()}</option> })
            .collect_view()
    };
    let which = move || {
        let some = names.with(|names| !names.is_empty());
        some.then(|| view! {
            <label class="asked"><span>"print on"</span>
                <select aria-label="Printer" prop:value=move || office.printer.get().unwrap_or_default() on:change=chosen>
                    <option value="">"one not gauged"</option>
                    {options}
                </select>
            </label>
        })
    };
    let here = Memo::new(move |_| office.printer.get());
    view! {
        <section aria-label="Printer">
            <h2>"Printer"</h2>
            <p>"Print one sheet at 100 %, measure both check rules on the paper, and type what you got: each should be 100 mm."</p>
            {which}
            {move || here.get().map(|_| view! { <Rules office/> })}
            <AddPrinter office/>
        </section>
    }
}

/// What was measured of the printer that is printed on.
#[component]
fn Rules(office: Office) -> impl IntoView {
    let wrong: Wrong = RwSignal::new(None);
    let printer = Memo::new(move |_| office.printer_now().unwrap_or_default());
    let of = move |again: bool, way: usize| {
        let value = move || {
            let mm = printer.with(|printer| {
                if again {
                    printer.again[way]
                } else {
                    printer.measured[way]
                }
            });
            mm.map_or_else(String::new, |mm| {
                fixed(mm, 2)
                    .trim_end_matches('0')
                    .trim_end_matches('.')
                    .to_owned()
            })
        };
        let change = move |event: web_sys::Event| {
            let outcome = measured(&event_target_value(&event));
            match outcome {
                Ok(mm) => {
                    wrong.set(None);
                    office.change_printer(|printer| {
                        if again {
                            printer.again[way] = mm;
                        } else {
                            printer.measured[way] = mm;
                            // What was measured after another correction says nothing of this one.
                            printer.again = [None; 2];
                        }
                    });
                }
                Err(why) => wrong.set(Some(why)),
            }
        };
        let name = match (again, way) {
            (false, 0) => "Rule across, measured",
            (false, _) => "Rule up, measured",
            (true, 0) => "Rule across, measured again",
            (true, _) => "Rule up, measured again",
        };
        view! { <td><input class="field" inputmode="decimal" autocomplete="off" aria-label=name prop:value=value on:change=change/></td> }
    };
    let by = move |way: usize| {
        move || {
            printer
                .with(|printer| printer.correction())
                .map_or_else(|| "–".to_owned(), |by| fixed(by[way], 4))
        }
    };
    let corrected = Memo::new(move |_| printer.with(|printer| printer.correction().is_some()));
    let again = move || {
        corrected.get().then(|| {
            view! {
                <tr><th scope="row">"corrected by"</th><td>{by(0)}</td><td>{by(1)}</td></tr>
                <tr><th scope="row">"again"</th>{of(true, 0)}{of(true, 1)}</tr>
            }
        })
    };
    let most = fixed(TRUE_WITHIN * 100.0, 1);
    let says = move || {
        let share = |by: f64| format!("{} of {most} %", fixed(by * 100.0, 2));
        match printer.with(Printer::gauged) {
            Gauged::No => view! { <p class="quiet">"Not gauged yet: whether a print is true is not known."</p> }.into_any(),
            Gauged::Once => view! { <p>"Sheets are corrected by this, and say so. Print one again, measure it, and type what you got now."</p> }.into_any(),
            Gauged::True(by) => view! { <p class="chip"><b>"✓ True"</b><span>{share(by)}</span></p> }.into_any(),
            Gauged::Off(by) => {
                let too = move |_| office.change_printer(|printer| *printer = printer.corrected_again());
                view! {
                    <p><b>"Not true: "</b>{format!("it is off by {}. Correct it by this too, and measure once more.", share(by))}</p>
                    <button on:click=too>"Correct by that too"</button>
                }
                .into_any()
            }
        }
    };
    let forget = move |_| {
        let name = office.printer.get_untracked();
        office
            .printers
            .update(|all| all.retain(|one| Some(&one.name) != name.as_ref()));
        office.print_on(None);
    };
    view! {
        <table class="plain rules">
            <thead><tr><th><span class="hidden">"Rule"</span></th><th scope="col">"across, mm"</th><th scope="col">"up, mm"</th></tr></thead>
            <tbody>
                <tr><th scope="row">"measured"</th>{of(false, 0)}{of(false, 1)}</tr>
                {again}
            </tbody>
        </table>
        {said(wrong)}
        <div aria-live="polite">{says}</div>
        <button data-kind="lesser" on:click=forget>"Forget this printer"</button>
    }
}

/// A name for one more printer.
#[component]
fn AddPrinter(office: Office) -> impl IntoView {
    let typed = RwSignal::new(String::new());
    let wrong: Wrong = RwSignal::new(None);
    let add = move |event: web_sys::SubmitEvent| {
        event.prevent_default();
        let Some(name) = named(&typed.get_untracked()) else {
            wrong.set(Some(
                "Give the printer a name, as Office printer.".to_owned(),
            ));
            return;
        };
        let known = office
            .printers
            .with_untracked(|all| all.iter().any(|one| one.name == name));
        if !known {
            office.printers.update(|all| {
                all.push(Printer {
                    name: name.clone(),
                    ..Printer::default()
                });
            });
        }
        wrong.set(None);
        typed.set(String::new());
        office.print_on(Some(name));
    };
    view! {
        <form class="row" on:submit=add>
            <input class="name" aria-label="Name of a printer" placeholder="name of a printer" autocomplete="off" maxlength="40" prop:value=typed on:input=move |event| typed.set(event_target_value(&event))/>
            <button type="submit">"Gauge it"</button>
        </form>
        {said(wrong)}
    }
}
