//! What stands at a panel's ends in its elevation: a post or a wall.

use crate::base::{Angle, Point, plane};
use crate::guard::Support;
use crate::parts::{Layout, LayoutPanel};

use super::Layer;
use super::board::{Board, MIDDLE};
use super::plan::post_at;
use super::text;

/// Breadth of the strip of wall that is drawn, and of the deck line beyond a post, paper mm.
const WALL_MM: f64 = 4.0;
const DECK_MM: f64 = 4.0;

/// Which end of the panel.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum End {
    /// At x = 0.
    Left,
    /// At the clear span.
    Right,
}

/// An upright edge of a post.
#[derive(Debug, Clone, Copy)]
struct Edge {
    x: f64,
    /// Whether the rails pass in front of it.
    behind: bool,
}

/// The support at one end.
#[derive(Debug)]
pub(super) struct Outside {
    end: End,
    /// Post id; a wall has none.
    id: Option<String>,
    edges: Vec<Edge>,
    /// Furthest x from the panel.
    pub outer: f64,
    /// Where a post that stands before the rails stops hiding them.
    pub cover: Option<f64>,
}

/// How high a support stands.
pub(super) struct Standing<'a> {
    /// Where it begins, at an x.
    pub bottom: &'a dyn Fn(f64) -> f64,
    /// Where it ends.
    pub top: f64,
    /// Whether it goes on beyond its bottom and its top: then it ends in a break line.
    pub open: (bool, bool),
    /// From where to where the rails stand before it at an x, from low to high.
    pub hides: &'a dyn Fn(f64) -> Vec<(f64, f64)>,
    /// What stands behind a post's id.
    pub label: Option<String>,
    /// Height of its middle.
    pub label_at: f64,
}

/// How a support is called in titles and tables.
pub fn support_name(layout: &Layout, support: Support) -> String {
    post_at(layout, support).map_or_else(|| "wall".to_owned(), |p| p.id.clone())
}

impl Outside {
    pub(super) fn new(layout: &Layout, at: &LayoutPanel, end: End, board: &Board) -> Self {
        let clear = at.panel.span.millimetres();
        let (support, skew) = match end {
            End::Left => (at.span.from, at.span.skew_left),
            End::Right => (at.span.to, at.span.skew_right),
        };
        // Measured from the face into the panel; the right end is the left one seen in a mirror.
        let place = |x: f64| if end == End::Left { x } else { clear - x };
        let Some(post) = post_at(layout, support) else {
            let outer = place(-board.mm(WALL_MM));
            return Self { end, id: None, edges: Vec::new(), outer, cover: None };
        };
        let corners = corners(post.side.millimetres(), skew);
        let inner = corners.iter().map(|p| p.x).fold(f64::NEG_INFINITY, f64::max);
        let outer = corners.iter().map(|p| p.x).fold(f64::INFINITY, f64::min);
        // The corner nearest to the viewer, who stands at negative y.
        let near = corners.iter().min_by(|a, b| a.y.total_cmp(&b.y)).map_or(outer, |p| p.x);
        let forward = skew.degrees() > SQUARE_DEG;
        let turned = skew.degrees().abs() > SQUARE_DEG;
        let mut edges = vec![Edge { x: place(outer), behind: false }];
        if turned {
            edges.push(Edge { x: place(near), behind: false });
        }
        edges.push(Edge { x: place(inner), behind: turned && !forward });
        let cover = forward.then_some(place(inner));
        Self { end, id: Some(post.id.clone()), edges, outer: place(outer), cover }
    }

    /// Where the deck line begins or ends.
    pub(super) fn deck_from(&self, board: &Board) -> f64 {
        let beyond = if self.id.is_some() { board.mm(DECK_MM) } else { -board.mm(WALL_MM) };
        if self.end == End::Left { self.outer - beyond } else { self.outer + beyond }
    }

    /// Leftmost and rightmost x of a post; of a wall its face.
    pub(super) fn reach(&self) -> (f64, f64) {
        let xs = self.edges.iter().map(|e| e.x);
        xs.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), x| (low.min(x), high.max(x)))
    }

    /// Draws it.
    pub(super) fn draw(&self, board: &mut Board, standing: &Standing<'_>) {
        let Some(id) = &self.id else {
            self.wall(board, standing);
            return;
        };
        board.show("post", id);
        let (low, high) = self.reach();
        for edge in &self.edges {
            let hidden = if edge.behind { (standing.hides)(edge.x) } else { Vec::new() };
            let mut from = (standing.bottom)(edge.x);
            for (bottom, top) in hidden {
                upright(board, edge.x, from, bottom);
                from = top;
            }
            upright(board, edge.x, from, standing.top);
        }
        let (bottom_open, top_open) = standing.open;
        if bottom_open {
            break_line(board, low, high, (standing.bottom)(low));
        }
        if top_open {
            break_line(board, low, high, standing.top);
        } else {
            board.line(Layer::Post, plane::point(low, standing.top), plane::point(high, standing.top));
        }
        let label = standing.label.as_ref().map_or_else(|| id.clone(), |more| format!("{id}, {more}"));
        let middle = plane::point(f64::midpoint(low, high), standing.label_at);
        let mut spec = board.spec(middle, MIDDLE, &label);
        let seam = self.edges.len() > 2;
        if seam || text::width(&label, board.height(), false) + board.mm(1.6) > high - low {
            spec.rotation = Angle::from_degrees(90.0);
        }
        if seam {
            // Off the post's edge that is seen in the middle, on its wider side.
            let near = self.edges.get(1).map_or(middle.x, |e| e.x);
            spec.at.x = if near - low > high - near { f64::midpoint(low, near) } else { f64::midpoint(near, high) };
        }
        board.text(Layer::Text, spec);
        board.show_nothing();
    }

    /// The wall's face with a hatched strip behind it.
    fn wall(&self, board: &mut Board, standing: &Standing<'_>) {
        let face = if self.end == End::Left { self.outer + board.mm(WALL_MM) } else { self.outer - board.mm(WALL_MM) };
        let bottom = (standing.bottom)(face) - board.mm(WALL_MM);
        board.line(Layer::Post, plane::point(face, bottom), plane::point(face, standing.top));
        let (low, high) = (face.min(self.outer), face.max(self.outer));
        let step = board.mm(2.0);
        let width = high - low;
        let mut y = bottom;
        while y + width <= standing.top {
            board.line(Layer::Sheet, plane::point(low, y), plane::point(high, y + width));
            y += step;
        }
    }
}

/// Less than this is a saw's and a builder's square.
const SQUARE_DEG: f64 = 0.05;

/// Corners of a post whose face crosses the rail line at the origin: x into the panel, y away from the deck.
fn corners(side: f64, skew: Angle) -> [Point; 4] {
    let normal = plane::direction(skew) * (side / 2.0);
    let face = plane::left(normal);
    let centre = plane::point(-side / 2.0 / skew.cos(), 0.0);
    [centre + normal + face, centre + normal - face, centre - normal + face, centre - normal - face]
}

fn upright(board: &mut Board, x: f64, from: f64, to: f64) {
    board.line(Layer::Post, plane::point(x, from), plane::point(x, to));
}

/// A long-break line over a post's end.
fn break_line(board: &mut Board, low: f64, high: f64, y: f64) {
    let (over, jag) = (board.mm(1.0), board.mm(0.9));
    let middle = f64::midpoint(low, high);
    let points = [
        (low - over, 0.0),
        (middle - jag, 0.0),
        (middle - jag / 2.0, jag),
        (middle + jag / 2.0, -jag),
        (middle + jag, 0.0),
        (high + over, 0.0),
    ];
    board.path(Layer::Sheet, points.map(|(x, dy)| plane::point(x, y + dy)).to_vec(), false);
}
