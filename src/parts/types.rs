//! The finished layout: everything decided, in exact lengths. `layout.json` is this, written out.

use crate::base::{Frame, Length, Mark, Measure, Point, Unit};
use crate::catalog::{Measured, OnHand, Paper, Project, RailSystem, RuleSet, ShopSettings};
use crate::deck::Flight;
use crate::guard::{Handrail, OpenSpan, Post, Run, Span};
use crate::panel::Panel;

use super::cut_plan::CutPlan;
use super::cutting::Cost;
use super::item::Item;
use super::site::Site;

/// What is known of the user's plan file.
#[derive(Debug, Clone, PartialEq)]
pub struct PlanFacts {
    /// File name without folders.
    pub file: String,
    /// SHA-256 of its bytes, in hexadecimal.
    pub sha256: String,
    /// Unit and origin of its coordinates.
    pub frame: Frame,
}

/// A panel with its span and what it is cut from.
#[derive(Debug, Clone, PartialEq)]
pub struct LayoutPanel {
    /// Where it stands.
    pub span: Span,
    /// What it is made of.
    pub panel: Panel,
    /// Its opening as measured on site, if it was.
    pub measured: Option<Measured>,
    /// Kit it is cut from.
    pub kit: Option<String>,
    /// Price of that kit, which other panels may share.
    pub price: Option<f64>,
}

/// One line of the order.
#[derive(Debug, Clone, PartialEq)]
pub struct OrderLine {
    /// What it is.
    pub item: Item,
    /// Finish, for what comes in several.
    pub finish: Option<String>,
    /// How many the job needs.
    pub quantity: u32,
    /// How many are bought beyond that on purpose.
    pub spare: u32,
    /// How many a pack holds.
    pub pack: u32,
    /// Name of the pack as ordered, where it differs from `item`.
    pub pack_name: Option<String>,
    /// Packs to buy.
    pub packs: u32,
    /// Price of all of it.
    pub price: Option<f64>,
    /// Weight of all of it in kilograms.
    pub weight_kg: Option<f64>,
}

impl OrderLine {
    /// An item of which nothing is needed yet.
    pub const fn new(item: Item, finish: Option<String>) -> Self {
        Self { item, finish, quantity: 0, spare: 0, pack: 1, pack_name: None, packs: 0, price: None, weight_kg: None }
    }

    /// What the packs hold beyond need and spare.
    pub const fn left_over(&self) -> u32 {
        self.packs.saturating_mul(self.pack).saturating_sub(self.quantity.saturating_add(self.spare))
    }
}

/// Everything decided for one plan.
#[derive(Debug, Clone, PartialEq)]
pub struct Layout {
    /// The user's plan.
    pub plan: PlanFacts,
    /// How lengths are shown.
    pub measure: Measure,
    /// Rail system.
    pub system: RailSystem,
    /// Rule set.
    pub rules: RuleSet,
    /// Title block.
    pub project: Project,
    /// Distance from the deck edge to the rail line.
    pub inset: Length,
    /// What stands around the rails on the plan; none without a plan.
    pub site: Option<Site>,
    /// Paper of the sheets, if the job sets it.
    pub sheet: Option<Paper>,
    /// By how much a finished gap may be off its marks.
    pub tolerance: Length,
    /// Posts.
    pub posts: Vec<Post>,
    /// Runs.
    pub runs: Vec<Run>,
    /// Panels.
    pub panels: Vec<LayoutPanel>,
    /// Spans that stay open by the user's wish.
    pub open: Vec<OpenSpan>,
    /// Places where the user erased a line post and none was set again.
    pub erased: Vec<(String, Point)>,
    /// Flights of stairs.
    pub flights: Vec<Flight>,
    /// Handrails.
    pub handrails: Vec<Handrail>,
    /// How the shop cuts and keeps.
    pub shop: ShopSettings,
    /// Pieces that lay in the shop before.
    pub on_hand: Vec<OnHand>,
    /// Finish, where the system has any.
    pub finish: Option<String>,
    /// How everything is cut.
    pub cut_plan: CutPlan,
    /// Order.
    pub order: Vec<OrderLine>,
}

impl Layout {
    /// The same with its lengths shown as the other trade does: in inches to a sixteenth, or in millimetres. Nothing of it
    /// is rounded anew, only its texts are.
    #[must_use]
    pub fn in_other_units(&self) -> Self {
        let measure = if self.measure.unit.is_imperial() {
            Measure { unit: Unit::Millimetre, mark: Mark::MILLIMETRE }
        } else {
            Measure { unit: Unit::Inch, mark: Mark::SIXTEENTH }
        };
        Self { measure, ..self.clone() }
    }

    /// Paper of the sheets.
    pub fn paper(&self) -> Paper {
        self.sheet.unwrap_or(Paper::usual(self.measure.unit.is_imperial()))
    }

    /// Price of the whole order, where every line has one.
    pub fn order_total(&self) -> Option<f64> {
        self.order.iter().map(|l| l.price).sum::<Option<f64>>().filter(|_| !self.order.is_empty())
    }

    /// What no order for these panels can cost less than: what is cut at its bound, all else as it is.
    pub fn order_lower_bound(&self) -> Option<f64> {
        match (self.cut_plan.cost, self.cut_plan.lower_bound) {
            (Cost::Price(cost), Cost::Price(bound)) => {
                self.order_total().map(|total| total - (cost - bound) as f64 / 100.0)
            }
            _ => None,
        }
    }

    /// Weight of the whole order in kilograms, where every line has one.
    pub fn order_weight(&self) -> Option<f64> {
        self.order.iter().map(|l| l.weight_kg).sum::<Option<f64>>().filter(|_| !self.order.is_empty())
    }
}
