//! The cautions that stand on every drawing and under every schedule.

use crate::base::{Point, plane};

use super::board::{BASE_LEFT, Board};
use super::text;

/// What a reader must know before acting on a layout.
pub const CAUTIONS: [&str; 4] = [
    "Local amendments and the authority having jurisdiction decide.",
    "Follow the rail system manufacturer's listing and installation instructions; where these sheets differ, the manufacturer's hold.",
    "Have a licensed professional design the posts and their fastening where that is required.",
    "Measure every opening on site before cutting.",
];

/// Writes the cautions in a column of width `room` that begins at `top`, the upper left corner of its first line.
pub(super) fn column(board: &mut Board, top: Point, room: f64) {
    let height = board.height();
    let step = height * 1.7;
    let mut y = top.y - height;
    for caution in CAUTIONS {
        let mut lines = Vec::new();
        for line in text::wrap(caution, height, room) {
            lines.push(board.spec(plane::point(top.x, y), BASE_LEFT, &line));
            y -= step;
        }
        board.paragraph(lines);
    }
}

/// Writes them under everything that is on the board.
pub(super) fn below(board: &mut Board) {
    if let Some((low, high)) = board.bounds() {
        let room = (high.x - low.x).max(board.mm(110.0));
        column(board, plane::point(low.x, low.y - board.mm(6.0)), room);
    }
}
