//! Handrails: on which sides of a flight, where, how long, and on how many brackets.

use crate::base::{Code, Finding, Length, Mark};
use crate::catalog::{CountKind, GraspSection, HandrailSpec, LimitKind, Settings, Sides};
use crate::deck::Flight;

use super::types::{Before, Guard, Handrail};

/// Sets the handrails of all flights, as the job wants them or else as the rule set asks.
pub fn lay(guard: &mut Guard, settings: &Settings, mark: Mark, findings: &mut Vec<Finding>) {
    let mut rails = Vec::new();
    for (index, flight) in guard.flights.iter().enumerate() {
        let sides = flight.handrails.unwrap_or_else(|| asked(flight, settings));
        if sides == Sides::None {
            continue;
        }
        let Some(spec) = &settings.system.handrail else {
            findings.push(missing(flight, settings));
            continue;
        };
        for is_left in [true, false] {
            let wanted = if is_left { sides.left() } else { sides.right() };
            let walled = if is_left { flight.walls.left() } else { flight.walls.right() };
            let behind = Behind { is_left, walled, line: rail_line(guard, index, is_left) };
            rails.extend(wanted.then(|| handrail(rails.len() + 1, (index, flight), &behind, spec, settings, mark)));
        }
    }
    guard.handrails = rails;
}

/// The sides that the rule set asks for. Where one is enough, it is the right-hand one as seen from the top where a guard
/// or a wall holds it, else the left.
fn asked(flight: &Flight, settings: &Settings) -> Sides {
    let rules = &settings.rules;
    if rules.count(CountKind::HandrailFromRisers).is_none_or(|from| flight.risers < from.value) {
        return Sides::None;
    }
    let both = rules.count(CountKind::HandrailSides).is_some_and(|sides| sides.value > 1);
    let right = flight.guards.right() || flight.walls.right();
    match (both, right) {
        (true, _) => Sides::Both,
        (false, true) => Sides::Right,
        (false, false) => Sides::Left,
    }
}

fn missing(flight: &Flight, settings: &Settings) -> Finding {
    let message = format!(
        "{}: a handrail is wanted on this flight of {} risers, and the rail system {} has none",
        flight.id, flight.risers, settings.system.name
    );
    let finding = Finding::error(Code::HandrailMissing, flight.place.clone(), message)
        .hint("use a system with a [handrail] table, or provide a handrail by other means");
    match settings.rules.count(CountKind::HandrailFromRisers) {
        // The rule counts risers; a reference holds lengths, so it is put into words alone.
        Some(count) => Finding {
            message: format!(
                "{} ({} {}: from {} risers on)",
                finding.message, settings.rules.name, count.section, count.value
            ),
            ..finding
        },
        None => finding,
    }
}

/// What a handrail stands before.
struct Behind {
    is_left: bool,
    walled: bool,
    /// How far the guard's rail line lies inward of the flight's side, in mm; `None` without a guard.
    line: Option<f64>,
}

/// How far the rail line of a flight's side lies inward of it.
fn rail_line(guard: &Guard, flight: usize, is_left: bool) -> Option<f64> {
    let falls = if is_left { super::Falls::Right } else { super::Falls::Left };
    let of_side = |s: &&super::Span| {
        guard.runs.get(s.run).is_some_and(|r| r.flight == Some(flight)) && s.rake.is_some_and(|r| r.falls == falls)
    };
    let span = guard.spans.iter().find(of_side)?;
    let flight = guard.flights.get(flight)?;
    Some(super::slope::inward(flight, (span.left + span.right) / 2.0, is_left))
}

fn handrail(
    number: usize,
    (index, flight): (usize, &Flight),
    behind: &Behind,
    spec: &HandrailSpec,
    settings: &Settings,
    mark: Mark,
) -> Handrail {
    let across = match spec.section {
        GraspSection::Round(diameter) => diameter,
        GraspSection::Other { across, .. } => across,
    };
    // Its clear space is kept to the posts, too, which stand further in than the rail.
    let guard_half = settings.system.post.side.max(settings.system.widest()).millimetres() / 2.0;
    let from = behind.line.map_or(0.0, |line| line + guard_half);
    let inward = from + (spec.clearance + across.half()).millimetres();
    let reach = flight.length();
    let limit = |kind| settings.rules.limit(kind).map_or(Length::ZERO, |l| l.value);
    let top = limit(LimitKind::HandrailExtensionTop);
    // Codes ask for one tread beyond the lowest nosing; their figure is the least.
    let bottom = match limit(LimitKind::HandrailExtensionBottom) {
        Length::ZERO => Length::ZERO,
        least => flight.pitch.along(least.max(flight.steps.tread)),
    };
    let length = flight.pitch.along(reach);
    Handrail {
        id: format!("H{number}"),
        flight: index,
        left: behind.is_left,
        before: if behind.walled { Before::Wall } else { Before::Guard },
        line: [flight.at(behind.is_left, 0.0, inward), flight.at(behind.is_left, reach.millimetres(), inward)],
        height: spec.height,
        length,
        extension_top: top,
        extension_bottom: bottom,
        brackets: brackets(top + length + bottom, spec, mark),
    }
}

/// Brackets from the upper end: one near each end, the others at equal steps of at most the system's spacing.
fn brackets(total: Length, spec: &HandrailSpec, mark: Mark) -> Vec<Length> {
    let between = total - spec.bracket_end * 2;
    if between <= Length::ZERO {
        return vec![mark.round(total.half())];
    }
    // Rounding may stretch a step by two marks.
    let longest = (spec.bracket_spacing - mark.length() * 2).max(mark.length());
    let steps = (-(-between).whole_steps(longest)).max(1);
    let at = |k| spec.bracket_end + between.fraction(k, steps);
    // Neither end bracket may stand further from its end than the system allows.
    (0..=steps).map(|k| if k == steps { mark.ceil(at(k)) } else { mark.floor(at(k)) }).collect()
}
