//! What PDF and SVG have in common: the order of what is drawn on a sheet, where texts stand, which lines are broken.

use std::collections::BTreeMap;

use crate::base::{Point, decimal, plane, push_decimal};
use crate::sheet::{Item, Layer, Page, Shape, TextSpec, VAlign};

/// Height of capitals against the font size: `DejaVu Sans Condensed`, 1493 of 2048 units (its outline of `H`).
pub(super) const CAPITALS: f64 = 1493.0 / 2048.0;

/// Regular and bold face of all texts; `fonts/README.md` says where they come from.
pub(super) const FACES: [&[u8]; 2] =
    [include_bytes!("fonts/DejaVuSansCondensed.ttf"), include_bytes!("fonts/DejaVuSansCondensed-Bold.ttf")];

/// Decimals of paper millimetres: a micrometre is finer than any pen.
const PLACES: usize = 3;

/// A number of paper millimetres.
pub(super) fn number(value: f64) -> String {
    decimal(value, PLACES)
}

/// The same behind other bytes.
pub(super) fn push_number(out: &mut Vec<u8>, value: f64) {
    push_decimal(out, value, PLACES);
}

/// Text without the control characters that XML 1.0 does not allow (section 2.2, production 2).
pub(super) fn legal(text: &str) -> String {
    let allowed = |c: &char| !c.is_control() && !matches!(c, '\u{fffe}' | '\u{ffff}');
    text.chars().map(|c| if c.is_whitespace() { ' ' } else { c }).filter(allowed).collect()
}

/// The name of a layer: the job's, else ours.
pub(super) fn name_of(names: &BTreeMap<Layer, String>, layer: Layer) -> String {
    legal(names.get(&layer).map_or(layer.name(), String::as_str))
}

/// The insertion point of a text moved down to its base line.
pub(super) fn on_base_line(text: &TextSpec) -> Point {
    // The base line's distance below the insertion point, along the text's own down.
    let drop = match text.anchor.valign {
        VAlign::Base => 0.0,
        VAlign::Middle => text.height / 2.0,
        VAlign::Top => text.height,
    };
    text.at + plane::right(plane::direction(text.rotation)) * drop
}

/// Dashes and spaces in turn, paper mm; none for an unbroken line and for what is no line.
pub(super) fn dashes(item: &Item) -> Vec<f64> {
    let is_stroke = matches!(
        item.shape,
        Shape::Line(..) | Shape::Path { filled: false, .. } | Shape::Circle { .. } | Shape::Arc { .. }
    );
    let pattern = item.linetype.unwrap_or(item.layer.linetype()).pattern();
    if is_stroke { pattern.iter().map(|d| d.abs()).collect() } else { Vec::new() }
}

/// One drawing of a sheet.
pub(super) struct Part<'a> {
    behind: &'a [Item],
    items: &'a [Item],
    /// Lower left and upper right corner of what is shown, in the drawing's coordinates.
    pub window: (Point, Point),
    /// Where the lower left corner lies, mm from that of the sheet.
    pub at: Point,
    /// Full-scale mm per mm on paper.
    pub paper: f64,
    /// Whether it is cut off at the window.
    pub is_cut: bool,
}

impl<'a> Part<'a> {
    /// What it has on a layer, what stands behind first.
    pub(super) fn on(&self, layer: Layer) -> impl Iterator<Item = &'a Item> {
        self.all().filter(move |item| item.layer == layer)
    }

    /// All of it, what stands behind first.
    pub(super) fn all(&self) -> impl Iterator<Item = &'a Item> {
        self.behind.iter().chain(self.items)
    }

    /// A point of the drawing on the sheet, mm from its lower left corner.
    pub(super) fn on_sheet(&self, p: Point) -> Point {
        self.at + (p - self.window.0) / self.paper
    }

    /// Width and height on the sheet, mm.
    pub(super) fn size(&self) -> Point {
        (self.window.1 - self.window.0) / self.paper
    }
}

/// The drawings of a sheet: views first, then the ink of the sheet itself. On each layer they are drawn in this order.
pub(super) fn parts(page: &Page) -> Vec<Part<'_>> {
    let mut parts: Vec<Part<'_>> = page
        .views
        .iter()
        .map(|view| Part {
            behind: &view.behind,
            items: &view.drawing.items,
            window: view.window,
            at: view.at,
            paper: view.drawing.paper,
            is_cut: view.is_part(),
        })
        .collect();
    let origin = plane::point(0.0, 0.0);
    let (items, paper) = (page.ink.items.as_slice(), page.ink.paper);
    parts.push(Part { behind: &[], items, window: (origin, page.size * paper), at: origin, paper, is_cut: false });
    parts
}
