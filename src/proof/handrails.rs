//! Handrails: whether they are there, and whether a hand can follow them from the first step to the last.

use super::record::{Question, Record};
use super::stairs::{Along, Side};
use super::{PLAN_NOISE_MM, Required};
use crate::base::plane::{direction, distance, point};
use crate::base::{Angle, Code, Length, Place};
use crate::catalog::{CountKind, GraspSection, HandrailSpec, LimitKind};
use crate::deck::Flight;
use crate::guard::{Before, Handrail};
use crate::parts::Layout;

pub(super) fn check(layout: &Layout, record: &mut Record) {
    for (index, flight) in layout.flights.iter().enumerate() {
        record.at(Place::at((flight.top[0] + flight.top[1]) / 2.0));
        check_needed(layout, index, flight, record);
    }
    if layout.handrails.is_empty() {
        return;
    }
    record.at(Place::none());
    check_section(layout, record);
    let along = Along::new(layout);
    for rail in &layout.handrails {
        record.at(Place::at((rail.line[0] + rail.line[1]) / 2.0));
        let Some(flight) = layout.flights.get(rail.flight) else {
            let question = Question::own(&format!("flight of {}", rail.id)).code(Code::HandrailWrong);
            record.fact(question, "one of the layout", false);
            continue;
        };
        let side = Side::of(flight, rail.flight, rail.left);
        check_way(rail, &side, record);
        check_heights(layout, rail, record);
        check_clearance(&along, rail, &side, record);
        check_extensions(layout, rail, &side, record);
        check_brackets(layout, rail, record);
    }
}

/// As many as the rules and the job ask for, each on its own side.
fn check_needed(layout: &Layout, index: usize, flight: &Flight, record: &mut Record) {
    let has = |left: bool| layout.handrails.iter().filter(|rail| rail.flight == index && rail.left == left).count();
    let question = Question::own(&format!("handrails of {}", flight.id)).code(Code::HandrailWrong);
    record.fact(question, "at most one on each side", has(true) <= 1 && has(false) <= 1);
    let sides = u32::from(has(true) > 0) + u32::from(has(false) > 0);
    let rules = &layout.rules;
    if let Some(from) = rules.count(CountKind::HandrailFromRisers).filter(|from| flight.risers >= from.value) {
        let (kind, needed) = match rules.count(CountKind::HandrailSides) {
            Some(count) => (CountKind::HandrailSides, count.value),
            None => (CountKind::HandrailFromRisers, 1),
        };
        let what = format!("sides of {} with a handrail", flight.id);
        let asked = format!("{needed} or more, the flight having {} risers ({} or more)", flight.risers, from.value);
        record.fact(Question::count(&what, rules, kind), asked, sides >= needed);
    }
    if let Some(wanted) = flight.handrails {
        let what = format!("handrails that the job wants on {}", flight.id);
        let are_there = (has(true) > 0 || !wanted.left()) && (has(false) > 0 || !wanted.right());
        let question = Question::own(&what).code(Code::HandrailMissing);
        record.fact(question, "one on each of these sides", are_there);
    }
}

/// What a hand grasps.
fn check_section(layout: &Layout, record: &mut Record) {
    let Some(spec) = &layout.system.handrail else {
        let question = Question::system("handrail", &layout.system, "handrail").code(Code::HandrailWrong);
        record.fact(question, "a system that has one", false);
        return;
    };
    let check = |what: &str, kind, required: fn(Length) -> Required, actual, record: &mut Record| {
        by_rule(layout, what, kind, record, |record, question, limit| {
            record.exact(question, required(limit), actual);
        });
    };
    match spec.section {
        GraspSection::Round(diameter) => {
            let (least, most) = (LimitKind::HandrailDiameterMin, LimitKind::HandrailDiameterMax);
            check("least diameter of the handrail", least, Required::AtLeast, diameter, record);
            check("greatest diameter of the handrail", most, Required::AtMost, diameter, record);
        }
        GraspSection::Other { perimeter, across } => {
            let (least, most) = (LimitKind::HandrailPerimeterMin, LimitKind::HandrailPerimeterMax);
            check("least perimeter of the handrail", least, Required::AtLeast, perimeter, record);
            check("greatest perimeter of the handrail", most, Required::AtMost, perimeter, record);
            let kind = LimitKind::HandrailSectionMax;
            check("greatest dimension across the handrail", kind, Required::AtMost, across, record);
        }
    }
}

/// Checks against a limit, or says that the rules have none.
fn by_rule(
    layout: &Layout,
    what: &str,
    kind: LimitKind,
    record: &mut Record,
    check: impl FnOnce(&mut Record, Question, Length),
) {
    let question = Question::rule(what, &layout.rules, kind);
    match layout.rules.limit(kind) {
        Some(limit) => check(record, question, limit.value),
        None => record.lacking(question, format!("the rule set {} has no limit for it", layout.rules.name)),
    }
}

/// Without a break from above the top nosing to above the lowest one, along its side.
fn check_way(rail: &Handrail, side: &Side<'_>, record: &mut Record) {
    let question = |what: &str| Question::own(&format!("{what} {}", rail.id)).code(Code::HandrailWrong);
    let [top, foot] = rail.line;
    record.fact(
        question("side of"),
        "the side of the flight that it is nearer to",
        rail.line.iter().all(|p| side.is_nearer(*p)),
    );
    let over_top = question("beginning of");
    record.plan(over_top, Required::AtMost(Length::ZERO), side.x(top));
    let over_foot = question("from the lowest nosing to the end of");
    record.plan(over_foot, Required::AtLeast(Length::ZERO), side.x(foot) - side.length());
    let level = question("level length of");
    record.plan(
        level,
        Required::Exactly(side.flight.steps.tread * i64::from(side.flight.risers.saturating_sub(1))),
        side.x(foot) - side.x(top),
    );
    let astray = (side.inward(top) - side.inward(foot)).abs();
    record.plan(question("ends, to the side of each other, of"), Required::AtMost(Length::ZERO), astray);
    // From end to end in space: level in the plan, and down by what the flight falls over it.
    let level = distance(top, foot);
    let fall = level * side.flight.steps.riser.millimetres() / side.flight.steps.tread.millimetres();
    record.plan(question("length of"), Required::Exactly(rail.length), level.hypot(fall));
    let (guarded, walled) = if rail.left {
        (side.flight.guards.left(), side.flight.walls.left())
    } else {
        (side.flight.guards.right(), side.flight.walls.right())
    };
    let stands = match rail.before {
        Before::Guard => guarded,
        Before::Wall => walled,
    };
    record.fact(question("what holds"), "a guard or wall on its side of the flight", stands);
}

fn check_heights(layout: &Layout, rail: &Handrail, record: &mut Record) {
    let what = |what: &str| format!("{what} height of {}", rail.id);
    by_rule(layout, &what("least"), LimitKind::HandrailHeightMin, record, |record, question, limit| {
        record.exact(question, Required::AtLeast(limit), rail.height);
    });
    if let Some(spec) = &layout.system.handrail {
        let question = Question::system(&what("the system's own"), &layout.system, "handrail.height");
        record.exact(question.code(Code::HandrailWrong), Required::Exactly(spec.height), rail.height);
    }
    by_rule(layout, &what("greatest"), LimitKind::HandrailHeightMax, record, |record, question, limit| {
        record.exact(question, Required::AtMost(limit), rail.height);
    });
}

/// Half of its width, in millimetres; of a section that is not round the largest dimension may lie across.
fn half_width(spec: &HandrailSpec) -> f64 {
    let across = match spec.section {
        GraspSection::Round(diameter) => diameter,
        GraspSection::Other { across, .. } => across,
    };
    across.millimetres() / 2.0
}

/// Clear space to what reaches furthest towards it: posts and rails of the guard, or the wall at the flight's side.
fn check_clearance(along: &Along<'_>, rail: &Handrail, side: &Side<'_>, record: &mut Record) {
    let layout = along.layout;
    let Some(spec) = &layout.system.handrail else { return };
    let reaches = match rail.before {
        Before::Wall => Some(0.0),
        Before::Guard => guard_reaches(along, side),
    };
    let what = format!("clear space behind {}", rail.id);
    let nearest = rail.line.map(|end| side.inward(end)).into_iter().fold(f64::INFINITY, f64::min);
    if let Some(reaches) = reaches {
        let what = format!("the system's {what}");
        let question = Question::system(&what, &layout.system, "handrail.clearance").code(Code::HandrailWrong);
        record.plan(question, Required::AtLeast(spec.clearance), nearest - half_width(spec) - reaches);
    }
    by_rule(layout, &what, LimitKind::HandrailClearance, record, |record, question, limit| match reaches {
        Some(reaches) => {
            record.plan(question, Required::AtLeast(limit), nearest - half_width(spec) - reaches);
        }
        None => record.lacking(question, "the layout has no guard on that side"),
    });
}

/// How far the guard of a side reaches in from it: its rails, and the posts that hold them, along the flight.
fn guard_reaches(along: &Along<'_>, side: &Side<'_>) -> Option<f64> {
    let layout = along.layout;
    let half_rail =
        layout.system.members.iter().map(|member| member.width).max().unwrap_or_default().millimetres() / 2.0;
    let panels = side.panels(along);
    let rails = panels.iter().flat_map(|panel| [panel.span.left, panel.span.right]);
    let rails = rails.map(|end| side.inward(end) + half_rail);
    let supports = panels.iter().flat_map(|panel| [panel.span.from, panel.span.to]);
    let posts = supports.filter_map(|support| layout.posts.get(support.post()?)).map(|post| {
        let half = post.side.millimetres() / 2.0;
        let reach = |degrees: f64| {
            let spoke = direction(post.rotation + Angle::from_degrees(degrees)) * half;
            (side.inward(post.at + spoke) - side.inward(post.at)).abs()
        };
        side.inward(post.at) + reach(0.0) + reach(90.0)
    });
    rails.chain(posts).reduce(f64::max)
}

fn check_extensions(layout: &Layout, rail: &Handrail, side: &Side<'_>, record: &mut Record) {
    let question = |what: &str, kind| Question::rule(&format!("{what} of {}", rail.id), &layout.rules, kind);
    let limit = |kind| layout.rules.limit(kind).map(|limit| limit.value);
    if let Some(least) = limit(LimitKind::HandrailExtensionTop) {
        let question = question("level extension at the top", LimitKind::HandrailExtensionTop);
        record.exact(question, Required::AtLeast(least), rail.extension_top);
    }
    if let Some(least) = limit(LimitKind::HandrailExtensionBottom) {
        // It goes on sloping, but what is asked is how far it reaches.
        let steps = side.flight.steps;
        let slope = point(steps.tread.millimetres(), steps.riser.millimetres());
        let reach = rail.extension_bottom.millimetres() * slope.x / slope.x.hypot(slope.y);
        let question = question("level reach of the extension at the foot", LimitKind::HandrailExtensionBottom);
        record.plan(question, Required::AtLeast(least), reach);
    }
    let forward = rail.extension_top >= Length::ZERO && rail.extension_bottom >= Length::ZERO;
    let question = Question::own(&format!("extensions of {}", rail.id)).code(Code::HandrailWrong);
    record.fact(question, "away from the flight", forward);
}

/// Brackets from end to end, the system's distance apart, on marks.
fn check_brackets(layout: &Layout, rail: &Handrail, record: &mut Record) {
    let Some(spec) = &layout.system.handrail else { return };
    let question = |what: &str, field| {
        Question::system(&format!("{what} {}", rail.id), &layout.system, field).code(Code::HandrailWrong)
    };
    let total = rail.extension_top + rail.length + rail.extension_bottom;
    let step = layout.measure.mark.length();
    let marks = &rail.brackets;
    let pairs = || marks.iter().zip(marks.iter().skip(1)).map(|(a, b)| *b - *a);
    let on_rail = marks.iter().all(|mark| (Length::ZERO..=total).contains(mark));
    let on_grid = marks.iter().all(|mark| mark.nanometres().rem_euclid(step.nanometres()) == 0);
    let rises = pairs().all(|gap| gap > Length::ZERO);
    record.fact(
        question("brackets of", "handrail").code(Code::MarkOffRail),
        "marks of the job's grid on the handrail, from its upper end on",
        on_rail && on_grid && rises && !marks.is_empty(),
    );
    let widest = pairs().max().unwrap_or(Length::ZERO);
    let between = total - spec.bracket_end * 2;
    let steps = i64::try_from(marks.len()).unwrap_or(i64::MAX) - 1;
    let equal = (0..).zip(marks).map(|(k, mark)| match steps {
        0 => (*mark - total.half()).abs(),
        _ => (*mark - spec.bracket_end - between.fraction(k, steps)).abs(),
    });
    let divided = question("brackets off equal divisions of", "handrail.bracket-end").code(Code::MarkOffRail);
    record.exact(divided, Required::AtMost(step), equal.max().unwrap_or(total));
    let spacing = question("distance between brackets of", "handrail.bracket-spacing");
    record.exact(spacing, Required::AtMost(spec.bracket_spacing), widest);
    let ends = [marks.first().copied(), marks.last().map(|last| total - *last)];
    let furthest = ends.into_iter().map(|end| end.unwrap_or(total)).max().unwrap_or(total);
    // To half a mark, since brackets stand on marks and the handrail need not end on one.
    let slack = step.half() + Length::from_millimetres(PLAN_NOISE_MM).unwrap_or_default();
    let question = question("from an end to the first bracket of", "handrail.bracket-end");
    record.exact(question, Required::AtMost(spec.bracket_end + slack), furthest);
}
