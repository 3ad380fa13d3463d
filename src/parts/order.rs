//! What must be bought: kits and stock lengths by the cut plan, small parts counted over all panels, by the pack.

use crate::catalog::{MemberRole, Pack, Packed, Part, Serves, Settings};
use crate::guard::{Handrail, Post, PostOrigin};
use crate::panel::{self, BracketKind, Panel};

use super::cut_plan::{CutPlan, Source};
use super::types::OrderLine;

/// Order lines in a fixed order: what has a finish first (kits, stock, infill, posts, brackets), then screws and blocks in
/// the order of assembly.
pub fn order(
    panels: &[Panel],
    handrails: &[Handrail],
    posts: &[Post],
    cut: &CutPlan,
    settings: &Settings,
) -> Vec<OrderLine> {
    let mut lines = Lines { settings, lines: Vec::new() };
    lines.sticks(cut);
    lines.balusters(panels, cut);
    for (item, count) in panels.iter().flat_map(|p| panel::supplies(p, &settings.system)) {
        match item.strip_prefix("Screw ") {
            Some(screw) => lines.screw(Some(screw), count),
            None => lines.add(&item, count, 0, None, true),
        }
    }
    lines.posts(posts);
    let all = |count: &dyn Fn(&Panel) -> usize| panels.iter().map(count).sum::<usize>();
    for (kind, part) in [
        (BracketKind::Level, Part::BracketLevel),
        (BracketKind::Angled, Part::BracketAngled),
        (BracketKind::Raked, Part::BracketRaked),
    ] {
        let count = all(&|p| p.brackets.iter().filter(|b| b.kind == kind).count());
        lines.part(part, &format!("Bracket, {}", kind.text()), count);
    }
    lines.part(Part::HandrailBracket, "Handrail bracket", handrails.iter().map(|h| h.brackets.len()).sum());
    lines.screws(panels);
    lines.lines
}

struct Lines<'a> {
    settings: &'a Settings,
    lines: Vec<OrderLine>,
}

impl Lines<'_> {
    /// Kits and stock lengths, as many as the cut plan takes.
    fn sticks(&mut self, cut: &CutPlan) {
        let system = &self.settings.system;
        for kit in &system.kits {
            let mut numbers: Vec<u32> = kit_numbers(cut, &kit.name);
            numbers.dedup();
            self.sold(&kit.name, numbers.len(), kit.price, kit.weight_kg);
        }
        for stock in &system.stock {
            let is_own = |s: &&super::cut_plan::Stick| {
                s.source == Source::Stock && s.stock == stock.name && s.member == stock.member
            };
            let count = cut.sticks.iter().filter(is_own).count();
            self.sold(&stock.name, count, stock.price, stock.weight_kg);
        }
    }

    /// Something that is sold one by one under its own name.
    fn sold(&mut self, item: &str, count: usize, price: Option<f64>, weight_kg: Option<f64>) {
        let pack = Pack { of: Packed::Screw(String::new()), name: item.to_owned(), count: 1, price, weight_kg };
        self.add(item, count, 0, Some(&pack), true);
    }

    /// Balusters beyond those in the boxes. Those of kits for stairs are long enough for stairs; the others serve there
    /// only where a raked panel's balusters are no longer than level ones.
    fn balusters(&mut self, panels: &[Panel], cut: &CutPlan) {
        let system = &self.settings.system;
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
        let count =
            |long: bool| panels.iter().filter(|p| is_long(p) == long).map(|p| p.balusters.marks.len()).sum::<usize>();
        let for_stairs = boxed(&|s| s == Serves::Raked);
        let (long, short) = (count(true), count(false));
        let left = for_stairs.saturating_sub(long);
        let others = boxed(&|s| s != Serves::Raked) + left;
        let level = format!("Baluster {}", system.baluster_length());
        self.part(Part::Baluster, &format!("{level}, beyond the kits"), short.saturating_sub(others));
        let needed =
            panels.iter().filter(|p| is_long(p)).filter_map(|p| Some(p.balusters.length + p.rake?.pitch.fall(width)));
        if let Some(longest) = needed.max() {
            let name = format!("Baluster for stairs, at least {}, beyond the kits", self.mark_up(longest));
            self.part(Part::BalusterRaked, &name, long.saturating_sub(for_stairs));
        }
    }

    /// A length on the next sixteenth, as lists say it.
    fn mark_up(&self, length: crate::base::Length) -> crate::base::Length {
        self.settings.mark.unwrap_or(crate::base::Mark::SIXTEENTH).ceil(length)
    }

    /// Sleeves of the posts that do not stand yet, their caps and the trim at their feet.
    fn posts(&mut self, posts: &[Post]) {
        let spec = &self.settings.system.post;
        let planned = posts.iter().filter(|p| p.origin != PostOrigin::Drawn).count();
        self.part(Part::PostSleeve, &format!("Post sleeve {}", spec.side), planned);
        if spec.cap {
            self.part(Part::PostCap, &format!("Post cap for {}", spec.side), planned);
        }
        if spec.base {
            self.part(Part::PostBase, &format!("Post base trim for {}", spec.side), planned);
        }
    }

    fn screws(&mut self, panels: &[Panel]) {
        let system = &self.settings.system;
        let all = |count: &dyn Fn(&Panel) -> usize| panels.iter().map(count).sum::<usize>();
        let bracket = all(&|p| p.brackets.iter().map(|b| b.holes.len()).sum());
        self.screw(system.bracket.fastener.screw.as_deref(), bracket);
        for member in &system.members {
            let name = member.baluster_holes.as_ref().and_then(|f| f.screw.as_deref());
            self.screw(name, all(&|p| p.balusters.marks.len()));
        }
        if let Some(blocks) = &system.blocks {
            let count = all(&|p| p.blocks.len());
            self.part(Part::SupportBlock, "Support block", count);
            self.screw(blocks.fastener.screw.as_deref(), count);
        }
        if let Some(cap) = system.cap_screws.as_ref().filter(|_| system.member(MemberRole::Cap).is_some()) {
            // The longer one would break through the cap on a rake: each by its own name.
            for (raked, name) in [(false, &cap.level_screw), (true, &cap.raked_screw)] {
                let own = |p: &Panel| if p.rake.is_some() == raked { p.cap_screws.len() } else { 0 };
                self.screw(Some(name), all(&own));
            }
        }
    }

    fn part(&mut self, part: Part, item: &str, count: usize) {
        let pack = self.settings.system.packs.iter().find(|p| p.of == Packed::Part(part)).cloned();
        let spare = self.settings.shop.spare_percent.get(&part).copied().unwrap_or(0);
        self.add(item, count, spare, pack.as_ref(), part != Part::SupportBlock);
    }

    fn screw(&mut self, name: Option<&str>, count: usize) {
        let Some(name) = name else { return };
        let of = Packed::Screw(name.to_owned());
        let pack = self.settings.system.packs.iter().find(|p| p.of == of).cloned();
        let spare = self.settings.shop.spare_screws_percent;
        self.add(&format!("Screw {name}"), count, spare, pack.as_ref(), false);
    }

    /// Adds to the line of the same item; an item that nobody needs gets no line.
    fn add(&mut self, item: &str, count: usize, spare_percent: u32, pack: Option<&Pack>, finished: bool) {
        let need = u32::try_from(count).unwrap_or(u32::MAX);
        if need == 0 {
            return;
        }
        let at = self.lines.iter().position(|l| l.item == item).unwrap_or_else(|| {
            self.lines.push(OrderLine::new(item.to_owned(), self.settings.finish.clone().filter(|_| finished)));
            self.lines.len() - 1
        });
        let Some(line) = self.lines.get_mut(at) else { return };
        line.quantity = line.quantity.saturating_add(need);
        // Spare parts are whole ones, on the sum of the line.
        let spare = u64::from(line.quantity) * u64::from(spare_percent);
        line.spare = u32::try_from(spare.div_ceil(100)).unwrap_or(u32::MAX);
        line.pack = pack.map_or(1, |p| p.count.max(1));
        line.pack_name = pack.map(|p| p.name.clone()).filter(|n| n != item);
        line.packs = line.quantity.saturating_add(line.spare).div_ceil(line.pack);
        line.price = pack.and_then(|p| p.price).map(|p| p * f64::from(line.packs));
        line.weight_kg = pack.and_then(|p| p.weight_kg).map(|w| w * f64::from(line.packs));
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
