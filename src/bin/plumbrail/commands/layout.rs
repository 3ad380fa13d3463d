//! `plumbrail layout`: the main job.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use anyhow::{Context, Result, ensure};
use plumbrail::base::plane::point;
use plumbrail::base::{Finding, Refusal};
use plumbrail::sheet::{self, Layer};
use plumbrail::write::dxf::Placed;
use plumbrail::write::graft::{self, Graft, GraftOptions};
use plumbrail::{Outcome, write};

use super::print;
use crate::args::{Format, Layout, MessageFormat};
use crate::config::{self, Status};
use crate::input::Input;
use crate::messages;
use crate::output::{self, Content, File, There};

pub fn run(args: &Layout, format: MessageFormat) -> Result<Status> {
    let is_stream = args.plan == Path::new("-");
    ensure!(!(args.in_place && is_stream), "--in-place needs a plan that is a file");
    let settings = config::settings(&args.shared)?;
    let mut input = Input::open(&args.plan, &args.source, format)?;
    if args.in_place {
        input.detach();
    }
    let named = args.plan.file_name().filter(|_| !is_stream);
    let name = named.map_or_else(|| "plan.dxf".to_owned(), |n| n.to_string_lossy().into_owned());
    let outcome = match plumbrail::lay_out_with(&input.bytes, &name, &|r| input.external(r), &settings) {
        Ok(outcome) => outcome.with(&input.findings),
        Err(refusal) => {
            messages::refusal(&args.plan, &refusal, format);
            return Err(refusal.into());
        }
    };
    let mut job = Job {
        args,
        names: sheet::layer_names(&settings.output_layers, settings.layer_prefix.as_deref()),
        findings: outcome.findings.clone(),
        outcome: &outcome,
        is_refused: false,
    };
    let grafted = job.graft(&input.bytes);
    let folder = args.out.clone().unwrap_or_else(|| args.plan.with_file_name(format!("{}-rail", stem(&args.plan))));
    let mut files = job.files()?;
    let mut in_place = None;
    match grafted.map(|graft| Content::Graft(graft, &input.bytes)) {
        Some(content) if args.in_place => in_place = Some(content),
        content => files.extend(content.map(|content| File { name: rail_name(&args.plan), content })),
    }
    let mut stale = stale(&folder, &files, args);
    if job.is_refused {
        stale.extend(
            Some(folder.join(rail_name(&args.plan))).filter(|old| old.is_file() && !output::same(old, &args.plan)),
        );
    }
    let there = There { stale, plan: &args.plan, in_place };
    output::write(&folder, &files, &there)?;
    messages::findings(&args.plan, Some(&outcome.plan.frame), &job.findings, format);
    if format == MessageFormat::Text {
        let layout = &outcome.layout;
        print(&format!(
            "{} and {} in {}; {}; {} written to {}{}\n",
            count(layout.posts.len(), "post"),
            count(layout.panels.len(), "panel"),
            count(layout.runs.len(), "run"),
            outcome.proof.summary(),
            count(files.len(), "file"),
            folder.display(),
            if there.in_place.is_some() { ", and the rails into the plan itself" } else { "" }
        ))?;
    }
    Ok(Status::by(&job.findings))
}

/// The plan's name without `.dxf`, and without the `.rail` of an earlier run.
fn stem(plan: &Path) -> String {
    let stem = plan.file_stem().filter(|_| plan != Path::new("-"));
    let stem = stem.map_or_else(|| "plan".to_owned(), |s| s.to_string_lossy().into_owned());
    stem.strip_suffix(".rail").map(str::to_owned).unwrap_or(stem)
}

/// Name of the plan with the rails in it.
fn rail_name(plan: &Path) -> String {
    format!("{}.rail.dxf", stem(plan))
}

/// One run.
struct Job<'a> {
    args: &'a Layout,
    names: BTreeMap<Layer, String>,
    findings: Vec<Finding>,
    outcome: &'a Outcome,
    /// Whether the drawing cannot take the rails.
    is_refused: bool,
}

impl Job<'_> {
    fn has(&self, format: Format) -> bool {
        match (format, self.args.attach) {
            (Format::Rail, true) => false,
            (Format::Rail, false) if self.args.in_place => true,
            (Format::Dxf, true) => true,
            _ => self.args.formats.contains(&format),
        }
    }

    fn compose(&self) -> sheet::Set {
        sheet::compose(&self.outcome.plan, &self.outcome.layout, &self.findings, &self.outcome.proof)
    }

    /// The rails in the user's drawing. Where it cannot take them, a finding says why, and all else is written.
    fn graft(&mut self, bytes: &[u8]) -> Option<Graft> {
        if !self.has(Format::Rail) {
            return None;
        }
        let rails = self.compose().rails();
        let placed = [Placed { drawing: &rails, at: point(0.0, 0.0) }];
        let options = GraftOptions { with_details: false, layer_names: self.names.clone() };
        match graft::graft(bytes, &placed, &self.outcome.plan.frame, &options) {
            Ok(graft) => {
                self.findings.extend(graft.findings.iter().cloned());
                Some(graft)
            }
            Err(refusal) => {
                self.findings.extend(self.not_written(refusal));
                self.is_refused = true;
                None
            }
        }
    }

    fn not_written(&self, refusal: Refusal) -> Vec<Finding> {
        let mut why = *refusal.finding;
        let what = if self.args.in_place {
            "the plan was left as it is".to_owned()
        } else {
            format!("{} was not written", rail_name(&self.args.plan))
        };
        why.message = format!("{what}: {}", why.message);
        refusal.others.into_iter().chain([why]).collect()
    }

    fn files<'f>(&self) -> Result<Vec<File<'f>>> {
        let layout = &self.outcome.layout;
        let mut files = Vec::new();
        let mut add = |name: String, bytes: Vec<u8>| files.push(File::new(name, bytes));
        if self.has(Format::Dxf) || self.has(Format::Svg) {
            let set = self.compose();
            if self.has(Format::Dxf) {
                let options = write::dxf::DxfOptions {
                    version: self.args.dxf_version,
                    layer_names: self.names.clone(),
                    ..write::dxf::DxfOptions::default()
                };
                let bytes = write::dxf::document(&placed(&set), &[], &layout.plan.frame, &options);
                add("layout.dxf".to_owned(), bytes);
            }
            if self.has(Format::Svg) {
                let svg = |drawing, behind| write::svg::named(&[drawing], behind, &self.names).into_bytes();
                add("plan.svg".to_owned(), svg(&set.plan, &set.background));
                for drawing in &set.elevations {
                    add(format!("panels/{}.svg", drawing.name), svg(drawing, &[]));
                }
            }
        }
        if self.has(Format::Csv) {
            add("marks.csv".to_owned(), write::csv::marks(layout));
            add("cuts.csv".to_owned(), write::csv::cuts(layout));
            add("order.csv".to_owned(), write::csv::order(layout));
            add("hardware.csv".to_owned(), write::csv::hardware(layout));
            add("measure.csv".to_owned(), write::csv::measure(layout));
            if let Some(rails) = write::csv::handrails(layout) {
                add("handrails.csv".to_owned(), rails);
            }
        }
        if self.has(Format::Xlsx) {
            add("schedule.xlsx".to_owned(), write::xlsx::schedule(layout).context("schedule.xlsx")?);
        }
        if self.has(Format::Json) {
            add("layout.json".to_owned(), write::json::layout(layout, &self.findings, &self.outcome.proof));
        }
        Ok(files)
    }
}

/// The drawings, each at its place.
fn placed(set: &sheet::Set) -> Vec<Placed<'_>> {
    set.arrangement().into_iter().map(|(drawing, at)| Placed { drawing, at }).collect()
}

/// Panel drawings of an earlier run whose panels are no more: an installer must not find them.
fn stale(folder: &Path, files: &[File<'_>], args: &Layout) -> Vec<PathBuf> {
    if !args.formats.contains(&Format::Svg) {
        return Vec::new();
    }
    let Ok(entries) = std::fs::read_dir(folder.join("panels")) else { return Vec::new() };
    let is_panel = |name: &str| {
        let number = name.strip_prefix('S').and_then(|n| n.strip_suffix(".svg"));
        number.is_some_and(|n| !n.is_empty() && n.bytes().all(|b| b.is_ascii_digit()))
    };
    let mut old: Vec<PathBuf> = entries
        .flatten()
        .filter_map(|e| e.file_name().into_string().ok())
        .filter(|n| is_panel(n) && files.iter().all(|f| f.name != format!("panels/{n}")))
        .map(|n| folder.join("panels").join(n))
        .collect();
    old.sort();
    old
}

/// `1 panel`, `2 panels`.
fn count(number: usize, what: &str) -> String {
    let plural = if number == 1 { "" } else { "s" };
    format!("{number} {what}{plural}")
}
