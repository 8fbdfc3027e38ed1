//! The rules of a sound shop.

use core::f64::consts::FRAC_PI_2;
use core::ops::ControlFlow;

use super::{BoardLine, BoardPlace, Boards, Paper, PaperSize, Sheets, Shop, StripPlace};
use crate::document::rules::{At, Broken, Flow, LONGEST_NAME, Listed, MOST_NAMED, THICKEST, Walk};
use crate::units::{LONGEST, LengthUnit, fixed, format_length_with_unit};

/// Least and most width of a roll, mm.
pub const ROLLS: [f64; 2] = [220.0, 2000.0];

/// Most by which tiles may show the same, mm.
pub const MOST_OVERLAP: f64 = 50.0;

/// Least error that may be asked of a skin between boards, mm.
pub const LEAST_ERROR: f64 = 0.01;

/// Least and most width of a board behind its edge, mm.
pub const DEPTHS: [f64; 2] = [10.0, 1000.0];

/// What can't be chosen of sheets.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum SheetsFault {
    /// A length, mm, lies outside its bounds.
    Between {
        /// It.
        value: f64,
        /// The least it may be.
        least: f64,
        /// The most.
        most: f64,
    },
    /// A board leans by a right angle or more, rad.
    Lean(f64),
}

impl SheetsFault {
    /// It, as a person is told it.
    pub(in crate::document) fn says(self, unit: LengthUnit) -> String {
        let length = |mm: f64| format_length_with_unit(mm, unit);
        match self {
            Self::Between { value, least, most } => format!(
                "holds {}, which must lie between {} and {}",
                length(value),
                length(least),
                length(most)
            ),
            Self::Lean(lean) => format!(
                "has a board that leans by {}°; it must be under a right angle",
                fixed(lean.to_degrees(), 1)
            ),
        }
    }
}

impl Walk<'_> {
    /// Walks over a shop.
    pub(in crate::document) fn shop(&mut self, shop: &Shop) -> Flow {
        let Shop {
            skin_thickness,
            sheets,
        } = shop;
        if let Some(skin) = *skin_thickness {
            self.rule(
                (skin > 0.0 && skin < THICKEST).into(),
                || At::Document,
                || Broken::Skin(skin),
            )?;
        }
        self.sheets(sheets)
    }

    fn sheets(&mut self, sheets: &Sheets) -> Flow {
        let Sheets {
            boards,
            strips,
            paper,
            left_out,
            despite,
        } = sheets;
        self.boards(boards)?;
        self.few(strips.len())?;
        for strip in strips {
            match *strip {
                StripPlace::Rod { x } | StripPlace::Girth { x } => {
                    self.between(x, [-LONGEST, LONGEST])?;
                }
                StripPlace::Along { line, from, to } => self.stretch(line, from, to)?,
            }
        }
        let Paper { size, overlap } = *paper;
        if let PaperSize::Roll(width) = size {
            self.between(width, ROLLS)?;
        }
        self.between(overlap, [0.0, MOST_OVERLAP])?;
        self.few(left_out.len())?;
        self.few(despite.len())?;
        for code in left_out.iter().chain(despite) {
            self.text(code, 2 * LONGEST_NAME, &|| At::Document)?;
        }
        ControlFlow::Continue(())
    }

    fn boards(&mut self, boards: &Boards) -> Flow {
        let Boards {
            error,
            face: _,
            held: _,
            allowance,
            depth,
            hands: _,
            at: _, // stations that are not there any more have no board
            own,
        } = boards;
        self.between(*error, [LEAST_ERROR, THICKEST])?;
        self.between(*allowance, [-THICKEST, THICKEST])?;
        self.between(*depth, DEPTHS)?;
        self.few(own.len())?;
        for place in own {
            match *place {
                BoardPlace::Canted { x, z, lean } => {
                    self.between(x, [-LONGEST, LONGEST])?;
                    self.between(z, [-LONGEST, LONGEST])?;
                    self.rule(
                        (lean.abs() < FRAC_PI_2).into(),
                        || At::Document,
                        || Broken::Sheets(SheetsFault::Lean(lean)),
                    )?;
                }
                BoardPlace::Along { line, from, to } => self.stretch(line, from, to)?,
                BoardPlace::Square { line, x } => self.stretch(line, x, x)?,
            }
        }
        ControlFlow::Continue(())
    }

    /// A line from one distance aft to another, mm.
    fn stretch(&mut self, line: BoardLine, from: f64, to: f64) -> Flow {
        self.between(from, [-LONGEST, LONGEST])?;
        self.between(to, [from, LONGEST])?;
        match line {
            BoardLine::Named(_) => ControlFlow::Continue(()),
            BoardLine::Girth { shell: _, share } => self.between(share, [0.0, 1.0]),
        }
    }

    fn between(&mut self, value: f64, [least, most]: [f64; 2]) -> Flow {
        let holds = value >= least && value <= most;
        let broken = || Broken::Sheets(SheetsFault::Between { value, least, most });
        self.rule(holds.into(), || At::Sheets, broken)
    }

    fn few(&mut self, count: usize) -> Flow {
        self.rule(
            (count <= MOST_NAMED).into(),
            || At::Sheets,
            || Broken::TooMany(Listed::Sheets, count, MOST_NAMED),
        )
    }
}
