//! `marks.csv`, `cuts.csv` and `handrails.csv`: for the bench and the saw. Numbers in the job's unit, with the text of the mark beside.

use super::shop::{cut_rows, hardware_rows, order_rows};
use crate::base::{Length, Measure, decimal, to_cell};
use crate::catalog::{Fastener, InfillSpec, MemberRole, RailSystem};
use crate::panel::Panel;
use crate::parts::Layout;

/// Every hole and block of every rail as running marks: one row a mark, in the order in which a rail is worked. Marks
/// run along the rail; `level_mark` is the same distance measured level, so it differs on a stair only. Cable holes are
/// marks on the posts, plumb from the deck or the nosing line, so they have neither a long point nor a level mark.
pub fn marks(layout: &Layout) -> Vec<u8> {
    table(mark_rows(layout))
}

/// The same as rows.
pub(super) fn mark_rows(layout: &Layout) -> Vec<Vec<String>> {
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
        &format!("level_mark_{unit}"),
        "level_mark",
    ];
    let mut rows = vec![header.map(str::to_owned).to_vec()];
    for p in &layout.panels {
        for (member, what, pilot, screw, marks) in worked(&p.panel, &layout.system) {
            // The long point lies outside of the centre line's end.
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
                    number(m, p.panel.level_mark(*mark)),
                    m.mark_text(p.panel.level_mark(*mark)),
                ]);
            }
        }
        rows.extend(cable_holes(&p.panel, &layout.system, m));
    }
    rows
}

/// Holes of cables in both posts of a panel.
fn cable_holes(panel: &Panel, system: &RailSystem, m: Measure) -> Vec<Vec<String>> {
    let (Some(run), Some(spec)) = (panel.infill.cables(), system.cable.as_ref()) else { return Vec::new() };
    let row = |(number_of, mark): (usize, &Length)| {
        let none = String::new;
        let head = [panel.id.clone(), "post".to_owned(), "cable hole".to_owned(), number_of.to_string()];
        let marks = [number(m, *mark), m.mark_text(*mark), none(), none()];
        let hole = [number(m, spec.hole), spec.hole.to_string(), none(), none(), none()];
        head.into_iter().chain(marks).chain(hole).collect()
    };
    (1..).zip(&run.heights).map(row).collect()
}

/// What a slat or a clip is screwed on with.
fn infill_fastener(system: &RailSystem) -> Option<(&'static str, &Fastener)> {
    match system.infill()? {
        InfillSpec::Balusters(_) => None,
        InfillSpec::Cables(cable) => cable.slat.as_ref().map(|slat| ("slat", &slat.fastener)),
        InfillSpec::Frames(frame) => Some(("frame clip", &frame.clip_fastener)),
    }
}

/// Every piece in sawing order, stick by stick; what no stick can hold comes last, with an empty stock.
pub fn cuts(layout: &Layout) -> Vec<u8> {
    table(cut_rows(layout))
}

/// What must be bought.
pub fn order(layout: &Layout) -> Vec<u8> {
    table(order_rows(layout))
}

/// What each panel and handrail needs beside its rails: one row an item.
pub fn hardware(layout: &Layout) -> Vec<u8> {
    table(hardware_rows(layout))
}

/// Every handrail: one row each; `None` where the layout has none. Brackets are running marks from the upper end, in the
/// job's unit, with spaces between.
pub fn handrails(layout: &Layout) -> Option<Vec<u8>> {
    if layout.handrails.is_empty() {
        return None;
    }
    let m = layout.measure;
    let unit = m.unit.sign();
    let lengths = ["height", "length", "extension_top", "extension_bottom", "total"];
    let mut header = ["handrail", "flight", "side", "before"].map(str::to_owned).to_vec();
    header.extend(lengths.iter().flat_map(|name| [format!("{name}_{unit}"), (*name).to_owned()]));
    header.extend([format!("brackets_{unit}"), "brackets".to_owned()]);
    let mut rows = vec![header];
    for h in &layout.handrails {
        let flight = layout.flights.get(h.flight).map_or_else(String::new, |f| f.id.clone());
        let side = if h.left { "left" } else { "right" };
        let mut row = vec![h.id.clone(), flight, side.to_owned(), h.before.text().to_owned()];
        let lengths = [h.height, h.length, h.extension_top, h.extension_bottom, h.total()];
        row.extend(lengths.iter().flat_map(|l| [number(m, *l), m.mark_text(*l)]));
        let each = |text: &dyn Fn(Length) -> String| h.brackets.iter().map(|b| text(*b)).collect::<Vec<_>>().join(" ");
        row.extend([each(&|l| number(m, l)), each(&|l| m.mark_text(l))]);
        rows.push(row);
    }
    Some(table(rows))
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

pub(super) type Worked<'a> = (MemberRole, &'static str, Length, Option<String>, Vec<Length>);

/// What is drilled or set on each member, from low to high.
pub(super) fn worked<'a>(panel: &Panel, system: &'a RailSystem) -> Vec<Worked<'a>> {
    let mut out = Vec::new();
    for (i, member) in system.members.iter().enumerate() {
        if let Some(holes) = &member.baluster_holes {
            out.push((member.role, "baluster", holes.pilot, holes.screw.clone(), panel.balusters.marks.clone()));
        }
        let beside = [MemberRole::BottomRail, MemberRole::TopRail].contains(&member.role);
        if let Some((what, fastener)) = infill_fastener(system).filter(|_| beside) {
            let marks = panel.infill.screwed().to_vec();
            out.push((member.role, what, fastener.pilot, fastener.screw.clone(), marks));
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
            let screw = if panel.rake.is_some() { &cap.raked_screw } else { &cap.level_screw };
            out.push((member.role, "cap screw", cap.pilot, Some(screw.clone()), panel.cap_screws.clone()));
        }
        let mut bracket: Vec<Length> =
            panel.brackets.iter().filter(|b| b.member == member.role).flat_map(|b| b.holes.iter().copied()).collect();
        bracket.sort();
        let fastener = &system.bracket.fastener;
        out.push((member.role, "bracket", fastener.pilot, fastener.screw.clone(), bracket));
    }
    out
}

pub(super) fn number(m: Measure, length: Length) -> String {
    decimal(m.number(length), 4)
}

fn table(rows: Vec<Vec<String>>) -> Vec<u8> {
    let mut writer = csv::Writer::from_writer(Vec::new());
    for row in rows {
        // A vector takes every byte; there is nothing that could fail.
        drop(writer.write_record(row.iter().map(|cell| to_cell(cell).into_owned())));
    }
    writer.into_inner().unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sheet::{level_sample, stair_samples};

    /// Rows as cells by the names of their columns.
    fn read(bytes: &[u8]) -> Vec<std::collections::BTreeMap<String, String>> {
        let mut reader = csv::Reader::from_reader(bytes);
        let heads = reader.headers().unwrap().clone();
        let row = |r: Result<csv::StringRecord, csv::Error>| {
            heads.iter().map(str::to_owned).zip(r.unwrap().iter().map(str::to_owned)).collect()
        };
        reader.records().map(row).collect()
    }

    /// 7.5 on 10 stretches level lengths by 1.25 (closed form); its angle is 36.87 degrees.
    #[test]
    fn raked_panels_have_level_marks_plumb_cuts_and_their_own_screws() {
        let layout = &stair_samples()[0];
        let rows = read(&marks(layout));
        assert!(!rows.is_empty());
        for row in &rows {
            let value = |name: &str| row[name].parse::<f64>().unwrap();
            assert!((value("mark_in") - 1.25 * value("level_mark_in")).abs() < 1e-3, "{row:?}");
        }
        let cap = layout.system.cap_screws.as_ref().unwrap();
        assert!(rows.iter().filter(|r| r["what"] == "cap screw").all(|r| r["screw"] == cap.raked_screw));
        assert!(rows.iter().any(|r| r["what"] == "cap screw"));
        assert!(read(&cuts(layout)).iter().all(|r| r["plumb_degrees"] == "36.87"));
    }

    #[test]
    fn level_panels_have_one_kind_of_marks() {
        let layout = level_sample();
        for row in read(&marks(&layout)) {
            assert_eq!((&row["mark_in"], &row["mark"]), (&row["level_mark_in"], &row["level_mark"]));
            assert_ne!(row["screw"], layout.system.cap_screws.as_ref().unwrap().raked_screw);
        }
        assert!(read(&cuts(&layout)).iter().all(|r| r["plumb_degrees"] == "0"));
        assert_eq!(handrails(&layout), None);
    }

    #[test]
    fn handrails_are_listed_with_all_that_is_bought() {
        let rows = read(&handrails(&stair_samples()[0]).unwrap());
        assert_eq!(rows.len(), 2);
        let row = &rows[1];
        let cells = ["handrail", "flight", "side", "before", "height_in", "length_in", "total", "brackets_in"];
        let said = cells.map(|name| row[name].as_str());
        assert_eq!(said, ["H2", "F1", "right", "guard", "36", "125", "149\"", "6 48 90"]);
    }
}
