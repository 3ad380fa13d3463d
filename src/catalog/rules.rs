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
}
