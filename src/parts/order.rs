//! What must be bought: kits, extra balusters, and hardware counted over all panels.

use crate::base::{Code, Finding, Length, Place};
use crate::catalog::{Kit, MemberRole, RailSystem};
use crate::guard::{Post, PostOrigin};
use crate::panel::{BracketKind, Panel};

use super::types::{LayoutPanel, OrderLine};

/// The shortest kit that the longest member of a panel can be cut from.
pub fn kit<'a>(panel: &Panel, system: &'a RailSystem) -> Result<&'a Kit, Box<Finding>> {
    let needed = panel.cuts.iter().map(|c| c.tip_to_tip).max().unwrap_or(Length::ZERO);
    system.kits.iter().find(|k| k.length >= needed).ok_or_else(|| {
        let longest = system.kits.last().map_or(Length::ZERO, |k| k.length);
        Box::new(
            Finding::error(
                Code::StockTooShort,
                Place::panel(&panel.id),
                format!("the panel needs a stock of {needed}; the longest of {} is {longest}", system.name),
            )
            .hint("set a shorter --longest-panel, or add a longer kit to the rail system"),
        )
    })
}

/// Order lines in a fixed order: kits by length, infill, then hardware in the order of assembly.
pub fn order(panels: &[LayoutPanel], posts: &[Post], system: &RailSystem) -> Vec<OrderLine> {
    let mut lines = Lines(Vec::new());
    for kit in &system.kits {
        let count = panels.iter().filter(|p| p.kit.as_ref() == Some(&kit.name)).count();
        lines.add(&kit.name, count, kit.price);
    }
    let extra = |p: &LayoutPanel| {
        let boxed = system.kits.iter().find(|k| Some(&k.name) == p.kit.as_ref()).map_or(0, |k| k.balusters as usize);
        p.panel.balusters.marks.len().saturating_sub(boxed)
    };
    lines.add(&format!("Baluster {}, beyond the kits", system.baluster_length()), panels.iter().map(extra).sum(), None);
    let planned = posts.iter().filter(|p| p.origin != PostOrigin::Drawn).count();
    lines.add(&format!("Post sleeve {}", system.post.side), planned, None);
    let all = |count: &dyn Fn(&Panel) -> usize| panels.iter().map(|p| count(&p.panel)).sum::<usize>();
    for kind in [BracketKind::Level, BracketKind::Angled, BracketKind::Raked] {
        let count = all(&|p| p.brackets.iter().filter(|b| b.kind == kind).count());
        lines.add(&format!("Bracket, {}", kind.text()), count, None);
    }
    screw(
        &mut lines,
        system.bracket.fastener.screw.as_deref(),
        all(&|p| p.brackets.iter().map(|b| b.holes.len()).sum()),
    );
    for member in &system.members {
        let name = member.baluster_holes.as_ref().and_then(|f| f.screw.as_deref());
        screw(&mut lines, name, all(&|p| p.balusters.marks.len()));
    }
    if let Some(blocks) = &system.blocks {
        let count = all(&|p| p.blocks.len());
        lines.add("Support block", count, None);
        screw(&mut lines, blocks.fastener.screw.as_deref(), count);
    }
    if let Some(cap) = system.cap_screws.as_ref().filter(|_| system.member(MemberRole::Cap).is_some()) {
        // The longer one would break through the cap on a rake, so the two never share a line.
        let of = |raked: bool| all(&|p| if p.rake.is_some() == raked { p.cap_screws.len() } else { 0 });
        lines.add(&format!("Cap screw, level, {}", cap.level_screw), of(false), None);
        lines.add(&format!("Cap screw, raked, {}", cap.raked_screw), of(true), None);
    }
    lines.0
}

fn screw(lines: &mut Lines, name: Option<&str>, count: usize) {
    if let Some(name) = name {
        lines.add(&format!("Screw {name}"), count, None);
    }
}

struct Lines(Vec<OrderLine>);

impl Lines {
    /// Adds to the line of the same item; an item that nobody needs gets no line.
    fn add(&mut self, item: &str, count: usize, price: Option<f64>) {
        let count = u32::try_from(count).unwrap_or(u32::MAX);
        if count == 0 {
            return;
        }
        match self.0.iter_mut().find(|l| l.item == item) {
            Some(line) => {
                line.quantity += count;
                line.packs = line.quantity;
            }
            None => self.0.push(OrderLine {
                item: item.to_owned(),
                quantity: count,
                pack: 1,
                packs: count,
                price: price.map(|p| p * f64::from(count)),
            }),
        }
    }
}
