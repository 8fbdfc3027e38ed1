//! Slips of the pen in each notation.

use super::*;
use crate::document::Sense;
use crate::units::LengthUnit::{FeetInchesEighths as Ft, Inches as In, Millimetres as Mm};

fn first(typed: &str, unit: LengthUnit, meant: &str) -> Slip {
    let expected = parse_length(meant, unit).unwrap();
    let found = slips(&Misfit {
        typed,
        unit,
        counted: Counted::default(),
        expected,
        sd: 0.6,
        cells: &[],
    });
    let first = found
        .first()
        .unwrap_or_else(|| panic!("{typed} for {meant}: none"));
    first.clone()
}

#[test]
fn each_notation_has_its_slips() {
    for (typed, unit, meant, words) in [
        ("1-2-3", Ft, "1-3-2", "inches and eighths changed places"),
        ("1-2-3+", Mm, "1-3-2+", "inches and eighths changed places"),
        ("1-11-3", Ft, "11-1-3", "feet and inches changed places"),
        ("12-2-3", Ft, "21-2-3", "two digits changed places"),
        ("1-1-3", Ft, "1-7-3", "1 written for 7"),
        ("2-9-3", Ft, "2-4-3", "9 written for 4"),
        ("2-9-2", Ft, "2-1-2", "9 written for 1"),
        ("2-4-6", Ft, "2-5-6", "an inch too little"),
        ("2-4-6", Ft, "2-3-6", "an inch too much"),
        ("1-11-7", Ft, "2-0-0", "an eighth too little"),
        ("2-4-6-", Ft, "2-4-6+", "the wrong mark for a sixteenth"),
        ("3-4-6", Ft, "2-4-6", "a foot too much"),
        ("2-4-6", Ft, "2-4-6+", "+ for a sixteenth missed"),
        ("2-4-6+", Ft, "2-4-6", "+ for a sixteenth too much"),
        ("-0-1-2", Ft, "0-1-2", "the wrong sign"),
        ("365.1", Mm, "356.1", "two digits changed places"),
        ("465.1", Mm, "965.1", "4 written for 9"),
        ("262.5", Mm, "282.5", "6 written for 8"),
        ("12,5 mm", Mm, "15,2 mm", "two digits changed places"),
        ("-14.4", Mm, "14.4", "the wrong sign"),
        ("14.375\"", Mm, "14.25\"", "an eighth too much"),
        ("14.375", In, "15.375", "an inch too little"),
        ("14 3/8", In, "15 3/8", "an inch too little"),
        ("1 ft 2 3/8", Mm, "2 ft 2 3/8", "a foot too little"),
    ] {
        let slip = first(typed, unit, meant);
        assert_eq!(slip.words(), words, "{typed} for {meant}: {slip:?}");
        let says = parse_length(&slip.typed, unit).unwrap();
        let expected = parse_length(meant, unit).unwrap();
        assert!((says - expected).abs() < 1e-9, "{typed}: {}", slip.typed);
        assert!(num::same(says, slip.mm), "{typed}: {} mm", slip.mm);
    }
}

fn asked<'a>(typed: &'a str, expected: f64, cells: &'a [NeighbourCell]) -> Misfit<'a> {
    Misfit {
        typed,
        unit: Ft,
        counted: Counted::default(),
        expected,
        sd: 0.6,
        cells,
    }
}

#[test]
fn the_likeliest_slip_stands_first_and_each_value_once() {
    // 15 1/4 in: 1-3-2, of which 1-3-1+ and 1-3-2+ are a sixteenth off.
    let found = slips(&asked("1-2-3", 387.35, &[]));
    assert_eq!(found[0].typed, "1-3-2");
    assert!(num::same(found[0].cost, EXCHANGED));
    for pair in found.windows(2) {
        assert!(pair[0].score <= pair[1].score);
        assert!((pair[0].mm - pair[1].mm).abs() > 1e-6);
    }
}

#[test]
fn a_source_that_counts_the_other_way_has_the_slip_in_its_own_count() {
    let counted = Counted {
        from: 1000.0,
        sense: Sense::Against,
    };
    let found = slips(&Misfit {
        counted,
        ..asked("1-2-3", 1000.0 - 387.35, &[])
    });
    assert_eq!(found[0].typed, "1-3-2");
    assert!((found[0].mm - (1000.0 - 387.35)).abs() < 1e-9);
}

fn cell(typed: &str, mm: f64, expected: Option<f64>) -> NeighbourCell {
    NeighbourCell {
        name: "STA 58".to_owned(),
        typed: typed.to_owned(),
        mm,
        expected: expected.map(|mm| Expected { mm, sd: 0.6 }),
    }
}

/// 1-2-3 is 365.125 mm, 1-5-7+ is 455.6125 mm.
#[test]
fn two_cells_are_exchanged_where_each_fits_in_the_others_place() {
    let of = |expected| {
        slips(&asked(
            "1-2-3",
            455.4,
            &[cell("1-5-7+", 455.6125, expected)],
        ))
    };
    let found = of(Some(365.0));
    assert_eq!(found[0].words(), "changed places with STA 58");
    assert_eq!(found[0].typed, "1-5-7+");
    // Where the other one is right as it stands, or nobody knows, it was not exchanged with this one.
    for expected in [Some(455.5), Some(367.5), None] {
        let cell = |slip: &Slip| matches!(slip.kind, SlipKind::Cell { .. });
        assert!(!of(expected).iter().any(cell), "{expected:?}");
    }
}

#[test]
fn a_cell_that_repeats_another_is_a_copy_and_should_say_what_fits() {
    let of =
        |expected: f64, there| slips(&asked("1-2-3", expected, &[cell("1-2-3", 365.125, there)]));
    let found = of(400.0, Some(365.0));
    assert_eq!(found[0].words(), "copied from STA 58");
    // 400 mm are 15 3/4 in.
    assert_eq!(found[0].typed, "1-3-6");
    // A likelier slip to the same value tells it.
    assert_eq!(
        of(387.35, Some(365.0))[0].words(),
        "inches and eighths changed places"
    );
    // Nor is it one where the other does not fit either.
    assert_eq!(of(400.0, Some(400.0)), []);
    let beside = [cell("365.1", 365.1, Some(365.0))];
    let plain = Misfit {
        unit: Mm,
        ..asked("365.1", 400.04, &beside)
    };
    assert_eq!(slips(&plain)[0].typed, "400.0");
}

#[test]
fn what_no_slip_explains_has_none() {
    assert_eq!(slips(&asked("1-2-3", 400.0, &[])), []);
    assert_eq!(slips(&asked("no length", 373.0, &[])), []);
}

proptest::proptest! {
    #[test]
    fn no_text_panics(text in ".{0,40}", expected in -1e4..1e4_f64) {
        for slip in slips(&asked(&text, expected, &[])) {
            proptest::prop_assert!(parse_length(&slip.typed, Ft).is_ok());
        }
    }

    #[test]
    fn every_slip_of_a_dashed_length_reads_back(feet in 0_u32..30, inches in 0_u32..12, eighths in 0_u32..8, by in -30.0..30.0_f64) {
        let text = format!("{feet}-{inches}-{eighths}");
        let mm = parse_length(&text, Ft).unwrap();
        for slip in slips(&Misfit { sd: 20.0, ..asked(&text, mm + by, &[]) }) {
            let says = parse_length(&slip.typed, Ft).unwrap();
            proptest::prop_assert!(num::same(says, slip.mm), "{text}: {slip:?}");
        }
    }
}
