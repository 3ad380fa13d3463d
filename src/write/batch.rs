//! The records of `batch --jsonl`: a plan on a line in, its answer on a line out.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use serde_json::Value;
use serde_json::value::RawValue;

use crate::catalog::Job;
use crate::parts::record::{FindingRecord, Record};

/// A plan to lay out: one line of the input. Exactly one of `path` and `dxf` is given.
#[derive(Debug, Clone, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
#[schemars(title = "plumbrail batch record in")]
pub struct Request {
    /// Any JSON value; it stands in the answer as it is written here; a carriage return in it becomes a space.
    #[schemars(with = "Value")]
    pub id: Box<RawValue>,
    /// Path of the plan.
    pub path: Option<String>,
    /// The plan itself, ASCII DXF. Texts beyond ASCII in a version before R2007 stand as `\\U+XXXX`, as in any file.
    pub dxf: Option<String>,
    /// What a job file may say, with the same keys. Options on the command line win over it.
    #[schemars(with = "Option<Job>")]
    pub options: Option<Box<RawValue>>,
    /// What the answer is to hold; the layout alone by default.
    pub want: Option<Vec<Want>>,
}

/// A part of an answer.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Want {
    /// What `layout.json` holds.
    Layout,
    /// The rail plan, as `plan.svg`.
    Svg,
    /// The plan with the rails in it, as `<plan>.rail.dxf`.
    Dxf,
    /// `marks.csv`.
    Marks,
    /// `cuts.csv`.
    Cuts,
    /// `order.csv`.
    Order,
}

/// An answer: one line of the output, for each line of the input, in the same order. It holds either `ok` or `error`.
#[derive(Debug, Clone, Serialize, JsonSchema)]
#[serde(deny_unknown_fields)]
#[schemars(title = "plumbrail batch record out")]
pub struct Reply {
    /// The record's own; null where none could be read.
    #[schemars(with = "Value")]
    pub id: Box<RawValue>,
    /// The plan was laid out.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub ok: Option<Box<Answer>>,
    /// It was not.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub error: Option<Failure>,
}

/// What was wanted of a plan that was laid out.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Answer {
    /// Whether all that was drawn is laid out; if not, the findings of severity `incomplete` say what is missing and where.
    pub complete: bool,
    /// Whether every limit holds that was checked; if not, the findings of severity `error` say what is wrong.
    pub limits_hold: bool,
    /// The same as a sentence.
    pub headline: String,
    /// The layout.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub layout: Option<Record>,
    /// The rail plan.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub svg: Option<String>,
    /// The plan with the rails in it. Where the drawing cannot take them it is absent, and a finding says why.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub dxf: Option<String>,
    /// Running marks.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub marks: Option<String>,
    /// Pieces in sawing order.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub cuts: Option<String>,
    /// What to buy.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub order: Option<String>,
    /// What was found.
    pub findings: Vec<FindingRecord>,
}

/// Why a plan was not laid out.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Failure {
    /// Kind; stable.
    pub code: FailureCode,
    /// What is wrong and why.
    pub message: String,
    /// What to do.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub hint: Option<String>,
    /// Of a plan that was refused: code of the finding that says why.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub finding: Option<String>,
    /// Line of the input, from 1, where the record's id could not be read.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub line: Option<u64>,
}

/// Kind of a failure.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum FailureCode {
    /// The line is no JSON text in UTF-8; an empty line is none.
    BadJson,
    /// The record is not as it should be: an unknown field, no plan or two, options that make no sense.
    BadRecord,
    /// The line, or the file that it names, is larger than the cap.
    TooLarge,
    /// The file that it names cannot be read.
    Unreadable,
    /// The drawing is not usable; `finding` says why.
    Refused,
    /// The plan has more entities, edges or panels than may be worked on.
    OverBudget,
    /// The plan with the rails in it was wanted, and is no UTF-8 text: binary, or in an older code page.
    NotText,
    /// A fault of the program.
    Panic,
}
