//! The cut plan: every piece is cut once, with room for the saw, from sticks that are sold or lie in the shop; and what it
//! says of itself is so.

use std::collections::{BTreeMap, BTreeSet};

use super::order::sells_handrails;
use super::record::{Question, Record};
use crate::base::{Angle, Code, Length, Place};
use crate::catalog::{Kit, StockLength, Stocked};
use crate::guard::Handrail;
use crate::panel::{Cut, Panel};
use crate::parts::{Cost, Layout, Source, Stick, StickPiece};

/// Lengths along a slanted cut are rounded to the nanometre, at each of its ends.
const NOISE: Length = Length::from_nanometres(10);

/// Panels by id.
type Panels<'a> = BTreeMap<&'a str, &'a Panel>;

pub(super) fn check(layout: &Layout, record: &mut Record) {
    record.at(Place::none());
    if layout.panels.is_empty() && layout.handrails.is_empty() && layout.cut_plan.sticks.is_empty() {
        return;
    }
    let panels: Panels<'_> = layout.panels.iter().map(|at| (at.panel.id.as_str(), &at.panel)).collect();
    let plan = &layout.cut_plan;
    let mut fact = |what: &str, asked: &str, holds: bool| {
        record.fact(Question::own(what).code(Code::StockTooShort), asked, holds);
    };
    let (are_wanted, missing) = pieces(layout);
    fact("pieces of the cut plan", "pieces of the panels and handrails, each in its length and no oftener", are_wanted);
    let room = "each holds its pieces one behind the other, with what the saw takes between them";
    fact("sticks of the cut plan", room, plan.sticks.iter().all(|stick| holds(layout, &panels, stick)));
    let sold = "each as the system sells it, or as it lies in the shop";
    fact("sticks of the cut plan by length and price", sold, are_sold(layout, &panels));
    let summed = "the sums of its sticks, and no less than its bound";
    fact("cost and waste of the cut plan", summed, is_summed(layout, &panels));
    let kits = plan.kits();
    let is_own = layout.panels.iter().all(|at| {
        let price = layout.system.kits.iter().find(|kit| Some(&kit.name) == at.kit.as_ref()).and_then(|kit| kit.price);
        kits.get(at.panel.id.as_str()).copied() == at.kit.as_deref() && at.price == price
    });
    fact("kits of the panels", "those that they are cut from, at their price", is_own);
    for of in missing {
        record.at(if panels.contains_key(of) { Place::panel(of) } else { Place::none() });
        let question = Question::own(&format!("pieces of {of}")).code(Code::StockTooShort);
        record.fact(question, "each in the cut plan", false);
    }
}

/// All of a handrail.
fn total(rail: &Handrail) -> Length {
    rail.extension_top + rail.length + rail.extension_bottom
}

/// Whether all that is cut is wanted, once and in its length; and whose pieces are not cut: members of panels, and
/// handrails where there is something to cut them from.
fn pieces(layout: &Layout) -> (bool, BTreeSet<&str>) {
    let mut wanted: BTreeMap<(&str, Stocked), Length> = BTreeMap::new();
    for panel in layout.panels.iter().map(|at| &at.panel) {
        wanted.extend(panel.cuts.iter().map(|cut| ((panel.id.as_str(), cut.member.into()), cut.tip_to_tip)));
    }
    if sells_handrails(layout) {
        wanted.extend(layout.handrails.iter().map(|rail| ((rail.id.as_str(), Stocked::Handrail), total(rail))));
    }
    let mut pieces =
        layout.cut_plan.sticks.iter().flat_map(|stick| stick.pieces.iter().map(move |piece| (stick, piece)));
    let are_wanted =
        pieces.all(|(stick, piece)| wanted.remove(&(piece.of.as_str(), stick.member)) == Some(piece.length));
    (are_wanted, wanted.into_keys().map(|(of, _)| of).collect())
}

/// Whether pieces may lie tip against tip: not in a kit, nor in pieces of the shop that stand for one.
fn nests(layout: &Layout, panel: &Panel, stick: &Stick) -> bool {
    let system = &layout.system;
    let member = system.members.iter().find(|m| Stocked::from(m.role) == stick.member);
    let is_held = |kit: &Kit| kit.serves.fits(panel.rake.is_some()) && member.is_some_and(|m| kit.holds(m.role));
    let is_single = |other: &Stick| other.source == Source::Stock && other.member == stick.member;
    match stick.source {
        Source::Kit(_) => false,
        Source::Stock => true,
        Source::OnHand => !system.kits.iter().any(is_held) || layout.cut_plan.sticks.iter().any(is_single),
    }
}

/// The one angle at which both ends of a piece are cut, and how far a tip reaches along the rail, where a neighbour's end
/// may lie against it: a parallelogram in a shop that nests them.
fn lean(layout: &Layout, panels: &Panels<'_>, stick: &Stick, piece: &StickPiece) -> Option<(f64, f64)> {
    let panel = panels.get(piece.of.as_str())?;
    let cut = panel.cuts.iter().find(|cut| Stocked::from(cut.member) == stick.member)?;
    let member = layout.system.member(cut.member)?;
    let Cut { left, right, plumb, .. } = cut;
    let is_skew = *left != Angle::ZERO || *right != Angle::ZERO;
    let (angle, width) = match *plumb == Angle::ZERO {
        true if (left.degrees() + right.degrees()).abs() < 1e-6 => (left.radians(), member.width),
        false if !is_skew => (plumb.radians(), member.height),
        _ => return None,
    };
    let may = layout.shop.nest && angle != 0.0 && nests(layout, panel, stick);
    may.then(|| (angle, width.millimetres() * angle.tan().abs()))
}

/// From the left tip of a piece to that of the next: its length and the saw's cut between square tips; side by side at one
/// angle a tip less, and what the saw takes along the rail.
fn pitch(layout: &Layout, piece: &StickPiece, lean: Option<(f64, f64)>, next: Option<(f64, f64)>) -> Length {
    let square = piece.length + layout.shop.kerf;
    let Some((angle, tip)) = lean.filter(|own| next.is_some_and(|n| (own.0 - n.0).abs() < 1e-8 && own.1 == n.1)) else {
        return square;
    };
    let cut = layout.shop.kerf.millimetres() / angle.cos();
    Length::from_millimetres(piece.length.millimetres() - tip + cut).unwrap_or(square)
}

/// Pieces follow each other from the trimmed end on, and the rest is what is left behind them.
fn holds(layout: &Layout, panels: &Panels<'_>, stick: &Stick) -> bool {
    let shop = &layout.shop;
    let leans: Vec<_> = stick.pieces.iter().map(|piece| lean(layout, panels, stick, piece)).collect();
    let near = |a: Length, b: Length| (a - b).abs() <= NOISE;
    let starts = stick.pieces.first().is_some_and(|first| near(first.at, shop.trim));
    let pairs = stick.pieces.iter().zip(&leans).zip(stick.pieces.iter().zip(&leans).skip(1));
    let follow = { pairs }.all(|((piece, own), (after, next))| {
        let least = piece.at + pitch(layout, piece, *own, *next);
        // Where another row begins the stick is parted square, or behind the slanted cut, whichever lies further.
        let most = own.map_or(least, |_| least.max(piece.at + pitch(layout, piece, *own, *own)));
        after.at >= least - NOISE && after.at <= most + NOISE
    });
    let Some(end) = stick.pieces.last().map(|last| last.at + last.length) else { return false };
    let offcut = (stick.length - end - shop.kerf).max(Length::ZERO);
    let kept = offcut >= shop.least_offcut;
    let is_kept = stick.kept == kept || offcut <= NOISE;
    starts && follow && end + shop.trim <= stick.length + NOISE && near(stick.offcut, offcut) && is_kept
}

/// What a kit or stock length costs, in hundredths; nothing where not all that is sold has a price.
fn hundredths(layout: &Layout, price: Option<f64>) -> Option<i64> {
    let system = &layout.system;
    let prices = system.kits.iter().map(|kit| kit.price).chain(system.stock.iter().map(|stock| stock.price));
    let all = { prices }.all(|price| price.is_some());
    price.filter(|_| all).map(|price| (price * 100.0).round() as i64)
}

/// Sticks as they are sold or lie there, each kit opened once.
fn are_sold(layout: &Layout, panels: &Panels<'_>) -> bool {
    let system = &layout.system;
    let mut opened: BTreeMap<u32, (&str, BTreeSet<Stocked>)> = BTreeMap::new();
    let mut lying: BTreeMap<(Stocked, Length), u64> = BTreeMap::new();
    for own in &layout.on_hand {
        *lying.entry((own.member, own.length)).or_default() += u64::from(own.count);
    }
    layout.cut_plan.sticks.iter().all(|stick| match stick.source {
        Source::Kit(number) => {
            let Some(kit) = system.kits.iter().find(|kit| kit.name == stick.stock) else { return false };
            let serves = |piece: &StickPiece| {
                panels.get(piece.of.as_str()).is_some_and(|panel| kit.serves.fits(panel.rake.is_some()))
            };
            let holds = system.members.iter().any(|m| Stocked::from(m.role) == stick.member && kit.holds(m.role));
            let is_first = !opened.contains_key(&number);
            let (name, members) = opened.entry(number).or_insert_with(|| (&stick.stock, BTreeSet::new()));
            let price = hundredths(layout, kit.price).filter(|_| is_first);
            *name == stick.stock
                && members.insert(stick.member)
                && holds
                && stick.length == kit.length
                && stick.price == price
                && stick.pieces.iter().all(serves)
        }
        Source::Stock => {
            let is_it = |s: &&StockLength| s.name == stick.stock && s.member == stick.member;
            let sold = system.stock.iter().find(is_it);
            sold.is_some_and(|s| s.length == stick.length && stick.price == hundredths(layout, s.price))
        }
        Source::OnHand => {
            let left = lying.get_mut(&(stick.member, stick.length)).filter(|left| **left > 0);
            stick.price.is_none() && left.map(|left| *left -= 1).is_some()
        }
    })
}

/// A sum that no number of sticks in a file is too much for.
fn nanometres(lengths: impl Iterator<Item = Length>) -> i128 {
    lengths.map(|length| i128::from(length.nanometres())).sum()
}

/// Cost, lengths and waste are what the sticks come to.
fn is_summed(layout: &Layout, panels: &Panels<'_>) -> bool {
    let plan = &layout.cut_plan;
    let bought = || plan.sticks.iter().filter(|stick| stick.source != Source::OnHand);
    let is_priced = hundredths(layout, Some(0.0)).is_some() && bought().count() > 0;
    let cost = match plan.cost {
        Cost::Price(cost) => i128::from(cost) == bought().filter_map(|stick| stick.price.map(i128::from)).sum::<i128>(),
        Cost::Length(cost) => i128::from(cost.nanometres()) == nanometres(bought().map(|stick| stick.length)),
    };
    let same = matches!(plan.cost, Cost::Price(_)) == matches!(plan.lower_bound, Cost::Price(_));
    let basis = !is_priced || matches!(plan.cost, Cost::Price(_));
    let used = nanometres(plan.sticks.iter().map(|stick| stick.length));
    let net = |stick: &Stick| -> f64 {
        let tip = |piece: &StickPiece| lean(layout, panels, stick, piece).map_or(0.0, |(_, tip)| tip);
        stick.pieces.iter().map(|piece| piece.length.millimetres() - tip(piece)).sum()
    };
    let kept = nanometres(plan.sticks.iter().filter(|stick| stick.kept).map(|stick| stick.offcut));
    let waste = (used - kept) as f64 / 1e6 - plan.sticks.iter().map(net).sum::<f64>();
    let near = (plan.waste.millimetres() - waste).abs() <= NOISE.millimetres() * (2 + plan.sticks.len()) as f64;
    let bound = (0..=plan.cost.number()).contains(&plan.lower_bound.number());
    cost && same && basis && used == i128::from(plan.used.nanometres()) && near && bound
}
