//! Drawings -> SVG on paper millimetres, one group a layer, with real text.

mod markup;
mod page;

use std::collections::BTreeMap;

use super::paper::{self, CAPITALS, legal};
use crate::base::{Angle, Point, decimal, plane};
use crate::sheet::{Align, Dimension, Drawing, Item, Layer, PostMark, Shape, TextSpec};

use markup::Markup;

pub use page::page;

/// White paper round the drawing, mm.
const MARGIN_MM: f64 = 10.0;
/// Faces by preference; all condensed or no wider than the room that texts were given.
const FACES: &str = "DejaVu Sans Condensed, DejaVu Sans, sans-serif";

/// One SVG of some drawings, each below the one before; `context` stands behind the first, in its coordinates.
pub fn document(drawings: &[&Drawing], context: &[Item]) -> String {
    named(drawings, context, &BTreeMap::new())
}

/// The same with other names for the groups of our layers, where the job has its own.
pub fn named(drawings: &[&Drawing], context: &[Item], names: &BTreeMap<Layer, String>) -> String {
    picture(drawings, context, names, "id")
}

/// The same for a page that holds several pictures: what has to be there once only is no name of a layer.
pub(super) fn inline(drawing: &Drawing, context: &[Item], names: &BTreeMap<Layer, String>) -> String {
    picture(&[drawing], context, names, "data-layer")
}

/// `mark` is the attribute that names a layer.
fn picture(drawings: &[&Drawing], context: &[Item], names: &BTreeMap<Layer, String>, mark: &str) -> String {
    let width = drawings.iter().map(|d| (d.high.x - d.low.x) / d.paper).fold(0.0, f64::max) + 2.0 * MARGIN_MM;
    let mut top = MARGIN_MM;
    let mut sheets = Vec::new();
    for drawing in drawings {
        sheets.push((drawing, Sheet::of(drawing, top)));
        top += (drawing.high.y - drawing.low.y) / drawing.paper + MARGIN_MM;
    }
    let titles: Vec<&str> = drawings.iter().map(|d| d.title.as_str()).collect();
    let mut out = root(width, top, &titles.join(", "));
    for layer in Layer::ALL {
        out.group(
            |out| layer_head(out, layer, names, mark),
            |out| {
                for (index, (drawing, sheet)) in sheets.iter().enumerate() {
                    let behind = if index == 0 { context } else { &[] };
                    behind.iter().chain(&drawing.items).filter(|i| i.layer == layer).for_each(|i| sheet.item(out, i));
                }
            },
        );
    }
    end(out)
}

/// The outermost element, with title and white paper; [`end`] closes it.
fn root(width: f64, height: f64, title: &str) -> Markup {
    let mut out = Markup::default();
    out.open("svg");
    out.attribute("font-family", FACES);
    out.attribute("font-stretch", "condensed");
    let size = |out: &mut Markup, name: &str, mm: f64| {
        out.value(name, |out| {
            out.decimal(mm);
            out.raw("mm");
        });
    };
    size(&mut out, "height", height);
    out.value("viewBox", |out| {
        out.raw("0 0 ");
        pair(out, (width, height));
    });
    size(&mut out, "width", width);
    out.attribute("xmlns", "http://www.w3.org/2000/svg");
    out.inside();
    out.raw("\n");
    out.open("title");
    out.inside();
    out.escaped(&legal(title));
    out.close("title");
    out.raw("\n");
    out.open("rect");
    out.attribute("fill", "#ffffff");
    out.number("height", height);
    out.number("width", width);
    out.empty();
    out
}

fn end(mut out: Markup) -> String {
    out.raw("\n");
    out.close("svg");
    out.raw("\n");
    out.finish()
}

/// Attributes of the group of a layer, whose name `mark` says.
fn layer_head(out: &mut Markup, layer: Layer, names: &BTreeMap<Layer, String>, mark: &str) {
    out.attribute("fill", "none");
    out.attribute(mark, &paper::name_of(names, layer));
    out.attribute("stroke", layer.colour().1);
    out.attribute("stroke-linejoin", "round");
    out.attribute("stroke-width", &decimal(f64::from(layer.pen()) / 100.0, 2));
}

/// Two numbers of a path.
fn pair(out: &mut Markup, (x, y): (f64, f64)) {
    out.decimal(x);
    out.raw(" ");
    out.decimal(y);
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

    fn pair(&self, out: &mut Markup, p: Point) {
        pair(out, self.at(p));
    }

    /// An item on a line of its own.
    fn item(&self, out: &mut Markup, item: &Item) {
        let ink = item.layer.colour().1;
        out.raw("\n");
        match &item.shape {
            Shape::Line(a, b) => self.path(out, item, &[*a, *b], false, &[]),
            Shape::Path { points, closed, filled } => {
                let solid = [("fill", ink), ("stroke", "none")];
                self.path(out, item, points, *closed, if *filled { &solid } else { &[] });
            }
            Shape::Circle { centre, radius } => self.circle(out, item, *centre, *radius),
            Shape::Arc { centre, radius, from, to } => self.arc(out, item, (*centre, *radius), *from, *to),
            Shape::Text(text) => self.text(out, Some(item), text, ink),
            Shape::Paragraph(lines) => self.paragraph(out, item, lines, ink),
            Shape::Dimension(dimension) => self.dimension(out, item, dimension, ink),
            Shape::Post(post) => self.post(out, item, post),
            Shape::Tag(tag) => self.path(out, item, &tag.corners(), true, &[]),
        }
    }

    /// A path; `inks` are those that differ from the layer's.
    fn path(&self, out: &mut Markup, item: &Item, points: &[Point], closed: bool, inks: &[(&str, &str)]) {
        out.open("path");
        out.value("d", |out| {
            out.raw("M");
            for (index, p) in points.iter().enumerate() {
                if index > 0 {
                    out.raw("L");
                }
                self.pair(out, *p);
            }
            out.raw(if closed { "Z" } else { "" });
        });
        object(out, item);
        inks.iter().for_each(|(name, value)| out.attribute(name, value));
        dashes(out, item);
        out.empty();
    }

    fn circle(&self, out: &mut Markup, item: &Item, centre: Point, radius: f64) {
        let (x, y) = self.at(centre);
        out.open("circle");
        out.number("cx", x);
        out.number("cy", y);
        object(out, item);
        out.number("r", radius / self.paper);
        dashes(out, item);
        out.empty();
    }

    fn arc(&self, out: &mut Markup, item: &Item, (centre, radius): (Point, f64), from: Angle, to: Angle) {
        let turn = (to - from).radians().rem_euclid(std::f64::consts::TAU);
        let end = |a: Angle| centre + plane::direction(a) * radius;
        let r = radius / self.paper;
        out.open("path");
        out.value("d", |out| {
            out.raw("M");
            self.pair(out, end(from));
            out.raw("A");
            pair(out, (r, r));
            // Counter-clockwise on the drawing is against SVG's positive angle direction: sweep flag 0.
            out.raw(if turn > std::f64::consts::PI { " 0 1 0 " } else { " 0 0 0 " });
            self.pair(out, end(to));
        });
        object(out, item);
        dashes(out, item);
        out.empty();
    }

    fn post(&self, out: &mut Markup, item: &Item, post: &PostMark) {
        let u = plane::direction(post.rotation) * (post.side / 2.0);
        let v = plane::left(u);
        let c = post.at;
        // White inside: the post stands over the rail line.
        self.path(out, item, &[c - u - v, c + u - v, c + u + v, c - u + v], true, &[("fill", "#ffffff")]);
    }

    fn paragraph(&self, out: &mut Markup, item: &Item, lines: &[TextSpec], ink: &str) {
        out.open("g");
        object(out, item);
        if lines.is_empty() {
            return out.empty();
        }
        out.inside();
        for line in lines {
            out.raw("\n");
            self.text(out, None, line, ink);
        }
        out.raw("\n");
        out.close("g");
    }

    fn dimension(&self, out: &mut Markup, item: &Item, dimension: &Dimension, ink: &str) {
        out.open("g");
        object(out, item);
        out.inside();
        out.raw("\n");
        out.open("path");
        out.value("d", |out| {
            for (a, b) in &dimension.strokes {
                out.raw("M");
                self.pair(out, *a);
                out.raw("L");
                self.pair(out, *b);
            }
        });
        out.empty();
        out.raw("\n");
        self.text(out, None, &dimension.text_spec(), ink);
        out.raw("\n");
        out.close("g");
    }

    /// A text; without an item, a line of something larger.
    fn text(&self, out: &mut Markup, item: Option<&Item>, text: &TextSpec, ink: &str) {
        let (x, y) = self.at(paper::on_base_line(text));
        out.open("text");
        if let Some(item) = item {
            object(out, item);
        }
        out.attribute("fill", ink);
        out.number("font-size", text.height / self.paper / CAPITALS);
        if text.bold {
            out.attribute("font-weight", "bold");
        }
        out.attribute("stroke", "none");
        match text.anchor.align {
            Align::Left => {}
            Align::Centre => out.attribute("text-anchor", "middle"),
            Align::Right => out.attribute("text-anchor", "end"),
        }
        if text.rotation != Angle::ZERO {
            out.value("transform", |out| {
                out.raw(&format!("rotate({} ", decimal(-text.rotation.degrees(), 4)));
                pair(out, (x, y));
                out.raw(")");
            });
        }
        out.number("x", x);
        out.number("y", y);
        out.inside();
        out.escaped(&legal(&text.content));
        out.close("text");
    }
}

/// Which thing of the layout a shape shows.
fn object(out: &mut Markup, item: &Item) {
    if let Some(object) = &item.object {
        out.attribute("data-kind", object.kind);
        out.attribute("data-object", &legal(&object.id));
    }
}

/// The pattern of a line that is broken.
fn dashes(out: &mut Markup, item: &Item) {
    let dashes = paper::dashes(item);
    if !dashes.is_empty() {
        let dashes: Vec<String> = dashes.into_iter().map(|d| decimal(d, 2)).collect();
        out.attribute("stroke-dasharray", &dashes.join(" "));
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
