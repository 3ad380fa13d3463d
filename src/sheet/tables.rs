//! Schedules and lists: posts, panels, cuts, order, findings, limits, cautions.

use std::collections::BTreeMap;

use crate::base::{Angle, Conclusion, Finding, Length, Point, Severity, counted, decimal, headline};
use crate::catalog::{BalusterStyle, MemberRole};
use crate::panel::{Balusters, Panel, PanelInfill};
use crate::parts::Layout;
use crate::proof::Proof;

use super::caution::CAUTIONS;
use super::grid::{Column, Table};
use super::rails::member_name;
use super::stair_tables::{degrees, has_stairs};
use super::support::support_name;
use super::{limits, order_tables, stair_tables};

/// What is built, cut and bought.
pub fn schedules(layout: &Layout) -> Vec<Table> {
    vec![
        posts(layout),
        stair_tables::flights(layout),
        panels(layout),
        stair_tables::handrails(layout),
        cuts(layout),
        order_tables::sticks(layout),
        order_tables::order(layout),
    ]
}

/// What was found and checked, and what to mind.
pub fn limit_tables(layout: &Layout, findings: &[Finding], proof: &Proof) -> Vec<Table> {
    let [limits, sources] = limits::limits(layout, proof);
    let [found, notes] = [findings_table(layout, findings, proof), notes_table(findings)];
    vec![found, limits, limits::loads(layout), cautions(), notes, sources]
}

fn posts(layout: &Layout) -> Table {
    let stairs = has_stairs(layout);
    let size = |p: &crate::guard::Post| super::text::size_text(&layout.measure, p.side);
    let row = |p: &crate::guard::Post| {
        let Point { x, y } = layout.plan.frame.to_drawing(p.at);
        let turn = format!("{}\u{b0}", decimal(p.rotation.degrees(), 2));
        let cells = [p.kind.text().to_owned(), p.origin.text().to_owned(), size(p), decimal(x, 3), decimal(y, 3), turn];
        let height = stairs.then(|| layout.measure.mark_text(p.height));
        std::iter::once(p.id.clone()).chain(cells).chain(height).collect()
    };
    let sign = layout.plan.frame.unit.sign();
    let mut notes = vec!["x and y of the centres in the plan's own coordinates.".to_owned()];
    if stairs {
        notes.push("Height: top above what the post stands on: deck, tread or ground.".to_owned());
    }
    Table {
        title: "Posts",
        columns: [
            Column::text("Post"),
            Column::text("Kind"),
            Column::text("Set by"),
            Column::number("Side"),
            Column::number(format!("x ({sign})")),
            Column::number(format!("y ({sign})")),
            Column::number("Turn"),
        ]
        .into_iter()
        .chain(stairs.then(|| Column::number("Height")))
        .collect(),
        rows: layout.posts.iter().map(row).collect(),
        notes,
    }
}

fn panels(layout: &Layout) -> Table {
    let stairs = has_stairs(layout);
    let m = &layout.measure;
    let row = |at: &crate::parts::LayoutPanel| {
        let (span, panel) = (&at.span, &at.panel);
        let pitch = stairs.then(|| panel.rake.map_or_else(|| "level".to_owned(), |r| degrees(r.pitch.angle())));
        let mut cells = vec![
            span.id.clone(),
            support_name(layout, span.from),
            support_name(layout, span.to),
            m.text(panel.span),
            m.mark_text(panel.length),
        ];
        cells.extend(infill_cells(layout, panel));
        cells.push(at.kit.clone().unwrap_or_else(|| "none fits".to_owned()));
        // Beside the rail's length, which follows from it.
        cells.splice(5..5, pitch);
        cells
    };
    let first = layout.panels.first().filter(|p| p.panel.infill == PanelInfill::Balusters);
    let style = first.map(|p| p.panel.balusters.style.text());
    let mut notes =
        vec!["Span: clear between the faces along the rail line. Rail: cut length on the centre line.".to_owned()];
    if let Some(style) = style.filter(|s| layout.panels.iter().all(|p| p.panel.balusters.style.text() == *s)) {
        notes.push(format!("Balusters: {style}."));
    }
    if layout.panels.iter().any(|p| p.panel.rake.is_some()) {
        notes.push(
            "Of raked panels span and gaps are level (gaps rounded), rail and spacing along the slope.".to_owned(),
        );
    }
    Table {
        title: "Panels",
        columns: ["Panel", "From", "To"]
            .map(Column::text)
            .into_iter()
            .chain(["Span", "Rail"].map(Column::number))
            .chain(stairs.then(|| Column::number("Pitch")))
            .chain(infill_heads(layout).map(Column::number))
            .chain([Column::text("Kit")])
            .collect(),
        rows: layout.panels.iter().map(row).collect(),
        notes,
    }
}

/// What the columns of the infill show.
fn infill_heads(layout: &Layout) -> [&'static str; 5] {
    match layout.panels.first().map(|p| &p.panel.infill) {
        Some(PanelInfill::Cables(_)) => ["Cables", "Length", "Slats", "Free length", "Widest gap"],
        Some(PanelInfill::Frames(_)) => ["Frames", "Width", "Left gap", "Right gap", "Widest gap"],
        Some(PanelInfill::Balusters) | None => ["Balusters", "On centre", "Left gap", "Right gap", "Widest gap"],
    }
}

fn infill_cells(layout: &Layout, panel: &Panel) -> [String; 5] {
    let m = &layout.measure;
    match &panel.infill {
        PanelInfill::Balusters => {
            let b = &panel.balusters;
            let [left, right, widest] = [b.end_gap_left, b.end_gap_right, b.widest_gap].map(|gap| m.mark_text(gap));
            [b.marks.len().to_string(), on_centre(layout, b), left, right, widest]
        }
        PanelInfill::Cables(run) => {
            let [length, free, widest] = [run.length, run.longest_run, run.widest_gap].map(|l| m.mark_text(l));
            [run.heights.len().to_string(), length, run.slats.len().to_string(), free, widest]
        }
        PanelInfill::Frames(row) => {
            let lengths = [row.width, row.end_gap_left, row.end_gap_right, row.widest_gap];
            let [width, left, right, widest] = lengths.map(|l| m.mark_text(l));
            [row.edges.len().to_string(), width, left, right, widest]
        }
    }
}

/// Spacing of balusters on centre. Equal gaps have none that could be stepped off: it is not on the mark grid.
fn on_centre(layout: &Layout, balusters: &Balusters) -> String {
    match balusters.style {
        BalusterStyle::Even => "even".to_owned(),
        BalusterStyle::Centred | BalusterStyle::Punched => layout.measure.mark_text(balusters.spacing),
    }
}

/// Order of the cut list: member, longest first, then the angles.
type CutKey = (MemberRole, std::cmp::Reverse<Length>, [i64; 3]);

/// A thousandth of a degree: no saw is finer.
fn fine(angle: Angle) -> i64 {
    (angle.degrees() * 1000.0).round() as i64
}

struct CutRow {
    cells: Vec<String>,
    panels: Vec<String>,
}

fn cuts(layout: &Layout) -> Table {
    let raked = layout.panels.iter().any(|p| p.panel.rake.is_some());
    let m = &layout.measure;
    let mut groups: BTreeMap<CutKey, CutRow> = BTreeMap::new();
    for at in &layout.panels {
        for cut in &at.panel.cuts {
            let key = (cut.member, std::cmp::Reverse(cut.length), [cut.left, cut.right, cut.plumb].map(fine));
            let row = groups.entry(key).or_insert_with(|| CutRow {
                cells: [
                    m.mark_text(cut.length),
                    m.mark_text(cut.long_point),
                    m.mark_text(cut.short_point),
                    m.mark_text(cut.tip_to_tip),
                    end_cut(cut.left),
                    end_cut(cut.right),
                ]
                .into_iter()
                .chain(raked.then(|| bevel(cut.plumb)))
                .collect(),
                panels: Vec::new(),
            });
            row.panels.push(at.span.id.clone());
        }
    }
    let member = |((role, ..), row): (CutKey, CutRow)| {
        let head = [member_name(role).to_owned(), row.panels.len().to_string()];
        head.into_iter().chain(row.cells).chain([row.panels.join(", ")]).collect::<Vec<_>>()
    };
    let mut rows: Vec<Vec<String>> = groups.into_iter().map(member).collect();
    rows.extend(baluster_rows(layout, raked));
    rows.extend(infill_rows(layout, raked));
    let mut notes = vec![
        "Length on the centre line. Out: the edge away from the deck is the longer one at that end; in: the deck's edge is.".to_owned(),
    ];
    if raked {
        notes.push("Plumb: angle off square, in the elevation, of both ends of a member on a stair, and the bevel of its balusters.".to_owned());
    }
    let right = ["Quantity", "Length", "Long point", "Short point", "Tip to tip"].map(Column::number);
    Table {
        title: "Cut list",
        columns: std::iter::once(Column::text("Member"))
            .chain(right)
            .chain([Column::text("Left end"), Column::text("Right end")])
            .chain(raked.then(|| Column::number("Plumb")))
            .chain([Column::wrapped("Panels", 40.0)])
            .collect(),
        rows,
        notes,
    }
}

/// How the end of a member is sawn: square, or the angle with the side of the longer edge.
pub fn end_cut(angle: Angle) -> String {
    if angle == Angle::ZERO {
        return "square".to_owned();
    }
    let side = if angle > Angle::ZERO { "out" } else { "in" };
    format!("{}\u{b0} {side}", decimal(angle.abs().degrees(), 1))
}

/// Plumb cut or bevel; none on a level panel.
fn bevel(angle: Angle) -> String {
    if angle == Angle::ZERO { "-".to_owned() } else { degrees(angle) }
}

/// Balusters of one length and bevel.
struct BalusterRow {
    bevel: Angle,
    count: usize,
    panels: Vec<String>,
}

fn baluster_rows(layout: &Layout, raked: bool) -> Vec<Vec<String>> {
    let mut groups: BTreeMap<(std::cmp::Reverse<Length>, i64), BalusterRow> = BTreeMap::new();
    for at in layout.panels.iter().filter(|p| !p.panel.balusters.marks.is_empty()) {
        let angle = at.panel.rake.map_or(Angle::ZERO, |rake| rake.pitch.angle());
        let key = (std::cmp::Reverse(at.panel.balusters.length), fine(angle));
        let group = groups.entry(key).or_insert_with(|| BalusterRow { bevel: angle, count: 0, panels: Vec::new() });
        group.count += at.panel.balusters.marks.len();
        group.panels.push(at.span.id.clone());
    }
    let mut rows = Vec::new();
    for ((length, _), row) in groups {
        let length = layout.measure.mark_text(length.0);
        let mut cells = vec!["Baluster".to_owned(), row.count.to_string(), length];
        cells.extend(["", "", "", "square", "square"].map(str::to_owned));
        cells.extend(raked.then(|| bevel(row.bevel)));
        cells.push(row.panels.join(", "));
        rows.push(cells);
    }
    rows
}

/// Cables, slats and frames, equal ones together.
fn infill_rows(layout: &Layout, raked: bool) -> Vec<Vec<String>> {
    let m = &layout.measure;
    let mut groups: Vec<([String; 4], usize, Vec<String>)> = Vec::new();
    for at in &layout.panels {
        let panel = &at.panel;
        let plumb = bevel(panel.rake.map_or(Angle::ZERO, |rake| rake.pitch.angle()));
        let piece = |name: &str, length: String, end: &str| [name, &length, end, &plumb].map(str::to_owned);
        let pieces = match &panel.infill {
            PanelInfill::Balusters => Vec::new(),
            PanelInfill::Cables(run) => vec![
                (piece("Cable", m.mark_text(run.length), "-"), run.heights.len()),
                (piece("Slat", m.mark_text(panel.balusters.length), "square"), run.slats.len()),
            ],
            PanelInfill::Frames(row) => {
                let size = format!("{} x {}", m.mark_text(row.width), m.mark_text(row.height));
                vec![(piece("Frame", size, "-"), row.edges.len())]
            }
        };
        for (what, count) in pieces.into_iter().filter(|(_, count)| *count > 0) {
            match groups.iter_mut().find(|group| group.0 == what) {
                Some((_, all, panels)) => {
                    *all += count;
                    panels.push(at.span.id.clone());
                }
                None => groups.push((what, count, vec![at.span.id.clone()])),
            }
        }
    }
    let row = |([name, length, end, plumb], count, panels): ([String; 4], usize, Vec<String>)| {
        let mut cells = vec![name, count.to_string(), length];
        cells.extend(["", "", "", &end, &end].map(str::to_owned));
        cells.extend(raked.then_some(plumb));
        cells.push(panels.join(", "));
        cells
    };
    groups.into_iter().map(row).collect()
}

/// What it all comes to, then what needs a look, with the numbers that it has on the plan.
fn findings_table(layout: &Layout, findings: &[Finding], proof: &Proof) -> Table {
    let headline = headline(findings, proof.unchecked(), Some(&layout.plan.frame));
    let word = Conclusion::of(findings).words();
    let first = ["", word, "-", &headline].map(str::to_owned).to_vec();
    let serious = findings.iter().filter(|f| f.severity > Severity::Note);
    let row =
        |(number, f): (usize, &Finding)| vec![number.to_string(), f.severity.word().to_owned(), place_text(f), told(f)];
    Table {
        title: "Findings",
        columns: vec![
            Column::number("No."),
            Column::text("Weight"),
            Column::wrapped("Place", 34.0),
            Column::wrapped("What was found", 110.0),
        ],
        rows: std::iter::once(first).chain((1..).zip(serious).map(row)).collect(),
        notes: Vec::new(),
    }
}

/// What is good to know and needs no look.
fn notes_table(findings: &[Finding]) -> Table {
    let notes = counted(findings).into_iter().filter(|f| f.severity == Severity::Note);
    Table {
        title: "Notes",
        columns: vec![Column::wrapped("Place", 34.0), Column::wrapped("Note", 124.0)],
        rows: notes.map(|f| vec![place_text(&f), told(&f)]).collect(),
        notes: Vec::new(),
    }
}

fn place_text(finding: &Finding) -> String {
    let place = &finding.place;
    let place = place
        .panel
        .clone()
        .or_else(|| place.post.clone())
        .or_else(|| place.layer.as_ref().map(|l| format!("layer {l}")));
    place.unwrap_or_else(|| "-".to_owned())
}

/// Message and hint.
fn told(finding: &Finding) -> String {
    let hint = finding.hint.as_ref();
    hint.map_or_else(|| finding.message.clone(), |hint| format!("{} Hint: {hint}", stopped(&finding.message)))
}

/// A sentence with its full stop.
fn stopped(message: &str) -> String {
    if message.ends_with(['.', '!', '?', ':']) { message.to_owned() } else { format!("{message}.") }
}

fn cautions() -> Table {
    let rows = (1..).zip(CAUTIONS).map(|(n, text): (usize, &str)| vec![n.to_string(), text.to_owned()]).collect();
    Table {
        title: "Cautions",
        columns: vec![Column::number("No."), Column::wrapped("Before you build", 150.0)],
        rows,
        notes: Vec::new(),
    }
}
