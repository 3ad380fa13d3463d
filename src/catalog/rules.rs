//! A rule set: one code edition's limits with their sections and evidence.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::base::Length;

/// One code edition's limits.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub struct RuleSet {
    /// Short name, as `--rules` takes it.
    pub name: String,
    /// One line for people.
    pub title: String,
    /// Its limits.
    #[serde(rename = "limit")]
    pub limits: Vec<Limit>,
    /// Its limits that are numbers of things.
    #[serde(rename = "count", default)]
    pub counts: Vec<Count>,
}

/// What a limit limits.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum LimitKind {
    /// A guard is needed where the drop is more than this.
    GuardNeededAbove,
    /// Least height of the guard.
    GuardHeight,
    /// A sphere of this diameter must not pass.
    Opening,
    /// Least height of a guard on a stair above the nosing line.
    StairGuardHeight,
    /// A sphere of this diameter must not pass between the balusters of a guard on a stair.
    StairOpening,
    /// A sphere of this diameter must not pass the triangle of riser, tread and bottom rail.
    StairTriangle,
    /// Highest riser.
    RiserHeight,
    /// Shallowest tread, from nosing to nosing.
    TreadDepth,
    /// Largest difference between two risers of a flight.
    RiserVariation,
    /// Largest difference between two treads of a flight.
    TreadVariation,
    /// Shortest projection of a nosing.
    NosingMin,
    /// Longest projection of a nosing.
    NosingMax,
    /// From this tread depth on no nosing is needed.
    NosingFreeTread,
    /// Least height of a handrail above the nosing line.
    HandrailHeightMin,
    /// Greatest height of a handrail above the nosing line.
    HandrailHeightMax,
    /// Least clear space between a handrail and what it stands before.
    HandrailClearance,
    /// Least diameter of a round handrail.
    HandrailDiameterMin,
    /// Greatest diameter of a round handrail.
    HandrailDiameterMax,
    /// Least perimeter of a handrail that is not round.
    HandrailPerimeterMin,
    /// Greatest perimeter of a handrail that is not round.
    HandrailPerimeterMax,
    /// Greatest dimension across a handrail that is not round.
    HandrailSectionMax,
    /// How far a handrail goes on level beyond the top nosing.
    HandrailExtensionTop,
    /// How far it goes on sloping beyond the lowest nosing.
    HandrailExtensionBottom,
}

/// What a number of things is asked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum CountKind {
    /// A handrail is needed on flights with this many risers or more.
    HandrailFromRisers,
    /// On how many sides of a flight.
    HandrailSides,
}

/// A limit that is a number of things.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub struct Count {
    /// What is counted.
    pub what: CountKind,
    /// How many.
    pub value: u32,
    /// Section of the code.
    pub section: String,
    /// How surely the value is known.
    pub evidence: Evidence,
    /// Where the value was read.
    pub source: String,
}

/// One limit.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub struct Limit {
    /// What it limits.
    pub what: LimitKind,
    /// Value in the unit that the code prints.
    pub value: Length,
    /// Section of the code.
    pub section: String,
    /// How surely the value is known.
    pub evidence: Evidence,
    /// Where the value was read.
    pub source: String,
}

/// How surely a value is known.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Evidence {
    /// Read in the official or a government text.
    Seen,
    /// Read in a secondary text.
    Quoted,
    /// Not seen; to be confirmed.
    Memory,
}

impl Evidence {
    /// Its word in reports.
    pub const fn text(self) -> &'static str {
        match self {
            Self::Seen => "seen",
            Self::Quoted => "quoted",
            Self::Memory => "memory",
        }
    }
}

impl RuleSet {
    /// The limit of a kind, if the set has one.
    pub fn limit(&self, what: LimitKind) -> Option<&Limit> {
        self.limits.iter().find(|l| l.what == what)
    }

    /// The number of things of a kind, if the set has one.
    pub fn count(&self, what: CountKind) -> Option<&Count> {
        self.counts.iter().find(|c| c.what == what)
    }
}
