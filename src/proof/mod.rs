//! Independent re-check of every limit from the finished layout.
//!
//! Takes the layout with its exact lengths and rounded marks; gives every check with what was required and what was
//! measured, and a finding for each that fails or could not be made; refuses nothing. It measures by its own means and
//! calls nothing of the stages that it checks: only their result types are read.

mod clashes;
mod cutting;
mod faces;
mod fasteners;
mod handrails;
mod infill;
mod leaks;
mod lengths;
mod loads;
mod newels;
mod openings;
mod order;
mod record;
mod runs;
mod slope;
mod sphere;
mod stairs;
mod summary;
mod triangle;
mod types;
mod untouched;

#[cfg(test)]
mod agree;
#[cfg(test)]
mod breaks;
#[cfg(test)]
mod follow_breaks;
#[cfg(test)]
mod handrail_breaks;
#[cfg(test)]
mod infill_tests;
#[cfg(test)]
mod sample;
#[cfg(test)]
mod sample_stairs;
#[cfg(test)]
mod sphere_tests;
#[cfg(test)]
mod stair_breaks;

pub use loads::{Load, LoadValue, Moment, NO_DESIGN, loads};
pub use summary::{LimitRow, summary_by_limit};
pub use types::{Asks, Check, Proof, Required, Source, Verdict};

use crate::base::{Length, Place};
use crate::catalog::{Exact, Limit, LimitKind};
use crate::parts::Layout;
use record::{Question, Record};

/// By how much lengths that are measured in the plan may differ from exact ones, in millimetres: above what
/// coordinates written with six decimals of a metre lose, far below any mark.
const PLAN_NOISE_MM: f64 = 0.01;

/// Checks a finished layout.
pub fn prove(layout: &Layout) -> Proof {
    let mut record = Record::new(layout);
    announce_unknowns(layout, &mut record);
    let tolerance = Question::own("cutting tolerance");
    record.fact(tolerance, "of nothing or more", layout.tolerance >= Length::ZERO);
    lengths::check_names(layout, &mut record);
    for panel in &layout.panels {
        let middle = (panel.span.left + panel.span.right) / 2.0;
        record.at(Place::panel(&panel.span.id).with_point(middle));
        openings::check(layout, panel, &mut record);
        infill::check(layout, panel, &mut record);
        lengths::check(layout, panel, &mut record);
        faces::check(layout, panel, &mut record);
        fasteners::check(layout, panel, &mut record);
        triangle::check(layout, panel, &mut record);
    }
    clashes::check(layout, &mut record);
    infill::check_posts(layout, &mut record);
    runs::check(layout, &mut record);
    stairs::check(layout, &mut record);
    newels::check(layout, &mut record);
    handrails::check(layout, &mut record);
    runs::open(layout, &mut record);
    leaks::check(layout, &mut record);
    order::check(layout, &mut record);
    cutting::check(layout, &mut record);
    record.finish(layout)
}

/// Says once what no layout can tell.
fn announce_unknowns(layout: &Layout, record: &mut Record) {
    record.at(Place::none());
    record.unknown(
        Question::rule("drop beside the deck", &layout.rules, LimitKind::GuardNeededAbove),
        "the plan gives no heights, so a guard is taken to be needed along every edge",
    );
    stairs::announce(layout, record);
    for (what, kind) in [("openings", LimitKind::Opening), ("height of the guard", LimitKind::GuardHeight)] {
        if layout.rules.limit(kind).is_none() {
            let why = format!("the rule set {} has no limit for it", layout.rules.name);
            record.lacking(Question::rule(what, &layout.rules, kind), why);
        }
    }
    if let Some(zone) = layout.rules.limit(LimitKind::ClimbFreeFrom).zip(layout.rules.limit(LimitKind::ClimbFreeTo)) {
        let (from, to) = (layout.measure.with_unit(zone.0.value), layout.measure.with_unit(zone.1.value));
        let why =
            format!("between {from} and {to} above the floor nothing may be a foothold: look at all that is level");
        record.lacking(Question::rule("climbing", &layout.rules, LimitKind::ClimbFreeFrom), why);
    }
    if layout.site.is_some() {
        return;
    }
    let at_walls: Vec<&str> =
        layout.panels.iter().filter(|p| faces::meets_wall(&p.span)).map(|p| p.span.id.as_str()).collect();
    if !at_walls.is_empty() {
        let why = format!(
            "the layout holds no walls: the faces at the wall ends of {} are taken as stated, and what is clear between \
             a wall and a post that no rail joins to it is not measured",
            at_walls.join(", ")
        );
        record.unknown(Question::own("wall faces"), why);
    }
}

/// The sphere that must not pass, if the rules have one. On a stair it may be a larger one.
fn sphere(layout: &Layout, on_stair: bool) -> Option<(LimitKind, Required)> {
    let limit = first_limit(layout, on_stair.then_some(LimitKind::StairOpening), LimitKind::Opening)?;
    Some((limit.what, closed_to(limit)))
}

/// What an opening must be so that the limit's sphere does not pass it.
fn closed_to(limit: &Limit) -> Required {
    if fails_at_limit(limit) { Required::Under(limit.value) } else { Required::AtMost(limit.value) }
}

/// Whether an opening of exactly the limit is too wide already: so it is where the code says that a sphere of that size
/// must not pass, and not where it says "not more than".
fn fails_at_limit(limit: &Limit) -> bool {
    limit.exact == Exact::Fails
}

/// How high the guard must be, if the rules say so. On a stair it may be lower.
fn least_height(layout: &Layout, on_stair: bool) -> Option<(LimitKind, Length)> {
    first_limit(layout, on_stair.then_some(LimitKind::StairGuardHeight), LimitKind::GuardHeight)
        .map(|limit| (limit.what, limit.value))
}

/// The special limit, or the general one where the rules make no exception.
fn first_limit(layout: &Layout, special: Option<LimitKind>, general: LimitKind) -> Option<&Limit> {
    special.and_then(|kind| layout.rules.limit(kind)).or_else(|| layout.rules.limit(general))
}
