//! The demo's table for the tests of fairness, as it is and as it would be without noise; the whole surface and the batten on it.

use super::batten::{BattenOptions, lay_batten};
use glam::DVec3;

use super::verdict::{Fairness, judge, judged_lines};
use super::whole::{NoProposal, Proposal, fair_whole};
use crate::demo_truth;
use crate::document::{BodyEdit, Lines, On, PointId, Recorded, TableOptions, read_table};
use crate::loft::Loft;
use crate::spline::{Row, Surface};

const ON: &dyn Fn() -> bool = &|| false;

pub(super) fn demo() -> Lines {
    let table = include_bytes!("../../../tests/data/demo_offsets.csv");
    read_table(table, &TableOptions::default()).unwrap().lines()
}

/// The demo's table as it would be without noise, misprint, hollow or gap.
pub(crate) fn exact() -> Lines {
    let mut lines = demo();
    let table = include_str!("../../../tests/data/demo_truth.csv");
    for row in table.lines().skip(1) {
        let cells: Vec<&str> = row.split(',').collect();
        let station = lines.body.station_by_label(cells[0]).unwrap().id;
        let names: Vec<(On, PointId)> = lines
            .body
            .points
            .iter()
            .filter(|p| p.station == station)
            .map(|p| (p.on, p.id))
            .collect();
        let found = names.iter().find(|(on, _)| {
            lines
                .body
                .line_name(*on)
                .is_some_and(|name| name.eq_ignore_ascii_case(cells[1]))
        });
        let Some((_, id)) = found else { continue };
        let point = lines
            .body_mut()
            .points
            .iter_mut()
            .find(|p| p.id == *id)
            .unwrap();
        for reading in &mut point.readings {
            for (value, cell) in [(&mut reading.half_breadth, 3), (&mut reading.height, 4)] {
                if let Some(recorded) = value {
                    recorded.mm = cells[cell].parse().unwrap();
                }
            }
        }
    }
    lines
}

/// With its misprint put right.
fn mended() -> Lines {
    let lines = demo();
    let station = lines.body.station_by_label("48").unwrap().id;
    let plane = lines
        .body
        .planes
        .iter()
        .find(|p| p.name == "WL 32")
        .unwrap();
    let right = BodyEdit::PutRight {
        point: lines
            .body
            .point_on(station, On::Plane(plane.id))
            .unwrap()
            .id,
        reading: 0,
        half_breadth: Some(387.35), // 1-3-2
        height: None,
    };
    lines.apply(&right).unwrap()
}

/// Points of the lower shell, from one station to another.
fn lower(lines: &Lines, [from, to]: [f64; 2]) -> Vec<PointId> {
    let loft = Loft::build(&lines.body).unwrap();
    let joint = loft.run_lines()[0].1;
    let at = |id| {
        lines
            .body
            .station(id)
            .unwrap()
            .label
            .parse::<f64>()
            .unwrap()
    };
    loft.points()
        .iter()
        .filter(|p| p.v > joint + 1e-9 && (from..=to).contains(&at(p.station)))
        .map(|p| p.point)
        .collect()
}

/// How far a loft lies from the demo's truth where that was read, in the sections: most in the upper shell, and most
/// anywhere, mm.
fn off_where_read(loft: &Loft) -> [f64; 2] {
    let joint = loft.run_lines()[0].1;
    let mut most = [0.0_f64; 2];
    for row in include_str!("../../../tests/data/demo_truth.csv")
        .lines()
        .skip(1)
    {
        let cells: Vec<&str> = row.split(',').collect();
        let [x, y, z] = [2, 3, 4].map(|k| cells[k].parse::<f64>().unwrap());
        let [v, off] = Round::of(loft.surface(), loft.u_at(x)).nearest([y, z]);
        most[1] = most[1].max(off);
        if v < joint {
            most[0] = most[0].max(off);
        }
    }
    most
}

/// Places round a section from which the nearest to a point is looked for.
const ROUND: u32 = 400;

/// One section of a surface, with places round it.
struct Round<'a> {
    row: Row<'a>,
    places: Vec<DVec3>,
}

impl<'a> Round<'a> {
    fn of(surface: &'a Surface, u: f64) -> Self {
        let row = surface.row(u);
        let place = |k| row.jet(f64::from(k) / f64::from(ROUND)).s;
        let places = (0..=ROUND).map(place).collect();
        Self { row, places }
    }

    /// The place nearest to a point: its v and how far it lies, mm; from the nearest of all by Newton's method on
    /// `(S − P) · S_v = 0`, crown and keel bounding it.
    fn nearest(&self, [y, z]: [f64; 2]) -> [f64; 2] {
        let off = |s: DVec3| DVec3::new(0.0, s.y - y, s.z - z);
        let far = |k: &u32| off(self.places[*k as usize]).length_squared();
        let near = (0..=ROUND)
            .min_by(|a, b| far(a).total_cmp(&far(b)))
            .unwrap();
        let mut v = f64::from(near) / f64::from(ROUND);
        for _ in 0..8 {
            let jet = self.row.jet(v);
            let off = off(jet.s);
            v = (v - off.dot(jet.v) / (jet.v.dot(jet.v) + off.dot(jet.vv))).clamp(0.0, 1.0);
        }
        let distance = off(self.row.jet(v).s).length();
        assert!(
            distance <= far(&near).sqrt() + 1e-9,
            "nearer than where it began"
        );
        [v, distance]
    }
}

/// How far a surface lies from a point, square to the skin, from a place near the foot, mm.
///
/// Newton's method on `(S − P) · S_u = (S − P) · S_v = 0`; crown and keel bound it, beyond the ends the skin runs on as it
/// comes, for the fraction of a millimetre by which a foot may lie there.
fn square_to_skin(surface: &Surface, [u, v]: [f64; 2], p: DVec3) -> f64 {
    let (mut u, mut v) = (u, v);
    let mut square = f64::INFINITY;
    for _ in 0..8 {
        let jet = surface.jet(u, v);
        let off = jet.s - p;
        square = off.length();
        let [a, b, c] = [
            jet.u.dot(jet.u) + off.dot(jet.uu),
            jet.u.dot(jet.v) + off.dot(jet.uv),
            jet.v.dot(jet.v) + off.dot(jet.vv),
        ];
        let (f, g) = (off.dot(jet.u), off.dot(jet.v));
        let det = a * c - b * b;
        u -= (c * f - b * g) / det;
        v = (v - (a * g - b * f) / det).clamp(0.0, 1.0);
    }
    square
}

/// How far a loft lies from the demo's body, from end to end and all round, square to the skin: most in the upper shell and
/// most anywhere, mm.
fn off_everywhere(loft: &Loft) -> [f64; 2] {
    off_up_to(loft, demo_truth::LENGTH)
}

/// The same, from the fore end to a place.
fn off_up_to(loft: &Loft, end: f64) -> [f64; 2] {
    let all = distances_up_to(loft, end).into_iter();
    all.fold([0.0_f64; 2], |[most_above, most], (upper, off)| {
        let above = if upper { off } else { 0.0 };
        [most_above.max(above), most.max(off)]
    })
}

/// Its distances at places all round, from the fore end to a place, and whether each is of the upper shell, mm.
fn distances_up_to(loft: &Loft, end: f64) -> Vec<(bool, f64)> {
    let mut all = Vec::new();
    let places = (0..=160).map(|i| demo_truth::LENGTH * f64::from(i) / 160.0);
    for x in places.take_while(|x| *x <= end) {
        let section = demo_truth::Section::at(x);
        let u = loft.u_at(x);
        let round = Round::of(loft.surface(), u);
        for k in 0..=200 {
            let upper = k < 100;
            let [y, z] = if upper {
                section.upper(f64::from(k) / 100.0)
            } else {
                section.lower(f64::from(k - 100) / 100.0)
            };
            let [v, in_plane] = round.nearest([y, z]);
            let off = square_to_skin(loft.surface(), [u, v], DVec3::new(x, y, z));
            assert!(off <= in_plane + 1e-9, "{off} {in_plane}");
            all.push((upper, off));
        }
    }
    all
}

/// A loft of readings without an error is off by what it is drawn stiff, between them above all: of places all round the demo's
/// body all but one in twenty lie within what is said of it.
#[test]
fn a_loft_of_exact_readings_is_as_good_as_is_said() {
    let loft = Loft::build(&exact().body).unwrap();
    let mut off: Vec<f64> = { distances_up_to(&loft, demo_truth::LENGTH).into_iter() }
        .map(|(_, off)| off)
        .collect();
    off.sort_by(f64::total_cmp);
    let at = |share: f64| off[crate::num::count_of(share * (off.len() - 1) as f64)];
    let [half, most_of_all, furthest] = [0.5, 0.95, 1.0].map(at);
    let said = crate::num::LOFT_ERROR;
    assert!(
        most_of_all <= said && most_of_all > 0.5 * said,
        "{most_of_all}"
    );
    assert!(half < 0.04 && furthest < 1.2, "{half} {furthest}");
}

/// The formulas are those by which the table was made.
#[test]
fn the_demo_in_closed_form_passes_through_its_true_readings() {
    let mut seen = 0;
    for row in include_str!("../../../tests/data/demo_truth.csv")
        .lines()
        .skip(1)
    {
        let cells: Vec<&str> = row.split(',').collect();
        let [x, y, z] = [2, 3, 4].map(|k| cells[k].parse::<f64>().unwrap());
        let section = demo_truth::Section::at(x);
        // By height, above or below the joint.
        let [_, joint] = section.lower(0.0);
        let at = |t: f64| {
            if z > joint + 1e-3 {
                section.upper(t)
            } else {
                section.lower(t)
            }
        };
        let (mut low, mut high) = (0.0, 1.0);
        for _ in 0..50 {
            let middle = f64::midpoint(low, high);
            if at(middle)[1] > z {
                low = middle;
            } else {
                high = middle;
            }
        }
        // At the keel the section is level, so that a height tells no place.
        let found = at(if cells[1] == "keel" { 1.0 } else { low });
        let near = |k: usize, value: f64| (found[k] - value).abs() < 1e-3;
        assert!(near(0, y) && near(1, z), "{row}: {found:?}");
        seen += 1;
    }
    assert!(seen > 180);
}

/// What the faired demo is off at its last station is mostly of this: there only three places of the lower shell were read,
/// and between joint and WL 28 a curve through exact ones is off too. One reading more there mends it.
#[test]
fn an_exact_table_is_lofted_to_the_truth_but_where_little_was_read() {
    let lines = exact();
    let [upper, anywhere] = off_everywhere(&Loft::build(&lines.body).unwrap());
    assert!(upper < 0.65 && anywhere < 1.25, "{upper} {anywhere}");
    let mut more = lines.clone();
    let station = lines.body.station_by_label("158").unwrap().id;
    let wl_28 = lines.body.planes.iter().find(|plane| plane.name == "WL 28");
    let below = On::Plane(wl_28.unwrap().id);
    let is = |p: &crate::document::Point| p.station == station && p.on == below;
    let at = lines.body.points.iter().position(is).unwrap();
    let mut point = lines.body.points[at].clone();
    point.id = PointId(10_000);
    point.on = On::Free;
    let [y, z] = demo_truth::Section::at(demo_truth::LENGTH).lower(0.3);
    let reading = &mut point.readings[0];
    for (value, mm) in [(&mut reading.half_breadth, y), (&mut reading.height, z)] {
        *value = Some(Recorded {
            typed: format!("{mm} mm"),
            mm,
            put_right: None,
        });
    }
    more.body_mut().points.insert(at, point);
    let [_, mended] = off_everywhere(&Loft::build(&more.body).unwrap());
    assert!(mended < 0.65, "{mended}");
}

fn past(lines: &Lines, proposal: &Proposal) -> Vec<String> {
    let past = proposal.moves.iter().filter(|m| m.is_past());
    past.map(|m| lines.body.point_name(m.point)).collect()
}

/// The bounds are those that a restorer would ask of a skin: 1 mm where all was read, 2 mm where a dent was cut out, all round;
/// where it was read it comes nearer. In the last bay 2.2 mm: at its station three places of the lower shell were read, and
/// between joint and WL 28, where none was, nothing draws the skin straight at the end any more.
#[test]
fn with_the_dent_set_aside_the_whole_surface_comes_to_the_truth() {
    let lines = mended();
    let dent = lower(&lines, [79.0, 123.0]);
    let aside = |lines: Lines, point: &PointId| {
        let reason = "a dent in the sheet".to_owned();
        let edit = BodyEdit::SetAside {
            point: *point,
            reading: 0,
            reason,
        };
        lines.apply(&edit).unwrap()
    };
    let lines = dent.iter().fold(lines, aside);
    let loft = Loft::build(&lines.body).unwrap();
    let proposal = fair_whole(&loft, &|_| false).unwrap();
    assert_eq!(past(&lines, &proposal), Vec::<String>::new());
    // Known by the truth, the flattening is of the size that is said.
    let bias = proposal.bias.unwrap();
    assert!(bias > 0.02 && bias < 0.6, "{bias}");
    let faired = lines.apply(proposal.edit(&[])).unwrap();
    let again = loft.again(&faired.body).unwrap();
    let [upper, anywhere] = off_where_read(&again);
    assert!(upper < 0.6 && anywhere < 1.0, "{upper} {anywhere}");
    let [upper_all, all] = off_everywhere(&again);
    assert!(upper_all < 1.0 && all < 2.2, "{upper_all} {all}");
    let last = lines.body.station_by_label("146").unwrap().x;
    let [_, to_the_last_bay] = off_up_to(&again, last);
    assert!(to_the_last_bay < 1.0, "{to_the_last_bay}");
    let [_, before] = off_where_read(&loft);
    assert!(anywhere < 0.5 * before, "{anywhere} after {before}");
    let keel = judge(&again, On::Keel, None, ON).unwrap();
    assert_eq!(keel.fairness, Fairness::Fair);
    // What lies within its tolerances and is fair is left nearly alone.
    let twice = fair_whole(&again, &|_| false).unwrap();
    assert!(twice.largest < 0.1, "{}", twice.largest);
}

/// What is exact, however few its readings and whatever its shape, has nothing to be settled.
#[test]
fn an_exact_table_has_no_suspect() {
    let found = super::suspects::find(&exact().body, crate::units::LengthUnit::Inches, ON).unwrap();
    assert_eq!((found.misprints, found.dents.found), (vec![], vec![]));
}

#[test]
fn what_could_only_be_met_by_a_dent_is_named() {
    for (lines, misprint) in [(mended(), false), (demo(), true)] {
        let loft = Loft::build(&lines.body).unwrap();
        let proposal = fair_whole(&loft, &|_| false).unwrap();
        let mut named = past(&lines, &proposal);
        if misprint {
            assert!(named.contains(&"STA 48, WL 32".to_owned()), "{named:?}");
        }
        named.retain(|name| name != "STA 48, WL 32" || !misprint);
        let dent = lower(&lines, [79.0, 123.0]);
        let within: Vec<String> = dent
            .into_iter()
            .map(|point| lines.body.point_name(point))
            .collect();
        assert!(named.len() >= 3, "{named:?}");
        assert!(named.iter().all(|name| within.contains(name)), "{named:?}");
        assert!(named.contains(&"STA 101, keel".to_owned()));
        // They pull hardest.
        let pull = |past: bool| {
            let all = proposal.moves.iter().filter(|m| m.is_past() == past);
            all.map(|m| m.pull).fold(0.0, f64::max)
        };
        assert!(pull(true) >= pull(false));
    }
    let lines = demo();
    let loft = Loft::build(&lines.body).unwrap();
    assert_eq!(fair_whole(&loft, &|_| true), Err(NoProposal::Stopped));
}

#[test]
fn a_batten_makes_its_line_sweet_and_no_other_hollow() {
    let lines = mended();
    let loft = Loft::build(&lines.body).unwrap();
    let batten = lay_batten(&loft, On::Keel, &BattenOptions::default(), ON).unwrap();
    assert_eq!(batten.before.fairness, Fairness::Unfair);
    let on = |name: &str| name.ends_with("keel");
    let named = past(&lines, &batten.proposal);
    assert!(named.contains(&"STA 101, keel".to_owned()));
    assert!(named.iter().all(|name| on(name)), "{named:?}");
    let faired = lines.apply(batten.proposal.edit(&[])).unwrap();
    let again = loft.again(&faired.body).unwrap();
    let needs = |loft: &Loft, on: On| {
        let verdict = judge(loft, on, None, ON).unwrap();
        verdict
            .judged
            .map(|judged| [judged.needed, judged.without_hollows])
    };
    let keel = needs(&again, On::Keel).unwrap();
    assert!(keel[0] < 0.05 && keel[1] < 0.05, "{keel:?}");
    for on in judged_lines(&lines.body) {
        if let (Some(before), Some(after)) = (needs(&loft, on), needs(&again, on)) {
            assert!(
                after[1] < before[1] + 0.1,
                "{on:?}: {before:?} to {after:?}"
            );
        }
    }

    // A line of its own stretch: beyond its window nothing moves.
    let along = |name: &str| {
        let plane = lines.body.planes.iter().find(|plane| plane.name == name);
        let on = On::Plane(plane.unwrap().id);
        lay_batten(&loft, on, &BattenOptions::default(), ON).unwrap()
    };
    let batten = along("WL 24");
    let moved = batten
        .proposal
        .moves
        .iter()
        .map(|m| lines.body.point(m.point).unwrap().station);
    let least = moved
        .map(|id| lines.body.station(id).unwrap().x)
        .fold(f64::INFINITY, f64::min);
    assert!(batten.proposal.moves.len() > 3 && least > 300.0, "{least}");
    // A line that needs nothing gets nothing.
    assert!(along("BL 12").proposal.moves.is_empty());
}

/// Over a stretch only, with its ends held, and with a duck: outside of it the line keeps its bits, what is held stays, and
/// what can't be fair for it is said.
#[test]
fn a_batten_is_laid_over_a_stretch_with_ends_and_ducks_held() {
    let lines = mended();
    let loft = Loft::build(&lines.body).unwrap();
    let x = |label: &str| lines.body.station_by_label(label).unwrap().x;
    let lay = |lines: &Lines, options: BattenOptions| {
        lay_batten(&loft.again(&lines.body).unwrap(), On::Keel, &options, ON)
    };
    let stretch = Some([x("38"), x("146")]);
    let part = BattenOptions {
        stretch,
        ..BattenOptions::default()
    };
    let part = lay(&lines, part).unwrap();
    let whole = lay(&lines, BattenOptions::default()).unwrap();
    let on_keel = |proposal: &Proposal| -> Vec<(f64, f64)> {
        let of = |m: &crate::fair::whole::PointMove| {
            let point = lines.body.point(m.point)?;
            let x = lines.body.station(point.station)?.x;
            Some((x, m.by[1]?)).filter(|_| point.on == On::Keel)
        };
        proposal.moves.iter().filter_map(of).collect()
    };
    let largest = |moves: &[(f64, f64)]| moves.iter().map(|m| m.1.abs()).fold(0.0, f64::max);
    let (part, whole) = (on_keel(&part.proposal), on_keel(&whole.proposal));
    assert!(whole.iter().any(|(at, by)| *at < x("28") && by.abs() > 0.5));
    // The skin swings slightly beside the stretch; the line itself does not move there.
    let beside = part
        .iter()
        .filter(|(at, _)| *at < x("38") - 1.0 || *at > x("146") + 1.0);
    assert!(beside.clone().all(|(_, by)| by.abs() < 0.15), "{part:?}");
    assert!(largest(&part) > 1.0, "{part:?}");

    let held = BattenOptions {
        held_ends: [true, true],
        ..BattenOptions::default()
    };
    let held = on_keel(&lay(&lines, held).unwrap().proposal);
    let at = |moves: &[(f64, f64)], label: &str| {
        let found = moves.iter().find(|m| (m.0 - x(label)).abs() < 1.0);
        found.map_or(0.0, |m| m.1.abs())
    };
    assert!(at(&held, "0") < 0.01 && at(&held, "158") < 0.01, "{held:?}");
    // Where nobody says so the ends stay too, for their readings are not to blame; but they may turn.
    assert!(
        at(&whole, "0") < 0.06 && at(&whole, "158") < 0.06,
        "{whole:?}"
    );
    assert_ne!(held, whole);

    // A duck beside the hollow stays; one on it and one on either side of it leave no fair line.
    let duck = |lines: &Lines, label: &str| {
        let station = lines.body.station_by_label(label).unwrap().id;
        let point = lines.body.point_on(station, On::Keel).unwrap().id;
        lines.apply(BodyEdit::PutDuck(point)).unwrap()
    };
    let one = duck(&lines, "79");
    let laid = on_keel(&lay(&one, BattenOptions::default()).unwrap().proposal);
    assert!(at(&laid, "79") < 0.06, "{laid:?}");
    assert!(largest(&laid) > 2.0);
    let three = duck(&duck(&one, "101"), "123");
    assert_eq!(
        lay(&three, BattenOptions::default()).unwrap_err(),
        NoProposal::Held
    );
    let short = BattenOptions {
        stretch: Some([x("90"), x("101")]),
        ..BattenOptions::default()
    };
    assert_eq!(lay(&lines, short).unwrap_err(), NoProposal::Held);
}

/// What two readings share, by the inverse of the system, against how the unknowns answer one of them, by a solution of it; and
/// some readings foretold by themselves as among all.
#[test]
fn readings_share_what_the_system_says_and_some_are_foretold_as_all_are() {
    let lines = demo();
    let offsets = lines.body.offsets();
    let mut bench = crate::loft::Bench::lay_evened(&lines.body, &offsets, &[]).unwrap();
    let count = offsets.iter().flatten().count();
    let fit = bench.fit(&vec![1.0; count], 3.0).unwrap();
    let beside: Vec<Vec<(usize, f64)>> = (0..count)
        .map(|i| [7, 40].iter().map(|by| ((i + by) % count, 1.0)).collect())
        .collect();
    let found = fit.covariances(&beside);
    for i in (0..count).step_by(5) {
        let answers = fit.answers(i);
        let answers = [answers[0].as_slice(), answers[1].as_slice()];
        let with = |j: usize| fit.at_offset(j, answers);
        let all = [(i, found.own[i])].into_iter();
        let all = all.chain(
            beside[i]
                .iter()
                .map(|(j, _)| *j)
                .zip(found.shared[i].iter().copied()),
        );
        for (j, found) in all {
            for (found, exact) in found.iter().zip(with(j)) {
                assert!(
                    (found - exact).abs() < 1e-9,
                    "{i}, {j}: {found} for {exact}"
                );
            }
        }
    }

    let suspects = super::suspects::find_misprints(&lines.body, lines.about.unit, ON).unwrap();
    let all: Vec<usize> = (0..lines.body.stations.len()).collect();
    let standing = |stations: &[usize]| {
        let asked = (stations, suspects.sigma);
        super::suspects::standing_out(&lines.body, lines.about.unit, asked, ON).unwrap()
    };
    let whole = standing(&all);
    assert!(!whole.is_empty(), "the misprint stands out");
    let station = |id: &PointId| {
        let point = lines.body.point(*id).unwrap();
        lines.body.station_index(point.station).unwrap()
    };
    for at in all {
        let here = whole.iter().copied().filter(|id| station(id) == at);
        assert_eq!(standing(&[at]), here.collect::<Vec<_>>(), "{at}");
    }
}

/// Plain tables of three and four stations, true to half their last figure: of a bent body the others foretell little at one
/// station, and no reading may be called a misprint by that. Before their own uncertainty was asked, tables such as these gave
/// false ones.
#[test]
fn three_and_four_plain_stations_give_no_false_misprint() {
    let radius = |shape: u32, q: f64| match shape {
        0 => 400.0 - 250.0 * q,
        1 => 400.0 * (1.0 - 0.81 * q * q).sqrt(),
        2 => 400.0 - 300.0 * q * q * q,
        _ => 80.0 + 1280.0 * q * (1.0 - q),
    };
    for stations in [3, 4] {
        for (shape, waterlines) in (0..4).flat_map(|shape| [1, 2, 3, 5].map(|n| (shape, n))) {
            let heights: Vec<f64> = (1..=waterlines)
                .map(|k| 900.0 - (800.0 * f64::from(k) / f64::from(waterlines + 1)).round())
                .collect();
            let mut text = "STA (mm),crown".to_owned();
            for z in &heights {
                text += &format!(",WL {z}");
            }
            text += ",keel\n";
            for station in 0..stations {
                let q = f64::from(station) / f64::from(stations - 1);
                let r = radius(shape, q);
                text += &format!("{:.1},{:.1}", 1800.0 * q, 500.0 + r);
                for z in &heights {
                    let h = z - 500.0;
                    if h.abs() < r {
                        text += &format!(",{:.1}", 0.8 * (r * r - h * h).sqrt());
                    } else {
                        text += ",";
                    }
                }
                text += &format!(",{:.1}\n", 500.0 - r);
            }
            for tolerance in [0.25, 1.0] {
                let options = TableOptions {
                    tolerance: Some(tolerance),
                    ..TableOptions::default()
                };
                let body = read_table(text.as_bytes(), &options).unwrap().lines().body;
                let unit = crate::units::LengthUnit::Millimetres;
                let Ok(found) = super::suspects::find(&body, unit, ON) else {
                    continue;
                };
                assert_eq!(found.misprints, [], "of {tolerance} mm:\n{text}");
            }
        }
    }
}
