//! How a sheet is seen in its window: what of it, how large, and the rules along its edges.
//!
//! In: the sizes of window and sheet, and where a person moved it. Out: [`Sight`], in which millimetres of the sheet and
//! pixels of the window are turned into each other, and the ticks of a rule. The window's own edges hide what lies outside.

/// A place on the sheet, mm, or in the window, px: across, and down.
pub type At = (f64, f64);

/// Millimetres that browsers suppose a pixel to be: 96 to the inch.
pub const SUPPOSED: f64 = 96.0 / 25.4;

/// Most that a millimetre is enlarged to, px.
const LARGEST: f64 = 80.0;

/// Clear room about a whole sheet, px.
const CLEAR: f64 = 8.0;

/// Least room between two figures of a rule, and between two of its ticks, px.
const FIGURES: f64 = 44.0;
const TICKS: f64 = 4.0;

/// How large a sheet is seen.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Enlarged {
    /// A millimetre of the sheet is one of the person's own rule.
    True,
    /// As large as the window takes all of it.
    Whole,
    /// A millimetre is so many px.
    By(f64),
}

/// How a sheet is looked at, until it is looked at otherwise.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Gaze {
    /// How large.
    pub enlarged: Enlarged,
    /// What stands in the middle of the window, as shares of the sheet.
    pub middle: At,
}

impl Gaze {
    /// All of it.
    pub const WHOLE: Self = Self {
        enlarged: Enlarged::Whole,
        middle: (0.5, 0.5),
    };
}

/// What is seen of a sheet.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sight {
    /// Pixels to a millimetre.
    pub scale: f64,
    /// What stands at the window's upper left corner, mm.
    pub corner: At,
    /// The window, px.
    pub window: At,
    /// The sheet, mm.
    pub sheet: At,
}

impl Sight {
    /// A sheet in a window that is looked at so, on a screen of so many pixels to the millimetre.
    pub fn of(gaze: Gaze, window: At, sheet: At, screen: f64) -> Self {
        let clear = |window: f64| (window - 2.0 * CLEAR).max(1.0);
        let whole = (clear(window.0) / sheet.0).min(clear(window.1) / sheet.1);
        let scale = match gaze.enlarged {
            Enlarged::True => screen,
            Enlarged::Whole => whole,
            Enlarged::By(scale) => scale.clamp(whole.min(screen), LARGEST),
        };
        let corner = |share: f64, window: f64, sheet: f64| {
            let seen = window / scale;
            if seen >= sheet {
                (sheet - seen) / 2.0
            } else {
                (share * sheet - seen / 2.0).clamp(0.0, sheet - seen)
            }
        };
        Self {
            scale,
            corner: (
                corner(gaze.middle.0, window.0, sheet.0),
                corner(gaze.middle.1, window.1, sheet.1),
            ),
            window,
            sheet,
        }
    }

    /// What stands in the middle of the window, as shares of the sheet.
    pub fn middle(&self) -> At {
        let share =
            |corner: f64, window: f64, sheet: f64| (corner + window / self.scale / 2.0) / sheet;
        (
            share(self.corner.0, self.window.0, self.sheet.0),
            share(self.corner.1, self.window.1, self.sheet.1),
        )
    }

    /// The place of the sheet at a place of the window; never off the sheet.
    pub fn on_sheet(&self, at: At) -> At {
        let there = |at: f64, corner: f64, sheet: f64| (corner + at / self.scale).clamp(0.0, sheet);
        (
            there(at.0, self.corner.0, self.sheet.0),
            there(at.1, self.corner.1, self.sheet.1),
        )
    }

    /// Looked at with the sheet moved by so many pixels.
    pub fn moved(&self, (right, down): At) -> At {
        let (x, y) = self.middle();
        (
            x - right / self.scale / self.sheet.0,
            y - down / self.scale / self.sheet.1,
        )
    }

    /// Looked at enlarged, with what stands at a place of the window staying there.
    pub fn enlarged(&self, factor: f64, about: At) -> Gaze {
        let scale = self.scale * factor;
        let middle = |corner: f64, about: f64, window: f64, sheet: f64| {
            (corner + about / self.scale + (window / 2.0 - about) / scale) / sheet
        };
        Gaze {
            enlarged: Enlarged::By(scale),
            middle: (
                middle(self.corner.0, about.0, self.window.0, self.sheet.0),
                middle(self.corner.1, about.1, self.window.1, self.sheet.1),
            ),
        }
    }

    /// What the window's view box is.
    pub fn view_box(&self) -> String {
        let (x, y) = self.corner;
        let (wide, high) = (self.window.0 / self.scale, self.window.1 / self.scale);
        format!("{x:.3} {y:.3} {wide:.3} {high:.3}")
    }
}

/// A rule along an edge.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Rule {
    /// Its ticks: where along the window, px, and whether one has a figure.
    pub ticks: Vec<(f64, bool)>,
    /// Its figures, mm, and where they stand, px.
    pub figures: Vec<(f64, String)>,
}

impl Rule {
    /// A rule over so many pixels, which begins at `from` mm; only what lies on the sheet, up to `sheet` mm, has ticks.
    pub fn of(from: f64, scale: f64, window: f64, sheet: f64) -> Self {
        let figured = step(scale, FIGURES);
        let fine = [figured / 10.0, figured / 5.0, figured / 2.0];
        let fine = fine.into_iter().find(|fine| fine * scale >= TICKS);
        let fine = fine.unwrap_or(figured);
        let mut rule = Self::default();
        let first = (from.max(0.0) / fine).ceil();
        let last = ((from + window / scale).min(sheet) / fine).floor();
        let mut at = first;
        while at <= last {
            let mm = at * fine;
            let px = (mm - from) * scale;
            let nearest = (mm / figured).round();
            let is_figured = (mm - nearest * figured).abs() < fine / 4.0;
            rule.ticks.push((px, is_figured));
            if is_figured {
                rule.figures.push((px, format!("{:.0}", nearest * figured)));
            }
            at += 1.0;
        }
        rule
    }
}

/// The least step of 1, 2 or 5 times a power of ten, no less than 1 mm, that is so many pixels wide, mm.
fn step(scale: f64, room: f64) -> f64 {
    let mut ten = 1.0;
    for _ in 0..6 {
        for part in [1.0, 2.0, 5.0] {
            if part * ten * scale >= room {
                return part * ten;
            }
        }
        ten *= 10.0;
    }
    ten
}

#[cfg(test)]
mod tests {
    use super::*;

    const SHEET: At = (420.0, 297.0);
    const WINDOW: At = (800.0, 500.0);

    fn at(enlarged: Enlarged, middle: At) -> Sight {
        Sight::of(Gaze { enlarged, middle }, WINDOW, SHEET, SUPPOSED)
    }

    #[test]
    fn a_whole_sheet_stands_in_the_middle() {
        let whole = at(Enlarged::Whole, (0.1, 0.9));
        assert!((whole.scale - (500.0 - 2.0 * CLEAR) / 297.0).abs() < 1e-12);
        assert!(
            whole.corner.0 < 0.0 && (whole.corner.1 * whole.scale + CLEAR).abs() < 1e-9,
            "{whole:?}"
        );
        assert!((whole.middle().0 - 0.5).abs() < 1e-12);
        assert_eq!(Sight::of(Gaze::WHOLE, WINDOW, SHEET, SUPPOSED), whole);
        let one_to_one = Sight::of(
            Gaze {
                enlarged: Enlarged::By(4.0),
                ..Gaze::WHOLE
            },
            WINDOW,
            SHEET,
            4.0,
        );
        assert_eq!(one_to_one.view_box(), "110.000 86.000 200.000 125.000");
    }

    #[test]
    fn a_sheet_at_true_size_is_moved_no_further_than_its_edges() {
        let middle = at(Enlarged::True, (0.5, 0.5));
        assert!((middle.scale - SUPPOSED).abs() < 1e-12);
        // A drag takes the sheet with it: 10 px are 10 / 3.78 mm.
        let moved = at(Enlarged::True, middle.moved((10.0, -20.0)));
        assert!((middle.corner.0 - moved.corner.0 - 10.0 / SUPPOSED).abs() < 1e-9);
        assert!((moved.corner.1 - middle.corner.1 - 20.0 / SUPPOSED).abs() < 1e-9);
        let far = at(Enlarged::True, (7.0, -7.0));
        assert!((far.corner.0 + 800.0 / SUPPOSED - 420.0).abs() < 1e-9);
        assert!(far.corner.1.abs() < 1e-9);
        assert_eq!(far.on_sheet((9e9, -9e9)), (420.0, 0.0));
    }

    #[test]
    fn places_go_there_and_back() {
        let sight = at(Enlarged::By(7.5), (0.3, 0.6));
        let (x, y) = sight.on_sheet((120.0, 80.0));
        assert!(((x - sight.corner.0) * 7.5 - 120.0).abs() < 1e-9);
        assert!(((y - sight.corner.1) * 7.5 - 80.0).abs() < 1e-9);
        let (x, y) = sight.middle();
        assert!((x - 0.3).abs() < 1e-12 && (y - 0.6).abs() < 1e-12);
        assert!(at(Enlarged::By(1e9), (0.5, 0.5)).scale <= LARGEST);
        // What lies under the pointer stays there.
        let larger = Sight::of(sight.enlarged(1.7, (500.0, 90.0)), WINDOW, SHEET, SUPPOSED);
        let (was, is) = (
            sight.on_sheet((500.0, 90.0)),
            larger.on_sheet((500.0, 90.0)),
        );
        assert!(
            (was.0 - is.0).abs() < 1e-9 && (was.1 - is.1).abs() < 1e-9,
            "{was:?} {is:?}"
        );
    }

    #[test]
    fn a_rule_has_its_figures_where_the_millimetres_are() {
        let rule = Rule::of(57.3, SUPPOSED, 800.0, 420.0);
        let (px, figure) = rule.figures.first().unwrap();
        let mm: f64 = figure.parse().unwrap();
        assert!(((mm - 57.3) * SUPPOSED - px).abs() < 1e-6, "{figure}");
        let apart: Vec<f64> = rule.figures.windows(2).map(|w| w[1].0 - w[0].0).collect();
        assert!(apart.iter().all(|px| *px >= FIGURES), "{apart:?}");
        assert!(
            rule.ticks
                .windows(2)
                .all(|w| w[1].0 - w[0].0 >= TICKS - 1e-9)
        );
        // Beside the sheet there is none.
        let beside = Rule::of(-30.0, 2.0, 1000.0, 420.0);
        assert!((beside.ticks[0].0 - 60.0).abs() < 1e-9);
        assert!(beside.ticks.iter().all(|(px, _)| *px <= 900.0 + 1e-9));
        assert_eq!(beside.figures[0].1, "0");
    }
}
