//! A sheet in the making: what stands on it, before it has its number, frame and title strip.

use super::super::board::{BASE_LEFT, Board};
use super::super::room::Blank;
use super::super::{View, scale, text};
use crate::base::{Point, plane::point};
use crate::parts::Layout;

/// Titles against the sheet's text.
const TITLE: f64 = 1.35;

/// A sheet in the making.
#[derive(Debug)]
pub(super) struct Draft {
    pub blank: Blank,
    /// Title, without the number.
    pub title: String,
    /// What the title strip says of the scale.
    pub scale: String,
    /// Ink on the paper itself.
    pub board: Board,
    pub views: Vec<View>,
}

impl Draft {
    pub(super) fn new(layout: &Layout, blank: Blank, title: &str, scale: &str) -> Self {
        let board = Board::new(1.0, scale::text_height(&layout.measure));
        Self { blank, title: title.to_owned(), scale: scale.to_owned(), board, views: Vec::new() }
    }
}

/// Title and lines under or over a drawing, wrapped to a width. `top` is the upper left corner; gives the y below the last.
pub(super) fn caption(board: &mut Board, top: Point, room: f64, title: &str, lines: &[String]) -> f64 {
    let height = board.height();
    let mut y = top.y - height * TITLE;
    board.heading(point(top.x, y), TITLE, title);
    board.rule(
        point(top.x, y - board.mm(1.2)),
        text::width(title, height * TITLE, true).max(board.mm(40.0)).min(room),
        0.35,
    );
    y -= board.mm(1.6);
    for line in lines.iter().flat_map(|l| text::wrap(l, height, room)) {
        y -= height * 1.6;
        board.write(point(top.x, y), BASE_LEFT, &line);
    }
    y - height * 0.4
}

/// Height that [`caption`] takes.
pub(super) fn caption_height(board: &Board, room: f64, lines: &[String]) -> f64 {
    let height = board.height();
    let count = lines.iter().flat_map(|l| text::wrap(l, height, room)).count();
    height * (TITLE + 1.6 * count as f64 + 0.4) + board.mm(1.6)
}
