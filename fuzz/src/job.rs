//! The whole job, from the plan's bytes to those of the files.

use std::collections::BTreeMap;

use plumbrail::base::plane::point;
use plumbrail::base::{Finding, Severity};
use plumbrail::catalog::Settings;
use plumbrail::parts::{self, record::Record};
use plumbrail::write::dxf::{self, DxfOptions, Placed};
use plumbrail::write::graft::{self, GraftOptions};
use plumbrail::{Outcome, proof, sheet, write};

/// The proof is in the findings, every file is sound, and the rails can be taken out of the plan again.
pub fn check(bytes: &[u8]) {
    let all = super::all_settings();
    let settings = &all[bytes.len() % all.len()];
    let file = plumbrail::PlanFile { most: super::MOST_WORK, ..plumbrail::PlanFile::new(bytes, "plan.dxf") };
    match plumbrail::lay_out_file(&file, settings) {
        Ok(outcome) => {
            sound(&outcome, settings);
            in_the_plan(bytes, &outcome);
        }
        Err(refusal) => assert!(!refusal.finding.message.is_empty() && refusal.finding.severity == Severity::Error),
    }
    // What an earlier run left is taken out of any drawing, and then there is nothing more to take.
    if let Ok(stripped) = graft::strip(bytes).map(|g| g.to_bytes(bytes))
        && let Ok(again) = graft::strip(&stripped)
    {
        assert!(again.to_bytes(&stripped) == stripped, "stripped twice is not stripped once");
    }
}

fn is_error(finding: &Finding) -> bool {
    finding.severity == Severity::Error
}

/// What holds of every layout that was made.
pub fn sound(outcome: &Outcome, settings: &Settings) {
    let (layout, findings, proof) = (&outcome.layout, &outcome.findings, &outcome.proof);
    // What fails may be counted under its cause, but never gets lost.
    assert!(proof.holds() || !outcome.is_good());
    let is_broken = |check: &proof::Check| check.verdict == proof::Verdict::Fail && check.source.is_some();
    assert!(!proof.checks.iter().any(is_broken) || findings.iter().any(is_error));
    assert!(layout.panels.len() <= 4 * super::MOST_WORK, "{} panels", layout.panels.len());
    let json = write::json::layout(layout, findings, proof);
    let record: Record = serde_json::from_slice(&json).expect("layout.json fits its types");
    assert_eq!(record.panels.len(), layout.panels.len());
    let again = parts::layout(&record, settings.system.clone(), settings.rules.clone()).expect("it is read back");
    assert_eq!(proof::prove(&again).summary(), proof.summary());
    let set = sheet::compose(&outcome.plan, layout, findings);
    for drawing in std::iter::once(&set.plan).chain(&set.elevations) {
        let svg = write::svg::document(&[drawing], &set.background);
        assert!(svg.starts_with('<') && svg.trim_end().ends_with("</svg>"));
        assert!(!svg.contains("NaN") && !svg.contains("\"inf"), "a number that is none");
    }
    let placed: Vec<_> = set.arrangement().into_iter().map(|(drawing, at)| Placed { drawing, at }).collect();
    let document = dxf::document(&placed, &[], &layout.plan.frame, &DxfOptions::default());
    let flaws = write::lint::lint(&document);
    assert!(flaws.is_empty(), "{flaws:?}");
    for table in [write::csv::marks(layout), write::csv::cuts(layout), write::csv::order(layout)] {
        assert!(table.ends_with(b"\n"));
    }
}

fn in_the_plan(bytes: &[u8], outcome: &Outcome) {
    let rails = sheet::rails(&outcome.plan, &outcome.layout, &outcome.findings);
    let placed = [Placed { drawing: &rails, at: point(0.0, 0.0) }];
    let options = GraftOptions { with_details: false, layer_names: BTreeMap::new(), lost: None };
    let frame = &outcome.plan.frame;
    let Ok(graft) = graft::graft(bytes, &placed, frame, &options) else { return };
    let grafted = graft.to_bytes(bytes);
    let stripped = graft::strip(&grafted).expect("what was written is read").to_bytes(&grafted);
    let before = graft::strip(bytes).expect("as it was grafted").to_bytes(bytes);
    assert!(stripped == before, "strip does not give the plan back");
    if !bytes.windows(9).any(|w| w == b"PLUMBRAIL") {
        assert!(before == bytes, "strip takes from a plan that holds nothing of ours");
    }
    let again = graft::graft(&grafted, &placed, frame, &options).expect("what was written is read");
    assert!(again.to_bytes(&grafted) == grafted, "a second run is not the first");
}
