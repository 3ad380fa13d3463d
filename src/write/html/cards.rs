//! One card a panel: what it is, its elevation, its cuts, and its running marks for the saw and the drill.

use serde::Serialize;

use super::both::Both;
use super::{Report, findings, inline};
use crate::base::{Angle, Length};
use crate::panel::Cut;
use crate::parts::LayoutPanel;
use crate::sheet::{self, degrees};
use crate::write::csv::worked;

/// A panel.
#[derive(Serialize)]
pub(super) struct Card {
    pub id: String,
    pub run: usize,
    pub from: String,
    pub to: String,
    /// Level, or raked with its pitch.
    pub slope: String,
    pub is_raked: bool,
    pub span: Both,
    pub kit: Option<String>,
    pub facts: Vec<(&'static str, Both)>,
    pub svg: [String; 2],
    pub cuts: Vec<CutRow>,
    pub marks: Vec<MarkRow>,
    /// Numbers of the findings about it.
    pub findings: Vec<usize>,
}

/// A member cut to length.
#[derive(Serialize)]
pub(super) struct CutRow {
    pub member: &'static str,
    pub length: Both,
    /// Long and short point, where they differ.
    pub points: Option<[Both; 2]>,
    pub left: String,
    pub right: String,
    /// Angle of the plumb cut, on a stair.
    pub plumb: Option<String>,
}

/// Marks of one kind on one member.
#[derive(Serialize)]
pub(super) struct MarkRow {
    pub member: String,
    pub what: &'static str,
    pub pilot: Option<Both>,
    pub screw: Option<String>,
    pub marks: Vec<Both>,
    /// The same from the long point, where the left end is angled.
    pub from_tip: Vec<Both>,
}

/// All panels in the layout's order.
pub(super) fn cards(report: &Report<'_>, findings: &[findings::Row]) -> Vec<Card> {
    let drawings = report.own.set.elevations.iter().zip(&report.other.set.elevations);
    let panels = report.own.layout.panels.iter().zip(drawings);
    panels
        .map(|(at, (own, other))| {
            let svg = [own, other].map(|drawing| inline(drawing, &[], report.names));
            let about = findings.iter().filter(|f| f.panel.as_deref() == Some(&at.span.id));
            card(report, at, svg, about.map(|f| f.number).collect())
        })
        .collect()
}

fn card(report: &Report<'_>, at: &LayoutPanel, svg: [String; 2], findings: Vec<usize>) -> Card {
    let layout = report.own.layout;
    let panel = &at.panel;
    let pitch = panel.rake.map(|rake| degrees(rake.pitch.angle()));
    Card {
        id: at.span.id.clone(),
        run: layout.runs.get(at.span.run).map_or(0, |r| r.number),
        from: sheet::support_name(layout, at.span.from),
        to: sheet::support_name(layout, at.span.to),
        slope: pitch.map_or_else(|| "level".to_owned(), |pitch| format!("raked {pitch}")),
        is_raked: panel.rake.is_some(),
        span: report.both(|m| m.text(panel.span)),
        kit: at.kit.clone(),
        facts: facts(report, at),
        svg,
        cuts: panel.cuts.iter().map(|cut| cut_row(report, cut)).collect(),
        marks: mark_rows(report, at),
        findings,
    }
}

/// Lengths of the panel as a whole.
fn facts(report: &Report<'_>, at: &LayoutPanel) -> Vec<(&'static str, Both)> {
    let panel = &at.panel;
    let mark = |length: Length| report.both(|m| m.mark_text(length));
    let mut facts = vec![
        ("Clear span", report.both(|m| m.text(panel.span))),
        ("Rail", mark(panel.length)),
        ("Clearance left", mark(panel.clearance_left)),
        ("Clearance right", mark(panel.clearance_right)),
        ("Height", mark(panel.height)),
        ("Widest gap", mark(panel.balusters.widest_gap)),
    ];
    if !panel.balusters.marks.is_empty() {
        let count = panel.balusters.marks.len();
        facts.push(("Balusters", report.both(|m| format!("{count} of {}", m.mark_text(panel.balusters.length)))));
        facts.push((
            "End gaps",
            report.both(|m| {
                let [left, right] =
                    [panel.balusters.end_gap_left, panel.balusters.end_gap_right].map(|g| m.mark_text(g));
                format!("{left} left, {right} right")
            }),
        ));
    }
    if let Some(site) = at.measured {
        facts.push(("Span on the plan", report.both(|m| m.text(at.span.clear))));
        facts.push(("On site", report.both(|m| format!("{} to {}", m.text(site.narrow), m.text(site.wide)))));
    }
    facts
}

fn cut_row(report: &Report<'_>, cut: &Cut) -> CutRow {
    let mark = |length: Length| report.both(|m| m.mark_text(length));
    CutRow {
        member: sheet::member_name(cut.member),
        length: mark(cut.length),
        points: (cut.long_point != cut.short_point).then(|| [mark(cut.long_point), mark(cut.short_point)]),
        left: sheet::end_cut(cut.left),
        right: sheet::end_cut(cut.right),
        plumb: (cut.plumb != Angle::ZERO).then(|| degrees(cut.plumb)),
    }
}

fn mark_rows(report: &Report<'_>, at: &LayoutPanel) -> Vec<MarkRow> {
    let panel = &at.panel;
    let mark = |length: Length| report.both(|m| m.mark_text(length));
    let mut rows = Vec::new();
    for (member, what, pilot, screw, marks) in worked(panel, &report.own.layout.system) {
        // The long point lies outside of the centre line's end.
        let tip = panel.cuts.iter().find(|c| c.member == member && c.left != Angle::ZERO).map(|c| c.left_tip);
        rows.push(MarkRow {
            member: sheet::member_name(member).to_owned(),
            what,
            pilot: Some(report.both(|m| sheet::size_text(m, pilot))),
            screw,
            from_tip: tip.map(|tip| marks.iter().map(|m| mark(*m + tip)).collect()).unwrap_or_default(),
            marks: marks.into_iter().map(mark).collect(),
        });
    }
    let system = &report.own.layout.system;
    if let (Some(run), Some(cable)) = (panel.infill.cables(), system.cable.as_ref()) {
        rows.push(MarkRow {
            member: "Posts, plumb from the deck or the nosing line".to_owned(),
            what: "cable hole",
            pilot: Some(report.both(|m| sheet::size_text(m, cable.hole))),
            screw: None,
            marks: run.heights.iter().map(|h| mark(*h)).collect(),
            from_tip: Vec::new(),
        });
    }
    if let Some(frames) = panel.infill.frames() {
        rows.push(MarkRow {
            member: "Between the rails".to_owned(),
            what: "left edge of a frame",
            pilot: None,
            screw: None,
            marks: frames.edges.iter().map(|e| mark(*e)).collect(),
            from_tip: Vec::new(),
        });
    }
    rows.retain(|row| !row.marks.is_empty());
    rows
}
