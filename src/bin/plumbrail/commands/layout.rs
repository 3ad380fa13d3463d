//! `plumbrail layout`: the main job.

use std::cell::LazyCell;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use anyhow::{Context, Result, ensure};
use plumbrail::base::plane::point;
use plumbrail::base::{Finding, Refusal};
use plumbrail::catalog::{Paper, Settings};
use plumbrail::sheet::{self, Layer, TemplatePaper};
use plumbrail::write::dxf::Placed;
use plumbrail::write::graft::{self, Graft, GraftOptions};
use plumbrail::{Outcome, write};

use super::{count, png, print};
use crate::args::{Format, Layout, MessageFormat};
use crate::config::{self, Status};
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
        let layout = &done.outcome.layout;
        print(&format!(
            "{} and {} in {}; {}; {} written to {}{}\n",
            count(layout.posts.len(), "post"),
            count(layout.panels.len(), "panel"),
            count(layout.runs.len(), "run"),
            done.outcome.proof.summary(),
            count(done.files, "file"),
            done.folder.display(),
            if args.in_place { ", and the rails into the plan itself" } else { "" }
        ))?;
    }
    Ok(Status::by(&done.findings))
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
    let input = Input::open(&args.plan, &args.source)?;
    let named = args.plan.file_name().filter(|_| args.plan != Path::new("-"));
    let name = named.map_or_else(|| "plan.dxf".to_owned(), |n| n.to_string_lossy().into_owned());
    let outcome = plumbrail::lay_out_with(&input.bytes, &name, &|r| input.external(r), settings)?;
    let outcome = outcome.with(&input.findings);
    let mut job = Job {
        args,
        names: sheet::layer_names(&settings.output_layers, settings.layer_prefix.as_deref()),
        findings: outcome.findings.clone(),
        outcome: &outcome,
        is_refused: false,
    };
    let grafted = job.graft(&input.bytes);
    let folder = folder(args);
    let mut files = job.files()?;
    let mut in_place = None;
    match grafted.map(|graft| Content::Graft(graft, &input.bytes)) {
        Some(content) if args.in_place => in_place = Some((content, &input.bytes[..])),
        content => files.extend(content.map(|content| File { name: rail_name(&args.plan), content })),
    }
    output::recover(&folder)?;
    let mut stale = stale(&folder, &files, args);
    if job.is_refused {
        stale.extend(
            Some(folder.join(rail_name(&args.plan))).filter(|old| old.is_file() && !output::same(old, &args.plan)),
        );
    }
    files.extend(more(&Written { files: &files, input: &input, findings: &job.findings })?);
    output::write(&folder, &files, &There { stale, plan: &args.plan, in_place })?;
    let (findings, files) = (job.findings, files.len());
    Ok(Done { outcome, findings, files, folder })
}

/// Where the outputs go: the plan's name with `-rail`, beside it, if nothing else is asked for.
fn folder(args: &Layout) -> PathBuf {
    args.out.clone().unwrap_or_else(|| args.plan.with_file_name(format!("{}-rail", stem(&args.plan))))
}

/// The plan's name without `.dxf`, and without the `.rail` of an earlier run.
pub fn stem(plan: &Path) -> String {
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
        match (format, self.args.outputs.attach) {
            (Format::Rail, true) => false,
            (Format::Rail, false) if self.args.in_place => true,
            (Format::Dxf, true) => true,
            _ => self.args.outputs.formats.contains(&format),
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
        match rails_in(bytes, self.outcome, &self.findings, &self.names) {
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

    /// What the sheets say of themselves.
    fn facts(&self) -> write::pdf::PdfFacts {
        let project = &self.outcome.layout.project;
        write::pdf::PdfFacts {
            title: project.name.clone().unwrap_or_else(|| format!("Guard rail of {}", stem(&self.args.plan))),
            author: project.drawn_by.clone(),
            subject: Some("Guard rail permit set".to_owned()),
            keywords: Some(format!("{}, {}", self.outcome.layout.system.title, self.outcome.layout.rules.title)),
        }
    }

    fn files<'f>(&self) -> Result<Vec<File<'f>>> {
        let layout = &self.outcome.layout;
        let (mut files, mut pictures) = (Vec::new(), Vec::new());
        let mut add = |name: String, bytes: Vec<u8>| files.push(File::new(name, bytes));
        if [Format::Dxf, Format::Svg, Format::Pdf, Format::Html, Format::Png].into_iter().any(|f| self.has(f)) {
            let set = self.compose();
            let pages = LazyCell::new(|| sheet::permit_set(layout, &set, &self.findings, &self.outcome.proof));
            if self.has(Format::Dxf) {
                let options = write::dxf::DxfOptions {
                    version: self.args.outputs.dxf_version,
                    layer_names: self.names.clone(),
                    ..write::dxf::DxfOptions::default()
                };
                let bytes = write::dxf::document(&placed(&set), &pages, &layout.plan.frame, &options);
                add("layout.dxf".to_owned(), bytes);
            }
            if self.has(Format::Svg) {
                let svg = |drawing, behind| write::svg::named(&[drawing], behind, &self.names).into_bytes();
                add("plan.svg".to_owned(), svg(&set.plan, &set.background));
                for drawing in &set.elevations {
                    add(format!("panels/{}.svg", drawing.name), svg(drawing, &[]));
                }
                for page in pages.iter() {
                    add(format!("sheets/{}.svg", page.number), write::svg::page(page, &self.names).into_bytes());
                }
            }
            if self.has(Format::Pdf) {
                add("sheets.pdf".to_owned(), write::pdf::document(&pages, &self.names, &self.facts()));
                let desk = Paper::desk(layout.measure.unit.is_imperial());
                let sticks =
                    sheet::templates(layout, self.args.outputs.templates.unwrap_or(TemplatePaper::Tiled(desk)));
                let facts = write::pdf::PdfFacts {
                    subject: Some("Layout sticks and templates at full size".to_owned()),
                    ..self.facts()
                };
                add("templates.pdf".to_owned(), write::pdf::document(&sticks, &self.names, &facts));
            }
            if self.has(Format::Html) {
                add("report.html".to_owned(), self.report(&set).context("report.html")?);
            }
            if self.has(Format::Png) {
                pictures = png::files(&pages, &self.names)?;
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
        files.append(&mut pictures);
        Ok(files)
    }

    /// The page, for which all is composed in the other unit as well.
    fn report(&self, set: &sheet::Set) -> Result<Vec<u8>> {
        let Outcome { plan, layout, proof, .. } = self.outcome;
        let other = layout.in_other_units();
        let others = sheet::compose(plan, &other, &self.findings, proof);
        Ok(write::html::report(&write::html::Report {
            own: write::html::Side { layout, set },
            other: write::html::Side { layout: &other, set: &others },
            findings: &self.findings,
            proof,
            names: &self.names,
        })?)
    }
}

/// The rails in the user's drawing.
pub fn rails_in(
    bytes: &[u8],
    outcome: &Outcome,
    findings: &[Finding],
    names: &BTreeMap<Layer, String>,
) -> Result<Graft, Refusal> {
    let rails = sheet::rails(&outcome.plan, &outcome.layout, findings);
    let placed = [Placed { drawing: &rails, at: point(0.0, 0.0) }];
    let options = GraftOptions { with_details: false, layer_names: names.clone() };
    graft::graft(bytes, &placed, &outcome.plan.frame, &options)
}

/// The drawings, each at its place.
fn placed(set: &sheet::Set) -> Vec<Placed<'_>> {
    set.arrangement().into_iter().map(|(drawing, at)| Placed { drawing, at }).collect()
}

/// Drawings of an earlier run whose panels or sheets are no more: an installer must not find them.
fn stale(folder: &Path, files: &[File<'_>], args: &Layout) -> Vec<PathBuf> {
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
    if args.outputs.formats.contains(&Format::Svg) {
        old.extend(of("panels", 'S', ".svg"));
        old.extend(of("sheets", 'R', ".svg"));
    }
    if args.outputs.formats.contains(&Format::Png) {
        old.extend(of("sheets", 'R', ".png"));
    }
    old.sort();
    old
}
