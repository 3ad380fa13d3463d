//! One record: a line in, an answer out, whatever the line holds.

use std::collections::BTreeMap;
use std::io::Read;
use std::path::Path;
use std::sync::{Arc, Mutex, PoisonError};

use anyhow::Result;
use plumbrail::base::{Code, Finding, Refusal};
use plumbrail::catalog::{CatalogError, Job, Settings};
use plumbrail::write::batch::{Answer, Failure, FailureCode, Reply, Request, Want};
use plumbrail::write::{csv, json, svg};
use plumbrail::{parts, sheet};
use serde::Deserialize;
use serde::de::IgnoredAny;
use serde_json::value::RawValue;

use super::lines::Line;
use crate::args::{Batch, Shared, Source};
use crate::config::{self, Status};
use crate::guarded::{self, guarded};
use crate::input::Input;

/// Options of so many kinds are kept checked. Where there are more, each record is different, and nothing is gained.
const KEPT: usize = 256;

/// What all records are answered with.
pub struct Desk {
    shared: Shared,
    source: Source,
    most_bytes: usize,
    most_work: usize,
    /// For records without options.
    plain: Arc<Settings>,
    /// Settings by the text of the options that gave them: reading systems and rules takes longer than a small plan.
    known: Mutex<BTreeMap<String, Arc<Settings>>>,
}

impl Desk {
    /// Checks what stands on the command line.
    pub fn new(args: &Batch) -> Result<Self> {
        Ok(Self {
            shared: args.shared.clone(),
            source: args.source.clone(),
            most_bytes: args.max_record,
            most_work: args.max_work,
            plain: Arc::new(config::settings(&args.shared)?),
            known: Mutex::default(),
        })
    }

    /// How long a line, and how large the file that it names, may be.
    pub const fn most_bytes(&self) -> usize {
        self.most_bytes
    }

    /// The answer to a line, which is the `number`th from 1, with its line end.
    pub fn answer(&self, number: u64, line: Line) -> Vec<u8> {
        answered(number, line, self.most_bytes, &|request| self.lay_out(request))
    }

    fn lay_out(&self, request: &Request) -> Result<Answer, Failure> {
        let settings = self.settings(request.options.as_deref())?;
        let (bytes, name, beside) = match (&request.path, &request.dxf) {
            (Some(path), None) => {
                let path = Path::new(path);
                let name = path.file_name().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default();
                (self.read(path)?, name, path.parent())
            }
            (None, Some(dxf)) => (dxf.clone().into_bytes(), "plan.dxf".to_owned(), None),
            _ => {
                let why = "exactly one of `path` and `dxf` must be given";
                return Err(failure(FailureCode::BadRecord, why));
            }
        };
        let failed = |e: anyhow::Error| match e.downcast::<Refusal>() {
            Ok(refusal) => refused(&refusal),
            Err(e) => failure(FailureCode::Unreadable, format!("{e:#}")),
        };
        let input = Input::of(bytes, beside, &self.source, self.most_bytes as u64).map_err(failed)?;
        let outcome = plumbrail::lay_out_within(&input.bytes, &name, &|r| input.external(r), &settings, self.most_work)
            .map_err(|refusal| refused(&refusal))?
            .with(&input.findings);
        wanted(request.want.as_deref().unwrap_or(&[Want::Layout]), &input.bytes, &outcome, &settings)
    }

    /// The bytes of a plan's file: never a pipe or a device, which may have no end.
    fn read(&self, path: &Path) -> Result<Vec<u8>, Failure> {
        let unreadable =
            |why: String| failure(FailureCode::Unreadable, format!("cannot read {}: {why}", path.display()));
        let about = std::fs::metadata(path).map_err(|e| unreadable(e.to_string()))?;
        if !about.is_file() {
            return Err(unreadable("it is no file".to_owned()));
        }
        let most = self.most_bytes as u64;
        let mut bytes = Vec::new();
        let file = std::fs::File::open(path).and_then(|f| f.take(most.saturating_add(1)).read_to_end(&mut bytes));
        file.map_err(|e| unreadable(e.to_string()))?;
        if bytes.len() as u64 > most {
            return Err(too_large(&format!("{} has {} bytes", path.display(), about.len()), self.most_bytes));
        }
        Ok(bytes)
    }

    fn settings(&self, options: Option<&RawValue>) -> Result<Arc<Settings>, Failure> {
        let Some(options) = options.map(RawValue::get) else { return Ok(Arc::clone(&self.plain)) };
        let known = || self.known.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(settings) = known().get(options) {
            return Ok(Arc::clone(settings));
        }
        let bad = |why: String| failure(FailureCode::BadRecord, format!("options: {why}"));
        if !options.starts_with('{') {
            return Err(bad("they must be an object with the keys of a job file".to_owned()));
        }
        let job: Job = serde_json::from_str(options).map_err(|e| bad(e.to_string()))?;
        let settings = config::settings_of(&self.shared, job, Path::new("")).map_err(|e| {
            let hint = e.downcast_ref::<CatalogError>().and_then(|c| c.hint.clone());
            Failure { hint, ..bad(format!("{e:#}")) }
        })?;
        let settings = Arc::new(settings);
        let mut known = known();
        if known.len() >= KEPT {
            known.clear();
        }
        known.insert(options.to_owned(), Arc::clone(&settings));
        Ok(settings)
    }
}

/// What was asked for of a plan that is laid out.
fn wanted(want: &[Want], bytes: &[u8], outcome: &plumbrail::Outcome, settings: &Settings) -> Result<Answer, Failure> {
    let has = |part: Want| want.contains(&part);
    let mut findings: Vec<Finding> = outcome.findings.clone();
    let names = sheet::layer_names(&settings.output_layers, settings.layer_prefix.as_deref());
    let mut dxf = None;
    if has(Want::Dxf) {
        match crate::files::rails_in(bytes, outcome, &findings, &names) {
            Ok(graft) => {
                findings.extend(graft.findings.iter().cloned());
                let text = String::from_utf8(graft.to_bytes(bytes)).map_err(|_| not_text())?;
                dxf = Some(text);
            }
            Err(refusal) => findings.extend(refusal.others.into_iter().chain([*refusal.finding])),
        }
    }
    let layout = &outcome.layout;
    let text =
        |part: Want, write: &dyn Fn() -> Vec<u8>| has(part).then(|| String::from_utf8_lossy(&write()).into_owned());
    let plan = || {
        let (drawing, background) = sheet::plan_of(&outcome.plan, layout, &findings);
        svg::named(&[&drawing], &background, &names).into_bytes()
    };
    Ok(Answer {
        limits_hold: Status::by(&findings) == Status::Done,
        layout: has(Want::Layout).then(|| json::record(layout, &findings, &outcome.proof)),
        svg: text(Want::Svg, &plan),
        dxf,
        marks: text(Want::Marks, &|| csv::marks(layout)),
        cuts: text(Want::Cuts, &|| csv::cuts(layout)),
        order: text(Want::Order, &|| csv::order(layout)),
        findings: parts::finding_records(layout, &findings),
    })
}

/// One line out for one line in, even where the work itself is at fault.
fn answered(number: u64, line: Line, most: usize, work: &dyn Fn(&Request) -> Result<Answer, Failure>) -> Vec<u8> {
    let (id, result) = match request(number, line, most) {
        Ok(request) => {
            let id = request.id.clone();
            let reply = guarded(|| work(&request).map(|answer| bytes(id.clone(), Ok(answer))));
            match reply {
                Ok(Ok(bytes)) => return bytes,
                Ok(Err(failure)) => (id, failure),
                Err(fault) => {
                    let hint = Some(guarded::HINT.to_owned());
                    (id, Failure { hint, ..failure(FailureCode::Panic, fault) })
                }
            }
        }
        Err((id, failure)) => (id.unwrap_or_else(|| RawValue::NULL.to_owned()), failure),
    };
    bytes(id, Err(result))
}

fn bytes(id: Box<RawValue>, result: Result<Answer, Failure>) -> Vec<u8> {
    let (ok, error) = match result {
        Ok(answer) => (Some(Box::new(answer)), None),
        Err(failure) => (None, Some(failure)),
    };
    json::line(&Reply { id, ok, error })
}

/// The record on a line, or its id, where it can be read, and what is wrong.
fn request(number: u64, line: Line, most: usize) -> Result<Request, (Option<Box<RawValue>>, Failure)> {
    #[derive(Deserialize)]
    struct Id {
        id: Option<Box<RawValue>>,
    }
    let nameless = |failure: Failure| (None, Failure { line: Some(number), ..failure });
    let bad_json = |why: String| nameless(failure(FailureCode::BadJson, why));
    let text = match line {
        Line::Text(text) => text,
        Line::TooLong(length) => return Err(nameless(too_large(&format!("the line has {length} bytes"), most))),
    };
    let text = String::from_utf8(text).map_err(|_| bad_json("the line is not UTF-8 text".to_owned()))?;
    if text.trim().is_empty() {
        return Err(bad_json("the line is empty".to_owned()));
    }
    let is_object = text.trim_start().starts_with('{');
    let error = match serde_json::from_str::<Request>(&text) {
        Ok(request) if is_object => return Ok(request),
        Ok(_) => "it is a list".to_owned(),
        Err(error) => error.to_string(),
    };
    // A wrong field may stand before what makes the line no JSON at all.
    serde_json::from_str::<IgnoredAny>(&text).map_err(|e| bad_json(e.to_string()))?;
    let id = serde_json::from_str::<Id>(&text).ok().filter(|_| is_object).and_then(|id| id.id);
    let line = id.is_none().then_some(number);
    let hint = Some("see schemas/batch-in.schema.json".to_owned());
    Err((id, Failure { line, hint, ..failure(FailureCode::BadRecord, format!("no record: {error}")) }))
}

fn failure(code: FailureCode, message: impl Into<String>) -> Failure {
    Failure { code, message: message.into(), hint: None, finding: None, line: None }
}

fn too_large(what: &str, most: usize) -> Failure {
    let hint = Some("allow more with --max-record".to_owned());
    Failure { hint, ..failure(FailureCode::TooLarge, format!("{what}; at most {most} are read")) }
}

fn not_text() -> Failure {
    let hint = Some("leave dxf out of `want`, or use layout, which writes bytes".to_owned());
    let why = "the plan with the rails in it is no UTF-8 text: it is binary, or in an older code page";
    Failure { hint, ..failure(FailureCode::NotText, why) }
}

fn refused(refusal: &Refusal) -> Failure {
    let finding = &refusal.finding;
    let is_over = finding.code == Code::OverBudget;
    Failure {
        code: if is_over { FailureCode::OverBudget } else { FailureCode::Refused },
        message: finding.message.clone(),
        hint: if is_over { Some("allow more with --max-work".to_owned()) } else { finding.hint.clone() },
        finding: Some(finding.code.text().to_owned()),
        line: None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::{Value, json};

    fn answer_of(line: &str, work: &dyn Fn(&Request) -> Result<Answer, Failure>) -> Value {
        let bytes = answered(3, Line::Text(line.into()), 1000, work);
        assert_eq!(bytes.iter().filter(|b| **b == b'\n').count(), 1);
        serde_json::from_slice(&bytes).unwrap()
    }

    #[test]
    fn a_panic_is_an_answer_with_the_record_s_id() {
        let answer = answer_of(r#"{"id": [1, "a"], "dxf": "x"}"#, &|_| panic!("index out of bounds"));
        assert_eq!(answer["id"], json!([1, "a"]));
        assert_eq!(answer["error"]["code"], "panic");
        let message = answer["error"]["message"].as_str().unwrap();
        assert!(message.starts_with("a fault of plumbrail: index out of bounds"), "{message}");
        assert_eq!(answer.get("ok"), None);
    }

    #[test]
    fn ids_come_back_as_they_were_written() {
        let fail = |_: &Request| Err(failure(FailureCode::Unreadable, "x"));
        for id in ["12345678901234567890.10", "1e2", "null", r#"{"b":1, "a":2}"#, r#""\u0041""#] {
            let line = format!(r#"{{"id": {id}, "path": "x"}}"#);
            let bytes = answered(1, Line::Text(line.into()), 1000, &fail);
            let expected = format!("{{\"id\":{id},\"error\":{{\"code\":\"unreadable\",\"message\":\"x\"}}}}\n");
            assert_eq!(String::from_utf8(bytes).unwrap(), expected);
        }
    }

    #[test]
    fn what_is_no_record_is_told_with_id_or_line() {
        let never = |_: &Request| -> Result<Answer, Failure> { panic!("no record") };
        for (line, code, id, number) in [
            ("", "bad-json", json!(null), Some(3)),
            ("  ", "bad-json", json!(null), Some(3)),
            ("{\"id\": 1", "bad-json", json!(null), Some(3)),
            ("{\"id\": 1, \"nope\": 2", "bad-json", json!(null), Some(3)),
            ("{\"id\": 1} {\"id\": 2}", "bad-json", json!(null), Some(3)),
            ("7", "bad-record", json!(null), Some(3)),
            ("[1, \"plan.dxf\", null, null, null]", "bad-record", json!(null), Some(3)),
            ("{\"dxf\": \"x\"}", "bad-record", json!(null), Some(3)),
            ("{\"id\": 1, \"id\": 2, \"dxf\": \"x\"}", "bad-record", json!(null), Some(3)),
            ("{\"id\": 1, \"dxf\": \"x\", \"nope\": 2}", "bad-record", json!(1), None),
            ("{\"id\": 1, \"dxf\": 5}", "bad-record", json!(1), None),
            ("{\"id\": 1, \"dxf\": \"x\", \"want\": [\"pdf\"]}", "bad-record", json!(1), None),
        ] {
            let answer = answer_of(line, &never);
            let error = &answer["error"];
            assert_eq!((&error["code"], &answer["id"]), (&json!(code), &id), "{line}");
            assert_eq!(error.get("line").and_then(Value::as_u64), number, "{line}");
        }
        let bytes = answered(1, Line::Text(b"{\"id\": \"\xff\"}".to_vec()), 1000, &never);
        assert!(String::from_utf8(bytes).unwrap().contains("\"bad-json\",\"message\":\"the line is not UTF-8 text\""));
        let bytes = answered(1, Line::TooLong(2000), 1000, &never);
        assert!(
            String::from_utf8(bytes).unwrap().contains("\"too-large\",\"message\":\"the line has 2000 bytes; at most")
        );
    }
}
