//! A window grown into the dent that it lies in.
//!
//! In: a judged window. Out: the same with what adjoins and is off on its side, without what is not.

use super::field::{BAND, Field};
use super::left_out::{REACH, about, leave_out};
use super::windows::{FEWEST, JudgedWindow, KnownBy, judge};

/// Rounds of growing, each at the stiffness that the last one ended with.
const ROUNDS: usize = 3;

/// A reading is taken in from so many of its standard deviations on.
const TAKEN_IN: f64 = 2.0;

/// One that is off by less than this share of its tolerance is not taken in, and is put back.
const OFF: f64 = 0.5;

/// Takes in, worst first, what adjoins and is off on the same side while the group is left out; puts back what is not off.
///
/// A group may grow as long as [`super::field::BAND`] holds it and the rest about it, and as long as the skin across it is
/// known: to a quarter of what its furthest reading is off.
pub(super) fn grow(field: &Field, found: &JudgedWindow) -> JudgedWindow {
    let mut grown = found.clone();
    for _ in 0..ROUNDS {
        let Some(next) = round(field, &grown) else {
            break;
        };
        let same = next.group == grown.group;
        grown = next;
        if same {
            break;
        }
    }
    grown
}

/// One round: to its end at one stiffness, then judged anew.
fn round(field: &Field, from: &JudgedWindow) -> Option<JudgedWindow> {
    let JudgedWindow {
        mut group,
        mut stations,
        side,
        stiffness,
        ..
    } = from.clone();
    let mut settled = vec![false; field.readings.len()];
    loop {
        let left = leave_out(field, stiffness, &group, about(field, stations))?;
        let mut next = None::<(f64, usize)>;
        for ((i, off), t) in left.rest.iter().zip(&left.rest_off).zip(&left.rest_t) {
            let reading = field.readings[*i];
            let at_end = reading.station == 0 || reading.station + 1 == field.stations;
            let is_off = side * t >= TAKEN_IN && side * off >= OFF * reading.tolerance;
            let long = widened(stations, reading.station);
            let room = long[1] - long[0] + REACH <= BAND;
            if is_off
                && room
                && !at_end
                && !settled[*i]
                && next.is_none_or(|(most, _)| side * t > most)
                && field.adjoins(*i, &group)
            {
                next = Some((side * t, *i));
            }
        }
        if let Some((_, i)) = next {
            let mut with = group.clone();
            with.insert(with.partition_point(|j| *j < i), i);
            let long = widened(stations, field.readings[i].station);
            let known = leave_out(field, stiffness, &with, about(field, stations))
                .is_some_and(|left| KnownBy::OrByFurthest.holds(&left));
            if known {
                (group, stations) = (with, long);
            } else {
                settled[i] = true;
            }
            continue;
        }
        let mut least = None::<(f64, usize)>;
        for (i, off) in group.iter().zip(&left.off) {
            let share = side * off / field.readings[*i].tolerance;
            if share < OFF && least.is_none_or(|(most, _)| share < most) {
                least = Some((share, *i));
            }
        }
        match least {
            Some((_, i)) if group.len() > FEWEST => {
                group.retain(|j| *j != i);
                settled[i] = true;
            }
            _ => break,
        }
    }
    judge(field, &group, stations, KnownBy::OrByFurthest)
}

fn widened([first, last]: [usize; 2], station: usize) -> [usize; 2] {
    [first.min(station), last.max(station)]
}
