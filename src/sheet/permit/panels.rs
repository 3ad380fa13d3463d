//! Sheets of panel elevations with their drilling views, panels that are built alike drawn once.

use std::sync::Arc;

use super::super::alike::{Alike, alike};
use super::super::board::Board;
use super::super::elevation::facts;
use super::super::room::Blank;
use super::super::{Drawing, Set, View, scale};
use super::draft::{caption, caption_height};
use super::{Draft, flow};
use crate::base::{Point, plane::point};
use crate::parts::Layout;

/// Between neighbouring blocks, and between the views of one block, mm.
const GAP_MM: Point = point(12.0, 9.0);
const VIEW_GAP_MM: f64 = 4.0;

/// A caption with the views under it, which stand together.
struct Block {
    title: String,
    lines: Vec<String>,
    views: Vec<View>,
    size: Point,
}

/// Blocks at their places on paper that lies one way.
struct Placed {
    blank: Blank,
    blocks: Vec<Block>,
    spots: Vec<flow::Spot>,
}

/// The sheets: panels in rows, on the paper lying or standing, whichever takes fewer; those that only fit the other way
/// follow on sheets of their own.
pub(super) fn sheets(layout: &Layout, set: &Set) -> Vec<Draft> {
    let groups = alike(layout);
    let [lying, standing] = Blank::both(layout.paper());
    let (one, other) = ([lying, standing], [standing, lying]);
    let [one, other] = [one, other].map(|ways| place(layout, set, &groups, ways));
    let count = |placed: &[Placed]| placed.iter().map(|p| flow::sheets(&p.spots)).sum::<usize>();
    let best = if count(&other) < count(&one) { other } else { one };
    let scale = one_scale(layout, set);
    best.into_iter().flat_map(|placed| drafts(layout, placed, &scale)).collect()
}

/// Every group on the first way of the paper that it fits.
fn place(layout: &Layout, set: &Set, groups: &[Alike], [first, second]: [Blank; 2]) -> Vec<Placed> {
    let fits = |blocks: &[Block], blank: Blank| {
        blocks.iter().all(|b| b.size.x <= blank.room().x && b.size.y <= blank.room().y)
    };
    let (mut here, mut there) = (Vec::new(), Vec::new());
    for group in groups {
        let own = blocks(layout, set, group, first.room());
        let turned = blocks(layout, set, group, second.room());
        if fits(&own, first) || !fits(&turned, second) { here.extend(own) } else { there.extend(turned) }
    }
    let placed = |(blank, blocks): (Blank, Vec<Block>)| {
        let sizes: Vec<Point> = blocks.iter().map(|b| b.size).collect();
        Placed { blank, spots: flow::rows(&sizes, blank.room(), GAP_MM), blocks }
    };
    [(first, here), (second, there)].map(placed).into()
}

fn drafts(layout: &Layout, Placed { blank, blocks, spots }: Placed, scale: &str) -> Vec<Draft> {
    let mut drafts: Vec<Draft> =
        (0..flow::sheets(&spots)).map(|_| Draft::new(layout, blank, "Panel elevations", scale)).collect();
    let (low, high) = blank.inside();
    for (block, spot) in blocks.into_iter().zip(spots) {
        let corner = point(low.x + spot.at.x, high.y - spot.at.y);
        if let Some(draft) = drafts.get_mut(spot.sheet) {
            put(draft, block, corner);
        }
    }
    drafts
}

/// The scale, if all panels have the same.
fn one_scale(layout: &Layout, set: &Set) -> String {
    let mut papers = set.elevations.iter().map(|d| d.paper);
    let first = papers.next();
    match first.filter(|first| papers.all(|p| p == *first)) {
        Some(paper) => scale::detail_text(paper, &layout.measure),
        None => "as noted".to_owned(),
    }
}

/// The blocks of a group: elevation, notes and drilling views beneath each other, in as many blocks as they take.
fn blocks(layout: &Layout, set: &Set, group: &Alike, room: Point) -> Vec<Block> {
    let drawing = group.indices.first().and_then(|index| set.elevations.get(*index));
    let Some((at, drawing)) = group.first(layout).zip(drawing) else {
        return Vec::new();
    };
    let title = group.text();
    let mut lines = facts(layout, at, &scale::detail_text(drawing.paper, &layout.measure));
    if group.ids.len() > 1 {
        lines.insert(0, format!("Drawn: {}.", at.span.id));
    }
    let mut blocks: Vec<Block> = Vec::new();
    let mut parts = drawing.parts.as_slice();
    while !parts.is_empty() {
        let go_on = !blocks.is_empty();
        let title = if go_on { format!("{title}, continued") } else { title.clone() };
        let lines = if go_on { Vec::new() } else { lines.clone() };
        let build = |count: usize| {
            block(layout, drawing, parts.get(..count).unwrap_or_default(), (title.clone(), lines.clone()), room)
        };
        let fits = |block: &Block| block.size.x <= room.x && block.size.y <= room.y;
        let count = (1..=parts.len()).rev().find(|count| fits(&build(*count))).unwrap_or(1);
        blocks.push(build(count));
        parts = parts.get(count..).unwrap_or_default();
    }
    blocks
}

/// Views keep their places along x, so that drilling views stand under their panel, where that fits.
fn block(
    layout: &Layout,
    drawing: &Arc<Drawing>,
    parts: &[(Point, Point)],
    (title, lines): (String, Vec<String>),
    room: Point,
) -> Block {
    let left = parts.iter().map(|(low, _)| low.x).fold(f64::INFINITY, f64::min);
    let right = parts.iter().map(|(_, high)| high.x).fold(f64::NEG_INFINITY, f64::max);
    let aligned = (right - left) / drawing.paper <= room.x;
    let view = |(low, high): &(Point, Point)| View {
        drawing: drawing.clone(),
        behind: Arc::default(),
        window: (*low, *high),
        at: point(if aligned { (low.x - left) / drawing.paper } else { 0.0 }, 0.0),
    };
    let views: Vec<View> = parts.iter().map(view).collect();
    let board = Board::new(1.0, scale::text_height(&layout.measure));
    let wide = views.iter().map(|v| v.at.x + v.size().x).fold(0.0, f64::max);
    let tall: f64 = views.iter().map(|v| v.size().y + VIEW_GAP_MM).sum();
    let size = point(wide, caption_height(&board, wide, &lines) + tall);
    Block { title, lines, views, size }
}

/// Puts a block with its upper left corner at `corner`.
fn put(draft: &mut Draft, block: Block, corner: Point) {
    draft.board.show("caption", &block.title);
    let mut y = caption(&mut draft.board, corner, block.size.x, &block.title, &block.lines);
    draft.board.show_nothing();
    for view in block.views {
        y -= VIEW_GAP_MM + view.size().y;
        draft.views.push(View { at: point(corner.x + view.at.x, y), ..view });
    }
}
