//! What is drawn on a sheet, as PDF operators (ISO 32000-1, 8.5 and 9.4). All numbers are mm on paper.

use std::f64::consts::{FRAC_PI_4, TAU};
use std::fmt::Write;

use super::POINTS;
use super::font::Fonts;
use crate::base::{Angle, Point, decimal, plane};
use crate::sheet::{Align, Dimension, Item, Layer, Page, PostMark, Shape, TextSpec};
use crate::write::paper::{CAPITALS, Part, dashes, number, on_base_line, parts};

/// The sheet's operators: the same order of layers and drawings as in SVG.
pub(super) fn of(page: &Page, fonts: &Fonts) -> Vec<u8> {
    let points = decimal(POINTS, 8);
    // Round joins, as SVG has them.
    let mut ink = Ink { out: format!("{points} 0 0 {points} 0 0 cm\n1 j\n"), fonts };
    let parts = parts(page);
    for layer in Layer::ALL {
        if parts.iter().all(|part| part.on(layer).next().is_none()) {
            continue;
        }
        let pen = decimal(f64::from(layer.pen()) / 100.0, 2);
        let colour = colour(layer);
        ink.op(&format!("/OC /{} BDC\n{colour} RG {colour} rg {pen} w", layer.name()));
        for part in parts.iter().filter(|part| part.on(layer).next().is_some()) {
            if part.is_cut {
                let size = part.size();
                let [x, y, width, height] = [part.at.x, part.at.y, size.x, size.y].map(number);
                ink.op(&format!("q {x} {y} {width} {height} re W n"));
            }
            part.on(layer).for_each(|item| ink.item(part, item));
            if part.is_cut {
                ink.op("Q");
            }
        }
        ink.op("EMC");
    }
    ink.out.into_bytes()
}

/// `r g b` of a layer's ink, each from 0 to 1.
fn colour(layer: Layer) -> String {
    let hex = layer.colour().1.trim_start_matches('#');
    let packed = u32::from_str_radix(hex, 16).unwrap_or(0);
    let [_, parts @ ..] = packed.to_be_bytes();
    parts.map(|part| decimal(f64::from(part) / 255.0, 3)).join(" ")
}

struct Ink<'a> {
    out: String,
    fonts: &'a Fonts,
}

impl Ink<'_> {
    fn op(&mut self, text: &str) {
        self.out.push_str(text);
        self.out.push('\n');
    }

    fn item(&mut self, part: &Part<'_>, item: &Item) {
        let dashes: Vec<String> = dashes(item).into_iter().map(|d| decimal(d, 2)).collect();
        if !dashes.is_empty() {
            self.op(&format!("[{}] 0 d", dashes.join(" ")));
        }
        match &item.shape {
            Shape::Line(a, b) => self.path(part, &[*a, *b], "S"),
            Shape::Path { points, filled: true, .. } => self.path(part, points, "f"),
            Shape::Path { points, closed, .. } => self.path(part, points, if *closed { "s" } else { "S" }),
            Shape::Circle { centre, radius } => {
                self.arc(part, *centre, *radius, Angle::ZERO, TAU);
                self.op("s");
            }
            Shape::Arc { centre, radius, from, to } => {
                self.arc(part, *centre, *radius, *from, (*to - *from).radians().rem_euclid(TAU));
                self.op("S");
            }
            Shape::Text(text) => self.text(part, text),
            Shape::Paragraph(lines) => lines.iter().for_each(|line| self.text(part, line)),
            Shape::Dimension(dimension) => self.dimension(part, dimension),
            Shape::Post(post) => self.post(part, post, &colour(item.layer)),
            Shape::Tag(tag) => self.path(part, &tag.corners(), "s"),
        }
        if !dashes.is_empty() {
            self.op("[] 0 d");
        }
    }

    /// Straight lines from point to point, then what is done with them.
    fn path(&mut self, part: &Part<'_>, points: &[Point], paint: &str) {
        self.lines(part, points);
        if !points.is_empty() {
            self.op(paint);
        }
    }

    fn lines(&mut self, part: &Part<'_>, points: &[Point]) {
        for (point, operator) in points.iter().zip(std::iter::once("m").chain(std::iter::repeat("l"))) {
            let pair = pair(part.on_sheet(*point));
            self.op(&format!("{pair} {operator}"));
        }
    }

    /// An arc as Bézier curves of an eighth of a turn or less: off by at most 2/27·sin⁶(t/4)/cos²(t/4) of the radius
    /// for a turn of t, here 4.3e-6 of it, 4 µm at a radius of 1 m on paper (closed form).
    fn arc(&mut self, part: &Part<'_>, centre: Point, radius: f64, from: Angle, turn: f64) {
        let steps = (turn / FRAC_PI_4 - 1e-9).ceil().max(1.0);
        let step = turn / steps;
        let handle = 4.0 / 3.0 * (step / 4.0).tan();
        let on_circle = |angle: f64, along: f64| {
            let out = plane::direction(Angle::from_radians(angle));
            part.on_sheet(centre + (out + plane::left(out) * along) * radius)
        };
        let mut at = from.radians();
        self.op(&format!("{} m", pair(on_circle(at, 0.0))));
        for _ in 0..steps as usize {
            let next = at + step;
            let (a, b, end) = (on_circle(at, handle), on_circle(next, -handle), on_circle(next, 0.0));
            self.op(&format!("{} {} {} c", pair(a), pair(b), pair(end)));
            at = next;
        }
    }

    /// White inside: the post stands over the rail line.
    fn post(&mut self, part: &Part<'_>, post: &PostMark, colour: &str) {
        let u = plane::direction(post.rotation) * (post.side / 2.0);
        let v = plane::left(u);
        let c = post.at;
        self.op("1 g");
        self.path(part, &[c - u - v, c + u - v, c + u + v, c - u + v], "b");
        self.op(&format!("{colour} rg"));
    }

    fn dimension(&mut self, part: &Part<'_>, dimension: &Dimension) {
        for (a, b) in &dimension.strokes {
            self.lines(part, &[*a, *b]);
        }
        if !dimension.strokes.is_empty() {
            self.op("S");
        }
        self.text(part, &dimension.text_spec());
    }

    fn text(&mut self, part: &Part<'_>, text: &TextSpec) {
        let (font, shown, advance) = self.fonts.set(&text.content, text.bold);
        if shown.is_empty() {
            return;
        }
        let size = text.height / part.paper / CAPITALS;
        let along = plane::direction(text.rotation);
        let back = match text.anchor.align {
            Align::Left => 0.0,
            Align::Centre => advance * size / 2.0,
            Align::Right => advance * size,
        };
        let at = pair(part.on_sheet(on_base_line(text)) - along * back);
        let [cos, sin, minus] = [along.x, along.y, -along.y].map(|v| decimal(v, 6));
        // Writing to a string cannot fail.
        let _ = writeln!(self.out, "BT /{font} {} Tf {cos} {sin} {minus} {cos} {at} Tm <{shown}> Tj ET", number(size));
    }
}

fn pair(p: Point) -> String {
    format!("{} {}", number(p.x), number(p.y))
}
