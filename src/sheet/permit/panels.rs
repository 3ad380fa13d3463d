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
    /// The panel that is drawn.
    id: String,
    title: String,
    lines: Vec<String>,
    views: Vec<View>,
    size: Point,
}

/// Panels that follow each other on paper that lies one way.
struct Stretch {
    blank: Blank,
    groups: Vec<Vec<Block>>,
}

/// The sheets: panels in their order, in rows, each on the paper lying or standing, whichever it fits better.
pub(super) fn sheets(layout: &Layout, set: &Set) -> Vec<Draft> {
    let ways = Blank::both(layout.paper());
    let mut stretches: Vec<Stretch> = Vec::new();
    for group in alike(layout) {
        let choices = ways.map(|blank| Stretch { blank, groups: vec![blocks(layout, set, &group, blank.room())] });
        // On sheets of its own: those that it would not fit, and how many they would be.
        let rank = |choice: &Stretch| (choice.over(), flow::sheets(&choice.spots()));
        let [lying, standing] = choices;
        let choice = if rank(&standing) < rank(&lying) { standing } else { lying };
        match stretches.last_mut().filter(|last| last.blank == choice.blank) {
            Some(last) => last.groups.extend(choice.groups),
            None => stretches.push(choice),
        }
    }
    let scale = one_scale(layout, set);
    stretches.into_iter().flat_map(|stretch| stretch.drafts(layout, &scale)).collect()
}

impl Stretch {
    /// How many blocks are larger than a sheet.
    fn over(&self) -> usize {
        let room = self.blank.room();
        self.groups.iter().flatten().filter(|b| b.size.x > room.x || b.size.y > room.y).count()
    }

    fn spots(&self) -> Vec<flow::Spot> {
        let sizes: Vec<Vec<Point>> = self.groups.iter().map(|g| g.iter().map(|b| b.size).collect()).collect();
        flow::rows(&sizes, self.blank.room(), GAP_MM)
    }

    fn drafts(self, layout: &Layout, scale: &str) -> Vec<Draft> {
        let spots = self.spots();
        let (low, high) = self.blank.inside();
        let new = |sheet: usize| {
            let on_it = self.groups.iter().flatten().zip(&spots).filter(|(_, spot)| spot.sheet == sheet);
            let mut ids: Vec<&str> = on_it.map(|(block, _)| block.id.as_str()).collect();
            ids.dedup();
            let ids = match ids.as_slice() {
                [first, _, .., last] => format!("{first} to {last}"),
                few => few.join(" and "),
            };
            Draft::new(layout, self.blank, &format!("Panel elevations, {ids}"), scale)
        };
        let mut drafts: Vec<Draft> = (0..flow::sheets(&spots)).map(new).collect();
        for (block, spot) in self.groups.into_iter().flatten().zip(spots) {
            let corner = point(low.x + spot.at.x, high.y - spot.at.y);
            if let Some(draft) = drafts.get_mut(spot.sheet) {
                put(draft, block, corner);
            }
        }
        drafts
    }
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
    Block { id: drawing.name.clone(), title, lines, views, size }
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
