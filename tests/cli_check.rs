//! What `plumbrail check` says of every limit, for people and as JSON lines, and the same in `layout.json`.

use std::fs;

use plumbrail::proof::NO_DESIGN;
use serde_json::Value;

use crate::program::{arg, folder, plan, run};

/// Cells of the row that begins with a name.
fn row(out: &str, name: &str) -> Vec<String> {
    let line = out.lines().find(|line| line.trim_start().starts_with(&format!("{name}  ")));
    let line = line.unwrap_or_else(|| panic!("{name} in\n{out}"));
    line.split("  ").map(str::trim).filter(|cell| !cell.is_empty()).map(str::to_owned).collect()
}

#[test]
fn every_limit_is_in_the_table() {
    let ran = run(&["check", &plan("l-shape")]);
    assert_eq!(ran.status, 0, "{}", ran.err);
    // Gaps of 3-7/8 in with the tolerance of 1/16 in at most, where under 4 in is required.
    let opening = row(&ran.out, "opening");
    assert_eq!(opening[1..4], ["irc-2021 R312.1.3", "quoted", "under 4 in"]);
    assert_eq!(opening.last().unwrap(), "pass");
    assert_eq!(row(&ran.out, "guard height")[3..6], ["at least 36 in", "36 in", "0 in"]);
    assert_eq!(row(&ran.out, "longest panel")[1..4], ["composite-36", "-", "at most 84 in"]);
    let not_checked = ran.out.split("\nNot checked\n").nth(1).unwrap();
    assert!(not_checked.lines().any(|l| l.starts_with(" stair guard height, ") && l.ends_with(": no stair")));
    assert!(not_checked.contains(" guard needed above: the plan gives no heights, so a guard is taken to be needed"));
    for text in
        ["7200 lb-in", "IRC table R301.5", "ASTM E985 (withdrawn 2015)", NO_DESIGN, "authority having jurisdiction"]
    {
        assert!(not_checked.contains(text), "{text} in\n{not_checked}");
    }
}

#[test]
fn a_broken_limit_stands_in_the_table() {
    let ran = run(&["check", &plan("stair-steep")]);
    assert_eq!(ran.status, 1);
    let riser = row(&ran.out, "riser height");
    assert!(riser.last().unwrap().starts_with("FAIL ("), "{riser:?}");
    assert!(riser.iter().any(|cell| cell.starts_with('-') && cell.ends_with(" in")), "no margin in {riser:?}");
}

#[test]
fn checks_are_the_same_as_json_lines_and_in_the_layout() {
    let ran = run(&["check", &plan("stair-lines"), "--message-format", "json"]);
    assert_eq!(ran.status, 0);
    let lines: Vec<Value> = ran.out.lines().map(|line| serde_json::from_str(line).unwrap()).collect();
    assert!(ran.err.lines().all(|line| serde_json::from_str::<Value>(line).is_ok()), "{}", ran.err);
    let out = folder();
    let ran = run(&["layout", &plan("stair-lines"), "--formats", "json", "--out", &arg(out.path())]);
    let text = fs::read_to_string(out.path().join("layout.json")).unwrap();
    let layout: Value = serde_json::from_str(&text).unwrap();
    assert_eq!(layout["checks"].as_array().unwrap(), &lines);
    let made = lines.iter().filter(|check| check["verdict"] != "not-checked").count();
    assert!(made > 100 && ran.out.contains(" 0 failed"), "{made} of {}", ran.out);
    let widest = lines.iter().find(|check| check["what"] == "widest opening between balusters").unwrap();
    assert_eq!(widest["required"], serde_json::json!({ "kind": "under", "value": 4.0 }));
    assert_eq!(widest["rule"]["evidence"], "quoted");
    let margin = 4.0 - widest["worst"].as_f64().unwrap();
    assert!((widest["margin"].as_f64().unwrap() - margin).abs() < 1e-9);
    // What was not checked says why, and never carries a number that could be taken for a result.
    for check in lines.iter().filter(|check| check["verdict"] == "not-checked") {
        assert!(check["why"].as_str().is_some_and(|why| !why.is_empty()) && check["actual"].is_null(), "{check}");
    }
}
