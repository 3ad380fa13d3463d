//! What a reader of the plan needs beside it: key, north arrow, scale bar.

use super::super::board::{BASE_LEFT, Board, MIDDLE, MIDDLE_LEFT, post_corners, rectangle};
use super::super::{Layer, Linetype, text};
use super::draft::{Caption, caption};
use crate::base::{Angle, Finding, Point, plane};
use crate::guard::Support;
use crate::parts::Layout;

/// Breadth of a symbol, and from row to row, mm.
const SYMBOL_MM: f64 = 15.0;
const ROW_MM: f64 = 7.0;

/// Draws a symbol about a point.
type Symbol = fn(&mut Board, Point);

/// A row of the key.
struct Entry {
    what: String,
    symbol: Symbol,
}

/// The key, its upper left corner at `top`. Gives the y below it.
pub(super) fn key(board: &mut Board, layout: &Layout, findings: &[Finding], top: Point, room: f64) -> f64 {
    let mut y = caption(board, top, room, &Caption::of("Key")) - 1.0;
    for Entry { what, symbol } in entries(layout, findings) {
        let middle = plane::point(top.x + SYMBOL_MM / 2.0, y - ROW_MM / 2.0);
        symbol(board, middle);
        let lines = text::wrap(&what, board.height(), room - SYMBOL_MM - 3.0);
        let step = board.height() * 1.5;
        let mut line_y = middle.y + step * (lines.len().saturating_sub(1)) as f64 / 2.0;
        for line in &lines {
            board.write(plane::point(top.x + SYMBOL_MM + 3.0, line_y), MIDDLE_LEFT, line);
            line_y -= step;
        }
        y -= ROW_MM;
    }
    y
}

fn entries(layout: &Layout, findings: &[Finding]) -> Vec<Entry> {
    let mut all = vec![
        Entry { what: "Post, P".to_owned(), symbol: post },
        Entry { what: "Panel, its rail line dash-dotted".to_owned(), symbol: rail },
        Entry { what: "Span, with its panel".to_owned(), symbol: tag },
    ];
    let has_wall = layout.panels.iter().any(|p| [p.span.from, p.span.to].contains(&Support::Wall));
    let more: [(bool, &str, Symbol); 4] = [
        (has_wall, "Panel ends at a wall", wall),
        (!layout.flights.is_empty(), "Flight F: down, risers R, riser x tread", arrow),
        (!layout.handrails.is_empty(), "Handrail, H", handrail),
        (!findings.is_empty(), "Finding, as numbered", finding),
    ];
    all.extend(more.into_iter().filter(|m| m.0).map(|(_, what, symbol)| Entry { what: what.to_owned(), symbol }));
    all
}

fn across(at: Point, half: f64) -> [Point; 2] {
    [at - plane::point(half, 0.0), at + plane::point(half, 0.0)]
}

fn post(board: &mut Board, at: Point) {
    board.path(Layer::Post, post_corners(at, 3.0, Angle::ZERO).to_vec(), true);
}

fn rail(board: &mut Board, at: Point) {
    let half = plane::point(SYMBOL_MM / 2.0, 0.9);
    board.path(Layer::Panel, rectangle(at - half, at + half), true);
    board.patterned(Layer::Line, Linetype::Centre, across(at, SYMBOL_MM / 2.0).to_vec(), false);
}

fn tag(board: &mut Board, at: Point) {
    let half = plane::point(4.0, board.height() / 2.0 + 1.1);
    board.path(Layer::Text, rectangle(at - half, at + half), true);
    board.write(at, MIDDLE, "S");
}

fn wall(board: &mut Board, at: Point) {
    let [a, b] = across(at, SYMBOL_MM / 2.0);
    let half = plane::point(0.0, 0.9);
    board.path(Layer::Panel, vec![b - half, a - half, a + half, b + half], false);
    let tick = plane::point(0.0, 2.6);
    board.line(Layer::Panel, b - tick, b + tick);
}

fn arrow(board: &mut Board, at: Point) {
    let [a, b] = across(at, SYMBOL_MM / 2.0);
    board.line(Layer::Line, a, b);
    let head = b - plane::point(3.2, 0.0);
    let half = plane::point(0.0, 0.8);
    board.solid(Layer::Line, vec![b, head + half, head - half]);
}

fn handrail(board: &mut Board, at: Point) {
    board.patterned(Layer::Line, Linetype::Hidden, across(at, SYMBOL_MM / 2.0).to_vec(), false);
}

fn finding(board: &mut Board, at: Point) {
    let corners = [(-3.0, -2.5), (3.0, -2.5), (0.0, 2.5)].map(|(x, y)| at + plane::point(x, y));
    board.path(Layer::Note, corners.to_vec(), true);
}

/// An arrow to the north, about `centre`, `degrees` clockwise from up.
pub(super) fn north(board: &mut Board, centre: Point, degrees: f64) {
    const RADIUS_MM: f64 = 8.0;
    let up = plane::direction(Angle::from_degrees(90.0 - degrees));
    let side = plane::left(up);
    board.show("north", "north");
    board.circle(Layer::Sheet, centre, RADIUS_MM);
    let tip = centre + up * RADIUS_MM;
    let tail = centre - up * (RADIUS_MM * 0.72);
    board.solid(Layer::Text, vec![tip, centre - up * (RADIUS_MM * 0.36), tail + side * (RADIUS_MM * 0.58)]);
    board.path(Layer::Text, vec![tip, centre - up * (RADIUS_MM * 0.36), tail - side * (RADIUS_MM * 0.58)], true);
    board.write(centre + up * (RADIUS_MM + 3.0), MIDDLE, "N");
    board.show_nothing();
}

/// A bar of round lengths at a scale, its lower left corner at `corner`, no wider than `room`.
pub(super) fn scale_bar(board: &mut Board, layout: &Layout, paper: f64, corner: Point, room: f64) {
    let imperial = layout.measure.unit.is_imperial();
    let (unit_mm, sign) = if imperial { (304.8, "ft") } else { (1000.0, "m") };
    // Four fields of the largest round length that fits.
    let steps = [20.0, 10.0, 5.0, 2.0, 1.0, 0.5, 0.25];
    let fits = |step: &&f64| 4.0 * **step * unit_mm / paper <= room;
    let step = steps.iter().find(fits).copied().unwrap_or(0.25);
    let field = step * unit_mm / paper;
    let (tall, height) = (1.6, board.height());
    board.show("scale", "bar");
    for i in 0..4_u8 {
        let low = corner + plane::point(field * f64::from(i), 0.0);
        let outline = rectangle(low, low + plane::point(field, tall));
        if i % 2 == 0 {
            board.solid(Layer::Text, outline);
        } else {
            board.path(Layer::Text, outline, true);
        }
    }
    for i in [0.0, 1.0, 2.0, 4.0] {
        let at = corner + plane::point(field * i, tall + 1.0 + height / 2.0);
        let text = crate::base::decimal(step * i, 2);
        board.write(at, MIDDLE, &text);
    }
    let end = corner + plane::point(field * 4.0 + 4.0, tall + 1.0);
    board.write(end, BASE_LEFT, sign);
    board.show_nothing();
}
