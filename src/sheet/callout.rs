//! Findings on a drawing: a numbered triangle at the place, and the list beside it.

use crate::base::{Finding, Point, plane};
use crate::parts::Layout;

use super::Layer;
use super::board::{BASE_LEFT, Board, MIDDLE};
use super::label::{Ink, Placer};
use super::text::{self, Area};

/// Height of the triangle, paper mm.
const HEIGHT_MM: f64 = 5.6;
/// Size of its number against the drawing's text.
const NUMBER: f64 = 0.8;
/// Width of the list's lines, paper mm.
const LIST_MM: f64 = 74.0;
/// Indent of the list's lines past the triangle, paper mm.
const INDENT_MM: f64 = 9.0;

/// Triangles at the findings' places; a finding without a place on the plan stands in the list alone.
pub(super) fn at_places(board: &mut Board, placer: &mut Placer, layout: &Layout, findings: &[Finding]) {
    let near = board.mm(7.0);
    for (number, finding) in (1..).zip(findings) {
        let Some(place) = spot(layout, finding) else { continue };
        let candidates = [1.0, 1.6, 2.3, 3.2].into_iter().flat_map(|times| {
            let ways = [-45.0, 45.0, -135.0, 135.0, -112.0, 112.0, -68.0, 68.0, 0.0, 180.0, -90.0, 90.0];
            ways.map(|w| place + plane::direction(crate::base::Angle::from_degrees(w)) * (near * times))
        });
        // The leader starts on the rail or post that it points at, so it always meets that; the least clash wins.
        let leader = |p| Area::of_line(place, p, board.mm(0.5));
        let cover = |p| {
            let triangle = (room(board, number, p), Ink::Solid);
            // Twice: a leader over a line is better than a triangle on one.
            vec![triangle, triangle, (leader(p), Ink::Stroke)]
        };
        let candidates = candidates.map(|p| (p, cover(p)));
        let Some(centre) = placer.best(candidates) else { continue };
        placer.take(room(board, number, centre), Ink::Solid);
        placer.take(leader(centre), Ink::Stroke);
        board.show("finding", &number.to_string());
        let towards = plane::unit(place - centre);
        let edge = to_edge(half_base(board, number), board.mm(HEIGHT_MM) / 2.0, towards);
        board.line(Layer::Note, place, centre + towards * edge);
        board.circle(Layer::Note, place, board.mm(0.5));
        triangle(board, number, centre);
    }
    board.show_nothing();
}

fn room(board: &Board, number: usize, centre: Point) -> Area {
    let width = half_base(board, number) * 2.0;
    Area::new(centre, plane::point(1.0, 0.0), width + board.mm(0.8), board.mm(HEIGHT_MM + 0.8))
}

/// Where a finding is on the plan.
fn spot(layout: &Layout, finding: &Finding) -> Option<Point> {
    let place = &finding.place;
    let panel = place.panel.as_ref().and_then(|id| layout.panels.iter().find(|p| p.span.id == *id));
    let post = place.post.as_ref().and_then(|id| layout.posts.iter().find(|p| p.id == *id));
    place.at.or(post.map(|p| p.at)).or(panel.map(|p| (p.span.left + p.span.right) / 2.0))
}

fn half_base(board: &Board, number: usize) -> f64 {
    let digits = text::width(&number.to_string(), board.height() * NUMBER, false);
    // The sides of the triangle leave the middle of its breadth for the number.
    (digits * 0.95 + board.mm(1.6)).max(board.mm(HEIGHT_MM * 0.58))
}

/// From the middle of a triangle to its edge in a direction.
fn to_edge(half: f64, tall: f64, direction: Point) -> f64 {
    let slope = plane::unit(plane::point(2.0 * tall, half));
    let side = slope.y * tall;
    let edges = [(plane::point(0.0, -1.0), tall), (slope, side), (plane::point(-slope.x, slope.y), side)];
    let ahead =
        edges.iter().map(|(normal, off)| (plane::dot(*normal, direction), off)).filter(|(towards, _)| *towards > 0.0);
    ahead.map(|(towards, off)| off / towards).fold(f64::INFINITY, f64::min).min(2.0 * tall)
}

/// A triangle with its number, about `centre`.
fn triangle(board: &mut Board, number: usize, centre: Point) {
    let (half, tall) = (half_base(board, number), board.mm(HEIGHT_MM) / 2.0);
    let points = [(-half, -tall), (half, -tall), (0.0, tall)];
    let points = points.map(|(x, y)| centre + plane::point(x, y));
    board.path(Layer::Note, points.to_vec(), true);
    let low = centre - plane::point(0.0, board.mm(HEIGHT_MM * 0.17));
    let mut spec = board.spec(low, MIDDLE, &number.to_string());
    spec.height *= NUMBER;
    board.text(Layer::Note, spec);
}

/// The list, from its upper left corner, in columns no taller than `tall`.
pub(super) fn list(board: &mut Board, corner: Point, tall: f64, findings: &[Finding]) {
    if findings.is_empty() {
        return;
    }
    let line = board.height() * 1.6;
    let width = board.mm(LIST_MM);
    let mut at = corner - plane::point(0.0, board.height() * 1.3);
    board.heading(at, 1.3, "Findings");
    at.y -= board.mm(1.8);
    board.rule(at, width, 0.35);
    let top = at.y - board.mm(2.0);
    at.y = top;
    for (number, finding) in (1..).zip(findings) {
        let lines = entry(board, finding);
        let deep = (lines.len() as f64 * line).max(board.mm(HEIGHT_MM + 1.0));
        if at.y - deep < corner.y - tall && at.y < top {
            at = plane::point(at.x + width + board.mm(10.0), top);
        }
        let middle = plane::point(at.x + board.mm(INDENT_MM * 0.42), at.y - board.mm(HEIGHT_MM / 2.0));
        triangle(board, number, middle);
        let mut base = plane::point(at.x + board.mm(INDENT_MM), at.y - board.height() * 1.2);
        for content in &lines {
            board.write(base, BASE_LEFT, content);
            base.y -= line;
        }
        at.y -= deep + board.mm(2.2);
    }
    board.show_nothing();
}

/// The list in one column of the usual width, as far down as `bottom`. Gives how many had no room.
pub(super) fn list_within(board: &mut Board, top: Point, bottom: f64, findings: &[Finding]) -> usize {
    // The heading, and two lines that tell of the rest.
    let line = board.height() * 1.6;
    let mut room = top.y - bottom - board.height() * 1.3 - board.mm(3.8) - 2.0 * line;
    let tall = |f: &Finding| (entry(board, f).len() as f64 * line).max(board.mm(HEIGHT_MM + 1.0)) + board.mm(2.2);
    let fitting = findings.iter().take_while(|f| {
        room -= tall(f);
        room >= 0.0
    });
    let shown = fitting.count();
    list(board, top, top.y - bottom, findings.get(..shown).unwrap_or_default());
    findings.len() - shown
}

fn entry(board: &Board, finding: &Finding) -> Vec<String> {
    let room = board.mm(LIST_MM - INDENT_MM);
    let mut lines = text::wrap(&format!("{}: {}", finding.severity.word(), finding.message), board.height(), room);
    if let Some(hint) = &finding.hint {
        lines.extend(text::wrap(&format!("hint: {hint}"), board.height(), room));
    }
    lines
}
