//! Where a sphere could pass, and how high the guard is.

use super::record::{Question, Record};
use super::{Required, sphere};
use crate::base::Length;
use crate::catalog::LimitKind;
use crate::panel::Panel;
use crate::parts::{Layout, LayoutPanel};

pub(super) fn check(layout: &Layout, at: &LayoutPanel, record: &mut Record) {
    let panel = &at.panel;
    let free = free_spaces(panel, layout.system.baluster.width);
    let widest = free.iter().copied().max().unwrap_or(Length::ZERO);
    if let Some(limit) = sphere(layout) {
        let rule = |what| Question::rule(what, &layout.rules, LimitKind::Opening);
        record.space(rule("widest opening between balusters"), Required::Under(limit), widest);
        if let Some(measured) = at.measured {
            // Between leaning posts one of the end gaps can be wider by all that the opening is.
            let ends = [free.first(), free.last()].into_iter().flatten().max().copied().unwrap_or(Length::ZERO);
            let question = rule("end gap where the measured opening is widest");
            record.space(question, Required::Under(limit), ends + measured.wide - measured.narrow);
        }
        record.space(rule("opening under the lowest member"), Required::Under(limit), panel.bottom_gap);
    }
    check_stated(panel, &free, record);

    let heights = panel.cuts.iter().filter_map(|cut| layout.system.member(cut.member)).map(|m| m.height);
    let stack = panel.bottom_gap + heights.sum() + panel.balusters.length;
    record.exact(Question::own("height of the parts on each other"), Required::Exactly(panel.height), stack);
    if let Some(limit) = layout.rules.limit(LimitKind::GuardHeight) {
        let question = Question::rule("height of the guard", &layout.rules, LimitKind::GuardHeight);
        record.exact(question, Required::AtLeast(limit.value), stack);
    }
    let built = panel.cuts.iter().map(|cut| cut.member);
    let has_all = built.eq(layout.system.members.iter().map(|member| member.role));
    let question = Question::system("members", &layout.system, "member");
    record.fact(question, "each member of the system once, from low to high", has_all);
}

/// The figures that lists and drawings show of the gaps.
fn check_stated(panel: &Panel, free: &[Length], record: &mut Record) {
    let balusters = &panel.balusters;
    // A width of an odd number of nanometres has no exact half.
    let same = |stated: Length, found: Option<&Length>| {
        found.is_some_and(|&found| (stated - found).abs() <= Length::from_nanometres(1))
    };
    let agree = same(balusters.widest_gap, free.iter().max())
        && same(balusters.end_gap_left, free.first())
        && same(balusters.end_gap_right, free.last());
    record.fact(Question::own("stated gaps"), "the gaps that the marks leave", agree);
}

/// Every clear space that a sphere finds when it slides from face to face along the rail, left to right.
///
/// Works in half nanometres on what each baluster occupies, in the order of place, so that balusters in any order and
/// on top of each other are measured as they stand.
fn free_spaces(panel: &Panel, width: Length) -> Vec<Length> {
    let twice = |length: Length| length.nanometres().saturating_mul(2);
    let mut occupied: Vec<(i64, i64)> = panel
        .balusters
        .marks
        .iter()
        .map(|&centre| (twice(centre) - width.nanometres(), twice(centre) + width.nanometres()))
        .collect();
    occupied.sort_unstable();
    let far_face = twice(panel.length + panel.clearance_right);
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
