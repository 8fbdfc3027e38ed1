//! A table of typed cells, which `write` puts into a file.

use crate::units::{Digits, LengthUnit, fixed, format_length_to};

/// One cell of a table.
#[derive(Clone, Debug, PartialEq)]
pub enum Cell {
    /// Nothing.
    Empty,
    /// Words.
    Text(String),
    /// A length, mm; it is written in the table's unit.
    Length(f64),
    /// Two lengths of one point, mm: half-breadth and height.
    Pair(f64, f64),
    /// A number of its own kind, with this many decimals.
    Number(f64, usize),
}

/// A table of typed cells.
#[derive(Clone, Debug, PartialEq)]
pub struct Table {
    /// What it is.
    pub title: String,
    /// The unit in which lengths are written.
    pub unit: LengthUnit,
    /// Heads of its columns, units included.
    pub heads: Vec<String>,
    /// Rows, each as long as `heads`.
    pub rows: Vec<Vec<Cell>>,
    /// What a reader must know of it, line by line.
    pub notes: Vec<String>,
}

impl Table {
    /// A length as the table writes it, without its unit: 0.01 mm, 0.0001 in, or the nearest sixteenth.
    #[must_use]
    pub fn length(&self, mm: f64) -> String {
        format_length_to(mm, self.unit, Digits::Fine)
    }

    /// A cell as text.
    #[must_use]
    pub fn text(&self, cell: &Cell) -> String {
        match cell {
            Cell::Empty => String::new(),
            Cell::Text(text) => text.clone(),
            Cell::Length(mm) => self.length(*mm),
            Cell::Pair(a, b) => format!("{}/{}", self.length(*a), self.length(*b)),
            Cell::Number(value, decimals) => fixed(*value, *decimals),
        }
    }
}
