//! Settings and layouts that somebody has edited badly: an error with its place, or findings, and never a panic or a run
//! without end.

use plumbrail::base::{Length, Unit};
use plumbrail::catalog::{self, BalusterStyle, FreeEnds, Inside, Job, Settings};
use plumbrail::parts::{self, record::Record};
use plumbrail::{proof, sheet, write};
use serde_json::{Value, json};

use crate::drawn::{Insunits, edge, polylines, wall};

fn rules() -> catalog::RuleSet {
    catalog::rules_named("irc-2021").unwrap()
}

/// A layout with a corner, an angled cut, a wall end and a free end, as `layout.json` has it.
fn layout_json() -> Value {
    let job = Job { inside: Some(Inside::Left), ends: Some(FreeEnds::Free), ..Job::default() };
    let settings = Settings::new(job, catalog::system_named("composite-36").unwrap(), rules()).unwrap();
    let deck = [
        edge(&[[0.0, 100.0], [0.0, 0.0], [90.0, 0.0], [150.0, 60.0]], false),
        wall(&[[-9.0, 100.0], [200.0, 100.0]], false),
    ];
    let dxf = polylines(&deck, Insunits::Inch);
    let outcome = plumbrail::lay_out(dxf.as_bytes(), "plan.dxf", &settings).unwrap();
    assert!(outcome.layout.panels.len() >= 3);
    serde_json::from_slice(&write::json::layout(&outcome.layout, &outcome.findings, &outcome.proof)).unwrap()
}

/// JSON pointers of everything in a value, itself left out.
fn pointers(value: &Value, at: &str, out: &mut Vec<String>) {
    let inner: Vec<(String, &Value)> = match value {
        Value::Object(map) => map.iter().map(|(k, v)| (format!("{at}/{k}"), v)).collect(),
        Value::Array(list) => list.iter().enumerate().map(|(i, v)| (format!("{at}/{i}"), v)).collect(),
        _ => Vec::new(),
    };
    for (pointer, value) in inner {
        pointers(value, &pointer, out);
        out.push(pointer);
    }
}

/// What `check` does with a layout.
fn check(layout: &Value) {
    let Ok(record) = serde_json::from_value::<Record>(layout.clone()) else { return };
    let system = catalog::system_named("composite-36").unwrap();
    if let Ok(layout) = parts::layout(&record, system, rules()) {
        let proof = proof::prove(&layout);
        assert!(!proof.summary().is_empty());
    }
}

#[test]
fn every_value_of_a_layout_replaced() {
    let layout = layout_json();
    let mut all = Vec::new();
    pointers(&layout, "", &mut all);
    assert!(all.len() > 300);
    let bad = [
        Value::Null,
        json!(0),
        json!(-1),
        json!(1e300),
        json!(-1e-300),
        json!(9_000_000_000_000_i64),
        json!(""),
        json!("P1"),
        json!([]),
        json!([0, 0, 0]),
        json!({}),
    ];
    for pointer in &all {
        for value in &bad {
            let mut changed = layout.clone();
            *changed.pointer_mut(pointer).unwrap() = value.clone();
            check(&changed);
        }
    }
}

#[test]
fn every_list_of_a_layout_emptied_doubled_or_turned_round() {
    let layout = layout_json();
    let mut all = Vec::new();
    pointers(&layout, "", &mut all);
    for pointer in all.iter().filter(|p| layout.pointer(p).unwrap().is_array()) {
        for change in
            [Vec::clear as fn(&mut Vec<Value>), |l| l.reverse(), |l| l.extend_from_within(..), |l| drop(l.pop())]
        {
            let mut changed = layout.clone();
            change(changed.pointer_mut(pointer).unwrap().as_array_mut().unwrap());
            check(&changed);
        }
    }
}

/// Every length of a rail system replaced: the file is refused, or panels come out that the proof looks at.
#[test]
fn every_length_of_a_rail_system_replaced() {
    let bad = ["0in", "-1in", "1/64in", "0.000001mm", "12in", "90m", "1000000m", "9000000000000000in", "x", ""];
    for (name, text) in catalog::builtin_systems() {
        let lengths: Vec<(usize, &str)> = text
            .match_indices('"')
            .filter_map(|(i, _)| text[i + 1..].split('"').next().map(|t| (i + 1, t)))
            .filter(|(_, t)| Length::parse(t, None).is_ok())
            .collect();
        assert!(lengths.len() > 20, "{name}");
        for (at, old) in lengths {
            for new in bad {
                let changed = format!("{}{new}{}", &text[..at], &text[at + old.len()..]);
                if let Ok(system) = catalog::read_system(&changed, "mine.toml") {
                    use_system(&system);
                }
            }
        }
    }
}

fn use_system(system: &catalog::RailSystem) {
    for style in [BalusterStyle::Centred, BalusterStyle::Even, BalusterStyle::Punched] {
        let balusters = system.baluster.as_ref().map(|_| style);
        let job = Job { balusters, ..Job::default() };
        let settings = Settings::new(job, system.clone(), rules()).unwrap();
        for opening in ["1/64in", "63-3/8in", "10ft"] {
            let opening = Length::parse(opening, None).unwrap();
            let outcome = plumbrail::lay_out_opening(opening, None, Unit::Inch, &settings);
            assert!(!outcome.layout.panels.is_empty() || !outcome.findings.is_empty());
            // Drawing is what takes time, and shows whether something is drawn without end.
            if let Some(panel) = outcome.layout.panels.first().filter(|_| style == BalusterStyle::Even) {
                assert!(!write::svg::document(&[&sheet::elevation(&outcome.layout, panel)], &[]).is_empty());
            }
        }
    }
}

/// Every length of a job that could be meant for another unit by mistake.
#[test]
fn every_length_of_a_job_far_off() {
    let deck = [edge(&[[0.0, 0.0], [300.0, 0.0], [300.0, 200.0], [0.0, 200.0]], true)];
    let dxf = polylines(&deck, Insunits::Inch);
    for key in ["inset", "mark", "longest-panel", "join", "snap", "touch", "tolerance"] {
        for value in ["0in", "0.000001mm", "1/64in", "3in", "8in", "8ft", "100m", "8000km", "8000000m"] {
            let Ok(job) = catalog::read_job(&format!("{key} = \"{value}\""), "job.toml") else { continue };
            let Ok(settings) = Settings::new(job, catalog::system_named("composite-36").unwrap(), rules()) else {
                continue;
            };
            if let Ok(outcome) = plumbrail::lay_out(dxf.as_bytes(), "plan.dxf", &settings) {
                assert!(!outcome.layout.panels.is_empty() || !outcome.findings.is_empty(), "{key} {value}");
            }
        }
    }
}
