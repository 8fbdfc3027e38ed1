//! The Issue screen: which sheets go to the shop, each seen as it will be printed, how templates are made, paper and printer.
//!
//! In: the session. The worker lays sheets out, draws the one that is looked at and makes the file. Reading order: `gauge`
//! (what was measured of this device), `sight` (how a sheet is seen), this file (what the screen holds and asks the worker),
//! `parts` (the list), `preview` with `ruled` (the sheet), `boxes` (typed lengths), `boards`, `own`, `printer` (the notes),
//! `card` (issuing).

mod alone;
mod boards;
mod boxes;
mod card;
mod gauge;
mod own;
mod parts;
mod preview;
mod printer;
mod ruled;
mod sight;

use std::sync::Arc;

use geometry::document::{Boards, Body, Frozen, Lines, Paper, ShopEdit};
use geometry::issue::sheets::{Contents, PackPart, SheetKind};
use geometry::units::LengthUnit;
use leptos::prelude::*;
use leptos::wasm_split::{SplitLoaderError, wasm_split};

use super::pieces::{Piece, apart, at_once, no_screen};
use super::widgets::LoftFault;
use crate::exchange;
use crate::jobs::messages::{WentOut, Work};
use crate::jobs::{Age, Done, Jobs, Stand};
use crate::state::Session;
use crate::state::derived::Derived;
use gauge::Printer;
use sight::{At, SUPPOSED};

/// The screen's piece.
pub const ISSUE: Piece = Piece {
    what: "The Issue screen",
    fetch: || Box::pin(fetch_issue()),
};

#[wasm_split(issue, wasm_split_path = ::leptos::wasm_split, fallible, preload(fetch_issue))]
fn issue() -> Result<AnyView, SplitLoaderError> {
    Ok(view! { <IssueScreen/> }.into_any())
}

/// The Issue screen, as soon as it is here.
pub fn issue_screen() -> AnyView {
    apart(ISSUE, || at_once(issue()), no_screen)
}

/// Under these names this device keeps what was measured of it.
const SCREEN_KEPT: &str = "screen";
const PRINTERS_KEPT: &str = "printers";
const PRINTER_KEPT: &str = "printer";

/// What is said where the device keeps nothing.
const NOT_KEPT: &str = "This browser keeps nothing of it: it holds until the page is closed.";

/// All that sheets are laid out by; which of them are wanted is not among it.
#[derive(Clone, Debug)]
struct LaidBy {
    body: Arc<Body>,
    unit: LengthUnit,
    boards: Boards,
    paper: Paper,
    skin: Option<f64>,
    revision: Option<Frozen>,
    since: Option<WentOut>,
}

impl LaidBy {
    fn of(lines: &Lines, revision: Option<Frozen>, since: Option<WentOut>) -> Self {
        Self {
            revision,
            since,
            body: Arc::clone(&lines.body),
            unit: lines.about.unit,
            boards: lines.shop.sheets.boards.clone(),
            paper: lines.shop.sheets.paper,
            skin: lines.shop.skin_thickness,
        }
    }
}

impl PartialEq for LaidBy {
    fn eq(&self, other: &Self) -> bool {
        Arc::ptr_eq(&self.body, &other.body)
            && self.unit == other.unit
            && self.boards == other.boards
            && self.paper == other.paper
            && self.skin == other.skin
            && self.revision == other.revision
            && self.since == other.since
    }
}

/// All that a drawn sheet hangs on.
#[derive(Clone, Debug, PartialEq)]
struct DrawnBy {
    laid: LaidBy,
    title: String,
    gauge: Option<[f64; 2]>,
    /// The part's place in the list.
    part: usize,
    page: usize,
}

/// What the worker is to do next.
#[derive(Clone, Debug, PartialEq)]
enum Asked {
    Lay(LaidBy),
    Draw(DrawnBy),
}

/// A sheet as the page shows it.
#[derive(Clone, Debug, PartialEq)]
struct DrawnSheet {
    /// mm.
    size: At,
    /// What stands on it, as elements of an SVG whose unit is the millimetre.
    inside: String,
}

impl DrawnSheet {
    /// Out of what the worker wrote: its outer element is the window's.
    fn read(svg: &str) -> Option<Self> {
        let (_, rest) = svg.split_once("viewBox=\"0 0 ")?;
        let (size, rest) = rest.split_once('"')?;
        let (wide, high) = size.split_once(' ')?;
        let (_, inside) = rest.split_once("</title>")?;
        let (inside, _) = inside.rsplit_once("</svg>")?;
        Some(Self {
            size: (wide.parse().ok()?, high.parse().ok()?),
            inside: inside.to_owned(),
        })
    }
}

/// Everything of the screen that dies with it.
#[derive(Clone, Copy)]
struct Office {
    session: Session,
    derived: Derived,
    /// Lays sheets out and draws them.
    jobs: Jobs,
    ordered: StoredValue<Option<Asked>>,
    laid: RwSignal<Option<(LaidBy, Arc<Contents>)>>,
    drawn: RwSignal<Option<(DrawnBy, Arc<DrawnSheet>)>>,
    /// The part that was picked, by its code.
    picked: RwSignal<Option<String>>,
    /// Which of its sheets, from 0.
    page: RwSignal<usize>,
    /// Parts there can be, whichever are wanted.
    parts: Memo<Arc<Vec<PackPart>>>,
    /// What went to the shop last.
    since: Memo<Option<WentOut>>,
    left_out: Memo<Arc<Vec<String>>>,
    /// What is issued though something over it is unsettled, as these lines stand.
    despite: Memo<Arc<Vec<String>>>,
    /// Pixels to a millimetre on this screen, where that was measured.
    screen: RwSignal<Option<f64>>,
    printers: RwSignal<Vec<Printer>>,
    /// The one that is printed on, by its name.
    printer: RwSignal<Option<String>>,
}

impl Office {
    fn new(session: Session, derived: Derived) -> Self {
        let ordered = StoredValue::new(None::<Asked>);
        let laid = RwSignal::new(None::<(LaidBy, Arc<Contents>)>);
        let drawn = RwSignal::new(None::<(DrawnBy, Arc<DrawnSheet>)>);
        let done = Callback::new(move |done: Done| match (done, ordered.get_value()) {
            (Done::Laid(contents), Some(Asked::Lay(by))) => {
                laid.set(Some((by, Arc::new(contents))));
            }
            (Done::Drawn(svg), Some(Asked::Draw(by))) => {
                if let Some(sheet) = DrawnSheet::read(&svg) {
                    drawn.set(Some((by, Arc::new(sheet))));
                }
            }
            _ => {}
        });
        let left_out = Memo::new(move |_| {
            let out = derived
                .standing
                .with(|lines| lines.shop.sheets.left_out.clone());
            Arc::new(out)
        });
        let ticked = Memo::new(move |_| {
            let standing = derived.standing.get();
            let all = &standing.shop.sheets.despite;
            if all.is_empty() {
                return Arc::default();
            }
            // As it begins for every sheet of these lines.
            let own = geometry::document::despite("", standing.fingerprint());
            let codes = all.iter().filter_map(|sheet| sheet.strip_prefix(&own));
            Arc::new(codes.map(str::to_owned).collect::<Vec<_>>())
        });
        let parts = Memo::new(move |_| {
            let parts = laid.with(|laid| laid.as_ref().map(|(_, told)| told.parts.clone()));
            let mut parts = parts.unwrap_or_default();
            // Ticks are followed as they are made, not as they were when the sheets were laid out.
            for part in &mut parts {
                part.wanted = true;
                part.despite = false;
            }
            Arc::new(parts)
        });
        let screen =
            exchange::kept_here(SCREEN_KEPT).and_then(|kept| gauge::px_per_mm(1.0, &kept).ok());
        let printers = exchange::kept_here(PRINTERS_KEPT);
        let printers = printers.map_or_else(Vec::new, |kept| gauge::read(&kept));
        let printer = exchange::kept_here(PRINTER_KEPT);
        let printer = printer.filter(|name| printers.iter().any(|printer| printer.name == *name));
        Self {
            session,
            derived,
            jobs: Jobs::new(done),
            ordered,
            laid,
            drawn,
            picked: RwSignal::new(None),
            page: RwSignal::new(0),
            parts,
            since: Memo::new(move |_| session.last_issue()),
            left_out,
            despite: ticked,
            screen: RwSignal::new(screen),
            printers: RwSignal::new(printers),
            printer: RwSignal::new(printer),
        }
    }

    /// What sheets are laid out by now.
    fn laid_by(self) -> LaidBy {
        let (revision, since) = (self.session.frozen(), self.since.get());
        self.derived
            .standing
            .with(|lines| LaidBy::of(lines, revision, since))
    }

    /// What was told of the sheets as they stand, and whether it is of what stands now.
    fn told(self) -> Option<(Arc<Contents>, bool)> {
        let (by, told) = self.laid.get()?;
        Some((told, by == self.laid_by()))
    }

    fn is_wanted(self, code: &str) -> bool {
        self.left_out
            .with(|out| !out.iter().any(|other| other == code))
    }

    /// Whether a part that is wanted is issued: nothing over it is unsettled, or it is ticked all the same.
    fn goes_out(self, part: &PackPart) -> bool {
        part.fault.is_none() && (part.warnings.is_empty() || self.is_ticked(&part.code))
    }

    fn is_ticked(self, code: &str) -> bool {
        self.despite
            .with(|all| all.iter().any(|other| other == code))
    }

    /// Issues a part though something over it is unsettled, or no longer so.
    fn tick(self, code: &str, issued: bool) {
        let print = self.session.standing_now().fingerprint();
        let sheet = geometry::document::despite(code, print);
        self.session.edit(ShopEdit::Despite { sheet, issued });
    }

    /// The parts that can be had and are wanted, and how many sheets they and all others take.
    fn chosen(self) -> (Vec<PackPart>, [usize; 2]) {
        let parts = self.parts.get();
        let all = parts.iter().map(|part| part.pages).sum();
        let chosen = parts
            .iter()
            .filter(|part| self.goes_out(part) && self.is_wanted(&part.code));
        let chosen: Vec<PackPart> = chosen.cloned().collect();
        let pages = chosen.iter().map(|part| part.pages).sum();
        (chosen, [pages, all])
    }

    /// The picked part with its place, else the first that can be had.
    fn part(self) -> Option<(usize, PackPart)> {
        let parts = self.parts.get();
        let of = |at: usize| parts.get(at).map(|part| (at, part.clone()));
        let picked = self.picked.get();
        let picked = picked.and_then(|code| parts.iter().position(|part| part.code == code));
        let had = |part: &PackPart| part.fault.is_none();
        let board = || {
            parts
                .iter()
                .position(|part| had(part) && part.kind == SheetKind::Template)
        };
        let first = || parts.iter().position(had);
        picked.or_else(board).or_else(first).and_then(of)
    }

    /// The same, with which of its sheets is shown, from 0.
    fn sheet(self) -> Option<(usize, PackPart, usize)> {
        let (at, part) = self.part()?;
        let page = self.page.get().min(part.pages.saturating_sub(1));
        Some((at, part, page))
    }

    /// Shows a part, from its first sheet.
    fn pick(self, code: &str) {
        self.page.set(0);
        self.picked.set(Some(code.to_owned()));
    }

    fn want(self, sheets: Vec<String>, wanted: bool) {
        self.session.edit(ShopEdit::Want { sheets, wanted });
    }

    fn printer_now(self) -> Option<Printer> {
        let name = self.printer.get()?;
        self.printers
            .with(|all| all.iter().find(|one| one.name == name).cloned())
    }

    /// By what lengths are taken for the printer that is printed on.
    fn gauge(self) -> Option<[f64; 2]> {
        self.printer_now()?.correction()
    }

    /// What the worker is asked for: the list, and the sheet that is looked at.
    fn asked(self) -> Option<Asked> {
        if self.derived.fault.with(Option::is_some) {
            return None;
        }
        let by = self.laid_by();
        let is_laid = self
            .laid
            .with(|laid| laid.as_ref().is_some_and(|(of, _)| *of == by));
        if !is_laid {
            return Some(Asked::Lay(by));
        }
        let (part, of, page) = self.sheet()?;
        of.fault.is_none().then(|| {
            Asked::Draw(DrawnBy {
                laid: by,
                title: self
                    .derived
                    .standing
                    .with(|lines| lines.about.title.clone()),
                gauge: self.gauge(),
                part,
                page,
            })
        })
    }

    /// Keeps the worker at what is looked at. What draws a sheet is not ended for the next one: to start anew takes longer.
    fn follow(self) {
        let asked = Memo::new(move |_| self.asked());
        let runs = Memo::new(move |_| matches!(self.jobs.stand.get(), Stand::Running { .. }));
        Effect::new(move |_| {
            let (asked, runs) = (asked.get(), runs.get());
            let now = self.ordered.get_value();
            match asked {
                _ if asked == now => {}
                None => {
                    self.jobs.stop();
                    self.ordered.set_value(None);
                }
                Some(Asked::Draw(_)) if runs && matches!(now, Some(Asked::Draw(_))) => {}
                Some(asked) => self.order(asked),
            }
        });
    }

    fn order(self, asked: Asked) {
        let lines = self.session.standing_now();
        let (work, by) = match &asked {
            Asked::Lay(by) => (Work::Lay, by),
            Asked::Draw(by) => {
                let draw = Work::Draw {
                    part: by.part,
                    page: by.page,
                    gauge: by.gauge,
                };
                (draw, &by.laid)
            }
        };
        let (revision, since) = (by.revision.clone(), by.since.clone());
        self.ordered.set_value(Some(asked));
        self.jobs.order_sheets(work, &lines, revision, since);
    }

    /// Asks again for what came to nothing.
    fn again(self) {
        if let Some(asked) = untrack(|| self.asked()) {
            self.order(asked);
        }
    }

    /// What the worker is at, once it is worth saying.
    fn at_work(self) -> Option<String> {
        match self.jobs.stand.get() {
            Stand::Running { part, age, .. } if age >= Age::Shown => Some(part),
            _ => None,
        }
    }

    /// Why no sheet can be shown.
    fn failed(self) -> Option<String> {
        match self.jobs.stand.get() {
            Stand::Failed(sentence) => Some(sentence),
            _ => None,
        }
    }
}

/// The screen.
#[component]
fn IssueScreen() -> impl IntoView {
    let office = Office::new(expect_context::<Session>(), expect_context::<Derived>());
    office.follow();
    view! {
        <main class="issue">
            <LoftFault/>
            <preview::Preview office/>
            <card::IssueCard office/>
            <parts::Parts office/>
            <section class="issue-notes" aria-label="How sheets are made">
                <boards::MadeBy office/>
                <own::OwnBoards office/>
                <printer::OnPaper office/>
                <printer::PrintedBy office/>
            </section>
        </main>
    }
}

/// The scale of a screen that nobody measured, px to the millimetre.
fn supposed(screen: Option<f64>) -> f64 {
    screen.unwrap_or(SUPPOSED)
}
