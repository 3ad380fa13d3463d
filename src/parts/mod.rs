//! Panels -> kits, cut list and order; and the finished [`Layout`] with its record, `layout.json`.
//!
//! Takes posts, spans and panels; gives what must be bought and cut and the one record of everything decided; refuses
//! panels longer than any stock with a finding.

mod convert;
pub mod infill;
mod order;
pub mod record;
pub mod stairs;
mod types;

use crate::base::{Finding, Measure};
use crate::catalog::Settings;
use crate::guard::{Guard, Span};
use crate::panel::Panel;

pub use convert::{RecordError, layout, record};
pub use types::{Layout, LayoutPanel, OrderLine, PlanFacts};

/// Puts everything decided together, picks a kit for each panel and counts the order.
pub fn assemble(
    guard: Guard,
    panels: Vec<(Span, Panel)>,
    plan: PlanFacts,
    measure: Measure,
    settings: &Settings,
) -> (Layout, Vec<Finding>) {
    let mut findings = Vec::new();
    let mut out = Vec::with_capacity(panels.len());
    for (span, panel) in panels {
        let kit = order::kit(&panel, &settings.system).map_err(|f| findings.push(*f)).ok();
        let measured = settings.measured.get(&panel.id).copied();
        out.push(LayoutPanel {
            span,
            panel,
            measured,
            kit: kit.map(|k| k.name.clone()),
            price: kit.and_then(|k| k.price),
        });
    }
    let order = order::order(&out, &guard.posts, &settings.system);
    let layout = Layout {
        plan,
        measure,
        system: settings.system.clone(),
        rules: settings.rules.clone(),
        project: settings.project.clone(),
        tolerance: settings.tolerance,
        posts: guard.posts,
        runs: guard.runs,
        panels: out,
        open: guard.open,
        erased: guard.erased,
        flights: guard.flights,
        handrails: guard.handrails,
        order,
    };
    (layout, findings)
}
