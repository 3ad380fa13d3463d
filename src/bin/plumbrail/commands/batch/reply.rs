//! The frame of a record: the bytes of a line in, one line out, whatever the line holds and whatever the work does. No
//! file is touched here.

use plumbrail::base::{Code, Refusal, brief};
use plumbrail::write::batch::{Answer, Failure, FailureCode, Reply, Request};
use plumbrail::write::json;
use serde::Deserialize;
use serde::de::IgnoredAny;
use serde_json::value::RawValue;

use super::guarded::{self, guarded};
use super::lines::Line;

/// One line out for one line in, even where the work itself is at fault.
pub fn answered(number: u64, line: Line, most: usize, work: &dyn Fn(&Request) -> Result<Answer, Failure>) -> Vec<u8> {
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
    json::line(&Reply { id: on_one_line(id), ok, error })
}

/// An id may hold carriage returns between its tokens, which some readers take for line ends.
fn on_one_line(id: Box<RawValue>) -> Box<RawValue> {
    if !id.get().contains('\r') {
        return id;
    }
    RawValue::from_string(id.get().replace('\r', " ")).unwrap_or(id)
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

/// What is wrong, however long what it quotes.
pub fn failure(code: FailureCode, message: impl Into<String>) -> Failure {
    Failure { code, message: brief(&message.into()), hint: None, finding: None, line: None }
}

pub fn too_large(what: &str, most: usize) -> Failure {
    let hint = Some("allow more with --max-record".to_owned());
    Failure { hint, ..failure(FailureCode::TooLarge, format!("{what}; at most {most} are read")) }
}

pub fn refused(refusal: &Refusal) -> Failure {
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
    fn an_answer_is_one_line_for_every_reader() {
        let fail = |_: &Request| Err(failure(FailureCode::Unreadable, "x"));
        let bytes = answered(1, Line::Text(b"{\"id\":\r[1,\r2],\"path\":\"x\"}\r".to_vec()), 1000, &fail);
        assert!(bytes.starts_with(b"{\"id\":[1, 2],") && !bytes.contains(&b'\r'));
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
