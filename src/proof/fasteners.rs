//! Marks: on the grid, on the rail, and out of each other's way.

use super::Required;
use super::record::{Question, Record};
use crate::base::{Code, Length};
use crate::catalog::BalusterStyle;
use crate::panel::{BracketAt, Panel};
use crate::parts::{Layout, LayoutPanel};

pub(super) fn check(layout: &Layout, at: &LayoutPanel, record: &mut Record) {
    let panel = &at.panel;
    check_grid(layout, panel, record);
    check_places(layout, panel, record);
    check_brackets(layout, panel, record);
    check_blocks(layout, panel, record);
    check_cap_screws(layout, panel, record);
    if panel.balusters.style == BalusterStyle::Punched {
        check_punched(layout, panel, record);
    }
}

/// Everything that is marked on the rail can be marked with the job's marks.
fn check_grid(layout: &Layout, panel: &Panel, record: &mut Record) {
    let step = layout.measure.mark.length().nanometres();
    let holes = panel.brackets.iter().flat_map(|bracket| &bracket.holes);
    let all = panel.balusters.marks.iter().chain(&panel.blocks).chain(&panel.cap_screws).chain(holes);
    let is_on_grid = all.chain([&panel.length]).all(|mark| mark.nanometres().rem_euclid(step) == 0);
    let question = Question::own("marks").code(Code::MarkOffRail);
    record.fact(question, "whole marks of the job's grid", is_on_grid);
}

/// Everything lies on the rail, from left to right, and nothing in one place with its neighbour.
fn check_places(layout: &Layout, panel: &Panel, record: &mut Record) {
    let rail = Length::ZERO..=panel.length;
    let half = layout.system.baluster.width.half();
    let marks = &panel.balusters.marks;
    let stand_free = neighbours(marks).all(|(a, b)| b - a >= layout.system.baluster.width);
    let stand_on = marks.iter().all(|&mark| rail.contains(&(mark - half)) && rail.contains(&(mark + half)));
    let rises = |list: &[Length]| neighbours(list).all(|(a, b)| a < b) && list.iter().all(|m| rail.contains(m));
    let question = |what| Question::own(what).code(Code::MarkOffRail);
    record.fact(question("balusters"), "on the rail, left to right, side by side", stand_free && stand_on);
    let holds = rises(&panel.blocks) && rises(&panel.cap_screws);
    record.fact(question("blocks and cap screws"), "on the rail, left to right", holds);
}

/// Each held member has a bracket at both ends with the system's holes, and no baluster stands in one.
fn check_brackets(layout: &Layout, panel: &Panel, record: &mut Record) {
    let bracket = &layout.system.bracket;
    let question = |what, field| Question::system(what, &layout.system, field);
    let has_one = |member, left| panel.brackets.iter().filter(|b| b.member == member && b.left == left).count() == 1;
    let are_held = bracket.members.iter().all(|&member| has_one(member, true) && has_one(member, false))
        && panel.brackets.len() == 2 * bracket.members.len();
    record.fact(question("brackets", "bracket.members"), "one at each end of each member that has them", are_held);

    let step = layout.measure.mark.length();
    let fits = |at: &BracketAt| {
        at.setback == bracket.setback
            && at.holes.len() == bracket.holes.len()
            && at.holes.iter().zip(&bracket.holes).all(|(&mark, hole)| {
                let from_end = if at.left { mark } else { panel.length - mark };
                ((from_end - at.setback - hole.along) * 2).abs() <= step
            })
    };
    let question = question("bracket holes", "bracket.hole").code(Code::MarkOffRail);
    record.fact(question, "the system's pattern, to half a mark", panel.brackets.iter().all(fits));

    let half = layout.system.baluster.width - layout.system.baluster.width.half();
    let marks = || panel.balusters.marks.iter();
    let from_left = marks().map(|&mark| mark - half).min();
    let from_right = marks().map(|&mark| panel.length - mark - half).min();
    for (left, nearest) in [(true, from_left), (false, from_right)] {
        let Some(nearest) = nearest else { continue };
        if panel.brackets.iter().any(|at| at.left == left) {
            let what = if left { "baluster from the left rail end" } else { "baluster from the right rail end" };
            let question = Question::system(what, &layout.system, "bracket.reach").code(Code::BalusterInBracket);
            record.exact(question, Required::AtLeast(bracket.reach), nearest);
        }
    }
}

fn check_blocks(layout: &Layout, panel: &Panel, record: &mut Record) {
    let question = |what, field| Question::system(what, &layout.system, field);
    let table = question("support blocks", "blocks.count");
    let Some(blocks) = &layout.system.blocks else {
        record.fact(table, "none in this system", panel.blocks.is_empty());
        return;
    };
    let mut rows: Vec<_> = blocks.counts.iter().filter(|row| row.up_to >= panel.length).collect();
    rows.sort_by_key(|row| row.up_to);
    match rows.first() {
        Some(row) => {
            record.fact(table, format!("{} by the table", row.blocks), panel.blocks.len() == usize::from(row.blocks));
        }
        None => record.fact(table, "a rail that the table reaches to", false),
    }
    if let Some(nearest) = nearest(&panel.blocks, &panel.balusters.marks) {
        let question = question("block screw from a baluster's screw", "blocks.screw-clearance");
        record.exact(question.code(Code::ScrewsMeet), Required::AtLeast(blocks.screw_clearance), nearest);
    }
}

fn check_cap_screws(layout: &Layout, panel: &Panel, record: &mut Record) {
    let question = |what, field| Question::system(what, &layout.system, field);
    let Some(screws) = &layout.system.cap_screws else {
        record.fact(question("cap screws", "cap-screws"), "none in this system", panel.cap_screws.is_empty());
        return;
    };
    record.fact(question("cap screws", "cap-screws"), "at least one", !panel.cap_screws.is_empty());
    let stations: Vec<Length> =
        std::iter::once(Length::ZERO).chain(panel.cap_screws.iter().copied()).chain([panel.length]).collect();
    let widest = neighbours(&stations).map(|(a, b)| b - a).max().unwrap_or(panel.length);
    let spacing = question("cap screw spacing", "cap-screws.longest-spacing");
    record.exact(spacing, Required::AtMost(screws.longest_spacing), widest);
    if let Some(nearest) = nearest(&panel.cap_screws, &panel.balusters.marks) {
        let question = question("cap screw from a baluster's screw", "cap-screws.screw-clearance");
        record.exact(question.code(Code::ScrewsMeet), Required::AtLeast(screws.screw_clearance), nearest);
    }
}

/// Balusters of a punched rail stand where the rail has its holes, to a mark: each one hole on, and none drifting.
fn check_punched(layout: &Layout, panel: &Panel, record: &mut Record) {
    let pitch = layout.system.baluster.spacing;
    let marks = &panel.balusters.marks;
    let Some(&first) = marks.first() else { return };
    let steps = neighbours(marks).map(|(a, b)| (b - a - pitch).abs());
    let drifts = marks.iter().map(|&mark| {
        let over = (mark - first).nanometres().rem_euclid(pitch.nanometres().max(1));
        Length::from_nanometres(over.min(pitch.nanometres() - over))
    });
    let off = steps.chain(drifts).max().unwrap_or(Length::ZERO);
    let question = Question::system("punched holes off their pitch", &layout.system, "baluster.spacing");
    record.exact(question, Required::AtMost(layout.measure.mark.length()), off);
}

fn neighbours(list: &[Length]) -> impl Iterator<Item = (Length, Length)> + '_ {
    list.iter().zip(list.iter().skip(1)).map(|(&a, &b)| (a, b))
}

/// Least distance between a mark of one list and one of the other.
fn nearest(some: &[Length], others: &[Length]) -> Option<Length> {
    some.iter().flat_map(|&a| others.iter().map(move |&b| (a - b).abs())).min()
}
