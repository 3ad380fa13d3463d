//! `plumbrail check`: findings and the table of limits only, nothing written.

mod text;

use std::path::Path;

use anyhow::{Context, Result};
use plumbrail::base::{Conclusion, Finding, Refusal, Severity, visible_line};
use plumbrail::parts::{self, Layout, record::Record};
use plumbrail::proof::{self, Proof};
use plumbrail::write::{self, message::ConclusionLine};

use super::print;
use crate::args::{Check, MessageFormat, Shared};
use crate::config::{self, Status};
use crate::input::Input;
use crate::{messages, output};

pub fn run(args: &Check, format: MessageFormat) -> Result<Status> {
    let input = Input::open_or_say(&args.file, &args.source, format)?;
    let is_json = input.bytes.iter().find(|b| !b.is_ascii_whitespace()) == Some(&b'{');
    if is_json && output::is_unfinished(args.file.parent().unwrap_or(Path::new(""))) {
        messages::unfinished(&args.file, format);
    }
    let (layout, proof, findings) = if is_json {
        again(&args.file, &input.bytes, &args.shared)?
    } else {
        let settings = config::settings(&args.shared)?;
        let name = args.file.file_name().unwrap_or_default().to_string_lossy();
        match input.lay_out(&name, &settings, usize::MAX) {
            Ok(outcome) => (outcome.layout, outcome.proof, outcome.findings),
            Err(error) => {
                if let Some(refusal) = error.downcast_ref::<Refusal>() {
                    messages::refusal(&args.file, refusal, format);
                }
                return Err(error);
            }
        }
    };
    messages::findings(&args.file, Some(&layout.plan.frame), &findings, format);
    match format {
        MessageFormat::Text => {
            let file = args.file.display().to_string();
            let file = visible_line(&file);
            let state = Conclusion::of(&findings).words();
            print(&format!("{file}: {}; {state}\n\n{}", proof.summary(), text::limits(&layout, &proof)))?
        }
        MessageFormat::Json => print(&lines(&layout, &proof))?,
    };
    let file = args.file.display().to_string();
    let conclusion = ConclusionLine::new(file, Some(&layout.plan.frame), &findings, proof.unchecked());
    messages::conclusion(conclusion, format);
    Ok(Status::by(&findings))
}

/// One JSON object a check, as in the `checks` of `layout.json`.
fn lines(layout: &Layout, proof: &Proof) -> String {
    let all = proof.checks.iter().chain(&proof.untouched);
    all.filter_map(|check| serde_json::to_string(&write::json::check(layout, check)).ok())
        .map(|line| format!("{line}\n"))
        .collect()
}

/// Proves a layout again from its file, with the system and rules that it names unless the options name others.
fn again(path: &Path, bytes: &[u8], shared: &Shared) -> Result<(Layout, Proof, Vec<Finding>)> {
    let record: Record = serde_json::from_slice(bytes).with_context(|| format!("{} is no layout", path.display()))?;
    let name = |option: &Option<String>, written: &str| option.clone().unwrap_or_else(|| written.to_owned());
    let hint = "a layout made with a file of your own needs --system FILE.toml or --rules FILE.toml";
    let system =
        config::system(&name(&shared.system, &record.system), Path::new(""), &config::read_text).context(hint)?;
    let case = record.rule_case.unwrap_or_default();
    let rules =
        config::rules(&name(&shared.rules, &record.rules), Path::new(""), &case, &config::read_text).context(hint)?;
    let layout = parts::layout(&record, system, rules).with_context(|| path.display().to_string())?;
    let proof = proof::prove(&layout);
    // What was drawn and is not laid out shows in no number of the file, so its own word is taken for it; so it is for what
    // a stage before the proof has found wrong.
    let is_found = |f: &Finding| {
        let same =
            |of: &&Finding| of.code == f.code && of.place.panel == f.place.panel && of.place.post == f.place.post;
        f.severity == Severity::Error && proof.findings.iter().any(|of| same(&of))
    };
    let told = parts::told(&record).into_iter().filter(|f| !is_found(f));
    let before =
        told.chain(layout.rules.assumption()).chain(parts::contradictions(&record, &layout, proof.unchecked()));
    let findings = before.chain(proof.findings.iter().cloned()).collect();
    Ok((layout, proof, findings))
}
