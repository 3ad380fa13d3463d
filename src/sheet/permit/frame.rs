//! Frame, title strip and cautions of a sheet.

use super::super::board::{BASE_LEFT, Board, rectangle};
use super::super::caution::CAUTIONS;
use super::super::room::{MARGIN_MM, STRIP_MM};
use super::super::scale::LEAST_TEXT_MM;
use super::super::{Layer, Page, text};
use super::draft::Draft;
use crate::base::{Point, plane::point};
use crate::catalog::Revision;
use crate::parts::Layout;

/// Thickness of the frame, and of the strip's inner lines, mm (ISO 128: wide and narrow lines two to one).
const FRAME_MM: f64 = 0.7;
/// Room between a cell's edge and its text, mm.
const PAD_MM: f64 = 2.0;
/// Breadth of the cells of the strip, in parts of the whole.
const CELLS: [f64; 5] = [0.29, 0.26, 0.17, 0.17, 0.11];
/// Rows of the cell with names and date, and of the revisions.
const ROWS: usize = 4;
/// Revisions that the strip has room for.
pub(super) const SHOWN_REVISIONS: usize = ROWS - 1;

/// Draws what all sheets have, and closes the sheet.
pub(super) fn finish(layout: &Layout, draft: Draft, number: usize, count: usize) -> Page {
    let Draft { blank, title, scale, mut board, views } = draft;
    let size = blank.size;
    let (low, high) = (point(MARGIN_MM, MARGIN_MM), size - point(MARGIN_MM, MARGIN_MM));
    board.show("frame", "frame");
    frame(&mut board, low, high);
    let strip = point(high.x, low.y + STRIP_MM);
    board.rule(point(low.x, strip.y), high.x - low.x, FRAME_MM / 2.0);
    cautions(&mut board, low.x + PAD_MM, strip.y + blank.cautions_mm(), high.x - low.x - 2.0 * PAD_MM);
    let number = format!("R{number}");
    let cells = cells(low, strip);
    for cell in cells.iter().skip(1) {
        board.line(Layer::Sheet, cell.0, point(cell.0.x, strip.y));
    }
    let [project, sheet, names, revisions, mark] = cells;
    board.show("title", "title");
    project_cell(&mut board, layout, project);
    sheet_cell(&mut board, layout, sheet, (&title, &scale));
    names_cell(&mut board, layout, names);
    revision_cell(&mut board, &layout.project.revisions, revisions);
    number_cell(&mut board, mark, (&number, count));
    board.show_nothing();
    let ink = board.finish(&number, format!("{number} {title}"), Some((point(0.0, 0.0), size)));
    Page { number, title, size, ink, views }
}

/// Four bars, since the sheet's own pen is thin.
fn frame(board: &mut Board, low: Point, high: Point) {
    let (t, w, h) = (FRAME_MM / 2.0, high.x - low.x, high.y - low.y);
    for (a, b) in [
        (point(-t, -t), point(w + t, t)),
        (point(-t, h - t), point(w + t, h + t)),
        (point(-t, t), point(t, h - t)),
        (point(w - t, t), point(w + t, h - t)),
    ] {
        board.solid(Layer::Sheet, rectangle(low + a, low + b));
    }
}

type Cell = (Point, Point);

fn cells(low: Point, high: Point) -> [Cell; 5] {
    let width = high.x - low.x;
    let mut x = low.x;
    CELLS.map(|share| {
        let cell = (point(x, low.y), point(x + share * width, high.y));
        x += share * width;
        cell
    })
}

fn cautions(board: &mut Board, left: f64, top: f64, room: f64) {
    let lines = text::wrap(&CAUTIONS.join(" "), LEAST_TEXT_MM, room);
    let mut y = top - LEAST_TEXT_MM * 1.2;
    for line in lines {
        small(board, point(left, y), &line);
        y -= LEAST_TEXT_MM * 1.6;
    }
}

/// A line of the smallest text.
fn small(board: &mut Board, at: Point, content: &str) {
    let mut spec = board.spec(at, BASE_LEFT, content);
    spec.height = LEAST_TEXT_MM;
    board.text(Layer::Text, spec);
}

/// A line no wider than `room`: made smaller, then cut short, as it takes; nothing where there is none.
fn fitted(board: &mut Board, at: Point, room: f64, (content, factor): (&str, f64), bold: bool) {
    if content.is_empty() {
        return;
    }
    let mut spec = board.spec(at, BASE_LEFT, content);
    spec.bold = bold;
    spec.height *= factor;
    let wide = text::width(content, spec.height, bold);
    if wide > room {
        spec.height = (spec.height * room / wide).max(LEAST_TEXT_MM);
    }
    if text::width(content, spec.height, bold) > room {
        spec.content = text::cut(content, spec.height, bold, room);
    }
    board.text(Layer::Text, spec);
}

fn inner((low, high): Cell) -> (Point, f64) {
    (point(low.x + PAD_MM, high.y), high.x - low.x - 2.0 * PAD_MM)
}

fn project_cell(board: &mut Board, layout: &Layout, cell: Cell) {
    let (top, room) = inner(cell);
    let facts = &layout.project;
    let text = |t: &Option<String>| t.clone().unwrap_or_default();
    small(board, top - point(0.0, 3.4), "Project");
    fitted(board, top - point(0.0, 8.4), room, (&text(&facts.name), 1.3), true);
    fitted(board, top - point(0.0, 13.0), room, (&text(&facts.address), 1.0), false);
    small(board, top - point(0.0, 18.0), "Client");
    fitted(board, top - point(0.0, 22.4), room, (&text(&facts.client), 1.0), false);
}

fn sheet_cell(board: &mut Board, layout: &Layout, cell: Cell, (title, scale): (&str, &str)) {
    let (top, room) = inner(cell);
    small(board, top - point(0.0, 3.4), "Sheet");
    fitted(board, top - point(0.0, 8.4), room, (title, 1.3), true);
    if !scale.is_empty() {
        fitted(board, top - point(0.0, 12.2), room, (&format!("Scale {scale}"), 1.0), false);
    }
    // Small enough for two lines each, since a system or code is known by its whole name.
    let titles = [format!("Rail system: {}", layout.system.title), format!("Rules: {}", layout.rules.title)];
    for (n, line) in titles.iter().flat_map(|title| two_lines(title, room)).enumerate() {
        small(board, top - point(0.0, 15.6 + 2.4 * n as f64), &line);
    }
}

/// A text in two lines of the smallest size, the second one cut short where it must.
fn two_lines(content: &str, room: f64) -> Vec<String> {
    let mut lines = text::wrap(content, LEAST_TEXT_MM, room);
    if lines.len() > 2 {
        let rest = lines.split_off(1).join(" ");
        lines.push(text::cut(&rest, LEAST_TEXT_MM, false, room));
    }
    lines
}

/// The lines between the rows of a cell, and the base line of each row.
fn rows(board: &mut Board, (low, high): Cell) -> Vec<f64> {
    let step = (high.y - low.y) / ROWS as f64;
    let edge = |i: usize| high.y - step * i as f64;
    for i in 1..ROWS {
        board.line(Layer::Sheet, point(low.x, edge(i)), point(high.x, edge(i)));
    }
    (1..=ROWS).map(|i| edge(i) + step / 2.0 - board.height() / 2.0).collect()
}

fn names_cell(board: &mut Board, layout: &Layout, cell: Cell) {
    const LABEL_MM: f64 = 15.0;
    let (top, room) = inner(cell);
    let facts = &layout.project;
    let file = Some(layout.plan.file.clone()).filter(|f| !f.is_empty());
    let all = [("Drawn", &facts.drawn_by), ("Checked", &facts.checked_by), ("Date", &facts.date), ("Plan", &file)];
    let bases = rows(board, cell);
    for ((label, value), y) in all.into_iter().zip(bases) {
        small(board, point(top.x, y), label);
        let value = value.as_deref().unwrap_or_default();
        fitted(board, point(top.x + LABEL_MM, y), room - LABEL_MM, (value, 1.0), false);
    }
}

/// The latest revisions, the newest at the top.
fn revision_cell(board: &mut Board, revisions: &[Revision], cell: Cell) {
    let (top, room) = inner(cell);
    let bases = rows(board, cell);
    let (Some(head), rest) = (bases.first(), bases.iter().skip(1)) else { return };
    small(board, point(top.x, *head), "Revisions");
    for (revision, y) in revisions.iter().rev().zip(rest) {
        let date = revision.date.as_ref().map_or(String::new(), |d| format!("{d} "));
        let line = format!("{} {date}{}", revision.mark, revision.text);
        fitted(board, point(top.x, *y), room, (&line, 0.9), false);
    }
}

fn number_cell(board: &mut Board, cell: Cell, (number, count): (&str, usize)) {
    let (top, room) = inner(cell);
    fitted(board, top - point(0.0, 15.0), room, (number, 3.4), true);
    fitted(board, top - point(0.0, 22.2), room, (&format!("of {count}"), 1.0), false);
}
