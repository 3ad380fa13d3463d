//! The re-check in `layout.json`: one entry a check. They are for reading; a layout that is read back is proved again.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::record::PlaceRecord;

/// One check.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct CheckRecord {
    /// What was measured.
    pub what: String,
    /// Where.
    pub place: PlaceRecord,
    /// Who asks for it; absent for the layout's own consistency.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub rule: Option<CheckRuleRecord>,
    /// What is required.
    pub required: RequiredRecord,
    /// What was measured on the rounded marks, in `units`.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub actual: Option<f64>,
    /// The same with the cutting tolerance.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub worst: Option<f64>,
    /// By how much it holds in the worst case; negative where it fails.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub margin: Option<f64>,
    /// How it ended.
    pub verdict: VerdictRecord,
    /// Why it was not made.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub why: Option<String>,
}

/// Who asks.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct CheckRuleRecord {
    /// Rule set or rail system.
    pub set: String,
    /// Section of the code, or field of the system's file.
    pub section: String,
    /// How surely the value is known; absent for a rail system.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub evidence: Option<crate::catalog::Evidence>,
}

/// What is required.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RequiredRecord {
    /// How the value limits.
    pub kind: RequiredKindRecord,
    /// The limit, in `units`.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub value: Option<f64>,
    /// The fact, in words.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub text: Option<String>,
}

/// How a value limits.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum RequiredKindRecord {
    /// Less than the value; exactly the value fails.
    Under,
    /// The value or less.
    AtMost,
    /// The value or more.
    AtLeast,
    /// Just the value.
    Exactly,
    /// No length.
    Fact,
}

/// How a check ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum VerdictRecord {
    /// It holds.
    Pass,
    /// It does not.
    Fail,
    /// It was not made.
    NotChecked,
}
