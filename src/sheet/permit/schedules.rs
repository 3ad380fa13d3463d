//! Sheets of tables: columns from the left, each table as far down as there is room, its rest at the top of the next.

use super::super::board::Board;
use super::super::grid::{Column, Table};
use super::super::room::Blank;
use super::super::scale::{LEAST_TEXT_MM, text_height};
use super::super::tables::{limit_tables, schedules};
use super::Draft;
use crate::base::{Finding, Point, plane::point};
use crate::parts::Layout;
use crate::proof::Proof;

/// Between tables beneath and beside each other, mm.
const GAP_MM: Point = point(10.0, 7.0);
/// Texts that tables are tried in, against the usual one.
const TEXTS: [f64; 3] = [1.0, 0.9, 0.8];
/// By how much a table may be wider than a column that it is then set in.
const GIVES_WAY: f64 = 1.12;
/// What rounding leaves, mm.
const HAIR_MM: f64 = 1e-6;
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
    let all = &layout.project.revisions;
    let row = |r: &crate::catalog::Revision| vec![r.mark.clone(), r.date.clone().unwrap_or_default(), r.text.clone()];
    (all.len() > super::frame::SHOWN_REVISIONS).then(|| Table {
        title: "Revisions",
        columns: vec![Column::text("Mark"), Column::text("Date"), Column::wrapped("What changed", 90.0)],
        rows: all.iter().map(row).collect(),
        notes: Vec::new(),
    })
}

/// The text and the way of the paper that take the fewest sheets: the larger text, then lying, where several take as many.
/// A way on which a table is too wide is none.
fn flow(layout: &Layout, title: &str, tables: &[Table]) -> Vec<Draft> {
    let usual = text_height(&layout.measure);
    let fits = |draft: &Draft| draft.board.bounds().is_none_or(|(_, high)| high.x <= draft.blank.inside().1.x);
    let ways = |factor: f64| {
        let text_mm = (usual * factor).max(LEAST_TEXT_MM);
        Blank::both(layout.paper()).into_iter().map(move |blank| on(layout, blank, (title, text_mm), tables))
    };
    let (mut first, mut best): (Option<Vec<Draft>>, Option<Vec<Draft>>) = (None, None);
    for next in TEXTS.into_iter().flat_map(ways) {
        if next.iter().all(fits) && best.as_ref().is_none_or(|best| next.len() < best.len()) {
            best = Some(next);
        } else {
            first.get_or_insert(next);
        }
        // Nothing takes fewer than one.
        if best.as_ref().is_some_and(|best| best.len() <= 1) {
            break;
        }
    }
    best.or(first).unwrap_or_default()
}

fn on(layout: &Layout, blank: Blank, (title, text_mm): (&str, f64), tables: &[Table]) -> Vec<Draft> {
    let (low, high) = blank.inside();
    let new = || Draft::new(layout, blank, title, "");
    let mut done = Vec::new();
    let mut draft = new();
    // Upper left corner of what is free, and the widest table of the column.
    let (mut at, mut widest) = (point(low.x, high.y), 0.0_f64);
    for table in tables.iter().filter(|t| !t.rows.is_empty()) {
        let column = column(text_mm, table, high.x - low.x);
        draft.board.text_mm = column.text_mm;
        let set = table.set_within(&draft.board, column.room);
        let mut from = 0;
        while from < set.count() {
            let end = set.end_within(from, at.y - low.y);
            let enough = end == set.count() || end >= from + LEAST_ROWS;
            let size = set.size(&(from..end.max(from)));
            let fits = enough && at.x + size.x <= high.x + HAIR_MM;
            let at_top = at.y >= high.y - HAIR_MM;
            if fits || (at_top && at.x <= low.x + HAIR_MM) {
                // A row taller than the sheet stands alone, rather than nowhere.
                let rows = from..end.max(from + 1);
                set.draw(&mut draft.board, at, &rows);
                let size = set.size(&rows);
                at.y -= size.y + GAP_MM.y;
                widest = widest.max(size.x);
                from = rows.end;
            } else if !at_top && at.x + widest + GAP_MM.x + size.x <= high.x + HAIR_MM {
                at = point(at.x + widest + GAP_MM.x, high.y);
                widest = 0.0;
            } else {
                done.push(std::mem::replace(&mut draft, new()));
                draft.board.text_mm = column.text_mm;
                (at, widest) = (point(low.x, high.y), 0.0);
            }
        }
    }
    done.push(draft);
    done.retain(|d| d.board.count() > 0);
    done
}

/// How wide a table is set, and with what text.
struct ColumnFit {
    room: f64,
    text_mm: f64,
}

/// The most columns of a sheet that a table fits in, if it has to give way by little; its text stays readable.
fn column(usual: f64, table: &Table, room: f64) -> ColumnFit {
    let board = Board::new(1.0, usual);
    let natural = table.set(&board);
    let wide = natural.size(&(0..natural.count())).x;
    let of = |count: f64| (room - (count - 1.0) * GAP_MM.x) / count;
    let room = [4.0, 3.0, 2.0].into_iter().map(of).find(|column| wide <= column * GIVES_WAY).unwrap_or(room);
    let set = table.set_within(&board, room);
    let wide = set.size(&(0..set.count())).x;
    ColumnFit { room, text_mm: (usual * room / wide).clamp(LEAST_TEXT_MM, usual) }
}
