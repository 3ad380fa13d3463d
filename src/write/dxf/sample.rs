//! Drawings made by hand for the tests of the writers: every shape, every alignment, two paper scales.

use std::sync::Arc;

use super::Placed;
use crate::base::plane::{direction, left, point};
use crate::base::{Angle, Point};
use crate::sheet::{
    Align, Anchor, Dimension, Drawing, Item, Layer, Linetype, ObjectId, Page, PostMark, Shape, TagMark, TextSpec,
    VAlign, View,
};

const INCH: f64 = 25.4;

fn inches(x: f64, y: f64) -> Point {
    point(x, y) * INCH
}

fn item(layer: Layer, shape: Shape) -> Item {
    Item { layer, linetype: None, object: None, shape }
}

fn shows(kind: &'static str, id: &str, item: Item) -> Item {
    Item { object: Some(ObjectId { kind, id: id.to_owned(), facts: Vec::new() }), ..item }
}

pub(in crate::write) fn text(at: Point, height: f64, align: Align, valign: VAlign, content: &str) -> TextSpec {
    let anchor = Anchor { align, valign };
    TextSpec { at, height, rotation: Angle::ZERO, anchor, content: content.to_owned(), bold: false }
}

fn dimension(from: Point, to: Point, away: f64, height: f64, content: &str) -> Dimension {
    let angle = crate::base::plane::angle_of(to - from);
    let out = left(direction(angle)) * away;
    let (a, b) = (from + out, to + out);
    let tick = (direction(angle) + left(direction(angle))) * (height / 2.0);
    Dimension {
        from,
        to,
        line: a,
        angle,
        height,
        text: content.to_owned(),
        text_at: (a + b) / 2.0 + left(direction(angle)) * height,
        strokes: vec![(from, a), (to, b), (a, b), (a - tick, a + tick), (b - tick, b + tick)],
    }
}

/// An L of two spans with three posts, one of them turned.
pub(in crate::write) fn plan() -> Drawing {
    let corners =
        [("P1", "end", (0.0, 0.0), 0.0), ("P2", "corner", (91.5, 0.0), 22.5), ("P3", "end", (155.5, 64.0), 45.0)];
    let mut items = Vec::new();
    for (id, kind, (x, y), turn) in corners {
        let (at, rotation) = (inches(x, y), Angle::from_degrees(turn));
        let mark = PostMark { at, side: 4.5 * INCH, rotation, id: id.to_owned(), kind };
        items.push(shows("post", id, item(Layer::Post, Shape::Post(mark))));
        let tag = text(inches(x, y + 6.0), 4.5 * INCH, Align::Centre, VAlign::Middle, id);
        items.push(item(Layer::Text, Shape::Text(tag)));
    }
    let [a, b, c] = corners.map(|(_, _, (x, y), _)| inches(x, y));
    items.push(shows(
        "run",
        "1",
        item(Layer::Line, Shape::Path { points: vec![a, b, c], closed: false, filled: false }),
    ));
    items.push(shows("span", "S1", item(Layer::Dims, Shape::Dimension(dimension(a, b, -400.0, 114.3, "7'-7-1/2\"")))));
    items.push(shows("span", "S2", item(Layer::Dims, Shape::Dimension(dimension(b, c, -400.0, 114.3, "")))));
    let (low, high) = (inches(40.0, 8.0), inches(52.0, 17.0));
    let mark = TagMark { low, high, id: "S1".to_owned(), span: "5'-3\"".to_owned(), kit: "Kit 8 ft".to_owned() };
    items.push(shows("frame", "S1", item(Layer::Text, Shape::Tag(mark))));
    items.push(shows(
        "tag",
        "S1",
        item(Layer::Text, Shape::Text(text((low + high) / 2.0, 114.3, Align::Centre, VAlign::Middle, "S1"))),
    ));
    let lines = ["Two lines {of} one", "paragraph \\P é"].into_iter().zip([-22.0, -30.0]);
    let lines = lines.map(|(line, y)| text(inches(0.0, y), 114.3, Align::Left, VAlign::Base, line));
    items.push(item(Layer::Text, Shape::Paragraph(lines.collect())));
    items.push(Item {
        linetype: Some(Linetype::Hidden),
        ..item(Layer::Sheet, Shape::Line(inches(0.0, 12.0), inches(60.0, 12.0)))
    });
    let title =
        TextSpec { bold: true, ..text(inches(0.0, -40.0), 9.0 * INCH, Align::Left, VAlign::Base, "Plan é ≤ 4\"") };
    items.push(item(Layer::Text, Shape::Text(title)));
    Drawing {
        name: "plan".to_owned(),
        title: "Plan".to_owned(),
        paper: 48.0,
        low: inches(-10.0, -45.0),
        high: inches(170.0, 75.0),
        parts: Vec::new(),
        items,
    }
}

/// Something of every shape at one inch to the foot.
pub(in crate::write) fn elevation() -> Drawing {
    let mut items = Vec::new();
    let rail = [(0.0, 0.0), (63.0, 0.0), (63.0, 1.5), (0.0, 1.5)].map(|(x, y)| inches(x, y)).to_vec();
    items.push(shows("member", "S1", item(Layer::Panel, Shape::Path { points: rail, closed: true, filled: false })));
    for (x, mark) in [(3.0, "3\""), (7.5, "7-1/2\""), (12.0, "12\"")] {
        items.push(item(Layer::Hole, Shape::Circle { centre: inches(x, 0.75), radius: 3.0 }));
        let turned = TextSpec {
            rotation: Angle::from_degrees(90.0),
            ..text(inches(x, 3.0), 30.0, Align::Left, VAlign::Middle, mark)
        };
        items.push(item(Layer::Text, Shape::Text(turned)));
    }
    let (from, to) = (Angle::ZERO, Angle::from_degrees(120.0));
    items.push(item(Layer::Bracket, Shape::Arc { centre: inches(80.0, 0.75), radius: 50.0, from, to }));
    for outline in [
        vec![(20.0, 0.0), (24.0, 0.0), (22.0, 1.5)],
        vec![(30.0, 0.0), (34.0, 0.0), (34.0, 1.5), (30.0, 1.5)],
        vec![(40.0, 0.0), (46.0, 0.0), (46.0, 1.0), (41.0, 1.0), (41.0, 6.0), (40.0, 6.0)],
    ] {
        let points = outline.into_iter().map(|(x, y)| inches(x, y)).collect();
        items.push(item(Layer::Block, Shape::Path { points, closed: true, filled: true }));
    }
    items.push(item(Layer::Line, Shape::Line(inches(0.0, 0.75), inches(63.0, 0.75))));
    items.push(item(
        Layer::Dims,
        Shape::Dimension(dimension(inches(0.0, 0.0), inches(84.0, 0.0), -120.0, 30.0, "7'-0\"")),
    ));
    let aligns = [Align::Left, Align::Centre, Align::Right];
    for (row, valign) in [VAlign::Base, VAlign::Middle, VAlign::Top].into_iter().enumerate() {
        for (column, align) in aligns.into_iter().enumerate() {
            let at = inches(55.0 + 10.0 * column as f64, 6.0 + 3.0 * row as f64);
            items.push(item(Layer::Note, Shape::Text(text(at, 30.0, align, valign, "⌀3/16 ±1° y"))));
        }
    }
    Drawing {
        name: "S1".to_owned(),
        title: "Panel S1".to_owned(),
        paper: 12.0,
        low: inches(-5.0, -10.0),
        high: inches(92.0, 20.0),
        parts: Vec::new(),
        items,
    }
}

/// The plan with the elevation below it.
pub(in crate::write) fn placed<'a>(plan: &'a Drawing, elevation: &'a Drawing) -> [Placed<'a>; 2] {
    [Placed { drawing: plan, at: Point::default() }, Placed { drawing: elevation, at: inches(0.0, -100.0) }]
}

fn framed(size: Point, title: &str, more: Vec<Shape>) -> Drawing {
    let (low, high) = (point(10.0, 10.0), size - point(10.0, 10.0));
    let corners = vec![low, point(high.x, low.y), high, point(low.x, high.y)];
    let mut items = vec![item(Layer::Sheet, Shape::Path { points: corners, closed: true, filled: false })];
    let heading = TextSpec { bold: true, ..text(point(15.0, 15.0), 5.0, Align::Left, VAlign::Base, title) };
    items.push(item(Layer::Text, Shape::Text(heading)));
    items.extend(more.into_iter().map(|shape| item(Layer::Sheet, shape)));
    Drawing {
        name: "ink".to_owned(),
        title: title.to_owned(),
        paper: 1.0,
        low: point(0.0, 0.0),
        high: size,
        parts: Vec::new(),
        items,
    }
}

/// A sheet with the plan over a wall that reaches out of its window, and one that stands upright with a part of the
/// elevation and a drawing that stands nowhere else.
pub(in crate::write) fn pages() -> Vec<Page> {
    let wall = [(-40.0, 20.0), (60.0, 20.0), (60.0, 26.0), (-40.0, 26.0)].map(|(x, y)| inches(x, y)).to_vec();
    let behind = vec![
        item(Layer::Sheet, Shape::Path { points: wall, closed: true, filled: false }),
        Item {
            linetype: Some(Linetype::Hidden),
            ..item(Layer::Sheet, Shape::Line(inches(0.0, 40.0), inches(90.0, 40.0)))
        },
    ];
    let plan = View { behind: Arc::new(behind), ..View::whole(Arc::new(plan()), point(40.0, 60.0)) };
    let elevation = Arc::new(elevation());
    let window = (inches(-2.0, -9.0), inches(40.0, 12.0));
    let part = View { window, ..View::whole(Arc::clone(&elevation), point(20.0, 150.0)) };
    let other = Drawing { name: "other".to_owned(), ..(*elevation).clone() };
    let mut other = View::whole(Arc::new(other), point(10.0, 60.0));
    other.window.1.x = inches(86.0, 0.0).x;
    let across = dimension(point(20.0, 30.0), point(120.0, 30.0), 5.0, 2.5, "100");
    let upright = point(8.5, 11.0) * INCH;
    let lying = point(upright.y, upright.x);
    let page = |number: &str, title: &str, size, more, views| Page {
        number: number.to_owned(),
        title: title.to_owned(),
        size,
        ink: framed(size, title, more),
        views,
    };
    vec![
        page("R1", "Plan: \"é\"", lying, vec![Shape::Dimension(across)], vec![plan]),
        page("R2", "Panel", upright, Vec::new(), vec![part, other]),
        page("R2", "panel", upright, Vec::new(), Vec::new()),
    ]
}
