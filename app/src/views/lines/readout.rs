//! What a held point says beside it: value, move, and its tolerance as a bar at the scale of the gear.

use geometry::issue::lines_plan::{Strokes, label};
use geometry::paper::{Text, Tone};
use geometry::units::{Digits, LengthUnit, format_length_to, format_length_with_unit};
use leptos::prelude::*;

use super::gestures::GEAR;
use super::targets::Held;
use crate::views::drawing::{Point, letters, strokes};

/// What a held point says: its value, its move, and its tolerance as a fixed bar at the scale of the gear.
pub(super) fn readout(held: &Held, unit: LengthUnit, width: f64) -> impl IntoView + use<> {
    let pixels = |mm: f64| mm / GEAR;
    let (gx, gy) = held.target.grows;
    let (x, y) = held.target.at;
    // Beside the point: right of an upright bar, under a level one.
    let right = x + 230.0 < width;
    let side = if right { 1.0 } else { -1.0 };
    let foot = if gy == 0.0 {
        (x, y + 30.0)
    } else {
        (x + side * 30.0, y)
    };
    let along = |mm: f64| (foot.0 + gx * pixels(mm), foot.1 + gy * pixels(mm));
    let across = |at: Point, half: f64| {
        (
            (at.0 - half * gy, at.1 - half * gx),
            (at.0 + half * gy, at.1 + half * gx),
        )
    };
    let (mut bar, mut tick) = (Strokes::default(), Strokes::default());
    let middle = held.recorded - held.start;
    let ends = [middle - held.tolerance, middle + held.tolerance].map(along);
    bar.stroke(ends[0], ends[1]);
    for end in ends {
        let (from, to) = across(end, 4.0);
        bar.stroke(from, to);
    }
    let here = along(held.now - held.start);
    let (from, to) = across(here, 7.0);
    tick.stroke(from, to);
    let [value, moved, says] = words(held, unit);
    let at = if gy == 0.0 {
        (x - 60.0, y + 56.0)
    } else {
        (foot.0 + side * 14.0, y - 8.0)
    };
    let line = |i: i32, text: String| {
        let text = label((at.0, at.1 + 14.0 * f64::from(i)), text);
        let text = text.tone(Tone::Ink).patched();
        if right || gy == 0.0 { text } else { text.end() }
    };
    let lines: [Text; 3] = [line(0, value).bold(), line(1, moved), line(2, says)];
    view! {
        <path class="gauge" d=strokes(&bar)/>
        <path class="gauge-tick" d=strokes(&tick)/>
        {lines.iter().map(letters).collect_view()}
    }
}

/// Value, move, and how that stands to the tolerance.
fn words(held: &Held, unit: LengthUnit) -> [String; 3] {
    let off = held.now - held.recorded;
    let mm = |mm: f64| format_length_to(mm, LengthUnit::Millimetres, Digits::Plain);
    let sign = if off < 0.0 { "−" } else { "+" };
    let past = off.abs() - held.tolerance;
    let says = if past > 0.005 {
        format!("past its tolerance by {} mm", mm(past))
    } else {
        format!("within ± {} mm", mm(held.tolerance))
    };
    [
        format_length_with_unit(held.now, unit),
        format!("{sign}{} mm from as read", mm(off.abs())),
        says,
    ]
}
