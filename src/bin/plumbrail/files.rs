//! All files of one layout, in memory.

use std::collections::BTreeMap;
use std::path::Path;
use std::sync::Arc;

use anyhow::{Context, Result};
use plumbrail::base::{Finding, Refusal, Severity};
use plumbrail::catalog::{Paper, Settings};
use plumbrail::parts::Layout;
use plumbrail::sheet::{self, Drawing, Item, Layer, TemplatePaper};
use plumbrail::write::dxf::Placed;
use plumbrail::write::graft::Graft;
use plumbrail::{Outcome, write};

use crate::args::{Format, Outputs};
use crate::output::File;
use crate::png;

/// A layout that is made into files.
pub struct Making<'a> {
    outcome: &'a Outcome,
    outputs: &'a Outputs,
    in_place: bool,
    /// The plan's name, on which those of its files are made.
    stem: String,
    names: BTreeMap<Layer, String>,
    /// The plan with what is behind it, when it is composed with these findings.
    plan: Option<(Arc<Drawing>, Arc<Vec<Item>>)>,
    /// Everything found; what is found when the rails go into the drawing is added by [`Making::rails`].
    pub findings: Vec<Finding>,
}

impl<'a> Making<'a> {
    /// Begins; `in_place` when the rails go into the plan itself.
    pub fn new(outcome: &'a Outcome, settings: &Settings, outputs: &'a Outputs, in_place: bool, plan: &Path) -> Self {
        Self {
            outcome,
            outputs,
            in_place,
            stem: stem(plan),
            names: settings.layer_names(),
            plan: None,
            findings: outcome.findings.clone(),
        }
    }

    /// Name of the plan with the rails in it.
    pub fn rail_name(&self) -> String {
        format!("{}.rail.dxf", self.stem)
    }

    /// Full-scale mm per mm of the plan, when it is composed.
    pub fn paper(&self) -> Option<f64> {
        self.plan.as_ref().map(|(plan, _)| plan.paper)
    }

    fn has(&self, format: Format) -> bool {
        match (format, self.outputs.attach) {
            (Format::Rail, true) => false,
            (Format::Rail, false) if self.in_place => true,
            (Format::Dxf, true) => true,
            _ => self.outputs.formats().contains(&format),
        }
    }

    /// Whether a file of that name is one of the formats that are wanted. The rails in another plan are none of ours.
    pub fn makes(&self, name: &str) -> bool {
        let format = match name.rsplit_once('.') {
            Some((_, "csv")) => Format::Csv,
            Some((_, "svg")) => Format::Svg,
            Some((_, "png")) => Format::Png,
            Some(("sheets" | "elevations", "dxf")) => Format::Dxf,
            _ => Format::Rail,
        };
        self.has(format) && (format != Format::Rail || name == self.rail_name())
    }

    fn has_sheets(&self) -> bool {
        [Format::Dxf, Format::Svg, Format::Pdf, Format::Png].into_iter().any(|f| self.has(f))
    }

    fn compose(&self) -> sheet::Set {
        let plan = self.plan.clone().unwrap_or_else(|| self.plan());
        sheet::compose_with(plan, &self.outcome.layout)
    }

    fn plan(&self) -> (Arc<Drawing>, Arc<Vec<Item>>) {
        let (plan, behind) = sheet::plan_of(&self.outcome.plan, &self.outcome.layout, &self.findings);
        (Arc::new(plan), Arc::new(behind))
    }

    /// The rails in the user's drawing, if they are wanted.
    ///
    /// # Errors
    /// When it cannot take them: then nothing is to be written, since lists of other rails than the drawing has would mislead.
    pub fn rails(&mut self, bytes: &[u8]) -> Result<Option<Graft>, Refusal> {
        if !self.has(Format::Rail) {
            return Ok(None);
        }
        let plan = self.plan();
        let graft = self.outcome.graft_of(bytes, &plan.0, &self.names);
        let graft = graft.map_err(|refusal| Refusal { others: self.findings.clone(), ..unwritten(refusal) })?;
        self.findings.extend(graft.findings.iter().cloned());
        // The plan shows what is more than a note.
        self.plan = Some(plan).filter(|_| graft.findings.iter().all(|f| f.severity == Severity::Note));
        Ok(Some(graft))
    }

    /// What the sheets say of themselves.
    fn facts(&self) -> write::pdf::PdfFacts {
        let project = &self.outcome.layout.project;
        write::pdf::PdfFacts {
            title: project.name.clone().unwrap_or_else(|| format!("Guard rail of {}", self.stem)),
            author: project.drawn_by.clone(),
            subject: Some("Guard rail permit set".to_owned()),
            keywords: Some(format!("{}, {}", self.outcome.layout.system.title, self.outcome.layout.rules.title)),
        }
    }

    /// All files but the plan with the rails in it; call [`Making::rails`] before, whose findings stand in them.
    pub fn files<'f>(&self) -> Result<Vec<File<'f>>> {
        let mut files = Vec::new();
        let on_sheets = self.has_sheets();
        if on_sheets || self.has(Format::Html) || self.has(Format::Xlsx) {
            sheet::may_be_drawn(&self.outcome.layout)?;
        }
        if on_sheets || self.has(Format::Html) {
            let with_sheets = || {
                let set = self.compose();
                let sheets = || sheet::permit_set(&self.outcome.layout, &set, &self.findings, &self.outcome.proof);
                let pages = if on_sheets { sheets() } else { Vec::new() };
                (set, pages)
            };
            let in_other_units = || self.has(Format::Html).then(|| self.in_other_units());
            let ((set, pages), other) = rayon::join(with_sheets, in_other_units);
            let ((drawn, report), printed) = rayon::join(
                || {
                    rayon::join(
                        || self.drawn(&set, &pages),
                        || other.map(|other| self.report(&set, &other)).transpose(),
                    )
                },
                || self.printed(&pages),
            );
            files.extend(drawn);
            files.extend(report?);
            files.extend(printed);
            if self.has(Format::Png) {
                files.extend(png::files(&pages, &self.names)?);
            }
        }
        files.extend(self.lists()?);
        Ok(files)
    }

    /// Drawings that are looked at.
    fn drawn<'f>(&self, set: &sheet::Set, pages: &[sheet::Page]) -> Vec<File<'f>> {
        let mut files = Vec::new();
        let mut add = |name: String, bytes: Vec<u8>| files.push(File::new(name, bytes));
        if self.has(Format::Dxf) {
            let options = write::dxf::DxfOptions {
                version: self.outputs.dxf_version,
                layer_names: self.names.clone(),
                ..write::dxf::DxfOptions::default()
            };
            let frame = &self.outcome.layout.plan.frame;
            let document =
                |drawings: &[Placed<'_>], pages: &[sheet::Page]| write::dxf::document(drawings, pages, frame, &options);
            let all = placed(set);
            let (plan, details) = all.split_at(1);
            // What is attached to the plan shows the plan alone.
            add("layout.dxf".to_owned(), document(plan, &[]));
            if self.outputs.formats().contains(&Format::Dxf) {
                add("elevations.dxf".to_owned(), document(details, &[]));
                // Some programs draw sheets over the model: they stand in a drawing of their own.
                if write::dxf::has_sheets(options.version) {
                    add("sheets.dxf".to_owned(), document(&all, pages));
                }
            }
        }
        if self.has(Format::Svg) {
            let svg = |drawing, behind| write::svg::named(&[drawing], behind, &self.names).into_bytes();
            add("plan.svg".to_owned(), svg(&set.plan, &set.background));
            for drawing in &set.elevations {
                add(format!("panels/{}.svg", drawing.name), svg(drawing, &[]));
            }
            for page in pages {
                add(format!("sheets/{}.svg", page.number), write::svg::page(page, &self.names).into_bytes());
            }
        }
        files
    }

    /// What is printed at its true size.
    fn printed<'f>(&self, pages: &[sheet::Page]) -> Vec<File<'f>> {
        if !self.has(Format::Pdf) {
            return Vec::new();
        }
        let layout = &self.outcome.layout;
        let desk = Paper::desk(layout.measure.unit.is_imperial());
        let sticks = sheet::templates(layout, self.outputs.templates.unwrap_or(TemplatePaper::Tiled(desk)));
        let subject = Some("Layout sticks and templates at full size".to_owned());
        let facts = write::pdf::PdfFacts { subject, ..self.facts() };
        vec![
            File::new("sheets.pdf".to_owned(), write::pdf::document(pages, &self.names, &self.facts())),
            File::new("templates.pdf".to_owned(), write::pdf::document(&sticks, &self.names, &facts)),
        ]
    }

    /// Lists, and the layout as data.
    fn lists<'f>(&self) -> Result<Vec<File<'f>>> {
        let layout = &self.outcome.layout;
        let mut files = Vec::new();
        let mut add = |name: &str, bytes: Vec<u8>| files.push(File::new(name.to_owned(), bytes));
        if self.has(Format::Csv) {
            add("marks.csv", write::csv::marks(layout));
            add("cuts.csv", write::csv::cuts(layout));
            add("order.csv", write::csv::order(layout));
            add("hardware.csv", write::csv::hardware(layout));
            add("measure.csv", write::csv::measure(layout));
            if let Some(rails) = write::csv::handrails(layout) {
                add("handrails.csv", rails);
            }
        }
        if self.has(Format::Xlsx) {
            add("schedule.xlsx", write::xlsx::schedule(layout).context("schedule.xlsx")?);
        }
        if self.has(Format::Json) {
            add("layout.json", write::json::layout(layout, &self.findings, &self.outcome.proof));
        }
        Ok(files)
    }

    /// All that the page shows, in the unit that is not the shop's.
    fn in_other_units(&self) -> (Layout, sheet::Set) {
        let Outcome { plan, layout, .. } = self.outcome;
        let other = layout.in_other_units();
        let set = sheet::compose(plan, &other, &self.findings);
        (other, set)
    }

    /// The page, with all of it in both units.
    fn report<'f>(&self, set: &sheet::Set, (other, others): &(Layout, sheet::Set)) -> Result<File<'f>> {
        let Outcome { layout, proof, .. } = self.outcome;
        let page = write::html::report(&write::html::Report {
            own: write::html::Side { layout, set },
            other: write::html::Side { layout: other, set: others },
            findings: &self.findings,
            proof,
            names: &self.names,
        });
        Ok(File::new("report.html".to_owned(), page.context("report.html")?))
    }
}

/// Says that nothing is written, and what can be.
fn unwritten(mut refusal: Refusal) -> Refusal {
    let why = &mut refusal.finding;
    why.message = format!("nothing was written: {}", why.message);
    let way_out = "leave the drawing out with --attach, which writes layout.dxf to be attached to it";
    why.hint = Some(why.hint.take().map_or_else(|| way_out.to_owned(), |hint| format!("{hint}; or {way_out}")));
    refusal
}

/// The drawings, each at its place.
fn placed(set: &sheet::Set) -> Vec<Placed<'_>> {
    set.arrangement().into_iter().map(|(drawing, at)| Placed { drawing, at }).collect()
}

/// The plan's name without `.dxf`, and without the `.rail` of an earlier run.
pub fn stem(plan: &Path) -> String {
    let stem = plan.file_stem().filter(|_| plan != Path::new("-"));
    let stem = stem.map_or_else(|| "plan".to_owned(), |s| s.to_string_lossy().into_owned());
    stem.strip_suffix(".rail").map(str::to_owned).unwrap_or(stem)
}
