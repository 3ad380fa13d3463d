//! All drawings of a layout, and where each stands when they share one model space.

use std::sync::Arc;

use super::plan::NOTES;
use super::{Drawing, Item, context, elevation, flight_elevations, plan_beside, section};
use crate::base::plane::point;
use crate::base::{Code, Finding, Place, Point, Refusal, Severity};
use crate::deck::Plan;
use crate::parts::Layout;

/// Space between neighbouring drawings, mm on paper at the plan's scale.
const GAP: f64 = 20.0;

/// With more panels no drawings and no workbook are made: their tables alone would take a gigabyte.
const MOST_MADE: usize = 3_000;

/// Why a layout is not drawn at all.
///
/// # Errors
/// When it has more panels than that.
pub fn may_be_drawn(layout: &Layout) -> Result<(), Refusal> {
    let count = layout.panels.len();
    if count <= MOST_MADE {
        return Ok(());
    }
    let message =
        format!("the layout has {count} panels; drawings, report and workbook are made of at most {MOST_MADE}");
    let finding = Finding::error(Code::OverBudget, Place::none(), message);
    Err(Refusal::new(finding.hint("divide the plan, or ask for --formats rail,csv,json")))
}

/// The drawings of a layout.
#[derive(Debug, Clone, PartialEq)]
pub struct Set {
    /// Plan, on the user's own coordinates.
    pub plan: Arc<Drawing>,
    /// The user's plan behind it, for pictures of the plan alone.
    pub background: Arc<Vec<Item>>,
    /// Elevation of each panel.
    pub elevations: Vec<Arc<Drawing>>,
    /// Typical section.
    pub section: Arc<Drawing>,
    /// Elevations of the flights of stairs.
    pub flights: Vec<Arc<Drawing>>,
}

/// The plan alone, and the user's plan behind it.
pub fn plan_of(plan: &Plan, layout: &Layout, findings: &[Finding]) -> (Drawing, Vec<Item>) {
    let background = context(&plan.outlines);
    // On the plan stands what a reader must look at; notes are in the tables.
    let serious: Vec<Finding> = findings.iter().filter(|f| f.severity > Severity::Note).cloned().collect();
    (plan_beside(layout, &serious, &background), background)
}

/// The plan for the user's own drawing: rails, tags and dimensions alone, since title, notes and list could lie on what the
/// user has drawn there.
pub fn rails(plan: &Plan, layout: &Layout, findings: &[Finding]) -> Drawing {
    rails_of(&plan_of(plan, layout, findings).0)
}

/// The same of a plan that is composed already.
pub fn rails_of(plan: &Drawing) -> Drawing {
    let is_rail = |item: &&Item| item.object.as_ref().is_none_or(|o| o.kind != NOTES);
    let items = plan.items.iter().filter(is_rail).cloned().collect();
    Drawing { items, name: plan.name.clone(), title: plan.title.clone(), parts: plan.parts.clone(), ..*plan }
}

/// Composes them.
pub fn compose(plan: &Plan, layout: &Layout, findings: &[Finding]) -> Set {
    let (plan, background) = plan_of(plan, layout, findings);
    compose_with((Arc::new(plan), Arc::new(background)), layout)
}

/// The same with a plan that is composed already, and what is behind it.
pub fn compose_with((plan, background): (Arc<Drawing>, Arc<Vec<Item>>), layout: &Layout) -> Set {
    Set {
        background,
        elevations: layout.panels.iter().map(|p| Arc::new(elevation(layout, p))).collect(),
        section: Arc::new(section(layout)),
        flights: (0..layout.flights.len()).flat_map(|i| flight_elevations(layout, i)).map(Arc::new).collect(),
        plan,
    }
}

impl Set {
    /// Each drawing with the shift of its origin: the plan stays where it is; elevations, section and flights
    /// in rows below it, about as wide as they are high together. Tables stand on the sheets.
    pub fn arrangement(&self) -> Vec<(&Drawing, Point)> {
        let gap = GAP * self.plan.paper;
        let mut out: Vec<(&Drawing, Point)> = vec![(&self.plan, point(0.0, 0.0))];
        let details = || self.elevations.iter().chain([&self.section]).chain(&self.flights);
        let area: f64 = details().map(|d| (d.high.x - d.low.x + gap) * (d.high.y - d.low.y + gap)).sum();
        let width = area.sqrt().max(self.plan.high.x - self.plan.low.x);
        let (mut x, mut top, mut row) = (self.plan.low.x, self.plan.low.y - gap, 0.0_f64);
        for drawing in details() {
            let size = drawing.high - drawing.low;
            if x > self.plan.low.x && x + size.x > self.plan.low.x + width {
                (x, top, row) = (self.plan.low.x, top - row - gap, 0.0);
            }
            out.push((drawing, point(x - drawing.low.x, top - drawing.high.y)));
            x += size.x + gap;
            row = row.max(size.y);
        }
        out
    }
}
