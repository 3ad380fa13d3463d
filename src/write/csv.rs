//! `marks.csv` and `cuts.csv`: for the bench and the saw. Numbers in the job's unit, with the text of the tape beside.

use crate::base::{Length, Measure, decimal};
use crate::catalog::{MemberRole, RailSystem};
use crate::panel::Panel;
use crate::parts::Layout;

/// Every hole and block of every rail as running marks: one row a mark, in the order in which a rail is worked.
pub fn marks(layout: &Layout) -> Vec<u8> {
    let m = layout.measure;
    let unit = m.unit.sign();
    let header = [
        "panel",
        "member",
        "what",
        "number",
        &format!("mark_{unit}"),
        "mark",
        &format!("from_long_point_{unit}"),
        "from_long_point",
        &format!("pilot_{unit}"),
        "pilot",
        "screw",
    ];
    let mut rows = vec![header.map(str::to_owned).to_vec()];
    for p in &layout.panels {
        for (member, what, pilot, screw, marks) in worked(&p.panel, &layout.system) {
            // A tape hooked on the long point starts outside of the centre line's end.
            let tip = p
                .panel
                .cuts
                .iter()
                .find(|c| c.member == member && c.left.radians() != 0.0)
                .map_or(Length::ZERO, |c| c.left_tip);
            for (i, mark) in marks.iter().enumerate() {
                rows.push(vec![
                    p.panel.id.clone(),
                    member.text().to_owned(),
                    what.to_owned(),
                    (i + 1).to_string(),
                    number(m, *mark),
                    m.mark_text(*mark),
                    number(m, *mark + tip),
                    m.mark_text(*mark + tip),
                    number(m, pilot),
                    pilot.to_string(),
                    screw.clone().unwrap_or_default(),
                ]);
            }
        }
    }
    table(rows)
}

/// Every member of every panel, longest first within a member, so that the saw is set once for equal pieces.
pub fn cuts(layout: &Layout) -> Vec<u8> {
    let m = layout.measure;
    let unit = m.unit.sign();
    let header = [
        "member",
        "panel",
        &format!("length_{unit}"),
        "length",
        &format!("long_point_{unit}"),
        "long_point",
        &format!("short_point_{unit}"),
        "short_point",
        &format!("tip_to_tip_{unit}"),
        "left_degrees",
        "right_degrees",
        "kit",
    ];
    let mut all: Vec<_> = layout.panels.iter().flat_map(|p| p.panel.cuts.iter().map(move |c| (c, p))).collect();
    // A stable sort keeps panels in their order where lengths are equal.
    all.sort_by(|(a, _), (b, _)| a.member.cmp(&b.member).then(b.tip_to_tip.cmp(&a.tip_to_tip)));
    let mut rows = vec![header.map(str::to_owned).to_vec()];
    for (cut, p) in all {
        rows.push(vec![
            cut.member.text().to_owned(),
            p.panel.id.clone(),
            number(m, cut.length),
            m.mark_text(cut.length),
            number(m, cut.long_point),
            m.mark_text(cut.long_point),
            number(m, cut.short_point),
            m.mark_text(cut.short_point),
            number(m, cut.tip_to_tip),
            decimal(cut.left.degrees(), 2),
            decimal(cut.right.degrees(), 2),
            p.kit.clone().unwrap_or_default(),
        ]);
    }
    table(rows)
}

/// A blank sheet for site measurements: one row a span, to be filled in and given back with `--measured`.
pub fn measure(layout: &Layout) -> Vec<u8> {
    let m = layout.measure;
    let header = ["span", "from", "to", "planned", "opening", "top", "bottom"];
    let mut rows = vec![header.map(str::to_owned).to_vec()];
    let name = |support: crate::guard::Support| {
        support.post().and_then(|i| layout.posts.get(i)).map_or_else(|| "wall".to_owned(), |p| p.id.clone())
    };
    for p in &layout.panels {
        let unit = if m.unit.is_imperial() { "" } else { "mm" };
        let planned = format!("{}{unit}", m.mark_text(p.span.clear));
        let mut row = vec![p.span.id.clone(), name(p.span.from), name(p.span.to), planned];
        row.resize(header.len(), String::new());
        rows.push(row);
    }
    table(rows)
}

type Worked<'a> = (MemberRole, &'static str, Length, Option<String>, Vec<Length>);

/// What is drilled or set on each member, from low to high.
fn worked<'a>(panel: &Panel, system: &'a RailSystem) -> Vec<Worked<'a>> {
    let mut out = Vec::new();
    for (i, member) in system.members.iter().enumerate() {
        if let Some(holes) = &member.baluster_holes {
            out.push((member.role, "baluster", holes.pilot, holes.screw.clone(), panel.balusters.marks.clone()));
        }
        if let Some(blocks) = system.blocks.as_ref().filter(|_| i == 0) {
            out.push((
                member.role,
                "support block",
                blocks.fastener.pilot,
                blocks.fastener.screw.clone(),
                panel.blocks.clone(),
            ));
        }
        if let Some(cap) = system.cap_screws.as_ref().filter(|_| member.role == MemberRole::TopRail) {
            out.push((member.role, "cap screw", cap.pilot, Some(cap.level_screw.clone()), panel.cap_screws.clone()));
        }
        let mut bracket: Vec<Length> =
            panel.brackets.iter().filter(|b| b.member == member.role).flat_map(|b| b.holes.iter().copied()).collect();
        bracket.sort();
        let fastener = &system.bracket.fastener;
        out.push((member.role, "bracket", fastener.pilot, fastener.screw.clone(), bracket));
    }
    out
}

fn number(m: Measure, length: Length) -> String {
    decimal(m.number(length), 4)
}

fn table(rows: Vec<Vec<String>>) -> Vec<u8> {
    let mut writer = csv::Writer::from_writer(Vec::new());
    for row in rows {
        // A vector takes every byte; there is nothing that could fail.
        drop(writer.write_record(row));
    }
    writer.into_inner().unwrap_or_default()
}
