//! Notes of what is done in every job, such as a screw that moved off another: many of them, and nobody has to act on one.

use std::collections::BTreeSet;

use super::{Code, Finding, Place, Severity};

/// So many panels are named: more than a line of them, nobody reads.
const NAMED: usize = 16;

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
