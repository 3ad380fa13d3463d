//! The board a drawing is made on: takes shapes with sizes in paper millimetres or at full scale, gives the finished
//! drawing with its bounds.

use crate::base::{Angle, Point, plane};
use crate::cad::Fact;

use super::text::Area;
use super::{
    Align, Anchor, Dimension, Drawing, Item, Layer, Linetype, ObjectId, PostMark, Shape, TagMark, TextSpec, VAlign,
};

/// Hung by the middle.
pub(super) const MIDDLE: Anchor = Anchor { align: Align::Centre, valign: VAlign::Middle };
/// Hung by the left end of the base line.
pub(super) const BASE_LEFT: Anchor = Anchor { align: Align::Left, valign: VAlign::Base };
/// Hung by the left end, half way up.
pub(super) const MIDDLE_LEFT: Anchor = Anchor { align: Align::Left, valign: VAlign::Middle };
/// Hung by the right end, half way up.
pub(super) const MIDDLE_RIGHT: Anchor = Anchor { align: Align::Right, valign: VAlign::Middle };

/// A drawing in the making.
#[derive(Debug)]
pub(super) struct Board {
    /// Full-scale mm per mm on paper.
    pub paper: f64,
    /// Text height on paper, mm.
    pub text_mm: f64,
    object: Option<ObjectId>,
    items: Vec<Item>,
    parts: Vec<(Point, Point)>,
}

impl Board {
    pub(super) fn new(paper: f64, text_mm: f64) -> Self {
        Self { paper, text_mm, object: None, items: Vec::new(), parts: Vec::new() }
    }

    /// Paper millimetres at full scale.
    pub(super) fn mm(&self, on_paper: f64) -> f64 {
        on_paper * self.paper
    }

    /// The drawing's text height at full scale.
    pub(super) fn height(&self) -> f64 {
        self.mm(self.text_mm)
    }

    /// What the shapes that follow show.
    pub(super) fn show(&mut self, kind: &'static str, id: &str) {
        self.object = Some(ObjectId { kind, id: id.to_owned(), facts: Vec::new() });
    }

    /// What the shapes that follow show, with what a re-run must know of it.
    pub(super) fn show_with(&mut self, kind: &'static str, id: &str, facts: Vec<Fact>) {
        self.object = Some(ObjectId { kind, id: id.to_owned(), facts });
    }

    /// The shapes that follow show no object of the layout.
    pub(super) fn show_nothing(&mut self) {
        self.object = None;
    }

    fn put(&mut self, layer: Layer, linetype: Option<Linetype>, shape: Shape) {
        self.items.push(Item { layer, linetype, object: self.object.clone(), shape });
    }

    pub(super) fn line(&mut self, layer: Layer, a: Point, b: Point) {
        self.put(layer, None, Shape::Line(a, b));
    }

    pub(super) fn patterned(&mut self, layer: Layer, linetype: Linetype, points: Vec<Point>, closed: bool) {
        self.put(layer, Some(linetype), Shape::Path { points, closed, filled: false });
    }

    pub(super) fn path(&mut self, layer: Layer, points: Vec<Point>, closed: bool) {
        self.put(layer, None, Shape::Path { points, closed, filled: false });
    }

    pub(super) fn solid(&mut self, layer: Layer, points: Vec<Point>) {
        self.put(layer, None, Shape::Path { points, closed: true, filled: true });
    }

    /// Upright rectangle between two corners.
    pub(super) fn rectangle(&mut self, layer: Layer, low: Point, high: Point) {
        self.path(layer, rectangle(low, high), true);
    }

    pub(super) fn circle(&mut self, layer: Layer, centre: Point, radius: f64) {
        self.put(layer, None, Shape::Circle { centre, radius });
    }

    pub(super) fn post(&mut self, mark: PostMark) {
        self.put(Layer::Post, None, Shape::Post(mark));
    }

    pub(super) fn tag(&mut self, mark: TagMark) {
        self.put(Layer::Text, None, Shape::Tag(mark));
    }

    pub(super) fn dimension(&mut self, dimension: Dimension) {
        self.put(Layer::Dims, None, Shape::Dimension(dimension));
    }

    pub(super) fn text(&mut self, layer: Layer, text: TextSpec) {
        self.put(layer, None, Shape::Text(text));
    }

    /// Lines that belong together, on the text layer.
    pub(super) fn paragraph(&mut self, lines: Vec<TextSpec>) {
        match lines.as_slice() {
            [] => {}
            [one] => self.text(Layer::Text, one.clone()),
            _ => self.put(Layer::Text, None, Shape::Paragraph(lines)),
        }
    }

    /// A level text of the drawing's height on the text layer.
    pub(super) fn write(&mut self, at: Point, anchor: Anchor, content: &str) {
        let text = self.spec(at, anchor, content);
        self.text(Layer::Text, text);
    }

    /// A level text of the drawing's height.
    pub(super) fn spec(&self, at: Point, anchor: Anchor, content: &str) -> TextSpec {
        let height = self.height();
        TextSpec { at, height, rotation: Angle::ZERO, anchor, content: content.to_owned(), bold: false }
    }

    /// A bold level text, larger than the rest by `factor`.
    pub(super) fn heading(&mut self, at: Point, factor: f64, content: &str) {
        let mut text = self.spec(at, BASE_LEFT, content);
        text.height *= factor;
        text.bold = true;
        self.text(Layer::Text, text);
    }

    /// A level rule of some thickness on paper, hanging below `at`.
    pub(super) fn rule(&mut self, at: Point, length: f64, thick_mm: f64) {
        let low = plane::point(at.x, at.y - self.mm(thick_mm));
        self.solid(Layer::Sheet, rectangle(low, plane::point(at.x + length, at.y)));
    }

    /// Bounds of what is on the board so far.
    pub(super) fn bounds(&self) -> Option<(Point, Point)> {
        plane::bounds(self.items.iter().flat_map(|i| reach(&i.shape)))
    }

    /// Takes what was drawn since `first` items were on the board, and `around`, for a part that can be shown by itself.
    pub(super) fn part(&mut self, first: usize, around: Option<(Point, Point)>) {
        let more = around.into_iter().flat_map(|(low, high)| [low, high]);
        let drawn = self.items.iter().skip(first).flat_map(|i| reach(&i.shape));
        self.parts.extend(plane::bounds(drawn.chain(more)));
    }

    /// How many shapes are on the board.
    pub(super) fn count(&self) -> usize {
        self.items.len()
    }

    /// The finished drawing; `around` are further points that it must hold.
    pub(super) fn finish(self, name: &str, title: String, around: Option<(Point, Point)>) -> Drawing {
        let more = around.into_iter().flat_map(|(low, high)| [low, high]);
        let all = self.items.iter().flat_map(|i| reach(&i.shape)).chain(more);
        let origin = plane::point(0.0, 0.0);
        let (low, high) = plane::bounds(all).unwrap_or((origin, origin));
        Drawing { name: name.to_owned(), title, paper: self.paper, low, high, parts: self.parts, items: self.items }
    }
}

/// Corners of an upright rectangle, counter-clockwise.
pub(super) fn rectangle(low: Point, high: Point) -> Vec<Point> {
    vec![low, plane::point(high.x, low.y), high, plane::point(low.x, high.y)]
}

/// Points that bound a shape. An arc counts as its whole circle: bounds may be generous, never too small.
pub(super) fn reach(shape: &Shape) -> Vec<Point> {
    match shape {
        Shape::Line(a, b) => vec![*a, *b],
        Shape::Path { points, .. } => points.clone(),
        Shape::Circle { centre, radius } | Shape::Arc { centre, radius, .. } => {
            let r = plane::point(*radius, *radius);
            vec![*centre - r, *centre + r]
        }
        Shape::Text(text) => Area::of_text(text).with_descent().corners().to_vec(),
        Shape::Paragraph(lines) => lines.iter().flat_map(|l| Area::of_text(l).with_descent().corners()).collect(),
        Shape::Dimension(d) => {
            let mut points: Vec<Point> = d.strokes.iter().flat_map(|(a, b)| [*a, *b]).collect();
            points.extend(Area::of_text(&d.text_spec()).with_descent().corners());
            points
        }
        Shape::Post(post) => post_corners(post.at, post.side, post.rotation).to_vec(),
        Shape::Tag(tag) => tag.corners().to_vec(),
    }
}

/// Corners of a square post, counter-clockwise.
pub(super) fn post_corners(at: Point, side: f64, rotation: Angle) -> [Point; 4] {
    let u = plane::direction(rotation) * (side / 2.0);
    let v = plane::left(u);
    [at - u - v, at + u - v, at + u + v, at - u + v]
}
