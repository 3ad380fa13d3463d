//! The lines that `--message-format json` prints on standard error. Later versions may add fields.

use schemars::JsonSchema;
use serde::Serialize;

use crate::base::{Finding, Frame, Length, headline, is_complete, limits_hold};
use crate::parts::record::SeverityRecord;

/// One line: what it is of stands in `kind`.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
#[serde(tag = "kind", rename_all = "kebab-case")]
#[schemars(title = "plumbrail message")]
pub enum Message {
    /// Something was found in a drawing or its layout.
    Finding(Box<FindingLine>),
    /// The work, or that on one of many plans, ended without a result.
    Failure(FailureLine),
    /// The work is done: the last line of `layout`.
    Summary(SummaryLine),
    /// What all findings of a plan come to: the last line of `check` and `panel`, and one a plan of `batch`.
    Conclusion(ConclusionLine),
}

/// A finding with its file. What is not known of its place is null.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct FindingLine {
    /// The drawing as it was named; `-` is standard input.
    pub file: String,
    /// Kind of finding; stable.
    pub code: String,
    /// Weight. With `error` or `incomplete` the exit status is not 0.
    pub severity: SeverityRecord,
    /// Whether the input was repaired on the way.
    pub repaired: bool,
    /// Line of the user's file, from 1.
    pub line: Option<u64>,
    /// Handle in the user's drawing, hexadecimal.
    pub handle: Option<String>,
    /// Layer in the user's drawing.
    pub layer: Option<String>,
    /// Panel or span.
    pub panel: Option<String>,
    /// Post.
    pub post: Option<String>,
    /// In drawing units.
    pub x: Option<f64>,
    /// In drawing units.
    pub y: Option<f64>,
    /// What is wrong and why.
    pub message: String,
    /// What to do.
    pub hint: Option<String>,
    /// The limit, where one is broken.
    pub rule: Option<RuleLine>,
    /// How many findings it stands for, where that is not one: those of a kind that are not told one by one.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub count: Option<usize>,
}

/// A broken limit. Its lengths are texts with their unit.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct RuleLine {
    /// Rule set.
    pub set: String,
    /// Section of that code.
    pub section: String,
    /// What is allowed.
    pub limit: String,
    /// What was found.
    pub actual: String,
}

/// Why there is no result. A drawing that is not usable is told by findings alone.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct FailureLine {
    /// Always an error.
    pub severity: SeverityRecord,
    /// The plan, where the work on one of many ended.
    pub file: Option<String>,
    /// What is wrong and why.
    pub message: String,
    /// What to do.
    pub hint: Option<String>,
}

/// What a plan has become.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct SummaryLine {
    /// The drawing as it was named; `-` is standard input.
    pub file: String,
    /// Whether all that was drawn is laid out.
    pub complete: bool,
    /// Whether every limit holds that was checked.
    pub limits_hold: bool,
    /// The conclusion as a sentence: what is missing and where, or which limit is broken.
    pub headline: String,
    /// Posts of the layout.
    pub posts: usize,
    /// Panels of the layout.
    pub panels: usize,
    /// Runs of the layout.
    pub runs: usize,
    /// Unit of the drawing, and so of each `x` and `y`: `in`, `ft`, `mm` ...
    pub drawing_units: String,
    /// Where `plan.svg` is written: how many times larger the deck is than its picture on paper.
    pub plan_scale: Option<f64>,
    /// How many files were written.
    pub files: usize,
    /// The folder that they are in; `-` is standard output.
    pub out: String,
    /// The same as a sentence.
    pub message: String,
}

/// What all findings of a plan come to.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct ConclusionLine {
    /// The drawing as it was named; `-` is standard input.
    pub file: String,
    /// Whether all that was drawn is laid out.
    pub complete: bool,
    /// Whether every limit holds that was checked.
    pub limits_hold: bool,
    /// The same as a sentence: what is missing and where, or which limit is broken.
    pub headline: String,
}

impl ConclusionLine {
    /// Of all findings of a file; `unchecked` is how many limits were not checked.
    pub fn new(file: String, frame: Option<&Frame>, findings: &[Finding], unchecked: usize) -> Self {
        Self {
            file,
            complete: is_complete(findings),
            limits_hold: limits_hold(findings),
            headline: headline(findings, unchecked, frame),
        }
    }
}

impl FindingLine {
    /// A finding of a file; the frame, where there is one, gives its place in drawing units.
    pub fn new(file: String, frame: Option<&Frame>, finding: &Finding) -> Self {
        let place = &finding.place;
        let at = place.at.zip(frame).map(|(p, f)| f.to_drawing(p));
        let told = |length: Length| frame.map_or_else(|| length.told(), |frame| frame.with_unit(length));
        Self {
            file,
            code: finding.code.text().to_owned(),
            severity: finding.severity.into(),
            repaired: finding.repaired,
            line: place.line,
            handle: place.handle.map(|h| format!("{h:X}")),
            layer: place.layer.clone(),
            panel: place.panel.clone(),
            post: place.post.clone(),
            x: at.map(|p| p.x),
            y: at.map(|p| p.y),
            message: finding.message.clone(),
            hint: finding.hint.clone(),
            rule: finding.rule.as_ref().map(|r| RuleLine {
                set: r.set.clone(),
                section: r.section.clone(),
                limit: told(r.limit),
                actual: told(r.actual),
            }),
            count: Some(finding.count).filter(|count| *count != 1),
        }
    }
}
