//! A layout that is read back: what its file says of itself that no proof of its numbers can see, and whether the file
//! agrees with itself.

use serde_json::Value;

use crate::base::{Code, Finding, Frame, Place, Severity, Unit, headline, plane::point};

use super::convert::record as written;
use super::record::{FindingRecord, PlaceRecord, Record, SeverityRecord};
use super::sticks;
use super::types::Layout;

/// Entries that are words about the others, or come from the proof.
const TOLD: [&str; 5] = ["headline", "findings", "checks", "complete", "limits_hold"];

/// Two figures of the file are one up to this, beside what the size of a coordinate takes.
const NOISE: f64 = 2e-9;

/// The findings of a record that say that it is not done: what is missing in it, and what is wrong.
pub fn told(record: &Record) -> Vec<Finding> {
    let unit = Unit::from_sign(&record.plan.drawing_units);
    let frame = unit.map(|unit| Frame { unit, origin: point(record.plan.origin.x, record.plan.origin.y) });
    record.findings.iter().filter_map(|f| finding(f, frame.as_ref())).collect()
}

/// What the file says twice and not alike: every entry that follows from others is written anew and compared.
///
/// `unchecked` is the number of limits that the proof of the layout has not checked.
pub fn contradictions(record: &Record, layout: &Layout, unchecked: usize) -> Vec<Finding> {
    let mut out = Vec::new();
    let mut wrong = |what: String| {
        let finding = Finding::error(Code::SumFails, Place::none(), format!("the file contradicts itself: {what}"));
        out.push(finding.hint("do not build from it: lay the plan out again"));
    };
    let (file, again) = (serde_json::to_value(record), serde_json::to_value(written(layout, &[])));
    if let (Ok(file), Ok(again)) = (file, again)
        && let Some(what) = different(&file, &again, "")
    {
        wrong(what);
    }
    let found = told(record);
    let has = |severity| found.iter().any(|f| f.severity == severity);
    if record.complete == has(Severity::Incomplete) {
        wrong("`complete` is not what its findings say".to_owned());
    }
    if record.limits_hold == has(Severity::Error) {
        wrong("`limits_hold` is not what its findings say".to_owned());
    }
    if record.headline != headline(&found, unchecked, Some(&layout.plan.frame)) {
        wrong("`headline` is not what its findings come to".to_owned());
    }
    // The search for the cut plan counts its work, so it comes to the same bound again.
    let bound = sticks::cut_plan(layout).0.lower_bound;
    if layout.cut_plan.lower_bound.number() > bound.number() {
        wrong("`cutting.lower_bound` is more than is known of these pieces".to_owned());
    }
    out
}

/// Where two values differ first, by the path to it.
fn different(file: &Value, again: &Value, path: &str) -> Option<String> {
    let step = |key: &str| if path.is_empty() { key.to_owned() } else { format!("{path}.{key}") };
    match (file, again) {
        (Value::Object(a), Value::Object(b)) => {
            let keys = a.keys().chain(b.keys().filter(|key| !a.contains_key(*key)));
            let mut keys = keys.filter(|key| !(path.is_empty() && TOLD.contains(&key.as_str())));
            keys.find_map(|key| {
                let [a, b] = [a, b].map(|map| map.get(key).unwrap_or(&Value::Null));
                different(a, b, &step(key))
            })
        }
        (Value::Array(a), Value::Array(b)) if a.len() == b.len() => {
            let mut pairs = a.iter().zip(b).enumerate();
            pairs.find_map(|(i, (a, b))| different(a, b, &format!("{path}[{i}]")))
        }
        (Value::Number(a), Value::Number(b)) => {
            let (a, b) = (a.as_f64()?, b.as_f64()?);
            // Four steps of the number's own size.
            let slack = NOISE + 4.0 * f64::EPSILON * a.abs().max(b.abs());
            ((a - b).abs() > slack || a.is_nan() != b.is_nan())
                .then(|| format!("`{path}` is {a}, and {b} follows from the rest"))
        }
        (a, b) if a == b => None,
        (_, b) => Some(format!("`{path}` is not what follows from the rest: {b}")),
    }
}

/// One whose code is not known is told all the same.
fn finding(record: &FindingRecord, frame: Option<&Frame>) -> Option<Finding> {
    let tell = match record.severity {
        SeverityRecord::Incomplete => Finding::incomplete,
        SeverityRecord::Error => Finding::error,
        SeverityRecord::Warning | SeverityRecord::Note => return None,
    };
    let code = Code::ALL.iter().find(|code| code.text() == record.code).copied().unwrap_or(Code::NotChecked);
    let count = record.count.unwrap_or(1);
    Some(Finding {
        hint: record.hint.clone(),
        count,
        ..tell(code, place(&record.place, frame), record.message.clone())
    })
}

/// A place, as it was written.
pub(super) fn place(record: &PlaceRecord, frame: Option<&Frame>) -> Place {
    let at = record.x.zip(record.y).zip(frame);
    Place {
        at: at.map(|((x, y), frame)| frame.to_local(point(x, y))),
        handle: record.handle.as_ref().and_then(|h| u64::from_str_radix(h, 16).ok()),
        line: record.line,
        layer: record.layer.clone(),
        panel: record.panel.clone(),
        post: record.post.clone(),
    }
}
