//! Rows of running marks: a tick and an upright text at each, all measured from the same end.

use crate::base::{Angle, plane};

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
    /// y of the row's line.
    pub base: f64,
    /// Whether the texts stand above the line, else below.
    pub up: bool,
    /// x and text of each mark, from left to right.
    pub marks: Vec<(f64, String)>,
    /// Where the row's line runs, if it is drawn.
    pub rule: Option<(f64, f64)>,
}

/// Draws a row, texts that would touch moved apart on bent leaders. Gives the y where the longest text ends.
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
        board.line(Layer::Dims, plane::point(a, row.base), plane::point(b, row.base));
    }
    let mut longest: f64 = 0.0;
    for ((x, content), place) in row.marks.iter().zip(places) {
        let y = |off: f64| row.base + off;
        let tail = board.mm(0.5) * sign;
        let leader = vec![
            plane::point(*x, y(-tick)),
            plane::point(*x, y(tick)),
            plane::point(place, from - stem + tick),
            plane::point(place, from - tail),
        ];
        board.path(Layer::Dims, leader, false);
        let mut spec = board.spec(plane::point(place, from), if row.up { MIDDLE_LEFT } else { MIDDLE_RIGHT }, content);
        spec.rotation = Angle::from_degrees(90.0);
        board.text(Layer::Dims, spec);
        longest = longest.max(text::width(content, board.height(), false));
    }
    from + longest * sign
}
