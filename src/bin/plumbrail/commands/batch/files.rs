//! Many plans on all cores: each all or nothing, with a bar while they are worked on and a summary at the end.

use std::path::Path;

use anyhow::{Context, Result, ensure};
use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};
use plumbrail::base::{Finding, Frame, Refusal, Severity};
use plumbrail::catalog::Settings;
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

/// How a plan ended.
enum End {
    /// Its outputs are there, and all limits hold.
    Done,
    /// Its outputs are there, and these limits do not hold; none are told of a plan that was there already.
    Broken(Vec<Finding>, Option<Frame>),
}

pub fn run(args: &Batch, format: MessageFormat) -> Result<Status> {
    ensure!(!stdout::is(args.out.as_deref()), "many plans have many files; name a folder with --out, or use --jsonl");
    let settings = config::settings(&args.shared)?;
    let plans = names::plans(args)?;
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
    let is_fine = |report: &Report| matches!(report.end, Ok(End::Done));
    Ok(if reports.iter().all(is_fine) { Status::Done } else { Status::Broken })
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
            if let Some(status) = stamp::found(plan, keys) {
                was_there = true;
                return Ok(if status == Status::Done { End::Done } else { End::Broken(Vec::new(), None) });
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
        let stamp = |done: &layout::Written<'_>| stamp::file(plan, keys, done.files, done.input, done.findings);
        let done = layout::lay_out(&one, settings, &stamp)?;
        let mut findings = done.findings;
        findings.retain(|f| f.severity == Severity::Error);
        let frame = done.outcome.plan.frame;
        Ok(if findings.is_empty() { End::Done } else { End::Broken(findings, Some(frame)) })
    };
    let end = work();
    Report { end, was_there }
}

/// Says what is wrong with a plan; all that was found on the way is in its `layout.json`.
fn tell(plan: &Plan, report: &Report, format: MessageFormat) {
    match &report.end {
        Ok(End::Done) => {}
        Ok(End::Broken(findings, frame)) => messages::findings(&plan.path, frame.as_ref(), findings, format),
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
            let status = match &report.end {
                Ok(End::Done) => "done",
                Ok(End::Broken(..)) => "broken",
                Err(_) => "failed",
            };
            let path = |path: &Path| path.to_string_lossy().into_owned();
            let out = report.end.is_ok().then(|| path(&plan.folder));
            let line = json!({
                "plan": path(&plan.path), "out": out, "status": status, "was_there": report.was_there,
            });
            format!("{line}\n")
        };
        return print(&plans.iter().zip(reports).map(line).collect::<String>());
    }
    let number = |of: fn(&Report) -> bool| reports.iter().filter(|r| of(r)).count();
    let there = match number(|r| r.was_there) {
        0 => String::new(),
        there => format!("; {there} of them lay there already"),
    };
    print(&format!(
        "{}: {} done, {} with a broken limit, {} failed{there}\n",
        count(plans.len(), "plan"),
        number(|r| matches!(r.end, Ok(End::Done))),
        number(|r| matches!(r.end, Ok(End::Broken(..)))),
        number(|r| r.end.is_err())
    ))
    .context("cannot write the summary")
}
