//! Every mark at its true distance, every point of a stick on a page, nothing on another text or off the paper.

use std::collections::BTreeMap;

use super::super::board;
use super::super::sample::{INCH, METAL, METRIC, TEST_RAIL, along, inner_corner, l_shape};
use super::super::text::Area;
use super::super::{Alike, Drawing, Item, Layer, Page, Shape, View, alike, sample_stairs};
use super::*;
use crate::base::plane::{self, point};
use crate::base::{Length, Point};

/// Right-angled, slanted both ways, raked, short and long.
fn layouts() -> Vec<Layout> {
    [
        l_shape(TEST_RAIL, INCH),
        l_shape(METAL, METRIC),
        inner_corner(TEST_RAIL, INCH, 60.0, -22.5),
        inner_corner(METAL, METRIC, 10.0, 30.0),
        along(TEST_RAIL, METRIC, &[(0.0, 0.0), (60.0, 0.0), (60.0, 60.0), (120.0, 60.0)], false),
    ]
    .into_iter()
    .chain(sample_stairs::all())
    .collect()
}

const PAPERS: [TemplatePaper; 3] =
    [TemplatePaper::Roll, TemplatePaper::Tiled(Paper::Letter), TemplatePaper::Tiled(Paper::A4)];

/// The views of each drawing on all pages.
fn views(pages: &[Page]) -> BTreeMap<&str, Vec<&View>> {
    let mut by_name: BTreeMap<&str, Vec<&View>> = BTreeMap::new();
    for view in pages.iter().flat_map(|page| &page.views) {
        by_name.entry(view.drawing.name.as_str()).or_default().push(view);
    }
    by_name
}

fn texts(items: &[Item]) -> Vec<(String, Area)> {
    items.iter().flat_map(Item::texts).map(|text| (text.content.clone(), Area::of_text(&text))).collect()
}

fn of_kind<'a>(drawing: &'a Drawing, kind: &'static str) -> impl Iterator<Item = &'a Item> {
    drawing.items.iter().filter(move |i| i.object.as_ref().is_some_and(|o| o.kind == kind))
}

fn sticks_of(layout: &Layout) -> Vec<(Alike, std::sync::Arc<Drawing>)> {
    let pages = templates(layout, TemplatePaper::Roll);
    let groups = alike(layout);
    groups.into_iter().map(|g| (g.clone(), views(&pages)[g.ids[0].as_str()][0].drawing.clone())).collect()
}

#[test]
fn each_mark_is_on_its_stick_at_its_distance_from_the_rail_end() {
    let mut seen = 0;
    for layout in layouts() {
        for (group, drawing) in sticks_of(&layout) {
            let panel = &group.first(&layout).unwrap().panel;
            let holes: Vec<f64> = of_kind(&drawing, "hole")
                .filter_map(|i| match i.shape {
                    Shape::Circle { centre, .. } => Some(centre.x),
                    _ => None,
                })
                .collect();
            let lines: Vec<f64> = of_kind(&drawing, "mark")
                .filter(|i| i.layer == Layer::Line)
                .filter_map(|i| match &i.shape {
                    Shape::Path { points, .. } => Some((points[0], points[1])),
                    _ => None,
                })
                .filter(|(a, b)| a.x == b.x && (b.y - drawing.low.y).abs() < 1e-9)
                .map(|(a, _)| a.x)
                .collect();
            let balusters: Vec<f64> = panel.balusters.marks.iter().map(|m| m.millimetres()).collect();
            assert_eq!(lines, balusters, "{}: centre lines right across", panel.id);
            let said = texts(&drawing.items);
            let drilled = panel.blocks.iter().chain(&panel.cap_screws);
            let brackets = panel.brackets.iter().flat_map(|b| &b.holes);
            for mark in drilled.chain(brackets).chain(&panel.balusters.marks) {
                assert!(holes.iter().any(|x| (x - mark.millimetres()).abs() < 1e-9), "{}: {mark}", panel.id);
                let text = layout.measure.mark_text(*mark);
                assert!(said.iter().any(|(s, _)| s.ends_with(&text)), "{}: {text} is named", panel.id);
                seen += 1;
            }
            // Nothing is drilled that the panel does not have.
            let all: Vec<Length> = panel
                .blocks
                .iter()
                .chain(&panel.cap_screws)
                .chain(panel.brackets.iter().flat_map(|b| &b.holes))
                .chain(&panel.balusters.marks)
                .copied()
                .collect();
            assert!(holes.iter().all(|x| all.iter().any(|m| (m.millimetres() - x).abs() < 1e-9)));
        }
    }
    assert!(seen > 400, "{seen}");
}

/// Tips lie half the member's width times the tangent of the saw's angle beyond the centre line's end, outer edge above.
#[test]
fn points_of_angled_ends_are_where_the_edges_have_them() {
    let layout = inner_corner(TEST_RAIL, INCH, 60.0, -22.5);
    let (group, drawing) = sticks_of(&layout).remove(0);
    let panel = &group.first(&layout).unwrap().panel;
    let tips: Vec<Point> = of_kind(&drawing, "row")
        .filter_map(|i| match &i.shape {
            Shape::Path { points, filled: true, .. } => Some(points[0]),
            _ => None,
        })
        .collect();
    // Both rails are 2 in wide, the support rail 1-1/2 in: rows from the top.
    let tan = 22.5f64.to_radians().tan() * 25.4;
    let long = panel.length.millimetres();
    for (row, half) in [(0, 1.0), (1, 1.0), (2, 0.75)] {
        let of_row: Vec<f64> = tips.iter().skip(row * 4).take(4).map(|p| p.x).collect();
        let lean = half * tan;
        let wanted = [lean, -lean, long - lean, long + lean];
        assert!(of_row.iter().zip(wanted).all(|(a, b)| (a - b).abs() < 1e-9), "{of_row:?} {wanted:?}");
    }
    let said: Vec<String> = texts(&drawing.items).into_iter().map(|t| t.0).collect();
    for name in ["long point", "short point", "saw 22.5\u{b0}"] {
        assert_eq!(said.iter().filter(|s| *s == name).count(), 6, "{name}");
    }
}

#[test]
fn every_point_of_a_stick_is_on_a_page_at_full_size() {
    for layout in layouts() {
        for paper in PAPERS {
            let pages = templates(&layout, paper);
            for (name, views) in views(&pages) {
                let drawing = &views[0].drawing;
                let mut reached = drawing.low.x;
                for view in &views {
                    assert_eq!(view.drawing.paper, 1.0);
                    assert!(view.window.0.x <= reached + 1e-9, "{name}: nothing shows {reached}");
                    assert_eq!((view.window.0.y, view.window.1.y), (drawing.low.y, drawing.high.y));
                    reached = view.window.1.x;
                }
                assert!((reached - drawing.high.x).abs() < 1e-9, "{name} ends at {reached}");
            }
            let names: Vec<String> = views(&pages).keys().map(|n| (*n).to_owned()).collect();
            assert!(alike(&layout).iter().all(|g| names.contains(&g.ids[0])));
        }
    }
}

/// A register mark stands on both tiles of a joint, in the middle of what they share, and the cut runs through it.
#[test]
fn register_marks_lie_on_both_tiles() {
    let mut joints = 0;
    for layout in layouts() {
        let pages = templates(&layout, TemplatePaper::Tiled(Paper::desk(layout.measure.unit.is_imperial())));
        for (name, views) in views(&pages) {
            let marks_of = |view: &&View| -> Vec<Point> {
                let circle = |i: &Item| match i.shape {
                    Shape::Circle { centre, .. } => Some(centre),
                    _ => None,
                };
                of_kind(&view.drawing, "register").filter_map(circle).collect()
            };
            let mut marks: Vec<Point> = views.iter().flat_map(marks_of).collect();
            marks.sort_by(|a, b| a.x.total_cmp(&b.x).then(a.y.total_cmp(&b.y)));
            // Each is in the drawings of both tiles.
            assert_eq!(marks.len(), 4 * (views.len() - 1), "{name}");
            marks.dedup();
            assert_eq!(marks.len(), 2 * (views.len() - 1), "{name}");
            for (pair, two) in views.windows(2).zip(marks.chunks(2)) {
                let shared = (pair[1].window.0.x, pair[0].window.1.x);
                assert!(shared.1 - shared.0 >= 15.0 - 1e-9);
                assert!(two.iter().all(|m| (m.x - f64::midpoint(shared.0, shared.1)).abs() < 1e-9));
                let on = two[0].x - pair[1].window.0.x + pair[1].at.x;
                let page = pages.iter().find(|p| p.views.iter().any(|v| std::ptr::eq(v, pair[1]))).unwrap();
                let is_cut = |i: &Item| match &i.shape {
                    Shape::Path { points, .. } => points.len() == 2 && (points[0].x - on).abs() < 1e-9,
                    _ => false,
                };
                assert!(of_kind(&page.ink, "cut").any(is_cut), "{name}");
                joints += 1;
            }
        }
    }
    assert!(joints > 50, "{joints}");
}

/// Texts of a page where they stand on it: its own, and those that a view shows whole.
fn texts_of(page: &Page) -> Vec<(String, Area)> {
    let mut all = texts(&page.ink.items);
    for view in &page.views {
        let size = view.size();
        for (content, area) in texts(&view.drawing.items) {
            let moved = Area { centre: view.on_paper(area.centre), ..area };
            let inside = |p: &Point| {
                let q = *p - view.at;
                q.x > -1e-6 && q.y > -1e-6 && q.x < size.x + 1e-6 && q.y < size.y + 1e-6
            };
            if moved.corners().iter().all(inside) {
                all.push((content, moved));
            }
        }
    }
    all
}

#[test]
fn no_text_stands_on_another_and_none_leaves_the_paper() {
    for (case, layout) in layouts().iter().enumerate() {
        for paper in PAPERS {
            for page in templates(layout, paper) {
                let texts = texts_of(&page);
                for (i, (a, area)) in texts.iter().enumerate() {
                    for p in area.corners() {
                        let inside =
                            p.x >= 11.9 && p.y >= 11.9 && p.x <= page.size.x - 11.9 && p.y <= page.size.y - 11.9;
                        assert!(inside, "layout {case}, {paper:?}, {}: `{a}` at {p:?} of {:?}", page.number, page.size);
                    }
                    for (b, other) in texts.iter().skip(i + 1) {
                        assert!(!area.overlaps(other), "layout {case}, {paper:?}, {}: `{a}` on `{b}`", page.number);
                    }
                }
                let views = page.views.iter().map(|v| (v.at, v.at + v.size()));
                for (low, high) in views {
                    assert!(low.x >= 12.0 - 1e-9 && low.y >= 12.0 - 1e-9, "{}", page.number);
                    assert!(high.x <= page.size.x - 12.0 + 1e-9 && high.y <= page.size.y - 12.0 + 1e-9);
                }
            }
        }
    }
}

/// What a joint cuts through is whole on one of the two tiles.
#[test]
fn every_text_of_a_stick_is_whole_on_some_page() {
    for layout in layouts() {
        for paper in PAPERS {
            let pages = templates(&layout, paper);
            for (name, views) in views(&pages) {
                for (content, area) in views.iter().flat_map(|v| texts(&v.drawing.items)) {
                    let reach = area.reach(point(1.0, 0.0));
                    let whole = |v: &&View| -> bool {
                        area.centre.x - reach >= v.window.0.x - 1e-6 && area.centre.x + reach <= v.window.1.x + 1e-6
                    };
                    assert!(views.iter().any(whole), "{name}: `{content}`");
                }
            }
        }
    }
}

#[test]
fn every_page_has_its_bar_and_its_words() {
    for layout in layouts() {
        for paper in PAPERS {
            let pages = templates(&layout, paper);
            let (long, words) = bar::length(&layout.measure);
            let first: String = texts_of(&pages[0]).into_iter().map(|t| t.0).collect::<Vec<_>>().join(" ");
            for caution in super::super::CAUTIONS {
                assert!(caution.split(' ').all(|word| first.contains(word)), "{caution}");
            }
            for page in &pages {
                let points: Vec<Point> = of_kind(&page.ink, "scale-bar")
                    .filter(|i| i.layer == Layer::Panel)
                    .flat_map(|i| board::reach(&i.shape))
                    .collect();
                let (low, high) = plane::bounds(points).unwrap();
                assert!((high.x - low.x - long).abs() < 1e-9, "{}", page.number);
                let said: Vec<String> = texts(&page.ink.items).into_iter().map(|t| t.0).collect();
                assert!(said.iter().any(|t| t == "Print at 100 %, not fitted to the page."), "{}", page.number);
                assert!(said.iter().any(|t| t.contains(words)));
                assert!(page.size.x <= 5080.0 + 1e-6 && page.ink.low == point(0.0, 0.0) && page.ink.high == page.size);
            }
            let mut numbers: Vec<&str> = pages.iter().map(|p| p.number.as_str()).collect();
            numbers.dedup();
            assert_eq!(numbers.len(), pages.len());
        }
    }
}

/// Holes of brackets lie where the system has them: along from the rail's end with the setback, across from the axis.
#[test]
fn ends_have_their_brackets_holes_at_full_size() {
    let layout = l_shape(TEST_RAIL, INCH);
    let pages = templates(&layout, TemplatePaper::Roll);
    let views = views(&pages);
    let holes = |name: &str| -> Vec<Point> {
        let drawing = &views[name][0].drawing;
        let axis = of_kind(drawing, "end")
            .find_map(|i| match i.shape {
                Shape::Line(a, _) => Some(a.y),
                _ => None,
            })
            .unwrap();
        let circle = |i: &Item| match i.shape {
            Shape::Circle { centre, .. } => Some(centre - point(0.0, axis)),
            _ => None,
        };
        of_kind(drawing, "hole").filter_map(circle).collect()
    };
    // 1/2 and 1-1/4 in from the bracket, that is set back 1/8 in; the first 3/8 in towards the deck, which lies below.
    let wanted = [(0.625, -0.375), (1.375, 0.375)].map(|(x, y)| point(x * 25.4, y * 25.4));
    let near =
        |got: &[Point], wanted: &[Point]| wanted.iter().all(|w| got.iter().any(|g| plane::distance(*g, *w) < 1e-6));
    assert!(near(&holes("B1"), &wanted), "{:?}", holes("B1"));
    assert!(near(&holes("B2"), &wanted.map(|p| point(-p.x, p.y))), "{:?}", holes("B2"));
}

/// Heights of the members on a post: 3 in of gap, 3/4, 1-1/4, 29 in of balusters, 1-1/4 and 3/4 make 36 in (closed).
#[test]
fn faces_of_posts_have_the_members_at_their_heights() {
    let layout = l_shape(TEST_RAIL, INCH);
    let pages = templates(&layout, TemplatePaper::Roll);
    let drawing = &views(&pages)["F1"][0].drawing;
    let rows: Vec<(f64, f64)> = of_kind(drawing, "member")
        .filter_map(|i| match &i.shape {
            Shape::Path { points, closed: true, .. } => Some((points[0].x / 25.4, points[2].x / 25.4)),
            _ => None,
        })
        .collect();
    let wanted = [(3.0, 3.75), (3.75, 5.0), (34.0, 35.25), (35.25, 36.0)];
    assert_eq!(rows.len(), 4);
    assert!(rows.iter().zip(wanted).all(|(a, b)| (a.0 - b.0).abs() + (a.1 - b.1).abs() < 1e-9), "{rows:?}");
    let aligned = texts(&drawing.items).into_iter().filter(|t| ["3\"", "36\"", "34\""].contains(&t.0.as_str()));
    assert_eq!(aligned.count(), 3);
}

#[test]
fn a_panel_longer_than_any_page_goes_over_several() {
    let mut layout = l_shape(TEST_RAIL, INCH);
    let panel = &mut layout.panels[0].panel;
    let more = Length::from_nanometres(6_000_000_000);
    panel.length += more;
    panel.cuts.iter_mut().for_each(|c| c.length += more);
    let pages = templates(&layout, TemplatePaper::Roll);
    assert!(views(&pages)["S1"].len() > 1);
    assert!(templates(&Layout { panels: Vec::new(), ..layout }, TemplatePaper::Roll).is_empty());
}
