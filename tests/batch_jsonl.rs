//! `batch --jsonl`: for every line in exactly one line out, in the same order, whatever stands on it.

use std::fs;
use std::io::{BufRead, BufReader, Read, Write};
use std::process::{Child, Command, Stdio};
use std::sync::mpsc;
use std::time::Duration;

use serde_json::{Value, json};

use crate::interop::{scratch, script};
use crate::program::{Ran, arg, folder, plan, root, run, run_in, same};

/// An answer takes a few milliseconds; nothing is measured by this.
const AGAINST_HANGING: Duration = Duration::from_secs(600);

/// The text of a fixture's plan.
fn text(case: &str) -> String {
    fs::read_to_string(root().join(plan(case))).unwrap()
}

fn jsonl(options: &[&str], input: &[u8]) -> Ran {
    run_in(&root(), &[&["batch", "--jsonl"][..], options].concat(), input)
}

fn answers(ran: &Ran) -> Vec<Value> {
    assert_eq!((ran.status, ran.err.as_str()), (0, ""));
    assert!(ran.out.is_empty() || ran.out.ends_with('\n'));
    ran.out.lines().map(|line| serde_json::from_str(line).unwrap()).collect()
}

/// Line, id and error code of a record of each kind; no code is a plan that is laid out.
fn kinds(l_shape: &str) -> Vec<(Vec<u8>, Value, Option<&'static str>)> {
    let mut id = 0;
    let mut record = |rest: Value, code| {
        id += 1;
        let mut record = json!({ "id": { "number": id } });
        record.as_object_mut().unwrap().extend(rest.as_object().unwrap().clone());
        (record.to_string().into_bytes(), record["id"].clone(), code)
    };
    let long = "x".repeat(150_000);
    vec![
        record(json!({ "dxf": l_shape }), None),
        record(json!({ "path": plan("corner-135"), "options": { "inset": "3in" }, "want": ["marks"] }), None),
        record(json!({ "dxf": "" }), Some("refused")),
        record(json!({ "path": plan("unitless") }), Some("refused")),
        record(json!({ "path": "none.dxf" }), Some("unreadable")),
        record(json!({ "path": "fixtures" }), Some("unreadable")),
        record(json!({ "path": plan("far-away"), "dxf": l_shape }), Some("bad-record")),
        record(json!({}), Some("bad-record")),
        record(json!({ "dxf": l_shape, "nope": 1 }), Some("bad-record")),
        record(json!({ "dxf": l_shape, "options": { "inset": 3 } }), Some("bad-record")),
        record(json!({ "dxf": l_shape, "options": { "system": "nope" } }), Some("bad-record")),
        record(json!({ "dxf": l_shape, "options": [] }), Some("bad-record")),
        record(json!({ "path": plan("binary"), "want": ["dxf"] }), Some("not-text")),
        (Vec::new(), Value::Null, Some("bad-json")),
        (b"{\"id\": 1".to_vec(), Value::Null, Some("bad-json")),
        (b"{\"id\": \"\xff\xfe\"}".to_vec(), Value::Null, Some("bad-json")),
        (b"[1, 2]".to_vec(), Value::Null, Some("bad-record")),
        (long.into_bytes(), Value::Null, Some("too-large")),
        (b"{\"id\": 7, \"path\": \"none.dxf\"}\r".to_vec(), json!(7), Some("unreadable")),
        (b"{\"id\": 7, \"path\": \"none.dxf\"}".to_vec(), json!(7), Some("unreadable")),
    ]
}

#[test]
fn five_hundred_mixed_records_come_back_in_order() {
    let kinds = kinds(&text("l-shape"));
    // Each kind often, in an order that changes: 7 has no divisor in common with their number.
    let order: Vec<usize> = (0..500).map(|i| (i * 7 + i / 20) % kinds.len()).collect();
    let mut input = order.iter().map(|i| kinds[*i].0.clone()).collect::<Vec<_>>().join(&b'\n');
    let first = jsonl(&["--max-record", "100KiB", "--jobs", "4"], &input);
    let all = answers(&first);
    assert_eq!(all.len(), order.len());
    for (line, (answer, kind)) in all.iter().zip(order.iter().map(|i| &kinds[*i])).enumerate() {
        let code = answer.get("error").map(|e| e["code"].as_str().unwrap());
        assert_eq!((code, &answer["id"]), (kind.2, &kind.1), "line {}: {answer}", line + 1);
        assert_eq!(code.is_none(), answer.get("ok").is_some());
        if kind.1.is_null() {
            assert_eq!(answer["error"]["line"], json!(line + 1));
        }
    }
    // The last line needs no end, and the number of workers shows in nothing.
    input.push(b'\n');
    assert!(first == jsonl(&["--max-record", "100KiB", "--jobs", "1"], &input));
    assert_eq!(answers(&jsonl(&[], b"")).len(), 0);
}

/// What is in the answer is what `layout` writes, options on the command line included.
#[test]
fn answers_hold_what_layout_writes() {
    let out = folder();
    let ran = run(&["layout", &plan("lakeside"), "--inset", "3in", "--out", &arg(out.path())]);
    assert_eq!(ran.status, 0, "{}", ran.err);
    let want = json!(["layout", "svg", "dxf", "marks", "cuts", "order"]);
    let record = json!({ "id": 1, "path": plan("lakeside"), "options": { "inset": "5in" }, "want": want });
    let all = answers(&jsonl(&["--inset", "3in"], record.to_string().as_bytes()));
    let ok = &all[0]["ok"];
    let read = |name: &str| fs::read_to_string(out.path().join(name)).unwrap();
    let layout: Value = serde_json::from_str(&read("layout.json")).unwrap();
    assert!(ok["layout"] == layout);
    assert!(ok["findings"] == layout["findings"]);
    assert_eq!(ok["limits_hold"], true);
    for (part, file) in [
        ("svg", "plan.svg"),
        ("dxf", "plan.rail.dxf"),
        ("marks", "marks.csv"),
        ("cuts", "cuts.csv"),
        ("order", "order.csv"),
    ] {
        same(ok[part].as_str().unwrap(), &read(file));
    }
    let few = answers(&jsonl(&[], json!({ "id": 1, "dxf": text("lakeside"), "want": [] }).to_string().as_bytes()));
    assert_eq!(
        few[0]["ok"].as_object().unwrap().keys().collect::<Vec<_>>(),
        ["complete", "limits_hold", "headline", "findings"]
    );
}

#[test]
fn the_options_of_a_record_are_its_own() {
    let record = |id: usize, inset: &str| json!({ "id": id, "dxf": text("l-shape"), "options": { "inset": inset } });
    // The arms of the L are narrower than twice 61 in.
    let input: String = (0..30).map(|i| format!("{}\n", record(i, ["3in", "61in", "4in"][i % 3]))).collect();
    let all = answers(&jsonl(&["--jobs", "3"], input.as_bytes()));
    for (i, answer) in all.iter().enumerate() {
        assert_eq!((&answer["id"], &answer["ok"]["complete"]), (&json!(i), &json!(i % 3 != 1)), "{answer}");
        assert_eq!(answer["ok"]["layout"], all[i % 3]["ok"]["layout"]);
    }
    assert!(all[0]["ok"]["layout"] != all[2]["ok"]["layout"]);
}

/// Six edges, and 960 in of them at 84 in a panel, are 18: more than 8 and no more than 18.
#[test]
fn work_beyond_the_budget_is_refused() {
    let record = json!({ "id": 1, "dxf": text("l-shape") }).to_string();
    let few = answers(&jsonl(&["--max-work", "8"], record.as_bytes()));
    let error = &few[0]["error"];
    assert_eq!((&error["code"], &error["finding"]), (&json!("over-budget"), &json!("over-budget")));
    assert_eq!(error["hint"], "allow more with --max-work");
    assert!(answers(&jsonl(&["--max-work", "18"], record.as_bytes()))[0].get("ok").is_some());
    assert!(answers(&jsonl(&["--max-work", "17"], record.as_bytes()))[0].get("ok").is_none());
    let file = json!({ "id": 1, "path": plan("l-shape") }).to_string();
    let small = answers(&jsonl(&["--max-record", "1KiB"], file.as_bytes()));
    assert_eq!(small[0]["error"]["code"], "too-large");
    assert_eq!(small[0]["id"], 1);
}

/// The cap holds for references, too.
#[test]
fn a_reference_that_is_too_large_is_not_read() {
    let home = folder();
    for name in ["plan.dxf", "deck.dxf"] {
        fs::copy(root().join("fixtures/xref").join(name), home.path().join(name)).unwrap();
    }
    let ask =
        || run_in(home.path(), &["batch", "--jsonl", "--max-record", "16KiB"], b"{\"id\":1,\"path\":\"plan.dxf\"}");
    assert!(answers(&ask())[0].get("ok").is_some());
    let mut text = fs::read(home.path().join("deck.dxf")).unwrap();
    text.splice(0..0, b"999\nlonger\n".repeat(400));
    fs::write(home.path().join("deck.dxf"), text).unwrap();
    assert_eq!(answers(&ask())[0]["error"]["finding"], "layer-empty");
}

fn start(options: &[&str]) -> Child {
    Command::new(env!("CARGO_BIN_EXE_plumbrail"))
        .args(["batch", "--jsonl"])
        .args(options)
        .current_dir(root())
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap()
}

/// Who waits for each answer before the next record is sent gets it.
#[test]
fn one_record_at_a_time() {
    let mut child = start(&["--jobs", "3"]);
    let mut input = child.stdin.take().unwrap();
    let output = BufReader::new(child.stdout.take().unwrap());
    let (send, lines) = mpsc::channel();
    std::thread::spawn(move || output.lines().for_each(|line| drop(send.send(line.unwrap()))));
    for id in 0..20 {
        let path = if id % 2 == 0 { plan("corner-135") } else { "none.dxf".to_owned() };
        writeln!(input, "{}", json!({ "id": id, "path": path })).unwrap();
        input.flush().unwrap();
        let line = lines.recv_timeout(AGAINST_HANGING).expect("no answer came");
        let answer: Value = serde_json::from_str(&line).unwrap();
        assert_eq!(answer["id"], id);
    }
    drop(input);
    assert_eq!(child.wait().unwrap().code(), Some(0));
    assert!(lines.recv().is_err());
}

/// As by `| head -1`: an end with a message, though records are still to come.
#[test]
fn a_reader_that_goes_away_ends_the_run() {
    let mut child = start(&[]);
    let mut input = child.stdin.take().unwrap();
    let writer = std::thread::spawn(move || {
        let record = json!({ "id": 1, "path": plan("corner-135") });
        (0..5000).any(|_| writeln!(input, "{record}").is_err())
    });
    let mut output = BufReader::new(child.stdout.take().unwrap());
    let mut line = String::new();
    output.read_line(&mut line).unwrap();
    assert!(line.starts_with("{\"id\":1,\"ok\":"));
    drop(output);
    assert_eq!(child.wait().unwrap().code(), Some(2));
    let mut said = String::new();
    child.stderr.take().unwrap().read_to_string(&mut said).unwrap();
    same(&said, "error: standard output cannot be written; the answers are not complete: Broken pipe (os error 32)\n");
    assert!(writer.join().unwrap(), "all records were read though nobody took the answers");
}

/// Records and answers keep to `schemas/`, by a validator that is not ours.
#[test]
fn records_and_answers_keep_to_their_schemas() {
    let folder = scratch("batch");
    let all = kinds(&text("l-shape"));
    let lines: Vec<&[u8]> = all.iter().map(|(line, ..)| line.as_slice()).collect();
    let ran = jsonl(&["--max-record", "100KiB"], &lines.join(&b'\n'));
    let (mut requests, mut replies) = (Vec::new(), Vec::new());
    for (i, ((line, _, code), answer)) in all.iter().zip(ran.out.lines()).enumerate() {
        if !matches!(code, Some("bad-json" | "bad-record" | "too-large")) {
            requests.push(folder.join(format!("in-{i}.json")));
            fs::write(requests.last().unwrap(), line).unwrap();
        }
        replies.push(folder.join(format!("out-{i}.json")));
        fs::write(replies.last().unwrap(), answer).unwrap();
    }
    for (schema, files) in [("batch-in.schema.json", &requests), ("batch-out.schema.json", &replies)] {
        let schema = root().join("schemas").join(schema);
        let mut args: Vec<&dyn AsRef<std::ffi::OsStr>> = vec![&schema];
        args.extend(files.iter().map(|f| f as &dyn AsRef<std::ffi::OsStr>));
        script("check_schema.py", &args);
    }
}
