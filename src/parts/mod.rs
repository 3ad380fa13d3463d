//! Panels -> kits, cut list and order; and the finished [`Layout`] with its record, `layout.json`.
//!
//! Takes posts, spans and panels; gives what must be bought and cut and the one record of everything decided; refuses
//! panels longer than any stock with a finding.

mod again;
pub mod checks;
mod convert;
mod cut_plan;
pub mod cutting;
mod earlier;
pub mod infill;
mod item;
mod joint;
mod joint_bound;
mod joint_exact;
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

pub use again::{contradictions, told};
pub use convert::{RecordError, finding_records, layout, place_record, record};
pub use cut_plan::{CutPlan, Source, Stick, StickPiece};
pub use cutting::Cost;
pub use earlier::EarlierFile;
pub use item::{Item, supplies};
pub use joint::{Joint, choose};

pub use record::Record;
pub use site::Site;
pub use types::{Layout, LayoutPanel, OrderLine, PlanFacts};

/// Puts everything decided together, with what stands around it on the plan, where there is one; picks a kit for each
/// panel and counts the order.
pub fn assemble(
    guard: Guard,
    panels: Vec<(Span, Panel)>,
    (plan, site): (PlanFacts, Option<Site>),
    measure: Measure,
    settings: &Settings,
) -> (Layout, Vec<Finding>) {
    let of = |(span, panel): (Span, Panel)| {
        let measured = settings.measured.get(&panel.id).copied();
        LayoutPanel { span, panel, measured, kit: None, price: None }
    };
    let mut layout = Layout {
        plan,
        measure,
        system: settings.system.clone(),
        rules: settings.rules.clone(),
        project: settings.project.clone(),
        inset: settings.inset,
        site,
        sheet: settings.sheet,
        tolerance: settings.tolerance,
        posts: guard.posts,
        runs: guard.runs,
        panels: panels.into_iter().map(of).collect(),
        open: guard.open,
        erased: guard.erased,
        flights: guard.flights,
        handrails: guard.handrails,
        shop: settings.shop.clone(),
        on_hand: settings.on_hand.clone(),
        finish: settings.finish.clone(),
        cut_plan: CutPlan::empty(),
        order: Vec::new(),
    };
    let findings = supply(&mut layout);
    (layout, findings)
}

/// Plans how everything is cut, gives each panel its kit, and counts the order.
pub fn supply(layout: &mut Layout) -> Vec<Finding> {
    let (cut_plan, findings) = sticks::cut_plan(layout);
    let kits = cut_plan.kits();
    for at in &mut layout.panels {
        at.kit = kits.get(at.panel.id.as_str()).map(|name| (*name).to_owned());
        at.price = layout.system.kits.iter().find(|k| Some(&k.name) == at.kit.as_ref()).and_then(|k| k.price);
    }
    layout.cut_plan = cut_plan;
    layout.order = order::order(layout);
    findings
}
