//! What the cutting planner takes and gives.

use std::fmt;

use crate::base::{Angle, Length};

/// One piece to be cut.
///
/// The angles are signed as those of [`crate::panel::Cut`]: positive when the outer edge is the longer one at that end.
/// So ends of opposite sign are parallel, and the piece is a parallelogram.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Piece {
    /// From tip to tip along the rail.
    pub length: Length,
    /// Width of the member in the plane of the saw angles.
    pub width: Length,
    /// Saw angle at the left end; 0 is square.
    pub left: Angle,
    /// Saw angle at the right end.
    pub right: Angle,
}

impl Piece {
    /// A piece with square ends.
    pub const fn square(length: Length) -> Self {
        Self { length, width: Length::ZERO, left: Angle::ZERO, right: Angle::ZERO }
    }
}

/// One kind of stick that pieces are cut from.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Stock {
    /// Name as ordered.
    pub name: String,
    /// Length of a stick.
    pub length: Length,
    /// Price of a stick in hundredths of the job's currency, at least 1. If any stock that can be bought has none, the whole job is
    /// reckoned by length.
    pub price: Option<i64>,
    /// `Some`: so many lie in the shop, cost nothing, and no more can be had. `None`: as many as needed can be bought.
    pub on_hand: Option<u32>,
}

/// How the shop cuts.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Shop {
    /// What the saw takes, square to its cut.
    pub kerf: Length,
    /// Taken off each end of a stick before use, the saw's kerf included.
    pub end_trim: Length,
    /// Shortest offcut that is worth keeping.
    pub least_offcut: Length,
    /// Whether pieces with parallel slanted ends may share tips in a stick.
    pub nest: bool,
}

/// What a plan is measured by.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Cost {
    /// Hundredths of the job's currency.
    Price(i64),
    /// Length of the sticks that must be bought.
    Length(Length),
}

impl Cost {
    /// As a bare number: hundredths or nanometres.
    pub const fn number(self) -> i64 {
        match self {
            Self::Price(hundredths) => hundredths,
            Self::Length(length) => length.nanometres(),
        }
    }
}

/// A piece in its stick.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Placed {
    /// Index of the piece as it was given.
    pub piece: usize,
    /// Its left tip, from the stick's left end as bought.
    pub at: Length,
}

/// A stick and what is cut from it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Stick {
    /// Index of the stock as it was given.
    pub stock: usize,
    /// Pieces in sawing order: from the left, longest first; pieces that share tips stand together.
    pub pieces: Vec<Placed>,
    /// What is left behind the last cut, the untouched right end of the stick included.
    pub offcut: Length,
    /// Whether the offcut is worth keeping.
    pub kept: bool,
}

/// How everything is cut.
#[derive(Debug, Clone, PartialEq)]
pub struct Plan {
    /// Sticks by stock, then by their pieces, longest first.
    pub sticks: Vec<Stick>,
    /// Pieces that no stick can take: longer than every stock, or all sticks that could take them are used up.
    pub unplaced: Vec<usize>,
    /// What the sticks cost.
    pub cost: Cost,
    /// No plan that places as many pieces costs less than this. Derived in whole numbers, so rounding cannot spoil it.
    pub lower_bound: Cost,
    /// Whether `cost` is known to be the least.
    pub proven: bool,
    /// Sticks used, less the pieces and the kept offcuts. A piece counts with what it takes from its stick.
    pub waste: Length,
    /// Length of all sticks used.
    pub used: Length,
}

impl Plan {
    /// By how much the cost may be above the least, as a part of the cost: 0 is the optimum.
    pub fn gap(&self) -> f64 {
        let (cost, bound) = (self.cost.number() as f64, self.lower_bound.number() as f64);
        if cost > bound { (cost - bound) / cost } else { 0.0 }
    }

    /// Waste in percent of the sticks used.
    pub fn waste_percent(&self) -> f64 {
        let used = self.used.nanometres() as f64;
        if used > 0.0 { 100.0 * self.waste.nanometres() as f64 / used } else { 0.0 }
    }
}

/// Why nothing can be planned.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum CuttingError {
    /// A piece whose length, width or angles make no sense; its index.
    Piece(usize),
    /// A stock whose length or price makes no sense; its index.
    Stock(usize),
    /// A kerf, end trim or least offcut that is negative or absurdly large.
    Shop,
    /// More pieces or kinds of stock than are planned at once.
    TooMany,
}

impl fmt::Display for CuttingError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Piece(i) => write!(f, "piece {} has no sensible length, width or angle", i + 1),
            Self::Stock(i) => write!(f, "stock {} has no sensible length or price", i + 1),
            Self::Shop => f.write_str("a kerf, an end trim and a least offcut are lengths of 0 or more"),
            Self::TooMany => write!(f, "more than {MOST_PIECES} pieces or {MOST_STOCKS} kinds of stock"),
        }
    }
}

impl std::error::Error for CuttingError {}

/// Pieces that are planned at once: far beyond a job, and their lists still fit in memory with ease.
pub(super) const MOST_PIECES: usize = 100_000;
/// Kinds of stock that are planned at once.
pub(super) const MOST_STOCKS: usize = 64;
/// 10 km: sums of [`MOST_PIECES`] of them stay far inside an `i64` of nanometres.
pub(super) const LONGEST: Length = Length::from_nanometres(10_000_000_000_000);
/// A thousand million: sums of [`MOST_PIECES`] of them stay far inside an `i64` of hundredths.
pub(super) const DEAREST: i64 = 100_000_000_000;
