//! `plumbrail panel`: one opening without a plan.

use std::path::Path;

use anyhow::{Context, Result};
use comfy_table::{CellAlignment, Table, presets};
use plumbrail::base::{Length, Measure, Unit};
use plumbrail::catalog::RailSystem;
use plumbrail::panel::Panel as Built;
use plumbrail::{Outcome, sheet, write};

use super::print;
use crate::args::{MessageFormat, Panel};
use crate::config::{self, Status};
use crate::messages;
use crate::output::{self, File, There};

pub fn run(args: &Panel, format: MessageFormat) -> Result<Status> {
    anyhow::ensure!(args.opening > Length::ZERO, "the opening must be more than nothing");
    let settings = config::settings(&args.shared)?;
    let unit = settings.units.unwrap_or(Unit::Inch);
    let outcome = plumbrail::lay_out_opening(args.opening, None, unit, &settings);
    if let (Some(path), Some(panel)) = (&args.svg, outcome.layout.panels.first()) {
        let drawing = sheet::elevation(&outcome.layout, panel);
        let name = path.file_name().context("--svg needs a file name")?.to_string_lossy().into_owned();
        let folder = path.parent().filter(|p| !p.as_os_str().is_empty()).unwrap_or(Path::new("."));
        let names = sheet::layer_names(&settings.output_layers, settings.layer_prefix.as_deref());
        let bytes = write::svg::named(&[&drawing], &[], &names).into_bytes();
        output::write(folder, &[File::new(name, bytes)], &There::nothing())?;
    }
    messages::findings(Path::new("panel"), None, &outcome.findings, format);
    if args.json {
        print(&String::from_utf8_lossy(&write::json::layout(&outcome.layout, &outcome.findings)))?;
    } else if let Some(p) = outcome.layout.panels.first() {
        print(&text(&outcome, &p.panel, p.kit.as_deref()))?;
    }
    Ok(Status::by(&outcome.findings))
}

fn text(outcome: &Outcome, panel: &Built, kit: Option<&str>) -> String {
    let layout = &outcome.layout;
    let m = layout.measure;
    let b = &panel.balusters;
    let mut out = format!(
        "{}\nOpening {}, rail {}, clearance {} and {} at the ends\n",
        layout.system.title,
        m.mark_text(panel.span),
        m.mark_text(panel.length),
        m.with_unit(panel.clearance_left),
        m.with_unit(panel.clearance_right)
    );
    out.push_str(&format!(
        "{} balusters of {}, {} division at {} on centre; end gaps {} and {}, widest gap {}\n",
        b.marks.len(),
        m.mark_text(b.length),
        b.style.text(),
        m.with_unit(b.spacing),
        m.with_unit(b.end_gap_left),
        m.with_unit(b.end_gap_right),
        m.with_unit(b.widest_gap)
    ));
    if let Some(kit) = kit {
        out.push_str(&format!("Cut from: {kit}\n"));
    }
    out.push_str("\nRunning marks from the rail's left end, left as seen from the deck looking out\n");
    out.push_str(&marks(panel, m, &layout.system));
    out.push_str("\n\nCuts\n");
    out.push_str(&cuts(panel, m));
    out.push_str("\n\nTo buy\n");
    let mut order = table(&["item", "quantity"], &[1]);
    for line in &layout.order {
        order.add_row([line.item.clone(), line.quantity.to_string()]);
    }
    out.push_str(&format!("{}\n\nRe-check: {}\n\n", order.trim_fmt(), outcome.proof.summary()));
    for caution in sheet::CAUTIONS {
        out.push_str(&format!("{caution}\n"));
    }
    out
}

fn table(header: &[&str], right: &[usize]) -> Table {
    let mut table = Table::new();
    table.load_style(presets::NOTHING).set_header(header.to_vec());
    for column in right {
        if let Some(c) = table.column_mut(*column) {
            c.set_cell_alignment(CellAlignment::Right);
        }
    }
    table
}

fn marks(panel: &Built, m: Measure, system: &RailSystem) -> String {
    let mut rows: Vec<(&str, String, Vec<Length>)> = Vec::new();
    for member in &system.members {
        if let Some(holes) = &member.baluster_holes {
            let what = format!("balusters, pilot {}", holes.pilot);
            rows.push((member.role.text(), what, panel.balusters.marks.clone()));
        }
        let mut bracket: Vec<Length> =
            panel.brackets.iter().filter(|b| b.member == member.role).flat_map(|b| b.holes.clone()).collect();
        bracket.sort();
        rows.push((member.role.text(), format!("brackets, pilot {}", system.bracket.fastener.pilot), bracket));
    }
    let lowest = system.members.first().map_or("", |l| l.role.text());
    if let Some(blocks) = &system.blocks {
        rows.push((lowest, format!("support blocks, pilot {}", blocks.fastener.pilot), panel.blocks.clone()));
    }
    if let Some(cap) = &system.cap_screws {
        rows.push(("top-rail", format!("cap screws, pilot {}", cap.pilot), panel.cap_screws.clone()));
    }
    let mut table = table(&["member", "what", "marks"], &[]);
    for (member, what, marks) in rows.into_iter().filter(|r| !r.2.is_empty()) {
        // Eight marks a line fit a terminal.
        let lines: Vec<String> =
            marks.chunks(8).map(|c| c.iter().map(|l| m.mark_text(*l)).collect::<Vec<_>>().join("  ")).collect();
        table.add_row([member.to_owned(), what, lines.join("\n")]);
    }
    table.trim_fmt()
}

fn cuts(panel: &Built, m: Measure) -> String {
    let mut table = table(&["member", "length", "left end", "right end"], &[1, 2, 3]);
    let angle = |a: plumbrail::base::Angle| format!("{}°", plumbrail::base::decimal(a.degrees(), 1));
    for cut in &panel.cuts {
        table.add_row([cut.member.text().to_owned(), m.mark_text(cut.length), angle(cut.left), angle(cut.right)]);
    }
    table.trim_fmt()
}
