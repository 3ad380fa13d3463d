//! What was found, in the order and with the numbers of the drawings.

use serde::Serialize;

use super::Report;
use super::both::Both;
use crate::base::{Finding, Severity, counted, decimal, in_unit};

/// A finding.
#[derive(Serialize)]
pub(super) struct Row {
    pub number: usize,
    pub severity: &'static str,
    pub code: &'static str,
    pub repaired: bool,
    /// Where, in words.
    pub place: String,
    pub panel: Option<String>,
    pub post: Option<String>,
    pub message: Both,
    pub hint: Option<Both>,
    pub rule: Option<Rule>,
}

/// The limit that it measures against.
#[derive(Serialize)]
pub(super) struct Rule {
    pub name: String,
    pub limit: Both,
    pub actual: Both,
}

/// What needs a look comes first.
pub(super) fn rows(report: &Report<'_>) -> Vec<Row> {
    let findings = counted(report.findings);
    let serious = findings.iter().filter(|f| f.severity > Severity::Note);
    let notes = findings.iter().filter(|f| f.severity == Severity::Note);
    (1..).zip(serious.chain(notes)).map(|(number, finding)| row(report, number, finding)).collect()
}

fn row(report: &Report<'_>, number: usize, finding: &Finding) -> Row {
    let rule = finding.rule.as_ref().map(|rule| Rule {
        name: format!("{} {}", rule.set, rule.section),
        limit: report.both(|m| m.with_unit(rule.limit)),
        actual: report.both(|m| m.with_unit(rule.actual)),
    });
    let told = |text: &str| Both::new(text.to_owned(), in_unit(text, &report.other.layout.measure));
    Row {
        number,
        severity: finding.severity.word(),
        code: finding.code.text(),
        repaired: finding.repaired,
        place: place(report, finding),
        panel: finding.place.panel.clone(),
        post: finding.place.post.clone(),
        message: told(&finding.message),
        hint: finding.hint.as_deref().map(told),
        rule,
    }
}

/// Panel, post, position in the plan, and what of the user's file it is about.
fn place(report: &Report<'_>, finding: &Finding) -> String {
    let place = &finding.place;
    let frame = &report.own.layout.plan.frame;
    let at = place.at.map(|at| {
        let drawn = frame.to_drawing(at);
        format!("at {}, {} ({})", decimal(drawn.x, 3), decimal(drawn.y, 3), frame.unit.sign())
    });
    let parts = [
        place.panel.as_ref().map(|p| format!("panel {p}")),
        place.post.as_ref().map(|p| format!("post {p}")),
        at,
        place.layer.as_ref().map(|l| format!("layer {l}")),
        place.handle.map(|h| format!("handle {h:X}")),
        place.line.map(|l| format!("line {l}")),
    ];
    parts.into_iter().flatten().collect::<Vec<_>>().join(", ")
}
