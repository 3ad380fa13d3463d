//! Records of an earlier layout whose marks another program has dropped: known by layer and kind, block and style.

use std::collections::BTreeSet;

use super::ours::{Finder, holds_rails};
use super::symbols::Symbol;
use crate::cad::scan::{Kind, SectionKind};
use crate::cad::{Origin, folded, is_marks_name, is_post_name, is_tag_name, own_name};
use crate::deck::Lost;

/// Kinds that we write on a plan, and what programs make of them: of an INSERT its lines, of an arc
/// a curve, of a filled triangle a hatch.
const KINDS: [&str; 15] = [
    "ARC",
    "CIRCLE",
    "DIMENSION",
    "ELLIPSE",
    "HATCH",
    "INSERT",
    "LINE",
    "LWPOLYLINE",
    "MTEXT",
    "POINT",
    "POLYLINE",
    "SOLID",
    "SPLINE",
    "TEXT",
    "TRACE",
];

/// Names of our styles and line types begin so.
const OWN: &str = "RAIL-";

/// Group of a DIMENSION that names its style.
const STYLE: i16 = 3;

/// Adds what goes: entities, the blocks that they alone place, layers and styles. What the user's records use stays.
pub(super) fn add(finder: &mut Finder<'_>, lost: &Lost) {
    let index = finder.index;
    let take: BTreeSet<&Origin> = lost.take.iter().collect();
    let guests: BTreeSet<&Origin> = lost.guests.iter().collect();
    let mut blocks: BTreeSet<String> = BTreeSet::new();
    let by_name = index.blocks_by_name();
    let bound: Vec<bool> = index.blocks.iter().map(|block| holds_rails(index, block, &lost.layers)).collect();
    for at in index.section_records(SectionKind::Entities) {
        let Some(record) = index.records.get(at).filter(|r| !(r.is_part() || r.ours || r.paper)) else { continue };
        let origin = record.origin();
        let kind = index.kind_text(record.kind);
        let layer = index.layer(record).map_or("", |layer| &layer.name);
        let on_ours = lost.layers.is_ours(layer) && !layer.contains('|') && KINDS.contains(&kind);
        let is_dimension = kind == "DIMENSION";
        let in_style = || {
            let style = || finder.named(at, STYLE);
            is_dimension && lost.layers.of(layer).is_some() && style().is_some_and(|style| is_own(&style))
        };
        let placed = (record.kind == Kind::Insert).then(|| folded(index.name(record.name)));
        let is_bound = placed.as_ref().and_then(|name| bound.get(*by_name.get(name)?)).copied().unwrap_or(false);
        if guests.contains(&origin) || !(take.contains(&origin) || on_ours || is_bound || in_style()) {
            continue;
        }
        blocks.extend(finder.picture(at).filter(|_| is_dimension));
        blocks.extend(placed.filter(|_| is_bound));
        finder.add_entity(at);
    }
    for block in &index.blocks {
        let name = folded(index.name(block.name));
        let is_ours = index.records.get(block.head).is_some_and(|head| head.ours);
        let is_own = is_post_name(name.as_bytes()) || is_tag_name(&name) || is_marks_name(&name);
        let goes = is_own || blocks.contains(&name);
        if let (true, false, Some(end)) = (goes, is_ours, block.end) {
            blocks.insert(name.clone());
            finder.add(block.head..end + 1, Some((Symbol::Block, name)));
        }
    }
    for table in &index.tables {
        let Some(symbol) = Symbol::named(&table.name) else { continue };
        for at in table.entries.clone() {
            let Some(record) = index.records.get(at).filter(|record| !record.ours) else { continue };
            let name = folded(index.name(record.name));
            let goes = match symbol {
                Symbol::Layer => lost.layers.is_ours(&name) && !name.contains('|'),
                Symbol::Block => blocks.contains(&name),
                Symbol::Linetype | Symbol::Style | Symbol::DimensionStyle => is_own(&name),
                Symbol::AppId => false,
            };
            if goes {
                finder.add(at..at + 1, Some((symbol, name)));
            }
        }
    }
}

fn is_own(name: &str) -> bool {
    own_name(name).to_uppercase().replace('_', "-").starts_with(OWN)
}
