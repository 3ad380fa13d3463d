//! The finished layout: everything decided, in exact lengths. `layout.json` is this, written out.

use crate::base::{Frame, Measure, Point};
use crate::catalog::{Measured, Project, RailSystem, RuleSet};
use crate::deck::Flight;
use crate::guard::{Handrail, OpenSpan, Post, Run, Span};
use crate::panel::Panel;

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
    /// Price of that kit.
    pub price: Option<f64>,
}

/// One line of the order.
#[derive(Debug, Clone, PartialEq)]
pub struct OrderLine {
    /// As ordered.
    pub item: String,
    /// How many the job needs.
    pub quantity: u32,
    /// How many a pack holds.
    pub pack: u32,
    /// Packs to buy.
    pub packs: u32,
    /// Price of all of it.
    pub price: Option<f64>,
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
    /// By how much a finished gap may be off its marks.
    pub tolerance: crate::base::Length,
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
    /// Order.
    pub order: Vec<OrderLine>,
}
