//! The lines plan of the demo: where its names stand, and the sheet to scale.

use std::collections::BTreeSet;
use std::sync::Arc;

mod proportions;

use super::names::spread;
use super::*;
use crate::document::{Frozen, Lines, Offset, read_folder};
use crate::loft::Lofted;
use crate::paper::{Ground, Sheet, Step, Text, Tone};
use crate::write::{SvgLook, write_svg};

/// The demo with its loft, and what is drawn of it.
struct Drawn {
    lines: Arc<Lines>,
    layout: Layout,
    paper: Drawing,
    families: Drawing,
    curved: Curved,
    shown: Traced,
    offsets: Vec<Vec<Offset>>,
}

fn demo() -> Lofted {
    let file = concat!(env!("CARGO_MANIFEST_DIR"), "/../public/demo/marram.json");
    let folder = read_folder(&std::fs::read(file).unwrap()).unwrap();
    Lofted::build(Arc::new(folder.lines)).unwrap()
}

/// The middle of what is read of the keel is picked, and a comb stands on it.
fn pick(lines: &Lines) -> Pick {
    let of = lines.body.points.iter().filter(|p| p.on == On::Keel);
    let of: Vec<_> = of.collect();
    let point = of[of.len() / 2];
    Pick {
        on: On::Keel,
        station: point.station,
        point: Some(point.id),
    }
}

impl Drawn {
    /// The same again, without what is hidden and without combs.
    fn scene<'a>(&'a self, hidden: &'a Hidden) -> Scene<'a> {
        Scene {
            lines: &self.lines,
            offsets: &self.offsets,
            shown: &self.shown,
            fine: &[],
            layout: &self.layout,
            pick: pick(&self.lines),
            hidden,
            bands: &[],
        }
    }
}

fn drawn(layout: impl Fn(Extent) -> Layout) -> Drawn {
    drawn_of(&demo(), layout)
}

fn drawn_of(body: &Lofted, layout: impl Fn(Extent) -> Layout) -> Drawn {
    picked_on(body, On::Keel, layout)
}

fn picked_on(body: &Lofted, on: On, layout: impl Fn(Extent) -> Layout) -> Drawn {
    let (lines, loft) = (Arc::clone(body.lines()), body.loft());
    let offsets = loft.offsets();
    let layout = layout(Extent::of(&lines, &offsets));
    let hidden = Hidden::default();
    let planes = shown_planes(&lines, &offsets);
    let shown = Traced::of(loft, &planes, (None, &hidden), (0.4, &[]));
    let combs = BTreeSet::from([on]);
    let fine = fine(loft, &combs);
    let pick = Pick { on, ..pick(&lines) };
    let scales = Scales::of(&fine, &combs, on, (0, lines.about.unit), None);
    let scene = Scene {
        lines: &lines,
        offsets: &offsets,
        shown: &shown,
        fine: &fine,
        layout: &layout,
        pick,
        hidden: &hidden,
        bands: &[],
    };
    let paper = draw_paper(&lines, &planes, &layout, pick);
    let families = draw_lines(&scene);
    let curved = draw_curvature(&scene, &combs, &scales);
    Drawn {
        paper,
        families,
        curved,
        shown,
        layout,
        lines,
        offsets,
    }
}

/// Sheets and screens of many sizes.
fn sizes() -> Vec<Drawn> {
    let desk = |size| drawn(move |extent| Layout::desk(size, extent));
    let sheet = |one_to: f64| drawn(move |extent| Layout::to_scale(1.0 / PX / one_to, extent));
    vec![
        desk((1280.0, 640.0)),
        desk((1440.0, 760.0)),
        desk((1920.0, 940.0)),
        desk((2560.0, 1300.0)),
        sheet(20.0),
        sheet(10.0),
    ]
}

fn strokes_of(drawing: &Drawing, kind: Kind) -> Vec<(ScreenPoint, ScreenPoint)> {
    let layers = drawing.layers.iter().filter(|l| l.name == kind.name());
    let paths = layers.flat_map(|layer| &layer.marks).map(|mark| &mark.path);
    let lines = paths.flat_map(|path| path.flatten(0.01));
    let px = |p: ScreenPoint| (p.0 / PX, p.1 / PX);
    lines
        .map(|part| (px(part.points[0]), px(part.points[part.points.len() - 1])))
        .collect()
}

fn named<'a>(drawing: &'a Drawing, text: &str) -> Vec<&'a Text> {
    let all = drawing.names.texts.iter();
    all.filter(|name| name.text == text).collect()
}

#[test]
fn no_name_lies_on_another() {
    for drawn in sizes().into_iter().chain(proportions::other_bodies()) {
        let all: Vec<&Text> = [&drawn.paper, &drawn.families, &drawn.curved.drawing]
            .into_iter()
            .flat_map(|drawing| &drawing.names.texts)
            .collect();
        assert!(all.len() > 40, "{}", all.len());
        for (i, a) in all.iter().enumerate() {
            for b in &all[i + 1..] {
                let ([l, t, r, f], [l2, t2, r2, f2]) = (a.bounds(), b.bounds());
                // Letters that hang are rare; names of figures may stand as near as their feet.
                let across = r.min(r2) - l.max(l2);
                let down = f.min(f2) - t.max(t2);
                assert!(
                    across < 0.01 || down < 0.55,
                    "{:?}: «{}» at {:?} and «{}» at {:?}: {across} {down}",
                    drawn.layout.size,
                    a.text,
                    a.at,
                    b.text,
                    b.at
                );
            }
        }
    }
}

#[test]
fn waterlines_are_named_in_a_column_each_with_its_leader() {
    for drawn in sizes() {
        let frame = drawn.layout.half_breadth.unwrap();
        let left = drawn.layout.ends[0];
        let leaders = strokes_of(&drawn.families, Kind::Leader);
        let column = drawn.families.names.texts.iter().filter(|name| {
            let [.., right, _] = name.unturned();
            (right / PX - (left - 15.0)).abs() < 0.01 && name.at.1 / PX > frame.area[1]
        });
        let mut feet: Vec<f64> = column.map(|name| name.at.1 / PX).collect();
        assert!(feet.len() > 4, "{feet:?}");
        feet.sort_by(f64::total_cmp);
        for pair in feet.windows(2) {
            assert!(pair[1] - pair[0] > 11.0, "{feet:?}");
        }
        for foot in feet {
            let to = leaders.iter().find(|(_, to)| {
                (to.0 - (left - 12.0)).abs() < 0.01 && (to.1 - (foot - 4.0)).abs() < 0.01
            });
            let (from, _) = to.expect("a name has its leader");
            // It comes from where a line begins.
            let begins = |branch: &Branch| {
                let ends = [branch.nodes.first(), branch.nodes.last()];
                let near = |n: &Node| (frame.y(n.point.y) - from.1).abs() < 0.01;
                ends.into_iter().flatten().any(near)
            };
            let planes = drawn
                .shown
                .planes
                .iter()
                .flat_map(|cut| cut.branches.iter());
            let runs = drawn.shown.runs.iter().map(|run| &run.plan);
            assert!(planes.chain(runs).any(begins));
        }
    }
}

#[test]
fn forward_sections_are_named_inside_their_own_half_with_a_dot_on_each() {
    for drawn in sizes() {
        let frame = drawn.layout.body.unwrap();
        let dots = strokes_of(&drawn.families, Kind::Dot).len();
        let leaders = strokes_of(&drawn.families, Kind::Leader);
        let mut found = 0;
        for (index, station) in drawn.lines.body.stations.iter().enumerate() {
            let forward = drawn.layout.hand(index) < 0.0;
            for name in named(&drawn.families, &station.label) {
                let at = (name.at.0 / PX, name.at.1 / PX);
                if at.0 < frame.area[0] {
                    continue; // a waterline of that number
                }
                assert_eq!(name.ground, Ground::Patch, "over the sections");
                let centre = frame.origin.0;
                if (at.0 - (centre - 12.0)).abs() < 0.01 {
                    continue; // an aft one, beside the centreline
                }
                assert!(forward, "{}", station.label);
                let [left, .., right, _] = name.bounds();
                assert!(
                    right / PX < centre
                        && left / PX > centre - frame.scale.0 * drawn.layout.extent.y
                );
                let own = leaders.iter().find(|(from, _)| {
                    (from.0 - (at.0 - 3.0)).abs() < 0.01 && (from.1 - (at.1 - 4.0)).abs() < 0.01
                });
                let (_, to) = own.expect("a name has its leader");
                let (_, branch) = drawn
                    .shown
                    .sections
                    .iter()
                    .find(|s| s.0 == station.id)
                    .unwrap();
                let on_it = |n: &Node| {
                    let p = frame.at(-n.point.y, n.point.z);
                    (p.0 - to.0).abs() < 0.01 && (p.1 - to.1).abs() < 0.01
                };
                assert!(
                    branch.nodes.iter().any(on_it),
                    "{} is another's",
                    station.label
                );
                found += 1;
            }
        }
        assert!(found >= 3 && found == dots, "{found} names, {dots} dots");
    }
}

#[test]
fn families_are_named_once_an_axis_and_numbers_are_bare() {
    for drawn in sizes() {
        // Beside the profile and the body plan.
        assert_eq!(named(&drawn.paper, "WL").len(), 2);
        assert_eq!(named(&drawn.paper, "STA").len(), 1);
        assert_eq!(named(&drawn.paper, "BL").len(), 1);
        let all = drawn.paper.names.texts.iter();
        let whole =
            all.filter(|name| name.text.starts_with("WL ") || name.text.starts_with("STA "));
        assert_eq!(whole.count(), 0);
        // The picked station's number is told apart over the profile and under the half-breadth plan.
        let picked = drawn
            .paper
            .names
            .texts
            .iter()
            .filter(|n| n.tone == Tone::Picked);
        assert_eq!(picked.count(), 2);
    }
}

#[test]
fn buttock_lines_step_aft_and_down_on_a_patch_each() {
    for drawn in sizes() {
        let frame = drawn.layout.profile.unwrap();
        let mut places: Vec<(f64, ScreenPoint)> = Vec::new();
        for plane in &drawn.lines.body.planes {
            let Place::Buttock(y) = plane.place else {
                continue;
            };
            let on_line = named(&drawn.families, &plane.name);
            assert!(on_line.iter().all(|name| name.ground == Ground::Patch));
            if let Some(first) = on_line.first() {
                places.push((y, (first.at.0 / PX, first.at.1 / PX)));
            }
        }
        places.sort_by(|a, b| a.0.total_cmp(&b.0));
        assert!(places.len() > 1, "{places:?}");
        for pair in places.windows(2) {
            let (a, b) = (pair[0].1, pair[1].1);
            assert!(b.0 > a.0 && b.1 > a.1, "{places:?}");
            assert!(b.1 < frame.area[3]);
        }
    }
}

#[test]
fn a_hollow_is_named_in_clear_paper_with_a_leader() {
    for drawn in sizes() {
        let names = drawn.curved.drawing.names.texts.iter();
        let hollows: Vec<&Text> = names.filter(|n| n.text.starts_with("hollow, ")).collect();
        assert!(!hollows.is_empty(), "the demo's keel has a dent");
        let leaders = strokes_of(&drawn.curved.drawing, Kind::Leader);
        for name in hollows {
            let at = (name.at.0 / PX, name.at.1 / PX);
            let near = |(_, to): &&(ScreenPoint, ScreenPoint)| {
                (to.0 - at.0).abs() < 5.0 && (to.1 - at.1).abs() < 9.0
            };
            assert!(leaders.iter().any(|l| near(&l)), "{}", name.text);
        }
        assert!(drawn.curved.legend.is_some());
    }
}

/// A tooth on a page that is drawn to no scale is not said in millimetres: a rule laid on it would tell another radius.
#[test]
fn a_tooth_is_said_in_millimetres_only_where_it_can_be_measured() {
    let on = |medium: Medium| {
        let layout = move |extent| Layout {
            medium,
            ..Layout::desk((1136.0, 708.0), extent)
        };
        let legend = drawn(layout).curved.legend.unwrap();
        let texts = draw_legend(&legend).names.texts;
        texts.iter().any(|text| text.text.contains("mm"))
    };
    assert!(on(Medium::Screen) && on(Medium::Paper) && !on(Medium::AnyPage));
}

/// The demo has one reading set aside, on WL 36 at STA 38; neither is a ring drawn of a hidden line, nor of a hidden section.
#[test]
fn a_reading_set_aside_is_ringed_only_where_it_is_drawn() {
    let body = demo();
    let drawn = drawn_of(&body, |extent| Layout::desk((1136.0, 708.0), extent));
    let aside =
        |point: &&crate::document::Point| point.readings.iter().any(|r| r.set_aside.is_some());
    let point = drawn.lines.body.points.iter().find(aside).unwrap();
    let rings = |hidden: &Hidden| {
        let marks = draw_marks(&drawn.scene(hidden), None, None);
        strokes_of(&marks, Kind::Aside).len()
    };
    let line = Hidden {
        lines: BTreeSet::from([comb_key(point.on)]),
        ..Hidden::default()
    };
    let section = Hidden {
        stations: BTreeSet::from([point.station]),
        ..Hidden::default()
    };
    assert_eq!(
        [Hidden::default(), line, section].map(|h| rings(&h)),
        [2, 0, 1]
    );
}

fn sheet(one_to: f64) -> Sheet {
    sheet_of(&demo(), one_to)
}

#[test]
fn a_sheet_bears_a_letter_only_where_the_lines_are_that_revision() {
    let lofted = demo();
    let print = lofted.lines().fingerprint().short();
    let says = |lofted: &Lofted| {
        let sheet = sheet_of(lofted, 20.0);
        let mut texts = sheet.layers.iter().flat_map(|layer| &layer.texts);
        let found = texts.find(|text| text.text.contains(&print));
        found.map(|text| text.text.clone()).unwrap()
    };
    assert_eq!(
        lofted.lines().about.revision,
        "A",
        "what it bears is not enough"
    );
    assert!(says(&lofted).starts_with(&format!("fingerprint {print};")));
    let frozen = lofted.frozen_as(Some(Frozen {
        label: "B".to_owned(),
        date: "2026-03-21".to_owned(),
    }));
    assert!(says(&frozen).starts_with(&format!("revision B, fingerprint {print};")));
}

fn sheet_of(lofted: &Lofted, one_to: f64) -> Sheet {
    draw_sheet(
        lofted,
        &SheetOptions {
            one_to,
            pick: pick(lofted.lines()),
            hidden: &Hidden::default(),
            combs: (&BTreeSet::from([On::Keel]), 0),
            bands: &[],
            lifted: (None, None),
        },
    )
}

#[test]
fn a_sheet_is_to_scale_and_is_written_the_same_again() {
    let lofted = demo();
    let lines = lofted.lines();
    for one_to in [20.0, 10.0] {
        let sheet = sheet(one_to);
        let layer = |kind: Kind| {
            let found = sheet.layers.iter().find(|layer| layer.name == kind.name());
            found.unwrap_or_else(|| panic!("no {}", kind.name()))
        };
        let ends = |kind: Kind| -> Vec<(ScreenPoint, ScreenPoint)> {
            let parts = layer(kind)
                .marks
                .iter()
                .flat_map(|mark| mark.path.flatten(0.01));
            parts
                .map(|part| (part.points[0], part.points[part.points.len() - 1]))
                .collect()
        };
        // The rule to check it by is 100 mm long.
        let check = ends(Kind::Check);
        let long = check
            .iter()
            .map(|(a, b)| (b.0 - a.0).abs())
            .fold(0.0, f64::max);
        assert!((long - 100.0).abs() < 1e-9, "{long}");
        // So is the body: from the first station to the last, but for the crispness of rules, which is half a px.
        let rules = ends(Kind::StationRule);
        let [left, right] = [f64::min, f64::max]
            .map(|pick: fn(f64, f64) -> f64| rules.iter().map(|(a, _)| a.0).reduce(pick).unwrap());
        let length = lines.body.stations.last().unwrap().x - lines.body.stations[0].x;
        assert!((right - left - length / one_to).abs() <= PX, "{one_to}");
        // A section is as broad as the loft says.
        for (layer, pens) in [(Kind::Section, "section"), (Kind::Run, "run")] {
            assert_eq!(layer.name(), pens);
            assert!(!ends(layer).is_empty());
        }
        assert!(
            sheet
                .layers
                .iter()
                .all(|layer| layer.texts.iter().all(|t| t.tone != Tone::Picked))
        );
        let names: BTreeSet<&str> = sheet.layers.iter().map(|layer| layer.name).collect();
        assert_eq!(names.len(), sheet.layers.len(), "each meaning once");
        let (a, b) = (
            write_svg(&sheet, SvgLook::File),
            write_svg(&tests::sheet(one_to), SvgLook::File),
        );
        assert_eq!(a, b);
        let read = roxmltree::Document::parse(&a).unwrap();
        let texts = read
            .descendants()
            .filter(|n| n.has_tag_name("text"))
            .count();
        let drawn: usize = sheet.layers.iter().map(|layer| layer.texts.len()).sum();
        assert_eq!(texts, drawn);
    }
}

#[test]
fn sections_on_the_sheet_are_those_of_the_loft() {
    let lofted = demo();
    let (lines, loft) = (lofted.lines(), lofted.loft());
    let one_to = 20.0;
    let sheet = sheet(one_to);
    let layer = sheet.layers.iter().find(|l| l.name == "section").unwrap();
    let path = &layer.marks[0].path;
    let points = path.steps.iter().filter_map(|step| match step {
        Step::Move(p) | Step::Line(p) => Some(*p),
        Step::Curve(..) | Step::Arc { .. } | Step::Close => None,
    });
    let (low, high) = points.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), p| {
        (low.min(p.0), high.max(p.0))
    });
    // The broadest place of either half.
    let extent = Extent::of(lines, &loft.offsets());
    let broad = |stations: &[crate::document::Station]| {
        let each = stations.iter().map(|s| {
            let cut = crate::lines::trace(
                loft.surface(),
                &crate::lines::CuttingPlane::station(s.x),
                0.05,
            );
            let nodes = cut.branches[0].nodes.iter();
            nodes.map(|n| n.point.y).fold(0.0, f64::max)
        });
        each.fold(0.0, f64::max)
    };
    let (forward, aft) = lines.body.stations.split_at(extent.forward);
    let whole = (broad(forward) + broad(aft)) / one_to;
    assert!(
        (high - low - whole).abs() < 0.1,
        "{} for {whole}",
        high - low
    );
}

#[test]
fn names_that_are_spread_keep_order_and_distance_and_room_is_left_alone() {
    let mut places = [10.0, 11.0, 10.5, 40.0];
    spread(&mut places, 12.0, 0.0, 100.0);
    assert!(places[0] + 11.9 < places[2] && places[2] + 11.9 < places[1]);
    assert!(
        (places[3] - 40.0).abs() < 0.1,
        "what has room stays: {places:?}"
    );
}

proptest::proptest! {
    #[test]
    fn however_near_they_are_names_find_room(
        places in proptest::collection::vec(0.0..300.0_f64, 1..25),
        bunch in 0.0..1.0_f64,
    ) {
        let before: Vec<f64> = places.iter().map(|p| 150.0 + (p - 150.0) * bunch).collect();
        let mut after = before.clone();
        spread(&mut after, 12.0, 0.0, 300.0);
        let mut order: Vec<usize> = (0..before.len()).collect();
        order.sort_by(|a, b| before[*a].total_cmp(&before[*b]));
        for pair in order.windows(2) {
            proptest::prop_assert!(after[pair[1]] - after[pair[0]] > 11.9, "{after:?}");
        }
        for place in &after {
            proptest::prop_assert!((-0.01..=300.01).contains(place));
        }
    }
}
