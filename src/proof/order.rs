//! The order: all that panels, posts and handrails need, each thing in one line, in the packs and at the prices of the system.

use std::collections::BTreeMap;

use super::record::{Question, Record};
use super::slope::Slope;
use crate::base::{Length, Place};
use crate::catalog::{InfillSpec, MemberRole, Packed, Serves, Stocked};
use crate::guard::PostOrigin;
use crate::panel::{BracketKind, Panel, PanelInfill};
use crate::parts::{Item, Layout, LayoutPanel, OrderLine, Source};

/// Prices and weights are sums of hundredths.
const HUNDREDTH: f64 = 0.005;

/// Number of pieces by what they are.
type Counts = BTreeMap<Item, u64>;

pub(super) fn check(layout: &Layout, record: &mut Record) {
    record.at(Place::none());
    if layout.panels.is_empty() && layout.handrails.is_empty() && layout.order.is_empty() {
        return;
    }
    let mut needed = Counts::new();
    sticks(layout, &mut needed);
    posts(layout, &mut needed);
    for at in &layout.panels {
        fasteners(layout, &at.panel, &mut needed);
        infill(layout, &at.panel, &mut needed);
    }
    add(&mut needed, Item::HandrailBracket, layout.handrails.iter().flat_map(|rail| &rail.brackets).count());
    balusters(layout, &mut needed);
    for (item, needed) in &needed {
        let lines = || layout.order.iter().filter(|line| line.item == *item);
        let ordered: u64 = lines().map(|line| u64::from(line.quantity)).sum();
        let question = Question::own(&format!("{} in the order", item.text()));
        let holds = ordered == *needed && lines().count() == 1;
        record.fact(question, format!("{needed}, in one line; {ordered} are ordered"), holds);
    }
    let surplus = layout.order.iter().filter(|line| !needed.contains_key(&line.item)).map(|line| line.item.text());
    none(record, "what nothing needs in the order", "nothing", surplus);
    let sold = layout.order.iter().filter(|line| !is_sold_so(layout, line)).map(|line| line.item.text());
    none(record, "packs, prices and finish in the order", "those of system and job", sold);
    if !sells_handrails(layout) && !layout.handrails.is_empty() {
        let question = Question::own("handrail in the order");
        record.unknown(question, "the system sells none by the length: buy it by the table of handrails");
    }
}

/// A fact that holds where nothing stands against it.
fn none(record: &mut Record, what: &str, asked: &str, against: impl Iterator<Item = String>) {
    let against: Vec<String> = against.collect();
    let holds = against.is_empty();
    let asked = if holds { asked.to_owned() } else { format!("{asked}; it is not so of {}", against.join(", ")) };
    record.fact(Question::own(what), asked, holds);
}

fn add(counts: &mut Counts, item: Item, count: usize) {
    if count > 0 {
        *counts.entry(item).or_default() += count as u64;
    }
}

/// Whether handrails can be cut from something.
pub(super) fn sells_handrails(layout: &Layout) -> bool {
    layout
        .system
        .stock
        .iter()
        .map(|stock| stock.member)
        .chain(layout.on_hand.iter().map(|own| own.member))
        .any(|member| member == Stocked::Handrail)
}

/// Kits and stock lengths that the cut plan takes.
fn sticks(layout: &Layout, needed: &mut Counts) {
    let mut kits: Vec<(u32, &str)> = Vec::new();
    for stick in &layout.cut_plan.sticks {
        match stick.source {
            Source::Kit(number) => kits.push((number, &stick.stock)),
            Source::Stock => add(needed, Item::Stock { name: stick.stock.clone() }, 1),
            Source::OnHand => {}
        }
    }
    kits.sort_unstable();
    kits.dedup();
    for (_, name) in kits {
        add(needed, Item::Kit { name: name.to_owned() }, 1);
    }
}

/// A post that stands already, or that the user draws, is not bought with the rails.
fn posts(layout: &Layout, needed: &mut Counts) {
    let bought = layout.posts.iter().filter(|post| post.origin != PostOrigin::Drawn).count();
    let spec = &layout.system.post;
    let side = spec.side;
    add(needed, Item::PostSleeve { side }, bought);
    add(needed, Item::PostCap { side }, if spec.cap { bought } else { 0 });
    add(needed, Item::PostBase { side }, if spec.base { bought } else { 0 });
}

/// Brackets, blocks and screws, by the name that the system's file gives them; one name may serve for several things.
fn fasteners(layout: &Layout, panel: &Panel, needed: &mut Counts) {
    let system = &layout.system;
    for bracket in &panel.brackets {
        let kind = match bracket.kind {
            BracketKind::Level => Item::BracketLevel,
            BracketKind::Angled => Item::BracketAngled,
            BracketKind::Raked => Item::BracketRaked,
        };
        add(needed, kind, 1);
    }
    let mut screws = |name: Option<&String>, count: usize| {
        if let Some(name) = name {
            add(needed, Item::Screw { name: name.clone() }, count);
        }
    };
    screws(system.bracket.fastener.screw.as_ref(), panel.brackets.iter().flat_map(|bracket| &bracket.holes).count());
    for holes in system.members.iter().filter_map(|member| member.baluster_holes.as_ref()) {
        screws(holes.screw.as_ref(), panel.balusters.marks.len());
    }
    if let Some(cap) = system.cap_screws.as_ref().filter(|_| system.member(MemberRole::Cap).is_some()) {
        let screw = if panel.rake.is_some() { &cap.raked_screw } else { &cap.level_screw };
        screws(Some(screw), panel.cap_screws.len());
    }
    if let Some(blocks) = &system.blocks {
        screws(blocks.fastener.screw.as_ref(), panel.blocks.len());
        add(needed, Item::SupportBlock, panel.blocks.len());
    }
}

/// Cables with their ends and slats, frames with their clips: what is screwed has a screw on either rail.
fn infill(layout: &Layout, panel: &Panel, needed: &mut Counts) {
    let (screw, marks) = match (&panel.infill, layout.system.infill()) {
        (PanelInfill::Cables(run), Some(InfillSpec::Cables(spec))) => {
            add(needed, Item::Cable { name: spec.name.clone(), length: run.length }, run.heights.len());
            add(needed, Item::CableFitting, run.heights.len() * 2 * usize::from(spec.fittings));
            let Some(slat) = &spec.slat else { return };
            let length = panel.balusters.length;
            add(needed, Item::Slat { name: slat.name.clone(), length }, run.slats.len());
            (&slat.fastener.screw, run.slats.len())
        }
        (PanelInfill::Frames(row), Some(InfillSpec::Frames(spec))) => {
            let (name, raked) = (spec.name.clone(), panel.rake.is_some());
            add(needed, Item::Frame { name, width: row.width, height: row.height, raked }, row.edges.len());
            add(needed, Item::FrameClip, 2 * row.clips.len());
            (&spec.clip_fastener.screw, row.clips.len())
        }
        _ => return,
    };
    if let Some(name) = screw.clone() {
        add(needed, Item::Screw { name }, 2 * marks);
    }
}

/// Those beyond the kits. A kit for stairs has long ones, which serve everywhere; the others only where a raked panel's
/// need be no longer than level ones.
fn balusters(layout: &Layout, needed: &mut Counts) {
    let system = &layout.system;
    let boxed = |for_stairs: bool| -> usize {
        let kits = system.kits.iter().filter(|kit| (kit.serves == Serves::Raked) == for_stairs);
        let count = |item: &Item| needed.get(item).map_or(0, |n| usize::try_from(*n).unwrap_or(usize::MAX));
        let each =
            kits.map(|kit| (kit.balusters as usize).saturating_mul(count(&Item::Kit { name: kit.name.clone() })));
        each.fold(0, usize::saturating_add)
    };
    let (boxed_long, boxed_short) = (boxed(true), boxed(false));
    let length = system.baluster_length();
    let reaches: Vec<(Length, usize)> = layout
        .panels
        .iter()
        .filter(|at| !at.panel.balusters.marks.is_empty())
        .map(|at| (reach(layout, at), at.panel.balusters.marks.len()))
        .collect();
    let count =
        |is_long: bool| reaches.iter().filter(|(reach, _)| (*reach > length) == is_long).map(|(_, n)| n).sum::<usize>();
    let (long, short) = (count(true), count(false));
    add(
        needed,
        Item::Baluster { length },
        short.saturating_sub(boxed_short.saturating_add(boxed_long.saturating_sub(long))),
    );
    let longest = reaches.iter().map(|(reach, _)| *reach).max().unwrap_or(length);
    add(needed, Item::BalusterRaked { length: layout.measure.mark.ceil(longest) }, long.saturating_sub(boxed_long));
}

/// How long a panel's balusters must be: on a stair their ends are cut to the slope.
fn reach(layout: &Layout, at: &LayoutPanel) -> Length {
    let panel = &at.panel;
    let Some(rake) = at.span.rake.filter(|_| panel.rake.is_some()) else { return layout.system.baluster_length() };
    let width = layout.system.baluster_width();
    let over = Slope::of(Some(rake)).over(width.millimetres());
    let fall = (over * over - width.millimetres() * width.millimetres()).max(0.0).sqrt();
    panel.balusters.length + Length::from_millimetres(fall).unwrap_or(width)
}

/// Whether a line's packs, price, weight, finish and spare parts are those of the system and the job.
fn is_sold_so(layout: &Layout, line: &OrderLine) -> bool {
    let system = &layout.system;
    let named = |name: &String| {
        let kit = system.kits.iter().find(|kit| kit.name == *name).map(|kit| (kit.price, kit.weight_kg));
        kit.or_else(|| system.stock.iter().find(|s| s.name == *name).map(|s| (s.price, s.weight_kg)))
    };
    let (percent, pack) = match &line.item {
        Item::Kit { name } | Item::Stock { name } => match named(name) {
            Some((price, weight)) => (0, (1, None, price, weight)),
            None => return false,
        },
        item => {
            let of = item.packed();
            let pack = system.packs.iter().find(|pack| Some(&pack.of) == of.as_ref());
            let name = pack.map(|pack| &pack.name).filter(|name| **name != item.text());
            let sold = pack.map_or((1, None, None, None), |p| (p.count.max(1), name, p.price, p.weight_kg));
            let percent = match of {
                Some(Packed::Screw(_)) => layout.shop.spare_screws_percent,
                Some(Packed::Part(part)) => layout.shop.spare_percent.get(&part).copied().unwrap_or(0),
                None => 0,
            };
            (percent, sold)
        }
    };
    let (count, name, price, weight) = pack;
    let spare = (u64::from(line.quantity) * u64::from(percent)).div_ceil(100);
    let packs = (u64::from(line.quantity) + spare).div_ceil(u64::from(count));
    let sums = |each: Option<f64>, stated: Option<f64>| match (each, stated) {
        (Some(each), Some(stated)) => (each * f64::from(line.packs) - stated).abs() < HUNDREDTH,
        (each, stated) => each.is_none() && stated.is_none(),
    };
    let finish = layout.finish.as_ref().filter(|_| line.item.is_finished());
    u64::from(line.spare) == spare
        && line.pack == count
        && u64::from(line.packs) == packs
        && line.pack_name.as_ref() == name
        && sums(price, line.price)
        && sums(weight, line.weight_kg)
        && line.finish.as_ref() == finish
}
