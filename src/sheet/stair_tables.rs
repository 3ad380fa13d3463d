//! Schedules of stairs: flights and handrails.

use crate::base::{Angle, decimal};
use crate::deck::Flight;
use crate::guard::Handrail;
use crate::parts::Layout;

use super::grid::{Column, Table};
use super::text::size_text;

/// An angle as tables show it.
pub fn degrees(angle: Angle) -> String {
    format!("{}\u{b0}", decimal(angle.abs().degrees(), 1))
}

/// Whether anything of the layout is on a stair, so that tables need the columns for it.
pub(super) fn has_stairs(layout: &Layout) -> bool {
    !layout.flights.is_empty() || layout.panels.iter().any(|p| p.panel.rake.is_some())
}

/// Flights of stairs.
pub(super) fn flights(layout: &Layout) -> Table {
    let m = &layout.measure;
    let row = |f: &Flight| {
        vec![
            f.id.clone(),
            f.risers.to_string(),
            size_text(m, f.steps.riser),
            size_text(m, f.steps.tread),
            size_text(m, f.steps.nosing),
            degrees(f.pitch.angle()),
            m.text(f.total_rise()),
            m.text(f.length()),
        ]
    };
    let numbers = ["Risers", "Riser", "Tread", "Nosing", "Pitch", "Total rise", "Level length"].map(Column::number);
    Table {
        title: "Flights",
        columns: std::iter::once(Column::text("Flight")).chain(numbers).collect(),
        rows: layout.flights.iter().map(row).collect(),
        notes: vec!["Tread: from nosing to nosing. Level length: from the top nosing to the lowest one.".to_owned()],
    }
}

/// Handrails.
pub(super) fn handrails(layout: &Layout) -> Table {
    let m = &layout.measure;
    let row = |h: &Handrail| {
        let flight = layout.flights.get(h.flight).map_or_else(|| "-".to_owned(), |f| f.id.clone());
        let brackets: Vec<String> = h.brackets.iter().map(|b| m.mark_text(*b)).collect();
        vec![
            h.id.clone(),
            flight,
            if h.left { "left" } else { "right" }.to_owned(),
            h.before.text().to_owned(),
            m.mark_text(h.height),
            m.mark_text(h.length),
            m.mark_text(h.extension_top),
            m.mark_text(h.extension_bottom),
            m.mark_text(h.total()),
            brackets.join(", "),
        ]
    };
    let numbers = ["Height", "On the slope", "Top extension", "Foot extension", "Total"].map(Column::number);
    let name = layout.system.handrail.as_ref().map(|h| format!("Section: {}.", h.name));
    let note = "Side as seen from the top looking down. Height: top above the line through the nosings, plumb. Brackets along the handrail, from its upper end.";
    Table {
        title: "Handrails",
        columns: ["Handrail", "Flight", "Side", "Before"]
            .map(Column::text)
            .into_iter()
            .chain(numbers)
            .chain([Column::wrapped("Brackets", 50.0)])
            .collect(),
        rows: layout.handrails.iter().map(row).collect(),
        notes: name.into_iter().chain([note.to_owned()]).collect(),
    }
}
