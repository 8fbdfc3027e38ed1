//! Bodies of other proportions than the demo's: small, round, of forty stations. Whether their views fill the sheet, and whether
//! what stands on it is in each other's way.

use super::*;
use crate::document::Recorded;
use crate::document::paste::{TableOptions, read_table};
use crate::issue::lines_plan::ruled::thinned;
use crate::issue::lines_plan::sections::elsewhere;

/// A body in closed form as a paper table in mm: half-breadths on so many levels, at so many stations.
fn table(
    stations: u32,
    levels: u32,
    length: f64,
    half: [f64; 2],
    fullness: impl Fn(f64) -> f64,
) -> Lofted {
    let [breadth, height] = half;
    let middle = 1.5 * height;
    let share = |level: u32| -1.0 + 2.0 * f64::from(level) / f64::from(levels + 1);
    let mut text = "STA (mm),crown".to_owned();
    for level in (1..=levels).rev() {
        text += &format!(",WL {:.1}", middle + height * share(level));
    }
    text += ",keel\n";
    for station in 0..stations {
        let along = f64::from(station) / f64::from(stations - 1);
        let full = fullness(along);
        text += &format!("{:.1},{:.3}", along * length, middle + height * full);
        for level in (1..=levels).rev() {
            let up = share(level) / full;
            if up.abs() < 0.999 {
                text += &format!(",{:.3}", breadth * full * (1.0 - up * up).sqrt());
            } else {
                text += ",";
            }
        }
        text += &format!(",{:.3}\n", middle - height * full);
    }
    let read = read_table(text.as_bytes(), &TableOptions::default()).unwrap();
    Lofted::build(Arc::new(read.lines())).unwrap()
}

/// A spheroid of 1.6 m, cut short at both ends, at six stations: so many mm high and broad.
fn spheroid(half: f64) -> Lofted {
    let round = |along: f64| (1.0 - 0.7 * (2.0 * along - 1.0) * (2.0 * along - 1.0)).sqrt();
    table(6, 9, 1600.0, [half, half], round)
}

/// Forty stations by thirty-eight waterlines, whose sections lie within a few pixels of each other.
fn forty() -> Lofted {
    table(40, 38, 7800.0, [500.0, 800.0], |along| {
        1.0 + 0.2 * along * (1.0 - along) - 0.06 * along * along
    })
}

/// Screens of two sizes with a small slim body, a small round one, and one of forty stations.
pub(super) fn other_bodies() -> Vec<Drawn> {
    let bodies = [spheroid(200.0), spheroid(700.0), forty()];
    let sizes = [(1440.0, 700.0), (1920.0, 900.0)];
    let each = bodies.iter().flat_map(|body| {
        let screen = |size| drawn_of(body, move |extent| Layout::desk(size, extent));
        sizes.map(screen)
    });
    each.collect()
}

/// Width and height of what is drawn of the views, px.
fn spanned(layout: &Layout) -> [f64; 2] {
    let extent = layout.extent;
    let (long, high) = (extent.x[1] - extent.x[0], extent.z[1] - extent.z[0]);
    let foot = layout.strip.unwrap()[1];
    let top = layout.profile.unwrap().y(extent.z[1]);
    let left = layout.ends[0];
    let right = layout.body.unwrap().x(extent.y);
    assert!(long > 0.0 && high > 0.0);
    [right - left, foot - top]
}

#[test]
fn the_views_fill_the_window_whatever_the_body() {
    let size = (1440.0, 700.0);
    for half in [100.0, 200.0, 400.0, 700.0, 1000.0] {
        for factor in [0.1, 1.0, 10.0] {
            let extent = Extent {
                x: [0.0, 1600.0 * factor],
                y: half * factor,
                z: [0.0, 2.0 * half * factor],
                forward: 3,
            };
            let layout = Layout::desk(size, extent);
            let [wide, high] = spanned(&layout).map(|long| long / 1440.0);
            // One of the two ways is used up, and the other not left empty.
            assert!(wide > 0.6 && high > 0.3, "{half}: {wide:.2} {high:.2}");
            let other = Layout::desk(
                size,
                Extent {
                    x: [0.0, 1600.0],
                    y: half,
                    z: [0.0, 2.0 * half],
                    forward: 3,
                },
            );
            assert!((layout.scale * factor - other.scale).abs() < 1e-9 * other.scale);
            for frame in [layout.profile, layout.half_breadth, layout.body] {
                let [left, top, right, foot] = frame.unwrap().area;
                assert!(left >= 0.0 && top >= 0.0 && right <= size.0 && foot <= size.1);
            }
            assert!(layout.strip.unwrap()[1] <= size.1);
        }
    }
}

#[test]
fn a_round_body_stands_in_a_row_with_no_view_in_another() {
    let drawn = drawn_of(&spheroid(700.0), |extent| {
        Layout::desk((1440.0, 700.0), extent)
    });
    let layout = drawn.layout;
    assert!(layout.plan_ends[0] > layout.ends[1], "in a row");
    let [profile, plan, body] =
        [layout.profile, layout.half_breadth, layout.body].map(Option::unwrap);
    assert!(profile.area[2] <= plan.area[0] && plan.area[2] <= body.area[0]);
    let shared = plan.origin.1 - profile.y(layout.extent.z[0]);
    assert!(shared.abs() < 1e-9, "on one base line");
    assert!(body.x(-layout.extent.y) > plan.x(layout.extent.x[1]));
}

#[test]
fn the_combs_legend_covers_no_point_and_no_name() {
    for drawn in sizes().into_iter().chain(other_bodies()) {
        if drawn.layout.medium == Medium::Paper {
            continue; // it is a line at the foot there
        }
        let legend = drawn.curved.legend.as_ref().expect("the keel has a comb");
        let [left, top, right, foot] = legend.place();
        let inside = |(x, y): ScreenPoint| (left..right).contains(&x) && (top..foot).contains(&y);
        for (station, offsets) in drawn.lines.body.stations.iter().zip(&drawn.offsets) {
            for offset in offsets {
                let [y, z] = offset.accepted;
                let (height, breadth) = reads(&drawn.lines, offset.on);
                let side = drawn.layout.profile.unwrap().at(station.x, z);
                let plan = drawn.layout.half_breadth.unwrap().at(station.x, y);
                assert!(!(height && inside(side)), "{:?}", drawn.layout.size);
                assert!(!(breadth && inside(plan)), "{:?}", drawn.layout.size);
            }
        }
        let names = [&drawn.paper, &drawn.families].map(|drawing| &drawing.names.texts);
        for name in names.into_iter().flatten() {
            let [l, t, r, f] = name.bounds().map(|side| side / PX);
            let apart = r <= left || l >= right || f <= top || t >= foot;
            assert!(apart, "{:?}: «{}»", drawn.layout.size, name.text);
        }
        assert!(right <= drawn.layout.size.0 && foot <= drawn.layout.size.1);
    }
}

#[test]
fn of_forty_sections_some_are_drawn_in_full_and_the_picked_one_is() {
    let crowded = drawn_of(&forty(), |extent| Layout::desk((1440.0, 700.0), extent));
    let full = strokes_of(&crowded.families, Kind::Section).len();
    let light = strokes_of(&crowded.families, Kind::LightSection).len();
    assert_eq!(full + light, 40);
    assert!((4..20).contains(&full), "{full} in full");
    assert_eq!(strokes_of(&crowded.families, Kind::PickedSection).len(), 1);
    // What is named is what is told apart, and the picked one.
    let frame = crowded.layout.body.unwrap();
    let all = crowded.families.names.texts.iter();
    let named = all.filter(|name| name.at.0 / PX > frame.area[0]).count();
    assert!((2..=full + 1).contains(&named), "{named} names");
    // The demo's sections all stand apart, but for few.
    let demo = drawn(|extent| Layout::desk((1440.0, 700.0), extent));
    let light = strokes_of(&demo.families, Kind::LightSection).len();
    assert!(light <= 5, "{light} of 16");
}

#[test]
fn numbers_in_a_row_are_thinned_evenly() {
    let places: Vec<f64> = (0..40).map(|i| 6.0 * f64::from(i)).collect();
    let named = |apart: f64, kept: Option<usize>| -> Vec<usize> {
        let all = thinned(&places, apart, kept).into_iter().enumerate();
        all.filter(|(_, named)| *named).map(|(i, _)| i).collect()
    };
    assert_eq!(named(6.0, None).len(), 40);
    assert_eq!(
        named(11.0, None),
        (0..20).map(|i| 2 * i).collect::<Vec<_>>()
    );
    assert_eq!(named(25.0, None), [0, 5, 10, 15, 20, 25, 30, 35]);
    // What is picked has its number, and none stands on it.
    assert_eq!(named(25.0, Some(17)), [0, 5, 10, 17, 25, 30, 35]);
    // One that stands close leaves the others theirs.
    let close = thinned(&[0.0, 20.0, 24.0, 40.0, 60.0], 12.0, None);
    assert_eq!(close, [true, true, false, true, true]);
}

#[test]
fn only_what_lies_elsewhere_is_drawn_of_another_state() {
    let straight: Vec<ScreenPoint> = vec![(0.0, 0.0), (300.0, 0.0)];
    let dented = vec![
        (0.0, 0.0),
        (120.0, 0.0),
        (150.0, 4.0),
        (180.0, 0.0),
        (300.0, 0.0),
    ];
    assert!(elsewhere(&straight, std::slice::from_ref(&straight)).is_empty());
    let parts = elsewhere(&straight, &[dented]);
    assert_eq!(parts.len(), 1, "{parts:?}");
    let (from, to) = (parts[0][0].0, parts[0][parts[0].len() - 1].0);
    assert!(
        (110.0..130.0).contains(&from) && (170.0..190.0).contains(&to),
        "{from} {to}"
    );
    // A line that is there no longer is drawn whole.
    let gone = elsewhere(&straight, &[]);
    assert_eq!(
        (gone[0][0], gone[0][gone[0].len() - 1]),
        ((0.0, 0.0), (300.0, 0.0))
    );
}

/// A body of points that lie on no line but crown and keel; its waterlines and buttock lines are the drawing's own, or the same
/// ones named by its document.
fn of_points(named: bool) -> Lofted {
    let body = spheroid(400.0);
    let mut lines = (**body.lines()).clone();
    for point in &mut lines.body_mut().points {
        if let Some(place) = body.lines().body.place_of(point.on) {
            point.on = On::Free;
            for reading in &mut point.readings {
                reading.height = Some(Recorded {
                    typed: place.level().to_string(),
                    mm: place.level(),
                    put_right: None,
                });
            }
        }
    }
    lines.body_mut().planes.clear();
    if named {
        let planes = shown_planes(&lines, &lines.body.offsets());
        assert!(planes.len() > 8, "{planes:?}");
        lines.body_mut().planes = planes;
    }
    Lofted::build(Arc::new(lines)).unwrap()
}

#[test]
fn the_drawings_own_planes_stand_as_a_documents_do() {
    let [own, named] = [false, true].map(of_points);
    let alone = |extent: Extent, shown: Shown| {
        let glass = Glass {
            middle: [800.0, 0.0, f64::midpoint(extent.z[0], extent.z[1])],
            zoom: 2.0,
        };
        Layout::alone((1000.0, 600.0), extent, shown, &glass)
    };
    let layouts: [&dyn Fn(Extent) -> Layout; 5] = [
        &|extent| Layout::desk((1440.0, 700.0), extent),
        &|extent| Layout::to_scale(1.0 / PX / 10.0, extent),
        &|extent| alone(extent, Shown::Profile),
        &|extent| alone(extent, Shown::HalfBreadth),
        &|extent| alone(extent, Shown::BodyPlan),
    ];
    for layout in layouts {
        let [mine, theirs] = [&own, &named].map(|body| drawn_of(body, layout));
        assert_eq!(mine.layout, theirs.layout);
        assert_eq!(mine.paper, theirs.paper);
        assert_eq!(mine.families, theirs.families);
        assert_eq!(mine.curved, theirs.curved);
        // All of another state is drawn beside what has none of its lines.
        let [mine, theirs] = [&mine, &theirs].map(|drawn| {
            let scales = Scales::of(
                &[],
                &BTreeSet::new(),
                On::Keel,
                (0, drawn.lines.about.unit),
                None,
            );
            let hidden = Hidden::default();
            let scene = drawn.scene(&hidden);
            let nothing = Standing {
                offsets: &drawn.offsets,
                shown: &Traced::default(),
                fine: &[],
            };
            draw_beside(&scene, &nothing, &[], &scales)
        });
        assert!(!strokes_of(&mine, Kind::OtherState).is_empty());
        assert_eq!(mine, theirs);
    }
    let desk = drawn_of(&own, |extent| Layout::desk((1440.0, 700.0), extent));
    for kind in [Kind::Waterline, Kind::Buttock] {
        assert!(!strokes_of(&desk.families, kind).is_empty());
    }
}

#[test]
fn a_line_that_doubles_back_has_its_branches_named_in_the_strip() {
    let body = demo();
    let buttock = { body.lines().body.planes.iter() }
        .find(|plane| matches!(plane.place, Place::Buttock(_)))
        .unwrap();
    let on = On::Plane(buttock.id);
    let strip = |on: On| -> BTreeSet<String> {
        let drawn = picked_on(&body, on, |extent| Layout::desk((1440.0, 700.0), extent));
        let top = drawn.layout.strip.unwrap()[0];
        let names = drawn.curved.drawing.names.texts.iter();
        let told = ["upper", "lower", "outer", "inner"];
        let own =
            names.filter(|name| name.at.1 / PX > top - 20.0 && told.contains(&name.text.as_str()));
        own.map(|name| name.text.clone()).collect()
    };
    assert_eq!(strip(on), ["lower", "upper"].map(str::to_owned).into());
    assert!(strip(On::Keel).is_empty());
}

#[test]
fn a_view_alone_on_a_telephone_has_whole_names() {
    let size = (390.0, 370.0);
    for body in [spheroid(200.0), spheroid(700.0), forty(), demo()] {
        for shown in [Shown::Profile, Shown::HalfBreadth, Shown::BodyPlan] {
            for zoom in [1.0, 3.0] {
                let drawn = drawn_of(&body, |extent| {
                    let middle = [
                        f64::midpoint(extent.x[0], extent.x[1]),
                        0.3 * extent.y,
                        f64::midpoint(extent.z[0], extent.z[1]),
                    ];
                    Layout::alone(size, extent, shown, &Glass { middle, zoom })
                });
                let band = size.1 - BAND;
                let all = &drawn.paper.names.texts;
                assert!(!all.is_empty());
                for name in all {
                    let [left, _, right, _] = name.bounds().map(|side| side / PX);
                    assert!(
                        left >= 0.0 && right <= size.0,
                        "{shown:?} × {zoom}: «{}» {left} {right}",
                        name.text
                    );
                }
                // Scale and legend stand in the band, beside each other.
                let legend = drawn.curved.legend.as_ref().map(draw_short_legend);
                let low = all.iter().chain(legend.iter().flat_map(|l| &l.names.texts));
                let mut low: Vec<[f64; 4]> = low
                    .map(|name| name.bounds().map(|side| side / PX))
                    .filter(|[_, top, ..]| *top >= band)
                    .collect();
                low.sort_by(|a, b| a[0].total_cmp(&b[0]));
                assert!(!low.is_empty());
                for pair in low.windows(2) {
                    assert!(pair[0][2] <= pair[1][0], "{shown:?} × {zoom}: {pair:?}");
                }
            }
        }
    }
}
