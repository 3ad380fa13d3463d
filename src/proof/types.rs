//! What a proof says.

use crate::base::{Code, Finding, Length, Place};

/// All checks of a layout.
#[derive(Debug, Clone, PartialEq)]
pub struct Proof {
    /// Every check, by panel in the layout's order, then by run.
    pub checks: Vec<Check>,
    /// One finding for each check that failed or could not be made.
    pub findings: Vec<Finding>,
}

impl Proof {
    /// Whether no check failed.
    pub fn holds(&self) -> bool {
        self.checks.iter().all(|check| check.verdict != Verdict::Fail)
    }

    /// How many checks were made and how they ended, in one line.
    pub fn summary(&self) -> String {
        let failed = self.checks.iter().filter(|c| c.verdict == Verdict::Fail).count();
        let open = self.checks.iter().filter(|c| matches!(c.verdict, Verdict::NotChecked(_))).count();
        format!("{} checks: {failed} failed, {open} not checked", self.checks.len())
    }
}

/// One check.
#[derive(Debug, Clone, PartialEq)]
pub struct Check {
    /// What was measured, in plain words.
    pub what: String,
    /// Code of the finding if it fails.
    pub code: Code,
    /// Where.
    pub place: Place,
    /// Who asks for it; `None` for the layout's own consistency.
    pub source: Option<Source>,
    /// What is asked.
    pub required: Required,
    /// What was measured on the rounded marks; `None` where it is no length, or not checked.
    pub actual: Option<Length>,
    /// The worst that it can come to with the cutting tolerance.
    pub worst: Option<Length>,
    /// How it ended.
    pub verdict: Verdict,
}

/// Who asks for a limit.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Source {
    /// Rule set or rail system.
    pub set: String,
    /// Section of the code, or field of the system's file.
    pub section: String,
}

/// What a check asks for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Required {
    /// Less than this; exactly this fails.
    Under(Length),
    /// This or less.
    AtMost(Length),
    /// This or more.
    AtLeast(Length),
    /// Just this.
    Exactly(Length),
    /// A fact that is no length.
    Fact(String),
}

impl Required {
    /// Its length, if it is one.
    pub const fn limit(&self) -> Option<Length> {
        match self {
            Self::Under(limit) | Self::AtMost(limit) | Self::AtLeast(limit) | Self::Exactly(limit) => Some(*limit),
            Self::Fact(_) => None,
        }
    }
}

/// How a check ended.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Verdict {
    /// It holds.
    Pass,
    /// It does not.
    Fail,
    /// It could not be made, for this reason.
    NotChecked(String),
}
