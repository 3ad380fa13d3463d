//! The records of `batch --jsonl`.

#[allow(dead_code)]
#[path = "../../src/bin/plumbrail/guarded.rs"]
mod guarded;
#[allow(dead_code)]
#[path = "../../src/bin/plumbrail/commands/batch/lines.rs"]
mod lines;
#[allow(dead_code)]
#[path = "../../src/bin/plumbrail/commands/batch/reply.rs"]
mod reply;

use std::io::BufReader;

use plumbrail::base::{is_complete, limits_hold};
use plumbrail::catalog::{self, Job, Settings};
use plumbrail::parts;
use plumbrail::write::batch::{Answer, Failure, FailureCode, Request, Want};
use plumbrail::write::{csv, json};
use serde::Deserialize;
use serde_json::Value;
use serde_json::value::RawValue;

/// No line may be longer.
const MOST_BYTES: usize = 1 << 16;

/// One line out for each line in, each a JSON object with the id of its record and either an answer or an error.
pub fn check(bytes: &[u8]) {
    let mut input = BufReader::with_capacity(61, bytes);
    let (mut number, mut cut) = (0, bytes);
    while let Some(line) = lines::next(&mut input, MOST_BYTES).expect("memory is read") {
        number += 1;
        let end = memchr::memchr(b'\n', cut).unwrap_or(cut.len());
        let (text, rest) = cut.split_at(end);
        cut = rest.get(1..).unwrap_or_default();
        one(number, line, text);
    }
    assert!(cut.is_empty());
}

/// What a record's id is, by a reading of our own.
fn id_of(text: &[u8]) -> Option<Box<RawValue>> {
    #[derive(Deserialize)]
    struct Id {
        id: Option<Box<RawValue>>,
    }
    // Bytes that are no text are no JSON, also where nobody looks at them.
    let text = std::str::from_utf8(text).ok().filter(|text| text.trim_start().starts_with('{'))?;
    serde_json::from_str::<Id>(text).ok().and_then(|id| id.id)
}

fn one(number: u64, line: lines::Line, text: &[u8]) {
    let out = reply::answered(number, line, MOST_BYTES, &lay_out);
    assert_eq!(memchr::memchr2(b'\n', b'\r', &out), Some(out.len() - 1), "not one line");
    let value: Value = serde_json::from_slice(&out).expect("an answer is JSON");
    assert_ne!(value.get("ok").is_some(), value.get("error").is_some());
    assert_ne!(value["error"]["code"], "panic", "{value}");
    if text.len() <= MOST_BYTES {
        let (was, is) = (id_of(text), id_of(&out));
        let (was, is) = (
            was.as_ref().map_or("null".into(), |v| v.get().replace('\r', " ")),
            is.as_ref().map_or("null".into(), |v| v.get().to_owned()),
        );
        assert_eq!(was, is, "the id has changed");
    }
}

fn bad(code: FailureCode, message: &dyn ToString) -> Failure {
    reply::failure(code, message.to_string())
}

/// The work without files: systems and rule sets that are built in, and plans on the line.
fn lay_out(request: &Request) -> Result<Answer, Failure> {
    let (None, Some(dxf)) = (&request.path, &request.dxf) else {
        return Err(bad(FailureCode::Unreadable, &"there are no files here"));
    };
    let settings = match &request.options {
        None => super::all_settings()[0].clone(),
        Some(options) => {
            let job: Job = serde_json::from_str(options.get()).map_err(|e| bad(FailureCode::BadRecord, &e))?;
            let named = |e: catalog::CatalogError| bad(FailureCode::BadRecord, &e);
            let system = catalog::system_named(job.system.as_deref().unwrap_or("composite-36")).map_err(named)?;
            let file = catalog::rule_file_named(job.rules.as_deref().unwrap_or("irc-2021")).map_err(named)?;
            let rules = file.resolve(&job.rule_case.unwrap_or_default()).map_err(named)?;
            Settings::new(job, system, rules).map_err(named)?
        }
    };
    let file = plumbrail::PlanFile { most: 100, ..plumbrail::PlanFile::new(dxf.as_bytes(), "plan.dxf") };
    let outcome = plumbrail::lay_out_file(&file, &settings).map_err(|refusal| reply::refused(&refusal))?;
    super::job::sound(&outcome, &settings);
    let (layout, findings) = (&outcome.layout, &outcome.findings);
    let want = request.want.as_deref().unwrap_or(&[Want::Layout]);
    Ok(Answer {
        complete: is_complete(findings),
        limits_hold: limits_hold(findings),
        headline: outcome.headline(),
        layout: want.contains(&Want::Layout).then(|| json::record(layout, findings, &outcome.proof)),
        svg: None,
        dxf: None,
        marks: want.contains(&Want::Marks).then(|| String::from_utf8(csv::marks(layout)).expect("text")),
        cuts: None,
        order: None,
        findings: parts::finding_records(layout, findings),
    })
}
