//! Checks over whole drawings: no text on text, nothing outside the bounds, every dimension says what it measures.

use super::board::Board;
use super::rails::Rails;
use super::sample::{INCH, METAL, METRIC, TEST_RAIL, along, findings, inner_corner, l_shape};
use super::text::Area;
use super::*;
use crate::base::plane::{self, point};
use crate::base::{Finding, Length, Measure};
use crate::deck::{Outline, Role};
use crate::guard::Falls;
use crate::parts::Layout;

/// A deck with jogs, an inner corner and slanted sides, rail all round.
const JOGS: [(f64, f64); 9] = [
    (0.0, 0.0),
    (0.0, 140.0),
    (130.0, 140.0),
    (130.0, 170.0),
    (260.0, 170.0),
    (300.0, 100.0),
    (210.0, 60.0),
    (210.0, 20.0),
    (150.0, 0.0),
];

fn layouts() -> Vec<Layout> {
    let scaled = |by: f64| JOGS.map(|(x, y)| (x * by, y * by));
    [
        l_shape(TEST_RAIL, INCH),
        l_shape(METAL, METRIC),
        along(TEST_RAIL, INCH, &JOGS, true),
        along(METAL, INCH, &scaled(4.0), true),
        along(METAL, METRIC, &scaled(2.5), true),
        along(TEST_RAIL, INCH, &[(0.0, 0.0), (60.0, 0.0), (60.0, 60.0), (120.0, 60.0)], false),
        inner_corner(TEST_RAIL, INCH, 60.0, -22.5),
        inner_corner(METAL, METRIC, 10.0, 30.0),
    ]
    .into_iter()
    .chain(sample_stairs::all())
    .collect()
}

/// All tables of a layout one below the other.
fn tables(layout: &Layout, findings: &[Finding], paper: f64) -> Drawing {
    let mut board = Board::new(paper, scale::text_height(&layout.measure));
    let mut at = point(0.0, 0.0);
    let all = schedules(layout).into_iter().chain(limit_tables(layout, findings, &crate::proof::prove(layout)));
    for table in all.filter(|table| !table.rows.is_empty()) {
        let set = table.set(&board);
        let rows = 0..set.count();
        set.draw(&mut board, at, &rows);
        at.y -= set.size(&rows).y + board.mm(11.0);
    }
    board.finish("tables", "Schedules and lists".to_owned(), None)
}

fn drawings(layout: &Layout) -> Vec<Drawing> {
    let findings = findings(layout);
    let mut all = vec![plan(layout, &findings), plan(layout, &[]), tables(layout, &findings, 48.0)];
    all.push(section(layout));
    all.extend((0..layout.flights.len()).flat_map(|flight| flight_elevations(layout, flight)));
    // Of the equal panels of a large plan a few are enough.
    let step = 1 + layout.panels.len() / 10;
    all.extend(layout.panels.iter().step_by(step).map(|p| elevation(layout, p)));
    all
}

fn texts(drawing: &Drawing) -> Vec<(String, Area)> {
    drawing.items.iter().flat_map(Item::texts).map(|text| (text.content.clone(), Area::of_text(&text))).collect()
}

#[test]
fn no_text_stands_on_another() {
    for (case, layout) in layouts().iter().enumerate() {
        for drawing in drawings(layout) {
            let texts = texts(&drawing);
            for (i, (a, area)) in texts.iter().enumerate() {
                for (b, other) in texts.iter().skip(i + 1) {
                    assert!(!area.overlaps(other), "layout {case}, {}: `{a}` on `{b}`", drawing.name);
                }
            }
        }
    }
}

#[test]
fn no_tag_or_dimension_of_the_plan_stands_on_a_post_or_rail() {
    for (case, layout) in layouts().iter().enumerate() {
        let drawing = plan(layout, &[]);
        let solid: Vec<Area> = drawing
            .items
            .iter()
            .filter_map(|item| match &item.shape {
                Shape::Post(p) => Some(Area::new(p.at, plane::direction(p.rotation), p.side, p.side)),
                Shape::Path { points, closed: true, .. } if item.layer == Layer::Panel => {
                    let middle = |a: usize, b: usize| (points[a] + points[b]) / 2.0;
                    Some(Area::of_line(middle(0, 3), middle(1, 2), plane::distance(middle(0, 1), middle(2, 3))))
                }
                _ => None,
            })
            .collect();
        for (text, area) in texts(&drawing) {
            assert!(!solid.iter().any(|s| s.overlaps(&area)), "layout {case}: `{text}`");
        }
    }
}

#[test]
fn everything_is_within_the_bounds() {
    for layout in layouts() {
        for drawing in drawings(&layout) {
            let (low, high) = (drawing.low, drawing.high);
            let points = drawing.items.iter().flat_map(|i| board::reach(&i.shape));
            for p in points {
                assert!(p.x.is_finite() && p.y.is_finite());
                let inside = p.x >= low.x && p.x <= high.x && p.y >= low.y && p.y <= high.y;
                assert!(inside, "{}: {p:?} outside {low:?} {high:?}", drawing.name);
            }
        }
    }
}

#[test]
fn dimensions_say_what_they_measure() {
    let mut seen = 0;
    for layout in layouts() {
        let m: Measure = layout.measure;
        for drawing in drawings(&layout) {
            for item in &drawing.items {
                let Shape::Dimension(d) = &item.shape else { continue };
                let along = plane::dot(d.to - d.from, plane::direction(d.angle)).abs();
                let length = Length::from_millimetres(along).unwrap();
                // A nanometre of f64 noise may turn a half mark either way.
                let near = [-100, 0, 100].map(|nm| length + Length::from_nanometres(nm));
                let text = |l: Length| if drawing.name == "plan" { m.text(l) } else { m.mark_text(l) };
                assert!(near.map(text).contains(&d.text), "{}: {} for {}", drawing.name, d.text, m.text(length));
                seen += 1;
            }
        }
    }
    assert!(seen > 300, "{seen}");
}

#[test]
fn every_post_span_and_mark_of_the_layout_is_drawn() {
    let layout = l_shape(TEST_RAIL, INCH);
    let sheet = plan(&layout, &findings(&layout));
    let said: Vec<String> = texts(&sheet).into_iter().map(|t| t.0).collect();
    for id in ["P1", "P5", "S1", "S5", "8'-0\"", "1'-2\"", "12'-5-3/16\"", "1", "4"] {
        assert!(said.iter().any(|t| t == id), "{id} in {said:?}");
    }
    let posts = sheet.items.iter().filter(|i| matches!(i.shape, Shape::Post(_))).count();
    assert_eq!(posts, 5);
    for at in &layout.panels {
        let sheet = elevation(&layout, at);
        let said: Vec<String> = texts(&sheet).into_iter().map(|t| t.0).collect();
        let p = &at.panel;
        let bracket_holes = p.brackets.iter().flat_map(|b| &b.holes);
        for mark in p.balusters.marks.iter().chain(&p.blocks).chain(&p.cap_screws).chain(bracket_holes) {
            assert!(said.contains(&layout.measure.mark_text(*mark)), "{}: {mark}", p.id);
        }
        let count = |layer, kind| {
            sheet.items.iter().filter(|i| i.layer == layer && i.object.as_ref().is_some_and(|o| o.kind == kind)).count()
        };
        assert_eq!(count(Layer::Baluster, "baluster"), p.balusters.marks.len());
        let circles = sheet.items.iter().filter(|i| i.layer == Layer::Hole && matches!(i.shape, Shape::Circle { .. }));
        let drilled = 2 * p.balusters.marks.len() + p.blocks.len() + p.cap_screws.len() + 8;
        assert_eq!(circles.count(), drilled, "{}", p.id);
    }
}

#[test]
fn a_mitred_left_end_tells_what_its_long_point_adds() {
    let layout = l_shape(TEST_RAIL, INCH);
    let told = |index: usize| {
        let sheet = elevation(&layout, &layout.panels[index]);
        texts(&sheet).into_iter().any(|t| t.0.contains("from the long point"))
    };
    assert!(told(4), "the left end of S5 is sawn at 22.5 degrees");
    assert!(!told(3), "the left end of S4 is square");
    // Half of the top rail's 2 in times tan 22.5 degrees is 0.414 in, 7/16 in on the mark grid.
    let sheet = elevation(&layout, &layout.panels[4]);
    assert!(texts(&sheet).iter().any(|t| t.0.contains("every mark is 7/16\" more")));
}

#[test]
fn lists_keep_clear_of_the_background() {
    let layout = l_shape(TEST_RAIL, INCH);
    let wall = vec![point(-3000.0, 0.0), point(9000.0, 0.0), point(9000.0, 200.0), point(-3000.0, 200.0)];
    let behind = context(&[Outline { role: Role::Wall, points: wall, closed: true }]);
    let sheet = plan_beside(&layout, &findings(&layout), &behind);
    assert!(sheet.low.x <= -3000.0 && sheet.high.x > 9000.0);
    let list = texts(&sheet).into_iter().find(|t| t.0 == "Findings").unwrap();
    assert!(list.1.corners().iter().all(|p| p.x > 9000.0));
}

#[test]
fn the_cautions_are_always_among_the_tables() {
    let sheet = tables(&l_shape(METAL, METRIC), &[], 50.0);
    let said = texts(&sheet).into_iter().map(|t| t.0).collect::<Vec<_>>().join(" ");
    for caution in CAUTIONS {
        assert!(said.contains(caution) || caution.split(' ').all(|w| said.contains(w)), "{caution}");
    }
    assert!(said.contains("complete, all checked limits met"), "what it all comes to stands above the findings");
    assert!(!said.contains("Revisions"), "a table without rows is left out");
}

/// Corners of the closed outlines of a kind in a drawing.
fn outlines(sheet: &Drawing, layer: Layer, kind: &str) -> Vec<Vec<crate::base::Point>> {
    let of_kind = |i: &&Item| i.layer == layer && i.object.as_ref().is_some_and(|o| o.kind == kind);
    let corners = |i: &Item| match &i.shape {
        Shape::Path { points, closed: true, .. } => Some(points.clone()),
        _ => None,
    };
    sheet.items.iter().filter(of_kind).filter_map(corners).collect()
}

/// Balusters stand plumb at their level marks, both sides equally long, bevelled along the slope; rails end plumb.
#[test]
fn raked_balusters_stand_at_their_level_marks() {
    for layout in sample_stairs::all() {
        for at in &layout.panels {
            let (p, sheet) = (&at.panel, elevation(&layout, at));
            let rake = p.rake.unwrap();
            let fall = if rake.falls == Falls::Right { -1.0 } else { 1.0 };
            let tan = fall * rake.pitch.angle().tan();
            let drawn = outlines(&sheet, Layer::Baluster, "baluster");
            assert_eq!(drawn.len(), p.balusters.marks.len());
            for (corners, mark) in drawn.iter().zip(&p.balusters.marks) {
                let [a, b, c, d] = corners[..] else { panic!("{corners:?}") };
                let middle = f64::midpoint(a.x, b.x);
                assert!((middle - (p.clearance_left + p.level_mark(*mark)).millimetres()).abs() < 1e-5);
                assert!((a.x - d.x).abs() + (b.x - c.x).abs() < 1e-9, "plumb");
                assert!((d.y - a.y - p.balusters.length.millimetres()).abs() < 1e-6);
                assert!(((b.y - a.y) - tan * (b.x - a.x)).abs() < 1e-9, "bevelled");
            }
            let rails = outlines(&sheet, Layer::Panel, "panel");
            assert_eq!(rails.len(), layout.system.members.len());
            for corners in rails {
                assert!((corners[0].x - corners[3].x).abs() < 1e-9, "plumb cut");
                let long = plane::distance(corners[0], corners[1]);
                assert!((long - p.length.millimetres()).abs() < 1e-6);
            }
        }
    }
}

/// Plumb heights stack up: 1 in gap, 4 in of members over the cosine, and balusters make 36 in at 7.5 on 10 (closed).
#[test]
fn a_raked_panel_says_its_heights_marks_and_angles() {
    let layout = &sample_stairs::all()[0];
    for at in &layout.panels {
        let sheet = elevation(layout, at);
        let said: Vec<String> = texts(&sheet).into_iter().map(|t| t.0).collect();
        let p = &at.panel;
        let all = p.balusters.marks.iter().chain(&p.blocks).chain(&p.cap_screws);
        for mark in all.clone().chain(p.brackets.iter().flat_map(|b| &b.holes)) {
            assert!(said.contains(&layout.measure.mark_text(*mark)), "{}: {mark}", p.id);
        }
        for mark in &p.balusters.marks {
            assert!(said.contains(&layout.measure.mark_text(p.level_mark(*mark))), "{}: level {mark}", p.id);
        }
        let together = said.join(" | ");
        // 5 x 1.1333 is what 7.5 on 10 leaves for a sphere over a gap of 1 in (closed form).
        for text in ["36\"", "30\"", "36.9\u{b0}", "7-1/2\"", "10\"", "60\"", "5.6667 in", "under 6 in", "4.375 in"] {
            assert!(together.contains(text), "{}: {text} in {together}", p.id);
        }
        let top = Rails::new(layout, at).courses.last().map(|c| c.high).unwrap();
        assert!((top - p.height.millimetres()).abs() < 1e-5);
        let circles = sheet.items.iter().filter(|i| i.layer == Layer::Note);
        let mut radii: Vec<f64> = circles
            .filter_map(|i| match i.shape {
                Shape::Circle { radius, .. } => Some(radius / 25.4),
                _ => None,
            })
            .collect();
        radii.sort_by(f64::total_cmp);
        assert_eq!(radii.len(), 2);
        assert!((radii[0] - 4.375 / 2.0).abs() < 1e-9 && (radii[1] - 17.0 / 6.0).abs() < 1e-9, "{radii:?}");
    }
}

#[test]
fn raked_rails_are_level_in_plan_and_flights_are_named() {
    let layout = &sample_stairs::all()[0];
    let sheet = plan(layout, &[]);
    for (corners, at) in outlines(&sheet, Layer::Panel, "panel").iter().zip(&layout.panels) {
        let middle = |a: usize, b: usize| (corners[a] + corners[b]) / 2.0;
        let long = plane::distance(middle(0, 3), middle(1, 2));
        assert!((long - at.panel.level_mark(at.panel.length).millimetres()).abs() < 1e-6);
        assert!(long < at.span.clear.millimetres());
    }
    let said: Vec<String> = texts(&sheet).into_iter().map(|t| t.0).collect();
    for text in ["F1 DN 11R 7-1/2\" x 10\"", "H1", "H2"] {
        assert!(said.iter().any(|t| t == text), "{text} in {said:?}");
    }
}

/// Sheets of layouts without stairs are as they were.
#[test]
fn columns_for_stairs_stand_only_where_there_are_any() {
    let heads = |layout: &Layout| {
        let said: Vec<String> = texts(&tables(layout, &[], 48.0)).into_iter().map(|t| t.0).collect();
        ["Height", "Pitch", "Plumb", "Flights", "Handrails"].map(|head| said.iter().any(|t| t == head))
    };
    assert_eq!(heads(&l_shape(TEST_RAIL, INCH)), [false; 5]);
    assert_eq!(heads(&sample_stairs::all()[0]), [true; 5]);
}
