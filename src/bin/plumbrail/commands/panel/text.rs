//! What `plumbrail panel` prints for people.

use plumbrail::base::{Angle, Length, Measure, decimal};
use plumbrail::catalog::RailSystem;
use plumbrail::guard::{Falls, Handrail, Rake, Support};
use plumbrail::panel::Panel as Built;
use plumbrail::parts::{Layout, LayoutPanel};
use plumbrail::{Outcome, sheet};

use super::infill;
use crate::commands::table;

/// One opening.
pub fn opening(outcome: &Outcome, at: &LayoutPanel) -> String {
    let layout = &outcome.layout;
    format!("{}\n{}{}", layout.system.title, panel(layout, at), foot(outcome))
}

/// A flight: what stands on it, then each of its panels.
pub fn flight(outcome: &Outcome) -> String {
    let layout = &outcome.layout;
    let m = layout.measure;
    let mut out = format!("{}\n", layout.system.title);
    for flight in &layout.flights {
        out.push_str(&format!(
            "Flight {}: {} risers of {}, treads of {}, nosing {}; {} ({}), {} level from the top nosing to the lowest, {} high\n",
            flight.id,
            flight.risers,
            m.mark_text(flight.steps.riser),
            m.mark_text(flight.steps.tread),
            m.mark_text(flight.steps.nosing),
            slope(flight.pitch, m),
            degrees(flight.pitch.angle()),
            m.text(flight.length()),
            m.text(flight.total_rise())
        ));
    }
    if layout.panels.is_empty() {
        out.push_str("\nNo panel could be laid out on this flight.\n");
        return out;
    }
    out.push_str("\nPosts\n");
    let mut posts = table(&["post", "kind", "side", "height above what it stands on"], &[2, 3]);
    for post in &layout.posts {
        let (side, height) = (m.mark_text(post.side), m.mark_text(post.height));
        posts.add_row([post.id.clone(), post.kind.text().to_owned(), side, height]);
    }
    out.push_str(&format!("{}\n\nSpans, level\n", posts.trim_fmt()));
    let mut spans = table(&["span", "from", "to", "clear"], &[3]);
    for at in &layout.panels {
        let name = |support: Support| match support {
            Support::Post(i) => layout.posts.get(i).map_or_else(String::new, |p| p.id.clone()),
            Support::Wall => "wall".to_owned(),
        };
        let span = &at.span;
        spans.add_row([span.id.clone(), name(span.from), name(span.to), m.mark_text(span.clear)]);
    }
    out.push_str(&format!("{}\n", spans.trim_fmt()));
    for at in &layout.panels {
        out.push_str(&format!("\nPanel {}\n{}", at.panel.id, panel(layout, at)));
    }
    if !layout.handrails.is_empty() {
        out.push_str("\n\nHandrails\n");
        layout.handrails.iter().for_each(|rail| out.push_str(&handrail(rail, m)));
    }
    out.push_str(&foot(outcome));
    out
}

/// All of one panel but the name of its system and what must be bought.
fn panel(layout: &Layout, at: &LayoutPanel) -> String {
    let (panel, m) = (&at.panel, layout.measure);
    let mut out = panel.rake.map_or_else(|| level_head(panel, m), |rake| raked_head(panel, &rake, m));
    out.push_str(&infill::head(panel, &layout.system, m));
    if panel.rake.is_some() {
        out.push_str(&raked_heights(panel, m));
    }
    if let Some(kit) = &at.kit {
        out.push_str(&format!("Cut from: {kit}\n"));
    }
    out.push_str(match panel.rake {
        None => "\nRunning marks from the rail's left end, left as seen from the deck looking out\n",
        Some(_) => {
            "\nRunning marks along the slope from the rail's left end, left as seen from the stair looking out\n"
        }
    });
    out.push_str(&format!("{}\n\nCuts\n{}", marks(panel, m, &layout.system), cuts(panel, m)));
    out
}

fn level_head(panel: &Built, m: Measure) -> String {
    format!(
        "Opening {}, rail {}, clearance {} and {} at the ends\n",
        m.mark_text(panel.span),
        m.mark_text(panel.length),
        m.with_unit(panel.clearance_left),
        m.with_unit(panel.clearance_right)
    )
}

fn raked_head(panel: &Built, rake: &Rake, m: Measure) -> String {
    let angle = degrees(rake.pitch.angle());
    let upper = if rake.falls == Falls::Right { "left" } else { "right" };
    format!(
        "Slope {}, {angle}; the {upper} end is the upper one\n\
         Opening {} level, rail {} along the slope, clearance {} and {} level at the ends, plumb cuts of {angle}\n",
        slope(rake.pitch, m),
        m.mark_text(panel.span),
        m.mark_text(panel.length),
        m.with_unit(panel.clearance_left),
        m.with_unit(panel.clearance_right),
    )
}

/// Heights on a stair.
fn raked_heights(panel: &Built, m: Measure) -> String {
    let mut out = String::new();
    out.push_str(&format!(
        "Plumb above the line through the nosings: underside {}, top {}\n",
        m.mark_text(panel.bottom_gap),
        m.with_unit(panel.height)
    ));
    if !panel.block_heights.is_empty() {
        let heights: Vec<String> = panel.block_heights.iter().map(|h| m.mark_text(*h)).collect();
        out.push_str(&format!("Support blocks, plumb on their centres: {}\n", heights.join("  ")));
    }
    out
}

/// `7-3/4" on 10"`.
fn slope(pitch: plumbrail::base::Pitch, m: Measure) -> String {
    format!("{} on {}", m.mark_text(pitch.rise()), m.mark_text(pitch.run()))
}

pub fn degrees(angle: Angle) -> String {
    format!("{}°", decimal(angle.degrees(), 1))
}

fn handrail(rail: &Handrail, m: Measure) -> String {
    let side = if rail.left { "left" } else { "right" };
    let brackets: Vec<String> = rail.brackets.iter().map(|b| m.mark_text(*b)).collect();
    format!(
        "{} on the {side} side before the {}: {} along the slope, {} level beyond the top nosing, {} sloping beyond the \
         lowest, {} in all; top {} above the nosings\n brackets from its upper end  {}\n",
        rail.id,
        rail.before.text(),
        m.mark_text(rail.length),
        m.mark_text(rail.extension_top),
        m.mark_text(rail.extension_bottom),
        m.mark_text(rail.total()),
        m.mark_text(rail.height),
        brackets.join("  ")
    )
}

/// What must be bought, what was checked, and what to heed.
fn foot(outcome: &Outcome) -> String {
    let mut order = table(&["item", "needed", "packs", "price"], &[1, 2, 3]);
    for line in &outcome.layout.order {
        let packs = if line.pack > 1 { format!("{} of {}", line.packs, line.pack) } else { line.packs.to_string() };
        let price = line.price.map_or_else(String::new, |p| format!("{p:.2}"));
        order.add_row([line.item.text(), line.quantity.to_string(), packs, price]);
    }
    let total = outcome.layout.order_total().map_or_else(String::new, |t| format!("\nTotal {t:.2}"));
    let mut out = format!("\n\nTo buy\n{}{total}\n\nRe-check: {}\n\n", order.trim_fmt(), outcome.proof.summary());
    for caution in sheet::CAUTIONS {
        out.push_str(&format!("{caution}\n"));
    }
    out
}

fn marks(panel: &Built, m: Measure, system: &RailSystem) -> String {
    let mut rows: Vec<(&str, String, Vec<Length>)> = Vec::new();
    let is_raked = panel.rake.is_some();
    rows.extend(infill::marks(panel, system));
    for member in &system.members {
        if let Some(holes) = &member.baluster_holes {
            let what = format!("balusters, pilot {}", holes.pilot);
            rows.push((member.role.text(), what, panel.balusters.marks.clone()));
        }
        let mut bracket: Vec<Length> =
            panel.brackets.iter().filter(|b| b.member == member.role).flat_map(|b| b.holes.clone()).collect();
        bracket.sort();
        let kind = if is_raked { "raked brackets" } else { "brackets" };
        rows.push((member.role.text(), format!("{kind}, pilot {}", system.bracket.fastener.pilot), bracket));
    }
    let lowest = system.members.first().map_or("", |l| l.role.text());
    if let Some(blocks) = &system.blocks {
        rows.push((lowest, format!("support blocks, pilot {}", blocks.fastener.pilot), panel.blocks.clone()));
    }
    if let Some(cap) = &system.cap_screws {
        let screw = if is_raked { format!("raked, {}, ", cap.raked_screw) } else { String::new() };
        rows.push(("top-rail", format!("cap screws, {screw}pilot {}", cap.pilot), panel.cap_screws.clone()));
    }
    if is_raked {
        let level = panel.balusters.marks.iter().map(|&mark| panel.level_mark(mark)).collect();
        rows.push(("", "balusters, measured level".to_owned(), level));
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
    if panel.rake.is_none() {
        let mut table = table(&["member", "length", "left end", "right end"], &[1, 2, 3]);
        for cut in &panel.cuts {
            let (left, right) = (degrees(cut.left), degrees(cut.right));
            table.add_row([cut.member.text().to_owned(), m.mark_text(cut.length), left, right]);
        }
        return table.trim_fmt();
    }
    // Nothing turns a rail in plan between two posts of one flight.
    let mut table = table(&["member", "length along each face", "tip to tip", "plumb cut at both ends"], &[1, 2, 3]);
    for cut in &panel.cuts {
        // What a stock must have is never rounded down.
        let (length, tips) = (m.mark_text(cut.length), m.mark_text(m.mark.ceil(cut.tip_to_tip)));
        table.add_row([cut.member.text().to_owned(), length, tips, degrees(cut.plumb)]);
    }
    table.trim_fmt()
}
