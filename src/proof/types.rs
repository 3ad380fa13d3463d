//! What a proof says.

use super::{summary, untouched};
use crate::base::{Code, Finding, Length, Measure, Place};
use crate::catalog::{CountKind, Evidence, LimitKind};

/// All checks of a layout.
#[derive(Debug, Clone, PartialEq)]
pub struct Proof {
    /// Every check, by panel in the layout's order, then by run.
    pub checks: Vec<Check>,
    /// One finding for each check that failed or could not be made.
    pub findings: Vec<Finding>,
    /// The limits of the rule set that no check measured, each with the reason; they are no findings.
    pub untouched: Vec<Check>,
}

impl Proof {
    /// Whether no check failed.
    pub fn holds(&self) -> bool {
        self.checks.iter().all(|check| check.verdict != Verdict::Fail)
    }

    /// How many limits were not checked, or not everywhere; one that does not apply, for want of a stair, is not among
    /// them.
    pub fn unchecked(&self) -> usize {
        let mut open: Vec<&Check> = Vec::new();
        let not_checked = self.checks.iter().filter(|c| matches!(c.verdict, Verdict::NotChecked(_)));
        for check in not_checked.chain(self.untouched.iter().filter(|c| untouched::is_missing(c))) {
            // The layout's own checks are of many things, and each counts.
            let is_same =
                |other: &&Check| summary::is_one(other, check) && (check.source.is_some() || other.what == check.what);
            if !open.iter().any(is_same) {
                open.push(check);
            }
        }
        open.len()
    }

    /// How many checks were made, how many of them failed, and how many limits were not checked, in one line.
    pub fn summary(&self) -> String {
        let failed = self.checks.iter().filter(|c| c.verdict == Verdict::Fail).count();
        format!("{} checks: {failed} failed, {} not checked", self.checks.len(), self.unchecked())
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
    /// What is required.
    pub required: Required,
    /// What was measured on the rounded marks; `None` where it is no length, or not checked.
    pub actual: Option<Length>,
    /// The worst that it can come to with the cutting tolerance.
    pub worst: Option<Length>,
    /// How it ended.
    pub verdict: Verdict,
}

impl Check {
    /// By how much it holds in the worst case; less than nothing where it fails, `None` where no length is required.
    pub fn margin(&self) -> Option<Length> {
        let (actual, worst) = (self.actual?, self.worst?);
        let margin = match self.required {
            Required::Under(limit) | Required::AtMost(limit) => limit - worst.max(actual),
            Required::AtLeast(limit) => worst.min(actual) - limit,
            Required::Exactly(limit) => -(worst - limit).abs(),
            Required::Fact(_) => return None,
        };
        // What is measured in the plan may miss a limit by the noise of coordinates.
        Some(if self.verdict == Verdict::Pass { margin.max(Length::ZERO) } else { margin })
    }
}

/// Who asks for a limit.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Source {
    /// Rule set or rail system.
    pub set: String,
    /// Section of the code, or field of the system's file.
    pub section: String,
    /// What of it.
    pub asks: Asks,
    /// How surely the value is known; a system's file is taken at its word.
    pub evidence: Option<Evidence>,
    /// Where the value was read; empty for a rail system.
    pub read_in: String,
}

/// What of a rule set or rail system asks.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Asks {
    /// A limit of the rule set.
    Limit(LimitKind),
    /// A number of things in the rule set.
    Count(CountKind),
    /// The rail system.
    System,
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

    /// In words.
    pub fn text(&self, measure: Measure) -> String {
        let text = |length: &Length| measure.with_unit(*length);
        match self {
            Self::Under(limit) => format!("under {}", text(limit)),
            Self::AtMost(limit) => format!("at most {}", text(limit)),
            Self::AtLeast(limit) => format!("at least {}", text(limit)),
            Self::Exactly(limit) => text(limit),
            Self::Fact(fact) => fact.clone(),
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

impl Verdict {
    /// Its word in reports and files.
    pub const fn word(&self) -> &'static str {
        match self {
            Self::Pass => "pass",
            Self::Fail => "fail",
            Self::NotChecked(_) => "not-checked",
        }
    }
}
