//! What the lines plan is drawn with: kinds of lines with their pens, strokes, letters.

use super::{Frame, ScreenPoint};
use crate::lines::{Branch, Node};
use crate::paper::{Dash, Fill, Hatch, Layer, Path, Pen, Text, Tone};

/// A CSS pixel, 1/96 in, mm.
pub const PX: f64 = 25.4 / 96.0;

/// px of one millimetre.
pub(super) const MM: f64 = 1.0 / PX;

/// Size of names and numbers, mm.
pub const LETTERS: f64 = 11.0 * PX;

/// Size of captions, mm.
pub const CAPTION: f64 = 13.0 * PX;

/// A layer of the lines plan: what is drawn of one kind.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Kind {
    /// A station, ruled through all views.
    StationRule,
    /// The base line.
    Base,
    /// A waterline or diagonal seen as a straight line.
    Trace,
    /// A buttock line seen as a straight line.
    ButtockTrace,
    /// The plane of symmetry.
    Centreline,
    /// Where curvature may lie within the tolerances.
    Band,
    /// Where a line bends inward.
    Hollow,
    /// A comb's teeth.
    Tooth,
    /// What joins their tips.
    Envelope,
    /// What joins a name to its line.
    Leader,
    /// A round mark of the strip.
    MarkRule,
    /// Where a leader or a peak stands on its line.
    Dot,
    /// A section.
    Section,
    /// A section that lies too near another to be told from it.
    LightSection,
    /// A waterline.
    Waterline,
    /// A buttock line.
    Buttock,
    /// A diagonal.
    Diagonal,
    /// A run line, crown or keel.
    Run,
    /// The section of the picked station.
    PickedSection,
    /// The picked line.
    PickedLine,
    /// Lines of another state.
    OtherState,
    /// Its combs.
    OtherComb,
    /// How far a point moved since, enlarged.
    MoveStem,
    /// A reading's tolerance, enlarged.
    BarMark,
    /// From where a point was read to where it is.
    Stem,
    /// A reading.
    Tick,
    /// A reading on a section that is drawn lightly.
    LightTick,
    /// A reading that is not used.
    Aside,
    /// Where a moved point was read.
    Was,
    /// A point that is held.
    Duck,
    /// A tape along the skin.
    Tape,
    /// A place lifted off the skin.
    Lozenge,
    /// Clear paper.
    Ground,
    /// The rule by which a print is checked.
    Check,
}

/// How hollows are hatched: every 5 px.
const HOLLOW: Hatch = Hatch {
    spacing: 5.0 * PX,
    angle: 3.0 * core::f64::consts::FRAC_PI_4,
};

impl Kind {
    /// The name of its layer.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::StationRule => "station-rule",
            Self::Base => "base",
            Self::Trace => "trace",
            Self::ButtockTrace => "buttock-trace",
            Self::Centreline => "centreline",
            Self::Band => "band",
            Self::Hollow => "hollow",
            Self::Tooth => "tooth",
            Self::Envelope => "envelope",
            Self::Leader => "leader",
            Self::MarkRule => "mark-rule",
            Self::Dot => "dot",
            Self::Section => "section",
            Self::LightSection => "light-section",
            Self::Waterline => "waterline",
            Self::Buttock => "buttock",
            Self::Diagonal => "diagonal",
            Self::Run => "run",
            Self::PickedSection => "picked-section",
            Self::PickedLine => "picked-line",
            Self::OtherState => "other-state",
            Self::OtherComb => "other-comb",
            Self::MoveStem => "move-stem",
            Self::BarMark => "bar-mark",
            Self::Stem => "stem",
            Self::Tick => "tick",
            Self::LightTick => "light-tick",
            Self::Aside => "aside",
            Self::Was => "was",
            Self::Duck => "duck",
            Self::Tape => "tape",
            Self::Lozenge => "lozenge",
            Self::Ground => "ground",
            Self::Check => "check",
        }
    }

    /// What it is drawn with on paper.
    #[must_use]
    pub fn pen(self) -> (Option<Pen>, Fill) {
        let pen = match self {
            Self::Run | Self::PickedLine | Self::MoveStem => Pen::EDGE,
            Self::Section | Self::PickedSection | Self::Check => Pen::SECOND,
            Self::OtherState | Self::OtherComb => Pen::SECOND.dashed(Dash::Short),
            Self::Waterline | Self::Envelope | Self::BarMark | Self::Tick => Pen::FINE,
            Self::Buttock => Pen::FINE.dashed(Dash::Long),
            Self::Diagonal => Pen::FINE.dashed(Dash::Chain),
            Self::Tape => Pen::FINE.dashed(Dash::Short),
            Self::Centreline => Pen::RULE.dashed(Dash::Centre),
            Self::ButtockTrace => Pen::RULE.dashed(Dash::Long),
            Self::StationRule
            | Self::Base
            | Self::Trace
            | Self::Tooth
            | Self::Leader
            | Self::MarkRule
            | Self::Stem
            | Self::LightSection
            | Self::LightTick
            | Self::Aside => Pen::RULE,
            Self::Was | Self::Lozenge => return (Some(Pen::RULE), Fill::Sheet),
            Self::Band => return (None, Fill::Tint),
            Self::Hollow => return (None, Fill::Hatch(HOLLOW)),
            Self::Duck | Self::Dot => return (None, Fill::Ink),
            Self::Ground => return (None, Fill::Sheet),
        };
        (Some(pen), Fill::None)
    }
}

/// Everything that is drawn of what changes together: always the same layers in the same order, so that a change of the
/// lines changes paths only.
#[derive(Clone, Debug, PartialEq)]
pub struct Drawing {
    /// Layers of one path each, in the order they are drawn.
    pub layers: Vec<Layer>,
    /// Names and numbers; those of all drawings lie over all paths.
    pub names: Layer,
}

impl Default for Drawing {
    fn default() -> Self {
        Self {
            layers: Vec::new(),
            names: Layer::new("names"),
        }
    }
}

impl Drawing {
    /// Adds a layer, an empty one too.
    pub(super) fn draw(&mut self, kind: Kind, strokes: Strokes) {
        let mut layer = Layer::new(kind.name());
        let (pen, fill) = kind.pen();
        layer.draw_edged(pen, fill, strokes.0);
        self.layers.push(layer);
    }

    /// Adds a name.
    pub(super) fn label(&mut self, text: Text) {
        self.names.draw_text(text);
    }
}

fn on_paper((x, y): ScreenPoint) -> ScreenPoint {
    (x * PX, y * PX)
}

/// A path whose places are given in px.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Strokes(pub Path);

impl Strokes {
    /// A polyline.
    pub fn line(&mut self, points: impl IntoIterator<Item = ScreenPoint>) {
        self.0.draw_line(points.into_iter().map(on_paper));
    }

    /// A straight stroke.
    pub fn stroke(&mut self, from: ScreenPoint, to: ScreenPoint) {
        self.0.draw_stroke(on_paper(from), on_paper(to));
    }

    /// Closes the last polyline.
    pub fn close(&mut self) {
        self.0.close();
    }

    /// A branch seen in a frame by two of its coordinates.
    pub fn branch(&mut self, branch: &Branch, frame: &Frame, axes: fn(&Node) -> (f64, f64)) {
        self.line(branch.nodes.iter().map(|node| {
            let (a, b) = axes(node);
            frame.at(a, b)
        }));
        if branch.closed {
            self.close();
        }
    }

    /// A circle.
    pub fn circle(&mut self, centre: ScreenPoint, radius: f64) {
        self.0.draw_circle(on_paper(centre), radius * PX);
    }

    /// A box: left, top, right, foot.
    pub fn box_(&mut self, area: [f64; 4]) {
        self.0.draw_box(area.map(|side| side * PX));
    }
}

/// A name or number in thin ink that begins at a place, px, in clear paper.
#[must_use]
pub fn label(at: ScreenPoint, text: impl Into<String>) -> Text {
    Text::new(on_paper(at), LETTERS, text)
}

/// What a view or strip is called, at a place, px.
#[must_use]
pub fn caption(at: ScreenPoint, text: impl Into<String>) -> Text {
    Text::new(on_paper(at), CAPTION, text).tone(Tone::Ink)
}

/// The same in a tone; what is picked is bold.
#[must_use]
pub fn toned(text: Text, tone: Tone) -> Text {
    let text = text.tone(tone);
    if tone == Tone::Picked {
        text.bold()
    } else {
        text
    }
}

/// Width of letters as wide as names are, px.
#[must_use]
pub fn wide(text: &str) -> f64 {
    label((0.0, 0.0), text).width() / PX
}
