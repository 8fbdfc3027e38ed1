//! The shells of a body: what lies between crown, joint and keel.

use crate::document::On;
use crate::lines::girth_of;
use crate::loft::Loft;

use super::spacing::{ShellLines, ShellPlace};

/// One of them, on one half of the body.
#[derive(Clone, Debug, PartialEq)]
pub struct ShellPart {
    /// What it is called: `upper`, `lower`; `half`, where no joint divides the girth.
    pub name: &'static str,
    /// From here to here round the girth, by `v`.
    pub v: [f64; 2],
}

/// The shells of a loft, from the crown down.
#[must_use]
pub fn shells(loft: &Loft) -> Vec<ShellPart> {
    let joint = { loft.body().run_lines.iter() }.find(|line| line.joint);
    let joint = joint.and_then(|line| girth_of(loft, On::RunLine(line.id)));
    let part = |name, v| ShellPart { name, v };
    match joint {
        Some(v) if v > 0.0 && v < 1.0 => {
            vec![part("upper", [0.0, v]), part("lower", [v, 1.0])]
        }
        _ => vec![part("half", [0.0, 1.0])],
    }
}

/// Pieces of a section by whose chords its girth is shared out: in a half section of a thousand mm they are off it by 3e-3 mm,
/// nearly alike all along, so that a share is good to 1e-3 mm.
const FINE: u32 = 192;

/// Places round the girth at which the skin is looked at.
const SHARES: u32 = 32;

impl ShellPart {
    /// Places at even shares of the girth at a distance aft, from the upper edge to the lower.
    fn places(&self, loft: &Loft, x: f64) -> Vec<ShellPlace> {
        let section = GirthAt::of(self, loft, x);
        let shares = 0..=SHARES;
        shares
            .map(|share| section.at(loft, f64::from(share) / f64::from(SHARES)))
            .collect()
    }

    /// The place at a share of the girth, from 0 at the upper edge to 1 at the lower; none past the ends.
    #[must_use]
    pub fn at_share(&self, loft: &Loft, x: f64, share: f64) -> Option<ShellPlace> {
        let [fore, aft] = loft.extent();
        let there = x >= fore && x <= aft && (0.0..=1.0).contains(&share);
        there.then(|| GirthAt::of(self, loft, x).at(loft, share))
    }

    /// It, looked at from end to end.
    #[must_use]
    pub fn looked_at(&self, loft: &Loft) -> ShellLines {
        let [fore, aft] = loft.extent();
        ShellLines::of(fore..=aft, |x| self.places(loft, x))
    }
}

/// A section of a shell, by arc length.
struct GirthAt {
    u: f64,
    /// By `v`, the length from the upper edge, mm.
    lengths: Vec<(f64, f64)>,
}

impl GirthAt {
    fn of(shell: &ShellPart, loft: &Loft, x: f64) -> Self {
        let surface = loft.surface();
        let u = surface.u_at(x);
        let [from, to] = shell.v;
        let mut lengths = Vec::with_capacity(FINE as usize + 1);
        let mut before = None;
        let mut length = 0.0;
        for i in 0..=FINE {
            let v = from + (to - from) * f64::from(i) / f64::from(FINE);
            let point = surface.jet(u, v).s;
            length += before.map_or(0.0, |last: glam::DVec3| last.distance(point));
            before = Some(point);
            lengths.push((v, length));
        }
        Self { u, lengths }
    }

    fn at(&self, loft: &Loft, share: f64) -> ShellPlace {
        let girth = self.lengths[self.lengths.len() - 1].1;
        let want = girth * share;
        let after = { self.lengths.partition_point(|(_, length)| *length < want) }
            .clamp(1, self.lengths.len() - 1);
        let [(v0, l0), (v1, l1)] = [self.lengths[after - 1], self.lengths[after]];
        let part = if l1 > l0 {
            (want - l0) / (l1 - l0)
        } else {
            0.0
        };
        let v = v0 + (v1 - v0) * part;
        let jet = loft.surface().jet(self.u, v);
        ShellPlace {
            point: jet.s,
            normal: jet.normal(),
        }
    }
}
