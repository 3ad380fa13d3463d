//! Pieces on pages: side by side in rows, row under row, each with its heading; at the foot of every page the bar and the
//! words by which a print is checked.

use std::sync::Arc;

use crate::base::{Measure, Point, plane};
use crate::parts::Layout;

use super::super::board::{BASE_LEFT, Board, MIDDLE_RIGHT};
use super::super::{Layer, Linetype, Page, View, text};
use super::stick::{Piece, TEXT_MM};
use super::{TemplatePaper, bar};

/// Clear margin of a page, mm: printers leave up to 12 mm of a sheet white (common practice).
const MARGIN_MM: f64 = 12.0;
/// Height of the foot of a page, mm.
const FOOT_MM: f64 = 13.5;
/// Breadth of what stands beside a stick, mm.
const SIDE_MM: f64 = 17.0;
/// Between pieces, side by side and one over the other, mm.
const BETWEEN_MM: (f64, f64) = (10.0, 1.0);
/// Under a piece, for the words at its cut line, mm.
const UNDER_MM: f64 = 3.0;
/// A piece takes at least this breadth, so that its heading finds room, mm.
const LEAST_MM: f64 = 78.0;
/// Width of a roll that plotters commonly take, 24 in (common practice), mm.
const ROLL_MM: f64 = 609.6;
/// Longest page of a PDF document: 14,400 units of 1/72 in (ISO 32000-1, annex C), mm.
const LONGEST_MM: f64 = 5080.0;
/// Breadth of the words beside the bar, mm.
const WORDS_MM: f64 = 96.0;
/// Arrow to the zero of a stick: length, head, half breadth of the head, mm.
const ARROW_MM: (f64, f64, f64) = (9.0, 3.0, 0.8);

/// What pages may be.
pub(super) struct Sheet {
    /// Largest width and height of a page, mm.
    most: Point,
    /// Whether pages are no larger than what stands on them.
    shrinks: bool,
}

/// A piece in its place: its upper left corner.
struct Placed<'a> {
    piece: &'a Piece,
    at: Point,
    /// Lines of its heading.
    head: Head,
}

/// What stands over a piece, broken into lines.
struct Head {
    bold: Vec<String>,
    plain: Vec<String>,
    /// Height of it.
    height: f64,
}

impl Sheet {
    pub(super) fn of(paper: TemplatePaper) -> Self {
        match paper {
            TemplatePaper::Roll => Self { most: plane::point(LONGEST_MM, ROLL_MM), shrinks: true },
            TemplatePaper::Tiled(paper) => {
                let (short, long) = paper.sides_mm();
                Self { most: plane::point(long, short), shrinks: false }
            }
        }
    }

    /// Longest part of a stick that a page has room for, mm.
    pub(super) fn most_window(&self) -> f64 {
        self.most.x - 2.0 * MARGIN_MM - SIDE_MM
    }
}

fn window(piece: &Piece) -> Point {
    piece.window.1 - piece.window.0
}

fn beside(piece: &Piece) -> f64 {
    if piece.side.is_empty() { 0.0 } else { SIDE_MM }
}

fn width(piece: &Piece) -> f64 {
    (window(piece).x + beside(piece)).max(if piece.heading.is_empty() { 0.0 } else { LEAST_MM })
}

fn head(board: &Board, piece: &Piece) -> Head {
    if piece.heading.is_empty() {
        return Head { bold: Vec::new(), plain: Vec::new(), height: 0.0 };
    }
    let (room, height) = (width(piece), board.height());
    let arrow = if piece.zero.is_empty() { 0.0 } else { text::width(piece.zero, height, false) + ARROW_MM.0 + 4.0 };
    // Bold letters are wider than the measure of `wrap`.
    let bold = text::wrap(&piece.heading, height * 1.16, (room - arrow).max(room * 0.4));
    let plain: Vec<String> = piece.lines.iter().flat_map(|l| text::wrap(l, height, room)).collect();
    let lines = bold.len() + plain.len();
    Head { bold, plain, height: lines as f64 * line(board) + 1.0 }
}

fn line(board: &Board) -> f64 {
    board.height() * 1.6
}

/// All pages.
pub(super) fn pages(layout: &Layout, sheet: &Sheet, pieces: &[Piece]) -> Vec<Page> {
    let board = Board::new(1.0, TEXT_MM);
    let mut room = sheet.most - plane::point(2.0 * MARGIN_MM, 2.0 * MARGIN_MM + FOOT_MM);
    if sheet.shrinks {
        // No print is longer than its longest stick.
        room.x = pieces.iter().map(width).fold(0.0, f64::max).min(room.x);
    }
    let mut all: Vec<Vec<Placed<'_>>> = vec![Vec::new()];
    // Upper left corner of the next piece, from that of the page's room; height of its row.
    let (mut at, mut row) = (plane::point(0.0, 0.0), 0.0_f64);
    for piece in pieces {
        let head = head(&board, piece);
        let tall = head.height + window(piece).y + UNDER_MM;
        if at.x > 0.0 && at.x + width(piece) > room.x + 1e-6 {
            (at, row) = (plane::point(0.0, at.y - row - BETWEEN_MM.1), 0.0);
        }
        if at.y < 0.0 && -at.y + tall > room.y + 1e-6 {
            all.push(Vec::new());
            (at, row) = (plane::point(0.0, 0.0), 0.0);
        }
        let placed = Placed { piece, at, head };
        at.x += width(piece) + BETWEEN_MM.0;
        row = row.max(tall);
        if let Some(page) = all.last_mut() {
            page.push(placed);
        }
    }
    let count = all.len();
    (1..).zip(&all).map(|(number, placed)| page(layout, sheet, placed, (number, count))).collect()
}

fn page(layout: &Layout, sheet: &Sheet, placed: &[Placed<'_>], (number, count): (usize, usize)) -> Page {
    let size = size(layout, sheet, placed);
    let mut board = Board::new(1.0, TEXT_MM);
    let corner = plane::point(MARGIN_MM, size.y - MARGIN_MM);
    let mut views = Vec::new();
    for one in placed {
        let piece = one.piece;
        let top = corner + one.at - plane::point(0.0, one.head.height);
        let at = top + plane::point(beside(piece), -window(piece).y);
        views.push(View { drawing: piece.drawing.clone(), behind: Arc::default(), window: piece.window, at });
        heading(&mut board, one, corner + one.at);
        around(&mut board, piece, at);
    }
    let page = format!("T{number} of {count}");
    foot(&mut board, layout, size, &page);
    let names: Vec<&str> = placed.iter().map(|one| one.piece.name.as_str()).collect();
    let title = format!("Templates: {}", names.join(", "));
    let number = format!("T{number}");
    let ink = board.finish(&number, title.clone(), Some((plane::point(0.0, 0.0), size)));
    Page { number, title, size, ink, views }
}

/// The sheet's size, or on a roll what is needed.
fn size(layout: &Layout, sheet: &Sheet, placed: &[Placed<'_>]) -> Point {
    if !sheet.shrinks {
        return sheet.most;
    }
    let far = |one: &Placed<'_>| {
        let tall = one.head.height + window(one.piece).y + UNDER_MM;
        one.at + plane::point(width(one.piece), -tall)
    };
    let least = bar::length(&layout.measure).0 + 6.0 + WORDS_MM;
    let wide = placed.iter().map(|one| far(one).x).fold(least, f64::max);
    let deep = placed.iter().map(|one| -far(one).y).fold(0.0, f64::max);
    plane::point(wide + 2.0 * MARGIN_MM, deep + FOOT_MM + 2.0 * MARGIN_MM)
}

fn heading(board: &mut Board, one: &Placed<'_>, corner: Point) {
    let piece = one.piece;
    board.show("heading", &piece.name);
    let mut y = corner.y - board.height() - 0.2;
    if !piece.zero.is_empty() && !piece.heading.is_empty() {
        arrow(board, piece.zero, plane::point(corner.x + width(piece), y + board.height() / 2.0));
    }
    for content in &one.head.bold {
        board.heading(plane::point(corner.x, y), 1.0, content);
        y -= line(board);
    }
    for content in &one.head.plain {
        board.write(plane::point(corner.x, y), BASE_LEFT, content);
        y -= line(board);
    }
    board.show_nothing();
}

/// An arrow to the left with what lies there, both ending at `end`.
fn arrow(board: &mut Board, words: &str, end: Point) {
    board.write(end, MIDDLE_RIGHT, words);
    let (long, head, half) = ARROW_MM;
    let tail = end - plane::point(text::width(words, board.height(), false) + 1.5, 0.0);
    let tip = tail - plane::point(long, 0.0);
    let neck = tip + plane::point(head, 0.0);
    board.path(Layer::Text, vec![tail, neck], false);
    board.solid(Layer::Text, vec![tip, neck - plane::point(0.0, half), neck + plane::point(0.0, half)]);
}

/// Names of the rows and the cut line of a piece whose lower left corner is at `at`.
fn around(board: &mut Board, piece: &Piece, at: Point) {
    board.show("row", &piece.name);
    for (middle, lines) in &piece.side {
        let mut y = at.y + middle - piece.window.0.y + line(board) * 0.5 * (lines.len() as f64 - 1.0);
        for content in lines {
            board.write(plane::point(at.x - 1.6, y), MIDDLE_RIGHT, content);
            y -= line(board);
        }
    }
    if let Some(cut) = piece.cut {
        let x = at.x + cut - piece.window.0.x;
        let (low, high) = (at.y - 1.0, at.y + window(piece).y + 0.8);
        board.show("cut", &piece.name);
        board.patterned(Layer::Sheet, Linetype::Hidden, vec![plane::point(x, low), plane::point(x, high)], false);
        board.write(plane::point(x + 1.0, at.y - 2.6), BASE_LEFT, "cut here");
    }
    board.show_nothing();
}

/// The bar with its words, the job and the number of the page.
fn foot(board: &mut Board, layout: &Layout, size: Point, page: &str) {
    let measure: &Measure = &layout.measure;
    let (long, words) = bar::length(measure);
    let at = plane::point(MARGIN_MM, MARGIN_MM + 1.6);
    bar::draw(board, at, measure);
    board.show("notes", "scale");
    let x = MARGIN_MM + long + 6.0;
    let measure_it = format!("Measure the bar before use: it is {words} long.");
    let first = "Print at 100 %, not fitted to the page.".to_owned();
    let name = layout.project.name.as_deref().unwrap_or(&layout.plan.file);
    let mut y = MARGIN_MM + 0.8 + 2.0 * line(board);
    for (content, bold) in [(first, true), (measure_it, true), (name.to_owned(), false)] {
        let room = size.x - MARGIN_MM - x - if bold { 0.0 } else { 22.0 };
        let content = text::wrap(&content, board.height() * if bold { 1.16 } else { 1.0 }, room);
        let Some(content) = content.first().filter(|c| !c.is_empty()) else { continue };
        let mut spec = board.spec(plane::point(x, y), BASE_LEFT, content);
        spec.bold = bold;
        board.text(Layer::Text, spec);
        y -= line(board);
    }
    let spec = board.spec(plane::point(size.x - MARGIN_MM, MARGIN_MM + 0.8 + board.height() / 2.0), MIDDLE_RIGHT, page);
    board.text(Layer::Text, spec);
    board.show_nothing();
}
