//! Rows of running marks: a tick and an upright text at each, all measured from the same end.

use crate::base::{Point, plane};

use super::Layer;
use super::board::{Board, MIDDLE_LEFT, MIDDLE_RIGHT};
use super::dimension::spread;
use super::text;

/// Least distance between the axes of neighbouring texts, in text heights.
pub(super) const GAP: f64 = 1.45;
/// Tick on each side of the row's line, paper mm.
const TICK_MM: f64 = 0.9;
/// From the line to the text, paper mm; and what the bend of a leader adds.
const STEM_MM: f64 = 1.8;
const BEND_MM: f64 = 2.4;

/// A row of running marks.
#[derive(Debug)]
pub(super) struct Running {
    /// Where the marks count from, before `base`.
    pub origin: Point,
    /// Direction of the row, of length 1, from left to right.
    pub along: Point,
    /// How far above the origin the row's line runs, square to its direction.
    pub base: f64,
    /// Whether the texts stand above the line, else below.
    pub up: bool,
    /// Place along the row and text of each mark, from left to right.
    pub marks: Vec<(f64, String)>,
    /// Where the row's line runs, if it is drawn.
    pub rule: Option<(f64, f64)>,
}

impl Running {
    /// A level row that counts from x = 0, its line at y = `base`.
    pub(super) const fn level(base: f64, up: bool, marks: Vec<(f64, String)>) -> Self {
        Self { origin: plane::point(0.0, 0.0), along: plane::point(1.0, 0.0), base, up, marks, rule: None }
    }

    fn at(&self, along: f64, above: f64) -> Point {
        self.origin + self.along * along + plane::left(self.along) * above
    }
}

/// Draws a row, texts that would touch moved apart on bent leaders. Gives how far above the origin the longest text ends.
pub(super) fn draw(board: &mut Board, row: &Running) -> f64 {
    let sign = if row.up { 1.0 } else { -1.0 };
    let wanted: Vec<f64> = row.marks.iter().map(|m| m.0).collect();
    let places = spread(&wanted, board.height() * GAP);
    let moved = wanted.iter().zip(&places).any(|(a, b)| (a - b).abs() > board.mm(0.05));
    let tick = board.mm(TICK_MM) * sign;
    let stem = board.mm(STEM_MM) * sign;
    let bend = if moved { board.mm(BEND_MM) * sign } else { 0.0 };
    let from = row.base + stem + bend;
    if let Some((a, b)) = row.rule {
        board.line(Layer::Dims, row.at(a, row.base), row.at(b, row.base));
    }
    // Texts stand square to the row, and are read from below or from the right.
    let upright = plane::left(row.along);
    let rotation = text::readable(plane::angle_of(upright));
    let reads_up = plane::dot(plane::direction(rotation), upright) > 0.0;
    let anchor = if reads_up == row.up { MIDDLE_LEFT } else { MIDDLE_RIGHT };
    let mut longest: f64 = 0.0;
    for ((x, content), place) in row.marks.iter().zip(places) {
        let y = |off: f64| row.base + off;
        let tail = board.mm(0.5) * sign;
        let leader = vec![
            row.at(*x, y(-tick)),
            row.at(*x, y(tick)),
            row.at(place, from - stem + tick),
            row.at(place, from - tail),
        ];
        board.path(Layer::Dims, leader, false);
        let mut spec = board.spec(row.at(place, from), anchor, content);
        spec.rotation = rotation;
        board.text(Layer::Dims, spec);
        longest = longest.max(text::width(content, board.height(), false));
    }
    from + longest * sign
}
