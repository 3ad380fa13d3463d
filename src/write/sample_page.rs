//! A small sheet for the tests of the writers: 100 x 50 mm, with a view at 1:10 that is cut off.

use std::sync::Arc;

use crate::base::plane::point;
use crate::base::{Angle, Point};
use crate::sheet::{Align, Anchor, Drawing, Item, Layer, Page, Shape, TextSpec, VAlign, View};

pub(super) fn item(layer: Layer, shape: Shape) -> Item {
    Item { layer, linetype: None, object: None, shape }
}

/// A text whose font is 10 mm high.
pub(super) fn text(at: Point, align: Align, content: &str) -> TextSpec {
    TextSpec {
        at,
        height: 10.0 * super::paper::CAPITALS,
        rotation: Angle::ZERO,
        anchor: Anchor { align, valign: VAlign::Base },
        content: content.to_owned(),
        bold: false,
    }
}

pub(super) fn drawing(paper: f64, size: Point, items: Vec<Item>) -> Drawing {
    let name = "D".to_owned();
    Drawing { title: name.clone(), name, paper, low: point(0.0, 0.0), high: size, items }
}

/// A sheet with this ink alone.
pub(super) fn sheet(items: Vec<Item>) -> Page {
    let size = point(100.0, 50.0);
    Page {
        number: "R1".to_owned(),
        title: "Plan <a & b>".to_owned(),
        size,
        ink: drawing(1.0, size, items),
        views: Vec::new(),
    }
}

/// Post, rail and background in a view from 100 to 300 mm and 0 to 200 mm that lies at 20, 10 on the sheet; a frame and a
/// text on the sheet itself.
pub(super) fn page() -> Page {
    let rail = Shape::Line(point(0.0, 100.0), point(400.0, 100.0));
    let post = crate::sheet::PostMark {
        at: point(200.0, 100.0),
        side: 40.0,
        rotation: Angle::ZERO,
        id: "P1".to_owned(),
        kind: "line",
    };
    let wall = Shape::Line(point(100.0, 0.0), point(300.0, 200.0));
    let shown =
        drawing(10.0, point(400.0, 200.0), vec![item(Layer::Post, Shape::Post(post)), item(Layer::Panel, rail)]);
    let view = View {
        behind: Arc::new(vec![item(Layer::Sheet, wall)]),
        window: (point(100.0, 0.0), point(300.0, 200.0)),
        ..View::whole(Arc::new(shown), point(20.0, 10.0))
    };
    let frame = vec![point(5.0, 5.0), point(95.0, 5.0), point(95.0, 45.0), point(5.0, 45.0)];
    let mut page = sheet(vec![
        item(Layer::Sheet, Shape::Path { points: frame, closed: true, filled: false }),
        item(Layer::Text, Shape::Text(text(point(50.0, 30.0), Align::Centre, "HH"))),
    ]);
    page.views.push(view);
    page
}
