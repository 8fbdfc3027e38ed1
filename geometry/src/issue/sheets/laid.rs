//! How a part lies on its paper.

use std::collections::BTreeSet;

use super::board::BoardDrawing;
use super::column::{TitleColumn, furnish};
use super::stamp::{self, BAND};
use super::strips::StripSheets;
use super::table_sheets::TableSheets;
use super::template;
use super::tiled::Tiled;
use super::tiles::{COLUMN, MARGIN, NoPaper, Tiles};
use super::{Numbers, PackOptions, PackPart, SheetKind};
use crate::document::On;
use crate::issue::lines_plan::{Hidden, Pick, SheetOptions, draw_views, size_of_views};
use crate::loft::Lofted;
use crate::paper::{Area, Cell, Layer, Sheet, Table, overlap};
use crate::settle::{Fairness, Findings};
use crate::shop::templates::{Board, Strip, WantedBoard};
use crate::shop::{OffsetsOptions, Stations, tabulate_decisions, tabulate_offsets};
use crate::units::{LengthUnit, Message, fixed, format_length_with_unit};

use super::words;

/// A part as it lies on its paper.
#[derive(Debug)]
pub(super) enum Laid {
    /// A board, in tiles.
    Board {
        wanted: Box<WantedBoard>,
        board: Box<Board>,
        tiles: Tiles,
        /// Which pieces of its edge are carried.
        carried: Vec<bool>,
    },
    /// Rods and tapes, in tiles.
    Strips(Box<StripSheets>),
    /// A table, in pages.
    Table(Box<TableSheets>),
    /// The lines plan: on paper of a size, 1 to so many.
    LinesPlan { paper: (f64, f64), one_to: f64 },
}

/// Scales of drawings that are smaller than what they show.
///
/// # Source
/// ISO 5455; 1 : 25 is common practice.
const SCALES: [f64; 9] = [1.0, 2.0, 5.0, 10.0, 20.0, 25.0, 50.0, 100.0, 200.0];

/// What is kept with the part: the lines plan, what the lines measure, what was decided, what is found of them.
pub(super) fn kept_with_the_part(
    lofted: &Lofted,
    findings: Option<&Findings>,
) -> Vec<(String, SheetKind, String, Laid)> {
    let lines = lofted.lines();
    let paper = &lines.shop.sheets.paper;
    let (short, long) = paper.size.sides();
    let sheet = long.map_or((420.0, 297.0), |long| (long, short));
    let [left, top, right, foot] = field(sheet);
    let mut all = Vec::new();
    let fits = |one_to: &f64| {
        let (width, height) = size_of_views(lofted, *one_to);
        width <= right - left && height <= foot - BAND - top
    };
    if let Some(one_to) = SCALES.into_iter().find(fits) {
        let laid = Laid::LinesPlan {
            paper: sheet,
            one_to,
        };
        let what = format!("all three views, 1 : {one_to}");
        all.push(("Lines plan".to_owned(), SheetKind::LinesPlan, what, laid));
    }
    let offsets = tabulate_offsets(
        lofted,
        &OffsetsOptions {
            stations: Stations::Own,
            unit: lines.about.unit,
        },
    );
    let mut table = |code: &str, what: &str, table: Table| {
        let laid = Laid::Table(Box::new(TableSheets::lay(table, paper)));
        all.push((code.to_owned(), SheetKind::Register, what.to_owned(), laid));
    };
    table("Offsets", "what the lines measure", offsets);
    table(
        "Evidence",
        "what was decided, and why",
        tabulate_decisions(lofted),
    );
    if let Some(findings) = findings {
        table(
            "Verdicts",
            "whether each line is fair",
            verdicts(lofted, findings),
        );
    }
    all
}

/// What of a sheet is beside its column, within the frame.
fn field((width, height): (f64, f64)) -> Area {
    [MARGIN, MARGIN, width - MARGIN - COLUMN, height - MARGIN]
}

/// The plan's three views at a scale.
fn plan(lofted: &Lofted, one_to: f64) -> Sheet {
    let lines = lofted.lines();
    let Some(station) = lines.body.stations.first() else {
        return Sheet::default();
    };
    let options = SheetOptions {
        one_to,
        pick: Pick {
            on: On::Keel,
            station: station.id,
            point: None,
        },
        hidden: &Hidden::default(),
        combs: (&BTreeSet::new(), 0),
        bands: &[],
        lifted: (None, None),
    };
    draw_views(lofted, &options).0
}

fn verdicts(lofted: &Lofted, findings: &Findings) -> Table {
    let lines = lofted.lines();
    let text = |text: &str| {
        if text.is_empty() {
            Cell::Empty
        } else {
            Cell::Text(text.to_owned())
        }
    };
    let row = |name: &str, fairness: Fairness, says: &str, more: &str| {
        vec![text(name), text(fairness.words()), text(says), text(more)]
    };
    let of_lines = { findings.lines.iter() }
        .map(|line| row(&line.name, line.fairness, &line.says, &line.more));
    let of_sections = { findings.sections.iter() }
        .map(|section| row(&section.name, section.fairness, &section.says, ""));
    let matters = findings.matters.iter().map(|matter| {
        vec![
            text(&matter.title),
            text("To settle"),
            text(&matter.says),
            Cell::Empty,
        ]
    });
    Table {
        title: format!("{}: verdicts", lines.about.title),
        unit: lines.about.unit,
        heads: ["Line", "Verdict", "By how much", "Where"].map(str::to_owned).into(),
        rows: of_lines.chain(of_sections).chain(matters).collect(),
        notes: vec![
            "Fair: without unwanted hollows and humps. What a line needs is the least by which it must move to be so; what it \
             is allowed is its readings' own tolerance there."
                .to_owned(),
        ],
    }
}

impl Laid {
    /// A board; `carried` as [`crate::loft::Loft::carried`] has it.
    pub(super) fn board(
        lofted: &Lofted,
        carried: &[bool],
        wanted: WantedBoard,
    ) -> Result<Self, String> {
        let lines = lofted.lines();
        let unit = lines.about.unit;
        let board = Board::lay_out(lofted.loft(), wanted.plan.clone())
            .map_err(|error| error.message(unit))?;
        let carried = board.carried(lofted.loft(), carried);
        let drawing = BoardDrawing::of(&wanted, &board, &carried);
        let paper = &lines.shop.sheets.paper;
        let tiles = Tiles::lay(drawing.size, paper, |window| drawing.is_in(window))
            .map_err(|error| no_paper(error, &wanted.plan.code, unit))?;
        Ok(Self::Board {
            wanted: Box::new(wanted),
            board: Box::new(board),
            tiles,
            carried,
        })
    }

    pub(super) fn strips(lofted: &Lofted, strips: Vec<Strip>) -> Result<Self, String> {
        let lines = lofted.lines();
        let name = SheetKind::Strips.name();
        let laid = StripSheets::lay(strips, &lines.shop.sheets.paper)
            .map_err(|error| no_paper(error, name, lines.about.unit))?;
        Ok(Self::Strips(Box::new(laid)))
    }

    pub(super) fn pages(&self) -> usize {
        match self {
            Self::Strips(laid) => laid.tiles.windows.len(),
            Self::Board { tiles, .. } => tiles.windows.len(),
            Self::Table(listed) => listed.pages(),
            Self::LinesPlan { .. } => 1,
        }
    }

    pub(super) fn draw(
        &self,
        lofted: &Lofted,
        options: &PackOptions,
        part: &PackPart,
        numbers: Numbers,
    ) -> Vec<Sheet> {
        match self {
            Self::Board {
                wanted,
                board,
                tiles,
                carried,
            } => {
                let laid = (&**wanted, &**board, tiles);
                template::draw(lofted, options, laid, carried, part, numbers)
            }
            Self::Strips(laid) => {
                let drawn = laid.draw(lofted);
                let mut about = kept(lofted, options, part);
                about.scale = "1 : 1".to_owned();
                about.hand = "EITHER HAND".to_owned();
                let face = lofted.lines().shop.sheets.boards.face.name();
                about.kind = "Strips: cut along the edges".to_owned();
                for (fact, says) in [("Surface", face), ("Unit", "mm")] {
                    let own = about.facts.iter_mut().find(|(name, _)| *name == fact);
                    own.into_iter().for_each(|(_, own)| says.clone_into(own));
                }
                let tape = { drawn.tape.as_ref() }.map(|(name, reach)| {
                    let reach = fixed(*reach, 0);
                    format!(
                        "Lay each sheet by its figures along a steel tape, over {reach} mm on {name}: where paper has moved, \
                         they hold."
                    )
                });
                let tiled = Tiled {
                    tiles: &laid.tiles,
                    stamps: drawn.stamps,
                    layers: drawn.layers,
                    words: drawn.words,
                    outline: &drawn.outline,
                    tape,
                    figured: true,
                };
                tiled.sheets(part, about, numbers)
            }
            Self::Table(listed) => { 0..listed.pages() }
                .map(|page| {
                    let mut about = kept(lofted, options, part);
                    about.facts.push(("Sheet", numbers.of(page)));
                    let title = format!("{}, sheet {} of {}", part.code, page + 1, listed.pages());
                    let layers = vec![
                        listed.draw(page),
                        stamp::banner(lofted, field(listed.paper)),
                    ];
                    framed(title, listed.paper, layers, &about)
                })
                .collect(),
            Self::LinesPlan { paper, one_to } => {
                let drawn = plan(lofted, *one_to);
                let (field, size) = (field(*paper), drawn.size);
                let by = (
                    f64::midpoint(field[0], field[2]) - size.0 / 2.0,
                    f64::midpoint(field[1], field[3] - BAND) - size.1 / 2.0,
                );
                let mut kept_clear = Vec::new();
                let layers = drawn.layers.iter().map(|layer| {
                    let mut moved = layer.moved(by, field);
                    let clip = layer.clip;
                    moved.clip = clip.map(|[l, t, r, f]| [l + by.0, t + by.1, r + by.0, f + by.1]);
                    // At a small scale not all names have room; the first of two stays.
                    moved.texts.retain(|text| {
                        let own = text.bounds();
                        let free = !kept_clear.iter().any(|other| overlap(own, *other));
                        if free {
                            kept_clear.push(own);
                        }
                        free
                    });
                    moved
                });
                let mut about = kept(lofted, options, part);
                about.scale = format!("1 : {one_to}");
                about.facts.push(("Sheet", numbers.of(0)));
                about
                    .facts
                    .push(("Offsets", format!("sheet {}", numbers.of(1))));
                let layers = layers.chain([stamp::banner(lofted, field)]).collect();
                vec![framed(part.code.clone(), *paper, layers, &about)]
            }
        }
    }
}

fn framed(title: String, size: (f64, f64), layers: Vec<Layer>, about: &TitleColumn) -> Sheet {
    let mut sheet = Sheet {
        title,
        size,
        layers,
    };
    furnish(&mut sheet, about, None);
    sheet
}

/// What a sheet that is kept with the part says of itself.
fn kept(lofted: &Lofted, options: &PackOptions, part: &PackPart) -> TitleColumn {
    let lines = lofted.lines();
    let mut facts = vec![
        ("Shows", part.what.clone()),
        ("Surface", "outside of the skin, OML".to_owned()),
    ];
    facts.push(("Unit", lines.about.unit.name().to_owned()));
    facts.extend(words::revision(lofted));
    let print = lines.fingerprint().paper();
    let typed = format!("{print} {}", part.code);
    TitleColumn {
        code: part.code.clone(),
        kind: part.kind.name().to_owned(),
        scale: String::new(),
        hand: String::new(),
        facts,
        caution: "Computed values are aids: check a template against the mating part before cutting. A machine meant to fly \
                  needs approved data and a licensed inspector; local rules come first."
            .to_owned(),
        scan: Some((format!("SB1 {typed}"), typed)),
        project: vec![lines.about.title.clone()],
        gauge: words::gauged(options),
    }
}

fn no_paper(error: NoPaper, code: &str, unit: LengthUnit) -> String {
    let NoPaper::TooLong(length) = error;
    format!(
        "{code} would be {} long, and no sheet may be longer than {}. Take it on sheets, in tiles, or in two parts.",
        format_length_with_unit(length, unit),
        format_length_with_unit(super::tiles::LONGEST_SHEET, unit)
    )
}
