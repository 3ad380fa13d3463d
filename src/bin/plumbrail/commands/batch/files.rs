//! Many plans on all cores: each all or nothing, with a bar while they are worked on and a summary at the end.

use std::path::Path;

use anyhow::{Context, Result, bail, ensure};
use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};
use plumbrail::base::{Conclusion, Finding, Frame, Refusal, Severity};
use plumbrail::catalog::Settings;
use plumbrail::write::message::ConclusionLine;
use rayon::prelude::*;
use serde_json::json;

use super::names::{self, Plan};
use super::{STACK_BYTES, jobs, stamp};
use crate::args::{Batch, Layout, MessageFormat};
use crate::commands::{count, layout, print};
use crate::config::{self, Status};
use crate::guarded::{self, guarded};
use crate::{messages, output, stdout};

/// What became of a plan.
struct Report {
    end: Result<End>,
    /// Its outputs lay there from an earlier run.
    was_there: bool,
}

/// A plan whose outputs are there.
struct End {
    state: Conclusion,
    /// What is missing and which limits are broken; of a plan that was there already, nothing is told again.
    findings: Vec<Finding>,
    frame: Option<Frame>,
    conclusion: ConclusionLine,
}

pub fn run(args: &Batch, format: MessageFormat) -> Result<Status> {
    ensure!(!stdout::is(args.out.as_deref()), "many plans have many files; name a folder with --out, or use --jsonl");
    let settings = config::settings(&args.shared)?;
    let plans = names::plans(args)?;
    if let (Some(before), true) = (args.source.before.as_ref().filter(|path| !path.is_dir()), plans.len() > 1) {
        bail!(
            "{} is the layout of one plan, and there are {}; name a folder of outputs",
            before.display(),
            plans.len()
        );
    }
    let key = stamp::settings_key(args, &settings);
    let bar = bar(plans.len(), format);
    let pool = rayon::ThreadPoolBuilder::new().num_threads(jobs(args)).stack_size(STACK_BYTES).build()?;
    let one = |plan: &Plan| {
        let report = guarded(|| lay_out(plan, args, &settings, &key)).unwrap_or_else(|fault| Report {
            end: Err(anyhow::anyhow!("{fault}; {}", guarded::HINT)),
            was_there: false,
        });
        bar.inc(1);
        report
    };
    let reports: Vec<Report> = pool.install(|| plans.par_iter().with_max_len(1).map(one).collect());
    bar.finish_and_clear();
    for (plan, report) in plans.iter().zip(&reports) {
        tell(plan, report, format);
    }
    summary(&plans, &reports, format)?;
    let is_fine = |report: &Report| report.end.as_ref().is_ok_and(|end| end.state == Conclusion::Complete);
    Ok(if reports.iter().all(is_fine) { Status::Done } else { Status::Short })
}

/// On a terminal only.
fn bar(plans: usize, format: MessageFormat) -> ProgressBar {
    let target = match format {
        MessageFormat::Text => ProgressDrawTarget::stderr(),
        MessageFormat::Json => ProgressDrawTarget::hidden(),
    };
    let bar = ProgressBar::with_draw_target(Some(plans as u64), target);
    match ProgressStyle::with_template("{wide_bar} {pos} of {len} plans, {eta} left") {
        Ok(style) => bar.with_style(style),
        Err(_) => bar,
    }
}

/// One plan, from its file to its folder.
fn lay_out(plan: &Plan, args: &Batch, settings: &Settings, settings_key: &str) -> Report {
    let mut was_there = false;
    let mut work = || -> Result<End> {
        // The plan is hashed before it is read: were it to change in between, the next run would lay it out again.
        let plan_key = stamp::plan_key(&plan.path)?;
        let keys = (plan_key.as_str(), settings_key);
        if args.resume {
            output::recover(&plan.folder)?;
            if let Some((state, conclusion)) = stamp::found(plan, keys) {
                was_there = true;
                return Ok(End { state, findings: Vec::new(), frame: None, conclusion });
            }
        }
        let one = Layout {
            plan: plan.path.clone(),
            out: Some(plan.folder.clone()),
            in_place: false,
            outputs: args.outputs.clone(),
            source: args.source.clone(),
            shared: args.shared.clone(),
        };
        let stamp = |done: &layout::Written<'_>| stamp::file(plan, keys, done);
        let done = layout::lay_out(&one, settings, &stamp)?;
        let conclusion = layout::conclusion(&plan.path, &done.outcome, &done.findings);
        let state = Conclusion::of(&done.findings);
        let mut findings = done.findings;
        findings.retain(|f| f.severity >= Severity::Incomplete);
        Ok(End { state, findings, frame: Some(done.outcome.plan.frame), conclusion })
    };
    let end = work();
    Report { end, was_there }
}

/// Says what is wrong with a plan; all that was found on the way is in its `layout.json`.
fn tell(plan: &Plan, report: &Report, format: MessageFormat) {
    match &report.end {
        Ok(end) => {
            messages::findings(&plan.path, end.frame.as_ref(), &end.findings, format);
            messages::conclusion(end.conclusion.clone(), format);
        }
        Err(error) => match error.downcast_ref::<Refusal>() {
            Some(refusal) => messages::findings(&plan.path, None, std::slice::from_ref(&*refusal.finding), format),
            None => messages::failed_plan(&plan.path, error, format),
        },
    }
}

/// For people a line; for programs one a plan.
fn summary(plans: &[Plan], reports: &[Report], format: MessageFormat) -> Result<Status> {
    if format == MessageFormat::Json {
        let line = |(plan, report): (&Plan, &Report)| {
            let status = match report.end.as_ref().map(|end| end.state) {
                Ok(Conclusion::Complete) => "done",
                Ok(Conclusion::Incomplete) => "incomplete",
                Ok(Conclusion::LimitsBroken) => "broken",
                Err(_) => "failed",
            };
            let of = |told: fn(&ConclusionLine) -> bool| report.end.as_ref().ok().map(|end| told(&end.conclusion));
            let path = |path: &Path| path.to_string_lossy().into_owned();
            let out = report.end.is_ok().then(|| path(&plan.folder));
            let line = json!({
                "plan": path(&plan.path), "out": out, "status": status, "complete": of(|c| c.complete),
                "limits_hold": of(|c| c.limits_hold), "was_there": report.was_there,
            });
            format!("{line}\n")
        };
        return print(&plans.iter().zip(reports).map(line).collect::<String>());
    }
    let of = |state| reports.iter().filter(|r| r.end.as_ref().is_ok_and(|end| end.state == state)).count();
    let there = match reports.iter().filter(|r| r.was_there).count() {
        0 => String::new(),
        there => format!("; {there} of them lay there already"),
    };
    print(&format!(
        "{}: {} done, {} incomplete, {} with a broken limit, {} failed{there}\n",
        count(plans.len(), "plan"),
        of(Conclusion::Complete),
        of(Conclusion::Incomplete),
        of(Conclusion::LimitsBroken),
        reports.iter().filter(|r| r.end.is_err()).count()
    ))
    .context("cannot write the summary")
}
