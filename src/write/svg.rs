//! Drawings -> SVG on paper millimetres, one group a layer, with real text.

use svg::Node;
use svg::node::element::Element;

use crate::base::{Angle, Point, decimal, plane};
use crate::sheet::{Align, Dimension, Drawing, Item, Layer, PostMark, Shape, TextSpec, VAlign};

/// White paper round the drawing, mm.
const MARGIN_MM: f64 = 10.0;
/// Height of capitals against the font size: DejaVu Sans Condensed, 1493 of 2048 units (its outline of `H`).
const CAPITALS: f64 = 1493.0 / 2048.0;
/// Faces by preference; all condensed or no wider than the room that texts were given.
const FACES: &str = "DejaVu Sans Condensed, DejaVu Sans, Liberation Sans Narrow, sans-serif";

/// One SVG of some drawings, each below the one before; `context` stands behind the first, in its coordinates.
pub fn document(drawings: &[&Drawing], context: &[Item]) -> String {
    let width = drawings.iter().map(|d| (d.high.x - d.low.x) / d.paper).fold(0.0, f64::max) + 2.0 * MARGIN_MM;
    let mut top = MARGIN_MM;
    let mut sheets = Vec::new();
    for drawing in drawings {
        sheets.push(Sheet { drawing, top });
        top += (drawing.high.y - drawing.low.y) / drawing.paper + MARGIN_MM;
    }
    let mut root = element("svg");
    root.assign("xmlns", "http://www.w3.org/2000/svg");
    root.assign("width", format!("{}mm", number(width)));
    root.assign("height", format!("{}mm", number(top)));
    root.assign("viewBox", format!("0 0 {} {}", number(width), number(top)));
    root.assign("font-family", FACES);
    root.assign("font-stretch", "condensed");
    let titles: Vec<&str> = drawings.iter().map(|d| d.title.as_str()).collect();
    let mut title = element("title");
    title.append(svg::node::Text::new(legal(&titles.join(", "))));
    root.append(title);
    root.append(background(width, top));
    for layer in Layer::ALL {
        let mut group = layer_group(layer);
        for (index, sheet) in sheets.iter().enumerate() {
            let behind = if index == 0 { context } else { &[] };
            for item in behind.iter().chain(&sheet.drawing.items).filter(|i| i.layer == layer) {
                group.append(sheet.item(item));
            }
        }
        if !group.get_children().is_empty() {
            root.append(group);
        }
    }
    format!("{root}\n")
}

fn element(name: &str) -> Element {
    Element::new(name)
}

/// A number of paper millimetres: a micrometre is finer than any pen.
fn number(value: f64) -> String {
    decimal(value, 3)
}

/// Text without the control characters that XML 1.0 does not allow (section 2.2, production 2).
fn legal(text: &str) -> String {
    let allowed = |c: &char| !c.is_control() && !matches!(c, '\u{fffe}' | '\u{ffff}');
    text.chars().map(|c| if c.is_whitespace() { ' ' } else { c }).filter(allowed).collect()
}

fn background(width: f64, height: f64) -> Element {
    let mut rect = element("rect");
    rect.assign("width", number(width));
    rect.assign("height", number(height));
    rect.assign("fill", "#ffffff");
    rect
}

fn layer_group(layer: Layer) -> Element {
    let mut group = element("g");
    group.assign("id", layer.name());
    group.assign("fill", "none");
    group.assign("stroke", layer.colour().1);
    group.assign("stroke-width", decimal(f64::from(layer.pen()) / 100.0, 2));
    group.assign("stroke-linejoin", "round");
    group
}

/// A drawing at its place on the paper.
struct Sheet<'a> {
    drawing: &'a Drawing,
    top: f64,
}

impl Sheet<'_> {
    /// Full-scale millimetres to paper: y runs down there.
    fn at(&self, p: Point) -> (f64, f64) {
        let d = self.drawing;
        ((p.x - d.low.x) / d.paper + MARGIN_MM, (d.high.y - p.y) / d.paper + self.top)
    }

    fn pair(&self, p: Point) -> String {
        let (x, y) = self.at(p);
        format!("{} {}", number(x), number(y))
    }

    fn item(&self, item: &Item) -> Element {
        let ink = item.layer.colour().1;
        let mut node = match &item.shape {
            Shape::Line(a, b) => self.path(&[*a, *b], false),
            Shape::Path { points, closed, filled } => {
                let mut node = self.path(points, *closed);
                if *filled {
                    node.assign("fill", ink);
                    node.assign("stroke", "none");
                }
                node
            }
            Shape::Circle { centre, radius } => self.circle(*centre, *radius),
            Shape::Arc { centre, radius, from, to } => self.arc(*centre, *radius, *from, *to),
            Shape::Text(text) => self.text(text, ink),
            Shape::Dimension(dimension) => self.dimension(dimension, ink),
            Shape::Post(post) => self.post(post),
        };
        let pattern = item.linetype.unwrap_or(item.layer.linetype()).pattern();
        let is_stroke = matches!(
            item.shape,
            Shape::Line(..) | Shape::Path { filled: false, .. } | Shape::Circle { .. } | Shape::Arc { .. }
        );
        if is_stroke && !pattern.is_empty() {
            let dashes: Vec<String> = pattern.iter().map(|d| decimal(d.abs(), 2)).collect();
            node.assign("stroke-dasharray", dashes.join(" "));
        }
        if let Some(object) = &item.object {
            node.assign("data-kind", object.kind);
            node.assign("data-object", legal(&object.id));
        }
        node
    }

    fn path(&self, points: &[Point], closed: bool) -> Element {
        let places: Vec<String> = points.iter().map(|p| self.pair(*p)).collect();
        let mut node = element("path");
        node.assign("d", format!("M{}{}", places.join("L"), if closed { "Z" } else { "" }));
        node
    }

    fn circle(&self, centre: Point, radius: f64) -> Element {
        let (x, y) = self.at(centre);
        let mut node = element("circle");
        node.assign("cx", number(x));
        node.assign("cy", number(y));
        node.assign("r", number(radius / self.drawing.paper));
        node
    }

    fn arc(&self, centre: Point, radius: f64, from: Angle, to: Angle) -> Element {
        let turn = (to - from).radians().rem_euclid(std::f64::consts::TAU);
        let r = number(radius / self.drawing.paper);
        let end = |a: Angle| self.pair(centre + plane::direction(a) * radius);
        let large = u8::from(turn > std::f64::consts::PI);
        let mut node = element("path");
        // Counter-clockwise on the drawing is against SVG's positive angle direction: sweep flag 0.
        node.assign("d", format!("M{}A{r} {r} 0 {large} 0 {}", end(from), end(to)));
        node
    }

    fn post(&self, post: &PostMark) -> Element {
        let u = plane::direction(post.rotation) * (post.side / 2.0);
        let v = plane::left(u);
        let c = post.at;
        let mut node = self.path(&[c - u - v, c + u - v, c + u + v, c - u + v], true);
        // White inside: the post stands over the rail line.
        node.assign("fill", "#ffffff");
        node
    }

    fn dimension(&self, dimension: &Dimension, ink: &str) -> Element {
        let strokes: Vec<String> =
            dimension.strokes.iter().map(|(a, b)| format!("M{}L{}", self.pair(*a), self.pair(*b))).collect();
        let mut lines = element("path");
        lines.assign("d", strokes.concat());
        let mut group = element("g");
        group.append(lines);
        group.append(self.text(&dimension.text_spec(), ink));
        group
    }

    fn text(&self, text: &TextSpec, ink: &str) -> Element {
        let height = text.height / self.drawing.paper;
        // The base line's distance below the insertion point, along the text's own down.
        let drop = match text.anchor.valign {
            VAlign::Base => 0.0,
            VAlign::Middle => height / 2.0,
            VAlign::Top => height,
        };
        let down = plane::right(plane::direction(text.rotation)) * (drop * self.drawing.paper);
        let (x, y) = self.at(text.at + down);
        let mut node = element("text");
        node.assign("x", number(x));
        node.assign("y", number(y));
        node.assign("font-size", number(height / CAPITALS));
        node.assign("fill", ink);
        node.assign("stroke", "none");
        match text.anchor.align {
            Align::Left => {}
            Align::Centre => node.assign("text-anchor", "middle"),
            Align::Right => node.assign("text-anchor", "end"),
        }
        if text.bold {
            node.assign("font-weight", "bold");
        }
        if text.rotation != Angle::ZERO {
            let turn = decimal(-text.rotation.degrees(), 4);
            node.assign("transform", format!("rotate({turn} {} {})", number(x), number(y)));
        }
        node.append(svg::node::Text::new(legal(&text.content)));
        node
    }
}
