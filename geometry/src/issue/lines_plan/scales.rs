//! How large curvature is drawn: the comb's tooth, and the strip.

use std::collections::BTreeSet;

use super::comb_key;
use super::drawing::MM;
use crate::document::On;
use crate::lines::{Branch, Node};
use crate::num::put_in_order;
use crate::units::{LengthUnit, round_part};

/// Scales are chosen for a curvature of at least this, 1/mm: a radius of 200 m. What is flatter is flat to any template.
const FLATTEST: f64 = 5e-6;

/// The tooth that the largest 5 % may pass, mm on the screen.
const USUAL: f64 = 18.0;

/// No tooth is longer, mm on the screen, and none that points inward, where the other lines are.
const LONGEST: [f64; 2] = [26.0, 13.0];

/// A tooth that has grown by less than this over the longest stays as it is, so that no step lies on a threshold.
const GROWN: f64 = 1.15;

/// The strip shows no curvature of more than so many times what all but a tenth of the line keeps under.
const SHARPEST: f64 = 3.0;

/// The strip goes so far inward by its outward end, so that a slight hollow is seen as one.
const INWARD: f64 = 0.12;

/// A strip that was chosen for less stays while it is no larger than twice what it would be with so much room.
const ROOM: f64 = 1.2;

/// What is chosen anew has so much room.
const NEW_ROOM: f64 = 1.08;

/// Where a line runs along the body, its radius stands in the strip: the least x part of its tangent.
const ALONG: f64 = 0.7;

/// Scales that stay while a point is held, and afterwards as long as they fit.
#[derive(Clone, Debug, PartialEq)]
pub struct Scales {
    /// Radius of a tooth of 10 mm, mm.
    pub tooth: f64,
    /// Least and largest curvature in the strip, 1/mm, convex positive.
    pub strip: [f64; 2],
    /// The same as it was chosen, before the person halved or doubled it.
    chosen: f64,
    /// What they were chosen for: lines with combs, the picked one, the unit of the letters.
    chosen_for: (BTreeSet<On>, On, LengthUnit),
}

impl Scales {
    /// Chosen for the lines that are shown: the 95th-percentile tooth is up to 18 mm, no tooth goes far among the other
    /// lines; halved or doubled `doublings` times.
    pub fn of(
        fine: &[(On, Vec<Branch>)],
        combs: &BTreeSet<On>,
        picked: On,
        (doublings, unit): (i32, LengthUnit),
        before: Option<&Self>,
    ) -> Self {
        let chosen_for = (combs.clone(), picked, unit);
        let before = before.filter(|before| before.chosen_for == chosen_for);
        let combed = fine.iter().filter(|(on, _)| combs.contains(on));
        let combed: Vec<&Branch> = combed.flat_map(|(_, branches)| branches).collect();
        let large = passed(combed.iter().copied(), 0.95, |_| true);
        let bends = combed.iter().flat_map(|branch| &branch.nodes);
        let bends = bends.map(|node| node.curvature).filter(|k| k.is_finite());
        let (out, inward) = bends.fold((0.0_f64, 0.0_f64), |(out, inward), k| {
            (out.max(-k), inward.max(k))
        });
        let factor = (0..doublings.abs()).fold(1.0, |f, _| f * 2.0);
        let factor = if doublings < 0 { 1.0 / factor } else { factor };
        let part = round_part(unit);
        let at_most = |tooth: f64, k: f64| tooth / 10.0 / k.max(FLATTEST);
        let longest = at_most(LONGEST[0], out).min(at_most(LONGEST[1], inward));
        let wish = at_most(USUAL, large).min(longest);
        let chosen = match before {
            // A step on a threshold does not change all teeth.
            Some(before) if fits(before.chosen, wish) && before.chosen < GROWN * longest => {
                before.chosen
            }
            _ => under_1235(wish / part) * part,
        };
        let (mut low, mut high) = (0.0_f64, FLATTEST);
        for node in along(fine, comb_key(picked)) {
            (low, high) = (low.min(-node.curvature), high.max(-node.curvature));
        }
        // Where a line turns sharply at its end, the strip shows the rest.
        let line = fine.iter().filter(|(on, _)| *on == comb_key(picked));
        let usual = passed(line.flat_map(|(_, branches)| branches), 0.9, runs_along).max(FLATTEST);
        let (low, high) = (low.max(-SHARPEST * usual), high.min(SHARPEST * usual));
        // A hollow is seen as such even where it is slight.
        let low = low.min(-INWARD * high);
        let strip = match before {
            Some(before)
                if before.strip[0] <= low
                    && before.strip[1] >= high
                    && fits(before.strip[1] - before.strip[0], ROOM * (high - low)) =>
            {
                before.strip
            }
            _ => [low * NEW_ROOM, high * NEW_ROOM],
        };
        Self {
            tooth: chosen * factor,
            chosen,
            strip,
            chosen_for,
        }
    }

    /// px per (1/mm) of a tooth.
    pub(super) fn px(&self) -> f64 {
        10.0 * MM * self.tooth
    }
}

/// Whether a scale is still within twice and half of what would be chosen.
fn fits(scale: f64, wish: f64) -> bool {
    (0.5..=2.0).contains(&(scale / wish))
}

/// The size of curvature that all but the rest of a length keeps under, 1/mm.
fn passed<'a>(
    branches: impl Iterator<Item = &'a Branch>,
    share: f64,
    counts: impl Fn(&Node) -> bool,
) -> f64 {
    let mut sizes: Vec<(f64, f64)> = branches
        .flat_map(|branch| branch.nodes.windows(2))
        .filter(|pair| pair.iter().all(|n| n.curvature.is_finite() && counts(n)))
        .map(|pair| {
            let bent = f64::midpoint(pair[0].curvature.abs(), pair[1].curvature.abs());
            (bent, pair[0].point.distance(pair[1].point))
        })
        .collect();
    put_in_order(&mut sizes, |a, b| a.0.total_cmp(&b.0));
    let mut left = share * sizes.iter().map(|(_, length)| length).sum::<f64>();
    let reached = sizes.iter().find(|(_, length)| {
        left -= length;
        left <= 0.0
    });
    reached.or(sizes.last()).map_or(0.0, |(bent, _)| *bent)
}

/// Nodes of a line where it runs along the body.
pub(super) fn along(fine: &[(On, Vec<Branch>)], on: On) -> impl Iterator<Item = &Node> {
    fine.iter()
        .filter(move |(line, _)| *line == on)
        .flat_map(|(_, branches)| branches)
        .flat_map(|branch| &branch.nodes)
        .filter(|node| runs_along(node))
}

pub(super) fn runs_along(node: &Node) -> bool {
    node.tangent.x.abs() > ALONG && node.curvature.is_finite()
}

/// The largest of 1, 2, 3, 5, 10, 20, 30 … that is no larger than a number.
fn under_1235(value: f64) -> f64 {
    let fits = |step: &f64| *step <= value * (1.0 + 1e-9);
    let steps = steps(&[1.0, 2.0, 3.0, 5.0]);
    steps.take_while(fits).last().unwrap_or(value)
}

/// The smallest of 1, 2, 5, 10, 20 … that is no smaller than a number.
pub(super) fn over_125(value: f64) -> f64 {
    steps(&[1.0, 2.0, 5.0])
        .find(|step| *step >= value * (1.0 - 1e-9))
        .unwrap_or(value)
}

/// These numbers times the powers of ten, from 10⁻³ to 10¹².
pub(super) fn steps(of: &[f64]) -> impl Iterator<Item = f64> {
    (0..16_u32).flat_map(|power| {
        let decade = (0..power).fold(1e-3, |decade, _| decade * 10.0);
        of.iter().map(move |step| step * decade)
    })
}
