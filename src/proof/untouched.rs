//! Limits of the rule set that no check measured, each with the reason: nothing passes in silence.

use super::{Asks, Check, Required, Source, Verdict};
use crate::base::{Code, Place};
use crate::catalog::{CountKind, GraspSection, LimitKind};
use crate::parts::Layout;

/// Why a limit that applies is not checked.
const NO_CHECK: &str = "no check measures it";
/// The same of a panel on a stair that no plan shows.
const NO_FLIGHT: &str = "the flight beneath is not known";

/// Whether a limit of this list applies, so that a check of it is missing.
pub(super) fn is_missing(check: &Check) -> bool {
    matches!(&check.verdict, Verdict::NotChecked(why) if [NO_CHECK, NO_FLIGHT].contains(&why.as_str()))
}

/// One entry for each limit that `checks` do not touch.
pub(super) fn list(layout: &Layout, checks: &[Check]) -> Vec<Check> {
    let rules = &layout.rules;
    let is_touched = |asks: Asks| checks.iter().filter_map(|c| c.source.as_ref()).any(|s| s.asks == asks);
    let entry = |asks, value: String, section: &str, evidence, read_in: &str| Check {
        what: name(asks),
        code: Code::NotChecked,
        place: Place::none(),
        source: Some(Source {
            set: rules.name.clone(),
            section: section.to_owned(),
            asks,
            evidence: Some(evidence),
            read_in: read_in.to_owned(),
        }),
        required: Required::Fact(value),
        actual: None,
        worst: None,
        verdict: Verdict::NotChecked(why(layout, asks)),
    };
    let limits = rules.limits.iter().filter(|limit| !is_touched(Asks::Limit(limit.what))).map(|limit| {
        let value = layout.measure.with_unit(limit.value);
        entry(Asks::Limit(limit.what), value, &limit.section, limit.evidence, &limit.source)
    });
    let counts = rules.counts.iter().filter(|count| !is_touched(Asks::Count(count.what))).map(|count| {
        entry(Asks::Count(count.what), count.value.to_string(), &count.section, count.evidence, &count.source)
    });
    limits.chain(counts).collect()
}

/// The name that a rule file gives it, as words.
pub(super) fn name(asks: Asks) -> String {
    let written = match asks {
        Asks::Limit(kind) => serde_json::to_value(kind),
        Asks::Count(kind) => serde_json::to_value(kind),
        Asks::System => return "rail system".to_owned(),
    };
    written.ok().and_then(|value| value.as_str().map(|text| text.replace('-', " "))).unwrap_or_default()
}

fn why(layout: &Layout, asks: Asks) -> String {
    let has_stair = !layout.flights.is_empty() || layout.panels.iter().any(|panel| panel.span.rake.is_some());
    let name = name(asks);
    let about = |words: &[&str]| words.iter().any(|word| name.starts_with(word));
    let is_round = layout.system.handrail.as_ref().map(|spec| matches!(spec.section, GraspSection::Round(_)));
    let why = match asks {
        _ if !has_stair && about(&["stair ", "riser ", "tread ", "nosing ", "handrail "]) => "no stair",
        Asks::Limit(LimitKind::NosingFreeTread) | Asks::Count(CountKind::HandrailFromRisers) => {
            "applied as the condition of another limit"
        }
        Asks::Limit(LimitKind::NosingMin) if !layout.flights.is_empty() => "the treads are deep enough without nosings",
        _ if layout.flights.is_empty() && about(&["riser ", "tread ", "nosing ", "handrail "]) => NO_FLIGHT,
        Asks::Count(CountKind::HandrailSides) => "no flight has so many risers",
        _ if about(&["handrail "]) && layout.handrails.is_empty() => "no handrail",
        _ if about(&["handrail diameter"]) && is_round == Some(false) => "the handrail is not round",
        _ if about(&["handrail perimeter", "handrail section"]) && is_round == Some(true) => "the handrail is round",
        _ => NO_CHECK,
    };
    why.to_owned()
}
