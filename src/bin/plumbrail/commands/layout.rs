//! `plumbrail layout`: the main job.

use std::path::{Path, PathBuf};

use anyhow::{Result, ensure};
use plumbrail::Outcome;
use plumbrail::base::{Finding, Refusal};
use plumbrail::catalog::Settings;

use super::{count, print};
use crate::args::{Format, Layout, MessageFormat, Outputs};
use crate::config::{self, Status};
use crate::files::{Making, stem};
use crate::input::Input;
use crate::messages;
use crate::output::{self, Content, File, There};

pub fn run(args: &Layout, format: MessageFormat) -> Result<Status> {
    ensure!(!(args.in_place && args.plan == Path::new("-")), "--in-place needs a plan that is a file");
    let settings = config::settings(&args.shared)?;
    let done = lay_out(args, &settings, &|_| Ok(Vec::new())).inspect_err(|error| {
        if let Some(refusal) = error.downcast_ref::<Refusal>() {
            messages::refusal(&args.plan, refusal, format);
        }
    })?;
    messages::findings(&args.plan, Some(&done.outcome.plan.frame), &done.findings, format);
    if format == MessageFormat::Text {
        let more = if args.in_place { ", and the rails into the plan itself" } else { "" };
        print(&summary(&done.outcome, done.files, &done.folder, more))?;
    }
    Ok(Status::by(&done.findings))
}

/// What was done, in a line.
pub fn summary(outcome: &Outcome, files: usize, folder: &Path, more: &str) -> String {
    let layout = &outcome.layout;
    format!(
        "{} and {} in {}; {}; {} written to {}{more}\n",
        count(layout.posts.len(), "post"),
        count(layout.panels.len(), "panel"),
        count(layout.runs.len(), "run"),
        outcome.proof.summary(),
        count(files, "file"),
        folder.display(),
    )
}

/// A plan that was laid out and written.
pub struct Done {
    /// The layout.
    pub outcome: Outcome,
    /// Everything found, what the plan did not take included.
    pub findings: Vec<Finding>,
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
    /// Everything found.
    pub findings: &'a [Finding],
}

/// Lays one plan out and writes all its files or none; `more` adds files that are written with them, the last of all.
pub fn lay_out(
    args: &Layout,
    settings: &Settings,
    more: &dyn Fn(&Written<'_>) -> Result<Vec<File<'static>>>,
) -> Result<Done> {
    let mut input = Input::open(&args.plan, &args.source)?;
    if args.in_place {
        input.detach();
    }
    let named = args.plan.file_name().filter(|_| args.plan != Path::new("-"));
    let name = named.map_or_else(|| "plan.dxf".to_owned(), |n| n.to_string_lossy().into_owned());
    let outcome = plumbrail::lay_out_with(&input.bytes, &name, &|r| input.external(r), settings)?;
    let outcome = outcome.with(&input.findings);
    let mut making = Making::new(&outcome, settings, &args.outputs, args.in_place, &args.plan);
    let rails = making.rails(&input.bytes).map(|graft| Content::Graft(graft, &input.bytes));
    let folder = folder(&args.plan, args.out.as_deref());
    let mut files = making.files()?;
    let rail_name = making.rail_name();
    let mut in_place = None;
    match rails {
        Some(content) if args.in_place => in_place = Some(content),
        content => files.extend(content.map(|content| File { name: rail_name, content })),
    }
    let stale = stale(&folder, &files, &args.outputs, &making, &args.plan);
    files.extend(more(&Written { files: &files, input: &input, findings: &making.findings })?);
    output::write(&folder, &files, &There { stale, plan: &args.plan, in_place })?;
    let (findings, files) = (making.findings, files.len());
    Ok(Done { outcome, findings, files, folder })
}

/// Where the outputs go: the plan's name with `-rail`, beside it, if nothing else is asked for.
pub fn folder(plan: &Path, out: Option<&Path>) -> PathBuf {
    out.map_or_else(|| plan.with_file_name(format!("{}-rail", stem(plan))), Path::to_path_buf)
}

/// Drawings of an earlier run whose panels or sheets are no more, and an earlier plan with rails where the drawing takes
/// none now: an installer must not find them.
pub fn stale(folder: &Path, files: &[File<'_>], outputs: &Outputs, making: &Making<'_>, plan: &Path) -> Vec<PathBuf> {
    let of = |sub: &str, letter: char, end: &str| {
        let numbered = |name: &str| {
            let number = name.strip_prefix(letter).and_then(|n| n.strip_suffix(end));
            number.is_some_and(|n| !n.is_empty() && n.bytes().all(|b| b.is_ascii_digit()))
        };
        let entries = std::fs::read_dir(folder.join(sub)).into_iter().flatten().flatten();
        let names = entries.filter_map(|e| e.file_name().into_string().ok());
        names
            .filter(|n| numbered(n) && files.iter().all(|f| f.name != format!("{sub}/{n}")))
            .map(|n| folder.join(sub).join(n))
            .collect::<Vec<_>>()
    };
    let mut old = Vec::new();
    if outputs.formats.contains(&Format::Svg) {
        old.extend(of("panels", 'S', ".svg"));
        old.extend(of("sheets", 'R', ".svg"));
    }
    if outputs.formats.contains(&Format::Png) {
        old.extend(of("sheets", 'R', ".png"));
    }
    let rails = folder.join(making.rail_name());
    if making.is_refused && rails.is_file() && !output::same(&rails, plan) {
        old.push(rails);
    }
    old.sort();
    old
}
