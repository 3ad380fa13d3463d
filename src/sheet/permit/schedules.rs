//! Sheets of tables: columns from the left, each table as far down as there is room, its rest at the top of the next.

use super::super::grid::Table;
use super::super::room::Blank;
use super::super::scale::{LEAST_TEXT_MM, text_height};
use super::super::tables::{limit_tables, schedules};
use super::Draft;
use crate::base::{Finding, Point, plane::point};
use crate::parts::Layout;
use crate::proof::Proof;

/// Between tables beneath and beside each other, mm.
const GAP_MM: Point = point(10.0, 7.0);
/// Rows that a table must have in a place before it is broken there.
const LEAST_ROWS: usize = 3;

/// Schedules first, then what was found and checked.
pub(super) fn sheets(layout: &Layout, findings: &[Finding], proof: &Proof) -> Vec<Draft> {
    let mut drafts = flow(layout, "Schedules", &schedules(layout));
    let mut last = limit_tables(layout, findings, proof);
    last.extend(revisions(layout));
    drafts.extend(flow(layout, "Limits and notes", &last));
    drafts
}

/// All revisions, where the title strip has no room for them.
fn revisions(layout: &Layout) -> Option<Table> {
    use super::super::grid::Column;
    let all = &layout.project.revisions;
    let row = |r: &crate::catalog::Revision| vec![r.mark.clone(), r.date.clone().unwrap_or_default(), r.text.clone()];
    (all.len() > super::frame::SHOWN_REVISIONS).then(|| Table {
        title: "Revisions",
        columns: vec![Column::text("Mark"), Column::text("Date"), Column::wrapped("What changed", 90.0)],
        rows: all.iter().map(row).collect(),
        notes: Vec::new(),
    })
}

/// The way of the paper that takes fewer sheets; lying where both take as many, or a table is too wide for the other.
fn flow(layout: &Layout, title: &str, tables: &[Table]) -> Vec<Draft> {
    let [lying, standing] = Blank::both(layout.paper()).map(|blank| on(layout, blank, title, tables));
    let fits = |draft: &Draft| draft.board.bounds().is_none_or(|(_, high)| high.x <= draft.blank.inside().1.x);
    if standing.len() < lying.len() && standing.iter().all(fits) { standing } else { lying }
}

fn on(layout: &Layout, blank: Blank, title: &str, tables: &[Table]) -> Vec<Draft> {
    let (low, high) = blank.inside();
    let room = high - low;
    let new = || Draft::new(layout, blank, title, "none");
    let mut done = Vec::new();
    let mut draft = new();
    // Upper left corner of what is free, and the widest table of the column.
    let (mut at, mut widest) = (point(low.x, high.y), 0.0_f64);
    for table in tables.iter().filter(|t| !t.rows.is_empty()) {
        draft.board.text_mm = text_mm(layout, &draft, table, room.x);
        let mut from = 0;
        loop {
            let set = table.set_within(&draft.board, room.x);
            if from == set.count() {
                break;
            }
            let end = set.end_within(from, at.y - low.y);
            let enough = end == set.count() || end >= from + LEAST_ROWS;
            let size = set.size(&(from..end.max(from)));
            let fits = enough && at.x + size.x <= high.x + 1e-6;
            let at_top = at.y >= high.y - 1e-6;
            if fits || (at_top && at.x <= low.x + 1e-6) {
                // A row taller than the sheet stands alone, rather than nowhere.
                let end = if end == from { from + 1 } else { end };
                let rows = from..end;
                set.draw(&mut draft.board, at, &rows);
                let size = set.size(&rows);
                at.y -= size.y + GAP_MM.y;
                widest = widest.max(size.x);
                from = end;
            } else if !at_top && at.x + widest.max(size.x) <= high.x {
                at = point(at.x + widest + GAP_MM.x, high.y);
                widest = 0.0;
            } else {
                done.push(std::mem::replace(&mut draft, new()));
                draft.board.text_mm = text_mm(layout, &draft, table, room.x);
                (at, widest) = (point(low.x, high.y), 0.0);
            }
        }
    }
    done.push(draft);
    done.retain(|d| d.board.count() > 0);
    done
}

/// The text height at which a table fits the sheet's width, within what can be read.
fn text_mm(layout: &Layout, draft: &Draft, table: &Table, room: f64) -> f64 {
    let usual = text_height(&layout.measure);
    let set = table.set_within(&draft.board, room);
    let wide = set.size(&(0..set.count())).x;
    (usual * room / wide).clamp(LEAST_TEXT_MM, usual)
}
