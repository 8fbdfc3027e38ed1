//! The strip: radius along the picked line, linear in curvature and lettered in radius.

use super::drawing::{Drawing, Kind, Strokes, caption, label, wide};
use super::layout::crisp;
use super::scales::{Scales, along, over_125, runs_along};
use super::{Scene, ScreenPoint, comb_key, in_plan};
use crate::document::On;
use crate::lines::Node;
use crate::num::put_in_order;
use crate::paper::{Tone, overlap};
use crate::units::{RadiusUnit, headed, round_part};

/// Radius along the picked line, linear in curvature and lettered in radius.
pub(super) fn draw_strip(scene: &Scene<'_>, scales: &Scales, out: &mut Drawing) {
    let (Some([top, bottom]), Some(frame)) = (scene.layout.strip, scene.layout.profile) else {
        return;
    };
    let on = comb_key(scene.pick.on);
    if scene.fine.is_empty() {
        return;
    }
    let [low, high] = scales.strip;
    let y = |k: f64| {
        let share = (k - low) / (high - low);
        (bottom - share * (bottom - top)).clamp(top - 6.0, bottom + 6.0)
    };
    let [left, right] = scene.layout.ends;
    let flat = crisp(y(0.0));
    let name = headed(&scene.lines.body.line_name(on).unwrap_or_default());
    let words = if on == On::Keel {
        format!("{name}, radius along the upsweep")
    } else {
        format!("{name}, radius along")
    };
    out.label(caption((left - 54.0, top - 14.0), words));
    let (mut rules, mut zero) = (Strokes::default(), Strokes::default());
    zero.stroke((left - 4.0, flat), (right + 4.0, flat));
    out.label(label((left - 8.0, flat + 4.0), "flat").end());
    let near = nearest_round(scene, [low, high]);
    let on_scale = |peak: &Node| (low..=high).contains(&-peak.curvature);
    let mut peaks = peaks(scene, on, high.max(-low));
    peaks.retain(on_scale);
    let radii = peaks.iter().map(|peak| 1.0 / peak.curvature);
    let unit = RadiusUnit::of(radii.chain([2.0 * near]), scene.lines.about.unit);
    letter(
        scene,
        ([low, high], near, unit),
        flat,
        &y,
        (&mut rules, out),
    );

    let (mut curve, mut hollow) = (Strokes::default(), Strokes::default());
    for (_, branches) in scene.fine.iter().filter(|(line, _)| *line == on) {
        for branch in branches {
            for part in branch.nodes.split(|n| !runs_along(n)) {
                let at = |n: &Node| (frame.x(n.point.x), y(-n.curvature));
                // What is off the scale is left out; a level line there would be taken for a constant radius.
                let fits = |n: &Node| (low..=high).contains(&-n.curvature);
                for seen in part.split(|n| !fits(n)) {
                    curve.line(seen.iter().map(at));
                }
                for piece in part.split(|n| n.curvature <= 0.0).filter(|p| p.len() > 1) {
                    let ends = [&piece[piece.len() - 1], &piece[0]];
                    let feet = ends.map(|n| (frame.x(n.point.x), flat));
                    hollow.line(piece.iter().map(at).chain(feet));
                    hollow.close();
                }
            }
        }
    }
    let mut dots = Strokes::default();
    put_in_order(&mut peaks, |a, b| {
        b.curvature.abs().total_cmp(&a.curvature.abs())
    });
    let mut named: Vec<[f64; 4]> = Vec::new();
    for (words, seen) in told_branches(scene, on) {
        let places: Vec<ScreenPoint> = seen
            .iter()
            .filter(|n| (low..=high).contains(&-n.curvature))
            .map(|n| (frame.x(n.point.x), y(-n.curvature)))
            .collect();
        name_branch(words, &places, &mut named, out);
    }
    for peak in peaks {
        let at = (frame.x(peak.point.x), y(-peak.curvature));
        dots.circle(at, 2.0);
        let words = unit.words(1.0 / peak.curvature);
        let hollow = peak.curvature > 0.0;
        let words = if hollow {
            format!("hollow {words}")
        } else {
            words
        };
        let wide = wide(&words);
        let (left, foot) = if hollow {
            let right = at.0 + 8.0 + wide < scene.layout.ends[1];
            (at.0 + if right { 8.0 } else { -8.0 - wide }, at.1 + 4.0)
        } else {
            (at.0 - wide / 2.0, at.1 - 6.0)
        };
        // Of names that would lie on each other, that of the hardest bend.
        let place = [left, foot - 12.0, left + wide, foot + 4.0];
        if named.iter().any(|other| overlap(*other, place)) {
            continue;
        }
        named.push(place);
        let name = if hollow {
            label((left, foot), words)
        } else {
            label((at.0, foot), words).middle()
        };
        out.label(name.tone(Tone::Ink).bold().patched());
    }
    out.draw(Kind::MarkRule, rules);
    out.draw(Kind::Leader, zero);
    out.draw(Kind::Hollow, hollow);
    out.draw(Kind::Envelope, curve);
    out.draw(Kind::Dot, dots);
}

/// Where a line doubles back over itself, its stretches along the body with what they are called; none of any other line.
fn told_branches<'a>(scene: &'a Scene<'_>, on: On) -> Vec<(&'static str, &'a [Node])> {
    let plan = in_plan(scene.lines, on);
    let own = scene.fine.iter().filter(|(line, _)| *line == on);
    let stretches = own
        .flat_map(|(_, branches)| branches)
        .flat_map(|branch| branch.nodes.split(|n| !runs_along(n)));
    let across = |n: &Node| if plan { n.point.y } else { n.point.z };
    let mut found: Vec<([f64; 2], f64, &[Node])> = stretches
        .filter(|nodes| nodes.len() > 2)
        .map(|nodes| {
            let (a, b) = (nodes[0].point.x, nodes[nodes.len() - 1].point.x);
            let mean = nodes.iter().map(across).sum::<f64>() / nodes.len() as f64;
            ([a.min(b), a.max(b)], mean, nodes)
        })
        .collect();
    let doubles = |at: usize| {
        let [from, to] = found[at].0;
        let others = found.iter().enumerate().filter(|(other, _)| *other != at);
        let shared = others.map(|(_, ([a, b], ..))| to.min(*b) - from.max(*a));
        // They meet end to end where a line is only steep for a while.
        shared.fold(0.0, f64::max) > 0.2 * (to - from)
    };
    let doubled: Vec<bool> = (0..found.len()).map(doubles).collect();
    let mut keep = doubled.into_iter();
    found.retain(|_| keep.next().unwrap_or(false));
    put_in_order(&mut found, |a, b| b.1.total_cmp(&a.1));
    let names: &[&str] = match (found.len(), plan) {
        (2, true) => &["outer", "inner"],
        (2, false) => &["upper", "lower"],
        (3, true) => &["outer", "middle", "inner"],
        (3, false) => &["upper", "middle", "lower"],
        (_, true) => &["outermost", "2nd inward", "3rd inward", "4th inward"],
        (_, false) => &["uppermost", "2nd down", "3rd down", "4th down"],
    };
    let names = names.iter().copied();
    names
        .zip(found.into_iter().map(|(.., nodes)| nodes))
        .collect()
}

/// Names a stretch on its curve, where no other name stands.
fn name_branch(words: &str, places: &[ScreenPoint], named: &mut Vec<[f64; 4]>, out: &mut Drawing) {
    let wide = wide(words);
    let tries = [0.9, 0.7, 0.5, 0.3, 0.1].into_iter().flat_map(|share| {
        let last = places.len().saturating_sub(1);
        let at = places.get(crate::num::count_of(share * last as f64));
        [-7.0, 15.0]
            .into_iter()
            .filter_map(move |off| Some((*at?, off)))
    });
    for ((x, y), off) in tries {
        let foot = y + off;
        let place = [
            x - wide / 2.0 - 3.0,
            foot - 11.0,
            x + wide / 2.0 + 3.0,
            foot + 3.0,
        ];
        if named.iter().any(|other| overlap(*other, place)) {
            continue;
        }
        named.push(place);
        out.label(label((x, foot), words).middle().patched());
        return;
    }
}

/// The smallest round radius on the scale, mm.
fn nearest_round(scene: &Scene<'_>, [low, high]: [f64; 2]) -> f64 {
    let part = round_part(scene.lines.about.unit);
    over_125(1.0 / high.max(-low) / part) * part
}

/// Radii at round marks, above and below «flat».
fn letter(
    scene: &Scene<'_>,
    ([low, high], near, unit): ([f64; 2], f64, RadiusUnit),
    flat: f64,
    y: &dyn Fn(f64) -> f64,
    (rules, out): (&mut Strokes, &mut Drawing),
) {
    let [left, right] = scene.layout.ends;
    let mut hollow = None;
    for sign in [1.0, -1.0] {
        let mut last = flat;
        for radius in [near, 2.0 * near] {
            let k = sign / radius;
            let at = crisp(y(k));
            // The larger radius lies between the smaller one and «flat».
            let room = (at - flat).abs() > 11.0
                && ((last - at).abs() > 11.0 || crate::num::same(last, flat));
            if k > high || k < low || !room {
                continue;
            }
            last = at;
            rules.stroke((left, at), (right, at));
            out.label(label((left - 8.0, at + 4.0), unit.words(radius)).end());
            if sign < 0.0 {
                hollow = Some(at);
            }
        }
    }
    if let Some(at) = hollow {
        out.label(label((right + 10.0, at + 4.0), "hollow"));
    }
}

/// Whether a bend eases by so much on either side before one as hard is met.
fn stands_out(bends: &[f64], at: usize, by: f64) -> bool {
    let (before, rest) = bends.split_at(at);
    let Some((here, after)) = rest.split_first() else {
        return false;
    };
    let eases = |side: &mut dyn Iterator<Item = &f64>| {
        let until = side.take_while(|bend| *bend <= here);
        until.fold(*here, |least, bend| least.min(*bend)) < here - by
    };
    eases(&mut before.iter().rev()) && eases(&mut after.iter())
}

/// Nodes at which a line bends hardest and stands out from its neighbours, and the deepest of each hollow.
fn peaks(scene: &Scene<'_>, on: On, largest: f64) -> Vec<Node> {
    const APART: f64 = 44.0; // px, for the figures beside them
    let least = 0.25 * largest;
    let nodes: Vec<&Node> = along(scene.fine, on).collect();
    let mut found: Vec<Node> = Vec::new();
    let bends: Vec<f64> = nodes.iter().map(|node| -node.curvature).collect();
    for (i, three) in nodes.windows(3).enumerate() {
        let [before, here, after] = [0, 1, 2].map(|i| three[i].curvature);
        if !(here <= before && here < after) || here > -least {
            continue;
        }
        if !stands_out(&bends, i + 1, 0.05 * largest) {
            continue;
        }
        match found.last_mut() {
            Some(last) if (last.point.x - three[1].point.x).abs() * scene.layout.scale < APART => {
                if here < last.curvature {
                    *last = *three[1];
                }
            }
            _ => found.push(*three[1]),
        }
    }
    let own = scene.fine.iter().filter(|(line, _)| *line == on);
    let hollows = own.flat_map(|(_, branches)| branches.iter().flat_map(|b| b.hollows(least)));
    let deepest = hollows.map(|hollow| hollow.deepest);
    found.extend(deepest.filter(runs_along));
    found
}
