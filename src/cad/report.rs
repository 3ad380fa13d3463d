//! Collects findings; a drawing with a million damaged records gets a short list and a count.

use std::collections::BTreeMap;

use crate::base::{Code, Finding, Place, Severity};

/// So many findings of a code are told one by one.
const TOLD: usize = 50;

/// Findings so far.
#[derive(Debug, Default)]
pub struct Report {
    findings: Vec<Finding>,
    counts: BTreeMap<Code, (usize, Severity)>,
}

impl Report {
    /// Adds one.
    pub fn add(&mut self, finding: Finding) {
        let (count, severity) = self.counts.entry(finding.code).or_insert((0, finding.severity));
        *count += 1;
        *severity = (*severity).max(finding.severity);
        if *count <= TOLD {
            self.findings.push(finding);
        }
    }

    /// All of them, with how many of each code were not told one by one.
    pub fn finish(mut self) -> Vec<Finding> {
        for (code, (count, severity)) in self.counts {
            if count > TOLD {
                let message = format!("{} more of this kind", count - TOLD);
                let mut finding = Finding::note(code, Place::none(), message);
                finding.severity = severity;
                self.findings.push(finding);
            }
        }
        self.findings
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn many_findings_are_counted() {
        let mut report = Report::default();
        for n in 0..1000 {
            report.add(Finding::error(Code::BadRecord, Place::none(), n.to_string()));
        }
        report.add(Finding::note(Code::LayerHidden, Place::none(), "x"));
        let findings = report.finish();
        assert_eq!(findings.len(), 52);
        assert_eq!(findings[51].message, "950 more of this kind");
        assert_eq!(findings[51].severity, Severity::Error);
    }
}
