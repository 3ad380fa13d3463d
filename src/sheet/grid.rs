//! Ruled tables whose columns are as wide as their texts.

use std::ops::Range;

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
pub struct Column {
    head: String,
    right: bool,
    /// Widest text before it wraps, paper mm.
    wrap_mm: Option<f64>,
}

impl Column {
    /// What stands above it.
    pub fn head(&self) -> &str {
        &self.head
    }

    /// Whether it holds numbers, which stand to the right.
    pub const fn is_number(&self) -> bool {
        self.right
    }

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
pub struct Table {
    /// What it lists.
    pub title: &'static str,
    /// Its columns.
    pub columns: Vec<Column>,
    /// Its rows.
    pub rows: Vec<Vec<String>>,
    /// Lines under it.
    pub notes: Vec<String>,
}

/// A table whose cells are broken into lines: what room it needs, and how it is drawn, all of it or some of its rows.
pub(super) struct Set<'a> {
    table: &'a Table,
    heads: Vec<Vec<String>>,
    rows: Vec<Vec<Vec<String>>>,
    widths: Vec<f64>,
    heights: Vec<f64>,
    head: f64,
    line: f64,
    notes: Vec<String>,
}

/// The narrowest that a column of words is made, paper mm, and by how much it gives way at a time.
const NARROWEST_MM: f64 = 16.0;
const NARROWER: f64 = 0.88;

impl Table {
    /// Sets the table on a board.
    pub(super) fn set(&self, board: &Board) -> Set<'_> {
        let wraps: Vec<Option<f64>> = self.columns.iter().map(|c| c.wrap_mm.map(|mm| board.mm(mm))).collect();
        self.set_with(board, &wraps)
    }

    /// Sets the table in a width, its widest columns of words made narrower as it takes. What cannot be made narrower stays
    /// wider than the room.
    pub(super) fn set_within(&self, board: &Board, room: f64) -> Set<'_> {
        let mut wraps: Vec<Option<f64>> = self.columns.iter().map(|c| c.wrap_mm.map(|mm| board.mm(mm))).collect();
        let pad = 2.0 * board.mm(PAD_MM);
        loop {
            let set = self.set_with(board, &wraps);
            let words = set.widths.iter().enumerate().filter(|(i, w)| {
                let words = self.columns.get(*i).into_iter().flat_map(|c| c.head.split(' '));
                let head = words.map(|word| text::width(word, board.height(), true)).fold(0.0, f64::max);
                let least = head.max(board.mm(NARROWEST_MM)) + pad;
                self.columns.get(*i).is_some_and(|c| !c.right) && **w > least
            });
            let widest = words.max_by(|a, b| a.1.total_cmp(b.1)).map(|(i, w)| (i, *w));
            match widest {
                Some((index, width)) if set.width() > room => {
                    if let Some(wrap) = wraps.get_mut(index) {
                        *wrap = Some((width - pad) * NARROWER);
                    }
                }
                _ => return set,
            }
        }
    }

    fn set_with(&self, board: &Board, wraps: &[Option<f64>]) -> Set<'_> {
        let height = board.height();
        let lines = |cell: &String, wrap: &Option<f64>| match wrap {
            Some(room) => text::wrap(cell, height, *room),
            None => vec![cell.clone()],
        };
        let row = |row: &Vec<String>| -> Vec<Vec<String>> {
            row.iter().zip(wraps).map(|(cell, wrap)| lines(cell, wrap)).collect()
        };
        let rows: Vec<Vec<Vec<String>>> = self.rows.iter().map(row).collect();
        let head = |(column, wrap): (&Column, &Option<f64>)| match wrap {
            Some(room) => text::wrap_bold(&column.head, height, *room),
            None => vec![column.head.clone()],
        };
        let heads: Vec<Vec<String>> = self.columns.iter().zip(wraps).map(head).collect();
        let width = |(index, head): (usize, &Vec<String>)| {
            let cells = rows.iter().filter_map(|r| r.get(index)).flatten();
            let widest = cells.map(|line| text::width(line, height, false)).fold(0.0, f64::max);
            let head = head.iter().map(|line| text::width(line, height, true)).fold(0.0, f64::max);
            widest.max(head) + 2.0 * board.mm(PAD_MM)
        };
        let widths: Vec<f64> = heads.iter().enumerate().map(width).collect();
        let tall = |row: &Vec<Vec<String>>| {
            let lines = row.iter().map(Vec::len).max().unwrap_or(1).max(1);
            height * (ROW + LINE * (lines - 1) as f64)
        };
        let total: f64 = widths.iter().sum();
        let notes = self.notes.iter().flat_map(|n| text::wrap(n, height, total.max(board.mm(60.0)))).collect();
        Set {
            table: self,
            heights: rows.iter().map(tall).collect(),
            head: tall(&heads),
            heads,
            rows,
            widths,
            line: height,
            notes,
        }
    }
}

impl Set<'_> {
    /// How many rows there are.
    pub(super) fn count(&self) -> usize {
        self.rows.len()
    }

    fn width(&self) -> f64 {
        self.widths.iter().sum()
    }

    fn title(&self, from: usize) -> String {
        if from == 0 { self.table.title.to_owned() } else { format!("{}, continued", self.table.title) }
    }

    /// Width and height of some rows with the title, and with the notes after the last row.
    pub(super) fn size(&self, rows: &Range<usize>) -> Point {
        let body =
            self.line * TITLE_ROOM + self.head + self.heights.get(rows.clone()).unwrap_or_default().iter().sum::<f64>();
        let notes = if rows.end == self.count() { self.notes.len() as f64 * self.line * LINE } else { 0.0 };
        let title = text::width(&self.title(rows.start), self.line * TITLE, true);
        plane::point(self.width().max(title), body + notes)
    }

    /// The end of the longest range of rows from `from` on that is no taller than `room`; notes go with the last row.
    pub(super) fn end_within(&self, from: usize, room: f64) -> usize {
        let mut left = room - self.line * TITLE_ROOM - self.head;
        let rows = self.heights.iter().skip(from).take_while(|tall| {
            left -= **tall;
            left >= 0.0
        });
        let end = from + rows.count();
        let notes = self.notes.len() as f64 * self.line * LINE;
        // The last row needs room for the notes as well.
        if end == self.count() && left < notes { end.saturating_sub(1).max(from) } else { end }
    }

    /// Draws some rows with the upper left corner of their title at `corner`.
    pub(super) fn draw(&self, board: &mut Board, corner: Point, rows: &Range<usize>) {
        let height = self.line;
        let total = self.width();
        board.show("table", self.table.title);
        board.heading(plane::point(corner.x, corner.y - height * TITLE), TITLE, &self.title(rows.start));
        let top = corner.y - height * TITLE_ROOM;
        board.rule(plane::point(corner.x, top + board.mm(0.2)), total, 0.4);
        self.cells(board, &self.heads, plane::point(corner.x, top), true);
        let mut y = top - self.head;
        board.rule(plane::point(corner.x, y + board.mm(0.12)), total, 0.24);
        let of_rows = self.rows.iter().zip(&self.heights);
        for (row, tall) in of_rows.skip(rows.start).take(rows.len()) {
            self.cells(board, row, plane::point(corner.x, y), false);
            y -= tall;
            board.line(Layer::Sheet, plane::point(corner.x, y), plane::point(corner.x + total, y));
        }
        let mut x = corner.x;
        for edge in self.widths.iter().map(|w| Some(*w)).chain([None]) {
            board.line(Layer::Sheet, plane::point(x, top), plane::point(x, y));
            x += edge.unwrap_or(0.0);
        }
        for note in self.notes.iter().filter(|_| rows.end == self.count()) {
            y -= height * LINE;
            board.write(plane::point(corner.x, y), super::board::BASE_LEFT, note);
        }
        board.show_nothing();
    }

    fn cells(&self, board: &mut Board, row: &[Vec<String>], corner: Point, bold: bool) {
        let pad = board.mm(PAD_MM);
        let height = self.line;
        let mut x = corner.x;
        for ((lines, column), width) in row.iter().zip(&self.table.columns).zip(&self.widths) {
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
