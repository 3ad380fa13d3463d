//! Sums of lengths, limits of the system's lengths, and cuts against their stock.

use std::collections::BTreeSet;

use super::Required;
use super::record::{Question, Record};
use super::slope::Slope;
use crate::base::{Code, Length, plane};
use crate::catalog::RailSystem;
use crate::guard::Rake;
use crate::panel::Panel;
use crate::parts::{Layout, LayoutPanel};

pub(super) fn check_names(layout: &Layout, record: &mut Record) {
    let panels: BTreeSet<&str> = layout.panels.iter().map(|p| p.span.id.as_str()).collect();
    let posts: BTreeSet<&str> = layout.posts.iter().map(|p| p.id.as_str()).collect();
    let are_own = panels.len() == layout.panels.len() && posts.len() == layout.posts.len();
    let agree = layout.panels.iter().all(|p| p.span.id == p.panel.id);
    record.fact(Question::own("names"), "each post and panel has its own name", are_own && agree);
}

pub(super) fn check(layout: &Layout, at: &LayoutPanel, record: &mut Record) {
    let (panel, system) = (&at.panel, &layout.system);
    let question = Question::own("clearance, rail and clearance together");
    if at.span.rake.is_some() {
        let level = Slope::of(at.span.rake).level(panel.length);
        let parts = (panel.clearance_left + panel.clearance_right).millimetres() + level;
        record.plan(question, Required::Exactly(panel.span), parts);
    } else {
        let parts = panel.clearance_left + panel.length + panel.clearance_right;
        record.exact(question, Required::Exactly(panel.span), parts);
    }
    let built_for = at.measured.map_or(at.span.clear, |m| m.narrow);
    record.exact(Question::own("span that the panel was built for"), Required::Exactly(built_for), panel.span);
    let apart = plane::distance(at.span.left, at.span.right);
    record.plan(Question::own("distance between the span's ends"), Required::Exactly(at.span.clear), apart);

    let question = |what, field| Question::system(what, system, field);
    let least = panel.clearance_left.min(panel.clearance_right);
    // These follow from a span that was measured in the plan, and are as exact as that.
    let span = panel.span.millimetres();
    record.plan(
        question("end clearance", "end-clearance"),
        Required::AtLeast(system.end_clearance),
        least.millimetres(),
    );
    match at.span.rake {
        None => record.plan(question("clear span", "longest-panel"), Required::AtMost(system.longest_panel), span),
        Some(rake) => check_raked(system, rake, span, record),
    }
    record.plan(question("clear span", "shortest-panel"), Required::AtLeast(system.shortest_panel), span);
    check_cuts(panel, record);
    check_stock(layout, at, record);
}

/// What the system says of panels on stairs.
fn check_raked(system: &RailSystem, rake: Rake, span: f64, record: &mut Record) {
    let question = |what, field| Question::system(what, system, field);
    let Some(raked) = &system.raked else {
        record.fact(question("raked panel", "raked"), "a system that has them", false);
        return;
    };
    record.plan(question("clear span", "raked.longest-panel"), Required::AtMost(raked.longest_panel), span);
    // Rise over run against rise over run, multiplied out.
    let product = |a: Length, b: Length| i128::from(a.nanometres()) * i128::from(b.nanometres());
    let steepest = raked.steepest;
    let is_flatter = product(rake.pitch.rise(), steepest.run()) <= product(steepest.rise(), rake.pitch.run());
    let question = question("slope", "raked.steepest").code(Code::StairTooSteep);
    record.fact(question, format!("at most {steepest}"), is_flatter);
}

fn check_cuts(panel: &Panel, record: &mut Record) {
    let are_ordered = panel.cuts.iter().all(|cut| {
        Length::ZERO < cut.short_point
            && cut.short_point <= cut.length
            && cut.length <= cut.long_point
            && cut.long_point <= cut.tip_to_tip
    });
    let question = Question::own("cut lengths");
    record.fact(question, "short point <= centre line <= long point <= tip to tip", are_ordered);
    let are_equal = panel.cuts.iter().all(|cut| cut.length == panel.length);
    record.fact(Question::own("centre line of each cut"), "the rail's length", are_equal);
}

/// Every piece is cut from its kit's rails.
fn check_stock(layout: &Layout, at: &LayoutPanel, record: &mut Record) {
    let needed = at.panel.cuts.iter().map(|cut| cut.tip_to_tip).max().unwrap_or(Length::ZERO);
    let kits = &layout.system.kits;
    let question = Question::system("rail from tip to tip", &layout.system, "kit").code(Code::StockTooShort);
    match &at.kit {
        Some(name) => match kits.iter().find(|kit| kit.name == *name) {
            Some(kit) => record.exact(question, Required::AtMost(kit.length), needed),
            None => record.fact(question, format!("a kit of the system; it has none named {name}"), false),
        },
        None => match kits.iter().map(|kit| kit.length).max() {
            Some(longest) if needed > longest => record.exact(question, Required::AtMost(longest), needed),
            _ => record.lacking(question, "no kit was chosen for the panel"),
        },
    }
}
