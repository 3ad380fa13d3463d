//! Panels -> kits, cut list and order; and the finished [`Layout`] with its record, `layout.json`.
//!
//! Takes posts, spans and panels; gives what must be bought and cut and the one record of everything decided; refuses
//! panels longer than any stock with a finding.

pub mod checks;
mod convert;
mod cut_plan;
pub mod cutting;
pub mod infill;
mod joint;
mod joint_bound;
mod joint_exact;
mod missing;
mod order;
pub mod record;
pub mod site;
pub mod stairs;
mod sticks;
pub mod supply;
mod types;

use crate::base::{Finding, Measure};
use crate::catalog::Settings;
use crate::guard::{Guard, Span};
use crate::panel::Panel;

pub use convert::{RecordError, finding_records, layout, place_record, record};
pub use cut_plan::{CutPlan, Source, Stick, StickPiece};
pub use cutting::Cost;
pub use joint::{Joint, choose};
pub use missing::missing;

pub use site::Site;
pub use types::{Layout, LayoutPanel, OrderLine, PlanFacts};

/// Puts everything decided together, with what stands around it on the plan, where there is one; picks a kit for each panel and counts the order.
pub fn assemble(
    guard: Guard,
    panels: Vec<(Span, Panel)>,
    (plan, site): (PlanFacts, Option<Site>),
    measure: Measure,
    settings: &Settings,
) -> (Layout, Vec<Finding>) {
    let (spans, panels): (Vec<Span>, Vec<Panel>) = panels.into_iter().unzip();
    let (cut_plan, findings) = sticks::cut_plan(&panels, &guard.handrails, settings);
    let order = order::order(&panels, &guard.handrails, &guard.posts, &cut_plan, settings);
    let kits = cut_plan.kits();
    let boxed = |span, panel: Panel| {
        let kit = kits.get(panel.id.as_str()).map(|name| (*name).to_owned());
        let price = settings.system.kits.iter().find(|k| Some(&k.name) == kit.as_ref()).and_then(|k| k.price);
        let measured = settings.measured.get(&panel.id).copied();
        LayoutPanel { span, panel, measured, kit, price }
    };
    let panels = spans.into_iter().zip(panels).map(|(span, panel)| boxed(span, panel)).collect();
    let layout = Layout {
        plan,
        measure,
        system: settings.system.clone(),
        rules: settings.rules.clone(),
        project: settings.project.clone(),
        inset: Some(settings.inset),
        site,
        sheet: settings.sheet,
        tolerance: settings.tolerance,
        posts: guard.posts,
        runs: guard.runs,
        panels,
        open: guard.open,
        erased: guard.erased,
        flights: guard.flights,
        handrails: guard.handrails,
        cut_plan,
        order,
    };
    (layout, findings)
}
