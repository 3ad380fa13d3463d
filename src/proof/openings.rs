//! Where a sphere could pass, and how high the guard is.

use super::record::{Question, Record};
use super::slope::{Slope, stack};
use super::{Required, least_height, sphere};
use crate::base::{Code, Length};
use crate::catalog::BalusterStyle;
use crate::panel::PanelInfill;
use crate::parts::{Layout, LayoutPanel};

pub(super) fn check(layout: &Layout, at: &LayoutPanel, record: &mut Record) {
    let panel = &at.panel;
    if panel.infill == PanelInfill::Balusters {
        check_balusters(layout, at, record);
    }
    // On a stair the steps lie beneath it, not the line through the nosings.
    if let Some((kind, limit)) = sphere(layout, false).filter(|_| at.span.rake.is_none()) {
        let question = Question::rule("opening under the lowest member", &layout.rules, kind);
        record.space(question, limit, panel.bottom_gap);
    }
    check_height(layout, at, record);
    let built = panel.cuts.iter().map(|cut| cut.member);
    let has_all = built.eq(layout.system.members.iter().map(|member| member.role));
    let question = Question::system("members", &layout.system, "member");
    record.fact(question, "each member of the system once, from low to high", has_all);
}

/// The spaces between balusters, and the figures that lists and drawings show of them.
fn check_balusters(layout: &Layout, at: &LayoutPanel, record: &mut Record) {
    let free = free_spaces(at, layout.system.baluster_width());
    let widest = free.iter().copied().max().unwrap_or(Length::ZERO);
    if let Some((kind, required)) = sphere(layout, at.span.rake.is_some()) {
        let rule = |what| Question::rule(what, &layout.rules, kind);
        record.space(rule("widest opening between balusters"), required.clone(), widest);
        if let Some(measured) = at.measured {
            // Between leaning posts one of the end gaps can be wider by all that the opening is.
            let ends = [free.first(), free.last()].into_iter().flatten().max().copied().unwrap_or(Length::ZERO);
            let question = rule("end gap where the measured opening is widest");
            record.space(question, required, ends + measured.wide - measured.narrow);
        }
    }
    check_stated(at, &free, record);
    check_division(layout, at, &free, record);
}

/// The parts on each other, plumb, and the height that the rules ask for.
fn check_height(layout: &Layout, at: &LayoutPanel, record: &mut Record) {
    let on_stair = at.span.rake.is_some();
    let stack = stack(layout, at);
    let question = Question::own("height of the parts on each other");
    let exact = Length::from_millimetres(stack).filter(|_| !on_stair);
    match exact {
        Some(stack) => record.exact(question, Required::Exactly(at.panel.height), stack),
        None => record.plan(question, Required::Exactly(at.panel.height), stack),
    }
    check_system_height(layout, at, record);
    let Some((kind, limit)) = least_height(layout, on_stair) else { return };
    let question = Question::rule("height of the guard", &layout.rules, kind);
    match exact {
        Some(stack) => record.exact(question, Required::AtLeast(limit), stack),
        None => record.plan(question, Required::AtLeast(limit), stack),
    }
}

/// The system's own height and gap: a level panel has just these, a raked one is no lower and no further up.
fn check_system_height(layout: &Layout, at: &LayoutPanel, record: &mut Record) {
    let (system, panel) = (&layout.system, &at.panel);
    let question = |what, field| Question::system(what, system, field);
    match (at.span.rake, &system.raked) {
        (None, _) => {
            let height = question("height of the panel", "height").code(Code::GuardTooLow);
            record.exact(height, Required::Exactly(system.height), panel.height);
            record.exact(
                question("gap beneath the panel", "bottom-gap"),
                Required::Exactly(system.bottom_gap),
                panel.bottom_gap,
            );
        }
        (Some(_), Some(raked)) => {
            let height = question("height of the panel", "raked.height").code(Code::GuardTooLow);
            record.plan(height, Required::AtLeast(raked.height), panel.height.millimetres());
            let gap = question("gap beneath the panel", "raked.bottom-gap");
            record.exact(gap, Required::AtMost(raked.bottom_gap), panel.bottom_gap);
        }
        (Some(_), None) => {}
    }
}

/// The figures that lists and drawings show of the gaps.
fn check_stated(at: &LayoutPanel, free: &[Length], record: &mut Record) {
    let balusters = &at.panel.balusters;
    // A width of an odd number of nanometres has no exact half, and what lies level under a slope no exact length.
    let noise = Length::from_nanometres(if at.span.rake.is_some() { 5 } else { 1 });
    let same = |stated: Length, found: Option<&Length>| found.is_some_and(|&found| (stated - found).abs() <= noise);
    let agree = same(balusters.widest_gap, free.iter().max())
        && same(balusters.end_gap_left, free.first())
        && same(balusters.end_gap_right, free.last());
    record.fact(Question::own("stated gaps"), "the gaps that the marks leave", agree);
}

/// The stated style and spacing are those of the marks, to a mark.
fn check_division(layout: &Layout, at: &LayoutPanel, free: &[Length], record: &mut Record) {
    let balusters = &at.panel.balusters;
    let step = layout.measure.mark.length();
    let mut steps = balusters.marks.iter().zip(balusters.marks.iter().skip(1)).map(|(a, b)| *b - *a);
    let is_spaced = steps.all(|between| (between - balusters.spacing).abs() <= step);
    record.fact(Question::own("stated spacing of the balusters"), "that of the marks, to a mark", is_spaced);
    // Two marks are rounded at either end of a gap, and the clearances can differ by one.
    let alike = |gaps: &[Length]| gaps.iter().max().zip(gaps.iter().min()).is_none_or(|(a, b)| *a - *b <= step * 2);
    let ends: Vec<Length> = [free.first(), free.last()].into_iter().flatten().copied().collect();
    let holds = match balusters.style {
        BalusterStyle::Even => alike(free),
        BalusterStyle::Centred | BalusterStyle::Punched => alike(&ends),
    };
    record.fact(Question::own("division of the balusters"), "alike from both ends, as its style says", holds);
}

/// Every clear space that a sphere finds when it slides from face to face along the rail, left to right; level on a
/// stair, too, since balusters stand plumb.
///
/// Works in half nanometres on what each baluster occupies, in the order of place, so that balusters in any order and
/// on top of each other are measured as they stand.
fn free_spaces(at: &LayoutPanel, width: Length) -> Vec<Length> {
    let (panel, slope) = (&at.panel, Slope::of(at.span.rake));
    let twice = |length: Length| length.nanometres().saturating_mul(2);
    let mut occupied: Vec<(i64, i64)> = panel
        .balusters
        .marks
        .iter()
        .map(|&centre| slope.twice_level(centre))
        .map(|centre| (centre - width.nanometres(), centre + width.nanometres()))
        .collect();
    occupied.sort_unstable();
    let far_face = slope.twice_level(panel.length) + twice(panel.clearance_right);
    let mut reached = -twice(panel.clearance_left);
    let mut free = Vec::with_capacity(occupied.len() + 1);
    for (start, end) in occupied.into_iter().chain([(far_face, far_face)]) {
        if start > reached {
            free.push(Length::from_nanometres((start - reached + 1).div_euclid(2)));
        }
        reached = reached.max(end);
    }
    free
}
