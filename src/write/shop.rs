//! The shop's lists as rows of text: the cut list by stick, the order, the hardware bags. CSV and workbook are written
//! from the same rows.

use std::collections::{BTreeMap, BTreeSet};

use super::csv::{number, worked};
use crate::base::{Length, Measure, decimal};
use crate::catalog::Stocked;
use crate::panel::{Cut, Panel};
use crate::parts::{Item, Layout, Source, Stick, StickPiece, supplies};

/// Panels by id.
type Panels<'a> = BTreeMap<&'a str, &'a Panel>;

/// Every piece in sawing order, with its stick, its mark and how it lies on the saw.
pub(super) fn cut_rows(layout: &Layout) -> Vec<Vec<String>> {
    let unit = layout.measure.unit.sign();
    let header = [
        "stick",
        "stock",
        &format!("stock_length_{unit}"),
        "stock_length",
        "mark",
        "member",
        "panel",
        &format!("at_{unit}"),
        "at",
        &format!("length_{unit}"),
        "length",
        &format!("long_point_{unit}"),
        "long_point",
        &format!("short_point_{unit}"),
        "short_point",
        &format!("tip_to_tip_{unit}"),
        "left_degrees",
        "right_degrees",
        "plumb_degrees",
        "up",
        &format!("rest_{unit}"),
        "rest",
        "keep_rest",
    ];
    let mut rows = vec![header.map(str::to_owned).to_vec()];
    let panels: Panels<'_> = layout.panels.iter().map(|p| (p.panel.id.as_str(), &p.panel)).collect();
    let mut placed: BTreeSet<(&str, Stocked)> = BTreeSet::new();
    for (i, stick) in layout.cut_plan.sticks.iter().enumerate() {
        for (k, piece) in stick.pieces.iter().enumerate() {
            placed.insert((&piece.of, stick.member));
            let last = k + 1 == stick.pieces.len();
            rows.push(piece_row(layout, &panels, (i + 1, stick), piece, last));
        }
    }
    // What no stick can hold still has to be seen at the saw.
    for panel in &layout.panels {
        for cut in &panel.panel.cuts {
            if !placed.contains(&(panel.panel.id.as_str(), cut.member.into())) {
                let mut row = vec![String::new(); 4];
                row.extend(cut_cells(layout, Some(cut), (cut.member.into(), &panel.panel.id), None, cut.tip_to_tip));
                row.extend(vec![String::new(); 3]);
                rows.push(row);
            }
        }
    }
    rows
}

fn piece_row(
    layout: &Layout,
    panels: &Panels<'_>,
    (number_of, stick): (usize, &Stick),
    piece: &StickPiece,
    last: bool,
) -> Vec<String> {
    let m = layout.measure;
    let stock = match stick.source {
        Source::Kit(kit) => format!("{} no. {kit}", stick.stock),
        Source::Stock => stick.stock.clone(),
        Source::OnHand => "on hand".to_owned(),
    };
    let mut row = vec![number_of.to_string(), stock, number(m, stick.length), m.mark_text(stick.length)];
    let cut =
        panels.get(piece.of.as_str()).and_then(|p| p.cuts.iter().find(|c| Stocked::from(c.member) == stick.member));
    row.extend(cut_cells(layout, cut, (stick.member, &piece.of), Some(piece.at), piece.length));
    // The rest is there when the last piece is cut.
    if last {
        let keep = if stick.kept { "keep" } else { "" };
        row.extend([number(m, stick.offcut), m.mark_text(stick.offcut), keep.to_owned()]);
    } else {
        row.extend(vec![String::new(); 3]);
    }
    row
}

/// Mark, member, panel, place in the stick, lengths, angles and the side that lies up.
fn cut_cells(
    layout: &Layout,
    cut: Option<&Cut>,
    (member, of): (Stocked, &str),
    at: Option<Length>,
    tips: Length,
) -> Vec<String> {
    let m = layout.measure;
    let both = |length: Length| [number(m, length), m.mark_text(length)];
    let mut cells = vec![format!("{of} {}", member.text()), member.text().to_owned(), of.to_owned()];
    cells.extend(at.map_or_else(|| [String::new(), String::new()], both));
    let (length, long, short) = cut.map_or((tips, tips, tips), |c| (c.length, c.long_point, c.short_point));
    cells.extend(both(length));
    cells.extend(both(long));
    cells.extend(both(short));
    cells.push(number(m, tips));
    let angle = |pick: fn(&Cut) -> crate::base::Angle| decimal(cut.map_or(0.0, |c| pick(c).degrees()), 2);
    cells.extend([angle(|c| c.left), angle(|c| c.right), angle(|c| c.plumb)]);
    let up = match cut {
        Some(c) if c.plumb.radians() != 0.0 => "deck side up, left end left",
        Some(c) if c.left.radians() != 0.0 || c.right.radians() != 0.0 => "top up, deck side near, left end left",
        _ => "any",
    };
    cells.push(up.to_owned());
    cells
}

/// What must be bought, by the pack.
pub(super) fn order_rows(layout: &Layout) -> Vec<Vec<String>> {
    let header =
        ["item", "pack_name", "finish", "needed", "spare", "per_pack", "packs", "left_over", "price", "weight_kg"];
    let mut rows = vec![header.map(str::to_owned).to_vec()];
    for line in &layout.order {
        rows.push(vec![
            line.item.text(),
            line.pack_name.clone().unwrap_or_default(),
            line.finish.clone().unwrap_or_default(),
            line.quantity.to_string(),
            line.spare.to_string(),
            line.pack.to_string(),
            line.packs.to_string(),
            line.left_over().to_string(),
            line.price.map_or_else(String::new, |p| format!("{p:.2}")),
            line.weight_kg.map_or_else(String::new, |w| decimal(w, 2)),
        ]);
    }
    rows
}

/// What goes into the bag of each panel: balusters, brackets, blocks, screws by name; and of each handrail.
pub(super) fn hardware_rows(layout: &Layout) -> Vec<Vec<String>> {
    let mut rows = vec![["panel", "item", "count"].map(str::to_owned).to_vec()];
    let m = layout.measure;
    for at in &layout.panels {
        let panel = &at.panel;
        let mut bag: Vec<(String, usize)> = Vec::new();
        let mut add = |item: String, count: usize| {
            match bag.iter_mut().find(|(name, _)| *name == item) {
                _ if count == 0 => {}
                Some((_, sum)) => *sum += count,
                None => bag.push((item, count)),
            };
        };
        add(baluster(m, panel), panel.balusters.marks.len());
        let mut kinds: BTreeMap<_, usize> = BTreeMap::new();
        for bracket in &panel.brackets {
            *kinds.entry(bracket.kind).or_default() += 1;
        }
        for (kind, count) in kinds {
            add(format!("Bracket, {}", kind.text()), count);
        }
        add("Support block".to_owned(), panel.blocks.len());
        // Their screws stand with the rails, below.
        let others = supplies(panel, &layout.system).into_iter();
        for (item, count) in others.filter(|(item, _)| !matches!(item, Item::Screw { .. })) {
            add(item.text(), count);
        }
        for (member, _, _, screw, marks) in worked(panel, &layout.system) {
            // A baluster has a screw at either end, each listed with its rail.
            let screws = screw.filter(|_| layout.system.member(member).is_some());
            if let Some(screw) = screws {
                add(format!("Screw {screw}"), marks.len());
            }
        }
        rows.extend(bag.into_iter().map(|(item, count)| vec![panel.id.clone(), item, count.to_string()]));
    }
    for rail in &layout.handrails {
        rows.push(vec![rail.id.clone(), "Handrail bracket".to_owned(), rail.brackets.len().to_string()]);
    }
    rows
}

fn baluster(m: Measure, panel: &Panel) -> String {
    let bevel = panel.rake.map_or_else(String::new, |r| {
        format!(", both ends bevelled {} degrees", decimal(r.pitch.angle().degrees(), 1))
    });
    format!("Baluster {}{bevel}", m.mark_text(panel.balusters.length))
}
