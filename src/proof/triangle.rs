//! The space between a raked panel and the stair beneath it: no sphere of the rule's size fits anywhere in it.

use super::Required;
use super::record::{Question, Record};
use super::sphere::Stair;
use crate::base::{Code, Length};
use crate::catalog::LimitKind;
use crate::deck::{Flight, Steps};
use crate::parts::{Layout, LayoutPanel};

/// The flight that a panel stands on, if the layout has it.
fn flight<'a>(layout: &'a Layout, at: &LayoutPanel) -> Option<&'a Flight> {
    layout.flights.get(layout.runs.get(at.span.run)?.flight?)
}

/// Number of its risers.
pub(super) fn risers(layout: &Layout, at: &LayoutPanel) -> Option<u32> {
    flight(layout, at).map(|flight| flight.risers)
}

/// The steps beneath a raked panel: those of its flight, else what the panel itself says.
pub(super) fn steps(layout: &Layout, at: &LayoutPanel) -> Option<Steps> {
    flight(layout, at).map(|flight| flight.steps).or(at.span.rake?.steps)
}

pub(super) fn check(layout: &Layout, at: &LayoutPanel, record: &mut Record) {
    let Some(rake) = at.span.rake else { return };
    let above = Question::own("lowest member above the line through the nosings");
    record.exact(above, Required::AtLeast(Length::ZERO), at.panel.bottom_gap);
    // Rules without the exception let no larger sphere pass here than elsewhere.
    let kinds = [LimitKind::StairTriangle, LimitKind::StairOpening, LimitKind::Opening];
    let what = "sphere between the steps and the lowest member";
    let Some(limit) = kinds.into_iter().find_map(|kind| layout.rules.limit(kind)) else {
        let question = Question::rule(what, &layout.rules, LimitKind::StairTriangle);
        record.lacking(question, format!("the rule set {} has no limit for it", layout.rules.name));
        return;
    };
    let question = Question::rule(what, &layout.rules, limit.what).code(Code::TriangleTooWide);
    let Some(steps) = steps(layout, at) else {
        record.lacking(question, "the steps beneath the panel are not known");
        return;
    };
    let span = at.span.clear.millimetres();
    let (stair, from, to) = match rake.start {
        Some(start) => (Stair::below(steps, risers(layout, at)), start.millimetres(), start.millimetres() + span),
        // Where the panel begins is not known: all of a step, and what is before and after it.
        None => {
            let tread = steps.tread.millimetres();
            (Stair::endless(steps), -tread, 2.0 * tread)
        }
    };
    // The tolerance of the cuts can leave the rail higher.
    let gap = at.panel.bottom_gap.millimetres();
    let gaps = (gap, gap + layout.tolerance.millimetres());
    let both = |of: &dyn Fn(f64) -> Option<f64>| {
        let of = |gap| of(gap).and_then(Length::from_millimetres);
        of(gaps.0).zip(of(gaps.1))
    };
    if let Some((kind, required)) = super::sphere(layout, false)
        && let Some((found, worst)) = both(&|gap| stair.over_deck(from, gap))
    {
        let question = Question::rule("sphere on the deck beneath the lowest member", &layout.rules, kind);
        record.worst(question, required, found, worst);
    }
    match both(&|gap| stair.largest(from, to, gap)) {
        Some((found, worst)) => record.worst(question, super::closed_to(limit), found, worst),
        None => {
            record.lacking(question, "its outline cannot be measured: no space above the steps, or too many of them");
        }
    }
}
