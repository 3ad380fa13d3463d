//! `layout.json` and its schema.

use std::io;

use sha2::{Digest, Sha256};

use crate::base::{Finding, headline, visible};
use crate::parts::checks::{CheckRecord, CheckRuleRecord, RequiredKindRecord, RequiredRecord, VerdictRecord};
use crate::parts::{self, Layout, record::Record};
use crate::proof::{Check, Proof, Required, Verdict};

/// The layout, its findings and every check as indented JSON with a line end.
pub fn layout(layout: &Layout, findings: &[Finding], proof: &Proof) -> Vec<u8> {
    pretty(&record(layout, findings, proof))
}

/// The same as a record.
pub fn record(layout: &Layout, findings: &[Finding], proof: &Proof) -> Record {
    let checks = proof.checks.iter().chain(&proof.untouched).map(|c| check(layout, c)).collect();
    let headline = headline(findings, proof.unchecked(), Some(&layout.plan.frame));
    Record { headline, checks, ..parts::record(layout, findings) }
}

/// One check as an entry of `checks`.
pub fn check(layout: &Layout, check: &Check) -> CheckRecord {
    let number = |length| layout.measure.number(length);
    let (kind, text) = match &check.required {
        Required::Under(_) => (RequiredKindRecord::Under, None),
        Required::AtMost(_) => (RequiredKindRecord::AtMost, None),
        Required::AtLeast(_) => (RequiredKindRecord::AtLeast, None),
        Required::Exactly(_) => (RequiredKindRecord::Exactly, None),
        Required::Fact(fact) => (RequiredKindRecord::Fact, Some(fact.clone())),
    };
    let (verdict, why) = match &check.verdict {
        Verdict::Pass => (VerdictRecord::Pass, None),
        Verdict::Fail => (VerdictRecord::Fail, None),
        Verdict::NotChecked(why) => (VerdictRecord::NotChecked, Some(why.clone())),
    };
    CheckRecord {
        what: check.what.clone(),
        place: parts::place_record(&check.place, &layout.plan.frame),
        rule: check.source.as_ref().map(|source| CheckRuleRecord {
            set: source.set.clone(),
            section: source.section.clone(),
            evidence: source.evidence,
        }),
        required: RequiredRecord { kind, value: check.required.limit().map(number), text },
        actual: check.actual.map(number),
        worst: check.worst.map(number),
        margin: check.margin().map(number),
        verdict,
        why,
    }
}

/// A value on one line, with a line end.
pub fn line<T: serde::Serialize>(value: &T) -> Vec<u8> {
    let mut bytes = Vec::new();
    // As in `pretty`: records have text keys only. What is raw, like the id of a record, stays as it is.
    if value.serialize(&mut serde_json::Serializer::with_formatter(&mut bytes, Visible)).is_err() {
        bytes.clear();
    }
    bytes.push(b'\n');
    bytes
}

/// Texts as they may stand on a terminal.
struct Visible;

impl serde_json::ser::Formatter for Visible {
    fn write_string_fragment<W: ?Sized + io::Write>(&mut self, out: &mut W, text: &str) -> io::Result<()> {
        out.write_all(visible(text).as_bytes())
    }
}

/// JSON Schema of `layout.json`.
pub fn layout_schema() -> Vec<u8> {
    pretty(&schemars::schema_for!(Record))
}

/// JSON Schema of the job file.
pub fn job_schema() -> Vec<u8> {
    pretty(&schemars::schema_for!(crate::catalog::Job))
}

/// JSON Schema of a rail system file.
pub fn system_schema() -> Vec<u8> {
    pretty(&schemars::schema_for!(crate::catalog::RailSystem))
}

/// JSON Schema of a rule set file.
pub fn rules_schema() -> Vec<u8> {
    pretty(&schemars::schema_for!(crate::catalog::RuleFile))
}

/// JSON Schema of a record that `batch --jsonl` reads.
pub fn request_schema() -> Vec<u8> {
    pretty(&schemars::schema_for!(super::batch::Request))
}

/// JSON Schema of a record that `batch --jsonl` writes.
pub fn reply_schema() -> Vec<u8> {
    pretty(&schemars::schema_for!(super::batch::Reply))
}

/// JSON Schema of a line that `--message-format json` prints.
pub fn message_schema() -> Vec<u8> {
    pretty(&schemars::schema_for!(super::message::Message))
}

/// SHA-256 in hexadecimal.
pub fn sha256(bytes: &[u8]) -> String {
    Sha256::digest(bytes).iter().map(|b| format!("{b:02x}")).collect()
}

fn pretty<T: serde::Serialize>(value: &T) -> Vec<u8> {
    // Records and schemas have text keys only, so they always serialize; were one not to, the file would be empty.
    let text = serde_json::to_string_pretty(value).unwrap_or_default();
    format!("{}\n", visible(&text)).into_bytes()
}
