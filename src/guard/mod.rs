//! Plan -> rail lines, posts and clear spans.
//!
//! Takes the strict Plan and the settings; gives posts with balanced rotation and the span of every panel, exact to the
//! nanometre; refuses nothing: what cannot be built is a finding at its place.

mod bays;
mod choices;
mod corners;
mod crowd;
mod curves;
mod edits;
mod free;
mod handrails;
mod line;
mod mouths;
mod nodes;
mod offset;
#[cfg(test)]
mod second_opinion;
mod slope;
mod spans;
mod stairs;
#[cfg(test)]
mod stairs_tests;
mod sticks;
mod topology;
mod track;
mod types;
mod wishes;

use crate::base::plane::point;
use crate::base::{Angle, Code, Finding, Length, Place, Point};
use crate::catalog::{RailSystem, Settings};
use crate::deck::{DrawnPost, Plan};

pub use choices::Choices;
pub use free::Kept;
pub use types::{Before, Falls, Guard, Handrail, OpenSpan, Post, PostKind, PostOrigin, Rake, Run, Span, Support};

/// Lays rail lines along the deck edges, sets posts and measures the spans between them.
pub fn lay_out(plan: &Plan, settings: &Settings) -> (Guard, Vec<Finding>) {
    lay_out_as(plan, settings, Vec::new())
}

/// The same with a way picked for each level stretch among those that [`Guard::choices`] gives, in its order.
pub fn lay_out_as(plan: &Plan, settings: &Settings, picks: Vec<usize>) -> (Guard, Vec<Finding>) {
    let mut findings = Vec::new();
    let mouths = mouths::mouths(plan, settings, &mut findings);
    let mut covers = free::Covers {
        plan,
        reach: settings.touch.millimetres(),
        mouths: &mouths,
        touched: vec![false; plan.zones.len()],
        aslant: Vec::new(),
        kept: Kept::default(),
    };
    let mut lines = Vec::new();
    for (number, chain) in plan.chains.iter().enumerate() {
        let free = free::free(number, chain, &mut covers, &mut findings);
        for run in &free.runs {
            lines.extend(line::rail_lines(chain, run, free.closed, plan, settings, &mut findings));
        }
    }
    findings.extend(free::untouched(plan, &covers.touched));
    findings.append(&mut covers.aslant);
    let choices = Choices { picks, ..Choices::default() };
    let mut guard = Guard { choices, kept: covers.kept, ..Guard::default() };
    let mut starts = Vec::new();
    let (on_stairs, on_deck): (Vec<&DrawnPost>, Vec<&DrawnPost>) =
        plan.posts.iter().partition(|p| stairs::is_on_stair(p, plan, settings));
    for run in nodes::fixed(&lines, &on_deck, settings, &mut findings) {
        let run = curves::divided(run, settings, &mut findings);
        starts.push(guard.posts.len());
        spans::lay(&run, &mut guard, settings, plan, &mut findings);
    }
    stairs::lay(plan, &on_stairs, settings, &mut guard, &mut starts, &mut findings);
    findings.extend(stairs::crossing(&guard));
    handrails::lay(&mut guard, settings, settings.measure(plan.frame.unit).mark, &mut findings);
    edits::take_open(&mut guard, &plan.edits);
    edits::keep_ids(&mut guard, &plan.edits, &mut findings);
    findings.extend(crowd::crowded(&guard, &starts));
    let not_obeyed = edits::not_obeyed(&plan.edits, &guard, &findings);
    findings.extend(not_obeyed);
    // Where the plan has no chain, each was left out with an error, and lies on no wall.
    if guard.spans.is_empty()
        && guard.open.is_empty()
        && !plan.chains.is_empty()
        && findings.iter().all(|f| f.severity < crate::base::Severity::Incomplete)
    {
        findings.push(
            Finding::incomplete(
                Code::NothingToGuard,
                Place::none(),
                "no deck edge is left to guard: all of it lies on walls or in openings",
            )
            .hint("check the wall and opening layers with `plumbrail inspect`"),
        );
    }
    (guard, findings)
}

/// Two posts with a clear distance between their faces: an opening without a plan.
pub fn single(clear: Length, system: &RailSystem) -> Guard {
    let (side, post_height) = (system.post.side, system.height + system.post.above);
    let half = side.millimetres() / 2.0;
    let (left, right) = (point(0.0, 0.0), point(clear.millimetres(), 0.0));
    let ends = [point(-half, 0.0), point(clear.millimetres() + half, 0.0)];
    let post = |(i, at): (usize, &Point)| Post {
        id: format!("P{}", i + 1),
        kind: PostKind::End,
        origin: PostOrigin::Planned,
        at: *at,
        side,
        rotation: Angle::ZERO,
        height: post_height,
        handle: None,
    };
    let span = Span {
        id: "S1".to_owned(),
        run: 0,
        from: Support::Post(0),
        to: Support::Post(1),
        left,
        right,
        clear,
        skew_left: Angle::ZERO,
        skew_right: Angle::ZERO,
        rake: None,
    };
    Guard {
        posts: ends.iter().enumerate().map(post).collect(),
        runs: vec![Run { number: 1, line: ends.to_vec(), closed: false, flight: None }],
        spans: vec![span],
        ..Guard::default()
    }
}
