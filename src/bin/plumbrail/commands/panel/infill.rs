//! What `plumbrail panel` says of what fills a panel.

use plumbrail::base::{Length, Measure, decimal};
use plumbrail::catalog::{CableSpec, InfillSpec, RailSystem};
use plumbrail::panel::{CableRun, FrameRow, Panel, PanelInfill};

/// How the panel is filled, in one or two lines.
pub fn head(panel: &Panel, system: &RailSystem, m: Measure) -> String {
    match (&panel.infill, system.infill()) {
        (PanelInfill::Cables(run), Some(InfillSpec::Cables(spec))) => cables(run, spec, m),
        (PanelInfill::Frames(row), Some(InfillSpec::Frames(spec))) => frames(row, &spec.name, panel.rake.is_some(), m),
        _ => balusters(panel, m),
    }
}

fn balusters(panel: &Panel, m: Measure) -> String {
    let b = &panel.balusters;
    let [ends, along, level] = panel.rake.map_or_else(
        || [String::new(), String::new(), String::new()],
        |rake| {
            let angle = super::text::degrees(rake.pitch.angle());
            [format!(" plumb, both ends bevelled {angle}"), " along the slope".to_owned(), " level".to_owned()]
        },
    );
    format!(
        "{} balusters of {}{ends}, {} division at {} on centre{along}; end gaps {} and {}{level}, widest gap {}{level}\n",
        b.marks.len(),
        m.mark_text(b.length),
        b.style.text(),
        m.with_unit(b.spacing),
        m.with_unit(b.end_gap_left),
        m.with_unit(b.end_gap_right),
        m.with_unit(b.widest_gap)
    )
}

fn cables(run: &CableRun, spec: &CableSpec, m: Measure) -> String {
    format!(
        "{} cables ({}) of {}, {} fittings; widest gap {}, {} when pushed\n\
         {} slat(s); a cable is free for {} at most and sags {} in by its own weight at {} lbf (information)\n",
        run.heights.len(),
        spec.name,
        m.mark_text(run.length),
        run.fittings,
        m.with_unit(run.widest_gap),
        m.with_unit(run.widest_gap + spec.give),
        run.slats.len(),
        m.mark_text(run.longest_run),
        decimal(run.sag.inches(), 3),
        decimal(spec.tension_lbf, 1)
    )
}

fn frames(row: &FrameRow, name: &str, is_raked: bool, m: Measure) -> String {
    let (shape, level) = if is_raked { (" plumb, parallelograms", " level") } else { ("", "") };
    format!(
        "{} frames ({name}) of {} x {}{shape}; end gaps {} and {}{level}, widest gap {}{level}\n",
        row.edges.len(),
        m.mark_text(row.width),
        m.mark_text(row.height),
        m.with_unit(row.end_gap_left),
        m.with_unit(row.end_gap_right),
        m.with_unit(row.widest_gap)
    )
}

/// Marks of cables or frames: member, what, marks.
pub fn marks(panel: &Panel, system: &RailSystem) -> Vec<(&'static str, String, Vec<Length>)> {
    match (&panel.infill, system.infill()) {
        (PanelInfill::Cables(run), Some(InfillSpec::Cables(spec))) => {
            let from = if panel.rake.is_some() { "plumb above the nosing line" } else { "above the deck" };
            let slat = spec.slat.as_ref().map_or_else(String::new, |s| format!(", pilot {}", s.fastener.pilot));
            vec![
                ("posts", format!("cable holes {}, {from}", spec.hole), run.heights.clone()),
                ("both rails", format!("slats{slat}"), run.slats.clone()),
            ]
        }
        (PanelInfill::Frames(row), Some(InfillSpec::Frames(spec))) => vec![
            ("both rails", "left edges of the frames".to_owned(), row.edges.clone()),
            ("both rails", format!("clips, pilot {}", spec.clip_fastener.pilot), row.clips.clone()),
        ],
        _ => Vec::new(),
    }
}
