//! Drawings -> SVG on paper millimetres, one group a layer, with real text.

mod page;

use std::collections::BTreeMap;

use svg::Node;
use svg::node::element::Element;

use super::paper::{self, CAPITALS, legal, number};
use crate::base::{Angle, Point, decimal, plane};
use crate::sheet::{Align, Dimension, Drawing, Item, Layer, PostMark, Shape, TextSpec};

pub use page::page;

/// White paper round the drawing, mm.
const MARGIN_MM: f64 = 10.0;
/// Faces by preference; all condensed or no wider than the room that texts were given.
const FACES: &str = "DejaVu Sans Condensed, DejaVu Sans, Liberation Sans Narrow, sans-serif";

/// One SVG of some drawings, each below the one before; `context` stands behind the first, in its coordinates.
pub fn document(drawings: &[&Drawing], context: &[Item]) -> String {
    named(drawings, context, &BTreeMap::new())
}

/// The same with other names for the groups of our layers, where the job has its own.
pub fn named(drawings: &[&Drawing], context: &[Item], names: &BTreeMap<Layer, String>) -> String {
    let width = drawings.iter().map(|d| (d.high.x - d.low.x) / d.paper).fold(0.0, f64::max) + 2.0 * MARGIN_MM;
    let mut top = MARGIN_MM;
    let mut sheets = Vec::new();
    for drawing in drawings {
        sheets.push((drawing, Sheet::of(drawing, top)));
        top += (drawing.high.y - drawing.low.y) / drawing.paper + MARGIN_MM;
    }
    let titles: Vec<&str> = drawings.iter().map(|d| d.title.as_str()).collect();
    let mut root = root(width, top, &titles.join(", "));
    for layer in Layer::ALL {
        let mut group = layer_group(layer, names);
        for (index, (drawing, sheet)) in sheets.iter().enumerate() {
            let behind = if index == 0 { context } else { &[] };
            for item in behind.iter().chain(&drawing.items).filter(|i| i.layer == layer) {
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

/// The outermost element, with title and white paper.
fn root(width: f64, height: f64, title: &str) -> Element {
    let mut root = element("svg");
    root.assign("xmlns", "http://www.w3.org/2000/svg");
    root.assign("width", format!("{}mm", number(width)));
    root.assign("height", format!("{}mm", number(height)));
    root.assign("viewBox", format!("0 0 {} {}", number(width), number(height)));
    root.assign("font-family", FACES);
    root.assign("font-stretch", "condensed");
    let mut node = element("title");
    node.append(svg::node::Text::new(legal(title)));
    root.append(node);
    root.append(background(width, height));
    root
}

fn background(width: f64, height: f64) -> Element {
    let mut rect = element("rect");
    rect.assign("width", number(width));
    rect.assign("height", number(height));
    rect.assign("fill", "#ffffff");
    rect
}

fn layer_group(layer: Layer, names: &BTreeMap<Layer, String>) -> Element {
    let mut group = element("g");
    group.assign("id", paper::name_of(names, layer));
    group.assign("fill", "none");
    group.assign("stroke", layer.colour().1);
    group.assign("stroke-width", decimal(f64::from(layer.pen()) / 100.0, 2));
    group.assign("stroke-linejoin", "round");
    group
}

/// A drawing at its place on the paper.
struct Sheet {
    /// Its upper left corner, in its own coordinates.
    corner: Point,
    /// Full-scale mm per mm on paper.
    paper: f64,
    /// Where that corner lies on the paper.
    left: f64,
    top: f64,
}

impl Sheet {
    fn of(drawing: &Drawing, top: f64) -> Self {
        Self { corner: plane::point(drawing.low.x, drawing.high.y), paper: drawing.paper, left: MARGIN_MM, top }
    }

    /// Full-scale millimetres to paper: y runs down there.
    fn at(&self, p: Point) -> (f64, f64) {
        ((p.x - self.corner.x) / self.paper + self.left, (self.corner.y - p.y) / self.paper + self.top)
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
            Shape::Paragraph(lines) => {
                let mut node = element("g");
                for line in lines {
                    node.append(self.text(line, ink));
                }
                node
            }
            Shape::Dimension(dimension) => self.dimension(dimension, ink),
            Shape::Post(post) => self.post(post),
            Shape::Tag(tag) => self.path(&tag.corners(), true),
        };
        let dashes: Vec<String> = paper::dashes(item).into_iter().map(|d| decimal(d, 2)).collect();
        if !dashes.is_empty() {
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
        node.assign("r", number(radius / self.paper));
        node
    }

    fn arc(&self, centre: Point, radius: f64, from: Angle, to: Angle) -> Element {
        let turn = (to - from).radians().rem_euclid(std::f64::consts::TAU);
        let r = number(radius / self.paper);
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
        let height = text.height / self.paper;
        let (x, y) = self.at(paper::on_base_line(text));
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::plane::point;
    use crate::sheet::{Anchor, Linetype, ObjectId, VAlign};

    fn item(layer: Layer, shape: Shape) -> Item {
        Item {
            layer,
            linetype: None,
            object: Some(ObjectId { kind: "panel", id: "S1".to_owned(), facts: Vec::new() }),
            shape,
        }
    }

    fn text(content: &str, valign: VAlign, turn: f64) -> Shape {
        Shape::Text(TextSpec {
            at: point(24.0, 48.0),
            height: 24.0,
            rotation: Angle::from_degrees(turn),
            anchor: Anchor { align: Align::Centre, valign },
            content: content.to_owned(),
            bold: false,
        })
    }

    fn drawing(items: Vec<Item>) -> Drawing {
        let (low, high) = (point(0.0, 0.0), point(240.0, 480.0));
        Drawing {
            name: "S1".to_owned(),
            title: "Panel \"S1\" <a & b>".to_owned(),
            paper: 24.0,
            low,
            high,
            parts: Vec::new(),
            items,
        }
    }

    /// Names of the elements in their order, after checking that every one that opens closes.
    fn elements(svg: &str) -> Vec<String> {
        let mut open: Vec<&str> = Vec::new();
        let mut names = Vec::new();
        for tag in svg.split('<').skip(1) {
            let (tag, rest) = tag.split_once('>').unwrap();
            assert!(!rest.contains('>'), "unescaped: {rest}");
            if let Some(name) = tag.strip_prefix('/') {
                assert_eq!(open.pop(), Some(name));
                continue;
            }
            let name = tag.split([' ', '/']).next().unwrap();
            names.push(name.to_owned());
            if !tag.ends_with('/') {
                open.push(name);
            }
        }
        assert!(open.is_empty(), "{open:?}");
        names
    }

    #[test]
    fn sizes_are_paper_millimetres_and_y_runs_down() {
        let line = Shape::Line(point(0.0, 0.0), point(240.0, 480.0));
        let svg = document(&[&drawing(vec![item(Layer::Panel, line)])], &[]);
        assert!(svg.contains("width=\"30mm\"") && svg.contains("height=\"40mm\""), "{svg}");
        assert!(svg.contains("viewBox=\"0 0 30 40\""));
        assert!(svg.contains("d=\"M10 30L20 10\""), "{svg}");
    }

    #[test]
    fn layers_are_groups_in_drawing_order_with_their_pens() {
        let line = || Shape::Line(point(0.0, 0.0), point(1.0, 1.0));
        let svg = document(&[&drawing(vec![item(Layer::Text, line()), item(Layer::Post, line())])], &[]);
        let groups: Vec<&str> = svg.split("<g ").skip(1).map(|g| g.split('>').next().unwrap()).collect();
        assert_eq!(groups.len(), 2);
        assert!(groups[0].contains("id=\"RAIL-POST\"") && groups[0].contains("stroke-width=\"0.5\""), "{groups:?}");
        assert!(groups[1].contains("id=\"RAIL-TEXT\"") && groups[1].contains("stroke-width=\"0.18\""), "{groups:?}");
        assert!(svg.contains("data-object=\"S1\""));
    }

    #[test]
    fn texts_are_escaped_and_cleaned_and_every_element_closes() {
        let nasty = text("a<b> & \"c\"\u{0}\u{1b}\u{ffff}\n'd'", VAlign::Base, 0.0);
        let svg = document(&[&drawing(vec![item(Layer::Text, nasty)])], &[]);
        let names = elements(&svg);
        assert_eq!(names, ["svg", "title", "rect", "g", "text"]);
        assert!(svg.contains(">a&lt;b&gt; &amp; \"c\" 'd'</text>"), "{svg}");
        assert!(svg.chars().all(|c| c == '\n' || !c.is_control()));
    }

    #[test]
    fn a_text_hangs_by_its_capitals() {
        let place = |valign, turn| {
            let svg = document(&[&drawing(vec![item(Layer::Text, text("x", valign, turn))])], &[]);
            let value = |name: &str| {
                let from = svg.split("<text").nth(1).unwrap();
                from.split(&format!(" {name}=\"")).nth(1).unwrap().split('"').next().unwrap().to_owned()
            };
            (value("x"), value("y"))
        };
        // Capitals are 1 mm high on paper; the insertion point is 1 mm right and 2 mm up from the lower left corner.
        assert_eq!(place(VAlign::Base, 0.0), ("11".to_owned(), "28".to_owned()));
        assert_eq!(place(VAlign::Middle, 0.0), ("11".to_owned(), "28.5".to_owned()));
        assert_eq!(place(VAlign::Top, 90.0), ("12".to_owned(), "28".to_owned()));
    }

    #[test]
    fn arcs_run_counter_clockwise_on_the_drawing() {
        let quarter =
            Shape::Arc { centre: point(0.0, 0.0), radius: 240.0, from: Angle::ZERO, to: Angle::from_degrees(90.0) };
        let svg = document(&[&drawing(vec![item(Layer::Panel, quarter)])], &[]);
        assert!(svg.contains("d=\"M20 30A10 10 0 0 0 10 20\""), "{svg}");
    }

    #[test]
    fn patterns_come_from_the_layer_unless_the_item_has_its_own() {
        let line = || Shape::Line(point(0.0, 0.0), point(1.0, 1.0));
        let own = Item { linetype: Some(Linetype::Hidden), ..item(Layer::Line, line()) };
        let svg = document(&[&drawing(vec![item(Layer::Line, line()), own])], &[]);
        assert!(svg.contains("stroke-dasharray=\"8 1.5 1.5 1.5\"") && svg.contains("stroke-dasharray=\"2.5 1.2\""));
    }

    #[test]
    fn drawings_stand_below_each_other_and_the_background_behind_the_first() {
        let line = || Shape::Line(point(0.0, 0.0), point(24.0, 0.0));
        let (first, second) = (drawing(vec![item(Layer::Panel, line())]), drawing(vec![item(Layer::Panel, line())]));
        let behind = [Item { object: None, ..item(Layer::Sheet, line()) }];
        let svg = document(&[&first, &second], &behind);
        assert!(svg.contains("viewBox=\"0 0 30 70\""), "{svg}");
        assert!(svg.find("RAIL-SHEET").unwrap() < svg.find("RAIL-PANEL").unwrap());
        assert!(svg.contains("M10 30L11 30") && svg.contains("M10 60L11 60"), "{svg}");
        assert_eq!(svg, document(&[&first, &second], &behind));
    }
}
