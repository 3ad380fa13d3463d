//! Dimensions of the plan: clear spans beside their rails, overall lengths outside of them, then the posts as running marks.

use std::ops::Range;

use crate::base::{Length, Point, plane};
use crate::guard::Support;
use crate::parts::{Layout, LayoutPanel};

use super::board::Board;
use super::dimension::{Linear, TextPlace, measured};
use super::label::{Cover, Ink, Placer};
use super::plan::{axes, half_breadth, post_at};
use super::text::{self, Area};
use super::{Align, Anchor, Dimension, Layer, TextSpec, VAlign};

/// Distance from the posts' outside to the first row of dimensions, and from row to row, paper mm.
const FIRST_ROW_MM: f64 = 8.0;
const ROW_MM: f64 = 7.0;
/// Rows that a crowded dimension may move outwards.
const MOST_ROWS: u8 = 9;
/// Gap between a post and its extension line, paper mm.
const CLEAR_MM: f64 = 1.2;

/// Of running dimensions: half a tick, radius of the ring, and from tick and line to the text, paper mm.
const TICK_MM: f64 = 1.0;
const RING_MM: f64 = 0.7;
const TEXT_MM: (f64, f64) = (1.0, 0.9);

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

/// Running dimensions of a stretch: a line with a ring where they begin, and a tick and a text at each post.
struct Running {
    /// Ends of the line.
    ends: (Point, Point),
    ticks: Vec<(Point, Point)>,
    texts: Vec<TextSpec>,
}

/// Posts of a stretch from its left end, so that they can be set out without a chain of spans.
fn running_posts(board: &mut Board, placer: &mut Placer, layout: &Layout, stretch: &Stretch<'_>, row: f64) {
    let first = row as u8;
    let paper: &Board = board;
    let rows = (first..first + MOST_ROWS).filter_map(|row| running(paper, layout, stretch, f64::from(row)));
    let with_covers = rows.map(|running| {
        let air = (paper.mm(0.7), paper.mm(0.5));
        let texts = running.texts.iter().map(|t| (Area::of_text(t).grown(air.0, air.1), Ink::Solid));
        let line = Area::of_line(running.ends.0, running.ends.1, paper.mm(1.0));
        let covers: Vec<Cover> = texts.chain([(line, Ink::Stroke)]).collect();
        (running, covers)
    });
    // In a crowded corner the overall dimension must do.
    let Some((running, covers)) = with_covers.into_iter().find(|(_, covers)| placer.is_free(covers)) else { return };
    for (area, ink) in covers {
        placer.take(area, ink);
    }
    let Some(at) = stretch.first() else { return };
    board.show("mark", &at.span.id);
    board.line(Layer::Dims, running.ends.0, running.ends.1);
    board.circle(Layer::Dims, running.ends.0, board.mm(RING_MM));
    for (a, b) in running.ticks {
        board.line(Layer::Dims, a, b);
    }
    for text in running.texts {
        board.text(Layer::Dims, text);
    }
    board.show_nothing();
}

fn running(board: &Board, layout: &Layout, stretch: &Stretch<'_>, row: f64) -> Option<Running> {
    let (first, last) = (stretch.first()?, stretch.last()?);
    let from = end(layout, first, true);
    let (along, out) = axes(&first.span);
    let base = half_breadth(layout) + board.mm(FIRST_ROW_MM + row * ROW_MM);
    let posts: Vec<Point> =
        stretch.iter().skip(1).map(|at| end(layout, at, true)).chain([end(layout, last, false)]).collect();
    let angle = text::readable(plane::angle_of(along));
    let read = plane::direction(angle);
    // Each text ends at its tick, as the distance does that it tells; it stands on the reading side of the line.
    let align = if plane::dot(read, along) > 0.0 { Align::Right } else { Align::Left };
    let spec = |p: &Point| TextSpec {
        rotation: angle,
        ..board.spec(
            *p + out * base - along * board.mm(TEXT_MM.0) + plane::left(read) * board.mm(TEXT_MM.1),
            Anchor { align, valign: VAlign::Base },
            &layout.measure.text(measured(from, *p)),
        )
    };
    let tick = plane::unit(along + out) * board.mm(TICK_MM);
    Some(Running {
        ends: (from + out * base, *posts.last()? + out * base),
        ticks: posts.iter().map(|p| (*p + out * base - tick, *p + out * base + tick)).collect(),
        texts: posts.iter().map(spec).collect(),
    })
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
