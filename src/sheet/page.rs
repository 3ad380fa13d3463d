//! Sheets of paper with drawings on them: what PDF, SVG and the paper space of DXF are written from.

use std::sync::Arc;

use crate::base::{Point, plane};

use super::text::Area;
use super::{Drawing, Item, TextSpec};

/// A finished sheet. Its own coordinates are mm on paper from the lower left corner, y up.
#[derive(Debug, Clone, PartialEq)]
pub struct Page {
    /// Number on the sheet, unique in its set: `R1`.
    pub number: String,
    /// Title for people, without the number.
    pub title: String,
    /// Width and height, mm.
    pub size: Point,
    /// What is drawn on the paper itself: frame, title block, tables, captions. `paper` is 1.
    pub ink: Drawing,
    /// Drawings shown on it, each at its own scale. They lie below the ink.
    pub views: Vec<View>,
}

/// A text on a sheet.
#[derive(Debug, Clone, PartialEq)]
pub struct PageText {
    /// What it says.
    pub content: String,
    /// Corners of the box from its base line to the top of its capitals, counter-clockwise from the text's lower left, mm.
    pub corners: [Point; 4],
    /// Whether it belongs to the sheet's own ink.
    pub is_ink: bool,
    /// Whether a window cuts it.
    pub is_cut: bool,
}

impl Page {
    /// Every text that is seen on the sheet, those of the views first.
    pub fn texts(&self) -> Vec<PageText> {
        let own = texts(&self.ink, &|p| p, true);
        let of_views = self.views.iter().flat_map(|view| {
            let (low, high) = (view.at, view.at + view.size());
            let mut seen = texts(&view.drawing, &|p| view.on_paper(p), false);
            let reach = |text: &PageText| plane::bounds(text.corners).unwrap_or((low, low));
            seen.retain(|t| {
                let (a, b) = reach(t);
                b.x > low.x && a.x < high.x && b.y > low.y && a.y < high.y
            });
            for text in &mut seen {
                let (a, b) = reach(text);
                text.is_cut =
                    a.x < low.x - EDGE_MM || a.y < low.y - EDGE_MM || b.x > high.x + EDGE_MM || b.y > high.y + EDGE_MM;
            }
            seen
        });
        of_views.chain(own).collect()
    }
}

/// A text that reaches past a window by less is not cut, mm.
const EDGE_MM: f64 = 1e-6;

fn texts(drawing: &Drawing, place: &dyn Fn(Point) -> Point, is_ink: bool) -> Vec<PageText> {
    let text = |spec: TextSpec| {
        let corners = Area::of_text(&spec).corners().map(place);
        PageText { content: spec.content, corners, is_ink, is_cut: false }
    };
    drawing.items.iter().flat_map(Item::texts).map(text).collect()
}

/// A drawing, or a part of one, on a sheet at the drawing's own scale, so that its texts and pens have their size.
#[derive(Debug, Clone, PartialEq)]
pub struct View {
    /// The drawing.
    pub drawing: Arc<Drawing>,
    /// Shapes that stand behind it, in its coordinates: the user's plan behind the rails.
    pub behind: Arc<Vec<Item>>,
    /// Lower left and upper right corner of the part that is shown, in the drawing's coordinates.
    pub window: (Point, Point),
    /// Where the window's lower left corner lies on the paper, mm.
    pub at: Point,
}

impl View {
    /// All of a drawing, its lower left corner at `at`.
    pub fn whole(drawing: Arc<Drawing>, at: Point) -> Self {
        let window = (drawing.low, drawing.high);
        Self { drawing, behind: Arc::default(), window, at }
    }

    /// A point of the drawing on the paper, mm.
    pub fn on_paper(&self, p: Point) -> Point {
        self.at + (p - self.window.0) / self.drawing.paper
    }

    /// Width and height on the paper, mm.
    pub fn size(&self) -> Point {
        (self.window.1 - self.window.0) / self.drawing.paper
    }

    /// Whether the drawing reaches beyond the window, where it is cut off.
    pub fn is_part(&self) -> bool {
        let (low, high) = self.window;
        let d = &self.drawing;
        d.low.x < low.x || d.low.y < low.y || d.high.x > high.x || d.high.y > high.y
    }
}
