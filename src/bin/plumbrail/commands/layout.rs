//! `plumbrail layout`: the main job.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use anyhow::{Context, Result, ensure};
use plumbrail::base::plane::point;
use plumbrail::base::{Finding, Refusal};
use plumbrail::catalog::Paper;
use plumbrail::sheet::{self, Layer, TemplatePaper};
use plumbrail::write::dxf::Placed;
use plumbrail::write::graft::{self, Graft, GraftOptions};
use plumbrail::{Outcome, write};

use super::{png, print};
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
        if [Format::Dxf, Format::Svg, Format::Pdf, Format::Png].into_iter().any(|f| self.has(f)) {
            let set = self.compose();
            let pages = sheet::permit_set(layout, &set, &self.findings, &self.outcome.proof);
            if self.has(Format::Dxf) {
                let options = write::dxf::DxfOptions {
                    version: self.args.dxf_version,
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
                for page in &pages {
                    add(format!("sheets/{}.svg", page.number), write::svg::page(page, &self.names).into_bytes());
                }
            }
            if self.has(Format::Pdf) {
                add("sheets.pdf".to_owned(), write::pdf::document(&pages, &self.names, &self.facts()));
                let desk = Paper::desk(layout.measure.unit.is_imperial());
                let sticks = sheet::templates(layout, self.args.templates.unwrap_or(TemplatePaper::Tiled(desk)));
                let facts = write::pdf::PdfFacts {
                    subject: Some("Layout sticks and templates at full size".to_owned()),
                    ..self.facts()
                };
                add("templates.pdf".to_owned(), write::pdf::document(&sticks, &self.names, &facts));
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
        if self.has(Format::Html) {
            add("report.html".to_owned(), self.report().context("report.html")?);
        }
        files.append(&mut pictures);
        Ok(files)
    }

    /// The page, for which all is composed in the other unit as well.
    fn report(&self) -> Result<Vec<u8>> {
        let Outcome { plan, layout, proof, .. } = self.outcome;
        let other = layout.in_other_units();
        let [set, others] = [layout, &other].map(|l| sheet::compose(plan, l, &self.findings, proof));
        Ok(write::html::report(&write::html::Report {
            own: write::html::Side { layout, set: &set },
            other: write::html::Side { layout: &other, set: &others },
            findings: &self.findings,
            proof,
            names: &self.names,
        })?)
    }
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
    if args.formats.contains(&Format::Svg) {
        old.extend(of("panels", 'S', ".svg"));
        old.extend(of("sheets", 'R', ".svg"));
    }
    if args.formats.contains(&Format::Png) {
        old.extend(of("sheets", 'R', ".png"));
    }
    old.sort();
    old
}

/// `1 panel`, `2 panels`.
fn count(number: usize, what: &str) -> String {
    let plural = if number == 1 { "" } else { "s" };
    format!("{number} {what}{plural}")
}
