//! Marks: on the grid, on the rail, and out of each other's way.

use super::record::{Question, Record};
use super::slope::Slope;
use super::sphere::Stair;
use super::{PLAN_NOISE_MM, Required, triangle};
use crate::base::{Code, Length};
use crate::catalog::{BalusterStyle, Bracket, Hole, RailSystem, RakedBracket};
use crate::guard::Falls;
use crate::panel::{BracketAt, Panel};
use crate::parts::{Layout, LayoutPanel};

pub(super) fn check(layout: &Layout, at: &LayoutPanel, record: &mut Record) {
    let panel = &at.panel;
    check_grid(layout, panel, record);
    check_places(layout, at, record);
    check_brackets(layout, at, record);
    check_blocks(layout, panel, record);
    check_block_heights(layout, at, record);
    check_cap_screws(layout, panel, record);
    if panel.balusters.style == BalusterStyle::Punched {
        check_punched(layout, at, record);
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
fn check_places(layout: &Layout, at: &LayoutPanel, record: &mut Record) {
    let (panel, slope) = (&at.panel, Slope::of(at.span.rake));
    let rail = Length::ZERO..=panel.length;
    // In half nanometres, level: there a plumb baluster is as wide as it is.
    let width = layout.system.baluster_width().nanometres();
    let centres: Vec<i64> = panel.balusters.marks.iter().map(|&mark| slope.twice_level(mark)).collect();
    let stand_on = centres.iter().all(|mark| *mark >= width && mark + width <= slope.twice_level(panel.length));
    let stand_free = centres.iter().zip(centres.iter().skip(1)).all(|(a, b)| b - a >= width.saturating_mul(2));
    let rises = |list: &[Length]| neighbours(list).all(|(a, b)| a < b) && list.iter().all(|m| rail.contains(m));
    let question = |what| Question::own(what).code(Code::MarkOffRail);
    record.fact(question("balusters"), "on the rail, left to right, side by side", stand_free && stand_on);
    let holds = rises(&panel.blocks) && rises(&panel.cap_screws);
    record.fact(question("blocks and cap screws"), "on the rail, left to right", holds);
    let system = &layout.system;
    let blocks = system.blocks.as_ref().map(|blocks| (&panel.blocks, blocks.screw_clearance));
    let screws = system.cap_screws.as_ref().map(|screws| (&panel.cap_screws, screws.screw_clearance));
    let divide = [blocks, screws].into_iter().flatten().all(|(marks, clear)| is_divided(layout, at, marks, clear));
    let asked = "at equal divisions of the rail, or in the middle between two balusters";
    record.fact(question("places of blocks and cap screws"), asked, divide);
}

/// Whether marks divide the rail equally, to half a mark; one whose place a baluster's screw takes stands in the middle
/// of a free stretch of the rail instead, to a mark.
fn is_divided(layout: &Layout, at: &LayoutPanel, marks: &[Length], clearance: Length) -> bool {
    let (panel, slope) = (&at.panel, Slope::of(at.span.rake));
    let step = layout.measure.mark.length().millimetres();
    let half = slope.over(layout.system.baluster_width().millimetres() / 2.0);
    let centres = || panel.balusters.marks.iter().map(|mark| mark.millimetres());
    let mut edges = vec![0.0];
    edges.extend(centres().flat_map(|centre| [centre - half, centre + half]));
    edges.push(panel.length.millimetres());
    let middles: Vec<f64> = edges.chunks(2).map(|pair| pair.iter().sum::<f64>() / 2.0).collect();
    let spaces = marks.len() as f64 + 1.0;
    marks.iter().zip(1_u32..).all(|(mark, k)| {
        let (mark, equal) = (mark.millimetres(), panel.length.millimetres() * f64::from(k) / spaces);
        let near = |place: f64, by: f64| (mark - place).abs() <= by + PLAN_NOISE_MM;
        let is_taken = centres().any(|centre| (centre - equal).abs() < clearance.millimetres() + step / 2.0);
        let off = middles.iter().map(|middle| (middle - equal).abs()).fold(f64::INFINITY, f64::min);
        // Of two that are equally near either will do.
        let is_next = |middle: &f64| near(*middle, step) && (middle - equal).abs() <= off + step;
        near(equal, step / 2.0) || is_taken && middles.iter().any(is_next)
    })
}

/// What the system says of a bracket at the panel's slope.
struct Connector<'a> {
    field: &'static str,
    setback: Length,
    reach: Length,
    holes: &'a [Hole],
}

impl<'a> Connector<'a> {
    fn of(system: &'a RailSystem, is_raked: bool) -> Option<Self> {
        if is_raked {
            let RakedBracket { setback, reach, holes } = &system.raked.as_ref()?.bracket;
            return Some(Self { field: "raked.bracket", setback: *setback, reach: *reach, holes });
        }
        let Bracket { setback, reach, holes, .. } = &system.bracket;
        Some(Self { field: "bracket", setback: *setback, reach: *reach, holes })
    }
}

/// Each held member has a bracket at both ends with the system's holes, and no baluster stands in one.
fn check_brackets(layout: &Layout, at: &LayoutPanel, record: &mut Record) {
    let panel = &at.panel;
    let members = &layout.system.bracket.members;
    let has_one = |member, left| panel.brackets.iter().filter(|b| b.member == member && b.left == left).count() == 1;
    let are_held = members.iter().all(|&member| has_one(member, true) && has_one(member, false))
        && panel.brackets.len() == 2 * members.len();
    let question = Question::system("brackets", &layout.system, "bracket.members");
    record.fact(question, "one at each end of each member that has them", are_held);
    // A panel on a stair of a system that has none is a failure already.
    let Some(bracket) = Connector::of(&layout.system, at.span.rake.is_some()) else { return };
    let question = |what, field: &str| Question::system(what, &layout.system, &format!("{}.{field}", bracket.field));
    let step = layout.measure.mark.length();
    let fits = |at: &BracketAt| {
        at.setback == bracket.setback
            && at.holes.len() == bracket.holes.len()
            && at.holes.iter().zip(bracket.holes).all(|(&mark, hole)| {
                let from_end = if at.left { mark } else { panel.length - mark };
                ((from_end - at.setback - hole.along) * 2).abs() <= step
            })
    };
    let holes = question("bracket holes", "hole").code(Code::MarkOffRail);
    record.fact(holes, "the system's pattern, to half a mark", panel.brackets.iter().all(fits));

    let slope = Slope::of(at.span.rake);
    let width = layout.system.baluster_width();
    let half = if at.span.rake.is_some() {
        // The baluster's upright side meets the rail's face.
        Length::from_millimetres(slope.over(width.millimetres() / 2.0)).unwrap_or(width)
    } else {
        width - width.half()
    };
    let marks = || panel.balusters.marks.iter();
    let from_left = marks().map(|&mark| mark - half).min();
    let from_right = marks().map(|&mark| panel.length - mark - half).min();
    for (left, nearest) in [(true, from_left), (false, from_right)] {
        let Some(nearest) = nearest else { continue };
        if panel.brackets.iter().any(|at| at.left == left) {
            let what = if left { "baluster from the left rail end" } else { "baluster from the right rail end" };
            let question = question(what, "reach").code(Code::BalusterInBracket);
            record.exact(question, Required::AtLeast(bracket.reach), nearest);
        }
    }
}

/// Blocks reach from what they stand on to the lowest member.
fn check_block_heights(layout: &Layout, at: &LayoutPanel, record: &mut Record) {
    let panel = &at.panel;
    let question = Question::own("block heights");
    let Some(rake) = at.span.rake else {
        let same = panel.block_heights.iter().all(|height| *height == panel.bottom_gap);
        record.fact(question, "the gap that they fill", same && panel.block_heights.len() == panel.blocks.len());
        return;
    };
    if panel.blocks.is_empty() && panel.block_heights.is_empty() {
        return;
    }
    let (Some(steps), Some(start)) = (triangle::steps(layout, at), rake.start) else {
        record.fact(question, "none, where the steps beneath are not known", panel.block_heights.is_empty());
        return;
    };
    if at.measured.is_some() {
        record.lacking(question, "where the panel stands above the steps is not known for an opening measured on site");
        return;
    }
    let stair = Stair::below(steps, triangle::risers(layout, at));
    let slope = Slope::of(at.span.rake);
    let found = panel.blocks.iter().map(|&block| {
        let from_upper = match rake.falls {
            Falls::Right => panel.clearance_left.millimetres() + slope.level(block),
            Falls::Left => panel.clearance_right.millimetres() + slope.level(panel.length - block),
        };
        let x = start.millimetres() + from_upper;
        stair.nosing_line(x) + panel.bottom_gap.millimetres() - stair.surface(x)
    });
    let half_mark = layout.measure.mark.length().millimetres() / 2.0 + PLAN_NOISE_MM;
    let agree = panel.block_heights.len() == panel.blocks.len()
        && found.zip(&panel.block_heights).all(|(found, stated)| (stated.millimetres() - found).abs() <= half_mark);
    record.fact(question, "from the step beneath each to the lowest member, to half a mark", agree);
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
fn check_punched(layout: &Layout, at: &LayoutPanel, record: &mut Record) {
    let system = &layout.system;
    let (pitch, field) = if at.span.rake.is_some() {
        (system.raked.as_ref().and_then(|raked| raked.punched_spacing), "raked.punched-spacing")
    } else {
        (system.baluster.as_ref().map(|baluster| baluster.spacing), "baluster.spacing")
    };
    let question = Question::system("punched holes off their pitch", system, field);
    let Some(pitch) = pitch else {
        record.fact(question, "rails for stairs that come punched", false);
        return;
    };
    let marks = &at.panel.balusters.marks;
    let Some(&first) = marks.first() else { return };
    let steps = neighbours(marks).map(|(a, b)| (b - a - pitch).abs());
    let drifts = marks.iter().map(|&mark| {
        let over = (mark - first).nanometres().rem_euclid(pitch.nanometres().max(1));
        Length::from_nanometres(over.min(pitch.nanometres() - over))
    });
    let off = steps.chain(drifts).max().unwrap_or(Length::ZERO);
    record.exact(question, Required::AtMost(layout.measure.mark.length()), off);
}

fn neighbours(list: &[Length]) -> impl Iterator<Item = (Length, Length)> + '_ {
    list.iter().zip(list.iter().skip(1)).map(|(&a, &b)| (a, b))
}

/// Least distance between a mark of one list and one of the other.
fn nearest(some: &[Length], others: &[Length]) -> Option<Length> {
    some.iter().flat_map(|&a| others.iter().map(move |&b| (a - b).abs())).min()
}
