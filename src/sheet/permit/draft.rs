//! A sheet in the making: what stands on it, before it has its number, frame and title strip.

use super::super::board::{BASE_LEFT, Board};
use super::super::room::Blank;
use super::super::{View, scale, text};
use crate::base::{Point, plane::point};
use crate::parts::Layout;

/// Titles against the sheet's text, and from line to line of one.
const TITLE: f64 = 1.35;
const TITLE_STEP: f64 = 1.9;

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

/// Title and lines of a drawing or a list.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Caption {
    pub title: String,
    pub lines: Vec<String>,
}

impl Caption {
    pub(super) fn of(title: &str) -> Self {
        Self { title: title.to_owned(), lines: Vec::new() }
    }

    /// Over what had no room under the first caption.
    pub(super) fn continued(&self) -> Self {
        Self::of(&format!("{}, continued", self.title))
    }

    fn title_lines(&self, board: &Board, room: f64) -> Vec<String> {
        text::wrap_bold(&self.title, board.height() * TITLE, room)
    }
}

/// Writes a caption, wrapped to a width. `top` is its upper left corner; gives the y below the last line.
pub(super) fn caption(board: &mut Board, top: Point, room: f64, caption: &Caption) -> f64 {
    let height = board.height();
    let mut y = top.y;
    let mut wide: f64 = 0.0;
    for title in caption.title_lines(board, room) {
        y -= height * TITLE_STEP;
        board.heading(point(top.x, y), TITLE, &title);
        wide = wide.max(text::width(&title, height * TITLE, true));
    }
    board.rule(point(top.x, y - board.mm(1.2)), wide.max(board.mm(40.0)).min(room), 0.35);
    y -= board.mm(1.6);
    for line in caption.lines.iter().flat_map(|l| text::wrap(l, height, room)) {
        y -= height * 1.6;
        board.write(point(top.x, y), BASE_LEFT, &line);
    }
    y - height * 0.4
}

/// Height that a caption takes.
pub(super) fn caption_height(board: &Board, room: f64, caption: &Caption) -> f64 {
    let height = board.height();
    let titles = caption.title_lines(board, room).len() as f64;
    let lines = caption.lines.iter().flat_map(|l| text::wrap(l, height, room)).count() as f64;
    height * (TITLE_STEP * titles + 1.6 * lines + 0.4) + board.mm(1.6)
}
