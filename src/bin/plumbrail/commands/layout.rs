//! `plumbrail layout`: the main job.

use std::path::{Path, PathBuf};

use anyhow::Result;
use plumbrail::{Outcome, sheet, write};

use super::print;
use crate::args::{Format, Layout, MessageFormat};
use crate::config::{self, Status};
use crate::input::Input;
use crate::messages;
use crate::output::{self, File};

pub fn run(args: &Layout, format: MessageFormat) -> Result<Status> {
    let settings = config::settings(&args.shared)?;
    let input = Input::open(&args.plan, &args.source, format)?;
    let named = args.plan.file_name().filter(|_| args.plan != Path::new("-"));
    let name = named.map_or_else(|| "plan.dxf".to_owned(), |n| n.to_string_lossy().into_owned());
    let outcome = match plumbrail::lay_out_with(&input.bytes, &name, &|r| input.external(r), &settings) {
        Ok(outcome) => outcome.with(&input.findings),
        Err(refusal) => {
            messages::refusal(&args.plan, &refusal, format);
            return Err(refusal.into());
        }
    };
    let folder = args.out.clone().unwrap_or_else(|| beside(&args.plan));
    let files = files(&outcome, args);
    output::write(&folder, &files, &stale(&folder, &files, args), &args.plan)?;
    messages::findings(&args.plan, Some(&outcome.plan.frame), &outcome.findings, format);
    if format == MessageFormat::Text {
        let layout = &outcome.layout;
        print(&format!(
            "{} posts and {} panels in {} runs; {}; {} files written to {}\n",
            layout.posts.len(),
            layout.panels.len(),
            layout.runs.len(),
            outcome.proof.summary(),
            files.len(),
            folder.display()
        ))?;
    }
    Ok(Status::by(&outcome.findings))
}

/// The plan's stem with `-rail`, beside the plan.
fn beside(plan: &Path) -> PathBuf {
    let stem = plan.file_stem().filter(|_| plan != Path::new("-"));
    let stem = stem.map_or_else(|| "plan".to_owned(), |s| s.to_string_lossy().into_owned());
    plan.with_file_name(format!("{stem}-rail"))
}

fn files(outcome: &Outcome, args: &Layout) -> Vec<File> {
    let layout = &outcome.layout;
    let has = |f: Format| args.formats.contains(&f);
    let mut files = Vec::new();
    let mut add = |name: String, bytes: Vec<u8>| files.push(File { name, bytes });
    if has(Format::Dxf) || has(Format::Svg) {
        let set = sheet::compose(&outcome.plan, layout, &outcome.findings);
        if has(Format::Dxf) {
            let placed: Vec<_> =
                set.arrangement().into_iter().map(|(drawing, at)| write::dxf::Placed { drawing, at }).collect();
            let options = write::dxf::DxfOptions { version: args.dxf_version, ..write::dxf::DxfOptions::default() };
            add("layout.dxf".to_owned(), write::dxf::document(&placed, &layout.plan.frame, &options));
        }
        if has(Format::Svg) {
            add("plan.svg".to_owned(), write::svg::document(&[&set.plan], &set.background).into_bytes());
            for drawing in &set.elevations {
                add(format!("panels/{}.svg", drawing.name), write::svg::document(&[drawing], &[]).into_bytes());
            }
        }
    }
    if has(Format::Csv) {
        add("marks.csv".to_owned(), write::csv::marks(layout));
        add("cuts.csv".to_owned(), write::csv::cuts(layout));
        add("measure.csv".to_owned(), write::csv::measure(layout));
    }
    if has(Format::Json) {
        add("layout.json".to_owned(), write::json::layout(layout, &outcome.findings));
    }
    files
}

/// Panel drawings of an earlier run whose panels are no more: an installer must not find them.
fn stale(folder: &Path, files: &[File], args: &Layout) -> Vec<PathBuf> {
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
