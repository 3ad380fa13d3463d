//! Dimensions of the plan: clear spans beside their rails, overall lengths outside of them.

use crate::base::{Length, Point, plane};
use crate::guard::Support;
use crate::parts::{Layout, LayoutPanel};

use super::Dimension;
use super::board::Board;
use super::dimension::{Linear, OVERSHOOT_MM, TextPlace, measured, stroke_areas};
use super::label::Placer;
use super::plan::{axes, half_breadth, post_at};
use super::text::Area;

/// Distance from the posts' outside to the first row of dimensions, and from row to row, paper mm.
const FIRST_ROW_MM: f64 = 8.0;
const ROW_MM: f64 = 7.0;
/// Rows that a crowded dimension may move outwards.
const MOST_ROWS: u8 = 6;
/// Gap between a post and its extension line, paper mm.
const CLEAR_MM: f64 = 1.2;

/// Spans in a straight line, each sharing a post with the next.
struct Stretch<'a> {
    panels: Vec<&'a LayoutPanel>,
}

/// Clear spans first, those with room for their text before the short ones; then the overall dimensions around them.
pub(super) fn dimensions(board: &mut Board, placer: &mut Placer, layout: &Layout) {
    let mut singles: Vec<&LayoutPanel> = layout.panels.iter().collect();
    singles.sort_by_key(|p| std::cmp::Reverse(p.span.clear));
    let mut rows: Vec<(&str, f64)> = Vec::new();
    for at in singles {
        let span = &at.span;
        let row = place(board, placer, layout, &at.span.id, (span.left, span.right), span.clear, 0.0);
        rows.push((&span.id, row));
    }
    for stretch in stretches(layout).iter().filter(|s| s.panels.len() > 1) {
        let (Some(first), Some(last)) = (stretch.panels.first(), stretch.panels.last()) else { continue };
        let row_of = |p: &&LayoutPanel| rows.iter().find(|(id, _)| *id == p.span.id).map_or(0.0, |(_, row)| *row);
        let outermost = stretch.panels.iter().map(row_of).fold(0.0, f64::max);
        let ends = (end(layout, first, true), end(layout, last, false));
        place(board, placer, layout, &first.span.id, ends, measured(ends.0, ends.1), outermost + 1.0);
    }
}

/// Where a stretch ends on its rail line: the post's centre, or the wall's face.
fn end(layout: &Layout, at: &LayoutPanel, left: bool) -> Point {
    let span = &at.span;
    let (along, _) = axes(span);
    let (face, support) = if left { (span.left, span.from) } else { (span.right, span.to) };
    post_at(layout, support).map_or(face, |post| face + along * plane::dot(post.at - face, along))
}

fn stretches(layout: &Layout) -> Vec<Stretch<'_>> {
    let mut stretches: Vec<Stretch<'_>> = Vec::new();
    for at in &layout.panels {
        match stretches.last_mut() {
            Some(stretch) if stretch.panels.last().is_some_and(|before| goes_on(before, at)) => stretch.panels.push(at),
            _ => stretches.push(Stretch { panels: vec![at] }),
        }
    }
    stretches
}

fn goes_on(before: &LayoutPanel, next: &LayoutPanel) -> bool {
    const SAME_LINE_MM: f64 = 1.0;
    let shared = matches!(before.span.to, Support::Post(_)) && before.span.to == next.span.from;
    let (along, out) = axes(&before.span);
    let off = |p: Point| plane::dot(p - before.span.left, out).abs();
    shared
        && before.span.run == next.span.run
        && plane::dot(axes(&next.span).0, along) > 0.0
        && off(next.span.left).max(off(next.span.right)) <= SAME_LINE_MM
}

/// Finds a free row for a dimension, puts it there and takes its room. Gives the row.
fn place(
    board: &mut Board,
    placer: &mut Placer,
    layout: &Layout,
    id: &str,
    (from, to): (Point, Point),
    length: Length,
    first_row: f64,
) -> f64 {
    let edge = half_breadth(layout);
    let side = plane::left(plane::unit(to - from));
    let candidates = (0..MOST_ROWS).flat_map(|step| {
        let row = first_row + f64::from(step);
        let line = Linear {
            from,
            to,
            side,
            clear: edge + board.mm(CLEAR_MM),
            offset: edge + board.mm(FIRST_ROW_MM + row * ROW_MM),
            text: layout.measure.text(length),
        };
        let found: Vec<_> = places(board, &line)
            .into_iter()
            .map(|place| {
                let built = line.build(board, place);
                let areas = areas(board, &built);
                ((row, built), areas)
            })
            .collect();
        found
    });
    let candidates: Vec<_> = candidates.collect();
    let Some((row, chosen)) = placer.best(candidates) else { return first_row };
    for area in areas(board, &chosen) {
        placer.take(area);
    }
    for area in stroke_areas(board, &chosen) {
        placer.take(area);
    }
    board.show("dimension", id);
    board.dimension(chosen);
    board.show_nothing();
    row
}

/// Places for the text, best first.
fn places(board: &Board, line: &Linear) -> Vec<TextPlace> {
    let slack = line.slack(board);
    let mut places = Vec::new();
    if line.fits(board) {
        places.extend([0.0, 0.45, -0.45, 0.9, -0.9].map(|share| TextPlace::Above(slack * share)));
    }
    let step = line.length() / 2.0;
    places.extend([0.0, step, -step].map(TextPlace::Beyond));
    places
}

/// What has to be free for a dimension: its text's room, and its line, which may cross nothing that is solid.
fn areas(board: &Board, built: &Dimension) -> Vec<Area> {
    let text = Area::of_text(&built.text_spec()).grown(board.mm(0.8), board.mm(0.6));
    let line = built.strokes.iter().nth(2).map(|(a, b)| {
        let inside = board.mm(OVERSHOOT_MM);
        Area::of_line(*a, *b, board.mm(1.0)).grown(-inside, 0.0)
    });
    line.into_iter().chain([text]).collect()
}
