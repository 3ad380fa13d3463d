//! `plumbrail layout`: the main job.

use std::path::{Path, PathBuf};

use anyhow::{Context, Result, ensure};
use plumbrail::Outcome;
use plumbrail::base::{Conclusion, Finding, Refusal};
use plumbrail::catalog::Settings;
use plumbrail::sheet;
use plumbrail::write::message::{ConclusionLine, SummaryLine};

use super::{count, print_line};
use crate::args::{Format, Layout, MessageFormat};
use crate::config::{self, Status};
use crate::files::{Making, stem};
use crate::input::Input;
use crate::output::{self, Content, File, There};
use crate::{messages, stdout};

pub fn run(args: &Layout, format: MessageFormat) -> Result<Status> {
    ensure!(!(args.in_place && args.plan == Path::new("-")), "--in-place needs a plan that is a file");
    let args = &stdout::one_format(args)?;
    let settings = config::settings(&args.shared)?;
    let done = lay_out(args, &settings, &|_| Ok(Vec::new())).inspect_err(|error| {
        if let Some(refusal) = error.downcast_ref::<Refusal>() {
            messages::refusal(&args.plan, refusal, format);
        }
    })?;
    messages::findings(&args.plan, Some(&done.outcome.plan.frame), &done.findings, format);
    let is_piped = stdout::is(args.out.as_deref());
    let summary = summary(args, &done, format);
    if format == MessageFormat::Text && !is_piped {
        let told = || format!("the files were written to {}, but not what they come to", done.folder.display());
        print_line(&summary.message).with_context(told)?;
    } else {
        messages::summary(summary, format);
    }
    if format == MessageFormat::Text {
        messages::conclusion(conclusion(&args.plan, &done.outcome, &done.findings), format);
    }
    Ok(Status::by(&done.findings))
}

fn summary(args: &Layout, done: &Done, format: MessageFormat) -> SummaryLine {
    let has_svg = format == MessageFormat::Json && args.outputs.formats().contains(&Format::Svg);
    let scale = || sheet::plan_of(&done.outcome.plan, &done.outcome.layout, &done.findings).0.paper;
    let is_piped = stdout::is(args.out.as_deref());
    let out = if is_piped { "standard output".to_owned() } else { done.folder.display().to_string() };
    let written = match (args.in_place, done.files) {
        (true, 0) => "rails written into the plan itself".to_owned(),
        (true, files) => format!("{} written to {out}, and the rails into the plan itself", count(files, "file")),
        (false, files) => format!("{} written to {out}", count(files, "file")),
    };
    let plan_scale = has_svg.then(|| done.paper.unwrap_or_else(scale));
    let line = in_a_line(&args.plan, &done.outcome, &done.findings, &written);
    SummaryLine { plan_scale, files: done.files, out: done.folder.display().to_string(), ..line }
}

/// What all that was found of a plan comes to.
pub fn conclusion(plan: &Path, outcome: &Outcome, findings: &[Finding]) -> ConclusionLine {
    let frame = Some(&outcome.layout.plan.frame);
    ConclusionLine::new(plan.display().to_string(), frame, findings, outcome.proof.unchecked())
}

/// What was done, in a line; the caller adds what was `written`, and where.
pub fn in_a_line(plan: &Path, outcome: &Outcome, findings: &[Finding], written: &str) -> SummaryLine {
    let layout = &outcome.layout;
    let message = format!(
        "{} and {} in {}; {}; {written}; {}",
        count(layout.posts.len(), "post"),
        count(layout.panels.len(), "panel"),
        count(layout.runs.len(), "run"),
        outcome.proof.summary(),
        Conclusion::of(findings).words(),
    );
    let ConclusionLine { file, complete, limits_hold, headline } = conclusion(plan, outcome, findings);
    SummaryLine {
        file,
        complete,
        limits_hold,
        headline,
        posts: layout.posts.len(),
        panels: layout.panels.len(),
        runs: layout.runs.len(),
        drawing_units: layout.plan.frame.unit.sign().to_owned(),
        plan_scale: None,
        files: 0,
        out: String::new(),
        message,
    }
}

/// A plan that was laid out and written.
pub struct Done {
    /// The layout.
    pub outcome: Outcome,
    /// Everything found, what the plan did not take included.
    pub findings: Vec<Finding>,
    /// Scale of the plan, where it was composed.
    paper: Option<f64>,
    /// How many files were written.
    files: usize,
    folder: PathBuf,
}

/// What is about to be written.
pub struct Written<'a> {
    /// The files.
    pub files: &'a [File<'a>],
    /// What they were made from.
    pub input: &'a Input,
    /// The layout.
    pub outcome: &'a Outcome,
    /// Everything found.
    pub findings: &'a [Finding],
}

/// Lays one plan out and writes all its files or none; `more` adds files that are written with them, the last of all.
pub fn lay_out(
    args: &Layout,
    settings: &Settings,
    more: &dyn Fn(&Written<'_>) -> Result<Vec<File<'static>>>,
) -> Result<Done> {
    let input = Input::open(&args.plan, &args.source)?;
    let named = args.plan.file_name().filter(|_| args.plan != Path::new("-"));
    let name = named.map_or_else(|| "plan.dxf".to_owned(), |n| n.to_string_lossy().into_owned());
    let outcome = input.lay_out(&name, settings, usize::MAX)?;
    let mut making = Making::new(&outcome, settings, &args.outputs, args.in_place, &args.plan);
    let rails = making.rails(&input.bytes)?.map(|graft| Content::Graft(graft, &input.bytes));
    let folder = folder(&args.plan, args.out.as_deref());
    let mut files = making.files()?;
    let rail_name = making.rail_name();
    let mut in_place = None;
    match rails {
        Some(content) if args.in_place => in_place = Some((content, &input.bytes[..])),
        content => files.extend(content.map(|content| File { name: rail_name, content })),
    }
    if stdout::is(args.out.as_deref()) {
        // Of the drawings standard output takes the plan.
        files.retain(|file| {
            !["panels/", "sheets/", "sheets.dxf", "elevations.dxf"].iter().any(|other| file.name.starts_with(other))
        });
        stdout::write(&files)?;
        let (paper, findings, files) = (making.paper(), making.findings, files.len());
        return Ok(Done { outcome, findings, paper, files, folder });
    }
    files.extend(more(&Written { files: &files, input: &input, outcome: &outcome, findings: &making.findings })?);
    let makes = |name: &str| making.makes(name);
    output::write(&folder, &files, &There { makes: Some(&makes), plan: &args.plan, in_place, ..There::nothing() })?;
    let (paper, findings, files) = (making.paper(), making.findings, files.len());
    Ok(Done { outcome, findings, paper, files, folder })
}

/// Where the outputs go: the plan's name with `-rail`, beside it, if no other folder is named.
pub fn folder(plan: &Path, out: Option<&Path>) -> PathBuf {
    out.map_or_else(|| plan.with_file_name(format!("{}-rail", stem(plan))), Path::to_path_buf)
}
