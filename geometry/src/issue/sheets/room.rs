//! Where letters stand so that none lie over others, nor across the edge of a tile.

use crate::paper::lettering::CAPITAL;
use crate::paper::{Area, PaperPoint, Text, Tone, is_within, overlap};

/// Clear paper about letters, mm.
const CLEAR: f64 = 0.7;

/// What of a drawing is taken by letters already.
#[derive(Debug)]
pub(super) struct Room<'a> {
    /// What each tile shows.
    windows: &'a [Area],
    taken: Vec<Area>,
}

/// Ink in letters whose capitals are so high, mm.
pub(super) fn letters(at: PaperPoint, capital: f64, text: impl Into<String>) -> Text {
    Text::new(at, capital / CAPITAL, text).tone(Tone::Ink)
}

impl<'a> Room<'a> {
    pub(super) fn new(windows: &'a [Area]) -> Self {
        Self {
            windows,
            taken: Vec::new(),
        }
    }

    /// What each tile shows.
    pub(super) fn windows(&self) -> &'a [Area] {
        self.windows
    }

    /// Whether a box is whole on one of the tiles and touches nothing that is taken.
    pub(super) fn is_free(&self, area: Area) -> bool {
        self.is_whole(area) && !self.taken.iter().any(|other| overlap(area, *other))
    }

    fn is_whole(&self, area: Area) -> bool {
        self.windows.iter().any(|window| is_within(area, *window))
    }

    /// Keeps letters off a box.
    pub(super) fn take(&mut self, [left, top, right, foot]: Area) {
        self.taken
            .push([left - CLEAR, top - CLEAR, right + CLEAR, foot + CLEAR]);
    }

    /// The first of some texts that stands free; its place is taken then.
    pub(super) fn place(&mut self, mut tried: impl Iterator<Item = Text>) -> Option<Text> {
        let text = tried.find(|text| self.is_free(text.bounds()))?;
        self.take(text.bounds());
        Some(text)
    }

    /// Lines of letters as a whole at the first of some places where they stand free; they are given about (0, 0).
    pub(super) fn place_lines(
        &mut self,
        lines: &[Text],
        mut tried: impl Iterator<Item = PaperPoint>,
    ) -> Option<Vec<Text>> {
        let own = around(lines);
        let at = |(x, y): PaperPoint| [own[0] + x, own[1] + y, own[2] + x, own[3] + y];
        let (x, y) = tried.find(|place| self.is_free(at(*place)))?;
        self.take(at((x, y)));
        let moved = |text: &Text| Text {
            at: (text.at.0 + x, text.at.1 + y),
            ..text.clone()
        };
        Some(lines.iter().map(moved).collect())
    }
}

/// The box about lines of letters.
pub(super) fn around(lines: &[Text]) -> Area {
    let all = lines.iter().map(Text::bounds);
    all.fold(
        [
            f64::INFINITY,
            f64::INFINITY,
            f64::NEG_INFINITY,
            f64::NEG_INFINITY,
        ],
        |a, b| {
            [
                a[0].min(b[0]),
                a[1].min(b[1]),
                a[2].max(b[2]),
                a[3].max(b[3]),
            ]
        },
    )
}

/// A text as it fits a width: letters are left out at its end, and a sign stands for them.
pub(super) fn fitted(text: Text, width: f64) -> Text {
    if text.width() <= width {
        return text;
    }
    let mut letters: Vec<char> = text.text.chars().collect();
    loop {
        letters.pop();
        let cut: String = letters.iter().collect::<String>().trim_end().to_owned() + "…";
        let shorter = Text {
            text: cut,
            ..text.clone()
        };
        if letters.is_empty() || shorter.width() <= width {
            return shorter;
        }
    }
}

/// A sentence in lines no wider than this, broken between words; a word that is wider is cut.
pub(super) fn wrapped(text: &Text, width: f64, feed: f64) -> Vec<Text> {
    let mut lines: Vec<String> = Vec::new();
    for word in text.text.split_whitespace() {
        let longer = lines.last().map(|line| format!("{line} {word}"));
        let fits = |line: &String| {
            let all = Text {
                text: line.clone(),
                ..text.clone()
            };
            all.width() <= width
        };
        match (lines.last_mut(), longer.filter(fits)) {
            (Some(last), Some(longer)) => *last = longer,
            _ => lines.push(word.to_owned()),
        }
    }
    let mut down = 0.0;
    let line = |line: String| {
        let line = Text {
            at: (text.at.0, text.at.1 + down),
            text: line,
            ..text.clone()
        };
        down += feed;
        fitted(line, width)
    };
    lines.into_iter().map(line).collect()
}
