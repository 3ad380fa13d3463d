//! Rule sets from the command line to the findings: every built-in one over plans in inches and in millimetres, the case in
//! the job file, files over files, and the way through `layout.json`.

use std::fs;
use std::path::Path;

use plumbrail::base::{Length, Unit};
use plumbrail::catalog::{
    Circumstances, Exact, Job, LimitKind, Settings, builtin_rules, read_rule_file, rules_named, system_named,
};
use plumbrail::proof::{self, Verdict};
use plumbrail::{Outcome, lay_out, lay_out_flight, lay_out_opening};
use serde_json::Value;

use crate::program::{Ran, arg, folder, plan, root, run, run_in};

fn settings(set: &str, system: &str) -> Settings {
    Settings::new(Job::default(), system_named(system).unwrap(), rules_named(set).unwrap()).unwrap()
}

/// Findings that are errors or warnings, as code and section.
fn findings(outcome: &Outcome) -> Vec<(&'static str, String)> {
    let mut all: Vec<_> = outcome
        .findings
        .iter()
        .filter(|f| f.severity != plumbrail::base::Severity::Note)
        .map(|f| (f.code.text(), f.rule.as_ref().map(|r| r.section.clone()).unwrap_or_default()))
        .collect();
    all.sort();
    all.dedup();
    all
}

/// A rail of 36 in stands up to the IRC; all others, the IBC without a stated use among them, ask for more, each by its section. No
/// other limit of theirs is broken on level edges, in either unit.
#[test]
fn every_rule_set_judges_a_low_rail_by_its_own_section() {
    for (set, _) in builtin_rules() {
        let mut asked: Vec<(&str, String)> = match *set {
            "irc-2018" | "irc-2021" | "irc-2024" => vec![],
            // Two warnings of one code: openings and height.
            "ada-2010" => vec![("not-checked", String::new())],
            _ => {
                let limit = rules_named(set).unwrap().limit(LimitKind::GuardHeight).cloned().unwrap();
                vec![("guard-too-low", limit.section)]
            }
        };
        if rules_named(set).unwrap().limit(LimitKind::ClimbFreeFrom).is_some() {
            asked.push(("not-checked", String::new()));
        }
        for name in ["l-shape", "metric"] {
            let bytes = fs::read(root().join(plan(name))).unwrap();
            let outcome = lay_out(&bytes, "plan.dxf", &settings(set, "composite-36")).unwrap();
            let found: Vec<_> = findings(&outcome).into_iter().filter(|(code, _)| *code != "stock-too-short").collect();
            assert_eq!(found, asked, "{set}: {name}");
            assert!(outcome.layout.panels.iter().all(|p| !p.panel.balusters.marks.is_empty()), "{set}");
        }
    }
}

/// A set without a limit for openings says so, and balusters are divided for the usual 4 in.
#[test]
fn a_rule_set_of_handrails_says_that_openings_were_not_checked() {
    let home = folder();
    let out = home.path().join("out");
    let plan = arg(root().join(plan("l-shape")));
    let ran = run(&["layout", &plan, "--rules", "ada-2010", "--out", &arg(&out)]);
    assert_eq!(ran.status, 0, "{}", ran.err);
    for words in
        ["warning[not-checked]: not checked: openings; the rule set ada-2010 has no limit for it", "height of the"]
    {
        assert!(ran.err.contains(words), "{}", ran.err);
    }
    let layout: Value = serde_json::from_slice(&fs::read(out.join("layout.json")).unwrap()).unwrap();
    for panel in layout["panels"].as_array().unwrap() {
        assert!(panel["balusters"]["widest_gap"].as_f64().unwrap() < 4.0);
    }
}

/// Handrails of the ADA: both sides, 12 in on level at the top and one tread beyond the foot (505.2, 505.10).
#[test]
fn a_flight_gets_the_handrails_of_its_rule_set() {
    let inches = |value: f64| Length::from_millimetres(value * 25.4).unwrap();
    let steps = plumbrail::deck::Steps { riser: inches(7.5), tread: inches(10.0), nosing: inches(1.0) };
    let flight = |settings: &Settings| lay_out_flight(11, steps, Unit::Inch, settings);
    let ada = flight(&settings("ada-2010", "composite-36"));
    assert_eq!(ada.layout.handrails.len(), 2);
    assert_eq!(ada.layout.handrails.first().map(|h| h.extension_top), Some(inches(12.0)));
    assert!(!findings(&ada).iter().any(|(code, _)| code.starts_with("handrail")), "{:?}", findings(&ada));
    // In a dwelling that need not be accessible none is required (IBC 1014.6 exception 1); where the use is not stated
    // they are.
    let job = "system = \"composite-36\"\nrules = \"ibc-2021\"\n[rule-case]\nuse = \"dwelling\"";
    let ibc = flight(&plumbrail::settings(job, "", "").unwrap());
    let unstated = flight(&settings("ibc-2021", "composite-36"));
    assert_eq!(unstated.layout.handrails.first().map(|h| h.extension_top), Some(inches(12.0)));
    assert_eq!(ibc.layout.handrails.first().map(|h| (h.extension_top, h.extension_bottom)), {
        Some((Length::ZERO, Length::ZERO))
    });
    assert!(findings(&ibc).iter().all(|(code, _)| *code == "not-checked"), "{:?}", findings(&ibc));
}

/// NF P01-012: bars not more than 110 mm apart, so just 110 mm with the cutting tolerance passes and a nanometre more
/// fails. A sphere that must not pass fails at its own size (R312.1.3).
#[test]
fn exactly_the_limit_is_judged_as_the_code_words_it() {
    for (set, passes) in [("france-nf-p01-012", true), ("irc-2021", false)] {
        let outcome = lay_out_opening(Length::INCH * 60, None, Unit::Inch, &settings(set, "metal-42"));
        let mut layout = outcome.layout;
        let widest = layout.panels[0].panel.balusters.widest_gap + layout.tolerance;
        let mut verdict = |limit: Length| {
            let rule = layout.rules.limits.iter_mut().find(|l| l.what == LimitKind::Opening).unwrap();
            assert_eq!(rule.exact == Exact::Passes, passes);
            rule.value = limit;
            let checks = proof::prove(&layout).checks;
            checks.into_iter().find(|c| c.what == "widest opening between balusters").unwrap().verdict
        };
        let just = Length::from_nanometres(1);
        assert_eq!(verdict(widest), if passes { Verdict::Pass } else { Verdict::Fail }, "{set}");
        assert_eq!(verdict(widest + just), Verdict::Pass, "{set}");
        assert_eq!(verdict(widest - just), Verdict::Fail, "{set}");
    }
}

fn check(home: &Path, options: &[&str]) -> Ran {
    let plan = arg(root().join(plan("l-shape")));
    let args: Vec<String> = ["check", &plan].iter().chain(options).map(|a| (*a).to_owned()).collect();
    run_in(home, &args, b"")
}

/// IBC 1015.3: 36 in for dwellings, 42 in for all else; what is not stated is told.
#[test]
fn the_case_in_the_job_file_decides() {
    let home = folder();
    fs::write(home.path().join("job.toml"), "rules = \"ibc-2021\"\n[rule-case]\nuse = \"other\"\n").unwrap();
    let other = check(home.path(), &["--job", "job.toml"]);
    assert_eq!(other.status, 1);
    assert!(other.err.contains("rule: ibc-2021 1015.3: limit 42 in, found 36 in"), "{}", other.err);
    assert!(!other.err.contains("rule-case-assumed"), "{}", other.err);
    let taken = check(home.path(), &["--rules", "ibc-2021"]);
    assert_eq!(taken.status, 1, "{}", taken.err);
    let strictest = "use of the building, of which the strictest is taken";
    for words in ["note[rule-case-assumed]", strictest, "under [rule-case]: use = "] {
        assert!(taken.err.contains(words), "{}", taken.err);
    }
    fs::write(home.path().join("bad.toml"), "[rule-case]\nuse = \"castle\"\n").unwrap();
    let bad = check(home.path(), &["--job", "bad.toml"]);
    assert!(bad.status == 2 && bad.err.contains("castle") && bad.err.contains("dwelling"), "{}", bad.err);
    fs::write(home.path().join("bad.toml"), "[rule-case]\ndrop = \"-1m\"\n").unwrap();
    let bad = check(home.path(), &["--job", "bad.toml"]);
    assert_eq!((bad.status, bad.err.as_str()), (2, "error: rule-case: drop is negative\n"));
}

/// NBC 9.8.8.3: 900 mm up to a drop of 1 800 mm. `check` of the written layout takes the same case.
#[test]
fn the_case_goes_through_layout_json() {
    let home = folder();
    let job = "rules = \"canada-nbc\"\n[rule-case]\nuse = \"dwelling\"\nplace = \"balcony\"\ndrop = \"1800mm\"\n";
    fs::write(home.path().join("job.toml"), job).unwrap();
    let plan = arg(root().join(plan("l-shape")));
    let ran = run_in(home.path(), &["layout", &plan, "--job", "job.toml", "--out", "out"], b"");
    assert_eq!(ran.status, 0, "{}", ran.err);
    let file = home.path().join("out/layout.json");
    let mut layout: Value = serde_json::from_slice(&fs::read(&file).unwrap()).unwrap();
    assert_eq!(layout["rule_case"]["use"], "dwelling");
    let again = run(&["check", &arg(&file)]);
    assert_eq!(again.status, 0, "{}", again.err);
    layout.as_object_mut().unwrap().remove("rule_case");
    fs::write(&file, serde_json::to_vec(&layout).unwrap()).unwrap();
    let unknown = run(&["check", &arg(&file)]);
    assert!(unknown.status == 1 && unknown.err.contains("9.8.8.3.(1): limit 42.126 in"), "{}", unknown.err);
    assert!(unknown.err.contains("rule-case-assumed"), "{}", unknown.err);
}

/// A county's amendment of the IRC: a higher guard, and the rest as it is. The base lies beside the file that names it.
#[test]
fn a_file_over_another_is_found_beside_it() {
    let home = folder();
    let write = |name: &str, based_on: &str, rest: &str| {
        let text = format!("name = \"pond\"\ntitle = \"Pond county\"\nbased-on = \"{based_on}\"\n{rest}");
        fs::write(home.path().join(name), text).unwrap();
    };
    fs::create_dir(home.path().join("codes")).unwrap();
    let height = "[[limit]]\nwhat = \"guard-height\"\nvalue = \"42in\"\nsection = \"Ordinance 7\"\n\
                  evidence = \"seen\"\nsource = \"read on paper\"\n";
    write("codes/county.toml", "irc-2021", height);
    write("codes/town.toml", "county.toml", "remove = [\"stair-triangle\"]\n");
    fs::write(home.path().join("job.toml"), "rules = \"codes/town.toml\"\n").unwrap();
    for options in [["--rules", "codes/town.toml"], ["--job", "job.toml"]] {
        let ran = check(home.path(), &options);
        assert_eq!(ran.status, 1);
        assert!(ran.err.contains("rule: pond Ordinance 7: limit 42 in, found 36 in"), "{}", ran.err);
    }
    let error = |name: &str| {
        let ran = check(home.path(), &["--rules", name]);
        assert_eq!(ran.status, 2, "{}", ran.err);
        ran.err
    };
    write("a.toml", "codes/b.toml", "");
    write("codes/b.toml", "../a.toml", "");
    let rest = "is based on itself: let one file of the chain name a built-in rule set, or leave its based-on out\n";
    assert_eq!(error("a.toml"), format!("error: a.toml {rest}"));
    write("self.toml", "self.toml", "");
    assert_eq!(error("self.toml"), format!("error: self.toml {rest}"));
    write("gone.toml", "none.toml", "");
    assert!(error("gone.toml").starts_with("error: gone.toml is based on none.toml: cannot read none.toml: "));
    write("odd.toml", "irc-1066", "");
    assert!(
        error("odd.toml").starts_with("error: odd.toml: based-on: there is no rule set named `irc-1066`\n  hint: ")
    );
    write("less.toml", "ada-2010", "remove = [\"opening\"]\n");
    assert!(error("less.toml").starts_with("error: less.toml: it removes opening, which ada-2010 does not have\n"));
    write("word.toml", "irc-2021", "remove = [\"openings\"]\n");
    assert!(error("word.toml").contains("there is no limit, count or load of that name"));
}

/// The example of the user pages is a rule set.
#[test]
fn the_example_of_the_docs_works() {
    let page = fs::read_to_string(root().join("docs/rule-sets.md")).unwrap();
    let block = page.split("```toml\n").find(|b| b.contains("based-on = ")).unwrap().split("```").next().unwrap();
    let file = read_rule_file(block, "docs").unwrap();
    let base = file.based_on.clone().unwrap();
    let whole = file.over(plumbrail::catalog::rule_file_named(&base).unwrap()).unwrap();
    let rules = whole.resolve(&Circumstances::default()).unwrap();
    assert_eq!(rules.limit(LimitKind::GuardHeight).unwrap().value, Length::INCH * 42);
    assert_eq!(rules.limit(LimitKind::Opening).unwrap().value, Length::INCH * 4);
}
