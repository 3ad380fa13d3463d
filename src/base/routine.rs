//! Findings of which there are many: notes of what is done in every job, such as a screw that moved off another, and any kind
//! of which nobody reads the thousandth.

use std::collections::{BTreeMap, BTreeSet};

use super::{Code, Finding, Place, Severity};

/// So many panels are named: more than a line of them, nobody reads.
const NAMED: usize = 16;

/// So many findings of a kind are told one by one.
pub const MOST_ALIKE: usize = 200;

impl Code {
    /// What happened in each panel that such a note is about; `None` where each note is worth reading by itself.
    pub const fn routine(self) -> Option<&'static str> {
        match self {
            Self::MarkMoved => Some("support blocks or cap screws moved off a baluster's screw"),
            Self::SpacingReduced => Some("balusters set closer than the system's spacing"),
            _ => None,
        }
    }
}

/// The findings with at most 200 (`MOST_ALIKE`) of a code and severity, and the others of it counted in one more at the end. So
/// what comes of a plan is bounded, and what all findings come to stays the same. Routine notes are as many as before.
pub fn capped(findings: Vec<Finding>) -> Vec<Finding> {
    let mut out = Vec::with_capacity(findings.len().min(Code::ALL.len() * MOST_ALIKE));
    let mut told: BTreeMap<(Severity, Code), (usize, usize)> = BTreeMap::new();
    for finding in findings {
        let (shown, left) = told.entry((finding.severity, finding.code)).or_default();
        if *shown < MOST_ALIKE || finding.severity == Severity::Note && finding.code.routine().is_some() {
            *shown += 1;
            out.push(finding);
        } else {
            *left += finding.count;
        }
    }
    let left = told.into_iter().filter(|(_, (_, left))| *left > 0).rev();
    out.extend(left.map(|((severity, code), (_, left))| {
        let message = format!("{left} more of this kind are not told one by one");
        Finding { severity, count: left, ..Finding::note(code, Place::none(), message) }
    }));
    out
}

/// The findings with one counted note for all routine ones of a code, in the place of the first. Each of them stays in
/// `layout.json`.
pub fn counted(findings: &[Finding]) -> Vec<Finding> {
    let routine = |f: &Finding| f.code.routine().filter(|_| f.severity == Severity::Note);
    let mut out: Vec<Finding> = Vec::with_capacity(findings.len());
    let mut told = BTreeSet::new();
    for finding in findings {
        let Some(what) = routine(finding) else {
            out.push(finding.clone());
            continue;
        };
        if told.insert(finding.code) {
            let alike = findings.iter().filter(|f| f.code == finding.code && routine(f).is_some());
            out.push(Finding::note(finding.code, Place::none(), in_panels(what, alike)));
        }
    }
    out
}

fn in_panels<'a>(what: &str, alike: impl Iterator<Item = &'a Finding>) -> String {
    let (mut panels, mut known, mut elsewhere): (Vec<&str>, BTreeSet<&str>, usize) = Default::default();
    for finding in alike {
        match finding.place.panel.as_deref() {
            Some(id) if known.insert(id) => panels.push(id),
            Some(_) => {}
            None => elsewhere += 1,
        }
    }
    let shown = panels.get(..NAMED.min(panels.len())).unwrap_or_default().join(", ");
    let more = if panels.len() > NAMED { " ..." } else { "" };
    match panels.len() {
        0 => format!("{what}: {elsewhere}"),
        1 => format!("{what} in 1 panel: {shown}"),
        n => format!("{what} in {n} panels: {shown}{more}"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_kind_is_told_without_end() {
        let not_used = |n: usize| Finding::incomplete(Code::PostNotUsed, Place::none(), n.to_string());
        let mut all: Vec<Finding> = (0..MOST_ALIKE + 3).map(not_used).collect();
        all.push(Finding::note(Code::PostNotUsed, Place::none(), "another weight"));
        all.extend((0..2 * MOST_ALIKE).map(|_| Finding::note(Code::MarkMoved, Place::none(), "routine")));
        let told = capped(all.clone());
        assert_eq!(told.len(), all.len() - 3 + 1);
        let last = told.last().unwrap();
        assert_eq!((last.code, last.severity, last.count), (Code::PostNotUsed, Severity::Incomplete, 3));
        assert_eq!(last.message, "3 more of this kind are not told one by one");
        // Of what was cut before, too, none is lost.
        let again = capped([all, told].concat());
        assert_eq!(again.last().unwrap().count, 3 + MOST_ALIKE + 3);
    }

    #[test]
    fn routine_notes_are_one_counted_line_a_code() {
        let moved = |panel: &str| Finding::note(Code::MarkMoved, Place::panel(panel), "moved");
        let other = Finding::warning(Code::NotChecked, Place::none(), "not checked");
        let all = [moved("S1"), other.clone(), moved("S1"), moved("S2")];
        let told = counted(&all);
        let text = "support blocks or cap screws moved off a baluster's screw in 2 panels: S1, S2";
        assert_eq!(told, [Finding::note(Code::MarkMoved, Place::none(), text), other]);

        let many: Vec<Finding> = (1..=20).map(|n| moved(&format!("S{n}"))).collect();
        assert!(counted(&many).iter().all(|f| {
            f.message
                .ends_with("in 20 panels: S1, S2, S3, S4, S5, S6, S7, S8, S9, S10, S11, S12, S13, S14, S15, S16 ...")
        }));
        assert_eq!(counted(&[]), []);
    }
}
