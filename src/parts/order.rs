//! What must be bought: kits and stock lengths by the cut plan, small parts counted over all panels, by the pack.

use crate::catalog::{MemberRole, Pack, Serves};
use crate::guard::{Post, PostOrigin};
use crate::panel::{BracketKind, Panel};

use super::cut_plan::{CutPlan, Source};
use super::item::{Item, supplies};
use super::types::{Layout, OrderLine};

/// Order lines in a fixed order: what has a finish first (kits, stock, infill, posts, brackets), then screws and blocks in
/// the order of assembly.
pub fn order(layout: &Layout) -> Vec<OrderLine> {
    let mut lines = Lines { layout, lines: Vec::new() };
    lines.sticks(&layout.cut_plan);
    lines.balusters(&layout.cut_plan);
    for (item, count) in layout.panels.iter().flat_map(|at| supplies(&at.panel, &layout.system)) {
        lines.add(item, count);
    }
    lines.posts(&layout.posts);
    for kind in [BracketKind::Level, BracketKind::Angled, BracketKind::Raked] {
        lines.add(kind.into(), lines.all(|p| p.brackets.iter().filter(|b| b.kind == kind).count()));
    }
    lines.add(Item::HandrailBracket, layout.handrails.iter().map(|h| h.brackets.len()).sum());
    lines.screws();
    lines.lines
}

struct Lines<'a> {
    layout: &'a Layout,
    lines: Vec<OrderLine>,
}

impl Lines<'_> {
    /// Kits and stock lengths, as many as the cut plan takes.
    fn sticks(&mut self, cut: &CutPlan) {
        let system = &self.layout.system;
        for kit in &system.kits {
            let mut numbers: Vec<u32> = kit_numbers(cut, &kit.name);
            numbers.dedup();
            self.sold(Item::Kit { name: kit.name.clone() }, numbers.len(), (kit.price, kit.weight_kg));
        }
        for stock in &system.stock {
            let is_own = |s: &&super::cut_plan::Stick| {
                s.source == Source::Stock && s.stock == stock.name && s.member == stock.member
            };
            let count = cut.sticks.iter().filter(is_own).count();
            self.sold(Item::Stock { name: stock.name.clone() }, count, (stock.price, stock.weight_kg));
        }
    }

    /// Something that is sold one by one under its own name.
    fn sold(&mut self, item: Item, count: usize, (price, weight_kg): (Option<f64>, Option<f64>)) {
        let each = |of: Option<f64>, line: &OrderLine| of.map(|of| of * f64::from(line.packs));
        if let Some(line) = self.line(item, count, 0, 1) {
            (line.price, line.weight_kg) = (each(price, line), each(weight_kg, line));
        }
    }

    /// Balusters beyond those in the boxes. Those of kits for stairs are long enough for stairs; the others serve there
    /// only where a raked panel's balusters are no longer than level ones.
    fn balusters(&mut self, cut: &CutPlan) {
        let system = &self.layout.system;
        let boxed = |serves: &dyn Fn(Serves) -> bool| -> usize {
            let own = system.kits.iter().filter(|k| serves(k.serves));
            own.map(|k| {
                let mut numbers = kit_numbers(cut, &k.name);
                numbers.dedup();
                numbers.len() * k.balusters as usize
            })
            .sum()
        };
        let width = system.baluster_width();
        let is_long =
            |p: &Panel| p.rake.is_some_and(|r| p.balusters.length + r.pitch.fall(width) > system.baluster_length());
        let panels = || self.layout.panels.iter().map(|at| &at.panel);
        let count =
            |long: bool| panels().filter(|p| is_long(p) == long).map(|p| p.balusters.marks.len()).sum::<usize>();
        let for_stairs = boxed(&|s| s == Serves::Raked);
        let (long, short) = (count(true), count(false));
        let left = for_stairs.saturating_sub(long);
        let others = boxed(&|s| s != Serves::Raked) + left;
        let length = system.baluster_length();
        let needed =
            panels().filter(|p| is_long(p)).filter_map(|p| Some(p.balusters.length + p.rake?.pitch.fall(width)));
        let longest = needed.max();
        self.add(Item::Baluster { length }, short.saturating_sub(others));
        if let Some(longest) = longest {
            let length = self.layout.measure.mark.ceil(longest);
            self.add(Item::BalusterRaked { length }, long.saturating_sub(for_stairs));
        }
    }

    fn all(&self, count: impl Fn(&Panel) -> usize) -> usize {
        self.layout.panels.iter().map(|at| count(&at.panel)).sum()
    }

    /// Sleeves of the posts that do not stand yet, their caps and the trim at their feet.
    fn posts(&mut self, posts: &[Post]) {
        let spec = &self.layout.system.post;
        let planned = posts.iter().filter(|p| p.origin != PostOrigin::Drawn).count();
        let side = spec.side;
        self.add(Item::PostSleeve { side }, planned);
        if spec.cap {
            self.add(Item::PostCap { side }, planned);
        }
        if spec.base {
            self.add(Item::PostBase { side }, planned);
        }
    }

    fn screws(&mut self) {
        let system = &self.layout.system;
        let bracket = self.all(|p| p.brackets.iter().map(|b| b.holes.len()).sum());
        self.screw(system.bracket.fastener.screw.as_deref(), bracket);
        for member in &system.members {
            let name = member.baluster_holes.as_ref().and_then(|f| f.screw.as_deref());
            self.screw(name, self.all(|p| p.balusters.marks.len()));
        }
        if let Some(blocks) = &system.blocks {
            let count = self.all(|p| p.blocks.len());
            self.add(Item::SupportBlock, count);
            self.screw(blocks.fastener.screw.as_deref(), count);
        }
        if let Some(cap) = system.cap_screws.as_ref().filter(|_| system.member(MemberRole::Cap).is_some()) {
            // A rake may take another screw than the level: each by its own name.
            for (raked, name) in [(false, &cap.level_screw), (true, &cap.raked_screw)] {
                let own = |p: &Panel| if p.rake.is_some() == raked { p.cap_screws.len() } else { 0 };
                self.screw(Some(name), self.all(own));
            }
        }
    }

    fn screw(&mut self, name: Option<&str>, count: usize) {
        if let Some(name) = name {
            self.add(Item::Screw { name: name.to_owned() }, count);
        }
    }

    /// Adds a small part, by the pack in which the system sells it, with what the job wants to spare.
    fn add(&mut self, item: Item, count: usize) {
        let packed = item.packed();
        let pack = self.layout.system.packs.iter().find(|p| Some(&p.of) == packed.as_ref()).cloned();
        let shop = &self.layout.shop;
        let spare = match &item {
            Item::Screw { .. } => shop.spare_screws_percent,
            other => other.part().and_then(|p| shop.spare_percent.get(&p)).copied().unwrap_or(0),
        };
        let Some(line) = self.line(item, count, spare, pack.as_ref().map_or(1, |p| p.count.max(1))) else { return };
        let each = |of: fn(&Pack) -> Option<f64>, packs: u32| pack.as_ref().and_then(of).map(|p| p * f64::from(packs));
        line.pack_name = pack.as_ref().map(|p| p.name.clone()).filter(|n| *n != line.item.text());
        line.price = each(|p| p.price, line.packs);
        line.weight_kg = each(|p| p.weight_kg, line.packs);
    }

    /// Adds to the line of the same item; an item that nobody needs gets no line.
    fn line(&mut self, item: Item, count: usize, spare_percent: u32, pack: u32) -> Option<&mut OrderLine> {
        let need = u32::try_from(count).unwrap_or(u32::MAX);
        if need == 0 {
            return None;
        }
        let at = self.lines.iter().position(|l| l.item == item).unwrap_or_else(|| {
            let finish = self.layout.finish.clone().filter(|_| item.is_finished());
            self.lines.push(OrderLine::new(item, finish));
            self.lines.len() - 1
        });
        let line = self.lines.get_mut(at)?;
        line.quantity = line.quantity.saturating_add(need);
        // Spare parts are whole ones, on the sum of the line.
        let spare = u64::from(line.quantity) * u64::from(spare_percent);
        line.spare = u32::try_from(spare.div_ceil(100)).unwrap_or(u32::MAX);
        line.pack = pack;
        line.packs = line.quantity.saturating_add(line.spare).div_ceil(line.pack);
        Some(line)
    }
}

/// The numbers of the kits of a name in the job, in order; each stands once for every stick of its.
fn kit_numbers(cut: &CutPlan, name: &str) -> Vec<u32> {
    let number = |s: &super::cut_plan::Stick| match s.source {
        Source::Kit(number) if s.stock == name => Some(number),
        _ => None,
    };
    cut.sticks.iter().filter_map(number).collect()
}
