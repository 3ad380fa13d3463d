//! Ruled tables whose columns are as wide as their texts.

use crate::base::{Point, plane};

use super::board::{Board, MIDDLE_LEFT, MIDDLE_RIGHT};
use super::text;
use super::{Layer, TextSpec};

/// Room left and right of a cell's text, paper mm.
const PAD_MM: f64 = 1.7;
/// Height of a row of one line, and of each further line, in text heights.
const ROW: f64 = 2.1;
const LINE: f64 = 1.6;
/// Size of the title against the text, and the room it takes with its gap, in text heights.
const TITLE: f64 = 1.3;
const TITLE_ROOM: f64 = 2.6;

/// A column.
#[derive(Debug)]
pub(super) struct Column {
    head: String,
    right: bool,
    /// Widest text before it wraps, paper mm.
    wrap_mm: Option<f64>,
}

impl Column {
    /// Words, from the left.
    pub(super) fn text(head: impl Into<String>) -> Self {
        Self { head: head.into(), right: false, wrap_mm: None }
    }

    /// Numbers, to the right.
    pub(super) fn number(head: impl Into<String>) -> Self {
        Self { head: head.into(), right: true, wrap_mm: None }
    }

    /// Sentences: wrapped at a width in paper mm.
    pub(super) fn wrapped(head: impl Into<String>, wrap_mm: f64) -> Self {
        Self { head: head.into(), right: false, wrap_mm: Some(wrap_mm) }
    }
}

/// A table: its rows have a cell for each column.
#[derive(Debug)]
pub(super) struct Table {
    pub title: &'static str,
    pub columns: Vec<Column>,
    pub rows: Vec<Vec<String>>,
    /// Lines under it.
    pub notes: Vec<String>,
}

/// Cells broken into lines, and what room they need.
struct Set {
    rows: Vec<Vec<Vec<String>>>,
    widths: Vec<f64>,
    heights: Vec<f64>,
    head: f64,
    notes: Vec<String>,
}

impl Table {
    fn set(&self, board: &Board) -> Set {
        let height = board.height();
        let lines = |cell: &String, column: &Column| match column.wrap_mm {
            Some(mm) => text::wrap(cell, height, board.mm(mm)),
            None => vec![cell.clone()],
        };
        let row = |row: &Vec<String>| -> Vec<Vec<String>> {
            row.iter().zip(&self.columns).map(|(cell, column)| lines(cell, column)).collect()
        };
        let rows: Vec<Vec<Vec<String>>> = self.rows.iter().map(row).collect();
        let width = |(index, column): (usize, &Column)| {
            let cells = rows.iter().filter_map(|r| r.get(index)).flatten();
            let widest = cells.map(|line| text::width(line, height, false)).fold(0.0, f64::max);
            widest.max(text::width(&column.head, height, true)) + 2.0 * board.mm(PAD_MM)
        };
        let widths: Vec<f64> = self.columns.iter().enumerate().map(width).collect();
        let tall = |row: &Vec<Vec<String>>| {
            let lines = row.iter().map(Vec::len).max().unwrap_or(1).max(1);
            height * (ROW + LINE * (lines - 1) as f64)
        };
        let total: f64 = widths.iter().sum();
        let notes = self.notes.iter().flat_map(|n| text::wrap(n, height, total.max(board.mm(60.0)))).collect();
        Set { heights: rows.iter().map(tall).collect(), rows, widths, head: height * ROW, notes }
    }

    /// Width and height with title and notes.
    pub(super) fn size(&self, board: &Board) -> Point {
        let set = self.set(board);
        let body = board.height() * TITLE_ROOM + set.head + set.heights.iter().sum::<f64>();
        let notes = set.notes.len() as f64 * board.height() * LINE;
        let title = text::width(self.title, board.height() * TITLE, true);
        plane::point(set.widths.iter().sum::<f64>().max(title), body + notes)
    }

    /// Draws it with its upper left corner at `corner`.
    pub(super) fn draw(&self, board: &mut Board, corner: Point) {
        let set = self.set(board);
        let height = board.height();
        let total: f64 = set.widths.iter().sum();
        board.show("table", self.title);
        board.heading(plane::point(corner.x, corner.y - height * TITLE), TITLE, self.title);
        let top = corner.y - height * TITLE_ROOM;
        board.rule(plane::point(corner.x, top + board.mm(0.2)), total, 0.4);
        let heads: Vec<Vec<String>> = self.columns.iter().map(|c| vec![c.head.clone()]).collect();
        self.cells(board, &heads, &set.widths, plane::point(corner.x, top), true);
        let mut y = top - set.head;
        board.rule(plane::point(corner.x, y + board.mm(0.12)), total, 0.24);
        for (row, tall) in set.rows.iter().zip(&set.heights) {
            self.cells(board, row, &set.widths, plane::point(corner.x, y), false);
            y -= tall;
            board.line(Layer::Sheet, plane::point(corner.x, y), plane::point(corner.x + total, y));
        }
        let mut x = corner.x;
        for edge in set.widths.iter().map(|w| Some(*w)).chain([None]) {
            board.line(Layer::Sheet, plane::point(x, top), plane::point(x, y));
            x += edge.unwrap_or(0.0);
        }
        for note in &set.notes {
            y -= height * LINE;
            board.write(plane::point(corner.x, y), super::board::BASE_LEFT, note);
        }
        board.show_nothing();
    }

    fn cells(&self, board: &mut Board, row: &[Vec<String>], widths: &[f64], corner: Point, bold: bool) {
        let pad = board.mm(PAD_MM);
        let height = board.height();
        let mut x = corner.x;
        for ((lines, column), width) in row.iter().zip(&self.columns).zip(widths) {
            let (at, anchor) = if column.right { (x + width - pad, MIDDLE_RIGHT) } else { (x + pad, MIDDLE_LEFT) };
            let mut y = corner.y - height * ROW / 2.0;
            let mut specs = Vec::new();
            for line in lines.iter().filter(|l| !l.is_empty()) {
                specs.push(TextSpec { bold, ..board.spec(plane::point(at, y), anchor, line) });
                y -= height * LINE;
            }
            board.paragraph(specs);
            x += width;
        }
    }
}
