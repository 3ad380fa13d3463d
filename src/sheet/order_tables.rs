//! What to buy, and how it is cut.

use crate::base::decimal;
use crate::parts::{Cost, Layout, OrderLine, Source, Stick};

use super::grid::{Column, Table};

/// A price with both decimals, unlike lengths.
fn money(price: f64) -> String {
    format!("{price:.2}")
}

/// The order by the pack, with its total, what it cannot be below, and its weight.
pub(super) fn order(layout: &Layout) -> Table {
    let lines = &layout.order;
    let finished = lines.iter().any(|l| l.finish.is_some());
    let spare = lines.iter().any(|l| l.spare > 0);
    let priced = lines.iter().any(|l| l.price.is_some());
    let row = |line: &OrderLine| {
        let mut cells = vec![line.pack_name.clone().unwrap_or_else(|| line.item.text())];
        cells.extend(finished.then(|| line.finish.clone().unwrap_or_else(|| "-".to_owned())));
        cells.push(line.quantity.to_string());
        cells.extend(spare.then(|| line.spare.to_string()));
        cells.extend([line.pack, line.packs, line.left_over()].map(|n| n.to_string()));
        cells.extend(priced.then(|| line.price.map_or_else(|| "-".to_owned(), money)));
        cells
    };
    let mut columns = vec![Column::wrapped("Item", 80.0)];
    columns.extend(finished.then(|| Column::text("Finish")));
    columns.push(Column::number("Needed"));
    columns.extend(spare.then(|| Column::number("Spare")));
    columns.extend(["Per pack", "Packs", "Left over"].map(Column::number));
    columns.extend(priced.then(|| Column::number("Price")));
    Table { title: "Order", columns, rows: lines.iter().map(row).collect(), notes: notes(layout) }
}

fn notes(layout: &Layout) -> Vec<String> {
    let mut notes = Vec::new();
    if let (Some(total), Some(bound)) = (layout.order_total(), layout.order_lower_bound()) {
        notes.push(if layout.cut_plan.is_proven() {
            format!("Total {}, proven to be the least for these panels.", money(total))
        } else {
            format!("Total {}; no order for these panels costs less than {}.", money(total), money(bound))
        });
    } else if let Some(total) = layout.order_total() {
        notes.push(format!("Total {}.", money(total)));
    }
    if let Some(weight) = layout.order_weight() {
        notes.push(format!("Weight {} kg ({} lb).", decimal(weight, 1), decimal(weight / 0.453_592_37, 0)));
    }
    notes
}

/// How each stick is cut.
pub(super) fn sticks(layout: &Layout) -> Table {
    let m = &layout.measure;
    let row = |stick: &Stick| {
        let pieces: Vec<String> = stick.pieces.iter().map(|p| format!("{} {}", p.of, m.mark_text(p.length))).collect();
        let from = match stick.source {
            Source::Kit(number) => format!("{}, no. {number}", stick.stock),
            Source::Stock => stick.stock.clone(),
            Source::OnHand => "on hand".to_owned(),
        };
        let offcut = format!("{}{}", m.mark_text(stick.offcut), if stick.kept { ", keep" } else { "" });
        vec![stick.member.text().to_owned(), from, m.mark_text(stick.length), pieces.join(", "), offcut]
    };
    let plan = &layout.cut_plan;
    let mut notes = vec!["Pieces from tip to tip, in sawing order from the left.".to_owned()];
    if !plan.sticks.is_empty() {
        let best = match (plan.is_proven(), plan.cost) {
            (true, Cost::Price(_)) => "proven to cost the least".to_owned(),
            (true, Cost::Length(_)) => "proven to take the least length".to_owned(),
            (false, _) => format!("at most {} % above the least", decimal(plan.gap_percent(), 2)),
        };
        let waste = decimal(plan.waste_percent(), 1);
        notes.push(format!("{} of stock, {} % waste; {best}.", m.text(plan.used), waste));
    }
    Table {
        title: "Cut plan",
        columns: vec![
            Column::text("Member"),
            Column::wrapped("From", 55.0),
            Column::number("Length"),
            Column::wrapped("Pieces", 70.0),
            Column::number("Rest"),
        ],
        rows: plan.sticks.iter().map(row).collect(),
        notes,
    }
}
