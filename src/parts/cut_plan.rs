//! Which stick each piece is cut from, what that costs, and how good it is.

use std::collections::BTreeMap;

use super::cutting::Cost;
use crate::base::Length;
use crate::catalog::Stocked;

/// Where a stick comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Source {
    /// Out of a kit: its number in this job, from 1.
    Kit(u32),
    /// Bought by the length.
    Stock,
    /// From the shop.
    OnHand,
}

/// A piece in its stick.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StickPiece {
    /// Panel or handrail.
    pub of: String,
    /// Its left tip, from the stick's left end.
    pub at: Length,
    /// From tip to tip.
    pub length: Length,
}

/// A stick and what is cut from it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Stick {
    /// As ordered; what lies in the shop has no name.
    pub stock: String,
    /// Where it comes from.
    pub source: Source,
    /// What it is.
    pub member: Stocked,
    /// Its length.
    pub length: Length,
    /// Price in hundredths: of the stick, or of the whole kit on the first stick of it.
    pub price: Option<i64>,
    /// Pieces in sawing order.
    pub pieces: Vec<StickPiece>,
    /// What is left behind the last cut.
    pub offcut: Length,
    /// Whether the rest is worth keeping.
    pub kept: bool,
}

/// How everything is cut.
#[derive(Debug, Clone, PartialEq)]
pub struct CutPlan {
    /// Sticks: kits one after the other, then stock by member.
    pub sticks: Vec<Stick>,
    /// What the sticks that are bought cost.
    pub cost: Cost,
    /// No plan for these panels costs less.
    pub lower_bound: Cost,
    /// Length of all sticks.
    pub used: Length,
    /// What is neither piece nor kept rest.
    pub waste: Length,
}

impl CutPlan {
    /// Nothing to cut.
    pub const fn empty() -> Self {
        Self {
            sticks: Vec::new(),
            cost: Cost::Length(Length::ZERO),
            lower_bound: Cost::Length(Length::ZERO),
            used: Length::ZERO,
            waste: Length::ZERO,
        }
    }

    /// Whether the cost is known to be the least.
    pub fn is_proven(&self) -> bool {
        self.cost == self.lower_bound
    }

    /// By how much the cost may be above the least, in percent of the cost.
    pub fn gap_percent(&self) -> f64 {
        let (cost, bound) = (self.cost.number() as f64, self.lower_bound.number() as f64);
        if cost > bound { 100.0 * (cost - bound) / cost } else { 0.0 }
    }

    /// Waste in percent of the sticks used.
    pub fn waste_percent(&self) -> f64 {
        let used = self.used.nanometres() as f64;
        if used > 0.0 { 100.0 * self.waste.nanometres() as f64 / used } else { 0.0 }
    }

    /// The name of the kit that each panel is cut from, by panel.
    pub fn kits(&self) -> BTreeMap<&str, &str> {
        let kits = self.sticks.iter().filter(|s| matches!(s.source, Source::Kit(_)));
        kits.flat_map(|s| s.pieces.iter().map(|p| (p.of.as_str(), s.stock.as_str()))).collect()
    }
}
