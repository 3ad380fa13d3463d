//! All checks of one limit together: what came nearest to it, and where.

use super::{Asks, Check, Proof, Required, Source, Verdict, untouched};
use crate::base::{Length, Place};

/// All checks of one limit.
#[derive(Debug, Clone, PartialEq)]
pub struct LimitRow {
    /// Name of the limit.
    pub what: String,
    /// Who asks; `None` for the layout's own consistency.
    pub source: Option<Source>,
    /// What is required where it came nearest.
    pub required: Required,
    /// What was measured there on the rounded marks.
    pub actual: Option<Length>,
    /// The same with the cutting tolerance.
    pub worst: Option<Length>,
    /// By how much it holds there.
    pub margin: Option<Length>,
    /// Where.
    pub place: Place,
    /// Fail where one check failed, not checked where none was made, else pass.
    pub verdict: Verdict,
    /// How many checks were made or due.
    pub checks: usize,
    /// How many of them failed.
    pub failed: usize,
    /// What of it could not be checked, and why; each reason once.
    pub open: Vec<(String, String)>,
}

impl LimitRow {
    /// Who asks: rule set and section, or the rail system.
    pub fn rule_text(&self) -> String {
        match &self.source {
            None => "the layout".to_owned(),
            Some(source) if source.asks == Asks::System => source.set.clone(),
            Some(source) => format!("{} {}", source.set, source.section),
        }
    }

    /// How surely the value is known, in a word.
    pub fn known_text(&self) -> String {
        let evidence = self.source.as_ref().and_then(|source| source.evidence);
        evidence.map_or_else(|| "-".to_owned(), |evidence| evidence.text().to_owned())
    }

    /// Panel or post at which it came nearest.
    pub fn place_text(&self) -> String {
        self.place.panel.clone().or_else(|| self.place.post.clone()).unwrap_or_else(|| "-".to_owned())
    }

    /// The verdict in words, with what was not checked.
    pub fn verdict_text(&self) -> String {
        let why: Vec<&str> = self.open.iter().map(|(_, why)| why.as_str()).collect();
        let open = why.join("; ");
        match &self.verdict {
            Verdict::NotChecked(_) => format!("not checked: {open}"),
            Verdict::Fail => format!("FAIL ({} of {})", self.failed, self.checks),
            Verdict::Pass if self.open.is_empty() => "pass".to_owned(),
            Verdict::Pass => format!("pass; not everywhere checked: {open}"),
        }
    }
}

/// Every limit once, in the order in which they are first measured: those of the rule set, then those of the rail system,
/// then the layout's own consistency in one row, then what no check touched.
pub fn summary_by_limit(proof: &Proof) -> Vec<LimitRow> {
    let mut groups: Vec<Vec<&Check>> = Vec::new();
    for check in proof.checks.iter().chain(&proof.untouched) {
        match groups.iter_mut().find(|group| group.first().is_some_and(|first| is_one(first, check))) {
            Some(group) => group.push(check),
            None => groups.push(vec![check]),
        }
    }
    let mut rows: Vec<(u8, LimitRow)> = groups.iter().filter_map(|group| row(group)).collect();
    rows.sort_by_key(|(rank, _)| *rank);
    rows.into_iter().map(|(_, row)| row).collect()
}

/// Whether two checks are about one limit.
pub(super) fn is_one(a: &Check, b: &Check) -> bool {
    match (&a.source, &b.source) {
        (Some(a), Some(b)) => a.asks == b.asks && a.set == b.set && (a.asks != Asks::System || a.section == b.section),
        (None, None) => true,
        _ => false,
    }
}

fn row(group: &[&Check]) -> Option<(u8, LimitRow)> {
    let first = group.first()?;
    let is_open = |check: &&Check| matches!(check.verdict, Verdict::NotChecked(_));
    let failed = group.iter().filter(|check| check.verdict == Verdict::Fail).count();
    // What failed comes first, then what has the least margin, then what was made at all.
    let rank = |check: &Check| match check.verdict {
        Verdict::Fail => (0, check.margin().unwrap_or_default()),
        Verdict::Pass if check.margin().is_some() => (1, check.margin().unwrap_or_default()),
        Verdict::Pass => (2, Length::ZERO),
        Verdict::NotChecked(_) => (3, Length::ZERO),
    };
    let nearest = group.iter().min_by_key(|check| rank(check))?;
    let what = match &first.source {
        None => "sums, faces and marks of the layout itself".to_owned(),
        Some(source) if source.asks == Asks::System => source.section.replace(['-', '.'], " "),
        Some(source) => untouched::name(source.asks),
    };
    let mut open: Vec<(String, String)> = Vec::new();
    for check in group {
        if let Verdict::NotChecked(why) = &check.verdict
            && open.iter().all(|(_, known)| known != why)
        {
            // The layout's own checks are of many things in one row.
            let about = if first.source.is_some() { &what } else { &check.what };
            open.push((about.clone(), why.clone()));
        }
    }
    let own = LimitRow {
        what,
        source: None,
        required: Required::Fact("all agree".to_owned()),
        actual: None,
        worst: None,
        margin: None,
        place: if failed > 0 { nearest.place.clone() } else { Place::none() },
        verdict: nearest.verdict.clone(),
        checks: group.len(),
        failed,
        open,
    };
    let Some(source) = &first.source else { return Some((2, own)) };
    let order = if source.asks == Asks::System { 1 } else { 0 };
    let order = if group.iter().all(is_open) { 3 } else { order };
    let row = LimitRow {
        source: Some(source.clone()),
        required: nearest.required.clone(),
        actual: nearest.actual,
        worst: nearest.worst,
        margin: nearest.margin(),
        place: nearest.place.clone(),
        ..own
    };
    Some((order, row))
}
