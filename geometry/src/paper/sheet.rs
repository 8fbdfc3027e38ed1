//! A sheet: all that is drawn on it, in the order in which it is drawn, by layers of one meaning.
//!
//! Plain data. Whoever draws fills layers; writers and the page show them and know nothing of what they mean.

use super::lettering::{ASCENT, CAPITAL, DESCENT, Typeface, width_of};
use super::{Area, Hatch, PaperPoint, Path, is_within};
use crate::num;

/// A drawing sheet.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Sheet {
    /// What it is, in a line.
    pub title: String,
    /// Width and height, mm.
    pub size: (f64, f64),
    /// Layers; what comes later lies over what came before.
    pub layers: Vec<Layer>,
}

/// What on a sheet has one meaning: other programs keep it apart, by its name.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Layer {
    /// Small letters, figures, hyphens: `waterline`, `cut`.
    pub name: &'static str,
    /// Nothing of it is seen outside this box. Letters are seen whole or not at all.
    pub clip: Option<Area>,
    /// Its paths, in the order they are drawn.
    pub marks: Vec<Mark>,
    /// Its texts, over its paths.
    pub texts: Vec<Text>,
}

/// Strokes of one pen, or an area.
#[derive(Clone, Debug, PartialEq)]
pub struct Mark {
    /// Where the strokes run, or the area's edge.
    pub path: Path,
    /// What the strokes are drawn with; an area may have no edge.
    pub pen: Option<Pen>,
    /// What the area is filled with, by the even-odd rule; under the strokes.
    pub fill: Fill,
}

/// What an area is filled with.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub enum Fill {
    /// Nothing.
    #[default]
    None,
    /// Clear paper, over what lies there.
    Sheet,
    /// A quiet tint, through which one sees.
    Tint,
    /// Ink.
    Ink,
    /// Strokes of the thinnest pen.
    Hatch(Hatch),
}

/// A pen: how heavy its line is, and how it is broken.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Pen {
    /// How heavy.
    pub weight: Weight,
    /// How broken.
    pub dash: Dash,
}

/// How heavy a line is, by what it is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Weight {
    /// The part itself.
    Part,
    /// Edges and frames, what bounds.
    Edge,
    /// What is second to these.
    Second,
    /// Chains, what lies behind, families of many lines.
    Fine,
    /// Rules, leaders, witness lines, hatching.
    Rule,
}

impl Weight {
    /// All, the heaviest first.
    pub const ALL: [Self; 5] = [Self::Part, Self::Edge, Self::Second, Self::Fine, Self::Rule];

    /// Width of its line, mm.
    #[must_use]
    pub fn width(self) -> f64 {
        match self {
            Self::Part => 0.5,
            Self::Edge => 0.35,
            Self::Second => 0.25,
            Self::Fine => 0.18,
            Self::Rule => 0.13,
        }
    }
}

/// How a line is broken.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub enum Dash {
    /// Not at all.
    #[default]
    Solid,
    /// Into long dashes.
    Long,
    /// Into short ones.
    Short,
    /// Into dashes and short ones in turn.
    Chain,
    /// Into long dashes and short ones in turn, as centre lines are.
    Centre,
}

impl Dash {
    /// Lengths of dashes and gaps in turn, mm.
    #[must_use]
    pub fn lengths(self) -> &'static [f64] {
        match self {
            Self::Solid => &[],
            Self::Long => &[3.2, 0.8],
            Self::Short => &[1.6, 0.8],
            Self::Chain => &[2.6, 0.8, 0.5, 0.8],
            Self::Centre => &[4.2, 0.8, 0.5, 0.8],
        }
    }
}

impl Pen {
    /// The pen of the part itself.
    pub const PART: Self = Self::of(Weight::Part);
    /// The pen of edges and frames.
    pub const EDGE: Self = Self::of(Weight::Edge);
    /// The pen of what is second to these.
    pub const SECOND: Self = Self::of(Weight::Second);
    /// The pen of families of many lines.
    pub const FINE: Self = Self::of(Weight::Fine);
    /// The thinnest.
    pub const RULE: Self = Self::of(Weight::Rule);

    /// A pen with an unbroken line.
    #[must_use]
    pub const fn of(weight: Weight) -> Self {
        Self {
            weight,
            dash: Dash::Solid,
        }
    }

    /// The same weight, broken.
    #[must_use]
    pub const fn dashed(self, dash: Dash) -> Self {
        Self { dash, ..self }
    }
}

/// How a text stands to its place.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Anchor {
    /// It begins there.
    #[default]
    Start,
    /// It is about there.
    Middle,
    /// It ends there.
    End,
}

/// How loudly a text speaks where there is more than black ink.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Tone {
    /// Quietly: numbers on axes, names in rows.
    #[default]
    Thin,
    /// As the drawing itself.
    Ink,
    /// Here is what is picked.
    Picked,
}

/// What keeps a text apart from what lies under it.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Ground {
    /// Nothing: it stands in clear paper.
    #[default]
    Clear,
    /// A patch of sheet.
    Patch,
    /// A rim of sheet about each letter.
    Halo,
}

/// A line of letters.
#[derive(Clone, Debug, PartialEq)]
pub struct Text {
    /// Where its foot line begins, has its middle or ends, mm.
    pub at: PaperPoint,
    /// Which of these.
    pub anchor: Anchor,
    /// What it says.
    pub text: String,
    /// Its face.
    pub face: Typeface,
    /// Size of its letters (their em), mm.
    pub size: f64,
    /// How far it is turned about its place, clockwise, rad.
    pub turned: f64,
    /// How loudly it speaks.
    pub tone: Tone,
    /// What lies under it.
    pub ground: Ground,
}

impl Text {
    /// A quiet text in clear paper that begins at a place.
    #[must_use]
    pub fn new(at: PaperPoint, size: f64, text: impl Into<String>) -> Self {
        Self {
            at,
            anchor: Anchor::Start,
            text: text.into(),
            face: Typeface::Regular,
            size,
            turned: 0.0,
            tone: Tone::Thin,
            ground: Ground::Clear,
        }
    }

    /// The same about its place.
    #[must_use]
    pub fn middle(self) -> Self {
        Self {
            anchor: Anchor::Middle,
            ..self
        }
    }

    /// The same ending at its place.
    #[must_use]
    pub fn end(self) -> Self {
        Self {
            anchor: Anchor::End,
            ..self
        }
    }

    /// The same in another tone.
    #[must_use]
    pub fn tone(self, tone: Tone) -> Self {
        Self { tone, ..self }
    }

    /// The same in bold letters.
    #[must_use]
    pub fn bold(self) -> Self {
        Self {
            face: Typeface::Bold,
            ..self
        }
    }

    /// The same on a patch of sheet.
    #[must_use]
    pub fn patched(self) -> Self {
        Self {
            ground: Ground::Patch,
            ..self
        }
    }

    /// Width of its letters, mm; see [`width_of`] for how exact that is.
    #[must_use]
    pub fn width(&self) -> f64 {
        width_of(&self.text, self.face, self.size)
    }

    /// The box of its letters before it is turned: as wide as they are, from the lowest to the tallest of them that have
    /// no accent. Left, top, right, foot, mm.
    #[must_use]
    pub fn unturned(&self) -> Area {
        let width = self.width();
        let left = match self.anchor {
            Anchor::Start => self.at.0,
            Anchor::Middle => self.at.0 - width / 2.0,
            Anchor::End => self.at.0 - width,
        };
        let (top, foot) = (
            self.at.1 - CAPITAL * self.size,
            self.at.1 + DESCENT * self.size,
        );
        [left, top, left + width, foot]
    }

    /// The patch of sheet that it stands on, before it is turned: its letters with what is needed about them, mm.
    #[must_use]
    pub fn patch(&self) -> Area {
        const ABOUT: f64 = 0.18; // of the size
        let [left, _, right, foot] = self.unturned();
        let about = ABOUT * self.size;
        let top = self.at.1 - (ASCENT - 0.1) * self.size;
        [left - about, top, right + about, foot]
    }

    /// The upright box of its letters as it is turned, mm.
    #[must_use]
    pub fn bounds(&self) -> Area {
        let [left, top, right, foot] = self.unturned();
        if num::same(self.turned, 0.0) {
            return [left, top, right, foot];
        }
        let corners = [(left, top), (right, top), (right, foot), (left, foot)];
        let corners = corners.map(|corner| super::path::on_arc(corner, self.at, self.turned));
        let least =
            |of: fn(&PaperPoint) -> f64| corners.iter().map(of).fold(f64::INFINITY, f64::min);
        [
            least(|p| p.0),
            least(|p| p.1),
            -least(|p| -p.0),
            -least(|p| -p.1),
        ]
    }
}

impl Layer {
    /// An empty layer.
    #[must_use]
    pub fn new(name: &'static str) -> Self {
        Self {
            name,
            ..Self::default()
        }
    }

    /// The same elsewhere: so far to the right and down, mm; of it only what lies in a box is seen.
    #[must_use]
    pub fn moved(&self, by: PaperPoint, clip: Area) -> Self {
        let mark = |mark: &Mark| Mark {
            path: mark.path.moved(by),
            ..mark.clone()
        };
        let text = |text: &Text| Text {
            at: (text.at.0 + by.0, text.at.1 + by.1),
            ..text.clone()
        };
        Self {
            name: self.name,
            clip: Some(clip),
            marks: self.marks.iter().map(mark).collect(),
            texts: self.texts.iter().map(text).collect(),
        }
    }

    /// The texts that are seen: whole within what of the layer is seen, or not at all.
    pub fn seen_texts(&self) -> impl Iterator<Item = &Text> {
        let seen = |text: &&Text| self.clip.is_none_or(|clip| is_within(text.bounds(), clip));
        self.texts.iter().filter(seen)
    }

    /// Adds strokes of a pen.
    pub fn draw_strokes(&mut self, pen: Pen, path: Path) {
        self.draw_edged(Some(pen), Fill::None, path);
    }

    /// Adds an area with an edge, or without one.
    pub fn draw_edged(&mut self, pen: Option<Pen>, fill: Fill, path: Path) {
        self.marks.push(Mark { path, pen, fill });
    }

    /// Adds a text.
    pub fn draw_text(&mut self, text: Text) {
        self.texts.push(text);
    }
}

#[cfg(test)]
mod tests {
    use core::f64::consts::FRAC_PI_2;

    use super::*;

    #[test]
    fn a_text_lies_where_its_anchor_says_and_is_turned_about_it() {
        let text = Text::new((10.0, 20.0), 2.0, "1450"); // 4 figures of 0.65
        let near = |a: Area, b: Area| a.iter().zip(b).all(|(a, b)| (a - b).abs() < 1e-12);
        assert!(near(text.bounds(), [10.0, 18.5, 15.2, 20.5]));
        assert!(near(text.clone().end().bounds(), [4.8, 18.5, 10.0, 20.5]));
        assert!(near(
            text.clone().middle().bounds(),
            [7.4, 18.5, 12.6, 20.5]
        ));
        let down = Text {
            turned: FRAC_PI_2,
            ..text
        };
        assert!(near(down.bounds(), [9.5, 20.0, 11.5, 25.2]));
    }

    #[test]
    fn pens_can_be_told_apart_by_their_weight() {
        for pair in Weight::ALL.windows(2) {
            assert!(pair[0].width() >= 1.3 * pair[1].width());
        }
    }
}
