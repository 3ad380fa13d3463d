//! Collects checks, with a finding for each that does not pass.

use super::untouched;
use super::{Asks, Check, PLAN_NOISE_MM, Proof, Required, Source, Verdict};
use crate::base::{Code, Finding, Length, Measure, Place, RuleRef};
use crate::catalog::{CountKind, LimitKind, RailSystem, RuleSet};
use crate::parts::Layout;

/// What is required, and by whom.
#[derive(Debug, Clone)]
pub(super) struct Question {
    what: String,
    code: Code,
    source: Option<Source>,
}

impl Question {
    /// The layout's own consistency.
    pub fn own(what: &str) -> Self {
        Self { what: what.to_owned(), code: Code::SumFails, source: None }
    }

    /// A rule set's limit.
    pub fn rule(what: &str, rules: &RuleSet, kind: LimitKind) -> Self {
        let code = match kind {
            LimitKind::Opening | LimitKind::StairOpening | LimitKind::OpeningAbove | LimitKind::HorizontalOpening => {
                Code::OpeningTooWide
            }
            LimitKind::GuardHeight | LimitKind::StairGuardHeight => Code::GuardTooLow,
            LimitKind::GuardNeededAbove
            | LimitKind::GuardNeededWithin
            | LimitKind::ClimbFreeFrom
            | LimitKind::ClimbFreeTo => Code::NotChecked,
            LimitKind::StairTriangle => Code::TriangleTooWide,
            LimitKind::RiserHeight => Code::RiserTooHigh,
            LimitKind::RiserHeightMin => Code::RiserTooLow,
            LimitKind::TreadDepth => Code::TreadTooShallow,
            LimitKind::RiserVariation | LimitKind::TreadVariation => Code::StepsVary,
            LimitKind::NosingMin | LimitKind::NosingMax | LimitKind::NosingFreeTread => Code::NosingWrong,
            LimitKind::HandrailHeightMin
            | LimitKind::HandrailHeightMax
            | LimitKind::HandrailClearance
            | LimitKind::HandrailDiameterMin
            | LimitKind::HandrailDiameterMax
            | LimitKind::HandrailPerimeterMin
            | LimitKind::HandrailPerimeterMax
            | LimitKind::HandrailSectionMax
            | LimitKind::HandrailExtensionTop
            | LimitKind::HandrailExtensionBottom => Code::HandrailWrong,
        };
        let source = rules.limit(kind).map(|limit| Source {
            set: rules.name.clone(),
            section: limit.section.clone(),
            asks: Asks::Limit(kind),
            evidence: Some(limit.evidence),
            read_in: limit.source.clone(),
        });
        Self { what: what.to_owned(), code, source }
    }

    /// A rule set's number of things.
    pub fn count(what: &str, rules: &RuleSet, kind: CountKind) -> Self {
        let source = rules.count(kind).map(|count| Source {
            set: rules.name.clone(),
            section: count.section.clone(),
            asks: Asks::Count(kind),
            evidence: Some(count.evidence),
            read_in: count.source.clone(),
        });
        Self { what: what.to_owned(), code: Code::HandrailMissing, source }
    }

    /// A limit of the rail system, named by its field in the system's file.
    pub fn system(what: &str, system: &RailSystem, field: &str) -> Self {
        let source = Source {
            set: system.name.clone(),
            section: field.to_owned(),
            asks: Asks::System,
            evidence: None,
            read_in: String::new(),
        };
        Self { what: what.to_owned(), code: Code::SystemLimit, source: Some(source) }
    }

    /// The same with another code for its finding.
    pub fn code(self, code: Code) -> Self {
        Self { code, ..self }
    }
}

/// The checks so far.
#[derive(Debug)]
pub(super) struct Record {
    measure: Measure,
    tolerance: Length,
    place: Place,
    checks: Vec<Check>,
    findings: Vec<Finding>,
}

impl Record {
    pub fn new(layout: &Layout) -> Self {
        Self {
            measure: layout.measure,
            tolerance: layout.tolerance,
            place: Place::none(),
            checks: Vec::new(),
            findings: Vec::new(),
        }
    }

    /// Where the checks from now on are made.
    pub fn at(&mut self, place: Place) {
        self.place = place;
    }

    pub fn finish(self, layout: &Layout) -> Proof {
        let untouched = untouched::list(layout, &self.checks);
        Proof { checks: self.checks, findings: self.findings, untouched }
    }

    /// An exact length that the cutting tolerance does not change.
    pub fn exact(&mut self, question: Question, required: Required, actual: Length) {
        let holds = holds(&required, actual, Length::ZERO);
        self.decide(question, required, Some(actual), Some(actual), holds);
    }

    /// A clear space: the cutting tolerance can make it wider.
    pub fn space(&mut self, question: Question, required: Required, actual: Length) {
        let worst = actual + self.tolerance;
        let holds = holds(&required, worst, Length::ZERO);
        self.decide(question, required, Some(actual), Some(worst), holds);
    }

    /// A clear space that the cutting tolerance makes as wide as `worst`.
    pub fn worst(&mut self, question: Question, required: Required, actual: Length, worst: Length) {
        let holds = holds(&required, worst.max(actual), Length::ZERO);
        self.decide(question, required, Some(actual), Some(worst), holds);
    }

    /// A length that nothing limits, with what is to be known about it.
    pub fn told(&mut self, question: Question, about: String, actual_mm: f64) {
        let actual = Length::from_millimetres(actual_mm);
        self.push(question, Required::Fact(about), actual, actual, Verdict::Pass);
    }

    /// A length in millimetres measured in the plan, which is exact to [`PLAN_NOISE_MM`]. One that is no number fails.
    pub fn plan(&mut self, question: Question, required: Required, actual_mm: f64) {
        let actual = Length::from_millimetres(actual_mm);
        let slack = Length::from_millimetres(PLAN_NOISE_MM).unwrap_or_default();
        let holds = actual.is_some_and(|actual| holds(&required, actual, slack));
        self.decide(question, required, actual, actual, holds);
    }

    /// Something that is no length.
    pub fn fact(&mut self, question: Question, required: impl Into<String>, holds: bool) {
        self.decide(question, Required::Fact(required.into()), None, None, holds);
    }

    /// Something that no layout can tell: a note.
    pub fn unknown(&mut self, question: Question, why: impl Into<String>) {
        let (place, why) = (self.place.clone(), why.into());
        self.findings.push(Finding::note(Code::NotChecked, place, format!("not checked: {}; {why}", question.what)));
        self.push(question, Required::Fact("to be checked on site".to_owned()), None, None, Verdict::NotChecked(why));
    }

    /// Something that this layout lacks for a check that others get: a warning.
    pub fn lacking(&mut self, question: Question, why: impl Into<String>) {
        let (place, why) = (self.place.clone(), why.into());
        let message = format!("not checked: {}; {why}", question.what);
        self.findings.push(Finding::warning(Code::NotChecked, place, message));
        self.push(question, Required::Fact("a limit".to_owned()), None, None, Verdict::NotChecked(why));
    }

    fn decide(
        &mut self,
        question: Question,
        required: Required,
        actual: Option<Length>,
        worst: Option<Length>,
        holds: bool,
    ) {
        if !holds {
            let finding = self.failure(&question, &required, actual, worst);
            self.findings.push(finding);
        }
        let verdict = if holds { Verdict::Pass } else { Verdict::Fail };
        self.push(question, required, actual, worst, verdict);
    }

    /// How a length is shown.
    pub fn text(&self, mm: f64) -> String {
        Length::from_millimetres(mm).map_or_else(String::new, |length| self.measure.with_unit(length))
    }

    fn push(
        &mut self,
        question: Question,
        required: Required,
        actual: Option<Length>,
        worst: Option<Length>,
        verdict: Verdict,
    ) {
        let Question { what, code, source } = question;
        self.checks.push(Check { what, code, place: self.place.clone(), source, required, actual, worst, verdict });
    }

    fn failure(
        &self,
        question: &Question,
        required: &Required,
        actual: Option<Length>,
        worst: Option<Length>,
    ) -> Finding {
        let text = |length: Length| self.measure.with_unit(length);
        let asked = required.text(self.measure);
        let found = match actual {
            Some(actual) => format!("{} found, {asked} required", text(actual)),
            None => format!("not so; required: {asked}"),
        };
        let with_tolerance = match worst.filter(|_| worst != actual) {
            Some(worst) => format!(" ({} with the cutting tolerance)", text(worst)),
            None => String::new(),
        };
        let message = format!("{}: {found}{with_tolerance}", question.what);
        let finding = Finding::error(question.code, self.place.clone(), message);
        let Some(source) = &question.source else {
            return finding.hint("the numbers of the layout contradict each other: lay the plan out again");
        };
        match (required.limit(), actual) {
            (Some(limit), Some(actual)) => {
                finding.rule(RuleRef { set: source.set.clone(), section: source.section.clone(), limit, actual })
            }
            _ => finding,
        }
    }
}

fn holds(required: &Required, actual: Length, slack: Length) -> bool {
    match required {
        Required::Under(limit) => actual < *limit,
        Required::AtMost(limit) => actual <= *limit + slack,
        Required::AtLeast(limit) => actual + slack >= *limit,
        Required::Exactly(limit) => (actual - *limit).abs() <= slack,
        Required::Fact(_) => false,
    }
}
