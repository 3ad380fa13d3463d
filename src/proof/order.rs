//! Everything that the panels and posts need is in the order.
//!
//! An order line says in words what it is. Kits, screws and packs are named by the rail system's file, so they are found by
//! those names; other parts by the words that name them.

use std::collections::BTreeMap;

use super::record::{Question, Record};
use crate::base::{Length, Place};
use crate::catalog::{MemberRole, Packed, Part, Stocked};
use crate::guard::PostOrigin;
use crate::panel::{BracketKind, Panel};
use crate::parts::{Layout, OrderLine};

pub(super) fn check(layout: &Layout, record: &mut Record) {
    record.at(Place::none());
    if layout.panels.is_empty() {
        return;
    }
    balusters(layout, record);
    for (part, needed) in parts(layout) {
        let words = words(part);
        let ordered = of_part(layout, part);
        enough(record, &words.join(" "), needed, ordered);
    }
    for (name, needed) in screws(layout) {
        let holds = |line: &OrderLine| names(&line.item, name);
        let ordered = sum(layout, holds, |of| matches!(of, Packed::Screw(screw) if screw == name));
        enough(record, &format!("screws {name}"), needed, ordered);
    }
    handrails(layout, record);
}

fn enough(record: &mut Record, what: &str, needed: u64, ordered: u64) {
    if needed > 0 {
        let question = Question::own(&format!("{what} in the order"));
        record.fact(question, format!("{needed} or more; {ordered} are ordered"), ordered >= needed);
    }
}

/// Pieces on the lines that are about something: by its words, or by the name of a pack of it.
fn sum(layout: &Layout, by_words: impl Fn(&OrderLine) -> bool, by_pack: impl Fn(&Packed) -> bool) -> u64 {
    let packs: Vec<&str> =
        layout.system.packs.iter().filter(|pack| by_pack(&pack.of)).map(|pack| pack.name.as_str()).collect();
    let lines = layout.order.iter().filter(|line| packs.contains(&line.item.as_str()) || by_words(line));
    lines.map(|line| u64::from(line.quantity).min(u64::from(line.pack.max(1)) * u64::from(line.packs))).sum()
}

/// Whether a line names something, and not only something longer that begins or ends with it.
fn names(item: &str, name: &str) -> bool {
    let edge = |c: Option<char>| c.is_none_or(|c| !c.is_alphanumeric() && c != '-' && c != '/');
    item.match_indices(name).any(|(at, _)| {
        let (before, after) = (item.get(..at), item.get(at + name.len()..));
        edge(before.and_then(|b| b.chars().next_back())) && edge(after.and_then(|a| a.chars().next()))
    })
}

/// Words that a line about a part has.
const fn words(part: Part) -> &'static [&'static str] {
    match part {
        // Those for stairs are told by the word as well.
        Part::Baluster => &["baluster"],
        Part::BalusterRaked => &["baluster", "stairs"],
        Part::PostSleeve => &["post", "sleeve"],
        Part::PostCap => &["post", "cap"],
        Part::PostBase => &["post", "base"],
        Part::BracketLevel => &["bracket", "level"],
        Part::BracketAngled => &["bracket", "angled"],
        Part::BracketRaked => &["bracket", "raked"],
        Part::SupportBlock => &["support", "block"],
        Part::HandrailBracket => &["handrail", "bracket"],
    }
}

fn of_part(layout: &Layout, part: Part) -> u64 {
    let kits: Vec<&str> = layout.system.kits.iter().map(|kit| kit.name.as_str()).collect();
    let has_all = |line: &OrderLine| {
        let item = line.item.to_lowercase();
        words(part).iter().all(|word| item.contains(word)) && !kits.contains(&line.item.as_str())
    };
    sum(layout, has_all, |of| matches!(of, Packed::Part(of) if *of == part))
}

/// Small parts that panels and posts need, balusters excepted.
fn parts(layout: &Layout) -> Vec<(Part, u64)> {
    let panels = || layout.panels.iter().map(|at| &at.panel);
    let brackets = |kind| count(panels().flat_map(|panel| &panel.brackets).filter(|bracket| bracket.kind == kind));
    // A post that stands already, or that the user draws, is not bought with the rails.
    let posts = count(layout.posts.iter().filter(|post| post.origin != PostOrigin::Drawn));
    let post = &layout.system.post;
    vec![
        (Part::PostSleeve, posts),
        (Part::PostCap, if post.cap { posts } else { 0 }),
        (Part::PostBase, if post.base { posts } else { 0 }),
        (Part::BracketLevel, brackets(BracketKind::Level)),
        (Part::BracketAngled, brackets(BracketKind::Angled)),
        (Part::BracketRaked, brackets(BracketKind::Raked)),
        (Part::SupportBlock, count(panels().flat_map(|panel| &panel.blocks))),
    ]
}

fn count<T>(things: impl Iterator<Item = T>) -> u64 {
    things.fold(0, |n, _| n + 1)
}

/// Those in the ordered kits, and those beside them.
fn balusters(layout: &Layout, record: &mut Record) {
    let needed = count(layout.panels.iter().flat_map(|at| &at.panel.balusters.marks));
    let boxed = layout.order.iter().filter_map(|line| {
        let kit = layout.system.kits.iter().find(|kit| kit.name == line.item)?;
        Some(u64::from(kit.balusters) * u64::from(line.quantity))
    });
    let ordered = boxed.sum::<u64>() + of_part(layout, Part::Baluster);
    enough(record, "balusters", needed, ordered);
}

/// Screws by the name that the system's file gives them; one name may serve for several things.
fn screws<'a>(layout: &'a Layout) -> BTreeMap<&'a str, u64> {
    let system = &layout.system;
    let mut needed: BTreeMap<&'a str, u64> = BTreeMap::new();
    let mut add = |name: Option<&'a str>, n: u64| {
        if let Some(name) = name {
            *needed.entry(name).or_default() += n;
        }
    };
    let all = |of: &dyn Fn(&Panel) -> u64| layout.panels.iter().map(|at| of(&at.panel)).sum::<u64>();
    add(system.bracket.fastener.screw.as_deref(), all(&|p| count(p.brackets.iter().flat_map(|b| &b.holes))));
    for holes in system.members.iter().filter_map(|member| member.baluster_holes.as_ref()) {
        add(holes.screw.as_deref(), all(&|p| count(p.balusters.marks.iter())));
    }
    if let Some(blocks) = &system.blocks {
        add(blocks.fastener.screw.as_deref(), all(&|p| count(p.blocks.iter())));
    }
    if let Some(cap) = system.cap_screws.as_ref().filter(|_| system.member(MemberRole::Cap).is_some()) {
        let of = |raked: bool| all(&|p| if p.rake.is_some() == raked { count(p.cap_screws.iter()) } else { 0 });
        add(Some(&cap.level_screw), of(false));
        add(Some(&cap.raked_screw), of(true));
    }
    needed
}

/// Handrails are sold by the length: at least so much of it, and a bracket for each of theirs.
fn handrails(layout: &Layout, record: &mut Record) {
    let Some(spec) = layout.system.handrail.as_ref().filter(|_| !layout.handrails.is_empty()) else { return };
    let total: Length =
        layout.handrails.iter().map(|rail| rail.extension_top + rail.length + rail.extension_bottom).sum();
    let stocks = layout.system.stock.iter().filter(|stock| stock.member == Stocked::Handrail);
    let bought: i64 = stocks
        .map(|stock| {
            let pieces = sum(layout, |line| line.item == stock.name, |_| false);
            stock.length.nanometres().saturating_mul(i64::try_from(pieces).unwrap_or(i64::MAX))
        })
        .fold(0, i64::saturating_add);
    let question = Question::own("handrail in the order");
    if layout.order.iter().any(|line| names(&line.item, &spec.name)) || bought > 0 {
        let holds = bought == 0 || bought >= total.nanometres();
        record.fact(question, format!("{} or more", record.text(total.millimetres())), holds);
        let needed = count(layout.handrails.iter().flat_map(|rail| &rail.brackets));
        enough(record, "handrail bracket", needed, of_part(layout, Part::HandrailBracket));
    } else {
        record.unknown(question, "the order has no line for it: buy it with its brackets by the table of handrails");
    }
}
