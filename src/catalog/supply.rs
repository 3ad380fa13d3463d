//! How a system's parts are sold, and how the shop cuts them.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::MemberRole;
use crate::base::Length;

/// What is cut from a stock length.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Stocked {
    /// Lowest member.
    SupportRail,
    /// Rail at the balusters' feet.
    BottomRail,
    /// Rail at the balusters' heads.
    TopRail,
    /// Piece on top.
    Cap,
    /// Handrail.
    Handrail,
}

impl Stocked {
    /// Its name in lists and files.
    pub const fn text(self) -> &'static str {
        match self {
            Self::SupportRail => MemberRole::SupportRail.text(),
            Self::BottomRail => MemberRole::BottomRail.text(),
            Self::TopRail => MemberRole::TopRail.text(),
            Self::Cap => MemberRole::Cap.text(),
            Self::Handrail => "handrail",
        }
    }

    /// All there are, from low to high.
    pub const ALL: [Self; 5] = [Self::SupportRail, Self::BottomRail, Self::TopRail, Self::Cap, Self::Handrail];
}

impl From<MemberRole> for Stocked {
    fn from(role: MemberRole) -> Self {
        match role {
            MemberRole::SupportRail => Self::SupportRail,
            MemberRole::BottomRail => Self::BottomRail,
            MemberRole::TopRail => Self::TopRail,
            MemberRole::Cap => Self::Cap,
        }
    }
}

/// One member sold by the length.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub struct StockLength {
    /// Name as ordered.
    pub name: String,
    /// What is cut from it.
    pub member: Stocked,
    /// Its length.
    pub length: Length,
    /// Price, in the job's currency.
    pub price: Option<f64>,
    /// Weight in kilograms.
    pub weight_kg: Option<f64>,
}

/// A small part as the order counts it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Part {
    /// Baluster, beyond those in the kits.
    Baluster,
    /// Baluster that is longer than a level panel's, for stairs.
    BalusterRaked,
    /// Sleeve of a post.
    PostSleeve,
    /// Cap of a post.
    PostCap,
    /// Trim round a post's foot.
    PostBase,
    /// Bracket for square joints.
    BracketLevel,
    /// Bracket for joints that are angled in plan.
    BracketAngled,
    /// Bracket for stairs.
    BracketRaked,
    /// Support block.
    SupportBlock,
    /// Bracket of a handrail.
    HandrailBracket,
}

/// What a pack holds.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub enum Packed {
    /// A part.
    Part(Part),
    /// Screws, by their name in this file.
    Screw(String),
}

/// How a part is sold.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub struct Pack {
    /// What it holds, for example `{ part = "baluster" }` or `{ screw = "#9 x 2-3/4 in" }`.
    pub of: Packed,
    /// Name as ordered.
    pub name: String,
    /// How many it holds.
    pub count: u32,
    /// Price of one pack, in the job's currency.
    pub price: Option<f64>,
    /// Weight of one pack in kilograms.
    pub weight_kg: Option<f64>,
}

/// How the shop cuts and keeps; each has a default.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, rename_all = "kebab-case", default)]
pub struct ShopJob {
    /// What the saw takes; 1/8 in by default.
    pub kerf: Option<Length>,
    /// What is cut off each end of a stock length before it is used; nothing by default.
    pub trim: Option<Length>,
    /// The shortest rest that is kept; 24 in by default.
    pub least_offcut: Option<Length>,
    /// Whether two neighbouring pieces may share one angled saw cut; they do not by default, since it needs pieces turned
    /// end for end.
    pub nest: Option<bool>,
    /// What is bought beyond the need, in percent by part, for example `{ baluster = 5 }`.
    pub spare_percent: std::collections::BTreeMap<Part, u32>,
    /// The same for screws of every kind.
    pub spare_screws_percent: Option<u32>,
}

/// How the shop cuts and keeps.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ShopSettings {
    /// What the saw takes.
    pub kerf: Length,
    /// What is cut off each end of a stock length.
    pub trim: Length,
    /// The shortest rest that is kept.
    pub least_offcut: Length,
    /// Whether neighbouring pieces may share an angled cut.
    pub nest: bool,
    /// What is bought beyond the need, in percent by part.
    pub spare_percent: std::collections::BTreeMap<Part, u32>,
    /// The same for screws.
    pub spare_screws_percent: u32,
}

impl From<ShopJob> for ShopSettings {
    /// Fills in what the job leaves open: a blade of 1/8 in and rests from 24 in on are common practice.
    fn from(job: ShopJob) -> Self {
        Self {
            kerf: job.kerf.unwrap_or(Length::INCH.fraction(1, 8)),
            trim: job.trim.unwrap_or(Length::ZERO),
            least_offcut: job.least_offcut.unwrap_or(Length::INCH * 24),
            nest: job.nest.unwrap_or(false),
            spare_percent: job.spare_percent,
            spare_screws_percent: job.spare_screws_percent.unwrap_or(0),
        }
    }
}
