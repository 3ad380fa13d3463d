//! What a layout that is read back says of itself: a proof of its numbers cannot see what was drawn and is not in it.

use crate::base::{Code, Finding, Frame, Place, Unit, plane::point};

use super::record::{FindingRecord, PlaceRecord, Record, SeverityRecord};

/// The findings of a record that tell what is missing in it. One whose code is not known is told all the same.
pub fn missing(record: &Record) -> Vec<Finding> {
    let unit = Unit::from_sign(&record.plan.drawing_units);
    let frame = unit.map(|unit| Frame { unit, origin: point(record.plan.origin.x, record.plan.origin.y) });
    let missing = record.findings.iter().filter(|f| f.severity == SeverityRecord::Incomplete);
    missing.map(|f| finding(f, frame.as_ref())).collect()
}

fn finding(record: &FindingRecord, frame: Option<&Frame>) -> Finding {
    let code = Code::ALL.iter().find(|code| code.text() == record.code).copied().unwrap_or(Code::NotChecked);
    let finding = Finding::incomplete(code, place(&record.place, frame), &record.message);
    Finding { hint: record.hint.clone(), count: record.count.unwrap_or(1), ..finding }
}

fn place(record: &PlaceRecord, frame: Option<&Frame>) -> Place {
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
