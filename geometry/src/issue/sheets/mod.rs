//! All sheets of an issue: templates true to size, the lines plan to scale, tables; each with the column that says what it is.
//!
//! In: lines with their loft, in them which sheets are wanted on what paper, and what is found of them. Out: [`Pack`], which
//! knows each part and how many sheets it takes, and draws them one part at a time. Reading order: this file, `laid` (how a
//! part lies on its paper), `template` with `words`, `board`, `warnings`; `strips`; `table_sheets`;
//! `tiles` with `tiled`, `room`, `column`, `code`, `stamp`; `since`.

mod board;
mod code;
mod column;
mod laid;
mod room;
mod since;
mod stamp;
mod strips;
mod table_sheets;
mod template;
#[cfg(test)]
mod tests;
mod tiled;
mod tiles;
mod warnings;
mod words;

use std::sync::Arc;

use laid::Laid;
use serde::{Deserialize, Serialize};
pub use since::Since;

use crate::document::despite;
use crate::loft::Lofted;
use crate::paper::Sheet;
use crate::settle::Findings;
use crate::shop::templates::{PlaneKind, ShellBoards, WantedBoard, wanted_boards, wanted_strips};
use crate::units::Message;

/// What a sheet is of.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub enum SheetKind {
    /// The lines plan, to scale.
    LinesPlan,
    /// What the lines measure, what was decided of their evidence, and the verdicts on them.
    Register,
    /// A board across the body.
    Template,
    /// A board along a line, or square to one.
    OwnBoard,
    /// Rods and tapes.
    Strips,
}

impl SheetKind {
    /// What sheets of the kind are called.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::LinesPlan => "Lines plan",
            Self::Register => "Tables",
            Self::Template => "Station templates",
            Self::OwnBoard => "Boards of your own",
            Self::Strips => "Rods and tapes",
        }
    }
}

/// What is said of an issue beside its lines.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct PackOptions {
    /// By what a printer's lengths across and up are taken so that they come out true; none where it was not gauged.
    pub gauge: Option<[f64; 2]>,
    /// What is found of the lines; none where they were not judged, which the sheets then say.
    pub findings: Option<Arc<Findings>>,
}

/// What a person chooses from.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Contents {
    /// What can be issued, in order.
    pub parts: Vec<PackPart>,
    /// How the boards of each shell keep the asked error.
    pub shells: Vec<ShellTold>,
    /// Boards of a person's own whose line is not there, or does not reach so far.
    pub missing: Vec<String>,
    /// Why no board can be had at all.
    pub no_boards: Option<String>,
    /// The revision that parts are held against, which went to the shop last; none where nothing did.
    pub since: Option<String>,
}

/// How the boards of a shell keep the asked error.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct ShellTold {
    /// What the shell is called.
    pub shell: String,
    /// How many boards; none where no number of them would do.
    pub boards: Option<usize>,
    /// How far a fair skin through them lies off at most, mm.
    pub batten_error: f64,
    /// What a straightedge from one to the next would show at most, mm.
    pub straightedge_error: f64,
    /// How many a straightedge would ask for, for the same error; none where too many.
    pub by_straightedge: Option<usize>,
}

/// A part of an issue: what has one code, on one sheet or several.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct PackPart {
    /// What it is called; no other part is called so.
    pub code: String,
    /// What it is of.
    pub kind: SheetKind,
    /// What it is in words: `lower, STA 90`.
    pub what: String,
    /// How many sheets it takes.
    pub pages: usize,
    /// Whether it is wanted.
    pub wanted: bool,
    /// What over it is still to be settled, with place and amount.
    pub warnings: Vec<String>,
    /// Whether it is issued though something is.
    pub despite: bool,
    /// Why it can't be had; then it takes no sheet.
    pub fault: Option<String>,
    /// How it stands to what went to the shop last.
    pub since: Option<Since>,
}

impl PackPart {
    /// Whether it is issued: wanted, to be had, and nothing over it unsettled but what a person ticked.
    #[must_use]
    pub fn is_issued(&self) -> bool {
        let settled = self.warnings.is_empty() || self.despite;
        self.wanted && self.fault.is_none() && settled
    }
}

/// All that can be issued of lines.
#[derive(Debug)]
pub struct Pack {
    lofted: Lofted,
    options: PackOptions,
    contents: Contents,
    laid: Vec<Option<Laid>>,
}

impl Pack {
    /// Lays out all that lines can give.
    #[must_use]
    pub fn of(lofted: &Lofted, options: PackOptions) -> Self {
        let lines = lofted.lines();
        let unit = lines.about.unit;
        let findings = options.findings.clone();
        let mut pack = Self {
            lofted: lofted.clone(),
            options,
            contents: Contents::default(),
            laid: Vec::new(),
        };
        for (code, kind, what, laid) in laid::kept_with_the_part(lofted, findings.as_deref()) {
            pack.push((code, kind, what), Ok(laid), Vec::new());
        }
        let carried = lofted.loft().carried();
        match wanted_boards(lofted) {
            Ok(boards) => {
                pack.contents.shells = boards.shells.iter().map(told).collect();
                pack.contents.missing = boards.missing;
                boards
                    .boards
                    .into_iter()
                    .for_each(|wanted| pack.board(wanted, &carried));
            }
            Err(error) => pack.contents.no_boards = Some(error.message(unit)),
        }
        pack.strips();
        pack
    }

    /// Rods and tapes, all as one part; where there is no board, none of these can be had either.
    fn strips(&mut self) {
        let Ok(wanted) = wanted_strips(&self.lofted) else {
            return;
        };
        self.contents.missing.extend(wanted.missing);
        if wanted.strips.is_empty() {
            return;
        }
        let kind = SheetKind::Strips;
        let what = match wanted.strips.len() {
            1 => "1 strip".to_owned(),
            more => format!("{more} strips"),
        };
        let findings = self.options.findings.as_deref();
        let body = &self.lofted.lines().body;
        let over = { findings.into_iter() }
            .flat_map(|findings| {
                let each = wanted.strips.iter();
                each.flat_map(|strip| warnings::over_strip(body, strip, findings))
            })
            .fold(Vec::new(), |mut all, says| {
                if !all.contains(&says) {
                    all.push(says);
                }
                all
            });
        let laid = Laid::strips(&self.lofted, wanted.strips);
        self.push((kind.name().to_owned(), kind, what), laid, over);
    }

    fn board(&mut self, wanted: WantedBoard, carried: &[bool]) {
        let kind = match wanted.plan.plane.kind {
            PlaneKind::Station => SheetKind::Template,
            PlaneKind::Canted(_) | PlaneKind::Along(_) | PlaneKind::Square => SheetKind::OwnBoard,
        };
        let name = (wanted.plan.code.clone(), kind, wanted.what.clone());
        let laid = Laid::board(&self.lofted, carried, wanted);
        let over = match (&laid, &self.options.findings) {
            (Ok(Laid::Board { board, .. }), Some(findings)) => {
                warnings::over_board(&self.lofted.lines().body, board, findings)
            }
            _ => Vec::new(),
        };
        self.push(name, laid, over);
    }

    fn push(
        &mut self,
        (code, kind, what): (String, SheetKind, String),
        laid: Result<Laid, String>,
        warnings: Vec<String>,
    ) {
        let lines = self.lofted.lines();
        let sheets = &lines.shop.sheets;
        let ticked = || {
            sheets
                .despite
                .contains(&despite(&code, lines.fingerprint()))
        };
        self.contents.parts.push(PackPart {
            kind,
            what,
            pages: laid.as_ref().map_or(0, Laid::pages),
            wanted: !sheets.left_out.contains(&code),
            despite: !warnings.is_empty() && ticked(),
            warnings,
            fault: laid.as_ref().err().cloned(),
            since: None,
            code,
        });
        self.laid.push(laid.ok());
    }

    /// The same for another printer: nothing is laid out anew for that.
    #[must_use]
    pub fn gauged_by(mut self, gauge: Option<[f64; 2]>) -> Self {
        self.options.gauge = gauge;
        self
    }

    /// By what its printer's lengths are taken, as [`PackOptions`] has it.
    #[must_use]
    pub fn gauge(&self) -> Option<[f64; 2]> {
        self.options.gauge
    }

    /// What it is of.
    #[must_use]
    pub fn lofted(&self) -> &Lofted {
        &self.lofted
    }

    /// What a person chooses from.
    #[must_use]
    pub fn contents(&self) -> &Contents {
        &self.contents
    }

    /// The sheets of a part, by its place in the contents; none of one that can't be had.
    #[must_use]
    pub fn draw(&self, part: usize) -> Vec<Sheet> {
        let parts = &self.contents.parts;
        let (Some(Some(laid)), Some(own)) = (self.laid.get(part), parts.get(part)) else {
            return Vec::new();
        };
        let numbers = Numbers {
            before: parts[..part].iter().map(|part| part.pages).sum(),
            all: parts.iter().map(|part| part.pages).sum(),
        };
        laid.draw(&self.lofted, &self.options, own, numbers)
    }
}

impl Pack {
    /// A board whole and to size, for a machine that cuts it: without paper's column and tiles; none of what is no board.
    #[must_use]
    pub fn outline(&self, part: usize) -> Option<Sheet> {
        let Some(Some(Laid::Board {
            wanted,
            board,
            carried,
            ..
        })) = self.laid.get(part)
        else {
            return None;
        };
        let own = self.contents.parts.get(part)?;
        Some(template::whole(&self.lofted, (wanted, board), carried, own))
    }
}

/// Where a part's sheets stand in the whole pack, whatever of that is chosen.
#[derive(Clone, Copy, Debug)]
struct Numbers {
    /// So many sheets stand before them.
    before: usize,
    /// So many there are.
    all: usize,
}

impl Numbers {
    /// Of one of its sheets, from 0: `12 of 62`.
    fn of(self, page: usize) -> String {
        format!("{} of {}", self.before + page + 1, self.all)
    }
}

fn told(shell: &ShellBoards) -> ShellTold {
    let spacing = shell.spacing.as_ref();
    ShellTold {
        shell: shell.shell.to_owned(),
        boards: spacing.map(|spacing| spacing.stations.len()),
        batten_error: spacing.map_or(0.0, |spacing| spacing.batten_error),
        straightedge_error: spacing.map_or(0.0, |spacing| spacing.straightedge_error),
        by_straightedge: shell.by_straightedge,
    }
}
