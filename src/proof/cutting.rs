//! The cut plan: every piece is cut once, no stick holds more than its length, and every stick that is bought is ordered.

use std::collections::BTreeMap;

use super::record::{Question, Record};
use crate::base::{Code, Length, Place};
use crate::catalog::Stocked;
use crate::panel::Panel;
use crate::parts::{Layout, Source, Stick};

/// Panels by id.
type Panels<'a> = BTreeMap<&'a str, &'a Panel>;

pub(super) fn check(layout: &Layout, record: &mut Record) {
    record.at(Place::none());
    if layout.panels.is_empty() {
        return;
    }
    if layout.cut_plan.sticks.is_empty() {
        record.unknown(Question::own("cut plan"), "the layout has none");
        return;
    }
    pieces(layout, record);
    let panels: Panels<'_> = layout.panels.iter().map(|at| (at.panel.id.as_str(), &at.panel)).collect();
    let fit = layout.cut_plan.sticks.iter().all(|stick| holds(&panels, stick));
    let question = Question::own("sticks of the cut plan").code(Code::StockTooShort);
    record.fact(question, "each holds its pieces one behind the other", fit);
    ordered(layout, record);
}

/// Every member of every panel, and every handrail that is cut at all, once and in its length.
fn pieces(layout: &Layout, record: &mut Record) {
    let mut wanted: BTreeMap<(&str, Stocked), Length> = BTreeMap::new();
    for panel in layout.panels.iter().map(|at| &at.panel) {
        wanted.extend(panel.cuts.iter().map(|cut| ((panel.id.as_str(), cut.member.into()), cut.tip_to_tip)));
    }
    let sells_handrails = layout.system.stock.iter().any(|stock| stock.member == Stocked::Handrail);
    if sells_handrails {
        let total = |rail: &crate::guard::Handrail| rail.extension_top + rail.length + rail.extension_bottom;
        wanted.extend(layout.handrails.iter().map(|rail| ((rail.id.as_str(), Stocked::Handrail), total(rail))));
    }
    let mut as_wanted = true;
    for stick in &layout.cut_plan.sticks {
        for piece in &stick.pieces {
            as_wanted &= wanted.remove(&(piece.of.as_str(), stick.member)) == Some(piece.length);
        }
    }
    let question = Question::own("pieces of the cut plan").code(Code::StockTooShort);
    record.fact(question, "each piece of the panels and handrails once, in its length", as_wanted && wanted.is_empty());
}

/// Pieces follow each other without lying on each other; tips of angled cuts may stand in one another's wedge.
fn holds(panels: &Panels<'_>, stick: &Stick) -> bool {
    let tips = |of: &str| {
        let cut = panels.get(of)?.cuts.iter().find(|cut| Stocked::from(cut.member) == stick.member)?;
        Some(cut.tip_to_tip - cut.short_point)
    };
    let mut reached = Length::ZERO;
    let mut slack = Length::ZERO;
    for piece in &stick.pieces {
        let own = tips(&piece.of).unwrap_or(Length::ZERO);
        if piece.at + slack.max(own) < reached {
            return false;
        }
        (reached, slack) = (piece.at + piece.length, own);
    }
    let rest = stick.offcut >= Length::ZERO && reached + stick.offcut <= stick.length + Length::NOISE;
    reached <= stick.length && rest
}

/// Kits and stock lengths on the order, each at least as often as the cut plan takes it.
fn ordered(layout: &Layout, record: &mut Record) {
    let mut needed: BTreeMap<&str, Vec<Option<u32>>> = BTreeMap::new();
    for stick in &layout.cut_plan.sticks {
        let list = match stick.source {
            Source::Kit(number) => {
                let numbers = needed.entry(&stick.stock).or_default();
                if !numbers.contains(&Some(number)) {
                    numbers.push(Some(number));
                }
                continue;
            }
            Source::Stock => needed.entry(&stick.stock).or_default(),
            Source::OnHand => continue,
        };
        list.push(None);
    }
    for (stock, sticks) in needed {
        let count = layout
            .order
            .iter()
            .filter(|line| line.item == stock)
            .map(|line| u64::from(line.quantity).min(u64::from(line.pack.max(1)) * u64::from(line.packs)));
        let (needed, ordered) = (sticks.len() as u64, count.sum::<u64>());
        let question = Question::own(&format!("{stock} in the order"));
        record.fact(question, format!("{needed} or more; {ordered} are ordered"), ordered >= needed);
    }
}
