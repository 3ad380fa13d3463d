//! `plumbrail panel`: one opening, level or on a stair, or one flight, without a plan.

mod infill;
mod stair;
mod text;

use std::path::Path;

use anyhow::{Context, Result, bail, ensure};
use plumbrail::base::{Finding, Length, Place, Unit};
use plumbrail::catalog::{Paper, Settings};
use plumbrail::guard::{Falls, Rake};
use plumbrail::write::message::ConclusionLine;
use plumbrail::write::pdf::PdfFacts;
use plumbrail::{Outcome, sheet, write};

use super::print;
use crate::args::{MessageFormat, Panel};
use crate::config::{self, Status};
use crate::messages;
use crate::output::{self, File};

pub fn run(args: &Panel, format: MessageFormat) -> Result<Status> {
    ensure!(args.opening.is_none_or(|o| o > Length::ZERO), "the opening must be more than nothing");
    let steps = stair::steps(&args.stair)?;
    let settings = config::settings(&args.shared)?;
    let unit = settings.units.unwrap_or(Unit::Inch);
    let outcome = match (args.opening, steps, args.stair.risers) {
        (Some(opening), Some(steps), risers) => {
            stair::check_fits(opening, risers, &steps)?;
            let pitch = steps.pitch().context("a stair without a slope")?;
            let rake = Rake { pitch, falls: Falls::Right, steps: Some(steps), start: None };
            plumbrail::lay_out_opening(opening, Some(rake), unit, &settings)
        }
        (Some(opening), None, _) => plumbrail::lay_out_opening(opening, None, unit, &settings),
        (None, Some(steps), Some(risers)) => plumbrail::lay_out_flight(risers, steps, unit, &settings),
        (None, ..) => bail!("give an opening, or a flight with --risers, --rise and --tread"),
    };
    if !outcome.layout.panels.is_empty() {
        output::write_apart(&drawings(args, &outcome, &settings, unit)?, Path::new(""))?;
    }
    // There is no plan in which a point would be somewhere; the frame tells the unit.
    let without_point = |f: &Finding| Finding { place: Place { at: None, ..f.place.clone() }, ..f.clone() };
    let findings: Vec<Finding> = outcome.findings.iter().map(without_point).collect();
    let frame = Some(&outcome.plan.frame);
    messages::findings(Path::new("panel"), frame, &findings, format);
    if args.json {
        print(&String::from_utf8_lossy(&write::json::layout(&outcome.layout, &outcome.findings, &outcome.proof)))?;
    } else if args.opening.is_none() {
        print(&text::flight(&outcome))?;
    } else if let Some(panel) = outcome.layout.panels.first() {
        print(&text::opening(&outcome, panel))?;
    }
    let conclusion = ConclusionLine::new("panel".to_owned(), frame, &findings, outcome.proof.unchecked());
    messages::conclusion(conclusion, format);
    Ok(Status::by(&outcome.findings))
}

/// The elevation of each panel: in SVG one below the other, in PDF each on its own sheet.
fn drawings(args: &Panel, outcome: &Outcome, settings: &Settings, unit: Unit) -> Result<Vec<File<'static>>> {
    let elevations = || outcome.layout.panels.iter().map(|p| sheet::elevation(&outcome.layout, p));
    let names = settings.layer_names();
    let mut files = Vec::new();
    if let Some(path) = &args.svg {
        let drawings: Vec<_> = elevations().collect();
        let drawings: Vec<_> = drawings.iter().collect();
        files.push(File::new(file_name("--svg", path)?, write::svg::named(&drawings, &[], &names).into_bytes()));
    }
    if let Some(path) = &args.pdf {
        let paper = settings.sheet.unwrap_or(Paper::desk(unit.is_imperial()));
        let pages = sheet::alone(elevations().collect(), paper);
        let titles: Vec<&str> = pages.iter().map(|p| p.title.as_str()).collect();
        let facts = PdfFacts {
            title: titles.join(", "),
            author: settings.project.drawn_by.clone(),
            subject: settings.project.name.clone(),
            keywords: None,
        };
        files.push(File::new(file_name("--pdf", path)?, write::pdf::document(&pages, &names, &facts)));
    }
    Ok(files)
}

fn file_name(option: &str, path: &Path) -> Result<String> {
    path.file_name().with_context(|| format!("{option} needs a file name"))?;
    Ok(path.to_str().with_context(|| format!("{option}: the name is not UTF-8"))?.to_owned())
}
