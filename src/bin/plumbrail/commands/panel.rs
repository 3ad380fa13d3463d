//! `plumbrail panel`: one opening, level or on a stair, or one flight, without a plan.

mod infill;
mod stair;
mod text;

use std::path::Path;

use anyhow::{Context, Result, bail, ensure};
use plumbrail::base::{Length, Unit};
use plumbrail::catalog::Settings;
use plumbrail::guard::{Falls, Rake};
use plumbrail::{Outcome, sheet, write};

use super::print;
use crate::args::{MessageFormat, Panel};
use crate::config::{self, Status};
use crate::messages;
use crate::output::{self, File, There};

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
    if let Some(path) = args.svg.as_ref().filter(|_| !outcome.layout.panels.is_empty()) {
        elevation(path, &outcome, &settings)?;
    }
    messages::findings(Path::new("panel"), None, &outcome.findings, format);
    if args.json {
        print(&String::from_utf8_lossy(&write::json::layout(&outcome.layout, &outcome.findings, &outcome.proof)))?;
    } else if args.opening.is_none() {
        print(&text::flight(&outcome))?;
    } else if let Some(panel) = outcome.layout.panels.first() {
        print(&text::opening(&outcome, panel))?;
    }
    // A flight without a panel is not done, whatever was found.
    if outcome.layout.panels.is_empty() { Ok(Status::Broken) } else { Ok(Status::by(&outcome.findings)) }
}

/// The elevation of each panel, one below the other.
fn elevation(path: &Path, outcome: &Outcome, settings: &Settings) -> Result<()> {
    let drawings: Vec<_> = outcome.layout.panels.iter().map(|p| sheet::elevation(&outcome.layout, p)).collect();
    let name = path.file_name().context("--svg needs a file name")?.to_string_lossy().into_owned();
    let folder = path.parent().filter(|p| !p.as_os_str().is_empty()).unwrap_or(Path::new("."));
    let names = sheet::layer_names(&settings.output_layers, settings.layer_prefix.as_deref());
    let drawings: Vec<_> = drawings.iter().collect();
    let bytes = write::svg::named(&drawings, &[], &names).into_bytes();
    output::write(folder, &[File::new(name, bytes)], &There::nothing())
}
