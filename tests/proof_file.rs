//! `layout.json`, read back: it loses nothing, and with one value spoiled at a time it is refused, contradicts itself, or
//! fails the proof.
//!
//! A kind of spoiling is a place of the file, with its numbers in lists left out, and what is done there. What no other figure
//! of the file repeats, and no limit asks for, cannot be found; it stands in [`FACTS`] with the reason.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;

use plumbrail::Outcome;
use plumbrail::base::{Finding, Length};
use plumbrail::catalog::{
    self, BalusterStyle, Job, OnHand, Paper, Part, Project, RailSystem, Revision, Settings, ShopJob, Stocked,
};
use plumbrail::parts::{self, Layout, record::Record};
use plumbrail::proof::{Proof, Verdict, prove};
use plumbrail::write;
use serde_json::{Value, json};

use crate::program::{fixtures, plan, root};

/// Places of the file that only the user or the drawing can vouch for, with the reason.
const FACTS: [(&str, &str); 32] = [
    (
        "findings",
        "words for reading: what is wrong or missing is held against `complete`, `limits_hold` and `headline`",
    ),
    ("checks", "words for reading: a layout that is read back is proved again"),
    ("plan", "the file that it was made from, which is not at hand"),
    ("project", "the title block: the user's words"),
    ("sheet", "the user's paper"),
    ("tolerance: a bit more", "how well the shop works: the user's word"),
    ("tolerance: nothing", "the same"),
    ("on_hand", "what else lies in the shop: the user's word"),
    ("shop.least_offcut", "from which rest on the shop keeps it, as far as no rest of the plan tells otherwise"),
    ("shop.nest", "what the shop can do, as far as no two pieces share a cut"),
    ("shop.spare_percent", "the user's wish; of few parts a percent more or less is the same number"),
    ("shop.spare_screws_percent", "the same"),
    ("site.touch", "how near lines were taken to belong together: the user's word"),
    ("site.walls", "where walls stand that no rail meets: the drawing's word"),
    ("site.mouths[].stair", "what an opening is for"),
    ("site.mouths[].flight", "the same"),
    ("flights[].place", "where the drawing has it"),
    ("flights[].riser_variation", "measured on the drawing; only the limit is checked"),
    ("flights[].tread_variation", "the same"),
    ("posts[].handle", "the entity in the drawing"),
    ("handrails[].id", "its name, which nothing else bears where it is not cut"),
    ("cut_plan[].stock: of another name", "of what lies in the shop, which has no name"),
    ("cut_plan[].stock: empty", "the same"),
    ("flights[].top_left.x: a bit", "how wide a stair is drawn, as near as lines are taken to belong together"),
    ("flights[].top_right.x: a bit", "the same"),
    ("site.mouths[].along[]", "the same"),
    ("site.edges[].corners[]", "where an edge lies that no rail goes along: the drawing's word"),
    (": turned round", "the order of entries says nothing where each bears its own name or place"),
    ("mouths: with its first twice", "the same stretch once more"),
    ("edges: with its first twice", "the same edge once more"),
    ("along: with its first twice", "the same corner once more"),
    ("corners: with its first twice", "the same"),
];

fn read(value: &Value, like: &Layout) -> Result<(Record, Layout), String> {
    let record: Record = serde_json::from_value(value.clone()).map_err(|e| e.to_string())?;
    let case = record.rule_case.unwrap_or_default();
    if (record.system.as_str(), record.rules.as_str()) != (like.system.name.as_str(), like.rules.name.as_str())
        || case != like.rules.case
    {
        return Err("of another system, rule set or case".to_owned());
    }
    let layout = parts::layout(&record, like.system.clone(), like.rules.clone()).map_err(|e| e.to_string())?;
    Ok((record, layout))
}

fn written(layout: &Layout, findings: &[Finding], proof: &Proof) -> Value {
    serde_json::to_value(write::json::record(layout, findings, proof)).unwrap()
}

/// Whether two texts of a layout differ in more than the last digits of their coordinates.
fn differ(one: &str, other: &str) -> Option<String> {
    let split = |text: &str| -> Vec<String> {
        text.split_inclusive(|c: char| !(c.is_ascii_alphanumeric() || c == '.' || c == '-' || c == '+'))
            .map(str::to_owned)
            .collect()
    };
    let number = |token: &str| token.trim_end_matches([',', ' ', ')', '}', ']']).parse::<f64>().ok();
    let (a, b) = (split(one), split(other));
    let same = |a: &String, b: &String| {
        a == b || number(a).zip(number(b)).is_some_and(|(a, b)| (a - b).abs() <= 1e-5_f64.max(a.abs() * 1e-12))
    };
    let at = a.iter().zip(&b).position(|(a, b)| !same(a, b)).or((a.len() != b.len()).then(|| a.len().min(b.len())))?;
    let near = |list: &[String]| list[at.saturating_sub(12)..(at + 6).min(list.len())].concat();
    Some(format!("{} ... {}", near(&a), near(&b)))
}

/// Every layout is read back as it was written, whole: places in the plan to a hundredth of a micrometre.
pub fn is_read_back(outcome: &Outcome) {
    let Outcome { layout, findings, proof, .. } = outcome;
    let value = written(layout, findings, proof);
    let (record, again) = read(&value, layout).unwrap();
    assert_eq!(differ(&format!("{layout:?}"), &format!("{again:?}")), None);
    let told = parts::contradictions(&record, &again, prove(&again).unchecked());
    assert!(told.is_empty(), "{told:?}");
}

#[test]
fn every_fixture_is_read_back_without_loss() {
    for case in fixtures() {
        let bytes = fs::read(root().join(plan(&case))).unwrap();
        for system in ["composite-36", "metal-42", "cable-36", "frame-42"] {
            let settings = settings(system_of(system), Job::default());
            if let Ok(outcome) = plumbrail::lay_out(&bytes, "plan.dxf", &settings) {
                is_read_back(&outcome);
            }
        }
    }
}

fn system_of(name: &str) -> RailSystem {
    let (_, text) = catalog::builtin_systems().iter().find(|(n, _)| name.starts_with(n)).unwrap();
    if !name.ends_with(" by length") {
        return catalog::read_system(text, name).unwrap();
    }
    // Members sold by the length, and nothing in kits.
    let (start, packs) = (text.find("# What is sold").unwrap(), text.find("[[pack]]").unwrap());
    let mut out = format!("{}{}", &text[..start], &text[packs..]);
    for member in ["support-rail", "bottom-rail", "top-rail", "cap", "handrail"] {
        for (feet, price) in [(8, 30.0), (12, 43.0), (16, 56.0)] {
            let (name, length) = (format!("{member} {feet} ft"), feet * 12);
            out.push_str(&format!(
                "[[stock]]\nname = \"{name}\"\nmember = \"{member}\"\nlength = \"{length}in\"\nprice = {price}\nweight-kg = 3\n"
            ));
        }
    }
    catalog::read_system(&out, name).unwrap()
}

/// With all that a job can state, so that each entry of the file is there.
fn settings(system: RailSystem, job: Job) -> Settings {
    let project = Project {
        name: Some("Lake house".to_owned()),
        north: Some(12.5),
        revisions: vec![Revision { mark: "A".to_owned(), date: None, text: "first issue".to_owned() }],
        ..Project::default()
    };
    let shop = ShopJob {
        spare_percent: BTreeMap::from([(Part::Baluster, 5), (Part::SupportBlock, 10)]),
        spare_screws_percent: Some(10),
        nest: Some(true),
        ..ShopJob::default()
    };
    let job = Job { project: Some(project), sheet: Some(Paper::AnsiB), shop: Some(shop), ..job };
    let mut settings = Settings::new(job, system, catalog::rules_named("irc-2021").unwrap()).unwrap();
    let members = settings.system.members.iter().map(|m| Stocked::from(m.role));
    settings.on_hand = members.map(|member| OnHand { member, length: Length::INCH * 90, count: 1 }).collect();
    settings
}

/// Ten layouts: decks, stairs, cables, glass, kits, stock.
const CASES: [(&str, &str, Option<BalusterStyle>); 10] = [
    ("lakeside", "composite-36", None),
    ("corner-135", "composite-36 by length", None),
    ("l-shape", "metal-42", None),
    ("cable", "cable-36", None),
    ("framed", "frame-42", None),
    ("metric", "metal-42", None),
    ("opening", "composite-36", Some(BalusterStyle::Even)),
    ("stair-lines", "composite-36", None),
    ("stair-landing", "composite-36 by length", None),
    ("stair-wall", "composite-36", None),
];

/// One place in the file.
type Path = Vec<Step>;

#[derive(Debug, Clone)]
enum Step {
    Key(String),
    Index(usize),
}

fn at<'a>(value: &'a mut Value, path: &[Step]) -> &'a mut Value {
    path.iter().fold(value, |value, step| match step {
        Step::Key(key) => value.get_mut(key.as_str()).unwrap(),
        Step::Index(i) => value.get_mut(*i).unwrap(),
    })
}

/// The path with the numbers of lists left out.
fn pattern(path: &[Step]) -> String {
    path.iter().fold(String::new(), |text, step| match step {
        Step::Key(key) if text.is_empty() => key.clone(),
        Step::Key(key) => format!("{text}.{key}"),
        Step::Index(_) => format!("{text}[]"),
    })
}

fn paths(value: &Value, path: &mut Path, out: &mut BTreeMap<String, Vec<Path>>) {
    if !path.is_empty() {
        out.entry(pattern(path)).or_default().push(path.clone());
    }
    match value {
        Value::Object(map) => {
            for (key, value) in map {
                path.push(Step::Key(key.clone()));
                paths(value, path, out);
                path.pop();
            }
        }
        Value::Array(list) => {
            for (i, value) in list.iter().enumerate() {
                path.push(Step::Index(i));
                paths(value, path, out);
                path.pop();
            }
        }
        _ => {}
    }
}

/// What is done to a value, by what it is.
fn spoilings(value: &Value, metric: bool) -> Vec<(&'static str, Option<Value>)> {
    let mut out = vec![("taken away", None)];
    let mut set = |name, value: Value| out.push((name, Some(value)));
    match value {
        Value::Bool(is) => set("turned round", json!(!is)),
        Value::String(text) => {
            set("of another name", json!(format!("{text}x")));
            set("empty", json!(""));
        }
        Value::Number(number) if number.is_u64() => {
            let n = number.as_u64().unwrap();
            set("one more", json!(n + 1));
            set("one less", n.checked_sub(1).map_or(json!(-1), |n| json!(n)));
            set("none", json!(0));
        }
        Value::Number(number) => {
            let (n, bit) = (number.as_f64().unwrap(), if metric { 3.0 } else { 0.125 });
            set("a bit more", json!(n + bit));
            set("a bit less", json!(n - bit));
            set("a foot more", json!(n + 96.0 * bit));
            set("a foot less", json!(n - 96.0 * bit));
            set("turned to its opposite", json!(-n));
            set("nothing", json!(0.0));
        }
        Value::Array(list) => {
            set("emptied", json!([]));
            set("without its last", json!(list[..list.len().saturating_sub(1)]));
            set("without its first", json!(list.get(1..).unwrap_or_default()));
            set("with its first twice", json!(list.iter().chain(list.first()).collect::<Vec<_>>()));
            set("turned round", json!(list.iter().rev().collect::<Vec<_>>()));
        }
        Value::Object(_) | Value::Null => {}
    }
    out
}

fn remove(file: &mut Value, path: &[Step]) {
    let (last, parent) = path.split_last().unwrap();
    match (last, at(file, parent)) {
        (Step::Key(key), Value::Object(map)) => drop(map.remove(key)),
        (Step::Index(i), Value::Array(list)) => drop(list.remove(*i)),
        other => panic!("{other:?}"),
    }
}

/// What does not pass, with the place.
fn said(proof: &Proof) -> BTreeSet<String> {
    let open = proof.checks.iter().filter(|check| check.verdict != Verdict::Pass);
    open.map(|check| format!("{} {:?} {:?} {:?}", check.what, check.place.panel, check.place.post, check.verdict))
        .collect()
}

struct Good {
    layout: Layout,
    file: Value,
    said: BTreeSet<String>,
}

impl Good {
    fn new((fixture, system, balusters): (&str, &str, Option<BalusterStyle>)) -> Self {
        let settings = settings(system_of(system), Job { balusters, ..Job::default() });
        let bytes = fs::read(root().join(plan(fixture))).unwrap();
        let outcome = plumbrail::lay_out(&bytes, "plan.dxf", &settings).unwrap();
        let Outcome { layout, findings, proof, .. } = outcome;
        let failed = proof.checks.iter().filter(|c| c.verdict == Verdict::Fail).map(|c| (&c.what, &c.place));
        assert!(proof.holds(), "{fixture} {system}: {:?}", failed.collect::<Vec<_>>());
        let file = written(&layout, &findings, &proof);
        Self { layout, file, said: said(&proof) }
    }

    fn is_found(&self, file: &Value) -> bool {
        let Ok((record, layout)) = read(file, &self.layout) else { return true };
        let proof = prove(&layout);
        !proof.holds()
            || said(&proof).difference(&self.said).next().is_some()
            || !parts::contradictions(&record, &layout, proof.unchecked()).is_empty()
    }
}

/// A number that is nothing but for the last digits is not changed by setting it to nothing.
fn is_same(one: &Value, other: &Value) -> bool {
    one == other || one.as_f64().zip(other.as_f64()).is_some_and(|(a, b)| (a - b).abs() < 1e-6)
}

/// A kind is tried in every so many of the layouts, and in the first that has it.
const EVERY: usize = 3;

#[test]
fn every_spoiled_file_is_found() {
    let (mut kinds, mut tried, mut missed) = (BTreeSet::new(), 0, Vec::new());
    for (number, case) in CASES.into_iter().enumerate() {
        let good = Good::new(case);
        assert!(!good.is_found(&good.file), "{case:?} is good");
        let mut all = BTreeMap::new();
        paths(&good.file, &mut Vec::new(), &mut all);
        let metric = !good.layout.measure.unit.is_imperial();
        for (pattern, places) in all {
            // Not always the first of its kind.
            let path = &places[number * 7 % places.len()];
            let value = at(&mut good.file.clone(), path).clone();
            for (k, (what, new)) in spoilings(&value, metric).into_iter().enumerate() {
                let kind = format!("{pattern}: {what}");
                let is_fact = FACTS.iter().any(|(fact, _)| kind.starts_with(fact) || kind.ends_with(fact));
                let is_turn = (pattern.len() + k + number).is_multiple_of(EVERY) || !kinds.contains(&kind);
                let mut file = good.file.clone();
                match new {
                    Some(new) if is_same(&new, &value) => continue,
                    _ if value.is_null() || is_fact || !is_turn => continue,
                    Some(new) => *at(&mut file, path) = new,
                    None => remove(&mut file, path),
                }
                tried += 1;
                if !good.is_found(&file) {
                    missed.push(format!("{kind}, in {} with {}", case.0, case.1));
                }
                kinds.insert(kind);
            }
        }
    }
    println!("{tried} spoilings of {} kinds, {} missed", kinds.len(), missed.len());
    assert!(
        missed.is_empty(),
        "{} of {tried} ({} kinds) are missed:\n{}",
        missed.len(),
        kinds.len(),
        missed.join("\n")
    );
    assert!(tried >= 1_500 && kinds.len() >= 900, "{tried} of {} kinds only", kinds.len());
}
