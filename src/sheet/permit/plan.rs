//! The sheet of the plan, with its column of key, notes and findings; several where the plan is larger than the paper.

use std::sync::Arc;

use super::super::board::{self, BASE_LEFT};
use super::super::callout;
use super::super::plan::{NOTES, notes};
use super::super::room::{Blank, CAPTION_MM, COLUMN_MM, PAD_MM};
use super::super::{Drawing, Item, Layer, Linetype, Set, View, scale, text};
use super::draft::{Caption, caption};
use super::{Draft, key};
use crate::base::{Extent, Finding, Near, Point, Severity, plane::point};
use crate::parts::Layout;

/// What neighbouring sheets of one plan both show, mm on paper.
const OVERLAP_MM: f64 = 15.0;

/// What lies beyond a window by more than this, mm on paper, cannot show in it: half a pen, an accent over a capital.
const OVERHANG_MM: f64 = 5.0;

/// Shapes by the room that they take.
struct Found<'a>(&'a Item);

impl Extent for Found<'_> {
    fn extent(&self) -> impl Iterator<Item = Point> {
        board::reach(&self.0.shape).into_iter()
    }
}

fn found(items: &[Item]) -> Near<Found<'_>> {
    items.iter().map(Found).collect::<Vec<_>>().into()
}

/// The plan and what stands behind it. A sheet gets what shows in its window: a plan may go on for miles.
struct Source<'a> {
    plan: &'a Drawing,
    items: Near<Found<'a>>,
    behind: Near<Found<'a>>,
}

impl Source<'_> {
    fn view(&self, window: (Point, Point), at: Point) -> View {
        let shown = |items: &Near<Found<'_>>| -> Vec<Item> {
            let near = items.around([window.0, window.1], OVERHANG_MM * self.plan.paper);
            near.map(|(_, found)| found.0.clone()).collect()
        };
        let Drawing { paper, low, high, .. } = *self.plan;
        let (name, title, parts) = (self.plan.name.clone(), self.plan.title.clone(), self.plan.parts.clone());
        let drawing = Drawing { name, title, paper, low, high, parts, items: shown(&self.items) };
        View { drawing: Arc::new(drawing), behind: Arc::new(shown(&self.behind)), window, at }
    }

    /// Whether any rail, post or text of the plan lies in a window.
    fn shows_something(&self, (low, high): (Point, Point)) -> bool {
        let inside = |p: &Point| p.x >= low.x && p.x <= high.x && p.y >= low.y && p.y <= high.y;
        let of_plan = |item: &Item| item.object.as_ref().is_some_and(|o| o.kind != NOTES);
        let near = self.items.around([low, high], 0.0);
        near.filter(|(_, found)| of_plan(found.0)).any(|(_, found)| found.extent().any(|p| inside(&p)))
    }
}

/// What was found.
#[derive(Clone, Copy)]
struct Told<'a> {
    findings: &'a [Finding],
    /// What it all comes to.
    headline: &'a str,
}

/// The sheets of the plan.
pub(super) fn sheets(layout: &Layout, set: &Set, findings: &[Finding], headline: &str) -> Vec<Draft> {
    let told = Told { findings, headline };
    let drawing = &*set.plan;
    let source = Source { plan: drawing, items: found(&drawing.items), behind: found(&set.background) };
    let blanks = Blank::both(layout.paper());
    let whole = (drawing.low, drawing.high);
    let fits = |blank: &Blank, (low, high): (Point, Point)| {
        let (size, room) = ((high - low) / drawing.paper, blank.plan_room());
        size.x <= room.x + 1e-6 && size.y <= room.y + 1e-6
    };
    let one = drawing.parts.iter().find_map(|part| blanks.iter().find(|b| fits(b, *part)).map(|b| (*b, *part)));
    if let Some((blank, part)) = one {
        return vec![sheet(layout, &source, told, blank, part, "Guard rail plan")];
    }
    let [lying, _] = blanks;
    let part = drawing.parts.last().copied().unwrap_or(whole);
    let tiles = tiles(part, lying.plan_room() * drawing.paper, OVERLAP_MM * drawing.paper);
    let tiles: Vec<_> = tiles.into_iter().filter(|t| source.shows_something(*t)).collect();
    let count = tiles.len();
    let title = |index: usize| format!("Guard rail plan, part {index} of {count}");
    (1..).zip(tiles).map(|(index, tile)| sheet(layout, &source, told, lying, tile, &title(index))).collect()
}

/// Windows of at most `room` that cover an area, row by row from the upper left, each sharing `overlap` with the next.
fn tiles((low, high): (Point, Point), room: Point, overlap: f64) -> Vec<(Point, Point)> {
    let count = |size: f64, room: f64| ((size - overlap) / (room - overlap)).ceil().max(1.0) as u32;
    let size = high - low;
    let (columns, rows) = (count(size.x, room.x), count(size.y, room.y));
    let step = room - point(overlap, overlap);
    let cells = (0..rows).flat_map(|row| (0..columns).map(move |column| (column, row)));
    cells
        .map(|(column, row)| {
            let upper_left = point(low.x + step.x * f64::from(column), high.y - step.y * f64::from(row));
            (point(upper_left.x, upper_left.y - room.y), point(upper_left.x + room.x, upper_left.y))
        })
        .collect()
}

fn sheet(
    layout: &Layout,
    source: &Source<'_>,
    told: Told<'_>,
    blank: Blank,
    window: (Point, Point),
    title: &str,
) -> Draft {
    let drawing = source.plan;
    let scale = scale::plan_text(drawing.paper, &layout.measure);
    let mut draft = Draft::new(layout, blank, title, &scale);
    let (low, high) = blank.inside();
    let size = (window.1 - window.0) / drawing.paper;
    // In the middle of its room, the caption under it at the left.
    let room = blank.plan_room();
    let at = point(low.x + (room.x - size.x).max(0.0) / 2.0, low.y + CAPTION_MM + (room.y - size.y).max(0.0) / 2.0);
    draft.views.push(source.view(window, at));
    let board = &mut draft.board;
    board.show("caption", "plan");
    let text = Caption { title: title.to_owned(), lines: vec![format!("Scale {scale}")] };
    caption(board, point(low.x, low.y + CAPTION_MM), room.x / 2.0, &text);
    key::scale_bar(board, layout, drawing.paper, point(low.x + room.x * 0.55, low.y + 2.0), room.x * 0.35);
    column(&mut draft, layout, told, drawing.paper, (point(high.x - COLUMN_MM, high.y), low.y));
    draft
}

/// Key, notes and what was found, from the column's upper left corner down.
fn column(draft: &mut Draft, layout: &Layout, told: Told<'_>, paper: f64, (mut top, bottom): (Point, f64)) {
    let serious: Vec<Finding> = told.findings.iter().filter(|f| f.severity > Severity::Note).cloned().collect();
    let board = &mut draft.board;
    let line = point(top.x - PAD_MM / 2.0, 0.0);
    board.patterned(
        Layer::Sheet,
        Linetype::Continuous,
        vec![line + point(0.0, top.y), line + point(0.0, bottom)],
        false,
    );
    if let Some(degrees) = layout.project.north {
        key::north(board, point(top.x + COLUMN_MM - 14.0, top.y - 14.0), degrees);
    }
    board.show("key", "key");
    top.y = key::key(board, layout, &serious, top, COLUMN_MM - 26.0) - 5.0;
    board.show("notes", "plan");
    let mut lines = vec![told.headline.to_owned()];
    lines.extend(notes(layout));
    lines.extend(callout::notes(layout, &serious, paper));
    let notes = Caption { title: "Notes".to_owned(), lines };
    top.y = caption(board, top, COLUMN_MM, &notes) - 5.0;
    let left = callout::list_within(board, top, bottom, &serious);
    if left > 0 {
        let more = format!("and {left} more, in the table of findings on the last sheets");
        board.show("notes", "plan");
        for (line, y) in text::wrap(&more, board.height(), COLUMN_MM).iter().zip([bottom + 4.5, bottom + 0.5]) {
            board.write(point(top.x, y), BASE_LEFT, line);
        }
    }
    board.show_nothing();
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn tiles_cover_all_and_share_the_overlap() {
        let all = tiles((point(0.0, 0.0), point(250.0, 90.0)), point(100.0, 100.0), 10.0);
        // (250 - 10) / (100 - 10) is 2.67: three in a row, one row.
        assert_eq!(all.len(), 3);
        assert_eq!(all.first(), Some(&(point(0.0, -10.0), point(100.0, 90.0))));
        assert_eq!(all.last(), Some(&(point(180.0, -10.0), point(280.0, 90.0))));
    }
}
