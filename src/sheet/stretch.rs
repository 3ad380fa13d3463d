//! Dimensions of the plan: clear spans beside their rails, overall lengths outside of them, then the posts as running marks.

use std::ops::Range;

use crate::base::{Length, Point, plane};
use crate::guard::Support;
use crate::parts::{Layout, LayoutPanel};

use super::Dimension;
use super::board::Board;
use super::dimension::{Linear, TextPlace, measured};
use super::label::{Cover, Ink, Placer};
use super::plan::{axes, half_breadth, post_at};
use super::running::{self, Running};
use super::text::Area;

/// Distance from the posts' outside to the first row of dimensions, and from row to row, paper mm.
const FIRST_ROW_MM: f64 = 8.0;
const ROW_MM: f64 = 7.0;
/// Rows that a crowded dimension may move outwards.
const MOST_ROWS: u8 = 9;
/// Gap between a post and its extension line, paper mm.
const CLEAR_MM: f64 = 1.2;

/// Panels in a straight line, each sharing a post with the next.
type Stretch<'a> = Vec<&'a LayoutPanel>;

/// Stretch by stretch, the longest first: its clear spans, those with room for their text before the short ones, then
/// the overall dimension around them.
pub(super) fn dimensions(board: &mut Board, placer: &mut Placer, layout: &Layout) {
    let mut all = stretches(layout);
    all.sort_by_key(|s| std::cmp::Reverse(s.iter().map(|p| p.span.clear).sum::<Length>()));
    for stretch in &all {
        let mut singles = stretch.clone();
        singles.sort_by_key(|p| std::cmp::Reverse(p.span.clear));
        let mut outermost: f64 = 0.0;
        for at in singles {
            let span = &at.span;
            let wanted = Wanted { id: &span.id, ends: (span.left, span.right), length: span.clear, row: 0.0 };
            outermost = outermost.max(place(board, placer, layout, &wanted));
        }
        let (Some(first), Some(last)) = (stretch.first(), stretch.last()) else { continue };
        if stretch.len() > 1 {
            let ends = (end(layout, first, true), end(layout, last, false));
            let length = measured(ends.0, ends.1);
            let row = place(board, placer, layout, &Wanted { id: &first.span.id, ends, length, row: outermost + 1.0 });
            running_posts(board, placer, layout, stretch, row + 1.0);
        }
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
            Some(stretch) if stretch.last().is_some_and(|before| goes_on(before, at)) => stretch.push(at),
            _ => stretches.push(vec![at]),
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

/// Posts of a stretch from its left end, so that they can be set out without a chain of spans.
fn running_posts(board: &mut Board, placer: &mut Placer, layout: &Layout, stretch: &Stretch<'_>, row: f64) {
    let (Some(first), Some(last)) = (stretch.first(), stretch.last()) else { return };
    let from = end(layout, first, true);
    let (along, out) = axes(&first.span);
    let places = stretch.iter().map(|at| end(layout, at, true)).chain([end(layout, last, false)]);
    let marks: Vec<(f64, String)> =
        places.map(|p| (plane::dot(p - from, along), layout.measure.text(measured(from, p)))).collect();
    let edge = half_breadth(layout);
    let paper: &Board = board;
    let rows = (0..MOST_ROWS).map(|step| {
        let base = edge + paper.mm(FIRST_ROW_MM + (row + f64::from(step)) * ROW_MM);
        let row = Running { origin: from, along, base, up: true, rule: None, marks: marks.clone() };
        let line = Area::of_line(from + out * base, end(layout, last, false) + out * base, paper.mm(1.0));
        let texts =
            running::texts(paper, &row).into_iter().map(|t| (t.grown(paper.mm(0.5), paper.mm(0.3)), Ink::Solid));
        let covers: Vec<Cover> = texts.chain([(line, Ink::Stroke)]).collect();
        (row, covers)
    });
    // In a crowded corner the overall dimension must do.
    let Some((row, covers)) = rows.into_iter().find(|(_, covers)| placer.is_free(covers)) else { return };
    for (area, ink) in covers {
        placer.take(area, ink);
    }
    board.show("mark", &first.span.id);
    let ends = marks.first().zip(marks.last()).map(|(a, b)| (a.0, b.0));
    running::draw(board, &Running { rule: ends, ..row });
    board.show_nothing();
}

/// A dimension that looks for its row.
struct Wanted<'a> {
    id: &'a str,
    ends: (Point, Point),
    length: Length,
    /// The innermost row it may take.
    row: f64,
}

/// Finds a free row for a dimension, puts it there and takes its room. Gives the row.
fn place(board: &mut Board, placer: &mut Placer, layout: &Layout, wanted: &Wanted<'_>) -> f64 {
    let edge = half_breadth(layout);
    let (from, to) = wanted.ends;
    let paper: &Board = board;
    let line = &|step: u8| {
        let row = wanted.row + f64::from(step);
        let offset = edge + paper.mm(FIRST_ROW_MM + row * ROW_MM);
        let side = plane::left(plane::unit(to - from));
        let text = layout.measure.text(wanted.length);
        (row, Linear { from, to, side, clear: edge + paper.mm(CLEAR_MM), offset, text })
    };
    let tries = |steps: Range<u8>, places: fn(&Board, &Linear) -> Vec<TextPlace>| {
        steps.flat_map(move |step| {
            let (row, line) = line(step);
            places(paper, &line).into_iter().map(move |p| (row, line.build(paper, p)))
        })
    };
    let near = tries(0..3, between_ticks);
    let far = tries(0..MOST_ROWS, beyond_line).chain(tries(3..MOST_ROWS, between_ticks));
    let candidates = near.chain(far).map(|(row, built)| {
        let covers = covers(paper, &built);
        ((row, built), covers)
    });
    let Some((row, chosen)) = placer.best(candidates) else { return wanted.row };
    for (area, ink) in covers(board, &chosen) {
        placer.take(area, ink);
    }
    board.show("dimension", wanted.id);
    board.dimension(chosen);
    board.show_nothing();
    row
}

/// Places between the ticks, the middle first; none if the text does not fit there.
fn between_ticks(board: &Board, line: &Linear) -> Vec<TextPlace> {
    let slack = line.slack(board);
    let shares: &[f64] = if line.fits(board) { &[0.0, 0.5, -0.5, 1.0, -1.0] } else { &[] };
    shares.iter().map(|share| TextPlace::Above(slack * share)).collect()
}

/// Places past the dimension line, for short spans and crowded corners.
fn beyond_line(_: &Board, line: &Linear) -> Vec<TextPlace> {
    [0.0, 0.3, -0.3, 0.6, -0.6].map(|share| TextPlace::Beyond(line.length() * share)).to_vec()
}

/// What a dimension covers: its text with some air, and its strokes.
fn covers(board: &Board, built: &Dimension) -> Vec<Cover> {
    let text = Area::of_text(&built.text_spec()).grown(board.mm(0.7), board.mm(0.5));
    let breadth = board.mm(0.5);
    let strokes = built.strokes.iter().map(|(a, b)| (Area::of_line(*a, *b, breadth), Ink::Stroke));
    // The text first: it is what clashes most.
    std::iter::once((text, Ink::Solid)).chain(strokes).collect()
}
