//! A rule set: one code edition's limits with their sections and evidence, as they hold for one case.

mod case;
mod file;
mod kinds;
#[cfg(test)]
mod tests;
#[cfg(test)]
mod values;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::CatalogError;
use crate::base::{Code, Finding, Length, Place};

pub use case::{Circumstances, GuardPlace, Use};
pub use file::{CountEntry, LimitEntry, LoadEntry, RuleFile};
pub use kinds::{CountKind, LimitKind, LoadKind, RuleKind};

/// The limits that hold for one case: at most one of a kind, without conditions. [`RuleFile::resolve`] makes it; read from
/// text it is a file that stands alone, taken for the careful case.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(try_from = "RuleFile")]
pub struct RuleSet {
    /// Short name, as `--rules` takes it.
    pub name: String,
    /// One line for people.
    pub title: String,
    /// What the job states of the case.
    pub case: Circumstances,
    /// What the limits depend on and the job does not state.
    pub assumed: Vec<Assumed>,
    /// Its limits.
    pub limits: Vec<Limit>,
    /// Its limits that are numbers of things.
    pub counts: Vec<Count>,
    /// Loads, as information.
    pub loads: Vec<Load>,
}

/// A circumstance that was taken in the absence of a statement.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Assumed {
    /// What is not stated, and how it was taken.
    pub what: &'static str,
    /// How the job file would state it.
    pub key: &'static str,
    /// What depends on it, by the names of a rule file.
    pub names: Vec<&'static str>,
}

/// One limit.
#[derive(Debug, Clone, PartialEq)]
pub struct Limit {
    /// What it limits.
    pub what: LimitKind,
    /// Value in the unit that the code prints.
    pub value: Length,
    /// Whether exactly the value still passes.
    pub exact: Exact,
    /// Height above the walking surface from which on it holds; `None`: from the surface on.
    pub from: Option<Length>,
    /// Section of the code.
    pub section: String,
    /// How surely the value is known.
    pub evidence: Evidence,
    /// Where the value was read.
    pub source: String,
}

/// A limit that is a number of things.
#[derive(Debug, Clone, PartialEq)]
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

/// A load that the guard has to bear. It is shown; nothing is designed by it.
#[derive(Debug, Clone, PartialEq)]
pub struct Load {
    /// Where it acts.
    pub what: LoadKind,
    /// How much, in `unit`.
    pub value: f64,
    /// Unit as the code prints it.
    pub unit: LoadUnit,
    /// Area on which it acts, as the code prints it.
    pub area: Option<String>,
    /// Section of the code.
    pub section: String,
    /// How surely the value is known.
    pub evidence: Evidence,
    /// Where the value was read.
    pub source: String,
}

/// What becomes of exactly the limit: codes say "a sphere of 4 in must not pass" (exactly 4 in fails) or "not more than
/// 110 mm" (exactly 110 mm passes).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Exact {
    /// Exactly the limit fails.
    Fails,
    /// Exactly the limit passes.
    Passes,
}

/// Unit of a load.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub enum LoadUnit {
    /// Pounds.
    #[serde(rename = "lbf")]
    Pounds,
    /// Pounds for each foot of length.
    #[serde(rename = "plf")]
    PoundsPerFoot,
    /// Kilonewtons.
    #[serde(rename = "kN")]
    Kilonewtons,
    /// Kilonewtons for each metre of length.
    #[serde(rename = "kN/m")]
    KilonewtonsPerMetre,
}

impl LoadUnit {
    /// Its sign in reports.
    pub const fn text(self) -> &'static str {
        match self {
            Self::Pounds => "lbf",
            Self::PoundsPerFoot => "plf",
            Self::Kilonewtons => "kN",
            Self::KilonewtonsPerMetre => "kN/m",
        }
    }

    /// Whether it is a load for each unit of length.
    const fn is_line(self) -> bool {
        matches!(self, Self::PoundsPerFoot | Self::KilonewtonsPerMetre)
    }
}

/// How surely a value is known.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Evidence {
    /// Read in the official or a government text, or in a full reprint of it.
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

    /// The load of a kind, if the set has one.
    pub fn load(&self, what: LoadKind) -> Option<&Load> {
        self.loads.iter().find(|l| l.what == what)
    }

    /// A note of everything that limits depend on and that was taken in the absence of a statement.
    pub fn assumption(&self) -> Option<Finding> {
        let told: Vec<String> = self.assumed.iter().map(|a| format!("{} ({})", a.what, a.names.join(", "))).collect();
        let keys: Vec<&str> = self.assumed.iter().map(|a| a.key).collect();
        let message = format!("limits of {} depend on what is not stated: {}", self.name, told.join("; "));
        let hint = format!("state it in the job file under [rule-case]: {}", keys.join(", "));
        (!told.is_empty()).then(|| Finding::note(Code::RuleCaseAssumed, Place::none(), message).hint(hint))
    }
}

impl TryFrom<RuleFile> for RuleSet {
    type Error = CatalogError;

    fn try_from(file: RuleFile) -> Result<Self, CatalogError> {
        file.check()?;
        file.resolve(&Circumstances::default())
    }
}
