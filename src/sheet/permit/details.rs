//! Details on sheets: a caption with views under it, row by row, the paper lying or standing as it fits.

use std::sync::Arc;

use super::super::board::Board;
use super::super::room::Blank;
use super::super::{Drawing, View, scale};
use super::draft::{Caption, caption, caption_height};
use super::{Draft, flow};
use crate::base::{Point, plane::point};
use crate::parts::Layout;

/// Between neighbouring blocks, and between the views of one block, mm.
const GAP_MM: Point = point(12.0, 9.0);
const VIEW_GAP_MM: f64 = 4.0;

/// What is to be shown: the parts of a drawing, and the caption over them.
pub(super) struct Detail {
    pub drawing: Arc<Drawing>,
    /// None where the drawing has a title of its own.
    pub caption: Option<Caption>,
}

/// A caption with the views under it, which stand together.
struct Block {
    drawing: Arc<Drawing>,
    caption: Option<Caption>,
    views: Vec<View>,
    size: Point,
}

/// Details that follow each other on paper that lies one way.
struct Stretch {
    blank: Blank,
    groups: Vec<Vec<Block>>,
}

/// The sheets: details in their order, in rows, each on the paper lying or standing, whichever it fits better. `title` makes
/// a sheet's title from the names of the drawings on it.
pub(super) fn sheets(layout: &Layout, details: &[Detail], title: &dyn Fn(&[&str]) -> String) -> Vec<Draft> {
    let ways = Blank::both(layout.paper());
    let mut stretches: Vec<Stretch> = Vec::new();
    for detail in details {
        let choices = ways.map(|blank| Stretch { blank, groups: vec![blocks(layout, detail, blank.room())] });
        // On sheets of its own: those that it would not fit, and how many they would be.
        let rank = |choice: &Stretch| (choice.over(), flow::sheets(&choice.spots()));
        let [lying, standing] = choices;
        let choice = if rank(&standing) < rank(&lying) { standing } else { lying };
        match stretches.last_mut().filter(|last| last.blank == choice.blank) {
            Some(last) => last.groups.extend(choice.groups),
            None => stretches.push(choice),
        }
    }
    stretches.into_iter().flat_map(|stretch| stretch.drafts(layout, title)).collect()
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

    fn drafts(self, layout: &Layout, title: &dyn Fn(&[&str]) -> String) -> Vec<Draft> {
        let spots = self.spots();
        let (low, high) = self.blank.inside();
        let new = |sheet: usize| {
            let on_it = self.groups.iter().flatten().zip(&spots).filter(|(_, spot)| spot.sheet == sheet);
            let drawings: Vec<&Drawing> = on_it.map(|(block, _)| block.drawing.as_ref()).collect();
            let mut names: Vec<&str> = drawings.iter().map(|d| d.name.as_str()).collect();
            names.dedup();
            Draft::new(layout, self.blank, &title(&names), &one_scale(layout, &drawings))
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

/// The scale, if all drawings of a sheet have the same.
fn one_scale(layout: &Layout, drawings: &[&Drawing]) -> String {
    match drawings.first().filter(|first| drawings.iter().all(|d| d.paper == first.paper)) {
        Some(first) => scale::detail_text(first.paper, &layout.measure),
        None => "as noted".to_owned(),
    }
}

/// The parts of a drawing beneath each other, in as many blocks as they take.
fn blocks(layout: &Layout, detail: &Detail, room: Point) -> Vec<Block> {
    let mut blocks: Vec<Block> = Vec::new();
    let mut parts = detail.drawing.parts.as_slice();
    while !parts.is_empty() {
        let caption = detail.caption.as_ref().map(|c| if blocks.is_empty() { c.clone() } else { c.continued() });
        let build = |count: usize| {
            block(layout, &detail.drawing, parts.get(..count).unwrap_or_default(), caption.clone(), room)
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
    caption: Option<Caption>,
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
    let over = caption.as_ref().map_or(0.0, |c| caption_height(&board, wide, c));
    Block { drawing: drawing.clone(), caption, views, size: point(wide, over + tall) }
}

/// Puts a block with its upper left corner at `corner`.
fn put(draft: &mut Draft, block: Block, corner: Point) {
    let mut y = corner.y;
    if let Some(text) = &block.caption {
        draft.board.show("caption", &block.drawing.name);
        y = caption(&mut draft.board, corner, block.size.x, text);
        draft.board.show_nothing();
    }
    for view in block.views {
        y -= VIEW_GAP_MM + view.size().y;
        draft.views.push(View { at: point(corner.x + view.at.x, y), ..view });
    }
}
