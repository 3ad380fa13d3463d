//! Job files, rail systems and rule sets.

use plumbrail::base::{Length, Unit};
use plumbrail::catalog::{self, Circumstances, Job, RailSystem, RuleSet, Settings};

/// A file is refused with a reason, or it makes panels of which the proof says whether they are right.
pub fn check(bytes: &[u8]) {
    let Ok(text) = std::str::from_utf8(bytes) else { return };
    let all = super::all_settings();
    let (system, rules) = (&all[0].system, &all[0].rules);
    let told = |e: catalog::CatalogError| assert!(!e.message.is_empty() && e.message.len() < 200_000);
    match catalog::read_job(text, "job.toml") {
        Ok(job) => with_job(job, system, rules),
        Err(e) => told(e),
    }
    match catalog::read_system(text, "system.toml") {
        Ok(own) => try_out(Job::default(), own, rules.clone()),
        Err(e) => told(e),
    }
    match catalog::read_rule_file(text, "rules.toml") {
        Ok(file) => {
            if let Ok(own) = file.resolve(&Circumstances::default()) {
                try_out(Job::default(), system.clone(), own);
            }
            let base = catalog::rule_file_named("irc-2021").expect("built in");
            if let Ok(own) = file.over(base).and_then(|f| f.resolve(&Circumstances::default())) {
                try_out(Job::default(), system.clone(), own);
            }
        }
        Err(e) => told(e),
    }
}

/// A job printed as JSON, as `batch` takes it, is the same job.
fn with_job(job: Job, system: &RailSystem, rules: &RuleSet) {
    let json = serde_json::to_string(&job).expect("a job has text keys");
    let again: Job = serde_json::from_str(&json).unwrap_or_else(|e| panic!("{e}: {json}"));
    assert_eq!(serde_json::to_string(&again).expect("a job has text keys"), json);
    try_out(job, system.clone(), rules.clone());
}

fn try_out(job: Job, system: RailSystem, rules: RuleSet) {
    let Ok(settings) = Settings::new(job, system, rules) else { return };
    for inches in [1, 70] {
        let outcome = plumbrail::lay_out_opening(Length::INCH * inches, None, Unit::Inch, &settings);
        assert!(!outcome.layout.panels.is_empty() || !outcome.findings.is_empty());
        assert!(outcome.proof.findings.iter().all(|f| outcome.findings.contains(f)));
        let json = plumbrail::write::json::layout(&outcome.layout, &outcome.findings, &outcome.proof);
        let record: Result<plumbrail::parts::record::Record, _> = serde_json::from_slice(&json);
        assert!(record.is_ok(), "{:?}", record.err());
    }
}
